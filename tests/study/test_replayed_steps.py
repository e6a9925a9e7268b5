"""Replaying is exact: whatever fact is changed, the rows and findings are those of a run from nothing."""

from __future__ import annotations

import random
from datetime import date

import pytest

from derate.ledger.entry import Entry
from derate.ledger.ledger import Ledger
from derate.ledger.recorded import RecordingLedger, alike
from derate.packs.load import shipped
from derate.study.trying import Bench, ladder, shaped, word, words_of
from derate.study.work import Workshop, worked
from derate.terms.values import Known
from derate.terms.vocabulary import VOCABULARY

TODAY = date(2026, 11, 28)
DESIGNS = ("greenhouse-vent/greenhouse-vent", "market-stall-lamp/market-stall-lamp", "first-look/desk-lamp-adapter")


def _bench(name: str) -> Bench:
    return Bench(Workshop().work(str(shipped("designs") / f"{name}.derate.yaml")), TODAY)


def _values(bench: Bench, fact: Entry) -> list[Known | None]:
    """Nobody knows, and every value a study would try."""
    term = VOCABULARY[fact.quantity]
    if term.dimension is None:
        return [None, *(word(one) for one in words_of(term, bench.work.packs))]
    return [None, *(shaped(term, number, fact.value) for number in ladder(term))]


@pytest.mark.parametrize("name", DESIGNS)
def test_a_replayed_run_equals_one_from_nothing(name: str) -> None:
    bench = _bench(name)
    draw = random.Random(name)
    replayed = compared = 0
    for fact in draw.sample(bench.facts, min(24, len(bench.facts))):
        value = draw.choice(_values(bench, fact))
        key = (fact.subject, fact.quantity)
        quick = bench.attempt({key: value})
        rows = [one for one in bench.facts if (one.subject, one.quantity) != key]
        if value is not None:
            rows.append(Entry(len(bench.facts) + 1, *key, None, value, known_by="measured"))
        try:
            slow = bench.judged(worked(bench.work.design, bench.work.packs, rows, Ledger()))
        except (ValueError, ArithmeticError):
            assert quick is None
            continue
        assert quick is not None
        found, wanted = _rows(quick.ledger), _rows(slow.ledger)
        assert found.keys() == wanted.keys(), f"{fact.subject}: {fact.quantity} = {value}"
        assert not [one for one in found if not alike(found[one], wanted[one])], f"{fact.subject}: {fact.quantity}"
        ours = {one: finding._replace(entries=()) for one, finding in quick.verdicts().items()}
        theirs = {one: finding._replace(entries=()) for one, finding in slow.verdicts().items()}
        assert ours == theirs, f"{fact.subject}: {fact.quantity} = {value}"
        assert isinstance(quick.ledger, RecordingLedger)
        replayed += quick.ledger.replayed
        compared += 1
    assert compared >= 10
    assert replayed > 0.5 * compared * len(bench.base.ledger.tape().steps)  # type: ignore[attr-defined]


def test_a_fact_that_nothing_reads_runs_no_formula() -> None:
    bench = _bench(DESIGNS[0])
    fact = next(one for one in bench.facts if one.quantity == "part.marking" or one.quantity == "supply.basis")
    result = bench.tried({(fact.subject, fact.quantity): None})
    assert result.ledger.solves == 0


def _rows(ledger: Ledger) -> dict[tuple[object, ...], Entry]:
    return {(one.subject, one.quantity, one.case): one for one in ledger.entries}
