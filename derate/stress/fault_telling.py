"""What the faults beyond the mains path have in common: the bench rows, the word on opening, the inputs of a case."""

from __future__ import annotations

from derate.ledger.entry import Case, Entry, Subject
from derate.stress.context import Context
from derate.stress.converter import Shape
from derate.stress.converter_fault_list import ConverterFault
from derate.stress.operating import Inputs, limit_inputs
from derate.terms.values import Category, Value

_NOTHING = "nothing to open"


def for_the_bench(context: Context, fault: ConverterFault, case: Case, why: str, missing: tuple[str, ...] = ()) -> None:
    """Holes for a fault that is not computed, with the reason."""
    for quantity in ("fault_current", "opening"):
        if context.ledger.find(fault.subject, quantity, case) is None:
            context.ledger.hole(fault.subject, quantity, missing, case=case, note=f"for the bench: {why}", mark="bench")


def nothing_flows(context: Context, fault: ConverterFault, case: Case, why: str) -> None:
    """The word for a fault that only takes current away."""
    context.ledger.write(
        fault.subject, "opening", Category.of(_NOTHING), case=case, known_by="computed", note=why,
        formula="no current beyond what runs", source="the circuit",
    )  # fmt: skip


def said(context: Context, fault: ConverterFault, case: Case, row: Entry, note: str) -> None:
    """The word on opening beside a figure; a figure that is a hole leaves a hole, with what is missing."""
    if isinstance(row.value, Value):
        context.ledger.write(
            fault.subject, "opening", Category.of(_NOTHING), case=case, known_by="computed", inputs=(row.number,),
            note=note, rests_on=row.rests_on, formula="the current limit works", source="facts section 12",
        )  # fmt: skip
    else:
        note = f"for the bench: {'a fact is missing' if row.missing or not row.note else row.note}"
        context.ledger.hole(
            fault.subject, "opening", row.missing, case=case, note=note, inputs=(row.number,), mark="bench"
        )


def at_case(context: Context, shape: Shape, limit: Entry, case: Case) -> Inputs:
    """The inputs of the current limit with the bulk at the crest of this case's mains."""
    return {**limit_inputs(context, shape, limit), "bulk": crest_of(case)}


def crest_of(case: Case) -> Value:
    """Crest of the case's mains."""
    assert case.mains is not None
    return Value.exact(2**0.5 * case.mains)


def frequency_of(context: Context, shape: Shape) -> Entry:
    """The switching frequency, or the hole that names it."""
    return shape.frequency if shape.frequency is not None else context.need(Subject("supply"), "control.frequency")
