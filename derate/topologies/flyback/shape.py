"""The flyback converter as its models see it: turns ratios, drops, inductance, reflected voltage, power, control.

`shape_of` gathers every input once, as rows of the ledger; what nobody stated is derived where it can be, assumed by a
pack where one does, and otherwise a hole that names the fact, which every stress that needs it passes on.
"""

from __future__ import annotations

from collections.abc import Iterable

from derate.circuit import magnetics
from derate.circuit.elementary import passed
from derate.circuit.flyback import REFLECTED_VOLTAGE
from derate.circuit.output_stage import power_to_rectifiers
from derate.design.kinds import FAMILIES
from derate.design.structure import Output
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model
from derate.stress.context import Context, part
from derate.stress.mains.bulk_states import USUAL_FREQUENCY
from derate.stress.parts.windings import PRIMARY, STANDING, assumed, assumed_leakage, primary_inductance
from derate.terms.quantities import FULL_LOAD, RUNNING, full_load_of
from derate.terms.tuples import NamedTuple
from derate.terms.values import Curve, Value
from derate.topologies.flyback.circuit import Primary, parts_of

__all__ = [
    "PRIMARY",
    "STANDING",
    "OutputShape",
    "FlybackShape",
    "assumed",
    "forward_drop",
    "shape_of",
    "switching_hertz",
]
FULL = Case(RUNNING, load=FULL_LOAD)


class OutputShape(NamedTuple):
    """One output: its windings, rectifier and capacitors, and the rows its stresses start from."""

    name: str
    walked: Output
    ratio: Entry  # primary turns over its own [-]
    voltage: Entry
    drop: Entry
    current: Entry  # full load [A]
    least: float  # least load [A], zero unless the plate gives a range

    @property
    def subject(self) -> Subject:
        """The output as a subject."""
        return Subject("output", (self.name,))


class FlybackShape(NamedTuple):
    """The converter: rows in SI units.

    boundary: each period begins when the secondary has stopped; else the frequency is fixed
    frequency: of the switch, as stated; cap: the one it is worked out with, of a boundary control the highest (None:
        nothing caps it)
    reflected: secondary voltage at the primary; delivered: to rectifiers and outputs; carried: through the primary
    leakage_share: leakage over inductance
    """

    primary: Primary | None
    transformer: Subject
    boundary: bool
    frequency: Entry | None
    inductance: Entry
    leakage: Entry
    outputs: tuple[OutputShape, ...]
    reference: OutputShape | None
    reflected: Entry
    delivered: Entry
    carried: Entry
    cap: Entry | None

    @property
    def switch(self) -> str | None:
        """The switch's name."""
        return self.primary.switch if self.primary is not None else None


def switching_hertz(shape: FlybackShape) -> float:
    """The switching frequency at which a capacitor's columns are read [Hz]."""
    value = shape.frequency.value if shape.frequency is not None else None
    return value.middle if isinstance(value, Value) and 1e3 <= value.middle <= 1e8 else USUAL_FREQUENCY


def shape_of(context: Context) -> FlybackShape:
    """Gather the converter's inputs."""
    structure = context.structure
    primary = parts_of(structure).primary
    winding = primary.winding if primary is not None else None
    transformer = Subject("transformer", ((winding or "").split(".")[0] or "transformer",))
    kind = context.word(SUPPLY, "control.type")
    boundary = kind in ("boundary", "self-oscillating")
    frequency = context.fact(SUPPLY, "control.frequency")
    if kind is None:  # what needs no frequency is worked out all the same
        frequency = context.ledger.hole(SUPPLY, "control.frequency", (OpenFact(SUPPLY, "control.type"),), case=STANDING)
    elif frequency is None and kind != "self-oscillating":  # a boundary control may have a cap that nobody stated
        frequency = context.need(SUPPLY, "control.frequency")
    outputs = tuple(_output(context, name, walked, winding) for name, walked in structure.outputs.items())
    inductance = primary_inductance(context, transformer, winding)
    leakage = context.fact(transformer, "transformer.leakage") or assumed_leakage(context, transformer, inductance)
    reference = _reference(context, outputs)
    reflected = _reflected(context, reference)
    delivered = _delivered(context, outputs)
    return FlybackShape(
        primary,
        transformer,
        boundary,
        frequency,
        inductance,
        leakage,
        outputs,
        reference,
        reflected,
        delivered,
        _carried(context, delivered),
        _highest(context, frequency) if boundary else frequency,
    )


