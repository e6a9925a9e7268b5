"""A flyback stage at a load as formulas: its primary, the ripple it draws from the bulk, its switch.

Contents: `point_of`, `PRIMARY_AT`, `switching_ripple`, `avalanche`, `mosfet_loss`.  Each stands for a fixed
frequency and for a control that waits for the secondary to stop (boundary).
"""

from __future__ import annotations

import math
from collections.abc import Callable

from derate.circuit.capacitor_ageing import LIFE_ERROR, bulk_switching_ripple
from derate.circuit.clamp import ZENER_ERROR, avalanche_energy
from derate.circuit.flyback import ERROR, PrimaryPoint, boundary_point, operating_point
from derate.circuit.thermal import capacitive_loss, conduction_loss, crossover_loss
from derate.terms.formula import Formula

_STAGE = {
    "bulk": (100.0, 375.0),
    "power": (2.0, 40.0),
    "inductance": (3e-4, 3e-3),
    "reflected": (50.0, 130.0),
    "frequency": (4e4, 1.3e5),
}


def point_of(boundary: bool) -> Callable[..., PrimaryPoint]:
    """The operating point of a fixed frequency, or of a control that waits for the secondary to stop.

    Leakage and drain capacitance are left out: both make the true peak and RMS of the primary smaller.
    `frequency` is the highest one of a boundary control; infinite where nothing caps it.
    """

    def fixed(*, bulk: float, power: float, inductance: float, reflected: float, frequency: float) -> PrimaryPoint:
        return operating_point(bulk, power, inductance, reflected, frequency)

    def follows(
        *, bulk: float, power: float, inductance: float, reflected: float, frequency: float = math.inf
    ) -> PrimaryPoint:
        return boundary_point(bulk, power, inductance, reflected, frequency_range=(0.0, frequency))

    return follows if boundary else fixed


_FIXED_SIGNS = {
    "peak": {"bulk": -1, "power": 1, "inductance": -1, "reflected": -1, "frequency": -1},
    "rms": {"bulk": -1, "power": 1, "inductance": -1, "reflected": -1, "frequency": -1},
    "average": {"bulk": -1, "power": 1},
    "duty": {"bulk": -1, "power": 1, "inductance": 1, "reflected": 1, "frequency": 1},
    "secondary_duty": {"bulk": 1, "power": 1, "inductance": 1, "reflected": -1, "frequency": 1},
}
# Above its cap a boundary control is discontinuous at a fixed frequency, below it the frequency plays no part. The RMS
# is that of a triangle, sqrt(peak × power / bulk × 2/3): like the peak.
_BOUNDARY_SIGNS = {**_FIXED_SIGNS, "rms": {**_FIXED_SIGNS["rms"], "reflected": 0}}
# Currents and duties of the primary, by whether it runs at the boundary.
PRIMARY_AT = {
    boundary: Formula(
        point_of(boundary),
        _BOUNDARY_SIGNS if boundary else _FIXED_SIGNS,
        _STAGE,
        {name: ERROR[name] for name in ("peak", "rms", "duty", "secondary_duty")},
    )
    for boundary in (False, True)
}


def switching_ripple(boundary: bool) -> Formula:
    """Switching current of the bulk [A]: the primary's rms less its average, which the mains side supplies."""
    point = point_of(boundary)

    def solve(**inputs: float) -> dict[str, float]:
        at = point(**inputs)
        return {"rms": bulk_switching_ripple(at.rms, min(at.rms, at.average))}

    signs = {"bulk": 0, "power": 1, "inductance": -1, "reflected": -1 if not boundary else 0, "frequency": -1}
    return Formula(solve, {"rms": signs}, _STAGE, {"rms": LIFE_ERROR["bulk_switching_ripple"]})


def mosfet_loss(boundary: bool) -> Formula:
    """Loss of a MOSFET at a load [W]: conduction, drain capacitance and crossover.

    hot: on-resistance [ohm]; capacitance: at the drain [F]; edge: time of the crossover [s]
    """
    point = point_of(boundary)

    def solve(
        *,
        bulk: float,
        power: float,
        inductance: float,
        reflected: float,
        hot: float,
        capacitance: float,
        edge: float,
        frequency: float = math.inf,
    ) -> dict[str, float]:
        at = point(bulk=bulk, power=power, inductance=inductance, reflected=reflected, frequency=frequency)
        on = conduction_loss(at.rms, hot)
        drain = capacitive_loss(capacitance, bulk, reflected, at.frequency, "continuous").high
        return {"power": on + drain + crossover_loss(bulk + reflected, at.peak, edge, at.frequency)}

    signs = {**dict.fromkeys(_STAGE, 0), "hot": 1, "capacitance": 1, "edge": 1}
    ranges = {**_STAGE, "hot": (0.2, 10.0), "capacitance": (2e-11, 2e-10), "edge": (1e-8, 1e-7)}
    return Formula(solve, {"power": signs}, ranges, {"power": (-0.3, 0.3)})


def avalanche(boundary: bool, at_limit: bool) -> Formula:
    """Energy of one turn-off into the breakdown of the switch [J]; at_limit: at the current limit, else at a load.

    Text-book single-pulse energy, the source being bulk plus reflected voltage.
    """
    point = point_of(boundary)

    def solve(
        *,
        bulk: float,
        inductance: float,
        reflected: float,
        leakage: float,
        drain: float,
        breakdown: float,
        power: float = 0.0,
        frequency: float = math.inf,
        limit: float = 0.0,
        delay: float = 0.0,
    ) -> dict[str, float]:
        if at_limit:
            peak = limit + bulk * delay / inductance
        else:
            peak = point(bulk=bulk, power=power, inductance=inductance, reflected=reflected, frequency=frequency).peak
        return {"energy": avalanche_energy(bulk, reflected, leakage, peak, breakdown, drain)}

    # at a load a higher reflected voltage lowers the peak and leaves less time: no single sign
    signs = {"bulk": 1, "reflected": 1 if at_limit else 0, "leakage": 1, "breakdown": -1, "drain": -1, "inductance": -1}
    signs |= {"limit": 1, "delay": 1} if at_limit else {"power": 1, "frequency": -1}
    ranges = {
        **_STAGE,
        "bulk": (250.0, 375.0),
        "leakage": (5e-6, 1e-4),
        "drain": (2e-11, 1e-10),
        "breakdown": (600.0, 800.0),
        "limit": (0.5, 3.0),
        "delay": (0.0, 1e-6),
    }
    return Formula(
        solve, {"energy": signs}, {name: ranges[name] for name in signs}, {"energy": ZENER_ERROR["avalanche_energy"]}
    )
