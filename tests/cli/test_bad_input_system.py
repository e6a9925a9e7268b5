"""Bad input that the system makes: no right to read, a full disk, a key pressed, files that are huge or deep."""

from __future__ import annotations

import ctypes
import json
import os
import resource
import signal
import subprocess
import sys
import tracemalloc
from pathlib import Path

import pytest
from small_supply import DESIGN, PACK, SIGNED, bench

from derate.cli.main import main
from derate.text.nodes import GREATEST_SIZE

LINT = [sys.executable, "-c", "import sys; from derate.cli.main import main; sys.exit(main(sys.argv[1:]))", "lint"]


def _clean(told: str) -> None:
    assert told and "Traceback" not in told and "should not happen" not in told, told


def _lint(folder: Path, *argv: str, **more: object) -> subprocess.CompletedProcess[str]:
    done = subprocess.run([*LINT, *argv], cwd=folder, capture_output=True, text=True, timeout=120, **more)  # type: ignore[call-overload]
    _clean(done.stdout + done.stderr)
    return done  # type: ignore[no-any-return]


@pytest.fixture
def lamp(tmp_path: Path) -> Path:
    bench(tmp_path)
    return tmp_path


# ---- rights ----------------------------------------------------------------------------------------------------------


def _ordinary() -> None:
    """Give up what lets the superuser read everything (the capabilities to override and to search)."""
    if os.geteuid() == 0:
        libc = ctypes.CDLL(None, use_errno=True)
        for capability in (1, 2):
            libc.prctl(24, capability, 0, 0, 0)  # PR_CAPBSET_DROP: gone after the exec


def test_a_folder_and_a_file_that_may_not_be_read(lamp: Path) -> None:
    shut = lamp / "shut"
    shut.mkdir()
    (shut / "b.derate.yaml").write_text(DESIGN)
    (lamp / "a.derate.yaml").write_text(DESIGN)
    (lamp / "a.derate.yaml").chmod(0)
    shut.chmod(0)
    try:
        done = _lint(lamp, ".", "--pack", "bench-house", preexec_fn=_ordinary)
    finally:
        shut.chmod(0o755)
    if done.returncode == 1:
        pytest.skip("everything may be read here, whatever its mode")
    assert done.returncode == 2
    assert "shut:1:1: error: this folder could not be read (Permission denied)" in done.stderr
    assert "a.derate.yaml:1:1: error: " in done.stderr
    assert "lamp.derate.yaml" in done.stdout, "what can be read is judged"


# ---- disk ------------------------------------------------------------------------------------------------------------


def _small_files() -> None:
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (64, 64))


def test_a_full_disk_while_recording_leaves_nothing_half(lamp: Path) -> None:
    """The system refuses the 65th byte: the record that was there stays, whole, and no other file is left."""
    first = _lint(lamp, "lamp.derate.yaml", "--pack", "bench-house", "--record", "known.json", *SIGNED)
    assert first.returncode == 1
    before = (lamp / "known.json").read_bytes()
    json.loads(before)
    files = sorted(lamp.rglob("*"))
    command = ("lamp.derate.yaml", "--pack", "bench-house", "--record", "known.json", *SIGNED)
    done = _lint(lamp, *command, preexec_fn=_small_files)
    assert done.returncode == 2 and "File too large" in done.stderr
    assert (lamp / "known.json").read_bytes() == before and sorted(lamp.rglob("*")) == files


def test_a_record_where_nothing_may_be_written(lamp: Path) -> None:
    (lamp / "folder").mkdir()
    done = _lint(lamp, "lamp.derate.yaml", "--pack", "bench-house", "--record", "folder", *SIGNED)
    assert done.returncode == 2 and "folder" in done.stderr
    done = _lint(lamp, "lamp.derate.yaml", "--pack", "bench-house", "--record", "nowhere/known.json", *SIGNED)
    assert done.returncode == 2 and "nowhere" in done.stderr and not (lamp / "nowhere").exists()


# ---- a key pressed ---------------------------------------------------------------------------------------------------


