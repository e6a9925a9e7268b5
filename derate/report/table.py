"""The ledger as a table: grouped by subject at a terminal, one row a line for a pipe. Plain text, no library.

Both take rows already chosen (`rows.py`). At a terminal the case and the formula go below a value that leaves no room.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from derate.ledger.entry import Entry
from derate.report.plain import cells, padded, plain, wrapped
from derate.report.rows import Shown
from derate.report.words import entry_words, fact_words, number_of, quantity_words

_MEASURE = 110


def table_lines(rows: Sequence[Shown]) -> Iterator[str]:
    """One row a line, never wrapped: entry, subject, quantity, value, case, how known, formula or what is missing."""
    columns = [_columns(row) for row in rows]
    widths = [max((cells(one[at]) for one in columns), default=0) for at in range(5)]
    for one in columns:
        lead = "  ".join(padded(text, width) for text, width in zip(one, widths, strict=False))
        yield f"{lead}  {one[5]}".rstrip()


def _columns(row: Shown) -> tuple[str, str, str, str, str, str]:
    entry = row.entry
    return str(entry.number), plain(str(entry.subject)), entry.quantity, entry_words(entry), _case(row), origin(entry)


def _case(row: Shown) -> str:
    if row.entry.case is None:
        return "always"
    words = plain(str(row.entry.case))
    if row.others:
        how = "worst of" if row.entry.value is not None else "first of"
        words += f" ({how} {row.others + 1})"
    return words


def origin(entry: Entry) -> str:
    """How a row is known: the formula, the place in the file, or what is missing."""
    if entry.value is None:
        if entry.missing:
            return "missing: " + ", ".join(fact_words(entry.missing))
        return plain(entry.note) or "no value"
    words = entry.known_by
    if entry.formula:
        words += f": {plain(entry.formula)}"
    elif entry.place is not None:
        words += f", {plain(str(entry.place))}"
    if entry.rests_on:
        words += f"; rests on assumed {', '.join(fact_words(sorted(entry.rests_on)))}"
    return words


def screen_lines(rows: Iterable[Shown], width: int) -> Iterator[str]:
    """The table for somebody at a terminal `width` columns wide."""
    width = max(40, min(width, _MEASURE))
    for number, (subject, group) in enumerate(groupby(rows, key=lambda row: row.entry.subject)):
        if number:
            yield ""
        named = f"{plain(str(subject))}, {subject.kind}" if subject.names else subject.kind
        yield from wrapped(named, width)
        yield from _group(tuple(group), width)


def _group(rows: Sequence[Shown], width: int) -> Iterator[str]:
    called = min(34, max(cells(quantity_words(row.entry.quantity)) for row in rows))
    for row in rows:
        entry = row.entry
        lead = f"{entry.number:>6}  "
        name, value = quantity_words(entry.quantity), entry_words(entry)
        first = f"{lead}{padded(name, called)}  {value}"
        details = "; ".join(word for word in (_case(row) if entry.case else "", origin(entry)) if word)
        if cells(first) + 3 + cells(details) <= width:
            yield f"{first}   {details}"
            continue
        start = f"{lead}{padded(name, called)}  "
        if cells(start) + min(24, cells(value)) > width:  # no room beside the name
            yield from wrapped(name, width, lead, " " * len(lead))
            start = " " * len(lead)
        yield from wrapped(value, width, start, " " * cells(start))
        yield from wrapped(details, width, " " * 10, " " * 10)


def table_foot(rows: Sequence[Shown], left_out: int) -> str:
    """What the table holds, and how to see the rest."""
    holes = sum(row.entry.value is None for row in rows)
    words = f"{number_of(len(rows), 'row')}, {holes} without a value"
    if left_out:
        words += f"; {number_of(left_out, 'row')} of other cases and facts with --all"
    return f"{words}. How a row came about: --why and its number."
