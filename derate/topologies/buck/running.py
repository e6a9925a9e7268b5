"""Currents and voltages of a buck while it runs, at each end of the mains; what its limit brings; loss and life."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from derate.circuit import buck
from derate.circuit.capacitor_ageing import COMBINED_RIPPLE
from derate.circuit.elementary import passed, product
from derate.circuit.thermal import HOT_CHANNEL, up_to_hot
from derate.design.kinds import PLAIN_DIODES
from derate.design.structure import leaves
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import Context, Inputs, part, repeated
from derate.stress.mains.line import POWER
from derate.stress.parts.life import allowed_case, bulk_names, junction, solve_lives
from derate.stress.parts.ratings import MOST_RISE, allowed_power, rating_at, ripple_rating
from derate.stress.parts.windings import STANDING, assumed
from derate.terms.quantities import OVERLOAD, RUNNING
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Curve, Value
from derate.terms.words import RESISTORS
from derate.topologies.buck.shape import SOURCE, STAGE, BuckShape, input_top, row_of, spans

STAGES = {
    key: Model.of(
        f"{'buck-boost' if key[1] else 'buck'}, {key[0]}",
        formula,
        SOURCE,
        "volt-seconds of the inductor and charge of one period",
    )
    for key, formula in buck.STAGES.items()
}
MOST = {
    key: Model.of(
        f"most output of a {'buck-boost' if key[1] else 'buck'}, {key[0]}",
        formula,
        SOURCE,
        "a pulse up to the limit in every period",
        falling=frozenset(("current",)),
    )
    for key, formula in buck.AVAILABLE.items()
}
PULSE = Model.of(
    "peak of a pulse that ends at the limit",
    buck.PULSE_PEAK,
    "own derivation: the current goes on rising until the switch has opened",
    "limit + (bulk − output) × delay / inductance",
)
AT_LIMIT = Model.of(
    "peak at the limit into an empty output",
    buck.AT_LIMIT,
    "own derivation: the current goes on rising until the switch has opened",
    "limit + bulk × delay / inductance",
)
AS_IT_IS = Model.of("as it is", passed("voltage"), "the circuit")
ABOVE = Model.of("input and output of a buck-boost", buck.STANDS, "Kirchhoff", "bulk + output + drop")
REVERSE = Model.of(
    "reverse voltage of a diode at the switch node without its ringing",
    buck.STANDS_AT_LEAST,
    "Kirchhoff",
    "bulk + output + drop",
)
RINGING = Model.of(
    "reverse voltage of a diode at the switch node with its ringing",
    buck.STANDS_RINGING,
    "Kirchhoff, times the crest over the flat part as measured",
    "(bulk + output + drop) × ringing",
)
NO_RINGING = "the ringing on top of it is not known: this is the least it can be"
ENERGY = Model.of("output once the load has gone", buck.OVERSHOOT, "conservation of energy", "√(output² + L peak² / C)")
LOST = Model.of(
    "loss of a switch onto a freewheel diode",
    buck.LOST,
    "own derivation",
    "rms² × R + edges + charge of the node + recovery of the diode",
)
EQUIVALENT = Model.of(
    "ripple current at the frequency of the rating",
    COMBINED_RIPPLE,
    "own derivation: heat adds, each current over its factor in the data sheet",
    "√((slow / factor)² + (fast / factor)²)",
)
DIODE = Value.between(0.0, 2.0)  # of a diode beside hundreds of volts [V]
CONTINUOUS, DISCONTINUOUS = (
    35e-9,
    75e-9,
)  # longest recovery of a freewheel diode [s]: LNK304-306 data sheet, 75 and 35 ns


class Point(NamedTuple):
    """One end of the mains: bulk voltage, its inputs, and the model's rows by output, worst end of each."""

    mains: float
    bulk: Entry
    inputs: Inputs


