"""Every thing that insulates is judged in every family or told by name; so is what a family was not read on."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import pytest
from insulation_bench import family
from small_barrier import changed, judged

from derate.insulation.needed import needed_strength

FAMILIES = ("62368-1", "60664-1", "60335-1")
PREFIX = {"62368-1": "", "60664-1": "basic-standard-", "60335-1": "household-"}
ORDER = "from_core_outwards: [bobbin 1 mm, primary, tape 3 layers, secondary, tape 3 layers]"
WIRE = "wire: triple-insulated, bare: 0.52 mm, outside: 0.72 mm"
PLUG = "  plug side:"
ENAMELLED = (WIRE, "wire: enamelled, bare: 0.52 mm, outside: 0.56 mm")
COUPLER = (
    ("circuit:", "  U2: {kind: optocoupler, rated: {insulation_thickness: 0.05 mm, voltage: 5000 Vac}}\ncircuit:"),
    ("bridging: {CY1:", "bridging: {U2: [bulk minus, main minus], CY1:"),
)
FAR = "clearance: 9 mm, creepage: 9 mm"
SHEET = "sheet: {thickness: 0.05 mm, fixed: glued}"
# Each thing as bad as it gets: what changes, whom a finding has to be about, and a word that it has to be about it.
THIN: dict[str, tuple[Sequence[tuple[str, str]], str, str]] = {
    "bobbin wall": ((ENAMELLED, ("tied_to: bulk minus", "tied_to: main minus"),
                     (ORDER, "from_core_outwards: [bobbin 0.2 mm, primary, tape 3 layers, secondary]")),
                    "T1", "bobbin"),
    "sheet": (((PLUG, f"  slot: {{between: [primary, secondary], {FAR}, {SHEET}}}\n{PLUG}"),),
              "slot", "sheet"),
    "coupler": (COUPLER, "over the body of U2", "coupler"),
    "tape": ((ENAMELLED, (ORDER, "from_core_outwards: [bobbin 1 mm, primary, tape 1 layer, secondary]")), "T1", "tape"),
    "sleeve": ((ENAMELLED, ("sleeve: 0.4 mm", "sleeve: 0.05 mm")), "T1", "sleeve"),
    "wire": (((WIRE, "wire: triple-insulated, bare: 0.52 mm, outside: 0.53 mm"),), "T1", "wire"),
    "lead on metal": (((PLUG, "  lead on the sink: {between: [primary, touchable], clearance: 0 mm, "
                        f"insulation_thickness: 0.05 mm}}\n{PLUG}"),), "lead on the sink", "solid"),
    "cable": ((("shared_ribbon: none", "shared_ribbon: from both sides"),), "supply", "ribbon"),
    "bridging capacitor": ((("class: Y1", "class: X2"),), "CY1", "bridging-part"),
}  # fmt: skip


@pytest.mark.parametrize("kind", THIN)
@pytest.mark.parametrize("family", FAMILIES)
def test_what_hardly_insulates_is_never_passed_over(family: str, kind: str) -> None:
    changes, subject, word = THIN[kind]
    sound, thin = judged(changed(), family), judged(changed(*changes), family)
    about = [one for one in thin.review.findings if str(one.subject) == subject and one.hazard == "shock"]
    heard = [one for one in about if one.verdict in ("fail", "not assessed") and one.blocks]
    assert heard, (family, kind)
    if kind != "wire":  # enamel under another name is heard by every rule that the wire stood for
        assert any(word in one.rule for one in heard), [one.rule for one in heard]
    before = {(one.rule, str(one.subject)) for one in sound.review.findings if one.verdict == "fail"}
    carried = [one for one in heard if one.verdict == "fail" and (one.rule, subject) not in before]
    told = [one for one in heard if "read" in one.message]
    assert carried or told, [one.message for one in heard]


@pytest.mark.parametrize("family", FAMILIES)
def test_triple_insulated_wire_is_no_pass_where_the_family_was_not_read_on_it(family: str) -> None:
    verdict = judged(changed(), family).verdict
    if family == "60664-1":
        assert verdict("basic-standard-winding-wire") == verdict("basic-standard-winding-tape-layers") == "not assessed"
    else:
        assert verdict(f"{PREFIX[family]}winding-tape-layers") == "pass"


def _lead(clearance: str, thickness: str, point: str = "touchable", more: str = "") -> tuple[str, str]:
    place = f"  lead: {{between: [primary, {point}], {clearance}insulation_thickness: {thickness}{more}}}"
    return PLUG, f"{place}\n{PLUG}"


def test_the_insulation_of_a_lead_that_lies_on_metal_stands_for_air() -> None:
    """Without any air, its insulation decides; with air beside it, or a way round it, that is judged as well."""
    touching = judged(changed(_lead("clearance: 0 mm, ", "0.5 mm")))
    assert touching.verdict("solid-insulation-thickness", "lead") == "pass"
    assert touching.verdict("barrier-clearance", "lead") == touching.verdict("barrier-creepage", "lead")
    assert touching.verdict("barrier-clearance", "lead") == "not applicable"
    assert judged(changed(_lead("clearance: 0 mm, ", "0.3 mm"))).verdict("solid-insulation-thickness", "lead") == "fail"
    for clearance, thickness, verdict in (
        ("clearance: 0.3 mm, ", "0.5 mm", "fail"),
        ("clearance: 0 mm, creepage: 2 mm, ", "0.5 mm", "fail"),
        ("clearance: 0 mm, ", "0 mm", "fail"),
        ("", "0.5 mm", "not assessed"),
    ):
        assert judged(changed(_lead(clearance, thickness))).verdict("barrier-clearance", "lead") == verdict
    bare = judged(changed((PLUG, f"  lead: {{between: [primary, touchable], clearance: 0 mm}}\n{PLUG}")))
    assert bare.verdict("barrier-clearance", "lead") == "fail"


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize(
    ("point", "protection", "word", "verdict"),
    [("touchable", "II", "basic", "fail"), ("touchable", "II", "reinforced", "pass"),
     ("touchable", "II", "functional", "fail"), ("earth", "I", "basic", "pass"), ("earth", "I", "functional", "fail"),
     ("earth", "II", "basic", "fail"), ("earth", "II", "reinforced", "pass"),
     ("secondary", "II", "supplementary", "fail")],
)  # fmt: skip
def test_basic_insulation_against_what_can_be_touched_fails(
    family: str, point: str, protection: str, word: str, verdict: str
) -> None:
    """Metal at earth is a second safeguard in class I alone: anywhere else it is metal that may be touched."""
    place = f"  box: {{between: [primary, {point}], clearance: 9 mm, creepage: 20 mm, insulation: {word}}}\n{PLUG}"
    stated = ("protection_class: II\n", f"protection_class: {protection}\n")
    result = judged(changed((PLUG, place), stated), family)
    assert result.verdict(f"{PREFIX[family]}insulation-as-stated", "box") == verdict
    assert result.verdict(f"{PREFIX[family]}insulation-as-stated", "gap under T1") == "not applicable"


def test_a_class_nobody_stated_leaves_open_whether_basic_is_enough() -> None:
    place = f"  box: {{between: [primary, secondary], clearance: 9 mm, creepage: 20 mm, insulation: basic}}\n{PLUG}"
    result = judged(changed((PLUG, place), ("  protection_class: II\n", "")))
    assert result.verdict("insulation-as-stated", "box") == "not assessed"


@pytest.mark.parametrize("family", ["60664-1", "60335-1"])
def test_clearance_of_a_fast_voltage_is_open_in_a_family_without_tables_for_it(family: str) -> None:
    """576 V peak up to 110 kHz are bounded by reports; beyond either the slow figure is the least, and no pass."""
    wide = ("clearance: 6.5 mm, creepage: 8.0 mm", "clearance: 40 mm, creepage: 40 mm")
    rule = f"{PREFIX[family]}barrier-clearance"
    for peak, frequency, verdict in (
        ("576 V", "110 kHz", "pass"),
        ("577 V", "65 kHz", "not assessed"),
        ("576 V", "111 kHz", "not assessed"),
        ("700 V", "30 kHz", "pass"),
        ("700 V", "31 kHz", "not assessed"),
    ):
        text = changed(wide, ("peak: {T1: 530 V}", f"peak: {{T1: {peak}}}"), ("65 kHz", frequency))
        found = judged(text, family).findings(rule)["gap under T1"]
        assert found.verdict == verdict, (peak, frequency)
        assert verdict == "pass" or f"nothing was read on voltages that recur above 30 kHz in {family}" in found.message
    short = ("clearance: 6.5 mm, creepage: 8.0 mm", "clearance: 2.9 mm, creepage: 40 mm")
    assert judged(changed(short, ("530 V", "577 V")), family).verdict(rule, "gap under T1") == "fail"
    unsaid = changed(wide, (", frequency: 65 kHz", ""))
    assert judged(unsaid, family).verdict(rule, "gap under T1") == "not assessed"


def test_household_above_2000_m_needs_at_least_what_it_needs_there() -> None:
    """No factor was read: 2.9 mm fail by what holds up to 2000 m, 40 mm are no pass, and the finding says why."""
    for height, clearance, verdict in (
        ("2000 m", "40 mm", "pass"), ("2001 m", "40 mm", "not assessed"), ("3000 m", "2.9 mm", "fail"),
    ):  # fmt: skip
        far = ("clearance: 6.5 mm, creepage: 8.0 mm", f"clearance: {clearance}, creepage: 40 mm")
        found = judged(changed(("up to 2000 m", f"up to {height}"), far), "60335-1").findings(
            "household-barrier-clearance"
        )
        assert found["gap under T1"].verdict == verdict, height
        told = "no factor for altitudes above 2000 m was read in 60335-1" in found["gap under T1"].message
        assert told == (verdict == "not assessed")


def test_household_between_two_readings_names_the_rows_of_both() -> None:
    text = changed(("clearance: 6.5 mm, creepage: 8.0 mm", "clearance: 5 mm, creepage: 40 mm"))
    found = judged(text, "60335-1").findings("household-barrier-clearance")["gap under T1"]
    assert found.verdict == "not assessed"
    assert "row 4000 V: 3 mm" in found.message and "1.6 times" in found.message and "plus 0.5 mm" in found.message


def test_a_class_or_a_wire_that_is_typed_alone_shows_nothing() -> None:
    """Y1 and the name of a wire stand on the part or its paper; a Y2 that is not enough is not enough however known."""
    typed = (("known_by: {parts: marked, transformers : drawing, ", "known_by: {"),)
    for change, provides in (((), "not assessed"), ((("class: Y1", "class: Y2"),), "fail")):
        result = judged(changed(*typed, *change))
        assert result.verdict("bridging-part-reinforced", "CY1") == provides
        assert result.verdict("winding-tape-layers") == "pass"  # three layers of tape
        assert result.verdict("winding-margins") == "not assessed"
    for mark in ("marked", "data sheet", "seen"):
        shown = judged(
            changed(*typed, ("class: Y1", f"class: Y1 ({mark})"), ("triple-insulated", "triple-insulated (drawing)"))
        )
        assert shown.verdict("bridging-part-reinforced", "CY1") == shown.verdict("winding-margins") == "pass"
    believed = judged(changed(*typed, ("class: Y1", "class: Y1 (assumed)")))
    assert believed.verdict("bridging-part-reinforced", "CY1") == "not assessed"


@pytest.mark.parametrize(
    ("standard", "thickness", "verdict"),
    [("", "0.3 mm", "fail"), ("", "0.4 mm", "pass"), ("standard: IEC 60747-5-5 (marked), ", "0.3 mm", "pass"),
     ("standard: IEC 60747-5-5 (data sheet), ", "unknown", "pass"),
     ("standard: IEC 60747-5-5, ", "0.3 mm", "not assessed"),
     ("standard: IEC 60127 (marked), ", "0.3 mm", "fail"), ("standard: IEC 60747-5-5, ", "0.4 mm", "pass")],
)  # fmt: skip
def test_a_thin_coupler_needs_the_mark_of_its_own_standard(standard: str, thickness: str, verdict: str) -> None:
    part = f"  U2: {{kind: optocoupler, {standard}rated: {{insulation_thickness: {thickness}, voltage: 5000 Vac}}}}"
    typed = ("known_by: {parts: marked, ", "known_by: {")
    result = judged(changed(typed, ("circuit:", f"{part}\ncircuit:"), COUPLER[1]))
    assert result.verdict("optocoupler-insulation-thickness", "over the body of U2") == verdict


def test_enamelled_windings_named_for_their_sides_fail_without_a_traced_circuit() -> None:
    """Nobody traced the circuit: windings named primary and secondary are what their names say."""
    bare = """\
