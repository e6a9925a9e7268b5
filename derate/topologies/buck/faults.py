"""What becomes of the output once its load, its feedback or its switch has failed; the list of single faults.

Of a buck a shorted switch puts the whole bulk on the output, of a buck-boost the bulk across the inductor alone. What
lies across the output bears that, or a clamp there fails short and something in the mains path has to open.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import inf
from typing import Literal

from derate.circuit import buck
from derate.circuit.converter_faults import ForTheBench, NothingFlows, WorkedOut
from derate.ledger.entry import Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model
from derate.stress.context import Context, part, summed
from derate.stress.faults.converter import Faults, Listed, SingleFault, said
from derate.stress.faults.rows import opens, protective_parts
from derate.stress.parts.windings import STANDING
from derate.terms.quantities import RUNNING
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Value, written
from derate.terms.words import RESISTORS
from derate.topologies.buck.shape import BuckShape, controller_of, input_top, row_of, shape_of

LEFT = Model.of(
    "current of the mains into a short behind the rectifier",
    buck.INTO_A_SHORT,
    "Ohm's law on the rectified mains; an inductor no longer limits what is not switched",
    "mains / resistance of all that is left in the path",
)


Stop = Literal["none", "may be blind", "sees it"]


def held_at(context: Context, shape: BuckShape, top: Entry, stop: Stop) -> tuple[Value | None, str, tuple[Entry, ...]]:
    """The voltage an output climbs to that nothing regulates [V], in words by what, and the rows it rests on.

    A clamp across it, or by `stop` a controller that stops, hold it below the bulk; it may be less by a clamp of which
    nobody knows the voltage, or by a controller that may be blind to the output. None: not known, or nothing.
    """
    rows: list[Entry] = []
    values: list[tuple[Value, str]] = []
    perhaps: list[tuple[Value, str]] = []
    for name in shape.parts.clamps:
        row = _breakdown(context, name)
        rows.append(row)
        if isinstance(row.value, Value):
            values.append((row.value, f"{name} clamps it until it is too hot and shorts"))
        else:
            perhaps.append((Value.exact(0.0), f"less where {name} breaks down earlier"))
    controller = controller_of(context, shape.parts)
    stated = context.fact(part(controller), "part.open_load_stop") if controller and stop != "none" else None
    if stated is not None and isinstance(stated.value, Value):
        rows.append(stated)
        if stop == "sees it":
            values.append((stated.value, f"{controller} stops"))
        else:
            perhaps.append((stated.value, f"less where {controller} sees the output by another way and stops"))
    if not shape.inverting and isinstance(top.value, Value):
        rows.append(top)
        values.append((top.value, "the whole bulk lies on it"))
    elif not shape.inverting and not values:
        return None, top.note, (top,)
    hole = next((row for row in rows if not isinstance(row.value, Value)), None)
    if not values and (hole is not None or not perhaps):
        return None, "nothing ends its climb", tuple(rows)
    value, why = min(values, key=lambda one: one[0].far) if values else (Value.exact(inf), "nothing ends its climb")
    for least, words in perhaps:
        if least.near < value.near:
            value = Value(min(least.low, value.low), least.near, value.far, value.high)
            why = f"{why}; {words}"
    return value, why, tuple(rows)


def _breakdown(context: Context, name: str) -> Entry:
    """Voltage of a clamp with its tolerance; an exact one with the spread of its kind."""
    stated = context.need(part(name), "part.voltage")
    if not isinstance(stated.value, Value) or not stated.value.is_exact:
        return stated
    v = stated.value.near
    return context.ledger.write(
        part(name),
        "clamp_voltage",
        Value.between(0.9 * v, 1.2 * v),
        case=STANDING,
        known_by="computed",
        inputs=(stated.number,),
        rests_on=stated.rests_on,
        formula="from a tenth below to a fifth above, by kind, current and heat",
        source="common practice, no source",
    )


def solve_lost(context: Context, shape: BuckShape, top: Entry) -> None:
    """Both voltages of every capacitor across an output that is lost, and what becomes of a shorted switch."""
    context.ledger.write(
        shape.output,
        "output.load",
        Category.of("LEDs" if shape.lamp else "other"),
        known_by="computed",
        formula="whether LEDs lie across it",
        source="the circuit",
    )
    for name in shape.parts.lights:
        for case in context.plan.cases(["current_average"], [RUNNING]):
            row_of(context, part(name), "current_average", shape.current, case)
    senses = set(context.structure.control.senses)
    # LEDs are driven by a current: what senses them holds no voltage once they are gone
    regulated = not shape.lamp and (bool(shape.parts.feedback) or shape.parts.output in senses)
    for case in context.plan.cases(["voltage_load_open"], [RUNNING]):
        for name in shape.parts.capacitors:
            subject = part(name)
            if regulated:
                row_of(context, subject, "voltage_load_open", shape.voltage, case)
            else:
                _write(context, subject, "voltage_load_open", held_at(context, shape, top, "sees it"), case)
            # what senses the output for the stop may be the very path that is open
            stop: Stop = "may be blind" if shape.parts.feedback else "sees it"
            _write(context, subject, "voltage_feedback_open", held_at(context, shape, top, stop), case)
    _switch_short(context, shape, top)


def _write(
    context: Context,
    subject: Subject,
    quantity: QuantityName,
    found: tuple[Value | None, str, tuple[Entry, ...]],
    case: Case,
) -> None:
    value, why, rows = found
    hole = next((row for row in rows if row.value is None), None)
    if value is None and hole is not None:
        context.ledger.hole(subject, quantity, hole.missing, case=case, note=hole.note)
        return
    context.ledger.write(
        subject,
        quantity,
        value if value is not None else Value.exact(inf),
        case=case,
        known_by="computed",
        inputs=tuple(row.number for row in rows),
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula="what holds the output first",
        source="the circuit",
        note=why,
    )


BORNE, OPENED, UNSHOWN, NOT_HELD = "borne", "clamped and opened", "clamped and not shown to open", "not held"


def _switch_short(context: Context, shape: BuckShape, top: Entry) -> None:
    """Whether what lies across the output bears the bulk, or a clamp gives way and the mains path opens."""
    parts, ledger = shape.parts, context.ledger
    rows: list[Entry] = []
    below = [] if shape.inverting else [_breakdown(context, name) for name in parts.clamps]
    unknown = next((row for row in (top, *below) if not isinstance(row.value, Value)), None)
    if unknown is not None:
        ledger.hole(shape.output, "switch_short", unknown.missing, note=unknown.note)
        return
    if shape.inverting or any(_gives_way(row, top) for row in below):
        word, why, rows = _opened(context, shape)
        rows = [*below, *rows]
    elif not parts.capacitors:
        lacking = OpenFact(shape.output, "its capacitor on the path")
        ledger.hole(shape.output, "switch_short", (lacking,), note="what bears the bulk is not known")
        return
    else:
        assert isinstance(top.value, Value)
        word, why = BORNE, "every capacitor across the output is rated for the bulk"
        rows += below
        for name in parts.capacitors:
            rated = context.need(part(name), "rated.voltage")
            rows.append(rated)
            if not isinstance(rated.value, Value):
                ledger.hole(shape.output, "switch_short", rated.missing, note=rated.note)
                return
            if rated.value.near < top.value.far:
                word = NOT_HELD
                volts, bulk = written(rated.value.near), written(top.value.far)
                left = "no clamp there is shown to give way at it" if below else "nothing clamps it"
                why = f"{name}, {volts} V, gets the bulk of {bulk} V, and {left}"
        if parts.lights and word == BORNE:
            word, why = NOT_HELD, "the LEDs get the bulk through the inductor's copper alone"
    if word == "":
        missing = tuple(fact for row in rows for fact in row.missing)
        ledger.hole(shape.output, "switch_short", missing, note=why)
        return
    ledger.write(
        shape.output,
        "switch_short",
        Category.of(word),
        known_by="computed",
        inputs=tuple(row.number for row in rows),
        rests_on=frozenset().union(*(row.rests_on for row in rows)) if rows else frozenset(),
        formula="what bears the bulk, and what opens where nothing does",
        source="the circuit",
        note=why,
    )


def _gives_way(clamp: Entry, top: Entry) -> bool:
    """Whether a clamp conducts below the bulk for certain: one that does not never fails short, and holds nothing."""
    return isinstance(clamp.value, Value) and isinstance(top.value, Value) and clamp.value.high < top.value.low


_RESISTIVE = (*RESISTORS, "NTC thermistor", "choke", "common-mode choke")  # more than a fraction of an ohm


def _opened(context: Context, shape: BuckShape) -> tuple[str, str, list[Entry]]:
    """A clamp across the output fails short, a buck-boost's inductor is one: what the mains drives, and what opens."""
    inlet = context.structure.inlet
    ahead = (*inlet.series, *inlet.behind, *inlet.choke) if inlet is not None else ()
    names = protective_parts(context, ahead)
    copper = context.need(shape.inductor, "part.resistance")
    rows = [copper]
    ohms = [copper]
    for name in (*ahead, *shape.parts.sensed, *shape.parts.beside):
        stated = context.fact(part(name), "part.resistance")
        known = stated is not None and stated.known_by != "assumed"
        if not known and not context.structure.may_be(name, *_RESISTIVE):
            continue  # a fuse or a track of half an ohm is within the 3 ohm below
        stated = stated or context.need(part(name), "part.resistance")
        if not isinstance(stated.value, Value):  # left out, the mains would drive more and open sooner than it does
            return "", f"the resistance of {name} is not known", [stated]
        ohms.append(stated)
    if not isinstance(copper.value, Value):
        return "", "the resistance of the inductor's copper is not known", rows
    low = context.plan.mains[0] if context.plan.mains is not None else None
    if low is None:
        hole = context.ledger.hole(shape.output, "fault_current", context.plan.lacking(RUNNING))
        return "", "the mains voltage is not known", [hole]
    whole = summed([row.value for row in ohms if isinstance(row.value, Value)])
    # hot copper and a switch that failed to an ohm or two: at most twice, and 3 ohm of mains and rectifier
    whole = Value(whole.low, whole.near, 2.0 * whole.far + 3.0, 2.0 * whole.high + 3.0)
    row = context.ledger.work_out(
        LEFT,
        {"mains": low, "resistance": whole},
        [(shape.output, "fault_current", "current")],
        case=Case("fault path", low, fault="switch shorted"),
    )[0]
    rows = [*ohms, row]  # what was assumed of a resistance, the verdict rests on as well
    if not names:
        return UNSHOWN, "nothing in the mains path is made to open", rows
    if not isinstance(row.value, Value):
        return "", row.note, rows
    told = []
    for name in names:
        resistance = context.value(part(name), "part.resistance") or Value.exact(0.0)
        found = opens(context, name, row.value, resistance)
        if found.shown:
            return OPENED, f"{found.why} ends it", rows
        told.append(found.why)
        if found.lacks:
            hole = context.ledger.hole(
                shape.output, "fault_power", found.lacks, case=Case("fault path"), note=found.why
            )
            return "", found.why, [*rows, hole]
    return UNSHOWN, "; ".join(told), rows


