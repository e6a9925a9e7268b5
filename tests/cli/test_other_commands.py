"""`stress`, `explain`, `rules` and `schema` from the command line."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
import yaml
from small_supply import DESIGN, PACK, bench

from derate.cli.house import KINDS, schema_text
from derate.cli.main import main
from derate.packs.load import shipped
from derate.report.schemas import STRESS


@pytest.fixture
def lamp(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("FORCE_COLOR", raising=False)
    bench(tmp_path)
    return Path("lamp.derate.yaml")


def test_stress_as_table_json_and_derivation(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    packs = ["--pack", "bench-house"]
    assert main(["stress", str(lamp), *packs]) == 0
    table = capsys.readouterr().out
    (line,) = [line for line in table.split("\n") if " supply " in line and " power_drawn " in line]
    assert main(["stress", str(lamp), *packs, "--format", "json"]) == 0
    data = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(STRESS).validate(data)
    peaks = [row for row in data["stresses"] if row["quantity"] == "voltage_peak" and row["subject"]["names"] == ["C1"]]
    # crest of 240 V widened by 10 %, less at most two diode drops and what the line resistance takes
    assert 365.0 < max(row["near"] for row in peaks) <= 264.0 * 2**0.5
    assert main(["stress", str(lamp), *packs, "--why", line.split()[0]]) == 0
    derivation = capsys.readouterr().out
    assert "supply: power the converter draws from the bulk capacitor = 15 W" in derivation  # 12 W at 0.8
    assert "efficiency of the converter stage = 0.8; stated at lamp.derate.yaml:5:15" in derivation
    assert "stated at lamp.derate.yaml:7:" in derivation


def test_stress_filters_and_their_mistakes(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    packs = ["--pack", "bench-house"]
    assert main(["stress", str(lamp), *packs, "--part", "C1", "--quantity", "voltage_peak"]) == 0
    lines = [line for line in capsys.readouterr().out.strip().split("\n") if not line.startswith(f"{lamp}: ")]
    assert lines[:-1] and all(" C1 " in line and " voltage_peak " in line for line in lines[:-1])
    assert "no certificate" in lines[-1] and "Mains can kill" in lines[-1]
    assert main(["stress", str(lamp), *packs, "--quantity", "voltage_peek"]) == 2
    assert "no quantity is called 'voltage_peek'; write voltage_peak" in capsys.readouterr().err
    assert main(["stress", str(lamp), *packs, "--part", "C9"]) == 2
    assert "no entry is about 'C9'" in capsys.readouterr().err
    assert main(["stress", str(lamp), *packs, "--why", "99999"]) == 2
    assert "there is no entry 99999; entries go from 1 to" in capsys.readouterr().err
    assert main(["stress", str(lamp), *packs, "--all"]) == 0
    assert "plate.mains" in capsys.readouterr().out


def test_explain_tells_everything_of_a_rule(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "breaking-capacity", "--pack", "bench-house"]) == 0
    text = capsys.readouterr().out
    for piece in (
        "The fuse breaks what the mains can drive.", "A fuse that cannot break keeps on feeding an arc.",
        "greatest current it can break ≥ 1500 A", "house practice, section 2 (common practice)", "fire, critical",
        "pack bench-house", "to settle", "read the mark on the part", "fail: greatest current it can break 35 A",
        "not assessed: nothing known",
    ):  # fmt: skip
        assert piece in text, piece
    assert "{cure}" not in text


def test_explain_offers_the_nearest_name(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", "breaking-capasity", "--pack", "bench-house"]) == 2
    assert "there is no rule 'breaking-capasity'; write breaking-capacity" in capsys.readouterr().err


def test_rules_are_listed_by_hazard(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "--pack", "bench-house"]) == 0
    lines = capsys.readouterr().out.strip().split("\n")
    assert [line.split()[:2] for line in lines[:-1]] == [
        ["fire", "breaking-capacity"], ["shock", "class-marked"], ["overstress", "bulk-voltage"],
    ]  # fmt: skip
    assert "no certificate" in lines[-1] and "Mains can kill" in lines[-1]
    assert main(["rules", "--pack", "bench-house", "--hazard", "shock"]) == 0
    assert capsys.readouterr().out.split()[:2] == ["shock", "class-marked"]


def test_trials_are_run_and_a_wrong_one_is_told(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "--try", "bench-house"]) == 0
    text = capsys.readouterr().out
    assert "3 trials, 0 not as expected; 2 rules without a trial" in text
    assert "bench-house: bulk-voltage has no trial" in text
    Path("rules/bench-house.yaml").write_text(PACK.replace("35 A, expect: fail", "35 A, expect: pass"))
    assert main(["rules", "--try", "bench-house"]) == 1
    assert "breaking-capacity: expected pass, got fail: X1: " in capsys.readouterr().out


def test_two_packs_are_compared(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    other = PACK.replace("pack: bench-house", "pack: other").replace("1500 A\n    remedy", "200 A\n    remedy")
    Path("rules/other.yaml").write_text(other.replace("rule: class-marked", "rule: class-told"))
    assert main(["rules", "--compare", "bench-house", "other"]) == 0
    text = capsys.readouterr().out
    assert (
        "breaking-capacity: asks: bench-house greatest current it can break ≥ 1500 A; "
        "other greatest current it can break ≥ 200 A" in text
    )
    assert "class-marked: only in bench-house" in text and "class-told: only in other" in text
    assert "3 rules in bench-house, 3 in other, 1 the same in both" in text


@pytest.mark.parametrize("kind", KINDS)
def test_every_schema_is_one(kind: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", kind]) == 0
    text = capsys.readouterr().out
    jsonschema.Draft202012Validator.check_schema(json.loads(text))
    assert text == schema_text(kind)


def _documents(folder: str) -> list[Path]:
    return sorted(shipped(folder).rglob("*.yaml"))


def test_shipped_designs_and_packs_hold_to_their_schemas() -> None:
    # an editor reads scalars its own way; as texts they are what derate reads
    for folder, kind in (("designs", "design"), ("rules", "pack")):
        validator = jsonschema.Draft202012Validator(json.loads(schema_text(kind)))
        for path in _documents(folder):
            document = next(iter(yaml.load_all(path.read_text(encoding="utf-8"), yaml.BaseLoader)))
            wrong = [(list(error.path), error.message[:200]) for error in validator.iter_errors(document)]
            assert not wrong, f"{path.name}: {wrong}"


def test_a_part_of_a_library_needs_no_kind_and_the_shipped_library_holds_to_its_schema() -> None:
    design = jsonschema.Draft202012Validator(json.loads(schema_text("design")))
    good = yaml.load(DESIGN, yaml.BaseLoader)
    for part, holds in (({"part": "1N4007"}, True), ({"kind": "diode"}, True), ({"note": "seen"}, False)):
        assert design.is_valid({**good, "parts": {**good["parts"], "D77": part}}) is holds, part
    library = jsonschema.Draft202012Validator(json.loads(schema_text("library")))
    for path in _documents("parts"):
        document = yaml.load(path.read_text(encoding="utf-8"), yaml.BaseLoader)
        assert library.is_valid(document)
        assert not library.is_valid({**document, "pieces": {}})


def test_the_schemas_refuse_what_the_readers_refuse() -> None:
    design = jsonschema.Draft202012Validator(json.loads(schema_text("design")))
    good = yaml.load(DESIGN, yaml.BaseLoader)
    assert design.is_valid(good)
    assert not design.is_valid({**good, "suply": {}})
    assert not design.is_valid({key: value for key, value in good.items() if key != "parts"})
    assert design.is_valid({"derate": "1", "revision_of": "a.yaml", "supply": {"name": "x"}, "parts": {}})
    pack = jsonschema.Draft202012Validator(json.loads(schema_text("pack")))
    (document, _) = yaml.load_all(PACK, yaml.BaseLoader)
    assert pack.is_valid(document)
    rule = document["rules"][0]
    for wrong in ({"rule": "BV001"}, {"hazard": "water"}, {"keeps": "x"}, {"present": {"fact": "part.kind"}}):
        assert not pack.is_valid({**document, "rules": [{**rule, **wrong}]}), wrong


def test_missing_lists_what_lint_points_to(lamp: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lint", str(lamp), "--pack", "bench-house"]) == 1
    assert "next: derate missing lamp.derate.yaml" in capsys.readouterr().out
    assert main(["missing", str(lamp), "--pack", "bench-house"]) == 0
    text = capsys.readouterr().out
    head = "missing: protection class: look for the double square on the plate"
    assert f"{head}, or an earth pin (unplugged)" in text
    assert main(["missing", str(lamp), "gone.yaml", "--pack", "bench-house"]) == 2
