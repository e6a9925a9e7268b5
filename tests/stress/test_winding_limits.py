"""What a winding may reach by its class and by how it was read.

By change of resistance A 100, E 115, B 120, F 140, H 165 degC (a guide to the Japanese adoption of IEC 60950-1, table
4B); by thermocouple 10 K less (four reports to IEC 62368-1 print 110 for class B, one as 120 - 10).
"""

from __future__ import annotations

from datetime import date

import pytest

from derate.circuit.magnetics import winding_by_resistance
from derate.design.load import read_design
from derate.design.settings import Settings
from derate.ledger.entry import Subject
from derate.packs.load import load_packs, shipped
from derate.study.work import Work, review_of, worked
from derate.terms.quantities import RUNNING
from derate.terms.values import ReadingError, Value

SOUND = (shipped("designs") / "greenhouse-vent" / "greenhouse-vent.derate.yaml").read_text(encoding="utf-8")
PACKS = load_packs(["commercial-practice"])
T1 = Subject("transformer", ("T1",))
CASE_OF_T1 = ", T1: 69 degC"
OHMS = "taken_with: change of resistance, cold_resistance: 1.20 ohm, hot_resistance: {hot} ohm, cold_at: 24 degC"


def judged(
    insulation_class: str, reading: str, ambient: str = "22 degC", after: str = ", after: 90 min"
) -> tuple[Value, str, Value | None]:
    """What is allowed, the verdict, and what it was carried to; in 40 degC. The reading of its case is taken away."""
    assert CASE_OF_T1 in SOUND and SOUND.count("tests:  ") == 1
    text = SOUND.replace(CASE_OF_T1, "")
    lines = [line for line in text.splitlines() if not line.strip().startswith("insulation_class")]
    leakage = "    leakage: 15 uH"
    text = "\n".join(lines).replace(leakage, f"    insulation_class: {insulation_class}\n{leakage}")
    entry = "".join(
        f"  - {{at: {{mains: {mains} V, load: full, ambient: {ambient}{after}}}, {reading}}}\n" for mains in (90, 264)
    )
    design = read_design(text.replace("tests:  ", f"{entry}tests:  "), "sound.derate.yaml")
    ledger = worked(design, PACKS)
    review = review_of(Work(design, Settings(), PACKS, ledger, {}), date(2026, 11, 25))
    verdict = next(one.verdict for one in review.findings if one.rule == "winding-temperature")
    allowed = ledger.find(T1, "allowed.winding_temperature")
    assert allowed is not None and isinstance(allowed.value, Value)
    rows = ledger.rows(T1, "winding_temperature")
    found = [one for one in rows if one.case is not None and one.case.group == RUNNING]
    carried = found[-1].value if found else None
    return allowed.value, verdict, carried if isinstance(carried, Value) else None


@pytest.mark.parametrize(("word", "limit"), [("A", 90.0), ("E", 105.0), ("B", 110.0), ("F", 130.0), ("H", 155.0)])
def test_the_limit_of_a_class_by_thermocouple(word: str, limit: float) -> None:
    allowed, _, _ = judged(word, "winding_temperature: {T1: 60 degC}")
    assert allowed == Value.exact(limit)


@pytest.mark.parametrize(("word", "limit"), [("A", 100.0), ("E", 115.0), ("B", 120.0), ("F", 140.0), ("H", 165.0)])
def test_the_limit_of_a_class_by_change_of_resistance(word: str, limit: float) -> None:
    allowed, _, _ = judged(word, f"winding_temperature: {{T1: 60 degC}}, {OHMS.format(hot=1.30)}")
    assert allowed == Value.exact(limit)


