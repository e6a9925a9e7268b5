"""A stage whose input keeps no charge: it follows the rectified mains, half cycle by half cycle.

No valley and no time that it bridges; the output swings at twice the mains frequency by design. Line, rectifier and
mains current are worked out here, for nothing behind the plug is a rectifier with a bulk capacitor.
"""

from __future__ import annotations

from collections.abc import Sequence

from derate.circuit import buck
from derate.circuit.elementary import product, ratio, total
from derate.circuit.ladder import ladder
from derate.design.structure import Element, Group, MainsInput, leaves
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import LINE, Context, Inputs, carried, part, repeated
from derate.stress.mains.line import POWER, bulk_capacitance, hot, inductance_of, inductance_up_to
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
        (tuple(part(name) for name in parts.capacitors), "ripple_current", "capacitor_rms"),
    ]
    model = FOLLOWING.get(shape.key)
    for subjects, quantity, output in table:
        for group in (RUNNING, *((BROWN_OUT,) if quantity in ("current_rms", "mains_current") else ())):
            for case in context.plan.cases([quantity], [group]):
                _at(context, shape, model, subjects, quantity, output, case)
    _line(context, shape, model)
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


def following_frequencies(context: Context, shape: BuckShape) -> list[Entry]:
    """The slowest of its periods at each end of the mains, and the shortest: those of next to no voltage to drive it.

    There a period is little more than the on-time. Empty of a control with a clock.
    """
    model, found = FOLLOWING.get(shape.key), []
    if model is None or shape.mode != "boundary":
        return []
    for case in context.plan.cases(["power"], [RUNNING]):
        if case.mains is not None:
            inputs = inputs_at(context, shape, case.mains, case.frequency or 50.0)
            at = Case("converter", case.mains, case.frequency)
            found += [
                context.ledger.work_out(model, inputs, [(subject, "frequency", output)], case=at)[0]
                for subject, output in ((SUPPLY, "least_frequency"), (shape.switch, "most_frequency"))
            ]
    return found


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
    for one in subjects[1:]:
        repeated(context, first, case, one)


def _line(context: Context, shape: BuckShape, model: Model | None) -> None:
    """Rms and crest of the line, of what stands in series on it, and of the mains current of the supply."""
    sections = _sections(context, shape.parts.ladder)
    for k, (names, _) in enumerate(shape.parts.ladder):
        own = tuple(part(name) for name in names)
        rms, crest = ((LINE, *own), (LINE, *own)) if k == 0 else (own, own)
        table: list[tuple[tuple[Subject, ...], QuantityName, str]] = [
            (rms, "current_rms", "line_rms"),
            ((SUPPLY,) if k == 0 else (), "mains_current", "line_rms"),
            (crest, "current_peak", "line_peak"),
        ]
        for subjects, quantity, output in table:
            for group in (RUNNING, *(() if quantity == "current_peak" else (BROWN_OUT,))):
                for case in context.plan.cases([quantity], [group]):
                    _at(context, shape, model, subjects, quantity, output, case)
                    if subjects and case.mains is not None and model is not None:
                        first = _with_pulses(
                            context, shape, model, sections, context.need(subjects[0], quantity, case), k
                        )
                        for one in subjects[1:]:
                            repeated(context, first, case, one)


def _with_pulses(context: Context, shape: BuckShape, model: Model, sections: Inputs, mean: Entry, at: int) -> Entry:
    """The row of the line from what the stage draws, up to that with what its filter takes and lets through."""
    ledger, subject, quantity, case = context.ledger, mean.subject, mean.quantity, mean.case
    if not isinstance(mean.value, Value) or case is None or case.mains is None:
        return mean
    of = "peak" if quantity == "current_peak" else "rms"
    inputs = inputs_at(context, shape, case.mains, case.frequency or 50.0)
    standing = Case("converter", case.mains, case.frequency)
    slowest = ledger.work_out(model, inputs, [(LINE, "frequency", "least_frequency")], case=standing)[0]
    beside = [row for name, row in sections.items() if name.startswith("capacitance")][at:]
    inputs["capacitance"] = _added(context, subject, beside)
    drawn = ledger.work_out(model, inputs, [(subject, quantity, f"line_{of}")], case=case)[0]
    count = len(shape.parts.ladder)
    told = "the filter leaves" if count == 1 else f"{count} sections of a filter leave"
    # the netlists that are run have one capacitor, behind the rectifier
    seen = "ngspice 39" if count == 1 and not shape.parts.ahead else "impedances and to fixed steps, no netlist run"
    passed = Model.of(
        f"what {told} of the pulses",
        ladder(count, shape.parts.ahead, at),
        f"own derivation; held to {seen}",
        "mean over the pulses, and 2 × mean / (n² D) of each harmonic; D of a section is 2 pi f C x − 1 or 2 pi f C r",
    )
    given: Inputs = {of: drawn, "frequency": slowest, **sections}
    most = ledger.work_out(passed, given, [(subject, quantity, of)], case=case)[0]
    if not isinstance(most.value, Value):
        return most
    return hull(context, [mean, most], subject, quantity, case)


def _sections(context: Context, rungs: tuple[tuple[tuple[str, ...], Element], ...]) -> Inputs:
    """Inductance and resistance ahead of each capacitor since the last, from the mains on, and its capacitance."""
    found: Inputs = {}
    for k, (names, element) in enumerate(rungs, 1):
        held = part(next(leaves(element)).name)
        own = [row for name in names if (row := inductance_of(context, name)) is not None]
        found[f"inductance_{k}"] = inductance_up_to(context, held, names) if k == 1 else _added(context, held, own)
        if len(rungs) > 1:  # what states none has no less than nothing
            rows = [hot(context, name) for name in names if context.fact(part(name), "part.resistance") is not None]
            known = [row for row in rows if isinstance(row.value, Value)]
            found[f"resistance_{k}"] = _added(context, held, known)
        else:
            found["resistance_1"] = 0.0
        found[f"capacitance_{k}"] = bulk_capacitance(context, element)
    return found


def _added(context: Context, of: Subject, rows: Sequence[Entry | Value | float]) -> Entry | Value | float:
    """The sum of several rows of one dimension, as a row of a part; one of them is it by itself."""
    if len(rows) < 2:
        return rows[0] if rows else 0.0
    inputs: Inputs = {f"x{k}": row for k, row in enumerate(rows)}
    quantity = next(row.quantity for row in rows if isinstance(row, Entry))
    model = Model.of("sum ahead of a capacitor", total("sum", *inputs), "Kirchhoff")
    return context.ledger.work_out(model, inputs, [(of, quantity, "sum")], case=Case("converter"))[0]


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
