"""One of several parts open or shorted, the others taking over: bleeders, Y capacitors, start-up resistors, output
capacitors side by side.
"""

from __future__ import annotations

from collections.abc import Iterator

from derate.circuit.shorted_parts import SIGNS, energy_left, series_share
from derate.circuit.touch_current import SIGNS as TOUCH_SIGNS
from derate.circuit.touch_current import touch_current
from derate.design.paths import leaves
from derate.design.structure import Bridge, Shunt
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.model import Model
from derate.stress.clamp_shape import only
from derate.stress.context import Context, in_series_and_parallel, part, summed
from derate.stress.converter_fault_list import ConverterFault
from derate.stress.fault_telling import crest_of, said
from derate.stress.operating import Inputs
from derate.terms.cases import RUNNING
from derate.terms.part_kinds import CAPACITORS, RESISTORS
from derate.terms.quantities import QuantityName
from derate.terms.values import Value

_SHARE = Model(
    "resistor in series", lambda **k: series_share(**k),
    {"voltage": SIGNS["voltage"], "power": SIGNS["power"]}, "Kirchhoff", "voltage × own / (own + others)",
)  # fmt: skip
_ENERGY = Model("charge left", lambda **k: {"energy": energy_left(**k)}, {"energy": SIGNS["energy_left"]}, "text-book",
                "capacitance × crest² / 2")  # fmt: skip


def mains_side(context: Context) -> Iterator[ConverterFault]:
    """The faults of bleeders and bridging capacitors in series that have a figure beside the word on opening."""
    mains = context.structure.mains
    for shunt in mains.shunts if mains is not None else ():
        names = [leaf.name for leaf in leaves(shunt.element)]
        if shunt.to_earth or not all(context.structure.must_be(name, *RESISTORS) for name in names):
            continue
        series = getattr(shunt.element, "joined", "") == "series"
        for name in names:
            rest = tuple(one for one in names if one != name)
            yield ConverterFault(f"{name} open", part(name), "one of two bleeders open", None, rest)
            if rest and series:
                yield ConverterFault(f"{name} shorted", part(name), "one of two bleeders shorted", None, rest)
    for bridge in context.structure.bridges or ():
        if len(bridge.names) > 1 and getattr(bridge.element, "joined", "") == "series":
            for name in bridge.names:
                if context.structure.must_be(name, *CAPACITORS):
                    rest = tuple(one for one in bridge.names if one != name)
                    yield ConverterFault(f"{name} shorted", part(name), "one of two series Y capacitors shorted", None,
                                         rest)  # fmt: skip


def resistors_left(context: Context, fault: ConverterFault, case: Case, whole: Value, rms: Value, note: str) -> None:
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
            _SHARE, {"whole": whole, **inputs}, [(fault.subject, "voltage_peak", "voltage")], case=case)[0]
        watts = context.ledger.work_out(
            _SHARE, {"whole": rms, **inputs}, [(fault.subject, "fault_power", "power")], case=case)[0]
        watts = _at_its_greatest(context, watts, rms, own, rest, case)
        if worst is None or (isinstance(volts.value, Value) and isinstance(worst[0].value, Value)
                             and volts.value.far > worst[0].value.far):  # fmt: skip
            worst = volts, watts
            told = _rated(context, name, volts, watts)
    if worst is None:
        return
    for row in worst:  # the worst of them speaks for the fault
        context.ledger.copy(row)
    said(context, fault, case, worst[0], note + told)


def _at_its_greatest(
    context: Context, watts: Entry, rms: Value, own: Entry, rest: Entry | Value, case: Case
) -> Entry:  # fmt: skip
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
        watts.subject, watts.quantity, Value(value.low, value.near, far, max(far, high)), case=case,
        known_by="computed", inputs=(watts.number,), rests_on=watts.rests_on, formula=watts.formula,
        source="Kirchhoff: greatest where it equals the others",
    )  # fmt: skip


def _rated(context: Context, name: str, volts: Entry, watts: Entry) -> str:
    told = []
    rated: tuple[tuple[Entry, QuantityName, str], ...] = ((volts, "rated.voltage", "V"), (watts, "rated.power", "W"))
    for row, fact, unit in rated:
        known = context.value(part(name), fact)
        if known is not None and isinstance(row.value, Value) and row.value.far > known.near:
            told.append(f"{known.near:.3g} {unit}")
    return f"; {name} is rated {' and '.join(told)}" if told else ""


