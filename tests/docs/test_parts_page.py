"""The page on parts: every file of it is read, every command is run, and what it shows is printed."""

from __future__ import annotations

from pathlib import Path

import pytest
from page_blocks import blocks_of, run_page

from derate.cli.main import main

PAGE = (Path(__file__).parents[2] / "docs" / "parts.md").read_text(encoding="utf-8")


def test_every_example_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / ".git").mkdir()
    monkeypatch.chdir(tmp_path)

    def run(argv: list[str]) -> str:
        main([*argv, "--today", "2026-11-25"] if argv[0] in ("lint", "parts") else argv)
        out, told = capsys.readouterr()
        assert "Traceback" not in told and "error:" not in told, told
        return out + told

    assert run_page(PAGE, tmp_path, run) >= 10
    (shown,) = [block.text for block in blocks_of(PAGE) if block.about == "made"]
    assert shown in (tmp_path / "adapter.derate.yaml").read_text(encoding="utf-8")


def test_no_block_is_left_untried() -> None:
    for block in blocks_of(PAGE):
        assert block.about == "made" or block.language == "console" or block.about.startswith("file="), (
            f"line {block.line}"
        )
