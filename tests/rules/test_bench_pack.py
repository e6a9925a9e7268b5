"""The bench pack: every trial comes out, in words, and no rule of it stands in another shipped pack."""

from __future__ import annotations

import re

import pytest

from derate.judge.trials import run_trial
from derate.packs.load import load_packs, shipped
from derate.packs.trial import read_trials

PACKS = load_packs(["bench"])
PATH = shipped("rules") / "bench.yaml"
TRIALS = read_trials(PATH.read_text(encoding="utf-8"), str(PATH), PACKS)


@pytest.mark.parametrize("trial", TRIALS.rules, ids=lambda one: f"{one.rule}-{one.place.line}")
def test_trial(trial: object) -> None:
    result = run_trial(trial, PACKS)  # type: ignore[arg-type]
    assert result.holds, (result.rule, result.expected, result.got, result.message)


def test_every_rule_has_a_pass_a_fail_and_an_unknown() -> None:
    for rule in PACKS.rules:
        came = {trial.expect for trial in TRIALS.rules if trial.rule == rule.name}
        assert {"pass", "fail", "not assessed"} <= came, rule.name


def test_rules_speak_in_words() -> None:
    for rule in PACKS.rules:
        assert re.fullmatch(r"[a-z]+(-[a-z]+)+", rule.name), rule.name
        assert rule.says.endswith(".") and rule.because.endswith(".") and rule.remedy and rule.settle, rule.name


def test_no_rule_stands_in_another_shipped_pack() -> None:
    own = {rule.name for rule in PACKS.rules}
    for path in shipped("rules").glob("*.yaml"):
        if path.stem != "bench":
            assert not own & {rule.name for rule in load_packs([path.stem]).rules if rule.pack == path.stem}


def test_interference_provisions_never_block() -> None:
    assert {rule.severity for rule in PACKS.rules if rule.hazard == "interference"} == {"minor"}
