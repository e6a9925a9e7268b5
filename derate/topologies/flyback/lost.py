"""How far an output that feeds ports rises once nothing regulates it: what the ports then have as their bus.

Worked out only where there are ports. What ends the rise is the controller's stop for over-voltage, as in the list of
faults; a load is not counted on, since ports carry none until something is plugged in.
"""

from __future__ import annotations

from derate.ledger.entry import OpenFact
from derate.stress.context import Context, part
from derate.stress.parts.windings import STANDING
from derate.terms.values import Value
from derate.topologies.flyback.operating import controller_of
from derate.topologies.flyback.shape import FlybackShape, OutputShape
from derate.topologies.flyback.single_faults import at_stop


def solve_lost(context: Context, shape: FlybackShape) -> None:
    """`voltage_regulation_lost` of every output that feeds ports."""
    fed = {port.bus for port in context.structure.ports}
    for one in shape.outputs:
        if one.name in fed:
            _lost(context, shape, one)


def _lost(context: Context, shape: FlybackShape, one: OutputShape) -> None:
    ledger = context.ledger
    bound = at_stop(context, shape, one, one.subject, STANDING)
    if bound is None:
        controller = controller_of(context, shape)
        stated = context.fact(part(controller), "part.overvoltage_stop") if controller else None
        missing = (OpenFact(part(controller), "part.overvoltage_stop"),) if controller and stated is None else ()
        note = "nothing that is stated ends its rise once nothing regulates it"
        ledger.hole(one.subject, "voltage_regulation_lost", missing, note=note)
        return
    value, word, inputs, rests = bound
    base = one.voltage.value
    least = base.near if isinstance(base, Value) else 0.0
    ledger.write(
        one.subject,
        "voltage_regulation_lost",
        Value(*(max(number, least) for number in value.numbers())),
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula="what ends the rise, without load",
        source="energy, and the rail by turns",
        note=f"until {word}",
    )
