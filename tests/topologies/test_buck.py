"""The buck by its two demonstrations: untouched nothing blocks; each single defect is found, on its part, by its rule.

One defect in four in an ordinary run, all of them by brute force.
"""

from __future__ import annotations

from math import hypot, inf, pi, sqrt

import pytest
import yaml
from brute_force import share
from defects import Demonstration, assert_found, defects, found
from law_bench import WORKSHOP

from derate.circuit import buck
from derate.design.load import read_design
from derate.design.settings import Settings
from derate.ledger.entry import SUPPLY, Subject
from derate.packs.load import shipped
from derate.stress.context import LINE, part
from derate.study.faults import FaultRow, design_faults
from derate.study.work import worked
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, ReadingError, Value

BENCH = Demonstration.shipped("tea-warmer")
changed, review, ledger = BENCH.changed, BENCH.judged, BENCH.ledger
WARMER, LAMP = BENCH.text, Demonstration.shipped("cellar-lamp").text
DEFECTS = defects("buck_defects.yaml")


@pytest.mark.parametrize("text", [WARMER, LAMP], ids=["warmer", "lamp"])
def test_untouched_nothing_blocks(text: str) -> None:
    one = review(text)
    assert [(each.rule, str(each.subject)) for each in one.findings if each.blocks] == []
    assert {each.rule for each in one.findings if each.verdict == "fail" and each.severity != "minor"} == set()
    verdicts = {each.rule: each.verdict for each in one.findings if each.verdict != "not applicable"}
    of_both = (
        "buck-switch-voltage",
        "freewheel-diode-voltage",
        "freewheel-diode-current",
        "freewheel-diode-recovery",
        "buck-inductor-saturation",
        "buck-inductor-current",
        "buck-current-in-a-short",
        "output-capacitor-voltage",
        "output-capacitor-ripple-current",
        "output-capacitor-when-load-opens",
        "output-capacitor-when-feedback-opens",
        "output-capacitor-overshoot",
        "shorted-switch-ends-well",
        "household-non-isolated-output-enclosed",
        "short-is-cleared",
    )
    own = {
        WARMER: (
            "buck-carries-the-load",
            "feedback-diode-voltage",
            "bulk-capacitor-ripple-current",
            "bulk-carries-the-load",
        ),
        LAMP: (
            "lamp-current-within-leds",
            "input-capacitor-voltage",
            "sense-resistor-power",
            "bridge-rectifier-current",
        ),
    }
    for rule in (*of_both, *own[text]):
        assert verdicts[rule] in ("pass", "marginal"), (rule, verdicts[rule])


def test_they_are_enough() -> None:
    of_lamp = [one for one in DEFECTS.values() if one.get("of") == "lamp"]
    assert len(of_lamp) >= 15 and len(DEFECTS) - len(of_lamp) >= 15


@pytest.mark.parametrize("name", list(DEFECTS)[:: share(4)])
def test_each_single_defect_is_found_with_its_reason(name: str) -> None:
    defect = DEFECTS[name]
    one = review(defective(name))
    assert_found(one, defect)


def defective(name: str) -> str:
    one = DEFECTS[name]
    text = LAMP if one.get("of") == "lamp" else WARMER
    return changed(*((old, new) for old, new in one["changes"]), text=text)


# ---- rows by hand ----------------------------------------------------------------------------------------------------


def value(
    subject: Subject, quantity: QuantityName, group: str = "running", text: str = WARMER, mains: float | None = None
) -> Value:
    rows = [
        row
        for row in ledger(text).rows(subject, quantity)
        if row.case is not None
        and row.case.group == group
        and (mains is None or row.case.mains == pytest.approx(mains))
    ]
    assert rows, (subject, quantity, group)
    assert isinstance(rows[0].value, Value), rows[0].note
    return rows[0].value


def test_peak_of_a_pulse_and_into_an_empty_output() -> None:
    """275 mA and 310 ns of the whole bulk on 1.08 mH; while it runs 12 V less drive it."""
    top = sqrt(2) * 264
    at_start = value(part("L1"), "current_peak", "overload")
    assert at_start.high == pytest.approx(1.01 * (0.275 + top * 310e-9 / 1.08e-3), rel=2e-3)
    assert value(part("U1"), "current_peak", "overload") == at_start
    running = value(part("L1"), "current_peak", mains=264.0)
    assert running.high == pytest.approx(1.01 * (0.275 + (top - 11.4) * 310e-9 / 1.08e-3), rel=2e-3)


def test_diode_and_swing_are_worst_at_the_highest_mains_and_the_switch_at_the_lowest() -> None:
    for name, quantity, worst, kind in (
        ("D1", "current_average", 264.0, 198.0),
        ("D1", "current_rms", 264.0, 198.0),
        ("L1", "current_peak", 264.0, 198.0),
        ("U1", "current_rms", 198.0, 264.0),
        ("U1", "current_average", 198.0, 264.0),
    ):
        bad, good = (value(part(name), quantity, mains=end).high for end in (worst, kind))  # type: ignore[arg-type]
        assert bad > good, (name, quantity)


