"""Periodic steady state of a mains rectifier with a constant-power load: one bulk capacitor, or a doubler."""

from __future__ import annotations

from math import acos, asin, cos, exp, log, pi, sin, sqrt

from derate.circuit.numerics import Band, fixed_point, in_range
from derate.circuit.pulse import Inrush, switch_on
from derate.terms.tuples import NamedTuple
from derate.terms.values import Formula, giving

# Periodic steady state of a mains rectifier with one bulk capacitor and a constant-power load.
#
# Full bridge or one diode (half wave). One state, the bulk voltage v, in time measured as line phase from the crest:
#
#     conducting   R C dv/dt = Vp cos(wt) - Vd - v - R P/v
#     blocked        C dv/dt = -P/v, so v^2 falls in a straight line
#
# The conduction arc is cut into pieces; in each the load current P/v is replaced by its tangent, so that every piece
# is a sinusoid plus an exponential and needs no step limit however small R is. The re-entry phase is iterated by
# secants from above (a fully charged capacitor): the upper, stable one of the two solutions a constant-power load can
# have.
#
# Source: own derivation from Kirchhoff's laws; checked against ngspice in tests/circuit/test_rectifier.py.


# Two silicon diodes in series drop 1.6 V at small currents to 2.0 V at large; a fixed 1.75 V costs at most 0.7 % of the
# valley and 3.4 % of the line peak, which is what the error bands of the solver hold (ngspice, `rect_real` rows).
BRIDGE_DROP = 1.75
DIODE_DROP = BRIDGE_DROP / 2
PIECES = 24  # pieces from re-entry to the crest; as many again at most after it
STOP = 0.25  # fraction of the crest below which the load counts as not carried

# true / computed - 1. A real silicon bridge against a fixed 1.75 V: 14 ngspice rows, 3 to 100 W, read 0.0..+1.9 % (line
# RMS) and +0.5..+3.4 % (line peak) high. With near-ideal diodes 14 rows and 20 random supplies hold SOLVER_ERROR.
ERROR: dict[str, Band] = {
    "bulk_max": (-0.002, 0.004),
    "bulk_min": (-0.002, 0.008),
    "bulk_mean": (-0.002, 0.006),
    "line_rms": (-0.02, 0.002),
    "line_peak": (-0.035, 0.002),
    "capacitor_rms": (-0.022, 0.002),
    "diode_average": (-0.005, 0.01),
    "diode_rms": (-0.02, 0.002),
    "diode_peak": (-0.035, 0.002),
    "diode_reverse": (-0.002, 0.004),
    "line_power": (-0.005, 0.01),
    "resistor_power": (-0.04, 0.004),
}
SOLVER_ERROR: Band = (-0.002, 0.002)

# +1 the output rises with the input, -1 it falls, 0 no single sign (run every corner). Proved over random supplies by
# tests/circuit/test_rectifier.py for valleys above SIGNS_FROM of the crest; below it run every corner.
SIGNS_FROM = 0.5
SIGNS = {
    "bulk_max": {"mains": 1, "frequency": -1, "series_resistance": -1, "capacitance": -1, "load": -1, "drop": -1},
    "bulk_min": {"mains": 1, "frequency": 1, "series_resistance": -1, "capacitance": 1, "load": -1, "drop": -1},
    "line_rms": {"mains": -1, "frequency": 0, "series_resistance": -1, "capacitance": 0, "load": 1, "drop": 1},
    "line_peak": {"mains": -1, "frequency": 1, "series_resistance": -1, "capacitance": 1, "load": 1, "drop": 1},
    "capacitor_rms": {"mains": -1, "frequency": 1, "series_resistance": -1, "capacitance": 1, "load": 1, "drop": 1},
    "resistor_power": {"mains": -1, "frequency": 0, "series_resistance": 1, "capacitance": 0, "load": 1, "drop": 1},
    "diode_average": {"mains": -1, "frequency": -1, "series_resistance": 1, "capacitance": -1, "load": 1, "drop": 1},
}
SIGNS_HALF_WAVE = {
    name: signs | ({"frequency": 0, "capacitance": 0} if name in ("line_peak", "capacitor_rms") else {})
    for name, signs in SIGNS.items()
}


