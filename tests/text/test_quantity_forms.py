"""Every form of the design format: the text and the four numbers it means, worked out by hand."""

from __future__ import annotations

from math import inf

import pytest

from derate.terms.dimension import (
    AREA,
    CAPACITANCE,
    CELSIUS,
    CURRENT,
    CURRENT_DENSITY,
    ENERGY,
    FLUX_DENSITY,
    FREQUENCY,
    I2T,
    INDUCTANCE,
    KELVIN,
    LENGTH,
    NUMBER,
    POWER,
    RESISTANCE,
    THERMAL_RESISTANCE,
    TIME,
    VOLTAGE,
    VOLTAGE_SLOPE,
    Dimension,
)
from derate.terms.values import Category, Place, Value
from derate.text.quantity import Percent, Quantity, read_quantity, read_said

HERE = Place("bench.yaml", 4, 9)


def read(text: str, dimension: Dimension | None = None, percent: Percent = "tolerance") -> Quantity:
    return read_quantity(text, HERE, dimension, percent)


FORMS: list[tuple[str, Dimension, tuple[float, float, float, float]]] = [
    ("6.8 ohm 5%", RESISTANCE, (6.46, 6.8, 6.8, 7.14)),
    ("33 uF 20%", CAPACITANCE, (26.4e-6, 33e-6, 33e-6, 39.6e-6)),
    ("4.7 uF -20..+50%", CAPACITANCE, (3.76e-6, 4.7e-6, 4.7e-6, 7.05e-6)),
    ("4.7 uF -20%..+50%", CAPACITANCE, (3.76e-6, 4.7e-6, 4.7e-6, 7.05e-6)),
    ("100 uF 0..+100%", CAPACITANCE, (100e-6, 100e-6, 100e-6, 200e-6)),
    ("5 ohm ±5%", RESISTANCE, (4.75, 5, 5, 5.25)),
    ("5 ohm +/-5 %", RESISTANCE, (4.75, 5, 5, 5.25)),
    ("-12 V 10%", VOLTAGE, (-13.2, -12, -12, -10.8)),
    ("-12 V -5..+10%", VOLTAGE, (-13.2, -12, -12, -11.4)),
    ("6.1..6.4 mm", LENGTH, (6.1e-3, 6.1e-3, 6.4e-3, 6.4e-3)),
    ("6.1 .. 6.4 mm", LENGTH, (6.1e-3, 6.1e-3, 6.4e-3, 6.4e-3)),
    ("0.5 mm..0.7 mm", LENGTH, (0.5e-3, 0.5e-3, 0.7e-3, 0.7e-3)),
    ("20 ms..1 s", TIME, (0.02, 0.02, 1, 1)),
    ("-10..40 degC", CELSIUS, (-10, -10, 40, 40)),
    ("-40..-20 degC", CELSIUS, (-40, -40, -20, -20)),
    ("-2..0 ms", TIME, (-2e-3, -2e-3, 0, 0)),
    ("9..11 ohm 5%", RESISTANCE, (8.55, 9, 11, 11.55)),
    ("0.86..0.90..0.94 V", VOLTAGE, (0.86, 0.86, 0.94, 0.94)),
    ("under 1 mm", LENGTH, (0, 0, 1e-3, 1e-3)),
    ("<1 mm", LENGTH, (0, 0, 1e-3, 1e-3)),
    ("< 1 mm", LENGTH, (0, 0, 1e-3, 1e-3)),
    ("<= 1 mm", LENGTH, (0, 0, 1e-3, 1e-3)),
    ("up to 2000 m", LENGTH, (0, 0, 2000, 2000)),
    ("at most 5 V", VOLTAGE, (0, 0, 5, 5)),
    ("over 5 mm", LENGTH, (5e-3, 5e-3, inf, inf)),
    (">5 mm", LENGTH, (5e-3, 5e-3, inf, inf)),
    (">= 8 mm", LENGTH, (8e-3, 8e-3, inf, inf)),
    ("at least 264 V", VOLTAGE, (264, 264, inf, inf)),
    ("under -20 degC", CELSIUS, (-inf, -inf, -20, -20)),
    ("over 105 degC", CELSIUS, (105, 105, inf, inf)),
    ("about 2 kV", VOLTAGE, (1800, 1800, 2200, 2200)),
    ("about -12 V", VOLTAGE, (-13.2, -13.2, -10.8, -10.8)),
    ("about 60 degC", CELSIUS, (50, 50, 70, 70)),
    ("10 to 1", NUMBER, (10, 10, 10, 10)),
    ("84", NUMBER, (84, 84, 84, 84)),
    ("22 10%", NUMBER, (19.8, 22, 22, 24.2)),
    ("50%", NUMBER, (0.5, 0.5, 0.5, 0.5)),
    ("45..55%", NUMBER, (0.45, 0.45, 0.55, 0.55)),
    ("42 turns", NUMBER, (42, 42, 42, 42)),
    ("1 layer", NUMBER, (1, 1, 1, 1)),
    ("1..2 layers", NUMBER, (1, 1, 2, 2)),
    ("1e-3 A", CURRENT, (1e-3, 1e-3, 1e-3, 1e-3)),
    ("+12 V", VOLTAGE, (12, 12, 12, 12)),
    (" 12 V ", VOLTAGE, (12, 12, 12, 12)),
    ("-0 V", VOLTAGE, (0, 0, 0, 0)),
]


