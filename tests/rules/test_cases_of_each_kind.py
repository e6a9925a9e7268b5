"""One case of each kind in which less than the truth was once said, in another topology, part, family, unit or order.

Each is a shipped design or one of the tests with a few words changed; what it has to come to is a verdict of a rule on
a subject. `DEVELOPERS.md` has the count of all that were tried.
"""

from __future__ import annotations

from functools import cache

import pytest
from law_bench import Bench

from derate.judge.review import Finding

Changes = tuple[tuple[str, str], ...]
FULL = "at: {mains: 230 V, frequency: 50 Hz, load: full, ambient: 24 degC, after: 60 min}"
AHEAD = "  ahead of RF1: {between: [line, neutral], clearance: 3.4 mm, creepage: 3.4 mm}"
EMPTY = "  D9: {kind: diode, fitted: no} "
HELD = "{test: electric strength, between: [primary, secondary], voltage: 3000 Vac, time: 60 s, result: held}"
HOUSEHOLD = ("mains-fusing, insulation-it-equipment]", "mains-fusing, insulation-household]")
LAMP = ("mains-fusing, insulation-it-equipment]", "mains-fusing, insulation-lamp]")
OWN = ("basis: opened sample", "basis: own design")
MAINS_PATH = "line: [RF1, BR1,"


def place(text: str) -> tuple[str, str]:
    return (AHEAD, f"{AHEAD}\n  {text}")


def part(text: str) -> tuple[str, str]:
    return (EMPTY, f"  {text}\n{EMPTY}")


def read(text: str) -> tuple[str, str]:
    return ("tests:", f"  - {text}\ntests:")


def tried(text: str) -> tuple[str, str]:
    return ("tests:", f"tests:\n  - {text}\n#")


@cache
def findings(name: str, changes: Changes) -> tuple[Finding, ...]:
    bench = Bench.of(name)
    text = bench.text
    for old, new in changes:
        assert old in text, f"'{old}' is not in {name}"
        text = text.replace(old, new, 1)
    review = bench.review(text)
    assert review is not None, "the file is refused"
    return tuple(review.findings)


