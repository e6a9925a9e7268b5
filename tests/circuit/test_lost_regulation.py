"""Lost regulation, parts shorted or open: energy balances stepped in time, a published rail, signs, refusals."""

from __future__ import annotations

import random
from math import sqrt

import pytest
from converter_trials import draw, prove_signs

from derate.circuit import converter_faults as lost_regulation
from derate.circuit import converter_faults as shorted_parts
from derate.circuit.converter_faults import (
    clamp_diode_shorted_power,
    energy_left,
    flux_of_on_time,
    greatest_power,
    open_rectifier_voltage,
    output_at_least_load,
    output_at_stop,
    sense_shorted_peak,
    series_share,
    time_to_voltage,
)
from derate.circuit.flyback import limit_power
from derate.circuit.numerics import widened
from derate.circuit.secondary import RAIL_BAND, flyback_winding_rail

_LIMIT = {
    "limit": (0.2, 4.0), "bulk": (100.0, 400.0), "inductance": (1e-4, 3e-3), "delay": (0.0, 1e-6),
    "frequency": (3e4, 1.3e5),
}  # fmt: skip


def test_no_operating_point_hands_over_more() -> None:
    """The inverse of the operating point, in either mode, never exceeds it; in the boundary mode neither."""
    source = random.Random(1)
    for _ in range(400):
        k = draw(_LIMIT, source)
        reflected = source.uniform(40.0, 150.0)
        most = greatest_power(**k)
        peak = k["limit"] + k["bulk"] * k["delay"] / k["inductance"]
        assert limit_power(peak, k["bulk"], k["inductance"], reflected, k["frequency"]) <= most * (1 + 1e-9)
        own = 1.0 / (k["inductance"] * peak * (1.0 / k["bulk"] + 1.0 / reflected))  # frequency at the boundary
        at_boundary = 0.5 * k["inductance"] * peak**2 * own
        assert at_boundary <= greatest_power(k["limit"], k["bulk"], k["inductance"], k["delay"]) * (1 + 1e-9)


def test_rise_stepped_period_by_period() -> None:
    """Each period adds L I^2 / 2 to the output capacitor: the time found by stepping agrees within one period."""
    inductance, peak, hertz, farads, start, to = 750e-6, 1.2, 65e3, 1.58e-3, 12.0, 25.0
    volts, count = start, 0
    while volts < to:
        volts = sqrt(volts**2 + inductance * peak**2 / farads)
        count += 1
    power = greatest_power(peak, 300.0, inductance, 0.0, hertz)
    assert count / hertz == pytest.approx(time_to_voltage(start, to, farads, power), abs=1.0 / hertz)


def test_stop_is_the_rail_turned_round() -> None:
    """AN-4137 p18: with the output at the voltage found, the rail by turns stands at the stop; its band lies round."""
    source = random.Random(2)
    for _ in range(200):
        stop, own, drop = source.uniform(18, 40), source.uniform(0.5, 1.2), source.uniform(0.3, 1.0)
        turns, output_turns = source.uniform(8, 40), source.uniform(3, 20)
        volts = output_at_stop(stop, own, turns, output_turns, drop)
        if volts <= 0.0:
            continue
        assert flyback_winding_rail(turns, output_turns, volts, drop, own, "loaded").nominal == pytest.approx(stop)
        low, high = widened(volts, lost_regulation.LOST_REGULATION_ERROR["output_at_stop"])
        # a rail that rings to the top of its band stops at the low end, one that lags at the high end (drops left out)
        assert low == pytest.approx(volts / (1 + RAIL_BAND["light"][1]))
        assert high == pytest.approx(volts / (1 + RAIL_BAND["light"][0]))


def test_a_load_of_constant_current_settles_highest() -> None:
    assert output_at_least_load(10.0, 0.5) == 20.0
    assert sqrt(10.0 * 12.0 / 0.5) < 20.0  # the same current at 12 V as a resistor


def test_capacitor_charged_through_any_resistance_loses_the_same() -> None:
    """Integrated in steps from -VR to the bulk through 0.5 and 50 ohm: C dV^2 / 2, whatever the resistance."""
    for ohms in (0.5, 50.0):
        farads, low, high = 2.2e-9, -88.0, 373.0
        volts, joules, step = low, 0.0, ohms * farads / 2000.0
        for _ in range(30000):
            current = (high - volts) / ohms
            joules += current**2 * ohms * step
            volts += current / farads * step
        assert joules * 65e3 == pytest.approx(clamp_diode_shorted_power(373.0, 88.0, 2.2e-9, 65e3), rel=1e-3)


