"""The shape of a design file: which blocks and keys there are, and what each holds.

pydantic reads the nodes against these models and gathers everything that is wrong; the leaves read their own text
(`stated.py`). Fields that are facts of the vocabulary carry its names, so that a fact `rated.voltage` is the key
`voltage` of the block `rated`.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict

import derate.design.without_plugins  # noqa: F401  (before the first model)
from derate.design import fact_block
from derate.design.fact_block import FactBlock
from derate.design.stated import AnyNode, Leaf, Line, Lines, fact


class Block(BaseModel):
    """A block of keys; a key that is not known is an error."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True, populate_by_name=True)


# Blocks that are nothing but facts of the vocabulary (fact_block.py).
Part = Annotated[FactBlock, Leaf(fact_block.part, fact_block.part.shape)]
Core = Annotated[FactBlock, Leaf(fact_block.core, fact_block.core.shape)]
Winding = Annotated[FactBlock, Leaf(fact_block.winding, fact_block.winding.shape)]


class PlateOutput(Block):
    """One output as the plate states it; the percentage is the regulation."""

    voltage: fact("plate.voltage", "regulation") = None  # type: ignore[valid-type]
    current: fact("plate.current") = None  # type: ignore[valid-type]
    short_time: fact("plate.short_time") = None  # type: ignore[valid-type]
    port: Line | None = None
    data_lines: Line | None = None


class Plate(Block):
    """What the plate says, true or not."""

    text: Line | None = None
    mains: fact("plate.mains") = None  # type: ignore[valid-type]
    frequency: fact("plate.frequency") = None  # type: ignore[valid-type]
    mains_current: fact("plate.mains_current") = None  # type: ignore[valid-type]
    power: fact("plate.power") = None  # type: ignore[valid-type]
    outputs: dict[str, PlateOutput] = {}
    marks: Lines | None = None


class Supply(Block):
    """What the file is about and what it rests on."""

    name: Line
    basis: fact("supply.basis") = None  # type: ignore[valid-type]
    sample: Line | None = None
    documents: Lines | None = None
    topology: fact("supply.topology") = None  # type: ignore[valid-type]
    protection_class: fact("supply.protection_class") = None  # type: ignore[valid-type]
    parts_list: fact("supply.parts_list") = None  # type: ignore[valid-type]
    connection: fact("supply.connection") = None  # type: ignore[valid-type]
    efficiency: fact("supply.efficiency") = None  # type: ignore[valid-type]
    runs_down_to: fact("supply.runs_down_to") = None  # type: ignore[valid-type]
    photos: Line | None = None
    plate: Plate = Plate()


class Site(Block):
    """Where it is used: climate, mains, air inside."""

    ambient: fact("site.ambient") = None  # type: ignore[valid-type]
    altitude: fact("site.altitude") = None  # type: ignore[valid-type]
    pollution_degree: fact("site.pollution_degree") = None  # type: ignore[valid-type]
    overvoltage_category: fact("site.overvoltage_category") = None  # type: ignore[valid-type]
    mains_tolerance: fact("site.mains_tolerance") = None  # type: ignore[valid-type]
    inside_rise: fact("site.inside_rise") = None  # type: ignore[valid-type]
    mains_resistance: fact("site.mains_resistance") = None  # type: ignore[valid-type]
    mains_inductance: fact("site.mains_inductance") = None  # type: ignore[valid-type]
    prospective_current: fact("site.prospective_current") = None  # type: ignore[valid-type]
    surge: fact("site.surge") = None  # type: ignore[valid-type]
    switch_ons: fact("site.switch_ons") = None  # type: ignore[valid-type]


class Control(Block):
    """How the switch is controlled; the names are parts, windings or outputs."""

    type: fact("control.type") = None  # type: ignore[valid-type]
    frequency: fact("control.frequency") = None  # type: ignore[valid-type]
    by: Line | None = None
    limits: Line | None = None
    senses: Lines | None = None
    through: Lines | None = None
    divider: dict[str, Line] | None = None
    reference: Line | None = None


