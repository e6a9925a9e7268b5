"""The dead zone over ranges against a scan of fault resistance, element, path, mains and limits in plain Ohm's law."""

from __future__ import annotations

import random
from itertools import product
from math import inf, log10, sqrt

import numpy as np
import pytest

from derate.circuit.line_faults import DeadZone, Limits, certain, dead_zone, widest

_FAULTS = np.concatenate(([0.0], np.geomspace(1e-3, 1e5, 700)))


def _steps(span, count):
    return np.unique(np.linspace(*span, count))


def _log(rng, low, high):
    return 10 ** rng.uniform(log10(low), log10(high))


def _span(rng, middle):
    kind = rng.random()
    if kind < 0.25:
        return middle, middle
    if kind < 0.6:  # a tolerance
        return middle * (1.0 - rng.uniform(0.01, 0.2)), middle * (1.0 + rng.uniform(0.01, 0.2))
    return middle / rng.uniform(1.0, 30.0), middle * rng.uniform(1.0, 30.0)  # hardly known


def _drawn(rng):
    """Ranges of a random partial short: mains, element, rest, and the ends of the four limits."""
    volts = rng.uniform(85.0, 264.0)
    mains = (volts * rng.uniform(0.8, 1.0) - 2.0, volts)
    ohms = _log(rng, 0.3, 2.5e3)
    element = _span(rng, ohms)
    rest = tuple(sorted((rng.choice([0.0, 0.01, _log(rng, 0.05, 300.0)]), _log(rng, 0.3, 300.0))))
    watts, ratio = _log(rng, 0.1, 20.0), rng.choice([0.9, 1.1, 3.0, 16.0])
    amps = sqrt(watts / ohms) * _log(rng, 0.3, 10.0)
    rated_power, opening_power = _span(rng, watts), _span(rng, ratio * watts)
    nothing = (inf, inf)
    by_current = rng.random() < 0.3
    return mains, element, rest, {
        "rated_power": nothing if by_current else rated_power,
        "rated_current": _span(rng, sqrt(watts / ohms)) if by_current else nothing,
        "opening_power": opening_power if rng.random() < 0.7 else nothing,
        "opening_current": _span(rng, amps) if rng.random() < 0.6 else nothing,
    }  # fmt: skip


def _points(mains, element, rest, limits, count):
    """One array an input, over a grid of their ranges; a limit without a figure stays infinite."""
    steps = [_steps(mains, 3), _steps(element, count), _steps(rest, 3)]
    for name in Limits._fields:
        span = limits[name]
        steps.append(np.array([inf]) if span[0] == inf else _steps(span, 3))
    return [axis.ravel() for axis in np.meshgrid(*steps, indexing="ij")]


def _inside(volts, own, rest, power, amps, opens, fuse, fault):
    """Whether a fault overheats the element and nothing opens, by Ohm's law and nothing else."""
    current = volts / (own + rest + fault)
    heat = current**2 * own
    return ((heat > power) | (current > amps)) & (heat < opens) & (current < fuse)


def _bad_ends(limits):
    return Limits(*(limits[name][0 if name.startswith("rated") else 1] for name in Limits._fields))


def _kind_ends(limits):
    return Limits(*(limits[name][1 if name.startswith("rated") else 0] for name in Limits._fields))


def test_the_band_holds_every_fault_that_a_scan_finds():
    rng = random.Random(411)
    empty = found = floors = tight = 0
    for _ in range(300):
        mains, element, rest, limits = _drawn(rng)
        zone = widest(mains, element, rest, _bad_ends(limits))
        points = _points(mains, element, rest, limits, 9)
        bad = np.array([bool(_inside(*points, fault).any()) for fault in _FAULTS])
        seen = _FAULTS[bad]
        if zone is None:
            empty += 1
            assert not len(seen), (mains, element, rest, limits, seen)
            continue
        if not len(seen):  # the band may lie between the points of the scan, but then it is a narrow one
            continue
        found += 1
        floors += zone.lowest == 0.0
        assert zone.lowest <= seen[0] and seen[-1] <= zone.highest, (mains, element, rest, limits, zone)
        # and it is no wider than it has to be: 700 points over eight decades stand 2.7 % apart
        tight += seen[-1] > 0.95 * zone.highest
    assert empty > 20 and found > 200 and 40 < floors < 0.9 * found, (empty, found, floors)
    assert tight > 0.8 * found, (tight, found)


