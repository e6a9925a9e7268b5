"""Temperatures of parts from losses, the losses of the switch, resistances that follow temperature."""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import exp, log

from derate.circuit.numerics import Band, in_range
from derate.terms.tuples import NamedTuple
from derate.terms.values import Formula, giving

# Temperatures of parts from losses and thermal resistances, and the losses of the switch.
#
# Temperatures are degC, thermal resistances K/W.  Source: own derivation; bands as stated beside them.


# true / computed - 1; for temperatures of the RISE above the reference. Common practice, no source, unless said.
ERROR: dict[str, Band] = {
    "junction_rise": (-0.10, 0.10),
    "carried_rise": (-0.05, 0.15),  # copper and on-resistance losses rise with temperature
    "conduction_loss": (-0.10, 0.10),
    "capacitive_loss": (-0.30, 0.30),  # the capacitance falls with voltage; energy-related value asked for
    "crossover_loss": (-0.70, 1.0),  # transition time depends on the gate drive; an order of size only
}

SIGNS: dict[str, dict[str, int]] = {
    "junction_temperature": {"reference": 1, "power": 1, "resistances": 1},
    "carried_temperature": {"temperature": 1, "ambient": -1, "wanted": 1},
    "on_resistance": {"at_25": 1, "temperature": 1, "ratio": 1},
    "conduction_loss": {"rms": 1, "resistance": 1},
    "capacitive_loss": {"capacitance": 1, "bulk": 1, "reflected": 0, "frequency": 1},
    "crossover_loss": {"voltage": 1, "current": 1, "time": 1, "frequency": 1},
    "settled_junction": {"reference": 1, "thermal": 1, "fixed_loss": 1, "rms": 1, "at_25": 1, "ratio": 1},
}


HOT_CHANNEL = 2.8  # on-resistance at 150 degC over that at 25 degC, at the most: common practice, no source


def up_to_hot(celsius: float) -> float:
    """By how much an on-resistance still rises, at the most, from a temperature [degC] to a channel of 150 degC.

    As much for each kelvin as makes HOT_CHANNEL of 25 to 150 degC; 1 beyond that.

    >>> round(up_to_hot(25.0), 3), round(up_to_hot(100.0), 3), up_to_hot(160.0)
    (2.8, 1.51, 1.0)
    """
    return math.pow(HOT_CHANNEL, max(0.0, 150.0 - celsius) / 125.0)


class LossBand(NamedTuple):
    """low, high: what the loss lies between [W]"""

    low: float
    high: float


class Junction(NamedTuple):
    """temperature [degC], loss [W] there, resistance of the channel there [ohm]"""

    temperature: float
    loss: float
    resistance: float


def chain_temperatures(reference: float, power: float, resistances: Sequence[float]) -> tuple[float, ...]:
    """Temperature of every node of a series chain [degC], from the one next to the reference inwards.

    reference: ambient, case or lead [degC]; power through the chain [W]; resistances: from the reference inwards [K/W]

    >>> chain_temperatures(40.0, 2.0, [20.0, 5.0, 2.5])
    (80.0, 90.0, 95.0)
    """
    in_range("reference", reference, -90.0, 300.0, "degC")
    in_range("power", power, 0.0, math.inf, "W")
    if not resistances:
        raise ValueError("no thermal resistance is stated: state at least one [K/W]")
    nodes, level = [], reference
    for resistance in resistances:
        in_range("thermal resistance", resistance, 0.0, math.inf, "K/W")
        level += power * resistance
        nodes.append(level)
    return tuple(nodes)


def junction_temperature(reference: float, power: float, resistances: Sequence[float]) -> float:
    """Innermost temperature of a series chain [degC]; inputs as `chain_temperatures`.

    >>> junction_temperature(70.0, 0.33, [240.0])
    149.2
    """
    return round(chain_temperatures(reference, power, resistances)[-1], 12)


