"""The page of every key is what the table says."""

from __future__ import annotations

import importlib.util
from pathlib import Path

from derate.design.blocks import DesignFile
from derate.design.kinds import KIND_WORDS, REFERENCE
from derate.report.schemas import keys_of

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "reference.md"


def test_the_page_is_the_one_the_tool_writes() -> None:
    spec = importlib.util.spec_from_file_location("reference_page", ROOT / "tools" / "reference_page.py")
    assert spec is not None and spec.loader is not None
    tool = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(tool)
    assert PAGE.read_text(encoding="utf-8") == tool.page(), "run python tools/reference_page.py"


def test_it_names_every_key_and_every_kind() -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert all(f"`{path.split('.')[-1]}`" in text for path, _ in keys_of(DesignFile))
    assert all(f"| {word} |" in text for word in KIND_WORDS)
    assert REFERENCE.split()[0] == "docs/reference.md" and PAGE.exists()
