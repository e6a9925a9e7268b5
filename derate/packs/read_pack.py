"""Reading a pack file: its head, then sources, tables, assumptions and rules."""

from __future__ import annotations

import re

from derate.packs.pack import BOUNDING, FAMILIES, Assumption, Head, Pack, Rule, is_rule_name, is_table_name
from derate.packs.read_rule import read_rule
from derate.packs.reading import Fields, cite, first_character, kind_of
from derate.packs.table import ENDS, KINDS, Axis, Cell, Index, Table
from derate.terms.dimension import CELSIUS, NUMBER, Dimension
from derate.terms.values import Place, Problem, ReadingError, Value, nearest
from derate.terms.vocabulary import DIMENSIONS, VOCABULARY
from derate.terms.words import CONFIDENCES, Confidence
from derate.text.nodes import Mapping, Node, Scalar, Sequence, compose
from derate.text.quantity import read_quantity
from derate.text.units import UNITS, Unit

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


_KEYS = ("axes", "unit", "kind", "ends", "cells", "confidence", "says", "source")
_AXIS_KEYS = ("at", "unit", "words", "kind", "ends")
_BARE = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?(?:e[+-]?[0-9]{1,3})?")
_MOST_CELLS = 2000


def read_table(
    key: Scalar, node: Node, pack: str, family: str, sources: dict[str, str], problems: list[Problem]
) -> Table | None:
    """Read one entry of `tables`; None when it is too wrong to go on."""
    if not isinstance(node, Mapping):
        problems.append(
            Problem(first_character(node), f"table {key.text} is {kind_of(node)}", "write axes: and cells:")
        )
        return None
    fields = Fields(node, f"table {key.text}", _KEYS, problems)
    before = len(problems)
    unit = _unit(fields, "unit")
    kind = fields.word("kind", KINDS, "linear")
    ends = fields.word("ends", ENDS, "refuse")
    axes_node = fields.block("axes")
    if axes_node is None or not axes_node.entries:
        fields.wrong(
            fields.place_of("axes"), f"table {key.text} has no axes", "write axes: {working_voltage: [10 V, 25 V]}"
        )
        return None
    axes = []
    for name, value in axes_node.entries:
        try:
            axes.append(_axis(name, value, kind, ends, problems))
        except ReadingError as error:
            problems += error.problems
    source = cite(fields.needed("source"), sources)
    cells_node = fields.node_of("cells")
    if cells_node is None:
        fields.wrong(node.place, f"table {key.text} has no cells", "write cells: [...]")
    if len(problems) > before or unit is None or cells_node is None:
        return None
    if len({axis.kind for axis in axes if axis.dimension is not None and axis.kind in ("linear", "log-log")}) > 1:
        fields.wrong(axes_node.place, "a linear axis beside a log-log one", "read all axes between points one way")
    cells = _cells(fields, cells_node, tuple(axes), unit)
    if len(problems) > before:
        return None
    return Table(key.text, pack, family, tuple(axes), unit.dimension, cells, fields.text("says"), source, key.start)


def _unit(fields: Fields, key: str) -> Unit | None:
    node = fields.scalar(key)
    if node is None or not node.text:
        return Unit("", NUMBER, "", 1.0, "")
    unit = UNITS.get(node.text)
    if unit is None:
        close = nearest(node.text, UNITS)
        fields.wrong(node.start, f"'{node.text}' is no unit this format knows", f"write {close}" if close else "")
    return unit


