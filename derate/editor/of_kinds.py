"""Which keys of a part a kind takes, and which keys of the circuit a topology reads, so that those are offered first.

By the quantities that data sheets of a kind give and rules ask. A key that is not here is offered behind the others,
never left out: a kind may have a figure that nobody thought of.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from derate.design.kinds import KINDS, possible
from derate.topologies import topology_of

_OF_A_PART, _OF_ITS_RATING = "", "rated"
_ANY = frozenset(
    [
        "part",
        "maker",
        "kind",
        "fitted",
        "marking",
        "position",
        "rated",
        "found",
        "mounting",
        "note",
        "standard",
        "class",
    ]
)
_JUNCTION = "junction junction_to_case junction_to_lead junction_to_air"
_SWITCHES = "output_capacitance ringing switching_time heatsink limit_delay shorted_pause"
_DRIVES = (
    "current_limit limit_current limit_delay greatest_duty shorted_pause fold_back open_load_stop overvoltage_stop"
)
_FEEDBACK = "feedback_current feedback_voltage overvoltage_stop"

# (family or kind, block): keys that it takes besides those of any part
_TAKES: Mapping[tuple[str, str], str] = {
    ("resistor", ""): "resistance temperature_coefficient",
    ("film resistor", ""): "technology",
    ("resistor", "rated"): "power voltage temperature pulse_power pulse_energy pulse_i2t pulse_count surge_voltage "
    "opens_within voltage_after_opening resistance_after_opening",
    ("capacitor", ""): "capacitance dielectric",
    ("film capacitor", ""): "temperature_coefficient",
    ("ceramic capacitor", ""): "temperature_coefficient",
    ("capacitor", "rated"): "voltage surge_voltage temperature capacitance",
    ("electrolytic capacitor", "rated"): "ripple_current series_resistance life dissipation_factor impedance_ratio "
    "cold_impedance end_of_life_capacitance_change end_of_life_resistance_ratio core_rise voltage_exponent",
    ("solid electrolytic capacitor", "rated"): "ripple_current series_resistance life dissipation_factor "
    "impedance_ratio cold_impedance end_of_life_capacitance_change end_of_life_resistance_ratio core_rise",
    ("film capacitor", "rated"): "voltage_slope current dissipation_factor ripple_current "
    "end_of_life_capacitance_change",
    ("diode", ""): "ringing recovery_current heatsink",
    ("diode", "rated"): f"reverse_voltage current surge_current forward_voltage recovery_time junction_capacitance "
    f"temperature {_JUNCTION}",
    ("zener diode", ""): "voltage temperature_coefficient temperature_slope",
    ("zener diode", "rated"): "power",
    ("suppressor diode", ""): "voltage temperature_coefficient temperature_slope",
    ("suppressor diode", "rated"): "power pulse_power clamping_voltage",
    ("bridge rectifier", ""): "heatsink",
    ("bridge rectifier", "rated"): f"reverse_voltage current surge_current forward_voltage temperature {_JUNCTION}",
    ("LED", ""): "voltage",
    ("LED", "rated"): f"current forward_voltage power {_JUNCTION}",
    ("MOSFET", ""): _SWITCHES,
    ("MOSFET", "rated"): f"voltage current on_resistance gate_voltage avalanche_energy power temperature {_JUNCTION}",
    ("bipolar transistor", ""): f"{_SWITCHES} base_drive base_current current_limit {_FEEDBACK}",
    ("bipolar transistor", "rated"): "collector_emitter_voltage collector_base_voltage emitter_base_voltage current "
    "base_current saturation_voltage base_emitter_voltage gain fall_time storage_time reverse_bias_area power "
    f"temperature {_JUNCTION}",
    ("integrated switch", ""): f"{_SWITCHES} {_DRIVES} {_FEEDBACK}",
    ("integrated switch", "rated"): f"voltage current on_resistance avalanche_energy supply starts_at stops_at "
    f"temperature {_JUNCTION}",
    ("controller", ""): f"{_DRIVES} {_FEEDBACK}",
    ("controller", "rated"): f"supply starts_at stops_at voltage gate_voltage current temperature {_JUNCTION}",
    ("port controller", ""): f"{_DRIVES} {_FEEDBACK}",
    ("port controller", "rated"): f"supply voltage current temperature {_JUNCTION}",
    ("linear regulator", ""): "voltage quiescent_current limit_current fold_back heatsink "
    "temperature_coefficient temperature_slope",
    ("linear regulator", "rated"): f"voltage current dropout_voltage power temperature {_JUNCTION}",
    ("shunt reference", ""): "voltage temperature_coefficient temperature_slope",
    ("shunt reference", "rated"): f"voltage current power {_JUNCTION}",
    ("optocoupler", "rated"): "voltage clearance creepage insulation_thickness insulation_class temperature "
    "transfer_ratio transfer_ratio_left transfer_ratio_by_temperature led_current forward_voltage "
    "collector_emitter_voltage current power",
    ("fuse", ""): "characteristic resistance technology",
    ("fuse", "rated"): "current voltage breaking_capacity melting_i2t clearing_i2t opens_within",
    ("board track", ""): "width length thickness resistance",
    ("NTC thermistor", ""): "resistance hot_resistance b_constant dissipation cools_in",
    ("NTC thermistor", "rated"): "current energy voltage power temperature",
    ("varistor", ""): "nominal_voltage",
    ("varistor", "rated"): "voltage energy surge_current clamping_voltage pulse_power power temperature",
    ("choke", ""): "inductance resistance leakage",
    ("choke", "rated"): "current saturation_current voltage temperature insulation_class",
    ("common-mode choke", ""): "inductance leakage resistance",
    ("common-mode choke", "rated"): "current voltage temperature insulation_class",
    ("thermal link", "rated"): "temperature current voltage",
    ("cut-out", "rated"): "temperature current voltage",
    ("relay", "rated"): "voltage current",
    ("thyristor", "rated"): f"voltage current surge_current {_JUNCTION}",
    ("spark gap", "rated"): "voltage surge_current",
}


def takes(kinds: Iterable[str], block: str) -> frozenset[str]:
    """The keys that parts of these precise kinds take. block: '' for the part itself, 'rated' for its ratings

    Empty where nothing is known of one of them, or of the block: then no key is ahead of another.
    """
    if block not in (_OF_A_PART, _OF_ITS_RATING):
        return frozenset()
    found: set[str] = set()
    for kind in kinds:
        own = " ".join(_TAKES.get((word, block), "") for word in dict.fromkeys((KINDS.get(kind, ""), kind))).split()
        known = any((word, at) in _TAKES for word in (KINDS.get(kind, ""), kind) for at in ("", "rated"))
        if not known:
            return frozenset()
        found |= set(own)
    return frozenset(found | (_ANY if block == _OF_A_PART else set())) if found or block == _OF_A_PART else frozenset()


def kinds_of(text: str, name: str) -> tuple[str, ...]:
    """The precise kinds that a part of a file may be, by what is typed of it; empty where that says none."""
    head = re.search(rf"^(?P<depth> +){re.escape(name)} *:(?P<rest>[^\n]*)$", text, re.MULTILINE)
    if head is None:
        return ()
    depth, own = len(head["depth"]), [head["rest"]]
    for line in text[head.end() + 1 :].split("\n"):
        if line.strip() and len(line) - len(line.lstrip(" ")) <= depth:
            break
        own.append(line)
    kind = re.search(r"(?:^|[\s{,])kind: *([^,}#(\n]+)", "\n".join(own))
    return possible(kind[1].strip().strip("\"'")) if kind is not None else ()


def of_topology(text: str) -> frozenset[str]:
    """The keys of the circuit that the topology of a file reads; empty where it names none that is known."""
    stated = re.search(r"(?:^|[\s{,])topology: *([^,}#(\n]+)", text)
    known = topology_of(stated[1].strip().strip("\"'")) if stated is not None else None
    return frozenset(known.circuit.fields) if known is not None else frozenset()


def ahead(text: str, path: tuple[str, ...]) -> frozenset[str]:
    """The keys that belong to the block of a path in this file; empty where no key is ahead of another."""
    if path[:1] == ("parts",) and len(path) >= 2:
        return takes(kinds, path[2] if len(path) > 2 else "") if (kinds := kinds_of(text, path[1])) else frozenset()
    if path == ("circuit",):
        return of_topology(text)
    return frozenset()
