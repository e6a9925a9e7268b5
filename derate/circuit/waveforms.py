"""Voltages and currents over time, for drawing: what the solvers of this folder only give extremes and sums of.

Contents: `Wave`, `switch_on_wave`, `filter_switch_on_wave`, `rectified_wave`, `filtered_wave`, `doubled_wave`.

Nothing is judged by these points. Where a solver gives the extreme of the same circuit, the points agree with it
(tests/study/test_waveforms.py), so that a picture cannot tell another story than the figures beside it.

Source: own derivation from Kirchhoff's laws, as in the modules named at each function.
"""

from __future__ import annotations

import cmath
from collections.abc import Sequence
from math import asin, cos, exp, inf, pi, sqrt
from typing import NamedTuple

from derate.circuit.choke_filter import network
from derate.circuit.filter_sweep import Filter, State, sweep
from derate.circuit.numerics import charging_terms, integral, until_zero
from derate.circuit.rectifier import STOP, doubler_steady_state, steady_state


class Wave(NamedTuple):
    """Points over time [s]: line current [A] and voltage of each bulk capacitor [V], all of the same length."""

    times: tuple[float, ...]
    line: tuple[float, ...]
    bulk: tuple[tuple[float, ...], ...]

    @property
    def peak(self) -> float:
        """Greatest line current among the points [A]."""
        return max(self.line)


def switch_on_wave(
    mains: float,
    frequency: float,
    series_resistance: float,
    capacitance: float,
    *,
    angle: float,
    span: float,
    drop: float = 0.0,
    inductance: float = 0.0,
    half_wave: bool = False,
    points: int = 240,
) -> Wave:
    """Charging one bulk capacitor from empty, for `span` seconds after closing; inputs and ranges as inrush.switch_on.

    Each interval of conduction is the closed form of exponentials.py, read at evenly spaced times and at its peak.
    """
    crest, omega = sqrt(2.0) * mains, 2.0 * pi * frequency
    period = 2.0 * pi if half_wave else pi
    step = span / points
    rows: list[tuple[float, float, float]] = []
    v, clock, phase = 0.0, 0.0, angle
    while clock < span:
        wait = _until_conduction(phase, (v + drop) / crest, period)
        rows.append((clock, 0.0, v))
        if wait is None or clock + wait / omega >= span:
            rows.append((span, 0.0, v))
            break
        clock, phase = clock + wait / omega, (phase + wait) % period
        terms = charging_terms(crest, omega, phase, series_resistance, inductance, capacitance, drop, v)
        end, _, top = until_zero(terms, omega)
        count = max(8, int(end / step))
        first = min(end, top + 1e-12) / 8.0
        spots = {end * k / count for k in range(count + 1)} | {first * k for k in range(9)} | {top}
        for t in sorted(one for one in spots if clock + one <= span):
            current = sum((c * cmath.exp(s * t)).real for c, s in terms)
            rows.append((clock + t, max(current, 0.0), v + integral(terms, t) / capacitance))
        v += integral(terms, end) / capacitance
        clock, phase = clock + end, phase + omega * end
    times, line, bulk = zip(*rows, strict=True)
    return Wave(times, line, (bulk,))


def _until_conduction(phase: float, level: float, period: float) -> float | None:
    """Phase to wait until the line exceeds `level` of its crest; None: never."""
    if level >= 1.0 - 1e-9:
        return None
    first = asin(level) if level > 0.0 else 0.0
    inside = phase % period
    if inside < first:
        return first - inside
    return 0.0 if inside < pi - first - 1e-6 else first + period - inside


def filter_switch_on_wave(
    mains: float,
    frequency: float,
    series_resistance: float,
    bulk1: float,
    inductance: float,
    choke_resistance: float,
    bulk2: float,
    *,
    angle: float,
    span: float,
    saturation: float = inf,
    residual: float = 0.1,
    points: int = 400,
) -> Wave:
    """Charging two bulk capacitors with a choke between; inputs and ranges as choke_filter.filter_switch_on.

    Exact steps of filter_sweep.py from point to point; the first twentieth of the span has half of the points.
    """
    net = network(mains, frequency, series_resistance, bulk1, inductance, choke_resistance, bulk2, 0.0)
    filt = Filter(net, saturation, residual)
    half = points // 2
    ends = [span / 20.0 * k / half for k in range(half)] + [span * (1 + 19 * k / half) / 20 for k in range(half + 1)]
    return _walked(filt, (0.0, 0.0, 0.0), angle - pi / 2.0, ends, 0.0)


def filtered_wave(
    mains: float,
    frequency: float,
    series_resistance: float,
    bulk1: float,
    inductance: float,
    choke_resistance: float,
    bulk2: float,
    load: float,
    *,
    drop: float = 0.0,
    points: int = 320,
) -> Wave | None:
    """One cycle of the line in steady state, two bulk capacitors with a choke between; None when it collapses.

    Inputs and ranges as choke_filter_steady.filter_steady_state. Twelve half cycles are walked before the first point:
    what is left of the beginning is then below what a picture shows.
    """
    net = network(mains, frequency, series_resistance, bulk1, inductance, choke_resistance, bulk2, drop)
    filt, half = Filter(net), pi / net.omega
    v = net.crest - drop
    state: State | None = (v, load / v * bulk1 / (bulk1 + bulk2), v)
    for _ in range(12):
        state = sweep(filt, state, -pi / 2.0, half, load, None, STOP * net.crest) if state is not None else None
    if state is None:
        return None
    try:
        return _walked(filt, state, -pi / 2.0, [2.0 * half * k / points for k in range(points + 1)], load)
    except _Collapsed:
        return None


