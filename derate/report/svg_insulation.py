"""Sections: a place of the barrier across its board, and one side of a transformer's window."""

from __future__ import annotations

from collections.abc import Sequence

from derate.design.blocks import Barrier
from derate.design.load import Design
from derate.design.record import Stated
from derate.design.transformers import Layer, Lead
from derate.report.svg import box, drawing, element, label, line, number, polyline
from derate.report.words import figure, listed
from derate.terms.dimension import LENGTH
from derate.terms.frozen import frozen
from derate.terms.values import Value
from derate.text.units import show_value

# A place of the barrier in section: two conductors on their board, slot and sheet between, the two ways across.
#
# Not to scale. Solid is the way through air, broken the way along surfaces; figures that nobody has measured say so.


_WIDTH, _THICK = 480.0, 22.0
_TALL, _FLAT = 112.0, 46.0  # top of the board below a sheet, and without one
_TOUCHED = ("secondary", "earth", "touchable")
_PADS = (40.0, 150.0, 330.0, 440.0)  # both ends of either conductor


@frozen
class Place:
    """One place of the barrier, drawn. between: the two circuits; says: what else the file tells"""

    name: str
    between: str
    svg: str
    says: tuple[str, ...]


def places(design: Design) -> tuple[Place, ...]:
    """Every place of the barriers block."""
    return tuple(_place(name, block, k) for k, (name, block) in enumerate(design.file.barriers.items(), 1))


def place_to_measure(name: str, between: Sequence[str], block: Barrier | None, k: int) -> str:
    """A place of the barrier whose distances somebody is to measure, drawn with nothing said of them."""
    slot = block is not None and block.slot is not None
    sheet = block is not None and block.sheet is not None
    surface = _TALL if sheet else _FLAT
    about = "the shortest way through air, and the shortest along surfaces"
    ends = " to ".join(between)
    drawn = _drawn(between, "(clearance)", "(creepage)", slot, sheet, surface)
    return drawing(f"measure-{k}", _WIDTH, surface + 78.0, f"{name}: {ends}", about, *drawn)


def _place(name: str, block: Barrier, k: int) -> Place:
    between = block.between
    clearance, creepage = _figure(block.clearance), _figure(block.creepage)
    slot, sheet = block.slot, block.sheet
    about = [f"clearance {clearance}", f"creepage {creepage}"]
    about += ["a slot lies between"] if slot is not None else []
    about += ["a sheet stands between"] if sheet is not None else []
    ends = f"{between[0]} to {between[1]}" if len(between) == 2 else " to ".join(between)
    surface = _TALL if sheet is not None else _FLAT
    svg = drawing(
        f"barrier-{k}",
        _WIDTH,
        surface + 78.0,
        f"{name}: {ends}",
        ", ".join(about),
        *_drawn(between, clearance, creepage, slot is not None, sheet is not None, surface),
    )
    return Place(name, ends, svg, tuple(_says(block)))


def _figure(stated: Stated | None) -> str:
    if stated is not None and isinstance(stated.value, Value):
        return show_value(stated.value, LENGTH)
    return "not known"


