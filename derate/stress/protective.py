"""What the protective parts of the mains path can stand and can break: melting I²t, prospective current, tracks.

A fuse survives by its least melting I²t and the share of it that one pulse may have; a track melts by its width and
copper. Both hold only while no heat leaves the metal, below about 10 ms.
"""

from __future__ import annotations

from derate.circuit.pulse import ERROR, PULSE_FRACTIONS, pulse_fraction, track_melting_i2t
from derate.design.structure import MainsInput
from derate.ledger.entry import SUPPLY, Case, Entry, Subject
from derate.ledger.model import Model
from derate.stress.context import Context, part
from derate.stress.resistance import mains_resistance
from derate.stress.supply import air
from derate.terms.cases import DIP, HOT_RESTART, RE_PLUG, RUNNING, SURGE, SWITCH_ON
from derate.terms.values import Value

REPEATED = (SWITCH_ON, HOT_RESTART, RE_PLUG, DIP)
TRACK = Model(
    "melting I²t of a track",
    lambda width, thickness, start: _track(width, thickness, start),
    {
        "melting_i2t": {"width": 1, "thickness": 1, "start": -1},
        "complete": {"width": 1, "thickness": 1, "start": -1},
    },
    "adiabatic heating of copper to its melting point, constants of IEC 60949",
    "(226 A√s/mm² × width × thickness)² × ln((1083 + 234.5)/(start + 234.5))",
    {"melting_i2t": ERROR["begins"], "complete": ERROR["complete"]},
    frozenset(("melting_i2t",)),
)


def _track(width: float, thickness: float, start: float) -> dict[str, float]:
    found = track_melting_i2t(width, thickness, start)
    return {"melting_i2t": found.begins, "complete": found.complete}


def protective_rows(context: Context, mains: MainsInput) -> None:
    """Write the rows of every fuse and track of the mains path."""
    for name in (*mains.series, *mains.behind):
        if context.structure.may_be(name, "fuse"):
            _survival(context, name)
            _prospective(context, name)
        if context.structure.may_be(name, "board track"):
            melting_of_track(context, name)


def melting_of_track(context: Context, name: str) -> Entry:
    """I²t at which a track of the board begins to melt [A²s]; written once."""
    subject = part(name)
    known = context.fact(subject, "melting_i2t")
    if known is not None:
        return known
    thickness = context.fact(subject, "part.thickness") or context.assume("board_copper", subject, "part.thickness")
    case = next(iter(context.plan.cases(["air_temperature"], [RUNNING])), Case(RUNNING))
    return context.ledger.work_out(
        TRACK,
        {"width": context.need(subject, "part.width"), "thickness": thickness, "start": air(context, subject, case)},
        [(subject, "melting_i2t", "melting_i2t")],
    )[0]


def _survival(context: Context, name: str) -> None:
    """I²t that one pulse of each event may have: the melting I²t times the share for as many pulses."""
    subject, ledger = part(name), context.ledger
    melting = context.need(subject, "rated.melting_i2t")
    pulses = context.need(SUPPLY, "site.switch_ons")
    for group in (*REPEATED, SURGE):
        for case in context.plan.cases(["allowed.i2t"], [group]):
            if group == SURGE:  # nobody counts surges; a hundred in its life is the fewest the guide speaks of
                share = Value.exact(PULSE_FRACTIONS[100])
                inputs: tuple[int, ...] = (melting.number,)
                rests, missing = melting.rests_on, melting.missing
            else:
                inputs = (melting.number, pulses.number)
                rests, missing = melting.rests_on | pulses.rests_on, (*melting.missing, *pulses.missing)
                found = _share(pulses.value) if isinstance(pulses.value, Value) else None
                if isinstance(pulses.value, Value) and found is None:
                    missing = (*missing, f"{subject}: rated.melting_i2t for {pulses.value.high:.4g} pulses")
                share = found or Value.exact(0.0)
            if missing or not isinstance(melting.value, Value):
                ledger.hole(subject, "allowed.i2t", missing, case=case, inputs=inputs, rests_on=rests)
                continue
            numbers = zip(melting.value.numbers(), share.numbers(), strict=True)
            ledger.write(
                subject, "allowed.i2t", Value(*(m * s for m, s in numbers)), case=case, known_by="computed",
                inputs=inputs, rests_on=rests, formula="melting I²t × share for the number of pulses",
                source="a fuse maker's guide: 48, 38, 29 and 22 % for 100 to 100 000 pulses, 10 s apart",
            )  # fmt: skip


def _share(pulses: Value) -> Value | None:
    """Share of the melting I²t, falling with the number of pulses; None beyond what the guide says."""
    try:
        shares = [pulse_fraction(max(1.0, n)) for n in pulses.numbers()]
    except ValueError:
        return None
    return Value(*reversed(shares))


PROSPECTIVE = Model(
    "current the mains can drive into a short",
    lambda mains, resistance: {"current": mains / max(resistance, 1e-3)},
    {"current": {"mains": 1, "resistance": -1}},
    "Ohm's law; the mains inductance and the part's own resistance only lower it",
    "mains / resistance of the mains",
)


def _prospective(context: Context, name: str) -> None:
    subject: Subject = part(name)
    stated = context.fact(SUPPLY, "site.prospective_current")
    for case in context.plan.cases(["prospective_current"], [RUNNING]):
        if stated is not None:
            context.ledger.write(
                subject, "prospective_current", stated.value, case=case, known_by=stated.known_by,
                inputs=(stated.number,), formula="as stated of the site", source="the site block",
                rests_on=stated.rests_on, missing=stated.missing,
            )  # fmt: skip
        elif case.mains is not None:
            context.ledger.work_out(
                PROSPECTIVE, {"mains": case.mains, "resistance": mains_resistance(context)},
                [(subject, "prospective_current", "current")], case=case,
            )  # fmt: skip
        else:
            context.ledger.hole(subject, "prospective_current", context.plan.lacking(RUNNING), case=case)
