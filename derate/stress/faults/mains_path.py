"""Single faults of the mains path as rows: shorts, open parts, the partial short and what clears each."""

from __future__ import annotations

from functools import partial
from math import inf

from derate.circuit import mains as mains_events
from derate.circuit import mains as mains_input
from derate.circuit.line_faults import Limits, Span, certain, time_to_i2t, widest
from derate.design.structure import MainsInput, Structure, leaves
from derate.ledger.entry import SUPPLY, Case, Entry, Mark, OpenFact
from derate.ledger.ledger import Model
from derate.stress.context import CasePlan, Context, part, summed
from derate.stress.faults.rows import (
    Fault,
    Opening,
    mains_faults,
    meanwhile,
    no_current,
    nothing_to_open,
    ohms_of,
    opens,
    path,
    protective_parts,
    rows_of,
    sure_current,
    sure_power,
    tell,
)
from derate.stress.mains.line import bulk_capacitance, charged_capacitance, inductance_ahead, mains_resistance, total
from derate.stress.parts.windings import winding_resistance
from derate.terms.quantities import FAULT, FULL_LOAD, RUNNING
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Formula, Value, written

# Partial short across the bulk: the band of fault resistance that overheats a series part and that nothing clears.
#
# A fuse element opens only above its opening power or current; between that and its rating it glows, the dead zone.
# It is worked out over every range: of the part, of the rest of its path, of the mains, of the rating and of what
# opens. The bulk capacitor is left out here; with it still there the band reaches further up (`derate faults` tells
# both).


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
    subject, ledger = fault.subject, context.ledger
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
    subject = fault.subject
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
    ledger, subject, volts = context.ledger, fault.subject, case.mains or 0.0
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
        note += f"; up to {written(least * least * found.lowest)} W in the fault"
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
    ends = f"{written(band.lowest)} to {written(band.highest)} ohm"
    where = "across the bulk" if context.structure.mains is not None else f"behind {fault.part}"
    may = "" if band.ratio.low > 1.0 else ", over tolerance," if band.ratio.far <= 1.0 else ", as far as is known,"
    return f"a fault of {ends} {where}{may} {does} {fault.part} and nothing is shown to open"


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
            source="its data sheet",
        ), True
    return known or ledger.hole(subject, "allowed.power", (OpenFact(subject, "rated.power"),), case=Case(FAULT)), False


# Single faults of the mains path as rows: current at low and high mains, what clears it, when, let-through.


# The formulas of single faults of the mains path, with their signs and error bands.


SOURCE = "own derivation from Kirchhoff's laws; held to ngspice 39"


def _model(formula: Formula, half_wave: bool) -> Model:
    return Model.of(
        "short of alternate half cycles" if half_wave else "short behind the parts in series",
        formula,
        SOURCE,
        "crest / (2 R), alternate half cycles; less with inductance" if half_wave else "mains / √(R² + (ωL)²)",
    )


FULL = _model(mains_input.SHORT, False)
HALF, DOUBLED = _model(mains_input.SHORT_ALTERNATE, True), _model(mains_input.SHORT_OF_DOUBLER, True)
REVERSED = Model.of(
    "diode of a half-wave input shorted",
    mains_input.REVERSED,
    SOURCE,
    "mains / √(R² + 1/(ωC)²); the load is taken as stopped",
)


ONE_PAIR = Model.of(
    "bridge with one diode open",
    mains_input.ONE_PAIR,
    "own derivation, closed-form pieces; held to ngspice 39",
    "half-wave steady state",
)
LUMPED = Model.of(
    "bulk capacitors with the choke between them shorted",
    mains_input.LUMPED,
    ONE_PAIR.source,
    "steady state with both capacitors as one",
)
BARE = Model.of(
    "cold switch-on without the thermistor",
    mains_events.BARE_SWITCH_ON,
    "own derivation, closed form of each conduction interval; held to ngspice 39",
    "greatest over the closing angle",
)


# Faults without a hard short: an open diode, a shorted choke or thermistor, a bulk driven into reverse.


