"""The coverage map: every item is there, every rule it names is shipped, and nothing is dropped silently."""

from __future__ import annotations

import importlib.util
import sys
from collections import Counter
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]
# How many items each part of the checklist has: 114 in all.
SIZES = {"ACC": 8, "FIR": 22, "INS": 26, "STR": 27, "EMI": 5, "RAT": 10, "SFT": 10, "REP": 6}


def _tool() -> ModuleType:
    spec = importlib.util.spec_from_file_location("coverage_map", ROOT / "tools" / "coverage_map.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["coverage_map"] = module
    spec.loader.exec_module(module)
    return module


TOOL = _tool()
ITEMS = TOOL.items(TOOL.DATA.read_text(encoding="utf-8"))
RULES = TOOL.shipped_rules()


def test_every_item_is_there_once() -> None:
    wanted = [f"{group}-{number:02}" for group, size in SIZES.items() for number in range(1, size + 1)]
    assert [one.key for one in ITEMS] == wanted and len(wanted) == 114
    assert Counter(one.key.split("-")[0] for one in ITEMS) == SIZES


def test_every_rule_that_is_named_is_shipped() -> None:
    assert [(one.key, name) for one in ITEMS for name in one.rules if name not in RULES] == []


@pytest.mark.parametrize("one", ITEMS, ids=lambda one: one.key)
def test_each_says_where_or_why_not(one: object) -> None:
    assert one.rules or one.shown or one.out or one.not_yet  # type: ignore[attr-defined]
    assert not (one.rules and one.out)  # type: ignore[attr-defined]


def test_the_page_is_in_step() -> None:
    page = TOOL.page(ITEMS, RULES)
    assert TOOL.PAGE.read_text(encoding="utf-8") == page, "run python tools/coverage_map.py"
    for one in ITEMS:
        assert f"| {one.key} |" in page
    assert all(f"`{name}`" in page for name in RULES if TOOL._plain(name) == name)


def test_what_nobody_mapped_shows_and_a_wrong_name_too() -> None:
    (bare,) = TOOL.items("NEW-01: {asks: something}")
    assert bare.standing == "not yet" and TOOL._where(bare, RULES) == "not yet: nobody has said where"
    (wrong,) = TOOL.items("NEW-01: {asks: something, rules: [no-such-thing]}")
    assert "no such rule" in TOOL._where(wrong, RULES)
    with pytest.raises(ValueError):
        TOOL.items("NEW-01: {rules: [fuse-voltage]}")
