"""Tables of a pack: axes, cells, how to read between the rows, what happens beyond the ends, confidence of each cell.

Kinds: `linear` and `log-log` read between the points; `next row up` takes the row at or above, as printed tables of
distances ask; `band` has one more edge than cells, an edge belonging to the band below it. Axes of words match exactly.
An uncertain input is looked up at both ends and at every breakpoint between, an uncertain word for every member.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise, product
from math import exp, inf, log

from derate.terms.dimension import Dimension
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Known, Place, Value
from derate.terms.words import Confidence, weaker_confidence
from derate.text.units import show

KINDS = ("linear", "log-log", "next row up", "band")
ENDS = ("refuse", "hold", "hold below", "hold above")

Index = tuple[int, ...]
Share = tuple[int, float]  # a row, and how much of it


class Axis(NamedTuple):
    """One axis: a quantity with its breakpoints [SI], or a word with those it has rows for."""

    name: str
    dimension: Dimension | None
    points: tuple[float, ...] = ()
    words: tuple[str, ...] = ()
    kind: str = "linear"
    ends: str = "refuse"

    @property
    def rows(self) -> int:
        """How many cells lie along this axis."""
        if self.dimension is None:
            return len(self.words)
        return len(self.points) - (self.kind == "band")


class Cell(NamedTuple):
    """One cell: its value, None where the source leaves it empty, and how sure it is."""

    value: Value | None
    confidence: Confidence


class Table(NamedTuple):
    """A table as read, its cells by their position along each axis."""

    name: str
    pack: str
    family: str
    axes: tuple[Axis, ...]
    unit: Dimension
    cells: Mapping[Index, Cell]
    says: str
    source: str
    place: Place

    def look_up(self, inputs: Mapping[str, Known | None]) -> Looked:
        """The value for these inputs, by axis name; a note and no value where the table has no answer."""
        narrow: list[list[list[Share]]] = []
        wide: list[list[list[Share]]] = []
        for axis in self.axes:
            given = inputs.get(axis.name)
            if axis.dimension is None:
                found = _word_rows(axis, given)
                if isinstance(found, str):
                    return Looked(None, "published", found)
                narrow.append(found)
                wide.append(found)
                continue
            if not isinstance(given, Value):
                return Looked(None, "published", f"{axis.name} is {given if given else 'not known'}, not a number")
            for rows, least, greatest in ((narrow, given.near, given.far), (wide, given.low, given.high)):
                shares = _number_rows(axis, least, greatest)
                if isinstance(shares, str):
                    return Looked(None, "published", f"{axis.name} {shares}")
                rows.append(shares)
        return self._joined(narrow, wide)

    def _joined(self, narrow: list[list[list[Share]]], wide: list[list[list[Share]]]) -> Looked:
        logs = any(axis.kind == "log-log" for axis in self.axes if axis.dimension is not None)
        ends: list[float] = []
        confidence: Confidence = "published"
        for rows, lower, upper in ((narrow, "near", "far"), (wide, "low", "high")):
            least, greatest = inf, -inf
            for corner in product(*rows):
                sums = [0.0, 0.0]
                for index, share in _weights(corner):
                    cell = self.cells[index]
                    if cell.value is None:
                        return Looked(None, confidence, f"its source has no figure {self._where(index)}")
                    confidence = weaker_confidence(confidence, cell.confidence)
                    for end, name in enumerate((lower, upper)):
                        number: float = getattr(cell.value, name)
                        sums[end] += share * (log(number) if logs else number)
                down, up = (exp(sums[0]), exp(sums[1])) if logs else sums
                least, greatest = min(least, down), max(greatest, up)
            ends += [least, greatest]
        near, far, low, high = ends
        return Looked(Value(min(low, near), near, far, max(high, far)), confidence)

    def _where(self, index: Index) -> str:
        words = []
        for axis, row in zip(self.axes, index, strict=True):
            at = axis.words[row] if axis.dimension is None else _shown(axis, axis.points[row])
            words.append(f"{axis.name} {at}")
        return "at " + ", ".join(words)


class Looked(NamedTuple):
    """What a table answered: a value and the weakest confidence of the cells it used, or the reason for none."""

    value: Value | None
    confidence: Confidence
    note: str = ""


def _word_rows(axis: Axis, given: Known | None) -> list[list[Share]] | str:
    if isinstance(given, Value) and given.is_exact:  # a class written as a bare number: `class: 2`
        given = Category.of(f"{given.low:g}")
    if not isinstance(given, Category):
        return f"{axis.name} is not known"
    without = [word for word in given.members if word not in axis.words]
    if without:
        return f"it has no row for {axis.name} {without[0]}"
    return [[(axis.words.index(word), 1.0)] for word in given.members]


def _number_rows(axis: Axis, least: float, greatest: float) -> list[list[Share]] | str:
    """The rows met between two ends of an input: at the ends and at every breakpoint between them."""
    points = axis.points
    if least < points[0]:
        if axis.ends in ("hold", "hold below"):
            least = points[0]
        elif axis.kind != "next row up":
            return f"{_shown(axis, least)} lies below its first row, {_shown(axis, points[0])}"
    if greatest > points[-1]:
        if axis.ends not in ("hold", "hold above"):
            return f"{_shown(axis, greatest)} lies beyond its last row, {_shown(axis, points[-1])}"
        greatest = points[-1]
        least = min(least, greatest)
    greatest = max(greatest, least)
    inside = [point for point in points if least < point < greatest]
    numbers = [least, *inside, greatest]
    if axis.kind == "next row up":
        return [[(next(i for i, point in enumerate(points) if number <= point), 1.0)] for number in numbers]
    if axis.kind == "band":
        return [[(max(0, next(i for i, edge in enumerate(points) if number <= edge) - 1), 1.0)] for number in numbers]
    return [_between(axis, number) for number in numbers]


def _shown(axis: Axis, number: float) -> str:
    return show(number, axis.dimension) if axis.dimension is not None else f"{number:g}"


def _between(axis: Axis, number: float) -> list[Share]:
    points = axis.points
    if len(points) == 1:
        return [(0, 1.0)]
    for row, (one, other) in enumerate(pairwise(points)):
        if one <= number <= other:
            if axis.kind == "log-log":
                share = (log(number) - log(one)) / (log(other) - log(one))
            else:
                share = (number - one) / (other - one)
            return [part for part in ((row, 1.0 - share), (row + 1, share)) if part[1] > 0.0]
    raise AssertionError("the ends were checked before")


def _weights(corner: tuple[list[Share], ...]) -> Iterator[tuple[Index, float]]:
    for parts in product(*corner):
        share = 1.0
        for _, one in parts:
            share *= one
        yield tuple(row for row, _ in parts), share
