"""Waivers and open points as written: malformed ones are kept with what is wrong, and count for nothing.

A name in one is another matter: somebody signed for a part that this design does not have, so it is refused like any
other name that does not resolve. The rule is looked for once the packs are loaded.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from typing import Any, NamedTuple

from derate.design.record import Form, Name, Schema
from derate.terms.dimension import NUMBER
from derate.terms.values import Place, Problem, ReadingError, Value
from derate.text.nodes import Mapping, Node, Scalar, Sequence
from derate.text.quantity import read_quantity

# Keys that say what it is about; whichever is written, any subject of the design may stand there.
SUBJECT_KEYS = {
    "part": "part it is about",
    "output": "output it is about",
    "barrier": "barrier it is about",
    "winding": "winding it is about",
    "transformer": "transformer it is about",
    "supply": "write supply",
    "between": "two circuits or windings it is about",
    "subject": "subject as derate lint prints it",
}
_SUBJECTS = ("part", "output", "winding", "transformer", "barrier", "point", "subject")
KEYS = {
    "rule": "rule whose finding it stands beside",
    "reason": "why it is accepted",
    "by": "who accepts it",
    "up_to": "greatest ratio it covers",
    "last_day": "last day it counts",
    "note": "a note",
}


class OpenPointRecord(NamedTuple):
    """What nobody has looked at yet, and why that is accepted until its last day. wrong: why it counts for nothing."""

    rule: str
    subject: str
    reason: str
    by: str
    last_day: date | None
    place: Place
    wrong: tuple[str, ...] = ()
    names: tuple[Name, ...] = ()
    rule_place: Place | None = None


class WaiverRecord(NamedTuple):
    """A fail that is accepted up to a ratio, until its last day. wrong: why it counts for nothing."""

    rule: str
    subject: str
    reason: str
    by: str
    last_day: date | None
    place: Place
    wrong: tuple[str, ...] = ()
    names: tuple[Name, ...] = ()
    rule_place: Place | None = None
    up_to: float | None = None


class _Signed(Form):
    """A list of entries, or one."""

    has_names = True
    needed: tuple[str, ...] = ()

    def names(self, value: tuple[Any, ...]) -> Iterator[Name]:
        """What they are about."""
        for one in value:
            yield from one.names

    def schema(self) -> Schema:
        """One or a list."""
        text: Schema = {"type": ["string", "number"]}
        either = {"anyOf": [text, {"type": "array", "items": text, "minItems": 2, "maxItems": 2}]}
        properties: Schema = {key: {**text, "description": KEYS[key]} for key in (*self.needed, "note")}
        properties |= {key: {**either, "description": says} for key, says in SUBJECT_KEYS.items()}
        one = {"type": "object", "properties": properties, "additionalProperties": False}
        return {"anyOf": [{"type": "array", "items": one}, one]}

    def written(self) -> str:
        """Its keys."""
        return f"a list of blocks: {', '.join(self.needed)}, and one of {', '.join(SUBJECT_KEYS)}"


class Waivers(_Signed):
    """The waivers of a design."""

    needed = ("rule", "reason", "by", "up_to", "last_day")

    def read(self, node: Node, problems: list[Problem]) -> tuple[WaiverRecord, ...]:
        """Every one, whole or not."""
        found = []
        for item in _items(node):
            draft = _Draft(item, self.needed)
            up_to, text = None, draft.words.get("up_to", "")
            if text:
                try:
                    value = read_quantity(text, item.place, NUMBER).value
                except ReadingError:
                    value = None
                if isinstance(value, Value) and value.is_exact:
                    up_to = value.near
                else:
                    draft.wrong.append(f"up_to is a ratio such as 1.3, not '{text[:40]}'")
            found.append(WaiverRecord(*draft.common())._replace(up_to=up_to))
        return tuple(found)


class OpenPoints(_Signed):
    """The open points of a design."""

    needed = ("rule", "reason", "by", "last_day")

    def read(self, node: Node, problems: list[Problem]) -> tuple[OpenPointRecord, ...]:
        """Every one, whole or not."""
        return tuple(OpenPointRecord(*_Draft(item, self.needed).common()) for item in _items(node))


def _items(node: Node) -> list[Node]:
    return list(node.items) if isinstance(node, Sequence) else [node]


class _Draft:
    """One entry as far as it can be read."""

    def __init__(self, item: Node, needed: tuple[str, ...]) -> None:
        self.words: dict[str, str] = {}
        self.wrong: list[str] = []
        self.subject = ""
        self.last_day: date | None = None
        self.place = item.place
        self.rule_place: Place | None = None
        self.names: list[Name] = []
        if not isinstance(item, Mapping):
            self.wrong.append("this is no block of keys")
            return
        for key, value in item.entries:
            self._take(key.text, value, needed)
        for name in needed:
            if not self.words.get(name):
                self.wrong.append(f"{name} is missing")
        day = self.words.get("last_day", "")
        if day:
            self.last_day = _day(day)
            if self.last_day is None:
                self.wrong.append(f"last_day is a date such as 2027-06-30, not '{day[:40]}'")

    def _take(self, name: str, value: Node, needed: tuple[str, ...]) -> None:
        if isinstance(value, Sequence) and name in SUBJECT_KEYS:
            items = [each for each in value.items if isinstance(each, Scalar)]
            self.subject = " – ".join(each.text for each in items)
            self.names += [Name.at(each.text, each.start, _SUBJECTS) for each in items]
        elif not isinstance(value, Scalar):
            self.wrong.append(f"{name} is one text on one line")
        elif name in SUBJECT_KEYS:
            self.subject = value.text
            # A subject as printed may be a reading or a test: whether a rule looked at it is told beside the review.
            self.names += [Name.at(value.text, value.start, _SUBJECTS)] if name != "subject" else []
        elif name in needed or name == "note":
            self.words[name] = value.text.strip()
            if name == "rule":
                self.rule_place = value.start
        else:
            self.wrong.append(f"'{name[:40]}' is not known here")

    def common(self) -> tuple[Any, ...]:
        """What waivers and open points share, in their order."""
        said = (self.words.get(name, "") for name in ("reason", "by"))
        return (
            self.words.get("rule", ""),
            self.subject,
            *said,
            self.last_day,
            self.place,
            tuple(self.wrong),
            tuple(self.names),
            self.rule_place,
        )


def _day(text: str) -> date | None:
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
