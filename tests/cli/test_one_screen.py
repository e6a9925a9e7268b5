"""What `derate lint` prints in a real terminal and in a commit: how many rows, what is never cut, what comes last."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import shutil
import struct
import sys
import termios
from pathlib import Path

import pytest

from derate.cli import shared
from derate.cli.main import main
from derate.packs.load import shipped
from derate.report.words import cells

DESIGNS = shipped("designs")
THIN = "first-look/desk-lamp-adapter.derate.yaml"
SOUND = "greenhouse-vent/greenhouse-vent.derate.yaml"
REVISION = "greenhouse-vent/greenhouse-vent-revision-b.derate.yaml"
POOR = "market-stall-lamp/market-stall-lamp.derate.yaml"
_START = "import sys; from derate.cli.main import main; sys.exit(main(sys.argv[1:]))"
_ESCAPE = re.compile(r"\x1b\[[0-9;]*m")


def in_a_terminal(rows: int, columns: int, *arguments: str) -> list[str]:
    """The rows that a command leaves in a terminal of this size, without colours."""
    child, terminal = pty.fork()
    if child == 0:  # pragma: no cover - the other process
        fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        os.chdir(DESIGNS)
        kept = {name: text for name, text in os.environ.items() if name not in ("COLUMNS", "LINES", "NO_COLOR")}
        here = str(Path(__file__).parents[2])
        os.execve(sys.executable, [sys.executable, "-c", _START, *arguments],
                  {**kept, "TERM": "xterm-256color", "PYTHONPATH": here, "PYTHONIOENCODING": "utf-8"})  # fmt: skip
    taken = b""
    while True:
        try:
            piece = os.read(terminal, 65536)
        except OSError:
            break
        if not piece:
            break
        taken += piece
    os.close(terminal)
    os.waitpid(child, 0)
    text = taken.decode("utf-8")
    assert "\x1b[" in text  # it knew that it wrote to a terminal
    lines = _ESCAPE.sub("", text).replace("\r\n", "\n").removesuffix("\n").split("\n")
    assert all(cells(line) <= columns for line in lines), max(lines, key=cells)
    return lines


@pytest.mark.parametrize(("rows", "columns"), [(24, 80), (50, 160)])
def test_twelve_lines_of_file_are_one_screen(rows: int, columns: int) -> None:
    lines = in_a_terminal(rows, columns, "lint", THIN)
    assert len(lines) < rows  # the prompt below stays in sight
    assert lines[0].startswith("Desk lamp adapter") and lines[1] == "220 to 240 V; main 12 V 1 A"
    assert re.match(r"fire +not assessed +\d+ of \d+ looked at", lines[3])
    assert lines[-1] == f"next: derate missing {THIN}"
    assert re.fullmatch(r"\d+ findings block: exit status 1\.", lines[-2])
    assert [line[:3] for line in lines if re.match(r"[123]\. ", line)] == ["1. ", "2. ", "3. "]
    assert any(line.startswith("Overall: not assessed") for line in lines[-8:])


def test_the_sound_supply_ends_as_a_sound_supply_reads() -> None:
    lines = in_a_terminal(24, 80, "lint", SOUND)
    assert len(lines) < 24
    assert lines[-3:] == [
        "Overall: fail, waived (life)",
        "Nothing blocks: exit status 0.",
        f"next: derate report {SOUND}",
    ]
    assert not any(re.search(r"\bfail\b(?!, )", line.replace("fail, up to", "")) for line in lines)


@pytest.mark.parametrize(("rows", "columns"), [(24, 80), (50, 160)])
def test_the_poor_supply_is_two_screens_and_no_fail_of_fire_or_shock_is_cut(rows: int, columns: int) -> None:
    lines = in_a_terminal(rows, columns, "lint", POOR)
    assert len(lines) < (2 * rows if rows == 24 else rows)
    every = "\n".join(lines)
    for what in (
        "TK1  fail  board-track-as-fuse", "plug side  fail  mains-poles-clearance: 1.1 mm, needs at least 1.5 mm",
        "solder blob  fail  barrier-clearance: at most 0.4 mm, needs at least 3 mm", "T1  fail  winding-tape-layers",
        "shock  not assessed  ",
    ):  # fmt: skip
        assert what in every, what
    assert lines[-1].startswith("next: derate missing")
    first = lines.index(next(line for line in lines if line.startswith("1. TK1 (board-track-as-fuse): ")))
    assert not any("…" in line for line in lines[first:])  # no instruction is cut, and so no caution either
    left = re.search(r"\+(\d+) more that block", every)
    assert left is not None and (int(left[1]) < 5) is (rows == 50)
    told = len(re.findall(r"^\S.*  fail  [a-z-]+: ", every, re.M))
    waiting = sum(int(one) for one in re.findall(r"^\w+  not assessed  (\d+) waits? for", every, re.M))
    count = re.fullmatch(r"(\d+) findings block: exit status 1\.", lines[-2])
    assert count and told + waiting + (int(left[1]) if left else 0) == int(count[1])  # nothing is lost


def test_a_blocked_commit_of_three_designs_ends_in_the_files(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(DESIGNS)
    assert main(["lint", "--changed", THIN, REVISION, POOR]) == 1
    lines = capsys.readouterr().out.removesuffix("\n").split("\n")
    assert len(lines) < 37  # and the three lines that pre-commit itself writes above them
    assert [line.rpartition(": ")[2] for line in lines[-3:]] == [THIN, REVISION, POOR]
    assert all(line.startswith("blocked by ") for line in lines[-3:])
    for what in ("fail: TK1: ", "fail: solder blob: ", f"{REVISION}:7:55: fail: D7: "):
        assert any(what in line for line in lines), what


def test_everything_is_there_when_asked_for(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(DESIGNS)
    main(["lint", SOUND])
    brief = capsys.readouterr().out
    main(["lint", "--all", SOUND])
    every = capsys.readouterr().out
    assert ": marginal: " in every and ": marginal: " not in brief
    assert len(every.split("\n")) > 2 * len(brief.split("\n"))


def test_one_design_in_a_pipe_has_every_finding_that_fails_and_blocks(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(DESIGNS)
    main(["lint", "--all", POOR])
    every = {line for line in capsys.readouterr().out.split("\n") if ": fail: " in line and ", blocks)" in line}
    main(["lint", POOR])
    assert every <= set(capsys.readouterr().out.split("\n")) and len(every) > 20


@pytest.mark.parametrize(("columns", "lines"), [("", ""), ("120", "50"), ("0", "0"), ("-3", "x"), (" 90 ", "²")])
def test_the_size_of_the_terminal_is_what_shutil_says(
    columns: str, lines: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    monkeypatch.setenv("LINES", lines)
    for stream in (sys.__stdout__, None):
        monkeypatch.setattr(sys, "__stdout__", stream)
        size = shutil.get_terminal_size((80, 24))
        assert (shared.width(), shared.height()) == (size.columns, size.lines)
    monkeypatch.setattr(os, "get_terminal_size", lambda _: os.terminal_size((132, 43)))
    monkeypatch.setattr(sys, "__stdout__", sys.stderr)
    monkeypatch.setenv("COLUMNS", "")
    assert shared.width() == 132