def _drawn(between: Sequence[str], clearance: str, creepage: str, slot: bool, sheet: bool, surface: float) -> list[str]:
    left, inner, other, right = _PADS
    middle = (inner + other) / 2
    under = surface + _THICK
    parts = [box(10, surface, _WIDTH - 20, _THICK, "board")]
    way: list[tuple[float, float]] = [(inner, surface - 1)]
    top = 40.0
    if slot:
        parts.append(box(middle - 26, surface - 1, 16, _THICK + 2, "slot"))
        way += [
            (middle - 26, surface - 1),
            (middle - 26, under + 5),
            (middle - 10, under + 5),
            (middle - 10, surface - 1),
        ]
    if sheet:
        parts.append(box(middle + 8, top, 10, under + 14 - top, "sheet"))
        way += [(middle + 4, surface - 1), (middle + 4, top - 4), (middle + 22, top - 4), (middle + 22, surface - 1)]
    way.append((other, surface - 1))
    for x0, x1, k in ((left, inner, 0), (other, right, 1)):
        name = between[k] if len(between) > k else ""
        side = "secondary" if name in _TOUCHED else "primary"
        parts += [
            box(x0, surface - 8, x1 - x0, 8, f"pad {side}"),
            label((x0 + x1) / 2, surface + 15, name, "label", "middle"),
        ]
    parts.append(polyline(way, "way along"))
    if sheet:
        air = [(inner, surface - 8.0), (middle + 8, top - 12), (middle + 18, top - 12), (other, surface - 8.0)]
    else:
        air = [(inner, surface - 14.0), (other, surface - 14.0)]
        parts += [line(x, surface - 19, x, surface - 9, "way air") for x in (inner, other)]
    parts.append(element("path", d="M" + "L".join(f"{number(x)} {number(y)}" for x, y in air), cls="way air"))
    parts += [
        label(
            middle + 13 if sheet else middle,
            20 if sheet else surface - 24,
            f"through air {clearance}",
            "label",
            "middle",
        ),
        label(middle, surface + 66, f"along surfaces {creepage}", "label", "middle"),
    ]
    return parts


def _says(block: Barrier) -> list[str]:
    said = []
    for key, stated in (("clearance", block.clearance), ("creepage", block.creepage)):
        if stated is None:
            said.append(f"{key}: nobody has looked")
        elif stated.known_by or stated.note:
            about = "; ".join(word for word in (stated.known_by or "", stated.note) if word)
            said.append(f"{key}: {about}")
    if block.slot is not None and block.slot.width is not None:
        said.append(f"slot {_figure(block.slot.width)} wide")
    if block.sheet is not None:
        fixed = block.sheet.fixed
        held = (fixed.word or fixed.text) if fixed is not None else "nobody has looked how it is held"
        said.append(f"sheet {_figure(block.sheet.thickness)} thick, {held}")
    if block.note:
        said.append(block.note)
    return said


# A section through one side of a transformer's window, drawn from its list of layers: core left, outside right.
#
# Not to scale: a layer that is there is seen, a tape that stops short shows its gap, a count that is open is drawn
# broken. Each strip has the nth of its line in the list that stands beside the drawing.


_WINDOW_WIDTH, _HEIGHT = 480.0, 310.0
_LEFT, _TOP, _BOTTOM = 58.0, 60.0, 240.0  # of the layers
_YOKE, _LEADS = 40.0, 50.0  # foot of the upper yoke, height at which leads come out
_WIDE = {"bobbin": 15.0, "sheet": 9.0, "winding": 30.0, "shield": 13.0, "tape": 5.0}


@frozen
class Section:
    """A drawn transformer. layers: (nth, words, side) of each line of the list; notes: margins, leads, core"""

    name: str
    svg: str
    layers: tuple[tuple[int, str, str], ...]
    notes: tuple[str, ...]


def sections(design: Design) -> tuple[Section, ...]:
    """Every transformer of a design; without a list of layers there is no drawing, and the notes say so."""
    return tuple(_section(design, name) for name in design.layers)


def side_of(design: Design, transformer: str, winding: str) -> str:
    """Whether a winding belongs to the mains side or to an output; a shield goes with what it is tied to."""
    own = f"{transformer}.{winding}"
    if any(own in output.windings for output in design.structure.outputs.values()):
        return "output side"
    block = design.file.transformers[transformer].windings.get(winding)
    tied = block.tied_to if block is not None else None
    if tied is not None and tied.word is not None:
        outputs = tuple(design.structure.outputs)
        return "output side" if tied.word.startswith(outputs) and outputs else "mains side"
    return "mains side"


def _shield(design: Design, transformer: str, winding: str) -> bool:
    block = design.file.transformers[transformer].windings.get(winding)
    return block is not None and block.tied_to is not None and "shield" in winding


