"""A ledger that keeps, for every row a model gave, the model, its inputs and which of its outputs the row is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from derate.ledger.entry import Case, Entry
from derate.ledger.ledger import Ledger, Model, Wanted
from derate.terms.values import Value


class Solved(NamedTuple):
    """How a row came out of a model.

    call: one number for all rows of one run; inputs: by name, the number of a row, or a value that is in no row
    """

    call: int
    model: Model
    inputs: Mapping[str, int | Value]
    output: str


class TracedLedger(Ledger):
    """Rows in the order they were written; `solved`: by the number of the row, how a model gave it."""

    def __init__(self) -> None:
        super().__init__()
        self.solved: dict[int, Solved] = {}
        self._calls = 0

    def work_out(
        self,
        model: Model,
        inputs: Mapping[str, Entry | Value | float],
        outputs: Sequence[Wanted],
        *,
        case: Case | None = None,
        note: str = "",
    ) -> tuple[Entry, ...]:
        """As `Ledger.work_out`, kept."""
        rows = super().work_out(model, inputs, outputs, case=case, note=note)
        kept: dict[str, int | Value] = {
            name: given.number
            if isinstance(given, Entry)
            else given
            if isinstance(given, Value)
            else Value.exact(given)
            for name, given in inputs.items()
        }
        self._calls += 1
        for row, (_, _, output) in zip(rows, outputs, strict=True):
            self.solved[row.number] = Solved(self._calls, model, kept, output)
        return rows
