"""What is not covered says so and computes nothing: an active clamp, a transistor as rectifier, other topologies.

Each is recognised by what is joined to what; the design beside it, which differs in the one part, is worked out.
"""

from __future__ import annotations

import datetime
from functools import cache

import pytest
from test_converter_rows import TEXT, part, row, value, worked

from derate.design.load import read_design
from derate.design.settings import Settings
from derate.ledger.entry import Subject
from derate.ledger.ledger import Ledger
from derate.packs.load import Packs, load_packs
from derate.stress.context import CasePlan
from derate.study.faults import design_faults
from derate.study.headroom import headroom
from derate.study.trying import Bench
from derate.study.work import Work
from derate.study.work import worked as work_of

DAY = datetime.date(2026, 11, 25)
CLAMP = "path: D5 + (R5 || C4)}"
DIODE = "  D5: ultrafast diode 1000 V 1 A 75 ns\n"
Q5 = "  Q5: MOSFET 800 V 2 A\n"
STRESSED = ("current_rms", "current_peak", "voltage_peak", "reverse_voltage", "ripple_current", "flux_density", "power")


def with_lines(*pairs: tuple[str, str]) -> str:
    text = TEXT
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


ACTIVE = {
    "a switch in series with the capacitor": with_lines((DIODE, Q5), (CLAMP, "path: Q5 + (R5 || C4)}")),
    "beside the diode": with_lines((DIODE, DIODE + Q5), (CLAMP, "path: (D5 || Q5) + (R5 || C4)}")),
    "as a snubber across the switch": with_lines(
        (DIODE, DIODE + Q5 + "  C8: film capacitor 10 nF 1000 V\n"), (CLAMP, CLAMP + "\n  snubbers: {Q1: [C8, Q5]}")
    ),
}


def known(ledger: Ledger) -> set[tuple[str, str]]:
    """Stresses of the converter that have a value: of what lies behind the bulk capacitor."""
    behind = {part(name) for name in ("Q1", "R9", "D5", "Q5", "C4", "R5", "D7", "C6", "C8")}
    return {
        (str(one.subject), one.quantity)
        for one in ledger.entries
        if one.quantity in STRESSED and one.value is not None and one.case is not None
        and one.case.group in ("running", "overload")
        and (one.subject in behind or one.subject.kind in ("winding", "output", "transformer"))
    }  # fmt: skip


@pytest.mark.parametrize("name", ACTIVE)
def test_an_active_clamp_is_not_covered(name: str) -> None:
    assert ("Q1", "current_peak") in known(worked(TEXT))
    ledger = worked(ACTIVE[name])
    assert known(ledger) == set()
    hole = row(ledger, part("Q1"), "voltage_peak")
    assert hole.value is None and "Q5" in hole.note and not hole.missing


def test_a_clamp_part_that_nobody_knows_may_be_a_switch() -> None:
    ledger = worked(with_lines((DIODE, "  D5: {kind: unknown, marking: 4P7}\n")))
    hole = row(ledger, part("Q1"), "voltage_peak")
    assert hole.value is None
    assert [(one.subject, one.quantity) for one in hole.missing] == [(part("D5"), "part.kind")]


def test_faults_of_an_active_clamp_are_for_the_bench() -> None:
    design = read_design(ACTIVE["a switch in series with the capacitor"], "bench.derate.yaml")
    ledger = worked(ACTIVE["a switch in series with the capacitor"])
    assert isinstance(ledger.plan, CasePlan)
    rows = {one.fault: one for one in design_faults(design.structure, ledger, {}, design.tests)}
    assert not rows["output main shorted"].computed
    assert not rows["Q5 shorted"].computed
    assert rows["Q5 shorted"].current_rms is None


