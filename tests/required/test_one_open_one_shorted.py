"""Two in series across the mains or the barrier: what each bears, and what one open or one shorted leaves."""

from __future__ import annotations

import random
from itertools import product
from math import sqrt

import pytest
from small_barrier import Judged, changed, judged

from derate.circuit.barrier import bleeder_loss
from derate.circuit.resistors import others_left
from derate.ledger.entry import SUPPLY, Case, Subject
from derate.stress.parts.resistors import SHARE
from derate.terms.values import Value

MAINS = 264.0  # V, 240 V and 10 %
PARTS = """  CX1: film capacitor X2 330 nF 10% 310 Vac
  R1: film resistor 1 Mohm 5% 0.25 W 250 V
  R2: film resistor 470 kohm 5% 0.25 W 150 V
  R3: film resistor 470 kohm 5% 0.25 W
circuit:"""


def _across(path: str, parts: str = PARTS) -> Judged:
    lines = parts.splitlines()  # a part on no path is refused
    parts = "\n".join(one for one in lines if "  R" not in one or one.split(":")[0].strip() in path)
    return judged(changed(("line: [F1, BR1,", f"line: [F1, across CX1, {path}, BR1,"), ("circuit:", parts)))


def _value(result: Judged, name: str, quantity: str) -> Value:
    subject = Subject("part", (name,))
    rows = [
        found.value
        for case in result.ledger.plan.cases([quantity], ["running"])
        if (found := result.ledger.find(subject, quantity, case)) is not None
    ]
    assert rows and all(row == rows[0] for row in rows) and isinstance(rows[0], Value)
    return rows[0]


def test_each_bears_its_share_and_with_one_shorted_the_rest() -> None:
    result = _across("across R1 + R2 + R3", PARTS)
    r1, r2 = _value(result, "R1", "voltage_rms"), _value(result, "R2", "voltage_rms")
    assert r1.near == pytest.approx(MAINS * 1.0 / 1.94) and r2.near == pytest.approx(MAINS * 0.47 / 1.94)
    # itself at its most, the others at their least
    assert r1.high == pytest.approx(MAINS * 1.05 / (1.05 + 0.94 * 0.95))
    assert _value(result, "R1", "power").near == pytest.approx((MAINS / 1.94e6) ** 2 * 1e6)
    # R1 shorted leaves R2 half of the mains, R2 or R3 shorted leaves R1 the share beside the other one
    assert _value(result, "R2", "voltage_one_shorted").near == pytest.approx(MAINS / 2)
    assert _value(result, "R1", "voltage_one_shorted").near == pytest.approx(MAINS * 1.0 / 1.47)
    assert _value(result, "R1", "power_one_shorted").near == pytest.approx((MAINS / 1.47e6) ** 2 * 1e6)


def test_two_in_series_leave_the_whole_mains_to_the_one_that_is_not_shorted() -> None:
    result = _across("across R1 + R2")
    for name in ("R1", "R2"):
        shorted = _value(result, name, "voltage_one_shorted")
        assert (shorted.low, shorted.high) == pytest.approx((MAINS, MAINS))


def test_branches_in_parallel_each_bear_the_whole() -> None:
    result = _across("across (R1 + R2) || R3")
    assert _value(result, "R3", "voltage_rms").near == pytest.approx(MAINS)
    assert _value(result, "R1", "voltage_rms").near == pytest.approx(MAINS * 1.0 / 1.47)
    row = result.ledger.find(Subject("part", ("R3",)), "voltage_one_shorted", Case("running", MAINS, widened=True))
    assert row is None  # nothing stands in series with it
    lone = result.row(Subject("part", ("R3",)), "bleeder.series").value
    assert isinstance(lone, Value) and lone.near == 1.0


def test_what_is_not_worked_out_or_not_known_has_no_figure() -> None:
    mixed = _across("across (R1 || R2) + R3")
    assert "in parallel inside a series" in mixed.row(Subject("part", ("R1",)), "bleeder.series").note
    unknown = _across("across R1 + R2", PARTS.replace("resistor 470 kohm 5% 0.25 W 150 V", "resistor"))
    (case,) = unknown.ledger.plan.cases(["voltage_rms"], ["running"])
    row = unknown.ledger.find(Subject("part", ("R1",)), "voltage_rms", case)
    assert row is not None and row.value is None and row.missing == ("R2: part.resistance",)


