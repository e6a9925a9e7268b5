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


SNUBBER = (
    (
        "  D9: {kind: diode",
        "  CS1: ceramic capacitor 1 nF 10% {volts}\n  RS1: film resistor 22 ohm 5% 2 W\n  D9: {kind: diode",
    ),
    ("  control: {type", "  snubbers: {D7: [RS1, CS1]}\n  control: {type"),
)
DIVIDER = (
    ("  D9: {kind: diode", "  R21: film resistor {upper} 1% 0.25 W\n  R22: film resistor 1 kohm 1% 0.25 W\n"
     "  U3: {kind: shunt reference, voltage: 2.5 V 1%}\n  D9: {kind: diode"),
    ("senses: T1.auxiliary}", "senses: main, divider: {main: R21, lower: R22}, reference: U3}"),
)
LOW_MAINS = (("mains: 100..240 V\n", "mains: 100..127 V\n"), ("switch_ons: 20000", "switch_ons: 20000, surge: 1 kV"))
BRIDGE = "reverse_voltage: 1000 V, current: 4 A"
Changes = tuple[tuple[str, str], ...]


def _with(changes: Changes, **words: str) -> Changes:
    def filled(text: str) -> str:
        for name, word in words.items():
            text = text.replace("{" + name + "}", word)
        return text

    return tuple((old, filled(new)) for old, new in changes)


@pytest.mark.parametrize(("rule", "subject", "sound", "planted"), [
    # the surge of 1 kV charges the bulk to 305..426 V, and the bridge blocks 250 V
    ("mains-rectifier-voltage-in-surge", "BR1", (*LOW_MAINS, (BRIDGE, "reverse_voltage: 600 V, current: 4 A")),
     (*LOW_MAINS, (BRIDGE, "reverse_voltage: 250 V, current: 4 A"))),
    # across a rectifier that blocks 88 V
    ("snubber-capacitor-voltage", "CS1", _with(SNUBBER, volts="200 V"), _with(SNUBBER, volts="16 V")),
    # 2.5 V x (1 + 3.8) is the plate's 12 V, and 2.5 V x (1 + 7) is 20 V
    ("output-voltage-as-divided", "", _with(DIVIDER, upper="3.8 kohm"), _with(DIVIDER, upper="7 kohm")),
    # a third of the period of 65 kHz
    ("clamp-diode-recovery", "D5", (), (("D5: fast diode 1000 V 1 A 500 ns", "D5: fast diode 1000 V 1 A 5 us"),)),
    # 17.9 W come out of 15 W
    ("power-read-is-possible", "", (), (("mains_power: 20.9 W 1%", "mains_power: 15.0 W 1%"),)),
    # 18 W out of 100 V and 0.15 A
    ("plate-power-is-possible", "", (), (("mains_current: 0.5 A", "mains_current: 0.15 A"),)),
    ("enclosure-flame-class", "", (), (("enclosure_flame_class: V-0", "enclosure_flame_class: HB"),)),
    ("output-lead-current", "main", (), (("lead_current: 3 A", "lead_current: 1 A"),)),
    # below 1.66 A nothing stops an overload
    ("output-lead-current-in-overload", "main", (), (("lead_current: 3 A", "lead_current: 1.6 A"),)),
    ("no-wire-reaches-across", "", (), (("wire_reach: none", "wire_reach: wire of the secondary"),)),
    ("plug-pins-held", "", (), (("pins_held: fixed", "pins_held: loose"),)),
    ("fuse-not-in-neutral-alone", "", (("line: [RF1, BR1", "line: [RF1, BR1"),),
     (("line: [RF1, BR1", "line: [RF1 in neutral, BR1"),)),
])
def test_what_was_planted_is_found_and_blocks(rule: str, subject: str, sound: Changes, planted: Changes) -> None:
    assert [one.verdict for one in of(findings(*sound), rule, subject)] == ["pass"]
    own = of(findings(*planted), rule, subject)
    assert [(one.verdict, one.blocks) for one in own] == [("fail", True)]
    assert own[0].severity in ("critical", "major")


def test_a_core_tied_to_the_output_needs_its_distance_to_the_mains_side() -> None:
    """A place that is only called after the core is no answer then: it may lie within the output."""
    tied = ("tied_to: bulk minus}\n    inductance", "tied_to: main minus}\n    inductance")
    assert [one.verdict for one in of(findings(), "core-distance-stated")] == ["pass"]
    own = of(findings(tied), "core-distance-stated")
    assert [(one.verdict, one.severity, one.blocks) for one in own] == [("not assessed", "critical", True)]
    place = ("  core to secondary leads: {between: [primary, secondary]", "  core: {between: [core, primary]")
    assert [one.verdict for one in of(findings(tied, place), "core-distance-stated")] == ["pass"]


