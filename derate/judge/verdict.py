"""One stress held against one limit, several outcomes joined, the overall words, and what stops the exit status."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import inf
from typing import NamedTuple

from derate.judge.review import FamilyWord, Finding, HazardWord, Review
from derate.judge.view import Trace
from derate.ledger.entry import Case
from derate.terms.dimension import Dimension
from derate.terms.values import Value
from derate.terms.words import (
    CONFIDENCES,
    HAZARDS,
    HEAVY,
    HOLDS,
    LEVELS,
    NEEDS_A_CRITICAL_RULE,
    OVERALLS,
    SEVERITIES,
    VERDICTS,
    Hazard,
    Overall,
    Verdict,
)
from derate.text.formula import Formula

# What one rule comes to for one subject at one case, and how several such outcomes are joined.


OPEN = "open"  # `why` of an outcome that stops before the comparison: whether the rule applies is not known


class Outcome(NamedTuple):
    """One verdict and what it rests on.

    why: a word of judge.comparison for comparisons, OPEN, '' otherwise
    words: what was found, for shapes that compare nothing; the reason when nothing could be said
    stress, limit: left and right side; more: more is better (>=)
    excess: worst reading over the limit, above 1 is over; None for shapes that have no ratio
    """

    verdict: Verdict
    trace: Trace
    why: str = ""
    words: str = ""
    stress: Value | None = None
    limit: Value | None = None
    dimension: Dimension | None = None
    more: bool = False
    excess: float | None = None
    formula: Formula | None = None
    case: Case | None = None


def _size(outcome: Outcome) -> float:
    return -1.0 if outcome.excess is None else outcome.excess


def worst(outcomes: Sequence[Outcome]) -> Outcome:
    """The outcome that carries the verdict over cases: the worst verdict, and of those the largest ratio."""
    least = min(VERDICTS.index(one.verdict) for one in outcomes)
    return max((one for one in outcomes if VERDICTS.index(one.verdict) == least), key=_size)


_KINDEST: tuple[Verdict, ...] = ("pass", "marginal", "not assessed", "fail", "not applicable")


def best(outcomes: Sequence[Outcome]) -> Outcome:
    """The kindest of several alternatives; of equal ones the one that rests on least."""
    return min(
        outcomes,
        key=lambda one: (
            _KINDEST.index(one.verdict),
            bool(one.trace.rests_on),
            CONFIDENCES.index(one.trace.confidence),
            _size(one),
        ),
    )


# One stress held against one limit: the four numbers of either side, in the order the verdicts demand.
#
# `a <= b`: a is the stress, b the limit. `a >= b` asks for more: b is the demand and a what is there, so that in both
# forms the first of the pair must not exceed the second.


# Why a verdict came out as it did, for the message: over at every reading, over for some, over at the ends of the
# tolerance, inside the guard band, or clear.
OVER, STRADDLES, TOLERANCE, GUARD, CLEAR = "over", "straddles", "tolerance", "guard", "clear"


class Guard(NamedTuple):
    """The band below a limit that counts as marginal: a share of the limit, or a difference below it in SI units."""

    share: float = 1.0
    difference: float = 0.0

    def below(self, limit: float) -> float:
        """Where the band under a limit begins; never above the limit, whatever its sign."""
        return min(limit, limit * self.share) - self.difference


NO_GUARD = Guard()


def compare(
    stress: Value, limit: Value, *, strict: bool = False, over_tolerance: bool = False, guard: Guard = NO_GUARD
) -> tuple[Verdict, str]:
    """Verdict on a stress that must not exceed a limit, and why.

    strict: the stress must stay under the limit, not reach it.
    over_tolerance: the rule holds at the ends of the tolerance too, not only at nominal.
    """

    if stress.near > limit.far or (strict and stress.near == limit.far):
        return "fail", OVER  # over in the kindest reading
    if stress.far > limit.near or (strict and stress.far == limit.near):
        return "not assessed", STRADDLES
    if stress.high > limit.low or (strict and stress.high == limit.low):
        return ("fail" if over_tolerance else "marginal"), TOLERANCE
    if stress.far > guard.below(limit.near):
        return "marginal", GUARD
    return "pass", CLEAR


def excess(stress: Value, limit: Value, over_tolerance: bool) -> float:
    """How far the stress is over in its worst reading, as a ratio: above 1 is over. May be infinite."""
    used, allowed = (stress.high, limit.low) if over_tolerance else (stress.far, limit.near)
    if used == inf or allowed == -inf:
        return inf
    if allowed > 0:
        return max(used, 0.0) / allowed
    if used == allowed:  # at and below zero a quotient would turn round
        return 1.0
    return inf if used > allowed else 0.0


def agreement(measured: Value, marked: Value) -> Verdict:
    """Whether a measured value and a marked one agree within both tolerances.

    near..far of either is what is not known about it, low and high add its tolerance or uncertainty. Agreeing for
    every reading passes, for none fails, for some is not assessed.
    """
    down, up = _apart(measured.near, measured.low), _apart(measured.high, measured.far)
    below, above = _apart(marked.near, marked.low), _apart(marked.high, marked.far)
    if measured.near - down > marked.far + above or measured.far + up < marked.near - below:
        return "fail"
    if measured.far - down <= marked.near + above and measured.near + up >= marked.far - below:
        return "pass"
    return "not assessed"


def _apart(one: float, other: float) -> float:
    """The tolerance on one side; an open end has none of its own."""
    return 0.0 if one == other else one - other


# The overall word of every hazard, and of the whole: worst first, exactly by the findings.


GAVE_A_VERDICT = ("fail", "marginal", "pass")


def word_of(finding: Finding) -> Overall | None:
    """What one finding makes of its hazard; None when it says nothing."""
    if finding.verdict == "fail":
        given = finding.acknowledgement
        return "fail, waived" if given is not None and not given.expired else "fail"
    return None if finding.verdict == "not applicable" else finding.verdict


def looked_at(findings: Iterable[Finding], hazard: Hazard) -> bool:
    """Whether a critical rule gave a verdict on a hazard."""
    return any(
        one.hazard == hazard and one.severity == "critical" and one.verdict in GAVE_A_VERDICT for one in findings
    )


def hazard_words(findings: Sequence[Finding]) -> tuple[HazardWord, ...]:
    """A word for every hazard that a rule looked at, and for those that must be looked at, in their order."""
    words = []
    for hazard in HAZARDS:
        own = [one for one in findings if one.hazard == hazard]
        if hazard in NEEDS_A_CRITICAL_RULE or any(word_of(one) is not None for one in own):
            words.append(_word(hazard, own))
    return tuple(words)


def _word(hazard: Hazard, own: Sequence[Finding]) -> HazardWord:
    worst: Overall = "pass"
    why = ""
    # of equally bad findings the most severe is what decided, and of those the one furthest over
    for one in sorted(own, key=lambda one: (SEVERITIES.index(one.severity), -(one.ratio or 0.0), one.rule)):
        word = word_of(one)
        if word is not None and OVERALLS.index(word) < OVERALLS.index(worst):
            worst, why = word, one.rule
    if OVERALLS.index(worst) <= OVERALLS.index("fail, waived"):
        return HazardWord(hazard, worst, why)
    if hazard in NEEDS_A_CRITICAL_RULE and not looked_at(own, hazard):
        return HazardWord(hazard, "not assessed", "no rule looked")
    if worst == "not assessed":
        return HazardWord(hazard, worst, why)
    remembered = {one.rule for one in own if to_confirm(one)}
    if remembered:
        limits = "1 limit" if len(remembered) == 1 else f"{len(remembered)} limits"
        return HazardWord(hazard, "not assessed", f"{limits} to confirm")
    return HazardWord(hazard, worst, why)


def to_confirm(finding: Finding) -> bool:
    """Whether a finding is a critical pass whose limit is only remembered."""
    held = finding.verdict in HOLDS
    return held and finding.severity == "critical" and finding.confidence == "remembered"


def worst_word(words: Iterable[HazardWord]) -> Overall:
    """The worst of several words."""
    return min((one.word for one in words), key=OVERALLS.index, default="not assessed")


def family_words(
    findings: Sequence[Finding], families: Sequence[str], family_of: dict[str, str]
) -> tuple[FamilyWord, ...]:
    """The words of each family on its own: its packs and those that belong to none. Empty for fewer than two."""
    if len(families) < 2:
        return ()
    found = []
    for family in families:
        words = hazard_words([one for one in findings if family_of.get(one.pack, family) in ("", family)])
        found.append(FamilyWord(family, worst_word(words), words))
    return tuple(found)


# What stops the exit status: the blocking law, and harder or softer levels of it.
#
# A fail of a critical or major rule blocks unless a waiver in force covers it; `not assessed` of a critical or major
# rule blocks unless an open point stands beside it. Major too: otherwise deleting the fact under a failing major rule
# would open the gate. Minor never blocks.


def acknowledged(finding: Finding) -> bool:
    """Whether a waiver or an open point in force stands beside it."""
    return finding.acknowledgement is not None and not finding.acknowledgement.expired


def finding_blocks(finding: Finding, stop_at: str = "default") -> bool:
    """Whether one finding stops the exit status at a level."""
    if finding.known or acknowledged(finding):
        return False
    heavy = finding.severity in HEAVY
    if finding.verdict == "fail":
        return heavy or LEVELS.index(stop_at) >= LEVELS.index("not-assessed")
    if finding.verdict == "not assessed":
        return stop_at in ("not-assessed", "marginal") or (heavy and stop_at == "default")
    if stop_at in ("not-assessed", "marginal") and to_confirm(finding):
        return True  # its hazard is not assessed until somebody has confirmed the limit
    return finding.verdict == "marginal" and stop_at == "marginal"


def blocks(review: Review, stop_at: str | None = None) -> bool:
    """Whether anything in a review stops the exit status; None is the blocking law itself."""
    return any(finding_blocks(one, stop_at or "default") for one in review.findings)
