"""Shapes that compare: one comparison, a quantity between two limits; uncertain sides, ranges of which all occurs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import product
from math import inf

from derate.judge.comparison import STRADDLES, Guard, compare, excess
from derate.judge.outcome import Outcome, worst
from derate.judge.view import Missing, View, wide_facts
from derate.packs.rule import Rule
from derate.packs.shape import Within
from derate.packs.words import DOMAINS
from derate.terms.dimension import Dimension
from derate.terms.values import Value
from derate.text.formula import Formula


def judge_keep(formula: Formula, rule: Rule, view: View) -> Outcome:
    """Hold one comparison. Raises Missing with everything that is missing in the trace."""
    try:
        left, right = formula.evaluate(view.number)
    except Missing:
        view.sides((formula,))  # names the rest of what is missing
        raise

    def held(left: Value, right: Value) -> Outcome:
        return compared(left, right, formula.comparison, formula.dimension, rule, view, formula)

    outcome = held(left, right)
    if outcome.why == STRADDLES:
        return _over_at_an_end(outcome, [held(*formula.evaluate(lookup)) for lookup in _occurring(formula.names, view)])
    return outcome


def _occurring(names: Iterable[str], view: View) -> Iterator[Callable[[str], Value]]:
    """Look-ups in which every fact whose whole range occurs stands at one of its ends."""
    ends = {
        name: (Value.exact(value.near), Value.exact(value.far))
        for name in names
        if name in DOMAINS and -inf < (value := view.number(name)).near < value.far < inf
    }
    for corner in product(*ends.values()) if ends else ():
        at = dict(zip(ends, corner, strict=True))
        yield lambda name, at=at: at[name] if name in at else view.number(name)  # type: ignore[misc]


def _over_at_an_end(outcome: Outcome, at_ends: list[Outcome]) -> Outcome:
    """The outcome at the end that fails worst; the whole range's own when none fails."""
    fails = [one for one in at_ends if one.verdict == "fail"]
    if not fails:
        return outcome
    outcome.trace.missing.clear()
    return worst(fails)


def judge_within(shape: Within, rule: Rule, view: View) -> Outcome:
    """Hold a quantity to its ends; the worse one speaks. Raises Missing."""
    ends = [(one, sign) for one, sign in ((shape.least, ">="), (shape.greatest, "<=")) if one is not None]
    quantity = shape.quantity
    formulas = (quantity, *(one for one, _ in ends))
    view.sides(formulas)

    def held(lookup: Callable[[str], Value]) -> Outcome:
        value = quantity.value(lookup)
        return worst(
            [compared(value, end.value(lookup), sign, quantity.dimension, rule, view, quantity) for end, sign in ends]
        )

    outcome = held(view.number)
    if outcome.why == STRADDLES:
        names = (name for one in formulas for name in one.names)
        return _over_at_an_end(outcome, [held(lookup) for lookup in _occurring(names, view)])
    return outcome


def compared(
    left: Value, right: Value, sign: str, dimension: Dimension, rule: Rule, view: View, formula: Formula | None = None
) -> Outcome:
    """Compare two sides, noting which stated facts would have to be known better where they straddle."""
    more = sign.startswith(">")
    demand, supply = (right, left) if more else (left, right)
    verdict, why = compare(
        demand,
        supply,
        strict="=" not in sign,
        over_tolerance=rule.over_tolerance,
        guard=Guard(rule.guard_share, rule.guard_difference),
    )
    if why == STRADDLES:
        view.trace.missing |= dict.fromkeys(wide_facts(view.ledger, view.trace.entries.values()))
    ratio = excess(demand, supply, rule.over_tolerance)
    return Outcome(verdict, view.trace, why, "", left, right, dimension, more, ratio, formula)
