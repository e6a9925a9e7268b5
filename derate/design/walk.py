"""From the circuit block to the structure: every path read, every part placed, every contradiction an error."""

from __future__ import annotations

from derate.design.block import Block, Shape
from derate.design.kinds import FAMILIES
from derate.design.mains import mains_input
from derate.design.model import CLAMP, EARTH
from derate.design.paths import Element, Leaf, Path, Step, leaves, read_element, read_step
from derate.design.stated import Stated
from derate.design.structure import EMPTY, Bridge, Control, Output, Primary, Structure
from derate.terms.place import Place, Problem, ReadingError, nearest
from derate.text.nodes import Mapping, Node, Scalar, Sequence

_DIODES = FAMILIES["diode"]
_CAPACITORS = FAMILIES["capacitor"]
_SWITCHES = FAMILIES["switch"]
_NO_PART = (None, "none", "unknown")
# Kinds that belong on the mains path and nowhere else.
_MAINS_KINDS = ("fuse", "board track", "bridge rectifier", "varistor", "NTC thermistor", "common-mode choke")


class Walker:
    """Reads the paths of one design and gathers what is wrong."""

    def __init__(self, design: Block, kinds: dict[str, tuple[str, ...]], names: dict[str, Place]) -> None:
        self.design = design
        self.kinds = kinds
        self.names = names
        self.problems: list[Problem] = []
        self.places: dict[str, str] = {}
        self.used: dict[str, Place] = {}
        self.windings = {
            f"{transformer}.{winding}": block
            for transformer, one in design.transformers.items()
            for winding, block in one.windings.items()
        }

    # ---- reading -------------------------------------------------------------------------------------------

    def path(self, node: Node | None) -> Path | None:
        """Read a list of steps; None when it is unknown, () when there is none."""
        if node is None:
            return None
        if isinstance(node, Scalar) and node.text in ("unknown", "none"):
            return None if node.text == "unknown" else ()
        items = node.items if isinstance(node, Sequence) else (node,)
        steps: list[Step] = []
        for item in items:
            if not isinstance(item, Scalar):
                self.say(item.place, "a path is a list of parts", "write [F1, BR1, across C1]")
                continue
            try:
                step = read_step(item.text, item.start)
            except ReadingError as error:
                self.problems.extend(error.problems)
                continue
            self.check(step)
            steps.append(step)
        return tuple(steps)

    def check(self, step: Step) -> None:
        """Every name of a step is a part that is fitted, or a winding."""
        for leaf in leaves(step.element):
            self.check_leaf(leaf)

    def check_leaf(self, leaf: Leaf) -> None:
        """A name on a path is a part or a winding, or an error with the nearest name."""
        name = leaf.name
        self.used.setdefault(name, leaf.place)
        if name in self.names:
            if not self.fitted(name):
                self.say(leaf.place, f"{name} is not fitted, yet it stands on a path", "take it off the path")
            return
        if name in self.windings:
            return
        if "." in name and not self.design.transformers:
            return  # a winding of a transformer that nobody has described: unknown, not wrong
        if "." in name and name.split(".")[0] not in self.design.transformers:
            close = nearest(name.split(".")[0], self.design.transformers)
        else:
            close = nearest(name, [*self.names, *self.windings])
        instead = f"did you mean {close}?" if close else "list it under parts"
        self.say(leaf.place, f"'{name[:60]}' is no part of this design", instead)

    def say(self, place: Place, what: str, instead: str = "") -> None:
        """Note a problem."""
        self.problems.append(Problem(place, what, instead))

    def fitted(self, name: str) -> bool:
        """Whether the position is fitted (said or not: a part listed is fitted unless it says no)."""
        part = self.design.parts.get(name)
        stated = None if part is None else getattr(part, "fitted", None)
        return not (isinstance(stated, Stated) and stated.word in EMPTY)

    def put(self, names: tuple[str, ...], place: str) -> None:
        """Give parts their place word; the first place met holds."""
        for name in names:
            if name in self.names:
                self.places.setdefault(name, place)

    def all_of(self, name: str, kinds: tuple[str, ...]) -> bool:
        """Whether every kind a part may still be is among these."""
        known = self.kinds.get(name, ())
        return bool(known) and all(kind in kinds for kind in known)

    # ---- structure -----------------------------------------------------------------------------------------

    def walk(self) -> Structure:
        """Read every path and return the structure; problems are gathered in `self.problems`."""
        circuit = self.design.circuit
        line = self.path(circuit.line)
        mains = mains_input(self, line, circuit.input) if line else None
        primary = self.primary(self.path(circuit.primary))
        clamp = self.clamp(circuit.clamp)
        outputs = {name: self.output(name, node) for name, node in circuit.outputs.items()}
        auxiliary = self.path(circuit.auxiliary)
        for step in auxiliary or ():
            self.put(step.names, "auxiliary")
        start_up = self.path(circuit.start_up)
        for step in start_up or ():
            self.put(step.names, "start-up")
        snubbers = {across: self.path(node) for across, node in circuit.snubbers.items()}
        for path in snubbers.values():
            for step in path or ():
                self.put(step.names, "snubber")
        bridges = self.bridges(circuit.bridging)
        earth = self.earth(circuit.earth)
        self.controls(bridges)
        self.other(circuit.other)
        self.complete(line)
        return Structure(
            kinds=self.kinds,
            fitted={name: self.fitted(name) for name in self.names},
            mains=mains,
            primary=primary,
            clamp=clamp,
            start_up=start_up,
            auxiliary=auxiliary,
            outputs={name: output for name, output in outputs.items() if output is not None},
            bridges=bridges,
            earth=earth,
            places=self.places,
            windings=tuple(self.windings),
            snubbers={across: path for across, path in snubbers.items() if path},
            control=self.control(),
            pins={name: tuple(block.pins) for name, block in self.windings.items() if block.pins},
        )

    def primary(self, path: Path | None) -> Primary | None:
        """The primary path: winding, switch and what senses its current."""
        if not path:
            return None
        winding = switch = None
        behind: list[str] = []
        for step in path:
            for name in step.names:
                if name in self.windings or "." in name:
                    winding = winding or name
                elif self.all_of(name, _SWITCHES):
                    switch = switch or name
                    self.put((name,), "primary switch")
                else:
                    behind.append(name)
        limits = self.design.circuit.control.limits
        sense = limits if limits in behind else next((n for n in behind if self.all_of(n, FAMILIES["resistor"])), None)
        if sense:
            self.put((sense,), "current sense")
        self.put(tuple(behind), "primary")
        return Primary(winding, switch, sense, path)

    def clamp(self, node: Node | None) -> tuple[Element, str] | tuple[()] | None:
        """The clamp: element and what it lies across; () when there is none, None when unknown."""
        if node is None or (isinstance(node, Scalar) and node.text == "unknown"):
            return None
        if isinstance(node, Scalar):
            if node.text != "none":
                self.say(
                    node.place,
                    f"'{node.text[:40]}' is no clamp",
                    "write none, unknown or {across: T1.primary, path: D5 + (R5 || C4)}",
                )
            return ()
        block = self.block(CLAMP, node)
        if block is None or not isinstance(block.path, Scalar):
            return None
        try:
            element = read_element(block.path.text, block.path.start)
        except ReadingError as error:
            self.problems.extend(error.problems)
            return None
        for leaf in leaves(element):
            self.check_leaf(leaf)
            self.put((leaf.name,), "clamp")
        if block.across not in self.windings and block.across not in self.names and self.design.transformers:
            close = nearest(block.across, [*self.windings, *self.names])
            self.say(node.place, f"'{block.across}' is no winding or part", f"did you mean {close}?" if close else "")
        return element, block.across

    def block(self, shape: Shape, node: Node) -> Block | None:
        """Read a small block whose words `none` and `unknown` were already dealt with."""
        try:
            return shape(node)
        except ReadingError as error:
            self.problems.extend(error.problems)
            return None

    def output(self, name: str, node: Node) -> Output | None:
        """One output: windings, rectifier, capacitors, choke, capacitors behind it."""
        path = self.path(node)
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
                    self.put((part,), "output capacitor" if self.all_of(part, _CAPACITORS) else "output")
                elif self.all_of(part, (*_DIODES, "MOSFET")) and not before:
                    rectifier.append(part)
                    self.put((part,), "output rectifier")
                elif self.all_of(part, ("choke",)):
                    choke.append(part)
                    self.put((part,), "output choke")
                else:
                    self.put((part,), "output")
            if step.how == "across" and all(self.all_of(part, _CAPACITORS) for part in step.names):
                (after if choke else before).append(step.element)
        return Output(name, tuple(windings), tuple(rectifier), tuple(before), tuple(choke), tuple(after), path)

    def bridges(self, node: Node | None) -> tuple[Bridge, ...] | None:
        """Parts from primary to secondary; () when there are none, None when nobody has looked."""
        if node is None or (isinstance(node, Scalar) and node.text.split(" (")[0] == "unknown"):
            return None
        if isinstance(node, Scalar) and node.text.split(" (")[0] == "none":
            return ()
        if not isinstance(node, Mapping):
            self.say(
                node.place, "bridging parts are a block", "write {CY1: [bulk minus, output minus]}, none or unknown"
            )
            return None
        found = []
        for key, value in node.entries:
            try:
                element = read_element(key.text, key.start)
            except ReadingError as error:
                self.problems.extend(error.problems)
                continue
            for leaf in leaves(element):
                self.check_leaf(leaf)
                self.put((leaf.name,), "bridging")
            points = (
                [item.text for item in value.items if isinstance(item, Scalar)] if isinstance(value, Sequence) else []
            )
            if len(points) != 2:
                self.say(value.place, "a bridging part joins two points", "write [bulk minus, output minus]")
                continue
            names = tuple(leaf.name for leaf in leaves(element))
            found.append(Bridge(element, names, (points[0], points[1]), key.place))
        return tuple(found)

    def earth(self, node: Node | None) -> tuple[str, ...] | None:
        """What is joined to earth; () when there is no earth, None when unknown."""
        if node is None or (isinstance(node, Scalar) and node.text == "unknown"):
            return None
        if isinstance(node, Scalar):
            return ()
        block = self.block(EARTH, node)
        return tuple(block.joined_to or ()) if block is not None else None

    def controls(self, bridges: tuple[Bridge, ...] | None) -> None:
        """Place what the control block names."""
        control = self.design.circuit.control
        beside = [one for one in (control.coupler_resistor, control.bias_resistor) if one not in _NO_PART]
        names = [
            control.by,
            control.limits,
            control.reference,
            *(control.through or ()),
            *(control.divider or {}).values(),
            *beside,
        ]
        for name, known, what in (
            *((one, self.names, "part") for one in beside),
            (control.coupler_supply, self.design.circuit.outputs, "output"),
        ):
            if name not in _NO_PART and name not in known:
                close = nearest(name, known)
                self.say(
                    control.place,
                    f"'{name[:40]}' under control is no {what} of this design",
                    f"did you mean {close}?" if close else "",
                )
        for name in names:
            if name and name in self.names:
                self.used.setdefault(name, self.names[name])
                self.put((name,), "control")
        for name in control.through or ():  # it couples the two sides: left out of the list, nobody would judge it
            if name in self.names and bridges is not None and not any(name in one.names for one in bridges):
                self.say(
                    self.names[name],
                    f"{name} carries the control across the barrier and is not under bridging",
                    f"write {name}: [primary, secondary] there",
                )
        by = control.by
        if by and by not in self.names:
            close = nearest(by, self.names)
            self.say(
                self.names_place(),
                f"control by '{by[:40]}', which is no part",
                f"did you mean {close}?" if close else "",
            )

    def control(self) -> Control:
        """The control block as it stands."""
        block = self.design.circuit.control
        divider = block.divider or {}
        return Control(
            block.by,
            block.limits,
            tuple(block.senses or ()),
            tuple(block.through or ()),
            block.reference,
            tuple(name for key, name in divider.items() if key != "lower"),
            tuple(name for key, name in divider.items() if key == "lower"),
            *(
                None if one == "unknown" else one
                for one in (block.coupler_resistor, block.bias_resistor, block.coupler_supply)
            ),
        )

    def names_place(self) -> Place:
        """The place of the first part: where to point when a name stands in a block without places."""
        return next(iter(self.names.values()), Place(""))

    def other(self, node: Node | None) -> None:
        """Parts that are fitted and on none of the paths."""
        if isinstance(node, Mapping):
            keys = [key for key, _ in node.entries]
        elif isinstance(node, Sequence):
            keys = [item for item in node.items if isinstance(item, Scalar)]
        else:
            keys = []
        for key in keys:
            self.check_leaf(Leaf(key.text, key.place))
            self.put((key.text,), "other")

    def complete(self, line: Path | None) -> None:
        """A fitted part on no path and a winding nobody uses are errors once the paths they belong to are given."""
        circuit = self.design.circuit
        stated = self.design.supply.parts_list
        whole = stated is not None and stated.word == "complete"
        given = whole or (circuit.primary is not None and bool(circuit.outputs))
        for name, place in self.names.items():
            if not self.fitted(name):
                self.places[name] = "not fitted"
                continue
            if name in self.used:
                continue
            on_mains = line is not None and self.all_of(name, _MAINS_KINDS)
            if given or on_mains:
                self.say(place, f"{name} is fitted and stands on no path", "place it, or list it under other")
        if whole or circuit.auxiliary is not None:
            for name, block in self.windings.items():
                shield = getattr(block, "tied_to", None) is not None
                if name not in self.used and not shield:
                    where = self.winding_place(name)
                    self.say(where, f"winding {name} is on no path", "place it on a path, or say what it is tied to")

    def winding_place(self, name: str) -> Place:
        """Where a winding is described."""
        block = self.windings[name]
        place: Place = block.place
        return place
