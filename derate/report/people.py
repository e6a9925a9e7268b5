"""A review for somebody at a terminal: what blocks first, by hazard; figures, limit, cure; then what was counted."""

from __future__ import annotations

from collections.abc import Iterable

from rich.text import Text

from derate.judge.judge import OWN
from derate.judge.review import Finding, Review
from derate.report.foot import (
    accepted_words,
    acknowledgement_words,
    blocking_words,
    family_lines,
    placed_notes,
    used_words,
)
from derate.report.gather import Group, body, gathered_words, groups
from derate.report.plain import plain
from derate.report.screen import STYLES, Screen, row
from derate.report.words import CAUTION, counts_words, fact_words, figure, listed, number_of, sides, times
from derate.terms.words import HAZARDS


def review_screen(
    reviews: Iterable[Review],
    width: int,
    colour: bool,
    drawn: bool = True,
    verbose: bool = False,
    unread: bool = False,
) -> str:
    """All reviews as the text of a screen `width` columns wide.

    drawn: the screen can show line-drawing characters; verbose: every finding one by one
    unread: something else could not be read, so that the exit status is 2 whatever is found here
    """
    screen = Screen(width, colour, drawn)
    every = tuple(reviews)
    for review in every:
        screen.blank()
        _design(screen, review, verbose)
    if every:
        screen.blank()
        blocking = unread or any(review.blocks for review in every)
        screen.line(blocking_words(every, unread), STYLES["fail" if blocking else "pass"])
        screen.line(CAUTION, "dim")
    return screen.text()


def _design(screen: Screen, review: Review, verbose: bool) -> None:
    screen.ends(Text(plain(review.name), "bold"), Text(plain(review.path), "dim"))
    screen.blank()
    parts = groups(review, verbose)
    for part in sorted(parts, key=lambda one: HAZARDS.index(one.hazard)):
        _overview(screen, part)
    for part in parts:
        if part.shown or part.gathered is not None:
            screen.blank()
            _hazard(screen, part, review.path)
    screen.blank()
    screen.hung("overall", review.overall, STYLES[review.overall])
    for line in family_lines(review):
        screen.hung("", line)
    screen.hung("counted", counts_words(review.counts))
    accepted = accepted_words(review)
    if accepted:
        screen.hung("accepted", accepted)
    screen.hung("used", used_words(review))
    for where, note in placed_notes(review):
        path = plain(review.path)
        line = where.removeprefix(f"{path}:").partition(":")[0]
        screen.hung("note", note if where == path else f"{f'line {line}' if line != where else where}: {note}")


def _overview(screen: Screen, part: Group) -> None:
    word = part.word.word if part.word is not None else "not assessed"
    why = part.word.why if part.word is not None else "no rule looked"
    said = [f"{number_of(part.blocking, 'finding')} blocking"] if part.blocking else []
    said += [why] if why else []
    columns = ((part.hazard, 14, "bold"), (word, 14, STYLES[word]), ("; ".join(said), 0, ""))
    screen.hung("", row(*columns), hang=0, indent=2)


def _hazard(screen: Screen, part: Group, path: str) -> None:
    word = part.word.word if part.word is not None else "not assessed"
    heading = Text(f"{part.hazard.capitalize()}: ", "bold")
    heading.append(word, STYLES[word])
    screen.line(heading)
    for finding in part.shown:
        screen.blank()
        if finding.verdict in ("pass", "not applicable"):
            _short(screen, finding)
        else:
            _finding(screen, finding, path)
    if part.gathered is not None:
        screen.blank()
        screen.hung("to find", gathered_words(part.gathered, path))


def _heading(screen: Screen, finding: Finding) -> None:
    left = Text(plain(str(finding.subject)), "bold")
    left.append(f"  {plain(finding.rule)}", "")
    right = Text(finding.verdict, STYLES[finding.verdict])
    right.append(f", {finding.severity}")
    if finding.blocks:
        right.append(", blocks")
    elif finding.known:
        right.append(", held back")
    screen.ends(left, right, indent=2)


def _short(screen: Screen, finding: Finding) -> None:
    _heading(screen, finding)
    screen.hung("", body(finding))


def _finding(screen: Screen, finding: Finding, path: str) -> None:
    _heading(screen, finding)
    screen.hung("", body(finding, rests=False))
    style = STYLES[finding.verdict]
    if finding.stress is not None and finding.limit is not None:
        named = sides(finding.stress, finding.limit, finding.ratio) if finding.ratio is not None else None
        screen.hung(named.first if named else "found", figure(finding.stress, finding.unit), style)
        screen.hung(named.second if named else "asked", figure(finding.limit, finding.unit))
        if finding.ratio is not None and named is not None:
            kindest = named.kindest if named.kindest is not None else finding.ratio
            drawn = screen.gauge(kindest, finding.ratio, style)
            drawn.append(f" {times(finding.ratio, named.second)}")
            screen.hung("", drawn)
    if finding.missing:
        screen.hung("to find", listed(fact_words(finding.missing), 8))
    if finding.rests_on:
        screen.hung("rests on", f"{listed(fact_words(finding.rests_on), 8)}: assumed")
    if finding.remedy:
        screen.hung("to settle" if finding.verdict == "not assessed" else "cure", finding.remedy)
    if finding.source:
        screen.hung("limit from" if finding.limit is not None else "asked by", basis_words(finding))
    where = f"line {finding.place.line}, column {finding.place.column}"
    if finding.place.path not in ("", path):  # a value of a file that the design revises
        where += f" of {finding.place.path}"
    if finding.entries:
        numbers = listed((str(number) for number in finding.entries), 6)
        where += f"; {'entry' if len(finding.entries) == 1 else 'entries'} {numbers} of derate stress"
    screen.hung("stands at", where, "dim")
    if finding.acknowledgement is not None:
        screen.hung("accepted", acknowledgement_words(finding.acknowledgement))


def basis_words(finding: Finding) -> str:
    """Where a limit comes from and how sure that is; a remembered one never passes for a published one."""
    source = plain(finding.source)
    if finding.confidence == "remembered" and "confirm" not in source:
        return f"remembered figure{f' for {source}' if source else ''}: confirm (pack {plain(finding.pack)})"
    if finding.pack == OWN:  # no rule made it, so there is no pack to name
        return source
    return f"{source} ({finding.confidence}; pack {plain(finding.pack)})"