@pytest.mark.parametrize(("text", "dimension", "numbers"), FORMS)
def test_four_numbers(text: str, dimension: Dimension, numbers: tuple[float, float, float, float]) -> None:
    for wanted in (None, dimension):
        quantity = read(text, wanted)
        assert isinstance(quantity.value, Value)
        assert quantity.value.numbers() == pytest.approx(numbers, rel=1e-12, abs=0)
        assert quantity.dimension == dimension
        assert (quantity.text, quantity.place) == (text, HERE)


# the set the reader was chosen by: every spelling the trade uses in such files, with its value in SI units
SPELLINGS: list[tuple[str, Dimension, float]] = [
    ("10 ohm", RESISTANCE, 10), ("10ohm", RESISTANCE, 10), ("55 mohm", RESISTANCE, 0.055),
    ("47 kohm", RESISTANCE, 47e3), ("1 Mohm", RESISTANCE, 1e6), ("2 Gohm", RESISTANCE, 2e9),
    ("47 Ω", RESISTANCE, 47), ("47 \u2126", RESISTANCE, 47), ("4.7 kΩ", RESISTANCE, 4700),
    ("4.7 k\u2126", RESISTANCE, 4700), ("2.2 MΩ", RESISTANCE, 2.2e6), ("18 mΩ", RESISTANCE, 0.018),
    ("4.7uF", CAPACITANCE, 4.7e-6), ("4.7 uF", CAPACITANCE, 4.7e-6), ("4.7 \u00b5F", CAPACITANCE, 4.7e-6),
    ("4.7 \u03bcF", CAPACITANCE, 4.7e-6), ("220 nF", CAPACITANCE, 220e-9), ("55 pF", CAPACITANCE, 55e-12),
    ("1 mF", CAPACITANCE, 1e-3), ("1 F", CAPACITANCE, 1.0),
    ("3.3 mH", INDUCTANCE, 3.3e-3), ("470 uH", INDUCTANCE, 470e-6), ("470 \u00b5H", INDUCTANCE, 470e-6),
    ("90 nH", INDUCTANCE, 90e-9), ("1.2 H", INDUCTANCE, 1.2),
    ("400 V", VOLTAGE, 400), ("400V", VOLTAGE, 400), ("2 kV", VOLTAGE, 2000), ("38 mV", VOLTAGE, 0.038),
    ("5 uV", VOLTAGE, 5e-6),
    ("250 mA", CURRENT, 0.25), ("2 A", CURRENT, 2), ("20 uA", CURRENT, 20e-6), ("1.5 kA", CURRENT, 1500),
    ("3 W", POWER, 3), ("62 mW", POWER, 0.062), ("1 kW", POWER, 1000),
    ("10 us", TIME, 10e-6), ("10 \u00b5s", TIME, 10e-6), ("10 \u03bcs", TIME, 10e-6), ("500 ns", TIME, 500e-9),
    ("8.3 ms", TIME, 8.3e-3), ("60 s", TIME, 60), ("20 min", TIME, 1200), ("2000 h", TIME, 7.2e6),
    ("50 Hz", FREQUENCY, 50), ("65 kHz", FREQUENCY, 65e3), ("1.5 MHz", FREQUENCY, 1.5e6),
    ("6.1 J", ENERGY, 6.1), ("40 mJ", ENERGY, 0.04), ("3 uJ", ENERGY, 3e-6),
    ("0.1 mm", LENGTH, 1e-4), ("1.2 cm", LENGTH, 0.012), ("35 um", LENGTH, 35e-6), ("2000 m", LENGTH, 2000),
    ("52 mm²", AREA, 52e-6), ("52 mm2", AREA, 52e-6), ("52 mm^2", AREA, 52e-6), ("0.97 cm²", AREA, 0.97e-4),
    ("20 A²s", I2T, 20), ("20 A2s", I2T, 20), ("9.6 A^2s", I2T, 9.6),
    ("85 degC", CELSIUS, 85), ("85 °C", CELSIUS, 85), ("-20 degC", CELSIUS, -20), ("25 K", KELVIN, 25),
    ("62 K/W", THERMAL_RESISTANCE, 62), ("62 degC/W", THERMAL_RESISTANCE, 62), ("2.5 °C/W", THERMAL_RESISTANCE, 2.5),
    ("310 mT", FLUX_DENSITY, 0.31), ("0.31 T", FLUX_DENSITY, 0.31),
    ("100 V/us", VOLTAGE_SLOPE, 1e8), ("100 V/µs", VOLTAGE_SLOPE, 1e8), ("5 V/ns", VOLTAGE_SLOPE, 5e9),
    ("4.5 A/mm²", CURRENT_DENSITY, 4.5e6), ("4.5 A/mm2", CURRENT_DENSITY, 4.5e6),
    ("5%", NUMBER, 0.05), ("3 lines", NUMBER, 3), ("2 strands", NUMBER, 2),
]  # fmt: skip


