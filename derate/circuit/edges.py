"""Slopes of capacitors: what drives a voltage up or down, and the pulse current that a slope means.

Contents: `TAKES_THE_PEAK`, `BEHIND_A_RESISTOR`, `ACROSS_THE_SWITCH`, `WITH_A_DIODE`, `PULSE_CURRENT`.

i = C dv/dt, an upper figure: no edge is steeper than the current that charges the capacitor allows. Slopes [V/s].
"""

from __future__ import annotations

from math import inf

from derate.circuit.numerics import Band, in_range
from derate.terms.formula import giving

# true / computed - 1: what the part sees is anything below, down to nothing where the edge is slow.
ERROR: dict[str, Band] = {"slope": (-0.9, 0.02)}
_VALUES = {
    "current": (0.0, 5.0),
    "capacitance": (1e-11, 1e-8),
    "swing": (10.0, 1000.0),
    "resistance": (10.0, 1e3),
    "edge": (1e-8, 1e-6),
    "slope": (0.0, 1e11),
}


def _own(capacitance: float) -> float:
    in_range("capacitance", capacitance, 0.0, inf, "F", open_low=True)
    return capacitance


def _takes_the_peak(current: float, capacitance: float) -> float:
    return current / _own(capacitance)


def _behind_a_resistor(swing: float, resistance: float, capacitance: float) -> float:
    return swing / (resistance * _own(capacitance))


def _across_the_switch(swing: float, edge: float, current: float, capacitance: float) -> float:
    return max(swing / edge, current / _own(capacitance))


def _with_a_diode(swing: float, resistance: float, current: float, capacitance: float) -> float:
    return max(swing / resistance, current) / _own(capacitance)


def _pulse_current(slope: float, capacitance: float) -> float:
    return slope * capacitance


def _ranges(*names: str) -> dict[str, tuple[float, float]]:
    return {name: _VALUES[name] for name in names}


TAKES_THE_PEAK = giving(
    "slope", _takes_the_peak, {"current": 1, "capacitance": -1}, _ranges("current", "capacitance"), ERROR["slope"]
)
BEHIND_A_RESISTOR = giving(
    "slope",
    _behind_a_resistor,
    {"swing": 1, "resistance": -1, "capacitance": -1},
    _ranges("swing", "resistance", "capacitance"),
    ERROR["slope"],
)
ACROSS_THE_SWITCH = giving(
    "slope",
    _across_the_switch,
    {"swing": 1, "edge": -1, "current": 1, "capacitance": -1},
    _ranges("swing", "edge", "current", "capacitance"),
    ERROR["slope"],
)
WITH_A_DIODE = giving(
    "slope",
    _with_a_diode,
    {"swing": 1, "resistance": -1, "current": 1, "capacitance": -1},
    _ranges("swing", "resistance", "current", "capacitance"),
    ERROR["slope"],
)
PULSE_CURRENT = giving("current", _pulse_current, {"slope": 1, "capacitance": 1}, _ranges("slope", "capacitance"))
