"""How a row of the ledger came about: each step with its figures, down to the places in the file.

A step is a row: quantity, value, case, formula, source; below it, further in, the rows it was worked out from. A row
met a second time is named and not repeated.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from derate.ledger.entry import Entry
from derate.ledger.ledger import Ledger
from derate.report.plain import plain, wrapped
from derate.report.words import entry_words, fact_words, quantity_words

_DEEPEST = 24  # further in there is no room left on a screen; the steps go on at this indentation


def derivation_lines(
    ledger: Ledger, number: int, width: int | None = None, formulas: Mapping[str, str] | None = None
) -> Iterator[str]:
    """The derivation of one row, from the result to the facts.

    width: columns to wrap at, None for one step a line; formulas: how a person would write each formula, by its name
    """
    seen: set[int] = set()
    stack = [(number, 0)]
    while stack:
        here, depth = stack.pop()
        entry = ledger[here]
        again = here in seen
        yield from _step(entry, depth, again, width, formulas or {})
        if not again:
            seen.add(here)
            stack += [(one, depth + 1) for one in reversed(entry.inputs) if 0 < one < here]


def _step(entry: Entry, depth: int, again: bool, width: int | None, formulas: Mapping[str, str]) -> Iterator[str]:
    indent = " " * (2 * min(depth, _DEEPEST))
    words = f"{entry.number}  {plain(str(entry.subject))}: {quantity_words(entry.quantity)} = {entry_words(entry)}"
    if entry.case is not None:
        words += f" ({plain(str(entry.case))})"
    if again:
        words += ", as above"
    about = [] if again else list(_about(entry, formulas))
    if width is None:
        yield indent + "; ".join([words, *about])
        return
    hang = indent + " " * (len(str(entry.number)) + 2)
    yield from wrapped(words, max(width, 40 + len(hang)), indent, hang + "  ")
    for line in about:
        yield from wrapped(line, max(width, 40 + len(hang)), hang, hang + "  ")


def _about(entry: Entry, formulas: Mapping[str, str]) -> Iterator[str]:
    if entry.formula:
        written = formulas.get(entry.formula, "")
        yield f"{entry.known_by} by {plain(entry.formula)}{f': {plain(written)}' if written else ''}"
        if entry.source:
            yield f"source: {plain(entry.source)}"
        if entry.note and entry.value is not None:
            yield f"note: {plain(entry.note)}"
    else:
        place = f" at {plain(str(entry.place))}" if entry.place is not None else ""
        grade = f", {entry.grade} of its maker" if entry.grade else ""
        note = f" ({plain(entry.note)})" if entry.note and entry.value is not None else ""
        source = f"; source: {plain(entry.source)}" if entry.source else ""
        yield f"{entry.known_by}{grade}{place}{note}{source}"
    if entry.value is None:
        facts = ", ".join(fact_words(entry.missing))
        yield f"missing: {facts}" if facts else f"no value: {plain(entry.note) or 'no reason given'}"
    if entry.rests_on:
        yield f"rests on assumed {', '.join(fact_words(sorted(entry.rests_on)))}"
