"""A two-capacitor filter with a choke walked through time by exact steps."""

from __future__ import annotations

import cmath
from math import ceil, cos, inf, log2, pi, sin, sqrt

from derate.terms.tuples import NamedTuple

# Exact steps of R - bridge - C1 - choke (L, RL) - C2 for a ladder of step lengths.
#
# State (v1, i, v2). While the bridge conducts (b = 1) or blocks (b = 0) the network is linear:
#
#     C1 dv1/dt = b (Vp cos(wt) - Vd - v1)/R - i,    L di/dt = v1 - v2 - RL i,    C2 dv2/dt = i - I
#
# One step of length h is x+ = M x + zc cos(wt) + zs sin(wt) + d + g I, with M = exp(A h) and I the load current,
# constant over the step. The shortest step is a Taylor series, every longer one the square of the one before.
#
# Source: own derivation; the matrix exponential by scaling and squaring.


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


def _step(
    net: Network,
    conducting: bool,
    move: Matrix,
    gamma1: Row,
    gamma3: Row,
    phasor: tuple[complex, complex, complex],
    h: float,
) -> Step:
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


# Walks a two-capacitor filter with a choke through time, by exact steps, and sums what is asked.
#
# A step that would pass a change of mode (the bridge starts or stops, the choke saturates or recovers) is halved
# until it is the shortest of the ladder; after a change the steps grow again no faster than the time since, and
# beyond a sixteenth of the ring only once the ring has died. So the sharp beginnings are resolved and the rest is
# walked in long, still exact, steps.


class Filter:
    """A network with its ladders of steps, built when first needed. Not frozen: it remembers ladders, nothing else."""

    def __init__(self, net: Network, saturation: float = inf, residual: float = 1.0, *, per_ring: float = 16.0) -> None:
        self.net = net
        self.saturation = saturation
        self.residual = residual
        half_cycle = pi / net.omega
        series = net.first * net.second / (net.first + net.second)
        low = net.inductance * (residual if saturation < inf else 1.0)
        ring = 2.0 * pi * sqrt(series * low)
        self.longest = min(max(ring / per_ring, half_cycle / 20000.0), half_cycle / 50.0)
        self.quiet = 0  # further doublings allowed once rung out
        while self.longest * 2 ** (self.quiet + 1) <= half_cycle / 40.0:
            self.quiet += 1
        # the linear ring is slower than the saturated one: so many doublings more while not saturated
        self.linear = min(self.quiet, int(0.5 * log2(net.inductance / low) + 1e-9))
        # shortest: a sixty-fourth of it, a tenth of the charging time constant, a sixty-fourth of a ring
        finest = min(self.longest / 64.0, 0.1 * net.resistance * net.first, ring / 256.0)
        self.levels = 1
        while self.longest / 2 ** (self.levels - 1) > finest and self.levels < 22:
            self.levels += 1
        top = self.levels - 1
        self.lengths = [self.longest / 2.0 ** (top - k) for k in range(self.levels + self.quiet)]
        self._ladders: dict[tuple[bool, bool], list[tuple[float, ...]]] = {}

    def steps(self, conducting: bool, saturated: bool) -> list[tuple[float, ...]]:
        """The rows of each step one after the other; without what the line gives where the bridge blocks."""
        key = (conducting, saturated)
        found = self._ladders.get(key)
        if found is None:
            inductance = self.net.inductance * (self.residual if saturated else 1.0)
            rungs = ladder(self.net, conducting, inductance, self.longest * 2**self.quiet, self.levels + self.quiet)
            if conducting:
                found = [(*x, *y, *z) for x, y, z in rungs]
            else:
                found = [(*x[:3], x[6], *y[:3], y[6], *z[:3], z[6]) for x, y, z in rungs]
            self._ladders[key] = found
        return found


class Sums:
    """What one sweep adds up [A2s, A s, V s, J] and its extremes [V, A]."""

    __slots__ = (
        "charge",
        "choke2",
        "choke_peak",
        "first2",
        "line2",
        "line_energy",
        "line_peak",
        "second2",
        "v1_high",
        "v1_low",
        "v2_high",
        "v2_low",
        "v2_sum",
        "when",
    )

    def __init__(self) -> None:
        self.charge = self.choke2 = self.first2 = self.second2 = self.line2 = self.line_energy = 0.0
        self.v2_sum = self.choke_peak = self.line_peak = self.when = 0.0
        self.v1_high = self.v2_high = -inf
        self.v1_low = self.v2_low = inf


