"""Reading a formula: grammar, names and dimensions, each fault with its columns."""

from __future__ import annotations

import re
from collections.abc import Mapping
from math import isfinite

from derate.terms.dimension import CELSIUS, NUMBER, Dimension, DimensionError
from derate.terms.tuples import NamedTuple
from derate.terms.values import Place, Problem, ReadingError, nearest
from derate.text.formula import Choice, Comparison, Formula, Name, Negative, Number, Operation, Term, lay_flat
from derate.text.nodes import Scalar
from derate.text.units import UNITS

LONGEST = 400
DEEPEST = 30
_COMPARISONS: tuple[Comparison, ...] = ("<=", ">=", "<", ">")
_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?(?:e[+-]?[0-9]{1,4})?")
_UNIT = re.compile(r" *([A-Za-zµμΩ\u2126°%][A-Za-z_0-9.µμΩ\u2126°²^]*)((?:/[A-Za-zµμ]+[2²]?)?(?:\^2)?)")
_NAME = re.compile(r"[A-Za-z_][A-Za-z_0-9]*(?:\.[A-Za-z_0-9]+)*")
_TOKEN = re.compile(r" *(<=|>=|[-+*/(),<>])")
_HINTS = {
    "**": "powers are not part of it: multiply",
    "^": "powers are not part of it: multiply",
    "==": "write <= or >=",
    "=<": "write <=",
    "=>": "write >=",
    "=": "write <= or >=",
    "!=": "write <= or >=",
    "×": "write *",
    "·": "write *",
    "÷": "write /",
    "≤": "write <=",
    "≥": "write >=",
    "−": "write -",
}


class FormulaError(ReadingError):
    """A formula that was refused; `ends` gives for each problem the place behind its last character."""

    def __init__(self, problems: Mapping[Problem, Place]) -> None:
        super().__init__(problems)
        self.ends = dict(problems)


class Stop(Exception):
    """A fault of grammar: nothing more can be read."""


class Checked(NamedTuple):
    """The terms of a formula whose names and dimensions are right."""

    left: Term
    right: Term | None
    comparison: Comparison
    dimension: Dimension
    names: tuple[str, ...]


class _Part(NamedTuple):
    """A term with its dimension (None after a fault that was already told) and its span in the text."""

    term: Term
    dimension: Dimension | None
    begin: int
    end: int


def _clipped(text: str) -> str:
    return text if len(text) <= 40 else text[:39] + "…"


