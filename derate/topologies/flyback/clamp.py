"""The clamp as walked, and the energy of a switch without one that breaks down at every turn-off."""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from derate.circuit.flyback_stage import avalanche
from derate.design.paths import Element, Group, Leaf, leaves
from derate.ledger.entry import SUPPLY, Entry, OpenFact
from derate.ledger.model import Model
from derate.stress.context import Context, in_series_and_parallel, only, part
from derate.terms.cases import OVERLOAD, RUNNING
from derate.terms.quantities import QuantityName
from derate.terms.values import Curve, Value
from derate.terms.words import CAPACITORS, RESISTORS
from derate.topologies.flyback.circuit import parts_of
from derate.topologies.flyback.operating import Inputs
from derate.topologies.flyback.shape import PRIMARY, STANDING, FlybackShape

# The clamp as walked: which kind it is, and its resistances, capacitances and voltages as one value each.


_BREAKDOWN = ("zener diode", "suppressor diode")
SLOW = 0.5e-6  # clamp diodes this slow to recover hand charge back (facts, ngspice) [s]
# A breakdown diode's voltage at the current of a clamp lies above its mark; common practice, no source.
BREAKDOWN_RISE = 1.25


class ClampShape(NamedTuple):
    """kind: resistor-capacitor-diode | breakdown | none | unknown | other

    bleed: resistors that empty the clamp capacitor; series: resistors in the way of the pulse; breakdown: Zeners or
    suppressors; element: of the bleeding resistors alone; slow: whether the diode is slow to recover
    """

    kind: str
    diodes: tuple[str, ...] = ()
    bleed: tuple[str, ...] = ()
    series: tuple[str, ...] = ()
    capacitors: tuple[str, ...] = ()
    breakdown: tuple[str, ...] = ()
    element: Element | None = None
    whole: Element | None = None
    slow: bool = False


def clamp_of(context: Context) -> ClampShape:
    """The clamp of the structure."""
    clamp = parts_of(context.structure).clamp
    if clamp is None:
        return ClampShape("unknown")
    if not clamp:
        return ClampShape("none")
    whole = clamp[0]
    must = context.structure.must_be
    names = [leaf.name for leaf in leaves(whole)]
    breakdown = tuple(n for n in names if must(n, *_BREAKDOWN))
    resistors = [n for n in names if must(n, *RESISTORS)]
    capacitors = tuple(n for n in names if must(n, *CAPACITORS))
    diodes = tuple(n for n in names if n not in breakdown and n not in resistors and n not in capacitors)
    inside = _beside_capacitor(whole, set(capacitors))
    bleed = tuple(n for n in resistors if n in inside)
    series = tuple(n for n in resistors if n not in inside)
    slow = any(_is_slow(context, name) for name in diodes)
    if breakdown:
        return ClampShape("breakdown", diodes, bleed, series, capacitors, breakdown, only(whole, bleed), whole, slow)
    kind = "resistor-capacitor-diode" if bleed and capacitors and diodes else "other"
    return ClampShape(kind, diodes, bleed, series, capacitors, (), only(whole, bleed), whole, slow)


def _is_slow(context: Context, name: str) -> bool:
    recovery = context.value(part(name), "rated.recovery_time")
    if recovery is not None:
        return recovery.far >= SLOW
    return context.structure.may_be(name, "line diode")


def _beside_capacitor(element: Element, capacitors: set[str]) -> set[str]:
    """Names of everything in parallel with a capacitor."""
    if isinstance(element, Leaf):
        return set()
    if element.joined == "parallel" and any(
        leaf.name in capacitors for member in element.members for leaf in leaves(member)
    ):
        return {leaf.name for leaf in leaves(element)}
    return set().union(*(_beside_capacitor(member, capacitors) for member in element.members))


def joined(
    context: Context, element: Element | None, fact: QuantityName, quantity: QuantityName, capacitors: bool = False
) -> Entry:
    """Resistance or capacitance of an element, as a row of the primary path."""
    if element is None:
        return context.ledger.hole(PRIMARY, quantity, (OpenFact(SUPPLY, "circuit.clamp"),), case=STANDING)
    names = [leaf.name for leaf in leaves(element)]
    rows = {name: context.need(part(name), fact) for name in names}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    inputs = tuple(row.number for row in rows.values())
    rests = frozenset().union(*(row.rests_on for row in rows.values()))
    value = in_series_and_parallel(element, values, capacitors)
    if value is None:
        missing = [one for row in rows.values() for one in row.missing]
        return context.ledger.hole(PRIMARY, quantity, missing, case=STANDING, inputs=inputs, rests_on=rests)
    return context.ledger.write(
        PRIMARY,
        quantity,
        value,
        case=STANDING,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula="parts joined as walked",
        source="Kirchhoff",
    )


