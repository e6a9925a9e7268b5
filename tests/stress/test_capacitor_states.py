"""Cold and worn capacitors as rows: never better than warm and new, no value inside the range worse, holes told."""

from __future__ import annotations

import math
import random
from functools import cache
from math import inf

import pytest
from line_integrator import walk
from random_flybacks import CONVERTER, random_flyback
from random_supplies import ASSUMED, Given
from test_converter_rows import TEXT

from derate.circuit.capacitor_ageing import grown
from derate.circuit.flyback import point_of
from derate.circuit.output_stage import post_filter, single_capacitor
from derate.design.facts import facts
from derate.design.load import read_design
from derate.ledger.entry import SUPPLY, Entry, Subject
from derate.ledger.ledger import Ledger
from derate.run import run
from derate.terms.values import Category, Value
from derate.topologies.flyback.secondaries import pulse

GROUPS = ("cold start", "end of life")
BULK, PRIMARY, MAIN = Subject("path", ("bulk",)), Subject("path", ("primary",)), Subject("output", ("main",))
C1, C6, C8 = (Subject("part", (name,)) for name in ("C1", "C6", "C8"))
STATED = TEXT.replace(
    "ripple_current: {120 Hz: 0.5 A, 100 kHz: 0.8 A}",
    "ripple_current: {120 Hz: 0.5 A, 100 kHz: 0.8 A}, series_resistance: {120 Hz: 2 ohm, 100 kHz: 0.8 ohm}, "
    "impedance_ratio: {-40 degC: 8, -25 degC: 4}, cold_impedance: {-25 degC: 4 ohm, -10 degC: 2 ohm}, "
    "end_of_life_capacitance_change: 20 %, end_of_life_resistance_ratio: 2",
).replace(
    "series_resistance: 30 mohm at 100 kHz",
    "series_resistance: 30 mohm at 100 kHz, cold_impedance: {-25 degC: 0.2 ohm, -10 degC: 80 mohm}, "
    "end_of_life_capacitance_change: 20 %, end_of_life_resistance_ratio: 2",
)  # fmt: skip


def _found(what: str, tolerance: str = "") -> str:
    """The design with something measured on C6."""
    old = "C6: {kind: electrolytic capacitor, capacitance: 1000 uF,"
    assert STATED.count(old) == 1
    return STATED.replace(old, f"{old[:-1]}{tolerance}, found: {{{what}}},")


@cache
def worked(text: str = STATED) -> Ledger:
    design = read_design(text, "bench.derate.yaml")
    return run(design.structure, facts(design), {**ASSUMED, **CONVERTER}, ())


def changed(old: str, new: str, text: str = STATED) -> Ledger:
    assert text.count(old) == 1, old
    return worked(text.replace(old, new))


def row(ledger: Ledger, subject: Subject, quantity: str, group: str) -> Entry:
    rows = [one for one in ledger.rows(subject, quantity) if one.case is not None and one.case.group == group]
    whole = [one for one in rows if one.case is not None and one.case.mains is not None]
    assert whole or rows, (subject, quantity, group)
    return (whole or rows)[-1]


def value(ledger: Ledger, subject: Subject, quantity: str, group: str) -> Value:
    found = row(ledger, subject, quantity, group).value
    assert isinstance(found, Value), row(ledger, subject, quantity, group)
    return found


# ---- never better than warm and new ----------------------------------------------------------------------------------


def test_inductance_ahead_moves_the_valley_of_a_cold_bulk_too() -> None:
    """By as much as an integrator of the tests' own does at the capacitance, resistance and load of the row."""
    none, much = (worked(STATED.replace("site: {", f"site: {{mains_inductance: {one} mH, ")) for one in (0, 6))
    line = Subject("path", ("line",))

    def most(subject: Subject, quantity: str, group: str, end: str = "high") -> float:
        found = [
            getattr(one.value, end)
            for one in much.rows(subject, quantity)  # type: ignore[arg-type]
            if isinstance(one.value, Value) and one.case is not None and one.case.group == group
        ]
        return float(max(found))

    for group in GROUPS:
        one, other = value(none, BULK, "voltage_min", group), value(much, BULK, "voltage_min", group)
        case = row(much, BULK, "voltage_min", group).case
        assert case is not None and case.mains is not None and case.frequency is not None
        farads = most(BULK, "bulk_capacitance", group, "low")
        ohms, load = most(line, "series_resistance", "running"), most(SUPPLY, "power_drawn", "running")
        valleys = []
        for henries in (1e-6, 6e-3):
            given = (case.mains, case.frequency, ohms, henries, farads, load)
            walked = walk(*given, 1.75, steps=1500, cycles=30)
            assert walked is not None
            valleys.append(walked.bulk_min)
        assert abs(valleys[1] / valleys[0] - 1.0) > 0.02
        assert other.low / one.low == pytest.approx(valleys[1] / valleys[0], abs=0.01)


