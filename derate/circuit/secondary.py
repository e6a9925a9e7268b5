"""The output side of a flyback: winding currents, rectifiers, their losses and their ringing."""

from __future__ import annotations

import cmath
import math

from derate.circuit.elementary import passed
from derate.circuit.flyback import PrimaryPoint, lifted_peak, trapezoid_rms
from derate.circuit.numerics import Band, in_range
from derate.terms.tuples import NamedTuple
from derate.terms.values import giving

# Rectifiers and windings on the output side of a flyback: voltages and losses.
#
# Sources: AN-4137 (2004) eq 20 and 22, measured rails on p18 and p19; ngspice rows of
# tests/data/ngspice_flyback.json for the ringing.


# true / computed - 1 of the reverse voltage. Undamped ngspice rows 1.20..2.58 times; a junction capacitance that falls
# as the root of the voltage can ring to 3 times (own: equal charge and energy), recovery charge to more: no upper end.
ERROR: dict[str, Band] = {
    "reverse_floor": (-0.05, math.inf),  # fully damped, the leakage keeps its share of the bulk: up to 5 % of it
    "reverse_damped": (-0.25, 0.05),  # as good as the stated factor; common practice, no source
    "snubber_loss": (-0.10, 0.50),  # the ringing itself adds; common practice, no source
    "forward_loss": (-0.10, 0.10),  # drop at the mean conducted current against the curve; common practice, no source
}

# Rails off the turns ratio. Loaded: own allowance +15/-10 %, measured in AN-4137 +6, +11 and +8 % at full load. One
# lightly loaded winding beside loaded ones: ngspice 1.6..2.1 times, undamped, at 1..3 % leakage; 1.15..1.33 times at
# 36..41 mA; with damped rectifiers 1.14 and 1.35 times at 10 mA, 1 and 3 % leakage, 1.15 times at 40 mA, 2 %.
RAIL_BAND: dict[str, Band] = {"loaded": (-0.10, 0.15), "light": (-0.10, 1.15)}

SIGNS: dict[str, dict[str, int]] = {
    "reverse_floor": {"output": 1, "bulk": 1, "turns_ratio": -1},
    "snubber_loss": {"capacitance": 1, "step": 1, "frequency": 1},
    "forward_loss": {"drop": 1, "average": 1, "resistance": 1, "rms": 1},
    "flyback_winding_rail": {"turns": 1, "reference_turns": -1, "output": 1, "drop": 1, "own_drop": -1},
}


class Reverse(NamedTuple):
    """floor: the least the rectifier sees [V]; high: the most [V], infinite while no damping is stated"""

    floor: float
    high: float


class RailBand(NamedTuple):
    """nominal: by turns [V]; low, high: what loading and leakage make of it [V]"""

    low: float
    nominal: float
    high: float


def reverse_voltage(output: float, bulk: float, turns_ratio: float, ringing: float | None = None) -> Reverse:
    """Reverse voltage of an output rectifier [V] = Vo + Vdc / n, a floor: it can prove a fail, never a pass.

    output [V]; bulk: at the highest mains [V]; turns_ratio Np/Ns [-]
    ringing: peak over floor from a measurement or a snubber design [-], 1 or more. Not stated: `high`
    is infinite. 1.3 (AN-4137 eq 22) is a rule for choosing a part, not an upper figure.

    >>> reverse = reverse_voltage(3.3, 375.0, 22.5)
    >>> round(reverse.floor, 1), reverse.high
    (20.0, inf)
    """
    in_range("output", output, 0.0, math.inf, "V")
    in_range("bulk", bulk, 0.0, math.inf, "V", open_low=True)
    in_range("turns_ratio", turns_ratio, 0.0, math.inf, "", open_low=True)
    floor = output + bulk / turns_ratio  # AN-4137 eq 20
    if ringing is None:
        return Reverse(floor, math.inf)
    in_range("ringing", ringing, 1.0, math.inf, "")
    return Reverse(floor, floor * ringing)


def snubber_loss(capacitance: float, step: float, frequency: float) -> float:
    """Loss of a resistor-capacitor snubber [W] = C V^2 f: half at each edge.

    capacitance [F]; step: swing across it, for a rectifier its reverse voltage [V]; frequency [Hz].
    Source: own derivation.

    >>> round(snubber_loss(1e-9, 30.0, 74e3), 4)
    0.0666
    """
    for name, value in {"capacitance": capacitance, "step": step, "frequency": frequency}.items():
        in_range(name, value, 0.0, math.inf, "")
    return capacitance * step**2 * frequency


