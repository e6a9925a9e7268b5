"""Two bulk capacitors with a choke between them: switch-on, with inductance ahead of the bridge, and steady state."""

from __future__ import annotations

import cmath
from collections.abc import Sequence
from functools import lru_cache
from itertools import product
from math import acos, ceil, cos, inf, log2, pi, sin, sqrt

from derate.circuit.filter_sweep import Filter, Network, State, Sums, sweep
from derate.circuit.numerics import Band, fixed_point, in_range
from derate.circuit.rectifier import STOP, about_the_valley
from derate.terms.tuples import NamedTuple

# Switch-on of two bulk capacitors with a choke between them.
#
#     line - R - bridge - C1 - choke (L, RL) - C2
#
# The choke may saturate: its inductance is as stated below the saturation current and a stated fraction of it above
# (one comparison). A linear and a saturating choke are worst for different quantities, so both have to be run.
#
# Source: own derivation from Kirchhoff's laws, exact steps of the linear network in each mode (filter_sweep.py);
# checked against ngspice in tests/circuit/test_choke_filter.py.


# true / computed - 1. 7 ngspice rows and 20 random ones read -0.1..+0.3 % with no drop stated. The bridge would catch
# C1 should it ring below zero; that is left out, and C1 must be a tenth of C2 or more: it moves peaks by under 0.3 %.
ERROR: dict[str, Band] = {
    "peak": (-0.01, 0.005),
    "i2t": (-0.01, 0.005),
    "energy": (-0.01, 0.005),
    "bulk1_peak": (-0.005, 0.005),
    "bulk2_peak": (-0.005, 0.005),
    "choke_peak": (-0.01, 0.01),
    "time_to_peak": (-0.05, 0.05),
    "equivalent_width": (-0.03, 0.03),
}
# +1 the output never falls as the input rises, -1 it never rises, 0 no single sign, or none at all (run every corner).
# For a linear choke; proved over random supplies by the test. With a saturating choke run every corner of what is 0.
SIGNS: dict[str, dict[str, int]] = {
    "peak": {
        "mains": 1,
        "frequency": 0,
        "series_resistance": -1,
        "bulk1": 0,
        "inductance": 0,
        "choke_resistance": 0,
        "bulk2": 0,
        "drop": -1,
    },
    "i2t": {
        "mains": 1,
        "frequency": -1,
        "series_resistance": -1,
        "bulk1": 1,
        "inductance": 0,
        "choke_resistance": -1,
        "bulk2": 1,
        "drop": -1,
    },
    "energy": {
        "mains": 1,
        "frequency": -1,
        "series_resistance": 0,
        "bulk1": 1,
        "inductance": 0,
        "choke_resistance": -1,
        "bulk2": 1,
        "drop": -1,
    },
    "bulk1_peak": {
        "mains": 1,
        "frequency": 0,
        "series_resistance": -1,
        "bulk1": 0,
        "inductance": 0,
        "choke_resistance": -1,
        "bulk2": 0,
        "drop": -1,
    },
    "bulk2_peak": {
        "mains": 1,
        "frequency": 0,
        "series_resistance": -1,
        "bulk1": 0,
        "inductance": 0,
        "choke_resistance": -1,
        "bulk2": -1,
        "drop": -1,
    },
    "choke_peak": {
        "mains": 1,
        "frequency": -1,
        "series_resistance": -1,
        "bulk1": 0,
        "inductance": 0,
        "choke_resistance": -1,
        "bulk2": 1,
        "drop": -1,
    },
}
_HALF_CYCLES = 12  # followed at most after switch-on


class FilterInrush(NamedTuple):
    """A switch-on through the filter. peak, choke_peak [A]; i2t [A2s]; energy in R [J]; bulk peaks [V]; times [s]."""

    peak: float
    i2t: float
    energy: float
    bulk1_peak: float
    bulk2_peak: float
    choke_peak: float
    time_to_peak: float
    equivalent_width: float


