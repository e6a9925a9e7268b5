"""The ripple-current rating of a capacitor at a frequency, from the columns its maker gives."""

from __future__ import annotations

import math

from derate.ledger.entry import Entry, Subject
from derate.stress.context import Context, curve_at
from derate.terms.values import Curve, Value

# Electrolytic ratings rise with frequency: by up to twice from 100 Hz to 100 kHz, and hardly at all above 10 kHz.
# Makers' catalogues; the ends as wide as any column seen.
MOST_RISE = 2.0
PER_DECADE = 0.15  # from 10 to 100 kHz the columns of catalogues rise by 5 to 15 %
SAME_COLUMN = 0.25  # 100 and 120 Hz are one column of every catalogue


def rating_at(curve: Curve, hertz: float) -> Value | None:
    """Rating at a frequency [A]; None where the columns say nothing of it."""
    for frequency, value in curve.points:
        if abs(hertz - frequency) <= SAME_COLUMN * frequency:
            return value
    if 0.0 < curve.least <= hertz <= curve.greatest:
        points = tuple((math.log(x), y) for x, y in curve.points)
        return curve_at(Curve(points, curve.condition, curve.unit), math.log(hertz))
    first, last = curve.points[0], curve.points[-1]
    if hertz > last[0]:  # it never falls with frequency
        rise = MOST_RISE if last[0] < 10e3 else 1.1
        return Value(last[1].low, last[1].near, last[1].far * rise, last[1].high * rise)
    if hertz >= 10e3:  # a column at a higher switching frequency
        fall = 1.0 - PER_DECADE * math.log10(first[0] / hertz)
        return Value(fall * first[1].low, fall * first[1].near, first[1].far, first[1].high)
    return None


def ripple_rating(context: Context, subject: Subject, hertz: float) -> Entry:
    """Write the rating at a frequency, or a hole that says which column to find."""
    ledger = context.ledger
    rated = context.fact(subject, "rated.ripple_current")
    if rated is None or not isinstance(rated.value, Curve):
        missing = f"{subject}: rated.ripple_current" + (" with its frequency" if rated is not None else "")
        return ledger.hole(subject, "allowed.ripple_current", (missing,))
    value = rating_at(rated.value, hertz)
    if value is None:
        missing = f"{subject}: rated.ripple_current at {hertz:.4g} Hz"
        note = f"the rating is given at {rated.value.least:.4g} Hz"
        return ledger.hole(subject, "allowed.ripple_current", (missing,), note=note, inputs=(rated.number,))
    return ledger.write(
        subject, "allowed.ripple_current", value, known_by=rated.known_by, inputs=(rated.number,), place=rated.place,
        formula=f"rating read at {hertz:.4g} Hz", source="data sheet", rests_on=rated.rests_on,
    )  # fmt: skip