BOX = "  C8: film capacitor 22 nF 1000 V\n"
OTHERS = {
    "a capacitor in series with the winding": (
        with_lines((DIODE, DIODE + BOX), ("[T1.primary, Q1,", "[T1.primary, C8, Q1,")),
        "C8",
    ),
    "a choke in series with the winding": (
        with_lines((DIODE, DIODE + "  L8: choke 100 uH\n"), ("[T1.primary, Q1,", "[L8, T1.primary, Q1,")),
        "L8",
    ),
    "two switches in series": (with_lines((DIODE, DIODE + Q5), ("[T1.primary, Q1,", "[T1.primary, Q1, Q5,")), "Q5"),
    "a switch from the node to a rail": (
        with_lines((DIODE, DIODE + Q5), ("[T1.primary, Q1,", "[T1.primary, Q1, across Q5,")),
        "Q5",
    ),
    "a choke ahead of the first capacitor": (
        with_lines((DIODE, DIODE + "  L8: choke 10 uH 5 A\n"), ("[T1.secondary, D7,", "[T1.secondary, D7, L8,")),
        "L8",
    ),
    "a diode that carries the current on": (
        with_lines(
            (DIODE, DIODE + "  D8: Schottky diode 60 V 5 A\n"), ("[T1.secondary, D7,", "[T1.secondary, D7, across D8,")
        ),
        "D8",
    ),
    "a bridge behind the winding": (
        with_lines(
            (DIODE, DIODE + "  BR8: bridge rectifier 60 V 5 A\n"), ("[T1.secondary, D7,", "[T1.secondary, BR8, D7,")
        ),
        "BR8",
    ),
}


@pytest.mark.parametrize("name", OTHERS)
def test_what_is_no_flyback_is_told_by_what_is_joined_to_what(name: str) -> None:
    text, told = OTHERS[name]
    ledger = worked(text)
    assert known(ledger) == set()
    hole = row(ledger, part("Q1"), "voltage_peak")
    assert hole.value is None and hole.note.startswith(f"not covered: {told} ") and not hole.missing
    # and a part that nobody knows in the same place would make it one
    stated = next(line for line in text.splitlines() if line.startswith(f"  {told}: "))
    open_ = worked(text.replace(stated, f"  {told}: {{kind: unknown, marking: 4P7}}"))
    asked = row(open_, part("Q1"), "voltage_peak")
    assert asked.value is None and (part(told), "part.kind") in {(one.subject, one.quantity) for one in asked.missing}
    assert known(open_) == set()


BESIDE = {
    "two switches side by side": (
        with_lines((DIODE, DIODE + Q5), ("[T1.primary, Q1,", "[T1.primary, Q1 || Q5,")),
        ("Q1", "current_peak"),
    ),
    "a capacitor from the node to a rail": (
        with_lines((DIODE, DIODE + "  C8: film capacitor 100 pF 1000 V\n"), ("Q1, R9]", "across C8, Q1, R9]")),
        ("Q1", "current_peak"),
    ),
    "a choke behind the first capacitor": (
        with_lines((DIODE, DIODE + "  L8: choke 10 uH 5 A\n"), ("across C6", "across C6, L8")),
        ("D7", "current_peak"),
    ),
}


@pytest.mark.parametrize("name", BESIDE)
def test_what_stands_in_a_flyback_too_is_worked_out(name: str) -> None:
    text, stress = BESIDE[name]
    assert stress in known(worked(text))


SYNCHRONOUS = with_lines(
    ("  D7: {kind: Schottky diode, rated: {reverse_voltage: 100 V, current: 5 A, forward_voltage: 0.6 V, "
     "junction: 150 degC, junction_to_lead: 12 K/W}}",
     "  Q7: {kind: MOSFET, rated: {voltage: 60 V, on_resistance: 8 mohm at 25 degC, junction: 150 degC, "
     "junction_to_case: 2 K/W}}"),
    ("[T1.secondary, D7,", "[T1.secondary, Q7,"),
    ("D7: 74 degC", "Q7: 74 degC"),
)  # fmt: skip


def test_a_transistor_as_rectifier_has_no_loss_of_a_diode() -> None:
    ledger = worked(SYNCHRONOUS)
    for quantity in ("power", "junction_temperature"):
        hole = row(ledger, part("Q7"), quantity)
        assert hole.value is None and not hole.missing and hole.note
    # it blocks what the diode blocks: output and the highest bulk over the turns ratio, the ringing not known
    assert value(ledger, part("Q7"), "reverse_voltage") == value(worked(TEXT), part("D7"), "reverse_voltage")
    drop = value(ledger, Subject("output", ("main",)), "forward_drop", "converter")
    assert (drop.near, drop.far) == (0.0, 1.2)  # the channel with next to none, its body diode while the drive rests
    current = value(ledger, part("Q7"), "current_rms")
    assert current.near < value(worked(TEXT), part("D7"), "current_rms").far


