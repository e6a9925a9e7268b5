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
from derate.packs.find import shipped
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
