"""`derate parts`: lists, checks, where a part is used, and what a change of one figure does to every design."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from derate.cli.main import main
from derate.report.schemas import PartsOutput, read_output

DESIGN = """\
derate: 1
supply:
  name: Lamp {name}
  topology: flyback
  protection_class: II
  plate: {{mains: 220..240 V, frequency: 50 Hz, outputs: {{main: {{voltage: 12 V, current: 1 A}}}}}}
parts:
  BR1: {{kind: bridge rectifier, rated: {{reverse_voltage: 600 V, current: 1 A, forward_voltage: 1.0 V at 1 A}}}}
  C1: {{part: H22{own}}}
circuit: {{line: [BR1, across C1]}}
"""
HOUSE = """\
library: house
sources: {cap: {document: Series K, page: 4}}
parts:
  H22: {kind: electrolytic capacitor, capacitance: 22 uF 20%, rated: {voltage: 400 V}, source: cap}
  H23: {kind: electrolytic capacitor, capacitance: 22 uF 20%, rated: {voltage: 450 V}, source: cap}
"""


@pytest.fixture
def house(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / ".git").mkdir()
    (tmp_path / "house.parts.yaml").write_text(HOUSE, encoding="utf-8")
    (tmp_path / "a.derate.yaml").write_text(DESIGN.format(name="a", own=""), encoding="utf-8")
    own = ", rated: {voltage: 380 V}"
    (tmp_path / "b.derate.yaml").write_text(DESIGN.format(name="b", own=own), encoding="utf-8")
    return tmp_path


def test_lists_and_shows_where_each_is_used(house: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["parts"]) == 0
    out = capsys.readouterr().out
    assert "house (house.parts.yaml, " in out and "everyday-types (shipped, " in out
    (line,) = [one for one in out.split("\n") if one.startswith("  H22, ")]
    assert line.endswith("electrolytic capacitor: voltage 400 V; used 2 times")
    assert main(["parts", "H22"]) == 0
    out = capsys.readouterr().out
    assert "  rated.voltage: 400 V (data sheet, one source; Series K, page 4; line 4)" in out
    assert "used by a.derate.yaml:9: C1" in out and "rated.voltage: 380 V there in place of 400 V" in out


def test_what_a_change_would_do_and_nothing_is_written(house: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = {one.name: one.read_bytes() for one in house.iterdir() if one.is_file()}
    assert main(["parts", "H22", "--set", "rated.voltage=300 V", "--today", "2026-11-25"]) == 0
    out = capsys.readouterr().out
    assert "a.derate.yaml: worse: bulk-capacitor-voltage on C1: marginal before, fail then" in out
    assert "b.derate.yaml: C1: the design has a figure of its own, nothing moves" in out
    assert main(["parts", "H22", "--set", "voltage=500 V", "--today", "2026-11-25"]) == 0
    assert "a.derate.yaml: better: bulk-capacitor-voltage on C1: marginal before, pass then" in capsys.readouterr().out
    assert main(["parts", "H22", "--set", "voltage=400 V", "--today", "2026-11-25"]) == 0
    assert "a.derate.yaml: C1: no verdict moves" in capsys.readouterr().out
    assert main(["parts", "H23", "--set", "voltage=400 V"]) == 0
    assert "no design below . takes rated.voltage from H23" in capsys.readouterr().out
    assert before == {one.name: one.read_bytes() for one in house.iterdir() if one.is_file()}


def test_a_check_names_what_is_wrong(house: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["parts", "--check"]) == 0
    assert capsys.readouterr().out.endswith("parts: nothing wrong\n")
    (house / "house.parts.yaml").write_text(HOUSE.replace("450 V", "450 kg"), encoding="utf-8")
    assert main(["parts", "--check"]) == 1
    told = capsys.readouterr()
    assert "house.parts.yaml:5:" in told.err and told.out.endswith("1 problem\n")


def printed(capsys: pytest.CaptureFixture[str], *argv: str, status: int = 0) -> Any:
    """What the command prints as JSON, held to the published schema and read again."""
    assert main(["parts", *argv, "--format", "json"]) == status
    text = capsys.readouterr().out
    again = read_output(text, "out.json", PartsOutput)
    assert json.loads(again.model_dump_json(by_alias=True, exclude_unset=True)) == json.loads(text)
    return json.loads(text)


def test_as_json_with_every_figure_its_source_and_who_uses_it(house: Path, capsys: pytest.CaptureFixture[str]) -> None:
    every = printed(capsys)
    assert [one["name"] for one in every["parts"]][:2] == ["H22", "H23"] and len(every["parts"]) > 60
    assert [(one["name"], one["from"], one["shipped"]) for one in every["libraries"]] == [
        ("house", "house.parts.yaml", False),
        ("everyday-types", "", True),
    ]
    (one,) = printed(capsys, "H22")["parts"]
    assert (one["kind"], one["path"], one["line"]) == ("electrolytic capacitor", "house.parts.yaml", 4)
    figures = {each["key"]: each for each in one["figures"]}
    assert figures["rated.voltage"] == {
        "key": "rated.voltage",
        "maker": "",
        "said": "400 V",
        "value": {"low": 400.0, "near": 400.0, "far": 400.0, "high": 400.0},
        "unit": "V",
        "known_by": "data sheet",
        "confidence": "one source",
        "source": "Series K, page 4",
        "line": 4,
    }
    assert figures["capacitance"]["unit"] == "F"
    assert figures["capacitance"]["value"]["low"] == pytest.approx(0.8 * 22e-6)
    assert [(each["design"], each["line"], each["part"]) for each in one["used_by"]] == [
        ("a.derate.yaml", 9, "C1"),
        ("b.derate.yaml", 9, "C1"),
    ]
    (own,) = one["used_by"][1]["overruled"]
    assert (own["key"], own["before"], own["after"], own["raised"]) == ("rated.voltage", "400 V", "380 V", False)
    (other,) = printed(capsys, "1N4148")["parts"]
    surge = next(each for each in other["figures"] if each["key"] == "rated.surge_current")
    assert [(point["at"], point["at_unit"], point["near"]) for point in surge["value"]["points"]] == [
        (1e-6, "s", 2.0),
        (1.0, "s", 0.5),
    ]


def test_a_change_as_json_and_a_check_with_what_is_wrong(house: Path, capsys: pytest.CaptureFixture[str]) -> None:
    change = printed(capsys, "H22", "--set", "voltage=300 V", "--today", "2026-11-25")["change"]
    assert (change["part"], change["key"], change["said"]) == ("H22", "rated.voltage", "300 V")
    a, b = change["designs"]
    assert (a["design"], a["parts"], b["own"], b["moved"]) == ("a.derate.yaml", ["C1"], ["C1"], [])
    moved = next(one for one in a["moved"] if one["rule"] == "bulk-capacitor-voltage")
    assert (moved["way"], moved["before"], moved["after"]) == ("worse", "marginal", "fail")
    assert a["blocking_after"] > a["blocking_before"] and b["blocking_after"] == b["blocking_before"]
    assert printed(capsys, "--check")["problems"] == []
    (house / "house.parts.yaml").write_text(HOUSE.replace("450 V", "450 kg"), encoding="utf-8")
    (wrong,) = printed(capsys, "--check", status=1)["problems"]
    assert (wrong["path"], wrong["line"]) == ("house.parts.yaml", 5) and "kg" in wrong["what"]


def test_a_design_that_cannot_be_read_is_told_in_the_json_too(house: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (house / "c.derate.yaml").write_text("derate: 1\nsuply: {}\n", encoding="utf-8")
    found = printed(capsys, "H22", status=2)
    assert {one["path"] for one in found["problems"]} == {"c.derate.yaml"} and len(found["parts"][0]["used_by"]) == 2


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (["H222"], "did you mean H22?"),
        (["H222", "--set", "voltage=1 V"], "did you mean H22?"),
        (["--set", "voltage=1 V"], "--set changes a figure of one part"),
        (["H22", "--set", "voltage"], "is no figure and its value"),
        (["H22", "--set", "voltag=1 V"], "write rated.voltage=…"),
        (["H22", "--set", "voltage=unknown"], "is no value to try"),
        (["H22", "--set", "voltage=1 A"], "expected a voltage, got a current"),
        (["--designs", "nowhere"], "is no folder"),
    ],
)
def test_refused(house: Path, argv: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["parts", *argv]) == 2
    assert said in capsys.readouterr().err


def test_the_change_of_a_library_touches_the_designs_of_its_repository(
    house: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["lint", "--changed", "house.parts.yaml", "--today", "2026-11-25"]) == 1
    out = capsys.readouterr().out
    assert "a.derate.yaml" in out and "b.derate.yaml" in out