def network(
    mains: float,
    frequency: float,
    resistance: float,
    first: float,
    inductance: float,
    choke_resistance: float,
    second: float,
    drop: float,
    ratio: float = 10.0,
) -> Network:
    """The filter with every value inside the range of the solver; ValueError with the range otherwise.

    ratio: how many times the first capacitor the second may be
    """
    in_range("mains voltage", mains, 10.0, 600.0, "V")
    in_range("line frequency", frequency, 10.0, 1000.0, "Hz")
    in_range("series resistance", resistance, 0.01, 1000.0, "ohm")
    in_range("first capacitor", first, 1e-8, 0.01, "F")
    # ten times as stated is ten times, whatever the last digit of the product
    in_range("second capacitor", second, 1e-8, min(0.01, ratio * first * (1.0 + 1e-9)), "F")
    in_range("choke inductance", inductance, 1e-6, 1.0, "H")
    in_range("choke resistance", choke_resistance, 0.0, 1000.0, "ohm")
    in_range("diode drop", drop, 0.0, mains / 10.0, "V")
    return Network(
        resistance, first, inductance, choke_resistance, second, sqrt(2.0) * mains, 2.0 * pi * frequency, drop
    )


def filter_switch_on(
    mains: float,
    frequency: float,
    series_resistance: float,
    bulk1: float,
    inductance: float,
    choke_resistance: float,
    bulk2: float,
    *,
    angle: float = pi / 2,
    drop: float = 0.0,
    start: float = 0.0,
    saturation: float = inf,
    residual: float = 0.1,
) -> FilterInrush:
    """Switch-on at one phase of the line, the later half cycles followed until they add nothing; no load.

    mains [V rms], 10 to 600; frequency [Hz], 10 to 1000; series_resistance: all of it, cold [ohm], 0.01 to 1000
    bulk1, bulk2 [F], 1e-8 to 0.01, bulk2 at most ten times bulk1; inductance [H], 1e-6 to 1
    choke_resistance [ohm], 0 to 1000; angle: line phase at closing from its zero crossing [rad], 0 to pi
    drop: of the two conducting diodes [V], 0 to a tenth of mains; start: both bulk voltages before [V], 0 to 1000
    saturation: choke current above which its inductance is residual (0.001 to 1) times as great [A], above 1e-3
    raises: ValueError with the range, for a value outside it

    Source: module docstring.
    """
    in_range("closing angle", angle, 0.0, pi, "rad")
    in_range("starting voltage", start, 0.0, 1000.0, "V")
    in_range("residual inductance", residual, 1e-3, 1.0, "")
    if saturation != inf:
        in_range("saturation current", saturation, 1e-3, 1e4, "A")
    net = network(mains, frequency, series_resistance, bulk1, inductance, choke_resistance, bulk2, drop)
    filt = Filter(net, saturation, residual)
    sums = Sums()
    state, half = (start, 0.0, start), pi / net.omega
    before = 0.0
    for n in range(_HALF_CYCLES):  # a whole number of half cycles: the phase comes round, the polarity does not matter
        state = sweep(filt, state, angle - pi / 2.0, half, 0.0, sums, 0.0, n * half) or state
        if n and sums.line2 - before < 1e-4 * sums.line2:
            break
        before = sums.line2
    peak, i2t = sums.line_peak, sums.line2
    width = i2t / (peak * peak) if peak > 0.0 else 0.0
    rest = max(net.crest - drop, start)  # without load the refills end at the crest, however slowly
    return FilterInrush(
        peak,
        i2t,
        series_resistance * i2t,
        max(sums.v1_high, rest),
        max(sums.v2_high, rest),
        sums.choke_peak,
        sums.when,
        width,
    )


# Switch-on of two bulk capacitors with a choke between, with inductance ahead of the bridge.
#
#     line - R, La - bridge - C1 - choke (L, RL) - C2
#
# The inductance of the mains and of a line choke stores energy while the capacitors charge and pushes both past the
# crest; the bridge then blocks and the excess stays. Without it (La = 0) use choke_filter.py.
#
# State (j, v1, i, v2) with the line as a rotating pair (c, s). In each mode of bridge and choke the network is
# linear:
#
#     La dj/dt = Vp s - Vd - R j - v1,    C1 dv1/dt = j - i,    L di/dt = v1 - v2 - RL i,    C2 dv2/dt = i
#
# and one step is exact, x+ = exp(A h) x. Where a mode ends inside a step the step is halved down to a 64th.
#
# Source: own derivation from Kirchhoff's laws; checked against ngspice in tests/circuit/test_choke_filter_line.py.


