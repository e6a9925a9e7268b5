"""Hot restart, dip, re-plug and surge: each held to the solver or the closed form it stands for, and to its bounds."""

from __future__ import annotations

from math import sqrt

import pytest
from event_designs import BULK, LINE, exact, part, row, style, value

from derate.circuit import pulse
from derate.circuit.pulse import step_current, worst_switch_on
from derate.ledger.entry import SUPPLY
from derate.ledger.ledger import Ledger
from derate.terms.values import Category, Value

_BRIDGE = "BR1: {kind: bridge rectifier, rated: {surge_current: 50 A at 8.3 ms}}"
_NTC = (
    "NTC1: {kind: NTC thermistor, resistance: 10 ohm, b_constant: 3000 K, "
    "hot_resistance: {1 A: 0.6 ohm, 3 A: 0.3 ohm}, rated: {energy: 20 J}}"
)
_CREST = 240.0 * sqrt(2.0)


def _with_thermistor(more: str = "") -> Ledger:
    return exact("[NTC1, BR1, across C1]", _NTC, _BRIDGE, "C1: electrolytic capacitor 47 uF 450 V", supply=more)


def test_a_hot_thermistor_hardly_limits() -> None:
    # cold at 25 degC inside air: 10 ohm; hot: the least of the maker's table, 0.3 ohm, the bulk empty at worst
    ledger = _with_thermistor("runs_down_to: 80 V, ")
    assert value(ledger, LINE, "current_peak", "switch-on").far == pytest.approx(_CREST / 10.0, rel=0.01)
    hot = value(ledger, LINE, "current_peak", "hot restart")
    assert hot.far == pytest.approx(_CREST / 0.3, rel=0.02)
    # the kindest reading: 0.6 ohm and 0.2 of the two diodes, which drop 2 V, and the bulk still at the crest of the
    # lowest mains it runs at
    kind = worst_switch_on(240.0, 47.0, 0.8, 47e-6, start=80.0 * sqrt(2.0), drop=2.0)
    assert hot.near == pytest.approx(0.99 * kind.peak, rel=1e-6)
    assert ledger.find(SUPPLY, "circuit.restart").value == Category.of("less")  # type: ignore[union-attr]


def test_without_the_lowest_mains_the_kindest_start_is_that_of_the_plate() -> None:
    known = value(_with_thermistor("runs_down_to: 80 V, "), LINE, "current_peak", "hot restart")
    unknown = value(_with_thermistor(), LINE, "current_peak", "hot restart")
    assert unknown.far == known.far and unknown.near < known.near  # losing the fact only widens


def test_without_a_thermistor_a_restart_is_no_worse_than_cold() -> None:
    _, ledger = style("fuse")
    assert ledger.find(SUPPLY, "circuit.restart").value == Category.of("as cold")  # type: ignore[union-attr]
    for name in ("F1", "R1", "BR1"):
        for quantity in ("current_peak", "i2t"):
            cold = value(ledger, part(name), quantity, "switch-on")
            hot = row(ledger, part(name), quantity, "hot restart")
            assert hot.value == Value(0.0, 0.0, cold.far, cold.high) and "no more than" in hot.formula


def test_a_dip_starts_from_what_the_load_has_left() -> None:
    # energy: 1/2 C (V0^2 - V1^2) = P t, from a crest (20 ms) or half a period after one
    ledger = exact(
        "[NTC1, BR1, across C1]", _NTC, _BRIDGE, "C1: electrolytic capacitor 47 uF 450 V", supply="efficiency: 0.75, "
    )
    start = next(one for one in ledger.rows(BULK, "start_voltage") if one.case is not None and one.case.group == "dip")
    assert isinstance(start.value, Value) and start.case is not None
    power = 6.0 / 0.75
    longest = sqrt(_CREST**2 - 2.0 * power * (0.020 + 0.5 / 47.0) / 47e-6)
    shortest = sqrt(_CREST**2 - 2.0 * power * 0.020 / 47e-6)
    assert (start.value.near, start.value.far) == pytest.approx((longest, shortest), rel=1e-6)
    dip = value(ledger, LINE, "current_peak", "dip")
    assert dip.far == pytest.approx((_CREST - longest) / 0.3, rel=0.02)
    assert dip.far < value(ledger, LINE, "current_peak", "hot restart").far