@pytest.mark.parametrize(("text", "dimension", "number"), SPELLINGS)
def test_spellings(text: str, dimension: Dimension, number: float) -> None:
    quantity = read(text, dimension)
    assert isinstance(quantity.value, Value)
    assert quantity.value == Value.exact(number)  # correctly rounded: the very float that the decimal stands for
    assert quantity.nominal == number
    assert quantity.bound == ""


LETTERED: list[tuple[str, Dimension, float]] = [
    ("4k7", RESISTANCE, 4700), ("3k3", RESISTANCE, 3300), ("4R7", RESISTANCE, 4.7), ("R47", RESISTANCE, 0.47),
    ("0R22", RESISTANCE, 0.22), ("470R", RESISTANCE, 470), ("24k", RESISTANCE, 24e3), ("2M2", RESISTANCE, 2.2e6),
    ("1M", RESISTANCE, 1e6), ("1G", RESISTANCE, 1e9),
    ("4u7", CAPACITANCE, 4.7e-6), ("4µ7", CAPACITANCE, 4.7e-6), ("1n5", CAPACITANCE, 1.5e-9),
    ("p47", CAPACITANCE, 0.47e-12), ("100n", CAPACITANCE, 100e-9), ("n47", CAPACITANCE, 0.47e-9),
    ("4u7", INDUCTANCE, 4.7e-6), ("2m2", INDUCTANCE, 2.2e-3), ("330n", INDUCTANCE, 330e-9),
]  # fmt: skip


@pytest.mark.parametrize(("text", "dimension", "number"), LETTERED)
def test_letter_for_the_point(text: str, dimension: Dimension, number: float) -> None:
    assert read(text, dimension).value == Value.exact(number)


