"""Winding wire as insulation: thickness from two diameters, lacquer of enamelled wire, fully insulated wire.

Enamel is functional insulation only, whatever it breaks down at. Triple-insulated wire cures the creepage inside the
winding only: pins, core and board keep their distances.
"""

from __future__ import annotations

from fractions import Fraction

from derate.required.exact import micrometres
from derate.terms.values import Category

# Fully insulated wire: least breakdown voltage per micrometre of diameter increase at room temperature, by nominal
# conductor up to and including [um]. Source: IEC 60317-56 / 60317-0-7 as one wire maker prints it, 2025.
_VOLTS_PER_MICROMETRE = ((100, 81), (355, 76), (500, 70), (1000, 53), (1600, 47))


def possible_wires(word: str) -> Category:
    """What a wire of this word may be: insulated wire that nobody named may be triple-insulated or not."""
    return Category.of("insulated", "triple-insulated") if word == "insulated" else Category.of(word)


def insulation_thickness(bare: float, outside: float) -> int:
    """Insulation on one side of a wire [um] from its bare and outside diameter [m]: half the difference, rounded down.

    Raises ValueError where the outside is not above the bare diameter.

    >>> insulation_thickness(0.52e-3, 0.72e-3)
    100
    """
    difference = micrometres(outside) - micrometres(bare)
    if difference <= 0 or bare <= 0:
        raise ValueError("the outside diameter has to be above the bare one")
    return int(difference / 2)


def fully_insulated_breakdown(conductor: float, increase: float) -> int:
    """Least breakdown voltage [V rms] of fully insulated wire: conductor, and increase in diameter by insulation [m].

    Range: conductors up to 1.6 mm. Raises ValueError outside.

    >>> fully_insulated_breakdown(0.30e-3, 132e-6)
    10032
    """
    nominal = micrometres(conductor)
    for top, volts in _VOLTS_PER_MICROMETRE:
        if 0 < nominal <= top:
            return int(micrometres(increase) * volts)
    raise ValueError(f"a conductor of {float(nominal):g} um: state one above 0, at most 1600 um")


def margin_each_side(creepage: int) -> int:
    """Margin at each end of the winding [um] that makes up a creepage [um]: half, since the path crosses it twice.

    >>> margin_each_side(6000)
    3000
    """
    return -int(-Fraction(creepage, 2) // 1)


def over_a_groove(flat: int, width: int, depth: int, least_width: int) -> int:
    """Creepage [um] over a groove: down, across and up where it is wide enough, straight across where it is not."""
    return flat + 2 * depth if width >= least_width else flat
