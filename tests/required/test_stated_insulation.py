"""What the file says a place has to be: the stronger of that and of what lies at its ends."""

from __future__ import annotations

import pytest
from insulation_bench import PACKS
from small_barrier import changed, judged

OVER_FUSE = ("over F1: {", "over F1: {insulation: %s, ")
UNDER_T1 = ("gap under T1: {", "gap under T1: {insulation: %s, ")


def needed(family: str, where: tuple[str, str], word: str) -> str:
    """The insulation a place has to be, with a word stated for it."""
    old, new = where
    text = changed((old, new % word)) if word else changed()
    return judged(text, family).word(old.partition(":")[0], "needed.insulation")


@pytest.mark.parametrize(
    ("word", "household"),
    [("", "functional"), ("functional", "functional"), ("basic", "basic"), ("supplementary", "supplementary"),
     ("reinforced", "reinforced")],
)  # fmt: skip
def test_a_stronger_insulation_that_is_stated_is_kept(word: str, household: str) -> None:
    """By its ends the place over a fuse is functional in the household family, basic for equipment."""
    assert needed("60335-1", OVER_FUSE, word) == household
    assert needed("62368-1", OVER_FUSE, word) == ("reinforced" if word == "reinforced" else "basic")


@pytest.mark.parametrize("family", PACKS)
@pytest.mark.parametrize("word", ["functional", "basic", "supplementary", "reinforced"])
def test_a_weaker_one_takes_nothing_away(word: str, family: str) -> None:
    assert needed(family, UNDER_T1, word) == "reinforced"


def test_it_asks_for_the_distances_of_what_is_stated() -> None:
    """60335-1 at 250 V, degree 2, group IIIb: functional creepage 2.0 mm, basic 2.5 mm, reinforced 5.0 mm."""
    for word, expected in (("functional", 2.0e-3), ("basic", 2.5e-3), ("supplementary", 2.5e-3), ("reinforced", 5e-3)):
        old, new = OVER_FUSE
        result = judged(changed((old, new % word)), "60335-1")
        assert result.ends("over F1", "needed.creepage") == (expected, expected), word


def test_the_reason_names_what_was_stated() -> None:
    old, new = OVER_FUSE
    assert judged(changed((old, new % "basic")), "60335-1").row("over F1", "needed.insulation").formula.startswith(
        "stated as basic; by its ends: "
    )
    assert "stated" not in judged(changed((old, new % "functional")), "60335-1").row(
        "over F1", "needed.insulation"
    ).formula
