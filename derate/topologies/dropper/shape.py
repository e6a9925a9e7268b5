"""What a dropper's steps work with: everything in series, the capacitance, and what is held behind it each way."""

from __future__ import annotations

from typing import NamedTuple

from derate.circuit import dropper, elementary
from derate.design.structure import MainsInput, leaves
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model
from derate.stress.context import LINE, Context, Inputs, in_series_and_parallel, part
from derate.stress.mains.line import hot, mains_resistance, total
from derate.terms.quantities import END_OF_LIFE
from derate.terms.values import Value
from derate.topologies.dropper.circuit import DropperParts, parts_of

SOURCE = "own derivation, closed form of each conduction interval; held to ngspice 39"
FLOWS = Model.of(
    "current through a dropping capacitor",
    dropper.CAPACITOR,
    SOURCE,
    "4 f C X; X the crest less what is held, less what resistance in series takes off",
)
ALONE = Model.of(
    "current through dropping resistors", dropper.RESISTOR, SOURCE, "(crest sin(wt) − held) / R while it is above"
)
HELD = {
    "full bridge": Model.of("held by a bridge", dropper.HELD_BY_BRIDGE, "Kirchhoff", "rail + 2 drops"),
    "half-wave": Model.of("held by one diode and another", dropper.HELD_BY_HALF, "Kirchhoff", "rail / 2 + drop"),
    "one diode": Model.of("held by one diode", elementary.total("clamp", "rail", "drop"), "Kirchhoff", "rail + drop"),
    "shunt": Model.of("held by a zener ahead of the diode", dropper.HELD_BY_SHUNT, "Kirchhoff", "(rail + drop) / 2"),
}
AGED = Model.of(
    "dropping capacitance at the end of its life",
    elementary.product("left", "capacitance", "share"),
    "definition",
    "capacitance × share left",
)
DROP = Value.between(0.3, 1.2)  # [V]
OF_THE_RAIL = Subject("path", ("rail",))


class DropperShape(NamedTuple):
    """One dropper.

    parts, inlet: as walked; path: everything in series with the mains, in order
    output: the output on the rail, None where the file has none; rail: what is held across it [V]
    drop: of one diode; resistance: all in series with the mains; capacitance: None where resistors alone drop it
    aged: the same capacitance at the end of its life; held: mean of what is held each way [V]
    """

    parts: DropperParts
    inlet: MainsInput
    path: tuple[str, ...]
    output: Subject | None
    rail: Entry
    drop: Entry
    resistance: Entry
    capacitance: Entry | None
    aged: Entry | None
    held: Entry

    @property
    def bridge(self) -> bool:
        """Whether both half cycles feed the rail."""
        return self.parts.input == "full bridge"

    @property
    def flow(self) -> str:
        """The output of the models that is the current into the rail."""
        return "average" if self.bridge else "one_way"

    def inputs(self, aged: bool = False) -> Inputs:
        """Inputs of the models of the current, but for mains and frequency."""
        found: Inputs = {"resistance": self.resistance}
        if self.capacitance is None:
            return {**found, "clamp": self.held, "back": self.back}
        used = self.aged if aged and self.aged is not None else self.capacitance
        return {**found, "capacitance": used, "clamp": self.held}

    @property
    def back(self) -> Entry | Value:
        """What is held while the current of resistors flows the other way: none does where nothing carries it."""
        if self.bridge:
            return self.held
        return self.drop if self.parts.returns or self.parts.clamped_ahead else Value.exact(1e6)


def shape_of(context: Context) -> DropperShape:
    """Everything the steps begin from; what nobody stated is a hole in it."""
    structure = context.structure
    parts = parts_of(structure)
    inlet = structure.own_inlet
    assert inlet is not None
    path = (*inlet.series, *(name for name in parts.resistors if name not in inlet.series))
    rows = [*((name, hot(context, name)) for name in path), ("mains", mains_resistance(context))]
    output = next((Subject("output", (name,)) for name in structure.outputs), None)
    rail = _rail(context, parts, output)
    drop = context.ledger.write(
        LINE,
        "forward_drop",
        DROP,
        known_by="computed",
        formula="of any junction that carries a milliampere to an ampere",
        source="silicon and Schottky diodes; beside the crest of the mains the rest is nothing",
    )
    kind = parts.input
    if kind == "half-wave":
        kind = "one diode" if not parts.dropping else "shunt" if parts.clamped_ahead else kind
    held = context.ledger.work_out(
        HELD.get(kind, HELD["full bridge"]), {"rail": rail, "drop": drop}, [(LINE, "clamp_voltage", "clamp")]
    )[0]
    capacitance = _capacitance(context, parts) if parts.dropping else None
    return DropperShape(
        parts,
        inlet,
        path,
        output,
        rail,
        drop,
        total(context, rows, Case("resistance hot")),
        capacitance,
        _aged(context, parts, capacitance) if capacitance is not None else None,
        held,
    )