def _highest(context: Context, stated: Entry | None) -> Entry | None:
    """The highest frequency of a boundary control: its stated range is where it runs, and only its top caps it."""
    if stated is None or not isinstance(stated.value, Value) or stated.value.near == stated.value.far:
        return stated
    top = Value(stated.value.far, stated.value.far, stated.value.far, stated.value.high)
    return context.ledger.write(
        SUPPLY,
        "frequency",
        top,
        case=STANDING,
        known_by="computed",
        inputs=(stated.number,),
        formula="top of the range the control runs in",
        source="definition",
        rests_on=stated.rests_on,
    )


# ---- outputs ---------------------------------------------------------------------------------------------------------

RATIO = Model.of("turns ratio", magnetics.ratio_of_turns("own"), "definition", "primary turns / turns of the winding")


def turns_ratio(context: Context, subject: Subject, primary: str | None, windings: Iterable[str]) -> Entry:
    """Primary turns over the turns of windings in series, as a row of their subject."""
    names = tuple(windings)
    if primary is None or not names:
        lacking = (
            OpenFact(SUPPLY, "circuit.primary") if primary is None else OpenFact(subject, "its winding on the path")
        )
        return context.ledger.hole(subject, "turns_ratio", (lacking,), case=STANDING)
    inputs: dict[str, Entry | Value | float] = {
        "primary": context.need(Subject("winding", (primary,)), "winding.turns")
    }
    for k, name in enumerate(names):
        inputs[f"own_{k}"] = context.need(Subject("winding", (name,)), "winding.turns")
    model = RATIO.by(magnetics.ratio_of_turns(*(name for name in inputs if name != "primary")))
    return context.ledger.work_out(model, inputs, [(subject, "turns_ratio", "ratio")], case=STANDING)[0]


def _output(context: Context, name: str, walked: Output, primary: str | None) -> OutputShape:
    subject = Subject("output", (name,))
    current = context.fact(subject, "plate.full_current") or context.need(subject, "plate.current")
    plate = context.value(subject, "plate.current")
    least = plate.low if plate is not None and plate.low < plate.high else 0.0
    return OutputShape(
        name,
        walked,
        turns_ratio(context, subject, primary, walked.windings),
        _voltage(context, subject),
        forward_drop(context, subject, walked.rectifier),
        current,
        least,
    )


def _voltage(context: Context, subject: Subject) -> Entry:
    """The size of an output's voltage (a negative rail counts by its size)."""
    stated = context.need(subject, "plate.voltage")
    if not isinstance(stated.value, Value) or stated.value.low >= 0:
        return stated
    low, near, far, high = (abs(one) for one in reversed(stated.value.numbers()))
    return context.ledger.write(
        subject,
        "plate.voltage",
        Value(low, near, far, high),
        case=STANDING,
        known_by=stated.known_by,
        inputs=(stated.number,),
        place=stated.place,
        rests_on=stated.rests_on,
        formula="size of the voltage",
        source="definition",
    )


BODY_DROP = 1.2  # of a transistor's body diode at its current, at most [V]; common practice, no source

ANY_DROP = 1.7  # of what may be a diode as well [V]: as the packs assume of one at most


def _known(context: Context, rectifier: Iterable[str]) -> bool:
    return all(context.structure.must_be(name, *FAMILIES["switch"], "Schottky diode") for name in rectifier)


def synchronous(context: Context, rectifier: Iterable[str]) -> bool:
    """Whether a transistor stands in the place of the rectifier: what stands there, not its name, tells."""
    return any(context.structure.may_be(name, *FAMILIES["switch"]) for name in rectifier)


def forward_drop(context: Context, subject: Subject, rectifier: tuple[str, ...]) -> Entry:
    """Drop of an output's rectifier while it conducts, as a row of the output; diodes on a path stand in parallel."""
    if not rectifier:
        return context.ledger.hole(
            subject, "forward_drop", (OpenFact(subject, "its rectifier on the path"),), case=STANDING
        )
    first = part(rectifier[0])
    if synchronous(context, rectifier):
        return context.ledger.write(
            subject,
            "forward_drop",
            Value.between(0.0, BODY_DROP if _known(context, rectifier) else ANY_DROP),
            case=STANDING,
            known_by="computed",
            formula="from nothing up to the drop of a diode, which its body is while its drive rests",
            source="common practice, no source",
        )
    stated = context.fact(first, "rated.forward_voltage")
    if stated is not None and isinstance(stated.value, Curve | Value):
        points = [v for _, v in stated.value.points] if isinstance(stated.value, Curve) else [stated.value]
        # the maker's figure is a greatest one at its own current: the drop itself lies a fifth to either side of it
        value = Value.between(0.8 * min(v.near for v in points), 1.2 * max(v.far for v in points))
        return context.ledger.write(
            subject,
            "forward_drop",
            value,
            case=STANDING,
            known_by=stated.known_by,
            inputs=(stated.number,),
            rests_on=stated.rests_on,
            formula="forward voltage of the sheet, a fifth to either side",
            source="common practice, no source",
            place=stated.place,
        )
    schottky = context.structure.must_be(rectifier[0], "Schottky diode")
    row = assumed(
        context, "schottky_drop" if schottky else "rectifier_drop", first, "forward_drop", "rated.forward_voltage"
    )
    return context.ledger.work_out(AS_STATED, {"value": row}, [(subject, "forward_drop", "value")], case=STANDING)[0]


