"""Loading a design: files, revisions and parts alike written out, records, names, structure; all errors together."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from derate.design.blocks import DesignFile, Part, Site
from derate.design.circuit_reader import CircuitReader
from derate.design.kinds import FAMILIES, TECHNOLOGIES, WARMED, figures_of, possible, split_kind
from derate.design.limits import MOST_PARTS, bounded
from derate.design.names import Names
from derate.design.readings import (
    STATED,
    Capture,
    Condition,
    Reading,
    Test,
    read_captures,
    read_conditions,
    read_readings,
    read_tests,
)
from derate.design.record import Name, Record, Stated, evidence
from derate.design.settings import OpenPointRecord, WaiverRecord
from derate.design.structure import Path, Structure
from derate.design.transformers import Winding as WindingLayers
from derate.design.transformers import read_layers
from derate.terms import dimension as d
from derate.terms.dimension import RESISTANCE
from derate.terms.topologies import TOPOLOGIES
from derate.terms.tuples import NamedTuple
from derate.terms.values import Curve, Place, Problem, Problems, ReadingError, Value, nearest
from derate.terms.vocabulary import CLASSES, VOCABULARY
from derate.terms.words import EVIDENCE
from derate.text.files import leaves_repository, stay_inside
from derate.text.nodes import Mapping, Node, Scalar, compose, read_text
from derate.text.plausible import BY_KIND, RESISTOR, between, check
from derate.text.quantity import read_figures
from derate.text.units import show

if TYPE_CHECKING:
    from derate.design.library import LibraryUse, Shelf


def _instead_of(key: str, record: type[Record]) -> str:
    from derate.design.instead import instead_of  # only imported when something is wrong

    return instead_of(key, record)


Record.answered_by(_instead_of)

# From nodes to what the shapes read: parts alike, short forms and revisions written out in full.
#
# `expand_parts(node)`: `C1, C2: …` becomes two entries; `R9: film resistor 0.82 ohm 1% 1 W` becomes a block.
# `revised(base, revision)`: the file that a revision stands for.


_NAME = re.compile(r"[^\W\d_][\w-]*\Z")
# Blocks of an earlier revision that say something about a sample which is no longer this one.
_NOT_CARRIED = ("readings", "tests", "waivers", "open_points", "revision_of")
_JEDEC = re.compile(r"\b[12]N\d{2,4}[A-Z]?\b")


def expand_parts(parts: Mapping, problems: list[Problem], unread: dict[str, Place]) -> Mapping:
    """Write parts alike and short forms out; what cannot be read is added to `problems`, its name to `unread`."""
    entries: list[tuple[Scalar, Node]] = []
    seen: dict[str, Scalar] = {}
    for key, node in parts.entries:
        block: Node | None = node
        if isinstance(node, Scalar):
            block = _short_form(node, problems)
        offset = 0
        for piece in key.text.split(","):
            name = piece.strip()
            place = key.at(offset + len(piece) - len(piece.lstrip()))
            offset += len(piece) + 1
            if not _NAME.match(name):
                problems.append(
                    Problem(
                        place, f"'{name[:60]}' cannot name a part", "a name is a letter, then letters, digits, - or _"
                    )
                )
                continue
            if name in seen:
                problems.append(
                    Problem(
                        place,
                        f"part {name} is said twice, first in line {seen[name].place.line}",
                        "keep one of them"
                        if seen[name] is key
                        else f"put the lines of both under one '{seen[name].text}:'",
                    )
                )
                continue
            seen[name] = key
            if block is not None:
                entries.append((Scalar(name, place), block))
            else:
                unread[name] = place
        if len(entries) > MOST_PARTS:  # which is refused
            break
    return Mapping(tuple(entries), parts.place)


def _short_form(node: Scalar, problems: list[Problem]) -> Mapping | None:
    """`film capacitor X2 220 nF 20% 310 Vac (marked)` as the block it stands for."""
    try:
        text, known_by, note = evidence(node)
    except ReadingError as error:
        problems.extend(error.problems)
        return None
    split = split_kind(text)
    if split is None:
        from derate.design.instead import instead_of_part  # only imported when something is wrong

        marked = _FUSE_MARK.match(text)
        instead = f"write fuse {text[: marked.end()]}" if marked else instead_of_part(text)
        problems.append(Problem(node.start, f"'{text[:60]}' begins with no part kind", instead))
        return None
    kind, rest = split
    at = text.find(rest, len(kind)) if rest else len(text)
    mark = "" if known_by is None else f" ({known_by}{'; ' + note if note else ''})"
    top: list[tuple[Scalar, Node]] = [_entry(node, 0, "kind", kind + mark)]
    rated: list[tuple[Scalar, Node]] = []
    for pattern, name in ((r"\b(" + "|".join(CLASSES) + r")\b", "class"), (_JEDEC, "marking")):
        found = re.search(pattern, rest)
        if found:
            top.append(_entry(node, at + found.start(), name, found.group() + mark))
            rest = rest[: found.start()] + " " * len(found.group()) + rest[found.end() :]
    if kind == "fuse" and (marked := _FUSE_MARK.search(rest)):
        rest = f"{rest[: marked.start()]}{_of_fuse_mark(marked, node, at, mark, top, rated)}{rest[marked.end() :]}"
    meaning = figures_of(possible(kind))
    if d.CAPACITANCE in meaning or d.INDUCTANCE in meaning:
        rest = _LETTER_FOR_POINT.sub(lambda one: _written_out(one, "F" if d.CAPACITANCE in meaning else "H"), rest)
    try:
        start = len(rest) - len(rest.lstrip())
        figures = read_figures(rest.strip(), node.at(at + start)) if rest.strip() else ()
    except ReadingError as error:
        from derate.design.everyday import of_figures

        better = of_figures(kind, rest.strip())
        told = [] if better is None else [Problem(node.at(at), f"'{text[at:].strip()[:60]}' {better[0]}", better[1])]
        problems.extend(told or error.problems)
        return None
    for quantity in figures:
        fact = meaning.get(quantity.dimension) if quantity.dimension is not None else None
        if kind == "varistor" and quantity.statistic == "rms":
            fact = "rated.voltage"  # a varistor named by its continuous mains voltage
        if fact is None:
            problems.append(
                Problem(
                    quantity.place,
                    f"'{quantity.text}' has no meaning in the short form of a {kind}",
                    "write the part as a block and name the figure",
                )
            )
            continue
        prefix, _, key = fact.partition(".")
        if prefix == "rated" and quantity.percent is not None:
            what = f"'{quantity.text}' gives a tolerance to the {VOCABULARY[fact].says}"
            problems.append(Problem(quantity.place, what, "write it behind the value it belongs to: 22 uF 20% 400 V"))
            continue
        entry = (Scalar(key, quantity.place), Scalar(quantity.text + mark, quantity.place))
        if any(name.text == key for name, _ in (rated if prefix == "rated" else top)):
            says = VOCABULARY[fact].says
            problems.append(Problem(quantity.place, f"a second {says} in one short form", "write the part as a block"))
            continue
        (rated if prefix == "rated" else top).append(entry)
    if rated:
        top.append((Scalar("rated", node.place), Mapping(tuple(rated), node.place)))
    return Mapping(tuple(top), node.place)


# The marking of a fuse by IEC 60127-1: time characteristic, current, breaking capacity, voltage: `T2AL250V`. Many
# boards print it without the breaking capacity, `T2A 250V`, or the current alone, `T2A`: of the rest nothing is known.
_FUSE_MARK = re.compile(
    r"(?<![\w.])(FF|F|M|TT|T) ?(\d+(?:\.\d+)?) ?(m?A) ?([LEH]?)(?: ?(\d+) ?V(?:~|(?:ac|AC)?\b)|(?![\w.~]))"
)
_CHARACTERISTICS = {
    "FF": "very quick acting",
    "F": "quick acting",
    "M": "medium time lag",
    "T": "time lag",
    "TT": "super time lag",
}
_LEAST_LOW, _LOW_TIMES, _ENHANCED, _HIGH = 35.0, 10.0, 150.0, 1500.0  # IEC 60127-2: 35 A or ten times the current [A]
# A letter that stands for the point (IEC 60062) in a short form: `2n2`, `47u`, `n47`.
_LETTER_FOR_POINT = re.compile(r"(?<![\w.])(\d*)([pnuµμm])(\d*)(?![\w.])")


def _of_fuse_mark(
    found: re.Match[str],
    node: Scalar,
    at: int,
    mark: str,
    top: list[tuple[Scalar, Node]],
    rated: list[tuple[Scalar, Node]],
) -> str:
    """What a fuse marking says: characteristic and breaking capacity put in, current and voltage as figures."""
    letters, number, unit, capacity, volts = found.groups()
    current = float(number) * (1e-3 if unit == "mA" else 1.0)
    place = at + found.start()
    top.append(_entry(node, place, "characteristic", _CHARACTERISTICS[letters] + mark))
    if capacity:
        breaks = {"L": max(_LEAST_LOW, _LOW_TIMES * current), "E": _ENHANCED, "H": _HIGH}[capacity]
        rated.append(_entry(node, place, "breaking_capacity", f"{breaks:g} A{mark}"))
    return f"{number} {unit} {volts} V" if volts else f"{number} {unit}"


def _written_out(found: re.Match[str], unit: str) -> str:
    whole, letter, part = found.groups()
    if not whole and not part:
        return found[0]
    return f"{whole or '0'}{'.' + part if part else ''} {letter}{unit}"


def _entry(node: Scalar, offset: int, key: str, text: str) -> tuple[Scalar, Node]:
    return Scalar(key, node.at(offset)), Scalar(text, node.at(offset))


def revised(base: Mapping, revision: Mapping) -> Mapping:
    """A revision laid over the file it revises: parts whole, other blocks key by key, readings and tests dropped.

    What was looked at on a supply that isolates says nothing of a twin that does not: whatever can be touched there is
    at the mains, and somebody has to look again.
    """
    gone = (*_NOT_CARRIED, "inspection") if _isolates(base) and not _isolates(revision, base) else _NOT_CARRIED
    kept = [(key, node) for key, node in base.entries if key.text not in gone]
    laid: list[tuple[Scalar, Node]] = []
    for key, node in kept:
        over = revision.get(key.text)
        if over is None:
            laid.append((key, node))
        elif isinstance(node, Mapping) and isinstance(over, Mapping):
            laid.append((key, _over(node, over, whole=key.text in ("parts", "barriers", "conditions"))))
        else:
            laid.append((revision.key(key.text) or key, over))
    known = {key.text for key, _ in kept}
    laid += [(key, node) for key, node in revision.entries if key.text not in known and key.text != "revision_of"]
    return Mapping(tuple(laid), revision.place)


def _isolates(*files: Mapping) -> bool:
    """Whether the topology of the first file that says one isolates; one that nobody says may."""
    for file in files:
        supply = file.get("supply")
        topology = supply.get("topology") if isinstance(supply, Mapping) else None
        if isinstance(topology, Scalar):
            word = TOPOLOGIES.get(topology.text.split(" (")[0].strip())
            return word is None or word.isolates
    return True


def _over(base: Mapping, over: Mapping, whole: bool) -> Mapping:
    entries: list[tuple[Scalar, Node]] = []
    for key, node in base.entries:
        new = over.get(key.text)
        if new is None:
            entries.append((key, node))
        elif not whole and isinstance(node, Mapping) and isinstance(new, Mapping):
            entries.append((key, _over(node, new, whole=False)))
        else:
            entries.append((over.key(key.text) or key, new))
    known = {key.text for key, _ in base.entries}
    return Mapping(tuple(entries) + tuple(e for e in over.entries if e[0].text not in known), over.place)


# Loading a design: file, revisions, models, structure. All errors of a file together, each with its place.
#
# `load_design(path)` returns a `Design` or raises one ReadingError. The facts go to the ledger in `facts.py`.


FORMAT_VERSION = "1"
_GREATEST_CHAIN = 12


class Design(NamedTuple):
    """One design, read and walked."""

    path: str
    name: str
    file: DesignFile
    structure: Structure
    known_by: dict[str, dict[str, str]]  # path of a file -> block -> evidence word
    conditions: dict[str, Condition]
    readings: tuple[Reading, ...]
    tests: tuple[Test, ...]
    captures: tuple[Capture, ...]
    layers: dict[str, WindingLayers]
    waivers: tuple[WaiverRecord, ...]
    open_points: tuple[OpenPointRecord, ...]
    notes: tuple[str, ...]
    texts: dict[str, str]  # path -> text of every file that was read, for quoting and for the hash
    library: LibraryUse | None = None  # what was taken from libraries of parts; None where nothing names one

    def evidence(self, stated: Stated, block: str) -> str:
        """How a value is known: what it says itself, else its block's default, else `stated`."""
        if stated.known_by is not None:
            return stated.known_by
        blocks = self.known_by.get(stated.place.path, {})
        return blocks.get(block) or "stated"


