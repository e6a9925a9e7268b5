"""The inside of a transformer: layers between the nearest conductors of either side, on every path of its list.

A shield counts as the side it is tied to; a floating one belongs to neither, and the layers on its two sides add at
best. A tape that stops short of the flange is no whole layer. Enamel counts for nothing here.
"""

from __future__ import annotations

from dataclasses import dataclass

from derate.design.layers import Layer
from derate.design.load import Design
from derate.ledger.entry import Entry, Subject
from derate.required.circuits import winding_side
from derate.required.exact import micrometres
from derate.required.needed import tape_layers_row
from derate.required.row import Writer
from derate.required.wire import insulation_thickness, margin_each_side
from derate.terms.values import Category, Value

WIRES = ("enamelled", "foil", "insulated", "triple-insulated")  # the last is the best
NOTHING = Value.exact(0.0)


@dataclass(frozen=True, slots=True)
class Boundary:
    """Two neighbouring conductors of opposite sides, and the whole layers of tape between them."""

    one: str
    other: str
    layers: Value | None  # None when some tape was not counted
    short: bool  # a tape that stops short lies between them
    note: str = ""


def boundaries(name: str, layers: tuple[Layer, ...], design: Design) -> tuple[tuple[Boundary, ...], tuple[str, ...]]:
    """Every place in the list where the primary side meets the secondary side; and windings whose side is unknown."""
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
            found.append(_boundary(last[0], layer.name, between, floating))
        last, between, floating = (layer.name, side), [], []
    return tuple(found), tuple(dict.fromkeys(unknown))


def _boundary(one: str, other: str, between: list[Layer], floating: list[str]) -> Boundary:
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


def transformer_rows(writer: Writer, name: str, design: Design, insulation: Entry, creepage: Entry | None) -> None:
    """Rows of one transformer: layers found and needed, wire, insulation thickness, margins needed, sleeves."""
    subject = Subject("transformer", (name,))
    writer.row(subject, "needed.insulation", insulation.value or Category.of("reinforced", "basic"),
               formula="that of primary to secondary", inputs=[insulation])  # fmt: skip
    tape_layers_row(writer, subject, insulation)
    layers = design.layers[name].layers if name in design.layers else None
    met: tuple[Boundary, ...] = ()
    if layers is None:
        writer.hole(subject, "found.tape_layers", (f"{name}: found.tape_layers",), note="nobody listed its layers")
    else:
        met, unknown = boundaries(name, layers, design)
        _layers_found(writer, subject, met, unknown)
    _wire(writer, subject, name, design, met)
    if creepage is not None and isinstance(creepage.value, Value):
        halves = [_half(one) for one in creepage.value.numbers()]
        writer.row(
            subject, "needed.margin", Value(*halves), formula="half of the creepage: the path crosses both margins",
            source="two makers of flyback controllers, application notes", inputs=[creepage],
            confidence="common practice",
        )  # fmt: skip
    else:
        missing = creepage.missing if creepage is not None else ()
        writer.hole(subject, "needed.margin", missing, note=creepage.note if creepage is not None else "")
    _margins(writer, subject, name, design)
    _sleeves(writer, subject, name, design)


