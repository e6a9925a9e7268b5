"""What stands in series with the mains, hot and cold, and how much bulk capacitance there is."""

from __future__ import annotations

from collections.abc import Iterable

from derate.circuit import elementary
from derate.circuit import thermal as temperature_lines
from derate.circuit.pulse import log_log
from derate.design.paths import Element, Group, leaves
from derate.design.structure import MainsInput
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.model import Model
from derate.stress.context import BULK, LINE, Context, in_series_and_parallel, part
from derate.stress.supply import air
from derate.terms.cases import CaseGroup
from derate.terms.values import Curve, Value
from derate.terms.words import RESISTORS

# Kinds whose resistance is what limits the current: without a figure nothing can be said.
_LIMITING = RESISTORS

SUM = Model.of("resistance in series", elementary.total("sum", "own"), "Kirchhoff", "sum of resistances")
THERMISTOR = Model.of(
    "thermistor at the air inside",
    temperature_lines.THERMISTOR,
    "B equation of a thermistor between two temperatures",
    "R25 × exp(B × (1/T − 1/298.15 K))",
)


def hot(context: Context, name: str) -> Entry:
    """Resistance of one series part while the supply runs."""
    subject = part(name)
    if context.structure.may_be(name, "NTC thermistor"):
        curve = context.curve(subject, "part.hot_resistance")
        entry = context.fact(subject, "part.hot_resistance")
        cold = context.value(subject, "part.resistance")
        if curve is not None and entry is not None:
            least = min(value.low for _, value in curve.points)
            most = max(value.high for _, value in curve.points)
            span = Value.between(least, most)
            return _row(context, subject, "resistance hot", span, entry, "range of the maker's table")
        if cold is not None:  # hot it lies somewhere between nothing and its cold resistance: both ends are real bounds
            entry = context.need(subject, "part.resistance")
            span = Value.between(0.0, cold.high)
            return _row(context, subject, "resistance hot", span, entry, "between zero and cold")
    return _plain(context, name)


def at_current(context: Context, name: str, running: Entry, current: Entry, case: Case) -> Entry:
    """Resistance of one series part at its own current: of a thermistor by its maker's table, else as it is.

    The table is read on two logarithmic axes. Below its first current the power is at most that of the first point, for
    power, temperature and current rise together: R is at most R1 (I1 / I)². Above its last it only gets less.
    """
    curve = context.curve(part(name), "part.hot_resistance")
    if curve is None or len(curve.points) < 2 or not isinstance(current.value, Value):
        return running
    amps = current.value.numbers()
    ends: list[float] = []
    for at, end in zip(reversed(amps), range(4), strict=True):  # more current is less resistance
        points = [(x, value.numbers()[end]) for x, value in curve.points]
        if at < points[0][0]:
            ends.append(points[0][1] * (1.0 if end < 2 else (points[0][0] / max(at, 1e-6)) ** 2))
        elif at > points[-1][0]:
            ends.append(0.0 if end < 2 else points[-1][1])
        else:
            ends.append(log_log(points, at))
    stated = context.need(part(name), "part.hot_resistance")
    return context.ledger.write(
        part(name),
        "series_resistance",
        Value(*ends),
        case=case,
        known_by="computed",
        inputs=(stated.number, current.number),
        rests_on=stated.rests_on | current.rests_on,
        formula="the maker's table at the part's own current",
        source="log-log between points",
    )


def cold(context: Context, name: str, case: Case) -> Entry:
    """Resistance of one series part as the supply is switched on at the hottest site, the air inside still warm."""
    subject = part(name)
    if not context.structure.may_be(name, "NTC thermistor"):
        return _plain(context, name)
    at_25 = context.need(subject, "part.resistance")
    if isinstance(at_25.value, Curve) and len(at_25.value.points) == 1:
        at_25 = _row(context, subject, "resistance at 25 degC", at_25.value.points[0][1], at_25, "as stated at 25 degC")
    b = context.fact(subject, "part.b_constant") or context.assume("thermistor_b_constant", subject, "part.b_constant")
    inside = air(context, subject, case)
    return context.ledger.work_out(
        THERMISTOR,
        {"resistance": at_25, "b_constant": b, "air": inside},
        [(subject, "series_resistance", "resistance")],
        case=case,
    )[0]


