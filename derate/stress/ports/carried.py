"""Ripple of the capacitors beside a secondary buck, and what its switch and its rectifier lose.

Three groups of capacitors carry it: those behind the choke the swing of its current, those ahead of the switch and
those of the bus what the switch draws in pulses. How it is parted between a port's own and those of the bus nobody can
tell from their marks (the copper between them decides), so that each may carry none of it and all of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, inf

from derate.circuit import buck
from derate.circuit import ports as formulas
from derate.circuit.elementary import product
from derate.circuit.thermal import HOT_CHANNEL, up_to_hot
from derate.ledger.entry import Entry, OpenFact, Subject
from derate.ledger.ledger import Model
from derate.stress.context import Context, Inputs, part
from derate.stress.parts.life import junction
from derate.stress.parts.ratings import ripple_rating
from derate.stress.parts.windings import STANDING, assumed
from derate.stress.ports.asked import Asked
from derate.stress.ports.converters import Converter, worst_of
from derate.terms.quantities import RUNNING
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Curve, Value
from derate.terms.words import CAPACITORS

_ALIKE = 0.2  # alike capacitors in parallel part a current within a fifth: common practice
_DEAD = Value.between(0.0, 60e-9)  # both switches open at each change [s]
LOST = Model.of(
    "loss of the switch of a secondary buck", buck.LOST, "own derivation", "rms² R + edges + C bus² f / 2 + recovery"
)
SECOND = Model.of(
    "loss of the second switch of a secondary buck",
    formulas.SECOND_SWITCH,
    "own derivation",
    "rms² R + 2 body drop × peak × dead time × f",
)
CONDUCTING = Model.of(
    "loss of the diode of a secondary buck", product("power", "drop", "current"), "definition", "drop × average current"
)


def solve_ripple(context: Context, found: Converter) -> None:
    """Ripple current of the capacitors behind the choke and ahead of the switch."""
    one, port = found.asked, found.asked.port
    whole = worst_of(context, found, one.subject, "ripple_current", "capacitor_rms")
    _parted(context, whole, port.stores)
    _parted(context, whole, port.outer)
    drawn = worst_of(context, found, one.subject, "ripple_drawn", "drawn")
    _parted(context, drawn, port.inputs)
    hertz = context.value(one.subject, "port.frequency")
    for name in (*port.capacitors, *port.inputs):
        if hertz is not None and context.structure.may_be(
            name, "electrolytic capacitor", "solid electrolytic capacitor"
        ):
            ripple_rating(context, part(name), hertz.low)


def _parted(context: Context, whole: Entry, names: Sequence[str]) -> None:
    """One capacitor's part, from none of it: others beside these may take it; alike ones share within a fifth."""
    share = share_of(context, names)
    for name in names:
        value = whole.value
        if isinstance(value, Value):
            value = Value(0.0, 0.0, value.far * share, value.high * share)
        context.ledger.write(
            part(name),
            "ripple_current",
            value,
            missing=whole.missing,
            known_by="computed",
            inputs=(whole.number,),
            rests_on=whole.rests_on,
            formula="at most this share of the ripple current",
            source="common practice, no source",
            note=whole.note or ("alike, within a fifth" if share < 1.0 else "all of it, at most"),
        )


def share_of(context: Context, names: Sequence[str]) -> float:
    """The most that one of several in parallel carries of a current, over all of it."""
    kinds = {context.structure.one_kind(name) for name in names}
    values = [context.value(part(name), "part.capacitance") for name in names]
    known = {value.middle for value in values if value is not None}
    alike = len(names) > 1 and len(kinds) == 1 and None not in kinds and len(known) == 1 and None not in values
    return min(1.0, (1.0 + _ALIKE) / len(names)) if alike else 1.0


# ---- the capacitors of the bus ---------------------------------------------------------------------------------------


