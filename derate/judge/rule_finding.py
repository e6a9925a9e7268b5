"""One rule on one subject: does it apply, in which cases, what comes out; one finding."""

from __future__ import annotations

from typing import NamedTuple

from derate.judge.messages import cure_of, limit_source, not_applicable, remedy_of, told_of
from derate.judge.review import Finding
from derate.judge.shapes import judge_shape
from derate.judge.verdict import OPEN, Outcome, worst
from derate.judge.view import Trace, View, find_row
from derate.ledger.entry import Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Ledger
from derate.packs.load import Packs
from derate.packs.rule import AnyOf, Condition, Count, Keep, Presence, Rule, Shape, facts_of
from derate.terms.place import Place
from derate.terms.quantities import named
from derate.terms.values import Category, Value
from derate.terms.vocabulary import STRESS, VOCABULARY
from derate.terms.words import CONFIDENCES, HOLDS, Verdict
from derate.text.units import show_value


class Prepared(NamedTuple):
    """A rule with what is worked out once: names it looks up, cases it has to hold in."""

    rule: Rule
    names: tuple[str, ...]
    cases: tuple[Case | None, ...]
    searches: bool  # looks at other subjects than its own, so equal rows do not mean an equal outcome
    kind: Condition | None  # the condition on the kind of part, looked at first


def prepare(rule: Rule, ledger: Ledger, packs: Packs) -> Prepared:
    """Work out names and cases of a rule. The cases are those the design requires, never the rows that happen to be."""
    names = dict.fromkeys((*facts_of(rule.shape), *(one.name for one in rule.when)))
    for name in tuple(names):
        table = packs.table(name[6:], rule.family) if name.startswith("table.") else None
        if table is not None:
            names |= dict.fromkeys(axis.name for axis in table.axes)
    plain = tuple(name for name in names if not name.startswith(("table.", "assumption.")))
    kind = next((one for one in rule.applies if one.name in ("part.kind", "part.family")), None)
    if not rule.cases:
        return Prepared(rule, plain, (None,), _searches(rule.shape), kind)
    stresses = tuple(named(name) for name in plain if name in STRESS or name.startswith("allowed."))
    cases = ledger.plan.cases(stresses, rule.cases) if ledger.plan is not None else ()
    return Prepared(rule, plain, tuple(cases), _searches(rule.shape), kind)


def find(prepared: Prepared, subject: Subject, ledger: Ledger, packs: Packs, place: Place) -> Finding | None:
    """The finding of a rule on a subject; None when the part is of another kind and so no subject of the rule."""
    rule = prepared.rule
    if _of_another_kind(prepared.kind, subject, ledger):
        return None
    view = View(ledger, packs, subject, None, rule.family)
    applies, condition, trace = view.holds(rule.applies)
    if applies is False:
        assert condition is not None
        return _outside(rule, subject, condition, trace, view, place)
    if applies is None:
        words = f"whether it applies is open ({condition.name} {condition.text})" if condition is not None else ""
        return finding_of(rule, subject, Outcome("not assessed", trace, OPEN, words), view, "", place)
    if not prepared.cases:
        groups = " or ".join(rule.cases)
        trace = Trace(_lacking(rule, ledger))
        outcome = Outcome("not assessed", trace, words=f"this design has no case to hold it in ({groups})")
        return finding_of(rule, subject, outcome, view, "", place)
    outcomes, views, skipped = _outcomes(prepared, subject, ledger, packs)
    if not outcomes:
        assert skipped is not None
        return _outside(rule, subject, skipped[0], skipped[1], view, place)
    governing = worst(outcomes)
    outcome = _gathered(governing, outcomes, skipped)
    own = next(one for one in views if one.case == governing.case)
    cure = ""
    if governing.verdict in ("fail", "marginal") and "{cure}" in rule.remedy and isinstance(rule.shape, Keep):
        cure = cure_of(rule, rule.shape.formula, governing, views)
    return finding_of(rule, subject, outcome, own, cure, place)


def _of_another_kind(kind: Condition | None, subject: Subject, ledger: Ledger) -> bool:
    """Whether an established kind rules a part out: most parts are none of most rules' business."""
    entry = ledger.find(subject, named(kind.name)) if kind is not None else None
    if entry is None or entry.rests_on or entry.known_by == "assumed" or not isinstance(entry.value, Category):
        return False
    return kind is not None and kind.holds(entry.value) is False


def _outcomes(
    prepared: Prepared, subject: Subject, ledger: Ledger, packs: Packs
) -> tuple[list[Outcome], list[View], tuple[Condition, Trace] | None]:
    """Outcome and view of every case that `when` lets through; cases that look at the same rows are judged once."""
    rule = prepared.rule
    done: dict[tuple[int, ...], tuple[Outcome, View] | None] = {}
    outcomes: list[Outcome] = []
    views: list[View] = []
    skipped: tuple[Condition, Trace] | None = None
    standing, varying = _standing(prepared, subject, ledger)
    for case in prepared.cases:
        rows = dict(standing)
        for name in varying:
            rows[name] = find_row(ledger, subject, name, case, rule.family)
        key = tuple([0 if rows[name] is None else rows[name].number for name in varying])  # type: ignore[union-attr]
        if key in done and not prepared.searches:
            continue
        view = View(ledger, packs, subject, case, rule.family, rows)
        holds, condition, trace = view.holds(rule.when) if rule.when else (True, None, Trace())
        if holds is False and condition is not None:
            skipped = skipped or (condition, Trace())
            skipped[1].add(trace)
            done[key] = None
            continue
        if holds is None:
            outcome = Outcome("not assessed", trace, OPEN, "whether this case counts is open", case=case)
        else:
            found = judge_shape(rule.shape, rule, view)
            outcome = found._replace(case=case)
        done[key] = (outcome, view)
        outcomes.append(outcome)
        views.append(view)
    return outcomes, views, skipped


