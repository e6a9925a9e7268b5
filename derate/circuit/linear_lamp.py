"""Linear lamp drivers: a chip that holds a constant current through LEDs, straight from the rectified mains.

Contents: `Held`, `held_off_the_mains`, `off_the_mains`, `OFF_THE_MAINS`, `CHARGING_ONE`, `held_off_a_bulk`,
`held_between`, `OFF_A_BULK`, `drawn_off_a_bulk`, `DRAWN_OFF_A_BULK`.

What the mains stands above the string is heat in the chip: nothing else takes it. Without a bulk capacitor the current
flows while the rectified sine lies above the string, and is the same throughout. Own derivation, closed form.
"""

from __future__ import annotations

from math import asin, cos, pi, sin, sqrt
from typing import NamedTuple

from derate.circuit.numerics import in_range
from derate.terms.values import Collapse, Formula, giving


class Held(NamedTuple):
    """What flows and what is lost, over a half cycle.

    power: mean loss of the chip [W]; average: mean current of the LEDs [A]; rms, peak: of the current of the line [A]
    """

    power: float
    average: float
    rms: float
    peak: float


def held_off_the_mains(
    *, mains: float, string: float, current: float, lost: float = 0.0, frequency: float = 50.0, capacitance: float = 0.0
) -> Held:
    """A constant current through a string, while the rectified mains stands above it.

    mains [V rms], 10 to 500; string [V], 0 (all LEDs shorted) to 700; current [A], 1e-4 to 2; lost: in diodes and
    resistors [V], with which all is 0 once it leaves nothing of the crest; frequency [Hz]; capacitance behind the
    rectifier [F]. Raises Collapse where the crest does not reach the string, and where the
    current no longer discharges the capacitance as fast as the mains falls: the rail then stands above the mains.

    From a = asin(string / crest): it flows for pi - 2 a of every pi, and the chip takes
    current (2 crest cos(a) - string (pi - 2 a)) / pi. A capacitance that follows the mains ends each half cycle at the
    string and starts there: it adds omega C crest cos(angle) to the line, at most at a, and nothing to the mean.

    >>> found = held_off_the_mains(mains=230.0, string=0.0, current=0.02)
    >>> round(found.power, 2), round(found.average, 3)
    (4.14, 0.02)
    >>> round(held_off_the_mains(mains=230.0, string=260.0, current=0.02).power, 3)
    0.355
    """
    crest = _crest(mains, string, current)
    string += lost
    if string >= crest:
        return Held(0.0, 0.0, 0.0, 0.0)
    start = asin(string / crest)
    share = (pi - 2.0 * start) / pi
    power = current * (2.0 * crest * cos(start) / pi - string * share)
    charge = 2.0 * pi * frequency * capacitance * crest
    if charge * cos(start) > current:
        raise Collapse(f"{capacitance:.4g} F behind the rectifier keeps the rail above the mains as that falls")
    squares = current**2 * share + charge**2 * (share - sin(2.0 * start) / pi) / 2.0
    return Held(power, current * share, sqrt(squares), current + charge * cos(start))


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


def held_between(*, valley: float, rise: float, crest: float, share: float, string: float, current: float) -> float:
    """Loss of the chip where the mean of the bulk lies somewhere from its valley to the crest [W].

    valley: at the lowest mains [V], and rise: this mains over that one (the ripple of a current that is held is next to
    the same in volts at any mains, so that the valley rises at least in proportion); share: 0 at the valley, 1 at the
    crest

    >>> held_between(valley=250.0, rise=1.2, crest=350.0, share=0.5, string=225.0, current=0.04)
    4.0
    """
    least = min(valley * rise, crest)
    return held_off_a_bulk(bulk=least + share * (crest - least), string=string, current=current)


def drawn_off_a_bulk(*, mains: float, string: float, share: float, current: float) -> float:
    """Power that a held current takes from a bulk that stands between the string (share 0) and the crest (1) [W].

    What stands above the string is heat in the chip and comes out of the bulk all the same: an efficiency of the plate
    would leave it out. mains [V rms], string [V], current [A]

    >>> round(drawn_off_a_bulk(mains=230.0, string=250.0, share=1.0, current=0.02), 2)
    6.51
    """
    in_range("mains voltage", mains, 10.0, 500.0, "V")
    in_range("current of the LEDs", current, 1e-4, 2.0, "A")
    crest = sqrt(2.0) * mains
    least = min(string, crest)
    return (least + share * (crest - least)) * current


_RANGES = {"mains": (200.0, 264.0), "string": (50.0, 250.0), "current": (0.005, 0.1)}
_FLOWS = {"mains": 1, "string": -1, "current": 1, "lost": -1}


def off_the_mains(count: int) -> Formula:
    """The formula of `held_off_the_mains` with so many capacitors in parallel behind the rectifier (`capacitance_0` …).

    >>> one = off_the_mains(1)
    >>> round(one.solve(mains=230.0, string=100.0, current=0.02, lost=0.0, frequency=50.0, capacitance_0=5e-8).peak, 4)
    0.0249
    """
    names = [f"capacitance_{k}" for k in range(count)]

    def solve(**inputs: float) -> Held:
        whole = sum(inputs.pop(name) for name in names)
        return held_off_the_mains(capacitance=whole, **inputs)

    rms, peak, ranges = dict(_FLOWS), {"current": 1}, {**_RANGES, "lost": (0.0, 10.0)}
    if names:  # without them the held current is the peak, whatever the mains
        charges = {"frequency": 1, **dict.fromkeys(names, 1)}
        rms, peak = {**_FLOWS, **charges}, {**_FLOWS, **charges}
        ranges |= {"frequency": (47.0, 63.0), **dict.fromkeys(names, (0.0, 2e-8))}
    return Formula(solve, {"power": _FLOWS, "average": _FLOWS, "rms": rms, "peak": peak}, ranges)


OFF_THE_MAINS = off_the_mains(0)
CHARGING_ONE = off_the_mains(1)
OFF_A_BULK = giving(
    "power",
    held_between,
    {"valley": 1, "rise": 1, "crest": 1, "share": 1, "string": -1, "current": 1},
    {
        "valley": (200.0, 260.0),
        "rise": (1.0, 1.3),
        "crest": (260.0, 400.0),
        "share": (0.0, 1.0),
        "string": (50.0, 250.0),
        "current": (0.005, 0.1),
    },
)
DRAWN_OFF_A_BULK = giving(
    "drawn", drawn_off_a_bulk, {"mains": 1, "string": 1, "share": 1, "current": 1}, {**_RANGES, "share": (0.0, 1.0)}
)
