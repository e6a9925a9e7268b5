"""A flyback stage in ngspice: switch, leakage with its ring, clamp, rectifier, output capacitor, in its steady state.

The circuit holds what the formulas leave out (charging of the drain, ring of leakage and drain capacitance, the swing
of the drain after the secondary has stopped), so that what they report is held to the whole. The switch opens at a set
current, less a ramp that keeps every second period like the first; the next period begins with a clock, or in boundary
operation when the magnetising current has come to zero.
"""

from __future__ import annotations

import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

Array = np.ndarray[Any, np.dtype[np.float64]]

_DECK = """* derate test: flyback stage
Vdc in 0 {bulk}
Vp in in1 0
Llk in1 x1 {leakage} IC={start}
{damping}
Lm x1 d {magnetising} IC={start}
Rm x1 d 3meg
Fs d x1 Vs {inverse}
Es s 0 d x1 {inverse}
Vs s s1 0
Vf s1 s2 {drop}
Do s2 o DS
{load}
S1 d 0 g 0 SW
Coss d 0 {drain}
{clamp}
{trigger}
Vone one 0 1
Sset g one clk 0 SWL
Bcmp cmp 0 V = (1-v(clk))*(0.5+0.5*tanh((i(Vp)-{peak}+v(ramp))*2000))
Srst g 0 cmp 0 SWL
Cg g 0 {hold}
.model SWL SW(RON=2 ROFF=1e9 VT=0.5 VH=0.02)
.model SW SW(RON=0.02 ROFF=1e8 VT=0.5 VH=0.05)
.model DS D(IS=1e-12 N=0.1 RS=1m CJO=10p)
.model DC D(IS=1e-9 N=1 RS=0.1 CJO=2p)
.options reltol=1e-4 abstol=1e-8 vntol=1e-5 method=gear
.control
set noaskquit
tran {step} {stop} {begin} {step} uic
wrdata raw.txt i(Vp) v(d) v(k,in) i(Vs) i(Vc) v(o) v(g)
quit
.endc
.end
"""


@dataclass(frozen=True)
class Stage:
    """One stage [SI]. peak: current at which the switch opens; damping: resistor across the leakage, 0 for none.

    duty: on-time over period where `peak` is reached
    boundary: each period begins when the magnetising current is zero, `frequency` is then only where it is expected
    """

    bulk: float
    output: float
    drop: float
    ratio: float
    magnetising: float
    leakage: float
    frequency: float
    drain: float
    resistance: float
    capacitance: float
    peak: float
    duty: float = 0.4
    damping: float = 0.0
    boundary: bool = False
    output_capacitance: float = 0.0
    output_resistance: float = 0.0


class Unsteady(AssertionError):
    """The circuit does not repeat itself: not a steady state."""


@dataclass(frozen=True)
class Measured:
    """What ngspice shows of the last periods [SI]; ripple peak to peak; powers are means."""

    frequency: float
    winding_rms: float
    winding_peak: float
    switch_rms: float
    switch_peak_current: float
    switch_average: float
    switch_peak: float
    clamp_voltage: float
    clamp_peak: float
    clamp_power: float
    clamp_diode_peak: float
    clamp_diode_average: float
    secondary_average: float
    secondary_rms: float
    secondary_peak: float
    capacitor_rms: float
    ripple: float
    drawn: float


