"""Derating profiles: every row tried, the check values of their documents, no row never a pass."""

from __future__ import annotations

import re
from datetime import date
from functools import cache
from pathlib import Path

import pytest
import yaml

from derate.cli.main import main
from derate.judge.trials import run_trial
from derate.packs.load import Packs, load_packs, profile_names, shipped
from derate.packs.trial import read_trials
from derate.report.profiles import profile_lines, profile_words
from derate.study.work import Workshop, review_of

ROOT = Path(__file__).parents[2]
SOUND = str(ROOT / "designs/greenhouse-vent/greenhouse-vent.derate.yaml")
NAMES = profile_names()
READ = {"profile-space-agency", "profile-pc-supply"}
PAGE = (ROOT / "docs" / "profiles.md").read_text(encoding="utf-8")


@cache
def packs_of(name: str) -> Packs:
    return load_packs([name])


def path_of(name: str) -> Path:
    return shipped("rules") / "profiles" / f"{name}.yaml"


def got(name: str, rule: str, facts: str) -> str:
    """What a rule of a profile comes to on one part with these facts."""
    text = path_of(name).read_text(encoding="utf-8").split("\n---\n")[0]
    trials = f"{text}\n---\ntrials:\n  {rule}: [{{{facts}, expect: pass}}]\n"
    (trial,) = read_trials(trials, str(path_of(name)), packs_of(name)).rules
    return run_trial(trial, packs_of(name)).got


def test_all_eight_are_there() -> None:
    assert len(NAMES) == 8
    for name in NAMES:
        base = re.sub("-(one|two|three)$", "-one", name)
        assert f"`{base}`" in PAGE or f"`{name}`" in PAGE


@pytest.mark.parametrize("name", NAMES)
def test_every_row_is_tried_both_ways(name: str) -> None:
    """Every rule of a profile has trials that pass, that fail and that lack a fact, and all come out as written."""
    packs = packs_of(name)
    trials = read_trials(path_of(name).read_text(encoding="utf-8"), str(path_of(name)), packs).rules
    own = [rule for rule in packs.rules if rule.pack == name]
    assert len(own) > 10
    seen: dict[str, set[str]] = {rule.name: set() for rule in own}
    for trial in trials:
        result = run_trial(trial, packs)
        assert result.got == result.expected, result
        seen[result.rule].add(result.expected)
    for rule, verdicts in seen.items():
        wanted = {"pass", "fail", "not assessed"}
        if rule.endswith("-has-a-row"):
            wanted = {"pass", "not assessed"}
        elif rule == "pc-safety-capacitor":
            wanted = {"not assessed", "not applicable"}
        assert wanted <= verdicts, (rule, verdicts)


@pytest.mark.parametrize("name", NAMES)
def test_second_hand_rows_say_so(name: str) -> None:
    """A row that was read is published; one from a transcription or a typed table is one source, and says it."""
    packs = packs_of(name)
    for rule in packs.rules:
        if rule.pack == name:
            assert rule.confidence == ("published" if name in READ else "one source")
            assert rule.severity == "major" and rule.hazard == "overstress"
            told = "read" if name in READ else ("as typed out" if "reliability" in name else "as transcribed")
            assert told in rule.source, rule.source


