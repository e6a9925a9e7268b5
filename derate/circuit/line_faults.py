"""Line current under faults on the mains side: RMS, peak, power, and how its squared integral grows.

Contents: `FaultCurrent`, `shorted` (through resistance and inductance, every half cycle: bulk, varistor or X capacitor
shorted, two bridge arms), `bridge_diode_shorted`, `half_wave_diode_shorted`, `bridge_diode_open`,
`accumulated_i2t`, `time_to_i2t`. The partial short across the bulk is in partial_short.py.

Diode drops are left out: they lower the current by up to 2 % at 85 V, which the error band holds.
Source: circuit-theory text-book forms, stated beside the lines; checked against ngspice in the test.
"""

from __future__ import annotations

import cmath
from math import atan2, cos, exp, floor, pi, sin, sqrt
from typing import NamedTuple

from derate.circuit.bands import Band, in_range
from derate.circuit.exponentials import Term, square_integral
from derate.circuit.rectifier import Rectified, steady_state

# true / computed - 1: two silicon diodes of 0.9 V at 10 A and more, against a crest of 113 V and up
# doubler_rms: the whole capacitor refills in the other half cycles, which adds up to 1 % (8 doublers in ngspice)
ERROR: dict[str, Band] = {
    "rms": (-0.02, 0.004), "peak": (-0.02, 0.003), "power": (-0.04, 0.008), "i2t": (-0.04, 0.008),
    "time": (-0.002, 0.04), "switch_peak": (-0.02, 0.03), "doubler_rms": (-0.02, 0.015),
}  # fmt: skip
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


def shorted(mains: float, frequency: float, resistance: float, inductance: float = 0.0, *,
            angle: float = pi / 2) -> FaultCurrent:  # fmt: skip
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


def bridge_diode_open(mains: float, frequency: float, series_resistance: float, capacitance: float, load: float,
                      drop: float = 0.0) -> Rectified | None:  # fmt: skip
    """One diode of a bridge open: the other pair works alone, every second half cycle.

    Arguments, range and errors as rectifier.steady_state; drop is that of the pair. None: the load cannot be carried.
    The working diodes see no more reverse voltage than in the whole bridge.
    """
    found = steady_state(mains, frequency, series_resistance, capacitance, load, drop, half_wave=True)
    return None if found is None else found._replace(diode_reverse=found.bulk_max + drop / 2.0)


def accumulated_i2t(mains: float, frequency: float, resistance: float, time: float, *, angle: float = 0.0,
                    inductance: float = 0.0, half_wave: bool = False) -> float:  # fmt: skip
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


def time_to_i2t(target: float, mains: float, frequency: float, resistance: float, *, angle: float = 0.0,
                inductance: float = 0.0, half_wave: bool = False, limit: float = 1.0) -> float | None:  # fmt: skip
    """Time from the fault until its i2t reaches `target` [s]; None when it has not within `limit`.

    target [A2s], above 0 to 1e9; limit [s], above 0 to 100. Others as `accumulated_i2t`. A melting i2t is a constant
    only while no heat leaves the wire, below about 10 ms: past that read the time-current curve instead.
    """
    in_range("target i2t", target, 0.0, 1e9, "A2s", open_low=True)
    in_range("time limit", limit, 0.0, 100.0, "s", open_low=True)

    def short(t: float) -> float:
        return accumulated_i2t(mains, frequency, resistance, t, angle=angle, inductance=inductance,
                               half_wave=half_wave) - target  # fmt: skip

    if short(limit) < 0.0:
        return None
    low, high = 0.0, limit
    for _ in range(60):  # the integral never falls
        mid = 0.5 * (low + high)
        low, high = (mid, high) if short(mid) < 0.0 else (low, mid)
    return high
