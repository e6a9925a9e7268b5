"""The circuit block of a buck or buck-boost: each output walked from the switch on, and what is fed back from it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from derate.design.circuit import Circuit, DrawingRole, PathForm, Placing, Seen, rectifies
from derate.design.kinds import FAMILIES, PLAIN_DIODES
from derate.design.plain_forms import formed
from derate.design.structure import Element, Group, Leaf, MainsInput, OwnParts, Path, Step, Structure, leaves
from derate.terms.frozen import frozen
from derate.terms.instructions import opened

_BREAK = ("zener diode", "suppressor diode")
_SWITCHES, _RESISTORS, _CAPACITORS = FAMILIES["switch"], FAMILIES["resistor"], FAMILIES["capacitor"]
_TRACE = opened("trace it")
FORMS = {False: "buck", True: "buck-boost"}


@dataclass(slots=True)
class Walked:
    """One output, from the switch on.

    inverting: a buck-boost; sense: resistors in series with the switch; beside: those in series with the inductor
    stores: elements of capacitors across the output; clamps: what breaks down across it; lights: LEDs across it
    other: all that is left; odd: what could not be read as any of these, in words
    """

    switch: str = ""
    sense: list[str] = field(default_factory=list)
    beside: list[str] = field(default_factory=list)
    inverting: bool | None = None
    diodes: tuple[str, ...] = ()
    inductor: str = ""
    stores: list[Element] = field(default_factory=list)
    clamps: list[str] = field(default_factory=list)
    lights: list[str] = field(default_factory=list)
    drains: list[str] = field(default_factory=list)
    other: list[str] = field(default_factory=list)
    odd: list[str] = field(default_factory=list)


@frozen
class BuckParts(OwnParts):
    """What a buck makes of its paths.

    output: name of the one that is walked from the switch; inverting, sensed, beside, diodes, inductor, stores, clamps,
    lights, drains: as walked; feedback: its path; rectifier: of an input without bulk capacitor; filtering: its
    capacitors; ladder: every capacitor between the mains and the switch, from the mains on, with what is in series
    ahead of it since the last; ahead: how many of them stand ahead of the rectifier; odd: why nothing is worked out
    """

    output: str = ""
    chopper: str = ""  # its switch; shorted it puts no mains behind a winding, so that it is no `switch` of the others
    inverting: bool = False
    sensed: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    diodes: tuple[str, ...] = ()
    inductor: str = ""
    stores: tuple[Element, ...] = ()
    clamps: tuple[str, ...] = ()
    lights: tuple[str, ...] = ()
    drains: tuple[str, ...] = ()
    feedback: Path = ()
    rectifier: tuple[str, ...] = ()
    rectified: str = ""
    filtering: tuple[Element, ...] = ()
    ladder: tuple[tuple[tuple[str, ...], Element], ...] = ()
    ahead: int = 0
    odd: str = ""

    @property
    def capacitors(self) -> tuple[str, ...]:
        """Names of the capacitors across the output."""
        return tuple(leaf.name for one in self.stores for leaf in leaves(one))


class BuckCircuit(Circuit, prefix="circuit"):
    """What a buck adds; the output is walked from the bulk capacitor through the switch, whichever end that is at."""

    feedback: Path | None = formed(
        PathForm(),
        "from the output to what controls the switch",
        opened("trace the diode and the capacitor that bring the output's voltage to the controller"),
        "[D3, across C4, R1, across R2]",
    )
    start_up: Path | None = formed(
        PathForm(), "from bulk plus to the controller's supply", _TRACE, "[R1 + R2, across C5]"
    )
    auxiliary: Path | None = formed(PathForm(), "what supplies the controller while it runs", _TRACE, "[D4, across C5]")

    @classmethod
    def skeleton(cls) -> str:
        """The paths of a new file."""
        return """\
  # outputs: {main: [U1, across D1, L1, across C2]}    # a buck, walked through its switch; across L1, D1: a buck-boost
  # feedback: [D2, across C3]                          # what brings the output's voltage to the controller