State = tuple[float, float, float]


def sweep(
    filt: Filter,
    start: State,
    phase: float,
    span: float,
    load: float,
    sums: Sums | None,
    stop: float,
    clock: float = 0.0,
) -> State | None:
    """From line phase `phase` [rad, crest at 0] for `span` seconds; None when v2 falls below `stop` under load."""
    net = filt.net
    crest, omega, drop, resistance = net.crest, net.omega, net.drop, net.resistance
    first, second, limit = net.first, net.second, filt.saturation
    choke_resistance = net.choke_resistance
    v1, i, v2 = start
    t, last = 0.0, 0.0
    top = filt.levels - 1
    lengths = filt.lengths
    share = first / (first + second)
    still = (1e-4 if load else 1e-3) * crest
    surge = sqrt(net.inductance / first + net.inductance / second)  # impedance of the ring [ohm]
    level = 0
    c = cos(phase)
    sign = 1.0 if c >= 0.0 else -1.0
    j = (sign * crest * c - drop - v1) / resistance
    conducting = j > 0.0
    saturated = abs(i) > limit
    if conducting:
        s = sin(phase)
    else:
        s = j = 0.0  # the sine is asked for while the bridge conducts alone
    steps = filt.steps(conducting, saturated)
    longest = top if saturated else top + filt.linear
    current = load / v2 if load else 0.0
    # Sums stand in names of their own while the loop runs: it is the inner one of all.
    first2 = second2 = choke2 = v2_sum = choke_peak = v1_high = v1_low = v2_high = v2_low = 0.0
    line2 = charge = line_energy = line_peak = when = 0.0
    if sums is not None:
        _begin(sums, v1, i, v2)
        first2, second2, choke2, v2_sum = sums.first2, sums.second2, sums.choke2, sums.v2_sum
        line2, charge, line_energy = sums.line2, sums.charge, sums.line_energy
        line_peak, when, choke_peak = sums.line_peak, sums.when, sums.choke_peak
        v1_high, v1_low, v2_high, v2_low = sums.v1_high, sums.v1_low, sums.v2_high, sums.v2_low
    while True:
        left = span - t
        while lengths[level] > left and level > 0:
            level -= 1
        h = lengths[level]
        if h > left * (1.0 + 1e-6):
            break
        if load:
            current = load / (v2 + 0.5 * h * (i - current) / second)
        if conducting:
            a, b, m, zc, zs, d, g, a1, b1, m1, zc1, zs1, d1, g1, a2, b2, m2, zc2, zs2, d2, g2 = steps[level]
            cs, ss = sign * c, sign * s
            w1 = a * v1 + b * i + m * v2 + zc * cs + zs * ss + d + g * current
            wi = a1 * v1 + b1 * i + m1 * v2 + zc1 * cs + zs1 * ss + d1 + g1 * current
            w2 = a2 * v1 + b2 * i + m2 * v2 + zc2 * cs + zs2 * ss + d2 + g2 * current
            c_new = cos(phase + omega * (t + h))
            j_new = (sign * crest * c_new - drop - w1) / resistance
        else:
            a, b, m, g, a1, b1, m1, g1, a2, b2, m2, g2 = steps[level]
            w1 = a * v1 + b * i + m * v2 + g * current
            wi = a1 * v1 + b1 * i + m1 * v2 + g1 * current
            w2 = a2 * v1 + b2 * i + m2 * v2 + g2 * current
            c_new = cos(phase + omega * (t + h))
            j_new = (crest * (c_new if c_new >= 0.0 else -c_new) - drop - w1) / resistance
        now = j_new > 0.0
        saturated_now = wi > limit or -wi > limit
        changes = now is not conducting or saturated_now is not saturated
        if changes and level > 0:
            level -= 1
            continue
        if not now:
            j_new = 0.0
        if conducting:
            s = sin(phase + omega * (t + h))
            if sums is not None:  # the step itself ran with the bridge on; its last current may be cut to nothing
                half, twelfth = 0.5 * h, h * h / 12.0
                cs1, ss1 = sign * c_new, sign * s
                # slope of the line current: (-w Vp sin - dv1/dt) / R, dv1/dt = (j - i) / C1
                rise0 = (-omega * crest * ss - (j - i) / first) / resistance
                rise1 = (-omega * crest * ss1 - (j_new - wi) / first) / resistance
                line2 += half * (j * j + j_new * j_new) + 2.0 * twelfth * (j * rise0 - j_new * rise1)
                charge += half * (j + j_new) + twelfth * (rise0 - rise1)
                e0, e1 = cs * rise0 - omega * ss * j, cs1 * rise1 - omega * ss1 * j_new
                line_energy += crest * (half * (cs * j + cs1 * j_new) + twelfth * (e0 - e1))
                most, at = (j, t) if j >= j_new else (j_new, t + h)
                if rise0 > 0.0 > rise1:
                    x = rise0 / (rise0 - rise1)
                    bulge = j + half * rise0 * x
                    if bulge > most:
                        most, at = bulge, t + x * h
                if most > line_peak:
                    line_peak, when = most, clock + at
        else:
            rise0 = rise1 = 0.0
            sign = 1.0 if c_new >= 0.0 else -1.0
            if now:
                s = sin(phase + omega * (t + h))
        if sums is not None:
            half, sixth = 0.5 * h, h * h / 6.0
            a0, a1, b0, b1 = j - i, j_new - wi, i - current, wi - current  # currents into C1 and C2
            coil = net.inductance * (filt.residual if saturated else 1.0)
            swing0, swing1 = v1 - v2 - choke_resistance * i, w1 - w2 - choke_resistance * wi
            turn0, turn1 = swing0 / coil, swing1 / coil  # slopes of the choke current
            # by the values and slopes at both ends: of a square, (f^2)' = 2 f f'
            first2 += half * (a0 * a0 + a1 * a1) + sixth * (a0 * (rise0 - turn0) - a1 * (rise1 - turn1))
            second2 += half * (b0 * b0 + b1 * b1) + sixth * (b0 * turn0 - b1 * turn1)
            choke2 += half * (i * i + wi * wi) + sixth * (i * turn0 - wi * turn1)
            v2_sum += half * (v2 + w2) + 0.5 * sixth * (b0 - b1) / second
            # The end of the step, and between the ends a parabola from the slopes where the slope changes sign. Plain
            # comparisons: the beginning of the step was the end of the one before.
            if w1 > v1_high:
                v1_high = w1
            if w1 < v1_low:
                v1_low = w1
            if a0 * a1 < 0.0:
                turn = v1 + half * a0 / first * a0 / (a0 - a1)
                if turn > v1_high:
                    v1_high = turn
                if turn < v1_low:
                    v1_low = turn
            if w2 > v2_high:
                v2_high = w2
            if w2 < v2_low:
                v2_low = w2
            if b0 * b1 < 0.0:
                turn = v2 + half * b0 / second * b0 / (b0 - b1)
                if turn > v2_high:
                    v2_high = turn
                if turn < v2_low:
                    v2_low = turn
            flow = wi if wi > 0.0 else -wi
            if flow > choke_peak:
                choke_peak = flow
            if swing0 * swing1 < 0.0:  # the choke current turns inside the step
                x = swing0 / (swing0 - swing1)
                choke_peak = max(choke_peak, abs(i + 0.5 * h * x * swing0 / coil))
        v1, i, v2, j, c = w1, wi, w2, j_new, c_new
        t += h
        if load and v2 < stop:
            return None
        if changes:
            conducting, saturated, last, level = now, saturated_now, t, 0
            steps = filt.steps(conducting, saturated)
            longest = top if saturated else top + filt.linear
        elif t - last > 4.0 * h:
            if level < longest:
                level += 1
            elif (
                abs(v1 - v2 - choke_resistance * i) < still
                and abs(i - share * current - (1.0 - share) * j) * surge < still
            ):
                level = max(longest, min(level + 1, top + filt.quiet - 2 * conducting))
            else:
                level = longest
    if sums is not None:
        sums.first2, sums.second2, sums.choke2, sums.v2_sum = first2, second2, choke2, v2_sum
        sums.line2, sums.charge, sums.line_energy = line2, charge, line_energy
        sums.line_peak, sums.when, sums.choke_peak = line_peak, when, choke_peak
        sums.v1_high, sums.v1_low, sums.v2_high, sums.v2_low = v1_high, v1_low, v2_high, v2_low
    return v1, i, v2


def _begin(sums: Sums, v1: float, i: float, v2: float) -> None:
    """The state a sweep starts from counts among its extremes."""
    sums.v1_high, sums.v1_low = max(sums.v1_high, v1), min(sums.v1_low, v1)
    sums.v2_high, sums.v2_low = max(sums.v2_high, v2), min(sums.v2_low, v2)
    sums.choke_peak = max(sums.choke_peak, abs(i))