def solve_bus_ripple(context: Context, every: Sequence[Asked]) -> None:
    """Ripple current of the last capacitors of a bus: their own, and what all converters ahead of its ports draw."""
    at_ports: set[str] = set()
    for name in dict.fromkeys(one.port.bus for one in every):
        drawing = [one for one in every if one.port.bus == name and one.port.shape == "buck"]
        names = _bank(context, name)
        share = share_of(context, names)
        alone = len(names) == 1 and not any(one.port.inputs for one in drawing)
        for capacitor in names if drawing else ():
            at_ports.add(capacitor)
            drawn = [context.need(one.subject, "ripple_drawn") for one in drawing]
            _with_ports(context, capacitor, drawn, share, alone)
    for capacitor, place in context.structure.places.items():
        if place == "output capacitor":
            context.ledger.write(
                part(capacitor),
                "part.at_ports",
                Category.of("yes" if capacitor in at_ports else "no"),
                known_by="computed",
                formula="behind the last choke of a bus that converters draw from",
                source="the circuit",
            )


def _bank(context: Context, bus: str) -> tuple[str, ...]:
    """Capacitors across a bus behind the last choke on its path: those that the ports see."""
    output, found = context.structure.outputs.get(bus), []
    for step in output.path if output is not None else ():
        if step.how == "across":
            found += [one for one in step.names if context.structure.may_be(one, *CAPACITORS)]
        elif any(context.structure.may_be(one, "choke") for one in step.names):
            found = []
    return tuple(found)


def _with_ports(context: Context, name: str, drawn: Sequence[Entry], share: float, alone: bool) -> None:
    """The root of both squares: the stage and the converters switch apart from each other.

    Converters may switch together, so that what they draw adds up in full, or apart: then by its squares.
    alone: no other capacitor is there that could take a part of it
    """
    ledger, subject = context.ledger, part(name)
    own = [row for row in ledger.rows(subject, "ripple_current") if row.case is not None and row.case.group == RUNNING]
    rows = [*own, *drawn]
    inputs = tuple(row.number for row in rows)
    rests = frozenset().union(*(row.rests_on for row in rows))
    hole = next((row for row in rows if not isinstance(row.value, Value)), None)
    if hole is not None or not own:
        missing = tuple(dict.fromkeys(fact for row in rows for fact in row.missing))
        note = hole.note if hole is not None else "what the stage itself drives through it is not known"
        ledger.hole(subject, "ripple_with_ports", missing, inputs=inputs, note=note)
        return
    most = [row.value for row in own if isinstance(row.value, Value)]
    added = [row.value for row in drawn if isinstance(row.value, Value)]
    far, high = (share * sum(getattr(value, end) for value in added) for end in ("far", "high"))
    low, near = (hypot(*(getattr(value, end) for value in added)) if alone else 0.0 for end in ("low", "near"))
    ledger.write(
        subject,
        "ripple_with_ports",
        Value(
            hypot(max(one.low for one in most), low),
            hypot(max(one.near for one in most), near),
            hypot(max(one.far for one in most), far),
            hypot(max(one.high for one in most), high),
        ),
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula="√(own² + what the converters draw²)",
        source="own derivation; the copper between decides how much of it the capacitors of a port take off",
    )


# ---- heat ------------------------------------------------------------------------------------------------------------


def solve_heat(context: Context, found: Converter) -> None:
    """Loss and junction of the switch and of what freewheels."""
    port = found.asked.port
    junction(context, port.chopper, _switch(context, found))
    for name in port.rectifiers:
        second = context.structure.must_be(name, "MOSFET", "integrated switch")
        junction(context, name, _second(context, found, name) if second else _diode(context, name))


