"""The facts that findings wait for: which, how many findings wait, how somebody gets them. Most wanted first.

Counted, not tried: what each fact would settle is for `derate missing`, which works the design through again for each.
"""

from __future__ import annotations

from dataclasses import dataclass

from derate.judge.review import Finding, Review
from derate.report.gather import wanted
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


def wanted_facts(review: Review) -> tuple[Wanted, ...]:
    """Every fact that a finding which is not assessed names, the most wanted first."""
    open_ones = [one for one in review.findings if one.verdict == "not assessed" and one.missing]
    made = []
    for fact in wanted(open_ones):
        subject, _, name = fact.rpartition(": ")
        known = name in VOCABULARY
        waiting = tuple(one for one in open_ones if fact in one.missing)
        made.append(Wanted(subject if known else "", name if known else "", fact, waiting))
    return tuple(made)
