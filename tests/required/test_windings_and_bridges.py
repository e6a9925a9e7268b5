"""Transformer construction, bridging parts, touch current, charge at the plug, tests and looks, on whole designs."""

from __future__ import annotations

import math

import pytest
from small_barrier import BASE, changed, judged, supply

from derate.insulation.requirements import PRIMARY_TO_SECONDARY
from derate.insulation.transformer import insulation_thickness
from derate.ledger.entry import Subject
from derate.terms.values import Category

T1 = Subject("transformer", ("T1",))
ORDER = "from_core_outwards: [bobbin 1 mm, primary, tape 3 layers, secondary, tape 3 layers]"
ENAMELLED = (
    "wire: triple-insulated, bare: 0.52 mm, outside: 0.72 mm",
    "wire: enamelled, bare: 0.52 mm, outside: 0.56 mm",
)
SHIELD = "      inner-shield: {turns: 14, wire: enamelled, bare: 0.15 mm, tied_to: SIDE}\n    from_core_outwards: LIST"
LIST = "[bobbin 1 mm, primary, tape 1 layer, inner-shield, tape 2 layers, secondary, tape 3 layers]"


def _shielded(side: str, order: str = LIST) -> str:
    return changed(ENAMELLED, ("    " + ORDER, SHIELD.replace("SIDE", side).replace("LIST", order)))


def test_a_shield_counts_as_the_side_it_is_tied_to() -> None:
    """One layer, a shield, two layers: two with the shield on the primary, one on the secondary, two or three loose."""
    assert judged(_shielded("bulk minus")).ends(T1, "found.tape_layers") == (2.0, 2.0)
    assert judged(_shielded("main minus")).ends(T1, "found.tape_layers") == (1.0, 1.0)
    assert judged(_shielded("floating")).ends(T1, "found.tape_layers") == (2.0, 3.0)
    assert judged(_shielded("unknown")).verdict("winding-tape-layers") == "not assessed"


def test_layers_are_counted_on_every_path_and_the_weakest_is_named() -> None:
    order = "[bobbin 1 mm, primary, tape 3 layers, secondary, tape 2 layers, inner-shield, tape 1 layer]"
    result = judged(_shielded("bulk minus", order))
    assert result.ends(T1, "found.tape_layers") == (2.0, 2.0)
    assert result.word(T1, "found.tape_boundary") == "secondary to inner-shield"
    assert result.verdict("winding-three-layers") != "pass"
    assert result.verdict("winding-tape-layers") == "pass"  # two, each of which has to pass the whole test
    assert result.verdict("winding-tape-electric-strength") == "not assessed"
    assert judged(_shielded("bulk minus", order), "60335-1").verdict("household-winding-tape-layers") == "fail"


def test_a_short_tape_is_no_whole_layer() -> None:
    order = "from_core_outwards: [primary, tape 2 layers, tape 1 layer short by 0.5..1 mm, secondary, tape 3 layers]"
    result = judged(changed(ENAMELLED, (ORDER, order)))
    assert result.ends(T1, "found.tape_layers") == (2.0, 2.0)
    only = judged(
        changed(
            ENAMELLED, (ORDER, "from_core_outwards: [primary, tape 1 layer short by 1 mm, secondary, tape 3 layers]")
        )
    )
    assert only.ends(T1, "found.tape_layers") == (0.0, 0.0)
    assert only.verdict("winding-tape-layers") == "fail"


def test_a_range_of_layers_is_not_settled() -> None:
    result = judged(
        changed(ENAMELLED, (ORDER, "from_core_outwards: [primary, tape 1..2 layers, secondary, tape 3 layers]"))
    )
    assert result.verdict("winding-tape-layers") == "not assessed"
    uncounted = judged(
        changed(ENAMELLED, (ORDER, "from_core_outwards: [primary, tape unknown, secondary, tape 3 layers]"))
    )
    assert uncounted.verdict("winding-tape-layers") == "not assessed"


def test_insulated_wire_on_one_winding_serves_and_cures_no_pin_distance() -> None:
    assert judged().verdict("winding-margins") == "pass"
    assert judged(changed(ENAMELLED)).verdict("winding-margins") == "fail"
    unnamed = judged(changed(("wire: triple-insulated", "wire: insulated")))
    assert unnamed.verdict("winding-margins") == "not assessed"  # nobody says that it is triple-insulated
    short = judged(changed(("clearance: 6.5 mm, creepage: 8.0 mm", "clearance: 2 mm, creepage: 2 mm")))
    assert short.verdict("barrier-creepage", "gap under T1") == "fail"