@pytest.mark.parametrize(
    ("table", "hot"),
    [
        ("{25 degC: 24..28 ohm, 100 degC: 40 ohm}", 40.0 * 2.8**0.4),  # it says nothing of 150 degC
        ("{25 degC: 24..28 ohm, 150 degC: 52 ohm}", 52.0),
        ("28 ohm at 25 degC", 28.0 * 2.8),
    ],
)
def test_a_table_of_on_resistance_that_ends_short_of_a_hot_channel_is_carried_on(table: str, hot: float) -> None:
    text = changed(("on_resistance: {25 degC: 24..28 ohm, 100 degC: 40 ohm}", f"on_resistance: {table}"))
    assert value(part("U1"), "hot_resistance", "converter", text).high == pytest.approx(hot)


def test_average_currents_share_the_load_by_the_duty() -> None:
    """120 mA: the switch brings (12 V and drops) over the bulk of it, the diode the rest."""
    low = value(part("U1"), "current_average", mains=198.0)
    valley = value(Subject("part", ("C1",)), "voltage_min").low
    most = 0.12 * (12.6 + 1.5 + 0.275 * 3.52 * 1.4) / (valley - 0.3 * 45.0)
    assert 0.9 * most < low.high < 1.05 * most
    high = value(part("D1"), "current_average", mains=264.0)
    assert high.high < 0.12 * 1.02 and high.low > 0.12 * 0.9


def crest(text: str = WARMER) -> float:
    """The greatest bulk voltage at any load [V]."""
    rows = [row.value for row in ledger(text).rows(Subject("path", ("bulk",)), "voltage_peak")]
    return max(one.high for one in rows if isinstance(one, Value))


def test_what_blocks_the_bulk() -> None:
    top = crest()
    assert value(part("U1"), "voltage_peak").high == pytest.approx(top + 2.0)
    assert value(part("D1"), "reverse_voltage").high == pytest.approx(1.1 * (top + 2.0), rel=1e-3)
    assert value(part("D2"), "reverse_voltage").high == pytest.approx(1.1 * (top + 2.0), rel=1e-3)


@pytest.mark.parametrize("group", ["running", "overload"])
def test_without_its_ringing_a_diode_is_held_to_no_more_than_the_least(group: str) -> None:
    text = changed(
        ("D1: {kind: ultrafast diode, ringing: 1.1 (measured; at 264 V and full load),", "D1: {kind: ultrafast diode,")
    )
    flat = value(part("D1"), "reverse_voltage", group, text)
    sound = value(part("D1"), "reverse_voltage", group)
    assert flat.high == inf and flat.near == pytest.approx(sound.near / 1.1)


@pytest.mark.parametrize(
    ("text", "diode", "rule"),
    [
        (
            WARMER,
            "D1: {kind: ultrafast diode, ringing: 1.1 (measured; at 264 V and full load),",
            "freewheel-diode-voltage",
        ),
        (LAMP, "D1: {kind: ultrafast diode, ringing: 1.1 (measured; at 253 V),", "freewheel-diode-voltage"),
        (WARMER, "D2: {kind: fast diode, ringing: 1.1 (measured; at 264 V and full load),", "feedback-diode-voltage"),
    ],
)
def test_no_diode_of_a_buck_passes_without_its_ringing(text: str, diode: str, rule: str) -> None:
    bare = changed((diode, diode.partition(" ringing")[0]), text=text)
    (one,) = found(review(bare), rule, diode[:2])
    assert one.verdict == "not assessed" and "ringing on top of it is not known" in one.message, one.message
    weak = bare.replace("reverse_voltage: 600 V", "reverse_voltage: 200 V")
    (one,) = found(review(weak), rule, diode[:2])
    assert one.verdict == "fail", one.message


def _ringing(said: str) -> str:
    return changed(
        (
            "ultrafast diode, ringing: 1.1 (measured; at 264 V and full load),",
            f"ultrafast diode, ringing: {said} (measured),",
        )
    )


@pytest.mark.parametrize("said", ["0.9", "0.9..1.0", "0.9..1.2"])
def test_a_ringing_below_the_flat_part_is_refused(said: str) -> None:
    """A crest is never below the flat part under it: such a figure lowers nothing and is asked for anew."""
    with pytest.raises(ReadingError) as refused:
        ledger(_ringing(said))
    (problem,) = refused.value.problems
    assert f"'{said} (measured)'" in problem.what and "over its flat part: 1 to 10" in problem.what


@pytest.mark.parametrize("said, top", [("1.0", 1.0), ("1.0..1.2", 1.2)])
def test_a_ringing_that_begins_at_the_flat_part_is_heard(said: str, top: float) -> None:
    text = _ringing(said)
    reverse = value(part("D1"), "reverse_voltage", text=text)
    assert reverse.far == pytest.approx(top * (crest() + 2.0), rel=2e-3) and reverse.low >= crest() - 1.0
    (one,) = found(review(text), "freewheel-diode-voltage", "D1")
    assert one.verdict == "pass", one.message


