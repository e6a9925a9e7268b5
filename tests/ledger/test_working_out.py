"""Running a model: the corners that give near, far, low and high, the error band, and the holes.

Expected numbers are worked out by hand: near and far come from the ends of what is not known about the sample, low
and high from the ends of the tolerance; each input stands at the end that its sign asks for.
"""

from __future__ import annotations

from math import inf, nan
from types import SimpleNamespace
from typing import Any

import pytest

from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Ledger, Model, banded, corner_points, ends
from derate.terms.values import Category, Collapse, Value

C1, C2 = Subject("part", ("C1",)), Subject("part", ("C2",))
HOT = Case("running", 207.0, ambient=40.0)
VOLTAGE = Value(8.0, 9.0, 11.0, 12.0)
OHMS = Value(1.0, 2.0, 4.0, 5.0)


def divide(voltage: float, resistance: float) -> dict[str, float]:
    return {"current": voltage / resistance, "power": voltage**2 / resistance}


SIGNS = {"voltage": 1, "resistance": -1}
OHM = Model("current of a resistor", divide, {"current": SIGNS, "power": SIGNS}, source="Ohm")


def value_of(model: Model, output: str, ledger: Ledger | None = None, **inputs: Value | float) -> Value:
    """The one value of an output, worked out."""
    (row,) = (Ledger() if ledger is None else ledger).work_out(model, inputs, [(C1, "q", output)])
    assert isinstance(row.value, Value), row.note
    return row.value


def test_each_input_stands_at_the_end_its_sign_asks_for() -> None:
    # near 9 / 4, far 11 / 2, low 8 / 5, high 12 / 1
    assert value_of(OHM, "current", voltage=VOLTAGE, resistance=OHMS) == Value(1.6, 2.25, 5.5, 12.0)
    # near 81 / 4, far 121 / 2, low 64 / 5, high 144 / 1
    assert value_of(OHM, "power", voltage=VOLTAGE, resistance=OHMS) == Value(12.8, 20.25, 60.5, 144.0)


def test_a_falling_input_alone_and_a_rising_input_alone() -> None:
    assert value_of(OHM, "current", voltage=12.0, resistance=OHMS) == Value(2.4, 3.0, 6.0, 12.0)
    assert value_of(OHM, "current", voltage=VOLTAGE, resistance=2.0) == Value(4.0, 4.5, 5.5, 6.0)
    assert value_of(OHM, "current", voltage=12, resistance=2) == Value.exact(6.0)


def test_without_a_single_sign_both_ends_are_run() -> None:
    off = Model("distance", lambda x: {"off": (x - 10.0) ** 2}, {"off": {"x": 0}}, source="own")
    # 8 -> 4, 9 -> 1, 12 -> 4, 14 -> 16; least of the tolerance's ends is 4, and low is never above near
    assert value_of(off, "off", x=Value(8.0, 9.0, 12.0, 14.0)) == Value(1.0, 1.0, 4.0, 16.0)
    # 6 -> 16, 8 -> 4, 11 -> 1, 12 -> 4: near is at the far end, high at the low one
    assert value_of(off, "off", x=Value(6.0, 8.0, 11.0, 12.0)) == Value(1.0, 1.0, 4.0, 16.0)


def test_two_inputs_without_a_sign_are_run_at_all_four_corners() -> None:
    ledger = Ledger()
    product = Model("product", lambda a, b: {"p": a * b}, {"p": {"a": 0, "b": 0}}, source="own")
    a, b = Value.between(-2.0, 3.0), Value.between(-5.0, 7.0)
    # -2 × -5 = 10, -2 × 7 = -14, 3 × -5 = -15, 3 × 7 = 21
    assert value_of(product, "p", ledger, a=a, b=b) == Value.between(-15.0, 21.0)
    assert ledger.solves == 4


