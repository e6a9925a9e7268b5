"""Every step of a mains transformer, which end is bad for each quantity, and what each step gives."""

from __future__ import annotations

from derate.stress.context import BARRIER, Axes, BadEnds, Context, part
from derate.stress.parts.life import solve_lives
from derate.stress.parts.ratings import allowed_current, ripple_rating
from derate.stress.topology import TEMPERATURES_CARRIED, Gives, Step
from derate.terms.quantities import COLD_START, END_OF_LIFE, FULL_LOAD, NO_LOAD, OVERLOAD, RUNNING, SWITCH_ON, each
from derate.topologies.line_transformer.faults import overload_protection
from derate.topologies.line_transformer.primary import drawn, rated, switched_on, working
from derate.topologies.line_transformer.rail import Rails, rails, solve_rails
from derate.topologies.line_transformer.regulators import solve_outputs, solve_regulators

# Currents of winding, rectifier and capacitor grow with the mains, for the load takes a current and not a power; the
# valley is worst at the lowest mains, all losses of a regulator at the highest. Signs beside the solver.
_FULL = (FULL_LOAD,)
BAD_ENDS: BadEnds = {
    RUNNING: {
        "voltage_peak": Axes("+", "", "", (NO_LOAD, FULL_LOAD)),
        "voltage_min": Axes("-", "-", "", _FULL),
        "voltage_mean": Axes("+", "b", "", _FULL),
        "current_rms": Axes("+", "b", "", _FULL),
        "current_peak": Axes("+", "b", "", _FULL),
        "current_average": Axes("+", "-", "", _FULL),
        "ripple_current": Axes("+", "b", "", _FULL),
        "ripple": Axes("b", "-", "", _FULL),
        "reverse_voltage": Axes("+", "", "", (NO_LOAD,)),
        "power": Axes("+", "b", "", _FULL),
        "mains_current": Axes("+", "b", "", _FULL),
        "current_density": Axes("+", "b", "", _FULL),
        "voltage": Axes(),
        "voltage_over_plate": Axes("+", "", "", (NO_LOAD,)),
        "working_voltage": Axes("+"),
        "working_voltage_peak": Axes("+"),
    },
    OVERLOAD: {"power": Axes("+")},
}
_CAPACITORS = "reservoir capacitor"


def _capacitors(context: Context, found: Rails) -> None:
    """Ripple rating of each reservoir capacitor at twice the mains frequency, and its life."""
    hertz = context.plan.frequency[0] if context.plan.frequency is not None else 47.0
    for rail in found.every:
        pulses = 1.0 if rail.connection in ("half-wave", "doubler") else 2.0
        for name in rail.secondary.capacitors:
            ripple_rating(context, part(name), pulses * hertz)
        solve_lives(context, rail.secondary.capacitors, "ripple_current")


def _rectifiers(context: Context, found: Rails) -> None:
    for rail in found.every:
        for name in rail.secondary.diodes:
            allowed_current(context, name)


STEPS: tuple[Step, ...] = (
    TEMPERATURES_CARRIED,
    Step("rails", rails, hands_on=True),
    Step(
        "rail",
        solve_rails,
        (
            Gives(each("voltage_peak", "ripple_current"), place=_CAPACITORS),
            Gives(each("current_average", "current_peak", "reverse_voltage"), place="secondary rectifier"),
            Gives(each("current_peak", "allowed.surge_current"), (SWITCH_ON,), place="secondary rectifier"),
            Gives(each("voltage_peak", "voltage_min", "voltage_mean"), place="regulator"),
            Gives(each("voltage_min"), (COLD_START, END_OF_LIFE), place="regulator"),
        ),
    ),
    Step(
        "regulators",
        solve_regulators,
        (
            Gives(each("power", "junction_temperature"), place="regulator"),
            Gives(each("voltage_needed"), (), place="regulator"),
            Gives(each("power"), (OVERLOAD,), place="regulator"),
            Gives(each("voltage"), place="regulator capacitor"),
        ),
    ),
    Step("outputs", solve_outputs, (Gives(each("voltage_over_plate"), kind="output"),)),
    Step("drawn", drawn),
    Step("switched on", switched_on),
    Step("overload protection", overload_protection),
    Step("capacitors", _capacitors, (Gives(each("life"), place=_CAPACITORS),)),
    Step("rectifiers", _rectifiers),
    Step("rated", rated, with_readings=True),
    Step("working voltage", working, (Gives(each("working_voltage", "working_voltage_peak"), subject=BARRIER),)),
)
