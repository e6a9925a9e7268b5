"""Findings put in the order in which somebody should read them, the unknowns gathered. Shared by the screen formats.

Nothing is judged here: which findings block and what the verdicts are stands in the review.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import NamedTuple

from derate.judge.review import Finding, HazardWord, Review
from derate.report.words import fact_words, listed, number_of
from derate.terms.words import HAZARDS, SEVERITIES, VERDICTS, Hazard


class Gathered(NamedTuple):
    """Findings of one hazard that are not assessed because facts are missing."""

    findings: tuple[Finding, ...]
    facts: tuple[str, ...]  # names of the facts, those that most findings wait for first

    @property
    def blocking(self) -> int:
        """How many of them block."""
        return sum(finding.blocks for finding in self.findings)


class Group(NamedTuple):
    """One hazard: its overall word, the findings shown one by one, those gathered, those that need no reading."""

    hazard: Hazard
    word: HazardWord | None
    shown: tuple[Finding, ...]
    gathered: Gathered | None
    quiet: tuple[Finding, ...]

    @property
    def blocking(self) -> int:
        """How many findings of this hazard block."""
        return sum(finding.blocks for finding in self.shown) + (self.gathered.blocking if self.gathered else 0)


def groups(review: Review, verbose: bool = False) -> tuple[Group, ...]:
    """The hazards of a review, those with something that blocks first; verbose shows every finding one by one."""
    words = {word.hazard: word for word in review.hazards}
    made = []
    for hazard in HAZARDS:
        findings = sorted((one for one in review.findings if one.hazard == hazard), key=_first)
        if not findings and hazard not in words:
            continue
        waiting, quiet, shown = [], [], []
        for one in findings:
            if _waits(one) and not verbose:
                waiting.append(one)
            elif one.verdict in ("pass", "not applicable") and not one.blocks:
                quiet.append(one)
            else:
                shown.append(one)
        if verbose:
            shown += quiet
        gathered = Gathered(tuple(waiting), wanted(waiting)) if waiting else None
        made.append(Group(hazard, words.get(hazard), tuple(shown), gathered, tuple(quiet)))
    return tuple(sorted(made, key=lambda group: (not group.blocking, HAZARDS.index(group.hazard))))


def _waits(finding: Finding) -> bool:
    """A range that is too wide has its two figures to show, and what somebody signed for has its reason."""
    waits = finding.verdict == "not assessed" and bool(finding.missing)
    return waits and finding.stress is None and finding.acknowledgement is None


def _first(finding: Finding) -> tuple[bool, bool, int, int]:
    """Sort key: blocking, then not held back, then by verdict and severity; ties stay in the order of the review."""
    severity = SEVERITIES.index(finding.severity)
    return not finding.blocks, finding.known, VERDICTS.index(finding.verdict), severity


def wanted(findings: Iterable[Finding]) -> tuple[str, ...]:
    """Names of the missing facts, those that most findings wait for first, critical findings before the others."""
    weight: Counter[str] = Counter()
    for finding in findings:
        for fact in dict.fromkeys(finding.missing):
            weight[fact] += 3 - SEVERITIES.index(finding.severity)
    return tuple(fact for fact, _ in sorted(weight.items(), key=lambda pair: (-pair[1], pair[0])))


def gathered_words(gathered: Gathered, path: str, most: int = 4) -> str:
    """One sentence for all of them, with where the whole list is."""
    count = number_of(len(gathered.findings), "finding")
    every = len(gathered.findings)
    how_many = "blocking" if every == 1 else "all blocking" if gathered.blocking == every else ""
    blocking = f", {how_many or f'{gathered.blocking} of them blocking'}," if gathered.blocking else ""
    wait = "waits" if every == 1 else "wait"
    facts = f"{number_of(len(gathered.facts), 'fact')}: {listed(fact_words(gathered.facts), most)}"
    return f"{count}{blocking} {wait} for {facts}. How to get each: derate missing {path}"


def body(finding: Finding, rests: bool = True) -> str:
    """The message without its subject and its source, where both are shown beside it; and without what it rests on,
    where that is shown as well."""
    told = finding.told
    if told is None:
        return finding.message
    return f"{told.lead}{told.what}{told.rests if rests else ''}"


def reason(finding: Finding) -> str:
    """Why it cannot be judged or does not apply, without saying again that it does not."""
    return finding.told.what if finding.told is not None else finding.message


def acknowledged(review: Review, kind: str) -> int:
    """How many findings a waiver or an open point attaches to and counts."""
    return sum(
        finding.acknowledgement is not None
        and finding.acknowledgement.kind == kind
        and not finding.acknowledgement.expired
        for finding in review.findings
    )