derate: 1
supply:
  {name: x, basis: opened sample, topology: flyback, protection_class: II,
   plate: {mains: 240 V, outputs: {main: {voltage: 12 V, current: 1 A}}}}
parts: {C9: film capacitor}
circuit: {other: {C9: spare}}
transformers:
  T1:
    windings: {primary: {turns: 60, wire: enamelled}, secondary: {turns: 8, wire: enamelled}}
    from_core_outwards: [bobbin 1 mm, primary, secondary]
"""
    assert judged(bare).verdict("winding-tape-layers", "T1") == "fail"
    assert judged(bare.replace("secondary", "second")).verdict("winding-tape-layers", "T1") == "not assessed"


@pytest.mark.parametrize(
    ("rms", "word", "test"),
    [(240, "basic", 1250), (240, "supplementary", 1750), (250, "supplementary", 1750), (300, "supplementary", 1810),
     (300, "basic", 1310), (300, "reinforced", 3120)],
)  # fmt: skip
def test_household_supplementary_insulation_has_a_test_of_its_own(rms: int, word: str, test: int) -> None:
    found = needed_strength(family("60335-1"), Fraction(240), Fraction(2500), Fraction(340), Fraction(rms), word)
    assert float(found.value) == pytest.approx(test * 2**0.5)
