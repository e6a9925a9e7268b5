"""The short form of a part, and ratings as tables."""

from __future__ import annotations

from math import inf

import pytest

from derate.terms.dimension import (
    CAPACITANCE,
    CELSIUS,
    CURRENT,
    ENERGY,
    FREQUENCY,
    INDUCTANCE,
    NUMBER,
    POWER,
    RESISTANCE,
    TIME,
    VOLTAGE,
    Dimension,
)
from derate.terms.values import Place, ReadingError, Value
from derate.text.nodes import Mapping, Node, compose
from derate.text.quantity import Quantity, Table, figures_begin, read_figures, read_rating, read_table

HERE = Place("bench.yaml", 7, 11)


@pytest.mark.parametrize(
    ("text", "main", "figures"),
    [
        ("0.82 ohm 1% 1 W", None, [(RESISTANCE, 0.82), (POWER, 1)]),
        ("22 uF 20% 50 V 105 degC", None, [(CAPACITANCE, 22e-6), (VOLTAGE, 50), (CELSIUS, 105)]),
        ("220 nF 20% 310 Vac", None, [(CAPACITANCE, 220e-9), (VOLTAGE, 310)]),
        ("2.5 mH", None, [(INDUCTANCE, 2.5e-3)]),
        ("1000 V 1 A 500 ns", None, [(VOLTAGE, 1000), (CURRENT, 1), (TIME, 500e-9)]),
        ("4k7 1%", None, [(RESISTANCE, 4700)]),
        ("24k 1% 0.25 W", None, [(RESISTANCE, 24e3), (POWER, 0.25)]),
        ("4u7 20% 16 V", CAPACITANCE, [(CAPACITANCE, 4.7e-6), (VOLTAGE, 16)]),
        ("4u7 3 A", INDUCTANCE, [(INDUCTANCE, 4.7e-6), (CURRENT, 3)]),
        ("4.7 uH 20% 18 mohm 3 A", None, [(INDUCTANCE, 4.7e-6), (RESISTANCE, 0.018), (CURRENT, 3)]),
        ("2 A at 55 degC", None, [(CURRENT, 2)]),
        ("1 Mohm 5% 0.25 W 250 V", None, [(RESISTANCE, 1e6), (POWER, 0.25), (VOLTAGE, 250)]),
        ("3 layers", None, [(NUMBER, 3)]),
        ("320 Vac", None, [(VOLTAGE, 320)]),
        ("  5 V   3 A ", None, [(VOLTAGE, 5), (CURRENT, 3)]),
    ],
)
def test_figures(text: str, main: Dimension | None, figures: list[tuple[Dimension, float]]) -> None:
    read = read_figures(text, HERE, main)
    assert [(one.dimension, one.nominal) for one in read] == figures
    for one in read:
        assert text[one.place.column - HERE.column :].startswith(one.text)


def test_figures_keep_tolerance_condition_statistic_and_evidence() -> None:
    resistance, power = read_figures("22 ohm 5% 0.25 W (marked; browned)", HERE)
    assert resistance.percent == (-0.05, 0.05)
    assert (resistance.known_by, power.known_by, power.note) == ("marked", "marked", "browned")
    (current,) = read_figures("2 A at 55 degC", HERE)
    assert current.at == ((55.0, CELSIUS),)
    assert read_figures("220 nF 310 Vac", HERE)[1].statistic == "rms"
    first, second = read_figures("1..2 V under 4 A", HERE)
    assert first.value == Value.between(1, 2)
    assert second.bound == "under"


@pytest.mark.parametrize(
    ("text", "figures"),
    [
        ("line diode 1N4007 1000 V 1 A", "1000 V 1 A"), ("film capacitor X2 220 nF 20% 310 Vac", "220 nF 20% 310 Vac"),
        ("film resistor 4k7 1%", "4k7 1%"), ("film resistor R47", "R47"), ("choke 4u7 3 A", "4u7 3 A"),
        ("signal diode 1N4148", ""), ("fuse", ""), ("1 A", "1 A"), ("tape 1..2 layers", "1..2 layers"), ("", ""),
        ("bipolar transistor 13001 about 400 V", "about 400 V"), ("relay up to 5 A", "up to 5 A"), ("R M k", ""),
    ],
)  # fmt: skip
def test_where_figures_begin(text: str, figures: str) -> None:
    assert text[figures_begin(text) :] == figures


