"""Single faults of the mains path as rows: current at low and high mains, what clears it, when, let-through.

Opening is asked at the least current of the case (tolerance included), let-through told at the greatest. A prediction
says that a part is shown to open by its maker's data or its standard's gates; whether nothing catches fire meanwhile is
for the bench.
"""

from __future__ import annotations

from math import pi
from typing import Any

from derate.circuit.inrush import worst_switch_on
from derate.circuit.line_faults import (
    ERROR,
    bridge_diode_open,
    bridge_diode_shorted,
    half_wave_diode_shorted,
    shorted,
    time_to_i2t,
)  # fmt: skip
from derate.circuit.partial_short import ERROR as DEAD_ERROR
from derate.circuit.partial_short import dead_zone
from derate.circuit.rectifier import steady_state
from derate.design.paths import leaves
from derate.design.structure import MainsInput, Structure
from derate.ledger.entry import SUPPLY, Case, Entry, Subject
from derate.ledger.model import Collapse, Model
from derate.stress.context import Context, part, summed
from derate.stress.fault_list import Fault, mains_faults
from derate.stress.line import BRIDGE_DROP
from derate.stress.line_inductance import inductance_ahead
from derate.stress.opening import Opening, opens, protective_parts, sure_current, sure_power
from derate.stress.plan import CasePlan
from derate.stress.resistance import bulk_capacitance, hot, mains_resistance, total
from derate.terms.values import Category, Curve, Value

MAINS = Subject("mains")
_SOURCE = "circuit-theory text-book forms; held to ngspice 39"


def _short(*, mains: float, frequency: float, resistance: float, inductance: float, half_wave: bool) -> dict[str, Any]:
    if half_wave:
        return {"rms": bridge_diode_shorted(mains, frequency, max(resistance, 1e-3)).rms}
    return {"rms": shorted(mains, frequency, max(resistance, 1e-3), inductance).rms}


def _model(half_wave: bool) -> Model:
    return Model(
        "bridge diode shorted" if half_wave else "short behind the parts in series",
        lambda **k: _short(**k, half_wave=half_wave),
        {"rms": {"mains": 1, "frequency": -1, "resistance": -1, "inductance": -1}},
        _SOURCE,
        "crest / (2 R), alternate half cycles" if half_wave else "mains / √(R² + (ωL)²)",
        {"rms": ERROR["rms"]},
    )


FULL, HALF = _model(False), _model(True)
REVERSED = Model(
    "diode of a half-wave input shorted",
    lambda mains, frequency, resistance, capacitance: half_wave_diode_shorted(
        mains, frequency, max(resistance, 1e-3), capacitance
    ),
    {name: {"mains": 1, "frequency": 1, "resistance": -1, "capacitance": 1} for name in ("rms", "peak")}
    | {"reverse": {"mains": 1, "frequency": -1, "resistance": -1, "capacitance": -1}},
    _SOURCE, "mains / √(R² + 1/(ωC)²); the load is taken as stopped", {"rms": ERROR["rms"], "peak": ERROR["peak"]},
)  # fmt: skip


def _steady(found: Any) -> dict[str, float]:
    if found is None:
        raise Collapse("the bulk capacitor cannot carry the load with this fault: the voltage collapses")
    return {"rms": found.line_rms, "peak": found.line_peak, "ripple": found.capacitor_rms}