def carried_temperature(temperature: float, ambient: float, wanted: float) -> float:
    """A temperature read at one ambient, carried to another [degC]: plus the difference of the ambients.

    temperature: read [degC] at `ambient` [degC], at least that, less 10 K for what two instruments are apart
    wanted: the other ambient [degC]
    range: ambients at most 40 K apart, beyond which losses differ too much

    >>> carried_temperature(71.0, 24.0, 40.0)
    87.0
    """
    in_range("ambient", ambient, -90.0, temperature + 10.0, "degC")
    in_range("ambient it is carried to", wanted, ambient - 40.0, ambient + 40.0, "degC")
    return temperature + (wanted - ambient)


def on_resistance(at_25: float, temperature: float, ratio: float, ratio_temperature: float = 150.0) -> float:
    """Channel resistance at a junction temperature [ohm], between 25 degC and the one the maker's ratio is for.

    at_25: maximum at 25 degC [ohm]; ratio: resistance at `ratio_temperature` over that at 25 degC [-], 1 to 4
    Form: R25 ratio^((T - 25) / (Tr - 25)), geometric between two points of the data sheet.

    >>> round(on_resistance(1.0, 100.0, 2.5), 3)
    1.733
    """
    in_range("at_25", at_25, 0.0, math.inf, "ohm", open_low=True)
    in_range("ratio", ratio, 1.0, 4.0, "")
    in_range("ratio_temperature", ratio_temperature, 75.0, 250.0, "degC")
    in_range("temperature", temperature, 25.0, ratio_temperature, "degC")
    return float(at_25 * ratio ** ((temperature - 25) / (ratio_temperature - 25)))


def conduction_loss(rms: float, resistance: float) -> float:
    """Conduction loss [W] = Irms^2 R, the resistance at temperature.

    >>> round(conduction_loss(1.07, 2.2), 3)
    2.519
    """
    in_range("rms", rms, 0.0, math.inf, "A")
    in_range("resistance", resistance, 0.0, math.inf, "ohm")
    return rms**2 * resistance


def capacitive_loss(capacitance: float, bulk: float, reflected: float, frequency: float, mode: str) -> LossBand:
    """Loss of discharging the drain's capacitance at turn-on [W] = C V^2 f / 2.

    capacitance: energy-related, all that hangs at the drain [F]; bulk, reflected [V]; frequency [Hz]
    mode "continuous": V = Vdc + VR. "discontinuous" or "boundary": V anywhere from Vdc - VR (valley, not below 0) to
    Vdc + VR.  Source: own derivation.

    >>> loss = capacitive_loss(100e-12, 300.0, 100.0, 100e3, "discontinuous")
    >>> round(loss.low, 3), round(loss.high, 3)
    (0.2, 0.8)
    """
    for name, value in {"capacitance": capacitance, "bulk": bulk, "reflected": reflected, "f": frequency}.items():
        in_range(name, value, 0.0, math.inf, "")
    high = 0.5 * capacitance * (bulk + reflected) ** 2 * frequency
    if mode == "continuous":
        return LossBand(high, high)
    if mode in ("discontinuous", "boundary"):
        return LossBand(0.5 * capacitance * max(0.0, bulk - reflected) ** 2 * frequency, high)
    raise ValueError(f"mode {mode!r} is not known: state 'continuous', 'discontinuous' or 'boundary'")


def crossover_loss(voltage: float, current: float, time: float, frequency: float) -> float:
    """Loss of one edge's overlap [W] = V I t f / 2.  [V], [A], [s], [Hz].  An order of size, see the band.

    >>> round(crossover_loss(400.0, 1.0, 50e-9, 100e3), 3)
    1.0
    """
    for name, value in {"voltage": voltage, "current": current, "time": time, "frequency": frequency}.items():
        in_range(name, value, 0.0, math.inf, "")
    return 0.5 * voltage * current * time * frequency


