"""What the drive winding does to base or gate, and the output: as its winding holds it, and with nothing that does."""

from __future__ import annotations

from derate.circuit import self_oscillating as physics
from derate.circuit.elementary import ratio as over
from derate.design.structure import leaves
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model
from derate.stress.context import AUXILIARY_RAIL, Context, Inputs, part, repeated
from derate.stress.mains.bulk_states import bulk_high
from derate.terms.quantities import OVERLOAD, RUNNING, each
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Value
from derate.topologies.dropper.shape import breakdown
from derate.topologies.flyback.operating import current_limit, limit_inputs
from derate.topologies.flyback.rails import turns_of
from derate.topologies.flyback.shape import FlybackShape, OutputShape, forward_drop
from derate.topologies.flyback.switch import ClampShape, breakdown_voltage, clamp_of, joined
from derate.topologies.self_oscillating.circuit import Drive, parts_of, side_by_side
from derate.topologies.self_oscillating.limits import (
    DRIVE,
    drive_ratio,
    held_off,
    lacking,
    may_be_held_off,
    second_transistor,
)

_SOURCE = "own derivation, the winding turns with the collector; held to ngspice 39"
REVERSED = Model.of(
    "reverse voltage of a base",
    physics.REVERSED_BASE,
    _SOURCE,
    "from reflected / turns ratio to (collector − bulk) / turns ratio, with the charge of a capacitor in series",
)
ON = Model.of("voltage at a gate", physics.ON_VOLTAGE, _SOURCE, "bulk / turns ratio + charge")
OFF = Model.of("voltage of the drive winding in the off-time", physics.OFF_VOLTAGE, _SOURCE, "swing / turns ratio")
HELD = Model.of(
    "output held by a zener on another winding",
    physics.HELD_BY_WINDING,
    "own derivation by turns; ngspice 39: the leakage lowers it as the load grows",
    "(breakdown + junction + own drop) / turns ratio − drop",
)
BY_TURNS = Model.of("turns over turns", over("ratio", "own", "output"), "definition", "turns / turns of the output")
OVER_PLATE = Model.of("output over its plate", over("ratio", "voltage", "plate"), "definition", "output / plate")
INTO_RESISTOR = Model.of(
    "output without regulation, into the clamp",
    physics.LOST_INTO_RESISTOR,
    _SOURCE,
    "(√(bulk² + 2 peak bulk R) − bulk) / 2 / turns ratio − drop",
)
INTO_BREAKDOWN = Model.of(
    "output without regulation, into breakdown diodes",
    physics.LOST_INTO_BREAKDOWN,
    _SOURCE,
    "breakdown / turns ratio − drop",
)
_HOLDS = Value.between(0.4, 1.3)  # of a silicon junction that carries the drive's current in the off-time [V]
_JUNCTIONS = Value.between(0.6, 1.2)
# A base-emitter voltage in series with a zener: of a negative rail on the base of the switch it is less, of a positive
# one on that of a second transistor more; where there is a second transistor it may be either.
_LESS, _EITHER = Value.between(-1.1, 0.0), Value.between(-1.1, 0.9)
_CHOKES = ("choke", "common-mode choke")
_ZENERS = ("zener diode", "suppressor diode")
BARE = Case(RUNNING)


# ---- base and gate ---------------------------------------------------------------------------------------------------


def solve_drive(context: Context, shape: FlybackShape) -> None:
    """Reverse voltage of the base or both voltages of the gate, at the highest mains."""
    switch, structure = shape.switch, context.structure
    if switch is None:
        return
    drive, ratio = parts_of(structure).drive, drive_ratio(context, shape)
    bipolar, gated = structure.may_be(switch, "bipolar transistor"), structure.may_be(switch, "MOSFET")
    rows = (*(each("base_reverse_voltage") if bipolar else ()), *(each("gate_voltage") if gated else ()))
    for quantity in rows:
        for case in context.plan.cases([quantity], [RUNNING]):
            if drive is None or ratio is None:
                lacking = (OpenFact(SUPPLY, "circuit.drive"),)
                context.ledger.hole(part(switch), quantity, lacking, case=case)
            elif quantity == "gate_voltage":
                _gate(context, shape, drive, ratio, case)
            else:
                _base(context, shape, drive, ratio, case)


