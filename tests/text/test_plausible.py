"""A quantity knows its forms and its plausible size; a slip of the unit is refused with the unit that was meant."""

from __future__ import annotations

import pytest

from derate.design.load import read_design
from derate.terms import dimension as d
from derate.terms.dimension import Dimension
from derate.terms.values import Place, ReadingError
from derate.terms.vocabulary import VOCABULARY
from derate.text.plausible import (
    _BY_NAME,
    _FALLS,
    _NEVER_NOTHING,
    _RISES,
    FORMS,
    RESISTOR,
    check,
)
from derate.text.quantity import read_quantity

PLACE = Place("x", 3, 7)
CONDITIONS = ("mains", "mains frequency")


def _checked(name: str, text: str, dimension: Dimension) -> None:
    read = read_quantity(text, PLACE, dimension)
    check(name, name, read.value, read.dimension, read.statistic, text, PLACE)


@pytest.mark.parametrize(
    "name, text, dimension, instead",
    [
        ("found.clearance", "10 m", d.LENGTH, "did you mean 10 mm?"),
        ("found.creepage", "6.1..6.4 m", d.LENGTH, "did you mean 6.1..6.4 mm?"),
        (RESISTOR, "1 mohm 5%", d.RESISTANCE, "did you mean 1 Mohm?"),
        ("part.temperature_coefficient", "±50 %/K", d.PER_KELVIN, ""),
        ("part.temperature_slope", "+4000 mV/K", d.VOLTAGE_PER_KELVIN, ""),
        ("plate.mains", "240 kV", d.VOLTAGE, "did you mean 240 V?"),
        ("plate.frequency", "50 kHz", d.FREQUENCY, "did you mean 50 Hz?"),
        ("mains", "264 Vpk", d.VOLTAGE, "in Vrms"),
        ("plate.mains", "230 Vdc", d.VOLTAGE, "in Vrms"),
        ("ripple", "38 mVrms", d.VOLTAGE, "in Vpp"),
        ("rated.voltage", "250 Vpp", d.VOLTAGE, "in Vrms or Vdc"),
        ("current_rms", "0.4 Apk", d.CURRENT, "in Arms"),
        ("reading of nothing", "3 Vpp", d.VOLTAGE, "in Vrms or Vpk or Vdc"),
        ("rated.voltage", "-400 V", d.VOLTAGE, "write its size"),
        ("mains_current", "-47 mA", d.CURRENT, "write its size"),
        ("mains_power", "-0.1..0.2 W", d.POWER, "write its size, up to 0.2 W"),
        ("current_average", "-0.3..0.1 A", d.CURRENT, "write its size, up to 0.3 A"),
        ("time", "-60 s", d.TIME, "write its size"),
        ("winding.bare", "0.28 m", d.LENGTH, "did you mean 0.28 mm?"),
        ("core.area", "52 cm2", d.AREA, "did you mean 52 mm2?"),
        ("core.gap", "0.65 m", d.LENGTH, "did you mean 0.65 mm?"),
        ("site.altitude", "up to 2000 mm", d.LENGTH, "did you mean up to 2000 m?"),
        ("part.ringing", "0.9", d.NUMBER, "look at its unit"),
        ("part.greatest_duty", "170 %", d.NUMBER, "look at its unit"),
        ("rated.impedance_ratio", "0.5", d.NUMBER, "look at its unit"),
        ("rated.end_of_life_resistance_ratio", "0.9", d.NUMBER, "look at its unit"),
        ("part.ringing", "0", d.NUMBER, "or unknown"),
        ("mains", "0 V", d.VOLTAGE, "or unknown"),
        ("rated.saturation_current", "0 A", d.CURRENT, "or unknown"),
        ("part.output_capacitance", "0 pF", d.CAPACITANCE, "or unknown"),
        ("part.switching_time", "0 ns", d.TIME, "or unknown"),
        ("rated.junction_to_case", "0 K/W", d.THERMAL_RESISTANCE, "or unknown"),
        ("rated.forward_voltage", "0..0 V", d.VOLTAGE, "or unknown"),
    ],
)  # fmt: skip
def test_what_is_another_form_or_implausible_is_refused(
    name: str, text: str, dimension: Dimension, instead: str
) -> None:
    with pytest.raises(ReadingError) as refused:
        _checked(name, text, dimension)
    problem = refused.value.problems[0]
    assert problem.place == PLACE and instead in problem.instead and text in problem.what


@pytest.mark.parametrize(
    "name, text, dimension",
    [
        ("found.clearance", "0 mm", d.LENGTH),
        ("plate.voltage", "-12 V 10%", d.VOLTAGE),
        ("voltage", "-13..-11 V", d.VOLTAGE),
        ("part.voltage", "-5.2..-4.8 V", d.VOLTAGE),
        ("case_temperature", "-5 degC", d.CELSIUS),
        ("rated.current", "0 A", d.CURRENT),
        ("found.clearance", "0.5 m", d.LENGTH),
        ("found.clearance", "over 6 mm", d.LENGTH),
        (RESISTOR, "5 mohm", d.RESISTANCE),
        ("plate.mains", "50..1000 V", d.VOLTAGE),
        ("mains", "264 Vac", d.VOLTAGE),
        ("ripple", "38 mVpp", d.VOLTAGE),
        ("ripple", "38 mV", d.VOLTAGE),
        ("rated.voltage", "400 Vdc", d.VOLTAGE),
        ("site.altitude", "up to 2000 m", d.LENGTH),
        ("part.ringing", "1.0..1.5", d.NUMBER),
        ("part.greatest_duty", "100 %", d.NUMBER),
        ("rated.series_resistance", "under 0.1 ohm", d.RESISTANCE),
        ("found.capacitance", "0 uF", d.CAPACITANCE),
        ("core.gap", "0 mm", d.LENGTH),
    ],
)  # fmt: skip
def test_what_may_be_is_read(name: str, text: str, dimension: Dimension) -> None:
    _checked(name, text, dimension)


