"""One block of a pack read key by key: unknown and missing keys are gathered with their places, never raised alone.

`Fields` wraps a mapping; every reader appends to one shared list of problems and returns something usable, so that all
errors of a pack come out together.
"""

from __future__ import annotations

from collections.abc import Iterable

from derate.terms.values import Place, Problem, nearest
from derate.text.nodes import Mapping, Node, Scalar, Sequence


class Fields:
    """A mapping and what it is, with the list that problems go to."""

    def __init__(self, node: Mapping, what: str, allowed: Iterable[str], problems: list[Problem]) -> None:
        self.node = node
        self.what = what
        self.problems = problems
        self._values: dict[str, Node] = {key.text: value for key, value in node.entries}
        known = tuple(allowed)
        for key, _ in node.entries:
            if key.text not in known:
                close = nearest(key.text, known)
                self.wrong(
                    key.start,
                    f"'{key.text}' is no key of {what}",
                    f"write {close}" if close else f"write one of {', '.join(known)}",
                )

    def __contains__(self, key: str) -> bool:
        return key in self._values

    def wrong(self, place: Place, what: str, instead: str = "") -> None:
        """Note one problem."""
        self.problems.append(Problem(place, what, instead))

    def node_of(self, key: str) -> Node | None:
        """The value of a key as it stands."""
        return self._values.get(key)

    def place_of(self, key: str) -> Place:
        """Where the value of a key begins; where the block begins when the key is not there."""
        node = self._values.get(key)
        return self.node.place if node is None else first_character(node)

    def scalar(self, key: str) -> Scalar | None:
        """The one text of a key, or None when it is not there (or is not a text, which is noted)."""
        node = self._values.get(key)
        if node is None:
            return None
        if not isinstance(node, Scalar):
            self.wrong(node.place, f"{key} is {kind_of(node)}", "write one text")
            return None
        return node

    def text(self, key: str, default: str = "") -> str:
        """The text of a key, folded to one line."""
        node = self.scalar(key)
        return default if node is None else " ".join(node.text.split())

    def needed(self, key: str) -> str:
        """The text of a key that must be there and not be empty."""
        found = self.text(key)
        if not found and not any(place == self.place_of(key) for place in (p.place for p in self.problems)):
            self.wrong(self.place_of(key), f"{self.what} has no {key}", f"write {key}: and a text")
        return found

    def word(self, key: str, words: tuple[str, ...], default: str) -> str:
        """One of a list of words; the default when the key is not there."""
        node = self.scalar(key)
        if node is None:
            return default
        return self._known(node, key, words) or default

    def needed_word(self, key: str, words: tuple[str, ...]) -> str:
        """One of a list of words that must be given."""
        if key not in self._values:
            self.wrong(self.node.place, f"{self.what} has no {key}", f"write one of {', '.join(words)}")
        return self.word(key, words, words[0])

    def words(self, key: str, words: tuple[str, ...]) -> tuple[str, ...]:
        """A list of known words, or one of them."""
        return tuple(word for node in self.scalars(key) if (word := self._known(node, key, words)))

    def scalars(self, key: str) -> tuple[Scalar, ...]:
        """A list of texts, or one text."""
        node = self._values.get(key)
        if node is None:
            return ()
        if isinstance(node, Scalar):
            return (node,)
        if isinstance(node, Sequence) and all(isinstance(item, Scalar) for item in node.items):
            return tuple(item for item in node.items if isinstance(item, Scalar))
        self.wrong(node.place, f"{key} is {kind_of(node)}", "write one text, or a list of them")
        return ()

    def block(self, key: str) -> Mapping | None:
        """A block of keys, or None when it is not there."""
        node = self._values.get(key)
        if node is None or isinstance(node, Mapping):
            return node
        self.wrong(first_character(node), f"{key} is {kind_of(node)}", "write a block of keys and values")
        return None

    def blocks(self, key: str) -> tuple[Mapping, ...]:
        """A list of blocks."""
        node = self._values.get(key)
        if node is None:
            return ()
        if not isinstance(node, Sequence):
            self.wrong(first_character(node), f"{key} is {kind_of(node)}", "write a list, each item behind a dash")
            return ()
        found = []
        for item in node.items:
            if isinstance(item, Mapping):
                found.append(item)
            else:
                self.wrong(first_character(item), f"an item of {key} is {kind_of(item)}", "write keys and values")
        return tuple(found)

    def _known(self, node: Scalar, key: str, words: tuple[str, ...]) -> str:
        if node.text in words:
            return node.text
        close = nearest(node.text, words)
        self.wrong(
            node.start,
            f"{key} does not take '{node.text}'",
            f"write {close}" if close else f"write one of {', '.join(words)}",
        )
        return ""


def kind_of(node: Node) -> str:
    """What a node is, in words."""
    return "a list" if isinstance(node, Sequence) else "a block of keys" if isinstance(node, Mapping) else "a text"


def first_character(node: Node) -> Place:
    """Where a value begins, behind an opening quote."""
    return node.start if isinstance(node, Scalar) else node.place


def cite(text: str, sources: dict[str, str]) -> str:
    """The source in full: a key of `sources` before the first comma is replaced by its title and edition."""
    key, comma, rest = text.partition(",")
    found = sources.get(key.strip())
    return text if found is None else f"{found}{comma}{rest}"
