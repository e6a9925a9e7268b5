"""Where findings point: into the file, at what they are about, and never at its first line for want of anything."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

import yaml

from derate.judge.review import Finding, Review

# The blocks of a file in which a subject of a kind is stated.
_BLOCKS = {"part": ("parts",), "transformer": ("transformers",), "winding": ("transformers",), "barrier": ("barriers",)}


def wrong_places(review: Review, texts: Mapping[str, str]) -> list[str]:
    """Every finding that points at nothing, at the first line, or at another thing than its subject."""
    blocks = {path: _stated(text) for path, text in texts.items()}
    return [told for one in review.findings if (told := _wrong(one, texts, blocks))]


def _wrong(one: Finding, texts: Mapping[str, str], blocks: Mapping[str, dict[tuple[str, str], range]]) -> str:
    at, about = one.place, f"{one.rule} on {one.subject}"
    lines = texts.get(at.path, "").split("\n")
    if not 0 < at.line <= len(lines) or not 0 < at.column <= len(lines[at.line - 1]):
        return f"{about}: {at} is in no file"
    if (at.line, at.column) == (1, 1):
        return f"{about}: {at}"
    own = [word for name in one.subject.names for word in (name, name.rpartition(" ")[2])]
    kinds = _BLOCKS.get(one.subject.kind, ())
    stated = [
        (path, block[kind, word.partition(".")[0]])
        for path, block in blocks.items()
        for kind in dict.fromkeys((*kinds, "parts", "transformers")) if kinds
        for word in own
        if (kind, word.partition(".")[0]) in block
    ]
    if not stated or any(path == at.path and at.line in lines for path, lines in stated):
        return ""
    return f"{about}: {at} is not where it is stated, {stated[0][0]}:{stated[0][1].start}"


def _stated(text: str) -> dict[tuple[str, str], range]:
    """The lines of each part, transformer and barrier, by its block and its name; `C4, C5` states both."""
    found: dict[tuple[str, str], range] = {}
    for key, value in _entries(yaml.compose(text)):
        if key.value in ("parts", "transformers", "barriers"):
            for name, node in _entries(value):
                lines = range(name.start_mark.line + 1, node.end_mark.line + 2)
                for word in (name.value, *re.split(r"\s*,\s*", name.value)):
                    found[key.value, word] = lines
    return found


def _entries(node: yaml.Node | None) -> Iterator[tuple[yaml.Node, yaml.Node]]:
    if isinstance(node, yaml.MappingNode):
        yield from node.value
