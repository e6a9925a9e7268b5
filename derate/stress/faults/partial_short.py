"""Partial short across the bulk: the band of fault resistance that overheats a series part and that nothing clears.

A fuse element opens only above its opening power or current; between that and its rating it glows, the dead zone. It is
worked out over every range: of the part, of the rest of its path, of the mains, of the rating and of what opens.
The bulk capacitor is left out here; with it still there the band reaches further up (`derate faults` tells both).
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from derate.circuit.line_faults import Limits, Span, certain, widest
from derate.ledger.entry import Case, Entry, Mark, OpenFact
from derate.stress.context import Context, part
from derate.stress.faults.opening import sure_current, sure_power
from derate.stress.faults.rows import Fault, nothing_to_open, path
from derate.stress.mains.resistance import mains_resistance, total
from derate.terms.cases import FAULT, RUNNING
from derate.terms.values import Category, Value

_DROP = 1.0  # a silicon diode at most, at large currents [V]; see `line.BRIDGE_DROP`
_FORMULA, _SOURCE = "greatest over least fault resistance of the band, over every range", "Ohm's law"
_NOBODY_SAYS = "its resistance in the fault may be anything from zero up: the band is not known"


class _Facts(NamedTuple):
    """What the band follows from, and the rows it came from; limits at their low, near, far and high."""

    element: Value
    rest: Value
    limits: tuple[Limits, ...]
    half_wave: bool
    diodes: int  # in series
    inputs: tuple[int, ...]
    rests_on: frozenset[OpenFact]


class _Hole(NamedTuple):
    missing: tuple[OpenFact, ...]
    note: str
    inputs: tuple[int, ...]
    rests_on: frozenset[OpenFact]
    mark: Mark = ""


class _Band(NamedTuple):
    """Ratio of the ends [1] as four numbers, and the widest band [ohm], over tolerance."""

    ratio: Value
    lowest: float
    highest: float


def partial_short(context: Context, fault: Fault, cases: tuple[Case, ...]) -> None:
    """The band of each case, and as one standing row of the part the band over the whole range of the mains."""
    cases = tuple(case for case in cases if case.mains is not None)
    facts = _facts(context, fault)
    for case in cases:
        _tell(context, fault, case, facts)
    volts = [case.mains for case in cases if case.mains is not None]
    if not volts:
        return
    subject, ledger = part(fault.part), context.ledger
    found = _band(facts, (min(volts), max(volts))) if isinstance(facts, _Facts) else facts
    if isinstance(found, _Hole):
        ledger.hole(
            subject,
            "dead_zone",
            found.missing,
            note=found.note,
            inputs=found.inputs,
            rests_on=found.rests_on,
            mark=found.mark,
        )
        return
    rows = [row for case in cases if (row := ledger.find(subject, "dead_zone", case)) is not None]
    ratio, note = Value.exact(1.0), "no resistance overheats it without opening something"
    if found is not None:
        # sure over the whole range is what is sure at one of its ends
        sure = [row.value for row in rows if isinstance(row.value, Value)]
        low, near = max(one.low for one in sure), max(one.near for one in sure)
        ratio = Value(low, near, max(near, found.ratio.far), max(near, found.ratio.high))
        note = _words(context, fault, found)
    ledger.write(
        subject,
        "dead_zone",
        ratio,
        known_by="computed",
        inputs=tuple(row.number for row in rows),
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula="the band over the range of the mains",
        source=_SOURCE,
        note=note,
    )


def _facts(context: Context, fault: Fault) -> _Facts | _Hole:
    structure = context.structure
    rows = path(context, fault)
    own = next(row for name, row in rows if name == fault.part)
    others = [*((name, row) for name, row in rows if name != fault.part), ("mains", mains_resistance(context))]
    rest = total(context, others, Case("rest of the path", fault=fault.name))
    rated, by_current = _rated(context, fault.part)
    opening = sure_power(context, fault.part)
    used = [row for row in (own, rest, rated, opening) if row is not None]
    inputs, rests_on = tuple(row.number for row in used), frozenset().union(*(row.rests_on for row in used))
    subject = part(fault.part)
    if structure.mains is not None and structure.mains.input == "doubler":
        note = "for the bench: across a doubler's bulk each half cycle drives the fault through a capacitor"
        return _Hole((), note, inputs, rests_on, "bench")
    if not (isinstance(own.value, Value) and isinstance(rest.value, Value) and isinstance(rated.value, Value)):
        missing = tuple(fact for row in (rated, rest, own) for fact in row.missing)
        return _Hole(missing, "what this part may take for ever is not known", inputs, rests_on)
    if own.value.low <= 0.0:  # a share of nothing is no proof that nothing overheats
        lacking = "part.hot_resistance" if structure.may_be(fault.part, "NTC thermistor") else "part.resistance"
        return _Hole((OpenFact(subject, lacking),), _NOBODY_SAYS, inputs, rests_on)
    fuses = [
        amps.numbers()
        for name in fault.ahead
        if structure.must_be(name, "fuse")
        if (amps := sure_current(context, name)) is not None
    ]
    limit = rated.value.numbers()
    opens = opening.value.numbers() if opening and isinstance(opening.value, Value) else (inf,) * 4
    limits = tuple(
        Limits(
            inf if by_current else limit[3 - k],
            limit[3 - k] if by_current else inf,
            opens[k],
            min((amps[k] for amps in fuses), default=inf),
        )
        for k in range(4)
    )
    half_wave = structure.mains is not None and structure.mains.input == "half-wave"
    diodes = len(structure.mains.rectifier) if structure.mains is not None and half_wave else 2
    return _Facts(own.value, rest.value, limits, half_wave, diodes, inputs, rests_on)


def _band(facts: _Facts, volts: Span) -> _Band | None | _Hole:
    """The band over the mains from the one to the other [V]; None: empty, whatever the values within their ranges."""
    root = 2.0**0.5 if facts.half_wave else 1.0  # a half wave has half the mean square
    mains = (max(0.0, volts[0] / root - facts.diodes * _DROP), volts[1] / root)
    own, rest = facts.element.numbers(), facts.rest.numbers()
    wide, narrow = ((own[0], own[3]), (rest[0], rest[3])), ((own[1], own[2]), (rest[1], rest[2]))
    try:
        high = widest(mains, *wide, facts.limits[3])
        if high is None:
            return None
        far = widest(mains, *narrow, facts.limits[2])
        near = certain(mains, *narrow, facts.limits[1])
        low = certain(mains, *wide, facts.limits[0])
    except ValueError as refused:  # outside the range of the formula: nothing can be said, which is a row as well
        return _Hole((), str(refused), facts.inputs, facts.rests_on)

    def sure(zone: tuple[float, float] | None) -> float:
        # of a band that reaches down to a dead short the ratio has no end: a thousand stands for it
        return 1.0 if zone is None else 1e3 if zone[0] <= 1e-3 * zone[1] else max(1.0, zone[1] / zone[0])

    def most(zone: tuple[float, float] | None) -> float:
        return 1.0 if zone is None else inf if zone[0] <= 1e-3 * zone[1] else zone[1] / zone[0]

    four = (sure(low), sure(near), most(far), most(high))
    return _Band(Value(min(four[:2]), four[1], max(four[1:3]), max(four[1:])), high.lowest, high.highest)


def _tell(context: Context, fault: Fault, case: Case, facts: _Facts | _Hole) -> None:
    ledger, subject, volts = context.ledger, part(fault.part), case.mains or 0.0
    found = _band(facts, (volts, volts)) if isinstance(facts, _Facts) else facts
    if isinstance(found, _Hole):
        for quantity in ("dead_zone", "opening"):
            ledger.hole(
                subject,
                quantity,
                found.missing,
                case=case,
                note=found.note,
                inputs=found.inputs,
                rests_on=found.rests_on,
                mark=found.mark,
            )
        return
    assert isinstance(facts, _Facts)
    inputs, rests = facts.inputs, facts.rests_on
    ratio = found.ratio if found is not None else Value.exact(1.0)
    note = _words(context, fault, found) if found else "no resistance overheats it without opening something"
    if found is not None and found.lowest > 0.0:
        least = volts / (facts.element.low + facts.rest.low + found.lowest)
        note += f"; up to {least * least * found.lowest:.3g} W in the fault"
    ledger.write(
        subject,
        "dead_zone",
        ratio,
        case=case,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula=_FORMULA,
        source=_SOURCE,
        note=note,
    )
    if found is None:
        why = "no fault resistance overheats it without opening something"
        nothing_to_open(context, fault, case, why, inputs)
        return
    ledger.write(
        subject,
        "opening",
        Category.of("not shown"),
        case=case,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula="rated power, opening power and opening current against the fault's resistance",
        note=note,
        source=_SOURCE,
    )
    ledger.write(
        subject,
        "fault_current",
        _current(facts, volts),
        case=case,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula="from what overheats it to what opens something, or to a dead short",
        source=_SOURCE,
    )


def _current(facts: _Facts, volts: float) -> Value:
    """The current over the band [A]: from where it overheats the part to where something opens, or a dead short."""
    volts /= 2.0**0.5 if facts.half_wave else 1.0
    own, rest = facts.element.numbers(), facts.rest.numbers()
    ends = []
    for k in (2, 3):  # far and high: the bad ends of the limits, on the nominal part and over its tolerance
        least, most = own[3 - k], own[k]
        power, amps, opens, fuse = facts.limits[k]
        short = volts / (least + rest[3 - k])
        ends.append((min((power / most) ** 0.5, amps, short), min((opens / least) ** 0.5, fuse, short)))
    (near, far), (low, high) = ends
    return Value(min(low, near), near, max(near, far), max(near, far, high))


def _words(context: Context, fault: Fault, band: _Band) -> str:
    does = "is more than the rating of" if context.structure.must_be(fault.part, "fuse") else "overheats"
    ends = f"{band.lowest:.3g} to {band.highest:.3g} ohm"
    may = "" if band.ratio.low > 1.0 else ", over tolerance," if band.ratio.far <= 1.0 else ", as far as is known,"
    return f"a fault of {ends} across the bulk{may} {does} {fault.part} and nothing is shown to open"


def _rated(context: Context, name: str) -> tuple[Entry, bool]:
    """What a series part may take for ever: a resistor's power at its air, a fuse's or thermistor's current (True)."""
    subject, ledger = part(name), context.ledger
    hot_case = next(iter(context.plan.cases(["allowed.power"], [RUNNING])), None)
    known = ledger.find(subject, "allowed.power", hot_case) if hot_case is not None else None
    if known is not None and isinstance(known.value, Value):
        return known, False
    if context.structure.may_be(name, "fuse", "NTC thermistor"):
        curve = context.curve(subject, "rated.current")
        stated = context.need(subject, "rated.current")
        if curve is None:
            return stated, True
        # by temperature: how warm it is in the fault is not known
        over = Value.between(min(v.low for _, v in curve.points), max(v.high for _, v in curve.points))
        return ledger.write(
            subject,
            "allowed.current",
            over,
            case=Case(FAULT),
            known_by="computed",
            inputs=(stated.number,),
            rests_on=stated.rests_on,
            formula="from the least to the greatest of its points",
            source="its maker",
        ), True
    return known or ledger.hole(subject, "allowed.power", (OpenFact(subject, "rated.power"),), case=Case(FAULT)), False
