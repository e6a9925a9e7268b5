"""The transformer as insulation: its inside, wire, core, and the requirement rows of layers, margins, sleeves."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from math import inf

from derate.design.forms import INTO
from derate.design.load import Design
from derate.design.record import Stated
from derate.design.transformers import Layer, Lead, Transformer
from derate.insulation.circuits import core_end, end_of, winding_side
from derate.insulation.distances import micrometres, read, rounded_up
from derate.insulation.needed import tape_layers_row, thickness_row
from derate.insulation.row import Writer, on_paper
from derate.ledger.entry import Entry, OpenFact, Subject
from derate.terms.quantities import each
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Place, Value

# The inside of a transformer: layers between conductors, winding wire, the core as a conductor.


# Winding wire as insulation: thickness from two diameters, lacquer of enamelled wire.
#
# Enamel is functional insulation only, whatever it breaks down at. Triple-insulated wire cures the creepage inside
# the winding only: pins, core and board keep their distances.


def possible_wires(word: str) -> Category:
    """What a wire of this word may be: insulated wire that nobody named may be triple-insulated or not."""
    return Category.of("insulated", "triple-insulated") if word == "insulated" else Category.of(word)


def insulation_thickness(bare: float, outside: float) -> int:
    """Insulation on one side of a wire [um] from its bare and outside diameter [m]: half the difference, rounded down.

    Raises ValueError where the outside is not above the bare diameter.

    >>> insulation_thickness(0.52e-3, 0.72e-3)
    100
    """
    difference = micrometres(outside) - micrometres(bare)
    if difference <= 0 or bare <= 0:
        raise ValueError("the outside diameter has to be above the bare one")
    return int(difference / 2)


# The inside of a transformer: layers between the nearest conductors of either side, on every path of its list.
#
# A shield counts as the side it is tied to; a floating one belongs to neither, and the layers on its two sides add at
# best. A tape that stops short of the flange is no whole layer. Enamel counts for nothing here.


CORE = "core"
NOTHING = Value.exact(0.0)


class Boundary(NamedTuple):
    """Two neighbouring conductors of opposite sides, and the whole layers of tape between them."""

    one: str
    other: str
    layers: Value | None  # None when some tape was not counted
    short: bool  # a tape that stops short lies between them
    note: str = ""


def boundaries(name: str, layers: tuple[Layer, ...], design: Design) -> tuple[tuple[Boundary, ...], tuple[str, ...]]:
    """Every place in the list where the primary side meets the secondary side; and windings whose side is unknown.

    The core's outer legs are the last conductor of the list, of the side it is tied to; a floating core is primary, as
    test reports count it. Air lies between them and the
    winding too, and is a distance of its own: the tape outside is the least of what is there.
    """
    found: list[Boundary] = []
    unknown: list[str] = []
    last: tuple[str, str] | None = None  # the conductor met last: its name and side
    between: list[Layer] = []
    floating: list[str] = []
    for layer in layers:
        if layer.what != "winding":
            between.append(layer)
            continue
        full = f"{name}.{layer.name}"
        side = winding_side(full, design)
        if side == "unknown":
            unknown.append(full)
            last, between, floating = None, [], []
            continue
        if side not in ("primary", "secondary"):
            floating.append(layer.name)
            between.append(layer)
            continue
        if last is not None and last[1] != side:
            found.append(boundary(last[0], layer.name, between, floating))
        last, between, floating = (layer.name, side), [], []
    core = core_end(design, f"{name} core").side
    if core == CORE:
        core = "primary"
    if last is not None and core in ("primary", "secondary") and core != last[1]:
        outer = boundary(last[0], CORE, between, floating)
        if outer.layers is not None:
            wound = tape_on_core(name, design)
            low, near = outer.layers.low + wound.low, outer.layers.near + wound.near
            note = outer.note or "tape outside and on the core; the air between adds to it"
            outer = outer._replace(layers=Value(low, near, inf, inf), note=note)
        found.append(outer)
    return tuple(found), tuple(dict.fromkeys(unknown))


def where_sides_meet(name: str, layers: tuple[Layer, ...], design: Design) -> frozenset[Place]:
    """Places of the layers that lie between conductors of opposite sides, or of a side nobody knows, or at the core."""
    found: list[Place] = []
    last: str | None = None  # the side met last, None at the centre leg
    between: list[Layer] = []
    for layer in layers:
        side = winding_side(f"{name}.{layer.name}", design) if layer.what == "winding" else ""
        if side in ("primary", "secondary", "unknown"):
            if last is None or side != last or side == "unknown":
                found += [one.place for one in between]
            last, between = side, []
        elif not side:
            between.append(layer)
    core = core_end(design, f"{name} core").side
    if last is None or last != ("primary" if core == CORE else core):
        found += [one.place for one in between]
    return frozenset(found)


def boundary(one: str, other: str, between: Sequence[Layer], floating: Sequence[str]) -> Boundary:
    """The whole layers between two conductors; between: what lies there, floating shields among it by name."""
    groups: list[list[Layer]] = [[]]
    for layer in between:
        if layer.what == "winding":
            groups.append([])
        else:
            groups[-1].append(layer)
    counts = [_layers(group) for group in groups]
    short = any(layer.short_by is not None for layer in between)
    note = "a tape stops short of the flange and is no whole layer" if short else ""
    if any(count is None for count in counts):
        return Boundary(one, other, None, short, "a tape was not counted")
    known = [count for count in counts if count is not None]
    if len(known) == 1:
        return Boundary(one, other, known[0], short, note)
    # Past a floating shield: the better side alone is sure, both together are the best that can be said.
    low, near = max(count.low for count in known), max(count.near for count in known)
    far, high = sum(count.far for count in known), sum(count.high for count in known)
    note = "; ".join(filter(None, (note, f"floating {', '.join(floating)} between them")))
    return Boundary(one, other, Value(min(low, near), near, far, max(high, far)), short, note)


def _layers(group: list[Layer]) -> Value | None:
    total = NOTHING
    for layer in group:
        if layer.what == "sheet":
            total = _plus(total, Value.exact(1.0))
        elif layer.what == "tape" and layer.short_by is None:
            if layer.layers is None:
                return None
            total = _plus(total, layer.layers)
    return total


def _plus(one: Value, other: Value) -> Value:
    return Value(*(a + b for a, b in zip(one.numbers(), other.numbers(), strict=True)))


def tape_on_core(name: str, design: Design) -> Value:
    """Layers of tape wound round the core, as `core.tape_to_windings: 2 layers` says; 0 where nothing is sure."""
    block = design.file.transformers[name].core
    stated = block.tape_to_windings if block is not None else None
    counted = re.match(r"(\d+)(?:\.\.(\d+))? layers?\b", stated.text) if stated is not None else None
    if counted is None:
        return Value.exact(0.0)
    least = float(counted[1])
    return Value.between(least, max(least, float(counted[2] or least)))


# The core of a transformer as a conductor: its side, and what lies between it and the winding on the bobbin.
#
# A ferrite conducts well enough to be a path. The wall of the bobbin is what stands between the core's centre leg and
# the winding wound on it: where the two belong to different sides that wall is solid insulation, a single layer of
# it. A floating core counts on the worse side, as the other side of whatever faces it; the way on from it to that
# side may add, so what is found there is the least there is. The outer legs are the last conductor of the list
# (`winding.boundaries`); the flange of the bobbin is a barrier of the file, with its thickness as a sheet and the way
# round it as creepage.


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
    thickness_row(writer, subject, insulation)
    layers = design.layers[name].layers if name in design.layers else None
    if layers is None:
        for quantity in each(
            "transformer.core_faces", "found.bobbin_wall", "found.core_layers", "transformer.core_wire"
        ):
            writer.hole(subject, quantity, (OpenFact(subject, "found.tape_layers"),), note="nobody listed its layers")
        return
    met = on_the_bobbin(name, layers, design)
    floating = _faces(writer, subject, name, met, core_end(design, f"{name} core").side)
    _wall(writer, subject, name, design, met, floating)
    _layers_over_core(writer, subject, name, met)
    _wire(writer, subject, name, met)


def _side(writer: Writer, subject: Subject, name: str, design: Design) -> None:
    block = design.file.transformers[name].core
    tied = block.tied_to if block is not None else None
    quantity: QuantityName = "transformer.core_side"
    missing = (OpenFact(subject, "core.tied_to"),)
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
    places = design.file.barriers.items()
    named = any(any(point.split(" ")[-1] == "core" for point in one.between) for _, one in places)
    # of a core tied to the output a place that is only called after a core may be the way on, within the output
    if core_end(design, f"{name} core").side != "secondary":
        named = named or any(re.search(r"\bcore\b", barrier) is not None for barrier, _ in places)
    quantity: QuantityName = "transformer.core_path"
    if named:
        writer.row(subject, quantity, Category.of("yes"), formula="a barrier of the file names the core")
    else:
        writer.hole(subject, quantity, (OpenFact(subject, "distance from the core to the other side"),))


def _faces(writer: Writer, subject: Subject, name: str, met: OnBobbin, core: str) -> bool:
    """Whether the core faces the other side through the bobbin; returns whether it does so by floating."""
    quantity: QuantityName = "transformer.core_faces"
    if core == "unknown" or met.side not in SURE_SIDES:
        missing = [OpenFact(subject, "core.tied_to")] if core == "unknown" else []
        if met.side not in SURE_SIDES:
            missing.append(_tied(name, met.winding) if met.winding else OpenFact(subject, "found.tape_layers"))
        writer.hole(subject, quantity, tuple(missing))
        return False
    other = core == "core" or (core in SURE_SIDES and core != met.side)
    known = {"core": "a floating core, counted on the worse side", "earth": "an earthed core"}
    said = known.get(core, f"a {core} core")
    words = f"{met.winding} ({met.side}) on the bobbin, over {said}"
    writer.row(subject, quantity, Category.of("yes" if other else "no"), formula=words)
    return core == "core"


def _tied(name: str, winding: str) -> OpenFact:
    return OpenFact(Subject("winding", (f"{name}.{winding}",)), "winding.tied_to")


def _wall(writer: Writer, subject: Subject, name: str, design: Design, met: OnBobbin, floating: bool) -> None:
    """Thickness of the thickest single solid layer: two thin ones are not one thick one."""
    solid = [one for one in met.between if one.what in ("bobbin", "sheet")]
    known = [one for one in solid if one.thickness is not None]
    if not known:
        note = "" if solid else "its list has no bobbin"
        writer.hole(subject, "found.bobbin_wall", (OpenFact(subject, "thickness of the bobbin"),), note=note)
        return
    numbers = zip(*(one.thickness.numbers() for one in known if one.thickness is not None), strict=True)
    low, near, far, high = (max(column) for column in numbers)
    if floating or len(known) < len(solid):
        far = high = inf
    note = "the way on from a floating core to the other side adds to it" if floating else ""
    first = known[0]
    known_by = design.evidence(Stated(first.thickness, first.place, first.known_by), "transformers")
    writer.row(
        subject,
        "found.bobbin_wall",
        Value(low, near, far, high),
        formula="thickest single layer under the winding",
        place=first.place,
        known_by=known_by,
        note=note,
    )


def _layers_over_core(writer: Writer, subject: Subject, name: str, met: OnBobbin) -> None:
    """Whole layers of tape on the bobbin under that winding."""
    floating = [one.name for one in met.between if one.what == "winding"]
    found = boundary(CORE, met.winding, met.between, floating)
    if found.layers is None:
        writer.hole(subject, "found.core_layers", (OpenFact(subject, "found.tape_layers"),), note=found.note)
        return
    words = "whole layers of tape between the bobbin and the winding"
    writer.row(subject, "found.core_layers", found.layers, formula=words, note=found.note)


def _wire(writer: Writer, subject: Subject, name: str, met: OnBobbin) -> None:
    wire = writer.ledger.find(Subject("winding", (f"{name}.{met.winding}",)), "winding.wire") if met.winding else None
    word = _of_one(writer, f"{name}.{met.winding}") if met.winding else None
    if word is None or wire is None:
        writer.hole(subject, "transformer.core_wire", (OpenFact(subject, "winding.wire"),))
        return
    writer.row(subject, "transformer.core_wire", possible_wires(word), formula=f"wire of {met.winding}", inputs=[wire])


# Requirement rows of a transformer: layers found and needed, wire, margins, sleeves on leads and at crossings.


WIRES = ("enamelled", "foil", "insulated", "triple-insulated")  # the last is the best
CHAMBERS = "separate chambers"
SLEEVE = 0.4e-3  # m: a sleeve that insulates is a single layer of solid insulation


def transformer_rows(writer: Writer, name: str, design: Design, insulation: Entry, creepage: Entry | None) -> None:
    """Rows of one transformer: layers found and needed, wire, insulation thickness, margins needed, sleeves."""
    subject = Subject("transformer", (name,))
    writer.row(
        subject,
        "needed.insulation",
        insulation.value or Category.of("reinforced", "basic"),
        formula="that of primary to secondary",
        inputs=[insulation],
    )
    tape_layers_row(writer, subject, insulation)
    if not writer.family.has("tape_layers"):
        note = f"nothing was read on insulated winding wire in {writer.family.name}"
        writer.hole(subject, "needed.wire_insulation", note=note)
    layers = design.layers[name].layers if name in design.layers else None
    met: tuple[Boundary, ...] = ()
    unknown: tuple[str, ...] = ()
    if layers is None:
        writer.hole(
            subject, "found.tape_layers", (OpenFact(subject, "found.tape_layers"),), note="nobody listed its layers"
        )
        full = (f"{name}.{winding}" for winding in design.file.transformers[name].windings)
        unknown = tuple(one for one in full if winding_side(one, design) == "unknown")
    else:
        met, unknown = boundaries(name, layers, design)
        _layers_found(writer, subject, met, unknown)
    _wire_rows(writer, subject, name, design, met, unknown)
    if creepage is not None and isinstance(creepage.value, Value):
        share = read(writer.family.table("margin_share"), insulation="any")
        shares = [_share_of(one, share.value) for one in creepage.value.numbers()]
        writer.row(
            subject,
            "needed.margin",
            Value(*shares),
            formula="half of the creepage: the path crosses both margins",
            source=writer.family.table("margin_share").source,
            inputs=[creepage],
            confidence=share.confidence,
        )
    else:
        missing = creepage.missing if creepage is not None else ()
        writer.hole(subject, "needed.margin", missing, note=creepage.note if creepage is not None else "")
    _margins(writer, subject, name, design)
    _sleeves(writer, subject, name, design)


def _share_of(length: float, share: Fraction) -> float:
    if length == float("inf"):
        return length
    return rounded_up(micrometres(length) * share) / 1e6


def _layers_found(writer: Writer, subject: Subject, met: tuple[Boundary, ...], unknown: tuple[str, ...]) -> None:
    for one in met:
        pair = Subject("winding pair", (f"{subject}.{one.one}", f"{subject}.{one.other}"))
        words = f"whole layers between {one.one} and {one.other}"
        if one.layers is None:
            writer.hole(pair, "found.tape_layers", (OpenFact(subject, "found.tape_layers"),), note=one.note)
        else:
            writer.row(pair, "found.tape_layers", one.layers, formula=words, note=one.note)
    if unknown or not met or any(one.layers is None for one in met):
        missing = tuple(OpenFact(Subject("winding", (one,)), "winding.tied_to") for one in unknown)
        note = "" if missing else "its list has no place where primary and secondary meet, or a tape was not counted"
        sure = [one for one in met if one.layers is not None]
        if not sure:
            writer.hole(subject, "found.tape_layers", missing or (OpenFact(subject, "found.tape_layers"),), note=note)
            return
        worst = min(sure, key=_count)
        assert worst.layers is not None
        # What was not looked at may be worse, never better than nothing.
        value = Value(0.0, 0.0, worst.layers.far, worst.layers.high)
        writer.row(subject, "found.tape_layers", value, formula="at most those of the weakest place counted", note=note)
        return
    worst = min(met, key=_count)
    pairs = [Subject("winding pair", (f"{subject}.{one.one}", f"{subject}.{one.other}")) for one in met]
    inputs = [found for pair in pairs if (found := writer.find(pair, "found.tape_layers")) is not None]
    numbers = zip(*(one.layers.numbers() for one in met if one.layers is not None), strict=True)
    where = f"{worst.one} to {worst.other}"
    writer.row(
        subject,
        "found.tape_layers",
        Value(*(min(column) for column in numbers)),
        formula=f"fewest of all {len(met)} places where the sides meet, {where}",
        inputs=inputs,
        note=worst.note,
    )
    writer.row(subject, "found.tape_boundary", Category.of(where), formula="the weakest place", inputs=inputs)


def _count(one: Boundary) -> tuple[float, float]:
    return (one.layers.near, one.layers.far) if one.layers is not None else (0.0, 0.0)


def _wire_rows(
    writer: Writer, subject: Subject, name: str, design: Design, met: tuple[Boundary, ...], unknown: tuple[str, ...]
) -> None:
    """The wire that every boundary can rest on: one winding is enough, so the better of the two; worst place first.

    unknown: windings and shields whose side nobody knows; one without insulation that counts may be the other side of
    whatever lies beside it
    """
    apart = writer.ledger.find(subject, "transformer.chambers")
    if apart is not None and isinstance(apart.value, Category) and apart.value.word == CHAMBERS:
        why = "the wall of the bobbin separates them: its thickness and the way over it count, no layer of tape"
        writer.row(subject, "transformer.barrier_wire", Category.of(CHAMBERS), formula=why, inputs=[apart])
        return
    windings = design.file.transformers[name].windings
    if any(CORE not in (one.one, one.other) for one in met):
        pairs = [(one.one, one.other) for one in met if CORE not in (one.one, one.other)]
    else:
        sides: dict[str, list[str]] = {"primary": [], "secondary": []}
        for winding in windings:
            sides.setdefault(winding_side(f"{name}.{winding}", design), []).append(winding)
        pairs = [(one, other) for one in sides["primary"] for other in sides["secondary"]]
    for pair in pairs:
        _thickness(writer, name, design, pair)
    words = [_better(name, writer, pair) for pair in pairs]
    if not words or any(word is None for word in words):
        writer.hole(subject, "transformer.barrier_wire", (OpenFact(subject, "winding.wire"),))
        return
    worst = min((word for word in words if word is not None), key=WIRES.index)
    loose = [one for one in unknown if _of_one(writer, one) != "triple-insulated"]
    if loose and worst in ("insulated", "triple-insulated"):
        missing = tuple(OpenFact(Subject("winding", (one,)), "winding.tied_to") for one in loose)
        writer.hole(subject, "transformer.barrier_wire", missing)
        return
    writer.row(
        subject,
        "transformer.barrier_wire",
        possible_wires(worst),
        formula="better wire of the two at the worst place",
        source="insulated wire on one of the two windings serves",
        inputs=_of_wires(name, writer, pairs),
        note="not shown to be triple-insulated: add (drawing) or (data sheet) where maker or drawing name it so, and "
        "its two diameters, bare and outside"
        if worst == "insulated"
        else "",
    )
    thick = [
        found.value
        for pair in pairs
        if (found := writer.find(_pair(name, pair), "found.wire_insulation")) and isinstance(found.value, Value)
    ]
    if thick and len(thick) == len(pairs):
        value = Value(*(min(column) for column in zip(*(one.numbers() for one in thick), strict=True)))
        writer.row(subject, "found.wire_insulation", value, formula="thinnest of the insulated wires at the barrier")


def _of_wires(name: str, writer: Writer, pairs: Sequence[tuple[str, str]]) -> list[Entry]:
    """What is stated of the wires on both sides of these places, each row once.

    Two diameters say something of insulated wire alone: whatever those of enamelled wire are, its enamel counts for
    nothing here.
    """
    found = []
    for winding in dict.fromkeys(winding for pair in pairs for winding in pair):
        own = Subject("winding", (f"{name}.{winding}",))
        found += [writer.ledger.find(own, fact) for fact in each("winding.wire", "winding.foil")]
        wire = found[-2]
        if wire is not None and isinstance(wire.value, Category) and set(wire.value.members) & set(_INSULATED):
            found += [writer.ledger.find(own, fact) for fact in each("winding.bare", "winding.outside")]
    return [one for one in found if one is not None]


_INSULATED = ("insulated", "triple-insulated")


def _pair(name: str, pair: tuple[str, str]) -> Subject:
    return Subject("winding pair", (f"{name}.{pair[0]}", f"{name}.{pair[1]}"))


def _better(name: str, writer: Writer, pair: tuple[str, str]) -> str | None:
    words = [_of_one(writer, f"{name}.{winding}") for winding in pair]
    if "triple-insulated" in words:
        return "triple-insulated"
    if None in words:
        return None
    return max((word for word in words if word is not None), key=WIRES.index)


# Three layers of the thinnest film read of such wire (one mil of FEP each), and what no enamel up to 0.63 mm reaches on
# one side (third grade of IEC 60317-0-1).
THREE_LAYERS = 3 * 25.4e-6
ENAMEL = 50e-6


def _of_one(writer: Writer, winding: str) -> str | None:
    """The wire of one winding; triple-insulated as far as its two diameters are known and three layers fit between."""
    own = Subject("winding", (winding,))
    wire = writer.ledger.find(own, "winding.wire")
    word = wire.value.word if wire is not None and isinstance(wire.value, Category) else None
    if word is None and writer.ledger.find(own, "winding.foil") is not None:
        return "foil"
    if word != "triple-insulated":
        return word
    if wire is not None and not on_paper(wire):
        return "insulated"  # its name is the maker's, and stands on the reel, in the drawing or in the data sheet
    built = _built(writer, own)
    if built is None:  # nor is it shown while a diameter is not: a name alone must not do what the two speak against
        return "insulated"
    if built.near >= THREE_LAYERS:
        return word
    return "enamelled" if built.far < ENAMEL else "insulated"


def _built(writer: Writer, own: Subject) -> Value | None:
    """Insulation on one side of a wire from its two diameters [m]; None where one is not known. None at all is 0."""
    bare, outside = (writer.ledger.find(own, one) for one in each("winding.bare", "winding.outside"))
    if bare is None or outside is None or not isinstance(bare.value, Value) or not isinstance(outside.value, Value):
        return None
    b, o = bare.value, outside.value
    ends = ((b.high, o.low), (b.far, o.near), (b.near, o.far), (b.low, o.high))
    return Value(*(max(0.0, (y - x) / 2) for x, y in ends))


def _thickness(writer: Writer, name: str, design: Design, pair: tuple[str, str]) -> None:
    """Insulation of the insulated wire of a pair, from its two diameters; enamelled wire has none that counts."""
    best: tuple[Value, list[Entry]] | None = None
    for winding in pair:
        own = Subject("winding", (f"{name}.{winding}",))
        of_wire = each("winding.wire", "winding.bare", "winding.outside")
        wire, bare, outside = (writer.ledger.find(own, one) for one in of_wire)
        word = wire.value.word if wire is not None and isinstance(wire.value, Category) else None
        if word not in _INSULATED or bare is None or outside is None:
            continue
        if not isinstance(bare.value, Value) or not isinstance(outside.value, Value):
            continue
        b, o = bare.value, outside.value
        try:
            ends = [
                insulation_thickness(x, y) / 1e6
                for x, y in ((b.high, o.low), (b.far, o.near), (b.near, o.far), (b.low, o.high))
            ]
        except ValueError:
            continue
        value = Value(*ends)
        if best is None or value.near > best[0].near:
            best = value, [bare, outside]
    if best is not None:
        writer.row(
            _pair(name, pair),
            "found.wire_insulation",
            best[0],
            formula="half of outside less bare diameter",
            inputs=best[1],
        )


def _margins(writer: Writer, subject: Subject, name: str, design: Design) -> None:
    """A margin that somebody looked for and did not find is none: 0 mm."""
    stated = writer.ledger.find(subject, "transformer.margins")
    if stated is not None and isinstance(stated.value, Category) and stated.value.word == "none":
        writer.row(subject, "transformer.margins", NOTHING, formula="looked for: no margin tape", inputs=[stated])


def _sleeves(writer: Writer, subject: Subject, name: str, design: Design) -> None:
    """Sleeves of leads that fly, and of those that cross the other side: one word each, the worst lead first."""
    leads = design.file.transformers[name].leads
    silent = [] if "all" in leads else _without_leads(design.file.transformers[name])
    kinds: tuple[tuple[QuantityName, bool], ...] = (
        ("transformer.lead_sleeves", False),
        ("transformer.crossing_sleeves", True),
    )
    for quantity, wanted in kinds:
        if not leads:
            writer.hole(subject, quantity, (OpenFact(subject, "leads"),), note="nobody described the leads")
            continue
        asked = {lead: _asks(block, wanted) for lead, block in leads.items()}
        words = {lead: _sleeve(block) for lead, block in leads.items() if asked[lead] is not False}
        unknown = [OpenFact(subject, "sleeve", f"of lead {lead}") for lead, word in words.items() if word == ""]
        bare = [f"{lead}: {word}" for lead, word in words.items() if word not in ("", "found") and asked[lead]]
        # A bare lead of which nobody said whether it crosses, or flies, is not one that does neither.
        what = "and whether it crosses the other side" if wanted else "and whether it flies"
        unknown += [
            OpenFact(subject, "lead", f"{lead}, {what}")
            for lead, word in words.items()
            if asked[lead] is None and word != "found"
        ]
        unknown += [OpenFact(subject, "leads", f"of {winding}") for winding in silent]
        if bare:
            writer.row(subject, quantity, Category.of("absent"), formula="; ".join(bare))
        elif unknown:
            writer.hole(subject, quantity, tuple(unknown))
        else:
            writer.row(subject, quantity, Category.of("found"), formula="every lead that needs one has it")


def _without_leads(transformer: Transformer) -> list[str]:
    """Windings of which nobody says how they leave: by leads, by pins or tied to something."""
    return [
        name
        for name, winding in transformer.windings.items()
        if name not in transformer.leads and not winding.pins and winding.tied_to is None
    ]


def _asks(lead: Lead, crossing: bool) -> bool | None:
    """Whether a lead has to have a sleeve for this reason; None where nobody said."""
    if not crossing:
        return None if not lead.kind else lead.kind == "flying"
    if not lead.crosses:
        return None
    return "none" not in lead.crosses


def _sleeve(lead: Lead) -> str:
    """'found', '' where nobody said, or what is wrong with the sleeve of a lead."""
    sleeve = lead.sleeve
    if sleeve is None:
        return ""
    if not sleeve.there:
        return "no sleeve"
    if lead.sleeve_reaches is not None and lead.sleeve_reaches not in INTO:
        return f"its sleeve reaches {lead.sleeve_reaches} only"
    if sleeve.wall is not None and sleeve.wall.near < SLEEVE:
        return f"its sleeve of {sleeve.text} is under 0.4 mm" if sleeve.wall.far < SLEEVE else ""
    return "found"
