"""Capacitance and series resistance of output capacitors, joined as walked, at the switching frequency."""

from __future__ import annotations

import math

from derate.design.paths import Element, leaves
from derate.ledger.entry import Entry, Subject
from derate.stress.context import Context, curve_at, in_series_and_parallel, part
from derate.stress.converter import STANDING, Shape, switching_hertz
from derate.terms.values import Curve, Value


def capacitance_of(context: Context, elements: tuple[Element, ...], subject: Subject) -> Entry:
    """Capacitance of all elements across one point, which stand in parallel."""
    names = [leaf.name for element in elements for leaf in leaves(element)]
    rows = {name: context.need(part(name), "part.capacitance") for name in names}
    values = {name: _biased(context, name, row.value) for name, row in rows.items() if isinstance(row.value, Value)}
    found = [in_series_and_parallel(element, values, capacitors=True) for element in elements]
    return _row(context, subject, "output_capacitance", found, rows, parallel_resistance=False)


UNDER_BIAS = (
    0.2  # what a class 2 ceramic may hold at half its rated voltage (a maker's example: 4.7 uF to 0.33 uF at 5 V)
)


def _biased(context: Context, name: str, value: Value) -> Value:
    """Capacitance with direct voltage across it: a ceramic of class 2, or of none stated, may fall to a fifth."""
    if not context.structure.may_be(name, "ceramic capacitor"):
        return value
    if context.word(part(name), "part.dielectric") == "class 1":
        return value
    return Value(UNDER_BIAS * value.low, UNDER_BIAS * value.near, value.far, value.high)


def _row(
    context: Context, subject: Subject, quantity: str, found: list[Value | None], rows: dict[str, Entry], *,
    parallel_resistance: bool,
) -> Entry:  # fmt: skip
    known = [value for value in found if value is not None]
    inputs = tuple(row.number for row in rows.values())
    rests = frozenset().union(*(row.rests_on for row in rows.values()))
    if len(known) < len(found) or not known:
        missing = [one for row in rows.values() for one in row.missing]
        return context.ledger.hole(subject, quantity, missing, case=STANDING, inputs=inputs, rests_on=rests)
    columns = list(zip(*(value.numbers() for value in known), strict=True))
    if parallel_resistance:
        total = Value(*(1.0 / sum(1.0 / max(x, 1e-6) for x in column) for column in columns))
    else:
        total = Value(*(sum(column) for column in columns))
    return context.ledger.write(
        subject, quantity, total, case=STANDING, known_by="computed", inputs=inputs, rests_on=rests,
        formula="parts joined as walked", source="Kirchhoff",
    )  # fmt: skip


def series_resistance(context: Context, shape: Shape, elements: tuple[Element, ...], subject: Subject) -> Entry:
    """Series resistance of capacitors in parallel at the switching frequency."""
    names = [leaf.name for element in elements for leaf in leaves(element)]
    rows = {name: _resistance(context, shape, name) for name in names}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    found = [in_series_and_parallel(element, values, capacitors=False) for element in elements]
    return _row(context, subject, "series_resistance", found, rows, parallel_resistance=True)


def _resistance(context: Context, shape: Shape, name: str) -> Entry:
    """Series resistance of one capacitor at the switching frequency, from its sheet or as found.

    Below the frequency of the figure it rises; above that it falls, from a figure at mains frequency to a fifth of it
    (common practice, no source).
    """
    subject, ledger = part(name), context.ledger
    stated = context.fact(subject, "found.series_resistance") or context.fact(subject, "rated.series_resistance")
    if stated is None:
        return context.need(subject, "rated.series_resistance")
    if isinstance(stated.value, Value):  # without a frequency nobody knows what it is
        note = "the series resistance says no frequency it holds at"
        return ledger.hole(
            subject,
            "series_resistance",
            (f"{subject}: {stated.quantity} with its frequency",),
            case=STANDING,
            note=note,
        )
    curve = stated.value
    at = switching_hertz(shape)
    assert isinstance(curve, Curve)
    value = curve_at(curve, at)
    if value is None:
        last = curve.points[-1][1]
        kind = 0.2 if curve.greatest < 10e3 else 0.7
        value = Value(last.low * kind, last.near * kind, last.far, last.high)
    elif at < curve.least:
        rise = 1.0 + 0.3 * math.log10(curve.least / at)  # it rises as the frequency falls, by a third in a decade
        value = Value(value.low, value.near, value.far * rise, value.high * rise)
    return ledger.write(
        subject, "series_resistance", value, case=STANDING, known_by=stated.known_by, inputs=(stated.number,),
        rests_on=stated.rests_on, formula=f"read at {at / 1e3:.3g} kHz", source="the part's data", place=stated.place,
    )  # fmt: skip
