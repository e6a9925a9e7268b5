"""The formula language: what is read, what is refused and where, and both sides as numbers."""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from derate.terms.dimension import (
    CELSIUS,
    CURRENT,
    CURRENT_DENSITY,
    KELVIN,
    NUMBER,
    POWER,
    RESISTANCE,
    THERMAL_RESISTANCE,
    VOLTAGE,
    VOLTAGE_SLOPE,
)
from derate.terms.values import Place, Value
from derate.text.formula import CannotEvaluate, Formula
from derate.text.formula_reader import FormulaError, parse, parse_scalar
from derate.text.nodes import Scalar, compose

HERE = Place("pack.yaml", 12, 15)
NAMES = {
    "voltage_peak": VOLTAGE,
    "rated.voltage": VOLTAGE,
    "rated.current": CURRENT,
    "rated.temperature": CELSIUS,
    "case_temperature": CELSIUS,
    "power": POWER,
    "rise": KELVIN,
    "junction_to_case": THERMAL_RESISTANCE,
    "ratio": NUMBER,
    "slope": VOLTAGE_SLOPE,
    "density": CURRENT_DENSITY,
    "x1": NUMBER,
}
VALUES = {
    "voltage_peak": Value.exact(373),
    "rated.voltage": Value.exact(400),
    "rated.current": Value.spread(2, 1.8, 2.2),
    "rated.temperature": Value.exact(105),
    "case_temperature": Value.between(60, 70),
    "power": Value.floor(3),
    "rise": Value.exact(12),
    "junction_to_case": Value.exact(2.5),
    "ratio": Value(-1, 0, 2, 3),
    "slope": Value.exact(1e8),
    "density": Value.exact(4.5e6),
    "x1": Value(-inf, -inf, 2, 2),
}


def rule(text: str) -> Formula:
    return parse(text, HERE, NAMES, True)


def limit(text: str) -> Value:
    return parse(text, HERE, NAMES, False).value(VALUES.__getitem__)


