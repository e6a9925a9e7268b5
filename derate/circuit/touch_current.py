"""Touch current through bridging capacitors, and the discharge of a capacitor across the line after unplugging.

Contents: `TouchCurrent`, `touch_current`, `discharge_voltage`, `bleeder_loss`.
"""

from __future__ import annotations

from math import exp, pi, sqrt
from typing import NamedTuple

from derate.circuit.bands import Band, in_range

# true / computed - 1 against ngspice with a body of 2 kohm: 6 rows, rms within 0.15 %; the peak from the bulk reads
# +1.8..+2.6 % there (the bridge's commutation makes a sharper edge), which the band holds.
ERROR: dict[str, Band] = {
    "rms": (-0.003, 0.003), "peak": (-0.003, 0.03), "fundamental": (-0.01, 0.01), "voltage": (0.0, 0.0),
}  # fmt: skip
SIGNS: dict[str, dict[str, int]] = {
    "rms": {"mains": 1, "frequency": 1, "capacitance": 1},
    "peak": {"mains": 1, "frequency": 1, "capacitance": 1},
    "voltage": {"start": 1, "resistance": 1, "capacitance": 1, "time": -1},
    "loss": {"mains": 1, "resistance": -1},
}
TIED = ("line", "bulk plus", "bulk minus")


class TouchCurrent(NamedTuple):
    """rms, peak and fundamental rms of the current to an earthed person [A]."""

    rms: float
    peak: float
    fundamental: float


def touch_current(mains: float, frequency: float, capacitance: float, tied: str) -> TouchCurrent:
    """Current to earth of all capacitance that bridges the barrier, the neutral being earthed.

    mains: highest line voltage [V rms], 1 to 600; frequency: highest [Hz], 10 to 1000
    capacitance: sum of all bridging capacitors at their highest and the transformer's own [F], 0 to 1e-5
    tied: where on the primary they are: "line", "bulk plus" or "bulk minus" (unknown: take "line", never smaller)

    line: I = 2 pi f C V, peak sqrt(2) I. Bulk rail: the bridge holds bulk minus between max(v, 0) - Vp and min(v, 0),
    so it moves with the line for a quarter cycle down, rests, moves up for a quarter cycle and rests: rms 1/sqrt(2) as
    great, fundamental sqrt(1/4 + 1/pi^2) = 0.593, but the peak is the same: a limit stated as a peak gets no relief.
    The body's 2 kohm is small against the reactance up to about 0.1 uF at 50 Hz.

    Source: own derivation from the bridge's two states.
    """
    in_range("mains voltage", mains, 1.0, 600.0, "V")
    in_range("line frequency", frequency, 10.0, 1000.0, "Hz")
    in_range("bridging capacitance", capacitance, 0.0, 1e-5, "F")
    if tied not in TIED:
        raise ValueError(f"the bridging capacitor is tied to {tied!r}: state one of {', '.join(TIED)}")
    whole = 2.0 * pi * frequency * capacitance * mains
    if tied == "line":
        return TouchCurrent(whole, sqrt(2.0) * whole, whole)
    # current cos(x) for x in 0..pi/2 (rail rising) and pi..3pi/2 (rail falling): fundamental (cos + 2/pi sin)/2
    return TouchCurrent(whole / sqrt(2.0), sqrt(2.0) * whole, whole * sqrt(0.25 + 1.0 / pi**2))


def discharge_voltage(start: float, resistance: float, capacitance: float, time: float) -> float:
    """Voltage left across the line after unplugging [V]: V exp(-t/(R C)).

    start: crest of the highest mains [V], 0 to 2000; resistance: only what is across the line side, a charged bulk
    blocks the bridge [ohm], 1 to 1e9; capacitance: all across the line, at its highest [F], 1e-12 to 0.01
    time [s], 0 to 1e4
    """
    _line_side(start, resistance, capacitance)
    in_range("time", time, 0.0, 1e4, "s")
    return start * exp(-time / (resistance * capacitance))


def bleeder_loss(mains: float, resistance: float) -> float:
    """Power in the resistance across the line [W]: V^2/R. mains [V rms], 0 to 600; resistance [ohm], 1 to 1e9."""
    in_range("mains voltage", mains, 0.0, 600.0, "V")
    in_range("resistance", resistance, 1.0, 1e9, "ohm")
    return mains * mains / resistance


def _line_side(start: float, resistance: float, capacitance: float) -> None:
    in_range("starting voltage", start, 0.0, 2000.0, "V")
    in_range("resistance", resistance, 1.0, 1e9, "ohm")
    in_range("capacitance", capacitance, 1e-12, 0.01, "F")
