"""The blocks of a design file: which keys each has and what stands under them. This is the table (see `record.py`).

The circuit stands in `circuit.py`, what was done at the bench in `bench.py`, waivers in `settings.py`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Self

from derate.design.bench import ConditionBlock, Inspection, ReadingBlock, TestBlock
from derate.design.circuit import Circuit, CircuitForm, PathForm, Seen, circuit_of, recognised
from derate.design.forms import Count, Legs, LegsForm, PartKind, Told, Usual
from derate.design.kinds import possible
from derate.design.names import names
from derate.design.plain_forms import NOTHING, Block, Each, ListOf, block, each, fact, figure, formed, line, lines, word
from derate.design.record import Name, Record, Schema, Stated
from derate.design.settings import OpenPointRecord, OpenPoints, WaiverRecord, Waivers
from derate.design.transformers import Transformer
from derate.terms.dimension import LENGTH
from derate.terms.instructions import Instruction, closed, opened, papers, told
from derate.terms.values import Category, Problem
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import EVIDENCE
from derate.text.nodes import Mapping as MappingNode
from derate.text.nodes import Node, Scalar, Sequence

# Words that rules ask for. Others may stand there; what is very near to one of these is a slip.
MARKS = ("double square", "indoor use", "output polarity", "maker", "model")
BODIES = ("ceramic case", "ceramic", "cement", "cement coating", "flameproof coating", "silicone cement", "lacquer")
SLEEVES = ("none", "glass fibre", "silicone glass fibre", "silicone", "heat-shrink")
_WRITTEN = tuple(word for word in EVIDENCE if word != "computed")  # that is what the tool itself does
_ONCE = papers("say it once for all values of the block")


class Battery(Record, prefix="battery"):
    """The battery that an output charges."""

    kind: Stated | None = fact()
    cells: Stated | None = fact()
    charging_current: Stated | None = fact()
    ends_by: Stated | None = fact()
    protection: Stated | None = fact()
    reversed: Stated | None = fact()


class PlateOutput(Record, prefix="plate"):
    """One output as the plate gives it."""

    voltage: Stated | None = fact(percent="regulation")
    current: Stated | None = fact()
    short_time: Stated | None = fact()
    port: Stated | None = fact("port.kind")
    data_lines: Stated | None = fact("port.data_lines")
    battery: Battery | None = block(Battery, "the battery it charges")

    @classmethod
    def read(cls, node: Node, problems: list[Problem]) -> Self:
        """The output; one line of text, as on the plate, is answered with what to write."""
        if isinstance(node, Scalar) and node.text.strip():
            from derate.text.advice import of_output

            what = f"'{node.text.strip()[:60]}' stands where the keys of an output are wanted"
            problems.append(Problem(node.start, what, of_output(node.text)))
            return cls(node.place)
        made = super().read(node, problems)
        if made.voltage is not None and made.voltage.statistic == "rms":
            what = f"'{made.voltage.text}' is an output of alternating voltage, which is not worked out here"
            problems.append(
                Problem(made.voltage.place, what, "leave it out, and write what the plate says as its text")
            )
        return made

    lead_current: Stated | None = fact("port.lead_current")


class Plate(Record, prefix="plate"):
    """The rating plate, true or not."""

    text: str | None = line("the plate as printed", closed("copy it"), "INPUT 100-240V~ 50/60Hz 0.5A")
    mains: Stated | None = fact()
    frequency: Stated | None = fact()
    mains_current: Stated | None = fact()
    power: Stated | None = fact()
    outputs: Mapping[str, PlateOutput] = each(
        PlateOutput, "outputs, each under a name of your own", closed("read the plate")
    )
    marks: tuple[str, ...] | None = lines(
        "marks on the plate", closed("read the rating plate"), "[double square, maker]", usual=MARKS, default=None
    )


class Supply(Record, prefix="supply"):
    """The supply as a whole."""

    name: str = line("name of the supply", papers("your own name for it"), "Desk lamp adapter", needed=True)
    topology: Stated | None = fact()
    protection_class: Stated | None = fact()
    basis: Stated | None = fact()
    parts_list: Stated | None = fact()
    efficiency: Stated | None = fact()
    connection: Stated | None = fact()
    regulated: Stated | None = fact()
    mains_switch: Stated | None = fact()
    runs_down_to: Stated | None = fact()
    sample: str | None = line("which sample this is", papers("label it before you open it"), "third of three")
    samples: int | None = formed(
        Count("samples whose readings stand in this file", "sample"),
        how=papers("count them, and label each before it is opened"),
        example="5",
    )
    documents: tuple[str, ...] = lines(
        "papers it rests on", papers("title and edition of each"), "[maker's data sheet]"
    )
    photos: str | None = line("folder of its photos", papers("a folder beside the file"), "photos/")
    plate: Plate = block(Plate, "the rating plate", always=True)


class Site(Record, prefix="site"):
    """Where it will stand."""

    ambient: Stated | None = fact()
    hours: Stated | None = fact()
    altitude: Stated | None = fact()
    pollution_degree: Stated | None = fact()
    overvoltage_category: Stated | None = fact()
    mains_tolerance: Stated | None = fact()
    inside_rise: Stated | None = fact()
    mains_resistance: Stated | None = fact()
    mains_inductance: Stated | None = fact()
    prospective_current: Stated | None = fact(
        "site.prospective_current", how=told("loop tester at the socket", "mains wiring")
    )
    surge: Stated | None = fact()
    switch_ons: Stated | None = fact()


class Rated(Record, prefix="rated"):
    """What a part is rated for."""

    voltage: Stated | None = fact()
    surge_voltage: Stated | None = fact()
    reverse_voltage: Stated | None = fact()
    collector_base_voltage: Stated | None = fact()
    emitter_base_voltage: Stated | None = fact()
    gate_voltage: Stated | None = fact()
    collector_emitter_voltage: Stated | None = fact()
    current: Stated | None = fact()
    surge_current: Stated | None = fact()
    saturation_current: Stated | None = fact()
    breaking_capacity: Stated | None = fact()
    melting_i2t: Stated | None = fact()
    clearing_i2t: Stated | None = fact()
    power: Stated | None = fact()
    pulse_power: Stated | None = fact()
    pulse_energy: Stated | None = fact()
    pulse_i2t: Stated | None = fact()
    pulse_count: Stated | None = fact()
    energy: Stated | None = fact()
    avalanche_energy: Stated | None = fact()
    opens_within: Stated | None = fact()
    voltage_after_opening: Stated | None = fact()
    resistance_after_opening: Stated | None = fact()
    clamping_voltage: Stated | None = fact()
    forward_voltage: Stated | None = fact()
    recovery_time: Stated | None = fact()
    dropout_voltage: Stated | None = fact()
    on_resistance: Stated | None = fact()
    series_resistance: Stated | None = fact()
    ripple_current: Stated | None = fact()
    life: Stated | None = fact()
    temperature: Stated | None = fact()
    junction: Stated | None = fact()
    junction_to_case: Stated | None = fact()
    junction_to_lead: Stated | None = fact()
    junction_to_air: Stated | None = fact()
    supply: Stated | None = fact()
    starts_at: Stated | None = fact()
    stops_at: Stated | None = fact()
    clearance: Stated | None = fact()
    creepage: Stated | None = fact()
    insulation_thickness: Stated | None = fact()
    transfer_ratio: Stated | None = fact()
    transfer_ratio_left: Stated | None = fact()
    transfer_ratio_by_temperature: Stated | None = fact()
    led_current: Stated | None = fact()
    insulation_class: Stated | None = fact()
    voltage_slope: Stated | None = fact()
    base_current: Stated | None = fact()
    saturation_voltage: Stated | None = fact()
    base_emitter_voltage: Stated | None = fact()
    gain: Stated | None = fact()
    fall_time: Stated | None = fact()
    storage_time: Stated | None = fact()
    reverse_bias_area: Stated | None = fact()
    junction_capacitance: Stated | None = fact()
    capacitance: Stated | None = fact()
    dissipation_factor: Stated | None = fact()
    impedance_ratio: Stated | None = fact()
    cold_impedance: Stated | None = fact()
    end_of_life_capacitance_change: Stated | None = fact()
    end_of_life_resistance_ratio: Stated | None = fact()
    core_rise: Stated | None = fact()
    voltage_exponent: Stated | None = fact()


class Found(Record, prefix="found"):
    """What was measured on this sample: it takes the place of the mark."""

    capacitance: Stated | None = fact()
    series_resistance: Stated | None = fact(
        "found.series_resistance", how=opened("LCR meter, out of circuit, discharged")
    )
    resistance: Stated | None = fact("found.resistance", how=opened("ohmmeter, out of circuit"))
    gain: Stated | None = fact("found.gain", how=opened("transistor tester, out of circuit"))


class Mounting(Record, prefix="mounting"):
    """How a part is mounted."""

    body: Stated | None = formed(
        Usual(VOCABULARY["mounting.body"], BODIES), how=opened("look at it"), example="ceramic case"
    )
    sleeve: Stated | None = formed(
        Usual(VOCABULARY["mounting.sleeve"], SLEEVES), how=opened("look at it"), example="none"
    )
    above_board: Stated | None = fact()
    to_plastic: Stated | None = fact()


class Part(Record, prefix="part"):
    """One part. Its kind may stand alone with its figures on one line: `film resistor 0.82 ohm 1% 1 W`."""

    part: str | None = formed(
        Told("its order code or type in a library of parts"),
        how=opened("copy the mark on the part; derate parts lists those that are known"),
        example="1N4007 (marked)",
    )
    maker: str | None = formed(
        Told("its maker, where the library gives figures of single ones"),
        how=opened("read the logo on the part"),
        example="Lindholm",
    )
    kind: Stated = formed(PartKind(VOCABULARY["part.kind"]), example="film resistor", needed=True)
    fitted: Stated | None = fact("part.fitted", how=opened("look at the position: yes, no (open pads), wired over"))
    class_mark: Stated | None = fact(key="class")
    standard: Stated | None = fact()
    characteristic: Stated | None = fact()
    dielectric: Stated | None = fact("part.dielectric", how=papers("read it from the part's data sheet"))
    technology: Stated | None = fact()
    temperature_coefficient: Stated | None = fact()
    temperature_slope: Stated | None = fact()
    marking: Stated | None = fact("part.marking", how=opened("copy the mark on the part"))
    resistance: Stated | None = fact()
    capacitance: Stated | None = fact()
    inductance: Stated | None = fact()
    leakage: Stated | None = fact()
    output_capacitance: Stated | None = fact()
    hot_resistance: Stated | None = fact()
    b_constant: Stated | None = fact()
    dissipation: Stated | None = fact()
    cools_in: Stated | None = fact()
    width: Stated | None = fact()
    length: Stated | None = fact()
    thickness: Stated | None = fact()
    nominal_voltage: Stated | None = fact()
    voltage: Stated | None = fact()
    current_limit: Stated | None = fact()
    limit_current: Stated | None = fact()
    base_drive: Stated | None = fact()
    base_current: Stated | None = fact()
    recovery_current: Stated | None = fact()
    ringing: Stated | None = fact()
    switching_time: Stated | None = fact()
    limit_delay: Stated | None = fact()
    quiescent_current: Stated | None = fact()
    shorted_pause: Stated | None = fact()
    fold_back: Stated | None = fact()
    open_load_stop: Stated | None = fact()
    greatest_duty: Stated | None = fact()
    feedback_current: Stated | None = fact()
    feedback_voltage: Stated | None = fact()
    overvoltage_stop: Stated | None = fact()
    position: Stated | None = fact()
    heatsink: Stated | None = fact(
        "part.heatsink", how=told("data sheet of the heatsink, or by its size", "papers", "opened")
    )
    rated: Rated | None = block(Rated, "what it is rated for")
    found: Found | None = block(Found, "what was measured on this sample")
    mounting: Mounting | None = block(Mounting, "how it is mounted")
    note: str | None = line("a note", papers("your own words"), "browned")

    @classmethod
    def schema(cls) -> Schema:
        """That of its keys; what it is stands under `kind`, or in the library that `part` names."""
        shape = super().schema()
        if "part" in cls.fields:
            needed = [key for key in shape.pop("required") if key != "kind"]
            shape["anyOf"] = [{"required": [*needed, "kind"]}, {"required": [*needed, "part"]}]
        return shape


def material(says: str, how: Instruction, example: str) -> Any:
    """A text of the author's own, with a bracket of evidence or without."""
    return formed(Told(says), how=how, example=example)


