"""Single faults of a dropper: a short of its capacitor is one of the mains path; these are those behind it."""

from __future__ import annotations

from collections.abc import Iterator

from derate.circuit import dropper
from derate.circuit.converter_faults import ForTheBench, NothingFlows, WorkedOut
from derate.design.structure import leaves
from derate.ledger.entry import Case, Subject
from derate.ledger.ledger import Model
from derate.stress.context import Context, part
from derate.stress.faults.converter import Faults, SingleFault, nothing_flows, said
from derate.terms.values import Value
from derate.topologies.dropper.running import next_of, unclamped
from derate.topologies.dropper.shape import DropperShape, shape_of, store_names

SQUARE = Model.of(
    "dropper fed by a square wave",
    dropper.SQUARE_WAVE,
    "own derivation: each edge is a step of twice the voltage",
    "4 f C V²",
)


def _each(context: Context, shape: DropperShape) -> Iterator[SingleFault]:
    parts = shape.parts
    for name in parts.capacitors:
        yield SingleFault(f"{name} open", part(name), "dropper open")
    for one in parts.dropping:
        for across in one.across:
            for leaf in leaves(across):
                yield SingleFault(f"{leaf.name} open", part(leaf.name), "bleeder of a dropper open")
    for name in shape.path:
        yield SingleFault(f"{name} open", part(name), "dropper open")
    first = next((name for name in parts.resistors), None)
    if first is not None and parts.dropping:
        yield SingleFault("fed by a square wave", part(first), "square wave")
    for name in (*parts.rectifier, *parts.returns):
        yield SingleFault(f"{name} shorted", part(name), "diode of a dropper shorted")
        yield SingleFault(f"{name} open", part(name), "diode of a dropper open")
    for name in parts.clamps:
        yield SingleFault(f"{name} open", part(name), "clamp open")
        yield SingleFault(f"{name} shorted", part(name), "clamp shorted")
    for name in store_names(parts):
        yield SingleFault(f"{name} shorted", part(name), "rail shorted")
        yield SingleFault(f"{name} open", part(name), "store open")
    for name in context.structure.outputs:
        yield SingleFault(f"load of {name} open", Subject("output", (name,)), "load open")
        yield SingleFault(f"{name} shorted", Subject("output", (name,)), "rail shorted")


def _clamp_open(context: Context, shape: DropperShape, fault: SingleFault, case: Case) -> None:
    row = next_of(context, shape, fault.subject, case)
    climbs = "the rail climbs until something else holds it"
    said(context, fault, case, row, f"{climbs}: {_across_the_rail(context, shape, row.value)}")


def _load_open(context: Context, shape: DropperShape, fault: SingleFault, case: Case) -> None:
    if shape.parts.clamps:
        nothing_flows(context, fault, case, "the clamp takes what the load took, as while it runs")
        return
    row = unclamped(context, shape, fault.subject, "voltage_peak", case)
    told = f"nothing holds the rail: {_across_the_rail(context, shape, row.value)}"
    said(context, fault, case, row, told)


def _across_the_rail(context: Context, shape: DropperShape, value: object) -> str:
    """Which capacitors across the rail that is more than the rating of."""
    over = [
        f"{name} is rated {rated.near:.3g} V"
        for name in store_names(shape.parts)
        if (rated := context.value(part(name), "rated.voltage")) is not None
        and isinstance(value, Value)
        and value.far > rated.near
    ]
    return ", ".join(over) or "no capacitor across it is rated for less"


def _square(context: Context, shape: DropperShape, fault: SingleFault, case: Case) -> None:
    assert shape.capacitance is not None
    row = context.ledger.work_out(
        SQUARE,
        {
            "mains": case.mains or 0.0,
            "frequency": case.frequency or 50.0,
            "resistance": shape.resistance,
            "capacitance": shape.capacitance,
        },
        [(fault.subject, "fault_power", "power")],
        case=case,
    )[0]
    said(context, fault, case, row, "all resistors in series take that together")


DROPPER_FAULTS = Faults(
    shape_of,
    _each,
    {"clamp open": _clamp_open, "load open": _load_open, "square wave": _square},
    {
        "clamp open": WorkedOut("next_of"),
        "load open": WorkedOut("unclamped"),
        "square wave": WorkedOut("steps"),
        "dropper open": NothingFlows("the supply gets no mains"),
        "bleeder of a dropper open": NothingFlows("the plug is no longer discharged through it"),
        "clamp shorted": NothingFlows("the dropper limits the current to what it is while it runs; the rail is dead"),
        "rail shorted": NothingFlows("the dropper limits the current to what it is while it runs; the rail is dead"),
        "diode of a dropper shorted": ForTheBench(
            "the dropper limits the current, but the other half cycle drives the capacitor across the rail into reverse"
        ),
        "diode of a dropper open": ForTheBench(
            "the dropping capacitor is charged one way and little flows, or half of it does: by which diode it is"
        ),
        "store open": ForTheBench("load and clamp take the current as it comes, in pulses"),
    },
)
