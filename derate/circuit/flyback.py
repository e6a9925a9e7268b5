"""Currents of a flyback primary at fixed frequency and at the boundary, and the stage at a load as formulas."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from typing import Literal

from derate.circuit.capacitor_ageing import LIFE_ERROR, bulk_switching_ripple
from derate.circuit.clamp import ZENER_ERROR, avalanche_energy
from derate.circuit.numerics import Band, in_range
from derate.circuit.thermal import capacitive_loss, conduction_loss, crossover_loss
from derate.terms.tuples import NamedTuple
from derate.terms.values import Formula, giving

# Currents of a flyback primary: fixed frequency, and boundary operation where the frequency follows the load.


# Currents of a flyback primary and the duty of its secondary.
#
# Sources: AN-4137 (2004), "Design Guidelines for Off-Line Flyback Converters", equation numbers beside the
# lines; drain capacitance term: own derivation from the energy balance between turn-off and the secondary's start.
#
# `inductance` is the one measured at the primary with every other winding open: magnetising plus leakage.


LEAKAGE_MOST = 0.2  # largest leakage over inductance that these formulas are used with [-]

Mode = Literal["discontinuous", "boundary", "continuous"]

# true / computed - 1. Ten ngspice rows (tests/data/ngspice_flyback.json) and 36 random ones
# (ngspice_flyback_random.json), power from the secondary, the rectifier, the clamp and the drain capacitance: peak
# -0.2..+0.5 %, switch RMS -0.4..+0.7 %. Widened to the 2 % and 3 % that a turn-on in the middle of a drain ring allows.
# Average: what the drain capacitance carries past the switch, live over random stages of 2 W and more up to 7 %.
ERROR: dict[str, Band] = {
    "peak": (-0.02, 0.02),
    "rms": (-0.03, 0.03),
    "average": (-0.10, 0.0),
    "duty": (-0.03, 0.03),
    "secondary_duty": (-0.03, 0.03),
    "peak_at_limit": (-0.02, 0.02),
}

# Drain capacitance not known and taken as zero, up to 200 pF of it: the same rows, peaks 0.2 to 2.5 A.
ERROR_NO_CAPACITANCE: dict[str, Band] = ERROR | {"peak": (-0.09, 0.02), "rms": (-0.13, 0.03)}

# +1 the output never falls as the input rises, -1 it never rises, 0 no single sign (run every corner).
# Proved over random designs by tests/circuit/test_flyback.py. An input that is not named has no effect.
SIGNS: dict[str, dict[str, int]] = {
    "peak": {"bulk": -1, "power": 1, "inductance": -1, "reflected": -1, "frequency": -1},
    "rms": {"bulk": -1, "power": 1, "inductance": -1, "reflected": -1, "frequency": -1},
    "average": {"bulk": -1, "power": 1},
    "duty": {"bulk": -1, "power": 1, "inductance": 1, "reflected": 1, "frequency": 1},
    "secondary_duty": {"bulk": 1, "power": 1, "inductance": 1, "reflected": -1, "frequency": 1},
    "peak_at_limit": {"limit": 1, "bulk": 1, "delay": 1, "inductance": -1},
    "limit_power": {"peak": 1, "bulk": 1, "inductance": 1, "reflected": 1, "frequency": 1},
}


# The same with a drain capacitance given, inductance up to 5 mH (above it the peak can rise with the frequency).
SIGNS_WITH_DRAIN: dict[str, dict[str, int]] = {
    "peak": {"bulk": -1, "power": 1, "inductance": -1, "reflected": 0, "frequency": -1, "drain_capacitance": 0},
    "rms": {"bulk": -1, "power": 1, "inductance": -1, "reflected": 0, "frequency": 0, "drain_capacitance": 0},
}


class PrimaryPoint(NamedTuple):
    """One operating point of the primary.

    frequency [Hz]; duty: of the switch, secondary_duty: of the secondary while the switch is off [-]
    peak, valley: at the ends of the on-time [A]; average, rms: of the switch current over the period [A]
    power: asked of the inductor [W]
    """

    mode: Mode
    frequency: float
    duty: float
    secondary_duty: float
    peak: float
    valley: float
    average: float
    rms: float
    power: float


class ClampCurrent(NamedTuple):
    """What a clamp takes at each turn-off: highest current, mean over the period [A]; and its voltage [V]."""

    peak: float
    average: float
    voltage: float


class WindingCurrent(NamedTuple):
    """Of the primary winding: rms at most, its ringing undamped; peak: when the drain passes the bulk voltage [A]."""

    rms: float
    peak: float


def trapezoid_rms(start: float, end: float, duty: float) -> float:
    """RMS [A] of a current that runs from start to end [A] for a share `duty` [-] of the period, else zero.

    >>> round(trapezoid_rms(0.0, 3.0, 1.0), 4)
    1.7321
    """
    return math.sqrt(duty * (start**2 + start * end + end**2) / 3)  # rms of a trapezoid


def reflected_voltage(turns_ratio: float, output: float, drop: float) -> float:
    """Secondary voltage seen at the primary [V] = n (Vo + Vf).  turns_ratio Np/Ns [-], output and drop [V]."""
    in_range("turns_ratio", turns_ratio, 0.0, math.inf, "", open_low=True)
    in_range("output plus drop", output + drop, 0.0, math.inf, "V", open_low=True)
    return turns_ratio * (output + drop)  # AN-4137 eq 5


def operating_point(
    bulk: float,
    power: float,
    inductance: float,
    reflected: float,
    frequency: float,
    *,
    leakage: float = 0.0,
    drain_capacitance: float = 0.0,
) -> PrimaryPoint:
    """Primary currents at a fixed frequency; the mode is decided here.

    bulk: voltage across primary and switch in series, less the switch's drop where that exceeds 2 % [V], positive
    power: what the inductor hands over, clamp loss included [W], positive
    inductance [H], reflected [V], frequency [Hz]: positive
    leakage: the part of `inductance` that is leakage [H], at most a fifth of it
    drain_capacitance: lumped at the drain [F]. It brings C (Vdc^2 - VR^2) / 2 to the secondary at each turn-off.
    Zero reads the peak high wherever the bulk exceeds the reflected voltage.

    Source: AN-4137 (2004) eq 8 to 12 (continuous), eq 30 (discontinuous); leakage and drain capacitance: own
    derivation, volt-second and energy balance.

    >>> point = operating_point(92.0, 67.0, 671e-6, 85.0, 66e3)
    >>> point.mode, round(point.peak, 2), round(point.rms, 2)
    ('continuous', 2.02, 1.07)
    """
    _positive(bulk=bulk, power=power, inductance=inductance, reflected=reflected, frequency=frequency)
    in_range("leakage", leakage, 0.0, LEAKAGE_MOST * inductance, "H")
    in_range("drain_capacitance", drain_capacitance, 0.0, math.inf, "F")
    carried = power - 0.5 * drain_capacitance * (bulk**2 - reflected**2) * frequency  # own: energy from Coss
    if carried <= 0:
        raise ValueError(
            f"power {power:g} W is below the {power - carried:g} W that the drain capacitance carries: "
            "state drain_capacitance 0, which reads high"
        )
    magnetising = inductance - leakage
    peak = (2 * carried / (inductance * frequency)) ** 0.5  # eq 30
    duty = peak * inductance * frequency / bulk
    conduction = lifted_peak(peak, bulk, reflected, inductance, drain_capacitance) * magnetising * frequency / reflected
    if duty + conduction <= 1 + 1e-12:
        mode: Mode = "boundary" if duty + conduction > 1 - 1e-9 else "discontinuous"
        rms = trapezoid_rms(0.0, peak, duty)
        return PrimaryPoint(mode, frequency, duty, conduction, peak, 0.0, carried / bulk, rms, power)
    # Continuous. At turn-on the secondary still conducts until the leakage current has risen to the valley current.
    slope = 0.5 * leakage * frequency / (bulk + reflected)
    for _ in range(100):  # once, unless a drain capacitance lifts the peak
        main = continuous_duty(peak, bulk, inductance, reflected, frequency, leakage, drain_capacitance)
        ripple = bulk * main / (inductance * frequency)  # eq 10
        # mean current = commutation triangle + eq 9:  P / Vdc = a Iv^2 + (Iv + dI / 2) D
        rest = max(0.0, carried / bulk - main * ripple / 2)
        valley = 2 * rest / (main + (main**2 + 4 * slope * rest) ** 0.5)
        before, peak = peak, valley + ripple  # eq 8
        if drain_capacitance == 0 or abs(peak - before) <= 1e-12 * peak:
            break
    commutation = leakage * valley * frequency / (bulk + reflected)
    rms = (trapezoid_rms(valley, peak, main) ** 2 + commutation * valley**2 / 3) ** 0.5  # eq 11 with leakage 0
    duty = main + commutation
    return PrimaryPoint("continuous", frequency, duty, 1 - duty, peak, valley, carried / bulk, rms, power)


def continuous_duty(
    peak: float,
    bulk: float,
    inductance: float,
    reflected: float,
    frequency: float,
    leakage: float,
    drain_capacitance: float,
) -> float:
    """On-duty in continuous mode after the leakage has commutated [-]; AN-4137 eq 7 where both last inputs are 0.

    Volt-seconds of the magnetising inductance: the secondary takes down what the on-time and the lift built up.

    >>> round(continuous_duty(2.0, 92.0, 671e-6, 85.0, 66e3, 0.0, 0.0), 3)
    0.48
    """
    lift = lifted_peak(peak, bulk, reflected, inductance, drain_capacitance) - peak
    magnetising = inductance - leakage
    return (reflected - magnetising * lift * frequency) / (reflected + bulk * magnetising / inductance)


def lifted_peak(peak: float, bulk: float, reflected: float, inductance: float, drain_capacitance: float) -> float:
    """Current left when the drain has risen to the plateau [A]: sqrt(Ipk^2 + C (Vdc^2 - VR^2) / L).  Own, energy.

    The bulk helps to charge the drain capacitance, so above VR the current rises a little after the switch opened. With
    reflected 0 it is the winding's own highest current, which comes when the drain passes the bulk voltage.

    >>> round(lifted_peak(0.6884, 375.0, 74.3, 824e-6, 100e-12), 4)
    0.7002
    """
    _positive(peak=peak, bulk=bulk, inductance=inductance)
    in_range("reflected", reflected, 0.0, math.inf, "V")
    in_range("drain_capacitance", drain_capacitance, 0.0, math.inf, "F")
    return math.sqrt(max(0.0, peak**2 + drain_capacitance * (bulk**2 - reflected**2) / inductance))


def winding_current(
    point: PrimaryPoint,
    bulk: float,
    reflected: float,
    inductance: float,
    leakage: float,
    drain: float,
    clamp: ClampCurrent | None,
) -> WindingCurrent:
    """RMS and highest current of the primary winding, which carries more than the switch does.

    bulk, reflected [V]; inductance, leakage [H]; drain: capacitance at the drain [F]
    clamp: what its diode carries, None where nothing is known of it

    After the switch has opened the winding charges the drain capacitance, feeds the clamp until the leakage is empty
    (a triangle: its square is 2/3 of peak times charge), and rings with the drain capacitance, here undamped as long
    as the secondary conducts; when that has stopped the whole inductance rings with the reflected voltage. Without a
    clamp, or with one nobody knows, the whole peak rings through all of the off-time: no passive clamp makes more.
    Source: own, energy and charge of one period; held to ngspice.

    >>> point = operating_point(350.0, 17.0, 8.3e-4, 87.5, 80e3)
    >>> found = winding_current(point, 350.0, 87.5, 8.3e-4, 3e-5, 6e-11, ClampCurrent(0.69, 6.1e-3, 182.0))
    >>> round(point.rms, 3), round(found.rms, 3)
    (0.152, 0.181)
    """
    in_range("leakage", leakage, 0.0, math.inf, "H")
    highest = lifted_peak(point.peak, bulk, 0.0, inductance, drain)
    charging = highest * drain * (bulk + reflected) * point.frequency  # charge Q in current I: at most I Q
    off = 1.0 - point.duty
    if clamp is None:
        return WindingCurrent(math.sqrt(point.rms**2 + charging + 0.5 * highest**2 * off), highest)
    rise = max(0.0, clamp.voltage - reflected)
    charging += highest * drain * rise * point.frequency
    feeding = 2.0 / 3.0 * clamp.peak * clamp.average
    ringing = 0.5 * rise**2 * drain / leakage * min(point.secondary_duty, off) if rise > 0.0 else 0.0
    idle = 0.5 * reflected**2 * drain / inductance * max(0.0, off - point.secondary_duty)
    return WindingCurrent(math.sqrt(point.rms**2 + charging + feeding + ringing + idle), highest)


def peak_at_limit(limit: float, bulk: float, inductance: float, delay: float) -> float:
    """Peak current in overload or start-up [A] = limit + Vdc delay / L.

    limit: the current limit's upper end [A]; delay: from the limit to the switch's opening, upper end [s]
    inductance: at its lower end, not saturated [H]; bulk: at the highest mains [V].  Source: own derivation.

    >>> round(peak_at_limit(2.0, 375.0, 1e-3, 300e-9), 4)
    2.1125
    """
    _positive(limit=limit, bulk=bulk, inductance=inductance)
    in_range("delay", delay, 0.0, math.inf, "s")
    return limit + bulk * delay / inductance


def limit_power(
    peak: float,
    bulk: float,
    inductance: float,
    reflected: float,
    frequency: float,
    leakage: float = 0.0,
    drain_capacitance: float = 0.0,
) -> float:
    """Power the inductor hands over while the switch opens at `peak` [W], clamp loss included.

    Inverse of `operating_point`.  Inputs [A], [V], [H], [V], [Hz], positive; leakage [H], drain_capacitance [F] as
    there.

    >>> round(limit_power(2.0, 100.0, 1e-3, 100.0, 10e3), 1)
    20.0
    """
    _positive(peak=peak, bulk=bulk, inductance=inductance, reflected=reflected, frequency=frequency)
    in_range("leakage", leakage, 0.0, LEAKAGE_MOST * inductance, "H")
    brought = 0.5 * drain_capacitance * (bulk**2 - reflected**2) * frequency
    main = continuous_duty(peak, bulk, inductance, reflected, frequency, leakage, drain_capacitance)
    ripple = bulk * main / (inductance * frequency)
    if peak <= ripple:
        return 0.5 * inductance * peak**2 * frequency + brought
    valley = peak - ripple
    commutation = 0.5 * leakage * frequency * valley**2 / (bulk + reflected)
    return bulk * (commutation + (valley + ripple / 2) * main) + brought


def _positive(**values: float) -> None:
    for name, value in values.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)


def _reflected(ratio: float, voltage: float, drop: float) -> float:
    return reflected_voltage(ratio, voltage, drop)


REFLECTED_VOLTAGE = giving(
    "reflected",
    _reflected,
    {"ratio": 1, "voltage": 1, "drop": 1},
    {"ratio": (1.0, 50.0), "voltage": (1.8, 30.0), "drop": (0.2, 1.2)},
)
PEAK_AT_LIMIT = giving(
    "peak",
    peak_at_limit,
    SIGNS["peak_at_limit"],
    {"limit": (0.1, 3.0), "bulk": (50.0, 420.0), "delay": (0.0, 1e-6), "inductance": (2e-4, 5e-3)},
)


# Self-oscillating and quasi-resonant flyback primary: the frequency follows the load.


# As `flyback.SIGNS`, proved over random designs by tests/circuit/test_flyback_boundary.py, inside the frequency range.
BOUNDARY_SIGNS: dict[str, dict[str, int]] = {
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
    Other inputs as `operating_point`.
    Source: own derivation, energy and volt-second balance; idle 0 is AN-4137 (2004) eq 8 with 12.

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


# A flyback stage at a load as formulas: its primary, the ripple it draws from the bulk, its switch.


_STAGE = {
    "bulk": (100.0, 375.0),
    "power": (2.0, 40.0),
    "inductance": (3e-4, 3e-3),
    "reflected": (50.0, 130.0),
    "frequency": (4e4, 1.3e5),
}


_point = lru_cache(maxsize=1024)(operating_point)  # each figure of a stage asks for its point again


def point_of(boundary: bool) -> Callable[..., PrimaryPoint]:
    """The operating point of a fixed frequency, or of a control that waits for the secondary to stop.

    Leakage and drain capacitance are left out: both make the true peak and RMS of the primary smaller.
    `frequency` is the highest one of a boundary control; infinite where nothing caps it.
    """

    def fixed(*, bulk: float, power: float, inductance: float, reflected: float, frequency: float) -> PrimaryPoint:
        return _point(bulk, power, inductance, reflected, frequency)

    def follows(
        *, bulk: float, power: float, inductance: float, reflected: float, frequency: float = math.inf
    ) -> PrimaryPoint:
        return boundary_point(bulk, power, inductance, reflected, frequency_range=(0.0, frequency))

    return follows if boundary else fixed


_FIXED_SIGNS = {
    "peak": {"bulk": -1, "power": 1, "inductance": -1, "reflected": -1, "frequency": -1},
    "rms": {"bulk": -1, "power": 1, "inductance": -1, "reflected": -1, "frequency": -1},
    "average": {"bulk": -1, "power": 1},
    "duty": {"bulk": -1, "power": 1, "inductance": 1, "reflected": 1, "frequency": 1},
    "secondary_duty": {"bulk": 1, "power": 1, "inductance": 1, "reflected": -1, "frequency": 1},
}
# Above its cap a boundary control is discontinuous at a fixed frequency, below it the frequency plays no part. The RMS
# is that of a triangle, sqrt(peak × power / bulk × 2/3): like the peak.
_BOUNDARY_SIGNS = {**_FIXED_SIGNS, "rms": {**_FIXED_SIGNS["rms"], "reflected": 0}}
# Currents and duties of the primary, by whether it runs at the boundary.
PRIMARY_AT = {
    boundary: Formula(
        point_of(boundary),
        _BOUNDARY_SIGNS if boundary else _FIXED_SIGNS,
        _STAGE,
        {name: ERROR[name] for name in ("peak", "rms", "average", "duty", "secondary_duty")},
    )
    for boundary in (False, True)
}


def switching_ripple(boundary: bool) -> Formula:
    """Switching current of the bulk [A]: the primary's rms less its average, which the mains side supplies."""
    point = point_of(boundary)

    def solve(**inputs: float) -> dict[str, float]:
        at = point(**inputs)
        return {"rms": bulk_switching_ripple(at.rms, min(at.rms, at.average))}

    signs = {"bulk": 0, "power": 1, "inductance": -1, "reflected": -1 if not boundary else 0, "frequency": -1}
    return Formula(solve, {"rms": signs}, _STAGE, {"rms": LIFE_ERROR["bulk_switching_ripple"]})