# true / computed - 1: 20 random ngspice runs with no drop stated read within 0.4 %
WITH_INDUCTANCE_ERROR: dict[str, Band] = {
    "peak": (-0.01, 0.005),
    "i2t": (-0.01, 0.005),
    "energy": (-0.01, 0.005),
    "bulk1_peak": (-0.005, 0.005),
    "bulk2_peak": (-0.005, 0.005),
    "choke_peak": (-0.01, 0.01),
    "equivalent_width": (-0.03, 0.03),
}
_HALVINGS = 6
_HALF_CYCLES_WITH_INDUCTANCE = 12
Row = tuple[float, ...]
# one row a state of (j, v1, i, v2): what j, v1, i, v2, cos(wt), sin(wt) and 1 give
Step = tuple[Row, Row, Row, Row]


def line_filter_switch_on(
    mains: float,
    frequency: float,
    series_resistance: float,
    line_inductance: float,
    bulk1: float,
    inductance: float,
    choke_resistance: float,
    bulk2: float,
    *,
    angle: float = pi / 2,
    drop: float = 0.0,
    start: float = 0.0,
    saturation: float = inf,
    residual: float = 0.1,
    refills: bool = True,
) -> FilterInrush:
    """Switch-on at one phase of the line; no load. Arguments and ranges as `choke_filter.filter_switch_on`.

    line_inductance: everything ahead of the bridge [H], 1e-7 to 1
    refills: follow the later half cycles too; what overshoots does so in the first
    raises: ValueError with the range, for a value outside it

    Source: module docstring.
    """
    in_range("line inductance", line_inductance, 1e-7, 1.0, "H")
    in_range("closing angle", angle, 0.0, pi, "rad")
    in_range("starting voltage", start, 0.0, 1000.0, "V")
    in_range("residual inductance", residual, 1e-3, 1.0, "")
    net = network(mains, frequency, series_resistance, bulk1, inductance, choke_resistance, bulk2, drop)
    half = pi / net.omega
    series = bulk1 * bulk2 / (bulk1 + bulk2)
    # a step is a part of the shortest ring of its mode; a power of two of each other, so that half cycles come out
    shortest = (line_inductance * bulk1, inductance * series, inductance * residual * series)
    tops = [half / 2 ** ceil(log2(max(64.0, half / (2.0 * pi * sqrt(min(shortest[:n])) / 16.0)))) for n in (2, 3)]
    ladders: dict[tuple[bool, bool], list[Step]] = {}

    def ladder(on: bool, saturated: bool) -> list[Step]:
        found = ladders.get((on, saturated))
        if found is None:
            choke = inductance * (residual if saturated else 1.0)
            found = ladders[on, saturated] = _ladder(
                on,
                series_resistance,
                line_inductance,
                bulk1,
                choke,
                choke_resistance,
                bulk2,
                net.crest,
                drop,
                net.omega,
                tops[saturated],
            )
        return found

    j, v1, i, v2 = 0.0, start, 0.0, start
    high1 = high2 = start
    peak = choke_peak = square = when = before = 0.0
    sign, t, on, began, fast = 1.0, 0.0, False, 0.0, line_inductance / series_resistance
    omega, crest = net.omega, net.crest
    lengths = {saturated: [top / 2**level for level in range(_HALVINGS + 1)] for saturated, top in enumerate(tops)}
    turns = 0
    while turns < _HALF_CYCLES_WITH_INDUCTANCE:
        phase = angle + omega * t
        s, c = sign * sin(phase), sign * cos(phase)
        if not on:
            if s < 0.0:
                sign, s, c = -sign, -s, -c
            on = crest * s - drop > v1
            began = t
        saturated = abs(i) > saturation
        steps, spans = ladder(on, saturated), lengths[saturated]
        level = 0
        if on and t - began < 6.0 * fast:  # the current's own rise, which may be much shorter than any ring
            while level < _HALVINGS and spans[0] > fast * 2**level:
                level += 1
        while True:
            row_j, row_1, row_i, row_2 = steps[level]
            if on:
                p, q, u, v, k, m, n = row_j
                jn = p * j + q * v1 + u * i + v * v2 + k * c + m * s + n
                p, q, u, v, k, m, n = row_1
                v1n = p * j + q * v1 + u * i + v * v2 + k * c + m * s + n
                p, q, u, v, k, m, n = row_i
                in_ = p * j + q * v1 + u * i + v * v2 + k * c + m * s + n
                p, q, u, v, k, m, n = row_2
                v2n = p * j + q * v1 + u * i + v * v2 + k * c + m * s + n
                if j == 0.0 and jn <= 0.0:  # the ring lifts C1 again before a current can rise: it stays blocked
                    on, steps, level = False, ladder(False, saturated), 0
                    continue
            else:  # nothing flows from the line, and nothing is forced
                jn = 0.0
                v1n = row_1[1] * v1 + row_1[2] * i + row_1[3] * v2
                in_ = row_i[1] * v1 + row_i[2] * i + row_i[3] * v2
                v2n = row_2[1] * v1 + row_2[2] * i + row_2[3] * v2
            crossed = jn < 0.0 or (in_ > saturation or -in_ > saturation) is not saturated
            if not crossed or level == _HALVINGS:
                break
            level += 1
        h = spans[level]
        if on:
            if jn < 0.0:
                jn = 0.0
            # Simpson with the middle from the slopes at both ends (cubic), so that 16 steps a ring are enough
            slope0 = (crest * s - drop - series_resistance * j - v1) / line_inductance
            s1 = sign * sin(phase + omega * h)
            slope1 = (crest * s1 - drop - series_resistance * jn - v1n) / line_inductance
            middle = 0.5 * (j + jn) + h * (slope0 - slope1) / 8.0
            square += h * (j * j + 4.0 * middle * middle + jn * jn) / 6.0
            if slope0 > 0.0 > slope1:
                top = max(j, jn) + _bump(j, jn, slope0, slope1, h)
                if top > peak:
                    peak, when = top, t + h * slope0 / (slope0 - slope1)
            if jn > peak:
                peak, when = jn, t + h
        up0, up1 = (j - i) / bulk1, (jn - in_) / bulk1
        if up0 > 0.0 > up1:
            high1 = max(high1, max(v1, v1n) + _bump(v1, v1n, up0, up1, h))
        if i > 0.0 >= in_:
            high2 = max(high2, max(v2, v2n) + _bump(v2, v2n, i / bulk2, in_ / bulk2, h))
        if v1n > high1:
            high1 = v1n
        if v2n > high2:
            high2 = v2n
        flow = in_ if in_ > 0.0 else -in_
        if flow > choke_peak:
            choke_peak = flow
        if on and jn <= 0.0 and j > 0.0:
            on = False
        j, v1, i, v2, t = jn if on else 0.0, v1n, in_, v2n, t + h
        if t >= (turns + 1) * half:
            turns += 1
            if not refills or (turns > 1 and square - before < 1e-4 * square):
                break
            before = square
    rest = max(net.crest - drop, start)
    width = square / (peak * peak) if peak > 0.0 else 0.0
    return FilterInrush(
        peak, square, series_resistance * square, max(high1, rest), max(high2, rest), choke_peak, when, width
    )


