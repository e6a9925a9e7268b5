"""Part kinds, what a short form's figures mean, and one value as typed for every fact a file may state."""

from __future__ import annotations

from derate.terms import dimension as d
from derate.terms.dimension import Dimension
from derate.terms.vocabulary import Term
from derate.terms.words import CAPACITORS, DIODES, RESISTORS, SINGLE

# Part kinds: the words, which precise kinds a general word leaves open, and what a short form's figures mean.
#
# `KINDS`: precise kind -> family. `possible(word)`: every precise kind a written word still allows. `SHORT_FORM`:
# family or kind -> dimension of a figure -> the fact it states.


FAMILIES: dict[str, tuple[str, ...]] = {
    "resistor": RESISTORS,
    "capacitor": CAPACITORS,
    "diode": DIODES,
    "switch": ("MOSFET", "bipolar transistor", "integrated switch"),
}
KINDS: dict[str, str] = (
    dict.fromkeys(RESISTORS, "resistor")
    | dict.fromkeys(CAPACITORS, "capacitor")
    | dict.fromkeys(DIODES, "diode")
    | {kind: kind for kind in SINGLE}
    | {"MOSFET": "switch", "bipolar transistor": "switch", "integrated switch": "switch"}
)
# Words a part may be given as: a precise kind, or a general word that leaves several kinds open.
_GENERAL: dict[str, tuple[str, ...]] = {
    "resistor": RESISTORS,
    "fusible resistor": ("fusible film resistor", "fusible wirewound resistor"),
    "capacitor": CAPACITORS,
    "diode": DIODES,
    "rectifier diode": ("line diode", "fast diode", "ultrafast diode", "Schottky diode"),
    "transistor": ("MOSFET", "bipolar transistor"),
    "suppressor": ("suppressor diode",),
    "zener": ("zener diode",),
}
REFERENCE = "docs/reference.md lists every part kind"
KIND_WORDS: tuple[str, ...] = tuple(KINDS) + tuple(word for word in _GENERAL if word not in KINDS)


def possible(word: str) -> tuple[str, ...]:
    """Every precise kind that a written kind still allows; empty when the word is not known."""
    if word in KINDS:
        return (word,)
    return _GENERAL.get(word, ())


def split_kind(text: str) -> tuple[str, str] | None:
    """Split a short form into its kind and the rest, longest kind first; None when it begins with no kind."""
    lowered = text.lower()
    for word in sorted(KIND_WORDS, key=len, reverse=True):
        if lowered.startswith(word.lower()) and (len(text) == len(word) or not text[len(word)].isalnum()):
            return word, text[len(word) :].strip()
    return None


_FIGURES: dict[str, dict[Dimension, str]] = {
    "resistor": {d.RESISTANCE: "part.resistance", d.POWER: "rated.power", d.VOLTAGE: "rated.voltage"},
    "capacitor": {
        d.CAPACITANCE: "part.capacitance",
        d.VOLTAGE: "rated.voltage",
        d.CELSIUS: "rated.temperature",
        d.CURRENT: "rated.ripple_current",
        d.RESISTANCE: "rated.series_resistance",
        d.TIME: "rated.life",
    },
    "diode": {
        d.VOLTAGE: "rated.reverse_voltage",
        d.CURRENT: "rated.current",
        d.TIME: "rated.recovery_time",
        d.CELSIUS: "rated.junction",
    },
    "zener diode": {d.VOLTAGE: "part.voltage", d.POWER: "rated.power", d.CELSIUS: "rated.junction"},
    "suppressor diode": {d.VOLTAGE: "part.voltage", d.POWER: "rated.pulse_power", d.CELSIUS: "rated.junction"},
    "fuse": {
        d.CURRENT: "rated.current",
        d.VOLTAGE: "rated.voltage",
        d.I2T: "rated.melting_i2t",
        d.RESISTANCE: "part.resistance",
    },
    "board track": {d.LENGTH: "part.width"},
    "NTC thermistor": {d.RESISTANCE: "part.resistance", d.CURRENT: "rated.current", d.ENERGY: "rated.energy"},
    "varistor": {d.VOLTAGE: "part.nominal_voltage", d.ENERGY: "rated.energy", d.CURRENT: "rated.surge_current"},
    "choke": {d.INDUCTANCE: "part.inductance", d.RESISTANCE: "part.resistance", d.CURRENT: "rated.current"},
    "common-mode choke": {
        d.INDUCTANCE: "part.inductance",
        d.RESISTANCE: "part.resistance",
        d.CURRENT: "rated.current",
        d.VOLTAGE: "rated.voltage",
    },
    "bridge rectifier": {d.VOLTAGE: "rated.reverse_voltage", d.CURRENT: "rated.current", d.CELSIUS: "rated.junction"},
    "MOSFET": {
        d.VOLTAGE: "rated.voltage",
        d.CURRENT: "rated.current",
        d.RESISTANCE: "rated.on_resistance",
        d.CELSIUS: "rated.junction",
    },
    "integrated switch": {
        d.VOLTAGE: "rated.voltage",
        d.CURRENT: "rated.current",
        d.RESISTANCE: "rated.on_resistance",
        d.CELSIUS: "rated.junction",
    },
    # A bare voltage on a bipolar transistor could mean either of two ratings, so it has no short form.
    "bipolar transistor": {d.CURRENT: "rated.current", d.CELSIUS: "rated.junction"},
    "optocoupler": {d.VOLTAGE: "rated.voltage"},
    "shunt reference": {d.VOLTAGE: "part.voltage"},
    "linear regulator": {d.VOLTAGE: "part.voltage", d.CURRENT: "rated.current", d.CELSIUS: "rated.junction"},
    "thermal link": {d.CELSIUS: "rated.temperature", d.CURRENT: "rated.current", d.VOLTAGE: "rated.voltage"},
    "cut-out": {d.CELSIUS: "rated.temperature", d.CURRENT: "rated.current", d.VOLTAGE: "rated.voltage"},
    "relay": {d.VOLTAGE: "rated.voltage", d.CURRENT: "rated.current"},
    "thyristor": {d.VOLTAGE: "rated.voltage", d.CURRENT: "rated.current"},
    "spark gap": {d.VOLTAGE: "rated.voltage"},
}


