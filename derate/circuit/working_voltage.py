"""Working voltage between the primary of a flyback and its secondary, and what clearance and creepage need of it.

Contents: `WorkingVoltage`, `held_to_bulk_minus`, `referred_to_mains`.

Own derivation. Voltage of the drain against the secondary's quiet end, over one switching period: bulk minus to drain
is 0 while the switch is on (D), Vdc + VR while the secondary conducts (D2), Vdc when idle (Di = 1 - D - D2).

Where the secondary is earthed or neutral-referred, bulk minus itself moves between 0 (line positive) and -Vdc (line
negative). How it moves between is set by which diodes conduct and by stray capacitance. A jump at the zero crossing is
the upper bound of the mean square, a slide along half the line voltage (bridge blocked, equal capacitances) the lower
figure.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from derate.circuit.bands import Band, in_range

# true / computed - 1, against live ngspice runs of three references in both modes
# (tests/circuit/test_working_voltage.py): RMS within 0.4 % of the figure for that path, peak read 0.7..0.9 % high. With
# the idle ringing left at 0 and hardly damped the true RMS is up to 2.2 % higher. `rms` is the upper path and `rms_low`
# the lower: they lie up to 13.4 % apart.
ERROR: dict[str, Band] = {
    "held_rms": (-0.02, 0.04),
    "rms": (-0.15, 0.04),
    "rms_low": (-0.02, 0.18),
    "peak": (-0.02, 0.02),
}

SIGNS: dict[str, dict[str, int]] = {
    "held_rms": {"bulk": 1, "reflected": 1, "duty": -1, "secondary_duty": 1},
    "held_peak": {"bulk": 1, "clamp_peak": 1, "secondary_swing": 1},
    "referred_rms": {"bulk": 1, "reflected": 1, "secondary_duty": 1},
    "referred_peak": {"bulk": 1, "clamp_peak": 1, "secondary_swing": 1},
}


class WorkingVoltage(NamedTuple):
    """rms: the upper figure [V]; rms_low: the lower one [V], the same where nothing is open; peak: recurring [V]"""

    rms: float
    rms_low: float
    peak: float


def held_to_bulk_minus(
    bulk: float,
    reflected: float,
    duty: float,
    secondary_duty: float,
    clamp_peak: float,
    *,
    secondary_swing: float = 0.0,
    idle_ringing: float = 0.0,
) -> WorkingVoltage:
    """Secondary held to bulk minus by a bridging capacitor: rms^2 = D2 (Vdc + VR)^2 + Di Vdc^2; direct voltage counts.

    bulk, reflected [V]; duty D, secondary_duty D2 [-], D + D2 at most 1
    clamp_peak: highest clamp voltage above bulk plus [V], at least `reflected`: the spike recurs, so it counts
    secondary_swing: reverse swing of the secondary's own winding end, its ringing included [V]; adds to the peak.
    That end swings the other way while the switch is on, so this is an upper figure.
    idle_ringing: mean amplitude of the drain's ringing while idle [V]; adds half its square to the mean square there

    >>> round(held_to_bulk_minus(339.4, 100.0, 0.228, 0.772, 180.0).rms)
    386
    """
    _check(bulk, reflected, duty, secondary_duty, clamp_peak, secondary_swing, idle_ringing)
    idle = 1 - duty - secondary_duty
    square = secondary_duty * (bulk + reflected) ** 2 + idle * (bulk**2 + 0.5 * idle_ringing**2)
    return WorkingVoltage(square**0.5, square**0.5, bulk + clamp_peak + secondary_swing)


def referred_to_mains(
    bulk: float,
    reflected: float,
    duty: float,
    secondary_duty: float,
    clamp_peak: float,
    *,
    secondary_swing: float = 0.0,
    idle_ringing: float = 0.0,
) -> WorkingVoltage:
    """Secondary earthed or referred to neutral: half the time Vds(t), half the time Vds(t) - Vdc.

    rms^2 = [D2 (Vdc + VR)^2 + Di Vdc^2] / 2 + [D Vdc^2 + D2 VR^2] / 2.  `rms_low`: bulk minus slides along half the
    line voltage, which takes Vdc^2 / 8 off the mean square.
    Inputs as `held_to_bulk_minus`; bulk about the line's crest.

    >>> voltage = referred_to_mains(339.4, 100.0, 0.228, 0.772, 180.0)
    >>> round(voltage.rms), round(voltage.rms_low)
    (303, 278)
    """
    _check(bulk, reflected, duty, secondary_duty, clamp_peak, secondary_swing, idle_ringing)
    idle = 1 - duty - secondary_duty
    positive = secondary_duty * (bulk + reflected) ** 2 + idle * bulk**2
    negative = duty * bulk**2 + secondary_duty * reflected**2
    square = 0.5 * (positive + negative) + 0.5 * idle * idle_ringing**2
    return WorkingVoltage(square**0.5, (square - bulk**2 / 8) ** 0.5, bulk + clamp_peak + secondary_swing)


def _check(
    bulk: float, reflected: float, duty: float, secondary_duty: float, clamp_peak: float, swing: float, ringing: float
) -> None:
    in_range("bulk", bulk, 0.0, math.inf, "V", open_low=True)
    in_range("reflected", reflected, 0.0, math.inf, "V", open_low=True)
    in_range("duty", duty, 0.0, 1.0, "")
    in_range("secondary_duty", secondary_duty, 0.0, 1.0 - duty + 1e-9, "")
    in_range("clamp_peak", clamp_peak, reflected, math.inf, "V")
    in_range("secondary_swing", swing, 0.0, math.inf, "V")
    in_range("idle_ringing", ringing, 0.0, math.inf, "V")
