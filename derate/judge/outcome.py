"""What one rule comes to for one subject at one case, and how several such outcomes are joined."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from derate.judge.view import Trace
from derate.ledger.entry import Case
from derate.terms.dimension import Dimension
from derate.terms.values import Value
from derate.terms.words import CONFIDENCES, VERDICTS, Verdict
from derate.text.formula import Formula

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
