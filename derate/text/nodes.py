"""YAML as nodes with positions, from a text file read whole or refused in words."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import yaml

from derate.terms.tuples import NamedTuple
from derate.terms.values import Place, Problem, ReadingError
from derate.text.files import read_ordinary

# A text file read whole, or refused in words.


GREATEST_SIZE = 4_000_000
_MOST_REPORTED = 20
# everything an editor does not show or takes for another line end than YAML does
_UNWANTED = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff\ud800-\udfff]|\r(?!\n)")
_NAMES = {
    "\x00": "a NUL character",
    "\x85": "the line end U+0085",
    "\u2028": "the line end U+2028",
    "\u2029": "the paragraph end U+2029",
    "\ufeff": "a byte order mark inside the text",
    "\r": "a carriage return without a line feed",
}


def read_text(path: str) -> str:
    """The text of a file in UTF-8, without its byte order mark. Raises ReadingError for everything else."""
    return decoded(read_bytes(path), path)


def read_bytes(path: str) -> bytes:
    """The content of an ordinary file of bounded size. Raises ReadingError for everything else."""
    return read_ordinary(path, GREATEST_SIZE)


def decoded(data: bytes, path: str) -> str:
    """The text of such a content, without its byte order mark. Raises ReadingError when it is not plain UTF-8."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise _refused(path, "this file is UTF-16", "save it as UTF-8")
    if data.startswith(b"\xef\xbb\xbf"):
        data = data[3:]
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        good = data[: error.start].decode("utf-8")
        place = Place(path, good.count("\n") + 1, len(good) - good.rfind("\n"))
        raise ReadingError([Problem(place, "this is not UTF-8 text", "save the file as UTF-8")]) from None
    problems = list(check_characters(text, path))
    if problems:
        raise ReadingError(problems)
    return text


def check_characters(text: str, path: str) -> Iterator[Problem]:
    """The characters no design may hold, the first twenty of them."""
    for number, found in enumerate(_UNWANTED.finditer(text)):
        if number == _MOST_REPORTED:
            return
        at, character = found.start(), found.group()
        place = Place(path, text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at))
        name = _NAMES.get(character, f"the control character U+{ord(character):04X}")
        instead = "save the file with ordinary line ends" if character == "\r" else "take it out"
        yield Problem(place, f"{name} stands here", instead)


def _refused(path: str, what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(Place(path), what, instead)])


# YAML as nodes with positions: a scalar is the text as typed, never a number, a date or a truth value.


# The three kinds of node of a YAML file, each with its place.


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


# Builds nodes from the events of libyaml, one document, and refuses what is not part of the format.


GREATEST_DEPTH = 40
GREATEST_COUNT = 200_000
GREATEST_LENGTH = 2000  # entries of one block or list
LONGEST_TEXT = 10_000  # characters of one text
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

    def _long(self, place: Place, count: int) -> None:
        """Refuse a block or list that is longer than any that a person writes."""
        if count > GREATEST_LENGTH:
            self._refuse(place, f"more than {GREATEST_LENGTH} entries in one block or list", "split it")
            raise Stop

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
        length = len(text)
        if length > LONGEST_TEXT:
            self._refuse(place, f"a text of more than {LONGEST_TEXT} characters", "shorten it")
            raise Stop
        if style == '"' or style == "'":
            in_line = start.line == end.line and end.column - start.column == length + 2
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
        return Scalar(text, place, False, start.line == end.line and end.column - start.column == length)

    def _sequence(self, event: Any, depth: int) -> Sequence:
        items = []
        before = self._count
        while type(item := self._next()) is not yaml.SequenceEndEvent:
            node = self._node(item, depth + 1)
            if isinstance(node, Scalar) and not node.text and not node.quoted and type(item) is yaml.ScalarEvent:
                self._refuse(node.place, "an entry of this list is empty", "write it out, or leave the line out")
            items.append(node)
            if self._count - before > GREATEST_LENGTH:  # there are at least as many nodes as entries
                self._long(node.place, len(items))
        return Sequence(tuple(items), self._place(event))

    def _mapping(self, event: Any, depth: int) -> Mapping:
        entries: list[tuple[Scalar, Node]] = []
        seen: dict[str, Place] = {}
        before = self._count
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
                both = [value, *(its for own, its in entries if own.text == key.text)]
                blocks = all(isinstance(one, Mapping) for one in both)
                keep = f"put the lines of both under one '{name}:'" if blocks else "keep one of them"
                self._refuse(key.place, f"'{name}' is said twice, first in line {first.line} column {first.column}", "")
                self._refuse(first, f"'{name}' is said twice, again in line {key.place.line}", keep)
                continue
            if key.text == "<<" and not key.quoted:
                self._refuse(key.place, "'<<' is not part of this format", "write the entries out")
            seen[key.text] = key.place
            entries.append((key, value))
            if self._count - before > GREATEST_LENGTH:
                self._long(key.place, len(entries))
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
        if name == "…":
            self._refuse(key.place, "'…' stands for what is still to be written", "write it there, or take the … out")
            return
        if isinstance(before, Scalar) and re.match(r"[0-9]", name) and re.search(r"(?:^|[ .])[0-9]+\Z", before.text):
            instead = f"A number with a comma? Write {clipped(f'{before.text}.{name}')}"
        elif re.match(r"[^ ]+:[^ ]", name):
            instead = f"Write a space behind the colon: {clipped(name.replace(':', ': ', 1))}"
        else:
            instead = "The rest of a text with a comma? Put that text in quotes"
        self._refuse(key.place, f"'{clipped(name)}' has no value", instead)


