"""A SPICE netlist read for the parts of a design, and for its paths, which somebody confirms.

Read are resistors, capacitors, inductors, diodes, transistors and coupled inductors by their nodes, and subcircuits by
the pins that their .subckt names in this file (`pins.py`); sources and models are no parts, and are listed. A path is
proposed where one way through the nodes is possible; nothing is placed by a guess, and what has no place is named. A
subcircuit whose pins nobody names is proposed by where they go, apart from what was read.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from derate.study.parts_list.columns import Columns
from derate.study.parts_list.pins import Pinned, by_its_nodes, pinned, pins_of
from derate.study.parts_list.read import MOST_PARTS, Left, Ordered, PartsList
from derate.study.parts_list.table import GREATEST_SIZE, Table, plain_text
from derate.terms import dimension as d
from derate.terms.values import Place, Problem, ReadingError
from derate.text.files import read_ordinary
from derate.text.units import show

ENDINGS = (".cir", ".net", ".sp", ".spice", ".ckt")
_SCALE = {"t": 1e12, "g": 1e9, "meg": 1e6, "k": 1e3, "m": 1e-3, "u": 1e-6, "n": 1e-9, "p": 1e-12, "f": 1e-15, "": 1.0}
_NUMBER = re.compile(
    r"([-+]?\d+(?:\.\d*)?(?:e[-+]?\d+)?|\.\d+(?:e[-+]?\d+)?)(meg|mil|[tgkmunpfµ])?[a-zΩ]*\Z", re.IGNORECASE
)
_KINDS = {"r": "resistor", "c": "capacitor", "l": "choke", "d": "diode", "q": "bipolar transistor", "m": "MOSFET"}
_DIMENSIONS = {"r": d.RESISTANCE, "c": d.CAPACITANCE, "l": d.INDUCTANCE}
_MAINS = ("line", "l", "live", "ac1", "acl", "ac_l", "hot")


class Device(NamedTuple):
    """One element: its letter, its nodes (of a transistor its drain or collector first, its source or emitter last).

    letter: of a subcircuit that of what its pins make it: d, q or m, `b` of a bridge (both mains first, then plus and
        minus), `u` of what stands on no path; kind: of a subcircuit
    """

    name: str
    letter: str
    nodes: tuple[str, ...]
    value: str
    row: int
    kind: str = ""

    @property
    def designator(self) -> str:
        """Its name on the board: the X of a subcircuit is SPICE's own."""
        bare = self.name[1:] if self.kind and self.name[1:2].isalpha() else self.name
        return bare[0].upper() + bare[1:]


def read_netlist(path: str) -> PartsList:
    """The parts of a netlist, as drawn, and the lines of a circuit block to be confirmed. Raises ReadingError."""
    data = read_ordinary(path, GREATEST_SIZE)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", "replace")
    devices, couplings, mains, unnamed, left = _elements(text)
    if not devices:
        raise ReadingError(
            [Problem(Place(path), "this netlist has no element that is read here", "R, C, L, D, Q, M, K")]
        )
    windings = {one.lower() for coupling in couplings for one in coupling}
    parts = [_part(one) for one in devices if one.name.lower() not in windings]
    for one in parts[MOST_PARTS:]:
        left.append(Left(one.row, one.designator, f"more than {MOST_PARTS} parts"))
    graph = _Graph(devices, couplings, mains)
    circuit, placed = graph.proposed()
    proposed = ["# Paths as the netlist joins them. Take the # away once you have traced a line on the board."]
    proposed += ["#circuit:", *(f"#{one}" for one in circuit)] if circuit else ["# no path was found"]
    unplaced = [one.designator for one in parts if one.designator not in placed]
    if unplaced:
        proposed += [] if circuit else ["#circuit:"]
        proposed.append(f"#  other: {{{', '.join(f'{one}: not traced yet' for one in unplaced)}}}")
    for number, coupling in enumerate(couplings, 1):
        said = [f"{one.name} {one.value}" for one in devices if one.name.lower() in {each.lower() for each in coupling}]
        proposed.append(f"# windings of T{number}, to be written under transformers: {', '.join(said)}")
    proposed += [line for one in unnamed for line in by_its_nodes(one, graph.joined(one.nodes))]
    table = Table(path, (), False, "SPICE netlist")
    # what somebody drew is not seen on the board, and shows no class of a part: no surer than what was ordered
    return PartsList(table, Columns(-1, {}, ()), tuple(parts[:MOST_PARTS]), tuple(left), "ordered", tuple(proposed))


_Found = tuple[list[Device], list[tuple[str, ...]], list[tuple[str, str]], list[Pinned], list[Left]]