def test_margins_are_half_the_creepage() -> None:
    result = judged(changed(ENAMELLED, ("margins: none", "margins: 3.0 mm")))
    assert result.ends(T1, "needed.margin") == (0.0015, 0.0029)  # the material of tape and bobbin is not known
    assert result.verdict("winding-margins") == "pass"
    assert judged(changed(ENAMELLED, ("margins: none", "margins: 1.4 mm"))).verdict("winding-margins") == "fail"
    assert judged(changed(ENAMELLED, ("margins: none", "margins: 2.8 mm"))).verdict("winding-margins") == "not assessed"
    assert judged(changed(ENAMELLED, ("    margins: none\n", ""))).verdict("winding-margins") == "not assessed"


def test_a_single_layer_test_speaks_for_the_tape() -> None:
    what = "electric strength, between: [LAYERS of tape, T1], voltage: VOLTS, time: 60 s, result: RESULT"
    test = f"  - {{test: {what}}}\ninspection:"

    def one(layers: str, volts: str, result: str) -> str:
        text = test.replace("LAYERS", layers).replace("VOLTS", volts).replace("RESULT", result)
        two = (ORDER, ORDER.replace("tape 3 layers, secondary", "tape 2 layers, secondary"))
        return judged(changed(ENAMELLED, two, ("inspection:", text))).verdict("winding-tape-electric-strength")

    assert one("one layer", "3000 Vac", "held") == "pass"
    assert one("one layer", "3000 Vdc", "held") == "fail"  # 3000 V dc is no 4000 V
    assert one("one layer", "4000 V", "held") == "not assessed"  # rms, peak or dc is not said
    assert one("one layer", "3000 Vac", "broke down") == "fail"
    assert one("two layers", "3000 Vac", "held") == "not assessed"  # only two are wound: each has to hold alone


def test_leads_that_fly_need_a_sleeve() -> None:
    bare = changed(ENAMELLED, ("sleeve: 0.4 mm", "sleeve: none"))
    assert judged(bare).verdict("winding-lead-sleeves") == "fail"
    on_pins = ("outside: 0.31 mm}", "outside: 0.31 mm, pins: [1, 2]}")
    assert judged(changed(ENAMELLED, on_pins)).verdict("winding-lead-sleeves") == "pass"
    assert judged(changed(ENAMELLED)).verdict("winding-lead-sleeves") == "not assessed"  # those of the primary
    assert (
        judged(changed(("sleeve: 0.4 mm", "sleeve: none"))).verdict("winding-lead-sleeves") == "pass"
    )  # the wire itself


# common practice, no source
def test_trade_fact_wire_of_two_diameters() -> None:
    """0.72 mm outside over 0.52 mm bare carries 0.10 mm, ten and more times the lacquer of enamelled wire."""
    assert insulation_thickness(0.52e-3, 0.72e-3) == 100
    assert judged().ends(T1, "found.wire_insulation") == (1e-4, 1e-4)
    lacquer = insulation_thickness(0.100e-3, 0.108e-3)  # least increase of grade 1, IEC 60317-0-1
    assert insulation_thickness(0.52e-3, 0.72e-3) >= 10 * lacquer
    with pytest.raises(ValueError):
        insulation_thickness(0.5e-3, 0.5e-3)


# common practice, no source
def test_trade_fact_three_layers_on_every_path() -> None:
    assert judged(changed(ENAMELLED)).verdict("winding-three-layers") == "pass"
    two = judged(changed(ENAMELLED, (ORDER, ORDER.replace("tape 3 layers, secondary", "tape 2 layers, secondary"))))
    assert two.verdict("winding-three-layers") in ("fail", "not assessed")


# common practice, no source
def test_trade_fact_a_bridging_capacitor_that_fails_short_puts_mains_on_the_output() -> None:
    finding = judged(changed(("class: Y1", "class: unmarked"))).findings("bridging-part-reinforced")["CY1"]
    assert finding.verdict == "fail" and finding.severity == "critical" and finding.blocks
    rule = judged().packs.rule("bridging-part-reinforced")
    assert rule is not None and "fails short puts the mains on the output" in rule.because


PAIR = "  CY2: {kind: ceramic capacitor, class: Y2, capacitance: 1 nF 20%, rated: {voltage: 300 Vac}}\ncircuit:"


