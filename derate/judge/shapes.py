"""The nine shapes of rules, each held to one view: a subject at a case; uncertain sides, ranges of which all occurs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import product
from math import inf

from derate.judge.verdict import STRADDLES, Guard, Outcome, agreement, best, compare, excess, worst
from derate.judge.view import Missing, Trace, View, told
from derate.ledger.entry import SUPPLY, Subject
from derate.ledger.ledger import wide_facts
from derate.packs.pack import (
    DOMAINS,
    LOOKED,
    Agree,
    AnyOf,
    Condition,
    Count,
    Keep,
    Member,
    Presence,
    Record,
    Rule,
    Shape,
    Within,
)
from derate.terms.dimension import NUMBER, Dimension
from derate.terms.values import Category, Curve, Value
from derate.terms.vocabulary import VOCABULARY, YES_NO, said
from derate.terms.words import HOLDS, Verdict
from derate.text.formula import CannotEvaluate, Formula

# Shapes that compare: one comparison, a quantity between two limits; uncertain sides, ranges of which all occurs.


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


# The nine shapes of rules, each held to one view: a subject at a case.


def judge_shape(shape: Shape, rule: Rule, view: View) -> Outcome:
    """Hold one shape to one view; what cannot be said is not assessed, with the facts to find in the trace."""
    try:
        return _judge(shape, rule, view)
    except Missing:
        return Outcome("not assessed", view.trace)
    except CannotEvaluate as trouble:
        view.trace.notes[trouble.reason] = None
        return Outcome("not assessed", view.trace)


def _judge(shape: Shape, rule: Rule, view: View) -> Outcome:
    match shape:
        case Keep(formula):
            return judge_keep(formula, rule, view)
        case Within():
            return judge_within(shape, rule, view)
        case Presence():
            return _fact_there(shape, view) if shape.fact else _part_there(shape, view)
        case Member():
            return _member(shape, view)
        case Count():
            return _count(shape, rule, view)
        case Agree():
            return _agree(shape, view)
        case Record():
            return _record(shape, view)
        case AnyOf(shapes):
            return _any_of(shapes, rule, view)


def _or(words: tuple[str, ...]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


_SHORT = {"part.kind": "kind", "part.family": "family", "part.place": "place", "part.class": "class"}


def _said(condition: Condition) -> str:
    return f"{_SHORT.get(condition.name) or said(condition.name)} {condition.text}"


def _parts(conditions: tuple[Condition, ...], view: View) -> tuple[dict[Subject, Trace], dict[Subject, Trace]]:
    """Fitted parts that meet all conditions, and those that may."""
    yes: dict[Subject, Trace] = {}
    maybe: dict[Subject, Trace] = {}
    for subject in view.ledger.subjects("part"):
        fitted = view.ledger.find(subject, "part.fitted", view.case)
        word = fitted.value.word if fitted is not None and isinstance(fitted.value, Category) else None
        if word == "no":
            continue
        holds, _, trace = view.at(subject).holds(conditions)
        if holds is True and word == "yes":
            yes[subject] = trace
        elif holds is not False:
            if word != "yes":
                trace.missing[told(subject, "part.fitted")] = None
            maybe[subject] = trace
    return yes, maybe


def _all_listed(view: View) -> bool:
    """Whether a part that is not in the list is known not to be there; the trace names the fact when it is not."""
    listed = view.at(SUPPLY)
    known = listed.known("supply.parts_list")
    view.trace.add(listed.trace)
    if isinstance(known, Category) and known.word == "complete":
        return True
    view.trace.missing[told(SUPPLY, "supply.parts_list")] = None
    return False


def _part_there(shape: Presence, view: View) -> Outcome:
    yes, maybe = _parts(shape.parts, view)
    asked = " and ".join(_said(one) for one in shape.parts)
    if yes:
        chosen = min(yes, key=lambda one: (bool(yes[one].rests_on), one))
        view.trace.add(yes[chosen])
        verdict: Verdict = "pass" if shape.wanted else "fail"
        return Outcome(verdict, view.trace, words=f"{', '.join(str(one) for one in yes)} there ({asked})")
    if maybe:
        for trace in maybe.values():
            view.trace.add(trace)
        names = ", ".join(str(one) for one in maybe)
        return Outcome("not assessed", view.trace, words=f"whether {names} may be the part is not known ({asked})")
    if not _all_listed(view):
        words = f"no part listed with {asked}, and the list is not said to be complete"
        return Outcome("not assessed", view.trace, words=words)
    return Outcome("fail" if shape.wanted else "pass", view.trace, words=f"no part with {asked}")


def _fact_there(shape: Presence, view: View) -> Outcome:
    known = view.known(shape.fact)
    says = VOCABULARY[shape.fact].says
    if known is None:
        return Outcome("not assessed", view.trace)
    there: bool | None = True
    if isinstance(known, Category):
        nothing = (*LOOKED, "no") if VOCABULARY[shape.fact].words == YES_NO else LOOKED
        gone = [member in nothing for member in known.members]
        there = False if all(gone) else None if any(gone) else True
    if there is None:
        view.trace.missing |= dict.fromkeys(view.left_open(shape.fact))
        return Outcome("not assessed", view.trace, words=f"{says}: {known}")
    words = f"{says}: {known}" if isinstance(known, Category) else f"{says} is there"
    return Outcome("pass" if there == shape.wanted else "fail", view.trace, words=words)


def _member(shape: Member, view: View) -> Outcome:
    known = view.known(shape.fact)
    if not isinstance(known, Category):
        return Outcome("not assessed", view.trace)
    inside = [
        member in shape.words or any(word.startswith("any ") and member.endswith(word[3:]) for word in shape.words)
        for member in known.members
    ]
    says = VOCABULARY[shape.fact].says
    found = f"{says}{':' if says.endswith(' is') else ' is'} {known}"
    words = f"{found}, and only {_or(shape.words)} will do"
    if all(inside):
        return Outcome("pass", view.trace, words=found)
    if not any(inside):
        return Outcome("fail", view.trace, words=words)
    view.trace.missing |= dict.fromkeys(view.left_open(shape.fact))
    return Outcome("not assessed", view.trace, words=words)


def _count(shape: Count, rule: Rule, view: View) -> Outcome:
    ends = [(one, sign) for one, sign in ((shape.least, ">="), (shape.greatest, "<=")) if one is not None]
    view.sides(one for one, _ in ends)
    if shape.of is not None:
        view.sides((shape.of,))
        number = shape.of.value(view.number)
    else:
        yes, maybe = _parts(shape.parts, view)
        for trace in (*yes.values(), *maybe.values()):
            view.trace.add(trace)
        open_end = len(yes) + len(maybe) if _all_listed(view) else inf
        number = Value.between(len(yes), open_end)
    outcome = worst(
        [compared(number, end.value(view.number), sign, NUMBER, rule, view, shape.of) for end, sign in ends]
    )
    if shape.of is None:
        outcome = outcome._replace(words="number of parts with " + " and ".join(_said(one) for one in shape.parts))
    if outcome.verdict != "not assessed":
        view.trace.missing.clear()  # what was open did not matter
    return outcome


def _agree(shape: Agree, view: View) -> Outcome:
    lacking = None
    values: list[Value] = []
    for name in (shape.measured, shape.marked):
        try:
            values.append(view.number(name))
        except Missing:
            lacking = name
    if lacking is not None:
        raise Missing(lacking)
    verdict = agreement(*values)
    if verdict == "not assessed":
        view.trace.missing |= dict.fromkeys(wide_facts(view.ledger, view.trace.entries.values()))
    dimension = VOCABULARY[shape.measured].dimension
    return Outcome(verdict, view.trace, stress=values[0], limit=values[1], dimension=dimension)


def _record(shape: Record, view: View) -> Outcome:
    absent, not_done, open_ones = [], [], False
    for name in shape.fields:
        known = view.known(name)
        says = VOCABULARY[name].says
        if known is None:
            open_ones = True
        elif isinstance(known, Category) and any(member in LOOKED for member in known.members):
            if known.word in ("none", "unmarked"):
                absent.append(says)
            else:
                not_done.append(says)
                view.trace.missing[told(view.subject, name)] = None
        elif isinstance(known, Curve):
            continue
    if absent:
        return Outcome("fail", view.trace, words=f"no {', no '.join(absent)}")
    if open_ones or not_done:
        return Outcome("not assessed", view.trace, words=f"not done: {', '.join(not_done)}" if not_done else "")
    holds, condition, trace = view.holds(shape.shows)
    view.trace.add(trace)
    if holds is False and condition is not None:
        says, text = VOCABULARY[condition.name].says, condition.text
        wanted = text.removeprefix("includes ")
        words = f"{says} is not {text}" if wanted == text else f"{says}: {wanted} is not among them"
        return Outcome("fail", view.trace, words=words)
    if holds is None:
        return Outcome("not assessed", view.trace)
    return Outcome("pass", view.trace, words="recorded: " + ", ".join(VOCABULARY[one].says for one in shape.fields))


def _any_of(shapes: tuple[Shape, ...], rule: Rule, view: View) -> Outcome:
    outcomes = [judge_shape(shape, rule, view.at(view.subject)) for shape in shapes]
    chosen = best(outcomes)
    if chosen.verdict in HOLDS:
        return chosen
    trace = Trace()
    for outcome in outcomes:
        if outcome.verdict == chosen.verdict:
            trace.add(outcome.trace)
    if chosen.verdict == "not assessed":
        return Outcome("not assessed", trace, words=" / ".join(one.words for one in outcomes if one.words))
    return chosen._replace(trace=trace)
