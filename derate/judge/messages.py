"""Findings in words a colleague can act on: figure used, figure allowed, where the limit comes from, the cure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from math import floor, inf, isfinite, log10

from derate.judge.review import Step, Told, Unmet
from derate.judge.verdict import GUARD, OPEN, OVER, STRADDLES, TOLERANCE, Guard, Outcome, compare
from derate.judge.view import Missing, View
from derate.ledger.entry import OpenFact, listed_facts
from derate.packs.pack import Condition, Rule
from derate.terms.dimension import Dimension
from derate.terms.instructions import NOT_HERE, Does, holds_back
from derate.terms.tuples import NamedTuple
from derate.terms.values import Curve, Value
from derate.terms.vocabulary import VOCABULARY, said
from derate.text.formula import CannotEvaluate, Formula, Name, Number
from derate.text.units import show, show_value

# The rating from which a failing comparison would pass, rounded so that it still does.


# With an open-ended stress no rating can be shown to be enough.
class Figure(NamedTuple):
    """A figure for a remedy, as it is shown. is_open: how great (or small) it is at its bad end has yet to be found"""

    text: str
    is_open: bool = False


NOT_KNOWN = Figure("a figure that has yet to be found", is_open=True)
_OPEN_END = "how much has yet to be found"
_BEYOND = ("more than", "less than")  # by whether more is better
_CHOSEN = ("rated.", "found.", "part.", "core.", "winding.", "transformer.", "barrier.")


def cure_of(rule: Rule, formula: Formula, governing: Outcome, views: Sequence[View]) -> Figure | None:
    """The figure for `{cure}`: the one rating of the formula, as little changed as passes in every case.

    None where the formula has no rating, so that the limit itself is the figure; open where none can be told.
    """
    name = _rating(formula)
    if name is None:
        return None
    own = next((view for view in views if view.case == governing.case), None)
    start = None if own is None else own.known(name)
    if isinstance(start, Curve):
        start = start.points[0][1] if len(start.points) == 1 else None
    if not isinstance(start, Value) or not 0 < start.near < inf or own is None:
        return NOT_KNOWN
    term = VOCABULARY[name]
    assert term.dimension is not None
    ratio = (governing.excess or 1.0) / rule.guard_share
    for some in ((own,), views):  # the governing case usually decides; all of them are tried before it is believed
        found = _least(partial(_passes, rule, formula, name, some), start.near, ratio, term.bad)
        if found is None:
            return NOT_KNOWN
        if _passes(rule, formula, name, views, found):
            return Figure(show(found, term.dimension))
    return NOT_KNOWN


def _rating(formula: Formula) -> str | None:
    for prefix in _CHOSEN:
        names = [name for name in formula.names if name.startswith(prefix)]
        if names:
            return names[0] if len(names) == 1 else None
    return None


def _passes(rule: Rule, formula: Formula, name: str, views: Sequence[View], number: float) -> bool:
    chosen = Value.exact(number)
    for view in views:

        def lookup(asked: str, view: View = view) -> Value:
            return chosen if asked == name else view.number(asked)

        try:
            left, right = formula.evaluate(lookup)
        except (CannotEvaluate, Missing):
            return False
        demand, supply = (right, left) if formula.comparison.startswith(">") else (left, right)
        verdict, _ = compare(
            demand,
            supply,
            strict="=" not in formula.comparison,
            over_tolerance=True,
            guard=Guard(rule.guard_share, rule.guard_difference),
        )
        if verdict != "pass":
            return False
    return True


def _least(passes: Callable[[float], bool], start: float, ratio: float, bad: int) -> float | None:
    """The number nearest to start that passes, at three digits."""
    up = bad <= 0
    # Nearly every limit rises in step with its rating: the worst ratio then is the answer, and bisection is spared.
    guess = start * ratio if up else start / ratio
    near = guess * 1.0001 if up else guess / 1.0001
    if 0 < guess < inf and passes(near) and not passes(guess * 0.999 if up else guess / 0.999):
        return _rounded(passes, near, up)
    inside = start
    for _ in range(40):
        inside = inside * 2 if up else inside / 2
        if passes(inside):
            break
    else:
        return None
    outside = inside / 2 if up else inside * 2
    for _ in range(14):  # to 1 part in 16000, finer than the three digits that are shown
        middle = (inside + outside) / 2
        if passes(middle):
            inside = middle
        else:
            outside = middle
    return _rounded(passes, inside, up)


def _rounded(passes: Callable[[float], bool], inside: float, up: bool) -> float | None:
    scale = 10.0 ** (floor(log10(inside)) - 2)
    step = round(inside / scale)
    for number in (step, step + 1) if up else (step, step - 1):
        rounded = float(f"{number * scale:.3g}") if number < 1000 else number * scale
        if passes(rounded):
            return rounded
    return None


# Findings in words a colleague can act on: figure used, figure allowed, where the limit comes from, the cure.


def limit_source(rule: Rule, outcome: Outcome) -> str:
    """Where the limit comes from; a remembered cell makes the whole limit a remembered one."""
    if outcome.trace.confidence == "remembered" and rule.confidence != "remembered":
        return f"remembered figure for {rule.source}: confirm"
    return rule.tells


def told_of(rule: Rule, outcome: Outcome, view: View, blocked: bool) -> Told:
    """One sentence on one finding. `blocked`: a critical pass that was held back for what it rests on."""
    at = f" ({outcome.case})" if outcome.case is not None else ""
    rests = listed_facts(sorted(outcome.trace.rests_on))
    if blocked:
        body = _compared(outcome, view) if outcome.stress is not None else outcome.words or rule.says
        return Told(f"would hold, but rests on {rests}, assumed{at}: {body}")
    if outcome.verdict == "not assessed" and outcome.why != STRADDLES:
        return Told(_reason(rule, outcome), f"cannot be judged{at}: ")
    body = _compared(outcome, view) if outcome.stress is not None else outcome.words or rule.says
    if outcome.verdict == "fail" and outcome.stress is None:
        body = f"{body}; asked: {rule.says.rstrip('.')}"
    if outcome.why == STRADDLES:
        body = "; ".join((body, *_why_wide(outcome)))
    tail = f"; rests on {rests}, assumed" if rests else ""
    return Told(f"{body}{at}", "", f"; limit: {limit_source(rule, outcome)}", tail)


def _why_wide(outcome: Outcome) -> list[str]:
    """What the rows of either side say of their own range: why it is open, or which readings it lies between."""
    values = ((entry.value, entry.note) for entry in outcome.trace.entries.values() if entry.note)
    return list(dict.fromkeys(note for value, note in values if isinstance(value, Value) and value.near < value.far))


def not_applicable(condition: Condition, found: str) -> Told:
    """Why a rule does not apply, naming the fact."""
    unmet = Unmet(said(condition.name), found, condition.text)
    return Told(f"{unmet.fact}: {found}, asked is {unmet.asked}", "does not apply: ", unmet=unmet)


def _reason(rule: Rule, outcome: Outcome) -> str:
    pieces = []
    if outcome.words:
        pieces.append(outcome.words)
    pieces += outcome.trace.notes
    if outcome.trace.missing:
        pieces.append("needs " + listed_facts(outcome.trace.missing))
    return "; ".join(dict.fromkeys(pieces)) or f"what is known does not settle it; asked: {rule.says.rstrip('.')}"


def _compared(outcome: Outcome, view: View) -> str:
    assert outcome.stress is not None and outcome.limit is not None and outcome.dimension is not None
    dimension = outcome.dimension
    stress, limit = show_value(outcome.stress, dimension), show_value(outcome.limit, dimension)
    if outcome.formula is None and not outcome.why:
        relation = {"pass": "agrees with", "fail": "does not agree with"}.get(outcome.verdict, "may not agree with")
        return f"{stress} measured {relation} {limit} marked"
    what = _left(outcome)
    bound = "needed" if outcome.more else "allowed"
    beyond, inside = ("under", "over") if outcome.more else ("over", "within")
    # a limit with one end alone takes no article: "over the at most 5 V allowed"
    at = f"what is {bound}, {limit}" if limit[0].isalpha() else f"the {limit} {bound}"
    if outcome.why == OVER:
        told = f"{beyond} {at}"
    elif outcome.why == TOLERANCE:
        told = f"{beyond} {at} at the end of its tolerance"
    elif outcome.why == STRADDLES:
        told = "; ".join((f"limit {limit}: too wide to tell, {_narrower(outcome, dimension)}", *outcome.trace.notes))
    elif outcome.why == GUARD:
        told = f"close to {at}"
    else:
        told = f"{inside} {at}"
    # words that go on behind a comma would run into the figure, and into "anything"
    joint = ":" if "," in what or stress.startswith("any") else ""
    return f"{what}{joint} {stress}, {told}{_derived(outcome, view)}"


def _left(outcome: Outcome) -> str:
    if outcome.formula is None:
        return outcome.words or "number"
    left = outcome.formula.left
    if isinstance(left, Name) and left.name in VOCABULARY:
        return VOCABULARY[left.name].says
    return outcome.formula.left_words(said)


def _derived(outcome: Outcome, view: View) -> str:
    """The comparison with its names and with numbers, when it says more than the two figures."""
    formula = outcome.formula
    if formula is None or formula.right is None:
        return ""
    if isinstance(formula.left, Name) and isinstance(formula.right, Name):
        return f" ({VOCABULARY[formula.right.name].says})" if formula.right.name in VOCABULARY else ""
    words = formula.words(said)
    if isinstance(formula.left, Name):  # it stands ahead with its figure: what it is held to alone
        if isinstance(formula.right, Number):
            return ""
        words = formula.right_words(said)
    if outcome.verdict == "pass":
        return f" ({words})"
    try:
        return f" ({words}: {formula.numbers(view.number)})"
    except (CannotEvaluate, Missing):
        return f" ({words})"


def _narrower(outcome: Outcome, dimension: Dimension) -> str:
    """How narrow a range must become before the verdict is a pass."""
    assert outcome.stress is not None and outcome.limit is not None
    stress, limit = outcome.stress, outcome.limit
    needed = []
    from_nothing = not outcome.more and limit.near <= 0.0 < stress.near  # no stress would be small enough
    end = limit.far if outcome.more else limit.near
    if stress.near < stress.far and not from_nothing and isfinite(end):
        needed.append(f"it has to be shown to be {show(end, dimension)} or {'more' if outcome.more else 'less'}")
    end = stress.near if outcome.more else stress.far
    if limit.near < limit.far and isfinite(end):
        needed.append(f"the limit has to be shown to be {show(end, dimension)} or {'less' if outcome.more else 'more'}")
    return " and ".join(needed) or "and no figure alone would settle it"


def steps_of(rule: Rule, outcome: Outcome, cure: Figure | None) -> tuple[Step, ...]:
    """What to do: the rule's remedy with its figures filled in, or how to settle what is not assessed."""
    if outcome.verdict == "not assessed":
        if outcome.why == OPEN:  # the rule's own way to settle it answers another question
            return _how(outcome) or (Step("state " + listed_facts(outcome.trace.missing), ("papers",)),)
        if not rule.settle:
            return _how(outcome)
        settle = Step(rule.settle, rule.settle_does)
        return (Step(rule.settle_first, rule.settle_first_does), settle) if rule.settle_first else (settle,)
    if outcome.verdict not in ("fail", "marginal") or not rule.remedy:
        return ()
    text = rule.remedy
    first = _to_measure(outcome)
    if first and any(token in text for token in ("{worst}", "{cure}")):
        for token in ("{worst}", "{cure}"):
            text = text.replace(token, "what is then worked out")
        return (*first, Step(text, rule.remedy_does))
    if "{stress}" in text:
        text = text.replace("{stress}", _shown(outcome.stress, outcome.dimension))
    if "{limit}" in text:
        text = text.replace("{limit}", _asked(outcome))
    if "{worst}" in text:
        text = _filled(text, "{worst}", _worst(outcome))
    return (Step(_filled(text, "{cure}", cure or Figure(_asked(outcome))), rule.remedy_does),)