def _plain(context: Context, name: str) -> Entry:
    subject = part(name)
    stated = context.fact(subject, "part.resistance")
    if stated is not None:
        return stated
    if context.structure.may_be(name, *_LIMITING):
        return context.need(subject, "part.resistance")
    return context.assume("small_series_resistance", subject, "part.resistance")


def _row(context: Context, subject: Subject, state: CaseGroup, value: Value, basis: Entry, words: str) -> Entry:
    return context.ledger.write(
        subject,
        "series_resistance",
        value,
        case=Case(state),
        known_by=basis.known_by,
        formula=words,
        source="definition",
        inputs=(basis.number,),
        rests_on=basis.rests_on,
    )


def total(context: Context, rows: Iterable[tuple[str, Entry | Value]], case: Case) -> Entry:
    """The sum of the series parts, as a row of the mains path."""
    inputs = {f"r{k}": entry for k, (_, entry) in enumerate(rows)}
    model = SUM.by(elementary.total("sum", *inputs))
    return context.ledger.work_out(model, inputs, [(LINE, "series_resistance", "sum")], case=case)[0]


def bulk_capacitance(context: Context, element: Element, index: int = 0) -> Entry:
    """Capacitance of one bulk element, its members joined as they are."""
    names = [leaf.name for leaf in leaves(element)]
    rows = {name: context.need(part(name), "part.capacitance") for name in names}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    inputs = tuple(row.number for row in rows.values())
    rests = frozenset().union(*(row.rests_on for row in rows.values()))
    joined = in_series_and_parallel(element, values, capacitors=True)
    case = Case("bulk 1" if index == 0 else "bulk 2")
    if joined is None:
        missing = [fact for row in rows.values() for fact in row.missing]
        return context.ledger.hole(BULK, "bulk_capacitance", missing, case=case, inputs=inputs, rests_on=rests)
    if len(names) == 1:
        return rows[names[0]]
    return context.ledger.write(
        BULK,
        "bulk_capacitance",
        joined,
        case=case,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula="capacitances joined",
        source="Kirchhoff",
    )


def charged_capacitance(context: Context, mains: MainsInput, capacitances: list[Entry]) -> Entry:
    """The capacitance that is charged: of one bulk element, or of each of the two of a doubler."""
    if mains.input != "doubler":
        return capacitances[0]
    names = [leaf.name for element in mains.bulk for leaf in leaves(element)]
    paired = len(mains.bulk) == 2 or (isinstance(mains.bulk[0], Group) and mains.bulk[0].joined == "series")
    if len(names) != 2 or not paired:
        return context.ledger.hole(
            BULK,
            "bulk_capacitance",
            (OpenFact(SUPPLY, "circuit.line", "with the two bulk capacitors of the doubler"),),
            note="a doubler has two bulk capacitors in series, across C1 + C2",
        )
    rows = [context.need(part(name), "part.capacitance") for name in names]
    values = [row.value for row in rows if isinstance(row.value, Value)]
    if len(values) < 2:
        return next(row for row in rows if not isinstance(row.value, Value))
    one, other = (value.numbers() for value in values)
    both = Value(min(one[0], other[0]), min(one[1], other[1]), max(one[2], other[2]), max(one[3], other[3]))
    return context.ledger.write(
        BULK,
        "bulk_capacitance",
        both,
        known_by="computed",
        inputs=tuple(row.number for row in rows),
        formula="each of the two capacitors",
        source="the lesser and the greater of the two",
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
    )


def mains_resistance(context: Context) -> Entry:
    """Resistance of the mains: the site's, or the range the packs assume."""
    stated = context.fact(SUPPLY, "site.mains_resistance")
    return stated or context.assume("mains_resistance", SUPPLY, "site.mains_resistance")


def series_rows(context: Context, mains: MainsInput, case: Case | None = None) -> list[tuple[str, Entry]]:
    """Every series part ahead of the first bulk capacitor with its resistance: hot, or cold at a switch-on case."""
    names = (*mains.series, *mains.behind)
    return [(name, hot(context, name) if case is None else cold(context, name, case)) for name in names]
