"""A flyback of one switch that drives itself from a winding (ringing-choke converter): its period, limits and drive.

Contents: `cycle`, `CYCLE`, `EQUIVALENT`, `highest_frequency`, `HIGHEST`, `ring_time`, `RING`, `threshold_limit`,
`THRESHOLD`, `base_current`, `BASE_CURRENT`, `drive_limit`, `DRIVE_LIMIT`, `DELAYED`, `started_only`,
`STARTED_ONLY`, `off_voltage`, `OFF_VOLTAGE`,
`REVERSED_BASE`,
`on_voltage`, `ON_VOLTAGE`, `held_by_winding`, `HELD_BY_WINDING`, `power_at`, `POWER_AT`, `lost_into_resistor`,
`LOST_INTO_RESISTOR`, `LOST_INTO_BREAKDOWN`, `shorted_output`, `SHORTED`.

Each period begins when the secondary has stopped and the drain or collector has swung down, and ends when the base
drive gives out or somebody takes it away; the frequency follows load and mains. No published example prints more than
its starting figures, so that all of it is own derivation from volt-seconds, charge and energy of one period, held to
ngspice 39 on netlists of the project's own (tests/circuit/test_self_oscillating.py).
"""

from __future__ import annotations

from math import exp, inf, pi, sqrt
from typing import NamedTuple

from derate.circuit.flyback import boundary_point, peak_at_limit, trapezoid_rms
from derate.circuit.numerics import Band, in_range
from derate.terms.values import Formula, giving

# true / computed - 1, by the live comparisons: 30 random stages with leakage, collector capacitance and clamp
# (tests/stress/test_self_oscillating_live.py) and the fixed netlists.
ERROR: dict[str, Band] = {
    "peak": (-0.03, 0.02),
    "rms": (-0.04, 0.03),
    "average": (-0.10, 0.01),
    "duty": (-0.05, 0.03),
    "frequency": (-0.05, 0.03),
}
SILICON = -2e-3  # change of a base-emitter voltage at the same current [V/K]
REFERENCE = 25.0  # temperature at which such a voltage is given [degC]


class Cycle(NamedTuple):
    """One period.

    frequency: of the periods while it oscillates [Hz]; peak, average, rms: of the switch [A]; duty of the switch [-]
    added: what flows more after the switch was told to open [A]
    bursts: 1.0 where the shortest on-time hands over more than the load takes, so that it runs in bursts, else 0.0
    """

    frequency: float
    peak: float
    average: float
    rms: float
    duty: float
    added: float
    bursts: float


def cycle(
    bulk: float, power: float, inductance: float, reflected: float, *, idle: float = 0.0, delay: float = 0.0
) -> Cycle:
    """One period at a load.

    bulk: across winding and switch [V]; power: what the inductor hands over [W]; inductance [H]; reflected [V]
    idle: from the end of the secondary's current to the next turn-on [s]; delay: storage time, or turn-off delay of a
    gate, with that of what tells the switch to open [s]

    peak = P pace + sqrt((P pace)² + 2 P idle / L) with pace = 1/Vdc + 1/VR, since L I² / 2 = P (L I pace + idle); no
    less than Vdc delay / L: what the switch stores it goes on carrying, and below that load the supply runs in bursts.

    >>> found = cycle(90.0, 2.4 / 0.7, 5.9e-3, 90.0)
    >>> round(found.peak, 3), round(1e-3 * found.frequency, 1), round(found.duty, 3)
    (0.152, 50.1, 0.5)
    >>> short = cycle(375.0, 0.1, 5.9e-3, 90.0, delay=1e-6)
    >>> round(1e3 * short.added, 1), short.bursts
    (63.6, 1.0)
    """
    in_range("delay", delay, 0.0, inf, "s")
    added = bulk * delay / inductance if inductance > 0.0 else inf
    found = boundary_point(bulk, power, inductance, reflected, idle=idle)
    if found.peak >= added:
        return Cycle(found.frequency, found.peak, found.average, found.rms, found.duty, added, 0.0)
    frequency = 1.0 / (inductance * added * (1.0 / bulk + 1.0 / reflected) + idle)
    handed = 0.5 * inductance * added * added * frequency  # power while it oscillates, a share of the time
    share = power / handed
    duty = delay * frequency
    rms = trapezoid_rms(0.0, added, duty) * sqrt(share)
    return Cycle(frequency, added, 0.5 * added * duty * share, rms, duty, added, 1.0)


