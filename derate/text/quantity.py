"""A value as one line of text: number, unit, tolerance, condition, evidence; its grammar."""

from __future__ import annotations

import re
from math import inf, isfinite
from typing import Literal

from derate.terms.dimension import (
    AREA,
    CAPACITANCE,
    CELSIUS,
    ENERGY,
    FREQUENCY,
    I2T,
    INDUCTANCE,
    LENGTH,
    NUMBER,
    PER_KELVIN,
    RESISTANCE,
    THERMAL_RESISTANCE,
    VOLTAGE_PER_KELVIN,
    Dimension,
)
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Curve, Place, Problem, ReadingError, Value
from derate.text.nodes import Mapping, Node, Scalar, split_numbers
from derate.text.units import LETTERS, NUM, UNIT, UNITS, WRITTEN_EVIDENCE, Fault, Unit

# The grammar of a value: the pieces of one line of text, put into numbers or into a fault with its offset.


Percent = Literal["tolerance", "uncertainty", "regulation"]
Bound = Literal["", "under", "over", "about"]

LONGEST = 1000
# `about 2 kV` is anywhere within a tenth either way, `about 60 degC` within ten kelvin: common practice, no source.
ABOUT = 0.10
ABOUT_KELVIN = 10.0
NEVER_NEGATIVE = (LENGTH, AREA, RESISTANCE, CAPACITANCE, INDUCTANCE, FREQUENCY, I2T, THERMAL_RESISTANCE, ENERGY)
# `50 ppm/K` on a data sheet is ±50 of a resistor and +50 of a zener diode: the sign is asked for.
SIGNED = (PER_KELVIN, VOLTAGE_PER_KELVIN)
LOOKED = {word: Category.of(word) for word in ("unmarked", "none", "not done")}

_SHARE = r"[0-9]+(?:\.[0-9]+)?"
_TOLERANCE = rf"(?:±|\+/-)? ?{_SHARE} ?%|[+-]?{_SHARE}%?\.\.[+-]?{_SHARE} ?%"
_BOUND = r"(?:under|over|up to|about|at least|at most) |(?:<=|>=|<|>) ?"
_BODY = (
    rf"(?P<bound>{_BOUND})?(?P<a>{NUM})(?: ?(?P<ua>{UNIT}))?"
    rf"(?: ?\.\. ?(?P<b>{NUM})(?: ?(?P<ub>{UNIT}))?(?: ?\.\. ?(?P<c>{NUM})(?: ?(?P<uc>{UNIT}))?)?)?"
    rf"(?: (?P<tolerance>{_TOLERANCE}))?"
)
_CONDITION = rf"(?P<n>{NUM}) ?(?P<u>{UNIT})"
_LETTERED = r"(?P<whole>[0-9]*)(?P<letter>[RkMGmunpµμ])(?P<part>[0-9]*)"
# the forms nine values in ten have, in one match: `0.31 A`, `6.1..6.4 mm`, `22 uF 20%`, `0.31 A at 120 Hz`
PLAIN_RE = re.compile(
    rf"([+-]?{_SHARE})(?:\.\.([+-]?{_SHARE}))? ?({UNIT})(?: ({_SHARE})%)?(?: at ({_SHARE}) ?({UNIT}))?"
)
BODY_RE = re.compile(_BODY)
_CONDITION_RE = re.compile(_CONDITION)
LETTERED_RE = re.compile(rf"{_LETTERED}(?: (?P<tolerance>{_TOLERANCE}))?(?= |\Z)")
_ONE_AT = re.sub(r"\?P<\w+>", "?:", _CONDITION)
FIGURE_RE = re.compile(rf"{_BODY}(?: at {_ONE_AT}(?: and {_ONE_AT})*)?(?= |\Z)")
FIRST_FIGURE_RE = re.compile(rf"(?:{_BOUND})?{NUM}(?: ?\.\. ?{NUM})* ?({UNIT})(?= |\Z)")
RATIO_RE = re.compile(rf"({_SHARE}) to ({_SHARE})")
_BOUNDS: dict[str, Bound] = {
    "under": "under",
    "up to": "under",
    "at most": "under",
    "<": "under",
    "<=": "under",
    "over": "over",
    "at least": "over",
    ">": "over",
    ">=": "over",
    "about": "about",
}
# Compiled where a coefficient is read, which few designs state.
_EITHER_WAY = rf"(?:±|\+/-|\+-) ?({_SHARE}) ?({UNIT})"
_FIGURE = rf"{NUM} ?({UNIT})"
# letters that stand for the decimal point, by the dimension that has them (IEC 60062)


