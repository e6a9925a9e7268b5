"""Temperatures of parts: cases as read and carried by the ambient, junctions from loss and thermal resistance.

A reading belongs to its mains: where none was taken at the other end of the mains, the carried figure says that it
rests on one. Losses rise with temperature, so the rise carried upwards has a band.
"""

from __future__ import annotations

from collections.abc import Sequence

from derate.circuit import thermal
from derate.circuit.elementary import total
from derate.circuit.thermal import ERROR
from derate.design.readings import Reading
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.model import Model
from derate.stress.context import Context, part
from derate.stress.parts.windings import STANDING
from derate.stress.supply import air
from derate.terms.cases import FULL_LOAD, READING, RUNNING
from derate.terms.quantities import named
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Value

_TEMPERATURES = ("case_temperature", "winding_temperature", "junction_temperature", "air_temperature")


CARRIED = Model.of(
    "temperature carried by the ambient",
    thermal.CARRIED,
    "text-book: the rise stays; copper and on-resistance add to it as it gets hotter",
    "reading + ambient − ambient of the reading",
)


JUNCTION = Model.of(
    "junction temperature", thermal.JUNCTION_TEMPERATURE, "text-book", "reference + power × thermal resistance"
)


def carried(context: Context, readings: Sequence[Reading]) -> None:
    """Every temperature read at full load, carried to the hottest ambient, as a row of its part or transformer."""
    by: dict[tuple[str, QuantityName], list[Reading]] = {}
    for reading in readings:
        condition = reading.condition
        known = reading.target in context.structure.kinds or _is_transformer(context, reading.target)
        if reading.quantity in _TEMPERATURES and condition is not None and condition.load == FULL_LOAD and known:
            by.setdefault((reading.target, named(reading.quantity)), []).append(reading)
    for (target, quantity), found in by.items():
        subject = Subject("transformer", (target,)) if _is_transformer(context, target) else part(target)
        of_winding = subject.kind == "transformer" and quantity == "case_temperature"
        word: QuantityName = "winding_temperature" if of_winding else quantity
        for case in context.plan.cases([word], [RUNNING]):
            _carry(context, subject, word, found, case)


def _is_transformer(context: Context, name: str) -> bool:
    return any(winding.split(".")[0] == name for winding in context.structure.windings)


def _carry(context: Context, subject: Subject, quantity: QuantityName, found: list[Reading], case: Case) -> None:
    ledger = context.ledger
    if case.ambient is None:
        ledger.hole(subject, quantity, (OpenFact(SUPPLY, "site.ambient"),), case=case)
        return
    rows: list[Entry] = []
    mains: list[float] = []
    for reading in found:
        condition = reading.condition
        assert condition is not None
        at = condition.ambient.value if condition.ambient is not None else None
        value = reading.stated.value
        if not isinstance(value, Value):
            continue
        if not isinstance(at, Value):
            note = "the reading says no ambient it was taken at"
            ledger.hole(subject, quantity, (OpenFact(subject, f"ambient of its {quantity}"),), case=case, note=note)
            return
        if condition.mains is not None and isinstance(condition.mains.value, Value):
            mains.append(condition.mains.value.middle)
        known = reading.stated.known_by or reading.known_by or "measured"
        read = ledger.write(
            subject,
            quantity,
            value,
            case=Case(READING, mains[-1] if mains else None, load=FULL_LOAD, ambient=at.middle),
            known_by=known,
            place=reading.stated.place,
        )
        more = max(0.0, case.ambient - at.middle) * (1.0 + ERROR["carried_rise"][1]) - max(
            0.0, case.ambient - at.middle
        )
        rows.append(
            ledger.work_out(
                CARRIED,
                {"read": read, "at": at, "wanted": Value.between(case.ambient, case.ambient + more)},
                [(subject, quantity, "temperature")],
                case=case,
            )[0]
        )
    known_rows = [row for row in rows if isinstance(row.value, Value)]
    if not known_rows:
        return
    ends = context.plan.plate
    low = ends is not None and min(mains, default=1e9) <= ends[0] * 1.05
    high = ends is not None and max(mains, default=0.0) >= ends[1] * 0.95
    rests = frozenset().union(*(row.rests_on for row in known_rows))
    note = ""
    if not (low and high):
        note = "read at one mains only"
        rests |= frozenset((OpenFact(subject, quantity, "at full load at both ends of the mains"),))
    value = Value(*(max(column) for column in zip(*(_numbers(row) for row in known_rows), strict=True)))
    ledger.write(
        subject,
        quantity,
        value,
        case=case,
        known_by="computed",
        inputs=tuple(row.number for row in known_rows),
        note=note,
        rests_on=rests,
        formula=CARRIED.name,
        source=CARRIED.source,
        mark="carried",
    )


def _numbers(row: Entry) -> tuple[float, float, float, float]:
    assert isinstance(row.value, Value)
    return row.value.numbers()


def junction(context: Context, name: str, power: Entry) -> None:
    """Junction of one part: a carried reading, else loss over the thermal resistance to what is known outside it."""
    subject, ledger = part(name), context.ledger
    for case in context.plan.cases(["junction_temperature"], [RUNNING]):
        if context.fact(subject, "junction_temperature", case) is not None:
            continue
        outside = context.fact(subject, "case_temperature", case)
        inner = context.fact(subject, "rated.junction_to_case") or context.fact(subject, "rated.junction_to_lead")
        whole = context.fact(subject, "rated.junction_to_air")
        if outside is not None and inner is not None:
            reference, resistance = outside, inner
        elif whole is not None:
            reference, resistance = air(context, subject, case), whole
        elif inner is not None and context.fact(subject, "part.heatsink") is not None:
            sink = context.need(subject, "part.heatsink")
            both = Model.of("thermal resistance, junction to air", total("sum", "a", "b"), "text-book")
            resistance = ledger.work_out(
                both, {"a": inner, "b": sink}, [(subject, "thermal_resistance", "sum")], case=STANDING
            )[0]
            reference = air(context, subject, case)
        else:
            missing = (
                OpenFact(subject, "case_temperature", "at full load")
                if inner is not None
                else OpenFact(subject, "rated.junction_to_air"),
            )
            ledger.hole(subject, "junction_temperature", missing, case=case)
            continue
        ledger.work_out(
            JUNCTION,
            {"reference": reference, "power": power, "resistance": resistance},
            [(subject, "junction_temperature", "temperature")],
            case=case,
        )