def _bump(y0: float, y1: float, slope0: float, slope1: float, h: float) -> float:
    """Height of the vertex above the greater end of a step, from the slopes at both ends (a parabola)."""
    u = slope0 / (slope0 - slope1)
    top = y0 + 0.5 * slope0 * u * h if u < 0.5 else y1 - 0.5 * slope1 * (1.0 - u) * h
    return max(0.0, top - max(y0, y1))


def _matrix(on: bool, r: float, la: float, c1: float, lc: float, rl: float, c2: float) -> list[Row]:
    """A of dx/dt = A x for x = (j, v1, i, v2); blocked, j stays nothing."""
    return [
        (-r / la, -1.0 / la, 0.0, 0.0) if on else (0.0,) * 4,
        ((1.0 / c1) if on else 0.0, 0.0, -1.0 / c1, 0.0),
        (0.0, 1.0 / lc, -rl / lc, -1.0 / lc),
        (0.0, 0.0, 1.0 / c2, 0.0),
    ]


def _settled(
    r: float, la: float, c1: float, lc: float, rl: float, c2: float, crest: float, omega: float
) -> tuple[complex, complex, complex, complex]:
    """Sinusoidal steady state of (j, v1, i, v2) for a line crest × sin(wt), by the impedances."""
    w = 1j * omega
    branch = max(rl, 1e-9) + w * lc + 1.0 / (w * c2)  # a choke of no resistance may resonate at the mains itself
    admittance = w * c1 + 1.0 / branch
    v1 = -1j * crest / (1.0 + (r + w * la) * admittance)
    i = v1 / branch
    return admittance * v1, v1, i, i / (w * c2)