def load_design(path: str, change: Callable[[Mapping], Mapping] | None = None) -> Design:
    """Read a design file with what it revises. Raises ReadingError with every problem found."""
    stay_inside(path)
    return read_design(read_text(path), path, change=change)


def read_design(
    text: str, path: str, read: Callable[[str], str] = read_text, change: Callable[[Mapping], Mapping] | None = None
) -> Design:
    """Read a design from its text; `path` is where it stands, for places and for `revision_of`.

    read: how a file that it revises is read; change: what else is to be read of it than stands there
    """
    problems: list[Problem] = Problems()
    texts: dict[str, str] = {}
    known: dict[str, dict[str, str]] = {}
    unread: dict[str, Place] = {}  # parts whose short form could not be read: they are there all the same
    shelves: list[Shelf] = []  # of each file that names a part of a library
    node = _whole(text, path, texts, known, problems, (), read, unread, shelves)
    node = node if change is None else change(node)
    bounded(node)  # what one entry stands for, and what a revision adds
    file = DesignFile.read(node, problems)
    parts = node.get("parts")
    names = {key.text: key.place for key, _ in parts.entries} if isinstance(parts, Mapping) else {}
    _version(file, node, problems)
    _hours(file.site, problems)
    _resistors(file, problems)
    _of_kinds(file, problems)
    _alternating(file, problems)
    _two_sides(file, problems)
    _resolve(file, {**unread, **names}, problems)
    _same_outputs(file, node, problems)
    whole = not problems
    kinds = {name: possible(part.kind.word or "") if part.kind is not None else () for name, part in file.parts.items()}
    for name, part in file.parts.items():
        if part.technology or part.temperature_coefficient or part.temperature_slope:
            problems += _of_another_kind(part, kinds[name])
    reader = CircuitReader(file, kinds, names, whole)
    structure = reader.walk()
    problems += reader.problems
    conditions = read_conditions(file.conditions)
    default = known.get(path, {}).get("readings")
    readings = read_readings(file.readings, conditions, default, problems)
    _polarities(file, readings, problems)
    outputs = len(file.circuit.outputs) or len(file.supply.plate.outputs)
    tests = read_tests(file.tests, outputs, file.transformers, default, problems)
    captures = read_captures(file.readings, conditions, path, problems)
    marked = any(one.sample or one.retest for each in (readings, tests, captures) for one in each)
    if file.supply.samples is not None or marked:
        from derate.design.every_sample import completed  # most files hold one sample

        readings, tests = completed(file.supply.samples, file.supply.place, readings, tests, captures, problems)
    layers = {
        name: read_layers(
            name,
            one.from_core_outwards,
            one.from_outside_inwards,
            {winding: about.turns for winding, about in one.windings.items()},
            problems,
        )
        for name, one in file.transformers.items()
    }
    if problems:
        raise ReadingError(problems)
    used = _used(shelves, parts, texts) if shelves and isinstance(parts, Mapping) else None
    return Design(
        path,
        file.supply.name,
        file,
        structure,
        known,
        conditions,
        readings,
        tests,
        captures,
        layers,
        file.waivers,
        file.open_points,
        (
            *_notes(structure),
            *_merely_stated(readings, tests),
            *_outcomes(tests),
            *(_overruled(used) if used is not None else ()),
        ),
        texts,
        used,
    )