def _elements(text: str) -> _Found:
    """Elements of the top circuit; the bodies of subcircuits are passed over."""
    joined: list[tuple[int, str]] = []
    for number, line in enumerate(text.splitlines(), 1):
        bare = plain_text(re.split(r"\s*[;$]", line, maxsplit=1)[0])
        if not bare or bare.startswith("*") or number == 1:  # the first line is a title
            continue
        if bare.startswith("+") and joined:
            joined[-1] = (joined[-1][0], f"{joined[-1][1]} {bare[1:]}")
        else:
            joined.append((number, bare))
    devices: list[Device] = []
    couplings: list[tuple[str, ...]] = []
    mains: list[tuple[str, str]] = []
    unnamed: list[Pinned] = []
    left: list[Left] = []
    inside = False
    seen: set[str] = set()
    given = _parameters(line for _, line in joined)
    pins = pins_of(line for _, line in joined)
    for number, line in joined:
        lower = line.lower()
        if lower.startswith((".subckt", ".control")):
            inside = True
        elif lower.startswith((".ends", ".endc")):
            inside = False
        elif inside or lower.startswith("."):
            continue
        else:
            words = line.split()
            name, letter = words[0], words[0][0].lower()
            if name.lower() in seen:
                left.append(Left(number, line, f"{name} stands there twice"))
                continue
            seen.add(name.lower())
            if letter == "k" and len(words) >= 4:
                couplings.append(tuple(words[1:-1]))
            elif letter == "v" and len(words) >= 3:
                if re.search(r"\bsin\s*\(|\bsin\b|\bac\b", lower) or words[1].lower() in _MAINS:
                    mains.append((words[1].lower(), words[2].lower()))
                left.append(Left(number, line, "a source is no part"))
            elif letter == "x" and len(words) >= 3:
                made = pinned(words, pins)
                if made.kind:
                    devices.append(Device(name, made.letter, made.nodes, made.model, number, made.kind))
                else:
                    left.append(Left(number, line, made.why))
                    unnamed += [made] if made.model.lower() not in pins else []
            elif letter in _KINDS and len(words) > _ends(letter):
                count = _ends(letter)
                nodes = tuple(one.lower() for one in words[1 : count + 1])
                devices.append(Device(name, letter, nodes, _value(letter, words[count + 1 :], given), number))
            else:
                left.append(Left(number, line, _why(letter)))
    taken: dict[str, Device] = {}
    for one in list(devices):
        other = taken.setdefault(one.designator, one)
        if other is not one:
            devices.remove(one)
            left.append(Left(one.row, one.name, f"it would be {one.designator}, which {other.name} is"))
    return devices, couplings, mains, unnamed, left


def _ends(letter: str) -> int:
    return 3 if letter in "qm" else 2


def _why(letter: str) -> str:
    return "a subcircuit without its pins: write the part by hand" if letter == "x" else "no part that is read here"


_PARAMETER = re.compile(r"([A-Za-z_]\w*)\s*=\s*(?:\{([^{}]*)\}|'([^']*)'|(\S+))")


def _parameters(lines: Iterable[str]) -> Mapping[str, str]:
    """Numbers that `.param` of the top circuit gives a name; what is worked out, or given twice, is none."""
    found: dict[str, str] = {}
    depth = 0
    for line in lines:
        lower = line.lower()
        depth += lower.startswith(".subckt") - lower.startswith(".ends")
        if depth or not lower.startswith(".param"):
            continue
        for one in _PARAMETER.finditer(line):
            name, value = one[1].lower(), (one[2] or one[3] or one[4] or "").strip()
            found[name] = value if _NUMBER.match(value) and found.get(name, value) == value else ""
    return found


def _value(letter: str, words: list[str], given: Mapping[str, str]) -> str:
    """The value of an element, or its model. given: numbers by the names that stand for them"""
    bare = [word for word in words if "=" not in word]
    if not bare and letter in _DIMENSIONS:  # `R=5`, the value by its name
        bare = [word[2:] for word in words if word.lower().startswith(f"{letter}=")]
    if bare and letter in _DIMENSIONS and (named := re.fullmatch(r"[{'](\w+)[}']", bare[0])) is not None:
        return given.get(named[1].lower(), "") or bare[0]
    if letter == "m" and len(bare) > 1:  # the node of its bulk stands ahead of its model
        bare = bare[1:]
    return bare[0] if bare else ""


def _part(one: Device) -> Ordered:
    made = Ordered(one.designator, one.row, one.kind or _KINDS[one.letter])
    if one.letter in _DIMENSIONS:
        found = _NUMBER.match(one.value)
        if found is None or (found[2] or "").lower() == "mil":
            made.unread.append(one.value or "no value")
        else:
            scale = _SCALE[(found[2] or "").lower().replace("µ", "u")]
            key = {"r": "part.resistance", "c": "part.capacitance", "l": "part.inductance"}[one.letter]
            made.facts[key] = show(float(found[1]) * scale, _DIMENSIONS[one.letter], 6)
    elif one.value:
        made.facts["part.marking"] = one.value
    return made