class Reader:
    def __init__(self, text: str, place: Place, names: Mapping[str, Dimension]) -> None:
        self.problems: dict[Problem, Place] = {}
        self._text, self._place, self._known = text, place, names
        self._names: dict[str, int] = {}
        self._at = 0
        self._depth = 0

    def formula(self, comparison: bool) -> Checked:
        """Read the whole text."""
        if len(self._text) > LONGEST:
            self._stop(LONGEST, LONGEST, f"a formula of more than {LONGEST} characters", "name a quantity for a part")
        if not self._text.strip(" "):
            self._stop(0, 0, "an empty formula", "write a comparison" if comparison else "write a number or a name")
        left = self._sum()
        sign: Comparison = next((one for one in _COMPARISONS if self._peek() == one), "")
        right: _Part | None = None
        if sign:
            begin = self._skip()
            if not comparison:
                self._stop(begin, begin + len(sign), "a comparison where one value belongs", "leave one side out")
            self._take()
            right = self._sum()
            if self._peek() in _COMPARISONS:
                begin = self._skip()
                self._stop(begin, begin + len(self._peek()), "a second comparison", "write two rules")
        self._expect_end()
        if comparison and right is None:
            self._stop(0, len(self._text), "no comparison", "write what must hold, with <=, <, >= or >")
        dimension = left.dimension
        if right is not None and left.dimension and right.dimension and left.dimension != right.dimension:
            self._tell(right.begin, right.end, f"expected {left.dimension}, got {right.dimension}", "")
        if self.problems or dimension is None:
            raise FormulaError(self.problems)
        return Checked(left.term, right.term if right else None, sign, dimension, tuple(self._names))

    # ---- telling

    def _tell(self, begin: int, end: int, what: str, instead: str = "") -> None:
        last = max(0, len(self._text) - 1)
        begin = min(begin, last)
        end = min(max(end, begin + 1), last + 1)
        path, line, column = self._place.path, self._place.line, self._place.column
        self.problems[Problem(Place(path, line, column + begin), what, instead)] = Place(path, line, column + end)

    def _stop(self, begin: int, end: int, what: str, instead: str = "") -> None:
        self._tell(begin, end, what, instead)
        raise Stop

    # ---- reading

    def _skip(self) -> int:
        while self._at < len(self._text) and self._text[self._at] == " ":
            self._at += 1
        return self._at

    def _peek(self) -> str:
        found = _TOKEN.match(self._text, self._at)
        return found[1] if found else ""

    def _take(self) -> int:
        """Step over the sign that _peek has seen; where it began."""
        found = _TOKEN.match(self._text, self._at)
        assert found is not None
        self._at = found.end()
        return found.start(1)

    def _expect_end(self) -> None:
        at = self._skip()
        if at == len(self._text):
            return
        self._unexpected(at)

    def _unexpected(self, at: int) -> None:
        rest = self._text[at:]
        for sign, hint in _HINTS.items():
            if rest.startswith(sign):
                self._stop(at, at + len(sign), f"'{sign}' is not part of a formula", hint)
        name = _NAME.match(rest)
        if name is not None and name[0] in ("and", "or", "not", "if"):
            self._stop(at, at + name.end(), f"'{name[0]}' is not part of a formula", "write two rules")
        if rest[0] in "<>":
            self._stop(at, at + len(self._peek()), "a comparison inside parentheses", "write one, outside of them")
        if rest[0] == ",":
            self._stop(at, at + 1, "a comma outside min and max", "write numbers with a point, such as 1.5")
        if rest[0] == ")":
            self._stop(at, at + 1, "a ) without its (", "")
        if name is not None or rest[0].isdigit() or rest[0] == "(":
            word = name[0] if name else rest[0]
            self._stop(at, at + len(word), f"'{_clipped(word)}' follows without a sign", "write + - * or / between")
        self._stop(at, at + 1, f"'{rest[0]}' is not part of a formula", "")

    def _deeper(self, begin: int) -> None:
        self._depth += 1
        if self._depth > DEEPEST:
            self._stop(begin, begin + 1, f"nested more than {DEEPEST} deep", "name a quantity for a part")

    def _sum(self) -> _Part:
        part = self._product()
        while (sign := self._peek()) in ("+", "-") and sign:
            self._take()
            part = self._joined(sign, part, self._product())
        return part

    def _product(self) -> _Part:
        part = self._signed()
        while (sign := self._peek()) in ("*", "/") and sign:
            begin = self._take()
            if self._text.startswith("*", self._at):
                self._unexpected(begin)
            part = self._joined(sign, part, self._signed())
        return part

    def _joined(self, sign: str, one: _Part, other: _Part) -> _Part:
        dimension: Dimension | None = None
        if one.dimension is not None and other.dimension is not None:
            try:
                if sign == "*":
                    dimension = one.dimension * other.dimension
                elif sign == "/":
                    dimension = one.dimension / other.dimension
                else:
                    dimension = one.dimension.plus(other.dimension, minus=sign == "-")
            except DimensionError as error:
                points = one.dimension.point or other.dimension.point
                if sign in "*/" or points:
                    self._tell(one.begin, other.end, str(error), "")
                else:
                    self._tell(other.begin, other.end, f"expected {one.dimension}, got {other.dimension}", "")
        return _Part(Operation(sign, one.term, other.term), dimension, one.begin, other.end)

    def _signed(self) -> _Part:
        if self._peek() != "-":
            return self._atom()
        begin = self._take()
        self._deeper(begin)
        part = self._signed()
        self._depth -= 1
        if isinstance(part.term, Number):
            number = Number(-part.term.value, f"-{part.term.text}")
            return _Part(number, part.dimension, begin, part.end)
        if part.dimension == CELSIUS:
            self._tell(begin, part.end, "a temperature in degC cannot be turned into its negative", "")
            return _Part(Negative(part.term), None, begin, part.end)
        return _Part(Negative(part.term), part.dimension, begin, part.end)

    def _atom(self) -> _Part:
        begin = self._skip()
        if begin == len(self._text):
            self._stop(begin, begin, "the formula ends too early", "write a number or a name behind its last sign")
        if number := _NUMBER.match(self._text, begin):
            return self._number(begin, number)
        if self._peek() == "(":
            self._take()
            self._deeper(begin)
            inner = self._sum()
            end = self._close(begin)
            self._depth -= 1
            return _Part(inner.term, inner.dimension, begin, end)
        if name := _NAME.match(self._text, begin):
            self._at = name.end()
            if name[0] in ("min", "max") and self._peek() == "(":
                return self._choice(begin, name[0])
            return self._name(begin, name[0])
        if self._peek():
            sign = self._peek()
            self._stop(begin, begin + len(sign), f"'{sign}' where a number or a name belongs", "")
        self._unexpected(begin)
        raise Stop

    def _close(self, opened: int) -> int:
        if self._peek() != ")":
            at = self._skip()
            if at < len(self._text):
                self._unexpected(at)
            self._stop(opened, opened + 1, "this ( never closes", "close it with )")
        self._take()
        return self._at

    def _choice(self, begin: int, which: str) -> _Part:
        opened = self._take()
        self._deeper(begin)
        parts = [self._sum()]
        while self._peek() == ",":
            self._take()
            parts.append(self._sum())
        end = self._close(opened)
        self._depth -= 1
        if len(parts) == 1:
            self._tell(begin, end, f"{which} of one value", f"write {which}(one, other)")
        dimension = parts[0].dimension
        for part in parts[1:]:
            if dimension is not None and part.dimension is not None and part.dimension != dimension:
                self._tell(part.begin, part.end, f"expected {dimension}, got {part.dimension}", "")
                dimension = None
        if any(part.dimension is None for part in parts):
            dimension = None
        terms = tuple(part.term for part in parts)
        return _Part(Choice("min" if which == "min" else "max", terms), dimension, begin, end)

    def _name(self, begin: int, name: str) -> _Part:
        dimension = self._known.get(name)
        end = begin + len(name)
        if dimension is None:
            close = nearest(name, self._known)
            instead = f"did you mean {close}?" if close else ""
            self._tell(begin, end, f"there is no quantity '{_clipped(name)}'", instead)
        index = self._names.setdefault(name, len(self._names))
        return _Part(Name(name, index, dimension or NUMBER), dimension, begin, end)

    def _number(self, begin: int, number: re.Match[str]) -> _Part:
        self._at = number.end()
        found = _UNIT.match(self._text, self._at)
        if found is None:
            return self._numeral(begin, number[0], "", NUMBER)
        for spelling, end in ((found[1] + found[2], found.end()), (found[1], found.end(1))):
            unit = UNITS.get(spelling)
            if unit is not None:
                if unit.statistic:
                    plain = re.sub(r"(?:ac|rms|dc|pk|pp)\Z", "", spelling)
                    self._stop(found.start(1), end, f"'{spelling}' in a formula", f"write {plain}: the name says which")
                self._at = end
                return self._numeral(begin, number[0], spelling, unit.dimension)
        word = found[1]
        at = found.start(1)
        if word in self._known:
            self._stop(at, found.end(1), f"'{_clipped(word)}' follows a number without a sign", "write * between")
        if word in ("and", "or"):
            self._unexpected(at)
        close = nearest(word[:20], UNITS)
        self._stop(at, found.end(1), f"no unit '{_clipped(word)}' is known", f"did you mean {close}?" if close else "")
        raise Stop

    def _numeral(self, begin: int, number: str, spelling: str, dimension: Dimension) -> _Part:
        value = UNITS[spelling].value(number) if spelling else float(number)
        if not isfinite(value):
            self._stop(begin, begin + len(number), f"'{_clipped(number)}' is too large a number", "")
        if value == 0.0 and number.partition("e")[0].strip("0."):
            self._stop(begin, begin + len(number), f"'{_clipped(number)}' is too small a number", "")
        text = number if not spelling else f"{number}{'' if spelling == '%' else ' '}{spelling}"
        return _Part(Number(value, text), dimension, begin, self._at)


