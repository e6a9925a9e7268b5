"""A mains transformer with rectifier, capacitor and linear regulator: periodic state, shorts, heat, batteries."""

from __future__ import annotations

from collections.abc import Callable
from math import acos, cos, exp, inf, log, pi, sin, sqrt
from typing import NamedTuple

from derate.circuit.elementary import product
from derate.circuit.numerics import Band, in_range
from derate.terms.values import Collapse, Formula, Ranges, Signs, giving

# Periodic state of a rectifier behind a mains transformer, with one capacitor and a load of constant current.
#
# A linear regulator passes on the current of its load whatever lies across it, so the load is a current, not a power.
# The transformer is its open-circuit voltage behind the resistance of both windings seen at the secondary. In line
# phase from the crest, voltages in crests, currents in omega C crests (u the capacitor, q the load, d the diodes):
#
#     conducting   rho u' = cos x - d - u - rho q,  rho = omega R C     a sinusoid and one exponential, exactly
#     blocked          u' = -q                                          a straight line
#
# What is searched for is the phase at which conduction begins, such that the capacitor is where it was one period
# later. The circuit is linear between its two states and the diode monotone, so there is one solution or, where even
# an empty capacitor loses, none.
#
# A doubler is two half waves half a period apart that share the winding and never conduct together.
#
# Source: own derivation from Kirchhoff's laws; held to ngspice in tests/circuit/test_transformer_rail.py. Both closed
# forms in use fail: crest less a straight discharge over half a period reads the valley of the check case (9 V, 6 VA,
# 1000 uF, 0.4 A at 207 V: 7.22 V) 5.9 V from the rated and 8.7 V from the open-circuit voltage.

# A diode drops so many volts more each time its current grows by the factor e: n kT/q of a silicon junction with n near
# 2 at 300 to 350 K; held to ngspice diodes of n 1.6 to 2.0. Its drop is given at twice the current of the load and laid
# as a tangent at AMID of the greatest current: the slope there stands beside the winding, what is left is a fixed knee.
# The greatest current is that of a first round without the slope.
# Its lead and bulk resistance drop OHMIC at the current of the load: 10 to 60 mV in diodes that suit the load.
SLOPE = 0.05
AMID = 0.6
OHMIC = 0.035
CONNECTIONS = ("full bridge", "half-wave", "centre-tapped", "doubler")
_DIODES = {"full bridge": 2, "half-wave": 1, "centre-tapped": 1, "doubler": 1}  # in the path of one conduction

# true / computed - 1, with diodes whose drop at twice the current of the load is known: ngspice, 60 random circuits of
# 1 to 60 W and 6 to 30 V with silicon diodes of 5 to 100 nA, n of 1.6 to 2.0 and 10 to 60 mV in their bodies, in
# tests/circuit/test_transformer_rail.py; at the worst -0.4 to +1.0 % of voltages and -1.1 to +2.2 % of currents.
ERROR: dict[str, Band] = {
    "most": (-0.006, 0.012),
    "least": (-0.006, 0.03),  # up to 2.5 % with a lossy capacitor, whose output recovers as soon as it is charged
    "mean": (-0.006, 0.012),
    "ripple": (-0.02, 0.015),
    "winding_rms": (-0.015, 0.01),
    "winding_peak": (-0.02, 0.025),
    "diode_peak": (-0.02, 0.025),
    "diode_rms": (-0.015, 0.01),
    "capacitor_rms": (-0.02, 0.015),
}


class Rectified(NamedTuple):
    """What a rectifier behind a transformer does. Volts, amperes; of a doubler the voltages are those of both together.

    winding_rms, winding_peak: of the secondary, of a centre-tapped one of each half; capacitor_rms: each capacitor
    capacitor_most: of one capacitor, half the output of a doubler about; reverse: greatest across each diode
    """

    most: float
    least: float
    mean: float
    ripple: float
    winding_rms: float
    winding_peak: float
    diode_average: float
    diode_rms: float
    diode_peak: float
    capacitor_rms: float
    capacitor_most: float
    reverse: float


