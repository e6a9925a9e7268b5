"""The core of a transformer as a conductor: its side, and what lies between it and the winding on the bobbin.

A ferrite conducts well enough to be a path. The wall of the bobbin is what stands between the core's centre leg and the
winding wound on it: where the two belong to different sides that wall is solid insulation, a single layer of it. A
floating core counts on the worse side, as the other side of whatever faces it; the way on from it to that side may add,
so what is found there is the least there is. The outer legs are the last conductor of the list (`winding.boundaries`);
the flange of the bobbin is a barrier of the file, with its thickness as a sheet and the way round it as creepage.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from derate.design.layers import Layer
from derate.design.load import Design
from derate.design.stated import Stated
from derate.ledger.entry import Entry, Subject
from derate.required.circuits import core_end, end_of, winding_side
from derate.required.needed import thickness_row
from derate.required.row import Writer
from derate.required.winding import CORE, boundary
from derate.required.wire import possible_wires
from derate.terms.quantities import QuantityName, each
from derate.terms.values import Category, Value

SURE_SIDES = ("primary", "secondary")


class OnBobbin(NamedTuple):
    """The first conductor from the core outwards, and what lies between the two.

    winding: its name, '' when the list has none; side: primary | secondary | unknown
    between: bobbin, sheets and tape under it, shields that float among them
    """

    winding: str
    side: str
    between: tuple[Layer, ...]


def on_the_bobbin(name: str, layers: tuple[Layer, ...], design: Design) -> OnBobbin:
    """What faces the core's centre leg. A floating shield is no side of its own: what lies beyond it is looked at."""
    between: list[Layer] = []
    for layer in layers:
        side = winding_side(f"{name}.{layer.name}", design) if layer.what == "winding" else ""
        if layer.what == "winding" and side != "core":
            return OnBobbin(layer.name, side, tuple(between))
        between.append(layer)
    return OnBobbin("", "unknown", tuple(between))


def core_rows(writer: Writer, subject: Subject, name: str, design: Design, insulation: Entry) -> None:
    """Rows about the core of one transformer."""
    _side(writer, subject, name, design)
    _path(writer, subject, name, design)
    if not writer.family.has("insulation_thickness"):
        return
    thickness_row(writer, subject, insulation)
    layers = design.layers[name].layers if name in design.layers else None
    if layers is None:
        for quantity in each(
            "transformer.core_faces", "found.bobbin_wall", "found.core_layers", "transformer.core_wire"
        ):
            writer.hole(subject, quantity, (f"{name}: found.tape_layers",), note="nobody listed its layers")
        return
    met = on_the_bobbin(name, layers, design)
    floating = _faces(writer, subject, name, met, core_end(design, f"{name} core").side)
    _wall(writer, subject, name, design, met, floating)
    _layers(writer, subject, name, met)
    _wire(writer, subject, name, met)


def _side(writer: Writer, subject: Subject, name: str, design: Design) -> None:
    block = design.file.transformers[name].core
    tied = block.tied_to if block is not None else None
    quantity: QuantityName = "transformer.core_side"
    missing = (f"{name}: core.tied_to",)
    if tied is None or tied.word is None:
        writer.hole(subject, quantity, missing)
        return
    side = end_of(f"{name} core", design).side
    word = "floating" if side == "core" else side
    if word in (*SURE_SIDES, "floating"):
        writer.row(subject, quantity, Category.of(word), formula=f"tied to {tied.word}", place=tied.place)
    else:
        writer.hole(subject, quantity, missing, note=f"'{tied.word}' has no side")


def _path(writer: Writer, subject: Subject, name: str, design: Design) -> None:
    named = any("core" in barrier or any("core" in point for point in one.between)
                for barrier, one in design.file.barriers.items())  # fmt: skip
    quantity: QuantityName = "transformer.core_path"
    if named:
        writer.row(subject, quantity, Category.of("yes"), formula="a barrier of the file names the core")
    else:
        writer.hole(subject, quantity, (f"{name}: distance from the core to the other side",))


def _faces(writer: Writer, subject: Subject, name: str, met: OnBobbin, core: str) -> bool:
    """Whether the core faces the other side through the bobbin; returns whether it does so by floating."""
    quantity: QuantityName = "transformer.core_faces"
    if core == "unknown" or met.side not in SURE_SIDES:
        missing = [f"{name}: core.tied_to"] if core == "unknown" else []
        if met.side not in SURE_SIDES:
            missing.append(f"{name}.{met.winding}: winding.tied_to" if met.winding else f"{name}: found.tape_layers")
        writer.hole(subject, quantity, tuple(missing))
        return False
    other = core == "core" or (core in SURE_SIDES and core != met.side)
    known = {"core": "a floating core, counted on the worse side", "earth": "an earthed core"}
    said = known.get(core, f"a {core} core")
    words = f"{met.winding} ({met.side}) on the bobbin, over {said}"
    writer.row(subject, quantity, Category.of("yes" if other else "no"), formula=words)
    return core == "core"


def _wall(writer: Writer, subject: Subject, name: str, design: Design, met: OnBobbin, floating: bool) -> None:
    """Thickness of the thickest single solid layer: two thin ones are not one thick one."""
    solid = [one for one in met.between if one.what in ("bobbin", "sheet")]
    known = [one for one in solid if one.thickness is not None]
    if not known:
        note = "" if solid else "its list has no bobbin"
        writer.hole(subject, "found.bobbin_wall", (f"{name}: thickness of the bobbin",), note=note)
        return
    numbers = zip(*(one.thickness.numbers() for one in known if one.thickness is not None), strict=True)
    low, near, far, high = (max(column) for column in numbers)
    if floating or len(known) < len(solid):
        far = high = inf
    note = "the way on from a floating core to the other side adds to it" if floating else ""
    first = known[0]
    known_by = design.evidence(Stated(first.thickness, first.place, first.known_by), "transformers")
    writer.row(
        subject, "found.bobbin_wall", Value(low, near, far, high), formula="thickest single layer under the winding",
        place=first.place, known_by=known_by, note=note,
    )  # fmt: skip


def _layers(writer: Writer, subject: Subject, name: str, met: OnBobbin) -> None:
    """Whole layers of tape on the bobbin under that winding."""
    floating = [one.name for one in met.between if one.what == "winding"]
    found = boundary(CORE, met.winding, met.between, floating)
    if found.layers is None:
        writer.hole(subject, "found.core_layers", (f"{name}: found.tape_layers",), note=found.note)
        return
    words = "whole layers of tape between the bobbin and the winding"
    writer.row(subject, "found.core_layers", found.layers, formula=words, note=found.note)


def _wire(writer: Writer, subject: Subject, name: str, met: OnBobbin) -> None:
    wire = writer.ledger.find(Subject("winding", (f"{name}.{met.winding}",)), "winding.wire") if met.winding else None
    word = wire.value.word if wire is not None and isinstance(wire.value, Category) else None
    if word is None or wire is None:
        writer.hole(subject, "transformer.core_wire", (f"{name}: winding.wire",))
        return
    writer.row(subject, "transformer.core_wire", possible_wires(word), formula=f"wire of {met.winding}", inputs=[wire])
