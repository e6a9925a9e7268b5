"""Cold and worn capacitors: a general linear solver and ngspice at their values, balances, bounds, signs."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from converter_trials import draw, prove_signs
from mains_bench import need_ngspice, ngspice, random_supply

from derate.circuit import capacitor_ageing as cold_aged
from derate.circuit import rectifier
from derate.circuit import rectifier as doubler
from derate.circuit.capacitor_ageing import (
    SIGNS,
    between_temperatures,
    cold_resistance_allowed,
    grown,
    least_share,
    resistance_of,
    terminal,
)
from derate.circuit.choke_filter import filter_steady_state
from derate.circuit.output_stage import post_filter, single_capacitor
from derate.circuit.rectifier import steady_state
from derate.stress.mains.bulk_states import LUMPED

# One output stage warm and new, at -25 degC (resistance six times, capacitance 0.8) and at the end of its life
# (resistance twice, capacitance 0.8): the pulse of a 12 V, 1.5 A flyback at its lowest mains.
PULSE = {"start": 7.8, "end": 0.9, "duty": 0.345, "frequency": 65e3}
FIRST = {"warm": (680e-6, 0.041), "cold": (544e-6, 0.246), "worn": (544e-6, 0.082)}
SECOND = {"warm": (220e-6, 0.12), "cold": (176e-6, 0.72), "worn": (176e-6, 0.24)}
INDUCTANCE = 4.7e-6


def whole_state(c1: float, r1: float, second: tuple[float, float, float] | None, steps: int = 4000) -> float:
    """Ripple at the output of the whole network by numpy: state matrix, eigenvectors, periodic state by least squares.

    States v1 (and i, v2); nothing is reduced or shared with `derate.circuit.output_stage`.
    """
    load = 0.5 * (PULSE["start"] + PULSE["end"]) * PULSE["duty"]
    period = 1.0 / PULSE["frequency"]
    if second is None:
        size, a = 1, np.zeros((1, 1))
    else:
        ind, c2, r2 = second
        size = 3
        a = np.array([[0, -1 / c1, 0], [1 / ind, -(r1 + r2) / ind, -1 / ind], [0, 1 / c2, 0]])
    h = period / steps
    # one small step: x' = A x + b(t), b straight between the ends of a step; the matrix is raised by its series
    big = np.eye(size)
    term = np.eye(size)
    first = np.zeros((size, size))
    for k in range(1, 12):
        first += term * h / k
        term = term @ a * h / k
        big += term

    def drive(t: float) -> tuple[np.ndarray, float]:
        width = PULSE["duty"] * period
        on = t % period < width
        at = t % period
        s = PULSE["start"] + (PULSE["end"] - PULSE["start"]) * at / width if on else 0.0
        if second is None:
            return np.array([(s - load) / c1]), s
        return np.array([s / c1, (r1 * s + second[2] * load) / second[0], -load / second[1]]), s

    middles = [drive((k + 0.5) * h)[0] for k in range(steps)]

    def march(x: np.ndarray) -> list[np.ndarray]:
        found = [x]
        for b in middles:
            x = big @ x + first @ b
            found.append(x)
        return found

    base = march(np.zeros(size))[-1]
    power = np.linalg.matrix_power(big, steps)
    start = np.linalg.lstsq(np.eye(size) - power, base, rcond=1e-9)[0]
    levels = []
    for k, x in enumerate(march(start)):
        for t in (k * h - 1e-12 * period, k * h + 1e-12 * period):  # both sides of the edge of the pulse
            if 0.0 <= t < period:
                s = drive(t)[1]
                levels.append(x[0] + r1 * (s - load) if second is None else x[2] + second[2] * (x[1] - load))
    return float(max(levels) - min(levels))


@pytest.mark.parametrize("state", FIRST)
def test_one_capacitor_against_a_general_solver(state: str) -> None:
    c, r = FIRST[state]
    ours = single_capacitor(**PULSE, capacitance=c, resistance=r)
    assert ours.ripple == pytest.approx(whole_state(c, r, None), rel=0.005)


@pytest.mark.parametrize("state", FIRST)
def test_post_filter_against_a_general_solver(state: str) -> None:
    (c1, r1), (c2, r2) = FIRST[state], SECOND[state]
    ours = post_filter(
        **PULSE, capacitance=c1, resistance=r1, inductance=INDUCTANCE, filter_capacitance=c2, filter_resistance=r2
    )
    assert ours.filter_ripple == pytest.approx(whole_state(c1, r1, (INDUCTANCE, c2, r2)), rel=0.005)


@pytest.mark.parametrize("state", ["cold", "worn"])
@pytest.mark.parametrize("filtered", [False, True])
def test_against_ngspice(state: str, filtered: bool) -> None:
    need_ngspice()
    (c1, r1), (c2, r2) = FIRST[state], SECOND[state]
    load = 0.5 * (PULSE["start"] + PULSE["end"]) * PULSE["duty"]
    period, width = 1.0 / PULSE["frequency"], PULSE["duty"] / PULSE["frequency"]
    edge = period / 20000.0
    points = f"0 0 {edge} {PULSE['start']} {width} {PULSE['end']} {width + edge} 0 {period} 0"
    circuit = f"Vin p 0 PWL({points}) r=0\nGin 0 o1 p 0 1\nC1 o1 c1 {c1} IC=12\nR1 c1 0 {r1}\n"
    if filtered:
        circuit += f"L1 o1 o2 {INDUCTANCE} IC={load}\nC2 o2 c2 {c2} IC=12\nR2 c2 0 {r2}\nIload o2 0 {load}\n"
    else:
        circuit += f"Iload o1 0 {load}\n"
    stop = 60 * period  # every mode has settled after a fifth of that
    _, volts = ngspice(circuit, "v(o2)" if filtered else "v(o1)", period / 1000.0, stop, stop - 2 * period)
    spice = max(volts) - min(volts)
    if filtered:
        ours = post_filter(
            **PULSE, capacitance=c1, resistance=r1, inductance=INDUCTANCE, filter_capacitance=c2, filter_resistance=r2
        ).filter_ripple
    else:
        ours = single_capacitor(**PULSE, capacitance=c1, resistance=r1).ripple
    assert ours == pytest.approx(spice, rel=0.005)


# ---- the bulk capacitor ----------------------------------------------------------------------------------------------


def test_terminal_voltage_and_loss_against_a_stepped_pulse() -> None:
    """The switch's triangle stepped through both resistances: mean on-time voltage and loss, on 60 random stages."""
    source = random.Random(5)
    for _ in range(60):
        load, duty = source.uniform(2.0, 60.0), source.uniform(0.15, 0.9)
        level = source.uniform(80.0, 200.0)
        slow, fast = (source.uniform(0.0, 0.03) * level**2 / load for _ in range(2))
        found = terminal(lambda whole, level=level: level, load, slow, fast, duty)
        assert found is not None
        mean = load / found.bulk_min
        steps = 4000
        lost = drop = 0.0
        for k in range(steps):
            x = (k + 0.5) / steps
            current = 2.0 * mean / duty * (x / duty) if x < duty else 0.0  # of the switch, mean as drawn
            lost += (slow * mean**2 + fast * (current - mean) ** 2) / steps
            drop += (slow * mean + fast * (current - mean)) / steps / duty if x < duty else 0.0
        assert found.bulk_min == pytest.approx(level - drop, rel=1e-3)
        assert found.load == pytest.approx(load + lost, rel=2e-3)


