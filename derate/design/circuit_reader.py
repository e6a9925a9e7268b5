"""From the circuit block to the structure: every part placed, every contradiction an error.

The names have been resolved before (`names.py`); a name that is none was told there and is left alone here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from derate.design.blocks import DesignFile
from derate.design.circuit import Circuit, Earth, Joined
from derate.design.circuit import Control as ControlBlock
from derate.design.kinds import FAMILIES
from derate.design.record import Record
from derate.design.structure import (
    EMPTY,
    Bridge,
    Control,
    Element,
    Group,
    Leaf,
    MainsInput,
    Output,
    OwnParts,
    Path,
    Port,
    Shunt,
    Step,
    Structure,
    leaves,
)
from derate.terms.topologies import TOPOLOGIES
from derate.terms.values import Place, Problem

_DIODES = FAMILIES["diode"]
_CAPACITORS = FAMILIES["capacitor"]
_RECTIFIERS = (*_DIODES, *FAMILIES["switch"])
_DRIVES = (*FAMILIES["switch"], "linear regulator")  # what takes an output from a rail of the bulk
_SHUNT_KINDS = (*_CAPACITORS, "varistor")
# Kinds that belong on the mains path and nowhere else.
_MAINS_KINDS = ("fuse", "board track", "bridge rectifier", "varistor", "NTC thermistor", "common-mode choke")
_MADE_FOR_A_PATH = ("fuse", "varistor", "common-mode choke")  # a track may lead anywhere, a thermistor may measure


class CircuitReader:
    """Reads the circuit of one design into its structure and gathers what is wrong.

    kinds: every kind a part may still be; names: every part with its place; whole: nothing else of the file is wrong,
    so that a part on no path is on none and not only on one that could not be read
    """

    def __init__(
        self, design: DesignFile, kinds: Mapping[str, tuple[str, ...]], names: Mapping[str, Place], whole: bool = True
    ) -> None:
        self.design = design
        self.circuit = design.circuit
        self.kinds = dict(kinds)
        self.names = names
        self.whole = whole
        self.problems: list[Problem] = []
        self.places: dict[str, str] = {}
        self.open_places: dict[str, tuple[str, ...]] = {}
        self.used: set[str] = set()
        self.outputs: dict[str, Output | None] = {}
        self.windings = {
            f"{transformer}.{winding}": block
            for transformer, one in design.transformers.items()
            for winding, block in one.windings.items()
        }

    def walk(self) -> Structure:
        """The structure; problems are gathered in `self.problems`."""
        circuit = self.circuit
        self._fitted()
        self._once()
        inlet = circuit.own_input(self) if circuit.line else None
        mains = self.mains(circuit.line) if circuit.line and inlet is None else None
        own = circuit.own_parts(self)
        self.place_outputs()
        ports: tuple[Port, ...] = ()
        if circuit.ports or circuit.sharing is not None:
            from derate.design.ports import read_ports  # only where there are any

            ports = read_ports(circuit, self)
        bridges = self.bridges(circuit.bridging)
        self.controls(circuit.control, bridges)
        # one that nobody traced has no place: it may sit anywhere it could, and is judged as such
        self.put(
            tuple(one.name for one in circuit.other if one.is_traced and not self.made_for_a_path(one.name)), "other"
        )
        if self.whole:
            self.complete(circuit, own)
        return Structure(
            kinds=self.kinds,
            fitted={name: self.fitted(name) for name in self.names},
            mains=mains,
            own=own,
            outputs={name: output for name, output in self.outputs.items() if output is not None},
            bridges=bridges,
            earth=self.earth(circuit.earth),
            places=self.places,
            open_places=self.open_places,
            windings=tuple(self.windings),
            control=_control(circuit.control),
            pins={name: tuple(block.pins) for name, block in self.windings.items() if block.pins},
            own_inlet=inlet,
            ports=ports,
        )

    # ---- what every section asks -------------------------------------------------------------------------------

    def leaves(self) -> Iterator[Leaf]:
        """Every part and winding named on a path, in no order that means anything."""
        circuit = self.circuit
        for path in (circuit.line, *circuit.outputs.values()):
            for step in path or ():
                yield from leaves(step.element)
        yield from circuit.own_leaves()
        if circuit.ports or circuit.sharing is not None:
            from derate.design.ports import port_leaves  # only where there are any

            yield from port_leaves(circuit)
        for joined in circuit.bridging or ():
            yield from leaves(joined.element)
        for one in circuit.other:
            yield Leaf(one.name, one.name.place)

    def _fitted(self) -> None:
        """Every part on a path is fitted."""
        for leaf in self.leaves():
            self.used.add(leaf.name)
            if leaf.name in self.names and not self.fitted(leaf.name):
                self.say(leaf.place, f"{leaf.name} is not fitted, yet it stands on a path", "take it off the path")

    def _once(self) -> None:
        """No part stands twice on one path, where it would count twice, nor on a path and on none."""
        walked: set[str] = set()
        for path in _paths(vars(self.circuit)):
            first: dict[str, Place] = {}
            for leaf in path:
                name = str(leaf.name)
                walked.add(name)
                if name in first:
                    what = f"{name} stands on this path twice, first in line {first[name].line}"
                    self.say(leaf.place, what, "walk it once, or give the second part its own name")
                first.setdefault(name, leaf.place)
        for one in self.circuit.other:
            if str(one.name) in walked:
                what = f"{one.name} stands on a path, and under other as well"
                self.say(one.name.place, what, "take it off one of the two")

    def say(self, place: Place, what: str, instead: str = "") -> None:
        """Note a problem."""
        self.problems.append(Problem(place, what, instead))

    def fitted(self, name: str) -> bool:
        """Whether the position is fitted (said or not: a part listed is fitted unless it says no)."""
        part = self.design.parts.get(name)
        return part is None or part.fitted is None or part.fitted.word not in EMPTY

    def put(self, names: tuple[str, ...], place: str, *others: str) -> None:
        """Give parts their place word; the first place met holds. others: what it may be too, while a kind is open"""
        for name in names:
            if name in self.names and str(name) not in self.places:
                self.places[str(name)] = place
                if others:
                    self.open_places[str(name)] = others

    def all_of(self, name: str, kinds: tuple[str, ...]) -> bool:
        """Whether every kind a part may still be is among these."""
        known = self.kinds.get(name, ())
        return bool(known) and all(kind in kinds for kind in known)

    def made_for_a_path(self, name: str) -> bool:
        """Whether a part has no work beside the paths, whatever is said of it: its class mark or its kind tells."""
        part = self.design.parts.get(name)
        return (part is not None and part.class_mark is not None) or self.all_of(name, _MADE_FOR_A_PATH)

    def any_of(self, name: str, kinds: tuple[str, ...]) -> bool:
        """Whether a part may be of one of these kinds: one of which nobody knows the kind may be."""
        known = self.kinds.get(name)
        return known is not None and (not known or any(kind in kinds for kind in known))

    # ---- the mains path ----------------------------------------------------------------------------------------

    def mains(self, line: Path) -> MainsInput | None:
        """From the plug to rectifier and bulk capacitors; None where one of the two is not on it."""
        stated = self.circuit.input
        series: list[str] = []
        neutral: list[str] = []
        shunts: list[Shunt] = []
        rectifier: tuple[str, ...] = ()
        kind = ""
        behind: list[str] = []
        choke: list[str] = []
        bulk: list[Element] = []
        may_rectify = may_hold = False  # a step met already may have been the rectifier, a bulk capacitor
        for step in line:
            bare = self._bare(step)
            if bare:
                self._in_series(step, bare)
                continue
            if step.how in ("across", "to earth"):
                capacitor = all(self.all_of(name, FAMILIES["capacitor"]) for name in step.names)
                if rectifier and capacitor and step.how == "across":
                    bulk.append(step.element)
                    self.put(step.names, "bulk capacitor")
                else:
                    to_earth = step.how == "to earth"
                    shunts.append(Shunt(step.element, step.names, len(series) + len(behind), to_earth, bool(rectifier)))
                    holds = step.how == "across" and all(self.any_of(name, _CAPACITORS) for name in step.names)
                    holds = holds and (bool(rectifier) or may_rectify)
                    may_hold = may_hold or holds
                    others = ("bulk capacitor",) if holds else ()
                    place = "earth shunt" if to_earth else "mains shunt"
                    if rectifier and self._fills(step):  # no part of it lies across the mains
                        place = "other"
                    self.put(step.names, place, *others)
                continue
            found = self._rectifier(step, stated.word if stated is not None else None)
            if found and not rectifier:
                rectifier, kind = step.names, found
                self.put(step.names, "mains rectifier")
            elif not rectifier:
                self._wound(step)
                series.extend(step.names)
                open_kind = any(self.any_of(name, ("bridge rectifier", *_DIODES)) for name in step.names)
                may_rectify = may_rectify or open_kind
                self.put(step.names, "mains series", *(("mains rectifier",) if open_kind else ()))
                if step.how == "in neutral":
                    neutral.extend(step.names)
            elif not bulk:
                behind.extend(step.names)
                self.put(step.names, "mains series", *(("bulk choke",) if may_hold else ()))
            else:
                choke.extend(step.names)
                self.put(step.names, "bulk choke")
        if stated is not None and stated.word == "dropper":
            self.say(stated.place, "this line is that of a rectifier with a bulk capacitor", "write topology: dropper")
        elif stated is not None and stated.word is not None:
            kind = stated.word
        if not rectifier or not bulk or may_hold:
            return None
        if len(bulk) > 2:
            self.say(line[-1].place, "more than two bulk capacitors in a row", "join capacitors in parallel with ||")
            return None
        return MainsInput(
            tuple(series), tuple(neutral), tuple(shunts), rectifier, kind, tuple(behind), tuple(choke), tuple(bulk)
        )

    def _fills(self, step: Step) -> bool:
        """Whether capacitors and diodes share a branch across the rail, and so fill the valleys of the rail."""
        holds = [name for name in step.names if self.any_of(name, _CAPACITORS)]
        return (
            step.how == "across"
            and bool(holds)
            and any(self.all_of(name, _DIODES) for name in step.names if name not in holds)
        )

    def inlet(self, line: Path, rectified: Path = ()) -> MainsInput:
        """What stands in series and across behind the plug, placed, with nothing of a rectifier.

        rectified: steps behind one, of which what lies across or to earth and has no place yet is gathered too
        """
        series: list[str] = []
        neutral: list[str] = []
        shunts: list[Shunt] = []
        for step in line:
            if step.how in ("across", "to earth"):
                self._shunt(shunts, step, len(series))
                continue
            series.extend(step.names)
            self.put(step.names, "mains series")
            if step.how == "in neutral":
                neutral.extend(step.names)
        behind = len(series)
        for step in rectified:
            if step.how not in ("across", "to earth"):
                behind += len(step.names)
            elif not all(str(name) in self.places for name in step.names):
                self._shunt(shunts, step, behind, rectified=True)
        return MainsInput(tuple(series), tuple(neutral), tuple(shunts), (), "", (), (), ())

    def _shunt(self, shunts: list[Shunt], step: Step, behind: int, rectified: bool = False) -> None:
        shunts.append(Shunt(step.element, step.names, behind, step.how == "to earth", rectified))
        self.put(step.names, "earth shunt" if step.how == "to earth" else "mains shunt")

    def _bare(self, step: Step) -> str | None:
        """The name of a capacitor or varistor that stands in series with the line."""
        if step.how not in ("series", "in neutral"):
            return None
        if all(self.all_of(name, _SHUNT_KINDS) for name in step.names) and step.names:
            return " || ".join(step.names)
        holds = [name for name in step.names if self.all_of(name, _CAPACITORS)]  # with its discharge resistors
        return " || ".join(holds) or None

    def _in_series(self, step: Step, bare: str) -> None:
        """A capacitor in series with the mains drops it: of any other topology that is a contradiction."""
        if not any(self.all_of(name, _CAPACITORS) for name in step.names):
            self.say(step.place, f"{bare} stands in series with the line: is 'across' missing?", f"write across {bare}")
            return
        topology = self.design.supply.topology
        named = f"no {topology.word}" if topology is not None and topology.word else "no converter behind a rectifier"
        self.say(
            step.place,
            f"{bare} stands in series with the line: that is a capacitive dropper and {named}",
            f"write topology: dropper, or across {bare} where it lies from one conductor to the other",
        )

    def _wound(self, step: Step) -> None:
        """A winding on the mains itself makes a line transformer: of any other topology it is a contradiction."""
        topology = self.design.supply.topology
        names = " and ".join(name for name in step.names if name in self.windings)
        if names and topology is not None and topology.word:
            what = f"{names} stands on the mains path with no rectifier ahead of it: that is no {topology.word}"
            self.say(step.place, what, "write topology: line transformer, or take it off circuit.line")

    def _rectifier(self, step: Step, stated: str | None) -> str:
        """What kind of rectifier a step is, '' for none. Two diodes are one where the file says it is a doubler."""
        names = step.names
        if len(names) == 1 and self.all_of(names[0], ("bridge rectifier",)):
            return "full bridge"
        if names and all(self.all_of(name, _DIODES) for name in names):
            of_two = "doubler" if stated == "doubler" else ""
            return {1: "half-wave", 2: of_two, 4: "full bridge"}.get(len(names), "")
        return ""

    # ---- behind the bulk capacitor -----------------------------------------------------------------------------

    def place_outputs(self) -> None:
        """Place the parts of the outputs, once: a topology may do so in its own order."""
        if not self.outputs:
            self.outputs = {name: self.output(name, path) for name, path in self.circuit.outputs.items()}
            found = [one for one in self.outputs.values() if one is not None]
            if not any(one.windings for one in found):  # behind a winding a regulator may have an output of its own
                for one in found:
                    self._without_winding(one.name, one.path)

    def output(self, name: str, path: Path | None) -> Output | None:
        """One output: windings, rectifier, capacitors, choke, capacitors behind it."""
        if path is None:
            return None
        windings: list[str] = []
        rectifier: list[str] = []
        choke: list[str] = []
        before: list[Element] = []
        after: list[Element] = []
        for step in path:
            for part in step.names:
                if part in self.windings or "." in part:
                    windings.append(part)
                elif step.how == "across":
                    if self.all_of(part, _CAPACITORS):
                        self.put((part,), "output capacitor")
                    else:
                        self.put((part,), "output", *(("output capacitor",) if self.any_of(part, _CAPACITORS) else ()))
                elif self.any_of(part, _RECTIFIERS) and not before:
                    rectifier.append(part)
                    others = ("output choke", "output") if self.any_of(part, ("choke",)) else ()
                    self.put((part,), "output rectifier", *others)
                elif self.any_of(part, ("choke",)):
                    choke.append(part)
                    others = () if self.all_of(part, ("choke",)) else ("output", "output rectifier")
                    self.put((part,), "output choke", *others)
                else:
                    self.put((part,), "output")
            if step.how == "across" and all(self.all_of(part, _CAPACITORS) for part in step.names):
                (after if choke else before).append(step.element)
        return Output(name, tuple(windings), tuple(rectifier), tuple(before), tuple(choke), tuple(after), path)

    def _without_winding(self, name: str, path: Path) -> None:
        """An output that begins at a switch and has no winding is not isolated, whatever word stands for the topology.

        The word decides which rules ask for what can be touched: it may not stand against what is joined to what.
        """
        stated = self.design.supply.topology
        isolates = stated is not None and stated.word in TOPOLOGIES and TOPOLOGIES[stated.word].isolates
        drawn = next((one for step in path for one in step.names if self.all_of(one, _DRIVES)), None)
        if stated is None or not isolates or drawn is None:
            return
        what = f"no winding stands on the way to {name}, and {drawn} draws it: nothing separates it from the mains"
        others = [word for word, one in TOPOLOGIES.items() if one.package and not one.isolates]
        self.say(stated.place, what, f"write topology: {', '.join(others[:-1])} or {others[-1]}, or walk the winding")

    def bridges(self, bridging: tuple[Joined, ...] | None) -> tuple[Bridge, ...] | None:
        """Parts from primary to secondary; () when there are none, None when nobody has looked."""
        if bridging is None:
            return None
        found = []
        for joined in bridging:
            names = tuple(leaf.name for leaf in leaves(joined.element))
            self.put(names, "bridging")
            if len(joined.between) == 2:
                one, other = joined.between
                found.append(Bridge(joined.element, names, (str(one), str(other)), joined.place))
        return tuple(found)

    def earth(self, earth: Earth | tuple[()] | None) -> tuple[str, ...] | None:
        """What is joined to earth; () when there is no earth, None when unknown."""
        if not isinstance(earth, Earth):
            return earth
        return tuple(str(one) for one in earth.joined_to) if earth.joined_to is not None else None

    def controls(self, control: ControlBlock, bridges: tuple[Bridge, ...] | None) -> None:
        """Place what the control block names."""
        named = [
            control.by,
            control.limits,
            control.reference,
            *(control.through or ()),
            *control.divider.values(),
            control.coupler_resistor,
            control.bias_resistor,
        ]
        for name in named:
            if name is not None and name in self.names:
                self.used.add(name)
                self.put((name,), "control")
        for name in control.through or ():  # it couples the two sides: left out of the list, nobody would judge it
            if name in self.names and bridges is not None and not any(name in one.names for one in bridges):
                self.say(
                    self.names[name],
                    f"{name} carries the control across the barrier and is not under bridging",
                    f"write {name}: [primary, secondary] there",
                )

    def complete(self, circuit: Circuit, own: OwnParts) -> None:
        """A fitted part on no path and a winding nobody uses are errors once the paths they belong to are given."""
        stated = self.design.supply.parts_list
        whole = stated is not None and stated.word == "complete"
        given = whole or (own.traced and bool(circuit.outputs))
        for name, place in self.names.items():
            if not self.fitted(name):
                self.places[name] = "not fitted"
                continue
            if name in self.used:
                continue
            on_mains = circuit.line is not None and self.all_of(name, _MAINS_KINDS)
            if given or on_mains:
                self.say(
                    place,
                    f"{name} is fitted and stands on no path",
                    f"place it, or write other: [{name}] while nobody has traced it",
                )
        if whole or own.auxiliary is not None:
            for name, block in self.windings.items():
                if name not in self.used and block.tied_to is None:
                    what = f"winding {name} is on no path"
                    self.say(block.place, what, "place it on a path, or say what it is tied to")


def _paths(value: object) -> Iterator[tuple[Leaf, ...]]:
    """The parts and windings of every path and element of a circuit block, whichever key it stands on."""
    if isinstance(value, Leaf | Group):
        yield tuple(leaves(value))
    elif isinstance(value, Joined):
        yield tuple(leaves(value.element))
    elif isinstance(value, Mapping):
        for one in value.values():
            yield from _paths(one)
    elif isinstance(value, Record):
        yield from _paths(vars(value))
    elif isinstance(value, tuple) and value and isinstance(value[0], Step):
        yield tuple(leaf for step in value for leaf in leaves(step.element))
    elif type(value) is tuple:
        for one in value:
            yield from _paths(one)


def _control(block: ControlBlock) -> Control:
    """The control block as the structure has it; `none` is kept only where somebody looked for a bias resistor."""
    lower = tuple(str(name) for key, name in block.divider.items() if key == "lower" and name is not None)
    above = {str(key): str(name) for key, name in block.divider.items() if key != "lower" and name is not None}
    return Control(
        _text(block.by),
        _text(block.limits),
        tuple(str(one) for one in block.senses or ()),
        tuple(str(one) for one in block.through or () if one != "none"),
        _text(block.reference),
        tuple(above.values()),
        lower,
        _text(block.coupler_resistor),
        _text(block.bias_resistor),
        _text(block.coupler_supply),
        tuple(above),
    )


def _text(name: str | None) -> str | None:
    return None if name is None else str(name)
