"""A rectifier's drop that nobody read: what it can do to a distance is worked out, not held back for its sake."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from derate.cli.main import main

DESIGN = Path(__file__).parents[2] / "designs" / "greenhouse-vent" / "greenhouse-vent.derate.yaml"
DROP = "forward_voltage: 0.62 V at 5 A"


def _verdicts(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> dict[tuple[str, str], tuple[str, float]]:
    path = tmp_path / "vent.derate.yaml"
    path.write_text(text, encoding="utf-8")
    main(["lint", str(path), "--format", "json"])
    (design,) = json.loads(capsys.readouterr().out)["designs"]
    return {
        (one["rule"], ", ".join(one["subject"]["names"])): (one["verdict"], (one["limit"] or {}).get("far") or 0.0)
        for one in design["findings"]
    }


def test_a_drop_that_nobody_read_holds_no_distance_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """6.1 mm stand against 3 mm and 22 mm against 11 mm, whatever D7 drops; 9 mm against 8.6 mm do not hold at 4 V."""
    text = DESIGN.read_text(encoding="utf-8")
    assert text.count(DROP) == 1
    read = _verdicts(text, tmp_path, capsys)
    unread = _verdicts(text.replace(DROP, "forward_voltage: unknown"), tmp_path, capsys)
    for place in ("under transformer", "core to secondary leads"):
        assert read["barrier-clearance", place][0] == unread["barrier-clearance", place][0] == "pass"
        assert unread["barrier-creepage", place][1] > read["barrier-creepage", place][1]
    assert unread["barrier-creepage", "under transformer"][0] == "pass"
    assert read["barrier-creepage", "core to secondary leads"][0] == "pass"
    assert unread["barrier-creepage", "core to secondary leads"][0] == "not assessed"
    assert read["electric-strength-voltage", "primary, secondary"][0] == "pass"
    assert unread["electric-strength-voltage", "primary, secondary"][0] == "not assessed"  # 4240 V of up to 4610 V
