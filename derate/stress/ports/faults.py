"""The single faults between a bus and its ports, made from what is joined to what, for the list of faults.

None of them reaches the mains path: what opens on one is the load switch of the port, or nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from derate.circuit.converter_faults import ForTheBench, NothingFlows, WorkedOut
from derate.ledger.entry import Case
from derate.stress.context import Context, carried, part
from derate.stress.faults.converter import Faults, Listed, SingleFault, for_the_bench, said
from derate.stress.ports.asked import Asked, asked_of
from derate.stress.ports.overvoltage import HELD
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Value


def prepare(context: Context) -> tuple[Asked, ...]:
    """The ports with what they advertise."""
    return asked_of(context, context.structure.ports)


def each_fault(context: Context, ports: Sequence[Asked]) -> Iterator[SingleFault]:
    """Every single fault of every port."""
    for one in ports:
        port = one.port
        if not port.shape:
            yield SingleFault(f"any part ahead of port {port.name}", one.subject, "not worked out", one)
            continue
        if port.shape == "buck":
            yield from _converter(one)
        for name in port.capacitors:
            yield SingleFault(f"{name} shorted", part(name), "port shorted", one)
            yield SingleFault(f"{name} open", part(name), "store open", one)
        for name in port.load_switches:
            kind = "load switch of the bus shorted" if port.straight else "load switch shorted"
            yield SingleFault(f"{name} shorted", part(name), kind, one)
            yield SingleFault(f"{name} open", part(name), "path open", one)
        for name in (*port.fuses, *port.beside):
            yield SingleFault(f"{name} open", part(name), "path open", one)
        for name in port.clamps:
            yield SingleFault(f"{name} shorted", part(name), "port shorted", one)
            yield SingleFault(f"{name} open", part(name), "clamp open", one)
        if port.guard and port.guard != port.by:
            yield SingleFault(f"{port.guard} blind", part(port.guard), "guard blind", one)
        yield SingleFault(f"port {port.name} shorted", one.subject, "port shorted", one)


def _converter(one: Asked) -> Iterator[SingleFault]:
    port = one.port
    yield SingleFault(f"{port.chopper} shorted", part(port.chopper), "switch shorted", one)
    yield SingleFault(f"{port.chopper} open", part(port.chopper), "path open", one)
    yield SingleFault(f"feedback of port {port.name} open", one.subject, "feedback open", one)
    yield SingleFault(f"feedback of port {port.name} shorted", one.subject, "feedback open", one)
    for name in port.rectifiers:
        yield SingleFault(f"{name} shorted", part(name), "rectifier shorted", one)
        yield SingleFault(f"{name} open", part(name), "rectifier open", one)
    yield SingleFault(f"{port.inductor} shorted", part(port.inductor), "inductor shorted", one)
    yield SingleFault(f"{port.inductor} open", part(port.inductor), "path open", one)


def _over(context: Context, fault: SingleFault, case: Case, quantity: QuantityName, clears: str) -> None:
    """The word on opening from an over-voltage that is worked out, with what it says.

    clears: the part that opens where the port is held; '' where none can
    """
    ledger = context.ledger
    row = ledger.find(fault.about.subject, quantity)
    if row is None or not isinstance(row.value, Value):
        missing = row.missing if row is not None else ()
        note = row.note if row is not None and row.note else "a fact is missing"
        for_the_bench(context, fault, case, note, missing)
        return
    if row.value.high <= HELD:
        bus, asked = fault.about.bus.value, fault.about
        stands = isinstance(bus, Value) and bus.high <= HELD * asked.least  # no voltage that the bus has is too much
        word = "nothing to open" if stands or not clears else "shown"
        note = "the port stays within a tenth of what it advertises" + (f": {row.note}" if row.note else "")
    else:
        word, note = "not shown", row.note
    ledger.write(
        fault.subject,
        "opening",
        Category.of(word),
        case=case,
        known_by="computed",
        inputs=(row.number,),
        rests_on=row.rests_on,
        formula=row.formula,
        source=row.source,
        note=note,
    )
    if word == "shown":
        ledger.write(
            fault.subject,
            "cleared_by",
            Category.of(clears),
            case=case,
            known_by="computed",
            inputs=(row.number,),
            rests_on=row.rests_on,
            formula="what opens the port",
            source="the circuit",
        )


def _switch_shorted(context: Context, ports: Sequence[Asked], fault: SingleFault, case: Case) -> None:
    _over(context, fault, case, "overvoltage_switch_shorted", fault.about.port.opens)


def _feedback_open(context: Context, ports: Sequence[Asked], fault: SingleFault, case: Case) -> None:
    _over(context, fault, case, "overvoltage_feedback_open", fault.about.port.opens)


def _of_the_bus(context: Context, ports: Sequence[Asked], fault: SingleFault, case: Case) -> None:
    _over(context, fault, case, "overvoltage_load_switch_shorted", "")  # what would open is what has shorted


def _shorted(context: Context, ports: Sequence[Asked], fault: SingleFault, case: Case) -> None:
    """A port shorted behind a converter: its limit; joined to the bus, that is a short of the stage's output."""
    port = fault.about.port
    row = context.fact(part(port.inductor), "current_at_limit") if port.inductor else None
    if row is None:
        for_the_bench(context, fault, case, "it is a short of the bus, whose stage has a fault of its own for that")
        return
    copied = carried(context, row, case, fault.subject, "current_peak")
    said(context, fault, case, copied, row.note or "the limit of the converter ends each pulse")


LISTED: dict[str, Listed] = {
    "switch shorted": WorkedOut("opened"),
    "feedback open": WorkedOut("opened"),
    "load switch of the bus shorted": WorkedOut("the voltages of the ports"),
    "port shorted": WorkedOut("at_limit"),
    "path open": NothingFlows("the port gets nothing"),
    "load switch shorted": NothingFlows("it opens in a fault only: the next fault meets none"),
    "guard blind": NothingFlows("it acts in a fault only: the next fault meets none"),
    "clamp open": NothingFlows("it clamps in a fault only: the next fault meets none"),
    "store open": ForTheBench("the ripple of the port rises; what is plugged in may see more than it advertises"),
    "rectifier shorted": ForTheBench("the switch closes on a short of the bus in each period, until it shorts as well"),
    "rectifier open": ForTheBench("the choke drives the node of the switch below nothing, to its breakdown"),
    "inductor shorted": ForTheBench("the switch charges the port without a limit to its rise, until it shorts"),
    "not worked out": ForTheBench("what stands between bus and port is not worked out"),
}
PORT_FAULTS = Faults(
    prepare,
    each_fault,
    {
        "switch shorted": _switch_shorted,
        "feedback open": _feedback_open,
        "load switch of the bus shorted": _of_the_bus,
        "port shorted": _shorted,
    },
    LISTED,
)
