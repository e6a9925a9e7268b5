"""Single solvers and readers that were once held to a stopwatch: what each is called with, for `tools/benchmark.py`."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from contextlib import redirect_stderr, suppress
from io import StringIO
from itertools import product
from pathlib import Path

import flyback_stage
import mains_bench as bench
import numpy as np

from derate.circuit.choke_filter import filter_steady_state, filter_switch_on
from derate.circuit.output_stage import post_filter
from derate.circuit.rectifier import steady_state
from derate.cli.main import main
from derate.design.readings import Capture
from derate.study.capture import event_of, read_samples
from derate.terms.values import Place, ReadingError
from derate.text.nodes import compose

Timed = tuple[str, Callable[[], object], int, str]  # name, call, calls in one reading, what is asked for


def calls() -> Iterator[Timed]:
    """Each with what it is called with."""
    yield "mains input at constant power", lambda: steady_state(85.0, 60.0, 1.0, 1.5e-4, 67.0, 1.75), 20, "1 ms"
    yield "a thousand mains inputs over the range", _range, 1, "20 s"
    row = bench.rows("steady_state_two_capacitors_choke")[0]
    given = [row[k] for k in ("line_V", "line_Hz", "series_ohm", "bulk1_F", "choke_H", "choke_ohm", "bulk2_F")]
    yield "two capacitors with a choke, running", lambda: filter_steady_state(*given, row["load_W"]), 5, "8 ms"
    yield "two capacitors with a choke, switch-on", lambda: filter_switch_on(*given), 5, "8 ms"
    stage = (flyback_stage.Transformer(671e-6, 4.5e-6, 85.0, 22.4), flyback_stage.ClampParts(33e3, 10e-9))
    yield "flyback stage", lambda: flyback_stage.stage_at_load(92.0, 66.0, 66e3, *stage), 100, "2 ms"
    yield "output stage with its filter", lambda: post_filter(
        12.0, 0.0, 1 / 3, 65e3, 1e-3, 0.03, inductance=5e-6, filter_capacitance=220e-6, filter_resistance=0.1
    ), 10, "10 ms"  # fmt: skip
    levels = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    levels += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 12)]
    yield "aliases nine to the eleventh", _composed("\n".join(levels)), 1, "1 s"
    yield "a hundred thousand levels", _composed("a:\n  " + "[{a: " * 100_000), 1, "5 s"
    with tempfile.TemporaryDirectory() as folder:
        large = Path(folder) / "large.derate.yaml"
        with large.open("w") as file:
            file.writelines("# " + "x" * 997 + "\n" for _ in range(50_000))
        yield "fifty megabytes of design, refused", lambda: _refused(large), 1, "0.5 s"
        samples = Path(folder) / "long.csv"
        times = np.linspace(0.0, 0.02, 1_000_000)
        table = np.column_stack((times, 40.0 * np.exp(-times / 0.0012)))
        np.savetxt(samples, table, delimiter=",", fmt="%.8e", header="TIME,CH1", comments="")
        capture = Capture(
            condition=None, path=str(samples), skip=None, time="TIME", column="CH1", target="RF1", quantity="current",
            factor=1.0, zero=None, window=None, time_unit=1.0, separator="", decimal="", place=Place("design"),
        )  # fmt: skip
        yield "a capture of a million samples", lambda: event_of(capture, *read_samples(capture)), 1, "2 s"


def _range() -> None:
    for mains, ohms, farads, load, half in product(
        (10.0, 85.0, 600.0), (1e-3, 0.1, 10.0, 1e3), (1e-8, 1e-6, 1e-4, 1e-2), (0.0, 1e-6, 1e-3, 1.0, 100.0, 1e4),
        (False, True),
    ):  # fmt: skip
        steady_state(mains, 50.0, ohms, farads, load, 0.5, half_wave=half)


def _composed(text: str) -> Callable[[], None]:
    def call() -> None:
        with suppress(ReadingError):
            compose(text, "p.yaml")

    return call


def _refused(path: Path) -> None:
    with redirect_stderr(StringIO()):
        assert main(["lint", str(path)]) == 2
