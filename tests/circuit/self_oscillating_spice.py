"""A self-oscillating flyback in ngspice: one bipolar switch, drive winding, second transistor or none, in steady state.

All windings on one core with leakage between each two, silicon diodes, transistors of Gummel and Poon with the charge
that they store: nothing of the formulas enters, no clock and no controlled source decides when the switch opens.
"""

from __future__ import annotations

import subprocess
import tempfile
from dataclasses import dataclass
from math import log
from pathlib import Path
from typing import Any

import numpy as np

Array = np.ndarray[Any, np.dtype[np.float64]]

_DECK = """* derate test: self-oscillating flyback
Vdc in 0 {bulk}
Vp in x1 0
L1 x1 c {inductance}
L2 0 s {secondary}
L3 a 0 {driving}
K12 L1 L2 {coupling}
K13 L1 L3 {coupling}
K23 L2 L3 {coupling}
Rm x1 c 2meg
Vs s s1 0
Do s1 o DS
Cs s1 0 20p
Vo o o1 0
{load}
Ca a 0 10p
Rda a 0 50k
Rb a a2 {resistance}
{series}
Rst in b {start}
{base}
Vc c cc 0
Vb b bb 0
Q1 cc bb e QSW
{sense}
Ce c 0 {drain} IC={bulk}
{clamp}
{zener}
.model QSW NPN(IS=1e-14 BF={gain} IKF={knee} VAF=300 BR=1 TF=20n TR={stores} CJE=60p CJC=8p RC=0.5 RB=3)
.model QS NPN(IS={second} BF=200 TF=0.4n TR=20n CJE=5p CJC=4p RB=10)
.model DS D(IS=1e-6 N=1.05 RS=10m CJO=80p)
.model DC D(IS=1e-9 N=1.8 RS=0.1 CJO=3p TT=2n)
.model DB D(IS=1e-9 N=1.8 RS=0.5 CJO=4p TT=4n)
.temp {celsius}
.options reltol=1e-3 abstol=1e-8 vntol=1e-5 method=gear
.control
set noaskquit
tran {step} {stop} {begin} {step} uic
wrdata raw.txt i(Vc) v(c) v(b) v(e) i(Vs) v(o) v(a) i(Vb) i(Vp)
quit
.endc
.end
"""


class Unsteady(AssertionError):
    """It does not oscillate, or no two periods are alike."""


@dataclass(frozen=True)
class Circuit:
    """One supply [SI]; turns as ratios of the primary's over the winding's.

    sense: in the emitter with the second transistor across the base, 0: neither is there; capacitance: in series with
    the drive, 0: none; base_diode: from the emitter's return to the base; stores: what sets the storage time
    zener: on the rail of the drive winding, from the base, 0: nothing regulates
    bleed: of a clamp, 0: none; current: of the load, which takes it whatever the voltage above 2 V
    smoothing: of the output, which begins at `held`, where there is a current
    """

    bulk: float = 325.0
    inductance: float = 3e-3
    coupling: float = 0.992
    ratio: float = 15.0
    driving: float = 13.0
    drain: float = 30e-12
    resistance: float = 470.0
    capacitance: float = 22e-9
    start: float = 2.2e6
    base_diode: bool = True
    sense: float = 4.7
    gain: float = 25.0
    knee: float = 0.6
    stores: float = 1e-6
    second: float = 6e-15
    zener: float = 0.0
    bleed: float = 150e3
    held: float = 5.0
    current: float = 0.0
    smoothing: float = 47e-6
    celsius: float = 27.0

    @property
    def thermal(self) -> float:
        """kT/q [V]."""
        return 8.617e-5 * (self.celsius + 273.15)

    def threshold(self, current: float) -> float:
        """Base-emitter voltage of the second transistor at 25 degC and a current, its base resistance left out [V]."""
        return 8.617e-5 * 298.15 * log(current / self.second)


@dataclass(frozen=True)
class Seen:
    """What the last periods show [SI]; powers are means."""

    frequency: float
    peak: float
    rms: float
    average: float
    voltage: float
    reverse: float
    drive_voltage: float
    base: float
    stored: float
    secondary_peak: float
    secondary: float
    output: float
    carried: float


