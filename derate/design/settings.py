"""The settings of a repository: one small file `.derate.yaml` at its root.

    packs: [commercial-practice, rules/house.yaml]
    stop_at: marginal

It is looked for from the design upwards as far as the folder that holds `.git`; without a repository only beside the
design. Packs named here are used besides those a design names itself.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from derate.terms.place import Place, Problem, ReadingError, nearest
from derate.text.file import read_text
from derate.text.nodes import Mapping, Node, Scalar, Sequence, compose

NAME = ".derate.yaml"
STOPS = ("fail", "not-assessed", "marginal")
_KEYS = ("packs", "stop_at")


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
    node = compose(text, path, only=True)
    problems: list[Problem] = []
    packs: tuple[Scalar, ...] = ()
    stop_at = ""
    for key, value in node.entries:
        if key.text == "packs":
            packs = _scalars(value, problems)
        elif key.text == "stop_at":
            stop_at = _stop(value, problems)
        else:
            close = nearest(key.text, _KEYS)
            instead = f"write {close}" if close else f"there are {' and '.join(_KEYS)}"
            problems.append(Problem(key.place, f"'{key.text[:40]}' is no setting", instead))
    if problems:
        raise ReadingError(problems)
    return Settings(path, packs, stop_at)


def _scalars(node: Node, problems: list[Problem]) -> tuple[Scalar, ...]:
    items = node.items if isinstance(node, Sequence) else (node,)
    good = tuple(item for item in items if isinstance(item, Scalar) and item.text)
    if len(good) != len(items):
        problems.append(Problem(_place(node), "packs is a list of names or paths", "write packs: [one, two]"))
    return good


def _stop(node: Node, problems: list[Problem]) -> str:
    word = node.text if isinstance(node, Scalar) else ""
    if word not in STOPS:
        close = nearest(word, STOPS)
        instead = f"write {close}" if close else f"write one of {', '.join(STOPS)}"
        problems.append(Problem(_place(node), f"'{word[:40]}' is no level to stop at", instead))
    return word


def _place(node: Node) -> Place:
    return node.place if isinstance(node, Scalar | Sequence | Mapping) else Place("")
