"""The three forms a known thing takes: a value of four numbers, a category, a curve.

`Value`: low ≤ near ≤ far ≤ high. near..far is what is not known about this one sample with its parts at nominal;
low..high adds stated tolerance. A floor is x, x, inf, inf: it can prove a fail, never a pass.
`Category`: the members still possible; `unmarked` and `none` are members somebody looked for.
`Curve`: a rating that depends on one condition, points rising in the condition.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isnan
from typing import NamedTuple

from derate.terms.dimension import Dimension


@dataclass(frozen=True, slots=True)
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
