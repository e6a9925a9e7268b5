"""The rectifier against ngspice, its own energy balance, its declared signs, and published figures."""

from __future__ import annotations

import random
from math import acos, cos, isfinite, pi, sin, sqrt

import mains_bench as bench
import pytest
from converter_trials import hold_range
from counts import calls

from derate.circuit import rectifier
from derate.circuit.rectifier import ERROR, SIGNS, SIGNS_FROM, SIGNS_HALF_WAVE, steady_state

ROWS = bench.rows("rectifier_steady_state")
FIELDS = {
    "bulk_max_V": "bulk_max", "bulk_min_V": "bulk_min", "line_rms_A": "line_rms", "line_peak_A": "line_peak",
    "bulk_rms_A": "capacitor_rms", "diode_average_A": "diode_average",
}  # fmt: skip


def solve(row, drop):
    found = steady_state(row["line_V"], row["line_Hz"], row["series_ohm"], row["bulk_F"], row["load_W"], drop)
    assert found is not None
    return found


@pytest.mark.parametrize("row", [r for r in ROWS if r["netlist"].startswith("rect_ideal")], ids=lambda r: r["netlist"])
def test_near_ideal_diodes(row):
    """0.5 %: the netlist's diodes drop 0.13 V in all, 0.1 % of the lowest crest; ours drop nothing."""
    found = solve(row, 0.0)
    for key, name in FIELDS.items():
        wanted = row["result"][key]
        if key == "diode_average_A":
            # the netlist hangs 1 Mohm from one line terminal to bulk minus, which half the time carries the line
            # through the bridge as well: its mean, Vp / pi / 1 Mohm, is shared by the two upper diodes
            wanted -= sqrt(2.0) * row["line_V"] / pi / 1e6 / 2.0
        assert getattr(found, name) == pytest.approx(wanted, rel=0.005), name


@pytest.mark.parametrize("row", [r for r in ROWS if r["netlist"].startswith("rect_real")], ids=lambda r: r["netlist"])
def test_silicon_bridge_as_a_fixed_drop(row):
    """1 % on voltages, 4 % on the line peak, and inside the declared bands: the real drop varies with current."""
    found, wanted = solve(row, 1.75), row["result"]
    for key in ("bulk_max_V", "bulk_min_V"):
        assert getattr(found, FIELDS[key]) == pytest.approx(wanted[key], rel=0.01), key
    assert found.line_peak == pytest.approx(wanted["line_peak_A"], rel=0.04)
    for key, name in FIELDS.items():
        below, above = ERROR[name]
        assert below <= wanted[key] / getattr(found, name) - 1.0 <= above, name


def test_energy_balance_and_capacitor_charge():
    """What the line gives is load + R I^2 + drop x I, on 400 supplies; the line power is its own quadrature."""
    rng = random.Random(20)
    seen = 0
    for n in range(400):
        supply = bench.random_supply(rng)
        found = steady_state(**supply, half_wave=n % 4 == 3)
        if found is None:
            continue
        seen += 1
        spent = supply["load"] + found.resistor_power + found.diode_power
        assert found.line_power == pytest.approx(spent, rel=1e-3)
        # mean capacitor current zero: the diodes carry the load's mean current, P x mean(1/v)
        mean = found.diode_average * (1.0 if n % 4 == 3 else 2.0)
        low, high = bench.load_current_bounds(supply["load"], found.bulk_mean, found.bulk_min, found.bulk_max)
        assert low <= mean <= high
        assert found.bulk_min <= found.bulk_mean <= found.bulk_max
        # orthogonality: line^2 = mean^2 + capacitor^2 up to the ripple of P/v, which is in phase opposition at most
        loosest = supply["load"] * (1.0 / found.bulk_min - 1.0 / found.bulk_max)
        assert abs(sqrt(found.line_rms**2 - mean**2) - found.capacitor_rms) <= loosest
    assert seen > 350


