"""A buck or buck-boost at one case as a netlist: the input, switch, freewheel diode, inductor, the output at full load.

One without bulk capacitor stands in `following_netlist.py`, on the power stage that is written here. Behind a bulk
capacitor the input stands at the middle of where the capacitor rides. A control that skips pulses opens the switch at
its limit, a delay later, and lets a pulse of its clock through while the output is low; of the others a slow loop moves
the current at which the switch opens until the output has its full current.
"""

from __future__ import annotations

from typing import NamedTuple

from derate.design.structure import Structure
from derate.ledger.entry import SUPPLY, Case, Subject
from derate.ledger.ledger import Ledger
from derate.stress.context import BULK, part
from derate.stress.netlist import Netlist, Probe, middle, refused, with_rows
from derate.terms.quantities import named
from derate.terms.values import Category
from derate.topologies.buck.circuit import BuckParts, parts_of
from derate.topologies.buck.shape import MODES, STAGE

_PERIODS, _SEEN, _STEPS = 260, 40, 300  # of the switch, until it repeats itself; measured; steps of each
_OF_A_BURST = 200  # periods that are measured where pulses are skipped: many rows of them
_LOOP = 12.0  # periods in which the loop takes off most of what is amiss
_LINE = 50.0  # of the line that delays the opening [ohm]
_BLANKED = 0.02  # of a period: the node commutates before the next pulse is asked for
_COARSE = 1e-3  # tolerance of a run whose switch is opened by a comparator alone


class Stage(NamedTuple):
    """A stage, each figure at the middle of what is not known about this sample [SI].

    limit: current at which the switch is told to open; closed: its resistance with what lies beside it
    node: capacitance of the switch; current: of the output at full load
    """

    parts: BuckParts
    mode: str
    inductance: float
    volts: float
    drop: float
    limit: float
    closed: float
    node: float
    current: float

    def up(self, bulk: float) -> float:
        """Voltage across the inductor while the switch conducts [V]."""
        return bulk - (0.0 if self.parts.inverting else self.volts)

    @property
    def down(self) -> float:
        """Voltage across the inductor while the diode does [V]."""
        return self.volts + self.drop


class _Control(NamedTuple):
    """What closes and opens the switch. lines: with `clk` and `cmp`; period: of a pulse, about [s]

    seen: periods that are measured; held: whether a capacitor holds the output, a source otherwise
    counted: whether the length of a period is a figure of the run
    """

    lines: tuple[str, ...]
    period: float
    seen: int = _SEEN
    held: bool = False
    counted: bool = False
    tolerance: float = 1e-4


def buck_netlist(structure: Structure, ledger: Ledger, case: Case) -> Netlist:
    """The netlist. Raises ReadingError where it cannot be written."""
    stage = stage_of(structure, ledger)
    bulk = middle(ledger, BULK, "voltage", "converter", case)
    made = {"burst": _skipping, "fixed frequency": _clocked, "boundary": _empties}[stage.mode]
    control = made(structure, ledger, stage, bulk)
    lines = [f"Vin in 0 {bulk:.6g}", *power_lines(stage), *control.lines, *latch_lines()]
    lines += _capacitor(ledger, stage) if control.held else [f"Vo {across(stage)} {stage.volts:.6g}"]
    stop = (_PERIODS + max(0, control.seen - _SEEN)) * control.period
    return Netlist(
        case,
        tuple(lines),
        (*vectors_of(stage), f"icap = iinto-{stage.current:.6g}"),
        tuple(with_rows(ledger, probes_of(stage), case)),
        control.period / _STEPS,
        stop,
        stop - control.seen * control.period,
        "v(g)" if control.counted else "",
        control.tolerance,
    )


