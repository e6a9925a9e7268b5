"""How far a supply may be taken: greatest output current, highest ambient, widest mains, each by itself.

Up to there every rule that gave a verdict at the rated point still gives one, and none blocks. A coarse grid is walked
outwards from the rated point and the first step that does not hold is narrowed by bisection, so that a window which
closes and opens again is not jumped over.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from derate.design.readings import Reading
from derate.judge.review import Finding
from derate.ledger.entry import SUPPLY, Subject
from derate.packs.shape import AnyOf, Keep, Shape, Within
from derate.study.carried import at_factor
from derate.study.trying import Bench, Fact, Result
from derate.terms.values import Known, Value
from derate.terms.words import SEVERITIES

FINE = 0.007  # of the distance to zero: what an end is narrowed to, within the 1 % it is held to
# What was read at the rated point is as it was read, and says nothing of another: these rules are not asked there.
_READ_AT_RATING = ("read_efficiency", "read_ripple", "regulation", "read_mains_current", "no_load_power", "reading.")


_BY_READING = ("widened", "worse", "floor")  # marks of the rows that a reading changed


@dataclass(frozen=True, slots=True)
class Axis:
    """One way to go: name, the rated end, steps of the coarse grid, how far it is looked at; all in SI units."""

    name: str
    unit: str
    rated: float
    grid: tuple[float, ...]


class Unseen(NamedTuple):
    """A way that cannot be looked at, and why."""

    name: str
    why: str


@dataclass(frozen=True, slots=True)
class Headroom:
    """How far one axis goes.

    end: the last point that holds; open: the grid ended before anything stopped it
    stops: the finding that stops it, None when nothing does; why: in words, when the axis cannot be looked at
    """

    axis: Axis | None
    name: str
    end: float | None
    open: bool
    stops: Finding | None
    why: str = ""


class Walker:
    """Tries points of one design; rules that were not judged at the rated point, or block there, are left aside."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.full = _full_currents(bench)
        asked = {rule.name: _names(rule.shape) for rule in bench.work.packs.rules}
        base = bench.base.verdicts()
        self.blocked = tuple(one for one in base.values() if one.blocks and one.verdict == "fail")
        self.judged = tuple(
            key for key, one in base.items()
            if one.verdict in ("pass", "marginal") or (one.verdict == "fail" and not one.blocks)
        )  # fmt: skip
        self.at_rating = frozenset(
            key for key in self.judged if any(name.startswith(_READ_AT_RATING) for name in asked.get(key[0], ()))
        )
        self.efficiency = bench.base.ledger.find(SUPPLY, "efficiency")
        self.readings = _telling(bench, {name for names in asked.values() for name in names})
        self.kept = with_rules(bench, {key[0] for key in self.judged})

    def stop(self, axis: str, point: float, rated: float) -> Finding | None:
        """What stops at a point: the first finding, fails before what is not assessed; None when everything holds."""
        return self._first(self._at(axis, point, rated))

    def _first(self, result: Result | None) -> Finding | None:
        if result is None:
            return self.bench.base.review.findings[0]
        after = result.verdicts()
        wrong = []
        for key in self.judged:
            if key in self.at_rating:
                continue
            found = after.get(key)
            if found is None or found.verdict == "not applicable":
                continue
            if found.verdict == "not assessed" or (found.verdict == "fail" and found.blocks):
                wrong.append(found)
        wrong.sort(key=lambda one: (one.verdict != "fail", SEVERITIES.index(one.severity), one.rule, str(one.subject)))
        return wrong[0] if wrong else None

    def _at(self, axis: str, point: float, rated: float) -> Result | None:
        values: dict[Fact, Known | None] = {}
        readings: Sequence[Reading] = self.readings
        known = self.efficiency
        if axis in ("output current", "ambient") and known is not None and known.known_by == "measured":
            values[(SUPPLY, "supply.efficiency")] = known.value  # taken along as it is
        if axis == "output current":
            factor = point / rated
            for name, current in self.full.items():
                values[(Subject("output", (name,)), "plate.current")] = Value.exact(current * factor)
            readings = at_factor(self.readings, self.full, factor)
        else:
            fact: Fact = (SUPPLY, "site.ambient" if axis == "ambient" else "plate.mains")
            row = self.bench.base.ledger.find(*fact)
            assert row is not None and isinstance(row.value, Value)
            low, high = row.value.low, row.value.high
            low, high = (point, high) if axis == "lowest mains" else (low, point)
            values[fact] = Value.between(low, high)
        try:
            return self.kept.tried(values, readings)
        except (ValueError, ArithmeticError):
            return None


