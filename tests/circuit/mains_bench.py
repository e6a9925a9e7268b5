"""What the tests of the mains input share: reference rows, a way to run ngspice, random supplies."""

from __future__ import annotations

import json
import os
import random
import shutil
import subprocess
import tempfile
from math import sqrt
from pathlib import Path
from typing import Any

import pytest

DATA = Path(__file__).parent.parent / "data" / "ngspice_reference.json"
IDEAL = "IS=1e-12 N=0.1 RS=1m CJO=30p"
# Forward voltage of the two near-ideal diodes at 0.01 to 30 A: 2 N VT ln(i/IS) = 0.12 to 0.16 V.
IDEAL_DROP = 0.14

BRIDGE = """D1 a p DI
D2 b p DI
D3 0 a DI
D4 0 b DI
Rb b 0 20meg
Cb b 0 10p
"""


def rows(group: str) -> list[dict[str, Any]]:
    found = json.loads(DATA.read_text())[group]
    assert isinstance(found, list)
    return found


def need_ngspice() -> None:
    """Skip where ngspice is not installed; in continuous integration its absence is a failure."""
    if shutil.which("ngspice") is None:
        if os.environ.get("CI") == "true":
            pytest.fail("ngspice is not installed, and continuous integration must run these comparisons")
        pytest.skip("ngspice is not installed: the comparison with an independent simulator was not made")


def ngspice(circuit: str, probes: str, step: float, stop: float, start: float = 0.0, *,
            tight: bool = True, times: int = 1) -> list[list[float]]:  # fmt: skip
    """Run a transient from the initial conditions; columns: time, then one for each probe.

    times: how often in one process, for who measures what one of them takes
    """
    transient = f"tran {step} {stop} {start} {step} uic"
    before = f"repeat {times - 1}\n{transient}\ndestroy all\nend\n" if times > 1 else ""
    with tempfile.TemporaryDirectory() as folder:
        deck = f"""* derate test
{circuit}.model DI D({IDEAL})
.options {"reltol=1e-5 abstol=1e-9 vntol=1e-6" if tight else "reltol=1e-4 abstol=1e-8 vntol=1e-5"} method=gear
.control
set noaskquit
{before}{transient}
wrdata raw.txt {probes}
quit
.endc
.end
"""
        (Path(folder) / "deck.cir").write_text(deck)
        subprocess.run(["ngspice", "-b", "deck.cir"], cwd=folder, check=True, capture_output=True, timeout=120)
        table = [[float(x) for x in line.split()] for line in (Path(folder) / "raw.txt").read_text().splitlines()]
    width = len(table[0])
    return [[row[0] for row in table]] + [[row[k] for row in table] for k in range(1, width, 2)]


def mean(t: list[float], y: list[float]) -> float:
    return integral(t, y) / (t[-1] - t[0])


def integral(t: list[float], y: list[float]) -> float:
    return sum((t[k + 1] - t[k]) * (y[k] + y[k + 1]) / 2.0 for k in range(len(t) - 1))


def rms(t: list[float], y: list[float]) -> float:
    return sqrt(mean(t, [v * v for v in y]))


def load_current_bounds(load: float, mean: float, low: float, high: float) -> tuple[float, float]:
    """Least and greatest mean of load / v for a voltage of that mean between low and high, 0.01 % for the quadrature.

    Jensen below, Kantorovich above. With no mean current in the capacitor the diodes carry exactly this mean.
    """
    least = load / mean
    return least * 0.9999, least * (high + low) ** 2 / (4.0 * high * low) * 1.0001


def random_supply(rng: random.Random) -> dict[str, float]:
    """A supply of 1 to 100 W as people build them: 0.7 to 4 uF a watt, loss in R up to some per cent."""
    load = 10 ** rng.uniform(0.0, 2.0)
    mains = rng.uniform(85.0, 265.0)
    return {
        "mains": mains,
        "frequency": rng.uniform(47.0, 63.0),
        "series_resistance": max(0.002, 10 ** rng.uniform(-2.0, 0.3) * 0.01 * mains * mains / load),
        "capacitance": load * 1e-6 * rng.uniform(0.7, 4.0) * (1.0 if mains < 170.0 else 0.5),
        "load": load,
        "drop": rng.uniform(0.05, 2.0),
    }
