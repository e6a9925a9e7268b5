"""The creepage table of every family at, between and beyond its rows; laws that every requirement keeps."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from insulation_bench import PACKS, clearance, creepage, family

from derate.insulation import distances as steps
from derate.insulation.distances import NoRow, exact, micrometres, read, rounded_up

GROUPS = ("I", "II", "IIIa", "IIIb")
COLUMNS = [("1", group) for group in GROUPS] + [(degree, group) for degree in "23" for group in GROUPS]
TENTH = Fraction(1, 10_000)


def _usable(name: str, voltage: Fraction, pollution: str, group: str) -> bool:
    return name == "60335-1" or not (pollution == "3" and group == "IIIb" and voltage > 630)


@pytest.mark.parametrize("name", PACKS)
def test_every_cell_at_between_and_beyond(name: str) -> None:
    own = family(name)
    table = own.table("creepage")
    volts, columns = table.axes
    points = [exact(point) for point in volts.points]
    bands = volts.kind == "next row up"
    seen = 0
    for pollution, group in COLUMNS:
        column = columns.words.index(steps.column_of(pollution, group))
        cells = [exact(table.cells[row, column].value.near) for row in range(len(points))]
        for row, point in enumerate(points):
            if not _usable(name, point, pollution, group):
                with pytest.raises(NoRow):
                    steps.creepage_basic(own, point, pollution, group)
                continue
            found = steps.creepage_basic(own, point, pollution, group).value
            assert cells[row] <= found < cells[row] + TENTH
            if name != "62368-1":  # which rounds up to the tenth even on a row, as its predecessor prints it
                assert found == cells[row]
            seen += 1
        for (one, low), (other, high) in pairwise(zip(points, cells, strict=True)):
            middle = (one + other) / 2
            if not _usable(name, middle, pollution, group):
                continue
            found = steps.creepage_basic(own, middle, pollution, group).value
            wanted = high if bands else (low + high) / 2
            assert wanted <= found < wanted + TENTH
            just_over = steps.creepage_basic(own, one + Fraction(1, 1000), pollution, group).value
            assert just_over == high if bands else low <= just_over <= high + TENTH
        with pytest.raises(NoRow, match="beyond the last row"):
            steps.creepage_basic(own, points[-1] + 1, pollution, "I" if group == "IIIb" else group)
        least = steps.creepage_basic(own, Fraction(1), pollution, group).value
        assert least == steps.creepage_basic(own, points[0], pollution, group).value
    assert seen >= len(points) * len(COLUMNS) - 12


@pytest.mark.parametrize("name", PACKS)
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_more_voltage_dirt_or_height_never_asks_for_less(name: str, data: st.DataObject) -> None:
    volts = sorted(data.draw(st.tuples(st.floats(1, 600), st.floats(1, 600))))
    word = data.draw(st.sampled_from(("basic", "reinforced")))
    pollution = sorted(data.draw(st.tuples(st.sampled_from("123"), st.sampled_from("123"))))
    groups = sorted(data.draw(st.tuples(st.sampled_from(GROUPS), st.sampled_from(GROUPS))), key=GROUPS.index)
    heights = sorted(data.draw(st.tuples(st.floats(0, 8000), st.floats(0, 8000))))
    mains = sorted(data.draw(st.tuples(st.floats(10, 300), st.floats(10, 300))))
    assert creepage(name, volts[0], word, pollution=pollution[0], group=groups[0]) <= creepage(
        name, volts[1], word, pollution=pollution[1], group=groups[1]
    )
    top = 2000.0 if name == "60335-1" else heights[1]
    low = clearance(name, mains[0], "I", word, volts[0], min(heights[0], top), pollution[0])
    high = clearance(name, mains[1], "II", word, volts[1], top, pollution[1])
    assert low <= high
    assert clearance(name, mains[0], "II", "basic", 300, 0) <= clearance(name, mains[0], "II", "reinforced", 300, 0)


@pytest.mark.parametrize("name", PACKS)
def test_altitude_never_touches_creepage_and_clearance_only_above_2000_m(name: str) -> None:
    assert clearance(name, 230, "II", "reinforced", 400, 0) == clearance(name, 230, "II", "reinforced", 400, 2000)
    if name == "60335-1":
        with pytest.raises(NoRow, match="above 2000 m"):
            clearance(name, 230, "II", "reinforced", 400, 2001)
        return
    assert clearance(name, 230, "II", "reinforced", 400, 2001) > clearance(name, 230, "II", "reinforced", 400, 2000)
    assert float(clearance(name, 230, "II", "reinforced", 400, 5000)) == {"62368-1": 0.0045, "60664-1": 0.00444}[name]


def test_families_disagree_on_one_barrier() -> None:
    """Degree 2: between 630 V and 800 V the household bands ask less, above 250 V more; least clearance 0.5 mm."""
    assert creepage("60335-1", 700, "basic") < creepage("60664-1", 700, "basic")
    assert creepage("60335-1", 251, "basic") > creepage("60664-1", 251, "basic")
    least = {name: steps.clearance_by_impulse(family(name), exact(800), "basic", "2").value for name in PACKS}
    assert {name: float(value) for name, value in least.items()} == {"60664-1": 2e-4, "62368-1": 2e-4, "60335-1": 5e-4}
    assert {name: float(creepage(name, 250, "reinforced")) for name in PACKS} == dict.fromkeys(PACKS, 0.005)


def test_printed_wiring_is_refused_where_a_standard_has_no_column() -> None:
    basic = family("60664-1")
    assert float(steps.creepage_printed_wiring(basic, exact(250), "2", "IIIa").value) == 0.001
    for name in ("62368-1", "60335-1"):
        with pytest.raises(NoRow, match="no columns for printed wiring"):
            steps.creepage_printed_wiring(family(name), exact(250), "2", "IIIa")
    with pytest.raises(NoRow, match="IIIb"):
        steps.creepage_printed_wiring(basic, exact(250), "2", "IIIb")
    with pytest.raises(NoRow):
        steps.creepage_printed_wiring(basic, exact(250), "3", "IIIa")
    with pytest.raises(NoRow, match="no figure"):
        steps.creepage_printed_wiring(basic, exact(1250), "1", "IIIa")


def test_reinforced_is_the_next_step_never_double_the_distance() -> None:
    for name, category, basic, reinforced in (
        ("60664-1", "II", 1.5, 3.0), ("60664-1", "III", 3.0, 5.5), ("62368-1", "III", 3.0, 5.5),
        ("60335-1", "II", 1.5, 3.0), ("60335-1", "III", 3.0, 5.5),
    ):  # fmt: skip
        assert float(clearance(name, 230, category, "basic", 400, 0)) * 1000 == basic
        assert float(clearance(name, 230, category, "reinforced", 400, 0)) * 1000 == reinforced
    # An impulse that is no preferred step: 1.6 times it (60664-1).
    found = steps.clearance_by_impulse(family("60664-1"), exact(3000), "reinforced", "2")
    assert "4800 V" in found.words and float(found.value) == 0.0038


def test_mains_takes_its_row_and_is_never_interpolated() -> None:
    for name in PACKS:
        for mains in (220, 230, 240, 250):
            assert steps.table_voltage(family(name), exact(mains)).value == 250
        assert steps.table_voltage(family(name), exact(120)).value == 125


@given(st.integers(0, 10_000_000), st.integers(1, 1000))
def test_rounding_up_is_whole_and_exact(length: int, step: int) -> None:
    up = rounded_up(Fraction(length, 7), step)
    assert up % step == 0 and 0 <= up - Fraction(length, 7) < step
    assert rounded_up(Fraction(length * step), step) == length * step


def test_float_dust_never_reaches_a_rounding() -> None:
    assert rounded_up(micrometres(0.1 * 3 * 1e-3), 100) == 300  # 0.30000000000000004
    assert rounded_up(micrometres(2.4e-3), 100) == 2400
    for tenths in range(1, 400):
        assert rounded_up(micrometres(tenths * 0.1 * 1e-3), 100) == tenths * 100


def test_creepage_is_never_below_the_clearance() -> None:
    found = steps.creepage(family("62368-1"), exact(0.0025), "reinforced", exact(0.0055))
    assert found.value == exact(0.0055) and "not below the clearance" in found.words


def test_what_is_rounded_hangs_on_the_field_and_not_on_the_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """Read between two rows it is rounded up to a tenth, on a row it stands as printed, whatever the step is called."""
    own = family("60664-1")
    first, second = (exact(point) for point in own.table("creepage").axes[0].points[-3:-1])
    places = [first + (second - first) * Fraction(37, 100), first]
    asked = [steps.creepage_basic(own, one, "2", "IIIa").value for one in places]
    plain = [read(own.table("creepage"), one, column="PD2 III").value for one in places]
    assert asked[0] != plain[0] and asked[1] == plain[1]
    monkeypatch.setattr(steps, "read", lambda *given, **more: read(*given, **more)._replace(words="said otherwise"))
    assert [steps.creepage_basic(own, one, "2", "IIIa").value for one in places] == asked
