"""Files that are no designs, and worse: exit status 2, the place named, no traceback, nothing written."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from small_supply import DESIGN, PACK, SIGNED, bench

from derate.cli.main import main

_TEXTS: dict[str, bytes] = {
    "not YAML": b"derate: 1\nsupply: {name: [x\n",
    "empty": b"",
    "only remarks": b"# nothing\n",
    "a list": b"- derate: 1\n",
    "one word": b"derate\n",
    "a tab": b"derate: 1\nsupply:\n\tname: x\n",
    "a key twice": b"derate: 1\nderate: 1\nsupply: {name: x}\nparts: {}\n",
    "a tag": b"derate: 1\nsupply: !!python/object:os.system {name: x}\nparts: {}\n",
    "an anchor": b"derate: 1\nsupply: &a {name: x}\nparts: {}\n",
    "a merge key": b"derate: 1\nsupply: {name: x}\nparts: {A: {<<: {kind: fuse}}}\n",
    "an alias bomb": b"a: &a [x,x,x,x,x,x,x,x,x]\nb: &b [*a,*a,*a,*a,*a,*a,*a,*a]\nc: [*b,*b,*b,*b,*b,*b,*b,*b]\n",
    "deep nesting": b"derate: " + b"[" * 100_000,
    "deep blocks": b"derate: 1\nsupply: " + b"{a: " * 100_000,
    "not UTF-8": b"derate: 1\nsupply: {name: \xff\xfe}\n",
    "UTF-16": "derate: 1\n".encode("utf-16"),
    "NUL": b"derate: 1\x00\n",
    "U+2028": "derate: 1\nsupply: {name: a\u2028b}\n".encode(),
    "two documents": DESIGN.encode() + b"---\nx: 1\n",
    "another format": DESIGN.replace("derate: 1", "derate: 99").encode(),
    "leaves the repository": b"derate: 1\nrevision_of: ../../other.yaml\nsupply: {name: x}\nparts: {}\n",
    "revises itself": b"derate: 1\nrevision_of: lamp.derate.yaml\nsupply: {name: x}\nparts: {}\n",
}


@pytest.fixture
def lamp(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    bench(tmp_path)
    return Path("lamp.derate.yaml")


def _refused(capsys: pytest.CaptureFixture[str], path: str, *argv: str) -> str:
    before = sorted(Path().rglob("*"))
    assert main(["lint", path, "--pack", "bench-house", *argv]) == 2
    told = capsys.readouterr().err
    assert told and all(": error: " in line for line in told.strip().split("\n"))
    assert "Traceback" not in told and "should not happen" not in told and "worked through" not in told
    assert sorted(Path().rglob("*")) == before
    return told


@pytest.mark.parametrize("name", _TEXTS)
def test_a_file_that_cannot_be_read(name: str, lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lamp.write_bytes(_TEXTS[name])
    told = _refused(capsys, str(lamp), "--record", "known.json", *SIGNED)
    assert told.startswith("lamp.derate.yaml:")


def test_a_file_of_50_megabytes(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with lamp.open("wb") as file:
        file.truncate(50_000_000)
    assert "larger than" in _refused(capsys, str(lamp))


def test_links_pipes_and_folders(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("gone.derate.yaml").symlink_to("nowhere")
    assert "gone.derate.yaml:1:1: error: this link leads nowhere" in _refused(capsys, "gone.derate.yaml")
    os.mkfifo("pipe.derate.yaml")
    assert "this is not an ordinary file" in _refused(capsys, "pipe.derate.yaml")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("rated.breaking_capacity >= 1500 A", "rated.breaking_capacity >= 1500 V", "a current"),
        ("rated.breaking_capacity >= 1500 A", "rated.braking_capacity >= 1500 A", "rated.breaking_capacity"),
        ("hazard: fire", "hazard: fier", "write fire"),
        ("covers:", "builds_on: [bench-house]\ncovers:", "builds on itself"),
        ("rule: class-marked", "rule: bulk-voltage", "twice"),
    ],
)
def test_a_pack_that_cannot_be_read(
    old: str, new: str, said: str, lamp: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("rules/bench-house.yaml").write_text(PACK.replace(old, new))
    told = _refused(capsys, str(lamp))
    assert "rules/bench-house.yaml:" in told and said in told


def test_a_known_record_that_is_none(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("known.json").write_text("{")
    assert "known.json:1:" in _refused(capsys, str(lamp), "--known", "known.json")


def test_an_interrupt_writes_nothing_and_says_one_sentence(lamp: Path) -> None:
    code = (
        "import signal, sys, time\n"
        # a shell that runs the suite in the background hands on an interrupt that is ignored
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "from derate.cli import main as m\n"
        "def slow(argv):\n"
        "    print('started', flush=True)\n"
        "    time.sleep(600)\n"
        "m._command = slow\n"
        "sys.exit(m.main(['lint']))\n"
    )
    process = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert process.stdout is not None and process.stdout.readline() == "started\n"
    process.send_signal(signal.SIGINT)
    _, told = process.communicate(timeout=60)
    assert process.returncode == 2
    assert told == "derate stopped: interrupted before it was finished, nothing was written\n"
