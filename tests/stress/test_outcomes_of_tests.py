"""What tests of a sample came to: an adverse outcome is a fail of its hazard, whatever else is stated or left out."""

from __future__ import annotations

from datetime import date
from functools import cache

import pytest

from derate.design.load import read_design
from derate.design.settings import Settings
from derate.judge.review import Finding, Review
from derate.packs.load import shipped
from derate.study.faults import fault_rows
from derate.study.work import Work, Workshop, required_of, review_of, worked
from derate.terms.words import TESTS, meaning_of, results_of

PATH = shipped("designs") / "greenhouse-vent" / "greenhouse-vent.derate.yaml"
SOUND = PATH.read_text(encoding="utf-8")
STRENGTH = "{test: electric strength, between: [primary, secondary], voltage: 3000 Vac, time: 60 s, result: held}"
WORKSHOP = Workshop()
HAZARD = {"overload": "fire", "fault": "fire"}


@cache
def work_of(text: str) -> Work:
    design = read_design(text, str(PATH))
    packs = WORKSHOP.packs_for(str(PATH), design, Settings())
    return Work(design, Settings(), packs, worked(design, packs), required_of(packs))


def review(*more: str, **edits: str) -> Review:
    text = SOUND.replace("tests:     ", "tests:\n" + "".join(f"  - {one}\n" for one in more) + "#", 1)
    for old, new in edits.items():
        text = text.replace({"strength": STRENGTH}[old], new)
    return review_of(work_of(text), date(2026, 11, 25))


def stops(found: Review) -> dict[str, Finding]:
    return {one.rule: one for one in found.findings if one.blocks}


def _entry(test: str, word: str) -> str:
    own = {
        "fault": "fault: C1 shorted",
        "electric strength": "between: [primary, secondary], voltage: 1000 Vac, time: 60 s",
        "insulation resistance": "between: [primary, secondary], voltage: 500 Vdc",
        "overload": "output: main, shuts_down_at: 1.66 A",
    }.get(test, "mains: 230 V")
    return f"{{test: {test}, {own}, result: {word}}}"


def test_the_design_they_are_put_into_blocks_on_nothing() -> None:
    assert not stops(review())


@pytest.mark.parametrize(
    ("test", "word"),
    [(test, word) for test in TESTS for word in results_of(test) if meaning_of(test, word) == "adverse"],
)
def test_every_adverse_outcome_of_every_test_is_a_fail_of_its_hazard(test: str, word: str) -> None:
    found = review(_entry(test, word))
    assert any(one.verdict == "fail" and one.hazard == HAZARD.get(test, "shock") for one in stops(found).values())
    hazard = next(one for one in found.hazards if one.hazard == HAZARD.get(test, "shock"))
    assert hazard.word == "fail"


@pytest.mark.parametrize("test", TESTS)
def test_a_favourable_outcome_gives_no_verdict_and_none_at_all_stops(test: str) -> None:
    found = review(_entry(test, "passed"))
    assert not {one for one in stops(found) if one.startswith("test-without")}
    gone = review(_entry(test, "passed").replace(", result: passed", ""))
    # where it shut down is what an overload came to
    assert bool({one for one in stops(gone) if one.startswith("test-without")}) == (test != "overload")
    assert {one for one in stops(review(_entry(test, "unknown"))) if one.startswith("test-without")}


@pytest.mark.parametrize("between", ["[primary, primary]", "[secondary, touchable]", "[main plus, main minus]"])
def test_a_breakdown_counts_whatever_it_was_between(between: str) -> None:
    one = f"{{test: electric strength, between: {between}, voltage: 500 Vac, time: 60 s, result: arced}}"
    assert "test-without-breakdown" in stops(review(one))


_BETWEEN = "insulation resistance, between: [primary, secondary]"