def settled_junction(
    reference: float,
    thermal: float,
    fixed_loss: float,
    rms: float,
    at_25: float,
    ratio: float,
    ratio_temperature: float = 150.0,
) -> Junction:
    """Junction temperature of a switch whose resistance rises with it.

    reference [degC]; thermal: junction to reference [K/W]; fixed_loss: switching and capacitive [W]; rms [A];
    at_25, ratio, ratio_temperature: as `on_resistance`.  Refused where it would settle above `ratio_temperature`.

    >>> round(settled_junction(60.0, 20.0, 0.3, 0.8, 1.5, 2.4).temperature, 1)
    98.0
    """
    in_range("reference", reference, -55.0, ratio_temperature, "degC")
    for name, value in {"thermal": thermal, "fixed_loss": fixed_loss, "rms": rms}.items():
        in_range(name, value, 0.0, math.inf, "")

    def at(level: float) -> float:
        resistance = on_resistance(at_25, min(max(level, 25.0), ratio_temperature), ratio, ratio_temperature)
        return reference + thermal * (fixed_loss + rms**2 * resistance)

    level = reference
    for _ in range(500):  # rises monotonically to the lowest steady state
        new = at(level)
        if new > ratio_temperature:
            raise ValueError(
                f"the junction does not settle below {ratio_temperature:g} degC: outside the range of this formula; "
                "state a smaller loss or thermal resistance"
            )
        if abs(new - level) < 1e-9:
            break
        level = new
    else:
        raise ValueError("the junction settles too slowly to tell it from runaway: state a smaller loss")
    resistance = on_resistance(at_25, max(level, 25.0), ratio, ratio_temperature)
    return Junction(level, fixed_loss + rms**2 * resistance, resistance)


def _carried(read: float, at: float, wanted: float) -> float:
    return carried_temperature(read, at, wanted)


def _junction(reference: float, power: float, resistance: float) -> float:
    return junction_temperature(reference, power, [resistance])


def hot_channel(temperature: float) -> Formula:
    """On-resistance of the switch [ohm] at a junction temperature [degC], from the maker's figures at 25 degC."""

    def at_temperature(at_25: float, ratio: float) -> float:
        return on_resistance(at_25, temperature, ratio)

    signs = {name: SIGNS["on_resistance"][name] for name in ("at_25", "ratio")}
    return giving("resistance", at_temperature, signs, {"at_25": (0.1, 10.0), "ratio": (1.0, 4.0)})


CARRIED = giving(
    "temperature",
    _carried,
    {"read": 1, "at": -1, "wanted": 1},
    {"read": (40.0, 110.0), "at": (10.0, 35.0), "wanted": (10.0, 45.0)},
)
JUNCTION_TEMPERATURE = giving(
    "temperature",
    _junction,
    {"reference": 1, "power": 1, "resistance": 1},
    {"reference": (-10.0, 110.0), "power": (0.0, 5.0), "resistance": (0.5, 80.0)},
)


# Turn-off of a bipolar switch into a clamped winding: loss of the edge, and the current it carries at a voltage.
#
# The collector current falls in a straight line while the winding holds its own current: what the switch no longer
# takes charges whatever capacitance lies across it, until the clamp takes over. Source: own derivation;
# with no capacitance the voltage is at the clamp before the current falls, V I t / 2.


# true / computed - 1 of the loss with no capacitance. Below: a resistive load takes a third of it, and a capacitance
# that nobody stated can take nearly all. Above: the voltage rises while the current is still whole. Data sheets of
# 13003 and 13005 types print that crossover time beside the fall time, 0.29 and 0.15 us, 0.32 and 0.16 us: 2.0 times.
TURN_OFF_ERROR: dict[str, Band] = {"fall_loss": (-1.0, 1.25)}

TURN_OFF_SIGNS: dict[str, dict[str, int]] = {
    "fall_loss": {"voltage": 1, "current": 1, "fall": 1, "frequency": 1, "capacitance": -1},
    "locus_current": {"voltage": -1, "current": 1, "fall": 1, "capacitance": -1},
}


