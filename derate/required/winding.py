"""The inside of a transformer: layers between the nearest conductors of either side, on every path of its list.

A shield counts as the side it is tied to; a floating one belongs to neither, and the layers on its two sides add at
best. A tape that stops short of the flange is no whole layer. Enamel counts for nothing here.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from math import inf
from typing import NamedTuple

from derate.design.layers import Layer
from derate.design.load import Design
from derate.required.circuits import core_end, winding_side
from derate.terms.values import Value

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
