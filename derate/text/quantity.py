"""A value as one line of text: number, unit, tolerance, condition, evidence.

`33 uF 20%` is 26.4, 33, 33, 39.6 uF; `6.1..6.4 mm` is 6.1, 6.1, 6.4, 6.4 mm; `under 1 mm` is 0, 0, 1, 1 mm. Numbers
are plain decimals or `1e-3`, finite, with a point; units come from the closed table of `units`. Every text is either
read whole or refused by one ReadingError that says where and what to write instead.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from derate.terms.dimension import CELSIUS, RESISTANCE, Dimension
from derate.terms.place import Place, Problem, ReadingError
from derate.terms.values import Category, Curve, Value
from derate.text.grammar import (
    FIGURE_RE,
    FIRST_FIGURE_RE,
    LETTERED_RE,
    LONGEST,
    LOOKED,
    PLAIN_RE,
    Bound,
    Percent,
    conditions,
    evidence,
    read_body,
)
from derate.text.nodes import Mapping, Node, Scalar, split_numbers
from derate.text.units import LETTERS, UNITS, Fault

__all__ = [
    "Bound",
    "Percent",
    "Quantity",
    "Said",
    "Table",
    "figures_begin",
    "read_figures",
    "read_quantity",
    "read_rating",
    "read_said",
    "read_scalar",
    "read_table",
]


class Quantity(NamedTuple):
    """A value as read; numbers in SI units.

    value: four numbers, a looked-up word (`unmarked`, `none`, `not done`), or None for `unknown`
    dimension: for words the one asked for, which may be None
    statistic: '' | 'rms' | 'dc' | 'peak' | 'peak to peak', as the unit says
    known_by, note: the word and the rest of the bracket; None and '' without one
    at: the conditions it holds at, each a number [SI] with its dimension
    nominal: the number given alone or with a tolerance; None for ranges, bounds and words
    percent: the tolerance as two fractions, (-0.2, 0.5)
    bound: '' | 'under' | 'over' | 'about'
    typical: the middle number of least..typical..greatest [SI]
    """

    value: Value | Category | None
    dimension: Dimension | None
    statistic: str
    known_by: str | None
    note: str
    at: tuple[tuple[float, Dimension], ...]
    nominal: float | None
    percent: tuple[float, float] | None
    bound: Bound
    typical: float | None
    text: str
    place: Place


class Said(NamedTuple):
    """A word or sentence with how it is known: `Y1 (marked; photo 3)`."""

    text: str
    known_by: str | None
    note: str
    place: Place


class Table(NamedTuple):
    """A rating over one condition: the curve, and the quantity at each of its points, in the same order.

    statistic: of the values, as their unit says; place: of the table itself.
    """

    curve: Curve
    rows: tuple[Quantity, ...]
    statistic: str
    place: Place


def read_quantity(
    text: str, place: Place, dimension: Dimension | None = None, percent: Percent = "tolerance"
) -> Quantity:
    """Read one value. `place` is that of the first character of `text`; `dimension` is the one wanted, None for any.

    percent: what `5%` behind a value means: part spread and output regulation widen low..high, the uncertainty of a
    reading widens near..far. Raises ReadingError.
    """
    try:
        if len(text) > LONGEST:
            raise Fault(LONGEST, f"longer than {LONGEST} characters", "a value is one short line")
        body, known_by, note = evidence(text) if "(" in text or ")" in text else (text, None, "")
        plain = PLAIN_RE.fullmatch(body)
        if plain is not None:
            quantity = _plain(plain, text, place, dimension, percent, known_by, note)
            if quantity is not None:
                return quantity
        return _read(body, text, place, dimension, percent, known_by, note)
    except Fault as fault:
        raise fault.at(place, text) from None


def read_scalar(scalar: Scalar, dimension: Dimension | None = None, percent: Percent = "tolerance") -> Quantity:
    """Read the value of a scalar node; faults point into the line where the text stands as typed."""
    if scalar.in_line:
        return read_quantity(scalar.text, scalar.start, dimension, percent)
    try:
        return read_quantity(scalar.text, scalar.place, dimension, percent)
    except ReadingError as error:
        raise ReadingError(Problem(scalar.place, one.what, one.instead) for one in error.problems) from None


def read_said(text: str, place: Place) -> Said:
    """Read a word with its bracket of evidence. Raises ReadingError for a bracket that does not say how it is known."""
    try:
        body, known_by, note = evidence(text)
    except Fault as fault:
        raise fault.at(place, text) from None
    return Said(body.strip(), known_by, note, place)


def read_figures(
    text: str, place: Place, main: Dimension | None = None, percent: Percent = "tolerance"
) -> tuple[Quantity, ...]:
    """Read figures told apart by their units: `0.82 ohm 1% 1 W`, `22 uF 20% 50 V 105 degC`, `2 A at 55 degC`.

    main: the dimension that a number with a letter for its point has (`4u7`: capacitor or choke); a letter R, k, M or
    G is a resistance anyway. A bracket of evidence at the end holds for all. Raises ReadingError.
    """
    found: list[Quantity] = []
    position = 0
    try:
        if len(text) > LONGEST:
            raise Fault(LONGEST, f"longer than {LONGEST} characters", "give the part its own block of keys")
        body, known_by, note = evidence(text)
        while True:
            position += len(body) - position - len(body[position:].lstrip(" "))
            if position == len(body) and found:
                return tuple(found)
            piece, wanted = _figure(body, position, main)
            at = Place(place.path, place.line, place.column + position)
            found.append(_read(piece, piece, at, wanted, percent, known_by, note))
            position += len(piece)
    except Fault as fault:
        fault.offset += position
        raise fault.at(place, text) from None


def figures_begin(text: str) -> int:
    """Where the first figure of a short form stands, behind its words: 18 in `line diode 1N4007 1000 V 1 A`.

    The length of the text when there is none.
    """
    for word in re.finditer(r"[^ ]+", text):
        plain = FIRST_FIGURE_RE.match(text, word.start())
        if plain is not None and plain[1] in UNITS:
            return word.start()
        lettered = LETTERED_RE.fullmatch(word[0])
        if lettered is not None and (lettered["part"] or lettered["letter"] in "RkM") and word[0] not in "RkMGmunpµμ":
            return word.start()
    return len(text)


def read_table(
    mapping: Mapping,
    dimension: Dimension | None = None,
    condition: Dimension | None = None,
    percent: Percent = "tolerance",
) -> Table:
    """Read `{120 Hz: 0.31 A, 100 kHz: 0.47 A}`: exact conditions of one dimension, rising; values of one dimension.

    dimension, condition: those wanted, None for any. A value may be a range or a bound. Raises ReadingError with
    every fault of the table.
    """
    problems: list[Problem] = []
    points: list[tuple[float, Value]] = []
    rows: list[Quantity] = []
    for key, node in mapping.entries:
        try:
            here = _condition(key, condition)
            assert here.nominal is not None and here.dimension is not None
            condition = here.dimension
            if points and here.nominal <= points[-1][0]:
                raise _refused(key, "the conditions of a table rise", "put the lowest first, each one once")
            row = _row(node, dimension, percent, rows[0] if rows else None)
            assert isinstance(row.value, Value)
            dimension = row.dimension
            points.append((here.nominal, row.value))
            rows.append(row)
        except ReadingError as error:
            problems.extend(error.problems)
    if not mapping.entries:
        problems.append(Problem(mapping.place, "a table without entries", "write {120 Hz: 0.31 A}, or `unknown`"))
    if problems:
        raise ReadingError(problems)
    assert condition is not None and dimension is not None
    return Table(Curve(tuple(points), condition, dimension), tuple(rows), rows[0].statistic, mapping.place)


def read_rating(
    node: Node, dimension: Dimension | None = None, condition: Dimension | None = None, percent: Percent = "tolerance"
) -> Quantity | Table:
    """Read a rating, which is a value or a table. Raises ReadingError."""
    if isinstance(node, Scalar):
        return read_scalar(node, dimension, percent)
    if isinstance(node, Mapping):
        return read_table(node, dimension, condition, percent)
    raise ReadingError(
        split_numbers(node) or [Problem(node.place, "a list where one value belongs", "write a value or a table")]
    )


def _plain(
    plain: re.Match[str],
    text: str,
    place: Place,
    dimension: Dimension | None,
    percent: Percent,
    known_by: str | None,
    note: str,
) -> Quantity | None:
    """The quantity of a common form, or None for `_read` to decide: it must give just what `_read` gives."""
    first, second, name, share, condition, condition_name = plain.groups()
    unit = UNITS.get(name)
    if unit is None or len(first) > 20:
        return None
    found = unit.dimension
    if dimension is not None and found is not dimension and found != dimension:
        return None
    near = far = unit.value(first)
    nominal: float | None = near
    if second is not None:
        nominal, far = None, unit.value(second)
    if not 0.0 < near <= far or len(second or "") > 20:
        return None
    low, high, fractions = near, far, None
    if share is not None:
        fraction = float(share) / 100
        if fraction >= 1.0 or name == "%" or found is CELSIUS:
            return None
        low, high, fractions = near * (1 - fraction), far * (1 + fraction), (-fraction, fraction)
        if percent == "uncertainty":
            near, far = low, high
    at: tuple[tuple[float, Dimension], ...] = ()
    if condition is not None:
        by = UNITS.get(condition_name)
        if by is None or by.statistic in ("peak", "peak to peak") or len(condition) > 20:
            return None
        at = ((by.value(condition), by.dimension),)
    value = Value(low, near, far, high)
    return Quantity(value, found, unit.statistic, known_by, note, at, nominal, fractions, "", None, text, place)


def _read(
    body: str, text: str, place: Place, dimension: Dimension | None, percent: Percent, known_by: str | None, note: str
) -> Quantity:
    """Read the part of `text` before its bracket."""
    stripped = body.strip(" ")
    skipped = len(body) - len(body.lstrip(" "))
    if stripped == "unknown" or stripped in LOOKED:
        looked = LOOKED.get(stripped)
        return Quantity(looked, dimension, "", known_by, note, (), None, None, "", None, text, place)
    at: tuple[tuple[float, Dimension], ...] = ()
    split = stripped.find(" at ", 1)
    if split > 0:
        at = conditions(stripped[split + 4 :], skipped + split + 4)
        stripped = stripped[:split].rstrip(" ")
    try:
        value, found, statistic, nominal, share, bound, typical = read_body(stripped, dimension, percent)
    except Fault as fault:
        fault.offset += skipped
        raise
    return Quantity(value, found, statistic, known_by, note, at, nominal, share, bound, typical, text, place)


def _figure(body: str, position: int, main: Dimension | None) -> tuple[str, Dimension | None]:
    """The figure that begins at a position, and the dimension it must have when a letter stands for its point."""
    end = body.find(" ", position)
    word = body[position : end if end >= 0 else len(body)]
    lettered = LETTERED_RE.fullmatch(word)
    if lettered is not None and (lettered["part"] or lettered["letter"] != "m"):
        wanted = RESISTANCE if lettered["letter"] in "RkMG" else main
        if wanted in LETTERS:
            match = LETTERED_RE.match(body, position)
            assert match is not None
            return match[0], wanted
    match = FIGURE_RE.match(body, position)
    if match is None or not re.search(r"[^\W\d_]|°", match[0]):
        from derate.text.advice import advise, without_unit

        if match is not None and re.fullmatch(r"[0-9.]+ ?%", match[0]):
            raise Fault(0, f"'{match[0]}' stands behind no value", "write the tolerance behind the value it belongs to")
        raise without_unit(match[0], 0, None) if match is not None else advise(body[position:], None)
    return match[0], None


def _condition(key: Scalar, wanted: Dimension | None) -> Quantity:
    here = read_scalar(key, wanted)
    if here.nominal is None or here.percent or here.bound or here.at or here.known_by:
        raise _refused(key, f"'{key.text}' is no condition", "a condition is one number with its unit, such as 120 Hz")
    if here.statistic in ("peak", "peak to peak"):
        raise _refused(key, f"'{key.text}' is no condition", "write conditions as plain V or A, rms or dc")
    return here


def _row(node: Node, dimension: Dimension | None, percent: Percent, first: Quantity | None) -> Quantity:
    if not isinstance(node, Scalar):
        raise ReadingError([Problem(node.place, "an entry of a table is one value", "write {120 Hz: 0.31 A}")])
    row = read_scalar(node, dimension, percent)
    if not isinstance(row.value, Value):
        raise _refused(node, f"'{node.text}' in a table", "leave this point out")
    if row.at:
        raise _refused(node, "'at' inside a table", "the condition is the key")
    if first is not None and row.statistic != first.statistic:
        raise _refused(node, "two kinds of unit in one table", "use one, such as V or Vpk, throughout")
    return row


def _refused(scalar: Scalar, what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(scalar.start, what, instead)])
