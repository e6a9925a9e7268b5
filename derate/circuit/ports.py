"""Several ports behind one stage: what they draw from their bus, and what a port rises to once its switch has shorted.

Contents: `bus_current`, `kick`, `unheld`, `opened`, `stands_on`, `choke_current`, `second_switch`.

A shorted switch of a step-down converter joins the bus to the capacitors of the port through the choke alone: the port
rings up past the bus and settles at it. Own derivation; held to ngspice 39 in the tests. Every figure is on the upper
side, on these terms:

- the bus is taken as stiff at its greatest, and copper is not in it: both take from the swing;
- what is plugged in goes on drawing what it drew: the swing is that of what the choke carries beyond it;
- `unheld` rests on energy alone, and holds for a choke that saturates as well: at the crest it carries nothing;
- `opened` holds as long as the choke does not saturate. `choke_current` is what it carries until the port is open:
  above its saturation current it charges the port faster than is said here, and `unheld` is what is left to say;
- what stands on the series resistance of the capacitors is no part of `opened`: `stands_on` is added to it.
"""

from __future__ import annotations

from math import acos, cos, hypot, pi, sin, sqrt

from derate.circuit.numerics import in_range
from derate.terms.values import giving


def bus_current(*, voltage: float, current: float, efficiency: float, bus: float) -> float:
    """Current drawn from the bus for a port at a voltage and a current [A]: voltage × current / (efficiency × bus).

    bus above 0.5 V, efficiency 0.05 to 1. Source: definition of efficiency.

    >>> round(bus_current(voltage=5.0, current=3.0, efficiency=0.9, bus=20.0), 3)
    0.833
    """
    in_range("efficiency", efficiency, 0.05, 1.0, "")
    in_range("voltage of the bus", bus, 0.5, 200.0, "V")
    return voltage * current / (efficiency * bus)


def kick(*, current: float, inductance: float, capacitance: float) -> float:
    """What the current that a choke carries beyond its load adds to a port [V]: current × √(inductance / capacitance).

    Source: conservation of energy, L I² = C V².

    >>> round(kick(current=1.0, inductance=10e-6, capacitance=100e-6), 3)
    0.316
    """
    in_range("inductance", inductance, 1e-8, 1.0, "H")
    in_range("capacitance", capacitance, 1e-9, 1.0, "F")
    return current * sqrt(inductance / capacitance)


def unheld(*, bus: float, before: float, kick: float) -> float:
    """Crest of a port whose switch has shorted, with nothing that opens [V]: bus + √((bus − before)² + kick²).

    bus, before: voltages of bus and port before it [V]; a port that is at its bus or above has nothing to rise by but
    the kick. Source: own derivation, a choke and a capacitor without loss at a stiff bus.

    >>> unheld(bus=20.0, before=5.0, kick=0.0)
    35.0
    """
    return bus + hypot(max(0.0, bus - before), kick)


def opened(
    *, bus: float, before: float, stop: float, delay: float, inductance: float, capacitance: float, kick: float
) -> float:
    """Where a port ends whose load switch opens a delay after it has passed a stop [V].

    bus, before: as `unheld`; stop: voltage of the port at which its guard acts [V]; delay: until the load switch is
    open [s]; inductance [H], capacitance of all that lies across the port [F].

    The port follows bus − A cos(φ) with A = √((bus − before)² + kick²) and φ rising by 1 / √(L C) a second. It passes
    the stop at cos(φ) = (bus − stop) / A; it ends a delay later, at its crest at the most. A stop above the crest is
    never passed; one below `before` acts while the port is used, and has no place here. Source: own derivation.

    >>> at = {"bus": 20.0, "before": 5.0, "stop": 6.0, "inductance": 10e-6, "capacitance": 100e-6, "kick": 0.0}
    >>> round(opened(delay=1e-6, **at), 2), round(opened(delay=1e-3, **at), 2)
    (6.18, 35.0)
    """
    swing, angle = _until_open(bus, before, stop, delay, inductance, capacitance, kick)
    if stop >= bus + swing or swing == 0.0:
        return bus + swing
    return bus - swing * cos(min(pi, angle))


def _until_open(
    bus: float, before: float, stop: float, delay: float, inductance: float, capacitance: float, kick: float
) -> tuple[float, float]:
    """A [V] and φ [rad] of `opened`, a delay after the stop; φ may lie past the crest."""
    in_range("inductance", inductance, 1e-8, 1.0, "H")
    in_range("capacitance", capacitance, 1e-9, 1.0, "F")
    in_range("delay", delay, 0.0, 10.0, "s")
    in_range("stop", stop, before, 1e3, "V")
    swing = hypot(max(0.0, bus - before), kick)
    if swing == 0.0:
        return 0.0, 0.0
    passed = acos(max(-1.0, min(1.0, (bus - stop) / swing)))
    return swing, passed + delay / sqrt(inductance * capacitance)


