"""Ringing of a snubbed rectifier: ngspice, limits that text-books print, signs, refusals.

The band of `ringing_crest` is argued on random rings with a falling junction capacitance; here it is held to ngspice's
own diode, with and without stored charge, and to a fixed-step solution of the same circuit.
"""

from __future__ import annotations

import json
import math
import random
from pathlib import Path

import pytest
from converter_trials import prove_signs
from mains_bench import need_ngspice, ngspice

from derate.circuit.secondary import RATIO, RING_SIGNS, junction_equivalent, reverse_voltage, ringing_crest

DATA = Path(__file__).parent.parent / "data"

# leakage [H], zero-bias capacitance [F], built-in [V], grading, snubber [ohm], [F], flat part [V], stored charge as the
# diode's transit time [s] with the current it carried [A]. The second is the rectifier snubber of SLUA700 (p2, p17), 10
# and 39 ohm with 1 nF, on 29.3 V; leakage and junction are assumed, the note prints none.
RINGS = [
    (250e-9, 500e-12, 0.5, 0.5, 22.0, 1e-9, 65.0, 0.0, 0.0),
    (170e-9, 700e-12, 0.45, 0.5, 39.0, 1e-9, 29.3, 0.0, 0.0),
    (170e-9, 700e-12, 0.45, 0.5, 10.0, 1e-9, 29.3, 0.0, 0.0),
    (60e-9, 1.2e-9, 0.4, 0.45, 4.7, 2.2e-9, 20.0, 0.0, 0.0),
    (900e-9, 200e-12, 0.7, 0.35, 220.0, 470e-12, 110.0, 0.0, 0.0),
    (400e-9, 300e-12, 0.6, 0.5, 100.0, 10e-9, 90.0, 0.0, 0.0),
    (250e-9, 300e-12, 0.7, 0.4, 33.0, 1e-9, 65.0, 20e-9, 1.0),
    (400e-9, 300e-12, 0.7, 0.5, 60.0, 2.2e-9, 90.0, 30e-9, 2.0),
    (120e-9, 500e-12, 0.7, 0.33, 15.0, 2.2e-9, 40.0, 10e-9, 3.0),
]


def _ngspice_crest(ring: tuple[float, ...]) -> tuple[float, float]:
    """Crest over flat part, and the reverse current as the rectifier starts to block [A]."""
    leakage, zero, built_in, grading, resistance, capacitance, step, transit, carried = ring
    low, high = junction_equivalent(zero, 0.0, step)
    start = leakage * 2.0 * carried / step + 3.0 * transit
    stop = start + 2.0 * math.pi * 1.4 * math.sqrt(leakage * (capacitance + high))
    circuit = (
        f"Vs s 0 {step}\nL1 s n {leakage} IC={-carried}\nD1 0 n DJ\nR1 n c {resistance}\nC1 c 0 {capacitance} IC=0\n"
        f".model DJ D(IS=1e-12 N=1 RS=1m CJO={zero} VJ={built_in} M={grading} TT={transit})\n"
    )
    fine = 2.0 * math.pi * math.sqrt(leakage * low) / 400.0
    _, v, i = ngspice(circuit, "v(n) i(Vs)", fine, stop)
    blocked = next(k for k, volts in enumerate(v) if volts > 0.0)
    return max(v) / step, max(0.0, -i[blocked])


@pytest.mark.parametrize("ring", RINGS, ids=lambda one: f"{one[4]:g} ohm {one[5] * 1e9:g} nF {one[7] * 1e9:g} ns")
def test_ngspice_lies_inside(ring: tuple[float, ...]) -> None:
    """At or below the high end; and above 0.7 of the constant capacitance's excess, so that it is no empty bound."""
    need_ngspice()
    leakage, zero, _, _, resistance, capacitance, step, transit, _ = ring
    crest, recovery = _ngspice_crest(ring)
    assert (recovery > 0.2) == (transit > 0.0)
    found = [
        ringing_crest(leakage, junction, resistance, capacitance, step, recovery)
        for junction in junction_equivalent(zero, 0.0, step)
    ]
    high, least = max(one.high for one in found), min(one.linear for one in found)
    assert 1.0 + 0.7 * (least - 1.0) <= crest <= high, (crest, found)
    assert high <= 1.0 + 2.2 * (crest - 1.0) + 0.1  # what the band costs: at most 2.2 times the excess that is there


