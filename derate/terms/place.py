"""Where something stands in a file, and what is wrong there.

Place: path, line and column, counted from one, columns in characters.
Problem: one thing wrong, with what to write instead.
ReadingError: the one error type that readers raise; it carries every problem found.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple


class Place(NamedTuple):
    """A position in a text file: path as given, line and column from one, columns in characters."""

    path: str
    line: int = 1
    column: int = 1

    def __str__(self) -> str:
        return f"{self.path}:{self.line}:{self.column}"


class Problem(NamedTuple):
    """One thing wrong at one place: what, and what to write instead (empty when the first says it all)."""

    place: Place
    what: str
    instead: str = ""

    def __str__(self) -> str:
        return f"{self.place}: {self.what}" + (f"; {self.instead}" if self.instead else "")


class ReadingError(Exception):
    """A command line, design or pack that could not be read: every problem found, in file order."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(set(problems)))
        super().__init__("\n".join(str(problem) for problem in self.problems))


def nearest(word: str, words: Iterable[str], alike: float = 0.6) -> str | None:
    """Return the known word closest to a mistyped one, or None when nothing is close."""
    from difflib import get_close_matches  # only ever needed to word an error

    found = get_close_matches(word, list(words), n=1, cutoff=alike)
    return found[0] if found else None
