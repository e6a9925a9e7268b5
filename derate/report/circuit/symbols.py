"""Graphic symbols of parts, drawn along a conductor that goes to the right; 36 pixels long, the conductor included.

The shapes are the plain ones of circuit diagrams (as in IEC 60617): a box for a resistor, two plates, a triangle. A
part whose kind nobody knows is a broken box.
"""

from __future__ import annotations

from collections.abc import Sequence

from derate.design.kinds import FAMILIES

_BOX = "M-13-5h26v10h-26z"
_LEADS = "M-18 0h5M13 0h5"
_PLATES = "M-18 0h15M18 0h-15M-3-9v18M3-9v18"
_TRIANGLE = "M-18 0h11M7 0h11M-7-7v14l14-7z"
_COIL = "M-18 0h4a3.5 3.5 0 0 1 7 0a3.5 3.5 0 0 1 7 0a3.5 3.5 0 0 1 7 0a3.5 3.5 0 0 1 7 0h4"
_CASE = "M-13-10h26v20h-26z" + _LEADS

_SYMBOLS: dict[str, str] = {
    "resistor": _BOX + _LEADS,
    "fusible": _BOX + _LEADS + "M-6 0h12",
    "fuse": _BOX + "M-18 0h36",
    "board track": "M-18 0h36M-12-3h24v6h-24z",
    "capacitor": _PLATES,
    "electrolytic capacitor": "M-18 0h13M18 0h-15M-5-9v18h4v-18zM3-9v18M-13-8h5M-10.5-10.5v5",
    "diode": _TRIANGLE + "M7-7v14",
    "zener": _TRIANGLE + "M3-7h4v14h4",
    "Schottky": _TRIANGLE + "M4-4v-3h3v14h3v-3",
    "suppressor": "M-18 0h7M11 0h7M-11-7v14l11-7zM11-7v14l-11-7zM-3-7h3v14h3",
    "LED": _TRIANGLE + "M7-7v14M-1-8l5-5M3-8l5-5",
    "thyristor": _TRIANGLE + "M7-7v14M7 4l6 6",
    "varistor": _BOX + _LEADS + "M-10 9h4L8-9",
    "thermistor": _BOX + _LEADS + "M-12 9h5L8-9",
    "choke": _COIL,
    "winding": _COIL,
    "common-mode choke": _COIL + "M-14 4h28M-14 8h28",
    "bridge": "M-13 0L0-13L13 0L0 13zM-6 0h3M3 0h3M-3-4v8l6-4zM3-4v8",
    "switch": "M-18 0h9v5M18 0h-9v5M-12 5h24M-9 9h18M0 9v4",
    "bipolar": "M-18 0h7l5 6M18 0h-7l-5 6M-10 6h20M0 6v7M7 5l4-5l-5 1",
    "case": _CASE,
    "coupler": _CASE + "M-9-4v8l7-4zM-2-4v8M2-2l6-4M2 3l6-4",
    "reference": _TRIANGLE + "M3-7h4v14h4M0-4v-6",
    "relay": "M-13-6h26v12h-26zM-18 0h5M13 0h5M-13 6L13-6",
    "thermal link": _BOX + _LEADS + "M-8 0a8 4 0 0 1 16 0",
    "spark gap": "M-18 0h15l-5-4M-3 0l-5 4M18 0h-15l5-4M3 0l5 4",
    "core": "M-4-16v32M4-16v32",
}
_OF_KIND = {
    **dict.fromkeys(FAMILIES["resistor"], "resistor"),
    **dict.fromkeys(FAMILIES["capacitor"], "capacitor"),
    **dict.fromkeys(FAMILIES["diode"], "diode"),
    "fusible film resistor": "fusible",
    "fusible wirewound resistor": "fusible",
    "electrolytic capacitor": "electrolytic capacitor",
    "solid electrolytic capacitor": "electrolytic capacitor",
    "zener diode": "zener",
    "Schottky diode": "Schottky",
    "suppressor diode": "suppressor",
    "fuse": "fuse",
    "board track": "board track",
    "NTC thermistor": "thermistor",
    "varistor": "varistor",
    "common-mode choke": "common-mode choke",
    "choke": "choke",
    "bridge rectifier": "bridge",
    "MOSFET": "switch",
    "bipolar transistor": "bipolar",
    "integrated switch": "case",
    "controller": "case",
    "port controller": "case",
    "optocoupler": "coupler",
    "shunt reference": "reference",
    "linear regulator": "case",
    "thermal link": "thermal link",
    "cut-out": "thermal link",
    "spark gap": "spark gap",
    "thyristor": "thyristor",
    "relay": "relay",
    "LED": "LED",
}
UNKNOWN = _CASE


def symbol_of(kinds: Sequence[str]) -> str:
    """Name of the symbol that every kind a part may still be shares; '' where they share none."""
    found = {_OF_KIND.get(kind, "") for kind in kinds}
    if len(found) == 1:
        return found.pop()
    families = {family for kind in kinds for family, own in FAMILIES.items() if kind in own}
    return families.pop() if len(families) == 1 and all(kind in _OF_KIND for kind in kinds) else ""


def shape(name: str) -> str:
    """The path of a symbol; the broken box of a part that nobody knows for ''."""
    return _SYMBOLS.get(name, UNKNOWN)
