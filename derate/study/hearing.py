"""What a design file states and nothing used: every leaf that led to no finding, with its place and a reason.

A leaf is used when a row that carries its place led to a finding that came to a word (`judge.heard`). What chooses
which rules and which computations there are (names, paths, the supply itself, conditions of readings) is used by that.
Readings, ratings that are limits and outcomes of tests are never merely unused: each has a finding of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fnmatch import fnmatchcase

from derate.design.circuit import Circuit
from derate.design.facts import facts
from derate.design.record import Record, Stated
from derate.insulation.transformer import where_sides_meet
from derate.judge.heard import heard
from derate.judge.judge import SAMPLE, is_read, prepare
from derate.judge.review import Finding, Review, Unused
from derate.judge.view import View
from derate.ledger.entry import SUPPLY, Entry
from derate.packs.pack import Rule
from derate.study.work import Work
from derate.terms.part_terms import LIMITS
from derate.terms.values import Place
from derate.terms.words import LIBRARY_ENDING

# Keys in words of the author's own, which say something to a reader and state nothing that could be worse.
FOR_THE_READER: Mapping[str, str] = {
    "supply.name": "names the supply",
    "supply.sample": "names the sample",
    "supply.photos": "says where the photos lie",
    "supply.documents": "names the papers it rests on",
    "supply.plate.text": "the plate as printed; its figures stand beside it",
    "*.note": "a note",
    "tests.*.photo": "the photo of a test",
    "transformers.*.construction": "the layers say how it is built",
    "parts.*.marking": "the type as printed; what it stands is read from its data sheet",
}
# Keys that no rule and no computation asks of any design. The list only ever gets shorter.
NEVER_ASKED: Mapping[str, str] = {
    "circuit.earth.by": "no rule asks what joins the points to earth, only the resistance of the joint",
    "transformers.*.core.shape": "its area and its gap are what is worked with",
    "transformers.*.windings.*.pins": "no distance is taken from the numbers of pins: state the place as a barrier",
    "transformers.*.leads.*.length": "no rule asks how long a lead is",
    "transformers.*.leads.*.ends_in": "no rule asks what a lead ends in",
    "transformers.*.leads.*.held_by": "no rule asks what holds a lead",
    "barriers.*.slot.length": "creepage is read round the slot, whose width alone decides whether it counts",
    "barriers.*.sheet.height": "creepage and clearance are read round the sheet",
    "barriers.*.sheet.material": "its thickness is what is asked",
    "barriers.*.board.material": "its material group is what is asked",
}
# Facts that are asked of some parts and not of others, by their names in the vocabulary: why nothing did here.
NOT_ASKED_HERE: Mapping[str, str] = {
    "mounting.sleeve": "asked of a resistor that may glow, where its body does not hold the heat",
    "mounting.above_board": "asked of a board under a part that may glow, where nothing else is between",
    "mounting.to_plastic": "asked of a part that may glow, where its body does not hold the heat",
    "rated.forward_voltage": "the loss of this part is taken from no figure of its own",
    "rated.cold_impedance": "worked out cold at the switching frequency are the output capacitors",
    "rated.recovery_time": "asked of output rectifiers and clamp diodes",
    "rated.series_resistance": "what was measured on this sample is taken in its place, or the ripple asks no other",
    "rated.end_of_life_resistance_ratio": "its end of life is reckoned from another fact",
    "rated.on_resistance": "the loss of the switch could not be worked out, or asks no other",
    "rated.junction_to_case": "no junction temperature is worked out for it",
    "rated.junction_to_lead": "no junction temperature is worked out for it",
    "rated.junction_to_air": "no junction temperature is worked out for it",
    "rated.junction_capacitance": "its ringing was read, or nothing rings against it",
    "part.capacitance": "no ripple and no time is worked out for it where it stands",
    "part.marked_capacitance": "held to what was measured where its wear is asked",
    "part.resistance": "no voltage and no loss is worked out for it where it stands",
    "part.inductance": "no current is worked out for it where it stands",
    "part.length": "the narrowest width decides what a track carries",
    "part.thickness": "the narrowest width decides what a track carries",
    "part.nominal_voltage": "its continuous voltage and its clamping voltage are asked",
    "part.voltage": "nothing is worked out from it where it stands",
    "part.cools_in": "asked where it is switched on again hot",
    "found.capacitance": "nothing is worked out from it where it stands",
    "found.series_resistance": "nothing is worked out from it where it stands",
    "found.gain": "the gain of the data sheet is asked where a bipolar switch is driven",
    "plate.power": "the outputs say what it delivers",
    "plate.short_time": "no rule asks what it gives for a short time",
    "plate.marks": "asked are the double square and the maker",
    "core.tape_to_windings": "asked where the core faces the other side",
    "transformer.margins": "asked where the wire is no insulation that counts",
    "transformer.leakage": "the clamp could not be worked out with it",
    "winding.turns": "nothing is worked out for this winding",
    "winding.wire": "asked where primary and secondary meet",
    "winding.bare": "nothing is worked out for this winding",
    "winding.outside": "asked of insulated wire where primary and secondary meet",
    "winding.strands": "nothing is worked out for this winding",
    "winding.foil": "nothing is worked out for this winding",
    "winding.width": "nothing is worked out for this winding",
    "barrier.slot_width": "asked where a creepage is stated leg by leg",
    "barrier.sheet_fixed": "asked where a sheet makes up for a distance",
    "barrier.material_group": "asked where a creepage comes from the table",
    "barrier.pollution_degree": "that of the site is no better",
    "inspection.scorch_marks": "asked of an opened sample",
    "inspection.plug_fuse": "asked of a plug that has one",
    "inspection.pin_edge_to_face_edge": "asked of British pins",
    "inspection.pin_thickness": "asked of British pins",
    "inspection.pin_breadth": "asked of British pins",
    "inspection.pin_sleeves": "asked of British pins",
    "earth.resistance": "asked of protection class I",
}
TAPE = "the wire alone is the insulation where the sides meet, or what it would be held to is not known"
APART = "it lies where the two sides do not meet"
WALL = "the core does not face the other side through it"
SHEET = "it stands between the chambers, and `wall` states its thickness"
BY_ITSELF = "nothing asks for it here"
ASKED_MARKS = ("double square", "maker")  # of the plate, by any shipped rule
UNNAMED = "no reading names this condition"
OTHER_MARK = f"asked are {' and '.join(f'the {one}' for one in ASKED_MARKS)}"
NOBODY_MEASURED = "nobody measured it on this sample, so that it does not take the place of the mark"
NO_ENTRY = "it picks figures of an entry of a library, and part: names none"
ALL_READ = "whatever a rule asks of an opened sample alone was read, and what was read counts of any other supply too"
SAMPLES = "its samples are looked at by `derate capture`, and judged is what is written down as read"
# What chooses which rules and which computations there are; its words and figures need no row behind a finding.
_STEERS = (
    "supply.",
    "control.",
    "circuit.",
    "site.",
    "plate.mains",
    "plate.frequency",
    "plate.voltage",
    "plate.current",
)
_STRUCTURE = ("part.kind", "part.family", "part.fitted", "part.place", "part.position", "bridge.count")
# The patterns by their last word, which none of them leaves open: few leaves end in any of these.
_BY_ENDING: dict[str, list[tuple[str, str, bool]]] = {}
for _patterns, _is_fact in ((FOR_THE_READER, False), (NEVER_ASKED, True)):
    for _pattern, _reason_said in _patterns.items():
        _BY_ENDING.setdefault(_pattern.rpartition(".")[2], []).append((_pattern, _reason_said, _is_fact))


def unused(work: Work, review: Review) -> tuple[Unused, ...]:
    """Every leaf of the file that nothing used, in the order of the file; those for the reader behind the others."""
    numbers = heard(work.ledger, review.findings)
    places = {work.ledger[number].place for number in numbers}
    rows: dict[Place, list[Entry]] = {}
    for one in facts(work.design):
        if one.place is not None:
            rows.setdefault(one.place, []).append(one)
    found: dict[tuple[Place, str], Unused] = {}
    layers = {work.ledger[number].subject.names[0].partition(".")[0] for number in numbers if _of_layers(work, number)}
    walls = {
        work.ledger[number].subject.names for number in numbers if work.ledger[number].quantity == "found.bobbin_wall"
    }
    wound = (*_tape(work, layers), *_bobbins(work, walls), *_sheets(work))
    more = (*wound, *_marks(work, numbers), *_captures(work), *_conditions(work))
    taken = {one.part for one in work.design.library.origins} if work.design.library is not None else set()
    for path, place, said in (*_leaves(work.design.file, ()), *more):
        if place.path.endswith(LIBRARY_ENDING):  # said of a type, for every design that has one
            continue
        reason, is_fact = _reason(path, rows.get(place, ()), place in places)
        if reason == TAPE:
            reason = _ASKED_BY_WALLS.get(said.split(" ")[0], APART if path[1] in layers else TAPE)
        elif path[0] == "parts" and path[2:] == ("maker",) and path[1] not in taken:
            reason, is_fact = NO_ENTRY, False
        elif path == ("supply", "basis") and not _hangs_on_basis(work, review):
            reason, is_fact = ALL_READ, True
        key = (place, path[-1])
        if reason and key not in found:
            found[key] = Unused(".".join(path), said, place, reason, is_fact)
    return tuple(sorted(found.values(), key=lambda one: (not one.is_fact, one.place, one.name)))


def _hangs_on_basis(work: Work, review: Review) -> bool:
    """Whether a finding would have another word of another basis: of an opened sample what nobody read is asked for.

    What was read of it is judged whatever it is (`judge.judge`).
    """
    rules = {(one.pack, one.name): one for one in work.packs.rules if any(of.name == SAMPLE for of in one.applies)}
    return any(
        one.stress is None and _is_of_basis(work, rule, one)
        for one in review.findings
        if (rule := rules.get((one.pack, one.rule))) is not None
    )


def _is_of_basis(work: Work, rule: Rule, found: Finding) -> bool:
    """Whether a finding that compared nothing is open or passed over by what the supply is, and by nothing else."""
    if found.verdict != "not applicable":
        is_open = found.verdict == "not assessed"
        return is_open and not is_read(prepare(rule, work.ledger, work.packs), found, work.ledger)
    view = View(work.ledger, work.packs, found.subject, None, rule.family)
    rest = tuple(one for one in rule.applies if one.name != SAMPLE)
    return view.holds(rest)[0] is not False


def _of_layers(work: Work, number: int) -> bool:
    """Whether a row counts layers of tape of a transformer."""
    row = work.ledger[number]
    return row.quantity.startswith(("found.tape_layers", "found.core_layers")) and bool(row.subject.names)


def _tape(work: Work, counted: set[str]) -> Iterator[tuple[tuple[str, ...], Place, str]]:
    """Every layer of tape that no finding counted, under the key of its list: all where none was, or those apart."""
    for name, block in work.design.file.transformers.items():
        wound = work.design.layers[name].layers if name in work.design.layers else None
        meet = where_sides_meet(name, wound, work.design) if wound is not None and name in counted else frozenset()
        for key in ("from_core_outwards", "from_outside_inwards"):
            listed = getattr(block, key)
            for number, item in enumerate(listed.items if listed is not None else ()):
                if item.text.startswith("tape") and item.start not in meet:
                    yield ("transformers", name, key, str(number)), item.start, item.text


def _bobbins(work: Work, asked: set[tuple[str, ...]]) -> Iterator[tuple[tuple[str, ...], Place, str]]:
    """Every bobbin of a transformer of whose wall no finding asked."""
    for name, block in work.design.file.transformers.items():
        for key in ("from_core_outwards", "from_outside_inwards"):
            listed = getattr(block, key)
            for number, item in enumerate(listed.items if listed is not None and (name,) not in asked else ()):
                if item.text.startswith("bobbin"):
                    yield ("transformers", name, key, str(number)), item.start, item.text


def _sheets(work: Work) -> Iterator[tuple[tuple[str, ...], Place, str]]:
    """Every sheet of a transformer wound in chambers whose wall is stated: it is that wall."""
    for name, block in work.design.file.transformers.items():
        if block.wall is None or block.chambers is None or block.chambers.word != "separate chambers":
            continue
        for key in ("from_core_outwards", "from_outside_inwards"):
            listed = getattr(block, key)
            for number, item in enumerate(listed.items if listed is not None else ()):
                if item.text.startswith("sheet"):
                    yield ("transformers", name, key, str(number)), item.start, item.text


_ASKED_BY_WALLS = {"bobbin": WALL, "sheet": SHEET}


def _marks(work: Work, numbers: Iterable[int]) -> Iterator[tuple[tuple[str, ...], Place, str]]:
    """Every mark of a plate whose marks a finding asked for, and that none of them asks for by name."""
    plate = work.design.file.supply.plate
    if plate.marks and any(work.ledger[number].quantity == "plate.marks" for number in numbers):
        for number, mark in enumerate(plate.marks):
            if mark not in ASKED_MARKS:
                yield ("supply", "plate", "marks", str(number)), getattr(mark, "place", plate.place), mark


def _captures(work: Work) -> Iterator[tuple[tuple[str, ...], Place, str]]:
    """Every capture as a whole, with its condition where nothing else was read at it: no rule asks for either."""
    for number, one in enumerate(work.design.file.readings):
        if one.capture is None:
            continue
        yield ("readings", str(number + 1), "capture"), one.capture.place, one.capture.file or "a capture"
        if one.at is not None and not any(one.figures()):
            yield ("readings", str(number + 1), "at"), one.at.place, "the condition of a capture"


def _conditions(work: Work) -> Iterator[tuple[tuple[str, ...], Place, str]]:
    """Every condition that no reading names."""
    design = work.design
    named = {one.condition.name for one in design.readings if one.condition is not None}
    for name, block in design.file.conditions.items():
        if name not in named:
            yield ("conditions", name), block.place, name


def _reason(path: tuple[str, ...], rows: tuple[Entry, ...] | list[Entry], is_heard: bool) -> tuple[str, bool]:
    """Why nothing used a leaf, '' where something did; whether it is a fact and not only words for the reader."""
    name = ".".join(path)
    for pattern, reason, is_fact in _BY_ENDING.get(name.rpartition(".")[2], ()):
        if fnmatchcase(name, pattern):
            return reason, is_fact
    if len(path) > 1 and path[-2] in ("from_core_outwards", "from_outside_inwards"):
        return TAPE, True
    if path[-2:-1] == ("marks",):
        return OTHER_MARK, True
    if path[-1] == "capture" or path[0] == "readings" and path[-1] == "at":
        return SAMPLES, True
    if path[0] == "conditions" and len(path) == 2:
        return UNNAMED, True
    if path[0] == "inspection" and not is_heard and path[-1] != "plug_pattern":  # which chooses the gauge
        return NOT_ASKED_HERE.get(f"inspection.{path[-1]}", BY_ITSELF), True
    if path[0] == "parts" and path[2:3] == ("found",) and not rows:
        return NOBODY_MEASURED, True
    if is_heard or not rows:
        return "", True
    if any(_steers(one) or one.quantity in LIMITS for one in rows):
        return "", True
    told = next((NOT_ASKED_HERE[one.quantity] for one in rows if one.quantity in NOT_ASKED_HERE), BY_ITSELF)
    return told, True


def _steers(row: Entry) -> bool:
    return (
        row.quantity in _STRUCTURE
        or row.quantity != "control.frequency"
        and (row.subject == SUPPLY or row.subject.kind == "output")
        and row.quantity.startswith(_STEERS)
    )


def _leaves(block: Record, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Place, str]]:
    """Every leaf of a block that holds a value or a text of its own: its path, its place and what it says."""
    keys = {field.attribute: key for key, field in block.fields.items()}
    for attribute, value in vars(block).items():
        if attribute in keys:
            yield from _leaf(value, (*path, keys[attribute]), block.place)


def _leaf(value: object, path: tuple[str, ...], place: Place) -> Iterator[tuple[tuple[str, ...], Place, str]]:
    if isinstance(value, Stated):
        if value.value is not None:  # unknown: states nothing that anything could use
            yield path, value.place, value.text
    elif isinstance(value, Circuit):
        yield from _leaves(value.control, (*path, "control"))
        if isinstance(value.earth, Record):
            yield from _leaves(value.earth, (*path, "earth"))
    elif isinstance(value, Record):
        yield from _leaves(value, path)
    elif isinstance(value, Mapping):
        for key, one in value.items():
            yield from _leaf(one, (*path, str(key)), place)
    elif isinstance(value, str):
        yield path, place, str(value)
    elif isinstance(value, tuple) and value:
        if all(isinstance(one, str) for one in value):
            yield path, place, ", ".join(value)
        else:
            for number, one in enumerate(value):
                if isinstance(one, Record):
                    yield from _leaves(one, (*path, str(number + 1)))
