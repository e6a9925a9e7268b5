"""What capacitors across the mains add to the current of a rectifier: held to a fixed-step integrator of own making."""

from __future__ import annotations

import random
from math import cos, pi, sin, sqrt
from typing import NamedTuple

import pytest

from derate.circuit.mains import LEAD, beside

STEPS = 4000  # of a period


class Walked(NamedTuple):
    own: float
    own_peak: float
    both: float
    both_peak: float


def walked(
    mains: float, hertz: float, ohms: float, henries: float, farads: float, watts: float, across: float
) -> Walked:
    """Rms and peak of the rectifier alone and of both, over one period once it has settled.

    The mains is stiff ahead of the capacitor across it; behind that stand a resistance, an inductance, a bridge.
    """
    crest, turn, step = sqrt(2.0) * mains, 2.0 * pi * hertz, 1.0 / (hertz * STEPS)
    bulk, flows = crest, 0.0
    own: list[float] = []
    both: list[float] = []
    for k in range(40 * STEPS):
        at = turn * k * step
        line = crest * sin(at)
        sign = 1.0 if line >= 0.0 else -1.0
        drives = abs(line) - bulk - ohms * flows
        if henries:
            flows = max(0.0, flows + step * drives / henries)
        else:
            flows = max(0.0, (abs(line) - bulk) / ohms)
        bulk += step * (flows - watts / bulk) / farads
        if k >= 39 * STEPS:
            own.append(sign * flows)
            both.append(own[-1] + across * crest * turn * cos(at))
    mean = [sqrt(sum(one * one for one in each) / len(each)) for each in (own, both)]
    return Walked(mean[0], max(map(abs, own)), mean[1], max(map(abs, both)))


@pytest.mark.parametrize("seed", range(8))
def test_both_together_lie_within_what_is_said(seed: int) -> None:
    rng = random.Random(4100 + seed)
    mains, watts = rng.uniform(90.0, 264.0), 10.0 ** rng.uniform(-0.3, 1.3)
    farads = watts * rng.uniform(1.0, 3.0) * (230.0 / mains) ** 2 * 1e-6
    ohms, henries = rng.uniform(3.0, 30.0), rng.choice((0.0, 1e-3, 20e-3))
    across = rng.choice((47e-9, 100e-9, 220e-9, 470e-9))
    found = walked(mains, 50.0, ohms, henries, farads, watts, across)
    given = {"rms": found.own, "peak": found.own_peak, "mains": mains, "frequency": 50.0}
    most = beside(**given, taken=across, given=across, lead=LEAD)
    least = beside(**given, taken=across, given=across, lead=-LEAD)
    assert least["rms"] < found.both < most["rms"]
    assert least["peak"] <= found.both_peak * 1.0001 and found.both_peak < most["peak"] * 1.0001


def test_one_watt_behind_a_large_capacitor_draws_far_more_than_its_rectifier() -> None:
    """Of 1 W with 220 nF at 230 V: without the capacitor's own current the line reads more than a third too little."""
    found = walked(230.0, 50.0, 22.0, 0.0, 2.2e-6, 1.0, 220e-9)
    most = beside(rms=found.own, peak=found.own_peak, mains=230.0, frequency=50.0, taken=0.0, given=220e-9, lead=LEAD)
    assert found.both > 1.3 * found.own
    assert found.both < most["rms"] < found.own + 2.0 * pi * 50.0 * 220e-9 * 230.0


def test_a_current_that_lags_takes_from_it_and_one_that_leads_adds() -> None:
    """What lags by a quarter of a period takes from the capacitor's current, what leads adds to it."""
    lagging = beside(rms=0.02, peak=0.0283, mains=230.0, frequency=50.0, taken=100e-9, given=100e-9, lead=-LEAD)
    leading = beside(rms=0.02, peak=0.0283, mains=230.0, frequency=50.0, taken=100e-9, given=100e-9, lead=LEAD)
    theirs = 2.0 * pi * 50.0 * 100e-9 * 230.0
    assert lagging["rms"] == pytest.approx(0.02 - sqrt(0.5) * theirs)
    assert leading["rms"] == pytest.approx(sqrt(0.02**2 + theirs**2 + sqrt(2.0) * 0.02 * theirs))
