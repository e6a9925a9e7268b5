"""Files that name no topology: told by what is joined to what, or said once to be no stage that is worked out.

Of a stage that is none of those no figure is its own: no stress, and no fault that "opens" what no current reaches.
The distances are judged all the same, and where the voltage across them is not known none of them passes.
"""

from __future__ import annotations

import pytest
from defects import Demonstration, found

from derate.design.load import read_design
from derate.ledger.entry import SUPPLY
from derate.stress.context import part
from derate.stress.faults.rows import mains_faults
from derate.terms.values import Category

HEAD = """\
derate: 1
supply:
  name: Unnamed
  sample: invented demonstration data
  basis: opened sample
  protection_class: II
  parts_list: complete
  plate: {{mains: 230 V, frequency: 50 Hz, outputs: {{out: {{voltage: {volts}, current: {amps}}}}}}}
site: {{ambient: 0..40 degC, altitude: up to 2000 m, pollution_degree: 2, overvoltage_category: II}}
packs: [commercial-practice, mains-fusing, insulation-household]
known_by: {{parts: marked, rated: data sheet, circuit: seen, transformers: measured, barriers: measured}}
parts:
  F1: {{kind: fuse, rated: {{current: 2 A, voltage: 250 Vac, breaking_capacity: 1500 A}}}}
  BR1: {{kind: bridge rectifier, rated: {{reverse_voltage: 800 V, current: 4 A}}}}
  C1: {{kind: electrolytic capacitor, capacitance: 47 uF 20%, rated: {{voltage: 400 V}}}}
"""
BEHIND_A_WINDING = """
transformers:
  T1:
    core: {area: 52 mm²}
    inductance: 0.7 mH 10%
    leakage: 10 uH
    windings:
      primary: {turns: 40, wire: enamelled, bare: 0.3 mm}
      secondary: {turns: 5, wire: triple-insulated, bare: 0.8 mm}
barriers:
  under T1: {between: [primary, secondary], clearance: 1.5 mm, creepage: 1.5 mm, board: {material_group: IIIa}}
"""
SWITCH = "{kind: MOSFET, output_capacitance: 60 pF, rated: {voltage: 600 V, current: 10 A at 25 degC}}"
LIMIT = ["U1: {kind: controller, current_limit: 0.9..1.1 V, limit_delay: 200 ns}", "R9: film resistor 0.5 ohm"]
STORE = "C6: {kind: electrolytic capacitor, capacitance: 1000 uF 20%, rated: {voltage: 16 V}}"
DIODE = "D1: {kind: Schottky diode, rated: {reverse_voltage: 100 V, current: 10 A}}"
CONTROL = "control: {type: fixed frequency, frequency: 100 kHz, by: U1, limits: R9}"
LINE = "line: [F1, BR1, across C1]"
CHIP = "U1: {kind: integrated switch, limit_current: 2..2.2 A, limit_delay: 200 ns, rated: {voltage: 700 V}}"
CHOKE = "L1: {kind: choke, inductance: 2 mH}"
FILM = "C5: {kind: film capacitor, capacitance: 47 nF, rated: {voltage: 630 V}}"


def text(parts: list[str], circuit: list[str], volts: str = "12 V", amps: str = "2 A", wound: bool = False) -> str:
    lines = [f"  {one}" for one in parts] + ["circuit:"] + [f"  {one}" for one in (*circuit, "bridging: none")]
    return HEAD.format(volts=volts, amps=amps) + "\n".join(lines) + "\n" + (BEHIND_A_WINDING if wound else "")


def flyback(
    *more: str, primary: str = "T1.primary, Q1, R9", out: str = "D1, across C6", line: str = LINE, **of: str
) -> str:
    parts = [f"Q1: {SWITCH}", DIODE, STORE, *LIMIT, *more]
    circuit = [line, f"primary: [{primary}]", of.get("clamp", "clamp: none"), CONTROL]
    return text(parts, [*circuit, f"outputs: {{out: [T1.secondary, {out}]}}"], wound=True)