@pytest.mark.parametrize(
    ("text", "words", "column"),
    [
        ("", "nothing is written", 1), ("5 V x", "'x' does not begin with a number", 5), ("5 V 10% 7", "unit", 9),
        ("10% 5 V", "stands behind no value", 1), ("1N4007 1000 V", "no unit 'N'", 2), ("4u7", "write 4.7 uF or uH", 1),
        ("5 V 1,5 A", "write 1.5 A", 6), ("5 V (photo)", "no way to know", 6), ("5 V 100-240 V", "100..240 V", 8),
        ("5 V at 3 A and 2 A 5 W", "two conditions", 16), ("y" * 2000, "longer than", 1001), ("22 10% 5 V", "unit", 1),
    ],
)  # fmt: skip
def test_figures_refused(text: str, words: str, column: int) -> None:
    with pytest.raises(ReadingError) as caught:
        read_figures(text, HERE)
    (problem,) = caught.value.problems
    assert words in str(problem)
    assert problem.place.column - HERE.column + 1 == column


def node(text: str) -> Node:
    found = compose(f"a: {text}\n", "x").get("a")
    assert found is not None
    return found


def table(text: str, dimension: Dimension | None = None, condition: Dimension | None = None) -> Table:
    mapping = node(text)
    assert isinstance(mapping, Mapping)
    return read_table(mapping, dimension, condition)


def test_table() -> None:
    ripple = table("{120 Hz: 0.31 A, 1 kHz: 0.40 A, 100 kHz: 0.47 A (data sheet)}", CURRENT, FREQUENCY)
    assert ripple.curve.points == (
        (120.0, Value.exact(0.31)), (1e3, Value.exact(0.40)), (1e5, Value.exact(0.47)),
    )  # fmt: skip
    assert (ripple.curve.condition, ripple.curve.unit) == (FREQUENCY, CURRENT)
    assert ripple.rows[2].known_by == "data sheet"
    opens = table("{4.2 A: under 1800 s, 5.5 A: 0.4..10 s, 8 A: over 1 s, 20 A: 20..150 ms}")
    assert [value.numbers() for _, value in opens.curve.points] == [
        (0, 0, 1800, 1800), (0.4, 0.4, 10, 10), (1, 1, inf, inf), (0.02, 0.02, 0.15, 0.15),
    ]  # fmt: skip
    assert table("{70 degC: 3 W, 155 degC: 0 W}").curve.points[1] == (155.0, Value.exact(0.0))
    assert table("{48 W: 60 s, 75 W: 30 s}", TIME, POWER).curve.condition == POWER
    assert table("{-20 degC: 1 A, 25 degC: 2 A}").curve.points[0][0] == -20.0
    assert table("{1 ms: 6.1 J}", ENERGY).curve.unit == ENERGY


def test_every_fault_of_a_table_is_told() -> None:
    with pytest.raises(ReadingError) as caught:
        table(
            "{1 A: 3 s, 2 A: 5 V, 2 V: 3 s, 1 A (seen): 3 s, 3..4 A: 3 s, 0.5 A: 4 s, 7: 3 s, 8 A: unknown, "
            "9 A: 3 s at 5 V, 10 A: [3, 4], 11 Apk: 1 s}"
        )
    said = [str(problem) for problem in caught.value.problems]
    for words in (
        "expected a time, got a voltage",
        "expected a current, got a voltage",
        "'1 A (seen)' is no condition",
        "'3..4 A' is no condition",
        "the conditions of a table rise",
        "'7' has no unit",
        "'unknown' in a table",
        "'at' inside a table",
        "an entry of a table is one value",
        "'11 Apk' is no condition",
    ):
        assert sum(words in one for one in said) == 1, (words, said)
    assert len(said) == 10


def test_table_refused() -> None:
    for text, words in (("{}", "a table without entries"), ("{1 A: 5 Vac, 2 A: 5 Vpk}", "two kinds of unit")):
        with pytest.raises(ReadingError, match=words):
            table(text)


def test_rating() -> None:
    assert isinstance(read_rating(node("400 V"), VOLTAGE), Quantity)
    assert isinstance(read_rating(node("{1 ms: 6 J, 10 ms: 7 J}"), ENERGY, TIME), Table)
    with pytest.raises(ReadingError, match="write 6.2 mm"):
        read_rating(node("[6,2 mm]"))
    with pytest.raises(ReadingError, match="a list where one value belongs"):
        read_rating(node("[6 mm, 7 mm]"))


def test_places_of_quoted_and_folded_texts() -> None:
    with pytest.raises(ReadingError) as caught:
        read_rating(node('"1,5 V"'))
    assert caught.value.problems[0].place == Place("x", 1, 6)
    with pytest.raises(ReadingError) as caught:
        read_rating(node('"1\\\n   ,5 V"'))
    assert caught.value.problems[0].place == Place("x", 1, 4)