def fall_loss(voltage: float, current: float, fall: float, frequency: float, capacitance: float = 0.0) -> float:
    """Loss of the fall of the collector current [W].

    voltage: at which the clamp holds it [V]; current: before the fall [A]; fall: time from all to nothing [s];
    frequency [Hz]; capacitance: directly across the switch, empty before each turn-off [F]
    Rise ends within the fall: V I (tf/2 - 2 t1/3 + t1^2/(4 tf)), t1 = sqrt(2 C tf V / I); later: I^2 tf^2 / (24 C).

    >>> round(fall_loss(600.0, 0.3, 0.4e-6, 60e3), 3), round(fall_loss(600.0, 0.3, 0.4e-6, 60e3, 1e-9), 4)
    (2.16, 0.036)
    """
    for name, value in {
        "voltage": voltage,
        "current": current,
        "fall": fall,
        "frequency": frequency,
        "capacitance": capacitance,
    }.items():
        in_range(name, value, 0.0, math.inf, "")
    if current == 0.0 or fall == 0.0:
        return 0.0
    rise = math.sqrt(2.0 * capacitance * fall * voltage / current)
    if rise >= fall:
        return current**2 * fall**2 / (24.0 * capacitance) * frequency
    # rise: integral of V (t/t1)^2 I (1 - t/tf); then V I (tf - t1)^2 / (2 tf)
    own = voltage * current * (rise / 3.0 - rise**2 / (4.0 * fall))
    return (own + voltage * current * (fall - rise) ** 2 / (2.0 * fall)) * frequency


def locus_current(voltage: float, current: float, fall: float, capacitance: float) -> float:
    """Collector current left when the voltage has reached `voltage` [A]: I (1 - sqrt(2 C V / (I tf))), not below zero.

    voltage [V]; current: before the fall [A]; fall: time from all to nothing [s]; capacitance: directly across the
    switch, empty before each turn-off [F].  Source: own derivation, v = I t^2 / (2 C tf).

    >>> round(locus_current(600.0, 0.3, 0.4e-6, 50e-12), 4), locus_current(600.0, 0.3, 0.4e-6, 1e-9)
    (0.0879, 0.0)
    """
    for name, value in {"voltage": voltage, "current": current, "fall": fall, "capacitance": capacitance}.items():
        in_range(name, value, 0.0, math.inf, "")
    if current == 0.0:
        return 0.0
    if capacitance == 0.0 or voltage == 0.0:
        return current
    if fall == 0.0:
        return 0.0
    return max(0.0, current * (1.0 - math.sqrt(2.0 * capacitance * voltage / (current * fall))))


LOCUS = giving(
    "current",
    locus_current,
    TURN_OFF_SIGNS["locus_current"],
    {"voltage": (50.0, 900.0), "current": (0.05, 3.0), "fall": (5e-8, 1e-6), "capacitance": (1e-11, 1e-8)},
)


# Resistances that follow temperature: thermistors by the B equation and by self-heating.


# true / computed - 1. B is constant to about 5 % of resistance between 25 and 100 degC. Dissipation is defined by the
# body temperature; what its value was measured at goes with the value.
RESISTANCE_ERROR: dict[str, Band] = {"resistance": (-0.05, 0.05), "rise": (0.0, 0.0)}
RESISTANCE_SIGNS: dict[str, dict[str, int]] = {
    "resistance": {"at_25": 1, "b_value": 0, "temperature": -1},
    "rise": {"power": 1, "dissipation": -1},
    "body": {"at_25": 1, "b_value": -1, "hot": -1},  # at a hot resistance below that at 25 degC
}
_KELVIN = 273.15


def thermistor_resistance(at_25: float, b_value: float, temperature: float) -> float:
    """Resistance of a thermistor at a temperature [ohm].

    at_25: at 25 degC, tolerance applied [ohm], 1e-3 to 1e7; b_value: B from 25 degC [K], 500 to 7000
    temperature: of its body; "cold" is the air inside the supply, not 25 degC [degC], -55 to 250

    R = R25 exp(B (1/T - 1/298.15)), the definition of B (IEC 60539-1).
    """
    in_range("resistance at 25 degC", at_25, 1e-3, 1e7, "ohm")
    in_range("B value", b_value, 500.0, 7000.0, "K")
    in_range("temperature", temperature, -55.0, 250.0, "degC")
    return at_25 * exp(b_value * (1.0 / (temperature + _KELVIN) - 1.0 / (25.0 + _KELVIN)))


def self_heating(power: float, dissipation: float) -> float:
    """Rise of a thermistor's body above the air beside it [K], in equilibrium.

    power lost in it [W], 0 to 100; dissipation: power for a rise of 1 K [W/K], 1e-4 to 1

    P / delta, the definition of the dissipation factor (IEC 60539-1, as two data sheets print it).
    """
    in_range("power", power, 0.0, 100.0, "W")
    in_range("dissipation factor", dissipation, 1e-4, 1.0, "W/K")
    return power / dissipation


