"""Where the processor time of one cold lint goes, by piece: `python tools/benchmark_pieces.py DESIGN DAY`.

Run in a process of its own, since what is imported already costs nothing a second time; `tools/benchmark.py` does so
several times and prints least, median and most. Prints one JSON object: piece to seconds.
"""

from __future__ import annotations

import contextlib
import io
import json
import sys
import time
from collections.abc import Callable
from importlib import import_module
from types import FunctionType, ModuleType
from typing import Any

# module, function: piece. Time inside a piece that is listed itself counts there only.
PIECES = {
    ("derate.study.work", "load_packs"): "packs",
    ("derate.study.work", "load_design"): "design",
    ("derate.run", "solve_line"): "mains input, running",
    ("derate.run", "solve_switch_on"): "switch-on",
    ("derate.run", "solve_restarts"): "restart, re-plug and dip",
    ("derate.run", "solve_surge"): "surge",
    ("derate.run", "take_converter"): "converter",
    ("derate.run", "solve_faults"): "faults",
    ("derate.run", "weigh"): "readings against computation",
    ("derate.study.work", "require"): "insulation",
    ("derate.study.work", "judge"): "judging",
}
START, IMPORTS, REST = "start of Python", "imports", "the rest, printing included"
# Not a piece of the sum: it lies inside the pieces above.
PHYSICS = "physics, inside the pieces"
_PURE = "derate.circuit"  # the formulas and solvers


class Stopwatch:
    """Processor time by piece while the wrapped functions run."""

    def __init__(self) -> None:
        self.taken: dict[str, float] = {}
        self.calls: dict[str, int] = {}
        self._inner: list[float] = []  # time that pieces inside the present one took
        self._physics_since: float | None = None

    def piece(self, module: ModuleType, name: str, piece: str) -> None:
        """Count the time inside a function of a module, less that of pieces inside it."""
        inner: Callable[..., Any] = getattr(module, name)

        def outer(*given: Any, **named: Any) -> Any:
            began = time.process_time()
            self.calls[piece] = self.calls.get(piece, 0) + 1
            self._inner.append(0.0)
            try:
                return inner(*given, **named)
            finally:
                whole = time.process_time() - began
                self.taken[piece] = self.taken.get(piece, 0.0) + whole - self._inner.pop()
                if self._inner:
                    self._inner[-1] += whole

        setattr(module, name, outer)

    def physics(self) -> None:
        """Count the time inside what the rest of the code calls of the formulas and solvers."""
        for module_name, module in list(sys.modules.items()):
            if not module_name.startswith("derate.") or module_name.startswith(_PURE):
                continue
            for name, found in list(vars(module).items()):
                if isinstance(found, FunctionType) and found.__module__.startswith(_PURE):
                    setattr(module, name, self._counted(found))
                elif getattr(getattr(found, "solve", None), "__module__", "").startswith(_PURE):
                    setattr(module, name, found._replace(solve=self._counted(found.solve)))  # a model of that function

    def _counted(self, inner: Callable[..., Any]) -> Callable[..., Any]:
        def outer(*given: Any, **named: Any) -> Any:
            if self._physics_since is not None:
                return inner(*given, **named)
            self._physics_since = began = time.process_time()
            self.calls[PHYSICS] = self.calls.get(PHYSICS, 0) + 1
            try:
                return inner(*given, **named)
            finally:
                self.taken[PHYSICS] = self.taken.get(PHYSICS, 0.0) + time.process_time() - began
                self._physics_since = None

        return outer


def pieces(design: str, day: str) -> dict[str, float]:
    """Lint a design once; processor time [s] by piece, and of all together. Wraps functions for good."""
    began = time.process_time()
    run = import_module("derate.cli.main").main
    for module in ("derate.cli.lint", *sorted({module for module, _ in PIECES})):
        import_module(module)
    watch = Stopwatch()
    watch.taken = {START: began, IMPORTS: time.process_time() - began}
    for (module, name), piece in PIECES.items():
        watch.piece(import_module(module), name, piece)
    watch.physics()
    with contextlib.redirect_stdout(io.StringIO()) as text:
        run(["lint", design, "--today", day])
    if not text.getvalue():
        raise SystemExit(f"{design}: lint printed nothing")
    total = time.process_time()
    physics = watch.taken.pop(PHYSICS, 0.0)
    return {**watch.taken, REST: total - sum(watch.taken.values()), "together": total, PHYSICS: physics}


if __name__ == "__main__":
    if len(sys.argv) != 3:
        raise SystemExit("name one design and a day: python tools/benchmark_pieces.py DESIGN YYYY-MM-DD")
    print(json.dumps(pieces(sys.argv[1], sys.argv[2])))