def stage_of(structure: Structure, ledger: Ledger) -> Stage:
    parts = parts_of(structure)
    if parts.odd or not (parts.output and parts.inductor and parts.chopper and parts.diodes):
        raise refused("no netlist is written of this stage", "it has one output, walked through switch and choke")
    row = ledger.find(SUPPLY, "control.type")
    word = row.value.word if row is not None and isinstance(row.value, Category) else None
    mode = MODES.get(word or "", "")
    if not mode:
        raise refused("how the switch is controlled is not known", "derate missing says how to get it")
    if mode == "boundary" and parts.lights and structure.own_inlet is None:
        raise refused("no netlist is written of a lamp whose limit sets its current", "the ledger has its figures")
    output, switch = Subject("output", (parts.output,)), part(parts.chopper)
    limit = _first(ledger, (STAGE,), "current_limit")
    return Stage(
        parts,
        mode,
        middle(ledger, part(parts.inductor), "part.inductance"),
        abs(middle(ledger, output, "plate.voltage")),
        middle(ledger, STAGE, "forward_drop"),
        limit,
        middle(ledger, STAGE, "saturation_voltage") / limit,
        _first(ledger, (switch, STAGE), "part.output_capacitance", "output_capacitance"),
        _first(ledger, (output,), "plate.full_current", "plate.current"),
    )


def _first(ledger: Ledger, subjects: tuple[Subject, ...], *quantities: str) -> float:
    """The middle of the first of these that the ledger has. Raises ReadingError where it has none."""
    for subject in subjects:
        for quantity in quantities:
            if any(row.value is not None for row in ledger.rows(subject, named(quantity))):
                return middle(ledger, subject, quantity)
    return middle(ledger, subjects[0], quantities[0])


# ---- what all of them have -------------------------------------------------------------------------------------------


def across(stage: Stage) -> str:
    return "0 o" if stage.parts.inverting else "o 0"


def power_lines(stage: Stage) -> list[str]:
    """Switch, node, inductor, freewheel diode; `vl` and `vd` carry no voltage, their currents are measured."""
    diode = "o" if stage.parts.inverting else "0"
    return [
        "S1 in sw gate 0 SW",  # a little behind the latch, which has settled by then
        "Rgate g gate 1k",
        "Cgate gate 0 20p",
        f"Coss in sw {stage.node:.6g}",
        "Vl sw l1 0",
        f"L1 l1 {'0' if stage.parts.inverting else 'o'} {stage.inductance:.6g} IC=0",
        "Vd sw d1 0",
        f"Vdrop d1 d2 {-stage.drop:.6g}",
        f"Df {diode} d2 DS",
        f".model SW SW(RON={stage.closed:.6g} ROFF=1e8 VT=0.5 VH=0.05)",
        ".model DS D(IS=1e-12 N=0.1 RS=1m CJO=10p)",
    ]


def latch_lines(hold: float = 1e-9) -> list[str]:
    """Closed by `clk`, opened by `cmp`."""
    return [
        "Vone one 0 1",
        "Sset g one clk 0 SWL",
        "Srst g 0 cmp 0 SWL",
        f"Cg g 0 {hold:.6g}",
        ".model SWL SW(RON=2 ROFF=1e9 VT=0.5 VH=0.4)",
    ]


def vectors_of(stage: Stage) -> tuple[str, ...]:
    into = "idiode" if stage.parts.inverting else "i(Vl)"
    # what the node's own charge brings through the switch as it closes is none of its current
    return ("iswitch = i(Vl)*(v(g) gt 0.5)", "idiode = -i(Vd)*(i(Vd) lt 0)", f"iinto = {into}")


def probes_of(stage: Stage) -> list[Probe]:
    switch, inductor = part(stage.parts.chopper), part(stage.parts.inductor)
    probes = [Probe(inductor, "current_rms", "RMS", "i(Vl)"), Probe(inductor, "current_peak", "MAX", "i(Vl)")]
    probes += [Probe(switch, "current_rms", "RMS", "iswitch"), Probe(switch, "current_peak", "MAX", "iswitch")]
    probes.append(Probe(switch, "current_average", "AVG", "iswitch"))
    for one in stage.parts.diodes[:1]:
        probes += [
            Probe(part(one), "current_rms", "RMS", "idiode"),
            Probe(part(one), "current_average", "AVG", "idiode"),
        ]
    stores = stage.parts.capacitors
    probes += [Probe(part(one), "ripple_current", "RMS", "icap") for one in stores[:1] if len(stores) == 1]
    return probes


# ---- behind a bulk capacitor -----------------------------------------------------------------------------------------


