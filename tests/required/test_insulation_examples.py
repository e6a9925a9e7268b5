"""Published worked examples and test reports: every row gives its printed answer, or a bound with a reason."""

from __future__ import annotations

from math import inf

import pytest
from insulation_bench import clearance, creepage, examples, family, millimetres

from derate.design.structure import read_element
from derate.insulation import distances as steps
from derate.insulation.distances import exact
from derate.insulation.needed import needed_strength, strength_above_30_khz
from derate.insulation.touch import charge_limit, one_open, voltage_left
from derate.terms.values import Place

IT = "62368-1"
# Reports to 62368-1 at 5000 m and at sea level: clearance and creepage as printed.
REPORTS = ("N01", "N02", "N05", "N06", "N07", "N09", "N10", "N11", "N13")
ALL = {
    *REPORTS, "E01", "E02", "E04", "E05", "E06", "E07", "E08", "E09", "E10", "E12", "E14", "E17", "E18", "E19",
    "E20", "N03", "N14", "N15", "N17", "N18", "N19", "N21", "N22", "N23", "N25", "N26", "N27", "N35", "N36", "N37",
    "N39", "N42", "N44",
}  # fmt: skip


def _row(name: str) -> tuple[dict[str, object], dict[str, object]]:
    row = examples()[name]
    return row["inputs"], row["expected"]


def _kilohertz(value: object) -> float:
    return float(str(value).lstrip("<")) if value is not None else 0.06


# Of a wire that no key of a design can name: what nobody can ask is worked out nowhere.
NO_KEY = {"E18", "N42"}


def test_no_example_is_left_out() -> None:
    assert set(examples()) == ALL and NO_KEY < ALL


@pytest.mark.parametrize("name", REPORTS)
def test_reports_at_5000_m(name: str) -> None:
    given, printed = _row(name)
    needed = clearance(IT, given["mains_V_rms"], "II", given["insulation"], given["U_peak_V"], given["altitude_m"],
                       frequency=_kilohertz(given["f_kHz"]) * 1e3)  # fmt: skip
    assert millimetres(needed) == printed["clearance_mm"]
    path = creepage(IT, given["U_rms_V"], given["insulation"], group=given["material_group"])
    assert millimetres(path) == printed["creepage_mm"]
    assert steps.impulse(family(IT), exact(240), "II").value == given["required_withstand_V_peak"]
    assert steps.temporary_overvoltage(family(IT), exact(240)).value == given["temporary_overvoltage_V_peak"]


def test_report_that_doubles_before_rounding() -> None:
    """N03: this laboratory doubles 2.64 to 5.28 and prints 5.3; rounding first gives 5.4, never short of it."""
    given, printed = _row("N03")
    assert millimetres(clearance(IT, 240, "II", "reinforced", 568, 5000, frequency=106.5e3)) == printed["clearance_mm"]
    ours = millimetres(creepage(IT, given["U_rms_V"], "reinforced"))
    assert printed["creepage_mm"] <= ours <= printed["creepage_mm"] + 0.1 + 1e-9
    unrounded = 2 * (exact(2.5) + (exact(264) - 250) * exact(0.7) / 70)
    assert unrounded == exact(5.28)


def test_mains_poles_e01_e02() -> None:
    """E01 asks 3.0 mm creepage where the table gives 2.5: a laboratory may ask more, so a lower bound."""
    for name in ("E01", "E02"):
        given, printed = _row(name)
        assert millimetres(clearance(IT, 240, "II", given["insulation"], 420, 2000)) == printed["clearance_mm"]
        row = steps.table_voltage(family(IT), exact(240)).value
        ours = millimetres(creepage(IT, float(row), given["insulation"]))
        if name == "E01":
            assert ours == 2.5 <= printed["creepage_mm"]
        else:
            assert ours == printed["creepage_mm"]
    # Read as a measured 240 V, one laboratory goes between the rows (N07): 0.1 mm less on a basic barrier.
    assert millimetres(creepage(IT, 240, "basic")) == 2.4


def test_strength_and_thickness_e04() -> None:
    _, printed = _row("E04")
    needed = needed_strength(family(IT), exact(240), exact(2500), exact(420), exact(240), "reinforced")
    assert needed.value == printed["electric_strength_V_dc"]
    from derate.insulation.distances import read

    thickness = read(family(IT).table("insulation_thickness"), insulation="reinforced")
    assert millimetres(thickness.value) == printed["distance_through_insulation_mm"]


@pytest.mark.parametrize("name", ("E05", "E06", "E07", "E08"))
def test_predecessor_reports(name: str) -> None:
    """Reports to 60950-1: the creepage table is the same, and the successor asks no more in air."""
    given, printed = _row(name)
    insulation = given["insulation"]
    assert millimetres(creepage(IT, given["U_rms_V"], insulation)) == printed["creepage_mm"]
    assert millimetres(clearance(IT, 240, "II", insulation, given["U_peak_V"], 2000)) <= printed["clearance_mm"]


