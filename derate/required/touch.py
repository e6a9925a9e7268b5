"""Touch current of whatever lies from primary to secondary, at the greatest voltage, frequency and tolerance."""

from __future__ import annotations

from math import pi


def capacitor_current(voltage: float, frequency: float, capacitance: float) -> float:
    """Current through a capacitance [A rms]: 2 pi f C V; voltage [V rms], frequency [Hz], capacitance [F], all >= 0."""
    if min(voltage, frequency, capacitance) < 0:
        raise ValueError("state voltage, frequency and capacitance of 0 or more")
    return 2 * pi * frequency * capacitance * voltage
