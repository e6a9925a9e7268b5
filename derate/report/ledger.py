"""The ledger as shown: which rows, as a table, on a page, as CSV, and how a row came about."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from math import isinf
from typing import NamedTuple

from derate.ledger.entry import Entry, Subject
from derate.ledger.ledger import Ledger
from derate.report.colour import HEADING, styled
from derate.report.document import Document
from derate.report.gather import gate_cells
from derate.report.words import (
    CAUTION_CELL,
    cells,
    entry_words,
    fact_words,
    known_text,
    listed,
    number_of,
    padded,
    plain,
    quantity_words,
    unit_of,
    wrapped,
)
from derate.terms.dimension import CELSIUS, FREQUENCY, VOLTAGE
from derate.terms.frozen import frozen
from derate.terms.values import Value
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import LIBRARY_ENDING
from derate.text.units import show

# A formula with its figures in it: `resistance × current²` with 6.8 ohm and 0.41 A reads `6.8 ohm × (0.41 A)²`.


_WORD = re.compile(r"[A-Za-z][A-Za-z0-9]*(?: [a-z]+)*²?|[A-Za-z]\w*")


def filled(entry: Entry, inputs: Iterable[Entry], formulas: Mapping[str, str]) -> str:
    """The formula of a row with the figures of its inputs and its case; '' when no word of it names one of them."""
    written = formulas.get(entry.formula, "")
    if not written:
        return ""
    figures = _figures(entry, inputs)
    hits = 0

    def figure(found: re.Match[str]) -> str:
        nonlocal hits
        text = found[0]
        squared = text.endswith("²")
        known = figures.get(text.rstrip("²"))
        if known is None:
            return text
        hits += 1
        return f"({known})²" if squared else f"({known})" if " to " in known else known

    told = _WORD.sub(figure, written)
    return told if hits else ""


def _figures(entry: Entry, inputs: Iterable[Entry]) -> dict[str, str]:
    """Figures by the words a formula may call them: a word that could mean two of them means neither."""
    found: dict[str, str | None] = {}
    for one in inputs:
        if one.value is None:
            continue
        name = one.quantity.partition(" in ")[0].rpartition(".")[2].replace("_", " ")
        for word in {name, name.partition(" ")[0]}:
            found[word] = None if word in found else plain(entry_words(one))
    case = entry.case
    if case is not None:
        for word, value, dimension in (
            ("mains", case.mains, VOLTAGE),
            ("frequency", case.frequency, FREQUENCY),
            ("ambient", case.ambient, CELSIUS),
        ):
            if value is not None:
                found.setdefault(word, show(value, dimension))
    return {word: text for word, text in found.items() if text is not None}


# Which rows of a ledger are shown: the newest of each kind, filtered, the worst case of each first.
#
# A stress is worked out at many cases. Shown is the worst row of each group of cases by the way of that quantity that
# is bad, and how many there are; a row without a value is always shown beside it, so that no hole hides behind a
# number.


@frozen
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


# How a row of the ledger came about: each step with its figures, down to the places in the file.
#
# A step is a row: quantity, value, case, formula, source; below it, further in, the rows it was worked out from. A
# row met a second time is named and not repeated.


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


# The ledger as a table: grouped by subject at a terminal, one row a line for a pipe. Plain text, no library.
#
# Both take rows already chosen (`rows.py`). At a terminal the case and the formula go below a value that leaves no
# room.


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
        yield from styled(HEADING, wrapped(named, width))
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
    words = f"{number_of(len(rows), 'entry', 'entries')}, {holes} without a value"
    if left_out:
        words += f"; {number_of(left_out, 'entry', 'entries')} of other cases and facts with --all"
    return f"{words}. How an entry came about: --why and its number."


# The ledger as a page shows it: by subject and quantity, what is said twice said once, every number kept.


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


def ledger_rows(document: Document) -> tuple[tuple[tuple[Subject, ...], tuple[Standing, ...]], ...]:
    """Every row that still stands, and replaced ones that others were worked out from; by subject and quantity.

    Subjects of one kind whose rows are the same in everything but their numbers stand together.
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
    alike: dict[tuple[object, ...], list[Subject]] = {}
    for subject, quantities in found.items():
        told = tuple((one.quantity, *_same(one)) for own in quantities.values() for one in own)
        alike.setdefault((subject.kind, told), []).append(subject)
    return tuple((tuple(subjects), tuple(_together([found[one] for one in subjects]))) for subjects in alike.values())