@pytest.mark.parametrize(
    ("classes", "joined", "provides"),
    [
        (("Y1",), "", "reinforced"), (("Y2",), "", "basic"), (("X1",), "", "none"), (("X2",), "", "none"),
        (("unmarked",), "", "none"), (("Y2", "Y2"), " + ", "reinforced"), (("Y2", "X1"), " + ", "basic"),
        (("Y1", "Y2"), " || ", "basic"), (("Y1", "unmarked"), " || ", "none"),
        (("unmarked", "unmarked"), " + ", "none"),
    ],
)  # fmt: skip
def test_what_class_and_number_make(classes: tuple[str, ...], joined: str, provides: str) -> None:
    text = changed(("class: Y1", f"class: {classes[0]}"))
    if len(classes) == 2:
        text = text.replace("circuit:", PAIR.replace("class: Y2", f"class: {classes[1]}"))
        text = text.replace("{CY1: [bulk", "{CY1" + joined + "CY2: [bulk")
    subject = Subject("bridge", ("CY1", "CY2")[: len(classes)])
    result = judged(text)
    assert result.word(subject, "bridge.provides") == provides
    verdict = result.findings("bridging-part-reinforced")[str(subject)].verdict
    assert verdict == ("pass" if provides == "reinforced" else "fail")


@pytest.mark.parametrize("category", ("III", "unknown"))
def test_classes_were_read_for_category_two_only(category: str) -> None:
    text = changed(("overvoltage_category: II,", f"overvoltage_category: {category},"))
    assert judged(text).verdict("bridging-part-reinforced") == "not assessed"
    unmarked = text.replace("class: Y1", "class: unmarked")
    assert judged(unmarked).verdict("bridging-part-reinforced") == "fail"


def test_two_unlike_capacitors_in_series_are_one() -> None:
    text = changed(("class: Y1", "class: Y2"), ("circuit:", PAIR.replace("1 nF 20%", "2.2 nF 20%")),
                   ("{CY1: [bulk", "{CY1 + CY2: [bulk"))  # fmt: skip
    assert judged(text).word(Subject("bridge", ("CY1", "CY2")), "bridge.provides") == "basic"


def test_unstated_class_and_bridges_nobody_looked_for() -> None:
    assert judged(changed(("class: Y1, ", ""))).verdict("bridging-part-reinforced") == "not assessed"
    part = "  CY1: {kind: ceramic capacitor, class: Y1, capacitance: 1 nF 20%, rated: {voltage: 400 Vac}}\n"
    unseen = changed(
        (part, ""),
        ("  bridging: {CY1: [bulk minus, main minus]}\n", ""),
        ("[bulk minus, main minus]", "[primary, secondary]"),
    )
    assert judged(unseen).verdict("bridging-parts-looked-for") == "not assessed"
    weak = judged(changed(("rated: {voltage: 400 Vac}}\n", "rated: {voltage: 150 Vac}}\n")))
    assert weak.verdict("bridging-capacitor-voltage") == "fail"


def test_touch_current_at_the_maxima_and_by_where_it_is_tied() -> None:
    """1.2 nF and 0.5 nF of winding at 264 V and 63 Hz: rms 0.707 of it on a bulk rail, the peak unchanged."""
    result = judged()
    whole = 2 * math.pi * 63 * 264 * 1.7e-9
    rms, peak = supply(result, "touch_current").value, supply(result, "touch_current_peak").value
    assert rms.high == pytest.approx(whole / 2**0.5, rel=0.01)  # type: ignore[union-attr]
    assert peak.high == pytest.approx(whole * 2**0.5, rel=0.01)  # type: ignore[union-attr]
    line = judged(changed(("[bulk minus, main minus]", "[line, main minus]")))
    assert supply(line, "touch_current").value.high == pytest.approx(whole, rel=0.01)  # type: ignore[union-attr]
    assert judged(changed(("capacitance: 1 nF", "capacitance: 10 nF"))).verdict("touch-current-peak") == "fail"
    assert judged(changed(("capacitance: 1 nF", "capacitance: 10 nF"))).verdict("touch-current") == "fail"
    assert judged(changed(("mains_tolerance: 10%", "mains_tolerance: unknown"))).verdict("touch-current") in (
        "not assessed", "pass",
    )  # fmt: skip
    household = judged(changed(("capacitance: 1 nF", "capacitance: 2.2 nF")), "60335-1")
    # On a bulk rail the rms gets relief (0.23 mA at most); 0.35 mA peak lies inside what the winding leaves open.
    assert household.verdict("household-touch-current-peak") == "not assessed"
    assert household.verdict("household-touch-current") == "pass"
    on_line = judged(
        changed(("capacitance: 1 nF", "capacitance: 2.7 nF"), ("[bulk minus, main", "[line, main")), "60335-1"
    )
    assert on_line.verdict("household-touch-current") == "fail"