def reversed_bulk(context: Context, mains: MainsInput, fault: Fault, case: Case) -> None:
    subject, ledger = fault.subject, context.ledger
    rows = path(context, fault)
    resistance = total(context, [*rows, ("mains", mains_resistance(context))], Case("fault path", fault=fault.name))
    whole = [bulk_capacitance(context, element, k) for k, element in enumerate(mains.bulk)]
    current, _, reverse = ledger.work_out(
        REVERSED,
        {
            "mains": case.mains or 0.0,
            "frequency": case.frequency or 50.0,
            "resistance": resistance,
            "capacitance": charged_capacitance(context, mains, whole),
        },
        [
            (subject, "fault_current", "rms"),
            (subject, "current_peak", "peak"),
            (part(next(leaves(mains.bulk[0])).name), "reverse_voltage", "reverse"),
        ],
        case=case,
    )
    if not isinstance(current.value, Value):
        ledger.hole(subject, "opening", current.missing, case=case, note=current.note, inputs=(current.number,))
        return
    found = [
        opens(context, name, current.value, ohms_of(rows, name)) for name in protective_parts(context, fault.ahead)
    ]
    volts = f"{written(reverse.value.high)} V" if isinstance(reverse.value, Value) else "alternating voltage"
    before = f"the bulk capacitor is driven into reverse, up to {volts}; "
    tell(context, fault, case, current, found, rows, before)


def runs_on(context: Context, mains: MainsInput, fault: Fault, case: Case) -> None:
    subject, ledger = fault.subject, context.ledger
    resistance = total(
        context, [*path(context, fault), ("mains", mains_resistance(context))], Case("fault path", fault=fault.name)
    )
    capacitances = [bulk_capacitance(context, element, k) for k, element in enumerate(mains.bulk)]
    values = [row.value for row in capacitances if isinstance(row.value, Value)]
    whole: Entry | Value = (
        summed(values)
        if len(values) == len(capacitances)
        else next(row for row in capacitances if not isinstance(row.value, Value))
    )
    load = context.need(SUPPLY, "power_drawn", Case(RUNNING, load=FULL_LOAD))
    current, _ = ledger.work_out(
        ONE_PAIR if fault.shape == "runs on one pair" else LUMPED,
        {
            "mains": case.mains or 0.0,
            "frequency": case.frequency or 50.0,
            "resistance": resistance,
            "capacitance": whole,
            "load": load,
        },
        [(subject, "fault_current", "rms"), (subject, "current_peak", "peak")],
        case=case,
    )
    said = "the supply runs on, one pair of diodes and the bulk carry twice the ripple"
    if fault.shape == "lumped":
        said = "the supply runs on; the first capacitor takes the ripple of the converter too"
    if not isinstance(current.value, Value) and current.note:
        said = f"{current.note}; nothing draws more than in a running supply for long"
    nothing_to_open(context, fault, case, said, (current.number,))


def without_thermistor(context: Context, mains: MainsInput, fault: Fault, case: Case) -> None:
    subject, ledger = fault.subject, context.ledger
    rows = path(context, fault, without=fault.part)
    resistance = total(context, [*rows, ("mains", mains_resistance(context))], Case("fault path", fault=fault.name))
    capacitances = [bulk_capacitance(context, element, k) for k, element in enumerate(mains.bulk)]
    values = [row.value for row in capacitances if isinstance(row.value, Value)]
    whole: Entry | Value = (
        summed(values)
        if len(values) == len(capacitances)
        else next(row for row in capacitances if not isinstance(row.value, Value))
    )  # one that is not known is no capacitor of nothing
    peak, i2t = ledger.work_out(
        BARE,
        {
            "mains": case.mains or 0.0,
            "frequency": case.frequency or 50.0,
            "resistance": resistance,
            "capacitance": whole,
        },
        [(subject, "current_peak", "peak"), (subject, "let_through", "i2t")],
        case=case,
    )
    said = "each switch-on without the thermistor"
    if isinstance(i2t.value, Value):
        for name, _ in rows:
            melting = context.value(part(name), "rated.melting_i2t")
            if melting is not None:
                may = "may melt" if i2t.value.high > melting.low else "holds"
                how = "melts" if i2t.value.near > melting.high else may
                said += f"; {name} {how} at it ({written(melting.near)} A²s)"
        said += meanwhile(context, rows, i2t.value.high)
    nothing_to_open(context, fault, case, said, (peak.number, i2t.number))


