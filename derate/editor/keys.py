"""Where somebody types in a design, and which keys and words of the format may stand there.

The text need not be readable: it is walked line by line up to the position, braces and brackets across lines. What may
stand there comes from the JSON Schema of a design, which comes from the records.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import Any, NamedTuple

_KEY = re.compile(r"([^\s:#{}\[\],'\"-][^:#{}\[\]]*?)\s*:(?=\s|$)")
_WORDS = re.compile(r"\^\\s\*\((?P<words>.*)\)\\s\*\(")
_ESCAPED = re.compile(r"\\(.)")


class Spot(NamedTuple):
    """A position in a design. path: keys from the outside inwards, that of the value being typed the last

    key: whether a key is typed there and not a value; typed: what of it stands there; there: keys that the block has
    """

    path: tuple[str, ...]
    key: bool
    typed: str
    there: frozenset[str]


class Offered(NamedTuple):
    """A key or a word of the format. says: what it is, in which unit, how a person gets it; such: an example"""

    text: str
    says: str
    such: str


class _Frame:
    """One open brace or bracket: the key whose value is typed in it, and those it has."""

    def __init__(self, opens: str) -> None:
        self.opens, self.key, self.typed = opens, "", ""
        self.there: list[str] = []


class _Walk:
    """A text walked from the head of its top-level block."""

    def __init__(self) -> None:
        self.blocks: list[tuple[int, str]] = []  # indentation and key of each block that is open
        self.frames: list[_Frame] = []
        self.typed = ""  # of the line outside of braces
        self.key = True
        self.indent = 0

    def line(self, text: str) -> None:
        """One line, from its first character."""
        if self.frames:
            self.inside(f"{text} ", 0)
            return
        body = text.lstrip(" ")
        self.indent, self.typed, self.key = len(text) - len(body), body, True
        if body.startswith("#"):
            self.typed, self.key = "", False
            return
        while body.startswith("- ") or body == "-":
            body = body[2:].lstrip(" ") if len(body) > 1 else ""
            # a list may stand no further in than its key: that one stays open, what stood inside it does not
            self.blocks = [one for one in self.blocks if one[0] < self.indent or one[0] == self.indent and one[1]]
            self.blocks.append((self.indent + 1, ""))  # an entry of a list has no key of its own
            self.indent, self.typed = len(text) - len(body), body
        if not body:
            return
        self.blocks = [one for one in self.blocks if one[0] < self.indent]
        found = _KEY.match(body)
        if found is not None:
            self.blocks.append((self.indent, found[1].strip()))
            self.key, self.typed = False, body[found.end() :].lstrip()
            self.inside(f"{body[found.end() :]} ", 0)
        elif body[0] in "{[":
            self.inside(f"{body} ", 0)

    def inside(self, text: str, at: int) -> None:
        """The rest of a line: braces, brackets, commas and quotes; a comment ends it."""
        quote = ""
        for place in range(at, len(text)):
            one = text[place]
            if quote:
                quote = "" if one == quote else quote
                continue
            frame = self.frames[-1] if self.frames else None
            if one in "\"'" and (frame is None or not frame.typed.strip()):
                quote = one
            elif one == "#" and (place == 0 or text[place - 1] == " "):
                return
            elif one in "{[" and (frame is not None or not text[at:place].strip()):
                self.frames.append(_Frame(one))
            elif frame is None:
                continue
            elif one in "}]":
                self.frames.pop()
                if self.frames:
                    self.frames[-1].typed = "closed"
            elif one == ",":
                frame.key = frame.typed = ""
            elif one == ":" and frame.opens == "{" and not frame.key and text[place + 1 : place + 2] in (" ", ""):
                frame.key = frame.typed.strip()
                frame.there.append(frame.key)
                frame.typed = ""
            else:
                frame.typed += one

    def path(self) -> tuple[str, ...]:
        keys = [key for _, key in self.blocks if key]
        return (*keys, *(one.key for one in self.frames if one.key))


def spot_at(text: str, line: int, column: int) -> Spot:
    """Where a position stands. line and column count from nought"""
    lines = text.split("\n")
    line = min(line, len(lines) - 1)
    head = lines[line][:column]
    first = max((at for at in range(line + 1) if lines[at][:1] not in ("", " ", "#", "-")), default=0)
    walk = _Walk()
    for one in lines[first:line]:
        walk.line(one)
    if not walk.frames and not head.strip():  # an empty line: in the block that its column stands in
        walk.blocks = [one for one in walk.blocks if one[0] < column]
        walk.indent, walk.typed, walk.key = column, "", True
    else:
        walk.line(head)
    if walk.frames:
        frame = walk.frames[-1]
        key = frame.opens == "{" and not frame.key
        path, typed, there = walk.path(), frame.typed.strip(), list(frame.there)
        there = [*there, *_rest_of(walk, lines, line, column)] if key else []
        return Spot(path, key, typed, frozenset(there))
    if not walk.key:
        return Spot(walk.path(), False, walk.typed.strip(), frozenset())
    return Spot(walk.path(), True, walk.typed.strip(), frozenset(_beside(lines, line, walk.indent)))


def _rest_of(walk: _Walk, lines: Sequence[str], line: int, column: int) -> list[str]:
    """Keys behind a position in its braces."""
    frame, before = walk.frames[-1], len(walk.frames[-1].there)
    frame.key, frame.typed = "", ""
    tail = [lines[line][column:], *lines[line + 1 : line + 40]]
    for one in tail:
        if frame not in walk.frames:
            break
        walk.inside(f"{one} ", 0)
    return frame.there[before:]


def _beside(lines: Sequence[str], line: int, indent: int) -> Iterator[str]:
    """Keys of the block that a line stands in, above and below it."""
    for step in (-1, 1):
        at = line + step
        while 0 <= at < len(lines):
            one = lines[at]
            at += step
            body = one.lstrip(" ")
            if not body or body.startswith("#"):
                continue
            depth = len(one) - len(body)
            listed = body.startswith("- ")
            if listed:
                depth, body = depth + 2, body[2:]
            if depth < indent or (listed and step > 0 and depth == indent):
                break
            found = _KEY.match(body)
            if depth == indent and found is not None:
                yield found[1].strip()
            if listed and depth == indent:
                break


# What may stand there.


@cache
def _schema() -> Mapping[str, Any]:
    from derate.report.schemas import design_schema

    return design_schema()


def _all(nodes: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Schemas with those that they may also be: either of several, an entry of a list."""
    found: list[Mapping[str, Any]] = []
    waiting = list(nodes)
    while waiting:
        one = waiting.pop()
        found.append(one)
        waiting += [each for name in ("anyOf", "oneOf") for each in one.get(name, ()) if isinstance(each, dict)]
        if isinstance(one.get("items"), dict):
            waiting.append(one["items"])
    return found