def _with_facts(text: str, source: random.Random) -> str:
    """A random flyback with random cold and end-of-life facts on its capacitors, or with none."""
    text = text.replace("ambient: 0..40 degC", f"ambient: {source.choice([-40, -25, -10, 0, 15, 25])}..40 degC")
    if source.random() < 0.3:
        return text
    ratio, change = source.uniform(1.2, 4.0), source.uniform(5.0, 45.0)
    own = f"end_of_life_resistance_ratio: {ratio:.3g}, end_of_life_capacitance_change: {change:.3g} %"
    cold = source.uniform(0.005, 1.5)  # some below the resistance warm: such a sheet says nothing good about cold
    for line in text.splitlines():
        if "electrolytic capacitor" in line and "series_resistance" in line:
            text = text.replace(line, line.replace(
                "rated: {", f"rated: {{{own}, cold_impedance: {cold:.4g} ohm at {source.choice([-10, -25])} degC, "
            ))  # fmt: skip
    return text.replace(
        " uF 400 V", f" uF 400 V\n  C99: electrolytic capacitor {source.uniform(1, 9):.3g} uF 400 V", 0
    )


def test_cold_or_worn_is_never_better_over_random_flybacks() -> None:
    compared = 0
    for seed in range(24):
        source = random.Random(900 + seed)
        drawn = random_flyback(source, boundary=seed % 3 == 0, count=1 + seed % 2)
        ledger = worked(_with_facts(drawn.text, source))
        outputs = [Subject("output", (f"o{k}",)) for k in range(len(drawn.outputs))]
        for group in GROUPS:
            pairs = [(BULK, "voltage_min", -1), (PRIMARY, "current_peak", 1), *((o, "ripple", 1) for o in outputs)]
            for subject, quantity, bad in pairs:
                warm = row(ledger, subject, quantity, "running")
                state = row(ledger, subject, quantity, group)
                if state.value is None or warm.value is None:
                    assert state.value is None and (state.note or state.missing)
                    continue
                assert isinstance(state.value, Value) and isinstance(warm.value, Value)
                compared += 1
                for a, b in zip(state.value.numbers(), warm.value.numbers(), strict=True):
                    assert (a - b) * bad >= 0.0, (seed, group, subject, quantity)
            carried, warm = (row(ledger, SUPPLY, "load_carried", one) for one in (group, "running"))
            assert isinstance(carried.value, Category) and isinstance(warm.value, Category)
            if carried.value.word == "yes":
                assert warm.value.word == "yes"
    assert compared > 80


def test_colder_is_never_better() -> None:
    ledgers = [changed("ambient: 0..40", f"ambient: {low}..40") for low in (25, 20, 5, -10, -20, -25)]
    for subject, quantity, bad in ((BULK, "voltage_min", -1), (PRIMARY, "current_peak", 1), (MAIN, "ripple", 1)):
        rows = [row(one, subject, quantity, "cold start").value for one in ledgers]
        known = [one for one in rows if isinstance(one, Value)]
        assert len(known) >= 5 and rows[: len(known)] == known  # once it has collapsed it stays so
        for warmer, colder in zip(known, known[1:], strict=False):
            for a, b in zip(colder.numbers(), warmer.numbers(), strict=True):
                assert (a - b) * bad >= -1e-9 * abs(b)


# ---- the reported maximum over the range of what is stated -----------------------------------------------------------


def _grid(value: Value, wide: bool) -> list[float]:
    low, high = (value.low, value.high) if wide else (value.near, value.far)
    return [low + (high - low) * k / 8 for k in range(9)]


