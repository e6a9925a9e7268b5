"""The linear lamp driver by its demonstration: untouched nothing blocks; each single defect is found by its rule.

One defect in four in an ordinary run, all of them by brute force.
"""

from __future__ import annotations

from math import cos, pi, sin, sqrt

import pytest
from brute_force import share
from defects import Demonstration, assert_found, defects

from derate.circuit.linear_lamp import held_off_a_bulk, held_off_the_mains
from derate.design.load import read_design
from derate.ledger.entry import SUPPLY, Entry
from derate.stress.context import part
from derate.study.faults import design_faults
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Collapse, ReadingError, Value

LAMP = Demonstration.shipped("hallway-lamp")
changed, review, ledger = LAMP.changed, LAMP.judged, LAMP.ledger
DEFECTS = defects("linear_lamp_defects.yaml")


def rows(name: str, quantity: QuantityName, group: str, text: str = LAMP.text) -> list[Entry]:
    return [
        row
        for row in ledger(text).rows(part(name), quantity)
        if (row.case.group if row.case is not None else "") == group
    ]


def value(name: str, quantity: QuantityName, group: str, text: str = LAMP.text) -> Value:
    row = rows(name, quantity, group, text)[-1]
    assert isinstance(row.value, Value), row.note
    return row.value


@pytest.mark.parametrize("string", [0.0, 80.0, 250.0])
def test_loss_is_what_a_sum_over_the_half_cycle_makes_of_it(string: float) -> None:
    ended = held_off_the_mains(mains=230.0, string=string, current=0.02)
    steps = 20000
    waves = [sqrt(2) * 230.0 * sin((k + 0.5) * pi / steps) for k in range(steps)]
    above = [one - string for one in waves if one > string]
    assert ended.power == pytest.approx(0.02 * sum(above) / steps, rel=1e-5)
    assert ended.average == pytest.approx(0.02 * len(above) / steps, rel=1e-3)
    assert ended.rms**2 == pytest.approx(0.02**2 * len(above) / steps, rel=1e-3)


def test_a_small_capacitor_adds_its_charging_to_the_line_and_one_that_is_not_emptied_is_told() -> None:
    crest, string, steps = sqrt(2) * 230.0, 150.0, 20000
    slope = 2.0 * pi * 50.0 * crest
    farads = 0.95 * 0.02 / (slope * sqrt(1.0 - (string / crest) ** 2))
    found = held_off_the_mains(mains=230.0, string=string, current=0.02, frequency=50.0, capacitance=farads)
    angles = [(k + 0.5) * pi / steps for k in range(steps)]
    line = [0.02 + farads * slope * cos(one) for one in angles if crest * sin(one) > string]
    assert found.peak == pytest.approx(max(line), rel=1e-3)
    assert found.rms**2 == pytest.approx(sum(one**2 for one in line) / steps, rel=1e-3)
    assert found.average == pytest.approx(sum(line) / steps, rel=1e-3)
    with pytest.raises(Collapse, match="above the mains"):
        held_off_the_mains(mains=230.0, string=string, current=0.02, frequency=50.0, capacitance=farads / 0.9)


def test_several_small_capacitors_count_together() -> None:
    parts = (
        ("BR1, across C1]", "BR1, across C8, across C9]"),
        ("bridging: none", "bridging: none\n  other: {C1: spare}"),
        ("  LED1:", "  C8: film capacitor 10 nF 5% 630 V\n  C9: film capacitor 20 nF 5% 630 V\n  LED1:"),
    )
    one = held_off_the_mains(mains=253.0, string=252.0, current=0.022, frequency=50.0, capacitance=31.5e-9)
    held = value("RF1", "current_peak", "running", changed(*parts))
    assert held.high == pytest.approx(0.022 + (one.peak - 0.022) * 53.0 / 50.0)  # of the highest mains and frequency


def test_what_is_drawn_is_the_held_current_times_the_bulk() -> None:
    row = ledger(LAMP.text).rows(SUPPLY, "power_drawn")[0].value
    assert isinstance(row, Value)
    assert (row.low, row.high) == pytest.approx((0.020 * 252.0, 0.022 * sqrt(2) * 253.0))


def test_a_string_above_the_crest_stays_dark() -> None:
    with pytest.raises(Collapse, match="dark"):
        held_off_the_mains(mains=120.0, string=200.0, current=0.02)
    assert held_off_a_bulk(bulk=150.0, string=200.0, current=0.02) == 0.0