@lru_cache(maxsize=64)
def _ladder(
    on: bool,
    r: float,
    la: float,
    c1: float,
    lc: float,
    rl: float,
    c2: float,
    crest: float,
    drop: float,
    omega: float,
    longest: float,
) -> list[Step]:
    """Exact steps for h = longest, longest / 2, .. longest / 64.

    The free part is exp(A h), a scaled Taylor series, then squared. What the line forces is the settled sinusoid at the
    end less the one at the beginning carried on; the drop is a line of its own that stands still, and with it
    v1 = v2 = -drop is at rest.
    """
    a = _matrix(on, r, la, c1, lc, rl, c2)
    balance = (1.0, 1.0 / 30.0, 1.0, 1.0 / 30.0)  # volts against amperes
    norm = max(sum(abs(a[k][m]) * balance[k] / balance[m] for m in range(4)) for k in range(4))
    h = longest / 2**_HALVINGS
    extra = max(0, ceil(log2(max(norm * h / 0.25, 1e-9))))
    h /= 2**extra
    total: list[Row] = [tuple(float(k == m) for m in range(4)) for k in range(4)]
    term = total
    for n in range(1, 11):
        share = h / n
        term = [tuple(x * share for x in row) for row in _times(term, a)]
        total = [tuple(x + y for x, y in zip(p, q, strict=True)) for p, q in zip(total, term, strict=True)]
    forced = _settled(r, la, c1, lc, rl, c2, crest, omega) if on else (0j,) * 4
    rest = (0.0, -drop, 0.0, -drop) if on else (0.0,) * 4
    found: list[Step] = []
    for level in range(extra + _HALVINGS + 1):
        if level >= extra:
            turn = cmath.exp(1j * omega * h)
            rows = []
            for k, (p, q, u, v) in enumerate(total):
                z = turn * forced[k] - (p * forced[0] + q * forced[1] + u * forced[2] + v * forced[3])
                still = rest[k] - (p * rest[0] + q * rest[1] + u * rest[2] + v * rest[3])
                rows.append((p, q, u, v, z.real, -z.imag, still))
            found.append((rows[0], rows[1], rows[2], rows[3]))
        total = _times(total, total)
        h *= 2.0
    return found[::-1]


def _times(p: Sequence[Row], q: Sequence[Row]) -> list[Row]:
    """Product of two 4 by 4 matrices, written out: it is most of what a ladder costs."""
    (a, b, c, d), (e, f, g, h), (i, j, k, m), (n, o, r, s) = q
    return [
        (
            w * a + x * e + y * i + z * n,
            w * b + x * f + y * j + z * o,
            w * c + x * g + y * k + z * r,
            w * d + x * h + y * m + z * s,
        )
        for w, x, y, z in p
    ]


# Periodic steady state of two bulk capacitors with a choke between them and a constant-power load.
#
#     line - R - bridge - C1 - choke (L, RL) - C2 - P
#
# The state at a zero crossing of the line must come back after a half cycle. The search starts from the solution with
# both capacitors in one (rectifier.py); each trial is one half cycle in exact steps (filter_sweep.py).
#
# Source: own derivation from Kirchhoff's laws; checked against ngspice in tests/circuit/test_choke_filter.py.


