"""What was done at the bench, as a file says it: conditions, readings, captures, tests and what was looked at."""

from __future__ import annotations

import re
from collections.abc import Iterator
from math import inf
from typing import Any

from derate.design.forms import READ_AT, Count, Look, Looks, Usual
from derate.design.names import OneName, name, names
from derate.design.plain_forms import Figure, Word, block, fact, figure, formed, line, one_of, word
from derate.design.record import Field, Form, Name, Record, Schema, Stated, evidence, from_quantity, said
from derate.design.samples import RETESTS, Sample, SampleForm
from derate.terms.dimension import CELSIUS, CURRENT, FREQUENCY, NUMBER, RESISTANCE, TIME, VOLTAGE
from derate.terms.instructions import NO_INSTRUCTION, closed, opened, papers, running, sensor, told
from derate.terms.tuples import NamedTuple
from derate.terms.values import Place, Problem, ReadingError, Value
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import EVIDENCE, RESULTS, TESTS
from derate.text.nodes import Mapping as MappingNode
from derate.text.nodes import Node, Scalar
from derate.text.quantity import read_quantity

LOADS = ("full", "none", "shorted", "overload")
BY_RESISTANCE = "change of resistance"
TAKEN_WITH = (BY_RESISTANCE, "thermocouple in the winding", "thermocouple outside the tape", "infrared")
SWITCH_ONS = ("cold", "cold at crest", "cold at zero crossing", "hot", "hot at crest", "hot at zero crossing")
_WRITTEN = tuple(word for word in EVIDENCE if word != "computed")
_KNOWN = ("way it is known", _WRITTEN, papers("the surest that is true"))
_METER = told("read it with an instrument, and say which by its uncertainty", "running", "sensor", "probed")


def _is_figure(text: str) -> bool:
    """Whether a text is meant as a figure and not as a word."""
    bounds = ("under ", "over ", "about ", "up to ", "at least ", "at most ", "<", ".")
    return text[:1].isdigit() or text.startswith(bounds)


class Load(NamedTuple):
    """A load: a word, or the currents by output ('' the only one)."""

    word: str = ""
    currents: tuple[tuple[str, Stated], ...] = ()


class LoadForm(Form):
    """full, none, shorted, overload, a current, or currents by output."""

    has_names = True
    says = "load"

    def read(self, node: Node, problems: list[Problem]) -> Load | None:
        """The load; None for unknown."""
        current = Figure(CURRENT, "a current", NO_INSTRUCTION, "uncertainty")
        if isinstance(node, Scalar):
            text = said(node, "a load", problems)
            if text is None or text == "unknown":
                return None
            if text in LOADS:
                return Load(text)
            if not _is_figure(text):
                problems.append(one_of(text, node.place, (*LOADS, "0.8 A", "{main: 0.8 A}"), "load"))
                return None
            stated = current.read(node, problems)
            return Load(currents=(("", stated),)) if stated is not None else None
        if isinstance(node, MappingNode):
            found: list[tuple[str, Stated]] = []
            if not node.entries:
                problems.append(Problem(node.place, "a load of no output says nothing", "write none, or {main: 0.8 A}"))
            for key, value in node.entries:
                stated = current.read(value, problems)
                if stated is not None:
                    found.append((Name.at(key.text, key.start, ("output",)), stated))
            return Load(currents=tuple(found))
        problems.append(
            Problem(
                node.place,
                "a load is a word, a current or a block",
                "write full, none, overload, 0.8 A or {main: 0.8 A}",
            )
        )
        return None

    def names(self, value: Load) -> Iterator[Name]:
        """The outputs whose currents it gives."""
        for output, _ in value.currents:
            if isinstance(output, Name):
                yield output

    def schema(self) -> Schema:
        """A text, or currents by output."""
        return {"anyOf": [{"type": "string"}, {"type": "object", "additionalProperties": {"type": "string"}}]}

    def written(self) -> str:
        """Its words."""
        return f"{', '.join(LOADS)}, a current in A, or OUTPUT: current"


# A supply of under 100 W has settled within an hour (common practice, no source). Sooner, `steady` says what the
# instrument showed: no more than 3 K in half an hour (steady state in IEC 62368-1 B.1.6, quoted in a public thread).
STEADY = 3600.0  # s
_STEADY = "steady"


