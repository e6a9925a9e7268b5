"""Losses of the switch, MOSFET or bipolar, and the turn-off of a bipolar one against its reverse-bias area."""

from __future__ import annotations

import math

from derate.circuit import thermal as turn_off
from derate.circuit.elementary import ratio, total
from derate.circuit.flyback import mosfet_loss, point_of
from derate.circuit.thermal import TURN_OFF_ERROR, capacitive_loss, fall_loss, hot_channel, locus_current
from derate.ledger.entry import Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import Context, curve_at, part
from derate.stress.mains.bulk_states import bulk_high, bulk_low
from derate.stress.parts.ratings import read_between
from derate.terms.quantities import HIGHEST_MAINS, LOWEST_MAINS, OVERLOAD, RUNNING
from derate.terms.values import Curve, Value, written
from derate.topologies.flyback.circuit import parts_of
from derate.topologies.flyback.operating import Inputs, base_inputs
from derate.topologies.flyback.rectifiers import bare_capacitance
from derate.topologies.flyback.secondaries import worst_row
from derate.topologies.flyback.shape import STANDING, FlybackShape, assumed

# Loss of a bipolar switch at full load, and whether its base current holds it in saturation at its peak.
#
# Saturation voltage and fall time are the data sheet's and needed; what the base takes is a range of the packs where
# nobody measured it. Capacitance at the collector takes part of the falling current, so it is counted on where it is
# stated; a snubber with a resistor is not.


# Share of the data sheet's saturation voltage that is really there: the sheet prints a greatest figure, its own curves
# lie at a third to a fifth of it (13003 types); just after turn-on the drop is above it. Common practice, no source.
SATURATION = Value.between(0.2, 1.5)
# The drain of a discontinuous or boundary stage is discharged from anywhere between its valley and its plateau.
VALLEY = Value.between(0.0, 1.3)
# Inside a range in which a boundary control meets its highest frequency the loss is up to 3.7 % above that at both ends
# (16,000 random ranges up to 1.6 wide, tests/stress/test_bipolar_switch.py).
INSIDE = (0.0, 0.06)
# How long the fall takes against the printed time, the rise of the voltage with it; argued beside the formula.
FALL = Value.between(1.0 + TURN_OFF_ERROR["fall_loss"][0], 1.0 + TURN_OFF_ERROR["fall_loss"][1])


def loss_model(boundary: bool, driven: bool) -> Model:
    """Loss of a bipolar switch at a load; driven: the base current itself is given, not the forced gain."""
    point = point_of(boundary)

    def solve(
        *,
        bulk: float,
        power: float,
        inductance: float,
        reflected: float,
        top: float,
        saturation: float,
        drop: float,
        base_emitter: float,
        drive: float,
        capacitance: float,
        held: float,
        fall: float,
        valley: float,
        crossing: float,
        frequency: float = math.inf,
    ) -> dict[str, float]:
        at = point(bulk=bulk, power=power, inductance=inductance, reflected=reflected, frequency=frequency)
        base = drive if driven else at.peak / drive
        on = saturation * drop * at.average + base_emitter * base * at.duty
        empty = capacitive_loss(capacitance, bulk, reflected, at.frequency, "continuous").high
        return {"power": on + valley * empty + fall_loss(top, at.peak, crossing * fall, at.frequency, held)}

    signs = {
        "bulk": 0,
        "power": 0,
        "inductance": 0,
        "reflected": 0,
        "frequency": 0,
        "top": 1,
        "saturation": 1,
        "drop": 1,
        "base_emitter": 1,
        "drive": 1 if driven else -1,
        "capacitance": 1,
        "held": -1,
        "fall": 1,
        "valley": 1,
        "crossing": 1,
    }
    return Model(
        "losses of a bipolar switch",
        solve,
        {"power": signs},
        "own derivation; bands by 13003 and 13005 data sheets",
        "saturation voltage × average + base drive × duty + C V² f / 2 + V I t f / 2, less what C takes",
        {"power": INSIDE},
    )