def test_a_short_climbs_without_a_pause_and_does_not_with_one() -> None:
    (sound,) = ledger().rows(part("L1"), "current_shorted")
    (climbing,) = ledger(defective("no pause in a short")).rows(part("L1"), "current_shorted")
    assert isinstance(sound.value, Value) and isinstance(climbing.value, Value)
    assert sound.value.high < 0.45 < climbing.value.high
    by_hand = buck.settled(
        bulk=sqrt(2) * 264, drop=1.0, inductance=1.08e-3, resistance=2.88, limit=0.275, delay=310e-9, off=0.97 / 70e3
    )
    assert climbing.value.high == pytest.approx(1.01 * by_hand, rel=0.02)


def test_what_a_fault_leaves_on_the_output() -> None:
    assert value(part("C2"), "voltage_load_open").high == pytest.approx(12.6)
    assert value(part("C2"), "voltage_feedback_open").high == pytest.approx(21.0)
    bare = ledger(defective("nothing clamps the output"))
    (word,) = bare.rows(Subject("output", ("board",)), "switch_short")
    assert word.value == Category.of("not held")
    (word,) = ledger().rows(Subject("output", ("board",)), "switch_short")
    assert word.value == Category.of("clamped and opened")
    # of LEDs nothing but a stop, a clamp or the bulk ends the climb, whatever senses their current
    text = changed(("by: U1, limits: R1}", "by: U1, limits: R1, senses: lamp}"), text=LAMP)
    assert value(part("C2"), "voltage_load_open", text=text).high == pytest.approx(90.0)
    assert value(part("C2"), "voltage_load_open", text=defective("lamp driver that never stops")).high == pytest.approx(
        sqrt(2) * 253
    )


def test_an_input_without_bulk_capacitor_has_no_valley_and_follows_the_mains() -> None:
    book = ledger(LAMP)
    assert not book.rows(Subject("path", ("bulk",)), "voltage_min")
    assert book.rows(SUPPLY, "circuit.input")[0].value == Category.of("without bulk capacitor")
    by_hand = buck.following(
        mains=253.0, line_frequency=47.0, output=68.0, drop=1.5, on_drop=0.0, inductance=0.8e-3, current=0.145
    )
    most = value(part("L1"), "current_peak", text=LAMP, mains=253.0)
    assert most.low < by_hand.peak < most.high
    swing = value(Subject("output", ("lamp",)), "ripple_slow", text=LAMP, mains=253.0)
    assert swing.low < by_hand.charge / 216e-6 < swing.high
    drawn = value(SUPPLY, "mains_current", text=LAMP, mains=207.0)
    assert drawn.low < 52e-3 * 1.02 and drawn.high > 52e-3  # as read
    line = value(LINE, "current_rms", text=LAMP, mains=207.0)
    assert drawn.high <= line.high * 1.2


FILTER = "kind: film capacitor, capacitance: 100 nF 10%"
NO_READING = (
    ("    mains_current: 47 mA 2%\n", ""),
    (" mains_current: 52 mA 2%,", ""),
    (" mains_current: 43 mA 2%,", ""),
)  # what is read raises what is worked out, or lies beside it


def line_of(text: str) -> dict[QuantityName, object]:
    book = ledger(text)
    return {
        quantity: next(
            row.value
            for row in book.rows(subject, quantity)
            if row.case is not None and row.case.group == "running" and row.case.mains == pytest.approx(253.0)
        )
        for subject, quantity in ((LINE, "current_rms"), (LINE, "current_peak"), (part("CM1"), "power"))
    }


def test_the_line_carries_what_its_filter_lets_through() -> None:
    """The more the less there is of it; from the mean over the pulses on, which no filter gets below."""
    poor, shipped, good = (
        line_of(changed((FILTER, f"kind: film capacitor, capacitance: {farads} 10%"), text=LAMP))
        for farads in ("70 nF", "100 nF", "200 nF")
    )
    for quantity in poor:
        one, two, three = poor[quantity], shipped[quantity], good[quantity]
        assert isinstance(one, Value) and isinstance(two, Value) and isinstance(three, Value)
        assert one.low == two.low == three.low and one.high > 1.02 * two.high, quantity
    by_hand = buck.following(
        mains=253.0, line_frequency=47.0, output=68.0, drop=1.5, on_drop=0.0, inductance=0.8e-3, current=0.145
    )
    most, shown = good["current_peak"], shipped["current_peak"]
    assert isinstance(most, Value) and isinstance(shown, Value)
    assert by_hand.line_peak < most.high < min(shown.high, 1.8 * by_hand.line_peak)