_RUNNING = {
    "bulk": (60.0, 375.0),
    "power": (0.05, 20.0),
    "inductance": (5e-4, 8e-3),
    "reflected": (40.0, 130.0),
    "idle": (0.0, 3e-6),
    "delay": (0.0, 3e-6),
}
CYCLE = Formula(
    lambda **inputs: cycle(
        inputs["bulk"],
        inputs["power"],
        inputs["inductance"],
        inputs["reflected"],
        idle=inputs["idle"],
        delay=inputs["delay"],
    ),
    {
        "peak": {"bulk": 0, "power": 1, "inductance": -1, "reflected": -1, "idle": 1, "delay": 1},
        "rms": {"bulk": 0, "power": 1, "inductance": -1, "reflected": 0, "idle": 0, "delay": 1},
        "average": {"bulk": -1, "power": 1},
        "duty": {"bulk": -1, "power": 0, "inductance": 0, "reflected": 1, "idle": -1, "delay": 0},
        "frequency": {"bulk": 0, "power": -1, "inductance": -1, "reflected": 1, "idle": -1, "delay": -1},
        "added": {"bulk": 1, "inductance": -1, "delay": 1},
    },
    _RUNNING,
    ERROR,
)


def _equivalent(
    *, bulk: float, power: float, inductance: float, reflected: float, idle: float, delay: float
) -> dict[str, float]:
    found = cycle(bulk, power, inductance, reflected, idle=idle, delay=delay)
    return {"power": power_at(found.peak, bulk, reflected)}


# The power that asks for the same peak without idle time or delay: models of a stage at the boundary know none. What a
# supply with them really shows of peak, rms and mean lies between theirs at its own power and at this one.
EQUIVALENT = Formula(
    _equivalent, {"power": {"bulk": 1, "power": 1, "inductance": -1, "reflected": 0, "idle": 1, "delay": 1}}, _RUNNING
)


def highest_frequency(bulk: float, reflected: float, delay: float, idle: float) -> float:
    """The frequency in the periods of a lightly loaded supply [Hz]: the shortest on-time with the off-time it asks for.

    f = 1 / (delay (1 + Vdc / VR) + idle), whatever the inductance: highest at the lowest mains.

    >>> round(1e-3 * highest_frequency(375.0, 90.0, 1e-6, 0.0))
    194
    """
    in_range("bulk", bulk, 0.0, inf, "V", open_low=True)
    in_range("reflected", reflected, 0.0, inf, "V", open_low=True)
    in_range("delay", delay, 0.0, inf, "s", open_low=True)
    in_range("idle", idle, 0.0, inf, "s")
    return 1.0 / (delay * (1.0 + bulk / reflected) + idle)


HIGHEST = giving(
    "frequency",
    highest_frequency,
    {"bulk": -1, "reflected": 1, "delay": -1, "idle": -1},
    {"bulk": (60.0, 375.0), "reflected": (40.0, 130.0), "delay": (1e-7, 3e-6), "idle": (0.0, 3e-6)},
    ERROR["frequency"],
)


def ring_time(inductance: float, capacitance: float, share: float) -> float:
    """Time of a share of the ring of inductance and collector capacitance [s]: share × 2 π √(L C).

    The winding of the drive turns with the collector: the switch is driven again between a quarter of the ring, when
    the collector passes the bulk voltage, and half of it, at the valley.

    >>> round(1e6 * ring_time(3e-3, 30e-12, 0.5), 3)
    0.942
    """
    in_range("inductance", inductance, 0.0, inf, "H", open_low=True)
    in_range("capacitance", capacitance, 0.0, inf, "F")
    return share * 2.0 * pi * sqrt(inductance * capacitance)


