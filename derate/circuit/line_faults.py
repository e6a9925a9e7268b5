"""Faults on the mains side: line current and its growth, the partial short across the bulk and its dead zone."""

from __future__ import annotations

import cmath
from collections.abc import Callable
from functools import cache
from math import atan2, cos, exp, floor, inf, log, pi, sin, sqrt

from derate.circuit.numerics import Band, Term, fixed_point, in_range, square_integral
from derate.circuit.rectifier import Rectified, steady_state
from derate.terms.tuples import NamedTuple

# Line current under faults on the mains side: RMS, peak, power, and how its squared integral grows.
#
# Diode drops are left out: they lower the current by up to 2 % at 85 V, which the error band holds. Source:
# own derivation from Kirchhoff's laws, stated beside the lines; checked against ngspice in the test.


# true / computed - 1: two silicon diodes of 0.9 V at 10 A and more, against a crest of 113 V and up
# doubler_rms: the whole capacitor refills in the other half cycles, which adds up to 1 % (8 doublers in ngspice)
ERROR: dict[str, Band] = {
    "rms": (-0.02, 0.004),
    "peak": (-0.02, 0.003),
    "power": (-0.04, 0.008),
    "i2t": (-0.04, 0.008),
    "time": (-0.002, 0.04),
    "switch_peak": (-0.02, 0.03),
    "doubler_rms": (-0.02, 0.015),
}
# +1 never falls as the input rises, -1 never rises, 0 no single sign (run every corner); proved by the test.
SIGNS: dict[str, dict[str, int]] = {
    "rms": {"mains": 1, "frequency": -1, "resistance": -1, "inductance": -1},
    "peak": {"mains": 1, "frequency": 0, "resistance": 0, "inductance": -1},
    "power": {"mains": 1, "frequency": -1, "resistance": 0, "inductance": -1},
    "time": {"mains": -1, "frequency": 0, "resistance": 1, "inductance": 1, "target": 1},
}


class FaultCurrent(NamedTuple):
    """rms and peak of the line current [A]; power in the resistance ahead [W]; the peak holds the first half cycle."""

    rms: float
    peak: float
    power: float


class ReversedBulk(NamedTuple):
    """A half-wave input with its diode shorted: the bulk carries alternating current and is driven into reverse."""

    rms: float  # line and capacitor current [A]
    peak: float  # in steady state [A]
    power: float  # in the series resistance [W]
    capacitor_rms: float  # voltage [V], no direct part
    reverse: float  # greatest reverse voltage of the capacitor [V]


def _checked(mains: float, frequency: float, resistance: float, inductance: float) -> float:
    in_range("mains voltage", mains, 1.0, 1000.0, "V")
    in_range("line frequency", frequency, 10.0, 1000.0, "Hz")
    in_range("resistance ahead", resistance, 1e-3, 1e6, "ohm")
    in_range("inductance", inductance, 0.0, 1.0, "H")
    return 2.0 * pi * frequency


def shorted(
    mains: float, frequency: float, resistance: float, inductance: float = 0.0, *, angle: float = pi / 2
) -> FaultCurrent:
    """A short fed through everything ahead of it, both half cycles.

    mains [V rms], 1 to 1000; frequency [Hz], 10 to 1000; resistance: all ahead of the short [ohm], 0.001 to 1e6
    (behind the fuse only, for a varistor or X capacitor: its resistance and the mains); inductance ahead [H], 0 to 1
    angle: line phase at which the short comes [rad], 0 to pi; it sets the first peak when there is inductance

    I = V/Z, Z^2 = R^2 + (wL)^2; i(t) = Vp/Z [sin(wt + angle - phi) - sin(angle - phi) exp(-Rt/L)], tan phi = wL/R.
    """
    omega = _checked(mains, frequency, resistance, inductance)
    in_range("angle", angle, 0.0, pi, "rad")
    reactance = omega * inductance
    impedance = sqrt(resistance * resistance + reactance * reactance)
    crest = sqrt(2.0) * mains / impedance
    phi = atan2(reactance, resistance)
    peak = crest
    if inductance > 0.0:
        offset = sin(angle - phi)
        # the first two half cycles, each degree: the sum of a sine and a decay has no closed maximum
        for k in range(1, 361):
            x = k * pi / 180.0
            value = crest * (sin(x + angle - phi) - offset * exp(-x * resistance / reactance))
            peak = max(peak, abs(value))
    rms = mains / impedance
    return FaultCurrent(rms, peak, resistance * rms * rms)


