"""Single faults of the converter: those that have an equation, and the list of those that are for the bench.

Contents: `FAULTS` with its three kinds of entry, `ShortedOutput`, `output_shorted`, `rectifier_shorted_peak`,
`winding_shorted_peak`, `clamp_open`, `ClampOpen`. More stand in `lost_regulation` and `shorted_parts`.

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
    "winding_shorted_peak": (-0.90, 0.05),  # down to the limit itself where the leakage to that winding is greater
}

SIGNS: dict[str, dict[str, int]] = {
    "short_secondary": {"limit": 1, "bulk": 1, "delay": 1, "inductance": -1, "turns_ratio": 1},
    "short_power": {"limit": 1, "bulk": 1, "delay": 1, "inductance": 0, "frequency": 1, "restart_duty": 1},
    "rectifier_shorted_peak": {"limit": 1, "bulk": 1, "output": 1, "turns_ratio": 1, "leakage": -1, "delay": 1},
    "winding_shorted_peak": {"limit": 1, "bulk": 1, "leakage": -1, "delay": 1},
}


class WorkedOut(NamedTuple):
    """A fault that a function works out (here, in `lost_regulation`, `shorted_parts` or `touch_current`)."""

    function: str


class NothingFlows(NamedTuple):
    """A fault in which no more flows than in a running supply, and why."""

    why: str


class ForTheBench(NamedTuple):
    """A fault without an equation, and why only the bench can tell: it is not assessed."""

    why: str


FAULTS: dict[str, WorkedOut | NothingFlows | ForTheBench] = {
    "output shorted": WorkedOut("output_shorted"),
    "output capacitor shorted": WorkedOut("output_shorted"),
    "output capacitor open": ForTheBench("ripple is set by stray inductance and the regulator's response"),
    "output rectifier shorted": WorkedOut("rectifier_shorted_peak"),
    "output rectifier open": WorkedOut("open_rectifier_voltage"),
    "one of several rectifiers open": ForTheBench(
        "how the others share the whole current depends on how hot each gets"
    ),
    "clamp open": WorkedOut("clamp_open"),
    "clamp resistor open": WorkedOut("clamp_open"),
    "one of several clamp resistors open": WorkedOut("rcd_clamp"),
    "one of several clamp resistors shorted": ForTheBench(
        "the other takes its voltage too; how long it does is not known"
    ),
    "clamp diode shorted": WorkedOut("clamp_diode_shorted_power"),
    "clamp without its diode": ForTheBench("the breakdown diode conducts forward at each turn-on, against the bulk"),
    "clamp capacitor shorted": WorkedOut("output_shorted"),
    "clamp capacitor beside a Zener open": NothingFlows("the breakdown diode clamps without it, with a sharper edge"),
    "clamp without its series resistor": NothingFlows("the clamp takes the same energy without it, faster"),
    "sense resistor shorted": WorkedOut("sense_shorted_peak"),
    "sense resistor open": ForTheBench(
        "the switch's source rises until the controller's input or the gate breaks down"
    ),
    "switch open": NothingFlows("the supply stops"),
    "gate shorted to source": NothingFlows("the switch stays off; the controller's driver works into a short"),
    "gate shorted to drain": ForTheBench(
        "the bulk reaches the controller through its driver: what breaks there is not known"
    ),
    "gate open": ForTheBench("an open gate may float up and hold the switch half on: what opens then is not known"),
    "base open": ForTheBench("with its base open it stands less voltage: what breaks then is not known"),
    "auxiliary rectifier open": ForTheBench("whether the controller restarts or stops is in its data sheet"),
    "auxiliary rectifier shorted": ForTheBench("the controller's supply swings below its ground"),
    "auxiliary capacitor open": ForTheBench("the controller's supply follows the winding"),
    "auxiliary capacitor shorted": WorkedOut("series_share"),
    "start-up part open": NothingFlows("it does not start again once it has stopped"),
    "start-up part shorted": ForTheBench(
        "the bulk comes straight onto the controller's supply: what breaks is not known"
    ),
    "one of several start-up parts shorted": WorkedOut("series_share"),
    "one of two bleeders shorted": WorkedOut("series_share"),
    "one of two bleeders open": WorkedOut("energy_left"),
    "one of two series Y capacitors shorted": WorkedOut("touch_current"),
    "feedback open": WorkedOut("greatest_power"),
    "optocoupler dark": WorkedOut("greatest_power"),
    "optocoupler transistor shorted": NothingFlows("the controller is told to stop: the output falls"),
    "coupler resistor shorted": ForTheBench(
        "the LED carries whatever the reference lets through, and may fail either way"
    ),
    "reference open": WorkedOut("greatest_power"),
    "reference shorted": NothingFlows("the LED is lit for good and the controller told to stop: the output falls"),
    "feedback divider upper open": WorkedOut("greatest_power"),
    "feedback divider lower open": NothingFlows("the output falls to about the voltage of the reference"),
    "one of several dividers open": ForTheBench("what the others still hold depends on how much each weighs"),
    "controller supply open": ForTheBench(
        "whether the switch's gate is held down without a supply is in its data sheet"
    ),
    "winding layer shorted": ForTheBench(
        "current is set by the leakage between the shorted turns and the rest, not known"
    ),
    "part of a winding shorted": ForTheBench(
        "the leakage between the shorted part and the rest of the winding is not known"
    ),
    "primary pins shorted": ForTheBench("the switch turns on straight onto the bulk: nothing limits it but itself"),
    "winding pins shorted": WorkedOut("winding_shorted_peak"),
    "auxiliary pins shorted": WorkedOut("winding_shorted_peak"),
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


def winding_shorted_peak(limit: float, bulk: float, leakage: float, delay: float) -> float:
    """Primary peak with a whole winding shorted between its pins [A] = limit + Vdc delay / Llk.

    The short stands behind the leakage alone and gives nothing back.  [A], [V], leakage between the two [H], delay with
    blanking [s]. A leakage measured with several windings shorted is less than that to any one of them: the figure is
    then too high, never too low.  Source: own, Kirchhoff; winding resistance left out.

    >>> round(winding_shorted_peak(1.0, 375.0, 20e-6, 0.3e-6), 3)
    6.625
    """
    return peak_at_limit(limit, bulk, leakage, delay)


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
