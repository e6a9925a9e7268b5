"""A battery under an output of any topology: what is asked of a charger is asked, and nothing of it passes unworked."""

from __future__ import annotations

import pytest
from defects import Demonstration, found

from derate.ledger.entry import Subject
from derate.terms.values import Value

# demonstration, what its output carries, its cells: as many as its plate is for, and one less
OUTPUTS = [
    ("tea-warmer", "board", "current: 120 mA, ", 3, "pass"),
    ("tea-warmer", "board", "current: 120 mA, ", 2, "fail"),
    ("cellar-lamp", "lamp", "current: 145 mA, ", 10, "fail"),
    ("hallway-lamp", "lamp", "current: 21 mA, ", 60, "not assessed"),
    ("pond-lantern", "main", "current: 0.6 A, ", 1, "fail"),
    ("porch-bell", "board", "current: 16 mA, ", 3, "fail"),
    ("greenhouse-vent", "main", "current: 1.5 A, ", 3, "pass"),
]


def with_battery(name: str, current: str, battery: str) -> tuple[Demonstration, str]:
    bench = Demonstration.shipped(name)
    return bench, bench.changed((current, f"{current}battery: {{{battery}}}, "))


@pytest.mark.parametrize(("name", "output", "current", "cells", "count"), OUTPUTS)
def test_lithium_cells_are_asked_about_whatever_charges_them(
    name: str, output: str, current: str, cells: int, count: str
) -> None:
    bench, text = with_battery(name, current, f"kind: lithium-ion, cells: {cells}")
    verdicts = {one.rule: one for one in bench.judged(text).findings if str(one.subject).endswith(output)}
    assert verdicts["lithium-cell-count"].verdict == count, verdicts["lithium-cell-count"].message
    for rule in ("lithium-cell-end-of-charge", "lithium-cell-with-regulation-lost", "battery-charge-ends"):
        assert verdicts[rule].verdict == "not assessed" and verdicts[rule].blocks, verdicts[rule].message
    assert not any(one.rule == "lithium-cell-count" for one in bench.judged().findings)


@pytest.mark.parametrize("battery", ["cells: 3", "kind: unknown, cells: 3"])
def test_a_battery_of_no_stated_kind_may_be_of_lithium(battery: str) -> None:
    bench, text = with_battery("tea-warmer", "current: 120 mA, ", battery)
    (one,) = found(bench.judged(text), "lithium-cell-end-of-charge")
    assert one.verdict == "not assessed"


def test_a_protection_board_stops_what_the_charger_does_not() -> None:
    battery = "kind: lithium-ion, cells: 3, protection: protection board"
    bench, text = with_battery("tea-warmer", "current: 120 mA, ", battery)
    (one,) = found(bench.judged(text), "lithium-cell-with-regulation-lost")
    assert one.verdict == "pass"


def test_with_regulation_lost_the_output_lies_on_the_cells() -> None:
    """A suppressor diode of 6.8 V across the output of a self-oscillating charger, on one cell."""
    bench, text = with_battery("pond-lantern", "current: 0.6 A, ", "kind: lithium-ion, cells: 1, protection: nothing")
    rows = bench.ledger(text).rows(Subject("output", ("main",)), "cell_voltage_lost")
    assert rows and isinstance(rows[0].value, Value)
    (one,) = found(bench.judged(text), "lithium-cell-with-regulation-lost")
    assert rows[0].value.high == pytest.approx(6.8 * 1.05) and one.verdict == "fail"


def test_an_output_beside_one_that_charges_is_a_supply() -> None:
    bench = Demonstration.shipped("greenhouse-vent")
    second = "aux: {voltage: 5 V, current: 0.1 A}, main: {voltage: 12 V, battery: {kind: lithium-ion, cells: 3}, "
    text = bench.changed(("outputs: {main: {voltage: 12 V, ", f"outputs: {{{second}"))
    every = {str(one.subject): one.verdict for one in found(bench.judged(text), "lithium-cell-end-of-charge")}
    assert every == {"aux": "not applicable", "main": "not assessed"}