def test_what_is_certain_holds_for_every_value():
    rng = random.Random(412)
    sure = above = 0
    for _ in range(1500):
        mains, element, rest, limits = _drawn(rng)
        zone = certain(mains, element, rest, _kind_ends(limits))
        if zone is None:
            continue
        sure += 1
        volts, own, path, power, amps, opens, fuse = _points(mains, element, rest, limits, 9)
        with np.errstate(divide="ignore"):
            heats = np.minimum(np.sqrt(power / own), amps)
            clears = np.minimum(np.sqrt(opens / own), fuse)
        upper, lower = volts / heats - own - path, np.maximum(volts / clears - own - path, 0.0)
        assert (heats < clears).all() and (upper > 0.0).all(), (mains, element, rest, limits)
        assert (upper >= zone.highest * (1 - 1e-9)).all() and (lower <= zone.lowest * (1 + 1e-9) + 1e-9).all()
        if 0.0 < zone.lowest < zone.highest:
            above += 1
            outer = widest(mains, element, rest, _bad_ends(limits))
            assert outer is not None and outer.lowest <= zone.lowest and zone.highest <= outer.highest
    assert sure > 300 and above > 100, (sure, above)


def test_exact_figures_give_the_same_band_both_ways():
    rng = random.Random(413)
    both = 0
    for _ in range(300):
        volts, ohms, watts = rng.uniform(85.0, 264.0), _log(rng, 0.5, 3e3), _log(rng, 0.1, 20.0)
        limits = Limits(rated_power=watts, opening_power=16.0 * watts)
        plain = dead_zone(volts, ohms, watts, 16.0 * watts)
        wide = widest((volts, volts), (ohms, ohms), (0.0, 0.0), limits)
        sure = certain((volts, volts), (ohms, ohms), (0.0, 0.0), limits)
        assert wide == sure
        assert (plain is None) == (wide is None)
        if plain is not None and wide is not None:
            both += 1
            # the plain one seeks its ends to 1e-4 of the power: half of that of the total resistance
            assert wide.highest == pytest.approx(plain.highest, rel=1e-3, abs=1e-3 * ohms)
            assert wide.lowest == pytest.approx(plain.lowest, rel=1e-3, abs=1e-3 * ohms)
    assert both > 100


def test_declared_ends_are_the_bad_ones():
    """Each of the ten ends moved its bad way never narrows the band, and each widens one somewhere."""
    rng = random.Random(414)
    moved: set[str] = set()
    for _ in range(600):
        mains, element, rest, limits = _drawn(rng)
        base = widest(mains, element, rest, _bad_ends(limits))
        wider = {
            "mains low": ((mains[0] * 0.9, mains[1]), element, rest, {}),
            "mains high": ((mains[0], mains[1] * 1.1), element, rest, {}),
            "element low": (mains, (element[0] * 0.8, element[1]), rest, {}),
            "element high": (mains, (element[0], element[1] * 1.2), rest, {}),
            "rest low": (mains, element, (rest[0] * 0.8, rest[1]), {}),
            "rest high": (mains, element, (rest[0], rest[1] * 1.2), {}),
        } | {name: (mains, element, rest, {name: 0.8 if name.startswith("rated") else 1.25}) for name in Limits._fields}
        for name, (m, e, q, factor) in wider.items():
            ends = _bad_ends(limits)
            more = widest(m, e, q, ends._replace(**{n: getattr(ends, n) * f for n, f in factor.items()}))
            if base is None:
                moved |= {name} if more is not None else set()
                continue
            assert more is not None, (name, mains, element, rest, limits)
            # the lower end may rise where a bad part of the element's range takes part no longer: not by these moves
            assert more.lowest <= base.lowest * (1 + 1e-9) + 1e-9 and more.highest >= base.highest * (1 - 1e-9), name
            if more != base:
                moved.add(name)
    assert moved == set(wider)


@pytest.mark.parametrize(("ends", "zone"), [
    # 10 ohm of 0.5 W and a fuse sure to open at 210 mA: overheated above 224 mA, so the fuse opens first
    (((10.0, 10.0), 0.5, 0.210), None),
    # 12 ohm, its tolerance's end, is overheated from 204 mA up: 230 V / 0.204 A and 230 V / 0.21 A, less 12 ohm
    (((8.0, 12.0), 0.5, 0.210), (230.0 / 0.21 - 12.0, 230.0 * sqrt(12.0 / 0.5) - 12.0)),
])  # fmt: skip
def test_a_tolerance_opens_a_band_that_is_empty_at_nominal(ends, zone):
    element, watts, fuse = ends
    found = widest((230.0, 230.0), element, (0.0, 0.0), Limits(rated_power=watts, opening_current=fuse))
    assert found == (None if zone is None else DeadZone(pytest.approx(zone[0]), pytest.approx(zone[1])))


def test_out_of_range_is_refused():
    good = ((230.0, 230.0), (8.2, 8.2), (0.0, 1.0), Limits(rated_power=2.0))
    for function, (k, bad) in product((widest, certain), [
        (0, (230.0, float("nan"))), (1, (0.0, 8.2)), (1, (9.0, 8.2)), (2, (0.0, inf)), (3, Limits()),
        (3, Limits(rated_power=0.0)), (3, Limits(rated_power=float("nan"))),
    ]):  # fmt: skip
        with pytest.raises(ValueError, match=r"state|rise"):
            function(*good[:k], bad, *good[k + 1 :])