def _axis(name: Scalar, node: Node, kind: str, ends: str, problems: list[Problem]) -> Axis:
    term = VOCABULARY.get(name.text)
    unit: Unit | None = None
    words = False
    items: Node | None = node
    if isinstance(node, Mapping):
        fields = Fields(node, f"axis {name.text}", _AXIS_KEYS, problems)
        kind, ends = fields.word("kind", KINDS, kind), fields.word("ends", ENDS, ends)
        unit = _unit(fields, "unit") if "unit" in fields else None
        words = "words" in fields
        items = fields.node_of("words" if words else "at")
        if term is None and unit is None and not words:
            raise _refused(name.start, f"axis {name.text} is no fact this format knows", "give its unit: or its words:")
    elif term is None:
        close = nearest(name.text, VOCABULARY)
        instead = f"write {close}" if close else "write {unit: V, at: [...]} or {words: [...]}"
        raise _refused(name.start, f"axis {name.text} is no fact this format knows", instead)
    if not isinstance(items, Sequence) or not items.items or not all(isinstance(i, Scalar) for i in items.items):
        raise _refused(first_character(node), f"axis {name.text} has no list of rows", "write [10 V, 25 V]")
    scalars = [item for item in items.items if isinstance(item, Scalar)]
    if words or (term is not None and term.dimension is None):
        rows = tuple(item.text for item in scalars)
        if len(set(rows)) < len(rows):
            raise _refused(items.place, f"axis {name.text} has a word twice", "leave one out")
        return Axis(name.text, None, words=rows)
    dimension = term.dimension if term is not None else unit.dimension if unit is not None else None
    assert dimension is not None
    if unit is not None and unit.dimension != dimension:
        raise _refused(name.start, f"axis {name.text} is {dimension}, its unit {unit.dimension}", "")
    points = tuple(_number(item, unit, dimension) for item in scalars)
    for before, (one, other) in enumerate(zip(points, points[1:], strict=False)):
        if one >= other:
            raise _refused(scalars[before + 1].start, f"axis {name.text} does not rise here", "write the rows rising")
    if kind == "log-log" and (points[0] <= 0 or dimension == CELSIUS):
        raise _refused(items.place, f"axis {name.text} cannot be logarithmic", "write kind: linear")
    if kind == "band" and len(points) < 2:
        raise _refused(items.place, "bands have one more edge than cells", "write two edges or more")
    return Axis(name.text, dimension, points, kind=kind, ends=ends)


def _number(node: Scalar, unit: Unit | None, dimension: Dimension) -> float:
    if unit is not None and _BARE.fullmatch(node.text):
        return unit.value(node.text)
    value = read_quantity(node.text, node.start, dimension).value
    if not isinstance(value, Value) or not value.is_exact:
        raise _refused(node.start, f"'{node.text}' is no single number", "an axis has one number a row")
    return value.low


def _cells(fields: Fields, node: Node, axes: tuple[Axis, ...], unit: Unit) -> dict[Index, Cell]:
    confidence = fields.node_of("confidence")
    if confidence is None:
        fields.wrong(fields.node.place, f"{fields.what} has no confidence", f"write one of {', '.join(CONFIDENCES)}")
        return {}
    cells: dict[Index, Cell] = {}
    logs = any(axis.kind == "log-log" for axis in axes if axis.dimension is not None)

    def walk(values: Node, sure: Node, index: Index) -> None:
        if len(index) < len(axes):
            axis = axes[len(index)]
            if not isinstance(values, Sequence) or len(values.items) != axis.rows:
                found = len(values.items) if isinstance(values, Sequence) else "one value"
                fields.wrong(first_character(values), f"{found} where axis {axis.name} has {axis.rows} rows", "")
                return
            if isinstance(sure, Sequence) and len(sure.items) != axis.rows:
                fields.wrong(sure.place, f"{len(sure.items)} confidences where {axis.name} has {axis.rows} rows", "")
                return
            for row, item in enumerate(values.items):
                walk(item, sure.items[row] if isinstance(sure, Sequence) else sure, (*index, row))
            return
        if not isinstance(values, Scalar) or not isinstance(sure, Scalar):
            fields.wrong(first_character(values), "one value a cell", "")
            return
        try:
            cells[index] = Cell(_cell(values, unit, logs), _confidence(sure))
        except ReadingError as error:
            fields.problems += error.problems

    walk(node, confidence, ())
    if len(cells) > _MOST_CELLS:
        fields.wrong(fields.node.place, f"{fields.what} has more than {_MOST_CELLS} cells", "split it")
    return cells


def _cell(node: Scalar, unit: Unit, logs: bool) -> Value | None:
    if _BARE.fullmatch(node.text):
        value: Value | None = Value.exact(unit.value(node.text))
    else:
        found = read_quantity(node.text, node.start, unit.dimension).value
        value = found if isinstance(found, Value) else None
        if found is not None and value is None:
            raise _refused(node.start, f"'{node.text}' is no figure", "write `unknown` where the source has none")
    if logs and value is not None and value.low <= 0:
        raise _refused(node.start, "a log-log table has no zero or negative cells", "write kind: linear")
    return value


def _confidence(node: Scalar) -> Confidence:
    for word in CONFIDENCES:
        if node.text == word:
            return word
    close = nearest(node.text, CONFIDENCES)
    raise _refused(
        node.start, f"'{node.text}' is no word for confidence", f"write {close or 'one of ' + ', '.join(CONFIDENCES)}"
    )


def _refused(place: Place, what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(place, what, instead)])
