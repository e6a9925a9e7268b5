"""Published worked examples and test reports, proved as a user asks: a design file in, the printed answer out."""

from __future__ import annotations

import json
from collections.abc import Callable
from math import pi
from pathlib import Path
from typing import Any

import pytest
from insulation_bench import PACKS, examples

from derate.cli.main import main

IT, BASIC, HOUSEHOLD = "62368-1", "60664-1", "60335-1"
DESIGN = """\
derate: 1
supply:
  name: Published example
  basis: opened sample
  topology: flyback
  protection_class: {protection}
  parts_list: complete
  plate: {{mains: {mains} V, frequency: {hertz} Hz, outputs: {{main: {{voltage: 12 V, current: 1 A}}}}}}
site: {{ambient: 25 degC, altitude: {altitude} m, pollution_degree: {degree}, overvoltage_category: {category}, \
mains_tolerance: {tolerance}}}
known_by: {{parts: marked, transformers: drawing, readings: measured}}
parts:
  F1: fuse 1 A 250 V
  BR1: bridge rectifier 800 V 1 A
  C1: electrolytic capacitor 22 uF 20% 400 V
  Q1: MOSFET 700 V 4 A
  D1: Schottky diode 100 V 3 A
  C2: electrolytic capacitor 470 uF 20% 25 V
{parts}
circuit:
  line: [F1, {ahead}BR1, across C1]
  primary: [T1.primary, Q1]
  outputs: {{main: [T1.secondary, D1, across C2]}}
  control: {{type: fixed frequency, frequency: {switching} kHz}}
  bridging: {bridging}
{circuit}
transformers:
  T1:
    core: {{tied_to: bulk minus}}
    windings:
      primary: {{turns: 60, wire: enamelled, bare: 0.28 mm, outside: 0.31 mm}}
      secondary: {{turns: 8, wire: enamelled, bare: 0.52 mm, outside: 0.56 mm}}
    from_core_outwards: [bobbin 1 mm, primary, tape 3 layers, secondary, tape 3 layers]
    margins: {margins}
barriers:
  the place: {{between: [{between}], {found}, board: {{material_group: {group}}}{more}}}
readings:
  - {{at: {{mains: {mains} V, load: full}}, working_voltage: {{the place: {rms} V, T1: {rms} V}}, \
working_voltage_peak: {{the place: {peak} V, T1: {peak} V}}}}
{tests}
"""
USUAL = {
    "protection": "II", "mains": 240, "hertz": 50, "altitude": 2000, "degree": 2, "category": "II", "tolerance": "0%",
    "parts": "", "ahead": "", "switching": 25, "bridging": "none", "circuit": "", "between": "primary, secondary",
    "found": "clearance: 30 mm, creepage: 30 mm", "group": "IIIb", "more": "", "rms": 250, "peak": 340,
    "margins": "unknown", "tests": "",
}  # fmt: skip
EARTHED = {"protection": "I", "between": "bulk plus, earth"}
Ask = Callable[..., Any]


