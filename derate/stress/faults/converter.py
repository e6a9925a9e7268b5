"""Single faults beyond the mains input: their rows, whether worked out or for the bench with the reason.

Those of bleeders and of capacitors across the barrier belong to any supply; a topology brings its own list and what
works each out (`Faults`). Only the `faults` command and the report ask for these rows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from derate.circuit.barrier import one_shorted
from derate.circuit.converter_faults import ENERGY_LEFT, ForTheBench, NothingFlows, WorkedOut
from derate.circuit.resistors import SERIES_SHARE
from derate.design.structure import Bridge, Shunt, leaves
from derate.ledger.entry import Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model
from derate.stress.context import Context, Inputs, in_series_and_parallel, only, part, summed
from derate.stress.faults.mains_path import fault_cases
from derate.terms.quantities import FAULT
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Value, written
from derate.terms.words import CAPACITORS, RESISTORS


class SingleFault(NamedTuple):
    """One single fault.

    name: as on the bench; subject: what it happens in; kind: its entry in the list of faults
    about: what its topology hands to whoever works it out, such as the output it happens in
    rest: the parts that take over what this one leaves
    """

    name: str
    subject: Subject
    kind: str
    about: Any = None
    rest: tuple[str, ...] = ()


# what works a fault out at one case; handed what `Faults.prepare` returned
Handler = Callable[[Context, Any, SingleFault, Case], None]
Listed = WorkedOut | NothingFlows | ForTheBench


class Faults(NamedTuple):
    """The single faults of a topology.

    prepare: what listing and working out start from; each: every fault of this design, made from what is joined to what
    handlers: what works out each kind; listed: what is said of the kinds without figures
    """

    prepare: Callable[[Context], Any]
    each: Callable[[Context, Any], Iterable[SingleFault]]
    handlers: Mapping[str, Handler]
    listed: Mapping[str, Listed]


def write_fault_rows(
    context: Context, faults: Faults | None, gap: tuple[str, tuple[OpenFact, ...]] | None = None
) -> None:
    """Write a row for every fault beyond the mains path at the lowest and the highest mains.

    faults: of the design's topology; None where it is not covered
    gap: why nothing of them can be worked out, and the facts that are missing for it: they are for the bench then
    """
    for fault in mains_side(context):
        for case in fault_cases(context.plan, fault.name):
            if case.mains is not None:
                _mains_side(context, fault, case)
            elif fault.kind == "one of two bleeders shorted":
                for_the_bench(context, fault, case, "the mains voltage is not known", context.plan.lacking(FAULT))
    if faults is not None:
        write_rows_of(context, faults, gap)


def write_rows_of(context: Context, faults: Faults, gap: tuple[str, tuple[OpenFact, ...]] | None = None) -> None:
    """Write a row for every fault of one list at the lowest and the highest mains."""
    prepared = faults.prepare(context)
    for fault in faults.each(context, prepared):
        for case in fault_cases(context.plan, fault.name):
            if case.mains is None:
                for_the_bench(context, fault, case, "the mains voltage is not known", context.plan.lacking(FAULT))
            elif gap is not None:
                for_the_bench(context, fault, case, *gap)
            elif fault.kind in faults.handlers:
                faults.handlers[fault.kind](context, prepared, fault, case)
            else:
                as_listed(context, fault, case, faults.listed[fault.kind])


def as_listed(context: Context, fault: SingleFault, case: Case, entry: Listed) -> None:
    """A fault without figures, by its entry in the list."""
    match entry:
        case NothingFlows(why):
            nothing_flows(context, fault, case, why)
        case ForTheBench(why):
            for_the_bench(context, fault, case, why)
        case WorkedOut(function):
            raise LookupError(f"nothing here calls {function} for {fault.kind}")


# What they have in common: the bench rows, the word on opening, the crest of a case.


_NOTHING = "nothing to open"


def for_the_bench(
    context: Context, fault: SingleFault, case: Case, why: str, missing: tuple[OpenFact, ...] = ()
) -> None:
    """Holes for a fault that is not computed, with the reason."""
    for quantity in ("fault_current", "opening"):
        if context.ledger.find(fault.subject, quantity, case) is None:
            context.ledger.hole(fault.subject, quantity, missing, case=case, note=f"for the bench: {why}", mark="bench")


def nothing_flows(context: Context, fault: SingleFault, case: Case, why: str) -> None:
    """The word for a fault that only takes current away."""
    context.ledger.write(
        fault.subject,
        "opening",
        Category.of(_NOTHING),
        case=case,
        known_by="computed",
        note=why,
        formula="no current beyond what runs",
        source="the circuit",
    )


def said(context: Context, fault: SingleFault, case: Case, row: Entry, note: str) -> None:
    """The word on opening beside a figure; a figure that is a hole leaves a hole, with what is missing."""
    if isinstance(row.value, Value):
        context.ledger.write(
            fault.subject,
            "opening",
            Category.of(_NOTHING),
            case=case,
            known_by="computed",
            inputs=(row.number,),
            note=note,
            rests_on=row.rests_on,
            formula="the current limit works",
            source="facts section 12",
        )
    else:
        note = f"for the bench: {'a fact is missing' if row.missing or not row.note else row.note}"
        context.ledger.hole(
            fault.subject, "opening", row.missing, case=case, note=note, inputs=(row.number,), mark="bench"
        )


def crest_of(case: Case) -> Value:
    """Crest of the case's mains."""
    assert case.mains is not None
    return Value.exact(2**0.5 * case.mains)


