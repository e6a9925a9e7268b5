"""Buck and buck-boost straight off the mains: appliance supplies and lamp drivers without isolation."""

from __future__ import annotations

from typing import TYPE_CHECKING

from derate.ledger.entry import SUPPLY, OpenFact
from derate.stress.context import Axes, BadEnds, Context
from derate.stress.mains.bulk_states import solve_bulk_states
from derate.stress.parts.frequency import hold_frequency
from derate.stress.topology import START_UP, TEMPERATURES_CARRIED, Gap, Gives, Step, Topology
from derate.terms.quantities import COLD_START, END_OF_LIFE, FULL_LOAD, NO_LOAD, OVERLOAD, RUNNING, SURGE, each
from derate.topologies.buck.circuit import BuckCircuit, parts_of
from derate.topologies.buck.faults import FAULTS, solve_lost
from derate.topologies.buck.following import following_events, following_frequencies, following_losses, solve_following
from derate.topologies.buck.running import (
    diode_losses,
    frequencies,
    hertz,
    solve_bulk_ripple,
    solve_currents,
    solve_life,
    solve_limit,
    solve_losses,
    solve_recovery,
    solve_voltages,
)
from derate.topologies.buck.shape import BuckShape, input_top, shape_of

if TYPE_CHECKING:
    from derate.design.structure import Structure
    from derate.ledger.entry import Case
    from derate.ledger.ledger import Ledger
    from derate.stress.netlist import Netlist

_FULL = (FULL_LOAD,)
# Peak, swing and diode of a buck are worst at the highest mains, its switch and all of a buck-boost at the lowest: both
# ends are worked out.
BAD_ENDS: BadEnds = {
    RUNNING: {
        "current_rms": Axes("b", "b", "", _FULL),
        "current_peak": Axes("b", "b", "", _FULL),
        "current_average": Axes("b", "b", "", _FULL),
        "current_swing": Axes("b", "", "", _FULL),
        "current_available": Axes("b", "", "", _FULL),
        "power": Axes("b", "b", "", _FULL),
        "mains_current": Axes("b", "b", "", _FULL),
        "ripple_equivalent": Axes("b", "b", "", _FULL),
        "ripple_slow": Axes("b", "-", "", _FULL),
        "ripple_share": Axes("b", "-", "", _FULL),
        "voltage_peak": Axes("+", "", "", (NO_LOAD, FULL_LOAD)),
        "reverse_voltage": Axes("+", "", "", (NO_LOAD,)),
        "voltage": Axes(),
        "voltage_load_open": Axes("+"),
        "voltage_feedback_open": Axes("+"),
    },
    # of a buck only what is read: a control that skips pulses ripples as it skips them
    COLD_START: {"ripple": Axes("+", "", "-", _FULL)},
    END_OF_LIFE: {"ripple": Axes("+", "", "", _FULL)},
    OVERLOAD: {"voltage_peak": Axes("+"), "reverse_voltage": Axes("+"), "current_peak": Axes("+"), "voltage": Axes()},
}


def _not_covered(context: Context) -> Gap | None:
    """What of this stage is not worked out, and why."""
    parts = parts_of(context.structure)
    if not parts.output:
        told = "walked from the switch on: [U1, across D1, L1, across C2]"
        return Gap("the output is not walked through a switch", (OpenFact(SUPPLY, "circuit.outputs", told),))
    if parts.odd:
        return Gap(f"not covered: {parts.odd}")
    if not parts.traced:
        return Gap("no choke stands behind the switch", (OpenFact(SUPPLY, "circuit.outputs"),))
    if context.structure.own_inlet is not None and len(parts.rectifier) == 1 and parts.rectified == "half-wave":
        return Gap("not covered: half a wave without bulk capacitor")
    return None


def _no_control(context: Context, shape: BuckShape) -> Gap | None:
    if shape.mode:
        return None
    return Gap("how the switch is controlled is not known", (OpenFact(SUPPLY, "control.type"),))


def _without_bulk(context: Context, shape: BuckShape) -> Gap | None:
    """Of an input that keeps no charge a control that skips pulses is not worked out."""
    gap = _no_control(context, shape)
    if gap is None and context.structure.own_inlet is not None and shape.mode == "burst":
        return Gap("not covered: a control that skips pulses behind an input without bulk capacitor")
    return gap


def _currents(context: Context, shape: BuckShape) -> None:
    if context.structure.own_inlet is None:
        solve_currents(context, shape)
    else:
        solve_following(context, shape)


_RIPPLES = "the ripple of a buck is not worked out: it grows with how many pulses are skipped one after the other"


