"""The page about archives: its commands run in its own three designs, and print what it shows."""

from __future__ import annotations

from pathlib import Path

import pytest
from page_blocks import run_page

from derate.cli.main import main

PAGE = (Path(__file__).parents[2] / "docs" / "archive.md").read_text(encoding="utf-8")


def test_every_command_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / ".git").mkdir()

    def run(argv: list[str]) -> str:
        status = main([*argv, "--jobs", "1"])
        out, told = capsys.readouterr()
        assert status == 1 and "Traceback" not in told, (argv, told)  # three designs that nobody knows enough of
        return out + told

    assert run_page(PAGE, tmp_path, run) == 10
    made = {"shop.html", "findings.csv", "findings.parquet", "spread.csv"}
    assert {one.name for one in tmp_path.iterdir()} == {".git", "shop", *made}
