"""Single faults of the mains path as rows: current at low and high mains, what clears it, when, let-through."""

from __future__ import annotations

from functools import partial

from derate.circuit import mains_events, mains_input
from derate.circuit.line_faults import time_to_i2t
from derate.design.paths import leaves
from derate.design.structure import MainsInput, Structure
from derate.ledger.entry import SUPPLY, Case, Entry
from derate.ledger.model import Model
from derate.stress.context import Context, part, summed
from derate.stress.faults.opening import Opening, opens, protective_parts
from derate.stress.faults.partial_short import partial_short
from derate.stress.faults.rows import (
    Fault,
    mains_faults,
    meanwhile,
    no_current,
    nothing_to_open,
    ohms_of,
    path,
    rows_of,
    tell,
)
from derate.stress.mains.line import inductance_ahead
from derate.stress.mains.resistance import bulk_capacitance, charged_capacitance, mains_resistance, total
from derate.stress.parts.windings import winding_resistance
from derate.stress.plan import CasePlan
from derate.terms.cases import FAULT, FULL_LOAD, RUNNING
from derate.terms.formula import Formula
from derate.terms.values import Value

# The formulas of single faults of the mains path, with their signs and error bands.


SOURCE = "circuit-theory text-book forms; held to ngspice 39"


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
    subject, ledger = part(fault.part), context.ledger
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
    volts = f"{reverse.value.high:.3g} V" if isinstance(reverse.value, Value) else "alternating voltage"
    before = f"the bulk capacitor is driven into reverse, up to {volts}; "
    tell(context, fault, case, current, found, rows, before)


def runs_on(context: Context, mains: MainsInput, fault: Fault, case: Case) -> None:
    subject, ledger = part(fault.part), context.ledger
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
    subject, ledger = part(fault.part), context.ledger
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
                said += f"; {name} {how} at it ({melting.near:.3g} A²s)"
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
    mains = context.structure.mains
    for case in fault_cases(context.plan, fault.name):
        if case.mains is None:
            for quantity in ("fault_current", "opening"):
                for who in rows_of(fault, part(fault.part), quantity):
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
    subject, ledger = part(fault.part), context.ledger
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
        found.append(opens(context, name, current.value, ohms_of(rows, name), fast))
    before = _dumped(context, mains, case) if fault.shape == "behind the winding" else ""
    tell(context, fault, case, current, found, rows, before)


def _dumped(context: Context, mains: MainsInput, case: Case) -> str:
    """What the bulk puts into winding, switch and sense resistor before the mains does: half of C V² at the crest."""
    rows = [bulk_capacitance(context, element, k) for k, element in enumerate(mains.bulk)]
    farads = sum(row.value.high for row in rows if isinstance(row.value, Value))
    joules = farads * (case.mains or 0.0) ** 2
    return f"the bulk first empties into winding, switch and sense resistor, up to {joules:.3g} J; "


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
