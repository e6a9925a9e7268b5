"""The command line itself: help, version, mistyped words, and everything that can go wrong on the way."""

from __future__ import annotations

import os
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest
from small_supply import bench

from derate import __version__
from derate.cli import main as command
from derate.cli.main import COMMANDS, main

_RUN = "import sys; from derate.cli.main import entry; sys.argv[0] = 'derate'; entry()"


def run(*argv: str, **given: object) -> subprocess.CompletedProcess[str]:
    """The command line in a process of its own."""
    return subprocess.run([sys.executable, "-c", _RUN, *argv], text=True, timeout=60, **given)  # type: ignore[call-overload,no-any-return]


def test_version_and_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"derate {__version__}\n"
    assert main(["--help"]) == 0
    text = capsys.readouterr().out
    assert all(f"  {name}" in text for name in COMMANDS) and "no certificate" in text
    assert main([]) == 2


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_and_its_module(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    module = import_module(f"derate.cli.{COMMANDS[name][0]}")
    assert callable(getattr(module, f"run_{name}"))
    assert main([name, "--help"]) == 0
    assert f"derate {name}" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (["lnt", "x"], "command line: error: there is no command 'lnt'; write derate lint"),
        (["lint"], "command line: error: the following arguments are required: PATH"),
        (["lint", "--fromat", "json", "x"], "'--fromat' is not known here; write --format"),
        (["lint", "--today", "2027-6-3", "x"], "is no day; write it as 2027-06-30"),
        (["lint", "--stop-at", "never", "x"], "invalid choice: 'never'"),
        (["lint", "nowhere.yaml"], "nowhere.yaml:1:1: error: there is no such file"),
        (["stress", "nowhere.yaml"], "nowhere.yaml:1:1: error: there is no such file"),
        (["schema", "desing"], "invalid choice"),
    ],
)
def test_a_wrong_command_line_is_two_and_one_sentence(
    argv: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(argv) == 2
    taken = capsys.readouterr()
    assert said in taken.err and taken.out == ""
    assert taken.err.count("\n") == 1


@pytest.mark.parametrize(
    ("raised", "said"),
    [
        (KeyboardInterrupt(), "interrupted before it was finished"),
        (MemoryError(), "not enough memory"),
        (OSError(28, "No space left on device"), "No space left on device"),
        (BrokenPipeError(), "what read its output has closed it"),
        (ZeroDivisionError("x\x1b[31m"), "something that should not happen did (ZeroDivisionError: x\\u001b[31m)"),
        (RecursionError(), "RecursionError"),
    ],
)
def test_whatever_is_raised_becomes_one_sentence(
    raised: BaseException, said: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fails(argv: list[str]) -> int:
        raise raised

    monkeypatch.setattr(command, "_command", fails)
    monkeypatch.setattr(command, "_silence", lambda: None)
    assert main(["lint"]) == 2
    told = capsys.readouterr().err
    assert said in told and "Traceback" not in told and told.count("\n") == 1


def test_a_closed_pipe_leaves_one_sentence(tmp_path: Path) -> None:
    done = subprocess.run(
        f"{sys.executable} -c \"{_RUN}\" schema design | true; exit ${{PIPESTATUS[0]}}",
        shell=True, executable="/bin/bash", capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert "Traceback" not in done.stderr and "Exception" not in done.stderr
    assert done.returncode in (0, 2)  # 0 where everything had been taken before the pipe was closed
    if done.returncode == 2:
        assert done.stderr.count("\n") == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_a_full_disk_is_told() -> None:
    with open("/dev/full", "w") as full:
        done = run("schema", "design", stdout=full, stderr=subprocess.PIPE)
    assert done.returncode == 2
    assert done.stderr.startswith("derate stopped: No space left") and done.stderr.count("\n") == 1


def test_output_that_is_not_utf_8_still_works(tmp_path: Path) -> None:
    bench(tmp_path)
    argv = ("explain", "breaking-capacity", "--pack", str(tmp_path / "rules" / "bench-house.yaml"))
    done = run(*argv, capture_output=True, env={**os.environ, "PYTHONIOENCODING": "ascii"})
    assert done.returncode == 0, done.stderr
    assert done.stdout.isascii() and "greatest current it can break \\u2265 1500 A" in done.stdout


_LEAVING = """
import atexit, os, sys, {more}
from derate.cli.main import leave
class Kept:
    def __del__(self, write=os.write):
        write(1, b"freed ")
sys.kept = Kept()  # what is freed last of all
atexit.register(print, "asked", end=" ")
print("printed", end=" ")
{before}
leave({status})
"""


@pytest.mark.parametrize(
    ("more", "before", "said"),
    [
        ("os", "", "printed asked "),
        ("threading", "", "printed asked "),
        ("time, threading", "threading.Thread(target=lambda: (time.sleep(0.2), print('done'))).start()", "done\n"),
        ("multiprocessing", "", "freed"),
        ("os", "sys.setprofile(lambda *seen: None)", "freed"),
        ("os", "sys.settrace(lambda *seen: None)", "freed"),
    ],
)
def test_leaving_frees_nothing_and_forgets_nothing(more: str, before: str, said: str) -> None:
    """Freeing is a tenth of a cold lint; what runs beside, or was asked to be told of the end, has its end."""
    for status in (0, 1, 2):
        code = _LEAVING.format(more=more, before=before, status=status)
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
        assert done.returncode == status and not done.stderr
        assert done.stdout.startswith("printed ") and "asked" in done.stdout
        assert said in done.stdout
        assert ("freed" in done.stdout) is (said != "printed asked ")


@pytest.mark.parametrize(("shut", "said"), [(">&-", "standard output is closed"), ("2>&-", ""), (">&- 2>&-", "")])
def test_what_is_closed_before_it_begins(shut: str, said: str, tmp_path: Path) -> None:
    """Without an output nothing is judged; without a place for errors the status says it alone."""
    (tmp_path / "slip.derate.yaml").write_text("derate: 1\nsuply: {}\n", encoding="utf-8")
    code = "from derate.cli.main import entry; entry()"
    command = ["bash", "-c", f'"$@" {shut}', "bash", sys.executable, "-c", code, "lint", str(tmp_path)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60)
    assert done.returncode == 2 and said in done.stderr and "Traceback" not in done.stderr
    assert done.stdout == "" and (said or done.stderr == "")