def test_1000_v_system_e09() -> None:
    given, printed = _row("E09")
    own = family("60664-1")
    held = steps.impulse(own, exact(1000), "II")
    assert held.value == printed["impulse_V_peak"]
    assert given["system_V"] + 1200 == printed["temporary_overvoltage_V_rms"]
    assert 2 * (given["system_V"] + 1200) == printed["reinforced_temporary_overvoltage_V_rms"]
    peak = float(steps.temporary_overvoltage(own, exact(1000)).value) * 2
    assert peak == pytest.approx(printed["reinforced_temporary_overvoltage_V_peak"], rel=0.005)  # printed as 6250
    needed = clearance("60664-1", 1000, "II", "reinforced", 1000, 2000)
    assert millimetres(needed) == printed["clearance_mm"]


def test_printed_wiring_e10() -> None:
    given, printed = _row("E10")
    own = family("60664-1")
    assert steps.impulse(own, exact(240), "III").value == printed["impulse_V_peak"]
    assert given["system_V"] + 1200 == printed["temporary_overvoltage_V_rms"]
    assert float(steps.temporary_overvoltage(own, exact(300)).value) == pytest.approx(2120, abs=2)
    assert millimetres(clearance("60664-1", 240, "III", "basic", 340, 2000)) == printed["clearance_mm"]
    path = steps.creepage_printed_wiring(own, exact(given["bus_V_dc"]), "2", "IIIa")
    assert millimetres(path.value) == printed["creepage_mm"]


def test_household_raised_impulse_e12() -> None:
    """The printed figures are cut to two decimals; ours are exact and never below. Of two readings of reinforced in use
    the example's own gives its printed 1.5 mm, the stricter one that its author notes gives 3.0 mm."""
    given, printed = _row("E12")
    own = family("60335-1")
    rated = steps.impulse(own, exact(120), "II")
    assert rated.value == printed["rated_impulse_V"]
    rows = [
        {"V_peak": given["V_peak_working"], "V_det": printed["V_det"], "basic": printed["basic_clearance_mm"],
         "reinforced": printed["reinforced_clearance_mm"]},
        *examples()["E12"]["more_rows"],
    ]  # fmt: skip
    for row in rows:
        raised = steps.raised_impulse(own, rated.value, exact(120), exact(row["V_peak"]))
        assert float(raised.value) == pytest.approx(row["V_det"], abs=1)
        basic = steps.clearance_by_impulse(own, raised.value, "basic", "2")
        assert row["basic"] - 0.001 <= millimetres(basic.value) <= row["basic"] + 0.005
        reinforced = steps.clearance_by_impulse(own, raised.value, "reinforced", "2")
        assert millimetres(reinforced.value) == row["reinforced"]
    stricter = steps.clearance_by_stricter_step(own, exact(1670.3), "2")
    assert millimetres(stricter.value) == 3.0
    assert printed["reinforced_with_solder_adder_mm"] == printed["reinforced_clearance_mm"] + 0.5


def test_household_creepage_e14() -> None:
    _, printed = _row("E14")
    for voltage in (126, 240, 250):
        assert millimetres(creepage("60335-1", voltage, "reinforced", group="IIIa")) == printed["creepage_mm"]


def test_bridging_capacitor_current_e17() -> None:
    from derate.circuit.barrier import touch_current

    given, printed = _row("E17")
    two, five = (value * 1e-9 for value in given["C_nF"])
    for capacitance, wanted in ((two, "uA_2n2"), (five, "uA_5n6"), (five * 1.2, "uA_5n6_plus_20pct")):
        assert touch_current(given["V_rms"], given["f_Hz"], capacitance, "line").rms * 1e6 == pytest.approx(
            printed[wanted], abs=0.06
        )


def test_stricter_older_standard_e19() -> None:
    """60065 asks twice as much; that family is not implemented, so the printed answer only bounds ours from above."""
    _, printed = _row("E19")
    assert millimetres(clearance(IT, 240, "II", "basic", 354, 2000)) <= printed["clearance_basic_mm"]
    assert millimetres(clearance(IT, 240, "II", "reinforced", 354, 2000)) <= printed["clearance_reinforced_mm"]


def test_predecessor_tutorial_e20() -> None:
    """Clearances of the predecessor: ours ask no more."""
    _, printed = _row("E20")
    assert millimetres(clearance(IT, 240, "II", "basic", 420, 2000)) <= printed["clearance_basic_mm"]
    assert millimetres(clearance(IT, 240, "II", "reinforced", 420, 2000)) <= printed["clearance_reinforced_mm"]


