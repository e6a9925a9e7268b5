"""Periodic steady state of two bulk capacitors with a choke between them, with inductance ahead of the bridge.

    line - R, La - bridge - C1 - choke (L, RL) - C2 - P

The inductance of the mains and of a line choke holds the current back, then drives both capacitors on; with the choke
behind it there are two rings, and the currents may be a good deal larger than without it. State (j, v1, i, v2): line
current, first capacitor, choke current, second capacitor. While the bridge conducts or blocks the network is linear but
for the load, whose current is taken at the middle of a step; each step is exact otherwise.

Source: own derivation from Kirchhoff's laws; checked against an integrator of the test's own, which is held to ngspice,
in tests/circuit/test_choke_filter_inductance.py.
"""

from __future__ import annotations

import cmath
from collections.abc import Callable, Mapping
from functools import lru_cache
from math import acos, ceil, exp, log2, pi, sqrt

from derate.circuit.choke_filter import (
    _CLOSE,
    _MOVED,
    _RUNNING_RATIO,
    _SETTLED,
    _SMALL,
    FilterSteady,
    _matrix,
    _settled,
    _times,
    network,
    same,
)
from derate.circuit.filter_sweep import Network, Sums
from derate.circuit.numerics import fixed_point, in_range
from derate.circuit.rectifier import BRIDGE_DROP, STOP, about_the_valley
from derate.terms.values import Collapse

_HALVINGS = 5
_PER_RING = 10.0  # steps a ring: what is summed is summed with its slopes
_SHORTEST, _LONGEST = 4096.0, 48.0  # shares of a half cycle
_RUN_AWAY = 1e9  # [V] no load of that size is carried
_WALKED, _COUNTED = 60, 24
_TURNS = 2  # half cycles after which a small change must have become smaller: a large and a small pulse
State = tuple[float, float, float, float]
# one row a state: four of exp(A h), then of the line's sine and cosine, of the drop, of the load current
Row = tuple[float, float, float, float, float, float, float, float]
Step = tuple[Row, Row, Row, Row]


def filter_behind_inductance(
    mains: float,
    frequency: float,
    series_resistance: float,
    line_inductance: float,
    bulk1: float,
    inductance: float,
    choke_resistance: float,
    bulk2: float,
    load: float,
    drop: float = 0.0,
) -> FilterSteady | None:
    """Steady state with a load of constant power at the second capacitor.

    line_inductance: ahead of the bridge [H], 1e-6 to 0.1; the other arguments, ranges, what is returned and raised as
    `choke_filter.filter_steady_state`

    Source: module docstring.
    """
    in_range("load", load, 1e-3, 1e4, "W")
    in_range("line inductance", line_inductance, 1e-6, 0.1, "H")
    parts = (series_resistance, line_inductance, bulk1, inductance, choke_resistance, bulk2)
    return _steady(mains, frequency, *parts, load, drop)


@lru_cache(maxsize=256)
def _steady(
    mains: float,
    frequency: float,
    series_resistance: float,
    line_inductance: float,
    bulk1: float,
    inductance: float,
    choke_resistance: float,
    bulk2: float,
    load: float,
    drop: float,
) -> FilterSteady | None:
    net = network(mains, frequency, series_resistance, bulk1, inductance, choke_resistance, bulk2, drop, _RUNNING_RATIO)
    half = pi / net.omega
    walk = _Walk(net, line_inductance, load)
    total = bulk1 + bulk2
    valley = about_the_valley(mains, frequency, series_resistance, total, load, drop)
    v = net.crest - drop
    if valley is not None:
        wait = (pi / 2.0 - acos(min(1.0, (valley + drop) / net.crest))) / net.omega
        v = sqrt(valley * valley + 2.0 * load * wait / total)
    try:
        run = _run(walk, (0.0, v, load / v * bulk1 / total, v))
    except OverflowError:  # a voltage runs away within a step: no load of that size is carried
        run = None
    if run is None:
        return None
    sums, cycles = run
    half *= cycles
    line_rms, mean = sqrt(sums.line2 / half), sums.charge / half
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


