"""The shipped packs: they load, every rule is named and sourced in words, and every trial comes out as it says."""

from __future__ import annotations

import re
from collections import Counter
from datetime import date
from functools import cache
from pathlib import Path

import pytest

from derate.design.load import load_design
from derate.design.settings import Settings
from derate.judge.review import Review
from derate.judge.trials import Result, run_design_trial, run_trial
from derate.packs.load import Packs, load_packs, shipped
from derate.packs.pack import Presence, Record, Rule
from derate.packs.trial import Trials, read_trials
from derate.study.work import Work, review_of, worked
from derate.terms.words import VERDICTS

NAMES = tuple(sorted(path.stem for path in shipped("rules").glob("*.yaml")))
# The packs whose rules are held to the full set of trials here; the insulation packs have tests of their own.
OURS = ("commercial-practice", "mains-fusing")
DAY = date(2026, 11, 25)


@cache
def packs_of(name: str) -> Packs:
    return load_packs([name])


@cache
def trials_of(name: str) -> Trials:
    path = shipped("rules") / f"{name}.yaml"
    return read_trials(path.read_text(encoding="utf-8"), str(path), packs_of(name))


def own_rules(name: str) -> list[Rule]:
    return [rule for rule in packs_of(name).rules if rule.pack == name]


def told(result: Result) -> str:
    return f"{result.place}: {result.rule} expected {result.expected}, got {result.got}: {result.message}"


@pytest.mark.parametrize("name", NAMES)
def test_every_pack_loads_with_its_trials(name: str) -> None:
    assert packs_of(name).heads[-1].name == name
    trials_of(name)


def test_at_least_twenty_five_rules() -> None:
    assert sum(len(own_rules(name)) for name in OURS) >= 25


def test_no_rule_stands_in_two_packs_of_ours() -> None:
    twice = [
        name for name, count in Counter(rule.name for pack in OURS for rule in own_rules(pack)).items() if count > 1
    ]
    assert twice == []


@pytest.mark.parametrize("name", OURS)
def test_rules_speak_in_words(name: str) -> None:
    for rule in own_rules(name):
        assert re.fullmatch(r"[a-z]+(-[a-z]+)+", rule.name), rule.name
        assert rule.says.endswith(".") and rule.says.count(". ") == 0, f"{rule.name}: one sentence is asked"
        assert rule.because.endswith("."), rule.name
        assert rule.source and rule.remedy and rule.settle, rule.name


@pytest.mark.parametrize("name", OURS)
def test_a_limit_from_memory_carries_no_critical_rule(name: str) -> None:
    assert [
        rule.name for rule in own_rules(name) if rule.severity == "critical" and rule.confidence == "remembered"
    ] == []


@pytest.mark.parametrize("name", NAMES)
def test_trials_come_out_as_they_say(name: str) -> None:
    packs = packs_of(name)
    results = [run_trial(trial, packs) for trial in trials_of(name).rules]
    assert [told(one) for one in results if not one.holds] == []


@pytest.mark.parametrize("name", OURS)
def test_every_rule_is_tried_each_way(name: str) -> None:
    """Each rule passes, fails and is not assessed once; comparisons are tried at their limit."""
    tried: dict[str, list[str]] = {}
    at_the_limit = set()
    for trial in trials_of(name).rules:
        tried.setdefault(trial.rule, []).append(trial.expect)
        if trial.ratio == 1.0:
            at_the_limit.add(trial.rule)
    for rule in own_rules(name):
        found = tried.get(rule.name, [])
        assert {"pass", "fail", "not assessed"} <= set(found), f"{rule.name}: {found}"
        assert set(found) <= set(VERDICTS)
        if rule.applies:
            assert "not applicable" in found, rule.name
        compares = hasattr(rule.shape, "formula")
        assert not compares or rule.name in at_the_limit, f"{rule.name}: no trial at the limit"


@pytest.mark.parametrize("name", OURS)
def test_critical_rules_are_tried_on_whole_designs(name: str) -> None:
    critical = {rule.name for rule in own_rules(name) if rule.severity == "critical"}
    assert critical <= {trial.rule for trial in trials_of(name).designs}


@pytest.mark.parametrize(("name", "number"), [(name, n) for name in OURS for n in range(len(trials_of(name).designs))])
def test_one_changed_fact_turns_a_sound_design(name: str, number: int, tmp_path: Path) -> None:
    trial = trials_of(name).designs[number]

    def judge_text(text: str) -> Review:
        path = tmp_path / "trial.yaml"
        path.write_text(text, encoding="utf-8")
        design, packs = load_design(str(path)), load_packs(OURS)
        return review_of(Work(design, Settings(), packs, worked(design, packs), {}), DAY)

    assert [told(one) for one in run_design_trial(trial, judge_text) if not one.holds] == []


@pytest.mark.parametrize("name", OURS)
def test_assumptions_say_what_they_rest_on(name: str) -> None:
    for (_, key), one in packs_of(name).assumptions.items():
        assert one.source and one.says, key
        assert 0.0 <= one.value.low <= one.value.high


def test_nothing_in_a_pack_asks_a_fact_that_is_always_there() -> None:
    """`present` and `record` ask for facts; a rule on a fact the program writes itself could never fail."""
    for name in OURS:
        for rule in own_rules(name):
            match rule.shape:
                case Presence(fact=fact) if fact:
                    assert not fact.startswith("part.kind")
                case Record(fields=fields):
                    assert not {"part.kind", "part.family", "part.fitted"} & set(fields)
