"""Turn-off of a bipolar switch against its reverse-bias safe operating area, running and at the current limit.

The locus is taken at its worst: the whole peak current while the voltage is already at its peak. Between two points of
the table the true edge lies somewhere between their currents: the lower one is what can be counted on, the higher one
what a fail is held to. Above the last point nothing is known.

A capacitor bare across the switch lets the current fall before the voltage has risen. It is counted on where its
capacitance and the fall time are stated: then every point of the falling locus is held to the table. A snubber with a
resistor is not: the resistor carries its share of the voltage from the first moment.
"""

from __future__ import annotations

from derate.circuit.turn_off import locus_current
from derate.ledger.entry import Case, Entry
from derate.ledger.model import Model
from derate.stress.bipolar_loss import fall_time
from derate.stress.context import Context, part
from derate.stress.converter import Shape
from derate.stress.snubber_parts import bare_capacitance
from derate.terms.cases import OVERLOAD, RUNNING
from derate.terms.values import Curve, Value

# The current falls with a tail, and hot slower than printed: it may take half to twice the printed time.
# Common practice, no source.
FALLS = (0.5, 2.0)
LOCUS = Model(
    "current left at turn-off",
    lambda voltage, current, fall, capacitance: {"current": locus_current(voltage, current, fall, capacitance)},
    {"current": {"voltage": -1, "current": 1, "fall": 1, "capacitance": -1}},
    "text-book turn-off snubber",
    "peak × (1 − √(2 C V / (peak × fall time)))",
)


def solve_turn_off(context: Context, shape: Shape) -> None:
    """Write the current at turn-off and what the area allows, for a switch that is a bipolar transistor."""
    if shape.switch is None or not context.structure.must_be(shape.switch, "bipolar transistor"):
        return
    subject = part(shape.switch)
    area = context.need(subject, "rated.reverse_bias_area")
    for group in (RUNNING, OVERLOAD):
        voltages = [context.need(subject, "voltage_peak", at) for at in context.plan.cases(["voltage_peak"], [group])]
        voltage = next((row for row in voltages if not isinstance(row.value, Value)), voltages[-1])
        current = context.need(subject, "current_peak", context.plan.cases(["current_peak"], [group])[0])
        for case in context.plan.cases(["turn_off_current"], [group]):
            _at_case(context, shape, (area, voltage, current), case)


def _at_case(context: Context, shape: Shape, rows: tuple[Entry, Entry, Entry], case: Case) -> None:
    area, voltage, current = rows
    ledger, subject, curve, volts = context.ledger, voltage.subject, area.value, voltage.value
    inputs, rests = (area.number, voltage.number), area.rests_on | voltage.rests_on
    capacitance, fall, why = _across(context, shape)
    ledger.write(
        subject, "turn_off_current", current.value, case=case, missing=current.missing, known_by="computed",
        inputs=(current.number,), rests_on=current.rests_on, formula="the whole peak at the peak voltage",
        source="worst locus into a clamp, text-book", note=current.note or why,
    )  # fmt: skip
    missing, note = (*area.missing, *voltage.missing), voltage.note
    if not area.missing and not isinstance(curve, Curve):
        missing = (*missing, f"{subject}: rated.reverse_bias_area as a table of voltage and current")
    if not isinstance(curve, Curve) or not isinstance(volts, Value):
        ledger.hole(subject, "allowed.turn_off_current", missing, case=case, note=note, inputs=inputs, rests_on=rests)
        return
    if volts.high > curve.greatest:
        note = f"the area ends at {curve.greatest:.4g} V and the voltage reaches {volts.high:.4g} V"
        told = (f"{subject}: rated.reverse_bias_area at {volts.high:.4g} V",)
        ledger.hole(subject, "allowed.turn_off_current", told, case=case, note=note, inputs=inputs, rests_on=rests)
        return
    allowed, note = allowed_current(curve, volts), f"at {volts.far:.4g} V"
    if isinstance(capacitance, Entry) and isinstance(current.value, Value):
        allowed, reached = closest(curve, volts, current.value, fall, capacitance)
        note = f"where the falling current comes closest, above {reached:.4g} V"
        ledger.work_out(
            LOCUS, {"voltage": reached, "current": current, "fall": fall, "capacitance": capacitance},
            [(subject, "turn_off_current", "current")], case=case, note=f"with the capacitor across the switch, {note}",
        )  # fmt: skip
        rests |= capacitance.rests_on
    ledger.write(
        subject, "allowed.turn_off_current", allowed, case=case, known_by="computed", inputs=inputs, rests_on=rests,
        formula="between the currents of the two points beside the voltage", note=note, place=area.place,
        source="data sheet, reverse-bias operating area (RBSOA)",
    )  # fmt: skip


def allowed_current(area: Curve, voltage: Value) -> Value:
    """The current allowed at a voltage: at least that of the next point up, at most that of the one below."""
    low, near, far, high = voltage.numbers()
    least, greatest = _next(area, far), _last(area, near)
    ends = (_next(area, high).low, least.near, greatest.far, _last(area, low).high)
    return Value(min(ends), min(ends[1:]), max(ends[:3]), max(ends))


def _next(area: Curve, voltage: float) -> Value:
    """The current at the first point at or above a voltage."""
    return next((value for at, value in area.points if at >= voltage), area.points[-1][1])


def _last(area: Curve, voltage: float) -> Value:
    """The current at the last point at or below a voltage; below the first, that of the first."""
    return next((value for at, value in reversed(area.points) if at <= voltage), area.points[0][1])


def closest(
    area: Curve, voltage: Value, current: Value, fall: Value, capacitance: Entry
) -> tuple[Value, float]:  # fmt: skip
    """What is allowed where the falling current comes closest to the area, and the voltage that begins at.

    Between two points the current is greatest where the voltage enters and allowed is the lower end's: so the locus is
    held at zero and at each point below the peak, against the current of the point above it.
    """
    assert isinstance(capacitance.value, Value)
    found, worst = (Value.exact(0.0), 0.0), -1.0
    for begins in (0.0, *(at for at, _ in area.points if at < voltage.high)):
        left = locus_current(begins, current.high, fall.high, capacitance.value.low)
        above = next(value for at, value in area.points if at > begins or at == area.greatest)
        below = _last(area, begins)
        share = left / above.low if above.low > 0.0 else (float("inf") if left > 0.0 else 0.0)
        if share > worst:
            worst = share
            if begins > voltage.near:  # the voltage may not come so far: only the greatest current proves a fail
                below = area.points[0][1]
            ends = (min(above.low, below.low), min(above.near, below.near), max(above.far, below.far),
                    max(above.high, below.high))  # fmt: skip
            found = (Value(ends[0], max(ends[0], ends[1]), max(ends[1], ends[2]), max(ends)), begins)
    return found


def _across(context: Context, shape: Shape) -> tuple[Entry | None, Value, str]:
    """A bare capacitor across the switch and the fall time, where both are known; otherwise why it is left out."""
    none = Value.exact(0.0)
    if not context.structure.snubbers.get(shape.switch or ""):
        return None, none, ""
    capacitance = bare_capacitance(context, shape.switch)
    if capacitance is None:
        return None, none, "the snubber is not counted on: its resistor carries voltage from the first moment"
    fall = fall_time(context, part(shape.switch or "")).value
    if not isinstance(fall, Value) or not isinstance(capacitance.value, Value):
        return None, none, "the capacitor across the switch is not counted on without its value and rated.fall_time"
    low, near, far, high = fall.numbers()
    return capacitance, Value(low * FALLS[0], near * FALLS[0], far * FALLS[1], high * FALLS[1]), ""
