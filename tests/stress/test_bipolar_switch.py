"""A charger with a bipolar switch of the 13003 class through the whole engine.

The circuit is invented. The ratings of Q1 are those of the sheet MJE13003/D and of one more: 400 V and 700 V, 1.5 A,
gain 8 and 5 at 0.5 A and 1 A, saturation 0.5, 1 and 3 V at 0.5, 1 and 1.5 A, fall time 0.15 us (clamped, typical),
storage time 1.7 us typical and 4 us at most, 21 pF, 89 K/W. Their figure of the reverse-bias area could not be read off
(its axes run to 1.6 A and 800 V): the table here is invented.
"""

from __future__ import annotations

import random
from datetime import date
from math import inf

import pytest
from test_converter_rows import part, row, value

from derate.circuit.thermal import locus_current
from derate.design.facts import facts
from derate.design.load import read_design
from derate.design.settings import Settings
from derate.judge.review import Finding
from derate.ledger.entry import Case
from derate.ledger.ledger import Ledger
from derate.packs.load import load_packs
from derate.run import run
from derate.study.work import Work, review_of, worked
from derate.terms import dimension as d
from derate.terms.values import Curve, Value
from derate.topologies.flyback.switch_loss import INSIDE, allowed_current, closest, loss_model

CHARGER = """\
derate: 1
supply: {name: Invented charger, topology: flyback, efficiency: 0.72, plate: {mains: 220..240 V, frequency: 50..60 Hz, outputs: {main: {voltage: 5 V, current: 1 A}}}}
site: {ambient: 0..40 degC, mains_tolerance: 10%, inside_rise: 20 K (measured), mains_resistance: 0.4 ohm, mains_inductance: 0.1 mH}
parts:
  RF1: {kind: fusible wirewound resistor, resistance: 10 ohm}
  BR1: bridge rectifier 1000 V 1 A
  C1: electrolytic capacitor 10 uF 400 V
  Q1:
    kind: bipolar transistor
    base_drive: negative at turn-off
    base_current: 80 mA (measured)
    output_capacitance: 40 pF
    rated:
      collector_base_voltage: 700 V
      collector_emitter_voltage: 400 V
      current: 1.5 A
      junction: 150 degC
      junction_to_air: 89 K/W
      base_emitter_voltage: 1 V
      gain: {0.5 A: 8, 1 A: 5}
      saturation_voltage: {0.5 A: 0.5 V, 1 A: 1 V, 1.5 A: 3 V}
      fall_time: 0.15 us
      storage_time: 1..2 us
      reverse_bias_area: {400 V: 1.5 A, 550 V: 0.9 A, 700 V: 0.7 A}
  Q2: {kind: bipolar transistor, current_limit: 0.55..0.7 V, limit_delay: 0.1..0.2 us}
  R9: film resistor 1.8 ohm
  D5: fast diode 1000 V 1 A
  R5: {kind: metal oxide resistor, resistance: 100 kohm, rated: {power: {70 degC: 1 W, 200 degC: 0 W}, voltage: 350 V}}
  C4: {kind: film capacitor, capacitance: 1 nF, rated: {voltage: 630 V, voltage_slope: 3000 V/us}}
  D7: {kind: Schottky diode, rated: {reverse_voltage: 60 V, current: 3 A, forward_voltage: 0.5 V}}
  C6: {kind: electrolytic capacitor, capacitance: 680 uF, rated: {voltage: 10 V, series_resistance: 40 mohm at 100 kHz}}
circuit:
  line: [RF1, BR1, across C1]
  primary: [T1.primary, Q1, R9]
  clamp: {across: T1.primary, path: D5 + (R5 || C4)}
  outputs: {main: [T1.secondary, D7, across C6]}
  control: {type: boundary, frequency: 50..90 kHz, by: Q2, limits: R9, senses: main}
transformers: {T1: {inductance: 3.2 mH, leakage: 60 uH, windings: {primary: {turns: 136, bare: 0.16 mm}, secondary: {turns: 10, bare: 0.6 mm}}}}
"""  # noqa: E501
PACKS = load_packs(["commercial-practice", "converter"])
AREA = "bipolar-switch-turn-off-area"
HEAT = "switch-junction-temperature"
SATURATED = "bipolar-switch-saturated"