def rectified(
    voltage: float,
    frequency: float,
    resistance: float,
    capacitance: float,
    current: float,
    drop: float,
    connection: str = "full bridge",
    body: float | None = None,
    series: float = 0.0,
) -> Rectified:
    """Periodic state of the rectifier of a mains transformer with a load of constant current.

    voltage: of the open secondary, of half of it where it is centre-tapped [V rms], 1 to 600
    frequency [Hz], 10 to 1000
    resistance: of both windings seen at the secondary (of that half) [ohm], 0.001 to 10000
    capacitance [F], 1e-7 to 1; of a doubler that of each
    current: of the load [A], 1e-6 to 100; drop: of each diode at twice that current [V], 0 to 2
    body: resistance of leads and body of each diode [ohm]; None: of one that suits the load, OHMIC at its current
    series: resistance in series with each capacitor [ohm], 0 to 100: the output lies below the capacitor by what the
        load drops in it. What charges flows through it as through the winding, and meets a capacitor so much lower
    returns: the state; raises: Collapse where the load is not carried, ValueError with the range outside it

    Source: own derivation, above.

    >>> round(rectified(11.25 * 0.9, 50.0, 3.37, 1e-3, 0.4, 0.89).least, 2)
    7.23
    """
    in_range("open-circuit voltage", voltage, 1.0, 600.0, "V")
    in_range("line frequency", frequency, 10.0, 1000.0, "Hz")
    in_range("winding resistance", resistance, 1e-3, 1e4, "ohm")
    in_range("capacitance", capacitance, 1e-7, 1.0, "F")
    in_range("load current", current, 1e-6, 100.0, "A")
    in_range("diode drop", drop, 0.0, 2.0, "V")
    crest = sqrt(2.0) * voltage
    in_range("series resistance of the capacitor", series, 0.0, 100.0, "ohm")
    diodes = _DIODES[connection]
    sagged = series * current  # of the output below the capacitor
    unit = 2.0 * pi * frequency * capacitance * crest
    period = 2.0 * pi if connection in ("half-wave", "doubler") else pi

    def settled(resistance: float, knee: float) -> _Arc:
        if diodes * knee >= 0.9 * crest:
            raise Collapse(f"the crest of {crest:.3g} V is hardly above what the diodes drop")
        rho = 2.0 * pi * frequency * (resistance + series) * capacitance
        return _Arc(rho, current / unit, (diodes * knee - sagged) / crest, period)

    amid = AMID * settled(resistance, drop).peak * unit
    ohms = OHMIC / current if body is None else body
    knee = max(drop + SLOPE * (log(amid / (2.0 * current)) - 1.0) - 2.0 * ohms * current, 0.0)
    arc = settled(resistance + diodes * (SLOPE / amid + ohms), knee)
    high, low, mean, peak = arc.high * crest, arc.low * crest - sagged, arc.mean * crest, arc.peak * unit
    if low <= 0.0:
        raise Collapse("the output falls to nothing between two crests: the load is not carried")
    rms = sqrt(arc.square / arc.period) * unit  # over the period in which each capacitor is fed once
    ripple_rms = sqrt(max(rms * rms - current * current, 0.0))  # what flows in, less the load, which is its mean
    fewer = sqrt(2.0)
    match connection:
        case "full bridge":
            reverse = high + drop
            winding, diode, average = rms, rms / fewer, 0.5 * current
        case "centre-tapped":
            reverse = crest + high
            winding, diode, average = rms / fewer, rms / fewer, 0.5 * current
        case "half-wave":
            reverse = crest + high
            winding, diode, average = rms, rms, current
        case _:
            reverse = crest + high
            winding, diode, average = fewer * rms, rms, current
    if connection != "doubler":
        return Rectified(high, low, mean, high - low, winding, peak, average, diode, peak, ripple_rms, high, reverse)
    least, most = (one * crest for one in arc.of_two())
    least -= 2.0 * sagged
    return Rectified(
        most, least, 2.0 * mean, most - least, winding, peak, average, diode, peak, ripple_rms, high, reverse
    )


