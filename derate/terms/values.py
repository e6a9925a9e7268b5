"""Where something stands in a file, the three forms a known thing takes, a formula with what is proved of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from math import inf, isfinite, isnan
from types import MappingProxyType
from typing import Any

from derate.terms.dimension import Dimension
from derate.terms.frozen import frozen
from derate.terms.tuples import NamedTuple


def written(number: float, digits: int = 3) -> str:
    """A number with so many significant digits, as a person writes it: never as a power of ten.

    >>> written(34123.0), written(0.47), written(2.21e-5)
    ('34100', '0.47', '0.0000221')
    """
    text = f"{number:.{digits}g}"
    if "e" not in text or not isfinite(number):
        return text
    whole, _, power = text.partition("e")
    decimals = max(0, len(whole.lstrip("-").replace(".", "")) - 1 - int(power))
    return f"{float(text):.{decimals}f}"


# Where something stands in a file, and what is wrong there.
#
# Place: path, line and column, counted from one, columns in characters. Problem: one thing wrong, with what to write
# instead. ReadingError: the one error type that readers raise; it carries every problem found.


class Place(NamedTuple):
    """A position in a text file: path as given, line and column from one, columns in characters."""

    path: str
    line: int = 1
    column: int = 1

    def __str__(self) -> str:
        return f"{self.path}:{self.line}:{self.column}"


class Problem(NamedTuple):
    """One thing wrong at one place: what, and what to write instead (empty when the first says it all)."""

    place: Place
    what: str
    instead: str = ""

    def __str__(self) -> str:
        return f"{self.place}: {self.what}" + (f"; {self.instead}" if self.instead else "")


class ReadingError(Exception):
    """A command line, design or pack that could not be read: every problem found, in file order."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(set(problems)))
        super().__init__("\n".join(str(problem) for problem in self.problems))


class TooManyProblems(ReadingError):
    """So much is wrong that nothing more is read."""


class Problems(list[Problem]):
    """What is wrong in one file, gathered up to a bound: beyond it reading ends, since each may cost a search for a
    word that is near, and nobody reads a thousand. Raises TooManyProblems."""

    MOST = 200

    def append(self, one: Problem) -> None:
        """One more."""
        super().append(one)
        self._bounded()

    def extend(self, more: Iterable[Problem]) -> None:
        """Several more."""
        super().extend(more)
        self._bounded()

    def __iadd__(self, more: Iterable[Problem]) -> Problems:  # type: ignore[misc,override]
        self.extend(more)
        return self

    def _bounded(self) -> None:
        if len(self) > self.MOST:
            last = max(place for place, _, _ in self)
            raise TooManyProblems(
                (*self[: self.MOST], Problem(last, "more is wrong here than is told", "mend these first"))
            )


def nearest(word: str, words: Iterable[str], alike: float = 0.6) -> str | None:
    """Return the known word closest to a mistyped one, or None when nothing is close."""
    from difflib import get_close_matches  # only ever needed to word an error

    found = get_close_matches(word, list(words), n=1, cutoff=alike)
    return found[0] if found else None


# The three forms a known thing takes: a value of four numbers, a category, a curve.
#
# `Value`: low ≤ near ≤ far ≤ high. near..far is what is not known about this one sample with its parts at nominal;
# low..high adds stated tolerance. A floor is x, x, inf, inf: it can prove a fail, never a pass. `Category`: the
# members still possible; `unmarked` and `none` are members somebody looked for. `Curve`: a rating that depends on one
# condition, points rising in the condition.