class AfterForm(Figure):
    """A time, or that nothing rose any more."""

    def read(self, node: Node, problems: list[Problem]) -> Stated | None:
        """The time; the word is an hour and more."""
        if isinstance(node, Scalar) and node.text == _STEADY:
            return Stated(Value(STEADY, STEADY, inf, inf), node.place, text=_STEADY)
        return super().read(node, problems)

    def written(self) -> str:
        """The unit and the word."""
        return f"{super().written()}, or {_STEADY}"


class ConditionBlock(Record):
    """The condition of a reading: mains and load at least."""

    called = "a condition"
    mains: Stated | None = figure(
        VOLTAGE,
        "mains voltage",
        running("voltmeter with guarded leads at the output of the isolating transformer"),
        example="230 V",
        percent="uncertainty",
        kind="mains",
    )
    frequency: Stated | None = figure(
        FREQUENCY, "mains frequency", papers("that of the mains"), percent="uncertainty", kind="mains frequency"
    )
    load: Load | None = formed(
        LoadForm(), how=running("the electronic load, or the resistor and the voltage"), example="full"
    )
    ambient: Stated | None = figure(
        CELSIUS,
        "air beside the supply",
        running("thermometer half a metre away"),
        example="24 degC",
        percent="uncertainty",
    )
    after: Stated | None = formed(
        AfterForm(
            TIME,
            "time since it was switched on",
            sensor("watch; steady: no thermocouple rose by more than 3 K in half an hour"),
            "uncertainty",
        ),
        example="60 min",
    )
    switch_on: str | None = word("switch-on that was caught", SWITCH_ONS, papers("cold: off for an hour and more"))
    note: str | None = line("a note", papers("your own words"), "on an isolating transformer")


class AtForm(Form):
    """The condition of a reading: one named under `conditions`, or a block."""

    has_names = True
    says = "condition it was taken at"

    def read(self, node: Node, problems: list[Problem]) -> Name | ConditionBlock | None:
        """The name, or the block."""
        if isinstance(node, Scalar):
            return OneName(("condition",), says="a condition").read(node, problems)
        return ConditionBlock.read(node, problems)

    def names(self, value: Any) -> Iterator[Name]:
        """The name of the condition, or those in its block."""
        if isinstance(value, Name):
            yield value
        elif isinstance(value, ConditionBlock):
            yield from value.names()

    def schema(self) -> Schema:
        """Either."""
        return {"anyOf": [{"type": "string"}, ConditionBlock.schema()]}

    def written(self) -> str:
        """Either."""
        return "a condition by name, or a block"


class Read(NamedTuple):
    """One figure of a reading: of what ('' the supply), at which named condition, at which frequency [Hz]."""

    target: str
    stated: Stated
    at: Name | None = None
    at_frequency: float | None = None


class ReadForm(Figure):
    """The figures of one quantity: one, by what was read, or by that and the condition."""

    has_names = True

    def __init__(self, quantity: str) -> None:
        term = VOCABULARY[quantity]
        assert term.dimension is not None
        super().__init__(term.dimension, term.says, term.how or _METER, "uncertainty", quantity)
        self.by_frequency = quantity == "ripple_current"

    def read(self, node: Node, problems: list[Problem]) -> Any:
        """Every figure."""
        if isinstance(node, Scalar):
            stated = super().read(node, problems)
            return (Read("", stated),) if stated is not None else ()
        if not isinstance(node, MappingNode):
            problems.append(Problem(node.place, f"{self.says} is stated by part or output", "write {C1: 48 degC}"))
            return ()
        found: list[Read] = []
        for key, value in node.entries:
            target = Name.at(key.text, key.start, (*READ_AT, "place"))
            if not isinstance(value, MappingNode):
                stated = super().read(value, problems)
                found += [Read(target, stated)] if stated is not None else []
                continue
            for inner, each in value.entries:
                stated = super().read(each, problems)
                hertz = self._hertz(inner)
                at = None if hertz is not None else Name.at(inner.text, inner.start, ("condition",))
                if stated is not None:
                    found.append(Read(target, stated, at, hertz))
        return tuple(found)

    def _hertz(self, key: Scalar) -> float | None:
        if not self.by_frequency:
            return None
        try:
            return read_quantity(key.text, key.start, FREQUENCY).nominal
        except ReadingError:
            return None

    def names(self, value: tuple[Read, ...]) -> Iterator[Name]:
        """What was read, and the conditions."""
        for one in value:
            if isinstance(one.target, Name) and one.target.kinds:
                yield one.target
            if one.at is not None:
                yield one.at

    def schema(self) -> Schema:
        """A text, by target, or by target and condition."""
        one = super().schema()
        return {
            "anyOf": [
                one,
                {
                    "type": "object",
                    "additionalProperties": {"anyOf": [one, {"type": "object", "additionalProperties": one}]},
                },
            ]
        }

    def written(self) -> str:
        """Its unit."""
        return f"{super().written()}: one, by part or output, or by that and the condition"