# One of several parts open or shorted, the others taking over: bleeders, Y capacitors, parts in series.


_SHARE = Model.of("resistor in series", SERIES_SHARE, "Kirchhoff", "voltage × own / (own + others)")


_ENERGY = Model.of("charge left", ENERGY_LEFT, "own derivation", "capacitance × crest² / 2")


def _mains_side(context: Context, fault: SingleFault, case: Case) -> None:
    if fault.kind == "one of two bleeders open":
        charge_stays(context, fault, case)
    elif fault.kind == "one of two series Y capacitors shorted":
        touch_left(context, fault, case)
    else:
        note = f"{' and '.join(fault.rest)} alone takes the whole mains, and more flows than was meant"
        rms = Value.exact(case.mains or 0.0)
        resistors_left(context, fault, case, crest_of(case), rms, note)


def mains_side(context: Context) -> Iterator[SingleFault]:
    """The faults of bleeders and bridging capacitors in series that have a figure beside the word on opening."""
    mains = context.structure.inlet
    for shunt in mains.shunts if mains is not None else ():
        names = [leaf.name for leaf in leaves(shunt.element)]
        if shunt.to_earth or not all(context.structure.must_be(name, *RESISTORS) for name in names):
            continue
        series = getattr(shunt.element, "joined", "") == "series"
        for name in names:
            rest = tuple(one for one in names if one != name)
            yield SingleFault(f"{name} open", part(name), "one of two bleeders open", None, rest)
            if rest and series:
                yield SingleFault(f"{name} shorted", part(name), "one of two bleeders shorted", None, rest)
    for bridge in context.structure.bridges or ():
        if len(bridge.names) > 1 and getattr(bridge.element, "joined", "") == "series":
            for name in bridge.names:
                if context.structure.must_be(name, *CAPACITORS):
                    rest = tuple(one for one in bridge.names if one != name)
                    yield SingleFault(
                        f"{name} shorted", part(name), "one of two series Y capacitors shorted", None, rest
                    )


def resistors_left(context: Context, fault: SingleFault, case: Case, whole: Value, rms: Value, note: str) -> None:
    """One of several resistors in series shorted: each of the others bears its share of what it left.

    whole, rms: what lies across all of them, its crest and its rms [V]
    """
    rows = {name: context.need(part(name), "part.resistance") for name in fault.rest}
    worst: tuple[Entry, Entry] | None = None
    told = ""
    for name, own in rows.items():
        others = [row for one, row in rows.items() if one != name]
        hole = next((row for row in others if not isinstance(row.value, Value)), None)
        rest = hole or summed([row.value for row in others if isinstance(row.value, Value)])
        inputs: Inputs = {"own": own, "others": rest}
        volts = context.ledger.work_out(
            _SHARE, {"whole": whole, **inputs}, [(fault.subject, "voltage_peak", "voltage")], case=case
        )[0]
        watts = context.ledger.work_out(
            _SHARE, {"whole": rms, **inputs}, [(fault.subject, "fault_power", "power")], case=case
        )[0]
        watts = _at_its_greatest(context, watts, rms, own, rest, case)
        if worst is None or (
            isinstance(volts.value, Value)
            and isinstance(worst[0].value, Value)
            and volts.value.far > worst[0].value.far
        ):
            worst = volts, watts
            told = _rated(context, name, volts, watts)
    if worst is None:
        return
    for row in worst:  # the worst of them speaks for the fault
        context.ledger.copy(row)
    said(context, fault, case, worst[0], note + told)


