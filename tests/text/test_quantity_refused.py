"""Texts that are refused: the words said, what to write instead, and the column of the fault."""

from __future__ import annotations

import pytest

from derate.terms.dimension import (
    CAPACITANCE,
    CELSIUS,
    KELVIN,
    LENGTH,
    NUMBER,
    PER_KELVIN,
    RESISTANCE,
    VOLTAGE,
    VOLTAGE_PER_KELVIN,
    Dimension,
)
from derate.terms.values import Place, Problem, ReadingError
from derate.text.quantity import read_quantity

# text, dimension wanted, words expected in the message, column of the fault counted from one inside the text
REFUSED: list[tuple[str, Dimension | None, str, int]] = [
    ("50 ppm/K", PER_KELVIN, "write ±50 ppm/K where it may go either way, +50 ppm/K", 1),
    ("50ppm/K", PER_KELVIN, "write ±50ppm/K where it may go either way", 1),
    ("50 ppm/K 20%", PER_KELVIN, "write ±50 ppm/K where it may go either way", 1),
    ("50..100 ppm/K", PER_KELVIN, "write each of its ends with its sign, or ±100 ppm/K", 1),
    ("2mV/K", VOLTAGE_PER_KELVIN, "write ±2mV/K where it may go either way", 1),
    ("up to +50 ppm/K", PER_KELVIN, "write ±50 ppm/K where", 1),
    ("up to 50 ppm/K", PER_KELVIN, "write ±50 ppm/K where", 1),
    ("4 mV/K", VOLTAGE_PER_KELVIN, "write ±4 mV/K where", 1),
    ("+4 mV/K", PER_KELVIN, "write it under temperature_slope", 4),
    ("±4 mV/K", PER_KELVIN, "write it under temperature_slope", 4),
    ("±50 ppm/K", VOLTAGE_PER_KELVIN, "write it under temperature_coefficient", 5),
    ("±50 ppm", PER_KELVIN, "", 1),
    ("1,5 V", None, "write 1.5 V", 2),
    ("1,5", VOLTAGE, "write 1.5", 2),
    ("0,31 A", None, "write 0.31 A", 2),
    ("6,2 mm", LENGTH, "write 6.2 mm", 2),
    ("100,000 h", None, "write 100000 h", 4),
    ("1,000,000 h", None, "write 1000000 h", 2),
    ("1,500 V", None, "write 1500 V, or 1.500 V if that was meant", 2),
    ("0,125 A", None, "write 0.125 A", 2),
    ("1.000,5 V", None, "write 1000.5 V", 6),
    ("100-240 V", None, "write 100..240 V", 4),
    ("100 - 240 V", None, "write 100..240 V", 4),
    ("100–240 V", None, "write 100..240 V", 4),
    ("100 to 240 V", None, "write 100..240 V", 4),
    ("100…240 V", None, "write 100..240 V", 4),
    ("100...240 V", None, "write 100..240 V", 4),
    ("50/60 Hz", None, "write 50..60 Hz", 3),
    ("100V-240V", None, "write 100..240 V", 4),
    ("50 / 60 Hz", None, "write 50..60 Hz", 3),
    ("1/4 W", None, "write 0.25 W, or 1..4 W if that was meant", 2),
    ("2-3", NUMBER, "write 2..3", 2),
    ("2-3 layers", NUMBER, "write 2..3 layers", 2),
    ("230 V AC", None, "write 230 Vac", 7),
    ("230 V~", None, "write 230 Vac", 6),
    ("12 V DC", None, "write 12 Vdc", 6),
    ("230 VAC", None, "write 230 Vac", 5),
    ("0.5 A rms", None, "write 0.5 Arms", 7),
    ("10:1", None, "write 10 to 1", 3),
    ("~8 mm", None, "write about 8 mm", 1),
    ("≈ 8 mm", None, "write about 8 mm", 1),
    ("ca. 8 mm", None, "write about 8 mm", 1),
    ("approx 8 mm", None, "write about 8 mm", 1),
    ("max 5 V", None, "write up to 5 V", 1),
    ("min. 5 V", None, "write over 5 V", 1),
    ("≤ 5 V", None, "write up to 5 V", 1),
    ("≥5 V", None, "write over 5 V", 1),
    ("less than 5 V", None, "write up to 5 V", 1),
    ("?", None, "write `unknown`", 1),
    ("tbd", None, "write `unknown`", 1),
    ("n/a", None, "write `unknown`", 1),
    ("-", None, "write `unknown`", 1),
    ("", None, "nothing is written here", 1),
    ("   ", None, "nothing is written here", 3),
    ("inf", None, "is not a number", 1),
    ("-inf V", None, "is not a number", 1),
    ("inf V", None, "is not a number", 1),
    ("nan V", None, "is not a number", 1),
    ("NaN", NUMBER, "is not a number", 1),
    ("1e999 V", None, "too large a number", 1),
    ("1e308 kV", None, "too large a number", 1),
    ("1e308 V 90%", None, "too large a number", 9),
    ("1e-999 V", None, "too small a number", 1),
    ("1e-320 pF", None, "too small a number", 1),
    ("V", None, "a unit without a number", 1),
    ("--5 V", None, "does not begin with a number", 1),
    ("twelve V", None, "does not begin with a number", 1),
    ("4k7k", RESISTANCE, "4k7, 4R7, 4u7", 1),
    ("4k7R", RESISTANCE, "4k7, 4R7, 4u7", 1),
    ("4K7", RESISTANCE, "write 4k7", 2),
    ("4E7", RESISTANCE, "a capital E", 2),
    ("4k7", VOLTAGE, "no way to write a voltage", 1),
    ("4k7", None, "write 4.7 kohm", 1),
    ("4u7", None, "write 4.7 uF or uH", 1),
    ("4k7", CAPACITANCE, "no way to write a capacitance", 1),
    ("24k", None, "write 24 kohm", 3),
    ("10 k", RESISTANCE, "write 10 kohm", 4),
    ("10 V # x", None, "a # inside a value", 6),
    ("9**9 V", None, "'**9 V' is left over", 2),
    ("9**9**9 V", None, "left over", 2),
    ("5 parsecs", None, "no unit 'parsecs' is known", 3),
    ("400 A", VOLTAGE, "expected a voltage, got a current", 5),
    ("5 K", CELSIUS, "write 5 degC", 3),
    ("5 degC", KELVIN, "write 5 K", 3),
    ("62 C/W", None, "no unit 'C/W' is known", 4),
    ("5 V", NUMBER, "write the number alone", 3),
    ("5 V V", None, "'V' is left over", 5),
    ("5V5V", None, "'5V' is left over", 3),
    ("5 V 5 A", None, "'5 A' is left over", 5),
    ("5 V (measured) x", None, "the bracket with how it is known comes last", 15),
    ("5 Mm", LENGTH, "did you mean 5 mm?", 3),
    ("5 kH", None, "no unit 'kH' is known", 3),
    ("5 v", None, "did you mean 5 V?", 3),
    ("100 mhz", None, "did you mean 100 MHz?", 5),
    ("10 KOHM", RESISTANCE, "did you mean 10 kohm?", 4),
    ("5 C", CELSIUS, "write 5 degC", 3),
    ("12 mA²s", None, "can be read two ways", 4),
    ("6.2", LENGTH, "write its unit, for example 6.2 mm", 3),
    ("6.1..6.4", LENGTH, "write its unit, for example 6.1..6.4 mm", 8),
    ("0", VOLTAGE, "write its unit", 1),
    ("0.5 mm..0.7", None, "write the unit behind the last number", 11),
    ("6.4..6.1 mm", None, "write the lower end first", 1),
    ("3..1..2 V", None, "write the lower end first", 1),
    ("5 V..6 A", None, "a range from V to A", 3),
    ("5 Vac..6 Vpk", None, "a range from Vac to Vpk", 3),
    ("6 mm ± 0.2 mm", None, "write 5.8..6.2 mm", 8),
    ("71 degC 2%", None, "write a range", 9),
    ("50% 5%", None, "a percentage of a percentage", 5),
    ("5 V 200%", None, "100% or more", 5),
    ("5 V 100%", None, "100% or more", 5),
    ("5 uF 20..50%", None, "leaves out the value itself", 6),
    ("under 5 V 5%", None, "write one of the two", 1),
    ("about 5..6 V", None, "write one of the two", 1),
    ("about 0 V", None, "says nothing", 1),
    ("under -5 V", None, "a bound on a negative number", 1),
    ("1..2..3 V 5%", None, "leave the tolerance out", 11),
    ("-5 mm", None, "write 5 mm", 1),
    ("-5 ohm", None, "write 5 ohm", 1),
    ("-300 degC", None, "below absolute zero", 1),
    (".5 V", None, "write 0.5 V", 1),
    ("5. V", None, "write 5", 2),
    ("5 V at", None, "'at' is left over", 5),
    ("5 V at x", None, "the condition behind 'at'", 8),
    ("5 V at 3", None, "the condition behind 'at'", 8),
    ("5 V at 5 A and 6 A", None, "two conditions that are both a current", 16),
    ("5 V at 3 Apk", None, "write conditions as plain V or A", 8),
    ("5 V (photo 3)", None, "(measured; photo 3)", 6),
    ("5 V (mesured)", None, "did you mean measured?", 6),
    ("5 V (computed)", None, "no way to know a value", 6),
    ("5 V ()", None, "an empty bracket", 6),
    ("5 V (measured", None, "this ( never closes", 5),
    ("5 V) x", None, "a ) without its (", 4),
    ("yes", LENGTH, "does not begin with a number", 1),
    ("null", LENGTH, "does not begin with a number", 1),
    ("−12 V", None, "write -", 1),
    ("٣ V", None, "does not begin with a number", 1),
    ("５ V", None, "does not begin with a number", 1),
    ("5 V\n", None, "left over", 4),
    ("5\u00a0V", None, "write an ordinary space", 2),
    ("0x10 V", None, "no unit 'x' is known", 2),
    ("1_000 V", None, "left over", 2),
    ("10 V; DROP", None, "left over", 5),
    ("x" * 10_000, None, "longer than 1000 characters", 1001),
    ("9" * 999 + " V", None, "longer than", 1001),
    ("9" * 900 + " V", None, "too large a number", 1),
]


