"""A lost neutral: what is over its voltage between two lines, and whether anything is shown to open on it."""

from __future__ import annotations

from datetime import date
from math import sqrt

import pytest

from derate.design.load import read_design
from derate.design.settings import Settings
from derate.ledger.entry import Entry
from derate.packs.load import load_packs
from derate.stress.faults.neutral import CLEARED, NAME, NOT_CLEARED, WITHIN
from derate.stress.faults.rows import MAINS
from derate.study.faults import fault_rows
from derate.study.work import Work, review_of, worked
from derate.terms.values import Category, Value

PACKS = load_packs(["mains-events", "commercial-practice"])
TEXT = """derate: 1
supply:
  name: test
  topology: buck
  plate: {mains: 220..240 V, frequency: 50 Hz, outputs: {main: {voltage: 5 V, current: 0.4 A}}}
site: {overvoltage_category: II, mains_tolerance: 10 %, mains_resistance: 0.4..1 ohm, mains_inductance: 0..0.5 mH}
parts:
  F1: {kind: fuse, standard: IEC 60127, rated: {current: 1 A, voltage: 500 Vac, breaking_capacity: 1500 A}}
  R1: {kind: wirewound resistor, resistance: 4.7 ohm 5%, rated: {power: 3 W}}
  RV1: {kind: varistor, rated: {voltage: 460 Vac}}
  BR1: {kind: bridge rectifier, rated: {reverse_voltage: 1000 V, current: 1 A, forward_voltage: 1 V at 1 A}}
  C1: {kind: electrolytic capacitor, capacitance: 10 uF 20%, rated: {voltage: 400 V}}
circuit: {line: [F1, R1, across RV1, BR1, across C1]}
"""
FUSE = "kind: fuse, standard: IEC 60127, rated: {current: 1 A, voltage: 500 Vac, breaking_capacity: 1500 A}"
EITHER, ANY, BENCH = (CLEARED, NOT_CLEARED), (CLEARED, NOT_CLEARED, WITHIN), {"not shown"}
ALIVE = {"voltage: 400 V": "voltage: 700 V"}
THREE = sqrt(3.0) * 240.0


def found(edits: dict[str, str], tests: str = "") -> tuple[Entry, str, set[str]]:
    """What becomes of it, the verdict on it, what the list of faults says of opening."""
    text = TEXT
    for old, new in edits.items():
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    design = read_design(text + tests, "t.derate.yaml")
    ledger = worked(design, PACKS)
    row = ledger.find(MAINS, "neutral_lost")
    assert row is not None
    review = review_of(Work(design, Settings(), PACKS, ledger, {}), date(2026, 11, 29))
    (verdict,) = [one.verdict for one in review.findings if one.rule == "neutral-lost-ends-well"]
    rows = fault_rows(ledger, design.structure, design.tests)
    return row, verdict, {one.opening for one in rows if one.fault == NAME}


@pytest.mark.parametrize(
    "edits, word, verdict, opening",
    [
        (ALIVE, (WITHIN,), "pass", {"nothing to open"}),  # 647 V at the crest, a varistor of 460 V at 457 V
        (ALIVE | {"460 Vac": "300 Vac"}, (CLEARED,), "pass", {"shown"}),
        ({}, (CLEARED,), "pass", {"shown"}),
        ({"500 Vac": "250 Vac"}, EITHER, "not assessed", BENCH),  # it may not break that
        ({"voltage: 500 Vac, ": ""}, EITHER, "not assessed", BENCH),
        ({"1500 A": "35 A", "4.7 ohm": "0.1 ohm"}, EITHER, "not assessed", BENCH),
        ({"current: 1 A, voltage: 500": "current: 63 A, voltage: 500"}, EITHER, "not assessed", BENCH),
        ({FUSE: "kind: film resistor, resistance: 1 ohm 5%"}, (NOT_CLEARED,), "fail", {"not shown"}),
        ({"voltage: 400 V": "life: 2000 h"}, ANY, "not assessed", BENCH),
        (
            ALIVE | {"RV1: {kind: varistor, rated: {voltage: 460 Vac}}": "RV1: {kind: varistor}"},
            ANY,
            "not assessed",
            BENCH,
        ),
        ({"voltage: 400 V": "voltage: 600 V"}, ANY, "not assessed", BENCH),  # of 588 to 647 V
    ],
)
def test_what_is_over_its_voltage_and_what_opens(
    edits: dict[str, str], word: tuple[str, ...], verdict: str, opening: set[str]
) -> None:
    row, said, listed = found(edits)
    assert isinstance(row.value, Category) and set(row.value.members) == set(word)
    assert said == verdict and listed == opening


@pytest.mark.parametrize("plate, volts", [("220..240 V", THREE), ("100..120 V", 240.0), ("100..240 V", THREE)])
def test_the_voltage_between_lines(plate: str, volts: float) -> None:
    """Three phases have √3 of it, a split phase of 120 V twice that; with the tolerance at the far end."""
    ledger = worked(read_design(TEXT.replace("220..240 V", plate), "t.derate.yaml"), PACKS)
    row = ledger.find(MAINS, "voltage_between_lines")
    assert row is not None and isinstance(row.value, Value)
    assert row.value.near == pytest.approx(volts) and row.value.far == pytest.approx(1.1 * volts)


@pytest.mark.parametrize(
    "test, verdict",
    [
        ("mains: 420 V, known_by: measured, result: opened", "pass"),
        ("mains: 400 V, known_by: measured, result: opened", "not assessed"),  # less than between the lines of 240 V
        ("known_by: measured, result: opened", "not assessed"),
        ("mains: 420 V, result: opened", "not assessed"),  # nobody says that it was done to a sample
        ("mains: 420 V, known_by: assumed, result: opened", "not assessed"),
        ("mains: 420 V, result: flames", "fail"),
        ("result: flames", "fail"),
        ("mains: 420 V, known_by: measured, result: not done", "not assessed"),
    ],
)
def test_what_was_seen_overrules(test: str, verdict: str) -> None:
    tests = f"tests:\n  - {{test: fault, fault: neutral lost, {test}}}\n"
    assert found({"500 Vac": "250 Vac"}, tests)[1] == verdict
    if verdict == "fail":
        assert found(ALIVE, tests)[1] == verdict
