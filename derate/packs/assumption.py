"""Assumptions of a pack: a figure nobody gave, as a range with its source.

bounding says which end the truth cannot pass, so that a verdict may rest on that end:
`both` a real bound on either side, `low` the truth is not below, `high` not above, `none` only a usual range.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from derate.terms.dimension import CELSIUS, Dimension
from derate.terms.place import Place
from derate.terms.values import Value
from derate.terms.words import Confidence

BOUNDING = ("none", "low", "high", "both")


class Assumption(NamedTuple):
    """One assumption as read, values in SI units."""

    name: str
    pack: str
    value: Value
    dimension: Dimension
    bounding: str
    says: str
    source: str
    confidence: Confidence
    place: Place

    @property
    def rests(self) -> bool:
        """Whether a pass that needs it rests on something nobody has looked at."""
        return self.bounding == "none"

    @property
    def bounded(self) -> Value:
        """The range with the end that bounds nothing left open: what a verdict may be reached with."""
        least = 0.0 if self.value.low >= 0 and self.dimension != CELSIUS else -inf
        if self.bounding == "low":
            return Value(self.value.low, self.value.near, inf, inf)
        if self.bounding == "high":
            return Value(least, least, self.value.far, self.value.high)
        return self.value