def test_the_rounds_are_as_good_as_sixty() -> None:
    """Plain iteration to the end over real valleys, 200 random stages; the band of `cold_aged.ERROR` is twice this."""
    source, compared = random.Random(15), 0
    for _ in range(400):
        supply = random_supply(source)
        load, duty = supply.pop("load"), source.uniform(0.2, 0.7)
        limit = supply["mains"] ** 2 / load
        slow, fast = source.uniform(0.0, 0.03) * limit, source.uniform(0.0, 0.02) * limit

        def valley(whole: float, supply: dict[str, float] = supply) -> float:
            found = steady_state(**supply, load=whole)
            if found is None:
                raise ValueError("collapsed")
            return found.bulk_min

        drop, heat = slow + fast * (1.0 / duty - 1.0), slow + fast * (4.0 / (3.0 * duty) - 1.0)
        try:
            found = terminal(valley, load, slow, fast, duty)
            whole = load
            for _ in range(60):
                lowest = valley(whole)
                at = 0.5 * (lowest + math.sqrt(lowest**2 - 4.0 * drop * load))
                whole = load + heat * (load / at) ** 2
        except ValueError:
            continue
        if found is None:
            continue
        compared += 1
        assert found.bulk_min == pytest.approx(at, rel=5e-4)
    assert compared > 200


