"""The circuit block of a flyback: the keys it adds, the places of the parts on them, and what they make up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from derate.design.circuit import LEAF, Circuit, DrawingRole, ElementForm, PathForm, Placing, Seen
from derate.design.kinds import FAMILIES
from derate.design.names import each_named, name
from derate.design.plain_forms import Block, OrNone, formed
from derate.design.record import Name, Record
from derate.design.structure import Element, Leaf, OwnParts, Path, Structure, leaves
from derate.terms.frozen import field, frozen
from derate.terms.instructions import opened
from derate.terms.tuples import NamedTuple

_SWITCHES = FAMILIES["switch"]
_TRACE = opened("trace it")


class Clamp(Record):
    """What clamps the switch node."""

    across: Name | None = name("what it lies across", *LEAF, how=_TRACE, example="T1.primary", needed=True)
    path: Element | None = formed(ElementForm(), "its parts, joined", _TRACE, "D5 + (R5 || C4)", needed=True)


class Primary(NamedTuple):
    """Bulk plus to bulk minus: winding, switch, sense resistor and whatever else is in series."""

    winding: str | None
    switch: str | None
    sense: str | None
    path: Path

    @property
    def beside(self) -> tuple[str, ...]:
        """What else stands on the path."""
        own = (self.winding, self.switch, self.sense)
        return tuple(name for step in self.path for name in step.names if name not in own)


@frozen
class FlybackParts(OwnParts):
    """What a flyback makes of its keys.

    primary: from bulk plus to bulk minus; clamp: its element and what it lies across, () where there is none
    snubbers: the parts of each by what it lies across
    """

    primary: Primary | None = None
    clamp: tuple[Element, str] | tuple[()] | None = None
    snubbers: Mapping[str, Path] = field(default_factory=dict)


class FlybackCircuit(Circuit, prefix="circuit"):
    """What a flyback adds."""

    primary: Path | None = formed(PathForm(), "from bulk plus to bulk minus", _TRACE, "[T1.primary, Q1, R9]")
    clamp: Clamp | tuple[()] | None = formed(
        OrNone(
            Block(Clamp, "what clamps the switch node"), "none, unknown or {across: T1.primary, path: D5 + (R5 || C4)}"
        ),
        how=opened("look for a diode with resistor and capacitor, or a suppressor, across the primary winding"),
        example="{across: T1.primary, path: D5 + (R5 || C4)}",
    )
    start_up: Path | None = formed(
        PathForm(), "from bulk plus to the controller's supply", _TRACE, "[R1 + R2, across C5]"
    )
    auxiliary: Path | None = formed(
        PathForm(), "from the auxiliary winding to the controller", _TRACE, "[T1.auxiliary, D6, across C5, U1]"
    )
    snubbers: Mapping[str, Path | None] = each_named(
        PathForm(), "snubbers by the part or winding that each lies across", *LEAF, how=_TRACE, example="{D7: [RS, CS]}"
    )

    @classmethod
    def skeleton(cls) -> str:
        """These keys in a new file."""
        return """\
  primary: [T1.primary, Q1, RS1]
  # clamp: {across: T1.primary, path: D2 + (R2 || C3)}   # or none, once you have looked