_STEADY_SIGNS = {
    name: {"mains": -1, "frequency": 0, "resistance": -1, "capacitance": 1, "load": 1}
    for name in ("rms", "peak", "ripple")
}
ONE_PAIR = Model(
    "bridge with one diode open",
    lambda mains, frequency, resistance, capacitance, load: _steady(
        bridge_diode_open(mains, frequency, max(resistance, 1e-3), capacitance, load, BRIDGE_DROP)
    ),
    _STEADY_SIGNS, "own derivation, closed-form pieces; held to ngspice 39", "half-wave steady state",
    {"rms": (-0.05, 0.05), "peak": (-0.1, 0.05), "ripple": (-0.05, 0.05)},
)  # fmt: skip
LUMPED = Model(
    "bulk capacitors with the choke between them shorted",
    lambda mains, frequency, resistance, capacitance, load: _steady(
        steady_state(mains, frequency, max(resistance, 1e-3), capacitance, load, BRIDGE_DROP)
    ),
    _STEADY_SIGNS, ONE_PAIR.source, "steady state with both capacitors as one",
    {"rms": (-0.05, 0.05), "peak": (-0.1, 0.05), "ripple": (-0.05, 0.05)},
)  # fmt: skip
BARE = Model(
    "cold switch-on without the thermistor",
    lambda mains, frequency, resistance, capacitance: worst_switch_on(
        mains, frequency, max(resistance, 1e-3), capacitance
    ),
    {
        "peak": {"mains": 1, "frequency": -1, "resistance": -1, "capacitance": 1},
        "i2t": {"mains": 1, "frequency": -1, "resistance": -1, "capacitance": 1},
    },
    "own derivation, closed form of each conduction interval; held to ngspice 39", "greatest over the closing angle",
    {"peak": (-0.6, 0.005), "i2t": (-0.75, 0.01)},  # the inductance ahead, left out, only lowers both
)  # fmt: skip


def solve_faults(context: Context) -> None:
    """Write the rows of every single fault of the mains path."""
    mains = context.structure.mains
    for fault in mains_faults(context.structure):
        for case in fault_cases(context.plan, fault.name):
            if case.mains is None:
                for quantity in ("fault_current", "opening"):
                    context.ledger.hole(part(fault.part), quantity, context.plan.lacking("fault"), case=case)
            elif mains is not None:
                _solve(context, mains, fault, case)
            else:
                _no_current(context, fault, case)


def fault_cases(plan: CasePlan, name: str) -> tuple[Case, ...]:
    """A fault at the lowest and the highest mains, the frequency at the end that is bad there."""
    if plan.mains is None or plan.frequency is None:
        return (Case("fault", fault=name),)
    return tuple(
        Case("fault", volts, hertz, fault=name, widened=plan.plate is not None and not (
            plan.plate[0] <= volts <= plan.plate[1]))
        for volts, hertz in ((plan.mains[0], plan.frequency[1]), (plan.mains[1], plan.frequency[0]))
    )  # fmt: skip


def hard_faults(structure: Structure, plan: CasePlan) -> tuple[Case, ...]:
    """The cases of the shorts that something has to clear: what a rule on opening has to hold in."""
    return tuple(case for fault in mains_faults(structure) if fault.hard for case in fault_cases(plan, fault.name))


def _solve(context: Context, mains: MainsInput, fault: Fault, case: Case) -> None:
    match fault.shape:
        case "full wave" | "half wave" | "behind the winding":
            _short_rows(context, mains, fault, case)
        case "reversed bulk":
            _reversed(context, mains, fault, case)
        case "runs on one pair" | "lumped":
            _runs_on(context, mains, fault, case)
        case "without thermistor":
            _bare(context, mains, fault, case)
        case "partial":
            _partial(context, fault, case)
        case _:
            _no_current(context, fault, case)


def _path(context: Context, fault: Fault, without: str = "") -> list[tuple[str, Entry]]:
    """Each part the fault current flows through, with the resistance it may have then."""
    return [(name, _resistance(context, name)) for name in fault.ahead if name != without]


def _resistance(context: Context, name: str) -> Entry:
    """Of one part during a fault: a thermistor anywhere from hot to cold at 25 degC."""
    row = hot(context, name)
    if not context.structure.may_be(name, "NTC thermistor") or not isinstance(row.value, Value):
        return row
    cold = context.fact(part(name), "part.resistance")
    known = cold.value if cold is not None else None
    if isinstance(known, Curve):
        known = known.points[0][1]
    if cold is None or not isinstance(known, Value):
        return row
    return context.ledger.write(
        part(name), "series_resistance", Value(row.value.low, row.value.near, known.far, known.high),
        case=Case("resistance in a fault"), known_by="computed", inputs=(row.number, cold.number),
        rests_on=row.rests_on | cold.rests_on, formula="from hot to cold", source="it may come at any time",
    )  # fmt: skip