# true / computed - 1, the diodes' drop known: 7 ngspice rows and 20 random ones within 0.3 %, 0.5 % where the ring is
# hardly damped. A real bridge taken as a fixed drop adds what rectifier.ERROR states, which is included.
STEADY_ERROR: dict[str, Band] = {
    "bulk2_min": (-0.003, 0.008),
    "bulk2_max": (-0.003, 0.004),
    "bulk2_mean": (-0.003, 0.006),
    "bulk1_min": (-0.005, 0.01),
    "bulk1_max": (-0.003, 0.004),
    "line_rms": (-0.02, 0.005),
    "line_peak": (-0.04, 0.005),
    "bulk1_rms": (-0.025, 0.01),
    "bulk2_rms": (-0.025, 0.005),
    "choke_rms": (-0.02, 0.005),
    "choke_peak": (-0.03, 0.005),
    "diode_average": (-0.005, 0.01),
    "diode_rms": (-0.02, 0.005),
    "line_power": (-0.005, 0.01),
    "resistor_power": (-0.04, 0.01),
    "choke_power": (-0.04, 0.01),
}
_NONE = {
    "mains": 0,
    "frequency": 0,
    "series_resistance": 0,
    "bulk1": 0,
    "inductance": 0,
    "choke_resistance": 0,
    "bulk2": 0,
    "load": 0,
    "drop": 0,
}
# +1 the output never falls as the input rises, -1 it never rises, 0 no single sign (run every corner): the ring makes
# most of them 0. Proved over random supplies by the test for valleys above half the crest (below it run every corner):
# no step of 3 % moves a quantity the wrong way by more than 0.1 %.
STEADY_SIGNS: dict[str, dict[str, int]] = {
    "bulk2_min": _NONE | {"mains": 1, "series_resistance": -1, "bulk2": 1, "load": -1, "drop": -1},
    "bulk2_max": _NONE | {"mains": 1, "series_resistance": -1, "drop": -1},
    "bulk1_max": _NONE | {"mains": 1, "series_resistance": -1, "drop": -1},
    "bulk1_min": _NONE | {"mains": 1, "load": -1, "drop": -1},
    "line_rms": _NONE | {"series_resistance": -1, "load": 1},
    "line_peak": _NONE | {"series_resistance": -1},
    "bulk1_rms": _NONE,
    "bulk2_rms": _NONE,
    "choke_rms": _NONE,
    "choke_peak": _NONE,
    "resistor_power": _NONE | {"series_resistance": 1, "load": 1},
    "diode_average": _NONE | {"mains": -1, "series_resistance": 1, "load": 1, "drop": 1},
}


# While it runs the bridge feeds C1 whenever it falls below the line, so it never rings below zero: a small one ahead
# of a large one is within the band too (30 to 470 times, test_choke_filter.py).
_RUNNING_RATIO = 1000.0


class FilterSteady(NamedTuple):
    """Steady state of the filter [V, A, W]. The RMS figures hold no switching part; all of that goes to C2."""

    bulk2_min: float
    bulk2_max: float
    bulk2_mean: float
    bulk1_min: float
    bulk1_max: float
    line_rms: float
    line_peak: float
    bulk1_rms: float
    bulk2_rms: float
    choke_rms: float
    choke_peak: float
    diode_average: float
    diode_rms: float
    line_power: float
    resistor_power: float
    choke_power: float
    diode_power: float


def filter_steady_state(
    mains: float,
    frequency: float,
    series_resistance: float,
    bulk1: float,
    inductance: float,
    choke_resistance: float,
    bulk2: float,
    load: float,
    drop: float = 0.0,
) -> FilterSteady | None:
    """Steady state with a load of constant power at the second capacitor.

    Arguments and ranges as choke_filter.filter_switch_on; load [W], 1e-3 to 10000. The choke is taken as linear: use
    its inductance at the running current.
    returns: the state, or None when the load cannot be carried (C2 would fall below a quarter of the crest)
    raises: ValueError with the range, for a value outside it; for a circuit too slow to settle

    Source: module docstring.
    """
    in_range("load", load, 1e-3, 1e4, "W")
    return _steady(mains, frequency, series_resistance, bulk1, inductance, choke_resistance, bulk2, load, drop)