def bipolar_power(context: Context, shape: FlybackShape) -> Entry:
    """Loss of the switch at full load, the worse of lowest and highest mains."""
    assert shape.switch is not None
    subject, ledger = part(shape.switch), context.ledger
    cases = context.plan.cases(["power"], [RUNNING])
    peak = context.need(subject, "current_peak", context.plan.cases(["current_peak"], [RUNNING])[0])
    base = context.fact(subject, "part.base_current")
    _gain(context, subject, peak, base)
    node = context.fact(subject, "part.output_capacitance") or assumed(
        context, "drain_capacitance", subject, "drain_capacitance", "part.output_capacitance"
    )
    more: Inputs = {
        "saturation": saturation_voltage(context, subject, peak),
        "drop": SATURATION,
        "base_emitter": context.fact(subject, "rated.base_emitter_voltage")
        or assumed(context, "base_emitter_drop", subject, "forward_drop", "rated.base_emitter_voltage"),
        "drive": base or assumed(context, "forced_gain", subject, "forced_gain", "part.base_current"),
        "capacitance": with_bare(context, subject, shape, node),
        "held": _stated_capacitance(context, subject, shape),
        "fall": fall_time(context, subject),
        "valley": VALLEY,
        "crossing": FALL,
    }
    low = bulk_low(context, context.plan.cases(["voltage_min"], [RUNNING])[0])
    model = loss_model(shape.boundary, base is not None)
    rows: list[Entry] = []
    for words, bulk in ((LOWEST_MAINS, low), (HIGHEST_MAINS, bulk_high(context))):
        case = Case(RUNNING, load=words)
        top = context.need(subject, "voltage_peak", case)
        inputs = {**base_inputs(shape, bulk), **more, "top": top}
        rows += ledger.work_out(model, inputs, [(subject, "power", "power")], case=case)
    note = "the worse of lowest and highest mains"
    return [worst_row(context, rows, subject, "power", case, note) for case in cases][-1]


def saturation_voltage(context: Context, subject: Subject, peak: Entry) -> Entry:
    """Saturation voltage of the sheet at the peak current, as a standing row; below its first point that one holds."""
    return read_between(context, subject, "rated.saturation_voltage", peak, "saturation_voltage", STANDING)


def fall_time(context: Context, subject: Subject) -> Entry:
    """Fall time of the collector current, as the sheet says it."""
    stated = context.need(subject, "rated.fall_time")
    if isinstance(stated.value, Curve):  # at a current: the longest of them
        points = [value for _, value in stated.value.points]
        value = Value(*(max(column) for column in zip(*(one.numbers() for one in points), strict=True)))
        return context.ledger.write(
            subject,
            "rated.fall_time",
            value,
            case=STANDING,
            known_by=stated.known_by,
            inputs=(stated.number,),
            rests_on=stated.rests_on,
            place=stated.place,
            formula="the longest of the table",
            source="data sheet",
        )
    return stated


def _stated_capacitance(context: Context, subject: Subject, shape: FlybackShape) -> Entry | Value:
    """What takes the current as it falls, and so lowers the loss: only what is stated."""
    node = context.fact(subject, "part.output_capacitance")
    found = with_bare(context, subject, shape, node if node is not None else 0.0)
    return found if isinstance(found, Entry) and isinstance(found.value, Value) else Value.exact(0.0)


def with_bare(context: Context, subject: Subject, shape: FlybackShape, node: Entry | float) -> Entry | float:
    """The node's capacitance, and that of a capacitor bare across the switch: nothing else takes its charge."""
    bare = bare_capacitance(context, shape.switch)
    if bare is None:
        return node
    inputs: Inputs = {"node": node, "bare": bare}
    return context.ledger.work_out(TOGETHER, inputs, [(subject, "output_capacitance", "sum")], case=STANDING)[0]


TOGETHER = Model.of(
    "capacitance the switch discharges", total("sum", "node", "bare"), "Kirchhoff", "node + capacitor across the switch"
)
FORCED = Model.of("forced gain", ratio("gain", "peak", "base"), "definition", "peak collector current / base current")


def _gain(context: Context, subject: Subject, peak: Entry, base: Entry | None) -> None:
    """Forced gain at the peak, and the gain the sheet promises there."""
    for case in context.plan.cases(["forced_gain"], [RUNNING]):
        if base is None:
            context.ledger.hole(subject, "forced_gain", (OpenFact(subject, "part.base_current"),), case=case)
        else:
            outputs: list[Wanted] = [(subject, "forced_gain", "gain")]
            context.ledger.work_out(FORCED, {"peak": peak, "base": base}, outputs, case=case)
        read_between(context, subject, "rated.gain", peak, "allowed.gain", case)