def _run(walk: _Walk, start: State) -> tuple[Sums, int] | None:
    """Sums of the periodic state, and over how many half cycles; None where the load is not carried.

    Most filters have forgotten where they began after a half cycle, as in `choke_filter`.
    """
    first = walk.over(start, None)
    if first is not None and walk.away(start, first) < _CLOSE * first[3]:
        state = first
        for _ in range(2):
            sums = Sums()
            ended = walk.over(state, sums)
            if ended is None:
                break
            off, most = walk.away(state, ended), same(sums, walk.net.crest, min(walk.rings) * walk.load / state[3])
            if off < most:
                return (sums, 1) if walk.came_back(start, first, ended) or walk.comes_back(state) else _row(walk)
            if off > 20.0 * most:
                break
            state = ended
    found = walk.settle(start, first)
    if found is None:
        return None
    if not walk.comes_back(found):
        return _row(walk)
    sums = Sums()
    return None if walk.over(found, sums) is None else (sums, 1)


def _row(walk: _Walk) -> tuple[Sums, int] | None:
    """Sums of a row of half cycles, large and small pulses in turn; None where the load is not carried."""
    sums = Sums()
    state: State = (0.0, walk.net.crest, 0.0, walk.net.crest)
    for turn in range(_WALKED + _COUNTED):
        new = walk.over(state, sums if turn >= _WALKED else None)
        if new is None:
            return None
        state = new
    return sums, _COUNTED