@lru_cache(maxsize=1024)  # its crest and its currents are asked for apart, and by each condition that was read
def _steady(
    mains: float,
    frequency: float,
    series_resistance: float,
    bulk1: float,
    inductance: float,
    choke_resistance: float,
    bulk2: float,
    load: float,
    drop: float,
) -> FilterSteady | None:
    net = network(mains, frequency, series_resistance, bulk1, inductance, choke_resistance, bulk2, drop, _RUNNING_RATIO)
    half = pi / net.omega
    total = bulk1 + bulk2
    valley = about_the_valley(mains, frequency, series_resistance, total, load, drop)
    v = net.crest - drop
    if valley is not None:
        wait = (pi / 2.0 - acos(min(1.0, (valley + drop) / net.crest))) / net.omega
        v = sqrt(valley * valley + 2.0 * load * wait / total)
    filt = Filter(net, per_ring=_PER_RING)
    run = _run(filt, (v, load / v * bulk1 / total, v), half, load)
    if run is None:
        return None
    sums, cycles = run
    half *= cycles
    line_rms = sqrt(sums.line2 / half)
    mean = sums.charge / half
    return FilterSteady(
        bulk2_min=sums.v2_low,
        bulk2_max=sums.v2_high,
        bulk2_mean=sums.v2_sum / half,
        bulk1_min=sums.v1_low,
        bulk1_max=sums.v1_high,
        line_rms=line_rms,
        line_peak=sums.line_peak,
        bulk1_rms=sqrt(sums.first2 / half),
        bulk2_rms=sqrt(sums.second2 / half),
        choke_rms=sqrt(sums.choke2 / half),
        choke_peak=sums.choke_peak,
        diode_average=mean / 2.0,
        diode_rms=line_rms / sqrt(2.0),
        line_power=sums.line_energy / half,
        resistor_power=series_resistance * line_rms**2,
        choke_power=choke_resistance * sums.choke2 / half,
        diode_power=drop * mean,
    )


_TURNS = 3  # half cycles after which a small change must have become smaller
_SETTLED = 0.1  # of that change: as small after fewer of them it is taken to have
_WALKED, _COUNTED = 60, 24
_PER_RING = 12.0  # steps a ring: what is summed is summed with its slopes
_SMALL = 2e-5  # what a search calls no change, in crests
# What a half cycle may move a state by where the next is hoped to repeat, and must for its way back to show anything;
# in its own voltage.
_CLOSE, _MOVED = 5e-3, 2e-5


def _run(filt: Filter, start: State, half: float, load: float) -> tuple[Sums, int] | None:
    """Sums of the periodic state, and over how many half cycles; None where the load is not carried.

    Most filters have forgotten where they began after a half cycle: the second is summed in the hope that it ends where
    it began.
    """
    stop = STOP * filt.net.crest
    first = sweep(filt, start, -pi / 2.0, half, load, None, stop)
    if first is not None and _away(filt, start, first) < _CLOSE * first[2]:
        state = first
        for _ in range(2):
            sums = Sums()
            ended = sweep(filt, state, -pi / 2.0, half, load, sums, stop)
            if ended is None:
                break
            off, most = _away(filt, state, ended), same(sums, filt.net.crest, _ring(filt) * load / state[2])
            if off < most:
                settles = _came_back(filt, start, first, ended) or _comes_back(filt, state, half, load)
                return (sums, 1) if settles else _row(filt, half, load)
            if off > 20.0 * most:
                break
            state = ended
    found = _settle(filt, start, first, half, load)
    if found is None:
        return None
    if not _comes_back(filt, found, half, load):
        return _row(filt, half, load)
    sums = Sums()
    return None if sweep(filt, found, -pi / 2.0, half, load, sums, stop) is None else (sums, 1)


def _row(filt: Filter, half: float, load: float) -> tuple[Sums, int] | None:
    """Sums of a row of half cycles, large and small pulses in turn; None where the load is not carried."""
    sums = Sums()
    state: State = (filt.net.crest, 0.0, filt.net.crest)
    for turn in range(_WALKED + _COUNTED):
        counted = sums if turn >= _WALKED else None
        new = sweep(filt, state, -pi / 2.0, half, load, counted, STOP * filt.net.crest)
        if new is None:
            return None
        state = new
    return sums, _COUNTED


def same(sums: Sums, crest: float, drawn: float) -> float:
    """How far apart the ends of a half cycle may lie to be one state [V].

    A quarter of what a search calls no change; so little that what flows in and what is drawn are alike to a
    ten-thousandth of what the second capacitor falls by, and that what is left of a ring is a few of the current drawn.
    drawn: that current by the impedance of the ring [V]
    """
    return min(0.25 * _SMALL * crest, 1e-4 * (sums.v2_high - sums.v2_low), 3e-4 * drawn)