def _base(context: Context, shape: FlybackShape, drive: Drive, ratio: Entry, case: Case) -> None:
    subject, ledger = part(shape.switch or ""), context.ledger
    if holding := held_off(context, drive):
        ledger.write(
            subject,
            "base_reverse_voltage",
            _HOLDS,
            case=case,
            known_by="computed",
            formula=f"{' and '.join(holding)} conducts from the return to the base",
            source="one junction",
        )
        return
    if drive.odd:
        _not_worked_out(context, drive, "base_reverse_voltage", subject, case)
        return
    # at start-up and in overload the leakage rings highest
    top = context.need(subject, "voltage_peak", context.plan.cases(["voltage_peak"], [OVERLOAD])[0])
    inputs: Inputs = {
        "reflected": shape.reflected,
        "top": top,
        "bulk": bulk_high(context),
        "ratio": ratio,
        "junctions": _JUNCTIONS,
        "charged": 1.0 if drive.capacitors else 0.0,
    }
    _from_to(context, REVERSED, inputs, subject, case, may_be_held_off(context, shape, drive))


def _from_to(context: Context, model: Model, inputs: Inputs, subject: Subject, case: Case, may_be_held: bool) -> None:
    """From the least to the most that the winding does; from one junction on where that may be all that is left."""
    ledger = context.ledger
    least = ledger.work_out(model, inputs, [(subject, "base_reverse_voltage", "least")], case=case)[0]
    most = ledger.work_out(model, inputs, [(subject, "base_reverse_voltage", "most")], case=case)[0]
    if not isinstance(least.value, Value) or not isinstance(most.value, Value):
        return
    low, near = least.value.low, least.value.near
    far = max(near, most.value.far)
    if may_be_held:
        low, near = min(low, _HOLDS.low), min(near, _HOLDS.near)
    ledger.write(
        subject,
        "base_reverse_voltage",
        Value(low, near, far, max(far, most.value.high)),
        case=case,
        known_by="computed",
        inputs=(least.number, most.number),
        rests_on=least.rests_on | most.rests_on,
        formula=most.formula,
        source=most.source,
    )


def _not_worked_out(context: Context, drive: Drive, quantity: QuantityName, subject: Subject, case: Case) -> None:
    missing, note = lacking(context, drive)
    context.ledger.hole(subject, quantity, missing, case=case, note=note)


def _gate(context: Context, shape: FlybackShape, drive: Drive, ratio: Entry, case: Case) -> None:
    """The greater of what the gate sees either way; a zener across it holds it to its own voltage."""
    subject, ledger = part(shape.switch or ""), context.ledger
    if drive.odd:
        _not_worked_out(context, drive, "gate_voltage", subject, case)
        return
    zeners = [name for name in drive.across if context.structure.must_be(name, *_ZENERS)]
    if zeners:
        rows = [breakdown(context, name) for name in zeners]
        hole = next((row for row in rows if not isinstance(row.value, Value)), None)
        if hole is not None:
            ledger.hole(subject, "gate_voltage", hole.missing, case=case, note=hole.note, inputs=(hole.number,))
            return
        values = [row.value for row in rows if isinstance(row.value, Value)]
        ledger.write(
            subject,
            "gate_voltage",
            Value(*(min(column) for column in zip(*(one.numbers() for one in values), strict=True))),
            case=case,
            known_by="computed",
            inputs=tuple(row.number for row in rows),
            rests_on=frozenset().union(*(row.rests_on for row in rows)),
            formula="the breakdown voltage across it",
            source="the circuit",
        )
        return
    off = ledger.work_out(
        OFF, {"swing": shape.reflected, "ratio": ratio}, [(DRIVE, "reverse_voltage", "voltage")], case=case
    )[0]
    boost: Entry | Value = Value.exact(0.0)
    if drive.capacitors and isinstance(off.value, Value):  # its charge may shift the whole swing to one side
        boost = Value(0.0, 0.0, off.value.far, off.value.high)
    elif drive.capacitors:
        boost = off
    inputs: Inputs = {"bulk": bulk_high(context), "ratio": ratio, "boost": boost}
    on = ledger.work_out(ON, inputs, [(subject, "gate_voltage", "voltage")], case=case)[0]
    _either_way(context, shape, drive, ratio, on)