def _short_rows(context: Context, mains: MainsInput, fault: Fault, case: Case) -> None:
    subject, ledger = part(fault.part), context.ledger
    rows = _path(context, fault)
    extra: list[tuple[str, Entry | Value]] = []
    if fault.shape == "behind the winding":
        winding = winding_resistance(context)
        extra.append(("winding", winding))
    everything = [*rows, ("mains", mains_resistance(context)), *extra]
    resistance = total(context, everything, Case("fault path", fault=fault.name))
    inductance = inductance_ahead(context, mains)
    model = HALF if fault.shape == "half wave" else FULL
    current = ledger.work_out(
        model,
        {"mains": case.mains or 0.0, "frequency": case.frequency or 50.0, "resistance": resistance,
         "inductance": inductance},
        [(subject, "fault_current", "rms")], case=case,
    )[0]  # fmt: skip
    _peak(context, fault, case, current, resistance)
    if not isinstance(current.value, Value) or not isinstance(resistance.value, Value):
        for quantity in ("opening", "time_to_open", "let_through"):
            for who in _whom(fault, subject, quantity):
                ledger.hole(who, quantity, current.missing, case=case, note=current.note, inputs=(current.number,))
        return
    far = inductance.value.high if isinstance(inductance.value, Value) else 0.0
    half_wave = fault.shape == "half wave"
    found: list[Opening] = []
    for name in protective_parts(context, tuple(name for name, _ in rows)):
        fast = _fast(context, name, case, resistance.value.high, 0.0 if half_wave else far, half_wave)
        found.append(opens(context, name, current.value, _ohms_of(rows, name), fast))
    _tell(context, fault, case, current, found, rows)


def _peak(context: Context, fault: Fault, case: Case, current: Entry, resistance: Entry) -> None:
    """Greatest current: between that of the steady current and crest over resistance, which nothing can exceed.

    L di/dt = v − R i: above v / R the current falls, whatever the inductance and the instant of the fault.
    """
    ledger, subject = context.ledger, part(fault.part)
    rms, ohms = current.value, resistance.value
    if not isinstance(rms, Value) or not isinstance(ohms, Value) or ohms.low <= 0.0:
        ledger.hole(subject, "current_peak", current.missing, case=case, note=current.note, inputs=(current.number,))
        return
    factor = 2.0 if fault.shape == "half wave" else 2.0**0.5
    crest = 2.0**0.5 * (case.mains or 0.0)
    ring = 1.03 if fault.shape == "behind the winding" else 1.003  # the saturated winding rings with the bulk
    far, high = (max(ring * crest / one, factor * least) for one, least in (
        (ohms.near, rms.far), (ohms.low, rms.high)))  # fmt: skip
    ledger.write(
        subject, "current_peak", Value(factor * rms.low, factor * rms.near, far, high), case=case,
        known_by="computed", inputs=(current.number, resistance.number), formula="from rms × crest factor to crest / R",
        source=_SOURCE, rests_on=current.rests_on | resistance.rests_on,
    )  # fmt: skip


def _ohms_of(rows: list[tuple[str, Entry]], name: str) -> Value:
    """Resistance of one part of the path; nothing known: none."""
    value = next(row.value for n, row in rows if n == name)
    return value if isinstance(value, Value) else Value.exact(0.0)


def _fast(context: Context, name: str, case: Case, ohms: float, henries: float, half_wave: bool) -> float | None:
    """Longest time until the fault has let through a fuse's clearing I²t: from the worst phase, through all of R."""
    clearing = context.value(part(name), "rated.clearing_i2t")
    if clearing is None or case.mains is None or case.frequency is None:
        return None
    try:
        # from a zero crossing; of a half wave the other half cycle may have to pass first
        time = time_to_i2t(clearing.high, case.mains, case.frequency, ohms, inductance=henries, half_wave=half_wave,
                           limit=0.05)  # fmt: skip
    except ValueError:
        return None
    if time is None:
        return None
    return time + (0.5 / case.frequency if half_wave else 0.0)


