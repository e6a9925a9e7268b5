"""The bus once its own stage has lost its regulation, on the parts ahead of every port, and on ports joined to it.

How far it rises is said by the topology of the stage (`voltage_regulation_lost` of its output); of a topology that says
nothing of it nothing is known. A converter ahead of a port goes on holding it for as long as its parts bear the bus.
A port that is joined to the bus rises with it: a load switch that opens may keep that off what is plugged in, and how
far the bus gets until it has opened is for the bench.
"""

from __future__ import annotations

from derate.circuit.elementary import product
from derate.ledger.entry import Case, Entry
from derate.ledger.ledger import Model
from derate.stress.context import Context, carried, one_word, part
from derate.stress.ports.asked import Asked
from derate.stress.ports.converters import ringing_of
from derate.terms.quantities import RUNNING
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Curve, Value, written

LOST: QuantityName = "voltage_regulation_lost"
RINGS = Model.of(
    "risen bus with its ringing", product("voltage", "bus", "ringing"), "Kirchhoff", "bus without regulation × ringing"
)


def solve_risen(context: Context, one: Asked) -> None:
    """What one port and the parts ahead of it get of the bus that nothing regulates."""
    bus = risen(context, one)
    for name in one.port.inputs:
        if context.structure.must_be(name, *_CAPACITORS):
            carried(context, bus, None, part(name), LOST)
    if one.port.shape == "buck":
        for name in (one.port.chopper, *one.port.rectifiers):
            wanted = [(part(name), LOST, "voltage")]
            context.ledger.work_out(RINGS, {"bus": bus, "ringing": ringing_of(context, name)}, wanted)
    elif one.port.straight:
        _rises_with_it(context, one, bus)


def risen(context: Context, one: Asked) -> Entry:
    """The bus with nothing that regulates it: no less than what it has with that."""
    found = context.fact(one.source, LOST, Case(RUNNING))
    if found is None:
        note = "not covered: how far the bus rises once a stage of this topology regulates it no more"
        return context.ledger.hole(one.source, LOST, (), note=note)
    return found


def _rises_with_it(context: Context, one: Asked, bus: Entry) -> None:
    ledger, quantity = context.ledger, _QUANTITY
    if not one.profiles or not isinstance(bus.value, Value):
        missing = (*one.missing, *bus.missing)
        ledger.hole(one.subject, quantity, missing, inputs=(*one.numbers, bus.number), note=bus.note)
        return
    ratio = Value(*(max(1.0, end / one.least) for end in bus.value.numbers()))
    rows = [bus]
    why = "nothing keeps it off the port"
    if one.port.opens:
        blocks = context.need(one.subject, "port.blocks")
        stop = context.fact(one.subject, "port.overvoltage_stop")
        rows.append(blocks)
        if one_word(blocks) != "no" and one.port.guard and (stop is None or isinstance(stop.value, Value | Curve)):
            ratio = Value(1.0, 1.0, ratio.far, ratio.high)
            why = f"{one.port.opens} may open before, how far the bus gets until then is not worked out"
    ledger.write(
        one.subject,
        quantity,
        ratio,
        known_by="computed",
        inputs=(*(row.number for row in rows), *one.numbers),
        rests_on=one.rests.union(*(row.rests_on for row in rows)),
        formula="bus without regulation, over the least that the port advertises",
        source="the circuit",
        note=f"the bus rises to {written(bus.value.high)} V: {why}" if ratio.high > 1.0 else "",
    )


_QUANTITY: QuantityName = "overvoltage_regulation_lost"
_CAPACITORS = ("electrolytic capacitor", "solid electrolytic capacitor", "ceramic capacitor", "film capacitor")