def bridge_diode_shorted(mains: float, frequency: float, resistance: float, inductance: float = 0.0) -> FaultCurrent:
    """One diode of a bridge shorted: its neighbour carries alternate half cycles; the bulk does not discharge.

    The same flows in a doubler with one capacitor shorted, through its diode; the other capacitor stays at the crest.
    Without inductance I = Vp/(2R), peak Vp/R. With it the current starts at the zero crossing and outlasts its half
    cycle: i(t) = Vp/Z [sin(wt - phi) + sin(phi) exp(-Rt/L)] until it is zero. The diode that carries it fails next.
    Ranges as `shorted`.
    """
    omega = _checked(mains, frequency, resistance, inductance)
    crest = sqrt(2.0) * mains
    if omega * inductance < 1e-6 * resistance:
        peak = crest / resistance
        rms = 0.5 * peak
        return FaultCurrent(rms, peak, resistance * rms * rms)
    impedance, phi = cmath.polar(complex(resistance, omega * inductance))
    decay = resistance / (omega * inductance)

    def at(x: float) -> float:
        return sin(x - phi) + sin(phi) * exp(-decay * x)

    low, high = pi, 2.0 * pi
    for _ in range(50):
        mid = 0.5 * (low + high)
        low, high = (mid, high) if at(mid) > 0.0 else (low, mid)
    peak = max(at(k * low / 360.0) for k in range(1, 361)) * crest / impedance
    line = crest * cmath.exp(-1j * phi) / impedance
    terms: list[Term] = [(-1j * line, 1j * omega), (complex(-line.imag), complex(-resistance / inductance))]
    rms = sqrt(square_integral(terms, low / omega) * omega / (2.0 * pi))
    return FaultCurrent(rms, peak, resistance * rms * rms)


def half_wave_diode_shorted(mains: float, frequency: float, resistance: float, capacitance: float) -> ReversedBulk:
    """The single diode of a half-wave input shorted: line, resistance and bulk capacitor in series.

    capacitance [F], 1e-9 to 0.1; others as `shorted`. I = V / sqrt(R^2 + 1/(wC)^2); the load is taken as stopped.
    """
    omega = _checked(mains, frequency, resistance, 0.0)
    in_range("bulk capacitance", capacitance, 1e-9, 0.1, "F")
    reactance = 1.0 / (omega * capacitance)
    rms = mains / sqrt(resistance * resistance + reactance * reactance)
    across = rms * reactance
    return ReversedBulk(rms, sqrt(2.0) * rms, resistance * rms * rms, across, sqrt(2.0) * across)


def bridge_diode_open(
    mains: float, frequency: float, series_resistance: float, capacitance: float, load: float, drop: float = 0.0
) -> Rectified | None:
    """One diode of a bridge open: the other pair works alone, every second half cycle.

    Arguments, range and errors as rectifier.steady_state; drop is that of the pair. None: the load cannot be carried.
    The working diodes see no more reverse voltage than in the whole bridge.
    """
    found = steady_state(mains, frequency, series_resistance, capacitance, load, drop, half_wave=True)
    return None if found is None else found._replace(diode_reverse=found.bulk_max + drop / 2.0)


def accumulated_i2t(
    mains: float,
    frequency: float,
    resistance: float,
    time: float,
    *,
    angle: float = 0.0,
    inductance: float = 0.0,
    half_wave: bool = False,
) -> float:
    """Integral of the squared line current [A2s] from the fault on.

    time: since the fault [s], 0 to 100; angle: line phase at the fault [rad], 0 to 2 pi (0 at the zero crossing, pi / 2
    at the crest); half_wave: alternate half cycles only, no inductance then

    Ipk^2 [t/2 - sin(2wt)/(4w)] from a zero crossing; with inductance the sum of a sine and a decay, exactly.
    """
    omega = _checked(mains, frequency, resistance, inductance)
    in_range("time", time, 0.0, 100.0, "s")
    in_range("angle", angle, 0.0, 2.0 * pi, "rad")
    if inductance > 0.0:
        if half_wave:
            raise ValueError("inductance with half_wave is outside this formula: state inductance 0 H")
        line = sqrt(2.0) * mains * cmath.exp(1j * angle) / complex(resistance, omega * inductance)
        terms: list[Term] = [(-1j * line, 1j * omega), (complex(-line.imag), complex(-resistance / inductance))]
        return square_integral(terms, time)
    crest = sqrt(2.0) * mains / resistance
    end = angle + omega * time
    return crest * crest / omega * (_lobes(end, half_wave) - _lobes(angle, half_wave))