def parse(text: str, place: Place, names: Mapping[str, Dimension], comparison: bool) -> Formula:
    """Check a formula. `place` is that of the first character of `text`, `names` the quantities it may use.

    comparison: whether it must hold one comparison (a rule) or none (a limit). Raises FormulaError with every
    unknown name and every clash of dimensions; a fault of grammar ends the reading.
    """
    reader = Reader(text, place, names)
    try:
        checked = reader.formula(comparison)
    except Stop:
        raise FormulaError(reader.problems) from None
    terms = (checked.left,) if checked.right is None else (checked.left, checked.right)
    return Formula(
        text,
        place,
        checked.left,
        checked.right,
        checked.comparison,
        checked.dimension,
        checked.names,
        tuple(lay_flat(term, len(checked.names)) for term in terms),
    )


def parse_scalar(scalar: Scalar, names: Mapping[str, Dimension], comparison: bool) -> Formula:
    """Check the formula of a scalar node; faults point into the line where the text stands as typed."""
    if scalar.in_line:
        return parse(scalar.text, scalar.start, names, comparison)
    try:
        return parse(" ".join(scalar.text.split("\n")), scalar.place, names, comparison)
    except FormulaError as error:
        pinned = {Problem(scalar.place, one.what, one.instead): scalar.place for one in error.problems}
        raise FormulaError(pinned) from None
