"""A repository with one small design in it, and commands run in processes of their own."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest
from hardening_bench import DERATE, SMALL, Run


@pytest.fixture
def repository(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with `.git` and a design, in which the test stands; beside it lies what is outside."""
    folder = tmp_path / "inside"
    (folder / ".git").mkdir(parents=True)
    (folder / "lamp.derate.yaml").write_text(SMALL, encoding="utf-8")
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def run(repository: Path) -> Run:
    """The command in a process of its own: what is opened for ever ends the test, not the suite."""

    def call(*argv: str | bytes) -> subprocess.CompletedProcess[bytes]:
        command = [*map(os.fsencode, DERATE), *map(os.fsencode, argv)]
        done = subprocess.run(command, cwd=repository, capture_output=True, timeout=100, stdin=subprocess.DEVNULL)
        told = done.stdout + done.stderr
        assert b"Traceback" not in told and b"should not happen" not in told, told
        return done

    return call