def _used(shelves: list[Shelf], parts: Mapping, texts: dict[str, str]) -> LibraryUse:
    """What the parts of a design came from; of a file that was revised what is left of it."""
    from derate.design.library import LibraryUse

    named = {
        key.text: one.place for key, block in parts.entries if isinstance(block, Mapping) and (one := block.get("part"))
    }
    origins = [one for shelf in shelves for one in shelf.origins if named.get(one.part) == one.place]
    libraries = {path: one for shelf in shelves for path, one in shelf.used.items()}
    used = [one for path, one in libraries.items() if any(origin.was.path == path for origin in origins)]
    texts.update({one.path: one.text for one in used})
    return LibraryUse(tuple(used), tuple(origins))


def _overruled(used: LibraryUse) -> Iterator[str]:
    """Facts of a library in whose place the design has its own: told beside the review."""
    for origin in used.origins:
        for one in origin.overruled:
            moved = f"{one.key}: {one.after} in place of {one.before}"
            yield f"{one.part} of {origin.name}: {moved} ({one.was.path}:{one.was.line})"


def _resistors(file: DesignFile, problems: list[Problem]) -> None:
    """A resistor of a milliohm is one of a megohm: its letter has another case."""
    for part in file.parts.values():
        stated = part.resistance
        kinds = possible(part.kind.word or "") if part.kind is not None else ()
        if stated is None or not kinds or any(kind not in FAMILIES["resistor"] for kind in kinds):
            continue
        try:
            check(RESISTOR, "resistor", stated.value, RESISTANCE, "", stated.text, stated.place)
        except ReadingError as error:
            problems.extend(error.problems)