def points(context: Context, shape: BuckShape) -> tuple[Point, ...]:
    """The inputs at each end of the mains."""
    found = []
    for mains, span in spans(context).items():
        inputs: Inputs = {**shape.given(), "bulk": span}
        if shape.mode != buck.LIMITED:
            inputs["current"] = shape.current
        if shape.empties:
            inputs["rest"] = shape.rest
        else:
            inputs["frequency"] = shape.frequency
        if shape.mode in ("burst", buck.LIMITED):
            case = Case("converter", mains)
            ends: Inputs = {"limit": shape.limit, "delay": shape.delay, "inductance": shape.inductance, "bulk": span}
            ends["output"] = shape.voltage if not shape.inverting else 0.0
            inputs["peak"] = context.ledger.work_out(PULSE, ends, [(STAGE, "current_peak", "peak")], case=case)[0]
        found.append(Point(mains, span, inputs))
    return tuple(found)


# ---- currents --------------------------------------------------------------------------------------------------------


def _extra(shape: BuckShape, at: Point) -> list[Inputs]:
    """Where inside the ranges a figure of a buck turns round: swing at half the input, rms of the switch at 1.5 times
    its output and beyond; nothing of a buck-boost does."""
    bulk, output = at.bulk.value, shape.voltage.value
    if shape.inverting or not isinstance(bulk, Value) or not isinstance(output, Value):
        return []
    found: list[Inputs] = []
    for share in (0.5, 0.6, 0.75):
        volts = share * bulk.high
        if output.low < volts < output.high:
            found.append({"output": volts})
    if bulk.low < 1.5 * output.high < bulk.high:
        found.append({"bulk": 1.5 * output.high})
    return found


def _worked(
    context: Context, shape: BuckShape, at: Point, subject: Subject, quantity: QuantityName, output: str, case: Case
) -> Entry:
    """One figure over all of its ranges; of a control that skips pulses from evenly spread ones to a row of them."""
    ledger, model = context.ledger, STAGES[shape.key]
    names = [output] if f"least_{output}" not in model.signs else [f"least_{output}", output]
    rows = [ledger.work_out(model, at.inputs, [(subject, quantity, name)], case=case)[0] for name in names]
    rows += [
        ledger.work_out(model, {**at.inputs, **extra}, [(subject, quantity, output)], case=case)[0]
        for extra in _extra(shape, at)
    ]
    if len(rows) == 1:
        return rows[0]
    hole = next((row for row in rows if not isinstance(row.value, Value)), None)
    if hole is not None:
        return row_of(context, subject, quantity, hole, case)
    return hull(context, rows, subject, quantity, case)


def hull(
    context: Context, rows: list[Entry], subject: Subject, quantity: QuantityName, case: Case, note: str = ""
) -> Entry:
    """From the least of several rows to their most, at the nominal and with tolerance."""
    values = [row.value for row in rows if isinstance(row.value, Value)]
    low, near, far, high = zip(*(value.numbers() for value in values), strict=True)
    return context.ledger.write(
        subject,
        quantity,
        Value(min(low), min(near), max(far), max(high)),
        case=case,
        known_by="computed",
        inputs=tuple(row.number for row in rows),
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula=rows[-1].formula,
        source=rows[-1].source,
        note=note,
    )


def solve_currents(context: Context, shape: BuckShape) -> None:
    """Inductor, switch, sense resistor and diode at both ends of the mains; ripple of the output capacitors."""
    parts = shape.parts
    table: list[tuple[tuple[Subject, ...], QuantityName, str]] = [
        ((shape.inductor, *(part(name) for name in parts.beside)), "current_rms", "inductor_rms"),
        ((shape.inductor, shape.switch), "current_peak", "peak"),
        ((shape.inductor,), "current_swing", "swing"),
        ((shape.switch, *(part(name) for name in parts.sensed)), "current_rms", "switch_rms"),
        ((shape.switch,), "current_average", "switch_average"),
        (tuple(part(name) for name in parts.diodes), "current_rms", "diode_rms"),
        (tuple(part(name) for name in parts.diodes), "current_average", "diode_average"),
        (tuple(part(name) for name in parts.diodes), "current_peak", "peak"),
    ]
    found = {one.mains: one for one in points(context, shape)}
    for subjects, quantity, output in table:
        done: dict[float, Entry] = {}
        for case in context.plan.cases([quantity], [RUNNING]):
            for subject in subjects:
                if case.mains is None or case.mains not in found:
                    context.ledger.hole(
                        subject, quantity, context.plan.lacking(RUNNING), case=case, note=_no_bulk(context)
                    )
                    continue
                row = done.get(case.mains)
                if row is None:
                    done[case.mains] = _worked(context, shape, found[case.mains], subject, quantity, output, case)
                else:
                    repeated(context, row, case, subject)
    _ripple(context, shape, tuple(found.values()))
    sense_power(context, (*parts.sensed, *parts.beside))