def forward_loss(drop: float, average: float, resistance: float = 0.0, rms: float = 0.0) -> float:
    """Conduction loss of a rectifier [W] = Vf Iav + r Irms^2.

    drop: threshold voltage, or the whole drop with resistance zero [V]; average, rms [A]; resistance [ohm].
    Source: own derivation.

    >>> forward_loss(0.31, 1.0)
    0.31
    """
    for name, value in {"drop": drop, "average": average, "resistance": resistance, "rms": rms}.items():
        in_range(name, value, 0.0, math.inf, "")
    if resistance > 0 and rms < average:
        raise ValueError(f"rms {rms:g} A is below the average {average:g} A: state the RMS current of the rectifier")
    return drop * average + resistance * rms**2


def flyback_winding_rail(
    turns: float,
    reference_turns: float,
    output: float,
    drop: float,
    own_drop: float,
    load: str,
    *,
    leakage_share: float = 0.0,
) -> RailBand:
    """Rail of a winding that conducts with the output [V] = (Na/Ns)(Vo + Vf) - Vfa, with its band.

    turns, reference_turns [-]; output, drop, own_drop [V]
    load: "loaded" or "light" (alone lightly loaded beside loaded ones); leakage_share: leakage over inductance [-],
    "light" has been looked at up to 0.03: above it `high` is infinite

    >>> flyback_winding_rail(6.0, 3.0, 5.0, 0.5, 1.0, "loaded").nominal
    10.0
    """
    for name, value in {"turns": turns, "reference_turns": reference_turns, "output": output}.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    in_range("drop", drop, 0.0, math.inf, "V")
    in_range("own_drop", own_drop, 0.0, math.inf, "V")
    if load not in RAIL_BAND:
        raise ValueError(f"load {load!r} is not known: state one of {', '.join(sorted(RAIL_BAND))}")
    in_range("leakage_share", leakage_share, 0.0, 1.0, "")
    nominal = turns / reference_turns * (output + drop) - own_drop
    if nominal <= 0:
        raise ValueError(f"the rail comes to {nominal:.3g} V: state more turns or a smaller own_drop")
    low, high = (nominal * (1 + end) for end in RAIL_BAND[load])
    if load == "light" and leakage_share > 0.03:
        high = math.inf
    return RailBand(low, nominal, high)


def _rail(turns: float, reference_turns: float, output: float, drop: float, own_drop: float) -> float:
    return flyback_winding_rail(turns, reference_turns, output, drop, own_drop, "loaded").nominal


def _reverse(voltage: float, bulk: float, ratio: float) -> float:
    return reverse_voltage(voltage, bulk, ratio).floor


def _reverse_ringing(voltage: float, bulk: float, ratio: float, ringing: float) -> float:
    # a worked-out ringing reaches down to the 5 % by which leakage may lower the flat part itself
    return reverse_voltage(voltage, bulk, ratio, max(1.0, ringing)).high * min(1.0, ringing)


def _forward(drop: float, average: float) -> float:
    return forward_loss(drop, average)


def _snubber_of_switch(capacitance: float, bulk: float, reflected: float, frequency: float) -> float:
    return snubber_loss(capacitance, bulk + reflected, frequency)


def _snubber_of_rectifier(capacitance: float, voltage: float, bulk: float, ratio: float, frequency: float) -> float:
    return snubber_loss(capacitance, voltage + bulk / ratio, frequency)


