"""Order of parts, barriers and files changes nothing; the same input gives the same bytes."""

from __future__ import annotations

import json
import random
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from derate.cli.main import main
from derate.design.load import read_design
from derate.design.settings import Settings
from derate.packs.load import Packs, load_packs
from derate.study.work import DEFAULT_PACKS, Work, review_of, worked

DESIGNS = Path(__file__).parents[2] / "designs"
PARTS = [
    "  F1: {kind: fuse, standard: IEC 60127, resistance: 0.1 ohm, rated: {current: 1 A, voltage: 250 Vac}}",
    "  BR1: bridge rectifier 800 V 1 A",
    "  C1: electrolytic capacitor 22 uF 20% 400 V",
    "  Q1: MOSFET 600 V 4 A",
    "  R9: film resistor 0.82 ohm 1% 1 W",
    "  D1: Schottky diode 100 V 3 A",
    "  C5: electrolytic capacitor 680 uF 20% 25 V",
    "  CY1: ceramic capacitor Y1 2.2 nF 20% 400 Vac",
]
BARRIERS = [
    "  under transformer: {between: [primary, secondary], clearance: 6.1 mm, creepage: 7 mm}",
    "  ahead of F1: {between: [line, neutral], clearance: 3.4 mm, creepage: 3.4 mm}",
    "  across F1: {between: [line, after F1], clearance: 1.2 mm, creepage: 1.2 mm}",
]


@pytest.fixture(scope="module")
def packs() -> Packs:
    return load_packs(DEFAULT_PACKS)


def _text(parts: list[str], barriers: list[str]) -> str:
    return "\n".join(
        [
            "derate: 1",
            "supply: {name: Lamp, topology: flyback, protection_class: II, plate: {mains: 230 V, frequency: 50 Hz,",
            "  outputs: {main: {voltage: 12 V, current: 1 A}}}}",
            "site: {ambient: 0..40 degC, altitude: up to 2000 m, pollution_degree: 2, overvoltage_category: II}",
            "parts:",
            *parts,
            "circuit:",
            "  line: [F1, BR1, across C1]",
            "  primary: [T1.primary, Q1, R9]",
            "  outputs: {main: [T1.secondary, D1, across C5]}",
            "  bridging: {CY1: [bulk minus, main minus]}",
            "barriers:",
            *barriers,
        ]
    )


def _told(text: str, packs: Packs) -> list[tuple[object, ...]]:
    design = read_design(text, "lamp.derate.yaml")
    review = review_of(Work(design, Settings(), packs, worked(design, packs)), date(2026, 11, 25))
    return [
        (f.rule, str(f.subject), str(f.case), f.verdict, f.ratio, f.message, f.blocks)
        for f in sorted(review.findings, key=lambda one: (one.rule, str(one.subject)))
    ]


@settings(max_examples=12, deadline=None)
@given(st.randoms(use_true_random=False))
def test_order_of_parts_and_barriers(packs: Packs, rng: random.Random) -> None:
    expected = _told(_text(PARTS, BARRIERS), packs)
    parts, barriers = list(PARTS), list(BARRIERS)
    rng.shuffle(parts)
    rng.shuffle(barriers)
    assert _told(_text(parts, barriers), packs) == expected


def _out(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    main(list(argv))
    return capsys.readouterr().out


def test_order_of_files_changes_nothing(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(DESIGNS)
    files = sorted(str(path) for path in Path(".").rglob("*.derate.yaml"))
    one = _out(capsys, "lint", "--today", "2026-11-25", "--format", "json", *files)
    other = _out(capsys, "lint", "--today", "2026-11-25", "--format", "json", *reversed(files))
    whole = _out(capsys, "lint", "--today", "2026-11-25", "--format", "json", ".")
    assert one == other == whole
    assert len(json.loads(one)["designs"]) == len(files)


@pytest.mark.parametrize("form", [[], ["--format", "json"]])
def test_same_input_same_bytes(
    form: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(DESIGNS)
    first = _out(capsys, "lint", "--today", "2026-11-25", *form, "market-stall-lamp")
    assert first == _out(capsys, "lint", "--today", "2026-11-25", *form, "market-stall-lamp")
