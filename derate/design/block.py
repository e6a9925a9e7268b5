"""Blocks of keys: which there are, what each holds, read from nodes with every fault gathered and placed.

`Shape` says which keys a block has; most are facts of the vocabulary, named by their term. `Each` is a block of named
blocks (parts, windings, outputs). `Block` is what is read: attributes by key, None where nothing was said.
The same shapes give the published JSON Schema. A model library stood here first: with its own messages, places and
leaves replaced by ours it was left with telling known keys from unknown ones, for a third of a run (DEVELOPERS.md).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from derate.design.stated import Stated, read_fact, read_line, read_lines, read_node, read_word, shape_of
from derate.terms.place import Place, Problem, ReadingError, nearest
from derate.terms.vocabulary import VOCABULARY, Term
from derate.text.nodes import Mapping as MappingNode

Reader = Callable[[Any], Any]


class Block(dict[str, Any]):
    """What was read of one block, by key; a key that was not given reads as None."""

    def __init__(self, place: Place) -> None:
        super().__init__()
        self.place = place

    def __getattr__(self, key: str) -> Any:
        if key.startswith("__"):
            raise AttributeError(key)
        return self.get(key)

    def stated(self) -> list[tuple[str, Stated]]:
        """The stated values of the block, in the order written."""
        return [(key, value) for key, value in self.items() if isinstance(value, Stated)]


class Each:
    """Named blocks of one shape: the names are the author's own."""

    def __init__(self, reader: Shape | Reader) -> None:
        self.reader = reader

    def __call__(self, node: Any) -> dict[str, Any]:
        if not isinstance(node, MappingNode):
            raise _wanted(node)
        found: dict[str, Any] = {}
        problems: list[Problem] = []
        for key, value in node.entries:
            try:
                found[key.text] = self.reader(value)
            except ReadingError as error:
                problems += error.problems
        if problems:
            raise ReadingError(problems)
        return found

    def schema(self) -> dict[str, Any]:
        """The JSON Schema of the named blocks."""
        return {"type": "object", "additionalProperties": _schema_of(self.reader)}


class Shape:
    """The keys of a block.

    keys: key -> term of the vocabulary, another shape, `Each`, or a reader of nodes
    needed: keys that must be there
    always: keys that read as an empty block when they are not there
    """

    def __init__(
        self,
        keys: Mapping[str, str | Shape | Each | Reader],
        needed: Iterable[str] = (),
        always: Iterable[str] = (),
        percent: Mapping[str, str] | None = None,
    ) -> None:
        self.keys = dict(keys)
        self.needed = tuple(needed)
        self.always = tuple(always)
        self.percent = dict(percent or {})

    def __call__(self, node: Any) -> Block:
        if not isinstance(node, MappingNode):
            raise _wanted(node)
        found = self.empty(node.place)
        problems: list[Problem] = []
        for key, value in node.entries:
            reader = self.keys.get(key.text)
            try:
                if reader is None:
                    problems.append(self._unknown(key.text, key.place))
                elif isinstance(reader, str):
                    found[key.text] = self._stated(VOCABULARY[reader], key.text, value)
                else:
                    found[key.text] = reader(value)
            except ReadingError as error:
                problems += error.problems
        given = {key.text for key, _ in node.entries}
        problems += [
            Problem(node.place, f"'{key}' is missing", f"write {key}: …") for key in self.needed if key not in given
        ]
        if problems:
            raise ReadingError(problems)
        return found

    def empty(self, place: Place) -> Block:
        """The block in which nothing was said."""
        found = Block(place)
        for key in self.always:
            reader = self.keys[key]
            found[key] = reader.empty(place) if isinstance(reader, Shape) else {}
        return found

    def _stated(self, term: Term, key: str, node: Any) -> Stated:
        if term.dimension is None:
            return read_word(term, node)
        return read_fact(term, node, self.percent.get(key, "tolerance"))

    def _unknown(self, key: str, place: Place) -> Problem:
        close = nearest(key, self.keys)
        listed = ", ".join(list(self.keys)[:12]) + ("…" if len(self.keys) > 12 else "")
        return Problem(
            place,
            f"'{key[:60]}' is no key this format knows here",
            f"did you mean {close}?" if close else f"known here: {listed}",
        )

    def schema(self) -> dict[str, Any]:
        """The JSON Schema of the block."""
        properties = {key: _schema_of(reader) for key, reader in self.keys.items()}
        shape: dict[str, Any] = {"type": "object", "properties": properties, "additionalProperties": False}
        if self.needed:
            shape["required"] = list(self.needed)
        return shape


def facts_of(prefix: str, without: Iterable[str] = ()) -> dict[str, str]:
    """Key -> term for every fact of a prefix that a file may state."""
    mark, left_out = f"{prefix}.", set(without)
    return {
        name[len(mark) :]: name for name in VOCABULARY if name.startswith(mark) and name[len(mark) :] not in left_out
    }


def _wanted(node: Any) -> ReadingError:
    return ReadingError([Problem(node.place, "a block of keys is wanted here", "write {key: value}")])


def _schema_of(reader: str | Shape | Each | Reader) -> dict[str, Any]:
    if isinstance(reader, str):
        return shape_of(VOCABULARY[reader])
    if isinstance(reader, Shape | Each):
        return reader.schema()
    if reader is read_line:
        return {"type": ["string", "number"]}
    if reader is read_lines:
        return {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": ["string", "number"]}}]}
    assert reader is read_node
    return {}
