"""The formulas of single faults of the mains path, with their signs and error bands."""

from __future__ import annotations

from typing import Any

from derate.circuit.inrush import worst_switch_on
from derate.circuit.line_faults import ERROR, bridge_diode_open, bridge_diode_shorted, half_wave_diode_shorted, shorted
from derate.circuit.rectifier import steady_state
from derate.ledger.model import Collapse, Model
from derate.stress.line import BRIDGE_DROP

SOURCE = "circuit-theory text-book forms; held to ngspice 39"


def _short(*, mains: float, frequency: float, resistance: float, inductance: float, half_wave: bool) -> dict[str, Any]:
    if half_wave:
        return {"rms": bridge_diode_shorted(mains, frequency, max(resistance, 1e-3), inductance).rms}
    return {"rms": shorted(mains, frequency, max(resistance, 1e-3), inductance).rms}


def _model(half_wave: bool, band: str = "rms") -> Model:
    return Model(
        "short of alternate half cycles" if half_wave else "short behind the parts in series",
        lambda **k: _short(**k, half_wave=half_wave),
        {"rms": {"mains": 1, "frequency": -1, "resistance": -1, "inductance": -1}},
        SOURCE,
        "crest / (2 R), alternate half cycles; less with inductance" if half_wave else "mains / √(R² + (ωL)²)",
        {"rms": ERROR[band]},
    )


FULL, HALF, DOUBLED = _model(False), _model(True), _model(True, "doubler_rms")
REVERSED = Model(
    "diode of a half-wave input shorted",
    lambda mains, frequency, resistance, capacitance: half_wave_diode_shorted(
        mains, frequency, max(resistance, 1e-3), capacitance
    ),
    {name: {"mains": 1, "frequency": 1, "resistance": -1, "capacitance": 1} for name in ("rms", "peak")}
    | {"reverse": {"mains": 1, "frequency": -1, "resistance": -1, "capacitance": -1}},
    SOURCE, "mains / √(R² + 1/(ωC)²); the load is taken as stopped", {"rms": ERROR["rms"], "peak": ERROR["peak"]},
)  # fmt: skip


def _steady(found: Any) -> dict[str, float]:
    if found is None:
        raise Collapse("the bulk capacitor cannot carry the load with this fault: the voltage collapses")
    return {"rms": found.line_rms, "peak": found.line_peak, "ripple": found.capacitor_rms}


_STEADY_SIGNS = {
    name: {"mains": -1, "frequency": 0, "resistance": -1, "capacitance": 1, "load": 1}
    for name in ("rms", "peak", "ripple")
}
ONE_PAIR = Model(
    "bridge with one diode open",
    lambda mains, frequency, resistance, capacitance, load: _steady(
        bridge_diode_open(mains, frequency, max(resistance, 1e-3), capacitance, load, BRIDGE_DROP)
    ),
    _STEADY_SIGNS, "own derivation, closed-form pieces; held to ngspice 39", "half-wave steady state",
    {"rms": (-0.05, 0.05), "peak": (-0.1, 0.05), "ripple": (-0.05, 0.05)},
)  # fmt: skip
LUMPED = Model(
    "bulk capacitors with the choke between them shorted",
    lambda mains, frequency, resistance, capacitance, load: _steady(
        steady_state(mains, frequency, max(resistance, 1e-3), capacitance, load, BRIDGE_DROP)
    ),
    _STEADY_SIGNS, ONE_PAIR.source, "steady state with both capacitors as one",
    {"rms": (-0.05, 0.05), "peak": (-0.1, 0.05), "ripple": (-0.05, 0.05)},
)  # fmt: skip
BARE = Model(
    "cold switch-on without the thermistor",
    lambda mains, frequency, resistance, capacitance: worst_switch_on(
        mains, frequency, max(resistance, 1e-3), capacitance
    ),
    {
        "peak": {"mains": 1, "frequency": -1, "resistance": -1, "capacitance": 1},
        "i2t": {"mains": 1, "frequency": -1, "resistance": -1, "capacitance": 1},
    },
    "own derivation, closed form of each conduction interval; held to ngspice 39", "greatest over the closing angle",
    {"peak": (-0.6, 0.005), "i2t": (-0.75, 0.01)},  # the inductance ahead, left out, only lowers both
)  # fmt: skip