def test_untouched_nothing_blocks() -> None:
    assert [(one.rule, str(one.subject)) for one in review().findings if one.blocks] == []
    verdicts = {one.rule: one.verdict for one in review().findings if one.verdict != "not applicable"}
    for rule in (
        "lamp-chip-voltage",
        "lamp-chip-junction",
        "lamp-chip-with-leds-shorted",
        "linear-lamp-current",
        "bulk-capacitor-voltage",
        "bulk-capacitor-ripple-current",
        "household-barrier-clearance",
        "household-non-isolated-output-enclosed",
        "short-is-cleared",
    ):
        assert verdicts[rule] in ("pass", "marginal"), rule


def test_they_are_enough() -> None:
    assert len(DEFECTS) >= 15


@pytest.mark.parametrize("name", list(DEFECTS)[:: share(4)])
def test_each_single_defect_is_found_with_its_reason(name: str) -> None:
    defect = DEFECTS[name]
    one = review(changed(*((old, new) for old, new in defect["changes"])))
    assert_found(one, defect)


def test_all_that_the_leds_leave_is_heat_in_the_chip_at_the_highest_mains() -> None:
    crest = sqrt(2) * 253.0
    assert value("U1", "power", "running").high == pytest.approx((crest - 252.0) * 0.022, rel=0.01)
    assert value("U1", "power", "overload").high == pytest.approx(crest * 0.022, rel=0.01)
    assert value("U1", "power_load_shorted", "").high == pytest.approx(crest * 0.022, rel=0.01)
    assert value("U1", "voltage_peak", "running").high == pytest.approx(crest, rel=0.01)
    assert value("LED1", "current_average", "running").high == pytest.approx(0.022)


BARE = (("BR1, across C1]", "BR1]"), ("bridging: none", "bridging: none\n  other: {C1: spare}"))


def test_without_a_bulk_capacitor_the_current_flows_above_the_string_alone() -> None:
    text = changed(*BARE)
    by_hand = held_off_the_mains(mains=253.0, string=252.0, current=0.022)
    assert value("U1", "power", "running", text).high == pytest.approx(by_hand.power)
    assert value("BR1", "current_average", "running", text).high == pytest.approx(by_hand.average)
    events = rows("RF1", "i2t", "surge", text)
    assert events and all(row.value is None and "for the bench" in row.note for row in events)


def test_recognised_where_nobody_names_it() -> None:
    unnamed = review(changed(("  topology: linear lamp driver\n", "")))
    assert {(one.rule, str(one.subject), one.verdict) for one in unnamed.findings} == {
        (one.rule, str(one.subject), one.verdict) for one in review().findings
    }


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (
            [
                ("BR1, across C1]", "BR1, across C1 + D9 + C9]"),
                ("  LED1:", "  D9: line diode 600 V 1 A\n  C9: electrolytic capacitor 10 uF 250 V\n  LED1:"),
            ],
            "C1 and D9 and C9 fill the valleys",
        ),
        (
            [
                ("BR1, across C1]", "BR1, across C1, across D9 + C9]"),
                ("  LED1:", "  D9: {kind: diode}\n  C9: electrolytic capacitor 10 uF 250 V\n  LED1:"),
            ],
            "D9 and C9 may fill the valleys",
        ),
        (
            [
                ("BR1, across C1]", "BR1, across C1, across D9 + C9]"),
                ("  LED1:", "  D9: diode 600 V\n  C9: {kind: unknown}\n  LED1:"),
            ],
            "D9 and C9 may fill the valleys",
        ),
        ([("line: [RF1,", "line: [TH9, RF1,"), ("  LED1:", "  TH9: thyristor 600 V 4 A\n  LED1:")], "a dimmer"),
        (
            [
                ("[LED1, U1, R1]", "[LED1, U1, LED9, U9, R1]"),
                ("  LED1:", "  LED9: LED\n  U9: linear regulator\n  LED1:"),
            ],
            "switch segments",
        ),
    ],
)
def test_what_is_not_covered_says_so(changes: list[tuple[str, str]], words: str) -> None:
    text = changed(*changes)
    told = rows("U1", "power", "running", text)
    assert told and all(row.value is None and words in row.note for row in told), [row.note for row in told]


