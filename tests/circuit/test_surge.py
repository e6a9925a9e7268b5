"""The surge: its wave against the standard's times, the circuit against a generator network, the signs."""

from __future__ import annotations

import random

import pytest

from derate.circuit.pulse import SURGE_ERROR, SURGE_SIGNS, line_surge, open_circuit_wave

H = 2e-8


def test_wave_is_1_2_by_50():
    """IEC 61000-4-5: front 1.67 x (30 to 90 %) 1.2 us, half value at 50 us, peak 1; rounded constants, 0.5 %."""
    times = [k * 1e-8 for k in range(1, 12000)]
    wave = [open_circuit_wave(1.0, t) for t in times]
    assert max(wave) == pytest.approx(1.0, rel=0.005)
    rise = next(t for t, y in zip(times, wave, strict=True) if y >= 0.9) - next(
        t for t, y in zip(times, wave, strict=True) if y >= 0.3
    )
    assert 1.67 * rise == pytest.approx(1.2e-6, rel=0.01)
    assert max(t for t, y in zip(times, wave, strict=True) if y >= 0.5) == pytest.approx(50e-6, rel=0.005)


def generator(load, charge, span=3e-4):
    """The elementary generator network of Carobbi and Bonci (2013), values from memory, held to both waves below.

    6.04 uF bridged by 25.1 ohm, then 0.814 ohm and 10.4 uH, output bridged by 19.8 ohm; load(i, h) -> output voltage.
    """
    stored, i, out = charge, 0.0, []
    for k in range(int(span / H)):
        u = load(i)
        rate = (stored - 0.814 * i - u) / 10.4e-6
        stored -= H * (i + stored / 25.1) / 6.04e-6
        i += H * rate
        out.append(((k + 1) * H, u, i))
    return out


def crossing(rows, column, level):
    return next(row[0] for row in rows if row[column] >= level)


def test_generator_network_has_both_waves():
    """IEC 61000-4-5: open 1.2 us 30 %, 50 us 20 %; short 8 us 20 %, 20 us 20 %; 2 ohm 10 %."""
    opened = generator(lambda i: 19.8 * i, 1000.0, 1.2e-4)
    peak = max(row[1] for row in opened)
    assert 1.67 * (crossing(opened, 1, 0.9 * peak) - crossing(opened, 1, 0.3 * peak)) == pytest.approx(1.2e-6, rel=0.3)
    assert max(row[0] for row in opened if row[1] >= 0.5 * peak) == pytest.approx(50e-6, rel=0.2)
    shorted = generator(lambda i: 0.0, 1000.0, 1.2e-4)
    most = max(row[2] for row in shorted)
    assert 1.25 * (crossing(shorted, 2, 0.9 * most) - crossing(shorted, 2, 0.1 * most)) == pytest.approx(8e-6, rel=0.2)
    assert max(row[0] for row in shorted if row[2] >= 0.5 * most) == pytest.approx(20e-6, rel=0.2)
    assert peak / most == pytest.approx(2.0, rel=0.1)


OPEN_PEAK = 0.9303  # of the charging voltage, measured in the test above


@pytest.mark.parametrize("farads", [1e-5, 3.3e-5, 1e-4])
@pytest.mark.parametrize("ohms", [0.5, 8.2, 22.0])
def test_bulk_against_the_generator_network(farads, ohms):
    """Ours is an upper figure of the bulk voltage; the truth, the network's, lies inside the declared band."""
    state = {"v": 373.0, "i2t": 0.0, "peak": 0.0}

    def load(i):
        u = (i + (state["v"] - 373.0) / ohms) / (1.0 / 19.8 + 1.0 / ohms)
        current = (u + 373.0 - state["v"]) / ohms
        if current < 0.0:
            return 19.8 * i
        state["v"] += H * current / farads
        state["i2t"] += H * current * current
        state["peak"] = max(state["peak"], current)
        return u

    generator(load, 1000.0 / OPEN_PEAK)
    found = line_surge(1000.0, 373.0, 373.0, ohms, farads)
    for name, truth in (("bulk_peak", state["v"]), ("peak", state["peak"]), ("i2t", state["i2t"])):
        below, above = SURGE_ERROR[name]
        assert below <= truth / getattr(found, name) - 1.0 <= above, name


