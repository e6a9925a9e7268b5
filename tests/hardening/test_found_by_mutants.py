"""Figures of mutants of the shipped designs that stopped the tool: each is judged, or open with a reason."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from derate.ledger.entry import Subject
from derate.ledger.ledger import Ledger
from derate.packs.load import is_shipped
from derate.study.faults import design_faults
from derate.study.work import Work, Workshop, review_of
from derate.terms.quantities import named
from derate.terms.values import ReadingError, Value

ROOT = Path(__file__).parents[2]
DESIGNS = ROOT / "tests" / "data" / "designs"


def worked_with(path: Path, before: str, after: str, folder: Path, packs: tuple[str, ...] = ()) -> Work:
    """A design with one text replaced, worked through and judged."""
    text = path.read_text(encoding="utf-8")
    assert text.count(before) == 1
    copy = folder / "changed.derate.yaml"
    copy.write_text(text.replace(before, after), encoding="utf-8")
    work = Workshop(packs).work(str(copy))
    review_of(work, date(2026, 11, 25))
    return work


def rows(ledger: Ledger, part: str, quantity: str) -> list[object]:
    return [(one.value, one.note) for one in ledger.rows(Subject("part", (part,)), named(quantity))]


def test_a_surge_rating_beyond_what_can_be_carried_gives_no_allowance(tmp_path: Path) -> None:
    path = ROOT / "designs" / "porch-bell" / "porch-bell.derate.yaml"
    work = worked_with(path, "surge_current: 30 A at 8.3 ms", "surge_current: 300 kA at 8.3 ms", tmp_path)
    for quantity in ("allowed.surge_current", "allowed.surge_i2t"):
        found = rows(work.ledger, "BR1", quantity)
        assert found and all(value is None and "surge rating" in str(note) for value, note in found)  # type: ignore[misc]


def test_a_thermistor_stated_less_cold_than_hot_is_one_of_the_two(tmp_path: Path) -> None:
    """Neither the lesser, which lets the most current through, nor the greater, which hides a fault, is dropped."""
    path = DESIGNS / "scale-console-45W.derate.yaml"
    work = worked_with(path, "resistance: 5 ohm 20% at 25 degC", "resistance: 0.005 ohm 20% at 25 degC", tmp_path)
    found = [
        one.value
        for one in work.ledger.rows(Subject("part", ("NTC1",)), named("series_resistance"))
        if one.case is not None and one.case.group == "resistance in a fault"
    ]
    assert len(found) == 1 and isinstance(found[0], Value)
    assert found[0].low == pytest.approx(0.004) and found[0].high >= 0.28


def test_a_resistor_rated_for_nothing_has_its_faults_told_without_the_bulk(tmp_path: Path) -> None:
    before = "power: {70 degC: 2 W, 155 degC: 0 W}, pulse_energy: {1 ms: 4 J"
    path = DESIGNS / "every-key-bipolar.derate.yaml"
    work = worked_with(path, before, "power: {155 degC: 0 W}, pulse_energy: {1 ms: 4 J", tmp_path)
    assumed = {name: one for (_, name), one in work.packs.assumptions.items()}
    told = design_faults(work.design.structure, work.ledger, assumed, work.design.tests)
    assert any("with the bulk capacitor still there it is not worked out: rated power" in str(one) for one in told)


def test_a_growth_that_no_electrolyte_has_leaves_the_cold_resistance_open(tmp_path: Path) -> None:
    """A house pack that restates an assumption of the shipped one, beyond what can be carried."""
    before, after = "cold_resistance_growth:\n    value: 1.2..1.8", "cold_resistance_growth:\n    value: 1.2..18000"
    text = (ROOT / "rules" / "converter.yaml").read_text(encoding="utf-8")
    assert text.count(before) == 1
    pack = tmp_path / "converter.yaml"
    pack.write_text(text.replace(before, after), encoding="utf-8")
    work = Workshop((str(pack),)).work(str(DESIGNS / "scale-console-45W.derate.yaml"))
    cold = [
        one
        for subject in work.ledger.subjects("part")
        for one in work.ledger.rows(subject, named("series_resistance"))
        if "factor for 10 K" in one.note
    ]
    assert cold and all(one.value is None for one in cold)


def test_a_current_below_zero_is_refused_at_its_place(tmp_path: Path) -> None:
    """The root of its square lay above what it adds to the sum."""
    path = ROOT / "designs" / "beehive-scale" / "beehive-scale.derate.yaml"
    with pytest.raises(ReadingError, match="mains current without load, by mains voltage has no sign"):
        worked_with(path, "230 V: 16 mA", "230 V: -16.0 mA", tmp_path)


@pytest.mark.parametrize("name", ["x y " * 200, "x" * 300, "../rules/bench"])
def test_a_name_that_no_file_can_have_is_no_shipped_pack(name: str) -> None:
    assert not is_shipped(name, b"pack: x\n")