def test_stored_charge_may_not_be_left_out() -> None:
    """A diode that stores charge rings beyond the high end of one that stores none."""
    need_ngspice()
    ring = (250e-9, 300e-12, 0.7, 0.4, 33.0, 1e-9, 30.0, 20e-9, 2.0)
    crest, recovery = _ngspice_crest(ring)
    found = [
        (ringing_crest(250e-9, one, 33.0, 1e-9, 30.0).high, ringing_crest(250e-9, one, 33.0, 1e-9, 30.0, recovery).high)
        for one in junction_equivalent(300e-12, 0.0, 30.0)
    ]
    assert max(without for without, _ in found) < crest <= max(with_it for _, with_it in found)


def _fixed_step(leakage: float, zero: float, built_in: float, grading: float, resistance: float, capacitance: float,
                step: float, recovery: float) -> float:  # fmt: skip
    """Crest over flat part of the same circuit with the junction's own law, fourth-order Runge-Kutta."""

    def junction(v: float) -> float:
        return zero / (1.0 + v / built_in) ** grading if v > 0.0 else zero * (1.0 - grading * v / built_in)

    def slopes(i: float, v: float, u: float) -> tuple[float, float, float]:
        through = (v - u) / resistance
        return (step - v) / leakage, (i - through) / junction(v), through / capacitance

    least = junction(3.0 * step)
    h = min(math.sqrt(leakage * least) / 12.0, resistance * capacitance / 4.0, resistance * least / 2.0)
    i, v, u, crest = recovery, 0.0, 0.0, 0.0
    end = 2.0 * math.pi * 1.1 * math.sqrt(leakage * (capacitance + 2.0 * junction(step)))
    for _ in range(int(end / h)):
        a = slopes(i, v, u)
        b = slopes(i + h / 2 * a[0], v + h / 2 * a[1], u + h / 2 * a[2])
        c = slopes(i + h / 2 * b[0], v + h / 2 * b[1], u + h / 2 * b[2])
        d = slopes(i + h * c[0], v + h * c[1], u + h * c[2])
        i, v, u = (
            x + h / 6 * (p + 2 * q + 2 * r + s) for x, p, q, r, s in zip((i, v, u), a, b, c, d, strict=True)
        )  # fmt: skip
        crest = max(crest, v)
    return crest / step


def test_random_rings_lie_inside_the_band() -> None:
    source, tried = random.Random(20), 0
    while tried < 60:
        step, grading, built_in = source.uniform(15, 120), source.choice([0.33, 0.4, 0.5]), source.uniform(0.35, 0.8)
        leakage = math.exp(source.uniform(math.log(20e-9), math.log(3e-6)))
        zero = math.exp(source.uniform(math.log(100e-12), math.log(2e-9)))
        low, high = junction_equivalent(zero, 0.0, step)
        resistance = math.exp(source.uniform(math.log(0.1), math.log(8.0))) * math.sqrt(leakage / high)
        capacitance = high * math.exp(source.uniform(0.0, math.log(20.0)))
        recovery = source.choice([0.0, source.uniform(0.0, 2.0)]) * step / math.sqrt(leakage / high)
        if resistance < 0.3 * math.sqrt(leakage / high) and capacitance > 5.0 * high:
            continue  # tens of thousands of steps each
        tried += 1
        crest = _fixed_step(leakage, zero, built_in, grading, resistance, capacitance, step, recovery)
        found = max(
            ringing_crest(leakage, junction, resistance, capacitance, step, recovery).high for junction in (low, high)
        )  # fmt: skip
        assert crest <= found, (crest, found, leakage, zero, resistance, capacitance, step, recovery)


WAVE = (1e-7 / 1e-10) ** 0.5  # of the ring that the limits below are looked at with [ohm]


def test_limits_of_the_text_books() -> None:
    """No damping: twice the step, by a resistor that is a short or none at all."""
    assert ringing_crest(1e-7, 1e-10, 0.02 * WAVE, 1e-10, 60.0).linear == pytest.approx(2.0, abs=0.02)
    assert ringing_crest(1e-7, 1e-10, 50.0 * WAVE, 3e-10, 60.0).linear == pytest.approx(2.0, abs=0.04)


@pytest.mark.parametrize("damping", [0.2, 0.3, 0.4, 0.5])
def test_overshoot_of_the_second_order(damping: float) -> None:
    """A snubber capacitor that is a short for the ring leaves R beside L and C: 1 + exp(-π z / √(1 − z²)).

    Sixty times the junction's it is nearly that; it still charges a little, which adds up to 0.016.
    """
    overshoot = math.exp(-math.pi * damping / (1.0 - damping**2) ** 0.5)
    found = ringing_crest(1e-7, 1e-10, WAVE / (2.0 * damping), 60.0 * 1e-10, 60.0).linear
    assert 1.0 + overshoot < found < 1.0 + overshoot + 0.017
    smaller = ringing_crest(1e-7, 1e-10, WAVE / (2.0 * damping), 30.0 * 1e-10, 60.0).linear
    assert smaller - 1.0 - overshoot == pytest.approx(2.0 * (found - 1.0 - overshoot), rel=0.05)  # falls as 1 / Cs


