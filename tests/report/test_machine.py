"""JSON outputs: the published shape, SI units, the same bytes every time, hostile names harmless."""

from __future__ import annotations

import json
import re
from typing import Any

import jsonschema
import pytest
from reviews_by_hand import RUNNING, finding, mixed, review, small_ledger

from derate.judge.review import Gate, Used
from derate.ledger.entry import Subject
from derate.report.ledger import chosen
from derate.report.machine import lint_json, stress_json
from derate.report.schemas import FAULTS, LINT, STRESS
from derate.terms.dimension import CELSIUS, VOLTAGE
from derate.terms.values import Curve, Value

GATE = Gate("fail", "command line", (Used("house", "rules/house.yaml", False, "0" * 64),))

FINDING_KEYS = [
    "rule", "hazard", "severity", "raised", "subject", "case", "verdict", "stress", "limit", "ratio", "unit", "message",
    "remedy", "does", "withheld", "basis", "missing", "line", "column", "waiver",
]  # fmt: skip


def _holds(schema: dict[str, Any], text: str) -> Any:
    data = json.loads(text)
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.Draft202012Validator(schema).validate(data)
    return data


def test_lint_json_has_the_published_shape() -> None:
    data = _holds(LINT, lint_json([mixed()]))
    assert list(data) == ["derate", "caution", "designs"]
    design = data["designs"][0]
    assert list(design) == ["path", "gate", "overall", "not_powered", "hazards", "counts", "findings", "unused"]
    assert all(list(one) == FINDING_KEYS for one in design["findings"])
    assert len(design["findings"]) == len(mixed().findings)
    assert design["counts"] == {"fail": 3, "not assessed": 82, "marginal": 1, "pass": 1, "not applicable": 1}
    assert design["hazards"]["fire"]["blocking"] == 81
    assert design["hazards"]["rating"]["held_back"] == 1


def test_figures_are_si_and_open_ends_are_null() -> None:
    given = review(
        finding(stress=Value.floor(0.006), limit=Value(0.0, 0.0, 0.0064, 0.0064), ratio=float("inf"), unit="m"),
        finding(case=RUNNING, stress=None, limit=None, ratio=None),
    )
    one, other = _holds(LINT, lint_json([given]))["designs"][0]["findings"]
    assert one["stress"] == {"low": 0.006, "near": 0.006, "far": None, "high": None}
    assert one["ratio"] is None
    assert other["stress"] is None
    assert other["case"]["mains"] == 264.0


def test_bytes_are_the_same_every_time_and_plain_ascii() -> None:
    text = lint_json([mixed()])
    assert text == lint_json([mixed()])
    assert text.isascii() and text.endswith("}\n")
    assert "NaN" not in text and "Infinity" not in text


def test_hostile_names_are_written_out() -> None:
    hostile = finding(subject=Subject("part", ("C1\u202e\x1b[31m",)), message="a\x00b")
    data = _holds(LINT, lint_json([review(hostile)._replace(path="x\x07.yaml")]))
    text = json.dumps(data, ensure_ascii=False)
    assert not re.search("[\x00-\x1f\u202e]", text)


def test_stress_json_has_the_published_shape() -> None:
    ledger = small_ledger()
    stresses = _holds(STRESS, stress_json("x.yaml", chosen(ledger.entries), GATE))["stresses"]
    assert {row["quantity"] for row in stresses} == {
        "power_drawn", "ripple_current", "mains_current", "case_temperature",
    }  # fmt: skip
    for row in stresses:
        assert list(row) == [
            "subject", "quantity", "case", "low", "near", "far", "high", "unit", "known_by", "formula", "source",
            "missing",
        ]  # fmt: skip
    hole = next(row for row in stresses if row["quantity"] == "case_temperature")
    assert hole["near"] is None and hole["missing"] == ["C1: air_temperature"] and hole["unit"] == "degC"
    floor = next(row for row in stresses if row["quantity"] == "mains_current")
    assert (floor["near"], floor["far"]) == (0.2, None) and floor["missing"] == []


def test_facts_keep_their_words_and_curves() -> None:
    ledger = small_ledger()
    ledger.write(
        Subject("part", ("C1",)), "rated.voltage", Curve(((25.0, Value.exact(400.0)),), CELSIUS, VOLTAGE)
    )
    data = _holds(STRESS, stress_json("x.yaml", chosen(ledger.entries, every=True), GATE))
    rows = {row["quantity"]: row for row in data["stresses"]}
    assert rows["part.kind"]["words"] == ["electrolytic capacitor"]
    assert rows["rated.voltage"]["points"][0] == {
        "at": 25.0, "at_unit": "degC", "low": 400.0, "near": 400.0, "far": 400.0, "high": 400.0,
    }  # fmt: skip
    jsonschema.Draft202012Validator.check_schema(FAULTS)


@pytest.mark.parametrize(("key", "value"), [("verdict", "ok"), ("line", 0), ("hazard", "water"), ("extra", 1)])
def test_the_schema_refuses_what_is_not_of_this_shape(key: str, value: object) -> None:
    data = json.loads(lint_json([mixed()]))
    data["designs"][0]["findings"][0][key] = value
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(LINT).validate(data)
