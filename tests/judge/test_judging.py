"""A whole review: overall words, waivers, open points, known findings, families, packs left out, levels, cures."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from math import inf
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from synthetic import C1, C2, CP, F1, FILE, PACKS, TODAY, WP, B, Row, W, ledgers, reviewed

from derate.judge.acknowledge import Known, OpenPoint, Signed, Waiver, is_about, read_record, record
from derate.judge.judge import judge
from derate.judge.review import Finding, Review
from derate.judge.trials import run_design_trial
from derate.judge.verdict import blocks
from derate.ledger.entry import SUPPLY, OpenFact, Subject
from derate.ledger.ledger import Ledger
from derate.packs.load import Packs, read_packs
from derate.packs.trial import DesignTrial
from derate.study.work import Workshop, review_of, worked
from derate.terms.values import Category, Curve, Place, ReadingError, Value
from derate.terms.vocabulary import DIMENSIONS
from derate.terms.words import LEVELS

V = Value.exact
SOUND = {
    (F1, "part.place"): Category.of("mains path"),
    (F1, "rated.breaking_capacity"): V(1500),
    (F1, "rated.melting_i2t"): V(10),
    (C1, "rated.voltage"): V(450),
    (C1, "part.place"): Category.of("mains path"),
    (C1, "part.capacitance"): Value.spread(4.7e-6, 3.76e-6, 5.64e-6),
    (C1, "found.capacitance"): V(4.6e-6),
    (C2, "part.place"): Category.of("across the barrier"),
    (C2, "part.class"): Category.of("Y1"),
    (C2, "rated.voltage"): V(500),
    (W, "found.tape_layers"): V(3),
    (W, "winding.wire"): Category.of("enamelled"),
    (WP, "found.tape_layers"): V(3),
    (B, "found.creepage"): V(6e-3),
    (B, "barrier.material_group"): Category.of("IIIa"),
    (CP, "test.voltage"): V(3000),
    (CP, "test.result"): Category.of("held"),
    (SUPPLY, "site.switch_ons"): V(10_000),
    (SUPPLY, "supply.topology"): Category.of("flyback"),
    (SUPPLY, "supply.parts_list"): Category.of("complete"),
    (SUPPLY, "circuit.clamp"): Category.of("zener"),
    (SUPPLY, "control.frequency"): V(65e3),
    (SUPPLY, "plate.power"): V(18),
    (SUPPLY, "plate.mains_current"): V(0.5),
}
STRESSES = {
    (F1, "prospective_current"): V(1000),
    (F1, "i2t"): V(0.2),
    (C1, "voltage_peak"): V(380),
    (C1, "life"): V(30_000 * 3600),
    (C2, "voltage_peak"): V(380),
    (B, "working_voltage"): V(230),
}
RESTATED = "restate:\n  tape-layers: {source: drawing 12, confidence: published}\n"


def house(text: str, **more: str) -> Packs:
    """The worked pack under a house pack."""
    head = "pack: house\ntitle: t\ncovers: c\nbuilds_on: [worked]\n"
    return read_packs({"worked.yaml": FILE.read_text(encoding="utf-8"), "house.yaml": head + text} | more)


FIRM = house(RESTATED)


def sound(changes: Any = (), packs: Packs = FIRM, **options: Any) -> Review:
    """The sound supply with some facts changed (None takes one out)."""
    facts, stresses = dict(SOUND), dict(STRESSES)
    for key, value in dict(changes).items():
        where = stresses if key in stresses else facts
        where.pop(key, None)
        if value is not None:
            where[key] = value
    rows = [Row(s, n, value) for (s, n), value in facts.items()]
    rows += [Row(s, n, value, case) for (s, n), value in stresses.items() for case in (0, 1)]
    return reviewed(rows, packs, **options)


def one(review: Review, rule: str) -> Finding:
    """The one finding of a rule."""
    (found,) = (finding for finding in review.findings if finding.rule == rule)
    return found


NOT_JUDGED = "no critical or major rule gave a verdict"


def words(review: Review) -> dict[str, tuple[str, str]]:
    """Word and reason by hazard."""
    return {word.hazard: (word.word, word.why) for word in review.hazards}


def test_a_sound_supply_passes_and_blocks_nothing() -> None:
    review = sound()
    assert not review.blocks
    assert words(review) == {
        **dict.fromkeys(("fire", "shock", "overstress", "life"), ("pass", "")),
        **dict.fromkeys(("interference", "rating"), ("not judged", NOT_JUDGED)),
    }
    assert review.overall == "not judged"  # what nobody looked at is no pass
    assert {finding.verdict for finding in review.findings} == {"pass", "not applicable"}
    assert review.packs == ("worked", "house")


def test_the_worst_finding_names_its_hazard() -> None:
    review = sound({(C1, "rated.voltage"): V(400), (F1, "rated.breaking_capacity"): None})
    assert words(review)["overstress"] == ("fail", "capacitor-voltage")
    assert words(review)["fire"] == ("not assessed", "fuse-breaking-capacity")
    assert words(review)["shock"] == ("pass", "")
    assert review.overall == "fail"
    assert review.blocks


def test_marginal_does_not_block() -> None:
    review = sound({(F1, "prospective_current"): V(1400)})
    assert words(review)["fire"] == ("marginal", "fuse-breaking-capacity")
    assert not review.blocks
    assert review.overall == "not judged"


def test_a_remembered_limit_leaves_its_hazard_open_until_it_is_restated() -> None:
    review = sound(packs=PACKS)
    assert words(review)["shock"] == ("not assessed", "1 limit to confirm")
    found = one(review, "tape-layers")
    assert (found.verdict, found.confidence) == ("pass", "remembered")
    assert found.source == "remembered figure for Invented fuse guide, third: confirm"
    assert words(sound())["shock"] == ("pass", "")
    assert any("house: tape-layers restated" in note for note in sound().notes)


def test_a_critical_pass_that_rests_on_an_assumption_is_not_assessed() -> None:
    rows = [Row(s, n, v, None, n == "rated.breaking_capacity") for (s, n), v in SOUND.items()]
    rows += [Row(s, n, v, 0) for (s, n), v in STRESSES.items()] + [Row(s, n, v, 1) for (s, n), v in STRESSES.items()]
    found = one(reviewed(rows, FIRM), "fuse-breaking-capacity")
    assert (found.verdict, found.rests_on, found.blocks) == ("not assessed", ("F1: rated.breaking_capacity",), True)
    assert "rests on greatest current it can break (F1), assumed" in found.message


def test_a_rule_that_an_assumed_fact_keeps_away_is_not_assessed_when_critical() -> None:
    rows = [Row(F1, "part.place", Category.of("output"), None, True)]
    found = one(reviewed(rows), "fuse-breaking-capacity")
    assert found.verdict == "not assessed"
    assert "that is assumed" in found.message
    rows = [Row(F1, "part.place", Category.of("output"))]
    assert one(reviewed(rows), "fuse-breaking-capacity").verdict == "not applicable"


def test_a_missing_case_is_not_assessed() -> None:
    review = judge(Ledger(), PACKS, path="x", name="x", today=TODAY)
    assert review.overall == "not assessed"
    ledger = Ledger()
    ledger.write(F1, "part.kind", Category.of("fuse"))
    ledger.write(F1, "part.place", Category.of("mains path"))
    found = one(judge(ledger, PACKS, path="x", name="x", today=TODAY), "fuse-breaking-capacity")
    assert found.verdict == "not assessed"
    assert "this design has no case to hold it in (running)" in found.message


def test_one_case_without_its_row_is_not_assessed() -> None:
    rows = [Row(s, n, v) for (s, n), v in SOUND.items()] + [Row(s, n, v, 0) for (s, n), v in STRESSES.items()]
    found = one(reviewed(rows, FIRM), "fuse-breaking-capacity")
    assert found.verdict == "not assessed"
    assert found.missing == ("F1: prospective_current",)
    assert found.case is not None and found.case.mains == 231.0


def test_a_hole_names_what_is_missing_and_why() -> None:
    ledger = Ledger()
    ledger.write(WP, "winding.turns", V(1))
    lacking = (OpenFact(None, "T1: list of layers"),)
    ledger.hole(WP, "found.tape_layers", lacking, note="the list ends in a question mark")
    found = one(judge(ledger, PACKS, path="x", name="x", today=TODAY), "tape-layers")
    assert found.missing == ("T1: list of layers",)
    assert "the list ends in a question mark" in found.message
    assert found.remedy == "count them as it is unwound (on a spare, which never goes back into use)"


def test_the_largest_ratio_governs() -> None:
    rows = [Row(s, n, v) for (s, n), v in SOUND.items()]
    rows += [Row(F1, "prospective_current", V(2000), 0), Row(F1, "prospective_current", V(3000), 1)]
    found = one(reviewed(rows, FIRM), "fuse-breaking-capacity")
    assert found.ratio == pytest.approx(2.0)
    assert found.case is not None and found.case.mains == 231.0
    assert found.stress == V(3000) and found.limit == V(1500) and found.unit == "A"


def test_the_cure_passes_and_is_no_larger_than_it_must_be() -> None:
    guarded = house(RESTATED + "tighten: {capacitor-voltage: {guard: 0.9}}")
    found = one_of(sound({(C1, "rated.voltage"): V(400)}, guarded))
    # 380 V at nine tenths of a limit of nine tenths: 380 / 0.81 = 469.1 V
    assert found.remedy.startswith("choose a capacitor rated 470 V or more")
    assert sound(
        {(C1, "rated.voltage"): V(470)}, house(RESTATED + "tighten: {capacitor-voltage: {guard: 0.9}}")
    ).findings
    open_end = one_of(sound({(C1, "voltage_peak"): Value.floor(600)}))
    assert "a figure that has yet to be found" in open_end.remedy
    assert open_end.ratio == inf


def test_a_straddling_range_says_how_narrow_it_must_become() -> None:
    found = one(sound({(F1, "rated.breaking_capacity"): Value.between(500, 1500)}), "fuse-breaking-capacity")
    assert "the limit has to be shown to be 1000 A or more" in found.message
    assert found.missing == ("F1: rated.breaking_capacity",)
    found = one_of(sound({(C1, "voltage_peak"): Value.between(380, 420)}))
    assert "it has to be shown to be 405 V or less" in found.message


def test_a_table_where_one_value_belongs_is_not_assessed_unless_it_has_one_point() -> None:
    dimension = DIMENSIONS["rated.voltage"]
    many = Curve(((0.0, V(500)), (100.0, V(450))), DIMENSIONS["site.ambient"], dimension)
    found = one_of(sound({(C1, "rated.voltage"): many}))
    assert found.verdict == "not assessed" and "is a table" in found.message
    single = Curve(((25.0, V(500)),), DIMENSIONS["site.ambient"], dimension)
    assert one_of(sound({(C1, "rated.voltage"): single})).verdict == "pass"


def test_a_part_that_is_not_fitted_is_no_subject() -> None:
    review = sound({(C2, "part.fitted"): Category.of("no"), (C2, "part.class"): None})
    assert not any(finding.subject == C2 for finding in review.findings)


# ---- waivers and open points


def waiver(**changes: Any) -> Waiver:
    """A waiver of the failing capacitor, ratio 380 over 360."""
    given = {
        "rule": "capacitor-voltage", "subject_name": "C1", "up_to": 1.1, "reason": "stock", "by": "lead engineer",
        "last_day": TODAY, "place": Place("s.yaml", 9),
    }  # fmt: skip
    return Waiver(**(given | changes))


FAILING = {(C1, "rated.voltage"): V(400)}


def test_a_waiver_stands_beside_the_fail_and_changes_no_word() -> None:
    review = sound(FAILING, waivers=[waiver()])
    found = one_of(review)
    assert (found.verdict, found.blocks) == ("fail", False)
    assert found.acknowledgement is not None and found.acknowledgement.reason == "stock"
    assert words(review)["overstress"] == ("fail, waived", "capacitor-voltage")
    assert review.overall == "fail, waived"
    assert not review.blocks


def one_of(review: Review) -> Finding:
    """The finding on the failing capacitor."""
    return next(f for f in review.findings if f.rule == "capacitor-voltage" and f.subject == C1)


NOT_IN_FORCE = [
    (waiver(up_to=1.05), "is not used: it reaches up to 1.05, and the ratio is 1.06"),
    (waiver(up_to=None), "is not used: it has no up_to, and the ratio is 1.06"),
    (waiver(last_day=TODAY - timedelta(1)), "expired after 2026-11-24"),
    (waiver(last_day=None, problem="last_day is no date"), "counts for nothing: last_day is no date"),
    (waiver(last_day=None), "counts for nothing: it has no last_day"),
    (waiver(reason=""), "counts for nothing: it has no reason"),
    (waiver(by=""), "counts for nothing: it has no by"),
    (waiver(up_to=0.5), "counts for nothing: up_to is 0.5, and a fail is above 1"),
    (waiver(subject_name="C9"), "is not used: capacitor-voltage did not look at C9"),
    (waiver(rule="capacitor-volts"), "is not used: no rule capacitor-volts looked"),
    (waiver(rule="capacitor-life"), "is not used: the finding is 'pass'"),
]


@pytest.mark.parametrize(("given", "told"), NOT_IN_FORCE)
def test_a_waiver_that_counts_for_nothing_is_told(given: Waiver, told: str) -> None:
    review = sound(FAILING, waivers=[given])
    assert one_of(review).blocks and review.blocks
    assert words(review)["overstress"] == ("fail", "capacitor-voltage")
    assert any(told in note and "s.yaml:9" in note for note in review.notes), review.notes


def test_an_expired_waiver_is_shown_beside_the_fail() -> None:
    found = one_of(sound(FAILING, waivers=[waiver(last_day=date(2026, 1, 1))]))
    assert found.acknowledgement is not None and found.acknowledgement.expired


def test_an_open_point_stops_the_exit_status_never_the_word() -> None:
    point = OpenPoint("fuse-breaking-capacity", "F1", "cap not read", "lead", TODAY, Place("s.yaml", 4))
    gone = {(F1, "rated.breaking_capacity"): None}
    review = sound(gone, open_points=[point])
    assert one(review, "fuse-breaking-capacity").verdict == "not assessed"
    assert not one(review, "fuse-breaking-capacity").blocks
    assert words(review)["fire"][0] == "not assessed"
    assert not review.blocks
    assert sound(gone, open_points=[point._replace(last_day=TODAY - timedelta(1))]).blocks
    assert sound({(F1, "rated.breaking_capacity"): V(35)}, open_points=[point]).blocks  # a fail is no open point


def test_no_verdict_on_a_hazard_blocks_even_with_open_points() -> None:
    gone = {(C1, "voltage_peak"): None, (C2, "voltage_peak"): None}
    points = [OpenPoint("capacitor-voltage", name, "r", "b", TODAY, Place("s")) for name in ("C1", "C2")]
    review = sound(gone, open_points=points)
    assert [f.rule for f in review.findings if f.blocks] == ["overstress-looked-at"]
    assert words(review)["overstress"][0] == "not assessed"


def test_names_in_waivers() -> None:
    pair = Subject("winding pair", ("T1.primary", "T1.secondary"))
    assert is_about("T1", pair) and is_about("T1.primary – T1.secondary", pair)
    assert not is_about("T1.primary", pair) and not is_about("T", pair)
    circuits = Subject("circuit pair", ("primary", "secondary"))
    assert is_about("secondary – primary", circuits) and not is_about("primary", circuits)
    assert is_about("supply", SUPPLY) and not is_about("", SUPPLY)


# ---- known findings


SIGNED = Signed("an old design", "lead engineer", date(2027, 6, 30))


def recorded(review: Review) -> Known:
    """What a record of one review holds back."""
    return read_record(record([review], SIGNED), "known.json").designs[review.name]


def test_known_findings_are_held_back_until_they_are_worse() -> None:
    before = sound(FAILING)
    known = recorded(before)
    again = sound(FAILING, known=known)
    assert not again.blocks and again.held_back == 1
    assert one_of(again).known and one_of(again).verdict == "fail"
    assert again.overall == "fail, held back"  # never a bare "fail" beside "nothing blocks"
    assert words(again)["overstress"] == ("fail, held back", "capacitor-voltage")
    barely = {**FAILING, (C1, "voltage_peak"): V(380 * 1.019)}
    assert not sound(barely, known=known).blocks
    assert sound({**FAILING, (C1, "voltage_peak"): V(380 * 1.021)}, known=known).blocks
    assert sound({**FAILING, (F1, "rated.breaking_capacity"): V(35)}, known=known).blocks  # a new one
    assert sound({(C1, "rated.voltage"): None}, known=known).blocks  # a fail that is no longer assessed is new
    unknown = recorded(sound({(C1, "rated.voltage"): None}))
    assert not sound({(C1, "rated.voltage"): None}, known=unknown).blocks
    assert sound(FAILING, known=unknown).blocks  # and so is one that turns out to fail


def test_a_record_is_the_same_bytes_and_reads_back() -> None:
    review = sound({(C1, "rated.voltage"): None, (C2, "voltage_peak"): Value.floor(600)})
    text = record([review], SIGNED)
    assert text == record([sound({(C1, "rated.voltage"): None, (C2, "voltage_peak"): Value.floor(600)})], SIGNED)
    assert json.loads(text)["derate"] == 2
    assert not sound(
        {(C1, "rated.voltage"): None, (C2, "voltage_peak"): Value.floor(600)},
        known=read_record(text, "k").designs[review.name],
    ).blocks


@pytest.mark.parametrize(
    "text",
    [
        "", "{", "[]", "{}", '{"derate": 2}', '{"derate": 3, "known": {}}',
        '{"derate": 2, "reason": "r", "by": "b", "last_day": "2027-06-30", "known": {"a": {"b": 3}}}',
        '{"derate": 2, "reason": "r", "by": "b", "last_day": "2027-06-30", "known": {}, "more": 1}',
        '{"derate": 2, "reason": " ", "by": "b", "last_day": "2027-06-30", "known": {}}',
        '{"derate": 2, "reason": "r", "by": "b", "last_day": "soon", "known": {}}',
    ],
)
def test_what_is_no_record_is_refused(text: str) -> None:
    with pytest.raises(ReadingError, match="this is no record of known findings"):
        read_record(text, "known.json")


# ---- packs: switched off, left out, families


def test_a_critical_rule_switched_off_counts_as_not_assessed() -> None:
    packs = house(RESTATED + "switch_off:\n  bridging-class: {reason: tested instead}\n")
    review = sound(packs=packs)
    found = one(review, "bridging-class")
    assert (found.verdict, found.subject, found.blocks) == ("not assessed", SUPPLY, True)
    assert "switched off by house: tested instead; it would have looked at C2" in found.message
    assert words(review)["shock"][0] == "not assessed"
    minor = house(RESTATED + "switch_off:\n  switching-frequency: {reason: r}\n")
    assert not any(f.rule == "switching-frequency" for f in sound(packs=minor).findings)


def test_a_rule_without_a_subject_can_ask_for_one() -> None:
    ledger = Ledger()
    ledger.write(F1, "part.kind", Category.of("fuse"))
    found = one(judge(ledger, PACKS, path="x", name="x", today=TODAY), "tape-layers")
    assert (found.subject, found.verdict) == (SUPPLY, "not assessed")
    assert "no pair of windings is described" in found.message


def test_a_required_pack_left_out() -> None:
    review = sound(required_packs={"worked": ("fire",), "mains-fusing": ("fire", "shock")})
    assert [f.rule for f in review.findings if f.blocks] == [
        "mains-fusing-in-use-for-fire",
        "mains-fusing-in-use-for-shock",
    ]
    assert not sound(required_packs=["worked"]).blocks
    assert len([f for f in sound(required_packs=["other"]).findings if f.blocks]) == 3


FAMILY = """pack: {name}
title: t
covers: c
family: {family}
rules:
  - rule: creepage-{name}
    says: s
    because: b
    hazard: shock
    severity: critical
    about: barrier
    keep: found.creepage >= {limit}
    source: s
    confidence: published