# ---- the list --------------------------------------------------------------------------------------------------------


def each_fault(context: Context, shape: BuckShape) -> Iterator[SingleFault]:
    """Every single fault behind the input, made from what is joined to what."""
    parts = shape.parts
    output = shape.output
    if parts.chopper:
        yield SingleFault(f"{parts.chopper} shorted", shape.switch, "switch shorted")
        yield SingleFault(f"{parts.chopper} open", shape.switch, "switch open")
    for name in (*parts.sensed, *parts.beside):
        yield SingleFault(f"{name} shorted", part(name), "sense shorted")
        yield SingleFault(f"{name} open", part(name), "sense open")
    for name in parts.diodes:
        yield SingleFault(f"{name} shorted", part(name), "diode shorted")
        yield SingleFault(f"{name} open", part(name), "diode open")
    if parts.inductor:
        yield SingleFault(f"{parts.inductor} shorted", shape.inductor, "inductor shorted")
        yield SingleFault(f"{parts.inductor} open", shape.inductor, "inductor open")
    for name in parts.capacitors:
        yield SingleFault(f"{name} shorted", part(name), "output shorted")
        yield SingleFault(f"{name} open", part(name), "store open")
    for name in parts.clamps:
        yield SingleFault(f"{name} shorted", part(name), "output shorted")
        yield SingleFault(f"{name} open", part(name), "clamp open")
    for step in parts.feedback:
        for name in step.names:
            yield SingleFault(f"{name} open", part(name), "feedback open")
            yield SingleFault(f"{name} shorted", part(name), "feedback shorted")
    for name in context.structure.outputs:
        yield SingleFault(f"load of {name} open", Subject("output", (name,)), "load open")
        yield SingleFault(f"{name} shorted", Subject("output", (name,)), "output shorted")
    if parts.lights:
        yield SingleFault(f"one LED of {output} shorted", output, "one LED shorted")