AS_STATED = Model.of("as stated", passed("value"), "definition")


def _reference(context: Context, outputs: tuple[OutputShape, ...]) -> OutputShape | None:
    """The output that is held to its voltage: the sensed one, of several or of none the one that takes the most power.

    By power and then by name, never by the order in which they are written.
    """
    senses = context.structure.control.senses
    sensed = [one for one in outputs if one.name in senses]

    def power(one: OutputShape) -> tuple[float, str]:
        voltage, current = one.voltage.value, one.current.value
        known = isinstance(voltage, Value) and isinstance(current, Value)
        return voltage.far * current.far if known else 0.0, one.name  # type: ignore[union-attr]

    return max(sensed or outputs, key=power, default=None)


REFLECTED = Model.of("reflected voltage", REFLECTED_VOLTAGE, "AN-4137 (2004) eq 5", "turns ratio × (output + drop)")


def _reflected(context: Context, reference: OutputShape | None) -> Entry:
    if reference is None:
        return context.ledger.hole(PRIMARY, "reflected_voltage", (OpenFact(SUPPLY, "circuit.outputs"),), case=STANDING)
    inputs = {"ratio": reference.ratio, "voltage": reference.voltage, "drop": reference.drop}
    return context.ledger.work_out(
        REFLECTED,
        inputs,
        [(PRIMARY, "reflected_voltage", "reflected")],
        case=STANDING,
        note=f"by output {reference.name}",
    )[0]


# ---- power -----------------------------------------------------------------------------------------------------------


def _delivered(context: Context, outputs: tuple[OutputShape, ...], alone: str = "") -> Entry:
    """Power to rectifiers and outputs: all full, or one alone full and the others at their least."""
    case = FULL if not alone else Case(RUNNING, load=full_load_of(alone))
    if not outputs:
        return context.ledger.hole(PRIMARY, "output_power", (OpenFact(SUPPLY, "circuit.outputs"),), case=case)
    inputs: dict[str, Entry | Value | float] = {}
    for k, one in enumerate(outputs):
        full = not alone or one.name == alone
        inputs |= {
            f"voltage_{k}": one.voltage,
            f"drop_{k}": one.drop,
            f"current_{k}": one.current if full else one.least,
        }
    model = Model.of(
        "power to rectifiers and outputs",
        power_to_rectifiers(len(outputs)),
        "AN-4137 (2004), definition",
        "sum of (output + drop) × current",
    )
    return context.ledger.work_out(model, inputs, [(PRIMARY, "output_power", "power")], case=case)[0]


def delivered_alone(context: Context, shape: FlybackShape, name: str) -> Entry:
    """Power to rectifiers and outputs with one output full and the others at their least."""
    return _delivered(context, shape.outputs, name)


def _carried(context: Context, delivered: Entry) -> Entry:
    """Power through the primary: at least what rectifiers and outputs take, at most what the bulk gives."""
    drawn = context.need(SUPPLY, "power_drawn", FULL)
    inputs = (delivered.number, drawn.number)
    rests = delivered.rests_on | drawn.rests_on
    if not isinstance(delivered.value, Value) or not isinstance(drawn.value, Value):
        missing = (*delivered.missing, *drawn.missing)
        return context.ledger.hole(
            PRIMARY,
            "power_carried",
            missing,
            case=FULL,
            note=delivered.note or drawn.note,
            inputs=inputs,
            rests_on=rests,
        )
    d, w = delivered.value, drawn.value
    near, low = max(d.near, 0.0), d.low
    far, high = max(w.far, d.far), max(w.high, d.high)
    return context.ledger.write(
        PRIMARY,
        "power_carried",
        Value(min(low, near), near, far, max(far, high)),
        case=FULL,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula="between what the outputs take and what the bulk gives",
        source="conservation of energy; controller, core and switch take their part of the difference elsewhere",
    )