def _telling(bench: Bench, asked: set[str]) -> tuple[Reading, ...]:
    """The readings that change a row, besides their own, which a rule looks at; those that only agree are left out."""
    ledger = bench.base.ledger
    moving = {
        number for row in ledger.entries if row.mark in _BY_READING and row.quantity in asked for number in row.inputs
    }  # fmt: skip
    places = {ledger[number].place for number in moving} - {None}
    return tuple(
        one for one in bench.work.design.readings
        if one.quantity in ("voltage", "mains_power") or one.quantity.endswith("temperature")
        or one.stated.place in places
    )  # fmt: skip


def with_rules(bench: Bench, names: set[str]) -> Bench:
    """The same bench with only the rules that are asked, so that judging takes as little as it can."""
    packs = bench.work.packs
    rules = tuple(rule for rule in packs.rules if rule.name in names)
    own = object.__new__(Bench)
    own.work = bench.work._replace(packs=packs._replace(rules=rules))
    own.today, own.facts, own.runs, own.base = bench.today, bench.facts, 0, bench.base
    return own


def _names(shape: Shape) -> tuple[str, ...]:
    """Names the formulas of a shape look up."""
    match shape:
        case Keep(formula):
            return formula.names
        case Within(quantity):
            return quantity.names
        case AnyOf(shapes):
            return tuple(name for one in shapes for name in _names(one))
        case _:
            return (getattr(shape, "fact", ""),)


def _full_currents(bench: Bench) -> dict[str, float]:
    found = {}
    for subject in bench.base.ledger.subjects("output"):
        row = bench.base.ledger.find(subject, "plate.current")
        if row is not None and isinstance(row.value, Value):
            found[subject.names[0]] = row.value.high
    return found


def axes(bench: Bench) -> tuple[Axis | Unseen, ...]:
    """The axes of a design; in place of one that cannot be looked at, why."""
    full = _full_currents(bench)
    found: list[Axis | Unseen] = []
    if full:
        rated = next(iter(full.values()))
        found.append(Axis("output current", "A", rated, tuple(rated * (1.0 + 0.1 * k) for k in range(1, 21))))
    else:
        found.append(Unseen("output current", "no output current is on the plate"))
    ambient = bench.base.ledger.find(SUPPLY, "site.ambient")
    if ambient is not None and isinstance(ambient.value, Value):
        hot = ambient.value.high
        found.append(Axis("ambient", "degC", hot, tuple(hot + 5.0 * k for k in range(1, 17))))
    else:
        found.append(Unseen("ambient", "no ambient is stated"))
    mains = bench.base.ledger.find(SUPPLY, "plate.mains")
    if mains is not None and isinstance(mains.value, Value):
        low, high = mains.value.low, mains.value.high
        found.append(Axis("lowest mains", "V", low, tuple(low * (1.0 - 0.04 * k) for k in range(1, 16))))
        found.append(Axis("highest mains", "V", high, tuple(high * (1.0 + 0.04 * k) for k in range(1, 26))))
    else:
        found.append(Unseen("mains", "no mains voltage is on the plate"))
    return tuple(found)


def headroom(bench: Bench) -> tuple[Headroom, ...]:
    """How far every axis goes, each by itself from the rated point."""
    walker = Walker(bench)
    found = []
    for axis in axes(bench):
        if walker.blocked:
            why = "it fails at the rated point already"
            found.append(Headroom(None, axis.name, None, False, walker.blocked[0], why))
        elif isinstance(axis, Unseen):
            found.append(Headroom(None, axis.name, None, False, None, axis.why))
        else:
            found.append(_walk(walker, axis))
    return tuple(found)


def _walk(walker: Walker, axis: Axis) -> Headroom:
    seen: dict[float, Finding | None] = {}

    def stop(point: float) -> Finding | None:
        if point not in seen:
            seen[point] = walker.stop(axis.name, point, axis.rated)
        return seen[point]

    at_rated = stop(axis.rated)
    if at_rated is not None:
        return Headroom(axis, axis.name, axis.rated, False, at_rated)
    good = axis.rated
    for point in axis.grid:
        found = stop(point)
        if found is not None:
            floor = 20.0 if axis.unit == "degC" else 0.0  # near 0 degC a share of the figure means nothing
            end, found = _narrowed(stop, good, point, found, floor)
            return Headroom(axis, axis.name, end, False, found)
        good = point
    return Headroom(axis, axis.name, good, True, None)


def _narrowed(
    stop: Callable[[float], Finding | None], good: float, bad: float, found: Finding, floor: float
) -> tuple[float, Finding]:
    """The end between a point that holds and one that does not, and what stops just beyond it."""
    while abs(bad - good) > FINE * max(abs(good), floor):
        middle = (good + bad) / 2
        wrong = stop(middle)
        if wrong is None:
            good = middle
        else:
            bad, found = middle, wrong
    return good, found
