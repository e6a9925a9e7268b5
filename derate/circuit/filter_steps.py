"""Exact steps of R - bridge - C1 - choke (L, RL) - C2 for a ladder of step lengths.

State (v1, i, v2). While the bridge conducts (b = 1) or blocks (b = 0) the network is linear:

    C1 dv1/dt = b (Vp cos(wt) - Vd - v1)/R - i,    L di/dt = v1 - v2 - RL i,    C2 dv2/dt = i - I

One step of length h is x+ = M x + zc cos(wt) + zs sin(wt) + d + g I, with M = exp(A h) and I the load current, constant
over the step. The shortest step is a Taylor series, every longer one the square of the one before.

Source: own derivation; the matrix exponential by scaling and squaring is text-book.
"""

from __future__ import annotations

import cmath
from math import ceil, log2, sqrt
from typing import NamedTuple

Row = tuple[float, float, float]
Matrix = tuple[Row, Row, Row]
# one row a state: three of M, then zc, zs, d, g
StepRow = tuple[float, float, float, float, float, float, float]
Step = tuple[StepRow, StepRow, StepRow]


class Network(NamedTuple):
    """Parts of the filter: ohms, farads, henries; the line's crest [V] and angular frequency [rad/s]; drop [V]."""

    resistance: float
    first: float
    inductance: float
    choke_resistance: float
    second: float
    crest: float
    omega: float
    drop: float


def ladder(net: Network, conducting: bool, inductance: float, longest: float, levels: int) -> list[Step]:
    """Steps of length longest / 2^(levels-1) .. longest, for one mode of the bridge and one choke inductance."""
    a, b, c, d = _entries(net, conducting, inductance)
    matrix: Matrix = ((-a, -b, 0.0), (c, -net.choke_resistance / inductance, -c), (0.0, d, 0.0))
    # the series converges by the balanced norm: rates and the two resonances
    norm = a + net.choke_resistance / inductance + sqrt(b * c) + sqrt(c * d)
    h = longest / 2 ** (levels - 1)
    extra = max(0, ceil(log2(max(norm * h / 0.25, 1e-9))))
    h /= 2**extra
    move, gamma1, gamma3 = _series(matrix, h)
    phasor = _phasor(net, inductance) if conducting else (0j, 0j, 0j)
    steps = []
    for level in range(extra + levels):
        if level >= extra:
            steps.append(_step(net, conducting, move, gamma1, gamma3, phasor, h))
        gamma1 = _plus(gamma1, _apply(move, gamma1))
        gamma3 = _plus(gamma3, _apply(move, gamma3))
        move = _square(move)
        h *= 2.0
    return steps


def _entries(net: Network, conducting: bool, inductance: float) -> tuple[float, float, float, float]:
    rate = 1.0 / (net.resistance * net.first) if conducting else 0.0
    return rate, 1.0 / net.first, 1.0 / inductance, 1.0 / net.second


def _series(m: Matrix, h: float) -> tuple[Matrix, Row, Row]:
    """exp(m h), and the integral of exp(m t) over 0..h times the first and the third unit vector."""
    columns: list[Row] = []
    integrals: list[Row] = []
    for k in range(3):
        term: Row = (float(k == 0), float(k == 1), float(k == 2))
        total = term
        area: Row = (term[0] * h, term[1] * h, term[2] * h)
        for n in range(1, 9):
            product = _apply(m, term)
            term = (product[0] * h / n, product[1] * h / n, product[2] * h / n)
            total = _plus(total, term)
            weight = h / (n + 1)
            area = (area[0] + term[0] * weight, area[1] + term[1] * weight, area[2] + term[2] * weight)
        columns.append(total)
        integrals.append(area)
    x, y, z = columns
    return ((x[0], y[0], z[0]), (x[1], y[1], z[1]), (x[2], y[2], z[2])), integrals[0], integrals[2]


def _phasor(net: Network, inductance: float) -> tuple[complex, complex, complex]:
    """Sinusoidal steady state of (v1, i, v2) for a line Vp cos(wt) and no load, by the impedances."""
    jw = 1j * net.omega
    choke = net.choke_resistance + jw * inductance + 1.0 / (jw * net.second)
    admittance = jw * net.first + 1.0 / choke
    v1 = net.crest / (1.0 + net.resistance * admittance)
    i = v1 / choke
    return v1, i, i / (jw * net.second)


def _step(net: Network, conducting: bool, move: Matrix, gamma1: Row, gamma3: Row,
          phasor: tuple[complex, complex, complex], h: float) -> Step:  # fmt: skip
    turn = cmath.exp(1j * net.omega * h)
    bias = -net.drop / (net.resistance * net.first) if conducting else 0.0
    rows: list[StepRow] = []
    for k in range(3):
        m = move[k]
        z = turn * phasor[k] - (m[0] * phasor[0] + m[1] * phasor[1] + m[2] * phasor[2])
        rows.append((m[0], m[1], m[2], z.real, -z.imag, bias * gamma1[k], -gamma3[k] / net.second))
    return rows[0], rows[1], rows[2]


def _apply(m: Matrix, x: Row) -> Row:
    (a, b, c), (d, e, f), (g, h, i) = m
    p, q, r = x
    return a * p + b * q + c * r, d * p + e * q + f * r, g * p + h * q + i * r


def _plus(x: Row, y: Row) -> Row:
    return x[0] + y[0], x[1] + y[1], x[2] + y[2]


def _square(m: Matrix) -> Matrix:
    (a, b, c), (d, e, f), (g, h, i) = m
    return (
        (a * a + b * d + c * g, a * b + b * e + c * h, a * c + b * f + c * i),
        (d * a + e * d + f * g, d * b + e * e + f * h, d * c + e * f + f * i),
        (g * a + h * d + i * g, g * b + h * e + i * h, g * c + h * f + i * i),
    )