@pytest.mark.parametrize("text, metric", [("240 mil", "6.096 mm"), ("0.24 in", "6.096 mm"), ("2 inches", "50.8 mm")])
def test_inches_are_converted_and_not_renamed(text: str, metric: str) -> None:
    with pytest.raises(ReadingError) as refused:
        read_quantity(text, PLACE, d.LENGTH)
    assert metric in refused.value.problems[0].instead


def test_every_name_is_one_of_the_vocabulary_or_of_a_condition() -> None:
    for name in {*FORMS, *_BY_NAME, *_NEVER_NOTHING, *_FALLS, *_RISES} - {*CONDITIONS, RESISTOR}:
        assert VOCABULARY[name].dimension is not None, name


def test_a_resistor_of_a_milliohm_is_asked_for_its_letter_and_a_fuse_is_not() -> None:
    parts = "R1: film resistor 1 mohm 0.25 W, F1: {kind: fuse, resistance: 1 mohm}"
    text = f"derate: 1\nsupply: {{name: x}}\nparts: {{{parts}}}\n"
    with pytest.raises(ReadingError) as refused:
        read_design(text, "x.yaml")
    told = [(one.place.line, one.instead) for one in refused.value.problems]
    assert told == [(3, "did you mean 1 Mohm?")]


def _refused(parts: str, more: str = "") -> list[tuple[int, str]]:
    text = f"derate: 1\nsupply: {{name: x}}\nparts: {{{parts}}}\n{more}"
    try:
        read_design(text, "x.yaml")
    except ReadingError as refused:
        return [(one.place.line, one.instead) for one in refused.problems]
    return []


@pytest.mark.parametrize("parts, instead", [
    ("Q1: {kind: MOSFET, rated: {on_resistance: {25 degC: 1.9 ohm, 150 degC: 0.9 ohm}}}", "which figure"),
    ("R1: {kind: film resistor, rated: {power: {70 degC: 0 W, 155 degC: 3 W}}}", "which figure"),
    ("R1: {kind: fusible wirewound resistor, rated: {opens_within: {48 W: 10 s, 108 W: 60 s}}}", "which figure"),
    ("N1: {kind: NTC thermistor, hot_resistance: {1 A: 0.28 ohm, 3 A: 0.55 ohm}}", "which figure"),
    ("C1: {kind: film capacitor, capacitance: 2.2 mF 10%}", "did you mean 2.2 uF?"),
    ("C1: {kind: ceramic capacitor, capacitance: 1 mF}", ""),
    ("Q1: {kind: MOSFET, rated: {on_resistance: {25 degC: 0.9 ohm, 150 degC: 1.9 ohm}}}", ""),
    ("Q1: {kind: MOSFET, rated: {on_resistance: {25 degC: 0.9..2 ohm, 150 degC: 1.9 ohm}}}", ""),  # may still rise
    ("R1: {kind: film resistor, rated: {power: {70 degC: 3 W, 155 degC: 0 W}}}", ""),
    ("R1: {kind: film resistor, rated: {power: {40 degC: 3 W, 70 degC: 3 W}}}", ""),
])  # fmt: skip
def test_a_table_goes_the_way_its_quantity_goes(parts: str, instead: str) -> None:
    """Turned round, a rating would grow where it ends: 3 W at 155 degC, a short that opens the later the harder."""
    told = _refused(parts)
    assert [instead in words for _, words in told] == ([True] if instead else [])


@pytest.mark.parametrize("parts, instead", [
    ("RV1: {kind: varistor, rated: {voltage: 275 Vdc}}", "in Vac"),
    ("CX1: {kind: film capacitor, class: X2, rated: {voltage: 630 Vdc}}", "in Vac"),
    ("C1: {kind: film capacitor, class: unmarked, rated: {voltage: 630 Vdc}}", ""),
    ("RV1: {kind: varistor, rated: {voltage: 430 V}}", "nominal_voltage"),
    ("RV1: {kind: varistor, nominal_voltage: 430 V, rated: {voltage: 430 Vac}}", "nominal_voltage"),
    ("RV1: {kind: varistor, nominal_voltage: 430 V, rated: {voltage: 305 Vac}}", "nominal_voltage"),  # crest 431 V
    ("RV1: {kind: varistor, nominal_voltage: 430 V, rated: {voltage: 300 Vac}}", ""),
    ("RV1: {kind: varistor, rated: {voltage: 430 Vac}}", ""),
    ("RV1: {kind: varistor, rated: {voltage: 275 V}}", ""),
])  # fmt: skip
def test_what_is_borne_at_the_mains_is_alternating(parts: str, instead: str) -> None:
    """350 Vdc is 275 Vac of one varistor; the figure on its body is another again, its voltage at 1 mA."""
    told = _refused(parts)
    assert [instead in words for _, words in told] == ([True] if instead else [])