def test_two_capacitors_of_a_snubber_share_what_it_lies_across_in_a_way_nobody_knows() -> None:
    two = (
        (SNUBBER[0][0], SNUBBER[0][1].replace("CS1:", "CS1, CS2:").replace("{volts}", "50 V")),
        (SNUBBER[1][0], SNUBBER[1][1].replace("CS1]", "CS1 + CS2]")),
    )
    assert [one.verdict for one in of(findings(*two), "snubber-capacitor-voltage")].count("not assessed") == 2


def test_a_divider_of_two_outputs_is_held_to_both() -> None:
    """By the currents at the reference: 2.495 V over 2.49 kohm is what 5 V and 12 V feed through their resistors."""
    from derate.circuit.elementary import set_ratio

    both = {"reference": 2.495, "upper_a": 4.99e3, "plate_a": 5.0, "upper_b": 19.1e3, "plate_b": 12.0}
    fed = (5.0 - 2.495) / 4.99e3 + (12.0 - 2.495) / 19.1e3
    assert set_ratio("a", "b").solve(lower=2.495 / fed, **both)["ratio"] == pytest.approx(1.0)
    assert set_ratio("a", "b").solve(lower=2.495 / fed / 2, **both)["ratio"] > 1.2


KEYS = [("wire gauge", "supply: {name: x, plate: {outputs: {main: {wire gauge: 24}}}}", "write lead_current"),
        ("lost_neutral", "site: {lost_neutral: yes}", "neutral lost"),
        ("port_identification", "supply: {name: x, port_identification: yes}", "write data_lines")]


@pytest.mark.parametrize(("key", "text", "says"), KEYS)
def test_a_key_that_nothing_covers_is_told_as_that(key: str, text: str, says: str) -> None:
    from derate.design.load import read_design
    from derate.terms.values import ReadingError

    rest = "" if text.startswith("supply") else "supply: {name: x}\n"
    rest += "" if text.startswith("parts") else "parts: {}\n"
    with pytest.raises(ReadingError) as caught:
        read_design(f"derate: 1\n{rest}{text}\n", "x.derate.yaml")
    told = [one for one in caught.value.problems if one.what == f"'{key}' is not covered"]
    assert told and says in told[0].instead


@pytest.mark.parametrize(("connection", "pattern", "pole", "verdict"), [
    ("fixed wiring", "", "neutral", "fail"), ("lamp cap", "", "neutral", "fail"),
    ("plug-in", "British", "neutral", "fail"),
    ("plug-in", "European", "neutral", "pass"), ("plug-in", "American", "neutral", "not assessed"),
    ("cord", "", "neutral", "not assessed"), ("", "", "neutral", "not assessed"), ("", "", "line", "pass"),
])
def test_a_fuse_in_the_neutral_alone(connection: str, pattern: str, pole: str, verdict: str) -> None:
    text = SOUND.text.replace("  connection: plug-in\n", f"  connection: {connection}\n" if connection else "")
    text = text.replace("plug_pattern: British, ", f"plug_pattern: {pattern}, " if pattern else "")
    text = text.replace("line: [RF1, BR1", "line: [RF1 in neutral, BR1" if pole == "neutral" else "line: [RF1, BR1")
    assert [one.verdict for one in of(findings(text=text), "fuse-not-in-neutral-alone")] == [verdict]


TWIN = """\
derate: 1
revision_of: twin.derate.yaml
supply: {name: Twin, topology: TOPOLOGY}
"""
ISOLATED = """\
derate: 1
supply: {name: Lamp driver, topology: flyback, plate: {mains: 230 V}}
parts: {}
inspection: {touchable_output: none, touchable_leads: none, touchable_metal: none}
"""


