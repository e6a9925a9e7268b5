"""Requirement rows of whole designs: needed insulation, distances, what is not known, derivations redone by hand."""

from __future__ import annotations

import math
import re

import pytest
from insulation_bench import PACKS
from small_barrier import BASE, changed, judged, supply

from derate.insulation.requirements import PRIMARY_TO_SECONDARY
from derate.insulation.row import TableRow
from derate.ledger.entry import SUPPLY, Subject
from derate.report.ledger import derivation_lines

GAP = "gap under T1"
T1 = Subject("transformer", ("T1",))
MM = 1e-3


def test_the_sound_supply_passes_every_critical_shock_rule() -> None:
    found = [one for one in judged().review.findings if one.hazard == "shock" and one.severity == "critical"]
    assert {one.verdict for one in found} <= {"pass", "not applicable"} and len(found) >= 15


def test_transformer_voltage_is_used_where_it_was_read() -> None:
    """530 V peak and 281 V rms, as a report to 60950-1 printed for such a winding: 5.8 mm creepage."""
    result = judged()
    assert result.ends(GAP, "insulation.working_voltage") == (281.0, 281.0)
    assert result.ends(GAP, "needed.creepage") == (0.0058, 0.0058)
    assert result.ends(GAP, "needed.clearance") == (0.003, 0.003)
    row = result.row(GAP, "needed.clearance")
    assert isinstance(row, TableRow) and row.confidence in ("published", "one source")


def test_families_show_both_on_one_barrier() -> None:
    """281 V rms lies between rows: 62368-1 and 60664-1 read between them, 60335-1 takes the whole band up to 400 V."""
    needed = {name: judged(BASE, name).ends(GAP, "needed.creepage") for name in PACKS}
    assert needed["62368-1"] == (0.0058, 0.0058)
    assert needed["60664-1"] == (0.0058, 0.0058)
    assert needed["60335-1"] == (0.008, 0.008)
    assert judged(BASE, "62368-1").verdict("barrier-creepage", "pads of CY1") == "pass"
    assert judged(BASE, "60335-1").verdict("household-barrier-creepage", "pads of CY1") == "fail"


def test_without_a_working_voltage_only_a_fail_can_be_shown() -> None:
    text = re.sub(r"readings:\n.*\n", "", BASE)
    result = judged(text)
    near, far = result.ends(GAP, "needed.creepage")
    assert near == 0.005 and far == math.inf  # the mains itself is a floor: the row of 250 V, doubled
    assert result.verdict("barrier-creepage", GAP) == "not assessed"
    assert result.verdict("barrier-clearance", GAP) == "not assessed"
    short = judged(text.replace("creepage: 8.0 mm", "creepage: 2.1 mm"))
    assert short.verdict("barrier-creepage", GAP) == "fail"
    # A reading below the top of the mains is a floor as well.
    low = judged(changed(("mains: 264 V, load: full}, working", "mains: 230 V, load: full}, working")))
    assert low.ends(GAP, "insulation.working_voltage") == (281.0, math.inf)
    assert low.verdict("barrier-creepage", GAP) == "not assessed"


def test_computed_working_voltage_counts_and_the_larger_governs() -> None:
    from derate.design.facts import facts
    from derate.design.load import read_design
    from derate.insulation.requirements import Context, require
    from derate.packs.load import load_packs
    from derate.run import run
    from derate.terms.values import Value

    packs, design = load_packs([PACKS["62368-1"]]), read_design(BASE, "bench.derate.yaml")
    ledger = run(design.structure, facts(design), {}, design.readings)
    pair = Subject("winding pair", ("T1.primary", "T1.secondary"))
    ledger.write(pair, "working_voltage", Value.exact(353.0))
    ledger.write(pair, "working_voltage_peak", Value.exact(500.0))
    require(Context(ledger, design, packs))
    row = ledger.find(Subject("barrier", (GAP,)), "insulation.working_voltage")
    peak = ledger.find(Subject("barrier", (GAP,)), "insulation.working_voltage_peak")
    assert row is not None and row.value == Value.exact(353.0)
    assert peak is not None and peak.value == Value.exact(530.0)  # the reading is above the computation


