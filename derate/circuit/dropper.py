"""Droppers: a capacitor or a resistor in series with the mains and a clamped rectifier behind it, in steady state.

Contents: `steady`, `CAPACITOR`, `without_capacitor`, `RESISTOR`, `one_beside_capacitor`, `one_of_resistors`, `steps`,
`SQUARE_WAVE`, `held_by_bridge`, `held_by_half`, `held_by_shunt`, `shunt_power`.

What stands behind is taken as two fixed voltages, one for each direction of the current: a rectifier feeding a clamped
capacitor. Own derivation, closed form of each conduction interval; held to ngspice 39 in the tests.
"""

from __future__ import annotations

from math import asin, atan, cos, exp, pi, sin, sqrt
from typing import NamedTuple

from derate.circuit.numerics import in_range
from derate.terms.values import Collapse, Formula, giving


class Dropped(NamedTuple):
    """What flows through a dropper.

    average: mean of the rectified current, both ways [A], what a bridge delivers; one_way: of one way alone, what a
        half-wave input does
    rms, peak: of the current in series [A]; power: in the series resistance [W]
    swing: greatest voltage of the capacitor, either way, half of the difference of the two clamps left out [V]
    """

    average: float
    one_way: float
    rms: float
    peak: float
    power: float
    swing: float


_TURNS = 60  # halvings to 1e-15 of the crest, where Newton and the secant do no better


def steady(mains: float, frequency: float, resistance: float, capacitance: float, clamp: float) -> Dropped:
    """A capacitor in series with a resistance, feeding a rectifier that holds fixed voltages.

    mains [V rms], 1 to 1000; frequency [Hz], 10 to 1000; resistance: all in series [ohm], 0 to 1e6
    capacitance [F], 1e-9 to 1e-3; clamp [V]: mean of the voltage held while the current flows one way and of that while
    it flows the other, the drops of diodes among them, 0 to the crest; the two differ only by a direct voltage that the
    capacitor takes. Raises Collapse where the clamp is at or above the crest: nothing flows.

    While it conducts, x the capacitor's voltage less that direct voltage: R C dx/dt = crest sin(wt) - clamp - x, from
    -X where the crest has climbed clamp above it until the current is nothing, at X. X is the only figure to be found:
    x(t) = A sin(wt - phi) - clamp + B exp(-t / RC), A = crest cos(phi), tan(phi) = w R C. Without resistance X is the
    crest less the clamp, and the mean of the rectified current 4 f C X, which is what a bridge delivers; the rms of the
    capacitor at the mains alone, pi / (2 sqrt 2) times as much, is what no load ever gets.

    >>> found = steady(120.0, 60.0, 470.0, 0.47e-6, (5.1 + 0.7 + 0.7) / 2.0)
    >>> round(1e3 * found.one_way, 2), round(1e3 * found.rms, 1)
    (9.36, 21.1)
    """
    crest = _checked(mains, frequency, resistance, clamp)
    in_range("dropping capacitance", capacitance, 1e-9, 1e-3, "F")
    omega = 2.0 * pi * frequency
    lag = omega * resistance * capacitance
    if lag < 1e-4:  # less than the last digit of any figure here
        return _undamped(crest, omega, resistance, capacitance, clamp)
    swing = _swing(crest, clamp, lag)
    start = asin(max(-1.0, min(1.0, (clamp - swing) / crest)))
    end, _ = _end(crest, clamp, lag, swing)
    # the current is omega C dx/dtheta: a sine and a decay that cancel at the start
    size = omega * capacitance * crest / sqrt(1.0 + lag * lag)
    phi = atan(lag)
    offset = size * cos(start - phi)
    square = _square(size, phi, offset, lag, start, end)
    rms = sqrt(square / pi)
    one_way = 2.0 * frequency * capacitance * swing
    return Dropped(
        2.0 * one_way, one_way, rms, _greatest(size, phi, offset, lag, start, end), resistance * rms * rms, swing
    )


def _checked(mains: float, frequency: float, resistance: float, clamp: float) -> float:
    in_range("mains voltage", mains, 1.0, 1000.0, "V")
    in_range("mains frequency", frequency, 10.0, 1000.0, "Hz")
    in_range("resistance in series", resistance, 0.0, 1e6, "ohm")
    in_range("clamped voltage", clamp, 0.0, 2000.0, "V")
    crest = sqrt(2.0) * mains
    if clamp >= crest:
        raise Collapse(f"what is held behind it, {clamp:.4g} V, is above the crest of {crest:.4g} V: nothing flows")
    return crest


