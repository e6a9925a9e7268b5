"""Distances found, at what they are worth; working voltage across a place: computed, read, or only its floor."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction
from math import inf

from derate.design.blocks import Barrier
from derate.design.load import Design
from derate.design.readings import Reading
from derate.insulation.circuits import End, Site, rides_on_a_pole, sees_mains_only, winding_side
from derate.insulation.distances import ROOT_TWO, NoRow, exact, micrometres, read
from derate.insulation.needed import FAST, Voltages
from derate.insulation.row import Writer
from derate.ledger.entry import SUPPLY, Entry, OpenFact, Subject
from derate.terms.bench_terms import SHEET_HELD, SHEET_LOOSE
from derate.terms.quantities import FULL_LOAD, READING, each
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Value
from derate.terms.words import EVIDENCE

# Distances found, at what they are worth: slots too narrow, loose sheets, floating metal, legs of a path.
#
# A creepage that leads round a slot or a sheet counts only when the slot is wide enough and the sheet is held; else
# it may be as short as the clearance, and the row becomes a range.


NO_LENGTH = Value.exact(0.0)
RELAXED_BELOW = Fraction(3000)  # um: a slot may be a third of a clearance that is under 3 mm


def found_rows(writer: Writer, subject: Subject, design: Design, block: Barrier) -> None:
    """Write what the stated distances of a barrier are worth over what the file says; leave them where they stand."""
    ledger = writer.ledger
    sheet = block.sheet is not None
    writer.row(subject, "barrier.sheet", Category.of("yes" if sheet else "no"), formula="as the file lists it")
    writer.row(subject, "barrier.body", Category.of("no"), formula="a barrier of the file")
    thickness = block.sheet.thickness if block.sheet is not None else None
    if thickness is not None and isinstance(thickness.value, Value):
        known_by = design.evidence(thickness, "barriers")
        writer.row(
            subject,
            "found.insulation_thickness",
            thickness.value,
            formula="thickness of the sheet",
            place=thickness.place,
            known_by=known_by,
        )
    _solid(writer, subject, block)
    if ledger.find(subject, "found.creepage") is None and block.legs is not None:
        _legs(writer, subject, block)
    clearance, creepage = ledger.find(subject, "found.clearance"), ledger.find(subject, "found.creepage")
    doubts = [*_slot_doubt(writer, subject, clearance), *_sheet_doubt(writer, subject)]
    if creepage is None or not isinstance(creepage.value, Value):
        return
    asked = (ledger.find(subject, one) for one in each("barrier.slot_width", "barrier.sheet_fixed"))
    led_round = [one for one in asked if one is not None]
    if not doubts:
        if led_round:  # the figure as it was read, and what it rests on
            formula = "as read, round a slot or a sheet that counts"
            inputs, known_by = [creepage, *led_round], creepage.known_by
            writer.row(
                subject,
                "found.creepage",
                creepage.value,
                formula=formula,
                inputs=inputs,
                place=creepage.place,
                known_by=known_by,
                note=creepage.note,
            )
        return
    least = clearance.value if clearance is not None and isinstance(clearance.value, Value) else Value.exact(0.0)
    low, near = min(least.low, creepage.value.low), min(least.near, creepage.value.near)
    writer.row(
        subject,
        "found.creepage",
        Value(low, near, creepage.value.far, creepage.value.high),
        formula=f"no more than the clearance is certain: {'; '.join(doubts)}",
        inputs=[*(one for one in (creepage, clearance) if one is not None), *led_round],
    )


def _solid(writer: Writer, subject: Subject, block: Barrier) -> None:
    """Whether a thickness of solid insulation is stated without a sheet, and whether nothing else is there.

    A lead that lies on a body has no air to it: 0 mm of clearance, and its insulation is the barrier. Any other way
    past the insulation is a distance, and judged as one.
    """
    stated = block.insulation_thickness
    solid = stated is not None and isinstance(stated.value, Value) and block.sheet is None
    lengths = [one.value for one in (block.clearance, block.creepage) if one is not None]
    thick = stated is not None and isinstance(stated.value, Value) and stated.value.low > 0
    touching = (
        solid
        and thick
        and block.clearance is not None
        and block.legs is None
        and all(one == NO_LENGTH for one in lengths)
    )
    yes = {True: "yes", False: "no"}
    writer.row(subject, "barrier.solid", Category.of(yes[solid]), formula="as the file lists it")
    words = "0 mm of air beside solid insulation" if touching else "as the file lists it"
    writer.row(subject, "barrier.touching", Category.of(yes[touching]), formula=words)


def least_slot(writer: Writer, pollution: str, clearance: float | None) -> Fraction:
    """Least width of a slot that lengthens creepage [um]; a third of a clearance [m] that is under 3 mm. NoRow."""
    width = read(writer.family.table("groove_width"), pollution=pollution).value * 1_000_000
    if clearance is not None and micrometres(clearance) < RELAXED_BELOW:
        return min(width, micrometres(clearance) / 3)
    return width


def _slot_doubt(writer: Writer, subject: Subject, clearance: Entry | None) -> list[str]:
    width = writer.ledger.find(subject, "barrier.slot_width")
    if width is None:
        return []
    if not isinstance(width.value, Value):
        return ["the slot has no width"]
    degree = writer.find(subject, "insulation.pollution_degree")
    degrees = degree.value.members if degree is not None and isinstance(degree.value, Category) else ("3",)
    needed = writer.find(subject, "needed.clearance")
    allowed = needed.value.near if needed is not None and isinstance(needed.value, Value) else None
    if allowed == inf:
        allowed = None
    try:
        least = max(least_slot(writer, one, allowed) for one in degrees)
    except NoRow as reason:
        return [f"width of the slot: {reason}"]
    if exact(width.value.low) * 1_000_000 >= least:
        return []
    return [f"the slot is narrower than {float(least) / 1000:g} mm and does not lengthen the path"]


def _sheet_doubt(writer: Writer, subject: Subject) -> list[str]:
    there = writer.find(subject, "barrier.sheet")
    if there is None or not isinstance(there.value, Category) or there.value.word != "yes":
        return []
    fixed = writer.ledger.find(subject, "barrier.sheet_fixed")
    word = fixed.value.word or "" if fixed is not None and isinstance(fixed.value, Category) else ""
    if word in SHEET_HELD:
        return []
    if word in SHEET_LOOSE:
        return ["the sheet is loose"]
    return ["how the sheet is held is not known"]


def _legs(writer: Writer, subject: Subject, block: Barrier) -> None:
    """Creepage as the sum of its legs; what runs over floating metal is no insulation and counts nothing."""
    assert block.legs is not None
    counted: list[Value] = []
    words: list[str] = []
    for leg in block.legs.legs:
        if leg.floating:
            words.append(f"{leg.text} counts nothing")
            continue
        if leg.value is None:
            note = f"leg '{leg.text}' is not known"
            writer.hole(subject, "found.creepage", (OpenFact(subject, "found.creepage"),), note=note)
            return
        counted.append(leg.value)
        words.append(leg.text)
    if counted:
        total, told = summed(counted), f"sum of its legs: {' + '.join(words)}"
        writer.row(subject, "found.creepage", total, formula=told, place=block.legs.place)


def summed(values: list[Value]) -> Value:
    """Sum of lengths, end by end, without float dust."""
    numbers = zip(*(one.numbers() for one in values), strict=True)
    return Value(*(_sum(column) for column in numbers))


def _sum(lengths: tuple[float, ...]) -> float:
    if float("inf") in lengths:
        return float("inf")
    return float(sum((micrometres(one) for one in lengths), Fraction(0)) / 1_000_000)


# Working voltage across a place: computed, read, or only its floor. 250 V is never assumed across a transformer.
#
# Plain mains takes its own row of the creepage table. From primary to secondary it is what the ledger computed or a
# reading taken at the top of the mains; without either only a floor is known (the mains itself), which can prove a
# fail and never a pass.


MISSING = tuple(OpenFact(Subject("transformer"), name) for name in ("working_voltage", "working_voltage_peak"))


def mains_voltages(site: Site) -> Voltages:
    """Working voltage of places that see the mains and nothing else."""
    return Voltages(site.row_of_mains, site.crest)


_NAMED: tuple[tuple[QuantityName, QuantityName], ...] = (
    ("working_voltage", "insulation.working_voltage"),
    ("working_voltage_peak", "insulation.working_voltage_peak"),
)


def barrier_voltages(
    writer: Writer, subject: Subject, site: Site, design: Design, paths: Iterable[Subject] = ()
) -> Voltages:
    """Working voltage from primary to secondary, for a barrier or, with its paths, the pair itself."""
    own = tuple(paths)
    names = {*subject.names, *design.file.transformers, "primary to secondary", "barrier", ""}
    rms, peak = (
        _worked(
            _Asked(writer, subject, name, least),
            [
                *_across_the_transformer(writer, design, quantity),
                *(row for path in own if (row := writer.find(path, name)) is not None),
            ],
            _read(writer, subject, design, quantity, name, names),
        )
        for (quantity, name), least in zip(_NAMED, (site.row_of_mains, site.crest), strict=True)
    )
    return Voltages(rms, peak, _is_fast(site))


def earth_voltages(writer: Writer, subject: Subject, site: Site, design: Design, primary: End) -> Voltages:
    """Working voltage from a point of the primary to earth, or to a part that can be touched and may lie at earth.

    A point that never leaves the range of the mains carries the mains, a rail that rides on a mains conductor both, any
    other what was worked out for the primary against earth. A reading at this place raises each of them.
    """
    names = set(subject.names)
    only = sees_mains_only(primary, design)
    read = [_read(writer, subject, design, quantity, name, names) for quantity, name in _NAMED]
    if only and read == [None, None]:
        return mains_voltages(site)
    rides = not only and rides_on_a_pole(primary, design)
    half = design.structure.mains is not None and design.structure.mains.input == "half-wave"
    rms, peak = (
        _worked(
            _Asked(writer, subject, name, least),
            [least]
            if only
            else [_riding(writer, subject, site, name, half)]
            if rides
            else _of_kind(writer, "path", quantity, lambda one: one == Subject("path", ("primary",))),
            one,
        )
        for (quantity, name), least, one in zip(_NAMED, (site.row_of_mains, site.crest), read, strict=True)
    )
    return Voltages(rms, peak, not only and not rides and _is_fast(site))


_RIDES: dict[QuantityName, tuple[Fraction, str]] = {
    # sqrt 3 of the rms: a direct voltage of one crest and the mains it rides on, 2 + 1 times its mean square
    "insulation.working_voltage": (exact(1.7320508), "1.732 x mains: one crest of direct voltage and the mains"),
    "insulation.working_voltage_peak": (
        2 * ROOT_TWO,
        "2.828 x mains: one crest of direct voltage and that of the mains",
    ),
}


def _riding(writer: Writer, subject: Subject, site: Site, name: QuantityName, either: bool) -> Entry:
    """What a rail that rides on a mains conductor carries to earth; either: one rail is that conductor itself."""
    if not isinstance(site.mains.value, Value):
        return writer.hole(subject, name, site.mains.missing or MISSING, note=site.mains.note)
    factor, words = _RIDES[name]
    most = [float(factor) * one for one in site.mains.value.numbers()]
    one = ROOT_TWO if name == "insulation.working_voltage_peak" else Fraction(1)
    least = [float(one) * volts for volts in site.mains.value.numbers()] if either else most
    return writer.row(
        subject,
        name,
        Value(least[0], least[1], most[2], most[3]),
        formula=words,
        source="own derivation: the plug goes in either way round, and the conductor may be the live one",
        inputs=[site.mains],
        note="which of the rails is the conductor itself is not told" if either else "",
    )


def largest_voltages(writer: Writer, subject: Subject, site: Site, paths: Iterable[Subject]) -> Voltages:
    """Working voltage of a pair of circuits by its paths: the largest of all of them, that of the mains at least."""
    found = []
    for (_, name), least in zip(_NAMED, (site.row_of_mains, site.crest), strict=True):
        own = [row for path in paths if (row := writer.find(path, name)) is not None]
        found.append(_worked(_Asked(writer, subject, name, least), own, None) if own else least)
    return Voltages(found[0], found[1], any(row.subject == subject for row in found) and _is_fast(site))


def _is_fast(site: Site) -> bool:
    hertz = site.frequency.value if site.frequency is not None else None
    return not isinstance(hertz, Value) or hertz.high > FAST  # a frequency nobody gave may be any


class _Asked(NamedTuple):
    """What is asked for: the row to be written, and the least it can be (that of the mains)."""

    writer: Writer
    subject: Subject
    name: QuantityName
    least: Entry


def _worked(asked: _Asked, computed: list[Entry], read: Entry | None) -> Entry:
    """The larger of computation and reading, at every end, and never below the mains that is bridged."""
    writer, subject, name, least = asked
    closed = [one for one in computed if isinstance(one.value, Value) and one.value.far < inf]
    if read is not None and isinstance(read.value, Value) and read.value.far < inf and len(closed) < len(computed):
        # What could not be computed says no more than the reading that it was raised to.
        computed = closed
    lacking = [one for one in computed if not isinstance(one.value, Value)]
    if lacking:
        return writer.hole(subject, name, lacking[0].missing or MISSING, note=lacking[0].note, inputs=lacking)
    if computed:
        numbers = [one.value.numbers() for one in computed if isinstance(one.value, Value)]
        value = Value(*(max(column) for column in zip(*numbers, strict=True)))
        if (
            read is not None
            and isinstance(read.value, Value)
            and (read.value.near > value.near or value.high < read.value.high < inf)
        ):
            value = Value(*(max(pair) for pair in zip(value.numbers(), read.value.numbers(), strict=True)))
        inputs = [*computed, *([read] if read is not None else [])]
        found = writer.row(
            subject, name, value, formula="largest over the windings and cases, and over any reading", inputs=inputs
        )
        return _at_least(asked, _whatever_the_rectifier_drops(asked, found))
    if read is not None:
        return _at_least(asked, read)
    if not isinstance(least.value, Value):
        return writer.hole(subject, name, least.missing or MISSING, note=least.note)
    floor = Value(least.value.low, least.value.near, inf, inf)
    return writer.row(
        subject,
        name,
        floor,
        formula="not computed and not read: at least that of the mains itself",
        source="the primary carries the mains; what the transformer adds is never assumed",
        inputs=[least],
        known_by="assumed",
        note="compute it or read it at the top of the mains, from primary pins to secondary pins",
    )


# V: what no rectifier of a supply drops more of than while it conducts, however it is made. Data sheets of Schottky,
# fast and line types print 0.3 to 1.7 V at their rated current; several junctions in one body for kilovolts aside.
GREATEST_DROP = 4.0


def _whatever_the_rectifier_drops(asked: _Asked, found: Entry) -> Entry:
    """A voltage that rests on nothing but the drop of a rectifier nobody read, with the most that such a drop can do.

    The windings carry output and drop by their turns, so that no voltage across them grows by more than (V + greatest
    drop) / V of the least output; of a peak the bulk, nine tenths of the crest of the mains at least, does not grow.
    What holds up to there rests on nobody's drop any more.
    """
    value = found.value
    if not found.rests_on or not isinstance(value, Value):
        return found
    if any(one.quantity != "rated.forward_voltage" for one in found.rests_on):
        return found
    ledger = asked.writer.ledger
    outputs = [ledger.find(one, "plate.voltage") for one in ledger.subjects("output")]
    least = min((one.value.low for one in outputs if one is not None and isinstance(one.value, Value)), default=0.0)
    if least <= 0:
        return found
    more = (least + GREATEST_DROP) / least
    crest = asked.least.value
    stays = 0.0
    if asked.name == "insulation.working_voltage_peak" and isinstance(crest, Value):
        stays = min(0.9 * crest.low, value.low)
    return asked.writer.row(
        asked.subject,
        asked.name,
        Value(value.low, value.near, *(stays + (one - stays) * more for one in (value.far, value.high))),
        formula=f"what the windings carry at most {more:.3g} times, were the drop of the rectifier {GREATEST_DROP:g} V",
        source="the windings carry output and drop by their turns",
        inputs=[found],
        rests=False,
    )


def _at_least(asked: _Asked, found: Entry) -> Entry:
    """A figure raised to the mains that the place bridges: across it lies the mains whatever was read."""
    least = asked.least.value
    if not isinstance(least, Value) or not isinstance(found.value, Value):
        return found
    value = Value(*(max(pair) for pair in zip(found.value.numbers(), least.numbers(), strict=True)))
    if value == found.value:
        return found
    words = f"{found.formula}; not below that of the mains it bridges"
    return asked.writer.row(asked.subject, asked.name, value, formula=words, inputs=[found, asked.least])


def _of_kind(writer: Writer, kind: str, quantity: QuantityName, belongs: Callable[[Subject], bool]) -> list[Entry]:
    """Rows worked out for subjects of one kind, readings left out."""
    return [
        one
        for subject in writer.ledger.subjects(kind)
        if belongs(subject)
        for one in writer.ledger.rows(subject, quantity)
        if isinstance(one.value, Value) and (one.case is None or one.case.group != READING)
    ]


def _across_the_transformer(writer: Writer, design: Design, quantity: QuantityName) -> list[Entry]:
    """Rows of the ledger for the pair from primary to secondary, for its windings, or for a whole transformer."""
    sides = {"primary", "secondary"}
    return [
        *_of_kind(writer, "circuit pair", quantity, lambda one: set(one.names) == sides),
        *_of_kind(
            writer, "winding pair", quantity, lambda one: {winding_side(name, design) for name in one.names} == sides
        ),
        *_of_kind(writer, "transformer", quantity, lambda one: True),
    ]


def _read(
    writer: Writer, subject: Subject, design: Design, quantity: QuantityName, name: QuantityName, names: set[str]
) -> Entry | None:
    """A reading at one of these places."""
    found = [
        one
        for one in design.readings
        if one.quantity == quantity and one.target in names and isinstance(one.stated.value, Value)
    ]
    if not found:
        return None
    values = [_at_the_top(one, writer) for one in found]
    value = Value(*(max(column) for column in zip(*(one.numbers() for one in values), strict=True)))
    known_by = max((one.known for one in found), key=EVIDENCE.index)
    note = "read below the top of the mains or not at full load: a floor only" if value.far == inf else ""
    if all(one.unseen for one in found):  # simulated alone: it may be any more
        value, note = found[0].shown(value), f"{known_by}: nobody read it, a floor only"
    return writer.row(
        subject, name, value, formula="reading, the largest", place=found[0].stated.place, known_by=known_by, note=note
    )


def _at_the_top(reading: Reading, writer: Writer) -> Value:
    """The value of a reading; only a floor when it was taken below the top of the plate's mains or not at full load."""
    value = reading.stated.value
    assert isinstance(value, Value)
    plate = writer.ledger.find(SUPPLY, "plate.mains")
    at = reading.condition.mains if reading.condition is not None else None
    top = plate.value.high if plate is not None and isinstance(plate.value, Value) else inf
    full = reading.condition is not None and reading.condition.load == FULL_LOAD
    if full and at is not None and isinstance(at.value, Value) and at.value.near >= top:
        return value
    return Value(value.low, value.near, inf, inf)