def _whom(fault: Fault, subject: Subject, quantity: str) -> tuple[Subject, ...]:
    return (subject, MAINS) if fault.hard and quantity == "opening" else (subject,)


def _tell(
    context: Context, fault: Fault, case: Case, current: Entry, found: list[Opening], rows: list[tuple[str, Entry]]
) -> None:
    """Opening, time, let-through and what is over its limit meanwhile, from what each protective part does."""
    ledger, subject = context.ledger, part(fault.part)
    shown = [one for one in found if one.shown and one.time is not None]
    inputs = (current.number, *(n for one in found for n in one.rows))
    rests = current.rests_on.union(*(one.rests_on for one in found))
    if shown:
        first = min(shown, key=lambda one: one.time or 0.0)
        word, note = "shown", first.why
    elif found:
        first, word, note = found[0], "not shown", "; ".join(one.why for one in found)
    else:
        first, word, note = None, "not shown", "nothing that is made to open stands in this path"
    through: Value | None = None
    if shown and first is not None and first.time is not None and isinstance(current.value, Value):
        most = first.let_through
        through = Value(0.0, 0.0, most, most)
        note += _meanwhile(context, rows, most)
    lacks = tuple(fact for one in found for fact in one.lacks) if not shown else ()
    for who in _whom(fault, subject, "opening"):
        ledger.write(
            who, "opening", Category.of(word), case=case, known_by="computed", inputs=inputs, rests_on=rests,
            formula="least fault current against the opening data", missing=lacks, note=note,
            source="the makers' opening tables, and the gates of IEC 60127 and UL 248-14",
        )  # fmt: skip
    ledger.write(
        subject, "cleared_by", Category.of(first.name if first is not None and shown else "none"), case=case,
        known_by="computed", inputs=inputs, formula="the first to open of those shown to", source="see opening",
    )  # fmt: skip
    if through is None or first is None or first.time is None:
        for quantity in ("time_to_open", "let_through"):
            ledger.hole(subject, quantity, lacks, case=case, note=note, inputs=inputs, rests_on=rests)
        return
    ledger.write(
        subject, "time_to_open", Value(0.0, 0.0, first.time, first.time), case=case, known_by="computed",
        inputs=inputs, rests_on=rests, formula="longest time of the opening data", source="see opening", note=note,
    )  # fmt: skip
    ledger.write(
        subject, "let_through", through, case=case, known_by="computed", inputs=inputs, rests_on=rests,
        formula="greatest of current² × longest time over the range of the current; of a fast fuse its clearing I²t",
        source="definition", note=note,
    )  # fmt: skip


def _meanwhile(context: Context, rows: list[tuple[str, Entry]], i2t: float) -> str:
    """What else is over its surge limit until the fault is cleared."""
    told = []
    for name in context.structure.mains.rectifier if context.structure.mains is not None else ():
        curve = context.curve(part(name), "rated.surge_current")
        if curve is None:
            told.append(f"whether {name} survives is not known, its surge rating is not stated")
            continue
        length, surge = curve.points[0]
        limit = surge.near**2 * length / 2.0
        if i2t > limit:
            told.append(f"{name} is over its surge limit of {limit:.3g} A²s meanwhile, up to {i2t:.3g} A²s may pass")
    for name, row in rows:
        energy = context.value(part(name), "rated.energy")
        if energy is not None and isinstance(row.value, Value) and row.value.near * i2t > energy.near:
            told.append(f"{name} is over its energy rating of {energy.near:.3g} J meanwhile")
    return "".join(f"; {one}" for one in told)