def _undamped(crest: float, omega: float, resistance: float, capacitance: float, clamp: float) -> Dropped:
    """Without resistance to speak of: the current is omega C crest cos(theta) from where the mains has turned by twice
    the clamp up to its crest."""
    swing = crest - clamp
    start = asin(max(-1.0, (clamp - swing) / crest))
    size = omega * capacitance * crest
    square = size * size * ((pi / 2.0 - start) / 2.0 - sin(2.0 * start) / 4.0)
    rms = sqrt(square / pi)
    peak = size if start <= 0.0 else size * cos(start)
    one_way = omega * capacitance * swing / pi
    return Dropped(2.0 * one_way, one_way, rms, peak, resistance * rms * rms, swing)


def _swing(crest: float, clamp: float, lag: float) -> float:
    """The voltage at which an interval ends as far from nothing as it began: a secant kept between bounds.

    What the interval ends at hardly hangs on where it began, so that little is left to be found.
    """
    low, high = 0.0, crest - clamp  # it would be charged further than it began at the one, less far at the other
    at = max(0.0, crest * cos(atan(lag)) - clamp)
    before: tuple[float, float] | None = None
    for _ in range(_TURNS):
        over = _end(crest, clamp, lag, at)[1] - at
        low, high = (at, high) if over > 0.0 else (low, at)
        if abs(over) < 1e-14 * crest:
            break
        following = at + over
        if before is not None and over != before[1]:
            following = at - over * (at - before[0]) / (over - before[1])
        before = at, over
        at = following if low < following < high else 0.5 * (low + high)
    return at


def _end(crest: float, clamp: float, lag: float, swing: float) -> tuple[float, float]:
    """Where the current of one interval ends [rad], and the voltage the capacitor has then [V], begun at -swing."""
    start = asin(max(-1.0, min(1.0, (clamp - swing) / crest)))
    phi = atan(lag)
    first = cos(start - phi)
    # i = size (cos(theta - phi) - first exp(-(theta - start) / lag)): positive at the crest, negative a lag behind it
    low, high = max(start, pi / 2.0 - 1e-9), pi / 2.0 + phi + 1e-9
    at = high
    for _ in range(_TURNS):
        decay = first * exp(-(at - start) / lag)
        over = cos(at - phi) - decay
        low, high = (at, high) if over > 0.0 else (low, at)
        step = over / (sin(at - phi) - decay / lag or 1e-30)
        if abs(step) < 1e-14:
            break
        at = at + step if low < at + step < high else 0.5 * (low + high)
    return at, crest * sin(at) - clamp


def _square(size: float, phi: float, offset: float, lag: float, start: float, end: float) -> float:
    """Integral of the squared current over one interval, by the angle [A²]."""

    def sine(theta: float) -> float:
        return size * size * (theta / 2.0 + sin(2.0 * (theta - phi)) / 4.0)

    def mixed(theta: float) -> float:  # of cos(theta - phi) exp(-(theta - start) / lag)
        rate = -1.0 / lag
        decay = exp(rate * (theta - start))
        return decay * (rate * cos(theta - phi) + sin(theta - phi)) / (1.0 + rate * rate)

    alone = offset * offset * lag / 2.0 * (1.0 - exp(-2.0 * (end - start) / lag))
    return sine(end) - sine(start) - 2.0 * size * offset * (mixed(end) - mixed(start)) + alone


def _greatest(size: float, phi: float, offset: float, lag: float, start: float, end: float) -> float:
    """Greatest current of one interval [A]: where its slope, positive at the start, is nothing."""
    low, high = start, end
    at = 0.5 * (start + min(end, start + 3.0 * lag))
    for _ in range(_TURNS):
        decay = offset / lag * exp(-(at - start) / lag)
        slope = decay - size * sin(at - phi)
        low, high = (at, high) if slope > 0.0 else (low, at)
        step = slope / (decay / lag + size * cos(at - phi) or 1e-30)
        if abs(step) < 1e-12:
            break
        at = at + step if low < at + step < high else 0.5 * (low + high)
    return size * cos(at - phi) - offset * exp(-(at - start) / lag)


