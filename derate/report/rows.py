"""Which rows of a ledger are shown: the newest of each kind, filtered, the worst case of each first.

A stress is worked out at many cases. Shown is the worst row of each group of cases by the way of that quantity that is
bad, and how many there are; a row without a value is always shown beside it, so that no hole hides behind a number.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from derate.ledger.entry import Entry
from derate.terms.values import Value
from derate.terms.vocabulary import VOCABULARY


@dataclass(frozen=True, slots=True)
class Shown:
    """A row, and how many rows of other cases it speaks for."""

    entry: Entry
    others: int = 0


def chosen(entries: Iterable[Entry], part: str = "", quantity: str = "", every: bool = False) -> tuple[Entry, ...]:
    """Rows in order of subject, quantity and case; a row that a later one replaced is left out.

    part: only rows whose subject has this name (`T1` takes its windings too); quantity: only this quantity
    every: facts as well as what was worked out
    """
    newest = {(entry.subject, entry.quantity, entry.case): entry for entry in entries}
    rows = [
        entry
        for entry in newest.values()
        if (every or is_stress(entry)) and (not part or about(entry, part)) and quantity in ("", entry.quantity)
    ]
    return tuple(sorted(rows, key=lambda one: (one.subject.kind, one.subject.names, one.quantity, one.number)))


def is_stress(entry: Entry) -> bool:
    """Whether a row was worked out, or is a stress that was read: not a fact of the file."""
    return "." not in entry.quantity or bool(entry.formula)


def about(entry: Entry, part: str) -> bool:
    """Whether a row is about a part or subject of this name."""
    names = entry.subject.names or (entry.subject.kind,)
    return any(name == part or name.startswith(part + ".") for name in names)


def governing(rows: Sequence[Entry]) -> tuple[Shown, ...]:
    """For each subject, quantity and group of cases: the worst row, and the first of those without a value."""
    grouped: dict[tuple[object, str, str], list[Entry]] = {}
    for entry in rows:
        group = entry.case.group if entry.case is not None else ""
        grouped.setdefault((entry.subject, entry.quantity, group), []).append(entry)
    shown = []
    for every in grouped.values():
        known = [entry for entry in every if entry.value is not None]
        holes = [entry for entry in every if entry.value is None]
        numbers = [entry for entry in known if isinstance(entry.value, Value)]
        if len(numbers) == len(known) > 1:
            picked = _worst(numbers)
            shown += [Shown(entry, len(known) - 1 if len(picked) == 1 else 0) for entry in picked]
        else:
            shown += [Shown(entry) for entry in known]
        if holes:
            shown.append(Shown(holes[0], len(holes) - 1))
    return tuple(shown)


def _worst(rows: Sequence[Entry]) -> tuple[Entry, ...]:
    """The worst row; least and greatest where neither way is bad by itself."""
    term = VOCABULARY.get(rows[0].quantity)
    bad = term.bad if term is not None else 1

    def least(entry: Entry) -> tuple[float, float]:
        assert isinstance(entry.value, Value)
        return entry.value.low, entry.value.near

    def greatest(entry: Entry) -> tuple[float, float]:
        assert isinstance(entry.value, Value)
        return entry.value.high, entry.value.far

    if bad > 0:
        return (max(rows, key=greatest),)
    if bad < 0:
        return (min(rows, key=least),)
    low, high = min(rows, key=least), max(rows, key=greatest)
    return (low,) if low is high or low.value == high.value else (low, high)