def _no_bulk(context: Context) -> str:
    return "" if context.structure.mains is not None else "what stands behind the rectifier is not known"


def _ripple(context: Context, shape: BuckShape, ends: tuple[Point, ...]) -> None:
    """Ripple current of each output capacitor, the worst of both ends of the mains; of several anything up to it."""
    names = shape.parts.capacitors
    cases = context.plan.cases(["ripple_current"], [RUNNING])
    for name in names:
        subject = part(name)
        rows = [
            _worked(context, shape, one, subject, "ripple_current", "capacitor_rms", Case("converter", one.mains))
            for one in ends
        ]
        hole = next((row for row in rows if not isinstance(row.value, Value)), None)
        for case in cases:
            if hole is not None or not rows:
                missing = hole.missing if hole is not None else context.plan.lacking(RUNNING)
                context.ledger.hole(subject, "ripple_current", missing, case=case, note=hole.note if hole else "")
                continue
            told = "the worst of both ends of the mains"
            row = hull(context, rows, subject, "ripple_current", case, told)
            if len(names) > 1 and isinstance(row.value, Value):
                context.ledger.write(
                    subject,
                    "ripple_current",
                    Value(0.0, 0.0, row.value.far, row.value.high),
                    case=case,
                    known_by="computed",
                    inputs=(row.number,),
                    rests_on=row.rests_on,
                    formula=row.formula,
                    source=row.source,
                    note=f"{told}; how several share it is not worked out",
                )


def sense_power(context: Context, names: Iterable[str]) -> None:
    for name in names:
        resistance = context.need(part(name), "part.resistance")
        for case in context.plan.cases(["power"], [RUNNING]):
            current = context.need(part(name), "current_rms", case)
            context.ledger.work_out(
                POWER, {"resistance": resistance, "current": current}, [(part(name), "power", "power")], case=case
            )
        if context.structure.must_be(name, *RESISTORS):
            allowed_power(context, name)


# ---- voltages --------------------------------------------------------------------------------------------------------


def solve_voltages(context: Context, shape: BuckShape) -> None:
    """Switch and diode block the bulk, of a buck-boost the output on top; the feedback diode as much.

    The diodes ring on top of that as the switch closes: where nobody stated by how much there is no upper end.
    """
    ledger = context.ledger
    flat: Inputs = {"bulk": input_top(context), "output": shape.voltage if shape.inverting else 0.0, "drop": DIODE}

    def reverse(name: str, case: Case) -> None:
        ringing, wanted = context.fact(part(name), "part.ringing"), [voltage(part(name), "reverse_voltage")]
        # a crest below the flat part is none: whoever wrote it read something else
        if ringing is None or isinstance(ringing.value, Value) and ringing.value.far < 1.0:
            ledger.work_out(REVERSE, flat, wanted, case=case, note=NO_RINGING)
        else:
            ledger.work_out(RINGING, {**flat, "ringing": ringing}, wanted, case=case)

    for group in (RUNNING, OVERLOAD):
        for case in context.plan.cases(["voltage_peak"], [group]):
            ledger.work_out(ABOVE, flat, [voltage(shape.switch, "voltage_peak")], case=case)
        for case in context.plan.cases(["reverse_voltage"], [group]):
            for name in shape.parts.diodes:
                reverse(name, case)
    for step in shape.parts.feedback:
        for name in step.names:
            if step.how == "series" and context.structure.may_be(name, *PLAIN_DIODES):
                for case in context.plan.cases(["reverse_voltage"], [RUNNING]):
                    reverse(name, case)
    standing = [name for step in shape.parts.feedback if step.how == "across" for name in step.names]
    for case in context.plan.cases(["voltage"], [RUNNING]):
        for name in (*shape.parts.capacitors, *standing):
            ledger.work_out(AS_IT_IS, {"voltage": shape.voltage}, [(part(name), "voltage", "voltage")], case=case)
    allowed_voltage(context, shape.parts.chopper)


