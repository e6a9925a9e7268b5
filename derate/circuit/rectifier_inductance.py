"""Periodic steady state of a mains rectifier with inductance ahead of it, one bulk capacitor, constant-power load.

Full bridge or one diode (half wave). Two states, the bulk voltage v and the line current i:

    conducting   L di/dt = Vp cos(wt) - Vd - R i - v,    C dv/dt = i - P/v
    blocked      C dv/dt = -P/v, so v^2 falls in a straight line

The inductance holds the current back, then drives it on past the crest: the bulk is charged above the crest of the
mains, and the current may come in several pulses a half cycle. A conduction arc is cut into pieces; in each the load
current is replaced by its tangent, so that the bulk voltage is a sinusoid and two exponentials. A state that comes back
after one period is searched for; where none does (pulses of unequal size), a row of periods is walked and counted.

Source: own derivation from Kirchhoff's laws; checked against an integrator of the test's own, which is held to ngspice,
in tests/circuit/test_rectifier_inductance.py.
"""

from __future__ import annotations

from cmath import rect
from collections.abc import Callable
from functools import lru_cache, partial
from math import asin, cos, exp, log, pi, sin, sqrt
from typing import Any

from derate.circuit.numerics import fixed_point, in_range
from derate.circuit.rectifier import STOP, Rectified, _Arc, add_piece, steady_state
from derate.terms.values import Collapse

# Pieces of a conduction arc from its beginning to the crest. Against 80 of them, over 400 random supplies, all but ten
# have a current within 0.01 % and a mean within 0.03 %, with 20 pieces as with these: the rest swing back and forth.
PIECES = 12
_SMALL = 1e-6  # change of the bulk voltage from period to period that counts as none, in crests
_TURNS = 5  # periods that a search by secants is given before it is made with care
_CORRECTED = 5  # times that the period which is summed may be walked until it ends where it began
_MOVED, _STEADY = 1e-4, 0.98  # a change of the state, and the share of it that may be left a period later
_RUN_AWAY = 1e6  # of the crest: no load of that size is carried
_WALKED, _COUNTED = 80, 48  # periods walked before and while counting where no state repeats
_BESIDE = pi / 2.0  # a period begins at the zero crossing of the line, phase being counted from its crest
State = tuple[float, float]  # bulk voltage in crests, line current in crests times w C


def steady_state_with_inductance(
    mains: float,
    frequency: float,
    series_resistance: float,
    inductance: float,
    capacitance: float,
    load: float,
    drop: float = 0.0,
    *,
    half_wave: bool = False,
) -> Rectified | None:
    """Steady state with inductance between the mains and the rectifier.

    inductance: all of it [H], 0 to 0.1; the other arguments, ranges, what is returned and raised as `steady_state`.

    Source: module docstring.
    """
    in_range("line inductance", inductance, 0.0, 0.1, "H")
    plain = steady_state(mains, frequency, series_resistance, capacitance, 0.0, drop, half_wave=half_wave)
    if load == 0.0:
        return plain
    in_range("load", load, 1e-6, 1e4, "W")
    omega = 2.0 * pi * frequency
    rho, lam = omega * series_resistance * capacitance, omega * omega * inductance * capacitance
    if lam < 1e-4 * rho and lam < 0.01 * rho * rho:  # a current that follows within a ten thousandth of a radian
        return steady_state(mains, frequency, series_resistance, capacitance, load, drop, half_wave=half_wave)
    crest = sqrt(2.0) * mains
    unit = omega * capacitance * crest
    walk = _Walk(rho, lam, load / (unit * crest), drop / crest, half_wave)
    try:
        found = _settled(walk)
    except OverflowError:  # the bulk runs away within a piece: no load of that size is carried
        found = None
    if found is None:
        return None
    arc, periods = found
    span = periods * walk.period
    mean, rms, diodes = arc.charge / span * unit, sqrt(arc.square / span) * unit, 1.0 if half_wave else 2.0
    return Rectified(
        bulk_max=arc.high * crest,
        bulk_min=arc.low * crest,
        bulk_mean=arc.bulk / span * crest,
        line_rms=rms,
        line_peak=arc.peak * unit,
        capacitor_rms=sqrt(arc.ripple / span) * unit,
        diode_average=mean / diodes,
        diode_rms=rms / sqrt(diodes),
        diode_peak=arc.peak * unit,
        diode_reverse=crest * (1.0 + max(arc.high, 1.0)) if half_wave else arc.high * crest + drop / 2.0,
        conduction_angle=walk.conducted / periods,
        line_power=arc.real / span * unit * crest,
        resistor_power=series_resistance * rms * rms,
        diode_power=drop * mean,
    )


