"""Solvers are pure: over thousands of nearly equal designs each point is worked out once and remembered."""

from __future__ import annotations

import sys
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from functools import partial, wraps
from types import FunctionType, ModuleType
from typing import Any

from derate.circuit import choke_filter, choke_filter_inductance, rectifier
from derate.ledger.ledger import Ledger, Model, Point
from derate.terms.values import Collapse


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


# Solvers that are called beside the ledger too: their arguments are numbers, what they give is never written to.
_BESIDE = (
    (choke_filter, "filter_steady_state"),
    (choke_filter_inductance, "filter_behind_inductance"),
    (rectifier, "steady_state"),
)


def _remembering(solve: Callable[..., Any]) -> Callable[..., Any]:
    kept: dict[Hashable, tuple[Any, Exception | None]] = {}

    @wraps(solve)
    def solved(*given: Any, **named: Any) -> Any:
        key = (given, tuple(sorted(named.items())))
        if key not in kept:
            try:
                kept[key] = solve(*given, **named), None
            except (Collapse, ValueError, ArithmeticError) as trouble:
                kept[key] = None, trouble
        found, raised = kept[key]
        if raised is not None:
            raise raised.with_traceback(None)
        return found

    return solved


@contextmanager
def _beside() -> Iterator[None]:
    """In every module that calls one of these by its name."""
    put: list[tuple[ModuleType, str, Callable[..., Any]]] = []
    for home, name in _BESIDE:
        plain = getattr(home, name)
        instead = _remembering(plain)
        for module in [one for key, one in sys.modules.items() if key.startswith("derate.")]:
            if vars(module).get(name) is plain:
                put.append((module, name, plain))
                setattr(module, name, instead)
    try:
        yield
    finally:
        for module, name, plain in put:
            setattr(module, name, plain)


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
        with _beside():
            yield kept
    finally:
        Ledger._output = plain  # type: ignore[method-assign]