@pytest.mark.parametrize("half_wave", [False, True])
def test_declared_signs(half_wave):
    """Every declared sign, on 600 random supplies, for a step of one per cent in each input."""
    rng = random.Random(31)
    signs = SIGNS_HALF_WAVE if half_wave else SIGNS
    seen = {(name, key): set() for name, inputs in signs.items() for key in inputs}
    for _ in range(600):
        supply = bench.random_supply(rng)
        if half_wave:
            supply["capacitance"] *= 2.0
        low = steady_state(**supply, half_wave=half_wave)
        if low is None or low.bulk_min < SIGNS_FROM * sqrt(2.0) * supply["mains"]:
            continue
        for key, value in supply.items():
            high = steady_state(**supply | {key: 1.01 * value}, half_wave=half_wave)
            if high is None or high.bulk_min < SIGNS_FROM * sqrt(2.0) * supply["mains"]:
                continue
            for name, inputs in signs.items():
                change = getattr(high, name) / getattr(low, name) - 1.0
                if abs(change) > 1e-6:  # the solver's own noise
                    seen[name, key].add(1 if change > 0.0 else -1)
                    if inputs[key]:
                        assert change * inputs[key] > 0.0, (name, key, supply)
    for (name, key), found in seen.items():
        assert found, f"{name} never moved with {key}: the test proves nothing"


def test_collapse_is_a_result():
    assert steady_state(85.0, 50.0, 47.0, 1e-6, 60.0) is None
    assert steady_state(230.0, 50.0, 1000.0, 1e-4, 50.0) is None  # more than a source of 1000 ohm can give


def test_nothing_loops_or_crashes_anywhere_in_range():
    """2,100 calls a supply on the mean where 1,200 are usual; a search that does not end comes to millions."""
    assert calls(_all_over_the_range) < 2_000_000


def _all_over_the_range():
    for mains in (10.0, 85.0, 600.0):
        for resistance in (1e-3, 0.1, 10.0, 1e3):
            for capacitance in (1e-8, 1e-6, 1e-4, 1e-2):
                for load in (0.0, 1e-6, 1e-3, 1.0, 100.0, 1e4):
                    for half_wave in (False, True):
                        found = steady_state(mains, 50.0, resistance, capacitance, load, 0.5, half_wave=half_wave)
                        if found is not None:
                            assert all(isfinite(one) for one in found)
                            assert 0.0 < found.bulk_min <= found.bulk_max <= sqrt(2.0) * mains


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"mains": 0.0}, "10 V to 600 V"),
        ({"frequency": float("nan")}, "10 Hz to 1000 Hz"),
        ({"series_resistance": 0.0}, "0.001 ohm to 1000 ohm"),
        ({"capacitance": 1.0}, "10 nF to 0.01 F"),
        ({"load": -1.0}, "1 uW to 10000 W"),
        ({"drop": 40.0}, "drop"),
    ],
)
def test_refuses_with_the_range(changed, words):
    inputs = {"mains": 230.0, "frequency": 50.0, "series_resistance": 10.0, "capacitance": 1e-5, "load": 5.0}
    with pytest.raises(ValueError, match=words):
        steady_state(**inputs | changed)


def test_unloaded():
    found = steady_state(230.0, 50.0, 10.0, 1e-5, 0.0, 1.0)
    assert found is not None
    assert found.bulk_min == found.bulk_max == pytest.approx(324.27, abs=0.01)
    assert found.line_rms == 0.0


def test_few_enough_steps_for_dozens_in_a_lint():
    """1,159 calls counted, square roots and exponentials among them."""
    assert calls(lambda: steady_state(85.0, 60.0, 1.0, 1.5e-4, 67.0, 1.75)) < 1_500


