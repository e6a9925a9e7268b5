"""Self-oscillating and quasi-resonant flyback primary: the frequency follows the load.

Contents: `boundary_point`.  Currents as `flyback.PrimaryPoint`; error bands as `flyback.ERROR`.
"""

from __future__ import annotations

import math

from derate.circuit.bands import in_range
from derate.circuit.flyback import LEAKAGE_MOST, PrimaryPoint, lifted_peak, operating_point, trapezoid_rms

# As `flyback.SIGNS`, proved over random designs by tests/circuit/test_flyback_boundary.py, inside the frequency range.
SIGNS: dict[str, dict[str, int]] = {
    "peak": {"bulk": -1, "power": 1, "reflected": -1, "idle": 1, "inductance": -1},
    "rms": {"bulk": -1, "power": 1, "reflected": -1, "idle": 1, "inductance": -1},
    "frequency": {"bulk": 1, "power": -1, "reflected": 1, "idle": -1, "inductance": -1},
}


def boundary_point(
    bulk: float,
    power: float,
    inductance: float,
    reflected: float,
    *,
    idle: float = 0.0,
    frequency_range: tuple[float, float] = (0.0, math.inf),
    leakage: float = 0.0,
    drain_capacitance: float = 0.0,
) -> PrimaryPoint:
    """Primary currents where each cycle starts `idle` [s] after the secondary stops (half a drain ring, or zero).

    frequency_range: lowest and highest the controller runs [Hz]. Above it the point is discontinuous at the highest;
    below it the load is not carried in this mode and the call is refused.
    Other inputs as `operating_point`.  Source: own, energy and volt-second balance; idle 0 is AN-4137 eq 8 with 12.

    >>> point = boundary_point(100.0, 10.0, 1e-3, 100.0)
    >>> round(point.peak, 3), round(point.frequency)
    (0.4, 125000)
    """
    for name, value in {"bulk": bulk, "power": power, "inductance": inductance, "reflected": reflected}.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    in_range("idle", idle, 0.0, math.inf, "s")
    in_range("leakage", leakage, 0.0, LEAKAGE_MOST * inductance, "H")
    in_range("drain_capacitance", drain_capacitance, 0.0, math.inf, "F")
    lowest, highest = frequency_range
    if not 0 <= lowest < highest:
        raise ValueError(f"frequency_range {lowest:g} Hz to {highest:g} Hz is empty: state the lower end first")
    pace = 1 / bulk + (1 - leakage / inductance) / reflected  # period = L I pace + idle
    brought = 0.5 * drain_capacitance * (bulk**2 - reflected**2)  # energy a cycle out of the drain capacitance
    wait = idle
    for _ in range(100):  # once, unless a drain capacitance lifts the peak and so lengthens the conduction
        # L I^2 / 2 + brought = P (L I pace + wait)
        root = (power * pace) ** 2 + 2 * (power * wait - brought) / inductance
        peak = power * pace + root**0.5 if root >= 0 else 0.0
        if peak <= 0:
            raise ValueError(
                f"power {power:g} W is below what the drain capacitance carries: "
                "state drain_capacitance 0, which reads high"
            )
        lift = lifted_peak(peak, bulk, reflected, inductance, drain_capacitance) - peak
        before, wait = wait, idle + (inductance - leakage) * lift / reflected
        if abs(wait - before) <= 1e-12 * inductance * peak * pace:
            break
    frequency = 1 / (inductance * peak * pace + wait)
    if frequency > highest:
        return operating_point(
            bulk, power, inductance, reflected, highest, leakage=leakage, drain_capacitance=drain_capacitance
        )
    if frequency < lowest:
        raise ValueError(
            f"the boundary frequency {frequency:.4g} Hz lies below the stated range {lowest:g} Hz to {highest:g} Hz: "
            "the load is not carried in this mode; state the lowest frequency the controller runs"
        )
    duty = inductance * peak * frequency / bulk
    conduction = (inductance - leakage) * (peak + lift) * frequency / reflected
    average = 0.5 * peak * duty
    return PrimaryPoint(
        "boundary", frequency, duty, conduction, peak, 0.0, average, trapezoid_rms(0.0, peak, duty), power
    )
