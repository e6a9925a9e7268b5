"""Switch-on of two bulk capacitors with a choke between them.

    line - R - bridge - C1 - choke (L, RL) - C2

Contents: `FilterInrush`, `filter_switch_on` (one circuit).
Steady state: choke_filter_steady.py.

The choke may saturate: its inductance is as stated below the saturation current and a stated fraction of it above (one
comparison). A linear and a saturating choke are worst for different quantities, so both have to be run.

Source: own derivation from Kirchhoff's laws, exact steps of the linear network in each mode (filter_steps.py); checked
against ngspice in tests/circuit/test_choke_filter.py.
"""

from __future__ import annotations

from math import inf, pi, sqrt
from typing import NamedTuple

from derate.circuit.bands import Band, in_range
from derate.circuit.filter_steps import Network
from derate.circuit.filter_sweep import Filter, Sums, sweep

# true / computed - 1. 7 ngspice rows and 20 random ones read -0.1..+0.3 % with no drop stated. The bridge would catch
# C1 should it ring below zero; that is left out, and C1 must be a tenth of C2 or more: it moves peaks by under 0.3 %.
ERROR: dict[str, Band] = {
    "peak": (-0.01, 0.005), "i2t": (-0.01, 0.005), "energy": (-0.01, 0.005), "bulk1_peak": (-0.005, 0.005),
    "bulk2_peak": (-0.005, 0.005), "choke_peak": (-0.01, 0.01), "time_to_peak": (-0.05, 0.05),
    "equivalent_width": (-0.03, 0.03),
}  # fmt: skip
# +1 the output never falls as the input rises, -1 it never rises, 0 no single sign, or none at all (run every corner).
# For a linear choke; proved over random supplies by the test. With a saturating choke run every corner of what is 0.
SIGNS: dict[str, dict[str, int]] = {
    "peak": {"mains": 1, "frequency": 0, "series_resistance": -1, "bulk1": 0, "inductance": 0, "choke_resistance": 0,
             "bulk2": 0, "drop": -1},
    "i2t": {"mains": 1, "frequency": -1, "series_resistance": -1, "bulk1": 1, "inductance": 0, "choke_resistance": -1,
            "bulk2": 1, "drop": -1},
    "energy": {"mains": 1, "frequency": -1, "series_resistance": 0, "bulk1": 1, "inductance": 0,
               "choke_resistance": -1, "bulk2": 1, "drop": -1},
    "bulk1_peak": {"mains": 1, "frequency": 0, "series_resistance": -1, "bulk1": 0, "inductance": 0,
                   "choke_resistance": -1, "bulk2": 0, "drop": -1},
    "bulk2_peak": {"mains": 1, "frequency": 0, "series_resistance": -1, "bulk1": 0, "inductance": 0,
                   "choke_resistance": -1, "bulk2": -1, "drop": -1},
    "choke_peak": {"mains": 1, "frequency": -1, "series_resistance": -1, "bulk1": 0, "inductance": 0,
                   "choke_resistance": -1, "bulk2": 1, "drop": -1},
}  # fmt: skip
_HALF_CYCLES = 12  # followed at most after switch-on


class FilterInrush(NamedTuple):
    """A switch-on through the filter. peak, choke_peak [A]; i2t [A2s]; energy in R [J]; bulk peaks [V]; times [s]."""

    peak: float
    i2t: float
    energy: float
    bulk1_peak: float
    bulk2_peak: float
    choke_peak: float
    time_to_peak: float
    equivalent_width: float


def network(mains: float, frequency: float, resistance: float, first: float, inductance: float,
            choke_resistance: float, second: float, drop: float) -> Network:  # fmt: skip
    """The filter with every value inside the range of the solver; ValueError with the range otherwise."""
    in_range("mains voltage", mains, 10.0, 600.0, "V")
    in_range("line frequency", frequency, 10.0, 1000.0, "Hz")
    in_range("series resistance", resistance, 0.01, 1000.0, "ohm")
    in_range("first capacitor", first, 1e-8, 0.01, "F")
    in_range("second capacitor", second, 1e-8, min(0.01, 10.0 * first), "F")
    in_range("choke inductance", inductance, 1e-6, 1.0, "H")
    in_range("choke resistance", choke_resistance, 0.0, 1000.0, "ohm")
    in_range("diode drop", drop, 0.0, mains / 10.0, "V")
    return Network(resistance, first, inductance, choke_resistance, second, sqrt(2.0) * mains,
                   2.0 * pi * frequency, drop)  # fmt: skip


def filter_switch_on(mains: float, frequency: float, series_resistance: float, bulk1: float, inductance: float,
                     choke_resistance: float, bulk2: float, *, angle: float = pi / 2, drop: float = 0.0,
                     start: float = 0.0, saturation: float = inf, residual: float = 0.1) -> FilterInrush:  # fmt: skip
    """Switch-on at one phase of the line, the later half cycles followed until they add nothing; no load.

    mains [V rms], 10 to 600; frequency [Hz], 10 to 1000; series_resistance: all of it, cold [ohm], 0.01 to 1000
    bulk1, bulk2 [F], 1e-8 to 0.01, bulk2 at most ten times bulk1; inductance [H], 1e-6 to 1
    choke_resistance [ohm], 0 to 1000; angle: line phase at closing from its zero crossing [rad], 0 to pi
    drop: of the two conducting diodes [V], 0 to a tenth of mains; start: both bulk voltages before [V], 0 to 1000
    saturation: choke current above which its inductance is residual (0.001 to 1) times as great [A], above 1e-3
    raises: ValueError with the range, for a value outside it

    Source: module docstring.
    """
    in_range("closing angle", angle, 0.0, pi, "rad")
    in_range("starting voltage", start, 0.0, 1000.0, "V")
    in_range("residual inductance", residual, 1e-3, 1.0, "")
    if saturation != inf:
        in_range("saturation current", saturation, 1e-3, 1e4, "A")
    net = network(mains, frequency, series_resistance, bulk1, inductance, choke_resistance, bulk2, drop)
    filt = Filter(net, saturation, residual)
    sums = Sums()
    state, half = (start, 0.0, start), pi / net.omega
    before = 0.0
    for n in range(_HALF_CYCLES):  # a whole number of half cycles: the phase comes round, the polarity does not matter
        state = sweep(filt, state, angle - pi / 2.0, half, 0.0, sums, 0.0, n * half) or state
        if n and sums.line2 - before < 1e-4 * sums.line2:
            break
        before = sums.line2
    peak, i2t = sums.line_peak, sums.line2
    width = i2t / (peak * peak) if peak > 0.0 else 0.0
    rest = max(net.crest - drop, start)  # without load the refills end at the crest, however slowly
    return FilterInrush(peak, i2t, series_resistance * i2t, max(sums.v1_high, rest), max(sums.v2_high, rest),
                        sums.choke_peak, sums.when, width)  # fmt: skip