def _of_kinds(file: DesignFile, problems: list[Problem]) -> None:
    """Figures that no part of its kind has: an electrolytic capacitor of 25 kV is one of 25 V."""
    for part in file.parts.values():
        kind = part.kind.word or "" if part.kind is not None else ""
        for block, key, dimension, low, high in BY_KIND.get(kind, ()):
            stated = getattr(part.rated if block else part, key, None)
            value = stated.value if isinstance(stated, Stated) else None
            points = [one for _, one in value.points] if isinstance(value, Curve) else [value]
            for one in points:
                if not isinstance(one, Value) or stated is None:
                    continue
                says = f"{'rated ' if block else ''}{key.replace('_', ' ')} of this {kind}"
                text = stated.text or show(one.near, dimension)
                try:
                    between(low, high, says, one, dimension, stated.statistic, text, stated.place)
                except ReadingError as error:
                    problems.extend(error.problems)


# V: what bodies of varistors are marked with and no data sheet prints as a continuous voltage: the voltage at 1 mA.
_AT_A_MILLIAMPERE = (390.0, 430.0, 470.0, 560.0, 620.0, 680.0, 750.0, 820.0)


def _alternating(file: DesignFile, problems: list[Problem]) -> None:
    """What a varistor or a capacitor with a class mark bears at the mains is an alternating voltage, and no other."""
    for part in file.parts.values():
        kinds = possible(part.kind.word or "") if part.kind is not None else ()
        stated = part.rated.voltage if part.rated is not None else None
        varistor = kinds == ("varistor",)
        classed = part.class_mark is not None and (part.class_mark.word or "").startswith(("X", "Y"))
        if stated is None or not isinstance(stated.value, Value) or not (varistor or classed):
            continue
        what, instead = f"what a {'varistor' if varistor else 'capacitor of a class'} bears at the mains is", "in Vac"
        if stated.statistic == "dc":
            said = f"'{stated.text[:40]}' is direct voltage, and {what} alternating"
            problems.append(Problem(stated.place, said, f"write its alternating voltage, {instead}"))
        if not varistor:
            continue
        marked = part.nominal_voltage.value if part.nominal_voltage is not None else None
        known = isinstance(marked, Value) and stated.value.near * 2**0.5 > marked.high
        bare = marked is None and not stated.statistic and stated.value.near in _AT_A_MILLIAMPERE
        if known or bare:
            said = f"'{stated.text[:40]}' is the figure on the body, the voltage at 1 mA: {what} about 0.64 of it"
            instead = "write it as nominal_voltage, and the continuous voltage of its data sheet in Vac under rated"
            problems.append(Problem(stated.place, said, instead))


