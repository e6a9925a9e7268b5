"""Our solvers against ngspice on the same circuits: processor time of both, and how far the figures lie apart.

ngspice is handed our own steady state to begin with, so that it has a few periods to simulate only: the comparison
favours it. A short simulation takes less than the start of the process moves by: its time is that of several more in
one process, by their number; that of a long one is that of its process. The circuits are those of tests that compare.
"""

from __future__ import annotations

import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from math import pi, radians, sqrt
from pathlib import Path
from resource import RUSAGE_CHILDREN, getrusage
from timeit import repeat
from typing import NamedTuple

import flyback_stage
import mains_bench as bench

from derate.circuit.numerics import charging_terms, until_zero
from derate.circuit.pulse import switch_on
from derate.circuit.rectifier import steady_state

DECK = Path(__file__).parents[1] / "tests" / "data" / "flyback_random.cir.txt"
SEVERAL = 40  # simulations more in one process, where one takes no longer than its start
TIMES = 50  # calls of our own solver in one reading: one of them is too short for the processor's clock
Table = list[list[float]]
Pairs = list[tuple[str, float, float]]  # figure, ours, ngspice's


class Against(NamedTuple):
    """One circuit: processor times of our solver and of ngspice [s], and each figure of both."""

    name: str
    own: list[float]
    ngspice: list[float]
    figures: Pairs


class _Circuit(NamedTuple):
    name: str
    solve: Callable[[], object]
    simulate: Callable[[int], Table]  # so often in one process
    figures: Callable[[Table], Pairs]
    more: int = SEVERAL  # simulations in a process besides the first; none: the start of it is nothing beside the first


def comparisons(runs: int) -> Iterator[Against]:
    """Steady state, switch-on and one flyback stage."""
    for one in (_steady(), _switch_on(), _flyback()):
        own = [taken / TIMES for taken in repeat(one.solve, timer=time.process_time, number=TIMES, repeat=runs)]
        simulated = [_children(one.simulate, 1) for _ in range(runs)]
        taken = [seconds for seconds, _ in simulated]
        if one.more:
            least = min(taken)
            taken = [(_children(one.simulate, 1 + one.more)[0] - least) / one.more for _ in range(runs)]
        yield Against(one.name, own, taken, one.figures(simulated[0][1]))


