"""`derate lint` from the command line to its exit status."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from small_supply import DESIGN, PACK, SIGNED, bench

from derate.cli.main import main
from derate.report.schemas import LINT

SOUND = DESIGN.replace("breaking_capacity: 35 A", "breaking_capacity: 1500 A").replace(
    "topology: flyback", "topology: flyback\n  protection_class: II"
)


@pytest.fixture
def lamp(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("FORCE_COLOR", raising=False)
    monkeypatch.delenv("NO_COLOR", raising=False)
    bench(tmp_path)
    return Path("lamp.derate.yaml")


def test_a_pipe_gets_one_finding_a_line(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lint", str(lamp), "--pack", "bench-house"]) == 1
    taken = capsys.readouterr()
    assert taken.err == ""
    first = next(line for line in taken.out.split("\n") if not line.startswith("lamp.derate.yaml: "))
    assert first.startswith("lamp.derate.yaml:10:") and ": fail: F1: " in first
    assert "(rule breaking-capacity, critical, blocks)" in first
    assert "; 1 fail, " in taken.out and "rule packs: bench-house" in taken.out
    assert "\x1b" not in taken.out


def test_exit_status(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lamp.write_text(SOUND)
    assert main(["lint", str(lamp), "--pack", "bench-house"]) == 0
    assert "Nothing blocks: exit status 0." in capsys.readouterr().out
    lamp.write_text(SOUND.replace("protection_class: II", "protection_class: unknown"))
    assert main(["lint", str(lamp), "--pack", "bench-house"]) == 1
    assert main(["lint", str(lamp), "--pack", "bench-house", "--stop-at", "fail"]) == 0
    assert main(["lint", str(lamp), "--pack", "bench-house", "--stop-at", "marginal"]) == 1
    assert main(["lint", str(lamp), "no-such-file.yaml", "--pack", "bench-house"]) == 2
    assert "something could not be read: exit status 2" in capsys.readouterr().out


def test_a_marginal_finding_stops_only_at_that_level(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    close = PACK.replace("keep: rated.voltage >= 300 V", "keep: rated.voltage >= 390 V\n    guard: 0.9")
    Path("rules/bench-house.yaml").write_text(close)
    lamp.write_text(SOUND)
    assert main(["lint", str(lamp), "--pack", "bench-house", "--all"]) == 0
    assert ": marginal: C1: " in capsys.readouterr().out
    assert main(["lint", str(lamp), "--pack", "bench-house", "--stop-at", "marginal"]) == 1


def test_json_holds_to_its_schema_and_is_the_same_every_time(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lint", str(lamp), "--pack", "bench-house", "--format", "json"]) == 1
    text = capsys.readouterr().out
    jsonschema.Draft202012Validator(LINT).validate(json.loads(text))
    assert main(["lint", str(lamp), "--pack", "bench-house", "--format", "json"]) == 1
    assert capsys.readouterr().out == text
    (finding,) = [one for one in json.loads(text)["designs"][0]["findings"] if one["rule"] == "breaking-capacity"]
    assert finding["stress"] == {"low": 35.0, "near": 35.0, "far": 35.0, "high": 35.0}
    assert finding["limit"]["near"] == 1500.0 and finding["unit"] == "A"
    assert finding["basis"] == {"source": "house practice, section 2", "confidence": "common practice"}


def test_colour_that_is_asked_for_brings_the_layout_for_people(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lint", str(lamp), "--pack", "bench-house", "--colour", "always"]) == 1
    text = capsys.readouterr().out
    assert "\x1b[" in text and "Bench lamp adapter" in text and "needs" in text and "looked at" in text


@pytest.mark.parametrize(
    ("environment", "option", "coloured"),
    [
        ({"FORCE_COLOR": "1"}, "auto", True),
        ({"FORCE_COLOR": "1", "NO_COLOR": "1"}, "auto", False),
        ({"FORCE_COLOR": "1"}, "never", False),
        ({"NO_COLOR": "1"}, "always", True),
        ({}, "auto", False),
    ],
)
def test_who_decides_on_colour(
    environment: dict[str, str], option: str, coloured: bool, lamp: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    main(["lint", str(lamp), "--pack", "bench-house", "--colour", option])
    assert ("\x1b[" in capsys.readouterr().out) == coloured


def test_errors_of_one_design_hide_nothing_of_another(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("another.derate.yaml").write_text(DESIGN.replace("22 uF 20%", "22 uX").replace("0.1 ohm", "0.1 onm"))
    assert main(["lint", ".", "--pack", "bench-house"]) == 2
    taken = capsys.readouterr()
    assert "lamp.derate.yaml:10:" in taken.out
    assert taken.err.count("another.derate.yaml:") == 2 and "; " in taken.err
    assert "Traceback" not in taken.err


def test_a_fault_of_ours_in_one_design_hides_nothing_of_another(
    lamp: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from derate.study.work import Workshop

    Path("another.derate.yaml").write_text(DESIGN)
    whole = Workshop.work

    def fails(self: Workshop, path: str) -> object:
        if "another" in path:
            raise ZeroDivisionError("division by zero")
        return whole(self, path)

    monkeypatch.setattr(Workshop, "work", fails)
    assert main(["lint", ".", "--pack", "bench-house"]) == 2
    taken = capsys.readouterr()
    assert "lamp.derate.yaml:10:" in taken.out
    assert "another.derate.yaml:1:1: error: this design could not be worked through" in taken.err


def test_order_of_paths_changes_nothing(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("another.derate.yaml").write_text(DESIGN)
    main(["lint", "lamp.derate.yaml", "another.derate.yaml", "--pack", "bench-house"])
    one = capsys.readouterr().out
    main(["lint", "another.derate.yaml", "lamp.derate.yaml", "./lamp.derate.yaml", "--pack", "bench-house"])
    assert capsys.readouterr().out == one


DAY = ("--today", "2026-11-25")


def test_known_findings_are_held_back_and_counted(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lint", str(lamp), "--pack", "bench-house", "--record", "known.json", *SIGNED]) == 1
    assert [path.name for path in Path().glob(".derate-*")] == []
    capsys.readouterr()
    assert main(["lint", str(lamp), "--pack", "bench-house", "--known", "known.json", *DAY]) == 0
    text = capsys.readouterr().out
    assert "1 fail" in text  # the word stays, only the status changes
    held = "known findings: 3 held back by known.json: held back, 1 critical of fire and 2 critical of shock"
    assert f"softer: {held}" in text
    assert "until 2027-06-30 by lead engineer: an old design" in text
    assert main(["lint", ".", "--pack", "bench-house", "--known", "known.json", *DAY]) == 0  # however it was typed
    lamp.write_text(DESIGN.replace("35 A", "20 A"))
    assert main(["lint", str(lamp), "--pack", "bench-house", "--known", "known.json", *DAY]) == 1


def test_nothing_is_recorded_when_a_design_cannot_be_read(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("known.json").write_text("before")
    assert main(["lint", str(lamp), "gone.yaml", "--pack", "bench-house", "--record", "known.json", *SIGNED]) == 2
    assert Path("known.json").read_text() == "before"
    assert "'known.json' was not written" in capsys.readouterr().err


def test_a_record_that_cannot_be_written_is_told(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lint", str(lamp), "--pack", "bench-house", "--record", "no/such/folder.json", *SIGNED]) == 2
    assert "'no/such/folder.json' could not be written" in capsys.readouterr().err


def test_a_disk_that_fills_while_recording_leaves_the_old_file(
    lamp: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import os

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    Path("known.json").write_text("before")
    monkeypatch.setattr(os, "fsync", full)
    assert main(["lint", str(lamp), "--pack", "bench-house", "--record", "known.json", *SIGNED]) == 2
    assert Path("known.json").read_text() == "before"
    assert sorted(path.name for path in Path().iterdir()) == [".git", "known.json", "lamp.derate.yaml", "rules"]
    assert "No space left on device" in capsys.readouterr().err


def test_waivers_hold_to_the_day_given(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    waiver = (
        "waivers:\n  - {rule: breaking-capacity, part: F1, up_to: 50, reason: fed from a bench supply, by: lead, "
        "last_day: 2027-06-30}\n"
    )
    lamp.write_text(DESIGN.replace("topology: flyback", "topology: flyback\n  protection_class: II") + waiver)
    assert main(["lint", str(lamp), "--pack", "bench-house", "--today", "2027-06-30"]) == 1
    assert "critical_waivers: [fire]" in capsys.readouterr().out  # a critical fail of fire asks the root
    Path(".derate.yaml").write_text("critical_waivers: [fire]\n")
    assert main(["lint", str(lamp), "--pack", "bench-house", "--today", "2027-06-30", "--all"]) == 0
    text = capsys.readouterr().out
    assert ": fail: F1" in text and "waived up to 50 times until 2027-06-30 by lead" in text and "1 waiver" in text
    assert main(["lint", str(lamp), "--pack", "bench-house", "--today", "2027-07-01"]) == 1
    assert "expired" in capsys.readouterr().out


def test_verbose_tells_settings_and_packs(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path(".derate.yaml").write_text("packs: [bench-house]\nstop_at: fail\n")
    assert main(["lint", str(lamp), "--verbose"]) == 1
    taken = capsys.readouterr()
    assert ".derate.yaml; rule packs: bench-house (" in taken.err
    assert ": pass: C1: " in taken.out


def test_the_level_of_the_settings_holds_until_the_option_says_otherwise(lamp: Path) -> None:
    lamp.write_text(SOUND.replace("protection_class: II", "protection_class: unknown"))
    Path(".derate.yaml").write_text("packs: [bench-house]\nstop_at: fail\n")
    assert main(["lint", str(lamp)]) == 0
    assert main(["lint", str(lamp), "--stop-at", "not-assessed"]) == 1


def test_a_mistyped_pack_is_told_with_its_place_and_the_nearest(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lamp.write_text(DESIGN + "packs: [insulation-it-equipmnt]\n")
    assert main(["lint", str(lamp)]) == 2
    told = capsys.readouterr().err
    assert told.startswith("lamp.derate.yaml:14:9: error: there is no pack 'insulation-it-equipmnt'")
    assert "write insulation-it-equipment" in told


def test_hostile_names_reach_the_terminal_as_text(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lamp.write_text(DESIGN.replace("Bench lamp adapter", "'[bold]x[/bold] \u202e\u200b'"), encoding="utf-8")
    main(["lint", str(lamp), "--pack", "bench-house", "--colour", "always"])
    text = capsys.readouterr().out
    assert "[bold]x[/bold] \\u202e\\u200b" in text and "\u202e" not in text
