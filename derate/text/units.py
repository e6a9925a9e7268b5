"""The closed table of units, and numbers written back as engineering text.

Every spelling is listed: a prefix exists only where the trade uses it (no megametre, no kilohenry), and `m` and `M`
stay apart. `Vac` and `Vrms` are one thing, `Vdc`, `Vpk` and `Vpp` each their own: a unit carries its statistic.
There is no `mA²s`: read by the rules of the SI it is (mA)²s, a thousand times less than most who write it mean.
"""

from __future__ import annotations

from math import floor, inf, log10

from derate.terms.dimension import (
    AREA,
    CAPACITANCE,
    CELSIUS,
    CHARGE,
    CURRENT,
    CURRENT_DENSITY,
    DISSIPATION,
    ENERGY,
    FLUX_DENSITY,
    FREQUENCY,
    I2T,
    INDUCTANCE,
    KELVIN,
    LENGTH,
    NUMBER,
    PER_KELVIN,
    POWER,
    RESISTANCE,
    THERMAL_RESISTANCE,
    TIME,
    VOLTAGE,
    VOLTAGE_PER_KELVIN,
    VOLTAGE_SLOPE,
    Dimension,
)
from derate.terms.tuples import NamedTuple
from derate.terms.values import Place, Problem, ReadingError, Value
from derate.terms.words import EVIDENCE

