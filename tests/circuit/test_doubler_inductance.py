"""A doubler behind inductance: against an integrator that is held to ngspice, and over whole ranges."""

from __future__ import annotations

import random
from math import isclose

import numpy as np
import pytest
from brute_force import BRUTE_FORCE
from line_integrator_many import walk_many
from mains_bench import need_ngspice, ngspice, rms

from derate.circuit.doubler_inductance import doubler_over_ranges, doubler_with_inductance
from derate.circuit.rectifier import doubler_steady_state

HARD = (115.0, 50.0, 0.8, 0.8e-3, 150e-6, 90.0)  # mains, frequency, resistance, inductance, each capacitor, load
SAMPLES, STEPS = (40, 4000) if BRUTE_FORCE else (6, 1500)
DIODE = 0.07  # one of the near-ideal diodes of `mains_bench`


def _supply(rng: random.Random) -> tuple[float, ...]:
    """A doubler of 0.5 to 100 W at 90 to 140 V with 0.03 to 6 mH ahead."""
    mains, load = rng.uniform(90.0, 140.0), 10.0 ** rng.uniform(-0.3, 2.0)
    each = (load * rng.uniform(0.4, 1.6) * (207.0 / mains) ** 2 * 1.1 + 0.3) * 1e-6
    ohms = min(10.0 ** rng.uniform(-1.0, 1.2), 0.02 * mains * mains / load)
    return mains, rng.choice((47.0, 50.0, 60.0, 63.0)), ohms, 10.0 ** rng.uniform(-4.5, -2.22), each, load


def _walked(given: list[tuple[float, ...]], drop: float, steps: int = STEPS):  # type: ignore[no-untyped-def]
    columns = [np.array(one) for one in zip(*given, strict=True)]
    return walk_many("doubler", *columns, drop, steps=steps, cycles=28, counted=4)


def test_the_integrator_agrees_with_ngspice() -> None:
    need_ngspice()
    mains, hertz, ohms, henries, farads, watts = HARD
    crest = 2.0**0.5 * mains
    circuit = (
        f"V1 s 0 SIN(0 {crest} {hertz})\nR1 s m {ohms}\nL1 m a {henries}\nD1 a p DI\nD2 n a DI\n"
        f"C1 p 0 {farads} IC={crest}\nC2 0 n {farads} IC={crest}\nB1 p n I={watts}/max(v(p)-v(n),40)\n"
    )
    times, p, n, amperes = ngspice(circuit, "v(p) v(n) i(L1)", 2e-5, 0.3, 0.3 - 2.0 / hertz, tight=False)
    walked = _walked([HARD], DIODE, 2000)
    whole = [a - b for a, b in zip(p, n, strict=True)]
    assert isclose(walked.line_rms[0], rms(times, amperes), rel_tol=0.0025)
    assert isclose(walked.line_peak[0], max(abs(one) for one in amperes), rel_tol=0.0025)
    assert isclose(walked.bulk_max[0], max(whole), rel_tol=0.0025)
    assert isclose(walked.bulk_min[0], min(whole), rel_tol=0.0025)
    assert isclose(walked.capacitor_max[0], max(p), rel_tol=0.0025)


def test_random_doublers() -> None:
    """Within 0.25 % of the integrator; the peak, which its steps cut, within half a per cent where it is sharp."""
    rng = random.Random(8800)
    given = [_supply(rng) for _ in range(SAMPLES)]
    walked = _walked(given, 0.875)
    compared = 0
    for k, one in enumerate(given):
        found = doubler_with_inductance(*one, 0.875)
        assert (found is not None) == bool(walked.carried[k]), one
        if found is None or not walked.settled[k]:
            continue
        compared += 1
        figures = {
            "line_rms": found.line_rms, "capacitor_rms": found.capacitor_rms, "mean": 2.0 * found.diode_average,
            "bulk_max": found.bulk_max, "bulk_min": found.bulk_min, "capacitor_max": found.capacitor_max,
            "capacitor_min": found.capacitor_min,
        }  # fmt: skip
        for name, value in figures.items():
            assert isclose(value, getattr(walked, name)[k], rel_tol=0.0025), (name, one)
        assert isclose(found.line_peak, walked.line_peak[k], rel_tol=0.015), one
        energy = found.line_power - found.resistor_power - found.diode_power
        assert isclose(energy, one[-1], rel_tol=0.003), one
    assert compared >= SAMPLES // 2


def test_next_to_no_inductance_is_the_doubler_without() -> None:
    mains, hertz, ohms, _, farads, watts = HARD
    bare = doubler_steady_state(mains, hertz, ohms, farads, watts, 0.875)
    least = doubler_with_inductance(mains, hertz, ohms, 2e-6, farads, watts, 0.875)
    assert bare is not None and least is not None
    for name in ("line_rms", "line_peak", "bulk_min", "bulk_max", "capacitor_rms", "capacitor_min"):
        assert isclose(getattr(bare, name), getattr(least, name), rel_tol=0.004), name
    assert doubler_with_inductance(mains, hertz, ohms, 0.0, farads, watts, 0.875) == bare


@pytest.mark.parametrize("seed", range(3))
def test_nothing_inside_a_range_is_above_its_greatest(seed: int) -> None:
    """20 inductances and 2 capacitances: at most the allowance that the formula's band holds, 2 and 5 %."""
    mains, hertz, ohms, _, farads, watts = _supply(random.Random(8900 + seed))
    most = (0.8e-3, 2e-3, 6e-3)[seed]
    fixed = {"mains": mains, "frequency": hertz, "series_resistance": ohms, "load": watts, "drop": 0.875}
    greatest = doubler_over_ranges(
        **fixed, inductance_from=0.0, inductance_to=most, capacitance_from=0.8 * farads, capacitance_to=farads
    )
    least = doubler_over_ranges(
        **fixed, inductance_from=most, inductance_to=0.0, capacitance_from=farads, capacitance_to=0.8 * farads
    )
    for n in range(21):
        for share in (0.8, 1.0):
            found = doubler_with_inductance(mains, hertz, ohms, most * (n / 20) ** 2, share * farads, watts, 0.875)
            assert found is not None
            assert found.line_rms < 1.02 * greatest["line_rms"]
            assert found.line_peak < 1.05 * greatest["line_peak"]
            assert found.capacitor_rms < 1.02 * greatest["capacitor_rms"]
            assert found.bulk_min > 0.995 * least["bulk_min"]


def test_what_is_outside_is_refused_and_too_much_load_is_not_carried() -> None:
    with pytest.raises(ValueError, match="line inductance is 1 H"):
        doubler_with_inductance(115.0, 50.0, 1.0, 1.0, 1e-4, 50.0)
    assert doubler_with_inductance(115.0, 50.0, 1.0, 1e-3, 1e-5, 90.0) is None
