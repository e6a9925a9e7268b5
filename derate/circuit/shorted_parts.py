"""Single parts of the converter shorted or open, where energy gives a figure.

Contents: `sense_shorted_peak`, `flux_of_on_time`, `clamp_diode_shorted_power`, `open_rectifier_voltage`, `SeriesShare`,
`series_share`, `energy_left`.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from derate.circuit.bands import Band, in_range

# true / computed - 1. Sense resistor: a floor, the current climbs on where it does not return to zero or the core
# saturates. Clamp diode: the winding's own capacitance and the resistor come on top, a slow edge loses less. Open
# rectifier: an upper figure, the auxiliary winding and the core take their part.
ERROR: dict[str, Band] = {
    "sense_shorted_peak": (-0.05, math.inf),
    "flux_of_on_time": (-0.05, math.inf),
    "clamp_diode_shorted_power": (-0.3, 0.3),
    "open_rectifier_voltage": (-1.0, 0.02),
    "series_share": (0.0, 0.0),
    "energy_left": (0.0, 0.0),
}
SIGNS: dict[str, dict[str, int]] = {
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
    one period adds; it is a floor.  Source: text-book.

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