def test_both_sides() -> None:
    formula = rule("voltage_peak <= 0.8 * rated.voltage")
    assert formula.names == ("voltage_peak", "rated.voltage")
    assert formula.comparison == "<="
    assert formula.dimension == VOLTAGE
    assert formula.evaluate(VALUES.__getitem__) == (Value.exact(373), Value.exact(320))
    assert formula.words() == "voltage_peak ≤ 0.8 × rated.voltage"
    assert formula.numbers(VALUES.__getitem__) == "373 V ≤ 0.8 × 400 V = 320 V"


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("0.8 * rated.voltage", (320, 320, 320, 320)),
        ("400 V", (400, 400, 400, 400)),
        ("2 kV - 5 mV", (1999.995,) * 4),
        ("rated.current", (1.8, 2, 2, 2.2)),
        ("-rated.current", (-2.2, -2, -2, -1.8)),
        ("rated.temperature - 25 K", (80, 80, 80, 80)),
        ("rated.temperature - case_temperature", (35, 35, 45, 45)),
        ("10 K + case_temperature", (70, 70, 80, 80)),
        ("-40 degC", (-40, -40, -40, -40)),
        ("power * junction_to_case", (7.5, 7.5, inf, inf)),
        ("ratio * ratio", (-3, 0, 4, 9)),  # a name that stands twice is taken as two
        ("ratio - 3", (-4, -3, -1, 0)),
        ("-2 * ratio", (-6, -4, 0, 2)),
        ("1 / (ratio + 2)", (0.2, 0.25, 0.5, 1)),
        ("12 V / rated.current", (12 / 2.2, 6, 6, 12 / 1.8)),
        ("1 / (x1 - 3)", (-1, -1, 0, 0)),
        ("x1 - 1", (-inf, -inf, 1, 1)),
        ("min(rated.current, 2.1 A)", (1.8, 2, 2, 2.1)),
        ("max(rated.current, 1.9 A, 1 A)", (1.9, 2, 2, 2.2)),
        ("min(power, 5 W)", (3, 3, 5, 5)),
        ("2 + 3 * 4", (14, 14, 14, 14)),
        ("(2 + 3) * 4", (20, 20, 20, 20)),
        ("20 - 3 - 4", (13, 13, 13, 13)),
        ("20 / 2 / 5", (2, 2, 2, 2)),
        ("2 - -3", (5, 5, 5, 5)),
        ("--3", (3, 3, 3, 3)),
        ("50%", (0.5, 0.5, 0.5, 0.5)),
        ("10 V/us", (1e7,) * 4),
        ("slope / 2", (5e7,) * 4),
        ("10 V/rated.voltage", (0.025,) * 4),
        ("25 K/W * 2 W", (50,) * 4),
        ("4.5 A/mm²", (4.5e6,) * 4),
        ("100 V /us", None),
        ("1e3 ohm * 1e-3 A", (1, 1, 1, 1)),
    ],
)
def test_one_side(text: str, numbers: tuple[float, ...] | None) -> None:
    if numbers is None:
        with pytest.raises(FormulaError):
            limit(text)
    else:
        assert limit(text).numbers() == pytest.approx(numbers)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("1 / ratio", "divides by what may be zero"),
        ("1 / (3 - 3)", "divides by what may be zero"),
        ("0 / 0", "divides by what may be zero"),
        ("rated.current / (rated.current - 1.9 A)", "divides by what may be zero"),
        ("power / (power - 4 W)", "divides by what may be zero"),
        ("0 * power", "nothing times no upper limit"),
        ("x1 * 0", "nothing times no upper limit"),
        ("power / power", "an open end over an open end"),
        ("1e300 * 1e300", "larger than any number"),
        ("1e300 * 1e300 * ratio", "larger than any number"),
        ("1e300 * (ratio + 1e300)", "larger than any number"),
        ("1 / (1e300 * 1e300)", "larger than any number"),
        ("1e300 / 1e-300", "larger than any number"),
        ("1.5e308 + 1.5e308", "larger than any number"),
        ("min(1, 1e300 * 1e300)", "larger than any number"),
    ],
)
def test_without_an_answer(text: str, reason: str) -> None:
    with pytest.raises(CannotEvaluate, match=reason):
        limit(text)


def test_open_ends_that_meet_are_anything_or_refused() -> None:
    assert limit("power - power").numbers() == (-inf, -inf, inf, inf)
    everything = {"x1": Value.exact(inf), "ratio": Value.exact(-inf)}
    with pytest.raises(CannotEvaluate, match="two open ends"):
        parse("x1 + ratio", HERE, NAMES, False).value(everything.__getitem__)


def test_what_the_lookup_raises_passes() -> None:
    with pytest.raises(KeyError):
        rule("voltage_peak <= 1 V").evaluate({}.__getitem__)


