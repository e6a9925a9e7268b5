"""Solvers are pure: over thousands of nearly equal designs each point is worked out once and remembered."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from contextlib import contextmanager
from functools import partial
from types import FunctionType
from typing import Any

from derate.ledger.ledger import Ledger, Model, Point


def _identity(solve: Any) -> Hashable:
    """What a solver is: its code and everything it closes over. Raises TypeError for one that cannot be told."""
    if isinstance(solve, partial):
        return (_identity(solve.func), solve.args, tuple(sorted(solve.keywords.items())))
    if isinstance(solve, FunctionType):
        held = tuple(
            _identity(cell.cell_contents) if callable(cell.cell_contents) else cell.cell_contents
            for cell in solve.__closure__ or ()
        )
        found = (solve.__module__, solve.__qualname__, solve.__code__, held, solve.__defaults__)
        hash(found)
        return found
    hash(solve)
    return solve  # type: ignore[no-any-return]


@contextmanager
def remembered() -> Iterator[dict[Hashable, object]]:
    """Inside, what a solver gave or raised for a point is kept for the next ledger."""
    kept: dict[Hashable, object] = {}
    plain = Ledger._output

    def output(
        self: Ledger, model: Model, wanted: str, names: tuple[str, ...], point: Point, solved: dict[Point, object]
    ) -> float:
        if point in solved:
            return plain(self, model, wanted, names, point, solved)
        try:
            key: Hashable = (_identity(model.solve), names, point)
            hash(key)
        except TypeError:
            return plain(self, model, wanted, names, point, solved)
        if key in kept:
            solved[point] = kept[key]
            return plain(self, model, wanted, names, point, solved)
        try:
            return plain(self, model, wanted, names, point, solved)
        finally:
            if point in solved:
                kept[key] = solved[point]

    Ledger._output = output  # type: ignore[method-assign, assignment]
    try:
        yield kept
    finally:
        Ledger._output = plain  # type: ignore[method-assign]
