"""No step reads a row that a later step gives, and no row has two writers: raised by the ledger that remembers."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from random_flybacks import CONVERTER, random_flyback
from random_supplies import ASSUMED

from derate.design.facts import facts
from derate.design.load import read_design
from derate.ledger.recorded import RecordingLedger
from derate.packs.load import shipped
from derate.run import run
from derate.study.work import Workshop, worked

TESTS = Path(__file__).parent.parent

DESIGNS = [*sorted(shipped("designs").glob("*/*.derate.yaml")), *sorted((TESTS / "data").glob("*/*.derate.yaml"))]


@pytest.mark.parametrize("path", DESIGNS, ids=lambda path: path.stem)
def test_the_steps_of_every_design_stand_in_order(path: Path) -> None:
    work = Workshop().work(str(path))
    ledger = RecordingLedger()
    worked(work.design, work.packs, None, ledger)
    assert len(ledger.tape().steps) > 20


@pytest.mark.parametrize("seed", range(12))
def test_the_steps_of_random_flybacks_stand_in_order(seed: int) -> None:
    one = random_flyback(random.Random(seed), boundary=seed % 2 == 1, count=1 + seed % 3 % 2)
    design = read_design(one.text, "random.derate.yaml")
    ledger = RecordingLedger()
    assumed = {**ASSUMED, **CONVERTER}
    run(design.structure, facts(design), assumed, design.readings, design.tests, ledger)
    assert "shape" in ledger.tape().steps


@pytest.mark.parametrize("path", DESIGNS, ids=lambda path: path.stem)
def test_they_stand_in_order_whatever_is_not_known(path: Path) -> None:
    """Facts left out at random: where one is not there others are worked out, assumed or asked for in its place."""
    work, draw = Workshop().work(str(path)), random.Random(path.stem)
    given = facts(work.design)
    for share in (0.05, 0.2, 0.5):
        left = [fact for fact in given if draw.random() > share]
        worked(work.design, work.packs, left, RecordingLedger())