def without_capacitor(mains: float, resistance: float, clamp: float, back: float) -> Dropped:
    """A resistance alone in series: it conducts while the mains is above what is held.

    mains, resistance (1 ohm to 1e6) as `steady`; clamp, back [V]: held while the current flows one way, and the other
    (the same behind a bridge); an infinite one lets nothing through. Swing is nothing.

    Each way from start = asin(held / crest): mean (crest cos(start) - held (pi / 2 - start)) / (pi R), mean square
    ((crest² / 2 + held²) (pi - 2 start) + crest² sin(2 start) / 2 - 4 crest held cos(start)) / (2 pi R²).

    >>> found = without_capacitor(230.0, 10e3, 12.0, 12.0)
    >>> round(1e3 * found.average, 2), round(found.power, 2)
    (19.52, 4.81)
    """
    in_range("dropping resistance", resistance, 1.0, 1e6, "ohm")
    crest = _checked(mains, 50.0, resistance, clamp)
    mean, square = _lobe(crest, resistance, clamp)
    other, other_square = _lobe(crest, resistance, back) if back < crest else (0.0, 0.0)
    square += other_square
    peak = (crest - min(clamp, back)) / resistance
    return Dropped(mean + other, mean, sqrt(square), peak, resistance * square, 0.0)


def _lobe(crest: float, resistance: float, held: float) -> tuple[float, float]:
    """What one direction adds to the mean [A] and to the mean square [A²] over a whole period."""
    start = asin(held / crest)
    mean = (crest * cos(start) - held * (pi / 2.0 - start)) / (pi * resistance)
    whole = (crest * crest / 2.0 + held * held) * (pi - 2.0 * start)
    whole += crest * crest * sin(2.0 * start) / 2.0 - 4.0 * crest * held * cos(start)
    return mean, whole / (2.0 * pi * resistance * resistance)


def one_of_resistors(mains: float, own: float, others: float, clamp: float, back: float) -> dict[str, float]:
    """Power [W] and rms voltage [V] of one resistance among others in series that drop the mains alone.

    own, others [ohm], others 0 for the only one; the rest as `without_capacitor`.

    >>> {name: round(figure, 3) for name, figure in one_of_resistors(230.0, 500.0, 9500.0, 12.0, 12.0).items()}
    {'power': 0.24, 'voltage': 10.963}
    """
    rms = without_capacitor(mains, own + others, clamp, back).rms
    return {"power": own * rms * rms, "voltage": own * rms}


def one_beside_capacitor(
    mains: float, frequency: float, own: float, others: float, capacitance: float, clamp: float, harmonics: float
) -> dict[str, float]:
    """Power [W] and rms voltage [V] of one resistance among others in series with a dropping capacitor.

    own, others [ohm]; harmonics: what they raise the mean square of the current by, 1 for a sine; others as `steady`

    >>> round(one_beside_capacitor(230.0, 50.0, 470.0, 0.0, 0.47e-6, 13.4, 1.0)["power"], 2)
    0.53
    """
    in_range("rise of the mean square by harmonics", harmonics, 1.0, 10.0, "")
    rms = steady(mains, frequency, own + others, capacitance, clamp).rms * sqrt(harmonics)
    return {"power": own * rms * rms, "voltage": own * rms}


def held_by_bridge(rail: float, drop: float) -> float:
    """Voltage held while a bridge feeds a rail [V]: the rail and two diodes.

    >>> held_by_bridge(12.0, 0.75)
    13.5
    """
    return rail + 2.0 * drop


def held_by_half(rail: float, drop: float) -> float:
    """Mean of what a half-wave input holds each way [V]: the rail behind its diode, and a diode for the way back.

    >>> held_by_half(12.0, 0.75)
    6.75
    """
    return 0.5 * rail + drop


def held_by_shunt(rail: float, drop: float) -> float:
    """The same where a zener ahead of the diode holds the rail one way and conducts forward the other [V].

    >>> held_by_shunt(5.1, 0.7)
    2.9
    """
    return 0.5 * (rail + drop)


