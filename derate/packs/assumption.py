"""Assumptions of a pack: a figure nobody gave, as a range with its source.

bounding says which end the truth cannot pass, so that a verdict may rest on that end:
`both` a real bound on either side, `low` the truth is not below, `high` not above, `none` only a usual range.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from derate.packs.read_table import cite
from derate.packs.reading import Fields, first_character
from derate.terms.dimension import CELSIUS, Dimension
from derate.terms.place import Place, Problem, ReadingError
from derate.terms.values import Value
from derate.terms.words import CONFIDENCES, Confidence
from derate.text.nodes import Mapping, Node, Scalar
from derate.text.quantity import read_quantity

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


def read_assumption(
    key: Scalar, node: Node, pack: str, sources: dict[str, str], problems: list[Problem]
) -> Assumption | None:
    """Read one entry of `assumptions`; None when it is too wrong to go on."""
    if not isinstance(node, Mapping):
        problems.append(
            Problem(first_character(node), f"assumption {key.text} is no block", "write value:, says: and source:")
        )
        return None
    before = len(problems)
    fields = Fields(node, f"assumption {key.text}", ("value", "bounding", "says", "source", "confidence"), problems)
    says, source = fields.needed("says"), cite(fields.needed("source"), sources)
    bounding = fields.needed_word("bounding", BOUNDING)
    confidence: Confidence = fields.needed_word("confidence", CONFIDENCES)  # type: ignore[assignment]
    scalar = fields.scalar("value")
    if scalar is None:
        fields.wrong(node.place, f"assumption {key.text} has no value", "write value: 0.70..0.88")
        return None
    try:
        read = read_quantity(scalar.text, scalar.start)
    except ReadingError as error:
        problems += error.problems
        return None
    if not isinstance(read.value, Value) or read.dimension is None:
        fields.wrong(scalar.start, "an assumption is a figure or a range", "write 0.70..0.88")
        return None
    if len(problems) > before:
        return None
    return Assumption(key.text, pack, read.value, read.dimension, bounding, says, source, confidence, key.start)