# text, words expected, first and last column of the fault counted from one inside the text
REFUSED = [
    ("", "an empty formula", 1, 1),
    ("voltage_peak", "no comparison", 1, 12),
    ("voltage_peak <= 0.8 * rated.current", "expected a voltage, got a current", 17, 35),
    ("voltage_peak <= 0.8 * rated.curent", "did you mean rated.current?", 23, 34),
    ("voltage_peak <= 8%", "expected a voltage, got a plain number", 17, 18),
    ("voltage_peak + 3 A <= 1 V", "expected a voltage, got a current", 16, 18),
    ("voltage_peak + 3 <= 1 V", "expected a voltage, got a plain number", 16, 16),
    ("min(voltage_peak, 3 A) <= 1 V", "expected a voltage, got a current", 19, 21),
    ("case_temperature * 2 <= 4 K", "cannot be multiplied", 1, 20),
    ("2 / case_temperature <= 4 K", "cannot be multiplied", 1, 20),
    ("case_temperature + rated.temperature <= 4 degC", "cannot be added", 1, 36),
    ("-case_temperature <= 4 degC", "cannot be turned into its negative", 1, 17),
    ("case_temperature <= 4 K", "expected a temperature, got a temperature difference", 21, 23),
    ("voltage_peak <= 5 parsecs", "no unit 'parsecs'", 19, 25),
    ("voltage_peak <= 5 volts", "no unit 'volts'", 19, 23),
    ("voltage_peak <= 2 rated.voltage", "write * between", 19, 31),
    ("voltage_peak <= 400 Vac", "write V: the name says which", 21, 23),
    ("voltage_peak ** 2 <= 1 V", "multiply", 14, 15),
    ("voltage_peak ^ 2 <= 1 V", "multiply", 14, 14),
    ("voltage_peak == 2 V", "write <= or >=", 14, 15),
    ("voltage_peak = 2 V", "write <= or >=", 14, 14),
    ("voltage_peak => 2 V", "write >=", 14, 15),
    ("voltage_peak ≤ 2 V", "write <=", 14, 14),
    ("voltage_peak <= 2 × 3 V", "write *", 19, 19),
    ("voltage_peak <= 1 V and ratio <= 1", "write two rules", 21, 23),
    ("voltage_peak <= rated.voltage and 1", "write two rules", 31, 33),
    ("1 <= ratio <= 2", "a second comparison", 12, 13),
    ("(1 <= 2)", "a comparison inside parentheses", 4, 5),
    ("1 <= 2)", "a ) without its (", 7, 7),
    ("(1 <= 2", "a comparison inside parentheses", 4, 5),
    ("1 <= (2", "this ( never closes", 6, 6),
    ("1 <= min(2, 3", "this ( never closes", 9, 9),
    ("1 <= min(2)", "min of one value", 6, 11),
    ("1 <= min()", "')' where a number", 10, 10),
    ("1 <= min", "no quantity 'min'", 6, 8),
    ("1 <=", "ends too early", 4, 4),
    ("<= 1", "'<=' where a number", 1, 2),
    ("1 <= * 2", "'*' where a number", 6, 6),
    ("1 <= 2 3", "follows without a sign", 8, 8),
    ("1 <= ratio 3", "follows without a sign", 12, 12),
    ("ratio(2) <= 1", "follows without a sign", 6, 6),
    ("1,5 <= ratio", "a comma outside min and max", 2, 2),
    ("1 <= 1e999", "too large", 6, 10),
    ("1 <= 1e-999", "too small", 6, 11),
    ("1 <= .5", "'.' is not part", 6, 6),
    ("1 <= 'a'", "is not part of a formula", 6, 6),
    ("1 <= +2", "'+' where a number", 6, 6),
    ("é <= 1", "'é' is not part", 1, 1),
    ("1 <= 2\n", "is not part of a formula", 7, 7),
    ("1 <= 2\t", "is not part of a formula", 7, 7),
    ("__import__('os') <= 1", "no quantity '__import__'", 1, 10),
    ("rated.__class__ <= 1", "no quantity", 1, 15),
    ("lambda: 1", "no quantity 'lambda'", 1, 6),
    ("9**9**9 <= 1", "multiply", 2, 3),
    ("x" * 500, "more than 400 characters", 401, 401),
    ("(" * 31 + "1" + ")" * 31 + " <= 1", "nested more than 30 deep", 31, 31),
    ("1 <= " + "-" * 31 + "1", "nested more than 30 deep", 36, 36),
    ("1 <= " + "min(1, " * 31 + "1" + ")" * 31, "nested more than 30 deep", 216, 216),
]


@pytest.mark.parametrize(("text", "words", "first", "last"), REFUSED)
def test_refused(text: str, words: str, first: int, last: int) -> None:
    with pytest.raises(FormulaError) as caught:
        rule(text)
    (found,) = [problem for problem in caught.value.problems if words in str(problem)]
    assert found.place == Place("pack.yaml", 12, 15 + first - 1)
    assert caught.value.ends[found] == Place("pack.yaml", 12, 15 + last)