@pytest.mark.parametrize(
    ("change", "clearance", "verdict"),
    [
        (("protection_class: II", "protection_class: unknown"), "2.0 mm", "not assessed"),
        (("protection_class: II", "protection_class: unknown"), "1.4 mm", "fail"),
        (("altitude: up to 2000 m", "altitude: unknown"), "9 mm", "not assessed"),
        (("altitude: up to 2000 m", "altitude: unknown"), "2.9 mm", "fail"),
        (("overvoltage_category: II,", "overvoltage_category: unknown,"), "4.6 mm", "not assessed"),
        (("overvoltage_category: II,", "overvoltage_category: unknown,"), "9 mm", "pass"),
        (("name: Bench supply", "name: Bench supply"), "2.9..3.5 mm", "not assessed"),
        (("name: Bench supply", "name: Bench supply"), "2.9 mm", "fail"),
        (("altitude: up to 2000 m", "altitude: up to 5000 m"), "4.6 mm", "pass"),
        (("altitude: up to 2000 m", "altitude: up to 5000 m"), "4.4 mm", "fail"),
    ],
)
def test_what_is_not_known_widens_what_is_needed(change: tuple[str, str], clearance: str, verdict: str) -> None:
    text = changed(change, ("clearance: 6.5 mm, creepage: 8.0 mm", f"clearance: {clearance}, creepage: 8.0 mm"))
    assert judged(text).verdict("barrier-clearance", GAP) == verdict


def test_unknown_material_is_every_material() -> None:
    text = changed(("creepage: 8.0 mm, board: {material_group: IIIb}", "creepage: 4.0 mm"))
    result = judged(text)
    assert result.ends(GAP, "needed.creepage") == (0.003, 0.0058)  # group I, held up by the clearance, to III
    assert result.verdict("barrier-creepage", GAP) == "not assessed"
    assert judged(text.replace("creepage: 4.0 mm", "creepage: 2.9 mm")).verdict("barrier-creepage", GAP) == "fail"


def test_class_one_is_basic_only_with_a_proved_earth_joint() -> None:
    earth = "  earth: {joined_to: [main minus], resistance: RES}\ntransformers:"
    base = changed(("protection_class: II", "protection_class: I"), ("transformers:", earth))
    for resistance, word, verdict in (
        ("0.04 ohm", "basic", "pass"), ("unknown", "basic or reinforced", "not assessed"),
        ("0.4 ohm", "reinforced", "fail"),
    ):  # fmt: skip
        result = judged(base.replace("RES", resistance))
        assert result.word(GAP, "needed.insulation") == word
        assert result.verdict("earth-continuity") == verdict
    floating = judged(
        changed(("protection_class: II", "protection_class: I"), ("transformers:", "  earth: none\ntransformers:"))
    )
    assert floating.word(GAP, "needed.insulation") == "reinforced"


def test_roles_of_places() -> None:
    result = judged()
    roles = {name: result.word(name, "barrier.role") for name in (GAP, "plug side", "over F1", "core to leads")}
    assert roles == {
        GAP: "primary to secondary", "plug side": "mains poles ahead of the fuse", "over F1": "across the fuse",
        "core to leads": "primary to secondary",
    }  # fmt: skip
    assert result.ends("plug side", "needed.creepage") == (0.0025, 0.0025)
    assert result.ends("plug side", "needed.clearance") == (0.0015, 0.0015)
    household = judged(BASE, "60335-1")
    assert household.word("plug side", "needed.insulation") == "functional"
    assert household.ends("plug side", "needed.creepage") == (0.002, 0.002)


def test_a_core_nobody_placed_keeps_the_gate_shut() -> None:
    result = judged(changed(("core: {tied_to: bulk minus}", "core: {shape: EE 16}")))
    assert result.verdict("barrier-clearance", "core to leads") == "not assessed"
    assert result.verdict("core-side-named") == "not assessed"