RING = giving(
    "time",
    ring_time,
    {"inductance": 1, "capacitance": 1, "share": 1},
    {"inductance": (5e-4, 8e-3), "capacitance": (1e-11, 3e-10), "share": (0.1, 1.0)},
)


# ---- what ends the on-time -------------------------------------------------------------------------------------------


def threshold_limit(threshold: float, temperature: float, resistance: float) -> float:
    """Current at which a second transistor shorts the drive [A] = (V at 25 degC - 2 mV/K (T - 25)) / R.

    threshold: base-emitter voltage of that transistor at 25 degC [V]; temperature: of its junction [degC]
    resistance: in the emitter or source of the switch [ohm]. Hot it acts earlier; cold gives the greatest current.

    >>> [round(1e3 * threshold_limit(0.6, at, 4.7), 1) for at in (-10.0, 25.0, 85.0)]
    [142.6, 127.7, 102.1]
    """
    in_range("resistance", resistance, 0.0, inf, "ohm", open_low=True)
    left = threshold + SILICON * (temperature - REFERENCE)
    in_range("threshold when hot", left, 0.0, inf, "V", open_low=True)
    return left / resistance


THRESHOLD = giving(
    "limit",
    threshold_limit,
    {"threshold": 1, "temperature": -1, "resistance": -1},
    {"threshold": (0.5, 0.75), "temperature": (-20.0, 110.0), "resistance": (0.5, 30.0)},
)


def base_current(bulk: float, ratio: float, junctions: float, resistance: float, boost: float, start: float) -> float:
    """Base current as the on-time begins [A] = (Vdc / n + boost - junctions) / R + Vdc / start; never below 0.

    ratio: primary turns over those of the drive; junctions: base-emitter voltage and diodes in series [V]
    resistance: in series with the base [ohm]; boost: what a capacitor in series brings along from the off-time [V]
    start: the start resistors from the bulk [ohm], infinite where there are none

    >>> round(1e3 * base_current(375.0, 13.6, 0.8, 680.0, 0.0, 4.4e6), 1)
    39.5
    """
    in_range("ratio", ratio, 0.0, inf, "", open_low=True)
    in_range("resistance", resistance, 0.0, inf, "ohm", open_low=True)
    return max(0.0, (bulk / ratio + boost - junctions) / resistance) + bulk / start


BASE_CURRENT = giving(
    "current",
    base_current,
    {"bulk": 1, "ratio": -1, "junctions": -1, "resistance": -1, "boost": 1, "start": -1},
    {
        "bulk": (60.0, 375.0),
        "ratio": (5.0, 30.0),
        "junctions": (0.6, 1.7),
        "resistance": (47.0, 2e3),
        "boost": (0.0, 15.0),
        "start": (1e5, 1e7),
    },
)


def drive_limit(
    bulk: float, inductance: float, gain: float, current: float, resistance: float, capacitance: float
) -> float:
    """Current at which the base drive gives out [A]: the switch carries no more than its gain times its base current.

    gain: of the switch at that current; current: of the base at the beginning of the on-time [A]
    resistance, capacitance: in series in the drive [ohm, F]; an infinite capacitance leaves the drive as it began.
    With one the base current dies away as exp(-t / RC), and where Vdc t / L meets gain × current the on-time ends.

    >>> round(drive_limit(375.0, 5.9e-3, 20.0, 40e-3, 680.0, float("inf")), 3)
    0.8
    >>> round(drive_limit(375.0, 5.9e-3, 20.0, 40e-3, 680.0, 10e-9), 3)
    0.353
    """
    in_range("bulk", bulk, 0.0, inf, "V", open_low=True)
    in_range("inductance", inductance, 0.0, inf, "H", open_low=True)
    in_range("gain", gain, 0.0, inf, "")
    in_range("resistance", resistance, 0.0, inf, "ohm", open_low=True)
    if capacitance == inf:
        return gain * current
    in_range("capacitance", capacitance, 0.0, inf, "F", open_low=True)
    # Vdc t / L = g I exp(-t / RC): by x = t / RC, x exp(x) = g I L / (Vdc RC), which Newton finds from above
    wanted = gain * current * inductance / (bulk * resistance * capacitance)
    x = min(wanted, 1.0 + wanted**0.5)
    for _ in range(60):
        step = (x - wanted * exp(-x)) / (1.0 + wanted * exp(-x))
        x -= step
        if abs(step) <= 1e-14 * (1.0 + x):
            break
    return float(bulk * x * resistance * capacitance / inductance)


