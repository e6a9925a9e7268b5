"""Faults planted in the sound design: each is found by its rule, at its severity, and the design blocks by it."""

from __future__ import annotations

import pytest
from law_bench import Bench

from derate.judge.review import Finding

SOUND = Bench.of("sound")


def findings(*changes: tuple[str, str], text: str = SOUND.text) -> list[Finding]:
    for old, new in changes:
        assert text.count(old) == 1, f"'{old}' stands {text.count(old)} times"
        text = text.replace(old, new)
    review = SOUND.review(text)
    assert review is not None
    return list(review.findings)


def of(found: list[Finding], rule: str, subject: str = "") -> list[Finding]:
    return [one for one in found if one.rule == rule and subject in str(one.subject)]


BOX = """\
derate: 1
supply: {name: Plug-in box, basis: opened sample, topology: dropper, plate: {mains: 90..250 V, frequency: 50 Hz}}
parts:
  TK1: {kind: board track, width: 0.5 mm, length: 6 mm}
  CX1: {kind: film capacitor, class: unmarked, capacitance: 470 nF 20%}
circuit: {line: [TK1, across CX1]}
"""


@pytest.mark.parametrize("listed", ["", "parts_list: complete, "])
def test_a_path_without_a_rectifier_is_judged_as_far_as_it_is_written(listed: str) -> None:
    """A plug-in box with a weak spot of the board for a fuse and an unmarked capacitor across the mains: the three
    findings of its recall."""
    found = findings(text=BOX.replace("basis:", f"{listed}basis:"))
    for rule in ("mains-protective-part", "board-track-as-fuse", "capacitor-across-mains-class"):
        own = [(one.verdict, one.severity, one.blocks) for one in of(found, rule)]
        assert own == [("fail", "critical", True)], rule


def test_no_part_that_protects_is_a_fail_only_where_every_part_is_listed() -> None:
    bare = BOX.replace("line: [TK1, across CX1]", "line: [across CX1], other: {TK1: between two pads}")
    assert [one.verdict for one in of(findings(text=bare), "mains-protective-part")] == ["not assessed"]
    listed = bare.replace("basis:", "parts_list: complete, basis:")
    assert [one.verdict for one in of(findings(text=listed), "mains-protective-part")] == ["fail"]


def test_a_part_is_judged_by_what_it_is_joined_to_wherever_it_is_listed() -> None:
    """The capacitor of the controller's supply, listed under the start-up path, the auxiliary path or both."""
    rating = ("C5: electrolytic capacitor 22 uF 20% 50 V", "C5: electrolytic capacitor 22 uF 20% 10 V")
    auxiliary = ("auxiliary: [T1.auxiliary, D6, across C5, U1]", "auxiliary: [T1.auxiliary, D6, U1]")
    start_up = ("start_up: [R1 + R2, across C5]", "start_up: [R1 + R2]")
    for changes in ((), (auxiliary,), (start_up,)):
        sound = of(findings(*changes), "auxiliary-capacitor-voltage", "C5")
        assert [one.verdict for one in sound] == ["pass"]
        found = of(findings(*changes, rating), "auxiliary-capacitor-voltage", "C5")
        assert [(one.verdict, one.blocks) for one in found] == [("fail", True)]


def test_what_stands_across_the_middle_of_the_start_up_path_is_not_taken_for_its_end() -> None:
    """Its voltage lies between the bulk and the rail, and nobody works it out."""
    middle = ("start_up: [R1 + R2, across C5]", "start_up: [R1, across C9, R2, across C5]")
    part = ("  D9: {kind: diode", "  C9: ceramic capacitor 10 nF 50 V\n  D9: {kind: diode")
    found = findings(middle, part)
    assert [one.verdict for one in of(found, "auxiliary-capacitor-voltage", "C9")] == ["not assessed"]
    assert [one.verdict for one in of(found, "auxiliary-capacitor-voltage", "C5")] == ["pass"]


CLAMP = (
    "R5, R6: {kind: metal oxide resistor, resistance: 47 kohm 5%, "
    "rated: {power: {70 degC: 1 W, 200 degC: 0 W}, voltage: 350 V}}"
)
SENSE = "R9: {kind: film resistor, resistance: 0.82 ohm 1%, rated: {power: {70 degC: 1 W, 155 degC: 0 W}}}"
START = "R1, R2: film resistor 1 Mohm 5% 0.25 W 250 V"


@pytest.mark.parametrize(("rule", "name", "part", "planted"), [
    ("clamp-resistor-power", "R5", CLAMP, "R5, R6: metal oxide resistor 47 kohm 5% 0.1 W 350 V"),
    ("clamp-resistor-power", "R5", CLAMP, CLAMP.replace("70 degC: 1 W", "70 degC: 0.1 W")),
    ("sense-resistor-power", "R9", SENSE, "R9: film resistor 0.82 ohm 1% 0.025 W"),
    ("sense-resistor-power", "R9", SENSE, SENSE.replace("70 degC: 1 W", "70 degC: 0.025 W")),
    ("start-up-resistor-power", "R1", START, START.replace("1 Mohm 5% 0.25 W", "150 kohm 5% 0.05 W")),
    ("start-up-resistor-power", "R1", START,
     "R1, R2: {kind: film resistor, resistance: 150 kohm 5%, "
     "rated: {power: {70 degC: 0.05 W, 155 degC: 0 W}, voltage: 250 V}}"),
])
def test_a_resistor_overloaded_five_times_fails_however_its_rating_is_written(
    rule: str, name: str, part: str, planted: str
) -> None:
    """In the short form, which says no temperature, and as a table: the rating is at most what stands there."""
    assert [one.verdict for one in of(findings(), rule, name)] == ["pass"]
    own = of(findings((part, planted)), rule, name)
    assert [(one.verdict, one.severity, one.blocks) for one in own] == [("fail", "major", True)]
    assert own[0].ratio is not None and own[0].ratio > 3


def test_a_rating_without_its_temperature_proves_no_pass() -> None:
    """R9 loses 0.14 W at most: 1 W at no temperature may be 1 W at 25 degC, and nothing beside a hot switch."""
    own = of(findings((SENSE, "R9: film resistor 0.82 ohm 1% 1 W")), "sense-resistor-power", "R9")
    assert [(one.verdict, one.blocks) for one in own] == [("not assessed", True)]
    assert "R9: rated.power with its temperature" in [str(fact) for fact in own[0].missing]
