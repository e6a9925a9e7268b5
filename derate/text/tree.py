"""The tree of a formula: its terms, how they are evaluated and how they are written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from derate.terms.dimension import Dimension
from derate.text.intervals import NUMBERS, PAIRS, Pair

Points = Sequence[float]
Pairs = Sequence[Pair]


class Number(NamedTuple):
    """A number with its unit, SI; `text` as typed."""

    value: float
    text: str


@dataclass(frozen=True, slots=True)
class Name:
    """A quantity by name; `index` is its place among the names of the formula."""

    name: str
    index: int
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


def on_numbers(term: Term) -> Callable[[Points], float]:
    """The term as a function of the finite numbers of its names."""
    match term:
        case Number(value=value):
            return lambda _: value
        case Name(index=index):
            return lambda numbers: numbers[index]
        case Negative(term=inner):
            of = on_numbers(inner)
            return lambda numbers: -of(numbers)
        case Operation(sign=sign, one=one, other=other):
            first, second, join = on_numbers(one), on_numbers(other), NUMBERS[sign]
            return lambda numbers: join(first(numbers), second(numbers))
        case Choice(which=which, terms=terms):
            several = tuple(on_numbers(inner) for inner in terms)
            pick = min if which == "min" else max
            return lambda numbers: pick([of(numbers) for of in several])


def on_pairs(term: Term) -> Callable[[Pairs], Pair]:
    """The term as a function of the pairs of ends of its names."""
    match term:
        case Number(value=value):
            exact = (value, value)
            return lambda _: exact
        case Name(index=index):
            return lambda pairs: pairs[index]
        case Negative(term=inner):
            of = on_pairs(inner)

            def negative(pairs: Pairs) -> Pair:
                low, high = of(pairs)
                return -high, -low

            return negative
        case Operation(sign=sign, one=one, other=other):
            first, second, join = on_pairs(one), on_pairs(other), PAIRS[sign]
            return lambda pairs: join(first(pairs), second(pairs))
        case Choice(which=which, terms=terms):
            several = tuple(on_pairs(inner) for inner in terms)
            pick = min if which == "min" else max

            def choice(pairs: Pairs) -> Pair:
                ends = [of(pairs) for of in several]
                return pick(low for low, _ in ends), pick(high for _, high in ends)

            return choice


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
