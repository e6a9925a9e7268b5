"""What ports ask of the stage behind them: each alone, and all together at every voltage the bus can have.

The bus is an output of the design. Where a port is joined to it straight, it moves: it has each voltage that such a
port advertises. Everything is written without a case: the stage holds its bus at every mains.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import inf
from typing import NamedTuple

from derate.circuit import ports as formulas
from derate.circuit.elementary import passed
from derate.design.structure import Port
from derate.ledger.entry import SUPPLY, Entry, OpenFact, Subject
from derate.ledger.ledger import Model
from derate.stress.context import Context, Inputs, summed
from derate.stress.parts.windings import STANDING
from derate.terms.quantities import RUNNING
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Curve, Value, written

DRAWN = Model.of(
    "current drawn from the bus",
    formulas.BUS_CURRENT,
    "definition of efficiency",
    "voltage × current / (efficiency × bus)",
)
AS_IT_IS = Model.of("as it is", passed("value"), "the circuit")


_FIXED = ("barrel", "terminals")  # connectors over which nothing is agreed: they have what they have
_USB_BEGINS = 5.5  # a USB port begins at 5 V, and stays at this or less until more is agreed to: remembered [V]


class Profile(NamedTuple):
    """One line of what a port advertises: voltage [V], current."""

    voltage: float
    current: Value


class Bus(NamedTuple):
    """One voltage that a bus can have.

    at: with what its stage leaves of it; asked: the voltage that a port asked for, None where no port moves the bus
    sure: whether it has that voltage for certain; a port that nobody traced may move it, and may not
    """

    at: Entry | Value
    asked: float | None = None
    sure: bool = True

    @property
    def value(self) -> Value | None:
        found = self.at.value if isinstance(self.at, Entry) else self.at
        return found if isinstance(found, Value) else None


class Asked(NamedTuple):
    """A port with its rows.

    profiles: what it advertises; empty where nobody said, and then `missing` names it
    bus: voltage of the bus over all that it can have; volts: each of them, that of the stage where it does not move
    """

    port: Port
    subject: Subject
    source: Subject
    profiles: tuple[Profile, ...]
    missing: tuple[OpenFact, ...]
    advertised: Entry | None
    bus: Entry
    volts: tuple[Bus, ...]

    @property
    def least(self) -> float:
        return self.profiles[0].voltage

    @property
    def most(self) -> float:
        return self.profiles[-1].voltage

    @property
    def numbers(self) -> tuple[int, ...]:
        """Of the row that says what it advertises."""
        return (self.advertised.number,) if self.advertised is not None else ()

    @property
    def rests(self) -> frozenset[OpenFact]:
        return self.advertised.rests_on if self.advertised is not None else frozenset()


def subject_of(port: Port) -> Subject:
    """The subject of a port."""
    return Subject("port", (port.name,))


def profiles_of(context: Context, port: Port) -> tuple[tuple[Profile, ...], tuple[OpenFact, ...], Entry | None]:
    """What a port advertises, by rising voltage; what is missing of it; its row."""
    subject = subject_of(port)
    row = context.fact(subject, "port.advertised")
    if row is None:
        return (), (OpenFact(subject, "port.advertised"),), None
    if not isinstance(row.value, Curve):
        return (), (OpenFact(subject, "port.advertised", "with its voltage"),), row
    found = tuple(Profile(volts, value) for volts, value in row.value.points if value.high > 0.0 and volts > 0.0)
    if not found:
        return (), (OpenFact(subject, "port.advertised"),), row
    connector = context.word(subject, "port.connector")
    if found[0].voltage > _USB_BEGINS and connector is None:
        return (), (OpenFact(subject, "port.connector"),), row
    if found[0].voltage > _USB_BEGINS and connector in ("USB-C", "USB-A"):
        # what is plugged in has agreed to nothing yet: the moment at which every fault is worst
        return (), (OpenFact(subject, "port.advertised", "with its line at 5 V, where each USB port begins"),), row
    if connector not in _FIXED and context.word(subject, "port.every_offer") != "yes":
        return (), (OpenFact(subject, "port.every_offer"),), row  # one that is left out may be the one that counts
    return found, (), row


def asked_of(context: Context, ports: Sequence[Port]) -> tuple[Asked, ...]:
    """Every port with what it advertises and the voltages of its bus."""
    known = {port.name: profiles_of(context, port) for port in ports}
    buses: dict[str, tuple[Entry, tuple[Bus, ...]]] = {}
    for name in dict.fromkeys(port.bus for port in ports):
        buses[name] = _bus(context, name, [port for port in ports if port.bus == name], known)
    return tuple(
        Asked(port, subject_of(port), Subject("output", (port.bus,)), *known[port.name], *buses[port.bus])
        for port in ports
    )


def _bus(
    context: Context,
    name: str,
    ports: Sequence[Port],
    known: dict[str, tuple[tuple[Profile, ...], tuple[OpenFact, ...], Entry | None]],
) -> tuple[Entry, tuple[Bus, ...]]:
    """The range of a bus, written, and each voltage that it can have.

    A stage that holds its plate within so much holds every other voltage that it is asked for no better.
    """
    subject, ledger = Subject("output", (name,)), context.ledger
    plate = context.need(subject, "plate.voltage")
    ledger.work_out(AS_IT_IS, {"value": plate}, [(subject, "stage_voltage", "value")])
    moves = [port for port in ports if port.may_be_straight]
    lacking = tuple(fact for port in moves for fact in known[port.name][1])
    rows = [row for port in moves if (row := known[port.name][2]) is not None]
    if lacking or not isinstance(plate.value, Value):
        hole = ledger.hole(subject, "bus_voltage", (*plate.missing, *lacking), inputs=(plate.number,))
        return hole, (Bus(hole),)
    volts = sorted({one.voltage for port in moves for one in known[port.name][0]})
    sure = {one.voltage for port in moves if port.straight for one in known[port.name][0]}
    # what the stage itself makes of its plate, by how it is held
    held = [
        row for case in context.plan.cases(["voltage"], [RUNNING]) if (row := context.fact(subject, "voltage", case))
    ]
    ends = [plate.value, *(row.value for row in held if isinstance(row.value, Value))]
    stands = Value(
        min(one.low for one in ends),
        min(one.near for one in ends),
        max(one.far for one in ends),
        max(one.high for one in ends),
    )
    about = plate.value.middle
    spread = Value(*(end / about for end in stands.numbers())) if about > 0.0 else Value.exact(1.0)
    spans = [spread.scaled(each) for each in volts]
    moved = [Bus(span, each, each in sure) for span, each in zip(spans, volts, strict=True)]
    value = Value(
        min((stands.low, *(one.low for one in spans))),
        min((stands.near, *(one.near for one in spans))),
        max((stands.far, *(one.far for one in spans))),
        max((stands.high, *(one.high for one in spans))),
    )
    used = (plate, *rows, *held)
    row = ledger.write(
        subject,
        "bus_voltage",
        value,
        known_by="computed",
        inputs=tuple(one.number for one in used),
        rests_on=frozenset().union(*(one.rests_on for one in used)),
        formula="as the stage holds it, and each voltage of a port that is joined to it",
        source="the circuit",
    )
    return row, (*moved, *(() if sure else (Bus(row if not moved else stands),)))


# ---- currents --------------------------------------------------------------------------------------------------------


def solve_asked(context: Context, ports: Sequence[Asked]) -> None:
    """Current of the bus for each port alone and for all of them, held to what the stage is made to give."""
    ledger = context.ledger
    for source in dict.fromkeys(one.source for one in ports):
        own = [one for one in ports if one.source == source]
        gives = context.fact(source, "plate.full_current") or context.need(source, "plate.current")
        for subject in (source, *(one.subject for one in own)):
            ledger.work_out(AS_IT_IS, {"value": gives}, [(subject, "allowed.bus_current", "value")])
        alone = [_alone(context, one) for one in own]
        _together(context, source, own, alone)
    for one in ports:
        _offers(context, one)


def _offers(context: Context, one: Asked) -> None:
    """The greatest current and voltage on offer, and of a port joined to its bus the voltage the stage is made for."""
    ledger = context.ledger
    quantities: tuple[QuantityName, ...] = ("port.current_most", "port.voltage_most")
    if not one.profiles:
        for quantity in quantities:
            ledger.hole(one.subject, quantity, one.missing, inputs=one.numbers)
    else:
        most = max((profile.current for profile in one.profiles), key=lambda value: value.high)
        for quantity, value in zip(quantities, (most, Value.exact(one.most)), strict=True):
            _write(context, one.subject, quantity, value, one.numbers, one.rests, "the most that is advertised")
    made = context.need(one.source, "stage_voltage")
    ledger.work_out(AS_IT_IS, {"value": made}, [(one.subject, "stage_voltage", "value")])


def at_voltage(context: Context, one: Asked, bus: Bus) -> Entry:
    """Current that one port draws from the bus while that has a voltage, at the worst of what it advertises."""
    ledger = context.ledger
    if not one.profiles:
        return ledger.hole(one.subject, "bus_current", one.missing, case=STANDING, inputs=one.numbers)
    if one.port.straight:
        same = [profile for profile in one.profiles if profile.voltage == bus.asked]
        most = max((each.current for each in same or one.profiles), key=lambda value: value.high)
        return _write(context, one.subject, "bus_current", most, one.numbers, one.rests, "joined to its bus", True)
    efficiency = context.need(one.subject, "port.efficiency")
    rows = []
    for profile in one.profiles:
        inputs: Inputs = {
            "voltage": profile.voltage,
            "current": profile.current,
            "efficiency": efficiency,
            "bus": bus.at,
        }
        rows.append(ledger.work_out(DRAWN, inputs, [(one.subject, "bus_current", "current")], case=STANDING)[0])
    return worst(rows)


def _alone(context: Context, one: Asked) -> Entry:
    """The most that one port draws by itself; where it is not worked out what stands between, by its efficiency."""
    rows = [at_voltage(context, one, bus) for bus in one.volts]
    found = worst(rows)
    if not isinstance(found.value, Value):
        return context.ledger.hole(one.subject, "bus_current", found.missing, note=found.note, inputs=one.numbers)
    return _write(
        context,
        one.subject,
        "bus_current",
        _over(one.volts, [row.value for row in rows if isinstance(row.value, Value)]),
        (*(row.number for row in rows), *one.numbers),
        one.rests.union(*(row.rests_on for row in rows)),
        "the worst of what it advertises",
    )


def _over(volts: Sequence[Bus], values: Sequence[Value]) -> Value:
    """The greatest over the voltages that a bus has for certain; one that it may have widens it."""
    found = greatest(value for bus, value in zip(volts, values, strict=True) if bus.sure)
    for bus, value in zip(volts, values, strict=True):
        if not bus.sure:
            found = Value(
                min(found.low, value.low),
                min(found.near, value.near),
                max(found.far, value.far),
                max(found.high, value.high),
            )
    return found


def _together(context: Context, source: Subject, ports: Sequence[Asked], alone: Sequence[Entry]) -> None:
    """The sum at each voltage of the bus; what shares it out holds it, where a part does that."""
    ledger = context.ledger
    rows: list[Entry] = []
    found: list[tuple[Value, str]] = []
    shared, held_by = _held(context, ports)
    hole = next((one for one in alone if not isinstance(one.value, Value)), None)
    if hole is not None:
        missing = tuple(dict.fromkeys(fact for one in alone for fact in one.missing))
        ledger.hole(source, "ports_bus_current", missing, note=hole.note)
        return
    for bus in ports[0].volts:
        volts = bus.value
        if volts is None and shared is not None and isinstance(bus.at, Entry):
            # a power says nothing of a current at a voltage that nobody knows
            ledger.hole(source, "ports_bus_current", bus.at.missing, note=bus.at.note)
            return
        each = [at_voltage(context, one, bus) for one in ports]
        rows += each
        total = summed([row.value for row in each if isinstance(row.value, Value)])
        if shared is not None and volts is not None:
            total = least_of(total, _drawn(shared, volts))
        said = ", ".join(f"{one.port.name} {_amperes(row)}" for one, row in zip(ports, each, strict=True))
        found.append((total, f"at a bus of {written(volts.low)} V: {said}" if volts is not None else said))
    note = max(found, key=lambda each: each[0].high)[1]
    value = _over(ports[0].volts, [each[0] for each in found])
    for one in alone:  # none of them is held to less than what it advertises by itself
        assert isinstance(one.value, Value)
        value = most_of(value, one.value)
    if held_by is not None:
        note += "; shared out"
    used = (*rows, *alone, *((held_by,) if held_by is not None else ()))
    ledger.write(
        source,
        "ports_bus_current",
        value,
        known_by="computed",
        inputs=tuple(dict.fromkeys(row.number for row in used)),
        rests_on=frozenset().union(*(row.rests_on for row in used)),
        formula="sum over all ports at the worst voltage of the bus",
        source="Kirchhoff",
        note=note,
    )


def _held(context: Context, ports: Sequence[Asked]) -> tuple[Value | None, Entry | None]:
    """Power of the bus that a part holds all ports to [W], by the worst efficiency; None: the sum counts."""
    power = context.fact(SUPPLY, "sharing.power")
    if power is None or not isinstance(power.value, Value) or context.word(SUPPLY, "sharing.held") != "yes":
        return None, None
    worst_of = 1.0
    for one in ports:
        efficiency = context.value(one.subject, "port.efficiency")
        if not one.port.straight:
            if efficiency is None or efficiency.low <= 0.0:
                return None, None
            worst_of = min(worst_of, efficiency.low)
    return power.value.scaled(1.0 / worst_of), power


def _drawn(power: Value, volts: Value) -> Value:
    """Current at a power and a voltage, end by end [A]: a bus that sinks draws the more."""
    return Value(power.low / volts.high, power.near / volts.far, power.far / volts.near, power.high / volts.low)


def _amperes(row: Entry) -> str:
    return f"{written(row.value.high)} A" if isinstance(row.value, Value) else "?"


# ---- small ones ------------------------------------------------------------------------------------------------------


def worst(rows: Sequence[Entry]) -> Entry:
    """The row of the greatest figure; the first hole where there is one."""
    hole = next((row for row in rows if not isinstance(row.value, Value)), None)
    return hole or max(rows, key=lambda row: row.value.high if isinstance(row.value, Value) else inf)


def most_of(one: Value, other: Value) -> Value:
    """The greater of two figures, end by end."""
    return Value(*(max(pair) for pair in zip(one.numbers(), other.numbers(), strict=True)))


def least_of(one: Value, other: Value) -> Value:
    """The lesser of two figures, end by end."""
    return Value(*(min(pair) for pair in zip(one.numbers(), other.numbers(), strict=True)))


def greatest(values: Iterable[Value]) -> Value:
    """The greatest of several figures, end by end."""
    found = list(values)
    for one in found[1:]:
        found[0] = most_of(found[0], one)
    return found[0]


def _write(
    context: Context,
    subject: Subject,
    quantity: QuantityName,
    value: Value,
    inputs: tuple[int, ...],
    rests: frozenset[OpenFact],
    formula: str,
    standing: bool = False,
) -> Entry:
    return context.ledger.write(
        subject,
        quantity,
        value,
        case=STANDING if standing else None,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula=formula,
        source="the circuit",
    )