def _resolve(file: DesignFile, parts: dict[str, Place], problems: list[Problem]) -> None:
    """The one pass over every name of the file."""
    used = [name for name in file.circuit.names() if "winding" in name.kinds]
    names = Names(
        parts=parts,
        outputs=dict.fromkeys((*file.supply.plate.outputs, *file.circuit.outputs)),
        transformers=file.transformers,
        windings=[f"{name}.{winding}" for name, one in file.transformers.items() for winding in one.windings],
        barriers=file.barriers,
        conditions=file.conditions,
        used=used,
        series=_in_series(file.circuit.line),
        ports=file.circuit.ports,
    )
    for each, siblings in _in_context(file):
        wrong = names.check(each, siblings)
        if wrong is not None:
            problems.append(wrong)


def _same_outputs(file: DesignFile, node: Mapping, problems: list[Problem]) -> None:
    """An output of the circuit that is very near to one of the plate without its path is meant to be that one.

    Others may stand in the circuit alone: a supply has outputs inside that no plate tells of.
    """
    plate, circuit = file.supply.plate.outputs, file.circuit.outputs
    alone = [name for name in circuit if name not in plate]
    lacking = [name for name in plate if name not in circuit]
    if not alone or not lacking:
        return
    outer = node.get("circuit")
    block = outer.get("outputs") if isinstance(outer, Mapping) else None
    for name in alone:
        close = nearest(name, lacking)
        key = block.key(name) if isinstance(block, Mapping) else None
        if close is not None and key is not None:
            what = f"'{name[:60]}' is no output of the plate, and '{close}' there has no path"
            problems.append(Problem(key.place, what, f"write {close}, or give each its own"))