"""

    @classmethod
    def recognises(cls, seen: Seen) -> str:
        """One controlled switch in series with one winding, and behind others a rectifier straight to its capacitor.

        Nothing that a bridge, a resonant or a forward stage has may stand on these paths, and no other part that could
        switch the primary anywhere in the file; a switch that nothing controls may drive itself.
        """
        series = [step for step in seen.paths.get("primary", ()) if step.how == "series"]
        names = [name for step in series for name in step.names]
        windings = [name for name in names if name in seen.windings]
        switches = [name for name in names if seen.all_of([name], _SWITCHES)]
        sensed = [name for name in names if name not in windings and name not in switches]
        if len(windings) != 1 or len(switches) != 1 or len(series) != len(seen.paths["primary"]):
            return ""
        if sensed and not seen.all_of(sensed, FAMILIES["resistor"]):
            return ""
        if not seen.all_of(switches, ("integrated switch",)) and not _controlled(seen, set(switches)):
            return ""
        behind = [_straight_to_its_capacitor(path, seen) for path in seen.outputs]
        if not behind or not all(behind):
            return ""
        return f"{switches[0]} in series with {windings[0]}, and each output rectified straight into its capacitor"

    @classmethod
    def drawing_roles(cls) -> Mapping[str, DrawingRole]:
        """The primary closes across the bulk capacitor; the start-up hangs on its plus."""
        return {"primary": "loop", "start_up": "from bulk"}

    def own_leaves(self) -> Iterator[Leaf]:
        """Every part and winding on them."""
        for path in (self.primary, self.start_up, self.auxiliary, *self.snubbers.values()):
            for step in path or ():
                yield from leaves(step.element)
        if isinstance(self.clamp, Clamp) and self.clamp.path is not None:
            yield from leaves(self.clamp.path)

    def own_parts(self, placing: Placing) -> FlybackParts:
        """Place them in the order in which the current meets them, the outputs behind the primary side."""
        primary = self._primary(placing)
        clamp = self._clamp(placing)
        placing.place_outputs()
        for step in self.auxiliary or ():
            placing.put(step.names, "auxiliary")
        for step in (
            self.start_up or ()
        ):  # what stands across it carries the supply of the controller, wherever it is listed
            placing.put(step.names, "auxiliary" if step.how == "across" else "start-up")
        for path in self.snubbers.values():
            for step in path or ():
                placing.put(step.names, "snubber")
        parts = FlybackParts(
            traced=self.primary is not None,
            winding=primary.winding if primary is not None else None,
            switch=primary.switch if primary is not None else None,
            sense=primary.sense if primary is not None else None,
            mains_side=tuple(name for step in primary.path for name in step.names) if primary is not None else (),
            auxiliary=self.auxiliary,
            start_up=self.start_up,
            facts=(("circuit.clamp", _clamp_word(placing, clamp)),) if clamp is not None else (),
            one_job=("primary", "current sense"),
            beside=primary.beside if primary is not None else (),
            primary=primary,
            clamp=clamp,
            snubbers={across: path for across, path in self.snubbers.items() if path},
        )
        self.disagrees(parts, placing)
        return parts

    def disagrees(self, parts: FlybackParts, placing: Placing) -> None:
        """What says that nothing controls the switch, and that it drives itself."""
        instead = "write topology: self-oscillating flyback"
        stated = self.control.type
        if stated is not None and stated.word == "self-oscillating":
            placing.say(stated.place, "a switch that drives itself makes this another topology", instead)
            return
        last = self.start_up[-1] if self.start_up else None
        alone = parts.switch is not None and placing.all_of(parts.switch, ("bipolar transistor", "MOSFET"))
        if alone and last is not None and last.how == "series" and parts.switch in last.names:
            what = f"the start-up path leads to {parts.switch} itself, which then drives itself"
            placing.say(last.place, what, f"{instead}, or the controller at the end of the path")

    def _primary(self, placing: Placing) -> Primary | None:
        """The primary path: winding, switch and what senses its current."""
        if not self.primary:
            return None
        winding = switch = None
        behind: list[str] = []
        for step in self.primary:
            for one in step.names:
                if one in placing.windings or "." in one:
                    winding = winding or one
                elif placing.all_of(one, _SWITCHES):
                    switch = switch or one
                    placing.put((one,), "primary switch")
                else:
                    behind.append(one)
        if switch is None:  # what nobody knows the kind of stands where the switch has to be
            switch = next((one for one in behind if placing.any_of(one, _SWITCHES)), None)
            if switch is not None:
                behind.remove(switch)
                others = () if placing.all_of(switch, _SWITCHES) else ("primary", "current sense")
                placing.put((switch,), "primary switch", *others)
        limits = self.control.limits
        first = next((each for each in behind if placing.all_of(each, FAMILIES["resistor"])), None)
        sense = str(limits) if limits in behind else first
        if sense:
            placing.put((sense,), "current sense")
        for one in behind:
            may_sense = not sense and placing.any_of(one, FAMILIES["resistor"])
            may_switch = placing.any_of(one, _SWITCHES)
            others = (*(("current sense",) if may_sense else ()), *(("primary switch",) if may_switch else ()))
            placing.put((one,), "primary", *others)
        return Primary(winding, switch, sense, self.primary)

    def _clamp(self, placing: Placing) -> tuple[Element, str] | tuple[()] | None:
        """The clamp: element and what it lies across; () when there is none, None when unknown."""
        if not isinstance(self.clamp, Clamp):
            return self.clamp
        if self.clamp.path is None or self.clamp.across is None:
            return None
        placing.put(tuple(leaf.name for leaf in leaves(self.clamp.path)), "clamp")
        return self.clamp.path, str(self.clamp.across)


def _controlled(seen: Seen, switches: set[str]) -> bool:
    """Whether a controller is in the file, and no second part that may switch but on the line or behind the outputs."""
    walked = {name for path in (seen.line, *seen.outputs) for step in path for name in step.names}
    others = [name for name in seen.kinds if name not in switches and name not in walked]
    if any(not seen.kinds[name] or set(seen.kinds[name]) & {*_SWITCHES, "thyristor"} for name in others):
        return False
    return any(seen.all_of([name], ("controller",)) for name in others)


def _straight_to_its_capacitor(path: Path, seen: Seen) -> bool:
    """A winding, then rectifiers alone, then a capacitor across."""
    rectifiers: list[str] = []
    wound = False
    for step in path:
        if step.how == "across":
            return wound and bool(rectifiers) and seen.all_of(step.names, FAMILIES["capacitor"])
        for one in step.names:
            if one in seen.windings:
                wound = True
            elif seen.all_of([one], (*FAMILIES["diode"], "MOSFET")):
                rectifiers.append(one)
            else:
                return False
    return False


def _clamp_word(placing: Placing, clamp: tuple[Element, str] | tuple[()]) -> str:
    """The word of `circuit.clamp`, by the kinds of its parts."""
    if not clamp:
        return "none"
    names = [leaf.name for leaf in leaves(clamp[0])]
    if any(placing.all_of(name, ("suppressor diode",)) for name in names):
        return "suppressor"
    if any(placing.all_of(name, ("zener diode",)) for name in names):
        return "zener"
    return "resistor-capacitor-diode"


def parts_of(structure: Structure) -> FlybackParts:
    """What a flyback's keys made up; nothing of it where the block was read as another topology's."""
    return structure.own if isinstance(structure.own, FlybackParts) else FlybackParts()