class Rectified(NamedTuple):
    """What a rectifier does in steady state. Volts, amperes, watts; the conduction angle in radians of line phase."""

    bulk_max: float
    bulk_min: float  # over the whole cycle: the voltage goes on falling after re-entry
    bulk_mean: float
    line_rms: float
    line_peak: float
    capacitor_rms: float  # at twice the line frequency (once for a half wave) and its harmonics; no switching part
    diode_average: float  # each diode
    diode_rms: float
    diode_peak: float
    diode_reverse: float  # full bridge: bulk crest and one diode's drop; half wave: twice the crest
    conduction_angle: float
    line_power: float  # real power, by quadrature of v i, not by summing the losses
    resistor_power: float
    diode_power: float


def steady_state(
    mains: float,
    frequency: float,
    series_resistance: float,
    capacitance: float,
    load: float,
    drop: float = 0.0,
    *,
    half_wave: bool = False,
) -> Rectified | None:
    """Steady state of bridge or diode, bulk capacitor and constant-power load.

    mains: line to neutral [V rms], 10 to 600; frequency [Hz], 10 to 1000
    series_resistance: all resistance in the current path, source included [ohm], 0.001 to 1000
    capacitance: bulk [F], 1e-8 to 0.01; load: power drawn from the bulk [W], 0, or 1e-6 to 10000
    drop: of all diodes in the path, two for a bridge [V], 0 to a tenth of the crest
    returns: the state, or None when the load cannot be carried (the bulk would fall below a quarter of the crest)
    raises: ValueError with the range, for a value outside it

    Source: module docstring.
    """
    crest, delta, unit, rho, power = _in_crests(mains, frequency, series_resistance, capacitance, load, drop)
    period = 2.0 * pi if half_wave else pi
    if power == 0.0:
        return _unloaded(crest, drop, half_wave)
    entry = _settle(rho, power, delta, period)
    if entry is None:
        return None
    arc = _Arc()
    leave = _conduct(rho, power, delta, entry, arc)
    if leave is None:
        return None
    theta, u = leave
    again = _reenter(power, delta, period, theta, u)
    if again is None:
        return None
    u_in = cos(again) - delta
    blocked = again + period - theta
    bulk = arc.bulk + 2.0 / 3.0 * blocked * (u * u + u * u_in + u_in * u_in) / (u + u_in)  # integral of v, v^2 linear
    ripple = arc.ripple + power * log(u / u_in)  # integral of (P/v)^2 while blocked
    mean = arc.charge / period * unit
    rms = sqrt(arc.square / period) * unit
    diodes = 1.0 if half_wave else 2.0
    high = max(arc.high, u) * crest
    return Rectified(
        bulk_max=high,
        bulk_min=min(arc.low, u_in) * crest,
        bulk_mean=bulk / period * crest,
        line_rms=rms,
        line_peak=arc.peak * unit,
        capacitor_rms=sqrt(ripple / period) * unit,
        diode_average=mean / diodes,
        diode_rms=rms / sqrt(diodes),
        diode_peak=arc.peak * unit,
        diode_reverse=2.0 * crest if half_wave else high + drop / 2.0,
        conduction_angle=theta - entry,
        line_power=arc.real / period * unit * crest,
        resistor_power=series_resistance * rms * rms,
        diode_power=drop * mean,
    )