def test_without_a_snubber_nothing_is_promised() -> None:
    """Undamped rows 1.2 to 2.6 times and AN-4137's 23 V for 20 V lie in what is said."""
    rows = json.loads((DATA / "ngspice_flyback.json").read_text(encoding="utf-8"))["rows"]
    for row in rows:
        said = reverse_voltage(row["vout_V"], row["bulk_V"], row["turns_ratio"])
        assert 0.95 * said.floor <= row["result"]["rectifier_reverse_V"] <= said.high
        # a snubber of hardly any effect, its resistor fifty times the ring's: no better than none
        weak = ringing_crest(1e-7, 1e-10, 50.0 * WAVE, 1e-10, said.floor)
        assert row["result"]["rectifier_reverse_V"] <= weak.high * said.floor
        assert 2.6 < weak.high <= 3.1
    measured = reverse_voltage(3.3, 375.0, 22.37)
    assert measured.floor < 23.0 < measured.high


RANGES = {
    "leakage": (2e-8, 2e-6), "junction": (5e-11, 4e-10), "resistance": (5.0, 300.0), "capacitance": (5e-10, 3e-9),
    "recovery": (0.0, 1.0), "step": (30.0, 120.0),
}  # fmt: skip


def test_signs() -> None:
    prove_signs(lambda **x: ringing_crest(**x).high, RANGES, RING_SIGNS["crest"], designs=60, seed=3)
    without = {name: ends for name, ends in RANGES.items() if name not in ("recovery", "step")}
    # a Schottky diode's own: no reverse current, so a larger junction rings higher and the step plays no part
    signs = {"leakage": 0, "junction": 1, "resistance": 0, "capacitance": -1}
    prove_signs(lambda **x: ringing_crest(step=60.0, **x).high, without, signs, designs=60, seed=4)
    prove_signs(
        lambda given, step: junction_equivalent(given, 4.0, step)[1],
        {"given": (1e-11, 1e-9), "step": (10.0, 200.0)}, RING_SIGNS["junction_equivalent"], designs=40,
    )  # fmt: skip


def test_the_greatest_crest_of_a_range_lies_at_its_ends() -> None:
    """Leakage and resistance have no single sign, but one minimum: nothing inside a range exceeds its corners."""
    source = random.Random(6)
    for _ in range(80):
        box = {}
        for name in ("leakage", "junction", "resistance"):
            low = math.exp(source.uniform(*(math.log(end) for end in RANGES[name])))
            box[name] = (low, low * source.uniform(1.05, 3.0))
        recovery = source.choice([0.0, source.uniform(0.0, 1.0)])

        def high(leakage: float, junction: float, resistance: float, recovery: float = recovery) -> float:
            return ringing_crest(leakage, junction, resistance, 2.5e-9, 60.0, recovery).high

        corners = max(
            high(one, two, three) for one in box["leakage"] for two in box["junction"] for three in box["resistance"]
        )  # fmt: skip
        for _ in range(6):
            inside = high(*(source.uniform(*ends) for ends in box.values()))
            assert inside <= 1.0005 * corners


@pytest.mark.parametrize(
    "wrong",
    [{"leakage": 0.0}, {"junction": math.inf}, {"resistance": 0.0}, {"capacitance": 5e-11},
     {"step": 0.0}, {"recovery": -1.0}, {"recovery": 50.0}, {"resistance": 5e4}],
    ids=str,
)  # fmt: skip
def test_out_of_range_is_refused(wrong: dict[str, float]) -> None:
    good = {"leakage": 1e-7, "junction": 1e-10, "resistance": 40.0, "capacitance": 1e-9, "step": 60.0}
    assert ringing_crest(**good).high > 1.0
    # a snubber larger than was looked at is taken as the largest that was: more of it never rings higher
    limit = ringing_crest(**(good | {"capacitance": RATIO[1] * 1e-10}))
    assert ringing_crest(**(good | {"capacitance": 1e-6})).high == pytest.approx(limit.high, rel=1e-12)
    with pytest.raises(ValueError, match="state"):
        ringing_crest(**(good | wrong))
    with pytest.raises(ValueError, match="state"):
        junction_equivalent(0.0, 4.0, 60.0)
