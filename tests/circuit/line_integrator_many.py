"""The fixed-step integrator of the mains input on arrays: many supplies, or many points of one, at once.

The same equations and steps as `line_integrator.walk`, whose figures it has to give (tests/circuit/
test_line_integrator.py), and the doubler beside them. The rectifier is ideal with a fixed drop; nothing is shared with
the solvers.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

Array = np.ndarray[Any, np.dtype[np.float64]]


class Many(NamedTuple):
    """Amperes and volts over the counted cycles, one of each point; second: of the second capacitor, if there is one.

    of a doubler bulk is both in series, and capacitor the first of them alone
    settled: whether the second half of the counted cycles gave what the first did, within a ten thousandth
    """

    line_rms: Array
    line_peak: Array
    capacitor_rms: Array
    mean: Array
    bulk_max: Array
    bulk_min: Array
    capacitor_max: Array
    capacitor_min: Array
    second_rms: Array
    second_max: Array
    second_min: Array
    choke_rms: Array
    choke_peak: Array
    carried: Array
    settled: Array


# A thousandth was too much: little load behind much inductance drifts on by so much for hundreds of cycles, by 2 %.
_SETTLED = 1e-4


def walk_many(
    kind: str,
    mains: Array,
    frequency: Array,
    resistance: Array,
    inductance: Array,
    first: Array,
    load: Array,
    drop: float,
    *,
    choke: tuple[Array, Array, Array] | None = None,
    steps: int = 4000,
    cycles: int = 60,
    counted: int = 12,
) -> Many:
    """Half cycles (whole ones for a half wave or a doubler) from full capacitors on, the last of them counted.

    kind: 'bridge', 'half-wave', 'doubler', or 'choke' with choke: inductance [H], its resistance [ohm], second
    capacitor [F], at which the load then is; first: of a doubler each of the two
    """
    if kind == "doubler":
        return _doubled(mains, frequency, resistance, inductance, first, load, drop, steps, cycles, counted)
    crest, period = np.sqrt(2.0) * mains, (1.0 if kind == "half-wave" else 0.5) / frequency
    h = period / steps
    stiff, a, b, over = _coefficients(h, resistance, inductance, first)
    v1 = crest - drop
    v2 = v1.copy()
    zero = np.zeros_like(mains)
    j, i = zero.copy(), zero.copy()
    carried = np.ones_like(mains, dtype=bool)
    sums: list[Array] = []
    halves: list[Array] = []
    peak, choke_peak, high1, high2 = zero.copy(), zero.copy(), zero.copy(), zero.copy()
    low1, low2 = crest * 9.0, crest * 9.0
    wave = np.sin(2.0 * np.pi * (1.0 if kind == "half-wave" else 0.5) * np.arange(steps + 1) / steps + 0.5 * np.pi)
    if kind != "half-wave":
        wave = np.abs(wave)
    floor = 0.2 * crest
    if choke is not None:
        lc, rc, second = choke
        p, q = h / (2.0 * lc), h / (2.0 * second)
        inner = 1.0 / (1.0 + p * (rc + q))
    with np.errstate(all="ignore"):
        for cycle in range(cycles):
            counting = cycle >= cycles - counted
            if cycle in (cycles - counted, cycles - counted // 2):
                if sums:
                    halves.append(sums[0])
                s_line, s_first, s_second, s_choke, s_mean = (zero.copy() for _ in range(5))
                if not sums:
                    sums = [s_line, s_first, s_second, s_choke, s_mean]
                    total = [zero.copy() for _ in range(5)]
                sums = [s_line, s_first, s_second, s_choke, s_mean]
            for n in range(steps):
                out = v2 if choke is not None else v1
                drawn = load / out
                if choke is not None:
                    draws = load / (out + h * (i - drawn) / second)
                    v1_guess = v1 + h * (j - i) / first
                    v2_part = v2 + q * (i - drawn - draws)
                    i_new = (i + p * (v1 + v1_guess - v2 - v2_part - rc * i)) * inner
                    taken = i + i_new
                else:
                    draws = load / (out + h * (j - drawn) / first)
                    taken = drawn + draws
                line0, line1 = wave[n] * crest, wave[n + 1] * crest
                there, j_new = _line(stiff, a, b, over, resistance, drop, line0, line1, v1, j, taken)
                v1_new = there + b * j_new
                if choke is not None:
                    i_new = (i + p * (v1 + v1_new - v2 - v2_part - rc * i)) * inner
                    v1_new = v1_new + b * (taken - i - i_new)
                    v2_new = v2_part + q * i_new
                else:
                    v2_new = v1_new
                low = np.minimum(v1_new, v2_new)
                if n % 16 == 0:
                    carried &= low > floor
                    if not carried.all():  # what has collapsed stands still at its crest from here on
                        v1_new, v2_new = np.where(carried, v1_new, crest), np.where(carried, v2_new, crest)
                        j_new = np.where(carried, j_new, 0.0)
                if counting:
                    half = 0.5 * h
                    c0, c1 = (j - i, j_new - i_new) if choke is not None else (j - drawn, j_new - draws)
                    sums[0] += half * (j * j + j_new * j_new)
                    sums[1] += half * (c0 * c0 + c1 * c1)
                    sums[4] += half * (j + j_new)
                    np.maximum(peak, j_new, out=peak)
                    np.maximum(high1, v1_new, out=high1)
                    np.minimum(low1, v1_new, out=low1)
                    if choke is not None:
                        s0, s1 = i - drawn, i_new - draws
                        sums[2] += half * (s0 * s0 + s1 * s1)
                        sums[3] += half * (i * i + i_new * i_new)
                        np.maximum(choke_peak, np.abs(i_new), out=choke_peak)
                        np.maximum(high2, v2_new, out=high2)
                        np.minimum(low2, v2_new, out=low2)
                j, v1, v2 = j_new, v1_new, v2_new
                if choke is not None:
                    i = i_new
            if counting and cycle in (cycles - counted // 2 - 1, cycles - 1):
                total = [x + y for x, y in zip(total, sums, strict=True)]
                halves.append(sums[0].copy())
    span = counted * period
    rms = [np.sqrt(one / span) for one in total[:4]]
    settled = np.abs(halves[-1] / halves[-2] - 1.0) < _SETTLED
    if choke is None:
        return Many(
            rms[0], peak, rms[1], total[4] / span, high1, low1, high1, low1, zero, zero, zero, zero, zero, carried,
            settled,
        )
    return Many(
        rms[0], peak, rms[1], total[4] / span, high1, low1, high1, low1, rms[2], high2, low2, rms[3], choke_peak,
        carried, settled,
    )


def _coefficients(
    h: Array, resistance: Array, inductance: Array, capacitance: Array
) -> tuple[Array | None, Array, Array, Array]:
    """Of a step of the line; stiff: where there is no inductance at all, which the trapezoid would make ring."""
    none = inductance <= 0.0
    a, b = h / (2.0 * np.where(none, 1.0, inductance)), h / (2.0 * capacitance)
    b = np.where(none, 2.0 * b, b)  # backwards: the end of the step counts whole
    over = np.where(none, 1.0 / (resistance + b), 1.0 / (1.0 + a * (resistance + b)))
    return (none if none.any() else None), a, b, over


def _line(
    stiff: Array | None, a: Array, b: Array, over: Array, resistance: Array, drop: float, line0: Array, line1: Array,
    v: Array, j: Array, taken: Array,
) -> tuple[Array, Array]:
    """Voltage without what the line brings, and the line's current at the end of the step."""
    there = v - b * taken + b * j
    new = (j + a * (line0 + line1 - 2.0 * drop - resistance * j - v - there)) * over
    starts = line1 - drop > there - b * j
    if stiff is not None:
        back = v - 0.5 * b * taken
        there = np.where(stiff, back, there)
        new = np.where(stiff, (line1 - drop - back) * over, new)
        starts |= stiff
    return there, np.where((j > 0.0) | starts, np.maximum(new, 0.0), 0.0)