@pytest.mark.parametrize("topology", ["buck", "dropper", "power-factor stage"])
def test_the_word_of_an_isolated_twin_does_not_carry_over(topology: str) -> None:
    """What was looked at on a supply that isolates says nothing of its twin that does not."""
    from derate.design.load import read_design

    text = TWIN.replace("TOPOLOGY", topology)
    own = read_design(text, "x.derate.yaml", read=lambda path: ISOLATED)
    assert own.file.inspection.touchable_output is None and own.file.inspection.touchable_leads is None
    kept = read_design(TWIN.replace("TOPOLOGY", "flyback"), "x.derate.yaml", read=lambda path: ISOLATED)
    assert kept.file.inspection.touchable_output is not None
    review = SOUND.review(design=own)
    assert review is not None
    for rule in ("non-isolated-output-enclosed", "non-isolated-leads-enclosed", "non-isolated-metal-enclosed"):
        found = [(one.verdict, one.severity, one.blocks) for one in of(list(review.findings), rule)]
        assert found == [("not assessed", "critical", True)], rule


@pytest.mark.parametrize("look", ["output", "leads", "metal"])
def test_each_thing_that_can_be_touched_is_a_look_of_its_own(look: str) -> None:
    """A sensor, a dimming lead or a screw of the heat sink is a fail whatever was said of the output."""
    text = ISOLATED.replace("flyback", "buck").replace(f"touchable_{look}: none", f"touchable_{look}: a screw")
    found = findings(text=text)
    for which in ("output", "leads", "metal"):
        verdicts = [one.verdict for one in of(found, f"non-isolated-{which}-enclosed")]
        assert verdicts == ["fail" if which == look else "pass"], which


def test_a_divider_that_nobody_described_is_not_assessed_where_a_reference_is_named() -> None:
    """Taking the divider out opens nothing: the part that compares the output is still there."""
    planted = _with(DIVIDER, upper="7 kohm")
    gone = (planted[0], (planted[1][0], "senses: main, reference: U3}"))
    text = "".join(line + "\n" for line in SOUND.text.splitlines())
    other = ("  bridging: none ", "  other: {R21: divider, R22: divider}\n  bridging: none ")
    own = of(findings(*gone, other, text=text), "output-voltage-as-divided")
    assert [(one.verdict, one.blocks) for one in own] == [("not assessed", True)]


@pytest.mark.parametrize("two", ["bare: 0.45 mm", "outside: 0.65 mm", "bare: 0.45 mm, outside: unknown"])
def test_a_wire_that_is_triple_insulated_by_name_needs_its_two_diameters(two: str) -> None:
    """0.45 over 0.48 mm speaks against the name; without one of the two the name alone is no pass."""
    whole = "bare: 0.45 mm, outside: 0.65 mm"
    for instead, verdict in ((whole, "pass"), ("bare: 0.45 mm, outside: 0.48 mm", "fail"), (two, "not assessed")):
        found = of(findings((whole, instead)), "winding-margins", "T1")
        assert [(one.verdict, one.blocks) for one in found] == [(verdict, verdict != "pass")], instead


OWN = ("basis: opened sample", "basis: own design")
AT_FULL = "voltage: {main: 11.94 V}"


@pytest.mark.parametrize(("rule", "planted", "verdict"), [
    ("case-temperature-as-read", ("enclosure: 46 degC", "enclosure: 100 degC"), "fail"),
    ("case-temperature-as-read", ("enclosure: 46 degC", "enclosure: 47 degC"), "pass"),
    ("rated-current-held", (AT_FULL, "voltage: {main: 9.0 V}"), "fail"),
    ("output-regulation", (AT_FULL, "voltage: {main: 14 V}"), "fail"),
    ("rated-current-held", (AT_FULL, "voltage: {main: 10.5..11.2 V}"), "not assessed"),
    ("no-scorch-marks", ("scorch_marks: none", "scorch_marks: R2 browned"), "fail"),
    ("output-lead-current-in-overload", ("lead_current: 3 A", "lead_current: 1.6 A"), "fail"),
])  # fmt: skip
def test_what_was_read_of_an_own_design_is_judged(rule: str, planted: tuple[str, str], verdict: str) -> None:
    """A word in front of the file takes no reading out of it: of a sample or a prototype, it says the same."""
    for basis in ((), (OWN,)):
        assert [one.verdict for one in of(findings(*basis, planted), rule)] == [verdict]


def test_an_own_design_is_asked_for_no_load_test() -> None:
    """What nobody took of it, a rule for opened samples does not wait for."""
    text = SOUND.text.partition("\nreadings:")[0] + "\ninspection: {}\n"
    asked = ("rated-current-held", "case-temperature-as-read", "no-scorch-marks", "output-lead-current-in-overload")
    for basis, verdict in (((), "not assessed"), ((OWN,), "not applicable")):
        found = findings(*basis, text=text)
        assert {one.verdict for rule in asked for one in of(found, rule)} == {verdict}
