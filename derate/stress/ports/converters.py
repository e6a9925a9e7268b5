"""What stands between a bus and its ports carries and blocks: switches, rectifiers, chokes, capacitors, load switches.

A secondary converter that steps down is one of fixed frequency; it is worked out at each line of what its port
advertises and over all that its bus can have, and the worst of them stands. Where the bus does not lie above the port
its switch stays on, and carries the current of the port.
"""

from __future__ import annotations

from typing import NamedTuple

from derate.circuit import buck
from derate.circuit.elementary import product
from derate.ledger.entry import Entry, OpenFact, Subject
from derate.ledger.ledger import Model
from derate.stress.context import Context, Inputs, carried, part
from derate.stress.parts.windings import STANDING, assumed
from derate.stress.ports.asked import Asked, Profile, greatest
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Value

SOURCE = "own derivation from volt-seconds and charge; held to ngspice 39"
STAGE = Model.of(
    "secondary buck, fixed frequency",
    buck.STAGES["fixed frequency", False],
    SOURCE,
    "volt-seconds of the inductor and charge of one period",
)
AT_LIMIT = Model.of(
    "peak at the limit into an empty port",
    buck.AT_LIMIT,
    "own derivation: the current goes on rising until the switch has opened",
    "limit + bus × delay / inductance",
)
DRAWS = Model.of(
    "ripple current that a secondary buck draws", buck.DRAWN, SOURCE, "√(rms² − mean²) of what its switch carries"
)
RINGS = Model.of("bus with its ringing", product("voltage", "bus", "ringing"), "Kirchhoff", "bus × ringing")
REACHED = Model.of(
    "voltage that a secondary buck reaches",
    product("voltage", "bus", "duty"),
    "volt-seconds of the inductor; drops are not in it",
    "bus × greatest duty",
    falling=frozenset(("voltage",)),
)
_DROP = Value.between(0.0, 1.5)  # of a rectifier, from a second switch to a diode at its peak [V]
_ON_DROP = Value.between(0.0, 1.0)  # of switch and copper [V]
_LEAST = 1.2  # bus above port and drops at which the formulas begin [V]
_NONE = ("diode_rms", "diode_average", "swing", "capacitor_rms", "drawn")  # with the switch on for good
# Where a figure turns round, in voltages of the port: the rms of a switch, and what it draws beside its mean.
_TURNS = {"drawn": (1.7, 2.0, 2.4)}
_OF: tuple[tuple[str, tuple[tuple[QuantityName, str], ...]], ...] = (
    ("chopper", (("current_rms", "switch_rms"), ("current_peak", "peak"), ("current_average", "switch_average"))),
    ("rectifier", (("current_rms", "diode_rms"), ("current_peak", "peak"), ("current_average", "diode_average"))),
    ("inductor", (("current_rms", "inductor_rms"), ("current_peak", "peak"), ("current_swing", "swing"))),
)


class Converter(NamedTuple):
    """A secondary buck with its rows."""

    asked: Asked
    inductance: Entry
    frequency: Entry


def converter_of(context: Context, one: Asked) -> Converter:
    """The converter ahead of a port, with what its formulas begin from."""
    inductance = context.need(part(one.port.inductor), "part.inductance")
    return Converter(one, inductance, context.need(one.subject, "port.frequency"))


def solve_between(context: Context, one: Asked) -> None:
    """Every row of the parts between a bus and one port."""
    port = one.port
    for name in (*port.inputs,):
        _as(context, name, "voltage", one.bus)
    if port.shape == "buck":
        found = converter_of(context, one)
        _currents(context, found)
        _voltages(context, one)
        _limit(context, found)
        _reaches(context, one)
    for name in port.capacitors:
        _as(context, name, "voltage", context.need(one.subject, "port.voltage_most") if not port.straight else one.bus)
    for name in (*port.load_switches, *port.behind):
        _as(context, name, "current_rms", context.need(one.subject, "port.current_most"))


def _as(context: Context, name: str, quantity: QuantityName, row: Entry) -> Entry:
    """A row passed on to a part."""
    return carried(context, row, None, part(name), quantity)


# ---- currents --------------------------------------------------------------------------------------------------------


def _currents(context: Context, found: Converter) -> None:
    port = found.asked.port
    of = {"chopper": (port.chopper,), "rectifier": port.rectifiers, "inductor": (port.inductor,)}
    for role, rows in _OF:
        for quantity, output in rows:
            for name in of[role]:
                worst_of(context, found, part(name), quantity, output)