def evidence(text: str) -> tuple[str, str | None, str]:
    """The text before the bracket, how it is known, the note."""
    begin = text.find("(")
    if begin < 0:
        if ")" in text:
            raise Fault(text.index(")"), "a ) without its (", "")
        return text, None, ""
    end = text.rstrip()
    if not end.endswith(")"):
        last = text.rfind(")")
        if last < 0:
            raise Fault(begin, "this ( never closes", "close it with )")
        raise Fault(last + 1, "text behind the bracket", "the bracket with how it is known comes last")
    inside = end[begin + 1 : -1]
    word, _, note = inside.partition(";")
    word = word.strip()
    if word not in WRITTEN_EVIDENCE:
        from derate.text.advice import about_evidence

        raise Fault(begin + 1, *about_evidence(word, inside))
    return text[:begin].rstrip(), word, note.strip()


def conditions(text: str, offset: int) -> tuple[tuple[float, Dimension], ...]:
    found: list[tuple[float, Dimension]] = []
    for piece in text.split(" and "):
        match = _CONDITION_RE.fullmatch(piece.strip())
        unit = UNITS.get(match["u"]) if match else None
        if match is None or unit is None:
            from derate.text.advice import advise

            fault = advise(piece.strip(), None)
            raise Fault(offset + fault.offset, f"the condition behind 'at': {fault.what}", fault.instead)
        if unit.statistic in ("peak", "peak to peak"):
            raise Fault(offset, f"a condition in {unit.spelling}", "write conditions as plain V or A, rms or dc")
        if any(unit.dimension == dimension for _, dimension in found):
            raise Fault(offset, f"two conditions that are both {unit.dimension}", "one value, one condition of a kind")
        found.append((_number(unit, match["n"], offset), unit.dimension))
        offset += len(piece) + 5
    return tuple(found)


def _number(unit: Unit, number: str, offset: int) -> float:
    value = unit.value(number)
    if not isfinite(value):
        raise Fault(offset, f"'{_clipped(number)}' is too large a number", "write `over` and a number, or `unknown`")
    if value == 0.0 and re.search(r"[1-9]", number.partition("e")[0]):
        raise Fault(offset, f"'{_clipped(number)}' is too small a number", "write 0")
    if value < 0.0 and unit.dimension in NEVER_NEGATIVE:
        raise Fault(offset, f"{unit.dimension} cannot be negative", f"write {_clipped(number[1:])} {unit.spelling}")
    if unit.dimension == CELSIUS and value < -273.15:
        raise Fault(offset, "a temperature below absolute zero", "")
    return value + 0.0  # no negative zero


def _clipped(text: str) -> str:
    return text if len(text) <= 40 else text[:39] + "…"


# value, dimension, statistic, nominal, percent, bound, typical
Body = tuple[Value, Dimension, str, "float | None", "tuple[float, float] | None", Bound, "float | None"]


