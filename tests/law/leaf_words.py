"""Every leaf of a design with another word in its place: none, unknown, over and under a figure, nothing, a range."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

import yaml
from law_bench import composed

WORDS = ("none", "unmarked", "not done", "unknown", "0", "over", "under", "range")
_FIGURE = re.compile(r"(?P<number>\d+(?:\.\d+)?)(?P<rest>\s*[^\s(].*)?$")


class Changed(NamedTuple):
    """A leaf with a word in its place: the path to it, what stands there now, and the whole text."""

    path: str
    says: str
    text: str


def leaves(node: yaml.Node, trail: tuple[str, ...] = ()) -> Iterator[tuple[str, yaml.ScalarNode]]:
    """Every scalar that is a value: its path and its node."""
    if isinstance(node, yaml.ScalarNode):
        yield ".".join(trail), node
    elif isinstance(node, yaml.SequenceNode):
        for number, item in enumerate(node.value):
            yield from leaves(item, (*trail, str(number)))
    elif isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            yield from leaves(value, (*trail, str(key.value)))


def instead(said: str, word: str) -> str:
    """What stands in the place of a leaf: the word, or its own last figure as an open end or a range.

    A short form keeps what stands before its figure: `film resistor 47 ohm` becomes `film resistor over 47 ohm`.
    """
    if word not in ("0", "over", "under", "range"):
        return word
    bare = said.split("(")[0].strip()
    found = re.search(r"(?<![\w.])\d+(?:\.\d+)?", bare.split("..")[-1])
    if found is None:
        return {"0": "0", "over": "over 1", "under": "under 1", "range": "1..2"}[word]
    head, tail = bare.split("..")[-1][: found.start()], bare.split("..")[-1][found.end() :]
    if ".." in bare:
        head = re.sub(r"\d+(?:\.\d+)?$", "", bare.split("..")[0])
    number = float(found.group())
    put = "0" if word == "0" else f"{number / 2:g}..{2 * number:g}" if word == "range" else f"{word} {number:g}"
    return f"{head}{put}{tail}"


def count(text: str) -> int:
    """How many changes there are."""
    return len(WORDS) * sum(1 for _ in leaves(composed(text)))


def changed(text: str, number: int) -> Changed:
    """One change of a text, by its number; nothing else stands on another line."""
    path, node = list(leaves(composed(text)))[number // len(WORDS)]
    first, last = node.start_mark.index, node.end_mark.index
    says = instead(node.value, WORDS[number % len(WORDS)])
    plain = re.fullmatch(r"[\w.()/%][\w.()/% +-]*", says) is not None
    return Changed(path, says, text[:first] + (says if plain else yaml_quoted(says)) + text[last:])


def yaml_quoted(text: str) -> str:
    """A text in double quotes."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