FLYBACK = flyback()
RECOGNISED = {
    "flyback with a controller": (FLYBACK, "flyback", "Q1 in series with T1.primary"),
    "flyback with an integrated switch": (
        text(
            [CHIP, DIODE, STORE],
            [LINE, "primary: [T1.primary, U1]", "clamp: none", "outputs: {out: [T1.secondary, D1, across C6]}"],
            wound=True,
        ),
        "flyback",
        "U1 in series with T1.primary",
    ),
    "flyback with a transistor as rectifier": (
        flyback(f"Q2: {SWITCH}", out="Q2, across C6").replace(f"  {DIODE}\n", ""),
        "flyback",
        "Q1 in series with T1.primary",
    ),
    "flyback behind a power-factor stage": (
        flyback(
            "L9: choke 0.5 mH",
            "D9: ultrafast diode 600 V 4 A",
            f"Q9: {SWITCH}",
            "C2: {kind: film capacitor, capacitance: 470 nF, rated: {voltage: 450 V}}",
            line="line: [F1, BR1, across C2, L9, across Q9, D9, across C1]",
        ),
        "flyback",
        "Q1 in series with T1.primary",
    ),
    "lamp of resistors": (
        text(
            ["R1, R2: film resistor 4.7 kohm 5% 1 W 350 V", "D1: line diode 1000 V 1 A", "C2: electrolytic capacitor"]
            + ["LED1: {kind: LED, rated: {current: 20 mA}}"],
            ["line: [F1, R1 + R2, D1, across C2]", "outputs: {out: [LED1]}", "other: {BR1: empty, C1: empty}"],
            "9 V",
            "10 mA",
        ),
        "dropper",
        "R1 and R2 in series with the mains",
    ),
    "lamp of a bulk capacitor and resistors": (
        text(
            ["R1, R2: film resistor 2.2 kohm 5% 0.25 W", "LED1: {kind: LED, rated: {current: 20 mA}}"],
            [LINE, "outputs: {out: [R1 + R2, LED1]}"],
            "200 V",
            "20 mA",
        ),
        "linear lamp driver",
        "LED1 in series with R1 and R2",
    ),
}


def bench(name: str, said: str) -> Demonstration:
    return Demonstration(name, f"{name.replace(' ', '-')}.derate.yaml", said)


@pytest.mark.parametrize("name", RECOGNISED)
def test_told_by_what_is_joined_to_what(name: str) -> None:
    said, word, why = RECOGNISED[name]
    topology = read_design(said, "unnamed.derate.yaml").file.supply.topology
    assert topology is not None and topology.word == word and why in topology.note
    (row,) = bench(name, said).ledger().rows(SUPPLY, "supply.topology")
    assert row.known_by == "computed"


def test_a_flyback_that_nobody_named_is_worked_out_like_one_that_is_named() -> None:
    named = FLYBACK.replace("  protection_class", "  topology: flyback\n  protection_class")
    figures = [
        {
            (str(row.subject), row.quantity, str(row.case)): row.value
            for row in bench("named", said).ledger().entries
            if row.quantity != "supply.topology"
        }
        for said in (FLYBACK, named)
    ]
    assert figures[0] == figures[1]
    assert [row.value for row in bench("named", FLYBACK).ledger().rows(part("Q1"), "current_peak")]


@pytest.mark.parametrize(
    "change",
    [
        ("Q1: {kind: MOSFET,", "Q1: {kind: unknown,"),
        ("U1: {kind: controller,", "U1: {kind: unknown,"),  # nobody knows whether anything controls the switch
        (f"  {CHOKE}\n", "  L1: {kind: unknown}\n"),  # somewhere in the file, and may be a switch
        ("D1, across C6]", "across C6]"),
        ("primary: [T1.primary, Q1, R9]", "primary: [T1.primary, Q1, C5, R9]"),
        ("D1, across C6]", "D1, L1, across C6]"),
    ],
)
def test_what_may_be_another_stage_is_not_recognised(change: tuple[str, str]) -> None:
    whole = flyback(CHOKE, FILM).replace("  bridging: none", "  other: {L1: bead, C5: filter}\n  bridging: none")
    assert read_design(whole, "u.derate.yaml").file.supply.topology is not None
    assert whole.count(change[0]) == 1
    other = whole.replace(*change).replace("L1: bead, " if "L1, across" in change[1] else "\0", "")
    other = other.replace(", C5: filter" if "C5, R9" in change[1] else "\0", "")
    if change[1] == "across C6]":
        other = other.replace("L1: bead, C5: filter", "L1: bead, C5: filter, D1: spare")
    topology = read_design(other, "u.derate.yaml").file.supply.topology
    assert topology is None or topology.word is None


