"""`derate lint --watch`: judged again after a save, what changed since the last run first."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from derate.cli.lint import judged, lint_parser, shown
from derate.cli.main import main
from derate.cli.watch import watched

BELL = Path(__file__).parents[2] / "designs/porch-bell/porch-bell.derate.yaml"


def _copy(folder: Path) -> Path:
    path = folder / "bell.derate.yaml"
    path.write_text(BELL.read_text(encoding="utf-8"), encoding="utf-8")
    return path


def _saves(path: Path, *pairs: tuple[str, str]) -> Iterator[object]:
    """Each save of a file with some letters replaced."""
    for old, new in pairs:
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new), encoding="utf-8")
        yield old


def test_each_save_is_judged_and_what_changed_stands_first(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = _copy(tmp_path)
    arguments = lint_parser().parse_args(["--watch", "--today", "2026-11-25", str(path)])
    saves = _saves(
        path,
        ("voltage: 25 V, temperature: 105", "voltage: 10 V, temperature: 105"),
        ("# the only part", "# the one part"),
        ("voltage: 10 V, temperature: 105", "voltage: 10 V, temperature: 1o5"),
        ("temperature: 1o5", "temperature: 105"),
    )
    assert watched(arguments, judged, shown, saves) == 1
    out, err = capsys.readouterr()
    assert ":37:45: error: no unit" in err
    runs = out.split("since the last run: ")
    assert len(runs) == 5 and "exit status 0" in runs[0]
    first = "  bell.derate.yaml: C2 output-capacitor-voltage: pass, now fail, blocks\n"
    assert runs[1].startswith(f"5 verdicts changed\n{first}")
    assert runs[1].index("now fail, blocks") < runs[1].index("dropper-rail-with-clamp-open: pass, now fail\n")
    assert "exit status 1" in runs[1]
    assert runs[2].startswith("no verdict changed")
    assert runs[3].startswith("a file cannot be read")
    assert runs[4].startswith("no verdict changed")  # held to the last run that could be read


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (["--format", "json"], "--format json"),
        (["--changed"], "--changed"),
        (["--record", "x.yaml", "--reason", "r", "--by", "b", "--last-day", "2027-01-01"], "--record"),
    ],
)
def test_what_does_not_go_with_it_is_said(
    more: list[str], says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["lint", "--watch", *more, str(_copy(tmp_path))]) == 2
    assert says in capsys.readouterr().err and not (tmp_path / "x.yaml").exists()


def test_without_the_library_it_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "watchfiles", None)
    assert main(["lint", "--watch", "--today", "2026-11-25", str(_copy(tmp_path))]) == 2
    assert "install derate[editor]" in capsys.readouterr().err


def test_a_real_save_wakes_it(tmp_path: Path) -> None:
    from threading import Thread

    from derate.cli.watch import real_saves

    path = _copy(tmp_path)
    saves = real_saves([str(path)], {str(path): None})
    found: list[object] = []
    waiting = Thread(target=lambda: found.append(next(saves)), daemon=True)
    waiting.start()
    for number in range(600):  # until it is seen, however busy the machine
        path.write_text(f"{path.read_text(encoding='utf-8')}# {number}\n", encoding="utf-8")
        waiting.join(0.1)
        if found:
            break
    assert found