def _settled(walk: _Walk) -> tuple[_Arc, int] | None:
    """Sums of the periodic state, and over how many periods; None where the load is not carried."""
    power = walk.power
    start = (sqrt(max((1.0 - walk.delta) ** 2 - power * (pi - 2.0 * asin(min(1.0, power))), STOP * STOP)), 0.0)
    arc = _soon(walk, start[0])
    if arc is not None:
        return arc, 1
    walk.conducted = 0.0
    arc, periods = _Arc(), 1
    try:
        found = fixed_point(lambda x: walk.over((x[0], max(x[1], 0.0)), None), start, _SMALL, 0.3, 0)
    except ValueError:
        found = None
    if found is None or not _comes_back(walk, found):  # large and small pulses in turn, or collapse
        found, periods = start, _COUNTED
        for _ in range(_WALKED):
            found = walk.over(found, None) if found is not None else None
    if found is None:
        return None
    state: State | None = (found[0], max(found[1], 0.0))
    if periods == 1:
        return _closed(walk, state)
    for _ in range(periods):
        state = walk.over(state, arc) if state is not None else None
    return None if state is None else (arc, periods)


def _closed(walk: _Walk, state: State | None) -> tuple[_Arc, int] | None:
    """Sums of a period from a state that comes back: walked in shorter pieces, until it ends where it began."""
    arc = None
    for _ in range(_CORRECTED):
        if state is None:
            return None
        begun, arc, walk.conducted = state, _Arc(), 0.0
        state = walk.over(begun, arc)
        if state is not None and abs(state[0] - begun[0]) <= 0.5 * _SMALL:
            break
    return None if arc is None or state is None else (arc, 1)


def _soon(walk: _Walk, u: float) -> _Arc | None:
    """Sums of the periodic state where no current flows at its ends and secants find it at once; else None.

    The sums' own period shows that it comes back, to half of what a search calls no change and a ten-thousandth of what
    the bulk falls by, and those tried before it that it settles of itself: what one of them was off by, a hundredth at
    most, is half gone after it.
    """
    tried: list[tuple[float, float]] = []
    for turn in range(_TURNS):
        new = walk.over((u, 0.0), None)
        if new is None or new[1] > 0.0:
            return None
        tried.append((u, new[0]))
        g, at = new[0] - u, new[0]
        if turn:
            u_old, new_old = tried[-2]
            g_old = new_old - u_old
            if g != g_old:
                at = u - g * (u - u_old) / (g - g_old)
            if abs(at - u) > 0.1:
                return None
            if g * g < 0.5 * _SMALL * abs(g_old):  # the next is as far off as this is of the one before
                return _summed(walk, at, (g - g_old) / (u - u_old), tried) if g != g_old else None
        u = at
    return None


def _summed(walk: _Walk, u: float, slope: float, tried: list[tuple[float, float]]) -> _Arc | None:
    """Sums of the state near u that comes back; None where it is not found at once, or does not settle.

    What is summed is walked in shorter pieces than those tried, and may so end a little beside them: from there on
    it is corrected by the slope that they had of what a period moves the bulk by.
    """
    for _ in range(_CORRECTED):
        walk.conducted, arc = 0.0, _Arc()
        ended = walk.over((u, 0.0), arc)
        if ended is None or ended[1] > 0.0:
            return None
        off = ended[0] - u
        if abs(off) <= min(0.5 * _SMALL, 1e-4 * (arc.high - arc.low)):
            settles = any(abs(after - u) + _SMALL < 0.5 * abs(begun - u) < 0.005 for begun, after in tried)
            return arc if settles or _comes_back(walk, (u, 0.0)) else None
        u -= off / slope
    return None