def _with(context: Context, shape: BuckShape, fault: SingleFault, case: Case, quantity: QuantityName) -> None:
    """The worst of the capacitors across the output, said of the fault."""
    name = next(iter(shape.parts.capacitors), None)
    row = context.fact(part(name), quantity, _running(context, quantity)) if name else None
    if row is None:
        top = context.ledger.hole(fault.subject, "voltage_peak", (), case=case, note="no capacitor across the output")
        said(context, fault, case, top, "")
        return
    copied = row_of(context, fault.subject, "voltage_peak", row, case)
    said(context, fault, case, copied, row.note)


def _running(context: Context, quantity: QuantityName) -> Case | None:
    found = context.plan.cases([quantity], [RUNNING])
    return found[0] if found else None


def _load_open(context: Context, shape: BuckShape, fault: SingleFault, case: Case) -> None:
    _with(context, shape, fault, case, "voltage_load_open")


def _feedback_open(context: Context, shape: BuckShape, fault: SingleFault, case: Case) -> None:
    _with(context, shape, fault, case, "voltage_feedback_open")


def _switch_shorted(context: Context, shape: BuckShape, fault: SingleFault, case: Case) -> None:
    ledger = context.ledger
    held = held_at(context, shape, input_top(context), "none")
    if shape.inverting:
        held = Value.exact(0.0), "the bulk lies across the inductor and not on the output", ()
    _write(context, fault.subject, "voltage_peak", held, case)
    word = context.fact(shape.output, "switch_short")
    known = word.value.word if word is not None and isinstance(word.value, Category) else None
    if word is None or known is None:
        note = f"for the bench: {word.note if word is not None else 'a fact is missing'}"
        ledger.hole(
            fault.subject, "opening", word.missing if word is not None else (), case=case, note=note, mark="bench"
        )
        return
    ledger.write(
        fault.subject,
        "opening",
        Category.of("shown" if known == OPENED else "nothing to open" if known == BORNE else "not shown"),
        case=case,
        known_by="computed",
        inputs=(word.number,),
        formula=word.formula,
        source=word.source,
        note=word.note,
        rests_on=word.rests_on,
    )