def _children(simulate: Callable[[int], Table], times: int) -> tuple[float, Table]:
    """Processor time of the processes that so many simulations take [s], and the last of them."""
    before = getrusage(RUSAGE_CHILDREN)
    found = simulate(times)
    after = getrusage(RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime, found


def _steady() -> _Circuit:
    """A bridge with its capacitor at constant power: 30 W from 230 V 50 Hz."""
    given = {"mains": 230.0, "frequency": 50.0, "series_resistance": 5.0, "capacitance": 47e-6, "load": 30.0,
             "drop": bench.IDEAL_DROP}  # fmt: skip
    found = steady_state(**given)
    assert found is not None
    period = 1.0 / given["frequency"]
    deck = f"""Vac a1 b SIN(0 {sqrt(2.0) * given["mains"]} {given["frequency"]} 0 0 90)
Vs a1 a2 0
R1 a2 a {given["series_resistance"]}
{bench.BRIDGE}C1 p pc {given["capacitance"]} IC={found.bulk_max}
Vc pc 0 0
Bload p 0 I = {given["load"]}/max(v(p),5)
"""

    def figures(table: Table) -> Pairs:
        t, line, bulk, capacitor = table
        return [
            ("valley", found.bulk_min, min(bulk)),
            ("line rms", found.line_rms, bench.rms(t, line)),
            ("line peak", found.line_peak, max(abs(i) for i in line)),
            ("capacitor rms", found.capacitor_rms, bench.rms(t, capacitor)),
        ]

    return _Circuit(
        "steady state of the mains input",
        lambda: steady_state(**given),
        lambda times: bench.ngspice(deck, "i(Vs) v(p) i(Vc)", 2e-6, 4.0 * period, 3.0 * period, times=times),
        figures,
        more=2,
    )


def _switch_on() -> _Circuit:
    """The same input with 1 mH ahead of it, switched on at the crest."""
    given = {"mains": 230.0, "frequency": 50.0, "series_resistance": 5.0, "inductance": 1e-3, "capacitance": 47e-6,
             "drop": bench.IDEAL_DROP}  # fmt: skip
    angle, omega, crest = radians(90.0), 2.0 * pi * given["frequency"], sqrt(2.0) * given["mains"]
    solve = lambda: switch_on(**given, angle=angle, refills=False)  # noqa: E731
    found = solve()
    parts = [given[key] for key in ("series_resistance", "inductance", "capacitance", "drop")]
    end = until_zero(charging_terms(crest, omega, angle, *parts, 0.0), omega)[0]
    deck = f"""Vac a1 b SIN(0 {crest} {given["frequency"]} 0 0 {angle * 180.0 / pi})
Vs a1 a2 0
R1 a2 a3 {given["series_resistance"]}
L1 a3 a {given["inductance"]} IC=0
{bench.BRIDGE}C1 p 0 {given["capacitance"]} IC=0
"""

    def figures(table: Table) -> Pairs:
        t, line, bulk = table
        return [
            ("peak", found.peak, max(abs(i) for i in line)),
            ("I²t", found.i2t, bench.integral(t, [i * i for i in line])),
            ("bulk peak", found.bulk_peak, max(bulk)),
        ]

    return _Circuit(
        "switch-on", solve, lambda times: bench.ngspice(deck, "i(Vs) v(p)", 2e-6, end, times=times), figures
    )  # fmt: skip


def _flyback() -> _Circuit:
    """One stage at its load, of diodes without junction capacitance, as our formulas have them.

    With the 20 pF and 2 pF of the deck of the tests the clamp stands 2.6 % and the switch 0.8 % lower than said: the
    leakage charges those junctions before it gives the clamp any, which the band of the clamp holds. Without them it is
    0.5 % lower, half of that the drop of its diode, and the switch 0.1 %.
    """
    transformer = flyback_stage.Transformer(671e-6, 4.5e-6, 85.0, 6.5)
    parts, bulk, frequency = flyback_stage.ClampParts(33e3, 10e-9), 300.0, 66e3
    solve = lambda: flyback_stage.stage_at_load(bulk, 40.0, frequency, transformer, parts)  # noqa: E731
    found = solve()
    stop = max(120.0 / frequency, 7.0 * parts.resistance * parts.capacitance)
    filled = DECK.read_text(encoding="utf-8").format(
        bulk=bulk, leak=transformer.leakage, lm=transformer.magnetising, inv=1.0 / transformer.turns_ratio,
        vo=transformer.reflected / transformer.turns_ratio - 0.45, T=1.0 / frequency, ipk=found.primary.peak,
        v0=found.primary.valley, vc=found.clamp.voltage, rc=parts.resistance, cc=parts.capacitance,
        Coss=1e-12, coss=1e-12, h=1.0 / frequency / 300.0, stop=stop, start=stop - 20.0 / frequency,
    )  # fmt: skip
    for junction in ("CJO=20p", "CJO=2p"):
        assert filled.count(f" {junction})") == 1
        filled = filled.replace(f" {junction})", " CJO=0)")

    def simulate() -> Table:
        with tempfile.TemporaryDirectory() as folder:
            (Path(folder) / "deck.cir").write_text(filled)
            subprocess.run(["ngspice", "-b", "deck.cir"], cwd=folder, check=True, capture_output=True, timeout=300)
            rows = [[float(x) for x in line.split()] for line in (Path(folder) / "OUT.txt").read_text().splitlines()]
        return [[row[0] for row in rows]] + [[row[k] for row in rows] for k in range(1, len(rows[0]), 2)]

    def figures(table: Table) -> Pairs:
        t, primary, drain, clamp, secondary, _ = table
        return [
            ("primary peak", found.primary.peak, max(primary)),
            ("clamp voltage", found.clamp.voltage, bench.mean(t, clamp)),
            ("switch peak", found.clamp.switch_peak, max(drain)),
            ("secondary rms", found.secondary.rms_ringing, bench.rms(t, secondary)),
        ]

    return _Circuit("one flyback stage", solve, lambda _: simulate(), figures, more=0)