@pytest.mark.parametrize("clamp", [600.0, 700.0, 800.0])
def test_varistor_against_the_generator_network(clamp):
    state = {"energy": 0.0, "peak": 0.0}

    def load(i):
        if 19.8 * i + 373.0 <= clamp:
            return 19.8 * i
        current = i - (clamp - 373.0) / 19.8
        state["energy"] += H * clamp * current
        state["peak"] = max(state["peak"], current)
        return clamp - 373.0

    generator(load, 2000.0 / OPEN_PEAK)
    found = line_surge(2000.0, 373.0, 1000.0, 1000.0, 1e-8, clamp=clamp)  # a bulk that takes nothing
    for name, truth in (("varistor_energy", state["energy"]), ("varistor_peak", state["peak"])):
        below, above = SURGE_ERROR[name]
        assert below <= truth / getattr(found, name) - 1.0 <= above, name


@pytest.mark.parametrize(("farads", "volts"), [(1e-5, 670.0), (3.3e-5, 507.0)])
def test_two_known_cases(farads, volts):
    """1 kV behind 2 ohm, no varistor, 8.2 ohm: 670 V and 507 V, computed separately for a mains that is not stated.

    358 V (253 V mains) to 373 V (264 V) start; the range ours gives there must contain the figure.
    """
    low = line_surge(1000.0, 358.0, 358.0, 8.2, farads).bulk_peak
    high = line_surge(1000.0, 373.0, 373.0, 8.2, farads).bulk_peak
    assert low < volts < high


def test_charge_balance_and_limits():
    """The bulk's rise is its charge; a clamp bounds the bulk; without current nothing changes."""
    found = line_surge(1000.0, 373.0, 373.0, 8.2, 1e-5, clamp=700.0)
    assert found.bulk_peak < 700.0
    assert found.energy == pytest.approx(8.2 * found.i2t)
    assert line_surge(1000.0, 0.0, 1000.0, 8.2, 1e-5).i2t == 0.0
    free = line_surge(1000.0, 373.0, 373.0, 8.2, 1e-5)
    assert line_surge(1000.0, 373.0, 373.0, 8.2, 1e-5, clamp=5000.0).bulk_peak == pytest.approx(free.bulk_peak)


def test_declared_signs():
    rng = random.Random(51)
    moved = set()
    for _ in range(100):
        given = {
            "level": rng.uniform(500.0, 2000.0), "mains": rng.uniform(300.0, 375.0), "start": rng.uniform(200.0, 375.0),
            "series_resistance": rng.uniform(0.5, 30.0), "capacitance": 10 ** rng.uniform(-5.5, -4.0),
            "drop": rng.uniform(0.5, 2.0), "clamp": rng.uniform(500.0, 900.0), "ahead": rng.uniform(0.1, 10.0),
            "source_resistance": rng.uniform(1.0, 4.0),
        }  # fmt: skip
        low = line_surge(**given)
        for key in given:
            high = line_surge(**given | {key: given[key] + 2.0 if key == "drop" else 1.05 * given[key]})
            for name, inputs in SURGE_SIGNS.items():
                before = getattr(low, name)
                if before <= 1e-3 * given["level"] * (1e-6 if name == "i2t" else 1.0):
                    continue
                change = getattr(high, name) / before - 1.0
                if abs(change) > 3e-3:  # the grid of instants shows below that
                    moved.add((name, key))
                    if inputs[key]:
                        assert change * inputs[key] > 0.0, (name, key, given)
    told = {(name, key) for name, inputs in SURGE_SIGNS.items() for key, sign in inputs.items() if sign}
    assert told <= moved, sorted(told - moved)


def test_refuses_with_the_range():
    with pytest.raises(ValueError, match="100 V to 6000 V"):
        line_surge(0.0, 373.0, 373.0, 8.2, 1e-5)
    with pytest.raises(ValueError, match="clamping voltage"):
        line_surge(1000.0, 373.0, 373.0, 8.2, 1e-5, clamp=0.0)


def test_a_small_bulk_is_not_stepped_over() -> None:
    """0.1 uF behind a varistor is full within 0.3 us: the width of the pulse is no matter of where a step fell."""
    from derate.circuit.mains import SURGE_BEHIND

    def width(clamp: float, ahead: float = 10.5) -> float:
        given = {"level": 1000.0, "mains": 253.0, "series_resistance": 3.15, "capacitance": 9e-8}
        return SURGE_BEHIND.solve(clamp=clamp, ahead=ahead, **given)["pulse_width"]

    low, high = (430.0, 10.5), (710.0, 9.5)
    corners = [width(clamp, ahead) for clamp in (low[0], high[0]) for ahead in (low[1], high[1])]
    between = [width(430.0 + volts, ahead) for volts in range(24) for ahead in (9.5, 10.0, 10.5)]
    assert min(between) >= min(corners) * (1.0 - 1e-9) and max(between) <= max(corners)