@pytest.mark.parametrize("name", ("N14", "N15", "N17", "N18", "N19"))
def test_solid_insulation_above_30_khz(name: str) -> None:
    given, printed = _row(name)
    assert strength_above_30_khz(exact(given["V_PW_V_peak"]), exact(given["K_R"]), True) == printed["test_V_peak"]


@pytest.mark.parametrize(("name", "fault"), (("N21", True), ("N22", False), ("N23", True)))
def test_charge_left(name: str, fault: bool) -> None:
    """The class exactly; the voltage as a band, since the capacitance of the sample and the probe are not printed."""
    given, printed = _row(name)
    farads = exact(given["C_uF"]) / 1_000_000
    es1 = float(charge_limit(family(IT), farads, False).value)
    es2 = float(charge_limit(family(IT), farads, True).value)
    measured = printed["V_peak_measured"]
    assert ("ES1" if measured <= es1 else "ES2" if measured <= es2 else "ES3") == printed["class"]
    ends = [
        voltage_left(given["V_rms"] * 2**0.5, given["R_total_Mohm_assumed"] * 1e6, given["C_uF"] * k * 1e-6, 2.0)
        for k in (0.8, 1.0)
    ]
    assert ends[0] < measured < ends[1]


def test_one_resistor_open() -> None:
    """Four of 1.5 Mohm as the file may join them; with one gone the rest is read off the drawing."""
    ohms = dict.fromkeys(("R1", "R2", "R3", "R4"), 1.5e6)
    place = Place("", 1, 1)

    def left(*texts: str) -> float:
        return one_open([read_element(text, place) for text in texts], ohms)

    # N22 and N23: 1.5 Mohm whole and, by the voltage measured, 2.25 Mohm with one open
    assert left("(R1 || R2) + (R3 || R4)") == 2.25e6 == _row("N23")[0]["R_total_Mohm_assumed"] * 1e6
    assert left("R1 + R2", "R3 + R4") == left("(R1 + R2) || (R3 + R4)") == 3e6
    assert left("R1", "R2") == left("R1 || R2") == 1.5e6
    assert left("R1 + R2") == left("R1") == left() == inf


def test_touch_current_n25_n26() -> None:
    """A Y capacitor alone: below what was measured, since the winding capacitance adds to it."""
    from derate.circuit.barrier import touch_current
    from derate.insulation.distances import read

    given, printed = _row("N25")
    alone = touch_current(given["V_rms"], given["f_Hz"], given["Y_cap_pF"] * 1e-12, "line").rms * 2**0.5 * 1e3
    assert alone == pytest.approx(0.031, abs=0.0005)
    assert alone < printed["mA_peak"]
    limit = float(read(family(IT).table("touch_current"), reach="unearthed", statistic="peak").value) * 1e3
    _, more = _row("N26")
    for value in (
        printed["mA_peak"],
        printed["mA_peak_fault"],
        more["first_mA_peak"],
        more["second_mA_peak"],
        more["third_mA_peak"],
    ):
        assert value <= limit  # ES1, as printed
    assert more["earth_terminal_third_mA_peak"] > limit  # accepted at an earthed part: another limit holds there
    earthed = float(read(family(IT).table("touch_current"), reach="earthed", statistic="peak").value) * 1e3
    assert more["earth_terminal_third_mA_peak"] <= earthed


def test_protective_bonding_n27() -> None:
    given, printed = _row("N27")
    for ohms, volts in (("second_ohm", "second_V"), ("third_ohm", "third_V")):
        for resistance, voltage, current in zip(printed[ohms], printed[volts], given["A"], strict=True):
            assert voltage / current == pytest.approx(resistance, rel=0.01)
            assert resistance <= printed["limit_ohm"] == 0.1


def test_lecture_n37() -> None:
    """N37: the clearance is the predecessor's; its test voltage (1500 V rms at 400 V peak) is that of plain mains,
    where the same lecturer's table (N39) prints 1569: no command carries either."""
    given, printed = _row("N37")
    assert millimetres(creepage(IT, given["U_rms_V"], "basic")) == printed["creepage_mm"]
    assert millimetres(clearance(IT, 240, "II", "basic", 400, 2000)) <= printed["clearance_mm"]
    assert _row("N39")[1]["basic_V_rms"][4] > printed["electric_strength_V_rms"]


def test_isolator_bodies_n44() -> None:
    """Two bodies rated to 5000 m by their maker: both have what 62368-1 needs at 240 V mains in material group I."""
    given, printed = _row("N44")
    needs = [
        max(clearance(IT, 240, "II", word, 420, 5000), creepage(IT, 250, word, group="I"))
        for word in ("reinforced", "basic")
    ]
    for body, needed in zip(given["body_mm"], needs, strict=True):
        assert millimetres(needed) <= body
    assert printed["reinforced_8mm_V_rms_max"] == 400
