"""The fault table of a written report: one line a fault and mains voltage, in words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from derate.report.faults import Row, note_of
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
    """The rows, those that nothing is shown to open on first, otherwise in the order they were given."""
    ordered = sorted(faults, key=lambda row: not row.computed or row.opening != "not shown")
    return tuple(
        FaultWords(
            row.fault, str(row.case).removeprefix(f"{row.case.fault}, "), _figure(row.current_rms, "A"),
            _figure(row.i2t, "A²s"), _opening(row), row.opening != "not shown" and row.computed, note_of(row),
        )
        for row in ordered
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
