"""A stage whose input keeps no charge: it follows the rectified mains, half cycle by half cycle.

No valley and no time that it bridges; the output swings at twice the mains frequency by design. Line, rectifier and
mains current are worked out here, for nothing behind the plug is a rectifier with a bulk capacitor.
"""

from __future__ import annotations

from derate.circuit import buck
from derate.circuit.elementary import product, ratio, total
from derate.design.structure import Group, MainsInput, leaves
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import LINE, Context, Inputs, carried, part, repeated
from derate.stress.mains.line import POWER, bulk_capacitance, hot, inductance_ahead, inductance_of, inductance_up_to
from derate.stress.mains.surge import solve_surge
from derate.stress.mains.switch_on import solve_restarts, solve_switch_on
from derate.stress.parts.life import junction
from derate.stress.parts.ratings import EVENTS, allowed_current, allowed_surge
from derate.terms.quantities import BROWN_OUT, RUNNING, SURGE, each
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Value
from derate.topologies.buck.running import LOST, edge_and_node, far_of, hot_switch, hull, sense_power
from derate.topologies.buck.shape import SOURCE, STAGE, BuckShape, input_top, row_of

FOLLOWING = {
    key: Model.of(
        f"{'buck-boost' if key[1] else 'buck'} that follows the mains, {key[0]}",
        formula,
        SOURCE,
        "periods of one on-time over a half cycle of the rectified mains",
    )
    for key, formula in buck.FOLLOWING.items()
}
PASSED_ON = Model.of(
    "what the filter leaves of the pulses",
    buck.PASSED_ON,
    "own derivation; held to ngspice 39",
    "mean over the pulses, and 2 × mean / ((2 pi f)² L C n² − 1) of each harmonic",
)
PASSED_ON_BY_TWO = Model.of(
    "what two capacitors and the choke between leave of the pulses",
    buck.PASSED_ON_BY_TWO,
    "own derivation",
    "mean over the pulses, and 2 × mean / (n² D) of each harmonic; D = (a − 1) (b − 1) − a r, or b − 1",
)
SLOW = Model.of(
    "ripple at twice the mains frequency",
    ratio("voltage", "charge", "capacitance"),
    "definition",
    "charge / capacitance",
)
SHARE = Model.of("share of ripple", ratio("share", "ripple", "output"), "definition", "ripple / output")
AVERAGE = Model.of("mean of a half of a bridge", product("current", "whole", "share"), "Kirchhoff", "mean / 2")


def inputs_at(context: Context, shape: BuckShape, mains: float, line: float) -> Inputs:
    """Inputs of the model at an end of mains and frequency."""
    found: Inputs = {**shape.given(), "current": shape.current, "mains": mains, "line_frequency": line}
    if shape.mode == "fixed frequency":
        found["frequency"] = shape.frequency
    return found


def solve_following(context: Context, shape: BuckShape) -> None:
    """Every part of the stage and of the line, at both ends of the mains."""
    parts = shape.parts
    inlet = context.structure.own_inlet
    series = tuple(part(name) for name in (*inlet.series, *_behind(context))) if inlet is not None else ()
    diodes = tuple(part(name) for name in parts.diodes)
    table: list[tuple[tuple[Subject, ...], QuantityName, str]] = [
        ((shape.inductor, *(part(name) for name in parts.beside)), "current_rms", "inductor_rms"),
        ((shape.inductor, shape.switch, *diodes), "current_peak", "peak"),
        ((shape.inductor,), "current_swing", "peak"),
        ((shape.switch, *(part(name) for name in parts.sensed)), "current_rms", "switch_rms"),
        ((shape.switch,), "current_average", "switch_average"),
        (diodes, "current_rms", "diode_rms"),
        (diodes, "current_average", "diode_average"),
        ((LINE, *series), "current_rms", "line_rms"),
        ((SUPPLY,), "mains_current", "line_rms"),
        ((LINE, *series), "current_peak", "line_peak"),
        (tuple(part(name) for name in parts.capacitors), "ripple_current", "capacitor_rms"),
    ]
    model = FOLLOWING.get(shape.key)
    for subjects, quantity, output in table:
        for group in (RUNNING, *((BROWN_OUT,) if quantity in ("current_rms", "mains_current") else ())):
            for case in context.plan.cases([quantity], [group]):
                _at(context, shape, model, subjects, quantity, output, case)
    sense_power(context, (*parts.sensed, *parts.beside))
    _rectifier(context, shape, model)
    _slow(context, shape, model)
    for subject in series:
        for group in (RUNNING, BROWN_OUT):
            for case in context.plan.cases(["power"], [group]):
                current = context.fact(subject, "current_rms", case)
                if current is not None:
                    inputs: Inputs = {"resistance": hot(context, subject.names[0]), "current": current}
                    context.ledger.work_out(POWER, inputs, [(subject, "power", "power")], case=case)


