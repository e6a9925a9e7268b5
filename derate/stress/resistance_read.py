"""Series resistance of one capacitor at a frequency, from its data sheet or as found on the sample."""

from __future__ import annotations

import math

from derate.ledger.entry import Entry
from derate.stress.context import Context, curve_at, part
from derate.stress.winding_inductance import STANDING
from derate.terms.values import Curve, Value

RISE = 0.3  # the resistance rises as the frequency falls, by up to a third in a decade


def stated_resistance(context: Context, name: str, found: bool = True) -> Entry | None:
    """The row that says the series resistance: as found (where wanted), else as rated."""
    subject = part(name)
    measured = context.fact(subject, "found.series_resistance") if found else None
    return measured or context.fact(subject, "rated.series_resistance")


def read_resistance(curve: Curve, hertz: float) -> Value:
    """A table of series resistance over frequency, read at one.

    Below the frequency of the figure it rises; above that it falls, from a figure at mains frequency to a fifth of it
    (common practice, no source).
    """
    value = curve_at(curve, hertz)
    if value is None:
        last = curve.points[-1][1]
        kind = 0.2 if curve.greatest < 10e3 else 0.7
        return Value(last.low * kind, last.near * kind, last.far, last.high)
    if hertz < curve.least:
        rise = 1.0 + RISE * math.log10(curve.least / hertz)
        return Value(value.low, value.near, value.far * rise, value.high * rise)
    return value


def resistance_at(context: Context, name: str, hertz: float, found: bool = True) -> Entry:
    """Series resistance of one capacitor at a frequency, as a row; a hole without the frequency of the figure."""
    subject, ledger = part(name), context.ledger
    stated = stated_resistance(context, name, found)
    if stated is None:
        return context.need(subject, "rated.series_resistance")
    if not isinstance(stated.value, Curve):  # without a frequency nobody knows what it is
        note = "the series resistance says no frequency it holds at"
        missing = (f"{subject}: {stated.quantity} with its frequency",)
        return ledger.hole(subject, "series_resistance", missing, case=STANDING, note=note)
    return ledger.write(
        subject, "series_resistance", read_resistance(stated.value, hertz), case=STANDING, known_by=stated.known_by,
        inputs=(stated.number,), rests_on=stated.rests_on, formula=f"read at {hertz / 1e3:.3g} kHz",
        source="the part's data", place=stated.place,
    )  # fmt: skip