def _polarities(file: DesignFile, readings: Sequence[Reading], problems: list[Problem]) -> None:
    """A voltage read at an output has the sign of its plate: by its size alone an output the wrong way round passes."""
    for one in readings:
        plate = file.supply.plate.outputs.get(one.target) if one.quantity == "voltage" else None
        said, read = plate.voltage.value if plate is not None and plate.voltage is not None else None, one.stated.value
        if not isinstance(said, Value) or not isinstance(read, Value):
            continue
        if said.low > 0.0 > read.high or said.high < 0.0 < read.low:
            signs = ("above", "below") if read.low > 0.0 else ("below", "above")
            what = f"{one.target} is read {signs[0]} zero, and its plate says {signs[1]}"
            instead = "write the sign that the meter showed with its common lead at the return, or mend the plate"
            problems.append(Problem(one.stated.place, what, instead))


def _in_series(line: Path | None) -> tuple[str, ...] | None:
    """Parts in series on the mains path: a point of the circuit may lie behind each."""
    if line is None:
        return None
    return tuple(name for step in line if step.how in ("series", "in neutral") for name in step.names)


def _in_context(file: DesignFile) -> Iterator[tuple[Name, tuple[str, ...]]]:
    """Every name of the file, with the windings of the transformer it stands in."""
    for field in file.fields.values():
        if field.attribute != "transformers" and field.form.has_names:
            for each in field.form.names(getattr(file, field.attribute)):
                yield each, ()
    for one in file.transformers.values():
        for each in one.names():
            yield each, tuple(one.windings)


