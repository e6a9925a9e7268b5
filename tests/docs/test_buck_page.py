"""The page on bucks and lamp drivers: every command runs, and what it shows of the demonstration stands in the file."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from page_blocks import at_a_prompt, blocks_of, run_page

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "buck.md").read_text(encoding="utf-8")
DESIGN = ROOT / "designs" / "tea-warmer" / "tea-warmer.derate.yaml"

LAMP = ROOT / "designs" / "cellar-lamp" / "cellar-lamp.derate.yaml"

HALLWAY = ROOT / "designs" / "hallway-lamp" / "hallway-lamp.derate.yaml"


def test_every_command_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copy(DESIGN, tmp_path)
    assert run_page(PAGE, tmp_path, at_a_prompt(tmp_path, monkeypatch, capsys)) == 2


def test_what_is_shown_of_the_file_stands_in_it() -> None:
    shown = [block for block in blocks_of(PAGE) if block.about == "from the file"]
    lamp = [block for block in blocks_of(PAGE) if block.about == "from the lamp"]
    assert len(shown) == 1 and len(lamp) == 1
    hallway = [block for block in blocks_of(PAGE) if block.about == "from the hallway"]
    assert len(hallway) == 1
    files = {"from the file": DESIGN, "from the lamp": LAMP, "from the hallway": HALLWAY}
    for block in (*shown, *lamp, *hallway):
        stands = files[block.about].read_text(encoding="utf-8")
        for line in block.text.splitlines():
            assert line in stands, f"line {block.line}: {line}"


def test_it_promises_nothing() -> None:
    assert not any(word in PAGE.lower() for word in ("compliant", "certified", "approved"))
    assert "no certificate" in PAGE and "Mains can kill" in PAGE