def test_live_ngspice():
    """20 random supplies, seeded. 0.5 %: the tabulated rows' bound; the drop is that of the simulated diodes."""
    bench.need_ngspice()
    rng = random.Random(7)
    done = 0
    while done < 20:
        supply = bench.random_supply(rng) | {"drop": bench.IDEAL_DROP}
        half_wave = done >= 15
        if half_wave:
            supply["capacitance"] *= 2.0
            supply["drop"] /= 2.0
        found = steady_state(**supply, half_wave=half_wave)
        if found is None or supply["capacitance"] * supply["series_resistance"] * 2.0 * pi * 50.0 > 0.3:
            continue  # a slow source would need a longer run to settle
        done += 1
        period = 1.0 / supply["frequency"]
        crest = sqrt(2.0) * supply["mains"]
        diodes = "D1 a p DI\nRb b 0 1m\n" if half_wave else bench.BRIDGE
        deck = f"""Vac a1 b SIN(0 {crest} {supply["frequency"]} 0 0 90)
Vs a1 a2 0
R1 a2 a {supply["series_resistance"]}
{diodes}C1 p pc {supply["capacitance"]} IC={found.bulk_max}
Vc pc 0 0
Bload p 0 I = {supply["load"]}/max(v(p),5)
"""
        t, line, bulk, cap = bench.ngspice(deck, "i(Vs) v(p) i(Vc)", 2e-6, 4.0 * period, 3.0 * period)
        label = f"{supply} half wave {half_wave}"
        assert found.bulk_min == pytest.approx(min(bulk), rel=0.005), label
        assert found.bulk_max == pytest.approx(max(bulk), rel=0.005), label
        assert found.bulk_mean == pytest.approx(bench.mean(t, bulk), rel=0.005), label
        assert found.line_rms == pytest.approx(bench.rms(t, line), rel=0.005), label
        assert found.line_peak == pytest.approx(max(abs(i) for i in line), rel=0.005), label
        assert found.capacitor_rms == pytest.approx(bench.rms(t, cap), rel=0.005), label


# Published figures. AN-4137 (2002, 2003), pages 13-19: 47 W, 150 uF, 85 V 60 Hz.


def test_an4137_computed_valley():
    """Printed 92 V from its eq. 3 at 67.0 W, which assumes a conduction duty of 0.2; series resistance not stated.

    Our valley for 0.5 ohm; eq. 3 errs by +1.6..-5.8 % on 14 simulated supplies, so 3 % either way is the most that can
    be asked of the comparison here.
    """
    found = steady_state(85.0, 60.0, 0.5, 1.5e-4, 67.0, 0.0)
    assert found is not None
    assert found.bulk_min == pytest.approx(92.0, rel=0.03)


def test_an4137_measured_valley():
    """Read 90 V on the bench at 73 % efficiency (46.9 W out).

    The series resistance is not stated, 0.5 to 1 ohm is usual for the size; a scope reads to about 2 %, and the
    capacitor has 20 % tolerance: 3 %.
    """
    for resistance in (0.5, 1.0):
        found = steady_state(85.0, 60.0, resistance, 1.5e-4, 46.9 / 0.73, 1.75)
        assert found is not None
        assert found.bulk_min == pytest.approx(90.0, rel=0.03)


def test_reservoir_per_ampere_of_a_course():
    """Appendix on a buffer capacitor, undated page: 50 Hz, 20 V crest, 2 V ripple, 1 A asks 4.3 mF.

    The load there is a constant current; 19 W at 19 V mean draws 1 A within 5 % over the ripple. The page's answer is
    printed to two digits (1.2 %); 3 % covers that and the load.
    """
    found = steady_state(20.0 / sqrt(2.0), 50.0, 1e-3, 4.3e-3, 19.0)
    assert found is not None
    assert found.bulk_max - found.bulk_min == pytest.approx(2.0, rel=0.03)