def test_a_diode_beside_the_transistor_has_no_loss_either() -> None:
    text = SYNCHRONOUS.replace("[T1.secondary, Q7,", "[T1.secondary, Q7 || D8,")
    ledger = worked(text.replace("  C6: {kind", "  D8: Schottky diode 60 V 1 A\n  C6: {kind"))
    assert row(ledger, part("D8"), "power").value is None


@cache
def packs() -> Packs:
    return load_packs(("commercial-practice", "converter"))


def bench_of(text: str) -> Bench:
    design = read_design(text, "bench.derate.yaml")
    return Bench(Work(design, Settings(), packs(), work_of(design, packs()), {}), DAY)


def test_a_transistor_as_rectifier_is_judged() -> None:
    verdicts = {}
    for volts in (60, 100):
        bench = bench_of(SYNCHRONOUS.replace("voltage: 60 V", f"voltage: {volts} V"))
        verdicts[volts] = {one.rule: one for one in bench.base.review.findings if one.subject == part("Q7")}
    assert verdicts[60]["synchronous-rectifier-voltage"].verdict == "fail"
    open_end = verdicts[100]["synchronous-rectifier-voltage"]
    assert (open_end.verdict, open_end.blocks) == ("not assessed", True)
    loss = verdicts[100]["synchronous-rectifier-junction-temperature"]
    assert (loss.verdict, loss.blocks) == ("not assessed", True)


@pytest.mark.parametrize("text", [TEXT.replace("topology: flyback", "topology: power-factor stage"),
                                  TEXT.replace("topology: flyback", "topology: unknown").replace(
                                      "  Q1: {kind: MOSFET,", "  Q1: {kind: unknown,"),
                                  ACTIVE["beside the diode"]])  # fmt: skip
def test_headroom_of_what_is_not_worked_out_is_told_as_such(text: str) -> None:
    ends = headroom(bench_of(text))
    assert {one.name for one in ends} == {"output current", "ambient", "lowest mains", "highest mains"}
    for one in ends:
        assert (one.axis, one.end, one.open, one.stops) == (None, None, False, None)
        assert one.why
    assert any(one.end is not None for one in headroom(bench_of(TEXT)))


UNKNOWN = {
    "switch": ("Q1", with_lines(("  Q1: {kind: MOSFET,", "  Q1: {kind: unknown,"))),
    "rectifier": ("D7", with_lines(("  D7: {kind: Schottky diode,", "  D7: {kind: unknown,"))),
    "choke": (
        "L2",
        with_lines(
            ("  C6: {kind", "  L2: {kind: unknown}\n  C7: electrolytic capacitor 470 uF 25 V\n  C6: {kind"),
            ("across C6]", "across C6, L2, across C7]"),
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize("place", UNKNOWN)
def test_a_part_of_unknown_kind_stands_where_one_has_to_be(place: str) -> None:
    """Its kind gone, no rule of the place goes with it: what was judged is no better judged, or is not assessed."""
    name, text = UNKNOWN[place]
    known = with_lines(*CHOKED) if place == "choke" else TEXT
    before = {one.rule: one for one in bench_of(known).base.review.findings if one.subject == part(name)}
    after = {one.rule: one for one in bench_of(text).base.review.findings if one.subject == part(name)}
    judged = {rule for rule, one in before.items() if one.verdict != "not applicable"}
    assert len(judged) >= 2
    order = ("pass", "marginal", "not assessed", "fail")
    for rule in judged:
        assert order.index(after[rule].verdict) >= min(2, order.index(before[rule].verdict)), rule
    assert sum(after[rule].verdict == "not assessed" for rule in judged) >= 2


CHOKED = (
    ("  C6: {kind", "  L2: choke 4.7 uH 3 A\n  C7: electrolytic capacitor 470 uF 25 V\n  C6: {kind"),
    ("across C6]", "across C6, L2, across C7]"),
)


def test_headroom_of_a_narrow_plate_that_fails() -> None:
    """220 to 240 V: a tenth above the lower end lies beyond the upper one."""
    narrow = with_lines(("mains: 100..240 V", "mains: 220..240 V"), ("voltage: 400 V, life", "voltage: 300 V, life"))
    ends = headroom(bench_of(narrow))
    assert {one.name for one in ends} == {"output current", "ambient", "lowest mains", "highest mains"}
    assert any(one.stops is not None and one.stops.rule == "bulk-capacitor-voltage" for one in ends)