def _reversed(context: Context, mains: MainsInput, fault: Fault, case: Case) -> None:
    subject, ledger = part(fault.part), context.ledger
    rows = _path(context, fault)
    resistance = total(context, [*rows, ("mains", mains_resistance(context))], Case("fault path", fault=fault.name))
    current, _, reverse = ledger.work_out(
        REVERSED,
        {"mains": case.mains or 0.0, "frequency": case.frequency or 50.0, "resistance": resistance,
         "capacitance": bulk_capacitance(context, mains.bulk[0])},
        [(subject, "fault_current", "rms"), (subject, "current_peak", "peak"),
         (part(next(leaves(mains.bulk[0])).name), "reverse_voltage", "reverse")], case=case,
    )  # fmt: skip
    if not isinstance(current.value, Value):
        ledger.hole(subject, "opening", current.missing, case=case, note=current.note, inputs=(current.number,))
        return
    found = [
        opens(context, name, current.value, _ohms_of(rows, name)) for name in protective_parts(context, fault.ahead)
    ]
    _tell(context, fault, case, current, found, rows)
    row = ledger.find(subject, "opening", case)
    volts = f"{reverse.value.high:.3g} V" if isinstance(reverse.value, Value) else "alternating voltage"
    if row is not None and isinstance(row.value, Category):
        ledger.write(
            subject, "opening", row.value, case=case, known_by="computed", inputs=row.inputs, rests_on=row.rests_on,
            formula=row.formula, source=row.source, missing=row.missing,
            note=f"the bulk capacitor is driven into reverse, up to {volts}; {row.note}",
        )  # fmt: skip


def _runs_on(context: Context, mains: MainsInput, fault: Fault, case: Case) -> None:
    subject, ledger = part(fault.part), context.ledger
    resistance = total(
        context, [*_path(context, fault), ("mains", mains_resistance(context))], Case("fault path", fault=fault.name)
    )
    capacitances = [bulk_capacitance(context, element, k) for k, element in enumerate(mains.bulk)]
    values = [row.value for row in capacitances if isinstance(row.value, Value)]
    whole: Entry | Value = summed(values) if len(values) == len(capacitances) else next(
        row for row in capacitances if not isinstance(row.value, Value))  # fmt: skip
    load = context.need(SUPPLY, "power_drawn", Case("running", load="full"))
    current, _ = ledger.work_out(
        ONE_PAIR if fault.shape == "runs on one pair" else LUMPED,
        {"mains": case.mains or 0.0, "frequency": case.frequency or 50.0, "resistance": resistance,
         "capacitance": whole, "load": load},
        [(subject, "fault_current", "rms"), (subject, "current_peak", "peak")], case=case,
    )  # fmt: skip
    said = "the supply runs on, one pair of diodes and the bulk carry twice the ripple"
    if fault.shape == "lumped":
        said = "the supply runs on; the first capacitor takes the ripple of the converter too"
    if not isinstance(current.value, Value) and current.note:
        said = f"{current.note}; nothing draws more than in a running supply for long"
    _nothing_to_open(context, fault, case, said, (current.number,))


def _bare(context: Context, mains: MainsInput, fault: Fault, case: Case) -> None:
    subject, ledger = part(fault.part), context.ledger
    rows = _path(context, fault, without=fault.part)
    resistance = total(context, [*rows, ("mains", mains_resistance(context))], Case("fault path", fault=fault.name))
    capacitances = [bulk_capacitance(context, element, k) for k, element in enumerate(mains.bulk)]
    values = [row.value for row in capacitances if isinstance(row.value, Value)]
    whole: Entry | Value = summed(values) if len(values) == len(capacitances) else capacitances[0]
    peak, i2t = ledger.work_out(
        BARE,
        {"mains": case.mains or 0.0, "frequency": case.frequency or 50.0, "resistance": resistance,
         "capacitance": whole},
        [(subject, "current_peak", "peak"), (subject, "let_through", "i2t")], case=case,
    )  # fmt: skip
    said = "each switch-on without the thermistor"
    if isinstance(i2t.value, Value):
        for name, _ in rows:
            melting = context.value(part(name), "rated.melting_i2t")
            if melting is not None:
                may = "may melt" if i2t.value.high > melting.low else "holds"
                how = "melts" if i2t.value.near > melting.high else may
                said += f"; {name} {how} at it ({melting.near:.3g} A²s)"
        said += _meanwhile(context, rows, i2t.value.high)
    _nothing_to_open(context, fault, case, said, (peak.number, i2t.number))


