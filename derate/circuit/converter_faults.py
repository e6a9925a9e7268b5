"""Single faults of the converter that have an equation: parts shorted or open, regulation lost."""

from __future__ import annotations

import math

from derate.circuit.clamp import avalanche_energy, unclamped_switch_peak
from derate.circuit.flyback import peak_at_limit
from derate.circuit.numerics import Band, in_range
from derate.circuit.secondary import RAIL_BAND
from derate.terms.tuples import NamedTuple
from derate.terms.values import Collapse, giving

# Single faults of the converter: those that have an equation, and the list of those that are for the bench.
#
# Line-side faults (switch, bridge, bulk shorted) are not here.


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

    Isec = Imax n k, k 0.9 Schottky, 0.8 PN (AN-23 step 20); power at most L Imax^2 fs / 2.

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


def _rectifier_shorted(
    limit: float, bulk: float, output: float, turns_ratio: float, leakage: float, delay: float
) -> float:
    return rectifier_shorted_peak(limit, bulk, output, turns_ratio, _bounded(leakage), delay)


def _winding_shorted(limit: float, bulk: float, leakage: float, delay: float) -> float:
    return winding_shorted_peak(limit, bulk, _bounded(leakage), delay)


def _bounded(leakage: float) -> float:
    if leakage <= 0.0:
        raise Collapse("the leakage may be anything down to nothing, so nothing bounds the current")
    return leakage


_SHORT = {"limit": (0.1, 3.0), "bulk": (50.0, 420.0), "leakage": (1e-6, 1e-4), "delay": (0.0, 1e-6)}
RECTIFIER_SHORTED = giving(
    "peak",
    _rectifier_shorted,
    SIGNS["rectifier_shorted_peak"],
    {**_SHORT, "output": (1.8, 30.0), "turns_ratio": (1.0, 50.0)},
    ERROR["rectifier_shorted_peak"],
)
WINDING_SHORTED = giving("peak", _winding_shorted, SIGNS["winding_shorted_peak"], _SHORT, ERROR["winding_shorted_peak"])


# Single parts of the converter shorted or open, where energy gives a figure.


# true / computed - 1. Sense resistor: a floor, the current climbs on where it does not return to zero or the core
# saturates. Clamp diode: the winding's own capacitance and the resistor come on top, a slow edge loses less. Open
# rectifier: an upper figure, the auxiliary winding and the core take their part.
SHORTED_ERROR: dict[str, Band] = {
    "sense_shorted_peak": (-0.05, math.inf),
    "flux_of_on_time": (-0.05, math.inf),
    "clamp_diode_shorted_power": (-0.3, 0.3),
    "open_rectifier_voltage": (-1.0, 0.02),
    "series_share": (0.0, 0.0),
    "energy_left": (0.0, 0.0),
}
SHORTED_SIGNS: dict[str, dict[str, int]] = {
    "sense_shorted_peak": {"bulk": 1, "duty": 1, "frequency": -1, "inductance": -1},
    "flux_of_on_time": {"bulk": 1, "duty": 1, "frequency": -1, "turns": -1, "area": -1},
    "clamp_diode_shorted_power": {"bulk": 1, "reflected": 1, "capacitance": 1, "frequency": 1},
    "open_rectifier_voltage": {"bulk": 1, "power": 1, "resistance": 1},
    "voltage": {"whole": 1, "own": 1, "others": -1},
    "power": {"whole": 1, "own": 0, "others": -1},  # greatest inside, where own and others are equal
    "energy_left": {"crest": 1, "capacitance": 1},
}


def sense_shorted_peak(bulk: float, duty: float, frequency: float, inductance: float) -> float:
    """Primary current at the end of one greatest on-time from zero [A]: bulk x duty / (frequency x inductance).

    bulk [V], duty [-] up to 1, frequency [Hz], inductance [H]. The limit no longer sees the current, so this is what
    one period adds; it is a floor.  Source: own derivation.

    >>> round(sense_shorted_peak(373.0, 0.7, 65e3, 750e-6), 2)
    5.36
    """
    in_range("duty", duty, 0.0, 1.0, "", open_low=True)
    for name, value in {"bulk": bulk, "frequency": frequency, "inductance": inductance}.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    return bulk * duty / (frequency * inductance)


def flux_of_on_time(bulk: float, duty: float, frequency: float, turns: float, area: float) -> float:
    """Flux density that one greatest on-time builds up from zero [T]: bulk x duty / (frequency x turns x area).

    bulk [V], duty [-], frequency [Hz], area [m2].  Source: Faraday.

    >>> round(flux_of_on_time(373.0, 0.7, 65e3, 84.0, 52e-6), 2)
    0.92
    """
    in_range("duty", duty, 0.0, 1.0, "", open_low=True)
    for name, value in {"bulk": bulk, "frequency": frequency, "turns": turns, "area": area}.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    return bulk * duty / (frequency * turns * area)


