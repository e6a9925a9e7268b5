"""Dimensions, what can be compared with what; and one name of the vocabulary."""

from __future__ import annotations

from derate.terms.frozen import frozen
from derate.terms.instructions import NO_INSTRUCTION, Instruction
from derate.terms.tuples import NamedTuple

# Dimensions: what can be compared with what.
#
# A dimension is the exponents of metre, kilogram, second, ampere and kelvin. A temperature as a point on the Celsius
# scale (`degC`) is a dimension of its own, apart from a temperature difference (`K`): a product or a sum of points
# means nothing and is refused.


class DimensionError(ValueError):
    """Two dimensions that cannot be combined the way a formula asks."""


@frozen
class Dimension:
    """Exponents of (m, kg, s, A, K); `point` marks a temperature as a point on the Celsius scale."""

    exponents: tuple[int, int, int, int, int] = (0, 0, 0, 0, 0)
    point: bool = False

    def __mul__(self, other: Dimension) -> Dimension:
        return self._joined(other, 1)

    def __truediv__(self, other: Dimension) -> Dimension:
        return self._joined(other, -1)

    def _joined(self, other: Dimension, sign: int) -> Dimension:
        if (self.point and other != NUMBER) or (other.point and self != NUMBER) or self.point or other.point:
            raise DimensionError("a temperature in degC is a point on a scale: it cannot be multiplied or divided")
        a, b = self.exponents, other.exponents
        return Dimension(
            (a[0] + sign * b[0], a[1] + sign * b[1], a[2] + sign * b[2], a[3] + sign * b[3], a[4] + sign * b[4])
        )

    def plus(self, other: Dimension, minus: bool = False) -> Dimension:
        """Dimension of a sum or difference: like with like; a point takes a difference in kelvin."""
        if self.point and other == KELVIN:
            return self
        if self.point and other.point and minus:
            return KELVIN
        if self == KELVIN and other.point and not minus:
            return other
        if self.point and other.point:
            raise DimensionError("two temperatures in degC cannot be added; add a difference in K")
        if self != other:
            raise DimensionError(f"{self} and {other} cannot be added or compared")
        return self

    @property
    def symbol(self) -> str:
        """The SI unit in which floats of this dimension are held; empty for a plain number."""
        known = _SYMBOL.get(self)
        if known is not None:
            return known
        parts = [
            name + ("" if power == 1 else _raised(power))
            for name, power in zip(("m", "kg", "s", "A", "K"), self.exponents, strict=True)
            if power
        ]
        return "·".join(parts)

    def __str__(self) -> str:
        return _NAME.get(self) or (self.symbol or "a plain number")


def _raised(power: int) -> str:
    return "".join("⁻⁰¹²³⁴⁵⁶⁷⁸⁹"["-0123456789".index(digit)] for digit in str(power))


def _of(m: int = 0, kg: int = 0, s: int = 0, a: int = 0, k: int = 0) -> Dimension:
    return Dimension((m, kg, s, a, k))


NUMBER = _of()
LENGTH = _of(m=1)
AREA = _of(m=2)
TIME = _of(s=1)
FREQUENCY = _of(s=-1)
CURRENT = _of(a=1)
KELVIN = _of(k=1)
CELSIUS = Dimension(point=True)
VOLTAGE = _of(m=2, kg=1, s=-3, a=-1)
RESISTANCE = _of(m=2, kg=1, s=-3, a=-2)
POWER = _of(m=2, kg=1, s=-3)
ENERGY = _of(m=2, kg=1, s=-2)
CAPACITANCE = _of(m=-2, kg=-1, s=4, a=2)
INDUCTANCE = _of(m=2, kg=1, s=-2, a=-2)
I2T = _of(s=1, a=2)
CHARGE = _of(s=1, a=1)
THERMAL_RESISTANCE = KELVIN / POWER
DISSIPATION = POWER / KELVIN
FLUX_DENSITY = _of(kg=1, s=-2, a=-1)
CURRENT_DENSITY = _of(m=-2, a=1)
VOLTAGE_SLOPE = VOLTAGE / TIME
PER_KELVIN = NUMBER / KELVIN
VOLTAGE_PER_KELVIN = VOLTAGE / KELVIN

_NAME = {
    NUMBER: "a plain number",
    LENGTH: "a length",
    AREA: "an area",
    TIME: "a time",
    FREQUENCY: "a frequency",
    CURRENT: "a current",
    KELVIN: "a temperature difference",
    CELSIUS: "a temperature",
    VOLTAGE: "a voltage",
    RESISTANCE: "a resistance",
    POWER: "a power",
    ENERGY: "an energy",
    CAPACITANCE: "a capacitance",
    INDUCTANCE: "an inductance",
    I2T: "an I²t",
    CHARGE: "a charge",
    THERMAL_RESISTANCE: "a thermal resistance",
    DISSIPATION: "a dissipation factor",
    FLUX_DENSITY: "a flux density",
    CURRENT_DENSITY: "a current density",
    VOLTAGE_SLOPE: "a voltage slope",
    PER_KELVIN: "a share for each kelvin",
    VOLTAGE_PER_KELVIN: "a voltage for each kelvin",
}
_SYMBOL = {
    NUMBER: "",
    LENGTH: "m",
    AREA: "m²",
    TIME: "s",
    FREQUENCY: "Hz",
    CURRENT: "A",
    KELVIN: "K",
    CELSIUS: "degC",
    VOLTAGE: "V",
    RESISTANCE: "ohm",
    POWER: "W",
    ENERGY: "J",
    CAPACITANCE: "F",
    INDUCTANCE: "H",
    I2T: "A²s",
    CHARGE: "C",
    THERMAL_RESISTANCE: "K/W",
    DISSIPATION: "W/K",
    FLUX_DENSITY: "T",
    CURRENT_DENSITY: "A/m²",
    VOLTAGE_SLOPE: "V/s",
    PER_KELVIN: "1/K",
    VOLTAGE_PER_KELVIN: "V/K",
}


# One name of the vocabulary, and the little that its tables share.


class Term(NamedTuple):
    """One name of the vocabulary.

    dimension: None for words
    says: what it is, in a few words a colleague would use
    over: dimension of the condition when the fact may be a table, None otherwise
    words: the words to choose from, for a term without dimension; empty when free
    bad: +1 where more is worse, -1 where less is worse, 0 where neither holds by itself
    how: how a person gets it at the bench or from papers
    """

    name: str
    dimension: Dimension | None
    says: str
    over: Dimension | None = None
    words: tuple[str, ...] = ()
    bad: int = 0
    how: Instruction = NO_INSTRUCTION


YES_NO = ("yes", "no")
CLASSES = ("X1", "X2", "Y1", "Y2", "unmarked")


def terms(*rows: Term) -> dict[str, Term]:
    """The table of these terms, by name."""
    return {row.name: row for row in rows}