# The pieces that one line of text is made of.
WRITTEN_EVIDENCE = tuple(word for word in EVIDENCE if word != "computed")  # "computed" is what the tool itself does
NUM = r"[+-]?[0-9]+(?:\.[0-9]+)?(?:e[+-]?[0-9]{1,4})?"
UNIT = r"[A-Za-zµμΩ\u2126°%][A-Za-zµμΩ\u2126°²2^/]*"
LETTERS = {
    RESISTANCE: {"R": 0, "k": 3, "M": 6, "G": 9},
    CAPACITANCE: {"p": -12, "n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3},
    INDUCTANCE: {"n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3},
}


class Fault(Exception):
    """What is wrong with a text at an offset inside it; never leaves this folder."""

    def __init__(self, offset: int, what: str, instead: str = "") -> None:
        super().__init__(what)
        self.offset, self.what, self.instead = offset, what, instead

    def at(self, place: Place, text: str) -> ReadingError:
        """The error for the user; the place never lies behind the last character."""
        offset = max(0, min(self.offset, len(text) - 1))
        return ReadingError([Problem(Place(place.path, place.line, place.column + offset), self.what, self.instead)])


class Unit(NamedTuple):
    """One spelling of a unit: `number` + `power` read as a float is SI, times `factor` (minutes, hours) where not 1."""

    spelling: str
    dimension: Dimension
    power: str
    factor: float
    statistic: str

    def value(self, number: str) -> float:
        """The SI value of a decimal number in this unit; correctly rounded where the unit is a power of ten."""
        if "e" in number:
            mantissa, _, exponent = number.partition("e")
            number, power = mantissa, f"e{int(exponent) + int(self.power[1:] or 0)}"
        else:
            power = self.power
        value = float(number + power)
        return value * self.factor if self.factor != 1.0 else value


_POWER = {"p": -12, "n": -9, "u": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9}
_STATISTICS = {"": "", "ac": "rms", "rms": "rms", "dc": "dc", "pk": "peak", "pp": "peak to peak"}
# dimension: (unit, prefixes allowed)
_PREFIXED: tuple[tuple[Dimension, str, str], ...] = (
    (POWER, "W", "um k"),
    (RESISTANCE, "ohm", "m kMG"),
    (CAPACITANCE, "F", "pnum "),
    (INDUCTANCE, "H", "num "),
    (TIME, "s", "num "),
    (FREQUENCY, "Hz", " kM"),
    (ENERGY, "J", "um "),
    (CHARGE, "C", "num"),
    (LENGTH, "m", "um "),
    (FLUX_DENSITY, "T", "m "),
)
# (dimension, spelling, power of ten)
_WRITTEN_OUT: tuple[tuple[Dimension, str, int], ...] = (
    (LENGTH, "cm", -2),
    (AREA, "mm²", -6),
    (AREA, "cm²", -4),
    (I2T, "A²s", 0),
    (KELVIN, "K", 0),
    (CELSIUS, "degC", 0),
    (CELSIUS, "°C", 0),
    (THERMAL_RESISTANCE, "K/W", 0),
    (THERMAL_RESISTANCE, "degC/W", 0),
    (THERMAL_RESISTANCE, "°C/W", 0),
    (DISSIPATION, "W/K", 0),
    (DISSIPATION, "mW/K", -3),
    (DISSIPATION, "mW/degC", -3),
    (DISSIPATION, "mW/°C", -3),
    (VOLTAGE_SLOPE, "V/s", 0),
    (VOLTAGE_SLOPE, "V/ms", 3),
    (VOLTAGE_SLOPE, "V/us", 6),
    (VOLTAGE_SLOPE, "V/ns", 9),
    (VOLTAGE_SLOPE, "kV/us", 9),
    (CURRENT_DENSITY, "A/mm²", 6),
    (NUMBER, "%", -2),
    (PER_KELVIN, "ppm/K", -6),
    (PER_KELVIN, "ppm/degC", -6),
    (PER_KELVIN, "ppm/°C", -6),
    (PER_KELVIN, "%/K", -2),
    (PER_KELVIN, "%/degC", -2),
    (PER_KELVIN, "%/°C", -2),
    (VOLTAGE_PER_KELVIN, "mV/K", -3),
    (VOLTAGE_PER_KELVIN, "mV/degC", -3),
    (VOLTAGE_PER_KELVIN, "mV/°C", -3),
)
COUNTS = ("turn", "turns", "layer", "layers", "line", "lines", "strand", "strands", "pulse", "pulses")


def _table() -> dict[str, Unit]:
    table: dict[str, Unit] = {}

    def add(dimension: Dimension, spelling: str, power: int, statistic: str = "", factor: float = 1.0) -> None:
        spellings = [spelling]
        # both code points of micro, both of ohm, three ways to type a square
        if spelling[0] == "u" or "/u" in spelling:
            spellings += [spelling.replace("u", "µ", 1), spelling.replace("u", "μ", 1)]
        if spelling.endswith("ohm"):
            spellings += [spelling.replace("ohm", "Ω"), spelling.replace("ohm", "\u2126")]
        if "²" in spelling:
            spellings += [spelling.replace("²", "2"), spelling.replace("²", "^2")]
        for one in spellings:
            table[one] = Unit(one, dimension, f"e{power}" if power else "", factor, statistic)

    for dimension, unit, prefixes in _PREFIXED:
        for prefix in prefixes:
            add(dimension, prefix.strip() + unit, _POWER[prefix.strip()])
    for dimension, unit, prefixes in ((VOLTAGE, "V", "um k"), (CURRENT, "A", "um k")):
        for prefix in prefixes:
            for ending, statistic in _STATISTICS.items():
                add(dimension, prefix.strip() + unit + ending, _POWER[prefix.strip()], statistic)
    for dimension, spelling, power in _WRITTEN_OUT:
        add(dimension, spelling, power)
    for spelling, seconds in (("min", 60.0), ("h", 3600.0)):
        add(TIME, spelling, 0, factor=seconds)
    for word in COUNTS:
        add(NUMBER, word, 0)
    return table


UNITS: dict[str, Unit] = _table()

# For each dimension: (least size for which it is used, size of the unit, spelling), largest first. 0.31 A stays in
# amperes and 2200 uF in microfarads because that is how the trade writes them.
_SHOWN: dict[Dimension, tuple[tuple[float, float, str], ...]] = {
    VOLTAGE: ((1e4, 1e3, "kV"), (0.1, 1.0, "V"), (1e-4, 1e-3, "mV"), (0.0, 1e-6, "uV")),
    CURRENT: ((0.1, 1.0, "A"), (1e-4, 1e-3, "mA"), (0.0, 1e-6, "uA")),
    POWER: ((0.1, 1.0, "W"), (1e-4, 1e-3, "mW"), (0.0, 1e-6, "uW")),
    RESISTANCE: ((1e6, 1e6, "Mohm"), (1e3, 1e3, "kohm"), (0.1, 1.0, "ohm"), (0.0, 1e-3, "mohm")),
    CAPACITANCE: ((1e-6, 1e-6, "uF"), (1e-9, 1e-9, "nF"), (0.0, 1e-12, "pF")),
    INDUCTANCE: ((1.0, 1.0, "H"), (1e-3, 1e-3, "mH"), (1e-6, 1e-6, "uH"), (0.0, 1e-9, "nH")),
    TIME: ((1e4, 3600.0, "h"), (0.1, 1.0, "s"), (1e-3, 1e-3, "ms"), (1e-6, 1e-6, "us"), (0.0, 1e-9, "ns")),
    FREQUENCY: ((1e6, 1e6, "MHz"), (1e3, 1e3, "kHz"), (0.0, 1.0, "Hz")),
    ENERGY: ((0.1, 1.0, "J"), (1e-4, 1e-3, "mJ"), (0.0, 1e-6, "uJ")),
    CHARGE: ((1e-3, 1e-3, "mC"), (1e-6, 1e-6, "uC"), (0.0, 1e-9, "nC")),
    LENGTH: ((1.0, 1.0, "m"), (1e-4, 1e-3, "mm"), (0.0, 1e-6, "um")),
    AREA: ((0.0, 1e-6, "mm²"),),
    FLUX_DENSITY: ((10.0, 1.0, "T"), (0.0, 1e-3, "mT")),
    VOLTAGE_SLOPE: ((1e4, 1e6, "V/us"), (0.0, 1.0, "V/s")),
    CURRENT_DENSITY: ((0.0, 1e6, "A/mm²"),),
    DISSIPATION: ((0.0, 1e-3, "mW/K"),),
    PER_KELVIN: ((0.0, 1e-6, "ppm/K"),),
    VOLTAGE_PER_KELVIN: ((0.0, 1e-3, "mV/K"),),
}


_USUAL = {
    LENGTH: "mm",
    AREA: "mm²",
    CAPACITANCE: "uF",
    INDUCTANCE: "uH",
    FLUX_DENSITY: "mT",
    CURRENT_DENSITY: "A/mm²",
    VOLTAGE_SLOPE: "V/us",
    DISSIPATION: "mW/K",
    PER_KELVIN: "ppm/K",
    VOLTAGE_PER_KELVIN: "mV/K",
}


def usual_unit(dimension: Dimension) -> str:
    """The unit in which the trade mostly writes a dimension: `mm` for lengths; '' for plain numbers."""
    return _USUAL.get(dimension, dimension.symbol)


def shown_spellings(dimension: Dimension) -> tuple[str, ...]:
    """The units in which numbers of a dimension are written, the largest first; none where only its symbol is."""
    return tuple(spelling for _, _, spelling in _SHOWN.get(dimension, ()))


def _unit_for(size: float, dimension: Dimension) -> tuple[float, str]:
    """The size [SI] and spelling of the unit in which a number of this size is written."""
    shown = _SHOWN.get(dimension)
    if shown is None:
        return 1.0, dimension.symbol
    if size == 0.0:
        return 1.0, usual_unit(dimension)
    for least, scale, spelling in shown:
        if size >= least * (1 - 1e-12):
            return scale, spelling
    return shown[-1][1], shown[-1][2]


def digits_of(number: float, digits: int = 3) -> str:
    """A number with so many significant digits and no trailing zeros; an exponent only beyond 1e-12 to 1e12."""
    if number == 0.0:
        return "0"
    size = abs(number)
    if not 1e-12 <= size < 1e12:
        mantissa, _, exponent = f"{number:.{digits - 1}e}".partition("e")
        if "." in mantissa:
            mantissa = mantissa.rstrip("0").rstrip(".")
        return f"{mantissa}e{int(exponent)}"
    decimals = digits - 1 - floor(log10(size))
    text = f"{round(number, decimals):.{max(decimals, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def show(value: float, dimension: Dimension, digits: int = 3) -> str:
    """An SI number as engineering text: `0.31 A`, `22 uF`, `373 V`, `6.1 mm`, `71 degC`; infinity in words."""
    if value == inf:
        return "no upper limit"
    if value == -inf:
        return "no lower limit"
    scale, unit = _unit_for(abs(value), dimension)
    number = digits_of(value / scale, digits)
    if dimension.exponents[4] < 0 and value > 0.0 and dimension in (PER_KELVIN, VOLTAGE_PER_KELVIN):
        number = f"+{number}"  # as it is asked for
    return f"{number} {unit}" if unit else number


def _show_pair(one: float, other: float, dimension: Dimension, digits: int) -> str:
    """`6.1 to 6.4 mm`: the unit once when both ends are written in the same one."""
    first, second = show(one, dimension, digits), show(other, dimension, digits)
    if first == second:
        return first
    number, _, unit = first.partition(" ")
    if one == 0.0 or (unit and second.endswith(" " + unit)):
        return f"{number} to {second}"
    return f"{first} to {second}"


def show_value(value: Value, dimension: Dimension, digits: int = 3) -> str:
    """Four numbers as text: `373 V`, `6.1 to 6.4 mm`, `at least 264 V`, `26.4 uF to 39.6 uF (33 uF)`."""
    low, near, far, high = value.numbers()
    if low == -inf or high == inf:
        if low == -inf and high == inf:
            return "anything"
        if low == inf or high == -inf:
            return "without bound"
        if high == inf:
            return f"at least {show(low, dimension, digits)}"
        return f"at most {show(high, dimension, digits)}"
    if low == near and far == high:
        if near == 0.0 and far > 0.0:
            return f"at most {show(far, dimension, digits)}"
        return _show_pair(near, far, dimension, digits)
    inner = _show_pair(near, far, dimension, digits)
    return f"{show(low, dimension, digits)} to {show(high, dimension, digits)} ({inner})"
