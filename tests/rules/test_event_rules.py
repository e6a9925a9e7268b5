"""The pack of events: every rule tried each way, words and sources in order, and what it says of each input style."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from derate.design.load import read_design
from derate.judge.review import Review
from derate.packs.load import load_packs, shipped
from derate.packs.pack import Rule
from derate.packs.trial import read_trials
from derate.study.work import Work, Workshop, review_of, worked

PATH = shipped("rules") / "mains-events.yaml"
STYLES = Path(__file__).parent.parent / "data" / "styles"
DAY = date(2026, 11, 25)
OTHERS = ("commercial-practice", "mains-fusing")


def rules() -> list[Rule]:
    return [rule for rule in load_packs(["mains-events"]).rules if rule.pack == "mains-events"]


def test_names_are_its_own() -> None:
    taken = {rule.name for pack in OTHERS for rule in load_packs([pack]).rules if rule.pack == pack}
    assert not taken & {rule.name for rule in rules()}


def test_every_rule_is_tried_each_way() -> None:
    trials = read_trials(PATH.read_text(encoding="utf-8"), str(PATH), load_packs(["mains-events"])).rules
    for rule in rules():
        own = [trial for trial in trials if trial.rule == rule.name]
        found = {trial.expect for trial in own}
        assert {"pass", "fail", "not assessed"} <= found, rule.name
        assert not rule.applies or "not applicable" in found, rule.name
        assert not hasattr(rule.shape, "formula") or any(trial.ratio == 1.0 for trial in own), rule.name


def test_rules_speak_in_words_and_carry_no_critical_memory() -> None:
    for rule in rules():
        assert rule.says.endswith(".") and rule.because.endswith("."), rule.name
        assert rule.source and rule.remedy and rule.settle, rule.name
        assert rule.severity != "critical" or rule.confidence != "remembered", rule.name


def review(name: str) -> Review:
    work = Workshop(["commercial-practice", "mains-fusing", "mains-events"]).work(str(STYLES / f"{name}.derate.yaml"))
    return review_of(work, DAY)


def verdicts(found: Review) -> dict[tuple[str, str], str]:
    """Verdict by rule and subject."""
    return {(one.rule, str(one.subject)): one.verdict for one in found.findings}


@pytest.mark.parametrize(("name", "expected"), [
    # 35 A to break, and 600 A: what cannot break the current does not clear it
    ("fuse", {("short-is-cleared", "mains"): "fail", ("fuse-breaking-capacity", "F1"): "fail",
              ("fuse-melts-at-restart", "F1"): "not applicable", ("mains-protective-part", "supply"): "pass"}),
    ("fusible-resistor", {("short-is-cleared", "mains"): "pass", ("fusible-resistor-dead-zone", "RF1"): "fail"}),
    ("ntc-with-fuse", {("short-is-cleared", "mains"): "pass", ("fuse-breaking-capacity", "F1"): "pass",
                       ("varistor-surge-energy", "RV1"): "pass", ("rectifier-surge-at-restart", "BR1"): "pass"}),
    ("track-only", {("short-is-cleared", "mains"): "fail", ("mains-protective-part", "supply"): "fail",
                    ("board-track-as-fuse", "TK1"): "fail"}),
    ("nothing", {("short-is-cleared", "mains"): "fail", ("mains-protective-part", "supply"): "fail"}),
])  # fmt: skip
def test_each_style(name: str, expected: dict[tuple[str, str], str]) -> None:
    found = verdicts(review(name))
    assert {key: found.get(key) for key in expected} == expected


def test_restart_of_the_style_with_a_thermistor() -> None:
    # 9.2 A2s times 0.48 is 4.4 A2s; a restart passes 1.6 to 5.4 A2s by what is known of the mains and the hot
    # thermistor: over in no kind reading and not under in the worst
    found = verdicts(review("ntc-with-fuse"))
    assert found["fuse-melts-at-restart", "F1"] == "not assessed"


@pytest.mark.parametrize(("old", "new", "subject", "rule", "then"), [
    ("melting_i2t: 9.2 A²s", "melting_i2t: 60 A²s", "F1", "fuse-melts-at-restart", "pass"),
    ("melting_i2t: 9.2 A²s", "melting_i2t: 0.5 A²s", "F1", "fuse-melts-at-restart", "fail"),
    ("breaking_capacity: 1500 A", "breaking_capacity: 35 A", "F1", "fuse-breaking-capacity", "fail"),
    ("breaking_capacity: 1500 A", "breaking_capacity: 35 A", "mains", "short-is-cleared", "fail"),
    ("breaking_capacity: 1500 A", "breaking_capacity: 400..2000 A", "mains", "short-is-cleared", "not assessed"),
    ("breaking_capacity: 1500 A, ", "", "mains", "short-is-cleared", "not assessed"),
    ("energy: 45 J", "energy: 6 J", "RV1", "varistor-surge-energy", "not assessed"),
    ("clamping_voltage: {1 mA: 470 V, 50 A: 775 V, 500 A: 900 V}", "temperature: 85 degC", "RV1",
     "varistor-surge-energy", "not assessed"),
    ("surge_current: 150 A at 8.3 ms", "surge_current: 15 A at 8.3 ms", "BR1", "rectifier-surge-at-restart", "fail"),
    ("mains_resistance: 0.2..0.6 ohm", "pollution_degree: 2", "F1", "fuse-breaking-capacity", "not assessed"),
])  # fmt: skip
def test_one_changed_fact(old: str, new: str, subject: str, rule: str, then: str, tmp_path: Path) -> None:
    text = (STYLES / "ntc-with-fuse.derate.yaml").read_text(encoding="utf-8")
    assert text.count(old) == 1
    path = tmp_path / "changed.derate.yaml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    work = Workshop(["commercial-practice", "mains-fusing", "mains-events"]).work(str(path))
    assert verdicts(review_of(work, DAY))[rule, subject] == then


def test_losing_a_fact_never_opens_the_gate() -> None:
    # the blocking law on the rule that carries the most: without its opening table nothing is shown to open
    text = (STYLES / "fusible-resistor.derate.yaml").read_text(encoding="utf-8")
    assert "short-is-cleared" in {rule.name for rule in rules()}
    without = text.replace("opens_within: {32 W: 60 s, 50 W: 30 s}, ", "")
    assert without != text
    path = STYLES / "fusible-resistor.derate.yaml"
    known = Workshop(["commercial-practice", "mains-fusing", "mains-events"]).work(str(path))
    design = read_design(without, str(path))
    lost: Work = known._replace(design=design, ledger=worked(design, known.packs))
    assert verdicts(review_of(known, DAY))["short-is-cleared", "mains"] == "pass"
    assert verdicts(review_of(lost, DAY))["short-is-cleared", "mains"] in ("fail", "not assessed")
