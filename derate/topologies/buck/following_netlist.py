"""A buck or buck-boost without bulk capacitor at one case as a netlist: the mains, its rectifier, and every pulse.

Two half cycles of the mains are run. In the first the on-time is that of the crest, by volts and seconds; what it gives
the output, against the full current, scales the on-time of the second, and that one is measured. No figure of the
ledger enters but the facts of the sample. The output is held at its voltage, as behind a bulk capacitor.
"""

from __future__ import annotations

from math import sqrt

from derate.design.structure import Structure, leaves
from derate.ledger.entry import SUPPLY, Case, Subject
from derate.ledger.ledger import Ledger
from derate.stress.context import LINE, part
from derate.stress.netlist import DIODE, Netlist, Probe, either, middle, refused, with_rows
from derate.terms.values import ReadingError
from derate.topologies.buck.netlist import Stage, across, latch_lines, power_lines, probes_of, stage_of, vectors_of

_STEP = 1e-7  # [s]: the switch conducts for two microseconds and more
_MICRO = 1e-6  # the timer counts microseconds in volts [s]
_LAG = 1.5e-8  # of the timer's reset, so that the latch has opened for good by then [s]
_BLANKED = 1.2e-7  # the node commutates before the next pulse is asked for [s]
_EMPTY = 0.004  # of the peak: the inductor counts as empty


def following_netlist(structure: Structure, ledger: Ledger, case: Case) -> Netlist:
    """The netlist. Raises ReadingError where it cannot be written."""
    stage = stage_of(structure, ledger)
    if stage.mode not in ("boundary", "fixed frequency") or stage.parts.rectified != "full bridge":
        told = "one on-time over a half cycle behind a full bridge has one"
        raise refused("no netlist is written of this stage without bulk capacitor", told)
    if len(stage.parts.ladder) != 1:
        raise refused("no netlist is written of a filter of several capacitors in a row", "one section has one")
    assert case.mains is not None and case.frequency is not None
    crest, half = sqrt(2.0) * case.mains, 0.5 / case.frequency
    period = 1.0 / middle(ledger, SUPPLY, "control.frequency") if stage.mode == "fixed frequency" else 0.0
    on = _at_the_crest(stage, crest, period)
    held = sum(middle(ledger, part(one), "part.capacitance") for one in stage.parts.capacitors)
    into = f"{'-i(Vd)' if stage.parts.inverting else 'i(Vl)'}"
    lines = [
        *_input(structure, ledger, stage, crest, case.frequency),
        *power_lines(stage),
        f"Vo {across(stage)} {stage.volts:.6g}",
        *_first_half(stage, into, half, on, fixed=period > 0.0),
        *_timer(),
        *(_clock(period) if period else _once_empty(stage, 2.0 * stage.current)),
        *latch_lines(),
        f"Bslow 0 slow I=({into}-{stage.current:.6g})*{1e-3 / held if held else 1.0:.6g}",
        "Cslow slow 0 1m",
        DIODE,
    ]
    return Netlist(
        case,
        tuple(lines),
        (*vectors_of(stage), f"icap = iinto-{stage.current:.6g}", "iline = abs(i(Vline))"),
        tuple(with_rows(ledger, _probes(stage), case)),
        _STEP,
        2.0 * half,
        half,
        tolerance=1e-3,
    )


def _at_the_crest(stage: Stage, crest: float, period: float) -> float:
    """On-time that gives twice the full current at the crest, as a half cycle of it about does [s].

    period: of the clock [s], none where each pulse begins as the inductor has run empty
    """
    up = stage.up(crest)
    if up <= 0.0:
        raise refused("the mains does not reach the output", "derate stress says so of the stage")
    share = up / (up + stage.down) if stage.parts.inverting else 1.0  # of a period in which the output is fed
    if not period:
        return 4.0 * stage.current / share * stage.inductance / up
    given = (0.5 / stage.inductance) * up * (up / stage.down + (0.0 if stage.parts.inverting else 1.0)) / period
    return sqrt(2.0 * stage.current / given)


