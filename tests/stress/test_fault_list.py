"""Every single fault of the trade's list is there, by its bench name, and what can be computed is: worked by hand."""

from __future__ import annotations

import json
from functools import cache
from math import inf, pi, sqrt
from pathlib import Path

import pytest

from derate.circuit.converter_faults import FAULTS, WorkedOut
from derate.design.load import Design, read_design
from derate.judge.review import Gate
from derate.ledger.ledger import Ledger
from derate.packs.load import load_packs, shipped
from derate.report.faults import both_ends, fault_lines, fault_screen, faults_json, note_of
from derate.stress.context import CasePlan, Context
from derate.study.faults import FaultRow, design_faults
from derate.study.work import worked
from derate.topologies.flyback.fault_rows import FLYBACK_FAULTS, converter_faults
from derate.topologies.flyback.shape import shape_of

DESIGNS = Path(__file__).parent.parent / "data" / "designs"
SOUND = (shipped("designs") / "greenhouse-vent" / "greenhouse-vent.derate.yaml").read_text(encoding="utf-8")
SCALE = (DESIGNS / "scale-console-45W.derate.yaml").read_text(encoding="utf-8")
PACKS = load_packs(["commercial-practice", "mains-fusing", "insulation-it-equipment"])
ASSUMED = {name: one for (_, name), one in PACKS.assumptions.items()}


@cache
def listed(text: str, *edits: tuple[str, str]) -> tuple[Design, Ledger, tuple[FaultRow, ...]]:
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new)
    design = read_design(text, "faults.derate.yaml")
    ledger = worked(design, PACKS)
    return design, ledger, design_faults(design.structure, ledger, ASSUMED, design.tests)


def row(text: str, fault: str, *edits: tuple[str, str], mains: float = 264.0) -> FaultRow:
    _, _, rows = listed(text, *edits)
    found = [one for one in rows if one.fault == fault and one.case.mains == pytest.approx(mains)]
    assert len(found) == 1, (fault, [one.fault for one in rows])
    return found[0]


# Section 20 of the facts, item by item, and what stands for it in the list: with a coupler, and without.
WITH_COUPLER = {
    "output rectifier": ["D5 shorted", "D5 open"], "output capacitor": ["C10 shorted", "C10 open"],
    "auxiliary diode": ["D4 shorted", "D4 open"], "auxiliary capacitor": ["C3 shorted", "C3 open"],
    "clamp": ["D1 open", "D1 shorted", "C2 open", "C2 shorted", "R5 open", "R5 shorted"],
    "sense resistor": ["R10 shorted", "R10 open"], "bulk": ["C1 open", "C1 shorted"],
    "bridge": ["BR1 one diode open", "BR1 one diode shorted"],
    "divider each way": ["R20 open", "R20 shorted", "R22 open", "R22 shorted"],
    "reference": ["U3 shorted", "U3 open"],
    "coupler each side": ["U2 LED open", "U2 LED shorted", "U2 transistor open", "U2 transistor shorted"],
    "controller supply": ["U1 without supply"], "feedback": ["U1 without feedback"],
    "layers": ["T1.primary layer shorted", "T1.winding-5V layer shorted"],
    "pin pairs": ["T1.primary pins shorted", "T1.winding-12V pins shorted", "T1.auxiliary pins shorted"],
    "series Y capacitors": ["CY1 shorted", "CY2 shorted"], "bleeders": ["R1 open", "R1 shorted"],
    "X capacitor": ["CX1 shorted"], "switch": ["Q1 shorted", "Q1 open", "Q1 gate shorted to drain", "Q1 gate open"],
}  # fmt: skip
WITHOUT = {
    "start-up": ["R1 open", "R1 shorted"], "pins as listed": ["T1.primary pins 3 and 2 shorted",
    "T1.primary pins 3 and 1 shorted", "T1.auxiliary pins 5 and 4 shorted"], "feedback": ["U1 without feedback"],
    "two in parallel": ["C6 open", "R5 open"],
}  # fmt: skip


