"""From a design to its facts: a flat, numbered sequence of rows, the only thing the stress layer ever varies.

Every value of the file becomes one row with its subject, its name in the vocabulary, how it is known and its place.
What nobody stated is no row; what somebody looked for and did not find is a word (`none`, `unmarked`).
"""

from __future__ import annotations

from collections.abc import Iterator

from derate.design.blocks import Barrier, Part
from derate.design.circuit import Earth
from derate.design.kinds import FAMILIES, KINDS
from derate.design.load import Design
from derate.design.record import Record, Stated
from derate.design.samples import NOT_LOOKED_AT, UNSEEN
from derate.design.structure import PROTECTIVE
from derate.design.transformers import Transformer
from derate.ledger.entry import SUPPLY, Entry, OpenFact, Subject
from derate.terms.quantities import named
from derate.terms.topologies import TOPOLOGIES
from derate.terms.values import Category, Known, Place, Value
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import PART_KINDS

CONTROLS = ("port controller", "controller", "integrated switch")  # what shares the power of several ports out
_OWN = ("part.kind", "part.fitted", "part.place", "part.family")  # written from the structure, not as stated


# How a distance is known that nobody has of anything built or drawn: behind the figure or of all the barriers, what it
# shows waits for it. One in a drawing is a distance, and so is one of which nobody says how it is known.
_NO_DISTANCE = tuple(one for one in NOT_LOOKED_AT if one != "stated")


class _Rows:
    """Gathers rows; a value that is unknown makes none."""

    def __init__(self, design: Design) -> None:
        self.design = design
        self.rows: list[Entry] = []

    def add(self, subject: Subject, name: str, stated: Stated | None, block: str) -> None:
        """One stated value."""
        if stated is None or stated.value is None:
            return
        known_by = self.design.evidence(stated, block)
        self.put(subject, name, stated.value, stated.place, known_by, stated.statistic, stated.note)

    def put(
        self,
        subject: Subject,
        name: str,
        value: Known,
        place: Place | None,
        known_by: str,
        statistic: str = "",
        note: str = "",
    ) -> None:
        """One row."""
        open_ways = _NO_DISTANCE if subject.kind == "barrier" and name.startswith("found.") else ("assumed",)
        rests = frozenset((OpenFact(subject, name),)) if known_by in open_ways else frozenset()
        self.rows.append(
            Entry(
                len(self.rows) + 1,
                subject,
                named(name),
                None,
                value,
                known_by=known_by,
                statistic=statistic,
                place=place,
                note=note,
                rests_on=rests,
            )
        )

    def block(
        self, subject: Subject, prefix: str, block: Record | None, default: str, unheard: tuple[str, ...] = ()
    ) -> None:
        """Every stated value of a block whose keys are facts of one prefix; none known in a way of `unheard`."""
        if block is None:
            return
        for key, stated in block.stated():
            name = f"{prefix}.{key}"
            if name in VOCABULARY and name not in _OWN and stated.known_by not in unheard:
                self.add(subject, name, stated, default)


def facts(design: Design) -> tuple[Entry, ...]:
    """The facts of a design, numbered from one in the order of the file's blocks."""
    rows = _Rows(design)
    _supply(rows)
    for name, part in design.file.parts.items():
        _part(rows, name, part)
    for name, transformer in design.file.transformers.items():
        _transformer(rows, name, transformer)
    for name, barrier in design.file.barriers.items():
        _barrier(rows, name, barrier)
    if design.file.circuit.ports or design.file.circuit.sharing is not None:
        _ports(rows)
    for bridge in design.structure.bridges or ():
        subject = Subject("bridge", bridge.names)
        count = float(len(bridge.names))
        rows.put(subject, "bridge.count", Value.exact(count), bridge.place, _circuit_evidence(design, bridge.place))
    return tuple(rows.rows)


def _circuit_evidence(design: Design, place: Place | None) -> str:
    blocks = design.known_by.get(place.path if place else design.path, {})
    return blocks.get("circuit") or "stated"