def voltage(subject: Subject, quantity: QuantityName) -> Wanted:
    return subject, quantity, "voltage"


def allowed_voltage(context: Context, switch: str | None) -> None:
    """The voltage limit of the switch that holds: drain to source, of a bipolar one what its base drive asks for."""
    if switch is None:
        return
    subject, ledger = part(switch), context.ledger
    if context.structure.must_be(switch, "MOSFET", "integrated switch"):
        rows = [context.need(subject, "rated.voltage")]
    elif context.structure.must_be(switch, "bipolar transistor"):
        drive = context.word(subject, "part.base_drive")
        held = drive in ("emitter switched", "negative at turn-off")
        rows = [context.need(subject, "rated.collector_base_voltage" if held else "rated.collector_emitter_voltage")]
        if drive is None and held is False:
            rows.append(context.need(subject, "rated.collector_base_voltage"))
    else:
        ledger.hole(subject, "allowed.switch_voltage", (OpenFact(subject, "part.kind"),))
        return
    values = []
    for row in rows:
        value = row.value
        if isinstance(value, Curve) and len(value.points) == 1:
            value = value.points[0][1]
        if not isinstance(value, Value):
            ledger.hole(subject, "allowed.switch_voltage", row.missing or (OpenFact(subject, row.quantity),))
            return
        values.append(value)
    low, near, far, high = zip(*(value.numbers() for value in values), strict=True)
    ledger.write(
        subject,
        "allowed.switch_voltage",
        Value(min(low), min(near), max(far), max(high)),
        known_by=rows[0].known_by,
        inputs=tuple(row.number for row in rows),
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula="the limit that its drive leaves" if len(rows) == 1 else "between base open and base held off",
        source="data sheet",
        place=rows[0].place,
    )


# ---- limit -----------------------------------------------------------------------------------------------------------


def solve_limit(context: Context, shape: BuckShape) -> None:
    """Peak at the limit with its delay into an empty output; where it settles in a short; most output; overshoot."""
    ledger, structure = context.ledger, context.structure
    carry = (shape.inductor, shape.switch, *(part(name) for name in shape.parts.diodes))
    inputs: Inputs = {
        "limit": shape.limit,
        "bulk": input_top(context),
        "delay": shape.delay,
        "inductance": shape.inductance,
    }
    peak: Entry | None = None
    for case in context.plan.cases(["current_peak"], [OVERLOAD]):
        peak = ledger.work_out(AT_LIMIT, inputs, [(one, "current_peak", "peak") for one in carry], case=case)[0]
    row_of(context, shape.switch, "current_limit", shape.limit)
    if peak is None:
        return
    _settled(context, shape, peak, inputs, carry)
    if structure.own_inlet is None:
        _available(context, shape)
    whole = None
    for element in shape.parts.stores:
        for leaf in leaves(element):
            if not structure.may_be(leaf.name, "ceramic capacitor") or whole is None:
                whole = leaf.name
    for case in context.plan.cases(["voltage"], [OVERLOAD]):
        for name in shape.parts.capacitors:
            fresh = context.need(part(whole or name), "part.capacitance")
            used: Inputs = {"output": shape.voltage, "inductance": shape.inductance, "peak": peak, "capacitance": fresh}
            ledger.work_out(ENERGY, used, [(part(name), "voltage", "voltage")], case=case)


SETTLED = Model.of(
    "current into a shorted output",
    buck.SETTLED,
    "own derivation: what the shortest pulse adds against what diode and copper take",
    "the limit with its delay, or where bulk × delay equals (drop + R × current) × pause",
)