@pytest.mark.parametrize("line", ["BR1, across C1 || C9]", "across C9, BR1, across C1]", "BR1, across C9, across C1]"])
def test_capacitors_on_the_mains_take_their_own_current_from_it(line: str) -> None:
    """2 uF on either side of the rectifier."""
    part_line = "  C9: {kind: film capacitor, capacitance: 1.9 uF 10%, rated: {voltage: 450 V}}\n  C1: {kind: film"
    text = changed(("  C1: {kind: film", part_line), ("BR1, across C1]", line), *NO_READING, text=LAMP)
    by_hand = buck.following(
        mains=253.0, line_frequency=47.0, output=68.0, drop=1.5, on_drop=0.0, inductance=0.8e-3, current=0.145
    )
    taken = 2.0 * pi * 47.0 * 2e-6 * 253.0
    found = line_of(text)
    rms, crest = found["current_rms"], found["current_peak"]
    assert isinstance(rms, Value) and isinstance(crest, Value)
    assert rms.low < by_hand.line_rms < hypot(taken, by_hand.line_rms) < rms.high < 1.2 * taken + by_hand.line_rms
    assert hypot(sqrt(2.0) * taken, by_hand.line_peak) < crest.high < 1.2 * sqrt(2.0) * taken + by_hand.line_peak


TWO = "  C9: film capacitor 100 nF 10% 450 V\n  C1: {kind: film"


def crests(text: str, *subjects: Subject) -> list[Value | None]:
    """Greatest currents at the highest mains and the lesser frequency."""
    book = ledger(text)
    rows = [
        next(
            row
            for row in book.rows(one, "current_peak")
            if row.case is not None and row.case.group == "running" and row.case.mains == pytest.approx(253.0)
        )
        for one in subjects
    ]
    return [row.value if isinstance(row.value, Value) else None for row in rows]


def test_behind_a_choke_between_two_capacitors_the_line_carries_less_of_the_pulses_than_the_choke() -> None:
    """The choke may keep a tenth, 0.3 mH: it carries what its own section leaves."""
    choke = "  L9: {kind: choke, inductance: 3 mH 10%, resistance: 5 ohm, rated: {current: 0.2 A}}\n"
    text = changed(
        ("  C1: {kind: film", choke + TWO),
        ("BR1, across C1]", "BR1, across C9, L9, across C1]"),
        *NO_READING,
        text=LAMP,
    )
    line, ahead, between = crests(text, LINE, part("CM1"), part("L9"))
    (one,) = crests(changed(*NO_READING, text=LAMP), LINE)
    assert line is not None and between is not None and one is not None and line == ahead
    assert one.low == line.low and line.high < 0.9 * one.high and line.high < 0.9 * between.high


def test_a_resistor_between_two_capacitors_carries_pulses_that_nothing_bounds() -> None:
    text = changed(
        ("  C1: {kind: film", "  R9: film resistor 10 ohm 5% 1 W\n" + TWO),
        ("BR1, across C1]", "BR1, across C9, R9, across C1]"),
        *NO_READING,
        text=LAMP,
    )
    line, between = crests(text, LINE, part("R9"))
    assert line is not None and between is None


def test_the_outer_of_two_capacitors_may_ring_with_the_line_however_good_the_inner_filter_is() -> None:
    choke = "  L9: {kind: choke, inductance: 3 mH 10%, resistance: 5 ohm, rated: {current: 0.2 A}}\n"
    text = changed(
        ("  C1: {kind: film", choke + TWO.replace("100 nF", "22 nF")),
        ("BR1, across C1]", "BR1, across C9, L9, across C1]"),
        text=LAMP,
    )
    assert all(one is None for one in line_of(text).values())


X_AHEAD = ("across RV1, CM1,", "across RV1, across CX1, CM1,")
X_PART = ("  C1: {kind: film", "  CX1: film capacitor X2 100 nF 310 Vac\n  C1: {kind: film")


def test_a_capacitor_across_the_mains_ahead_of_the_choke_may_ring_with_the_line() -> None:
    """With the line's inductance, which is anything up to 0.8 mH; a resistor ahead of it damps that."""
    damped, bare = (
        line_of(changed(X_PART, X_AHEAD, *NO_READING, *more, text=LAMP))
        for more in ((), (("resistance: 10 ohm 5%", "resistance: 1 ohm 5%"),))
    )
    shipped = line_of(changed(*NO_READING, text=LAMP))
    assert all(one is None for one in bare.values())
    for quantity, one in damped.items():
        without = shipped[quantity]
        assert isinstance(one, Value) and isinstance(without, Value) and one.high > without.high, quantity


