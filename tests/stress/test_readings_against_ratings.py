"""No reading is merely unused: it stands against its rating under any name, at any condition or none."""

from __future__ import annotations

from datetime import date
from functools import cache

import pytest

from derate.design.load import read_design
from derate.design.settings import Settings
from derate.judge.review import Finding, Review
from derate.packs.load import shipped
from derate.study.work import Work, Workshop, required_of, review_of, worked

PATH = shipped("designs") / "greenhouse-vent" / "greenhouse-vent.derate.yaml"
SOUND = PATH.read_text(encoding="utf-8")
WORKSHOP = Workshop()
RULES = ("reading-within-voltage", "reading-within-current", "reading-within-temperature", "reading-is-heard")


@cache
def review(reading: str) -> Review:
    text = SOUND.replace("tests:     ", f"  - {{{reading}}}\ntests:     ", 1)
    design = read_design(text, str(PATH))
    packs = WORKSHOP.packs_for(str(PATH), design, Settings())
    work = Work(design, Settings(), packs, worked(design, packs), required_of(packs))
    return review_of(work, date(2026, 11, 25))


def heard(reading: str) -> list[Finding]:
    """What stops with a reading and not without it."""
    return [one for one in review(reading).findings if one.blocks]


def own(reading: str) -> list[str]:
    """Verdicts of the four rules on the readings that the sound design does not have."""
    before = {str(one.subject) for one in review("note: nothing").findings if one.rule in RULES}
    return sorted(
        {one.verdict for one in review(reading).findings if one.rule in RULES and str(one.subject) not in before}
        - {"not applicable"}
    )


FULL = "at: {mains: 230 V, frequency: 50 Hz, load: full, ambient: 24 degC, after: 60 min}"
OVERLOAD = "at: {mains: 230 V, load: overload, ambient: 24 degC, after: 240 min}"


@pytest.mark.parametrize("at", [
    FULL, OVERLOAD, "at: {mains: 230 V}", "at: {load: full}", "at: {ambient: 24 degC}", "at: {load: none}", "note: x",
    "at: {mains: unknown, load: overload}",
])  # fmt: skip
@pytest.mark.parametrize("what", [
    "voltage_peak: {Q1: 750 V}",  # 700 V
    "voltage: {C1: 480 V}",  # 400 V, and 450 V for a surge
    "voltage_peak: {D7: 130 V}",  # 100 V, written under another name than the rule's
    "case_temperature: {RF1: 260 degC}",  # nothing of its power is left at 155 degC
    "winding_temperature: {T1: 215 degC}",  # over class H in overload
    "voltage: {main: 28 V}",  # 25 V capacitors across the output
    "case_temperature: {enclosure: 130 degC}",
])  # fmt: skip
def test_over_the_rating_at_any_condition_or_none_is_a_fail(what: str, at: str) -> None:
    assert any(one.verdict == "fail" for one in heard(f"{at}, {what}"))


@pytest.mark.parametrize(("what", "at", "expected"), [
    ("voltage: {C1: 430 V}", "at: {mains: 230 V, load: full}", ["fail"]),
    ("voltage: {C1: 430 V}", "at: {mains: 230 V}", ["not assessed"]),  # it may have been a surge, and 450 V are rated
    ("voltage_peak: {Q1: 690 V}", "at: {mains: 230 V}", ["not assessed"]),
    ("voltage_peak: {D7: 60 V}", "at: {mains: 230 V, load: full}", ["pass"]),
    ("winding_temperature: {T1: 100 degC}", "at: {load: full}", ["not assessed"]),
    ("power: {R9: 5 mW}", "at: {load: full}", ["not assessed"]),
    ("voltage: {main: 12.0 V}", "note: x", ["not assessed"]),
    ("ripple: {main: 38 mVpp}", "at: {load: full}", ["not assessed"]),
    ("mains_power: 19 W", "at: {load: full}", ["not assessed"]),
    ("voltage_peak: {Q1: unknown}", "at: {mains: 230 V, load: full}", ["not assessed"]),
])  # fmt: skip
def test_within_the_rating_a_condition_that_is_not_known_is_not_assessed(
    what: str, at: str, expected: list[str]
) -> None:
    assert own(f"{at}, {what}") == expected
    assert bool(heard(f"{at}, {what}")) == (expected != ["pass"])


def test_a_case_whose_ambient_nobody_wrote_down_is_at_least_so_hot() -> None:
    """87 degC in overload and 95 degC beside it, read at 92 and 99 with an uncertainty of 2.5 K."""
    hot = "at: {mains: 230 V, load: overload, after: 240 min}, case_temperature: {enclosure: 92 degC}"
    assert "case-temperature-in-overload" in {one.rule for one in heard(hot) if one.verdict == "fail"}
    for at in ("at: {mains: 230 V, load: full}", "note: x"):
        found = heard(f"{at}, case_temperature: {{enclosure: 99 degC}}")
        assert "case-temperature-as-read" in {one.rule for one in found if one.verdict == "fail"}
