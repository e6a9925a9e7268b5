"""Values at the edges of what is read: the longest text, places of faults, conditions and rows of a table."""

from __future__ import annotations

from math import inf

import pytest

from derate.terms.dimension import (
    CAPACITANCE,
    CELSIUS,
    CURRENT,
    FREQUENCY,
    INDUCTANCE,
    LENGTH,
    NUMBER,
    RESISTANCE,
    TIME,
    VOLTAGE,
    Dimension,
)
from derate.terms.values import Category, Place, Problem, ReadingError, Value
from derate.text.nodes import Mapping, Node, Scalar, compose
from derate.text.quantity import (
    Percent,
    Quantity,
    Said,
    Table,
    figures_begin,
    read_figures,
    read_quantity,
    read_rating,
    read_said,
    read_scalar,
    read_table,
)

HERE = Place("bench.yaml", 7, 11)
LONGEST = 1000  # characters in one value


def fault(text: str, dimension: Dimension | None = None) -> tuple[str, int]:
    """What is wrong with a text, and at which of its characters, from one."""
    with pytest.raises(ReadingError) as caught:
        read_quantity(text, HERE, dimension)
    (problem,) = caught.value.problems
    assert (problem.place.path, problem.place.line) == ("bench.yaml", 7)
    return problem.what, problem.place.column - HERE.column + 1


def test_the_longest_text_that_is_read() -> None:
    at_most = "5 V".ljust(LONGEST)
    assert read_quantity(at_most, HERE).value == Value.exact(5)
    assert read_figures(at_most, HERE)[0].value == Value.exact(5)
    assert fault(at_most + " ") == ("longer than 1000 characters", 1001)
    with pytest.raises(ReadingError, match="longer than 1000 characters"):
        read_figures(at_most + " ", HERE)


def test_everything_that_is_kept_of_a_common_form() -> None:
    text = "22 uF 20% at 120 Hz (marked; browned)"
    low, high = 22e-6 * (1 - 20 / 100), 22e-6 * (1 + 20 / 100)
    assert read_quantity(text, HERE) == Quantity(
        Value(low, 22e-6, 22e-6, high), CAPACITANCE, "", "marked", "browned", ((120.0, FREQUENCY),), 22e-6,
        (-0.2, 0.2), "", None, text, HERE,
    )
    text = "6.1..6.4 mm (measured)"
    assert read_quantity(text, HERE) == Quantity(
        Value.between(6.1e-3, 6.4e-3), LENGTH, "", "measured", "", (), None, None, "", None, text, HERE
    )
    text = "1..2 Vac"
    assert read_quantity(text, HERE) == Quantity(
        Value.between(1, 2), VOLTAGE, "rms", None, "", (), None, None, "", None, text, HERE
    )


def test_everything_that_is_kept_of_a_rarer_form() -> None:
    text = " under 0.5 Vpk at 3 A and 25 degC (stated; by mail) "
    assert read_quantity(text, HERE) == Quantity(
        Value(0, 0, 0.5, 0.5), VOLTAGE, "peak", "stated", "by mail", ((3.0, CURRENT), (25.0, CELSIUS)), None, None,
        "under", None, text, HERE,
    )
    text = "1..2..4 s (data sheet)"
    assert read_quantity(text, HERE) == Quantity(
        Value.between(1, 4), TIME, "", "data sheet", "", (), None, None, "", 2.0, text, HERE
    )
    text = " unknown (seen; painted over)"
    assert read_quantity(text, HERE, LENGTH) == Quantity(
        None, LENGTH, "", "seen", "painted over", (), None, None, "", None, text, HERE
    )
    text = "not done (stated)"
    assert read_quantity(text, HERE, TIME) == Quantity(
        Category.of("not done"), TIME, "", "stated", "", (), None, None, "", None, text, HERE
    )


@pytest.mark.parametrize(
    ("percent", "numbers"),
    [("tolerance", (3, 4, 8, 10)), ("regulation", (3, 4, 8, 10)), ("uncertainty", (3, 3, 10, 10))],
)
def test_what_a_percentage_means(percent: Percent, numbers: tuple[float, ...]) -> None:
    """4..8 less and plus 25 % is 3..10: a tolerance of the part around its range, or doubt about this sample."""
    for text in ("4..8 V 25%", "4..8 V ±25%", "4..8 V -25..+25%"):
        value = read_quantity(text, HERE, None, percent).value
        assert isinstance(value, Value) and value.numbers() == numbers
        (figure,) = read_figures(text, HERE, None, percent)
        assert figure.value == value
        scalar = node(text)
        assert isinstance(scalar, Scalar)
        assert read_scalar(scalar, VOLTAGE, percent).value == value
        rating = read_rating(scalar, VOLTAGE, None, percent)
        assert isinstance(rating, Quantity) and rating.value == value
        for table in (
            read_table(mapping(f"{{1 A: {text}}}"), None, None, percent),
            read_rating(mapping(f"{{1 A: {text}}}"), None, None, percent),
        ):
            assert isinstance(table, Table) and table.curve.points == ((1.0, value),)


