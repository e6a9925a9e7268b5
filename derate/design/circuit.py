"""The circuit block: what every supply has, and how a topology adds to it.

A topology brings a record of its own, a `Circuit` with more keys, that says which parts stand on them and what it makes
of them. A supply of which nobody knows the topology, or whose topology nobody has written, takes the keys of the one
that knows most of what stands in its block.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from importlib import import_module
from types import MappingProxyType
from typing import Any, Literal, Protocol

from derate.design.kinds import PLAIN_DIODES
from derate.design.names import OneName, each_named, name, names
from derate.design.plain_forms import NOTHING, Block, Each, OrNone, block, fact, formed, line
from derate.design.record import Form, Name, Record, Schema, Stated, said
from derate.design.structure import Element, Leaf, MainsInput, OwnParts, Path, leaves, read_element, read_step
from derate.design.transformers import WindingBlock
from derate.terms.instructions import opened, papers
from derate.terms.topologies import TOPOLOGIES
from derate.terms.tuples import NamedTuple
from derate.terms.values import Place, Problem, ReadingError
from derate.text.nodes import Mapping as MappingNode
from derate.text.nodes import Node, Scalar, Sequence

LEAF = ("part", "winding")
# 'loop': from bulk plus to bulk minus; 'from bulk': begins at bulk plus, and its return is bulk minus
DrawingRole = Literal["loop", "from bulk"]
_TRACE = opened("trace it")


class PathForm(Form):
    """A walked path: a list of steps; () where there is none, None where nobody knows."""

    has_names = True

    def read(self, node: Node, problems: list[Problem]) -> Path | None:
        """Every step that can be read."""
        if isinstance(node, Scalar) and node.text.partition(" (")[0] in ("unknown", "none"):
            text = said(node, "a path", problems)
            return () if text == "none" else None
        steps = []
        for item in node.items if isinstance(node, Sequence) else (node,):
            if not isinstance(item, Scalar):
                problems.append(Problem(item.place, "a path is a list of parts", "write [F1, BR1, across C1]"))
                continue
            try:
                steps.append(read_step(item.text, item.start))
            except ReadingError as error:
                problems.extend(error.problems)
        return tuple(steps)

    def names(self, value: Path) -> Iterator[Name]:
        """Every part and winding of it."""
        for step in value:
            for leaf in leaves(step.element):
                yield Name.at(leaf.name, leaf.place, LEAF)

    def schema(self) -> Schema:
        """A list of steps, or one of two words."""
        return {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}

    def written(self) -> str:
        """What a step is."""
        return "a list of PART, `across PART`, `PART in neutral`, `to earth PART`, joined with + and ||"


class ElementForm(Form):
    """Parts joined with + and ||."""

    has_names = True

    def read(self, node: Node, problems: list[Problem]) -> Element | None:
        """The element."""
        if not isinstance(node, Scalar):
            problems.append(Problem(node.place, "parts joined on one line are wanted here", "write D5 + (R5 || C4)"))
            return None
        try:
            return read_element(node.text, node.start)
        except ReadingError as error:
            problems.extend(error.problems)
            return None

    def names(self, value: Element) -> Iterator[Name]:
        """Every part of it."""
        for leaf in leaves(value):
            yield Name.at(leaf.name, leaf.place, LEAF)

    def schema(self) -> Schema:
        """A text."""
        return {"type": "string"}

    def written(self) -> str:
        """As typed."""
        return "parts joined with + and ||"


class Joined(NamedTuple):
    """Parts that bridge two circuits: the element and the two points it joins."""

    element: Element
    between: tuple[Name, ...]
    place: Place


class BridgingForm(Form):
    """Parts from primary to secondary, each with the two points it joins."""

    has_names = True
    says = "parts from primary to secondary"

    def read(self, node: Node, problems: list[Problem]) -> tuple[Joined, ...]:
        """Every one that can be read."""
        if not isinstance(node, MappingNode):
            problems.append(
                Problem(
                    node.place, "bridging parts are a block", "write {CY1: [bulk minus, output minus]}, none or unknown"
                )
            )
            return ()
        found = []
        for key, value in node.entries:
            element = ElementForm().read(key, problems)
            items = value.items if isinstance(value, Sequence) else ()
            points = tuple(Name.at(one.text, one.start, ("point",)) for one in items if isinstance(one, Scalar))
            if len(points) != 2 or len(items) != 2:
                what, instead = "a bridging part joins two points", "write [bulk minus, output minus]"
                problems.append(Problem(value.place, what, instead))
            if element is not None:
                found.append(Joined(element, points, key.place))
        return tuple(found)

    def names(self, value: tuple[Joined, ...]) -> Iterator[Name]:
        """Its parts and its points."""
        for one in value:
            yield from ElementForm().names(one.element)
            yield from one.between

    def schema(self) -> Schema:
        """Two points by parts."""
        points = {"type": "array", "items": {"type": "string"}, "minItems": 2, "maxItems": 2}
        return {"type": "object", "additionalProperties": points}

    def written(self) -> str:
        """As typed."""
        return "PARTS: [POINT, POINT]"


class OtherPart(NamedTuple):
    """A part on none of the paths: whether somebody traced it, and so knows that it stands on none of them."""

    name: Name
    is_traced: bool


# Words of somebody who does not know, in whatever signs they stand. They only ever ask for more: none of them says what
# a part is for.
_DOUBT = frozenset(
    (
        *("not", "traced", "untraced", "tracing", "trace", "unknown", "unclear", "unsure", "somewhere", "maybe"),
        *("perhaps", "probably", "possibly", "likely", "guess", "guessed", "nobody", "tbd", "tbc", "todo", "none"),
        *("idea", "know", "dunno", "dont", "don", "cannot", "cant", "can", "could", "might", "may", "seems"),
        *("assumed", "calculated", "simulated", "ordered"),
    )
)


def _says_what_for(text: str) -> bool:
    """Whether an entry under `other` says what its part is for, and so that somebody traced it."""
    purpose = text.partition(" (")[0]
    words = re.findall(r"[^\W_]+", text.lower())
    return any(one.isalnum() for one in purpose) and "?" not in text and not _DOUBT.intersection(words)


class OtherForm(Form):
    """Parts on none of the paths: names with a word on each. One that nobody traced may sit on any of them."""

    has_names = True

    def read(self, node: Node, problems: list[Problem]) -> tuple[OtherPart, ...]:
        """Their names; in a bare list nobody says what they are for, and so that they were traced."""
        found: list[tuple[Node, bool]] = []
        if isinstance(node, MappingNode):
            for key, value in node.entries:
                if not isinstance(value, Scalar):
                    what = "one word on one line is wanted here"
                    problems.append(Problem(value.place, what, "write C2: base drive"))
                found.append((key, isinstance(value, Scalar) and _says_what_for(value.text)))
        elif isinstance(node, Sequence):
            found = [(item, False) for item in node.items]
        elif node.text.partition(" (")[0] in ("none", "unknown"):
            return ()
        else:
            found = [(node, False)]
        read = [(OneName(LEAF).read(key, problems), is_traced) for key, is_traced in found]
        return tuple(OtherPart(name, is_traced) for name, is_traced in read if name is not None)

    def names(self, value: tuple[OtherPart, ...]) -> Iterator[Name]:
        """All of them."""
        yield from (one.name for one in value)

    def schema(self) -> Schema:
        """A list, or words by name."""
        one: Schema = {"type": ["string", "number"]}
        return {"anyOf": [one, {"type": "array", "items": one}, {"type": "object", "additionalProperties": one}]}

    def written(self) -> str:
        """As typed."""
        return "PART: what it is for, or not traced yet; in a bare list nobody has traced them"


class Control(Record, prefix="control"):
    """What controls the switch, and what stands round the optocoupler that carries it."""

    type: Stated | None = fact()
    frequency: Stated | None = fact()
    by: Name | None = name("part that controls the switch", "part", how=_TRACE, example="U1")
    limits: Name | None = name(
        "part that the current limit is sensed at", "part", how=_TRACE, example="R9", words=("none",)
    )
    senses: tuple[Name, ...] | None = names("what it senses", "output", "winding", how=_TRACE, example="main")
    through: tuple[Name, ...] | None = names(
        "what carries the control across the barrier",
        "part",
        how=opened("trace the feedback to its coupler"),
        example="U2",
        words=("none",),
    )
    divider: Mapping[str, Name | None] = each_named(
        OneName(("part",)),
        "divider of what is sensed",
        "output",
        words=("lower",),
        example="{main: R20, lower: R22}",
        how=opened("trace from the output to the reference"),
    )
    reference: Name | None = name(
        "part that compares the output", "part", how=opened("trace the cathode of the coupler's LED"), example="U3"
    )
    coupler_resistor: Name | None = name(
        "resistor in series with the LED of the coupler",
        "part",
        words=("none",),
        example="R21",
        how=opened("trace from the output to the LED and on to the reference"),
    )
    bias_resistor: Name | None = name(
        "resistor across the LED of the coupler",
        "part",
        words=("none",),
        example="R23",
        how=opened("look for a resistor across the LED; write none when there is none"),
    )
    coupler_supply: Name | None = name(
        "output that feeds the LED of the coupler",
        "output",
        words=("none",),
        example="main",
        how=opened("trace the LED's resistor back to its output"),
    )


class Earth(Record, prefix="earth"):
    """What is joined to earth."""

    joined_to: tuple[Name, ...] | None = names(
        "points joined to earth",
        "point",
        how=opened("ohmmeter from the earth pin"),
        example="[output minus]",
        needed=True,
    )
    by: str | None = line("what joins them", opened("look at it"), "stud and ring")
    resistance: Stated | None = fact()


class Placing(Protocol):
    """What reads a circuit into its structure, as a topology uses it to place the parts of its own keys."""

    names: Mapping[str, Place]  # every part of the design
    windings: dict[str, WindingBlock]  # by TRANSFORMER.WINDING

    def put(self, names: tuple[str, ...], place: str, *others: str) -> None:
        """Give parts their place; the first place met holds. others: what it may be too, while their kind is open"""

    def all_of(self, name: str, kinds: tuple[str, ...]) -> bool:
        """Whether every kind a part may still be is among these."""

    def any_of(self, name: str, kinds: tuple[str, ...]) -> bool:
        """Whether a part may be of one of these kinds: one of which nobody knows the kind may be."""

    def place_outputs(self) -> None:
        """Place the parts of the outputs now: where in the order is the topology's to say."""

    def inlet(self, line: Path, rectified: Path = ()) -> MainsInput:
        """Place the parts behind the plug and gather them: those in series, those across, nothing of a rectifier.

        rectified: steps behind one, of which what lies across or to earth and has no place yet is gathered too
        """

    def say(self, place: Place, what: str, instead: str = "") -> None:
        """Note what is wrong, and what to write instead."""


