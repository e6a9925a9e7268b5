"""The comparison of two values: DESIGN order of verdicts, its monotony, ratios and agreement."""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.judge.verdict import NO_GUARD, Guard, agreement, compare, excess
from derate.terms.values import Value

V = Value
# stress, limit, over tolerance, guard, verdict. The Y capacitor row: 2.2 nF 20 % draws 0.219 mA at nominal and 0.263 mA
# at its end, against 0.25 mA.
ROWS = [
    (V.exact(310), V.exact(400), False, NO_GUARD, "pass"),
    (V.exact(400), V.exact(400), False, NO_GUARD, "pass"),
    (V.exact(401), V.exact(400), False, NO_GUARD, "fail"),
    (V.between(390, 410), V.exact(400), False, NO_GUARD, "not assessed"),
    (V.between(401, 410), V.exact(400), False, NO_GUARD, "fail"),
    (V.exact(400), V.between(390, 420), False, NO_GUARD, "not assessed"),
    (V.spread(0.219, 0.175, 0.263), V.exact(0.25), True, NO_GUARD, "fail"),
    (V.spread(0.219, 0.175, 0.263), V.exact(0.25), False, NO_GUARD, "marginal"),
    (V.exact(370), V.exact(400), False, Guard(0.9), "marginal"),
    (V.exact(360), V.exact(400), False, Guard(0.9), "pass"),
    (V.exact(141), V.exact(150), False, Guard(difference=10), "marginal"),
    (V.exact(-12), V.exact(-10), False, Guard(0.9), "pass"),
    (V.exact(-9), V.exact(-10), False, Guard(0.9), "fail"),
    (V.floor(300), V.exact(400), False, NO_GUARD, "not assessed"),
    (V.floor(401), V.exact(400), False, NO_GUARD, "fail"),
    (V.exact(300), V.floor(400), False, NO_GUARD, "pass"),
]


@pytest.mark.parametrize(("stress", "limit", "over", "guard", "verdict"), ROWS)
def test_verdict(stress: Value, limit: Value, over: bool, guard: Guard, verdict: str) -> None:
    assert compare(stress, limit, over_tolerance=over, guard=guard)[0] == verdict


def test_strict_comparison_fails_at_the_limit() -> None:
    assert compare(V.exact(5), V.exact(5))[0] == "pass"
    assert compare(V.exact(5), V.exact(5), strict=True)[0] == "fail"


numbers = st.floats(-1e6, 1e6) | st.sampled_from([0.0, inf])
values = st.lists(numbers, min_size=4, max_size=4).map(lambda four: V(*sorted(four)))
_BLOCKS = ("fail", "not assessed")


@given(values, values, st.booleans(), st.booleans(), st.floats(0.1, 1.0), st.floats(0, 1e6), st.floats(0, 1e6))
def test_widening_and_raising_never_leave_the_blocking_set(
    stress: Value, limit: Value, strict: bool, over: bool, share: float, down: float, up: float
) -> None:
    def verdict(a: Value, b: Value) -> str:
        return compare(a, b, strict=strict, over_tolerance=over, guard=Guard(share))[0]

    wide = V(
        min(stress.low, stress.near - down), stress.near - down, stress.far + up, max(stress.high, stress.far + up)
    )
    higher = V(stress.low + up, stress.near + up, stress.far + up, stress.high + up)
    before = verdict(stress, limit)
    if before in _BLOCKS:
        assert verdict(wide, limit) in _BLOCKS
        assert verdict(higher, limit) in _BLOCKS
    if before != "pass":
        assert verdict(higher, limit) != "pass"
        assert verdict(wide, limit) != "pass"


@given(values, values, st.booleans())
def test_the_ratio_is_above_one_exactly_when_the_worst_reading_is_over(a: Value, b: Value, over: bool) -> None:
    ratio = excess(a, b, over)
    assert ratio >= 0 or ratio == inf
    used, allowed = (a.high, b.low) if over else (a.far, b.near)
    if used != inf and abs(used - allowed) > 1e-9 * max(abs(used), abs(allowed)):
        assert (ratio > 1) == (used > allowed)


def test_a_fail_always_has_a_ratio_above_one() -> None:
    for stress, limit, over, guard, _ in ROWS:
        if compare(stress, limit, over_tolerance=over, guard=guard)[0] == "fail":
            assert excess(stress, limit, over) > 1


@pytest.mark.parametrize(
    ("measured", "marked", "verdict"),
    [
        (V.exact(4.2), V.spread(4.7, 3.76, 5.64), "pass"),
        (V.exact(3.5), V.spread(4.7, 3.76, 5.64), "fail"),
        (V(3.4, 3.5, 3.5, 3.9), V.spread(4.7, 3.76, 5.64), "pass"),
        (V.between(3.0, 4.0), V.spread(4.7, 3.76, 5.64), "not assessed"),
        (V.floor(5.0), V.spread(4.7, 3.76, 5.64), "not assessed"),
        (V.floor(6.0), V.spread(4.7, 3.76, 5.64), "fail"),
        (V.exact(8.0), V.spread(4.7, 3.76, 5.64), "fail"),
    ],
)
def test_agreement(measured: Value, marked: Value, verdict: str) -> None:
    assert agreement(measured, marked) == verdict