_STAGE = {"voltage": (1.8, 30.0), "bulk": (50.0, 420.0), "ratio": (1.0, 50.0)}
_SNUBBER = {"capacitance": (1e-11, 1e-8), "frequency": (2e4, 2e5)}
_RAIL = {
    "turns": (2.0, 40.0),
    "reference_turns": (2.0, 40.0),
    "output": (1.8, 30.0),
    "drop": (0.2, 1.2),
    "own_drop": (0.2, 1.2),
}
# Rail of a winding by turns [V], with the band of its load; open: more leakage than was looked at, no upper end.
RAIL_BY_TURNS = {
    load: giving("rail", _rail, SIGNS["flyback_winding_rail"], _RAIL, band)
    for load, band in (RAIL_BAND | {"open": (RAIL_BAND["light"][0], math.inf)}).items()
}
# Own allowance, no source: where the converter skips periods without load a rail falls by up to a quarter.
RAIL_WITHOUT_LOAD = passed("rail", (-0.25, 0.0))
REVERSE = giving("reverse", _reverse, {"voltage": 1, "bulk": 1, "ratio": -1}, _STAGE, ERROR["reverse_floor"])
REVERSE_RINGING = giving(
    "reverse", _reverse_ringing, {"voltage": 1, "bulk": 1, "ratio": -1, "ringing": 1}, {**_STAGE, "ringing": (0.9, 3.0)}
)
FORWARD = giving(
    "power",
    _forward,
    {name: SIGNS["forward_loss"][name] for name in ("drop", "average")},
    {"drop": (0.2, 1.5), "average": (0.0, 10.0)},
    ERROR["forward_loss"],
)
SNUBBER_OF_SWITCH = giving(
    "power",
    _snubber_of_switch,
    {"capacitance": 1, "bulk": 1, "reflected": 1, "frequency": 1},
    {**_SNUBBER, "bulk": (50.0, 420.0), "reflected": (20.0, 200.0)},
    ERROR["snubber_loss"],
)
SNUBBER_OF_RECTIFIER = giving(
    "power",
    _snubber_of_rectifier,
    {"capacitance": 1, "voltage": 1, "bulk": 1, "ratio": -1, "frequency": 1},
    {**_SNUBBER, **_STAGE},
    ERROR["snubber_loss"],
)


# Current of a flyback secondary: one winding with leakage commutation, and several windings on one core.
#
# Sources: AN-4137 (2004) eq 16 to 19; commutation and ringing: own, from the same balance as the clamp.


# true / computed - 1. Ten ngspice rows (tests/data/ngspice_flyback.json) and 36 random ones
# (ngspice_flyback_random.json), leakage, clamp and drain capacitance given: average, worked out from the peak,
# -0.8..+0.3 %; RMS without ringing -0.4..+15.9 %, with undamped ringing -8.2..+0.4 % (+6.5 % with a clamp diode of
# 0.5 us transit time; live over random stages up to +1.8 %, at 2 to 5 W, where the idle drain swings into conduction);
# peak with it -0.9..+4.1 % (+37 %: recovery current). A real ringing is damped, so the true figure lies between the
# plain and the ringing one: the low ends of the ringing figures and the high ends of the plain ones are the whole
# distance seen between the two (peak up to 62 %).
CURRENT_ERROR: dict[str, Band] = {
    "average": (-0.02, 0.02),
    "rms": (-0.02, 0.20),
    "rms_ringing": (-0.18, 0.03),
    "peak": (-0.02, 0.75),
    "peak_ringing": (-0.42, 0.05),
}
ERROR_SLOW_DIODE: dict[str, Band] = CURRENT_ERROR | {
    "rms_ringing": (-0.18, 0.09),
    "peak": (-0.02, 1.2),
    "peak_ringing": (-0.42, 0.45),
}

# Several windings, by their share of the power. Nothing says how the leakage is split among them, and the winding with
# least of it takes the whole current at first, as the others have to take theirs over through their own leakage. So no
# winding carries more than all of the current of the core, which falls in a straight line at least as fast as the core
# gives it up: of its average I its peak is at most the whole one, its RMS at most sqrt(2/3 I peak), which is 1 / share
# and 1 / sqrt(share) times the common shape (own). On top what leakage and ringing make of an only winding. Seen in
# ngspice: a winding of 13 % with a seventh of the others' leakage +120 % RMS, one of 33 % with a tenth +56 % RMS, its
# peak 4 % above the whole current; ten runs of two and three windings, leakage split evenly to ten to one, 90 V to
# 375 V, both modes, down to -9.7 % RMS and -36 % peak. A flat current over all of the conduction is the least there is:
# -13 % and -50 %. A winding of 1 to 3 % charges to the ringing: RMS up to 5.1 times, peak up to 26 times.
SHARED_LEAST = 0.08  # below this share of the power nothing bounds the current from above [-]
SHARED_LARGE = 0.2  # from here on the RMS is at least what a flat current has [-]
SHARED_LOW = {"rms": -0.15, "rms, small": -0.20, "peak": -0.50}

CURRENT_SIGNS: dict[str, dict[str, int]] = {"winding_rms": {"current": 1, "leakage_share": 1}}


class SecondaryCurrent(NamedTuple):
    """average, peak, rms [A] with no ringing; peak_ringing, rms_ringing [A] with the leakage ringing undamped (an upper
    figure); conduction: share of the period [-]; start: time after turn-off at which it carries the whole current [s]
    """

    average: float
    peak: float
    rms: float
    peak_ringing: float
    rms_ringing: float
    conduction: float
    start: float


