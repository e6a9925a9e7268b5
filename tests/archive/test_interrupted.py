"""A run that is ended from outside, by an interrupt or at once: what it kept stands, and the same command goes on."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from archive_bench import DAY, folder_of, opened, ran, results

from derate.cli.main import main

MANY, BEFORE = 12, 5
# The command as it is, save that it says so and waits once some designs are in the store: it is ended there. Where the
# tests themselves run in the background of a shell an interrupt is ignored from the start, and would be here too.
CHILD = f"""if True:
    import multiprocessing, signal, sys
    signal.signal(signal.SIGINT, signal.default_int_handler)
    from derate.archive import refresh
    from derate.cli.main import main
    real, refresh.STORED = refresh.Progress, 1
    def progress(*given):
        if given[2] == {BEFORE}:
            print(*(one.pid for one in multiprocessing.active_children()), flush=True)
            sys.stdin.read()
        return real(*given)
    refresh.Progress = progress
    if __name__ == "__main__":
        sys.exit(main(sys.argv[1:]))
"""


def _ended_in_the_middle(home: Path, beside: Path, how: signal.Signals) -> tuple[int, str, list[int]]:
    """Exit status, what was told, and the processes that judged, after the whole group was given a signal."""
    script = beside / "child.py"
    script.write_text(CHILD, encoding="utf-8")
    command = [sys.executable, str(script), "archive", str(home), "--jobs", "2", "--today", DAY.isoformat()]
    told, pipe = beside / "told", subprocess.PIPE
    with told.open("w", encoding="utf-8") as file:
        made = subprocess.Popen(command, stdin=pipe, stdout=pipe, stderr=file, text=True, start_new_session=True)
    with made:
        assert made.stdin is not None and made.stdout is not None
        workers = [int(one) for one in made.stdout.readline().split()]
        if how == signal.SIGINT:
            os.killpg(made.pid, how)  # as a terminal does: to the processes that judge, too
        else:
            made.send_signal(how)
        try:
            made.wait(300)  # of a process that goes on for good, and not of one that is slow
        finally:
            made.kill()
    return made.returncode, told.read_text(encoding="utf-8"), workers


def _lives(process: int) -> bool:
    """Whether a process is there; one that nobody has asked for its exit status yet is not."""
    try:
        return "\nState:\tZ" not in Path(f"/proc/{process}/status").read_text(encoding="utf-8")
    except OSError:
        return False


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_a_run_that_was_ended_goes_on_where_it_stopped(
    tmp_path: Path, how: signal.Signals, capsys: pytest.CaptureFixture[str]
) -> None:
    home = folder_of(tmp_path, MANY)
    status, told, workers = _ended_in_the_middle(home, tmp_path, how)
    assert len(workers) == 2
    for _ in range(6000):  # each leaves by itself, as soon as it sees that its parent has gone
        if not any(map(_lives, workers)):
            break
        time.sleep(0.05)
    assert not any(map(_lives, workers))
    assert "Traceback" not in told, told
    if how == signal.SIGINT:
        assert status == 2 and "the same command goes on from there" in told
    else:
        assert status == -signal.SIGKILL
    with opened(home) as store:
        kept = store.rows("SELECT count(*), count(DISTINCT design) FROM judged")
        assert kept == [(BEFORE, BEFORE)] and store.runs() == ()
    assert main(["archive", str(home), "--jobs", "1", "--today", DAY.isoformat()]) == 1
    went = f"run 1 is stored: went on, {MANY - BEFORE} judged, {BEFORE} unchanged, 0 not read"
    assert went in capsys.readouterr().out
    alone = tmp_path / "alone"
    alone.mkdir()
    other = folder_of(alone, MANY)
    assert results(home, 1, tmp_path) == results(other, ran(other).run, alone)


def test_two_runs_do_not_share_a_store(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """While one writes, another is told so and changes nothing."""
    home = folder_of(tmp_path, 1)
    ran(home)
    command = [sys.executable, "-c", "import sys; from derate.cli.main import main; sys.exit(main(sys.argv[1:]))"]
    with opened(home) as store:
        words = ["archive", str(home), "--jobs", "1", "--format", "json"]
        done = subprocess.run([*command, *words], capture_output=True, text=True)
        assert done.returncode == 2 and "cannot be used" in done.stderr and "Traceback" not in done.stderr
        assert len(store.runs()) == 1
    assert main(["archive", str(home), "--as-stored", "--format", "json"]) == 1
    said: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert said["run"] == 1