def test_a_switch_that_nothing_controls_is_no_flyback_by_its_paths_alone() -> None:
    alone = FLYBACK.replace(f"  {LIMIT[0]}\n", "").replace("by: U1, ", "")
    assert "U1" not in alone
    topology = read_design(alone, "u.derate.yaml").file.supply.topology
    assert topology is None or topology.word is None


TWO = f"Q1, Q2: {SWITCH}"
RECTIFIED = "outputs: {out: [T1.secondary, D1, across C6]}"
NOT_WORKED_OUT = {
    "resonant half bridge": (
        text([TWO, FILM, DIODE, STORE], [LINE, "primary: [Q1, across Q2, T1.primary, C5]", RECTIFIED], wound=True),
        "C5 stands in series with the primary winding",
    ),
    "full bridge": (
        text(
            [f"Q1, Q2, Q3, Q4: {SWITCH}", DIODE, STORE],
            [LINE, "primary: [Q1 || Q2, T1.primary, Q3 || Q4]", RECTIFIED],
            wound=True,
        ),
        "Q3 is a second switch in series with Q1",
    ),
    "two-switch forward": (
        text(
            [TWO, "D1, D2: Schottky diode 100 V 10 A", CHOKE, STORE],
            [
                LINE,
                "primary: [Q1, T1.primary, Q2]",
                "outputs: {out: [T1.secondary, D1, across D2, L1, across C6]}",
            ],
            wound=True,
        ),
        "second switch in series with Q1",
    ),
    "active clamp": (
        flyback(f"Q2: {SWITCH}", FILM, clamp="clamp: {across: T1.primary, path: C5 + Q2}"),
        "Q2 makes the clamp an active one",
    ),
    "half bridge for a lamp": (
        text([TWO, CHOKE, FILM, STORE], [LINE, "outputs: {out: [Q1, across Q2, L1, C5, across C6]}"]),
        "C5 stands in series on the path of out",
    ),
    "SEPIC": (
        text(
            [f"Q1: {SWITCH}", "L1, L2: choke 2 mH", FILM, DIODE, STORE],
            [LINE, "outputs: {out: [L1, across Q1, C5, across L2, D1, across C6]}"],
        ),
        "C5 stands in series on the path of out",
    ),
    "Cuk": (
        text(
            [f"Q1: {SWITCH}", "L1, L2: choke 2 mH", FILM, DIODE, STORE],
            [LINE, "outputs: {out: [L1, across Q1, C5, across D1, L2, across C6]}"],
        ),
        "C5 stands in series on the path of out",
    ),
    "charge pump": (
        text(
            [CHIP, FILM, "D1, D2: ultrafast diode 600 V 1 A", STORE],
            [LINE, "outputs: {out: [U1, C5, across D1, D2, across C6]}"],
        ),
        "C5 stands in series on the path of out",
    ),
    "lamp driver behind a dimmer": (
        text(
            ["TR1: {kind: thyristor}", CHIP, DIODE, CHOKE, STORE],
            ["line: [F1, TR1, BR1, across C1]", "outputs: {out: [U1, across D1, L1, across C6]}"]
            + ["control: {type: boundary, by: U1}"],
        ),
        "TR1 ahead cuts the wave of the mains",
    ),
    "dropper behind a dimmer": (
        text(
            ["TR1: {kind: thyristor}", FILM, "D1: {kind: zener diode, voltage: 12 V}", STORE],
            ["line: [F1, TR1, C5, BR1, across D1, across C6]", "outputs: {out: [across C6]}", "other: {C1: empty}"],
        ),
        "TR1 ahead cuts the wave of the mains",
    ),
    "a buck by its word, with a capacitor in series behind the choke": (
        text(
            [CHIP, DIODE, CHOKE, FILM, STORE],
            [LINE, "outputs: {out: [U1, across D1, L1, C5, across C6]}", "control: {type: boundary, by: U1}"],
        ).replace("  protection_class", "  topology: buck\n  protection_class"),
        "C5 in series behind the choke",
    ),
    "valley fill": (
        text(
            [FILM, "C2: {kind: electrolytic capacitor, capacitance: 10 uF, rated: {voltage: 160 V}}", DIODE]
            + ["LED1: {kind: LED}", "U1: {kind: linear regulator, limit_current: 20 mA}"],
            ["line: [F1, BR1, across C1 + D1 + C2]", "outputs: {out: [LED1, U1]}", "other: {C5: spare}"],
            "100 V",
            "20 mA",
        ),
        "fill the valleys of the rail",
    ),
}
STRESSED = ("current_rms", "current_peak", "current_average", "voltage_peak", "reverse_voltage", "ripple_current")
OF_THE_STAGE = tuple(part(name) for name in ("Q1", "Q2", "Q3", "Q4", "U1", "D1", "D2", "L1", "L2", "C5", "C6", "LED1"))