def _together(each: Sequence[Mapping[str, Sequence[Entry]]]) -> Iterator[Standing]:
    """The rows of subjects that stand together, by quantity, under the numbers of all."""
    for quantity in each[0]:
        yield from _standing([one for rank in zip(*(own[quantity] for own in each), strict=True) for one in rank])


def _same(one: Entry) -> tuple[object, ...]:
    """What two rows agree in that stand as one."""
    return (one.case, one.value, origin_on_page(one), one.inputs)


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
        alike.setdefault(_same(one), []).append(one)
    rows = list(alike.values())
    ways, sources = _runs(origin_on_page(same[0]) for same in rows), _runs(same[0].inputs for same in rows)
    for k, same in enumerate(rows):
        numbers = tuple(one.number for one in same)
        yield Standing(same[0], numbers, 0 if k else len(rows), ways[k], sources[k])


def _runs(values: Iterable[object]) -> list[int]:
    """How many equal values begin here; 0 inside a run."""
    counts = [len(list(every)) for _, every in groupby(values)]
    return [span for count in counts for span in (count, *(0,) * (count - 1))]


def origin_on_page(entry: Entry) -> str:
    """How a row is known and from where, in a few words."""
    if entry.value is None:
        return f"missing: {listed(fact_words(entry.missing), 6)}" if entry.missing else entry.note or "no value"
    words = entry.known_by
    if entry.formula:
        words = f"by {entry.formula}" if entry.known_by == "computed" else f"{entry.known_by}: {entry.formula}"
    elif entry.place is not None:
        where = f" of {entry.place.path}" if entry.place.path.endswith(LIBRARY_ENDING) else ""
        words += f", line {entry.place.line}{where}"
    if entry.grade:
        words += f", {entry.grade} of its maker"
    if entry.note and not entry.formula:
        words += f" ({entry.note})"
    return words


# The ledger as CSV: SI base units, an open end as `inf`, text that no spreadsheet takes for a formula.


COLUMNS = (
    "row",
    "kind",
    "subject",
    "quantity",
    "means",
    "group",
    "mains_V",
    "frequency_Hz",
    "load",
    "ambient_degC",
    "widened",
    "fault",
    "low",
    "near",
    "far",
    "high",
    "unit",
    "words",
    "known_by",
    "grade",
    "statistic",
    "formula",
    "source",
    "inputs",
    "missing",
    "rests_on",
    "file",
    "line",
    "column",
    "note",
    "gate",
    "packs",
    "caution",
)


def csv_text(document: Document) -> str:
    """The ledger as CSV text, one line feed a row.

    What it was worked out by stands in two columns of every row: a line ahead of the heads would take their place in a
    spreadsheet, one at the end would be sorted among the rows, and a row that is copied elsewhere keeps its own.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    behind = gate_cells(document.review.gate)
    for entry in document.ledger.entries:
        writer.writerow([*_row(entry), *map(_text, behind), CAUTION_CELL])
    return out.getvalue()


def _row(entry: Entry) -> list[str]:
    case, place = entry.case, entry.place
    numbers = [_number(one) for one in entry.value.numbers()] if isinstance(entry.value, Value) else [""] * 4
    words = "" if entry.value is None or isinstance(entry.value, Value) else known_text(entry.value, entry.quantity)
    return [
        str(entry.number),
        entry.subject.kind,
        _text(" – ".join(entry.subject.names)),
        _text(entry.quantity),
        _text(quantity_words(entry.quantity)),
        _text(case.group) if case else "",
        _number(case.mains if case else None),
        _number(case.frequency if case else None),
        _text(case.load) if case else "",
        _number(case.ambient if case else None),
        ("yes" if case.widened else "no") if case else "",
        _text(case.fault) if case else "",
        *numbers,
        unit_of(entry.quantity) if isinstance(entry.value, Value) else "",
        _text(words),
        entry.known_by,
        entry.grade,
        entry.statistic,
        _text(entry.formula),
        _text(entry.source),
        " ".join(map(str, entry.inputs)),
        _text("; ".join(entry.missing)),
        _text("; ".join(sorted(entry.rests_on))),
        _text(place.path) if place else "",
        str(place.line) if place else "",
        str(place.column) if place else "",
        _text(entry.note),
    ]


def _number(number: float | None) -> str:
    """Every digit a float has; an open end in the word a spreadsheet and a program both read."""
    if number is None:
        return ""
    if isinf(number):
        return "inf" if number > 0 else "-inf"
    return repr(number)


def _text(text: str) -> str:
    """Text as text: a cell that begins like a formula gets an apostrophe before it."""
    shown = plain(text)
    return f"'{shown}" if shown.lstrip(" ").startswith(("=", "+", "-", "@")) else shown
