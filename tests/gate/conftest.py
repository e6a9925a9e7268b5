"""The repository that the trials of the gate run in."""

from __future__ import annotations

from pathlib import Path

import pytest
from gate_bench import DESIGN, LAMP, Bench


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Bench:
    """One design at the root, judged by the shipped gate unless a test says otherwise."""
    folder = tmp_path / "hardware"
    folder.mkdir()
    monkeypatch.chdir(folder)
    made = Bench(folder, capsys)
    made.put(LAMP, DESIGN)
    return made