def _supply(rows: _Rows) -> None:
    design = rows.design
    supply, structure = design.file.supply, design.structure
    rows.block(SUPPLY, "supply", supply, "supply")
    rows.block(SUPPLY, "plate", supply.plate, "supply")
    rows.block(SUPPLY, "site", design.file.site, "site")
    charges = any(one.battery is not None for one in supply.plate.outputs.values())
    for name, output in supply.plate.outputs.items():
        rows.block(Subject("output", (name,)), "plate", output, "supply")
        if charges and output.battery is None:  # beside one that charges: an output of which nobody says that it does
            rows.put(Subject("output", (name,)), "battery.kind", Category.of("none"), None, "stated")
        rows.block(Subject("output", (name,)), "battery", output.battery, "supply")
        if output.battery is not None and (output.battery.kind is None or output.battery.kind.value is None):
            # it says that there is one, or that somebody asked; of which kind nobody says
            kinds_of = VOCABULARY["battery.kind"].words[1 if output.battery.kind is None else 0 :]
            rows.put(Subject("output", (name,)), "battery.kind", Category.of(*kinds_of), output.battery.place, "stated")
        rows.add(Subject("output", (name,)), "port.kind", output.port, "supply")
        rows.add(Subject("output", (name,)), "port.data_lines", output.data_lines, "supply")
        rows.add(Subject("output", (name,)), "port.lead_current", output.lead_current, "supply")
    circuit = design.file.circuit
    rows.block(SUPPLY, "control", circuit.control, "circuit")
    known = _circuit_evidence(design, None)
    # a part that compares the output is fed by a divider, whether anybody described it or named it there or not
    compared = any(structure.fitted.get(one) and structure.must_be(one, "shunt reference") for one in structure.kinds)
    divided = compared or bool(structure.control.upper or structure.control.lower or structure.control.reference)
    rows.put(SUPPLY, "control.divided", Category.of("yes" if divided else "no"), None, known)
    if structure.mains is not None:
        rows.put(SUPPLY, "circuit.input", Category.of(structure.mains.input), None, known)
    first = next((n for n in _in_order(design) if structure.may_be(n, *PROTECTIVE)), None)
    # of a path that ends at no rectifier what protects may stand in what nobody wrote, unless every part is listed
    listed = supply.parts_list is not None and supply.parts_list.word == "complete"
    walked = structure.mains is not None or (structure.own_inlet is not None and structure.own.traced)
    if walked or first is not None or (circuit.line and listed):
        kinds = (structure.kinds[first] or PART_KINDS) if first else ("none",)
        place = design.file.parts[first].kind.place if first else None
        rows.put(SUPPLY, "circuit.mains_fuse", Category.of(*kinds), place, known)
        rows.put(SUPPLY, "circuit.fused_pole", _fused_pole(design), place, known)
    if (turns := _plug_turns(design)) is not None:
        rows.put(SUPPLY, "circuit.plug_turns", turns, None, "seen")
    topology = TOPOLOGIES.get(supply.topology.word or "") if supply.topology is not None else None
    barrier = "expected" if topology is None or topology.isolates else "none"
    rows.put(SUPPLY, "circuit.barrier", Category.of(barrier), None, known)
    for quantity, word in structure.own.facts:
        rows.put(SUPPLY, quantity, Category.of(word), None, known)
    if structure.bridges is not None:
        words = sorted(name for bridge in structure.bridges for name in bridge.names) or ["none"]
        rows.put(SUPPLY, "circuit.bridging", Category.of(" + ".join(words)), None, known)
    if structure.earth is not None:
        rows.put(SUPPLY, "circuit.earth", Category.of(" + ".join(structure.earth) or "none"), None, known)
    earth = circuit.earth
    if isinstance(earth, Earth) and structure.earth:
        rows.add(SUPPLY, "earth.resistance", earth.resistance, "circuit")


def _in_order(design: Design) -> Iterator[str]:
    """Series parts of the mains path, from the plug; of one that ends at no bulk capacitor those that are written."""
    mains = design.structure.mains
    if mains is not None:
        yield from mains.series
        yield from mains.behind
        return
    for step in design.file.circuit.line or ():
        if step.how in ("series", "in neutral"):
            yield from (name for name in step.names if name in design.structure.places)


_OPENS = tuple(kind for kind in PROTECTIVE if kind != "board track")


def _fused_pole(design: Design) -> Category:
    """The conductors in which something stands that is made to open; every answer that is still possible."""
    structure = design.structure
    steps = design.file.circuit.line or ()
    neutral = {name for step in steps if step.how == "in neutral" for name in step.names}
    words = {"none"}
    for name in _in_order(design):
        if not structure.may_be(name, *_OPENS):
            continue
        pole = "neutral" if name in neutral else "line"
        joined = {pole if word in ("none", pole) else "both" for word in words}
        words = joined if structure.must_be(name, *_OPENS) else words | joined
    return Category.of(*sorted(words))


def _plug_turns(design: Design) -> Category | None:
    """Whether the plug can be put in either way round, so that line and neutral change places; None where it may be:
    American plugs are made both ways."""
    connection, pattern = design.file.supply.connection, design.file.inspection.plug_pattern
    how, kind = (one.word if one is not None else None for one in (connection, pattern))
    if how in ("fixed wiring", "lamp cap"):
        return Category.of("no")
    if how is None or kind is None:
        return None
    return Category.of("yes" if kind == "European" else "no") if kind in ("European", "British") else None


