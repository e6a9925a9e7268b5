"""The flyback: a switch that stores energy in a gapped transformer and hands it on while it is open."""

from __future__ import annotations

from typing import TYPE_CHECKING

from derate.stress.topology import Topology
from derate.topologies.flyback.circuit import FlybackCircuit
from derate.topologies.flyback.fault_rows import FLYBACK_FAULTS
from derate.topologies.flyback.not_covered import not_covered
from derate.topologies.flyback.steps import BAD_ENDS, STEPS

if TYPE_CHECKING:
    from derate.design.structure import Structure
    from derate.ledger.entry import Case
    from derate.ledger.ledger import Ledger
    from derate.stress.netlist import Netlist


def _netlist(structure: Structure, ledger: Ledger, case: Case) -> Netlist:
    from derate.topologies.flyback.netlist import stage_netlist  # only where somebody asks for one

    return stage_netlist(structure, ledger, case)


TOPOLOGY = Topology("flyback", FlybackCircuit, BAD_ENDS, STEPS, FLYBACK_FAULTS, not_covered, _netlist)