def rectifies(names: tuple[str, ...], placing: Placing) -> str:
    """What kind of rectifier a step of the line is, '' for none: 'full bridge' or 'half-wave'."""
    if len(names) == 1 and placing.all_of(names[0], ("bridge rectifier",)):
        return "full bridge"
    if names and all(placing.all_of(name, PLAIN_DIODES) for name in names):
        return {1: "half-wave", 4: "full bridge"}.get(len(names), "")
    return ""


class Seen(NamedTuple):
    """What a topology may be recognised by: walked paths, the kinds each part may be, windings, keys of the block.

    paths: what is walked on the keys that topologies add, by key
    """

    line: Path
    outputs: tuple[Path, ...]
    kinds: Mapping[str, tuple[str, ...]]
    windings: frozenset[str]
    keys: frozenset[str]
    paths: Mapping[str, Path] = MappingProxyType({})

    def all_of(self, names: Iterable[str], kinds: tuple[str, ...]) -> bool:
        """Whether each of these parts is of one of these kinds, whichever of its own it is; not of no part at all."""
        given = [self.kinds.get(name, ()) for name in names]
        return bool(given) and all(known and all(kind in kinds for kind in known) for known in given)


class Later(Block):
    """A block whose table lies in a module of its own, loaded where a file has the block or its keys are asked for."""

    has_names = True

    def __init__(self, module: str, record: str) -> None:
        self._where, self.says = (module, record), ""

    @property
    def record(self) -> type[Record]:  # type: ignore[override]
        """Its table."""
        module, record = self._where
        found: type[Record] = getattr(import_module(module), record)
        return found