class Slot(Record):
    """A slot in the board of a barrier."""

    width: Stated | None = fact("barrier.slot_width", how=opened("feeler gauge"))
    length: Stated | None = figure(LENGTH, "length of the slot", opened("calliper"), example="22 mm")


class Sheet(Record):
    """A sheet that stands in a barrier."""

    thickness: Stated | None = fact("found.insulation_thickness")
    height: Stated | None = figure(LENGTH, "height of the sheet", opened("calliper"), example="9 mm")
    material: str | None = material(
        "material of the sheet", told("ask its maker", "papers", "third party"), "polyester"
    )
    fixed: Stated | None = fact("barrier.sheet_fixed", how=opened("try to move it"))


class Board(Record):
    """The board under a barrier."""

    material: str | None = material("material of the board", opened("look at it, or ask its maker"), "FR-4 (assumed)")
    material_group: Stated | None = fact("barrier.material_group")


class Barrier(Record):
    """One place where two circuits come near each other, as built."""

    between: tuple[Name, ...] = names(
        "the two circuits it separates",
        "point",
        how=opened("trace the conductors on either side"),
        exactly=2,
        needed=True,
        example="[primary, secondary]",
        write="[primary, secondary]",
    )
    clearance: Stated | None = fact("found.clearance")
    creepage: Stated | None = fact("found.creepage")
    insulation: Stated | None = fact("barrier.insulation", how=papers("ask what the equipment's own standard asks"))
    insulation_thickness: Stated | None = fact("found.insulation_thickness")
    pollution_degree: Stated | None = fact(
        "barrier.pollution_degree", how=papers("2 where dust and damp settle, 1 if sealed")
    )
    note: str | None = line("a note", papers("your own words"), "under the heatsink")
    legs: Legs | None = formed(
        LegsForm(), how=opened("measure each along the surface"), example="[2.5 mm, floating copper 1.5 mm, 4.0 mm]"
    )
    slot: Slot | None = block(Slot, "a slot in the board")
    sheet: Sheet | None = block(Sheet, "a sheet that stands in it")
    board: Board | None = block(Board, "the board")


