"""The ledger as CSV: SI base units, an open end as `inf`, text that no spreadsheet takes for a formula."""

from __future__ import annotations

import csv
import io
from math import isinf

from derate.ledger.entry import Entry
from derate.report.document import Document
from derate.report.plain import plain
from derate.report.words import known_text, quantity_words, unit_of
from derate.terms.values import Value

COLUMNS = (
    "row", "kind", "subject", "quantity", "means", "group", "mains_V", "frequency_Hz", "load", "ambient_degC",
    "widened", "fault", "low", "near", "far", "high", "unit", "words", "known_by", "grade", "statistic", "formula",
    "source", "inputs", "missing", "rests_on", "file", "line", "column", "note",
)  # fmt: skip


def csv_text(document: Document) -> str:
    """The ledger as CSV text, one line feed a row."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for entry in document.ledger.entries:
        writer.writerow(_row(entry))
    return out.getvalue()


def _row(entry: Entry) -> list[str]:
    case, place = entry.case, entry.place
    numbers = [_number(one) for one in entry.value.numbers()] if isinstance(entry.value, Value) else [""] * 4
    words = "" if entry.value is None or isinstance(entry.value, Value) else known_text(entry.value, entry.quantity)
    return [
        str(entry.number), entry.subject.kind, _text(" – ".join(entry.subject.names)), _text(entry.quantity),
        _text(quantity_words(entry.quantity)), _text(case.group) if case else "",
        _number(case.mains if case else None), _number(case.frequency if case else None),
        _text(case.load) if case else "", _number(case.ambient if case else None),
        ("yes" if case.widened else "no") if case else "", _text(case.fault) if case else "", *numbers,
        unit_of(entry.quantity) if isinstance(entry.value, Value) else "", _text(words), entry.known_by, entry.grade,
        entry.statistic, _text(entry.formula), _text(entry.source), " ".join(map(str, entry.inputs)),
        _text("; ".join(entry.missing)), _text("; ".join(sorted(entry.rests_on))), _text(place.path) if place else "",
        str(place.line) if place else "", str(place.column) if place else "", _text(entry.note),
    ]  # fmt: skip


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
