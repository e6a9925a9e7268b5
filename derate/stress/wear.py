"""How far a capacitor that was measured has gone towards the end of its life; 1 is there.

The greater of the capacitance lost over what its maker allows, and the series resistance over what he allows at the
frequency it was measured at. Where only one of the two is known the row is a floor: it can prove a fail, never a pass.
"""

from __future__ import annotations

from math import inf

from derate.ledger.entry import Entry, Subject
from derate.ledger.model import Model
from derate.stress.capacitor_states import SOLID, WET
from derate.stress.context import Context, part
from derate.stress.resistance_read import read_resistance
from derate.stress.winding_inductance import STANDING, assumed
from derate.terms.quantities import QuantityName
from derate.terms.values import Curve, Value

Inputs = dict[str, Entry | Value | float]


def _lost(marked: float, found: float, change: float) -> dict[str, float]:
    if not change > 0.0 or not marked > 0.0:
        raise ValueError(f"a mark of {marked:.3g} F and a limit of {change:.3g} say nothing about wear")
    return {"wear": max(0.0, 1.0 - found / marked) / change}


LOST = Model(
    "capacitance lost over the loss allowed", _lost, {"wear": {"marked": 1, "found": -1, "change": -1}},
    "the maker's limits of endurance, after IEC 60384-4", "(1 − found / marked) / loss at the end of life",
)  # fmt: skip
GROWN = Model(
    "series resistance over the one allowed",
    lambda found, stated, ratio: {"wear": found / (stated * ratio)},
    {"wear": {"found": 1, "stated": -1, "ratio": -1}},
    "the maker's limits of endurance, after IEC 60384-4",
    "found / (stated × ratio at the end of life)",
)


def solve_wear(context: Context) -> None:
    """Write the wear of every electrolytic capacitor of which something was measured; else a hole that says what."""
    for name in context.structure.kinds:
        if context.structure.may_be(name, WET, SOLID) and context.structure.fitted.get(name, True):
            _one(context, part(name))


def _one(context: Context, subject: Subject) -> None:
    ledger = context.ledger
    rows = (_capacitance(context, subject), *_resistance(context, subject))
    known = [row.value for row in rows if isinstance(row.value, Value)]
    numbers, rests = tuple(row.number for row in rows), frozenset().union(*(row.rests_on for row in rows))
    missing = tuple(dict.fromkeys(fact for row in rows if row.value is None for fact in row.missing))
    note = next((row.note for row in rows if row.value is None and row.note), "")
    if not known:
        ledger.hole(subject, "wear", missing, note=note, inputs=numbers, rests_on=rests)
        return
    low, near, far, high = (max(column) for column in zip(*(one.numbers() for one in known), strict=True))
    whole = len(known) == len(rows)
    ledger.write(
        subject, "wear", Value(low, near, far, high) if whole else Value(low, near, inf, inf), known_by="computed",
        inputs=numbers, rests_on=rests, missing=missing, note=note,
        source=next((row.source for row in rows if row.source), ""),
        formula="the greater of both" if whole else "one of the two measured: at least this",
    )  # fmt: skip


def _capacitance(context: Context, subject: Subject) -> Entry:
    """Wear by capacitance; a hole where it was not measured."""
    found, marked = context.fact(subject, "found.capacitance"), context.fact(subject, "part.marked_capacitance")
    if found is None or not isinstance(found.value, Value):
        return context.ledger.hole(subject, "worn_capacitance", (f"{subject}: found.capacitance",))
    if marked is None or not isinstance(marked.value, Value):
        return context.ledger.hole(subject, "worn_capacitance", (f"{subject}: part.marked_capacitance",))
    quantity: QuantityName = "rated.end_of_life_capacitance_change"
    change = context.fact(subject, quantity) or assumed(
        context, "end_of_life_capacitance_change", subject, "end_of_life_change", quantity
    )
    # by the figure printed on it: with the tolerance of a new one on top every capacitor would be in doubt
    nominal = context.ledger.write(
        subject, "marked_nominal", Value.between(marked.value.near, marked.value.far), case=STANDING,
        known_by=marked.known_by, inputs=(marked.number,), rests_on=marked.rests_on, formula="as marked, no tolerance",
        source="mark", place=marked.place,
    )  # fmt: skip
    inputs: Inputs = {"marked": nominal, "found": found, "change": change}
    return context.ledger.work_out(LOST, inputs, [(subject, "worn_capacitance", "wear")], case=STANDING)[0]


def _resistance(context: Context, subject: Subject) -> list[Entry]:
    """Wear by series resistance, one row for each frequency it was measured at; a hole where it was not measured."""
    ledger = context.ledger
    quantity: QuantityName = "worn_resistance"
    found = context.fact(subject, "found.series_resistance")
    if found is None:
        return [ledger.hole(subject, quantity, (f"{subject}: found.series_resistance",))]
    rated = context.fact(subject, "rated.series_resistance")
    if not isinstance(found.value, Curve):
        return [ledger.hole(subject, quantity, (f"{subject}: found.series_resistance with its frequency",))]
    if rated is None or not isinstance(rated.value, Curve):
        return [ledger.hole(subject, quantity, (f"{subject}: rated.series_resistance with its frequency",))]
    fact: QuantityName = "rated.end_of_life_resistance_ratio"
    ratio = context.fact(subject, fact) or assumed(
        context, "end_of_life_resistance_ratio", subject, "end_of_life_ratio", fact
    )
    rows: list[Entry] = []
    for hertz, value in found.value.points:
        if not hertz > 0.0:
            return [ledger.hole(subject, quantity, (f"{subject}: found.series_resistance at more than 0 Hz",))]
        stated = ledger.write(
            subject, "first_resistance", read_resistance(rated.value, hertz), case=STANDING, known_by=rated.known_by,
            inputs=(rated.number,), rests_on=rated.rests_on, formula=f"read at {hertz / 1e3:.3g} kHz",
            source="data sheet", place=rated.place,
        )  # fmt: skip
        measured = ledger.write(
            subject, "measured_resistance", value, case=STANDING, known_by=found.known_by, inputs=(found.number,),
            rests_on=found.rests_on, formula=f"as found at {hertz / 1e3:.3g} kHz", source="reading", place=found.place,
        )  # fmt: skip
        inputs: Inputs = {"found": measured, "stated": stated, "ratio": ratio}
        rows += ledger.work_out(GROWN, inputs, [(subject, quantity, "wear")], case=STANDING)
    return rows
