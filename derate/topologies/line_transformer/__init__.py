"""A mains transformer with rectifier, capacitor and linear regulator, or without one; and chargers built so."""

from __future__ import annotations

from derate.stress.topology import Topology
from derate.topologies.line_transformer.circuit import LineTransformerCircuit
from derate.topologies.line_transformer.faults import FAULTS
from derate.topologies.line_transformer.steps import BAD_ENDS, STEPS

TOPOLOGY = Topology("line transformer", LineTransformerCircuit, BAD_ENDS, STEPS, FAULTS)
