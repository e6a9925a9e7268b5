"""Temperatures and switch losses: published cases, balances, signs, refusals."""

from __future__ import annotations

import random

import pytest
from converter_trials import draw, prove_signs

from derate.circuit import thermal
from derate.circuit.flyback import operating_point
from derate.circuit.thermal import (
    capacitive_loss,
    carried_temperature,
    chain_temperatures,
    conduction_loss,
    crossover_loss,
    junction_temperature,
    on_resistance,
    settled_junction,
)


# Hot spot of fusible resistors, makers' ratings: 70 degC, 0.33 W and 240 K/W, 0.5 W and 150 K/W. Exact arithmetic.
def test_hot_spots():
    assert junction_temperature(70.0, 0.33, [240.0]) == pytest.approx(149.2)
    assert junction_temperature(70.0, 0.5, [150.0]) == pytest.approx(145.0)


def test_chain_is_the_sum():
    source = random.Random(1)
    for _ in range(100):
        resistances = [source.uniform(0, 50) for _ in range(4)]
        nodes = chain_temperatures(40.0, 1.5, resistances)
        assert nodes[-1] == pytest.approx(40 + 1.5 * sum(resistances))
        assert list(nodes) == sorted(nodes)
        assert junction_temperature(40.0, 1.5, resistances) == pytest.approx(nodes[-1])


def test_carrying():
    assert carried_temperature(76.0, 25.0, 40.0) == 91.0
    assert carried_temperature(76.0, 25.0, 10.0) == 61.0
    assert carried_temperature(carried_temperature(76.0, 25.0, 40.0), 40.0, 25.0) == 76.0
    with pytest.raises(ValueError, match="ambient it is carried to is 70 degC: state a value from -15 degC to 65 degC"):
        carried_temperature(76.0, 25.0, 70.0)
    with pytest.raises(ValueError, match="ambient is 90 degC"):
        carried_temperature(76.0, 90.0, 95.0)


def test_on_resistance_meets_both_points():
    assert on_resistance(2.2, 25.0, 2.4) == pytest.approx(2.2)
    assert on_resistance(2.2, 150.0, 2.4) == pytest.approx(2.2 * 2.4)
    with pytest.raises(ValueError, match="temperature is 160 degC: state a value from 25 degC to 150 degC"):
        on_resistance(2.2, 160.0, 2.4)


# FSDM0565R: 2.2 ohm at 25 degC. 40 W at 0.81 from 90 V, 520 uH: conduction alone is past a watt hot.
def test_switch_of_a_40_watt_supply():
    point = operating_point(90.0, 40 / 0.81, 520e-6, 64.3, 66e3)
    assert conduction_loss(point.rms, on_resistance(2.2, 100.0, 2.4)) > 2.0


def test_turn_on_loss_against_energy():
    """Continuous: all the energy the capacitance holds at Vdc + VR, every cycle."""
    band = capacitive_loss(1e-10, 300.0, 100.0, 65e3, "continuous")
    assert band.low == band.high == pytest.approx(0.5 * 1e-10 * 400**2 * 65e3)
    valley = capacitive_loss(1e-10, 80.0, 100.0, 65e3, "boundary")
    assert valley.low == 0.0 < valley.high
    assert crossover_loss(400.0, 0.5, 40e-9, 65e3) == pytest.approx(0.26)


def test_settled_junction_balances_or_refuses():
    source, settled, refused = random.Random(2), 0, 0
    ranges = {"reference": (30, 90), "thermal": (5, 60), "fixed_loss": (0, 1), "rms": (0.1, 1.5), "at_25": (0.5, 5)}
    for _ in range(300):
        d = draw(ranges, source)
        try:
            state = settled_junction(**d, ratio=2.4)
        except ValueError as error:
            assert "state a smaller loss" in str(error)
            refused += 1
            # refused rightly: at the highest temperature it still heats more than it sheds
            assert d["reference"] + d["thermal"] * (d["fixed_loss"] + d["rms"] ** 2 * d["at_25"] * 2.4) > 150
            continue
        settled += 1
        assert state.temperature == pytest.approx(d["reference"] + d["thermal"] * state.loss, abs=1e-6)
        assert state.resistance == pytest.approx(on_resistance(d["at_25"], max(25.0, state.temperature), 2.4))
    assert settled > 50 and refused > 20


def test_signs_hold():
    signs = thermal.SIGNS
    prove_signs(
        lambda reference, power, resistances: junction_temperature(reference, power, [resistances, 2.0]),
        {"reference": (0, 90), "power": (0.1, 5), "resistances": (1, 50)},
        signs["junction_temperature"],
    )
    prove_signs(
        carried_temperature,
        {"temperature": (50, 120), "ambient": (20, 30), "wanted": (10, 50)},
        signs["carried_temperature"],
    )
    prove_signs(on_resistance, {"at_25": (0.5, 5), "temperature": (25, 150), "ratio": (1.5, 3)}, signs["on_resistance"])
    prove_signs(conduction_loss, {"rms": (0.1, 3), "resistance": (0.1, 5)}, signs["conduction_loss"])
    ranges = {"capacitance": (2e-11, 5e-10), "bulk": (90, 400), "reflected": (50, 140), "frequency": (3e4, 2e5)}
    for mode, end, reflected in (("continuous", "high", 1), ("boundary", "high", 1), ("boundary", "low", -1)):
        # the two ends of the band move opposite ways with the reflected voltage, which is why the loss has no sign
        wanted = signs["capacitive_loss"] | {"reflected": reflected}
        prove_signs(lambda mode=mode, end=end, **x: getattr(capacitive_loss(mode=mode, **x), end), ranges, wanted)
    prove_signs(
        crossover_loss,
        {"voltage": (100, 600), "current": (0.1, 3), "time": (1e-8, 2e-7), "frequency": (3e4, 2e5)},
        signs["crossover_loss"],
    )
    prove_signs(
        lambda **x: settled_junction(**x).temperature,
        {
            "reference": (30, 60),
            "thermal": (5, 30),
            "fixed_loss": (0, 1),
            "rms": (0.1, 1),
            "at_25": (0.5, 2),
            "ratio": (1.5, 2.8),
        },
        signs["settled_junction"],
    )


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: junction_temperature(40.0, 1.0, []), "at least one"),
        (lambda: junction_temperature(40.0, -1.0, [10.0]), "power is -1 W"),
        (lambda: junction_temperature(float("nan"), 1.0, [10.0]), "reference is nan"),
        (lambda: on_resistance(1.0, 100.0, 0.5), "ratio is 0.5"),
        (lambda: capacitive_loss(1e-10, 300, 100, 65e3, "some"), "state 'continuous'"),
        (lambda: settled_junction(90.0, 60.0, 0.5, 1.5, 3.0, 2.4), "does not settle below 150 degC"),
    ],
)
def test_refusals_give_the_range(call, text):
    with pytest.raises(ValueError, match=text):
        call()