# Nodes and weights of Gauss and Legendre of ten points on 0..1 (Abramowitz and Stegun 1964, table 25.4).
_GAUSS = tuple(
    (0.5 + sign * 0.5 * node, 0.5 * weight)
    for node, weight in (
        (0.1488743389816312, 0.2955242247147529),
        (0.4333953941292472, 0.2692667193099963),
        (0.6794095682990244, 0.2190863625159820),
        (0.8650633666889845, 0.1494513491505806),
        (0.9739065285171717, 0.0666713443086881),
    )
    for sign in (-1.0, 1.0)
)


class _Arc:
    """One conduction in the state that repeats itself. In crests of voltage, omega C crests of current, line phase."""

    __slots__ = ("begin", "d", "end", "high", "low", "mean", "peak", "period", "q", "rho", "square", "start")

    def __init__(self, rho: float, q: float, d: float, period: float) -> None:
        self.rho, self.q, self.d, self.period = rho, q, d, period
        self.begin = self._settled()
        self.start = self._exponential(self.begin)
        self.end = self._ended(self.begin)
        top = _falls(self._slope, self.begin, self.end)
        self.peak = self._current(top)
        last = cos(self.end) - d
        # the capacitor turns where what flows in is the load, rising and falling
        self.high = self._voltage(_falls(lambda x: self._current(x) - q, top, self.end))
        self.low = self._voltage(_falls(lambda x: q - self._current(x), self.begin, top))
        self.square = 0.0
        # behind the first few time constants of the exponential what is left is smooth
        parts = (self.begin, min(self.begin + 4.0 * rho, 0.5 * (self.begin + self.end)), self.end)
        area = 0.0
        for left, right in zip(parts, parts[1:], strict=False):
            for node, weight in _GAUSS:
                at = self._current(left + node * (right - left))
                self.square += weight * (right - left) * at * at
                area += weight * (right - left) * self._voltage(left + node * (right - left))
        rest = self.begin + period - self.end
        self.mean = (area + rest * (last - 0.5 * q * rest)) / period

    def _sinusoid(self, x: float) -> float:
        return (cos(x) + self.rho * sin(x)) / (1.0 + self.rho * self.rho)

    def _exponential(self, begin: float) -> float:
        """Amplitude of the exponential that starts with no current."""
        return cos(begin) - self._sinusoid(begin) + self.q * self.rho

    def _voltage(self, x: float) -> float:
        decayed = self.start * exp(-(x - self.begin) / self.rho)
        return self._sinusoid(x) - self.d - self.q * self.rho + decayed

    def _current(self, x: float) -> float:
        return (cos(x) - self.d - self._voltage(x)) / self.rho

    def _slope(self, x: float) -> float:
        """Of the current, times rho: -sin x - u', u' the current less the load."""
        return self.q - sin(x) - self._current(x)

    def _ended(self, begin: float) -> float:
        """Phase at which the current of a conduction from `begin` on has gone: behind the crest, where it flows yet."""
        self.begin, self.start = begin, self._exponential(begin)
        return _falls(self._current, 0.0, acos(self.d))

    def _gained(self, begin: float) -> float:
        """What a capacitor that is met at `begin` has gained when the next conduction would begin at the same phase."""
        end = self._ended(begin)
        return cos(end) - cos(begin) - self.q * (self.period + begin - end)

    def _settled(self) -> float:
        empty = -acos(self.d)  # phase at which an empty capacitor begins to be fed
        if self._gained(empty) <= 0.0:
            raise Collapse("the capacitor runs empty between two crests: the load is not carried")
        return _falls(lambda x: self._gained(x), empty, -1e-12)

    def _at(self, x: float) -> float:
        """Voltage of one capacitor at any phase."""
        x = self.begin + (x - self.begin) % self.period
        return self._voltage(x) if x <= self.end else cos(self.end) - self.d - self.q * (x - self.end)

    def of_two(self) -> tuple[float, float]:
        """Least and greatest of two such capacitors in series, half a period apart."""

        def both(x: float) -> float:
            return self._at(x) + self._at(x + pi)

        steps = 48
        width = (self.end - self.begin) / steps
        values = [both(self.begin + k * width) for k in range(steps + 1)]
        low = min(range(len(values)), key=values.__getitem__)
        high = max(range(len(values)), key=values.__getitem__)
        return _turn(values, low, -1.0), _turn(values, high, 1.0)