def test_declared_signs_of_the_share() -> None:
    rng = random.Random(31)
    for _ in range(300):
        given = {"whole": rng.uniform(90, 270), "own": 10 ** rng.uniform(4, 7), "others": 10 ** rng.uniform(4, 7)}
        low = SHARE.solve(**given)
        for name in given:
            high = SHARE.solve(**given | {name: given[name] * 1.01})
            for output, signs in SHARE.signs.items():
                if signs[name]:
                    assert (high[output] - low[output]) * signs[name] > 0  # type: ignore[index]
        assert low["power"] == pytest.approx(low["voltage"] ** 2 / given["own"])  # type: ignore[index]

    def least(ohms: dict[str, float]) -> float:
        return others_left(*ohms).solve(**ohms)["least"]

    for ohms in product((1.0, 2.0, 5.0), repeat=3):
        given = dict(zip("abc", ohms, strict=True))
        assert all(least(given | {name: 6.0}) >= least(given) for name in given)
    assert bleeder_loss(264.0, 1e6) == pytest.approx(0.0697, abs=1e-4)


def test_a_bleeder_of_two_in_parallel_keeps_one_when_the_other_opens() -> None:
    """The same two resistors written as one element and as two have to leave the same."""
    together, apart = _across("across R1 || R2"), _across("across R1, across R2")
    for result in (together, apart):
        left = result.row(SUPPLY, "plug.resistance_one_open").value
        assert isinstance(left, Value) and left.numbers() == pytest.approx((0.95e6, 1e6, 1e6, 1.05e6))


def _bridged(element: str) -> Judged:
    more = "  CY2: {kind: ceramic capacitor, class: Y2, capacitance: 2.2 nF 20%, rated: {voltage: 300 Vac}}\ncircuit:"
    return judged(changed(
        ("CY1: {kind: ceramic capacitor, class: Y1, capacitance: 1 nF", "CY1: {kind: ceramic capacitor, class: Y2, "
         "capacitance: 2.2 nF"),
        ("circuit:", more), ("bridging: {CY1: [", f"bridging: {{{element}: ["),
    ))  # fmt: skip


def test_one_of_two_series_capacitors_shorted_doubles_the_capacitance() -> None:
    result = _bridged("CY1 + CY2")
    whole, shorted = (result.row(SUPPLY, one).value for one in (
        "bridging_capacitance", "bridging_capacitance_one_shorted"))  # fmt: skip
    assert isinstance(whole, Value) and isinstance(shorted, Value)
    assert whole.near == pytest.approx(1.1e-9) and shorted.near == pytest.approx(2.2e-9)
    assert shorted.high == pytest.approx(2.64e-9)
    peak = result.row(SUPPLY, "touch_current_peak_one_shorted").value
    assert isinstance(peak, Value)
    # 2 pi f C V at 63 Hz, 264 V, with the 20 to 500 pF of the windings that the pack assumes
    assert peak.near == pytest.approx(sqrt(2) * 2 * 3.14159 * 63 * 2.2e-9 * MAINS, rel=0.02)
    assert peak.high >= sqrt(2) * 2 * 3.14159 * 63 * 3.14e-9 * MAINS
    assert result.verdict("touch-current-one-shorted") == "not assessed"  # critical, and the windings are assumed


def test_without_a_series_nothing_is_asked() -> None:
    assert judged().verdict("touch-current-one-shorted") == "not applicable"
    unknown = judged(changed(("bridging: {CY1: [bulk minus, main minus]}", "bridging: unknown"),
                             ("circuit:", "circuit:\n  other: {CY1: across the gap}")))  # fmt: skip
    assert unknown.verdict("touch-current-one-shorted") == "not assessed"


@pytest.mark.parametrize(
    ("more", "rule", "verdict"),
    [
        ("plug_pattern: British, pin_thickness: 4.0 mm", "plug-pin-thickness", "pass"),
        ("plug_pattern: British, pin_thickness: 4.2 mm", "plug-pin-thickness", "fail"),
        ("plug_pattern: British, pin_breadth: 6.6 mm", "plug-pin-breadth", "fail"),
        ("plug_pattern: British, plug_fuse: empty", "plug-fuse-is-real", "fail"),
        ("plug_pattern: British, plug_fuse: sound", "plug-fuse-is-real", "pass"),
        ("plug_pattern: British", "plug-fuse-is-real", "not assessed"),
        ("pin_breadth: 6.6 mm", "plug-pin-breadth", "not assessed"),
        ("plug_pattern: European, pin_thickness: 4.8 mm", "plug-pin-thickness", "not applicable"),
    ],
)
def test_pins_and_fuse_of_a_british_plug(more: str, rule: str, verdict: str) -> None:
    inspected = ("shared_ribbon: none}", f"shared_ribbon: none, {more}}}")
    text = changed(("supply:\n", "supply:\n  connection: cord\n"), inspected)
    assert judged(text).verdict(rule) == verdict
    assert judged(text, "60335-1").verdict(f"household-{rule}") == verdict
