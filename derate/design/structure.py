"""The structure of a supply: what is joined to what. Plain frozen values, made by `walk.py` from the walked paths.

Names are part names, or TRANSFORMER.WINDING. A block that nobody filled in is None ("unknown"); one that was looked
at and found empty is an empty tuple.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from derate.design.paths import Element, Path
from derate.terms.place import Place
from derate.terms.quantities import QuantityName

EMPTY = ("no", "wired over")  # words of a position without its part: open pads, or a wire across them
PROTECTIVE = ("fuse", "fusible film resistor", "fusible wirewound resistor", "board track")


class Shunt(NamedTuple):
    """An element from one mains conductor to the other (or to earth), `behind` so many series elements."""

    element: Element
    names: tuple[str, ...]
    behind: int
    to_earth: bool = False


class MainsInput(NamedTuple):
    """The mains path from plug to bulk, walked as the current goes.

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


class Bridge(NamedTuple):
    """Parts from one circuit to another: the element and the two points it joins."""

    element: Element
    names: tuple[str, ...]
    between: tuple[str, str]
    place: Place


@dataclass(frozen=True, slots=True)
class OwnParts:
    """What a topology makes of the keys of its own, as far as others ask for it; each folder extends it.

    traced: whether anybody has walked from the bulk capacitor through the switch
    winding, switch, sense: what the switch draws from the bulk through, the switch, and what senses its current
    mains_side: windings and parts that are joined to the bulk; facts: what its keys say as words of the vocabulary
    one_job: places whose parts do one job whatever kind they are
    auxiliary: what supplies the controller while it runs; start_up: what does until then
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


@dataclass(frozen=True, slots=True)
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
    windings: tuple[str, ...] = ()
    control: Control = Control()
    pins: dict[str, tuple[str, ...]] = field(default_factory=dict)  # winding -> its pins, as listed

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
