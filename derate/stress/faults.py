"""Single faults of the mains path as rows: current at low and high mains, what clears it, when, let-through.

Opening is asked at the least current of the case (tolerance included), let-through told at the greatest. A prediction
says that a part is shown to open by its maker's data or its standard's gates; whether nothing catches fire meanwhile is
for the bench.
"""

from __future__ import annotations

from derate.circuit.line_faults import time_to_i2t
from derate.design.structure import MainsInput, Structure
from derate.ledger.entry import Case, Entry
from derate.stress.context import Context, part
from derate.stress.fault_list import Fault, mains_faults
from derate.stress.fault_models import DOUBLED, FULL, HALF, SOURCE
from derate.stress.fault_others import reversed_bulk, runs_on, without_thermistor
from derate.stress.fault_partial import partial_short
from derate.stress.fault_rows import no_current, ohms_of, path, tell, whom
from derate.stress.line_inductance import inductance_ahead
from derate.stress.opening import Opening, opens, protective_parts
from derate.stress.plan import CasePlan
from derate.stress.resistance import bulk_capacitance, mains_resistance, total
from derate.stress.winding_resistance import winding_resistance
from derate.terms.cases import FAULT
from derate.terms.values import Value


def solve_faults(context: Context) -> None:
    """Write the rows of every single fault of the mains path."""
    mains = context.structure.mains
    for fault in mains_faults(context.structure):
        for case in fault_cases(context.plan, fault.name):
            if case.mains is None:
                for quantity in ("fault_current", "opening"):
                    for who in whom(fault, part(fault.part), quantity):
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
        Case(FAULT, volts, hertz, fault=name, widened=plan.plate is not None and not (
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
        {"mains": case.mains or 0.0, "frequency": case.frequency or 50.0, "resistance": resistance,
         "inductance": inductance},
        [(subject, "fault_current", "rms")], case=case,
    )[0]  # fmt: skip
    _peak(context, fault, case, current, resistance)
    candidates = protective_parts(context, tuple(name for name, _ in rows))
    if not any(context.structure.may_be(name, *_MADE_TO_OPEN) for name in candidates):
        # whatever flows, nothing is made to open on it
        tell(context, fault, case, current, [opens(context, one, _NOTHING, _NOTHING) for one in candidates], rows)
        return
    if not isinstance(current.value, Value) or not isinstance(resistance.value, Value):
        for quantity in ("opening", "time_to_open", "let_through"):
            for who in whom(fault, subject, quantity):
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
    far, high = (max(ring * crest / one, factor * least) for one, least in (
        (ohms.near, rms.far), (ohms.low, rms.high)))  # fmt: skip
    ledger.write(
        subject, "current_peak", Value(least_factor * rms.low, least_factor * rms.near, far, high), case=case,
        known_by="computed", inputs=(current.number, resistance.number), formula="from rms × crest factor to crest / R",
        source=SOURCE, rests_on=current.rests_on | resistance.rests_on,
    )  # fmt: skip


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
