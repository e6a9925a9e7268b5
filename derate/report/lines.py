"""Findings for a pipe: one a line, `path:line:column: verdict: message`, never wrapped, no library needed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from derate.judge.review import Finding, Review
from derate.report.foot import (
    accepted_words,
    acknowledgement_words,
    blocking_words,
    family_lines,
    hazard_list,
    placed_notes,
    used_words,
)
from derate.report.gather import gathered_words, groups
from derate.report.plain import plain
from derate.report.words import CAUTION, counts_words


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


def _design(review: Review, verbose: bool) -> Iterator[str]:
    path = plain(review.path)
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
    yield f"{path}: {counts_words(review.counts)}{f'; {accepted}' if accepted else ''}; {used_words(review)}"


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