def _turn(values: list[float], k: int, sign: float) -> float:
    """Value of the parabola through three of them where it turns, at the ends the value itself."""
    if not 0 < k < len(values) - 1:
        return values[k]
    left, middle, right = values[k - 1], values[k], values[k + 1]
    bend = left - 2.0 * middle + right
    return middle if bend * sign >= 0.0 else middle - (right - left) ** 2 / (8.0 * bend)


def _falls(of: Callable[[float], float], low: float, high: float) -> float:
    """Where a function falls through zero between two points: false position with Illinois' correction."""
    y_low, y_high = of(low), of(high)
    if y_low <= 0.0:
        return low
    if y_high >= 0.0:
        return high
    x, side = low, 0
    for _ in range(100):
        x = low + (high - low) * y_low / (y_low - y_high)
        y = of(x)
        if y > 0.0:
            if side > 0:
                y_high *= 0.5
            low, y_low, side = x, y, 1
        else:
            if side < 0:
                y_low *= 0.5
            high, y_high, side = x, y, -1
        if y == 0.0 or high - low < 1e-14:
            break
    return x


# +1 rises, -1 falls, 0 no single sign; proved by tests/circuit/test_signs.py over the ranges below. A load of constant
# current meets a circuit that is linear but for the diodes: their drop lowers the voltages and leaves the currents.
_CURRENT: Signs = {"voltage": 1, "frequency": 0, "resistance": -1, "capacitance": 0, "current": 1, "series": -1}
# A crest may rise a little with the load where that widens the pulse and so lowers what the body of the diode drops.
_CREST: Signs = {
    "voltage": 1,
    "frequency": -1,
    "resistance": -1,
    "capacitance": -1,
    "current": 0,
    "drop": -1,
    "series": 0,
}
_SIGNS: dict[str, Signs] = {
    "most": _CREST,
    "least": {
        "voltage": 1,
        "frequency": 1,
        "resistance": -1,
        "capacitance": 1,
        "current": -1,
        "drop": -1,
        "series": -1,
    },
    "mean": {"voltage": 1, "frequency": 0, "resistance": -1, "capacitance": 0, "current": -1, "drop": -1, "series": 0},
    "ripple": {"voltage": 0, "frequency": -1, "resistance": -1, "capacitance": -1, "current": 1, "series": 0},
    "winding_rms": _CURRENT,
    "winding_peak": _CURRENT,
    "diode_average": {"current": 1},
    "diode_rms": _CURRENT,
    "diode_peak": _CURRENT,
    "capacitor_rms": _CURRENT,
    "capacitor_most": _CREST,
    "reverse": {**_CREST, "drop": 0},
}
_RANGES: Ranges = {
    "voltage": (8.0, 40.0),
    "frequency": (47.0, 63.0),
    "resistance": (0.5, 6.0),
    "capacitance": (470e-6, 4700e-6),
    "current": (0.01, 0.5),
    "drop": (0.6, 1.1),
    "series": (0.0, 0.3),
}