@pytest.mark.parametrize("group", GROUPS)
@pytest.mark.parametrize("wide", [False, True])
def test_no_capacitor_inside_the_range_ripples_more(group: str, wide: bool) -> None:
    """9 capacitances × 9 resistances × both ends of the bulk, fully apart from the corners that the ledger ran."""
    held = 0
    for seed in range(16):
        source = random.Random(40 + seed)
        drawn = random_flyback(source)
        ledger = worked(_with_facts(drawn.text, source))
        one = Subject("output", ("o0",))
        found, bulk = row(ledger, one, "ripple", group), row(ledger, BULK, "voltage_min", group)
        if found.value is None:
            assert bulk.value is None
            continue
        state = [r for r in ledger.rows(one, "output_capacitance") if r.case is not None and r.case.group == group]
        resist = [r for r in ledger.rows(one, "series_resistance") if r.case is not None and r.case.group == group]
        capacitance, resistance = state[0].value, resist[0].value
        carried = row(ledger, PRIMARY, "power_carried", "running").value
        assert isinstance(found.value, Value) and isinstance(bulk.value, Value) and isinstance(carried, Value)
        assert isinstance(capacitance, Value) and isinstance(resistance, Value)
        worst = 0.0
        current = drawn.outputs[0][1]
        for volts in (bulk.value.low, bulk.value.high) if wide else (bulk.value.near, bulk.value.far):
            for power in (carried.near, carried.far):
                at = point_of(False)(
                    bulk=volts, power=power, inductance=drawn.inductance, reflected=drawn.reflected,
                    frequency=drawn.frequency,
                )  # fmt: skip
                for share in (0.0, drawn.leakage / drawn.inductance):
                    shape = pulse(at, current, share)
                    for c in _grid(capacitance, wide):
                        for r in _grid(resistance, wide):
                            ripple = single_capacitor(shape.start, shape.end, shape.conduction, shape.frequency, c, r)
                            worst = max(worst, ripple.ripple)
        limit = found.value.high if wide else found.value.far
        assert worst <= limit * 1.005, (seed, worst, limit)
        assert worst > 0.55 * limit  # and the reported one is no wild figure
        held += 1
    assert held >= 7


FILTERED = (
    STATED.replace("across C6]", "across C6, L2, across C8]")
    .replace("circuit:\n", "  L2: choke 4.7 uH 20% 3 A\n  C8: {kind: electrolytic capacitor, capacitance: 220 uF 20%, "
             "rated: {voltage: 25 V, series_resistance: 0.12 ohm at 100 kHz}}\ncircuit:\n", 1)
)  # fmt: skip


@pytest.mark.parametrize("group", GROUPS)
def test_no_pair_of_capacitors_behind_a_choke_ripples_more(group: str) -> None:
    ledger = worked(FILTERED)
    found, choke = value(ledger, MAIN, "ripple", group), Subject("part", ("L2",))
    bulk, carried = value(ledger, BULK, "voltage_min", group), row(ledger, PRIMARY, "power_carried", "running").value
    assert isinstance(carried, Value)

    def of(subject: Subject, quantity: str) -> Value:
        rows = [r for r in ledger.rows(subject, quantity) if r.case is not None and r.case.group == group]
        assert isinstance(rows[0].value, Value)
        return rows[0].value

    parts = [of(MAIN, "output_capacitance"), of(MAIN, "series_resistance"), of(choke, "output_capacitance"),
             of(choke, "series_resistance")]  # fmt: skip
    inductance = 750e-6
    reflected = [r.value for r in ledger.rows(PRIMARY, "reflected_voltage")][0]
    assert isinstance(reflected, Value)
    source, worst = random.Random(1), 0.0
    for _ in range(1500):
        at = point_of(False)(
            bulk=source.choice([bulk.low, bulk.high]), power=source.choice([carried.low, carried.high]),
            inductance=inductance, reflected=source.uniform(reflected.low, reflected.high), frequency=65e3,
        )  # fmt: skip
        shape = pulse(at, 1.5, source.uniform(0.0, 12e-6 / inductance))
        c1, r1, c2, r2 = (source.choice([v.low, source.uniform(v.low, v.high), v.high]) for v in parts)
        ripple = post_filter(
            shape.start, shape.end, shape.conduction, shape.frequency, c1, r1,
            source.choice([3.76e-6, 4.7e-6, 5.64e-6]), c2, r2,
        )  # fmt: skip
        worst = max(worst, ripple.filter_ripple)
    assert 0.5 * found.high < worst <= found.high * 1.005