def _section(design: Design, name: str) -> Section:
    layers = design.layers[name].layers
    if layers is None:
        return Section(name, "", (), ("Nobody has written down its layers: nothing is drawn.", *_notes(design, name)))
    told = []
    for nth, layer in enumerate(layers, 1):
        side = side_of(design, name, layer.name) if layer.what == "winding" else ""
        told.append((nth, _words(layer), side))
    about = "From the core outwards: " + "; ".join(f"{nth} {text}" for nth, text, _ in told)
    svg = drawing(
        f"section-{_plain_name(name)}",
        _WINDOW_WIDTH,
        _HEIGHT,
        f"Section through the window of {name}",
        about,
        *_window_drawn(design, name, layers),
    )
    return Section(name, svg, tuple(told), _notes(design, name))


def _plain_name(name: str) -> str:
    return "".join(one if one.isascii() and one.isalnum() else f"-{ord(one):x}" for one in name[:40])


def _words(layer: Layer) -> str:
    how = f" ({layer.known_by}{f'; {layer.note}' if layer.note else ''})" if layer.known_by or layer.note else ""
    if layer.what == "winding":
        turns = f", {figure(layer.turns, '')} turns of it" if layer.turns is not None else ""
        return f"{layer.name}{turns}{how}"
    if layer.what == "tape":
        count = "an unknown nth of layers" if layer.layers is None else _layers(layer.layers)
        short = f", stops short by {figure(layer.short_by, 'm')}" if layer.short_by is not None else ""
        return f"tape, {count}{short}{how}"
    thick = f", {figure(layer.thickness, 'm')}" if layer.thickness is not None else ", thickness unknown"
    return f"{layer.what}{thick}{how}"


def _layers(value: Value) -> str:
    shown = figure(value, "")
    return f"{shown} layer" if shown == "1" else f"{shown} layers"


def _window_drawn(design: Design, name: str, layers: tuple[Layer, ...]) -> list[str]:
    kinds = ["shield" if one.what == "winding" and _shield(design, name, one.name) else one.what for one in layers]
    wide = [
        _WIDE[kind] * _count(one) if kind == "tape" else _WIDE[kind] for one, kind in zip(layers, kinds, strict=True)
    ]
    gap = 3.0
    room = _WINDOW_WIDTH - _LEFT - 60.0
    scale = min(1.6, (room - gap * len(layers)) / max(sum(wide), 1.0))
    right = _LEFT + scale * sum(wide) + gap * (len(layers) + 1)
    margin = _margin(design, name)
    parts = [
        box(8, 8, right + 8, _YOKE - 8, "core"),
        box(8, _BOTTOM + 4, right + 8, 24, "core"),
        box(8, 8, _LEFT - 14, _BOTTOM + 20, "core"),
        label(14, 28, "core", "label"),
    ]
    leads = design.file.transformers[name].leads
    x = _LEFT + gap
    for nth, (layer, kind, width) in enumerate(zip(layers, kinds, wide, strict=True), 1):
        thick = width * scale
        parts += _strip(design, name, layer, kind, x, thick, margin)
        low = _BOTTOM + 42 + 13 * ((nth - 1) % 2)
        parts += [
            line(x + thick / 2, _BOTTOM + 29, x + thick / 2, low - 10, "leader"),
            label(x + thick / 2, low, str(nth), "tick", "middle"),
        ]
        if layer.what == "winding" and layer.name in leads:
            side = "secondary" if side_of(design, name, layer.name) == "output side" else "primary"
            parts += _lead(leads[layer.name], x + thick / 2, right + 34, side)
        x += thick + gap
    return parts


