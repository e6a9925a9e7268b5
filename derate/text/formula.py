"""The formula language of rules: its terms, how they are written, their arithmetic on numbers and ends."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from math import inf
from typing import Literal

from derate.terms.dimension import Dimension
from derate.terms.tuples import NamedTuple
from derate.terms.values import Place, Value
from derate.text.units import show_value

# The tree of a formula: its terms, how they are written, and their arithmetic on numbers and pairs of ends.


# Arithmetic on numbers and on pairs of ends, refusing whatever has no answer.
#
# A pair holds all that a value may be; the ends of a result hold all that the result may be. A name that stands twice
# is taken as two independent values, so a result can come out wider than it is, never narrower.


Pair = tuple[float, float]


class CannotEvaluate(Exception):
    """A formula without an answer for these numbers: its reason in words. The check is then not assessed."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


TOO_LARGE = "the result is larger than any number"
ZERO_TIMES_OPEN = "nothing times no upper limit has no answer"
OPEN_DIFFERENCE = "the difference of two open ends has no answer"
DIVIDES_BY_ZERO = "it divides by what may be zero"


def _finite(number: float) -> float:
    if -inf < number < inf:
        return number
    raise CannotEvaluate(TOO_LARGE)


def add(one: float, other: float) -> float:
    """Sum of two finite numbers."""
    return _finite(one + other)


def subtract(one: float, other: float) -> float:
    """Difference of two finite numbers."""
    return _finite(one - other)


def multiply(one: float, other: float) -> float:
    """Product of two finite numbers."""
    return _finite(one * other)


def divide(one: float, other: float) -> float:
    """Quotient of two finite numbers."""
    if other == 0.0:
        raise CannotEvaluate(DIVIDES_BY_ZERO)
    return _finite(one / other)


def _checked(low: float, high: float, operands: Pair, others: Pair, why: str) -> Pair:
    """A result of pairs: no NaN, and open only where an operand was open."""
    if not low <= high:
        raise CannotEvaluate(why)
    if low == -inf or high == inf:
        if -inf < operands[0] and operands[1] < inf and -inf < others[0] and others[1] < inf:
            raise CannotEvaluate(TOO_LARGE)
        if low == inf or high == -inf:
            raise CannotEvaluate(TOO_LARGE)
    return low, high


def add_pairs(one: Pair, other: Pair) -> Pair:
    """All sums of one from each."""
    return _checked(one[0] + other[0], one[1] + other[1], one, other, OPEN_DIFFERENCE)


def subtract_pairs(one: Pair, other: Pair) -> Pair:
    """All differences of one from each."""
    return _checked(one[0] - other[1], one[1] - other[0], one, other, OPEN_DIFFERENCE)


def multiply_pairs(one: Pair, other: Pair) -> Pair:
    """All products of one from each."""
    a, b, c, d = one[0] * other[0], one[0] * other[1], one[1] * other[0], one[1] * other[1]
    if a != a or b != b or c != c or d != d:
        raise CannotEvaluate(ZERO_TIMES_OPEN)
    return _checked(min(a, b, c, d), max(a, b, c, d), one, other, ZERO_TIMES_OPEN)


def divide_pairs(one: Pair, other: Pair) -> Pair:
    """All quotients of one from each; a divisor that may be zero has none."""
    if other[0] <= 0.0 <= other[1]:
        raise CannotEvaluate(DIVIDES_BY_ZERO)
    a, b, c, d = one[0] / other[0], one[0] / other[1], one[1] / other[0], one[1] / other[1]
    if a != a or b != b or c != c or d != d:
        raise CannotEvaluate("an open end over an open end has no answer")
    return _checked(min(a, b, c, d), max(a, b, c, d), one, other, DIVIDES_BY_ZERO)


def negative(one: float, _: float) -> float:
    """The negative of a number; every operation takes two operands, this one looks at the first."""
    return -one


def least(one: float, other: float) -> float:
    """The lesser of two numbers."""
    return other if other < one else one


def greatest(one: float, other: float) -> float:
    """The greater of two numbers."""
    return other if other > one else one


def negative_pair(one: Pair, _: Pair) -> Pair:
    """All negatives of one."""
    return -one[1], -one[0]


def least_pair(one: Pair, other: Pair) -> Pair:
    """All that the lesser of one from each may be."""
    return least(one[0], other[0]), least(one[1], other[1])