def test_a_text_over_two_lines_is_read_like_any_other_and_its_faults_stand_at_its_beginning() -> None:
    scalar = node('"4..8 V \\\n   25%"')
    assert isinstance(scalar, Scalar) and not scalar.in_line
    for percent, numbers in (("tolerance", (3, 4, 8, 10)), ("uncertainty", (3, 3, 10, 10))):
        found = read_scalar(scalar, VOLTAGE, percent)  # type: ignore[arg-type]
        assert isinstance(found.value, Value) and found.value.numbers() == numbers and found.place == scalar.place
    with pytest.raises(ReadingError, match="expected a current, got a voltage") as caught:
        read_scalar(scalar, CURRENT)
    (problem,) = caught.value.problems
    assert problem.place == scalar.place and problem.instead


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("0 V", (0, 0, 0, 0)),
        ("-12 V", (-12, -12, -12, -12)),
        ("-12 V 25%", (-15, -12, -12, -9)),
        ("-13..-11 V", (-13, -13, -11, -11)),
        ("-1..3 V", (-1, -1, 3, 3)),
        ("0..3 V", (0, 0, 3, 3)),
        ("0 V 25%", (0, 0, 0, 0)),
        ("5..5 V", (5, 5, 5, 5)),
        ("8 V 99%", (0.08, 8, 8, 15.92)),
        ("8 V 0.5%", (7.96, 8, 8, 8.04)),
        ("8 V 0.005%", (7.9996, 8, 8, 8.0004)),
        ("1000000000000000000000 V", (1e21, 1e21, 1e21, 1e21)),  # longer than what the quick form takes
        ("1..1000000000000000000000 V", (1, 1, 1e21, 1e21)),
        ("12345678901234567890 V", (12345678901234567890.0,) * 4),
        ("over 2 V", (2, 2, inf, inf)),
    ],
)
def test_numbers_at_and_beyond_nought(text: str, numbers: tuple[float, ...]) -> None:
    value = read_quantity(text, HERE, VOLTAGE).value
    assert isinstance(value, Value) and value.numbers() == pytest.approx(numbers, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "what", "column"),
    [
        ("5 V 100%", "a tolerance of 100% or more downwards", 5),
        ("2..1 V", "a range whose first end is the greater", 1),
        ("  2..1 V", "a range whose first end is the greater", 3),  # counted from where the text begins
        ("  5 V at 3 Apk", "a condition in Apk", 10),
        ("5 V  at 3 Apk", "a condition in Apk", 9),
        ("5 V at 3 A and 4 App", "a condition in App", 16),
        ("5 V at 3 Vpp", "a condition in Vpp", 8),
        ("71 degC 2%", "a percentage of a temperature", 9),
        ("5% 5%", "a percentage of a percentage", 4),
    ],
)
def test_where_a_fault_stands(text: str, what: str, column: int) -> None:
    assert fault(text) == (what, column)


@pytest.mark.parametrize("text", [f"{'9' * 400} V", f"1..{'9' * 400} V", f"5 V at {'9' * 400} A"])
def test_a_number_too_large_to_hold_is_refused_wherever_it_stands(text: str) -> None:
    """Read on, it would be infinite: an open end that nobody wrote."""
    assert fault(text)[0] == f"'{'9' * 39}…' is too large a number"


def test_nought_has_no_sign() -> None:
    for text in ("-0 V", "-0.0 V", "-0..0 V", "-0 V 10%"):
        value = read_quantity(text, HERE).value
        assert isinstance(value, Value) and [str(number) for number in value.numbers()] == ["0.0"] * 4, text


def test_a_number_of_one_digit_keeps_its_condition() -> None:
    found = read_quantity("5 at 3 A", HERE, NUMBER)
    assert (found.value, found.at) == (Value.exact(5), ((3.0, CURRENT),))


