"""The list of single faults: for a terminal, for a pipe, as JSON, and as the table of a written report."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import Protocol

from derate.design.readings import Test
from derate.judge.review import Gate
from derate.ledger.entry import Case, OpenFact, Subject
from derate.report.colour import HEADING, Line, styled
from derate.report.machine import VERSION, case_data, gate_data, subject_data, value_data
from derate.report.words import CAUTION, fact_words, figure, number_of, plain, quantity_words, unit_of, wrapped
from derate.terms.frozen import frozen
from derate.terms.instructions import page_cautions
from derate.terms.values import Value, written

# The list of single faults: for a terminal, for a pipe, as JSON. It decides nothing and never says that nothing
# burns.
#
# Rows come as any object with the fields of `FaultRow` (`derate.study.faults`); figures are SI, an open end is null.


_MEASURE = 100
_PREDICTED = "A prediction says what is shown to open, not what happens meanwhile: that is for the bench."
FAULTS_CAUTION = " ".join((_PREDICTED, *page_cautions(("fault",)), CAUTION))


class Row(Protocol):
    """What a row of the list tells."""

    @property
    def fault(self) -> str: ...
    @property
    def subject(self) -> Subject: ...
    @property
    def case(self) -> Case: ...
    @property
    def current_rms(self) -> Value | None: ...
    @property
    def current_peak(self) -> Value | None: ...
    @property
    def i2t(self) -> Value | None: ...
    @property
    def clears(self) -> str: ...
    @property
    def opening(self) -> str: ...
    @property
    def time(self) -> Value | None: ...
    @property
    def note(self) -> str: ...
    @property
    def computed(self) -> bool: ...
    @property
    def missing(self) -> tuple[OpenFact, ...]: ...
    @property
    def bench(self) -> str: ...
    @property
    def tested(self) -> bool: ...
    @property
    def beside(self) -> tuple[tuple[str, Value], ...]: ...


def faults_json(design: str, rows: Iterable[Row], gate: Gate) -> str:
    """The faults as JSON text, one line feed at the end. gate: what they were worked out by"""
    data = {
        "derate": VERSION,
        "caution": FAULTS_CAUTION,
        "design": plain(design),
        "gate": gate_data(gate),
        "faults": [_data(row) for row in rows],
    }
    return json.dumps(data, indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def _data(row: Row) -> dict[str, object]:
    return {
        "fault": plain(row.fault),
        "subject": subject_data(row.subject),
        "case": case_data(row.case),
        "current_rms": value_data(row.current_rms),
        "current_peak": value_data(row.current_peak),
        "i2t": value_data(row.i2t),
        "clears": plain(row.clears),
        "opening": row.opening,
        "time": value_data(row.time),
        "note": note_of(row),
    }


def note_of(row: Row) -> str:
    """What is said beside the figures: the prediction's reason, what is missing, the outcome on the bench."""
    told = [plain(row.note)] if row.note else []
    told += [f"{quantity_words(name)} {figure(value, unit_of(name))}" for name, value in row.beside]
    if row.missing:
        told.append("missing: " + ", ".join(fact_words(row.missing)))
    if row.bench:
        told.append(f"on the bench: {plain(row.bench)}")
    return "; ".join(told)


def fault_lines(path: str, rows: Sequence[Row], other: Sequence[Test]) -> Iterator[str]:
    """One fault a line for each mains voltage, never wrapped; both ends on one line where they say the same."""
    for same in both_ends(rows):
        row = same[0]
        parts = (cases_of(same), _word(row), _figures(row), note_of(row))
        yield f"{plain(path)}: {'; '.join(part for part in parts if part)}"
    for test in other:
        yield f"{test.place}: note: a fault test that names no fault of the list: {plain(test.fault)}"
    yield f"{plain(path)}: {_foot(rows)}"
    yield FAULTS_CAUTION


def both_ends(rows: Iterable[Row]) -> Iterator[tuple[Row, ...]]:
    """Rows that follow each other, are of one fault, and say the same at every mains voltage."""
    for _, group in groupby(rows, key=lambda row: (row.fault, _told(row))):
        yield tuple(group)


def _told(row: Row) -> tuple[str, str, str]:
    return _word(row), _figures(row), note_of(row)


def cases_of(same: Sequence[Row], named: bool = True) -> str:
    """The cases of rows of one fault: `C1 open, 90 V 63 Hz and 264 V 47 Hz`; `named`: with the name of the fault."""
    points = [plain(row.case.point or str(row.case)) for row in same]
    if named:
        points[0] = plain(str(same[0].case))
    return " and ".join(points)