def greatest_pair(one: Pair, other: Pair) -> Pair:
    """All that the greater of one from each may be."""
    return greatest(one[0], other[0]), greatest(one[1], other[1])


NEGATIVE = "negative"
NUMBERS: dict[str, Callable[[float, float], float]] = {
    "+": add,
    "-": subtract,
    "*": multiply,
    "/": divide,
    NEGATIVE: negative,
    "min": least,
    "max": greatest,
}
PAIRS: dict[str, Callable[[Pair, Pair], Pair]] = {
    "+": add_pairs,
    "-": subtract_pairs,
    "*": multiply_pairs,
    "/": divide_pairs,
    NEGATIVE: negative_pair,
    "min": least_pair,
    "max": greatest_pair,
}


# A formula as plain data: its terms as a tree, the same laid flat for evaluating, and how it is written.
#
# A flat side is a list of numbers that grows: first those of the names, then the constants, then one result a step.


class Number(NamedTuple):
    """A number with its unit, SI; `text` as typed."""

    value: float
    text: str


class Name(NamedTuple):
    """A quantity by name; `position` is where it stands among the names of the formula, from zero."""

    name: str
    position: int
    dimension: Dimension


class Negative(NamedTuple):
    """The negative of a term."""

    term: Term


class Operation(NamedTuple):
    """Two terms joined by + - * /."""

    sign: str
    one: Term
    other: Term


class Choice(NamedTuple):
    """The least or the greatest of several terms."""

    which: Literal["min", "max"]
    terms: tuple[Term, ...]


Term = Number | Name | Negative | Operation | Choice

_BINDS = {"+": 1, "-": 1, "*": 2, "/": 2}
_WRITTEN = {"+": "+", "-": "-", "*": "×", "/": "/"}


class Side(NamedTuple):
    """One side of a formula laid flat.

    result: where in the growing list of numbers the answer stands; steps: operation and where its operands stand
    """

    result: int
    constants: tuple[float, ...]
    steps: tuple[tuple[str, int, int], ...]

    def value(self, values: Sequence[Value]) -> Value:
        """The answer for the values of the names, in the order of `Formula.names`. Raises CannotEvaluate."""
        constants, steps = self.constants, self.steps
        if not steps:
            return Value.exact(constants[0]) if constants else values[self.result]
        for value in values:
            if value.low != value.high:
                break
        else:
            numbers = [value.low for value in values]
            if inf not in numbers and -inf not in numbers:
                numbers += constants
                for sign, one, other in steps:
                    numbers.append(NUMBERS[sign](numbers[one], numbers[other]))
                number = numbers[-1]
                return Value(number, number, number, number)
        exact = [(number, number) for number in constants]
        near = [(value.near, value.far) for value in values] + exact
        wide = [(value.low, value.high) for value in values] + exact
        same = near == wide
        for sign, one, other in steps:
            near.append(PAIRS[sign](near[one], near[other]))
        b, c = near[-1]
        if same:
            return Value(b, b, c, c)
        for sign, one, other in steps:
            wide.append(PAIRS[sign](wide[one], wide[other]))
        a, d = wide[-1]
        return Value(a, b, c, d)


def lay_flat(term: Term, names: int) -> Side:
    """A term as a flat side of a formula with so many names."""
    constants: list[float] = []
    _gather(term, constants)
    steps: list[tuple[str, int, int]] = []
    before = names + len(constants)
    free = iter(range(names, before))

    def step(sign: str, one: int, other: int) -> int:
        steps.append((sign, one, other))
        return before + len(steps) - 1

    def lay(term: Term) -> int:
        match term:
            case Number():
                return next(free)
            case Name(position=position):
                return position
            case Negative(term=inner):
                at = lay(inner)
                return step(NEGATIVE, at, at)
            case Operation(sign=sign, one=one, other=other):
                return step(sign, lay(one), lay(other))
            case Choice(which=which, terms=terms):
                at = lay(terms[0])
                for inner in terms[1:]:
                    at = step(which, at, lay(inner))
                return at

    return Side(lay(term), tuple(constants), tuple(steps))


def _gather(term: Term, constants: list[float]) -> None:
    """The numbers of a term, in the order in which it is laid."""
    match term:
        case Number(value=value):
            constants.append(value)
        case Negative(term=inner):
            _gather(inner, constants)
        case Operation(one=one, other=other):
            _gather(one, constants)
            _gather(other, constants)
        case Choice(terms=terms):
            for inner in terms:
                _gather(inner, constants)


