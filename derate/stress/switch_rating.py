"""The voltage limit of the switch that holds: drain to source,
or of a bipolar one that which its base drive asks for."""

from __future__ import annotations

from derate.ledger.entry import Entry, Subject
from derate.stress.context import Context, part
from derate.stress.converter import Shape
from derate.terms.values import Category, Curve, Value


def allowed_voltage(context: Context, shape: Shape) -> None:
    """The voltage limit that holds: drain-source, or of a bipolar switch the one its base drive asks for."""
    if shape.switch is None:
        return
    subject, structure, ledger = part(shape.switch), context.structure, context.ledger
    if structure.must_be(shape.switch, "MOSFET", "integrated switch"):
        rated = context.need(subject, "rated.voltage")
        _copy_limit(context, subject, rated, "drain to source")
        return
    if not structure.must_be(shape.switch, "bipolar transistor"):
        ledger.hole(subject, "allowed.switch_voltage", (f"{subject}: part.kind",))
        return
    drive = context.fact(subject, "part.base_drive")
    words = drive.value.members if drive is not None and isinstance(drive.value, Category) else ()
    open_base = context.need(subject, "rated.collector_emitter_voltage")
    closed = ("emitter switched", "negative at turn-off")
    if words and all(word in closed for word in words):
        _copy_limit(context, subject, context.need(subject, "rated.collector_base_voltage"), "collector to base")
    elif words and not any(word in closed for word in words):
        _copy_limit(context, subject, open_base, "collector to emitter, base open")
    else:
        base = context.need(subject, "rated.collector_base_voltage")
        if isinstance(base.value, Value) and isinstance(open_base.value, Value):
            a, b = open_base.value, base.value
            low, high = min(a.near, b.near), max(a.far, b.far)
            ledger.write(
                subject, "allowed.switch_voltage", Value(min(a.low, low), low, high, max(b.high, high)),
                known_by="computed", inputs=(open_base.number, base.number),
                rests_on=open_base.rests_on | base.rests_on,
                formula="between base open and base held off", source="how the base is driven is not known",
                note=f"find out: {subject}: part.base_drive",
            )  # fmt: skip
        else:
            missing = (*open_base.missing, *base.missing, f"{subject}: part.base_drive")
            ledger.hole(subject, "allowed.switch_voltage", missing)


def _copy_limit(context: Context, subject: Subject, rated: Entry, words: str) -> None:
    ledger = context.ledger
    value = rated.value
    if isinstance(value, Curve) and len(value.points) == 1:
        value = value.points[0][1]
    if isinstance(value, Value):
        ledger.write(
            subject, "allowed.switch_voltage", value, known_by=rated.known_by, inputs=(rated.number,),
            rests_on=rated.rests_on, formula=words, source="data sheet", place=rated.place,
        )  # fmt: skip
    else:
        ledger.hole(subject, "allowed.switch_voltage", rated.missing or (f"{subject}: {rated.quantity}",))
