"""The dropper: a capacitor or resistors in series with the mains, a rectifier, and something that holds the rail."""

from __future__ import annotations

from typing import TYPE_CHECKING

from derate.ledger.entry import SUPPLY, OpenFact
from derate.stress.context import LINE, Axes, BadEnds, Context
from derate.stress.topology import TEMPERATURES_CARRIED, Gap, Gives, Step, Topology
from derate.terms.quantities import END_OF_LIFE, FULL_LOAD, NO_LOAD, RE_PLUG, RUNNING, SURGE, SWITCH_ON, each
from derate.topologies.dropper.circuit import DropperCircuit, parts_of
from derate.topologies.dropper.events import solve_events
from derate.topologies.dropper.running import (
    solve_across,
    solve_clamps,
    solve_current,
    solve_rail,
    solve_resistors,
    solve_short,
    solve_stores,
)
from derate.topologies.dropper.shape import shape_of
from derate.topologies.dropper.single_faults import DROPPER_FAULTS

if TYPE_CHECKING:
    from derate.design.structure import Structure
    from derate.ledger.entry import Case
    from derate.ledger.ledger import Ledger
    from derate.stress.netlist import Netlist


_FULL = (FULL_LOAD,)
# Everything that flows rises with mains and frequency, whatever the load; so does what the rail has for its load.
BAD_ENDS: BadEnds = {
    RUNNING: {
        "current_available": Axes("-", "-", "", _FULL),
        "current_rms": Axes("+", "+", "", _FULL),
        "current_peak": Axes("+", "+", "", _FULL),
        "current_average": Axes("+", "+", "", _FULL),
        "mains_current": Axes("+", "+", "", _FULL),
        "power": Axes("+", "+", "", (NO_LOAD, FULL_LOAD)),
        "ripple_current": Axes("+", "+", "", _FULL),
        "reverse_voltage": Axes("+", "", "", (NO_LOAD,)),
        "voltage": Axes("+", "", "", (NO_LOAD,)),
        "voltage_rms": Axes("+"),
        "voltage_clamp_open": Axes("+"),
    },
    END_OF_LIFE: {"current_available": Axes("-", "-", "", _FULL)},
}


def _not_covered(context: Context) -> Gap | None:
    """What of this line is not worked out, and why."""
    parts = parts_of(context.structure)
    if context.structure.own_inlet is None:
        return Gap("the line of the dropper is not written", (OpenFact(SUPPLY, "circuit.line"),))
    if parts.odd:
        return Gap(f"not covered: {parts.odd}")
    if not parts.rectifier:
        told = "through what drops the mains to its rectifier"
        return Gap("the line ends at no rectifier", (OpenFact(SUPPLY, "circuit.line", told),))
    if not parts.input:
        return Gap("the rectifier of the dropper is neither one diode nor a bridge")
    if parts.clamped_ahead and parts.input == "full bridge":
        return Gap("not covered: a clamp ahead of a bridge")
    if parts.dropping and parts.input == "half-wave" and not parts.returns and not parts.clamped_ahead:
        why = "nothing carries the other half cycle: the dropping capacitor is charged once and then passes nothing"
        return Gap(why)
    return None


_SERIES = ("mains series", "dropping resistor")
_PULSE = each("current_peak", "i2t", "pulse_width", "energy", "pulse_power")
STEPS = (
    TEMPERATURES_CARRIED,
    Step("dropper", lambda context, _: shape_of(context), hands_on=True),
    Step(
        "dropper current",
        solve_current,
        (
            *(Gives(each("current_rms", "current_peak"), place=place) for place in (*_SERIES, "dropping capacitor")),
            Gives(each("mains_current"), subject=SUPPLY),
            Gives(each("current_rms"), subject=LINE),
            Gives(each("current_average", "reverse_voltage"), place="mains rectifier"),
        ),
    ),
    Step(
        "dropper resistors",
        solve_resistors,
        tuple(Gives(each("power", "voltage_rms"), place=place) for place in _SERIES),
    ),
    Step("dropper rail", solve_rail, (Gives(each("current_available"), (RUNNING, END_OF_LIFE), kind="output"),)),
    Step("dropper clamps", solve_clamps, (Gives(each("power"), place="dropper clamp"),)),
    Step(
        "dropper stores",
        solve_stores,
        (Gives(each("voltage", "voltage_clamp_open", "ripple_current"), place="output capacitor"),),
    ),
    Step("dropper bleeders", solve_across),
    Step("dropper short", solve_short, (Gives(each("short_cleared"), (), place="dropping capacitor"),)),
    Step(
        "dropper events",
        solve_events,
        (
            *(Gives(_PULSE, (SWITCH_ON, RE_PLUG, SURGE), place=place) for place in _SERIES),
            Gives(each("current_peak", "i2t", "pulse_width"), (SWITCH_ON, RE_PLUG, SURGE), place="mains rectifier"),
            Gives(each("voltage_surge"), (SURGE,), place="mains rectifier"),
        ),
    ),
)


def _netlist(structure: Structure, ledger: Ledger, case: Case) -> Netlist:
    from derate.topologies.dropper.netlist import dropper_netlist  # only where somebody asks for one

    return dropper_netlist(structure, ledger, case)


TOPOLOGY = Topology("dropper", DropperCircuit, BAD_ENDS, STEPS, DROPPER_FAULTS, _not_covered, _netlist)