def _comes_back(walk: _Walk, found: tuple[float, ...]) -> bool:
    """Whether the state settles of itself: moved by a little it is nearer again after a period."""
    state = (found[0], max(found[1], 0.0))
    moved = walk.over((state[0] * (1.0 - _MOVED), state[1]), None)
    return moved is not None and abs(moved[0] - state[0]) < _STEADY * _MOVED * state[0]


class _Walk:
    """One supply in units of the crest, of w C Vp and of line phase. Not frozen: it sums the angle of conduction."""

    def __init__(self, rho: float, lam: float, power: float, delta: float, half_wave: bool) -> None:
        self.rho, self.lam, self.power, self.delta = rho, lam, power, delta
        self.half_wave = half_wave
        self.period = 2.0 * pi if half_wave else pi
        self.conducted = 0.0
        self.entry = 0.0  # the last phase at which the line met the bulk: the next lies near it
        self.ring = sqrt(lam)
        damping = rho / (2.0 * lam)
        swings = damping * self.ring < 1.0
        self.finest = 0.4 * self.ring if swings else 0.5 * rho
        self.rung_out = 7.0 / damping if swings else 0.0  # after so long nothing is left of the ring

    def over(self, state: tuple[float, ...], arc: _Arc | None) -> State | None:
        """From one zero crossing of the line over a period; None when the bulk falls too deep."""
        u, j = state
        theta, end = -_BESIDE, self.period - _BESIDE
        if j > 0.0:  # the current of the half cycle before has not ended yet
            ended = self._conduct(theta, u, j, 1.0 if self.half_wave else -1.0, end, arc)
            if ended is None:
                return None
            theta, u, j = ended
        while theta < end:
            entry = self._block(theta, u, end)
            stop = end if entry is None else entry
            square = u * u - 2.0 * self.power * (stop - theta)
            if square < STOP * STOP:
                return None
            new = sqrt(square)
            if arc is not None:
                arc.bulk += 2.0 / 3.0 * (stop - theta) * (u * u + u * new + new * new) / (u + new)
                arc.ripple += self.power * log(u / new)
                arc.high, arc.low = max(arc.high, u), min(arc.low, new)
            theta, u = stop, new
            if entry is None:
                break
            ended = self._conduct(theta, u, 0.0, 1.0, end, arc)
            if ended is None:
                return None
            theta, u, j = ended
        return u, j

    def _block(self, theta: float, u: float, end: float) -> float | None:
        """Phase at which the line next rises to the discharging bulk, None when it does not before the end."""
        power, delta, square = self.power, self.delta, u * u
        if cos(theta) - delta > u:
            return theta
        # the gap between bulk and line is least where the line falls as fast as the bulk: a little past the crest
        least = 0.0
        for _ in range(8):
            rest = square - 2.0 * power * (least - theta)
            if rest <= power * power:
                least = max(0.0, theta + square / (2.0 * power))  # it would be empty by then: the line is met before
                break
            old, least = least, asin(power / sqrt(rest))
            if -1e-9 < least - old < 1e-9:
                break
        if least <= theta:
            return None
        if least > end:
            least = end
        rest = square - 2.0 * power * (least - theta)
        if (sqrt(rest) if rest > 0.0 else 0.0) + delta - cos(least) >= 0.0:
            return None
        low, high = theta, least
        x = self.entry if low < self.entry < high else 0.5 * (low + high)
        for _ in range(60):
            rest = square - 2.0 * power * (x - theta)
            v = sqrt(rest) if rest > 0.0 else 0.0
            line = rect(1.0, x)
            now = v + delta - line.real
            if now > 0.0:
                low = x
            else:
                high = x
            slope = line.imag - power / v if v > 0.0 else 0.0
            new = x - now / slope if slope < 0.0 else low
            if not low < new < high:
                new = 0.5 * (low + high)
            if -1e-12 <= new - x <= 1e-12:
                x = new
                break
            x = new
        self.entry = x
        return x

    def _conduct(
        self, theta: float, u: float, j: float, sign: float, end: float, arc: _Arc | None
    ) -> tuple[float, float, float] | None:
        """While the rectifier conducts on a line sign × cos: phase, bulk voltage and current where it stops."""
        rho, lam, power, delta = self.rho, self.lam, self.power, self.delta
        began = theta
        full = max(-theta, 0.3 if j > 0.0 else 0.0) / PIECES or self.finest
        finest = self.finest
        full = min(max(full, 1e-5), 0.08)
        if arc is None:  # every piece is exact but for the load's tangent: only what is summed needs short ones
            full, finest = 3.0 * full, 3.0 * finest
        h = min(full, finest)
        first = j == 0.0
        c, s = cos(theta), sin(theta)
        while True:
            if h > end - theta:
                h = end - theta
            w = u + 0.5 * h * (j - power / u)
            kappa = power / (w * w)
            a1, a0 = rho - lam * kappa, 1.0 - rho * kappa
            base = -(delta + 2.0 * power * rho / w) / a0
            size = sign / ((a0 - lam) ** 2 + a1 * a1)
            even, odd = (a0 - lam) * size, a1 * size  # of the forced part: even cos + odd sin
            rate = j - 2.0 * power / w + kappa * u
            y0 = u - even * c - odd * s - base
            y1 = rate - odd * c + even * s
            alpha = -0.5 * a1 / lam
            square = alpha * alpha
            below = a0 / lam - square
            least = 1e-7 * square
            if -least < below < least:
                below = least  # exactly critical damping has no pair of exponentials
            turned = rect(1.0, theta + h)  # cosine and sine in one call: this is the inner loop
            c1, s1 = turned.real, turned.imag
            if below > 0.0:
                one, other = alpha, sqrt(below)  # rate and ring
                k0, k1 = y0, (y1 - one * y0) / other
                ring = rect(exp(one * h), other * h)
                cb, sb = ring.real, ring.imag
                y = k0 * cb + k1 * sb
                dy = one * y + other * (k1 * cb - k0 * sb)
            else:
                other = alpha - sqrt(-below)  # the faster of two rates
                one = a0 / lam / other
                k1 = (y1 - one * y0) / (other - one)
                k0 = y0 - k1
                cb, sb = k0 * exp(one * h), k1 * exp(other * h)
                y, dy = cb + sb, one * cb + other * sb
            u1 = y + even * c1 + odd * s1 + base
            j1 = dy - even * s1 + odd * c1 + 2.0 * power / w - kappa * u1
            piece = (theta, sign, below > 0.0, one, other, k0, k1, even, odd, base, 2.0 * power / w, kappa)
            done = j1 <= 0.0 and not first
            line = sign * c1
            if done:
                h, line, u1 = current_ends(partial(_inside, piece), h, j, j1, (lam, rho, delta))
            if j1 < 0.0 or done:
                j1 = 0.0
            if arc is not None:
                add_piece(arc, h, (sign * c, u, j), _inside(piece, 0.5 * h), (line, u1, j1), power)
            theta, u, j, c, s = theta + h, u1, j1, c1, s1
            if not STOP <= u < _RUN_AWAY:  # nor may it run away, or be no number: a piece of that would never end
                return None
            if done or theta >= end - 1e-12:
                self.conducted += theta - began if arc is not None else 0.0
                return (end if not done else theta), u, j
            first = False
            most = full if full < finest or theta - began > self.rung_out else finest
            h *= 1.5
            if h > most:
                h = most


