"""The README's sessions are real: each block is the output of its command. `DERATE_RENEW=1 pytest` writes them anew."""

from __future__ import annotations

import os
import re
from datetime import date
from pathlib import Path

import pytest

from derate.cli.main import main
from derate.design.load import read_design
from derate.report.people import brief_screen
from derate.study.work import Workshop, review_of

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
SHOWN = 44  # lines of the poor supply's screen that the README shows


def _session(text: str, name: str) -> tuple[int, int]:
    """Where the output of a session stands: behind its command, up to the end of the fence (or the dots before it)."""
    found = re.search(rf"<!-- session: {name} -->\n```console\n\$ [^\n]*\n(.*?)(?:…\n)?```", text, re.S)
    assert found, name
    return found.span(1)


def _hold(name: str, output: str) -> None:
    text = README.read_text(encoding="utf-8")
    begin, end = _session(text, name)
    if os.environ.get("DERATE_RENEW") == "1":
        text = text[:begin] + output + text[end:]
        README.write_text(text, encoding="utf-8")
        begin, end = _session(text, name)
    assert text[begin:end] == output


def test_lint_session(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT / "designs" / "market-stall-lamp")
    review = review_of(Workshop().work("market-stall-lamp.derate.yaml"), date(2026, 11, 25))
    lines = brief_screen([review], 80, 24, False).rstrip("\n").split("\n")
    _hold("lint poor", "\n".join(line.rstrip() for line in lines[:SHOWN]) + "\n")


def test_stress_session(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(ROOT / "designs" / "greenhouse-vent")
    assert main(["stress", "greenhouse-vent.derate.yaml", "--part", "RF1", "--quantity", "energy"]) == 0
    _hold("stress sound", "\n".join(line.rstrip() for line in capsys.readouterr().out.split("\n")))


def test_the_file_shown_reads() -> None:
    shown = re.search(r"```yaml\n(derate: 1\n.*?)```", README.read_text(encoding="utf-8"), re.S)
    assert shown
    assert read_design(shown.group(1), "readme.yaml").structure.mains is not None


def test_every_command_named_exists() -> None:
    from derate.cli.main import COMMANDS

    named = set(re.findall(r"`derate (\w+)", README.read_text(encoding="utf-8")))
    assert named <= set(COMMANDS), named - set(COMMANDS)
    assert set(COMMANDS) <= named, set(COMMANDS) - named