@pytest.mark.parametrize(("text", "wanted"), [(SCALE, WITH_COUPLER), (SOUND, WITHOUT)], ids=["coupler", "auxiliary"])
def test_every_item_of_the_trades_list_has_its_rows(text: str, wanted: dict[str, list[str]]) -> None:
    _, _, rows = listed(text)
    names = [one.fault for one in rows]
    for item, faults in wanted.items():
        for fault in faults:
            assert names.count(fault) == 2, (item, fault)  # once at each end of the mains
    for one in rows:
        assert one.note, one.fault
        assert one.computed or one.note.startswith("for the bench: "), one.fault


def test_every_kind_has_an_entry_and_every_function_a_row() -> None:
    for text in (SCALE, SOUND):
        design, ledger, _ = listed(text)
        assert isinstance(ledger.plan, CasePlan)
        context = Context(design.structure, ledger, ledger.plan, ASSUMED)
        for fault in converter_faults(context, shape_of(context)):
            assert fault.kind in FAULTS, fault
            assert not isinstance(FAULTS[fault.kind], WorkedOut) or fault.kind in FLYBACK_FAULTS.handlers, fault.kind


# ---- regulation lost -------------------------------------------------------------------------------------------------

STOP = ("overvoltage_stop: 25..27 V (data sheet), ", "")


def test_lost_regulation_ends_at_the_controllers_stop() -> None:
    """(27 V + drop) x 12 / 14 - drop of the output, and a tenth more: below the 25 V of the output capacitors."""
    lost = row(SOUND, "U1 without feedback")
    volts = dict(lost.beside)["voltage_peak"]
    assert volts.far == pytest.approx(((27.0 + 1.2 * 1.0) * 12 / 14 - 0.8 * 0.62) / 0.9, rel=1e-6)
    assert volts.near == pytest.approx(12.0)  # it never falls by it
    assert "U1 stops at 27 V" in lost.note and lost.opening == "nothing to open"


def test_without_a_stop_nothing_bounds_it_and_the_time_is_told() -> None:
    lost = row(SOUND, "U1 without feedback", STOP)
    assert dict(lost.beside)["voltage_peak"].high == inf
    power = dict(lost.beside)["fault_power"].high
    farads = 0.98 * (2 * 655e-6 + 214e-6)  # as measured on the sample, less the 2 % of the meter
    soonest = farads * (25.0**2 - 12.0**2) / 2.0 / power
    assert f"C6 passes its 25 V, no sooner than {1e3 * soonest:.3g} ms after" in lost.note
    assert "a stop of U1 for over-voltage is not stated" in lost.note


def test_power_by_hand() -> None:
    """0.94 V / 0.82 ohm less 1 %, 250 ns of 373 V over 697.5 uH: L I^2 / 2 at 68.25 kHz is the ceiling."""
    most = dict(row(SOUND, "U1 without feedback").beside)["fault_power"].high
    henries = 750e-6 * 0.93
    by_low = 0.5 * henries * (0.94 / 0.8118 + 373.35 * 250e-9 / henries) ** 2 * 68.25e3
    by_high = 0.5 * 750e-6 * 1.07 * (0.94 / 0.8118 + 373.35 * 250e-9 / (750e-6 * 1.07)) ** 2 * 68.25e3
    assert most == pytest.approx(1.02 * max(by_low, by_high), rel=1e-4)