"""

    @classmethod
    def drawing_roles(cls) -> Mapping[str, DrawingRole]:
        """The start-up hangs on bulk plus."""
        return {"start_up": "from bulk"}

    @classmethod
    def recognises(cls, seen: Seen) -> str:
        """A switch in series, a freewheel diode and a choke behind it, and no winding on the way."""
        if "primary" in seen.keys:
            return ""
        for path in seen.outputs:
            names = {name for step in path for name in step.names}
            if names & seen.windings or any("." in name for name in names) or _through_a_capacitor(path, seen):
                continue
            told = _by_its_form(path, seen)
            if told:
                return told
        return ""

    def own_leaves(self) -> Iterator[Leaf]:
        """Every part on its keys."""
        for path in (self.feedback, self.start_up, self.auxiliary):
            for step in path or ():
                yield from leaves(step.element)

    def own_input(self, placing: Placing) -> MainsInput | None:
        """A rectifier with nothing but film or ceramic behind it keeps no charge: that is the topology's own input."""
        at = _rectifier_at(self.line or (), placing)
        if at is None:
            return None
        behind = _apart((self.line or ())[at + 1 :])
        across = [step for step in behind if step.how == "across"]
        small = all(
            placing.all_of(name, ("film capacitor", "ceramic capacitor", "varistor"))
            for step in across
            for name in step.names
        )
        holds = any(placing.all_of(name, _CAPACITORS) for step in across for name in step.names)
        if not small or not holds:
            return None
        placing.put((self.line or ())[at].names, "mains rectifier")
        for step in behind:
            if step.how in ("series", "in neutral"):
                placing.put(step.names, "mains series")
            elif step.how == "across" and all(placing.all_of(name, _CAPACITORS) for name in step.names):
                placing.put(step.names, "input capacitor")
        return placing.inlet((self.line or ())[:at], behind)

    def own_parts(self, placing: Placing) -> BuckParts:
        """The stage of the one output that starts at the switch; what disagrees with the word is said."""
        found: dict[str, Walked] = {}
        for name, path in self.outputs.items():
            if path is None:
                continue
            winding = next((one for step in path for one in step.names if one in placing.windings or "." in one), None)
            if winding is not None:
                what = f"{winding} stands on the path of {name}: behind a winding that is no buck"
                placing.say(path[0].place, what, "write the topology of what feeds the winding, or walk the choke")
                continue
            walked = found[name] = walk(path, placing)
            if not walked.switch:
                what = f"the path of {name} has no switch in series: a buck is walked through its switch"
                placing.say(path[0].place if path else self.place, what, "write [U1, across D1, L1, across C2]")
            _place(placing, walked)
        placing.place_outputs()
        for step in self.feedback or ():
            placing.put(step.names, "feedback")
        for step in self.auxiliary or ():
            placing.put(step.names, "auxiliary")
        for step in self.start_up or ():
            placing.put(step.names, "auxiliary" if step.how == "across" else "start-up")
        if not found:
            return BuckParts(odd="" if not self.outputs else "its output is not walked through a switch")
        output, stage = next(iter(found.items()))
        odd = list(stage.odd)
        if len(found) > 1:
            odd.append("more than one output with a stage of its own")
        for step in self.line or ():
            if any(placing.all_of(name, ("thyristor",)) for name in step.names):
                odd.append(f"{' and '.join(step.names)} ahead cuts the wave of the mains: a dimmer")
        at = _rectifier_at(self.line or (), placing)
        rectifier = (self.line or ())[at].names if at is not None else ()
        behind = _apart((self.line or ())[at + 1 :]) if at is not None else ()
        filtering = tuple(
            step.element
            for step in behind
            if step.how == "across" and all(placing.all_of(name, _CAPACITORS) for name in step.names)
        )
        own_input = self.own_input(placing) is not None
        last = max((number for number, step in enumerate(behind) if step.element in filtering), default=0)
        late = [name for step in behind[last + 1 :] if step.how == "series" for name in step.names]
        if own_input and late:  # it carries the pulses, keeps none of them from the line, and lifts the switch
            odd.append(f"{' and '.join(late)} in series between the last capacitor behind the rectifier and the switch")
        rungs, ahead = _ladder(self.line or (), at, placing) if own_input and at is not None else ((), 0)
        way = tuple(one for one in (stage.switch, *stage.sense, *stage.beside, stage.inductor) if one)
        return BuckParts(
            traced=bool(stage.switch and stage.inductor),
            beyond=bool(stage.inverting),
            chopper=stage.switch,
            sense=_sense(stage, self.outputs[output] or (), self.control.limits),
            mains_side=(*way, *stage.diodes),
            auxiliary=self.auxiliary,
            start_up=self.start_up,
            facts=(("circuit.input", "without bulk capacitor"),) if own_input else (),
            one_job=("buck switch", "current sense"),
            output=output,
            inverting=bool(stage.inverting),
            sensed=tuple(stage.sense),
            beside=tuple(stage.beside),
            diodes=stage.diodes,
            inductor=stage.inductor,
            stores=tuple(stage.stores),
            clamps=tuple(stage.clamps),
            lights=tuple(stage.lights),
            drains=tuple(stage.drains),
            feedback=self.feedback or (),
            rectifier=rectifier,
            rectified=rectifies(rectifier, placing),
            filtering=filtering,
            ladder=rungs,
            ahead=ahead,
            odd="; ".join(odd),
        )


