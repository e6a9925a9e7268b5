"""Planted defects: each is caught by the rule that should catch it, and the untouched design blocks on nothing.

From the sound supply, and from it with a fuse, with a capacitor across the mains and across the barrier, a generator
over every critical rule plants ratings below the stress, readings above the limit, distances and test voltages too
short, wrong words and missing provisions. What a rule has to catch is settled before it is tried (planting.py).
"""

from __future__ import annotations

from collections import Counter
from datetime import date
from functools import cache
from pathlib import Path

import pytest
from planting import Defect, caught, defects, planted, unplanted, without

from derate.design.load import read_design
from derate.study.trying import Bench
from derate.study.work import Work, Workshop, worked

VENT = Path(__file__).parents[2] / "designs" / "greenhouse-vent" / "greenhouse-vent.derate.yaml"
TEXT = VENT.read_text(encoding="utf-8")
DAY = date(2026, 11, 25)
# Variants in which rules apply that have nothing to look at in the design itself: name -> edits of the text.
AT = "  D9: {kind: diode"
FUSE = (
    "  F9: {kind: fuse, standard: IEC 60127, resistance: 0.1 ohm, rated: {current: 2 A, voltage: 300 Vac, "
    "breaking_capacity: 1500 A, melting_i2t: 9.6 A²s}}\n"
    "  CX9: {kind: film capacitor, class: X2, capacitance: 100 nF 20%, rated: {voltage: 310 Vac}}\n"
)
Y_CAPACITOR = "  CY9: {kind: ceramic capacitor, class: Y1, capacitance: 1 nF 20%, rated: {voltage: 400 Vac}}\n"
VARIANTS: dict[str, tuple[tuple[str, str], ...]] = {
    "as shipped": (),
    "with a fuse and an X capacitor": ((AT, FUSE + AT), ("line: [RF1, ", "line: [F9, across CX9, RF1, ")),
    "with a Y capacitor across the barrier": (
        (AT, Y_CAPACITOR + AT),
        ("bridging: none", "bridging: {CY9: [bulk minus, main minus]}"),
    ),
}
# Critical rules that no variant makes look at anything, so that nothing can be planted for them, and why.
CANNOT: dict[str, str] = {
    "solid-insulation-thickness": "no shipped design has a lead that lies on a body",
    "synchronous-rectifier-voltage": "the sound design rectifies with a diode; the pack's own trials plant one",
    "line-diode-only-at-mains-frequency": "the sound design has no line diode; its own trials plant one",
    "board-track-as-fuse": "the sound design has no track in the mains path; its own trials plant one",
    "bridging-part-basic": "asks two parts in series of class I equipment",
    "optocoupler-withstand": "the sound design has no optocoupler",
    "earth-continuity": "the sound design is of class II",
    "non-isolated-output-enclosed": "the output of the sound design is isolated",
    "non-isolated-metal-enclosed": "the output of the sound design is isolated",
    "non-isolated-leads-enclosed": "the output of the sound design is isolated",
    "fuse-breaking-capacity": "the sound design has a fusible resistor and no fuse; its own trials plant one",
    "fuse-breaking-capacity-stated": "the sound design has a fusible resistor and no fuse; its own trials plant one",
    "dropping-capacitor-class": "nothing drops the mains of the sound design; its own trials plant one",
    "dropping-capacitor-short-is-cleared": "nothing drops the mains of the sound design; its own trials plant one",
    "plug-fuse-is-real": "the plug of the sound design has no fuse; its own trials plant one",
    "touch-current-one-shorted": "no two capacitors in series: tests/required/test_one_open_one_shorted.py",
    "test-without-breakdown": "an outcome and no fact or reading: tests/stress/test_outcomes_of_tests.py plants them",
    "test-without-fire": "an outcome and no fact or reading: tests/stress/test_outcomes_of_tests.py plants them",
}


@cache
def bench_of(variant: str) -> Bench:
    text = TEXT
    for old, new in VARIANTS[variant]:
        assert old in text, old
        text = text.replace(old, new, 1)
    whole = Workshop().work(str(VENT))
    design = read_design(text, str(VENT))
    return Bench(Work(design, whole.settings, whole.packs, worked(design, whole.packs), whole.required), DAY)


@cache
def made(variant: str) -> tuple[Defect, ...]:
    """The defects of a variant; of those that are no news there, only what rules catch that the design has not."""
    every = tuple(defects(bench_of(variant)))
    if variant == "as shipped":
        return every
    before = {one.rule for one in made("as shipped")}
    return tuple(one for one in every if one.rule not in before)


def test_at_least_sixty_are_planted_over_the_critical_rules() -> None:
    every = [one for variant in VARIANTS for one in made(variant)]
    assert len(every) >= 60, Counter(one.rule for one in every)
    assert len({one.rule for one in every}) >= 20
    words = " ".join(one.words for one in every)
    assert "rated." in words and "read as" in words and "found.clearance" in words and "unmarked" in words


def test_the_untouched_design_blocks_on_nothing() -> None:
    assert [str(one.rule) for one in bench_of("as shipped").base.review.findings if one.blocks] == []


@pytest.mark.parametrize("variant", VARIANTS)
def test_each_is_caught_by_the_rule_that_should_catch_it(variant: str) -> None:
    bench = bench_of(variant)
    missed = [str(one) for one in made(variant) if not caught(planted(bench, one), one)]
    assert missed == []


def test_what_catches_them_is_the_rule_itself() -> None:
    """Without the rule its defect is caught by nothing of that name: the test can fail."""
    bench = bench_of("as shipped")
    for rule in sorted({one.rule for one in made("as shipped")})[:6]:
        one = next(one for one in made("as shipped") if one.rule == rule)
        assert not caught(planted(without(bench, rule), one), one)


def test_critical_rules_that_nothing_is_planted_for_are_named() -> None:
    lacking = dict.fromkeys(unplanted(bench_of("as shipped"), list(made("as shipped"))))
    for variant in VARIANTS:
        lacking = {rule: None for rule in lacking if rule not in {one.rule for one in made(variant)}}
    assert set(lacking) <= set(CANNOT), f"nothing is planted for {sorted(set(lacking) - set(CANNOT))}"