def test_two_legs_over_a_floating_core_are_one_path() -> None:
    more = "  pins to core: {between: [primary, core], clearance: 1.0 mm, creepage: 1.2 mm}\n  plug side:"
    text = changed(("core: {tied_to: bulk minus}", "core: {tied_to: floating}"), ("  plug side:", more),
                   ("clearance: 6 mm, creepage: 7 mm", "clearance: 1.5 mm, creepage: 3 mm"))  # fmt: skip
    result = judged(text)
    path = "core to leads and pins to core, over the core"
    assert result.ends(path, "found.clearance") == (0.0025, 0.0025)
    assert result.ends(path, "found.creepage") == (0.0042, 0.0042)
    assert result.verdict("barrier-clearance", path) == "fail"
    assert result.word(PRIMARY_TO_SECONDARY, "found.path") == path
    assert result.verdict("barrier-clearance", "core to leads") == "not applicable"


def test_slots_and_sheets_count_only_when_they_may() -> None:
    slot = "clearance: 4 mm, creepage: 8.0 mm, slot: {width: WIDTH}"
    base = changed(("clearance: 6.5 mm, creepage: 8.0 mm", slot))
    assert judged(base.replace("WIDTH", "1.0 mm")).verdict("barrier-creepage", GAP) == "pass"
    narrow = judged(base.replace("WIDTH", "0.8 mm"))
    assert narrow.ends(GAP, "found.creepage") == (0.004, 0.008)
    assert narrow.verdict("barrier-creepage", GAP) == "not assessed"
    for fixed, verdict in (("glued", "pass"), ("loose", "not assessed"), ("unknown", "not assessed")):
        sheet = f"clearance: 4 mm, creepage: 8.0 mm, sheet: {{thickness: 0.5 mm, fixed: {fixed}}}"
        result = judged(changed(("clearance: 6.5 mm, creepage: 8.0 mm", sheet)))
        assert result.verdict("barrier-creepage", GAP) == verdict
    thin = "clearance: 6.5 mm, creepage: 8.0 mm, sheet: {thickness: 0.3 mm, fixed: glued}"
    assert (
        judged(changed(("clearance: 6.5 mm, creepage: 8.0 mm", thin))).verdict("barrier-sheet-thickness", GAP) == "fail"
    )


def test_floating_metal_is_taken_off_the_path() -> None:
    legs = "clearance: 6.5 mm, legs: [2.5 mm, floating copper 1.5 mm, 4.0 mm]"
    result = judged(changed(("clearance: 6.5 mm, creepage: 8.0 mm", legs)))
    assert result.ends(GAP, "found.creepage") == (0.0065, 0.0065)
    assert "floating copper 1.5 mm counts nothing" in result.row(GAP, "found.creepage").formula
    bound = "clearance: 6.5 mm, legs: [pin to slot under 1 mm, along the board 2..3 mm]"
    assert judged(changed(("clearance: 6.5 mm, creepage: 8.0 mm", bound))).ends(GAP, "found.creepage") == (0.002, 0.004)
    lost = "clearance: 6.5 mm, legs: [2.5 mm, unknown]"
    assert (
        judged(changed(("clearance: 6.5 mm, creepage: 8.0 mm", lost))).verdict("barrier-creepage", GAP)
        == "not assessed"
    )


def test_the_body_of_an_optocoupler_is_a_path_of_its_own() -> None:
    part = (
        "  U2: {kind: optocoupler, rated: {clearance: 7 mm, creepage: CREEP, insulation_thickness: 0.4 mm}}\ncircuit:"
    )
    base = changed(
        ("circuit:", part),
        ("CY1: [bulk minus, main minus]}", "CY1: [bulk minus, main minus], U2: [primary, secondary]}"),
    )
    wide = judged(base.replace("CREEP", "8 mm"))
    assert wide.verdict("barrier-creepage", "over the body of U2") == "pass"
    assert wide.verdict("optocoupler-insulation-thickness") == "pass"
    assert judged(base.replace("CREEP", "4 mm")).verdict("barrier-creepage", "over the body of U2") != "pass"
    assert (
        judged(base.replace("creepage: CREEP, ", "")).verdict("barrier-creepage", "over the body of U2")
        == "not assessed"
    )
    assert wide.verdict("bridging-part-pads", "U2") == "not assessed"  # no barrier names it


