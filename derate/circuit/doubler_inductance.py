"""Periodic steady state of a voltage doubler with inductance ahead of it; over ranges of that and of capacitance.

Two capacitors in series, a and b, each charged through its own diode in its own half cycle, constant power across the
two together:

    charging a   L di/dt = Vp cos(wt) - Vd - R i - a,    C da/dt = i - I,    C db/dt = -I,    I = P/(a + b)
    blocked      both fall alike, and (a + b)^2 falls in a straight line

What the inductance has stored goes on past the crest, and past the zero crossing where there is much of it. An arc of
conduction is cut into pieces; in each the load's current is taken at the middle, so that the capacitor's voltage is a
sinusoid and two exponentials. Half a cycle later the capacitors have changed places; where no state repeats (pulses of
unequal size) a row of half cycles is walked and counted.

Source: own derivation from Kirchhoff's laws; checked against an integrator of the test's own, which is held to ngspice,
in tests/circuit/test_doubler_inductance.py.
"""

from __future__ import annotations

from functools import lru_cache
from math import cos, exp, pi, sin, sqrt

from derate.circuit.numerics import fixed_point, in_range
from derate.circuit.rectifier import STOP, Doubled, _vertex, doubler_steady_state
from derate.circuit.rectifier_inductance import current_ends, over_ranges

PIECES = 24  # pieces of an arc from its beginning to the crest
_SMALL = 1e-6
_RUN_AWAY = 1e6  # of the crest: no load of that size is carried
_WALKED, _COUNTED = 80, 48
_MOVED, _STEADY = 1e-4, 0.98
_LEAST = 0.02  # of the crest: below it one capacitor counts as empty
Pair = tuple[float, float, float]  # the capacitor to be charged, the other, the current that still charges the other


class _Sums:
    __slots__ = ("a_high", "bulk", "charge", "high", "low", "low_one", "peak", "real", "ripple", "square")

    def __init__(self) -> None:
        self.bulk = self.charge = self.square = self.ripple = self.real = self.peak = self.high = self.a_high = 0.0
        self.low = self.low_one = 9.0


def doubler_with_inductance(
    mains: float,
    frequency: float,
    series_resistance: float,
    inductance: float,
    capacitance: float,
    load: float,
    drop: float = 0.0,
) -> Doubled | None:
    """Steady state of the doubler with inductance between the mains and its diodes.

    inductance: all of it [H], 0 to 0.1; the other arguments, ranges, what is returned and raised as
    `rectifier.doubler_steady_state`

    Source: module docstring.
    """
    in_range("line inductance", inductance, 0.0, 0.1, "H")
    omega = 2.0 * pi * frequency
    rho, lam = omega * series_resistance * capacitance, omega * omega * inductance * capacitance
    if lam < 1e-4 * rho and lam < 0.01 * rho * rho:  # a current that follows within a ten thousandth of a radian
        return doubler_steady_state(mains, frequency, series_resistance, capacitance, load, drop)
    in_range("mains voltage", mains, 10.0, 600.0, "V")
    in_range("line frequency", frequency, 10.0, 1000.0, "Hz")
    in_range("series resistance", series_resistance, 1e-3, 1e3, "ohm")
    in_range("capacitance", capacitance, 1e-8, 0.01, "F")
    in_range("load", load, 1e-6, 1e4, "W")
    crest = sqrt(2.0) * mains
    in_range("diode drop", drop, 0.0, crest / 10.0, "V")
    unit = omega * capacitance * crest
    walk = _Walk(rho, lam, load / (unit * crest), drop / crest)
    sums = _Sums()
    try:
        halves = _settled(walk, sums)
    except OverflowError:  # the bulk runs away within a piece: no load of that size is carried
        halves = None
    if halves is None:
        return None
    span = halves * pi
    rms, mean = sqrt(sums.square / span) * unit, sums.charge / span * unit
    return Doubled(
        bulk_max=sums.high * crest,
        bulk_min=sums.low * crest,
        bulk_mean=sums.bulk / span * crest,
        capacitor_max=sums.a_high * crest,
        capacitor_min=sums.low_one * crest,
        capacitor_rms=sqrt(sums.ripple / (2.0 * span)) * unit,
        line_rms=rms,
        line_peak=sums.peak * unit,
        diode_average=mean / 2.0,
        diode_rms=rms / sqrt(2.0),
        diode_peak=sums.peak * unit,
        diode_reverse=sums.high * crest + drop,
        line_power=sums.real / span * unit * crest,
        resistor_power=series_resistance * rms * rms,
        diode_power=drop * mean,
    )