def _half(length: float) -> float:
    if length == float("inf"):
        return length
    return margin_each_side(int(-(-micrometres(length) // 1))) / 1e6


def _layers_found(writer: Writer, subject: Subject, met: tuple[Boundary, ...], unknown: tuple[str, ...]) -> None:
    for one in met:
        pair = Subject("winding pair", (f"{subject}.{one.one}", f"{subject}.{one.other}"))
        words = f"whole layers between {one.one} and {one.other}"
        if one.layers is None:
            writer.hole(pair, "found.tape_layers", (f"{subject}: found.tape_layers",), note=one.note)
        else:
            writer.row(pair, "found.tape_layers", one.layers, formula=words, note=one.note)
    if unknown or not met or any(one.layers is None for one in met):
        missing = tuple(f"{one}: winding.tied_to" for one in unknown)
        note = "" if missing else "its list has no place where primary and secondary meet, or a tape was not counted"
        sure = [one for one in met if one.layers is not None]
        if not sure:
            writer.hole(subject, "found.tape_layers", missing or (f"{subject}: found.tape_layers",), note=note)
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
        subject, "found.tape_layers", Value(*(min(column) for column in numbers)),
        formula=f"fewest of all {len(met)} places where the sides meet, {where}", inputs=inputs, note=worst.note,
    )  # fmt: skip
    writer.row(subject, "found.tape_boundary", Category.of(where), formula="the weakest place", inputs=inputs)


def _count(one: Boundary) -> tuple[float, float]:
    return (one.layers.near, one.layers.far) if one.layers is not None else (0.0, 0.0)


def _wire(writer: Writer, subject: Subject, name: str, design: Design, met: tuple[Boundary, ...]) -> None:
    """The wire that every boundary can rest on: one winding is enough, so the better of the two; worst place first."""
    windings = design.file.transformers[name].windings
    if met:
        pairs = [(one.one, one.other) for one in met]
    else:
        sides: dict[str, list[str]] = {"primary": [], "secondary": []}
        for winding in windings:
            sides.setdefault(winding_side(f"{name}.{winding}", design), []).append(winding)
        pairs = [(one, other) for one in sides["primary"] for other in sides["secondary"]]
    for pair in pairs:
        _thickness(writer, name, design, pair)
    words = [_better(name, writer, pair) for pair in pairs]
    if not words or any(word is None for word in words):
        writer.hole(subject, "transformer.barrier_wire", (f"{name}: winding.wire",))
        return
    worst = min((word for word in words if word is not None), key=WIRES.index)
    writer.row(
        subject, "transformer.barrier_wire", _possible(worst), formula="better wire of the two at the worst place",
        source="insulated wire on one of the two windings serves",
        note="not named as triple-insulated by maker or drawing" if worst == "insulated" else "",
    )  # fmt: skip
    thick = [
        found.value
        for pair in pairs
        if (found := writer.find(_pair(name, pair), "found.wire_insulation")) and isinstance(found.value, Value)
    ]
    if thick and len(thick) == len(pairs):
        value = Value(*(min(column) for column in zip(*(one.numbers() for one in thick), strict=True)))
        writer.row(subject, "found.wire_insulation", value, formula="thinnest of the insulated wires at the barrier")


def _possible(word: str) -> Category:
    """Insulated wire that nobody named may be triple-insulated or not."""
    return Category.of("insulated", "triple-insulated") if word == "insulated" else Category.of(word)


def _pair(name: str, pair: tuple[str, str]) -> Subject:
    return Subject("winding pair", (f"{name}.{pair[0]}", f"{name}.{pair[1]}"))


def _better(name: str, writer: Writer, pair: tuple[str, str]) -> str | None:
    words = []
    for winding in pair:
        wire = writer.ledger.find(Subject("winding", (f"{name}.{winding}",)), "winding.wire")
        word = wire.value.word if wire is not None and isinstance(wire.value, Category) else None
        if word is None and writer.ledger.find(Subject("winding", (f"{name}.{winding}",)), "winding.foil") is not None:
            word = "foil"
        words.append(word)
    if "triple-insulated" in words:
        return "triple-insulated"
    if None in words:
        return None
    return max((word for word in words if word is not None), key=WIRES.index)


def _thickness(writer: Writer, name: str, design: Design, pair: tuple[str, str]) -> None:
    """Insulation of the insulated wire of a pair, from its two diameters; enamelled wire has none that counts."""
    best: tuple[Value, list[Entry]] | None = None
    for winding in pair:
        own = Subject("winding", (f"{name}.{winding}",))
        wire, bare, outside = (writer.ledger.find(own, f"winding.{one}") for one in ("wire", "bare", "outside"))
        word = wire.value.word if wire is not None and isinstance(wire.value, Category) else None
        if word not in ("insulated", "triple-insulated") or bare is None or outside is None:
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
            _pair(name, pair), "found.wire_insulation", best[0], formula="half of outside less bare diameter",
            inputs=best[1],
        )  # fmt: skip


def _margins(writer: Writer, subject: Subject, name: str, design: Design) -> None:
    """A margin that somebody looked for and did not find is none: 0 mm."""
    stated = writer.ledger.find(subject, "transformer.margins")
    if stated is not None and isinstance(stated.value, Category) and stated.value.word == "none":
        writer.row(subject, "transformer.margins", NOTHING, formula="looked for: no margin tape", inputs=[stated])


def _sleeves(writer: Writer, subject: Subject, name: str, design: Design) -> None:
    """Whether every lead that crosses the other side, or flies, has a sleeve."""
    leads = design.file.transformers[name].leads
    if not leads:
        writer.hole(subject, "transformer.lead_sleeves", (f"{name}: leads",), note="nobody described the leads")
        return
    bare = []
    for lead, block in leads.items():
        text = getattr(block.sleeve, "text", "") if block.sleeve is not None else ""
        needs = bool(block.crosses) or (block.kind or "") == "flying"
        if needs and (not text or text.startswith(("none", "unknown"))):
            bare.append((lead, text))
    if any(not text or text.startswith("unknown") for _, text in bare):
        missing = tuple(f"{name}: sleeve of lead {lead}" for lead, _ in bare)
        writer.hole(subject, "transformer.lead_sleeves", missing)
        return
    words = [f"{lead} without sleeve" for lead, _ in bare]
    writer.row(
        subject, "transformer.lead_sleeves", Category.of("absent" if bare else "found"),
        formula="; ".join(words) or "every lead that crosses or flies has one",
    )  # fmt: skip
