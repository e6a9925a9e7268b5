"""Every stress that a critical or major rule holds: extreme value, root sum of squares, draws, and what drives it."""

from __future__ import annotations

import os
from collections.abc import Hashable, Iterable, Sequence
from datetime import date
from math import inf
from typing import NamedTuple

import numpy as np

from derate.design.facts import facts
from derate.judge.review import Finding
from derate.judge.view import Missing, View, find_row
from derate.ledger.entry import Entry
from derate.ledger.ledger import Ledger
from derate.ledger.traced import TracedLedger
from derate.packs.pack import AnyOf, Keep, Rule, Shape, Within
from derate.study.spread.drift import drifts, with_drift
from derate.study.spread.leaves import Constant, Graph, Grower, Leaf, Node, Share, Undrawn, needs
from derate.study.spread.replay import Numbers, Replay, Replayed, Way, none_given, one_at_a_time, places
from derate.study.spread.samples import Samples, sampled
from derate.study.spread.statistics import Term, interval_of_share, quantile, root_of_squares
from derate.study.work import Work, review_of, worked
from derate.terms.dimension import NUMBER, VOLTAGE, Dimension
from derate.terms.values import Value
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import HEAVY
from derate.text.formula import CannotEvaluate, Formula, Side

# What a rule compares, as rows of the graph.


class Compared(NamedTuple):
    """One finding with the sides of its comparison: what there is and what it is held to, and how.

    more: more is better, so that the limit is the demand; over: at the limit itself it is over (`<`, `>`)
    names: the rows or values the names of both sides stand for; safety: held at its extreme value alone
    """

    finding: Finding
    stress: Side
    limit: Side
    more: bool
    over: bool
    names: tuple[tuple[int | Node, ...], tuple[int | Node, ...]]
    dimension: Dimension
    safety: bool


_LEAST = "voltage_min"  # the least there is of a voltage, between two crests


def of_safety(
    finding: Finding,
    formulas: Iterable[Formula],
    rows: Iterable[Entry] = (),
    ledger: Ledger | None = None,
    more: bool = False,
) -> bool:
    """Whether a limit is one of insulation, opening, fire or over-voltage, or critical whatever it is of.

    formulas: what is compared; one that any voltage goes into is of over-voltage, in whatever unit it comes out
    rows: those that its names stand for, of that ledger; a plain number that is made from a voltage is of over-voltage
    as well: a voltage over that on the plate
    more: more is better, so that the least of a voltage is held to what is needed: too little is no over-voltage
    """
    if finding.hazard in ("fire", "shock") or finding.severity == "critical":
        return True
    formulas = [one for one in formulas if not (more and _LEAST in one.names)]
    if any(formula.dimension == VOLTAGE or any(map(_is_voltage, formula.names)) for formula in formulas):
        return True
    return ledger is not None and any(
        _dimension(row.quantity) == NUMBER and any(_is_voltage(ledger[one].quantity) for one in row.inputs)
        for row in rows
    )


def _dimension(name: str) -> Dimension | None:
    term = VOCABULARY.get(name)
    return term.dimension if term is not None else None


def _is_voltage(name: str) -> bool:
    return _dimension(name) == VOLTAGE


# Results.


class Driver(NamedTuple):
    """A leaf and its share of the variance of the ratio of stress to limit, 0 to 1."""

    leaf: Leaf
    share: float


class Drawing(NamedTuple):
    """What the draws gave.

    draws: how many; one_by_one: models for whose sake they are fewer; mean, sigma of the stress
    low, high: quantiles of the stress at 0.135 and 99.865 %, None where the draws are too few to say
    beyond: draws over the limit, with those that gave no figure; none: those; share: 95 % interval of the share
    edges, counts: histogram of the stress
    """

    draws: int
    one_by_one: tuple[str, ...]
    mean: float
    sigma: float
    low: float | None
    high: float | None
    beyond: int
    none: int
    share: tuple[float, float]
    edges: tuple[float, ...]
    counts: tuple[int, ...]