def test_power_factor_of_a_tested_adapter():
    """Laboratory report in the manual of a 15.5 W adapter: 0.37 A and 19.25 W at 90 V, a power factor of 0.578.

    Its capacitor is not stated. Over 1 to 3 uF a watt and 1 to 5 ohm a rectifier of this kind gives 0.53 to 0.64, and
    the reading must lie inside.
    """
    factors = []
    for share in (1e-6, 2e-6, 3e-6):
        for resistance in (1.0, 5.0):
            found = steady_state(90.0, 60.0, resistance, share * 19.0, 19.25 - 0.5, 1.75)
            assert found is not None
            factors.append(found.line_power / (90.0 * found.line_rms))
    assert min(factors) < 0.578 < max(factors)


@pytest.mark.parametrize("half_wave", [False, True])
def test_no_false_collapse_and_never_the_lower_solution(half_wave):
    """Plain iteration from a full capacitor, period by period, collapses or settles exactly as the solver says."""
    rng = random.Random(77)
    period = 2.0 * pi if half_wave else pi
    seen = {True: 0, False: 0}
    for _ in range(250):
        mains, series, farads = rng.uniform(85.0, 265.0), 10 ** rng.uniform(-2.0, 2.5), 10 ** rng.uniform(-6.5, -3.0)
        load = 10 ** rng.uniform(-2.0, 3.0)
        found = steady_state(mains, 50.0, series, farads, load, half_wave=half_wave)
        crest, omega = sqrt(2.0) * mains, 100.0 * pi
        rho, power = omega * series * farads, load / (omega * farads * crest**2)
        x = -2e-3  # just before the crest, hence full: a capacitor that only discharges from there on may be below it
        carried, new = False, 0.0
        for _period in range(3000):
            leave = rectifier._conduct(rho, power, 0.0, x, None)
            new = None if leave is None else rectifier._reenter(power, 0.0, period, *leave)
            if new is None:
                break
            carried = abs(new - x) < 1e-8 * abs(x)
            x = new
            if carried:
                break
        if new is not None and not carried:
            continue  # too slow to say by walking
        assert carried == (found is not None), (mains, series, farads, load)
        seen[carried] += 1
        if found is not None:
            assert found.conduction_angle > -x  # from re-entry at x, past the crest
            assert cos(x) * crest == pytest.approx(found.bulk_min, rel=0.02) or cos(x) * crest > found.bulk_min
    assert min(seen.values()) > 20


# Held to the circuit, step by step


def walked(mains, frequency, series_resistance, capacitance, load, drop, half_wave, steps=3000):
    """The two equations of the module's head by Runge-Kutta steps from a full capacitor, until a period repeats.

    Nothing of the solver is used: no arcs, no tangent, no re-entry. Integrals of the last period by Simpson. None where
    the bulk falls below a quarter of the crest.
    """
    crest, omega = sqrt(2.0) * mains, 2.0 * pi * frequency
    period = (1.0 if half_wave else 0.5) / frequency
    h = period / steps

    def drive(t, v):
        return crest * cos(omega * t) - drop - v

    def current(t, v):
        return max(0.0, drive(t, v) / series_resistance)

    def slope(t, v):
        return (current(t, v) - load / v) / capacitance

    v = crest - drop
    for _ in range(400):
        begin, t, top, low, peak = v, -0.5 * period, v, v, 0.0
        bulk = charge = square = ripple = real = conducting = 0.0
        for _ in range(steps):
            k1 = slope(t, v)
            k2 = slope(t + 0.5 * h, v + 0.5 * h * k1)
            k3 = slope(t + 0.5 * h, v + 0.5 * h * k2)
            k4 = slope(t + h, v + h * k3)
            new = v + h / 6.0 * (k1 + 2.0 * (k2 + k3) + k4)
            if new < 0.25 * crest:
                return None
            middle = 0.5 * (v + new) + h / 8.0 * (k1 - slope(t + h, new))
            points = ((t, v, 1.0), (t + 0.5 * h, middle, 4.0), (t + h, new, 1.0))
            for at, volts, weight in points:
                i = current(at, volts)
                bulk += weight * volts
                charge += weight * i
                square += weight * i * i
                ripple += weight * (i - load / volts) ** 2
                real += weight * crest * cos(omega * at) * i
                peak = max(peak, i)
            before, after = drive(t, v), drive(t + h, new)
            if before > 0.0 and after > 0.0:
                conducting += h
            elif before > 0.0 or after > 0.0:  # it begins or ends inside this step
                conducting += h * max(before, after) / abs(after - before)
            top, low, v, t = max(top, new), min(low, new), new, t + h
        if abs(v - begin) < 1e-7 * crest:
            break
    each = h / 6.0 / period
    diodes = 1.0 if half_wave else 2.0
    return {
        "bulk_max": top,
        "bulk_min": low,
        "bulk_mean": bulk * each,
        "line_rms": sqrt(square * each),
        "line_peak": peak,
        "capacitor_rms": sqrt(ripple * each),
        "diode_average": charge * each / diodes,
        "diode_rms": sqrt(square * each / diodes),
        "diode_peak": peak,
        "diode_reverse": 2.0 * crest if half_wave else top + drop / 2.0,
        "conduction_angle": conducting * omega,
        "line_power": real * each,
        "resistor_power": series_resistance * square * each,
        "diode_power": drop * charge * each,
    }


