"""Transformers: core, windings, leads, and the list of what was wound, from the core outwards."""

from __future__ import annotations

import re
from collections.abc import Mapping

from derate.design.forms import Reaches, Sleeve, SleeveForm, TapeOnCore
from derate.design.names import EachNamed, names, tied
from derate.design.plain_forms import NOTHING, Block, block, each, fact, figure, formed, line, lines, word
from derate.design.record import Form, Name, Record, Schema, Stated, evidence
from derate.terms.dimension import LENGTH, NUMBER
from derate.terms.instructions import destructive, opened, papers
from derate.terms.tuples import NamedTuple
from derate.terms.values import Place, Problem, ReadingError, Value, nearest
from derate.terms.vocabulary import VOCABULARY
from derate.text.nodes import Node, Scalar, Sequence
from derate.text.quantity import read_quantity

# The list of a transformer, from the core outwards: bobbin, windings, tape, sheets, each with what was counted.
#
# `tape 1 layer short by 0.5..1 mm (counted; brittle)`, `primary 42 turns`, `bobbin unknown`, `tape 1..2 layers`. A
# list given from the outside inwards is turned round, so that the rest of the project knows one order only.


_WHAT = ("bobbin", "tape", "sheet")


class Layer(NamedTuple):
    """One entry of the list.

    what: bobbin | tape | sheet | winding;  name: the winding's name, '' otherwise
    layers: tape layers;  thickness: bobbin or sheet [m];  turns: turns of this part of a winding
    short_by: how far a tape stops short of the flange [m], None when it is not said to
    """

    what: str
    place: Place
    name: str = ""
    layers: Value | None = None
    thickness: Value | None = None
    turns: Value | None = None
    short_by: Value | None = None
    known_by: str | None = None
    note: str = ""


class Winding(NamedTuple):
    """The winding-up of one transformer, from the core outwards; None when nobody has looked."""

    layers: tuple[Layer, ...] | None
    place: Place | None = None


class LayerList(NamedTuple):
    """The list as it stands in the file."""

    items: tuple[Scalar, ...]
    place: Place


class Layers(Form):
    """The list of a transformer, an entry a layer; its words are held to the windings once all are read."""

    says = "list of layers"

    def read(self, node: Node, problems: list[Problem]) -> LayerList | None:
        """The entries; None for unknown."""
        if isinstance(node, Scalar) and node.text == "unknown":
            return None
        if not isinstance(node, Sequence):
            instead = "write [bobbin 1.0 mm, primary, tape 3 layers]"
            problems.append(Problem(node.place, "the order of a transformer is a list", instead))
            return None
        problems += [
            Problem(item.place, "one layer is one text", "write tape 2 layers")
            for item in node.items
            if not isinstance(item, Scalar)
        ]
        return LayerList(tuple(item for item in node.items if isinstance(item, Scalar)), node.place)

    def schema(self) -> Schema:
        """A list of texts, or unknown."""
        return {"anyOf": [{"type": "array", "items": {"type": "string"}}, {"const": "unknown"}]}

    def written(self) -> str:
        """What an entry is."""
        return "a list of `bobbin 1.0 mm`, `tape 2 layers`, `sheet 0.5 mm`, WINDING, `WINDING 42 turns`"


def read_layers(
    name: str,
    outwards: LayerList | None,
    inwards: LayerList | None,
    turns: Mapping[str, Stated | None],
    problems: list[Problem],
) -> Winding:
    """Read the list of a transformer, whichever way it was written. turns: its windings, with their turns"""
    if outwards is not None and inwards is not None:
        what = f"{name} is listed both from the core outwards and from the outside inwards"
        problems.append(Problem(inwards.place, what, "keep one of the two"))
        return Winding(None)
    listed = outwards if outwards is not None else inwards
    if listed is None:
        return Winding(None)
    windings = tuple(turns)
    found = []
    for item in listed.items:
        try:
            found.append(_layer(item, windings))
        except ReadingError as error:
            problems.extend(error.problems)
    if inwards is not None:
        found.reverse()
    _add_up(name, turns, found, listed.place, problems)
    return Winding(tuple(found), listed.place)


def _layer(item: Scalar, windings: tuple[str, ...]) -> Layer:
    text, known_by, note = evidence(item)
    short: Value | None = None
    found = re.search(r" short by (.+)\Z", text)
    if found:
        short = _number(found.group(1), item.at(found.start(1)), LENGTH)
        text = text[: found.start()].strip()
    word, _, rest = text.partition(" ")
    rest = rest.strip()
    at = item.at(len(word) + 1)
    if word in ("bobbin", "sheet"):
        thickness = _number(rest, at, LENGTH) if rest and rest != "unknown" else None
        return Layer(word, item.place, thickness=thickness, known_by=known_by, note=note)
    if word == "tape":
        layers = _number(rest, at, NUMBER) if rest and rest != "unknown" else None
        return Layer("tape", item.place, layers=layers, short_by=short, known_by=known_by, note=note)
    if word in windings:
        turns = _number(rest, at, NUMBER) if rest and rest != "unknown" else None
        return Layer("winding", item.place, name=word, turns=turns, known_by=known_by, note=note)
    close = nearest(word, (*_WHAT, *windings))
    instead = f"did you mean {close}?" if close else f"write bobbin, tape, sheet or a winding: {', '.join(windings)}"
    raise ReadingError([Problem(item.place, f"'{word[:60]}' is neither tape, bobbin, sheet nor a winding", instead)])