class Spread(NamedTuple):
    """One finding. root: root sum of squares of the stress, both ends, biased terms added by sign; None where undrawn

    nominal: with every tolerance and everything not known at its middle; safety: extreme value alone speaks
    drawing: None for a safety limit and where `why` says what cannot be drawn; outside: draws beyond what the ledger
    holds possible, which would be a defect of it; by_hand: whose and what, rows drawn by themselves
    """

    finding: Finding
    dimension: Dimension
    more: bool
    safety: bool
    nominal: float | None
    root: tuple[float, float] | None
    drivers: tuple[Driver, ...]
    drawing: Drawing | None
    why: str = ""
    outside: int = 0
    by_hand: tuple[tuple[str, str], ...] = ()


class Study(NamedTuple):
    """All findings of one design. way: how they were drawn; leaves: all that was drawn; solves: of formulas, singly.

    samples: what was read of several samples of the supply
    """

    rows: tuple[Spread, ...]
    way: Way
    leaves: tuple[Leaf, ...]
    solves: int
    by_arrays: int
    samples: Samples = Samples()


FEW = 20_000  # 0.135 % of fewer draws are too few points to print a quantile from
_BINS = 24
_CLOSE = 1e-9


def spread(
    work: Work, today: date, way: Way | None = None, cores: int | None = None, with_drift_of_kinds: bool = False
) -> Study:
    """The spread of a design.

    cores: processes for costly models, None all there are
    with_drift_of_kinds: the ledger is worked out once more with what temperature and age add, as assumed by kind
    """
    drawn = way or Way()
    stated = facts(work.design)
    taken = drifts(stated) if with_drift_of_kinds else {}
    ledger = TracedLedger()
    worked(work.design, work.packs, with_drift(stated, taken), ledger)
    work = work._replace(ledger=ledger)
    grower = Grower(ledger, taken)
    compared = [one for finding in _held(work, today) if (one := _compared(finding, work, grower)) is not None]
    roots = {one for each in compared for side in each.names for one in side if isinstance(one, int)}
    graph = grower.graph(roots)
    many = 1 + 2 * len(graph.leaves)
    alone = Replay(graph, one_at_a_time(graph.leaves), many, many, _cores(cores))
    single = alone.run(), alone
    chance = [one for one in compared if not one.safety]
    needed = {one for each in chance for side in each.names for one in side if isinstance(one, int)}
    replay = Replay(graph.part(needed), places(graph.leaves, drawn), drawn.draws, drawn.costly_draws, _cores(cores))
    rows = replay.run()
    results = tuple(_spread(one, ledger, graph, single, (rows, replay), drawn) for one in compared)
    samples = sampled(work.design.readings)
    return Study(results, drawn, graph.leaves, replay.solves, replay.by_arrays, samples)


def _cores(asked: int | None) -> int:
    return asked if asked is not None else os.cpu_count() or 1


def _held(work: Work, today: date) -> Iterable[Finding]:
    """Findings that compare, of critical and major rules."""
    for finding in review_of(work, today).findings:
        if finding.severity in HEAVY and finding.stress is not None and finding.limit is not None:
            if finding.verdict != "not applicable":
                yield finding


def _compared(finding: Finding, work: Work, grower: Grower) -> Compared | None:
    rule = next((one for one in work.packs.rules if (one.name, one.pack) == (finding.rule, finding.pack)), None)
    if rule is None:
        return None
    view = View(work.ledger, work.packs, finding.subject, finding.case, rule.family)
    for stress, limit, comparison in _sides(rule.shape):
        try:
            values = stress[0].values(view.number)[stress[1]], limit[0].values(view.number)[limit[1]]
        except (Missing, CannotEvaluate):
            continue
        if values == (finding.stress, finding.limit):
            names = _names(stress[0], rule, view, grower), _names(limit[0], rule, view, grower)
            sides = stress[0].sides[stress[1]], limit[0].sides[limit[1]]
            more, over = comparison.startswith(">"), "=" not in comparison
            rows = [work.ledger[one] for side in names for one in side if isinstance(one, int)]
            safety = of_safety(finding, (stress[0], limit[0]), rows, work.ledger, more)
            return Compared(finding, *sides, more, over, names, stress[0].dimension, safety)
    return None