class Circuit(Record, prefix="circuit"):
    """What every supply has: walked as the current goes, a plain name in series, `across` from here to the return."""

    line: Path | None = formed(
        PathForm(), "from the plug to the bulk capacitor", opened("trace it"), "[F1, BR1, across C1]"
    )
    input: Stated | None = fact("circuit.input", how=opened("trace it: bridge, one diode, or two capacitors that add"))
    outputs: Mapping[str, Path | None] = formed(
        Each(PathForm()),
        "from the winding to each output",
        _TRACE,
        "{main: [T1.secondary, D7, across C6]}",
        default=NOTHING,
    )
    control: Control = block(Control, "what controls the switch", always=True)
    bridging: tuple[Joined, ...] | None = formed(
        OrNone(BridgingForm(), "none, unknown or {CY1: [bulk minus, output minus]}"),
        "parts from primary to secondary",
        opened("look for capacitors, resistors and couplers across the barrier"),
        "{CY1: [bulk minus, output minus]}",
    )
    earth: Earth | tuple[()] | None = formed(
        OrNone(Block(Earth, "what is joined to earth"), "none, unknown or {joined_to: [output minus]}"),
        how=opened("ohmmeter from the earth pin"),
        example="{joined_to: [output minus], resistance: 0.04 ohm}",
    )
    ports: Mapping[str, Any] = formed(
        Each(
            Later("derate.design.ports", "PortBlock"),
            "ports that are fed from an output, each under a name of your own",
        ),
        how=_TRACE,
        example="{C1: {from: bus, path: [Q5], advertised: {5 V: 3 A, 9 V: 3 A}}}",
        default=NOTHING,
    )
    sharing: Any = formed(
        Later("derate.design.ports", "Sharing"),
        "what holds the sum of all ports",
        papers("find the part that talks to the controllers of all ports"),
        "{by: U9, power: 45 W}",
    )
    other: tuple[OtherPart, ...] = formed(
        OtherForm(),
        "fitted parts that stand on none of the paths",
        papers("what is left of the list of parts"),
        "{C22: base drive}",
        default=(),
    )

    @classmethod
    def beginning(cls) -> Mapping[str, str]:
        """Blocks of a new file and examples of a fact's lines where a topology has its own; none of a plain circuit.

        Blocks by `parts`, `line`, `output` (a path with WINDING and K, the number of the output), `transformer`;
        examples by the name of the fact
        """
        return {}

    @classmethod
    def skeleton(cls) -> str:
        """The lines of the keys that a topology adds, for a new file in which nothing is known."""
        return ""

    @classmethod
    def drawing_roles(cls) -> Mapping[str, DrawingRole]:
        """Where a path of its keys hangs on a drawing; one without a role is drawn as it is walked."""
        return {}

    def own_leaves(self) -> Iterator[Leaf]:
        """Every part and winding on the keys that a topology adds."""
        yield from ()

    @classmethod
    def recognises(cls, seen: Seen) -> str:
        """By what these parts and paths can only be this topology, where nobody names one; '' where they may be others.

        Only what is there counts: a file that is not whole yet leaves out parts that another topology has.
        """
        return ""

    def own_input(self, placing: Placing) -> MainsInput | None:
        """The line as a topology reads it whose input is no rectifier with a bulk capacitor; None: it is that.

        It places every part of the line, and says what on it disagrees with the word of the topology. What it hands
        back is what stands ahead of its own (`placing.inlet`), which the faults of the mains path, the distances and
        the discharge of the plug then ask for; stresses are the topology's to work out.
        """
        return None

    def own_parts(self, placing: Placing) -> OwnParts:
        """Place the parts of those keys, and say what they make up."""
        return OwnParts()


