"""The flyback: a switch that stores energy in a gapped transformer and hands it on while it is open."""

from __future__ import annotations

from derate.stress.topology import Topology
from derate.topologies.flyback.circuit import FlybackCircuit
from derate.topologies.flyback.fault_rows import FLYBACK_FAULTS
from derate.topologies.flyback.steps import BAD_ENDS, STEPS
from derate.topologies.flyback.switch import active_clamp

TOPOLOGY = Topology("flyback", FlybackCircuit, BAD_ENDS, STEPS, FLYBACK_FAULTS, active_clamp)
