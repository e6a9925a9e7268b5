"""One pack file as read: its head, its sources, tables, assumptions and rules, and what it changes in others.

An assumption is a figure nobody gave, as a range with its source; its bounding says which end the truth cannot pass,
so that a verdict may rest on that end:
`both` a real bound on either side, `low` the truth is not below, `high` not above, `none` only a usual range.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import inf
from typing import NamedTuple

from derate.packs.rule import Rule
from derate.packs.table import Table
from derate.terms.dimension import CELSIUS, Dimension
from derate.terms.place import Place
from derate.terms.values import Value
from derate.terms.words import Confidence
from derate.text.nodes import Mapping, Scalar

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


class Head(NamedTuple):
    """What a pack says about itself.

    name_place, builds_on_place: where those two values stand, for what turns out wrong with them later
    digest: SHA-256 of the file [hex]; shipped: whether that is the file shipped under this name, byte for byte
    """

    name: str
    title: str
    covers: str
    family: str
    builds_on: tuple[Scalar, ...]
    path: str
    place: Place
    name_place: Place
    builds_on_place: Place
    digest: str = ""
    shipped: bool = False


@dataclass(frozen=True)
class Pack:
    """One pack file; `changes` holds the blocks that change packs it builds on, still unread.

    below: digests of all packs it builds on, sorted: what it was read against
    """

    head: Head
    sources: dict[str, str]
    tables: dict[str, Table]
    assumptions: dict[str, Assumption]
    rules: tuple[Rule, ...]
    changes: dict[str, Mapping]
    below: tuple[str, ...] = ()

    @cached_property
    def names(self) -> dict[str, Dimension]:
        """Names that this pack adds for formulas, with their dimensions."""
        added = {f"table.{name}": table.unit for name, table in self.tables.items()}
        return added | {f"assumption.{name}": one.dimension for name, one in self.assumptions.items()}
