"""One pack file as read: its head, its sources, tables, assumptions and rules, and what it changes in others."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from derate.packs.assumption import Assumption
from derate.packs.rule import Rule
from derate.packs.table import Table
from derate.terms.dimension import Dimension
from derate.terms.place import Place
from derate.text.nodes import Mapping, Scalar


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