def _whole(
    text: str,
    path: str,
    texts: dict[str, str],
    known: dict[str, dict[str, str]],
    problems: list[Problem],
    chain: tuple[str, ...],
    read: Callable[[str], str],
    unread: dict[str, Place],
    shelves: list[Shelf],
) -> Mapping:
    """The node of a file with everything it revises laid under it, parts written out."""
    texts[path] = text
    node = compose(text, path, only=True)
    bounded(node)
    known[path] = _known_by(node)
    parts = node.get("parts")
    if isinstance(parts, Mapping):
        expanded = expand_parts(parts, problems, unread)
        if any(isinstance(block, Mapping) and block.get("part") is not None for _, block in expanded.entries):
            expanded = _from_library(expanded, path, known[path].get("parts"), problems, unread, read, shelves)
        entries = tuple((key, expanded if key.text == "parts" else value) for key, value in node.entries)
        node = Mapping(entries, node.place)
    base = node.get("revision_of")
    if base is None:
        return node
    if not isinstance(base, Scalar):
        problems.append(Problem(base.place, "revision_of names one file", "write revision_of: other.yaml"))
        return node
    target = os.path.normpath(os.path.join(os.path.dirname(path), base.text))
    trail = (*chain, os.path.normpath(path))
    if target in trail or len(trail) > _GREATEST_CHAIN:
        problems.append(
            Problem(base.place, f"'{base.text}' revises itself over {len(trail)} files", "name an earlier file")
        )
        return node
    if os.path.isabs(base.text) or leaves_repository(path, target):
        problems.append(Problem(base.place, f"'{base.text}' lies outside this repository", "name a file inside it"))
        return node
    try:
        earlier = _whole(read(target), target, texts, known, problems, trail, read, unread, shelves)
    except ReadingError as error:
        problems.append(Problem(base.place, f"the file it revises, '{base.text}', could not be read", ""))
        problems.extend(error.problems)
        return node
    return revised(earlier, node)


def _from_library(
    parts: Mapping,
    path: str,
    default: str | None,
    problems: list[Problem],
    unread: dict[str, Place],
    read: Callable[[str], str],
    shelves: list[Shelf],
) -> Mapping:
    """The parts of a file with what libraries say of those that name an entry of one."""
    from derate.design.library import Shelf  # only where a part names one

    try:
        shelf = Shelf(path, read)
    except ReadingError as error:
        problems.extend(error.problems)
        unread.update({key.text: key.place for key, _ in parts.entries})
        return Mapping((), parts.place)
    shelves.append(shelf)
    return shelf.filled(parts, default, problems, unread)


def _known_by(node: Mapping) -> dict[str, str]:
    """The evidence words of one file by block; what is no such word is told where the block is read."""
    block = node.get("known_by")
    if not isinstance(block, Mapping):
        return {}
    said = ((key.text, value.text) for key, value in block.entries if isinstance(value, Scalar))
    return {key: word for key, word in said if word in EVIDENCE}


def _two_sides(file: DesignFile, problems: list[Problem]) -> None:
    """A place lies between two circuits: one between a circuit and itself would be judged by no rule."""
    for name, barrier in file.barriers.items():
        if len(barrier.between) == 2 and barrier.between[0] == barrier.between[1]:
            one = barrier.between[1]
            what = f"{name} lies between {one} and itself, which is no place where two circuits come near each other"
            problems.append(Problem(one.place, what, "write the two circuits or points that it separates"))


