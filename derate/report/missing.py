"""The facts that findings wait for: which, how many findings wait, how somebody gets them. Most wanted first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from derate.judge.review import Finding, Review
from derate.report.gather import wanted
from derate.report.plain import padded, plain, wrapped
from derate.report.words import number_of, quantity_words
from derate.terms.vocabulary import VOCABULARY


@dataclass(frozen=True, slots=True)
class Wanted:
    """One fact: whose, its name in the vocabulary ('' when it is none), and the findings that wait for it."""

    subject: str
    name: str
    text: str
    findings: tuple[Finding, ...]

    @property
    def blocking(self) -> int:
        """How many of them block."""
        return sum(finding.blocks for finding in self.findings)

    @property
    def how(self) -> str:
        """How a person gets it; empty when nobody wrote that down."""
        return VOCABULARY[self.name].how if self.name else ""


def missing_facts(review: Review) -> tuple[Wanted, ...]:
    """Every fact that a finding which is not assessed names, the most wanted first."""
    open_ones = [one for one in review.findings if one.verdict == "not assessed" and one.missing]
    made = []
    for fact in wanted(open_ones):
        subject, _, name = fact.rpartition(": ")
        known = name in VOCABULARY
        waiting = tuple(one for one in open_ones if fact in one.missing)
        made.append(Wanted(subject if known else "", name if known else "", fact, waiting))
    return tuple(made)


def missing_lines(reviews: Iterable[Review], width: int | None) -> Iterator[str]:
    """The facts of every review. width: columns to wrap at, None for one fact a line."""
    for number, review in enumerate(reviews):
        facts = missing_facts(review)
        if width is None:
            yield from (_line(fact, plain(review.path)) for fact in facts)
            yield f"{plain(review.path)}: {number_of(len(facts), 'fact')} missing"
            continue
        if number:
            yield ""
        yield from wrapped(f"{plain(review.name)}: {number_of(len(facts), 'fact')} that findings wait for", width)
        for fact in facts:
            yield ""
            yield from wrapped(f"{_words(fact)}  ({_count(fact)})", width, "  ", "    ")
            if fact.name:
                where = f"{plain(fact.subject)}: {fact.name}" if fact.subject not in ("", "supply") else fact.name
                yield from wrapped(where, width, padded("", 6), padded("", 6))
            if fact.how:
                yield from wrapped(fact.how, width, padded("", 6), padded("", 6))


def _words(fact: Wanted) -> str:
    if not fact.name:
        return plain(fact.text)
    words = quantity_words(fact.name)
    return words if fact.subject in ("", "supply") else f"{plain(fact.subject)}: {words}"


def _count(fact: Wanted) -> str:
    waits = "waits" if len(fact.findings) == 1 else "wait"
    blocking = f", {fact.blocking} blocking" if fact.blocking else ""
    return f"{number_of(len(fact.findings), 'finding')} {waits}{blocking}"


def _line(fact: Wanted, path: str) -> str:
    name = f" ({fact.name})" if fact.name else ""
    how = f": {fact.how}" if fact.how else ""
    return f"{path}: missing: {_words(fact)}{name}{how}; {_count(fact)}"
