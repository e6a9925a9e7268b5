"""The guide page on packs: every file of it is read, every command is run, and what it shows is printed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from page_blocks import blocks_of, run_page

from derate.cli.main import main
from derate.packs.change import _PAST
from derate.packs.pack import SHAPES
from derate.terms.words import CONFIDENCES, HAZARDS, SEVERITIES

PAGE = (Path(__file__).parents[2] / "docs" / "write-your-own-pack.md").read_text(encoding="utf-8")


def test_every_example_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / ".git").mkdir()
    monkeypatch.chdir(tmp_path)

    def run(argv: list[str]) -> str:
        main([*argv, "--today", "2026-11-25"] if argv[0] == "lint" else argv)
        out, told = capsys.readouterr()
        assert "Traceback" not in told
        return out + told

    assert run_page(PAGE, tmp_path, run) >= 8


def test_no_block_is_left_untried() -> None:
    for block in blocks_of(PAGE):
        assert block.language == "console" or block.about.startswith("file="), f"line {block.line}"


def test_the_page_knows_every_shape_and_word() -> None:
    for word in (*SHAPES, *CONFIDENCES, *HAZARDS, *SEVERITIES, *_PAST):
        assert re.search(rf"\b{re.escape(word)}\b", PAGE), word
