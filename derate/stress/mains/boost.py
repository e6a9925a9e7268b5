"""A power-factor stage ahead of the bulk capacitor: told in one sentence, and nothing of the mains input is worked out.

It holds the bulk above the crest of the mains, by how much only its own divider says; and what it draws from the line,
what its parts carry and what a switch-on drives past them has nothing to do with a capacitor behind a bridge. Known by
what is joined to what: a choke and a diode between the rectifier and the bulk, or a switch across the line behind it.
"""

from __future__ import annotations

from derate.design.structure import leaves
from derate.ledger.entry import SUPPLY, OpenFact
from derate.stress.context import BULK, LINE, Context, one_word, part
from derate.terms.quantities import BROWN_OUT, DIP, HOT_RESTART, RE_PLUG, RUNNING, SURGE, SWITCH_ON, each

WORD = "power-factor stage"
_WHY = (
    "not covered: a power-factor stage holds the bulk above the crest of the mains, by how much is not worked out: "
    "read it, and hold the reading against the ratings"
)
HELD = OpenFact(BULK, "voltage_peak", "held by the power-factor stage")
_GROUPS = (RUNNING, BROWN_OUT, SWITCH_ON, HOT_RESTART, DIP, RE_PLUG, SURGE)
_CARRIED = each("current_rms", "current_peak", "power", "i2t", "pulse_width", "energy", "pulse_power")
_BULK = each("voltage_peak", "voltage_min", "voltage_surge", "ripple_current", "current_peak", "i2t", "pulse_width")
_DIODES = each("current_average", "current_peak", "reverse_voltage", "i2t", "pulse_width")


def told(context: Context) -> str:
    """Why nothing of the mains input is worked out; empty where there is no power-factor stage."""
    word = one_word(context.ledger.find(SUPPLY, "supply.topology"))
    return _WHY if word == WORD or context.structure.boosts() else ""


def not_worked_out(context: Context) -> None:
    """A hole for every row of the mains input, each with the same reason."""
    mains, ledger = context.structure.mains, context.ledger
    assert mains is not None
    capacitors = [leaf.name for element in mains.bulk for leaf in leaves(element)]
    path = (*mains.series, *mains.behind, *mains.choke)
    wanted = [
        (LINE, (*_CARRIED, "series_resistance")),
        (SUPPLY, each("mains_current", "load_carried")),
        (BULK, (*_BULK, "load_carried")),
        *((part(name), _CARRIED) for name in path),
        *((part(name), _DIODES) for name in mains.rectifier),
        *((part(name), _BULK) for name in capacitors),
    ]
    for subject, quantities in wanted:
        for quantity in quantities:
            for group in _GROUPS:
                for case in context.plan.cases([quantity], [group]):
                    if ledger.find(subject, quantity, case) is None:
                        ledger.hole(subject, quantity, (HELD,), case=case, note=_WHY)
    ledger.hole(SUPPLY, "circuit.restart", (HELD,), note=_WHY)
