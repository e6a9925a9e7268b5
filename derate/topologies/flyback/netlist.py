"""A flyback stage at one case as a netlist: the bulk as it is at its lowest, switch, transformer, clamp, its outputs.

The output is held at its voltage, and a slow loop moves the current at which the switch opens until the output
carries its full current: no figure of the ledger enters but where the loop begins. Of several outputs one is held so;
the others have their capacitor and a load that takes their current, and how the windings share, and what their
voltages come to, are figures of the run (`secondaries_netlist.py`). A clock closes the switch; of one that drives
itself nothing does but the collector on its way down, so that the frequency is a figure of the run.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from derate.design.kinds import FAMILIES
from derate.design.structure import Group, Leaf, Structure
from derate.ledger.entry import SUPPLY, Case, Subject
from derate.ledger.ledger import Ledger
from derate.stress.context import part
from derate.stress.netlist import BULK, FREQUENCY, Netlist, Probe, middle, refused, with_rows
from derate.terms.quantities import FULL_LOAD
from derate.topologies.flyback.circuit import FlybackParts, parts_of
from derate.topologies.flyback.secondaries_netlist import (
    carried,
    leakage_of_primary,
    secondaries_of,
    secondary_lines,
    secondary_probes,
    secondary_vectors,
)

_PERIODS, _SEEN, _STEPS = 260, 20, 400  # of the switch, until it repeats itself; measured; steps of each
_DRIVEN, _DRIVEN_SEEN, _DRIVEN_STEPS = 150, 30, 200  # of one that drives itself: whole periods are looked for there
_LOOP = 12.0  # periods in which the loop takes off most of what is amiss
_PRIMARY = Subject("path", ("primary",))


class Trigger(NamedTuple):
    """What closes the switch. lines: with the node `clk` that does, and `ramp` taken off what opens it again

    period: of the switch, about [s]; ramp: what the current of the ramp comes to over a period [A]
    counted: whether the frequency is a figure of the run
    """

    lines: tuple[str, ...]
    period: float
    ramp: float
    counted: bool


def clocked(ledger: Ledger, case: Case, bulk: float, fall: float) -> Trigger:
    """A clock at the stated frequency; a ramp over half of the fall keeps every period like the first.

    fall: of the primary's current while the secondary conducts [A/s]
    """
    period = 1.0 / middle(ledger, SUPPLY, "control.frequency")
    ramp = 0.6 * fall * period
    lines = (
        f"Vclk clk 0 PULSE(0 1 0 5n 5n 100n {period:.8g})",
        f"Vramp ramp 0 PULSE(0 {ramp:.6g} 0 {period - 1e-8:.8g} 5e-9 1e-10 {period:.8g})",
    )
    return Trigger(lines, period, ramp, counted=False)


def stage_netlist(
    structure: Structure, ledger: Ledger, case: Case, trigger: Callable[[Ledger, Case, float, float], Trigger] = clocked
) -> Netlist:
    """The netlist. Raises ReadingError where it cannot be written.

    trigger: what closes the switch, by ledger, case, bulk voltage [V] and fall of the primary's current [A/s]
    """
    own = parts_of(structure)
    diode, resistors, capacitors = _clamp(structure, own)
    if own.primary is None or own.primary.winding is None or own.primary.switch is None or not structure.outputs:
        raise refused("no netlist is written of this stage", "it has an output, a clamp and a walked primary path")
    running = case._replace(load=FULL_LOAD)  # the bulk is at its lowest there, whatever the outputs carry
    if not any(one.case is not None and one.case.point == running.point for one in ledger.rows(BULK, "voltage_min")):
        raise refused(
            "the least bulk voltage was not worked out at this case", "take the other frequency of this mains"
        )
    transformer = Subject("transformer", (own.primary.winding.split(".")[0],))
    inductance = middle(ledger, transformer, "transformer.inductance")
    leakage = middle(ledger, transformer, "transformer.leakage")
    secondaries = secondaries_of(structure, ledger, case, own.primary.winding, leakage)
    held = secondaries[0]
    drain = middle(ledger, part(own.primary.switch), "part.output_capacitance")
    bulk = middle(ledger, BULK, "voltage_min", "running", case)
    peak = middle(ledger, _PRIMARY, "current_peak", "running", case) * carried(secondaries) ** 0.5
    resistance = 1.0 / sum(1.0 / middle(ledger, part(one), "part.resistance") for one in resistors)
    capacitance = sum(middle(ledger, part(one), "part.capacitance") for one in capacitors)
    reflected = held.ratio * (held.volts + held.drop)
    first = leakage_of_primary(secondaries, leakage)
    closing = trigger(ledger, case, bulk, reflected / inductance)
    period, ramp = closing.period, closing.ramp
    rise = 0.8 * reflected
    lines = [
        f"Vbulk in 0 {bulk:.6g}",
        "Vprimary in in1 0",
        f"Lleak in1 x1 {first:.6g} IC=0",
        f"Rleak in1 x1 {6.0 * (leakage / drain) ** 0.5:.6g}",
        f"Lm x1 d {inductance - first:.6g} IC=0",
        "Rm x1 d 3meg",
        *secondary_lines(secondaries, drain),
        "S1 d 0 g 0 SW",
        f"Coss d 0 {drain:.6g}",
        "Dc d k1 DC",
        "Vclamp k1 k 0",
        f"Rc k in {resistance:.6g}",
        f"Cc k in {capacitance:.6g} IC={rise + reflected:.6g}",
        *closing.lines,
        f"Bloop 0 set I=({held.current:.6g}-i(Vs))*{peak / (2.0 * held.current * _LOOP * period):.6g}*1u",
        f"Cset set 0 1u IC={peak + 0.5 * ramp:.6g}",
        "Rset set 0 1g",
        "Vone one 0 1",
        "Sset g one clk 0 SWL",
        "Bcmp cmp 0 V=(1-v(clk))*(0.5+0.5*tanh((i(Vprimary)-v(set)+v(ramp))*2000))",
        "Srst g 0 cmp 0 SWL",
        "Cg g 0 1n",
        ".model SWL SW(RON=2 ROFF=1e9 VT=0.5 VH=0.02)",
        ".model SW SW(RON=0.02 ROFF=1e8 VT=0.5 VH=0.05)",
        ".model DS D(IS=1e-12 N=0.1 RS=1m CJO=10p)",
        ".model DC D(IS=1e-9 N=1 RS=0.1 CJO=2p)",
    ]
    switch, winding = part(own.primary.switch), Subject("winding", (own.primary.winding,))
    probes = [
        Probe(switch, "current_rms", "RMS", "iswitch"),
        Probe(switch, "current_peak", "MAX", "iswitch"),
        Probe(switch, "current_average", "AVG", "iswitch"),
        Probe(winding, "current_rms", "RMS", "i(Vprimary)"),
        *secondary_probes(structure, secondaries),
    ]
    probes.append(Probe(part(diode), "current_average", "AVG", "i(Vclamp)"))
    if closing.counted:
        probes.append(Probe(SUPPLY, "frequency", FREQUENCY, "v(g)"))
    periods, last, steps = (_DRIVEN, _DRIVEN_SEEN, _DRIVEN_STEPS) if closing.counted else (_PERIODS, _SEEN, _STEPS)
    return Netlist(
        case,
        tuple(lines),
        ("iswitch = i(Vprimary)*(v(g) gt 0.5)", *secondary_vectors(structure, secondaries)),
        tuple(with_rows(ledger, probes, case)),
        period / steps,
        periods * period,
        (periods - last) * period,
        "v(g)" if closing.counted else "",
    )


def _clamp(structure: Structure, own: FlybackParts) -> tuple[str, list[str], list[str]]:
    """Diode, resistors and capacitors in parallel of the clamp. Raises ReadingError where it is none such."""
    element = own.clamp[0] if own.clamp else None
    if isinstance(element, Group) and element.joined == "series" and len(element.members) == 2:
        diode, rest = element.members
        if isinstance(diode, Leaf) and isinstance(rest, Group) and rest.joined == "parallel":
            names = [one.name for one in rest.members if isinstance(one, Leaf)]
            resistors = [one for one in names if structure.must_be(one, *FAMILIES["resistor"])]
            capacitors = [one for one in names if structure.must_be(one, *FAMILIES["capacitor"])]
            if resistors and capacitors and len(names) == len(rest.members) == len(resistors) + len(capacitors):
                return diode.name, resistors, capacitors
    raise refused("no netlist is written of this clamp", "a diode with resistors and capacitors in parallel has one")