def test_of_several_corners_of_one_output_the_worst_counts() -> None:
    """|a - b| has its greatest at one of two corners: a high and b low, or a low and b high."""
    signs = ({"a": 1, "b": -1}, {"a": -1, "b": 1})
    apart = Model("apart", lambda a, b: {"d": abs(a - b)}, {"d": signs}, source="own")
    # far: |6 - 1| = 5 or |2 - 9| = 7; least of the two lowest corners: both swapped, 5 and 7
    assert value_of(apart, "d", a=Value.between(2.0, 6.0), b=Value.between(1.0, 9.0)) == Value.between(5.0, 7.0)
    assert value_of(apart, "d", a=Value.between(1.0, 9.0), b=Value.between(2.0, 6.0)) == Value.between(5.0, 7.0)


def test_an_input_that_is_not_named_for_an_output_is_left_where_it_is() -> None:
    calls: list[tuple[float, float]] = []

    def solve(a: float, b: float) -> dict[str, float]:
        calls.append((a, b))
        return {"only_a": a, "both": a + b}

    model = Model("m", solve, {"only_a": {"a": 1}, "both": {"a": 1, "b": 1}}, source="own")
    assert value_of(model, "only_a", a=Value.between(1.0, 2.0), b=Value(5.0, 6.0, 7.0, 8.0)) == Value.between(1.0, 2.0)
    assert len({a for a, _ in calls}) == 2
    assert value_of(model, "both", a=1.0, b=Value(5.0, 6.0, 7.0, 8.0)) == Value(6.0, 7.0, 8.0, 9.0)


def test_the_kind_corner_replaces_the_lower_end_where_more_is_worse() -> None:
    """The kind corner is one point for every lower end; a valley, of which less is worse, keeps its own signs."""

    def solve(a: float, b: float) -> dict[str, float]:
        return {"stress": a - b, "valley": a - b}

    signs = {"a": 1, "b": -1}
    model = Model(
        "m", solve, {"stress": signs, "valley": signs}, source="own", falling=frozenset({"valley"}),
        kind={"a": -1, "b": -1},
    )
    a, b = Value(9.0, 10.0, 20.0, 21.0), Value(0.0, 1.0, 2.0, 3.0)
    # kind, at the lower end: a falls, so it stands high: 20 - 2 = 18 and 21 - 3 = 18; upper end 20 - 1 and 21 - 0
    assert value_of(model, "stress", a=a, b=b) == Value(18.0, 18.0, 19.0, 21.0)
    assert value_of(model, "valley", a=a, b=b) == Value(6.0, 8.0, 19.0, 21.0)
    assert model.corners("stress", up=False) == ({"a": -1, "b": -1},)
    assert model.corners("stress", up=True) == (signs,)
    assert model.corners("valley", up=False) == (signs,)
    assert model.corners("valley", up=True) == (signs,)


def test_the_inputs_of_a_model_are_those_of_its_own_corners_in_order() -> None:
    several: Any = {"stress": ({"b": 1}, {"a": -1, "b": 1}), "valley": {"c": 1, "a": 1}}
    model = Model("m", divide, several, source="own", falling=frozenset({"valley"}), kind={"k": 1})
    assert model.inputs() == ("b", "a", "c")


def test_every_distinct_point_is_solved_once_for_all_outputs() -> None:
    ledger = Ledger()
    ledger.work_out(OHM, {"voltage": VOLTAGE, "resistance": OHMS}, [(C1, "i", "current"), (C1, "p", "power")])
    assert ledger.solves == 4  # near, far, low, high
    ledger.work_out(OHM, {"voltage": 12.0, "resistance": 2.0}, [(C1, "i", "current"), (C1, "p", "power")])
    assert ledger.solves == 5  # all four ends are one point
    ledger.work_out(OHM, {"voltage": 12.0, "resistance": Value.between(2.0, 4.0)}, [(C1, "i", "current")])
    assert ledger.solves == 7  # without tolerance the wide ends are the narrow ones
    ledger.work_out(OHM, {"voltage": 12.0, "resistance": Value.exact(0.0)}, [(C1, "i", "current"), (C2, "p", "power")])
    assert ledger.solves == 8  # a point that failed is not tried again