"""


def test_two_families_are_judged_apart_and_the_worse_one_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("derate.packs.load.lacking", lambda packs, family: ())  # they have one rule each
    kind = FAMILY.format(name="kind", family="62368-1", limit="5 mm")
    hard = FAMILY.format(name="hard", family="60335-1", limit="8 mm")
    worked = FILE.read_text(encoding="utf-8")
    packs = read_packs({"worked.yaml": worked, "kind.yaml": kind, "hard.yaml": hard, "house.yaml":
                        "pack: house\ntitle: t\ncovers: c\nbuilds_on: [worked]\n" + RESTATED})  # fmt: skip
    review = sound(packs=packs)
    by_family = {word.family: word.word for word in review.families}
    assert by_family == {"62368-1": "not judged", "60335-1": "fail"}
    assert words(review)["shock"] == ("fail", "creepage-hard")
    assert sound(packs=read_packs({"worked.yaml": worked, "kind.yaml": kind})).families == ()


def test_a_family_in_which_no_critical_rule_looked_blocks() -> None:
    kind = FAMILY.format(name="kind", family="62368-1", limit="5 mm")
    hard = FAMILY.format(name="hard", family="60335-1", limit="8 mm").replace("critical", "minor")
    review = reviewed([Row(B, "found.creepage", V(9e-3))], read_packs({"kind.yaml": kind, "hard.yaml": hard}))
    assert "shock-looked-at-in-60335-1" in {f.rule for f in review.findings if f.blocks}
    assert "shock-looked-at-in-62368-1" not in {f.rule for f in review.findings}


# ---- levels


@settings(max_examples=60, deadline=None)
@given(ledgers())
def test_a_harder_level_stops_at_all_that_a_softer_one_does(rows: tuple[Row, ...]) -> None:
    review = reviewed(rows)
    stops = [blocks(review, level) for level in LEVELS]
    assert stops == sorted(stops)
    assert blocks(review) == review.blocks == blocks(review, "default")


def test_levels() -> None:
    def stopped(changes: Any) -> list[str]:
        return [level for level in LEVELS if blocks(sound(changes), level)]

    assert stopped({}) == []
    assert stopped(FAILING) == list(LEVELS)
    assert stopped({(F1, "rated.breaking_capacity"): None}) == ["default", "not-assessed", "marginal"]
    assert stopped({(SUPPLY, "control.frequency"): None}) == ["not-assessed", "marginal"]
    assert stopped({(SUPPLY, "control.frequency"): V(15e3)}) == ["not-assessed", "marginal"]
    assert stopped({(SUPPLY, "control.frequency"): V(1e3)}) == list(LEVELS)  # a minor rule at twenty times its limit
    assert stopped({(F1, "prospective_current"): V(1400)}) == ["marginal"]


def test_design_trials_are_run_through_what_judges_a_text() -> None:
    def judge_text(text: str) -> Review:
        return sound({(F1, "rated.breaking_capacity"): V(float(text))})

    trial = DesignTrial("fuse-breaking-capacity", "F1", "1500", "35", "pass", "fail", "", Place("p"))
    assert [result.holds for result in run_design_trial(trial, judge_text)] == [True, True]
    other = replace(trial, changed="1500")
    assert [result.holds for result in run_design_trial(other, judge_text)] == [True, False]


def test_a_rule_of_a_family_reads_the_requirement_rows_of_its_family() -> None:
    kind = FAMILY.format(name="kind", family="62368-1", limit="needed.creepage")
    hard = FAMILY.format(name="hard", family="60335-1", limit="needed.creepage")
    ledger = Ledger()
    ledger.write(B, "found.creepage", V(6e-3))
    ledger.write(B, "needed.creepage in 62368-1", V(5e-3))
    ledger.write(B, "needed.creepage in 60335-1", V(8e-3))
    packs = read_packs({"kind.yaml": kind, "hard.yaml": hard})
    review = judge(ledger, packs, path="x", name="x", today=TODAY)
    assert one(review, "creepage-kind").verdict == "pass"
    assert one(review, "creepage-hard").verdict == "fail"
    alone = Ledger()
    alone.write(B, "found.creepage", V(6e-3))
    alone.write(B, "needed.creepage", V(5e-3))
    assert one(judge(alone, packs, path="x", name="x", today=TODAY), "creepage-hard").verdict == "pass"


def test_the_confidence_of_a_worked_out_row_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("derate.packs.load.lacking", lambda packs, family: ())
    from derate.insulation.row import TableRow

    ledger = Ledger()
    ledger.write(B, "found.creepage", V(6e-3))
    ledger.copy(TableRow(0, B, "needed.creepage", None, V(5e-3), known_by="computed", confidence="remembered"))
    packs = read_packs({"kind.yaml": FAMILY.format(name="kind", family="62368-1", limit="needed.creepage")})
    review = judge(ledger, packs, path="x", name="x", today=TODAY)
    assert one(review, "creepage-kind").confidence == "remembered"
    assert words(review)["shock"] == ("not assessed", "1 limit to confirm")


def test_a_limit_to_confirm_stops_at_the_level_of_what_is_not_assessed() -> None:
    review = sound(packs=PACKS)
    assert [level for level in LEVELS if blocks(review, level)] == ["not-assessed", "marginal"]


def test_how_to_settle_whether_a_rule_applies_is_not_how_to_settle_the_rule() -> None:
    found = one(sound({(F1, "part.place"): None}), "fuse-breaking-capacity")
    assert found.missing == ("F1: part.place",)
    how = "trace what it is joined to, and name it on that path under circuit"
    assert found.remedy.startswith(f"where in the supply it sits (F1): {how}")


def test_a_pass_rests_on_what_any_of_its_cases_rests_on() -> None:
    rows = [Row(s, n, v) for (s, n), v in SOUND.items()] + [Row(s, n, v, 1) for (s, n), v in STRESSES.items()]
    rows += [Row(s, n, v, 0, n == "prospective_current") for (s, n), v in STRESSES.items()]
    lower = [replace(row, value=V(500)) if row.name == "prospective_current" and row.case == 0 else row for row in rows]
    found = one(reviewed(lower, FIRM), "fuse-breaking-capacity")  # the governing case rests on nothing
    assert (found.verdict, found.rests_on) == ("not assessed", ("F1: prospective_current",))


def test_the_confidence_of_a_finding_is_the_weakest_of_the_cells_it_used() -> None:
    assert one(sound(), "fuse-pulse").confidence == "one source"
    found = one(sound({(SUPPLY, "site.switch_ons"): V(50_000)}), "fuse-pulse")
    assert found.confidence == "remembered"
    assert found.source == "remembered figure for Invented fuse guide, third, page 3: confirm"


def test_no_rule_looked() -> None:
    review = judge(Ledger(), read_packs({}), path="x", name="x", today=TODAY)
    assert words(review) == {
        **dict.fromkeys(("fire", "shock", "overstress"), ("not assessed", "no rule looked")),
        **dict.fromkeys(("life", "interference", "rating"), ("not judged", NOT_JUDGED)),
    }
    assert review.blocks


ASSUMING = """pack: assuming
title: t
covers: c
assumptions: {{share: {{value: 0.7..0.9, bounding: {bounding}, says: s, source: s, confidence: remembered}}}}
rules:
  - rule: under-share
    says: s
    because: b
    hazard: fire
    severity: critical
    keep: {keep}
    source: s
    confidence: published