def ledger_of(text: str) -> Ledger:
    design = read_design(text, "charger.derate.yaml")
    assumed = {name: one for (_, name), one in PACKS.assumptions.items()}
    return run(design.structure, facts(design), assumed, design.readings)


def worst(ledger: Ledger) -> float:
    """Far end of the loss at the worse end of the mains."""
    rows = [one.value for one in ledger.rows(part("Q1"), "power") if one.case is not None and one.case.load == "full"]
    assert rows and all(isinstance(one, Value) for one in rows)
    return max(one.far for one in rows if isinstance(one, Value))


def changed(*pairs: tuple[str, str]) -> str:
    text = CHARGER
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def finding(text: str, rule: str, name: str = "Q1") -> Finding:
    design = read_design(text, "charger.derate.yaml")
    review = review_of(Work(design, Settings(), PACKS, worked(design, PACKS), {}), date(2026, 11, 25))
    return next(one for one in review.findings if one.rule == rule and one.subject == part(name))


@pytest.fixture(scope="module")
def charger() -> Ledger:
    return ledger_of(CHARGER)


# ---- losses ----------------------------------------------------------------------------------------------------------


def test_loss_is_the_sum_of_what_a_text_book_adds_up(charger: Ledger) -> None:
    """At the highest mains, by hand at the far end of every input; the ledger's far end is that or a little above."""
    peak = value(charger, part("Q1"), "current_peak").far
    top = charger.find(part("Q1"), "voltage_peak", Case("running", load="highest mains"))
    assert top is not None and isinstance(top.value, Value)
    bulk, reflected = 2**0.5 * 264.0, 13.6 * 5.6
    fall, held = 2.25 * 0.15e-6, 40e-12
    rise = (2.0 * held * fall * top.value.far / peak) ** 0.5
    assert 0.5 * fall < rise < fall  # the collector's own capacitance takes more than half of the edge
    edge = top.value.far * peak * (rise / 3 - rise**2 / (4 * fall) + (fall - rise) ** 2 / (2 * fall)) * 90e3
    empty = 1.3 * 0.5 * held * (bulk + reflected) ** 2 * 90e3
    on = 1.5 * 0.5 * 7.0 / bulk + 1.0 * 0.08 * 0.3
    found = charger.find(part("Q1"), "power", Case("running", load="highest mains"))
    assert found is not None and isinstance(found.value, Value)
    assert found.value.far == pytest.approx(edge + empty + on, rel=0.12)
    assert found.value.near < 0.02  # a kind reading: valley, an edge that is over before the voltage has risen


def test_junction_goes_by_loss_and_thermal_resistance(charger: Ledger) -> None:
    junction = value(charger, part("Q1"), "junction_temperature")
    assert junction.far == pytest.approx(60.0 + 89.0 * worst(charger))
    assert not row(charger, part("Q1"), "junction_temperature").rests_on
    assert finding(CHARGER, HEAT).verdict in ("pass", "marginal", "not assessed")
    cooled = changed(("junction_to_air: 89 K/W", "junction_to_air: 40 K/W"))
    assert finding(cooled, HEAT).verdict == "pass"
    hot = changed(("junction_to_air: 89 K/W", "junction_to_air: 20000 K/W"))
    assert finding(hot, HEAT).verdict == "fail"


NEEDED = (
    ("      saturation_voltage: {0.5 A: 0.5 V, 1 A: 1 V, 1.5 A: 3 V}\n", "", "Q1: rated.saturation_voltage"),
    ("saturation_voltage: {0.5 A: 0.5 V, 1 A: 1 V, 1.5 A: 3 V}", "saturation_voltage: 0.5 V",
     "Q1: rated.saturation_voltage with its current"),
    ("saturation_voltage: {0.5 A: 0.5 V, 1 A: 1 V, 1.5 A: 3 V}", "saturation_voltage: 0.2 V at 0.1 A",
     "Q1: rated.saturation_voltage at 0.2"),
    ("      fall_time: 0.15 us\n", "", "Q1: rated.fall_time"),
)  # fmt: skip


@pytest.mark.parametrize(("old", "new", "fact"), NEEDED, ids=lambda one: str(one)[-40:])
def test_what_is_missing_is_named_and_stops(old: str, new: str, fact: str) -> None:
    text = changed((old, new))
    found = row(ledger_of(text), part("Q1"), "power")
    assert found.value is None
    assert any(one.startswith(fact) for one in found.missing), found.missing
    judged = finding(text, HEAT)
    assert judged.verdict == "not assessed" and judged.blocks


