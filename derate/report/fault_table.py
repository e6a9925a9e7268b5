"""The fault table of a written report: one line a fault and mains voltage, in words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from derate.report.faults import Row, both_ends, cases_of, note_of
from derate.report.words import figure
from derate.terms.values import Value


@dataclass(frozen=True, slots=True)
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
            row.fault, cases_of(same, named=False), _figure(row.current_rms, "A"),
            _figure(row.i2t, "A²s"), _opening(row), row.opening != "not shown" and row.computed, note_of(row),
        )
        for same in both_ends(ordered)
        for row in same[:1]
    )  # fmt: skip


def _opening(row: Row) -> str:
    if not row.computed:
        return "not computed"
    if row.opening != "shown":
        return row.opening
    within = f" within {figure(Value.exact(row.time.high), 's')}" if row.time is not None else ""
    return f"{row.clears} shown to open{within}"


def _figure(value: Value | None, unit: str) -> str:
    return "not known" if value is None else figure(value, unit)