@pytest.mark.parametrize("name", NOT_WORKED_OUT)
def test_another_stage_is_told_and_nothing_of_it_worked_out(name: str) -> None:
    said, why = NOT_WORKED_OUT[name]
    ledger = bench(name, said).ledger()
    stressed = [
        row
        for row in ledger.entries
        if row.subject in OF_THE_STAGE and row.quantity in STRESSED
        if row.case is None or row.case.group in ("running", "overload")
    ]
    assert stressed and all(row.value is None for row in stressed)
    assert any("not covered" in row.note and why in row.note for row in ledger.entries if row.value is None)
    openings = [row for row in ledger.entries if row.quantity == "opening" and row.subject == part("Q1")]
    if name != "active clamp":  # whose switch draws from the bulk through its winding alone
        assert all(row.value is None for row in openings)


@pytest.mark.parametrize("name", [*list(RECOGNISED)[::2], *list(NOT_WORKED_OUT)[::3]])
@pytest.mark.parametrize(("amps", "verdict"), [("0.37 A", "fail"), ("0.42 A", "marginal"), ("0.6 A", "pass")])
def test_a_plate_gives_out_no_more_than_it_takes_whatever_stands_behind_it(name: str, amps: str, verdict: str) -> None:
    """45 W at 110 V and 0.37 A: 41 VA go in."""
    said = (RECOGNISED | NOT_WORKED_OUT)[name][0]
    plate = f"plate: {{mains: 110 V, mains_current: {amps}, outputs: {{out: {{voltage: 15 V, current: 3 A"
    start, end = said.index("plate: {"), said.index("}}}\nsite")
    (told,) = found(bench(name, said[:start] + plate + said[end:]).judged(), "plate-power-is-possible")
    assert told.verdict == verdict
    if amps == "0.37 A":
        assert "1.11" in told.message and told.blocks


@pytest.mark.parametrize("name", ["resonant half bridge", "full bridge", "two-switch forward", "active clamp"])
def test_the_distances_of_a_stage_that_is_not_worked_out_are_judged(name: str) -> None:
    """Too near fails; far away waits for the voltage between the windings, which nobody has worked out or read."""
    said, _ = NOT_WORKED_OUT[name]
    for rule in ("household-barrier-clearance", "household-barrier-creepage"):
        (near,) = found(bench(name, said).judged(), rule, "under T1")
        (far,) = found(bench(name, said.replace("1.5 mm", "12 mm")).judged(), rule, "under T1")
        assert (near.verdict, far.verdict) == ("fail", "not assessed")
        assert near.blocks and far.blocks


def test_a_shorted_switch_with_something_else_in_series_opens_nothing_for_sure() -> None:
    """Beside it the same switch with its winding and sense resistor alone, whose short opens the fuse."""
    resonant, _ = NOT_WORKED_OUT["resonant half bridge"]
    words = []
    for said in (FLYBACK, resonant):
        rows = [row for row in bench("short", said).ledger().rows(part("Q1"), "opening") if row.case is not None]
        assert rows
        words.append({row.value.word if isinstance(row.value, Category) else None for row in rows})
    assert words == [{"shown"}, {None}]
    (fault,) = [one for one in mains_faults(read_design(resonant, "r.yaml").structure) if one.name == "Q1 shorted"]
    assert fault.hard and fault.shape == "bench"  # the rule on what clears a short goes on asking for it
    (told,) = found(bench("short", resonant).judged(), "short-is-cleared")
    assert told.verdict == "not assessed" and told.blocks


def test_parts_that_fill_the_valleys_lie_across_no_mains() -> None:
    said, _ = NOT_WORKED_OUT["valley fill"]
    judged = found(bench("valley fill", said).judged(), "capacitor-across-mains-voltage")
    assert all(one.verdict == "not applicable" for one in judged)
    line = read_design(said, "v.derate.yaml").structure
    assert line.places["C1"] == line.places["C2"] == "other"
