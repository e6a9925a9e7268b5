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
from derate.topologies.flyback import TOPOLOGY

TESTS = Path(__file__).parent.parent

DESIGNS = [*sorted(shipped("designs").glob("*/*.derate.yaml")), *sorted((TESTS / "data").glob("*/*.derate.yaml"))]


@pytest.mark.parametrize("path", DESIGNS, ids=lambda path: path.stem)
def test_the_steps_of_every_design_stand_in_order(path: Path) -> None:
    work = Workshop().work(str(path))
    ledger = RecordingLedger()
    worked(work.design, work.packs, None, ledger)
    assert len(ledger.tape().steps) > 20


# Of which transformer is not known where the converter is not: then the hole stands for the primary.
ELSEWHERE = {("magnetics", "flux_density")}


def test_a_step_gives_what_it_says_that_it_gives() -> None:
    """Each kind of row a step promises it has written on some design: holes are made from nothing else."""
    written: set[tuple[str, str, str, str]] = set()
    for path in DESIGNS:
        work, ledger = Workshop().work(str(path)), RecordingLedger()
        worked(work.design, work.packs, None, ledger)
        places, taken = work.design.structure.places, ledger.tape().steps
        for step in TOPOLOGY.steps:
            for gives in step.gives if step.name in taken else ():
                of = gives.place or gives.kind or str(gives.subject)
                for row in taken[step.name].written:
                    place = places.get(row.subject.names[0], "") if row.subject.kind == "part" else ""
                    if of in (place, row.subject.kind, str(row.subject)):
                        written.add((step.name, of, row.quantity, row.case.group if row.case is not None else ""))
    for step in TOPOLOGY.steps:
        for gives in step.gives:
            of = gives.place or gives.kind or str(gives.subject)
            for quantity in gives.quantities:
                for group in gives.groups or ("",):
                    known = (step.name, of, quantity, group) in written
                    assert known or (step.name, quantity) in ELSEWHERE, (step.name, of, quantity, group)


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