def test_a_dip_that_empties_the_bulk_is_a_restart_from_nothing() -> None:
    ledger = exact(
        "[NTC1, BR1, across C1]", _NTC, _BRIDGE, "C1: electrolytic capacitor 2.2 uF 450 V", supply="efficiency: 0.75, "
    )
    dip, hot = (value(ledger, LINE, "current_peak", group) for group in ("dip", "hot restart"))
    assert dip.far == pytest.approx(hot.far)


def test_replug_is_four_times_the_i2t_of_plugging_in() -> None:
    # i2t = C step^2 / (2 R): a capacitor left charged and plugged in against the opposite crest sees 2 Vp. A capacitor
    # as great as this makes that scenario the worst; the parts behind it see no more than a cold switch-on.
    ledger = exact(
        "[F1, across CX1, R1, BR1, across C1]", "F1: {kind: fuse, resistance: 0.5 ohm}", "CX1: film capacitor 10 uF",
        "R1: {kind: wirewound resistor, resistance: 22 ohm}", _BRIDGE, "C1: electrolytic capacitor 1 uF 450 V",
        site=", mains_resistance: 0.5 ohm",
    )  # fmt: skip
    once = step_current(_CREST, 1.0, 10e-6)
    found = value(ledger, part("F1"), "i2t", "re-plug")
    assert found.far == pytest.approx(4.0 * once.i2t, rel=1e-6)
    assert value(ledger, part("F1"), "current_peak", "re-plug").far == pytest.approx(2.0 * _CREST / 1.0, rel=1e-6)
    assert value(ledger, part("F1"), "energy", "re-plug").far == pytest.approx(0.5 * found.far, rel=1e-6)
    behind = row(ledger, part("R1"), "i2t", "re-plug")
    assert "no more than" in behind.formula


@pytest.mark.parametrize(("element", "more", "share"), [
    ("CX1 || R2", "R2: film resistor 1 Mohm", 1.0),
    ("CX1 || RV1", "RV1: {kind: varistor, nominal_voltage: 470 V}", 1.0),
    ("(CX1 || R2) + (CX2 || R3)", "CX2: film capacitor 1 uF", 0.5),
    ("CX1 || CX2 || R2", "CX2: film capacitor 1 uF", 2.0),
])  # fmt: skip
def test_a_capacitor_in_one_element_with_its_bleeder_holds_its_charge(element: str, more: str, share: float) -> None:
    def replugged(element: str, *more: str, farads: float = 1.0) -> Value:
        ledger = exact(
            f"[F1, across {element}, BR1, across C1]", "F1: {kind: fuse, resistance: 0.5 ohm}",
            f"CX1: film capacitor {farads:g} uF", *more, _BRIDGE, "C1: electrolytic capacitor 10 uF 450 V",
            site=", mains_resistance: 0.5 ohm",
        )  # fmt: skip
        return value(ledger, part("F1"), "i2t", "re-plug")

    others = ["R2: film resistor 1 Mohm", "R3: film resistor 1 Mohm"] if "CX2" in element else []
    bled, alone = replugged(element, more, *others), replugged("CX1", farads=share)
    assert bled.numbers() == pytest.approx(alone.numbers()) and alone.near > 0.0


def test_a_part_across_the_line_that_may_be_a_capacitor_is_not_taken_for_none() -> None:
    ledger = exact(
        "[F1, across X1, BR1, across C1]", "F1: {kind: fuse, resistance: 0.5 ohm}", "X1: {kind: unknown}",
        _BRIDGE, "C1: electrolytic capacitor 10 uF 450 V", site=", mains_resistance: 0.5 ohm",
    )  # fmt: skip
    assert "X1: part.capacitance" in row(ledger, part("F1"), "i2t", "re-plug").missing