class _Walk:
    """One supply; a half cycle runs from one zero crossing of the line to the next."""

    def __init__(self, net: Network, ahead: float, load: float) -> None:
        self.net, self.ahead, self.load = net, ahead, load
        half = pi / net.omega
        series = net.first * net.second / (net.first + net.second)
        rings = {False: net.inductance * series, True: min(net.inductance * series, ahead * net.first)}
        self.top: dict[bool, float] = {}
        for on, ring in rings.items():
            parts = min(max(_LONGEST, half * _PER_RING / (2.0 * pi * sqrt(ring))), _SHORTEST)
            self.top[on] = half / 2 ** ceil(log2(parts))
        self.lengths = {on: [top / 2**level for level in range(_HALVINGS + 1)] for on, top in self.top.items()}
        self.steps = {
            on: _ladder(
                on,
                net.resistance,
                ahead,
                net.first,
                net.inductance,
                net.choke_resistance,
                net.second,
                net.crest,
                net.drop,
                net.omega,
                self.top[on],
            )
            for on in (False, True)
        }

    @property
    def rings(self) -> tuple[float, float]:
        """Impedances of the ring of the choke with both capacitors, and of the line with the first [ohm]."""
        net = self.net
        return sqrt(net.inductance / net.first + net.inductance / net.second), sqrt(self.ahead / net.first)

    def away(self, one: State, other: State) -> float:
        """How far apart two states are [V], currents by the impedances of their rings."""
        choke, line = self.rings
        volts = max(abs(other[1] - one[1]), abs(other[3] - one[3]))
        return max(volts, abs(other[0] - one[0]) * line, abs(other[2] - one[2]) * choke)

    def came_back(self, start: State, first: State, ended: State) -> bool:
        """As `choke_filter` asks it: whether the charge that a half cycle moved was as good as gone in it."""
        net = self.net
        charge = abs(net.first * (first[1] - start[1]) + net.second * (first[3] - start[3]))
        moved = charge / (net.first + net.second)
        return moved > _MOVED * first[3] and self.away(first, ended) < _SETTLED * moved

    def settle(self, start: State, first: State | None) -> State | None:
        """The state that comes back after a half cycle; None when the load collapses.

        first: what a half cycle makes of the start.
        """
        net = self.net
        choke, line = self.rings
        begun = (start[0] * line, start[1], start[2] * choke, start[3])

        def advance(x: tuple[float, ...]) -> tuple[float, ...] | None:
            new = first
            if x != begun:
                new = self.over((max(x[0], 0.0) / line, x[1], x[2] / choke, x[3]), None)
            return None if new is None else (new[0] * line, new[1], new[2] * choke, new[3])

        try:
            found = fixed_point(advance, begun, _SMALL * net.crest, 0.3 * net.crest, 0)
        except ValueError:
            found = None
        if found is not None:
            return max(found[0], 0.0) / line, found[1], found[2] / choke, found[3]
        state: State | None = (0.0, net.crest, 0.0, net.crest)
        for _ in range(_WALKED):
            state = self.over(state, None) if state is not None else None
        return state

    def comes_back(self, found: State) -> bool:
        """Whether the state settles of itself: moved by a thousandth it is nearer again a few half cycles later.

        What is a tenth of the way off already after the first has settled, as in `choke_filter`.
        """
        choke, line = self.rings
        most = 0.001 * max(found[1], found[3])
        moved: State = (found[0], 0.999 * found[1], found[2], 0.999 * found[3])
        for _ in range(_TURNS):
            new = self.over(moved, None)
            if new is None:
                return False
            moved = new
            away = max(abs(moved[1] - found[1]), abs(moved[3] - found[3]))
            driven = max(abs(moved[0] - found[0]) * line, abs(moved[2] - found[2]) * choke)
            if max(away, driven) < _SETTLED * most:
                return True
        return away < most

    def over(self, state: State, sums: Sums | None) -> State | None:
        """A half cycle from a zero crossing on; None when the second capacitor falls too deep."""
        net, ahead, load = self.net, self.ahead, self.load
        crest, omega, drop = net.crest, net.omega, net.drop
        second, stop = net.second, STOP * net.crest
        half, fast = pi / omega, ahead / net.resistance
        j, v1, i, v2 = state
        t, began = 0.0, 0.0
        on = j > 0.0
        sign = -1.0 if on else 1.0  # what still flows is of the half cycle before
        q = load / v2
        if sums is not None:
            _extremes(sums, v1, i, v2)
        s, c = 0.0, 1.0
        lengths, steps = self.lengths[on], self.steps[on]
        while t < half * (1.0 - 1e-9):
            if not on and crest * s - drop > v1:
                on, began, sign = True, t, 1.0
                lengths, steps = self.lengths[True], self.steps[True]
            level = 0
            if on and t - began < 6.0 * fast:  # the current's own rise, which may be much shorter than any ring
                while level < _HALVINGS and lengths[0] > 0.7 * fast * 2**level:
                    level += 1
            left = (half - t) * (1.0 + 1e-6)
            while level < _HALVINGS and lengths[level] > left:
                level += 1
            while True:
                h = lengths[level]
                current = load / (v2 + 0.5 * h * (i - q) / second)
                turned = cmath.rect(1.0, omega * (t + h))  # cosine and sine in one call: this is the inner loop
                c1, s1 = turned.real, turned.imag
                if on:
                    rj, r1, ri, r2 = steps[level]
                    sc, ss = sign * c, sign * s
                    a, b, d, e, k, m, n, g = rj
                    jn = a * j + b * v1 + d * i + e * v2 + k * sc + m * ss + n + g * current
                    a, b, d, e, k, m, n, g = r1
                    w1 = a * j + b * v1 + d * i + e * v2 + k * sc + m * ss + n + g * current
                    a, b, d, e, k, m, n, g = ri
                    wi = a * j + b * v1 + d * i + e * v2 + k * sc + m * ss + n + g * current
                    a, b, d, e, k, m, n, g = r2
                    w2 = a * j + b * v1 + d * i + e * v2 + k * sc + m * ss + n + g * current
                    crossed = jn < 0.0
                else:  # nothing flows from the line, and nothing is forced
                    jn = 0.0
                    _, r1, ri, r2 = steps[level]
                    w1 = r1[1] * v1 + r1[2] * i + r1[3] * v2 + r1[7] * current
                    wi = ri[1] * v1 + ri[2] * i + ri[3] * v2 + ri[7] * current
                    w2 = r2[1] * v1 + r2[2] * i + r2[3] * v2 + r2[7] * current
                    crossed = crest * s1 - drop > w1
                if not crossed or level == _HALVINGS:
                    break
                level += 1
            ends = on and jn <= 0.0
            if jn < 0.0:
                jn = 0.0
            if sums is not None:
                lines = (sign * c, sign * s, sign * c1, sign * s1)
                self._sum(sums, h, (j, v1, i, v2), (jn, w1, wi, w2), lines, current, on)
            if ends:
                on, jn, sign = False, 0.0, 1.0
                lengths, steps = self.lengths[False], self.steps[False]
            j, v1, i, v2, q, t, s, c = jn, w1, wi, w2, current, t + h, s1, c1
            if not stop <= v2 < _RUN_AWAY or v1 < -drop - 1.0 and v2 < 2.0 * stop:
                return None
        return j, v1, i, v2

    def _sum(
        self,
        sums: Sums,
        h: float,
        old: State,
        new: State,
        lines: tuple[float, float, float, float],
        current: float,
        on: bool,
    ) -> None:
        """What one step adds, by the values and slopes at both ends, and its extremes."""
        net, half, sixth = self.net, 0.5 * h, h * h / 6.0
        j0, v1, i0, v2 = old
        j1, w1, i1, w2 = new
        di0 = (v1 - v2 - net.choke_resistance * i0) / net.inductance
        di1 = (w1 - w2 - net.choke_resistance * i1) / net.inductance
        dj0 = dj1 = 0.0
        if on:
            c0, s0, c1, s1 = lines
            dj0 = (net.crest * s0 - net.drop - net.resistance * j0 - v1) / self.ahead
            dj1 = (net.crest * s1 - net.drop - net.resistance * j1 - w1) / self.ahead
            sums.line2 += half * (j0 * j0 + j1 * j1) + sixth * (j0 * dj0 - j1 * dj1)
            sums.charge += half * (j0 + j1) + 0.5 * sixth * (dj0 - dj1)
            e0, e1 = s0 * dj0 + net.omega * c0 * j0, s1 * dj1 + net.omega * c1 * j1
            sums.line_energy += net.crest * (half * (s0 * j0 + s1 * j1) + 0.5 * sixth * (e0 - e1))
            peak = _greatest(j0, j1, dj0, dj1, h)
            if peak > sums.line_peak:
                sums.line_peak = peak
        a0, a1, b0, b1 = j0 - i0, j1 - i1, i0 - current, i1 - current
        sums.first2 += half * (a0 * a0 + a1 * a1) + sixth * (a0 * (dj0 - di0) - a1 * (dj1 - di1))
        sums.second2 += half * (b0 * b0 + b1 * b1) + sixth * (b0 * di0 - b1 * di1)
        sums.choke2 += half * (i0 * i0 + i1 * i1) + sixth * (i0 * di0 - i1 * di1)
        sums.v2_sum += half * (v2 + w2)
        # The beginning of the step was the end of the one before: its end, and a vertex where the slope changes sign.
        if w1 > sums.v1_high:
            sums.v1_high = w1
        if w1 < sums.v1_low:
            sums.v1_low = w1
        if a0 * a1 < 0.0:
            turn = _turn(v1, w1, a0 / net.first, a1 / net.first, h)
            sums.v1_high, sums.v1_low = max(sums.v1_high, turn), min(sums.v1_low, turn)
        if w2 > sums.v2_high:
            sums.v2_high = w2
        if w2 < sums.v2_low:
            sums.v2_low = w2
        if b0 * b1 < 0.0:
            turn = _turn(v2, w2, b0 / net.second, b1 / net.second, h)
            sums.v2_high, sums.v2_low = max(sums.v2_high, turn), min(sums.v2_low, turn)
        flow = abs(i1)
        if flow > sums.choke_peak:
            sums.choke_peak = flow
        if di0 * di1 < 0.0:
            sums.choke_peak = max(sums.choke_peak, abs(_turn(i0, i1, di0, di1, h)))


