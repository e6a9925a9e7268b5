"""The circuit block of a self-oscillating flyback: that of a flyback, and the drive from a winding to the switch."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from derate.design.circuit import PathForm, Placing, Seen
from derate.design.kinds import FAMILIES
from derate.design.plain_forms import formed
from derate.design.structure import Element, Group, Leaf, Path, Structure, leaves
from derate.design.structure import Step as PathStep
from derate.terms.frozen import frozen, names_of
from derate.terms.instructions import opened
from derate.topologies.flyback.circuit import FlybackCircuit, FlybackParts

_DRIVEN = ("bipolar transistor", "MOSFET")
_INTEGRATED = ("controller", "integrated switch")
_HOLDING = (*FAMILIES["diode"],)


class Drive(NamedTuple):
    """From the drive winding to base or gate.

    windings: in series; series: what stands in series, as one element, None where nothing does; resistors, capacitors:
    names in it; diodes: in series with the base; across: diodes that lie alone from base or gate to the return of the
    switch, with nothing in series behind them; odd: what on the path is none of these
    """

    windings: tuple[str, ...]
    series: Element | None
    resistors: tuple[str, ...]
    capacitors: tuple[str, ...]
    diodes: tuple[str, ...]
    across: tuple[str, ...]
    odd: tuple[str, ...]


@frozen
class SelfOscillatingParts(FlybackParts):
    """What a self-oscillating flyback makes of its keys: that of a flyback, and its drive.

    drive: None where nobody traced it
    """

    drive: Drive | None = None


class SelfOscillatingCircuit(FlybackCircuit, prefix="circuit"):
    """What it adds to a flyback."""

    drive: Path | None = formed(
        PathForm(),
        "from the drive winding to base or gate of the switch, with what lies across that",
        opened("trace it from base or gate back to a winding"),
        "[T1.drive, R4, C5, Q1, across D4]",
    )

    @classmethod
    def skeleton(cls) -> str:
        """These keys in a new file."""
        return """\
  primary: [T1.primary, Q1, RS1]
  # drive: [T1.drive, R4, C5, Q1]                            # from the winding to base or gate
  # start_up: [R2 + R3, Q1]
  # clamp: {across: T1.primary, path: D2 + (R5 || C4)}   # or none, once you have looked
