"""Reading a table of a pack exactly: one row of numbers, any axes of words, in fractions instead of floats.

`read(table, number, **words)` gives the figure with its confidence and with the rows it came from, in words that a
reader can follow by hand. Beyond the ends of a table nothing is known: NoRow says so.
"""

from __future__ import annotations

from bisect import bisect_left
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from derate.packs.table import Axis, Cell, Table
from derate.required.exact import exact
from derate.terms.dimension import LENGTH
from derate.terms.words import Confidence, weaker_confidence


class NoRow(Exception):
    """A table has no answer; the text says why."""


class Found(NamedTuple):
    """A figure of a table: its value [SI, exact], how sure the cells are, and how it was read, for a reader.

    between: read in a straight line between two rows, and so no figure that the table prints
    """

    value: Fraction
    confidence: Confidence
    words: str
    between: bool = False


def read(table: Table, number: Fraction | None = None, **words: str) -> Found:
    """The figure of a table for a number along its one number axis (None when it has none) and words along the rest.

    Kinds: `next row up` takes the first row at or above; `linear` reads in a straight line between two rows. Below the
    first row the first row holds for `next row up` and where the ends say hold. Raises NoRow.
    """
    fixed: dict[int, int] = {}
    along: tuple[int, Axis] | None = None
    for place, axis in enumerate(table.axes):
        if axis.dimension is not None:
            along = (place, axis)
        elif axis.name not in words or words[axis.name] not in axis.words:
            raise NoRow(f"{table.name} has no column for {axis.name.replace('_', ' ')} {words.get(axis.name, '')}")
        else:
            fixed[place] = axis.words.index(words[axis.name])
    if along is None:
        found = _figure(table, fixed, None, 0)
        return Found(found.value, found.confidence, f"{', '.join(words.values())}: {_told(table, found.value)}")
    if number is None:
        raise NoRow(f"{table.name} is read at a number, and there is none")
    place, axis = along
    shares = _rows(table.name, axis, number)
    parts = [(_figure(table, fixed, place, row), row, share) for row, share in shares]
    value = sum((found.value * share for found, _, share in parts), Fraction(0))
    confidence: Confidence = "published"
    for found, _, _ in parts:
        confidence = weaker_confidence(confidence, found.confidence)
    named = [f"{_at(axis, row)}: {_told(table, found.value)}" for found, row, _ in parts]
    if len(named) == 1:
        return Found(value, confidence, f"row {named[0]}")
    return Found(value, confidence, f"in a straight line between row {named[0]} and row {named[1]}", between=True)


def _rows(name: str, axis: Axis, number: Fraction) -> list[tuple[int, Fraction]]:
    points = _points(axis.points)
    if number > points[-1]:
        if axis.ends in ("hold", "hold above"):
            return [(len(points) - 1, Fraction(1))]
        raise NoRow(f"{_number(axis, number)} lies beyond the last row of {name.replace('_', ' ')}")
    if axis.kind == "next row up":
        return [(bisect_left(points, number), Fraction(1))]
    if axis.kind != "linear":
        raise NoRow(f"{name} is neither read between its rows nor by the next row up")
    if number < points[0]:
        if axis.ends in ("hold", "hold below"):
            return [(0, Fraction(1))]
        raise NoRow(f"{_number(axis, number)} lies below the first row of {name.replace('_', ' ')}")
    above = bisect_left(points, number)
    if points[above] == number:
        return [(above, Fraction(1))]
    share = (number - points[above - 1]) / (points[above] - points[above - 1])
    return [(above - 1, 1 - share), (above, share)]


@lru_cache(maxsize=256)
def _points(points: tuple[float, ...]) -> tuple[Fraction, ...]:
    return tuple(exact(point) for point in points)


def _figure(table: Table, fixed: dict[int, int], place: int | None, row: int) -> Found:
    index = tuple(row if at == place else fixed[at] for at in range(len(table.axes)))
    cell: Cell = table.cells[index]
    if cell.value is None:
        raise NoRow(f"{table.name} has no figure there")
    if not cell.value.is_exact:  # the near end alone would ask for less than may be needed
        raise NoRow(f"{table.name} gives no single figure there")
    return Found(exact(cell.value.near), cell.confidence, "")


def _number(axis: Axis, number: Fraction) -> str:
    return f"{float(number):.6g} {axis.dimension.symbol if axis.dimension is not None else ''}".strip()


def _at(axis: Axis, row: int) -> str:
    symbol = axis.dimension.symbol if axis.dimension is not None else ""
    return f"{axis.points[row]:g} {symbol}".strip()


def _told(table: Table, value: Fraction) -> str:
    if table.unit == LENGTH:
        return f"{float(value * 1000):g} mm"
    return f"{float(value):g} {table.unit.symbol}".strip()