def body_temperature(at_25: float, b_value: float, hot: float) -> float:
    """Temperature of a thermistor's body from its resistance [degC]: the B equation turned round.

    at_25: resistance at 25 degC [ohm], 1e-3 to 1e7; b_value [K], 500 to 7000; hot: resistance now [ohm], above 0
    """
    in_range("resistance at 25 degC", at_25, 1e-3, 1e7, "ohm")
    in_range("B value", b_value, 500.0, 7000.0, "K")
    in_range("hot resistance", hot, 0.0, at_25, "ohm", open_low=True)
    inverse = 1.0 / (25.0 + _KELVIN) - log(at_25 / hot) / b_value
    in_range("inverse of the temperature", inverse, 1e-3, 1.0, "1/K")
    return 1.0 / inverse - _KELVIN


def _at_air(resistance: float, b_constant: float, air: float) -> float:
    return thermistor_resistance(resistance, b_constant, air)


def body_by_power(*powers: str) -> Formula:
    """Body of a thermistor [degC]: the air beside it and its rise by the greatest of several powers [W]."""

    def body(air: float, dissipation: float, **power: float) -> float:
        return air + self_heating(max(power.values()), dissipation)

    ranges = {"air": (-10.0, 80.0), "dissipation": (5e-3, 5e-2), **dict.fromkeys(powers, (0.0, 3.0))}
    return giving("body", body, {"air": 1, "dissipation": -1, **dict.fromkeys(powers, 1)}, ranges)


MARKED_AT = 25.0  # temperature at which the value of a part is marked [degC]


def _moved(coefficient: float, temperature: float) -> float:
    """What a temperature adds to the value of a part: α (ϑ − 25 degC), as a share or in its own unit.

    coefficient: share [1/K] or unit for each kelvin; temperature: of the part [degC]

    >>> round(_moved(50e-6, 105.0), 9)
    0.004
    """
    return coefficient * (temperature - MARKED_AT)


def _by_share(value: float, share: float) -> float:
    """Value of a part with what its temperature adds: value (1 + share), in its own unit.

    value: as marked, at 25 degC, of either sign; share: added by its temperature, above -1
    Raises ValueError where nothing of the value is left.

    >>> round(_by_share(1000.0, 0.004), 6)
    1004.0
    """
    if not share > -1.0:
        raise ValueError(f"a temperature coefficient that adds {share:g} to a value leaves nothing of it")
    return value * (1.0 + share)


# Neither coefficient nor temperature has one sign: which way one moves the value hangs on the other.
MOVED = giving(
    "moved", _moved, {"coefficient": 0, "temperature": 0}, {"coefficient": (-3e-3, 3e-3), "temperature": (-40.0, 275.0)}
)
VALUE_BY_SHARE = giving("value", _by_share, {"value": 1, "share": 0}, {"value": (-1e3, 1e3), "share": (-0.75, 0.75)})

TABLE_AIR = 25.0  # air at which a maker's table of hot resistances is read [degC]


def body_by_resistance(*hot: str) -> Formula:
    """Body of a thermistor [degC] by the least of several hot resistances [ohm], carried with the air above 25 degC."""

    def body(air: float, at_25: float, b_constant: float, **resistance: float) -> float:
        return body_temperature(at_25, b_constant, min(resistance.values())) + (air - TABLE_AIR)

    signs = {"air": 1, "at_25": 1, "b_constant": -1, **dict.fromkeys(hot, -1)}
    ranges = {
        "air": (-10.0, 80.0),
        "at_25": (5.0, 50.0),
        "b_constant": (2500.0, 4000.0),
        **dict.fromkeys(hot, (0.1, 5.0)),
    }
    return giving("body", body, signs, ranges)


THERMISTOR = giving(
    "resistance",
    _at_air,
    {"resistance": 1, "b_constant": 0, "air": -1},
    {"resistance": (1.0, 50.0), "b_constant": (2500.0, 4000.0), "air": (-30.0, 100.0)},
)
