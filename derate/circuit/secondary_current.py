"""Current of a flyback secondary: one winding with leakage commutation, and several windings on one core.

Contents: `SecondaryCurrent`, `secondary_current` (one winding), `Pulse`, `pulse` (the common shape of several, each
with its own average), `shared_band`.

Sources: AN-4137 (Fairchild, 2004) eq 16 to 19; commutation and ringing: own, from the same balance as the clamp.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from derate.circuit.bands import Band, in_range
from derate.circuit.flyback import PrimaryPoint, lifted_peak, trapezoid_rms

# true / computed - 1. Ten ngspice rows (tests/data/ngspice_flyback.json) and 36 random ones
# (ngspice_flyback_random.json), leakage, clamp and drain capacitance given: average, worked out from the peak,
# -0.8..+0.3 %; RMS without ringing -0.4..+15.9 %, with undamped ringing -8.2..+0.4 % (+6.5 % with a clamp diode of
# 0.5 us transit time); peak with it -0.9..+4.1 % (+37 %: recovery current). A real ringing is damped, so the true
# figure lies between the plain and the ringing one: the low ends of the ringing figures and the high ends of the plain
# ones are the whole distance seen between the two (peak up to 62 %).
ERROR: dict[str, Band] = {
    "average": (-0.02, 0.02),
    "rms": (-0.02, 0.20),
    "rms_ringing": (-0.18, 0.01),
    "peak": (-0.02, 0.75),
    "peak_ringing": (-0.42, 0.05),
}
ERROR_SLOW_DIODE: dict[str, Band] = ERROR | {
    "rms_ringing": (-0.18, 0.09),
    "peak": (-0.02, 1.2),
    "peak_ringing": (-0.42, 0.45),
}

# Several windings, by their share of the power. Ten ngspice runs of two and three windings, leakage split evenly to ten
# to one, 90 V to 375 V, both modes: a winding of 20 % and more read RMS -9.7..+15.3 %, peak -36..+107 %; of 11 to 12 %
# RMS +16 and +25 %, peak up to 3 times; one of 1 to 3 % RMS up to 5.1 times, peak up to 26 times (it peak-charges).
SHARED_LEAST = 0.08  # below this share of the power nothing bounds the current from above [-]
ERROR_SHARED: dict[str, tuple[float, Band]] = {
    # name: (least share, band)
    "rms, large": (0.2, (-0.15, 0.25)),
    "peak, large": (0.2, (-0.45, 1.5)),
    "rms, small": (SHARED_LEAST, (-0.20, 0.40)),
    "peak, small": (SHARED_LEAST, (-0.50, 3.0)),
    "rms, light": (0.0, (-0.20, math.inf)),
    "peak, light": (0.0, (-0.50, math.inf)),
}

SIGNS: dict[str, dict[str, int]] = {
    "winding_rms": {"current": 1, "leakage_share": 1},
}


class SecondaryCurrent(NamedTuple):
    """average, peak, rms [A] with no ringing; peak_ringing, rms_ringing [A] with the leakage ringing undamped (an upper
    figure); conduction: share of the period [-]; start: time after turn-off at which it carries the whole current [s]
    """

    average: float
    peak: float
    rms: float
    peak_ringing: float
    rms_ringing: float
    conduction: float
    start: float


def secondary_current(
    point: PrimaryPoint,
    bulk: float,
    inductance: float,
    reflected: float,
    turns_ratio: float,
    *,
    leakage: float = 0.0,
    clamp_rise: float = math.inf,
    drain_capacitance: float = 0.0,
) -> SecondaryCurrent:
    """Current of a single secondary from the primary's operating point.

    bulk, reflected [V]; inductance as `operating_point` [H]; turns_ratio Np/Ns [-]; leakage [H], below the inductance
    clamp_rise: clamp voltage less reflected [V]; the leakage current dies in Llk I / rise, meanwhile the secondary
    takes over. Infinite (or leakage zero): at once.  drain_capacitance [F].

    Source: text-book shapes; commutation and the ringing, amplitude rise / sqrt(Llk / Coss): own.
    """
    for name, value in {"bulk": bulk, "reflected": reflected, "turns_ratio": turns_ratio}.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    in_range("inductance", inductance, leakage, math.inf, "H", open_low=True)
    in_range("leakage", leakage, 0.0, math.inf, "H")
    in_range("drain_capacitance", drain_capacitance, 0.0, math.inf, "F")
    if not clamp_rise > 0:
        raise ValueError(f"clamp_rise is {clamp_rise:g} V: state clamp less reflected voltage, above 0 V")
    frequency, period, magnetising = point.frequency, 1 / point.frequency, inductance - leakage
    # the drain capacitance hands C (Vdc^2 - VR^2) / 2 over before the secondary starts
    lifted = lifted_peak(point.peak, bulk, reflected, inductance, drain_capacitance)
    start, lost, ring = 0.0, 0.0, 0.0
    if leakage > 0 and math.isfinite(clamp_rise):
        excess = max(0.0, lifted**2 - drain_capacitance * clamp_rise**2 / leakage)
        start = leakage * excess**0.5 / clamp_rise
        lost = 0.5 * leakage * excess / clamp_rise  # charge that goes to the clamp instead
        ring = turns_ratio * clamp_rise * (drain_capacitance / leakage) ** 0.5  # amplitude after the clamp lets go
    fall = 0.0  # time the switch is on already while the secondary still conducts
    if point.mode == "continuous":
        fall = leakage * point.valley / (bulk + reflected)
        length, end = (1 - point.duty) * period + fall, turns_ratio * point.valley
    else:
        length, end = lifted * magnetising / reflected, 0.0
    if start + fall >= length:
        raise ValueError(
            f"the leakage takes {start:.3g} s of the {length:.3g} s that the secondary has: outside the range of this "
            "formula; state a smaller leakage or a higher clamp voltage"
        )
    peak = turns_ratio * (lifted - reflected * start / magnetising)
    # the magnetising current's charge, less what the clamp and the next cycle's primary take of it
    charge = 0.5 * (turns_ratio * lifted + end) * length - turns_ratio * lost - 0.5 * end * fall
    share, full = length * frequency, (length - start - fall) * frequency
    square = trapezoid_rms(peak, end, full) ** 2 + (peak**2 * start + end**2 * fall) * frequency / 3
    return SecondaryCurrent(
        average=charge * frequency,
        peak=peak,
        rms=square**0.5,
        peak_ringing=peak + ring,
        rms_ringing=(square + 0.5 * ring**2 * full) ** 0.5,
        conduction=min(1.0, share),
        start=start,
    )


class Pulse(NamedTuple):
    """Current of one secondary winding: start and end of its conduction [A], share of the period [-], frequency [Hz].

    peak, rms, average [A]
    """

    start: float
    end: float
    conduction: float
    frequency: float
    peak: float
    rms: float
    average: float


def pulse(point: PrimaryPoint, current: float, leakage_share: float = 0.0) -> Pulse:
    """Current of one of several windings: the common shape of all, scaled to the output's own average.

    current: average [A], not negative; leakage_share: leakage over inductance, 0 to 0.2 [-]: it shortens the conduction
    by about that; what ringing adds is in the error band.
    The average is exact. The shape is an assumption (AN-4137 before eq 18 makes it too): the winding that couples best
    takes the pulse early. `shared_band` states what ngspice showed with two and three windings.

    >>> from derate.circuit.flyback import operating_point
    >>> point = operating_point(92.0, 27.5, 671e-6, 85.0, 66e3)
    >>> round(pulse(point, 2.0).rms, 2), round(pulse(point, 1.0).rms, 2)
    (3.06, 1.53)
    """
    in_range("output current", current, 0.0, math.inf, "A")
    in_range("leakage share", leakage_share, 0.0, 0.2, "")
    conduction = point.secondary_duty * (1.0 - leakage_share)
    mean = 0.5 * (point.peak + point.valley) * conduction
    start, end = current * point.peak / mean, current * point.valley / mean
    return Pulse(start, end, conduction, point.frequency, start, trapezoid_rms(start, end, conduction), current)


def shared_band(quantity: str, share: float) -> Band:
    """Error band of a winding's "rms" or "peak" from `pulse` by its share of the power [-].

    A share of 1 is the only winding there is: `ERROR` holds.  The high end is infinite below `SHARED_LEAST`.

    >>> shared_band("rms", 0.5)
    (-0.15, 0.25)
    """
    if quantity not in ("rms", "peak"):
        raise ValueError(f"quantity {quantity!r} is not known: state 'rms' or 'peak'")
    in_range("share", share, 0.0, 1.0, "")
    if share == 1.0:
        return ERROR[quantity]
    size = "large" if share >= ERROR_SHARED["rms, large"][0] else "small" if share >= SHARED_LEAST else "light"
    return ERROR_SHARED[f"{quantity}, {size}"][1]
