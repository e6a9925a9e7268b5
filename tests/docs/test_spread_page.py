"""The page on spread: its command runs, its table of samples and its figures are those of the code."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from derate.cli.main import main
from derate.study.spread.drift import DRIFTS, RISE
from derate.study.spread.statistics import coverage_of, samples_for

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "spread.md").read_text(encoding="utf-8")


def test_its_command_prints_the_lines_it_names(capsys: pytest.CaptureFixture[str]) -> None:
    command = re.search(r"^derate (stress) (\S+) (--spread)$", PAGE, re.MULTILINE)
    assert command is not None
    assert main([command[1], str(ROOT / "designs" / "first-look" / command[2]), command[3], "--draws", "20000"]) == 0
    told = capsys.readouterr().out
    for name in re.findall(r"^\| ([a-z][a-z .0-9%]+) \|", PAGE, re.MULTILINE)[1:]:
        if name not in ("coverage", "by themselves"):  # this design has none; see tests/study/test_spread.py
            assert name in told, name


def test_its_table_of_samples() -> None:
    rows = re.findall(r"^\| ([\d.]+) % \| ([\d.]+) % \| (\d+) \| (\d+) \|$", PAGE, re.MULTILINE)
    assert len(rows) == 6
    for coverage, confidence, one, two in rows:
        share, sure = float(coverage) / 100.0, float(confidence) / 100.0
        assert (samples_for(share, sure), samples_for(share, sure, True)) == (int(one), int(two))
    assert coverage_of(5, 0.95) == pytest.approx(0.55, abs=0.005)


def test_its_figures_of_drift() -> None:
    film, oxide = (DRIFTS["part.resistance", f"{kind} resistor"] for kind in ("film", "metal oxide"))
    assert film.temperature[1] == pytest.approx(50e-6 * RISE) and film.age[1] == 0.005 and RISE == 75.0
    assert oxide.temperature[1] == pytest.approx(200e-6 * RISE) and oxide.age[1] == 0.01
    assert DRIFTS["part.capacitance", "electrolytic capacitor"].age[0] == -0.4
