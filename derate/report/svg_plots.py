"""The plots of a report: the mains input over time, derating and pulse ratings, time to open over current."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf

from derate.ledger.entry import Entry, Line, Picture, Subject
from derate.ledger.ledger import Ledger
from derate.report.faults import Row
from derate.report.svg import Axis, Curve, Level, Spot, axis, chart
from derate.report.words import known_text, listed, quantity_words
from derate.terms.cases import SWITCH_ON, CaseGroup
from derate.terms.dimension import CURRENT, TIME, VOLTAGE, Dimension
from derate.terms.quantities import QuantityName, named
from derate.terms.values import Curve as Rating
from derate.terms.values import Value
from derate.text.units import show, show_value

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


@dataclass(frozen=True, slots=True)
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
            yield _wave(picture, unit, lines, heading, f"{case}Worked out again from the rows of the ledger.")


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
