"""The mains input in steady state as formulas: bridge, half wave, doubler, two capacitors with a choke; and its faults.

Contents: `BRIDGE_DROP`, `DIODE_DROP`, `RESIDUAL`, `BRIDGE`, `HALF_WAVE`, `DOUBLER`, `CHOKE`, `CHOKE_KIND`,
`stage_efficiency`, `SHORT`, `SHORT_ALTERNATE`, `SHORT_OF_DOUBLER`, `REVERSED`, `ONE_PAIR`, `LUMPED`.  The solvers, with
their sources and bands, are those of `rectifier`, `doubler`, `choke_filter` and `line_faults`.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from derate.circuit import doubler, line_faults, rectifier
from derate.circuit.choke_filter import STEADY_ERROR, filter_steady_state
from derate.circuit.numerics import Band
from derate.terms.formula import Collapse, Formula

# Two silicon diodes in series drop 1.6 V at small currents to 2.0 V at large; a fixed 1.75 V costs at most 0.7 % of the
# valley and 3.4 % of the line peak, which is what the error bands of the solver hold (ngspice, `rect_real` rows).
BRIDGE_DROP = 1.75
DIODE_DROP = BRIDGE_DROP / 2
RESIDUAL = 0.1  # share of its inductance a saturated choke keeps: common practice, no source

# Where the signs of the rectifier were proved the valley stays above half the crest: deeper ones run every corner.
_LINE = {"mains": (85.0, 265.0), "frequency": (47.0, 63.0), "series_resistance": (0.5, 8.0)}
_SUPPLY = {**_LINE, "capacitance": (4.7e-5, 4.7e-4), "load": (2.0, 15.0)}


def _bridge(**inputs: Any) -> Any:
    found = rectifier.steady_state(**inputs, drop=BRIDGE_DROP)
    if found is None:
        raise Collapse("the bulk capacitor cannot carry this load: the voltage collapses between two crests")
    return found


def _half_wave(**inputs: Any) -> Any:
    found = rectifier.steady_state(**inputs, drop=DIODE_DROP, half_wave=True)
    if found is None:
        raise Collapse("the bulk capacitor cannot carry this load: the voltage collapses between two crests")
    return found


def _doubler(**inputs: Any) -> Any:
    found = doubler.doubler_steady_state(**inputs, drop=DIODE_DROP)
    if found is None:
        raise Collapse("the bulk capacitors cannot carry this load: the voltage collapses between two crests")
    return found


@cache
def _choke(**inputs: Any) -> Any:
    found = filter_steady_state(**inputs, drop=BRIDGE_DROP)
    if found is None:
        raise Collapse("the bulk capacitors cannot carry this load: the voltage collapses between two crests")
    return found


def _with(signs: Mapping[str, Mapping[str, int]], more: Mapping[str, str]) -> dict[str, dict[str, int]]:
    """Signs without the fixed drop, with outputs that follow another's signs."""
    kept = {name: {k: v for k, v in row.items() if k != "drop"} for name, row in signs.items()}
    return kept | {name: kept[like] for name, like in more.items() if like in kept}


def _of(signs: Mapping[str, object], errors: Mapping[str, Band]) -> dict[str, Band]:
    return {name: band for name, band in errors.items() if name in signs}


_ALIKE = {"diode_peak": "line_peak", "diode_rms": "line_rms", "diode_reverse": "bulk_max"}
_BRIDGE_SIGNS = _with(rectifier.SIGNS, _ALIKE)
_HALF_WAVE_SIGNS = _with(rectifier.SIGNS_HALF_WAVE, _ALIKE) | {"diode_reverse": {"mains": 1}}  # twice the crest
_DOUBLER_SIGNS = _with(doubler.SIGNS, _ALIKE | {"capacitor_min": "bulk_min"})
BRIDGE = Formula(_bridge, _BRIDGE_SIGNS, _SUPPLY, _of(_BRIDGE_SIGNS, rectifier.ERROR))
HALF_WAVE = Formula(
    _half_wave, _HALF_WAVE_SIGNS, {**_SUPPLY, "load": (1.0, 6.0)}, _of(_HALF_WAVE_SIGNS, rectifier.ERROR)
)
DOUBLER = Formula(_doubler, _DOUBLER_SIGNS, {**_SUPPLY, "mains": (85.0, 140.0)}, _of(_DOUBLER_SIGNS, doubler.ERROR))


