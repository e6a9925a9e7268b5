"""Periodic steady state of two bulk capacitors with a choke between them and a constant-power load.

    line - R - bridge - C1 - choke (L, RL) - C2 - P

The state at a zero crossing of the line must come back after a half cycle. The search starts from the solution with
both capacitors in one (rectifier.py); each trial is one half cycle in exact steps (filter_sweep.py).

Source: own derivation from Kirchhoff's laws; checked against ngspice in tests/circuit/test_choke_filter.py.
"""

from __future__ import annotations

from math import acos, pi, sqrt
from typing import NamedTuple

from derate.circuit.bands import Band, in_range
from derate.circuit.choke_filter import network
from derate.circuit.filter_sweep import Filter, State, Sums, sweep
from derate.circuit.fixed_point import fixed_point
from derate.circuit.rectifier import STOP, steady_state

# true / computed - 1, the diodes' drop known: 7 ngspice rows and 20 random ones within 0.3 %, 0.5 % where the ring is
# hardly damped. A real bridge taken as a fixed drop adds what rectifier.ERROR states, which is included.
ERROR: dict[str, Band] = {
    "bulk2_min": (-0.003, 0.008), "bulk2_max": (-0.003, 0.004), "bulk2_mean": (-0.003, 0.006),
    "bulk1_min": (-0.005, 0.01), "bulk1_max": (-0.003, 0.004), "line_rms": (-0.02, 0.005),
    "line_peak": (-0.04, 0.005), "bulk1_rms": (-0.025, 0.01), "bulk2_rms": (-0.025, 0.005),
    "choke_rms": (-0.02, 0.005), "choke_peak": (-0.03, 0.005), "diode_average": (-0.005, 0.01),
    "diode_rms": (-0.02, 0.005), "line_power": (-0.005, 0.01), "resistor_power": (-0.04, 0.01),
    "choke_power": (-0.04, 0.01),
}  # fmt: skip
_NONE = {"mains": 0, "frequency": 0, "series_resistance": 0, "bulk1": 0, "inductance": 0, "choke_resistance": 0,
         "bulk2": 0, "load": 0, "drop": 0}  # fmt: skip
# +1 the output never falls as the input rises, -1 it never rises, 0 no single sign (run every corner): the ring makes
# most of them 0. Proved over random supplies by the test for valleys above half the crest (below it run every corner):
# no step of 3 % moves a quantity the wrong way by more than 0.1 %.
SIGNS: dict[str, dict[str, int]] = {
    "bulk2_min": _NONE | {"mains": 1, "series_resistance": -1, "bulk2": 1, "load": -1, "drop": -1},
    "bulk2_max": _NONE | {"mains": 1, "series_resistance": -1, "drop": -1},
    "bulk1_max": _NONE | {"mains": 1, "series_resistance": -1, "drop": -1},
    "bulk1_min": _NONE | {"mains": 1, "load": -1, "drop": -1},
    "line_rms": _NONE | {"series_resistance": -1, "load": 1},
    "line_peak": _NONE | {"series_resistance": -1},
    "bulk1_rms": _NONE,
    "bulk2_rms": _NONE,
    "choke_rms": _NONE,
    "choke_peak": _NONE,
    "resistor_power": _NONE | {"series_resistance": 1, "load": 1},
    "diode_average": _NONE | {"mains": -1, "series_resistance": 1, "load": 1, "drop": 1},
}


class FilterSteady(NamedTuple):
    """Steady state of the filter [V, A, W]. The RMS figures hold no switching part; all of that goes to C2."""

    bulk2_min: float
    bulk2_max: float
    bulk2_mean: float
    bulk1_min: float
    bulk1_max: float
    line_rms: float
    line_peak: float
    bulk1_rms: float
    bulk2_rms: float
    choke_rms: float
    choke_peak: float
    diode_average: float
    diode_rms: float
    line_power: float
    resistor_power: float
    choke_power: float
    diode_power: float


def filter_steady_state(mains: float, frequency: float, series_resistance: float, bulk1: float, inductance: float,
                        choke_resistance: float, bulk2: float, load: float,
                        drop: float = 0.0) -> FilterSteady | None:  # fmt: skip
    """Steady state with a load of constant power at the second capacitor.

    Arguments and ranges as choke_filter.filter_switch_on; load [W], 1e-3 to 10000. The choke is taken as linear: use
    its inductance at the running current.
    returns: the state, or None when the load cannot be carried (C2 would fall below a quarter of the crest)
    raises: ValueError with the range, for a value outside it; for a circuit too slow to settle

    Source: module docstring.
    """
    in_range("load", load, 1e-3, 1e4, "W")
    net = network(mains, frequency, series_resistance, bulk1, inductance, choke_resistance, bulk2, drop)
    half = pi / net.omega
    total = bulk1 + bulk2
    lumped = steady_state(mains, frequency, series_resistance, total, load, drop)
    if lumped is None:
        v = net.crest - drop
    else:
        valley = lumped.bulk_min
        wait = (pi / 2.0 - acos(min(1.0, (valley + drop) / net.crest))) / net.omega
        v = sqrt(valley * valley + 2.0 * load * wait / total)
    filt = Filter(net)
    found = _settle(filt, (v, load / v * bulk1 / total, v), half, load)
    if found is None:
        return None
    sums = Sums()
    if sweep(filt, found, -pi / 2.0, half, load, sums, STOP * net.crest) is None:
        return None
    line_rms = sqrt(sums.line2 / half)
    mean = sums.charge / half
    return FilterSteady(
        bulk2_min=sums.v2_low, bulk2_max=sums.v2_high, bulk2_mean=sums.v2_sum / half,
        bulk1_min=sums.v1_low, bulk1_max=sums.v1_high, line_rms=line_rms, line_peak=sums.line_peak,
        bulk1_rms=sqrt(sums.first2 / half), bulk2_rms=sqrt(sums.second2 / half),
        choke_rms=sqrt(sums.choke2 / half), choke_peak=sums.choke_peak,
        diode_average=mean / 2.0, diode_rms=line_rms / sqrt(2.0), line_power=sums.line_energy / half,
        resistor_power=series_resistance * line_rms**2, choke_power=choke_resistance * sums.choke2 / half,
        diode_power=drop * mean,
    )  # fmt: skip


def _settle(filt: Filter, start: tuple[float, float, float], half: float, load: float) -> State | None:
    """The state at a zero crossing of the line that comes back after a half cycle; None when the load collapses."""
    net = filt.net
    scale = sqrt(net.inductance / net.first + net.inductance / net.second)  # choke current in volts of the ring

    def advance(x: tuple[float, ...]) -> tuple[float, ...] | None:
        new = sweep(filt, (x[0], x[1] / scale, x[2]), -pi / 2.0, half, load, None, STOP * net.crest)
        return None if new is None else (new[0], new[1] * scale, new[2])

    found = fixed_point(advance, (start[0], start[1] * scale, start[2]), 2e-5 * net.crest, 0.3 * net.crest)
    return None if found is None else (found[0], found[1] / scale, found[2])
