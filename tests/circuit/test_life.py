"""Electrolytic life and ripple: published worked cases, validity limits, signs, refusals."""

from __future__ import annotations

import math
import random

import pytest
from converter_trials import prove_signs

from derate.circuit import capacitor_ageing as life
from derate.circuit.capacitor_ageing import (
    CREDIBLE,
    bulk_switching_ripple,
    combined_ripple,
    electrolytic_life,
    equivalent_temperature,
    profile_life,
    ripple_rise,
)
from derate.circuit.flyback import operating_point

# Rated life, rated temperature, temperature, life. Printed to the hour; the rule gives it exactly.
PUBLISHED = [
    (1000.0, 105.0, 45.0, 64000.0),  # Technical Q&A a0057
    (1000.0, 105.0, 55.0, 32000.0),
    (1000.0, 105.0, 65.0, 16000.0),
    (2000.0, 85.0, 35.0, 64000.0),  # a forum's sum
    (3000.0, 105.0, 65.0, 48000.0),  # an undated page on electrolytic life: 40 K below
    (1000.0, 85.0, 45.0, 16000.0),  # PICLIST post 002913a
]


@pytest.mark.parametrize(("rated", "at", "temperature", "hours"), PUBLISHED)
def test_ten_degree_rule(rated, at, temperature, hours):
    result = electrolytic_life(rated, at, temperature)
    assert result.estimate == pytest.approx(hours, rel=1e-12)
    assert result.credible == min(hours, CREDIBLE)
    assert result.inside_rule == (1.0 if 60 <= temperature <= 105 else 0.0)


def test_a_published_error():
    """"Common sense on the life of power supply": 2000 h, 75 to 40 degC, printed 7500 h, which multiplies
    by 3.5 where the rule has 2 to the power 3.5: 22627 h.
    """
    assert electrolytic_life(2000.0, 75.0, 40.0).estimate == pytest.approx(22627.4, abs=0.05)
    assert 2000 * 3.5 < 7500 < 2000 * 4


# Q&A a0057: 8 h each at 45, 55, 65 degC; 57.2 degC printed as the equivalent temperature, above the mean of 55.
def test_mixed_profile():
    parts = [(8.0, electrolytic_life(1000.0, 105.0, t).estimate) for t in (45.0, 55.0, 65.0)]
    hours = profile_life(parts)
    assert hours == pytest.approx(27428.6, abs=0.05)
    assert equivalent_temperature(1000.0, 105.0, hours) == pytest.approx(57.2, abs=0.05)
    # shares instead of hours give the same; one condition gives its own life
    assert profile_life([(1 / 3, x) for _, x in parts]) == pytest.approx(hours)
    assert profile_life([(5.0, 1234.0)]) == pytest.approx(1234.0)


def test_profile_lies_between_its_ends_and_below_the_mean():
    source = random.Random(1)
    for _ in range(100):
        parts = [(source.uniform(0.1, 10), source.uniform(1e3, 1e5)) for _ in range(4)]
        hours = profile_life(parts)
        assert min(x for _, x in parts) <= hours <= max(x for _, x in parts)
        assert hours <= sum(s * x for s, x in parts) / sum(s for s, _ in parts) + 1e-6


# By Calculation of capacitor life:
# 5000 h at 105 degC, 65 degC, half the rated ripple, 0.8 of the rated voltage, exponent 2.5: 181243 h.
# Beyond any credible claim: reported at most as 15 years.
def test_ratio_form():
    result = electrolytic_life(
        5000.0,
        105.0,
        65.0,
        ripple=0.5,
        rated_ripple=1.0,
        ripple_form="ratio",
        voltage_ratio=0.8,
        voltage_exponent=2.5,
    )
    assert result.estimate == pytest.approx(181243, rel=1e-4)  # factors rounded to five digits
    assert result.credible == CREDIBLE == 15 * 8760
    # above the rated ripple the base is 4 (the model at 105 degC)
    over = electrolytic_life(5000.0, 105.0, 105.0, ripple=1.2, rated_ripple=1.0, ripple_form="ratio")
    assert over.estimate == pytest.approx(5000 * 4 ** (-0.44 * 5 / 10))
    # and below 0.6 of the rated voltage nothing more is gained: 3.59 at 0.6
    flat = [
        electrolytic_life(1.0, 105.0, 105.0, voltage_ratio=r, voltage_exponent=2.5).estimate for r in (0.6, 0.3, 0.01)
    ]
    assert flat == pytest.approx([3.59] * 3, abs=0.005)