class KnownBy(Record):
    """How the values of a block are known that do not say so themselves."""

    parts: str | None = word("way parts are known", _WRITTEN, _ONCE)
    rated: str | None = word("way ratings are known", _WRITTEN, _ONCE)
    circuit: str | None = word("way the circuit is known", _WRITTEN, _ONCE)
    transformers: str | None = word("way transformers are known", _WRITTEN, _ONCE)
    barriers: str | None = word("way barriers are known", _WRITTEN, _ONCE)
    readings: str | None = word("way readings and tests are known", _WRITTEN, _ONCE)
    supply: str | None = word("way the supply is known", _WRITTEN, _ONCE)
    site: str | None = word("way the site is known", _WRITTEN, _ONCE)
    inspection: str | None = word("way what was looked at is known", _WRITTEN, _ONCE)


class DesignFile(Record):
    """The whole file."""

    derate: str | None = line("version of the format", papers("write 1"), "1", needed=True)
    revision_of: str | None = line("the file that this one revises", papers("a path from here"), "first.derate.yaml")
    supply: Supply = formed(Block(Supply, "the supply as a whole"), needed=True, always=True)
    site: Site = block(Site, "where it will stand", always=True)
    packs: tuple[str, ...] = lines(
        "rule packs it is held to", papers("derate rules lists them"), "[commercial-practice]"
    )
    known_by: KnownBy = block(KnownBy, "how values are known that do not say so", always=True)
    parts: Mapping[str, Part] = formed(
        Each(Block(Part), "every part under its designator"),
        how=opened("go over the board position by position"),
        needed=True,
        default=NOTHING,
    )
    circuit: Circuit = formed(CircuitForm(), how=opened("trace it from the plug"), always=True)
    transformers: Mapping[str, Transformer] = each(
        Transformer, "transformers by designator", told("measure, then unwind", "opened", "destructive")
    )
    barriers: Mapping[str, Barrier] = each(
        Barrier,
        "places where two circuits come near each other, each under a name of your own",
        opened("the board cleaned"),
    )
    conditions: Mapping[str, ConditionBlock] = each(
        ConditionBlock,
        "conditions that readings name, each under a name of your own",
        papers("beside those of the plate"),
    )
    readings: tuple[ReadingBlock, ...] = formed(
        ListOf(Block(ReadingBlock), "readings"),
        "what was measured, simulated or stated",
        told("instruments, with their uncertainty", "running", "sensor", "probed"),
        default=(),
    )
    tests: tuple[TestBlock, ...] = formed(
        ListOf(Block(TestBlock), "tests"),
        "what was done to the sample, with its outcome",
        told("trained people, with a guarded set-up", "high voltage", "fault", "overload"),
        default=(),
    )
    inspection: Inspection = block(Inspection, "what was looked at", always=True)
    waivers: tuple[WaiverRecord, ...] = formed(
        Waivers(), "fails that somebody accepts, up to a ratio and until a day", papers("sign for it"), default=()
    )
    open_points: tuple[OpenPointRecord, ...] = formed(
        OpenPoints(),
        "what nobody has looked at yet, and why that is accepted until a day",
        papers("sign for it"),
        default=(),
    )

    @classmethod
    def read(cls, node: Node, problems: list[Problem]) -> Self:
        """The file; its circuit by the keys of its topology."""
        if not isinstance(node, MappingNode):
            return super().read(node, problems)
        circuit = node.get("circuit")
        rest = tuple((key, value) for key, value in node.entries if key.text != "circuit")
        found = super().read(MappingNode(rest, node.place), problems)
        stated = found.supply.topology
        keys = [key.text for key, _ in circuit.entries] if isinstance(circuit, MappingNode) else []
        word = stated.word or "" if stated is not None else ""
        if not word and isinstance(circuit, MappingNode):
            word = cls._recognised(found, circuit)
        record = circuit_of(word, keys)
        found.circuit = record.read(circuit, problems) if circuit is not None else record(node.place)
        return found

    @staticmethod
    def _recognised(found: DesignFile, circuit: MappingNode) -> str:
        """The one topology that the parts and paths can be, said as a fact of the file; '' where none is sure."""
        common = tuple((key, value) for key, value in circuit.entries if key.text in Circuit.fields)
        plain = Circuit.read(MappingNode(common, circuit.place), [])
        told = recognised(
            Seen(
                plain.line or (),
                tuple(path for path in plain.outputs.values() if path),
                {name: possible(one.kind.word or "") if one.kind else () for name, one in found.parts.items()},
                frozenset(f"{name}.{winding}" for name, one in found.transformers.items() for winding in one.windings),
                frozenset(key.text for key, _ in circuit.entries),
                {
                    key.text: PathForm().read(value, []) or ()
                    for key, value in circuit.entries
                    if key.text not in Circuit.fields and isinstance(value, Sequence)
                },
            )
        )
        if told is None:
            return ""
        word, why = told
        key = circuit.key("line")
        place = key.place if key is not None else circuit.place
        found.supply.topology = Stated(Category.of(word), place, "computed", f"recognised: {why}")
        return word
