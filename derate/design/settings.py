"""What a house sets and its people sign: settings of a repository, waivers, open points."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any, Literal

from derate.design.plain_forms import Word, formed
from derate.design.record import Form, Name, Record, Schema
from derate.terms.dimension import NUMBER
from derate.terms.instructions import papers
from derate.terms.tuples import NamedTuple
from derate.terms.values import Place, Problem, ReadingError, Value, nearest
from derate.terms.words import LEVELS, LONGEST_DAYS, WAIVABLE, Hazard, Level
from derate.text.files import leads_out
from derate.text.nodes import Mapping, Node, Scalar, Sequence, compose, read_text
from derate.text.quantity import read_quantity

# The settings of a repository: one small file `.derate.yaml` at its root.
#
#     packs: [commercial-practice, rules/house.yaml]
#     stop_at: marginal
#     longest_days: 180
#     critical_waivers: [fire]
#
# The root is the folder that holds `.git`; without a repository it is the folder of the design. The root's file
# rules. One in a folder between the root and the design may ask more and never less, else it is an error: a harder
# level, fewer days, fewer hazards, packs added to all others. Packs named at the root are used besides those of the
# design.


NAME = ".derate.yaml"


class PackList(Form):
    """Names or paths of packs, one or a list."""

    says = "rule packs used besides those of the design"

    def read(self, node: Node, problems: list[Problem]) -> tuple[Scalar, ...]:
        """Each with its place; they are looked for when the packs are loaded."""
        items = node.items if isinstance(node, Sequence) else (node,)
        good = tuple(item for item in items if isinstance(item, Scalar) and item.text)
        if len(good) != len(items):
            problems.append(Problem(node.place, "packs is a list of names or paths", "write packs: [one, two]"))
        return good

    def schema(self) -> Schema:
        """One or a list."""
        return {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}

    def written(self) -> str:
        """As typed."""
        return "names or paths"


class LibraryList(PackList):
    """Files or folders of libraries of parts, one or a list."""

    says = "libraries of parts beside those found by themselves"

    def read(self, node: Node, problems: list[Problem]) -> tuple[Scalar, ...]:
        """Each with its place; they are looked for when a design names a part of one."""
        items = node.items if isinstance(node, Sequence) else (node,)
        good = tuple(item for item in items if isinstance(item, Scalar) and item.text)
        if len(good) != len(items):
            what = "libraries is a list of files or folders"
            problems.append(Problem(node.place, what, "write libraries: [house/parts]"))
        return good

    def written(self) -> str:
        """As typed."""
        return "paths from here"


class StopForm(Word):
    """The least level that stops a commit."""

    def read(self, node: Node, problems: list[Problem]) -> str | None:
        """The level."""
        text = node.text if isinstance(node, Scalar) else ""
        if text in self.words:
            return text
        close = nearest(text, self.words)
        instead = f"write {close}" if close else f"write one of {', '.join(self.words)}"
        problems.append(Problem(node.place, f"'{text[:40]}' is no level to stop at", instead))
        return None


class DaysForm(Form):
    """A whole number of days, 1 or more."""

    says = "whole number of days, 1 or more"

    def read(self, node: Node, problems: list[Problem]) -> int | None:
        """The number."""
        text = node.text if isinstance(node, Scalar) else ""
        if text.isascii() and text.isdigit() and 0 < len(text) < 6 and int(text) > 0:
            return int(text)
        problems.append(Problem(node.place, f"'{text[:40]}' is no number of days", "write longest_days: 366"))
        return None

    def schema(self) -> Schema:
        """A whole number."""
        return {"type": "integer", "minimum": 1}

    def written(self) -> str:
        """As typed."""
        return "days"


class HazardList(Form):
    """Hazards, one or a list."""

    says = "hazards whose critical fails may be waived"

    def read(self, node: Node, problems: list[Problem]) -> tuple[Hazard, ...]:
        """Each once, in the order of the closed list."""
        items = node.items if isinstance(node, Sequence) else (node,)
        found = set()
        for item in items:
            text = item.text if isinstance(item, Scalar) else ""
            if text in WAIVABLE:
                found.add(text)
            else:
                what = f"'{text[:40]}' is no hazard that asks for this"
                problems.append(Problem(item.place, what, f"write one of {', '.join(WAIVABLE)}"))
        return tuple(one for one in WAIVABLE if one in found)

    def schema(self) -> Schema:
        """One or a list."""
        one: Schema = {"type": "string", "enum": list(WAIVABLE)}
        return {"anyOf": [one, {"type": "array", "items": one}]}

    def written(self) -> str:
        """The words."""
        return ", ".join(WAIVABLE)


class SettingsFile(Record):
    """What a repository asks for, in a file of its own at its root."""

    packs: tuple[Scalar, ...] = formed(
        PackList(),
        how=papers("derate rules lists the shipped ones"),
        example="[commercial-practice, rules/house.yaml]",
        default=(),
    )
    libraries: tuple[Scalar, ...] = formed(
        LibraryList(),
        how=papers("files that end in .parts.yaml, or folders with such"),
        example="[house/parts]",
        default=(),
    )
    stop_at: Level | None = formed(
        StopForm(LEVELS, "level to stop at"), how=papers("the least that is to stop a commit")
    )
    longest_days: int | None = formed(
        DaysForm(),
        how=papers(f"how far ahead a last day may lie; {LONGEST_DAYS} where nothing is said"),
        example="180",
        default=None,
    )
    critical_waivers: tuple[Hazard, ...] | None = formed(
        HazardList(), how=papers("none where nothing is said"), example="[fire]", default=None
    )

    @classmethod
    def unknown(cls, key: Scalar) -> Problem:
        """The error for a key that is none."""
        close = nearest(key.text, cls.fields)
        instead = f"write {close}" if close else f"there are {', '.join(cls.fields)}"
        return Problem(key.place, f"'{key.text[:40]}' is no setting", instead)


class Settings(NamedTuple):
    """What holds for a design: the root's file, tightened by those of folders between it and the design.

    path: the root's file, '' when there is none; packs: those it names; stop_at: '' when nobody says
    longest_days: how far ahead a last day may lie [days]; critical_waivers: hazards whose critical fails may be waived
    libraries: of parts, files or folders that it names
    below: the files of folders below the root, from the root downwards, each as it was read
    """

    path: str = ""
    packs: tuple[Scalar, ...] = ()
    stop_at: Level | Literal[""] = ""
    longest_days: int = LONGEST_DAYS
    critical_waivers: tuple[Hazard, ...] = ()
    below: tuple[Below, ...] = ()
    stop_at_from: str = ""
    libraries: tuple[Scalar, ...] = ()

    @property
    def paths(self) -> tuple[str, ...]:
        """Every file that was read."""
        return tuple(one for one in (self.path, *(each.path for each in self.below)) if one)


class Below(NamedTuple):
    """The settings of a folder below the root: its file, and the packs and libraries that it adds."""

    path: str
    packs: tuple[Scalar, ...]
    libraries: tuple[Scalar, ...] = ()


def settings_files(design: str) -> tuple[str, ...]:
    """The settings files that hold for a design, from the root downwards, whatever is in them."""
    return tuple(_on_the_way(design)[1])


def _on_the_way(design: str) -> tuple[Path, list[str]]:
    """The root of the repository of a design, its folder where there is none, and the settings from there to it."""
    folder = Path(design).resolve().parent
    upwards = [folder, *folder.parents]
    root = next((number for number, one in enumerate(upwards) if (one / ".git").exists()), 0)
    # A file that is there and is none to be read (a pipe, a link that leads nowhere) is an error, never no settings.
    files = [str(file) for one in reversed(upwards[: root + 1]) if os.path.lexists(file := one / NAME)]
    return upwards[root], files


def find_settings(design: str) -> Settings:
    """The settings that hold for a design. Raises ReadingError when one cannot be read or asks less than the root."""
    root, files = _on_the_way(design)
    found = Settings()
    problems: list[Problem] = []
    for path in files:
        try:
            if leads_out(path, str(root)):
                what = "these settings are a link that leads out of the repository"
                raise ReadingError([Problem(Place(path), what, "put the file itself there")])
            if path == str(root / NAME):
                found = read_settings(read_text(path), path)
            else:
                own = SettingsFile.read(compose(read_text(path), path, only=True), problems)
                found = _tightened(found, own, path, problems)
        except ReadingError as error:
            problems += error.problems
    if problems:
        raise ReadingError(problems)
    return found


def _tightened(above: Settings, file: SettingsFile, path: str, problems: list[Problem]) -> Settings:
    """The settings with those of a folder below; what asks less is a problem."""
    level: Level = above.stop_at or "default"
    if file.stop_at is not None:
        if LEVELS.index(file.stop_at) < LEVELS.index(level):
            problems.append(_kinder(path, "stop_at", file.stop_at, level))
        else:
            level, above = file.stop_at, above._replace(stop_at=file.stop_at, stop_at_from=path)
    if file.longest_days is not None:
        if file.longest_days > above.longest_days:
            problems.append(_kinder(path, "longest_days", str(file.longest_days), str(above.longest_days)))
        above = above._replace(longest_days=min(file.longest_days, above.longest_days))
    if file.critical_waivers is not None:
        if not set(file.critical_waivers) <= set(above.critical_waivers):
            held = ", ".join(above.critical_waivers) or "none"
            problems.append(_kinder(path, "critical_waivers", ", ".join(file.critical_waivers), held))
        above = above._replace(
            critical_waivers=tuple(one for one in above.critical_waivers if one in file.critical_waivers)
        )
    return above._replace(below=(*above.below, Below(path, file.packs, file.libraries)))


def _kinder(path: str, key: str, given: str, held: str) -> Problem:
    what = f"{key}: {given} asks less than the settings above, which say {held}"
    return Problem(Place(path), what, "a folder below the root may only ask more; change the file at the root")


def read_settings(text: str, path: str) -> Settings:
    """Settings of a root from their text. Raises ReadingError with every problem found."""
    problems: list[Problem] = []
    file = SettingsFile.read(compose(text, path, only=True), problems)
    if problems:
        raise ReadingError(problems)
    days = LONGEST_DAYS if file.longest_days is None else file.longest_days
    level: Level | Literal[""] = file.stop_at or ""
    return Settings(
        path, file.packs, level, days, file.critical_waivers or (), (), path if level else "", file.libraries
    )


# Waivers and open points as written: malformed ones are kept with what is wrong, and count for nothing.
#
# A name in one is another matter: somebody signed for a part that this design does not have, so it is refused like
# any other name that does not resolve. The rule is looked for once the packs are loaded.


# Keys that say what it is about; whichever is written, any subject of the design may stand there.
SUBJECT_KEYS = {
    "part": "part it is about",
    "output": "output it is about",
    "port": "port it is about",
    "barrier": "barrier it is about",
    "winding": "winding it is about",
    "transformer": "transformer it is about",
    "supply": "write supply",
    "between": "two circuits or windings it is about",
    "subject": "subject as derate lint prints it",
}
_SUBJECTS = ("part", "output", "port", "winding", "transformer", "barrier", "point", "subject")
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
