"""Every name of a file resolves, and every word of a closed list is on it: what was swallowed once is refused.

Each row is one change of a sound file: what is refused has to say what it is and what to write instead, at the place
where it stands; what is read has to mean what it says.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from derate.design.load import Design, read_design
from derate.study.work import Workshop
from derate.terms.values import ReadingError

ROOT = Path(__file__).parents[2]
PATH = ROOT / "designs" / "greenhouse-vent" / "greenhouse-vent.derate.yaml"
SOUND = PATH.read_text(encoding="utf-8")
CONTROL = "limits: R9, senses: T1.auxiliary}"
NO_BRIDGE = "  bridging: none  "
PLUG = "supply: supply, reason"
STRENGTH = "test: electric strength, between: [primary, secondary]"


def changed(old: str, new: str) -> tuple[str, int, int]:
    """The sound file with one change, and the line and column where that begins."""
    assert SOUND.count(old) >= 1, old
    at = SOUND.index(old)
    return SOUND.replace(old, new, 1), SOUND.count("\n", 0, at) + 1, at - SOUND.rfind("\n", 0, at)


def read(old: str, new: str) -> Design:
    return read_design(changed(old, new)[0], str(PATH))


REFUSED = [
    # names
    (CONTROL, CONTROL[:-1] + ", through: [OC11]}", "'OC11' is no part of this design", ""),
    (CONTROL, "limits: R99, senses: T1.auxiliary}", "'R99' is no part of this design", "did you mean R9?"),
    (
        CONTROL,
        "limits: R9, senses: T1.auxilary}",
        "'T1.auxilary' is no output or winding",
        "did you mean T1.auxiliary?",
    ),
    (CONTROL, CONTROL[:-1] + ", reference: U9}", "'U9' is no part", "there are: RF1"),
    (CONTROL, CONTROL[:-1] + ", divider: {mian: R5}}", "'mian' is no output", "did you mean main?"),
    (CONTROL, CONTROL[:-1] + ", divider: {main: R55}}", "'R55' is no part", "did you mean R5?"),
    (CONTROL, CONTROL[:-1] + ", coupler_supply: mian}", "'mian' is no output", "did you mean main?"),
    (CONTROL, CONTROL[:-1] + ", bias_resistor: R22}", "'R22' is no part", "did you mean R2?"),
    ("case_temperature: {RF1: 71 degC,", "case_temperature: {C11: 98 degC,", "'C11' is nothing in this design", "C1"),
    ("enclosure: 46 degC", "enclosre: 46 degC", "'enclosre' is nothing in this design", "did you mean enclosure?"),
    ("ripple: {main: 38 mVpp}", "ripple: {mian: 900 mVpp}", "'mian' is nothing in this design", "did you mean main?"),
    ("load: none}, voltage", "load: {mian: 0.2 A}}, voltage", "'mian' is no output", "did you mean main?"),
    ("at: {mains: 90 V, frequency: 50 Hz, load: full}", "at: E", "'E' is no condition", ""),
    ("leads: {secondary:", "leads: {secundary:", "'secundary' is no winding", "did you mean secondary?"),
    ("crosses: none", "crosses: secundary", "'secundary' is no side", "did you mean secondary?"),
    (NO_BRIDGE, "  snubbers: {D77: [R5, C4]}\n  bridging: none  ", "'D77' is no part or winding", "did you mean D7?"),
    (NO_BRIDGE, "  snubbers: {D7: [R55, C4]}\n  bridging: none  ", "'R55' is no part or winding", "did you mean R5?"),
    (NO_BRIDGE, "  other: C99\n  bridging: none  ", "'C99' is no part or winding", ""),
    (
        NO_BRIDGE,
        "  bridging: {C4: [bulk minus, mian minus]}\n",
        "'mian minus' is no circuit",
        "did you mean main minus?",
    ),
    (
        NO_BRIDGE,
        "  earth: {joined_to: [ouput minus]}\n  bridging: none  ",
        "'ouput minus'",
        "did you mean output minus?",
    ),
    ("path: D5 + (R5", "path: D55 + (R5", "'D55' is no part or winding", "did you mean D5?"),
    ("{across: T1.primary,", "{across: T1.primry,", "'T1.primry' is no part or winding", "did you mean T1.primary?"),
    ("gap: 0.65 mm, tied_to: bulk minus", "gap: 0.65 mm, tied_to: ouput minus", "'ouput minus'", "output minus?"),
    (
        "strands: 3, bare: 0.15 mm, tied_to: bulk minus",
        "strands: 3, bare: 0.15 mm, tied_to: bluk minus",
        "'bluk minus'",
        "did you mean bulk minus?",
    ),
    ("[line, after RF1]", "[line, after RF11]", "'after RF11' is no circuit", "did you mean after RF1?"),
    ("[line, after RF1]", "[line, after C1]", "'after C1' is no circuit", "after"),
    ("{RF1: probe 2}", "{RF11: probe 2}", "'RF11' is nothing in this design", "did you mean RF1?"),
    ("test: overload, output: main", "test: overload, output: mian", "'mian' is no output", "did you mean main?"),
    ("from: main", "from: mian", "'mian' is no output", "did you mean main?"),
    ("part: C2, up_to", "part: C22, up_to", "'C22' is nothing in this design", "did you mean C2?"),
    (PLUG, "supply: suply, reason", "'suply' is nothing in this design", "did you mean supply?"),
    (PLUG, "between: [primary, secundary], reason", "'secundary' is nothing", "did you mean secondary?"),
    ("    main: [T1.secondary", "    mian: [T1.secondary", "'mian' is no output of the plate", "write main"),
    # two sides
    (STRENGTH, "test: electric strength, between: [live, touchable]", "'live' is no circuit", "write line"),
    (STRENGTH, "test: electric strength, between: [plug, secondary]", "'plug' is no circuit", "write line or neutral"),
    (STRENGTH, "test: electric strength, between: [pirmary, secondary]", "'pirmary'", "did you mean primary?"),
    (STRENGTH, "test: electric strength, between: [mains, output]", "'mains' is no circuit", "write primary"),
    (STRENGTH, "test: electric strength, between: primary to secondary", "2 names are wanted", "[primary, secondary]"),
    (STRENGTH, "test: electric strength, between: [primary, secondary, earth]", "there are 3", "[primary, secondary]"),
    (STRENGTH, "test: electric strength", "does not say between which circuits", "write between"),
    (STRENGTH, "test: electric strength, between: [T1, secondary]", "a transformer is no side", "write two circuits"),
    (STRENGTH, "test: electric strength, between: [one layer of tape, secondary]", "whose layer", "T1]"),
    ("    between: [primary, secondary]", "    between: primary to secondary", "2 names are wanted", "[primary"),
    # words
    (NO_BRIDGE, "  earth: yes\n  bridging: none  ", "'yes' does not say what there is", "write none, unknown or"),
    (NO_BRIDGE, "  earth: no\n  bridging: none  ", "'no' does not say what there is", "write none, unknown or"),
    (NO_BRIDGE, "  bridging: nnoe\n", "'nnoe' does not say what there is", "write none, unknown or"),
    ("circuit: seen, tr", "circuit: sene, tr", "'sene' is no word this format knows", "write seen"),
    ("load: none}, voltage", "load: none}, known_by: mesured, voltage", "'mesured' is no word", "write measured"),
    ("result: held", "result: held, known_by: mesured", "'mesured' is no word", "write measured"),
    ("opens_by_hand: no", "open_by_hand: yes", "'open_by_hand' is no key", "did you mean opens_by_hand?"),
    ("opens_by_hand: no", "opens_by_hand: perhaps", "'perhaps' is no word", "write one of yes, no"),
    ("enclosure_flame_class: V-0 (marked)", "enclosure_flame_class: burns on", "'burns on' is no word", "V-0, V-1"),
    ("plug_pattern: British", "plug_pattern: Brittish", "'Brittish' is no word", "write British"),
    ("lead_current: 3 A", "lead_current: 3 V", "expected a current, got a voltage", "write it in A"),
    ("connection: plug-in", "mains_switch: live", "'live' is no word", "write line"),
    ("pins_held: fixed", "pins_held: moulded", "'moulded' is no word", "write one of fixed, turn"),
    ("pins_held: fixed", "cord_held: hold", "'hold' is no word", "write held"),
    ("pins_held: fixed", "lamp_head: no", "'no' is no word", "write one of fixed, stop"),
    ("pins_held: fixed", "lamp_cap: gauge", "'gauge' is no word", "in gauge"),
    ("wire_reach: none", "wire_reach: not sure", "'not sure' denies something", "write none, unknown"),
    ("touchable_leads: none", "touchable_leads: not sure", "'not sure' denies something", "write none, unknown"),
    ("touchable_metal: none", "touchable_metal: not sure", "'not sure' denies something", "write none, unknown"),
    ("touchable_metal: none", "touchable_metal: [screw, not sure]", "denies something", "write none, unknown"),
    ("touchable_metal: none", "touchable_metal: screw and shell", "names several things", "write a list"),
    ("touchable_metal: none", "touchable_metal: screw + shell", "names several things", "write a list"),
    ("touchable_leads: none", "touchable_leads: antenna/lead", "names several things", "write a list"),
    ("touchable_metal: none", "touchable_metal: [screw, none]", "'none' in a list", "none alone"),
    ("touchable_leads: none", "touchable_leads: [antenna, unknown]", "'unknown' in a list", "none alone"),
    ("touchable_leads: none", "touchable_leads: [antenna, Antenna]", "'Antenna' is said twice", "keep one"),
    ("touchable_leads: none", "touchable_leads: []", "a list without an entry", "none or unknown"),
    ("touchable_leads: none", "touchable_leads: [a (seen), b (drawing)]", "several ways to know", "the same behind"),
    ("wire_reach: none", "wire_reach: [a, b]", "a list stands where", "one value"),
    ("connection: plug-in", "connection: cap", "'cap' is no word", "lamp cap"),
    ("scorch_marks: none", "scorch_marks: not sure", "'not sure' denies something", "write none, unknown"),
    ("at: {mains: 90 V,", "at: {mains: [90 V],", "a list stands where mains voltage is wanted", "one value"),
    ("load: none}, voltage", "load: nnoe}, voltage", "'nnoe' is no word", "write none"),
    ("load: none}, voltage", "load: none, output: main}, voltage", "'output' is no key", "known here"),
    ("cold at crest", "cold at creast", "'cold at creast' is no word", "write cold at crest"),
    ("result: held", "result: hold", "'hold' is no word", "write held"),
    ("result: held", "result: no breakdown", "'no breakdown' is no word", "write one of held"),
    ("result: held", "result: 5 mA", "'5 mA' is no outcome of a test of electric strength", "write one of held"),
    ("result: under 0.02 mA", "result: under 0.02 mV", "is no outcome of a test of touch current", "a figure in A"),
    ("result: held", "result: did not open", "'did not open' is no outcome", "write one of held"),
    ("topology: flyback", "topology: none", "'none' is no word", "write one of flyback"),
    ("protection_class: II", "protection_class: two", "'two' is no word", "write one of I, II, III"),
    ("basis: opened sample", "basis: open sample", "'open sample' is no word", "write opened sample"),
    ("fitted: no", "fitted: none", "'none' is no word", "write no"),
    ("fixed: glued", "fixed: not glued", "'not glued' is no word", "glued"),
    ("kind: flying", "kind: flyng", "'flyng' is no word", "write flying"),
    ("sleeve: none, crosses", "sleeve: nnoe, crosses", "'nnoe' is no sleeve", "did you mean none?"),
    (
        "crosses: none",
        "crosses: none, sleeve_reaches: not into the winding",
        "may mean that it reaches in",
        "write into",
    ),
    ("body: ceramic case", "body: ceramic cas", "'ceramic cas' is not 'ceramic case'", "write ceramic case"),
    ("marks: [double square,", "marks: [duoble square,", "'duoble square' is not 'double square'", "double square"),
    ("wire: enamelled, bare: 0.28", "wire: enameled, bare: 0.28", "'enameled' is no word", "write enamelled"),
    (
        "tied_to: bulk minus}\n    ind",
        "tied_to: bulk minus, gap_agreement: good}\n    ind",
        "'gap_agreement' is no key",
        "",
    ),
    (
        "tied_to: bulk minus}\n    ind",
        "tied_to: bulk minus, tape_to_windings: some}\n    ind",
        "no number of layers",
        "2 la",
    ),
    ("fault: Q1 shorted, ", "", "does not say which fault", "write fault"),
    ("load: none}, voltage", "load: {}}, voltage", "a load of no output says nothing", "write none"),
    ("material: FR-4 (assumed)", "material: FR-4 (asumed)", "'asumed'", "assumed"),
    ("sleeve: none, above", "sleeve: nnoe, above", "'nnoe' is not 'none'", "write none"),
    ("scorch_marks: none", "scorch_marks: nnoe", "'nnoe' is not 'none'", "write none"),
    ("clamp: {across: T1.primary, ", "clamp: {", "'across' is missing", "write across"),
    (NO_BRIDGE, "  earth: {by: stud}\n  bridging: none  ", "'joined_to' is missing", "write joined_to"),
    ("    between: [primary, secondary]", "    between: [unknown, secondary]", "2 names are wanted", "[primary"),
    (
        "slot: {width: 1.2 mm, length: 22 mm}",
        "legs: [2.5 mm, over coper 4 mm]",
        "'coper' is near to 'copper'",
        "copper",
    ),
    ("fusible wirewound resistor", "fusible wirewond resistor", "no part kind", "docs/reference.md"),
    ("  L2: choke 4.7", "  L2: chocke 4.7", "begins with no part kind", "docs/reference.md"),
]


@pytest.mark.parametrize(("old", "new", "says", "instead"), REFUSED, ids=[f"{row[1]}"[:50] for row in REFUSED])
def test_refused_with_its_place_and_what_to_write(old: str, new: str, says: str, instead: str) -> None:
    text, line, column = changed(old, new)
    with pytest.raises(ReadingError) as caught:
        read_design(text, str(PATH))
    found = [one for one in caught.value.problems if says in one.what and instead in one.instead]
    assert found, [str(one) for one in caught.value.problems]
    assert line <= found[0].place.line <= line + new.count("\n") and found[0].place.column >= 1
    assert len(caught.value.problems) == 1 or {one.place.line for one in caught.value.problems} != {line}, (
        "one slip, one error",
        [str(one) for one in caught.value.problems],
    )


def test_the_sound_file_itself_is_read() -> None:
    assert read_design(SOUND, str(PATH)).name == "Greenhouse vent supply"


def test_unknown_with_a_reason_is_unknown_and_not_none() -> None:
    assert read(NO_BRIDGE, "  earth: unknown (not looked at)\n  bridging: none  ").structure.earth is None
    assert read(NO_BRIDGE, "  earth: none\n  bridging: none  ").structure.earth == ()
    joined = "  earth: {joined_to: unknown (hidden), by: stud}\n  bridging: none  "
    assert read(NO_BRIDGE, joined).structure.earth is None
    assert read(NO_BRIDGE, "  bridging: unknown (not looked at)\n").structure.bridges is None
    assert read("  clamp: {across: T1.primary, path: D5 + (R5 || R6 || C4)}", "  clamp: unknown (hidden)\n  other: "
                "[D5, R5, R6, C4]").structure.own.clamp is None  # type: ignore[attr-defined]  # fmt: skip
    mains = read("mains: 100..240 V", "mains: unknown (worn off)").file.supply.plate.mains
    assert mains is not None and mains.value is None


def test_control_may_say_that_there_is_none() -> None:
    control = read(CONTROL, CONTROL[:-1] + ", bias_resistor: none, through: none}").structure.control
    assert control.bias_resistor == "none" and control.through == ()


def test_an_unknown_rule_is_refused_where_packs_are_known(tmp_path: Path) -> None:
    (tmp_path / ".git").mkdir()
    path = tmp_path / "one.derate.yaml"
    path.write_text(SOUND.replace("rule: plug-pin-edge", "rule: plug-pin-ege"), encoding="utf-8")
    with pytest.raises(ReadingError, match="'plug-pin-ege' is no rule of any pack; did you mean plug-pin-edge"):
        Workshop().work(str(path))
    # A rule of a shipped pack that is not used here is none that was mistyped.
    path.write_text(SOUND.replace("rule: plug-pin-edge", "rule: household-enclosure-flame-class"), encoding="utf-8")
    assert Workshop().work(str(path)).design.open_points[0].rule == "household-enclosure-flame-class"


@pytest.mark.parametrize(
    "about",
    ["part: 'CY1, C2'", "part: R5 – R6", "barrier: ahead of RF1", "barrier: 'core to secondary leads, over the core'",
     "winding: T1.primary", "between: [T1.primary, T1.secondary]", "transformer: T1",
     "subject: C1 case_temperature at 230 V"],
)  # fmt: skip
def test_what_a_waiver_may_be_about(about: str) -> None:
    if "CY1" in about:
        with pytest.raises(ReadingError, match="'CY1, C2' is nothing in this design"):
            read("part: C2, up_to: 1.5", f"{about}, up_to: 1.5")
        return
    assert not read("part: C2, up_to: 1.5", f"{about}, up_to: 1.5").waivers[0].wrong


def test_a_malformed_waiver_still_counts_for_nothing_and_is_read() -> None:
    design = read("part: C2, up_to: 1.5", "part: C2, upto: 1.5")
    assert "'upto' is not known here" in design.waivers[0].wrong


def test_all_slips_of_a_file_together() -> None:
    text = (
        SOUND.replace("limits: R9", "limits: R99")
        .replace("result: held", "result: hold")
        .replace("tied_to: bulk minus}\n    ind", "tied_to: ouput minus}\n    ind")
        .replace("kind: MOSFET", "kind: MOSFETT")
    )
    with pytest.raises(ReadingError) as caught:
        read_design(text, str(PATH))
    told = str(caught.value)
    assert all(word in told for word in ("'R99'", "'hold'", "'ouput minus'", "'MOSFETT'"))
    assert len(caught.value.problems) == 4


def test_a_part_that_could_not_be_read_is_there_all_the_same() -> None:
    text = SOUND.replace("  R9: {kind: film resistor,", "  R9: {kind: film resistor, ratd: {},")
    with pytest.raises(ReadingError) as caught:
        read_design(text.replace("  C5: electrolytic", "  C5: elektrolytic"), str(PATH))
    assert len(caught.value.problems) == 2, [str(one) for one in caught.value.problems]