def _settled(context: Context, shape: BuckShape, peak: Entry, limit: Inputs, carry: tuple[Subject, ...]) -> None:
    """Into a short only the diode's drop and the copper bring the current down: it may climb from pulse to pulse."""
    ledger = context.ledger
    if shape.empties:
        for one in carry:
            row_of(context, one, "current_shorted", peak)
        return
    stated = None
    for name in (shape.parts.chopper, context.structure.control.by):
        stated = stated or (context.fact(part(name), "part.shorted_pause") if name else None)
    pause = stated or _pause(context, shape)
    diode = _diode_alone(context, shape)
    inputs: Inputs = {**limit, "drop": diode, "off": pause, "resistance": 0.0}
    first = ledger.work_out(SETTLED, inputs, [(shape.inductor, "current_shorted", "peak")])[0]
    if isinstance(first.value, Value) and first.value.high >= 0.5 * buck.UNSETTLED:
        inputs["resistance"] = context.need(shape.inductor, "part.resistance")
        told = "the shortest pulse adds more than the diode takes: only the copper ends the climb"
        first = ledger.work_out(SETTLED, inputs, [(shape.inductor, "current_shorted", "peak")], note=told)[0]
    for one in carry[1:]:
        row_of(context, one, "current_shorted", first)


def _pause(context: Context, shape: BuckShape) -> Entry:
    """The pause between two pulses of a short: the period; the pulse itself is a hundredth of it."""
    frequency = shape.frequency
    if not isinstance(frequency.value, Value):
        return frequency
    low, near, far, high = (1.0 / end if end > 0.0 else float("inf") for end in reversed(frequency.value.numbers()))
    return context.ledger.write(
        STAGE,
        "pulse_width",
        Value(0.97 * low, 0.97 * near, far, high),
        case=STANDING,
        known_by="computed",
        inputs=(frequency.number,),
        rests_on=frequency.rests_on,
        formula="period less the shortest pulse",
        source="definition",
    )


def _diode_alone(context: Context, shape: BuckShape) -> Entry:
    """The drop of the diode without copper: its least counts, at the current of the limit."""
    row = shape.drop
    if not isinstance(row.value, Value):
        return row
    value = Value.between(row.value.near, row.value.near)
    return context.ledger.write(
        STAGE,
        "diode_drop",
        value,
        case=STANDING,
        known_by="computed",
        inputs=(row.number,),
        rests_on=row.rests_on,
        formula="least drop of the diode",
        source="Kirchhoff",
    )


def _available(context: Context, shape: BuckShape) -> None:
    """Most output current at each end of the mains."""
    found = {one.mains: one for one in points(context, shape)}
    for case in context.plan.cases(["current_available"], [RUNNING]):
        at = found.get(case.mains or 0.0)
        wanted: list[Wanted] = [(shape.output, "current_available", "current")]
        if at is None:
            missing = context.plan.lacking(RUNNING)
            context.ledger.hole(shape.output, "current_available", missing, case=case, note=_no_bulk(context))
            continue
        inputs = {name: at.inputs[name] for name in ("output", "drop", "on_drop", "inductance", "bulk")}
        inputs |= {"limit": shape.limit, "delay": shape.delay}
        inputs |= {"rest": shape.rest} if shape.empties else {"frequency": shape.frequency}
        context.ledger.work_out(
            MOST["boundary" if shape.empties else shape.mode, shape.inverting], inputs, wanted, case=case
        )


# ---- how it conducts, recovery ---------------------------------------------------------------------------------------


def solve_recovery(context: Context, shape: BuckShape) -> None:
    """Whether the inductor runs empty before the switch closes, and how long the diode may take to recover then.

    A control that skips pulses counts as mostly discontinuous up to half its peak as the load: pulses spread evenly
    are triangles then.
    """
    words: set[str] = set()
    rows: list[Entry] = []
    if context.structure.own_inlet is not None:
        if not shape.empties:  # it runs empty in each period where its currents are worked out; else nobody knows
            cases = context.plan.cases(["current_peak"], [RUNNING])
            rows += [context.need(shape.inductor, "current_peak", case) for case in cases]
        words |= {"discontinuous"} if all(isinstance(row.value, Value) for row in rows) else set()
    for at in points(context, shape):
        if shape.empties:
            words.add("discontinuous")
            continue
        if shape.mode == "burst" and shape.inverting:
            words.update(("continuous", "discontinuous"))
        output = "valley"
        row = context.ledger.work_out(
            STAGES[shape.key], at.inputs, [(STAGE, "current_valley", output)], case=Case("converter", at.mains)
        )[0]
        rows.append(row)
        if not isinstance(row.value, Value):
            words = set()
            break
        words |= {"continuous"} if row.value.far > 0.0 else set()
        words |= {"discontinuous"} if row.value.near <= 0.0 else set()
    numbers = tuple(row.number for row in rows)
    missing = tuple(fact for row in rows for fact in row.missing)
    note = next((row.note for row in rows if row.note), "")
    for name in shape.parts.diodes:
        if not words:
            context.ledger.hole(part(name), "conduction", missing, note=note, inputs=numbers)
            context.ledger.hole(part(name), "allowed.recovery_time", missing, note=note, inputs=numbers)
            continue
        context.ledger.write(
            part(name),
            "conduction",
            Category.of(*words),
            known_by="computed",
            inputs=numbers,
            source=SOURCE,
            formula="whether current is left in the inductor when the switch closes",
        )
        ends = sorted({"continuous": CONTINUOUS, "discontinuous": DISCONTINUOUS}[word] for word in words)
        context.ledger.write(
            part(name),
            "allowed.recovery_time",
            Value.between(ends[0], ends[-1]),
            known_by="computed",
            inputs=numbers,
            formula="75 ns mostly discontinuous, 35 ns continuous",
            source="LNK304-306 data sheet, choice of the freewheel diode",
        )


