"""A transformer that joins both sides has a place under it, asked for when nobody described it."""

from __future__ import annotations

from datetime import date

import pytest

from derate.design.load import read_design
from derate.design.settings import Settings
from derate.judge.review import Finding
from derate.packs.load import shipped
from derate.study.work import Work, Workshop, required_of, review_of, worked
from derate.terms.values import ReadingError

PATH = shipped("designs") / "greenhouse-vent" / "greenhouse-vent.derate.yaml"
SOUND = PATH.read_text(encoding="utf-8")
WORKSHOP = Workshop()


def stopped(text: str) -> dict[str, Finding]:
    design = read_design(text, str(PATH))
    packs = WORKSHOP.packs_for(str(PATH), design, Settings())
    work = Work(design, Settings(), packs, worked(design, packs), required_of(packs))
    found = review_of(work, date(2026, 11, 25)).findings
    return {one.rule: one for one in found if one.blocks and str(one.subject) == "under T1"}


@pytest.mark.parametrize("name", ["beside the slot", "T10 pins", "edge of the board"])
def test_a_place_of_another_name_does_not_stand_for_it(name: str) -> None:
    assert not stopped(SOUND)
    found = stopped(SOUND.replace("  under transformer:", f"  {name}:"))
    assert {"barrier-clearance", "barrier-creepage"} <= set(found)
    assert all(one.verdict == "not assessed" for one in found.values())


def test_one_between_other_circuits_does_not_either() -> None:
    line = next(one for one in SOUND.splitlines() if one.startswith("  under transformer:"))
    at = SOUND.index(line)
    text = SOUND[:at] + SOUND[at:].replace("between: [primary, secondary]", "between: [bulk plus, bulk minus]", 1)
    assert "barrier-clearance" in stopped(text)


@pytest.mark.parametrize("side", ["primary", "secondary", "bulk minus"])
def test_a_place_between_a_circuit_and_itself_is_refused(side: str) -> None:
    line = next(one for one in SOUND.splitlines() if one.startswith("  under transformer:"))
    at = SOUND.index(line)
    text = SOUND[:at] + SOUND[at:].replace("between: [primary, secondary]", f"between: [{side}, {side}]", 1)
    with pytest.raises(ReadingError, match="and itself"):
        read_design(text, str(PATH))
