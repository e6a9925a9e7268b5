"""Rectifiers and windings on the output side of a flyback: voltages and losses.

Contents: `Reverse`, `reverse_voltage`, `snubber_loss`, `forward_loss`, `RailBand`,
`flyback_winding_rail`.

Sources: AN-4137 (Fairchild, 2004) eq 20 and 22, measured rails on p18 and p19; ngspice rows of
tests/data/ngspice_flyback.json for the ringing.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from derate.circuit.bands import Band, in_range

# true / computed - 1 of the reverse voltage. Undamped ngspice rows 1.20..2.58 times; a junction capacitance that falls
# as the root of the voltage can ring to 3 times (own: equal charge and energy), recovery charge to more: no upper end.
ERROR: dict[str, Band] = {
    "reverse_floor": (-0.05, math.inf),  # fully damped, the leakage keeps its share of the bulk: up to 5 % of it
    "reverse_damped": (-0.25, 0.05),  # as good as the stated factor; common practice, no source
    "snubber_loss": (-0.10, 0.50),  # the ringing itself adds; common practice, no source
    "forward_loss": (-0.10, 0.10),  # drop at the mean conducted current against the curve; common practice, no source
}

# Rails off the turns ratio. Loaded: own allowance +15/-10 %, measured in AN-4137 +6, +11 and +8 % at full load. One
# lightly loaded winding beside loaded ones: ngspice 1.6..2.1 times, undamped, at 1..3 % leakage; 1.15..1.33 times at
# 36..41 mA; with damped rectifiers 1.14 and 1.35 times at 10 mA, 1 and 3 % leakage, 1.15 times at 40 mA, 2 %.
RAIL_BAND: dict[str, Band] = {"loaded": (-0.10, 0.15), "light": (-0.10, 1.15)}

SIGNS: dict[str, dict[str, int]] = {
    "reverse_floor": {"output": 1, "bulk": 1, "turns_ratio": -1},
    "snubber_loss": {"capacitance": 1, "step": 1, "frequency": 1},
    "forward_loss": {"drop": 1, "average": 1, "resistance": 1, "rms": 1},
    "flyback_winding_rail": {"turns": 1, "reference_turns": -1, "output": 1, "drop": 1, "own_drop": -1},
}


class Reverse(NamedTuple):
    """floor: the least the rectifier sees [V]; high: the most [V], infinite while no damping is stated"""

    floor: float
    high: float


class RailBand(NamedTuple):
    """nominal: by turns [V]; low, high: what loading and leakage make of it [V]"""

    low: float
    nominal: float
    high: float


def reverse_voltage(output: float, bulk: float, turns_ratio: float, ringing: float | None = None) -> Reverse:
    """Reverse voltage of an output rectifier [V] = Vo + Vdc / n, a floor: it can prove a fail, never a pass.

    output [V]; bulk: at the highest mains [V]; turns_ratio Np/Ns [-]
    ringing: peak over floor from a measurement or a snubber design [-], 1 or more. Not stated: `high`
    is infinite. 1.3 (AN-4137 eq 22) is a rule for choosing a part, not an upper figure.

    >>> reverse = reverse_voltage(3.3, 375.0, 22.5)
    >>> round(reverse.floor, 1), reverse.high
    (20.0, inf)
    """
    in_range("output", output, 0.0, math.inf, "V")
    in_range("bulk", bulk, 0.0, math.inf, "V", open_low=True)
    in_range("turns_ratio", turns_ratio, 0.0, math.inf, "", open_low=True)
    floor = output + bulk / turns_ratio  # AN-4137 eq 20
    if ringing is None:
        return Reverse(floor, math.inf)
    in_range("ringing", ringing, 1.0, math.inf, "")
    return Reverse(floor, floor * ringing)


def snubber_loss(capacitance: float, step: float, frequency: float) -> float:
    """Loss of a resistor-capacitor snubber [W] = C V^2 f: half at each edge.

    capacitance [F]; step: swing across it, for a rectifier its reverse voltage [V]; frequency [Hz].  Source: text-book.

    >>> round(snubber_loss(1e-9, 30.0, 74e3), 4)
    0.0666
    """
    for name, value in {"capacitance": capacitance, "step": step, "frequency": frequency}.items():
        in_range(name, value, 0.0, math.inf, "")
    return capacitance * step**2 * frequency


def forward_loss(drop: float, average: float, resistance: float = 0.0, rms: float = 0.0) -> float:
    """Conduction loss of a rectifier [W] = Vf Iav + r Irms^2.

    drop: threshold voltage, or the whole drop with resistance zero [V]; average, rms [A]; resistance [ohm].  Text-book.

    >>> forward_loss(0.31, 1.0)
    0.31
    """
    for name, value in {"drop": drop, "average": average, "resistance": resistance, "rms": rms}.items():
        in_range(name, value, 0.0, math.inf, "")
    if resistance > 0 and rms < average:
        raise ValueError(f"rms {rms:g} A is below the average {average:g} A: state the RMS current of the rectifier")
    return drop * average + resistance * rms**2


def flyback_winding_rail(
    turns: float,
    reference_turns: float,
    output: float,
    drop: float,
    own_drop: float,
    load: str,
    *,
    leakage_share: float = 0.0,
) -> RailBand:
    """Rail of a winding that conducts with the output [V] = (Na/Ns)(Vo + Vf) - Vfa, with its band.

    turns, reference_turns [-]; output, drop, own_drop [V]
    load: "loaded" or "light" (alone lightly loaded beside loaded ones); leakage_share: leakage over inductance [-],
    "light" has been looked at up to 0.03: above it `high` is infinite

    >>> flyback_winding_rail(6.0, 3.0, 5.0, 0.5, 1.0, "loaded").nominal
    10.0
    """
    for name, value in {"turns": turns, "reference_turns": reference_turns, "output": output}.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    in_range("drop", drop, 0.0, math.inf, "V")
    in_range("own_drop", own_drop, 0.0, math.inf, "V")
    if load not in RAIL_BAND:
        raise ValueError(f"load {load!r} is not known: state one of {', '.join(sorted(RAIL_BAND))}")
    in_range("leakage_share", leakage_share, 0.0, 1.0, "")
    nominal = turns / reference_turns * (output + drop) - own_drop
    if nominal <= 0:
        raise ValueError(f"the rail comes to {nominal:.3g} V: state more turns or a smaller own_drop")
    low, high = (nominal * (1 + end) for end in RAIL_BAND[load])
    if load == "light" and leakage_share > 0.03:
        high = math.inf
    return RailBand(low, nominal, high)
