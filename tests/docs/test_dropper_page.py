"""The page about droppers: its commands run, what it shows is printed, its YAML is that of the demonstration."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from page_blocks import at_a_prompt, blocks_of, run_page

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "dropper.md").read_text(encoding="utf-8")
BELL = ROOT / "designs" / "porch-bell" / "porch-bell.derate.yaml"


def test_every_command_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copy(BELL, tmp_path)
    assert run_page(PAGE, tmp_path, at_a_prompt(tmp_path, monkeypatch, capsys)) == 3


def test_what_is_shown_stands_in_the_file() -> None:
    text = BELL.read_text(encoding="utf-8")
    for block in blocks_of(PAGE):
        if block.language == "yaml":
            for line in block.text.splitlines():
                assert line in text, f"line {block.line}: {line}"
    assert "> **Caution.**" in PAGE and "stays" not in PAGE.split("> **Caution.**")[0]
    assert not any(word in PAGE.lower() for word in ("compliant", "certified", "approved"))