"""


@pytest.mark.parametrize(
    ("bounding", "keep", "verdict"),
    [
        ("none", "rated.voltage <= 500 V * assumption.share", "not assessed"),
        ("both", "rated.voltage <= 500 V * assumption.share", "pass"),
        ("low", "rated.voltage <= 500 V * assumption.share", "pass"),
        ("high", "rated.voltage <= 500 V * assumption.share", "not assessed"),
        ("low", "rated.voltage * assumption.share <= 500 V", "not assessed"),
        ("high", "rated.voltage * assumption.share <= 500 V", "pass"),
        ("none", "rated.voltage * assumption.share <= 100 V", "fail"),
    ],
)
def test_an_assumption_holds_only_at_an_end_that_bounds(bounding: str, keep: str, verdict: str) -> None:
    packs = read_packs({"assuming.yaml": ASSUMING.format(bounding=bounding, keep=keep)})
    ledger = Ledger()
    ledger.write(F1, "rated.voltage", V(300))
    found = one(judge(ledger, packs, path="x", name="x", today=TODAY), "under-share")
    assert found.verdict == verdict
    if bounding == "none" and verdict != "fail":
        assert found.rests_on == ("assumption share",)
    assert found.confidence == "remembered"


def test_an_assumed_no_beside_an_open_condition() -> None:
    text = FAMILY.format(name="kind", family="62368-1", limit="5 mm").replace("critical", "major")
    text = text.replace("keep:", "applies: {barrier.insulation: reinforced, barrier.material_group: I}\n    keep:")
    rows = [Row(B, "barrier.insulation", Category.of("functional"), None, True), Row(B, "found.creepage", V(1e-3))]
    found = one(reviewed(rows, read_packs({"kind.yaml": text})), "creepage-kind")
    assert found.verdict == "not applicable"
    found = one(reviewed(rows, read_packs({"kind.yaml": text.replace("major", "critical")})), "creepage-kind")
    assert found.verdict == "not assessed"


class _Asked(Ledger):
    """A ledger of which every part is asked by every rule, as a study has it that records what each question reads."""


@pytest.mark.parametrize("name", ["beehive-scale", "cellar-lamp"])
def test_a_part_that_is_not_asked_has_no_finding(name: str) -> None:
    """Kinds that rule a part out are found once for all rules: the findings are those of asking every rule of it."""
    home = Path(__file__).parents[2] / "designs" / name
    work = Workshop().work(str(next(home.glob("*.derate.yaml"))))
    asked = work._replace(ledger=worked(work.design, work.packs, into=_Asked()))
    day = date(2026, 11, 25)
    plain, every = review_of(work, day), review_of(asked, day)
    assert plain.findings == every.findings and len(plain.findings) > 200
