"""The settings of a repository: one small file `.derate.yaml` at its root.

    packs: [commercial-practice, rules/house.yaml]
    stop_at: marginal

It is looked for from the design upwards as far as the folder that holds `.git`; without a repository only beside the
design. Packs named here are used besides those a design names itself.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import NamedTuple

from derate.design.plain_forms import Word, formed
from derate.design.record import Form, Record, Schema
from derate.terms.values import Problem, ReadingError, nearest
from derate.text.nodes import Node, Scalar, Sequence, compose, read_text

NAME = ".derate.yaml"
STOPS = ("fail", "not-assessed", "marginal")


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


class SettingsFile(Record):
    """What a repository asks for, in a file of its own at its root."""

    packs: tuple[Scalar, ...] = formed(
        PackList(),
        how="derate rules lists the shipped ones",
        example="[commercial-practice, rules/house.yaml]",
        default=(),
    )
    stop_at: str | None = formed(StopForm(STOPS, "level to stop at"), how="the least that is to stop a commit")

    @classmethod
    def unknown(cls, key: Scalar) -> Problem:
        """The error for a key that is none."""
        close = nearest(key.text, cls.fields)
        instead = f"write {close}" if close else f"there are {' and '.join(cls.fields)}"
        return Problem(key.place, f"'{key.text[:40]}' is no setting", instead)


class Settings(NamedTuple):
    """What a repository asks for. path: the file, '' when there is none; stop_at: '' when it does not say."""

    path: str = ""
    packs: tuple[Scalar, ...] = ()
    stop_at: str = ""


def find_settings(design: str) -> Settings:
    """The settings that hold for a design. Raises ReadingError when the file cannot be read."""
    folder = Path(design).resolve().parent
    upwards = [folder, *folder.parents]
    root = next((number for number, one in enumerate(upwards) if (one / ".git").exists()), 0)
    for one in upwards[: root + 1]:
        path = one / NAME
        if path.is_file():
            return read_settings(read_text(str(path)), str(path))
    return Settings()


def read_settings(text: str, path: str) -> Settings:
    """Settings from their text. Raises ReadingError with every problem found."""
    problems: list[Problem] = []
    file = SettingsFile.read(compose(text, path, only=True), problems)
    if problems:
        raise ReadingError(problems)
    return Settings(path, file.packs, file.stop_at or "")


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