def secondary_current(
    point: PrimaryPoint,
    bulk: float,
    inductance: float,
    reflected: float,
    turns_ratio: float,
    *,
    leakage: float = 0.0,
    clamp_rise: float = math.inf,
    drain_capacitance: float = 0.0,
) -> SecondaryCurrent:
    """Current of a single secondary from the primary's operating point.

    bulk, reflected [V]; inductance as `operating_point` [H]; turns_ratio Np/Ns [-]; leakage [H], below the inductance
    clamp_rise: clamp voltage less reflected [V]; the leakage current dies in Llk I / rise, meanwhile the secondary
    takes over. Infinite (or leakage zero): at once.  drain_capacitance [F].

    Source: own derivation of the shapes; commutation and the ringing, amplitude rise / sqrt(Llk / Coss): own.
    """
    for name, value in {"bulk": bulk, "reflected": reflected, "turns_ratio": turns_ratio}.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    in_range("inductance", inductance, leakage, math.inf, "H", open_low=True)
    in_range("leakage", leakage, 0.0, math.inf, "H")
    in_range("drain_capacitance", drain_capacitance, 0.0, math.inf, "F")
    if not clamp_rise > 0:
        raise ValueError(f"clamp_rise is {clamp_rise:g} V: state clamp less reflected voltage, above 0 V")
    frequency, period, magnetising = point.frequency, 1 / point.frequency, inductance - leakage
    # the drain capacitance hands C (Vdc^2 - VR^2) / 2 over before the secondary starts
    lifted = lifted_peak(point.peak, bulk, reflected, inductance, drain_capacitance)
    start, lost, ring = 0.0, 0.0, 0.0
    if leakage > 0 and math.isfinite(clamp_rise):
        excess = max(0.0, lifted**2 - drain_capacitance * clamp_rise**2 / leakage)
        start = leakage * excess**0.5 / clamp_rise
        lost = 0.5 * leakage * excess / clamp_rise  # charge that goes to the clamp instead
        ring = turns_ratio * clamp_rise * (drain_capacitance / leakage) ** 0.5  # amplitude after the clamp lets go
    fall = 0.0  # time the switch is on already while the secondary still conducts
    if point.mode == "continuous":
        fall = leakage * point.valley / (bulk + reflected)
        length, end = (1 - point.duty) * period + fall, turns_ratio * point.valley
    else:
        length, end = lifted * magnetising / reflected, 0.0
    if start + fall >= length:
        raise ValueError(
            f"the leakage takes {start:.3g} s of the {length:.3g} s that the secondary has: outside the range of this "
            "formula; state a smaller leakage or a higher clamp voltage"
        )
    peak = turns_ratio * (lifted - reflected * start / magnetising)
    # the magnetising current's charge, less what the clamp and the next cycle's primary take of it
    charge = 0.5 * (turns_ratio * lifted + end) * length - turns_ratio * lost - 0.5 * end * fall
    share, full = length * frequency, (length - start - fall) * frequency
    square = trapezoid_rms(peak, end, full) ** 2 + (peak**2 * start + end**2 * fall) * frequency / 3
    return SecondaryCurrent(
        average=charge * frequency,
        peak=peak,
        rms=square**0.5,
        peak_ringing=peak + ring,
        rms_ringing=(square + 0.5 * ring**2 * full) ** 0.5,
        conduction=min(1.0, share),
        start=start,
    )


class Pulse(NamedTuple):
    """Current of one secondary winding: start and end of its conduction [A], share of the period [-], frequency [Hz].

    peak, rms, average [A]
    """

    start: float
    end: float
    conduction: float
    frequency: float
    peak: float
    rms: float
    average: float


def pulse(point: PrimaryPoint, current: float, leakage_share: float = 0.0) -> Pulse:
    """Current of one of several windings: the common shape of all, scaled to the output's own average.

    current: average [A], not negative; leakage_share: leakage over inductance, 0 to 0.2 [-]: it shortens the conduction
    by about that; what ringing adds is in the error band.
    The average is exact. The shape is an assumption (AN-4137 before eq 18 makes it too): the winding that couples best
    takes the pulse early. `shared_band` states what ngspice showed with two and three windings.

    >>> from derate.circuit.flyback import operating_point
    >>> point = operating_point(92.0, 27.5, 671e-6, 85.0, 66e3)
    >>> round(pulse(point, 2.0).rms, 2), round(pulse(point, 1.0).rms, 2)
    (3.06, 1.53)
    """
    in_range("output current", current, 0.0, math.inf, "A")
    in_range("leakage share", leakage_share, 0.0, 0.2, "")
    conduction = point.secondary_duty * (1.0 - leakage_share)
    mean = 0.5 * (point.peak + point.valley) * conduction
    start, end = current * point.peak / mean, current * point.valley / mean
    return Pulse(start, end, conduction, point.frequency, start, trapezoid_rms(start, end, conduction), current)