def circuits() -> Mapping[str, type[Circuit]]:
    """The circuit block of every topology that has a folder, by its word."""
    return {word: import_module(known.package).TOPOLOGY.circuit for word, known in TOPOLOGIES.items() if known.package}


def circuit_of(word: str, keys: Iterable[str] = ()) -> type[Circuit]:
    """The circuit block of a topology; of one without a folder the block that knows most of these keys."""
    own = TOPOLOGIES.get(word)
    if own is not None and own.package:  # no other folder is loaded for it
        found: type[Circuit] = import_module(own.package).TOPOLOGY.circuit
        return found
    given = set(keys)
    return max(circuits().values(), key=lambda one: len(given & one.fields.keys()), default=Circuit)


def recognised(seen: Seen) -> tuple[str, str] | None:
    """The word of the one topology that these parts and paths can only be, and by what; None where none says so."""
    found = [(word, why) for word, one in circuits().items() if (why := one.recognises(seen))]
    return found[0] if len(found) == 1 else None


class CircuitForm(Block):
    """The circuit block; the schema takes the keys of every topology."""

    def __init__(self) -> None:
        super().__init__(Circuit, "what is joined to what, walked as the current goes")

    def schema(self) -> Schema:
        """The keys of all topologies together."""
        properties: dict[str, Any] = {}
        for record in circuits().values():
            properties |= record.schema()["properties"]
        return {"type": "object", "properties": properties, "additionalProperties": False}
