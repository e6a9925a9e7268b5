"""Part kinds, and what the figures of a short form mean."""

from __future__ import annotations

from derate.terms import dimension as d
from derate.terms.dimension import Dimension
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
PLAIN_DIODES = tuple(kind for kind in DIODES if kind not in ("zener diode", "suppressor diode"))  # none breaks down
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
# How a part of a kind may be made: a document may have a line of its own for it.
TECHNOLOGIES: dict[str, tuple[str, ...]] = {
    "film resistor": ("leaded", "chip", "established reliability"),
    "fuse": ("wire", "cermet"),
}
# What the temperature coefficient of a kind is of, and how hot a part of it gets where its own rating is not stated
# [degC]: printed for film resistors (155) and wirewound ones (275); of the others a house figure, as their sheets end.
WARMED: dict[str, tuple[str, float]] = {
    "film resistor": ("part.resistance", 155.0),
    "fusible film resistor": ("part.resistance", 155.0),
    "metal oxide resistor": ("part.resistance", 235.0),
    "wirewound resistor": ("part.resistance", 275.0),
    "fusible wirewound resistor": ("part.resistance", 275.0),
    "film capacitor": ("part.capacitance", 110.0),
    "ceramic capacitor": ("part.capacitance", 125.0),
    "zener diode": ("part.voltage", 175.0),
    "suppressor diode": ("part.voltage", 175.0),
    "shunt reference": ("part.voltage", 150.0),
    "linear regulator": ("part.voltage", 150.0),
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