def clamp_diode_shorted_power(bulk: float, reflected: float, capacitance: float, frequency: float) -> float:
    """Power the switch turns into heat with the clamp's diode shorted [W]: C (Vdc + VR)^2 f / 2.

    The clamp capacitor then lies across the winding. It is left at -VR when the secondary stops and is charged to Vdc
    through the switch at each turn-on; whatever the resistance, C dV^2 / 2 is lost. bulk, reflected [V]; capacitance
    [F]; frequency [Hz].  Source: energy of a capacitor charged through a resistance.

    >>> round(clamp_diode_shorted_power(373.0, 88.0, 2.2e-9, 65e3), 1)
    15.2
    """
    for name, value in {"bulk": bulk, "capacitance": capacitance, "frequency": frequency}.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    in_range("reflected", reflected, 0.0, math.inf, "V")
    return 0.5 * capacitance * (bulk + reflected) ** 2 * frequency


def open_rectifier_voltage(bulk: float, power: float, resistance: float) -> float:
    """Voltage of the switch with no secondary to take the energy [V]: bulk + sqrt(power x resistance).

    power: all that the inductance hands over (`lost_regulation.greatest_power`) [W], ending in the clamp's resistance
    [ohm]. Upper figure.  Source: energy.

    >>> round(open_rectifier_voltage(373.0, 30.0, 23.5e3))
    1213
    """
    in_range("bulk", bulk, 0.0, math.inf, "V", open_low=True)
    in_range("power", power, 0.0, math.inf, "W")
    in_range("resistance of the clamp", resistance, 0.0, math.inf, "ohm", open_low=True)
    return bulk + math.sqrt(power * resistance)


class SeriesShare(NamedTuple):
    """voltage: across the resistor [V]; power: in it [W]"""

    voltage: float
    power: float


def series_share(whole: float, own: float, others: float) -> SeriesShare:
    """What one of several resistors in series bears of a voltage.

    whole: across all of them [V], rms for the power; own, others [ohm], others 0 for the only one.  Kirchhoff.

    >>> share = series_share(264.0, 1e6, 0.0)
    >>> share.voltage, round(share.power, 4)
    (264.0, 0.0697)
    """
    in_range("voltage", whole, 0.0, math.inf, "V")
    in_range("resistance", own, 0.0, math.inf, "ohm", open_low=True)
    in_range("resistance of the others", others, 0.0, math.inf, "ohm")
    return SeriesShare(whole * own / (own + others), (whole / (own + others)) ** 2 * own)


def energy_left(crest: float, capacitance: float) -> float:
    """Energy of a capacitor that nothing discharges [J]: C V^2 / 2.  crest [V], capacitance [F].

    >>> round(1e3 * energy_left(373.0, 264e-9), 1)
    18.4
    """
    in_range("crest", crest, 0.0, math.inf, "V")
    in_range("capacitance", capacitance, 0.0, math.inf, "F")
    return 0.5 * capacitance * crest**2


_ON_TIME = {"bulk": (50.0, 420.0), "duty": (0.1, 0.9), "frequency": (2e4, 2e5)}
SENSE_SHORTED = giving(
    "peak",
    sense_shorted_peak,
    SHORTED_SIGNS["sense_shorted_peak"],
    {**_ON_TIME, "inductance": (2e-4, 5e-3)},
    SHORTED_ERROR["sense_shorted_peak"],
)
FLUX_OF_ON_TIME = giving(
    "flux",
    flux_of_on_time,
    SHORTED_SIGNS["flux_of_on_time"],
    {**_ON_TIME, "turns": (20.0, 200.0), "area": (1e-5, 2e-4)},
    SHORTED_ERROR["flux_of_on_time"],
)
CLAMP_DIODE_SHORTED = giving(
    "power",
    clamp_diode_shorted_power,
    SHORTED_SIGNS["clamp_diode_shorted_power"],
    {"bulk": (50.0, 420.0), "reflected": (20.0, 200.0), "capacitance": (1e-10, 1e-7), "frequency": (2e4, 2e5)},
    SHORTED_ERROR["clamp_diode_shorted_power"],
)
OPEN_RECTIFIER = giving(
    "voltage",
    open_rectifier_voltage,
    SHORTED_SIGNS["open_rectifier_voltage"],
    {"bulk": (50.0, 420.0), "power": (0.0, 100.0), "resistance": (1e3, 1e6)},
    SHORTED_ERROR["open_rectifier_voltage"],
)
ENERGY_LEFT = giving(
    "energy", energy_left, SHORTED_SIGNS["energy_left"], {"crest": (0.0, 420.0), "capacitance": (0.0, 1e-5)}
)


# The output once nothing holds it: power that can be put into it, where a stop ends it, how soon a voltage is
# reached.
#
# Without load and without a stop nothing bounds the voltage: then only the time until a part's rating is passed is
# told.


