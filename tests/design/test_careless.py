"""Slips of a careless person that bettered a figure in silence: a part counted twice, a unit no such part has."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from derate.design.load import read_design
from derate.packs.load import shipped
from derate.terms.values import ReadingError

SOUND = shipped("designs") / "greenhouse-vent" / "greenhouse-vent.derate.yaml"
BELL = shipped("designs") / "porch-bell" / "porch-bell.derate.yaml"
BEEHIVE = shipped("designs") / "beehive-scale" / "beehive-scale.derate.yaml"


def refused(path: Path, said: str, instead: str) -> str:
    """What is told of a design with one text in place of another."""
    text = path.read_text(encoding="utf-8")
    assert text.count(said) == 1, said
    with pytest.raises(ReadingError) as raised:
        read_design(text.replace(said, instead), str(path))
    (problem,) = raised.value.problems
    assert problem.place.line
    return str(problem)


@pytest.mark.parametrize(
    ("path", "said", "instead", "name"),
    [
        (SOUND, "line: [RF1, BR1,", "line: [RF1, RF1, BR1,", "RF1"),  # halves the current at switch-on
        (SOUND, "across C1, L1, across C2]", "across C1, L1, across C2, RF1]", "RF1"),
        (SOUND, "across C1, L1, across C2]", "L1, across C1, L1, across C2]", "L1"),
        (SOUND, "main: [T1.secondary, D7,", "main: [T1.secondary, D7, D7,", "D7"),
        (SOUND, "across C6 || C7,", "across C6 || C6 || C7,", "C6"),  # half the ripple
        (SOUND, "path: D5 + (R5 || R6 || C4)}", "path: D5 + (R5 || R5 || R6 || C4)}", "R5"),
        (SOUND, "start_up: [R1 + R2,", "start_up: [R1 + R2 + R1,", "R1"),
        (SOUND, "primary: [T1.primary, Q1, R9]", "primary: [T1.primary, Q1, R9, T1.primary]", "T1.primary"),
        (SOUND, "bridging: none  ", "bridging: {D9X + D9X: [primary, secondary]}  ", "D9X"),  # two in series
        (BEEHIVE, "line: [F1, TL1, T1.primary]", "line: [F1, TL1, F1, T1.primary]", "F1"),
        (BEEHIVE, "U1, across C2]", "U1, across C2, U1]", "U1"),
    ],
)
def test_a_part_stands_once_on_a_path(path: Path, said: str, instead: str, name: str, tmp_path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    if name == "D9X":
        own = "  D9X: {kind: ceramic capacitor, class: Y2, capacitance: 1 nF}\n"
        text = text.replace("  D9: {kind", f"{own}  D9: {{kind", 1)
    copy = tmp_path / path.name
    copy.write_text(text, encoding="utf-8")
    assert f"{name} stands on this path twice, first in line " in refused(copy, said, instead)


def test_a_part_on_a_path_is_none_of_the_others() -> None:
    said = "  bridging: none  "
    assert "Q1 stands on a path, and under other as well" in refused(SOUND, said, f"  other: {{Q1: spare}}\n{said}")
    assert "C4 stands on a path, and under other as well" in refused(SOUND, said, f"  other: [C4]\n{said}")


def test_a_part_may_stand_on_two_paths() -> None:
    """Where two of them end: the capacitor of the controller, the rail of a dropper."""
    text = SOUND.read_text(encoding="utf-8")
    assert len(re.findall(r"across C5\b", text)) == 2 and read_design(text, str(SOUND))


@pytest.mark.parametrize(
    ("path", "said", "instead", "told"),
    [
        (
            BELL,
            "rated: {voltage: 25 V, temp",
            "rated: {voltage: 25 kV, temp",
            "rated voltage of this electrolytic capacitor",
        ),
        (BELL, "power: {50 degC: 1.3 W", "power: {50 degC: 1.3 kW", "rated power of this zener diode"),
        (BELL, "voltage: 12 V 5%", "voltage: 12 mV 5%", "voltage of this zener diode"),
        (
            BELL,
            "power: {70 degC: 2 W, 200",
            "power: {70 degC: 2 kW, 200",
            "rated power of this fusible wirewound resistor",
        ),
        (
            SOUND,
            "rated: {voltage: 700 V, current: 4 A",
            "rated: {voltage: 70 kV, current: 4 A",
            "rated voltage of this MOSFET",
        ),
        (
            SOUND,
            "film resistor 1 Mohm 5% 0.25 W",
            "film resistor 1 Mohm 5% 2.5 kW",
            "rated power of this film resistor",
        ),
        (BEEHIVE, "rated: {voltage: 35 V", "rated: {voltage: 35 kV", "rated voltage of this linear regulator"),
        (
            BEEHIVE,
            "dropout_voltage: 2.0 V at",
            "dropout_voltage: 2.0 mV at",
            "rated dropout voltage of this linear regulator",
        ),
        (BEEHIVE, "rated: {current: 0.1 A", "rated: {current: 0.1 mA", "rated current of this fuse"),
    ],
)
def test_a_figure_that_no_part_of_its_kind_has_is_refused(path: Path, said: str, instead: str, told: str) -> None:
    assert f"is no plausible {told}: " in refused(path, said, instead)


@pytest.mark.parametrize(
    ("said", "instead"),
    [("voltage: 25 V, temp", "voltage: 1 kV, temp"), ("power: {70 degC: 2 W, 200", "power: {70 degC: 1 kW, 200"),
     ("power: {50 degC: 1.3 W", "power: {50 degC: 100 W"), ("voltage: 12 V 5%", "voltage: -12 V 5%")],
)  # fmt: skip
def test_the_ends_themselves_are_taken(said: str, instead: str) -> None:
    text = BELL.read_text(encoding="utf-8")
    assert said in text and read_design(text.replace(said, instead, 1), str(BELL))
