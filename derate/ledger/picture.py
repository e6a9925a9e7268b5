"""A few curves over time, worked out for drawing from the rows of a ledger: plain frozen values."""

from __future__ import annotations

from dataclasses import dataclass

from derate.ledger.entry import Case


@dataclass(frozen=True, slots=True)
class Line:
    """One curve. unit: SI symbol; points: one value for each time of its picture; worst: of the worst inputs"""

    name: str
    unit: str
    points: tuple[float, ...]
    worst: bool = False


@dataclass(frozen=True, slots=True)
class Mark:
    """A figure of the ledger that a curve is held to. entry: its row; value in the unit of the curve"""

    name: str
    unit: str
    value: float
    entry: int


@dataclass(frozen=True, slots=True)
class Picture:
    """Curves over one time axis [s].

    kind: 'switch-on' | 'running'; given: the inputs in words, with the numbers of their rows
    lines: empty when nothing could be worked out, and then `why` says so
    """

    kind: str
    case: Case | None
    times: tuple[float, ...] = ()
    lines: tuple[Line, ...] = ()
    marks: tuple[Mark, ...] = ()
    inputs: tuple[int, ...] = ()
    why: str = ""