def stands_on(*, bus: float, before: float, delay: float, inductance: float, resistance: float) -> float:
    """What a port gains within a delay on the series resistance of its capacitors [V]: resistance × rise of current.

    The current of the choke rises by (bus − port) / inductance a second, and no faster than from `before`.
    resistance [ohm]: of all capacitors in parallel, no more than the greatest of them; the guard has seen what stood
    on it until then. Source: own derivation.

    >>> round(stands_on(bus=13.2, before=5.0, delay=1e-6, inductance=12e-6, resistance=0.02), 4)
    0.0137
    """
    in_range("inductance", inductance, 1e-8, 1.0, "H")
    in_range("delay", delay, 0.0, 10.0, "s")
    in_range("resistance", resistance, 0.0, 100.0, "ohm")
    return resistance * max(0.0, bus - before) * delay / inductance


def choke_current(
    *,
    bus: float,
    before: float,
    stop: float,
    delay: float,
    inductance: float,
    capacitance: float,
    kick: float,
    load: float,
) -> float:
    """The most that a choke carries until the load switch is open [A]: load + A √(C / L) × the greatest sin(φ).

    All but the load as `opened`, whose A and φ are meant; load: what is plugged in draws [A]. The current beyond the
    load is that of the capacitors, C dv/dt. It rises until the port is at its bus (φ = π / 2) and falls from there: a
    port that is opened later has had all of it. Source: own derivation.

    >>> at = {"bus": 13.2, "before": 5.0, "stop": 5.4, "inductance": 1e-5, "capacitance": 2e-4, "kick": 0.0, "load": 2}
    >>> round(choke_current(delay=1e-6, **at), 1), round(choke_current(delay=1e-3, **at), 1)
    (14.1, 38.7)
    """
    swing, angle = _until_open(bus, before, stop, delay, inductance, capacitance, kick)
    return load + swing * sqrt(capacitance / inductance) * sin(min(pi / 2.0, angle))


BODY = 1.2  # most that the body of a switch drops while both are open [V]


def second_switch(*, rms: float, resistance: float, peak: float, dead: float, frequency: float) -> float:
    """Loss of a second switch that freewheels [W]: rms² R, and its body for twice the dead time in each period.

    dead: both open, at each change [s]; peak: the body is taken to carry it both times, of which once is more than it
    does. What the body costs to recover is the first switch's. Source: own derivation.

    >>> round(second_switch(rms=2.0, resistance=0.02, peak=3.0, dead=50e-9, frequency=250e3), 3)
    0.17
    """
    return rms * rms * resistance + 2.0 * BODY * peak * dead * frequency


_RANGES = {
    "bus": (12.0, 28.0),
    "before": (3.0, 11.0),
    "stop": (11.0, 40.0),
    "delay": (1e-8, 1e-4),
    "inductance": (1e-6, 1e-4),
    "capacitance": (1e-5, 1e-3),
    "kick": (0.0, 2.0),
}
SECOND_SWITCH = giving(
    "power",
    second_switch,
    dict.fromkeys(("rms", "resistance", "peak", "dead", "frequency"), 1),
    {"rms": (0.1, 6.0), "resistance": (0.002, 0.2), "peak": (0.5, 10.0), "dead": (0.0, 1e-7), "frequency": (1e5, 1e6)},
)
BUS_CURRENT = giving(
    "current",
    bus_current,
    {"voltage": 1, "current": 1, "efficiency": -1, "bus": -1},
    {"voltage": (3.0, 28.0), "current": (0.1, 6.0), "efficiency": (0.6, 1.0), "bus": (3.0, 48.0)},
)
KICK = giving(
    "kick",
    kick,
    {"current": 1, "inductance": 1, "capacitance": -1},
    {"current": (0.0, 5.0), "inductance": (1e-6, 1e-4), "capacitance": (1e-5, 1e-3)},
)
# Copper and a bus that sags take from the crest; with nothing left of it the port is at its bus.
UNHELD = giving(
    "voltage", unheld, {"bus": 1, "before": -1, "kick": 1}, {name: _RANGES[name] for name in ("bus", "before", "kick")}
)
OPENED = giving(
    "voltage",
    opened,
    {"bus": 1, "before": -1, "stop": 1, "delay": 1, "inductance": -1, "capacitance": -1, "kick": 1},
    _RANGES,
)
STANDS_ON = giving(
    "voltage",
    stands_on,
    {"bus": 1, "before": -1, "delay": 1, "inductance": -1, "resistance": 1},
    {**{name: _RANGES[name] for name in ("bus", "before", "delay", "inductance")}, "resistance": (0.0, 0.5)},
)
CHOKE_CURRENT = giving(
    "current",
    choke_current,
    {"bus": 1, "before": -1, "stop": 1, "delay": 1, "inductance": -1, "capacitance": 1, "kick": 1, "load": 1},
    {**_RANGES, "load": (0.0, 6.0)},
)