def walkable():
    """Random supplies whose R C is some steps long; every fourth half wave, every third loaded until it sags deep."""
    rng, n = random.Random(51), 0
    while n < 28:
        supply = bench.random_supply(rng)
        half_wave = n % 4 == 3
        if half_wave:
            supply["capacitance"] *= 2.0
        if n % 3 == 2:
            supply["capacitance"] *= 0.25
        if supply["frequency"] * supply["series_resistance"] * supply["capacitance"] < 1e-3:
            continue
        n += 1
        yield supply | {"half_wave": half_wave}


@pytest.mark.parametrize("supply", walkable(), ids=lambda supply: f"{supply['load']:.3g} W")
def test_steady_state_is_what_walking_the_circuit_gives(supply):
    """0.02 %; peaks 0.2 %: the solver lays a parabola through the ends and the middle of each of its pieces.

    At twice the steps the walk itself moves by less than 0.01 %.
    """
    wanted, found = walked(**supply), steady_state(**supply)
    assert (wanted is None) == (found is None)
    if wanted is None or found is None:
        return
    assert set(wanted) == set(found._fields)
    for name, value in wanted.items():
        room = 2e-3 if name in ("line_peak", "diode_peak") else 2e-4
        assert getattr(found, name) == pytest.approx(value, rel=room), name


def test_walked_supplies_are_of_every_kind():
    found = [steady_state(**supply) for supply in walkable()]
    sags = [1.0 - one.bulk_min / one.bulk_max for one in found if one is not None]
    assert len(sags) >= 24 and max(sags) > 0.5 and min(sags) < 0.15


@pytest.mark.parametrize("half_wave", [False, True])
@pytest.mark.parametrize(
    ("series_resistance", "capacitance", "drop"), [(2.0, 2e-5, 1.5), (40.0, 1e-4, 0.0), (150.0, 1e-5, 3.0)]
)
def test_the_greatest_load_carried_is_where_the_walk_collapses(half_wave, series_resistance, capacitance, drop):
    """Found on the solver by halving; the walk carries 2 % less and collapses at 2 % more."""
    given = {
        "mains": 120.0,
        "frequency": 60.0,
        "series_resistance": series_resistance,
        "capacitance": capacitance,
        "drop": drop,
        "half_wave": half_wave,
    }
    low, high = 0.1, 2000.0
    while high / low > 1.001:
        middle = sqrt(low * high)
        if steady_state(**given, load=middle) is None:
            high = middle
        else:
            low = middle
    assert walked(**given, load=0.98 * low, steps=1000) is not None
    assert walked(**given, load=1.02 * low, steps=1000) is None


