"""A buck or buck-boost stage in ngspice: switch, freewheel diode, inductor, each way of control, in its steady state.

The switch opens at a set current, with a fixed frequency less a ramp that keeps every second period like the first;
the next period begins with a clock, with a clock that skips periods, or when the inductor has run empty. Capacitance of
the node, copper, drops and the charging of the junction are in it, the formulas leave them out.
"""

from __future__ import annotations

import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

Array = np.ndarray[Any, np.dtype[np.float64]]

_DECK = """* derate test: buck stage
Vin in 0 {bulk}
S1 in sw g 0 SW
Vd sw d1 0
Vf d1 d2 {minus_drop}
{power}
Coss in sw {node}
{trigger}
Vone one 0 1
Sset g one clk 0 SWL
Bcmp cmp 0 V = (1-v(clk))*(0.5+0.5*tanh((i(Vl)-{peak}+v(ramp))*{steep}))
Srst g 0 cmp 0 SWL
Cg g 0 {hold}
.model SWL SW(RON=2 ROFF=1e9 VT=0.5 VH=0.02)
.model SW SW(RON={on} ROFF=1e8 VT=0.5 VH=0.05)
.model DS D(IS=1e-12 N=0.1 RS=1m CJO=10p)
.options reltol=1e-4 abstol=1e-8 vntol=1e-5 method=gear
.control
set noaskquit
tran {step} {stop} {begin} {step} uic
wrdata raw.txt i(Vl) i(Vd) v(g) i(Vin)
quit
.endc
.end
"""


@dataclass(frozen=True)
class Stage:
    """One stage [SI]. peak: current at which the switch opens; mode: 'fixed frequency', 'boundary' or 'burst'

    run, of: of a burst the pulses in a row and the periods until the next row; duty: on-time over period where it opens
    """

    mode: str
    inverting: bool
    bulk: float
    output: float
    drop: float
    inductance: float
    copper: float
    on_resistance: float
    node: float
    frequency: float
    peak: float
    duty: float
    run: int = 1
    of: int = 1


class Unsteady(AssertionError):
    """The circuit does not repeat itself: not a steady state."""


@dataclass(frozen=True)
class Measured:
    """What ngspice shows of whole periods at the end [SI]."""

    current: float
    frequency: float
    peak: float
    valley: float
    inductor_rms: float
    switch_rms: float
    switch_average: float
    diode_rms: float
    diode_average: float
    capacitor_rms: float
    duty: float


def deck(one: Stage, cycles: int, seen: int) -> str:
    period = 1.0 / one.frequency
    down = one.output + one.drop
    if one.inverting:
        power = f"Vl sw l1 0\nRl l1 l2 {one.copper}\nL1 l2 0 {one.inductance} IC=0\nDf o d2 DS\nVo 0 o {one.output}"
    else:
        power = f"Vl sw l1 0\nRl l1 l2 {one.copper}\nL1 l2 o {one.inductance} IC=0\nDf 0 d2 DS\nVo o 0 {one.output}"
    threshold = one.peak
    if one.mode == "boundary":
        # no second pulse before the junction has commutated: a short blanking, then on the way down through nothing
        trigger = (
            "Vramp ramp 0 0\n"
            "Boff off0 0 V = 0.5+0.5*tanh((0.5-v(g))*40)\nRoff off0 off 1k\n"
            f"Coff off 0 {0.02 * period / 1e3}\n"
            "Bclk clk 0 V = (0.5+0.5*tanh((v(off)-0.6)*50))*(0.5+0.5*tanh((0.004*"
            f"{one.peak}-i(Vl))*{2000.0 / one.peak}))"
        )
    else:
        ramp = 0.6 * down / one.inductance * period if one.mode == "fixed frequency" else 0.0
        gate = f"Vclk0 clk0 0 PULSE(0 1 0 5n 5n 100n {period})\n"
        on_for = one.run * period - 0.3 * period
        gate += (
            f"Vrun run 0 PULSE(0 1 {-0.1 * period} 5n 5n {on_for} {one.of * period})\nBclk clk 0 V=v(clk0)*v(run)\n"
            if one.of > 1
            else "Bclk clk 0 V=v(clk0)\n"
        )
        trigger = gate + f"Vramp ramp 0 PULSE(0 {max(ramp, 1e-12)} 0 {period - 1e-8} 5e-9 1e-10 {period})"
        threshold += ramp * one.duty
    step = min(period / 400.0, one.duty * period / 60.0)
    return _DECK.format(
        bulk=one.bulk,
        minus_drop=-one.drop,
        power=power,
        node=one.node,
        trigger=trigger,
        peak=threshold,
        steep=4000.0 / one.peak,
        hold=5e-11 if one.mode == "boundary" else 1e-9,
        on=one.on_resistance,
        step=step,
        stop=cycles * period,
        begin=(cycles - seen) * period,
    )


def measured(one: Stage, cycles: int = 150, seen: int = 0) -> Measured:
    """Run it and read off whole periods, of a burst whole rows of pulses with their pause."""
    seen = seen or max(10, 4 * one.of + 2)
    cycles = max(cycles, 8 * one.of)
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "deck.cir").write_text(deck(one, cycles, seen))
        subprocess.run(["ngspice", "-b", "deck.cir"], cwd=folder, check=True, capture_output=True, timeout=300)
        table = np.loadtxt(Path(folder) / "raw.txt")
    t, (inductor, diode, gate, _) = table[:, 0], table[:, 1::2].T
    rising = np.nonzero((gate[1:] > 0.5) & (gate[:-1] <= 0.5))[0]
    every = one.run if one.of > 1 else 1
    rising = rising[::every] if every == 1 else _first_of_each_row(t, rising, 1.5 / one.frequency)
    if len(rising) < 3:
        raise Unsteady("no whole periods")
    first, last = rising[0], rising[-1]
    spans = list(zip(rising[:-1], rising[1:], strict=True))
    tops = [float(inductor[a:b].max()) for a, b in spans]
    if max(tops) > 1.01 * min(tops):
        raise Unsteady(f"peaks {min(tops):.4g} to {max(tops):.4g} A")
    t, inductor, diode, gate = (one_[first : last + 1] for one_ in (t, inductor, diode, gate))
    span = t[-1] - t[0]

    def mean(y: Array) -> float:
        return float(np.trapezoid(y, t) / span)

    on = gate > 0.5
    switch = np.where(on, inductor, 0.0)  # what the node's capacitance brings through it at turn-on is left out
    diode = np.maximum(-diode, 0.0)
    into = diode if one.inverting else inductor
    load = mean(into)
    return Measured(
        load,
        (len(rising) - 1) * every / span,
        float(inductor.max()),
        float(inductor.min()),
        mean(inductor**2) ** 0.5,
        mean(switch**2) ** 0.5,
        mean(switch),
        mean(diode**2) ** 0.5,
        mean(diode),
        max(0.0, mean(into**2) - load**2) ** 0.5,
        mean(on.astype(float)),
    )


def _first_of_each_row(t: Array, rising: Any, gap: float) -> Any:
    keep = [k for k in range(1, len(rising)) if t[rising[k]] - t[rising[k - 1]] > gap]
    return rising[keep]
