"""Linear lamp drivers: a chip that holds a constant current through LEDs, straight from the rectified mains.

Contents: `Held`, `held_off_the_mains`, `OFF_THE_MAINS`, `held_off_a_bulk`, `OFF_A_BULK`.

What the mains stands above the string is heat in the chip: nothing else takes it. Without a bulk capacitor the current
flows while the rectified sine lies above the string, and is the same throughout. Own derivation, closed form.
"""

from __future__ import annotations

from math import asin, cos, pi, sqrt
from typing import NamedTuple

from derate.circuit.numerics import in_range
from derate.terms.values import Collapse, Formula, giving


class Held(NamedTuple):
    """What flows and what is lost, over a half cycle.

    power: mean loss of the chip [W]; average: mean current of the LEDs [A]; rms: of the current [A]
    """

    power: float
    average: float
    rms: float


def held_off_the_mains(*, mains: float, string: float, current: float) -> Held:
    """A constant current through a string, while the rectified mains stands above it.

    mains [V rms], 10 to 500; string [V], 0 (all LEDs shorted) to 700; current [A], 1e-4 to 2. Raises Collapse where the
    crest does not reach the string.

    From a = asin(string / crest): it flows for pi - 2 a of every pi, and the chip takes
    current (2 crest cos(a) - string (pi - 2 a)) / pi.

    >>> found = held_off_the_mains(mains=230.0, string=0.0, current=0.02)
    >>> round(found.power, 2), round(found.average, 3)
    (4.14, 0.02)
    >>> round(held_off_the_mains(mains=230.0, string=260.0, current=0.02).power, 3)
    0.355
    """
    crest = _crest(mains, string, current)
    start = asin(string / crest)
    share = (pi - 2.0 * start) / pi
    power = current * (2.0 * crest * cos(start) / pi - string * share)
    return Held(power, current * share, current * sqrt(share))


def _crest(mains: float, string: float, current: float) -> float:
    in_range("mains voltage", mains, 10.0, 500.0, "V")
    in_range("voltage of the LEDs", string, 0.0, 700.0, "V")
    in_range("current of the LEDs", current, 1e-4, 2.0, "A")
    crest = sqrt(2.0) * mains
    if string >= crest:
        raise Collapse(f"LEDs of {string:.4g} V lie above the crest of {crest:.4g} V: the lamp stays dark")
    return crest


def held_off_a_bulk(*, bulk: float, string: float, current: float) -> float:
    """Loss of the chip behind a bulk capacitor [W]: (bulk - string) × current, nothing where the string is higher.

    >>> held_off_a_bulk(bulk=350.0, string=250.0, current=0.04)
    4.0
    """
    in_range("bulk voltage", bulk, 0.0, 1000.0, "V")
    in_range("voltage of the LEDs", string, 0.0, 700.0, "V")
    in_range("current of the LEDs", current, 1e-4, 2.0, "A")
    return max(0.0, bulk - string) * current


_RANGES = {"mains": (200.0, 264.0), "string": (50.0, 250.0), "current": (0.005, 0.1)}
OFF_THE_MAINS = Formula(
    lambda **inputs: held_off_the_mains(**inputs),
    {
        "power": {"mains": 1, "string": -1, "current": 1},
        "average": {"mains": 1, "string": -1, "current": 1},
        "rms": {"mains": 1, "string": -1, "current": 1},
    },
    _RANGES,
)
OFF_A_BULK = giving(
    "power",
    held_off_a_bulk,
    {"bulk": 1, "string": -1, "current": 1},
    {"bulk": (260.0, 400.0), "string": (50.0, 250.0), "current": (0.005, 0.1)},
)
