"""Currents of every secondary winding: all outputs full, and each output alone full.

All secondaries take the shape of the primary's decay, each scaled to its own output's average; what leakage and ringing
make of that is in the error bands (ngspice), by the share of the power that a winding takes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf

from derate.circuit.secondary_current import Pulse, pulse, shared_band
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.context import Context, part
from derate.stress.converter import PRIMARY, OutputShape, Shape, delivered_alone
from derate.stress.operating import Inputs, again, base_inputs, bulk_low, point_of
from derate.stress.single_secondary import single
from derate.terms.cases import ALL_FULL, RUNNING, full_load_of
from derate.terms.quantities import QuantityName, paired
from derate.terms.values import Value

# More power, inductance or frequency lengthen the conduction, so the same average has a lower crest; a higher reflected
# voltage or a lower bulk shorten it. Proved over random designs by tests/stress/test_converter_signs.py.
PULSE_SIGNS = {
    "bulk": -1, "power": -1, "inductance": -1, "reflected": 1, "frequency": -1, "current": 1, "leakage_share": 1,
}  # fmt: skip


def winding_model(boundary: bool, share: float) -> Model:
    """Current of one secondary winding that takes `share` of the power [-]."""
    point = point_of(boundary)

    def solve(*, current: float, leakage_share: float, **inputs: float) -> Pulse:
        return pulse(point(**inputs), current, leakage_share)

    signs = PULSE_SIGNS if not boundary else {**PULSE_SIGNS, "inductance": -1, "power": -1}
    return Model(
        "flyback secondary, common shape of all windings",
        solve,
        {"peak": signs, "rms": signs},
        "AN-4137 eq 16 to 19; bands by ngspice 39",
        "shape of the primary's decay, scaled to the output's average",
        {"rms": shared_band("rms", share), "peak": shared_band("peak", share)},
    )


def share_of(shape: Shape, one: OutputShape) -> float:
    """Share of the power of one output at full load, at nominal; zero when something of it is not known."""

    def power(output: OutputShape) -> float | None:
        voltage, drop, current = output.voltage.value, output.drop.value, output.current.value
        if isinstance(voltage, Value) and isinstance(drop, Value) and isinstance(current, Value):
            return (voltage.middle + drop.middle) * current.middle
        return None

    powers = [power(output) for output in shape.outputs]
    known = [found for found in powers if found is not None]
    own = power(one)
    if own is None or len(known) < len(powers) or not 0.0 < sum(known) < inf:
        return 0.0
    return 1.0 if len(powers) == 1 else own / sum(known)


def secondary_inputs(context: Context, shape: Shape, one: OutputShape, alone: bool) -> Inputs:
    """Inputs of one secondary at the lowest mains: everything full, or this output alone full."""
    case = context.plan.cases(["voltage_min"], [RUNNING])[0]
    inputs = base_inputs(shape, bulk_low(context, case))
    if alone:
        inputs["power"] = _power_alone(context, shape, one)
    return {**inputs, "current": one.current, "leakage_share": _leakage_share(shape)}


def _leakage_share(shape: Shape) -> Value:
    leakage, inductance = shape.leakage.value, shape.inductance.value
    if not isinstance(leakage, Value) or not isinstance(inductance, Value) or inductance.low <= 0:
        return Value.exact(0.0)  # the hole of the inductance speaks for itself
    return Value(
        leakage.low / inductance.high, leakage.near / inductance.far,
        min(0.2, leakage.far / inductance.near), min(0.2, leakage.high / inductance.low),
    )  # fmt: skip


def _power_alone(context: Context, shape: Shape, one: OutputShape) -> Entry:
    """Power carried with one output alone full: least what it takes; the share lost is that of full load."""
    delivered = delivered_alone(context, shape, one.name)
    full, carried = shape.delivered.value, shape.carried.value
    if not isinstance(delivered.value, Value) or not isinstance(full, Value) or not isinstance(carried, Value):
        return delivered
    loss = carried.far / full.near if full.near > 0 else 1.0
    low, near, far, high = delivered.value.numbers()
    return context.ledger.write(
        PRIMARY, "power_carried", Value(low, near, max(far, near * loss), max(high, near * loss)), case=delivered.case,
        known_by="computed", inputs=(delivered.number, shape.carried.number), rests_on=delivered.rests_on,
        formula="between what the outputs take and what the bulk gives", source="conservation of energy",
    )  # fmt: skip


def greatest(rows: Iterable[Entry]) -> Value | None:
    """The worst of several rows, end by end; None when one of them is a hole."""
    values = [row.value for row in rows]
    known = [value for value in values if isinstance(value, Value)]
    if not known or len(known) < len(values):
        return None
    return Value(*(max(column) for column in zip(*(value.numbers() for value in known), strict=True)))


def worst_row(
    context: Context, rows: Iterable[Entry], subject: Subject, quantity: QuantityName, case: Case, note: str
) -> Entry:
    """One row that holds the worst of several loads; a hole among them makes a hole."""
    found = list(rows)
    value = greatest(found)
    numbers = tuple(row.number for row in found)
    rests = frozenset().union(*(row.rests_on for row in found))
    if value is None:
        bad = next(row for row in found if not isinstance(row.value, Value))
        missing = tuple(fact for row in found for fact in row.missing)
        return context.ledger.hole(subject, quantity, missing, case=case, note=bad.note, inputs=numbers, rests_on=rests)
    return context.ledger.write(
        subject, quantity, value, case=case, known_by="computed", inputs=numbers, note=note, rests_on=rests,
        formula=found[0].formula, source=found[0].source,
    )  # fmt: skip


def solve_secondaries(context: Context, shape: Shape) -> None:
    """Current of every secondary: all full, and that output alone full; the row of full load holds the worst."""
    plan = context.plan
    for one in shape.outputs:
        model = winding_model(shape.boundary, share_of(shape, one))
        loads = (False, True) if len(shape.outputs) > 1 else (False,)
        solved: dict[QuantityName, list[Entry]] = {}
        for alone in loads:
            case = Case(RUNNING, load=full_load_of(one.name) if alone else ALL_FULL)
            narrow = single(context, shape, one, case)
            if narrow is not None:
                solved = dict(narrow)
                continue
            inputs = secondary_inputs(context, shape, one, alone)
            wanted: list[Wanted] = [(one.subject, q, o) for q, o in _SHAPED]
            rows = context.ledger.work_out(model, inputs, wanted, case=case)
            for (_, quantity, _), row in zip(wanted, rows, strict=True):
                solved.setdefault(quantity, []).append(row)
        solved["current_average"] = [one.current]  # the load takes the average, whatever the shape
        note = "the worst of all outputs full and this one alone full" if len(loads) > 1 else ""
        carriers: Mapping[Subject, None] = dict.fromkeys(
            [*(part(n) for n in one.walked.rectifier), *(Subject("winding", (n,)) for n in one.walked.windings)]
        )
        for quantity in solved:
            for case in plan.cases([quantity], [RUNNING]):
                row = worst_row(context, solved[quantity], one.subject, quantity, case, note)
                for carrier in carriers:
                    _carry(context, row, case, carrier, len(one.walked.rectifier) if carrier.kind == "part" else 1)


_SHAPED = paired(("current_rms", "rms"), ("current_peak", "peak"))
UNEQUAL = 0.2  # parts alike in parallel share within a fifth of equal, as their tolerance: common practice, no source


def _carry(context: Context, row: Entry, case: Case, carrier: Subject, parallel: int) -> None:
    """The output's current in one of its carriers; a winding that serves several outputs carries the sum of all."""
    earlier = context.ledger.find(carrier, row.quantity, case)
    new = again(context, row, case, carrier)
    if carrier.kind == "winding" and earlier is not None and earlier.case == case:
        a, b = earlier.value, row.value
        if isinstance(a, Value) and isinstance(b, Value):
            total = Value(*(x + y for x, y in zip(a.numbers(), b.numbers(), strict=True)))
            context.ledger.write(
                carrier, row.quantity, total, case=case, known_by="computed", inputs=(earlier.number, new.number),
                rests_on=earlier.rests_on | row.rests_on, formula="sum of the outputs it serves", source="upper figure",
            )  # fmt: skip
        elif a is None:
            again(context, earlier, case, carrier)
    elif parallel > 1 and isinstance(row.value, Value):
        low, near, far, high = row.value.numbers()
        share, more = (1.0 - UNEQUAL) / parallel, (1.0 + UNEQUAL) / parallel
        context.ledger.write(
            carrier, row.quantity, Value(low * share, near / parallel, far / parallel, high * more), case=case,
            known_by="computed", inputs=(row.number,), rests_on=row.rests_on,
            formula="share of a part in parallel, a fifth apart", source="common practice, no source",
        )  # fmt: skip
