"""Which end of mains, load, frequency and ambient is bad for each quantity of a flyback.

Rows hold the worst over the loads named beside them where they are worked out. The signs are those of
`derate.circuit.flyback`, `clamp` and `secondary`, proved beside them.
"""

from __future__ import annotations

from derate.stress.plan import Axes, BadEnds
from derate.terms.cases import COLD_START, END_OF_LIFE, FULL_LOAD, NO_LOAD, OVERLOAD, RUNNING

_FULL = (FULL_LOAD,)
BAD_ENDS: BadEnds = {
    RUNNING: {
        "voltage_peak": Axes("+", "", "", (NO_LOAD, FULL_LOAD)),
        "current_rms": Axes("-", "b", "", _FULL),
        "current_peak": Axes("-", "+", "", _FULL),
        "current_average": Axes("-", "-", "", _FULL),
        "reverse_voltage": Axes("+", "", "", (NO_LOAD,)),
        "power": Axes("-", "b", "", _FULL),
        "frequency": Axes("", "", "", _FULL),
        "duty": Axes("-", "", "", _FULL),
        "ripple": Axes("-", "", "", _FULL),
        "ripple_current": Axes("-", "+", "", _FULL),
        "ripple_switching": Axes("-", "", "", _FULL),
        "ripple_equivalent": Axes("-", "+", "", _FULL),
        "current_density": Axes("-", "", "", _FULL),
        "voltage": Axes(),
        "energy": Axes("+", "", "", _FULL),
        # Worst corners of both mains ends in one row: the greatest current with the greatest voltage.
        "forced_gain": Axes(),
        "allowed.gain": Axes(),
        "turn_off_current": Axes(),
        "allowed.turn_off_current": Axes(),
        "voltage_slope": Axes(),
        "working_voltage": Axes("+"),
        "working_voltage_peak": Axes("+"),
    },
    COLD_START: {"ripple": Axes("-", "", "-", _FULL), "current_peak": Axes("-", "-", "-", _FULL)},
    END_OF_LIFE: {"ripple": Axes("-", "", "", _FULL), "current_peak": Axes("-", "-", "", _FULL)},
    # The largest load before shut-down, and start-up: the switch opens at the current limit plus its delay.
    OVERLOAD: {
        "voltage_peak": Axes("+"),
        "reverse_voltage": Axes("+"),
        "current_peak": Axes("+"),
        "flux_density": Axes("+"),
        "power": Axes("+"),
        "energy": Axes("+"),
        "voltage": Axes(),
        "turn_off_current": Axes(),
        "allowed.turn_off_current": Axes(),
        "voltage_slope": Axes(),
    },
}