def mosfet_loss(boundary: bool) -> Formula:
    """Loss of a MOSFET at a load [W]: conduction, drain capacitance and crossover.

    hot: on-resistance [ohm]; capacitance: at the drain [F]; edge: time of the crossover [s]
    """
    point = point_of(boundary)

    def solve(
        *,
        bulk: float,
        power: float,
        inductance: float,
        reflected: float,
        hot: float,
        capacitance: float,
        edge: float,
        frequency: float = math.inf,
    ) -> dict[str, float]:
        at = point(bulk=bulk, power=power, inductance=inductance, reflected=reflected, frequency=frequency)
        on = conduction_loss(at.rms, hot)
        drain = capacitive_loss(capacitance, bulk, reflected, at.frequency, "continuous").high
        return {"power": on + drain + crossover_loss(bulk + reflected, at.peak, edge, at.frequency)}

    signs = {**dict.fromkeys(_STAGE, 0), "hot": 1, "capacitance": 1, "edge": 1}
    ranges = {**_STAGE, "hot": (0.2, 10.0), "capacitance": (2e-11, 2e-10), "edge": (1e-8, 1e-7)}
    return Formula(solve, {"power": signs}, ranges, {"power": (-0.3, 0.3)})


def avalanche(boundary: bool, at_limit: bool) -> Formula:
    """Energy of one turn-off into the breakdown of the switch [J]; at_limit: at the current limit, else at a load.

    Source: own derivation, single-pulse energy with the source at bulk plus reflected voltage.
    """
    point = point_of(boundary)

    def solve(
        *,
        bulk: float,
        inductance: float,
        reflected: float,
        leakage: float,
        drain: float,
        breakdown: float,
        power: float = 0.0,
        frequency: float = math.inf,
        limit: float = 0.0,
        delay: float = 0.0,
    ) -> dict[str, float]:
        if at_limit:
            peak = limit + bulk * delay / inductance
        else:
            peak = point(bulk=bulk, power=power, inductance=inductance, reflected=reflected, frequency=frequency).peak
        return {"energy": avalanche_energy(bulk, reflected, leakage, peak, breakdown, drain)}

    # at a load a higher reflected voltage lowers the peak and leaves less time: no single sign
    signs = {"bulk": 1, "reflected": 1 if at_limit else 0, "leakage": 1, "breakdown": -1, "drain": -1, "inductance": -1}
    signs |= {"limit": 1, "delay": 1} if at_limit else {"power": 1, "frequency": -1}
    ranges = {
        **_STAGE,
        "bulk": (250.0, 375.0),
        "leakage": (5e-6, 1e-4),
        "drain": (2e-11, 1e-10),
        "breakdown": (600.0, 800.0),
        "limit": (0.5, 3.0),
        "delay": (0.0, 1e-6),
    }
    return Formula(
        solve, {"energy": signs}, {name: ranges[name] for name in signs}, {"energy": ZENER_ERROR["avalanche_energy"]}
    )