@pytest.mark.parametrize(("entry", "verdict"), [
    (f"{_BETWEEN}, result: 0.01 Mohm", "fail"),
    (f"{_BETWEEN}, voltage: 5 Vdc, result: 12 kohm", "fail"),
    (f"{_BETWEEN}, voltage: 500 Vdc, result: over 1 Mohm", "not assessed"),
    (f"{_BETWEEN}, voltage: 500 Vdc, result: 50 Mohm", "pass"),
    (f"{_BETWEEN}, voltage: 500 V, result: 50 Mohm", "pass"),  # such a tester gives no other
    (f"{_BETWEEN}, voltage: 450 Vdc, result: 50 Mohm", "pass"),
    (f"{_BETWEEN}, voltage: 440 Vdc, result: 50 Mohm", "not assessed"),
    (f"{_BETWEEN}, voltage: 5 Vdc, result: 50 Mohm", "not assessed"),
    (f"{_BETWEEN}, voltage: 500 Vac, result: 50 Mohm", "not assessed"),
    (f"{_BETWEEN}, voltage: unknown, result: 50 Mohm", "not assessed"),
    (f"{_BETWEEN}, result: 50 Mohm", "not assessed"),
    ("discharge, time: 2 s, result: 200 V", "fail"),
    ("discharge, time: 9 s, result: 200 V", "fail"),
    ("discharge, time: 1.9 s, mains: 240 V, result: 200 V", "not assessed"),
    ("discharge, result: 200 V", "not assessed"),
    ("discharge, time: 2 s, mains: 240 V, result: 12 V", "pass"),
    ("discharge, time: 1 s, mains: 240 V, result: 12 V", "pass"),
    ("discharge, time: 9 s, mains: 240 V, result: 12 V", "not assessed"),
    ("discharge, mains: 240 V, result: 12 V", "not assessed"),
    ("discharge, time: 2 s, mains: 24 V, result: 12 V", "not assessed"),
    ("discharge, time: 2 s, result: 12 V", "not assessed"),
    ("discharge, result: 9 s", "fail"),
    ("discharge, mains: 240 V, result: 0.5 s", "pass"),
    ("discharge, mains: 100 V, result: 0.5 s", "not assessed"),
    ("discharge, result: 0.5 s", "not assessed"),
    ("earth continuity, result: 3 ohm", "fail"),
    ("earth continuity, current: 25 A, time: 60 s, result: 0.05 ohm", "pass"),
    ("earth continuity, current: 24 A, time: 60 s, result: 0.05 ohm", "not assessed"),
    ("earth continuity, current: 25 A, time: 59 s, result: 0.05 ohm", "not assessed"),
    ("earth continuity, current: 25 A, result: 0.05 ohm", "not assessed"),
    ("earth continuity, time: 60 s, result: 0.05 ohm", "not assessed"),
    ("earth continuity, result: 0.05 ohm", "not assessed"),
    ("earth continuity, known_by: assumed, current: 25 A, time: 60 s, result: 0.05 ohm", "not assessed"),
    ("earth continuity, known_by: assumed, result: 3 ohm", "fail"),
    (f"{_BETWEEN}, known_by: assumed, voltage: 500 Vdc, result: 50 Mohm", "not assessed"),
    (f"{_BETWEEN}, known_by: calculated, voltage: 500 Vdc, result: 12 kohm", "fail"),
    ("discharge, known_by: simulated, time: 2 s, mains: 240 V, result: 12 V", "not assessed"),
])  # fmt: skip
def test_a_figure_is_held_against_its_limit(entry: str, verdict: str) -> None:
    """62368-1: 60 V two seconds after the plug was drawn, 0.1 ohm from the earth pin; 2 Mohm is common practice.

    A test made under its condition, or that does not say it, proves a fail and no pass.
    """
    own = [one for one in review(f"{{test: {entry}}}").findings if one.rule.endswith("-as-tested")]
    assert [one.verdict for one in own if entry.split(",")[0] in str(one.subject) and one.verdict != "not applicable"][
        0
    ] == verdict


def test_a_test_that_failed_is_not_outweighed_by_a_higher_one_that_held() -> None:
    low = STRENGTH.replace("3000", "1500").replace("held", "flashover")
    assert stops(review(low))["electric-strength-held"].verdict == "fail"


@pytest.mark.parametrize(("time", "verdict"), [("time: 60 s, ", "pass"), ("time: 1 s, ", "not assessed"),
                                               ("time: 59 s, ", "not assessed"), ("", "not assessed")])  # fmt: skip
def test_a_second_or_no_time_is_a_routine_test(time: str, verdict: str) -> None:
    found = review(strength=STRENGTH.replace("time: 60 s, ", time))
    own = {one.rule: one.verdict for one in found.findings if one.rule.startswith("electric-strength-")}
    assert own["electric-strength-held"] == own["electric-strength-voltage"] == verdict


@pytest.mark.parametrize(
    ("how", "verdict"),
    [
        ("measured", "pass"),
        ("stated", "not assessed"),  # hearsay: nobody says that a sample was tested
        ("assumed", "not assessed"),
        ("simulated", "not assessed"),
        ("calculated", "not assessed"),
    ],
)
def test_a_test_that_nobody_did_to_a_sample_shows_nothing(how: str, verdict: str) -> None:
    found = review(strength=STRENGTH.replace("time: 60 s, ", f"time: 60 s, known_by: {how}, "))
    own = {one.rule: one.verdict for one in found.findings if one.rule.startswith("electric-strength-")}
    assert own["electric-strength-held"] == own["electric-strength-voltage"] == verdict
    bad = review(strength=STRENGTH.replace("time: 60 s, ", f"known_by: {how}, ").replace("held", "arced"))
    assert stops(bad)["electric-strength-held"].verdict == "fail"


def test_a_touch_current_over_its_limit_fails_with_nothing_known_of_what_bridges() -> None:
    text = SOUND.replace("result: under 0.02 mA", "result: 12 mA")
    line = next(one for one in text.splitlines() if one.strip().startswith("bridging:"))
    found = review_of(work_of(text.replace(line, "")), date(2026, 11, 25))
    assert stops(found)["touch-current"].verdict == "fail"


def test_the_list_of_faults_says_what_was_seen_and_no_longer_that_it_opens() -> None:
    def opening(entry: str) -> set[str]:
        text = SOUND.replace("tests:     ", f"tests:\n  - {entry}\n#", 1)
        work = work_of(text)
        rows = fault_rows(work.ledger, work.design.structure, work.design.tests)
        return {row.opening for row in rows if row.fault == "C1 shorted"}

    assert opening(_entry("fault", "tripped")) == {"shown"}
    assert opening(_entry("fault", "flames")) == opening(_entry("fault", "did not open")) == {"not shown"}
    assert opening(_entry("fault", "flames").replace("result", "mains: 230 V, result")) == {"not shown"}