# true / computed - 1. Power: an upper figure, no loss taken off; the low end is an efficiency of a half and a current
# that does not return to zero. Output at a stop: the rail by turns is the light winding here, since the output charges
# its capacitors, so the output lies below the figure by what the rail rings above it.
LOST_REGULATION_ERROR: dict[str, Band] = {
    "greatest_power": (-0.5, 0.02),
    "output_at_stop": (1.0 / (1.0 + RAIL_BAND["light"][1]) - 1.0, 1.0 / (1.0 + RAIL_BAND["light"][0]) - 1.0),
    "output_at_least_load": (0.0, 0.0),
    "time_to_voltage": (0.0, 0.0),
}
LOST_REGULATION_SIGNS: dict[str, dict[str, int]] = {
    # L I^2 with I = limit + V td / L has a minimum over the inductance
    "greatest_power": {"limit": 1, "bulk": 1, "delay": 1, "inductance": 0, "frequency": 1},
    "output_at_stop": {"stop": 1, "own_drop": 1, "turns": -1, "output_turns": 1, "drop": -1},
    "output_at_least_load": {"power": 1, "least": -1},
    "time_to_voltage": {"voltage": -1, "to": 1, "capacitance": 1, "power": -1},
}


def greatest_power(limit: float, bulk: float, inductance: float, delay: float, frequency: float | None = None) -> float:
    """Most that the inductance hands over, the switch opening at its limit every period [W].

    limit [A], bulk [V], inductance [H], delay [s], frequency [Hz]: L I^2 f / 2, I = limit + bulk x delay / L; what is
    left in the core at turn-on only lowers it. Without a fixed frequency (None: each period begins when the secondary
    has stopped) the primary draws at most a triangle without a gap: bulk x I / 2.

    Source: energy of the inductance.

    >>> round(greatest_power(1.0, 375.0, 1e-3, 0.2e-6, 66e3), 2), greatest_power(1.0, 300.0, 1e-3, 0.0)
    (38.14, 150.0)
    """
    for name, value in {"limit": limit, "bulk": bulk, "inductance": inductance}.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    in_range("delay", delay, 0.0, math.inf, "s")
    peak = limit + bulk * delay / inductance
    if frequency is None:
        return 0.5 * bulk * peak
    in_range("frequency", frequency, 0.0, math.inf, "Hz", open_low=True)
    return 0.5 * inductance * peak**2 * frequency


def output_at_stop(stop: float, own_drop: float, turns: float, output_turns: float, drop: float) -> float:
    """Output voltage at which the controller's own supply reaches its stop for over-voltage [V].

    stop [V]; own_drop: of the rail's rectifier [V]; turns: of the rail; output_turns, drop: of the output
    (stop + own_drop) output_turns / turns - drop.  Source: AN-4137 (2004) p18, the rail by turns, turned round.

    >>> round(output_at_stop(26.0, 0.9, 14.0, 12.0, 0.62), 2)
    22.44
    """
    in_range("turns of the rail", turns, 0.0, math.inf, "", open_low=True)
    in_range("turns of the output", output_turns, 0.0, math.inf, "", open_low=True)
    for name, value in {"stop": stop, "drop of the rail": own_drop, "drop of the output": drop}.items():
        in_range(name, value, 0.0, math.inf, "V")
    return max(0.0, (stop + own_drop) * output_turns / turns - drop)


def output_at_least_load(power: float, least: float) -> float:
    """Voltage at which a load that draws its least current whatever the voltage takes all the power [V] = P / I.

    power [W]; least [A], above 0. A resistive load settles lower.

    >>> output_at_least_load(10.0, 0.5)
    20.0
    """
    in_range("power", power, 0.0, math.inf, "W")
    in_range("least current", least, 0.0, math.inf, "A", open_low=True)
    return power / least


def time_to_voltage(voltage: float, to: float, capacitance: float, power: float) -> float:
    """Time from the loss of regulation until the output has risen to a voltage, no load [s]: C (to^2 - V^2) / (2 P).

    voltage, to [V]; capacitance [F]; power [W], above 0. Already there: 0.  Source: energy.

    >>> round(time_to_voltage(12.0, 25.0, 1580e-6, 29.0), 4)
    0.0131
    """
    in_range("voltage", voltage, 0.0, math.inf, "V")
    in_range("voltage to be reached", to, 0.0, math.inf, "V")
    in_range("capacitance", capacitance, 0.0, math.inf, "F")
    in_range("power", power, 0.0, math.inf, "W", open_low=True)
    return max(0.0, 0.5 * capacitance * (to**2 - voltage**2) / power)


_LIMIT = {
    "limit": (0.1, 3.0),
    "bulk": (50.0, 420.0),
    "delay": (0.0, 1e-6),
    "inductance": (2e-4, 5e-3),
    "frequency": (2e4, 2e5),
}
GREATEST_POWER = giving(
    "power", greatest_power, LOST_REGULATION_SIGNS["greatest_power"], _LIMIT, LOST_REGULATION_ERROR["greatest_power"]
)
OUTPUT_AT_STOP = giving(
    "voltage",
    output_at_stop,
    LOST_REGULATION_SIGNS["output_at_stop"],
    {
        "stop": (15.0, 40.0),
        "own_drop": (0.3, 1.2),
        "turns": (4.0, 40.0),
        "output_turns": (2.0, 40.0),
        "drop": (0.2, 1.2),
    },
    LOST_REGULATION_ERROR["output_at_stop"],
)
