"""Tables: the four kinds, ends, uncertain inputs at ends and breakpoints, words, confidence of the cells used."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.packs.load import read_packs
from derate.packs.table import Looked, Table
from derate.terms.values import Category, Value

HEAD = "pack: p\ntitle: t\ncovers: c\ntables:\n  t: "


def table(text: str) -> Table:
    """One table read from a flow mapping without its confidence and source."""
    extra = "" if "confidence" in text else ", confidence: published"
    found = read_packs({"p.yaml": f"{HEAD}{{{text}{extra}, source: s}}\n"}).table("t")
    assert found is not None
    return found


LINEAR = table("axes: {voltage: [0 V, 10 V, 20 V]}, unit: mm, cells: [1, 3, 2]")
LOGS = table("axes: {voltage: [1 V, 100 V]}, kind: log-log, unit: mm, cells: [1, 0.01]")
ROWS = table("axes: {voltage: [10 V, 20 V, 30 V]}, kind: next row up, unit: mm, cells: [1, 2, 4]")
BANDS = table("axes: {voltage: [10 V, 20 V, 30 V]}, kind: band, unit: mm, cells: [1, 2]")
HELD = table("axes: {voltage: [10 V, 20 V]}, ends: hold, unit: mm, cells: [1, 2]")
ABOVE = table("axes: {voltage: [10 V, 20 V]}, ends: hold above, unit: mm, cells: [1, 2]")


def at(one: Table, value: Value) -> tuple[float, float] | str:
    """The range a table gives [mm], or why it gives none."""
    found = one.look_up({"voltage": value})
    return found.note if found.value is None else (found.value.near * 1e3, found.value.far * 1e3)


EXACT = [
    (LINEAR, 5, 2), (LINEAR, 10, 3), (LINEAR, 15, 2.5), (LINEAR, 0, 1), (LINEAR, 20, 2),
    (LOGS, 10, 0.1), (LOGS, 1, 1), (LOGS, 100, 0.01),
    (ROWS, 5, 1), (ROWS, 10, 1), (ROWS, 10.1, 2), (ROWS, 30, 4),
    (BANDS, 10, 1), (BANDS, 20, 1), (BANDS, 20.1, 2), (BANDS, 30, 2),
    (HELD, 5, 1), (HELD, 99, 2), (ABOVE, 99, 2),
]  # fmt: skip


@pytest.mark.parametrize(("one", "number", "expected"), EXACT)
def test_a_number(one: Table, number: float, expected: float) -> None:
    assert at(one, Value.exact(number)) == pytest.approx((expected, expected), rel=1e-12)


def test_a_range_is_looked_up_at_its_ends_and_at_breakpoints_inside() -> None:
    assert at(LINEAR, Value.between(5, 15)) == pytest.approx((2, 3))  # the top at 10 V lies inside
    assert at(ROWS, Value.between(5, 25)) == pytest.approx((1, 4))
    assert at(BANDS, Value.between(15, 25)) == pytest.approx((1, 2))


def test_tolerance_widens_only_the_outer_numbers() -> None:
    found = LINEAR.look_up({"voltage": Value(4, 5, 5, 12)}).value
    assert found is not None
    assert [number * 1e3 for number in found.numbers()] == pytest.approx([1.8, 2, 2, 3])


BEYOND = [
    (LINEAR, 21, "voltage 21 V lies beyond its last row, 20 V"),
    (BANDS, 5, "voltage 5 V lies below its first row, 10 V"),
    (ABOVE, 5, "voltage 5 V lies below its first row, 10 V"),
    (ROWS, 31, "voltage 31 V lies beyond its last row, 30 V"),
]


@pytest.mark.parametrize(("one", "number", "expected"), BEYOND)
def test_beyond_its_ends_there_is_no_answer(one: Table, number: float, expected: str) -> None:
    assert at(one, Value.exact(number)) == expected


def test_an_open_end_has_no_answer_unless_held() -> None:
    assert "beyond" in str(at(LINEAR, Value.floor(5)))
    assert at(HELD, Value.floor(15)) == pytest.approx((1.5, 2))


TWO = table(
    "axes: {working_voltage: {unit: V, at: [50, 100], kind: linear}, barrier.material_group: [I, IIIa]}, unit: mm, "
    "cells: [[1, 2], [3, unknown]], confidence: [[published, remembered], [one source, published]]"
)


def look(low: float, high: float, *words: str) -> Looked:
    """The two-axis table at a range of voltage and some words."""
    return TWO.look_up({"working_voltage": Value.between(low, high), "barrier.material_group": Category.of(*words)})


def test_words_match_exactly_and_every_possible_one_counts() -> None:
    found = look(50, 50, "I", "IIIa")
    assert found.value is not None
    assert found.value.numbers() == pytest.approx((1e-3, 1e-3, 2e-3, 2e-3))
    assert look(50, 50, "II").note == "it has no row for barrier.material_group II"
    assert look(50, 50, "unmarked").note == "it has no row for barrier.material_group unmarked"
    assert TWO.look_up({"working_voltage": Value.exact(50)}).note == "barrier.material_group is not known"


def test_confidence_is_the_weakest_of_the_cells_used() -> None:
    assert look(50, 50, "I").confidence == "published"
    assert look(50, 75, "I").confidence == "one source"
    assert look(50, 50, "IIIa").confidence == "remembered"


def test_an_empty_cell_has_no_answer() -> None:
    assert (
        look(50, 100, "IIIa").note == "its source has no figure at working_voltage 100 V, barrier.material_group IIIa"
    )
    assert look(50, 50, "IIIa").value is not None


ends = st.floats(0, 20)


@given(ends, ends, ends)
def test_a_range_holds_every_answer_inside(one: float, other: float, inside: float) -> None:
    low, high = sorted((one, other))
    inside = min(max(inside, low), high)
    for which in (LINEAR, HELD, ROWS):
        wide, exact = (
            which.look_up({"voltage": Value.between(low, high)}),
            which.look_up({"voltage": Value.exact(inside)}),
        )
        if wide.value is not None:
            assert exact.value is not None
            assert wide.value.near <= exact.value.near * (1 + 1e-12) and exact.value.far <= wide.value.far * (1 + 1e-12)


def test_log_log_reads_straight_lines_on_log_paper() -> None:
    """Half way in decades between two rows of the usual pulse allowances of fuses (22 to 48 %): the geometric mean."""
    pulses = table(
        "axes: {site.switch_ons: [100, 1000, 10000, 100000]}, kind: log-log, cells: [0.48, 0.38, 0.29, 0.22]"
    )
    found = pulses.look_up({"site.switch_ons": Value.exact(3162.2776601683795)}).value  # half way in decades
    assert found is not None
    assert found.near == pytest.approx((0.38 * 0.29) ** 0.5, rel=1e-12)