def _lobes(phase: float, half_wave: bool) -> float:
    """Integral of sin^2 from 0 to phase; only where the sine is positive for a half wave."""
    if not half_wave:
        return phase / 2.0 - sin(phase) * cos(phase) / 2.0
    turns = floor(phase / (2.0 * pi))
    rest = min(phase - 2.0 * pi * turns, pi)
    return turns * pi / 2.0 + rest / 2.0 - sin(rest) * cos(rest) / 2.0


def time_to_i2t(
    target: float,
    mains: float,
    frequency: float,
    resistance: float,
    *,
    angle: float = 0.0,
    inductance: float = 0.0,
    half_wave: bool = False,
    limit: float = 1.0,
) -> float | None:
    """Time from the fault until its i2t reaches `target` [s]; None when it has not within `limit`.

    target [A2s], above 0 to 1e9; limit [s], above 0 to 100. Others as `accumulated_i2t`. A melting i2t is a constant
    only while no heat leaves the wire, below about 10 ms: past that read the time-current curve instead.
    """
    in_range("target i2t", target, 0.0, 1e9, "A2s", open_low=True)
    in_range("time limit", limit, 0.0, 100.0, "s", open_low=True)

    def short(t: float) -> float:
        return (
            accumulated_i2t(mains, frequency, resistance, t, angle=angle, inductance=inductance, half_wave=half_wave)
            - target
        )

    if short(limit) < 0.0:
        return None
    low, high = 0.0, limit
    for _ in range(60):  # the integral never falls
        mid = 0.5 * (low + high)
        low, high = (mid, high) if short(mid) < 0.0 else (low, mid)
    return high


# A partial short across the bulk: power in the series element against the fault's resistance, and the dead zone.
#
# A fusible element opens only above its opening power. A fault that leaves it between its rating and that power
# overheats it without opening: the dead zone, as a band of fault resistance. Here of exact figures, with the bulk
# capacitor or without; of ranges further below.
#
# Source: pure resistance, P = R (V / (R + r))^2; with a bulk capacitor, own derivation: both the charging and the
# discharging bulk are exponentials, walked in exact steps. Checked in tests/circuit/test_line_faults.py.


# true / computed - 1, the diodes' drop left out: up to 2 % of the current
PARTIAL_SHORT_ERROR: dict[str, Band] = {"power": (-0.04, 0.02)}
# +1 never falls as the input rises, -1 never rises, 0 no single sign (run every corner)
PARTIAL_SHORT_SIGNS: dict[str, dict[str, int]] = {"power": {"mains": 1, "series_resistance": 0, "fault_resistance": -1}}
_STEPS = 240  # a half cycle


class DeadZone(NamedTuple):
    """Fault resistances [ohm] at which the element runs above its rating and below its opening power.

    lowest 0: even a dead short does not reach the opening power.
    """

    lowest: float
    highest: float


def series_power(
    mains: float,
    series_resistance: float,
    fault_resistance: float,
    *,
    frequency: float = 50.0,
    capacitance: float = 0.0,
) -> float:
    """Power in the series element [W] with a resistance across the bulk and the converter stopped.

    mains [V rms], 1 to 1000; series_resistance: the element [ohm], 0.01 to 1e5; fault_resistance [ohm], 0 to 1e7
    capacitance: bulk that is still there [F], 0 (none) or 1e-9 to 0.01; it makes the current peaky, the power greater
    frequency [Hz], 10 to 1000
    """
    in_range("mains voltage", mains, 1.0, 1000.0, "V")
    in_range("series resistance", series_resistance, 0.01, 1e5, "ohm")
    in_range("fault resistance", fault_resistance, 0.0, 1e7, "ohm")
    in_range("line frequency", frequency, 10.0, 1000.0, "Hz")
    if capacitance != 0.0:
        in_range("bulk capacitance", capacitance, 1e-9, 0.01, "F")
    plain = series_resistance * (mains / (series_resistance + fault_resistance)) ** 2
    omega = 2.0 * pi * frequency
    slow = omega * fault_resistance * capacitance
    if slow < 0.01:  # the capacitor holds nothing between the half cycles: under 0.1 % of the power
        return plain
    return _with_bulk(sqrt(2.0) * mains, omega, series_resistance, fault_resistance, capacitance)


@cache
def _phases() -> tuple[tuple[float, float], ...]:
    """Cosine and sine at the end of each step, from a zero crossing a quarter ahead of the crest."""
    h, theta = pi / _STEPS, -pi / 2.0
    found = []
    for _ in range(_STEPS):
        found.append((cos(theta + h), sin(theta + h)))
        theta += h
    return tuple(found)


