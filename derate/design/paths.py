"""The walked paths of a circuit: `[RF1, BR1, across C1, T1.primary, D5 + (R5 || R6 || C4)]`.

A step is a series element, an element `across` from here to the return, one `in neutral`, or one `to earth`.
An element is a part, a winding (`T1.primary`), several in series (`+`) or several in parallel (`||`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Literal, NamedTuple

from derate.terms.place import Place, Problem, ReadingError


class Leaf(NamedTuple):
    """A part or a winding named on a path."""

    name: str
    place: Place


class Group(NamedTuple):
    """Elements in series (`+`) or in parallel (`||`)."""

    joined: Literal["series", "parallel"]
    members: tuple[Element, ...]


Element = Leaf | Group
How = Literal["series", "across", "in neutral", "to earth"]


class Step(NamedTuple):
    """One step of a walked path."""

    element: Element
    how: How
    place: Place

    @property
    def names(self) -> tuple[str, ...]:
        """Every part and winding of the step, in the order written."""
        return tuple(leaf.name for leaf in leaves(self.element))


Path = tuple[Step, ...]


def leaves(element: Element) -> Iterator[Leaf]:
    """Every leaf of an element, in the order written."""
    if isinstance(element, Leaf):
        yield element
    else:
        for member in element.members:
            yield from leaves(member)


_TOKEN = re.compile(r"\s*(?:(\|\|)|(\+)|(\()|(\))|([^\s+|()]+))")
_DEPTH = 12


def read_step(text: str, place: Place) -> Step:
    """Read one step of a path; raises ReadingError with the column of the fault."""
    how: How = "series"
    body, shift = text, 0
    for word, meaning in (("across ", "across"), ("to earth ", "to earth")):
        if text.startswith(word):
            how, body, shift = meaning, text[len(word) :], len(word)  # type: ignore[assignment]
    if body.endswith(" in neutral"):
        if how != "series":
            raise _wrong(place, shift, "an element in neutral is in series", "write it without 'across'")
        how, body = "in neutral", body[: -len(" in neutral")]
    return Step(read_element(body, place, shift), how, place)


def read_element(text: str, place: Place, shift: int = 0) -> Element:
    """Read an element such as `D5 + (R5 || R6)`; `||` binds tighter than `+`."""
    tokens: list[tuple[str, int]] = []
    position = 0
    while position < len(text) and text[position:].strip():
        found = _TOKEN.match(text, position)
        if found is None:
            raise _wrong(
                place, shift + position, f"'{text[position:].strip()[:20]}' is no part", "join parts with + or ||"
            )
        start = found.start(found.lastindex or 0)
        tokens.append((text[start : found.end()], start))
        position = found.end()
    element, used = _series(tokens, 0, place, shift, 0, len(text))
    if used < len(tokens):
        token, start = tokens[used]
        what = "a bracket too many" if token == ")" else f"'{token}' follows without + or || before it"
        raise _wrong(place, shift + start, what, "write for example R1 + R2, C6 || C7 or D5 + (R5 || C4)")
    return element


def _wrong(place: Place, column: int, what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(Place(place.path, place.line, place.column + column), what, instead)])


def _series(
    tokens: list[tuple[str, int]], at: int, place: Place, shift: int, depth: int, end: int
) -> tuple[Element, int]:
    member, at = _parallel(tokens, at, place, shift, depth, end)
    members = [member]
    while at < len(tokens) and tokens[at][0] == "+":
        member, at = _parallel(tokens, at + 1, place, shift, depth, end)
        members.append(member)
    return (members[0] if len(members) == 1 else Group("series", tuple(members))), at


def _parallel(
    tokens: list[tuple[str, int]], at: int, place: Place, shift: int, depth: int, end: int
) -> tuple[Element, int]:
    member, at = _single(tokens, at, place, shift, depth, end)
    members = [member]
    while at < len(tokens) and tokens[at][0] == "||":
        member, at = _single(tokens, at + 1, place, shift, depth, end)
        members.append(member)
    return (members[0] if len(members) == 1 else Group("parallel", tuple(members))), at


def _single(
    tokens: list[tuple[str, int]], at: int, place: Place, shift: int, depth: int, end: int
) -> tuple[Element, int]:
    if depth > _DEPTH:
        raise _wrong(place, shift, "brackets nested too deep", f"use at most {_DEPTH} levels")
    if at >= len(tokens):
        raise _wrong(place, shift + end, "a part is missing here", "name a part")
    token, start = tokens[at]
    if token == "(":
        element, at = _series(tokens, at + 1, place, shift, depth + 1, end)
        if at >= len(tokens) or tokens[at][0] != ")":
            raise _wrong(place, shift + start, "this bracket never closes", "add a )")
        return element, at + 1
    if token in ("+", "||", ")"):
        raise _wrong(place, shift + start, f"a part is missing before '{token}'", "name a part on either side")
    return Leaf(token, Place(place.path, place.line, place.column + shift + start)), at + 1