def _read(quantity: str) -> Any:
    return formed(ReadForm(quantity), default=())


class WindowForm(Form):
    """A window of time [s]; times before the trigger are negative, which no quantity of a part is."""

    says = "window of time"

    def read(self, node: Node, problems: list[Problem]) -> tuple[float, float] | None:
        """Its two ends [s]."""
        text = node.text.strip() if isinstance(node, Scalar) else ""
        found = re.fullmatch(r"(-?\d+(?:\.\d+)?)\s*\.\.\s*(-?\d+(?:\.\d+)?)\s*(s|ms|us|ns)", text)
        if found is None or float(found[1]) >= float(found[2]):
            problems.append(Problem(node.place, "a window of time is wanted here", "write -2..0 ms"))
            return None
        return float(found[1]) * TIME_UNITS[found[3]], float(found[2]) * TIME_UNITS[found[3]]

    def schema(self) -> Schema:
        """A text."""
        return {"type": "string"}

    def written(self) -> str:
        """As typed."""
        return "s, from and to"


class SignalForm(Form):
    """One part and the column of its samples."""

    has_names = True

    def __init__(self, quantity: str) -> None:
        self.quantity = quantity
        self.says = f"{quantity} that was captured"

    def read(self, node: Node, problems: list[Problem]) -> tuple[Name, str] | None:
        """Part and column."""
        if isinstance(node, MappingNode) and len(node.entries) == 1 and isinstance(node.entries[0][1], Scalar):
            key, value = node.entries[0]
            assert isinstance(value, Scalar)
            return Name.at(key.text, key.start, READ_AT), value.text
        problems.append(Problem(node.place, f"{self.quantity} names one part and its column", "write {RF1: probe 2}"))
        return None

    def names(self, value: tuple[Name, str]) -> Iterator[Name]:
        """The part."""
        yield value[0]

    def schema(self) -> Schema:
        """One column by part."""
        column = {"type": ["string", "number"]}
        return {"type": "object", "additionalProperties": column, "minProperties": 1, "maxProperties": 1}

    def written(self) -> str:
        """As typed."""
        return "PART: column, by its head or counted"


TIME_UNITS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9}
SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t", "space": " "}
DECIMALS = {"point": ".", "comma": ","}


class CaptureBlock(Record):
    """The capture of a scope: file, columns and factors."""

    called = "a capture"
    file: str | None = line("file with the samples", papers("export it from the scope"), "captures/inrush.csv")
    skip: int | None = formed(
        Count("lines ahead of the samples", "line"), how=papers("look into the file"), example="3 lines"
    )
    time: str | None = line("column of the times", papers("its head, or `column 1`"), "time")
    current: tuple[Name, str] | None = formed(
        SignalForm("current"), how=papers("which probe lay where"), example="{RF1: probe 2}"
    )
    voltage: tuple[Name, str] | None = formed(
        SignalForm("voltage"), how=papers("which probe lay where"), example="{Q1: probe 1}"
    )
    shunt: Stated | None = figure(
        RESISTANCE, "shunt that made volts of amperes", closed("measure it with four wires"), example="0.1 ohm"
    )
    factor: Stated | None = figure(NUMBER, "factor of the probe", papers("read it from the probe"), example="10")
    zero_from: tuple[float, float] | None = formed(
        WindowForm(), "window before the event whose mean is taken off", papers("where nothing flows"), "-2..0 ms"
    )
    trigger: tuple[float, float] | None = formed(
        WindowForm(), "window that is looked at", papers("the event from beginning to end"), "-0.1..20 ms"
    )
    time_unit: str | None = word("unit of the times", tuple(TIME_UNITS), papers("look into the file"))
    separator: str | None = word("separator of the columns", tuple(SEPARATORS), papers("look into the file"))
    decimal: str | None = word("decimal mark", tuple(DECIMALS), papers("look into the file"))
    note: str | None = line("a note", papers("your own words"), "third switch-on")


def _sample() -> Any:
    return formed(SampleForm(), how=papers("its label; every sample is read at the same condition"), example="3 of 5")


