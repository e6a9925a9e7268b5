"""The comparison where sides touch: each row stands on one boundary of the order of verdicts, or one step beside it.

Order and boundaries as the definition of verdicts has them, S the stress and L the limit, each low, near, far, high:
S.near > L.far fails; S.far > L.near is not assessed; S.high > L.low is marginal, or fails over tolerance;
S.far > guard × L.near is marginal; else pass. A strict comparison has >= for > in the first three.
"""

from __future__ import annotations

from math import inf, nan

import pytest

from derate.judge.verdict import (
    CLEAR,
    GUARD,
    NO_GUARD,
    OVER,
    STRADDLES,
    TOLERANCE,
    Guard,
    agreement,
    compare,
    excess,
)
from derate.terms.values import Value

V = Value
LIMIT = V(50, 60, 70, 80)  # a limit that is not known exactly and has a tolerance besides

# stress, limit, what `<=` gives, what `<` gives
TOUCHING = [
    # the kindest reading of the stress at and above the kindest reading of the limit
    (V.exact(70), LIMIT, ("not assessed", STRADDLES), ("fail", OVER)),
    (V.exact(71), LIMIT, ("fail", OVER), ("fail", OVER)),
    (V(10, 71, 90, 95), LIMIT, ("fail", OVER), ("fail", OVER)),  # near speaks, not the low end of the tolerance
    (V(10, 70, 90, 95), LIMIT, ("not assessed", STRADDLES), ("fail", OVER)),
    (V(10, 69, 90, 95), LIMIT, ("not assessed", STRADDLES), ("not assessed", STRADDLES)),
    (V.exact(75), LIMIT, ("fail", OVER), ("fail", OVER)),  # and not the high end of the limit's
    # the worst reading of the stress at and above the worst reading of the limit
    (V(10, 20, 60, 60), V(60, 60, 70, 80), ("pass", CLEAR), ("not assessed", STRADDLES)),
    (V(10, 20, 61, 61), V(60, 60, 70, 80), ("not assessed", STRADDLES), ("not assessed", STRADDLES)),
    (V(10, 20, 59, 59), V(60, 60, 70, 80), ("pass", CLEAR), ("pass", CLEAR)),
    (V(10, 20, 60, 65), LIMIT, ("marginal", TOLERANCE), ("not assessed", STRADDLES)),  # L.near speaks, not L.low
    (V(10, 20, 55, 90), LIMIT, ("marginal", TOLERANCE), ("marginal", TOLERANCE)),  # S.far speaks, not S.high
    # the ends of the tolerances of both sides
    (V(10, 20, 30, 50), LIMIT, ("pass", CLEAR), ("marginal", TOLERANCE)),
    (V(10, 20, 30, 51), LIMIT, ("marginal", TOLERANCE), ("marginal", TOLERANCE)),
    (V(10, 20, 30, 49), LIMIT, ("pass", CLEAR), ("pass", CLEAR)),
    (V.exact(55), LIMIT, ("marginal", TOLERANCE), ("marginal", TOLERANCE)),  # a tolerance of the limit alone
    (V.exact(50), LIMIT, ("pass", CLEAR), ("marginal", TOLERANCE)),
    # two exact sides
    (V.exact(60), V.exact(60), ("pass", CLEAR), ("fail", OVER)),
    (V.exact(61), V.exact(60), ("fail", OVER), ("fail", OVER)),
    (V.exact(59), V.exact(60), ("pass", CLEAR), ("pass", CLEAR)),
]


@pytest.mark.parametrize(("stress", "limit", "loose", "strict"), TOUCHING)
def test_where_sides_touch(stress: Value, limit: Value, loose: tuple[str, str], strict: tuple[str, str]) -> None:
    assert compare(stress, limit) == loose
    assert compare(stress, limit, strict=True) == strict
    for over, (verdict, why) in ((False, loose), (True, strict)):  # where the rule holds over tolerance
        wanted = ("fail" if why == TOLERANCE else verdict, why)
        assert compare(stress, limit, strict=over, over_tolerance=True) == wanted


@pytest.mark.parametrize(
    ("guard", "limit", "begins"),
    [
        (NO_GUARD, 100.0, 100.0),
        (Guard(), -100.0, -100.0),
        (Guard(0.75), 100.0, 75.0),
        (Guard(0.75), -100.0, -100.0),  # a share of a negative limit would lie above it
        (Guard(0.75), 0.0, 0.0),
        (Guard(difference=8.0), 100.0, 92.0),
        (Guard(difference=8.0), -100.0, -108.0),
        (Guard(0.75, 8.0), 100.0, 67.0),
    ],
)
def test_where_the_guard_band_begins(guard: Guard, limit: float, begins: float) -> None:
    assert guard.below(limit) == begins


