"""One stress held against one limit, several outcomes joined, the overall words, and what stops the exit status."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from math import inf

from derate.judge.review import FamilyWord, Finding, HazardWord, Review
from derate.judge.view import Trace
from derate.ledger.entry import Case
from derate.terms.dimension import Dimension
from derate.terms.tuples import NamedTuple
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
NO_PACK = "derate"  # the pack name of findings that no rule made


def word_of(finding: Finding) -> Overall | None:
    """What one finding makes of its hazard; None when it says nothing."""
    if finding.verdict == "fail":
        if acknowledged(finding):
            return "fail, waived"
        return "fail, held back" if finding.known else "fail"
    return None if finding.verdict == "not applicable" else finding.verdict


def looked_at(findings: Iterable[Finding], hazard: Hazard) -> bool:
    """Whether a critical rule gave a verdict on a hazard."""
    return any(
        one.hazard == hazard and one.severity == "critical" and one.verdict in GAVE_A_VERDICT for one in findings
    )


def hazard_words(findings: Sequence[Finding]) -> tuple[HazardWord, ...]:
    """A word for every hazard, in their order: decided by what can block, so that word and gate never disagree.

    Critical and major findings decide, and a minor one only where it blocks (at a harder level). The other minor
    ones are counted beside the word. A hazard on which no critical or major rule came to anything is not judged.
    """
    return tuple(_word(hazard, [one for one in findings if one.hazard == hazard]) for hazard in HAZARDS)


def _decides(finding: Finding) -> bool:
    return finding.severity in HEAVY or finding.blocks


def _word(hazard: Hazard, own: Sequence[Finding]) -> HazardWord:
    heavy = [one for one in own if _decides(one)]
    word, why = _decided(hazard, heavy)
    came_to = Counter(word_of(one) for one in heavy)
    minor = Counter(word_of(one) for one in own if not _decides(one))
    critical = [one for one in own if one.severity == "critical" and one.pack != NO_PACK]
    return HazardWord(
        hazard,
        word,
        why,
        tuple((one, came_to[one]) for one in OVERALLS if one not in (word, "pass") and came_to[one]),
        sum(minor[one] for one in OVERALLS[: OVERALLS.index("fail, waived") + 1]),
        minor["not assessed"],
        len({one.rule for one in critical if one.verdict in GAVE_A_VERDICT}),
        len({one.rule for one in critical if one.verdict != "not applicable"}),
    )


def _decided(hazard: Hazard, heavy: Sequence[Finding]) -> tuple[Overall, str]:
    """The word of a hazard and why."""
    worst: Overall = "pass"
    why = ""
    # of equally bad findings the most severe is what decided, and of those the one furthest over
    for one in sorted(heavy, key=_weight):
        word = word_of(one)
        if word is not None and OVERALLS.index(word) < OVERALLS.index(worst):
            worst, why = word, one.rule
    if OVERALLS.index(worst) <= OVERALLS.index("fail, waived"):
        return worst, why
    if hazard in NEEDS_A_CRITICAL_RULE and not looked_at(heavy, hazard):
        return "not assessed", "no rule looked"
    if worst == "not assessed":
        return worst, why
    if not any(one.verdict in GAVE_A_VERDICT for one in heavy):
        return "not judged", "no critical or major rule gave a verdict"
    remembered = {one.rule for one in heavy if to_confirm(one)}
    if remembered:
        limits = "1 limit" if len(remembered) == 1 else f"{len(remembered)} limits"
        return "not assessed", f"{limits} to confirm"
    return worst, why


def _weight(finding: Finding) -> tuple[int, bool, float, str]:
    return SEVERITIES.index(finding.severity), bool(finding.raised), -(finding.ratio or 0.0), finding.rule


# A minor finding that counts as major: at twice its limit and more, or one of three that fail on one part.
#
# It then blocks and turns the word like any major one; a waiver covers it like any other fail.


TWICE = 2.0
SEVERAL = 3
_OF_A_PART = ("part", "winding", "transformer")


def with_raised(findings: Sequence[Finding]) -> list[Finding]:
    """The findings, those of minor rules that count as major made so, each with why."""
    failing = Counter(one.subject for one in findings if _minor_fail(one) and one.subject.kind in _OF_A_PART)
    return [_raised(one, failing[one.subject]) if _minor_fail(one) else one for one in findings]


def _minor_fail(finding: Finding) -> bool:
    return finding.severity == "minor" and finding.verdict == "fail"


def _raised(finding: Finding, beside: int) -> Finding:
    """beside: how many minor rules fail on the same part, this one counted."""
    if finding.ratio is not None and finding.ratio >= TWICE:
        return finding._replace(severity="major", raised="a minor rule, at twice its limit or more")
    if beside >= SEVERAL:
        return finding._replace(severity="major", raised=f"a minor rule, one of {beside} that fail on one part")
    return finding


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
