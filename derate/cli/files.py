"""Which files a command takes: those named, and the designs of folders, in one order whatever was typed."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable

from derate.terms.place import Place, Problem, ReadingError
from derate.text.file import read_text

TAKEN = (
    "A file is read as a design whatever it is called. Of a folder every *.derate.yaml below it is taken and, if there "
    "is none, every *.yaml whose first block has the key `derate`; other files and hidden folders are left alone."
)
ENDINGS = (".derate.yaml", ".derate.yml")
_FIRST_DOCUMENT = re.compile(r"^---(?:[ \t].*)?$", re.MULTILINE)
_DESIGN = re.compile(r"""^(?:\{[ \t]*)?(["']?)derate\1[ \t]*:(?=[ \t\r\n]|\Z)""", re.MULTILINE)


def designs(paths: Iterable[str]) -> tuple[tuple[str, ...], tuple[Problem, ...]]:
    """The design files among paths, sorted, each once; and what is wrong with the paths."""
    problems: list[Problem] = []
    found: dict[str, str] = {}
    for path in paths:
        if os.path.isdir(path):
            inside = _inside(path, problems)
            if not inside and not problems:
                problems.append(
                    Problem(Place(path), "there is no design in this folder", "a design ends in .derate.yaml, or is a "
                            ".yaml file whose first key is derate")
                )  # fmt: skip
        else:
            inside = [path]
        for one in inside:
            found.setdefault(os.path.realpath(one), _as_named(one))
    return tuple(sorted(found.values())), tuple(problems)


def _as_named(path: str) -> str:
    """The path without a leading `./`, so that a record of known findings fits however the folder was typed."""
    while path.startswith("./") and len(path) > 2:
        path = path[2:].lstrip("/")
    return path


def _inside(folder: str, problems: list[Problem]) -> list[str]:
    """The designs below a folder."""

    def trouble(error: OSError) -> None:
        path = str(error.filename or folder)
        problems.append(Problem(Place(path), f"this folder could not be read ({error.strerror})", ""))

    files = []
    for here, folders, names in os.walk(folder, onerror=trouble):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        files += [os.path.join(here, name) for name in sorted(names) if not name.startswith(".")]
    named = [path for path in files if path.endswith(ENDINGS)]
    if named:
        return named
    return [path for path in files if path.endswith((".yaml", ".yml")) and is_design(path)]


def is_design(path: str) -> bool:
    """Whether the first document of a file has the key `derate` at its top; a broken file may still be a design."""
    try:
        text = read_text(path)
    except ReadingError:
        return False
    marks = [found.start() for found in _FIRST_DOCUMENT.finditer(text)]
    opened = [at for at in marks if text[:at].strip() and not _only_comments(text[:at])]
    return _DESIGN.search(text, 0, opened[0] if opened else len(text)) is not None


def _only_comments(text: str) -> bool:
    return all(not line.strip() or line.lstrip().startswith(("#", "%", "---")) for line in text.split("\n"))