# ---- loss, ripple of the bulk, life ----------------------------------------------------------------------------------


def frequencies(context: Context, shape: BuckShape) -> list[Entry]:
    """Frequency of a control that waits for an empty inductor, at full load and each end of the mains."""
    return [
        context.ledger.work_out(
            STAGES[shape.key], at.inputs, [(SUPPLY, "frequency", "frequency")], case=Case("converter", at.mains)
        )[0]
        for at in points(context, shape)
    ]


def solve_losses(context: Context, shape: BuckShape) -> None:
    """Loss and junction of the switch at the worse end of the mains, loss of the diode."""
    parts = shape.parts
    resistance = hot_switch(context, shape)
    edge, node = edge_and_node(context, shape)
    recovery = context.need(part(parts.diodes[0]), "rated.recovery_time") if parts.diodes else node
    worst: Entry | None = None
    ends = {one.mains: one for one in points(context, shape)}
    for case in context.plan.cases(["power"], [RUNNING]):
        at = ends.get(case.mains or 0.0)
        if at is None or parts.chopper is None:
            continue
        frequency: Entry | float = shape.frequency
        valley: Entry | float = 0.0
        inner = Case("converter", at.mains)
        if shape.empties:
            frequency = context.ledger.work_out(
                STAGES[shape.key], at.inputs, [(STAGE, "frequency", "frequency")], case=inner
            )[0]
        else:
            valley = context.ledger.work_out(
                STAGES[shape.key], at.inputs, [(STAGE, "current_valley", "valley")], case=inner
            )[0]
        inputs: Inputs = {
            "rms": context.need(shape.switch, "current_rms", case),
            "peak": context.need(shape.switch, "current_peak", case),
            "resistance": resistance,
            "bulk": at.bulk,
            "valley": valley,
            "edge": edge,
            "frequency": frequency,
            "capacitance": node,
            "recovery": recovery,
        }
        row = context.ledger.work_out(LOST, inputs, [(shape.switch, "power", "power")], case=case)[0]
        if worst is None or far_of(row) > far_of(worst):
            worst = row
    if worst is not None and parts.chopper is not None:
        junction(context, parts.chopper, worst)
    diode_losses(context, shape)


def diode_losses(context: Context, shape: BuckShape) -> None:
    """Drop times average current of the freewheel diode."""
    for name in shape.parts.diodes:
        for case in context.plan.cases(["power"], [RUNNING]):
            current = context.need(part(name), "current_average", case)
            context.ledger.work_out(
                CONDUCTING, {"drop": shape.drop, "current": current}, [(part(name), "power", "power")], case=case
            )


def edge_and_node(context: Context, shape: BuckShape) -> tuple[Entry, Entry]:
    """How fast the switch crosses, and what its node holds: as stated, else as the pack assumes."""
    edge = context.fact(shape.switch, "part.switching_time") or assumed(
        context, "buck_edge", shape.switch, "switching_edge", "part.switching_time"
    )
    node = context.fact(shape.switch, "part.output_capacitance") or assumed(
        context, "node_capacitance", shape.switch, "output_capacitance", "part.output_capacitance"
    )
    return edge, node


