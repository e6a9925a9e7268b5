"""For a pipe: findings and what could not be read, one a line, `path:line:column: verdict: message`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator

from derate.judge.review import Finding, Review
from derate.report.brief import (
    MOST,
    blocking,
    files_words,
    left_words,
    next_words,
    rest_words,
    things,
    waiting_words,
    word_words,
)
from derate.report.gather import (
    SOFTER,
    accepted_words,
    acknowledgement_words,
    blocking_words,
    family_lines,
    gathered_words,
    groups,
    hazard_list,
    placed_notes,
    softer_lines,
    unused_line,
    used_words,
)
from derate.report.words import CAUTION, cells, counts_words, plain
from derate.terms.values import Problem
from derate.terms.words import Hazard

# What could not be read: `path:line:column: error: what; instead`, and for people the line with a caret under it.


_WIDTH = 74  # with its margin within 80 columns
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
        where = plain(place.path or "derate")
        if place.path not in NOWHERE:
            where += f":{place.line}:{place.column}"
        yield f"{where}: error: {problem_words(problem)}"
        if not quote or source is None or place.path in NOWHERE:
            continue
        if place.path not in texts:
            text = source(place.path)
            texts[place.path] = None if text is None else text.split("\n")
        lines = texts[place.path]
        if lines is not None and 0 < place.line <= len(lines):
            yield from _quoted(lines[place.line - 1], place.column)


def problem_words(problem: Problem) -> str:
    """What is wrong, and what to write instead."""
    return f"{plain(problem.what)}{f'; {plain(problem.instead)}' if problem.instead else ''}"


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


# Findings for a pipe: one a line, `path:line:column: verdict: message`, never wrapped, no library needed.


def review_lines(reviews: Iterable[Review], verbose: bool = False, unread: bool = False) -> Iterator[str]:
    """All lines: findings, then overall words and counts of each design, then the caution.

    Findings that wait for missing facts share one line a hazard, unless verbose; passes only when verbose.
    unread: something else could not be read, so that the exit status is 2 whatever is found here.
    """
    every = tuple(reviews)
    for review in every:
        yield from _design(review, verbose)
    if every:
        yield blocking_words(every, unread)
        yield CAUTION


def brief_lines(reviews: Iterable[Review], unread: bool = False) -> Iterator[str]:
    """What blocks, one finding a line, what only waits one line a hazard; then one line a design, last what blocks.

    Several designs share the room: what did not fit is counted, and fire and shock are never left out.
    unread: something else could not be read, so that the exit status is 2 whatever is found here.
    """
    every = tuple(reviews)
    room = MOST // len(every) if len(every) > 1 else 10_000
    for review in every:
        yield from _at_a_glance(review, room)
    if not every:
        return
    used = dict.fromkeys(map(used_words, every))
    if len(used) == 1:
        yield from used
    yield CAUTION
    worst = next((one for one in every if one.blocks), every[0])
    if len(every) == 1:
        yield from (f"{number}. {thing}" for number, thing in enumerate(things(worst), 1))
    yield f"next: {next_words(every)}"
    yield blocking_words(every, unread)
    yield from files_words(every)


def _at_a_glance(review: Review, room: int) -> Iterator[str]:
    path = plain(review.path)
    softer = softer_lines(review)
    if softer:
        yield f"{path}: {SOFTER}:"
        yield from (f"{path}: softer: {line}" for line in softer)
    left: Counter[Hazard] = Counter()
    for part in blocking(review):
        for finding in part.single:
            if part.never_cut or room > 0:
                room -= 1
                yield f"{_where(finding, path)}: {finding.verdict}: {message(finding)}"
            else:
                left[part.hazard] += 1
        if part.waiting and (part.never_cut or room > 0):
            room -= 1
            first = part.waiting[0]
            yield f"{_where(first, path)}: not assessed: {part.hazard}: {waiting_words(part, whole=True)}"
        else:
            left[part.hazard] += len(part.waiting)
    if left := +left:
        yield f"{path}: {left_words(left)}"
    yield from (f"{where}: note: {note}" for where, note in placed_notes(review))
    yield from (f"{path}: {line}" for line in family_lines(review))
    hazards = ", ".join(f"{word.hazard} {word_words(word).replace('; ', ' + ')}" for word in review.hazards)
    yield f"{path}: overall {review.overall}: {hazards}; {counts_words(review.counts)}; {rest_words(review)}"


def _design(review: Review, verbose: bool) -> Iterator[str]:
    path = plain(review.path)
    softer = softer_lines(review)
    if softer:
        yield f"{path}: {SOFTER}:"
        yield from (f"{path}: softer: {line}" for line in softer)
    for group in groups(review, verbose):
        for finding in group.shown:
            yield f"{_where(finding, path)}: {finding.verdict}: {message(finding)}"
        if group.gathered is not None:
            first = group.gathered.findings[0]
            yield f"{_where(first, path)}: not assessed: {group.hazard}: {gathered_words(group.gathered, path)}"
    yield from (f"{where}: note: {note}" for where, note in placed_notes(review))
    yield from (f"{path}: {line}" for line in family_lines(review))
    accepted = accepted_words(review)
    yield f"{path}: overall {review.overall}: {hazard_list(review.hazards)}"
    yield f"{path}: {counts_words(review.counts)}{f'; {accepted}' if accepted else ''}"
    for one in review.unused:
        where = f"{plain(one.place.path) or path}:{one.place.line}:{one.place.column}"
        yield f"{where}: {'unused' if one.is_fact else 'for the reader'}: {unused_line(one)}"
    yield f"{path}: {used_words(review)}"


def _where(finding: Finding, path: str) -> str:
    place = finding.place
    return f"{plain(place.path) or path}:{place.line}:{place.column}"


def message(finding: Finding) -> str:
    """One finding as one line: what, the cure, what it is accepted by, which rule."""
    parts = [plain(finding.message).rstrip()]
    if finding.remedy and finding.verdict in ("fail", "marginal", "not assessed"):
        parts[0] = parts[0].removesuffix(".") + "."
        remedy = plain(finding.remedy).rstrip()
        parts.append(remedy[:1].upper() + remedy[1:].removesuffix(".") + ".")
    if finding.acknowledgement is not None:
        parts.append(f"({acknowledgement_words(finding.acknowledgement)})")
    tail = [f"rule {plain(finding.rule)}", finding.severity]
    if finding.known:
        tail.append("known, held back")
    if finding.blocks:
        tail.append("blocks")
    parts.append(f"({', '.join(tail)})")
    return " ".join(part for part in parts if part)