def _settled(walk: _Walk, sums: _Sums) -> int | None:
    """Sums of the periodic state, and over how many half cycles; None where the load is not carried."""
    full = 1.0 - walk.delta
    start = (full - min(0.4, 2.36 * walk.power), full - min(0.2, 0.79 * walk.power), 0.0)
    halves = 1
    try:
        found = fixed_point(lambda x: walk.over((x[0], x[1], max(x[2], 0.0)), None), start, _SMALL, 0.3, 0)
    except ValueError:
        found = None
    if found is None or not _comes_back(walk, found):
        state: Pair | None = start
        halves = _COUNTED
        for _ in range(_WALKED):
            state = walk.over(state, None) if state is not None else None
        found = state
    if found is None:
        return None
    state = (found[0], found[1], max(found[2], 0.0))
    for _ in range(halves):
        state = walk.over(state, sums) if state is not None else None
    return None if state is None else halves


def _comes_back(walk: _Walk, found: tuple[float, ...]) -> bool:
    """Whether the state settles of itself: moved by a little it is nearer again a whole cycle later."""
    state = (found[0], found[1], max(found[2], 0.0))
    moved: Pair | None = (state[0] * (1.0 - _MOVED), state[1], state[2])
    for _ in range(2):
        moved = walk.over(moved, None) if moved is not None else None
    return moved is not None and max(abs(moved[0] - state[0]), abs(moved[1] - state[1])) < _STEADY * _MOVED * state[0]


class _Walk:
    """One doubler in units of the crest, of w C Vp and of line phase."""

    def __init__(self, rho: float, lam: float, power: float, delta: float) -> None:
        self.rho, self.lam, self.power, self.delta = rho, lam, power, delta
        self.alpha = -rho / (2.0 * lam)
        below = 1.0 / lam - self.alpha * self.alpha
        if abs(below) < 1e-7 * self.alpha * self.alpha:
            below = 1e-7 * self.alpha * self.alpha  # exactly critical damping has no pair of exponentials
        self.below = below
        self.finest = min(0.4 * sqrt(lam), 0.08) if -self.alpha * sqrt(lam) < 1.0 else 0.5 * rho
        self.rung_out = 7.0 / -self.alpha if below > 0.0 else 0.0
        size = 1.0 / ((1.0 - lam) ** 2 + rho * rho)
        self.even, self.odd = (1.0 - lam) * size, rho * size  # of the forced part: even cos + odd sin

    def over(self, state: Pair | tuple[float, ...], sums: _Sums | None) -> Pair | None:
        """From one zero crossing of the line to the next, a being charged: the two in their next roles."""
        a, b, j = state
        theta, end = -pi / 2.0, pi / 2.0
        if j > 0.0:  # what still charges the other one
            ended = self._conduct(theta, b, a, j, -1.0, end, sums)
            if ended is None:
                return None
            theta, b, a, j = ended
        while theta < end:
            entry = self._entry(theta, a, b, end)
            stop = end if entry is None else entry
            total = a + b
            square = total * total - 4.0 * self.power * (stop - theta)
            if square < (2.0 * STOP) ** 2:
                return None
            after = sqrt(square)
            step = 0.5 * (total - after)
            if sums is not None and stop > theta:
                _add(
                    sums,
                    stop - theta,
                    (0.0, 0.0, 0.0),
                    (0.0, 0.0, 0.0),
                    (a, a - 0.5 * step, a - step),
                    (b, b - 0.5 * step, b - step),
                    self.power,
                )
            theta, a, b = stop, a - step, b - step
            if min(a, b) < _LEAST:
                return None
            if entry is None:
                break
            ended = self._conduct(theta, a, b, 0.0, 1.0, end, sums)
            if ended is None:
                return None
            theta, a, b, j = ended
        return b, a, j

    def _entry(self, theta: float, a: float, b: float, end: float) -> float | None:
        """Phase at which the line next meets the falling capacitor; None when it does not before the end."""
        total = a + b

        def gap(x: float) -> float:
            square = total * total - 4.0 * self.power * (x - theta)
            return a - 0.5 * (total - sqrt(max(square, 0.0))) + self.delta - cos(x)

        if gap(theta) < 0.0:
            return theta
        # past the crest the line falls faster than the capacitor, but for a stretch about the crest itself
        least = min(max(theta, self.power / max(total, 0.1)), end)
        if gap(least) >= 0.0:
            return None
        low, high = theta, least
        for _ in range(48):
            x = 0.5 * (low + high)
            low, high = (x, high) if gap(x) > 0.0 else (low, x)
        return high

    def _conduct(
        self, theta: float, u: float, other: float, j: float, sign: float, end: float, sums: _Sums | None
    ) -> tuple[float, float, float, float] | None:
        """While u is charged by a line sign × cos: phase, u, the other one and the current where it stops."""
        rho, lam, power, delta, alpha, below = self.rho, self.lam, self.power, self.delta, self.alpha, self.below
        began, first = theta, j == 0.0
        even, odd = sign * self.even, sign * self.odd
        full = min(max(max(-theta, 0.3 if j > 0.0 else 0.0) / PIECES, 1e-5), 0.08)
        h = min(full, self.finest)
        root = sqrt(abs(below))
        while True:
            h = min(h, end - theta)
            total = u + other
            i = power / (total + 0.5 * h * (j - 2.0 * power / total))
            base = -(delta + rho * i)
            c, s = cos(theta), sin(theta)
            y0, y1 = u - even * c - odd * s - base, j - i + even * s - odd * c
            if below > 0.0:
                k0, k1 = y0, (y1 - alpha * y0) / root
                fast = slow = 0.0
            else:
                fast = alpha - root
                slow = 1.0 / (lam * fast)
                k1 = (y1 - slow * y0) / (fast - slow)
                k0 = y0 - k1

            def at(x: float) -> tuple[float, float, float]:
                """Line, voltage of u and current, x after the beginning of the piece."""
                cx, sx = cos(theta + x), sin(theta + x)  # noqa: B023
                if below > 0.0:
                    grown = exp(alpha * x)
                    cb, sb = grown * cos(root * x), grown * sin(root * x)
                    y = k0 * cb + k1 * sb  # noqa: B023
                    dy = alpha * y + root * (k1 * cb - k0 * sb)  # noqa: B023
                else:
                    one, two = k0 * exp(slow * x), k1 * exp(fast * x)  # noqa: B023
                    y, dy = one + two, slow * one + fast * two  # noqa: B023
                return sign * cx, y + even * cx + odd * sx + base, dy - even * sx + odd * cx + i  # noqa: B023

            c1, u1, j1 = at(h)
            done = j1 <= 0.0 and not first
            if done:
                h, c1, u1 = current_ends(at, h, j, j1, (lam, rho, delta))
                j1 = 0.0
            j1 = max(j1, 0.0)
            if sums is not None:
                cm, um, jm = at(0.5 * h)
                _add(
                    sums,
                    h,
                    (sign * c, cm, c1),
                    (j, jm, j1),
                    (u, um, u1),
                    (other, other - 0.5 * i * h, other - i * h),
                    power,
                )
            theta, u, other, j = theta + h, u1, other - i * h, j1
            if not 2.0 * STOP <= u + other < _RUN_AWAY or min(u, other) < _LEAST:  # what is no number never ends
                return None
            if done or theta >= end - 1e-12:
                return (end if not done else theta), u, other, j
            first = False
            h = min(full if theta - began > self.rung_out else min(full, self.finest), 1.5 * h)