def _through_a_capacitor(path: Path, seen: Seen) -> bool:
    """Whether a capacitor stands in series on a path: a half bridge, a resonant stage, or one that pumps charge."""
    return any(step.how == "series" and any(seen.all_of([name], _CAPACITORS) for name in step.names) for step in path)


def _by_its_form(path: Path, seen: Seen) -> str:
    """In words what only a buck or a buck-boost has, '' where the path is neither."""
    switch = ""
    for one, other in zip(path, path[1:], strict=False):
        if one.how == "series" and seen.all_of(one.names, _SWITCHES):
            switch = " and ".join(one.names)
        if not switch:
            if one.how != "series":
                return ""
            continue
        if one.how == "across" and other.how == "series":
            named = f"{' and '.join(one.names)} across and {' and '.join(other.names)} in series"
            if seen.all_of(one.names, (*PLAIN_DIODES, *_SWITCHES)) and seen.all_of(other.names, ("choke",)):
                return f"{switch} with {named} behind it"
            if seen.all_of(one.names, ("choke",)) and seen.all_of(other.names, PLAIN_DIODES):
                return f"{switch} with {named} behind it"
    return ""


def walk(path: Path, placing: Placing) -> Walked:
    """One output's path, step by step."""
    found = Walked()
    for step in path:
        if not found.switch or found.inverting is None:
            _ahead(found, step, placing)
        elif not (found.inductor and found.diodes):
            _between(found, step, placing)
        else:
            _behind(found, step, placing)
    if found.switch and not found.inductor:
        found.odd.append("no choke stands behind the switch")
    return found


def _ahead(found: Walked, step: Step, placing: Placing) -> None:
    """Switch and sense resistors, up to the first part across, which tells the form."""
    names = step.names
    if step.how == "across":
        if all(placing.all_of(name, PLAIN_DIODES) for name in names):
            found.inverting, found.diodes = False, names
        elif all(placing.all_of(name, ("choke",)) for name in names) and len(names) == 1:
            found.inverting, found.inductor = True, names[0]
        elif all(placing.all_of(name, _SWITCHES) for name in names):
            found.inverting, found.diodes = False, names
            found.odd.append(f"{' and '.join(names)} freewheels in place of a diode: how it is driven is not told")
        else:
            found.other += names
            found.odd.append(f"{' and '.join(names)} across behind the switch, neither diode nor choke")
        return
    for name in names:
        if placing.all_of(name, _SWITCHES) and not found.switch:
            found.switch = name
        elif placing.all_of(name, _RESISTORS):
            found.sense.append(name)
        else:
            found.other.append(name)
            if placing.all_of(name, _SWITCHES):
                found.odd.append(f"{name} is a second switch in series")


def _between(found: Walked, step: Step, placing: Placing) -> None:
    """The second of diode and choke."""
    names = step.names
    series = step.how == "series"
    if series and not found.inverting and len(names) == 1 and placing.all_of(names[0], ("choke",)):
        found.inductor = names[0]
    elif series and found.inverting and all(placing.all_of(name, PLAIN_DIODES) for name in names):
        found.diodes = names
    elif series and all(placing.all_of(name, _RESISTORS) for name in names) and not found.inverting:
        found.beside += names
    else:
        found.other += names
        found.odd.append(f"{' and '.join(names)} between the switch and its choke")


def _behind(found: Walked, step: Step, placing: Placing) -> None:
    """What lies across the output; what is in series there belongs to the load."""
    if step.how != "across":
        _known(found, step.names, placing)
        if any(placing.all_of(name, _CAPACITORS) for name in step.names):
            found.odd.append(f"{' and '.join(step.names)} in series behind the choke")
        lit = all(placing.all_of(name, ("LED",)) for name in step.names)
        (found.lights if lit else found.other).extend(step.names)
        return
    for one in _branches(step.element):
        _across(found, one, placing)