def _retest() -> Any:
    return word("that it was tried again", RETESTS, papers("write the first outcome too: it stays"))


class ReadingBlock(Record):
    """Readings at one condition, or each naming its own."""

    at: Name | ConditionBlock | None = formed(
        AtForm(), how=papers("write it down with the reading"), example="{mains: 230 V, load: full}"
    )
    sample: Sample | None = _sample()
    retest: str | None = _retest()
    known_by: str | None = word(*_KNOWN)
    capture: CaptureBlock | None = block(CaptureBlock, "the capture of a scope")
    taken_with: str | None = word("what a winding was read with", TAKEN_WITH, papers("say how the reading was taken"))
    cold_resistance: Stated | None = figure(
        RESISTANCE,
        "resistance of the cold winding",
        opened("four wires, the supply unplugged and discharged, before switching on"),
        percent="uncertainty",
    )
    hot_resistance: Stated | None = figure(
        RESISTANCE,
        "resistance of the hot winding",
        told(
            "four wires fixed before it was plugged in, read once it is unplugged and discharged", "running", "opened"
        ),
        percent="uncertainty",
    )
    cold_at: Stated | None = figure(
        CELSIUS, "temperature of the cold winding", closed("thermometer, after a night at rest"), percent="uncertainty"
    )
    note: str | None = line("a note", papers("your own words"), "second sample")
    voltage: tuple[Read, ...] = _read("voltage")
    voltage_peak: tuple[Read, ...] = _read("voltage_peak")
    voltage_min: tuple[Read, ...] = _read("voltage_min")
    reverse_voltage: tuple[Read, ...] = _read("reverse_voltage")
    working_voltage: tuple[Read, ...] = _read("working_voltage")
    working_voltage_peak: tuple[Read, ...] = _read("working_voltage_peak")
    ripple: tuple[Read, ...] = _read("ripple")
    current_rms: tuple[Read, ...] = _read("current_rms")
    current_average: tuple[Read, ...] = _read("current_average")
    current_peak: tuple[Read, ...] = _read("current_peak")
    ripple_current: tuple[Read, ...] = _read("ripple_current")
    i2t: tuple[Read, ...] = _read("i2t")
    energy: tuple[Read, ...] = _read("energy")
    power: tuple[Read, ...] = _read("power")
    air_temperature: tuple[Read, ...] = _read("air_temperature")
    case_temperature: tuple[Read, ...] = _read("case_temperature")
    winding_temperature: tuple[Read, ...] = _read("winding_temperature")
    junction_temperature: tuple[Read, ...] = _read("junction_temperature")
    mains_current: tuple[Read, ...] = _read("mains_current")
    mains_power: tuple[Read, ...] = _read("mains_power")
    efficiency: tuple[Read, ...] = _read("efficiency")
    frequency: tuple[Read, ...] = _read("frequency")
    touch_current: tuple[Read, ...] = _read("touch_current")

    def figures(self) -> Iterator[tuple[str, Read]]:
        """Every figure with its quantity, in the order written."""
        for key, value in vars(self).items():
            if isinstance(self.fields.get(key, _NO_FIELD).form, ReadForm):
                yield from ((key, one) for one in value)


_NO_FIELD = Field(Form())


class Outcome(NamedTuple):
    """The outcome of a test as typed: a word of the list, or a figure."""

    word: str
    place: Place
    stated: Stated | None = None
    known_by: str | None = None  # in the bracket behind it


class OutcomeForm(Form):
    """A word of `derate.terms.words`, or a figure with its unit."""

    says = "outcome of a test"

    def read(self, node: Node, problems: list[Problem]) -> Outcome | None:
        """The outcome."""
        text = said(node, self.says, problems)
        if text is None:
            return None
        assert isinstance(node, Scalar)
        if text in RESULTS:
            return Outcome(text, node.place, known_by=None if text == "unknown" else evidence(node)[1])
        if not _is_figure(text):
            problems.append(one_of(text, node.place, RESULTS, self.says))
            return None
        try:
            quantity = read_quantity(node.text, node.start, None, "uncertainty")
        except ReadingError as error:
            problems.extend(error.problems)
            return None
        return Outcome("", node.place, from_quantity(quantity)._replace(place=node.place), quantity.known_by)

    def schema(self) -> Schema:
        """A text."""
        return {"type": "string"}

    def written(self) -> str:
        """Its words."""
        return f"{', '.join(RESULTS)}, or a figure"