def test_resistors_alone_in_place_of_a_chip_are_told_as_not_covered() -> None:
    text = changed(("[LED1, U1, R1]", "[LED1, R1]"), ("bridging: none", "bridging: none\n  other: {U1: spare}"))
    told = rows("C1", "ripple_equivalent", "running", text)
    assert told and all(row.value is None and "R1 alone hold the current" in row.note for row in told)
    faults = design_faults(read_design(text, "x.yaml").structure, LAMP.ledger(text), {})
    assert all(one.fault.split()[0] for one in faults) and any(one.fault == "R1 shorted" for one in faults)


def test_a_string_without_a_chip_disagrees_with_the_word() -> None:
    text = changed(("[LED1, U1, R1]", "[LED1]"), ("bridging: none", "bridging: none\n  other: {U1: spare, R1: spare}"))
    with pytest.raises(ReadingError) as error:
        read_design(text, "x.yaml")
    assert any("no LEDs in series with a linear chip" in one.what for one in error.value.problems)


@pytest.mark.parametrize("bare", [False, True])
def test_the_plate_does_not_say_what_the_chip_holds(bare: bool) -> None:
    text = changed(("limit_current: 20..22 mA (data sheet; by R1), ", ""), *(BARE if bare else ()))
    (lost,) = {(row.value, row.missing) for row in rows("U1", "power", "running", text)}
    assert lost == (None, ("U1: part.limit_current",))
    for rule in ("lamp-chip-junction", "linear-lamp-current"):
        (one,) = (each for each in review(text).findings if each.rule == rule and each.verdict != "not applicable")
        assert one.verdict == "not assessed", one.message


@pytest.mark.parametrize(("rated", "verdict"), [("450 V", "pass"), ("250 V", "fail"), ("", "not assessed")])
def test_a_film_capacitor_behind_the_rectifier_stands_the_crest(rated: str, verdict: str) -> None:
    of = f", rated: {{voltage: {rated}}}" if rated else ""
    text = changed(
        ("BR1, across C1]", "BR1, across C9]"),
        ("bridging: none", "bridging: none\n  other: {C1: spare}"),
        ("  LED1:", f"  C9: {{kind: film capacitor, capacitance: 100 nF{of}}}\n  LED1:"),
    )
    asked = [one for one in review(text).findings if one.rule == "lamp-input-capacitor-voltage"]
    assert [(str(one.subject), one.verdict) for one in asked if one.verdict != "not applicable"] == [("C9", verdict)]


def _with_film(line: str, farads: str) -> str:
    return changed(
        ("BR1, across C1]", line),
        ("bridging: none", "bridging: none\n  other: {C1: spare}"),
        ("  LED1:", f"  C9: {{kind: film capacitor, capacitance: {farads}, rated: {{voltage: 450 V}}}}\n  LED1:"),
    )


@pytest.mark.parametrize(("line", "least"), [("across C9, BR1]", 1.0), ("BR1, across C9]", 0.0)])
def test_a_film_capacitor_on_either_side_of_the_rectifier_takes_its_own_current(line: str, least: float) -> None:
    """8.4 mA at 253 V and 53 Hz, beside 15.6 mA of the LEDs; behind it only while the mains stands above the LEDs."""
    taken = 2.0 * pi * 53.0 * 100e-9 * 253.0
    bare, text = changed(*BARE), _with_film(line, "100 nF")
    for quantity, more in (("current_rms", taken), ("current_peak", sqrt(2.0) * taken)):
        alone, both = value("RF1", quantity, "running", bare).high, value("RF1", quantity, "running", text).high  # type: ignore[arg-type]
        assert sqrt(alone**2 + (least * more) ** 2) < both <= (alone + more) * (1.0 + 1e-9)
    assert value("U1", "power", "running", text) == value("U1", "power", "running", bare)


@pytest.mark.parametrize(("farads", "covered"), [("160 nF", True), ("2 uF", False), ("unknown", False)])
def test_one_that_holds_the_rail_leaves_no_figure_of_the_chip(farads: str, covered: bool) -> None:
    """Where the LEDs stop it gives more than the 20 mA that the chip takes at least: the rail no longer follows."""
    found = rows("U1", "power", "running", _with_film("BR1, across C9]", farads))
    assert any(isinstance(row.value, Value) for row in found) == covered
