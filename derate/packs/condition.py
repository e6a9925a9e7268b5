"""Structured conditions: a fact and what it has to be. Evaluated to yes, no or unknown, never by formula.

    part.kind: [fuse, any resistor]         one of these words
    part.class: other than Y1 or Y2         none of these words
    part.capacitance: over 0.1 uF           also under, up to, at least, and a range 1..3 A
    circuit.clamp: present                  or absent: `none` and `unmarked` were looked for and are absent
    plate.marks: includes double square     for facts that are lists

There is no condition on whether a fact is known: such a rule could be escaped by deleting the fact.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from derate.packs.reading import first_character, kind_of
from derate.packs.words import LISTS, LOOKED
from derate.terms.place import Place, Problem, ReadingError, nearest
from derate.terms.values import Category, Value
from derate.terms.vocabulary import VOCABULARY, Term
from derate.terms.words import PART_KINDS
from derate.text.nodes import Mapping, Node, Scalar, Sequence
from derate.text.quantity import read_quantity

_BOUNDS = {"over": (True, True), "at least": (True, False), "under": (False, True), "up to": (False, False)}


class Range(NamedTuple):
    """Numbers between two ends [SI]; a strict end is not part of it."""

    least: float = -inf
    greatest: float = inf
    above: bool = False
    below: bool = False

    def holds(self, value: Value) -> bool | None:
        """Whether a value lies in the range for every reading, for none, or (None) for some."""
        if self._contains(value.near) and self._contains(value.far):
            return True
        if value.far < self.least or value.near > self.greatest:
            return False
        if (self.above and value.far == self.least) or (self.below and value.near == self.greatest):
            return False
        return None

    def _contains(self, number: float) -> bool:
        over = number > self.least if self.above else number >= self.least
        return over and (number < self.greatest if self.below else number <= self.greatest)


class Condition(NamedTuple):
    """One fact and what it has to be; exactly one of words, range, presence and includes is set.

    text: as the author wrote it, for messages
    other: the words are those it must not be
    presence: 'present' or 'absent'
    """

    name: str
    text: str
    place: Place
    words: tuple[str, ...] = ()
    other: bool = False
    range: Range | None = None
    presence: str = ""
    includes: str = ""

    def holds(self, value: Value | Category) -> bool | None:
        """Yes, no, or None when the value leaves it open."""
        if self.presence:
            return self._present(value)
        if self.includes:
            if not isinstance(value, Category):
                return None
            return any(self.includes in member.split(" + ") for member in value.members)  # a list stands in one text
        if self.range is not None:
            return self.range.holds(value) if isinstance(value, Value) else None
        if not isinstance(value, Category):
            return None
        inside = [matches(member, self.words) != self.other for member in value.members]
        return True if all(inside) else False if not any(inside) else None

    def _present(self, value: Value | Category) -> bool | None:
        if isinstance(value, Category):
            looked = [member in LOOKED for member in value.members]
            there = False if all(looked) else None if any(looked) else True
        else:
            there = True
        return there if there is None or self.presence == "present" else not there


def matches(word: str, wanted: tuple[str, ...]) -> bool:
    """Whether a word is among the wanted ones; `any resistor` stands for every kind of resistor."""
    return any(word == one or (one.startswith("any ") and word.endswith(one[3:])) for one in wanted)


def read_conditions(
    node: Node | None, problems: list[Problem], prefixes: tuple[str, ...] = ()
) -> tuple[Condition, ...]:
    """Read a block of conditions. `prefixes`: which names are allowed, all when empty."""
    if node is None:
        return ()
    if not isinstance(node, Mapping):
        problems.append(Problem(first_character(node), f"this is {kind_of(node)}", "write fact: what it has to be"))
        return ()
    found = []
    for key, value in node.entries:
        try:
            found.append(_read(key, value, prefixes))
        except ReadingError as error:
            problems += error.problems
    return tuple(found)


def _read(key: Scalar, node: Node, prefixes: tuple[str, ...]) -> Condition:
    term = VOCABULARY.get(key.text)
    if term is None:
        close = nearest(key.text, VOCABULARY)
        raise _refused(key.start, f"'{key.text}' is no fact this format knows", f"write {close}" if close else "")
    if prefixes and not term.name.startswith(prefixes):
        raise _refused(key.start, f"{term.name} is not a fact of a part", f"use names such as {prefixes[0]}kind")
    if isinstance(node, Mapping):
        raise _refused(node.place, "a condition is one line", "write a word, a list of words, or `over 0.1 uF`")
    if isinstance(node, Sequence):
        if not node.items or not all(isinstance(item, Scalar) for item in node.items):
            raise _refused(node.place, "a list of words is wanted here", "write [fuse, board track]")
        scalars = tuple(item for item in node.items if isinstance(item, Scalar))
        if term.dimension is not None:
            raise _refused(node.place, f"{term.name} is {term.dimension}, no word", "write a range, such as 1..3")
        words = tuple(_word(item.text, item.start, term) for item in scalars)
        return Condition(term.name, " or ".join(words), node.place, words=words)
    return _read_text(node, term)


def _read_text(node: Scalar, term: Term) -> Condition:
    text = node.text.strip()
    if text in ("present", "absent"):
        return Condition(term.name, text, node.start, presence=text)
    if text.startswith("includes "):
        if term.name not in LISTS:
            raise _refused(node.start, f"{term.name} is one word, no list", f"'includes' is for {', '.join(LISTS)}")
        return Condition(term.name, text, node.start, includes=text[9:].strip())
    if term.name in LISTS:
        raise _refused(node.start, f"{term.name} is a list", "write `includes WORD`, `present` or `absent`")
    if term.dimension is not None:
        return Condition(term.name, text, node.start, range=_range(text, node, term))
    if text.startswith("other than "):
        words, offset = [], 11
        for word in text[11:].split(" or "):
            words.append(_word(word.strip(), node.at(offset), term))
            offset += len(word) + 4
        return Condition(term.name, text, node.start, words=tuple(words), other=True)
    return Condition(term.name, text, node.start, words=(_word(text, node.start, term),))


def _word(text: str, place: Place, term: Term) -> str:
    known = PART_KINDS if term.name == "part.kind" else term.words
    if text in known or text in LOOKED or not known:
        return text
    if term.name == "part.kind" and text.startswith("any ") and any(kind.endswith(text[3:]) for kind in known):
        return text
    close = nearest(text, known)
    what = f"'{text}' is not a word of {term.name}" if text else f"{term.name} is empty"
    raise _refused(place, what, f"write {close}" if close else f"write one of {', '.join(known)}")


def _range(text: str, node: Scalar, term: Term) -> Range:
    assert term.dimension is not None
    for word, (lower, strict) in _BOUNDS.items():
        if text.startswith(word + " "):
            offset = node.text.index(text) + len(word) + 1
            value = read_quantity(text[len(word) + 1 :], node.at(offset), term.dimension).value
            if not isinstance(value, Value) or not value.is_exact:
                raise _refused(node.at(offset), "a bound is one number", "write `over 0.1 uF`")
            return Range(least=value.low, above=strict) if lower else Range(greatest=value.low, below=strict)
    value = read_quantity(text, node.start, term.dimension).value
    if not isinstance(value, Value):
        raise _refused(node.start, f"'{text}' is no range of {term.says}", "write `over 0.1 uF` or `1..3 A`")
    return Range(least=value.low, greatest=value.high)


def _refused(place: Place, what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(place, what, instead)])