def _partial(context: Context, fault: Fault, case: Case) -> None:
    """The band of fault resistance across the bulk that overheats this part and that nothing in the path clears."""
    ledger, subject = context.ledger, part(fault.part)
    rows = _path(context, fault)
    own = next(row for name, row in rows if name == fault.part)
    rated = rated_power(context, fault.part, own)
    series = total(context, rows, Case("fault path", fault=fault.name))
    opening = sure_power(context, fault.part)
    currents = [x for name in fault.ahead if context.structure.must_be(name, "fuse")
                if (x := sure_current(context, name)) is not None]  # fmt: skip
    inputs = tuple(row.number for row in (own, series, rated, opening) if row is not None)
    rests = frozenset().union(*(row.rests_on for row in (own, series, rated, opening) if row is not None))
    if rated is None or not isinstance(rated.value, Value) or not isinstance(series.value, Value) or not isinstance(
        own.value, Value
    ):  # fmt: skip
        missing = tuple(fact for row in (rated, series, own) if row is not None for fact in row.missing)
        note = "what this part may take for ever is not known"
        for quantity in ("dead_zone", "opening"):
            ledger.hole(subject, quantity, missing, case=case, note=note, inputs=inputs, rests_on=rests)
        return
    ohms, limit = series.value.near, rated.value.near
    if case.mains is None:
        return
    share = own.value.near / ohms if ohms > 0.0 else 0.0
    band = _band(case.mains, ohms, share, limit, opening, currents)
    if band is None:
        ledger.write(
            subject, "dead_zone", Value.exact(1.0), case=case, known_by="computed", inputs=inputs, rests_on=rests,
            formula="greatest over least fault resistance of the band", source="Ohm's law",
            note="no resistance overheats it without opening something",
        )  # fmt: skip
        _nothing_to_open(context, fault, case, "no fault resistance overheats it without opening something", inputs)
        return
    low, high = band
    ratio = high / low if low > 0.0 else float("inf")
    note = f"a fault of {low:.3g} to {high:.3g} ohm across the bulk overheats {fault.part} and nothing is shown to open"
    ledger.write(
        subject, "dead_zone", Value(ratio * (1 + DEAD_ERROR["lowest"][0]), ratio, ratio, ratio) if low > 0.0
        else Value.floor(1e3), case=case, known_by="computed", inputs=inputs, rests_on=rests,
        formula="greatest over least fault resistance of the band", source="Ohm's law", note=note,
    )  # fmt: skip
    ledger.write(
        subject, "opening", Category.of("not shown"), case=case, known_by="computed", inputs=inputs, rests_on=rests,
        formula="rated power, opening power and opening current against the fault's resistance", note=note,
        source="Ohm's law",
    )  # fmt: skip
    amps = [case.mains / (ohms + r) for r in (high, low)]
    ledger.write(
        subject, "fault_current", Value.between(*amps), case=case, known_by="computed", inputs=inputs, rests_on=rests,
        formula="mains / (R + fault resistance), over the band", source="Ohm's law",
    )  # fmt: skip


def _band(
    mains: float, ohms: float, share: float, limit: float, opening: Entry | None, currents: list[float]
) -> tuple[float, float] | None:
    """Least and greatest fault resistance [ohm] of the dead zone, the bulk capacitor left out; None: it is empty."""
    most = min((mains / amps - ohms for amps in currents), default=None)  # below it a fuse is sure to open
    low = 0.0 if most is None else max(0.0, min(mains / amps - ohms for amps in currents))
    if share <= 0.0:
        return None
    # the part is `share` of the series resistance: as if the whole took its rating over the share
    sure = opening.value.high / share if opening is not None and isinstance(opening.value, Value) else 1e6
    zone = dead_zone(mains, max(ohms, 0.01), limit / share, sure)
    if zone is None:
        return None
    if currents:
        sure_fuse = max(0.0, mains / min(currents) - ohms)
        low = max(zone.lowest, sure_fuse)
    else:
        low = zone.lowest
    return (low, zone.highest) if low < zone.highest else None