def test_a_measured_touch_current_above_the_computed_one_governs() -> None:
    more = "tests:\n  - {test: touch current, from: main, mains: 264 V, result: 0.9 mA}"
    assert judged(changed(("tests:", more))).verdict("touch-current") == "fail"


X = ("line: [F1, BR1,", "line: [F1, across CX1, across R1 + R2, BR1,")
XPARTS = "  CX1: film capacitor X2 VALUE 20% 310 Vac\n  R1, R2: film resistor OHM 5% 0.25 W 250 V\ncircuit:"


def _plug(value: str, ohm: str) -> str:
    return changed(X, ("circuit:", XPARTS.replace("VALUE", value).replace("OHM", ohm)))


def test_three_rules_for_the_charge_at_the_plug() -> None:
    """330 nF and 1.1 Mohm: RC 0.44 s at 20 % and 5 % more. Under 60 V in 2 s, under 1 s, and above 34 V in 1 s."""
    text = _plug("330 nF", "550 kohm")
    it, household = judged(text), judged(text, "60335-1")
    assert it.verdict("plug-voltage") == "pass"
    assert it.verdict("plug-time-constant") == "pass"
    assert household.verdict("household-plug-voltage") == "fail"
    assert it.verdict("plug-voltage-one-open") == "fail"  # both stand in one series path
    heavy = _plug("1 uF", "1 Mohm")
    assert judged(heavy).verdict("plug-voltage") == "fail" and judged(heavy).verdict("plug-time-constant") == "fail"
    none = judged(
        changed(
            ("line: [F1, BR1,", "line: [F1, across CX1, BR1,"),
            ("circuit:", "  CX1: film capacitor X2 330 nF 20% 310 Vac\ncircuit:"),
        )
    )
    assert none.verdict("plug-voltage") == "fail"
    assert judged().verdict("plug-voltage") == "not applicable"
    small = judged(_plug("47 nF", "10 Mohm"), "60335-1")
    assert small.verdict("household-plug-voltage") == "not applicable"


def test_a_parallel_path_keeps_the_plug_within_a_single_fault() -> None:
    text = changed(("line: [F1, BR1,", "line: [F1, across CX1, across R1, across R2, BR1,"),
                   ("circuit:", XPARTS.replace("VALUE", "220 nF").replace("OHM", "1 Mohm")))  # fmt: skip
    assert judged(text).verdict("plug-voltage-one-open") == "pass"


@pytest.mark.parametrize(
    ("test", "voltage", "held"),
    [
        ("voltage: 3000 Vac, time: 60 s, result: held", "pass", "pass"),
        ("voltage: 4000 Vdc, time: 60 s, result: held", "pass", "pass"),
        ("voltage: 3000 Vdc, time: 60 s, result: held", "fail", "pass"),
        ("voltage: 2000 Vac, time: 60 s, result: held", "fail", "pass"),
        ("voltage: 3000 V, time: 60 s, result: held", "not assessed", "pass"),
        ("voltage: 3000 Vac, time: 60 s, result: broke down", "pass", "fail"),
        ("result: not done", "not assessed", "not assessed"),
    ],
)
def test_electric_strength_never_confuses_rms_peak_and_dc(test: str, voltage: str, held: str) -> None:
    result = judged(changed(("voltage: 3000 Vac, time: 60 s, result: held", test)))
    assert result.verdict("electric-strength-voltage") == voltage
    assert result.verdict("electric-strength-held") == held


@pytest.mark.parametrize(
    ("peak", "frequency", "needed"),
    [("530 V", "65 kHz", (4000, 4000)), ("900 V", "65 kHz", (4696, 4696)), ("568 V", "106.5 kHz", (4010, 4010)),
     ("530 V", "130 kHz", (4000, math.inf))],
)  # fmt: skip
def test_tape_above_30_khz_may_need_more(peak: str, frequency: str, needed: tuple[float, float]) -> None:
    """568 V at 106.5 kHz comes to 4010 V, as a report to IEC 62368-1:2018 prints it; beyond its frequency nothing was
    read."""
    result = judged(changed(("{T1: 530 V}", f"{{T1: {peak}}}"), ("frequency: 65 kHz", f"frequency: {frequency}")))
    assert result.ends(PRIMARY_TO_SECONDARY, "needed.electric_strength") == needed