def _at(path: Sequence[str]) -> list[Mapping[str, Any]]:
    nodes = _all([_schema()])
    for key in path:
        onward: list[Mapping[str, Any]] = []
        for one in nodes:
            own = one.get("properties", {}).get(key)
            more = one.get("additionalProperties")
            onward += [own] if isinstance(own, dict) else [more] if isinstance(more, dict) else []
        nodes = _all(onward)
    return nodes


def keys_at(spot: Spot) -> tuple[Offered, ...]:
    """The keys of the format that the block of a position takes and does not have yet, in the order of the format."""
    found: dict[str, Offered] = {}
    for one in reversed(_at(spot.path)):
        for key, node in one.get("properties", {}).items():
            if key not in spot.there and key not in found:
                such = next(iter(node.get("examples", ())), "")
                found[key] = Offered(key, node.get("description", ""), f"{such}")
    return tuple(found.values())


def words_at(spot: Spot) -> tuple[Offered, ...]:
    """The words that the value of a position is one of, where the format has a closed list of them."""
    found: dict[str, Offered] = {}
    for one in _at(spot.path):
        listed = _WORDS.match(one.get("pattern", ""))
        words = re.split(r"(?<!\\)\|", listed["words"]) if listed is not None else one.get("enum", ())
        for word in words:
            text = _ESCAPED.sub(r"\1", f"{word}")
            found.setdefault(text, Offered(text, one.get("description", ""), ""))
    return tuple(found.values())
