"""Time to open over current or power, with the faults that the part has to open on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import inf

from derate.ledger.entry import Subject
from derate.ledger.ledger import Ledger
from derate.report.faults import Row
from derate.report.svg_chart import Curve, Spot, axis, chart
from derate.report.svg_plots import Plot
from derate.report.words import known_text
from derate.terms.dimension import CURRENT, TIME, Dimension
from derate.terms.values import Curve as Rating
from derate.terms.values import Value
from derate.text.units import show, show_value


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
            ("over" if one.over else "spot", f"{one.name}: {_span(one.x0, one.x1, rating.condition)}, "
             f"{'not shown to open' if one.over else f'shown to open within {show(one.y1, TIME)}'}", 0)
            for one in spots
        ]  # fmt: skip
        over = "current" if rating.condition == CURRENT else "power"
        says = "No fault point: nobody has looked at the faults." if faults is None else (
            "" if spots else "No fault point: no fault drives a known figure through it."
        )  # fmt: skip
        xs = [x for x, _ in curve] + [x for one in spots for x in (one.x0, one.x1)]
        title = f"{subject}: time to open against {over}"
        svg = chart(f"opening-{row.number}", title, f"{'; '.join(words for _, words, _ in key)}. {says}",
                    axis(over, rating.condition, xs, True), axis("time", TIME, (shortest / 2, longest * 2), True),
                    [Curve("opens within", curve)], _together(spots))  # fmt: skip
        yield Plot(title, svg, tuple(key), says)


def _together(spots: Sequence[Spot]) -> list[Spot]:
    """Faults of one time as one spot: they would lie upon each other; each has its line in the words below."""
    found: dict[tuple[float, bool], list[Spot]] = {}
    for one in spots:
        found.setdefault((one.y1, one.over), []).append(one)
    return [
        replace(
            same[0], x0=min(one.x0 for one in same), x1=max(one.x1 for one in same),
            name=same[0].name if len(same) == 1 else f"{len(same)} faults",
        )  # fmt: skip
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
