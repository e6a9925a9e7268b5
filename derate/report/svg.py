"""Drawings as text: elements with the classes of the page's style, and charts with round figures and units."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from math import ceil, floor, isfinite, log10

from derate.report.words import clipped, plain
from derate.terms.dimension import Dimension
from derate.text.units import show

# Elements of a drawing as text: escaped, rounded, with classes that the page's style gives their colours.
#
# Everything drawn carries a title and a description, so that a screen reader tells what the picture shows.


_LONGEST = 48  # columns of a label; what is longer stands whole in the text beside the drawing


def number(value: float) -> str:
    """A coordinate with one decimal at most."""
    text = f"{value:.1f}"
    return text[:-2] if text.endswith(".0") else text


def words(text: str) -> str:
    """Text from anywhere as text of a drawing."""
    return escape(plain(text), quote=True)


def element(name: str, *inside: str, **attributes: object) -> str:
    """One element; an attribute of None is left out, `_` in a name stands for `-`, `cls` for `class`."""
    told = ""
    for key, value in attributes.items():
        if value is not None:
            shown = number(value) if isinstance(value, float | int) else words(str(value))
            told += f' {"class" if key == "cls" else key.replace("_", "-")}="{shown}"'
    return f"<{name}{told}/>" if not inside else f"<{name}{told}>{''.join(inside)}</{name}>"


def label(x: float, y: float, text: str, cls: str = "label", anchor: str | None = None) -> str:
    """A short text; anchor: 'middle' or 'end'."""
    return element("text", words(clipped(plain(text), _LONGEST)), x=x, y=y, cls=cls, text_anchor=anchor)


def line(x1: float, y1: float, x2: float, y2: float, cls: str) -> str:
    """A straight line."""
    return element("path", d=f"M{number(x1)} {number(y1)}L{number(x2)} {number(y2)}", cls=cls)


def polyline(points: Sequence[tuple[float, float]], cls: str) -> str:
    """An open line through points."""
    return element("path", d="M" + "L".join(f"{number(x)} {number(y)}" for x, y in points), cls=cls)


def box(x: float, y: float, width: float, height: float, cls: str, rx: float | None = None) -> str:
    """A rectangle."""
    return element("rect", x=x, y=y, width=max(width, 0.0), height=max(height, 0.0), cls=cls, rx=rx)


def drawing(name: str, width: float, height: float, title: str, about: str, *inside: str) -> str:
    """A whole drawing. name: unique on the page, of plain letters, digits and hyphens"""
    head = (
        f'<svg viewBox="0 0 {number(width)} {number(height)}" role="img" aria-labelledby="{name}-t {name}-d" '
        f'xmlns="http://www.w3.org/2000/svg" class="drawing"><title id="{name}-t">{words(title)}</title>'
        f'<desc id="{name}-d">{words(about)}</desc>'
    )
    return head + "".join(inside) + "</svg>"


# A chart: axes with round figures and units, curves, boxes for a figure that is a range, lines across.
#
# Written for a reader who wants to see where the operating point lies: no grid behind everything, one frame, ticks
# outside, the figures in the units of the trade.


WIDTH, HEIGHT = 480.0, 268.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 62.0, 12.0, 22.0, 36.0


@dataclass(frozen=True, slots=True)
class Axis:
    """What is laid along an axis: from low to high [SI], on a logarithmic scale or not."""

    name: str
    dimension: Dimension
    low: float
    high: float
    log: bool = False

    def share(self, value: float) -> float:
        """Where a value lies, 0 at the low end and 1 at the high one; values outside are held at the ends."""
        if self.log:
            value = max(value, self.low)
            found = (log10(value) - log10(self.low)) / (log10(self.high) - log10(self.low))
        else:
            found = (value - self.low) / (self.high - self.low)
        return min(1.0, max(0.0, found))

    def ticks(self) -> tuple[float, ...]:
        """Round figures along the axis, rising."""
        if self.log:
            decades = range(floor(log10(self.low) + 1e-9), ceil(log10(self.high) - 1e-9) + 1)
            steps = (1.0,) if len(decades) > 3 else (1.0, 2.0, 5.0)
            found = [step * 10.0**one for one in decades for step in steps]
            return tuple(one for one in found if self.low * 0.999 <= one <= self.high * 1.001)
        span = (self.high - self.low) / 5.0
        size = 10.0 ** floor(log10(span))
        step = next(one * size for one in (1.0, 2.0, 5.0, 10.0) if one * size >= span * 0.999)
        first = ceil(self.low / step - 1e-9)
        return tuple(k * step for k in range(first, floor(self.high / step + 1e-9) + 1))


@dataclass(frozen=True, slots=True)
class Curve:
    """Points in SI units. cls: 'one' | 'two' | 'three' | 'bound'"""

    name: str
    points: tuple[tuple[float, float], ...]
    cls: str = "one"


@dataclass(frozen=True, slots=True)
class Spot:
    """A figure with its doubt: from x0 to x1 and from y0 to y1 [SI]; over: beyond what is allowed there.

    allowed: not a stress but what is allowed to it
    """

    name: str
    x0: float
    x1: float
    y0: float
    y1: float
    over: bool = False
    allowed: bool = False


@dataclass(frozen=True, slots=True)
class Level:
    """A figure right across the chart [SI]."""

    name: str
    y: float
    cls: str = "bound"


def axis(name: str, dimension: Dimension, values: Sequence[float], log: bool = False, zero: bool = False) -> Axis:
    """An axis that holds all these values, its ends round. zero: begin at zero"""
    known = [one for one in values if isfinite(one) and (one > 0.0 or not log)]
    low, high = min(known, default=1.0), max(known, default=10.0)
    if log:
        low, high = 10.0 ** floor(log10(low * 0.9)), 10.0 ** ceil(log10(high * 1.1))
        return Axis(name, dimension, low, high, True)
    low = min(0.0, low) if zero else low
    room = 0.06 * (high - low) or abs(high) * 0.1 or 1.0
    return Axis(name, dimension, low if zero and low == 0.0 else low - room, high + room)


def chart(
    name: str,
    title: str,
    about: str,
    x: Axis,
    y: Axis,
    curves: Sequence[Curve],
    spots: Sequence[Spot] = (),
    levels: Sequence[Level] = (),
    height: float = HEIGHT,
) -> str:
    """The chart as a drawing."""
    right, bottom = WIDTH - _RIGHT, height - _BOTTOM

    def place(px: float, py: float) -> tuple[float, float]:
        return _LEFT + x.share(px) * (right - _LEFT), bottom - y.share(py) * (bottom - _TOP)

    inside = [box(_LEFT, _TOP, right - _LEFT, bottom - _TOP, "frame")]
    for tick in x.ticks():
        at, _ = place(tick, y.low)
        last = at > right - 16
        inside += [
            line(at, bottom, at, bottom + 5, "tick"),
            label(at + 10 * last, bottom + 18, _shown(tick, x), "tick", "end" if last else "middle"),
        ]
    for tick in y.ticks():
        _, at = place(x.low, tick)
        inside += [line(_LEFT - 5, at, _LEFT, at, "tick"), label(_LEFT - 8, at + 4, _shown(tick, y), "tick", "end")]
    inside += [label(right, height - 3, x.name, "axis", "end"), label(2, 13, y.name, "axis")]
    for level in levels:
        _, at = place(x.low, level.y)
        inside.append(line(_LEFT, at, right, at, f"curve {level.cls}"))
    inside += [polyline([place(*point) for point in _thinned(one.points)], f"curve {one.cls}") for one in curves]
    taken: list[float] = []
    for spot in sorted(spots, key=lambda one: -one.y1):
        (left, low), (far, high) = place(spot.x0, spot.y0), place(spot.x1, spot.y1)
        cls = "spot over" if spot.over else "spot allowed" if spot.allowed else "spot"
        inside.append(box(left - 2, high - 2, max(far - left, 0.0) + 4, max(low - high, 0.0) + 4, cls))
        at = high + 4
        while any(abs(at - other) < 14 for other in taken):
            at += 14
        taken.append(at)
        side = far + 8 if far < 0.6 * WIDTH else left - 8
        inside.append(label(side, at, spot.name, "label", None if far < 0.6 * WIDTH else "end"))
    return drawing(name, WIDTH, height, title, about, *inside)


def _shown(value: float, along: Axis) -> str:
    return show(0.0 if abs(value) < 1e-12 * along.high else value, along.dimension)


def _thinned(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Points without those that lie on the straight lines between the others, so that a page stays small.

    Source: D. H. Douglas and T. K. Peucker, 1973, with the distance measured upwards.
    """
    spread = max(y for _, y in points) - min(y for _, y in points) or 1.0
    kept, stack = {0, len(points) - 1}, [(0, len(points) - 1)]
    while stack:
        first, last = stack.pop()
        (x0, y0), (x1, y1) = points[first], points[last]
        far, at = 0.0015 * spread, 0
        for k in range(first + 1, last):
            share = (points[k][0] - x0) / (x1 - x0) if x1 > x0 else 0.5
            off = abs(points[k][1] - (y0 + share * (y1 - y0)))
            if off > far:
                far, at = off, k
        if at:
            kept.add(at)
            stack += [(first, at), (at, last)]
    return [points[k] for k in sorted(kept)]


