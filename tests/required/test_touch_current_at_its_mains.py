"""A touch current is that at the greatest mains, wherever it was read: it grows with the voltage."""

from __future__ import annotations

import pytest
from small_barrier import changed, judged

from derate.ledger.entry import SUPPLY


def _tested(at: str, milliamperes: str) -> str:
    return changed(("tests:", f"tests:\n  - {{test: touch current, from: main, {at}result: {milliamperes} mA}}"))


@pytest.mark.parametrize(
    ("at", "low", "high"),
    [
        ("mains: 264 V, ", 0.9, 0.9),
        ("mains: 132 V, ", 1.8, 1.8),
        ("mains: 120..132 V, ", 1.8, 1.98),
        ("mains: 300 V, ", 0.9, 0.9),  # more than it ever meets, and no less for that
        ("mains: unknown, ", 0.9, 2.64),
        ("", 0.9, 2.64),
    ],
)
def test_it_is_taken_to_the_greatest_mains(at: str, low: float, high: float) -> None:
    """On a plate of 100 to 240 V with 10 %: 90 to 264 V."""
    ends = judged(_tested(at, "0.9")).ends(SUPPLY, "touch_current_measured")
    assert ends == pytest.approx((low * 1e-3, high * 1e-3))


@pytest.mark.parametrize(
    ("at", "milliamperes", "verdict"),
    [
        ("mains: 264 V, ", "0.2", "pass"),
        ("mains: 120 V, ", "0.2", "pass"),
        ("mains: 120 V, ", "0.24", "fail"),
        ("", "0.24", "not assessed"),
        ("", "0.6", "fail"),
    ],
)
def test_what_is_harmless_at_half_the_mains_may_be_too_much(at: str, milliamperes: str, verdict: str) -> None:
    assert judged(_tested(at, milliamperes)).verdict("touch-current") == verdict
