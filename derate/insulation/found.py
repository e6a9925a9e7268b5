"""Distances found, at what they are worth; working voltage across a place: computed, read, or only its floor."""

from __future__ import annotations

from fractions import Fraction
from math import inf

from derate.design.blocks import Barrier
from derate.design.load import Design
from derate.design.readings import Reading
from derate.insulation.circuits import Site, winding_side
from derate.insulation.needed import FAST, Voltages
from derate.insulation.row import Writer
from derate.insulation.tables import NoRow, exact, micrometres, read
from derate.ledger.entry import SUPPLY, Entry, OpenFact, Subject
from derate.terms.cases import FULL_LOAD, READING
from derate.terms.insulation_terms import SHEET_HELD, SHEET_LOOSE
from derate.terms.quantities import QuantityName
from derate.terms.values import Category, Value

# Distances found, at what they are worth: slots too narrow, loose sheets, floating metal, legs of a path.
#
# A creepage that leads round a slot or a sheet counts only when the slot is wide enough and the sheet is held; else
# it may be as short as the clearance, and the row becomes a range.


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
    if ledger.find(subject, "found.creepage") is None and block.legs is not None:
        _legs(writer, subject, block)
    clearance, creepage = ledger.find(subject, "found.clearance"), ledger.find(subject, "found.creepage")
    doubts = [*_slot_doubt(writer, subject, clearance), *_sheet_doubt(writer, subject)]
    if not doubts or creepage is None or not isinstance(creepage.value, Value):
        return
    least = clearance.value if clearance is not None and isinstance(clearance.value, Value) else Value.exact(0.0)
    low, near = min(least.low, creepage.value.low), min(least.near, creepage.value.near)
    writer.row(
        subject,
        "found.creepage",
        Value(low, near, creepage.value.far, creepage.value.high),
        formula=f"no more than the clearance is certain: {'; '.join(doubts)}",
        inputs=[one for one in (creepage, clearance) if one is not None],
    )


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


_KINDS = ("circuit pair", "winding pair", "transformer", "barrier")
MISSING = tuple(OpenFact(Subject("transformer"), name) for name in ("working_voltage", "working_voltage_peak"))


def mains_voltages(site: Site) -> Voltages:
    """Working voltage of places that see the mains and nothing else."""
    return Voltages(site.row_of_mains, site.crest)


def barrier_voltages(writer: Writer, subject: Subject, site: Site, design: Design) -> Voltages:
    """Working voltage from primary to secondary, for a barrier or the pair itself."""
    rms = _one(writer, subject, site.row_of_mains, design, "working_voltage", "insulation.working_voltage")
    peak = _one(writer, subject, site.crest, design, "working_voltage_peak", "insulation.working_voltage_peak")
    hertz = site.frequency.value if site.frequency is not None else None
    fast = not isinstance(hertz, Value) or hertz.high > FAST  # a frequency nobody gave may be any
    return Voltages(rms, peak, fast)


def _one(
    writer: Writer, subject: Subject, least: Entry, design: Design, quantity: QuantityName, name: QuantityName
) -> Entry:
    own = _read(writer, subject, design, quantity, name, own=True)
    if own is not None:
        return own
    computed = _computed(writer, design, quantity)
    read = _read(writer, subject, design, quantity, name, own=False)
    closed = [one for one in computed if isinstance(one.value, Value) and one.value.far < inf]
    if read is not None and isinstance(read.value, Value) and read.value.far < inf and len(closed) < len(computed):
        # What could not be computed says no more than the reading that it was raised to.
        computed = closed
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
        return writer.row(
            subject, name, value, formula="largest over the windings and cases, and over any reading", inputs=inputs
        )
    if read is not None:
        return read
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


def _computed(writer: Writer, design: Design, quantity: QuantityName) -> list[Entry]:
    """Rows of the ledger for the pair from primary to secondary, for its windings, or for a whole transformer."""
    found: list[Entry] = []
    for kind in _KINDS[:3]:
        for subject in writer.ledger.subjects(kind):
            if kind == "circuit pair" and set(subject.names) != {"primary", "secondary"}:
                continue
            if kind == "winding pair" and {winding_side(name, design) for name in subject.names} != {
                "primary",
                "secondary",
            }:
                continue
            found += [
                one
                for one in writer.ledger.rows(subject, quantity)
                if isinstance(one.value, Value) and (one.case is None or one.case.group != READING)
            ]
    return found


def _read(
    writer: Writer, subject: Subject, design: Design, quantity: QuantityName, name: QuantityName, own: bool
) -> Entry | None:
    """A reading for this very place (own), or for the transformer or the pair."""
    names = set(subject.names) if own else {*design.file.transformers, "primary to secondary", "barrier", ""}
    found = [
        one
        for one in design.readings
        if one.quantity == quantity and one.target in names and isinstance(one.stated.value, Value)
    ]
    if not found:
        return None
    values = [_at_the_top(one, writer) for one in found]
    value = Value(*(max(column) for column in zip(*(one.numbers() for one in values), strict=True)))
    known_by = found[0].known_by or design.evidence(found[0].stated, "readings")
    open_end = value.far == inf
    note = "read below the top of the mains or not at full load: a floor only" if open_end else ""
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