def _sides(shape: Shape) -> Iterable[tuple[tuple[Formula, int], tuple[Formula, int], str]]:
    """Both sides of every comparison of a shape: the formula each stands in and which of its sides, and the sign."""
    match shape:
        case Keep(formula):
            yield (formula, 0), (formula, 1), formula.comparison
        case Within(quantity, least, greatest):
            if greatest is not None:
                yield (quantity, 0), (greatest, 0), "<="
            if least is not None:
                yield (quantity, 0), (least, 0), ">="
        case AnyOf(shapes):
            for one in shapes:
                yield from _sides(one)


def _names(formula: Formula, rule: Rule, view: View, grower: Grower) -> tuple[int | Node, ...]:
    found: list[int | Node] = []
    for name in formula.names:
        row = None
        if not name.startswith(("table.", "assumption.")):
            row = find_row(view.ledger, view.subject, name, view.case, rule.family)
        if row is not None and isinstance(row.value, Value):
            found.append(row.number)
            continue
        value = view.number(name)
        if value.is_exact:
            found.append(Constant(value.near))
        elif inf in (value.high, -value.low):
            found.append(Undrawn(f"{name} has an open end"))
        else:
            share: Share = "assumed" if name.startswith("assumption.") else "not known"
            found.append(grower.drawn((str(view.subject), name), value, str(view.subject), name, share))
    return tuple(found)


# Arithmetic of a side on whole arrays, as `Side.value` has it on one number.


def _evaluated(side: Side, names: Sequence[int | Node], replay: Replay) -> Numbers:
    columns = [replay.rows[one] if isinstance(one, int) else replay.figure(one) for one in names]
    many = min((len(one) for one in columns), default=replay.draws)
    stack: list[Numbers] = [one[:many] for one in columns]
    stack += [np.full(many, one) for one in side.constants]
    for sign, one, other in side.steps:
        a, b = stack[one], stack[other]
        match sign:
            case "+":
                stack.append(a + b)
            case "-":
                stack.append(a - b)
            case "*":
                stack.append(a * b)
            case "/":
                stack.append(a / b)
            case "min":
                stack.append(np.minimum(a, b))
            case "max":
                stack.append(np.maximum(a, b))
            case _:
                stack.append(-a)
    return stack[side.result] if side.steps else stack[0 if side.constants and not names else side.result]


def _undrawn(one: Compared, rows: Replayed) -> str:
    for side in one.names:
        for name in side:
            if isinstance(name, Undrawn):
                return name.why
            if isinstance(name, int) and name in rows.undrawn:
                return rows.undrawn[name]
    return ""


def _ratio(stress: Numbers, limit: Numbers, more: bool) -> Numbers:
    """Demand over supply; both are asked to be above nought, else the difference alone is looked at."""
    many = min(len(stress), len(limit))
    demand, supply = (limit[:many], stress[:many]) if more else (stress[:many], limit[:many])
    return demand / supply if (supply > 0.0).all() else demand - supply


def _spread(
    one: Compared,
    ledger: TracedLedger,
    graph: Graph,
    single: tuple[Replayed, Replay],
    drawn: tuple[Replayed, Replay],
    way: Way,
) -> Spread:
    finding, safety = one.finding, one.safety
    why = _undrawn(one, single[0])
    if why:
        return Spread(finding, one.dimension, one.more, safety, None, None, (), None, why)
    stress = _evaluated(one.stress, one.names[0], single[1])
    ratio = _ratio(stress, _evaluated(one.limit, one.names[1], single[1]), one.more)
    assert finding.stress is not None
    # moves found one at a time and added may pass what the formula gives with all at once
    ends = [min(max(end, finding.stress.low), finding.stress.high) for end in _root(stress, graph.leaves, way)]
    root = ends[0], ends[1]
    drivers = _drivers(ratio, graph.leaves)
    hand = _by_hand(one, ledger, graph)
    nominal = float(stress[0])
    if safety:
        return Spread(finding, one.dimension, one.more, True, nominal, root, drivers, None, "", 0, hand)
    drawing, outside = _drawing(one, drawn)
    return Spread(finding, one.dimension, one.more, False, nominal, root, drivers, drawing, "", outside, hand)


def _moves(figures: Numbers) -> list[tuple[float, float]]:
    """How far each leaf moves a figure, at its low end and at its high end, all others at their middle."""
    return [
        (float(low - figures[0]), float(high - figures[0]))
        for low, high in zip(figures[1::2], figures[2::2], strict=True)
    ]