def swatch(cls: str) -> str:
    """A short piece of a curve, for the words below a chart."""
    drawn = element("path", d="M1 4L25 4", cls=f"curve {cls}")
    return f'<svg viewBox="0 0 26 8" class="swatch" aria-hidden="true">{drawn}</svg>'


def gauge_parts() -> str:
    """What every gauge of a page shares: the limit, written once. The rail below it is the style's background."""
    shared = f'<defs><g id="limit">{line(200, 0, 200, 12, "limit")}</g></defs>'
    return f'<svg width="0" height="0" class="shared" aria-hidden="true">{shared}</svg>'


def gauge(kindest: float | None, worst: float | None, verdict: str) -> str:
    """A stress against its limit, which stands at the same place in every one: solid to the kindest reading, then open.

    kindest, worst: ratios; infinite or beyond the end is drawn with a point
    """
    full, end = 200.0, 300.0
    if worst is None:
        return ""
    cls = verdict.replace(" ", "-")
    solid = full * min(max(kindest if kindest is not None else worst, 0.0), 2.0)
    reach = min(full * max(worst, 0.0), end) if isfinite(worst) else end
    solid = min(solid, reach)
    parts = [f'<path d="M0 2h{number(solid)}v8H0z" class="bar"/>'] if solid > 0.05 else []
    if reach - solid > 0.5:
        along = number(reach - solid)
        parts.append(f'<path d="M{number(solid)} 3h{along}v6h-{along}z" class="doubt"/>')
    if not isfinite(worst) or full * worst > end:
        parts.append('<path d="M300 1l7 5l-7 5z" class="bar"/>')
    parts.append('<use href="#limit"/>')
    return f'<svg viewBox="0 0 308 12" class="gauge {cls}" aria-hidden="true">{"".join(parts)}</svg>'
