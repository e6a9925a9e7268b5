"""One stress held against one limit: the four numbers of either side, in the order the verdicts demand.

`a <= b`: a is the stress, b the limit. `a >= b` asks for more: b is the demand and a what is there, so that in both
forms the first of the pair must not exceed the second.
"""

from __future__ import annotations

from math import inf, isnan
from typing import NamedTuple

from derate.terms.values import Value
from derate.terms.words import Verdict

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
    if used < 0 <= allowed:
        return 0.0
    if used <= allowed <= 0 or allowed <= 0 < used:  # below zero a quotient would turn round
        return inf if used > allowed else (1.0 if used == allowed else 0.0)
    if allowed < 0:
        return inf
    if allowed == 0:
        return 1.0 if used == 0 else inf
    found = used / allowed
    return inf if isnan(found) else found


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