def test_what_nobody_measured_rests_on_the_packs() -> None:
    text = changed(("    base_current: 80 mA (measured)\n", ""), ("      base_emitter_voltage: 1 V\n", ""),
                   ("    output_capacitance: 40 pF\n", ""))  # fmt: skip
    ledger = ledger_of(text)
    found = row(ledger, part("Q1"), "power")
    assert {"Q1: part.base_current", "Q1: rated.base_emitter_voltage", "Q1: part.output_capacitance"} <= found.rests_on
    assert worst(ledger) > worst(ledger_of(CHARGER))


def test_a_capacitor_across_the_switch_is_discharged_by_it(charger: Ledger) -> None:
    """Half a nanofarad takes the edge away and comes back as C V² f / 2 of the switch itself."""
    bare = ledger_of(changed(("  R9: film", "  C9: ceramic capacitor 470 pF\n  R9: film"),
                             ("  control:", "  snubbers: {Q1: C9}\n  control:")))  # fmt: skip
    more = 0.5 * 470e-12 * (2**0.5 * 264.0 + 13.6 * 5.5) ** 2 * 90e3
    assert worst(bare) > 0.8 * more > worst(charger)


@pytest.mark.parametrize("boundary", [False, True])
def test_signs_of_the_loss(boundary: bool) -> None:
    """Declared signs hold, and where there is none nothing inside a range exceeds its corners."""
    source = random.Random(8)
    ranges = {
        "bulk": (120.0, 375.0), "power": (2.0, 12.0), "inductance": (1e-3, 4e-3), "reflected": (50.0, 120.0),
        "frequency": (4e4, 1.2e5), "top": (450.0, 700.0), "saturation": (0.1, 3.0), "drop": (0.2, 1.5),
        "base_emitter": (0.6, 1.3), "drive": (0.01, 0.2), "capacitance": (1e-11, 3e-10), "held": (0.0, 3e-10),
        "fall": (5e-8, 1e-6), "valley": (0.0, 1.3), "crossing": (0.0, 2.25),
    }  # fmt: skip
    for driven in (True, False):
        own = {**ranges, "drive": (0.01, 0.2) if driven else (3.0, 20.0)}
        model = loss_model(boundary, driven)
        signs = model.signs["power"]
        assert isinstance(signs, dict) and set(signs) == set(own)
        for _ in range(120):
            at = {name: source.uniform(*ends) for name, ends in own.items()}
            for name, sign in signs.items():
                low, high = at[name], min(own[name][1], at[name] * source.uniform(1.0, 1.6))
                first, last = (model.solve(**{**at, name: end})["power"] for end in (low, high))
                if sign:
                    assert (last - first) * sign >= -1e-9, (name, low, high, at)
                else:
                    inside = model.solve(**{**at, name: source.uniform(low, high)})["power"]
                    assert inside <= max(first, last) * (1.0 + INSIDE[1]), (name, low, high, at)


# ---- saturation ------------------------------------------------------------------------------------------------------


def test_forced_gain_against_the_least_gain_of_the_sheet(charger: Ledger) -> None:
    peak, forced = value(charger, part("Q1"), "current_peak"), value(charger, part("Q1"), "forced_gain")
    assert (forced.near, forced.far) == pytest.approx((peak.near / 0.08, peak.far / 0.08))
    assert value(charger, part("Q1"), "allowed.gain").near == 8.0  # below the first point, that of the first
    assert finding(CHARGER, SATURATED).verdict == "pass"
    assert finding(changed(("base_current: 80 mA", "base_current: 20 mA")), SATURATED).verdict == "fail"
    spread = changed(("gain: {0.5 A: 8, 1 A: 5}", "gain: {0.5 A: 8..40, 1 A: 5..25}"),
                     ("base_current: 80 mA", "base_current: 20 mA"))  # fmt: skip
    assert finding(spread, SATURATED).verdict == "not assessed"
    beyond = ledger_of(changed(("gain: {0.5 A: 8, 1 A: 5}", "gain: {0.1 A: 8}")))
    assert row(beyond, part("Q1"), "allowed.gain").missing[0].startswith("Q1: rated.gain at 0.2")
    nobody = finding(changed(("    base_current: 80 mA (measured)\n", "")), SATURATED)
    assert nobody.verdict == "not assessed" and nobody.blocks  # out of saturation it burns within its life
    assert "Q1: part.base_current" in nobody.missing


