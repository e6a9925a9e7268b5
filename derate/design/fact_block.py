"""Blocks whose keys are facts of the vocabulary: `rated`, `found`, `mounting`, a part, a core, a winding.

They are read straight from the vocabulary, a table of some two hundred names, instead of one pydantic field for each:
the models of `model.py` then build in half the time. `shape` gives the same table to the published schema.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

from derate.design.stated import Stated, problems_from, read_fact, read_line, read_lines, read_word, shape_of, trouble
from derate.terms.place import Place, Problem, nearest
from derate.terms.vocabulary import VOCABULARY
from derate.text.nodes import Mapping as MappingNode

Reader = Callable[[Any], Any]


class FactBlock(dict[str, Any]):
    """The stated values of one block by key; a key that was not given reads as None."""

    def __init__(self, place: Place) -> None:
        super().__init__()
        self.place = place

    def __getattr__(self, key: str) -> Any:
        if key.startswith("__"):
            raise AttributeError(key)
        return self.get(key)


class FactReader:
    """Reads a block of facts with one prefix, and the few keys beside them that are no facts."""

    def __init__(self, prefix: str, others: Mapping[str, Reader] | None = None, needed: tuple[str, ...] = ()) -> None:
        self.prefix = prefix
        self.others = dict(others or {})
        self.needed = needed

    @property
    @cache  # noqa: B019  (a handful of readers, made once)
    def keys(self) -> tuple[str, ...]:
        """Every key of the block, in the order of the vocabulary."""
        mark = f"{self.prefix}."
        facts = tuple(name[len(mark) :] for name in VOCABULARY if name.startswith(mark))
        return (*facts, *self.others)

    def __call__(self, node: Any) -> FactBlock:
        node = getattr(node, "node", node)
        if not isinstance(node, MappingNode):
            place = node.place
            raise trouble(Problem(place, "a block of keys is wanted here", "write {key: value}"))
        found = FactBlock(node.place)
        problems: list[Problem] = []
        for key, value in node.entries:
            term = VOCABULARY.get(f"{self.prefix}.{key.text}")
            other = self.others.get(key.text)
            try:
                if other is not None:
                    found[key.text] = other(value)
                elif term is None:
                    close = nearest(key.text, self.keys)
                    instead = f"did you mean {close}?" if close else f"known here: {', '.join(self.keys[:12])}…"
                    problems.append(Problem(key.place, f"'{key.text[:60]}' is no key this format knows here", instead))
                elif term.dimension is None:
                    found[key.text] = read_word(term, value)
                else:
                    found[key.text] = read_fact(term, value)
            except Exception as error:  # a leaf's error carries its problems; anything else is a fault of ours
                problems += problems_from(error)
        problems += [
            Problem(node.place, f"'{key}' is missing", f"write {key}: …")
            for key in self.needed
            if key not in found and not problems
        ]
        if problems:
            raise trouble(*problems)
        return found

    def shape(self) -> dict[str, Any]:
        """The JSON Schema of the block."""
        properties: dict[str, Any] = {}
        for key in self.keys:
            other = self.others.get(key)
            term = VOCABULARY.get(f"{self.prefix}.{key}")
            if isinstance(other, FactReader):
                properties[key] = other.shape()
            elif other is read_lines:
                properties[key] = {"type": ["string", "array"]}
            elif other is not None or term is None:
                properties[key] = {"type": ["string", "number"]}
            else:
                properties[key] = shape_of(term)
        shape: dict[str, Any] = {"type": "object", "properties": properties, "additionalProperties": False}
        if self.needed:
            shape["required"] = list(self.needed)
        return shape


def stated_items(block: Any) -> list[tuple[str, Stated]]:
    """The stated values of a block, whether a model or a block of facts."""
    pairs = block.items() if isinstance(block, dict) else block.__dict__.items()
    return [(key, value) for key, value in pairs if isinstance(value, Stated)]


rated = FactReader("rated")
found = FactReader("found")
mounting = FactReader("mounting")
core = FactReader("core")
part = FactReader("part", {"rated": rated, "found": found, "mounting": mounting, "note": read_line}, needed=("kind",))
winding = FactReader("winding", {"pins": read_lines, "note": read_line})