def _word(row: Row) -> str:
    if not row.computed:
        return "opening not computed" if _figures(row) else "not computed"
    if row.opening == "shown":
        return f"{plain(row.clears)} shown to open"
    return row.opening


def _figures(row: Row) -> str:
    told = []
    if row.current_rms is not None:
        told.append(f"{figure(row.current_rms, 'A')} rms")
    if row.current_peak is not None:
        told.append(f"{figure(row.current_peak, 'A')} peak")
    if row.time is not None:
        told.append(f"within {figure(Value.exact(row.time.high), 's')}")
    if row.i2t is not None:
        told.append(f"lets through {figure(row.i2t, 'A²s')}")
    return ", ".join(told)


def fault_screen(rows: Sequence[Row], other: Sequence[Test], width: int) -> Iterator[str]:
    """The list for somebody at a terminal: what is not shown to open first."""
    width = max(50, min(width, _MEASURE))
    for title, wanted in _GROUPS:
        chosen = [row for row in rows if _group(row) == wanted]
        if not chosen:
            continue
        yield Line(title, HEADING)
        for names, same in _alike(chosen):
            yield from styled(HEADING, wrapped(plain(", ".join(names)), width, "  ", "  "))
            said = ""
            for ends in both_ends(same):
                row = ends[0]
                at = " and ".join(
                    f"{written(one.case.mains, 4)} V" if one.case.mains is not None else "mains not known"
                    for one in ends
                )
                words = "; ".join(one for one in (_word(row), _figures(row)) if one)
                yield from wrapped(f"{at}: {words}", width, "    ", "      ")
                if note_of(row) and note_of(row) != said:
                    said = note_of(row)
                    yield from wrapped(said, width, "      ", "      ")
        yield ""
    for test in other:
        yield from wrapped(f"{test.place}: a fault test that names no fault of the list: {plain(test.fault)}", width)
    yield from wrapped(_foot(rows), width)
    yield from wrapped(FAULTS_CAUTION, width)


def _alike(rows: Sequence[Row]) -> Iterator[tuple[list[str], list[Row]]]:
    """Faults that say the same at the same mains voltages, under one heading with all their names."""
    found: dict[tuple[object, ...], tuple[list[str], list[Row]]] = {}
    for fault, group in groupby(rows, key=lambda row: row.fault):
        same = list(group)
        key = tuple((row.case.mains, *_told(row)) for row in same)
        names, first = found.setdefault(key, ([], same))
        names.append(fault)
    yield from found.values()


_GROUPS = (
    ("Not shown to open", "not shown"),
    ("Not computed, for the bench", "bench"),
    ("Shown to open", "shown"),
    ("Nothing to open", "nothing to open"),
)


def _group(row: Row) -> str:
    return row.opening if row.computed else "bench"


def _foot(rows: Sequence[Row]) -> str:
    faults = {row.fault: row for row in rows}
    counts = {wanted: len({row.fault for row in rows if _group(row) == wanted}) for _, wanted in _GROUPS}
    tested = len({row.fault for row in rows if row.tested})
    return (
        f"{number_of(len(faults), 'fault')}: {counts['not shown']} not shown to open, {counts['shown']} shown, "
        f"{counts['nothing to open']} with nothing to open, {counts['bench']} for the bench; "
        f"{tested} tested on a sample."
    )


# The fault table of a written report: one line a fault and mains voltage, in words.


@frozen
class FaultWords:
    """One single fault at one case; figures in words. settled: something is shown to open, or nothing has to"""

    fault: str
    case: str
    current: str
    i2t: str
    opening: str
    settled: bool
    note: str


def fault_words(faults: Iterable[Row]) -> tuple[FaultWords, ...]:
    """The rows, those that nothing is shown to open on first, otherwise in the order they were given; both ends of the
    mains in one line where they say the same.
    """
    ordered = sorted(faults, key=lambda row: not row.computed or row.opening != "not shown")
    return tuple(
        FaultWords(
            row.fault,
            cases_of(same, named=False),
            _figure(row.current_rms, "A"),
            _figure(row.i2t, "A²s"),
            _opening(row),
            row.opening != "not shown" and row.computed,
            note_of(row),
        )
        for same in both_ends(ordered)
        for row in same[:1]
    )


def _opening(row: Row) -> str:
    if not row.computed:
        return "not computed"
    if row.opening != "shown":
        return row.opening
    within = f" within {figure(Value.exact(row.time.high), 's')}" if row.time is not None else ""
    return f"{row.clears} shown to open{within}"


def _figure(value: Value | None, unit: str) -> str:
    return "not known" if value is None else figure(value, unit)
