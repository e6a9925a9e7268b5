"""What a reading does to the rows that are computed: governs at its condition, widens elsewhere, proves where none is.

A reading worse than the computation widens the computed values at every other condition by the greatest factor that any
reading of the quantity showed (a difference, for temperatures); nothing is ever narrowed. Rows worked out beforehand
from a widened one (a life from a ripple current) are not worked out again: while reading and computation agree the
factor lies within both tolerances, and beyond them the disagreement itself blocks.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import NamedTuple

from derate.ledger.entry import SUPPLY, Entry, Mark, Subject
from derate.ledger.ledger import Ledger
from derate.stress.context import LINE, Context, part
from derate.terms.cases import FAULT, READING, RUNNING
from derate.terms.dimension import CELSIUS
from derate.terms.quantities import QuantityName
from derate.terms.values import Value
from derate.terms.vocabulary import VOCABULARY

SOURCE = "rules of evidence: the worse of reading and computation governs at the reading's condition"


class Weighed(NamedTuple):
    """One reading beside what is computed at its condition (None where nothing could be)."""

    read: Entry
    computed: Entry | None


def worse(one: Value, other: Value, bad: int) -> Value:
    """The worse of two values, number by number."""
    pick = max if bad > 0 else min
    return Value(*(pick(pair) for pair in zip(one.numbers(), other.numbers(), strict=True)))


def _write_again(ledger: Ledger, row: Entry, value: Value, reads: Sequence[Entry], formula: str, mark: Mark) -> Entry:
    return ledger.write(
        row.subject, row.quantity, value, case=row.case, known_by="computed", formula=formula, source=SOURCE,
        inputs=(row.number, *(read.number for read in reads)), note=row.note,
        rests_on=row.rests_on.union(*(read.rests_on for read in reads)), mark=mark,
    )  # fmt: skip


def apply(context: Context, found: Sequence[Weighed]) -> None:
    """At its own condition the worse governs; elsewhere the greatest factor any reading showed widens the row."""
    ledger = context.ledger
    by: dict[tuple[Subject, QuantityName], list[Weighed]] = {}
    for one in found:
        by.setdefault((one.read.subject, one.read.quantity), []).append(one)
    moved: dict[tuple[Subject, QuantityName], tuple[float, float, list[Entry]]] = {}
    for (subject, quantity), own in by.items():
        bad = VOCABULARY[quantity].bad or 1
        factor, more, reads = _beyond(own, quantity, bad)
        if not reads:
            continue
        for other, name, power in _same_current(context, subject, quantity):
            before = moved.get((other, name), (1.0, 0.0, []))
            pick = max if bad > 0 else min
            moved[(other, name)] = (pick(before[0], factor**power), pick(before[1], more), [*before[2], *reads])
    for (subject, quantity), (factor, more, reads) in moved.items():
        bad = VOCABULARY[quantity].bad or 1
        own_cases = {one.computed.case for one in by.get((subject, quantity), ()) if one.computed is not None}
        for row in ledger.rows(subject, quantity):
            if row.case is None or row.case.group in (READING, FAULT) or not isinstance(row.value, Value):
                continue
            if row.known_by == "computed" and row.case not in own_cases:
                _write_again(ledger, row, widened(row.value, factor, more, bad), reads,
                             "computation widened by what a reading showed", "widened")  # fmt: skip
    for (subject, quantity), own in by.items():
        bad = VOCABULARY[quantity].bad or 1
        for one in own:
            assert one.computed is not None and isinstance(one.read.value, Value)
            row = next((row for row in ledger.rows(subject, quantity) if row.case == one.computed.case), one.computed)
            if isinstance(row.value, Value) and (value := worse(one.read.value, row.value, bad)) != row.value:
                _write_again(ledger, row, value, [one.read], "worse of reading and computation", "worse")


def _beyond(own: Sequence[Weighed], quantity: QuantityName, bad: int) -> tuple[float, float, list[Entry]]:
    """The greatest factor (or, for temperatures, difference) by which readings are worse than computed, and which."""
    point = VOCABULARY[quantity].dimension == CELSIUS
    factor, more, reads = 1.0, 0.0, []
    for one in own:
        assert one.computed is not None
        read, computed = one.read.value, one.computed.value
        assert isinstance(read, Value) and isinstance(computed, Value)
        a, b = (read.far, computed.far) if bad > 0 else (read.near, computed.near)
        if (a - b) * bad <= 0 or abs(a) == inf or abs(b) == inf:
            continue
        if point:
            more = max(more, a - b) if bad > 0 else min(more, a - b)
        elif b > 0:
            factor = max(factor, a / b) if bad > 0 else min(factor, a / b)
        else:
            continue
        reads.append(one.read)
    return factor, more, reads


def widened(value: Value, factor: float, more: float, bad: int) -> Value:
    """A value with its bad end moved by a factor, or by a difference for temperatures."""
    if bad > 0:
        return Value(value.low, value.near, value.far * factor + more, value.high * factor + more)
    return Value(value.low * factor + more, value.near * factor + more, value.far, value.high)


def _same_current(
    context: Context, subject: Subject, quantity: QuantityName
) -> tuple[tuple[Subject, QuantityName, float], ...]:
    """What else moves with a quantity, and with which power: the mains current flows through every part in series."""
    own: tuple[tuple[Subject, QuantityName, float], ...] = ((subject, quantity, 1.0),)
    mains = context.structure.mains
    if mains is None:
        return own
    series = [part(name) for name in mains.series]
    if (subject, quantity) == (SUPPLY, "mains_current") or (quantity == "current_rms" and subject in (LINE, *series)):
        through: list[tuple[Subject, QuantityName, float]] = [
            (one, "current_rms", 1.0) for one in (LINE, *series)
        ]
        heats: list[tuple[Subject, QuantityName, float]] = [(one, "power", 2.0) for one in series]
        return tuple(dict.fromkeys([*own, (SUPPLY, "mains_current", 1.0), *through, *heats]))
    return own


def prove(ledger: Ledger, read: Entry) -> None:
    """Where the computation has a hole the reading still proves itself: a floor, that no pass can rest on."""
    if not isinstance(read.value, Value) or read.case is None:
        return
    bad = VOCABULARY[read.quantity].bad
    if bad <= 0 or VOCABULARY[read.quantity].dimension == CELSIUS:
        return
    for row in ledger.rows(read.subject, read.quantity):
        case = row.case
        if case is None or row.value is not None or case.group != RUNNING:
            continue
        within = (case.mains is None or (read.case.mains or inf) <= case.mains) and case.load in ("", read.case.load)
        if within:  # more mains is never less stress for what is worked out at the highest mains
            ledger.write(
                row.subject, row.quantity, Value.floor(read.value.near), case=case, known_by="computed",
                formula="at least what was read", source=SOURCE, inputs=(row.number, read.number), note=row.note,
                missing=row.missing, rests_on=row.rests_on | read.rests_on, mark="floor",
            )  # fmt: skip