def _extremes(sums: Sums, v1: float, i: float, v2: float) -> None:
    sums.v1_high, sums.v1_low = max(sums.v1_high, v1), min(sums.v1_low, v1)
    sums.v2_high, sums.v2_low = max(sums.v2_high, v2), min(sums.v2_low, v2)
    sums.choke_peak = max(sums.choke_peak, abs(i))


def _greatest(y0: float, y1: float, slope0: float, slope1: float, h: float) -> float:
    """The greater end of a step, or the vertex between them from the slopes at both (a parabola)."""
    top = y0 if y0 > y1 else y1
    if slope0 > 0.0 > slope1:
        top = max(top, _turn(y0, y1, slope0, slope1, h))
    return top


def _turn(y0: float, y1: float, slope0: float, slope1: float, h: float) -> float:
    """Where a step turns between slopes of unlike sign: the vertex of the parabola from its nearer end."""
    u = slope0 / (slope0 - slope1)
    return y0 + 0.5 * slope0 * u * h if u < 0.5 else y1 - 0.5 * slope1 * (1.0 - u) * h


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
    """Exact steps for h = longest, longest / 2, ..

    The free part is a scaled Taylor series, then squared; what the line forces is the settled sinusoid at the end less
    the one at the beginning carried on; the drop is a line that stands still; of the load current it is the integral of
    the free part.
    """
    a = _matrix(on, r, la, c1, lc, rl, c2)
    balance = (1.0, 1.0 / 30.0, 1.0, 1.0 / 30.0)  # volts against amperes
    norm = max(sum(abs(a[k][m]) * balance[k] / balance[m] for m in range(4)) for k in range(4))
    h = longest / 2**_HALVINGS
    extra = max(0, ceil(log2(max(norm * h / 0.25, 1e-9))))
    h /= 2**extra
    total = [tuple(float(k == m) for m in range(4)) for k in range(4)]
    term = total
    push = (0.0, 0.0, 0.0, -h / c2)
    pushed = list(push)
    for n in range(1, 11):
        share = h / n
        term = [tuple(x * share for x in row) for row in _times(term, a)]
        total = [tuple(x + y for x, y in zip(p, q, strict=True)) for p, q in zip(total, term, strict=True)]
        pushed = [x + row[3] * push[3] / (n + 1) for x, row in zip(pushed, term, strict=True)]
    forced = _settled(r, la, c1, lc, rl, c2, crest, omega) if on else (0j,) * 4
    rest = (0.0, -drop, 0.0, -drop) if on else (0.0,) * 4
    found: list[Step] = []
    for level in range(extra + _HALVINGS + 1):
        if level >= extra:
            turn = cmath.exp(1j * omega * h)
            rows: list[Row] = []
            for k, (p, q, u, v) in enumerate(total):
                z = turn * forced[k] - (p * forced[0] + q * forced[1] + u * forced[2] + v * forced[3])
                still = rest[k] - (p * rest[0] + q * rest[1] + u * rest[2] + v * rest[3])
                rows.append((p, q, u, v, z.real, -z.imag, still, pushed[k]))
            found.append((rows[0], rows[1], rows[2], rows[3]))
        pushed = [
            x + row[0] * pushed[0] + row[1] * pushed[1] + row[2] * pushed[2] + row[3] * pushed[3]
            for x, row in zip(pushed, total, strict=True)
        ]
        total = _times(total, total)
        h *= 2.0
    return found[::-1]