"""

    @classmethod
    def recognises(cls, seen: Seen) -> str:
        """A winding or the start resistors lead to the switch itself, and nothing that controls one is in the file."""
        if any(seen.all_of([name], _INTEGRATED) for name in seen.kinds):
            return ""
        switches = {
            name
            for step in seen.paths.get("primary", ())
            for name in step.names
            if step.how == "series" and seen.all_of([name], _DRIVEN)
        }
        driven = _ends_at(seen.paths.get("drive", ()), switches)
        started = _ends_at(seen.paths.get("start_up", ()), switches)
        if driven:
            return f"a winding drives {driven}, and nothing controls it"
        return f"start resistors lead to {started} itself, and nothing controls it" if started else ""

    def own_leaves(self) -> Iterator[Leaf]:
        """Every part and winding on them."""
        yield from FlybackCircuit.own_leaves(self)
        for step in self.drive or ():
            yield from leaves(step.element)

    def own_parts(self, placing: Placing) -> SelfOscillatingParts:
        """Those of a flyback, then the drive."""
        parts = FlybackCircuit.own_parts(self, placing)
        drive = self._drive(parts, placing)
        given = {name: getattr(parts, name) for name in names_of(FlybackParts)}
        if drive is not None:
            given["mains_side"] = (*parts.mains_side, *drive.windings)
        given["facts"] = (*parts.facts, ("control.type", "self-oscillating"))
        return SelfOscillatingParts(**given, drive=drive)

    def disagrees(self, parts: FlybackParts, placing: Placing) -> None:
        """What says that somebody else controls the switch: a controller, an integrated switch, another control."""
        stated = self.control.type
        if stated is not None and stated.word not in (None, "self-oscillating"):
            what = f"control {stated.word} is not that of a switch that drives itself"
            placing.say(stated.place, what, "write topology: flyback, or leave type out of control")
        by = self.control.by
        if by is not None and placing.all_of(by, _INTEGRATED):
            what = f"{by} controls the switch, so it does not drive itself"
            placing.say(by.place, what, "write topology: flyback")
        switch = parts.switch
        if switch is not None and placing.all_of(switch, ("integrated switch",)):
            what = f"{switch} has its control inside, so it does not drive itself"
            place = next(step.place for step in self.primary or () if switch in step.names)
            placing.say(place, what, "write topology: flyback")
        for key, path in (("drive", self.drive), ("start_up", self.start_up)):
            last = path[-1] if path else None
            driven = next((name for step in path or () for name in step.names if placing.all_of(name, _DRIVEN)), None)
            if self.primary and switch is None and last is not None and driven is not None:
                what = f"circuit.{key} leads to {driven}, and no switch stands on circuit.primary"
                placing.say(last.place, what, "write the switch that it drives on circuit.primary")
            ends = [name for step in path or () for name in step.names if placing.all_of(name, _INTEGRATED)]
            if last is not None and ends:
                what = f"circuit.{key} leads to {ends[0]}, which is no switch that drives itself"
                placing.say(last.place, what, "write topology: flyback")

    def _drive(self, parts: FlybackParts, placing: Placing) -> Drive | None:
        """The path taken apart; the switch at its end belongs to the primary path."""
        if not self.drive:
            return None
        windings: list[str] = []
        series: list[Element] = []
        across: list[str] = []
        odd: list[str] = []
        kinds: dict[str, list[str]] = {"resistor": [], "capacitor": [], "diode": []}
        last = max((at for at, step in enumerate(self.drive) if _behind(step, parts.switch)), default=-1)
        for at, step in enumerate(self.drive):
            names = tuple(name for name in step.names if name != parts.switch)
            if any(name in placing.windings or "." in name for name in names):
                windings += names
                continue
            placing.put(names, "drive")
            if step.how == "across":
                # ahead of what stands in series it lies across the winding, and holds no base or gate
                alone = side_by_side(step.element) if at > last else ()
                holds = [name for name in names if name in alone and placing.all_of(name, _HOLDING)]
                across += holds
                # a resistor from base to emitter only takes current away, and so does a second transistor
                odd += [
                    name
                    for name in names
                    if name not in holds and not placing.all_of(name, (*FAMILIES["resistor"], *_DRIVEN))
                ]
                continue
            if not names:
                continue
            for name in names:
                family = next((one for one in kinds if placing.all_of(name, FAMILIES[one])), "")
                (kinds[family] if family else odd).append(str(name))
            series.append(step.element)
        whole = None if not series else series[0] if len(series) == 1 else Group("series", tuple(series))
        return Drive(
            tuple(windings),
            whole,
            tuple(kinds["resistor"]),
            tuple(kinds["capacitor"]),
            tuple(kinds["diode"]),
            tuple(str(name) for name in across),
            tuple(str(name) for name in odd),
        )


def _behind(step: PathStep, switch: str | None) -> bool:
    return step.how == "series" and any(name != switch for name in step.names)


def side_by_side(element: Element) -> tuple[str, ...]:
    """What of an element lies between both its ends by itself: with anything in series it holds no voltage there."""
    if isinstance(element, Leaf):
        return (element.name,)
    if element.joined == "series":
        return ()
    return tuple(name for member in element.members for name in side_by_side(member))


def _ends_at(path: Path, switches: set[str]) -> str:
    """The switch that a path ends at, '' where it ends at none."""
    last = next((step for step in reversed(path) if step.how == "series"), None)
    return next((str(name) for name in (last.names if last is not None else ()) if name in switches), "")


def parts_of(structure: Structure) -> SelfOscillatingParts:
    """What its keys made up; nothing of it where the block was read as another topology's."""
    return structure.own if isinstance(structure.own, SelfOscillatingParts) else SelfOscillatingParts()
