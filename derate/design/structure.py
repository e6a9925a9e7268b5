"""What is joined to what: the walked paths of a circuit, and the structure of a supply made from them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Literal

from derate.terms.frozen import field, frozen
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Place, Problem, ReadingError
from derate.terms.words import DIODES

# The walked paths of a circuit: `[RF1, BR1, across C1, T1.primary, D5 + (R5 || R6 || C4)]`.
#
# A step is a series element, an element `across` from here to the return, one `in neutral`, or one `to earth`. An
# element is a part, a winding (`T1.primary`), several in series (`+`) or several in parallel (`||`).


class Leaf(NamedTuple):
    """A part or a winding named on a path."""

    name: str
    place: Place


class Group(NamedTuple):
    """Elements in series (`+`) or in parallel (`||`)."""

    joined: Literal["series", "parallel"]
    members: tuple[Element, ...]


Element = Leaf | Group
How = Literal["series", "across", "in neutral", "to earth"]


class Step(NamedTuple):
    """One step of a walked path."""

    element: Element
    how: How
    place: Place

    @property
    def names(self) -> tuple[str, ...]:
        """Every part and winding of the step, in the order written."""
        return tuple(leaf.name for leaf in leaves(self.element))


Path = tuple[Step, ...]


def leaves(element: Element) -> Iterator[Leaf]:
    """Every leaf of an element, in the order written."""
    if isinstance(element, Leaf):
        yield element
    else:
        for member in element.members:
            yield from leaves(member)


_TOKEN = re.compile(r"\s*(?:(\|\|)|(\+)|(\()|(\))|([^\s+|()]+))")
_DEPTH = 12


def read_step(text: str, place: Place) -> Step:
    """Read one step of a path; raises ReadingError with the column of the fault."""
    how: How = "series"
    body, shift = text, 0
    for word, meaning in (("across ", "across"), ("to earth ", "to earth")):
        if text.startswith(word):
            how, body, shift = meaning, text[len(word) :], len(word)  # type: ignore[assignment]
    if body.endswith(" in neutral"):
        if how != "series":
            raise _wrong(place, shift, "an element in neutral is in series", "write it without 'across'")
        how, body = "in neutral", body[: -len(" in neutral")]
    return Step(read_element(body, place, shift), how, place)


def read_element(text: str, place: Place, shift: int = 0) -> Element:
    """Read an element such as `D5 + (R5 || R6)`; `||` binds tighter than `+`."""
    tokens: list[tuple[str, int]] = []
    position = 0
    while position < len(text) and text[position:].strip():
        found = _TOKEN.match(text, position)
        if found is None:
            raise _wrong(
                place, shift + position, f"'{text[position:].strip()[:20]}' is no part", "join parts with + or ||"
            )
        start = found.start(found.lastindex or 0)
        tokens.append((text[start : found.end()], start))
        position = found.end()
    element, used = _series(tokens, 0, place, shift, 0, len(text))
    if used < len(tokens):
        token, start = tokens[used]
        what = "a bracket too many" if token == ")" else f"'{token}' follows without + or || before it"
        instead = "write for example R1 + R2, C6 || C7 or D5 + (R5 || C4)"
        if "," in text:  # several steps in one text
            instead = f"each is a step of its own, without quotes around them all: {text.strip()}"
        raise _wrong(place, shift + start, what, instead)
    return element


def _wrong(place: Place, column: int, what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(Place(place.path, place.line, place.column + column), what, instead)])


def _series(
    tokens: list[tuple[str, int]], at: int, place: Place, shift: int, depth: int, end: int
) -> tuple[Element, int]:
    member, at = _parallel(tokens, at, place, shift, depth, end)
    members = [member]
    while at < len(tokens) and tokens[at][0] == "+":
        member, at = _parallel(tokens, at + 1, place, shift, depth, end)
        members.append(member)
    return (members[0] if len(members) == 1 else Group("series", tuple(members))), at


def _parallel(
    tokens: list[tuple[str, int]], at: int, place: Place, shift: int, depth: int, end: int
) -> tuple[Element, int]:
    member, at = _single(tokens, at, place, shift, depth, end)
    members = [member]
    while at < len(tokens) and tokens[at][0] == "||":
        member, at = _single(tokens, at + 1, place, shift, depth, end)
        members.append(member)
    return (members[0] if len(members) == 1 else Group("parallel", tuple(members))), at


def _single(
    tokens: list[tuple[str, int]], at: int, place: Place, shift: int, depth: int, end: int
) -> tuple[Element, int]:
    if depth > _DEPTH:
        raise _wrong(place, shift, "brackets nested too deep", f"use at most {_DEPTH} levels")
    if at >= len(tokens):
        raise _wrong(place, shift + end, "a part is missing here", "name a part")
    token, start = tokens[at]
    if token == "(":
        element, at = _series(tokens, at + 1, place, shift, depth + 1, end)
        if at >= len(tokens) or tokens[at][0] != ")":
            raise _wrong(place, shift + start, "this bracket never closes", "add a )")
        return element, at + 1
    if token in ("+", "||", ")"):
        raise _wrong(place, shift + start, f"a part is missing before '{token}'", "name a part on either side")
    return Leaf(token, Place(place.path, place.line, place.column + shift + start)), at + 1


# The structure of a supply: what is joined to what. Plain frozen values, made by `circuit_reader.py` from the paths.
#
# Names are part names, or TRANSFORMER.WINDING. A block that nobody filled in is None ("unknown"); one that was looked
# at and found empty is an empty tuple.


EMPTY = ("no", "wired over")  # words of a position without its part: open pads, or a wire across them
PROTECTIVE = ("fuse", "fusible film resistor", "fusible wirewound resistor", "board track")


class Shunt(NamedTuple):
    """An element from one mains conductor to the other (or to earth), `behind` so many series elements.

    rectified: whether it lies behind the rectifier
    """

    element: Element
    names: tuple[str, ...]
    behind: int
    to_earth: bool = False
    rectified: bool = False


class MainsInput(NamedTuple):
    """The mains path from plug to bulk, walked as the current goes.

    Of an input that a topology reads by itself it ends where that begins: rectifier, input and bulk are empty then.

    series: parts in series ahead of the rectifier, in order; neutral: those of them that sit in the neutral
    shunts: elements across the mains, with the number of series parts ahead of each
    rectifier: one bridge, one diode (half-wave), or four diodes
    input: 'full bridge' | 'half-wave' | 'doubler'
    behind: series parts between the rectifier and the first bulk capacitor
    choke: series parts between the first and the second bulk capacitor
    bulk: one or two bulk elements, in the order met
    """

    series: tuple[str, ...]
    neutral: tuple[str, ...]
    shunts: tuple[Shunt, ...]
    rectifier: tuple[str, ...]
    input: str
    behind: tuple[str, ...]
    choke: tuple[str, ...]
    bulk: tuple[Element, ...]


class Output(NamedTuple):
    """One output: its windings in series, rectifier, capacitors, and a choke with what stands behind it."""

    name: str
    windings: tuple[str, ...]
    rectifier: tuple[str, ...]
    capacitors: tuple[Element, ...]
    choke: tuple[str, ...]
    filtered: tuple[Element, ...]
    path: Path


class Port(NamedTuple):
    """A port by what stands between it and its bus.

    shape: 'direct', 'load switch', 'buck'; '' where it is none of them, and then `odd` says why, or nobody knows
    chopper, rectifiers, inductor: of the converter; a rectifier is a diode, or a second switch
    inside: whether the chopper holds its second switch itself
    stores: capacitors behind the inductor and ahead of the load switch; outer: those at the port itself
    load_switches, clamps: towards the port, and across it; fuses: in series, ahead of each clamp
    beside: other parts in series, fuses apart; behind: those of them and fuses that carry the current of the port,
        behind the choke of a converter; inputs: capacitors across the bus ahead of the converter
    by: controller of the converter; guard: what senses the port; opens: load switch that it opens
    unknown: parts whose kind nobody knows
    turns: of what is none of the shapes, whether a choke and what switches it make a converter of it all the same
    """

    name: str
    bus: str
    place: Place
    shape: str = ""
    chopper: str = ""
    rectifiers: tuple[str, ...] = ()
    inside: bool = False
    inductor: str = ""
    stores: tuple[str, ...] = ()
    outer: tuple[str, ...] = ()
    load_switches: tuple[str, ...] = ()
    clamps: tuple[str, ...] = ()
    fuses: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    behind: tuple[str, ...] = ()
    inputs: tuple[str, ...] = ()
    by: str = ""
    guard: str = ""
    opens: str = ""
    odd: str = ""
    unknown: tuple[str, ...] = ()
    turns: bool = False

    @property
    def capacitors(self) -> tuple[str, ...]:
        """Those across the port, on either side of its load switch."""
        return (*self.stores, *self.outer)

    @property
    def straight(self) -> bool:
        """Whether the port has the voltage of its bus."""
        return self.shape in ("direct", "load switch")

    @property
    def may_be_straight(self) -> bool:
        """Whether nothing that is known keeps its voltage apart from that of its bus.

        Joined to it, not traced, with a part of unknown kind, or behind what only drops a little, as a diode does.
        """
        return self.straight or not (self.shape or self.turns)


class Control(NamedTuple):
    """Who controls the switch: the part, the part its limit is sensed at, what it senses and through what.

    reference: the part that compares; upper, lower: resistors of its divider, to what is sensed and to the return
    coupler_resistor: in series with the LED of `through`; bias_resistor: across that LED, 'none' where somebody looked
    coupler_supply: the output that feeds the LED
    """

    by: str | None = None
    limits: str | None = None
    senses: tuple[str, ...] = ()  # outputs or TRANSFORMER.WINDING
    through: tuple[str, ...] = ()
    reference: str | None = None
    upper: tuple[str, ...] = ()
    lower: tuple[str, ...] = ()
    coupler_resistor: str | None = None
    bias_resistor: str | None = None
    coupler_supply: str | None = None
    divides: tuple[str, ...] = ()  # the outputs of the upper resistors, in their order


class Bridge(NamedTuple):
    """Parts from one circuit to another: the element and the two points it joins."""

    element: Element
    names: tuple[str, ...]
    between: tuple[str, str]
    place: Place


@frozen
class OwnParts:
    """What a topology makes of the keys of its own, as far as others ask for it; each folder extends it.

    traced: whether anybody has walked from the bulk capacitor through the switch
    winding, switch, sense: what the switch draws from the bulk through, the switch, and what senses its current
    mains_side: windings and parts that are joined to the bulk; facts: what its keys say as words of the vocabulary
    one_job: places whose parts do one job whatever kind they are
    shorts: parts and windings whose short puts the mains across what stands ahead of them, each with those in order
    holding: elements in series with the mains that keep their charge across the pins, each with what lies across it
    auxiliary: what supplies the controller while it runs; start_up: what does until then
    beyond: whether its output lies outside the bulk, as that of a buck-boost does
    beside: what else stands on the path of the switch: what a shorted switch draws hangs on it
    """

    traced: bool = False
    winding: str | None = None
    switch: str | None = None
    sense: str | None = None
    mains_side: tuple[str, ...] = ()
    auxiliary: Path | None = None
    start_up: Path | None = None
    facts: tuple[tuple[QuantityName, str], ...] = ()
    one_job: tuple[str, ...] = ()
    shorts: tuple[tuple[str, tuple[str, ...]], ...] = ()
    holding: tuple[tuple[Element, tuple[Element, ...]], ...] = ()
    beyond: bool = False
    beside: tuple[str, ...] = ()


@frozen
class Structure:
    """Everything that is joined, and the place word of every part."""

    kinds: dict[str, tuple[str, ...]]  # every precise kind still possible
    fitted: dict[str, bool]
    mains: MainsInput | None = None
    own: OwnParts = OwnParts()
    outputs: dict[str, Output] = field(default_factory=dict)
    bridges: tuple[Bridge, ...] | None = None
    earth: tuple[str, ...] | None = None
    places: dict[str, str] = field(default_factory=dict)
    open_places: dict[str, tuple[str, ...]] = field(default_factory=dict)  # what it may be too, while a kind is open
    windings: tuple[str, ...] = ()
    control: Control = Control()
    pins: dict[str, tuple[str, ...]] = field(default_factory=dict)  # winding -> its pins, as listed
    ports: tuple[Port, ...] = ()
    own_inlet: MainsInput | None = None  # of a topology whose input is no rectifier with a bulk capacitor

    @property
    def inlet(self) -> MainsInput | None:
        """What stands behind the plug, whether it ends at a rectifier with a bulk capacitor or at a topology's own."""
        return self.own_inlet or self.mains

    def one_kind(self, name: str) -> str | None:
        """The precise kind of a part, None while several are possible."""
        kinds = self.kinds.get(name, ())
        return kinds[0] if len(kinds) == 1 else None

    def may_be(self, name: str, *kinds: str) -> bool:
        """Whether a part may be of one of these kinds: one that nobody knows may be of any."""
        known = self.kinds.get(name)
        return known is not None and (not known or any(kind in kinds for kind in known))

    def must_be(self, name: str, *kinds: str) -> bool:
        """Whether a part is of one of these kinds, whichever of the possible ones it is."""
        known = self.kinds.get(name, ())
        return bool(known) and all(kind in kinds for kind in known)

    def boosts(self) -> bool:
        """Whether a power-factor stage stands between rectifier and bulk: a choke and a diode, or a switch across.

        A second diode alone stands in series for safety, a choke alone between two capacitors; a part whose kind nobody
        knows is taken as neither.
        """
        if self.mains is None:
            return False
        between = (*self.mains.behind, *self.mains.choke)
        raises = any(self.must_be(name, *DIODES) for name in between) and any(
            self.must_be(name, "choke") for name in between
        )
        switched = any(
            self.must_be(name, "MOSFET", "bipolar transistor", "integrated switch")
            for shunt in self.mains.shunts
            for name in shunt.names
        )
        return raises or switched
