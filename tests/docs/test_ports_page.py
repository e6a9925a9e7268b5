"""The page on ports: every command runs, and what it shows of the demonstration stands in the file."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from page_blocks import blocks_of, run_page

from derate.cli.main import main

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "ports.md").read_text(encoding="utf-8")
DESIGN = ROOT / "designs" / "night-stand" / "night-stand.derate.yaml"


def test_every_command_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / ".git").mkdir()
    shutil.copy(DESIGN, tmp_path)
    monkeypatch.chdir(tmp_path)

    def run(argv: list[str]) -> str:
        assert main(argv) == 0
        out, told = capsys.readouterr()
        assert "Traceback" not in told
        return out + told

    assert run_page(PAGE, tmp_path, run) >= 1


def test_what_it_shows_stands_in_the_demonstration() -> None:
    text = DESIGN.read_text(encoding="utf-8")
    shown = [block for block in blocks_of(PAGE) if block.about == "from the file"]
    assert len(shown) == 2
    for block in shown:
        assert block.text in text


def test_it_promises_nothing() -> None:
    assert not any(word in PAGE.lower() for word in ("compliant", "certified", "approved"))
    assert "no certificate" in PAGE and "Mains can kill" in PAGE
