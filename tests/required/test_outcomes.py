"""Outcomes of tests and of inspections are judged by what they mean: adverse, favourable, or nothing said."""

from __future__ import annotations

import pytest
from small_barrier import changed, judged

from derate.design.load import read_design
from derate.ledger.entry import Subject
from derate.terms.words import (
    FOUND_NOTHING,
    NOT_LOOKED,
    RESULTS,
    TESTS,
    meaning_of,
    meaning_of_look,
    results_of,
)

STRENGTH = "{test: electric strength, between: [primary, secondary], voltage: 3000 Vac, time: 60 s, result: held}"
OF_STRENGTH = {"favourable": "pass", "adverse": "fail", "nothing said": "not assessed"}


def with_result(word: str, between: str = "[primary, secondary]") -> str:
    new = STRENGTH.replace("held", word).replace("[primary, secondary]", between)
    return changed((STRENGTH, new))


@pytest.mark.parametrize("word", results_of("electric strength"))
def test_every_word_of_a_strength_test_is_judged_by_its_meaning(word: str) -> None:
    result = judged(with_result(word))
    wanted = OF_STRENGTH[RESULTS[word]]
    assert result.verdict("electric-strength-held", "primary – secondary") == wanted


@pytest.mark.parametrize("word", ["broke down", "flashover", "failed", "smoked"])
def test_an_adverse_outcome_counts_whatever_else_held(word: str) -> None:
    text = changed((STRENGTH, f"{STRENGTH}\n  - {STRENGTH.replace('held', word).replace('3000', '2000')}"))
    assert judged(text).verdict("electric-strength-held", "primary – secondary") == "fail"


@pytest.mark.parametrize("between", ["[primary, earth]", "[secondary, touchable]", "[line, neutral]"])
def test_a_breakdown_between_any_two_circuits_is_heard(between: str) -> None:
    other = STRENGTH.replace("[primary, secondary]", between)
    text = changed((STRENGTH, f"{STRENGTH}\n  - {other.replace('held', 'broke down')}"))
    findings = judged(text).findings("electric-strength-held")
    assert "fail" in {one.verdict for one in findings.values()}, findings
    held = changed((STRENGTH, f"{STRENGTH}\n  - {other}"))
    assert "fail" not in {one.verdict for one in judged(held).findings("electric-strength-held").values()}


@pytest.mark.parametrize("word", results_of("electric strength"))
def test_single_layers_of_tape_are_judged_by_the_meaning_too(word: str) -> None:
    tape = STRENGTH.replace("[primary, secondary]", "[one layer of tape, T1]").replace("held", word)
    result = judged(changed((STRENGTH, f"{STRENGTH}\n  - {tape}")))
    row = result.ledger.find(Subject("transformer", ("T1",)), "tape_test.result")
    wanted = {"favourable": "held", "adverse": word, "nothing said": "None"}[RESULTS[word]]
    assert row is not None and str(row.value) == wanted


def test_an_adverse_outcome_no_rule_reads_is_told() -> None:
    tests = STRENGTH + "\n  - {test: fault, fault: Q1 shorted, mains: 264 V, result: caught fire}"
    told = read_design(changed((STRENGTH, tests)), "x.yaml").notes
    assert any("Q1 shorted" in note and "caught fire" in note for note in told)
    held = read_design(changed((STRENGTH, tests.replace("caught fire", "opened"))), "x.yaml").notes
    assert not any("Q1 shorted" in note for note in held)  # what protects has opened


def test_the_same_word_of_another_test() -> None:
    assert meaning_of("fault", "opened") == "favourable" and meaning_of("overload", "opened") == "adverse"
    assert meaning_of("fault", "did not open") == "adverse"
    assert "did not open" not in results_of("electric strength") and "opened" not in results_of("electric strength")
    assert all(meaning_of(test, "passed") == "favourable" for test in TESTS)
    assert all(meaning_of(test, word) == "nothing said" for test in TESTS for word in ("not done", "unknown"))


@pytest.mark.parametrize("text", [*FOUND_NOTHING, *NOT_LOOKED, "at the barrier", "yes"])
def test_every_way_to_say_what_was_found(text: str) -> None:
    (found,) = judged(changed(("solder_blobs: none", f"solder_blobs: {text}"))).findings("no-solder-blobs").values()
    wanted = {"favourable": "pass", "adverse": "fail", "nothing said": "not assessed"}
    assert found.verdict == wanted[meaning_of_look(text)]


def test_a_layer_that_broke_down_counts_whatever_held_before_it() -> None:
    tape = STRENGTH.replace("[primary, secondary]", "[one layer of tape, T1]")
    both = f"{STRENGTH}\n  - {tape}\n  - {tape.replace('held', 'broke down')}"
    row = judged(changed((STRENGTH, both))).ledger.find(Subject("transformer", ("T1",)), "tape_test.result")
    assert row is not None and str(row.value) == "broke down"


@pytest.mark.parametrize(("word", "done"), [("held", True), ("failed", True), ("not done", False), ("unknown", False)])
def test_a_test_that_was_not_done_is_none(word: str, done: bool) -> None:
    (test,) = read_design(with_result(word), "x.yaml").tests
    assert test.done is done and test.is_adverse is (word == "failed") and test.is_favourable is (word == "held")


@pytest.mark.parametrize("families", [("62368-1",), ("62368-1", "60335-1")])
def test_a_list_that_is_not_complete_leaves_the_discharge_open_in_every_family(families: tuple[str, ...]) -> None:
    """With one family and with two: a discharge resistor may be among what is not listed."""
    text = changed(
        ("  parts_list: complete\n", "  parts_list: main parts\n"),
        ("parts:\n", "parts:\n  CX1: film capacitor X2 220 nF 20% 310 Vac\n  R1: film resistor 1 Mohm\n"),
        ("line: [F1, BR1", "line: [F1, across CX1, across R1, BR1"),
    )
    assert judged(text, *families).verdict("plug-voltage") == "pass"
    slow = text.replace("film resistor 1 Mohm", "film resistor 22 Mohm")
    assert judged(slow, *families).verdict("plug-voltage") == "not assessed"
