"""The rating from which a failing comparison would pass, rounded so that it still does."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from math import floor, inf, log10

from derate.judge.comparison import Guard, compare
from derate.judge.outcome import Outcome
from derate.judge.view import Missing, View
from derate.packs.rule import Rule
from derate.terms.values import Curve, Value
from derate.terms.vocabulary import VOCABULARY
from derate.text.formula import CannotEvaluate, Formula
from derate.text.units import show

# With an open-ended stress no rating can be shown to be enough.
NOT_KNOWN = "a figure that has yet to be found"
_CHOSEN = ("rated.", "found.", "part.", "core.", "winding.", "transformer.", "barrier.")


def cure_of(rule: Rule, formula: Formula, governing: Outcome, views: Sequence[View]) -> str:
    """The figure for `{cure}`: the one rating of the formula, as little changed as passes in every case.

    Empty where the formula has no rating, so that the limit itself is the figure; words where none can be told.
    """
    name = _rating(formula)
    if name is None:
        return ""
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
            return show(found, term.dimension)
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
