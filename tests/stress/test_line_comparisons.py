"""What is reported of a mains input against the truth of samples of it: no upper end below, no lower end above it.

Random supplies of 0.2 to 100 W at 100 to 277 V with 0 to 6 mH ahead, half of them stated exactly and half as ranges,
each walked through at random samples of its parts by an integrator of the tests' own. Half a per cent is allowed either
way. `--brute-force` takes 240 supplies and smaller steps; the counts and the worst of it stand in DEVELOPERS.md.
"""

from __future__ import annotations

import random

import pytest
from brute_force import BRUTE_FORCE
from line_comparisons import (
    KINDS,
    Compared,
    closings,
    compared,
    compared_at_switch_on,
    drawn,
    points_of,
    switch_on_points,
    truths,
)
from random_supplies import worked_out

ALLOWED = 0.005
SUPPLIES, STEPS, CYCLES = (60, 3000, 60) if BRUTE_FORCE else (2, 1500, 36)


def _held(kind: str, found: list[Compared], supplies: int) -> None:
    """Print how many and how far, and hold every one of them."""
    assert len({one.supply for one in found}) >= 0.8 * supplies, "too few supplies carry their load to say anything"
    above, below = max(one.above for one in found), max(one.below for one in found)
    print(
        f"{kind}: {len({one.supply for one in found})} supplies, {len(found)} figures; the truth above the upper end "
        f"by {100 * above:.2f} % at most, the lower end above the truth by {100 * below:.2f} %"
    )
    wrong = [one for one in found if one.above > ALLOWED or one.below > ALLOWED]
    assert not wrong, wrong[:5]


@pytest.mark.parametrize("kind", KINDS)
def test_running(kind: str) -> None:
    supplies, ledgers, points = [], [], []
    for number in range(SUPPLIES):
        rng = random.Random(f"{kind} {number}")
        supplies.append(drawn(rng, kind))
        ledgers.append(worked_out(supplies[-1].text)[1])
        points += points_of(number, supplies[-1], ledgers[-1], rng)
    _held(kind, list(compared(supplies, ledgers, points, truths(supplies, points, STEPS, CYCLES))), SUPPLIES)


@pytest.mark.parametrize("kind", ["bridge", "half-wave"])
def test_switch_on(kind: str) -> None:
    supplies, ledgers, points = [], [], []
    for number in range(SUPPLIES // 2 + 1):
        rng = random.Random(f"closing {kind} {number}")
        supplies.append(drawn(rng, kind))
        ledgers.append(worked_out(supplies[-1].text)[1])
        points += switch_on_points(number, supplies[-1], ledgers[-1], rng)
    closed = closings(supplies, points, random.Random(kind))
    _held(f"{kind}, switch-on", list(compared_at_switch_on(supplies, ledgers, points, closed)), len(supplies))
