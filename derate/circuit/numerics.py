"""What the solvers share: error bands, range checks, sums of exponentials, periodic states."""

from __future__ import annotations

import cmath
import math
from cmath import exp
from collections.abc import Callable
from math import inf, pi

from derate.terms.values import written

# Error bands and range checks shared by the formulas of the converter.
#
# A band (low, high) beside a formula says: true / computed - 1 lies within low..high.


Band = tuple[float, float]


def in_range(name: str, value: float, low: float, high: float, unit: str, *, open_low: bool = False) -> None:
    """Refuse a value outside low..high (low itself too with `open_low`), NaN and infinity; the text gives the range.

    >>> in_range("dT", 25.0, 0.0, 20.0, "K")
    Traceback (most recent call last):
    ValueError: dT is 25 K: state a value from 0 K to 20 K
    """
    inside = value > low if open_low else value >= low
    if inside and value <= high and -inf < value < inf:  # not a number is in no range
        return
    start = f"{'above' if open_low else 'from'} {_in_units(low, unit)}"
    if math.isinf(high):
        wanted = f"a finite value {start}" + ("" if open_low else " up")
    elif open_low:
        wanted = f"a value {start}, at most {_in_units(high, unit)}"
    else:
        wanted = f"a value {start} to {_in_units(high, unit)}"
    found = "has no upper limit" if value == inf else f"is {_in_units(value, unit)}"
    raise ValueError(f"{name} {found}: state {wanted}")


def _in_units(value: float, unit: str) -> str:
    """A figure with its unit; a small one of those that people write with a prefix in that: 1 nF, 10 us."""
    if 0.0 < abs(value) < 1e-3 and unit in ("A", "F", "H", "J", "V", "W", "ohm", "s"):
        prefix, size = next((one for one in _PREFIXES if abs(value) >= 0.999999 * one[1]), _PREFIXES[-1])
        return f"{written(value / size, 6)} {prefix}{unit}"
    return f"{written(value, 6)}{f' {unit}' if unit else ''}"


_PREFIXES = (("u", 1e-6), ("n", 1e-9), ("p", 1e-12))


def widened(value: float, band: Band) -> tuple[float, float]:
    """Lowest and highest true value of a computed one, for a positive `value` and its band.

    >>> widened(100.0, (-0.25, 0.5))
    (75.0, 150.0)
    """
    return value * (1 + band[0]), value * (1 + band[1])


# Current of a source, R, L and C in series while the diodes conduct, as a sum of exponentials.
#
# A current is a list of terms (c, s): i(t) = sum of Re(c e^(st)), c in amperes, s in 1/s. Values, slopes and
# integrals are exact; only the end of conduction is searched for.
#
# Source: own derivation from Kirchhoff's laws.


Term = tuple[complex, complex]


def charging_terms(
    crest: float,
    omega: float,
    phase: float,
    resistance: float,
    inductance: float,
    capacitance: float,
    drop: float,
    v: float,
) -> list[Term]:
    """Current from the start of conduction at bulk voltage v, no current yet."""
    line = crest * exp(1j * phase)  # Vp sin(wt + phase) = Im(line e^jwt)
    x = omega * capacitance
    bulk = line / complex(1.0 - omega * x * inductance, x * resistance)
    current = 1j * x * bulk
    terms: list[Term] = [(-1j * current, 1j * omega)]  # Im(z) = Re(-jz)
    gap = v + drop - bulk.imag  # what the decaying part must start from
    if inductance == 0.0:
        rate = -1.0 / (resistance * capacitance)
        terms.append((complex(capacitance * rate * gap), complex(rate)))
        return terms
    ring = 1.0 / (inductance * capacitance)
    alpha = resistance / (2.0 * inductance)
    if abs(alpha * alpha / ring - 1.0) < 1e-6:
        alpha *= 1.0 + 1e-5  # exactly critical damping has no pair of exponentials; a hair beside it has
    root = cmath.sqrt(alpha * alpha - ring)
    fast = -alpha - root
    slow = ring / fast  # the product of the two is 1 / LC; free of cancellation
    k_slow = (-current.imag / capacitance - fast * gap) / (slow - fast)
    if root.imag != 0.0:  # a conjugate pair: twice the real part of one
        terms.append((2.0 * capacitance * slow * k_slow, slow))
    else:
        terms.append((capacitance * slow * k_slow, slow))
        terms.append((capacitance * fast * (gap - k_slow), fast))
    return terms


def until_zero(terms: list[Term], omega: float) -> tuple[float, float, float]:
    """End of conduction, greatest current and when, from the start of an interval."""
    fastest, ringing, over = 0.0, inf, 0.0
    for _, s in terms[1:]:
        fastest = max(fastest, abs(s))
        if s.imag != 0.0:
            ringing = min(ringing, 0.25 / abs(s.imag))
            over = max(over, 14.0 / abs(s.real))  # the ring has died: e^-14
    usual, end = 0.06 * pi / omega, 2.0 * pi / omega
    longest = min(usual, ringing)
    t, h = 0.0, min(longest, 0.2 / fastest)
    y = slope = 0.0
    for c, s in terms:
        y += c.real
        slope += (c * s).real
    peak, when = y, 0.0
    while t < end:
        t1 = t + h
        y1 = slope1 = 0.0
        for c, s in terms:
            z = c * exp(s * t1)
            y1 += z.real
            slope1 += (z * s).real
        if slope > 0.0 >= slope1:  # a maximum in between
            top, high = _maximum(terms, t, t1, t + h * slope / (slope - slope1))
            if high > peak:
                peak, when = high, top
        if y1 > peak:
            peak, when = y1, t1
        if y1 <= 0.0 and slope1 < 0.0:
            return _zero(terms, t, t1, t + h * y / (y - y1) if y > 0.0 else 0.5 * (t + t1)), peak, when
        t, y, slope = t1, y1, slope1
        h = 1.5 * h
        most = longest if t < over else usual
        if h > most:
            h = most
    return t, peak, when


