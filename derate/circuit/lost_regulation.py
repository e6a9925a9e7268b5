"""The output once nothing holds it: power that can be put into it, where a stop ends it, how soon a voltage is reached.

Contents: `greatest_power`, `output_at_stop`, `output_at_least_load`, `time_to_voltage`.

Without load and without a stop nothing bounds the voltage: then only the time until a part's rating is passed is told.
"""

from __future__ import annotations

import math

from derate.circuit.bands import Band, in_range
from derate.circuit.secondary import RAIL_BAND

# true / computed - 1. Power: an upper figure, no loss taken off; the low end is an efficiency of a half and a current
# that does not return to zero. Output at a stop: the rail by turns is the light winding here, since the output charges
# its capacitors, so the output lies below the figure by what the rail rings above it.
ERROR: dict[str, Band] = {
    "greatest_power": (-0.5, 0.02),
    "output_at_stop": (1.0 / (1.0 + RAIL_BAND["light"][1]) - 1.0, 1.0 / (1.0 + RAIL_BAND["light"][0]) - 1.0),
    "output_at_least_load": (0.0, 0.0),
    "time_to_voltage": (0.0, 0.0),
}
SIGNS: dict[str, dict[str, int]] = {
    # L I^2 with I = limit + V td / L has a minimum over the inductance
    "greatest_power": {"limit": 1, "bulk": 1, "delay": 1, "inductance": 0, "frequency": 1},
    "output_at_stop": {"stop": 1, "own_drop": 1, "turns": -1, "output_turns": 1, "drop": -1},
    "output_at_least_load": {"power": 1, "least": -1},
    "time_to_voltage": {"voltage": -1, "to": 1, "capacitance": 1, "power": -1},
}


def greatest_power(
    limit: float, bulk: float, inductance: float, delay: float, frequency: float | None = None
) -> float:  # fmt: skip
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
    (stop + own_drop) output_turns / turns - drop.  Source: AN-4137 p18, the rail by turns, turned round.

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
