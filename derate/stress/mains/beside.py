"""What capacitors across the mains add to the current of the line ahead of them."""

from __future__ import annotations

from collections.abc import Sequence

from derate.circuit import mains as mains_input
from derate.design.structure import Element, Group, Leaf, MainsInput, leaves
from derate.ledger.entry import SUPPLY, Case, Entry, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import EVERY_MAINS, LINE, Context, in_series_and_parallel, part, summed
from derate.terms.quantities import BROWN_OUT, RUNNING, CaseGroup
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Value
from derate.terms.words import CAPACITORS

BESIDE = Model.of(
    "rectifier and capacitors across the mains together",
    mains_input.BESIDE,
    "own derivation, by the inequality of Cauchy; held to a fixed-step integrator",
    "√(rms² + (2 π f C V)² + 2 × lead × rms × 2 π f C V)",
)


_LEADS = Value.between(-mains_input.LEAD, mains_input.LEAD)


def capacitors_across(context: Context, mains: MainsInput) -> tuple[int, tuple[Element, ...]]:
    """How many series parts stand ahead of the last capacitor across the mains, and what of each shunt holds charge."""
    found = [
        (shunt.behind, held)
        for shunt in mains.shunts
        if not shunt.to_earth and not shunt.rectified and (held := capacitors_of(context, shunt.element)) is not None
    ]
    return max((behind for behind, _ in found), default=0), tuple(held for _, held in found)


def capacitors_of(context: Context, element: Element) -> Element | None:
    """What of an element may hold charge; what stands in parallel or in series with that, a bleeder say, is left out.

    A resistor in series only lessens what flows, one in parallel carries next to nothing beside it.
    """
    if isinstance(element, Leaf):
        unknown = not context.structure.kinds.get(element.name)
        return element if unknown or context.structure.may_be(element.name, *CAPACITORS) else None
    members = [one for member in element.members if (one := capacitors_of(context, member)) is not None]
    return members[0] if len(members) == 1 else Group(element.joined, tuple(members)) if members else None


def capacitance_across(context: Context, elements: Sequence[Element], subject: Subject, case: Case) -> Entry:
    """All capacitance across the line of some elements, as a row of the subject; a hole where one is not known."""
    names = [leaf.name for element in elements for leaf in leaves(element)]
    rows = {name: context.need(part(name), "part.capacitance") for name in names}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    joined = [in_series_and_parallel(element, values, capacitors=True) for element in elements]
    known = [one for one in joined if one is not None]
    numbers = tuple(row.number for row in rows.values())
    if len(known) < len(joined):
        missing = [fact for row in rows.values() for fact in row.missing]
        return context.ledger.hole(subject, "part.capacitance", missing, case=case, inputs=numbers)
    return context.ledger.write(
        subject,
        "part.capacitance",
        summed(known),
        case=case,
        known_by="computed",
        inputs=numbers,
        formula="capacitances across the line",
        source="Kirchhoff",
        rests_on=frozenset().union(*(row.rests_on for row in rows.values())),
    )


def solve_beside(context: Context, mains: MainsInput, ahead: int, across: Sequence[Element]) -> None:
    """Mains current, and that of the series parts ahead of capacitors across the mains, beside the rectifier's own.

    ahead: how many series parts; across: what of each shunt may hold charge
    A rectifier draws most at the lowest mains and capacitors at the highest. No single mains is the worst of both, so
    that beside what one draws at its case stands what the others take up to the highest: a bound for any between.
    """
    capacitance = capacitance_across(context, across, LINE, Case(RUNNING))
    parts = [part(name) for name in mains.series[:ahead]]
    wanted: tuple[tuple[QuantityName, str, list[Subject]], ...] = (
        ("mains_current", "rms", [SUPPLY]),
        ("current_rms", "rms", parts),
        ("current_peak", "peak", parts),
    )
    for group in (RUNNING, BROWN_OUT):
        for quantity, output, subjects in wanted:
            for case in context.plan.cases([quantity], [group]):
                rows: list[Wanted] = [(one, quantity, output) for one in subjects]
                if case.mains is None:
                    for one in subjects:
                        context.ledger.hole(one, quantity, context.plan.lacking(group), case=case)
                    continue
                of: QuantityName = "current_peak" if output == "peak" else "current_rms"
                own = context.need(LINE, of, case)
                inputs: dict[str, Entry | Value | float] = {
                    "rms": own if output == "rms" else 0.0,
                    "peak": own if output == "peak" else 0.0,
                    "mains": _up_to_the_highest(context, case.mains, group),
                    "frequency": case.frequency or max(context.plan.frequency or EVERY_MAINS),
                    "taken": capacitance,
                    "given": capacitance,
                    "lead": _LEADS,
                }
                context.ledger.work_out(BESIDE, inputs, rows, case=case)


def _up_to_the_highest(context: Context, mains: float, group: CaseGroup) -> Value:
    """From the mains of a case to the highest that it may be; in a brown-out it is as low as the case has it."""
    highest = context.plan.mains[1] if context.plan.mains is not None and group == RUNNING else mains
    return Value.between(mains, max(mains, highest))
