"""The insulation packs try every rule; losing a fact of a design opens no gate; the command prints what it knows."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from insulation_bench import PACKS
from small_barrier import BASE, Judged, changed, judged

from derate.insulation.pairs import summary
from derate.judge.trials import run_trials
from derate.packs.load import load_packs, shipped
from derate.packs.pack import Presence, Record, formulas_of
from derate.packs.trial import read_trials
from derate.terms.values import ReadingError
from derate.terms.words import CONFIDENCES


@pytest.mark.parametrize("family", PACKS)
def test_every_rule_is_tried_each_way_and_comes_out(family: str) -> None:
    packs = load_packs([PACKS[family]])
    path = shipped("rules") / f"{PACKS[family]}.yaml"
    trials = read_trials(path.read_text(encoding="utf-8"), str(path), packs)
    assert [one for one in run_trials(trials, packs) if not one.holds] == []
    tried: dict[str, set[str]] = {}
    for one in trials.rules:
        tried.setdefault(one.rule, set()).add(one.expect)
    for rule in packs.rules:
        found = tried.get(rule.name, set())
        looks_only = isinstance(rule.shape, Presence | Record) or rule.name.endswith("bridging-parts-looked-for")
        assert {"pass", "not assessed"} <= found, rule.name
        assert looks_only or "fail" in found, rule.name
        assert re.fullmatch(r"[a-z]+(-[a-z]+)+", rule.name) and rule.says.endswith(".") and rule.because.endswith(".")
        assert rule.family == family and rule.source and rule.settle


@pytest.mark.parametrize("family", PACKS)
def test_every_cell_says_how_sure_it_is(family: str) -> None:
    packs = load_packs([PACKS[family]])
    cells = [cell for table in packs.tables.values() for cell in table.cells.values()]
    assert all(cell.confidence in CONFIDENCES for cell in cells) and len(cells) > 100
    assert {cell.confidence for cell in cells} >= {"published", "one source", "remembered"}


def test_what_can_shock_is_critical() -> None:
    packs = load_packs([PACKS["62368-1"]])
    critical = {rule.name for rule in packs.rules if rule.severity == "critical"}
    assert {"barrier-clearance", "barrier-creepage", "bridging-part-reinforced", "electric-strength-held",
            "winding-tape-layers", "winding-margins", "earth-continuity", "case-stays-shut"} <= critical  # fmt: skip
    assert all(formula.text for rule in packs.rules for formula in formulas_of(rule.shape))


def _blocking(result: Judged) -> set[tuple[str, str]]:
    return {(one.rule, str(one.subject)) for one in result.review.findings if one.hazard == "shock" and one.blocks}


_WORSE = (
    ("clearance: 6.5 mm, creepage: 8.0 mm", "clearance: 2 mm, creepage: 2 mm"),
    ("class: Y1", "class: X1"),
    ("result: held", "result: broke down"),
    ("wire: triple-insulated", "wire: enamelled"),
    ("clearance: 6 mm, creepage: 7 mm", "clearance: 1 mm, creepage: 1 mm"),
)


_LAW = [("62368-1", one) for one in _WORSE[:4]] + [("60335-1", _WORSE[4])]


@pytest.mark.parametrize(("family", "worse"), _LAW, ids=[f"{name} {one[1][:20]}" for name, one in _LAW])
def test_losing_a_fact_of_a_design_opens_no_gate(family: str, worse: tuple[str, str]) -> None:
    """A supply with one defect blocks; with any one line or value taken out it blocks at least as well on that defect's
    rules, or somewhere else on shock."""
    text = changed(worse)
    base = _blocking(judged(text, family))
    assert base
    lost = 0
    for found in re.finditer(r"(?<=[{ ])([a-z_]+): ([^,{}\[\]\n]+)(?:, )?", text):
        key = found.group(1)
        if key in ("derate", "kind", "name", "test", "between", "turns") or found.group(0).startswith(
            ("line", "primary")
        ):
            continue
        less = text[: found.start()] + text[found.end() :]
        try:
            result = judged(less, family)
        except (ReadingError, AssertionError):
            continue  # the file is refused: that gate is shut too
        lost += 1
        assert _blocking(result), f"without '{found.group(0)}' nothing blocks any more"
        for rule, subject in base:
            verdicts = [
                one.verdict for one in result.review.findings if one.rule == rule and str(one.subject) == subject
            ]
            assert not verdicts or verdicts[0] != "pass", f"{rule} on {subject} passes without '{found.group(0)}'"
    assert lost > 15


def _command(tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, *options: str) -> tuple[int, str]:
    from derate.cli.figures import insulation_parser, run_insulation

    path = tmp_path / "supply.derate.yaml"
    path.write_text(text, encoding="utf-8")
    status = run_insulation(insulation_parser().parse_args([str(path), *options]))
    return status, capsys.readouterr().out


def test_summary_names_the_weakest_path() -> None:
    found = {one.role: one for one in summary(judged().ledger)}
    barrier = found["primary to secondary"]
    assert barrier.weakest is not None and str(barrier.weakest.subject) == "pads of CY1"
    assert {str(one.subject) for one in barrier.paths} == {"gap under T1", "pads of CY1", "core to leads"}
    assert barrier.insulation == ("reinforced",) and barrier.result == "held"
    assert barrier.weakest.share == pytest.approx(6.5 / 5.8)
    assert found["mains poles ahead of the fuse"].weakest is not None


def test_command_prints_each_pair(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out = _command(tmp_path, capsys, BASE, "--pack", "insulation-it-equipment")
    assert status in (0, 1)
    assert "primary to secondary: pass" in out and "weakest path: pads of CY1" in out
    assert "electric strength: needed 4000 V peak" in out and "no certificate" in out
    assert not re.search(r"\b(safe|compliant|approved|certified)\b", out)


def test_command_shows_both_families_apart(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    packs = ("--pack", "insulation-it-equipment", "--pack", "insulation-household", "--format", "json")
    status, out = _command(tmp_path, capsys, BASE, *packs)
    document = json.loads(out)
    verdicts = {
        family["family"]: pair["verdict"]
        for family in document["families"]
        for pair in family["pairs"]
        if pair["role"] == "primary to secondary"
    }
    assert verdicts == {"62368-1": "pass", "60335-1": "fail"} and status == 1


def test_command_prints_a_derivation_and_refuses_what_it_does_not_know(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pack = ("--pack", "insulation-it-equipment")
    status, out = _command(tmp_path, capsys, BASE, *pack, "--why", "gap under T1")
    assert status == 0 and "2 x 2.9 mm = 5.8 mm" in out and "row 2500 V: 3 mm" in out
    with pytest.raises(ReadingError, match="write gap under T1"):
        _command(tmp_path, capsys, BASE, *pack, "--why", "gap under T2")
    with pytest.raises(ReadingError, match="no insulation pack is in use"):
        _command(tmp_path, capsys, BASE, "--pack", "mains-fusing")
