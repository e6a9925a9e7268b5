"""A place of the barrier in section: two conductors on their board, slot and sheet between, the two ways across.

Not to scale. Solid is the way through air, broken the way along surfaces; figures that nobody has measured say so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from derate.design.block import Block
from derate.design.load import Design
from derate.design.stated import Stated
from derate.report.svg import box, drawing, element, label, line, number, polyline
from derate.terms.dimension import LENGTH
from derate.terms.values import Value
from derate.text.units import show_value

_WIDTH, _THICK = 480.0, 22.0
_TALL, _FLAT = 112.0, 46.0  # top of the board below a sheet, and without one
_TOUCHED = ("secondary", "earth", "touchable")
_PADS = (40.0, 150.0, 330.0, 440.0)  # both ends of either conductor


@dataclass(frozen=True, slots=True)
class Place:
    """One place of the barrier, drawn. between: the two circuits; says: what else the file tells"""

    name: str
    between: str
    svg: str
    says: tuple[str, ...]


def places(design: Design) -> tuple[Place, ...]:
    """Every place of the barriers block."""
    return tuple(_place(name, block, k) for k, (name, block) in enumerate(design.file.barriers.items(), 1))


def _place(name: str, block: Block, k: int) -> Place:
    between = tuple(block.between or ())
    clearance, creepage = _figure(block.clearance), _figure(block.creepage)
    slot, sheet = block.slot, block.sheet
    about = [f"clearance {clearance}", f"creepage {creepage}"]
    about += ["a slot lies between"] if slot is not None else []
    about += ["a sheet stands between"] if sheet is not None else []
    ends = f"{between[0]} to {between[1]}" if len(between) == 2 else " to ".join(between)
    surface = _TALL if sheet is not None else _FLAT
    svg = drawing(f"barrier-{k}", _WIDTH, surface + 78.0, f"{name}: {ends}", ", ".join(about),
                  *_drawn(between, clearance, creepage, slot is not None, sheet is not None, surface))  # fmt: skip
    return Place(name, ends, svg, tuple(_says(block)))


def _figure(stated: object) -> str:
    if isinstance(stated, Stated) and isinstance(stated.value, Value):
        return show_value(stated.value, LENGTH)
    return "not known"


def _drawn(
    between: Sequence[str], clearance: str, creepage: str, slot: bool, sheet: bool, surface: float
) -> list[str]:
    left, inner, other, right = _PADS
    middle = (inner + other) / 2
    under = surface + _THICK
    parts = [box(10, surface, _WIDTH - 20, _THICK, "board")]
    way: list[tuple[float, float]] = [(inner, surface - 1)]
    top = 40.0
    if slot:
        parts.append(box(middle - 26, surface - 1, 16, _THICK + 2, "slot"))
        way += [(middle - 26, surface - 1), (middle - 26, under + 5), (middle - 10, under + 5), (middle - 10,
                surface - 1)]  # fmt: skip
    if sheet:
        parts.append(box(middle + 8, top, 10, under + 14 - top, "sheet"))
        way += [(middle + 4, surface - 1), (middle + 4, top - 4), (middle + 22, top - 4), (middle + 22, surface - 1)]
    way.append((other, surface - 1))
    for x0, x1, k in ((left, inner, 0), (other, right, 1)):
        name = between[k] if len(between) > k else ""
        side = "secondary" if name in _TOUCHED else "primary"
        parts += [box(x0, surface - 8, x1 - x0, 8, f"pad {side}"),
                  label((x0 + x1) / 2, surface + 15, name, "label", "middle")]  # fmt: skip
    parts.append(polyline(way, "way along"))
    if sheet:
        air = [(inner, surface - 8.0), (middle + 8, top - 12), (middle + 18, top - 12), (other, surface - 8.0)]
    else:
        air = [(inner, surface - 14.0), (other, surface - 14.0)]
        parts += [line(x, surface - 19, x, surface - 9, "way air") for x in (inner, other)]
    parts.append(element("path", d="M" + "L".join(f"{number(x)} {number(y)}" for x, y in air), cls="way air"))
    parts += [
        label(middle + 13 if sheet else middle, 20 if sheet else surface - 24, f"through air {clearance}", "label",
              "middle"),
        label(middle, surface + 66, f"along surfaces {creepage}", "label", "middle"),
    ]  # fmt: skip
    return parts


def _says(block: Block) -> list[str]:
    said = []
    for key in ("clearance", "creepage"):
        stated = getattr(block, key)
        if isinstance(stated, Stated) and (stated.known_by or stated.note):
            about = "; ".join(word for word in (stated.known_by or "", stated.note) if word)
            said.append(f"{key}: {about}")
        elif not isinstance(stated, Stated):
            said.append(f"{key}: nobody has looked")
    if block.slot is not None and isinstance(block.slot.width, Stated):
        said.append(f"slot {_figure(block.slot.width)} wide")
    if block.sheet is not None:
        fixed = block.sheet.fixed
        held = (fixed.word or fixed.text) if isinstance(fixed, Stated) else "nobody has looked how it is held"
        said.append(f"sheet {_figure(block.sheet.thickness)} thick, {held}")
    if block.note:
        said.append(str(block.note))
    return said
