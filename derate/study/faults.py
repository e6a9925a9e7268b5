"""The single faults of a design, as one row each at low and high mains: prediction and, beside it, what the bench saw.

The rows of the ledger say what is computed; `tests: fault` in the design file says what was done to a sample. A
prediction never says that nothing burns: that belongs to the bench.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from derate.circuit.line_faults import dead_zone
from derate.design.readings import Test
from derate.design.structure import Structure, leaves
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Ledger
from derate.stress.context import Assumed, CasePlan, Context
from derate.stress.faults.converter import write_fault_rows, write_rows_of
from derate.stress.topology import gap_of
from derate.terms.frozen import frozen, replace
from derate.terms.quantities import FAULT
from derate.terms.values import Category, Value, written
from derate.topologies import topology_of

_CURRENT = "fault_current"
_BESIDE = (
    "voltage_peak",
    "reverse_voltage",
    "discharge_after_fault",
    "ripple_current",
    "touch_current",
    "flux_density",
    "fault_power",
    "energy",
)
# what else a fault does, told in its note
_QUANTITIES = (_CURRENT, "current_peak", "let_through", "time_to_open", "opening", "cleared_by", "dead_zone", *_BESIDE)
BENCH = "not shown"  # a row that cannot be computed shows nothing


@frozen
class FaultRow:
    """One single fault at one mains voltage, SI units.

    opening: 'shown' | 'not shown' | 'nothing to open'; computed: whether there is a prediction at all
    clears: the part that opens first, '' when none is shown to
    bench: what a test on a sample came to, '' when none is in the file; tested: whether one was done
    beside: what else it does, by quantity: the voltage of a switch, the power in a winding
    """

    fault: str
    subject: Subject
    case: Case
    current_rms: Value | None
    current_peak: Value | None
    i2t: Value | None
    clears: str
    opening: str
    time: Value | None
    note: str
    computed: bool = True
    missing: tuple[OpenFact, ...] = ()
    bench: str = ""
    tested: bool = False
    beside: tuple[tuple[str, Value], ...] = ()


def design_faults(
    structure: Structure, ledger: Ledger, assumptions: Mapping[str, Assumed], tests: Iterable[Test] = ()
) -> tuple[FaultRow, ...]:
    """The faults of the mains path and those of the converter, which only this list asks for.

    ledger: of the design, worked out; the rows of the converter's faults are added to it
    """
    if isinstance(ledger.plan, CasePlan):
        context = Context(structure, ledger, ledger.plan, assumptions)
        own = topology_of(context.word(SUPPLY, "supply.topology"))
        gap = gap_of(context, own) if own is not None else None
        write_fault_rows(context, own.faults if own is not None else None, (gap.why, gap.missing) if gap else None)
        if structure.ports:
            from derate.stress.ports.faults import PORT_FAULTS  # only where there are any

            write_rows_of(context, PORT_FAULTS)
    return fault_rows(ledger, structure, tests)


def fault_rows(ledger: Ledger, structure: Structure, tests: Iterable[Test] = ()) -> tuple[FaultRow, ...]:
    """Every single fault of the ledger, in the order it was worked out, with the outcome of its test beside it."""
    order: dict[tuple[Subject, Case], dict[str, Entry]] = {}
    for entry in ledger.entries:
        case = entry.case
        if case is None or case.group != FAULT or not case.fault or entry.quantity not in _QUANTITIES:
            continue
        if entry.subject.kind == "mains":  # the same opening once more, for the rule on all hard shorts together
            continue
        order.setdefault((entry.subject, case), {})[entry.quantity] = entry
    outcomes = _outcomes(tests)
    found = []
    for (subject, case), rows in order.items():
        if "opening" not in rows and _CURRENT not in rows:
            continue  # a figure beside a fault, such as the reverse voltage of the bulk
        row = _row(subject, case, rows)
        row = _with_bulk(row, ledger, structure, rows)
        seen, whole = outcomes.get(_key(case.fault, case.mains)), outcomes.get(_key(case.fault))
        seen = whole if seen is None or whole is not None and whole.adverse else seen
        if seen is not None:
            row = replace(row, bench=seen.told, tested=seen.done)
            if seen.adverse:  # what was seen overrules what is worked out: nothing is shown to open, at either mains
                row = replace(row, opening=BENCH, clears="", time=None)
        found.append(row)
    return tuple(found)


def _row(subject: Subject, case: Case, rows: dict[str, Entry]) -> FaultRow:
    opening = rows.get("opening")
    word = opening.value.word if opening is not None and isinstance(opening.value, Category) else None
    cleared = rows.get("cleared_by")
    clears = cleared.value.word if cleared is not None and isinstance(cleared.value, Category) else None
    speaks = opening or rows.get(_CURRENT)
    note = speaks.note if speaks is not None else ""
    missing = tuple(dict.fromkeys(fact for entry in rows.values() for fact in entry.missing))
    if word is None:
        told = speaks is not None and speaks.mark == "bench" and bool(note)
        note = note if told else f"for the bench: {note or 'a fact is missing'}"
    return FaultRow(
        case.fault,
        subject,
        case,
        _value(rows, _CURRENT),
        _value(rows, "current_peak"),
        _value(rows, "let_through"),
        clears if clears is not None and clears != "none" else "",
        word or BENCH,
        _value(rows, "time_to_open"),
        note,
        word is not None,
        missing,
        beside=tuple((name, found) for name in _BESIDE if (found := _value(rows, name)) is not None),
    )


def _value(rows: dict[str, Entry], name: str) -> Value | None:
    entry = rows.get(name)
    return entry.value if entry is not None and isinstance(entry.value, Value) else None


def _with_bulk(row: FaultRow, ledger: Ledger, structure: Structure, rows: dict[str, Entry]) -> FaultRow:
    """The dead zone told with the bulk capacitor still there too: it makes the current peaky and the band wider."""
    zone = rows.get("dead_zone")  # only a partial short has one
    mains = structure.mains
    if zone is None or row.opening != "not shown" or mains is None or row.case.mains is None:
        return row
    by_quantity = {ledger[number].quantity: ledger[number] for number in zone.inputs}
    rated, sure = by_quantity.get("allowed.power"), by_quantity.get("opening_power")
    own = next((ledger[n] for n in zone.inputs if ledger[n].quantity == "part.resistance"), None)
    capacitance = sum(
        entry.value.high
        for element in mains.bulk
        for name in (leaf.name for leaf in leaves(element))
        if (entry := ledger.find(Subject("part", (name,)), "part.capacitance")) is not None
        and isinstance(entry.value, Value)
    )
    values = [entry.value for entry in (rated, sure, own) if entry is not None]
    if len(values) < 3 or not all(isinstance(value, Value) for value in values) or not 1e-9 <= capacitance <= 0.01:
        return row
    power, opens, ohms = (value for value in values if isinstance(value, Value))
    hertz = row.case.frequency or 50.0
    # what else stands in the path only lowers the current: the upper end is at most that without it
    try:
        found = [
            dead_zone(row.case.mains, one, power.low, opens.high, capacitance=capacitance, frequency=hertz)
            for one in {ohms.low, ohms.high}
        ]
    except ValueError as wrong:
        return replace(row, note=f"{row.note}; with the bulk capacitor still there it is not worked out: {wrong}")
    highest = max((one.highest for one in found if one is not None), default=0.0)
    if not highest:
        return row
    said = f"{row.note}; with the bulk capacitor still there up to {written(highest)} ohm"
    return replace(row, note=said)


def _key(fault: str, mains: float | None = None) -> str:
    words = " ".join(fault.lower().split())
    return words if mains is None else f"{words} at {written(mains, 4)}"


class _Outcome(NamedTuple):
    """What a fault test came to, in words; whether it was done at all, and whether it ended badly."""

    told: str
    done: bool
    adverse: bool


def _outcomes(tests: Iterable[Test]) -> dict[str, _Outcome]:
    """What fault tests came to, by fault and by fault and mains voltage; one that ended badly stands first."""
    found: dict[str, _Outcome] = {}
    for test in sorted(tests, key=lambda one: (not one.is_adverse, not one.unread)):
        if test.test != "fault":
            continue
        fault, stated, volts = test.fault, test.result.stated, test.mains
        result = test.result.word or (stated.text if stated is not None else "") or "no outcome written down"
        if test.unread and test.sample is not None:
            result = f"nothing written down of {test.sample.words}"
        told = result
        if volts is not None and isinstance(volts.value, Value):
            told = f"{result} at {written(volts.value.near, 4)} V"
            found.setdefault(_key(fault, volts.value.near), _Outcome(told, test.done, test.is_adverse))
        if test.note:
            told = f"{told} ({test.note})"
        found.setdefault(_key(fault), _Outcome(told, test.done, test.is_adverse))
    return found


def outcomes_without_row(rows: Iterable[FaultRow], tests: Iterable[Test]) -> tuple[Test, ...]:
    """Fault tests of the file that name no fault of the list."""
    known = {_key(row.fault) for row in rows}
    return tuple(one for one in tests if one.test == "fault" and _key(one.fault) not in known)
