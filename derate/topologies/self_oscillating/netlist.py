"""A flyback that drives itself at one case as a netlist: the stage of a flyback, closed by its own collector.

Once the secondary has run empty the collector swings down with what the node holds; where it passes the bulk voltage
the drive winding turns, and the switch conducts after the middle of the time that a drive takes. No clock and no
figure of the ledger says how long a period is.
"""

from __future__ import annotations

from derate.design.structure import Structure
from derate.ledger.entry import SUPPLY, Case
from derate.ledger.ledger import Ledger
from derate.stress.netlist import Netlist, middle
from derate.topologies.flyback.netlist import Trigger, stage_netlist
from derate.topologies.self_oscillating.period import TURN_ON

_BLANKED = 0.02  # of a period behind the turn-off: the node on its way up is none on its way down
_LINE = 50.0  # of the line that delays the turn-on [ohm]


def oscillator_netlist(structure: Structure, ledger: Ledger, case: Case) -> Netlist:
    """The netlist. Raises ReadingError where it cannot be written."""
    return stage_netlist(structure, ledger, case, _by_its_collector)


def _by_its_collector(ledger: Ledger, case: Case, bulk: float, fall: float) -> Trigger:
    """The node `clk`: the collector below the bulk voltage on its way down, by half of what the drive takes later."""
    period = 1.0 / middle(ledger, SUPPLY, "frequency", "running", case)
    lines = (
        "Boff off0 0 V=0.5+0.5*tanh((0.5-v(g))*40)",
        "Roff off0 off 1k",
        f"Coff off 0 {_BLANKED * period / 1e3:.6g}",
        f"Bdown down 0 V=(0.5+0.5*tanh((v(off)-0.6)*50))*(0.5+0.5*tanh(({bulk:.6g}-v(d))*2))",
        f"Tdrive down 0 clk 0 Z0={_LINE:.6g} TD={TURN_ON.middle:.6g}",
        f"Rdrive clk 0 {_LINE:.6g}",
        "Vramp ramp 0 0",
    )
    return Trigger(lines, period, 0.0, counted=True)
