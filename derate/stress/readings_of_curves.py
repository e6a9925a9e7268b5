"""A table of a data sheet read over everything that its condition may be."""

from __future__ import annotations

from derate.ledger.entry import Case, Entry, Subject
from derate.stress.context import Context, curve_at
from derate.terms.quantities import QuantityName
from derate.terms.values import Curve, Value


def read_between(
    context: Context, subject: Subject, fact: QuantityName, at: Entry, quantity: QuantityName, case: Case
) -> Entry:
    """The value of a table at a condition, least and greatest over the condition's range, as a row at a case.

    Below the first point the first value holds, above the last nothing is known: a hole that names what to find.
    """
    ledger = context.ledger
    stated = context.need(subject, fact)
    curve = stated.value
    inputs = (stated.number, at.number)
    rests = stated.rests_on | at.rests_on
    if stated.missing or not isinstance(at.value, Value):
        missing = (*stated.missing, *at.missing)
        return ledger.hole(subject, quantity, missing, case=case, note=at.note, inputs=inputs, rests_on=rests)
    if not isinstance(curve, Curve):
        told = f"{subject}: {fact} with its current"
        return ledger.hole(subject, quantity, (told,), case=case, inputs=inputs, rests_on=rests)
    low, near, far, high = at.value.numbers()
    if high > curve.greatest:
        told = f"{subject}: {fact} at {high:.3g} A"
        note = f"the table ends at {curve.greatest:.3g} A and the current reaches {high:.3g} A"
        return ledger.hole(subject, quantity, (told,), case=case, note=note, inputs=inputs, rests_on=rests)
    inner, outer = _readings(curve, near, far), _readings(curve, low, high)
    value = Value(
        min(one.low for one in outer), min(one.near for one in inner), max(one.far for one in inner),
        max(one.high for one in outer),
    )  # fmt: skip
    return ledger.write(
        subject, quantity, value, case=case, known_by="computed", inputs=inputs, rests_on=rests, place=stated.place,
        formula="read at the peak current", source="data sheet, straight line between points",
    )  # fmt: skip


def _readings(curve: Curve, low: float, high: float) -> list[Value]:
    """The values at both ends and at every point in between."""
    found = [curve_at(curve, at) for at in {low, high, *(x for x, _ in curve.points if low < x < high)}]
    return [one for one in found if one is not None]