def test_each_way_of_losing_it_goes_its_way() -> None:
    up = ("U2 LED open", "U2 LED shorted", "U2 transistor open", "U3 open", "R22 shorted", "U1 without feedback")
    down = ("U2 transistor shorted", "U3 shorted", "R20 shorted", "R22 open")
    for fault in up:
        assert "rises" in row(SCALE, fault).note, fault
    for fault in down:
        assert "falls" in row(SCALE, fault).note and row(SCALE, fault).computed, fault
    # of two outputs that are sensed it is told of that of most power, whose load nothing keeps up
    assert dict(row(SCALE, "U3 open").beside)["voltage_peak"].high == inf
    # a load that is never under 0.5 A ends it at the latest where it takes all the power
    lost = row(SCALE, "U3 open", ("12V: {voltage: 12 V 5%, current: 2 A", "12V: {voltage: 12 V 5%, current: 0.5..2 A"))
    most = dict(lost.beside)
    assert most["voltage_peak"].high == pytest.approx(most["fault_power"].high / 0.5)


# ---- windings, clamp, sense resistor ---------------------------------------------------------------------------------


def test_pins_of_a_secondary_are_a_short_behind_the_leakage() -> None:
    shorted = row(SOUND, "T1.secondary pins shorted")
    assert shorted.current_peak is not None
    limit, bulk = 0.94 / 0.8118, sqrt(2) * 264.0
    assert shorted.current_peak.high == pytest.approx(1.05 * (limit + bulk * 250e-9 / 15e-6), rel=1e-6)
    # the part of a winding and the whole primary are for the bench, each with its own reason
    assert not row(SOUND, "T1.primary pins 3 and 2 shorted").computed
    assert "straight onto the bulk" in row(SOUND, "T1.primary pins 3 and 1 shorted").note


def test_leakage_without_a_lower_end_bounds_nothing() -> None:
    assert "nothing bounds the current" in row(SCALE, "T1.winding-5V pins shorted").note
    assert not row(SCALE, "D5 shorted").computed


def test_sense_resistor_shorted_saturates_the_core() -> None:
    shorted = row(SOUND, "R9 shorted")
    assert shorted.current_peak is not None and shorted.current_peak.high == inf and not shorted.computed
    amps = sqrt(2) * 264.0 * 0.66 / (68.25e3 * 750e-6 * 1.07)
    assert shorted.current_peak.low == pytest.approx(0.95 * amps, rel=1e-6)
    assert "saturates within one on-time" in shorted.note
    assert "saturates" not in row(SOUND, "R9 shorted", mains=90.0).note
    without = row(SOUND, "R9 shorted", ("greatest_duty: 66..70% (data sheet), ", ""))
    assert "U1: part.greatest_duty" in without.missing and without.current_peak is None


def test_one_of_two_clamp_resistors_leaves_the_other_alone() -> None:
    """Twice the resistance: more voltage than running overloaded with both, less than with no clamp at all."""
    _, ledger, _ = listed(SOUND)
    from derate.ledger.entry import Subject

    both = next(one.value for one in ledger.rows(Subject("part", ("Q1",)), "voltage_peak")
                if one.case is not None and one.case.group == "overload")  # fmt: skip
    one_left = dict(row(SOUND, "R5 open").beside)["voltage_peak"]
    none_left = dict(row(SOUND, "D5 open").beside)["voltage_peak"]
    assert both.near < one_left.near < none_left.near  # type: ignore[union-attr]
    # with one resistor only its loss fills the clamp until something breaks down
    single = ("R5 || R6 || C4", "R5 || C4"), ("R5, R6: {", "R5: {")
    alone = row(SOUND, "R5 open", *single)
    assert "fills up" in alone.note and dict(alone.beside)["energy"].near > 0.0


def test_clamp_diode_shorted_heats_the_switch() -> None:
    power = dict(row(SOUND, "D5 shorted").beside)["fault_power"]
    low, high = (0.5 * c * (373.35 + v) ** 2 * f for c, v, f in (
        (2.2e-9 * 0.9, 84 / 12 * (12 + 0.8 * 0.62), 61.75e3), (2.2e-9 * 1.1, 84 / 12 * (12 + 1.2 * 0.62), 68.25e3)))
    assert power.low == pytest.approx(0.7 * low, rel=1e-4) and power.high == pytest.approx(1.3 * high, rel=1e-4)


