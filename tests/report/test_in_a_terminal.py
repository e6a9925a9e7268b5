"""What somebody sees at a terminal, counted on a real one of 80 by 24 and of 160 by 50.

The other commands: colours under the same option, nothing wider than the screen, one word for one thing.
"""

from __future__ import annotations

import os
import re
from importlib import import_module
from pathlib import Path

import pytest
from documents import POOR, ROOT, SOUND
from terminal import at_a_terminal

from derate.cli.main import COMMANDS, main

FIRST = "designs/first-look/desk-lamp-adapter.derate.yaml"
SECOND = "designs/greenhouse-vent/greenhouse-vent-revision-b.derate.yaml"
SIZES = [(80, 24), (160, 50)]
TWELVE = """derate: 1
supply:
  name: Night light
  topology: flyback
  plate: {mains: 100..240 V, frequency: 50..60 Hz, outputs: {main: {voltage: 5 V, current: 1 A}}}
parts:
  F1: fuse T1AL250V
  BR1: bridge rectifier 600 V 0.8 A
  C1: electrolytic capacitor 10 uF 20% 400 V 105 degC
  Q1: MOSFET 650 V 2 A
circuit:
  line: [F1, BR1, across C1]
"""


@pytest.fixture(autouse=True)
def _in_the_repository(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


@pytest.mark.parametrize("size", SIZES)
def test_twelve_lines_of_file_are_one_screen(size: tuple[int, int], tmp_path: Path) -> None:
    (tmp_path / ".git").mkdir()
    path = tmp_path / "light.derate.yaml"
    path.write_text(TWELVE, encoding="utf-8")
    assert len(TWELVE.splitlines()) == 12
    os.chdir(tmp_path)
    status, lines = at_a_terminal(size, "lint", path.name, "--today", "2026-11-25")
    assert status == 1 and len(lines) < size[1]  # the prompt stands below
    shown = "\n".join(lines)
    for word in ("fire", "shock", "overstress", "looked at", "Overall: fail", "1. ", "2. ", "3. "):
        assert word in shown, word
    assert lines[-1] == f"next: derate missing {path.name}" and "exit status 1" in lines[-2]


@pytest.mark.parametrize("size", SIZES)
def test_three_blocked_designs_are_under_forty_lines_and_end_in_the_files(size: tuple[int, int]) -> None:
    status, lines = at_a_terminal(size, "lint", POOR, FIRST, SECOND, "--today", "2026-11-25")
    assert status == 1 and len(lines) < 40
    files = re.findall(r"blocked by \d+ findings:\s+(\S+)", "\n".join(lines[-6:]))  # a long path has a line of its own
    assert files == sorted([POOR, FIRST, SECOND]) and lines[-1].endswith(files[-1])
    shown = "\n".join(lines)
    for rule in ("mains-poles-clearance", "barrier-creepage", "winding-tape-layers"):  # fire and shock are never cut
        assert rule in shown, rule


# What prints for people: each with colours under one option, wrapped at words, in the words of the list.
PRINTS = [
    ("lint", POOR, "--all"),
    ("stress", FIRST),
    ("insulation", FIRST),
    ("faults", FIRST),
    ("capture", SOUND),
    ("missing", FIRST),
    ("headroom", FIRST),
    ("explain", "barrier-clearance"),
    ("rules", "--hazard", "interference"),
    ("compare", FIRST, SECOND),
    ("parts",),
]
WRITES = {"new", "report", "schema", "editor"}  # what they print is a file for others, or answers to an editor
KEEPS = {"archive"}  # prints for people too, and keeps a file: tests/archive
# One word for one thing, and what is not said in its place. A table of a standard has rows.
OTHER_WORDS = {
    "entry": r"rows? of the ledger|\(row |(?<!next )\brows?\b(?! of| \d| [A-Z])",
    "finding": r"\b(?:issue|violation|defect)s?\b",
    "part": r"\bcomponents?\b",
    "choke": r"\binductors?\b",
    "reading": r"\bmeasurements?\b",
    "not assessed": r"\bunassessed\b|\bindeterminate\b",
}


def test_every_command_is_one_of_both() -> None:
    assert {one[0] for one in PRINTS} | WRITES | KEEPS == set(COMMANDS)


@pytest.mark.parametrize("command", PRINTS, ids=lambda command: command[0])
def test_a_command_prints_for_people_in_one_way(command: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    _, lines = at_a_terminal((80, 24), *command)  # coloured, and no line wider than the screen
    text = "\n".join(lines)
    for word, others in OTHER_WORDS.items():
        found = re.search(others, text)
        assert not found, f"{found[0]!r} is called {word}: {text[max(0, found.start() - 60) : found.end() + 40]}"
    cut = [line for line in lines if re.search(r"\w-$", line)]
    assert not cut, cut[:3]  # wrapped at words, never inside one
    if command[0] in ("stress", "explain"):  # in a pipe: plain, unless colours are asked for
        main([*command])
        plain = capsys.readouterr().out
        main([*command, "--colour", "always"])
        asked = capsys.readouterr().out
        assert "\x1b[" not in plain and "\x1b[1m" in asked
        assert at_a_terminal((80, 24), *command, "--colour", "never", coloured=False)[1] == lines


@pytest.mark.parametrize("name", COMMANDS)
def test_help_says_the_same_of_colours_and_uses_the_words(name: str) -> None:
    parser = getattr(import_module(f"derate.cli.{COMMANDS[name][0]}"), f"{name}_parser")()
    told = parser.format_help()
    assert ("--colour {auto,always,never}" in told) is (name not in WRITES)
    for word, others in OTHER_WORDS.items():
        assert not re.search(others, told), f"{name}: {word}"