def test_a_ladder_of_three_sections_is_bounded_section_by_section() -> None:
    chokes = "".join(
        f"  L{k}: {{kind: choke, inductance: 10 mH 10%, resistance: 5 ohm, rated: {{current: 0.2 A}}}}\n"
        for k in (8, 9)
    )
    films = "".join(f"  C{k}: film capacitor 100 nF 10% 450 V\n" for k in (8, 9))
    text = changed(
        ("  C1: {kind: film", f"{chokes}{films}  C1: {{kind: film"),
        ("BR1, across C1]", "BR1, across C8, L8, across C9, L9, across C1]"),
        *NO_READING,
        text=LAMP,
    )
    by_hand = buck.following(
        mains=253.0, line_frequency=47.0, output=68.0, drop=1.5, on_drop=0.0, inductance=0.8e-3, current=0.145
    )
    line, first, last = crests(text, LINE, part("L8"), part("L9"))
    assert line is not None and first is not None and last is not None
    for one in (line, first, last):
        assert by_hand.line_peak < one.high < 1.6 * by_hand.line_peak
    assert not any("ngspice" in one for one in sources_of_the_filter(text))  # no netlist has been run of several


def sources_of_the_filter(text: str) -> set[str]:
    """What the rows of what a filter leaves of the pulses say that they are held to."""
    found = {row.source for row in ledger(text).entries if row.formula and row.formula.endswith("of the pulses")}
    assert found
    return found


def test_one_section_behind_the_rectifier_is_said_to_be_held_to_ngspice_and_two_are_not() -> None:
    assert all("ngspice" in one for one in sources_of_the_filter(changed(*NO_READING, text=LAMP)))
    damped = changed(X_PART, X_AHEAD, *NO_READING, text=LAMP)
    assert not any("ngspice" in one for one in sources_of_the_filter(damped))


def test_a_varistor_behind_the_rectifier_lies_across_and_not_in_series() -> None:
    book_of = changed(
        ("  C1: {kind: film", "  RV2: varistor 275 Vac\n  CY1: ceramic capacitor Y1 1 nF 250 Vac\n  C1: {kind: film"),
        ("BR1, across C1]", "BR1, across RV2, to earth CY1, across C1]"),
        text=LAMP,
    )
    structure = read_design(book_of, "x.yaml").structure
    assert structure.places["RV2"] == "mains shunt" and structure.places["CY1"] == "earth shunt"
    assert structure.own_inlet is not None
    (one, other) = (shunt for shunt in structure.own_inlet.shunts if shunt.rectified)
    assert one.names == ("RV2",) and other.to_earth and one.behind == 2
    rows = {row.quantity for row in ledger(book_of).rows(part("RV2"), "current_rms")}
    assert not rows


@pytest.mark.parametrize(("line", "covered"), [("L9, across C1", True), ("across C1, L9", False)])
def test_a_choke_behind_the_last_capacitor_keeps_no_pulse_from_the_line(line: str, covered: bool) -> None:
    choke = "  L9: {kind: choke, inductance: 3 mH 10%, resistance: 5 ohm, rated: {current: 0.2 A}}\n"
    text = changed(("  C1: {kind: film", f"{choke}  C1: {{kind: film"), ("BR1, across C1]", f"BR1, {line}]"), text=LAMP)
    book = ledger(text)
    rows = [row for row in book.rows(LINE, "current_peak") if isinstance(row.value, Value)]
    assert bool(rows) == covered


@pytest.mark.parametrize(
    "change", [(FILTER, "kind: film capacitor, capacitance: 22 nF 10%"), ("leakage: 0.15 mH, ", "")]
)
def test_a_filter_that_may_ring_with_the_pulses_leaves_no_figure_of_the_line(change: tuple[str, str]) -> None:
    assert all(one is None for one in line_of(changed(change, text=LAMP)).values())


# ---- recognised, what disagrees, what is not covered -----------------------------------------------------------------


@pytest.mark.parametrize("text", [WARMER, LAMP], ids=["warmer", "lamp"])
def test_recognised_by_its_parts_where_nobody_names_it(text: str) -> None:
    unnamed = review(changed(("  topology: buck\n", ""), text=text))
    named = review(text)
    assert {(one.rule, str(one.subject), one.verdict) for one in unnamed.findings} == {
        (one.rule, str(one.subject), one.verdict) for one in named.findings
    }


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("[U1, across D1, L1, across C2, across Z1, across R3]", "[D1, L1, U1, across C2, across Z1, across R3]"), ""),
        (
            ("[U1, across D1, L1, across C2, across Z1, across R3]", "[D1, across C2, across Z1, across R3, L1]"),
            "no switch in series",
        ),
        (("[U1, across D1, L1,", "[T1.main, U1, across D1, L1,"), "T1.main stands on the path"),
    ],
)
def test_a_word_that_disagrees_with_the_circuit_is_an_error(change: tuple[str, str], words: str) -> None:
    text = changed(change)
    if "T1" in change[1]:
        text += "transformers: {T1: {windings: {main: {turns: 10}}}}\n"
    if not words:
        one = review(text)
        assert any("not covered" in each.message for each in found(one, "buck-inductor-saturation")) or any(
            each.verdict == "not assessed" for each in found(one, "buck-switch-voltage")
        )
        return
    with pytest.raises(ReadingError) as error:
        read_design(text, "x.yaml")
    assert any(words in one.what for one in error.value.problems), [one.what for one in error.value.problems]