def _root(figures: Numbers, leaves: Sequence[Leaf], way: Way) -> tuple[float, float]:
    """Root sum of squares of a figure; parts of one lot move together as far as the way says: 2 ρ a b for every two."""
    terms: list[Term] = []
    lots: dict[Hashable, list[tuple[float, float]]] = {}
    for leaf, (low, high) in zip(leaves, _moves(figures), strict=True):
        terms.append(Term(min(low, high, 0.0), max(low, high, 0.0), leaf.biased))
        if leaf.lot is not None and leaf.share == "purchase":
            # signed by the end of the tolerance that gives it, so that a ratio of two parts of one lot cancels
            sign = 1.0 if high >= low else -1.0
            lots.setdefault(leaf.lot, []).append((sign * min(low, high, 0.0), sign * max(low, high, 0.0)))
    both = [
        way.together * sum(sum(column) ** 2 - sum(one**2 for one in column) for column in ends)
        for ends in ([[move[end] for move in lot] for lot in lots.values()] for end in (0, 1))
    ]
    down, up = root_of_squares(terms, *both)
    return float(figures[0]) + down, float(figures[0]) + up


def _drivers(ratio: Numbers, leaves: Sequence[Leaf]) -> tuple[Driver, ...]:
    """Shares of the variance, greatest first: each leaf's squared half move over the sum of all."""
    squares = [((high - low) / 2.0) ** 2 for low, high in _moves(ratio)]
    total = sum(squares)
    if not total > 0.0:
        return ()
    found = [Driver(leaf, one / total) for leaf, one in zip(leaves, squares, strict=True) if one > 0.0]
    return tuple(sorted(found, key=lambda each: (-each.share, each.leaf.subject, each.leaf.name, each.leaf.share)))


def _by_hand(one: Compared, ledger: TracedLedger, graph: Graph) -> tuple[tuple[str, str], ...]:
    """Whose and what: rows that are put together outside a formula and so drawn by themselves, of those it needs."""
    seen: set[int] = set()
    waiting = [name for side in one.names for name in side if isinstance(name, int)]
    while waiting:
        number = waiting.pop()
        if number in seen:
            continue
        seen.add(number)
        waiting += needs(graph.nodes[number])
    rows = (ledger[number] for number in graph.by_hand if number in seen)
    return tuple(dict.fromkeys((str(row.subject), row.quantity) for row in rows))


def _drawing(one: Compared, drawn: tuple[Replayed, Replay]) -> tuple[Drawing, int]:
    rows, replay = drawn
    stress = _evaluated(one.stress, one.names[0], replay)
    limit = _evaluated(one.limit, one.names[1], replay)
    many = min(len(stress), len(limit))
    stress, limit = stress[:many], limit[:many]
    none = none_given(stress + limit)
    known = ~np.isnan(stress + limit)
    demand, supply = (limit, stress) if one.more else (stress, limit)
    with np.errstate(invalid="ignore"):
        over = (demand >= supply) if one.over else (demand > supply)
    beyond = int(np.count_nonzero(over & known)) + none  # a draw that gives no figure is not one that holds
    figures = stress[known]
    costly = {model for side in one.names for name in side if isinstance(name, int) for model in rows.costly[name]}
    ordered = np.sort(figures).tolist()
    tails = len(ordered) >= FEW
    counts, edges = np.histogram(figures, bins=_BINS)
    outside = _outside(figures, one.finding.stress) + _outside(limit[known], one.finding.limit)
    return (
        Drawing(
            many,
            tuple(sorted(costly)),
            float(np.mean(figures)),
            float(np.std(figures)),
            quantile(ordered, 0.00135) if tails else None,
            quantile(ordered, 0.99865) if tails else None,
            beyond,
            none,
            interval_of_share(beyond, many),
            tuple(map(float, edges)),
            tuple(map(int, counts)),
        ),
        outside,
    )


def _outside(figures: Numbers, value: Value | None) -> int:
    """Draws beyond both ends of a value, and more than rounding beyond."""
    assert value is not None
    slack = _CLOSE * max(abs(value.low), abs(value.high))
    return int(np.count_nonzero((figures < value.low - slack) | (figures > value.high + slack)))