class TestBlock(Record):
    """Something done to the sample, with its outcome."""

    called = "a test"
    test: str | None = formed(
        Word(TESTS, "test"),
        how=told(
            "say which test was done, by trained people with a guarded set-up", "high voltage", "fault", "overload"
        ),
        needed=True,
    )
    voltage: Stated | None = figure(
        VOLTAGE,
        "voltage applied",
        told("read it on the tester", "high voltage"),
        example="3000 Vac",
        percent="uncertainty",
    )
    time: Stated | None = figure(
        TIME, "time it was applied", told("read it on the tester", "high voltage"), percent="uncertainty"
    )
    mains: Stated | None = figure(
        VOLTAGE,
        "mains voltage",
        running("voltmeter with guarded leads at the output of the isolating transformer"),
        example="264 V",
        percent="uncertainty",
        kind="mains",
    )
    shuts_down_at: Stated | None = figure(
        CURRENT,
        "output current at which it shuts down",
        told("raise the load slowly", "overload"),
        example="1.66 A",
        percent="uncertainty",
    )
    frequency: Stated | None = figure(
        FREQUENCY, "mains frequency", papers("that of the mains"), percent="uncertainty", kind="mains frequency"
    )
    ambient: Stated | None = figure(CELSIUS, "air beside the supply", running("thermometer"), percent="uncertainty")
    current: Stated | None = figure(
        CURRENT, "test current", told("read it on the tester", "high voltage"), example="25 A", percent="uncertainty"
    )
    between: tuple[Name, ...] = names(
        "the two sides it was done between",
        "point",
        "tape",
        "transformer",
        how=papers("where the tester was joined"),
        exactly=2,
        example="[primary, secondary]",
        write="[primary, secondary]",
    )
    output: Name | None = name(
        "output it was done at", "output", how=papers("where the load was joined"), example="main"
    )
    taken_from: Name | None = name(
        "where the current was taken from",
        "output",
        "point",
        key="from",
        how=papers("where the meter was joined"),
        example="main",
    )
    sample: Sample | None = _sample()
    retest: str | None = _retest()
    fault: str | None = line("the fault", papers("as derate faults lists it"), "Q1 shorted")
    result: Outcome | None = formed(OutcomeForm(), how=papers("write down what was seen"), example="held")
    note: str | None = line("a note", papers("your own words"), "second sample")
    photo: str | None = line("photo of it", papers("its number"), "7")
    known_by: str | None = word(*_KNOWN)


def _look(key: str) -> Any:
    return formed(Look(VOCABULARY[f"inspection.{key}"]))


def _looks(key: str) -> Any:
    return formed(Looks(VOCABULARY[f"inspection.{key}"]))


class Inspection(Record, prefix="inspection"):
    """What was looked at. In its keys spaces and underscores are one thing."""

    opens_by_hand: Stated | None = fact()
    enclosure_flame_class: Stated | None = fact()
    copper_under_sheet: Stated | None = _look("copper_under_sheet")
    solder_blobs: Stated | None = _look("solder_blobs")
    scorch_marks: Stated | None = _look("scorch_marks")
    shared_ribbon: Stated | None = _look("shared_ribbon")
    touchable_output: Stated | None = _look("touchable_output")
    touchable_leads: Stated | None = _looks("touchable_leads")
    touchable_metal: Stated | None = _looks("touchable_metal")
    wire_reach: Stated | None = _look("wire_reach")
    pin_sleeves: Stated | None = fact()
    plug_pattern: Stated | None = fact()
    plug_fuse: Stated | None = formed(Usual(VOCABULARY["inspection.plug_fuse"], ("sound", "none")), example="sound")
    pin_edge_to_face_edge: Stated | None = fact()
    pin_thickness: Stated | None = fact()
    pin_breadth: Stated | None = fact()
    pins_held: Stated | None = fact()
    cord_held: Stated | None = fact()
    lamp_head: Stated | None = fact()
    lamp_cap: Stated | None = fact()

    @classmethod
    def field_of(cls, key: str) -> Field | None:
        """By key, whichever way it is spelled."""
        return cls.fields.get(key.replace(" ", "_"))

    @classmethod
    def schema(cls) -> Schema:
        """The keys in both spellings."""
        shape = super().schema()
        spaced = {key.replace("_", " "): value for key, value in shape["properties"].items()}
        return {**shape, "properties": shape["properties"] | spaced}