BAND = OHM._replace(errors={"current": (-0.5, 0.25)})


def test_the_error_band_lies_around_the_output_it_is_given_for() -> None:
    # 1.6, 2.25, 5.5, 12: half off the lower two, a quarter on the upper two
    assert value_of(BAND, "current", voltage=VOLTAGE, resistance=OHMS) == Value(0.8, 1.125, 6.875, 15.0)
    assert value_of(BAND, "power", voltage=VOLTAGE, resistance=OHMS) == Value(12.8, 20.25, 60.5, 144.0)


@pytest.mark.parametrize(
    ("four", "band", "expected"),
    [
        ((9.0, 11.0, 8.0, 12.0), None, Value(8.0, 9.0, 11.0, 12.0)),
        ((9.0, 9.0, 9.0, 9.0), (0.0, 0.0), Value.exact(9.0)),
        ((100.0, 100.0, 100.0, 100.0), (-0.25, 0.5), Value.between(75.0, 150.0)),
        # of a negative number the band is laid below and above just the same
        ((-100.0, -100.0, -100.0, -100.0), (-0.25, 0.5), Value.between(-125.0, -50.0)),
        ((-8.0, 8.0, -16.0, 16.0), (-0.25, 0.5), Value(-20.0, -10.0, 12.0, 24.0)),
        ((9.0, 11.0, 8.0, 12.0), (0.0, inf), Value(8.0, 9.0, inf, inf)),  # a floor: it proves a fail, never a pass
        ((9.0, 11.0, 8.0, 12.0), (-inf, 0.0), Value(-inf, -inf, 11.0, 12.0)),  # a ceiling: no fail
        ((0.0, 0.0, 0.0, 0.0), (-inf, inf), Value(-inf, -inf, inf, inf)),  # of nought too nothing is known then
        ((1.0, 5.0, 2.0, 4.0), None, Value(1.0, 1.0, 5.0, 5.0)),  # the outer two are never inside the inner two
    ],
)
def test_laying_the_band(four: tuple[float, float, float, float], band: Any, expected: Value) -> None:
    assert banded(*four, band) == expected


def test_the_two_ends_of_a_value() -> None:
    assert ends(VOLTAGE, wide=True) == (8.0, 12.0)
    assert ends(VOLTAGE, wide=False) == (9.0, 11.0)


@pytest.mark.parametrize(
    ("signs", "wide", "up", "points"),
    [
        ({"a": 1, "b": -1}, False, True, [(9.0, 2.0)]),
        ({"a": 1, "b": -1}, False, False, [(8.0, 3.0)]),
        ({"a": 1, "b": -1}, True, True, [(10.0, 1.0)]),
        ({"a": 1, "b": -1}, True, False, [(7.0, 4.0)]),
        ({"a": 0, "b": 1}, False, True, [(8.0, 3.0), (9.0, 3.0)]),
        ({"a": 0, "b": 0}, True, False, [(7.0, 1.0), (7.0, 4.0), (10.0, 1.0), (10.0, 4.0)]),
        ({"b": 1}, False, True, [(8.0, 3.0)]),
    ],
)
def test_the_points_of_a_corner(signs: dict[str, int], wide: bool, up: bool, points: list[tuple[float, ...]]) -> None:
    values = {"a": Value(7.0, 8.0, 9.0, 10.0), "b": Value(1.0, 2.0, 3.0, 4.0)}
    assert sorted(corner_points(signs, ("a", "b"), values, wide, up)) == points


def test_an_input_that_is_known_exactly_is_run_at_one_point() -> None:
    found = list(corner_points({"a": 0, "b": 0}, ("a", "b"), {"a": Value.exact(1), "b": VOLTAGE}, True, True))
    assert found == [(1.0, 8.0), (1.0, 12.0)]


# What is written beside a value