def _input(structure: Structure, ledger: Ledger, stage: Stage, crest: float, hertz: float) -> list[str]:
    """Mains, what stands in series with it, the bridge, its film capacitors; `in` is the rectified rail, 0 its foot."""
    series = [name for name, place in structure.places.items() if place == "mains series"]
    resistance = middle(ledger, SUPPLY, "site.mains_resistance") + sum(_resistance(ledger, name) for name in series)
    filtering = [leaf.name for one in stage.parts.filtering for leaf in leaves(one)]
    lines = [
        f"Vmains m n sin(0 {crest:.6g} {hertz:.6g})",
        f"Rline m m1 {max(resistance, 1e-3):.6g}",
        f"Lline m1 m2 {max(middle(ledger, LINE, 'line_inductance'), 1e-9):.6g}",
        "Vline m2 a 0",
        "D1 a in DR",
        "D2 0 a DR",
        "D3 n in DR",
        "D4 0 n DR",
        "Rn n 0 10meg",
    ]
    return lines + [
        f"Cin{number} in 0 {middle(ledger, part(name), 'part.capacitance'):.6g}"
        for number, name in enumerate(filtering, 1)
    ]


def _resistance(ledger: Ledger, name: str) -> float:
    """Of one series part while it runs [ohm]; of one with none stated nothing."""
    try:
        return middle(ledger, part(name), "series_resistance", "resistance hot")
    except ReadingError:
        return either(ledger, part(name), "part.resistance", 0.0)


def _first_half(stage: Stage, into: str, half: float, on: float, fixed: bool) -> tuple[str, ...]:
    """The node `on`, in microseconds: the guess, and behind the first half cycle what that one came to.

    What is given goes with the on-time in critical conduction, with its square at a fixed frequency.
    """
    wanted = stage.current * half * 1e3
    scaled = f"{wanted:.6g}/max(v(q),{0.01 * wanted:.6g})"
    return (
        f"Vfirst first 0 PULSE(1 0 {half:.8g} 1u 1u 1 2)",
        f"Bq 0 q I=({into})*v(first)",
        "Cq q 0 1m",
        "Rq q 0 1g",
        f"Bon on 0 V={on / _MICRO:.6g}*(v(first)+(1-v(first))*{f'sqrt({scaled})' if fixed else scaled})",
    )


def _timer() -> tuple[str, ...]:
    """Counts while the latch is closed, and opens it at `on`."""
    return (
        "Btm 0 tm I=1u",
        "Ctm tm 0 1p",
        "Stm tm 0 tr 0 SWT",
        ".model SWT SW(RON=1k ROFF=1e12 VT=0.5 VH=0.1)",
        "Bng ng 0 V=0.5+0.5*tanh((0.5-v(g))*40)",
        "Rtr ng tr 1k",
        f"Ctr tr 0 {_LAG / 1e3:.6g}",
        "Bcmp cmp 0 V=0.5+0.5*tanh((v(tm)-v(on))*50)",
    )


def _clock(period: float) -> tuple[str, ...]:
    return (f"Vclk clk 0 PULSE(0 1 0 5n 5n 100n {period:.8g})",)


def _once_empty(stage: Stage, peak: float) -> tuple[str, ...]:
    """The next pulse as the inductor has run empty; none while the rectified mains stands below what it has to lift."""
    above = "v(in)" if stage.parts.inverting else "v(in,o)"
    return (
        "Roff ng off 1k",
        f"Coff off 0 {_BLANKED / 1e3:.6g}",
        "Bclk clk 0 V=(0.5+0.5*tanh((v(off)-0.6)*50))"
        f"*(0.5+0.5*tanh(({_EMPTY * peak:.6g}-i(Vl))*{2.0 / (_EMPTY * peak):.6g}))*(0.5+0.5*tanh(({above}-1)*4))",
    )


def _probes(stage: Stage) -> list[Probe]:
    probes = [Probe(LINE, "current_rms", "RMS", "i(Vline)"), Probe(LINE, "current_peak", "MAX", "iline")]
    probes += [Probe(SUPPLY, "mains_current", "RMS", "i(Vline)"), *probes_of(stage)]
    probes += [Probe(part(one), "current_average", "AVG", "iinto") for one in stage.parts.lights[:1]]
    if stage.parts.capacitors:
        probes.append(Probe(Subject("output", (stage.parts.output,)), "ripple_slow", "PP", "v(slow)"))
    return probes
