"""Tables read between their rows and at their edges: two axes, ranged cells, ends that hold, the cells that count.

Expected figures are worked out by hand beside each table; the binary fractions keep them exact.
"""

from __future__ import annotations

from math import inf

import pytest

from derate.packs.load import read_packs
from derate.packs.table import Looked, Table
from derate.terms.values import Category, Known, Value
from derate.terms.words import Confidence

HEAD = "pack: p\ntitle: t\ncovers: c\ntables:\n  t: "
exact, between = Value.exact, Value.between


def table(text: str) -> Table:
    """One table of volts, read from a flow mapping without its unit, source and (mostly) confidence."""
    extra = "" if "confidence" in text else ", confidence: published"
    found = read_packs({"p.yaml": f"{HEAD}{{{text}, unit: V{extra}, source: s}}\n"}).table("t")
    assert found is not None
    return found


def four(one: Table, **inputs: Known | float) -> tuple[float, float, float, float]:
    """The four numbers a table gives."""
    found = look(one, **inputs)
    assert found.value is not None, found.note
    return found.value.numbers()


def look(one: Table, **inputs: Known | float) -> Looked:
    """What a table gives; bare numbers are exact."""
    known = {name: exact(given) if isinstance(given, float | int) else given for name, given in inputs.items()}
    return one.look_up(known)


# Two axes of numbers ---------------------------------------------------------------------------------------------

PLANE = table("axes: {voltage: [0 V, 8 V], part.temperature: {unit: degC, at: [0, 64]}}, cells: [[16, 48], [80, 176]]")


def plane(voltage: float, temperature: float) -> tuple[float, float, float, float]:
    """The plane at a voltage [V] and a temperature [degC]."""
    return four(PLANE, voltage=voltage, **{"part.temperature": temperature})


def test_between_four_cells_each_counts_with_the_share_of_both_axes() -> None:
    # a quarter of the way in volts, three quarters in degrees:
    # 16 × 3/4 × 1/4 + 48 × 3/4 × 3/4 + 80 × 1/4 × 1/4 + 176 × 1/4 × 3/4 = 3 + 27 + 5 + 33 = 68
    assert plane(2, 48) == pytest.approx((68, 68, 68, 68), rel=1e-12)
    # three quarters and a quarter: 16 × 1/4 × 3/4 + 48 × 1/4 × 1/4 + 80 × 3/4 × 3/4 + 176 × 3/4 × 1/4
    # = 3 + 3 + 45 + 33 = 84
    assert plane(6, 16) == pytest.approx((84, 84, 84, 84), rel=1e-12)


def test_the_four_cells_themselves_and_the_middles_of_their_edges() -> None:
    for voltage, temperature, expected in (
        (0, 0, 16), (0, 64, 48), (8, 0, 80), (8, 64, 176), (0, 32, 32), (4, 0, 48), (8, 32, 128), (4, 64, 112),
    ):
        assert plane(voltage, temperature) == pytest.approx((expected,) * 4, rel=1e-12)


def test_two_uncertain_inputs_are_looked_up_at_every_corner() -> None:
    saddle = table("axes: {voltage: [0 V, 8 V], supply.mains: {unit: V, at: [0, 8]}}, cells: [[0, 64], [64, 0]]")
    # ends: (0, 0) 0, (0, 8) 64, (8, 0) 64, (8, 8) 0
    assert four(saddle, voltage=between(0, 8), **{"supply.mains": between(0, 8)}) == (0, 0, 64, 64)
    # narrow (0, 0) 0 and (0, 4) 32; wide to 8 on the second axis: 64
    assert four(saddle, voltage=0, **{"supply.mains": Value(0, 0, 4, 8)}) == (0, 0, 32, 64)


POWERS = table(
    "axes: {voltage: [1 V, 100 V], supply.mains: {unit: V, at: [1, 100]}}, kind: log-log, "
    "cells: [[1, 0.01], [10000, 100]]"
)


