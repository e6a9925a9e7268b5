"""Faults without a hard short: an open diode, a shorted choke or thermistor, a bulk driven into reverse."""

from __future__ import annotations

from derate.design.paths import leaves
from derate.design.structure import MainsInput
from derate.ledger.entry import SUPPLY, Case, Entry
from derate.stress.context import Context, part, summed
from derate.stress.fault_list import Fault
from derate.stress.fault_models import BARE, LUMPED, ONE_PAIR, REVERSED
from derate.stress.fault_rows import meanwhile, nothing_to_open, ohms_of, path, tell
from derate.stress.opening import opens, protective_parts
from derate.stress.resistance import bulk_capacitance, charged_capacitance, mains_resistance, total
from derate.terms.cases import FULL_LOAD, RUNNING
from derate.terms.values import Value


def reversed_bulk(context: Context, mains: MainsInput, fault: Fault, case: Case) -> None:
    subject, ledger = part(fault.part), context.ledger
    rows = path(context, fault)
    resistance = total(context, [*rows, ("mains", mains_resistance(context))], Case("fault path", fault=fault.name))
    whole = [bulk_capacitance(context, element, k) for k, element in enumerate(mains.bulk)]
    current, _, reverse = ledger.work_out(
        REVERSED,
        {"mains": case.mains or 0.0, "frequency": case.frequency or 50.0, "resistance": resistance,
         "capacitance": charged_capacitance(context, mains, whole)},
        [(subject, "fault_current", "rms"), (subject, "current_peak", "peak"),
         (part(next(leaves(mains.bulk[0])).name), "reverse_voltage", "reverse")], case=case,
    )  # fmt: skip
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
    whole: Entry | Value = summed(values) if len(values) == len(capacitances) else next(
        row for row in capacitances if not isinstance(row.value, Value))  # fmt: skip
    load = context.need(SUPPLY, "power_drawn", Case(RUNNING, load=FULL_LOAD))
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
    nothing_to_open(context, fault, case, said, (current.number,))


def without_thermistor(context: Context, mains: MainsInput, fault: Fault, case: Case) -> None:
    subject, ledger = part(fault.part), context.ledger
    rows = path(context, fault, without=fault.part)
    resistance = total(context, [*rows, ("mains", mains_resistance(context))], Case("fault path", fault=fault.name))
    capacitances = [bulk_capacitance(context, element, k) for k, element in enumerate(mains.bulk)]
    values = [row.value for row in capacitances if isinstance(row.value, Value)]
    whole: Entry | Value = summed(values) if len(values) == len(capacitances) else next(
        row for row in capacitances if not isinstance(row.value, Value)
    )  # one that is not known is no capacitor of nothing
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
        said += meanwhile(context, rows, i2t.value.high)
    nothing_to_open(context, fault, case, said, (peak.number, i2t.number))
