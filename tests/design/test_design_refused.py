"""What a design file is refused for: place, what is wrong, what to write. Each row is one fault in a sound file."""

from __future__ import annotations

import pytest

from derate.design.load import read_design
from derate.terms.values import ReadingError

SOUND = """derate: 1
supply: {name: Lamp, plate: {mains: 220..240 V, frequency: 50 Hz, outputs: {main: {voltage: 12 V, current: 1 A}}}}
parts:
  F1: fuse 1 A 250 V
  BR1: bridge rectifier 600 V 1 A
  C1, C2: electrolytic capacitor 22 uF 20% 400 V
  Q1: MOSFET 600 V 4 A
  R9: film resistor 0.82 ohm 1% 1 W
  D1: Schottky diode 100 V 3 A
  C5: electrolytic capacitor 680 uF 20% 25 V
circuit:
  line: [F1, BR1, across C1 || C2]
  primary: [T1.primary, Q1, R9]
  outputs: {main: [T1.secondary, D1, across C5]}
transformers:
  T1:
    windings: {primary: {turns: 84}, secondary: {turns: 12}}
    from_core_outwards: [bobbin 1.0 mm, primary 42 turns, tape 2 layers, secondary, tape 2 layers, primary 42 turns]
"""


def test_the_sound_file_reads() -> None:
    design = read_design(SOUND, "d.yaml")
    assert design.structure.places["C2"] == "bulk capacitor"
    assert design.structure.mains is not None
    assert design.structure.mains.series == ("F1",)


@pytest.mark.parametrize(
    ("old", "new", "line", "says", "instead"),
    [
        ("across C1 || C2", "C1 || C2", 12, "a capacitive dropper and no converter", "or across C1 || C2"),
        ("[F1, BR1, across", "[F1, BR2, across", 12, "'BR2' is no part", "did you mean BR1?"),
        ("T1.primary, Q1, R9", "T1.primary, Q1", 8, "R9 is fitted and stands on no path", "other: [R9] while nobody"),
        ("primary 42 turns, tape 2", "primary 41 turns, tape 2", 18, "add up to 83", "correct the list"),
        ("  F1: fuse 1 A 250 V", "  F1: fuze 1 A 250 V", 4, "begins with no part kind", "begin with fuse"),
        ("22 uF 20% 400 V", "22 uF 20% 400 K", 6, "has no meaning in the short form", "block"),
        ("600 V 4 A", "600 V 4,5 A", 7, "", "4.5"),
        (
            "film resistor 0.82 ohm 1% 1 W",
            "{kind: film resistor, resistance: 1 ohm, temperature_slope: +4 mV/K}",
            8,
            "slope of a film resistor",
            "leave temperature_slope out",
        ),
        (
            "fuse 1 A 250 V",
            "{kind: fuse, temperature_coefficient: ±50 ppm/K}",
            4,
            "coefficient of a fuse",
            "leave temperature_coefficient out",
        ),
        ("fuse 1 A 250 V", "{kind: fuse, technology: chip}", 4, "a fuse is not made as 'chip'", "write wire or cermet"),
        (
            "MOSFET 600 V 4 A",
            "{kind: MOSFET, technology: chip}",
            7,
            "a MOSFET is not made as 'chip'",
            "leave technology out",
        ),
        (
            "Schottky diode 100 V 3 A",
            "{kind: zener diode, voltage: 9 V, temperature_slope: +4 mV/K, temperature_coefficient: +400 ppm/K}",
            9,
            "a second change",
            "one of the two out",
        ),
        (
            "electrolytic capacitor 680 uF 20% 25 V",
            "{kind: ceramic capacitor, capacitance: 1 uF, dielectric: class 2, temperature_coefficient: ±30 ppm/K}",
            10,
            "no straight line",
            "out",
        ),
        ("MOSFET 600 V 4 A", "{kind: MOSFET, ratd: {voltage: 600 V}}", 7, "'ratd' is no key", "did you mean rated?"),
        ("MOSFET 600 V 4 A", "{kind: MOSFET, rated: {voltge: 600 V}}", 7, "'voltge' is no key", "voltage"),
        ("MOSFET 600 V 4 A", "{kind: MOSFET, rated: {voltage: 600 A}}", 7, "voltage", ""),
        ("MOSFET 600 V 4 A", "{rated: {voltage: 600 V}}", 7, "'kind' is missing", "kind"),
        ("derate: 1", "derate: 2", 1, "format 2 is not known", "write derate: 1"),
        ("frequency: 50 Hz", "frequency: 50 Hz (guessed)", 2, "guessed", ""),
        ("tape 2 layers, secondary", "tap 2 layers, secondary", 18, "'tap'", "did you mean tape?"),
        ("C1, C2: electrolytic", "C1, C1: electrolytic", 6, "said twice", "keep one"),
        ("    from_core", "    from_outside_inwards: [secondary]\n    from_core", 18, "both", "keep one"),
    ],
)
def test_one_fault(old: str, new: str, line: int, says: str, instead: str) -> None:
    assert old in SOUND
    with pytest.raises(ReadingError) as caught:
        read_design(SOUND.replace(old, new, 1), "d.yaml")
    found = [p for p in caught.value.problems if p.place.line == line and says in p.what and instead in p.instead]
    assert found, [str(p) for p in caught.value.problems]


def test_all_faults_of_a_file_together() -> None:
    text = SOUND.replace("fuse 1 A", "fuze 1 A").replace("600 V 4 A", "600 V 4,5 A").replace("1% 1 W", "1% 1 Q")
    with pytest.raises(ReadingError) as caught:
        read_design(text, "d.yaml")
    assert {p.place.line for p in caught.value.problems} >= {4, 7, 8}


def test_a_winding_nobody_uses() -> None:
    text = SOUND.replace("secondary: {turns: 12}}", "secondary: {turns: 12}, aux: {turns: 5}}").replace(
        "supply: {name", "supply: {parts_list: complete, name"
    )
    with pytest.raises(ReadingError, match="winding T1.aux is on no path"):
        read_design(text, "d.yaml")


def test_a_shield_needs_no_path() -> None:
    text = SOUND.replace(
        "secondary: {turns: 12}}", "secondary: {turns: 12}, shield: {turns: 5, tied_to: bulk minus}}"
    ).replace("supply: {name", "supply: {parts_list: complete, name")
    read_design(text, "d.yaml")


def test_an_unfitted_part_on_a_path() -> None:
    text = SOUND.replace("  Q1: MOSFET 600 V 4 A", "  Q1: {kind: MOSFET, fitted: no}")
    with pytest.raises(ReadingError, match="Q1 is not fitted, yet it stands on a path"):
        read_design(text, "d.yaml")


@pytest.mark.parametrize(
    ("plate", "read", "says"),
    [
        ("12 V", "-12 V", "main is read below zero, and its plate says above"),
        ("-12 V", "12 V", "main is read above zero, and its plate says below"),
        ("-12 V", "-11.9 V", ""),
        ("12 V", "-0.1..12 V", ""),
    ],
)
def test_a_voltage_is_read_with_the_sign_of_its_plate(plate: str, read: str, says: str) -> None:
    text = SOUND.replace("voltage: 12 V", f"voltage: {plate}")
    text += f"readings:\n  - {{at: {{mains: 230 V, load: full}}, voltage: {{main: {read}}}}}\n"
    if not says:
        assert len(read_design(text, "d.yaml").readings) == 1
        return
    with pytest.raises(ReadingError) as refused:
        read_design(text, "d.yaml")
    assert says in str(refused.value) and "d.yaml:20:" in str(refused.value)