def about_the_valley(
    mains: float, frequency: float, series_resistance: float, capacitance: float, load: float, drop: float
) -> float | None:
    """Bulk voltage of a bridge at which the line takes over again [V], to a few thousandths: where a search may begin.

    Arguments, what is raised and None as `steady_state`, but for the edge of what is carried; a load above 0.
    """
    crest, delta, _, rho, power = _in_crests(mains, frequency, series_resistance, capacitance, load, drop)
    entry = _settle(rho, power, delta, pi, _ABOUT, PIECES // 3)
    return None if entry is None else crest * (cos(entry) - delta)


def _in_crests(
    mains: float, frequency: float, series_resistance: float, capacitance: float, load: float, drop: float
) -> tuple[float, float, float, float, float]:
    """The crest [V]; in crests and line phase: drop, the unit of current [A], time constant, load."""
    in_range("mains voltage", mains, 10.0, 600.0, "V")
    in_range("line frequency", frequency, 10.0, 1000.0, "Hz")
    in_range("series resistance", series_resistance, 1e-3, 1e3, "ohm")
    in_range("bulk capacitance", capacitance, 1e-8, 0.01, "F")
    if load != 0.0:
        in_range("load", load, 1e-6, 1e4, "W")
    crest = sqrt(2.0) * mains
    in_range("diode drop", drop, 0.0, crest / 10.0, "V")
    omega = 2.0 * pi * frequency
    unit = omega * capacitance * crest  # unit of current when voltages are counted in crests and time in phase
    return crest, drop / crest, unit, omega * series_resistance * capacitance, load / (unit * crest)


def _unloaded(crest: float, drop: float, half_wave: bool) -> Rectified:
    bulk = crest - drop
    reverse = 2.0 * crest if half_wave else bulk + drop / 2.0
    return Rectified(bulk, bulk, bulk, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, reverse, 0.0, 0.0, 0.0, 0.0)


class _Arc:
    """Sums over one conduction arc, in units of the crest, of w C Vp and of line phase."""

    __slots__ = ("bulk", "charge", "high", "low", "peak", "real", "ripple", "square")

    def __init__(self) -> None:
        self.bulk = self.charge = self.square = self.ripple = self.real = self.peak = self.high = 0.0
        self.low = 2.0


_NEAR, _ABOUT = 1e-8, 1e-2  # change of a re-entry phase that counts as none, in itself


def _settle(
    rho: float, power: float, delta: float, period: float, near: float = _NEAR, pieces: int = PIECES
) -> float | None:
    """Re-entry phase (negative, before the crest) of the periodic state, or None when the voltage collapses.

    A capacitor discharged from the crest on is near the periodic state, and below it where the line goes on feeding
    for a while: near the greatest load it may sag too deep to come back. What collapses is tried once more from above.
    """
    found = _settle_from(_reenter(power, delta, period, 0.0, 1.0 - delta), rho, power, delta, period, near, pieces)
    if found is None:
        found = _settle_from(_fed_past_the_crest(power, delta, period), rho, power, delta, period, near, pieces)
    return found


def _settle_from(
    start: float | None, rho: float, power: float, delta: float, period: float, near: float, pieces: int
) -> float | None:
    """As `_settle`, from one re-entry phase."""
    if start is None:
        return None
    floor = -acos(STOP + delta)
    # g(x) = phase of return - x is negative above the stable state; secants from there do not overshoot it
    x, x_old, g_old = start, 0.0, 0.0
    deep, deep_g = -2.0, 0.0  # a phase below the root, once one is known
    for turn in range(100):
        leave = _conduct(rho, power, delta, x, None, pieces)
        new = _reenter(power, delta, period, *leave) if leave is not None else None
        if new is None:  # gone below what can be carried: back half way to the last good phase, if there is a way
            if turn == 0 or abs(x - x_old) < 1e-6 * abs(x):
                return None
            x = 0.5 * (x + x_old)
            continue
        g = new - x
        if g > 0.0:
            deep, deep_g = x, g
        step = -g * (x - x_old) / (g - g_old) if turn and g != g_old else g
        if abs(step) <= near * abs(x) or g == 0.0:
            return x + step
        if step * g < 0.0:
            step = g  # a secant that turns back is not trusted: plain iteration
        x_old, g_old = x, g
        x = min(max(x + step, 4.0 * x), 0.25 * x)
        if x <= deep and g < 0.0 and deep_g > 0.0:
            x = 0.5 * (deep + x_old)
        if x < floor:
            x = 0.5 * (x_old + floor) if x_old > floor * (1.0 - 1e-9) else floor
            if x_old - floor < 1e-7:
                return None
    return None  # creeps without settling: at the edge of collapse, counted as collapse


def _fed_past_the_crest(power: float, delta: float, period: float) -> float | None:
    """Re-entry phase of a capacitor that a line without resistance lets go where it falls faster than the load draws.

    That is at sin(theta) (cos(theta) - delta) = power; no resistance ever leaves more. None when even that collapses.
    """
    theta = 0.0
    for _ in range(60):
        u = cos(theta) - delta
        if u < STOP or power > u:
            return None
        theta = asin(power / u)  # rises from zero to the first solution
    return _reenter(power, delta, period, theta, cos(theta) - delta)


def _reenter(power: float, delta: float, period: float, theta: float, u: float) -> float | None:
    """Phase at which the line rises to the discharging bulk again, counted from the next crest."""
    energy = u * u - 2.0 * power * (period - theta)  # v^2 at the next crest, were nothing to flow
    low, high = -acos(STOP + delta), 0.0
    if energy - 2.0 * power * low < STOP * STOP:
        return None
    x = 0.5 * low
    for _ in range(60):
        square = energy - 2.0 * power * x
        if square <= 1e-12:
            high = x
            x = 0.5 * (low + high)
            continue
        v = sqrt(square)
        gap = v + delta - cos(x)
        if gap > 0.0:
            low = x
        else:
            high = x
        slope = sin(x) - power / v
        new = x - gap / slope if slope != 0.0 else low
        if not low < new < high:
            new = 0.5 * (low + high)
        if abs(new - x) <= 1e-12 - 1e-10 * new:
            return new
        x = new
    return x


def _conduct(
    rho: float, power: float, delta: float, entry: float, arc: _Arc | None, pieces: int = PIECES
) -> tuple[float, float] | None:
    """From re-entry to the end of conduction: phase and voltage there; sums into arc when one is given."""
    full = -entry / pieces
    h = min(full, 0.5 * rho)
    theta, c, s = entry, cos(entry), sin(entry)
    u = c - delta
    j = 0.0
    while True:
        # load tangent about w: P/v = 2P/w - (P/w^2) v; then u' = -a u + cos/rho - b
        w = u + 0.5 * h * (j - power / u)  # about the middle of the piece
        a = 1.0 / rho - power / (w * w)
        if abs(a) < 1e-9:
            a = 1e-9
        b = delta / rho + 2.0 * power / w
        k = 1.0 / (rho * (a * a + 1.0))
        base = -b / a
        rest = u - k * (a * c + s) - base
        c1, s1 = cos(theta + h), sin(theta + h)
        u1 = k * (a * c1 + s1) + base + rest * exp(-a * h)
        j1 = (c1 - delta - u1) / rho
        done = j1 <= 0.0 and theta + h > -0.999 * abs(entry)
        if done:  # the current ends inside this piece
            low, high, j_low, j_high = 0.0, h, j, j1
            for _ in range(60):
                mid = 0.5 * (low + high) if j_low <= 0.0 else low + (high - low) * j_low / (j_low - j_high)
                c1, s1 = cos(theta + mid), sin(theta + mid)
                u1 = k * (a * c1 + s1) + base + rest * exp(-a * mid)
                j_mid = (c1 - delta - u1) / rho
                if abs(j_mid) < 1e-9 or high - low < 1e-13:
                    break
                if j_mid > 0.0:
                    low, j_low, j_high = mid, j_mid, 0.5 * j_high  # Illinois: halve the end that stays
                else:
                    high, j_high, j_low = mid, j_mid, 0.5 * j_low
            h, j1 = mid, 0.0
        if arc is not None:
            half = 0.5 * h
            cm, sm = cos(theta + half), sin(theta + half)
            um = k * (a * cm + sm) + base + rest * exp(-a * half)
            jm = (cm - delta - um) / rho
            add_piece(arc, h, (c, u, j), (cm, um, jm), (c1, u1, j1), power)
        theta, c, s, u, j = theta + h, c1, s1, u1, j1
        if u < STOP:
            return None
        if done:
            return theta, u
        h = min(full, 1.5 * h)


def add_piece(
    arc: _Arc,
    h: float,
    start: tuple[float, float, float],
    middle: tuple[float, float, float],
    finish: tuple[float, float, float],
    power: float,
) -> None:
    """Simpson sums of one piece of length h, each end as (line, bulk, current), and its extremes."""
    (c0, u0, j0), (cm, um, jm), (c1, u1, j1) = start, middle, finish
    w = h / 6.0
    i0, im, i1 = j0 - power / u0, jm - power / um, j1 - power / u1
    arc.bulk += w * (u0 + 4.0 * um + u1)
    arc.charge += w * (j0 + 4.0 * jm + j1)
    arc.square += w * (j0 * j0 + 4.0 * jm * jm + j1 * j1)
    arc.ripple += w * (i0 * i0 + 4.0 * im * im + i1 * i1)
    arc.real += w * (c0 * j0 + 4.0 * cm * jm + c1 * j1)
    peak = _vertex(j0, jm, j1)
    if peak > arc.peak:
        arc.peak = peak
    # of the voltage both ends of the parabola: it has its vertex at one of them at most
    bend, slope = u0 - 2.0 * um + u1, u1 - u0
    high, low = (u0, u1) if u0 > u1 else (u1, u0)
    if um > high:
        high = um
    elif um < low:
        low = um
    if bend < 0.0 and abs(slope) < -2.0 * bend:
        high = um - slope * slope / (8.0 * bend)
    elif bend > 0.0 and abs(slope) < 2.0 * bend:
        low = um - slope * slope / (8.0 * bend)
    if high > arc.high:
        arc.high = high
    if low < arc.low:
        arc.low = low


def _vertex(y0: float, ym: float, y1: float) -> float:
    """Largest value of the parabola through three equally spaced points, between the outer two."""
    bend = y0 - 2.0 * ym + y1
    slope = y1 - y0
    if bend < 0.0 and abs(slope) < -2.0 * bend:
        return ym - slope * slope / (8.0 * bend)
    return max(y0, ym, y1)


def crest(mains: float) -> dict[str, float]:
    """Crest of the mains [V], and what a lone diode blocks, or the two capacitors of a doubler: twice that [V].

    mains: rms [V]. An unloaded rectifier charges to the crest.
    """
    return {"crest": 2**0.5 * mains, "half_wave": 2 * 2**0.5 * mains}


CREST = Formula(crest, {"crest": {"mains": 1}, "half_wave": {"mains": 1}}, {"mains": (50.0, 300.0)})


def drawn_power(power: float, efficiency: float) -> float:
    """Power the converter draws from the bulk capacitor [W]: output power / efficiency, above 0 up to 1 [-].

    >>> drawn_power(8.0, 0.8)
    10.0
    """
    if not 0.0 < efficiency <= 1.0:
        raise ValueError(f"an efficiency of {efficiency:.3g} is outside 0 to 1")
    return power / efficiency


DRAWN_POWER = giving(
    "drawn", drawn_power, {"power": 1, "efficiency": -1}, {"power": (0.0, 100.0), "efficiency": (0.3, 1.0)}
)


# Voltage doubler: two capacitors in series, each charged by its own half cycle, constant-power load across both.
#
#     line - R - two diodes - C, C in series - P;  the other line conductor joins the capacitors
#
# While one diode conducts, R C da/dt = Vp cos(wt) - Vd - a - R I and C db/dt = -I with I = P/(a + b); blocked, both
# fall alike and (a + b)^2 falls in a straight line. Half a cycle later the capacitors have changed places.
#
# Source: own derivation from Kirchhoff's laws; checked against ngspice in tests/circuit/test_doubler.py.


# true / computed - 1: near-ideal diodes within 0.3 % of ngspice (10 random supplies); a real diode taken as a fixed
# drop adds what rectifier.ERROR states, which is included.
DOUBLER_ERROR: dict[str, Band] = {
    "bulk_max": (-0.003, 0.004),
    "bulk_min": (-0.003, 0.008),
    "bulk_mean": (-0.003, 0.006),
    "capacitor_max": (-0.003, 0.004),
    "capacitor_min": (-0.003, 0.01),
    "line_rms": (-0.02, 0.004),
    "line_peak": (-0.035, 0.005),
    "capacitor_rms": (-0.022, 0.004),
    "diode_average": (-0.005, 0.01),
    "diode_rms": (-0.02, 0.004),
    "diode_reverse": (-0.003, 0.004),
    "line_power": (-0.005, 0.01),
    "resistor_power": (-0.04, 0.008),
}
# +1 the output rises with the input, -1 it falls, 0 no single sign (run every corner). Proved over random supplies by
# the test, for valleys above half of the doubled crest; below it run every corner.
DOUBLER_SIGNS: dict[str, dict[str, int]] = {
    "bulk_min": {"mains": 1, "frequency": 1, "series_resistance": -1, "capacitance": 1, "load": -1, "drop": -1},
    "bulk_max": {"mains": 1, "frequency": 0, "series_resistance": -1, "capacitance": 0, "load": -1, "drop": -1},
    "capacitor_max": {"mains": 1, "frequency": 0, "series_resistance": -1, "capacitance": 0, "load": -1, "drop": -1},
    "line_rms": {"mains": -1, "frequency": 0, "series_resistance": -1, "capacitance": 0, "load": 1, "drop": 1},
    "line_peak": {"mains": -1, "frequency": 0, "series_resistance": -1, "capacitance": 0, "load": 1, "drop": 1},
    "capacitor_rms": {"mains": -1, "frequency": 0, "series_resistance": -1, "capacitance": 0, "load": 1, "drop": 1},
    "resistor_power": {"mains": -1, "frequency": 0, "series_resistance": 1, "capacitance": 0, "load": 1, "drop": 1},
    "diode_average": {"mains": -1, "frequency": -1, "series_resistance": 1, "capacitance": -1, "load": 1, "drop": 1},
}
_PIECES = 32


class Doubled(NamedTuple):
    """Steady state of a doubler [V, A, W]. bulk: across both capacitors; capacitor: each one alone."""

    bulk_max: float
    bulk_min: float
    bulk_mean: float
    capacitor_max: float
    capacitor_min: float
    capacitor_rms: float  # current at the line frequency and its harmonics; no switching part
    line_rms: float
    line_peak: float
    diode_average: float
    diode_rms: float
    diode_peak: float
    diode_reverse: float  # the whole bulk voltage and one drop
    line_power: float
    resistor_power: float
    diode_power: float


class _Sums:
    __slots__ = ("a_high", "bulk", "charge", "high", "low", "low_one", "peak", "real", "ripple", "square")

    def __init__(self) -> None:
        self.bulk = self.charge = self.square = self.ripple = self.real = self.peak = self.high = self.a_high = 0.0
        self.low = self.low_one = 9.0


def doubler_steady_state(
    mains: float, frequency: float, series_resistance: float, capacitance: float, load: float, drop: float = 0.0
) -> Doubled | None:
    """Steady state of the doubler.

    mains [V rms], 10 to 600; frequency [Hz], 10 to 1000; series_resistance [ohm], 0.001 to 1000
    capacitance: of each capacitor [F], 1e-8 to 0.01; load: drawn from both in series [W], 1e-6 to 10000
    drop: of the one diode that conducts [V], 0 to a tenth of the crest
    returns: the state, or None when the load cannot be carried (the bulk below a quarter of the doubled crest)
    raises: ValueError with the range, for a value outside it; for a circuit too slow to settle

    Source: module docstring.
    """
    in_range("mains voltage", mains, 10.0, 600.0, "V")
    in_range("line frequency", frequency, 10.0, 1000.0, "Hz")
    in_range("series resistance", series_resistance, 1e-3, 1e3, "ohm")
    in_range("capacitance", capacitance, 1e-8, 0.01, "F")
    in_range("load", load, 1e-6, 1e4, "W")
    crest = sqrt(2.0) * mains
    in_range("diode drop", drop, 0.0, crest / 10.0, "V")
    omega = 2.0 * pi * frequency
    unit = omega * capacitance * crest
    rho, power, delta = omega * series_resistance * capacitance, load / (unit * crest), drop / crest

    def advance(state: tuple[float, ...]) -> tuple[float, ...] | None:
        return _half_cycle(rho, power, delta, state[0], state[1], None)

    full = 1.0 - delta
    # R-limited guess: (2/3) x^3 / rho is the charge of an arc of half width x, pi P the load's in crests squared
    depth = min(0.3, 0.5 * (1.5 * pi * rho * power) ** (2.0 / 3.0))
    start = (full - depth - min(0.4, 2.36 * power), full - depth - min(0.2, 0.79 * power))
    small = 1e-4 * (depth + power)
    found = fixed_point(advance, start, small, 0.3)
    if found is None:
        return None
    sums = _Sums()
    if _half_cycle(rho, power, delta, found[0], found[1], sums) is None:
        return None
    rms, mean = sqrt(sums.square / pi) * unit, sums.charge / pi * unit
    return Doubled(
        bulk_max=sums.high * crest,
        bulk_min=sums.low * crest,
        bulk_mean=sums.bulk / pi * crest,
        capacitor_max=sums.a_high * crest,
        capacitor_min=sums.low_one * crest,
        capacitor_rms=sqrt(sums.ripple / (2.0 * pi)) * unit,
        line_rms=rms,
        line_peak=sums.peak * unit,
        diode_average=mean / 2.0,
        diode_rms=rms / sqrt(2.0),
        diode_peak=sums.peak * unit,
        diode_reverse=sums.high * crest + drop,
        line_power=sums.real / pi * unit * crest,
        resistor_power=series_resistance * rms * rms,
        diode_power=drop * mean,
    )


def _half_cycle(
    rho: float, power: float, delta: float, a: float, b: float, sums: _Sums | None
) -> tuple[float, float] | None:
    """From one zero crossing to the next, a charged: the two in their next roles (b, a); None on collapse."""
    entry = _entry(power, delta, a, b)
    if entry is None:
        return None
    a, b = _fall(power, a, b, entry + pi / 2.0, sums)
    theta, j, rate = entry, 0.0, 1.0 / rho
    c, s = cos(theta), sin(theta)
    k = 1.0 / (rho * (rate * rate + 1.0))
    full = -entry / _PIECES if entry < 0.0 else pi / 64.0
    h = min(full, 0.5 * rho)
    while theta < pi / 2.0 - 1e-12:
        h = min(h, pi / 2.0 - theta)
        middle = a + b + 0.5 * h * (j - 2.0 * power / (a + b))
        i = power / middle
        base = -(delta / rho + i) / rate
        rest = a - k * (rate * c + s) - base
        end = h
        a1 = k * (rate * cos(theta + h) + sin(theta + h)) + base + rest * exp(-rate * h)
        done = cos(theta + h) - delta <= a1 and theta + h > -0.999 * abs(entry)
        if done:
            low, high = 0.0, h
            for _ in range(40):
                end = 0.5 * (low + high)
                x = theta + end
                ended = cos(x) - delta <= k * (rate * cos(x) + sin(x)) + base + rest * exp(-rate * end)
                low, high = (low, end) if ended else (end, high)
            end = high
        c1, s1 = cos(theta + end), sin(theta + end)
        a1 = k * (rate * c1 + s1) + base + rest * exp(-rate * end)
        b1 = b - i * end
        j1 = 0.0 if done else max(0.0, (c1 - delta - a1) / rho)
        if sums is not None:
            x = theta + 0.5 * end
            cm, sm = cos(x), sin(x)
            am = k * (rate * cm + sm) + base + rest * exp(-rate * 0.5 * end)
            jm = max(0.0, (cm - delta - am) / rho)
            _add_of_doubler(sums, end, (c, cm, c1), (j, jm, j1), (a, am, a1), (b, b - 0.5 * i * end, b1), i)
        theta, c, s, a, b, j = theta + end, c1, s1, a1, b1, j1
        if a + b < 2.0 * STOP or min(a, b) < 0.02:
            return None
        if done:
            break
        h = min(full, 1.5 * h)
    if pi / 2.0 - theta > 0.0:
        if (a + b) ** 2 - 4.0 * power * (pi / 2.0 - theta) < (2.0 * STOP) ** 2:
            return None
        a, b = _fall(power, a, b, pi / 2.0 - theta, sums)
    return (b, a) if min(a, b) > 0.02 else None


def _entry(power: float, delta: float, a: float, b: float) -> float | None:
    """Phase at which the rising line reaches the falling capacitor; None when the bulk collapses before."""
    total = a + b
    low, high = -pi / 2.0, 0.0
    for _ in range(45):
        x = 0.5 * (low + high)
        square = total * total - 4.0 * power * (x + pi / 2.0)
        if square < (2.0 * STOP) ** 2:
            high = x
            continue
        gap = a - 0.5 * (total - sqrt(square)) + delta - cos(x)
        low, high = (x, high) if gap > 0.0 else (low, x)
    square = total * total - 4.0 * power * (high + pi / 2.0)
    if square < (2.0 * STOP) ** 2:
        return None
    return max(high, -acos(max(-1.0, min(1.0, delta))))


def _fall(power: float, a: float, b: float, span: float, sums: _Sums | None) -> tuple[float, float]:
    """Both capacitors discharged alike for a span of phase."""
    total = a + b
    after = sqrt(total * total - 4.0 * power * span)
    step = 0.5 * (total - after)
    if sums is not None and span > 0.0:
        sums.bulk += 2.0 / 3.0 * span * (total * total + total * after + after * after) / (total + after)
        sums.ripple += 2.0 * 0.5 * power * log(total / after)  # both capacitors carry P/(a + b)
        sums.high, sums.low = max(sums.high, total), min(sums.low, after)
        sums.a_high = max(sums.a_high, a, b)
        sums.low_one = min(sums.low_one, a - step, b - step)
    return a - step, b - step


def _add_of_doubler(
    sums: _Sums,
    h: float,
    c: tuple[float, float, float],
    j: tuple[float, float, float],
    a: tuple[float, float, float],
    b: tuple[float, float, float],
    i: float,
) -> None:
    w = (h / 6.0, 4.0 * h / 6.0, h / 6.0)
    for n in range(3):
        sums.bulk += w[n] * (a[n] + b[n])
        sums.charge += w[n] * j[n]
        sums.square += w[n] * j[n] * j[n]
        sums.real += w[n] * c[n] * j[n]
        sums.ripple += w[n] * ((j[n] - i) ** 2 + i * i)
        sums.peak = max(sums.peak, j[n])
        sums.high, sums.low = max(sums.high, a[n] + b[n]), min(sums.low, a[n] + b[n])
        sums.a_high = max(sums.a_high, a[n], b[n])
        sums.low_one = min(sums.low_one, a[n], b[n])


def doubler_switch_on(
    mains: float,
    frequency: float,
    series_resistance: float,
    capacitance: float,
    *,
    angle: float = pi / 2,
    start: float = 0.0,
    drop: float = 0.0,
    inductance: float = 0.0,
) -> Inrush:
    """Switch-on of a doubler: one capacitor in the first half cycle, the other in the next, from its zero crossing.

    capacitance: of each; start: voltage of each before [V]; others, ranges and errors as inrush.switch_on
    i2t and energy add both capacitors; peak is the greater; bulk_peak is the sum of both. No load, and the two currents
    are taken not to overlap (an inductance that carries one current into the other's half cycle is left out).
    """
    first = switch_on(
        mains,
        frequency,
        series_resistance,
        capacitance,
        angle=angle,
        start=start,
        drop=drop,
        inductance=inductance,
        half_wave=True,
    )
    second = switch_on(
        mains,
        frequency,
        series_resistance,
        capacitance,
        angle=0.0,
        start=start,
        drop=drop,
        inductance=inductance,
        half_wave=True,
    )
    i2t = first.i2t + second.i2t
    sharp = first if first.peak >= second.peak else second
    wait = 0.0 if sharp is first else (pi - angle) / (2.0 * pi * frequency)
    width = i2t / sharp.peak**2 if sharp.peak > 0.0 else 0.0
    return Inrush(
        sharp.peak,
        i2t,
        first.energy + second.energy,
        wait + sharp.time_to_peak,
        width,
        first.bulk_peak + second.bulk_peak,
    )