def _doubled(
    mains: Array, frequency: Array, resistance: Array, inductance: Array, each: Array, load: Array, drop: float,
    steps: int, cycles: int, counted: int,
) -> Many:
    """Two capacitors in series, each charged through its own diode; the current may be the one's or the other's."""
    crest, period = np.sqrt(2.0) * mains, 1.0 / frequency
    h = period / steps
    stiff, a, b, over = _coefficients(h, resistance, inductance, each)
    va, vb = crest - drop, crest - drop
    zero = np.zeros_like(mains)
    j = zero.copy()
    carried = np.ones_like(mains, dtype=bool)
    square, ripple, charge, before = zero.copy(), zero.copy(), zero.copy(), zero.copy()
    peak, high, high_a = zero.copy(), zero.copy(), zero.copy()
    low, low_a = 9.0 * crest, 9.0 * crest
    wave = np.sin(2.0 * np.pi * np.arange(steps + 1) / steps + 0.5 * np.pi)
    with np.errstate(all="ignore"):
        for cycle in range(cycles):
            counting = cycle >= cycles - counted
            if cycle == cycles - counted // 2:
                before = square.copy()
            for n in range(steps):
                line0, line1 = wave[n] * crest, wave[n + 1] * crest
                drawn = load / (va + vb)
                draws = load / (va + vb + h * (np.abs(j) - 2.0 * drawn) / each)
                taken = drawn + draws
                up = (j > 0.0) | ((j == 0.0) & (line1 > 0.0))
                sign = np.where(up, 1.0, -1.0)
                v = np.where(up, va, vb)  # the capacitor that is charged, the line and the current turned to it
                x = sign * j
                there, new = _line(stiff, a, b, over, resistance, drop, sign * line0, sign * line1, v, x, taken)
                v_new, other = there + b * new, np.where(up, vb, va) - h / (2.0 * each) * taken
                va_new, vb_new = np.where(up, v_new, other), np.where(up, other, v_new)
                j_new = sign * new
                if n % 16 == 0:
                    carried &= (va_new + vb_new > 0.4 * crest) & (np.minimum(va_new, vb_new) > 0.02 * crest)
                    if not carried.all():
                        va_new, vb_new = np.where(carried, va_new, crest), np.where(carried, vb_new, crest)
                        j_new = np.where(carried, j_new, 0.0)
                if counting:
                    half = 0.5 * h
                    square += half * (j * j + j_new * j_new)
                    charge += half * (np.abs(j) + np.abs(j_new))
                    c0, c1 = np.maximum(j, 0.0) - drawn, np.maximum(j_new, 0.0) - draws
                    ripple += half * (c0 * c0 + c1 * c1)
                    np.maximum(peak, np.abs(j_new), out=peak)
                    np.maximum(high, va_new + vb_new, out=high)
                    np.minimum(low, va_new + vb_new, out=low)
                    np.maximum(high_a, va_new, out=high_a)
                    np.minimum(low_a, va_new, out=low_a)
                j, va, vb = j_new, va_new, vb_new
    span = counted * period
    settled = np.abs((square - before) / before - 1.0) < _SETTLED
    return Many(
        np.sqrt(square / span), peak, np.sqrt(ripple / span), charge / span, high, low, high_a, low_a, zero, zero, zero,
        zero, zero, carried, settled,
    )