def deck(stage: Stage, clamp_start: float, load: float | None, cycles: int, seen: int) -> str:
    """The netlist; load: current drawn from the output capacitor [A], None: the output is a voltage source."""
    period = 1.0 / stage.frequency
    step = period / 400.0
    if load is None:
        output = f"Vo o 0 {stage.output}"
    else:
        output = (
            f"Vco o o9 0\nRo o9 o8 {max(stage.output_resistance, 1e-6)}\n"
            f"Co o8 0 {stage.output_capacitance} IC={stage.output}\nIo o 0 {load}"
        )
    clamp = (
        f"Dc d k1 DC\nVc k1 k 0\nRc k in {stage.resistance}\nCc k in {stage.capacitance} IC={clamp_start}"
    )
    threshold = stage.peak
    if stage.boundary:
        trigger = (
            "Vramp ramp 0 0\n"
            "Boff off0 0 V = 0.5+0.5*tanh((0.5-v(g))*40)\nRoff off0 off 1k\n"
            f"Coff off 0 {0.05 * period / 1e3}\n"
            "Bclk clk 0 V = (0.5+0.5*tanh((v(off)-0.6)*50))*(0.5+0.5*tanh((0.004*"
            f"{stage.peak}-i(Vp)-{1.0 / stage.ratio}*i(Vs))*{2000.0 / stage.peak}))"
        )
    else:
        reflected = stage.ratio * (stage.output + stage.drop)
        ramp = 0.6 * reflected / stage.magnetising * period  # more than half of the current's fall: no subharmonics
        trigger = (
            f"Vclk clk 0 PULSE(0 1 0 5n 5n 100n {period})\n"
            f"Vramp ramp 0 PULSE(0 {ramp} 0 {period - 1e-8} 5e-9 1e-10 {period})"
        )
        threshold += ramp * stage.duty
    return _DECK.format(
        bulk=stage.bulk, leakage=stage.leakage, magnetising=stage.magnetising, inverse=1.0 / stage.ratio,
        drop=stage.drop, load=output, drain=stage.drain, clamp=clamp, trigger=trigger, peak=threshold,
        hold=5e-11 if stage.boundary else 1e-9,
        damping=f"Rd in1 x1 {stage.damping}" if stage.damping else "",
        start=0.0, step=step, stop=cycles * period, begin=(cycles - seen) * period,
    )  # fmt: skip


def measured(stage: Stage, clamp_start: float, load: float | None = None, cycles: int = 120, seen: int = 8) -> Measured:
    """Run it and read off whole periods at the end."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "deck.cir").write_text(deck(stage, clamp_start, load, cycles, seen + 2))
        subprocess.run(["ngspice", "-b", "deck.cir"], cwd=folder, check=True, capture_output=True, timeout=300)
        table = np.loadtxt(Path(folder) / "raw.txt")
    t, (winding, drain, clamp, secondary, diode, out, gate) = table[:, 0], table[:, 1::2].T
    # whole periods: from one closing of the switch to another
    rising = np.nonzero((gate[1:] > 0.5) & (gate[:-1] <= 0.5))[0]
    first, last = rising[0], rising[-1]
    count = len(rising) - 1
    # the output may still creep: its straight drift is no ripple
    level = out - out[first] - (out[last] - out[first]) * (t - t[first]) / (t[last] - t[first])
    spans = list(zip(rising[:-1], rising[1:], strict=True))
    ripples = [float(level[a:b].max() - level[a:b].min()) for a, b in spans]
    tops = [float(secondary[a:b].max()) for a, b in spans]
    if max(tops) > 1.004 * min(tops):
        raise Unsteady(f"peaks of the secondary {min(tops):.4g} to {max(tops):.4g} A")
    t, winding, drain, clamp, secondary, diode, out, gate = (
        one[first : last + 1] for one in (t, winding, drain, clamp, secondary, diode, out, gate)
    )
    span = t[-1] - t[0]

    def mean(y: Array) -> float:
        return float(np.trapezoid(y, t) / span)

    on = gate > 0.5
    switch = np.where(on, winding, 0.0)
    load = mean(secondary)
    power = mean(clamp**2) / stage.resistance
    return Measured(
        frequency=count / span,
        winding_rms=mean(winding**2) ** 0.5,
        winding_peak=float(winding.max()),
        switch_rms=mean(switch**2) ** 0.5,
        switch_peak_current=float(switch.max()),
        switch_average=mean(switch),
        switch_peak=float(drain.max()),
        clamp_voltage=mean(clamp),
        clamp_peak=float(clamp.max()),
        clamp_power=power,
        clamp_diode_peak=float(diode.max()),
        clamp_diode_average=mean(diode),
        secondary_average=load,
        secondary_rms=mean(secondary**2) ** 0.5,
        secondary_peak=float(secondary.max()),
        capacitor_rms=mean((secondary - load) ** 2) ** 0.5,
        ripple=sum(ripples) / len(ripples),
        drawn=stage.bulk * (mean(winding) - mean(diode)),
    )