def test_open_rectifier_is_a_ceiling() -> None:
    volts = dict(row(SOUND, "D7 open").beside)
    assert volts["voltage_peak"].near == pytest.approx(sqrt(2) * 264.0)
    whole = sqrt(2) * 264.0 + sqrt(volts["fault_power"].high * 47e3 * 1.05 / 2)
    assert volts["voltage_peak"].high == pytest.approx(1.02 * whole, rel=1e-6)


# ---- one of several --------------------------------------------------------------------------------------------------


def test_parallel_capacitor_open_hands_on_its_ripple() -> None:
    from derate.ledger.entry import Subject

    _, ledger, _ = listed(SOUND)
    own = [next(one.value for one in ledger.rows(Subject("part", (name,)), "ripple_current")
                if one.case is not None and one.case.group == "running") for name in ("C6", "C7")]  # fmt: skip
    after = dict(row(SOUND, "C6 open").beside)["ripple_current"]
    assert after.high == pytest.approx(sum(one.high for one in own))  # type: ignore[union-attr]
    assert after.near >= max(one.near for one in own)  # type: ignore[union-attr]
    assert not row(SOUND, "C8 open").computed


def test_series_bleeder() -> None:
    """One shorted: the other has the crest of 264 V across 510 kohm; one open: 220 nF and 20 % keep their crest."""
    shorted = row(SCALE, "R1 shorted")
    assert dict(shorted.beside)["voltage_peak"].near == pytest.approx(sqrt(2) * 264.0)
    assert dict(shorted.beside)["fault_power"].near == pytest.approx(264.0**2 / 510e3)
    assert "R2 is rated 200 V" in shorted.note
    left = dict(row(SCALE, "R1 open").beside)
    assert left["discharge_after_fault"].near == pytest.approx(sqrt(2) * 264.0)
    assert left["energy"].high == pytest.approx(0.5 * 264e-9 * 2 * 264.0**2)


def test_series_y_capacitor_shorted_leaves_all_to_the_other() -> None:
    """2 pi f C V with the whole 4.7 nF: 63 Hz, 264 V, 20 % over; on a bulk rail it may be 0.7 of it."""
    flows = dict(row(SCALE, "CY1 shorted").beside)["touch_current"]
    alone = 2 * pi * 63.0 * 264.0 * 5.64e-9
    assert flows.high > alone and flows.near < 2 * pi * 63.0 * 264.0 * 4.7e-9 * 1.1
    assert "CY2 alone is left" in row(SCALE, "CY1 shorted").note


def test_start_up_resistor_shorted() -> None:
    shorted = row(SOUND, "R1 shorted")
    assert dict(shorted.beside)["voltage_peak"].near == pytest.approx(sqrt(2) * 264.0)
    assert "R2 is rated 250 V" in shorted.note
    assert "does not switch" in row(SOUND, "C5 shorted").note


# ---- report ----------------------------------------------------------------------------------------------------------


def test_nothing_is_hidden_by_the_fold() -> None:
    for text in (SOUND, SCALE):
        design, _, rows = listed(text)
        whole = "\n".join(fault_lines(design.path, rows, ()))
        screen = " ".join(" ".join(fault_screen(rows, (), 160)).split())
        assert sum(len(same) for same in both_ends(rows)) == len(rows)
        for one in rows:
            assert one.fault in whole and one.fault in screen, one.fault
            assert " ".join(one.note.split()) in screen, one.fault
        assert len(list(both_ends(rows))) < len(rows)
        assert len(json.loads(faults_json(design.path, rows, Gate()))["faults"]) == len(rows)  # JSON: a row a case


def test_ends_that_differ_keep_their_own_lines() -> None:
    _, _, rows = listed(SOUND)
    for same in both_ends(rows):
        assert len({(one.fault, one.opening, one.computed, note_of(one)) for one in same}) == 1
        assert len({one.case.mains for one in same}) == len(same)
    both = [same for same in both_ends(rows) if same[0].fault == "R9 shorted"]
    assert len(both) == 2
