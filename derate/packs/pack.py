"""One pack file as read: its head, its sources, tables, assumptions and rules, and what it changes in others."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from derate.packs.assumption import Assumption, read_assumption
from derate.packs.read_rule import read_rule
from derate.packs.read_table import read_table
from derate.packs.reading import Fields, first_character
from derate.packs.rule import Rule
from derate.packs.table import Table
from derate.packs.words import FAMILIES, is_rule_name, is_table_name
from derate.terms.dimension import Dimension
from derate.terms.place import Place, Problem
from derate.terms.vocabulary import DIMENSIONS
from derate.text.nodes import Mapping, Scalar, compose

CHANGES = ("tighten", "relax", "switch_off", "restate")
KEYS = ("pack", "title", "covers", "family", "builds_on", "sources", "tables", "assumptions", "rules", *CHANGES)
_SOURCE_KEYS = ("title", "edition", "where")


class Head(NamedTuple):
    """What a pack says about itself."""

    name: str
    title: str
    covers: str
    family: str
    builds_on: tuple[Scalar, ...]
    path: str
    place: Place


@dataclass(frozen=True)
class Pack:
    """One pack file; `changes` holds the blocks that change packs it builds on, still unread."""

    head: Head
    sources: dict[str, str]
    tables: dict[str, Table]
    assumptions: dict[str, Assumption]
    rules: tuple[Rule, ...]
    changes: dict[str, Mapping]

    @cached_property
    def names(self) -> dict[str, Dimension]:
        """Names that this pack adds for formulas, with their dimensions."""
        added = {f"table.{name}": table.unit for name, table in self.tables.items()}
        return added | {f"assumption.{name}": one.dimension for name, one in self.assumptions.items()}


def read_head(text: str, path: str, problems: list[Problem]) -> tuple[Head, Fields]:
    """The head of a pack, and the fields that the rest is read from."""
    node = compose(text, path, blocks=True)
    fields = Fields(node, "the pack", KEYS, problems)
    name = fields.needed("pack")
    if name and not is_rule_name(name):
        fields.wrong(fields.place_of("pack"), f"'{name}' is no name for a pack", "write plain small words with hyphens")
    family = fields.scalar("family")
    word = fields.word("family", FAMILIES, "") if family is not None and family.text else ""
    head = Head(
        name, fields.needed("title"), fields.needed("covers"), word, fields.scalars("builds_on"), path, node.place
    )
    return head, fields


def read_body(head: Head, fields: Fields, family: str, names: dict[str, Dimension], sources: dict[str, str]) -> Pack:
    """The rest of a pack. `names` and `sources` are those of the packs it builds on; problems go to `fields`."""
    problems = fields.problems
    own_sources = sources | _sources(fields)
    tables, assumptions = {}, {}
    for word in ("tables", "assumptions"):
        for key, _ in _entries(fields, word):
            if not is_table_name(key.text):
                fields.wrong(
                    key.start,
                    f"'{key.text}' cannot be named in a formula",
                    f"write {key.text.lower().replace('-', '_').replace(' ', '_')}",
                )
    for key, node in _entries(fields, "tables"):
        table = read_table(key, node, head.name, family, own_sources, problems)
        if table is not None:
            tables[key.text] = table
        if f"table.{key.text}" in names:
            fields.wrong(key.start, f"table {key.text} stands in a pack this one builds on", "restate it, or rename it")
    for key, node in _entries(fields, "assumptions"):
        assumption = read_assumption(key, node, head.name, own_sources, problems)
        if assumption is not None:
            assumptions[key.text] = assumption
        if f"assumption.{key.text}" in names:
            fields.wrong(key.start, f"assumption {key.text} stands in a pack this one builds on", "rename it")
    pack = Pack(head, own_sources, tables, assumptions, (), {})
    known = {**DIMENSIONS, **names, **pack.names}
    for key, _ in _entries(fields, "tables"):  # a table too wrong to read must not raise a second error for its name
        if key.text not in tables:
            return pack
    rules: dict[str, Rule] = {}
    for node in fields.blocks("rules"):
        rule = read_rule(node, head.name, family, known, own_sources, problems)
        if rule is not None and rule.name in rules:
            where = rules[rule.name].place.line
            fields.wrong(rule.place, f"rule {rule.name} stands twice, first in line {where}", "rename one")
        elif rule is not None:
            rules[rule.name] = rule
    changes = {word: block for word in CHANGES if (block := fields.block(word)) is not None}
    return Pack(head, own_sources, tables, assumptions, tuple(rules.values()), changes)


def _entries(fields: Fields, key: str) -> tuple[tuple[Scalar, Mapping | Scalar], ...]:
    block = fields.block(key)
    return () if block is None else block.entries  # type: ignore[return-value]


def _sources(fields: Fields) -> dict[str, str]:
    found = {}
    for key, node in _entries(fields, "sources"):
        if isinstance(node, Mapping):
            one = Fields(node, f"source {key.text}", _SOURCE_KEYS, fields.problems)
            title, edition = one.needed("title"), one.text("edition")
            found[key.text] = f"{title}, {edition}" if edition else title
        elif isinstance(node, Scalar):
            found[key.text] = node.text
        else:
            fields.wrong(first_character(node), f"source {key.text} is a list", "write title:, edition: and where:")
    return found