def test_replug_with_the_bulk_empty_adds_both_charges() -> None:
    # a small capacitor beside a great bulk: what the empty bulk draws governs, with the capacitor's charge on top
    ledger = exact(
        "[F1, across CX1, BR1, across C1]", "F1: {kind: fuse, resistance: 1 ohm}", "CX1: film capacitor 100 nF",
        _BRIDGE, "C1: electrolytic capacitor 47 uF 450 V", site=", mains_resistance: 0.5 ohm",
    )  # fmt: skip
    cold = value(ledger, part("F1"), "i2t", "switch-on").far
    found = value(ledger, part("F1"), "i2t", "re-plug").far
    assert cold < found < 1.05 * cold


def test_without_a_capacitor_across_the_line_a_replug_is_a_switch_on() -> None:
    _, ledger = style("fuse")
    assert "no more than" in row(ledger, part("F1"), "i2t", "re-plug").formula


def _surge(*parts: str, line: str, site: str = ", surge: 1 kV", mains: str = "265 V") -> Ledger:
    return exact(line, *parts, _BRIDGE, mains=mains, site=site)


@pytest.mark.parametrize(("ohms", "farads", "volts"), [(8.2, 10.0, 670.0), (8.2, 33.0, 507.0)])
def test_surge_without_a_varistor(ohms: float, farads: float, volts: float) -> None:
    # figures worked out before this program: 1 kV, 2 ohm, no varistor: 10 uF behind 8.2 ohm reaches 670 V, 33 uF 507 V,
    # the mains under it not noted. The row holds 25 % below an ideal wave and 1 % above, and must span the figure; the
    # ideal wave on a mains of 253 V stays below it and on one of 265 V reaches above, for the crest adds to the level
    parts = (f"R1: {{kind: wirewound resistor, resistance: {ohms} ohm}}",
             f"C1: electrolytic capacitor {farads} uF 450 V")  # fmt: skip
    low, high = (
        value(_surge(*parts, line="[R1, BR1, across C1]", mains=mains), part("C1"), "voltage_surge", "surge")
        for mains in ("253 V", "265 V")
    )
    assert high.near <= volts <= high.far
    assert low.far / 1.01 < volts < high.far / 1.01


def test_a_surge_never_takes_voltage_from_the_bulk() -> None:
    ledger = _surge("R1: {kind: wirewound resistor, resistance: 22 ohm}", "C1: electrolytic capacitor 220 uF 450 V",
                    line="[R1, BR1, across C1]")  # fmt: skip
    found = value(ledger, part("C1"), "voltage_surge", "surge")
    assert found.low >= 265.0 * sqrt(2.0) - 1e-9 and found.far > found.near


def test_a_varistor_holds_the_surge_at_its_clamping_voltage() -> None:
    line = "[F1, across RV1, R1, BR1, across C1]"
    parts = ("F1: {kind: fuse, resistance: 0.1 ohm}", "R1: {kind: wirewound resistor, resistance: 8.2 ohm}",
             "C1: electrolytic capacitor 10 uF 450 V")  # fmt: skip
    rv = (
        "RV1: {kind: varistor, nominal_voltage: 470 V, rated: {voltage: 300 Vac, energy: 45 J, "
        "clamping_voltage: {50 A: 775 V, 200 A: 850 V}}}"
    )
    held = _surge(*parts, rv, line=line)
    bare = _surge(*parts, line="[F1, R1, BR1, across C1]")
    assert value(held, part("C1"), "voltage_surge", "surge").far < value(bare, part("C1"), "voltage_surge", "surge").far
    clamp, case = value(held, part("RV1"), "clamping_voltage", "surge"), row(held, part("RV1"), "energy", "surge").case
    assert (clamp.low, clamp.near) == (470.0, 470.0) and case is not None and case.mains is not None
    # the wave drives a third more through it than the last current of its table
    driven = (1037.0 + 2**0.5 * case.mains - clamp.far) / 2.1
    assert 200.0 < driven < 270.0 and clamp.far == pytest.approx(850.0 * (driven / 200.0) ** 0.25, rel=1e-9)
    # what the varistor takes is at most the surge's own charge beyond the clamp: level / R x tail x clamp
    most = clamp.far * (1037.0 / 2.1) * 68.22e-6
    assert 0.0 < value(held, part("RV1"), "energy", "surge").far < most
    # ahead of the varistor the whole wave may pass: (1.037 level / R)^2 x tail / 2
    assert value(held, part("F1"), "i2t", "surge").far == pytest.approx((1037.0 / 2.1) ** 2 * 68.22e-6 / 2.0, rel=1e-6)