def as_charged(context: Context, shape: BuckShape) -> MainsInput | None:
    """The line as one that charges its film capacitor, so that the formulas of a charging current hold for it."""
    inlet, parts = context.structure.own_inlet, shape.parts
    if inlet is None or not parts.filtering:
        return None
    held = parts.filtering[0] if len(parts.filtering) == 1 else Group("parallel", parts.filtering)
    return inlet._replace(rectifier=parts.rectifier, input=parts.rectified, behind=_behind(context), bulk=(held,))


def following_events(context: Context, shape: BuckShape) -> None:
    """Plug-in, restart and surge of an input that keeps next to nothing: a surge lifts its switch as well."""
    path = as_charged(context, shape)
    if path is None:
        return
    solve_switch_on(context, path)
    solve_restarts(context, path)
    solve_surge(context, path)
    for name in shape.parts.rectifier:
        for event in EVENTS:
            allowed_surge(context, name, event)
    first = next(leaf.name for leaf in leaves(path.bulk[0]))
    for case in context.plan.cases(["voltage_surge"], [SURGE]):
        row = context.need(part(first), "voltage_surge", case)
        carried(context, row, case, shape.switch)
    for element in shape.parts.filtering:
        for leaf in leaves(element):
            for case in context.plan.cases(["voltage_peak"], [RUNNING]):
                row_of(context, part(leaf.name), "voltage_peak", input_top(context), case)


def following_losses(context: Context, shape: BuckShape) -> None:
    """Loss and junction of the switch by its greatest peak and the crest, over the mean of its periods."""
    model = FOLLOWING.get(shape.key)
    parts, worst = shape.parts, None
    if model is None:
        return
    resistance = hot_switch(context, shape)
    edge, node = edge_and_node(context, shape)
    for case in context.plan.cases(["power"], [RUNNING]):
        if case.mains is None:
            continue
        inputs = inputs_at(context, shape, case.mains, case.frequency or 50.0)
        frequency = context.ledger.work_out(
            model, inputs, [(STAGE, "frequency", "frequency")], case=Case("converter", case.mains, case.frequency)
        )[0]
        given: Inputs = {
            "rms": context.need(shape.switch, "current_rms", case),
            "peak": context.need(shape.switch, "current_peak", case),
            "resistance": resistance,
            "bulk": Value(0.5 * case.mains, 0.5 * case.mains, 2**0.5 * case.mains, 2**0.5 * case.mains),
            "valley": 0.0,
            "edge": edge,
            "frequency": frequency,
            "capacitance": node,
            "recovery": 0.0,
        }
        row = context.ledger.work_out(LOST, given, [(shape.switch, "power", "power")], case=case)[0]
        if worst is None or far_of(row) > far_of(worst):
            worst = row
    if worst is not None:
        junction(context, parts.chopper, worst)


def _behind(context: Context) -> tuple[str, ...]:
    """Series parts behind the rectifier."""
    inlet = context.structure.own_inlet
    ahead = inlet.series if inlet is not None else ()
    places = context.structure.places
    return tuple(name for name, place in places.items() if place == "mains series" and name not in ahead)


def _at(
    context: Context,
    shape: BuckShape,
    model: Model | None,
    subjects: tuple[Subject, ...],
    quantity: QuantityName,
    output: str,
    case: Case,
) -> None:
    if not subjects:
        return
    if case.mains is None or model is None:
        why = "" if model is not None else "an input without bulk capacitor under a control that skips pulses"
        for one in subjects:
            context.ledger.hole(one, quantity, context.plan.lacking(case.group), case=case, note=why)
        return
    inputs = inputs_at(context, shape, case.mains, case.frequency or 50.0)
    first = context.ledger.work_out(model, inputs, [(subjects[0], quantity, output)], case=case)[0]
    if output in ("line_rms", "line_peak"):
        first = _with_pulses(context, shape, model, inputs, first, case)
    for one in subjects[1:]:
        repeated(context, first, case, one)


