"""The figures of a remedy: what a replacement has to bear is the bad end of the stress, never its kind one."""

from __future__ import annotations

import math

import pytest

from derate.judge.messages import Figure, _filled, _narrower, in_words, steps_of
from derate.judge.verdict import STRADDLES, Outcome
from derate.judge.view import Trace
from derate.ledger.entry import SUPPLY, OpenFact
from derate.packs.load import load_packs
from derate.packs.pack import Rule
from derate.terms.dimension import CURRENT, LENGTH
from derate.terms.values import ReadingError, Value

PACKS = load_packs(("commercial-practice", "mains-fusing"))


def _rule(remedy: str) -> Rule:
    return PACKS.rules[0]._replace(remedy=remedy)


@pytest.mark.parametrize(
    ("stress", "more", "expected"),
    [
        (Value(0.2, 0.25, 0.3, 0.32), False, "fit one for 0.32 A"),
        (Value(0.2, 0.25, 0.3, 0.32), True, "fit one for 0.2 A"),
        # a floor has no bad end to name
        (Value(0.2, 0.25, math.inf, math.inf), False, "fit one for more than 0.2 A (how much has yet to be found)"),
    ],
)
def test_the_worst_is_the_bad_end(stress: Value, more: bool, expected: str) -> None:
    outcome = Outcome("fail", Trace(), stress=stress, limit=Value.exact(0.1), dimension=CURRENT, more=more)
    assert in_words(steps_of(_rule("fit one for {worst}"), outcome, None)).startswith(expected)


@pytest.mark.parametrize(
    ("stress", "assumed", "measures"),
    [
        (Value.between(264.0, 26_400.0), True, True),  # a mains that nobody has measured: a fuse for 26 kA is no cure
        (Value.between(264.0, 26_400.0), False, False),  # stated so: what is stated has to be borne
        (Value.between(264.0, 520.0), True, False),  # less than twice: the bad end is a part that one can buy
        (Value.between(264.0, 530.0), True, True),
        (Value.exact(264.0), True, False),
        (Value(264.0, 264.0, math.inf, math.inf), True, False),  # open to that side whatever is found
    ],
)
def test_a_bad_end_that_is_only_assumed_is_measured_before_a_part_is_bought(
    stress: Value, assumed: bool, measures: bool
) -> None:
    trace = Trace()
    if assumed:
        trace.rests_on.add(OpenFact(SUPPLY, "site.mains_resistance"))
    outcome = Outcome("fail", trace, stress=stress, limit=Value.exact(35.0), dimension=CURRENT)
    for token in ("{worst}", "{cure}"):
        told = in_words(steps_of(_rule(f"fit one for {token}"), outcome, Figure("999 A")))
        assert told.startswith("first find resistance of the mains: loop tester") is measures, told
        assert ("what is then worked out" in told) is measures
        assert any(figure in told for figure in ("26400 A", "520 A", "264 A", "999 A")) is not measures


def test_a_limit_that_a_thing_has_to_meet_is_one_figure_and_its_bad_end() -> None:
    limit = Value(4600.0, 4620.0, 4840.0, 4850.0)
    for asked, more, expected in (
        (limit, True, "tested at 4850 A"),
        (limit, False, "tested at 4600 A"),
        (Value(6000.0, 6000.0, math.inf, math.inf), True, "tested at 6000 A"),
    ):
        outcome = Outcome("fail", Trace(), stress=Value.exact(1.0), limit=asked, dimension=CURRENT, more=more)
        assert in_words(steps_of(_rule("tested at {limit}"), outcome, None)).startswith(expected)


def test_what_has_no_upper_limit_is_not_asked_to_be_shown() -> None:
    """A limit of at least 3 mm against 6.1 to 6.4 mm: the limit has to become known, the distance is what it is."""
    found, limit = Value.between(6.1e-3, 6.4e-3), Value(3e-3, 3e-3, math.inf, math.inf)
    outcome = Outcome("not assessed", Trace(), stress=found, limit=limit, dimension=LENGTH, more=True, why=STRADDLES)
    assert _narrower(outcome, LENGTH) == "the limit has to be shown to be 6.1 mm or less"
    nothing = outcome._replace(stress=Value(0.0, 0.0, math.inf, math.inf), more=False, limit=Value.exact(1.0))
    assert _narrower(nothing, LENGTH) == "it has to be shown to be 1 m or less"


def test_a_figure_nobody_fills_in_is_refused(tmp_path) -> None:
    path = tmp_path / "own.yaml"
    path.write_text(
        "pack: own\ntitle: t\ncovers: c\nsources: {s: {title: t}}\ntables: {}\nassumptions: {}\nrules:\n"
        "  - {rule: one-two, says: a, because: b, hazard: life, severity: minor, keep: rated.life >= 100 h,\n"
        "     remedy: 'fit one for {worse}', settle: s, source: s, confidence: common practice}\n",
        encoding="utf-8",
    )
    with pytest.raises(ReadingError) as stopped:
        load_packs((str(path),))
    said = " ".join(f"{one.what} {one.instead}" for one in stopped.value.problems)
    assert "'{worse}' is no figure of a remedy" in said and "{worst}" in said


def test_no_shipped_remedy_holds_a_figure_in_braces_that_stays() -> None:
    packs = load_packs(("commercial-practice", "mains-fusing", "mains-events", "converter", "bench"))
    assert sum("{worst}" in rule.remedy for rule in packs.rules) > 15
    outcome = Outcome("fail", Trace(), stress=Value.exact(1.0), limit=Value.exact(0.5), dimension=CURRENT)
    assert not [rule.name for rule in packs.rules if "{" in in_words(steps_of(rule, outcome, None))]


def test_whether_a_figure_is_open_is_a_field_and_not_how_its_text_ends() -> None:
    """What is open takes no "or more" behind it and no "above" ahead; a text that only ends alike is left alone."""
    words = "more than 3 A (how much has yet to be found)"
    assert _filled("rated {worst} or more", "{worst}", Figure(words, is_open=True)) == f"rated for {words}"
    assert _filled("rated {worst} or more", "{worst}", Figure(words)) == f"rated {words} or more"
    assert _filled("a rating above {worst}", "{worst}", Figure("3 A", is_open=True)) == "a rating of 3 A"
    assert _filled("a rating above {worst}", "{worst}", Figure("3 A")) == "a rating above 3 A"