# Single faults of the mains path as rows: current at low and high mains, what clears it, when, let-through.
#
# Opening is asked at the least current of the case (tolerance included), let-through told at the greatest. A
# prediction says that a part is shown to open by its maker's data or its standard's gates; whether nothing catches
# fire meanwhile is for the bench.


def solve_faults(context: Context) -> None:
    """Write the rows of every single fault of the mains path."""
    for fault in mains_faults(context.structure):
        context.ledger.step(("fault", fault.name), partial(_one_fault, context, fault))


def _one_fault(context: Context, fault: Fault) -> None:
    mains = context.structure.inlet
    for case in fault_cases(context.plan, fault.name):
        if case.mains is None:
            for quantity in ("fault_current", "opening"):
                for who in rows_of(fault, fault.subject, quantity):
                    context.ledger.hole(who, quantity, context.plan.lacking(FAULT), case=case)
        elif mains is not None:
            _solve(context, mains, fault, case)
        else:
            no_current(context, fault, case)
    if fault.shape == "partial":
        partial_short(context, fault, fault_cases(context.plan, fault.name))


def fault_cases(plan: CasePlan, name: str) -> tuple[Case, ...]:
    """A fault at the lowest and the highest mains, the frequency at the end that is bad there."""
    if plan.mains is None or plan.frequency is None:
        return (Case(FAULT, fault=name),)
    return tuple(
        Case(
            FAULT,
            volts,
            hertz,
            fault=name,
            widened=plan.plate is not None and not (plan.plate[0] <= volts <= plan.plate[1]),
        )
        for volts, hertz in ((plan.mains[0], plan.frequency[1]), (plan.mains[1], plan.frequency[0]))
    )


def hard_faults(structure: Structure, plan: CasePlan) -> tuple[Case, ...]:
    """The cases of the shorts that something has to clear: what a rule on opening has to hold in."""
    return tuple(case for fault in mains_faults(structure) if fault.hard for case in fault_cases(plan, fault.name))


def _solve(context: Context, mains: MainsInput, fault: Fault, case: Case) -> None:
    match fault.shape:
        case "full wave" | "half wave" | "behind the winding":
            _short_rows(context, mains, fault, case)
        case "reversed bulk":
            reversed_bulk(context, mains, fault, case)
        case "runs on one pair" | "lumped":
            runs_on(context, mains, fault, case)
        case "without thermistor":
            without_thermistor(context, mains, fault, case)
        case "partial":
            pass  # its cases are worked out together
        case _:
            no_current(context, fault, case)


_MADE_TO_OPEN = ("fuse", "fusible film resistor", "fusible wirewound resistor")
_NOTHING = Value.exact(0.0)


