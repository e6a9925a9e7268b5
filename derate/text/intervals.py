"""Arithmetic on numbers and on pairs of ends, refusing whatever has no answer.

A pair holds all that a value may be; the ends of a result hold all that the result may be. A name that stands twice
is taken as two independent values, so a result can come out wider than it is, never narrower.
"""

from __future__ import annotations

from collections.abc import Callable
from math import inf

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