def test_two_families_in_one_run_never_mix() -> None:
    result = judged(BASE, "62368-1", "60335-1")
    assert result.row(GAP, "needed.creepage").value is None
    assert "several families" in result.row(GAP, "needed.creepage").note
    assert result.ends(GAP, "needed.creepage in 62368-1") == (0.0058, 0.0058)
    assert result.ends(GAP, "needed.creepage in 60335-1") == (0.008, 0.008)
    assert result.verdict("barrier-creepage", "pads of CY1") == "pass"
    assert result.verdict("household-barrier-creepage", "pads of CY1") == "fail"
    assert {one.family for one in result.review.families} == {"62368-1", "60335-1"}


def test_every_row_names_its_inputs_and_they_come_before_it() -> None:
    for family in PACKS:
        result = judged(BASE, family)
        for entry in result.ledger.entries:
            assert all(0 < number < entry.number for number in entry.inputs)
            if entry.quantity.startswith("needed.c") and entry.value is not None:
                assert entry.inputs and entry.formula and entry.source


# ---- a reader redoes three derivations from nothing but the printed text ------------------------------------------


def _printed(result: object, subject: str, name: str) -> str:
    entry = result.row(subject, name)  # type: ignore[attr-defined]
    return "\n".join(derivation_lines(result.ledger, entry.number))  # type: ignore[attr-defined]


def _one(pattern: str, text: str) -> tuple[float, ...]:
    found = re.search(pattern, text)
    assert found is not None, f"{pattern} is not in:\n{text}"
    return tuple(float(one) for one in found.groups())


def test_redo_creepage_by_hand() -> None:
    text = _printed(judged(), GAP, "needed.creepage")
    low, mm_low, high, mm_high = _one(r"between row ([\d.]+) V: ([\d.]+) mm and row ([\d.]+) V: ([\d.]+) mm", text)
    (volts,) = _one(r"rms working voltage used = ([\d.]+) V", text)
    exact = mm_low + (mm_high - mm_low) * (volts - low) / (high - low)
    printed, up = _one(r"column PD2 III: ([\d.]+) mm, up to ([\d.]+) mm", text.replace("; ", ": "))
    assert exact == pytest.approx(printed, abs=1e-9)
    assert math.ceil(exact * 10 - 1e-9) / 10 == up
    (last,) = _one(r"creepage needed = ([\d.]+) mm", text)
    assert 2 * up == pytest.approx(last)
    assert last == 5.8


def test_redo_clearance_at_altitude_by_hand() -> None:
    result = judged(changed(("altitude: up to 2000 m", "altitude: up to 5000 m")))
    text = _printed(result, GAP, "needed.clearance")
    mains, impulse = _one(r"row ([\d.]+) V: ([\d.]+) V in category II", text)
    assert _one(r"at ([\d.]+) V mains", text)[0] <= mains
    row, distance = _one(r"clearance by impulse: row ([\d.]+) V: ([\d.]+) mm", text)
    assert row == impulse
    (factor,) = _one(r"row 5000 m: ([\d.]+)", text)
    (last,) = _one(r"clearance needed = ([\d.]+) mm", text)
    assert math.ceil(distance * factor * 10 - 1e-9) / 10 == last == 4.5


def test_redo_household_impulse_by_hand() -> None:
    text = _printed(judged(BASE, "60335-1"), GAP, "needed.clearance")
    rated, peak, crest, raised = _one(r"([\d.]+) V \+ \(([\d.]+) V - ([\d.]+) V\) = ([\d.]+) V", text)
    assert rated + peak - crest == pytest.approx(raised, abs=0.01)
    assert crest == pytest.approx(1.414 * 240, abs=0.2)
    above, step = _one(r"next step above ([\d.]+) V is ([\d.]+) V", text)
    assert above == raised and step == 4000
    (near,) = _one(r"row 4000 V: ([\d.]+) mm", text)
    assert near == 3.0 == judged(BASE, "60335-1").ends(GAP, "needed.clearance")[0] * 1000


def test_supply_rows_are_there_once() -> None:
    result = judged()
    assert supply(result, "needed.impulse").value.near == 2500.0  # type: ignore[union-attr]
    assert result.ledger.find(SUPPLY, "needed.temporary_overvoltage") is not None