def _with_bulk(crest: float, omega: float, series: float, fault: float, capacitance: float) -> float:
    h = pi / _STEPS
    rho, leak = omega * series * capacitance, omega * fault * capacitance
    rate = 1.0 / rho + 1.0 / leak
    charge, decay = exp(-rate * h), exp(-h / leak)
    gain = 1.0 / (rho * (rate * rate + 1.0))  # of the forced part: gain (rate cos + sin), phase from the crest
    line = [(c, gain * (rate * c + s)) for c, s in _phases()]
    start = gain * -1.0

    def settling(u: float) -> float:
        c, forced = 0.0, start
        for c1, forced1 in line:
            off = u * decay
            u = forced1 + (u - forced) * charge if c > u or c1 > off else off
            c, forced = c1, forced1
        return u

    def heating(u: float) -> float:
        square, j, half = 0.0, 0.0, 0.5 * h
        c, forced = 0.0, start
        for c1, forced1 in line:
            off = u * decay
            u = forced1 + (u - forced) * charge if c > u or c1 > off else off
            j1 = (c1 - u) / rho
            if j1 > 0.0:
                square += half * (j * j + j1 * j1)
                j = j1
            elif j:
                square += half * (j * j)
                j = 0.0
            c, forced = c1, forced1
        return square

    found = fixed_point(lambda x: (settling(x[0]),), (0.9 * fault / (fault + series),), 1e-6, 0.5)
    if found is None:
        raise ValueError("the fault does not settle with this bulk capacitor: state capacitance 0 F, the bulk gone")
    square = heating(found[0])
    current = omega * capacitance * crest
    return series * square / pi * current * current


def dead_zone(
    mains: float,
    series_resistance: float,
    rated_power: float,
    opening_power: float,
    *,
    frequency: float = 50.0,
    capacitance: float = 0.0,
) -> DeadZone | None:
    """The band of fault resistance that overheats the series element without opening it; None when it is empty.

    rated_power [W], 1e-3 to 1e4; opening_power: above which it is sure to open [W], 1e-3 to 1e7
    others as `series_power`; a bulk capacitor that is still there widens the band upwards, so run it with and without
    An element that a dead short does not overload (V^2 / R below the rating) has no dead zone.
    """
    in_range("rated power", rated_power, 1e-3, 1e4, "W")
    in_range("opening power", opening_power, 1e-3, 1e7, "W")

    @cache
    def power(fault: float) -> float:
        return series_power(mains, series_resistance, fault, frequency=frequency, capacitance=capacitance)

    if opening_power <= rated_power or power(0.0) <= rated_power:
        return None
    highest = _where(power, rated_power, series_resistance)
    lowest = 0.0 if power(0.0) <= opening_power else _where(power, opening_power, series_resistance)
    return DeadZone(lowest, highest) if lowest < highest else None


def _where(power: Callable[[float], float], wanted: float, scale: float) -> float:
    """Fault resistance at which the power has fallen to `wanted`: bracketed, then false position in the logarithms."""
    low = 1e-3 * scale
    if power(low) <= wanted:
        return low
    high = scale
    while power(high) > wanted:
        low, high = high, 4.0 * high
        if high > 1e7:
            return 1e7
    x0, x1 = log(low), log(high)
    y0, y1 = log(power(low) / wanted), log(power(high) / wanted)
    for _ in range(40):
        x = x0 + (x1 - x0) * y0 / (y0 - y1)
        y = log(power(exp(x)) / wanted)
        if abs(y) < 1e-4:
            return exp(x)
        if y > 0.0:
            x0, y0, y1 = x, y, 0.5 * y1
        else:
            x1, y1, y0 = x, y, 0.5 * y0
    return exp(0.5 * (x0 + x1))


# The dead zone of a partial short when its figures are ranges: the band over all of them, and what is left for sure.
#
# A fault of resistance x across the bulk drives I = V / (r + q + x) through an element r with q in the rest of its
# path. It overheats the element where I²r is above its rated power, or I above its rated current; something opens
# where I²r reaches the element's opening power, or I the current at which a fuse in the path is sure to open. In
# between nothing does: that is the dead zone. An empty one, whatever the values within their ranges, is the only
# pass.
#
# Source: Ohm's law and Joule's; the bulk capacitor left out (`series_power` has it). Where the ends lie
# is derived below, and proved in tests/circuit/test_dead_zone.py by scans of random ranges.


Span = tuple[float, float]


class Limits(NamedTuple):
    """What overheats an element and what opens, infinite where there is no such figure [W, A]."""

    rated_power: float = inf
    rated_current: float = inf
    opening_power: float = inf
    opening_current: float = inf


