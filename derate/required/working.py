"""Working voltage across a place: computed, read, or only its floor. 250 V is never assumed across a transformer.

Plain mains takes its own row of the creepage table. From primary to secondary it is what the ledger computed or a
reading taken at the top of the mains; without either only a floor is known (the mains itself), which can prove a fail
and never a pass.
"""

from __future__ import annotations

from math import inf

from derate.design.load import Design
from derate.design.readings import Reading
from derate.ledger.entry import SUPPLY, Entry, Subject
from derate.required.circuits import winding_side
from derate.required.needed import FAST, Voltages
from derate.required.row import Writer
from derate.required.site import Site
from derate.terms.cases import FULL_LOAD, READING
from derate.terms.quantities import QuantityName
from derate.terms.values import Value

_KINDS = ("circuit pair", "winding pair", "transformer", "barrier")
MISSING = ("transformer: working_voltage", "transformer: working_voltage_peak")


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
        if read is not None and isinstance(read.value, Value) and (
            read.value.near > value.near or value.high < read.value.high < inf
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
        subject, name, floor, formula="not computed and not read: at least that of the mains itself",
        source="the primary carries the mains; what the transformer adds is never assumed", inputs=[least],
        known_by="assumed", note="compute it or read it at the top of the mains, from primary pins to secondary pins",
    )  # fmt: skip


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
