"""Single faults of the converter: those that have an equation, and the list of those that are for the bench.

Contents: `FAULTS`, `ShortedOutput`, `output_shorted`, `rectifier_shorted_peak`, `clamp_open`, `ClampOpen`,
`output_rise`, `open_loop_output`.

Line-side faults (switch, bridge, bulk shorted) are not here.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from derate.circuit.bands import Band, in_range
from derate.circuit.clamp_zener import avalanche_energy, unclamped_switch_peak
from derate.circuit.flyback import peak_at_limit

# true / computed - 1. Power into a short: an upper figure (restart duty at its upper end). Shorted rectifier: winding
# resistance left out, ngspice with 1 ohm and 10 milliohm -17..0 % (tests/circuit/test_converter_faults.py). The rest
# has not been measured.
ERROR: dict[str, Band] = {
    "short_secondary": (-0.50, 0.10),
    "short_power": (-0.90, 0.05),
    "rectifier_shorted_peak": (-0.50, 0.05),
    "output_rise": (-0.20, 0.0),
    "open_loop_output": (-0.20, 0.0),
}

SIGNS: dict[str, dict[str, int]] = {
    "short_secondary": {"limit": 1, "bulk": 1, "delay": 1, "inductance": -1, "turns_ratio": 1},
    "short_power": {"limit": 1, "bulk": 1, "delay": 1, "inductance": 0, "frequency": 1, "restart_duty": 1},
    "rectifier_shorted_peak": {"limit": 1, "bulk": 1, "output": 1, "turns_ratio": 1, "leakage": -1, "delay": 1},
    "output_rise": {"voltage": 1, "power": 1, "capacitance": -1, "time": 1},
    "open_loop_output": {"power": 1, "load": 1},
}

# fault: the function that works it out, or "" and why it is for the bench (then it is not assessed)
FAULTS: dict[str, tuple[str, str]] = {
    "output shorted": ("output_shorted", ""),
    "output capacitor shorted": ("output_shorted", ""),
    "output rectifier shorted": ("rectifier_shorted_peak", ""),
    "clamp open": ("clamp_open", ""),
    "feedback open": ("output_rise", ""),
    "optocoupler open": ("output_rise", ""),
    "reference shorted": ("", "which way the output goes depends on the compensation network"),
    "output rectifier open": ("", "no secondary takes the energy: it ends in clamp, switch and auxiliary winding"),
    "output capacitor open": ("", "ripple is set by stray inductance and the regulator's response"),
    "sense resistor shorted": ("", "nothing limits the current before the core saturates; what opens is not known"),
    "sense resistor open": ("", "the switch's source rises until the controller's input or the gate breaks down"),
    "clamp diode shorted": ("", "the clamp capacitor discharges through the switch at every turn-on"),
    "clamp capacitor shorted": ("", "the primary is shorted through the clamp diode while the switch is off"),
    "clamp resistor open": ("", "the clamp charges until the diode, capacitor or switch breaks down"),
    "auxiliary rectifier open": ("", "whether the controller restarts or stops is in its data sheet"),
    "auxiliary rectifier shorted": ("", "the controller's supply swings below its ground"),
    "auxiliary capacitor open": ("", "the controller's supply follows the winding"),
    "auxiliary capacitor shorted": ("", "start-up parts carry the full mains for as long as it lasts"),
    "optocoupler shorted": ("", "whether the output stops or bursts is the controller's"),
    "feedback divider upper open": ("", "the reference stops drawing; the ceiling is the controller's protection"),
    "feedback divider lower open": ("", "the output falls to the reference's own voltage: a bench check of function"),
    "controller supply open": ("", "restart behaviour is in the controller's data sheet"),
    "winding layer shorted": ("", "current is set by the leakage between the shorted turns and the rest, not known"),
    "winding pins shorted": ("", "current is set by the leakage between the shorted turns and the rest, not known"),
}


class ShortedOutput(NamedTuple):
    """peak: of the primary [A]; secondary: highest mean current in the rectifier [A]; power: from the bulk [W]
    ratchets: 1.0 where the shortest on-time puts in more volt-seconds than the drop takes out, so that the current
    climbs past `peak` and neither figure bounds it; else 0.0
    """

    peak: float
    secondary: float
    power: float
    ratchets: float


class ClampOpen(NamedTuple):
    """switch_peak: with nothing breaking down [V]; energy: into the switch at each turn-off [J]; power [W] of it;
    avalanches: 1.0 where the peak passes the breakdown voltage
    """

    switch_peak: float
    energy: float
    power: float
    avalanches: float


def output_shorted(
    limit: float,
    bulk: float,
    inductance: float,
    delay: float,
    turns_ratio: float,
    frequency: float,
    *,
    drop: float,
    shortest_on: float,
    restart_duty: float = 1.0,
    rectifier: str = "Schottky",
) -> ShortedOutput:
    """Output shorted behind the rectifier, the current limit working.

    limit: upper end [A]; bulk [V]; inductance: lower end [H]; delay [s]; turns_ratio Np/Ns [-]; frequency in limit [Hz]
    drop: of rectifier and path at that current [V]; shortest_on: blanking plus delay [s]
    restart_duty: share of the time the controller tries [-], 1 where it does not stop; rectifier "Schottky" or "PN"

    Isec = Imax n k, k 0.9 Schottky, 0.8 PN (AN-23, Power Integrations, step 20); power at most L Imax^2 fs / 2.

    >>> short = output_shorted(1.0, 375.0, 1e-3, 0.2e-6, 15.0, 66e3, drop=0.5, shortest_on=0.3e-6, restart_duty=0.05)
    >>> round(short.secondary, 2), round(short.power, 2), short.ratchets
    (14.51, 1.91, 1.0)
    """
    factors = {"Schottky": 0.9, "PN": 0.8}
    if rectifier not in factors:
        raise ValueError(f"rectifier {rectifier!r} is not known: state 'Schottky' or 'PN'")
    in_range("turns_ratio", turns_ratio, 0.0, math.inf, "", open_low=True)
    in_range("frequency", frequency, 0.0, math.inf, "Hz", open_low=True)
    in_range("drop", drop, 0.0, math.inf, "V")
    in_range("shortest_on", shortest_on, 0.0, 1 / frequency, "s")
    in_range("restart_duty", restart_duty, 0.0, 1.0, "", open_low=True)
    peak = peak_at_limit(limit, bulk, inductance, delay)
    ratchets = bulk * shortest_on > turns_ratio * drop * (1 / frequency - shortest_on)  # volt-seconds in against out
    power = 0.5 * inductance * peak**2 * frequency * restart_duty
    return ShortedOutput(peak, peak * turns_ratio * factors[rectifier], power, 1.0 if ratchets else 0.0)


def rectifier_shorted_peak(
    limit: float, bulk: float, output: float, turns_ratio: float, leakage: float, delay: float
) -> float:
    """Primary peak with the output rectifier shorted [A] = limit + (Vdc + n Vo) delay / Llk.

    The output meets the primary through the leakage alone, so the current passes the limit at once and runs on for
    the blanking time plus the delay.  [A], [V], [V], [-], leakage lower end [H], delay with blanking [s].
    Source: own, Kirchhoff; winding resistance left out.

    >>> round(rectifier_shorted_peak(1.0, 375.0, 5.0, 15.0, 20e-6, 0.3e-6), 2)
    7.75
    """
    in_range("output", output, 0.0, math.inf, "V")
    in_range("turns_ratio", turns_ratio, 0.0, math.inf, "", open_low=True)
    return peak_at_limit(limit, bulk + turns_ratio * output, leakage, delay)


def clamp_open(
    bulk: float,
    reflected: float,
    leakage: float,
    peak: float,
    breakdown: float,
    frequency: float,
    drain_capacitance: float,
) -> ClampOpen:
    """Clamp open: what the switch is left with.  Inputs as `clamp.avalanche_energy`; frequency [Hz].

    >>> round(clamp_open(375.0, 85.0, 20e-6, 1.0, 700.0, 66e3, 50e-12).power, 2)
    1.65
    """
    top = unclamped_switch_peak(bulk, reflected, leakage, peak, drain_capacitance)
    in_range("frequency", frequency, 0.0, math.inf, "Hz", open_low=True)
    energy = avalanche_energy(bulk, reflected, leakage, peak, breakdown, drain_capacitance)
    return ClampOpen(top, energy, energy * frequency, 1.0 if top > breakdown else 0.0)


def output_rise(voltage: float, power: float, capacitance: float, time: float) -> float:
    """Output voltage after the regulation is lost, no load [V]: sqrt(Vo^2 + 2 P t / C).

    voltage: before [V]; power: the converter's most (`flyback.limit_power` less clamp loss) [W]; capacitance: lower
    end [F]; time: until a second protection stops it [s].  Without one nothing bounds it.  Source: energy.

    >>> round(output_rise(5.0, 8.0, 1360e-6, 10e-3), 2)
    11.94
    """
    in_range("voltage", voltage, 0.0, math.inf, "V")
    in_range("power", power, 0.0, math.inf, "W")
    in_range("capacitance", capacitance, 0.0, math.inf, "F", open_low=True)
    in_range("time", time, 0.0, math.inf, "s")
    return math.sqrt(voltage**2 + 2 * power * time / capacitance)


def open_loop_output(power: float, load: float) -> float:
    """Output voltage the lost regulation settles at with a resistive load [V] = sqrt(P R).  [W], [ohm].

    >>> open_loop_output(10.0, 10.0)
    10.0
    """
    in_range("power", power, 0.0, math.inf, "W")
    in_range("load", load, 0.0, math.inf, "ohm", open_low=True)
    return math.sqrt(power * load)