class Clamp(Block):
    """What clamps the switch node, and across what."""

    across: Line
    path: AnyNode


class Earth(Block):
    """What is joined to the earth pin, and how well."""

    joined_to: Lines | None = None
    by: Line | None = None
    resistance: fact("earth.resistance") = None  # type: ignore[valid-type]


class Circuit(Block):
    """Where every part sits: paths walked as the current goes."""

    line: AnyNode = None
    input: fact("circuit.input") = None  # type: ignore[valid-type]
    primary: AnyNode = None
    clamp: AnyNode = None
    start_up: AnyNode = None
    auxiliary: AnyNode = None
    outputs: dict[str, AnyNode] = {}
    snubbers: dict[str, AnyNode] = {}
    control: Control = Control()
    bridging: AnyNode = None
    earth: AnyNode = None
    other: AnyNode = None


class Lead(Block):
    """How a winding leaves the transformer."""

    kind: Line | None = None
    length: AnyNode = None
    sleeve: AnyNode = None
    sleeve_reaches: Line | None = None
    ends_in: Line | None = None
    held_by: Line | None = None
    crosses: Lines | None = None


class Transformer(Block):
    """A transformer: core, inductances, windings, and the list of what lies on what."""

    core: Core | None = None
    inductance: fact("transformer.inductance") = None  # type: ignore[valid-type]
    leakage: fact("transformer.leakage") = None  # type: ignore[valid-type]
    insulation_class: fact("transformer.insulation_class") = None  # type: ignore[valid-type]
    windings: dict[str, Winding] = {}
    from_core_outwards: AnyNode = None
    from_outside_inwards: AnyNode = None
    construction: Line | None = None
    margins: fact("transformer.margins") = None  # type: ignore[valid-type]
    leads: dict[str, Lead] = {}


class Slot(Block):
    """A slot in the board."""

    width: fact("barrier.slot_width") = None  # type: ignore[valid-type]
    length: AnyNode = None


class Sheet(Block):
    """A sheet standing in the barrier."""

    thickness: fact("found.insulation_thickness") = None  # type: ignore[valid-type]
    height: AnyNode = None
    material: Line | None = None
    fixed: fact("barrier.sheet_fixed") = None  # type: ignore[valid-type]


class Board(Block):
    """The laminate under the barrier."""

    material: AnyNode = None
    material_group: fact("barrier.material_group") = None  # type: ignore[valid-type]


class Barrier(Block):
    """One place where two circuits come near each other."""

    between: Lines
    clearance: fact("found.clearance") = None  # type: ignore[valid-type]
    creepage: fact("found.creepage") = None  # type: ignore[valid-type]
    insulation: fact("barrier.insulation") = None  # type: ignore[valid-type]
    insulation_thickness: fact("found.insulation_thickness") = None  # type: ignore[valid-type]
    pollution_degree: fact("barrier.pollution_degree") = None  # type: ignore[valid-type]
    slot: Slot | None = None
    sheet: Sheet | None = None
    board: Board | None = None
    legs: AnyNode = None
    note: Line | None = None


class KnownBy(Block):
    """How the values of each block are known, where they do not say so themselves."""

    parts: Line | None = None
    rated: Line | None = None
    circuit: Line | None = None
    transformers: Line | None = None
    barriers: Line | None = None
    readings: Line | None = None
    supply: Line | None = None
    site: Line | None = None


class DesignFile(Block):
    """The whole file."""

    derate: Line
    revision_of: Line | None = None
    supply: Supply
    site: Site = Site()
    packs: Lines | None = None
    known_by: KnownBy = KnownBy()
    parts: dict[str, Part]
    circuit: Circuit = Circuit()
    transformers: dict[str, Transformer] = {}
    barriers: dict[str, Barrier] = {}
    conditions: dict[str, AnyNode] = {}
    readings: AnyNode = None
    tests: AnyNode = None
    inspection: AnyNode = None
    waivers: AnyNode = None
    open_points: AnyNode = None