_INTERRUPTED = """
import os, signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)  # a suite in the background is handed one that is ignored
import derate.study.work as work
from derate.cli.main import main
judge, judged = work.judge, []
def interrupted(*given, **named):
    judged.append(given)
    if len(judged) == 3:
        os.kill(os.getpid(), signal.SIGINT)
    return judge(*given, **named)
work.judge = interrupted
sys.exit(main(sys.argv[1:]))
"""


def test_an_interrupt_in_the_middle_of_real_work(lamp: Path) -> None:
    """Many designs, a record asked for, and Ctrl-C while the third is judged: one sentence, status 2, no record."""
    for number in range(9):
        (lamp / f"{number:03}.derate.yaml").write_text(DESIGN)
    command = [sys.executable, "-c", _INTERRUPTED, "lint", ".", "--record", "known.json", *SIGNED]
    done = subprocess.run(command, cwd=lamp, capture_output=True, text=True, timeout=120)
    _clean(done.stderr)
    assert done.returncode == 2 and done.stderr.startswith("derate stopped: interrupted")
    assert not (lamp / "known.json").exists() and done.stdout == ""


# ---- huge and deep ---------------------------------------------------------------------------------------------------

DEEP = "[" * 100_000


@pytest.mark.parametrize(
    ("file", "text", "argv"),
    [
        ("lamp.derate.yaml", "derate: 1\nsupply: {name: x, note: " + DEEP, ()),
        ("lamp.derate.yaml", "\n".join(" " * n + "a:" for n in range(3000)), ()),
        ("rules/bench-house.yaml", "pack: bench-house\nrules: " + DEEP, ()),
        (".derate.yaml", "packs: " + DEEP, ()),
        ("known.json", DEEP, ("--known", "known.json")),
    ],
)
def test_a_hundred_thousand_levels_anywhere(
    file: str, text: str, argv: tuple[str, ...], lamp: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.chdir(lamp)
    (lamp / file).write_text(text)
    assert main(["lint", "lamp.derate.yaml", "--pack", "bench-house", *argv]) == 2
    told = capsys.readouterr().err
    _clean(told)
    assert file in told


def test_fifty_megabytes_of_design(
    lamp: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Real text, not a hole: refused by its size, no more of it read than the greatest file that is taken."""
    monkeypatch.chdir(lamp)
    line = "# " + "x" * 997 + "\n"
    with (lamp / "lamp.derate.yaml").open("w") as file:
        for _ in range(50_000):
            file.write(line)
        file.write(DESIGN)
    tracemalloc.start()
    try:
        assert main(["lint", "lamp.derate.yaml", "--pack", "bench-house"]) == 2
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert GREATEST_SIZE < most < 3 * GREATEST_SIZE
    told = capsys.readouterr().err
    _clean(told)
    assert told.startswith("lamp.derate.yaml:1:1: error: ")


# ---- packs and revisions that leave the repository -------------------------------------------------------------------


@pytest.mark.parametrize("name", ["../outside.yaml", "/etc/hostname.yaml", "rules/link.yaml"])
def test_a_pack_outside_the_repository(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    inside = tmp_path / "inside"
    inside.mkdir()
    bench(inside, DESIGN + f"packs: [{name}]\n")
    (tmp_path / "outside.yaml").write_text(PACK)
    (inside / "rules" / "link.yaml").symlink_to(tmp_path / "outside.yaml")
    monkeypatch.chdir(inside)
    assert main(["lint", "lamp.derate.yaml"]) == 2
    told = capsys.readouterr().err
    _clean(told)
    assert "lamp.derate.yaml:" in told


@pytest.mark.parametrize("name", ["../outside.yaml", "/etc/hostname", "link.yaml"])
def test_a_revision_of_something_outside(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    inside = tmp_path / "inside"
    inside.mkdir()
    bench(inside, DESIGN + f"revision_of: {name}\n")
    (tmp_path / "outside.yaml").write_text(DESIGN)
    (inside / "link.yaml").symlink_to(tmp_path / "outside.yaml")
    monkeypatch.chdir(inside)
    assert main(["lint", "lamp.derate.yaml", "--pack", "bench-house"]) == 2
    told = capsys.readouterr().err
    _clean(told)
    assert "outside this repository" in told
