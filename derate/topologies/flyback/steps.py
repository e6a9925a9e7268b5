"""Every stress of a flyback, step by step, and which end is bad for each quantity."""

from __future__ import annotations

from derate.stress.context import BARRIER, Axes, BadEnds, Context
from derate.stress.mains.bulk_states import solve_bulk_states
from derate.stress.parts.ratings import allowed_current, allowed_power
from derate.stress.topology import COUPLERS, START_UP, TEMPERATURES_CARRIED, Gives, Step
from derate.terms.quantities import COLD_START, END_OF_LIFE, FULL_LOAD, NO_LOAD, OVERLOAD, RUNNING, each
from derate.terms.words import CAPACITORS, RESISTORS
from derate.topologies.flyback.heavy_drain import solve_heavy_drain
from derate.topologies.flyback.operating import solve_primary
from derate.topologies.flyback.output_capacitors import solve_output_capacitors, solve_output_states
from derate.topologies.flyback.rails import (
    rate_output_capacitors,
    solve_auxiliary,
    solve_bulk_ripple,
    solve_junctions,
    solve_life,
    solve_outputs,
    solve_peaks,
)
from derate.topologies.flyback.rectifiers import solve_edges, solve_rectifiers, solve_snubbers
from derate.topologies.flyback.secondaries import solve_secondaries
from derate.topologies.flyback.shape import PRIMARY, FlybackShape, shape_of, switching_hertz
from derate.topologies.flyback.switch import solve_switch, solve_winding
from derate.topologies.flyback.switch_loss import solve_turn_off
from derate.topologies.flyback.transformer import solve_magnetics, solve_working

# Which end of mains, load, frequency and ambient is bad for each quantity of a flyback.
#
# Rows hold the worst over the loads named beside them where they are worked out. The signs are those of
# `derate.circuit.flyback`, `clamp` and `secondary`, proved beside them.


_FULL = (FULL_LOAD,)
BAD_ENDS: BadEnds = {
    RUNNING: {
        "voltage_peak": Axes("+", "", "", (NO_LOAD, FULL_LOAD)),
        "current_rms": Axes("-", "b", "", _FULL),
        "current_peak": Axes("-", "+", "", _FULL),
        "current_average": Axes("-", "-", "", _FULL),
        "reverse_voltage": Axes("+", "", "", (NO_LOAD,)),
        "power": Axes("-", "b", "", _FULL),
        "frequency": Axes("", "", "", _FULL),
        "duty": Axes("-", "", "", _FULL),
        "ripple": Axes("-", "", "", _FULL),
        "ripple_current": Axes("-", "+", "", _FULL),
        "ripple_switching": Axes("-", "", "", _FULL),
        "ripple_equivalent": Axes("-", "+", "", _FULL),
        "current_density": Axes("-", "", "", _FULL),
        "voltage": Axes(),
        "energy": Axes("+", "", "", _FULL),
        # Worst corners of both mains ends in one row: the greatest current with the greatest voltage.
        "forced_gain": Axes(),
        "allowed.gain": Axes(),
        "turn_off_current": Axes(),
        "allowed.turn_off_current": Axes(),
        "voltage_slope": Axes(),
        "working_voltage": Axes("+"),
        "working_voltage_peak": Axes("+"),
    },
    COLD_START: {"ripple": Axes("-", "", "-", _FULL), "current_peak": Axes("-", "-", "-", _FULL)},
    END_OF_LIFE: {"ripple": Axes("-", "", "", _FULL), "current_peak": Axes("-", "-", "", _FULL)},
    # The largest load before shut-down, and start-up: the switch opens at the current limit plus its delay.
    OVERLOAD: {
        "voltage_peak": Axes("+"),
        "reverse_voltage": Axes("+"),
        "current_peak": Axes("+"),
        "flux_density": Axes("+"),
        "power": Axes("+"),
        "energy": Axes("+"),
        "voltage": Axes(),
        "turn_off_current": Axes(),
        "allowed.turn_off_current": Axes(),
        "voltage_slope": Axes(),
    },
}


# Every stress of a flyback, step by step in the order in which one row needs another, with the rows each gives.


_RATED_PLACES = ("clamp", "current sense", "output rectifier", "auxiliary", "start-up", "snubber")


def _allowed(context: Context) -> None:
    """Power of resistors and current of rectifiers at the air beside them."""
    for name, place in context.structure.places.items():
        if place in _RATED_PLACES:
            if context.structure.must_be(name, *RESISTORS):
                allowed_power(context, name)
            elif place == "output rectifier":
                allowed_current(context, name)