_NEGLIGIBLE = 1e-6  # [H]: below it nothing but the first microseconds of a pulse changes
# Between the inductances that are tried, and from one corner of the parts to another, a figure may move so much further
# (tests/stress/test_line_comparisons.py).
BETWEEN = 0.03
KIND_BETWEEN = 0.05  # the least of a current lies so much below the two corners that are run for it
STEADY_BETWEEN = (0.005, 0.005)  # of a valley or a mean, which no ring moves
_RINGS_ON = 0.005  # of a ring of the choke that is left a half cycle later: below it no pulse meets the one before
RINGING_BETWEEN = 0.06  # where one does, a current may stand so much above the points that are walked through
RINGING_STEADY = 0.02  # and a valley or a mean so much beside them
_MOST_POINTS = 12
Filters = dict[str, float]


def inductances(least: float, most: float, exact: bool, ringing: bool) -> tuple[float, ...]:
    """The inductances that are tried between two [H]; 0 where there may be none to speak of."""
    if exact and least == most:
        return (least if least >= _NEGLIGIBLE else 0.0,)
    steps = (most / 12.0, most / 3.5, most) if ringing else (most / 3.5, most)
    inside = [one for one in steps if least < one and one >= _NEGLIGIBLE]
    return (least if least >= _NEGLIGIBLE else 0.0, *inside)


def with_and_without(point: Filters, henries: float, bare: Callable[..., FilterSteady]) -> FilterSteady:
    """The steady state behind an inductance [H], 0 for none; raises: Collapse where the load is not carried."""
    if henries == 0.0:
        return bare(**point)
    found = filter_behind_inductance(line_inductance=henries, **point, drop=BRIDGE_DROP)
    if found is None:
        raise Collapse("the bulk capacitors cannot carry this load behind so much inductance")
    return found


def rings_on(point: Filters, most_inductance: float, least_resistance: float) -> bool:
    """Whether a ring of the choke [H], damped by its own resistance [ohm], lasts from one pulse to the next."""
    return exp(-0.25 * least_resistance / (point["frequency"] * most_inductance)) > _RINGS_ON


def along(ends: Mapping[str, tuple[float, float]], point: Filters) -> list[Filters]:
    """Points from the least to the greatest of the choke and of both capacitors, together and against each other.

    The number of rings in a half cycle is passed in steps of a quarter: a ring that meets the next pulse in step with
    it is worst somewhere inside.
    """

    def at(share: float, against: bool) -> Filters:
        shares = {name: 1.0 - share if against and name == "bulk2" else share for name in ends}
        return {**point, **{name: low + shares[name] * (high - low) for name, (low, high) in ends.items()}}

    def rings(one: Filters) -> float:
        series = one["bulk1"] * one["bulk2"] / (one["bulk1"] + one["bulk2"])
        return 0.5 / one["frequency"] / (2.0 * pi * sqrt(one["inductance"] * series))

    found = []
    for against in (False, True):
        passed = abs(rings(at(0.0, against)) - rings(at(1.0, against)))
        count = min(_MOST_POINTS, max(3, 1 + ceil(4.0 * passed)))
        found += [at(k / (count - 1), against) for k in range(count)]
    return found