def _filled(text: str, token: str, figure: Figure) -> str:
    """A remedy with one figure filled in; what has yet to be found takes no "or more" behind and no "above" ahead."""
    if figure.is_open:
        text = text.replace(f"rated {token}", f"rated for {token}")
        text = text.replace(f"rating above {token}", f"rating of {token}")
        for tail in (" or more", " and more", " or less"):
            text = text.replace(token + tail, token)
        for lead in ("more than ", "above ", "under "):
            text = text.replace(lead + token, token)
    return text.replace(token, figure.text)


# Over so wide a range of what is assumed no part is bought by its bad end, a fuse that breaks 26 kA: it is measured.
_WIDE = 2.0


def _to_measure(outcome: Outcome) -> tuple[Step, ...]:
    """How to find what a failing figure rests on, where its bad end is an assumption and far from its kind end."""
    figures = [one for one in (outcome.stress, outcome.limit) if one is not None]
    if not outcome.trace.rests_on or not any(inf > one.far > _WIDE * one.near > 0.0 for one in figures):
        return ()
    found = []
    for fact in sorted(outcome.trace.rests_on):
        term = VOCABULARY.get(fact.name)
        if term is not None and term.how:
            found.append(Step(str(term.how), term.how.does, f"first find {fact.in_words}"))
    return tuple(found)


