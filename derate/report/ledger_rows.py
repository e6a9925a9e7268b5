"""The ledger as a page shows it: by subject and quantity, what is said twice said once, every number kept."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby
from typing import NamedTuple

from derate.ledger.entry import Entry, Subject
from derate.report.document import Document
from derate.report.rows import chosen
from derate.report.words import fact_words, listed


class Standing(NamedTuple):
    """A row of the ledger with the numbers of those like it.

    quantity, way, source: how many rows from it on are of its quantity, are known in its way, come from the same rows;
    0 where an earlier row spoke for it
    """

    entry: Entry
    numbers: tuple[int, ...]
    quantity: int
    way: int
    source: int


def ledger_rows(document: Document) -> tuple[tuple[Subject, tuple[Standing, ...]], ...]:
    """Every row that still stands, and replaced ones that others were worked out from; by subject and quantity.

    A row of a single fault that no finding used stands in the table of faults, and not here once more.
    """
    used = {number for entry in document.ledger.entries for number in entry.inputs}
    used |= {number for finding in document.review.findings for number in finding.entries}
    rows = {one.number: one for one in chosen(document.ledger.entries, every=True)}
    rows |= {number: document.ledger[number] for number in used if 0 < number <= len(document.ledger)}
    traced = _traced(document, rows)
    rows = {number: one for number, one in rows.items() if number in traced or not _of_a_fault(one)}
    found: dict[Subject, dict[str, list[Entry]]] = {}
    for number in sorted(rows):
        one = rows[number]
        found.setdefault(one.subject, {}).setdefault(one.quantity, []).append(one)
    return tuple(
        (subject, tuple(row for own in quantities.values() for row in _standing(own)))
        for subject, quantities in found.items()
    )


def _of_a_fault(entry: Entry) -> bool:
    return entry.case is not None and bool(entry.case.fault)


def _traced(document: Document, rows: Mapping[int, Entry]) -> set[int]:
    """Numbers of all rows that findings, and rows of no fault, go back to."""
    stack = [number for finding in document.review.findings for number in finding.entries]
    stack += [number for number, one in rows.items() if not _of_a_fault(one)]
    found: set[int] = set()
    while stack:
        number = stack.pop()
        if number not in found and 0 < number <= len(document.ledger):
            found.add(number)
            stack += document.ledger[number].inputs
    return found


def _standing(own: Iterable[Entry]) -> Iterator[Standing]:
    """Rows of one quantity; those that are the same in everything but their number stand once."""
    alike: dict[tuple[object, ...], list[Entry]] = {}
    for one in own:
        alike.setdefault((one.case, one.value, origin(one), one.inputs), []).append(one)
    rows = list(alike.values())
    ways, sources = _runs(origin(same[0]) for same in rows), _runs(same[0].inputs for same in rows)
    for k, same in enumerate(rows):
        numbers = tuple(one.number for one in same)
        yield Standing(same[0], numbers, 0 if k else len(rows), ways[k], sources[k])


def _runs(values: Iterable[object]) -> list[int]:
    """How many equal values begin here; 0 inside a run."""
    counts = [len(list(every)) for _, every in groupby(values)]
    return [span for count in counts for span in (count, *(0,) * (count - 1))]


def origin(entry: Entry) -> str:
    """How a row is known and from where, in a few words."""
    if entry.value is None:
        return f"missing: {listed(fact_words(entry.missing), 6)}" if entry.missing else entry.note or "no value"
    words = entry.known_by
    if entry.formula:
        words = f"by {entry.formula}" if entry.known_by == "computed" else f"{entry.known_by}: {entry.formula}"
    elif entry.place is not None:
        words += f", line {entry.place.line}"
    if entry.grade:
        words += f", {entry.grade} of its maker"
    if entry.note and not entry.formula:
        words += f" ({entry.note})"
    return words
