"""LED current and transfer of an optocoupler: a worked example of a maker's note, Kirchhoff node by node, signs."""

from __future__ import annotations

import random

import pytest
from converter_trials import draw, prove_signs

from derate.circuit import barrier as optocoupler
from derate.circuit.barrier import coupled_current, led_current, led_current_needed

_LED = {
    "output": (4.0, 30.0), "reference": (1.2, 3.0), "drop": (0.9, 1.6), "resistance": (100.0, 5e3),
    "bias": (500.0, 1e4),
}  # fmt: skip
_SHARES = {"ratio": (0.2, 3.0), "left": (0.3, 1.0), "warm": (0.5, 1.1)}


def test_greatest_resistor_of_a_makers_note() -> None:
    """A converter maker's lecture notes on shunt references in feedback loops (remembered): output 5 V, LED 1 V,
    reference 2.5 V, ratio 30 %, pull-up 20 kohm to 4.8 V, saturation 0.3 V, 1 mA of bias: 857 ohm at most.

    (5 - 1 - 2.5) / (4.8 - 0.3 + 1 mA x 0.3 x 20 kohm) x 20 kohm x 0.3 = 857.1 ohm; there the pin is just pulled down.
    """
    needed = (4.8 - 0.3) / 20e3
    at_limit = led_current(5.0, 2.5, 1.0, 857.1, 1.0 / 1e-3)
    assert coupled_current(at_limit, 0.3, 1.0, 1.0) == pytest.approx(needed, rel=1e-3)
    assert coupled_current(led_current(5.0, 2.5, 1.0, 870.0, 1e3), 0.3, 1.0, 1.0) < needed
    assert coupled_current(led_current(5.0, 2.5, 1.0, 845.0, 1e3), 0.3, 1.0, 1.0) > needed
    assert led_current_needed(needed, 0.3, 1.0, 1.0) == pytest.approx(at_limit, rel=1e-3)


def test_currents_add_at_the_cathode() -> None:
    """Kirchhoff: what comes through the resistor is what LED and bias resistor take together."""
    source = random.Random(3)
    for _ in range(200):
        k = draw(_LED, source)
        led = led_current(**k)
        if led > 0.0:
            through = (k["output"] - k["reference"] - k["drop"]) / k["resistance"]
            assert through == pytest.approx(led + k["drop"] / k["bias"])


def test_needed_and_drawn_are_inverse() -> None:
    source = random.Random(4)
    for _ in range(200):
        shares = draw(_SHARES, source)
        needed = source.uniform(1e-4, 3e-3)
        assert coupled_current(led_current_needed(needed, **shares), **shares) == pytest.approx(needed)


def test_an_output_under_the_reference_lights_nothing() -> None:
    assert led_current(3.0, 2.5, 1.0, 100.0) == 0.0
    assert led_current(5.0, 2.5, 1.0, 5e3, 1e3) == 0.0  # the bias resistor takes it all


def test_signs() -> None:
    prove_signs(led_current, _LED, optocoupler.COUPLER_SIGNS["led_current"])
    prove_signs(coupled_current, {"led": (1e-4, 2e-2), **_SHARES}, optocoupler.COUPLER_SIGNS["coupled_current"])
    signs = optocoupler.COUPLER_SIGNS["led_current_needed"]
    prove_signs(led_current_needed, {"needed": (1e-4, 5e-3), **_SHARES}, signs)


@pytest.mark.parametrize(("change", "words"), [
    ({"resistance": 0.0}, "resistance of the LED"), ({"bias": 0.0}, "bias resistor"), ({"drop": -1.0}, "LED drop"),
])  # fmt: skip
def test_refused(change: dict[str, float], words: str) -> None:
    good = {"output": 12.0, "reference": 2.5, "drop": 1.2, "resistance": 1e3, "bias": 1e3}
    with pytest.raises(ValueError, match=words):
        led_current(**{**good, **change})