def read_body(body: str, dimension: Dimension | None, percent: Percent) -> Body:
    if dimension is not None and dimension.exponents[4] < 0 and dimension in SIGNED:
        signed = _signed(body, dimension)
        if signed is not None:
            return signed
    letters = LETTERS.get(dimension) if dimension is not None else None
    if letters is not None:
        lettered = _lettered(body, dimension, letters, percent)
        if lettered is not None:
            return lettered
    ratio = RATIO_RE.fullmatch(body)
    if ratio is not None and (dimension is None or dimension == NUMBER) and float(ratio[2]) > 0.0:
        number = float(ratio[1]) / float(ratio[2])
        if isfinite(number):
            return Value.exact(number), NUMBER, "", number, None, "", None
    match = BODY_RE.fullmatch(body)
    if match is None:
        from derate.text.advice import advise

        raise advise(body, dimension)
    numbers, units = _numbers(match, body, dimension)
    unit = units[-1]
    word = (match["bound"] or "").strip()
    tolerance = match["tolerance"]
    share = _share(tolerance, match.start("tolerance"), unit) if tolerance is not None else None
    if word:
        if len(numbers) > 1 or share is not None:
            raise Fault(0, f"'{word}' with a range or a tolerance", "write one of the two")
        return _bounded(_BOUNDS[word], numbers[0], unit)
    near, far = numbers[0], numbers[-1]
    if share is not None and len(numbers) == 3:
        raise Fault(match.start("tolerance"), "least..typical..greatest with a tolerance", "leave the tolerance out")
    value = _widened(near, far, share, percent, match.start("tolerance")) if share else Value(near, near, far, far)
    nominal = near if len(numbers) == 1 else None
    # Of least..typical..greatest the ends are what may occur in this sample; the middle proves nothing about it.
    typical = numbers[1] if len(numbers) == 3 else None
    return value, unit.dimension, unit.statistic, nominal, share, "", typical


def _signed(body: str, dimension: Dimension) -> Body | None:
    """What may go either way, ±50 ppm/K, as all that it may be; None for what is read as any value is."""
    either = re.fullmatch(_EITHER_WAY, body)
    unit = UNITS.get(either[2]) if either is not None else None
    if either is not None and unit is not None:
        if unit.dimension != dimension:
            from derate.text.advice import wrong_dimension

            raise wrong_dimension(unit, either.start(2), either[1], dimension)
        size = _number(unit, either[1], either.start(1))
        return Value.between(-size, size), unit.dimension, "", None, None, "", None
    told = next((one[0] for one in re.finditer(_FIGURE, body) if _is_of(one[1], dimension)), "").lstrip("+-")
    if not told or body[0] in "+-" or not re.match(rf"{NUM}|{_BOUND}", body) or not re.search("[1-9]", body):
        return None
    if ".." in body:
        instead = f"write each of its ends with its sign, or ±{told}"
    else:
        instead = f"write ±{told} where it may go either way, +{told} where it rises with heat"
    raise Fault(0, f"'{_clipped(body)}' does not say which way", instead)


def _is_of(spelling: str, dimension: Dimension) -> bool:
    unit = UNITS.get(spelling)
    return unit is not None and unit.dimension == dimension


_NO_UNIT = Unit("", NUMBER, "", 1.0, "")


def _numbers(match: re.Match[str], body: str, dimension: Dimension | None) -> tuple[list[float], list[Unit]]:
    names = [name for name in "abc" if match[name] is not None]
    units: list[Unit] = []
    last: Unit | None = None
    for name in reversed(names):
        spelling = match["u" + name]
        if spelling is not None:
            unit = UNITS.get(spelling)
            if unit is None:
                from derate.text.advice import unknown_unit

                raise unknown_unit(spelling, match.start("u" + name), match[name], dimension)
            if last is not None and (unit.dimension, unit.statistic) != (last.dimension, last.statistic):
                raise Fault(match.start("u" + name), f"a range from {unit.spelling} to {last.spelling}", "use one unit")
            if dimension is not None and unit.dimension != dimension:
                from derate.text.advice import wrong_dimension

                raise wrong_dimension(unit, match.start("u" + name), match[name], dimension)
            last = unit
        elif last is None:
            if dimension is not None and dimension != NUMBER or any(match["u" + other] for other in names):
                from derate.text.advice import without_unit

                raise without_unit(body, match.end(name), dimension)
            last = _NO_UNIT
        units.insert(0, last)
    numbers = [_number(unit, match[name], match.start(name)) for unit, name in zip(units, names, strict=True)]
    if numbers != sorted(numbers):
        raise Fault(match.start(names[0]), "a range whose first end is the greater", "write the lower end first")
    return numbers, units