def test_core_rise_form_and_its_pole():
    at_rated = electrolytic_life(5000.0, 105.0, 85.0, ripple=1.0, rated_ripple=1.0)
    assert at_rated.estimate == pytest.approx(20000.0) and at_rated.core_rise == pytest.approx(5.0)
    none = electrolytic_life(5000.0, 105.0, 85.0, ripple=0.0, rated_ripple=1.0)
    assert none.estimate == pytest.approx(20000.0 * 2 ** (5 / 8.75))
    assert ripple_rise(2.0, 1.0) == pytest.approx(20.0)
    # twice the rated ripple is the end of the formula; three times it, the pole at 40 K would read as 8e14 h
    unsafe = 5000 * 4 * 2 ** (5 / 8.75 - 45 / (10 - 45 / 4))
    assert unsafe > 1e14
    for ratio in (2.01, 3.0, 10.0):
        with pytest.raises(ValueError, match="life is not assessed above 20 K"):
            electrolytic_life(5000.0, 105.0, 85.0, ripple=ratio, rated_ripple=1.0)


def test_ripple_combination():
    assert combined_ripple([(0.3, 1.0), (0.4, 1.0)]) == pytest.approx(0.5)
    assert combined_ripple([(0.3, 0.5)]) == pytest.approx(0.6)
    # heat adds: order and splitting change nothing
    assert combined_ripple([(0.3, 0.5), (0.4, 0.8)]) == pytest.approx(combined_ripple([(0.4, 0.8), (0.3, 0.5)]))


# SLUA700 p7: second bulk capacitor, 116 mA at the switching frequency and 142 mA in all, with 82 mA
# at the line's: sqrt(116^2 + 82^2) = 142. The 116 mA follow from 146 mA of primary RMS and the switch's 90 mA average
# of p10 (115.0 mA; printed figures to 1 mA each move it by 1.5 mA).
def test_slua700_bulk_ripple():
    assert combined_ripple([(0.116, 1.0), (0.082, 1.0)]) == pytest.approx(0.142, abs=0.0005)
    assert bulk_switching_ripple(0.146, 0.090) == pytest.approx(0.116, abs=0.0015)
    point = operating_point(1.44e-3 * 0.358 * 74e3 / 0.501, 6.829, 1.44e-3, 89.76, 74e3)
    assert bulk_switching_ripple(point.rms, point.average) == pytest.approx(0.116, abs=0.0015)


def test_bulk_ripple_against_the_current_itself():
    """RMS of the switch current less its mean, by stepping the trapezoid: charge balance of the bulk capacitor."""
    point = operating_point(100.0, 30.0, 8e-4, 90.0, 65e3)
    steps, square, mean = 20000, 0.0, 0.0
    for k in range(steps):
        x = (k + 0.5) / steps
        current = point.valley + (point.peak - point.valley) * x / point.duty if x < point.duty else 0.0
        square += current**2 / steps
        mean += current / steps
    assert mean == pytest.approx(point.average, rel=1e-3)
    assert bulk_switching_ripple(point.rms, point.average) == pytest.approx(math.sqrt(square - mean**2), rel=2e-3)


def test_signs_hold():
    signs = life.LIFE_SIGNS

    def hours(**x: float) -> float:
        return electrolytic_life(
            x["rated_life"],
            105.0,
            x["temperature"],
            ripple=x["ripple"],
            rated_ripple=1.0,
            voltage_ratio=x["voltage"],
            voltage_exponent=2.5,
        ).estimate

    ranges = {"temperature": (20.0, 105.0), "ripple": (0.0, 1.99), "voltage": (0.3, 1.0), "rated_life": (1e3, 1e4)}
    prove_signs(hours, ranges, signs["life"])
    prove_signs(
        bulk_switching_ripple, {"switch_rms": (0.5, 2.0), "average": (0.0, 0.5)}, signs["bulk_switching_ripple"]
    )
    prove_signs(
        lambda current, factor: combined_ripple([(current, factor), (0.2, 1.0)]),
        {"current": (0.0, 2.0), "factor": (0.3, 1.5)},
        signs["combined_ripple"],
    )


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: electrolytic_life(1000, 105, 106), "temperature is 106 degC: state a value from -55 degC to 105 degC"),
        (lambda: electrolytic_life(1000, 105, math.nan), "temperature is nan"),
        (lambda: electrolytic_life(0, 105, 60), "rated_life is 0"),
        (lambda: electrolytic_life(1000, 105, 60, ripple=1.0), "state both or neither"),
        (lambda: electrolytic_life(1000, 105, 60, voltage_ratio=0.8), "from the maker"),
        (lambda: electrolytic_life(1000, 105, 60, voltage_ratio=1.1, voltage_exponent=2.5), "voltage_ratio is 1.1"),
        (lambda: electrolytic_life(1000, 105, 60, ripple=1, rated_ripple=1, ripple_form="x"), "state 'core rise'"),
        (lambda: bulk_switching_ripple(0.1, 0.2), "average is 0.2 A"),
        (lambda: combined_ripple([]), "at least one"),
        (lambda: combined_ripple([(1.0, 0.0)]), "frequency factor is 0"),
        (lambda: profile_life([]), "at least one"),
        (lambda: profile_life([(0.0, 100.0)]), "all shares are 0"),
        (lambda: profile_life([(1.0, 0.0)]), "life is 0"),
    ],
)
def test_refusals_give_the_range(call, text):
    with pytest.raises(ValueError, match=text):
        call()