def test_log_log_on_two_axes_is_the_product_of_two_powers() -> None:
    """The cells are voltage² / mains, a plane on log paper: so is every figure between them."""
    for volts, mains in ((10, 10), (10**0.5, 10**1.5), (10**1.5, 10), (1, 10), (100, 1)):
        expected = volts**2 / mains
        assert four(POWERS, voltage=volts, **{"supply.mains": mains}) == pytest.approx((expected,) * 4, rel=1e-9)


# Cells that are ranges or have a tolerance ----------------------------------------------------------------------


def test_the_far_end_of_a_ranged_cell_is_read_too() -> None:
    ranged = table("axes: {voltage: [0 V, 8 V]}, cells: [2 V..4 V, 10 V..20 V]")
    assert four(ranged, voltage=0) == (2, 2, 4, 4)
    assert four(ranged, voltage=2) == (4, 4, 8, 8)  # a quarter of the way: 2 + 8/4 and 4 + 16/4
    assert four(ranged, voltage=between(2, 8)) == (4, 4, 20, 20)
    assert four(ranged, voltage=Value(0, 2, 4, 8)) == (2, 4, 12, 20)


def test_the_tolerance_of_a_cell_widens_only_the_outer_numbers() -> None:
    spread = table("axes: {voltage: [0 V, 8 V]}, cells: [16 V 25%, 64 V 50%]")
    assert four(spread, voltage=0) == (12, 16, 16, 20)
    assert four(spread, voltage=4) == (22, 40, 40, 58)  # half of 12 + 32, 16 + 64, 20 + 96
    assert four(spread, voltage=between(0, 8)) == (12, 16, 64, 96)


def test_ranged_cells_on_log_paper() -> None:
    ranged = table("axes: {voltage: [1 V, 100 V]}, kind: log-log, cells: [1 V..4 V, 100 V..1600 V]")
    assert four(ranged, voltage=10) == pytest.approx((10, 10, 80, 80), rel=1e-9)  # roots of 1 × 100 and 4 × 1600


def test_a_cell_that_is_open_above_stays_open_between_the_rows() -> None:
    open_above = table("axes: {voltage: [0 V, 8 V]}, cells: [over 2 V, 10 V]")
    assert four(open_above, voltage=4) == (6, 6, inf, inf)
    assert four(open_above, voltage=8) == (10, 10, 10, 10)  # with no share of it, it counts nothing


# Rows up and bands ----------------------------------------------------------------------------------------------

ROWS = table("axes: {voltage: [8 V, 16 V, 32 V]}, kind: next row up, cells: [1, 5, 3]")
BANDS = table("axes: {voltage: [8 V, 16 V, 32 V, 64 V]}, kind: band, cells: [1, 5, 3]")


@pytest.mark.parametrize(
    ("one", "low", "high", "least", "greatest"),
    [
        (ROWS, 2, 8, 1, 1),
        (ROWS, 2, 9, 1, 5),
        (ROWS, 8, 16, 1, 5),
        (ROWS, 9, 16, 5, 5),
        (ROWS, 9, 32, 3, 5),
        (ROWS, 17, 32, 3, 3),
        (ROWS, 4, 32, 1, 5),  # the row between is the greatest
        (BANDS, 8, 16, 1, 1),
        (BANDS, 16, 17, 1, 5),
        (BANDS, 17, 32, 5, 5),
        (BANDS, 32, 33, 3, 5),
        (BANDS, 9, 64, 1, 5),  # the band between is the greatest
        (BANDS, 33, 64, 3, 3),
    ],
)
def test_a_range_meets_every_row_between_its_ends(
    one: Table, low: float, high: float, least: float, greatest: float
) -> None:
    assert four(one, voltage=between(low, high)) == (least, least, greatest, greatest)


def test_the_number_of_cells_along_an_axis() -> None:
    assert ROWS.axes[0].rows == 3
    assert BANDS.axes[0].rows == 3  # of four edges
    assert table("axes: {barrier.material_group: [I, II]}, cells: [1, 2]").axes[0].rows == 2


