"""The bench pack: every trial comes out, in words, and no rule of it stands in another shipped pack."""

from __future__ import annotations

import re
from datetime import date

import pytest

from derate.design.load import read_design
from derate.judge.judge import judge
from derate.judge.trials import run_trial
from derate.packs.load import load_packs, shipped
from derate.packs.trial import read_trials
from derate.study.work import worked

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


@pytest.mark.parametrize(
    ("volts", "amperes", "more", "power", "verdict"),
    [("12", "1.6", "1", "24.2", "marginal"), ("12", "1.6", "1", "24.1", "fail"), ("5", "1.1", "0.7", "9", "marginal")],
)
def test_a_plate_that_gives_out_what_it_says_is_not_false_by_rounding(
    volts: str, amperes: str, more: str, power: str, verdict: str
) -> None:
    """12 × 1.6 + 5 × 1 comes to a little more than 24.2 in binary fractions."""
    outputs = f"a: {{voltage: {volts} V, current: {amperes} A}}, b: {{voltage: 5 V, current: {more} A}}"
    plate = f"{{mains: 230 V, mains_current: 1 A, power: {power} W, outputs: {{{outputs}}}}}"
    text = f"derate: 1\nsupply: {{name: t, plate: {plate}}}\nparts: {{F1: fuse 1 A 250 V}}\n"
    design = read_design(text, "t.yaml")
    review = judge(worked(design, PACKS), PACKS, path="t.yaml", name="t", today=date(2026, 11, 25))
    (finding,) = [one for one in review.findings if one.rule == "plate-power-is-possible"]
    assert finding.verdict == verdict, finding.message