def _of(connection: str) -> Formula:
    def solve(**inputs: float) -> Rectified:
        return rectified(connection=connection, **inputs)

    signs = _SIGNS
    if connection == "doubler":  # the crest of one capacitor meets the other half way down
        signs = signs | {"most": {**_CREST, "frequency": 0, "capacitance": 0}}
    return Formula(solve, signs, _RANGES, ERROR)


STATES: dict[str, Formula] = {connection: _of(connection) for connection in CONNECTIONS}


class Unloaded(NamedTuple):
    """Next to nothing drawn [V]: the output, one capacitor, and what each diode blocks."""

    voltage: float
    capacitor: float
    reverse: float


def unloaded(voltage: float, drop: float, connection: str = "full bridge") -> Unloaded:
    """Voltages of a rectifier whose load draws next to nothing: each capacitor stands at the crest.

    voltage: of the open secondary, of half of it where it is centre-tapped [V rms], 1 to 600
    drop: of each diode at the current that still flows [V], 0 to 2

    The diodes of a bridge block the capacitor, all others twice the crest: the winding turned round adds to it.

    >>> tuple(round(one, 2) for one in unloaded(11.25 * 1.1, 0.5))
    (16.5, 16.5, 17.0)
    """
    in_range("open-circuit voltage", voltage, 1.0, 600.0, "V")
    in_range("diode drop", drop, 0.0, 2.0, "V")
    crest = sqrt(2.0) * voltage
    capacitor = max(crest - _DIODES[connection] * drop, 0.0)
    reverse = crest if connection == "full bridge" else 2.0 * crest
    return Unloaded(2.0 * capacitor if connection == "doubler" else capacitor, capacitor, reverse - drop)


def _unloaded(connection: str) -> Formula:
    return Formula(
        lambda **inputs: unloaded(connection=connection, **inputs),
        dict.fromkeys(("voltage", "capacitor", "reverse"), {"voltage": 1, "drop": -1}),
        {"voltage": (3.0, 60.0), "drop": (0.0, 0.8)},
    )


UNLOADED: dict[str, Formula] = {connection: _unloaded(connection) for connection in CONNECTIONS}


# The transformer: open-circuit voltage, resistance of both windings at the secondary, what it takes when switched on.


def open_voltage(stated: float, at: float, mains: float) -> float:
    """Open-circuit voltage of a secondary [V rms] at a mains voltage, from that at another: it follows the turns.

    The drop of the magnetising current in the primary, a hundredth or two of it, is in the stated figure too.

    >>> open_voltage(11.25, 230.0, 207.0)
    10.125
    """
    in_range("mains the open-circuit voltage was read at", at, 0.0, inf, "V", open_low=True)
    return stated * mains / at


OPEN = giving(
    "voltage",
    open_voltage,
    {"stated": 1, "at": -1, "mains": 1},
    {"stated": (3.0, 60.0), "at": (100.0, 240.0), "mains": (90.0, 264.0)},
)


COPPER_ZERO = 234.5  # K: copper would have no resistance this far below 0 degC


def seen_resistance(
    primary: float, secondary: float, open_circuit: float, mains: float, warm: float, at: float
) -> float:
    """Resistance of both windings seen at the secondary [ohm]: own + primary × (open-circuit / mains)², at its warmth.

    primary, secondary: read at the temperature `at` [degC] [ohm]; warm: of both windings [degC], -40 to 250
    open_circuit: voltage of the secondary at `mains` [V]

    >>> round(seen_resistance(700.0, 1.5, 11.25, 230.0, 20.0, 20.0), 3)
    3.175
    """
    in_range("temperature of the windings", warm, -40.0, 250.0, "degC")
    in_range("temperature the resistances were read at", at, -40.0, 250.0, "degC")
    return (secondary + primary * (open_circuit / mains) ** 2) * (COPPER_ZERO + warm) / (COPPER_ZERO + at)