def test_a_straight_line_may_turn_at_a_row_inside_the_range() -> None:
    peak = table("axes: {voltage: [0 V, 8 V, 16 V]}, cells: [16, 48, 16]")
    assert four(peak, voltage=between(4, 12)) == (32, 32, 48, 48)
    assert four(peak, voltage=between(8, 12)) == (32, 32, 48, 48)
    assert four(peak, voltage=between(10, 12)) == (32, 32, 40, 40)
    assert four(peak, voltage=Value(4, 6, 6, 10)) == (32, 40, 40, 48)


@pytest.mark.parametrize(("inner", "off"), [(0.7, -1), (1.6, 1)])
def test_float_dust_between_equal_cells_breaks_no_figure(inner: float, off: int) -> None:
    """Two shares of 0.1 V sum to a little less or more than the 0.1 V at the ends of the tolerance around them."""
    level = table("axes: {voltage: [0 V, 8 V]}, cells: [0.1, 0.1]")
    found = four(level, voltage=Value(0, inner, inner, 8))
    assert (found[1] < 0.1) == (off < 0) and (found[1] > 0.1) == (off > 0)
    assert found == pytest.approx((0.1, 0.1, 0.1, 0.1), rel=1e-12)


# Ends -----------------------------------------------------------------------------------------------------------

REFUSED = "axes: {voltage: [8 V, 16 V]}, cells: [2, 4]"
ENDS = {ends: table(f"{REFUSED}, ends: {ends}") for ends in ("refuse", "hold", "hold below", "hold above")}
BELOW, BEYOND = "voltage 4 V lies below its first row, 8 V", "voltage 20 V lies beyond its last row, 16 V"


@pytest.mark.parametrize(
    ("ends", "below", "beyond"),
    [("refuse", BELOW, BEYOND), ("hold", 2, 4), ("hold below", 2, BEYOND), ("hold above", BELOW, 4)],
)
def test_which_end_holds(ends: str, below: float | str, beyond: float | str) -> None:
    for number, expected, partly in ((4, below, between(4, 12)), (20, beyond, between(12, 20))):
        found = look(ENDS[ends], voltage=number)
        if isinstance(expected, str):
            assert (found.value, found.note) == (None, expected)
            assert look(ENDS[ends], voltage=partly).note == expected  # a range is refused for its end alone
        else:
            assert found.value == exact(expected)
            assert look(ENDS[ends], voltage=partly).value == between(*sorted((expected, 3)))
    for number, expected in ((8, 2), (12, 3), (16, 4)):  # the first and the last row are not beyond the ends
        assert look(ENDS[ends], voltage=number).value == exact(expected)


def test_a_tolerance_beyond_an_end_has_no_answer_either() -> None:
    assert look(ENDS["refuse"], voltage=Value(4, 10, 10, 12)).note == BELOW
    assert look(ENDS["refuse"], voltage=Value(10, 12, 12, 20)).note == BEYOND
    assert look(ENDS["refuse"], voltage=Value(10, 12, 20, 24)).note == BEYOND  # the end without tolerance is told
    assert four(ENDS["hold"], voltage=Value(4, 8, 12, 20)) == (2, 2, 3, 4)


def test_a_range_wholly_beyond_a_held_end_reads_its_row() -> None:
    assert four(ENDS["hold"], voltage=between(20, 30)) == (4, 4, 4, 4)
    assert four(ENDS["hold"], voltage=between(1, 4)) == (2, 2, 2, 2)
    assert four(ENDS["hold"], voltage=between(1, 30)) == (2, 2, 4, 4)
    for kind, last in (("next row up", 4), ("band", 2)):
        cells = "[2]" if kind == "band" else "[2, 4]"
        held = table(f"axes: {{voltage: [8 V, 16 V]}}, kind: {kind}, ends: hold, cells: {cells}")
        assert four(held, voltage=between(20, 30)) == (last,) * 4
        assert four(held, voltage=between(1, 4)) == (2,) * 4
    assert look(BANDS, voltage=4).note == BELOW
    assert look(BANDS, voltage=65).note == "voltage 65 V lies beyond its last row, 64 V"