def test_sums_of_one_piece_are_those_of_its_parabolas():
    """Simpson is exact for squares of straight lines, the extremes are those of the parabola: against 4,000 points."""
    rng, h, power = random.Random(55), 0.3, 0.02
    for _ in range(60):
        (a, b, c), (d, e), (f, g) = [[rng.uniform(-1.0, 1.0) for _ in range(n)] for n in (3, 2, 2)]
        along = [k / 4000.0 for k in range(4001)]
        volts = [1.0 + 0.1 * (a + b * x + 4.0 * c * x * x) for x in along]
        line, flow = [d + e * x for x in along], [f + g * x for x in along]
        arc = rectifier._Arc()
        ends = (0, 2000, 4000)
        three = [tuple(one[k] for k in ends) for one in (line, volts, flow)]
        rectifier.add_piece(arc, h, *zip(*three, strict=True), power)
        middles = range(1, 4000, 2)
        mean = {
            "bulk": sum(volts[k] for k in middles) / 2000.0,
            "charge": sum(flow[k] for k in middles) / 2000.0,
            "square": sum(flow[k] ** 2 for k in middles) / 2000.0,
            "real": sum(flow[k] * line[k] for k in middles) / 2000.0,
        }
        for name, value in mean.items():
            assert getattr(arc, name) == pytest.approx(h * value, rel=1e-5, abs=1e-6), name
        i = [flow[k] - power / volts[k] for k in ends]
        assert arc.ripple == pytest.approx(h / 6.0 * (i[0] ** 2 + 4.0 * i[1] ** 2 + i[2] ** 2), rel=1e-12)
        assert arc.high == pytest.approx(max(volts), rel=1e-6) and arc.low == pytest.approx(min(volts), rel=1e-6)
        assert arc.peak == pytest.approx(max(0.0, *flow), rel=1e-6)
        before = arc.charge
        rectifier.add_piece(arc, h, *zip(*three, strict=True), power)
        assert arc.charge == pytest.approx(2.0 * before)  # pieces add up


def first_crossing(power, delta, period, theta, u):
    """Re-entry by walking in steps of a ten-thousandth of the phase, from where the line is at a quarter and the drop.

    Counted from the next crest, in crests: v^2 falls by 2 P a radian. None where the bulk is below a quarter there.
    """
    low = -acos(0.25 + delta)
    energy = u * u - 2.0 * power * (period - theta)
    if energy - 2.0 * power * low < 0.25**2:
        return None
    for k in range(10_001):
        x = low * (1.0 - k / 10_000)
        square = energy - 2.0 * power * x
        if square <= 0.0 or cos(x) - delta >= sqrt(square):
            return x
    return 0.0


def discharges():
    rng = random.Random(53)
    for n in range(200):
        delta, period = rng.uniform(0.0, 0.1), pi if n % 2 else 2.0 * pi
        yield rng.uniform(0.0, 0.9) / period, delta, period, rng.uniform(0.0, 0.5)


def test_re_entry_is_where_walking_meets_the_line():
    """Two steps of the walk; both outcomes, and loads at which the root of v^2 itself lies before the crest."""
    seen, deep = {True: 0, False: 0}, 0
    for power, delta, period, theta in discharges():
        u = cos(theta) - delta
        wanted, found = (
            first_crossing(power, delta, period, theta, u),
            rectifier._reenter(power, delta, period, theta, u),
        )
        assert (wanted is None) == (found is None), (power, delta, period, theta)
        seen[found is None] += 1
        if wanted is not None and found is not None:
            deep += u * u < 2.0 * power * (period - theta)
            assert found == pytest.approx(wanted, abs=3e-4)
    assert min(seen.values()) > 20 and deep > 5


