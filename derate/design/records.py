"""Waivers and open points as written: malformed ones are kept with what is wrong, and count for nothing."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import date

from derate.terms.dimension import NUMBER
from derate.terms.place import Place, ReadingError
from derate.terms.values import Value
from derate.text.nodes import Mapping, Node, Scalar, Sequence
from derate.text.quantity import read_quantity

_SUBJECT_KEYS = ("part", "output", "barrier", "winding", "transformer", "supply", "between", "subject")


@dataclass(frozen=True, slots=True)
class _Record:
    rule: str
    subject: str
    reason: str
    by: str
    last_day: date | None
    place: Place
    wrong: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class OpenPointRecord(_Record):
    """An open point: what nobody has looked at yet, and why that is accepted until its last day."""


@dataclass(frozen=True, slots=True)
class WaiverRecord(_Record):
    """A waiver: a fail accepted up to a ratio, until its last day."""

    up_to: float | None = None


@dataclass(slots=True)
class _Draft:
    words: dict[str, str] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)
    subject: str = ""
    last_day: date | None = None


def read_waivers(node: Node | None) -> tuple[WaiverRecord, ...]:
    """The waivers of a design."""
    found = []
    for item in _items(node):
        draft = _draft(item, ("rule", "reason", "by", "up_to", "last_day"))
        up_to: float | None = None
        text = draft.words.get("up_to", "")
        if text:
            try:
                value = read_quantity(text, item.place, NUMBER).value
            except ReadingError:
                value = None
            if isinstance(value, Value) and value.is_exact:
                up_to = value.near
            else:
                draft.wrong.append(f"up_to is a ratio such as 1.3, not '{text[:40]}'")
        found.append(
            WaiverRecord(
                draft.words.get("rule", ""),
                draft.subject,
                draft.words.get("reason", ""),
                draft.words.get("by", ""),
                draft.last_day,
                item.place,
                tuple(draft.wrong),
                up_to,
            )
        )
    return tuple(found)


def read_open_points(node: Node | None) -> tuple[OpenPointRecord, ...]:
    """The open points of a design."""
    found = []
    for item in _items(node):
        draft = _draft(item, ("rule", "reason", "by", "last_day"))
        found.append(
            OpenPointRecord(
                draft.words.get("rule", ""),
                draft.subject,
                draft.words.get("reason", ""),
                draft.words.get("by", ""),
                draft.last_day,
                item.place,
                tuple(draft.wrong),
            )
        )
    return tuple(found)


def _items(node: Node | None) -> list[Node]:
    if node is None:
        return []
    return list(node.items) if isinstance(node, Sequence) else [node]


def _draft(item: Node, needed: tuple[str, ...]) -> _Draft:
    draft = _Draft()
    if not isinstance(item, Mapping):
        draft.wrong.append("this is no block of keys")
        return draft
    for key, value in item.entries:
        name = key.text
        if isinstance(value, Sequence) and name in _SUBJECT_KEYS:
            draft.subject = " – ".join(each.text for each in value.items if isinstance(each, Scalar))
        elif not isinstance(value, Scalar):
            draft.wrong.append(f"{name} is one text on one line")
        elif name in _SUBJECT_KEYS:
            draft.subject = value.text
        elif name in needed or name == "note":
            draft.words[name] = value.text.strip()
        else:
            draft.wrong.append(f"'{name[:40]}' is not known here")
    for name in needed:
        if not draft.words.get(name):
            draft.wrong.append(f"{name} is missing")
    day = draft.words.get("last_day", "")
    if day:
        draft.last_day = _day(day)
        if draft.last_day is None:
            draft.wrong.append(f"last_day is a date such as 2027-06-30, not '{day[:40]}'")
    return draft


def _day(text: str) -> date | None:
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
