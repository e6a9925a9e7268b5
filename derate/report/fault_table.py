"""The fault table in words, from rows as `derate faults --format json` prints them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import inf
from typing import Any

from derate.ledger.entry import Case
from derate.report.words import figure
from derate.terms.values import Value


@dataclass(frozen=True, slots=True)
class FaultRow:
    """One single fault at one case; figures in words, 'not known' where nobody can say."""

    fault: str
    case: str
    current: str
    i2t: str
    clears: str
    opening: str
    note: str


def fault_rows(faults: Iterable[Mapping[str, Any]]) -> tuple[FaultRow, ...]:
    """The rows in the order they were given."""
    return tuple(
        FaultRow(
            str(one.get("fault", "")), _case(one.get("case")), _figure(one.get("current_rms"), "A"),
            _figure(one.get("i2t"), "A²s"), str(one.get("clears", "")), _opening(one), str(one.get("note", "")),
        )
        for one in faults
    )  # fmt: skip


def _opening(row: Mapping[str, Any]) -> str:
    time = _figure(row.get("time"), "s")
    opening = str(row.get("opening", ""))
    return opening if time == "not known" else f"{opening}, {time}"


def _case(data: Mapping[str, Any] | None) -> str:
    if not data:
        return ""
    return str(Case(data["group"], data["mains"], data["frequency"], data["load"], data["ambient"], data["widened"]))


def _figure(data: Mapping[str, float | None] | None, unit: str) -> str:
    if not data:
        return "not known"
    low, near, far, high = (data.get(name) for name in ("low", "near", "far", "high"))
    least, most = -inf, inf
    return figure(
        Value(
            least if low is None else low, least if near is None else near, most if far is None else far,
            most if high is None else high,
        ),
        unit,
    )  # fmt: skip
