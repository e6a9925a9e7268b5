"""Periodic solution of an output stage: pulse train into a capacitor with resistance, with or without a post filter.

Contents: `OutputRipple`, `single_capacitor`, `post_filter`.

One capacitor is closed form. With choke and second capacitor the difference of the capacitor voltages and the choke
current make a two-state linear system (their common part follows from charge alone), solved exactly with the
exponential of a two by two matrix; only the sampling of extremes and mean squares is numerical.
Source: own derivation from Kirchhoff's laws; held to seven ngspice rows (tests/data/ngspice_output_stage.json).
"""

from __future__ import annotations

import math
from cmath import exp as cexp
from cmath import sqrt as csqrt

from derate.circuit.elementary import total
from derate.circuit.numerics import Band, in_range
from derate.terms.tuples import NamedTuple
from derate.terms.values import Formula, giving

# true / computed - 1 for the stated pulse; ngspice within 0.06 %. Spikes from stray inductance are not in the ripple.
ERROR: dict[str, Band] = {
    "capacitor_rms": (-0.005, 0.005),
    "ripple": (-0.005, 0.005),
    "filter_capacitor_rms": (-0.005, 0.005),
    "filter_ripple": (-0.005, 0.005),
    "choke_peak": (-0.005, 0.005),
}

SIGNS: dict[str, dict[str, int]] = {
    # the RMS current of a single capacitor depends on the pulse alone
    "single_ripple": {"start": 1, "end": 0, "capacitance": -1, "resistance": 1, "frequency": -1},
    "single_rms": {"start": 1, "end": 0},
    # with a post filter everything can ring against the switching frequency: run all corners
    "filter_ripple": {"capacitance": 0, "resistance": 0, "inductance": 0, "filter_capacitance": 0},
}

_SAMPLES = 128  # least per phase
_MOST = 20000


class OutputRipple(NamedTuple):
    """load: mean of the pulse train [A]; capacitor_rms [A] and ripple [V peak to peak] at the first capacitor;
    filter_capacitor_rms [A], filter_ripple [V] behind the choke; choke_peak, choke_rms [A].  Without a post filter the
    last four are 0.
    """

    load: float
    capacitor_rms: float
    ripple: float
    filter_capacitor_rms: float
    filter_ripple: float
    choke_peak: float
    choke_rms: float


def single_capacitor(
    start: float, end: float, duty: float, frequency: float, capacitance: float, resistance: float
) -> OutputRipple:
    """Output capacitor alone behind the rectifier, exact.

    start, end: rectifier current at both ends of its conduction, end at most start [A]; duty: share of the period it
    conducts [-] frequency [Hz]; capacitance [F]; resistance: equivalent series resistance at that frequency [ohm]

    >>> out = single_capacitor(12.0, 0.0, 0.3333, 65e3, 1e-3, 0.03)
    >>> round(out.capacitor_rms, 3), round(out.ripple, 3)
    (3.464, 0.36)
    """
    _check_pulse(start, end, duty, frequency, capacitance, resistance)
    width, load = duty / frequency, 0.5 * (start + end) * duty
    slope = (end - start) / width
    times = [0.0, width]
    turning = (load - start - resistance * capacitance * slope) / slope if slope else 0.0  # dv/dt = i/C + r di/dt = 0
    if 0 < turning < width:
        times.append(turning)
    nodes = [((start - load) * t + 0.5 * slope * t * t) / capacitance for t in times]
    nodes = [v + resistance * (start - load + slope * t) for v, t in zip(nodes, times, strict=True)]
    charged = (0.5 * (start + end) - load) * width / capacitance
    nodes += [charged - resistance * load, -resistance * load]  # after the pulse, and just before the next one
    rms = max(0.0, duty * (start**2 + start * end + end**2) / 3 - load**2) ** 0.5
    return OutputRipple(load, rms, max(nodes) - min(nodes), 0.0, 0.0, 0.0, 0.0)


def least_ripple(current: float, duty: float, frequency: float, capacitance: float, resistance: float) -> float:
    """Least ripple [V] of an output capacitor alone, whatever the shape of the rectifier's current.

    current: average [A], not negative; duty: greatest share of the period it conducts, above 0 and below 1 [-];
    frequency [Hz]; capacitance [F]; resistance [ohm]

    Source: own derivation. Ahead of the pulse the resistance has the whole load, so the voltage is lowest; the pulse
    has to bring the charge of the rest, I (T - W). The top is lowest where it stands still during the pulse, which a
    current makes that decays from its start with R C: any other is higher somewhere, as its charge is the same.

    >>> round(least_ripple(2.0, 0.5, 1e5, 1e-3, 0.0), 6), round(least_ripple(2.0, 0.5, 1e5, 1.0, 0.1), 3)
    (0.01, 0.4)
    """
    _check_pulse(current, current, duty, frequency, capacitance, resistance)
    swing = current * (1.0 - duty) / (frequency * capacitance)
    if resistance == 0.0:
        return swing
    return swing / -math.expm1(-duty / (frequency * resistance * capacitance)) + resistance * current


