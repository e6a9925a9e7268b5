"""The words that packs keep a copy of are those of the folders that own them."""

from __future__ import annotations

from derate.design.kinds import KINDS
from derate.packs.pack import LISTS, SUPPLY_WIDE, is_rule_name
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import PART_KINDS


def test_part_kinds() -> None:
    assert tuple(KINDS) == PART_KINDS


def test_names() -> None:
    assert set(LISTS) <= set(VOCABULARY)
    assert all(any(name.startswith(prefix) for name in VOCABULARY) for prefix in SUPPLY_WIDE)


def test_rule_names_are_plain_words() -> None:
    for good in ("fuse-breaking-capacity", "y-capacitor-class", "two-to-5-layers"):
        assert is_rule_name(good)
    for bad in ("R101", "Fuse", "fuse_pulse", "fuse pulse", "", "-", "101", "fuse--pulse"):
        assert not is_rule_name(bad)