DIODE = next(line for line in WARMER.split("\n") if line.startswith("  D1:"))


def test_a_transistor_that_freewheels_is_not_covered_and_says_so() -> None:
    rows = ledger(changed((DIODE, "  D1: MOSFET 700 V 1 A"))).rows(part("U1"), "voltage_peak")
    assert rows and all(row.value is None for row in rows)
    assert all("D1 freewheels in place of a diode" in row.note for row in rows), [row.note for row in rows]


def test_a_resistor_beside_the_inductor_carries_all_of_its_current() -> None:
    text = changed(("[U1, R1, across D1, L1,", "[U1, across D1, R1, L1,"), text=LAMP)
    ahead, beside = (value(part("R1"), "power", text=one, mains=207.0).high for one in (LAMP, text))
    inductor = value(part("L1"), "current_rms", text=text, mains=207.0).high
    assert beside == pytest.approx(0.606 * inductor**2, rel=1e-3) and beside > 1.5 * ahead


def test_leds_in_series_are_a_lamp_as_well() -> None:
    text = changed((", across LED1]", ", LED1]"), text=LAMP)
    assert ledger(text).rows(Subject("output", ("lamp",)), "output.load")[0].value == Category.of("LEDs")
    assert value(part("C2"), "voltage_load_open", text=text).high == pytest.approx(90.0)


INVERTED = (("[U1, across D1, L1, across C2", "[U1, across L1, D1, across C2"),)


def test_a_buck_boost_is_told_by_what_lies_across() -> None:
    text = changed(*INVERTED)
    top = crest(text)
    assert value(part("U1"), "voltage_peak", text=text).high == pytest.approx(top + 12.6 + 2.0)
    assert value(part("D1"), "current_average", text=text, mains=198.0).high == pytest.approx(0.12 * 1.015)
    assert (
        value(part("U1"), "current_rms", text=text, mains=198.0).high
        > value(part("U1"), "current_rms", text=text, mains=264.0).high
    )
    (word,) = ledger(text).rows(Subject("output", ("board",)), "switch_short")
    assert word.value == Category.of("clamped and opened")
    # a point of it leaves the range of the mains: distances are no longer those of the mains alone
    sound = {one.verdict for one in found(review(), "household-barrier-clearance", "board to case")}
    beyond = {one.verdict for one in found(review(text), "household-barrier-clearance", "board to case")}
    assert sound == {"pass"} and beyond == {"not assessed"}


@pytest.mark.parametrize("name", ["fixed frequency", "boundary"])
def test_other_ways_of_control(name: str) -> None:
    text = changed(("control: {type: burst,", f"control: {{type: {name},"))
    peak = value(part("L1"), "current_peak", text=text, mains=264.0)
    bulk = sqrt(2) * 264
    of = {"bulk": bulk, "output": 12.0, "drop": 1.25, "on_drop": 0.0, "inductance": 1.2e-3, "current": 0.12}
    by_hand = buck.fixed(frequency=66e3, **of) if name == "fixed frequency" else buck.boundary(rest=0.0, **of)
    assert peak.near < by_hand.peak < peak.far


def faults_of(text: str) -> dict[str, FaultRow]:
    design = read_design(text, BENCH.path)
    packs = WORKSHOP.packs_for(BENCH.path, design, Settings())
    assumed = {name: one for (_, name), one in packs.assumptions.items()}
    return {one.fault: one for one in design_faults(design.structure, worked(design, packs), assumed)}


def test_a_shorted_switch_puts_the_bulk_on_the_output_or_its_clamp() -> None:
    bare = changed(STOPS, *UNCLAMPED)  # a controller that stops holds no switch that has shorted
    clamped, held = (dict(faults_of(text)["U1 shorted"].beside)["voltage_peak"] for text in (WARMER, bare))
    assert clamped.high == pytest.approx(21.0)
    assert held.low > 250.0 and held.high == pytest.approx(sqrt(2) * 264, rel=0.01)


def test_every_fault_has_a_row_or_a_reason() -> None:
    told = faults_of(WARMER)
    opening = {name: one.opening for name, one in told.items()}
    assert opening["U1 shorted"] == "shown"
    for name in ("D2 open", "C3 open", "load of board open", "board shorted", "Z1 open", "L1 open"):
        assert opening[name] == "nothing to open", (name, opening[name])
    for name in ("D1 open", "D1 shorted", "L1 shorted", "C2 open"):
        assert name in told and opening[name] not in ("shown", "nothing to open"), name


