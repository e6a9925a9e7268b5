"""The period of a switch that drives itself: idle time, frequency at each mains and load, currents at full load.

`shape_of` hands the steps of a flyback a stage at the boundary whose frequency nothing caps. Those models know no idle
time; their power is therefore a range, from what is carried to what asks for the same peak without it, and what the
switch carries at full load is worked out here with the idle time itself.
"""

from __future__ import annotations

from derate.circuit import self_oscillating as physics
from derate.circuit.elementary import total
from derate.ledger.entry import SUPPLY, Case, Entry, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import Context, part, repeated
from derate.stress.mains.bulk_states import bulk_high, bulk_low
from derate.stress.parts.frequency import hold_frequency
from derate.terms.quantities import FULL_LOAD, HIGHEST_MAINS, LOWEST_MAINS, NO_LOAD, RUNNING, paired
from derate.terms.values import Value
from derate.topologies.flyback.operating import Inputs, controller_of, current_limit, limit_inputs, resistor_power
from derate.topologies.flyback.secondaries import worst_row
from derate.topologies.flyback.shape import PRIMARY, STANDING, FlybackShape, assumed
from derate.topologies.flyback.shape import shape_of as flyback_shape
from derate.topologies.self_oscillating.limits import solve_limits

SOURCE = "own derivation, energy and volt-seconds of one period; held to ngspice 39"
RING = Model.of("swing of the collector", physics.RING, SOURCE, "share × 2 π × √(inductance × capacitance)")
IDLE = Model.of("idle time", total("time", "swing", "turn_on"), "definition", "swing of the collector + turn-on")
CYCLE = Model.of(
    "one period of a switch that drives itself",
    physics.CYCLE,
    SOURCE,
    "P pace + √((P pace)² + 2 P idle / L), pace 1 / bulk + 1 / reflected; no less than bulk × delay / L",
)
EQUIVALENT = Model.of("power of the same peak without idle time", physics.EQUIVALENT, SOURCE, "peak / (2 pace)")
HIGHEST = Model.of(
    "frequency without load", physics.HIGHEST, SOURCE, "1 / (delay × (1 + bulk / reflected) + idle time)"
)
# The drive turns with the collector: from where it passes the bulk voltage to its valley.
SWING = Value.between(0.25, 0.5)
# What a driven switch takes until it conducts, and the current to fall: 0 to 1.2 us in ngspice 39 on netlists of one
# and two transistors. Common practice, no source.
TURN_ON = Value.between(0.0, 1.5e-6)


def shape_of(context: Context) -> FlybackShape:
    """The stage as the steps of a flyback see it; its limit and what is stored behind that stand in the ledger then."""
    shape = flyback_shape(context)._replace(boundary=True, cap=None)
    _idle(context, shape)
    solve_limits(context, shape)
    given = cycle_inputs(context, shape, bulk_high(context))
    case = Case("converter", load=FULL_LOAD)
    most = context.ledger.work_out(EQUIVALENT, given, [(PRIMARY, "power_carried", "power")], case=case)[0]
    stated = shape.frequency
    if stated is None:  # what columns of data sheets are read at, and how often a fault repeats
        wanted: list[Wanted] = [(SUPPLY, "frequency", "frequency")]
        stated = context.ledger.work_out(CYCLE, given, wanted, case=STANDING)[0]
    return shape._replace(carried=_up_to(context, shape.carried, most), frequency=stated)


def _up_to(context: Context, carried: Entry, most: Entry) -> Entry:
    """From the power carried to the one that asks for the same peak without idle time."""
    if not isinstance(carried.value, Value) or not isinstance(most.value, Value):
        return carried if not isinstance(carried.value, Value) else most
    low, near, far, high = carried.value.numbers()
    far = max(far, most.value.far)
    return context.ledger.write(
        PRIMARY,
        "power_carried",
        Value(low, near, far, max(high, far, most.value.high)),
        case=STANDING,
        known_by="computed",
        inputs=(carried.number, most.number),
        rests_on=carried.rests_on | most.rests_on,
        formula="from the power carried to that of the same peak without idle time",
        source=SOURCE,
    )


