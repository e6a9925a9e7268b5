"""Each step of a distance by hand: figures from the tables of the standards, every sum written out beside it.

Rows that published reports print stand here as they were read. 62368-1 at 240 V, category II, pollution degree 2,
5000 m: temporary overvoltage 2000 V, transient 2500 V, 1.5 and 3.0 mm, factor 1.48, 2.3 and 4.5 mm; reinforced creepage
261 V 5.4 mm, 313 V 6.4 mm, 339 V 6.8 mm, 397 V 8.0 mm. 60664-1 table F.2 case A: 1.5 kV 0.5 mm, 2.5 kV 1.5 mm, 4 kV
3.0 mm, 6 kV 5.5 mm, not less than 0.8 mm in degree 3 at 1.5 kV and 1.6 mm in degree 4 at 2.5 kV.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from insulation_bench import PACKS, family

from derate.insulation import distances as steps
from derate.insulation.distances import Family, Found, NoRow, exact, read
from derate.packs.load import read_packs

BASIC, EQUIPMENT, HOUSEHOLD = (family(name) for name in ("60664-1", "62368-1", "60335-1"))
CREST = Fraction("1.41421356")
NOT_REINFORCED = ("functional", "basic", "supplementary")


def mm(found: Found) -> Fraction:
    """A length found, in millimetres."""
    return found.value * 1000


def volts(number: float | str) -> Fraction:
    """A voltage as it was written."""
    return Fraction(str(number))


@pytest.mark.parametrize(
    ("number", "words"), [("230", "230 V"), ("4800", "4800 V"), ("325.2691", "325.27 V"), ("0.5", "0.5 V")]
)
def test_a_voltage_in_words(number: str, words: str) -> None:
    assert steps.volts(Fraction(number)) == words


# Impulse and overvoltage ----------------------------------------------------------------------------------------


def test_the_mains_transient() -> None:
    found = steps.impulse(EQUIPMENT, volts(240), "II")
    assert found == Found(volts(2500), "published", "row 300 V: 2500 V in category II, at 240 V mains")
    assert [steps.impulse(BASIC, volts(230), one).value for one in ("I", "II", "III", "IV")] == [1500, 2500, 4000, 6000]
    # 150 V stands on its row, anything above takes the next; 600 V in category II holds 4000 V
    assert [steps.impulse(BASIC, volts(one), "II").value for one in (150, 151, 600)] == [1500, 2500, 4000]
    with pytest.raises(NoRow):
        steps.impulse(BASIC, volts(1001), "II")
    with pytest.raises(NoRow, match="category V"):
        steps.impulse(BASIC, volts(230), "V")


def test_a_working_peak_above_the_mains_crest_raises_the_impulse_by_the_difference() -> None:
    crest = 230 * CREST  # 325.2691188 V
    found = steps.raised_impulse(HOUSEHOLD, volts(2500), volts(230), volts(400))
    assert found.value == volts("2574.7308812")  # 2500 + 400 - 325.2691188
    assert found.confidence == "one source" and found.words == "2500 V + (400 V - 325.27 V) = 2574.73 V"
    for peak in (volts(300), crest):
        below = steps.raised_impulse(HOUSEHOLD, volts(2500), volts(230), peak)
        assert (below.value, below.confidence) == (2500, "published") and "not above the mains crest" in below.words
    above = steps.raised_impulse(HOUSEHOLD, volts(2500), volts(230), crest + 1)
    assert (above.value, above.confidence) == (2501, "one source")


def test_temporary_overvoltage() -> None:
    assert steps.temporary_overvoltage(EQUIPMENT, volts(240)) == Found(
        volts(2000), "published", "row 250 V: 2000 V, at 240 V mains"
    )
    assert steps.temporary_overvoltage(EQUIPMENT, volts(251)).value == 2500
    found = steps.temporary_overvoltage(BASIC, volts(230))  # (230 + 1200) × 1.41421356
    assert (found.value, found.confidence) == (volts("2022.3253908"), "published")
    assert found.words == "(230 V + 1200 V) times 1.414 = 2022.33 V"
    with pytest.raises(NoRow, match="60335-1 asks for none"):
        steps.temporary_overvoltage(HOUSEHOLD, volts(230))


# Clearance by impulse -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("impulse", "pollution", "expected"),
    [
        (1500, "2", "0.5"), (1500, "3", "0.8"), (1500, "4", "1.6"), (2500, "3", "1.5"), (2500, "4", "1.6"),
        (330, "1", "0.01"), (330, "2", "0.2"), (330, "3", "0.8"), (4000, "2", "3"), (6000, "2", "5.5"),
        (3200, "2", "2.2"),  # 2.0 at 3 kV and 3.0 at 4 kV: 2.0 + 0.2 × 1.0
        (100, "2", "0.2"),  # below the first row its figure holds
    ],
)  # fmt: skip
@pytest.mark.parametrize("word", NOT_REINFORCED)
def test_basic_clearance_by_impulse(impulse: int, pollution: str, expected: str, word: str) -> None:
    assert mm(steps.clearance_by_impulse(BASIC, volts(impulse), word, pollution)) == Fraction(expected)


def test_reinforced_clearance_takes_the_next_preferred_step_or_a_voltage_of_1_6_times() -> None:
    at_step = steps.clearance_by_impulse(BASIC, volts(2500), "reinforced", "2")
    assert (mm(at_step), at_step.confidence) == (3, "published")  # 4 kV
    assert at_step.words == "reinforced: next step above 2500 V is 4000 V; row 4000 V: 3 mm"
    between = steps.clearance_by_impulse(BASIC, volts(3000), "reinforced", "2")
    # 1.6 × 3000 = 4800: 3.0 at 4 kV and 4.0 (remembered) at 5 kV, 3.0 + 0.8 × 1.0
    assert (mm(between), between.confidence) == (Fraction("3.8"), "remembered")
    assert "1.6 times 3000 V, which is no preferred step = 4800 V" in between.words
    with pytest.raises(NoRow, match="12000 V has no step above it in preferred_impulse"):
        steps.clearance_by_impulse(BASIC, volts(12000), "reinforced", "2")
    assert mm(steps.clearance_by_impulse(BASIC, volts(8000), "reinforced", "2")) == 14  # 12 kV


def test_household_takes_the_next_step_whether_or_not_it_stands_on_one() -> None:
    for voltage, expected in ((2500, 3), (2501, 3), (volts("2574.73"), 3), (2499, "1.5"), (4000, "5.5"), (8000, 11)):
        found = steps.clearance_by_impulse(HOUSEHOLD, Fraction(voltage), "reinforced", "2")
        assert mm(found) == Fraction(expected), voltage
    with pytest.raises(NoRow, match="10000 V has no step above it in impulse_steps"):
        steps.clearance_by_impulse(HOUSEHOLD, volts(10000), "reinforced", "2")
    assert mm(steps.clearance_by_impulse(HOUSEHOLD, volts(2500), "basic", "2")) == Fraction("1.5")


def test_household_stricter_reading_raises_by_1_6_first() -> None:
    # 1.6 × 2574.73 = 4119.568, the step above is 6 kV: 5.5 mm where the kinder reading asks for 3.0 mm
    found = steps.clearance_by_stricter_step(HOUSEHOLD, volts("2574.73"), "2")
    assert (mm(found), found.confidence) == (Fraction("5.5"), "one source")  # that of the 1.6 times
    assert found.words == "1.6 times 2574.73 V = 4119.57 V, next step 6000 V; row 6000 V: 5.5 mm"
    assert mm(steps.clearance_by_stricter_step(HOUSEHOLD, volts(2500), "2")) == 3  # 4000 V stands on its step
    assert mm(steps.clearance_by_stricter_step(HOUSEHOLD, volts(300), "3")) == Fraction("0.8")  # degree 3


@pytest.mark.parametrize(
    ("impulse", "word", "pollution", "expected"),
    [
        (2500, "basic", "2", "1.5"),
        (2500, "functional", "2", "1.5"),
        (2500, "reinforced", "2", "3"),
        (2500, "reinforced", "3", "3"),
        (1500, "reinforced", "3", "1.5"),
        (1500, "basic", "3", "0.8"),
        (2700, "basic", "2", "1.7"),  # 1.5 + 0.4 × 0.5, on a tenth
        (2710, "basic", "2", "1.8"),  # 1.71, up to a tenth
        (1300, "basic", "2", "0.34"),  # 0.25 + 1/3 × 0.25 = 0.333, up to a hundredth below half a millimetre
        (1530, "basic", "2", "0.6"),  # 0.5 + 0.06 × 0.5 = 0.53, up to a tenth above it
    ],
)
def test_equipment_clearance_by_impulse(impulse: int, word: str, pollution: str, expected: str) -> None:
    assert mm(steps.clearance_by_impulse(EQUIPMENT, volts(impulse), word, pollution)) == Fraction(expected)


def test_how_rounding_is_told() -> None:
    plain = steps.clearance_by_impulse(EQUIPMENT, volts(2700), "basic", "2")
    assert plain.words == "in a straight line between row 2500 V: 1.5 mm and row 3000 V: 2 mm"
    rounded = steps.clearance_by_impulse(EQUIPMENT, volts(2710), "basic", "2")
    assert rounded.words == f"{plain.words}: 1.71 mm, up to 1.8 mm"
    assert rounded.confidence == "remembered"


# Clearance by peak ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("peak", "word", "pollution", "expected"),
    [
        (1000, "basic", "1", "0.26"),
        (1000, "functional", "2", "0.26"),
        (1000, "supplementary", "3", "0.8"),  # not less than by pollution degree
        (1000, "basic", "4", "1.6"),
        (600, "basic", "1", "0.06"),  # no least distance in degree 1
        (600, "basic", "2", "0.2"),
        (1400, "basic", "2", "0.64667"),  # 0.42 at 1200 V, 0.76 at 1500 V: 0.42 + 2/3 × 0.34
        (1000, "reinforced", "2", "0.862"),  # 1.6 × 1000: 0.76 at 1500 V, 1.27 at 2000 V: 0.76 + 0.2 × 0.51
        (1000, "reinforced", "3", "0.862"),
        (1000, "reinforced", "4", "1.6"),
        (500, "reinforced", "2", "0.2"),  # 0.13 at 800 V
        (500, "reinforced", "1", "0.13"),
    ],
)
@pytest.mark.parametrize("fast", [False, True])
def test_basic_standard_clearance_by_peak(peak: int, word: str, pollution: str, expected: str, fast: bool) -> None:
    found = steps.clearance_by_peak(BASIC, volts(peak), word, pollution, fast)
    assert round(mm(found), 5) == Fraction(expected)
    raised = f"1.6 times {peak} V = {peak * 8 // 5} V; "
    assert found.words.startswith(raised) == (word == "reinforced") and found.confidence == "remembered"


@pytest.mark.parametrize(
    ("peak", "word", "pollution", "fast", "expected"),
    [
        (2000, "basic", "2", False, "1.3"),  # 1.27, up to a tenth
        (2000, "functional", "2", False, "1.3"),
        (2000, "reinforced", "2", False, "2.6"),  # 2.54
        (600, "basic", "3", False, "0.8"),
        (600, "reinforced", "3", False, "1.5"),
        (1000, "basic", "2", True, "0.6"),
        (1000, "reinforced", "2", True, "1.2"),
        (1300, "basic", "2", True, "2.3"),  # 1.68 + 0.5 × 1.14 = 2.25
        (600, "basic", "2", True, "0.2"),  # 0.07: not less than the slow table at 330 V
        (600, "basic", "1", True, "0.07"),
        (600, "reinforced", "2", True, "0.4"),  # 0.14: not less than 0.4
        (800, "reinforced", "3", True, "1.5"),  # 0.44: not less than 1.5
        (1200, "reinforced", "3", True, "3.4"),  # 3.36
    ],
)
def test_equipment_clearance_by_peak(peak: int, word: str, pollution: str, fast: bool, expected: str) -> None:
    assert mm(steps.clearance_by_peak(EQUIPMENT, volts(peak), word, pollution, fast)) == Fraction(expected)


def test_household_has_no_clearance_by_peak() -> None:
    with pytest.raises(NoRow, match="60335-1 raises the impulse voltage instead"):
        steps.clearance_by_peak(HOUSEHOLD, volts(400), "basic", "2", False)


@pytest.mark.parametrize(
    ("name", "impulse", "peak", "word", "bounded"),
    [
        ("60664-1", 2500, "2060", "basic", True),
        ("60664-1", 2500, "2060.1", "basic", False),
        ("60664-1", 2500, "2060", "functional", True),
        ("60664-1", 2500, "2062.5", "reinforced", True),  # 1.6 × 2062.5 = 3300
        ("60664-1", 2500, "2062.6", "reinforced", False),
        ("60664-1", 1500, "100", "basic", False),  # published at 2500 V alone
        ("60664-1", 2499, "100", "basic", False),
        ("62368-1", 2500, "2000", "reinforced", True),  # as it is: no factor in this family
        ("62368-1", 2500, "2000.1", "reinforced", False),
        ("62368-1", 2500, "2000", "basic", True),
        ("62368-1", 2500, "2000.1", "basic", False),
        ("60335-1", 2500, "100", "basic", False),  # nothing published
    ],
)
def test_where_published_results_bound_the_peak(name: str, impulse: int, peak: str, word: str, bounded: bool) -> None:
    assert steps.bounded_by_reports(family(name), volts(impulse), volts(peak), word) is bounded


# Altitude -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("own", [BASIC, EQUIPMENT], ids=lambda own: own.name)
def test_altitude_factor(own: Family) -> None:
    heights = (0, 2000, "2000.1", 3000, 3001, 5000)
    assert [steps.altitude_factor(own, volts(one)).value for one in heights] == [
        1, 1, Fraction("1.14"), Fraction("1.14"), Fraction("1.29"), Fraction("1.48"),
    ]  # fmt: skip
    with pytest.raises(NoRow):
        steps.altitude_factor(own, volts(20001))


def test_household_has_no_factor_above_2000_m() -> None:
    found = steps.altitude_factor(HOUSEHOLD, volts(2000))
    assert found == Found(Fraction(1), "one source", "row 2000 m: 1")
    with pytest.raises(NoRow, match="no factor for altitudes above 2000 m"):
        steps.altitude_factor(HOUSEHOLD, volts("2000.1"))


@pytest.mark.parametrize(
    ("own", "clearance", "factor", "expected"),
    [
        (EQUIPMENT, "1.5", "1.48", "2.3"),  # 2.22, as four reports print it
        (EQUIPMENT, "3.0", "1.48", "4.5"),  # 4.44
        (EQUIPMENT, "2.5", "1.48", "3.7"),  # on a tenth already
        (EQUIPMENT, "0.34", "1", "0.34"),  # without a correction there is nothing to round
        (BASIC, "3.0", "1.48", "4.44"),
        (BASIC, "1.111", "1.14", "1.267"),  # 1.26654, up to a whole micrometre
        (BASIC, "0.2", "1", "0.2"),
    ],
)
def test_clearance_at_altitude(own: Family, clearance: str, factor: str, expected: str) -> None:
    found = steps.at_altitude(own, Fraction(clearance) / 1000, Fraction(factor))
    assert (mm(found), found.confidence) == (Fraction(expected), "published")


def test_how_altitude_is_told() -> None:
    assert steps.at_altitude(EQUIPMENT, Fraction(15, 10_000), Fraction("1.48")).words == (
        "1.5 mm x 1.48 = 2.22 mm, up to 2.3 mm"
    )
    assert steps.at_altitude(BASIC, Fraction(3, 1000), Fraction("1.48")).words == "3 mm x 1.48 = 4.44 mm"


# Creepage -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "mains", "row"),
    [
        ("60664-1", 230, 250), ("60664-1", 220, 250), ("60664-1", 208, 200), ("60664-1", 120, 125),
        ("62368-1", 230, 250), ("62368-1", 250, 250), ("62368-1", 251, 320), ("62368-1", 2000, 2000),
        ("60335-1", 230, 250), ("60335-1", 250, 250), ("60335-1", 251, 400),
    ],
)  # fmt: skip
def test_the_row_of_plain_mains(name: str, mains: int, row: int) -> None:
    assert steps.table_voltage(family(name), volts(mains)).value == row


def test_how_the_row_of_plain_mains_is_told() -> None:
    found = steps.table_voltage(HOUSEHOLD, volts(230))
    assert found == Found(volts(250), "published", "plain mains of 230 V takes the row of 250 V")


def test_mains_beyond_the_last_row() -> None:
    for name, mains in (("62368-1", 2001), ("60335-1", 1001), ("60664-1", 1001)):
        with pytest.raises(NoRow, match="beyond the last row"):
            steps.table_voltage(family(name), volts(mains))


def test_columns() -> None:
    groups = ("I", "II", "IIIa", "IIIb")
    assert {steps.column_of("1", group) for group in groups} == {"PD1"}
    assert [steps.column_of("2", group) for group in groups] == ["PD2 I", "PD2 II", "PD2 III", "PD2 III"]
    assert [steps.column_of("3", group) for group in groups] == ["PD3 I", "PD3 II", "PD3 III", "PD3 III"]


@pytest.mark.parametrize(
    ("name", "voltage", "pollution", "group", "expected"),
    [
        ("62368-1", 240, "2", "IIIb", "2.4"),  # 2.0 at 200 V, 2.5 at 250 V
        ("62368-1", 250, "2", "IIIa", "2.5"),
        ("62368-1", 261, "2", "IIIa", "2.7"),  # 2.5 + 11/70 × 0.7 = 2.61; doubled it is the 5.4 that was printed
        ("62368-1", 313, "2", "IIIa", "3.2"),  # 3.13; 6.4
        ("62368-1", 339, "2", "IIIa", "3.4"),  # 3.39; 6.8
        ("62368-1", 397, "2", "IIIa", "4"),  # 3.97; 8.0
        ("62368-1", 250, "2", "I", "1.3"),  # 1.25, rounded on its row too
        ("62368-1", 25, "1", "I", "0.13"),  # 0.125, up to a hundredth
        ("60664-1", 250, "2", "I", "1.25"),  # its own row as it stands
        ("60664-1", 25, "1", "I", "0.125"),
        ("60664-1", 261, "2", "IIIa", "2.7"),
        ("60664-1", 70, "1", "I", "0.21"),  # 0.20 + 7/17 × 0.02 = 0.2082, up to a hundredth
        ("60664-1", 360, "2", "II", "2.5"),
        ("60335-1", 261, "2", "IIIa", "4"),  # the band above 250 V, nothing between
        ("60335-1", 250, "1", "I", "0.6"),
    ],
)
def test_creepage_of_basic_insulation(name: str, voltage: int, pollution: str, group: str, expected: str) -> None:
    found = steps.creepage_basic(family(name), volts(voltage), pollution, group)
    assert mm(found) == Fraction(expected)
    assert f", column {steps.column_of(pollution, group)}" in found.words


@pytest.mark.parametrize("own", [BASIC, EQUIPMENT], ids=lambda own: own.name)
def test_group_iiib_is_not_for_degree_3_above_630_v(own: Family) -> None:
    assert mm(steps.creepage_basic(own, volts(630), "3", "IIIb")) == 10
    with pytest.raises(NoRow, match="IIIb is not for pollution degree 3 above 630 V"):
        steps.creepage_basic(own, volts("630.1"), "3", "IIIb")
    assert mm(steps.creepage_basic(own, volts(800), "3", "IIIa")) == Fraction("12.5")
    assert mm(steps.creepage_basic(own, volts(800), "2", "IIIb")) == 8
    assert mm(steps.creepage_basic(HOUSEHOLD, volts(800), "3", "IIIb")) == 10  # whose bands go on


def test_functional_creepage_is_kinder_in_the_household_family_alone() -> None:
    for name, basic, functional in (("60335-1", "2.5", "2"), ("60664-1", "2.5", "2.5"), ("62368-1", "2.5", "2.5")):
        assert mm(steps.creepage_basic(family(name), volts(250), "2", "IIIa")) == Fraction(basic)
        assert mm(steps.creepage_basic(family(name), volts(250), "2", "IIIa", False)) == Fraction(basic)
        assert mm(steps.creepage_basic(family(name), volts(250), "2", "IIIa", True)) == Fraction(functional)


@pytest.mark.parametrize(
    ("voltage", "pollution", "group", "expected"),
    [
        (400, "2", "IIIa", "2"),
        (250, "2", "I", "1"),
        (250, "1", "IIIb", "0.56"),  # on a row nothing is rounded, and degree 1 takes every group
        (63, "2", "II", "0.063"),
        (225, "2", "I", "0.9"),  # 0.63 + 0.5 × 0.37 = 0.815, up to a tenth
        (90, "1", "I", "0.09"),  # 0.063 + 0.5 × 0.037 = 0.0815, up to a hundredth
    ],
)
def test_creepage_on_printed_wiring(voltage: int, pollution: str, group: str, expected: str) -> None:
    assert mm(steps.creepage_printed_wiring(BASIC, volts(voltage), pollution, group)) == Fraction(expected)


def test_no_printed_wiring_for_group_iiib_in_degree_2() -> None:
    with pytest.raises(NoRow, match="not for material group IIIb"):
        steps.creepage_printed_wiring(BASIC, volts(250), "2", "IIIb")


@pytest.mark.parametrize(
    ("word", "clearance", "expected", "words"),
    [
        ("basic", "1.5", "2.5", "2.5 mm"),
        ("functional", "1.5", "2.5", "2.5 mm"),
        ("reinforced", "1.5", "5", "2 x 2.5 mm = 5 mm"),
        ("basic", "2.5", "2.5", "2.5 mm"),
        ("reinforced", "5", "5", "2 x 2.5 mm = 5 mm"),
        ("basic", "2.6", "2.6", "2.5 mm; not below the clearance, 2.6 mm"),
        ("reinforced", "5.5", "5.5", "2 x 2.5 mm = 5 mm; not below the clearance, 5.5 mm"),
    ],
)
def test_creepage_is_doubled_for_reinforced_and_never_below_the_clearance(
    word: str, clearance: str, expected: str, words: str
) -> None:
    found = steps.creepage(BASIC, Fraction(25, 10_000), word, Fraction(clearance) / 1000)
    assert (mm(found), found.confidence, found.words) == (Fraction(expected), "published", words)


@pytest.mark.parametrize(
    ("peak", "hertz", "pollution", "expected"),
    [
        # 1.0 kV: 0.6, 1.15, 3.0 mm by band; times 1, 1.2, 1.4 by pollution degree, up to a tenth
        (1000, 65_000, "1", "0.6"),
        (1000, 65_000, "2", "0.8"),  # 0.72
        (1000, 65_000, "3", "0.9"),  # 0.84
        (1000, 100_000, "1", "0.6"),
        (1000, 100_001, "1", "1.2"),
        (1000, 200_000, "2", "1.4"),  # 1.38
        (1000, 200_000, "3", "1.7"),  # 1.61
        (1000, 200_001, "3", "4.2"),
        (1000, 400_000, "2", "3.6"),
        (1500, 50_000, "3", "3.3"),  # 2.3 × 1.4 = 3.22
        (600, 300_000, "2", "0.48"),  # 0.4 × 1.2, on a hundredth
        (650, 50_000, "2", "0.38"),  # (0.267 + 0.358) / 2 × 1.2 = 0.375, up to a hundredth
    ],
)
def test_creepage_of_what_recurs_above_30_khz(peak: int, hertz: int, pollution: str, expected: str) -> None:
    found = steps.creepage_fast(EQUIPMENT, volts(peak), Fraction(hertz), pollution)
    assert (mm(found), found.confidence) == (Fraction(expected), "remembered")


def test_nothing_is_known_of_creepage_above_400_khz_or_beyond_the_last_figure() -> None:
    with pytest.raises(NoRow, match="above 400 kHz"):
        steps.creepage_fast(EQUIPMENT, volts(300), Fraction(400_001), "2")
    with pytest.raises(NoRow, match="no figure"):
        steps.creepage_fast(EQUIPMENT, volts(1600), Fraction(150_000), "2")
    with pytest.raises(NoRow, match="creepage fast in 60664-1"):
        steps.creepage_fast(BASIC, volts(300), Fraction(65_000), "2")
    assert "30 to 100 kHz, times 1.4" in steps.creepage_fast(EQUIPMENT, volts(300), Fraction(65_000), "3").words


# Reading a table exactly ----------------------------------------------------------------------------------------

TABLES = {
    "line": "axes: {voltage: [8 V, 16 V, 32 V]}, cells: [1, 3, 11], confidence: [published, one source, remembered]",
    "held": "axes: {voltage: [8 V, 16 V]}, ends: hold, cells: [1, 3]",
    "held_above": "axes: {voltage: [8 V, 16 V]}, ends: hold above, cells: [1, 3]",
    "held_below": "axes: {voltage: [8 V, 16 V]}, ends: hold below, cells: [1, 3]",
    "up": "axes: {voltage: [8 V, 16 V]}, kind: next row up, cells: [1, 3]",
    "up_held": "axes: {voltage: [8 V, 16 V]}, kind: next row up, ends: hold above, cells: [1, 3]",
    "bands": "axes: {voltage: [8 V, 16 V]}, kind: band, cells: [1]",
    "words": "axes: {barrier.material_group: [I, II]}, cells: [1, unknown], confidence: [one source, published]",
    "both": "axes: {barrier.material_group: [I, II], voltage: [8 V, 16 V]}, cells: [[1, 3], [5, 9]]",
    "ranged": "axes: {voltage: [8 V, 16 V, 32 V]}, cells: [1 mm..2 mm, 3 mm, 11 mm 5%]",
}
SURE = {name: "" if "confidence" in text else ", confidence: published" for name, text in TABLES.items()}
LINES = "".join(f"  {name}: {{{text}, unit: mm, source: s{SURE[name]}}}\n" for name, text in TABLES.items())
MADE = read_packs({"p.yaml": f"pack: p\ntitle: t\ncovers: c\ntables:\n{LINES}"})


def made(name: str, number: str | None = None, group: str = "") -> tuple[Fraction, str, str]:
    """Read one of the made tables: millimetres, confidence, words."""
    table = MADE.table(name)
    assert table is not None
    words = {"barrier.material_group": group} if group else {}
    found = read(table, None if number is None else Fraction(number), **words)
    return mm(found), found.confidence, found.words


def test_reading_at_and_between_rows() -> None:
    assert made("line", "8") == (1, "published", "row 8 V: 1 mm")
    assert made("line", "16") == (3, "one source", "row 16 V: 3 mm")
    assert made("line", "32") == (11, "remembered", "row 32 V: 11 mm")
    # 1 + 2/8 × 2 and 3 + 4/16 × 8; as sure as the weaker of its two rows
    assert made("line", "10") == (
        Fraction("1.5"), "one source", "in a straight line between row 8 V: 1 mm and row 16 V: 3 mm"
    )  # fmt: skip
    assert made("line", "20")[:2] == (5, "remembered")
    assert [made("up", one)[0] for one in ("1", "8", "8.1", "16")] == [1, 1, 3, 3]
    assert made("both", "10", "II")[0] == 6  # 5 + 2/8 × 4
    assert made("both", "10", "I")[0] == Fraction("1.5")
    assert made("words", None, "I") == (1, "one source", "I: 1 mm")


@pytest.mark.parametrize(
    ("name", "number", "expected"),
    [
        ("line", "7.9", "7.9 V lies below the first row of line"),
        ("line", "32.1", "32.1 V lies beyond the last row of line"),
        ("held", "7.9", 1), ("held", "16.1", 3),
        ("held_below", "7.9", 1), ("held_below", "16.1", "16.1 V lies beyond the last row of held below"),
        ("held_above", "7.9", "7.9 V lies below the first row of held above"), ("held_above", "16.1", 3),
        ("up", "16.1", "16.1 V lies beyond the last row of up"), ("up_held", "16.1", 3), ("up_held", "7", 1),
        ("bands", "10", "bands is neither read between its rows nor by the next row up"),
        ("line", None, "line is read at a number, and there is none"),
    ],
)  # fmt: skip
def test_ends(name: str, number: str | None, expected: int | str) -> None:
    if isinstance(expected, int):
        assert made(name, number)[0] == expected
        return
    with pytest.raises(NoRow) as refused:
        made(name, number)
    assert str(refused.value) == expected


def test_words_that_a_table_has_no_column_for() -> None:
    with pytest.raises(NoRow, match="words has no column for barrier.material group III"):
        made("words", None, "III")
    with pytest.raises(NoRow, match="no column"):
        made("both", "10")
    with pytest.raises(NoRow, match="words has no figure there"):
        made("words", None, "II")


def test_a_range_is_no_single_figure() -> None:
    """A distance needed is one figure: the near end of a range would ask for less than it may need."""
    assert made("ranged", "16")[0] == 3
    for number in ("8", "10", "20", "32"):
        with pytest.raises(NoRow, match="ranged gives no single figure there"):
            made("ranged", number)


def own_family(name: str, **tables: str) -> Family:
    """A family with tables of its own, written for what the shipped figures cannot show."""
    rest = "unit: mm, source: s, confidence: published"
    lines = "".join(f"  {one}: {{{text}, {rest}}}\n" for one, text in tables.items())
    packs = read_packs({"p.yaml": f"pack: p\ntitle: t\ncovers: c\ntables:\n{lines}"})
    found = {one: packs.table(one) for one in tables}
    return Family(name, {one: table for one, table in found.items() if table is not None})


def test_the_least_of_a_fast_peak_is_the_slow_figure_at_330_v() -> None:
    words = "insulation: {words: [basic]}"
    own = own_family(
        "62368-1",
        clearance_by_peak=f"axes: {{peak: {{unit: V, at: [330, 430]}}, {words}, pollution: {{words: ['1']}}}}, "
        "cells: [[[1]], [[101]]]",
        clearance_by_peak_fast=f"axes: {{peak: {{unit: V, at: [330, 430]}}, {words}}}, cells: [[0.5], [0.5]]",
    )
    assert mm(steps.clearance_by_peak(own, volts(430), "basic", "1", True)) == 1  # not 101, which is for 430 V
    # where the two are equal, the row of the peak itself is told: 0.07 + 13/15 × 0.15 = 0.2 mm
    equal = steps.clearance_by_peak(EQUIPMENT, Fraction(2320, 3), "basic", "2", True)
    assert mm(equal) == Fraction("0.2") and "row 600 V: 0.07 mm" in equal.words


def test_degree_1_has_no_least_distance() -> None:
    own = own_family(
        "60664-1",
        clearance_by_peak="axes: {peak: {unit: V, at: [40, 60]}}, cells: [0.0005, 0.001]",
        clearance_voltage_share="axes: {insulation: {words: [basic]}}, cells: [1000]",  # in mm: 1
    )
    assert mm(steps.clearance_by_peak(own, volts(40), "basic", "1", False)) == Fraction("0.0005")


def test_every_family_reads_its_own_tables_only() -> None:
    assert set(PACKS) == {BASIC.name, EQUIPMENT.name, HOUSEHOLD.name}
    with pytest.raises(NoRow, match="nothing was read on clearance by peak in 60335-1"):
        HOUSEHOLD.table("clearance_by_peak")
    assert exact(0.1) == Fraction(1, 10)
