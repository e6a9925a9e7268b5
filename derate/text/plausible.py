"""Which forms a quantity takes (rms, peak, peak to peak, direct), and what is plausible for its kind.

A unit carries its form: `38 mVrms` is no ripple, which is read peak to peak, and `264 Vpk` no mains voltage, which is
its rms value. A figure that no small mains supply has (a clearance of 10 m, a resistor of 1 milliohm, a plate of 24 kV)
is a slip of the unit: it is refused, with the unit that was probably meant.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from math import inf, log10

from derate.terms import dimension as d
from derate.terms.dimension import Dimension
from derate.terms.values import Place, Problem, ReadingError, Value
from derate.terms.words import RESISTORS
from derate.text.units import UNITS, show

RMS, PEAK, BOTH, DIRECT = "rms", "peak", "peak to peak", "dc"
# Forms that a unit may name, beside none at all, by the name of the fact or reading. Others take all but peak to peak.
FORMS: dict[str, tuple[str, ...]] = {
    "mains": (RMS,),
    "mains_current": (RMS,),
    "plate.mains": (RMS,),
    "plate.mains_current": (RMS,),
    "plate.voltage": (RMS, DIRECT),
    "plate.current": (RMS, DIRECT),
    "supply.runs_down_to": (RMS,),
    "site.prospective_current": (RMS,),
    "site.surge": (PEAK,),
    "rated.voltage": (RMS, DIRECT),
    "rated.current": (RMS, DIRECT),
    "rated.ripple_current": (RMS,),
    "rated.reverse_voltage": (PEAK, DIRECT),
    "rated.surge_current": (PEAK,),
    "ripple": (BOTH,),
    "ripple_current": (RMS,),
    "current_rms": (RMS,),
    "current_average": (DIRECT,),
    "current_peak": (PEAK,),
    "voltage_peak": (PEAK, DIRECT),
    "working_voltage": (RMS, DIRECT),
    "working_voltage_peak": (PEAK, DIRECT),
}
RESISTOR = "resistance of a resistor"
_ANY = (RMS, PEAK, DIRECT)
# Least and greatest of what is not nothing, in SI units: an order of magnitude beyond any supply of 1 to 100 W, so that
# what lies outside is a slip of the unit and no rare part. Common sense, no source.
_BY_DIMENSION: dict[Dimension, tuple[float, float]] = {
    d.VOLTAGE: (1e-6, 1e5),
    d.CURRENT: (1e-12, 1e6),
    d.RESISTANCE: (1e-6, 1e16),
    d.CAPACITANCE: (1e-15, 10.0),
    d.INDUCTANCE: (1e-10, 1e3),
    d.LENGTH: (1e-8, 1.0),
    d.FREQUENCY: (0.01, 1e10),
    d.POWER: (1e-9, 1e6),
}
_BY_NAME: dict[str, tuple[float, float]] = {
    "mains": (10.0, 1000.0),
    "mains frequency": (10.0, 1000.0),
    "plate.mains": (50.0, 1000.0),
    "plate.frequency": (10.0, 1000.0),
    "plate.voltage": (0.5, 2000.0),
    "supply.runs_down_to": (1.0, 1000.0),
    "site.altitude": (10.0, 9000.0),
    RESISTOR: (5e-3, 1e9),  # of a part that is nothing else; a fuse or a choke may have less
    "part.capacitance": (1e-13, 1.0),
    "part.width": (1e-5, 0.2),
    "part.thickness": (1e-6, 5e-3),
    "mounting.above_board": (1e-5, 0.2),
    "mounting.to_plastic": (1e-5, 0.5),
    "rated.clearance": (1e-5, 0.1),
    "rated.creepage": (1e-5, 0.1),
    "rated.insulation_thickness": (1e-7, 0.05),
    "rated.current": (1e-6, 1e3),
    "rated.energy": (1e-9, 1e4),
    "rated.pulse_energy": (1e-9, 1e4),
    "rated.recovery_time": (1e-10, 1e-3),
    "part.switching_time": (1e-10, 1e-3),
    "part.limit_delay": (1e-10, 1e-2),
    "winding.bare": (5e-6, 0.02),
    "winding.outside": (5e-6, 0.02),
    "winding.foil": (1e-6, 5e-3),
    "winding.width": (1e-4, 0.2),
    "transformer.wall": (1e-5, 0.05),
    "transformer.margins": (1e-5, 0.05),
    "core.gap": (1e-7, 0.05),
    "core.area": (1e-7, 3e-3),
    "part.inductance": (1e-9, 10.0),
    "part.temperature_coefficient": (1e-8, 6e-3),  # a metal foil below 1 ppm/K, copper 0.4 %/K
    "part.temperature_slope": (1e-6, 0.5),
    "transformer.inductance": (1e-7, 10.0),
    "transformer.leakage": (1e-9, 1.0),
    "found.clearance": (1e-6, 0.5),
    "found.creepage": (1e-6, 0.5),
    "found.insulation_thickness": (1e-7, 0.05),
}
# Shares and ratios that cannot be less, or more, by what they are.
_BY_NAME |= {
    "part.ringing": (1.0, 10.0),
    "part.greatest_duty": (1e-3, 1.0),
    "rated.impedance_ratio": (1.0, 1e4),
    "rated.end_of_life_resistance_ratio": (1.0, 1e3),
    "rated.transfer_ratio_left": (1e-3, 1.0),
}
# What is never nothing, in whatever supply: there a 0 stands for a figure that nobody has.
_NEVER_NOTHING = frozenset(
    (
        *("mains", "mains frequency", "plate.mains", "plate.frequency", "plate.voltage", "supply.runs_down_to"),
        *("part.ringing", "part.greatest_duty", "part.capacitance", "part.inductance", "part.limit_delay"),
        *("part.output_capacitance", "part.switching_time"),
        *("part.overvoltage_stop", "rated.starts_at", "rated.stops_at", "rated.saturation_current", "rated.life"),
        *("rated.forward_voltage", "rated.on_resistance", "rated.series_resistance", "rated.cold_impedance"),
        *("rated.junction_to_case", "rated.junction_to_lead", "rated.junction_to_air", "part.heatsink"),
        *("rated.core_rise", "rated.impedance_ratio", "rated.end_of_life_resistance_ratio", "rated.opens_within"),
        *("rated.transfer_ratio_left", "rated.dropout_voltage", "rated.saturation_voltage", "found.series_resistance"),
        *("winding.bare", "winding.outside", "winding.turns", "winding.strands", "core.area"),
        *("inspection.pin_thickness", "inspection.pin_breadth"),
    )
)
# Tables by what they do: the other way round they would give a part what it has not, between the rows and beyond them.
_FALLS = (
    *("rated.current", "rated.power", "rated.surge_current", "rated.pulse_power", "rated.opens_within", "rated.life"),
    *("rated.reverse_bias_area", "rated.capacitance", "rated.transfer_ratio_left", "rated.impedance_ratio"),
    "part.hot_resistance",
)
_RISES = (
    *("rated.clamping_voltage", "rated.forward_voltage", "rated.saturation_voltage", "rated.on_resistance"),
    "transformer.no_load_current",
)
# The same of what a part of one kind is rated for or marked with, by key of its own or of `rated`.
BY_KIND: dict[str, tuple[tuple[str, str, Dimension, float, float], ...]] = {
    "electrolytic capacitor": (("rated", "voltage", d.VOLTAGE, 1.0, 1e3),),
    "solid electrolytic capacitor": (("rated", "voltage", d.VOLTAGE, 1.0, 1e3),),
    "film capacitor": (("", "capacitance", d.CAPACITANCE, 1e-13, 1e-3),),
    "ceramic capacitor": (("", "capacitance", d.CAPACITANCE, 1e-13, 1e-3),),
    "zener diode": (("", "voltage", d.VOLTAGE, 1.0, 1e3), ("rated", "power", d.POWER, 1e-2, 100.0)),
    "suppressor diode": (("", "voltage", d.VOLTAGE, 1.0, 1e3),),
    "MOSFET": (("rated", "voltage", d.VOLTAGE, 1.0, 1e4),),
    "bipolar transistor": (("rated", "collector_emitter_voltage", d.VOLTAGE, 1.0, 1e4),),
    "integrated switch": (("rated", "voltage", d.VOLTAGE, 1.0, 1e4),),
    "linear regulator": (
        ("rated", "voltage", d.VOLTAGE, 1.0, 2e3),
        ("rated", "dropout_voltage", d.VOLTAGE, 1e-2, 100.0),
    ),
    "fuse": (("rated", "current", d.CURRENT, 1e-3, 100.0),),
    **dict.fromkeys(RESISTORS, (("rated", "power", d.POWER, 1e-3, 1e3),)),
}
# What has no sign: which way a current flows, or which side of a rating is meant, nothing asks. A rail has one, and
# so have the regulator of a negative one, voltages read against it, temperatures, and what a number is.
_UNSIGNED = (d.CURRENT, d.POWER, d.TIME)
_SIGNED_VOLTAGES = ("plate.voltage", "part.voltage", "voltage", "")
_FIGURE = re.compile(r"([0-9]+(?:\.[0-9]+)?(?:e[+-]?[0-9]{1,3})?)( ?)([A-Za-zµμΩ\u2126°][A-Za-zµμΩ\u2126°²2^/]*)")


def check(name: str, says: str, value: object, dimension: Dimension | None, form: str, text: str, place: Place) -> None:
    """Refuse a form that a quantity does not take, and a figure that is implausible for it. Raises ReadingError.

    name: of the fact or reading; form: the one that its unit names, '' for none; text: as typed
    """
    if dimension is None or not isinstance(value, Value):
        return
    forms = FORMS.get(name, _ANY) if dimension in (d.VOLTAGE, d.CURRENT) else ()
    if form and forms and form not in forms:
        symbol = dimension.symbol
        endings = {RMS: "rms", PEAK: "pk", BOTH: "pp", DIRECT: "dc"}
        instead = " or ".join(f"{symbol}{endings[one]}" for one in forms)
        what = f"'{text[:40]}' is {_FORM_WORDS[form]}, and {says} is no such figure"
        raise ReadingError([Problem(place, what, f"read it as it is asked, in {instead}")])
    if min(value.near, value.low) < 0.0 and (
        dimension in _UNSIGNED or (dimension == d.VOLTAGE and name not in _SIGNED_VOLTAGES)
    ):
        size = max(abs(value.low), abs(value.high))
        across = f", up to {show(size, dimension)}" if max(value.far, value.high) > 0.0 and size < inf else ""
        what = f"'{text[:40]}' is below zero, and {says} has no sign"
        raise ReadingError([Problem(place, what, f"write its size{across}")])
    if value.low == value.high == 0.0 and name in _NEVER_NOTHING:
        what = f"'{text[:40]}' is nothing, and {says} is never nothing"
        raise ReadingError([Problem(place, what, "write what it is, or unknown")])
    low, high = _BY_NAME.get(name) or _BY_DIMENSION.get(dimension, (0.0, inf))
    between(low, high, says, value, dimension, form, text, place)


def between(
    low: float, high: float, says: str, value: Value, dimension: Dimension, form: str, text: str, place: Place
) -> None:
    """Refuse a figure that is neither nothing nor within two ends. Raises ReadingError."""
    ends = [abs(one) for one in (value.near, value.far) if one not in (0.0, inf, -inf)]
    if all(low <= one <= high for one in ends):
        return
    what = f"'{text[:40]}' is no plausible {says}: {show(low, dimension)} to {show(high, dimension)}"
    raise ReadingError([Problem(place, what, _meant(text, dimension, form, low, high))])


def check_order(name: str, says: str, rows: Sequence[tuple[object, str, Place]]) -> None:
    """Refuse a table that goes the other way than what it tells of can go. Raises ReadingError.

    rows: value, text and place of each, in the order of the condition, which rises
    """
    way = -1.0 if name in _FALLS else 1.0 if name in _RISES else 0.0
    for (before, _, _), (after, text, place) in pairwise(rows):
        if not way or not isinstance(before, Value) or not isinstance(after, Value):
            continue
        if (after.near > before.far) if way < 0.0 else (after.far < before.near):
            goes = "falls" if way < 0.0 else "rises"
            what = f"{says} {goes} along its table, and '{text[:40]}' goes the other way"
            raise ReadingError([Problem(place, what, "look which figure belongs to which condition")])


_FORM_WORDS = {RMS: "an rms value", PEAK: "a peak", BOTH: "from peak to peak", DIRECT: "direct voltage or current"}


def _meant(text: str, dimension: Dimension, form: str, low: float, high: float) -> str:
    """The same number in the unit that was probably meant: of the same letters, else a thousand apart."""
    found = _FIGURE.search(text)
    typed = UNITS.get(found[3]) if found is not None else None
    if found is None or typed is None:
        return "look at its unit"
    size = typed.value(found[1])
    likely = []
    for spelling, unit in UNITS.items():
        if unit.dimension != dimension or unit.statistic != form or not spelling.isascii() or spelling == found[3]:
            continue
        other = unit.value(found[1])
        if size > 0.0 and low <= other <= high:
            same = spelling.lower() == found[3].lower()
            likely.append((not same, abs(abs(log10(other / size)) - 3.0), spelling))
    if not likely:
        return "look at its unit"
    return f"did you mean {text[: found.start(2)]} {min(likely)[2]}?"