def _switch(context: Context, found: Converter) -> Entry:
    port = found.asked.port
    subject = part(port.chopper)
    if port.inside:
        note = "it holds its second switch itself, and both heat one die: read its case"
        return context.ledger.hole(subject, "power", (), note=note)
    inputs: Inputs = {
        "rms": context.need(subject, "current_rms"),
        "peak": context.need(subject, "current_peak"),
        "valley": worst_of(context, found, found.asked.subject, "current_valley", "valley"),
        "resistance": hot(context, subject),
        "bulk": found.asked.bus,
        "edge": _stated(context, subject, "part.switching_time", "port_edge", "switching_edge"),
        "frequency": found.frequency,
        "capacitance": _stated(
            context, subject, "part.output_capacitance", "port_node_capacitance", "output_capacitance"
        ),
        "recovery": _recovery(context, port.rectifiers),
    }
    return context.ledger.work_out(LOST, inputs, [(subject, "power", "power")])[0]


def _recovery(context: Context, rectifiers: Sequence[str]) -> Entry | Value:
    """How long what freewheels conducts on: a Schottky diode not at all, a diode as stated, a body diode as assumed."""
    if all(context.structure.must_be(name, "Schottky diode") for name in rectifiers):
        return Value.exact(0.0)
    for name in rectifiers:
        stated = context.fact(part(name), "rated.recovery_time")
        if stated is not None:
            return stated
    return assumed(context, "port_recovery", part(rectifiers[0]), "recovery", "rated.recovery_time")


def _second(context: Context, found: Converter, name: str) -> Entry:
    subject = part(name)
    inputs: Inputs = {
        "rms": context.need(subject, "current_rms"),
        "peak": context.need(subject, "current_peak"),
        "resistance": hot(context, subject),
        "dead": _DEAD,
        "frequency": found.frequency,
    }
    return context.ledger.work_out(SECOND, inputs, [(subject, "power", "power")])[0]


def _diode(context: Context, name: str) -> Entry:
    """Drop at its peak times its mean current; the drop by a point of its curve at that current or above."""
    subject = part(name)
    stated, peak = context.need(subject, "rated.forward_voltage"), context.need(subject, "current_peak")
    drop: Entry = stated
    if isinstance(stated.value, Curve) and isinstance(peak.value, Value):
        points = stated.value.points
        above = [value for amps, value in points if amps >= peak.value.high]
        least = min(value.low for _, value in points)
        if above:
            told = Value.between(min(least, 0.2), max(above[0].high, least))
            drop = _written(context, subject, "forward_drop", told, (stated, peak), "between the least and that above")
        else:
            fact = OpenFact(subject, "rated.forward_voltage", f"at {peak.value.high:.3g} A")
            drop = context.ledger.hole(subject, "forward_drop", (fact,), inputs=(stated.number, peak.number))
    inputs: Inputs = {"drop": drop, "current": context.need(subject, "current_average")}
    return context.ledger.work_out(CONDUCTING, inputs, [(subject, "power", "power")])[0]


def hot(context: Context, subject: Subject) -> Entry:
    """On-resistance of a channel between 25 degC and hot."""
    stated = context.need(subject, "rated.on_resistance")
    value = stated.value
    if isinstance(value, Curve):
        least, most = min(v.low for _, v in value.points), max(v.high for _, v in value.points)
        told = Value.between(least, up_to_hot(value.greatest) * most)
    elif isinstance(value, Value):
        told = Value.between(value.low, HOT_CHANNEL * value.high)
    else:
        return stated
    if told.high == inf:
        return stated
    return _written(context, subject, "hot_resistance", told, (stated,), "from 25 degC to a hot channel")


def _stated(context: Context, subject: Subject, key: QuantityName, name: str, quantity: QuantityName) -> Entry:
    return context.fact(subject, key) or assumed(context, name, subject, quantity, key)


def _written(
    context: Context, subject: Subject, quantity: QuantityName, value: Value, rows: Sequence[Entry], formula: str
) -> Entry:
    return context.ledger.write(
        subject,
        quantity,
        value,
        case=STANDING,
        known_by="computed",
        inputs=tuple(row.number for row in rows),
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula=formula,
        source="common practice, no source; 1.8 to 2.8 times at 150 degC" if "hot" in formula else "data sheet",
    )