Piece = tuple[float, float, bool, float, float, float, float, float, float, float, float, float]


def _inside(piece: Piece, x: float) -> tuple[float, float, float]:
    """Line, bulk voltage and current, x after the beginning of a piece of conduction."""
    theta, sign, swings, one, other, k0, k1, even, odd, base, drawn, kappa = piece
    turned = rect(1.0, theta + x)
    c, s = turned.real, turned.imag
    if swings:
        ring = rect(exp(one * x), other * x)
        cb, sb = ring.real, ring.imag
        y = k0 * cb + k1 * sb
        dy = one * y + other * (k1 * cb - k0 * sb)
    else:
        slow, fast = k0 * exp(one * x), k1 * exp(other * x)
        y, dy = slow + fast, one * slow + other * fast
    u = y + even * c + odd * s + base
    return sign * c, u, dy - even * s + odd * c + drawn - kappa * u


def current_ends(
    at: Callable[[float], tuple[float, float, float]], h: float, j: float, end: float, mesh: tuple[float, float, float]
) -> tuple[float, float, float]:
    """Where the current of a piece stops: how far inside it, and line and bulk voltage there.

    at: line, bulk voltage and current so far after the beginning of the piece; h: its length; j, end: current at the
    beginning, and at the end, where it is nought or less; mesh: inductance, resistance and drop of the loop, which
    give the slope of the current from those three. By Newton's method held inside the piece, from the chord's end.
    """
    inductance, resistance, drop = mesh
    low, high = 0.0, h
    x = h * j / (j - end) if j > 0.0 else 0.5 * h
    for _ in range(60):
        line, bulk, now = at(x)
        if -1e-9 < now < 1e-9 or high - low < 1e-13:
            break
        low, high = (x, high) if now > 0.0 else (low, x)
        slope = (line - drop - resistance * now - bulk) / inductance
        x = x - now / slope if slope < 0.0 else low
        if not low < x < high:
            x = 0.5 * (low + high)
    return x, line, bulk


