"""Builds nodes from the events of libyaml, one document, and refuses what is not part of the format."""

from __future__ import annotations

import re
from typing import Any

import yaml

from derate.terms.place import Place, Problem
from derate.text.node import Mapping, Node, Scalar, Sequence

GREATEST_DEPTH = 40
GREATEST_COUNT = 200_000
MOST_REPORTED = 200


def clipped(text: str) -> str:
    return text if len(text) <= 40 else text[:39] + "…"


class Stop(Exception):
    """A limit is passed, or enough is wrong: nothing more is read."""


class Composer:
    """Builds nodes from the events of one document and gathers what is wrong."""

    def __init__(self, text: str, path: str, blocks: bool) -> None:
        self.problems: list[Problem] = []
        self._path = path
        self._blocks = blocks
        self._next: Any = yaml.CSafeLoader(text).get_event
        self._count = 0

    def document(self) -> Node | None:
        """The root of the document, or None when there is nothing in it."""
        event = self._next()
        while isinstance(event, (yaml.StreamStartEvent, yaml.DocumentStartEvent)):
            if isinstance(event, yaml.DocumentStartEvent) and (event.version or event.tags):
                self._refuse(self._place(event), "a line beginning with % is not part of this format", "leave it out")
            event = self._next()
        if isinstance(event, yaml.StreamEndEvent):
            return None
        if isinstance(event, yaml.ScalarEvent) and not event.value and not event.style:
            return None
        node = self._node(event, 1)
        end = self._next()
        while isinstance(end, yaml.DocumentEndEvent):
            end = self._next()
        if not isinstance(end, yaml.StreamEndEvent):
            self._refuse(self._place(end), "text behind the end of the document", "leave the line of dots out")
        return node

    def _place(self, event: Any) -> Place:
        mark = event.start_mark
        return Place(self._path, mark.line + 1, mark.column + 1)

    def _refuse(self, place: Place, what: str, instead: str = "") -> None:
        self.problems.append(Problem(place, what, instead))
        if len(self.problems) >= MOST_REPORTED:
            raise Stop

    def _node(self, event: Any, depth: int) -> Node:
        self._count += 1
        if self._count > GREATEST_COUNT:
            self._refuse(self._place(event), f"more than {GREATEST_COUNT} entries", "split the file")
            raise Stop
        kind = type(event)
        if kind is yaml.ScalarEvent:
            return self._scalar(event)
        if kind is yaml.AliasEvent:
            place = self._place(event)
            self._foreign(place, "*" + event.anchor, "write the value out, or use quotes")
            return Scalar("", place)
        if depth > GREATEST_DEPTH:
            self._refuse(self._place(event), f"nested more than {GREATEST_DEPTH} deep", "")
            raise Stop
        if event.anchor is not None or event.tag is not None:
            self._extras(event)
        return self._mapping(event, depth) if kind is yaml.MappingStartEvent else self._sequence(event, depth)

    def _foreign(self, place: Place, word: str, instead: str) -> None:
        self._refuse(place, f"'{clipped(word)}' is not part of this format", instead)

    def _extras(self, event: Any) -> None:
        if event.anchor is not None:
            self._foreign(self._place(event), "&" + event.anchor, "use quotes for a text")
        if event.tag is not None:
            tag = event.tag if event.tag.startswith("!") else "!!" + event.tag.rpartition(":")[2]
            self._foreign(self._place(event), tag, "use quotes for a text with a !")

    def _scalar(self, event: Any) -> Scalar:
        text: str = event.value
        start, end = event.start_mark, event.end_mark
        place = Place(self._path, start.line + 1, start.column + 1)
        if event.anchor is not None or event.tag is not None:
            self._extras(event)
        style = event.style
        if style == '"' or style == "'":
            in_line = start.line == end.line and end.column - start.column == len(text) + 2
            return Scalar(text, place, True, in_line)
        if style == "|" or style == ">":
            if not self._blocks:
                self._refuse(
                    place,
                    f"'{style}' at the start of a value begins a text over several lines, not part of this format",
                    "write `over 5 mm` for a lower bound" if style == ">" else "write `C6 || C7`, or use quotes",
                )
            return Scalar(text, place, False, False)
        if "\t" in text:
            self._refuse(place, "a tab inside a text", "write spaces")
        if text in ("~", "null", "Null", "NULL"):
            self._refuse(place, f"'{text}' is not part of this format", "write `unknown`, or leave the key out")
        return Scalar(text, place, False, start.line == end.line and end.column - start.column == len(text))

    def _sequence(self, event: Any, depth: int) -> Sequence:
        items = []
        while type(item := self._next()) is not yaml.SequenceEndEvent:
            node = self._node(item, depth + 1)
            if isinstance(node, Scalar) and not node.text and not node.quoted and type(item) is yaml.ScalarEvent:
                self._refuse(node.place, "an entry of this list is empty", "write it out, or leave the line out")
            items.append(node)
        return Sequence(tuple(items), self._place(event))

    def _mapping(self, event: Any, depth: int) -> Mapping:
        entries: list[tuple[Scalar, Node]] = []
        seen: dict[str, Place] = {}
        while type(item := self._next()) is not yaml.MappingEndEvent:
            key = self._node(item, depth + 1)
            item = self._next()
            value = self._node(item, depth + 1)
            if not isinstance(key, Scalar):
                self._refuse(key.place, "a key is one piece of text, not a list or braces", "")
                continue
            if isinstance(value, Scalar) and not value.text and not value.quoted and type(item) is yaml.ScalarEvent:
                if item.style not in ("|", ">"):
                    self._no_value(key, entries, bool(event.flow_style))
            if key.text in seen:
                first, name = seen[key.text], clipped(key.text)
                self._refuse(key.place, f"'{name}' is said twice, first in line {first.line} column {first.column}", "")
                self._refuse(first, f"'{name}' is said twice, again in line {key.place.line}", "keep one of them")
                continue
            if key.text == "<<" and not key.quoted:
                self._refuse(key.place, "'<<' is not part of this format", "write the entries out")
            seen[key.text] = key.place
            entries.append((key, value))
        return Mapping(tuple(entries), self._place(event))

    def _no_value(self, key: Scalar, entries: list[tuple[Scalar, Node]], flow: bool) -> None:
        name = key.text
        if not name and not key.quoted:
            self._refuse(key.place, "a ? alone", "write `unknown`, or put it in quotes")
            return
        if not flow:
            self._refuse(key.place, f"'{clipped(name)}' has no value", "write `unknown`, or leave the key out")
            return
        before = entries[-1][1] if entries else None
        if isinstance(before, Scalar) and re.match(r"[0-9]", name) and re.search(r"(?:^|[ .])[0-9]+\Z", before.text):
            instead = f"A number with a comma? Write {clipped(f'{before.text}.{name}')}"
        elif re.match(r"[^ ]+:[^ ]", name):
            instead = f"Write a space behind the colon: {clipped(name.replace(':', ': ', 1))}"
        else:
            instead = "The rest of a text with a comma? Put that text in quotes"
        self._refuse(key.place, f"'{clipped(name)}' has no value", instead)