def _either_way(context: Context, shape: FlybackShape, drive: Drive, ratio: Entry, on: Entry) -> None:
    """The voltage at the gate while the switch conducts, and no less than as it opens.

    Where the mains is low the leakage takes the collector further above the bulk than that lies above the return.
    """
    ledger = context.ledger
    inputs: Inputs = {
        "reflected": shape.reflected,
        "top": context.need(on.subject, "voltage_peak", context.plan.cases(["voltage_peak"], [OVERLOAD])[0]),
        "bulk": bulk_high(context),
        "ratio": ratio,
        "junctions": Value.exact(0.0),
        "charged": 1.0 if drive.capacitors else 0.0,
    }
    off = ledger.work_out(REVERSED, inputs, [(DRIVE, "reverse_voltage", "most")], case=on.case)[0]
    if not isinstance(on.value, Value):
        return
    if not isinstance(off.value, Value):
        ledger.hole(on.subject, "gate_voltage", off.missing, case=on.case, note=off.note, inputs=(off.number,))
        return
    ledger.write(
        on.subject,
        "gate_voltage",
        Value(on.value.low, on.value.near, max(on.value.far, off.value.far), max(on.value.high, off.value.high)),
        case=on.case,
        known_by="computed",
        inputs=(on.number, off.number),
        rests_on=on.rests_on | off.rests_on,
        formula=f"{on.formula}, and no less than as it opens",
        source=on.source,
    )


# ---- outputs ---------------------------------------------------------------------------------------------------------


def zener_of_the_rail(context: Context) -> str | None:
    """The zener that holds the rail of another winding, where that is what regulates; None where it is not."""
    structure = context.structure
    if not any("." in name for name in structure.control.senses):
        return None
    path = structure.own.auxiliary or ()
    names = [name for step in path for name in step.names]
    if structure.control.reference is not None:
        names.insert(0, structure.control.reference)
    return next((name for name in names if structure.must_be(name, "zener diode")), None)


def solve_held(context: Context, shape: FlybackShape) -> None:
    """The output as the zener of the rail holds it, in place of that of the plate."""
    ledger = context.ledger
    one, zener = shape.reference, zener_of_the_rail(context)
    _said_by(context, shape, zener)
    if one is None or zener is None:
        return
    path = context.structure.own.auxiliary or ()
    windings = [name for step in path for name in step.names if "." in name]
    diodes = tuple(
        name
        for step in path
        if step.how == "series"
        for name in step.names
        if name != zener and "diode" in (context.structure.one_kind(name) or "")
    )
    own = turns_of(context, AUXILIARY_RAIL, windings)
    turns: Inputs = {"own": own, "output": turns_of(context, one.subject, one.walked.windings)}
    inputs: Inputs = {
        "breakdown": breakdown(context, zener),
        "junction": _LESS if second_transistor(context, shape) is None else _EITHER,
        "own_drop": forward_drop(context, AUXILIARY_RAIL, diodes),
        "drop": one.drop,
        "ratio": ledger.work_out(BY_TURNS, turns, [(one.subject, "turns_ratio", "ratio")], case=BARE)[0],
    }
    row = ledger.work_out(HELD, inputs, [(one.subject, "voltage", "voltage")], case=BARE)[0]
    given: Inputs = {"voltage": row, "plate": one.voltage}
    ledger.work_out(OVER_PLATE, given, [(one.subject, "voltage_over_plate", "ratio")], case=BARE)
    plate = one.voltage.value
    if isinstance(row.value, Value) and isinstance(plate, Value):
        # what the capacitors stand is the greater of this and of what the plate promises
        values = zip(row.value.numbers(), plate.numbers(), strict=True)
        row = ledger.write(
            one.subject,
            "voltage",
            Value(*(max(pair) for pair in values)),
            case=BARE,
            known_by="computed",
            inputs=(row.number, one.voltage.number),
            rests_on=row.rests_on | one.voltage.rests_on,
            formula="by the zener of the rail, and no less than the plate",
            source=row.source,
        )
    for name in capacitors_of(one):
        repeated(context, row, BARE, part(name))


def _said_by(context: Context, shape: FlybackShape, zener: str | None) -> None:
    """What holds each output, as a word; nothing where nobody wrote what the control senses."""
    senses = context.structure.control.senses
    if not senses:
        return
    by_winding = zener is not None or all("." in name for name in senses)
    for one in shape.outputs:
        context.ledger.write(
            one.subject,
            "output.by",
            Category.of("another winding" if by_winding else "its own sensing"),
            known_by="computed",
            formula=f"{zener} on the rail" if zener is not None else "what the control senses",
            source="the circuit",
        )


def capacitors_of(one: OutputShape) -> tuple[str, ...]:
    """Every capacitor of an output."""
    return tuple(leaf.name for element in (*one.walked.capacitors, *one.walked.filtered) for leaf in leaves(element))