# Loss of the switch at full load, at both ends of the mains: conduction, capacitance, crossover.
#
# A bipolar switch has a module of its own, `bipolar_loss`.


HOT = 125.0  # junction temperature at which the on-resistance is taken: a rule keeps it below [degC]
HOT_CHANNEL = Model.of(
    "on-resistance of the hot switch",
    hot_channel(HOT),
    "geometric between 25 and 150 degC",
    f"resistance at 25 degC × ratio^((T − 25) / 125), at {HOT:.0f} degC",
)


def mosfet_loss_model(boundary: bool) -> Model:
    """Loss of the switch at a load."""
    return Model.of(
        "losses of the switch",
        mosfet_loss(boundary),
        "own derivation; drain capacitance discharged from bulk plus reflected voltage, which reads high",
        f"rms² × on-resistance at {HOT:.0f} degC + C V² f / 2 + V I t f / 2",
    )


def _hot(context: Context, subject: Subject) -> Entry:
    """On-resistance at the hot junction: of the maker's table where it reaches so far, else by a ratio packs assume."""
    stated = context.need(subject, "rated.on_resistance")
    curve = stated.value
    ledger = context.ledger
    if isinstance(curve, Curve):
        read = curve_at(curve, HOT) if len(curve.points) > 1 else None
        stated = ledger.write(
            subject,
            "hot_resistance",
            read or curve.points[0][1],
            case=STANDING,
            known_by=stated.known_by,
            inputs=(stated.number,),
            rests_on=stated.rests_on,
            formula=f"read at {HOT if read else curve.least:.0f} degC",
            source="data sheet",
            place=stated.place,
        )
        if read is not None:
            return stated
    ratio = assumed(context, "on_resistance_ratio", subject, "on_resistance_ratio", "rated.on_resistance at 150 degC")
    return ledger.work_out(
        HOT_CHANNEL, {"at_25": stated, "ratio": ratio}, [(subject, "hot_resistance", "resistance")], case=STANDING
    )[0]


def switch_power(context: Context, shape: FlybackShape) -> Entry:
    """Loss of the switch at full load, the worse of lowest and highest mains; a hole for what is not covered."""
    assert shape.switch is not None
    subject, ledger = part(shape.switch), context.ledger
    cases = context.plan.cases(["power"], [RUNNING])
    if context.structure.must_be(shape.switch, "bipolar transistor"):
        return bipolar_power(context, shape)
    capacitance = context.fact(subject, "part.output_capacitance") or assumed(
        context, "drain_capacitance", subject, "drain_capacitance", "part.output_capacitance"
    )
    edge = context.fact(subject, "part.switching_time") or assumed(
        context, "switching_edge", subject, "switching_edge", "part.switching_time"
    )
    whole = with_bare(context, subject, shape, capacitance)
    more: Inputs = {"hot": _hot(context, subject), "capacitance": whole, "edge": edge}
    low = bulk_low(context, context.plan.cases(["voltage_min"], [RUNNING])[0])
    model = mosfet_loss_model(shape.boundary)
    rows: list[Entry] = []
    for words, bulk in ((LOWEST_MAINS, low), (HIGHEST_MAINS, bulk_high(context))):
        wanted: list[Wanted] = [(subject, "power", "power")]
        rows += ledger.work_out(model, {**base_inputs(shape, bulk), **more}, wanted, case=Case(RUNNING, load=words))
    note = "the worse of lowest and highest mains"
    return [worst_row(context, rows, subject, "power", case, note) for case in cases][-1]


# Turn-off of a bipolar switch against its reverse-bias safe operating area, running and at the current limit.
#
# The locus is taken at its worst: the whole peak current while the voltage is already at its peak. Between two points
# of the table the true edge lies somewhere between their currents: the lower one is what can be counted on, the
# higher one what a fail is held to. Above the last point nothing is known.
#
# A capacitor bare across the switch lets the current fall before the voltage has risen. It is counted on where its
# capacitance and the fall time are stated: then every point of the falling locus is held to the table. A snubber with
# a resistor is not: the resistor carries its share of the voltage from the first moment.


