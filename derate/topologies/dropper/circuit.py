"""The circuit block of a dropper: the line through what drops the mains, to the rectifier and what clamps it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from derate.design.circuit import Circuit, Placing, Seen
from derate.design.kinds import FAMILIES
from derate.design.structure import Element, Group, Leaf, MainsInput, OwnParts, Path, Step, Structure, leaves
from derate.terms.frozen import frozen
from derate.terms.quantity_names import QuantityName

_BREAK = ("zener diode", "suppressor diode", "shunt reference")
_PLAIN = tuple(kind for kind in FAMILIES["diode"] if kind not in _BREAK)
_FUSIBLE = ("fusible film resistor", "fusible wirewound resistor")
_IN_SERIES = ("series", "in neutral")


class Dropping(NamedTuple):
    """What drops the mains in one step: its capacitors, and each way across them that lets their charge go."""

    capacitors: Element
    across: tuple[Element, ...]


@dataclass(slots=True)
class Walked:
    """The line of a dropper, step by step, as far as its parts are known.

    ahead: steps up to what drops the mains, and those in series behind it ahead of the rectifier
    dropping: the capacitors in series with the mains; resistors: all in series, up to the first part across the rail
    rectifier: its parts; input: 'full bridge' or 'half-wave'
    returns: plain diodes across ahead of a half-wave rectifier; clamps: what breaks down, ahead of it or behind
    clamped_ahead: whether one of those stands ahead of it; stores, drains, lights: on the rail
    trickles: what breaks down with a resistor in series with it, which holds nothing
    odd: what could not be read as any of these, in words
    """

    ahead: list[Step] = field(default_factory=list)
    dropping: list[Dropping] = field(default_factory=list)
    resistors: list[str] = field(default_factory=list)
    behind: list[str] = field(default_factory=list)
    rectifier: tuple[str, ...] = ()
    input: str = ""
    returns: list[str] = field(default_factory=list)
    clamps: list[str] = field(default_factory=list)
    clamped_ahead: bool = False
    varistors: list[str] = field(default_factory=list)
    stores: list[Element] = field(default_factory=list)
    drains: list[str] = field(default_factory=list)
    lights: list[str] = field(default_factory=list)
    trickles: list[str] = field(default_factory=list)
    odd: list[str] = field(default_factory=list)


@frozen
class DropperParts(OwnParts):
    """What a dropper makes of its line.

    dropping: the capacitors in series with the mains, step by step; () where resistors alone drop it
    resistors: every resistor in series, in order; dropped_by: those of them that drop the mains where nothing else does
    input, rectifier, returns, clamps, clamped_ahead, stores, drains, lights: as walked
    odd: what on the line is neither of these: then nothing is worked out
    """

    dropping: tuple[Dropping, ...] = ()
    resistors: tuple[str, ...] = ()
    dropped_by: tuple[str, ...] = ()
    input: str = ""
    rectifier: tuple[str, ...] = ()
    returns: tuple[str, ...] = ()
    clamps: tuple[str, ...] = ()
    clamped_ahead: bool = False
    stores: tuple[Element, ...] = ()
    drains: tuple[str, ...] = ()
    lights: tuple[str, ...] = ()
    odd: str = ""

    @property
    def capacitors(self) -> tuple[str, ...]:
        """Names of the dropping capacitors."""
        return tuple(leaf.name for one in self.dropping for leaf in leaves(one.capacitors))

    @property
    def element(self) -> Element | None:
        """All dropping capacitors as one element; None where resistors alone drop the mains."""
        each = tuple(one.capacitors for one in self.dropping)
        return None if not each else each[0] if len(each) == 1 else Group("series", each)


class DropperCircuit(Circuit, prefix="circuit"):
    """A dropper adds no key: the line goes through what drops the mains, to the rectifier, and on along the rail."""

    @classmethod
    def recognises(cls, seen: Seen) -> str:
        """A capacitor in series with the mains ahead of a rectifier, and no winding anywhere in the file; or resistors
        in series, and what is fed by them."""
        if seen.windings or "primary" in seen.keys:
            return ""
        for step in _apart(seen.line):
            if step.how not in _IN_SERIES:
                continue
            if seen.all_of(step.names, (*_PLAIN, "bridge rectifier")):
                break
            holds = [name for name in step.names if seen.all_of([name], FAMILIES["capacitor"])]
            if holds:
                return f"{' and '.join(holds)} in series with the mains"
        return _by_resistors(seen)

    def own_input(self, placing: Placing) -> MainsInput:
        """What stands behind the plug ahead of the rectifier, without what drops the mains and what is behind that."""
        walked = self._walked(placing)
        self._disagrees(placing, walked)
        for one in walked.dropping:
            placing.put(tuple(leaf.name for leaf in leaves(one.capacitors)), "dropping capacitor")
            placing.put(tuple(leaf.name for across in one.across for leaf in leaves(across)), "dropper bleeder")
        if not walked.dropping:
            placing.put(_dropped_by(placing, walked), "dropping resistor")
        placing.put(tuple(walked.behind), "mains series")
        placing.put(walked.rectifier, "mains rectifier")
        placing.put(tuple(walked.returns), "mains rectifier")
        placing.put(tuple(walked.clamps), "dropper clamp")
        placing.put(tuple(walked.varistors), "dropper varistor")
        placing.put(tuple(leaf.name for one in walked.stores for leaf in leaves(one)), "output capacitor")
        placing.put((*walked.drains, *walked.lights, *walked.trickles), "output")
        for step in self.line or ():
            for name in step.names:
                if name not in _names(walked):
                    placing.put((name,), "other", *_open(placing, step, name))
        return placing.inlet(tuple(walked.ahead))

    def own_parts(self, placing: Placing) -> DropperParts:
        """What the line makes up; its places were given with the input."""
        if not self.line:
            return DropperParts()
        walked = self._walked(placing)
        path = tuple(name for step in walked.ahead if step.how in _IN_SERIES for name in step.names) + tuple(
            walked.behind
        )
        names = [leaf.name for one in walked.dropping for leaf in leaves(one.capacitors)]
        word: tuple[tuple[QuantityName, str], ...] = (("circuit.input", "dropper"),)
        return DropperParts(
            traced=bool(walked.rectifier),
            shorts=((names[0], path),) if len(names) == 1 else (),
            holding=tuple((one.capacitors, one.across) for one in walked.dropping),
            facts=word,
            dropping=tuple(walked.dropping),
            resistors=tuple(walked.resistors),
            dropped_by=() if walked.dropping else _dropped_by(placing, walked),
            input=walked.input,
            rectifier=walked.rectifier,
            returns=tuple(walked.returns),
            clamps=tuple(walked.clamps),
            clamped_ahead=walked.clamped_ahead,
            stores=tuple(walked.stores),
            drains=tuple(walked.drains),
            lights=tuple(walked.lights),
            odd="; ".join(walked.odd),
        )

    def _walked(self, placing: Placing) -> Walked:
        found = Walked()
        for step in _apart(self.line or ()):
            _take(found, step, placing.all_of)
        if found.rectifier:  # the rail goes on at the outputs, up to the first part in series there
            for path in self.outputs.values():
                for step in _apart(path or ()):
                    if step.how != "across":
                        break
                    _on_the_rail(found, step, placing.all_of)
            if not found.dropping and not _dropped_by(placing, found):
                found.odd += [f"{named} in series at the output" for named in self._behind_the_rail(placing)]
        return found

    def _behind_the_rail(self, placing: Placing) -> Iterator[str]:
        """Resistors in series at an output: where nothing on the line drops the mains, they do."""
        for path in self.outputs.values():
            for step in _apart(path or ()):
                if step.how in _IN_SERIES and _each(step.names, FAMILIES["resistor"], placing.all_of):
                    yield " and ".join(step.names)

    def _disagrees(self, placing: Placing, walked: Walked) -> None:
        """What on the line says that this is no dropper."""
        for step in self.line or ():
            winding = next((name for name in step.names if name in placing.windings), None)
            if winding is not None:
                what = f"{winding} stands on the line: that is a mains transformer and no dropper"
                placing.say(step.place, what, "write topology: line transformer")
                return
        if walked.rectifier and not walked.dropping and not walked.resistors and not walked.odd:
            named = " and ".join(walked.rectifier)
            what = f"nothing in series drops the mains ahead of {named}, so this is no dropper"
            step = next(step for step in self.line or () if set(walked.rectifier) & set(step.names))
            placing.say(step.place, what, "write the capacitor or the resistors in series, or the topology that it is")


_Kinds = Callable[[str, tuple[str, ...]], bool]
_LINE_ONLY = ("fuse", "board track", "NTC thermistor", "varistor", "common-mode choke", "bridge rectifier")
_PASSIVE = (*FAMILIES["resistor"], *FAMILIES["capacitor"], *FAMILIES["diode"], *_LINE_ONLY, "LED", "shunt reference")


def _by_resistors(seen: Seen) -> str:
    """Plain resistors in series with the mains, LEDs or what breaks down behind them, and no part anywhere that could
    switch or transform; '' where that is not so.

    Without LEDs or a clamp it may be the first lines of a file that is not whole yet: every supply begins like that.
    """
    if not seen.kinds or not seen.all_of(seen.kinds, _PASSIVE):
        return ""
    line = [name for step in _apart(seen.line) if step.how in _IN_SERIES for name in step.names]
    resistors = [name for name in line if seen.all_of([name], FAMILIES["resistor"])]
    drops = [name for name in resistors if not seen.all_of([name], _FUSIBLE)]
    rectifies = any(seen.all_of([name], (*_PLAIN, "bridge rectifier")) for name in line)
    fed = [name for path in (seen.line, *seen.outputs) for step in path for name in step.names]
    held = [name for name in fed if seen.all_of([name], ("LED", "zener diode", "shunt reference"))]
    if not drops or not rectifies or not held:
        return ""
    return f"{' and '.join(drops)} in series with the mains, and nothing that switches or transforms"


def _apart(path: Path) -> Iterator[Step]:
    """The steps of a path, parts in series on one step taken one by one, parts in parallel across likewise."""
    for step in path:
        element = step.element
        joined = "series" if step.how in _IN_SERIES else "parallel"
        if isinstance(element, Group) and element.joined == joined:
            for member in element.members:
                yield from _apart((step._replace(element=member),))
        else:
            yield step


def _take(found: Walked, step: Step, all_of: _Kinds) -> None:
    """One step of the line."""
    names = step.names
    if found.rectifier:
        if step.how == "across":
            _on_the_rail(found, step, all_of)
        elif _each(names, FAMILIES["resistor"], all_of) and not _rail(found) and isinstance(step.element, Leaf):
            found.behind += names
            found.resistors += names
        else:
            found.odd.append(f"{' and '.join(names)} in series behind the rectifier")
        return
    if step.how in _IN_SERIES:
        kind = _rectifier(names, all_of)
        dropped = _dropping(step.element, all_of)
        if kind:
            found.rectifier, found.input = names, kind
        elif dropped is not None:
            found.dropping.append(dropped)
        else:
            if any(all_of(name, FAMILIES["capacitor"]) for name in names):
                found.odd.append(f"{' and '.join(names)} in series with the mains")
            elif any(all_of(name, ("thyristor",)) for name in names):
                found.odd.append(f"{' and '.join(names)} ahead cuts the wave of the mains: a dimmer")
            elif _each(names, FAMILIES["resistor"], all_of):
                found.resistors += names
                if not isinstance(step.element, Leaf):
                    found.odd.append(f"{' and '.join(names)} in parallel")
            found.ahead.append(step)
        return
    if step.how == "across" and _each(names, _BREAK, all_of) and not _mains_suppressor(found, names, all_of):
        found.clamps += names
        found.clamped_ahead = True
    elif step.how == "across" and _each(names, _PLAIN, all_of):
        found.returns += names
    elif step.how == "across" and found.dropping:
        if _each(names, ("varistor",), all_of):
            found.varistors += names
        else:
            found.odd.append(f"{' and '.join(names)} across behind what drops the mains")
    else:
        found.ahead.append(step)


# What a part across the line may be while its kind is open, by the kinds that would make it so.
_ACROSS = {"dropper clamp": _BREAK, "mains rectifier": _PLAIN, "output capacitor": FAMILIES["capacitor"]}


def _open(placing: Placing, step: Step, name: str) -> Iterator[str]:
    """The places that an odd part may have had, were its kind known."""
    if step.how == "across":
        for place, kinds in _ACROSS.items():
            if placing.any_of(name, kinds) and not placing.all_of(name, kinds):
                yield place


def _mains_suppressor(found: Walked, names: tuple[str, ...], all_of: _Kinds) -> bool:
    """A suppressor ahead of everything that drops the mains takes surges, and clamps nothing."""
    return not found.dropping and not found.resistors and _each(names, ("suppressor diode",), all_of)


def _on_the_rail(found: Walked, step: Step, all_of: _Kinds) -> None:
    """One element across the rail."""
    names = step.names
    if _each(names, _BREAK, all_of) and isinstance(step.element, Leaf):
        found.clamps += names
    elif _each(names, FAMILIES["capacitor"], all_of):
        found.stores.append(step.element)
    elif _each(names, FAMILIES["resistor"], all_of) and isinstance(step.element, Leaf):
        found.drains += names
    elif _each(names, ("LED", *FAMILIES["resistor"]), all_of):
        found.lights += names
    elif _each(names, (*_BREAK, *FAMILIES["resistor"]), all_of):
        found.trickles += names  # a resistor in series with what breaks down: it draws something and holds nothing
    else:
        found.odd.append(f"{' and '.join(names)} across the rail")


def _rail(found: Walked) -> bool:
    """Whether anything lies across the rail yet."""
    return bool(found.stores or found.drains or found.lights or (found.clamps and not found.clamped_ahead))


def _each(names: tuple[str, ...], kinds: tuple[str, ...], all_of: _Kinds) -> bool:
    return bool(names) and all(all_of(name, kinds) for name in names)


def _rectifier(names: tuple[str, ...], all_of: _Kinds) -> str:
    """What kind of rectifier a step in series is, '' for none."""
    if len(names) == 1 and all_of(names[0], ("bridge rectifier",)):
        return "full bridge"
    if _each(names, _PLAIN, all_of):
        return {1: "half-wave", 4: "full bridge"}.get(len(names), "")
    return ""


def _dropping(element: Element, all_of: _Kinds) -> Dropping | None:
    """Capacitors in series with the mains with what lies across them; None for a step that is none."""
    members = element.members if isinstance(element, Group) and element.joined == "parallel" else (element,)
    holds = [one for one in members if _all(one, FAMILIES["capacitor"], all_of)]
    rest = tuple(one for one in members if one not in holds)
    if not holds or not all(_all(one, FAMILIES["resistor"], all_of) for one in rest):
        return None
    return Dropping(holds[0] if len(holds) == 1 else Group("parallel", tuple(holds)), rest)


def _all(element: Element, kinds: tuple[str, ...], all_of: _Kinds) -> bool:
    return all(all_of(leaf.name, kinds) for leaf in leaves(element))


def _dropped_by(placing: Placing, walked: Walked) -> tuple[str, ...]:
    """The resistors that drop the mains where nothing else does: those behind what takes surges, made to open or not
    excepted where they are."""
    shunts = [k for k, step in enumerate(walked.ahead) if step.how == "across"]
    before = {name for step in walked.ahead[: shunts[-1] if shunts else 0] for name in step.names}
    return tuple(name for name in walked.resistors if name not in before and not placing.all_of(name, _FUSIBLE))


def _names(walked: Walked) -> set[str]:
    found = {name for step in walked.ahead for name in step.names}
    for one in walked.dropping:
        found |= {leaf.name for element in (one.capacitors, *one.across) for leaf in leaves(element)}
    found |= {leaf.name for element in walked.stores for leaf in leaves(element)}
    lists = (
        walked.behind,
        walked.rectifier,
        walked.returns,
        walked.clamps,
        walked.varistors,
        walked.drains,
        walked.lights,
        walked.trickles,
    )
    return found.union(*lists)


def parts_of(structure: Structure) -> DropperParts:
    """What a dropper's line made up; nothing of it where the block was read as another topology's."""
    return structure.own if isinstance(structure.own, DropperParts) else DropperParts()