@frozen
class Value:
    """Four numbers in SI units, rising; NaN is refused, infinity marks an open end."""

    low: float
    near: float
    far: float
    high: float

    def __post_init__(self) -> None:
        if isnan(self.low) or isnan(self.near) or isnan(self.far) or isnan(self.high):
            raise ValueError("a value holds no NaN")
        if not self.low <= self.near <= self.far <= self.high:
            raise ValueError(f"{self.low}, {self.near}, {self.far}, {self.high} do not rise")

    @staticmethod
    def exact(number: float) -> Value:
        """A number without tolerance or doubt."""
        return Value(number, number, number, number)

    @staticmethod
    def between(near: float, far: float) -> Value:
        """Somewhere between two ends, for this one sample."""
        return Value(near, near, far, far)

    @staticmethod
    def floor(number: float) -> Value:
        """At least this, possibly much more: proves a fail, never a pass."""
        return Value(number, number, inf, inf)

    @staticmethod
    def spread(nominal: float, low: float, high: float) -> Value:
        """A nominal with its tolerance ends."""
        return Value(low, nominal, nominal, high)

    @property
    def is_exact(self) -> bool:
        """Whether all four numbers are the same."""
        return self.low == self.high

    @property
    def middle(self) -> float:
        """Half way between near and far (the finite one when the other is open)."""
        if self.far == inf:
            return self.near
        if self.near == -inf:
            return self.far
        return (self.near + self.far) / 2

    def scaled(self, factor: float) -> Value:
        """All four numbers times a positive factor."""
        return Value(self.low * factor, self.near * factor, self.far * factor, self.high * factor)

    def numbers(self) -> tuple[float, float, float, float]:
        """The four numbers, rising."""
        return self.low, self.near, self.far, self.high


class Category(NamedTuple):
    """The words still possible, sorted; one word when it is known.

    detail: figures behind the word, for a reader only; what the word comes to never hangs on them
    """

    members: tuple[str, ...]
    detail: str = ""

    @staticmethod
    def of(*words: str) -> Category:
        """A category of these words."""
        return Category(tuple(sorted(set(words))))

    @property
    def word(self) -> str | None:
        """The one word, or None while several are possible."""
        return self.members[0] if len(self.members) == 1 else None

    def __str__(self) -> str:
        return ", ".join((" or ".join(self.members), self.detail)) if self.detail else " or ".join(self.members)


class Curve(NamedTuple):
    """A rating over one condition: rising points (condition, value), read between them, never beyond.

    condition, unit: the dimensions of the condition and of the value.
    grade: '' | 'min' | 'typical' | 'max' as the maker says.
    """

    points: tuple[tuple[float, Value], ...]
    condition: Dimension
    unit: Dimension

    @property
    def least(self) -> float:
        """The lowest condition given."""
        return self.points[0][0]

    @property
    def greatest(self) -> float:
        """The highest condition given."""
        return self.points[-1][0]


Known = Value | Category | Curve


# A formula with what is proved of it: the one place where its signs and its error band are written.
#
# Formula: a pure function, its signs, the ranges they were proved in, its error band. giving: the formula of a
# function that returns one number.


Signs = Mapping[str, int]
Ranges = Mapping[str, tuple[float, float]]


class Collapse(Exception):
    """A corner at which the circuit cannot do what it is asked to: a result, with its reason."""


class Formula(NamedTuple):
    """One formula.

    solve: called with the inputs by name [SI]; returns an object or mapping that holds each output [SI].
        It raises ValueError outside its range and Collapse where the circuit gives way.
    signs: output -> input -> +1 (never falls as it rises), -1 (never rises), 0 (no single sign).
        An input that is not named has no influence on that output. Where the worst corner moves about, several maps
        may be given for one output: each names one corner, and the worst of them counts.
    ranges: input -> least and greatest value [SI] between which tests/circuit/test_signs.py draws the inputs; inputs
        that belong together are refused by `solve` where they do not.
    errors: output -> (below, above) as fractions: the truth lies within computed × (1 + below .. 1 + above).
        An output that is not named is exact.
    """

    solve: Callable[..., Any]
    signs: Mapping[str, Signs | tuple[Signs, ...]]
    ranges: Ranges
    errors: Mapping[str, tuple[float, float]] = MappingProxyType({})


def giving(
    output: str, function: Callable[..., float], signs: Signs, ranges: Ranges, band: tuple[float, float] | None = None
) -> Formula:
    """The formula of a function that returns one number, under the name of that number."""

    def solve(**inputs: float) -> dict[str, float]:
        return {output: function(**inputs)}

    return Formula(solve, {output: signs}, ranges, {} if band is None else {output: band})