def _of_another_kind(part: Part, kinds: tuple[str, ...]) -> Iterator[Problem]:
    """What is stated of a part and can be said of no kind that it may be; of an unknown kind anything can."""
    made = part.technology
    words = [word for kind in kinds for word in TECHNOLOGIES.get(kind, ())]
    if made is not None and made.word is not None and kinds and made.word not in words:
        one = f"write {' or '.join(words)}" if words else "leave technology out"
        yield Problem(made.place, f"a {' or '.join(kinds[:3])} is not made as '{made.word}'", one)
    share, slope = part.temperature_coefficient, part.temperature_slope
    if share is not None and slope is not None:
        yield Problem(slope.place, "a second change of the same value for each kelvin", "leave one of the two out")
    facts = {WARMED[kind][0] for kind in kinds if kind in WARMED}
    for stated, key, may in ((share, "coefficient", facts), (slope, "slope", facts & {"part.voltage"})):
        if stated is not None and kinds and not may:
            what = f"nothing asks the temperature {key} of a {' or '.join(kinds[:3])}"
            yield Problem(stated.place, what, f"leave temperature_{key} out, or put it into a note")
    if share is not None and part.dielectric is not None and part.dielectric.word == "class 2":
        what = "a class 2 ceramic changes along no straight line"
        yield Problem(share.place, what, "leave temperature_coefficient out: what heat and cold take is assumed")


def _version(file: DesignFile, node: Mapping, problems: list[Problem]) -> None:
    stated = node.get("derate")
    if stated is not None and file.derate is not None and file.derate != FORMAT_VERSION:
        problems.append(
            Problem(stated.place, f"format {file.derate[:20]} is not known here", f"write derate: {FORMAT_VERSION}")
        )


def _hours(site: Site, problems: list[Problem]) -> None:
    """The hours of an average day by ambient: a table, no more than a day, and no hotter than the site."""
    stated, ambient = site.hours, site.ambient
    if stated is None or stated.value is None:
        return
    if not isinstance(stated.value, Curve):
        write = "write hours: {10 degC: 12 h, 25 degC: 10 h, 40 degC: 2 h}"
        problems.append(Problem(stated.place, "these hours say no ambient they are spent at", write))
        return
    sure = sum(time.near for _, time in stated.value.points) / 3600.0
    if sure > 24.01 or min(time.low for _, time in stated.value.points) < 0.0:
        told = f"the hours of a day add up to {sure:.4g} h" if sure > 24.01 else "hours are below zero"
        problems.append(Problem(stated.place, told, "write those of an average day, 24 h in all"))
    top = ambient.value.high if ambient is not None and isinstance(ambient.value, Value) else None
    if top is not None and stated.value.greatest > top + 0.01:
        told = f"hours at {stated.value.greatest:.4g} degC, and the site ends at {top:.4g} degC"
        problems.append(Problem(stated.place, told, "widen ambient under site to the hottest of them"))


def _outcomes(tests: tuple[Test, ...]) -> Iterator[str]:
    """Adverse outcomes of tests that no rule is held to: they are told beside the review, so that nothing is lost."""
    for test in tests:
        if test.is_adverse and test.test not in ("electric strength", "overload"):
            about = (
                f" of {test.fault}" if test.fault else f" between {' and '.join(test.between)}" if test.between else ""
            )
            yield f"test of the sample, {test.test}{about} (line {test.place.line}): {test.result.word}"


def _merely_stated(readings: Iterable[Reading], tests: Iterable[Test]) -> Iterator[str]:
    """One word of the file settles what each of their findings waits for."""
    read = sum(1 for one in readings if one.known == STATED and isinstance(one.stated.value, Value))
    done = sum(1 for one in tests if one.known == STATED and one.done)
    told = [f"{count} {word}{'s' if count > 1 else ''}" for count, word in ((read, "reading"), (done, "test")) if count]
    if told:
        yield (
            f"nobody says how {' and '.join(told)} {'are' if read + done > 1 else 'is'} known, which shows what is bad "
            "and nothing good: where it was taken of this sample, write known_by: {readings: measured}"
        )


def _notes(structure: Structure) -> list[str]:
    placed = structure.places
    loose = [name for name in structure.kinds if name not in placed]
    return [f"on no path so far, and not judged: {', '.join(loose)}"] if loose else []