PULSES = "type: boundary, frequency: 120..400 kHz (measured; over a half cycle), "
MISSING = {
    "voltage of the clamp": (WARMER, [("suppressor diode, voltage: 20 V 5%}", "suppressor diode}")]),
    "capacitor of the output": (
        WARMER,
        [("across C2, across Z1, ", ""), ("other: {C4", "other: {C2: beyond, Z1: beyond, C4")],
    ),
    "resistance of a choke of the line": (WARMER, [(", resistance: 8.5 ohm 10%, rated", ", rated")]),
    "frequency without bulk": (LAMP, [(PULSES, "type: fixed frequency, ")]),
    "inductance without bulk": (LAMP, [("type: boundary", "type: fixed frequency"), ("inductance: 0.8 mH 10%, ", "")]),
}


@pytest.mark.parametrize(
    ("missing", "rule"),
    [
        ("voltage of the clamp", "shorted-switch-ends-well"),
        ("capacitor of the output", "shorted-switch-ends-well"),
        ("resistance of a choke of the line", "shorted-switch-ends-well"),
        ("frequency without bulk", "freewheel-diode-recovery"),
        ("inductance without bulk", "freewheel-diode-recovery"),
    ],
)
def test_a_missing_fact_is_no_pass(missing: str, rule: str) -> None:
    text, changes = MISSING[missing]
    (sound,), (bare,) = found(review(text), rule), found(review(changed(*changes, text=text)), rule)
    assert (sound.verdict, bare.verdict) == ("pass", "not assessed"), bare.message


@pytest.mark.parametrize(("volts", "word"), [(350, "clamped and opened"), (372, "not held"), (440, "not held")])
def test_a_clamp_above_the_bulk_holds_nothing(volts: int, word: str) -> None:
    """The bulk comes to 373 V: with its 5 % a clamp of 372 V need not give way at it, and C2 stands 35 V."""
    text = changed(("suppressor diode, voltage: 20 V 5%", f"suppressor diode, voltage: {volts} V 5%"))
    (row,) = ledger(text).rows(Subject("output", ("board",)), "switch_short")
    assert row.value == Category.of(word)


def test_of_several_sense_resistors_none_is_taken_for_the_whole() -> None:
    """Two in parallel halve the resistance and double the limit; of two in series `limits` names the one sensed."""
    other = ("  R1: {kind", "  R9: film resistor 0.6 ohm 1% 0.5 W\n  R1: {kind")
    halved = changed(("[U1, R1, across D1", "[U1, R1 || R9, across D1"), other, text=LAMP)
    (one,) = found(review(halved), "buck-inductor-saturation")
    assert one.verdict == "not assessed" and [fact.quantity for fact in one.missing] == ["part.limit_current"]
    for path in ("[U1, R9, R1, across D1", "[U1, R9 + R1, across D1"):
        named = changed(("[U1, R1, across D1", path), (other[0], other[1].replace("0.6 ohm", "6 ohm")), text=LAMP)
        limit = [row.value for row in ledger(named).rows(Subject("circuit", ("stage",)), "current_limit")]
        assert limit == [row.value for row in ledger(LAMP).rows(Subject("circuit", ("stage",)), "current_limit")]


BEHIND_A_BULK = list(yaml.safe_load_all((shipped("rules") / "buck.yaml").read_text(encoding="utf-8")))[1]["bases"][
    "lamp"
]


@pytest.mark.parametrize("gone", ["current_limit: 0.39..0.41 V, ", "inductance: 2 mH 10%, ", "mains: 230 V, "])
def test_what_the_limit_sets_is_not_taken_from_the_plate(gone: str) -> None:
    (whole,) = found(review(BEHIND_A_BULK), "lamp-current-within-leds")
    (bare,) = found(review(changed((gone, ""), text=BEHIND_A_BULK)), "lamp-current-within-leds")
    assert whole.verdict in ("pass", "marginal") and bare.verdict == "not assessed"


# ---- with the feedback open; what lies across the output -------------------------------------------------------------

STOPS = ("    shorted_pause: 0.8 ms", "    open_load_stop: 14..15 V (data sheet)\n    shorted_pause: 0.8 ms")
UNCLAMPED = (("across C2, across Z1, ", "across C2, "), ("other: {C4", "other: {Z1: spare, C4"))


def test_a_stop_that_may_be_blind_without_the_feedback_is_no_more_than_the_least() -> None:
    text = changed(STOPS, *UNCLAMPED)
    held = value(part("C2"), "voltage_feedback_open", text=text)
    assert held.low == 14.0 and held.high == pytest.approx(crest(text))
    (one,) = found(review(text), "output-capacitor-when-feedback-opens", "C2")
    assert one.verdict == "not assessed", one.message
    clamped = value(part("C2"), "voltage_feedback_open", text=changed(STOPS))
    assert (clamped.low, clamped.high) == (14.0, pytest.approx(21.0))


def test_a_stop_of_a_lamp_without_feedback_path_holds_it() -> None:
    held = value(part("C2"), "voltage_feedback_open", text=LAMP)
    assert (held.low, held.high) == (82.0, 90.0)


