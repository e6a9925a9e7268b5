"""What somebody sees at a terminal: lines and screens, counted on a real one of 80 by 24 and of 160 by 50.

A pseudo-terminal of the system is one: it says its size, and the command writes to it as to any other. The command runs
in a fork, so that nothing has to be imported again.
"""

from __future__ import annotations

import fcntl
import os
import pty
import re
import struct
import sys
import termios
from pathlib import Path

import pytest
from documents import POOR, ROOT, SOUND

from derate.cli.main import main
from derate.report.words import cells

FIRST = "designs/first-look/desk-lamp-adapter.derate.yaml"
SECOND = "designs/greenhouse-vent/greenhouse-vent-revision-b.derate.yaml"
SIZES = [(80, 24), (160, 50)]
_ESCAPE = re.compile(r"\x1b\[[0-9;]*m")
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


def at_a_terminal(size: tuple[int, int], *command: str) -> tuple[int, list[str]]:
    """Exit status and rows of a command at a terminal of so many columns and rows; colours taken off."""
    sys.stdout.flush()
    sys.stderr.flush()
    child, ours = pty.fork()
    if child == 0:  # pragma: no cover
        try:
            sys.stdout, sys.stderr = os.fdopen(1, "w", closefd=False), os.fdopen(2, "w", closefd=False)
            fcntl.ioctl(1, termios.TIOCSWINSZ, struct.pack("HHHH", size[1], size[0], 0, 0))
            for name in ("COLUMNS", "LINES", "NO_COLOR", "FORCE_COLOR"):
                os.environ.pop(name, None)
            os.environ["TERM"] = "xterm"
            status = main(list(command))
            sys.stdout.flush()
            sys.stderr.flush()
        except BaseException:  # noqa: B036
            status = 99
        os._exit(status)
    told = b""
    while True:
        try:
            piece = os.read(ours, 65_536)
        except OSError:  # the other end is closed
            break
        if not piece:
            break
        told += piece
    os.close(ours)
    _, status = os.waitpid(child, 0)
    text = told.decode().replace("\r\n", "\n")
    assert "\x1b[" in text, "a terminal gets colours"
    lines = _ESCAPE.sub("", text).removesuffix("\n").split("\n")
    assert max(map(cells, lines)) <= size[0]
    return os.waitstatus_to_exitcode(status), lines


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
def test_the_poor_design_is_two_small_screens_or_a_large_one_with_every_fail_of_shock(size: tuple[int, int]) -> None:
    status, lines = at_a_terminal(size, "lint", POOR, "--today", "2026-11-25")
    assert status == 1 and len(lines) < (48 if size == (80, 24) else 50)  # two screens of the small, one of the large
    shown = "\n".join(lines)
    for rule in ("mains-poles-clearance", "no-scorch-marks", "barrier-creepage", "no-solder-blobs", "winding-margins"):
        assert rule in shown, rule
    assert re.search(r"\+\d+ more that block", shown)


@pytest.mark.parametrize("size", SIZES)
def test_the_sound_design_fits_and_says_that_nothing_blocks(size: tuple[int, int]) -> None:
    status, lines = at_a_terminal(size, "lint", SOUND, "--today", "2026-11-25")
    assert status == 0 and len(lines) < 2 * 24
    assert any("othing blocks" in line for line in lines[-3:])


@pytest.mark.parametrize("size", SIZES)
def test_three_blocked_designs_are_under_forty_lines_and_end_in_the_files(size: tuple[int, int]) -> None:
    status, lines = at_a_terminal(size, "lint", POOR, FIRST, SECOND, "--today", "2026-11-25")
    assert status == 1 and len(lines) < 40
    files = re.findall(r"blocked by \d+ findings:\s+(\S+)", "\n".join(lines[-6:]))  # a long path has a line of its own
    assert files == sorted([POOR, FIRST, SECOND]) and lines[-1].endswith(files[-1])
    shown = "\n".join(lines)
    for rule in ("mains-poles-clearance", "barrier-creepage", "winding-tape-layers"):  # fire and shock are never cut
        assert rule in shown, rule