@pytest.mark.parametrize(("text", "dimension", "words", "column"), REFUSED)
def test_refused(text: str, dimension: Dimension | None, words: str, column: int) -> None:
    with pytest.raises(ReadingError) as caught:
        read_quantity(text, Place("bench.yaml", 4, 9), dimension)
    (problem,) = caught.value.problems
    assert words in str(problem)
    assert problem.place == Place("bench.yaml", 4, 9 + column - 1)
    assert len(str(problem)) < 500


@pytest.mark.parametrize(
    ("text", "dimension"),
    [
        ("1,5 V", None), ("100,000 h", None), ("1.000,5 V", None), ("100-240 V", None), ("50/60 Hz", None),
        ("10:1", None), ("~8 mm", None), ("max 5 V", None), ("min. 5 V", None), ("4K7", RESISTANCE), ("4k7", None),
        ("24k", None), ("10 k", RESISTANCE), ("5 degC", KELVIN), ("5 C", CELSIUS),
        ("6 mm ± 0.2 mm", None), ("-5 mm", None), (".5 V", None), ("-5 ohm", None), ("≥5 V", None),
        ("6.2", LENGTH), ("6.1..6.4", LENGTH), ("0,125 A", None), ("100V-240V", None),
    ],
)  # fmt: skip
def test_what_to_write_instead_can_be_read(text: str, dimension: Dimension | None) -> None:
    """The advice, followed to the letter, is a value."""
    with pytest.raises(ReadingError) as caught:
        read_quantity(text, Place("x"), dimension)
    advised = caught.value.problems[0].instead
    advised = advised.removeprefix("write its unit, for example ").removeprefix("write ")
    read_quantity(advised, Place("x"), dimension)


def test_one_problem_type() -> None:
    with pytest.raises(ReadingError) as caught:
        read_quantity("1,5 V", Place("a.yaml", 1, 1))
    assert caught.value.problems == (
        Problem(Place("a.yaml", 1, 2), "a comma in the number '1,5'", "write 1.5 V"),
    )