def test_a_varistor_without_its_table_is_a_hole_that_names_it() -> None:
    ledger = _surge("F1: {kind: fuse, resistance: 0.1 ohm}", "RV1: {kind: varistor, nominal_voltage: 470 V}",
                    "C1: electrolytic capacitor 10 uF 450 V", line="[F1, across RV1, BR1, across C1]")  # fmt: skip
    for name, quantity in (("RV1", "energy"), ("C1", "voltage_surge"), ("F1", "current_peak")):
        entry = row(ledger, part(name), quantity, "surge")
        assert entry.value is None and "RV1: rated.clamping_voltage" in entry.missing, name


def test_the_level_is_stated_or_that_of_the_category_and_marked() -> None:
    _, stated = style("fuse")
    _, by_category = style("ntc-with-fuse")
    assert not row(stated, part("F1"), "i2t", "surge").rests_on
    assert "supply: site.surge" in row(by_category, part("F1"), "i2t", "surge").rests_on
    unknown = _surge("R1: {kind: wirewound resistor, resistance: 8 ohm}", "C1: electrolytic capacitor 10 uF 450 V",
                     line="[R1, BR1, across C1]", site="")  # fmt: skip
    entry = row(unknown, part("C1"), "voltage_surge", "surge")
    assert entry.value is None
    assert entry.missing == ("supply: site.surge", "supply: site.overvoltage_category")


def test_pulse_ratings_are_read_at_the_width_of_each_event() -> None:
    _, ledger = style("ntc-with-fuse")
    for group in ("switch-on", "hot restart", "surge"):
        width = value(ledger, part("BR1"), "pulse_width", group)
        allowed = value(ledger, part("BR1"), "allowed.surge_current", group)
        assert allowed.far == pytest.approx(sqrt(150.0**2 * 8.3e-3 / 2.0 / width.near), rel=1e-9)


def test_a_spike_is_held_to_less_than_the_surge_rating_of_a_half_sine() -> None:
    """Below a millisecond the I2t a diode bears lies between that of the rating and what heat flow leaves of it."""
    _, ledger = style("ntc-with-fuse")
    rated, seen = 150.0**2 * 8.3e-3 / 2.0, 0
    for group in ("switch-on", "hot restart", "surge"):
        i2t, peak = (value(ledger, part("BR1"), name, group) for name in ("i2t", "current_peak"))
        allowed = value(ledger, part("BR1"), "allowed.surge_i2t", group)
        width = i2t.far / peak.far**2
        assert allowed.far == pytest.approx(rated) == pytest.approx(allowed.high)
        assert allowed.near == pytest.approx(rated * min(1.0, sqrt(width / 1e-3)), rel=1e-9)
        seen += allowed.near < 0.9 * rated
        for share in (0.1, 0.5, 0.9):  # a gentler pulse is no further over its own cautious limit
            less = pulse.diode_surge(150.0, 8.3e-3, max(share * i2t.far / peak.far**2, 1e-9)).cautious_i2t
            assert share * i2t.far / less <= i2t.far / allowed.near * (1.0 + 1e-9)
    assert seen


def test_the_tail_of_the_surge_is_as_long_as_its_wave() -> None:
    # through a resistance into a capacitor that hardly fills the pulse is that of the wave, peak 1: its width is the
    # integral of its square. Charge 1000 V / 10.2 ohm x 70 us fills 10 mF by 0.7 V of 1000: 0.1 % of the current
    ledger = _surge("R1: {kind: wirewound resistor, resistance: 8.2 ohm}", "C1: electrolytic capacitor 10000 uF 450 V",
                    line="[R1, BR1, across C1]")  # fmt: skip
    width = value(ledger, part("R1"), "pulse_width", "surge")
    tail, front = 68.22e-6, 0.4074e-6
    square = 1.037**2 * (tail / 2.0 + front / 2.0 - 2.0 * tail * front / (tail + front))
    assert width.near == pytest.approx(square, rel=0.003)