def _corner_signs(resistance: int, first: int, inductance: int, choke: int, second: int) -> dict[str, int]:
    return {
        "mains": 1,
        "frequency": 1,
        "series_resistance": resistance,
        "bulk1": first,
        "inductance": inductance,
        "choke_resistance": choke,
        "bulk2": second,
        "load": 1,
    }


# The ring between the capacitors leaves most inputs without a single sign. Over 30 random supplies with every corner of
# R, C1, L, RL, C2 run, these few corners held the worst of all 32 to within the allowance beside them
# (tests/stress/test_corners.py); the allowance is laid on top of the solver's own error band. Every map here names a
# corner, none a sign: each stands in a tuple.
_OF_THE_LINE = (_corner_signs(-1, 1, 1, -1, 1), _corner_signs(-1, 1, 1, -1, -1), _corner_signs(-1, -1, 1, -1, -1))
CHOKE_KIND = _corner_signs(-1, -1, 1, -1, 1)
_SECOND = (CHOKE_KIND,)
_VALLEY = ({**_corner_signs(-1, 1, 1, -1, 1), "load": -1},)
_RING_ALLOWANCE = {"line_rms": 0.003, "line_peak": 0.01, "bulk1_rms": 0.01}
_CHOKE_SIGNS = {
    "line_rms": _OF_THE_LINE[:2],
    "line_peak": (*_OF_THE_LINE, _corner_signs(-1, -1, -1, -1, 1)),
    "bulk1_rms": (_corner_signs(-1, 1, -1, -1, -1), _OF_THE_LINE[1]),
    "bulk2_rms": _SECOND,
    "choke_rms": _SECOND,
    "choke_peak": _SECOND,
    "bulk1_min": _VALLEY,
    "bulk2_min": _VALLEY,
    "diode_average": (_corner_signs(1, -1, -1, 1, -1),),
}
CHOKE = Formula(
    _choke,
    _CHOKE_SIGNS,
    {
        **_LINE,
        "bulk1": (4.7e-6, 4.7e-5),
        "inductance": (1e-4, 2e-3),
        "choke_resistance": (0.1, 3.0),
        "bulk2": (4.7e-6, 4.7e-5),
        "load": (2.0, 15.0),
    },
    _of(
        _CHOKE_SIGNS, {name: (low, high + _RING_ALLOWANCE.get(name, 0.0)) for name, (low, high) in STEADY_ERROR.items()}
    ),
)


def stage_efficiency(half: bool) -> Formula:
    """Efficiency behind the bulk capacitor [-]: output power over mains power less the losses ahead of it.

    The losses of bridge and series resistance are found by iterating the steady state; they are 2 to 6 % of the mains
    power and move by under a tenth over 20 % of capacitance, which the band holds.
    """

    def stage(
        *, delivered: float, power: float, mains: float, frequency: float, series_resistance: float, capacitance: float
    ) -> dict[str, float]:
        drop = DIODE_DROP if half else BRIDGE_DROP
        drawn = 0.97 * power
        for _ in range(3):  # the losses are a few per cent and change little: three rounds settle to 1e-4
            found = rectifier.steady_state(
                mains, frequency, max(series_resistance, 1e-3), capacitance, drawn, drop, half_wave=half
            )
            if found is None:
                raise Collapse("at this reading the bulk capacitor could not carry the load")
            drawn += power - found.line_power
        if not 0.0 < delivered < drawn:
            raise ValueError(f"{delivered:.4g} W out of {drawn:.4g} W drawn is no efficiency: check the readings")
        return {"efficiency": delivered / drawn}

    # less current at a higher mains: less is lost ahead, more of the power is drawn by the stage
    signs = {"delivered": 1, "power": -1, "mains": -1, "frequency": 1, "series_resistance": 1}
    ranges = {**_LINE, "capacitance": (4.7e-5, 4.7e-4), "delivered": (1.0, 6.0), "power": (7.0, 12.0)}
    return Formula(stage, {"efficiency": signs}, ranges, {"efficiency": (-0.004, 0.004)})