def in_words(steps: Iterable[Step], withheld: str = "") -> str:
    """Steps as one text, each with its caution; those that need power are withheld together, with the reason.

    withheld: why this sample is not to be powered, '' where nothing speaks against it
    """
    given, held = [], []
    for step in steps:
        if withheld and holds_back(step.does):
            held.append(step.fact)
        else:
            given.append(step.given(withheld))
    if held:
        facts = ", ".join(dict.fromkeys(filter(None, held)))
        given.append(f"{facts}: {NOT_HERE}: {withheld}" if facts else f"{NOT_HERE}: {withheld}")
    return "; ".join(dict.fromkeys(filter(None, given)))


def _shown(value: Value | None, dimension: Dimension | None) -> str:
    return "what is asked" if value is None or dimension is None else show_value(value, dimension)


def _asked(outcome: Outcome) -> str:
    """The bad end of the limit, where a thing has to be to hold whatever the limit is. Open to that side: the other."""
    limit, dimension = outcome.limit, outcome.dimension
    if limit is None or dimension is None:
        return _shown(limit, dimension)
    ends = (limit.high, limit.low) if outcome.more else (limit.low, limit.high)
    return next((show(end, dimension) for end in ends if isfinite(end)), _shown(limit, dimension))


def _worst(outcome: Outcome) -> Figure:
    """The bad end of the stress, tolerance included: what a replacement has to bear. Open to that side: beyond what."""
    stress, dimension = outcome.stress, outcome.dimension
    end = None if stress is None else stress.low if outcome.more else stress.high
    if end is None or dimension is None:
        return Figure(_shown(stress, dimension))
    if stress is not None and not isfinite(end):
        known = stress.high if outcome.more else stress.low
        if not isfinite(known):
            return NOT_KNOWN
        return Figure(f"{_BEYOND[outcome.more]} {show(known, dimension)} ({_OPEN_END})", is_open=True)
    return Figure(show(end, dimension))


def _how(outcome: Outcome) -> tuple[Step, ...]:
    found: dict[Step, None] = {}
    for fact in outcome.trace.missing:
        term = VOCABULARY.get(fact.name)
        if term is not None and term.how:
            found[Step(str(term.how), term.how.does, fact.in_words)] = None
    return tuple(found)


def does_of_facts(facts: Iterable[OpenFact]) -> tuple[Does, ...]:
    """What finding these facts does; of a fact that nobody described, reading and asking."""
    known = (VOCABULARY.get(fact.name) for fact in facts)
    every = {word for term in known if term is not None for word in term.how.does}
    return tuple(every) or ("papers",)
