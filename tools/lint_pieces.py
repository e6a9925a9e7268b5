"""Where the time of one cold lint goes: python tools/lint_pieces.py DESIGN. Prints processor time by piece.

Run it in a process of its own: what is imported already costs nothing a second time.
"""

from __future__ import annotations

import contextlib
import io
import sys
import time
from collections.abc import Callable
from importlib import import_module
from typing import Any

# module, function: piece. Time inside a piece that is listed itself counts there only.
PIECES = {
    ("derate.study.work", "load_packs"): "packs",
    ("derate.study.work", "load_design"): "design",
    ("derate.stress.run", "solve_line"): "mains input, running",
    ("derate.stress.run", "solve_switch_on"): "switch-on",
    ("derate.stress.run", "solve_restarts"): "restart, re-plug and dip",
    ("derate.stress.run", "solve_surge"): "surge",
    ("derate.stress.run", "solve_converter"): "converter",
    ("derate.stress.run", "solve_faults"): "faults",
    ("derate.stress.run", "weigh"): "readings against computation",
    ("derate.study.work", "require"): "insulation",
    ("derate.study.work", "judge"): "rules",
}


def main(design: str, day: str) -> int:
    """Lint a design once and print what each piece took."""
    start = time.process_time()
    run = import_module("derate.cli.main").main
    for module in ("derate.cli.lint", *sorted({module for module, _ in PIECES})):
        import_module(module)
    taken = {"start of Python": start, "imports": time.process_time() - start}
    stack: list[float] = []  # time that pieces inside the present one took
    for (module, name), piece in PIECES.items():
        _measure(import_module(module), name, piece, taken, stack)
    text = io.StringIO()
    with contextlib.redirect_stdout(text):
        run(["lint", design, "--today", day])
    total = time.process_time()
    taken["the rest, printing included"] = total - sum(taken.values())
    for piece, seconds in taken.items():
        print(f"{piece:30s}{1e3 * seconds:7.0f} ms{100.0 * seconds / total:5.0f} %")
    print(f"{'together':30s}{1e3 * total:7.0f} ms")
    return 0 if text.getvalue() else 1


def _measure(module: Any, name: str, piece: str, taken: dict[str, float], stack: list[float]) -> None:
    inner: Callable[..., Any] = getattr(module, name)

    def outer(*given: Any, **named: Any) -> Any:
        began = time.process_time()
        stack.append(0.0)
        try:
            return inner(*given, **named)
        finally:
            whole = time.process_time() - began
            taken[piece] = taken.get(piece, 0.0) + whole - stack.pop()
            if stack:
                stack[-1] += whole

    setattr(module, name, outer)


if __name__ == "__main__":
    if len(sys.argv) not in (2, 3):
        sys.exit("name one design: python tools/lint_pieces.py DESIGN [DAY]")
    sys.exit(main(sys.argv[1], sys.argv[2] if len(sys.argv) == 3 else time.strftime("%Y-%m-%d")))
