"""The table of units, and numbers written as text."""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.terms import dimension as d
from derate.terms.dimension import Dimension
from derate.terms.values import Place, Value
from derate.text.quantity import read_quantity
from derate.text.units import UNITS, show, show_value


@pytest.mark.parametrize(
    ("value", "dimension", "text"),
    [
        (0.31, d.CURRENT, "0.31 A"), (22e-6, d.CAPACITANCE, "22 uF"), (373.2, d.VOLTAGE, "373 V"),
        (6.1e-3, d.LENGTH, "6.1 mm"), (71.0, d.CELSIUS, "71 degC"), (2200e-6, d.CAPACITANCE, "2200 uF"),
        (220e-9, d.CAPACITANCE, "220 nF"), (55e-12, d.CAPACITANCE, "55 pF"), (3000.0, d.VOLTAGE, "3000 V"),
        (12345.0, d.VOLTAGE, "12.3 kV"), (0.038, d.VOLTAGE, "38 mV"), (0.062, d.POWER, "62 mW"),
        (20.9, d.POWER, "20.9 W"), (47e3, d.RESISTANCE, "47 kohm"), (2.2e6, d.RESISTANCE, "2.2 Mohm"),
        (0.055, d.RESISTANCE, "55 mohm"), (0.82, d.RESISTANCE, "0.82 ohm"), (750e-6, d.INDUCTANCE, "750 uH"),
        (2.6e-3, d.INDUCTANCE, "2.6 mH"), (65e3, d.FREQUENCY, "65 kHz"), (50.0, d.FREQUENCY, "50 Hz"),
        (8.3e-3, d.TIME, "8.3 ms"), (60.0, d.TIME, "60 s"), (1800.0, d.TIME, "1800 s"), (2.88e7, d.TIME, "8000 h"),
        (5e-7, d.TIME, "500 ns"), (1.53, d.ENERGY, "1.53 J"), (0.04, d.ENERGY, "40 mJ"), (0.34, d.I2T, "0.34 A²s"),
        (0.0124, d.I2T, "0.0124 A²s"), (0.00012, d.I2T, "0.00012 A²s"), (52e-6, d.AREA, "52 mm²"),
        (2000.0, d.LENGTH, "2000 m"), (35e-6, d.LENGTH, "35 um"), (0.31, d.FLUX_DENSITY, "310 mT"),
        (2.5, d.THERMAL_RESISTANCE, "2.5 K/W"), (4.5e6, d.CURRENT_DENSITY, "4.5 A/mm²"),
        (1e8, d.VOLTAGE_SLOPE, "100 V/us"), (0.017, d.DISSIPATION, "17 mW/K"),
        (25.0, d.KELVIN, "25 K"), (0.5, d.NUMBER, "0.5"), (100000.0, d.NUMBER, "100000"), (84.0, d.NUMBER, "84"),
        (0.0, d.VOLTAGE, "0 V"), (0.0, d.LENGTH, "0 mm"), (-12.0, d.VOLTAGE, "-12 V"), (-20.0, d.CELSIUS, "-20 degC"),
        (inf, d.VOLTAGE, "no upper limit"), (-inf, d.CELSIUS, "no lower limit"), (0.0, d.CAPACITANCE, "0 uF"),
        (99.96, d.VOLTAGE, "100 V"), (1.0, d.VOLTAGE / d.LENGTH, "1 m·kg·s⁻³·A⁻¹"), (0.02e-3, d.CURRENT, "20 uA"),
    ],
)  # fmt: skip
def test_show(value: float, dimension: Dimension, text: str) -> None:
    assert show(value, dimension) == text


def test_show_digits() -> None:
    assert show(1234.5, d.VOLTAGE, 2) == "1200 V"
    assert show(1234.5, d.VOLTAGE, 5) == "1234.5 V"


@pytest.mark.parametrize(
    ("value", "dimension", "text"),
    [
        (Value.exact(373), d.VOLTAGE, "373 V"),
        (Value.between(6.1e-3, 6.4e-3), d.LENGTH, "6.1 to 6.4 mm"),
        (Value.between(0.02, 1.0), d.TIME, "20 ms to 1 s"),
        (Value.floor(264), d.VOLTAGE, "at least 264 V"),
        (Value(0, 0, 1e-3, 1e-3), d.LENGTH, "at most 1 mm"),
        (Value(-inf, -inf, -20, -20), d.CELSIUS, "at most -20 degC"),
        (Value(-inf, -inf, inf, inf), d.VOLTAGE, "anything"),
        (Value.spread(33e-6, 26.4e-6, 39.6e-6), d.CAPACITANCE, "26.4 uF to 39.6 uF (33 uF)"),
        (Value(8.55, 9, 11, 11.55), d.RESISTANCE, "8.55 ohm to 11.6 ohm (9 to 11 ohm)"),
        (Value.between(1.0001, 1.0002), d.VOLTAGE, "1 V"),
    ],
)
def test_show_value(value: Value, dimension: Dimension, text: str) -> None:
    assert show_value(value, dimension) == text


def test_closed_table() -> None:
    for spelling in ("Mm", "kH", "MV", "mHz", "kF", "degF", "C/W", "mA²s", "kK", "mK", "pV", "Gm", "mT/s", "k", "M"):
        assert spelling not in UNITS
    assert UNITS["mohm"].power == "e-3"
    assert UNITS["Mohm"].power == "e6"
    assert {UNITS[name].statistic for name in ("Vac", "Vrms", "Aac", "mArms")} == {"rms"}


def test_every_unit_reads_back() -> None:
    for spelling, unit in UNITS.items():
        quantity = read_quantity(f"2.5 {spelling}", Place("x"))
        assert quantity.dimension == unit.dimension
        assert quantity.nominal == pytest.approx(float("2.5" + unit.power) * unit.factor, rel=1e-15)
        assert quantity.statistic == unit.statistic


DIMENSIONS = sorted({unit.dimension for unit in UNITS.values()} - {d.CELSIUS}, key=str)


@given(st.floats(1e-9, 1e9), st.sampled_from(DIMENSIONS), st.integers(2, 9))
def test_what_is_shown_reads_back(value: float, dimension: Dimension, digits: int) -> None:
    quantity = read_quantity(show(value, dimension, digits), Place("x"), dimension)
    assert quantity.nominal == pytest.approx(value, rel=0.51 * 10 ** (1 - digits))


@given(st.floats(-200, 300))
def test_temperatures_read_back(value: float) -> None:
    text = show(value, d.CELSIUS, 6)
    assert read_quantity(text, Place("x"), d.CELSIUS).nominal == pytest.approx(value, rel=1e-5)