@pytest.mark.parametrize(
    ("stress", "limit", "expected"),
    [
        (V.exact(75), V.exact(100), ("pass", CLEAR)),  # at the edge of the band
        (V.exact(76), V.exact(100), ("marginal", GUARD)),
        (V(60, 65, 70, 95), V.exact(100), ("pass", CLEAR)),  # S.far speaks, not S.high
        (V(60, 65, 76, 95), V.exact(100), ("marginal", GUARD)),
        (V.exact(72), V(90, 100, 110, 120), ("pass", CLEAR)),  # L.near speaks, not L.low: 0.75 × 90 is under 72
        (V.exact(76), V(90, 100, 110, 120), ("marginal", GUARD)),  # nor L.far: 0.75 × 110 is over 76
        (V.exact(101), V.exact(100), ("fail", OVER)),  # the band never softens what stands above it
        (V(60, 65, 76, 101), V.exact(100), ("marginal", TOLERANCE)),
    ],
)
def test_the_guard_band(stress: Value, limit: Value, expected: tuple[str, str]) -> None:
    assert compare(stress, limit, guard=Guard(0.75)) == expected


@pytest.mark.parametrize(
    ("stress", "limit", "nominal", "over_tolerance"),
    [
        (V(1, 2, 3, 4), V(5, 6, 7, 8), 3 / 6, 4 / 5),
        (V(6, 7, 9, 12), V(2, 3, 4, 5), 9 / 3, 12 / 2),
        (V(1, 2, 3, inf), V(5, 6, 7, 8), 3 / 6, inf),
        (V.floor(1), V.exact(5), inf, inf),
        (V.exact(inf), V.exact(inf), inf, inf),
        (V.exact(1), V(-inf, 5, 5, 5), 1 / 5, inf),
        (V.exact(-inf), V.exact(-inf), inf, inf),
        (V.exact(0.25), V.exact(0.5), 1 / 2, 1 / 2),
        (V.exact(5), V.floor(10), 1 / 2, 1 / 2),
        (V.exact(5), V.exact(inf), 0.0, 0.0),
        (V.exact(-5), V.exact(5), 0.0, 0.0),
        (V.exact(-5), V.exact(0), 0.0, 0.0),
        (V.exact(0), V.exact(5), 0.0, 0.0),
        (V.exact(0), V.exact(0), 1.0, 1.0),
        (V.exact(5), V.exact(0), inf, inf),
        (V.exact(5), V.exact(-5), inf, inf),
        (V.exact(0), V.exact(-5), inf, inf),
        (V.exact(-5), V.exact(-5), 1.0, 1.0),
        (V.exact(-7), V.exact(-5), 0.0, 0.0),
        (V.exact(-3), V.exact(-5), inf, inf),
    ],
)
def test_how_far_over(stress: Value, limit: Value, nominal: float, over_tolerance: float) -> None:
    assert excess(stress, limit, over_tolerance=False) == nominal
    assert excess(stress, limit, over_tolerance=True) == over_tolerance


def test_no_value_holds_what_is_no_number() -> None:
    """So neither a comparison nor a ratio meets one."""
    for place in range(4):
        with pytest.raises(ValueError, match="no NaN"):
            V(*[nan if one == place else 1.0 for one in range(4)])


# measured, marked. low..near and far..high are the tolerances: the marked 20..30 has 4 below and 6 above, so it reaches
# from 16 to 36; a measured value agrees for sure when every reading, less and plus its own tolerance, meets every one.
MARKED = V(16, 20, 30, 36)


@pytest.mark.parametrize(
    ("measured", "verdict"),
    [
        (V(36, 38, 39, 41), "not assessed"),  # 38 - 2 touches 30 + 6
        (V(37, 39, 39, 41), "fail"),  # 39 - 2 is above
        (V(37, 38, 39, 41), "fail"),
        (V(10, 11, 14, 16), "not assessed"),  # 14 + 2 touches 20 - 4
        (V(10, 11, 13, 15), "fail"),
        (V(20, 22, 24, 27), "not assessed"),  # up to 20 + 6 for every marked: 24 - 2 is; from 30 - 4: 22 + 3 is not
        (V(20, 23, 24, 27), "pass"),  # 23 + 3 touches 30 - 4
        (V(26, 27, 28, 30), "not assessed"),  # 28 - 1 is above 20 + 6
        (V(25, 27, 28, 29), "pass"),  # 28 - 2 touches 20 + 6
        (V(25, 28, 29, 30), "pass"),  # 29 - 3 too
        (V(25, 27, 29, 30), "not assessed"),  # 29 - 2 is above
        (V(21, 24, 24, 25), "not assessed"),  # 24 + 1 is below 30 - 4
        (V(-inf, -inf, 24, 27), "not assessed"),  # open below: no tolerance of its own there
        (V(23, 24, inf, inf), "not assessed"),
        (V(36, 37, inf, inf), "not assessed"),  # 37 - 1 touches 30 + 6
        (V(37, 38, inf, inf), "fail"),
    ],
)
def test_agreement_within_both_tolerances(measured: Value, verdict: str) -> None:
    assert agreement(measured, MARKED) == verdict


def test_two_exact_values_agree_only_when_they_are_the_same() -> None:
    assert agreement(V.exact(5), V.exact(5)) == "pass"
    assert agreement(V.exact(5), V.exact(6)) == "fail"
    assert agreement(V.exact(6), V.exact(5)) == "fail"