def shared_band(quantity: str, share: float) -> Band:
    """Error band of a winding's "rms" or "peak" from `pulse` by its share of the power [-].

    A share of 1 is the only winding there is: `ERROR` holds.  The high end is infinite below `SHARED_LEAST`.

    >>> [round(end, 2) for end in shared_band("rms", 0.25)]
    [-0.15, 1.4]
    """
    if quantity not in ("rms", "peak"):
        raise ValueError(f"quantity {quantity!r} is not known: state 'rms' or 'peak'")
    in_range("share", share, 0.0, 1.0, "")
    if share == 1.0:
        return CURRENT_ERROR[quantity]
    low = SHARED_LOW["rms, small" if quantity == "rms" and share < SHARED_LARGE else quantity]
    if share < SHARED_LEAST:
        return low, math.inf
    most = 1.0 / share if quantity == "peak" else 1.0 / math.sqrt(share)
    return low, (1.0 + CURRENT_ERROR[quantity][1]) * most - 1.0


# Ringing of an output rectifier with a resistor-capacitor snubber across it: crest over flat part.
#
# When the rectifier stops conducting, the flat part is a step that reaches it through the leakage inductance L; at
# the rectifier stand its junction C and, beside it, the snubber's R and Cs in series:
#
#     v / step = (1 + s R Cs) / (1 + s R Cs + s² L (C + Cs) + s³ L C R Cs)      own, Kirchhoff
#
# A reverse current I in L at the moment it stops adds L I times the same fraction. The step response is a sum of
# three exponentials, exact; its greatest value is scanned for.
#
# A junction's capacitance falls as its voltage rises, so it rings further than a constant one of the same charge. The
# band for that: 1800 random rings without and 1400 with a reverse current, solved as they are (fixed-step, grading
# 0.33 to 0.5, built-in 0.35 to 0.8 V, flat parts 15 to 120 V, Cs 1 to 40 times C, R 0.1 to 8 times sqrt(L / C)),
# where the excess over the flat part came to 0.76..1.25 times that of the constant one up to R = sqrt(L / C), 1.45 up
# to twice that, 1.65 up to four times, 1.77 beyond. Undamped the two ends are 1 and 2 times (own: energy of the
# charge). tests/circuit/test_rectifier_ring.py holds the band to ngspice.


RATIO = (1.0, 60.0)  # snubber's capacitance over the junction's that the band was looked at with [-]
DAMPING = (0.02, 50.0)  # R over sqrt(L / C) [-]
CURRENT = 4.0  # greatest reverse current over step / sqrt(L / C) [-]
_POINTS = 32  # of a period of the fast ring; a parabola through three of them finds the crest within 0.01 %

# +1 rises, -1 falls, 0 no single sign: the crest has one minimum over each of L and R, so its greatest value over a
# range lies at an end. Proved over random rings by tests/circuit/test_rectifier_ring.py.
RING_SIGNS: dict[str, dict[str, int]] = {
    "crest": {"leakage": 0, "junction": 0, "resistance": 0, "capacitance": -1, "recovery": 1, "step": -1},
    "junction_equivalent": {"given": 1, "step": -1},
}


class Crest(NamedTuple):
    """Crest over flat part [-]: of a constant capacitance, and at most of a junction that holds its charge."""

    linear: float
    high: float


