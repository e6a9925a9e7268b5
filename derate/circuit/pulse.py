"""Short pulses: squared-current integrals, equivalent widths, surge ratings in time, fuse pulses, melting copper.

Contents: `SHAPE_FACTORS`, `shape_i2t`, `equivalent_width`, `DiodeSurge`, `diode_surge`, `log_log`, `PULSE_FRACTIONS`,
`pulse_fraction`, `TrackMelting`, `track_melting_i2t`.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from math import exp, inf, log
from typing import NamedTuple

from derate.circuit.bands import Band, in_range

# i2t = factor x peak^2 x time; for the exponential the time is the time constant of the current, the pulse complete.
# Source: Littelfuse catalogue 2017, fuse products and mounting accessories, page 12, chart 1; each is an integral.
SHAPE_FACTORS = {
    "rectangle": 1.0, "half sine": 0.5, "triangle": 1.0 / 3.0, "parabola": 0.2, "exponential": 0.5,
}  # fmt: skip
# Largest share of the melting i2t for a number of pulses, at least 10 s apart. Source: the same page, chart 2.
PULSE_FRACTIONS = {100: 0.48, 1_000: 0.38, 10_000: 0.29, 100_000: 0.22}

# true / computed - 1. Shapes are exact integrals. The diode rule is data-sheet practice, no law; see `diode_surge`.
# Copper: material constants of the standard, 5 %; etched width and plating are the caller's.
ERROR: dict[str, Band] = {"i2t": (0.0, 0.0), "begins": (-0.05, 0.05), "complete": (-0.1, 0.1)}
# +1 never falls as the input rises, -1 never rises
SIGNS: dict[str, dict[str, int]] = {
    "i2t": {"peak": 1, "time": 1},
    "peak": {"surge": 1, "width": -1, "half_sine": 1},
    "cautious_peak": {"surge": 1, "width": -1, "half_sine": 1},
    "begins": {"width": 1, "thickness": 1, "start": -1},
    "complete": {"width": 1, "thickness": 1, "start": -1},
}


def shape_i2t(shape: str, peak: float, time: float) -> float:
    """Squared-current integral of a pulse [A2s].

    shape: a key of SHAPE_FACTORS; peak [A], 0 to 1e6; time: length, or time constant of the exponential [s], 0 to 1e6

    >>> shape_i2t("exponential", 40.0, 0.0012)
    0.96
    """
    in_range("peak", peak, 0.0, 1e6, "A")
    in_range("time", time, 0.0, 1e6, "s")
    if shape not in SHAPE_FACTORS:
        raise ValueError(f"pulse shape is {shape!r}: state one of {', '.join(SHAPE_FACTORS)}")
    return SHAPE_FACTORS[shape] * peak * peak * time


def equivalent_width(i2t: float, peak: float) -> float:
    """Width of the rectangle with the same i2t and peak [s]. i2t [A2s], 0 to 1e12; peak [A], above 0 to 1e6."""
    in_range("i2t", i2t, 0.0, 1e12, "A2s")
    in_range("peak", peak, 0.0, 1e6, "A", open_low=True)
    return i2t / (peak * peak)


class DiodeSurge(NamedTuple):
    """Allowed peak [A] and i2t [A2s] of one pulse: with i2t held constant, and cautious below a millisecond."""

    peak: float
    cautious_peak: float
    i2t: float  # of the rated half sine
    cautious_i2t: float


def diode_surge(surge: float, half_sine: float, width: float) -> DiodeSurge:
    """A diode's surge rating carried to another pulse width.

    surge: rated non-repetitive peak [A], above 0 to 1e5; half_sine: length of the rated half sine [s], 1e-5 to 2e-2
    width: equivalent rectangular width of the pulse [s], 1e-9 to half of half_sine; longer is refused (the rating for
    several half cycles has its own curve)

    Common practice, no source: i2t = surge^2 half_sine / 2 holds for shorter pulses. That supposes that the heat
    spreads through the die as it comes, yet the junction is thin: below 1 ms, or half of a shorter rated half sine, the
    cautious figure lets the peak rise only with width^-1/4, so that i2t falls with the root of the width (heat flow
    into a thick body: temperature rise goes with power x sqrt(time), power with the squared current; text-book). A loss
    that goes with the current alone would leave i2t constant: the truth lies between.
    """
    in_range("surge rating", surge, 0.0, 1e5, "A", open_low=True)
    in_range("length of the rated half sine", half_sine, 1e-5, 2e-2, "s")
    in_range("equivalent width", width, 1e-9, half_sine / 2.0, "s")
    i2t = surge * surge * half_sine / 2.0
    peak = (i2t / width) ** 0.5
    share = min(1.0, (width / min(1e-3, half_sine / 2.0)) ** 0.5)
    return DiodeSurge(peak, (share * i2t / width) ** 0.5, i2t, share * i2t)


def log_log(points: Sequence[tuple[float, float]], x: float) -> float:
    """Straight line on two logarithmic axes between the given points, as time-current curves are read.

    points: at least two (x, y), all positive, x rising; refused outside the first and last x
    """
    if len(points) < 2 or any(not (0.0 < a < inf and 0.0 < b < inf) for a, b in points):
        raise ValueError("a curve needs at least two points with positive, finite values")
    xs = [a for a, _ in points]
    if any(b <= a for a, b in zip(xs, xs[1:], strict=False)):
        raise ValueError("the points of a curve must rise in the first value: put them in order")
    if not xs[0] <= x <= xs[-1]:
        raise ValueError(f"{x:g} is outside the curve: state a value from {xs[0]:g} to {xs[-1]:g}, or more points")
    k = min(bisect_right(xs, x), len(xs) - 1)
    (x0, y0), (x1, y1) = points[k - 1], points[k]
    return exp(log(y0) + (log(y1) - log(y0)) * (log(x) - log(x0)) / (log(x1) - log(x0)))


def pulse_fraction(pulses: float) -> float:
    """Largest share of the melting i2t for a number of pulses, 1 to 100 000: the next row up of PULSE_FRACTIONS."""
    in_range("number of pulses", pulses, 1.0, 1e5, "")
    return next(share for count, share in PULSE_FRACTIONS.items() if pulses <= count)


class TrackMelting(NamedTuple):
    """Squared-current integral at which a track reaches its melting point, and at which it is all molten [A2s]."""

    begins: float
    complete: float


def track_melting_i2t(width: float, thickness: float, start: float = 25.0) -> TrackMelting:
    """Melting i2t of a copper track, no heat leaving it (below about 10 ms).

    width [m], 1e-5 to 0.1; thickness [m], 5e-6 to 1e-3; start: temperature before [degC], -40 to 200

    begins = K^2 S^2 ln((1083 + 234.5)/(start + 234.5)), K = 226 A s^0.5/mm^2 (adiabatic short-circuit rule of
    IEC 60949, constants from memory; the Onderdonk rule agrees to 1 %). complete adds the heat of fusion, 205 kJ/kg at
    8.96 g/cm3, at the resistivity of solid copper at its melting point.
    """
    in_range("track width", width, 1e-5, 0.1, "m")
    in_range("track thickness", thickness, 5e-6, 1e-3, "m")
    in_range("starting temperature", start, -40.0, 200.0, "degC")
    area = width * thickness
    constant = (226.0 * 1e6) ** 2  # A2s / m4
    begins = constant * log((1083.0 + 234.5) / (start + 234.5))
    resistivity = 1.7241e-8 * (1083.0 + 234.5) / (20.0 + 234.5)
    fusion = 205e3 * 8960.0 / resistivity
    return TrackMelting(begins * area * area, (begins + fusion) * area * area)