DRIVE_LIMIT = giving(
    "limit",
    drive_limit,
    {"bulk": 1, "inductance": -1, "gain": 1, "current": 1, "resistance": 1, "capacitance": 1},
    {
        "bulk": (60.0, 375.0),
        "inductance": (5e-4, 8e-3),
        "gain": (5.0, 50.0),
        "current": (1e-3, 0.1),
        "resistance": (47.0, 2e3),
        "capacitance": (1e-9, 1e-7),
    },
)
DELAYED = giving(
    "peak",
    peak_at_limit,
    {"limit": 1, "bulk": 1, "delay": 1, "inductance": -1},
    {"limit": (0.02, 1.5), "bulk": (60.0, 420.0), "delay": (0.0, 4e-6), "inductance": (5e-4, 8e-3)},
)


def started_only(bulk: float, gain: float, start: float) -> float:
    """Heat of a switch that its start resistors alone drive [W] = Vdc² gain / R: with its drive open it does not swing.

    gain: of the switch at so small a current; start: the start resistors from the bulk [ohm]

    >>> round(started_only(373.0, 30.0, 4.4e6), 2)
    0.95
    """
    in_range("start", start, 0.0, inf, "ohm", open_low=True)
    return bulk * bulk * gain / start


STARTED_ONLY = giving(
    "power",
    started_only,
    {"bulk": 1, "gain": 1, "start": -1},
    {"bulk": (60.0, 420.0), "gain": (5.0, 50.0), "start": (1e5, 1e7)},
)


# ---- what the winding of the drive does to base or gate --------------------------------------------------------------


def off_voltage(swing: float, ratio: float) -> float:
    """Reverse voltage of base or gate while the switch is off [V] = swing / n, n primary turns over the drive's.

    swing: of the collector above the bulk [V]: the reflected voltage while the secondary conducts; at the moment of
    turn-off the leakage of each winding rings, to no more than the collector itself rises.

    >>> round(off_voltage(90.0, 13.6), 2)
    6.62
    """
    in_range("swing", swing, 0.0, inf, "V")
    in_range("ratio", ratio, 0.0, inf, "", open_low=True)
    return swing / ratio


OFF_VOLTAGE = giving("voltage", off_voltage, {"swing": 1, "ratio": -1}, {"swing": (40.0, 130.0), "ratio": (5.0, 30.0)})


def _reversed_base(
    *, reflected: float, top: float, bulk: float, ratio: float, junctions: float, charged: float
) -> dict[str, float]:
    swing = max(reflected, top - bulk)
    most = off_voltage(swing, ratio) + charged * max(0.0, bulk / ratio - junctions)
    return {"least": off_voltage(reflected, ratio), "most": most}


# Reverse voltage of a base that nothing holds: from that of the winding alone up to the swing of the collector, where
# `charged` is 1 with the charge of a capacitor in series: the base has charged it through the on-time, to no more than
# Vdc / n less the junctions.
REVERSED_BASE = Formula(
    _reversed_base,
    {
        "least": {"reflected": 1, "ratio": -1},
        "most": {"reflected": 1, "top": 1, "bulk": 0, "ratio": -1, "junctions": -1, "charged": 1},
    },
    {
        "reflected": (40.0, 130.0),
        "top": (250.0, 650.0),
        "bulk": (60.0, 375.0),
        "ratio": (5.0, 30.0),
        "junctions": (0.6, 1.7),
        "charged": (0.0, 1.0),
    },
)