def charge_stays(context: Context, fault: ConverterFault, case: Case) -> None:
    """A bleeder open: what lies across the mains keeps the crest, unless another string discharges it."""
    mains = context.structure.mains
    strings = [one for one in mains.shunts if _is_bleeder(context, one)] if mains is not None else []
    if mains is None or len(strings) != 1 or getattr(strings[0].element, "joined", "series") != "series":
        return  # others discharge it still: a rule holds what is left to its limit
    names = [name for one in mains.shunts if not one.to_earth for name in one.names
             if context.structure.must_be(name, *CAPACITORS)]  # fmt: skip
    rows = [context.need(part(name), "part.capacitance") for name in names]
    if not rows:
        return
    hole = next((row for row in rows if not isinstance(row.value, Value)), None)
    whole = hole or summed([row.value for row in rows if isinstance(row.value, Value)])
    subject = fault.subject
    context.ledger.write(
        subject, "discharge_after_fault", crest_of(case), case=case, known_by="computed", source="the circuit",
        formula="crest of the mains: nothing discharges it",
    )  # fmt: skip
    context.ledger.work_out(_ENERGY, {"crest": crest_of(case), "capacitance": whole}, [(subject, "energy", "energy")],
                            case=case)  # fmt: skip


def _is_bleeder(context: Context, shunt: Shunt) -> bool:
    return not shunt.to_earth and all(context.structure.must_be(name, *RESISTORS) for name in shunt.names)


def touch_left(context: Context, fault: ConverterFault, case: Case) -> None:
    """One of several capacitors in series across the barrier shorted: the touch current through what is left."""
    bridges = context.structure.bridges or ()
    names = [name for bridge in bridges for name in bridge.names if context.structure.may_be(name, *CAPACITORS)]
    rows = {name: context.need(part(name), "part.capacitance") for name in names if name != fault.subject.names[0]}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    hole = next((row for row in rows.values() if not isinstance(row.value, Value)), None)
    found = [_left(bridge, fault.subject.names[0], values) for bridge in bridges if set(bridge.names) & set(names)]
    known = [value for value in found if value is not None]
    winding = context.assumptions.get("winding_capacitance")
    model = Model(
        "touch current with one capacitor shorted",
        lambda mains, frequency, capacitance, winding: touch_current(mains, frequency, capacitance + winding, "line"),
        {"rms": {**TOUCH_SIGNS["rms"], "winding": 1}}, "2 pi f C V", "2 π × frequency × capacitance × mains",
        # on a bulk rail it is 0.707 of that; without the windings' own capacitance it is a floor
        {"rms": (-0.3, 0.003 if winding is not None else float("inf"))},
    )  # fmt: skip
    hertz = context.plan.frequency[1] if context.plan.frequency is not None else 50.0
    inputs: Inputs = {
        "mains": case.mains or 0.0, "frequency": hertz, "winding": winding.bounded if winding is not None else 0.0,
        "capacitance": summed(known) if hole is None and len(known) == len(found) else hole or context.need(
            Subject("supply"), "circuit.bridging"),
    }  # fmt: skip
    context.ledger.work_out(model, inputs, [(fault.subject, "touch_current", "rms")], case=case)


def _left(bridge: Bridge, without: str, values: dict[str, Value]) -> Value | None:
    left = only(bridge.element, tuple(name for name in bridge.names if name != without))
    return in_series_and_parallel(left, values, capacitors=True) if left is not None else None


def capacitor_open(context: Context, fault: ConverterFault, case: Case) -> Entry:
    """One of several output capacitors side by side open: the others carry its ripple current as well.

    At most the sum of all their currents, and no less than the greatest of them.
    """
    own = fault.subject
    here = next(iter(context.plan.cases(["ripple_current"], [RUNNING])), Case(RUNNING))
    rows = [context.need(one, "ripple_current", here) for one in (own, *(part(name) for name in fault.rest))]
    inputs: Inputs = {f"i{k}": row for k, row in enumerate(rows)}
    model = Model(
        "ripple current with one capacitor open", lambda **k: {"ripple": sum(k.values())},
        {"ripple": dict.fromkeys(inputs, 1)}, "Kirchhoff; what is in phase adds",
        "sum of the ripple currents at the lowest mains", {"ripple": (1.0 / len(rows) ** 0.5 - 1.0, 0.0)},
    )  # fmt: skip
    return context.ledger.work_out(model, inputs, [(own, "ripple_current", "ripple")], case=case)[0]
