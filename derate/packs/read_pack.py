"""Reading a pack file: its head, then sources, tables, assumptions and rules."""

from __future__ import annotations

from derate.packs.assumption import BOUNDING, Assumption
from derate.packs.pack import Head, Pack
from derate.packs.read_rule import read_rule
from derate.packs.read_table import cite, read_table
from derate.packs.reading import Fields, first_character
from derate.packs.rule import Rule
from derate.packs.words import FAMILIES, is_rule_name, is_table_name
from derate.terms.dimension import Dimension
from derate.terms.place import Problem, ReadingError
from derate.terms.values import Value
from derate.terms.vocabulary import DIMENSIONS
from derate.terms.words import CONFIDENCES, Confidence
from derate.text.nodes import Mapping, Node, Scalar, compose
from derate.text.quantity import read_quantity

CHANGES = ("tighten", "relax", "switch_off", "restate")
KEYS = ("pack", "title", "covers", "family", "builds_on", "sources", "tables", "assumptions", "rules", *CHANGES)
_SOURCE_KEYS = ("title", "edition", "where")


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
        name,
        fields.needed("title"),
        fields.needed("covers"),
        word,
        fields.scalars("builds_on"),
        path,
        node.place,
        fields.place_of("pack"),
        fields.place_of("builds_on"),
    )
    return head, fields


def read_body(
    head: Head,
    fields: Fields,
    family: str,
    names: dict[str, Dimension],
    sources: dict[str, str],
    below: tuple[str, ...],
) -> Pack:
    """The rest of a pack; problems go to `fields`.

    names, sources, below: what the packs it builds on define, and their digests
    """
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
    return Pack(head, own_sources, tables, assumptions, tuple(rules.values()), changes, below)


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
