"""What could not be read: `path:line:column: error: what; instead`, and for people the line with a caret under it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from derate.report.plain import cells, plain
from derate.terms.place import Problem

_WIDTH = 78
NOWHERE = ("", "command line")  # places that are in no file


def problem_lines(
    problems: Iterable[Problem], quote: bool = False, source: Callable[[str], str | None] | None = None
) -> Iterator[str]:
    """One line a problem; with `quote`, the line of the file and a caret below it.

    source: gives the text of a file by its path, or None when it cannot be had.
    """
    texts: dict[str, list[str] | None] = {}
    for problem in problems:
        place = problem.place
        instead = f"; {plain(problem.instead)}" if problem.instead else ""
        where = plain(place.path or "derate")
        if place.path not in NOWHERE:
            where += f":{place.line}:{place.column}"
        yield f"{where}: error: {plain(problem.what)}{instead}"
        if not quote or source is None or place.path in NOWHERE:
            continue
        if place.path not in texts:
            text = source(place.path)
            texts[place.path] = None if text is None else text.split("\n")
        lines = texts[place.path]
        if lines is not None and 0 < place.line <= len(lines):
            yield from _quoted(lines[place.line - 1], place.column)


def _quoted(line: str, column: int) -> Iterator[str]:
    line = line.rstrip("\r")
    if not line.strip() or column < 1:
        return
    # a window of the line around the column; a long line is cut at both ends
    first = max(0, min(column - 1 - _WIDTH // 2, len(line) - _WIDTH))
    window = line[first : first + _WIDTH]
    before = plain(line[first : column - 1])
    lead = "…" if first else ""
    yield f"    {lead}{plain(window)}{'…' if first + _WIDTH < len(line) else ''}"
    yield f"    {' ' * cells(lead + before)}^"