def test_a_text_that_begins_with_its_condition_has_no_value() -> None:
    for text in (" at 5 A", "at 5 A"):
        with pytest.raises(ReadingError):
            read_quantity(text, HERE)


def test_the_dimension_wanted_is_held_to() -> None:
    for text in ("5 A", "5..6 A", "5 A 5%", "5 A at 3 V", "under 5 A"):
        assert read_quantity(text, HERE, CURRENT).dimension == CURRENT
        assert fault(text, VOLTAGE)[0] == "expected a voltage, got a current"


def test_words_said() -> None:
    assert read_said("  II (marked; a square) ", HERE) == Said("II", "marked", "a square", HERE)
    assert read_said("FR-4", HERE) == Said("FR-4", None, "", HERE)
    with pytest.raises(ReadingError) as caught:
        read_said("II (mraked)", HERE)
    assert caught.value.problems[0].place == Place("bench.yaml", 7, 15)


# Figures of a short form ----------------------------------------------------------------------------------------


def test_each_figure_stands_at_its_own_place() -> None:
    text = " 22 uF 20% 50 V  105 degC (marked; browned)"
    found = read_figures(text, HERE)
    places = [(one.text, one.place.column - HERE.column) for one in found]
    assert places == [("22 uF 20%", 1), ("50 V", 11), ("105 degC", 17)]
    assert {(one.place.path, one.place.line, one.known_by, one.note) for one in found} == {
        ("bench.yaml", 7, "marked", "browned")
    }


@pytest.mark.parametrize(
    ("text", "main", "expected"),
    [
        ("4k7", None, (RESISTANCE, 4700)),
        ("4k7", CAPACITANCE, (RESISTANCE, 4700)),
        ("24k", None, (RESISTANCE, 24e3)),
        ("1G", INDUCTANCE, (RESISTANCE, 1e9)),
        ("4u7", INDUCTANCE, (INDUCTANCE, 4.7e-6)),
        ("2m2", INDUCTANCE, (INDUCTANCE, 2.2e-3)),
        ("2m2", CAPACITANCE, (CAPACITANCE, 2.2e-3)),
        ("100n", CAPACITANCE, (CAPACITANCE, 100e-9)),
        ("n47", CAPACITANCE, (CAPACITANCE, 0.47e-9)),
        ("5 m", CAPACITANCE, (LENGTH, 5)),
        ("5m", CAPACITANCE, (LENGTH, 5)),  # a bare m is a metre
    ],
)
def test_letters_in_a_short_form(text: str, main: Dimension | None, expected: tuple[Dimension, float]) -> None:
    for more in ("", " 16 V"):
        first, *rest = read_figures(text + more, HERE, main)
        assert (first.dimension, first.nominal) == expected and len(rest) == (more != "")


def test_a_letter_takes_its_tolerance_with_it() -> None:
    (one, other) = read_figures("4k7 1% 1 W", HERE)
    assert one.percent == (-0.01, 0.01) and other.nominal == 1.0


def test_a_percentage_may_stand_one_space_behind_its_number() -> None:
    (one,) = read_figures("5 V 10 %", HERE)
    assert one.percent == (-0.1, 0.1)


@pytest.mark.parametrize("main", [None, VOLTAGE])
@pytest.mark.parametrize(("text", "column"), [("4u7", 1), ("4u7 1 A", 1), ("5 V 4u7", 5), ("4u7 10% 5 V", 1)])
def test_a_letter_that_is_a_capacitor_or_a_choke(text: str, column: int, main: Dimension | None) -> None:
    """Whatever the part is mainly rated in: the dimension of a letter is that of the part or a resistance."""
    with pytest.raises(ReadingError) as caught:
        read_figures(text, HERE, main)
    (problem,) = caught.value.problems
    assert problem.place.column - HERE.column + 1 == column
    assert (problem.what, problem.instead) == ("'4u7' has no unit", "write 4.7 uF or uH")


@pytest.mark.parametrize(
    ("text", "figures"),
    [
        ("resistor 24k 1 W", "24k 1 W"), ("resistor 1M", "1M"), ("resistor 470R", "470R"),
        ("capacitor 100n 50 V", "50 V"), ("resistor 1G 5 W", "5 W"),  # only R, k and M are told without a digit behind
        ("capacitor 1n5", "1n5"), ("capacitor p47", "p47"), ("type k 5 V", "5 V"), ("type u 5 V", "5 V"),
        ("part 5", ""), ("part 5 V", "5 V"), ("part 1..2 V", "1..2 V"), ("part 5 Q", ""), ("4k7x 5 V", "5 V"),
    ],
)  # fmt: skip
def test_where_figures_begin(text: str, figures: str) -> None:
    assert text[figures_begin(text) :] == figures