SEEN = giving(
    "resistance",
    seen_resistance,
    {"primary": 1, "secondary": 1, "open_circuit": 1, "mains": -1, "warm": 1, "at": -1},
    {
        "primary": (5.0, 4000.0),
        "secondary": (0.05, 10.0),
        "open_circuit": (3.0, 60.0),
        "mains": (100.0, 240.0),
        "warm": (-10.0, 140.0),
        "at": (15.0, 35.0),
    },
)


def resistance_by_load(open_circuit: float, loaded: float, current: float) -> float:
    """Resistance of both windings seen at the secondary [ohm], as warm as it was: what the voltage falls by under load.

    open_circuit, loaded [V rms] at one mains, the load a resistor of `current` [A rms]

    >>> resistance_by_load(11.25, 9.0, 0.5)
    4.5
    """
    if not open_circuit > loaded:
        raise ValueError(
            f"loaded voltage is {loaded:g} V: state one below that of the open secondary, {open_circuit:g} V"
        )
    return (open_circuit - loaded) / current


BY_LOAD = giving(
    "resistance",
    resistance_by_load,
    {"open_circuit": 1, "loaded": -1, "current": -1},
    {"open_circuit": (10.0, 15.0), "loaded": (5.0, 9.9), "current": (0.05, 5.0)},
)


class Magnetised(NamedTuple):
    """peak [A] and I²t [A²s] of a switch-on, upper figures."""

    peak: float
    i2t: float


REMANENCE = 1.0  # share of the crest of flux that may be left in the core, in the unlucky sense; iron 0.6 to 0.9


def magnetising_inrush(mains: float, frequency: float, resistance: float, charged: float = 0.0) -> Magnetised:
    """Most that a transformer can draw from the mains as it is switched on, its capacitors empty.

    mains [V rms]; resistance: of the cold primary and all ahead of it [ohm]
    charged: capacitance behind the rectifiers seen at the primary, each by the square of its turns ratio [F]

    A saturated core leaves the resistance alone: i <= crest / R. Switched on at the zero of the voltage with remanence
    r, the flux wants to rise to (2 + r) times its crest; each volt-second that R i takes brings it down, until 1 + r
    crests of flux, (1 + r) crest / omega, are gone: integral of i = that over R. The capacitors take charged × crest
    besides. I²t <= crest / R × both. The iron's own inductance once saturated lowers it. Source: own derivation.

    >>> tuple(round(one, 6) for one in magnetising_inrush(253.0, 50.0, 700.0))
    (0.511137, 0.001663)
    """
    in_range("resistance", resistance, 0.0, inf, "ohm", open_low=True)
    in_range("line frequency", frequency, 10.0, 1000.0, "Hz")
    crest = sqrt(2.0) * mains
    peak = crest / resistance
    charge = (1.0 + REMANENCE) * peak / (2.0 * pi * frequency) + charged * crest
    return Magnetised(peak, peak * charge)


MAGNETISING = Formula(
    lambda **inputs: magnetising_inrush(**inputs),
    {"peak": {"mains": 1, "resistance": -1}, "i2t": {"mains": 1, "frequency": -1, "resistance": -1, "charged": 1}},
    {"mains": (90.0, 264.0), "frequency": (47.0, 63.0), "resistance": (5.0, 4000.0), "charged": (0.0, 1e-4)},
    {"peak": (-1.0, 0.0), "i2t": (-1.0, 0.0)},
)


def heated(resistance: float, at: float, warm: float) -> float:
    """Resistance of copper at another temperature [ohm]: read at `at`, wanted at `warm` [degC], -40 to 250.

    >>> round(heated(1.0, 20.0, 100.0), 3)
    1.314
    """
    in_range("temperature of the winding", warm, -40.0, 250.0, "degC")
    in_range("temperature the resistance was read at", at, -40.0, 250.0, "degC")
    return resistance * (COPPER_ZERO + warm) / (COPPER_ZERO + at)


