"""A part that nobody traced may sit anywhere it could: what it fails elsewhere it does not pass under `other`."""

from __future__ import annotations

from datetime import date

import pytest

from derate.design.load import read_design
from derate.design.settings import Settings
from derate.judge.review import Review
from derate.packs.load import shipped
from derate.study.work import Work, Workshop, required_of, review_of, worked

PATH = shipped("designs") / "greenhouse-vent" / "greenhouse-vent.derate.yaml"
SOUND = PATH.read_text(encoding="utf-8")
WORKSHOP = Workshop()
X = "CX9: film capacitor X2 220 nF 20% 310 Vac"
DISC = "C19: {kind: ceramic capacitor, class: unmarked, capacitance: 1 nF}"


def review(part: str, other: str) -> Review:
    text = SOUND.replace("\nparts:", f"\nparts:\n  {part}\n#", 1)
    text = text.replace("\ncircuit:", f"\ncircuit:\n  other: {other}\n#", 1)
    assert text.count(other) >= 1
    design = read_design(text, str(PATH))
    packs = WORKSHOP.packs_for(str(PATH), design, Settings())
    work = Work(design, Settings(), packs, worked(design, packs), required_of(packs))
    return review_of(work, date(2026, 11, 25))


def stopped(found: Review, name: str) -> set[str]:
    return {one.rule for one in found.findings if one.blocks and name in str(one.subject)}


PLAIN = "CX9: film capacitor 220 nF 20% 310 Vac"  # without a class mark, which would tell by itself


@pytest.mark.parametrize("said", [
    "{CX9: not traced yet}", "{CX9: unknown}", "[CX9]", "CX9", "{CX9: untraced}", "{CX9: '?'}", "{CX9: to be traced}",
    "{CX9: somewhere near the plug}", "{CX9: base drive (assumed)}", "{CX9: not sure}",
    "{CX9: unknown.}", "{CX9: not-traced}", "{CX9: no idea}", "{CX9: don't know}", "{CX9: base drive (not traced)}",
])  # fmt: skip
def test_a_capacitor_that_nobody_traced_may_lie_across_the_mains_or_at_the_bulk(said: str) -> None:
    own = [one for one in review(PLAIN, said).findings if one.blocks and "CX9" in str(one.subject)]
    assert {"capacitor-across-mains-class", "bulk-capacitor-voltage"} <= {one.rule for one in own}
    assert all(any(fact.quantity == "part.place" for fact in one.missing) for one in own)


def test_what_its_worst_place_would_mean_is_said() -> None:
    """The verdict where its own facts give one, else the worst stress of what does sit there beside its rating."""
    found = {one.rule: one.message for one in review(X, "[CX9]").findings if one.blocks and "CX9" in str(one.subject)}
    assert "as mains shunt it would hold" in found["capacitor-across-mains-class"]
    bulk = found["bulk-capacitor-voltage"]
    assert "as bulk capacitor it would bear" in bulk and "379 V, as C2 does, and is rated 310 V" in bulk
    bare = {one.rule: one.message for one in review(DISC, "[C19]").findings if "C19" in str(one.subject)}
    assert "as mains shunt it would fail" in bare["capacitor-across-mains-class"]
    assert "as snubber it would be asked" in bare["snubber-capacitor-voltage"]


def test_one_that_somebody_traced_is_taken_at_that() -> None:
    # no rule of a place asks for it; that nothing asks for its rating there is told by a rule of its own
    assert stopped(review(PLAIN, "{CX9: base drive}"), "CX9") <= {"rating-is-asked"}


@pytest.mark.parametrize(("part", "rule"), [
    (X, "capacitor-across-mains-class"),
    ("CX9: {kind: film capacitor, class: X2, capacitance: 220 nF}", "capacitor-across-mains-voltage"),
    ("CX9: {kind: ceramic capacitor, class: unmarked, capacitance: 1 nF}", "capacitor-across-mains-class"),
    ("CX9: {kind: varistor}", "varistor-continuous-voltage"),
    ("CX9: fuse 20 A 32 V", "fuse-voltage"),
    ("CX9: {kind: common-mode choke, rated: {current: 10 mA}}", "line-choke-current"),
])  # fmt: skip
def test_what_is_made_for_a_path_has_no_other_work(part: str, rule: str) -> None:
    """Its class mark or its kind says where it belongs, and no word of somebody takes it away from there."""
    assert rule in stopped(review(part, "{CX9: mains filter}"), "CX9")


@pytest.mark.parametrize(("part", "name"), [
    (DISC, "C19"),
    ("Q9: MOSFET 450 V 4 A", "Q9"),
    ("D19: Schottky diode 10 V 1 A", "D19"),
    ("C29: electrolytic capacitor 22 uF 20% 16 V", "C29"),
    ("R19: film resistor 0.82 ohm 1% 0.1 W", "R19"),
    ("F9: {kind: fuse, rated: {current: 1 A, voltage: 32 V, breaking_capacity: 35 A}}", "F9"),
])  # fmt: skip
def test_no_kind_of_part_gets_out_of_its_rules_untraced(part: str, name: str) -> None:
    assert stopped(review(part, f"{{{name}: not traced yet}}"), name)