def test_a_limit_holds_no_comparison() -> None:
    with pytest.raises(FormulaError, match="a comparison where one value belongs"):
        parse("ratio < 1", HERE, NAMES, False)


def test_every_name_and_dimension_is_told_at_once() -> None:
    with pytest.raises(FormulaError) as caught:
        rule("volts + 3 A + 2 V <= amps * rated.curent")
    assert [problem.place.column - 14 for problem in caught.value.problems] == [1, 22, 29]


def test_long_sums_are_read_and_evaluated() -> None:
    formula = parse("+".join(["1"] * 200), HERE, NAMES, False)
    assert formula.value(VALUES.__getitem__) == Value.exact(200)
    assert formula.words().count("+") == 199


def test_parentheses_are_kept_where_they_matter() -> None:
    for text in ("2 × (3 + x1)", "20 - (3 - x1)", "20 / (2 / x1)", "(2 + x1) × 3", "2 + 3 - x1", "min(1, x1) × 2"):
        assert parse(text.replace("×", "*"), HERE, NAMES, False).words() == text
    assert parse("((2)) + ((x1))", HERE, NAMES, False).words() == "2 + x1"


def test_numbers_of_a_derivation() -> None:
    formula = rule("case_temperature + 10 K <= rated.temperature - 5 K")
    assert formula.numbers(VALUES.__getitem__) == "(60 to 70 degC) + 10 K = 70 to 80 degC ≤ 105 degC - 5 K = 100 degC"
    assert parse("0.8 * rated.voltage", HERE, NAMES, False).numbers(VALUES.__getitem__) == "0.8 × 400 V = 320 V"
    assert parse("rated.voltage", HERE, NAMES, False).numbers(VALUES.__getitem__) == "400 V"


def test_columns_map_into_the_file() -> None:
    mapping = compose('plain: ratio <= 1 V\nquoted: "ratio <= 1 V"\nfolded: "ratio <=\n  1 V"\n', "pack.yaml")
    places = []
    for _, node in mapping.entries:
        assert isinstance(node, Scalar)
        with pytest.raises(FormulaError) as caught:
            parse_scalar(node, NAMES, True)
        places.append(caught.value.problems[0].place)
    assert places == [Place("pack.yaml", 1, 17), Place("pack.yaml", 2, 19), Place("pack.yaml", 3, 9)]


ENDS = st.lists(st.floats(-100, 100), min_size=4, max_size=4).map(sorted)
TEXTS = [
    "ratio + x1", "ratio - x1", "ratio * x1", "ratio / (x1 + 101)", "min(ratio, x1) * 3 - x1", "max(ratio, -x1, 2)",
    "-(ratio * ratio - x1) / 7", "(ratio - 3) * (x1 + 5) * ratio",
]  # fmt: skip


@settings(max_examples=300)
@given(st.sampled_from(TEXTS), ENDS, ENDS, st.floats(0, 1), st.floats(0, 1))
def test_the_sides_hold_every_value_inside(
    text: str, one: list[float], other: list[float], share: float, second: float
) -> None:
    """A check of the interval arithmetic against plain arithmetic by Python on points inside the ranges."""
    formula = parse(text, HERE, NAMES, False)
    ranges = {"ratio": Value(*one), "x1": Value(*other)}
    side = formula.value(ranges.__getitem__)
    for low, high in ((0, 3), (1, 2)):
        ratio = min(max(one[low] + share * (one[high] - one[low]), one[low]), one[high])
        x1 = min(max(other[low] + second * (other[high] - other[low]), other[low]), other[high])
        answer = eval(text, {"ratio": ratio, "x1": x1, "min": min, "max": max, "__builtins__": {}})
        ends = side.numbers()
        assert ends[low] <= answer <= ends[high]
        exact = {"ratio": Value.exact(ratio), "x1": Value.exact(x1)}
        assert formula.value(exact.__getitem__).near == answer


def test_resistance_is_a_quotient() -> None:
    assert parse("rated.voltage / rated.current", HERE, NAMES, False).dimension == RESISTANCE