class _Graph:
    """The nodes of a netlist, walked from the mains to the outputs."""

    def __init__(self, devices: list[Device], couplings: list[tuple[str, ...]], mains: list[tuple[str, str]]) -> None:
        self.devices, self.mains = devices, mains
        self.placed: set[str] = set()
        self.windings = {
            one.lower(): f"T{number}.{one}" for number, coupling in enumerate(couplings, 1) for one in coupling
        }
        self.lines: list[str] = []

    def at(self, node: str, letters: str = "rcldqm") -> list[Device]:
        """Elements at a node that stand on no path yet; of a transistor its first and its last end count."""
        return [
            one
            for one in self.devices
            if one.letter in letters and node in (one.nodes[0], one.nodes[-1]) and one.name not in self.placed
        ]

    def between(self, one: str, other: str, letters: str = "rc") -> list[Device]:
        """Elements of two ends between two nodes."""
        return [each for each in self.at(one, letters) if {each.nodes[0], each.nodes[-1]} == {one, other}]

    def called(self, one: Device) -> str:
        return self.windings.get(one.name.lower(), one.designator)

    def joined(self, nodes: Iterable[str]) -> list[tuple[str, ...]]:
        """For each node the ends of elements that stand there: `M1 gate`, `C5`, `T1.Lp`."""
        gates = {"m": "gate", "q": "base"}
        found = []
        for node in nodes:
            names = [
                f"{self.called(one)} {gates[one.letter]}"
                if one.letter in gates and node == one.nodes[1] and len(one.nodes) == 3
                else self.called(one)
                for one in self.devices
                if node in one.nodes
            ]
            found.append(tuple(names))
        return found

    def take(self, devices: Iterable[Device]) -> list[str]:
        found = list(devices)
        self.placed.update(one.name for one in found)
        return [self.called(one) for one in found]

    def proposed(self) -> tuple[list[str], set[str]]:
        """Lines of a circuit block, and designators that stand on them."""
        ends = self._line()
        if ends is not None:
            self._primary(*ends)
        self._outputs()
        self._control()
        return self.lines, {one.designator for one in self.devices if one.name in self.placed}

    def _control(self) -> None:
        """What controls the switch, and what crosses the barrier: by its pins, not by a path."""
        said: list[str] = []
        for key, kinds in (
            ("by", ("controller", "integrated switch")),
            ("through", ("optocoupler",)),
            ("reference", ("shunt reference",)),
        ):
            found = [one for one in self.devices if one.kind in kinds]
            if len(found) == 1:
                said.append(f"{key}: {self.called(found[0])}")
                self.placed.update(one.name for one in found)
        if said:
            self.lines.append(f"  control: {{{', '.join(said)}}}")
        across = [self.called(one) for one in self.devices if one.kind == "optocoupler"]
        if across:
            self.lines.append(f"  bridging: {{{', '.join(f'{one}: [primary, secondary]' for one in across)}}}")
            self.placed.update(one.name for one in self.devices if one.kind == "optocoupler")

    def _line(self) -> tuple[str, str] | None:
        """From the mains to the bulk; gives bulk plus and bulk minus."""
        if len(self.mains) != 1:
            return None
        here, back = self.mains[0]
        steps: list[str] = []
        for _ in range(60):
            steps += [f"across {' || '.join(self.take(found))}"] if (found := self.between(here, back)) else []
            steps += [f"across {' + '.join(self.take(pair))}" for pair in self._pairs(here, back)]
            bridge = self._bridge(here, back)
            if bridge is not None:
                names, plus, minus = bridge
                steps.append(" + ".join(names))
                return self._bulk(steps, plus, minus)
            onward = self.at(here, "rl")
            if len(onward) == 1:
                (one,) = onward
                steps += self.take([one])
                here = one.nodes[-1] if one.nodes[0] == here else one.nodes[0]
                continue
            behind = self.at(back, "rl")
            if not onward and len(behind) == 1:
                (one,) = behind
                steps += [f"{name} in neutral" for name in self.take([one])]
                back = one.nodes[-1] if one.nodes[0] == back else one.nodes[0]
                continue
            break
        if steps:
            self.lines.append(f"  line: [{', '.join(steps)}]  # its end was not found")
        return None

    def _pairs(self, here: str, back: str) -> list[tuple[Device, Device]]:
        """Two elements in series between two nodes, with nothing else where they meet."""
        found = []
        for one in self.at(here, "rc"):
            middle = one.nodes[-1] if one.nodes[0] == here else one.nodes[0]
            there = [each for each in self.devices if middle in each.nodes and each is not one]
            if middle != back and len(there) == 1 and there[0].letter in "rc" and back in there[0].nodes:
                found.append((one, there[0]))
        return found

    def _bridge(self, here: str, back: str) -> tuple[list[str], str, str] | None:
        """Four diodes between the two conductors and two further nodes, a bridge in one part; or one diode."""
        for one in self.devices:
            if one.letter == "b" and one.name not in self.placed and {*one.nodes[:2]} == {here, back}:
                return self.take([one]), one.nodes[2], one.nodes[3]
        mine, theirs = self.at(here, "d"), self.at(back, "d")
        plus = {one.nodes[1] for one in mine if one.nodes[0] == here} & {
            one.nodes[1] for one in theirs if one.nodes[0] == back
        }
        minus = {one.nodes[0] for one in mine if one.nodes[1] == here} & {
            one.nodes[0] for one in theirs if one.nodes[1] == back
        }
        if len(mine) == 2 and len(theirs) == 2 and len(plus) == 1 and len(minus) == 1:
            return self.take([*mine, *theirs]), plus.pop(), minus.pop()
        if len(mine) == 1 and not theirs and mine[0].nodes[0] == here:
            (one,) = mine
            return self.take([one]), one.nodes[1], back
        return None

    def _bulk(self, steps: list[str], plus: str, minus: str) -> tuple[str, str]:
        if found := self.between(plus, minus, "c"):
            steps.append(f"across {' || '.join(self.take(found))}")
        chokes = [one for one in self.at(plus, "l") if one.name.lower() not in self.windings]
        if len(chokes) == 1:
            (choke,) = chokes
            far = choke.nodes[-1] if choke.nodes[0] == plus else choke.nodes[0]
            if found := self.between(far, minus, "c"):
                steps += [*self.take([choke]), f"across {' || '.join(self.take(found))}"]
                plus = far
        self.lines.append(f"  line: [{', '.join(steps)}]")
        return plus, minus

    def _primary(self, plus: str, minus: str) -> None:
        windings = [one for one in self.at(plus, "l") if one.name.lower() in self.windings]
        if len(windings) != 1:
            return
        (winding,) = windings
        drain = winding.nodes[-1] if winding.nodes[0] == plus else winding.nodes[0]
        switches = [one for one in self.at(drain, "qm") if one.nodes[0] == drain]
        if len(switches) != 1:
            return
        (switch,) = switches
        steps = [*self.take([winding]), *self.take([switch])]
        source = switch.nodes[-1]
        sense = self.between(source, minus, "r")
        if source != minus and len(sense) == 1:
            steps += self.take(sense)
        self.lines.append(f"  primary: [{', '.join(steps)}]")
        self._clamp(drain, plus, self.called(winding))

    def _clamp(self, drain: str, plus: str, winding: str) -> None:
        for diode in self.at(drain, "d"):
            if diode.nodes[0] != drain:
                continue
            found = self.between(diode.nodes[1], plus)
            if found:
                rest = " || ".join(self.take(found))
                path = f"{self.take([diode])[0]} + {f'({rest})' if len(found) > 1 else rest}"
                self.lines.append(f"  clamp: {{across: {winding}, path: {path}}}")
                return

    def _outputs(self) -> None:
        paths: list[str] = []
        for one in list(self.devices):
            if one.name.lower() not in self.windings or one.name in self.placed:
                continue
            if any(each.letter in "qm" and set(one.nodes) & {each.nodes[0], each.nodes[-1]} for each in self.devices):
                continue  # a winding that a switch draws through is no output
            for far, near in (one.nodes, one.nodes[::-1]):
                diodes = [each for each in self.at(far, "d") if each.nodes[0] == far]
                if len(diodes) != 1:
                    continue
                out = diodes[0].nodes[1]
                stores = self.between(out, near, "c")
                if not stores:
                    continue
                steps = [*self.take([one]), *self.take(diodes), f"across {' || '.join(self.take(stores))}"]
                chokes = [each for each in self.at(out, "l") if each.name.lower() not in self.windings]
                if len(chokes) == 1:
                    end = chokes[0].nodes[-1] if chokes[0].nodes[0] == out else chokes[0].nodes[0]
                    if behind := self.between(end, near, "c"):
                        steps += [*self.take(chokes), f"across {' || '.join(self.take(behind))}"]
                paths.append(f"{_name_of(out, len(paths))}: [{', '.join(steps)}]")
                break
        if paths:
            self.lines.append(f"  outputs: {{{', '.join(paths)}}}  # an auxiliary rail among them goes under auxiliary")


def _name_of(node: str, number: int) -> str:
    text = re.sub(r"\W", "", node)
    return text if re.match(r"[a-z]", text) else f"output-{number + 1}"
