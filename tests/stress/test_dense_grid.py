"""Acceptance: over random designs a dense grid of mains, frequency and load exceeds no reported maximum by over 0.5 %.

The grid is run with the solvers themselves, parts at nominal; the reported maximum is `far`, which holds no part
tolerance. 400 designs with one bulk capacitor over 11 mains × 5 frequencies × 11 loads; 12 with two capacitors and a
choke over a thinner grid, since a point of those takes ten times as long. Energy and charge balance at every point.
An ordinary run takes the edges of each design's grid (at an end of two axes of the three or more, where a maximum likes
to lie) and 40 points drawn from the rest; `--brute-force` takes all 605.
"""

from __future__ import annotations

import math
import random
from concurrent.futures import ProcessPoolExecutor
from itertools import product

import pytest
from brute_force import BRUTE_FORCE
from random_supplies import Supply, random_supply, worked_out

from derate.circuit.choke_filter import filter_steady_state
from derate.circuit.mains import BRIDGE_DROP, DIODE_DROP
from derate.circuit.rectifier import steady_state
from derate.ledger.entry import Subject
from derate.terms.values import Value

_ALLOWED = 0.005


def _steps(low: float, high: float, count: int) -> list[float]:
    return [low + (high - low) * k / (count - 1) for k in range(count)]


def _reported(text: str, names: dict[str, tuple[Subject, str]]) -> dict[str, Value]:
    _, ledger = worked_out(text)
    found: dict[str, Value] = {}
    for name, (subject, quantity) in names.items():
        rows = [
            row.value for row in ledger.rows(subject, quantity) if row.case is not None and row.case.group == "running"
        ]
        values = [row for row in rows if isinstance(row, Value)]
        if values:
            found[name] = Value(
                min(v.low for v in values), min(v.near for v in values), max(v.far for v in values),
                max(v.high for v in values),
            )  # fmt: skip
    return found


def _balances(
    line_power: float, spent: float, mean: float, load: float, volts: tuple[float, float, float], within: float = 1e-3
) -> None:
    """Energy: the line gives what is spent. Charge: no capacitor has a mean current, so the diodes carry the load's.

    volts: of the bulk, mean, least and greatest. The mean of load / v lies between load / mean (Jensen) and
    load / mean × (high + low)² / (4 high low) (Kantorovich). within: for the quadrature of the solver, at most two
    fifths of the 0.5 % that it declares as its error of the line power.
    """
    assert math.isclose(line_power, spent, rel_tol=within)
    average, low, high = volts
    least = load / average
    assert (1.0 - within) * least <= mean <= (1.0 + within) * least * (high + low) ** 2 / (4.0 * high * low)


def _grid(rng: random.Random, *axes: list[float]) -> list[tuple[float, ...]]:
    """All points of a grid; in an ordinary run its edges and 40 points drawn from the others."""
    points = list(product(*axes))
    if BRUTE_FORCE:
        return points
    edges = [one for one in points if sum(x in (axis[0], axis[-1]) for x, axis in zip(one, axes, strict=True)) >= 2]
    return [*edges, *rng.sample([one for one in points if one not in edges], 40)]


