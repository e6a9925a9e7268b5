"""The blocking law on a whole converter: losing a fact, or having it only assumed, never opens a gate; nothing breaks.

Every fact of a sound design and of one with four parts too small is taken away in turn, marked as assumed,
and opened at
its upper end. What blocked before has to block after; no variation may end in anything but rows and holes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from math import inf

import pytest
from random_flybacks import CONVERTER
from random_supplies import ASSUMED
from test_converter_rows import TEXT

from derate.design.facts import facts
from derate.design.load import Design, read_design
from derate.design.settings import Settings
from derate.ledger.entry import Entry, OpenFact, Subject
from derate.ledger.ledger import Ledger
from derate.ledger.recorded import RecordingLedger, Tape
from derate.packs.load import load_packs
from derate.run import run
from derate.study.work import Work, review_of, worked
from derate.terms.values import Value

SMALL = (
    ("rated: {voltage: 700 V, on", "rated: {voltage: 500 V, on"), ("reverse_voltage: 100 V, current: 5 A",
    "reverse_voltage: 50 V, current: 2 A"),
    ("ripple_current: 2 A at 100 kHz", "ripple_current: 0.5 A at 100 kHz"), ("core: {area: 52 mm²",
    "core: {area: 20 mm²"),
)  # fmt: skip
PACKS = load_packs(["commercial-practice", "converter"])
# An operating range of a part: a wider one is a better part, and none at all is another question.
_RANGES = ("rated.supply",)


def too_small() -> str:
    text = TEXT
    for old, new in SMALL:
        assert text.count(old) == 1
        text = text.replace(old, new)
    return text


def blocking(design: Design, rows: list[Entry], tape: Tape | None = None) -> set[tuple[str, Subject]]:
    """What blocks with these rows. tape: of the design as it is, from which what they do not touch is replayed."""
    numbered = [replace(row, number=k + 1) for k, row in enumerate(rows)]
    ledger = RecordingLedger(None, tape) if tape is not None else Ledger()
    review = review_of(
        Work(design, Settings(), PACKS, worked(design, PACKS, numbered, ledger), {}), date(2026, 11, 25)
    )  # fmt: skip
    return {(one.rule, one.subject) for one in review.findings if one.blocks}


class Replayed:
    """A design worked through once: what blocks with other rows, replayed, and one in so many afresh as well."""

    def __init__(self, design: Design, one_in: int = 20) -> None:
        self.design, self.one_in, self.count = design, one_in, 0
        ledger = RecordingLedger()
        worked(design, PACKS, None, ledger)
        review_of(Work(design, Settings(), PACKS, ledger, {}), date(2026, 11, 25))
        self.tape = ledger.tape()

    def blocking(self, rows: list[Entry]) -> set[tuple[str, Subject]]:
        """As the function of this name."""
        found = blocking(self.design, rows, self.tape)
        if self.count % self.one_in == 0:
            assert found == blocking(self.design, rows)
        self.count += 1
        return found


def varied(rows: list[Entry]) -> Iterator[tuple[str, list[Entry]]]:
    for k, row in enumerate(rows):
        name = f"{row.subject}: {row.quantity}"
        yield f"without {name}", [*rows[:k], *rows[k + 1 :]]
        rests = frozenset((OpenFact(row.subject, row.quantity),))
        yield f"assumed {name}", [*rows[:k], replace(row, known_by="assumed", rests_on=rests), *rows[k + 1 :]]


@pytest.mark.parametrize("text", [TEXT, too_small()], ids=["sound", "too small"])
def test_losing_a_fact_opens_no_gate(text: str) -> None:
    design = read_design(text, "bench.derate.yaml")
    rows = [row for row in facts(design) if row.quantity not in _RANGES]
    before = blocking(design, list(facts(design)))
    replayed, opened = Replayed(design), {}
    for name, variation in varied(rows):
        gone = before - replayed.blocking(variation)
        if gone:
            opened[name] = gone
    assert not opened and replayed.count > 200


def test_open_and_empty_values_end_in_holes() -> None:
    design = read_design(TEXT, "bench.derate.yaml")
    rows = list(facts(design))
    for k, row in enumerate(rows):
        if not isinstance(row.value, Value) or row.quantity.startswith(("plate.frequency", "site.")):
            continue  # those belong to the mains input
        low, near = row.value.low, row.value.near
        for value in (Value(low, near, inf, inf), Value.exact(0.0), Value(0.0, 0.0, inf, inf)):
            new = [*rows[:k], replace(row, value=value), *rows[k + 1 :]]
            ledger = run(design.structure, new, {**ASSUMED, **CONVERTER})
            assert len(ledger) > 300
