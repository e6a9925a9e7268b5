"""Junctions of switch and output rectifiers; ripple ratings and life of the capacitors of a flyback."""

from __future__ import annotations

from derate.design.paths import leaves
from derate.stress.context import Context, part
from derate.stress.parts.capacitor_life import allowed_case, bulk_names, solve_lives
from derate.stress.parts.ratings import ripple_rating
from derate.stress.parts.temperatures import junction
from derate.terms.cases import RUNNING
from derate.topologies.flyback.shape import FlybackShape, switching_hertz
from derate.topologies.flyback.switch_loss import switch_power


def solve_junctions(context: Context, shape: FlybackShape) -> None:
    """Junction temperature of switch and output rectifiers."""
    for one in shape.outputs:
        for name in one.walked.rectifier:
            for case in context.plan.cases(["power"], [RUNNING])[:1]:
                junction(context, name, context.need(part(name), "power", case))
    if shape.switch is not None:
        power = switch_power(context, shape)
        junction(context, shape.switch, power)


def output_names(shape: FlybackShape) -> tuple[str, ...]:
    """Names of all output capacitors, those behind a choke included."""
    walked = (one.walked for one in shape.outputs)
    return tuple(leaf.name for o in walked for e in (*o.capacitors, *o.filtered) for leaf in leaves(e))


def rate_output_capacitors(context: Context, shape: FlybackShape) -> None:
    """Ripple ratings of the output capacitors at the switching frequency."""
    for name in output_names(shape):
        ripple_rating(context, part(name), switching_hertz(shape))


def solve_life(context: Context, shape: FlybackShape) -> None:
    """Write the life of every electrolytic bulk and output capacitor."""
    for name in (*bulk_names(context), *output_names(shape)):
        if context.structure.may_be(name, "electrolytic capacitor", "solid electrolytic capacitor"):
            allowed_case(context, name)
    solve_lives(context, bulk_names(context), "ripple_equivalent")
    solve_lives(context, output_names(shape), "ripple_current")
