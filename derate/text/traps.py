"""YAML stops at its first syntax error: here the text is gone over line by line for the known traps, all of them.

Only used when composing has failed; a rough reading of quotes, comments and brackets is enough to find the places
where a value begins.
"""

from __future__ import annotations

import re
from typing import Any

from derate.terms.place import Place, Problem

_MOST_REPORTED = 50
_STARTERS = re.compile(r"[>|@`%!&*]")
_PLAIN_END_FLOW = re.compile(r"[,\[\]{}]|:(?=[ ,\[\]{}]|$)| #")
_PLAIN_END_BLOCK = re.compile(r":(?= |$)| #")
_BEHIND_COLON = ("", " ", ",", "]", "}", "[", "{")
_CLOSING = {"{": "}", "[": "]"}


def find_traps(text: str, path: str, skip: int = 0) -> list[Problem]:
    """Every known trap of the text, in order; `skip` lines at the start belong to another document."""
    return _Walk(path).over(text, skip)


class _Walk:
    def __init__(self, path: str) -> None:
        self._path = path
        self._open: list[tuple[str, Place]] = []
        self._quote: tuple[str, Place] | None = None
        self._colon = False  # a colon was seen in this entry of the braces
        self._problems: list[Problem] = []

    def over(self, text: str, skip: int) -> list[Problem]:
        """Walk the lines and return what was found."""
        for number, line in enumerate(text.split("\n"), 1):
            if number > skip and len(self._problems) < _MOST_REPORTED:
                self._line(line.rstrip("\r"), number)
        if self._quote is not None:
            mark, place = self._quote
            self._problems.append(Problem(place, f"this {mark} never closes", f"close the text with another {mark}"))
        return self._problems

    def _say(self, number: int, column: int, what: str, instead: str) -> None:
        self._problems.append(Problem(Place(self._path, number, column + 1), what, instead))

    def _line(self, line: str, number: int) -> None:
        at = 0
        if self._quote is not None:
            at = self._end_of_quote(line, 0, self._quote[0])
            if at < 0:
                return
            self._quote = None
        else:
            indent = len(line) - len(line.lstrip(" \t"))
            if "\t" in line[:indent] and line[indent : indent + 1] != "#":
                self._say(number, line.index("\t"), "a tab at the start of a line", "indent with spaces")
            if self._open and indent == 0 and re.match(r"[\w-]+:( |$)", line):
                self._open.clear()  # a key at the left margin: the brace was lost earlier
            at = indent
        begins = True
        while at < len(line):
            character = line[at]
            if character in " \t":
                at += 1
            elif character == "#" and (at == 0 or line[at - 1] in " \t"):
                self._comment(line, at)
                return
            elif begins and character in "'\"":
                end = self._end_of_quote(line, at + 1, character)
                if end < 0:
                    self._quote = (character, Place(self._path, number, at + 1))
                    return
                at, begins = end, False
            elif begins and character in "-?" and line[at + 1 : at + 2] in ("", " "):
                at += 1
            elif character in "{[" and (begins or self._open):
                self._open.append((character, Place(self._path, number, at + 1)))
                self._colon = False
                at, begins = at + 1, True
            elif self._open and character in "]}":
                self._open.pop()
                self._colon = False
                at, begins = at + 1, False
            elif (character == "," and self._open) or (character == ":" and line[at + 1 : at + 2] in _BEHIND_COLON):
                if character == ":" and self._colon and self._open:
                    self._say(number, at, "a colon and a space inside a text", "put the text in quotes")
                self._colon = character == ":"
                at, begins = at + 1, True
            else:
                found = (_PLAIN_END_FLOW if self._open else _PLAIN_END_BLOCK).search(line, at)
                end = found.start() if found else len(line)
                if begins and _STARTERS.match(character):
                    self._starter(character, line[at:end].strip(), number, at)
                at, begins = max(end, at + 1), False

    @staticmethod
    def _end_of_quote(line: str, at: int, mark: str) -> int:
        """Where the text goes on behind a closing quote, or -1 when it does not close in this line."""
        while at < len(line):
            if mark == '"' and line[at] == "\\":
                at += 2
            elif line[at] == mark:
                if mark == "'" and line[at + 1 : at + 2] == "'":
                    at += 2
                    continue
                return at + 1
            else:
                at += 1
        return -1

    def _comment(self, line: str, at: int) -> None:
        if not self._open:
            return
        bracket, place = self._open[-1]
        if _CLOSING[bracket] in line[at:]:
            self._problems.append(
                Problem(
                    place,
                    f"this {bracket} never closes: text from ' #' in column {at + 1} on is a comment",
                    "put the text with ' #' in quotes",
                )
            )
            self._open.clear()

    def _starter(self, character: str, value: str, number: int, at: int) -> None:
        shown = value if len(value) <= 40 else value[:40] + "…"
        if character == ">":
            rest = value[1:].lstrip("=").strip()
            short = rest if len(rest) <= 40 else f"{rest[:39]}…"
            instead = f"write `over {short}`" if re.match(r"[0-9]", rest) else "write `over 5 mm`, or use quotes"
            self._say(number, at, f"'{shown}': YAML takes '>' for the start of a text over several lines", instead)
        elif character == "|":
            self._say(
                number,
                at,
                f"'{shown}': YAML takes '|' for the start of a text over several lines",
                "parts in parallel are written `C6 || C7`, with a part on either side",
            )
        elif character in "@`%":
            self._say(number, at, f"'{shown}': a text cannot begin with {character}", "put it in quotes")
        else:
            self._say(
                number, at, f"'{shown}': what begins with {character} is not part of this format", "put it in quotes"
            )