GROUP = "board: {material_group: IIIa}"
NODE = f"sw to case: {{between: [switch node, touchable], clearance: 6 mm, creepage: 6.5 mm, {GROUP}}}"
AT_NODE = "{at: {mains: 264 V, load: full}, working_voltage: {sw to case: 354 V}}"
EARTH = f"to metal: {{between: [primary, earth], clearance: 2.5 mm, creepage: 4.3 mm, {GROUP}}}"
DISC = "CX1: {kind: film capacitor, class: X2, capacitance: 220 nF 20%, rated: {voltage: 310 Vac}}"
CASES: dict[str, tuple[str, Changes, str, str, str]] = {
    # insulation and shock
    "a switch node to the case": ("sound", (place(NODE), read(AT_NODE)), "barrier-creepage", "sw to case", "fail"),
    "the same, household": (
        "sound", (HOUSEHOLD, place(NODE), read(AT_NODE)), "household-barrier-creepage", "sw to case", "fail"),
    "the same, lamp": ("sound", (LAMP, place(NODE), read(AT_NODE)), "lamp-barrier-creepage", "sw to case", "fail"),
    "an earth in class II": ("sound", (place(EARTH),), "barrier-clearance", "to metal", "fail"),
    "the same of a dropper": (
        "dropper", (("  pins: {between", f"  {EARTH}\n  pins: {{between"),), "household-barrier-creepage", "to metal",
        "fail"),
    "an earth of which no class says anything": (
        "sound", (("protection_class: II\n", "protection_class: unknown\n"), place(EARTH)), "barrier-clearance",
        "to metal", "not assessed"),
    "poles read at 20 V": (
        "sound",
        (read("{at: {mains: 264 V, load: full}, working_voltage: {ahead of RF1: 20 V}}"),
         (AHEAD, AHEAD.replace("3.4 mm", "1.0 mm"))),
        "mains-poles-clearance", "ahead of RF1", "fail"),
    "a sheet of 0.05 mm, household": (
        "sound", (HOUSEHOLD, ("thickness: 0.5 mm", "thickness: 0.05 mm")), "household-barrier-sheet-thickness",
        "under transformer", "not assessed"),
    "held for 59 s": ("sound", ((HELD, HELD.replace("60 s", "59 s")),), "electric-strength-held", "", "not assessed"),
    "arced, and held higher": (
        "sound", (tried(HELD.replace("3000", "1500").replace("held", "arced")),), "electric-strength-held", "", "fail"),
    "3000 V of direct voltage": (
        "sound", ((HELD, HELD.replace("3000 Vac", "3000 Vdc")),), "electric-strength-voltage", "", "fail"),
    "Y2 and resistor in series": (
        "sound",
        (part("CY1: {kind: ceramic capacitor, class: Y2, capacitance: 1 nF, rated: {voltage: 300 Vac}}\n  RB1: film "
              "resistor 1 Mohm 5% 0.25 W"),
         ("bridging: none", "bridging: {CY1 + RB1: [bulk minus, main minus]}")),
        "bridging-part-reinforced", "CY1", "not assessed"),
    "a class Y1 that somebody stated": (
        "sound",
        (part("CY1: {kind: ceramic capacitor, class: Y1 (stated), capacitance: 1 nF, rated: {voltage: 400 Vac}}"),
         ("bridging: none", "bridging: {CY1: [bulk minus, main minus]}")),
        "bridging-part-reinforced", "CY1", "not assessed"),
    "triple-insulated wire of 0.48 to 0.65 mm": (
        "sound", (("outside: 0.65 mm", "outside: 0.48..0.65 mm"),), "winding-margins", "T1", "not assessed"),
    "a winding of class B by resistance, 153 degC": (
        "sound",
        (("    inductance: 750 uH 7%", "    insulation_class: B\n    inductance: 750 uH 7%"),
         read(f"{{{FULL}, winding_temperature: {{T1: 80 degC}}, taken_with: change of resistance, "
              "cold_resistance: 1.00 ohm, hot_resistance: 1.50 ohm, cold_at: 24 degC}")),
        "winding-temperature", "T1", "fail"),
    "a dropping X2 in category III": (
        "dropper", (("overvoltage_category: II", "overvoltage_category: III"),),
        "capacitor-across-mains-class-in-category-three", "C1", "fail"),
    "0.3 mm within a buck": (
        "buck",
        (("  display window:", "  under U1: {between: [bulk plus, switch node], clearance: 0.3 mm, creepage: 0.3 mm}\n"
          "  display window:"),),
        "household-functional-distance", "under U1", "not assessed"),
    "a varistor of 275 V at a plate of 240 V": (
        "dropper", (("    mains: 230 V", "    mains: 240 V"),), "varistor-continuous-voltage", "RV1", "marginal"),
    "an X capacitor beside a controller across the mains": (
        "sound", (part(f"{DISC}\n  U5: {{kind: controller}}"), (MAINS_PATH, "line: [RF1, across CX1, across U5, BR1,")),
        "plug-voltage", "", "not assessed"),
    "household above 2000 m": (
        "dropper", (("up to 2000 m", "up to 3000 m"),), "household-barrier-clearance", "board to case", "not assessed"),
    # readings, tests and places
    "a drain of nowhere": ("sound", (read("{voltage_peak: {Q1: 750 V}}"),), "reading-within-voltage", "Q1", "fail"),
    "a bulk capacitor of nowhere, buck": (
        "buck", (("readings:\n", "readings:\n  - {voltage: {C1: 520 V}}\n"),), "reading-within-voltage", "C1", "fail"),
    "a rectifier's mean current": (
        "sound", (read(f"{{{FULL}, current_average: {{D7: 6 A}}}}"),), "reading-within-current", "D7", "fail"),
    "a choke's peak": (
        "sound", (read(f"{{{FULL}, current_peak: {{L1: 2 A}}}}"),), "reading-within-current", "L1", "fail"),
    "a sagging output at the plate's own load": (
        "sound", (("voltage: {main: 11.94 V}", "voltage: {main: 9.0 V}"),), "rated-current-held", "main", "fail"),
    "the same of an own design": (
        "sound", (OWN, ("voltage: {main: 11.94 V}", "voltage: {main: 9.0 V}")), "rated-current-held", "main", "fail"),
    "a hot case of an own design": (
        "sound", (OWN, ("enclosure: 46 degC", "enclosure: 100 degC")), "case-temperature-as-read", "", "fail"),
    "a hot case of an own design, at no load that is known": (
        "sound", (OWN, read("{at: {mains: 230 V}, case_temperature: {enclosure: 78 degC}}")),
        "case-temperature-as-read", "", "not assessed"),
    "a browned part of an own design": (
        "sound", (OWN, ("scorch_marks: none", "scorch_marks: R2 browned")), "no-scorch-marks", "", "fail"),
    "a short that melted, line transformer": (
        "line transformer", (("result: opened}", "result: melted}"),), "test-without-fire", "C1 shorted", "fail"),
    "joint of 500 mohm at 10 A": (
        "every key", (("current: 25 A, time: 60 s, result: 0.05 ohm", "current: 10 A, time: 5 s, result: 500 mohm"),),
        "earth-resistance-as-tested", "", "fail"),
    "touch current of 0.3 mA, household": (
        "sound", (HOUSEHOLD, tried("{test: touch current, from: main, mains: 264 V, result: 0.3 mA}")),
        "household-touch-current", "", "fail"),
    "an X capacitor under other": (
        "sound", (part(DISC), ("  bridging: none", "  other: {CX1: mains filter}\n  bridging: none")),
        "bulk-capacitor-voltage", "CX1", "not assessed"),
    "a capacitor that somebody guessed": (
        "sound",
        (part("C33: ceramic capacitor 1 nF"),
         ("  bridging: none", "  other: {C33: noise filter (assumed)}\n  bridging: none")),
        "capacitor-across-mains-class", "C33", "not assessed"),
    "a capacitor of 50 V ahead of the start-up resistors": (
        "sound",
        (part("C33: film capacitor 100 nF 10% 50 V"),
         ("start_up: [R1 + R2,", "start_up: [across C33, R1 + R2,")),
        "auxiliary-capacitor-voltage", "C33", "not assessed"),
    "a gap under another name": (
        "sound", (("  under transformer:\n", "  gap of the board:\n"),), "barrier-clearance", "under T1",
        "not assessed"),
    "the earthed metal of class I, of which no place tells": (
        "three outputs",
        (("  primary to stud: {between: [primary, earth], clearance: 3.5 mm, creepage: 4.2 mm}\n", ""),),
        "barrier-clearance", "mains side to earth", "not assessed"),
    "the same, unisolated": (
        "dropper", (("protection_class: II", "protection_class: I"),), "household-barrier-creepage",
        "mains side to earth", "not assessed"),
    "no leakage": (
        "sound", (("    leakage: 15 uH ", "    #"),), "switch-voltage", "Q1", "not assessed"),
    "a clamp resistor of no kind": (
        "sound", (("R5, R6: {kind: metal oxide resistor", "R5, R6: {kind: unknown"),), "clamp-resistor-power", "R5",
        "not assessed"),
    "a cable for air": (
        "sound",
        (("    sheet: {thickness: 0.5 mm, height: 9 mm, material: unknown, fixed: glued (seen; photo 8)}",
          "    insulation_thickness: 0.9 mm"), ("clearance: 6.1..6.4 mm", "clearance: 1 mm")),
        "barrier-clearance", "under transformer", "fail"),
    "90 degC of an unmarked plastic": (
        "sound",
        (("enclosure: 46 degC", "enclosure: 76 degC"), ("flame_class: V-0 (marked)", "flame_class: unmarked")),
        "case-temperature-of-unnamed-plastic", "", "fail"),
    "2.9 mm where the next row asks 3": (
        "sound", ((AHEAD, AHEAD.replace("creepage: 3.4", "creepage: 2.9")),), "creepage-of-next-row", "ahead of RF1",
        "marginal"),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_a_case_of_each_kind(case: str) -> None:
    name, changes, rule, subject, verdict = CASES[case]
    own = [one for one in findings(name, changes) if one.rule == rule and subject in str(one.subject)]
    assert verdict in {one.verdict for one in own}, [(str(one.subject), one.verdict) for one in own]
    if verdict != "marginal" and own[0].severity != "minor":
        assert any(one.blocks for one in own if one.verdict == verdict)