def on_voltage(bulk: float, ratio: float, boost: float) -> float:
    """Voltage of the gate while the switch conducts [V] = Vdc / n, with what a capacitor in series brings along.

    >>> round(on_voltage(375.0, 20.0, 0.0), 2)
    18.75
    """
    in_range("ratio", ratio, 0.0, inf, "", open_low=True)
    return bulk / ratio + boost


ON_VOLTAGE = giving(
    "voltage",
    on_voltage,
    {"bulk": 1, "ratio": -1, "boost": 1},
    {"bulk": (60.0, 375.0), "ratio": (5.0, 30.0), "boost": (0.0, 15.0)},
)


# ---- regulation: what the winding holds, and what is left when nothing holds -----------------------------------------


def held_by_winding(breakdown: float, junction: float, own_drop: float, drop: float, ratio: float) -> float:
    """Output that a zener on the rail of another winding holds [V] = (Vz + junction + own drop) / n - drop.

    junction: of a base in series with the zener [V]; own_drop: of the rail's rectifier, drop: of the output's [V]
    ratio: turns of that winding over those of the output

    >>> round(held_by_winding(6.2, 0.0, 0.7, 0.5, 1.25), 2)
    5.02
    """
    in_range("ratio", ratio, 0.0, inf, "", open_low=True)
    return (breakdown + junction + own_drop) / ratio - drop


# How far the output of a rail by turns lies from its figure: the leakage charges the lightly loaded rail to the crest
# of its ringing, so that the output reads low, by more the more it carries. By the same bands as a rail by turns.
HELD_BAND: Band = (-0.30, 0.05)
HELD_BY_WINDING = giving(
    "voltage",
    held_by_winding,
    {"breakdown": 1, "junction": 1, "own_drop": 1, "drop": -1, "ratio": -1},
    {"breakdown": (3.0, 30.0), "junction": (0.0, 0.8), "own_drop": (0.4, 1.2), "drop": (0.2, 0.9), "ratio": (0.5, 4.0)},
    HELD_BAND,
)


def power_at(peak: float, bulk: float, reflected: float) -> float:
    """Most power with the switch opening at a peak [W] = I / (2 (1/Vdc + 1/VR)), without any idle time.

    >>> round(power_at(0.152, 90.0, 90.0), 2)
    3.42
    """
    in_range("bulk", bulk, 0.0, inf, "V", open_low=True)
    in_range("reflected", reflected, 0.0, inf, "V", open_low=True)
    return 0.5 * peak / (1.0 / bulk + 1.0 / reflected)


POWER_AT = giving(
    "power",
    power_at,
    {"peak": 1, "bulk": 1, "reflected": 1},
    {"peak": (0.02, 2.0), "bulk": (60.0, 375.0), "reflected": (40.0, 200.0)},
)


def lost_into_resistor(
    limit: float, bulk: float, delay: float, inductance: float, resistance: float, ratio: float, drop: float
) -> float:
    """Output with nothing that regulates it and no load, where the resistor of the clamp takes all power at last [V].

    The output rises and with it what it reflects, until that is as high as the clamp:
    Vc² / R = I Vdc Vc / (2 (Vdc + Vc)), so Vc = (-Vdc + sqrt(Vdc² + 2 I Vdc R)) / 2, and the output Vc / n - drop.
    Greatest: every loss is left out, and the leakage takes its share of the resistor. limit, delay: as of the current
    limit [A, s]; ratio: primary turns over the output's.

    >>> round(lost_into_resistor(0.13, 375.0, 1e-6, 5.9e-3, 150e3, 15.0, 0.5), 1)
    143.0
    """
    in_range("resistance", resistance, 0.0, inf, "ohm", open_low=True)
    in_range("ratio", ratio, 0.0, inf, "", open_low=True)
    peak = peak_at_limit(limit, bulk, inductance, delay)
    clamp = 0.5 * (-bulk + sqrt(bulk * bulk + 2.0 * peak * bulk * resistance))
    return max(0.0, clamp / ratio - drop)


