"""Drawings as text: elements in the page's style, charts, the plots of a report."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape
from math import ceil, floor, inf, isfinite, log10

from derate.ledger.entry import Entry, Line, Picture, Subject
from derate.ledger.ledger import Ledger
from derate.report.faults import Row
from derate.report.words import clipped, known_text, listed, plain, quantity_words
from derate.terms.dimension import CURRENT, TIME, VOLTAGE, Dimension
from derate.terms.frozen import frozen, replace
from derate.terms.quantities import SWITCH_ON, CaseGroup, named
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Curve as Rating
from derate.terms.values import Value
from derate.text.units import show, show_value

# Drawings as text: elements with the classes of the page's style, and charts with round figures and units.


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


def label(x: float, y: float, text: str, cls: str = "label", anchor: str | None = None, most: int | None = None) -> str:
    """A short text; anchor: 'middle' or 'end'; most: characters, where there is room for more than usual."""
    return element("text", words(clipped(plain(text), most or _LONGEST)), x=x, y=y, cls=cls, text_anchor=anchor)


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


@frozen
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


@frozen
class Curve:
    """Points in SI units. cls: 'one' | 'two' | 'three' | 'bound'"""

    name: str
    points: tuple[tuple[float, float], ...]
    cls: str = "one"


@frozen
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


@frozen
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


# The plots of a report: the mains input over time, derating and pulse ratings, time to open over current.


# The plots of a report: the mains input over time, derating and pulse ratings with the operating point.
#
# A plot shows figures of the ledger and the curves they are held to; what cannot be drawn is told in words.


_OVER = {"air_temperature": "air beside the part", "pulse_width": "equivalent width of the pulse"}
_UNITS: dict[str, Dimension] = {"A": CURRENT, "V": VOLTAGE}
_CLASSES = ("one", "two", "three")
_FLAT = 20.0  # a curve this many times lower than the other is not seen on one scale
# rating over a condition: (what of, the condition's stress, the stress held to it, on logarithmic scales, what it is)
_RATINGS: tuple[tuple[str, QuantityName, QuantityName, bool, str], ...] = (
    ("power", "air_temperature", "power", False, "derating"),
    ("current", "air_temperature", "current_rms", False, "derating"),
    ("pulse_energy", "pulse_width", "energy", True, "pulse rating"),
    ("pulse_power", "pulse_width", "pulse_power", True, "pulse rating"),
    ("pulse_i2t", "pulse_width", "i2t", True, "pulse rating"),
    ("surge_current", "pulse_width", "current_peak", True, "pulse rating"),
)


@frozen
class Plot:
    """A drawing with its heading, what its lines are (class, words, numbers of rows) and a sentence below.

    svg: '' when there is nothing to draw, and then `says` tells why
    """

    title: str
    svg: str
    key: tuple[tuple[str, str, int], ...]
    says: str


def wave_plots(pictures: Sequence[Picture]) -> Iterator[Plot]:
    """The mains input over time: switch-on, and one cycle while it runs."""
    for picture in pictures:
        title = "Inrush at switch-on" if picture.kind == SWITCH_ON else "One mains cycle while it runs"
        case = f"{picture.case}. " if picture.case is not None else ""
        if not picture.lines:
            yield Plot(title, "", (), f"{case}Not drawn: {picture.why}.")
            continue
        for unit in dict.fromkeys(line.unit for line in picture.lines):
            lines = [line for line in picture.lines if line.unit == unit]
            what = {"A": "line current", "V": "bulk voltage"}.get(unit, unit)
            heading = title if picture.kind == SWITCH_ON else f"{title}: {what}"
            yield _wave(picture, unit, lines, heading, f"{case}Worked out again from the entries of the ledger.")


def _wave(picture: Picture, unit: str, lines: Sequence[Line], title: str, says: str) -> Plot:
    dimension = _UNITS[unit]
    marks = [one for one in picture.marks if one.unit == unit]
    values = [value for line in lines for value in line.points] + [one.value for one in marks]
    name = f"{picture.kind}-{unit.lower()}"
    key = [
        (_CLASSES[k % 3], f"{line.name}: {show(min(line.points), dimension)} to {show(max(line.points), dimension)}", 0)
        for k, line in enumerate(lines)
    ]
    key += [("bound", f"{one.name}: {show(one.value, dimension)}", one.entry) for one in marks]
    svg = chart(
        name,
        title,
        f"{says} {'; '.join(words for _, words, _ in key)}.",
        axis("time", TIME, picture.times, zero=True),
        _upwards(unit, lines, values),
        [
            Curve(line.name, tuple(zip(picture.times, line.points, strict=True)), _CLASSES[k % 3])
            for k, line in enumerate(lines)
        ],
        levels=[Level(one.name, one.value) for one in marks],
    )
    return Plot(title, svg, tuple(key), says)


def _upwards(unit: str, lines: Sequence[Line], values: Sequence[float]) -> Axis:
    """From nought for a current; by decades where the worst reading would press the other curve flat."""
    if unit != "A":
        return axis("voltage", VOLTAGE, values)
    peaks = [peak for line in lines if (peak := max(line.points)) > 0.0]
    if peaks and max(peaks) > _FLAT * min(peaks):
        return axis("current", CURRENT, [max(values), min(peaks) / 100.0], log=True)
    return axis("current", CURRENT, values, zero=True)


def rating_plots(ledger: Ledger) -> Iterator[Plot]:
    """Every rating that is a curve over temperature or pulse width, with the operating point where one is known.

    Parts of one rating and one operating point share a plot.
    """
    for of, over, stress, log, what in _RATINGS:
        alike: dict[object, list[Subject]] = {}
        for subject in ledger.subjects("part"):
            row = ledger.find(subject, named(f"rated.{of}"))
            if row is not None and isinstance(row.value, Rating) and len(row.value.points) > 1:
                pairs = tuple((at.value, one.value) for at, one in _operating(ledger, subject, over, stress))
                alike.setdefault((row.value, pairs), []).append(subject)
        for subjects in alike.values():
            yield _rating(ledger, subjects, of, over, stress, log, what)


def _rating(
    ledger: Ledger, subjects: Sequence[Subject], of: str, over: QuantityName, stress: QuantityName, log: bool, what: str
) -> Plot:
    subject = subjects[0]
    row = ledger.find(subject, named(f"rated.{of}"))
    assert row is not None and isinstance(row.value, Rating)
    rating = row.value
    curve = tuple((at, value.near) for at, value in rating.points)
    pairs = list(_operating(ledger, subject, over, stress))
    spots, key = [], [("one", f"{quantity_words(row.quantity)}: {known_text(rating, row.quantity)}", row.number)]
    for at, entry in pairs:
        assert isinstance(at.value, Value) and isinstance(entry.value, Value) and entry.case is not None
        most = _read(curve, at.value.far)
        over_it = most is not None and entry.value.near > most
        spots.append(Spot(entry.case.group, at.value.near, at.value.far, entry.value.near, entry.value.far, over_it))
        key.append(
            (
                "spot",
                f"{entry.case.group}: {quantity_words(stress)} {known_text(entry.value, stress)} at "
                f"{known_text(at.value, over)}",
                entry.number,
            )
        )
    spots = _merged(spots)
    allowed = _same_group(ledger, subject, named(f"allowed.{of}"), pairs[0][1].case.group) if pairs and log else None  # type: ignore[union-attr]
    if allowed is not None and isinstance(allowed.value, Value) and allowed.value.far < inf:
        least, most = allowed.value.near, allowed.value.far
        spots.append(Spot("allowed there", spots[0].x0, spots[0].x1, least, most, allowed=True))
        key.append(("allowed", f"allowed there: {known_text(allowed.value, allowed.quantity)}", allowed.number))
    xs = [x for x, _ in curve] + [x for one in spots for x in (one.x0, one.x1)]
    ys = [y for _, y in curve] + [y for one in spots for y in (one.y0, one.y1)]
    title = f"{listed(map(str, subjects), 4)}: {what} against {_OVER[over]}"
    says = "" if pairs else f"No operating point: {quantity_words(stress)} or {quantity_words(over)} is not known."
    along = axis(_OVER[over], rating.condition, xs, log)
    drawn = curve if log else (*curve, (along.high, curve[-1][1])) if curve[-1][1] == 0.0 else curve
    if not log and along.low < curve[0][0]:  # a rating does not grow when it gets colder: the first value holds
        drawn = ((along.low, curve[0][1]), *drawn)
    upwards = axis(quantity_words(row.quantity), rating.unit, ys, log, zero=not log)
    svg = chart(
        f"rating-{row.number}",
        title,
        f"{'; '.join(words for _, words, _ in key)}. {says}",
        along,
        upwards,
        [Curve(row.quantity, drawn)],
        spots,
    )
    return Plot(title, svg, tuple(key), says)


def _merged(spots: Sequence[Spot]) -> list[Spot]:
    """Events of the same figures as one spot with both names."""
    found: dict[tuple[float, ...], list[Spot]] = {}
    for one in spots:
        found.setdefault((one.x0, one.x1, one.y0, one.y1), []).append(one)
    return [
        replace(same[0], name=listed((one.name for one in same), 4), over=any(one.over for one in same))
        for same in found.values()
    ]


def _operating(
    ledger: Ledger, subject: Subject, over: QuantityName, stress: QuantityName
) -> Iterator[tuple[Entry, Entry]]:
    """The greatest stress of each group of cases with the condition it is held at."""
    worst: dict[str, tuple[Entry, Entry]] = {}
    for entry in ledger.rows(subject, stress):
        if entry.case is None or not isinstance(entry.value, Value) or entry.value.far == inf:
            continue
        at = ledger.find(subject, over, entry.case) or _same_group(ledger, subject, over, entry.case.group)
        if at is None or not isinstance(at.value, Value) or at.value.far == inf or at.value.near == -inf:
            continue
        known = worst.get(entry.case.group)
        if known is None or entry.value.far > _far(known[1]):
            worst[entry.case.group] = (at, entry)
    yield from (worst[group] for group in sorted(worst))


def _same_group(ledger: Ledger, subject: Subject, over: QuantityName, group: CaseGroup) -> Entry | None:
    rows = [one for one in ledger.rows(subject, over) if one.case is not None and one.case.group == group]
    return max(rows, key=_far, default=None)


def _far(entry: Entry) -> float:
    return entry.value.far if isinstance(entry.value, Value) else -inf


def _read(curve: Sequence[tuple[float, float]], at: float) -> float | None:
    """A curve read in a straight line between its points; its first value below them, nothing above."""
    if at <= curve[0][0]:
        return curve[0][1]
    for (x0, y0), (x1, y1) in zip(curve, curve[1:], strict=False):
        if at <= x1:
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0)
    return None


# Time to open over current or power, with the faults that the part has to open on.


def opening_plots(ledger: Ledger, faults: Sequence[Row] | None) -> Iterator[Plot]:
    """Time to open over current or power, with what each fault drives through the part that has to open.

    faults: None when nobody has looked
    """
    for subject in ledger.subjects("part"):
        row = ledger.find(subject, "rated.opens_within")
        if row is None or not isinstance(row.value, Rating):
            continue
        rating = row.value
        curve = tuple((at, value.far) for at, value in rating.points)
        longest, shortest = max(y for _, y in curve), min(y for _, y in curve)
        spots = _faults(ledger, subject, rating.condition, faults or (), longest)
        key = [("one", f"opens within: {known_text(rating, row.quantity)}", row.number)]
        key += [
            (
                "over" if one.over else "spot",
                f"{one.name}: {_span(one.x0, one.x1, rating.condition)}, "
                f"{'not shown to open' if one.over else f'shown to open within {show(one.y1, TIME)}'}",
                0,
            )
            for one in spots
        ]
        over = "current" if rating.condition == CURRENT else "power"
        says = (
            "No fault point: nobody has looked at the faults."
            if faults is None
            else ("" if spots else "No fault point: no fault drives a known figure through it.")
        )
        xs = [x for x, _ in curve] + [x for one in spots for x in (one.x0, one.x1)]
        title = f"{subject}: time to open against {over}"
        svg = chart(
            f"opening-{row.number}",
            title,
            f"{'; '.join(words for _, words, _ in key)}. {says}",
            axis(over, rating.condition, xs, True),
            axis("time", TIME, (shortest / 2, longest * 2), True),
            [Curve("opens within", curve)],
            _together(spots),
        )
        yield Plot(title, svg, tuple(key), says)


def _together(spots: Sequence[Spot]) -> list[Spot]:
    """Faults of one time as one spot: they would lie upon each other; each has its line in the words below."""
    found: dict[tuple[float, bool], list[Spot]] = {}
    for one in spots:
        found.setdefault((one.y1, one.over), []).append(one)
    return [
        replace(
            same[0],
            x0=min(one.x0 for one in same),
            x1=max(one.x1 for one in same),
            name=same[0].name if len(same) == 1 else f"{len(same)} faults",
        )
        for same in found.values()
    ]


def _span(low: float, high: float, dimension: Dimension) -> str:
    return show_value(Value.between(low, high), dimension)


def _faults(
    ledger: Ledger, subject: Subject, condition: Dimension, faults: Sequence[Row], longest: float
) -> list[Spot]:
    """One spot a fault over all its mains voltages; what is not shown to open stands at the longest time given."""
    resistance = ledger.find(subject, "part.resistance")
    found: dict[str, Spot] = {}
    for fault in faults:
        through = str(subject) in (fault.clears, *fault.subject.names)
        current = fault.current_rms
        if not through or not fault.computed or current is None or current.near <= 0 or current.far == inf:
            continue
        low, high = current.near, current.far
        if condition != CURRENT:
            if resistance is None or not isinstance(resistance.value, Value):
                continue
            low, high = low**2 * resistance.value.near, high**2 * resistance.value.far
        shown = fault.opening == "shown" and fault.time is not None
        time = fault.time.high if shown and fault.time is not None else longest
        spot = Spot(fault.fault, low, high, time, time, over=not shown)
        known = found.get(fault.fault)
        if known is not None:
            spot = replace(spot, x0=min(low, known.x0), x1=max(high, known.x1), y1=max(time, known.y1))
        found[fault.fault] = spot
    return list(found.values())