def _with_pulses(context: Context, shape: BuckShape, model: Model, inputs: Inputs, mean: Entry, case: Case) -> Entry:
    """The row of the line from what the mean over the pulses comes to, up to that with what its filter lets through.

    Without a capacitor behind the rectifier the line carries the pulses as they are.
    """
    ledger, subject, quantity = context.ledger, mean.subject, mean.quantity
    if not isinstance(mean.value, Value):
        return mean
    of = "peak" if quantity == "current_peak" else "rms"
    filters = _filter(context, shape)
    if filters is None:
        whole = "peak" if of == "peak" else "switch_rms"
        most = ledger.work_out(model, inputs, [(subject, quantity, whole)], case=case)[0]
    else:
        at = Case("converter", case.mains, case.frequency)
        slowest = ledger.work_out(model, inputs, [(LINE, "frequency", "least_frequency")], case=at)[0]
        given: Inputs = {"rms": 0.0, "peak": 0.0, of: mean}
        given |= {"frequency": slowest, **filters}
        passed = PASSED_ON_BY_TWO if "line_capacitance" in filters else PASSED_ON
        most = ledger.work_out(passed, given, [(subject, quantity, of)], case=case)[0]
    if not isinstance(most.value, Value):
        return most
    return hull(context, [mean, most], subject, quantity, case)


def _filter(context: Context, shape: BuckShape) -> Inputs | None:
    """Inductance and capacitance that keep the pulses from the line; None without a capacitor.

    With a choke between two capacitors it and the last count, and what the outer one makes of it: with little ahead it
    rings with the pulses. With a resistor between them the last alone counts, and all that lies ahead.
    """
    inlet, path, filtering = context.structure.own_inlet, as_charged(context, shape), shape.parts.filtering
    if path is None or inlet is None:
        return None
    ahead, behind = inductance_ahead(context, path), _behind(context)
    if len(filtering) == 1 or not behind:
        return {"inductance": ahead, "capacitance": bulk_capacitance(context, path.bulk[0])}
    own = [context.fact(part(name), "line_inductance") or inductance_of(context, name) for name in behind]
    between, last = next((one for one in reversed(own) if one is not None), None), filtering[-1]
    if between is None:
        return {"inductance": ahead, "capacitance": bulk_capacitance(context, last)}
    outer = filtering[0] if len(filtering) == 2 else Group("parallel", filtering[:-1])
    return {
        "inductance": between,
        "capacitance": bulk_capacitance(context, last),
        "line_inductance": inductance_up_to(context, part(next(leaves(outer)).name), inlet.series),
        "line_capacitance": bulk_capacitance(context, outer),
    }


def _rectifier(context: Context, shape: BuckShape, model: Model | None) -> None:
    """Each diode of a bridge carries half of the mean, and blocks the crest of the highest mains."""
    names = shape.parts.rectifier
    for name in names:
        allowed_current(context, name)
        for case in context.plan.cases(["current_average"], [RUNNING]):
            _at(context, shape, model, (part(name),), "current_average", "line_average", case)
            row = context.ledger.find(part(name), "current_average", case)
            if row is not None and isinstance(row.value, Value):  # a diode of a bridge carries every other half cycle
                inputs: Inputs = {"whole": row, "share": 0.5}
                context.ledger.work_out(AVERAGE, inputs, [(part(name), "current_average", "current")], case=case)
        for case in context.plan.cases(["reverse_voltage"], [RUNNING]):
            row_of(context, part(name), "reverse_voltage", input_top(context), case)


def _slow(context: Context, shape: BuckShape, model: Model | None) -> None:
    """What the output swings at twice the mains frequency, and that over its voltage: flicker, and by design."""
    names = shape.parts.capacitors
    for case in context.plan.cases(["ripple_slow"], [RUNNING]):
        if not names or model is None or case.mains is None:
            missing = context.plan.lacking(RUNNING) if names else (OpenFact(shape.output, "its capacitor on the path"),)
            for quantity in each("ripple_slow", "ripple_share"):
                context.ledger.hole(shape.output, quantity, missing, case=case)
            continue
        inputs = inputs_at(context, shape, case.mains, case.frequency or 50.0)
        charge = context.ledger.work_out(
            model,
            inputs,
            [(shape.output, "output_charge", "charge")],
            case=Case("converter", case.mains, case.frequency),
        )[0]
        held = [context.need(part(name), "part.capacitance") for name in names]
        least = held[0] if len(held) == 1 else _sum(context, shape.output, held)
        wanted: list[Wanted] = [(shape.output, "ripple_slow", "voltage")]
        slow = context.ledger.work_out(SLOW, {"charge": charge, "capacitance": least}, wanted, case=case)[0]
        context.ledger.work_out(
            SHARE, {"ripple": slow, "output": shape.voltage}, [(shape.output, "ripple_share", "share")], case=case
        )


def _sum(context: Context, output: Subject, rows: list[Entry]) -> Entry:
    inputs: Inputs = {f"c{k}": row for k, row in enumerate(rows)}
    model = Model.of("capacitances across the output", total("sum", *inputs), "Kirchhoff")
    return context.ledger.work_out(model, inputs, [(output, "output_capacitance", "sum")], case=Case("converter"))[0]