HEATED = giving(
    "resistance",
    heated,
    {"resistance": 1, "at": -1, "warm": 1},
    {"resistance": (0.05, 4000.0), "at": (15.0, 35.0), "warm": (-20.0, 160.0)},
)


def seen_capacitance(capacitance: float, open_circuit: float, mains: float, pieces: float) -> float:
    """Capacitance behind a secondary seen at the primary [F]: pieces × C × (open-circuit / mains)².

    pieces: 1, of a doubler 2, for the mains charges each of them
    """
    return pieces * capacitance * (open_circuit / mains) ** 2


SEEN_CAPACITANCE = giving(
    "capacitance",
    seen_capacitance,
    {"capacitance": 1, "open_circuit": 1, "mains": -1, "pieces": 1},
    {"capacitance": (1e-4, 1e-2), "open_circuit": (3.0, 60.0), "mains": (100.0, 260.0), "pieces": (1.0, 2.0)},
)


def drawn(*names: str) -> Formula:
    """Mains current of a transformer [A rms], least and most: of its secondaries by their turns, and of its iron.

    Inputs: `idle` without load [A rms], `mains` [V], of each winding `current_NAME` [A rms] and `voltage_NAME`, its
    open-circuit voltage at that mains [V rms]. The charging pulses stand about the crest of the voltage, what
    magnetises the core a quarter of a period behind: least, the root of the sum of squares. Most, all of it together:
    the part of `idle` that heats the core is in phase.

    >>> {k: round(v, 4) for k, v in drawn("0").solve(idle=0.02, mains=230.0, current_0=0.6, voltage_0=11.25).items()}
    {'least': 0.0355, 'most': 0.0493}
    """

    def summed(**inputs: float) -> dict[str, float]:
        load = sum(inputs[f"current_{name}"] * inputs[f"voltage_{name}"] for name in names) / inputs["mains"]
        return {"least": sqrt(inputs["idle"] ** 2 + load**2), "most": inputs["idle"] + load}

    signs = {"idle": 1, "mains": -1}
    ranges = {"idle": (0.0, 0.1), "mains": (90.0, 260.0)}
    for name in names:
        signs |= {f"current_{name}": 1, f"voltage_{name}": 1}
        ranges |= {f"current_{name}": (0.0, 5.0), f"voltage_{name}": (3.0, 60.0)}
    band = dict.fromkeys(("least", "most"), (-0.02, 0.02))  # the stated open-circuit voltage holds the drop of the iron
    return Formula(summed, {"least": signs, "most": signs}, ranges, band)


def regulator_loss(voltage: float, output: float, current: float, own: float) -> float:
    """Loss of a linear regulator [W]: (input, mean - output) × load + input × its own current.

    >>> regulator_loss(12.0, 5.0, 1.0, 0.0)
    7.0
    """
    return max(voltage - output, 0.0) * current + voltage * own


LOSS = giving(
    "power",
    regulator_loss,
    {"voltage": 1, "output": -1, "current": 1, "own": 1},
    {"voltage": (9.0, 40.0), "output": (3.0, 8.0), "current": (0.01, 2.0), "own": (0.0, 0.02)},
)


def first_crest(voltage: float, resistance: float) -> float:
    """Greatest current into an empty capacitor, switched on at the crest [A]: that of a short behind the diodes.

    >>> round(first_crest(11.25, 3.37), 2)
    4.72
    """
    in_range("winding resistance", resistance, 0.0, inf, "ohm", open_low=True)
    return sqrt(2.0) * voltage / resistance


# down to half: two diodes drop up to 2 V of 6 V, and the capacitor fills while the crest lasts
FIRST_CREST = giving(
    "peak",
    first_crest,
    {"voltage": 1, "resistance": -1},
    {"voltage": (3.0, 60.0), "resistance": (0.05, 50.0)},
    (-0.6, 0.0),
)


class Shorted(NamedTuple):
    """A secondary shorted behind its rectifier: current in the winding [A rms] and heat in both windings [W]."""

    current: float
    power: float