class _Collapsed(Exception):
    """The load cannot be carried."""


def _walked(filt: Filter, state: State, phase: float, ends: Sequence[float], load: float) -> Wave:
    net = filt.net
    rows: list[tuple[float, float, float, float]] = []
    now = 0.0
    for end in ends:
        if end > now:
            stop = STOP * net.crest if load else 0.0
            found = sweep(filt, state, phase + net.omega * now, end - now, load, None, stop)
            if found is None:
                raise _Collapsed
            state, now = found, end
        level = net.crest * abs(cos(phase + net.omega * now)) - net.drop - state[0]
        rows.append((now, max(level, 0.0) / net.resistance, state[0], state[2]))
    times, line, first, second = zip(*rows, strict=True)
    return Wave(times, line, (first, second))


def rectified_wave(
    mains: float,
    frequency: float,
    series_resistance: float,
    capacitance: float,
    load: float,
    *,
    drop: float = 0.0,
    half_wave: bool = False,
    points: int = 320,
) -> Wave | None:
    """One cycle of the line in steady state, one bulk capacitor, constant-power load; None when it collapses.

    Inputs and ranges as rectifier.steady_state. While conducting, R C dv/dt = line - drop - v - R P/v with the right
    side a straight line over each short step (exact exponential); blocked, v² falls in a straight line. Eight cycles
    are walked before the first point.
    """
    state = steady_state(mains, frequency, series_resistance, capacitance, load, drop, half_wave=half_wave)
    if state is None:
        return None
    fine = 8
    crest, omega = sqrt(2.0) * mains, 2.0 * pi * frequency
    h = 2.0 * pi / omega / (points * fine)
    tau = series_resistance * capacitance
    decay = exp(-h / tau)
    v = state.bulk_max
    rows: list[tuple[float, float, float]] = []

    def source(k: int) -> float:
        wave = crest * cos(2.0 * pi * (k / (points * fine)) - pi / 2.0)
        return (max(wave, 0.0) if half_wave else abs(wave)) - drop

    for k in range(-8 * points * fine, points * fine + 1):
        now, then = source(k), source(k + 1)
        if k >= 0 and k % fine == 0:
            rows.append((k * h, max(now - v, 0.0) / series_resistance, v))
        if max(now, then) > v:
            v = _charged(v, now, then, series_resistance * load / v, tau * (then - now) / h, decay)
        else:
            square = v * v - 2.0 * load * h / capacitance
            if square <= 0.0:
                return None
            v = sqrt(square)
    times, line, bulk = zip(*rows, strict=True)
    return Wave(times, line, (bulk,))


def _charged(v: float, now: float, then: float, sag: float, lag: float, decay: float) -> float:
    """Capacitor voltage after one step of R C dv/dt = source - sag - v, the source a straight line from now to then."""
    return then - sag - lag + (v - now + sag + lag) * decay


def doubled_wave(
    mains: float,
    frequency: float,
    series_resistance: float,
    capacitance: float,
    load: float,
    *,
    drop: float = 0.0,
    points: int = 320,
) -> Wave | None:
    """One cycle of the line in steady state of a doubler; bulk: both in series, the first, the second. None: collapse.

    Inputs and ranges as doubler.doubler_steady_state; the line current without its sign. Steps as in `rectified_wave`,
    for the capacitor whose half cycle it is; the other one is discharged by the load. Eight cycles are walked first.
    """
    state = doubler_steady_state(mains, frequency, series_resistance, capacitance, load, drop)
    if state is None:
        return None
    fine = 8
    crest, omega = sqrt(2.0) * mains, 2.0 * pi * frequency
    h = 2.0 * pi / omega / (points * fine)
    tau = series_resistance * capacitance
    decay = exp(-h / tau)
    both = [state.capacitor_max, state.capacitor_max]
    rows: list[tuple[float, float, float, float, float]] = []

    def source(k: int) -> float:
        return crest * cos(2.0 * pi * (k / (points * fine)) - pi / 2.0)

    for k in range(-8 * points * fine, points * fine + 1):
        now, then = source(k), source(k + 1)
        own = 0 if now + then > 0.0 else 1  # which of the two this half cycle charges
        now, then = abs(now) - drop, abs(then) - drop
        v, total = both[own], both[0] + both[1]
        if k >= 0 and k % fine == 0:
            rows.append((k * h, max(now - v, 0.0) / series_resistance, total, both[0], both[1]))
        if total < 2.0 * STOP * crest:
            return None
        fall = load / total * h / capacitance
        both = [both[0] - fall, both[1] - fall]
        if max(now, then) > v:
            both[own] = _charged(v, now, then, series_resistance * load / total, tau * (then - now) / h, decay)
    times, line, bulk, first, second = zip(*rows, strict=True)
    return Wave(times, line, (bulk, first, second))