# ---- storage time ----------------------------------------------------------------------------------------------------


def test_storage_time_adds_to_the_delay_of_the_limit(charger: Ledger) -> None:
    """0.55..0.7 V over 1.8 ohm, then 1.1 to 2.2 us at the crest of 264 V and 3.2 mH."""
    found = value(charger, part("Q1"), "current_peak", "overload")
    slope = 2**0.5 * 264.0 / 3.2e-3
    assert found.far == pytest.approx(0.7 / 1.8 + 2.2e-6 * slope, rel=0.01)
    assert found.near == pytest.approx(0.55 / 1.8 + 1.1e-6 * slope, rel=0.02)
    unknown = row(ledger_of(changed(("      storage_time: 1..2 us\n", ""))), part("Q1"), "current_peak", "overload")
    assert isinstance(unknown.value, Value) and unknown.value.far > found.far
    assert "Q1: rated.storage_time" in unknown.rests_on


# ---- reverse-bias area -----------------------------------------------------------------------------------------------


def test_the_worst_corner_is_peak_current_with_peak_voltage(charger: Ledger) -> None:
    for group in ("running", "overload"):
        current = value(charger, part("Q1"), "current_peak", group)
        assert value(charger, part("Q1"), "turn_off_current", group).numbers() == current.numbers()
        voltage = value(charger, part("Q1"), "voltage_peak", group)
        allowed = value(charger, part("Q1"), "allowed.turn_off_current", group)
        assert 400.0 < voltage.near < voltage.far < 700.0
        assert allowed.near == (0.9 if voltage.far <= 550.0 else 0.7)
        assert allowed.far == (1.5 if voltage.near < 550.0 else 0.9)
    assert finding(CHARGER, AREA).verdict in ("pass", "marginal")


TABLES = (
    ("{400 V: 1.5 A, 550 V: 0.9 A, 700 V: 0.7 A}", ("pass", "marginal")),
    ("{400 V: 0.4 A, 700 V: 0.1 A}", ("fail",)),
    ("{400 V: 1.5 A, 700 V: 0.1 A}", ("not assessed",)),  # between two corners that say opposite things
    ("{400 V: 1.5 A, 550 V: 0.9 A}", ("not assessed",)),  # the voltage reaches beyond the table
    ("0.9 A", ("not assessed",)),
    ("unknown", ("not assessed",)),
)


@pytest.mark.parametrize(("table", "verdicts"), TABLES)
def test_table_of_the_area(table: str, verdicts: tuple[str, ...]) -> None:
    judged = finding(changed(("{400 V: 1.5 A, 550 V: 0.9 A, 700 V: 0.7 A}", table)), AREA)
    assert judged.verdict in verdicts, judged.message
    assert judged.severity == "major" and judged.blocks == (judged.verdict in ("fail", "not assessed"))


def test_no_table_no_pass() -> None:
    """Taking the table away opens no gate: it stops at the same severity, and names what to find."""
    judged = finding(changed(("      reverse_bias_area: {400 V: 1.5 A, 550 V: 0.9 A, 700 V: 0.7 A}\n", "")), AREA)
    assert judged.verdict == "not assessed" and judged.blocks
    assert "Q1: rated.reverse_bias_area" in judged.missing
    mosfet = CHARGER[: CHARGER.index("  Q1:")] + "  Q1: MOSFET 700 V 2 A\n" + CHARGER[CHARGER.index("  Q2:") :]
    design = read_design(mosfet, "charger.derate.yaml")
    review = review_of(Work(design, Settings(), PACKS, worked(design, PACKS), {}), date(2026, 11, 25))
    assert all(one.verdict == "not applicable" for one in review.findings if one.rule == AREA)


def test_an_area_read_over_a_range_is_never_better_than_at_any_voltage_in_it() -> None:
    source = random.Random(3)
    for _ in range(200):
        volts = sorted(source.uniform(100.0, 800.0) for _ in range(4))
        amps = sorted((source.uniform(0.1, 3.0) for _ in range(4)), reverse=True)
        curve = Curve(
            tuple((v, Value.exact(i)) for v, i in zip(volts, amps, strict=True)), d.VOLTAGE, d.CURRENT
        )  # fmt: skip
        ends = sorted(source.uniform(80.0, volts[-1]) for _ in range(4))
        allowed = allowed_current(curve, Value(*ends))
        at = source.uniform(ends[1], ends[2])
        lower = next(i for v, i in zip(volts, amps, strict=True) if v >= at)
        upper = next((i for v, i in zip(reversed(volts), reversed(amps), strict=True) if v <= at), amps[0])
        assert allowed.low <= allowed.near <= lower <= upper <= allowed.far <= allowed.high < inf