# ---- what the values are ---------------------------------------------------------------------------------------------


def test_cold_values_follow_the_sheet_and_then_what_is_assumed() -> None:
    ledger = changed("ambient: 0..40", "ambient: -10..40")
    assert value(ledger, C6, "series_resistance", "cold start") == Value.exact(0.08)
    between = value(changed("ambient: 0..40", "ambient: -17.5..40"), C6, "series_resistance", "cold start")
    assert between.near == pytest.approx((0.08 * 0.2) ** 0.5)  # half way on a logarithmic scale
    colder = row(changed("ambient: 0..40", "ambient: -40..40"), C6, "series_resistance", "cold start")
    assert isinstance(colder.value, Value)
    assert colder.value.near == pytest.approx(grown(0.2, 1.2, -40.0, at=-25.0))
    assert colder.value.far == pytest.approx(grown(0.2, 1.8, -40.0, at=-25.0))
    assert "C6: rated.cold_impedance" in colder.rests_on
    kept = value(ledger, C6, "capacitance", "cold start")
    assert (kept.near, kept.far) == pytest.approx((1e-3 * 0.92**3, 1e-3))
    # an impedance ratio close to one leaves more than the assumption does
    bound = changed("impedance_ratio: {-40 degC: 8, -25 degC: 4}", "impedance_ratio: 1.1 at -40 degC")
    near = value(bound, C1, "capacitance", "cold start").near
    assert near == pytest.approx(47e-6 * max(0.92**2, 1 / (1 + 0.1 * 20 / 60) / (1 + 0.15**2) ** 0.5))


@pytest.mark.parametrize("ratio", [1.0, 1.2, 4.0, 40.0])
def test_an_impedance_ratio_is_a_limit_that_a_cold_capacitor_may_use_up(ratio: float) -> None:
    """Above what is assumed as well as below it, and past its own temperature by the growth assumed."""
    own, cold = "cold_impedance: {-25 degC: 4 ohm, -10 degC: 2 ohm}, ", "ambient: -10..40"
    several = "impedance_ratio: {-40 degC: 8, -25 degC: 4}, " + own
    text = STATED.replace(several, f"impedance_ratio: {ratio} at -25 degC, ")
    ledger = changed("ambient: 0..40", cold, text)
    warm, share = 2.0 * (1.0 + 0.3 * math.log10(1.2)), 30.0 / 45.0  # at 100 Hz; share of the way from 20 to -25 degC
    allowed = math.sqrt(ratio**2 * (1.0 + 0.15**2) - 1.0) / (2.0 * math.pi * 100.0 * 47e-6)
    found = value(ledger, C1, "series_resistance", "cold start")
    assert found.far == pytest.approx(max(warm, warm ** (1.0 - share) * allowed**share), rel=1e-6)
    assert found.near == pytest.approx(2.0 if ratio == 1.0 else min(2.0 * 1.2**3, found.far), rel=1e-6)
    colder = value(changed("ambient: 0..40", "ambient: -35..40", text), C1, "series_resistance", "cold start")
    assert colder.far == pytest.approx(max(warm, allowed) * 1.8, rel=1e-6)


def test_a_cold_impedance_worse_than_the_impedance_ratio_is_heard() -> None:
    """Of two statements that disagree the nearer one counts, be it the worse."""
    worse = changed("cold_impedance: {-25 degC: 4 ohm, -10 degC: 2 ohm}", "cold_impedance: 20 kohm at 0 degC")
    assert value(worse, C1, "series_resistance", "cold start").near == pytest.approx(20e3, rel=1e-3)


