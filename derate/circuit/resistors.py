"""Resistances and what they bear: shares of a voltage, heat, the energy of a pulse.

Contents: `mains_share`, `MAINS_SHARE`, `SERIES_SHARE`, `others_left`, `HEAT`, `PULSE`, `PULSE_POWER`, `ENERGY_SHARE`,
`SHORT`, `winding_resistance`, `WINDING`.  Kirchhoff and Joule, exact; copper as `winding_resistance` says.
"""

from __future__ import annotations

from math import pi

from derate.circuit.barrier import bleeder_loss
from derate.circuit.converter_faults import SHORTED_SIGNS, series_share
from derate.terms.values import Formula, giving

_OHMS = (1e3, 1e6)


def mains_share(whole: float, own: float, others: float) -> dict[str, float]:
    """Rms voltage [V] and power [W] of one of several resistors in series across the mains.

    whole: rms of the mains [V]; own, others [ohm], others 0 for the only one.
    Kirchhoff; V² / R of the chain, by shares.

    >>> share = mains_share(264.0, 1e6, 1e6)
    >>> share["voltage"], round(share["power"], 6)
    (132.0, 0.017424)
    """
    return {"voltage": whole * own / (own + others), "power": bleeder_loss(whole, own + others) * own / (own + others)}


# The power is greatest inside, where own and others are equal: no single sign.
_SHARES = {"voltage": SHORTED_SIGNS["voltage"], "power": SHORTED_SIGNS["power"]}
MAINS_SHARE = Formula(mains_share, _SHARES, {"whole": (50.0, 300.0), "own": _OHMS, "others": (0.0, 1e6)})
SERIES_SHARE = Formula(series_share, _SHARES, {"whole": (50.0, 420.0), "own": _OHMS, "others": (0.0, 1e6)})


def others_left(*names: str) -> Formula:
    """Resistance of others in series [ohm]: all of them, and the least when one of them is shorted.

    >>> others_left("a", "b").solve(a=1e3, b=3e3)
    {'sum': 4000.0, 'least': 1000.0}
    """

    def left(**ohms: float) -> dict[str, float]:
        return {"sum": sum(ohms.values()), "least": sum(ohms.values()) - max(ohms.values())}

    signs = dict.fromkeys(names, 1)
    return Formula(left, {"sum": signs, "least": signs}, dict.fromkeys(names, (0.0, 1e6)))


def _heat(resistance: float, current: float) -> float:
    return resistance * current**2


def _pulse(resistance: float, i2t: float, peak: float) -> dict[str, float]:
    return {"energy": resistance * i2t, "power": resistance * peak * peak, "width": i2t / peak**2}


def _pulse_power(peak: float, part_resistance: float) -> float:
    return peak**2 * part_resistance


def _energy_share(energy: float, part_resistance: float, other_resistance: float) -> float:
    return energy * part_resistance / (part_resistance + other_resistance)


def _short(mains: float, resistance: float) -> float:
    return mains / max(resistance, 1e-3)


# Power in a resistance [W] by its rms current [A].
HEAT = giving("power", _heat, {"resistance": 1, "current": 1}, {"resistance": (0.0, 100.0), "current": (0.0, 10.0)})
# Energy [J], greatest power [W] and equivalent width [s] of a pulse in a resistance [ohm], from I²t [A²s] and peak [A].
# Peak and I²t come from one pulse and move together: for their quotient both ends of each are run.
PULSE = Formula(
    _pulse,
    {"energy": {"resistance": 1, "i2t": 1}, "power": {"resistance": 1, "peak": 1}, "width": {"i2t": 0, "peak": 0}},
    {"resistance": (0.1, 100.0), "i2t": (1e-3, 10.0), "peak": (1.0, 100.0)},
)
PULSE_POWER = giving(
    "power", _pulse_power, {"peak": 1, "part_resistance": 1}, {"peak": (0.0, 100.0), "part_resistance": (0.0, 100.0)}
)
# The same current flows through all series resistance: the energy [J] in one of them.
ENERGY_SHARE = giving(
    "energy",
    _energy_share,
    {"energy": 1, "part_resistance": 1, "other_resistance": -1},
    {"energy": (0.0, 10.0), "part_resistance": (0.1, 100.0), "other_resistance": (0.0, 100.0)},
)
# Current the mains drives into a short [A]; a resistance under a milliohm counts as one.
SHORT = giving("current", _short, {"mains": 1, "resistance": -1}, {"mains": (50.0, 300.0), "resistance": (0.0, 10.0)})


def winding_resistance(turns: float, bare: float, strands: float, area: float, shape: float) -> float:
    """Resistance of a winding from its wire [ohm]: rho × turns × length of a turn / area of the wire.

    turns, strands [-]; bare: diameter of one strand [m]; area of the core's leg [m²]
    shape: 0 the shortest turn and cold copper, 1 the longest and hot [-]; a turn is 4 to 9 times the side of the leg

    Copper 1.724e-8 ohm m at 20 degC, 31 % more at 100 degC.

    >>> round(winding_resistance(90.0, 0.2e-3, 1.0, 25e-6, 0.0), 3)
    0.988
    """
    turn = (4.0 + 5.0 * shape) * area**0.5
    rho = 1.724e-8 * (1.0 + 0.31 * shape)
    ohms: float = rho * turns * turn / (pi / 4.0 * bare**2 * strands)
    return ohms


WINDING = giving(
    "resistance",
    winding_resistance,
    {"turns": 1, "bare": -1, "strands": -1, "area": 1, "shape": 1},
    {"turns": (1.0, 200.0), "bare": (5e-5, 2e-3), "strands": (1.0, 50.0), "area": (1e-5, 3e-4), "shape": (0.0, 1.0)},
)
