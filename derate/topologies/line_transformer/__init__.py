"""A mains transformer with rectifier, capacitor and linear regulator, or without one; and chargers built so."""

from __future__ import annotations

from typing import TYPE_CHECKING

from derate.stress.topology import Topology
from derate.topologies.line_transformer.circuit import LineTransformerCircuit
from derate.topologies.line_transformer.faults import FAULTS
from derate.topologies.line_transformer.steps import BAD_ENDS, STEPS

if TYPE_CHECKING:
    from derate.design.structure import Structure
    from derate.ledger.entry import Case
    from derate.ledger.ledger import Ledger
    from derate.stress.netlist import Netlist


def _netlist(structure: Structure, ledger: Ledger, case: Case) -> Netlist:
    from derate.topologies.line_transformer.netlist import transformer_netlist  # only where somebody asks for one

    return transformer_netlist(structure, ledger, case)


TOPOLOGY = Topology("line transformer", LineTransformerCircuit, BAD_ENDS, STEPS, FAULTS, None, _netlist)
