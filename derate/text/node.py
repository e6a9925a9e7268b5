"""The three kinds of node of a YAML file, each with its place."""

from __future__ import annotations

from typing import NamedTuple

from derate.terms.place import Place


class Scalar(NamedTuple):
    """One text as typed, without its quotes. `in_line`: it stands on one line and each character is itself."""

    text: str
    place: Place
    quoted: bool = False
    in_line: bool = True

    @property
    def start(self) -> Place:
        """Where the first character of the text stands, behind an opening quote."""
        return self.at(0)

    def at(self, offset: int) -> Place:
        """The place of a character of the text; the start of the value where lines were folded or escapes used."""
        if not self.in_line:
            return self.place
        return Place(self.place.path, self.place.line, self.place.column + offset + self.quoted)

    def __str__(self) -> str:
        return self.text


class Sequence(NamedTuple):
    """A list, in the order typed."""

    items: tuple[Node, ...]
    place: Place


class Mapping(NamedTuple):
    """Keys and values in the order typed; no key stands twice."""

    entries: tuple[tuple[Scalar, Node], ...]
    place: Place

    def get(self, key: str) -> Node | None:
        """The value of a key, or None when the key is not there."""
        for name, node in self.entries:
            if name.text == key:
                return node
        return None

    def key(self, key: str) -> Scalar | None:
        """The key itself with its place, or None when it is not there."""
        for name, _ in self.entries:
            if name.text == key:
                return name
        return None

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys in the order typed."""
        return tuple(name.text for name, _ in self.entries)


Node = Scalar | Sequence | Mapping
