"""Every finding of every shipped design points at what it is about; held once more to show that the check can see."""

from __future__ import annotations

import pytest
from documents import POOR, ROOT, SHIPPED, SOUND, shipped
from place_check import wrong_places

from derate.design.load import read_design
from derate.design.settings import Settings
from derate.study.work import Work, review_of, worked
from derate.terms.values import Place


@pytest.fixture(autouse=True)
def _in_the_repository(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


@pytest.mark.parametrize("path", SHIPPED)
def test_every_finding_points_at_what_it_is_about(path: str) -> None:
    made = shipped(path)
    assert not wrong_places(made.review, made.design.texts)


def test_the_check_sees_a_place_that_is_wrong() -> None:
    made = shipped(POOR)
    one = next(each for each in made.review.findings if str(each.subject) == "T1")
    reading = made.design.readings[0].stated.place
    for place in (Place(POOR, 1, 1), Place(POOR, 99_999, 1), Place("", 1, 1), reading):
        moved = made.review._replace(findings=(one._replace(place=place),))
        assert wrong_places(moved, made.design.texts), place


def test_what_is_read_of_a_transformer_points_at_the_transformer_and_what_follows_from_a_part_at_the_part() -> None:
    sound, poor = shipped(SOUND), shipped(POOR)
    heated = next(one for one in sound.review.findings if one.rule == "winding-temperature-in-overload")
    lines = sound.design.texts[SOUND].split("\n")
    begins = {line.partition(":")[0]: number for number, line in enumerate(lines, 1)}
    assert begins["transformers"] < heated.place.line < begins["barriers"]
    under = [one for one in poor.review.findings if str(one.subject) == "under T1"]
    t1 = min(one.place for one in poor.review.findings if str(one.subject) == "T1")
    assert under and {one.place for one in under} == {t1}


def test_a_reading_ahead_of_the_parts_is_still_no_place_of_a_part() -> None:
    """The order of the blocks is free: readings first, and every finding points at what it is about as before."""
    text = (ROOT / SOUND).read_text(encoding="utf-8")
    head, begin, rest = text.partition("\nparts:")
    parts, reads, behind = rest.partition("\nreadings:")
    read, inspects, end = behind.partition("\ninspection:")
    moved = f"{head}{reads}{read}{begin}{parts}{inspects}{end}"
    design = read_design(moved, SOUND)
    packs = shipped(SOUND).packs
    review = review_of(Work(design, Settings(), packs, worked(design, packs)), shipped(SOUND).day)
    assert not wrong_places(review, {SOUND: moved})
    lines = moved.split("\n")
    begins = {line.partition(":")[0]: number for number, line in enumerate(lines, 1)}
    assert begins["readings"] < begins["parts"] < begins["transformers"]
    of_t1 = [one.place.line for one in review.findings if str(one.subject) == "T1"]
    assert of_t1 and min(of_t1) > begins["transformers"]