def test_end_of_life_values_follow_the_maker_and_what_was_found() -> None:
    ledger = worked()
    assert value(ledger, C6, "capacitance", "end of life").near == pytest.approx(0.8e-3)
    assert value(ledger, C6, "series_resistance", "end of life").near == pytest.approx(0.06)
    # found better than stated: the end of its life is reckoned from the maker's limit all the same
    better = worked(_found("series_resistance: 20 mohm at 100 kHz"))
    assert value(better, C6, "series_resistance", "end of life").near == pytest.approx(0.06)
    assumed = changed("end_of_life_capacitance_change: 20 %, end_of_life_resistance_ratio: 2}}\n  Q1", "}}\n  Q1")
    found = row(assumed, C1, "capacitance", "end of life")
    assert isinstance(found.value, Value)
    assert (found.value.near, found.value.far) == pytest.approx((0.6 * 47e-6, 0.8 * 47e-6))
    assert "C1: rated.end_of_life_capacitance_change" in found.rests_on


def test_an_unknown_ambient_is_named_for_the_cold_and_leaves_the_end_of_life() -> None:
    ledger = changed("ambient: 0..40 degC, ", "")
    for subject, quantity in ((MAIN, "ripple"), (PRIMARY, "current_peak"), (SUPPLY, "load_carried")):
        cold = row(ledger, subject, quantity, "cold start")
        assert cold.value is None and "supply: site.ambient" in cold.missing
        assert row(ledger, subject, quantity, "end of life").value is not None


def test_without_the_packs_assumptions_nothing_is_guessed() -> None:
    design = read_design(TEXT, "bench.derate.yaml")
    ledger = run(design.structure, facts(design), {**ASSUMED}, ())
    for group in GROUPS:
        assert row(ledger, MAIN, "ripple", group).value is None
        assert row(ledger, SUPPLY, "load_carried", group).missing


def test_a_small_bulk_collapses_and_says_so() -> None:
    ledger = changed("capacitance: 47 uF", "capacitance: 26 uF")
    aged = row(ledger, SUPPLY, "load_carried", "end of life")
    assert isinstance(aged.value, Category) and aged.value.word != "yes"
    peak = row(ledger, PRIMARY, "current_peak", "end of life")
    assert peak.value is None or isinstance(peak.value, Value)
    if aged.value.word == "no":
        assert peak.value is None and "carry" in peak.note


# ---- ceramic capacitors ----------------------------------------------------------------------------------------------

CERAMIC = (
    "{kind: ceramic capacitor, capacitance: 22 uF 10%, rated: {voltage: 25 V, series_resistance: 3 mohm at 100 kHz"
)


def _ceramic(more: str, extra: str = "") -> Ledger:
    start = STATED.index("  C6: {")
    line = STATED[start : STATED.index("\n", start)]
    return worked(STATED.replace(line, f"  C6: {CERAMIC}{more}}}{extra}}}"))


def _standing(ledger: Ledger, subject: Subject, quantity: str) -> Value:
    rows = [r for r in ledger.rows(subject, quantity) if r.case is None or r.case.group == "converter"]
    assert isinstance(rows[-1].value, Value)
    return rows[-1].value


def test_a_ceramic_capacitor_counts_at_its_voltage() -> None:
    nothing = _standing(_ceramic(""), MAIN, "output_capacitance")
    assert (nothing.low, nothing.near, nothing.far) == pytest.approx((0.2 * 19.8e-6, 0.2 * 22e-6, 22e-6))
    at_voltage = _standing(_ceramic(", capacitance: {6 V: 15 uF, 12 V: 8 uF}"), MAIN, "output_capacitance")
    assert at_voltage.numbers() == pytest.approx((7.2e-6, 8e-6, 8e-6, 8.8e-6))
    beyond = _standing(_ceramic(", capacitance: {3 V: 18 uF, 6 V: 15 uF}"), MAIN, "output_capacitance")
    assert beyond.near == pytest.approx(4.4e-6) and beyond.far == pytest.approx(15e-6)
    below = _standing(_ceramic(", capacitance: 4 uF at 20 V"), MAIN, "output_capacitance")
    assert below.near == pytest.approx(4e-6) and below.far == pytest.approx(22e-6)
    class_one = _standing(_ceramic("", ", dielectric: class 1"), MAIN, "output_capacitance")
    assert class_one.near == pytest.approx(22e-6)