# Ratings over a condition ---------------------------------------------------------------------------------------


def node(text: str) -> Node:
    """A value of a file."""
    found = compose(f"a: {text}\n", "x").get("a")
    assert found is not None
    return found


def mapping(text: str) -> Mapping:
    """A block of a file."""
    found = node(text)
    assert isinstance(found, Mapping)
    return found


def told(text: str, dimension: Dimension | None = None, condition: Dimension | None = None) -> list[str]:
    """What is wrong with a table, fault by fault."""
    with pytest.raises(ReadingError) as caught:
        read_table(mapping(text), dimension, condition)
    return [one.what for one in caught.value.problems]


def test_the_conditions_of_a_table_rise() -> None:
    assert told("{1 A: 3 s, 1000 mA: 2 s}") == ["the conditions of a table rise"]
    assert told("{2 A: 3 s, 1 A: 2 s}") == ["the conditions of a table rise"]
    found = read_table(mapping("{1 A: 3 s, 1.001 A: 2 s}"))
    assert found.curve.points == ((1.0, Value.exact(3)), (1.001, Value.exact(2)))


@pytest.mark.parametrize(
    "condition", ["5 A 5%", "about 5 A", "under 5 A", "5 A at 3 V", "5 A (seen)", "3..4 A", "unknown", "5 Apk", "5 App"]
)
def test_a_condition_is_one_plain_number(condition: str) -> None:
    assert told(f"{{{condition}: 3 s}}") == [f"'{condition}' is no condition"]


def test_conditions_with_a_statistic_of_the_whole_wave_are_taken() -> None:
    for condition in ("5 A", "5 Arms", "5 Adc"):
        assert read_table(mapping(f"{{{condition}: 3 s}}")).curve.points[0][0] == 5.0


def test_rows_of_a_table_are_values_of_one_kind() -> None:
    assert told("{1 A: 3 s, 2 A: 5 V}") == ["expected a time, got a voltage"]
    assert told("{1 A: 3 s, 2 V: 5 s}") == ["expected a current, got a voltage"]
    assert told("{1 A: 3 s}", VOLTAGE) == ["expected a voltage, got a time"]
    assert told("{1 A: 3 s}", TIME, VOLTAGE) == ["expected a voltage, got a current"]
    assert told("{1 A: 5 V, 2 A: 5 Vpk}") == ["two kinds of unit in one table"]
    assert told("{1 A: none, 2 A: unknown}") == ["'none' in a table", "'unknown' in a table"]
    assert told("{1 A: 3 s at 5 V}") == ["'at' inside a table"]
    assert told("{1 A: {2 A: 3 s}}") == ["an entry of a table is one value"]


def test_a_table_without_entries_is_told_at_its_place() -> None:
    block = mapping("{}")
    with pytest.raises(ReadingError) as caught:
        read_table(block)
    assert caught.value.problems == (
        Problem(block.place, "a table without entries", "write {120 Hz: 0.31 A}, or `unknown`"),
    )


def test_what_is_kept_of_a_table() -> None:
    block = mapping("{1 A: 5 Vpk (data sheet), 2 A: 6..7 Vpk}")
    found = read_table(block, VOLTAGE, CURRENT)
    assert (found.statistic, found.place) == ("peak", block.place)
    assert (found.curve.unit, found.curve.condition) == (VOLTAGE, CURRENT)
    assert found.curve.points == ((1.0, Value.exact(5)), (2.0, Value.between(6, 7)))
    assert [row.known_by for row in found.rows] == ["data sheet", None]
    assert [row.value for row in found.rows] == [value for _, value in found.curve.points]


def test_a_rating_is_held_to_what_is_wanted() -> None:
    one = read_rating(node("5 V"), VOLTAGE, CURRENT)
    assert isinstance(one, Quantity) and one.value == Value.exact(5)
    with pytest.raises(ReadingError, match="expected a current"):
        read_rating(node("5 V"), CURRENT)
    assert isinstance(read_rating(mapping("{1 A: 5 V}"), VOLTAGE, CURRENT), Table)
    for dimension, condition in ((CURRENT, CURRENT), (VOLTAGE, VOLTAGE)):
        with pytest.raises(ReadingError, match="expected a"):
            read_rating(mapping("{1 A: 5 V}"), dimension, condition)
