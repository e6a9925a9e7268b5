"""The settings of a repository: one small file `.derate.yaml` at its root.

    packs: [commercial-practice, rules/house.yaml]
    stop_at: marginal
    longest_days: 180
    critical_waivers: [fire]

The root is the folder that holds `.git`; without a repository it is the folder of the design. The root's file rules.
One in a folder between the root and the design may ask more and never less, else it is an error: a harder level, fewer
days, fewer hazards, packs added to all others. Packs named at the root are used besides those of the design.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Literal, NamedTuple

from derate.design.plain_forms import Word, formed
from derate.design.record import Form, Record, Schema
from derate.terms.values import Place, Problem, ReadingError, nearest
from derate.terms.words import LEVELS, LONGEST_DAYS, WAIVABLE, Hazard, Level
from derate.text.nodes import Node, Scalar, Sequence, compose, read_text

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
        how="derate rules lists the shipped ones",
        example="[commercial-practice, rules/house.yaml]",
        default=(),
    )
    stop_at: Level | None = formed(StopForm(LEVELS, "level to stop at"), how="the least that is to stop a commit")
    longest_days: int | None = formed(
        DaysForm(),
        how=f"how far ahead a last day may lie; {LONGEST_DAYS} where nothing is said",
        example="180",
        default=None,
    )
    critical_waivers: tuple[Hazard, ...] | None = formed(
        HazardList(), how="none where nothing is said", example="[fire]", default=None
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
    below: the files of folders below the root, from the root downwards, each as it was read
    """

    path: str = ""
    packs: tuple[Scalar, ...] = ()
    stop_at: Level | Literal[""] = ""
    longest_days: int = LONGEST_DAYS
    critical_waivers: tuple[Hazard, ...] = ()
    below: tuple[Below, ...] = ()
    stop_at_from: str = ""

    @property
    def paths(self) -> tuple[str, ...]:
        """Every file that was read."""
        return tuple(one for one in (self.path, *(each.path for each in self.below)) if one)


class Below(NamedTuple):
    """The settings of a folder below the root: its file, and the packs that it adds."""

    path: str
    packs: tuple[Scalar, ...]


def find_settings(design: str) -> Settings:
    """The settings that hold for a design. Raises ReadingError when one cannot be read or asks less than the root."""
    folder = Path(design).resolve().parent
    upwards = [folder, *folder.parents]
    root = next((number for number, one in enumerate(upwards) if (one / ".git").exists()), 0)
    files = [str(file) for one in reversed(upwards[: root + 1]) if (file := one / NAME).is_file()]
    found = Settings()
    problems: list[Problem] = []
    for path in files:
        try:
            if path == str(upwards[root] / NAME):
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
    return above._replace(below=(*above.below, Below(path, file.packs)))


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
    return Settings(path, file.packs, level, days, file.critical_waivers or (), (), path if level else "")


def leaves_repository(path: str, target: str) -> bool:
    """Whether a file lies outside the repository of the design (its folder, when there is no repository)."""
    folder = os.path.dirname(os.path.realpath(path))
    root = folder
    while not os.path.exists(os.path.join(root, ".git")):
        parent = os.path.dirname(root)
        if parent == root:
            root = folder
            break
        root = parent
    real = os.path.realpath(target)
    return os.path.commonpath([root, real]) != root
