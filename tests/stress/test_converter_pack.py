"""The pack that looks closer at a converter: its trials come out as they say, on facts and on whole designs."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from derate.design.load import load_design
from derate.design.settings import Settings
from derate.judge.review import Review
from derate.judge.trials import run_design_trial, run_trial
from derate.packs.load import load_packs, shipped
from derate.packs.trial import read_trials
from derate.study.work import Work, review_of, worked

PACKS = load_packs(["commercial-practice", "converter"])
_PATH = shipped("rules") / "converter.yaml"
TRIALS = read_trials(_PATH.read_text(encoding="utf-8"), str(_PATH), PACKS)
RULES = tuple(rule for rule in PACKS.rules if rule.pack == "converter")


def test_every_rule_is_tried_each_way_and_at_its_limit() -> None:
    tried: dict[str, set[str]] = {}
    for trial in TRIALS.rules:
        result = run_trial(trial, PACKS)
        assert result.holds, result
        tried.setdefault(trial.rule, set()).add(trial.expect)
    for rule in RULES:
        assert {"pass", "fail", "not assessed"} <= tried[rule.name], rule.name
        assert not rule.applies or "not applicable" in tried[rule.name], rule.name
        assert not hasattr(rule.shape, "formula") or any(
            trial.ratio == 1.0 for trial in TRIALS.rules if trial.rule == rule.name
        ), rule.name


@pytest.mark.parametrize("number", range(len(TRIALS.designs)))
def test_one_changed_fact_turns_a_sound_design(number: int, tmp_path: Path) -> None:
    def judge_text(text: str) -> Review:
        path = tmp_path / "trial.yaml"
        path.write_text(text, encoding="utf-8")
        design = load_design(str(path))
        return review_of(Work(design, Settings(), PACKS, worked(design, PACKS), {}), date(2026, 11, 25))

    for result in run_design_trial(TRIALS.designs[number], judge_text):
        assert result.holds, result