def _zero(terms: list[Term], low: float, high: float, t: float) -> float:
    """Where the current falls through zero: Newton from t on, held inside low..high."""
    for _ in range(60):
        y = slope = 0.0
        for c, s in terms:
            z = c * exp(s * t)
            y += z.real
            slope += (z * s).real
        low, high = (t, high) if y > 0.0 else (low, t)
        new = t - y / slope if slope != 0.0 else low
        if not low < new < high:
            new = 0.5 * (low + high)
        if -1e-9 * high <= new - t <= 1e-9 * high:
            return new
        t = new
    return t


def _maximum(terms: list[Term], low: float, high: float, t: float) -> tuple[float, float]:
    """Where the slope of the current falls through zero, as `_zero`, and the current there."""
    y = 0.0
    for _ in range(60):
        y = slope = bend = 0.0
        for c, s in terms:
            z = c * exp(s * t)
            y += z.real
            z *= s
            slope += z.real
            bend += (z * s).real
        low, high = (t, high) if slope > 0.0 else (low, t)
        new = t - slope / bend if bend != 0.0 else low
        if not low < new < high:
            new = 0.5 * (low + high)
        step = new - t
        if -1e-9 * high <= step <= 1e-9 * high:
            return new, y + step * (slope + 0.5 * step * bend)
        t = new
    return t, y


def integral(terms: list[Term], t: float) -> float:
    total = 0.0
    for c, s in terms:
        total += (c * (exp(s * t) - 1.0) / s).real
    return total


def square_integral(terms: list[Term], t: float) -> float:
    """Integral of the squared current from 0 to t, exactly: Re(a) Re(b) = Re(a b + a b*) / 2."""
    total = 0.0
    seen: list[tuple[complex, complex, complex, complex, complex, complex]] = []
    for n, (c, s) in enumerate(terms):
        grown = exp(s * t)
        seen.append((c, s, grown, c.conjugate(), s.conjugate(), grown.conjugate()))
        for m, (d, r, other, d_mirrored, r_mirrored, other_mirrored) in enumerate(seen):
            weight = 0.5 if n == m else 1.0
            rate = s + r
            part = t if abs(rate * t) < 1e-12 else (grown * other - 1.0) / rate
            total += weight * (c * d * part).real
            rate = s + r_mirrored
            part = t if abs(rate * t) < 1e-12 else (grown * other_mirrored - 1.0) / rate
            total += weight * (c * d_mirrored * part).real
    return max(total, 0.0)


# The state that comes back after one period: Broyden's method on F(x) - x.
#
# It begins as plain iteration (the first guess of the Jacobian is minus one) and learns the rest, so a quickly
# settling circuit costs no more than iterating and a slowly settling one far less. Source: Broyden 1965.


State = tuple[float, ...]


def fixed_point(
    advance: Callable[[State], State | None], start: State, small: float, far: float, walked: int = 300
) -> State | None:
    """x with advance(x) = x to within `small` in every state; None when it collapses from start.

    The states must be of one kind and size (all voltages, say); a step longer than `far` is not trusted. What has not
    settled in 60 turns, or has collapsed on the way, is walked from the start, `walked` periods at most, until it
    moves less than a tenth of `small` at a time. Begin high: walking down from full finds the upper solution.
    raises: ValueError when it settles neither way
    """
    n = len(start)
    x, g_old, step = start, (0.0,) * n, (0.0,) * n
    inverse = [[-float(r == c) for c in range(n)] for r in range(n)]
    for turn in range(60):
        new = advance(x)
        if new is None:
            break  # the search may have leapt too low: walk from the start instead
        g = tuple([b - a for a, b in zip(x, new, strict=True)])
        if turn:
            _update(inverse, step, [a - b for a, b in zip(g, g_old, strict=True)])
        moves: list[float] = []
        size = 0.0
        for row in inverse:
            total = 0.0
            for w, v in zip(row, g, strict=True):
                total += w * v
            moves.append(-total)
            if not -size <= total <= size:
                size = abs(total)
        step = tuple(moves)
        if size < small:
            return tuple([a + d for a, d in zip(x, step, strict=True)])
        if not size < inf:
            break  # the search has lost itself
        if size > far:
            step = g  # plain iteration
        g_old = g
        x = tuple([a + d for a, d in zip(x, step, strict=True)])
    x = start
    for _ in range(walked):
        new = advance(x)
        if new is None or max(abs(b - a) for a, b in zip(x, new, strict=True)) < 0.1 * small:
            return new
        x = new
    raise ValueError("no state repeats every half cycle (at next to no load pulses are skipped): state a greater load")


def _update(inverse: list[list[float]], step: State, change: list[float]) -> None:
    """Good Broyden update of the inverse Jacobian, by Sherman and Morrison, in place."""
    moved: list[float] = []
    across = [0.0] * len(step)
    below = 0.0
    for s, row in zip(step, inverse, strict=True):
        total = 0.0
        for c, (w, v) in enumerate(zip(row, change, strict=True)):
            total += w * v
            across[c] += s * w
        moved.append(total)
        below += s * total
    if -1e-30 < below < 1e-30:
        return
    for s, m, row in zip(step, moved, inverse, strict=True):
        for c, share in enumerate(across):
            row[c] += (s - m) * share / below