def _away(filt: Filter, one: State, other: State) -> float:
    """How far apart two states are [V], the current of the choke by the impedance of its ring."""
    return max(abs(other[0] - one[0]), abs(other[1] - one[1]) * _ring(filt), abs(other[2] - one[2]))


def _came_back(filt: Filter, start: State, first: State, ended: State) -> bool:
    """Whether what a half cycle moved, charge that both capacitors were off by, was as good as gone in that half cycle.

    As `_comes_back` asks it, of the way that was gone anyway.
    """
    net = filt.net
    charge = abs(net.first * (first[0] - start[0]) + net.second * (first[2] - start[2]))
    moved = charge / (net.first + net.second)
    return moved > _MOVED * first[2] and _away(filt, first, ended) < _SETTLED * moved


def _comes_back(filt: Filter, found: State, half: float, load: float) -> bool:
    """Whether the state settles of itself: moved by a thousandth it is nearer again a few half cycles later.

    What is a tenth of the way off already after fewer has settled: to be as far off again at the last of them it would
    have to grow threefold a half cycle.
    """
    most = 0.001 * max(found[0], found[2])
    moved: State = (0.999 * found[0], found[1], 0.999 * found[2])
    for _ in range(_TURNS):
        new = sweep(filt, moved, -pi / 2.0, half, load, None, STOP * filt.net.crest)
        if new is None:
            return False
        moved = new
        away = max(abs(moved[0] - found[0]), abs(moved[2] - found[2]))
        if max(away, abs(moved[1] - found[1]) * _ring(filt)) < _SETTLED * most:
            return True
    return away < most


def _ring(filt: Filter) -> float:
    """The impedance of the ring of the choke with both capacitors [ohm]: its current in volts."""
    return sqrt(filt.net.inductance / filt.net.first + filt.net.inductance / filt.net.second)


def _settle(filt: Filter, start: State, first: State | None, half: float, load: float) -> State | None:
    """The state at a zero crossing of the line that comes back after a half cycle; None when the load collapses.

    first: what a half cycle makes of the start.
    """
    net = filt.net
    scale = _ring(filt)
    begun = (start[0], start[1] * scale, start[2])

    def advance(x: tuple[float, ...]) -> tuple[float, ...] | None:
        new = first
        if x != begun:
            new = sweep(filt, (x[0], x[1] / scale, x[2]), -pi / 2.0, half, load, None, STOP * net.crest)
        return None if new is None else (new[0], new[1] * scale, new[2])

    found = fixed_point(advance, begun, _SMALL * net.crest, 0.3 * net.crest)
    return None if found is None else (found[0], found[1] / scale, found[2])


# Between the loads, frequencies and parts that are tried the crest may stand so much higher.
_CREST_BETWEEN = 0.01


def greatest_of_two(
    mains: float,
    frequency: tuple[float, float],
    series_resistance: float,
    bulk1: tuple[float, float],
    inductance: tuple[float, float],
    choke_resistance: float,
    bulk2: tuple[float, float],
    load: float,
    drop: float,
) -> tuple[float, float]:
    """Greatest voltage of the first and of the second capacitor at any load up to the one given [V].

    The choke goes on after the crest of the line and drives the second capacitor past it; the first rings with it.
    Pairs: least and greatest; series_resistance, choke_resistance: at their least; the rest as `filter_steady_state`.
    Loads that are not carried push nothing.
    """
    first = second = sqrt(2.0) * mains
    for hertz, henries, share in product(frequency, inductance, (1.0, 0.5)):
        for one, other in dict.fromkeys(zip(bulk1, bulk2, strict=True)):
            try:
                found = filter_steady_state(
                    mains, hertz, series_resistance, one, henries, choke_resistance, other, share * load, drop
                )
            except ValueError:
                continue
            if found is not None:
                first = max(first, found.bulk1_max * (1.0 + _CREST_BETWEEN))
                second = max(second, found.bulk2_max * (1.0 + _CREST_BETWEEN))
    return first, second