def _standing(prepared: Prepared, subject: Subject, ledger: Ledger) -> tuple[dict[str, Entry | None], tuple[str, ...]]:
    """Rows that hold for every case, and the names whose rows have to be found case by case."""
    standing: dict[str, Entry | None] = {}
    varying = []
    for name in prepared.names:
        rows = ledger.rows(subject, named(name))
        if len(rows) == 1 and rows[0].case is None and not prepared.rule.family:
            standing[name] = rows[0]
        else:
            varying.append(name)
    return standing, tuple(varying)


def _gathered(governing: Outcome, outcomes: list[Outcome], skipped: tuple[Condition, Trace] | None) -> Outcome:
    """The governing outcome, with what all outcomes of its verdict miss, and what the whole pass rests on."""
    trace = Trace()
    trace.add(governing.trace)
    held = governing.verdict in HOLDS
    for one in outcomes:
        if one is governing:
            continue
        if one.verdict == "not assessed":
            trace.missing |= one.trace.missing
            trace.notes |= one.trace.notes
        if held:
            trace.rests_on |= one.trace.rests_on
            if CONFIDENCES.index(one.trace.confidence) > CONFIDENCES.index(trace.confidence):
                trace.confidence = one.trace.confidence
    if held and skipped is not None:
        trace.rests_on |= skipped[1].rests_on
    return governing._replace(trace=trace)


def _outside(
    rule: Rule, subject: Subject, condition: Condition, trace: Trace, view: View, place: Place
) -> Finding | None:
    """What a rule that does not apply comes to: nothing when the part is of another kind, else `not applicable`."""
    if trace.rests_on and rule.severity == "critical":
        words = f"it would not apply ({condition.name} is not {condition.text}), but that is assumed"
        outcome = Outcome("not assessed", trace, words=words)
        return finding_of(rule, subject, outcome, view, "", place)
    if condition.name in ("part.kind", "part.family"):
        return None
    entry = next(iter(trace.entries.values()), None)
    value = entry.value if entry is not None else None
    found = str(value) if isinstance(value, Category) else "not so"
    dimension = VOCABULARY[condition.name].dimension
    if isinstance(value, Value) and dimension is not None:
        found = show_value(value, dimension)
    told = not_applicable(condition, found)
    return Finding(
        rule.name,
        rule.pack,
        rule.hazard,
        rule.severity,
        subject,
        None,
        "not applicable",
        None,
        None,
        None,
        "",
        told.message(subject),
        "",
        rule.tells,
        rule.confidence,
        (),
        (),
        tuple(trace.entries),
        place,
        told=told,
    )


def finding_of(rule: Rule, subject: Subject, outcome: Outcome, view: View, cure: str, place: Place) -> Finding:
    """Put an outcome into words; a critical pass that rests on an assumption is held back here."""
    rests = tuple(sorted(outcome.trace.rests_on))
    verdict: Verdict = outcome.verdict
    held_back = rule.severity == "critical" and bool(rests) and verdict in HOLDS
    if held_back:
        verdict = "not assessed"
    sure = max(rule.confidence, outcome.trace.confidence, key=CONFIDENCES.index)
    remedy = f"find out: {', '.join(rests)}" if held_back else remedy_of(rule, outcome, cure)
    own = [
        entry.place for entry in outcome.trace.entries.values() if entry.place is not None and entry.subject == subject
    ]
    compared = outcome.stress is not None
    told = told_of(rule, outcome, view, held_back)
    return Finding(
        rule.name,
        rule.pack,
        rule.hazard,
        rule.severity,
        subject,
        outcome.case,
        verdict,
        outcome.stress,
        outcome.limit,
        outcome.excess,
        outcome.dimension.symbol if outcome.dimension is not None else "",
        told.message(subject),
        remedy,
        limit_source(rule, outcome),
        sure,
        tuple(outcome.trace.missing) if verdict == "not assessed" else (),
        rests,
        tuple(outcome.trace.entries),
        min(own) if own and compared else place,
        told=told,
    )


def _lacking(rule: Rule, ledger: Ledger) -> tuple[OpenFact, ...]:
    """The facts without which the plan has no case of a rule's groups, where the plan can name them."""
    lacking = getattr(ledger.plan, "lacking", None)
    return () if lacking is None else tuple(fact for group in rule.cases for fact in lacking(group))


def _searches(shape: Shape) -> bool:
    """Whether a shape looks for parts beside its own subject."""
    match shape:
        case Presence(_, parts) | Count(parts):
            return bool(parts)
        case AnyOf(shapes):
            return any(_searches(one) for one in shapes)
        case _:
            return False