def solve_lost(context: Context, shape: FlybackShape) -> None:
    """Each output with nothing that regulates and no load, against which its capacitors are held."""
    clamp = clamp_of(context)
    for one in shape.outputs:
        row = _lost(context, shape, one, clamp)
        for name in capacitors_of(one):
            repeated(context, row, BARE, part(name))


def _lost(context: Context, shape: FlybackShape, one: OutputShape, clamp: ClampShape) -> Entry:
    ledger = context.ledger
    held = _across(context, one)
    if held is not None:
        return held
    if clamp.kind == "breakdown":
        inputs: Inputs = {"breakdown": breakdown_voltage(context, clamp), "ratio": one.ratio, "drop": one.drop}
        return _rises(context, shape, one, INTO_BREAKDOWN, inputs)
    if clamp.kind == "resistor-capacitor-diode":
        inputs = {
            **limit_inputs(context, shape, current_limit(context, shape)),
            "resistance": joined(context, clamp.element, "part.resistance", "clamp_resistance"),
            "ratio": one.ratio,
            "drop": one.drop,
        }
        return _rises(context, shape, one, INTO_RESISTOR, inputs)
    missing = (OpenFact(SUPPLY, "circuit.clamp"),) if clamp.kind == "unknown" else ()
    note = "" if missing else "without a clamp it rises until the switch or the capacitor gives way"
    return ledger.hole(one.subject, "voltage_regulation_lost", missing, case=BARE, note=note)


def _rises(context: Context, shape: FlybackShape, one: OutputShape, model: Model, inputs: Inputs) -> Entry:
    """Up to where the clamp takes all of it; no less than where the switch is past its rating, of which nothing is
    known, and than what losses leave of it."""
    ledger = context.ledger
    most = ledger.work_out(model, inputs, [(one.subject, "voltage_regulation_lost", "voltage")], case=BARE)[0]
    plate = one.voltage.value
    if not isinstance(most.value, Value) or not isinstance(plate, Value):
        return most
    near = LEAST_RISE * most.value.near
    rating = context.value(part(shape.switch or ""), "allowed.switch_voltage")
    bulk, ratio = bulk_high(context).value, one.ratio.value
    if isinstance(bulk, Value) and isinstance(ratio, Value) and rating is not None:
        near = min(near, max(0.0, rating.near - bulk.far) / ratio.far - 1.0)
    elif shape.switch is not None:
        near = 0.0
    near = max(plate.near, near)
    far = max(most.value.far, near)
    return ledger.write(
        one.subject,
        "voltage_regulation_lost",
        Value(near, near, far, max(far, most.value.high)),
        case=BARE,
        known_by="computed",
        inputs=(most.number, one.voltage.number),
        rests_on=most.rests_on | one.voltage.rests_on,
        formula=most.formula,
        source=most.source,
    )


# What losses, the leakage's own power and a small preload leave of the greatest figure at the least.
LEAST_RISE = 0.5


def _across(context: Context, one: OutputShape) -> Entry | None:
    """What breaks down across the output holds it, for as long as it bears the power; None where nothing does."""
    zeners = [name for name in _beside_the_first(context, one) if context.structure.must_be(name, *_ZENERS)]
    rows = [breakdown(context, name) for name in zeners]
    known = [row for row in rows if isinstance(row.value, Value)]
    if not known:
        return None
    values = [row.value for row in known if isinstance(row.value, Value)]
    least = Value(*(min(column) for column in zip(*(value.numbers() for value in values), strict=True)))
    if len(known) < len(rows):  # another may break down earlier, and nothing is known of it
        least = Value(0.0, 0.0, least.far, least.high)
    return context.ledger.write(
        one.subject,
        "voltage_regulation_lost",
        least,
        case=BARE,
        known_by="computed",
        inputs=tuple(row.number for row in known),
        rests_on=frozenset().union(*(row.rests_on for row in known)),
        formula=f"{' and '.join(zeners)} breaks down, and shorts the output where it cannot bear the power",
        source="the circuit",
    )


def _beside_the_first(context: Context, one: OutputShape) -> list[str]:
    """What lies by itself across the output, with no more than a choke between it and the first capacitor.

    All of the current flows where no load takes it: behind a resistor or a diode what breaks down holds what is behind.
    """
    found: list[str] = []
    filled = False
    for step in one.walked.path:
        if step.how == "across":
            found += side_by_side(step.element)
            filled = True
        elif filled and not all(context.structure.must_be(name, *_CHOKES) for name in step.names):
            break
    return found