def _branches(element: Element) -> tuple[Element, ...]:
    """What lies side by side, each with whatever is in series with it."""
    if isinstance(element, Group) and element.joined == "parallel":
        return tuple(branch for member in element.members for branch in _branches(member))
    return (element,)


def _across(found: Walked, element: Element, placing: Placing) -> None:
    names = tuple(leaf.name for leaf in leaves(element))
    together = f"{' and '.join(names)} in series across the output"
    if all(placing.all_of(name, _CAPACITORS) for name in names):
        found.stores.append(element)
    elif all(placing.all_of(name, _BREAK) for name in names):
        found.clamps += names
        if len(names) > 1:
            found.odd.append(together)
    elif any(placing.all_of(name, ("LED",)) for name in names):
        found.lights += names
    elif all(placing.all_of(name, _RESISTORS) for name in names):
        found.drains += names
    else:
        _known(found, names, placing)
        found.other += names
        if len(names) > 1 and any(placing.all_of(name, _CAPACITORS) for name in names):
            found.odd.append(together)


def _known(found: Walked, names: tuple[str, ...], placing: Placing) -> None:
    """What may be a capacitor or LEDs and may be neither: whether it is held to the output nobody can tell."""
    for name in names:
        if any(placing.any_of(name, kinds) and not placing.all_of(name, kinds) for kinds in (_CAPACITORS, ("LED",))):
            found.odd.append(f"{name} at the output, of which nobody knows what it is")


def _sense(found: Walked, path: Path, limits: object) -> str | None:
    """The one resistor that the limit is sensed at: as named, else the only one. None where several share a current."""
    in_line = {step.element.name for step in path if isinstance(step.element, Leaf)}
    for step in path:
        if isinstance(step.element, Group) and step.element.joined == "series":
            in_line |= {one.name for one in step.element.members if isinstance(one, Leaf)}
    resistors = (*found.sense, *found.beside)
    named = str(limits) if limits in resistors else resistors[0] if len(resistors) == 1 else None
    return named if named in in_line else None


def _place(placing: Placing, found: Walked) -> None:
    placing.put((found.switch,) if found.switch else (), "buck switch")
    placing.put((*found.sense, *found.beside), "current sense")
    placing.put(found.diodes, "freewheel diode")
    placing.put((found.inductor,) if found.inductor else (), "buck inductor")
    placing.put(tuple(leaf.name for one in found.stores for leaf in leaves(one)), "output capacitor")
    placing.put(tuple(found.clamps), "output clamp")
    placing.put((*found.lights, *found.drains, *found.other), "output")


def _apart(path: Path) -> Path:
    """The same steps, with what lies side by side across as a step each."""
    return tuple(
        step._replace(element=branch)
        for step in path
        for branch in (_branches(step.element) if step.how == "across" else (step.element,))
    )


def _ladder(line: Path, at: int, placing: Placing) -> tuple[tuple[tuple[tuple[str, ...], Element], ...], int]:
    """Every capacitor on the way from the mains, and how many stand ahead of the rectifier.

    One to earth closes by the neutral and counts as one across, but beside one that lies across: there it only adds.
    """
    rungs: list[tuple[tuple[str, ...], Element]] = []
    series: list[str] = []
    beside, across, ahead = False, False, 0
    first = _apart(line[:at])
    for k, step in enumerate((*first, line[at], *_apart(line[at + 1 :]))):
        if k == len(first):
            ahead, beside = len(rungs), False
        elif step.how not in ("across", "to earth"):
            series += step.names
            beside = False
        elif any(placing.any_of(name, _CAPACITORS) for name in step.names):
            if not beside:
                rungs.append((tuple(series), step.element))
            elif step.how == "across":
                last = rungs[-1][1]
                rungs[-1] = (rungs[-1][0], Group("parallel", (last, step.element)) if across else step.element)
            across = step.how == "across" or (beside and across)
            beside, series = True, []
    return tuple(rungs), ahead


def _rectifier_at(line: Path, placing: Placing) -> int | None:
    """Which step of the line rectifies."""
    for k, step in enumerate(line):
        if step.how in ("series", "in neutral") and rectifies(step.names, placing):
            return k
    return None


def parts_of(structure: Structure) -> BuckParts:
    """What a buck's paths made up; nothing of it where the block was read as another topology's."""
    return structure.own if isinstance(structure.own, BuckParts) else BuckParts()
