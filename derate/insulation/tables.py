"""One family of insulation rules: its tables by name, read exactly, in fractions instead of floats."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache
from math import isinf, isnan
from typing import NamedTuple

from derate.packs.load import Packs
from derate.packs.table import Axis, Cell, Table
from derate.terms.dimension import LENGTH
from derate.terms.words import Confidence, weaker_confidence

# Exact arithmetic for distances: whole micrometres and fractions, so that rounding up never rests on a float.


@lru_cache(maxsize=8192)
def exact(number: float) -> Fraction:
    """The decimal number a float was written as: 2.4 is 12/5, not the nearest binary fraction.

    Raises ValueError for infinity and NaN.
    """
    if isinf(number) or isnan(number):
        raise ValueError(f"{number} is no number to calculate with")
    return Fraction(repr(float(number)))


def micrometres(metres_: float) -> Fraction:
    """A length in metres [m] as micrometres [um], to the nearest nanometre, which takes float dust off products."""
    return Fraction(round(exact(metres_) * 1_000_000_000), 1000)


def rounded_up(length: Fraction, step: int = 1) -> int:
    """A length [um] rounded up to a whole number of steps [um]; a length on a step stays.

    >>> rounded_up(Fraction(2810), 100)
    2900
    >>> rounded_up(Fraction(2400), 100)
    2400
    """
    return -int(-length // step) * step


def metres(length: int) -> float:
    """Whole micrometres as metres [m]: the float nearest to the decimal number."""
    return float(f"{length}e-6")


def millimetres(length: Fraction | int) -> str:
    """A length [um] as text in millimetres, exactly where its decimals end, to a tenth of a micrometre otherwise.

    >>> millimetres(2810), millimetres(4440)
    ('2.81', '4.44')
    """
    value = Fraction(length, 1000) if isinstance(length, int) else length / 1000
    text = f"{float(value):.4f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


# Reading a table of a pack exactly: one row of numbers, any axes of words, in fractions instead of floats.
#
# `read(table, number, **words)` gives the figure with its confidence and with the rows it came from, in words that a
# reader can follow by hand. Beyond the ends of a table nothing is known: NoRow says so.


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


# One family of insulation rules: its tables by name. Families never mix: a table is looked for in its own only.


BASIC_STANDARD, IT_EQUIPMENT, HOUSEHOLD = "60664-1", "62368-1", "60335-1"
FAMILIES = (BASIC_STANDARD, IT_EQUIPMENT, HOUSEHOLD)


class Family(NamedTuple):
    """A family by its name ('60664-1', '62368-1', '60335-1') with the tables its packs brought."""

    name: str
    tables: Mapping[str, Table]

    def table(self, name: str) -> Table:
        """A table of this family. Raises NoRow when no pack of the family has it."""
        found = self.tables.get(name)
        if found is None:
            raise NoRow(f"nothing was read on {name.replace('_', ' ')} in {self.name}")
        return found

    def has(self, name: str) -> bool:
        """Whether the family has a table of this name."""
        return name in self.tables


def families_of(packs: Packs) -> tuple[Family, ...]:
    """Every family that the loaded packs bring tables for, sorted by name."""
    found: dict[str, dict[str, Table]] = {}
    for (family, name), table in packs.tables.items():
        if family:
            found.setdefault(family, {})[name] = table
    return tuple(Family(name, found[name]) for name in sorted(found))