def test_a_stiff_line_lets_go_where_it_falls_faster_than_the_load_draws():
    """The first phase at which the slope of the line passes P / v, by walking; then the re-entry from there."""
    seen = {True: 0, False: 0}
    for power, delta, period, _ in discharges():
        theta = next((k * 1e-4 for k in range(13_000) if sin(k * 1e-4) * (cos(k * 1e-4) - delta) >= power), None)
        wanted = None
        if theta is not None and cos(theta) - delta > 0.25:
            wanted = first_crossing(power, delta, period, theta, cos(theta) - delta)
        found = rectifier._fed_past_the_crest(power, delta, period)
        assert (wanted is None) == (found is None), (power, delta, period)
        seen[found is None] += 1
        if wanted is not None:
            assert found == pytest.approx(wanted, abs=5e-4)
    assert min(seen.values()) > 20


@pytest.mark.parametrize("half_wave", [False, True])
def test_a_settled_state_repeats(half_wave):
    """Conduction from the re-entry found and the discharge after it end at the same re-entry: 1e-7, up to collapse."""
    rng, period, seen = random.Random(54), 2.0 * pi if half_wave else pi, 0
    for _ in range(60):
        rho, delta = 10 ** rng.uniform(-3.0, 0.5), rng.uniform(0.0, 0.08)
        low, high = 1e-4, 1.0
        for _ in range(12):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if rectifier._settle(rho, middle, delta, period) is not None else (low, middle)
        for power in (low, 0.97 * low, rng.uniform(0.0, 0.9) * low):
            x = rectifier._settle(rho, power, delta, period)
            assert x is not None and -acos(0.25 + delta) <= x < 0.0
            leave = rectifier._conduct(rho, power, delta, x, None)
            assert leave is not None
            assert rectifier._reenter(power, delta, period, *leave) == pytest.approx(x, rel=1e-6)
            seen += 1
    assert seen == 180


@pytest.mark.parametrize("half_wave", [False, True])
def test_nothing_drawn(half_wave):
    """The capacitor stands at crest less drop and nothing flows; the diodes see it against the opposite crest."""
    found = steady_state(230.0, 50.0, 10.0, 1e-5, 0.0, 1.0, half_wave=half_wave)
    assert found is not None
    crest = 230.0 * sqrt(2.0)
    reverse = 2.0 * crest if half_wave else crest - 0.5
    assert found.diode_reverse == pytest.approx(reverse, rel=1e-12)
    assert found[:3] == (found.bulk_max,) * 3 and found.bulk_max == pytest.approx(crest - 1.0, rel=1e-12)
    assert all(value == 0.0 for name, value in found._asdict().items() if name[:4] != "bulk" and "reverse" not in name)
    # the least load there is: the same, but for a current of nanoamperes
    least = steady_state(230.0, 50.0, 10.0, 1e-5, 1e-6, 1.0, half_wave=half_wave)
    assert least is not None and least.bulk_min == pytest.approx(found.bulk_min, rel=1e-6)


def test_half_wave_is_told_by_name():
    """Bridge unless asked otherwise: every half cycle refills, so the valley is far above the half wave's."""
    given = {"mains": 230.0, "frequency": 50.0, "series_resistance": 10.0, "capacitance": 2e-5, "load": 15.0}
    bridge, half = steady_state(**given), steady_state(**given, half_wave=True)
    assert bridge is not None and half is not None
    assert bridge == steady_state(**given, drop=0.0, half_wave=False)
    assert bridge.bulk_min > half.bulk_min + 20.0


ONE = {"mains": 230.0, "frequency": 50.0, "series_resistance": 10.0, "capacitance": 1e-5, "load": 5.0}


@pytest.mark.parametrize(
    ("key", "name", "low", "high"),
    [
        ("mains", "mains voltage", 10.0, 600.0),
        ("frequency", "line frequency", 10.0, 1000.0),
        ("series_resistance", "series resistance", 1e-3, 1e3),
        ("capacitance", "bulk capacitance", 1e-8, 0.01),
        ("load", "load", 1e-6, 1e4),
        ("drop", "diode drop", 0.0, sqrt(2.0) * 230.0 / 10.0),
    ],
)
def test_ranges_are_held_at_both_ends(key, name, low, high):
    hold_range(lambda x: steady_state(**ONE | {key: x}), name, low, high)