def _short_rows(context: Context, mains: MainsInput, fault: Fault, case: Case) -> None:
    subject, ledger = fault.subject, context.ledger
    rows = path(context, fault)
    extra: list[tuple[str, Entry | Value]] = []
    if fault.shape == "behind the winding":
        winding = winding_resistance(context)
        extra.append(("winding", winding))
    everything = [*rows, ("mains", mains_resistance(context)), *extra]
    resistance = total(context, everything, Case("fault path", fault=fault.name))
    inductance = inductance_ahead(context, mains)
    alternate = DOUBLED if mains.input == "doubler" else HALF
    model = alternate if fault.shape == "half wave" else FULL
    current = ledger.work_out(
        model,
        {
            "mains": case.mains or 0.0,
            "frequency": case.frequency or 50.0,
            "resistance": resistance,
            "inductance": inductance,
        },
        [(subject, "fault_current", "rms")],
        case=case,
    )[0]
    _peak(context, fault, case, current, resistance)
    candidates = protective_parts(context, tuple(name for name, _ in rows))
    if not any(context.structure.may_be(name, *_MADE_TO_OPEN) for name in candidates):
        # whatever flows, nothing is made to open on it
        tell(context, fault, case, current, [opens(context, one, _NOTHING, _NOTHING) for one in candidates], rows)
        return
    if not isinstance(current.value, Value) or not isinstance(resistance.value, Value):
        for quantity in ("opening", "time_to_open", "let_through"):
            for who in rows_of(fault, subject, quantity):
                ledger.hole(who, quantity, current.missing, case=case, note=current.note, inputs=(current.number,))
        return
    far = inductance.value.high if isinstance(inductance.value, Value) else 0.0
    half_wave = fault.shape == "half wave"
    found: list[Opening] = []
    for name in candidates:
        fast = _fast(context, name, case, resistance.value.high, 0.0 if half_wave else far, half_wave)
        found.append(opens(context, name, current.value, ohms_of(rows, name), fast, half_wave))
    before = _dumped(context, mains, case) if fault.shape == "behind the winding" else ""
    tell(context, fault, case, current, found, rows, before)


def _dumped(context: Context, mains: MainsInput, case: Case) -> str:
    """What the bulk puts into winding, switch and sense resistor before the mains does: half of C V² at the crest."""
    rows = [bulk_capacitance(context, element, k) for k, element in enumerate(mains.bulk)]
    farads = sum(row.value.high for row in rows if isinstance(row.value, Value))
    joules = farads * (case.mains or 0.0) ** 2
    return f"the bulk first empties into winding, switch and sense resistor, up to {written(joules)} J; "


def _peak(context: Context, fault: Fault, case: Case, current: Entry, resistance: Entry) -> None:
    """Greatest current: between that of the steady current and crest over resistance, which nothing can exceed.

    L di/dt = v − R i: above v / R the current falls, whatever the inductance and the instant of the fault.
    """
    ledger, subject = context.ledger, fault.subject
    rms, ohms = current.value, resistance.value
    if not isinstance(rms, Value) or not isinstance(ohms, Value) or ohms.low <= 0.0:
        ledger.hole(subject, "current_peak", current.missing, case=case, note=current.note, inputs=(current.number,))
        return
    factor = 2.0 if fault.shape == "half wave" else 2.0**0.5
    least_factor = 1.63 if fault.shape == "half wave" else factor  # of an inductive line, √(8/3)
    crest = 2.0**0.5 * (case.mains or 0.0)
    ring = 1.03 if fault.shape == "behind the winding" else 1.003  # the saturated winding rings with the bulk
    far, high = (max(ring * crest / one, factor * least) for one, least in ((ohms.near, rms.far), (ohms.low, rms.high)))
    ledger.write(
        subject,
        "current_peak",
        Value(least_factor * rms.low, least_factor * rms.near, far, high),
        case=case,
        known_by="computed",
        inputs=(current.number, resistance.number),
        formula="from rms × crest factor to crest / R",
        source=SOURCE,
        rests_on=current.rests_on | resistance.rests_on,
    )


def _fast(context: Context, name: str, case: Case, ohms: float, henries: float, half_wave: bool) -> float | None:
    """Longest time until the fault has let through a fuse's clearing I²t: from the worst phase, through all of R."""
    clearing = context.value(part(name), "rated.clearing_i2t")
    if clearing is None or case.mains is None or case.frequency is None:
        return None
    try:
        # from a zero crossing; of a half wave the other half cycle may have to pass first
        time = time_to_i2t(
            clearing.high, case.mains, case.frequency, ohms, inductance=henries, half_wave=half_wave, limit=0.05
        )
    except ValueError:
        return None
    if time is None:
        return None
    return time + (0.5 / case.frequency if half_wave else 0.0)