def _at_its_greatest(context: Context, watts: Entry, rms: Value, own: Entry, rest: Entry | Value, case: Case) -> Entry:
    """The power with its greatest value inside the range: V² / (4 R) where a resistance may equal the others."""
    mine, others, value = own.value, rest.value if isinstance(rest, Entry) else rest, watts.value
    if not (isinstance(mine, Value) and isinstance(others, Value) and isinstance(value, Value)):
        return watts
    far, high = value.far, value.high
    if mine.near < others.near < mine.far:
        far = max(far, rms.far**2 / (4.0 * others.near))
    if mine.low < others.low < mine.high:
        high = max(high, rms.high**2 / (4.0 * others.low))
    if (far, high) == (value.far, value.high):
        return watts
    return context.ledger.write(
        watts.subject,
        watts.quantity,
        Value(value.low, value.near, far, max(far, high)),
        case=case,
        known_by="computed",
        inputs=(watts.number,),
        rests_on=watts.rests_on,
        formula=watts.formula,
        source="Kirchhoff: greatest where it equals the others",
    )


def _rated(context: Context, name: str, volts: Entry, watts: Entry) -> str:
    told = []
    rated: tuple[tuple[Entry, QuantityName, str], ...] = ((volts, "rated.voltage", "V"), (watts, "rated.power", "W"))
    for row, fact, unit in rated:
        known = context.value(part(name), fact)
        if known is not None and isinstance(row.value, Value) and row.value.far > known.near:
            told.append(f"{written(known.near)} {unit}")
    return f"; {name} is rated {' and '.join(told)}" if told else ""


def charge_stays(context: Context, fault: SingleFault, case: Case) -> None:
    """A bleeder open: what lies across the mains keeps the crest, unless another string discharges it."""
    mains = context.structure.inlet
    strings = [one for one in mains.shunts if _is_bleeder(context, one)] if mains is not None else []
    if mains is None or len(strings) != 1 or getattr(strings[0].element, "joined", "series") != "series":
        return  # others discharge it still: a rule holds what is left to its limit
    names = [
        name
        for one in mains.shunts
        if not one.to_earth
        for name in one.names
        if context.structure.must_be(name, *CAPACITORS)
    ]
    rows = [context.need(part(name), "part.capacitance") for name in names]
    if not rows:
        return
    hole = next((row for row in rows if not isinstance(row.value, Value)), None)
    whole = hole or summed([row.value for row in rows if isinstance(row.value, Value)])
    subject = fault.subject
    context.ledger.write(
        subject,
        "discharge_after_fault",
        crest_of(case),
        case=case,
        known_by="computed",
        source="the circuit",
        formula="crest of the mains: nothing discharges it",
    )
    context.ledger.work_out(
        _ENERGY, {"crest": crest_of(case), "capacitance": whole}, [(subject, "energy", "energy")], case=case
    )


def _is_bleeder(context: Context, shunt: Shunt) -> bool:
    return not shunt.to_earth and all(context.structure.must_be(name, *RESISTORS) for name in shunt.names)


def touch_left(context: Context, fault: SingleFault, case: Case) -> None:
    """One of several capacitors in series across the barrier shorted: the touch current through what is left."""
    bridges = context.structure.bridges or ()
    names = [name for bridge in bridges for name in bridge.names if context.structure.may_be(name, *CAPACITORS)]
    rows = {name: context.need(part(name), "part.capacitance") for name in names if name != fault.subject.names[0]}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    hole = next((row for row in rows.values() if not isinstance(row.value, Value)), None)
    found = [_left(bridge, fault.subject.names[0], values) for bridge in bridges if set(bridge.names) & set(names)]
    known = [value for value in found if value is not None]
    winding = context.assumptions.get("winding_capacitance")
    model = Model.of(
        "touch current with one capacitor shorted",
        one_shorted(winding is not None),
        "2 pi f C V",
        "2 π × frequency × capacitance × mains",
    )
    hertz = context.plan.frequency[1] if context.plan.frequency is not None else 50.0
    inputs: Inputs = {
        "mains": case.mains or 0.0,
        "frequency": hertz,
        "winding": winding.bounded if winding is not None else 0.0,
        "capacitance": summed(known)
        if hole is None and len(known) == len(found)
        else hole or context.need(Subject("supply"), "circuit.bridging"),
    }
    context.ledger.work_out(model, inputs, [(fault.subject, "touch_current", "rms")], case=case)


def _left(bridge: Bridge, without: str, values: dict[str, Value]) -> Value | None:
    left = only(bridge.element, tuple(name for name in bridge.names if name != without))
    return in_series_and_parallel(left, values, capacitors=True) if left is not None else None