def _lead(lead: Lead, x: float, end: float, side: str) -> list[str]:
    """A lead from its winding over everything further out; its sleeve round it where one was found."""
    parts = [polyline([(x, _TOP), (x, _LEADS), (end, _LEADS)], f"lead {side}")]
    if lead.sleeve is not None and lead.sleeve.there:
        parts.append(box(x + 4, _LEADS - 4, end - x - 14, 8, "sleeve"))
    parts.append(label(min(end + 4, _WINDOW_WIDTH - 4), _LEADS + 16, "leads", "label", "end"))
    return parts


def _count(layer: Layer) -> float:
    if layer.layers is None:
        return 1.0
    return min(max(layer.layers.far, 1.0), 8.0)


def _margin(design: Design, name: str) -> float:
    stated = design.file.transformers[name].margins
    return 14.0 if stated is not None and isinstance(stated.value, Value) and stated.value.far > 0 else 0.0


def _strip(design: Design, name: str, layer: Layer, kind: str, x: float, thick: float, margin: float) -> list[str]:
    tall = _BOTTOM - _TOP
    if kind == "bobbin":
        return [box(x, _TOP, thick, tall, "bobbin" if layer.thickness is not None else "bobbin open")]
    if kind == "sheet":
        return [box(x, _TOP, thick, tall, "sheet")]
    if kind == "tape":
        return _tape(layer, x, thick)
    side = "secondary" if side_of(design, name, layer.name) == "output side" else "primary"
    top, high = _TOP + margin, tall - 2 * margin
    parts = [box(x, top, thick, high, f"winding {side}{' shield' if kind == 'shield' else ''}")]
    if kind == "winding":
        radius = min(thick / 2 - 1.5, 6.0)
        count = int(high / (2 * radius + 3))
        step = high / count
        parts += [
            element("circle", cx=x + thick / 2, cy=top + step * (k + 0.5), r=radius, cls=f"wire {side}")
            for k in range(count)
        ]
    if margin:
        parts += [box(x, _TOP, thick, margin, "margin"), box(x, _BOTTOM - margin, thick, margin, "margin")]
    return parts


def _tape(layer: Layer, x: float, thick: float) -> list[str]:
    """One line a layer; those that may not be there are broken; a tape that stops short leaves its gap at the foot."""
    if layer.layers is None:
        return [line(x + thick / 2, _TOP, x + thick / 2, _BOTTOM, "tape open")]
    count = int(_count(layer))
    short = 18.0 if layer.short_by is not None else 0.0
    parts = []
    for k in range(count):
        at = x + thick * (k + 0.5) / count
        cls = "tape" if k < layer.layers.near else "tape open"
        parts.append(line(at, _TOP, at, _BOTTOM - short, cls))
    if short:
        parts.append(box(x - 1, _BOTTOM - short + 1, thick + 2, short - 1, "gap"))
    return parts


def _notes(design: Design, name: str) -> tuple[str, ...]:
    block = design.file.transformers[name]
    notes = []
    margins = block.margins
    if margins is None or margins.value is None:
        notes.append("margins: nobody has looked")
    elif isinstance(margins.value, Value):
        notes.append(f"margins: {figure(margins.value, 'm')}")
    else:
        notes.append(f"margins: {margins.word or margins.text}")
    tied = block.core.tied_to if block.core is not None else None
    notes.append(
        f"core tied to {tied.word or tied.text}"
        if tied is not None and tied.value is not None
        else "core: nobody has looked what it is tied to"
    )
    for winding, lead in block.leads.items():
        said = [lead.kind or "kind unknown"]
        said.append(lead.length.text if lead.length is not None else "length unknown")
        said.append(f"sleeve {lead.sleeve.text}" if lead.sleeve is not None else "sleeve unknown")
        said += [f"crosses {listed(lead.crosses)}"] if lead.crosses else []
        said += [f"ends in {lead.ends_in}"] if lead.ends_in else []
        said += [f"held by {lead.held_by}"] if lead.held_by else []
        notes.append(f"leads of {winding}: {', '.join(said)}")
    if not block.leads:
        notes.append("leads: nobody has looked")
    return tuple(notes)