# The rectifier over a range of inductance ahead of it: the greatest, or the least, of every figure.
#
# A little inductance makes the line current larger (it rings with the bulk capacitor), much makes it smaller: the worst
# lies at one end or inside. From the greatest inductance down the current rises to one hump and falls again, so it
# is walked down by steps until it has fallen, and between the steps beside the best.
#
# Source: own derivation; the hump over random supplies in tests/circuit/test_rectifier_inductance.py.


_STEP = 1.7  # ratio from one inductance to the next
_LEAST = 1.0 / 300.0  # of the greatest inductance: below it nothing but the end itself is tried
_FALLS = 3  # steps in turn that have to fall before the hump is behind
# Damped so far, of critical, the current comes in one pulse and its figures move smoothly with the inductance: the
# vertex of a parabola is the hump. Where nothing is damped more than half of that, humps have corners.
_DAMPED = 0.2
_AS_GOOD = 5e-4  # what such a vertex has to promise above the best, as a fraction, to be tried
_BESIDE_ANOTHER = 0.05  # and how far from what was tried it has to lie, in the logarithm
_COLLAPSES = "the bulk capacitor cannot carry this load: the voltage collapses between two crests"
Solve = Callable[[float], Any]


def over_inductance(
    solve: Solve, one: float, other: float, climbed: tuple[str, ...], smooth: float = 0.0
) -> dict[str, float]:
    """Every figure over the inductances between two [H]: the greatest where one <= other, the least otherwise.

    solve: of one inductance, a named tuple of figures or None where the load is not carried; climbed: figures whose
    hump is looked for; smooth: up to which inductance the ring is damped so far that a hump has no corners [H]
    raises: Collapse where the load is not carried at any of them
    """
    if one == other:
        tried = [solve(one)]
    elif one < other:
        tried = _climb(solve, one, other, climbed, smooth)
    else:
        tried = [solve(x) for x in (one, one / 4.0, other) if x >= other]
    if None in tried:
        raise Collapse(_COLLAPSES)
    pick = max if one <= other else min
    return dict(zip(tried[0]._fields, map(pick, zip(*tried, strict=True)), strict=True))


def _climb(solve: Solve, least: float, most: float, climbed: tuple[str, ...], smooth: float) -> list[Any]:
    at, known = [most], {most: solve(most)}
    falls = dict.fromkeys(climbed, 0)
    while min(falls.values()) < _FALLS and at[-1] > max(least, most * _LEAST):
        x = at[-1] / _STEP
        if x <= max(least, most * _LEAST):
            x = least
        known[x] = solve(x)
        if known[x] is None or known[at[-1]] is None:
            break
        for name in climbed:
            falls[name] = falls[name] + 1 if getattr(known[x], name) <= getattr(known[at[-1]], name) else 0
        at.append(x)
    if least not in known:
        known[least] = solve(least)
    if None in known.values():
        return list(known.values())
    for name in climbed:
        for _ in range(3):
            for x in _beside_the_best({one: getattr(figures, name) for one, figures in known.items()}, smooth):
                known[x] = solve(x)
                if known[x] is None:  # not carried between two that carry it: not carried over the range
                    return [None]
    return list(known.values())


