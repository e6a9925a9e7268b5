"""The shape of a design file: which blocks and keys there are, and what each holds (the machinery is in `block.py`).

A key that is a fact of the vocabulary is named by its term: `rated: {voltage: …}` is `rated.voltage`.
"""

from __future__ import annotations

from derate.design.block import Each, Shape, facts_of
from derate.design.stated import read_line, read_lines, read_node

# Facts that the project derives and nobody states.
_DERIVED_PART = ("family", "place", "marked_capacitance")
RATED = Shape(facts_of("rated"))
FOUND = Shape({key: f"found.{key}" for key in ("capacitance", "series_resistance", "resistance", "gain")})
PART = Shape(
    facts_of("part", _DERIVED_PART)
    | {"rated": RATED, "found": FOUND, "mounting": Shape(facts_of("mounting")), "note": read_line},
    needed=("kind",),
)
PLATE_OUTPUT = Shape(
    {
        "voltage": "plate.voltage",
        "current": "plate.current",
        "short_time": "plate.short_time",
        "port": "port.kind",
        "data_lines": "port.data_lines",
    },
    percent={"voltage": "regulation"},
)
PLATE = Shape(
    {
        "text": read_line,
        "mains": "plate.mains",
        "frequency": "plate.frequency",
        "mains_current": "plate.mains_current",
        "power": "plate.power",
        "outputs": Each(PLATE_OUTPUT),
        "marks": read_lines,
    },
    always=("outputs",),
)
SUPPLY = Shape(
    facts_of("supply")
    | {"name": read_line, "sample": read_line, "documents": read_lines, "photos": read_line, "plate": PLATE},
    needed=("name",),
    always=("plate",),
)
SITE = Shape(facts_of("site", ("ambient_end",)))
CONTROL = Shape(
    facts_of("control")
    | {
        "by": read_line,
        "limits": read_line,
        "senses": read_lines,
        "through": read_lines,
        "divider": Each(read_line),
        "reference": read_line,
        "coupler_resistor": read_line,
        "bias_resistor": read_line,
        "coupler_supply": read_line,
    }
)
CLAMP = Shape({"across": read_line, "path": read_node}, needed=("across", "path"))
EARTH = Shape({"joined_to": read_lines, "by": read_line, "resistance": "earth.resistance"})
CIRCUIT = Shape(
    {
        "line": read_node,
        "input": "circuit.input",
        "primary": read_node,
        "clamp": read_node,
        "start_up": read_node,
        "auxiliary": read_node,
        "outputs": Each(read_node),
        "snubbers": Each(read_node),
        "control": CONTROL,
        "bridging": read_node,
        "earth": read_node,
        "other": read_node,
    },
    always=("outputs", "snubbers", "control"),
)
WINDING = Shape(facts_of("winding") | {"pins": read_lines, "note": read_line})
LEAD = Shape(
    {
        "kind": read_line,
        "length": read_node,
        "sleeve": read_node,
        "sleeve_reaches": read_line,
        "ends_in": read_line,
        "held_by": read_line,
        "crosses": read_lines,
    }
)
TRANSFORMER = Shape(
    {
        "core": Shape(facts_of("core")),
        "inductance": "transformer.inductance",
        "leakage": "transformer.leakage",
        "insulation_class": "transformer.insulation_class",
        "margins": "transformer.margins",
        "windings": Each(WINDING),
        "leads": Each(LEAD),
        "from_core_outwards": read_node,
        "from_outside_inwards": read_node,
        "construction": read_line,
    },
    always=("windings", "leads"),
)
BARRIER = Shape(
    {
        "between": read_lines,
        "clearance": "found.clearance",
        "creepage": "found.creepage",
        "insulation": "barrier.insulation",
        "insulation_thickness": "found.insulation_thickness",
        "pollution_degree": "barrier.pollution_degree",
        "note": read_line,
        "legs": read_node,
        "slot": Shape({"width": "barrier.slot_width", "length": read_node}),
        "sheet": Shape(
            {
                "thickness": "found.insulation_thickness",
                "height": read_node,
                "material": read_line,
                "fixed": "barrier.sheet_fixed",
            }
        ),
        "board": Shape({"material": read_node, "material_group": "barrier.material_group"}),
    },
    needed=("between",),
)
KNOWN_BY = Shape(
    dict.fromkeys(
        ("parts", "rated", "circuit", "transformers", "barriers", "readings", "supply", "site", "inspection"), read_line
    )
)
DESIGN = Shape(
    {
        "derate": read_line,
        "revision_of": read_line,
        "supply": SUPPLY,
        "site": SITE,
        "packs": read_lines,
        "known_by": KNOWN_BY,
        "parts": Each(PART),
        "circuit": CIRCUIT,
        "transformers": Each(TRANSFORMER),
        "barriers": Each(BARRIER),
        "conditions": Each(read_node),
        "readings": read_node,
        "tests": read_node,
        "inspection": read_node,
        "waivers": read_node,
        "open_points": read_node,
    },
    needed=("derate", "supply", "parts"),
    always=("site", "known_by", "circuit", "transformers", "barriers", "conditions"),
)
