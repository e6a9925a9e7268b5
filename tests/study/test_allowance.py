"""A study takes so much work and no more: what it left is told in words, and nothing is told of what it did not try."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path

import pytest

from derate.cli.main import main
from derate.ledger.recorded import RecordingLedger
from derate.report.studies import headroom_lines
from derate.study import trying
from derate.study.headroom import Headroom, cures, headroom
from derate.study.missing import FIRST, missing_facts
from derate.study.trying import MOST_WORK, Bench
from derate.study.work import Work, Workshop
from derate.terms.values import Value

ROOT = Path(__file__).resolve().parents[2]
DAY = date(2026, 11, 25)
LAMP = str(ROOT / "designs" / "market-stall-lamp" / "market-stall-lamp.derate.yaml")
SOUND = str(ROOT / "designs" / "greenhouse-vent" / "greenhouse-vent.derate.yaml")


@cache
def work(path: str) -> Work:
    return Workshop(ledger=RecordingLedger).work(path)


@cache
def whole() -> tuple[tuple[Headroom, ...], int]:
    bench = Bench(work(LAMP), DAY, most=MOST_WORK)
    return headroom(bench), bench.allowance.spent


def test_what_a_trial_counts() -> None:
    """A trial that changes nothing is put back whole, a twentieth a step; a row behind a bulk choke counts twice."""
    lamp = Bench(work(LAMP), DAY)
    first = lamp.allowance.spent
    ledger = lamp.base.ledger
    assert isinstance(ledger, RecordingLedger) and ledger.worked_out > 500 and ledger.steps > 1500
    assert first == lamp.allowance.trial == ledger.worked_out + ledger.steps // 20
    lamp.tried({})
    assert lamp.allowance.spent == first + ledger.steps // 20
    fact = next((one.subject, one.quantity) for one in lamp.facts if one.quantity == "plate.current")
    lamp.tried({fact: Value.exact(0.123)})
    assert lamp.allowance.spent > first + ledger.steps // 10 + 300 and lamp.allowance.trial == first
    sound = Bench(work(SOUND), DAY)
    behind = sound.base.ledger
    assert isinstance(behind, RecordingLedger)
    assert sound.allowance.spent == 2 * behind.worked_out + behind.steps // 20


def test_no_trial_is_begun_that_could_go_beyond() -> None:
    """One that works everything out afresh takes what the design itself took."""
    first = Bench(work(LAMP), DAY).allowance.spent
    assert Bench(work(LAMP), DAY, most=2 * first - 1).allowance.over
    assert not Bench(work(LAMP), DAY, most=2 * first).allowance.over


def test_a_trial_that_cannot_be_worked_through_counts_too(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = Bench(work(LAMP), DAY)
    first = bench.allowance.spent
    fact = next((one.subject, one.quantity) for one in bench.facts if one.quantity == "plate.current")
    own = trying.worked

    def failing(*given: object) -> object:
        own(*given)  # type: ignore[arg-type]
        raise ArithmeticError

    monkeypatch.setattr(trying, "worked", failing)
    assert bench.attempt({fact: Value.exact(0.123)}) is None and bench.allowance.spent > first + 300


def test_nothing_is_tried_where_nothing_may_be() -> None:
    bench = Bench(work(LAMP), DAY, most=0)
    assert all(one.end is None and "the study stopped there" in one.why for one in headroom(bench))
    assert cures(bench) == () and bench.runs == 0
    facts = missing_facts(bench, False, FIRST)
    assert bench.runs == 0 and len(facts) > FIRST and all(one.kind is None for one in facts)


@pytest.mark.parametrize("most", [4000, 8000, 16000])
def test_a_study_that_stops_goes_no_further_than_one_that_does_not(most: int) -> None:
    """What it says holds, holds; it may only have looked less far."""
    bench = Bench(work(LAMP), DAY, most=most)
    ends = headroom(bench)
    assert any("the study stopped there" in one.why for one in ends)
    for one, full in zip(ends, whole()[0], strict=True):
        assert one.name == full.name
        if one.end is not None and full.end is not None and one.axis is not None:
            assert abs(one.end - one.axis.rated) <= abs(full.end - one.axis.rated) + 1e-9
    said = "\n".join(headroom_lines("x.yaml", ends, (), 0, None))
    assert said.count("the study stopped there, at the most work it may take") == sum(
        "stopped" in one.why for one in ends
    )
    assert most - bench.allowance.trial < bench.allowance.spent <= most, "as far as one trial more could go beyond"


def test_no_shipped_design_is_cut_short() -> None:
    ends, spent = whole()
    assert 10_000 < spent < MOST_WORK and not any("stopped" in one.why for one in ends)


@pytest.mark.parametrize("command", ["missing", "headroom"])
def test_the_command_says_so(command: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setattr(trying, "MOST_WORK", 0)
    assert main([command, LAMP]) == 0
    assert capsys.readouterr().out.count("note: the study stopped at the most work it may take: ") == 1