def shorted_secondary(voltage: float, resistance: float) -> Shorted:
    """A short behind the rectifier, the diodes' drop left out: voltage / R, voltage² / R in the windings.

    >>> shorted_secondary(11.25, 3.75)
    Shorted(current=3.0, power=33.75)
    """
    in_range("winding resistance", resistance, 0.0, inf, "ohm", open_low=True)
    return Shorted(voltage / resistance, voltage * voltage / resistance)


SHORTED = Formula(
    lambda **inputs: shorted_secondary(**inputs),
    {"current": {"voltage": 1, "resistance": -1}, "power": {"voltage": 1, "resistance": -1}},
    {"voltage": (3.0, 60.0), "resistance": (0.05, 50.0)},
    # two diodes take up to 2 V of 6 V; leakage inductance as much as the resistance of small split bobbins
    {"current": (-0.5, 0.0), "power": (-0.75, 0.0)},
)


LIMITED = product("power", "voltage", "limit")


# A battery right behind the rectifier: no capacitor, the battery holds its voltage.


class Charged(NamedTuple):
    """Current into the battery: average, rms, greatest [A]; rms of the winding, of a centre tap of each half; average
    of each diode."""

    average: float
    rms: float
    peak: float
    winding_rms: float
    diode_average: float


def charging(
    voltage: float, battery: float, resistance: float, drop: float, connection: str = "full bridge"
) -> Charged:
    """Current of a transformer with a rectifier into a battery that holds its voltage.

    voltage: of the open secondary [V rms], 1 to 600; battery [V]; resistance: windings, leads and battery [ohm]
    drop: of each diode [V]. Nothing flows where the crest does not reach the battery.

    i = (crest cos x - V) / R while positive, V the battery and the drops: with cos a = V / crest the mean over half a
    period is 2 (crest sin a - V a) / (pi R). Source: own derivation.

    >>> round(charging(15.0, 13.8, 1.0, 0.9).average, 3)
    1.757
    """
    in_range("open-circuit voltage", voltage, 1.0, 600.0, "V")
    in_range("resistance", resistance, 1e-3, 1e4, "ohm")
    if connection not in ("full bridge", "half-wave", "centre-tapped"):
        raise ValueError(f"a {connection} does not charge a battery directly: put its capacitors on the path")
    crest = sqrt(2.0) * voltage
    level = battery + _DIODES[connection] * drop
    if level >= crest:
        return Charged(0.0, 0.0, 0.0, 0.0, 0.0)
    angle = acos(max(level / crest, -1.0))
    period = 2.0 * pi if connection == "half-wave" else pi
    mean = 2.0 * (crest * sin(angle) - level * angle) / (period * resistance)
    square = crest * crest * (angle + 0.5 * sin(2.0 * angle)) - 4.0 * crest * level * sin(angle)
    square += 2.0 * level * level * angle
    rms = sqrt(max(square, 0.0) / period) / resistance
    winding = rms / sqrt(2.0) if connection == "centre-tapped" else rms
    diode = mean if connection == "half-wave" else 0.5 * mean
    return Charged(mean, rms, (crest - level) / resistance, winding, diode)


_OF_CHARGING = ("average", "rms", "peak", "winding_rms", "diode_average")
_CHARGING: Signs = {"voltage": 1, "battery": -1, "resistance": -1, "drop": -1}


def _charging(connection: str) -> Formula:
    return Formula(
        lambda **inputs: charging(connection=connection, **inputs),
        dict.fromkeys(_OF_CHARGING, _CHARGING),
        {"voltage": (8.0, 20.0), "battery": (0.0, 9.0), "resistance": (0.2, 10.0), "drop": (0.5, 1.1)},
        dict.fromkeys(_OF_CHARGING, (-0.1, 0.04)),
    )


CHARGING: dict[str, Formula] = {one: _charging(one) for one in CONNECTIONS if one != "doubler"}
