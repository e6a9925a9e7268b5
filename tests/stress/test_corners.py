"""The few corners run for a filter with a choke hold the worst of all of them, to within the allowance stated beside
them in `derate.stress.line` and `derate.stress.switch_on_choke`. Brute force over every corner of every part."""

from __future__ import annotations

import random
from itertools import product

import pytest
from random_supplies import random_supply, worked_out

from derate.circuit.choke_filter import filter_steady_state, filter_switch_on
from derate.circuit.mains import BRIDGE_DROP
from derate.ledger.entry import Entry, Subject
from derate.terms.values import Value

_ALLOWED = 0.005
LINE, C1, C2 = Subject("path", ("line",)), Subject("part", ("C1",)), Subject("part", ("C2",))


def _high(rows: tuple[Entry, ...], group: str) -> float | None:
    found = [r.value.high for r in rows if r.case is not None and r.case.group == group and isinstance(r.value, Value)]
    return max(found) if found else None


@pytest.mark.parametrize("seed", range(28))
def test_steady_state(seed: int) -> None:
    supply = random_supply(random.Random(2000 + seed), "choke")
    _, ledger = worked_out(supply.text)
    names = {
        "line_rms": (LINE, "current_rms"), "line_peak": (LINE, "current_peak"), "bulk1_rms": (C1, "ripple_current"),
        "bulk2_rms": (C2, "ripple_current"),
    }  # fmt: skip
    reported = {name: _high(ledger.rows(*where), "running") for name, where in names.items()}
    if any(value is None for value in reported.values()):
        pytest.skip("this drawn supply cannot carry its load at a corner; the ledger says so")
    for hertz, r, a, length, c, b in product(
        (47.0, 63.0), (0.95, 1.05), (0.8, 1.2), (0.9, 1.1), (0.95, 1.05), (0.8, 1.2)
    ):
        found = filter_steady_state(
            supply.low, hertz, supply.resistance * r + 0.02, supply.capacitance * a, supply.inductance * length,
            1.5 * c, supply.second * b, supply.power, drop=BRIDGE_DROP,
        )  # fmt: skip
        assert found is not None
        for name, most in reported.items():
            assert most is not None
            assert getattr(found, name) <= most * (1 + _ALLOWED), (name, hertz, r, a, length, c, b)


@pytest.mark.parametrize("seed", range(12))
def test_switch_on(seed: int) -> None:
    supply = random_supply(random.Random(3000 + seed), "choke")
    _, ledger = worked_out(supply.text)
    names = {
        "peak": (LINE, "current_peak"), "i2t": (LINE, "i2t"), "energy": (LINE, "energy"),
        "bulk1_peak": (C1, "voltage_surge"), "bulk2_peak": (C2, "voltage_surge"),
    }  # fmt: skip
    reported = {name: _high(ledger.rows(*where), "switch-on") for name, where in names.items()}
    assert all(value is not None for value in reported.values()), reported
    # the mains are taken at their stiffest here (0.02 ohm, the assumption's low end), where everything is worst
    for degrees, saturation, r, a, length, b in product(
        (60, 75, 90, 99), (0.5, float("inf")), (0.95, 1.05), (0.8, 1.2), (0.9, 1.1), (0.8, 1.2)
    ):
        found = filter_switch_on(
            supply.high, 47.0, supply.resistance * r + 0.02, supply.capacitance * a, supply.inductance * length,
            1.5 * 0.95, supply.second * b, angle=degrees * 3.141592653589793 / 180, saturation=saturation,
        )  # fmt: skip
        for name, most in reported.items():
            assert most is not None
            assert getattr(found, name) <= most * (1 + _ALLOWED), (name, degrees, saturation, r, a, length, b)