def figures_of(kinds: tuple[str, ...]) -> dict[Dimension, str]:
    """What the figures of a short form mean for these possible kinds."""
    if len(kinds) == 1 and kinds[0] in _FIGURES:
        return _FIGURES[kinds[0]]
    families = {KINDS[kind] for kind in kinds}
    return _FIGURES.get(families.pop(), {}) if len(families) == 1 else {}


# One value as typed for every fact of the vocabulary that a file may state: for schema and page, never for a lint.


FIGURES = {
    "V": "12 V",
    "A": "0.5 A",
    "W": "3 W",
    "ohm": "6.8 ohm 5%",
    "F": "22 uF 20%",
    "H": "750 uH 7%",
    "m": "6.1..6.4 mm",
    "s": "60 s",
    "Hz": "50..60 Hz",
    "degC": "40 degC",
    "K": "20..30 K",
    "J": "6.1 J",
    "A²s": "9.6 A²s",
    "": "84",
    "K/W": "12 K/W",
    "W/K": "18 mW/K",
    "m²": "52 mm²",
    "V/s": "2000 V/us",
    "T": "0.35 T",
    "A/m²": "5 A/mm²",
}


# Where the usual figure of a dimension would be a strange one.
_OWN = {
    "supply.efficiency": "85%",
    "supply.runs_down_to": "78 V",
    "plate.mains": "100..240 V",
    "site.mains_tolerance": "10%",
    "site.ambient": "-10..40 degC",
    "site.altitude": "up to 2000 m",
    "site.pollution_degree": "2",
    "site.surge": "1 kV",
    "site.hours": "{10 degC: 12 h, 40 degC: 12 h}",
    "site.switch_ons": "20000",
    "site.mains_inductance": "0.8 mH",
    "rated.opens_within": "{48 W: 60 s, 75 W: 30 s}",
    "rated.life": "8000 h at 105 degC",
    "rated.junction": "150 degC",
    "rated.temperature": "105 degC",
    "rated.voltage": "400 V",
    "rated.reverse_voltage": "1000 V",
    "rated.gain": "8 at 0.5 A",
    "rated.transfer_ratio": "80..160 % at 5 mA",
    "rated.transfer_ratio_left": "90% at 180000 h",
    "rated.transfer_ratio_by_temperature": "{-25 degC: 85%, 25 degC: 100%, 85 degC: 75%}",
    "rated.dissipation_factor": "0.12 at 120 Hz",
    "rated.impedance_ratio": "{-40 degC: 8, -25 degC: 4}",
    "rated.series_resistance": "{120 Hz: 5.4 ohm, 100 kHz: 1.6 ohm}",
    "rated.surge_current": "60 A at 8.3 ms",
    "rated.ripple_current": "{120 Hz: 0.31 A, 100 kHz: 0.47 A}",
    "rated.power": "{70 degC: 3 W, 155 degC: 0 W}",
    "rated.reverse_bias_area": "{450 V: 4 A, 700 V: 0.5 A}",
    "rated.end_of_life_capacitance_change": "20 %",
    "rated.end_of_life_resistance_ratio": "2",
    "rated.voltage_exponent": "2.5",
    "rated.pulse_count": "100000",
    "rated.pulse_energy": "{1 ms: 6.1 J, 10 ms: 6.1 J}",
    "rated.on_resistance": "1.5 ohm at 25 degC",
    "part.ringing": "1.35",
    "part.greatest_duty": "66..70%",
    "part.hot_resistance": "{1 A: 0.55 ohm, 3 A: 0.28 ohm}",
    "part.current_limit": "0.86..0.90..0.94 V",
    "part.limit_delay": "150..250 ns",
    "part.switching_time": "80 ns",
    "control.frequency": "65 kHz 5%",
    "core.permeability": "2000",
    "winding.strands": "2",
    "barrier.pollution_degree": "2",
    "found.gain": "22",
}


def example_of(term: Term) -> str:
    """One value of a term as typed, '' where only the author can give one."""
    if term.name in _OWN:
        return _OWN[term.name]
    if term.dimension is None:
        return term.words[0] if term.words else ""
    figure = FIGURES.get(term.dimension.symbol, "")
    over = FIGURES.get(term.over.symbol, "") if term.over is not None else ""
    if over:
        figure, at = figure.split(" 5%")[0].split(" 7%")[0].split(" 20%")[0], over.split(" 20%")[0].split("..")[-1]
        return f"{figure} at {at}"
    return figure