def test_open_rectifier_balances_at_the_clamp() -> None:
    volts = open_rectifier_voltage(373.0, 30.0, 23.5e3) - 373.0
    assert volts**2 / 23.5e3 == pytest.approx(30.0)


def test_flux_and_current_of_one_on_time_agree() -> None:
    """L I = N A B (AN-4137 eq 13)."""
    amps = sense_shorted_peak(373.0, 0.7, 65e3, 750e-6)
    assert 750e-6 * amps / (84.0 * 52e-6) == pytest.approx(flux_of_on_time(373.0, 0.7, 65e3, 84.0, 52e-6))


def test_shares_and_what_is_left() -> None:
    whole = [series_share(373.0, own, 3e6 - own) for own in (1e6, 2e6)]
    assert sum(one.voltage for one in whole) == pytest.approx(373.0)
    assert sum(one.power for one in whole) == pytest.approx(373.0**2 / 3e6)
    assert energy_left(373.0, 220e-9) == pytest.approx(0.5 * 220e-9 * 373.0**2)


def test_signs() -> None:
    signs = lost_regulation.LOST_REGULATION_SIGNS["greatest_power"]
    prove_signs(greatest_power, _LIMIT | {"delay": (5e-8, 2e-6)}, signs, designs=400)
    prove_signs(
        output_at_stop,
        {"stop": (18, 40), "own_drop": (0.5, 1.5), "turns": (8, 40), "output_turns": (3, 20), "drop": (0.3, 1.2)},
        lost_regulation.LOST_REGULATION_SIGNS["output_at_stop"],
    )
    prove_signs(output_at_least_load, {"power": (1, 100), "least": (0.01, 1)},
                lost_regulation.LOST_REGULATION_SIGNS["output_at_least_load"])  # fmt: skip
    prove_signs(time_to_voltage, {"voltage": (3, 12), "to": (13, 50), "capacitance": (1e-4, 3e-3), "power": (1, 100)},
                lost_regulation.LOST_REGULATION_SIGNS["time_to_voltage"])  # fmt: skip
    signs = shorted_parts.SHORTED_SIGNS
    base = {"bulk": (100, 400), "duty": (0.3, 0.9), "frequency": (3e4, 1.3e5)}
    prove_signs(sense_shorted_peak, {**base, "inductance": (1e-4, 3e-3)}, signs["sense_shorted_peak"])
    prove_signs(flux_of_on_time, {**base, "turns": (20, 200), "area": (1e-5, 1e-4)}, signs["flux_of_on_time"])
    prove_signs(
        clamp_diode_shorted_power,
        {"bulk": (100, 400), "reflected": (40, 150), "capacitance": (5e-10, 1e-8), "frequency": (3e4, 1.3e5)},
        signs["clamp_diode_shorted_power"],
    )
    prove_signs(open_rectifier_voltage, {"bulk": (100, 400), "power": (1, 100), "resistance": (1e3, 1e5)},
                signs["open_rectifier_voltage"])  # fmt: skip
    share = {"whole": (100, 400), "own": (1e5, 3e6), "others": (1e5, 3e6)}
    prove_signs(lambda **k: series_share(**k).voltage, share, signs["voltage"])
    prove_signs(lambda **k: series_share(**k).power, share, signs["power"])
    prove_signs(energy_left, {"crest": (100, 400), "capacitance": (1e-8, 1e-6)}, signs["energy_left"])


@pytest.mark.parametrize(("call", "words"), [
    (lambda: greatest_power(0.0, 300.0, 1e-3, 0.0, 6e4), "limit is 0"),
    (lambda: greatest_power(1.0, 300.0, 1e-3, 0.0, 0.0), "frequency is 0"),
    (lambda: output_at_stop(20.0, 1.0, 0.0, 5.0, 0.5), "turns of the rail is 0"),
    (lambda: output_at_least_load(10.0, 0.0), "least current is 0"),
    (lambda: time_to_voltage(5.0, 10.0, 1e-3, 0.0), "power is 0"),
    (lambda: sense_shorted_peak(300.0, 1.2, 6e4, 1e-3), "duty is 1.2"),
    (lambda: clamp_diode_shorted_power(300.0, 80.0, 0.0, 6e4), "capacitance is 0"),
    (lambda: open_rectifier_voltage(300.0, 10.0, 0.0), "resistance of the clamp is 0"),
    (lambda: series_share(300.0, 0.0, 1e6), "resistance is 0"),
])  # fmt: skip
def test_refusals_give_the_range(call, words) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=words):
        call()
