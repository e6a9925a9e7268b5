"""The grammar of a value: the pieces of one line of text, put into numbers or into a fault with its offset."""

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
    RESISTANCE,
    THERMAL_RESISTANCE,
    Dimension,
)
from derate.terms.values import Category, Value
from derate.text.units import LETTERS, NUM, UNIT, UNITS, WRITTEN_EVIDENCE, Fault, Unit

Percent = Literal["tolerance", "uncertainty", "regulation"]
Bound = Literal["", "under", "over", "about"]

LONGEST = 1000
# `about 2 kV` is anywhere within a tenth either way, `about 60 degC` within ten kelvin: common practice, no source.
ABOUT = 0.10
ABOUT_KELVIN = 10.0
NEVER_NEGATIVE = (LENGTH, AREA, RESISTANCE, CAPACITANCE, INDUCTANCE, FREQUENCY, I2T, THERMAL_RESISTANCE, ENERGY)
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
_RATIO_RE = re.compile(rf"({_SHARE}) to ({_SHARE})")
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
    letters = LETTERS.get(dimension) if dimension is not None else None
    if letters is not None:
        lettered = _lettered(body, dimension, letters, percent)
        if lettered is not None:
            return lettered
    ratio = _RATIO_RE.fullmatch(body)
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
