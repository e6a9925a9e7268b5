"""What to find out next, in words: the fact, how somebody gets it, what it settles, from which value it would pass."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Protocol

from derate.judge.review import Finding
from derate.ledger.entry import Subject
from derate.report.plain import padded, plain, wrapped
from derate.report.words import number_of, quantity_words
from derate.terms.values import Curve, Known
from derate.terms.vocabulary import DIMENSIONS, VOCABULARY
from derate.terms.words import SEVERITIES
from derate.text.units import show


class Threshold(Protocol):
    """From where it passes: a number in SI units; down where less is better."""

    @property
    def number(self) -> float:
        """The value."""

    @property
    def down(self) -> bool:
        """Whether it has to be at most this."""


class Missing(Protocol):
    """One fact nobody gave, as `derate.study.missing` ranks them."""

    @property
    def text(self) -> str:
        """As findings name it."""

    @property
    def subject(self) -> Subject | None:
        """Whose fact."""

    @property
    def name(self) -> str:
        """Its name in the vocabulary."""

    @property
    def waiting(self) -> tuple[Finding, ...]:
        """Findings that name it."""

    @property
    def settles(self) -> tuple[Finding, ...]:
        """Findings that get a verdict by it alone."""

    @property
    def kind(self) -> Known | None:
        """The value it was tried with."""

    @property
    def threshold(self) -> Threshold | None:
        """From where it passes."""

    @property
    def words(self) -> tuple[str, ...]:
        """Words with which it passes."""


class Assumed(Protocol):
    """One assumed fact, as `derate.study.missing` ranks them."""

    @property
    def text(self) -> str:
        """As findings name it."""

    @property
    def subject(self) -> Subject | None:
        """Whose fact."""

    @property
    def name(self) -> str:
        """Its name in the vocabulary."""

    @property
    def held_back(self) -> tuple[Finding, ...]:
        """Findings whose pass is held back because of it."""

    @property
    def differ(self) -> tuple[Finding, ...]:
        """Findings that come out differently at the two ends of what is assumed."""


def missing_lines(
    path: str, name: str, facts: Sequence[Missing], assumed: Sequence[Assumed], width: int | None
) -> Iterator[str]:
    """The facts of one design. width: columns to wrap at, None for one fact a line."""
    shown = [one for one in assumed if one.held_back or one.differ]
    if width is None:
        for fact in facts:
            how = f": {how_of(fact.name)}" if how_of(fact.name) else ""
            yield f"{plain(path)}: missing: {_head(fact)}{how}; {_settles(fact)}{_passes(fact, '; ')}"
        for one in shown:
            yield f"{plain(path)}: assumed: {_head(one)}; {_depends(one)}"
        yield f"{plain(path)}: {number_of(len(facts), 'fact')} missing, {len(shown)} assumed"
        return
    yield from wrapped(
        f"{plain(name)}: {number_of(len(facts), 'fact')} that findings wait for, the one that settles most first", width
    )
    for number, fact in enumerate(facts, 1):
        yield ""
        yield from wrapped(f"{number}. {_head(fact)}", width, "  ", "     ")
        indent = padded("", 5)
        for text in (how_of(fact.name), f"{_settles(fact)}{_passes(fact, '; ')}"):
            if text:
                yield from wrapped(text, width, indent, indent)
    if shown:
        yield ""
        yield from wrapped("Assumed until somebody looks, those on which most depends first:", width)
        for one in shown:
            yield from wrapped(f"{_head(one)}: {_depends(one)}", width, "  ", "     ")


def how_of(name: str) -> str:
    """How somebody gets a fact; empty when nobody wrote that down."""
    return VOCABULARY[name].how if name in VOCABULARY else ""


def _head(fact: Missing | Assumed) -> str:
    if not fact.name:
        return plain(fact.text)
    words = quantity_words(fact.name)
    whose = str(fact.subject) if fact.subject is not None else ""
    return f"{words} ({fact.name})" if whose in ("", "supply") else f"{plain(whose)}: {words} ({fact.name})"


def _settles(fact: Missing) -> str:
    waits = f"{number_of(len(fact.waiting), 'finding')} {'waits' if len(fact.waiting) == 1 else 'wait'}"
    if not fact.settles:
        return f"{waits}, none settled by this alone"
    heavy = [f"{count} {word}" for word in SEVERITIES
             if (count := sum(one.severity == word for one in fact.settles))]  # fmt: skip
    return f"{waits}, settles {', '.join(heavy)}"


def _passes(fact: Missing, joint: str) -> str:
    if fact.threshold is not None:
        dimension = DIMENSIONS[fact.name]
        at = ""
        if isinstance(fact.kind, Curve) and len(fact.kind.points) == 1:
            at = f" at {show(fact.kind.points[0][0], fact.kind.condition)}"
        end = "or less" if fact.threshold.down else "or more"
        return f"{joint}passes from {show(fact.threshold.number, dimension)}{at} {end}"
    if fact.words:
        return f"{joint}passes with {' or '.join(plain(one) for one in fact.words)}"
    return ""


def _depends(one: Assumed) -> str:
    pieces = []
    if one.differ:
        differs = "differs" if len(one.differ) == 1 else "differ"
        pieces.append(f"{number_of(len(one.differ), 'verdict')} {differs} over what is assumed")
    if one.held_back:
        pieces.append(f"holds back {number_of(len(one.held_back), 'pass', 'passes')}")
    how = how_of(one.name)
    return ", ".join(pieces) + (f". {how[:1].upper()}{how[1:]}" if how else "")