CONDUCTING = Model.of(
    "loss of the freewheel diode", product("power", "drop", "current"), "definition", "drop × average current"
)


def far_of(row: Entry) -> float:
    return row.value.far if isinstance(row.value, Value) else float("inf")


def hot_switch(context: Context, shape: BuckShape) -> Entry | Value:
    """On-resistance of the switch up to a hot channel: by its curve, carried on; else 2.8 times that at 25 degC."""
    stated = context.need(shape.switch, "rated.on_resistance")
    if isinstance(stated.value, Curve):
        points_of = [value for _, value in stated.value.points]
        least, most = min(v.low for v in points_of), max(v.high for v in points_of)
        most *= up_to_hot(stated.value.greatest)  # a table that ends short of a hot channel tells nothing of that
    elif isinstance(stated.value, Value):
        least, most = stated.value.low, HOT_CHANNEL * stated.value.high
    else:
        return stated
    return context.ledger.write(
        shape.switch,
        "hot_resistance",
        Value.between(least, most),
        case=STANDING,
        known_by="computed",
        inputs=(stated.number,),
        rests_on=stated.rests_on,
        formula="from 25 degC to a hot channel",
        source="common practice, no source; 1.8 to 2.8 times at 150 degC",
    )


SWITCHED = Model.of(
    "switching ripple of the bulk capacitor", buck.SWITCHED, "own derivation", "√(switch rms² − average²)"
)


def solve_bulk_ripple(context: Context, shape: BuckShape) -> None:
    """Ripple of every bulk capacitor at both frequencies as one current at the frequency of its rating."""
    mains = context.structure.mains
    names = bulk_names(context)
    if mains is None:
        return
    for name in names:
        for case in context.plan.cases(["ripple_equivalent"], [RUNNING]):
            rows = [context.need(shape.switch, quantity, case) for quantity in ("current_rms", "current_average")]
            last = name in [leaf.name for leaf in leaves(mains.bulk[-1])]
            fast: Entry | float = 0.0
            if last:
                fast = context.ledger.work_out(
                    SWITCHED, {"rms": rows[0], "average": rows[1]}, [(part(name), "ripple_switching", "rms")], case=case
                )[0]
            _equivalent(context, shape, name, fast, case)


def _equivalent(context: Context, shape: BuckShape, name: str, fast: Entry | float, case: Case) -> None:
    subject, ledger = part(name), context.ledger
    slow = context.need(subject, "ripple_current", case)
    half = context.structure.mains is not None and context.structure.mains.input == "half-wave"
    rated = ripple_rating(context, subject, (1.0 if half else 2.0) * (case.frequency or 50.0))
    curve = context.curve(subject, "rated.ripple_current")
    if curve is None or not isinstance(rated.value, Value):
        ledger.hole(subject, "ripple_equivalent", rated.missing, case=case, inputs=(slow.number, rated.number))
        return
    at, base = rating_at(curve, hertz(shape)), rated.value.middle
    factor = Value.between(1.0, MOST_RISE)
    if at is not None and base > 0.0:
        factor = Value(*(one / base for one in at.numbers()))
    inputs: Inputs = {"slow": slow, "slow_factor": 1.0, "fast": fast, "fast_factor": factor}
    ledger.work_out(EQUIVALENT, inputs, [(subject, "ripple_equivalent", "rms")], case=case)


def hertz(shape: BuckShape) -> float:
    """Frequency at which a capacitor's columns are read [Hz]."""
    value = shape.frequency.value if shape.mode in ("fixed frequency", "burst") else None
    return value.middle if isinstance(value, Value) and 1e3 <= value.middle <= 5e6 else 65e3


def solve_life(context: Context, shape: BuckShape) -> None:
    """Ripple ratings and lives of bulk and output capacitors."""
    for name in shape.parts.capacitors:
        ripple_rating(context, part(name), hertz(shape))
    for name in (*bulk_names(context), *shape.parts.capacitors):
        if context.structure.may_be(name, "electrolytic capacitor", "solid electrolytic capacitor"):
            allowed_case(context, name)
    solve_lives(context, bulk_names(context), "ripple_equivalent")
    solve_lives(context, shape.parts.capacitors, "ripple_current")
