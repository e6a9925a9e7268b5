"""One family of insulation rules: its tables by name. Families never mix: a table is looked for in its own only."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from derate.packs.load import Packs
from derate.packs.table import Table
from derate.required.lookup import NoRow

BASIC_STANDARD, IT_EQUIPMENT, HOUSEHOLD = "60664-1", "62368-1", "60335-1"
FAMILIES = (BASIC_STANDARD, IT_EQUIPMENT, HOUSEHOLD)


class Family(NamedTuple):
    """A family by its name ('60664-1', '62368-1', '60335-1') with the tables its packs brought."""

    name: str
    tables: Mapping[str, Table]

    def table(self, name: str) -> Table:
        """A table of this family. Raises NoRow when no pack of the family has it."""
        found = self.tables.get(name)
        if found is None:
            raise NoRow(f"nothing was read on {name.replace('_', ' ')} in {self.name}")
        return found

    def has(self, name: str) -> bool:
        """Whether the family has a table of this name."""
        return name in self.tables


def families_of(packs: Packs) -> tuple[Family, ...]:
    """Every family that the loaded packs bring tables for, sorted by name."""
    found: dict[str, dict[str, Table]] = {}
    for (family, name), table in packs.tables.items():
        if family:
            found.setdefault(family, {})[name] = table
    return tuple(Family(name, found[name]) for name in sorted(found))