# Pack, rule, facts, the figure at the limit and one just over it; document and table stand beside each.
CHECKS = yaml.safe_load((Path(__file__).parent / "profile_checks.yaml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("one", CHECKS, ids=lambda one: f"{one['rule']} {one['holds']}")
def test_check_values(one: dict[str, str]) -> None:
    name = f"profile-{one['pack']}"
    assert got(name, one["rule"], one["facts"].format(one["holds"])) == "pass"
    assert got(name, one["rule"], one["facts"].format(one["over"])) == "fail"


# Parts that the documents have no row for.
WITHOUT = (
    ("space-agency", ("electrolytic capacitor", "optocoupler", "varistor")),
    ("european-space", ("electrolytic capacitor", "ceramic capacitor", "film capacitor", "fuse")),
    ("military-grade-one", ("electrolytic capacitor", "fuse", "optocoupler")),
    ("military-grade-two", ("electrolytic capacitor", "fuse", "optocoupler")),
    ("military-grade-three", ("fuse", "optocoupler")),
    ("reliability-severe", ("MOSFET", "controller", "film resistor")),
    ("reliability-benign", ("bipolar transistor", "controller", "film resistor")),
    ("pc-supply", ("fuse", "varistor", "zener diode", "suppressor diode")),
)


@pytest.mark.parametrize(("pack", "kinds"), WITHOUT)
def test_no_row_is_never_a_pass(pack: str, kinds: tuple[str, ...]) -> None:
    name = f"profile-{pack}"
    rule = next(one.name for one in packs_of(name).rules if one.pack == name and one.name.endswith("-has-a-row"))
    for kind in kinds:
        assert got(name, rule, f"part.kind: {kind}") == "not assessed"
        for own in packs_of(name).rules:
            words = [word for one in own.applies if one.name == "part.kind" for word in one.words]
            assert own.pack != name or kind not in words, (own.name, kind)


@pytest.mark.parametrize("pack", ["space-agency", "european-space", "military-grade-two"])
def test_a_gate_whose_drive_nobody_works_out_is_not_assessed(pack: str) -> None:
    """A MOSFET has a row, and its gate one of its own: with everything else known it is not passed over."""
    name = f"profile-{pack}"
    review = review_of(Workshop((name,)).work(SOUND), date(2026, 11, 25))
    (gate,) = (one for one in review.findings if one.rule.endswith("-gate-voltage") and one.verdict != "not applicable")
    assert gate.verdict == "not assessed" and gate.blocks and str(gate.subject) == "Q1"


def test_safety_capacitors_have_no_row_in_the_guide_for_pc_supplies() -> None:
    for place in ("mains shunt", "bridging", "dropping capacitor"):
        facts = f"part.kind: film capacitor, part.place: {place}, rated.voltage: 275 V, voltage_peak: 100 V"
        assert got("profile-pc-supply", "pc-safety-capacitor", facts) == "not assessed"
        assert got("profile-pc-supply", "pc-capacitor-peak-voltage", facts) == "not applicable"


def test_several_stand_side_by_side(capsys: pytest.CaptureFixture[str]) -> None:
    """One line each, with the worst word, and the parts without a row by name; the parts are those of the design."""
    arguments = [word for name in NAMES for word in ("--pack", name)]
    assert main(["lint", SOUND, *arguments, "--today", "2026-11-25"]) == 1
    told = [line for line in capsys.readouterr().out.splitlines() if re.search(r": profile-[a-z-]+: ", line)]
    assert sorted(re.search(r"profile-[a-z-]+", line)[0] for line in told) == sorted(NAMES)  # type: ignore[index]
    (space,) = (line for line in told if "profile-european-space" in line)
    assert "this profile has no row: C1, C2, L1" in space and "C4" in space.rpartition("no row:")[2]
    for line in told:
        assert re.search(r": (fail|not assessed) \(", line), line


def test_a_profile_changes_no_verdict_of_the_others() -> None:
    """Beside the packs it builds on, what those say of the same parts stays as it was; and it is known as shipped."""
    day = date(2026, 11, 25)
    plain = review_of(Workshop(("commercial-practice",)).work(SOUND), day)
    both = review_of(Workshop(("commercial-practice", "profile-pc-supply")).work(SOUND), day)
    mine = {(one.rule, one.subject, one.verdict) for one in both.findings if not one.pack.startswith("profile-")}
    before = {(one.rule, one.subject, one.verdict) for one in plain.findings}
    assert mine <= before
    assert {rule for rule, _, _ in before - mine} == {"rating-is-asked"}  # the profile asks a rating that nothing did
    head = next(one for one in packs_of("profile-pc-supply").heads if one.name == "profile-pc-supply")
    assert head.shipped
    assert list(profile_lines([plain])) == []


def test_a_part_without_a_row_keeps_a_profile_from_passing() -> None:
    review = review_of(Workshop(("profile-pc-supply",)).work(SOUND), date(2026, 11, 25))
    own = [one for one in review.findings if one.pack == "profile-pc-supply"]
    held = [one for one in own if one.verdict == "pass"]
    lacking = next(one for one in held if one.rule == "pc-has-a-row")._replace(verdict="not assessed")
    assert profile_words(held).startswith("pass (")
    told = profile_words([*held, lacking])
    assert told.startswith("not assessed (") and told.endswith(f"this profile has no row: {lacking.subject}")
    assert profile_words([lacking]).startswith("not assessed (nothing asked)")


def test_a_slip_in_the_name_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lint", SOUND, "--pack", "profile-pc-suply"]) == 2
    assert "write profile-pc-supply" in capsys.readouterr().err
