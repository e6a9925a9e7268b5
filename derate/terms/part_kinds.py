"""The precise part kinds of the format, one noun each, by family."""

from __future__ import annotations

RESISTORS = (
    "film resistor",
    "metal oxide resistor",
    "wirewound resistor",
    "fusible film resistor",
    "fusible wirewound resistor",
)
CAPACITORS = ("electrolytic capacitor", "solid electrolytic capacitor", "film capacitor", "ceramic capacitor")
DIODES = (
    "line diode",
    "signal diode",
    "fast diode",
    "ultrafast diode",
    "Schottky diode",
    "zener diode",
    "suppressor diode",
)
SINGLE = (
    "fuse",
    "board track",
    "NTC thermistor",
    "varistor",
    "common-mode choke",
    "choke",
    "bridge rectifier",
    "MOSFET",
    "bipolar transistor",
    "integrated switch",
    "controller",
    "optocoupler",
    "shunt reference",
    "spark gap",
    "thyristor",
    "relay",
    "LED",
)
PART_KINDS = (*RESISTORS, *CAPACITORS, *DIODES, *SINGLE)
