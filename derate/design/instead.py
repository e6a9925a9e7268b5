"""What to write instead of a key that its block does not have, or of a part whose kind is not said.

Only imported when something is wrong.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from derate.design.bench import ReadingBlock
from derate.design.blocks import DesignFile, Part, Plate, PlateOutput, Rated, Supply
from derate.design.circuit import Circuit
from derate.design.everyday import of_kind
from derate.design.kinds import KIND_WORDS, REFERENCE
from derate.design.library import shipped_libraries
from derate.design.library_file import entries_of
from derate.design.record import Record, known_here
from derate.terms.values import nearest

_SURE = 0.8  # of `nearest`: a slip of the fingers, and no other word
_SHOWN = 2  # places that it names
_OWN = "NAME"  # where a name of the author's own stands
_DONE = ("readings", "tests", "waivers", "open_points")  # blocks of what was done with a supply, not of what it is
_MARKING = "write marking as it is printed, or part for an order code that a library has"
_NO_FIGURE = "write it into the note: no figure hangs on it"

# What people write, mostly as a data sheet has it, in small letters without signs: the key that says it here. A text
# with a blank is the answer itself, to somebody who writes a part; what begins with `rated.` is no fact of the part
# itself.
_MEANT = {
    "esr": "rated.series_resistance",
    "dcr": "resistance",
    "value": "name the figure: resistance, capacitance, inductance or voltage, such as {capacitance: 4.7 uF 20%}",
    "tolerance": "write it behind its figure, such as {resistance: 4.7 kohm 5%}",
    "type": _MARKING,
    "mpn": _MARKING,
    "partnumber": _MARKING,
    "model": _MARKING,
    "manufacturer": "maker",
    "brand": "maker",
    "vendor": "maker",
    "package": _NO_FIGURE,
    "footprint": _NO_FIGURE,
    "quantity": "name each of them, such as R1, R2: {…}",
    "qty": "name each of them, such as R1, R2: {…}",
    "description": "note",
    "comment": "note",
    "remark": "note",
    "rdson": "rated.on_resistance",
    "rdsonmax": "rated.on_resistance",
    "vds": "rated.voltage",
    "vdss": "rated.voltage",
    "bvdss": "rated.voltage",
    "vgs": "rated.gate_voltage",
    "vgss": "rated.gate_voltage",
    "gatesourcevoltage": "rated.gate_voltage",
    "vceo": "rated.collector_emitter_voltage",
    "vcbo": "rated.collector_base_voltage",
    "vces": "rated.collector_base_voltage",
    "vebo": "rated.emitter_base_voltage",
    "vcesat": "rated.saturation_voltage",
    "vbesat": "rated.base_emitter_voltage",
    "vrrm": "rated.reverse_voltage",
    "vrwm": "rated.reverse_voltage",
    "vr": "rated.reverse_voltage",
    "piv": "rated.reverse_voltage",
    "vf": "rated.forward_voltage",
    "trr": "rated.recovery_time",
    "tf": "rated.fall_time",
    "ts": "rated.storage_time",
    "ifsm": "rated.surge_current",
    "ifav": "rated.current",
    "id": "rated.current",
    "ic": "rated.current",
    "io": "rated.current",
    "hfe": "rated.gain",
    "beta": "rated.gain",
    "ctr": "rated.transfer_ratio",
    "coss": "output_capacitance",
    "cj": "rated.junction_capacitance",
    "ptot": "rated.power",
    "pd": "rated.power",
    "wattage": "rated.power",
    "tj": "rated.junction",
    "tjmax": "rated.junction",
    "rthjc": "rated.junction_to_case",
    "rthja": "rated.junction_to_air",
    "rthjl": "rated.junction_to_lead",
    "isat": "rated.saturation_current",
    "eas": "rated.avalanche_energy",
    "df": "rated.dissipation_factor",
    "tandelta": "rated.dissipation_factor",
    "lifetime": "rated.life",
    "endurance": "rated.life",
    "dvdt": "rated.voltage_slope",
    "rbsoa": "rated.reverse_bias_area",
    "lleak": "leakage",
    "llk": "leakage",
    "safetyclass": "protection_class",
    "insulationclass": "protection_class",
    "inputvoltage": "mains",
    "vin": "mains",
    "inputcurrent": "mains_current",
    "iin": "mains_current",
    "vout": "voltage",
    "iout": "current",
    "fsw": "frequency",
    "np": "turns",
    "ns": "turns",
    "gap": "gap",
    "ae": "area",
}
_LOADED = "what an output gives is the load of the condition: write at: {mains: 230 V, load: 0.8 A}"
_CURRENT = f"write current_rms, current_average or current_peak, by part; {_LOADED}"
# What means another thing in one block, by the block and the key in small letters without signs.
_MEANT_IN: Mapping[type[Record], Mapping[str, str]] = {
    Plate: {
        "class": "write protection_class under supply",
        "current": "write mains_current for what it takes; for what it gives write outputs: {NAME: {current: …}}",
        "power": "write what the plate says as text; what is judged is outputs: {NAME: {voltage: …, current: …}}",
    },
    PlateOutput: {"power": "write voltage and current; the power itself goes into text of the plate"},
    Supply: {"class": "write protection_class", "type": "write topology"},
    ReadingBlock: {
        "tj": "write junction_temperature",
        "tc": "write case_temperature",
        "tcase": "write case_temperature",
        "current": _CURRENT,
        "id": _CURRENT,
        "ic": _CURRENT,
        "ids": _CURRENT,
        "if": _CURRENT,
        "ifav": "write current_average",
        "iavg": "write current_average",
        "irms": "write current_rms",
        "ipk": "write current_peak",
        "ipeak": "write current_peak",
        "iout": _LOADED,
        "io": _LOADED,
        "iload": _LOADED,
        "outputcurrent": _LOADED,
        "pout": _LOADED,
        "outputpower": _LOADED,
        "pin": "write mains_power",
        "inputpower": "write mains_power",
        "vpp": "write ripple",
        "vpk": "write voltage_peak",
        "vpeak": "write voltage_peak",
    },
    Rated: {"resistance": "write it beside rated, not in it", "inductance": "write it beside rated, not in it"},
    Circuit: {"mains": "write line: from the plug to the bulk capacitor, such as [F1, BR1, across C1]"},
}


def instead_of(key: str, record: type[Record]) -> str:
    """What to write for a key that a block does not have."""
    plain = "".join(sign for sign in key.lower() if sign.isalnum())
    here = next((said[plain] for block, said in _MEANT_IN.items() if issubclass(record, block) and plain in said), None)
    if here is not None:
        return here
    inside = _inside(record, key)
    if inside:
        return inside
    close = nearest(key, record.fields, _SURE)
    if close:
        return f"did you mean {close}?"
    meant = _MEANT.get(plain, "")
    if " " in meant and issubclass(record, Part | Rated):
        return meant
    if meant and " " not in meant:
        return _where(meant, record)
    block, _, rest = key.partition("_")
    if block in record.fields and rest in _blocks(record) and (block,) in _blocks(record)[rest]:
        return f"write {_nested((block,), rest)}"
    listed = known_here(key, record)
    if nearest(key, record.fields) is None and key in _everywhere():
        return f"{_where(key, record)}; {listed}"
    return listed


def _where(said: str, record: type[Record]) -> str:
    """Where a key of the format is written, seen from a block."""
    block, _, key = said.rpartition(".")
    if block and (block,) in _blocks(record).get(key, ()):
        return f"write {_nested((block,), key)}"
    if key in record.fields:
        return f"write {key}"
    return _inside(record, key) or _key_of(key, _everywhere().get(key, []))


def _key_of(key: str, ways: list[tuple[str, ...]]) -> str:
    return f"{key} is a key of {' and of '.join('.'.join(path) or 'the file itself' for path in ways[:_SHOWN])}"


def _nested(path: tuple[str, ...], key: str) -> str:
    text = f"{{{key}: …}}"
    for one in reversed(path):
        text = f"{{{one}: {text}}}"
    return text[1:-1]


def _inside(record: type[Record], key: str) -> str:
    """The key written by the one way down from a block that is the shortest, else whose key it is; '' of no block.

    Of the file itself a short way tells nothing: `mains` is a key of a test, and of the plate further down
    """
    ways = [path for path in _blocks(record).get(key, ()) if path]
    if not ways:
        return ""
    if len(ways) > 1 and (record is DesignFile or len(ways[1]) == len(ways[0])):
        return _key_of(key, ways)
    return f"write {_nested(ways[0], key)}"


def _everywhere() -> Mapping[str, list[tuple[str, ...]]]:
    return _blocks(DesignFile)


_WALKED: dict[type[Record], Mapping[str, list[tuple[str, ...]]]] = {}  # a file may have many slips


def _blocks(record: type[Record]) -> Mapping[str, list[tuple[str, ...]]]:
    """By key, the ways down to the blocks that have it, the shortest first, what was done with a supply behind."""
    if record in _WALKED:
        return _WALKED[record]
    found: dict[str, list[tuple[str, ...]]] = {}
    for path, key in _keys(record.schema(), ()):
        ways = found.setdefault(key, [])
        if path not in ways:
            ways.append(path)
    for ways in found.values():
        ways.sort(key=lambda path: (bool(path) and path[0] in _DONE, len(path)))
    _WALKED[record] = found
    return found


def _keys(schema: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], str]]:
    """Every key of a JSON Schema with the keys above it."""
    for one in (*schema.get("anyOf", ()), *schema.get("oneOf", ()), *schema.get("allOf", ())):
        yield from _keys(one, path)
    for key, inner in schema.get("properties", {}).items():
        yield path, key
        yield from _keys(inner, (*path, key))
    if isinstance(schema.get("items"), dict):
        yield from _keys(schema["items"], path)
    if isinstance(schema.get("additionalProperties"), dict):
        yield from _keys(schema["additionalProperties"], (*path, _OWN))


# Parts.


_FIGURE_FIRST = {  # a figure as people begin with one, and the kinds that are named by it
    r"\d*[.,]?\d+ ?([pnuµμm]?F\b|[pnuµμ](\d|\b))": "electrolytic capacitor, film capacitor or ceramic capacitor",
    r"\d*[.,]?\d+ ?[nuµμm]?H\b": "choke, or common-mode choke where it has two windings in the mains path",
    r"\d*[.,]?\d+ ?([kM]?(ohms?|Ohms?|Ω)|[kKMR](\d|\b))": "film resistor, wirewound resistor or fusible resistor",
}


def instead_of_part(text: str) -> str:
    """What to write for a part on one line that does not begin with a kind."""
    words = text.split()
    meant = of_kind(text)
    if meant:
        return meant
    if words and any(words[0] in entries_of(one.text, one.path)[0] for one in shipped_libraries()):
        return f"write {{part: {words[0]}}}, which takes its kind and ratings from the shipped library of parts"
    kinds = next((kinds for figure, kinds in _FIGURE_FIRST.items() if re.match(figure, text)), "")
    if kinds:
        return f"begin with its kind: {kinds}; then {text[:40]}"
    close = nearest(" ".join(words[:2]), KIND_WORDS) or nearest(words[0] if words else "", KIND_WORDS)
    if close:
        return f"begin with {close}; {REFERENCE}"
    if re.match(r"[A-Z0-9-]*\d", text):
        return f"begin with its kind, what is printed is its marking: {{kind: …, marking: {text[:40]}}}; {REFERENCE}"
    return f"begin with a kind, then its figures; {REFERENCE}"