def _number(text: str, place: Place, dimension: object) -> Value | None:
    value = read_quantity(text, place, dimension).value  # type: ignore[arg-type]
    return value if isinstance(value, Value) else None


def _add_up(
    name: str, turns: Mapping[str, Stated | None], layers: list[Layer], place: Place, problems: list[Problem]
) -> None:
    """Turns given in the list add up to the turns of the winding."""
    for winding, stated in turns.items():
        if stated is None or not isinstance(stated.value, Value):
            continue
        parts = [layer for layer in layers if layer.name == winding]
        given = [layer.turns for layer in parts if layer.turns is not None]
        if not given or len(given) < len(parts):
            continue
        least = sum(value.low for value in given)
        most = sum(value.high for value in given)
        if most < stated.value.low or least > stated.value.high:
            total = f"{least:.4g}" if least == most else f"{least:.4g} to {most:.4g}"
            at = next(layer.place for layer in parts if layer.turns is not None)
            problems.append(
                Problem(
                    at,
                    f"the turns of {name}.{winding} in the list add up to {total}, yet the winding has {stated.text}",
                    f"correct the list here or the winding in line {stated.place.line}",
                )
            )


# The blocks of a transformer: core, windings, leads, and the list of what was wound (its entries: above).


class Core(Record, prefix="core"):
    """The core of a transformer."""

    shape: Stated | None = fact("core.shape", how=opened("measure it and compare with a core catalogue"))
    area: Stated | None = fact()
    gap: Stated | None = fact("core.gap", how=destructive("feeler gauge or shim, once the core is apart"))
    length: Stated | None = fact("core.length", how=papers("core catalogue, by its shape"))
    permeability: Stated | None = fact(
        "core.permeability", how=papers("core catalogue, or inductance of the core without gap")
    )
    saturation: Stated | None = fact("core.saturation", how=papers("data sheet of the ferrite, at 100 degC"))
    tape_to_windings: Stated | None = formed(
        TapeOnCore(VOCABULARY["core.tape_to_windings"]), how=opened("count the layers of tape round the core")
    )
    tied_to: Stated | None = tied("core.tied_to")


class WindingBlock(Record, prefix="winding"):
    """One winding, or a shield."""

    turns: Stated | None = fact()
    wire: Stated | None = fact()
    bare: Stated | None = fact()
    outside: Stated | None = fact()
    strands: Stated | None = fact()
    foil: Stated | None = fact("winding.foil", how=destructive("micrometer on the foil"))
    width: Stated | None = fact("winding.width", how=destructive("calliper across the foil"))
    leakage: Stated | None = fact()
    resistance: Stated | None = fact()
    open_voltage: Stated | None = fact()
    rated_voltage: Stated | None = fact()
    rated_current: Stated | None = fact()
    tied_to: Stated | None = tied("winding.tied_to", how=opened("ohmmeter from the shield to the pins"))
    pins: tuple[str, ...] = lines("its pins", opened("ohmmeter, before it is unwound"), "[3, 2, 1]")
    note: str | None = line("a note", papers("your own words"), "first half under the secondary")


class Lead(Record):
    """The leads of a winding."""

    kind: str | None = word("way the leads leave the winding", ("flying", "pins"), opened("look at it"))
    length: Stated | None = figure(LENGTH, "length of the leads", opened("ruler"), example="35 mm")
    sleeve: Sleeve | None = formed(SleeveForm(), how=opened("look at it, and measure its wall"), example="0.4 mm")
    sleeve_reaches: str | None = formed(Reaches(), how=opened("look at it"), example="into the winding")
    ends_in: str | None = line("what the leads end in", opened("look at it"), "board holes")
    held_by: str | None = line("what holds the leads", opened("look at it"), "glue")
    crosses: tuple[Name, ...] | None = names(
        "what the leads cross",
        "side",
        "sibling",
        how=destructive("look at it as it is unwound"),
        example="none",
        words=("none",),
    )


class Transformer(Record, prefix="transformer"):
    """One transformer."""

    core: Core | None = block(Core, "its core, and what that is tied to")
    inductance: Stated | None = fact()
    leakage: Stated | None = fact()
    short_circuit_proof: Stated | None = fact()
    no_load_current: Stated | None = fact()
    chambers: Stated | None = fact()
    wall: Stated | None = fact()
    insulation_class: Stated | None = fact(
        "transformer.insulation_class", how=opened("read it from wire, bobbin and tape")
    )
    margins: Stated | None = fact()
    windings: Mapping[str, WindingBlock] = each(
        WindingBlock, "its windings, each under a name of your own", opened("ohmmeter")
    )
    leads: Mapping[str, Lead] = formed(
        EachNamed(Block(Lead), ("sibling",), ("all",)),
        "its leads, by winding or for `all`",
        destructive("look at them"),
        default=NOTHING,
    )
    from_core_outwards: LayerList | None = formed(
        Layers(),
        "what was wound, from the core outwards",
        destructive("write it down as it is unwound, and turn it round"),
        "[bobbin 1.0 mm, primary 42 turns, tape 2 layers]",
    )
    from_outside_inwards: LayerList | None = formed(
        Layers(),
        "the same list as it came apart",
        destructive("write it down as it is unwound"),
        "[tape 2 layers, primary]",
    )
    construction: str | None = line("way it is built", papers("your own words"), "primary halves round the secondary")
