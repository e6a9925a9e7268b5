"""Currents of every secondary winding: the only one with its leakage; several, all full and each alone full."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf

from derate.circuit.flyback import LEAKAGE_MOST, point_of
from derate.circuit.numerics import in_range
from derate.circuit.output_stage import ERROR, single_capacitor
from derate.circuit.secondary import CURRENT_ERROR, ERROR_SLOW_DIODE, Pulse, pulse, secondary_current, shared_band
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import Context, part, repeated
from derate.stress.mains.bulk_states import bulk_high, bulk_low
from derate.terms.quantities import ALL_FULL, RUNNING, full_load_of, named, paired
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Value
from derate.topologies.flyback.operating import Between, Inputs, base_inputs, between
from derate.topologies.flyback.shape import PRIMARY, FlybackShape, OutputShape, delivered_alone
from derate.topologies.flyback.switch import Clamping, clamp_of, clamping

# Current of the only secondary of a converter, with the leakage's commutation and ringing worked out.
#
# A real ringing is damped: the true figure lies between the plain shape and that with the ringing left undamped,
# which is a narrower band than that of several windings. It needs leakage, clamp and drain capacitance.


_SIGNS = {
    "bulk": 0,
    "power": 0,
    "inductance": 0,
    "reflected": 0,
    "frequency": 0,
    "leakage": 0,
    "drain": 0,
    "ratio": 1,
    "current": 1,
    "resistance": 0,
    "capacitance": 0,
}


def single_model(boundary: bool, one: Clamping, slow: bool) -> Model:
    """RMS and peak, plain and with the ringing undamped, scaled to the output's own average.

    With the output capacitor's `storage` [F] and `series` resistance [ohm] its ripple too.
    """
    point = point_of(boundary)

    def solve(
        *,
        bulk: float,
        reflected: float,
        inductance: float,
        leakage: float,
        drain: float,
        ratio: float,
        current: float,
        resistance: float,
        capacitance: float,
        storage: float | None = None,
        series: float = 0.0,
        **inputs: float,
    ) -> dict[str, float]:
        in_range("leakage", leakage, 0.0, LEAKAGE_MOST * inductance, "H")
        at = point(bulk=bulk, reflected=reflected, inductance=inductance, **inputs)
        clamp = one.solve(bulk, reflected, leakage, at.peak, at.frequency, drain, resistance, capacitance)
        found = secondary_current(
            at,
            bulk,
            inductance,
            reflected,
            ratio,
            leakage=leakage,
            clamp_rise=clamp["voltage"] - reflected if leakage > 0.0 else inf,
            drain_capacitance=drain,
        )
        scale = current / found.average
        rows = {
            "rms": found.rms * scale,
            "peak": found.peak * scale,
            "rms_ringing": found.rms_ringing * scale,
            "peak_ringing": found.peak_ringing * scale,
        }
        if storage is not None:
            if not 0.0 < storage < inf:
                raise ValueError("the capacitance has no end, or is nothing: no ripple can be worked out")
            # the commutation is a ramp: as much charge flows in a pulse that begins half a ramp later
            peak, end = rows["peak"], ratio * at.valley * scale
            conduction = min(0.999, 2.0 * current / (peak + end))
            plain = single_capacitor(peak, min(end, peak), conduction, at.frequency, storage, series).ripple
            # ringing adds its amplitude to the crest; while the rectifier blocks there is none
            ringing = plain + series * (rows["peak_ringing"] - peak)
            rows |= {"ripple": plain, "ripple_ringing": ringing}
        return rows

    errors = ERROR_SLOW_DIODE if slow else CURRENT_ERROR
    names = ("rms", "peak", "rms_ringing", "peak_ringing")
    # a long ramp smooths what the resistance makes of the crest: live to -12 % where it takes a tenth of the off-time
    ripple = -0.15, errors["peak_ringing"][1] + ERROR["ripple"][1]
    signs = {**_SIGNS, "storage": -1, "series": 1}
    return Model(
        "flyback secondary, with commutation and ringing",
        solve,
        dict.fromkeys(names, _SIGNS) | dict.fromkeys(("ripple", "ripple_ringing"), signs),
        "own derivation of shapes, commutation and ringing; held to ngspice 39",
        "shape of the primary's decay with the leakage's part of it, scaled to the output's average",
        {name: errors[name] for name in names} | dict.fromkeys(("ripple", "ripple_ringing"), ripple),
    )


def single(
    context: Context, shape: FlybackShape, one: OutputShape, case: Case
) -> dict[QuantityName, list[Entry]] | None:
    """Rows of rms and peak of the only output at both ends of the bulk voltage.

    None where leakage, clamp or drain capacitance is not known for it. Where the current turns discontinuous the
    leakage shortens the conduction at once, so that the worst may lie at either end of the mains.
    """
    known = _only(context, shape, one)
    if known is None:
        return None
    found, slow, given = known
    low = bulk_low(context, context.plan.cases(["voltage_min"], [RUNNING])[0])
    model = single_model(shape.boundary, found, slow)
    wanted = [Between(one.subject, quantity, name, f"{name}_ringing") for quantity, name in _SHAPED]
    rows: dict[QuantityName, list[Entry]] = {}
    for bulk in (low, bulk_high(context)):
        inputs: Inputs = {**base_inputs(shape, bulk), **given}
        for row in between(context, model, inputs, wanted, case):
            if not isinstance(row.value, Value):
                return None  # outside its range: the shape common to all windings has a wider band and serves
            rows.setdefault(row.quantity, []).append(row)
    return rows


def _only(context: Context, shape: FlybackShape, one: OutputShape) -> tuple[Clamping, bool, Inputs] | None:
    """The clamp of a converter with one output, whether its diode is slow, and what the shape of its current needs."""
    clamp = clamp_of(context)
    found = clamping(context, shape, clamp)
    drain = context.fact(part(shape.switch or ""), "part.output_capacitance")
    if len(shape.outputs) != 1 or found is None or drain is None or clamp.kind != "resistor-capacitor-diode":
        return None
    given: Inputs = {
        "leakage": shape.leakage,
        "drain": drain,
        "ratio": one.ratio,
        "current": one.current,
        **found.parts,
    }
    return found, clamp.slow, given


def single_ripple(
    context: Context, shape: FlybackShape, one: OutputShape, parts: Inputs, low: Entry, case: Case
) -> list[Entry] | None:
    """Ripple of the only output's capacitor at both ends of the bulk voltage; None as `single`.

    parts: its capacitance and resistance; low: least voltage of the bulk in this state
    """
    known = _only(context, shape, one)
    if known is None:
        return None
    found, slow, given = known
    model = single_model(shape.boundary, found, slow)
    given |= {"storage": parts["capacitance"], "series": parts["resistance"]}
    wanted = [Between(one.subject, named("ripple"), "ripple", "ripple_ringing")]
    rows: list[Entry] = []
    for bulk in (low, bulk_high(context)):
        inputs: Inputs = {**base_inputs(shape, bulk), **given}
        rows += between(context, model, inputs, wanted, case)
    return rows if all(isinstance(row.value, Value) for row in rows) else None


# Currents of every secondary winding: all outputs full, and each output alone full.
#
# All secondaries take the shape of the primary's decay, each scaled to its own output's average; what leakage and
# ringing make of that is in the error bands (ngspice), by the share of the power that a winding takes.


# More power, inductance or frequency lengthen the conduction, so the same average has a lower crest; a higher reflected
# voltage or a lower bulk shorten it. Proved over random designs by tests/stress/test_converter_signs.py.
PULSE_SIGNS = {
    "bulk": -1,
    "power": -1,
    "inductance": -1,
    "reflected": 1,
    "frequency": -1,
    "current": 1,
    "leakage_share": 1,
}


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
        "AN-4137 (2004) eq 16 to 19; bands by ngspice 39",
        "shape of the primary's decay, scaled to the output's average",
        {"rms": shared_band("rms", share), "peak": shared_band("peak", share)},
    )


def share_of(shape: FlybackShape, one: OutputShape) -> float:
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


def secondary_inputs(context: Context, shape: FlybackShape, one: OutputShape, alone: bool) -> Inputs:
    """Inputs of one secondary at the lowest mains: everything full, or this output alone full."""
    case = context.plan.cases(["voltage_min"], [RUNNING])[0]
    inputs = base_inputs(shape, bulk_low(context, case))
    if alone:
        inputs["power"] = _power_alone(context, shape, one)
    return {**inputs, "current": one.current, "leakage_share": _leakage_share(shape)}


def _leakage_share(shape: FlybackShape) -> Value:
    leakage, inductance = shape.leakage.value, shape.inductance.value
    if not isinstance(leakage, Value) or not isinstance(inductance, Value) or inductance.low <= 0:
        return Value.exact(0.0)  # the hole of the inductance speaks for itself
    return Value(
        leakage.low / inductance.high,
        leakage.near / inductance.far,
        leakage.far / inductance.near if inductance.near > 0.0 else inf,
        leakage.high / inductance.low,
    )


def _power_alone(context: Context, shape: FlybackShape, one: OutputShape) -> Entry:
    """Power carried with one output alone full: least what it takes; the share lost is that of full load."""
    delivered = delivered_alone(context, shape, one.name)
    full, carried = shape.delivered.value, shape.carried.value
    if not isinstance(delivered.value, Value) or not isinstance(full, Value) or not isinstance(carried, Value):
        return delivered
    loss = carried.far / full.near if full.near > 0 else 1.0
    low, near, far, high = delivered.value.numbers()
    return context.ledger.write(
        PRIMARY,
        "power_carried",
        Value(low, near, max(far, near * loss), max(high, near * loss)),
        case=delivered.case,
        known_by="computed",
        inputs=(delivered.number, shape.carried.number),
        rests_on=delivered.rests_on,
        formula="between what the outputs take and what the bulk gives",
        source="conservation of energy",
    )


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
        subject,
        quantity,
        value,
        case=case,
        known_by="computed",
        inputs=numbers,
        note=note,
        rests_on=rests,
        formula=found[0].formula,
        source=found[0].source,
    )


def solve_secondaries(context: Context, shape: FlybackShape) -> None:
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
    """The output's current in one of its carriers; a winding that serves several outputs carries the sum of all.

    The worst load of one is not that of another, and they need not peak together: of rms and peak the sum is an upper
    figure, and the larger of them the lower.
    """
    earlier = context.ledger.find(carrier, row.quantity, case)
    new = repeated(context, row, case, carrier)
    if carrier.kind == "winding" and earlier is not None and earlier.case == case:
        a, b = earlier.value, row.value
        if isinstance(a, Value) and isinstance(b, Value):
            total = Value(*(x + y for x, y in zip(a.numbers(), b.numbers(), strict=True)))
            if row.quantity != "current_average":
                total = Value(max(a.low, b.low), max(a.near, b.near), total.far, total.high)
            context.ledger.write(
                carrier,
                row.quantity,
                total,
                case=case,
                known_by="computed",
                inputs=(earlier.number, new.number),
                rests_on=earlier.rests_on | row.rests_on,
                formula="sum of the outputs it serves",
                source="upper figure",
            )
        elif a is None:
            repeated(context, earlier, case, carrier)
    elif parallel > 1 and isinstance(row.value, Value):
        low, near, far, high = row.value.numbers()
        share, more = (1.0 - UNEQUAL) / parallel, (1.0 + UNEQUAL) / parallel
        context.ledger.write(
            carrier,
            row.quantity,
            Value(low * share, near / parallel, far / parallel, high * more),
            case=case,
            known_by="computed",
            inputs=(row.number,),
            rests_on=row.rests_on,
            formula="share of a part in parallel, a fifth apart",
            source="common practice, no source",
        )