def _beside_the_best(found: dict[float, float], smooth: float) -> list[float]:
    """Inductances [H] at which a figure may stand higher than at those tried.

    Where the ring is damped one at most: the vertex of the parabola over the logarithm of the inductance through the
    best and those beside it, unless it promises next to nothing. Else halfway to both of those beside it.
    """
    order = sorted(found)
    k = max(range(len(order)), key=lambda n: found[order[n]])
    first = min(max(k - 1, 0), len(order) - 3)
    if first >= 0 and order[first + 2] <= smooth:
        if order[k] == 0.0 and found[order[1]] > found[0.0] * (1.0 - _AS_GOOD):
            return []  # a three-hundredth of the greatest inductance is as good as none
        if order[first] > 0.0:
            return _vertex_over(order[first : first + 3], found)
    beside = [n for n in (k - 1, k + 1) if 0 <= n < len(order) and order[n] > 0.0 and order[k] != order[n]]
    apart = [order[n] for n in beside if max(order[k], order[n]) > 1.05 * min(order[k], order[n])]
    return [(order[k] * x) ** 0.5 if order[k] > 0.0 else 0.5 * x for x in apart]


def _vertex_over(three: list[float], found: dict[float, float]) -> list[float]:
    """The inductance of the vertex of the parabola over the logarithm of three; none where it is as good as known."""
    a, b, c = three
    middle, end = log(b / a), log(c / a)
    to_middle, to_end = (found[b] - found[a]) / middle, (found[c] - found[a]) / end
    bend = (to_end - to_middle) / (end - middle)
    slope = to_middle - bend * middle
    if bend >= 0.0 or not 0.0 < slope < -2.0 * bend * end:
        return []  # no hump between them
    top = found[a] - slope * slope / (4.0 * bend)
    x = a * exp(-slope / (2.0 * bend))
    near = min(abs(log(x / one)) for one in three) < _BESIDE_ANOTHER
    return [] if near or top < max(found.values()) * (1.0 + _AS_GOOD) else [x]


def bridge_over_ranges(
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
    half_wave: bool = False,
) -> dict[str, float]:
    """Steady state of bridge or diode over a range of inductance and one of capacitance.

    Both ranges from the lesser to the greater give the greatest of every figure, both backwards the least. The hump
    that a capacitance has at one inductance lies inside its range too: the middle is tried beside the ends.

    inductance_from, inductance_to: ahead of the rectifier [H], 0 to 0.1; capacitance_from, capacitance_to: bulk [F];
    the other arguments as `rectifier.steady_state`
    raises: Collapse; ValueError with the range, and for two ranges of which one is backwards
    """
    return over_ranges(
        lambda capacitance: _solver(mains, frequency, series_resistance, capacitance, load, drop, half_wave),
        (inductance_from, inductance_to),
        (capacitance_from, capacitance_to),
        lambda capacitance: _smooth(series_resistance, capacitance),
    )


def _smooth(series_resistance: float, capacitance: float) -> float:
    """Up to which inductance the ring with the bulk capacitor is damped so far that a hump has no corners [H]."""
    return capacitance * (0.5 * series_resistance / _DAMPED) ** 2