def _shorted(context: Context, shape: BuckShape, fault: SingleFault, case: Case) -> None:
    row = context.fact(shape.inductor, "current_shorted")
    if row is None:
        row = context.ledger.hole(
            fault.subject, "fault_current", (OpenFact(shape.switch, "part.limit_current"),), case=case
        )
        said(context, fault, case, row, "")
        return
    copied = row_of(context, fault.subject, "current_peak", row, case)
    said(context, fault, case, copied, row.note or "the limit ends each pulse")


LISTED: dict[str, Listed] = {
    "switch shorted": WorkedOut("INTO_A_SHORT"),
    "output shorted": WorkedOut("settled"),
    "load open": WorkedOut("stands"),
    "feedback open": WorkedOut("stands"),
    "switch open": NothingFlows("the output gets nothing"),
    "sense open": ForTheBench("the switch opens into its own sense pin, or nothing flows: by what the pin stands"),
    "sense shorted": ForTheBench(
        "nothing tells the controller of the current: the inductor saturates, the switch shorts"
    ),
    "diode shorted": ForTheBench("the switch closes on a short of the bulk in each period until it shorts as well"),
    "diode open": ForTheBench("the inductor drives the switch to its breakdown at each turn-off"),
    "inductor shorted": ForTheBench("the switch charges the output without a limit to its rise, until it shorts"),
    "inductor open": NothingFlows("the output gets nothing"),
    "store open": ForTheBench("the load takes the current as it comes, in pulses; regulation by voltage may run away"),
    "clamp open": NothingFlows("it holds the output in a fault only: the next fault meets none"),
    "feedback shorted": ForTheBench("by what it shorts: the controller sees none of the output, or too much of it"),
    "one LED shorted": ForTheBench("the string drops less, and each pulse takes longer to come down"),
}
HANDLERS = {
    "switch shorted": _switch_shorted,
    "output shorted": _shorted,
    "load open": _load_open,
    "feedback open": _feedback_open,
}
FAULTS = Faults(shape_of, each_fault, HANDLERS, LISTED)