def post_filter(
    start: float,
    end: float,
    duty: float,
    frequency: float,
    capacitance: float,
    resistance: float,
    inductance: float,
    filter_capacitance: float,
    filter_resistance: float,
    *,
    choke_resistance: float = 0.0,
) -> OutputRipple:
    """Output capacitor, choke and second capacitor, constant-current load behind the choke.

    First six as `single_capacitor`; inductance of the choke at its current [H]; filter_capacitance [F];
    filter_resistance: of the second capacitor [ohm]; choke_resistance [ohm]
    range: the fastest time constant at least 1/2500 of either phase, so that sampling sees it

    >>> out = post_filter(12.0, 0.0, 0.3333, 65e3, 1e-3, 0.03, 2.2e-6, 220e-6, 0.1)
    >>> round(out.filter_ripple, 4), round(out.filter_capacitor_rms, 4)
    (0.0297, 0.0897)
    """
    _check_pulse(start, end, duty, frequency, capacitance, resistance)
    in_range("inductance", inductance, 0.0, math.inf, "H", open_low=True)
    in_range("filter_capacitance", filter_capacitance, 0.0, math.inf, "F", open_low=True)
    in_range("filter_resistance", filter_resistance, 0.0, math.inf, "ohm")
    in_range("choke_resistance", choke_resistance, 0.0, math.inf, "ohm")
    c1, r1, c2, r2, ind = capacitance, resistance, filter_capacitance, filter_resistance, inductance
    load = 0.5 * (start + end) * duty
    # states: w = v1 - v2, i = choke current
    #   w' = -(1/C1 + 1/C2) i + s/C1 + Io/C2        L i' = w - (r1 + r2 + rL) i + r1 s + r2 Io
    matrix = (0.0, -(1 / c1 + 1 / c2), 1 / ind, -(r1 + r2 + choke_resistance) / ind)
    fastest = max(abs(root) for root in _roots(matrix))
    phases = []
    for width, level, slope in (
        (duty / frequency, start, (end - start) * frequency / duty),
        ((1 - duty) / frequency, 0.0, 0.0),
    ):
        count = 2 * max(_SAMPLES // 2, math.ceil(4 * fastest * width))
        if count > _MOST:
            raise ValueError(
                f"the filter's fastest time constant {1 / fastest:.3g} s is too short for a phase of {width:.3g} s: "
                "outside the range of this solution; state a larger inductance, or leave the post filter out"
            )
        # particular solution x = alpha + beta t of x' = A x + f0 + f1 t
        beta = _solve(matrix, (-slope / c1, -r1 * slope / ind))
        alpha = _solve(matrix, (beta[0] - level / c1 - load / c2, beta[1] - (r1 * level + r2 * load) / ind))
        phases.append((width, level, slope, count, alpha, beta))
    # periodic state: x0 = M x0 + b
    step_one, step_two = (_exponential(matrix, phase[0]) for phase in phases)
    tau, alpha, beta = phases[0][0], phases[0][4], phases[0][5]
    other = phases[1][4]
    middle_zero = _apply(step_one, (-alpha[0], -alpha[1]))
    offset = (middle_zero[0] + alpha[0] + beta[0] * tau, middle_zero[1] + alpha[1] + beta[1] * tau)
    offset = _apply(step_two, (offset[0] - other[0], offset[1] - other[1]))
    offset = (offset[0] + other[0], offset[1] + other[1])
    whole = _times(step_two, step_one)
    state = _solve((1 - whole[0], -whole[1], -whole[2], 1 - whole[3]), offset)

    low1, high1, low2, high2, choke_peak = math.inf, -math.inf, math.inf, -math.inf, 0.0
    square1 = square2 = choke_square = charge = 0.0
    for width, level, slope, count, alpha, beta in phases:
        h = width / count
        advance = _exponential(matrix, h)
        free = (state[0] - alpha[0], state[1] - alpha[1])
        for k in range(count + 1):
            t = k * h
            w, i = free[0] + alpha[0] + beta[0] * t, free[1] + alpha[1] + beta[1] * t
            source = level + slope * t
            stored = charge + (level - load) * t + 0.5 * slope * t * t  # C1 v1 + C2 v2
            v2 = (stored - c1 * w) / (c1 + c2)
            node1, node2 = v2 + w + r1 * (source - i), v2 + r2 * (i - load)
            low1, high1 = min(low1, node1), max(high1, node1)
            low2, high2 = min(low2, node2), max(high2, node2)
            choke_peak = max(choke_peak, abs(i))
            weight = h / 3 * (1 if k in (0, count) else 4 if k % 2 else 2)  # Simpson
            square1 += weight * (source - i) ** 2
            square2 += weight * (i - load) ** 2
            choke_square += weight * i * i
            if k < count:
                free = _apply(advance, free)
            else:
                state, charge = (w, i), stored
    return OutputRipple(
        load,
        (square1 * frequency) ** 0.5,
        high1 - low1,
        (square2 * frequency) ** 0.5,
        high2 - low2,
        choke_peak,
        (choke_square * frequency) ** 0.5,
    )


_Matrix = tuple[float, float, float, float]
_Vector = tuple[float, float]


def _roots(m: _Matrix) -> tuple[complex, complex]:
    half, det = 0.5 * (m[0] + m[3]), m[0] * m[3] - m[1] * m[2]
    gap = csqrt(half * half - det)
    return half + gap, half - gap


def _exponential(m: _Matrix, t: float) -> _Matrix:
    """exp(M t) of a real two by two matrix."""
    half = 0.5 * (m[0] + m[3])
    first, second = _roots(m)
    gap = 0.5 * (first - second)
    one, two = cexp(first * t), cexp(second * t)
    even = (0.5 * (one + two)).real
    # sinh(gap t) / gap; its series where the roots all but coincide
    odd = ((one - two) / (2 * gap)).real if abs(gap * t) > 1e-6 else t * math.exp(half * t)
    return (even + odd * (m[0] - half), odd * m[1], odd * m[2], even + odd * (m[3] - half))


def _apply(m: _Matrix, x: _Vector) -> _Vector:
    return m[0] * x[0] + m[1] * x[1], m[2] * x[0] + m[3] * x[1]


def _times(a: _Matrix, b: _Matrix) -> _Matrix:
    return (a[0] * b[0] + a[1] * b[2], a[0] * b[1] + a[1] * b[3], a[2] * b[0] + a[3] * b[2], a[2] * b[1] + a[3] * b[3])


def _solve(m: _Matrix, b: _Vector) -> _Vector:
    det = m[0] * m[3] - m[1] * m[2]
    return (b[0] * m[3] - m[1] * b[1]) / det, (m[0] * b[1] - m[2] * b[0]) / det


def _check_pulse(
    start: float, end: float, duty: float, frequency: float, capacitance: float, resistance: float
) -> None:
    in_range("start", start, 0.0, math.inf, "A", open_low=True)
    in_range("end", end, 0.0, start, "A")
    in_range("duty", duty, 0.0, 0.999, "", open_low=True)
    in_range("frequency", frequency, 0.0, math.inf, "Hz", open_low=True)
    in_range("capacitance", capacitance, 0.0, math.inf, "F", open_low=True)
    in_range("resistance", resistance, 0.0, math.inf, "ohm")


def _ripple_current(rms: float, average: float) -> float:
    return float(max(0.0, rms**2 - average**2) ** 0.5)


def carried_alone(*names: str) -> Formula:
    """Ripple current of one output capacitor when those beside it have opened [A]: the sum of all their currents.

    What is in phase adds; currents in quadrature are the least there is, the root of their number below the sum.
    """
    band = (1.0 / len(names) ** 0.5 - 1.0, 0.0)
    return total("ripple", *names)._replace(ranges=dict.fromkeys(names, (0.0, 5.0)), errors={"ripple": band})


# Ripple current of the capacitor behind a rectifier [A] = sqrt(rms² - average²): own derivation; within 0.1 % of
# ngspice, 9 % high where a small choke shares the pulse.
RIPPLE_CURRENT = giving(
    "rms", _ripple_current, {"rms": 1, "average": -1}, {"rms": (0.0, 10.0), "average": (0.0, 5.0)}, (-0.09, 0.005)
)


def power_delivered(count: int) -> Formula:
    """Power of several outputs [W]: the sum of voltage times current, a negative output delivering as much.

    Inputs voltage_0 and current_0 up to one less than count, [V] and [A].

    >>> power_delivered(2).solve(voltage_0=5.0, current_0=2.0, voltage_1=-12.0, current_1=0.5)
    {'power': 16.0}
    """

    def power(**inputs: float) -> float:
        return sum(abs(inputs[f"voltage_{k}"]) * inputs[f"current_{k}"] for k in range(count))

    signs = {f"voltage_{k}": 0 for k in range(count)} | {f"current_{k}": 1 for k in range(count)}
    ranges = {name: (-15.0, 30.0) if sign == 0 else (0.0, 5.0) for name, sign in signs.items()}
    return giving("power", power, signs, ranges)


def power_to_rectifiers(count: int) -> Formula:
    """Power to rectifiers and outputs [W]: the sum of (output + drop) × current.

    Inputs voltage_0, drop_0 and current_0 up to one less than count, [V] and [A].

    >>> power_to_rectifiers(1).solve(voltage_0=5.0, drop_0=0.5, current_0=2.0)
    {'power': 11.0}
    """

    def power(**inputs: float) -> float:
        return sum((inputs[f"voltage_{k}"] + inputs[f"drop_{k}"]) * inputs[f"current_{k}"] for k in range(count))

    names = {"voltage": (1.8, 30.0), "drop": (0.2, 1.2), "current": (0.0, 5.0)}
    ranges = {f"{name}_{k}": ends for k in range(count) for name, ends in names.items()}
    return giving("power", power, dict.fromkeys(ranges, 1), ranges)