def _rail(context: Context, parts: DropperParts, output: Subject | None) -> Entry:
    """What lies across the rail: the least of what breaks down across it; else what the load takes, by the plate."""
    ledger = context.ledger
    rows = [breakdown(context, name) for name in parts.clamps]
    if not rows:
        if output is not None:
            return context.need(output, "plate.voltage")
        return ledger.hole(OF_THE_RAIL, "voltage", (OpenFact(SUPPLY, "plate.outputs"),))
    values = [row.value for row in rows if isinstance(row.value, Value)]
    inputs = tuple(row.number for row in rows)
    if len(values) < len(rows):
        missing = [fact for row in rows for fact in row.missing]
        return ledger.hole(OF_THE_RAIL, "voltage", missing, inputs=inputs)
    least = Value(*(min(column) for column in zip(*(one.numbers() for one in values), strict=True)))
    return ledger.write(
        OF_THE_RAIL,
        "voltage",
        least,
        known_by="computed",
        inputs=inputs,
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula="the least of what breaks down across it",
        source="the circuit",
    )


def breakdown(context: Context, name: str) -> Entry:
    """Voltage of one clamp: as stated with its tolerance; an exact one with the spread that packs assume."""
    subject, ledger = part(name), context.ledger
    known = context.fact(subject, "clamp_voltage")
    if known is not None:
        return known
    stated = context.need(subject, "part.voltage")
    if not isinstance(stated.value, Value) or not stated.value.is_exact:
        return stated
    spread = context.assume("breakdown_spread", subject, "breakdown_spread")
    return ledger.work_out(SPREAD, {"voltage": stated, "spread": spread}, [(subject, "clamp_voltage", "held")])[0]


SPREAD = Model.of(
    "breakdown voltage with its spread",
    elementary.product("held", "voltage", "spread"),
    "what packs assume",
    "voltage × spread of kind, current and heat",
)


def _capacitance(context: Context, parts: DropperParts) -> Entry:
    """All dropping capacitors as one."""
    names = parts.capacitors
    rows = {name: context.need(part(name), "part.capacitance") for name in names}
    if len(names) == 1:
        return rows[names[0]]
    element = parts.element
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    joined = in_series_and_parallel(element, values, capacitors=True) if element is not None else None
    inputs = tuple(row.number for row in rows.values())
    if joined is None:
        missing = [fact for row in rows.values() for fact in row.missing]
        return context.ledger.hole(LINE, "dropping_capacitance", missing, inputs=inputs)
    return context.ledger.write(
        LINE,
        "dropping_capacitance",
        joined,
        known_by="computed",
        inputs=inputs,
        rests_on=frozenset().union(*(row.rests_on for row in rows.values())),
        formula="capacitances joined",
        source="Kirchhoff",
    )


def _aged(context: Context, parts: DropperParts, fresh: Entry) -> Entry:
    """Capacitance at the end of life: less by what the maker calls the end, or by what packs assume."""
    first = part(parts.capacitors[0])
    stated = [context.value(part(name), "rated.end_of_life_capacitance_change") for name in parts.capacitors]
    known = [one for one in stated if one is not None]
    if len(known) == len(stated) and known:
        most = max(one.high for one in known)
        row = context.need(first, "rated.end_of_life_capacitance_change")
        share: Entry = context.ledger.write(
            first,
            "aged_share",
            Value.between(1.0 - most, 1.0),
            case=Case(END_OF_LIFE),
            known_by="computed",
            inputs=(row.number,),
            rests_on=row.rests_on,
            formula="1 − change at the end of life",
            source="data sheet",
        )
    else:
        share = context.assume("dropping_capacitor_left", first, "aged_share")
    case = Case(END_OF_LIFE)
    inputs: Inputs = {"capacitance": fresh, "share": share}
    return context.ledger.work_out(AGED, inputs, [(LINE, "dropping_capacitance", "left")], case=case)[0]


def store_names(parts: DropperParts) -> tuple[str, ...]:
    """Capacitors across the rail."""
    return tuple(leaf.name for element in parts.stores for leaf in leaves(element))