def _losses(context: Context, shape: BuckShape) -> None:
    if context.structure.own_inlet is None:
        solve_losses(context, shape)
    else:
        following_losses(context, shape)
        diode_losses(context, shape)


def _events(context: Context, shape: BuckShape) -> None:
    if context.structure.own_inlet is not None:
        following_events(context, shape)


def _ripple(context: Context, shape: BuckShape) -> None:
    for group in (COLD_START, END_OF_LIFE):
        for case in context.plan.cases(["ripple"], [group]):
            context.ledger.hole(shape.output, "ripple", (), case=case, note=_RIPPLES)


def _lost(context: Context, shape: BuckShape) -> None:
    solve_lost(context, shape, input_top(context))


def _frequency(context: Context, shape: BuckShape) -> None:
    if not shape.empties:
        hold_frequency(context, ())
    elif context.structure.own_inlet is None:
        hold_frequency(context, frequencies(context, shape), ends=shape.mode != "boundary")
    else:
        hold_frequency(context, following_frequencies(context, shape))


_CURRENTS = each("current_rms", "current_peak", "current_average")
STEPS: tuple[Step, ...] = (
    TEMPERATURES_CARRIED,
    START_UP,
    Step("buck", lambda context, _: shape_of(context), hands_on=True),
    Step("bulk states", lambda context, shape: solve_bulk_states(context, hertz(shape))),
    Step(
        "buck currents",
        _currents,
        (
            Gives(each("current_rms", "current_peak", "current_swing"), place="buck inductor"),
            Gives(_CURRENTS, place="buck switch"),
            Gives(each("current_rms", "power"), place="current sense"),
            Gives(_CURRENTS, place="freewheel diode"),
            Gives(each("ripple_current"), place="output capacitor"),
        ),
        cannot=_without_bulk,
    ),
    Step(
        "buck voltages",
        solve_voltages,
        (
            Gives(each("voltage_peak"), (RUNNING, OVERLOAD), place="buck switch"),
            Gives(each("reverse_voltage"), (RUNNING, OVERLOAD), place="freewheel diode"),
            Gives(each("voltage"), place="output capacitor"),
        ),
    ),
    Step(
        "buck limit",
        solve_limit,
        (
            Gives(each("current_peak"), (OVERLOAD,), place="buck inductor"),
            Gives(each("current_peak"), (OVERLOAD,), place="buck switch"),
            Gives(each("current_shorted"), (), place="buck inductor"),
            Gives(each("current_shorted"), (), place="buck switch"),
            Gives(each("voltage"), (OVERLOAD,), place="output capacitor"),
            Gives(each("current_available"), kind="output"),
        ),
        cannot=_no_control,
    ),
    Step(
        "buck recovery",
        solve_recovery,
        (Gives(each("conduction", "allowed.recovery_time"), (), place="freewheel diode"),),
        cannot=_no_control,
    ),
    Step(
        "buck losses",
        _losses,
        (
            Gives(each("power", "junction_temperature"), place="buck switch"),
            Gives(each("power"), place="freewheel diode"),
        ),
        cannot=_without_bulk,
    ),
    Step("buck frequency", _frequency, (Gives(each("control.frequency_compared"), (), subject=SUPPLY),)),
    Step("buck events", _events, (Gives(each("voltage_surge"), (SURGE,), place="input capacitor"),)),
    Step("buck ripple", _ripple, (Gives(each("ripple"), (COLD_START, END_OF_LIFE), kind="output"),)),
    Step("buck bulk ripple", solve_bulk_ripple, (Gives(each("ripple_equivalent"), place="bulk capacitor"),)),
    Step(
        "buck faults",
        _lost,
        (
            Gives(each("voltage_load_open", "voltage_feedback_open"), place="output capacitor"),
            Gives(each("switch_short"), (), kind="output"),
        ),
    ),
    Step(
        "buck lives",
        solve_life,
        (Gives(each("life"), place="output capacitor"), Gives(each("life"), place="bulk capacitor")),
    ),
)


def _netlist(structure: Structure, ledger: Ledger, case: Case) -> Netlist:
    # loaded only where somebody asks for one
    if structure.own_inlet is not None:
        from derate.topologies.buck.following_netlist import following_netlist

        return following_netlist(structure, ledger, case)
    from derate.topologies.buck.netlist import buck_netlist

    return buck_netlist(structure, ledger, case)


TOPOLOGY = Topology("buck", BuckCircuit, BAD_ENDS, STEPS, FAULTS, _not_covered, _netlist)