def test_terminal_never_lies_above_the_valley_and_gives_up() -> None:
    assert terminal(lambda load: 100.0 - load, 20.0, 0.0, 0.0, 0.4) == (80.0, 20.0)
    # 80 V across 100 ohm passes 16 W at most, on two fifths of the time
    assert terminal(lambda load: 80.0, 20.0, 40.0, 40.0, 0.4) is None
    with pytest.raises(ValueError, match="duty is 0.01"):
        terminal(lambda load: 80.0, 20.0, 1.0, 1.0, 0.01)


def test_signs() -> None:
    prove_signs(
        lambda value, per_step: grown(value, per_step, -17.0),
        {"value": (0.01, 1.0), "per_step": (0.8, 1.9)}, SIGNS["grown"],
    )  # fmt: skip
    prove_signs(
        lambda dissipation, capacitance: resistance_of(dissipation, capacitance, 100.0),
        {"dissipation": (0.02, 0.3), "capacitance": (1e-6, 1e-3)}, SIGNS["resistance_of"],
    )  # fmt: skip

    def lowest(slow: float, fast: float, duty: float) -> float:
        found = terminal(lambda load: math.sqrt(150.0**2 - 200.0 * load), 30.0, slow, fast, duty)
        if found is None:
            raise ValueError("collapsed")
        return found.bulk_min

    # steps of the sign are 2 %, the rounds stop within a tenth of a per cent of the load: slack inside the band
    for name, (low, high) in {"slow": (0.0, 30.0), "fast": (0.0, 20.0), "duty": (0.2, 0.9)}.items():
        source = random.Random(3)
        for _ in range(200):
            base = {"slow": source.uniform(0, 30), "fast": source.uniform(0, 20), "duty": source.uniform(0.2, 0.9)}
            a, b = sorted(source.uniform(low, high) for _ in range(2))
            try:
                one, other = lowest(**(base | {name: a})), lowest(**(base | {name: b}))
            except ValueError:
                continue
            sign = SIGNS["terminal"][name]
            assert (other - one) * sign >= cold_aged.ERROR["bulk_min"][0] * one


def _valley_inputs(source: random.Random, more: float) -> dict[str, float]:
    supply = random_supply(source)
    supply["drop"] = source.uniform(0.8, 1.9)
    supply["capacitance"] *= source.uniform(0.3, 1.0)  # worn and cold ones lie deep
    supply["capacitance"] *= more
    supply["series_resistance"] = min(supply["series_resistance"], 500.0)
    if more > 2.0:  # a doubler stands on 115 V mains
        supply |= {"mains": source.uniform(85.0, 132.0), "series_resistance": 0.3 * supply["series_resistance"]}
    return supply


@pytest.mark.parametrize("kind", ["bridge", "half-wave", "doubler"])
def test_the_valley_keeps_its_signs_where_it_lies_deep(kind: str) -> None:
    """Below `SIGNS_FROM` of the crest the other outputs lose theirs; the valley alone is asked for here."""
    source = random.Random(11)
    signs = {
        "bridge": rectifier.SIGNS, "half-wave": rectifier.SIGNS_HALF_WAVE, "doubler": doubler.DOUBLER_SIGNS,
    }[kind]["bulk_min"]  # fmt: skip

    def lowest(supply: dict[str, float]) -> float | None:
        if kind == "doubler":
            found = doubler.doubler_steady_state(**supply)
        else:
            found = steady_state(**supply, half_wave=kind == "half-wave")
        return None if found is None else found.bulk_min

    deep = tried = 0
    for _ in range(4000):
        supply = _valley_inputs(source, {"bridge": 1.0, "half-wave": 2.0, "doubler": 2.5}[kind])
        base = lowest(supply)
        crest = 2**0.5 * supply["mains"] * (2.0 if kind == "doubler" else 1.0)
        if base is None or base > (0.7 if kind == "doubler" else 0.55) * crest:
            continue
        deep += 1
        for name, sign in signs.items():
            factor = source.choice([1.01, 1.1, 1.4])
            other = lowest(supply | {name: supply[name] * factor})
            if other is None:
                assert sign <= 0, f"more {name} collapses {supply}"
                continue
            tried += 1
            assert (other - base) * sign >= -2e-3 * base, f"{name} in {supply}"
        if tried >= 600:
            break
    assert deep >= 60 and tried > 60, (deep, tried)