class Closed(NamedTuple):
    """A switch-on: greatest current [A], I²t [A²s] and bulk voltage [V] of each closing angle."""

    peak: Array
    i2t: Array
    bulk: Array


def close_many(
    half_wave: bool, mains: Array, frequency: Array, resistance: Array, inductance: Array, capacitance: Array,
    drop: float, angle: Array, *, steps: int = 1500, halves: int = 14,
) -> Closed:
    """From closing at a phase of the line, the bulk empty and nothing drawn, over a few half cycles.

    The first of the coarse steps are walked five hundred times as finely: without inductance a small capacitor is full
    within a microsecond.
    """
    crest, half = np.sqrt(2.0) * mains, 0.5 / frequency
    v, j, zero = np.zeros_like(mains), np.zeros_like(mains), np.zeros_like(mains)
    none = inductance <= 0.0
    start = crest * np.sin(angle) - drop
    peak, square, high = np.where(none, start / resistance, 0.0), zero.copy(), zero.copy()
    j = peak.copy()
    turn = 0.0
    for share, count in ((1.0 / 500.0, 1500), (1.0 / 20.0, 400), (1.0, steps * halves)):
        h = half / steps * share
        stiff, a, b, over = _coefficients(h, resistance, inductance, capacitance)
        wave = np.sin(angle[:, None] + turn + np.pi * share / steps * np.arange(count + 1)[None, :]) * crest[:, None]
        wave = np.ascontiguousarray((wave if half_wave else np.abs(wave)).T)
        for n in range(count):
            there, new = _line(stiff, a, b, over, resistance, drop, wave[n], wave[n + 1], v, j, zero)
            square += 0.5 * h * (j * j + new * new)
            v, j = there + b * new, new
            np.maximum(peak, j, out=peak)
            np.maximum(high, v, out=high)
        turn += np.pi * share / steps * count
    return Closed(peak, square, high)