def test_household_strength_takes_no_dc_test() -> None:
    dc = judged(changed(("3000 Vac", "4300 Vdc")), "60335-1")
    assert dc.verdict("household-electric-strength-voltage") == "not assessed"


@pytest.mark.parametrize("volts", ("500 Vdc", "1000 Vdc"))
def test_an_insulation_reading_is_refused_as_proof_and_says_why(volts: str) -> None:
    reading = f"{{test: insulation resistance, between: [primary, secondary], voltage: {volts}, result: over 500 Mohm}}"
    text = changed(
        (
            "{test: electric strength, between: [primary, secondary], voltage: 3000 Vac, time: 60 s, result: held}",
            reading,
        )
    )
    result = judged(text)
    finding = result.findings("electric-strength-voltage")["primary – secondary"]
    assert finding.verdict == "not assessed"
    assert "no electric-strength test" in finding.message and "half a millimetre of air holds 1 kV" in finding.message
    assert result.row(PRIMARY_TO_SECONDARY, "insulation_reading.voltage").note == "supporting evidence only"


def test_a_held_test_lifts_no_distance_verdict() -> None:
    short = ("clearance: 6.5 mm, creepage: 8.0 mm", "clearance: 0.5 mm, creepage: 0.5 mm")
    held = judged(changed(short, ("3000 Vac", "5000 Vac")))
    assert held.verdict("electric-strength-voltage") == "pass"
    assert held.verdict("barrier-clearance", "gap under T1") == "fail"


@pytest.mark.parametrize(
    ("change", "rule", "verdict"),
    [
        (("solder_blobs: none", "solder_blobs: at the barrier"), "no-solder-blobs", "fail"),
        (("solder_blobs: none, ", ""), "no-solder-blobs", "not assessed"),
        (("solder_blobs: none", "solder_blobs: no"), "no-solder-blobs", "pass"),
        (("copper_under_sheet: none", "copper_under_sheet: one via"), "no-copper-under-barrier", "fail"),
        (("opens_by_hand: no", "opens_by_hand: yes"), "case-stays-shut", "fail"),
        (("opens_by_hand: no, ", ""), "case-stays-shut", "not assessed"),
        (("enclosure_flame_class: V-0", "enclosure_flame_class: none"), "enclosure-flame-class", "fail"),
        (("marks: [double square, maker]", "marks: [maker]"), "double-square", "fail"),
        (("    marks: [double square, maker]\n", ""), "double-square", "not assessed"),
        (("topology: flyback", "topology: flyback"), "case-stays-shut", "pass"),
        (("topology: flyback", "topology: flyback"), "no-copper-under-barrier", "pass"),
        (("shared_ribbon: none", "shared_ribbon: display ribbon"), "no-shared-ribbon", "fail"),
        (("altitude: up to 2000 m, ", ""), "site-stated", "not assessed"),
    ],
)
def test_found_absent_or_not_looked_at(change: tuple[str, str], rule: str, verdict: str) -> None:
    assert judged(changed(change)).verdict(rule) == verdict


def test_a_supply_without_isolation_has_no_barrier_but_its_case() -> None:
    joined = changed(("topology: flyback", "topology: power-factor stage"))
    result = judged(joined)
    assert result.verdict("barrier-clearance", "gap under T1") == "not applicable"
    assert (
        result.verdict("barrier-clearance", "supply") == "not assessed"
    )  # no path to what can be touched is described
    assert result.verdict("non-isolated-output-enclosed") == "not assessed"
    open_ = joined.replace("solder_blobs: none", "touchable_output: screw terminal, solder_blobs: none")
    assert judged(open_).verdict("non-isolated-output-enclosed") == "fail"
    case = "  plug side:"
    near = joined.replace(
        case, "  terminal to case: {between: [secondary, touchable], clearance: 2 mm, creepage: 2 mm}\n" + case
    )
    assert judged(near).verdict("barrier-clearance", "terminal to case") == "fail"


def test_pin_edge_of_a_plug_in_supply() -> None:
    plug = ("parts_list: complete", "parts_list: complete\n  connection: plug-in")
    for figure, verdict in (("7.2 mm", "fail"), ("10 mm", "pass")):
        text = changed(plug, ("solder_blobs: none", f"pin edge to face edge: {figure}, solder_blobs: none"))
        assert judged(text).verdict("plug-pin-edge") == verdict
    assert judged(changed(plug)).verdict("plug-pin-edge") == "not assessed"


def test_the_base_is_what_the_tests_take_it_for() -> None:
    assert judged(BASE).row(T1, "transformer.barrier_wire").value == Category.of("triple-insulated")
