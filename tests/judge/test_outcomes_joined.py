"""Which of several outcomes speaks: the worst over cases, the kindest of alternatives, and what breaks a tie."""

from __future__ import annotations

from itertools import permutations

import pytest

from derate.judge.verdict import OPEN, Outcome, best, worst
from derate.judge.view import Trace
from derate.terms.words import Confidence, Verdict

# Over the cases: fail if any fails; else not assessed if any is; else marginal if any is; else pass.
WORST_FIRST: tuple[Verdict, ...] = ("fail", "not assessed", "marginal", "pass", "not applicable")
# Of alternatives one that holds is enough; one that may hold is better than one that fails.
KINDEST_FIRST: tuple[Verdict, ...] = ("pass", "marginal", "not assessed", "fail", "not applicable")


def outcome(
    verdict: Verdict, excess: float | None = None, rests_on: str = "", sure: Confidence = "published"
) -> Outcome:
    trace = Trace()
    trace.rests_on = {rests_on} if rests_on else set()
    trace.confidence = sure
    return Outcome(verdict, trace, excess=excess)


@pytest.mark.parametrize("place", range(len(WORST_FIRST)))
def test_the_worst_verdict_carries_whatever_the_ratios(place: int) -> None:
    them = [outcome(verdict, float(number)) for number, verdict in enumerate(WORST_FIRST)][place:]
    for order in (them, them[::-1]):
        assert worst(order) is them[0]


@pytest.mark.parametrize("place", range(len(KINDEST_FIRST)))
def test_the_kindest_verdict_carries_whatever_it_rests_on(place: int) -> None:
    sures: tuple[Confidence, ...] = ("remembered", "remembered", "common practice", "one source", "published")
    them = [
        outcome(verdict, 9.0 - number, "mains tolerance" if number < 4 else "", sures[number])
        for number, verdict in enumerate(KINDEST_FIRST)
    ][place:]
    for order in (them, them[::-1]):
        assert best(order) is them[0]


def test_of_equally_bad_outcomes_the_largest_ratio_governs() -> None:
    small, large, none, naught = (outcome("fail", ratio) for ratio in (1.2, 1.5, None, 0.0))
    for order in permutations((small, large, none, naught)):
        assert worst(order) is large
    # no ratio stands behind every ratio, a ratio of nought too
    for order in permutations((none, naught)):
        assert worst(order) is naught
    assert worst([none]) is none


def test_of_equally_kind_outcomes_the_one_without_assumptions_then_the_surest_then_the_least() -> None:
    order = [
        outcome("pass", 0.9),
        outcome("pass", 0.1, sure="one source"),
        outcome("pass", 0.1, sure="common practice"),
        outcome("pass", 0.1, sure="remembered"),
        outcome("pass", 0.1, "mains tolerance"),
    ]
    for first in range(len(order)):
        assert best(order[first:]) is order[first]
        assert best(order[first:][::-1]) is order[first]
    less, more, none = outcome("pass", 0.4), outcome("pass", 0.5), outcome("pass", None)
    assert best([more, less]) is less and best([less, more]) is less
    assert best([more, none]) is none


def test_an_outcome_says_nothing_that_it_was_not_given() -> None:
    trace = Trace()
    assert Outcome("pass", trace) == ("pass", trace, "", "", None, None, None, False, None, None, None)
    assert OPEN == "open"