# piece of libyaml's own sentence: (what, what to write instead)
_SENTENCES: tuple[tuple[str, str, str], ...] = (
    (
        "mapping values are not allowed",
        "a colon and a space inside a text, a line further in than the one above, or one above without its colon",
        "put a text with ': ' in quotes; give entries of one block the same indentation",
    ),
    (
        "did not find expected ',' or '}'",
        "a { opened here is not closed, or a comma is missing",
        "write {key: value, key: value}",
    ),
    (
        "did not find expected ',' or ']'",
        "a [ opened here is not closed, or a comma is missing",
        "write [one, two]",
    ),
    ("did not find expected '-'", "this line does not fit the list above it", "begin each entry with '- '"),
    (
        "did not find expected key",
        "this line does not fit the lines above it",
        "give entries of one block the same indentation",
    ),
    ("mapping keys are not allowed", "a ? alone", "write `unknown`, or put it in quotes"),
    ("did not find expected node content", "nothing stands where a value belongs", "write it, or take a comma out"),
    ("could not find expected ':'", "a line without a colon", "write `key: value`"),
    ("unexpected end of stream", "a text in quotes never ends", "close the quotes"),
    ("unexpected document indicator", "a text in quotes never ends", "close the quotes"),
    ("unknown escape", "a backslash in double quotes that YAML does not know", "use single quotes"),
    ("did not find expected hexdecimal", "a backslash in double quotes that YAML does not know", "use single quotes"),
    ("cannot start any token", "a text cannot begin with this character", "put it in quotes"),
    ("block sequence entries are not allowed", "a list cannot begin here", "begin it on a line of its own"),
    ("nesting", "nested too deep", ""),
    ("directive", "a line beginning with % is not part of this format", "leave it out"),
    ("<document start>", "text behind the end of the document", "leave the line of dots out"),
    ("tag", "a tag (!) is not part of this format", "put the text in quotes"),
)


def own_words(error: Exception, path: str, text: str) -> Problem:
    """A sentence of our own for an error of the YAML parser, at its place inside the text."""
    own: Any = error
    said = f"{getattr(own, 'context', '') or ''} {getattr(own, 'problem', '') or ''}"
    mark = getattr(own, "problem_mark", None)
    if "did not find expected key" in said and mark is not None:
        before = text.split("\n")[mark.line][: mark.column].rstrip()
        if before:
            what = f"text behind the closing {before[-1]}" if before[-1] in "'\"]}" else "text that belongs to no key"
            return Problem(_inside(mark, path, text), what, "put the whole text in quotes")
    for piece, what, instead in _SENTENCES:
        if piece in said:
            if what.endswith(("is missing", "without a colon")) or "quotes never" in what:
                mark = getattr(own, "context_mark", None) or mark
            return Problem(_inside(mark, path, text), what, instead)
    return Problem(_inside(mark, path, text), "YAML cannot read on here", "look for a missing quote, brace or colon")


def _inside(mark: Any, path: str, text: str) -> Place:
    """A place that exists in the text: YAML points behind the last line when something never ends."""
    if mark is None:
        return Place(path)
    lines = text.split("\n")
    line = min(mark.line, len(lines) - 1)
    while line > 0 and line >= mark.line and not lines[line].strip():
        line -= 1
    column = mark.column if line == mark.line else len(lines[line])
    return Place(path, line + 1, min(column, len(lines[line])) + 1)