def test_the_voltage_of_a_ceramic_moves_its_ripple() -> None:
    stated = _ceramic(", capacitance: {6 V: 15 uF, 12 V: 8 uF}")
    nominal = _ceramic("", ", dielectric: class 1")
    assert value(stated, MAIN, "ripple", "running").near > 2.0 * value(nominal, MAIN, "ripple", "running").near
    missing = row(_ceramic(""), MAIN, "ripple", "running")
    assert "C6: rated.capacitance" in missing.rests_on
    cold = value(stated, MAIN, "ripple", "cold start")
    assert cold.far > value(stated, MAIN, "ripple", "running").far  # drift on top


# ---- wear and class Y ------------------------------------------------------------------------------------------------


def _wear(what: str) -> Entry:
    return worked(_found(what)).rows(C6, "wear")[-1]


def _number(entry: Entry) -> float:
    assert isinstance(entry.value, Value)
    return entry.value.near


def test_wear_is_the_greater_of_both_measurements() -> None:
    both = _wear("capacitance: 780 uF, series_resistance: 45 mohm at 100 kHz")
    assert _number(both) == pytest.approx(1.1)  # 22 % lost of the 20 allowed
    assert _number(_wear("capacitance: 980 uF, series_resistance: 45 mohm at 100 kHz")) == pytest.approx(0.75)
    # the checklist's bad example, 109 ohm where about one was expected, with its limit twice the stated
    bad = _wear("capacitance: 980 uF, series_resistance: 3.27 ohm at 100 kHz")
    assert _number(bad) == pytest.approx(54.5)
    assert _number(_wear("capacitance: 1100 uF, series_resistance: 6 mohm at 100 kHz")) == pytest.approx(0.1)
    # measured at 1 kHz, stated at 100 kHz: it may be up to six tenths higher there when new
    wide = _wear("capacitance: 1000 uF, series_resistance: 60 mohm at 1 kHz").value
    assert isinstance(wide, Value) and wide.near == pytest.approx(1.0 / 1.6) and wide.far == pytest.approx(1.0)


def test_one_measurement_alone_proves_no_health() -> None:
    for what, near, missing in (
        ("capacitance: 900 uF", 0.5, "C6: found.series_resistance"),
        ("series_resistance: 45 mohm at 100 kHz", 0.75, "C6: found.capacitance"),
        ("series_resistance: 300 mohm at 100 kHz", 5.0, "C6: found.capacitance"),
    ):
        entry = _wear(what)
        assert isinstance(entry.value, Value) and entry.value.far == inf
        assert entry.value.near == pytest.approx(near) and missing in entry.missing
    assert worked().rows(C6, "wear")[-1].missing == ("C6: found.capacitance", "C6: found.series_resistance")
    entry = _wear("capacitance: 900 uF, series_resistance: 45 mohm")
    assert "C6: found.series_resistance with its frequency" in entry.missing


def test_the_mark_stays_where_another_capacitance_was_found() -> None:
    design = read_design(_found("capacitance: 900 uF", " 20%"), "x")
    own = {one.quantity: one.value for one in facts(design) if one.subject == C6}
    assert own["part.marked_capacitance"] == Value(0.8e-3, 1e-3, 1e-3, 1.2e-3)
    assert own["part.capacitance"] == Value.exact(900e-6)


@pytest.mark.parametrize(("rated", "most"), [("", 125.0), (", temperature: 85 degC", 85.0)])
def test_a_class_y_capacitor_is_rated_as_marked_else_as_assumed(rated: str, most: float) -> None:
    capacitor = f"  CY1: {{kind: ceramic capacitor, class: Y1, capacitance: 2.2 nF, rated: {{voltage: 400 V{rated}}}}}"
    text = STATED.replace("circuit:\n", f"{capacitor}\ncircuit:\n  bridging: {{CY1: [bulk minus, main minus]}}\n", 1)
    design = read_design(text, "x")
    given = {**ASSUMED, **CONVERTER, "class_y_temperature": Given(Value.exact(125.0), True)}
    ledger = run(design.structure, facts(design), given, ())
    found = ledger.rows(Subject("part", ("CY1",)), "allowed.case_temperature")[-1]
    assert found.value == Value.exact(most)
    assert bool(found.rests_on) == (not rated)
