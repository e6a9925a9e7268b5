"""A plain fixed-step integrator of the mains input, for the tests; it shares nothing with the solvers.

Trapezoidal steps of line inductance and first capacitor together (both are stiff), the load's current by its value at
the beginning and the end of the step, the rectifier ideal with a fixed drop and no current backwards. Held to ngspice
in test_rectifier_inductance.py.
"""

from __future__ import annotations

from math import pi, sin, sqrt
from typing import NamedTuple


class Walked(NamedTuple):
    """Amperes and volts over the counted cycles; second: of the second capacitor, if there is one."""

    line_rms: float
    line_peak: float
    capacitor_rms: float
    mean: float  # of the rectified line current
    bulk_max: float
    bulk_min: float
    second_rms: float = 0.0
    second_max: float = 0.0
    second_min: float = 0.0
    choke_rms: float = 0.0
    choke_peak: float = 0.0


def walk(
    mains: float,
    frequency: float,
    resistance: float,
    inductance: float,
    first: float,
    load: float,
    drop: float,
    *,
    half_wave: bool = False,
    choke: tuple[float, float, float] | None = None,
    steps: int = 4000,
    cycles: int = 60,
    counted: int = 12,
) -> Walked | None:
    """Half cycles (whole ones for a half wave) from a full bulk on, the last of them counted; None when it collapses.

    choke: inductance [H], its resistance [ohm], second capacitor [F], at which the load then is
    """
    crest, period = sqrt(2.0) * mains, (1.0 if half_wave else 0.5) / frequency
    h, w = period / steps, 2.0 * pi * frequency
    a, b = h / (2.0 * inductance), h / (2.0 * first)
    v1 = v2 = crest - drop
    j = i = 0.0
    out = v2 if choke else v1
    squares = [0.0] * 5
    peak = choke_peak = high1 = high2 = 0.0
    low1 = low2 = crest
    line = [crest * sin(w * h * n + 0.5 * pi) for n in range(steps + 1)]
    if not half_wave:
        line = [abs(one) for one in line]
    for cycle in range(cycles):
        for n in range(steps):
            drawn = load / out
            draws = load / (out + h * ((i if choke else j) - drawn) / (choke[2] if choke else first))
            # the choke and the second capacitor, then the first capacitor and the line with the choke's mean current
            if choke:
                lc, rc, second = choke
                p, q = h / (2.0 * lc), h / (2.0 * second)
                v1_guess = v1 + h * (j - i) / first
                v2_part = v2 + q * (i - drawn - draws)
                i_new = (i + p * (v1 + v1_guess - v2 - v2_part - rc * i)) / (1.0 + p * (rc + q))
                taken = i + i_new
            else:
                i_new, taken = 0.0, drawn + draws
            there = v1 - b * taken + b * j
            if j > 0.0 or line[n + 1] - drop > there - b * j:
                j_new = (j + a * (line[n] + line[n + 1] - 2.0 * drop - resistance * j - v1 - there)) / (
                    1.0 + a * (resistance + b)
                )
                j_new = max(j_new, 0.0)
            else:
                j_new = 0.0
            v1_new = there + b * j_new
            if choke:  # once more with the first capacitor's own end
                i_new = (i + p * (v1 + v1_new - v2 - v2_part - rc * i)) / (1.0 + p * (rc + q))
                v1_new += b * (taken - i - i_new)
                v2_new = v2_part + q * i_new
            else:
                v2_new = v1_new
            if min(v1_new, v2_new) < 0.2 * crest:
                return None
            if cycle >= cycles - counted:
                c0, c1 = (j - i, j_new - i_new) if choke else (j - drawn, j_new - draws)
                s0, s1 = i - drawn, i_new - draws
                for k, (x, y) in enumerate(((j, j_new), (c0, c1), (s0, s1), (i, i_new))):
                    squares[k] += 0.5 * h * (x * x + y * y)
                squares[4] += 0.5 * h * (j + j_new)
                peak, choke_peak = max(peak, j_new), max(choke_peak, abs(i_new))
                high1, low1, high2, low2 = max(high1, v1_new), min(low1, v1_new), max(high2, v2_new), min(low2, v2_new)
            j, v1, i, v2 = j_new, v1_new, i_new, v2_new
            out = v2 if choke else v1
    span = counted * period
    rms = [sqrt(one / span) for one in squares[:4]]
    return Walked(
        rms[0], peak, rms[1], squares[4] / span, high1, low1, rms[2], high2, low2, rms[3], choke_peak
    )