def one_capacitor(seed: int) -> dict[str, float]:
    """Greatest relative excess of the grid over the reported figure, for each quantity of one random design."""
    rng = random.Random(seed)
    supply = random_supply(rng, "half-wave" if seed % 4 == 0 else "bridge")
    line, bulk = Subject("path", ("line",)), Subject("path", ("bulk",))
    capacitor, series = Subject("part", ("C1",)), Subject("part", ("R1",))
    rectifier = Subject("part", ("D1" if supply.half_wave else "BR1",))
    names = {
        "line_rms": (line, "current_rms"), "line_peak": (line, "current_peak"), "bulk_min": (bulk, "voltage_min"),
        "capacitor_rms": (capacitor, "ripple_current"), "diode_average": (rectifier, "current_average"),
        "resistor_power": (series, "power"), "bulk_max": (bulk, "voltage_peak"),
        "diode_reverse": (rectifier, "reverse_voltage"),
    }  # fmt: skip
    reported = _reported(supply.text, names)
    if len(reported) < len(names):  # the load cannot be carried at a corner: the ledger says so, nothing to hold
        return {}
    drop = DIODE_DROP if supply.half_wave else BRIDGE_DROP
    excess = dict.fromkeys(reported, -1.0)
    axes = _steps(supply.low, supply.high, 11), _steps(47, 63, 5), _steps(0.05, 1.0, 11)
    for mains, hertz, share in _grid(rng, *axes):
        found = steady_state(
            mains, hertz, supply.resistance + 0.02, supply.capacitance, share * supply.power, drop,
            half_wave=supply.half_wave,
        )  # fmt: skip
        assert found is not None
        load = share * supply.power
        _balances(
            found.line_power, load + found.resistor_power + found.diode_power,
            found.diode_average * (1.0 if supply.half_wave else 2.0), load,
            (found.bulk_mean, found.bulk_min, found.bulk_max),
        )  # fmt: skip
        for name, value in reported.items():
            # the solver's resistor power holds the wiring too
            at = supply.resistance * found.line_rms**2 if name == "resistor_power" else getattr(found, name)
            over = value.near / at - 1 if name == "bulk_min" else at / value.far - 1
            excess[name] = max(excess[name], over)
    return excess


def test_one_capacitor() -> None:
    with ProcessPoolExecutor(2) as pool:
        results = list(pool.map(one_capacitor, range(400), chunksize=10))
    held = [one for one in results if one]
    assert len(held) > 300
    worst: dict[str, float] = {}
    for one in held:
        for name, over in one.items():
            worst[name] = max(worst.get(name, -1.0), over)
    assert max(worst.values()) <= _ALLOWED, worst
    # The reported figures are not slack either: somewhere each grid comes within its error band of them. A peak has
    # 7.5 % for what stands between the inductances that are tried, which a supply without inductance does not use up.
    assert min(worst.values()) > -0.075, worst


@pytest.mark.parametrize("seed", range(12))
def test_two_capacitors_and_choke(seed: int) -> None:
    supply: Supply = random_supply(random.Random(1000 + seed), "choke")
    line, bulk = Subject("path", ("line",)), Subject("path", ("bulk",))
    names = {
        "line_rms": (line, "current_rms"), "line_peak": (line, "current_peak"), "bulk2_min": (bulk, "voltage_min"),
        "bulk1_rms": (Subject("part", ("C1",)), "ripple_current"),
        "bulk2_rms": (Subject("part", ("C2",)), "ripple_current"),
        "choke_rms": (Subject("part", ("L1",)), "current_rms"),
        "diode_average": (Subject("part", ("BR1",)), "current_average"),
    }  # fmt: skip
    reported = _reported(supply.text, names)
    if "line_rms" not in reported:
        pytest.skip("this drawn supply cannot carry its load at a corner; the ledger says so")
    worst = dict.fromkeys(reported, -1.0)
    for mains, hertz, share in product(_steps(supply.low, supply.high, 4), _steps(47, 63, 3), _steps(0.1, 1.0, 4)):
        found = filter_steady_state(
            mains, hertz, supply.resistance + 0.02, supply.capacitance, supply.inductance, 1.5, supply.second,
            share * supply.power, drop=BRIDGE_DROP,
        )  # fmt: skip
        assert found is not None
        load = share * supply.power
        _balances(
            found.line_power, load + found.resistor_power + found.choke_power + found.diode_power,
            2.0 * found.diode_average, load, (found.bulk2_mean, found.bulk2_min, found.bulk2_max), within=2e-3,
        )  # fmt: skip
        for name, value in reported.items():
            at = getattr(found, name)
            worst[name] = max(worst[name], value.near / at - 1 if name == "bulk2_min" else at / value.far - 1)
    assert max(worst.values()) <= _ALLOWED, worst
