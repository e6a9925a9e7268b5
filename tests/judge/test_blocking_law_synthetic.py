"""The verdict laws on synthetic ledgers, every rule of the worked pack: no loss of knowledge opens the gate."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from hypothesis import assume, given, settings
from hypothesis import strategies as st
from synthetic import FILE, PACKS, TODAY, Row, blocking, ledgers, reviewed

from derate.judge.acknowledge import Waiver
from derate.judge.review import Review
from derate.packs.load import read_packs
from derate.terms.values import Category, Place, Value
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import SHOWN

FEW = settings(max_examples=60, deadline=None)


def _holds(before: Review, after: Review) -> None:
    """Whatever blocked blocks still, rule by rule, and so does the whole; and no word gets better.

    What blocks only because a minor rule fails by twice its limit is left out: once the fact under it is gone, it is
    a minor finding that is not assessed, and stops nobody (DEVELOPERS.md says so).
    """
    raised = {(one.rule, one.subject) for one in before.findings if one.raised}
    lost = set(blocking(before)) - set(blocking(after)) - raised
    assert not lost, lost
    if set(blocking(before)) - raised:
        assert after.blocks
    spared = {one.hazard for one in before.findings if one.raised}
    for was, now in zip(before.hazards, after.hazards, strict=True):
        assert was.hazard == now.hazard
        if was.hazard not in spared:
            assert was.word in SHOWN or now.word not in SHOWN, (was, now)


@FEW
@given(ledgers(), st.data())
def test_deleting_a_fact(rows: tuple[Row, ...], data: Any) -> None:
    assume(rows)
    gone = data.draw(st.sampled_from(rows))
    _holds(reviewed(rows), reviewed([row for row in rows if row is not gone]))


@FEW
@given(ledgers(), st.data())
def test_deleting_many_facts(rows: tuple[Row, ...], data: Any) -> None:
    kept = [row for row in rows if data.draw(st.booleans())]
    _holds(reviewed(rows), reviewed(kept))


@FEW
@given(ledgers(), st.data())
def test_widening_a_range(rows: tuple[Row, ...], data: Any) -> None:
    assume(rows)
    chosen = data.draw(st.sampled_from(rows))
    if isinstance(chosen.value, Value):
        value = chosen.value
        down, up = (data.draw(st.sampled_from([0.0, 0.1, 0.5])) * value.near for _ in range(2))
        near, far = value.near - down, value.far + up
        wide: Any = Value(min(value.low, near), near, far, max(value.high, far))
    else:
        assert isinstance(chosen.value, Category)
        words = VOCABULARY[chosen.name].words or ("mains path", "output", "across the barrier")
        wide = Category.of(*chosen.value.members, data.draw(st.sampled_from(words)))
    _holds(reviewed(rows), reviewed([replace(row, value=wide) if row is chosen else row for row in rows]))


@FEW
@given(ledgers(), st.data())
def test_marking_a_fact_assumed(rows: tuple[Row, ...], data: Any) -> None:
    assume(rows)
    chosen = data.draw(st.sampled_from(rows))
    _holds(reviewed(rows), reviewed([replace(row, assumed=True) if row is chosen else row for row in rows]))


@FEW
@given(ledgers(), st.data())
def test_moving_a_quantity_its_bad_way(rows: tuple[Row, ...], data: Any) -> None:
    movable = [row for row in rows if isinstance(row.value, Value) and VOCABULARY[row.name].bad]
    assume(movable)
    chosen = data.draw(st.sampled_from(movable))
    assert isinstance(chosen.value, Value)
    factor = data.draw(st.sampled_from([1.01, 1.5, 10.0])) ** VOCABULARY[chosen.name].bad
    worse = [replace(row, value=chosen.value.scaled(factor)) if row is chosen else row for row in rows]
    before, after = reviewed(rows), reviewed(worse)
    _holds(before, after)
    verdicts = {(one.rule, one.subject): one.verdict for one in after.findings}
    for one in before.findings:  # and no finding goes away for a higher stress
        if one.pack != "derate" and one.verdict in ("fail", "not assessed", "marginal"):
            assert verdicts[one.rule, one.subject] != "pass", one


@FEW
@given(ledgers(), st.data())
def test_switching_a_rule_off(rows: tuple[Row, ...], data: Any) -> None:
    rule = data.draw(st.sampled_from(PACKS.rules))
    house = f"pack: house\ntitle: H\ncovers: h\nbuilds_on: [worked]\nswitch_off: {{{rule.name}: {{reason: not ours}}}}"
    changed = read_packs({"worked.yaml": FILE.read_text(encoding="utf-8"), "house.yaml": house})
    before, after = reviewed(rows), reviewed(rows, changed)
    still = {name for name, _ in blocking(after)}
    assert {name for name, _ in blocking(before)} <= still
    assert after.blocks >= before.blocks
    assert any("not ours" in note for note in after.notes)


@FEW
@given(ledgers())
def test_leaving_a_required_pack_out(rows: tuple[Row, ...]) -> None:
    none = read_packs({})
    assert reviewed(rows, none, required_packs={"worked": ("fire", "shock")}).blocks


@FEW
@given(ledgers(), st.integers(0, 400))
def test_an_expiring_waiver(rows: tuple[Row, ...], days: int) -> None:
    review = reviewed(rows)
    failing = [one for one in review.findings if one.verdict == "fail"]
    assume(failing)
    waivers = [
        Waiver(one.rule, str(one.subject), 1e9, "r", "b", TODAY + timedelta(days % 30), Place("w", number))
        for number, one in enumerate(failing, start=1)
    ]
    later = reviewed(rows, waivers=[one._replace(last_day=date(2026, 1, 1)) for one in waivers])
    _holds(reviewed(rows, waivers=waivers), later)
    assert blocking(later) == blocking(review)


@FEW
@given(ledgers(), st.randoms())
def test_the_order_of_facts_changes_nothing(rows: tuple[Row, ...], random: Any) -> None:
    other = list(rows)
    random.shuffle(other)

    def told(review: Review) -> Any:
        return [one._replace(entries=()) for one in review.findings], review.hazards, review.counts, review.notes

    assert told(reviewed(rows)) == told(reviewed(other))


@FEW
@given(ledgers())
def test_one_finding_a_rule_and_subject(rows: tuple[Row, ...]) -> None:
    review = reviewed(rows)
    keys = [(one.rule, one.subject) for one in review.findings]
    assert len(keys) == len(set(keys))
    assert sum(review.counts.values()) == len(keys)
    for one in review.findings:
        assert one.message
        assert (
            one.verdict != "not assessed"
            or one.missing
            or one.rests_on
            or "cannot" in one.message
            or one.limit
            or (one.pack == "derate")
        ), one
