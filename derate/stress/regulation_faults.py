"""Regulation lost: coupler dark, reference open, divider open, controller without feedback.

The converter then gives all it can. What ends the rise: the controller's stop for over-voltage, told by its own supply
that follows the output by turns; a load that is never less than the plate says; or nothing.
"""

from __future__ import annotations

from math import inf

from derate.circuit.lost_regulation import ERROR, SIGNS, output_at_least_load, output_at_stop, time_to_voltage
from derate.design.paths import leaves
from derate.ledger.entry import Case, Entry
from derate.ledger.model import Model
from derate.stress.auxiliary import RAIL
from derate.stress.clamp_faults import power_row
from derate.stress.context import Context, part
from derate.stress.converter import OutputShape, Shape, forward_drop
from derate.stress.converter_fault_list import ConverterFault
from derate.stress.fault_telling import for_the_bench, said
from derate.stress.light_windings import turns_of
from derate.stress.operating import Inputs, controller_of
from derate.stress.output_parts import capacitance_of
from derate.terms.values import Value

_AT_STOP = Model(
    "output at the controller's stop", lambda **k: {"voltage": output_at_stop(**k)},
    {"voltage": SIGNS["output_at_stop"]}, "AN-4137 p18, the rail by turns, turned round",
    "(stop + own drop) × turns of the output / turns of the rail − drop", {"voltage": ERROR["output_at_stop"]},
)  # fmt: skip


def regulation_lost(context: Context, shape: Shape, fault: ConverterFault, limit: Entry, case: Case) -> None:
    """How far the output rises, and how soon its capacitors are past their rating."""
    one = fault.output
    if one is None:
        for_the_bench(context, fault, case, "no output is walked")
        return
    power = power_row(context, shape, fault, limit, case)
    if not isinstance(power.value, Value):
        said(context, fault, case, power, "")
        return
    known = [bound for bound in (_stop(context, shape, one, fault, case), _load(one, power)) if bound is not None]
    base = one.voltage.value
    start = base.near if isinstance(base, Value) else 0.0
    ledger, note = context.ledger, f"output {one.name} rises"
    if known:
        value, word, inputs, rests = min(known, key=lambda bound: bound[0].high)
        note += f" until {word}"
        value = Value(*(max(number, start) for number in value.numbers()))
    else:
        value, inputs, rests = Value.floor(start), (power.number,), power.rests_on
        note += ": without load nothing that is stated bounds it"
        missing = _lacking(context, shape)
        if missing:
            note += f" ({missing} is not stated)"
    row = ledger.write(
        fault.subject, "voltage_peak", value, case=case, known_by="computed", inputs=inputs, rests_on=rests,
        formula="what ends the rise first", source="energy, and the rail by turns", note=note,
    )  # fmt: skip
    said(context, fault, case, row, note + _past(context, one, power, value))


_Bound = tuple[Value, str, tuple[int, ...], frozenset[str]]


def _rail(context: Context) -> tuple[list[str], tuple[str, ...]]:
    """Windings and diodes of the auxiliary rail."""
    path = context.structure.auxiliary or ()
    names = [name for step in path if step.how == "series" for name in step.names]
    diodes = tuple(name for name in names if "diode" in (context.structure.one_kind(name) or ""))
    return [name for step in path for name in step.names if "." in name], diodes


def _stop(context: Context, shape: Shape, one: OutputShape, fault: ConverterFault, case: Case) -> _Bound | None:
    controller = controller_of(context, shape)
    windings, diodes = _rail(context)
    stop = context.fact(part(controller), "part.overvoltage_stop") if controller else None
    if stop is None or not windings or not diodes:
        return None
    inputs: Inputs = {
        "stop": stop, "own_drop": forward_drop(context, RAIL, diodes), "turns": turns_of(context, RAIL, windings),
        "output_turns": turns_of(context, one.subject, one.walked.windings), "drop": one.drop,
    }  # fmt: skip
    row = context.ledger.work_out(_AT_STOP, inputs, [(fault.subject, "voltage_peak", "voltage")], case=case)[0]
    if not isinstance(row.value, Value):
        return None
    volts = stop.value.high if isinstance(stop.value, Value) else 0.0
    return row.value, f"{controller} stops at {volts:.4g} V of its own supply", (row.number,), row.rests_on


def _load(one: OutputShape, power: Entry) -> _Bound | None:
    if one.least <= 0.0 or not isinstance(power.value, Value):
        return None
    high = output_at_least_load(power.value.high, one.least)
    far = output_at_least_load(power.value.far, one.least)
    word = f"the least load of {one.least:.3g} A takes all of it"
    return Value(0.0, 0.0, far, max(far, high)), word, (power.number,), power.rests_on


def _lacking(context: Context, shape: Shape) -> str:
    controller = controller_of(context, shape)
    if controller is None or context.fact(part(controller), "part.overvoltage_stop") is not None:
        return ""
    return f"a stop of {controller} for over-voltage"


def _past(context: Context, one: OutputShape, power: Entry, value: Value) -> str:
    """The output capacitor that passes its rating first, and no sooner than when; nothing where the rise ends below."""
    names = [leaf.name for element in (*one.walked.capacitors, *one.walked.filtered) for leaf in leaves(element)]
    rated = {name: found for name in names if (found := context.value(part(name), "rated.voltage")) is not None}
    if not rated or not isinstance(power.value, Value) or not isinstance(one.voltage.value, Value):
        return ""
    first = min(rated, key=lambda name: rated[name].near)
    volts = rated[first].near
    if value.high <= volts:
        return f"; {first} stays within its {volts:.4g} V"
    passes = "passes" if value.near > volts or value.high == inf else "may pass"
    held = capacitance_of(context, (*one.walked.capacitors, *one.walked.filtered), one.subject, one.voltage)
    if not isinstance(held.value, Value):
        return f"; {first} {passes} its {volts:.4g} V"
    soonest = time_to_voltage(one.voltage.value.high, max(volts, one.voltage.value.high), held.value.low,
                              power.value.high)  # fmt: skip
    return f"; {first} {passes} its {volts:.4g} V, no sooner than {1e3 * soonest:.3g} ms after"