def deck(one: Circuit, stop: float, begin: float, step: float) -> str:
    """The netlist. The output is a voltage source where `current` is nothing, a capacitor with a load otherwise."""
    load = f"Vh o1 0 {one.held}"
    if one.current > 0.0:
        load = f"Co o1 0 {one.smoothing} IC={one.held}\nBo o1 0 I = {one.current}*tanh(v(o1)/2)"
    sense = f"Re e 0 {one.sense}\nQ2 b e 0 QS" if one.sense > 0.0 else "Ve e 0 0"
    zener = ""
    if one.zener > 0.0:
        zener = (
            f"Dr rail a DB\nCr rail 0 1u IC={0.8 - one.zener}\n"
            f"Dz b z1 DB\nVz z1 rail {one.zener - 0.6}"
        )
    return _DECK.format(
        bulk=one.bulk, inductance=one.inductance, secondary=one.inductance / one.ratio**2,
        driving=one.inductance / one.driving**2, coupling=one.coupling, load=load, resistance=one.resistance,
        series=f"Cb a2 b {one.capacitance}" if one.capacitance > 0.0 else "Vcb a2 b 0",
        start=one.start, base="Dbe 0 b DB" if one.base_diode else "Rbe b 0 100k", sense=sense, drain=one.drain,
        clamp=f"Dc c k DC\nRc k in {one.bleed}\nCc k in 1n IC={1.4 * one.ratio * one.held}" if one.bleed > 0.0 else "",
        zener=zener, gain=one.gain, knee=one.knee, stores=one.stores, second=one.second, celsius=one.celsius,
        step=step, stop=stop, begin=begin,
    )


def seen(one: Circuit, stop: float = 1.2e-3, window: float = 0.25e-3, step: float = 10e-9,
         alike: bool = True) -> Seen:
    """Run it and read off whole periods at the end; alike: refuse those that differ, as where it squegs."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "deck.cir").write_text(deck(one, stop, stop - window, step))
        subprocess.run(["ngspice", "-b", "deck.cir"], cwd=folder, check=False, capture_output=True, timeout=300)
        raw = Path(folder) / "raw.txt"
        if not raw.exists():
            raise Unsteady("the simulation did not end")
        table = np.loadtxt(raw)
    t, columns = table[:, 0], table[:, 1::2].T
    collector, node, base, emitter, secondary, out, winding, into_base, primary = columns
    on = node - emitter < 0.2 * one.bulk
    starts = np.nonzero(on[1:] & ~on[:-1])[0]
    if len(starts) < 4:
        raise Unsteady(f"{len(starts)} periods in {window:g} s")
    lengths = np.diff(t[starts])
    first, last = starts[0], starts[-1]
    whole = slice(first, last + 1)
    span = t[last] - t[first]

    def mean(y: Array) -> float:
        return float(np.trapezoid(y[whole], t[whole]) / span)

    peaks, stored = [], []
    for begin, end in zip(starts[:-1], starts[1:], strict=True):
        top = begin + int(np.argmax(collector[begin:end]))
        peaks.append(float(collector[top]))
        # from the moment the base is no longer driven to the crest: what the switch stored
        ahead = np.nonzero(into_base[begin : top + 1] > 0.0)[0]
        stored.append(float(t[top] - t[begin + ahead[-1]]) if len(ahead) else 0.0)
    if alike and (max(peaks) > 1.03 * min(peaks) or lengths.max() > 1.05 * lengths.min()):
        spans = f"periods {lengths.min():.3g} to {lengths.max():.3g} s"
        raise Unsteady(f"peaks {min(peaks):.4g} to {max(peaks):.4g} A, {spans}")
    return Seen(
        frequency=(len(starts) - 1) / span,
        peak=sum(peaks) / len(peaks),
        rms=mean(collector**2) ** 0.5,
        average=mean(collector),
        voltage=float((node - emitter)[whole].max()),
        reverse=float(-(base - emitter)[whole].min()),
        drive_voltage=float(winding[whole].max()),
        base=float(into_base[whole].max()),
        stored=sum(stored) / len(stored),
        secondary_peak=float(secondary[whole].max()),
        secondary=mean(secondary),
        output=mean(out),
        carried=one.bulk * mean(primary),
    )