# ---- faults ----------------------------------------------------------------------------------------------------------

_FAULT = {"mains": (85.0, 265.0), "frequency": (47.0, 63.0), "resistance": (0.1, 15.0)}


def _shorted(mains: float, frequency: float, resistance: float, inductance: float) -> dict[str, float]:
    return {"rms": line_faults.shorted(mains, frequency, max(resistance, 1e-3), inductance).rms}


def _alternate(mains: float, frequency: float, resistance: float, inductance: float) -> dict[str, float]:
    return {"rms": line_faults.bridge_diode_shorted(mains, frequency, max(resistance, 1e-3), inductance).rms}


def _reversed(mains: float, frequency: float, resistance: float, capacitance: float) -> Any:
    return line_faults.half_wave_diode_shorted(mains, frequency, max(resistance, 1e-3), capacitance)


def _steady(found: Any) -> dict[str, float]:
    if found is None:
        raise Collapse("the bulk capacitor cannot carry the load with this fault: the voltage collapses")
    return {"rms": found.line_rms, "peak": found.line_peak, "ripple": found.capacitor_rms}


def _one_pair(mains: float, frequency: float, resistance: float, capacitance: float, load: float) -> dict[str, float]:
    resistance = max(resistance, 1e-3)
    return _steady(line_faults.bridge_diode_open(mains, frequency, resistance, capacitance, load, BRIDGE_DROP))


def _lumped(mains: float, frequency: float, resistance: float, capacitance: float, load: float) -> dict[str, float]:
    resistance = max(resistance, 1e-3)
    return _steady(rectifier.steady_state(mains, frequency, resistance, capacitance, load, BRIDGE_DROP))


_SHORT_RANGES = {**_FAULT, "inductance": (0.0, 5e-3)}
_SHORT_SIGNS = {"rms": line_faults.SIGNS["rms"]}
# A short behind the parts in series; of alternate half cycles (a diode of a bridge); of a doubler's diode.
SHORT = Formula(_shorted, _SHORT_SIGNS, _SHORT_RANGES, {"rms": line_faults.ERROR["rms"]})
SHORT_ALTERNATE = Formula(_alternate, _SHORT_SIGNS, _SHORT_RANGES, {"rms": line_faults.ERROR["rms"]})
SHORT_OF_DOUBLER = Formula(_alternate, _SHORT_SIGNS, _SHORT_RANGES, {"rms": line_faults.ERROR["doubler_rms"]})
# The diode of a half-wave input shorted: the bulk takes alternating current; the load is taken as stopped.
_ALTERNATING = {"mains": 1, "frequency": 1, "resistance": -1, "capacitance": 1}
REVERSED = Formula(
    _reversed,
    {
        "rms": _ALTERNATING,
        "peak": _ALTERNATING,
        "reverse": {"mains": 1, "frequency": -1, "resistance": -1, "capacitance": -1},
    },
    {**_FAULT, "capacitance": (1e-6, 1e-4)},
    {"rms": line_faults.ERROR["rms"], "peak": line_faults.ERROR["peak"]},
)
# One pair of a bridge conducts no more: a half-wave input. The choke between two capacitors shorted: both as one.
_PAIR = {"mains": -1, "frequency": 0, "resistance": -1, "capacitance": 1, "load": 1}
_PAIR_SIGNS = dict.fromkeys(("rms", "peak", "ripple"), _PAIR)
_PAIR_BANDS = {"rms": (-0.05, 0.05), "peak": (-0.1, 0.05), "ripple": (-0.05, 0.05)}
_PAIR_RANGES = {**_FAULT, "resistance": (0.5, 8.0), "capacitance": (4.7e-5, 4.7e-4), "load": (2.0, 10.0)}
ONE_PAIR = Formula(_one_pair, _PAIR_SIGNS, _PAIR_RANGES, _PAIR_BANDS)
LUMPED = Formula(_lumped, _PAIR_SIGNS, _PAIR_RANGES, _PAIR_BANDS)