def shunt_power(rail: float, drop: float, current: float) -> float:
    """Power of a zener that takes the whole current one way at its voltage, and forward the other way [W].

    rail, drop [V]; current: mean of one way [A]. Of one that no current flows through backwards drop is nothing.

    >>> round(1e3 * shunt_power(5.1, 0.72, 15.12e-3))
    88
    """
    return (rail + drop) * current


def steps(mains: float, frequency: float, resistance: float, capacitance: float) -> dict[str, float]:
    """A square wave of the rms of the mains in place of the sine: power in the series resistance, rms current.

    mains [V rms], frequency [Hz], resistance [ohm], capacitance [F] as `steady`. Each edge is a step of twice the
    mains, and the resistance takes C (2 V)² / 2 of it, whatever its value: 4 f C V² in all where the capacitor has time
    to follow; tanh(T / (4 R C)) of that where it has none.

    >>> round(steps(230.0, 50.0, 470.0, 0.47e-6)["power"], 2)
    4.97
    """
    _checked(mains, frequency, resistance, 0.0)
    in_range("dropping capacitance", capacitance, 1e-9, 1e-3, "F")
    follows = 1.0
    if resistance > 0.0:
        share = exp(-1.0 / (2.0 * frequency * resistance * capacitance))
        follows = (1.0 - share) / (1.0 + share)
    power = 4.0 * frequency * capacitance * mains * mains * follows
    return {"power": power, "rms": sqrt(power / resistance) if resistance > 0.0 else float("inf")}


# true / computed - 1. The voltage behind is taken as fixed: the ripple of its capacitor and the slope of a zener lie
# inside the range of the clamp the caller gives. What is left is the curve of the diodes' drop over the current, held
# to ngspice with silicon diodes (tests/circuit/test_dropping.py).
ERROR: dict[str, tuple[float, float]] = {
    "average": (-0.015, 0.005),
    "one_way": (-0.015, 0.005),
    "rms": (-0.01, 0.005),
    "peak": (-0.02, 0.02),
    "power": (-0.02, 0.01),
    "swing": (-0.005, 0.005),
}
# +1 never falls as the input rises, -1 never rises, 0 no single sign; proved by the test.
_FLOWS = {"mains": 1, "frequency": 1, "resistance": -1, "capacitance": 1, "clamp": -1}
SIGNS: dict[str, dict[str, int]] = {
    "average": _FLOWS,
    "one_way": _FLOWS,
    "rms": _FLOWS,
    "peak": _FLOWS,
    # it rises with the resistance up to the reactance of the capacitor, and falls beyond
    "power": {**_FLOWS, "resistance": 0},
    "swing": {"mains": 1, "frequency": -1, "resistance": -1, "capacitance": -1, "clamp": -1},
}
_MAINS, _HELD = (85.0, 300.0), (1.0, 110.0)
_RANGES = {
    "mains": _MAINS,
    "frequency": (40.0, 70.0),
    "resistance": (0.0, 5000.0),
    "capacitance": (22e-9, 5e-6),
    "clamp": _HELD,
}
CAPACITOR = Formula(steady, SIGNS, _RANGES, ERROR)
_ALONE = {"mains": 1, "resistance": -1, "clamp": -1, "back": -1}
RESISTOR = Formula(
    without_capacitor,
    {
        "average": _ALONE,
        "one_way": {"mains": 1, "resistance": -1, "clamp": -1},
        "rms": _ALONE,
        "peak": _ALONE,
        "power": _ALONE,
    },
    {"mains": _MAINS, "resistance": (100.0, 1e5), "clamp": _HELD, "back": _HELD},
    {name: band for name, band in ERROR.items() if name != "swing"},
)
_BAND = {"power": ERROR["power"], "voltage": ERROR["rms"]}
# Of one resistor the power rises with its own resistance up to that of all else in series, and falls beyond.
_ONE = {"mains": 1, "others": -1, "clamp": -1}
ONE_OF_RESISTORS = Formula(
    one_of_resistors,
    {"power": {**_ONE, "own": 0, "back": -1}, "voltage": {**_ONE, "own": 1, "back": -1}},
    {"mains": _MAINS, "own": (100.0, 1e4), "others": (0.0, 1e5), "clamp": _HELD, "back": _HELD},
    _BAND,
)
_BESIDE = {**_ONE, "frequency": 1, "capacitance": 1, "harmonics": 1}
ONE_BESIDE_CAPACITOR = Formula(
    one_beside_capacitor,
    {"power": {**_BESIDE, "own": 0}, "voltage": {**_BESIDE, "own": 1}},
    {
        **{name: span for name, span in _RANGES.items() if name != "resistance"},
        "own": (1.0, 2000.0),
        "others": (0.0, 2000.0),
        "harmonics": (1.0, 1.4),
    },
    _BAND,
)
SQUARE_WAVE = Formula(
    steps,
    {"power": {"mains": 1, "frequency": 1, "resistance": -1, "capacitance": 1}},
    {name: span for name, span in _RANGES.items() if name != "clamp"},
)