def _idle(context: Context, shape: FlybackShape) -> Entry:
    """Time from the end of the secondary's current to the next turn-on, as a standing row of the primary."""
    subject = part(shape.switch) if shape.switch is not None else PRIMARY
    drain = context.fact(subject, "part.output_capacitance") or assumed(
        context, "drain_capacitance", subject, "drain_capacitance", "part.output_capacitance"
    )
    swing: Inputs = {"inductance": shape.inductance, "capacitance": drain, "share": SWING}
    ring = context.ledger.work_out(RING, swing, [(PRIMARY, "collector_swing_time", "time")], case=STANDING)[0]
    inputs: Inputs = {"swing": ring, "turn_on": TURN_ON}
    return context.ledger.work_out(IDLE, inputs, [(PRIMARY, "idle_time", "time")], case=STANDING)[0]


def idle_of(context: Context) -> Entry:
    """The idle time as worked out."""
    return context.need(PRIMARY, "idle_time", STANDING)


def carried_of(context: Context) -> Entry:
    """The power carried, without what stands for the idle time."""
    return context.need(PRIMARY, "power_carried", Case(RUNNING, load=FULL_LOAD))


def cycle_inputs(context: Context, shape: FlybackShape, bulk: Entry) -> Inputs:
    """Inputs of one period at full load."""
    delay = limit_inputs(context, shape, current_limit(context, shape))["delay"]
    return {
        "bulk": bulk,
        "power": carried_of(context),
        "inductance": shape.inductance,
        "reflected": shape.reflected,
        "idle": idle_of(context),
        "delay": delay,
    }


def solve_period(context: Context, shape: FlybackShape) -> None:
    """Frequency at full load at both ends of the mains and without load; what switch and winding carry at full load."""
    ledger, plan = context.ledger, context.plan
    low = bulk_low(context, plan.cases(["voltage_min"], [RUNNING])[0])
    high = bulk_high(context)
    found: list[Entry] = []
    for case in plan.cases(["frequency"], [RUNNING]):
        lowest = case.mains is None or plan.mains is None or case.mains == plan.mains[0]
        inputs = cycle_inputs(context, shape, low if lowest else high)
        if case.load == NO_LOAD:
            given = {name: inputs[name] for name in ("bulk", "reflected", "delay", "idle")}
            note = "while it oscillates; between its bursts it rests"
            found += ledger.work_out(HIGHEST, given, [(SUPPLY, "frequency", "frequency")], case=case, note=note)
        else:
            found += ledger.work_out(CYCLE, inputs, [(SUPPLY, "frequency", "frequency")], case=case)
    hold_frequency(context, found)
    _added(context, shape, high)
    _at_full_load(context, shape, (low, high))


def _added(context: Context, shape: FlybackShape, high: Entry) -> None:
    """What flows more after the switch was told to open, at the highest mains."""
    if shape.switch is None:
        return
    wanted: list[Wanted] = [(part(shape.switch), "added_current", "added")]
    context.ledger.work_out(CYCLE, cycle_inputs(context, shape, high), wanted, case=STANDING)


def _at_full_load(context: Context, shape: FlybackShape, ends: tuple[Entry, Entry]) -> None:
    """Rows of whatever stands in series with the switch, its winding's but for the average excepted.

    At the lowest mains the load asks for the greatest peak, at the highest the delay adds most: the worse of both.
    """
    carriers: list[Subject] = [PRIMARY]
    if shape.primary is not None:
        carriers += [part(name) for step in shape.primary.path for name in step.names if "." not in name]
    controller = controller_of(context, shape)
    bears = {"duty": [PRIMARY, *([part(controller)] if controller is not None else [])]}
    columns = paired(("current_rms", "rms"), ("current_peak", "peak"), ("current_average", "average"), ("duty", "duty"))
    for quantity, output in columns:
        cases = context.plan.cases([quantity], [RUNNING])
        rows = [
            context.ledger.work_out(
                CYCLE, cycle_inputs(context, shape, bulk), [(PRIMARY, quantity, output)], case=Case(RUNNING, load=words)
            )[0]
            for words, bulk in zip((LOWEST_MAINS, HIGHEST_MAINS), ends, strict=True)
        ]
        for case in cases:
            row = worst_row(context, rows, PRIMARY, quantity, case, "the worse of lowest and highest mains")
            for one in bears.get(quantity, carriers)[1:]:
                repeated(context, row, case, one)
    resistor_power(context, shape)
