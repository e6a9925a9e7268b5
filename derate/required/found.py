"""Distances found, at what they are worth: slots too narrow, loose sheets, floating metal, legs of a path.

A creepage that leads round a slot or a sheet counts only when the slot is wide enough and the sheet is held; else it
may be as short as the clearance, and the row becomes a range.
"""

from __future__ import annotations

import re
from fractions import Fraction
from math import inf

from derate.design.block import Block as Barrier
from derate.design.load import Design
from derate.ledger.entry import Entry, Subject
from derate.required.exact import exact, micrometres
from derate.required.lookup import NoRow, read
from derate.required.row import Writer
from derate.terms.dimension import LENGTH
from derate.terms.place import ReadingError
from derate.terms.values import Category, Value
from derate.text.nodes import Scalar, Sequence
from derate.text.quantity import read_quantity

_HELD = ("glued", "moulded", "riveted", "screwed", "clipped", "soldered", "fixed")
_LOOSE = ("loose", "none", "not held", "lying")
_FLOATING = ("floating", "copper", "metal")
_FIGURE = re.compile(r"(?:(?:under|over|about|up to) )?[0-9].*\Z")  # behind the words that say where a leg runs
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
        writer.row(subject, "found.insulation_thickness", thickness.value, formula="thickness of the sheet",
                   place=thickness.place, known_by=known_by)  # fmt: skip
    if ledger.find(subject, "found.creepage") is None and block.legs is not None:
        _legs(writer, subject, block)
    clearance, creepage = ledger.find(subject, "found.clearance"), ledger.find(subject, "found.creepage")
    doubts = [*_slot_doubt(writer, subject, clearance), *_sheet_doubt(writer, subject)]
    if not doubts or creepage is None or not isinstance(creepage.value, Value):
        return
    least = clearance.value if clearance is not None and isinstance(clearance.value, Value) else Value.exact(0.0)
    low, near = min(least.low, creepage.value.low), min(least.near, creepage.value.near)
    writer.row(
        subject, "found.creepage", Value(low, near, creepage.value.far, creepage.value.high),
        formula=f"no more than the clearance is certain: {'; '.join(doubts)}",
        inputs=[one for one in (creepage, clearance) if one is not None],
    )  # fmt: skip


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
    if any(word.startswith(one) for one in _HELD):
        return []
    if any(word.startswith(one) for one in _LOOSE):
        return ["the sheet is loose"]
    return ["how the sheet is held is not known"]


def _legs(writer: Writer, subject: Subject, block: Barrier) -> None:
    """Creepage as the sum of its legs; what runs over floating metal is no insulation and counts nothing."""
    node = block.legs
    items = node.items if isinstance(node, Sequence) else (node,)
    counted: list[Value] = []
    words: list[str] = []
    for item in items:
        if not isinstance(item, Scalar):
            continue
        text = item.text.strip()
        if any(word in text for word in _FLOATING):
            words.append(f"{text} counts nothing")
            continue
        figure = _FIGURE.search(text)
        try:
            value = read_quantity(figure[0] if figure else text, item.start, LENGTH).value
        except ReadingError:
            writer.hole(subject, "found.creepage", (f"{subject}: found.creepage",), note=f"leg '{text}' is no length")
            return
        if not isinstance(value, Value):
            writer.hole(subject, "found.creepage", (f"{subject}: found.creepage",), note=f"leg '{text}' is not known")
            return
        counted.append(value)
        words.append(text)
    if counted:
        total = summed(counted)
        writer.row(subject, "found.creepage", total, formula=f"sum of its legs: {' + '.join(words)}", place=node.place)


def summed(values: list[Value]) -> Value:
    """Sum of lengths, end by end, without float dust."""
    numbers = zip(*(one.numbers() for one in values), strict=True)
    return Value(*(_sum(column) for column in numbers))


def _sum(lengths: tuple[float, ...]) -> float:
    if float("inf") in lengths:
        return float("inf")
    return float(sum((micrometres(one) for one in lengths), Fraction(0)) / 1_000_000)