def test_letter_with_tolerance() -> None:
    value = read("4k7 1%", RESISTANCE).value
    assert isinstance(value, Value)
    assert value.numbers() == pytest.approx((4653, 4700, 4700, 4747))


@pytest.mark.parametrize(
    ("text", "statistic", "number"),
    [
        ("250 Vac", "rms", 250), ("5000 Vrms", "rms", 5000), ("500 Vdc", "dc", 500), ("521 Vpk", "peak", 521),
        ("38 mVpp", "peak to peak", 0.038), ("1 Vpp", "peak to peak", 1), ("0.2 Arms", "rms", 0.2),
        ("27 Apk", "peak", 27), ("1.5 kVac", "rms", 1500), ("400 V", "", 400),
    ],
)  # fmt: skip
def test_statistic_of_the_unit(text: str, statistic: str, number: float) -> None:
    quantity = read(text)
    assert (quantity.statistic, quantity.value) == (statistic, Value.exact(number))


def test_conditions() -> None:
    assert read("0.31 A at 120 Hz", CURRENT).at == ((120.0, FREQUENCY),)
    assert read("0.62 V at 5 A and 125 degC", VOLTAGE).at == ((5.0, CURRENT), (125.0, CELSIUS))
    assert read("8000 h at 105 degC (data sheet)").at == ((105.0, CELSIUS),)
    assert read("5 ohm 20% at 25 degC").at == ((25.0, CELSIUS),)
    assert read("under 0.02 mA at -20 degC").at == ((-20.0, CELSIUS),)
    assert read("0.2 mA at 264 Vac").at == ((264.0, VOLTAGE),)
    assert read("at least 5 V at 3 A").at == ((3.0, CURRENT),)


@pytest.mark.parametrize(
    ("text", "known_by", "note"),
    [
        ("6.1 mm (measured)", "measured", ""),
        ("6.1..6.4 mm (measured; photo 7, board cleaned first)", "measured", "photo 7, board cleaned first"),
        ("over 8 mm (stated; no drawing)", "stated", "no drawing"),
        ("55 pF (data sheet)", "data sheet", ""),
        ("3 mm (measured; round (twice) the slot)", "measured", "round (twice) the slot"),
        ("unknown (seen; painted over)", "seen", "painted over"),
        ("6.1 mm(measured)", "measured", ""),
        ("6.1 mm", None, ""),
    ],
)
def test_evidence(text: str, known_by: str | None, note: str) -> None:
    quantity = read(text)
    assert (quantity.known_by, quantity.note) == (known_by, note)


def test_words() -> None:
    assert read("unknown", LENGTH).value is None
    for word in ("unmarked", "none", "not done"):
        assert read(word, LENGTH).value == Category((word,))
        assert read(word, LENGTH).dimension == LENGTH
        assert read(word).dimension is None


def test_bounds_and_typical_are_kept() -> None:
    assert [read(text).bound for text in ("under 1 mm", "over 1 mm", "about 1 mm", "1 mm")] == [
        "under", "over", "about", ""
    ]  # fmt: skip
    three = read("0.86..0.90..0.94 V")
    assert three.typical == 0.90
    assert three.nominal is None
    assert read("6.8 ohm 5%").nominal == 6.8
    assert read("6.8 ohm 5%").percent == (-0.05, 0.05)
    assert read("4.7 uF -20..+50%").percent == (-0.2, 0.5)
    assert read("6.1..6.4 mm").nominal is None


def test_a_percentage_in_a_reading_is_doubt_about_this_sample() -> None:
    value = read("20.9 W 1%", POWER, "uncertainty").value
    assert isinstance(value, Value)
    assert value.numbers() == pytest.approx((20.691, 20.691, 21.109, 21.109))
    regulation = read("12 V 5%", VOLTAGE, "regulation").value
    assert isinstance(regulation, Value)
    assert regulation.numbers() == pytest.approx((11.4, 12, 12, 12.6))


def test_said() -> None:
    said = read_said("II (marked; double square too small)", HERE)
    assert (said.text, said.known_by, said.note) == ("II", "marked", "double square too small")
    assert read_said("FR-4", HERE).known_by is None