def over_ranges(
    solver: Callable[[float], Solve],
    inductance: tuple[float, float],
    capacitance: tuple[float, float],
    smooth: Callable[[float], float] = lambda capacitance: 0.0,  # noqa: ARG005
) -> dict[str, float]:
    """Every figure over a range of inductance [H] and one of capacitance [F], each from one end to the other.

    solver, smooth: of a capacitance, what solves one inductance, and as `over_inductance`
    raises as `bridge_over_ranges`
    """
    up = one_way(*inductance, *capacitance)
    ends: tuple[float, ...] = capacitance
    if inductance[0] == inductance[1]:  # else the hump of each capacitance lies within the inductances
        ends = (capacitance[0], (capacitance[0] * capacitance[1]) ** 0.5, capacitance[1])
    found = [over_inductance(solver(one), *inductance, ("line_rms",), smooth(one)) for one in dict.fromkeys(ends)]
    pick = max if up else min
    return {name: pick(one[name] for one in found) for name in found[0]}


def one_way(inductance_from: float, inductance_to: float, capacitance_from: float, capacitance_to: float) -> bool:
    """Whether both ranges run from the lesser to the greater; ValueError where they run against each other."""
    steps = (inductance_to - inductance_from, capacitance_to - capacitance_from)
    if min(steps) < 0.0 < max(steps):
        raise ValueError("one range runs upwards and one downwards: give both from the lesser to the greater")
    return min(steps) >= 0.0


def _solver(
    mains: float,
    frequency: float,
    series_resistance: float,
    capacitance: float,
    load: float,
    drop: float,
    half_wave: bool,
) -> Solve:
    return lambda inductance: _steady(
        mains, frequency, series_resistance, inductance, capacitance, load, drop, half_wave
    )


@lru_cache(maxsize=512)
def _steady(
    mains: float,
    frequency: float,
    series_resistance: float,
    inductance: float,
    capacitance: float,
    load: float,
    drop: float,
    half_wave: bool,
) -> Rectified | None:
    return steady_state_with_inductance(
        mains, frequency, series_resistance, inductance, capacitance, load, drop, half_wave=half_wave
    )


# Shares of the load at which the crest is looked for: it is worst at the full load or somewhat below, where the pulse
# is smaller and later. Between them it moves by under 0.3 % (tests/circuit/test_rectifier_inductance.py).
_SHARES = (1.0, 0.7, 0.45, 0.25)
_BETWEEN = 0.004


def greatest_bulk(
    *,
    coarse: bool = False,
    mains: float,
    frequency: float,
    series_resistance: float,
    inductance_from: float,
    inductance_to: float,
    capacitance_from: float,
    capacitance_to: float,
    load: float,
    drop: float,
    half_wave: bool = False,
) -> float:
    """Greatest bulk voltage while it runs, at any load up to the one given [V]: the crest, or what is pushed above it.

    Without load the bulk charges to the crest of the mains, the drop left out; with a load and inductance ahead the
    pulse of each half cycle drives it on past the crest. Arguments as `bridge_over_ranges`; at loads that are not
    carried nothing is pushed. coarse: two inductances and two loads, for a range well beyond what is expected.
    """
    crest = sqrt(2.0) * mains
    up = one_way(inductance_from, inductance_to, capacitance_from, capacitance_to)
    least = min(capacitance_from, capacitance_to)
    if 4.0 * max(inductance_from, inductance_to) <= series_resistance**2 * least:
        # Damped past critical neither the line's step nor its end is passed (pulse.damped_bulk), and what a load draws,
        # whose response falls without changing its sign, only lowers the bulk: it stays at or below crest less drop.
        return crest
    best = 0.0
    for share in (_SHARES[::2] if coarse else _SHARES) if load > 0.0 else ():
        for capacitance in dict.fromkeys((capacitance_from, capacitance_to)):
            solve = _solver(mains, frequency, series_resistance, capacitance, share * load, drop, half_wave)
            try:
                if coarse:
                    two = [solve(inductance_to), solve(0.4 * inductance_to)]
                    found = max(one.bulk_max for one in two if one is not None)
                else:
                    smooth = _smooth(series_resistance, capacitance)
                    found = over_inductance(solve, inductance_from, inductance_to, ("bulk_max",), smooth)["bulk_max"]
            except (Collapse, ValueError):
                continue
            best = max(best, found * (1.0 + (2.0 if coarse else 1.0) * _BETWEEN))
        if not up:
            break  # the full load alone: at the kind end no more is promised
    return max(crest, best if up else best / (1.0 + _BETWEEN))