def test_a_winding_of_class_f_carried_to_134_degrees_fails() -> None:
    """116 degC at 22 degC stand at 134 degC in an ambient of 40 degC, of 130 that a thermocouple may read."""
    for how in ("", ", taken_with: infrared", ", taken_with: thermocouple outside the tape",
                ", taken_with: thermocouple in the winding"):  # fmt: skip
        _, verdict, carried = judged("F", f"winding_temperature: {{T1: 116 degC}}{how}")
        assert carried is not None and carried.near >= 134.0
        assert verdict == "fail", how
    assert judged("F", "winding_temperature: {T1: 98 degC}")[1] == "pass"
    assert judged("F", "case_temperature: {T1: 116 degC}")[1] == "fail"


@pytest.mark.parametrize("after", ["", ", after: unknown", ", after: 0.6 min", ", after: 59 min"])
def test_a_winding_that_may_still_rise_proves_a_fail_and_no_pass(after: str) -> None:
    allowed, verdict, carried = judged("F", "winding_temperature: {T1: 98 degC}", after=after)
    assert carried is not None and verdict == "not assessed" and carried.far > 1000.0 > carried.near
    assert judged("F", "winding_temperature: {T1: 116 degC}", after=after)[1] == "fail"
    assert judged("F", "winding_temperature: {T1: 98 degC}", after=", after: steady")[1] == "pass"


def test_a_junction_over_a_case_that_may_still_rise_is_at_least_so_hot() -> None:
    """Of a case read at 66 and at 130 degC in 24 degC: 2.5 K/W and half a watt and more of loss lie inside it."""
    for read, over in ((66.0, False), (130.0, True)):
        ends = []
        for after in ("after: 60 min", "after: 5 min"):
            text = SOUND.replace("after: 60 min", after).replace("Q1: 66 degC", f"Q1: {read:.0f} degC")
            row = worked(read_design(text, "sound.derate.yaml"), PACKS).rows(
                Subject("part", ("Q1",)), "junction_temperature"
            )
            values = [one.value for one in row if one.case is not None and one.case.group == RUNNING]
            assert values and isinstance(values[-1], Value)
            ends.append(values[-1])
        steady, rising = ends
        assert rising.near == pytest.approx(steady.near) and rising.far > 1000.0 > steady.far
        assert (rising.near > 140.0) == over


def test_a_class_nobody_knows_may_be_any() -> None:
    allowed, verdict, _ = judged("unknown", "winding_temperature: {T1: 116 degC}")
    assert (allowed.near, allowed.far) == (90.0, 155.0) and verdict == "not assessed"


def test_ohms_overrule_a_lower_figure() -> None:
    """1.20 ohm at 24 degC and 1.71 ohm hot: 1.71/1.20 x (234.5 + 24) - 234.5 = 133.9 degC, whatever was typed."""
    assert winding_by_resistance(1.20, 1.71, 24.0) == pytest.approx(133.8625)
    _, verdict, carried = judged("F", f"winding_temperature: {{T1: 100 degC}}, {OHMS.format(hot=1.71)}")
    assert carried is not None and carried.near >= 133.8 + 18.0 and verdict == "fail"
    _, verdict, _ = judged("F", f"winding_temperature: {{T1: 100 degC}}, {OHMS.format(hot=1.53)}")
    assert verdict == "pass"  # 95.1 degC by its ohms, 100 as typed: 118 and its band, of 140 less the guard of 10 K


@pytest.mark.parametrize("missing", ["cold_resistance: 1.20 ohm, ", "hot_resistance: 1.30 ohm, ", ", cold_at: 24 degC"])
def test_a_reading_by_resistance_asks_for_its_ohms(missing: str) -> None:
    ohms = OHMS.format(hot="1.30")
    assert missing in ohms
    with pytest.raises(ReadingError, match="cold and hot"):
        judged("F", f"winding_temperature: {{T1: 60 degC}}, {ohms.replace(missing, '')}")


def test_ohms_without_their_method_are_refused() -> None:
    with pytest.raises(ReadingError, match="change of resistance"):
        judged("F", "winding_temperature: {T1: 60 degC}, cold_resistance: 1.20 ohm")