def test_a_single_row_is_read_at_its_point_alone_unless_held() -> None:
    one = table("axes: {voltage: [8 V]}, cells: [2]")
    assert four(one, voltage=8) == (2, 2, 2, 2)
    assert "below" in look(one, voltage=7).note and "beyond" in look(one, voltage=9).note
    assert four(table("axes: {voltage: [8 V]}, ends: hold, cells: [2]"), voltage=between(7, 9)) == (2, 2, 2, 2)


# Confidence -----------------------------------------------------------------------------------------------------

SURE: tuple[Confidence, ...] = ("published", "one source", "common practice", "remembered")
FOUR = table(
    "axes: {voltage: [0 V, 8 V], supply.mains: {unit: V, at: [0, 8]}}, cells: [[1, 2], [3, 4]], "
    "confidence: [[published, one source], [common practice, remembered]]"
)


@pytest.mark.parametrize(
    ("voltage", "mains", "place"),
    [(0, 0, 0), (0, 8, 1), (8, 0, 2), (8, 8, 3), (0, 4, 1), (4, 0, 2), (4, 8, 3), (8, 4, 3), (4, 4, 3)],
)
def test_a_figure_is_as_sure_as_the_weakest_cell_with_a_share_in_it(voltage: float, mains: float, place: int) -> None:
    """A cell that a figure lies on the edge of, but has no share of, takes nothing away."""
    assert look(FOUR, voltage=voltage, **{"supply.mains": mains}).confidence == SURE[place]


def test_the_weakest_cell_counts_in_whatever_order_the_cells_stand() -> None:
    turned = table("axes: {voltage: [0 V, 8 V]}, cells: [1, 2], confidence: [remembered, published]")
    assert look(turned, voltage=4).confidence == "remembered"
    assert look(turned, voltage=8).confidence == "published"
    assert look(turned, voltage=between(0, 8)).confidence == "remembered"
    assert look(turned, voltage=Value(4, 8, 8, 8)).confidence == "remembered"  # met by its tolerance alone


def test_an_empty_cell_counts_only_with_a_share() -> None:
    first = table("axes: {voltage: [0 V, 8 V, 16 V]}, cells: [unknown, 2, unknown]")
    assert four(first, voltage=8) == (2, 2, 2, 2)
    assert look(first, voltage=7).note == "its source has no figure at voltage 0 V"
    assert look(first, voltage=9).note == "its source has no figure at voltage 16 V"
    assert look(first, voltage=9).value is None
    empty = table("axes: {voltage: [0 V, 8 V]}, cells: [unknown, unknown]")
    assert look(empty, voltage=4).note == "its source has no figure at voltage 0 V"  # the lower row is told
    assert look(first, voltage=Value(7, 8, 8, 8)).value is None  # met by its tolerance alone


# Words ----------------------------------------------------------------------------------------------------------

WORDS = table(
    "axes: {barrier.material_group: [I, IIIa, '2']}, cells: [4, 1 V..2 V, 8], "
    "confidence: [published, remembered, one source]"
)


def test_every_possible_word_is_looked_up() -> None:
    def at(given: Known | None) -> Looked:
        return WORDS.look_up({"barrier.material_group": given})

    assert at(Category.of("I")) == Looked(exact(4), "published")
    assert at(Category.of("I", "IIIa")) == Looked(between(1, 4), "remembered")
    assert at(Category.of("I", "IIIb")) == Looked(None, "published", "it has no row for barrier.material_group IIIb")
    assert at(exact(2)) == Looked(exact(8), "one source")  # a class written as a bare number
    assert at(between(1, 2)) == Looked(None, "published", "barrier.material_group is not known")
    assert at(exact(3)) == Looked(None, "published", "it has no row for barrier.material_group 3")
    assert at(None) == Looked(None, "published", "barrier.material_group is not known")
    assert WORDS.look_up({}) == Looked(None, "published", "barrier.material_group is not known")


def test_a_word_where_a_number_belongs() -> None:
    assert look(ROWS, voltage=Category.of("unmarked")) == Looked(None, "published", "voltage is unmarked, not a number")
    assert ROWS.look_up({}) == Looked(None, "published", "voltage is not known, not a number")
