"""The lines of a design file under which a missing fact goes, with the keys as the file spells them.

They come from the table of records that the reader itself uses. Where the author has to put a value there is `…`, which
the reader refuses: nothing that nobody has seen can be pasted by mistake. An example of the form stands in a comment.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache
from typing import NamedTuple

from derate.design.blocks import DesignFile
from derate.design.circuit import Circuit, circuit_of
from derate.design.plain_forms import Block, Each, ListOf, OrNone
from derate.design.record import Record
from derate.ledger.entry import Subject
from derate.terms.words import CAPACITORS

SLOT = "…"
# What is worked out or read, and the fact of the file that gives it.
_GIVEN_BY = {
    "efficiency": "supply.efficiency",
    "forward_drop": "rated.forward_voltage",
    "allowed.case_temperature": "rated.temperature",
    "case_temperature at full load": "case_temperature",
    "read_mains_current": "mains_current",
    "read_ripple": "ripple",
    "drain_capacitance": "part.output_capacitance",
    "dissipation": "rated.dissipation_factor",
    "cold_capacitance_kept": "rated.impedance_ratio",
    "cold_resistance_growth": "rated.cold_impedance",
    "end_of_life_change": "rated.end_of_life_capacitance_change",
    "end_of_life_ratio": "rated.end_of_life_resistance_ratio",
    "core_rise": "rated.core_rise",
    "insulation.altitude": "site.altitude",
    "insulation.overvoltage_category": "site.overvoltage_category",
    "insulation.pollution_degree": "site.pollution_degree",
    "storage_time": "rated.storage_time",
    "core_saturation": "core.saturation",
    "switching_edge": "part.switching_time",
    "allowed.supply": "rated.supply",
    "allowed.supply_least": "rated.stops_at",
    "allowed.ripple_current": "rated.ripple_current",
}
_OF_A_WINDING = {"series_resistance": "winding.resistance", "open_voltage": "winding.open_voltage"}
# What is measured at one part and written as a place of its own.
_AS_A_PLACE = {"distance at the pads": "pads", "gap, as a barrier": "gap"}
# What a load test shows, at which mains and load.
_LOADED = {
    "held_current": "{mains: 230 V, load: full, ambient: …, after: 60 min}",
    "held_current_low_mains": "{mains: …, load: full, ambient: …, after: 60 min}  # the lowest mains of the plate",
    "regulation": "{mains: 230 V, load: none, ambient: …}",
}
_TAPE_TEST = ("tape_test.voltage", "tape_test.result")
# A case held just below shut-down until it is steady.
_HELD = (
    "readings:",
    "  - at: {mains: 230 V, load: overload, ambient: …, after: 240 min}",
    f"    case_temperature: {{enclosure: {SLOT}}}  # such as 71 degC",
)
# What follows from a path of the circuit, and the lines of that path.
_LINE = (
    "circuit:",
    f"  line: [{SLOT}]  # such as [F1, BR1, across C1]: as the current goes, from the plug to the bulk",
)
_PATHS = {
    "circuit.mains_fuse": _LINE,
    "circuit.fused_pole": _LINE,
    "circuit.line": _LINE,
    "circuit.primary": (
        "circuit:",
        f"  primary: [{SLOT}]  # such as [T1.primary, Q1, R9]: from bulk plus to bulk minus",
    ),
    "circuit.outputs": ("circuit:", f"  outputs: {{main: [{SLOT}]}}  # such as [T1.secondary, D7, across C6]"),
    "circuit.drive": ("circuit:", f"  drive: [{SLOT}]  # such as [T1.drive, R4, C5, Q1, across D4]"),
    "circuit.start_up": ("circuit:", f"  start_up: [{SLOT}]  # such as [R1 + R2, across C5]"),
    "plate.outputs": (
        "supply:",
        "  plate:",
        f"    outputs: {{main: {{voltage: {SLOT}, current: {SLOT}}}}}  # such as voltage: 12 V, current: 1 A",
    ),
    "control.coupler_supply": ("circuit:", f"  control: {{coupler_supply: {SLOT}}}  # such as main, or none"),
    "output.by": ("circuit:", f"  outputs: {{main: [{SLOT}]}}  # such as [T1.secondary, D7, across C6]"),
    "circuit.plug_turns": (
        "supply:",
        f"  connection: {SLOT}  # such as plug-in",
        "inspection:",
        f"  plug_pattern: {SLOT}  # such as British, European, or another",
    ),
    "control.by": ("circuit:", f"  control: {{by: {SLOT}}}  # such as U1"),
    "control.reference": ("circuit:", f"  control: {{reference: {SLOT}}}  # such as U3"),
    "control.coupler_resistor": ("circuit:", f"  control: {{coupler_resistor: {SLOT}}}  # such as R21, or none"),
    "control.bias_resistor": ("circuit:", f"  control: {{bias_resistor: {SLOT}}}  # such as R23, or none"),
    "plate.marks": ("supply:", "  plate:", f"    marks: {SLOT}  # such as [double square, maker, model]"),
    "overload_held": _HELD,
    "enclosure_temperature": _HELD,
    "neutral_lost": (
        "tests:",
        "  - test: fault",
        "    fault: neutral lost",
        f"    mains: {SLOT}  # such as 400 V, or what stands between two lines",
        f"    result: {SLOT}  # such as opened",
    ),
    "opening": (
        "tests:",
        "  - test: fault",
        f"    fault: {SLOT}  # such as C1 shorted, or another that derate faults lists",
        f"    mains: {SLOT}  # such as 264 V",
        f"    result: {SLOT}  # such as opened",
    ),
    "no_load_power": ("readings:", "  - at: {mains: 230 V, load: none}", f"    mains_power: {SLOT}  # such as 80 mW"),
    "read_efficiency": (
        "readings:",
        "  - at: {mains: 230 V, load: full, ambient: …}",
        f"    mains_power: {SLOT}  # such as 14.2 W",
        f"    voltage: {SLOT}  # such as {{main: 11.9 V}}",
    ),
}
READ_AT = "  - at: {mains: 230 V, load: full, ambient: …, after: 60 min}"
KNOWN = "    known_by: measured"  # of which nobody says it shows nothing good
_DEEPEST = 7


class Key(NamedTuple):
    """Where a fact stands: its keys with NAME for a name of the file and - for an entry of a list; one example."""

    path: tuple[str, ...]
    example: str


@cache
def keys() -> dict[str, tuple[Key, ...]]:
    """The keys of every fact of the vocabulary, by its name; of several the shortest first."""
    found: dict[str, list[Key]] = {}
    for name, key in _walked(DesignFile, ()):
        found.setdefault(name, []).append(key)
    return {name: tuple(sorted(every, key=lambda one: len(one.path))) for name, every in found.items()}


# One fact may stand under an output of the plate or under a port of the circuit: in the block of what it is asked of.
_BLOCKS = {"output": "outputs", "port": "ports"}


def _key_of(name: str, subject: Subject) -> Key | None:
    every = keys().get(name, ())
    block = _BLOCKS.get(subject.kind, "")
    return next((one for one in every if block in one.path), every[0] if every else None)


def _walked(record: type[Record], path: tuple[str, ...]) -> Iterator[tuple[str, Key]]:
    for key, field in record.fields.items():
        form, under = field.form, path + (key,)
        while isinstance(form, Each | OrNone | ListOf):
            under += ("NAME",) if isinstance(form, Each) else ("-",) if isinstance(form, ListOf) else ()
            form = form.form
        if isinstance(form, Block):
            if len(under) < _DEEPEST:
                yield from _walked(form.record, under)
            continue
        term = getattr(form, "term", None)
        if term is not None:
            yield term.name, Key(under, field.example)
        elif path == ("readings", "-") and type(form).__name__ == "ReadForm":
            yield key, Key(under, field.example)
    if record is DesignFile:
        for key, field in Circuit.fields.items():
            term = getattr(field.form, "term", None)
            if term is not None:
                yield term.name, Key(("circuit", key), field.example)


def lines_for(name: str, subject: Subject | None, kind: str = "", topology: str = "") -> tuple[str, ...]:
    """The lines for a fact, with its value left open; empty where no key of the file gives it.

    kind: of the part it is of, where that is known; topology: whose examples are shown where it has its own
    """
    lines = _lines_for(name, subject, kind)
    if lines and lines[0] in ("readings:", "tests:"):
        lines = (*lines, KNOWN)
    own = _of_topology(topology).get("circuit.line" if lines == _LINE else name)
    if own is None or not lines:
        return lines
    return tuple(f"{line.partition('  # ')[0]}  # such as {own}" if SLOT in line else line for line in lines)


def _of_topology(topology: str) -> Mapping[str, str]:
    return circuit_of(topology).beginning() if topology else {}


def _lines_for(name: str, subject: Subject | None, kind: str) -> tuple[str, ...]:
    if subject is None:
        return ()
    if name == "part.place":
        return _place(subject, kind)
    if name == "circuit.bridging":
        return ("circuit:", f"  bridging: {SLOT}  # such as none, or {{CY1: [bulk minus, output minus]}}")
    if name == "bridge.provides" and kind in CAPACITORS and len(subject.names) == 1:
        return ("parts:", f"  {subject.names[0]}:", f"    class: {SLOT}  # such as Y1 (marked)")
    if name == "circuit.clamp":
        return ("circuit:", f"  clamp: {SLOT}  # such as none, or {{across: T1.primary, path: D5 + R5}}")
    if name in ("test.result", "test.voltage") or name in _TAPE_TEST and subject.names:
        between = f"[one layer of tape, {subject.names[0]}]" if name in _TAPE_TEST else f"[{', '.join(subject.names)}]"
        return (
            "tests:",
            "  - test: electric strength",
            f"    between: {between}",
            f"    voltage: {SLOT}  # such as 3000 Vac",
            f"    result: {SLOT}  # such as held, or broke down",
        )
    if name in _PATHS:
        return _PATHS[name]
    if name == "barrier.between" and subject.kind == "supply":  # of a place that nobody described
        return _between(*BETWEEN["primary to touchable parts"])
    if name == "barrier.between" and subject.kind == "barrier" and len(subject.names) == 1:  # of a thing looked at
        return _between(subject.names[0], BETWEEN["primary to touchable parts"][1])
    if name in _AS_A_PLACE and len(subject.names) == 1:
        return _between(f"{_AS_A_PLACE[name]} of {subject.names[0]}", "[primary, secondary]")
    if name == "breakdown_spread" and len(subject.names) == 1:
        return ("parts:", f"  {subject.names[0]}:", f"    voltage: {SLOT}  # such as 6.8 V 5%")
    if name in _CORE_PATH:
        return _between(
            f"core of {subject.names[0]} to the other side" if subject.names else "core", "[core, secondary]"
        )
    if name in _OF_TRANSFORMER and subject.kind == "transformer":
        return ("transformers:", f"  {subject.names[0]}:", *_OF_TRANSFORMER[name])
    if name in _LOADED and subject.names:
        return (
            "readings:",
            f"  - at: {_LOADED[name]}",
            f"    voltage: {{{subject.names[0]}: {SLOT}}}  # such as 11.9 V",
        )
    if name == "held_together":
        return (
            "readings:",
            f"  - at: {_LOADED['held_current']}",
            f"    voltage: {{{SLOT}}}  # such as main: 11.9 V, usb: 5.05 V: every output, all of them loaded together",
        )
    if name == "insulation.material_group" and subject.kind == "barrier":
        return (
            "barriers:",
            f"  {_key_text(subject.names[0])}:",
            f"    board: {{material_group: {SLOT}}}  # such as IIIa",
        )
    if name in ("shut_down_current", "greatest_shut_down_current"):
        return (
            "tests:",
            "  - test: overload",
            f"    output: {subject.names[0] if subject.names else SLOT}",
            f"    mains: {SLOT}  # such as 230 V",
            f"    shuts_down_at: {SLOT}  # such as 2.4 A",
        )
    name = _OF_A_WINDING.get(name, name) if subject.kind == "winding" else name
    key = _key_of(_GIVEN_BY.get(name, name), subject)
    if key is None:
        return ()
    if key.path[0] == "readings":
        whose = f"{{{subject.names[0]}: {SLOT}}}" if subject.names else SLOT
        return ("readings:", READ_AT, f"    {key.path[-1]}: {whose}{_such(key)}")
    names = [one for whole in subject.names for one in whole.split(".")]
    if key.path[0] == "barriers":
        names = [_key_text(one) for one in subject.names]
    steps = [names.pop(0) if step == "NAME" and names else step for step in key.path]
    if "NAME" in steps or "-" in steps:
        return ()
    head = [f"{'  ' * depth}{step}:" for depth, step in enumerate(steps)]
    return (*head[:-1], f"{head[-1]} {SLOT}{_such(key)}")


def _such(key: Key) -> str:
    return f"  # such as {key.example}" if key.example else ""


_MAINS_PATH = ("fuse", "bridge rectifier", "line diode", "NTC thermistor", "common-mode choke", "varistor")
_PRIMARY = ("MOSFET", "bipolar transistor", "integrated switch")


def _place(subject: Subject, kind: str) -> tuple[str, ...]:
    """A part gets its place by the path it stands on."""
    name = subject.names[0]
    if kind in _MAINS_PATH:
        return ("circuit:", f"  line: [{SLOT}, {name}, {SLOT}]  # as the current goes, from the plug to the bulk")
    if kind in _PRIMARY:
        return (
            "circuit:",
            f"  primary: [{SLOT}, {name}, {SLOT}]  # from bulk plus to bulk minus: winding, switch, sense",
        )
    step = f"across {name}" if kind in CAPACITORS else name
    return (
        "circuit:",
        f"  outputs: {{{SLOT}: [{SLOT}, {step}, {SLOT}]}}  # or line, primary, clamp, auxiliary: where it stands",
    )


# What is worked out of what is written of a transformer, and the lines that it is worked out of.
_CORE_PATH = ("transformer.core_path", "distance from the core to the other side")
_LAYERS = ("    from_core_outwards: […]  # such as [bobbin 1.0 mm, primary, tape 3 layers, secondary]",)
_WIRES = (
    "    windings:",
    "      primary: {wire: …}  # such as enamelled",
    "      secondary: {wire: …}  # such as triple-insulated (data sheet)",
)
_LEADS = ("    leads: {all: {kind: …, crosses: …}}  # such as kind: flying, crosses: none; sleeve: 0.4 mm",)
PARTLY = ("lead", "sleeve", "thickness of the bobbin")  # what lines that are there lack
_OF_TRANSFORMER = {
    "transformer.core_side": ("    core: {tied_to: …}  # such as bulk minus, or nothing",),
    "transformer.core_faces": _LAYERS,
    "transformer.shields": _LAYERS,
    "found.tape_layers": _LAYERS,
    "found.bobbin_wall": _LAYERS,
    "thickness of the bobbin": _LAYERS,
    "transformer.core_wire": _WIRES,
    "transformer.barrier_wire": _WIRES,
    "winding.wire": _WIRES,
    "found.wire_insulation": _WIRES,
    "transformer.lead_sleeves": _LEADS,
    "transformer.crossing_sleeves": _LEADS,
    "leads": _LEADS,
    "lead": _LEADS,
    "sleeve": _LEADS,
}


# What nobody described at all: a place between two circuits, a transformer.


BETWEEN = {
    "mains poles ahead of the fuse": ("plug side", "[line, neutral]"),
    "mains poles behind the fuse": ("behind the fuse", "[line, neutral]"),
    "across the fuse": ("across the fuse", "[line, after …]"),
    "primary to secondary": ("under the transformer", "[primary, secondary]"),
    "primary to earth": ("primary to earth", "[primary, earth]"),
    "primary to touchable parts": ("primary to the case", "[primary, touchable]"),
}


_PLAIN = re.compile(r"[^\W_](?:[\w .()/+-]*[\w.()/+])?")  # a key that YAML takes as it stands


def _key_text(name: str) -> str:
    """A name as a key: in quotes where YAML would take a sign of it for its own (`: `, ` #`, a leading `*`)."""
    return name if _PLAIN.fullmatch(name) else "'" + name.replace("'", "''") + "'"


def _between(name: str, circuits: str) -> tuple[str, ...]:
    return (
        "barriers:",
        f"  {_key_text(name)}:",
        f"    between: {circuits}",
        f"    clearance: {SLOT}  # such as 3.2 mm (measured)",
        f"    creepage: {SLOT}  # such as 4.0 mm (measured)",
    )


def described(about: str, role: str, topology: str = "") -> tuple[str, ...]:
    """The lines that describe what a rule found none of: a barrier of a role, a transformer."""
    own = _of_topology(topology).get("transformer described")
    if own is not None and about in ("transformer", "winding pair", "winding"):
        return ("transformers:", "  T1:", *own.split("\n"))
    if about == "barrier" and role in BETWEEN:
        return _between(*BETWEEN[role])
    if about in ("transformer", "winding pair", "winding"):
        return (
            "transformers:",
            "  T1:",
            f"    core: {{tied_to: {SLOT}}}  # such as bulk minus, or floating",
            "    windings:",
            f"      primary: {{turns: {SLOT}, wire: {SLOT}}}  # such as 84, enamelled",
            f"      secondary: {{turns: {SLOT}, wire: {SLOT}}}  # such as 12, triple-insulated",
            f"    from_core_outwards: [{SLOT}]  # such as [primary, tape 3 layers, secondary]",
        )
    return ()