def _add(
    sums: _Sums,
    h: float,
    c: tuple[float, float, float],
    j: tuple[float, float, float],
    a: tuple[float, float, float],
    b: tuple[float, float, float],
    power: float,
) -> None:
    """Simpson sums of one piece, and its extremes; a is the capacitor that is charged."""
    weights = (h / 6.0, 4.0 * h / 6.0, h / 6.0)
    for n in range(3):
        i = power / (a[n] + b[n])
        w = weights[n]
        sums.bulk += w * (a[n] + b[n])
        sums.charge += w * j[n]
        sums.square += w * j[n] * j[n]
        sums.real += w * c[n] * j[n]
        sums.ripple += w * ((j[n] - i) ** 2 + i * i)
    both = (a[0] + b[0], a[1] + b[1], a[2] + b[2])
    sums.peak = max(sums.peak, _vertex(*j))
    sums.high, sums.low = max(sums.high, _vertex(*both)), min(sums.low, -_vertex(-both[0], -both[1], -both[2]))
    sums.a_high = max(sums.a_high, _vertex(*a), b[0])
    sums.low_one = min(sums.low_one, -_vertex(-a[0], -a[1], -a[2]), b[2])


@lru_cache(maxsize=512)
def _steady(
    mains: float,
    frequency: float,
    series_resistance: float,
    inductance: float,
    capacitance: float,
    load: float,
    drop: float,
) -> Doubled | None:
    return doubler_with_inductance(mains, frequency, series_resistance, inductance, capacitance, load, drop)


def doubler_over_ranges(
    *,
    mains: float,
    frequency: float,
    series_resistance: float,
    inductance_from: float,
    inductance_to: float,
    capacitance_from: float,
    capacitance_to: float,
    load: float,
    drop: float,
) -> dict[str, float]:
    """Steady state of a doubler over a range of inductance and one of capacitance, as
    `rectifier_inductance.bridge_over_ranges`."""
    return over_ranges(
        lambda capacitance: (
            lambda inductance: _steady(mains, frequency, series_resistance, inductance, capacitance, load, drop)
        ),
        (inductance_from, inductance_to),
        (capacitance_from, capacitance_to),
    )