def parallel_capacitance(context: Context, names: tuple[str, ...]) -> Entry:
    """Capacitance of the clamp capacitors, all in parallel."""
    clamp = parts_of(context.structure).clamp
    first = next((leaf for leaf in leaves(clamp[0])), None) if clamp else None
    if first is None or not names:
        return context.ledger.hole(PRIMARY, "clamp_capacitance", (OpenFact(SUPPLY, "circuit.clamp"),), case=STANDING)
    members = tuple(Leaf(name, first.place) for name in names)
    element: Element = members[0] if len(members) == 1 else Group("parallel", members)
    return joined(context, element, "part.capacitance", "clamp_capacitance", capacitors=True)


def breakdown_voltage(context: Context, shape: ClampShape) -> Entry:
    """Voltage of the breakdown diodes in series at the current of the clamp."""
    ledger = context.ledger
    rows, ends = [], []
    for name in shape.breakdown:
        subject = part(name)
        stated = context.need(subject, "part.voltage")
        rows.append(stated)
        if not isinstance(stated.value, Value):
            return ledger.hole(PRIMARY, "clamp_voltage", stated.missing, case=STANDING, inputs=(stated.number,))
        low, near, far, high = stated.value.numbers()
        if low <= 0.0:
            note = f"{name} breaks down at {low:.4g} V: state a voltage above zero"
            return ledger.hole(PRIMARY, "clamp_voltage", (), case=STANDING, inputs=(stated.number,), note=note)
        sheet = context.fact(subject, "rated.clamping_voltage")
        top = BREAKDOWN_RISE * far
        if sheet is not None:
            rows.append(sheet)
            points = [v for _, v in sheet.value.points] if isinstance(sheet.value, Curve) else [sheet.value]
            top = max((v.far for v in points if isinstance(v, Value)), default=top)
        ends.append((low, near, max(far, top), max(high, top if far == inf else top * high / far)))
    return ledger.write(
        PRIMARY,
        "clamp_voltage",
        Value(*(sum(column) for column in zip(*ends, strict=True))),
        case=STANDING,
        known_by="computed",
        inputs=tuple(row.number for row in rows),
        rests_on=frozenset().union(*(row.rests_on for row in rows)),
        formula="from the mark up to the clamping voltage",
        source="data sheet, else a quarter above the mark: common practice, no source",
    )


def shares(context: Context, element: Element | None) -> dict[str, float]:
    """Share of the power of joined resistors that each takes, at nominal; empty where a resistance is not known."""
    if element is None:
        return {}
    values = {leaf.name: context.value(part(leaf.name), "part.resistance") for leaf in leaves(element)}
    if any(value is None or value.middle <= 0 for value in values.values()):
        return {}
    ohms = {name: value.middle for name, value in values.items() if value is not None}
    found: dict[str, float] = {}
    _divide(element, ohms, 1.0, found)
    return found


def _ohms(element: Element, ohms: dict[str, float]) -> float:
    if isinstance(element, Leaf):
        return ohms[element.name]
    each = [_ohms(member, ohms) for member in element.members]
    if element.joined == "series":
        return sum(each)
    conductance = sum(1.0 / one for one in each)
    return 1.0 / conductance if conductance > 0.0 else inf


def _divide(element: Element, ohms: dict[str, float], power: float, found: dict[str, float]) -> None:
    if isinstance(element, Leaf):
        found[element.name] = power
        return
    each = [_ohms(member, ohms) for member in element.members]
    weights = each if element.joined == "series" else [1.0 / one for one in each]
    for member, weight in zip(element.members, weights, strict=True):
        _divide(member, ohms, power * weight / sum(weights), found)


# Energy of a switch without a clamp that breaks down at every turn-off.


_SOURCE = "text-book single-pulse avalanche energy, the source being bulk plus reflected voltage"


def _model(boundary: bool, at_limit: bool) -> Model:
    return Model.of(
        "avalanche energy of one turn-off",
        avalanche(boundary, at_limit),
        _SOURCE,
        "leakage × peak² / 2 × breakdown / (breakdown − bulk − reflected)",
    )


def solve_avalanche(context: Context, shape: FlybackShape, high: Inputs, limit: Inputs) -> None:
    """Write the energy of one turn-off at full load and at the current limit, both at the highest mains."""
    if shape.switch is None:
        return
    subject = part(shape.switch)
    breakdown: Entry = context.need(subject, "allowed.switch_voltage")
    for group, inputs in ((RUNNING, high), (OVERLOAD, limit)):
        model = _model(shape.boundary, group == OVERLOAD)
        for case in context.plan.cases(["energy"], [group]):
            context.ledger.work_out(
                model, {**inputs, "breakdown": breakdown}, [(subject, "energy", "energy")], case=case
            )
