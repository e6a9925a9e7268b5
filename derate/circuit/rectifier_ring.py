"""Ringing of an output rectifier with a resistor-capacitor snubber across it: crest over flat part.

Contents: `Crest`, `ringing_crest`, `junction_equivalent`.

When the rectifier stops conducting, the flat part is a step that reaches it through the leakage inductance L; at the
rectifier stand its junction C and, beside it, the snubber's R and Cs in series:

    v / step = (1 + s R Cs) / (1 + s R Cs + s² L (C + Cs) + s³ L C R Cs)      own, Kirchhoff

A reverse current I in L at the moment it stops adds L I times the same fraction. The step response is a sum of three
exponentials, exact; its greatest value is scanned for.

A junction's capacitance falls as its voltage rises, so it rings further than a constant one of the same charge. The
band for that: 1800 random rings without and 1400 with a reverse current, solved as they are (fixed-step, grading 0.33
to 0.5, built-in 0.35 to 0.8 V, flat parts 15 to 120 V, Cs 1 to 40 times C, R 0.1 to 8 times sqrt(L / C)), where the
excess over the flat part came to 0.76..1.25 times that of the constant one up to R = sqrt(L / C), 1.45 up to twice
that, 1.65 up to four times, 1.77 beyond. Undamped the two ends are 1 and 2 times (own: energy of the charge).
tests/circuit/test_rectifier_ring.py holds the band to ngspice.
"""

from __future__ import annotations

import cmath
import math
from typing import NamedTuple

from derate.circuit.bands import in_range

RATIO = (1.0, 60.0)  # snubber's capacitance over the junction's that the band was looked at with [-]
DAMPING = (0.02, 50.0)  # R over sqrt(L / C) [-]
CURRENT = 4.0  # greatest reverse current over step / sqrt(L / C) [-]
_POINTS = 32  # of a period of the fast ring; a parabola through three of them finds the crest within 0.01 %

# +1 rises, -1 falls, 0 no single sign: the crest has one minimum over each of L and R, so its greatest value over a
# range lies at an end. Proved over random rings by tests/circuit/test_rectifier_ring.py.
SIGNS: dict[str, dict[str, int]] = {
    "crest": {"leakage": 0, "junction": 0, "resistance": 0, "capacitance": -1, "recovery": 1, "step": -1},
    "junction_equivalent": {"given": 1, "step": -1},
}


class Crest(NamedTuple):
    """Crest over flat part [-]: of a constant capacitance, and at most of a junction that holds its charge."""

    linear: float
    high: float


def ringing_crest(
    leakage: float, junction: float, resistance: float, capacitance: float, step: float, recovery: float = 0.0
) -> Crest:
    """Crest over flat part of the reverse voltage [-].

    leakage: in the loop of rectifier and winding, seen from it [H]; junction: constant capacitance of the same charge
    at the flat part (`junction_equivalent`) [F]; resistance [ohm] and capacitance [F] of the snubber; step: the flat
    part [V]; recovery: reverse current as the rectifier stops [A], zero for a Schottky diode
    range: capacitance at least the junction's (above 60 times it is taken as 60, which reads high), resistance 0.02 to
    50 times sqrt(L / C), recovery up to four times step / sqrt(L / C). Winding resistance, the length of the edge and
    what the rectifier blocks already are left out: all make the true crest smaller, down to none at all.

    >>> [round(x, 2) for x in ringing_crest(100e-9, 100e-12, 40.0, 1e-9, 60.0)]
    [1.32, 1.48]
    """
    positive = {"leakage": leakage, "junction": junction, "resistance": resistance, "step": step}
    for name, value in positive.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    in_range("snubber over junction capacitance", capacitance / junction, RATIO[0], math.inf, "")
    wave = (leakage / junction) ** 0.5
    damping = resistance / wave
    in_range("snubber resistance over sqrt(L / C)", damping, *DAMPING, "")
    current = recovery * wave / step
    in_range("reverse current over step / sqrt(L / C)", current, 0.0, CURRENT, "")
    excess = max(0.0, _linear(damping, min(RATIO[1], capacitance / junction), current) - 1.0)
    return Crest(1.0 + excess, 1.0 + highest(damping) * excess)


def highest(damping: float) -> float:
    """Greatest excess of a falling junction capacitance over that of a constant one [-], by R over sqrt(L / C)."""
    return min(2.1, 1.45 + 0.2 * max(0.0, damping - 1.0))


def _linear(damping: float, ratio: float, current: float) -> float:
    """Greatest v / step; time in units of sqrt(L C): 1 + b s + (1 + k) s² + b s³ below, 1 + b s above, b = z k."""
    b = damping * ratio
    poles = _poles(b, 1.0 + ratio)
    terms = [
        (1.0 + b * p) * (1.0 / p + current) / ((3.0 * b * p + 2.0 * (1.0 + ratio)) * p + b) for p in poles
    ]  # residues of (1 + b s)(1 / s + current) / denominator
    h = 2.0 * math.pi / _POINTS
    turns = [cmath.exp(p * h) for p in poles]
    # the slow ring, of L with both capacitances, is the longest there is: a period and a quarter holds its crest
    steps = int(1.25 * _POINTS * (1.0 + ratio) ** 0.5) + _POINTS
    before, now, best = 0.0, 1.0 + sum(terms).real, 0.0
    for _ in range(steps):
        terms = [term * turn for term, turn in zip(terms, turns, strict=True)]
        after = 1.0 + sum(terms).real
        if now >= before and now >= after:
            bend = before - 2.0 * now + after
            best = max(best, now - (after - before) ** 2 / (8.0 * bend) if bend < 0.0 else now)
        before, now = now, after
    return max(best, now)


def _poles(b: float, c: float) -> tuple[complex, complex, complex]:
    """Roots of b s³ + c s² + b s + 1: the real one by bisection, the others of the quadratic that is left."""
    low, high = -(1.0 + (c + b + 1.0) / b), 0.0
    for _ in range(100):
        middle = 0.5 * (low + high)
        if ((b * middle + c) * middle + b) * middle + 1.0 > 0.0:
            high = middle
        else:
            low = middle
    real = 0.5 * (low + high)
    half = 0.5 * (c / b + real)
    left = half * half - (1.0 + 2.0 * real * half)
    if abs(left) < 1e-9:
        left = 1e-9  # a double root has no pair of exponentials; a hair beside it has
    root = cmath.sqrt(left)
    return complex(real), -half + root, -half - root


def junction_equivalent(given: float, at: float, step: float) -> tuple[float, float]:
    """Least and greatest constant capacitance that holds the charge of a junction at the flat part [F].

    given: junction capacitance at the reverse voltage `at` [V], as data sheets print it [F]; step: the flat part [V]
    Law C = C0 / (1 + v / V0)^m, V0 0.35 to 0.8 V, m 0.33 to 0.5; its charge over the step, the extremes of four.
    Source: text-book, abrupt (0.5) and graded (0.33) junctions; built-in voltages of Schottky and silicon junctions.

    >>> [round(c * 1e12) for c in junction_equivalent(110e-12, 4.0, 60.0)]
    [55, 68]
    """
    in_range("junction capacitance", given, 0.0, math.inf, "F", open_low=True)
    in_range("reverse voltage", at, 0.0, math.inf, "V")
    in_range("step", step, 0.0, math.inf, "V", open_low=True)
    found = []
    for grading in (0.33, 0.5):
        for built_in in (0.35, 0.8):
            zero = given * (1.0 + at / built_in) ** grading
            left = 1.0 - grading
            found.append(zero * built_in / left * ((1.0 + step / built_in) ** left - 1.0) / step)
    return min(found), max(found)