def _skipping(structure: Structure, ledger: Ledger, stage: Stage, bulk: float) -> _Control:
    """Each pulse of a clock runs to the limit, and is let through while the output is low."""
    period = 1.0 / middle(ledger, SUPPLY, "control.frequency")
    named = tuple(part(one) for one in (stage.parts.chopper, structure.control.by) if one)
    delay = _first(ledger, named, "limit_delay", "part.limit_delay")
    lines = (
        f"Vclk all 0 PULSE(0 1 0 5n 5n 100n {period:.8g})",
        f"Bclk clk 0 V=v(all)*(0.5+0.5*tanh(({stage.volts:.6g}-v({across(stage).replace(' ', ',')}))*1e5))",
        f"Bover over 0 V=1+tanh((i(Vl)-{stage.limit:.6g})*{400.0 / stage.limit:.6g})",
        f"Rover over told {_LINE:.6g}",
        "Cover told 0 20p",
        f"Tdelay told 0 cmp 0 Z0={_LINE:.6g} TD={delay:.6g}",
        f"Rdelay cmp 0 {_LINE:.6g}",
    )
    return _Control(lines, period, _OF_A_BURST, held=True, tolerance=_COARSE)


def _capacitor(ledger: Ledger, stage: Stage) -> list[str]:
    """The output held by its own capacitors, and its full current."""
    farads = sum(middle(ledger, part(one), "part.capacitance") for one in stage.parts.capacitors)
    plus, minus = across(stage).split()
    return [f"Co {plus} {minus} {farads:.6g} IC={stage.volts:.6g}", f"Iload {plus} {minus} {stage.current:.6g}"]


def _clocked(structure: Structure, ledger: Ledger, stage: Stage, bulk: float) -> _Control:
    """A clock closes the switch; a ramp off the current that opens it keeps every period like the first."""
    period = 1.0 / middle(ledger, SUPPLY, "control.frequency")
    share = stage.down / (stage.up(bulk) + stage.down)
    ramp = 0.6 * stage.down / stage.inductance * period
    most = stage.current / (1.0 - share if stage.parts.inverting else 1.0)
    peak = most + 0.5 * stage.up(bulk) * share * period / stage.inductance
    lines = (
        f"Vclk clk 0 PULSE(0 1 0 5n 5n 100n {period:.8g})",
        f"Vramp ramp 0 PULSE(0 {ramp:.6g} 0 {period - 1e-8:.8g} 5e-9 1e-10 {period:.8g})",
        *_loop(stage, peak + share * ramp, period),
    )
    return _Control(lines, period)


def _empties(structure: Structure, ledger: Ledger, stage: Stage, bulk: float) -> _Control:
    """The next pulse begins as the inductor has run empty."""
    share = stage.down / (stage.up(bulk) + stage.down)
    peak = 2.0 * stage.current / (1.0 - share if stage.parts.inverting else 1.0)
    period = stage.inductance * peak * (1.0 / stage.up(bulk) + 1.0 / stage.down)
    lines = (*_once_empty(period, peak), "Vramp ramp 0 0", *_loop(stage, peak, period))
    return _Control(lines, period, counted=True)


def _loop(stage: Stage, peak: float, period: float) -> tuple[str, ...]:
    """The current at which the switch opens, moved until the output has its full current."""
    into = "-i(Vd)" if stage.parts.inverting else "i(Vl)"
    gain = peak / (2.0 * stage.current * _LOOP * period)
    return (
        f"Bloop 0 set I=({stage.current:.6g}-({into}))*{gain:.6g}*1u",
        f"Cset set 0 1u IC={peak:.6g}",
        "Rset set 0 1g",
        f"Bcmp cmp 0 V=(1-v(clk))*(0.5+0.5*tanh((i(Vl)-v(set)+v(ramp))*{4000.0 / peak:.6g}))",
    )


def _once_empty(period: float, peak: float) -> tuple[str, ...]:
    """No pulse before the junction has commutated: a short blanking, then as the current comes to nothing."""
    return (
        "Boff off0 0 V=0.5+0.5*tanh((0.5-v(g))*40)",
        "Roff off0 off 1k",
        f"Coff off 0 {_BLANKED * period / 1e3:.6g}",
        f"Bclk clk 0 V=(0.5+0.5*tanh((v(off)-0.6)*50))*(0.5+0.5*tanh(({0.004 * peak:.6g}-i(Vl))*{2000.0 / peak:.6g}))",
    )