def _part(rows: _Rows, name: str, part: Part) -> None:
    design = rows.design
    subject = Subject("part", (name,))
    kinds = design.structure.kinds.get(name, ())
    place = part.kind.place
    known = design.evidence(part.kind, "parts")
    if kinds:
        rows.put(subject, "part.kind", Category.of(*kinds), place, known, note=part.kind.note)
        families = {KINDS[kind] for kind in kinds}
        rows.put(subject, "part.family", Category.of(*families), place, known)
    fitted = design.structure.fitted.get(name, True)
    wired = part.fitted is not None and part.fitted.word == "wired over"
    note = "wired over" if not fitted and wired else ""
    rows.put(subject, "part.fitted", Category.of("yes" if fitted else "no"), place, known, note=note)
    if not fitted:
        _position(rows, subject, part, kinds, known)
        return
    where = design.structure.places.get(name)
    if where is not None:
        words = (where, *design.structure.open_places.get(name, ()))
        rows.put(subject, "part.place", Category.of(*words), place, _circuit_evidence(design, place))
    rows.block(subject, "part", part, "parts")
    rows.block(subject, "mounting", part.mounting, "parts")
    rows.block(subject, "rated", part.rated, "rated")
    rows.block(subject, "found", part.found, "parts", UNSEEN)
    # A part value that was measured replaces the marked one for this sample; one that nobody measured is none.
    measured = part.found
    for key, found in (("capacitance", measured.capacitance), ("resistance", measured.resistance)) if measured else ():
        if found is not None and isinstance(found.value, Value) and found.known_by not in UNSEEN:
            if key == "capacitance":  # what was marked stays, to hold the measured one to
                rows.add(subject, "part.marked_capacitance", part.capacitance, "parts")
            word = design.evidence(found, "parts") if found.known_by else "measured"
            rows.put(subject, f"part.{key}", found.value, found.place, word, note="measured on this sample")


_OF_FILTERS = ("choke", "common-mode choke")
_OF_SURGES = ("varistor", "spark gap", "NTC thermistor")
_EITHER = ("film capacitor", "ceramic capacitor", *FAMILIES["resistor"])


def _position(rows: _Rows, subject: Subject, part: Part, kinds: tuple[str, ...], known: str) -> None:
    """What an empty position was meant for: as stated, else told by its kind and class where they tell it."""
    if part.position is not None:
        rows.add(subject, "part.position", part.position, "parts")
        return
    classed = part.class_mark is not None and part.class_mark.word in ("X1", "X2", "Y1", "Y2")
    words = set()
    for kind in kinds:
        if kind in _OF_FILTERS or ("capacitor" in kind and classed):
            words.add("filter")
        elif kind in _OF_SURGES:
            words.add("surge")
        else:
            words |= {"filter", "other"} if kind in _EITHER else {"other"}
    if words:
        rows.put(subject, "part.position", Category.of(*words), part.kind.place, known)


def _transformer(rows: _Rows, name: str, block: Transformer) -> None:
    subject = Subject("transformer", (name,))
    rows.block(subject, "transformer", block, "transformers")
    rows.block(subject, "core", block.core, "transformers")
    for winding, about in block.windings.items():
        rows.block(Subject("winding", (f"{name}.{winding}",)), "winding", about, "transformers")


def _ports(rows: _Rows) -> None:
    circuit, structure = rows.design.file.circuit, rows.design.structure
    fed = {one.bus: one for one in reversed(structure.ports)}
    for name in structure.outputs if fed else ():
        place = fed[name].place if name in fed else structure.ports[0].place
        known = _circuit_evidence(rows.design, place)
        rows.put(
            Subject("output", (name,)), "output.feeds_ports", Category.of("yes" if name in fed else "no"), place, known
        )
    for one in structure.ports:
        subject, block = Subject("port", (one.name,)), circuit.ports[one.name]
        rows.block(subject, "port", block, "circuit")
        rows.block(subject, "port", block.control, "circuit")
        if block.overvoltage is not None:
            rows.add(subject, "port.blocks", block.overvoltage.blocks, "circuit")
            rows.add(subject, "port.sensed_apart", block.overvoltage.sensed_apart, "circuit")
            rows.add(subject, "port.overvoltage_stop", block.overvoltage.at, "circuit")
            rows.add(subject, "port.overvoltage_delay", block.overvoltage.within, "circuit")
        known = _circuit_evidence(rows.design, one.place)
        rows.put(subject, "port.clamped", Category.of("yes" if one.clamps else "no"), one.place, known)
        rows.put(subject, "port.guarded", Category.of("yes" if one.opens else "no"), one.place, known)
        if one.shape:
            rows.put(subject, "port.shape", Category.of(one.shape), one.place, known)
    sharing = circuit.sharing
    if sharing is None:
        return
    rows.block(SUPPLY, "sharing", sharing, "circuit")
    by = sharing.by
    holds = by is not None and structure.fitted.get(by, False) and structure.must_be(by, *CONTROLS)
    known = _circuit_evidence(rows.design, sharing.place)
    rows.put(SUPPLY, "sharing.held", Category.of("yes" if holds else "no"), sharing.place, known)


def _barrier(rows: _Rows, name: str, block: Barrier) -> None:
    subject = Subject("barrier", (name,))
    rows.put(subject, "barrier.between", Category.of(" – ".join(block.between)), block.place, "stated")
    rows.block(subject, "found", block, "barriers")
    rows.block(subject, "barrier", block, "barriers")
    if block.board is not None:
        rows.block(subject, "barrier", block.board, "barriers")
    if block.slot is not None:
        rows.add(subject, "barrier.slot_width", block.slot.width, "barriers")
    if block.sheet is not None:
        rows.add(subject, "barrier.sheet_fixed", block.sheet.fixed, "barriers")
