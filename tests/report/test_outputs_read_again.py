"""What was printed as JSON, read again by models and held to the published schema, every fault with the way to it."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any, get_args

import jsonschema
import pytest
from reviews_by_hand import mixed, small_ledger

from derate.cli.main import main
from derate.judge.acknowledge import NobodySigned, Signed, fingerprint, read_record, record
from derate.judge.review import Gate
from derate.report.ledger import chosen
from derate.report.machine import lint_json, stress_json
from derate.report.schemas import (
    MODELS,
    Evidence,
    InsulationOutput,
    KnownRecord,
    LintOutput,
    StressesOutput,
    output_schema,
    problems_of,
    read_output,
)
from derate.terms.values import ReadingError
from derate.terms.words import EVIDENCE

SOUND = record([mixed()], Signed("an old design", "lead engineer", date(2027, 6, 30)))


def test_a_lint_output_reads_again_as_it_was() -> None:
    text = lint_json([mixed()])
    again = read_output(text, "out.json", LintOutput)
    assert again.designs[0].counts.not_assessed == 82 and again.designs[0].counts.passed == 1
    assert again.designs[0].findings[0].verdict in ("fail", "not assessed", "marginal", "pass", "not applicable")
    assert json.loads(again.model_dump_json(by_alias=True, exclude_unset=True)) == json.loads(text)


def test_a_stress_output_reads_again_as_it_was() -> None:
    text = stress_json("x.yaml", chosen(small_ledger().entries, every=True), Gate())
    again = read_output(text, "out.json", StressesOutput)
    assert json.loads(again.model_dump_json(exclude_unset=True)) == json.loads(text)


@pytest.mark.parametrize("name", ["greenhouse-vent", "market-stall-lamp"])
def test_an_insulation_output_reads_again_as_it_was(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The sound one, whose paths have all their figures, and the poor one with open ends and paths nobody measured."""
    path = Path(__file__).parents[2] / "designs" / name / f"{name}.derate.yaml"
    assert main(["insulation", str(path), "--format", "json"]) in (0, 1)
    text = capsys.readouterr().out
    again = read_output(text, "out.json", InsulationOutput)
    assert json.loads(again.model_dump_json(by_alias=True, exclude_unset=True)) == json.loads(text)
    assert again.families and any(pair.paths for pair in again.families[0].pairs)
    data = json.loads(text)
    for change in (
        lambda one: one.update(verdict="fine"), lambda one: one.pop("share"), lambda one: one.update(more=1),
        lambda one: one["entries"].update(x=-1), lambda one: one.update(found_creepage={"low": 1.0}),
    ):
        other = json.loads(text)
        change(next(path for pair in other["families"][0]["pairs"] for path in pair["paths"]))
        assert problems_of(json.dumps(other), "out.json", "insulation") and other != data


def test_a_record_reads_again() -> None:
    again = read_output(SOUND, "known.json", KnownRecord)
    kept = read_record(SOUND, "known.json").designs
    assert {path: set(marks) for path, marks in again.known.items()} == {p: set(m) for p, m in kept.items()}
    assert fingerprint(mixed().findings[0]) in again.known[mixed().name]


@pytest.mark.parametrize("kind", MODELS)
def test_every_schema_is_one(kind: str) -> None:
    jsonschema.Draft202012Validator.check_schema(output_schema(kind))
    assert "title" not in json.dumps(output_schema(kind)["properties"])


def test_the_words_of_evidence_stand_in_their_order() -> None:
    assert get_args(Evidence) == EVIDENCE


def _with(change: Any) -> str:
    data = json.loads(SOUND)
    change(data, next(iter(next(iter(data["known"].values())).values())))
    return json.dumps(data)


CHANGES: dict[str, Any] = {
    "verdict": lambda data, one: one.update(verdict="fial"),
    "ratio": lambda data, one: one.update(ratio="1.2"),
    "below zero": lambda data, one: one.update(ratio=-1.0),
    "a truth": lambda data, one: one.update(ratio=True),
    "one key more": lambda data, one: one.update(note="x"),
    "one key less": lambda data, one: one.pop("ratio"),
    "version": lambda data, one: data.update(derate=3),
    "no reason": lambda data, one: data.update(reason=" "),
    "nobody": lambda data, one: data.pop("by"),
    "no day": lambda data, one: data.update(last_day="soon"),
    "what it waits for": lambda data, one: one.update(missing="x"),
    "content": lambda data, one: one.pop("content"),
    "no designs": lambda data, one: data.pop("known"),
    "beside": lambda data, one: data.update(more={}),
    "list": lambda data, one: data.update(known=[]),
}


@pytest.mark.parametrize("name", CHANGES)
def test_the_reader_and_the_schema_refuse_the_same(name: str) -> None:
    text = _with(CHANGES[name])
    with pytest.raises(ReadingError):
        read_record(text, "known.json")
    told = problems_of(text, "known.json", "known")
    assert told and all(one.instead == "print it anew with derate lint --record" for one in told)


def test_a_record_that_nobody_signed_for_is_told_what_to_do() -> None:
    with pytest.raises(NobodySigned, match="no reason, no name and no last day.*--reason TEXT --by NAME --last-day"):
        read_record('{"derate": 1, "known": {}}', "known.json")


@pytest.mark.parametrize(
    "change",
    [lambda data, one: one.update(ratio=None), lambda data, one: one.update(ratio="infinite"),
     lambda data, one: one.update(ratio=0), lambda data, one: one.update(verdict="pass")],
)  # fmt: skip
def test_and_take_the_same(change: Any) -> None:
    text = _with(change)
    assert read_record(text, "k") and not problems_of(text, "k", "known")


def test_a_fault_is_told_with_the_way_to_it() -> None:
    data = json.loads(lint_json([mixed()]))
    data["designs"][0]["findings"][2]["verdict"] = "ok"
    with pytest.raises(ReadingError, match=r"designs\[0\].findings\[2\].verdict: 'ok' is not one of"):
        read_output(json.dumps(data), "out.json", LintOutput)
    with pytest.raises(ReadingError, match="this is no JSON"):
        read_output("{", "out.json", LintOutput)
    with pytest.raises(ReadingError, match="nested too deep|the whole"):
        read_output("[" * 100_000, "out.json", LintOutput)
