"""Every row of the ports of a design, in the order in which one needs another."""

from __future__ import annotations

from derate.ledger.entry import OpenFact
from derate.stress.context import Context, part
from derate.stress.ports.asked import Asked, asked_of, solve_asked
from derate.stress.ports.carried import solve_bus_ripple, solve_heat, solve_ripple
from derate.stress.ports.converters import converter_of, solve_between
from derate.stress.ports.overvoltage import solve_overvoltage
from derate.stress.ports.risen import solve_risen


def solve_ports(context: Context) -> None:
    """What all ports ask of their stage, what stands between carries, what a port rises to in a fault."""
    every = asked_of(context, context.structure.ports)
    solve_asked(context, every)
    for one in every:
        if one.port.shape:
            solve_between(context, one)
            if one.port.shape == "buck":
                found = converter_of(context, one)
                solve_ripple(context, found)
                solve_heat(context, found)
            others = [other for other in every if other.source == one.source and other is not one]
            solve_overvoltage(context, one, others)
            solve_risen(context, one)
        else:
            _not_known(context, one)
    solve_bus_ripple(context, every)


def _not_known(context: Context, one: Asked) -> None:
    """One hole that says why nothing of what stands between is worked out."""
    port = one.port
    missing: tuple[OpenFact, ...] = tuple(OpenFact(part(name), "part.kind") for name in port.unknown)
    if port.odd:
        note = f"not covered: {port.odd}"
    else:
        note = "what stands between bus and port is not known"
        missing = missing or (OpenFact(one.subject, "circuit.ports", "walked from the bus to the port, as path"),)
    context.ledger.hole(one.subject, "port.shape", missing, note=note)