def worst_of(context: Context, found: Converter, subject: Subject, quantity: QuantityName, output: str) -> Entry:
    """One figure over all that the port advertises."""
    one, ledger = found.asked, context.ledger
    if not one.profiles or not isinstance(one.bus.value, Value):
        missing = (*one.missing, *one.bus.missing)
        return ledger.hole(subject, quantity, missing, inputs=(*one.numbers, one.bus.number), note=one.bus.note)
    rows = [row for profile in one.profiles for row in _at(context, found, profile, subject, quantity, output)]
    hole = next((row for row in rows if not isinstance(row.value, Value)), None)
    if hole is not None:
        missing = tuple(dict.fromkeys(fact for row in rows for fact in row.missing))
        return ledger.hole(subject, quantity, missing, inputs=tuple(row.number for row in rows), note=hole.note)
    return ledger.write(
        subject,
        quantity,
        greatest(row.value for row in rows if isinstance(row.value, Value)),
        known_by="computed",
        inputs=(*(row.number for row in rows), *one.numbers),
        rests_on=frozenset().union(one.rests, *(row.rests_on for row in rows)),
        formula=(DRAWS if output == "drawn" else STAGE).name,
        source=SOURCE,
    )


def _at(
    context: Context, found: Converter, profile: Profile, subject: Subject, quantity: QuantityName, output: str
) -> list[Entry]:
    """One figure at one line of what is advertised: switching, and with the switch on for good where the bus is low."""
    ledger, bus = context.ledger, found.asked.bus.value
    assert isinstance(bus, Value)
    rows = []
    floor = profile.voltage + _LEAST
    inputs: Inputs = {
        "output": profile.voltage,
        "drop": _DROP,
        "on_drop": _ON_DROP,
        "inductance": found.inductance,
        "current": profile.current,
        "frequency": found.frequency,
    }
    if bus.high > floor:
        span = Value(*(max(end, floor) for end in bus.numbers()))
        ends: list[Entry | Value | float] = [found.asked.bus if span == bus else span]
        turns = [share * profile.voltage for share in _TURNS.get(output, (1.5,))]
        ends += [turn for turn in turns if span.low < turn < span.high]
        model = DRAWS if output == "drawn" else STAGE
        rows += [
            ledger.work_out(model, {**inputs, "bulk": end}, [(subject, quantity, output)], case=STANDING)[0]
            for end in ends
        ]
    if bus.low < floor + _LEAST:  # its switch may be on for good
        rows.append(
            ledger.write(
                subject,
                quantity,
                Value.exact(0.0) if output in _NONE else profile.current,
                case=STANDING,
                known_by="computed",
                inputs=(found.asked.bus.number, *found.asked.numbers),
                rests_on=found.asked.rests,
                formula="the switch is on for good",
                source="the circuit",
            )
        )
    return rows


# ---- voltages, limit, reach ------------------------------------------------------------------------------------------


def _voltages(context: Context, one: Asked) -> None:
    """What switch and rectifier block: the bus, and what their node rings above it."""
    for name in (one.port.chopper, *one.port.rectifiers):
        subject, ringing = part(name), ringing_of(context, name)
        diode = context.structure.must_be(name, "MOSFET", "integrated switch")
        quantity: QuantityName = "voltage_peak" if diode else "reverse_voltage"
        context.ledger.work_out(RINGS, {"bus": one.bus, "ringing": ringing}, [(subject, quantity, "voltage")])


def ringing_of(context: Context, name: str) -> Entry:
    """How far the node of a converter rings over its bus, as read at a part, or assumed."""
    subject = part(name)
    return context.fact(subject, "part.ringing") or assumed(
        context, "port_ringing", subject, "part.ringing", "part.ringing"
    )


def _limit(context: Context, found: Converter) -> None:
    """Peak of choke and switch at the limit with what its delay adds, into an empty port."""
    one, ledger = found.asked, context.ledger
    port = one.port
    by = next((name for name in (port.by, port.chopper) if name and _states(context, name)), port.by or port.chopper)
    subject = part(by)
    limit = context.need(subject, "part.limit_current")
    delay = context.fact(subject, "part.limit_delay") or assumed(
        context, "port_limit_delay", subject, "limit_delay", "part.limit_delay"
    )
    inputs: Inputs = {"limit": limit, "bulk": one.bus, "delay": delay, "inductance": found.inductance}
    wanted = [(part(name), _AT, "peak") for name in (port.inductor, port.chopper, *port.rectifiers)]
    ledger.work_out(AT_LIMIT, inputs, wanted)


_AT: QuantityName = "current_at_limit"


def _states(context: Context, name: str) -> bool:
    return context.fact(part(name), "part.limit_current") is not None


def _reaches(context: Context, one: Asked) -> None:
    """The greatest voltage that the converter reaches from the least of its bus."""
    by = part(one.port.by or one.port.chopper)
    stated = context.fact(by, "part.greatest_duty")
    duty = stated or context.ledger.hole(one.subject, "voltage_reached", (OpenFact(by, "part.greatest_duty"),))
    context.ledger.work_out(REACHED, {"bus": one.bus, "duty": duty}, [(one.subject, "voltage_reached", "voltage")])
