"""Many files at once: one order whatever was typed, one file's errors beside another's findings, settings of each."""

from __future__ import annotations

import json
from itertools import permutations
from pathlib import Path

import pytest
from small_supply import DESIGN, PACK, bench

from derate.cli.main import main


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    bench(tmp_path)
    for name in ("b/one", "a/two", "a-three"):
        (tmp_path / f"{name}.derate.yaml").parent.mkdir(exist_ok=True)
        (tmp_path / f"{name}.derate.yaml").write_text(DESIGN.replace("Bench lamp adapter", name))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def _run(capsys: pytest.CaptureFixture[str], *argv: str) -> tuple[int, str, str]:
    status = main(["lint", "--today", "2026-11-25", *argv])
    return status, *capsys.readouterr()


def test_one_order_whatever_was_typed(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    paths = ["a-three.derate.yaml", "lamp.derate.yaml", "b", "a"]
    told = {_run(capsys, "--pack", "bench-house", *order) for order in permutations(paths)}
    assert len(told) == 1
    ((status, out, _),) = told
    assert status == 1
    last = ("next: ", "blocked by ")
    lines = [line for line in out.split("\n") if ".derate.yaml" in line and not line.startswith(last)]
    files = list(dict.fromkeys(line.split(":")[0] for line in lines))
    assert files == sorted(files) and len(files) == 4
    assert _run(capsys, "--pack", "bench-house", ".")[1].replace("./", "") == out


def test_the_same_bytes_twice(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for form in ([], ["--format", "json"]):
        assert _run(capsys, ".", "--pack", "bench-house", *form) == _run(capsys, ".", "--pack", "bench-house", *form)


def test_errors_in_one_hide_nothing_of_another(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Unreadable in three ways: all three told with their places, the two that can be read are judged, status 2."""
    (folder / "a" / "two.derate.yaml").write_text("derate: 1\nsupply: {name: [x\n")
    (folder / "b" / "one.derate.yaml").write_text(DESIGN.replace("kind: fuse", "kind: fues"))
    (folder / "a-three.derate.yaml").write_text(DESIGN + "packs: [nowhere-to-be-found]\n")
    status, out, told = _run(capsys, ".", "--format", "json")
    assert status == 2
    assert [design["path"] for design in json.loads(out)["designs"]] == ["lamp.derate.yaml"]
    for name in ("a/two.derate.yaml:", "b/one.derate.yaml:10:14:", "a-three.derate.yaml:"):
        assert any(line.startswith(name) and ": error: " in line for line in told.split("\n")), (name, told)
    status, out, told = _run(capsys, "lamp.derate.yaml", "gone.derate.yaml", "--pack", "bench-house")
    assert status == 2 and "lamp.derate.yaml:" in out and told.startswith("gone.derate.yaml:1:1: error: ")


def test_one_bad_among_good_stops_the_run(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    easy = PACK.replace("pack: bench-house", "pack: easy").replace("capacity >= 1500 A", "capacity >= 30 A")
    (folder / "rules" / "easy.yaml").write_text(easy)
    good = DESIGN.replace("topology: flyback", "topology: flyback\n  protection_class: II")
    for path in folder.rglob("*.derate.yaml"):
        path.write_text(good)
    assert _run(capsys, ".", "--pack", "easy")[0] == 0
    (folder / "b" / "one.derate.yaml").write_text(good.replace("breaking_capacity: 35 A", "breaking_capacity: 20 A"))
    status, out, _ = _run(capsys, ".", "--pack", "easy")
    assert status == 1 and sum(": fail: " in line for line in out.split("\n")) == 1


def test_each_file_has_the_settings_above_it(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Found walking up from the design, nearest first; printed when asked; the command line wins."""
    (folder / ".derate.yaml").write_text("packs: [bench-house]\n")
    (folder / "a" / ".derate.yaml").write_text("packs: [bench-house]\nstop_at: marginal\n")
    _, _, told = _run(capsys, ".", "--verbose")
    lines = {line.split(":")[0]: line for line in told.split("\n") if "settings: " in line}
    assert lines["a/two.derate.yaml"].split("settings: ")[1].startswith(str(Path("a") / ".derate.yaml")) or (
        f"{folder}/a/.derate.yaml" in lines["a/two.derate.yaml"]
    )
    assert "a/.derate.yaml" not in lines["b/one.derate.yaml"] and ".derate.yaml" in lines["b/one.derate.yaml"]
    assert all("bench-house (" in line for line in lines.values()) and len(lines) == 4
    _, _, told = _run(capsys, "b", "--verbose", "--pack", "mains-fusing")
    assert "bench-house" not in told


def test_settings_that_cannot_be_read_are_told_with_their_place(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "a" / ".derate.yaml").write_text("stop_att: fail\n")
    status, out, told = _run(capsys, ".", "--pack", "bench-house")
    assert status == 2 and "a/.derate.yaml:1:1: error: 'stop_att' is no setting; write stop_at" in told
    assert "b/one.derate.yaml:" in out and "a/two.derate.yaml:" not in out