LOST_INTO_RESISTOR = giving(
    "voltage",
    lost_into_resistor,
    {"limit": 1, "bulk": 1, "delay": 1, "inductance": -1, "resistance": 1, "ratio": -1, "drop": -1},
    {
        "limit": (0.05, 1.0),
        "bulk": (60.0, 375.0),
        "delay": (0.0, 3e-6),
        "inductance": (5e-4, 8e-3),
        "resistance": (2e4, 5e5),
        "ratio": (5.0, 30.0),
        "drop": (0.2, 0.9),
    },
)


def _lost_into_breakdown(breakdown: float, ratio: float, drop: float) -> float:
    in_range("ratio", ratio, 0.0, inf, "", open_low=True)
    return max(0.0, breakdown / ratio - drop)


# The same where breakdown diodes clamp: at their voltage the primary takes what the secondary no longer does.
LOST_INTO_BREAKDOWN = giving(
    "voltage",
    _lost_into_breakdown,
    {"breakdown": 1, "ratio": -1, "drop": -1},
    {"breakdown": (80.0, 400.0), "ratio": (5.0, 30.0), "drop": (0.2, 0.9)},
)


class Shorted(NamedTuple):
    """peak: of the primary; secondary: greatest current of the rectifier; average: mean of the rectifier [A]
    power: from the bulk [W]; frequency [Hz]: all where the switch waits for the secondary to stop
    """

    peak: float
    secondary: float
    average: float
    power: float
    frequency: float


def shorted_output(limit: float, bulk: float, inductance: float, delay: float, ratio: float, drop: float) -> Shorted:
    """Output shorted behind its rectifier, the limit working and the switch waiting for the secondary to stop.

    drop: of rectifier, winding and short at that current [V]. The secondary takes L I / (n drop) to give its energy up,
    ten times the usual, and so the frequency falls: the power with it, and the rectifier carries half the peak nearly
    all of the time. limit, delay, inductance, bulk as `flyback.peak_at_limit`; ratio: primary turns over the output's.

    >>> found = shorted_output(0.13, 375.0, 5.9e-3, 1e-6, 15.0, 0.8)
    >>> round(found.average, 2), round(found.power, 2)
    (1.41, 1.13)
    """
    in_range("ratio", ratio, 0.0, inf, "", open_low=True)
    in_range("drop", drop, 0.0, inf, "V", open_low=True)
    peak = peak_at_limit(limit, bulk, inductance, delay)
    held = ratio * drop
    frequency = 1.0 / (inductance * peak * (1.0 / bulk + 1.0 / held))
    conducts = inductance * peak / held * frequency
    return Shorted(
        peak, ratio * peak, 0.5 * ratio * peak * conducts, 0.5 * inductance * peak * peak * frequency, frequency
    )


_SHORT = {"limit": 1, "bulk": 1, "inductance": -1, "delay": 1}
SHORTED = Formula(
    shorted_output,
    {
        "peak": _SHORT,
        "secondary": {**_SHORT, "ratio": 1},
        "average": {**_SHORT, "ratio": 0, "drop": -1},
        "power": {**_SHORT, "ratio": 1, "drop": 1},
    },
    {
        "limit": (0.05, 1.0),
        "bulk": (60.0, 375.0),
        "inductance": (5e-4, 8e-3),
        "delay": (0.0, 3e-6),
        "ratio": (5.0, 30.0),
        "drop": (0.3, 1.5),
    },
    # of the secondary with the ring of its leakage, in ngspice 19 % above; idle time and losses make the rest less
    {"peak": (-0.02, 0.02), "secondary": (-0.1, 0.25), "average": (-0.15, 0.02), "power": (-0.15, 0.02)},
)