def rated_power(context: Context, name: str, own: Entry) -> Entry | None:
    """What a series part may take for ever [W]: a resistor's rating at its air, a fuse's or thermistor's by current."""
    subject, ledger = part(name), context.ledger
    hot_case = next(iter(context.plan.cases(["allowed.power"], ["running"])), None)
    known = ledger.find(subject, "allowed.power", hot_case) if hot_case is not None else None
    if known is not None and isinstance(known.value, Value):
        return known
    if context.structure.may_be(name, "fuse", "NTC thermistor"):
        current = context.value(subject, "rated.current")
        curve = context.curve(subject, "rated.current")
        current = current or (curve.points[0][1] if curve is not None else None)
        if current is not None and isinstance(own.value, Value):
            numbers = [amps**2 * r for amps, r in zip(current.numbers(), own.value.numbers(), strict=True)]
            return ledger.write(
                subject, "allowed.power", Value(*numbers), case=Case("fault"), known_by="computed",
                inputs=(own.number,), rests_on=own.rests_on, formula="rated current² × resistance", source="Joule",
            )  # fmt: skip
        return context.need(subject, "rated.current")
    return known or ledger.hole(subject, "allowed.power", (f"{subject}: rated.power",), case=Case("fault"))


def _no_current(context: Context, fault: Fault, case: Case) -> None:
    if fault.shape == "bench":
        context.ledger.hole(part(fault.part), "fault_current", (), case=case, note=f"for the bench: {fault.why}")
        context.ledger.hole(part(fault.part), "opening", (), case=case, note=f"for the bench: {fault.why}")
        return
    why = fault.why
    if fault.shape == "shock":
        rest = [name for name in fault.ahead if name != fault.part]
        why = f"shock: {' + '.join(rest)} alone is left across the barrier" if rest else (
            "shock: the output is joined to the mains side, and nothing opens")  # fmt: skip
    _nothing_to_open(context, fault, case, why, ())


def _nothing_to_open(context: Context, fault: Fault, case: Case, why: str, inputs: tuple[int, ...]) -> None:
    context.ledger.write(
        part(fault.part), "opening", Category.of("nothing to open"), case=case, known_by="computed", inputs=inputs,
        formula="no current beyond what runs", source="the circuit", note=why,
    )  # fmt: skip


WINDING = Model(
    "resistance of a winding from its wire",
    lambda turns, bare, strands, area, shape: {
        "resistance": _ohms(turns, bare, strands, area, shape),
    },
    {"resistance": {"turns": 1, "bare": -1, "strands": -1, "area": 1, "shape": 1}},
    "copper, 1.72e-8 ohm m at 20 degC and 31 % more at 100; a turn is 4 to 9 times the side of the leg",
    "ρ × turns × length of a turn / area of the wire",
)


def _ohms(turns: float, bare: float, strands: float, area: float, shape: float) -> float:
    """shape: 0 the shortest turn and cold copper, 1 the longest and hot."""
    turn = (4.0 + 5.0 * shape) * area**0.5
    rho = 1.724e-8 * (1.0 + 0.31 * shape)
    ohms: float = rho * turns * turn / (pi / 4.0 * bare**2 * strands)
    return ohms


def winding_resistance(context: Context) -> Entry:
    """Resistance of the primary winding [ohm], from its wire and core; what is not stated makes a hole."""
    primary = context.structure.primary
    name = primary.winding if primary is not None else None
    if name is None:
        return context.ledger.hole(SUPPLY, "series_resistance", ("supply: circuit.primary",), case=Case("winding"))
    winding = Subject("winding", (name,))
    known = context.ledger.find(winding, "series_resistance", Case("winding"))
    if known is not None:
        return known
    transformer = Subject("transformer", (name.split(".")[0],))
    strands = context.fact(winding, "winding.strands")
    return context.ledger.work_out(
        WINDING,
        {"turns": context.need(winding, "winding.turns"), "bare": context.need(winding, "winding.bare"),
         "strands": strands or Value.exact(1.0), "area": context.need(transformer, "core.area"),
         "shape": Value.between(0.0, 1.0)},
        [(winding, "series_resistance", "resistance")], case=Case("winding"),
    )[0]  # fmt: skip