def test_a_clamp_of_no_known_voltage_may_hold_the_output_anywhere() -> None:
    text = changed(("suppressor diode, voltage: 20 V 5%}", "suppressor diode}"))
    held = value(part("C2"), "voltage_feedback_open", text=text)
    assert held.low == 0.0 and held.high == pytest.approx(crest(text))
    lost = found(review(text), "output-capacitor-when-feedback-opens", "C2")
    assert [one.verdict for one in lost] == ["not assessed"]


X9 = ("  R1: film resistor 13 kohm 1%", "  X9: {}\n  R1: film resistor 13 kohm 1%")


@pytest.mark.parametrize(
    ("path", "kind", "told"),
    [
        ("across Z1, across X9, ", "unknown", "X9 at the output, of which nobody knows what it is"),
        ("across Z1, X9, ", "unknown", "X9 at the output, of which nobody knows what it is"),
        ("across Z1 + X9, ", "suppressor diode 20 V", "Z1 and X9 in series across the output"),
        ("across Z1, across X9 + R9, ", "ceramic capacitor 1 nF", "X9 and R9 in series across the output"),
    ],
)
def test_what_cannot_be_read_across_the_output_is_told(path: str, kind: str, told: str) -> None:
    written = "{kind: unknown}" if kind == "unknown" else kind
    resistor = "\n  R9: film resistor 10 ohm 5%" if "R9" in path else ""
    text = changed(("across Z1, ", path), (X9[0], f"  X9: {written}{resistor}\n{X9[0]}"))
    for rule in ("freewheel-diode-voltage", "output-capacitor-voltage", "shorted-switch-ends-well"):
        every = [one for one in found(review(text), rule) if one.verdict != "not applicable"]
        assert every and all(one.verdict == "not assessed" for one in every), (rule, every)
    row = ledger(text).rows(part("D1"), "reverse_voltage")[0]
    assert row.value is None and told in row.note


def test_what_lies_side_by_side_is_read_each_for_itself() -> None:
    text = changed(("across C2, across Z1, ", "across C2 || Z1, "))
    verdicts = {(one.rule, str(one.subject)): one.verdict for one in review(text).findings}
    assert verdicts == {(one.rule, str(one.subject)): one.verdict for one in review().findings}


@pytest.mark.parametrize(
    ("stated", "verdict"),
    [("120..400 kHz (measured; over a half cycle)", "pass"), ("20..40 kHz", "fail"), ("3 MHz 5%", "fail")],
)
def test_a_stated_frequency_that_the_lamp_cannot_have_is_said(stated: str, verdict: str) -> None:
    """0.8 mH and 0.145 A: 120 kHz at the crest of the lowest mains, and a megahertz where nothing drives it."""
    text = changed(("frequency: 120..400 kHz (measured; over a half cycle)", f"frequency: {stated}"), text=LAMP)
    (one,) = found(review(text), "switching-frequency-agrees", "supply")
    assert one.verdict == verdict


def test_a_stated_frequency_that_disagrees_blocks_and_without_one_nothing_is_asked() -> None:
    text = changed(("frequency: 120..400 kHz (measured; over a half cycle)", "frequency: 25 kHz 5%"), text=LAMP)
    (one,) = found(review(text), "switching-frequency-agrees", "supply")
    assert one.blocks and one.severity == "major" and "23.8 kHz to 26.2 kHz stated" in one.message
    bare = changed((" frequency: 120..400 kHz (measured; over a half cycle),", ""), text=LAMP)
    (one,) = found(review(bare), "switching-frequency-agrees", "supply")
    assert one.verdict == "not applicable"
    (one,) = found(review(WARMER), "switching-frequency-agrees", "supply")  # it has a clock
    assert one.verdict == "not applicable"


def test_the_frequency_of_a_boundary_stage_over_a_half_cycle_by_hand() -> None:
    """Longest at the crest, t (1 + up / down); as the mains just passes the output it is the on-time alone."""
    found_ = buck.following(
        mains=230.0, line_frequency=50.0, output=64.0, drop=1.0, on_drop=0.0, inductance=0.8e-3, current=0.145
    )
    up = sqrt(2.0) * 230.0 - 64.0
    assert found_.most_frequency == pytest.approx(1.0 / found_.on_time)
    assert found_.least_frequency == pytest.approx(1.0 / (found_.on_time * (1.0 + up / 65.0)), rel=1e-3)


def test_behind_a_bulk_capacitor_a_boundary_stage_runs_no_slower_than_at_full_load() -> None:
    """The less it is loaded the faster it runs: a frequency above is no disagreement, one below is."""
    for stated, verdict in (("5 MHz", "pass"), ("2 kHz", "fail")):
        text = changed(("type: burst, frequency: 62..70 kHz", f"type: boundary, frequency: {stated}"), text=WARMER)
        (one,) = found(review(text), "switching-frequency-agrees", "supply")
        assert one.verdict == verdict
