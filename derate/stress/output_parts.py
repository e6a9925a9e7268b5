"""Capacitance and series resistance of output capacitors, joined as walked, at the switching frequency."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from derate.design.paths import Element, leaves
from derate.ledger.entry import Case, Entry, Subject
from derate.stress.capacitor_states import State, capacitance_in, is_soft, resistance_in
from derate.stress.context import Context, curve_at, in_series_and_parallel, part
from derate.stress.converter import STANDING, Shape, switching_hertz
from derate.stress.resistance_read import resistance_at
from derate.stress.winding_inductance import assumed
from derate.terms.dimension import CAPACITANCE, VOLTAGE
from derate.terms.quantities import QuantityName
from derate.terms.values import Curve, Value


def capacitance_of(
    context: Context, elements: tuple[Element, ...], subject: Subject, voltage: Entry, state: State | None = None
) -> Entry:
    """Capacitance of all elements across one point, which stand in parallel, at the direct voltage across them.

    state: cold or at the end of life; None warm and new
    """
    names = [leaf.name for element in elements for leaf in leaves(element)]
    rows = {name: under_voltage(context, name, voltage) for name in names}
    if state is not None:
        rows = {name: capacitance_in(context, name, row, state) for name, row in rows.items()}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    found = [in_series_and_parallel(element, values, capacitors=True) for element in elements]
    case = state.case if state is not None else STANDING
    return _row(context, subject, "output_capacitance", found, rows, case, parallel_resistance=False)


def under_voltage(context: Context, name: str, voltage: Entry) -> Entry:
    """Capacitance of one capacitor with direct voltage across it.

    A ceramic of class 2, or of a class nobody stated, by the maker's capacitance at a voltage; without one it may hold
    what a pack assumes. Below the first voltage of the maker's table it lies between that figure and the nominal one;
    above the last between what is assumed and that figure.
    """
    subject = part(name)
    nominal = context.need(subject, "part.capacitance")
    if not is_soft(context, name) or not isinstance(nominal.value, Value):
        return nominal
    stated = context.fact(subject, "rated.capacitance")
    if stated is None or not isinstance(stated.value, Curve) or not isinstance(voltage.value, Value):
        return _assumed_share(context, subject, nominal, nominal.value)
    at = Curve(stated.value.points, VOLTAGE, CAPACITANCE)
    ends = [_at_voltage(at, nominal.value, one) for one in reversed(voltage.value.numbers())]  # more volts, less left
    known = [one for one in ends if one is not None]
    if len(known) < len(ends):
        return _assumed_share(context, subject, nominal, at.points[-1][1])
    low, near, far, high = nominal.value.numbers()
    down = low / near if known[0].is_exact and near > 0 else 1.0  # a typical figure has the tolerance of the part
    up = high / far if known[3].is_exact and far > 0 else 1.0
    found = (known[0].low * down, known[1].near, known[2].far, known[3].high * up)
    value = Value(*sorted(min(pair) for pair in zip(found, (low, near, far, high), strict=True)))
    return context.ledger.write(
        subject, "capacitance", value, case=STANDING, known_by=stated.known_by,
        inputs=(stated.number, nominal.number, voltage.number),
        rests_on=stated.rests_on | nominal.rests_on | voltage.rests_on, formula="read at the voltage across it",
        source="data sheet", place=stated.place,
    )  # fmt: skip


def _at_voltage(curve: Curve, nominal: Value, volts: float) -> Value | None:
    first_at, first = curve.points[0]
    if volts >= first_at:
        return curve_at(curve, volts)
    return Value(first.low, first.near, max(first.far, nominal.far), max(first.high, nominal.high))


def _assumed_share(context: Context, subject: Subject, nominal: Entry, most: Value) -> Entry:
    """Nominal times the share a pack assumes, at most what is known to be left at a lower voltage."""
    share = assumed(context, "bias_share", subject, "bias_share", "rated.capacitance")
    if not isinstance(share.value, Value) or not isinstance(nominal.value, Value):
        return share
    low, near, far, high = (
        min(c * s, m)
        for c, s, m in zip(nominal.value.numbers(), share.value.numbers(), most.numbers(), strict=True)
    )
    return context.ledger.write(
        subject, "capacitance", Value(low, near, far, high), case=STANDING, known_by="computed",
        inputs=(nominal.number, share.number), rests_on=nominal.rests_on | share.rests_on,
        formula="capacitance × share kept under voltage", source=share.source,
    )  # fmt: skip


def _parallel(ohms: Sequence[float]) -> float:
    """Resistances beside each other [ohm]; all without bound, the whole is."""
    conductance = sum(1.0 / max(x, 1e-6) for x in ohms)
    return 1.0 / conductance if conductance > 0.0 else inf


def _row(
    context: Context, subject: Subject, quantity: QuantityName, found: list[Value | None], rows: dict[str, Entry],
    case: Case,
    *, parallel_resistance: bool,
) -> Entry:  # fmt: skip
    known = [value for value in found if value is not None]
    inputs = tuple(row.number for row in rows.values())
    rests = frozenset().union(*(row.rests_on for row in rows.values()))
    if len(known) < len(found) or not known:
        missing = [one for row in rows.values() for one in row.missing]
        note = next((row.note for row in rows.values() if row.value is None and row.note and not row.missing), "")
        return context.ledger.hole(subject, quantity, missing, case=case, inputs=inputs, rests_on=rests, note=note)
    columns = list(zip(*(value.numbers() for value in known), strict=True))
    if parallel_resistance:
        total = Value(*(_parallel(column) for column in columns))
    else:
        total = Value(*(sum(column) for column in columns))
    return context.ledger.write(
        subject, quantity, total, case=case, known_by="computed", inputs=inputs, rests_on=rests,
        formula="parts joined as walked", source="Kirchhoff",
    )  # fmt: skip


def series_resistance(
    context: Context, shape: Shape, elements: tuple[Element, ...], subject: Subject, state: State | None = None
) -> Entry:
    """Series resistance of capacitors in parallel at the switching frequency; `state` as `capacitance_of`."""
    names = [leaf.name for element in elements for leaf in leaves(element)]
    hertz = switching_hertz(shape)
    if state is None:
        rows = {name: resistance_at(context, name, hertz) for name in names}
    else:
        rows = {name: resistance_in(context, name, hertz, state) for name in names}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    found = [in_series_and_parallel(element, values, capacitors=False) for element in elements]
    case = state.case if state is not None else STANDING
    return _row(context, subject, "series_resistance", found, rows, case, parallel_resistance=True)