def ringing_crest(
    leakage: float, junction: float, resistance: float, capacitance: float, step: float, recovery: float = 0.0
) -> Crest:
    """Crest over flat part of the reverse voltage [-].

    leakage: in the loop of rectifier and winding, seen from it [H]; junction: constant capacitance of the same charge
    at the flat part (`junction_equivalent`) [F]; resistance [ohm] and capacitance [F] of the snubber; step: the flat
    part [V]; recovery: reverse current as the rectifier stops [A], zero for a Schottky diode
    range: capacitance at least the junction's (above 60 times it is taken as 60, which reads high), resistance 0.02 to
    50 times sqrt(L / C), recovery up to four times step / sqrt(L / C). Winding resistance, the length of the edge and
    what the rectifier blocks already are left out: all make the true crest smaller, down to none at all.

    >>> [round(x, 2) for x in ringing_crest(100e-9, 100e-12, 40.0, 1e-9, 60.0)]
    [1.32, 1.48]
    """
    positive = {"leakage": leakage, "junction": junction, "resistance": resistance, "step": step}
    for name, value in positive.items():
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    in_range("snubber over junction capacitance", capacitance / junction, RATIO[0], math.inf, "")
    wave = (leakage / junction) ** 0.5
    damping = resistance / wave
    in_range("snubber resistance over sqrt(L / C)", damping, *DAMPING, "")
    current = recovery * wave / step
    in_range("reverse current over step / sqrt(L / C)", current, 0.0, CURRENT, "")
    excess = max(0.0, _linear(damping, min(RATIO[1], capacitance / junction), current) - 1.0)
    return Crest(1.0 + excess, 1.0 + highest(damping) * excess)


def highest(damping: float) -> float:
    """Greatest excess of a falling junction capacitance over that of a constant one [-], by R over sqrt(L / C)."""
    return min(2.1, 1.45 + 0.2 * max(0.0, damping - 1.0))


def _linear(damping: float, ratio: float, current: float) -> float:
    """Greatest v / step; time in units of sqrt(L C): 1 + b s + (1 + k) s² + b s³ below, 1 + b s above, b = z k."""
    b = damping * ratio
    poles = _poles(b, 1.0 + ratio)
    terms = [
        (1.0 + b * p) * (1.0 / p + current) / ((3.0 * b * p + 2.0 * (1.0 + ratio)) * p + b) for p in poles
    ]  # residues of (1 + b s)(1 / s + current) / denominator
    h = 2.0 * math.pi / _POINTS
    turns = [cmath.exp(p * h) for p in poles]
    # the slow ring, of L with both capacitances, is the longest there is: a period and a quarter holds its crest
    steps = int(1.25 * _POINTS * (1.0 + ratio) ** 0.5) + _POINTS
    before, now, best = 0.0, 1.0 + sum(terms).real, 0.0
    for _ in range(steps):
        terms = [term * turn for term, turn in zip(terms, turns, strict=True)]
        after = 1.0 + sum(terms).real
        if now >= before and now >= after:
            bend = before - 2.0 * now + after
            best = max(best, now - (after - before) ** 2 / (8.0 * bend) if bend < 0.0 else now)
        before, now = now, after
    return max(best, now)


def _poles(b: float, c: float) -> tuple[complex, complex, complex]:
    """Roots of b s³ + c s² + b s + 1: the real one by bisection, the others of the quadratic that is left."""
    low, high = -(1.0 + (c + b + 1.0) / b), 0.0
    for _ in range(100):
        middle = 0.5 * (low + high)
        if ((b * middle + c) * middle + b) * middle + 1.0 > 0.0:
            high = middle
        else:
            low = middle
    real = 0.5 * (low + high)
    half = 0.5 * (c / b + real)
    left = half * half - (1.0 + 2.0 * real * half)
    if abs(left) < 1e-9:
        left = 1e-9  # a double root has no pair of exponentials; a hair beside it has
    root = cmath.sqrt(left)
    return complex(real), -half + root, -half - root


def junction_equivalent(given: float, at: float, step: float) -> tuple[float, float]:
    """Least and greatest constant capacitance that holds the charge of a junction at the flat part [F].

    given: junction capacitance at the reverse voltage `at` [V], as data sheets print it [F]; step: the flat part [V]
    Law C = C0 / (1 + v / V0)^m, V0 0.35 to 0.8 V, m 0.33 to 0.5; its charge over the step, the extremes of four.
    Source: own derivation, abrupt (0.5) and graded (0.33) junctions, built-in voltages of Schottky and silicon.

    >>> [round(c * 1e12) for c in junction_equivalent(110e-12, 4.0, 60.0)]
    [55, 68]
    """
    in_range("junction capacitance", given, 0.0, math.inf, "F", open_low=True)
    in_range("reverse voltage", at, 0.0, math.inf, "V")
    in_range("step", step, 0.0, math.inf, "V", open_low=True)
    found = []
    for grading in (0.33, 0.5):
        for built_in in (0.35, 0.8):
            zero = given * (1.0 + at / built_in) ** grading
            left = 1.0 - grading
            found.append(zero * built_in / left * ((1.0 + step / built_in) ** left - 1.0) / step)
    return min(found), max(found)
