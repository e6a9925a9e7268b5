"""A quantity knows its forms and its plausible size; a slip of the unit is refused with the unit that was meant."""

from __future__ import annotations

import pytest

from derate.design.load import read_design
from derate.terms import dimension as d
from derate.terms.dimension import Dimension
from derate.terms.values import Place, ReadingError
from derate.terms.vocabulary import VOCABULARY
from derate.text.plausible import _BY_NAME, FORMS, RESISTOR, check
from derate.text.quantity import read_quantity

PLACE = Place("x", 3, 7)


def _checked(name: str, text: str, dimension: Dimension) -> None:
    read = read_quantity(text, PLACE, dimension)
    check(name, name, read.value, read.dimension, read.statistic, text, PLACE)


@pytest.mark.parametrize(
    "name, text, dimension, instead",
    [
        ("found.clearance", "10 m", d.LENGTH, "did you mean 10 mm?"),
        ("found.creepage", "6.1..6.4 m", d.LENGTH, "did you mean 6.1..6.4 mm?"),
        (RESISTOR, "1 mohm 5%", d.RESISTANCE, "did you mean 1 Mohm?"),
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
    for name in {*FORMS, *_BY_NAME} - {"mains", "mains frequency", RESISTOR}:
        assert VOCABULARY[name].dimension is not None, name


def test_a_resistor_of_a_milliohm_is_asked_for_its_letter_and_a_fuse_is_not() -> None:
    parts = "R1: film resistor 1 mohm 0.25 W, F1: {kind: fuse, resistance: 1 mohm}"
    text = f"derate: 1\nsupply: {{name: x}}\nparts: {{{parts}}}\n"
    with pytest.raises(ReadingError) as refused:
        read_design(text, "x.yaml")
    told = [(one.place.line, one.instead) for one in refused.value.problems]
    assert told == [(3, "did you mean 1 Mohm?")]
