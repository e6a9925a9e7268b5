"""A design while it is typed: what is put back is what would have been worked out, and little is worked out twice."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path
from random import Random

import pytest

from derate.design.load import load_design
from derate.editor.desk import Desk, State, same
from derate.judge.review import Finding, Review
from derate.study.work import Workshop, review_of

ROOT = Path(__file__).parents[2]
DAY = date(2026, 11, 25)
SOUND = "designs/greenhouse-vent/greenhouse-vent.derate.yaml"


@pytest.fixture(autouse=True)
def _at_the_root(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


def _day() -> date:
    return DAY


@cache
def _text() -> str:
    return (ROOT / SOUND).read_text(encoding="utf-8")


def _told(review: Review | None) -> list[tuple[object, ...]]:
    assert review is not None
    return [
        (one.rule, one.subject, one.verdict, one.ratio, one.place, one.message, one.remedy, one.blocks)
        for one in review.findings
    ]


def _changed(*pairs: tuple[str, str]) -> str:
    text = _text()
    for old, new in pairs:
        assert text.count(old) >= 1, old
        text = text.replace(old, new, 1)
    return text


def _opened() -> tuple[Desk, State]:
    desk = Desk(SOUND, _day)
    return desk, desk.put(_text())


def test_what_is_open_is_judged_as_the_command_judges_it() -> None:
    _, state = _opened()
    assert not state.problems and state.replayed == 0
    assert _told(state.review) == _told(review_of(Workshop().work(SOUND), DAY))


# One after another, as somebody types: figures of parts, then what a step may look at in the design itself.
TYPED = (
    (("capacitance: 220 uF 20%", "capacitance: 100 uF 20%"),),
    (("voltage: 700 V", "voltage: 620 V"), ("47 kohm 5%", "22 kohm 5%")),
    (("voltage: 25 V, life: 5000 h", "voltage: 12 V, life: 5000 h"),),
    (("clearance: 3.4 mm", "clearance: 2.0 mm"),),
    (("case_temperature: {RF1: 71 degC", "case_temperature: {RF1: 99 degC"),),
    (("[RF1, BR1, across C1, L1, across C2]", "[RF1, BR1, across C1, across C2, L1]"),),
    (("under 0.02 mA", "under 0.9 mA"),),
    (("parts:   ", "parts:\n  # one line more\n  "),),
    (("packs: [commercial-practice, mains-fusing", "packs: [commercial-practice, bench, mains-fusing"),),
    (("up_to: 1.5", "up_to: 1.1"),),
)


def test_what_is_put_back_is_what_would_be_worked_out() -> None:
    desk, _ = _opened()
    put_back = 0
    for pairs in TYPED:
        text = _changed(*pairs)
        state, fresh = desk.put(text), Desk(SOUND, _day).put(text)
        assert state.problems == fresh.problems, pairs
        if not fresh.problems:
            assert _told(state.review) == _told(fresh.review), pairs
        put_back += state.replayed > 0
    assert put_back >= 3  # else nothing was compared


@pytest.mark.parametrize("seed", [1])
def test_random_figures_come_out_alike(seed: int) -> None:
    draw = Random(seed)
    desk, _ = _opened()
    lines = _text().split("\n")
    parts = [number for number, line in enumerate(lines) if 26 < number < 72 and any(one.isdigit() for one in line)]
    compared = 0
    for _ in range(4):
        number = draw.choice(parts)
        at = draw.choice([place for place, one in enumerate(lines[number]) if one.isdigit()])
        digit = str((int(lines[number][at]) + draw.randrange(1, 9)) % 10)
        text = "\n".join((*lines[:number], lines[number][:at] + digit + lines[number][at + 1 :], *lines[number + 1 :]))
        state, fresh = desk.put(text), Desk(SOUND, _day).put(text)
        assert state.problems == fresh.problems, lines[number]
        if not fresh.problems:
            compared += 1
            assert _told(state.review) == _told(fresh.review), (lines[number], at, digit)
    assert compared >= 2


def test_a_changed_figure_is_worked_out_in_few_rows() -> None:
    desk, first = _opened()
    assert first.worked_out > 1000
    assert desk.put(_text()).worked_out == 0
    state = desk.put(_changed(("capacitance: 220 uF 20%", "capacitance: 100 uF 20%")))
    assert 0 < state.worked_out < first.worked_out / 4 and state.replayed > 2000
    again = desk.put(_changed(("voltage: 700 V", "voltage: 650 V")))
    assert 0 < again.worked_out < first.worked_out / 4


def test_what_cannot_be_read_keeps_the_last_that_could() -> None:
    desk, first = _opened()
    broken = desk.put(_changed(("frequency: 65 kHz", "frequency: 65 kHzz")))
    assert broken.problems and broken.review is first.review and broken.text != first.text
    assert not desk.put(_text()).problems
    assert Desk(SOUND, _day).put("").problems and Desk(SOUND, _day).put("derate: 1\nparts: [").problems


def test_a_file_that_is_open_over_midnight_is_held_to_the_new_day() -> None:
    days = [date(2027, 6, 30), date(2027, 7, 1)]  # the last day of the waiver, and the one after
    desk = Desk(SOUND, lambda: days[0])
    assert [one.blocks for one in _of_rule(desk.put(_text()), "bulk-capacitor-life", "C2")] == [False]
    del days[0]
    state = desk.put(_text())
    assert [one.blocks for one in _of_rule(state, "bulk-capacitor-life", "C2")] == [True] and state.replayed
    assert _told(state.review) == _told(Desk(SOUND, lambda: days[0]).put(_text()).review)


def _of_rule(state: State, rule: str, part: str) -> list[Finding]:
    assert state.review is not None
    return [one for one in state.review.findings if one.rule == rule and one.subject.names == (part,)]


def test_what_is_put_back_shows_its_own_line() -> None:
    desk, _ = _opened()
    moved = _changed(("\n\ncircuit:", "\ncircuit:")) + "\n"  # as many lines as before, most of them elsewhere
    assert _told(desk.put(moved).review) == _told(Desk(SOUND, _day).put(moved).review)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("derate: 1 ", "# a line\n# another\nderate: 1 "),
        ("transformers: measured, barriers: measured", "transformers: assumed, barriers: assumed"),
    ],
    ids=["lines", "evidence"],
)
def test_a_file_that_it_revises_was_saved(old: str, new: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / ".git").mkdir()
    base = tmp_path / Path(SOUND).name
    base.write_text(_text(), encoding="utf-8")
    path = "revision.derate.yaml"
    text = (
        f"derate: 1\nrevision_of: {base.name}\nsupply: {{name: Revision, basis: own design, sample: none}}\n"
        "known_by: {barriers: measured, transformers: measured}\n"
    )
    monkeypatch.chdir(tmp_path)
    desk = Desk(path, _day)
    assert not desk.put(text).problems and desk.may_read(str(base)) and not desk.may_read("another.derate.yaml")
    base.write_text(_changed((old, new)), encoding="utf-8")
    state, fresh = desk.put(text), Desk(path, _day).put(text)
    assert _told(state.review) == _told(fresh.review) and _rows(state) == _rows(fresh)
    assert state.replayed == 0  # no figure of a part was changed


def _rows(state: State) -> dict[tuple[object, ...], tuple[object, ...]]:
    assert state.work is not None
    return {
        (one.subject, one.quantity, one.case): (one.value, one.known_by, one.place) for one in state.work.ledger.entries
    }


def test_alike_where_they_stand_included() -> None:
    one, other = load_design(SOUND), load_design(SOUND)
    assert same(one.file, other.file) and same(one.structure, other.structure)
    moved = Desk(SOUND, _day).put("# a line more\n" + _text()).work
    assert moved is not None and not same(moved.design.structure, one.structure)
    changed = Desk(SOUND, _day).put(_changed(("across C1, L1, across C2", "across C1, across C2, L1"))).work
    assert changed is None or not same(changed.design.structure, one.structure)
    assert not same((1, 2), (1, 3)) and not same((1,), [1]) and not same({"a": 1}, {"b": 1}) and not same((1,), (1, 2))