# YAML as nodes with positions: a scalar is the text as typed, never a number, a date or a truth value.
#
# Only libyaml's parser is used (PyYAML's own disagrees with it on tabs and question marks). Events are read one by
# one, so that tags, anchors and aliases are seen and refused, and nothing is walked beyond the limits below.


_MARKER = re.compile(r"^---(?=[ \t\r\n]|\Z)", re.MULTILINE)
_ONLY_COMMENTS = re.compile(r"(?:[ \t]*(?:#[^\n]*|%[^\n]*)?\r?\n)*[ \t]*\Z")


def compose(text: str, path: str, *, only: bool = False, blocks: bool = False) -> Mapping:
    """The first document of a text, a mapping at its top.

    only: refuse a second document (a design has one). blocks: allow texts over several lines behind `|` and `>`.
    Raises ReadingError with every problem found.
    """
    first, second = _split(text)
    node, problems = _composed(first, 0, path, blocks)
    if only and second is not None:
        line = text.count("\n", 0, second) + 1
        problems.append(Problem(Place(path, line), "a second document begins here", "one file holds one design"))
    if not problems and not isinstance(node, Mapping):
        what, instead = "the file is empty", "a design begins with `derate: 1`"
        if isinstance(node, Sequence):
            what, instead = "the file is a list", "write keys and values, such as `derate: 1`"
        elif isinstance(node, Scalar):
            what, instead = "the file is one piece of text", "write keys and values, such as `derate: 1`"
        problems.append(Problem(node.place if node else Place(path), what, instead))
    if problems:
        raise ReadingError(problems)
    assert isinstance(node, Mapping)
    return node


def compose_second(text: str, path: str, *, blocks: bool = False) -> Node | None:
    """The second document of a text (the trials of a pack), or None when there is none. A third is refused."""
    _, begin = _split(text)
    if begin is None:
        return None
    third, _ = _next_document(text, begin + 3)
    rest = text[begin:third]
    before = text.count("\n", 0, begin)
    node, problems = _composed("\n" * before + rest, before, path, blocks)
    if third is not None:
        line = text.count("\n", 0, third) + 1
        problems.append(Problem(Place(path, line), "a third document begins here", "a file holds two at most"))
    if problems:
        raise ReadingError(problems)
    return node


def split_numbers(sequence: Sequence) -> tuple[Problem, ...]:
    """`[6,2 mm]` is a list of two for YAML: a bare whole number before an item that begins with a digit and a unit."""
    problems = []
    for one, other in zip(sequence.items, sequence.items[1:], strict=False):
        if isinstance(one, Scalar) and isinstance(other, Scalar) and not one.quoted and not other.quoted:
            if re.fullmatch(r"[+-]?[0-9]+", one.text) and re.match(r"[0-9]+ ?[^\W\d_]", other.text):
                typed = clipped(f"{one.text},{other.text}")
                what = f"'{clipped(one.text)}' has no unit: the comma has split '{typed}' in two"
                problems.append(Problem(one.place, what, f"write {typed.replace(',', '.', 1)}"))
    return tuple(problems)


def _next_document(text: str, begin: int) -> tuple[int | None, int]:
    """Where the next `---` at the start of a line stands behind `begin`."""
    found = _MARKER.search(text, begin)
    return (found.start(), found.end()) if found else (None, len(text))


def _split(text: str) -> tuple[str, int | None]:
    """The first document, and where the second begins. `---` at the start of a line ends a document wherever it is."""
    begin, end = _next_document(text, 0)
    if begin is not None and _ONLY_COMMENTS.match(text, 0, begin):
        begin, end = _next_document(text, end)
    return (text, None) if begin is None else (text[:begin], begin)


def _composed(text: str, before: int, path: str, blocks: bool) -> tuple[Node | None, list[Problem]]:
    if not hasattr(yaml, "CSafeLoader"):
        return None, [
            Problem(
                Place(path),
                "this PyYAML was built without libyaml, and its own parser reads some texts differently",
                "install a PyYAML with libyaml (the published wheels have it)",
            )
        ]
    problems = list(check_characters(text, path))
    if problems:
        return None, problems
    composer = Composer(text, path, blocks)
    try:
        node = composer.document()
    except yaml.YAMLError as error:
        from derate.text.advice import find_traps, own_words  # only ever needed to word an error

        traps = find_traps(text, path, before)
        return None, composer.problems + (traps or [own_words(error, path, text)])
    except Stop:
        node = None
    return node, composer.problems