def _lost(context: Context, shape: FlybackShape) -> None:
    """Where outputs that feed ports go once nothing regulates them: loaded where there are any."""
    if context.structure.ports:
        from derate.topologies.flyback.lost import solve_lost

        solve_lost(context, shape)


_BIPOLAR = ("bipolar transistor",)
_STATES = (COLD_START, END_OF_LIFE)
_CARRIED = each("current_rms", "current_peak", "current_average")
STEPS: tuple[Step, ...] = (
    TEMPERATURES_CARRIED,
    START_UP,
    Step("shape", lambda context, _: shape_of(context), hands_on=True),
    Step(
        "primary",
        solve_primary,
        (
            Gives(each("current_peak", "current_rms"), place="primary switch"),
            Gives(each("current_rms", "power"), place="current sense"),
            Gives(each("current_peak"), (OVERLOAD,), place="primary switch"),
            Gives(each("current_peak"), (OVERLOAD,), subject=PRIMARY),
        ),
    ),
    Step("bulk states", lambda context, shape: solve_bulk_states(context, switching_hertz(shape))),
    Step("peaks", solve_peaks, (Gives(each("current_peak"), _STATES, place="primary switch"),)),
    Step(
        "secondaries",
        solve_secondaries,
        (
            Gives(each("current_rms", "current_peak", "current_average"), place="output rectifier"),
            Gives(each("current_rms", "current_peak", "current_average"), kind="winding"),
        ),
    ),
    Step(
        "switch",
        solve_switch,
        (
            Gives(each("voltage_peak"), (RUNNING, OVERLOAD), place="primary switch"),
            Gives(each("voltage_peak", "power", "reverse_voltage"), (RUNNING, OVERLOAD), place="clamp"),
            Gives(each("current_average"), place="clamp"),
        ),
    ),
    Step("primary winding", solve_winding),
    Step(
        "rectifiers",
        solve_rectifiers,
        (Gives(each("reverse_voltage", "power"), place="output rectifier"),),
        with_readings=True,
    ),
    Step("outputs", solve_outputs, (Gives(each("voltage"), place="output capacitor"),)),
    Step("output capacitors", solve_output_capacitors, (Gives(each("ripple_current"), place="output capacitor"),)),
    Step("output states", solve_output_states, (Gives(each("ripple"), _STATES, kind="output"),)),
    Step("heavy drain", solve_heavy_drain, refines=(*_CARRIED, "power", "ripple")),
    Step("output capacitor ratings", rate_output_capacitors),
    Step(
        "bulk ripple",
        solve_bulk_ripple,
        (
            Gives(each("ripple_equivalent"), place="bulk capacitor"),
            Gives(each("allowed.ripple_current"), (), place="bulk capacitor"),
        ),
    ),
    Step(
        "auxiliary",
        solve_auxiliary,
        (
            Gives(each("voltage", "reverse_voltage"), place="auxiliary"),
            Gives(each("voltage"), (OVERLOAD,), place="auxiliary"),
        ),
    ),
    Step("bus of ports", _lost),
    COUPLERS,
    Step(
        "magnetics", solve_magnetics, (Gives(each("flux_density"), (OVERLOAD,), subject=PRIMARY),), with_readings=True
    ),
    Step(
        "working voltage",
        solve_working,
        (
            Gives(each("working_voltage", "working_voltage_peak"), subject=BARRIER),
            Gives(each("working_voltage", "working_voltage_peak"), subject=PRIMARY),
        ),
    ),
    Step("snubbers", solve_snubbers),
    Step(
        "edges",
        solve_edges,
        (
            Gives(each("voltage_slope"), (RUNNING, OVERLOAD), place="clamp"),
            Gives(each("voltage_slope"), (RUNNING, OVERLOAD), place="snubber"),
            Gives(each("voltage_peak"), (RUNNING, OVERLOAD), place="snubber", kinds=CAPACITORS),
        ),
    ),
    Step(
        "turn-off",
        solve_turn_off,
        (
            Gives(
                each("turn_off_current", "allowed.turn_off_current"),
                (RUNNING, OVERLOAD),
                place="primary switch",
                kinds=_BIPOLAR,
            ),
        ),
    ),
    Step("allowed at its air", lambda context, _: _allowed(context)),
    Step(
        "junctions",
        solve_junctions,
        (
            Gives(each("junction_temperature", "power"), place="primary switch"),
            Gives(each("forced_gain", "allowed.gain"), place="primary switch", kinds=_BIPOLAR),
            Gives(each("junction_temperature"), place="output rectifier"),
        ),
    ),
    Step(
        "life", solve_life, (Gives(each("life"), place="output capacitor"), Gives(each("life"), place="bulk capacitor"))
    ),
)
