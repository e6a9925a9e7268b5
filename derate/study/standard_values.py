"""The next value that parts are usually made in: E series, and the usual ratings of each kind of part.

The E series are those of IEC 60063:2015, table 1. The ladders of ratings are what is usually on offer: common practice,
no source. A kind of part that is not named here has no usual steps, and none is made up for it.
"""

from __future__ import annotations

from math import floor, log10
from typing import NamedTuple

from derate.terms.words import DIODES, RESISTORS

E24 = (
    *(1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0),
    *(3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1),
)
E12, E6 = E24[::2], E24[::4]
_COARSE, _MIDDLE = 0.15, 0.075  # between the tolerances of two series: 20 % and 10 %, 10 % and 5 %
_ALIKE = 1e-6  # relative; a figure typed as the standard value is that value
_PRACTICE = "common practice, no source"


class Next(NamedTuple):
    """A next value [SI units], and which series or ladder it is of, with where that comes from."""

    number: float
    series: str
    source: str


class _Ladder(NamedTuple):
    kinds: tuple[str, ...]
    says: str
    steps: tuple[float, ...]


_HOUR = 3600.0
_ELECTROLYTIC = ("electrolytic capacitor", "solid electrolytic capacitor")
_JUNCTIONS = ("MOSFET", "bipolar transistor", "bridge rectifier", *DIODES)
_BLOCKING = (50.0, 100.0, 200.0, 300.0, 400.0, 600.0, 800.0, 1000.0, 1200.0)
_DIODE_AMPERES = (1.0, 1.5, 2.0, 3.0, 5.0, 6.0, 8.0, 10.0, 15.0, 16.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0)
# Of each rating in SI units. A class X or Y capacitor and a varistor are rated in rms; the others at direct voltage.
_LADDERS: dict[str, tuple[_Ladder, ...]] = {
    "rated.voltage": (
        _Ladder(
            _ELECTROLYTIC,
            "usual voltages of electrolytic capacitors",
            (4.0, 6.3, 10.0, 16.0, 25.0, 35.0, 50.0, 63.0, 80.0, 100.0)
            + (160.0, 200.0, 250.0, 315.0, 350.0, 400.0, 420.0, 450.0, 500.0),
        ),
        _Ladder(
            ("film capacitor", "ceramic capacitor"),
            "usual voltages of film and ceramic capacitors, R5 steps",
            (16.0, 25.0, 40.0, 63.0, 100.0, 160.0, 250.0, 400.0, 630.0, 1000.0, 1600.0, 2500.0, 4000.0, 6300.0),
        ),
        _Ladder(
            ("MOSFET",),
            "usual voltages of transistors",
            (20.0, 30.0, 40.0, 60.0, 80.0, 100.0, 150.0, 200.0, 250.0, 300.0, 400.0, 500.0, 600.0, 650.0, 700.0)
            + (800.0, 900.0, 1000.0, 1200.0, 1500.0, 1700.0),
        ),
        _Ladder(
            ("varistor",),
            "usual continuous voltages of varistors",
            (130.0, 140.0, 150.0, 175.0, 230.0, 250.0, 275.0, 300.0, 320.0, 350.0, 385.0, 420.0, 460.0, 510.0, 550.0),
        ),
    ),
    "rated.reverse_voltage": (
        _Ladder(
            ("Schottky diode",),
            "usual reverse voltages of Schottky diodes",
            (20.0, 30.0, 40.0, 45.0, 60.0, 80.0, 100.0, 150.0, 200.0),
        ),
        _Ladder(("bridge rectifier", "line diode"), "usual reverse voltages of mains rectifiers", _BLOCKING),
        _Ladder(("fast diode", "ultrafast diode"), "usual reverse voltages of fast diodes", _BLOCKING),
    ),
    "rated.current": (_Ladder(("bridge rectifier", *DIODES), "usual currents of diodes", _DIODE_AMPERES),),
    "rated.power": (
        _Ladder(RESISTORS, "usual powers of resistors", (0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0)),
        _Ladder(
            ("zener diode", "suppressor diode"), "usual powers of breakdown diodes", (0.5, 1.0, 1.3, 1.5, 3.0, 5.0)
        ),
    ),
    "rated.life": (
        _Ladder(
            _ELECTROLYTIC,
            "usual lives of electrolytic capacitors",
            tuple(_HOUR * hours for hours in (1000, 2000, 3000, 5000, 7000, 8000, 10_000, 12_000, 15_000, 20_000)),
        ),
    ),
    "rated.junction": (
        _Ladder(_JUNCTIONS, "usual junction temperatures of discrete parts", (125.0, 150.0, 175.0, 200.0)),
    ),
}
_RMS = _Ladder((), "usual rms voltages of class X and Y capacitors", (250.0, 275.0, 305.0, 400.0, 440.0, 500.0))
# What protects by opening has no next value: it is chosen by what it has to clear, and never raised as a cure.
OPENS = ("fuse", "board track", "thermal link", "cut-out", "fusible film resistor", "fusible wirewound resistor")


def next_rating(quantity: str, kind: str, rated: float, of_mains: bool = False) -> Next | None:
    """The next usual rating above one [SI units], None where a part of this kind has no usual steps, or no further one.

    of_mains: a class X or Y capacitor, whose voltage is an rms one
    """
    if kind in OPENS:
        return None
    ladder = next((one for one in _LADDERS.get(quantity, ()) if kind in one.kinds), None)
    if ladder is not None and of_mains and quantity == "rated.voltage":
        ladder = _RMS
    if ladder is None:
        return None
    above = next((step for step in ladder.steps if step > rated * (1.0 + _ALIKE)), None)
    return Next(above, ladder.says, _PRACTICE) if above is not None else None


def next_value(nominal: float, tolerance: float) -> Next:
    """The next value above a nominal one, in the series that belongs to a tolerance (a share): E6, E12, E24.

    Source: IEC 60063:2015, table 1. nominal: above nought, in any unit that is a power of ten of the base unit
    """
    name, series = ("E6", E6) if tolerance > _COARSE else ("E12", E12) if tolerance > _MIDDLE else ("E24", E24)
    decade = 10.0 ** floor(log10(nominal))
    steps = [float(f"{decade * scale * step:.2g}") for scale in (0.1, 1.0, 10.0) for step in series]
    return Next(next(one for one in steps if one > nominal * (1.0 + _ALIKE)), name, "IEC 60063:2015, table 1")