# The current falls with a tail, and hot slower than printed: it may take half to twice the printed time.
# Common practice, no source.
FALLS = (0.5, 2.0)
LOCUS = Model.of(
    "current left at turn-off",
    turn_off.LOCUS,
    "own derivation of the turn-off snubber",
    "peak × (1 − √(2 C V / (peak × fall time)))",
)


def solve_turn_off(context: Context, shape: FlybackShape) -> None:
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


def _at_case(context: Context, shape: FlybackShape, rows: tuple[Entry, Entry, Entry], case: Case) -> None:
    area, voltage, current = rows
    ledger, subject, curve, volts = context.ledger, voltage.subject, area.value, voltage.value
    inputs, rests = (area.number, voltage.number), area.rests_on | voltage.rests_on
    capacitance, fall, why = _across(context, shape)
    ledger.write(
        subject,
        "turn_off_current",
        current.value,
        case=case,
        missing=current.missing,
        known_by="computed",
        inputs=(current.number,),
        rests_on=current.rests_on,
        formula="the whole peak at the peak voltage",
        source="own derivation, worst locus into a clamp",
        note=current.note or why,
    )
    missing, note = (*area.missing, *voltage.missing), voltage.note
    if not area.missing and not isinstance(curve, Curve):
        missing = (*missing, OpenFact(subject, "rated.reverse_bias_area", "as a table of voltage and current"))
    if not isinstance(curve, Curve) or not isinstance(volts, Value):
        ledger.hole(subject, "allowed.turn_off_current", missing, case=case, note=note, inputs=inputs, rests_on=rests)
        return
    if volts.high > curve.greatest:
        note = f"the area ends at {written(curve.greatest, 4)} V and the voltage reaches {written(volts.high, 4)} V"
        told = (OpenFact(subject, "rated.reverse_bias_area", f"at {written(volts.high, 4)} V"),)
        ledger.hole(subject, "allowed.turn_off_current", told, case=case, note=note, inputs=inputs, rests_on=rests)
        return
    allowed, note = allowed_current(curve, volts), f"at {written(volts.far, 4)} V"
    if isinstance(capacitance, Entry) and isinstance(current.value, Value):
        allowed, reached = closest(curve, volts, current.value, fall, capacitance)
        note = f"where the falling current comes closest, above {written(reached, 4)} V"
        ledger.work_out(
            LOCUS,
            {"voltage": reached, "current": current, "fall": fall, "capacitance": capacitance},
            [(subject, "turn_off_current", "current")],
            case=case,
            note=f"with the capacitor across the switch, {note}",
        )
        rests |= capacitance.rests_on
    ledger.write(
        subject,
        "allowed.turn_off_current",
        allowed,
        case=case,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula="between the currents of the two points beside the voltage",
        note=note,
        place=area.place,
        source="data sheet, reverse-bias operating area (RBSOA)",
    )


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


def closest(area: Curve, voltage: Value, current: Value, fall: Value, capacitance: Entry) -> tuple[Value, float]:
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
            ends = (
                min(above.low, below.low),
                min(above.near, below.near),
                max(above.far, below.far),
                max(above.high, below.high),
            )
            found = (Value(ends[0], max(ends[0], ends[1]), max(ends[1], ends[2]), max(ends)), begins)
    return found


def _across(context: Context, shape: FlybackShape) -> tuple[Entry | None, Value, str]:
    """A bare capacitor across the switch and the fall time, where both are known; otherwise why it is left out."""
    none = Value.exact(0.0)
    if not parts_of(context.structure).snubbers.get(shape.switch or ""):
        return None, none, ""
    capacitance = bare_capacitance(context, shape.switch)
    if capacitance is None:
        return None, none, "the snubber is not counted on: its resistor carries voltage from the first moment"
    fall = fall_time(context, part(shape.switch or "")).value
    if not isinstance(fall, Value) or not isinstance(capacitance.value, Value):
        return None, none, "the capacitor across the switch is not counted on without its value and the rated fall_time"
    low, near, far, high = fall.numbers()
    return capacitance, Value(low * FALLS[0], near * FALLS[0], far * FALLS[1], high * FALLS[1]), ""
