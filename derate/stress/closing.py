"""One closing of the mains onto the rectifier: what stands in the path, what the bulk holds, at which case.

A cold switch-on, a restart with the thermistor hot and a mains that comes back after a dip differ in nothing else.
"""

from __future__ import annotations

from typing import NamedTuple

from derate.design.paths import leaves
from derate.design.structure import MainsInput
from derate.ledger.entry import Case, Entry, Subject
from derate.stress.context import BULK, LINE, Context, part
from derate.stress.line_inductance import inductance_ahead
from derate.stress.resistance import mains_resistance, series_rows, total
from derate.terms.part_kinds import RESISTORS
from derate.terms.quantities import each
from derate.terms.values import Value

QUANTITIES = each("current_peak", "i2t", "pulse_width", "voltage_surge", "energy", "pulse_power")
# Kinds that limit the current by design and are rated for the pulse.
RATED_FOR_PULSES = (*RESISTORS, "NTC thermistor")


class Closing(NamedTuple):
    """rows: series parts and their resistance; whole: with the mains; others: all but the part of that name.

    start: bulk voltage before the mains comes [V]
    """

    case: Case
    rows: tuple[tuple[str, Entry], ...]
    whole: Entry
    others: dict[str, Entry]
    inductance: Entry
    start: Entry | Value


def closing(context: Context, mains: MainsInput, case: Case, start: Entry | Value, hot: bool) -> Closing:
    """The mains path at one closing; hot: a thermistor in it has not cooled down."""
    rows = tuple(series_rows(context, mains, None if hot else case))
    everything = [*rows, ("mains", mains_resistance(context))]
    others = {name: total(context, [(n, r) for n, r in everything if n != name], case) for name, _ in rows}
    whole = total(context, everything, case)  # last, so that it is the row of the whole path that is found
    return Closing(case, rows, whole, others, inductance_ahead(context, mains), start)


def no_case(context: Context, mains: MainsInput, case: Case) -> None:
    """Holes for everything at a case that cannot be placed."""
    names = (*mains.series, *mains.behind, *mains.rectifier, *(leaf.name for e in mains.bulk for leaf in leaves(e)))
    for subject in (LINE, BULK, *(part(name) for name in names)):
        for quantity in QUANTITIES:
            context.ledger.hole(subject, quantity, context.plan.lacking(case.group), case=case)


def carried_by(mains: MainsInput, rows: tuple[tuple[str, Entry], ...]) -> list[Subject]:
    """Everything that the whole charging current passes."""
    return [LINE, *(part(name) for name in mains.rectifier), *(part(name) for name, _ in rows)]
