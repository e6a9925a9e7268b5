"""Rows of facts made worse in every way the blocking law speaks of: taken out, wider, assumed, moved their bad way."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from derate.ledger.entry import Entry, OpenFact
from derate.terms.values import Category, Curve, Known, Value
from derate.terms.vocabulary import VOCABULARY

# Written from the structure and not from a fact of the file: they say which subjects there are.
# Ranges that are no doubt: both ends of a rating are limits, and a current from least to most says how little is drawn.
TWO_ENDS = ("rated.supply", "plate.current")
STRUCTURE = ("part.fitted", "bridge.count", "barrier.between")


def numbered(rows: Sequence[Entry]) -> tuple[Entry, ...]:
    """Rows under the numbers the ledger will give them."""
    return tuple(replace(row, number=number) for number, row in enumerate(rows, start=1))


def assumed(row: Entry) -> Entry:
    """The row as if somebody had only assumed it."""
    return replace(row, known_by="assumed", rests_on=frozenset((OpenFact(row.subject, row.quantity),)))


def wider(value: Known, share: float) -> Known:
    """A number that may be so much lower or higher than was said; nothing that was possible becomes impossible."""
    if isinstance(value, Value):
        down, up = value.near - abs(value.near) * min(share, 1.0), value.far + abs(value.far) * share
        return Value(min(value.low, down), down, up, max(value.high, up))
    if isinstance(value, Curve):
        return value._replace(points=tuple((at, _number(wider(one, share))) for at, one in value.points))
    return value


def _number(value: Known) -> Value:
    assert isinstance(value, Value)
    return value


def moved(value: Known, factor: float) -> Known | None:
    """A number times a factor, its tolerance with it; None for words and for what is below zero."""
    if isinstance(value, Value):
        return value.scaled(factor) if value.low >= 0 else None
    if isinstance(value, Curve):
        points = [(at, moved(one, factor)) for at, one in value.points]
        if any(one is None for _, one in points):
            return None
        return value._replace(points=tuple((at, _number(one)) for at, one in points if one is not None))
    return None


def worse_rows(row: Entry, thorough: bool = True) -> Iterator[tuple[str, Entry | None]]:
    """One row made worse in every way; None is the row taken out."""
    if row.quantity in STRUCTURE:
        return
    yield "deleted", None
    yield "assumed", assumed(row)
    value, term = row.value, VOCABULARY[row.quantity]
    if isinstance(value, Category):
        words = [word for word in (*term.words, "unmarked", "none") if word not in value.members]
        for word in words if thorough else words[:1]:
            yield f"or {word}", replace(row, value=Category.of(*value.members, word))
    elif value is not None:
        for share in () if row.quantity in TWO_ENDS else (0.03, 0.5) if thorough else (0.5,):
            yield f"wider by {share}", replace(row, value=wider(value, share))
        for factor in (1.01, 1.5, 20.0) if term.bad and thorough else ():
            worse = moved(value, factor**term.bad)
            if worse is not None:
                yield f"worse by {factor}", replace(row, value=worse)