def test_two_capacitors_as_one_lie_within_their_band() -> None:
    """C1 + C2 against the exact steps of the filter, over random chokes; ngspice: within +0.5 % on seven netlists."""
    source = random.Random(21)
    seen = []
    for _ in range(40):
        supply = random_supply(source)
        supply["load"] = min(supply["load"], 25.0)
        supply["capacitance"] = supply["load"] * 2e-6 * source.uniform(0.6, 2.0) * (1 if supply["mains"] < 170 else 0.5)
        share, inductance, own = source.uniform(0.35, 0.65), source.uniform(0.2e-3, 1.5e-3), source.uniform(0.3, 2.0)
        try:
            exact = filter_steady_state(
                supply["mains"], supply["frequency"], supply["series_resistance"], share * supply["capacitance"],
                inductance, own, (1 - share) * supply["capacitance"], supply["load"], drop=1.75,
            )  # fmt: skip
        except ValueError:
            continue
        lumped = steady_state(
            supply["mains"], supply["frequency"], supply["series_resistance"] + own, supply["capacitance"],
            supply["load"], 1.75,
        )  # fmt: skip
        if exact is None or lumped is None:
            continue
        seen.append(exact.bulk2_min / lumped.bulk_min - 1.0)
    assert len(seen) > 20
    assert min(seen) >= LUMPED[0], min(seen)


# ---- bounds from what makers print -----------------------------------------------------------------------------------


def test_an_impedance_ratio_bounds_capacitance_and_resistance() -> None:
    """Random capacitors that just keep their maker's ratio: none has less capacitance or more resistance than said."""
    source = random.Random(7)
    omega = 2.0 * math.pi * 100.0
    for _ in range(300):
        warm, tan = 10 ** source.uniform(-6, -3), source.uniform(0.02, 0.3)
        impedance = math.hypot(1.0 / (omega * warm), tan / (omega * warm))
        ratio = source.uniform(1.0, 10.0)
        angle = source.uniform(0.0, 0.5 * math.pi)  # how the cold impedance divides, in any way at all
        reactance, resistance = ratio * impedance * math.cos(angle), ratio * impedance * math.sin(angle)
        if reactance < 1.0 / (omega * warm):  # more capacitance than warm: none has that
            continue
        assert 1.0 / (omega * reactance) >= least_share(ratio, tan) * warm * (1.0 - 1e-12)
        assert resistance <= cold_resistance_allowed(ratio, tan, warm, 100.0) * (1.0 + 1e-12)
        most = math.sqrt((ratio * impedance) ** 2 - 1.0 / (omega * warm) ** 2)  # one that keeps its capacitance has it
        assert most == pytest.approx(cold_resistance_allowed(ratio, tan, warm, 100.0), rel=1e-9)


def test_between_temperatures() -> None:
    source = random.Random(9)
    for _ in range(100):
        d = draw({"warm": (0.01, 0.2), "cold": (0.2, 3.0), "cold_at": (-55.0, -5.0)}, source)
        levels = [between_temperatures(temperature=t, warm_at=20.0, **d) for t in (-60, d["cold_at"], -2.0, 20.0, 40.0)]
        assert levels == sorted(levels, reverse=True)
        assert levels[0] == levels[1] == d["cold"] and levels[-1] == levels[-2] == d["warm"]
    assert grown(0.04, 1.5, 35.0) == 0.04  # warmer than 20 degC nothing is gained
    # Radial low-impedance series print 0.053 and 0.16 ohm at 20 and -10 degC, 100 kHz (remembered): inside the range
    assert grown(0.053, 1.2, -10.0) < 0.16 < grown(0.053, 1.8, -10.0)
