"""What is drawn: the walked paths in the order of the file, what crosses the barrier, and what each part carries.

Nothing here knows a topology. A path is found by its form, whatever key it stands on; which of them closes from one
rail of the bulk to the other its topology says (`Circuit.drawing_roles`). A key that nobody gave a role is drawn as it
is walked.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import NamedTuple

from derate.design.blocks import Part
from derate.design.circuit import Circuit, Earth
from derate.design.kinds import figures_of
from derate.design.load import Design
from derate.design.record import Name, Stated
from derate.design.structure import EMPTY, Element, Group, Leaf, Path, Port, Step, Structure, leaves
from derate.judge.review import Finding, Review
from derate.judge.verdict import word_of
from derate.terms.dimension import CELSIUS, CURRENT, VOLTAGE
from derate.terms.frozen import frozen
from derate.terms.topologies import TOPOLOGIES
from derate.terms.values import Curve, Place, Value
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import OVERALLS, Overall, SubjectKind
from derate.text.units import show, show_value

# Kinds of subject that are drawn; a reading stands with what was read.
OF_PARTS: tuple[SubjectKind, ...] = ("part", "winding", "winding pair", "transformer", "bridge")
OF_OUTPUTS: tuple[SubjectKind, ...] = ("output",)
OF_PORTS: tuple[SubjectKind, ...] = ("port",)
BY_HEAT = ("thermal link", "cut-out")  # ordered by the temperature at which they open
_MOST_FIGURES = 2  # behind a name
_ONE_BOX = ("common-mode choke", "bridge rectifier")  # stand in both conductors
Read = Mapping[Place, str]  # where a reading stands -> what was read


@frozen
class Carried:
    """What a part, a winding, a transformer or an output carries on the drawing.

    kinds: the precise kinds it may still be; value: its figures, '' where nobody gave any
    word: the worst of its findings, 'not judged' where no rule gave a verdict: never a pass that nobody gave
    ratio: the worst of its findings that compare something, by: its word; None where none does
    """

    name: str
    kinds: tuple[str, ...]
    value: str
    word: Overall
    ratio: float | None
    by: Overall
    findings: tuple[Finding, ...]
    empty: bool = False  # a position without its part


class Row(NamedTuple):
    """One walked path. key: of the file; title: as shown; begins, ends: points named at its ends, '' where none is

    output: the output or port it ends at, '' for any other path
    """

    key: str
    title: str
    path: Path
    begins: str = ""
    output: str = ""


class Crossing(NamedTuple):
    """What stands across the barrier: a transformer, a coupler, or parts; between: the two points, where said."""

    name: str
    element: Element | None
    between: tuple[str, ...] = ()


class Link(NamedTuple):
    """One station of the control, from what is sensed to what is limited. role: what it does there"""

    name: str
    role: str
    side: str  # 'mains' | 'output' | 'barrier'


@frozen
class Joined:
    """Everything the drawing shows.

    mains, outputs: paths on either side; isolated: whether a barrier stands between them, None: nobody knows
    apart: parts on no path, each with a word why; notes: what the file does not say
    """

    mains: tuple[Row, ...]
    outputs: tuple[Row, ...]
    crossings: tuple[Crossing, ...]
    control: tuple[Link, ...]
    apart: tuple[tuple[str, str], ...]
    isolated: bool | None
    carried: Mapping[str, Carried]
    at_outputs: Mapping[str, Carried]
    others: tuple[Finding, ...]
    notes: tuple[str, ...]
    windings: frozenset[str]

    def kind_is(self, name: str, *kinds: str) -> bool:
        """Whether a name is of one of these kinds, whichever of its own it is."""
        known = self.carried[name].kinds if name in self.carried else ()
        return bool(known) and all(kind in kinds for kind in known)

    def in_both_conductors(self, names: Iterable[str]) -> bool:
        """Whether a step stands in both conductors: a bridge, or a choke with a winding in each."""
        return all(self.kind_is(name, *_ONE_BOX) for name in names)


def joined(design: Design, review: Review, apart_from: bool = False) -> Joined:
    """What is drawn of a design, with its findings.

    apart_from: what lies across a part stands as a path of its own, which takes less width
    """
    circuit, structure = design.file.circuit, design.structure
    mains, outputs = _rows(circuit, structure, apart_from)
    crossings = tuple(_crossings(design))
    control = tuple(_control(structure, crossings))
    drawn = {leaf.name for row in (*mains, *outputs) for step in row.path for leaf in leaves(step.element)}
    drawn |= {leaf.name for one in crossings if one.element is not None for leaf in leaves(one.element)}
    drawn |= {one.name for one in crossings} | {link.name for link in control}
    read = read_at(design)
    of = about(review, read)
    carried = {name: _part(name, part, structure, of) for name, part in design.file.parts.items()}
    carried |= {name: _whole(name, of) for name in (*structure.windings, *design.file.transformers)}
    for name in drawn - set(structure.outputs):
        carried.setdefault(name, _whole(name, of))
    apart = tuple(_apart(design, drawn))
    isolated = _isolated(design, outputs, crossings)
    shown = {id(finding) for one in carried.values() for finding in one.findings}
    ends = about(review, read, OF_OUTPUTS), about(review, read, OF_PORTS)
    at_outputs = {row.output: _end(design, row, *ends) for row in outputs if row.output}
    shown |= {id(finding) for one in at_outputs.values() for finding in one.findings}
    return Joined(
        mains,
        outputs,
        crossings,
        control,
        apart,
        isolated,
        carried,
        at_outputs,
        tuple(one for one in review.findings if id(one) not in shown and word_of(one) is not None),
        tuple(_notes(circuit, isolated)),
        frozenset(structure.windings),
    )


def _isolated(design: Design, outputs: tuple[Row, ...], crossings: tuple[Crossing, ...]) -> bool | None:
    topology = design.file.supply.topology
    known = TOPOLOGIES.get(topology.word or "") if topology is not None else None
    if known is not None:
        return known.isolates
    return True if crossings or any(row.output for row in outputs) else None


# What a part carries.


def carried_of(
    name: str, kinds: tuple[str, ...], value: str, findings: tuple[Finding, ...], empty: bool = False
) -> Carried:
    """The worst word of some findings, and the worst ratio among them with its own word."""
    words = [(word, one) for one in findings if (word := word_of(one)) is not None]
    worst: Overall = min((word for word, _ in words), key=OVERALLS.index, default="not judged")
    compared = [(one.ratio, word) for word, one in words if one.ratio is not None]
    ratio, by = max(compared, key=lambda one: (one[0], -OVERALLS.index(one[1])), default=(None, worst))
    return Carried(name, kinds, value, worst, ratio, by, tuple(one for _, one in words), empty)


def read_at(design: Design) -> Read:
    """What was read at each place of the file that holds a reading: parts, transformers, windings, outputs."""
    return {one.stated.place: one.target for one in design.readings}


About = Mapping[str, tuple[Finding, ...]]


def about(review: Review, read: Read, kinds: Collection[SubjectKind] = OF_PARTS) -> About:
    """The findings about what stands under each name, in their order: about it or its windings, or a reading of them.

    kinds: of subject that the names may be of; what was read over its limit is on the mark of what it was read of
    """
    found: dict[str, dict[int, Finding]] = {}
    for finding in review.findings:
        subject = finding.subject
        if subject.kind not in (*kinds, "reading"):
            continue
        for one in (read.get(finding.place, ""),) if subject.kind == "reading" else subject.names:
            end = len(one)
            while end >= 0:  # `T1.primary` is about T1 too
                found.setdefault(one[:end], {})[id(finding)] = finding
                end = one.rfind(".", 0, end)
    return {name: tuple(own.values()) for name, own in found.items()}


def _part(name: str, part: Part, structure: Structure, of: About) -> Carried:
    empty = not structure.fitted.get(name, True)
    kinds = structure.kinds.get(name, ())
    return carried_of(name, kinds, value_of(part, kinds), of.get(name, ()), empty)


def _whole(name: str, of: About) -> Carried:
    """A winding, or a transformer with everything of its windings."""
    return carried_of(name, (), "", of.get(name, ()))


def _end(design: Design, row: Row, of_outputs: About, of_ports: About) -> Carried:
    """What is carried at the end of an output, or of a port: its offers by their voltages."""
    if row.key != "ports":
        return _output(design, row.output, of_outputs)
    stated = design.file.circuit.ports[row.output].advertised
    points = stated.value.points if stated is not None and isinstance(stated.value, Curve) else ()
    offers = ", ".join(f"{show(volts, VOLTAGE)} {show_value(value, CURRENT)}" for volts, value in points[-1:])
    more = "up to " if len(points) > 1 else ""
    return carried_of(row.output, (), more + offers, of_ports.get(row.output, ()))


def _output(design: Design, name: str, of: About) -> Carried:
    plate = design.file.supply.plate.outputs.get(name)
    said = [one for one in (plate.voltage, plate.current) if one is not None] if plate is not None else []
    return carried_of(name, (), " ".join(one.text.partition(" (")[0] for one in said), of.get(name, ()))


def value_of(part: Part, kinds: tuple[str, ...]) -> str:
    """The first figures of a part by which its kind is ordered: `22 uF 400 V`; '' where nobody gave any."""
    found = []
    opens = any(kind in BY_HEAT for kind in kinds)
    for dimension, name in figures_of(kinds).items():
        if dimension == CELSIUS and not opens:
            continue
        block, _, key = name.partition(".")
        holder = part if block == "part" else part.rated
        stated = getattr(holder, key, None) if holder is not None else None
        if isinstance(stated, Stated) and isinstance(stated.value, Value):
            known = VOCABULARY[name].dimension or dimension
            nominal = stated.nominal
            found.append(show(nominal, known) if nominal is not None else show_value(stated.value, known))
    return " ".join(found[:_MOST_FIGURES])


# Paths, found by their form.


def _rows(circuit: Circuit, structure: Structure, apart_from: bool) -> tuple[tuple[Row, ...], tuple[Row, ...]]:
    """Paths of the mains side and of the outputs; what lies across something stands beside it, or after it."""
    roles = type(circuit).drawing_roles()
    own = [key for key in type(circuit).fields if key not in Circuit.fields]
    branches: dict[str, list[tuple[str, Element]]] = {}
    loops: list[tuple[str, Element]] = []
    rows: list[Row] = []
    for key in own:
        for name, across, path in _paths(key, getattr(circuit, key, None)):
            if across:
                branches.setdefault(across, []).append((name, _series(path)))
            elif roles.get(key) == "loop":
                loops.append((name, _series(path)))
            else:
                begins = "bulk plus" if roles.get(key) == "from bulk" else ""
                rows.append(Row(key, name.replace("_", " "), path, begins))
    line = list(circuit.line or ())
    ends = [element for _, element in loops]
    if circuit.line is not None:
        line += [Step(element, "across", next(leaves(element)).place) for element in ends]
        first = [Row("line", " and ".join(["mains path", *(name for name, _ in loops)]), tuple(line), "mains")]
    else:
        first = [
            Row(name, name, (Step(element, "across", next(leaves(element)).place),), "bulk plus")
            for name, element in loops
        ]
    rows.sort(key=lambda row: not _starts_with_winding(row.path, structure))
    mains = [*first, *rows]
    outputs = [Row("outputs", f"output {name}", path, output=name) for name, path in circuit.outputs.items() if path]
    outputs += [
        Row("ports", f"port {name}, from {one.source}", one.path, f"{one.source} plus", str(name))
        for name, one in circuit.ports.items()
        if one is not None and one.path
    ]
    used: set[str] = set()
    beside = {} if apart_from else {name: [element for _, element in own] for name, own in branches.items()}
    sides: list[tuple[Row, ...]] = []
    for each in (mains, outputs):
        found: list[Row] = []
        for row in each:
            found.append(_with_branches(row, beside, used))
            if apart_from:
                found += _after(row, branches, used)
        sides.append(tuple(found))
    left = {name: own for name, own in branches.items() if name not in used}  # across what is on no path
    return (*sides[0], *(row for name, own in left.items() for row in _branch_rows(name, own))), sides[1]


def _after(row: Row, branches: Mapping[str, list[tuple[str, Element]]], used: set[str]) -> Iterator[Row]:
    for step in row.path:
        for name in step.names:
            if name in branches and name not in used:
                used.add(name)
                yield from _branch_rows(name, branches[name])


def _branch_rows(across: str, own: Iterable[tuple[str, Element]]) -> Iterator[Row]:
    for name, element in own:
        title = name if name.endswith(across) else f"{name} across {across}"
        yield Row("across", title, (Step(element, "series", next(leaves(element)).place),))


def _paths(key: str, value: object) -> Iterator[tuple[str, str, Path]]:
    """Every path below one key, by its form: its title, what it lies across ('' for nothing), its steps."""
    if isinstance(value, tuple) and value and all(isinstance(one, Step) for one in value):
        yield key, "", value
    elif isinstance(value, Leaf | Group):
        yield key, "", (Step(value, "series", next(leaves(value)).place),)
    elif isinstance(value, Mapping):
        for name, inside in value.items():
            for _, across, path in _paths(key, inside):
                named = isinstance(name, Name) and bool({"part", "winding"} & set(name.kinds))
                yield f"{key} {name}", across or (str(name) if named else ""), path
    elif value is not None and isinstance(getattr(value, "across", None), str):
        for _, _, path in _paths(key, getattr(value, "path", None)):
            yield key, str(value.across), path  # type: ignore[attr-defined]


def _series(path: Path) -> Element:
    members = tuple(step.element for step in path)
    return members[0] if len(members) == 1 else Group("series", members)


def _starts_with_winding(path: Path, structure: Structure) -> bool:
    return bool(path) and all(name in structure.windings for name in path[0].names)


def _with_branches(row: Row, branches: Mapping[str, list[Element]], used: set[str]) -> Row:
    """The row with what lies across its parts beside them; each branch once, where its part is met first."""

    def beside(element: Element) -> Element:
        if isinstance(element, Group):
            return Group(element.joined, tuple(beside(one) for one in element.members))
        if element.name in branches and element.name not in used:
            used.add(element.name)
            return Group("parallel", (element, *(beside(one) for one in branches[element.name])))
        return element

    return row._replace(path=tuple(step._replace(element=beside(step.element)) for step in row.path))


# What crosses the barrier, and the control.


def _crossings(design: Design) -> Iterator[Crossing]:
    structure = design.structure
    behind = {winding for output in structure.outputs.values() for winding in output.windings}
    for name in design.file.transformers or {}:
        if any(winding.startswith(f"{name}.") for winding in behind):
            yield Crossing(name, None)
    if not design.file.transformers:
        for name in dict.fromkeys(winding.partition(".")[0] for winding in behind):
            yield Crossing(name, None)
    for name in structure.control.through:
        yield Crossing(name, Leaf(name, design.file.place))
    for bridge in structure.bridges or ():
        if not set(bridge.names) & set(structure.control.through):
            yield Crossing(" ".join(bridge.names), bridge.element, bridge.between)


def _control(structure: Structure, crossings: tuple[Crossing, ...]) -> Iterator[Link]:
    """From what is sensed to what is limited; a part stands once, in its first role."""
    control = structure.control
    crosses = bool(control.through)
    far = "output" if crosses or any(one in structure.outputs for one in control.senses) else "mains"
    seen: set[str] = set()
    stations: list[tuple[str, str, str]] = [
        *((name, "sensed", far) for name in control.senses),
        *((name, "divider, upper", far) for name in control.upper),
        *((name, "divider, lower", far) for name in control.lower),
    ]
    for found, role in (
        (control.reference, "compares"),
        (control.bias_resistor, "across the LED"),
        (control.coupler_resistor, "feeds the LED"),
    ):
        if found is not None and found != "none":
            stations.append((found, role, far))
    stations += [(name, "carries it across", "barrier") for name in control.through]
    for found, role in ((control.by, "controls"), (control.limits, "limit sensed here")):
        if found is not None and found != "none":
            stations.append((found, role, "mains"))
    for name, role, side in stations:
        if name not in seen:
            seen.add(name)
            yield Link(name, role, side)


# What is on no path, and what the file does not say.


def _apart(design: Design, drawn: set[str]) -> Iterator[tuple[str, str]]:
    other = {str(one.name): one.is_traced for one in design.file.circuit.other}
    jobs = {name: f"{job} port {port.name}" for port in design.structure.ports for name, job in _jobs(port)}
    sharing = design.file.circuit.sharing
    if sharing is not None and sharing.by is not None:
        jobs[str(sharing.by)] = "shares the power out"
    for name in design.file.parts:
        stated = design.file.parts[name].fitted
        if not design.structure.fitted.get(name, True):
            yield name, "wired over" if stated is not None and stated.word == EMPTY[1] else "not fitted"
        elif name in jobs and name not in drawn:
            yield name, jobs[name]
        elif name not in drawn:
            known = other.get(name)
            yield name, "traced: on no path" if known else "not traced" if known is False else "on no path"


def _jobs(port: Port) -> Iterator[tuple[str, str]]:
    """The parts that stand on no path and have to do with a port."""
    if port.by:
        yield port.by, "controls"
    if port.guard:
        yield port.guard, "guards"


def _notes(circuit: Circuit, isolated: bool | None) -> Iterator[str]:
    """What is not in the file, and what somebody looked for and did not find."""
    if isolated is False:
        yield "No barrier: the outputs are joined to the mains"
    elif isolated is None:
        yield "Whether a barrier stands between mains and outputs the file does not say"
    if isinstance(circuit.earth, Earth) and circuit.earth.joined_to:
        yield f"Joined to earth: {', '.join(circuit.earth.joined_to)}"
    empty = [key for key in (*own_keys(circuit), "line", "bridging") if getattr(circuit, key, None) == ()]
    open_keys = [key for key in ("line", *own_keys(circuit), "bridging") if getattr(circuit, key, None) is None]
    if open_keys:
        yield f"Not said in the file: {', '.join(key.replace('_', ' ') for key in open_keys)}"
    if not circuit.outputs:
        yield "Not said in the file: what stands behind the outputs"
    if empty:
        yield f"Looked for and not there: {', '.join(key.replace('_', ' ') for key in empty)}"


def own_keys(circuit: Circuit) -> tuple[str, ...]:
    """The keys that a topology adds."""
    return tuple(key for key in type(circuit).fields if key not in Circuit.fields)