def test_a_locus_that_passes_lies_inside_at_every_voltage_and_one_that_fails_does_not() -> None:
    """Random areas, currents and capacitors: brute force over the voltage at both ends of everything."""
    source, ledger = random.Random(4), Ledger()
    seen = {"inside": 0, "outside": 0}
    for _ in range(400):
        volts = sorted(source.uniform(50.0, 800.0) for _ in range(4))
        amps = sorted((source.uniform(0.05, 3.0) for _ in range(4)), reverse=True)
        points = tuple((v, Value.exact(i)) for v, i in zip(volts, amps, strict=True))
        top = source.uniform(0.3, 1.0) * volts[-1]
        voltage = Value.between(0.9 * top, top)
        peak, time, size = source.choice(amps) * source.uniform(0.8, 1.8), source.uniform(1e-7, 1e-6), 1e-11
        size *= 10.0 ** source.uniform(0.0, 2.0)
        current, fall = Value.between(peak, 1.1 * peak), Value.between(time, 1.3 * time)
        farads = Value.between(size, 1.2 * size)
        held = ledger.write(part("C9"), "output_capacitance", farads)
        allowed, reached = closest(Curve(points, d.VOLTAGE, d.CURRENT), voltage, current, fall, held)
        worst = locus_current(reached, current.far, fall.far, farads.near)
        least = locus_current(reached, current.near, fall.near, farads.far)
        steps = [top * k / 200 for k in range(201)]
        if worst <= allowed.near:
            seen["inside"] += 1
            for at in steps:
                edge = next(i for v, i in zip(volts, amps, strict=True) if v >= at)
                assert locus_current(at, current.far, fall.far, farads.near) <= edge + 1e-12
        elif least > allowed.far:
            seen["outside"] += 1
            beyond = [
                at for at in (reached, *steps) if at <= voltage.near
                and locus_current(at, current.near, fall.near, farads.far)
                > next((i for v, i in zip(reversed(volts), reversed(amps), strict=True) if v <= at), amps[0])
            ]  # fmt: skip
            assert beyond, (points, voltage, current, fall, farads)
    assert min(seen.values()) > 20, seen


def test_a_capacitor_across_the_switch_counts_only_where_it_is_known() -> None:
    tight = ("{400 V: 1.5 A, 550 V: 0.9 A, 700 V: 0.7 A}", "{200 V: 0.9 A, 400 V: 0.5 A, 700 V: 0.1 A}")
    fitted = ("  R9: film", "  C9: {kind: ceramic capacitor, capacitance: 1 nF}\n  R9: film")
    across = ("  control:", "  snubbers: {Q1: C9}\n  control:")
    assert finding(changed(tight), AREA).verdict in ("fail", "not assessed")
    assert finding(changed(tight, fitted, across), AREA).verdict in ("pass", "marginal")
    unknown = (fitted[0], fitted[1].replace("1 nF", "unknown"))
    assert finding(changed(tight, unknown, across), AREA).verdict in ("fail", "not assessed")
    timeless = ("      fall_time: 0.15 us\n", "")
    assert finding(changed(tight, fitted, across, timeless), AREA).verdict in ("fail", "not assessed")
    # a resistor in series carries voltage from the first moment: left out, and the row says so
    behind = ("  control:", "  snubbers: {Q1: [R8, C9]}\n  control:")
    resistor = (fitted[0], fitted[1].replace("  R9:", "  R8: film resistor 100 ohm\n  R9:"))
    text = changed(tight, resistor, behind)
    assert finding(text, AREA).verdict in ("fail", "not assessed")
    assert "not counted on" in row(ledger_of(text), part("Q1"), "turn_off_current").note


def test_without_a_limit_overload_is_not_assessed() -> None:
    judged = finding(changed((", current_limit: 0.55..0.7 V", "")), AREA)
    assert judged.verdict == "not assessed"
    assert any("current_limit" in one or "limit_current" in one for one in judged.missing)