def test_a_computed_row_names_formula_source_inputs_note_and_what_it_rests_on() -> None:
    ledger = Ledger()
    ledger.write(C2, "elsewhere", Value.exact(0))
    voltage = ledger.write(C1, "voltage", Value.exact(12), rests_on=frozenset({"mains tolerance"}))
    ohms = ledger.write(C1, "resistance", Value.exact(2), rests_on=frozenset({"site.altitude"}))
    current, power = ledger.work_out(
        OHM, {"voltage": voltage, "resistance": ohms}, [(C1, "i", "current"), (C2, "p", "power")], case=HOT, note="dc"
    )
    assert current == Entry(
        4, C1, "i", HOT, Value.exact(6), known_by="computed", formula="current of a resistor", source="Ohm",
        inputs=(2, 3), note="dc", rests_on=frozenset({"mains tolerance", "site.altitude"}),
    )
    assert (power.number, power.subject, power.quantity, power.value) == (5, C2, "p", Value.exact(72))
    assert ledger.find(C1, "i", HOT) is current and ledger.find(C2, "p", HOT) is power


def test_numbers_and_values_given_bare_have_no_row_to_name() -> None:
    ledger = Ledger()
    ohms = ledger.write(C1, "resistance", Value.exact(2))
    (row,) = ledger.work_out(OHM, {"voltage": 12, "resistance": ohms}, [(C1, "i", "current")])
    assert (row.value, row.inputs, row.case, row.note, row.rests_on) == (Value.exact(6), (1,), None, "", frozenset())


def test_outputs_are_read_from_a_mapping_or_from_attributes() -> None:
    model = OHM._replace(solve=lambda voltage, resistance: SimpleNamespace(**divide(voltage, resistance)))
    assert value_of(model, "power", voltage=VOLTAGE, resistance=OHMS) == Value(12.8, 20.25, 60.5, 144.0)


# Holes


def test_an_input_that_is_a_hole_makes_holes_that_name_every_missing_fact() -> None:
    ledger = Ledger()
    voltage = ledger.hole(C1, "voltage", ("C1: voltage", "supply: mains"), rests_on=frozenset({"a"}))
    ohms = ledger.hole(C1, "resistance", ("supply: mains", "C1: resistance"), rests_on=frozenset({"b"}))
    known = ledger.write(C1, "other", Value.exact(1), rests_on=frozenset({"c"}))
    rows = ledger.work_out(
        OHM, {"voltage": voltage, "known": known, "resistance": ohms}, [(C1, "i", "current"), (C2, "p", "power")],
        case=HOT, note="its own",
    )
    wanted = Entry(
        4, C1, "i", HOT, None, ("C1: voltage", "supply: mains", "C1: resistance"), "computed",
        formula="current of a resistor", inputs=(1, 3, 2), note="its own", rests_on=frozenset({"a", "b", "c"}),
    )
    assert rows[0] == wanted
    assert (rows[1].subject, rows[1].quantity, rows[1].missing) == (C2, "p", wanted.missing)
    assert len(rows) == 2 and ledger.solves == 0  # nothing is run without all inputs


def test_a_hole_with_a_reason_instead_of_facts_passes_the_reason_on() -> None:
    ledger = Ledger()
    voltage = ledger.hole(C1, "voltage", (), note="the load cannot be carried")
    (row,) = ledger.work_out(OHM, {"voltage": voltage, "resistance": 2.0}, [(C1, "i", "current")], note="its own")
    assert (row.value, row.missing, row.note) == (None, (), "the load cannot be carried")


def test_the_note_of_a_known_input_is_not_passed_on() -> None:
    ledger = Ledger()
    voltage = ledger.write(C1, "voltage", Value.exact(12), note="photo 3")
    hole = ledger.hole(C1, "resistance", ("C1: resistance",))
    assert ledger.work_out(OHM, {"voltage": voltage, "resistance": 2.0}, [(C1, "i", "current")])[0].note == ""
    assert ledger.work_out(OHM, {"voltage": voltage, "resistance": hole}, [(C1, "i", "current")])[0].note == ""