@pytest.fixture
def ask(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Ask:
    """Writes a design and gives what a command prints about it, read as JSON."""

    def run(command: str, family: str, **fields: object) -> Any:
        path = tmp_path / "example.derate.yaml"
        path.write_text(DESIGN.format(**{**USUAL, **fields}), encoding="utf-8")
        main([command, str(path), "--pack", PACKS[family], "--format", "json"])
        return json.loads(capsys.readouterr().out)

    return run


def _row(name: str) -> tuple[dict[str, Any], dict[str, Any]]:
    row = examples()[name]
    return row["inputs"], row["expected"]


def _pair(document: Any, role: str) -> Any:
    (family,) = document["families"]
    return next(pair for pair in family["pairs"] if pair["role"] == role)


def _needed(ask: Ask, family: str, role: str = "primary to secondary", **fields: object) -> dict[str, Any]:
    """Needed clearance and creepage [mm], kind and strict end, of the place the example is about."""
    pair = _pair(ask("insulation", family, **fields), role)
    place = next(path for path in pair["paths"] if path["name"] == "the place")
    return {
        what: tuple(round(place[f"needed_{what}"][end] * 1e3, 4) for end in ("near", "far"))
        for what in ("clearance", "creepage")
    }


def _findings(document: Any, rule: str) -> dict[str, Any]:
    found = [one for design in document["designs"] for one in design["findings"] if one["rule"] == rule]
    return {", ".join(one["subject"]["names"]) or one["subject"]["kind"]: one for one in found}


@pytest.mark.parametrize("name", ("E02", "N01", "N02", "N05", "N06", "N07", "N09", "N10", "N11", "N13"))
def test_reports(ask: Ask, name: str) -> None:
    """Exactly as printed. N07 enters 240 V and prints 2.4 mm, where three others take plain mains to 250 V and print
    2.5: that row is never undercut, so 0.1 mm more is asked there. E01's 3.0 mm: see below."""
    given, printed = _row(name)
    basic = given["insulation"] == "basic"
    kilohertz = str(given["f_kHz"] or 0.06).lstrip("<")
    fields = {
        "mains": given["mains_V_rms"], "altitude": str(given.get("altitude_m", 2000)), "rms": given["U_rms_V"],
        "peak": given["U_peak_V"], "switching": kilohertz if float(kilohertz) > 1 else 25, **(EARTHED if basic else {}),
    }  # fmt: skip
    needed = _needed(ask, IT, "primary to earth" if basic else "primary to secondary", **fields)
    assert needed["clearance"] == (printed["clearance_mm"],) * 2
    more = 0.1 if name == "N07" else 0.0
    assert needed["creepage"] == (pytest.approx(printed["creepage_mm"] + more),) * 2


def test_report_that_doubles_before_it_rounds_n03(ask: Ask) -> None:
    """5.28 is printed as 5.3; two others round first, which gives 5.4 here and is never short of it."""
    given, printed = _row("N03")
    fields = {"altitude": 5000, "rms": given["U_rms_V"], "peak": given["U_peak_V"], "switching": given["f_kHz"]}
    needed = _needed(ask, IT, **fields)
    assert needed["clearance"] == (printed["clearance_mm"],) * 2
    assert needed["creepage"] == (pytest.approx(printed["creepage_mm"] + 0.1),) * 2


def test_strength_and_thickness_e04(ask: Ask) -> None:
    _, printed = _row("E04")
    pair = _pair(ask("insulation", IT, peak=420, rms=240), "primary to secondary")
    assert pair["electric_strength"]["needed"]["near"] == printed["electric_strength_V_dc"]
    for thickness, verdict in ((printed["distance_through_insulation_mm"], "pass"), (0.39, "fail")):
        sheet = f", sheet: {{thickness: {thickness} mm, fixed: glued}}"
        found = _findings(ask("lint", IT, more=sheet), "barrier-sheet-thickness")
        assert found["the place"]["verdict"] == verdict


@pytest.mark.parametrize(
    ("name", "clearance"), [("E05", 1.5), ("E06", 3.0), ("E07", 3.0), ("E08", 3.0), ("E20", 1.5), ("N37", 1.5)]
)
def test_reports_to_the_predecessor(ask: Ask, name: str, clearance: float) -> None:
    """The creepage is the same. The clearance of its method (4.0 to 4.4 mm, 2.0 basic) is the predecessor's: the
    successor prints 3.0 and 1.5 mm for the same places (E02, E01), and that is what is asked."""
    given, printed = _row(name)
    basic = given.get("insulation", "basic") in ("basic", "functional")
    fields = {"rms": given.get("U_rms_V", 250), "peak": given.get("U_peak_V", 340), "degree": given.get("PD", 2)}
    if name == "E05":
        needed = _needed(ask, IT, "mains poles ahead of the fuse", between="line, neutral")
    else:
        needed = _needed(
            ask, IT, "primary to earth" if basic else "primary to secondary", **fields, **(EARTHED if basic else {})
        )
    assert needed["clearance"] == (clearance,) * 2
    assert clearance <= printed.get("clearance_mm", printed.get("clearance_basic_mm"))
    if "creepage_mm" in printed:
        assert needed["creepage"][0] == pytest.approx(printed["creepage_mm"])


def test_1000_v_system_e09(ask: Ask) -> None:
    given, printed = _row("E09")
    fields = {"mains": 1000, "rms": 1000, "peak": 1000}
    needed = _needed(ask, BASIC, **fields)
    assert needed["clearance"] == (printed["clearance_mm"],) * 2
    pair = _pair(ask("insulation", BASIC, **fields), "primary to secondary")
    strength = pair["electric_strength"]["needed"]["near"]
    assert strength == pytest.approx(printed["reinforced_temporary_overvoltage_V_peak"], rel=0.005)  # printed as 6250
    assert given["system_V"] + 1200 == printed["temporary_overvoltage_V_rms"]


def test_servo_drive_e10(ask: Ask) -> None:
    """The creepage printed (1.7 mm) is of printed wiring, whose columns no product standard here has: more is asked."""
    given, printed = _row("E10")
    needed = _needed(ask, BASIC, "primary to earth", category="III", rms=340, peak=340, **EARTHED)
    assert needed["clearance"] == (printed["clearance_mm"],) * 2
    assert needed["creepage"][0] == pytest.approx(3.4) and needed["creepage"][0] > printed["creepage_mm"]
    assert given["bus_V_dc"] == 340


def test_household_raised_impulse_e12(ask: Ask) -> None:
    """Kind end: the printed reading; strict end: its note of the other reading, with half a millimetre for assembly."""
    given, printed = _row("E12")
    rows = [
        {"V_peak": given["V_peak_working"], "basic": printed["basic_clearance_mm"],
         "reinforced": printed["reinforced_clearance_mm"]},
        *examples()["E12"]["more_rows"],
    ]  # fmt: skip
    for row in rows:
        fields = {"mains": 120, "peak": row["V_peak"], "rms": 120, "group": "IIIa"}
        reinforced = _needed(ask, HOUSEHOLD, **fields)["clearance"]
        assert reinforced[0] == row["reinforced"] and reinforced[1] >= row["reinforced"] + 0.5
        basic = _needed(ask, HOUSEHOLD, "primary to earth", **fields, **EARTHED)["clearance"]
        assert row["basic"] - 0.001 <= basic[0] <= row["basic"] + 0.005
    fields = {"mains": 120, "peak": given["V_peak_working"], "rms": 120}
    assert _needed(ask, HOUSEHOLD, **fields)["clearance"][1] == 3.5  # the caveat of its author


@pytest.mark.parametrize("volts", (126, 240, 250))
def test_household_creepage_e14(ask: Ask, volts: int) -> None:
    _, printed = _row("E14")
    needed = _needed(ask, HOUSEHOLD, mains=volts, rms=volts, peak=volts * 1.414, group="IIIa")
    assert needed["creepage"] == (printed["creepage_mm"],) * 2


def test_stricter_older_standard_e19(ask: Ask) -> None:
    """60065 asked twice as much; that family is not carried, so its answer only bounds from above."""
    _, printed = _row("E19")
    fields = {"mains": 250, "peak": 354, "rms": 250}
    assert _needed(ask, IT, **fields)["clearance"][1] <= printed["clearance_reinforced_mm"]
    assert _needed(ask, IT, "primary to earth", **fields, **EARTHED)["clearance"][1] <= printed["clearance_basic_mm"]


@pytest.mark.parametrize(("name", "more"), [("N14", 0.0), ("N17", 4000.0)])
def test_strength_of_tape_above_30_khz(ask: Ask, name: str, more: float) -> None:
    """The larger of the printed test and the ordinary 4000 V. K_R of other materials (N15, N18, N19) has no key."""
    given, printed = _row(name)
    fields = {"rms": 264, "peak": given["V_PW_V_peak"], "switching": given["f_kHz"]}
    pair = _pair(ask("insulation", IT, **fields), "primary to secondary")
    assert pair["electric_strength"]["needed"]["near"] == max(printed["test_V_peak"], more)


BLEEDERS = "\n".join(f"  RB{number}: film resistor OHMS" for number in (1, 2, 3, 4))


@pytest.mark.parametrize(
    ("name", "rule", "ohms", "limit"),
    [("N21", "plug-voltage-one-open", "3 Mohm", 138.5), ("N22", "plug-voltage", "1.5 Mohm", 60),
     ("N23", "plug-voltage-one-open", "1.5 Mohm", 120)],
)  # fmt: skip
def test_charge_left(ask: Ask, name: str, rule: str, ohms: str, limit: float) -> None:
    """The class as printed; the voltage above the measured one, whose capacitance and probe are not printed."""
    given, printed = _row(name)
    fields = {
        "mains": given["V_rms"], "ahead": "across CX1, across (RB1 || RB2) + (RB3 || RB4), ",
        "parts": f"  CX1: film capacitor X2 {given['C_uF']} uF 310 Vac\n{BLEEDERS.replace('OHMS', ohms)}",
    }  # fmt: skip
    (found,) = _findings(ask("lint", IT, **fields), rule).values()
    assert found["verdict"] == "pass"
    low, high = 0.8 * printed["V_peak_measured"], 1.4 * printed["V_peak_measured"]
    assert low < found["stress"]["near"] < high
    assert found["limit"]["near"] == pytest.approx(limit, abs=0.1)


def test_bonding_n27(ask: Ask) -> None:
    _, printed = _row("N27")
    for ohms in (*printed["second_ohm"], *printed["third_ohm"], printed["limit_ohm"]):
        circuit = f"  earth: {{joined_to: [main minus], resistance: {ohms} ohm}}"
        (found,) = _findings(ask("lint", IT, circuit=circuit, **EARTHED), "earth-continuity").values()
        assert found["verdict"] == "pass", ohms


@pytest.mark.parametrize(
    ("name", "rms", "creepage", "margin", "verdict"),
    [
        ("N35", 250, 5.0, "3.1 mm", "pass"),
        ("N36", 300, 6.0, "3.0 mm", "pass"),
        ("N36", 300, 6.0, "2.9 mm", "not assessed"),  # the material group of the bobbin is not known
    ],
)
def test_margins_n35_n36(ask: Ask, name: str, rms: float, creepage: float, margin: str, verdict: str) -> None:
    """Half of the creepage at each end; N35 makes up 6.2 mm for 5.0 mm."""
    assert _needed(ask, IT, rms=rms)["creepage"] == (pytest.approx(creepage),) * 2
    (found,) = _findings(ask("lint", IT, rms=rms, margins=margin), "winding-margins").values()
    assert found["verdict"] == verdict
    if verdict == "pass":
        assert float(margin.split()[0]) == _row(name)[1]["margin_each_side_mm"]


@pytest.mark.parametrize(
    ("nanofarad", "tolerance", "printed"), [(2.2, "0%", "uA_2n2"), (5.6, "20%", "uA_5n6_plus_20pct")]
)
def test_touch_current_of_a_capacitor_e17(ask: Ask, nanofarad: float, tolerance: str, printed: str) -> None:
    """Less the 500 pF that a transformer may add at the bad end, at the end of the tolerance."""
    given, expected = _row("E17")
    fields = {
        "mains": given["V_rms"], "hertz": given["f_Hz"], "bridging": "{CY1: [line, main minus]}",
        "parts": f"  CY1: {{kind: ceramic capacitor, class: Y1, capacitance: {nanofarad} nF {tolerance}}}",
    }  # fmt: skip
    (found,) = _findings(ask("lint", HOUSEHOLD, **fields), "household-touch-current").values()
    winding = 2 * pi * 53 * 500e-12 * given["V_rms"]  # a plate of 50 Hz is worked at up to 53 Hz
    assert (found["stress"]["high"] - winding) * 1e6 * 50 / 53 == pytest.approx(expected[printed], abs=0.06)


def test_touch_current_measured_n25_n26(ask: Ask) -> None:
    """The range computed for the Y capacitor and the windings holds what was measured; ES1 as the reports have it."""
    given, printed = _row("N25")
    fields: dict[str, Any] = {
        "mains": given["V_rms"], "hertz": given["f_Hz"], "bridging": "{CY1: [line, main minus]}",
        "parts": f"  CY1: {{kind: ceramic capacitor, class: Y1, capacitance: {given['Y_cap_pF']} pF 0%}}",
    }  # fmt: skip
    (found,) = _findings(ask("lint", IT, **fields), "touch-current-peak").values()
    assert found["stress"]["near"] * 1e3 < printed["mA_peak"] < found["stress"]["far"] * 1e3
    _, more = _row("N26")
    for read in (printed["mA_peak_fault"], more["first_mA_peak"], more["second_mA_peak"], more["third_mA_peak"], 0.74):
        test = f"tests: [{{test: touch current, between: [secondary, earth], result: {read} mApk}}]"
        (found,) = _findings(ask("lint", IT, **fields, tests=test), "touch-current-peak").values()
        # 0.74 mA at an earth terminal was accepted there: at a part that can be touched it is too much
        assert found["verdict"] == ("fail" if read == 0.74 else "pass"), read
    assert more["earth_terminal_third_mA_peak"] == 0.74


@pytest.mark.parametrize(
    ("body", "point", "verdict"), [(8, "main minus", "pass"), (4, "main minus", "fail"), (4, "earth", "pass")]
)
def test_isolator_bodies_n44(ask: Ask, body: int, point: str, verdict: str) -> None:
    """Two bodies rated to 5000 m by their maker, 8 mm as reinforced and 4 mm as basic insulation."""
    assert body in _row("N44")[0]["body_mm"]
    fields = {
        "altitude": 5000, "bridging": f"{{U2: [bulk minus, {point}]}}", "protection": "I",
        "parts": f"  U2: {{kind: optocoupler, rated: {{clearance: {body} mm, creepage: {body} mm}}}}",
        "circuit": "  earth: none",
    }  # fmt: skip
    document = ask("lint", IT, **fields)
    for rule in ("barrier-clearance", "barrier-creepage"):
        found = _findings(document, rule)["over the body of U2"]
        assert found["verdict"] == verdict or (rule, body) == ("barrier-creepage", 4), rule


@pytest.mark.parametrize(("width", "verdict"), [(1.0, "pass"), (0.99, "not assessed")])
def test_groove_n41(ask: Ask, width: float, verdict: str) -> None:
    """At least X wide (1 mm in degree 2) the path leads through it; narrower it may be as short as the air gap."""
    fields = {"found": "clearance: 4.9 mm, creepage: 5.5 mm", "more": f", slot: {{width: {width} mm}}"}
    assert _findings(ask("lint", BASIC, **fields), "basic-standard-barrier-creepage")["the place"]["verdict"] == verdict


# Carried by no command, with the reason: what is printed there no key of a design can ask for.
NOT_ASKED = {
    "E18": "fully insulated wire has no key",
    "N15": "the share of strength of other materials than tape has no key",
    "N18": "the same",
    "N19": "the same",
    "N39": "test voltages of the predecessor",
    "N42": "fully insulated wire has no key",
}
ASKED = {
    "E01", "E02", "E04", "E05", "E06", "E07", "E08", "E09", "E10", "E12", "E14", "E17", "E19", "E20", "N01", "N02",
    "N03", "N05", "N06", "N07", "N09", "N10", "N11", "N13", "N14", "N17", "N21", "N22", "N23", "N25", "N26", "N27",
    "N35", "N36", "N37", "N44",
}  # fmt: skip


def test_every_example_is_asked_or_says_why_not() -> None:
    assert set(NOT_ASKED) | ASKED == set(examples())


@pytest.mark.parametrize(("creepage", "verdict"), [(2.4, "fail"), (2.5, "marginal"), (2.9, "marginal"), (3.0, "pass")])
def test_a_report_that_asks_more_than_the_row_e01(ask: Ask, creepage: float, verdict: str) -> None:
    """E01 prints 3.0 mm where the row gives 2.5: between the two it is marginal, and the finding says both."""
    _, printed = _row("E01")
    fields = {"between": "line, neutral", "found": f"clearance: 30 mm, creepage: {creepage} mm"}
    found = _findings(ask("lint", IT, **fields), "creepage-of-next-row")["the place"]
    assert found["verdict"] == verdict
    assert found["limit"]["near"] * 1e3 == pytest.approx(2.5)
    assert found["limit"]["high"] * 1e3 == pytest.approx(printed["creepage_mm"])
    assert verdict != "marginal" or "2.5 mm to 3 mm" in found["message"]


@pytest.mark.parametrize(("rms", "creepage", "verdict"), [
    (281, 5.7, "fail"), (281, 6.0, "marginal"), (281, 6.4, "pass"), (250, 5.0, "not applicable"),
    (320, 6.4, "not applicable"),
])  # fmt: skip
def test_a_reinforced_path_between_two_rows(ask: Ask, rms: int, creepage: float, verdict: str) -> None:
    """281 V: 5.8 mm between the rows as E08 prints, 6.4 mm by the row of 320 V. On a row there is one reading."""
    fields = {"rms": rms, "found": f"clearance: 30 mm, creepage: {creepage} mm"}
    found = _findings(ask("lint", IT, **fields), "creepage-of-next-row")
    assert found["the place"]["verdict"] == verdict