def written(term: Term, name: Callable[[Name], str]) -> str:
    """The term as text, with only the parentheses it needs."""
    return _written(term, name, 0)


def _written(term: Term, name: Callable[[Name], str], around: int) -> str:
    match term:
        case Number(text=text):
            return text
        case Name():
            return name(term)
        case Negative(term=inner):
            text = f"-{_written(inner, name, 3)}"
            return f"({text})" if around else text
        case Operation(sign=sign, one=one, other=other):
            binds = _BINDS[sign]
            # the right side of - and / needs its own parentheses even around its equals
            text = f"{_written(one, name, binds)} {_WRITTEN[sign]} {_written(other, name, binds + (sign in '-/'))}"
            return f"({text})" if binds < around else text
        case Choice(which=which, terms=terms):
            return f"{which}({', '.join(_written(inner, name, 0) for inner in terms)})"


# The formula language of rules: `voltage_peak <= 0.8 * rated.voltage`, `min(0.7 * rated.power, 2 W)`.
#
# Numbers with bare units, dotted names, `+ - * /`, `min`, `max`, parentheses, one comparison at most. Names and
# dimensions are checked when a formula is parsed, so a pack that compares a voltage with a current does not load.
# Nothing is executed: a formula is plain data, a tree of at most 400 characters and 30 levels and the same laid flat.


Comparison = Literal["", "<", "<=", ">", ">="]

_SHOWN = {"": "", "<": "<", "<=": "≤", ">": ">", ">=": "≥"}


class Formula(NamedTuple):
    """A formula that was checked: its sides, its comparison ('' when there is none), the dimension of its sides.

    left, right: the terms as read; sides: the same laid flat, which is what is evaluated
    """

    text: str
    place: Place
    left: Term
    right: Term | None
    comparison: Comparison
    dimension: Dimension
    names: tuple[str, ...]
    sides: tuple[Side, ...]

    def evaluate(self, lookup: Callable[[str], Value]) -> tuple[Value, Value]:
        """Both sides. Raises CannotEvaluate, and whatever `lookup` raises for a name without a value."""
        left, right = self.values(lookup)
        return left, right

    def value(self, lookup: Callable[[str], Value]) -> Value:
        """The one side of a formula without a comparison. Raises CannotEvaluate."""
        (value,) = self.values(lookup)
        return value

    def values(self, lookup: Callable[[str], Value]) -> list[Value]:
        """What each side comes to, one or two of them. Raises as `evaluate` does."""
        values = [lookup(name) for name in self.names]
        return [side.value(values) for side in self.sides]

    def left_words(self, called: Callable[[str], str] = str) -> str:
        """The left side with its names, or what each is called."""
        return written(self.left, lambda name: called(name.name))

    def words(self, called: Callable[[str], str] = str) -> str:
        """The formula with its names: `voltage_peak ≤ 0.8 × rated.voltage`.

        called: what each name is called, where it is not for a pack but for a person
        """
        left = self.left_words(called)
        return left if self.right is None else f"{left} {self.right_words(called)}"

    def right_words(self, called: Callable[[str], str] = str) -> str:
        """The comparison and the right side: `≤ 0.8 × rated.voltage`; '' without one."""
        if self.right is None:
            return ""
        return f"{_SHOWN[self.comparison]} {written(self.right, lambda name: called(name.name))}"

    def numbers(self, lookup: Callable[[str], Value]) -> str:
        """The formula with numbers for its names, and what each side comes to: `0.8 × 400 V = 320 V`."""
        values = self.values(lookup)
        sides = [
            self._derivation(term, value, lookup)
            for term, value in zip((self.left, self.right), values, strict=False)
            if term is not None
        ]
        return f" {_SHOWN[self.comparison]} ".join(sides)

    def _derivation(self, term: Term, value: Value, lookup: Callable[[str], Value]) -> str:
        def shown(name: Name) -> str:
            text = show_value(lookup(name.name), name.dimension)
            bare = re.fullmatch(r"-?[0-9.]+( [^ ]+)?", text) is not None
            return text if bare and not text.startswith("-") or isinstance(term, Name) else f"({text})"

        text, result = written(term, shown), show_value(value, self.dimension)
        return text if isinstance(term, Name | Number) or text == result else f"{text} = {result}"