def widest(mains: Span, element: Span, rest: Span, limits: Limits) -> DeadZone | None:
    """The least and the greatest fault resistance [ohm] of any dead zone within the ranges; None: all are empty.

    mains: least and greatest rms voltage that drives the current [V], 0 to 1000; the least with the diodes' drop taken
    off (Minkowski: the rms of |v| - drop is at least the rms of v less the drop)
    element, rest: least and greatest resistance of the element and of all else in its path [ohm], up to 1e5
    limits: rated figures at their least, opening figures at their greatest
    Exact in its upper end and in being empty. The lower end may be too low where a part of the range of the element
    has no dead zone: the band is never too narrow. lowest 0: not even a dead short opens anything.
    """
    _check(mains, element, rest, limits)
    power, amps, opens, fuse = limits
    least, most = element
    found: list[DeadZone] = []
    # Overheated by power. The ends x = V sqrt(r/P) - r - q lie apart only while P is below the opening power and
    # P/r below the square of the fuse's current: the element has to be above P / fuse².
    from_ohms = max(least, power / fuse**2)
    if power < opens and (fuse == inf or power / fuse**2 < most):
        # concave in r, its crest at r = V² / 4P
        crest = min(max(mains[1] ** 2 / (4.0 * power), from_ohms), most)
        highest = mains[1] * sqrt(crest / power) - crest - rest[0]
        found += _zone(highest, mains[0], (from_ohms, most), rest[1], opens, fuse)
    # Overheated by current: the ends x = V/I - r - q; apart while I is below the fuse's and I²r below the opening power
    if amps < fuse and (opens == inf or opens / amps**2 > least):
        upto = min(most, opens / amps**2)
        found += _zone(mains[1] / amps - least - rest[0], mains[0], (least, upto), rest[1], opens, fuse)
    if not found:
        return None
    return DeadZone(min(zone.lowest for zone in found), max(zone.highest for zone in found))


def _zone(highest: float, mains: float, element: Span, rest: float, opens: float, fuse: float) -> list[DeadZone]:
    if highest <= 0.0:  # not even a dead short overheats it
        return []
    # x = max(V / fuse, V sqrt(r/P)) - r - q falls up to the kink at r = P / fuse², then is concave: least there or at
    # an end
    tried = [*element, min(max(opens / fuse**2, element[0]), element[1]) if fuse < inf else element[0]]
    lowest = min(max(mains / fuse, mains * sqrt(r / opens)) - r - rest for r in tried)
    return [DeadZone(max(0.0, lowest), highest)]


def certain(mains: Span, element: Span, rest: Span, limits: Limits) -> DeadZone | None:
    """Ends [ohm] no further apart than those of the dead zone, whatever the values within the ranges; None: there may
    be no dead zone.

    As `widest`, but limits: rated figures at their greatest, opening figures at their least
    lowest: above every lower end, highest: below every upper end, so that highest / lowest is the least ratio that is
    sure; below one where the ranges are wide, though there is a band for each of their values.
    """
    _check(mains, element, rest, limits)
    power, amps, opens, fuse = limits
    least, most = element
    ends: list[float] = []
    if power < opens and (fuse == inf or power / fuse**2 < least):
        ends.append(min(mains[0] * sqrt(r / power) - r - rest[1] for r in element))  # concave: least at an end
    if amps < fuse and (opens == inf or opens / amps**2 > most):
        ends.append(mains[0] / amps - most - rest[1])
    if not ends or max(ends) <= 0.0:
        return None
    crest = min(max(mains[1] ** 2 / (4.0 * opens), least), most)
    by_power = mains[1] * sqrt(crest / opens) - crest
    return DeadZone(max(0.0, max(by_power, mains[1] / fuse - least) - rest[0]), max(ends))


def _check(mains: Span, element: Span, rest: Span, limits: Limits) -> None:
    for volts in mains:
        in_range("mains voltage", volts, 0.0, 1000.0, "V")
    for ohms in element:
        in_range("series resistance", ohms, 0.0, 1e5, "ohm", open_low=True)
    for ohms in rest:
        in_range("resistance of the rest of the path", ohms, 0.0, 1e5, "ohm")
    if mains[0] > mains[1] or element[0] > element[1] or rest[0] > rest[1]:
        raise ValueError("the ends of a range do not rise: state the lesser first")
    rated = ("rated power", limits.rated_power, "W"), ("rated current", limits.rated_current, "A")
    opening = ("opening power", limits.opening_power, "W"), ("opening current", limits.opening_current, "A")
    for name, figure, unit in (*rated, *opening):
        if figure != inf:
            in_range(name, figure, 1e-6, 1e7, unit)
    if limits.rated_power == inf and limits.rated_current == inf:
        raise ValueError("no rated power or current: state what the element may take for ever")