def _share(text: str, offset: int, unit: Unit) -> tuple[float, float]:
    if unit.dimension == CELSIUS:
        raise Fault(offset, "a percentage of a temperature", "write a range, such as 69..73 degC")
    if unit.spelling == "%":
        raise Fault(offset, "a percentage of a percentage", "write a range, such as 45..55%")
    bare = text.replace("%", "").replace(" ", "")
    if ".." in bare:
        first, _, second = bare.partition("..")
        below, above = float(first) / 100, float(second) / 100
    else:
        above = float(bare.lstrip("±+/-")) / 100
        below = -above
    if not below <= 0.0 <= above:
        raise Fault(offset, "a tolerance that leaves out the value itself", "write it as -20..+50%")
    if below <= -1.0 or not isfinite(above):
        raise Fault(offset, "a tolerance of 100% or more downwards", "")
    return below, above


def _widened(near: float, far: float, share: tuple[float, float], percent: Percent, offset: int) -> Value:
    below, above = share
    low = min(near * (1 + below), near * (1 + above))
    high = max(far * (1 + below), far * (1 + above))
    if not (isfinite(low) and isfinite(high)):
        raise Fault(offset, "too large a number with this tolerance", "")
    if percent == "uncertainty":
        return Value(low, low, high, high)
    return Value(low, near, far, high)


def _bounded(bound: Bound, number: float, unit: Unit) -> Body:
    dimension = unit.dimension
    temperature = dimension == CELSIUS
    if bound == "about":
        if temperature:
            near, far = number - ABOUT_KELVIN, number + ABOUT_KELVIN
        else:
            near, far = sorted((number * (1 - ABOUT), number * (1 + ABOUT)))
            if number == 0.0 or not isfinite(near) or not isfinite(far):
                raise Fault(0, "'about' this number says nothing", "write a range, or `under` a number")
        return Value(near, near, far, far), dimension, unit.statistic, number, None, bound, None
    if number < 0.0 and not temperature:
        raise Fault(0, "a bound on a negative number", "write a range, such as -13..-11 V")
    if bound == "under":
        # Everything but a temperature is a size, and a size begins at nothing; a temperature is open downwards.
        least = -inf if temperature else 0.0
        return Value(least, least, number, number), dimension, unit.statistic, None, None, bound, None
    return Value(number, number, inf, inf), dimension, unit.statistic, None, None, bound, None


def _lettered(body: str, dimension: Dimension | None, letters: dict[str, int], percent: Percent) -> Body | None:
    """`4k7`, `R47`, `24k`, `1n5 10%`: the letter is the decimal point, and the unit goes without saying."""
    match = LETTERED_RE.fullmatch(body)
    if match is None or dimension is None:
        return None
    whole, letter, part = match["whole"], match["letter"], match["part"]
    if letter not in letters or not (whole or part) or (not whole and letter not in "Rpn"):
        return None
    unit = Unit("", dimension, "", 1.0, "")
    nominal = _number(unit, f"{whole or '0'}.{part or '0'}e{letters[letter]}", 0)
    share = _share(match["tolerance"], match.start("tolerance"), unit) if match["tolerance"] else None
    value = _widened(nominal, nominal, share, percent, 0) if share else Value.exact(nominal)
    return value, dimension, "", nominal, share, "", None


# A value as one line of text: number, unit, tolerance, condition, evidence.
#
# `33 uF 20%` is 26.4, 33, 33, 39.6 uF; `6.1..6.4 mm` is 6.1, 6.1, 6.4, 6.4 mm; `under 1 mm` is 0, 0, 1, 1 mm. Numbers
# are plain decimals or `1e-3`, finite, with a point; units come from the closed table of `units`. Every text is
# either read whole or refused by one ReadingError that says where and what to write instead.


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
    if found.exponents[4] < 0 and found in SIGNED:
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
