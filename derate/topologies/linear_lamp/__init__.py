"""Linear lamp drivers: LEDs in series with a chip that holds their current, straight from the rectified mains."""

from __future__ import annotations

from collections.abc import Iterator

from derate.circuit.converter_faults import ForTheBench, NothingFlows
from derate.ledger.entry import SUPPLY, OpenFact
from derate.stress.context import Axes, BadEnds, Context, part
from derate.stress.faults.converter import Faults, SingleFault
from derate.stress.mains.bulk_states import solve_bulk_states
from derate.stress.topology import TEMPERATURES_CARRIED, Gap, Gives, Step, Topology
from derate.terms.quantities import FULL_LOAD, NO_LOAD, OVERLOAD, RE_PLUG, RUNNING, SURGE, SWITCH_ON, each
from derate.topologies.linear_lamp.circuit import LampCircuit, parts_of
from derate.topologies.linear_lamp.running import Lamp, lamp_of, power_drawn, solve_bulk, solve_chip, solve_line

_FULL = (FULL_LOAD,)
# All that the chip loses grows with the mains; OVERLOAD: every LED of the string shorted.
BAD_ENDS: BadEnds = {
    RUNNING: {
        "power": Axes("+", "", "", _FULL),
        "current_average": Axes("+", "", "", _FULL),
        "current_rms": Axes("+", "", "", _FULL),
        "mains_current": Axes("+", "", "", _FULL),
        "voltage_peak": Axes("+", "", "", (NO_LOAD, FULL_LOAD)),
        "reverse_voltage": Axes("+", "", "", (NO_LOAD,)),
        "ripple_equivalent": Axes("-", "b", "", _FULL),
    },
    OVERLOAD: {"power": Axes("+"), "voltage_peak": Axes("+")},
}


def _not_covered(context: Context) -> Gap | None:
    parts = parts_of(context.structure)
    if not parts.output:
        told = "walked from the rail through the LEDs: [LED1, U1]"
        return Gap("the output is not walked", (OpenFact(SUPPLY, "circuit.outputs", told),))
    if parts.odd:
        return Gap(f"not covered: {parts.odd}")
    if not parts.keeps and parts.rectified != "full bridge":
        return Gap("not covered: half a wave without bulk capacitor")
    return None


def _events_open(context: Context, lamp: Lamp) -> Gap | None:
    if context.structure.own_inlet is None:
        return None
    return Gap("what a surge drives through a chip with no capacitor ahead of it is for the bench")


def each_fault(context: Context, lamp: Lamp) -> Iterator[SingleFault]:
    """Every single fault of the string, made from what is joined to what."""
    for name in lamp.parts.lights:
        yield SingleFault(f"{name} open", part(name), "string open")
        yield SingleFault(f"{name} shorted", part(name), "string shorted")
    if lamp.parts.chip:
        yield SingleFault(f"{lamp.parts.chip} open", lamp.chip, "string open")
        yield SingleFault(f"{lamp.parts.chip} shorted", lamp.chip, "chip shorted")
    for name in lamp.parts.sensed:
        yield SingleFault(f"{name} open", part(name), "string open")
        yield SingleFault(f"{name} shorted", part(name), "sense shorted")


FAULTS = Faults(
    lamp_of,
    each_fault,
    {},
    {
        "string open": NothingFlows("no current flows; the lamp is dark and the chip stands the rail or less"),
        "string shorted": ForTheBench("the chip takes what the LEDs dropped: a rule holds it to its rating"),
        "chip shorted": ForTheBench("the whole rail lies on the LEDs, and nothing limits their current"),
        "sense shorted": ForTheBench("the chip no longer sees the current, and lets through all it can"),
    },
)
_CHIP = "lamp chip"
STEPS = (
    TEMPERATURES_CARRIED,
    Step("linear lamp", lambda context, _: lamp_of(context), hands_on=True),
    Step("lamp bulk states", lambda context, _: solve_bulk_states(context)),
    Step(
        "lamp chip",
        solve_chip,
        (
            Gives(each("power", "voltage_peak"), (RUNNING, OVERLOAD), place=_CHIP, kinds=("linear regulator",)),
            Gives(each("junction_temperature"), place=_CHIP, kinds=("linear regulator",)),
            Gives(each("power_load_shorted"), (), place=_CHIP, kinds=("linear regulator",)),
        ),
    ),
    Step(
        "lamp bulk",
        solve_bulk,
        (Gives(each("ripple_equivalent"), place="bulk capacitor"), Gives(each("life"), place="bulk capacitor")),
    ),
    Step(
        "lamp line",
        solve_line,
        (Gives(each("mains_current"), subject=SUPPLY), Gives(each("voltage_peak"), place="input capacitor")),
    ),
    Step(
        "lamp events",
        lambda context, _: None,
        (
            Gives(
                each("current_peak", "i2t", "pulse_width", "energy"), (SWITCH_ON, RE_PLUG, SURGE), place="mains series"
            ),
            Gives(each("voltage_surge"), (SURGE,), place="mains rectifier"),
        ),
        cannot=_events_open,
    ),
)
TOPOLOGY = Topology("linear lamp driver", LampCircuit, BAD_ENDS, STEPS, FAULTS, _not_covered, drawn=power_drawn)
