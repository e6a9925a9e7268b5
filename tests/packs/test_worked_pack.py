"""The worked pack: every shape of rule with pass, marginal, fail, not assessed and not applicable, as trials."""

from __future__ import annotations

from pathlib import Path

import pytest

from derate.judge.trials import run_trial
from derate.packs.load import read_packs
from derate.packs.pack import SHAPES, kind_of_shape
from derate.packs.trial import Trial, read_trials

FILE = Path(__file__).parents[1] / "data" / "packs" / "worked.yaml"
TEXT = FILE.read_text(encoding="utf-8")
PACKS = read_packs({"worked.yaml": TEXT})
TRIALS = read_trials(TEXT, "worked.yaml", PACKS).rules


@pytest.mark.parametrize("trial", TRIALS, ids=lambda trial: f"{trial.rule}-{trial.place.line}")
def test_trial_comes_out_as_expected(trial: Trial) -> None:
    result = run_trial(trial, PACKS)
    assert result.got == result.expected, result.message


def test_every_shape_and_every_rule_is_tried() -> None:
    assert {kind_of_shape(rule.shape) for rule in PACKS.rules} == set(SHAPES)
    for rule in PACKS.rules:
        got = {trial.expect for trial in TRIALS if trial.rule == rule.name}
        assert {"pass", "fail", "not assessed"} <= got, rule.name


def test_a_trial_can_fail() -> None:
    trial = TRIALS[0]
    other = Trial(trial.rule, trial.facts, trial.cases, trial.parts, "fail", None, "", trial.place)
    assert not run_trial(other, PACKS).holds
