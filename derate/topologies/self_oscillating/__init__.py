"""The self-oscillating flyback (ringing-choke converter): one transistor that a winding drives, and nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING

from derate.ledger.entry import SUPPLY
from derate.stress.context import Axes, BadEnds
from derate.stress.topology import Gives, Step, Topology
from derate.terms.quantities import FULL_LOAD, NO_LOAD, RUNNING, each
from derate.topologies.flyback.not_covered import not_covered
from derate.topologies.flyback.steps import BAD_ENDS as OF_A_FLYBACK
from derate.topologies.flyback.steps import STEPS as STEPS_OF_A_FLYBACK
from derate.topologies.self_oscillating.circuit import SelfOscillatingCircuit
from derate.topologies.self_oscillating.drive import solve_drive, solve_held, solve_lost
from derate.topologies.self_oscillating.faults import FAULTS_OF_IT
from derate.topologies.self_oscillating.period import shape_of, solve_period

if TYPE_CHECKING:
    from derate.design.structure import Structure
    from derate.ledger.entry import Case
    from derate.ledger.ledger import Ledger
    from derate.stress.netlist import Netlist

# Those of a flyback; the frequency moves with mains and load, base and gate see most at the highest mains.
BAD_ENDS: BadEnds = {
    **OF_A_FLYBACK,
    RUNNING: {
        **OF_A_FLYBACK[RUNNING],
        "frequency": Axes("b", "", "", (NO_LOAD, FULL_LOAD)),
        "base_reverse_voltage": Axes("+", "", "", (FULL_LOAD,)),
        "gate_voltage": Axes("+", "", "", (FULL_LOAD,)),
        "voltage_regulation_lost": Axes(),
        "voltage_over_plate": Axes(),
    },
}
_SHAPE = Step("shape", lambda context, _: shape_of(context), hands_on=True)
_PERIOD = Step(
    "period",
    solve_period,
    (Gives(each("control.frequency_compared"), (), subject=SUPPLY),),
    refines=each("current_rms", "current_peak", "current_average", "duty", "power"),
)
_HELD = Step("output by its winding", solve_held, refines=each("voltage"))
_DRIVE = Step(
    "drive",
    solve_drive,
    (
        Gives(each("base_reverse_voltage"), place="primary switch", kinds=("bipolar transistor",)),
        Gives(each("gate_voltage"), place="primary switch", kinds=("MOSFET",)),
    ),
)
_LOST = Step("regulation lost", solve_lost, (Gives(each("voltage_regulation_lost"), place="output capacitor"),))
# Ahead of a step of a flyback, or in its place (None: neither), and behind it.
_BESIDE: dict[str, tuple[tuple[Step, ...], bool, tuple[Step, ...]]] = {
    "shape": ((_SHAPE,), False, ()),
    "primary": ((), True, (_PERIOD,)),
    "outputs": ((), True, (_HELD, _LOST)),
    "bus of ports": ((), False, ()),  # it has a row of its own for that, with or without ports
    "turn-off": ((_DRIVE,), True, ()),
}


def _steps() -> tuple[Step, ...]:
    found: list[Step] = []
    for one in STEPS_OF_A_FLYBACK:
        ahead, keeps, behind = _BESIDE.get(one.name, ((), True, ()))
        found += [*ahead, *((one,) if keeps else ()), *behind]
    assert all(name in {one.name for one in STEPS_OF_A_FLYBACK} for name in _BESIDE)
    return tuple(found)


def _netlist(structure: Structure, ledger: Ledger, case: Case) -> Netlist:
    from derate.topologies.self_oscillating.netlist import oscillator_netlist  # only where somebody asks for one

    return oscillator_netlist(structure, ledger, case)


TOPOLOGY = Topology(
    "self-oscillating flyback", SelfOscillatingCircuit, BAD_ENDS, _steps(), FAULTS_OF_IT, not_covered, _netlist
)
