"""The rectifier with one bulk capacitor on arrays: the equations of `derate.circuit.rectifier` at many points at once.

For grids of the acceptance tests, which take four hundred designs through six hundred points each. What it gives is
held to the solver itself at sampled points of every design; charge and energy are summed here at all of them.

In units of the crest, of w C Vp and of line phase, re-entry at phase x before the crest: u = v / crest, j = current,
  conducting  rho u' = cos - delta - u - rho p / u, the load's p / u by its tangent on each piece
  blocked     u u' = -p, so u^2 falls in a straight line
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

Array = np.ndarray[Any, np.dtype[np.float64]]
_PIECES = 24


class Line(NamedTuple):
    """Bulk voltage at its least and greatest [V]; what is left over of charge and of energy, as shares of the whole."""

    bulk_min: Array
    bulk_max: Array
    charge_left: Array
    energy_left: Array


class _Arc:
    """One conduction arc of each point: where it ends, and sums over it."""

    def __init__(self, count: int, sums: bool = True) -> None:
        self.sums = sums
        self.theta, self.u = np.zeros(count), np.zeros(count)
        self.net, self.charge, self.square, self.real = (np.zeros(count) for _ in range(4))
        self.high, self.low = np.zeros(count), np.full(count, 2.0)


def steady_line(
    mains: Array, hertz: Array, ohms: float, farads: float, load: Array, drop: float, *, half_wave: bool = False
) -> Line:
    """Steady state at each point; every load has to be carried with a valley well above a quarter of the crest."""
    crest, omega = 2.0**0.5 * mains, 2.0 * np.pi * hertz
    unit = omega * farads * crest
    rho, power, delta = omega * ohms * farads, load / (unit * crest), drop / crest
    period = 2.0 * np.pi if half_wave else np.pi
    entry = _settled(rho, power, delta, period)
    arc = _Arc(len(mains))
    _conduct(rho, power, delta, entry, arc)
    u_in = np.cos(_reenter(power, delta, period, arc.theta, arc.u)) - delta
    left = arc.net + u_in - arc.u  # what the capacitor has gained in the arc and lost while blocked
    wanted = rho * arc.square + delta * arc.charge + power * period
    return Line(
        np.minimum(arc.low, u_in) * crest, np.maximum(arc.high, arc.u) * crest, left / arc.charge,
        arc.real / wanted - 1.0,
    )  # fmt: skip


def _settled(rho: Array, power: Array, delta: Array, period: float) -> Array:
    """Re-entry phase of the periodic state, by secants from above as the solver does."""
    x = _reenter(power, delta, period, np.zeros_like(rho), 1.0 - delta)
    before, g_before = x.copy(), np.zeros_like(x)
    active = np.arange(len(x))
    for turn in range(60):
        some = rho[active], power[active], delta[active]
        arc = _Arc(len(active), sums=False)
        _conduct(*some, x[active], arc)
        g = _reenter(some[1], some[2], period, arc.theta, arc.u) - x[active]
        step = g
        if turn:
            with np.errstate(divide="ignore", invalid="ignore"):
                secant = -g * (x[active] - before[active]) / (g - g_before[active])
            step = np.where(np.isfinite(secant) & (secant * g >= 0.0), secant, g)
        before[active], g_before[active] = x[active], g
        x[active] = np.clip(x[active] + step, 4.0 * x[active], 0.25 * x[active])
        active = active[np.abs(step) > 1e-9 * np.abs(x[active])]
        if not len(active):
            return x
    raise AssertionError(f"{len(active)} points do not settle")


def _reenter(power: Array, delta: Array, period: float, theta: Array, u: Array) -> Array:
    """Phase at which the line meets the discharging bulk again: Newton, bracketed by bisection."""
    energy = u * u - 2.0 * power * (period - theta)
    low, high = np.full_like(u, -1.5), np.zeros_like(u)
    x = 0.5 * low
    for _ in range(60):
        v = np.sqrt(np.maximum(energy - 2.0 * power * x, 1e-6))
        gap = v + delta - np.cos(x)
        low, high = np.where(gap > 0.0, x, low), np.where(gap > 0.0, high, x)
        new = x - gap / (np.sin(x) - power / v)
        new = np.where((new > low) & (new < high), new, 0.5 * (low + high))
        settled = np.abs(new - x).max() <= 1e-12
        x = new
        if settled:
            return x
    return x


def _conduct(rho: Array, power: Array, delta: Array, entry: Array, arc: _Arc) -> None:
    """From re-entry to where the current ends, piece by piece; points that have ended drop out."""
    full = -entry / _PIECES
    at = np.arange(len(entry))
    h, theta, j = np.minimum(full, 0.5 * rho), entry.copy(), np.zeros_like(entry)
    u = np.cos(entry) - delta
    ends = []
    while len(at):
        piece = _Piece(rho, power, delta, theta, u, j, h)
        u1, j1 = piece.at(h)
        done = (j1 <= 0.0) & (theta + h > -0.999 * np.abs(entry))
        assert (u1 > 0.25).all(), "the load is not carried"
        if done.any():
            ends.append((at[done], piece.those(done), h[done], j1[done]))
            go = ~done
            at, h, u1, j1, full = at[go], h[go], u1[go], j1[go], full[go]
            rho, power, delta, entry = rho[go], power[go], delta[go], entry[go]
            piece = piece.those(go)
        _add(arc, at, piece, h, u1, j1)
        theta, u, j = piece.theta + h, u1, j1
        h = np.minimum(full, 1.5 * h)
    index = np.concatenate([one[0] for one in ends])
    last = _Piece.joined([one[1] for one in ends])
    h = last.ended(np.concatenate([one[2] for one in ends]), np.concatenate([one[3] for one in ends]))
    u1, _ = last.at(h)
    _add(arc, index, last, h, u1, np.zeros_like(h))
    arc.theta[index], arc.u[index] = last.theta + h, u1


class _Piece:
    """One piece of the arc at each point: a sinusoid and an exponential."""

    _NAMES = ("rho", "power", "delta", "theta", "u", "j", "a", "k", "base", "rest")

    def __init__(self, *given: Array) -> None:
        self.rho, self.power, self.delta, self.theta, self.u, self.j = given[:6]
        if len(given) > 7:
            self.a, self.k, self.base, self.rest = given[6:]
            return
        h, rho, power = given[6], self.rho, self.power
        w = self.u + 0.5 * h * (self.j - power / self.u)  # about the middle of the piece
        self.a = 1.0 / rho - power / (w * w)
        self.k = 1.0 / (rho * (self.a * self.a + 1.0))
        self.base = -(self.delta / rho + 2.0 * power / w) / self.a
        self.rest = self.u - self.k * (self.a * np.cos(self.theta) + np.sin(self.theta)) - self.base

    def at(self, h: Array) -> tuple[Array, Array]:
        """Voltage and current a phase h into the piece."""
        c, s = np.cos(self.theta + h), np.sin(self.theta + h)
        u = self.k * (self.a * c + s) + self.base + self.rest * np.exp(-self.a * h)
        return u, (c - self.delta - u) / self.rho

    def those(self, mask: Array) -> _Piece:
        return _Piece(*(getattr(self, name)[mask] for name in self._NAMES))

    @staticmethod
    def joined(pieces: list[_Piece]) -> _Piece:
        return _Piece(*(np.concatenate([getattr(one, name) for one in pieces]) for name in _Piece._NAMES))

    def ended(self, high: Array, j_high: Array) -> Array:
        """Where the current of the piece ends: false position, the end that stays halved."""
        low, j_low = np.zeros_like(high), np.maximum(self.j, 0.0)
        for _ in range(80):
            with np.errstate(divide="ignore", invalid="ignore"):
                mid = np.where(j_low > 0.0, low + (high - low) * j_low / (j_low - j_high), 0.5 * (low + high))
            _, j = self.at(mid)
            up = j > 0.0
            low, j_high_up = np.where(up, mid, low), 0.5 * j_high
            high, j_low_down = np.where(up, high, mid), 0.5 * j_low
            j_low, j_high = np.where(up, j, j_low_down), np.where(up, j_high_up, j)
            if (np.abs(j) < 1e-10).all() or (high - low < 1e-13).all():
                break
        return mid


def _add(arc: _Arc, at: Array, piece: _Piece, h: Array, u1: Array, j1: Array) -> None:
    """Simpson sums of one piece, and the extremes of the parabola through its three voltages."""
    if not arc.sums:
        return
    um, jm = piece.at(0.5 * h)
    w, u0, j0, p = h / 6.0, piece.u, piece.j, piece.power
    arc.charge[at] += w * (j0 + 4.0 * jm + j1)
    arc.net[at] += w * (j0 - p / u0 + 4.0 * (jm - p / um) + j1 - p / u1)
    arc.square[at] += w * (j0 * j0 + 4.0 * jm * jm + j1 * j1)
    cosines = np.cos(piece.theta), np.cos(piece.theta + 0.5 * h), np.cos(piece.theta + h)
    arc.real[at] += w * (cosines[0] * j0 + 4.0 * cosines[1] * jm + cosines[2] * j1)
    bend, slope = u0 - 2.0 * um + u1, u1 - u0
    with np.errstate(divide="ignore", invalid="ignore"):
        vertex = np.where(np.abs(slope) < 2.0 * np.abs(bend), um - slope * slope / (8.0 * bend), um)
    arc.high[at] = np.maximum(arc.high[at], np.maximum(np.maximum(u0, u1), vertex))
    arc.low[at] = np.minimum(arc.low[at], np.minimum(np.minimum(u0, u1), vertex))