def test_a_word_where_a_number_belongs_is_no_number() -> None:
    ledger = Ledger()
    word = ledger.write(C1, "voltage", Category.of("unmarked"))
    (row,) = ledger.work_out(OHM, {"voltage": word, "resistance": 2.0}, [(C1, "i", "current")])
    assert row.value is None and row.inputs == (1,) and ledger.solves == 0


def failing(trouble: Exception) -> Model:
    """A resistor that gives way above 10 V, which only the far corners of the tests reach."""

    def solve(voltage: float, resistance: float) -> dict[str, float]:
        if voltage > 10.0:
            raise trouble
        return divide(voltage, resistance)

    return OHM._replace(solve=solve)


@pytest.mark.parametrize(
    ("trouble", "note"),
    [
        (Collapse("the load cannot be carried"), "the load cannot be carried"),
        (ValueError("beyond 10 V"), "current of a resistor: beyond 10 V"),
        (ZeroDivisionError("division by zero"), "current of a resistor: division by zero"),
        (OverflowError("too large"), "current of a resistor: too large"),
    ],
)
@pytest.mark.parametrize("voltage", [Value.between(5.0, 11.0), Value.spread(5.0, 4.0, 11.0)], ids=["range", "spread"])
def test_one_corner_that_gives_way_makes_the_whole_row_a_hole(trouble: Exception, note: str, voltage: Value) -> None:
    """Were the corner dropped, the worst of the others would stand for it: on the unsafe side."""
    ledger = Ledger()
    source = ledger.write(C1, "voltage", voltage, rests_on=frozenset({"mains tolerance"}))
    rows = ledger.work_out(
        failing(trouble), {"voltage": source, "resistance": 2.0}, [(C1, "i", "current"), (C2, "p", "power")],
        case=HOT, note="its own",
    )
    for row, subject, quantity in zip(rows, (C1, C2), ("i", "p"), strict=True):
        assert row == Entry(
            row.number, subject, quantity, HOT, None, (), "computed", formula="current of a resistor", inputs=(1,),
            note=note, rests_on=frozenset({"mains tolerance"}),
        )


def test_another_kind_of_error_is_a_mistake_in_the_program_and_is_not_hidden() -> None:
    with pytest.raises(KeyError):
        Ledger().work_out(failing(KeyError("typo")), {"voltage": 11.0, "resistance": 2.0}, [(C1, "i", "current")])


def test_an_output_that_is_not_given_at_a_corner_is_a_hole_and_the_others_stand() -> None:
    signs = {"current": SIGNS, "peak_power": SIGNS}
    model = OHM._replace(solve=lambda voltage, resistance: {"current": 1.0, "peak_power": None}, signs=signs)
    ledger = Ledger()
    hole, current = ledger.work_out(
        model, {"voltage": 12.0, "resistance": 2.0}, [(C1, "p", "peak_power"), (C1, "i", "current")]
    )
    assert hole.value is None and hole.note == "current of a resistor: gives no peak power here"
    assert current.value == Value.exact(1.0) and current.note == ""


@pytest.mark.parametrize("at", [4.0, 5.0, 11.0, 12.0])
def test_a_corner_that_is_no_number_is_never_dropped(at: float) -> None:
    """Neither the least nor the greatest of numbers with a NaN among them is the NaN: the row must be a hole."""
    model = Model(
        "m", lambda a, b: {"q": nan if a == at else a + b}, {"q": {"a": 0, "b": 0}}, source="own"
    )
    ledger = Ledger()
    inputs = {"a": Value(4.0, 5.0, 11.0, 12.0), "b": Value(1.0, 2.0, 3.0, 4.0)}
    (row,) = ledger.work_out(model, inputs, [(C1, "q", "q")])
    assert row.value is None and row.note == "m: gives no number for q here"


def test_an_input_open_above_leaves_the_output_open_above() -> None:
    assert value_of(OHM, "current", voltage=Value.floor(12.0), resistance=2.0) == Value.floor(6.0)
    assert value_of(OHM, "current", voltage=12.0, resistance=Value.floor(2.0)) == Value.between(0.0, 6.0)