def left_over(current: float, rail: float, resistance: float) -> float:
    """Current that a resistor across the rail leaves [A]: what comes less rail / resistance.

    >>> left_over(20e-3, 12.0, 2400.0)
    0.015
    """
    return current - rail / resistance


def across(mains: float, frequency: float, capacitance: float) -> float:
    """Rms current of a capacitor across the mains [A]: 2 pi f C V.

    >>> round(1e3 * across(230.0, 50.0, 0.1e-6), 2)
    7.23
    """
    return 2.0 * pi * frequency * capacitance * mains


def closed(mains: float, frequency: float, resistance: float) -> dict[str, float]:
    """The mains closed at its crest onto resistors alone: peak [A], I²t up to the first zero [A²s], width [s].

    crest / R; crest² / R² × T / 8, a quarter of a period of a squared sine.

    >>> round(1e3 * closed(230.0, 50.0, 10e3)["current_peak"], 1)
    32.5
    """
    in_range("dropping resistance", resistance, 1.0, 1e6, "ohm")
    peak = _checked(mains, frequency, resistance, 0.0) / resistance
    return {"current_peak": peak, "i2t": peak * peak / (8.0 * frequency), "pulse_width": 1.0 / (8.0 * frequency)}


def raised(rail: float, drop: float, peak: float, width: float, capacitance: float) -> float:
    """Rail and a diode at the end of a pulse whose charge all stays in the capacitor across it [V].

    rail, drop [V]; peak [A], width [s] (I²t over peak², half the time constant of an exponential); capacitance [F].
    Charge of an exponential pulse 2 × peak × width: of any steeper-ended one of that I²t and peak it is less.

    >>> round(raised(12.0, 0.7, 2.9, 36e-6, 220e-6), 2)
    13.65
    """
    return rail + drop + 2.0 * peak * width / capacitance


CLOSED = Formula(
    closed,
    {
        "current_peak": {"mains": 1, "resistance": -1},
        "i2t": {"mains": 1, "frequency": -1, "resistance": -1},
        "pulse_width": {"frequency": -1},
    },
    {"mains": _MAINS, "frequency": (40.0, 70.0), "resistance": (100.0, 1e5)},
)
RAISED = giving(
    "rail",
    raised,
    {"rail": 1, "drop": 1, "peak": 1, "width": 1, "capacitance": -1},
    {"rail": (1.0, 200.0), "drop": (0.0, 2.0), "peak": (0.1, 50.0), "width": (1e-6, 1e-3), "capacitance": (1e-6, 1e-3)},
)
LEFT_OVER = giving(
    "left",
    left_over,
    {"current": 1, "rail": -1, "resistance": 1},
    {"current": (0.0, 1.0), "rail": (1.0, 200.0), "resistance": (100.0, 1e6)},
)
ACROSS = giving(
    "current",
    across,
    {"mains": 1, "frequency": 1, "capacitance": 1},
    {"mains": _MAINS, "frequency": (40.0, 70.0), "capacitance": (0.0, 2e-6)},
)
_UP = {"rail": 1, "drop": 1}
_RAIL = {"rail": (1.0, 200.0), "drop": (0.0, 2.0)}
HELD_BY_BRIDGE = giving("clamp", held_by_bridge, _UP, _RAIL)
HELD_BY_HALF = giving("clamp", held_by_half, _UP, _RAIL)
HELD_BY_SHUNT = giving("clamp", held_by_shunt, _UP, _RAIL)
SHUNT_POWER = giving("power", shunt_power, {**_UP, "current": 1}, {**_RAIL, "current": (0.0, 1.0)}, (0.0, 0.0))
