"""The guide "review a supply in an evening": every command runs, what it shows is printed, its YAML is the file's."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from page_blocks import blocks_of, run_page

from derate.cli.main import main

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "guide-evening-review.md").read_text(encoding="utf-8")
LAMP = ROOT / "designs" / "market-stall-lamp" / "market-stall-lamp.derate.yaml"
STATUS = {"lint": 1, "new": 0, "missing": 0, "stress": 0, "explain": 0, "headroom": 0}


def test_every_command_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / ".git").mkdir()
    shutil.copy(LAMP, tmp_path)
    monkeypatch.chdir(tmp_path)

    def run(argv: list[str]) -> str:
        status = main(argv)
        out, told = capsys.readouterr()
        assert "Traceback" not in told and status == STATUS.get(argv[0], status) and status in (0, 1), (argv, told)
        return out + told

    assert run_page(PAGE, tmp_path, run) >= 11
    assert (tmp_path / "evening.md").read_text(encoding="utf-8")


def test_every_figure_shown_stands_in_the_file() -> None:
    text = LAMP.read_text(encoding="utf-8")
    shown = [block for block in blocks_of(PAGE) if block.language == "yaml"]
    assert len(shown) >= 5
    for block in shown:
        for line in block.text.splitlines():
            assert line in text, f"line {block.line}: {line}"


def test_every_step_on_the_supply_carries_a_caution() -> None:
    steps = PAGE.split("\n## ")[1:]
    assert len(steps) == 7
    for step in steps[:6]:
        assert "> **Caution.**" in step, step.split("\n")[0]
    for words in ("Mains can kill", "stays charged", "alone", "trained", "never goes back"):
        assert words in PAGE
    assert not any(word in PAGE.lower() for word in ("compliant", "certified", "approved"))
