"""How far a supply may be taken, each axis by itself; the least rating that cures a failing rule; the next values."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from copy import copy
from math import copysign, inf, log
from typing import NamedTuple

from derate.design.readings import Condition, Reading
from derate.design.record import Stated
from derate.design.samples import AT_THE_BENCH
from derate.judge.heard import heard
from derate.judge.review import Finding
from derate.ledger.entry import SUPPLY, Entry, Subject
from derate.packs.pack import AnyOf, Keep, Shape, Within
from derate.stress.context import CasePlan, Context
from derate.stress.topology import gap_of, not_covered
from derate.study.missing import rounded_to
from derate.study.standard_values import OPENS, Next, next_rating, next_value
from derate.study.trying import STOPPED, Allowance, Bench, Fact, Key, Result, key_of
from derate.terms.dimension import CELSIUS
from derate.terms.frozen import frozen
from derate.terms.quantities import FULL_LOAD, HOT_RESTART, RE_PLUG, SWITCH_ON, named
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Curve, Known, Value
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import ATTENTION, HEAVY, HOLDS, SEVERITIES, VERDICTS
from derate.topologies import every_topology, topology_of

# Readings taken along to another output current: voltages and powers stay where they were taken, rises are carried.
#
# A rise read at the marked current is carried to another current between "unchanged" and "in step with the square of
# the current" (losses of a supply are part fixed, part in step with the current, part with its square; common
# practice, no source). The bad end of that range is what a rule sees.


def at_factor(readings: Sequence[Reading], full: Mapping[str, float], factor: float) -> tuple[Reading, ...]:
    """The readings of a design whose marked currents were multiplied by a factor.

    full: marked current of each output before that [A]
    """
    if factor == 1.0:
        return tuple(readings)
    moved: dict[int, Condition] = {}
    made = []
    for reading in readings:
        condition = reading.condition
        if condition is None or condition.load != FULL_LOAD:
            made.append(reading)
        elif VOCABULARY[reading.quantity].dimension == CELSIUS:
            made.append(_risen(reading, condition, factor))
        else:
            own = moved.setdefault(id(condition), _as_drawn(condition, full))
            made.append(reading._replace(condition=own))
    return tuple(made)


def _as_drawn(condition: Condition, full: Mapping[str, float]) -> Condition:
    """The condition with the currents that "full" was when it was read."""
    currents = tuple((name, Stated(Value.exact(one), condition.place)) for name, one in full.items())
    return condition._replace(load="", currents=currents)


def _risen(reading: Reading, condition: Condition, factor: float) -> Reading:
    """A temperature with its rise carried; without a known ambient it cannot be, and is unknown."""
    value, ambient = reading.stated.value, condition.ambient.value if condition.ambient is not None else None
    if not isinstance(value, Value) or not isinstance(ambient, Value):
        return reading._replace(stated=reading.stated._replace(value=None))
    least, most = sorted((1.0, factor**2))
    low, near, far, high = (max(0.0, one - ambient.middle) for one in value.numbers())
    base = ambient.middle
    carried = Value(base + low * least, base + near * least, base + far * most, base + high * most)
    return reading._replace(stated=reading.stated._replace(value=carried))


# How far a supply may be taken: greatest output current, highest ambient, widest mains, each by itself.
#
# Up to there every rule that gave a verdict at the rated point still gives one, and none blocks. A coarse grid is
# walked outwards from the rated point and the first step that does not hold is narrowed by bisection, so that a
# window which closes and opens again is not jumped over.


FINE = 0.007  # of the distance to zero: what an end is narrowed to, within the 1 % it is held to
# What was read at the rated point is as it was read, and says nothing of another: these rules are not asked there.
_READ_AT_RATING = ("read_efficiency", "read_ripple", "regulation", "read_mains_current", "no_load_power", "reading.")


# Where a finding is looked at once more to see whether it moves with an axis.
_ASIDE = {"output current": 0.5, "lowest mains": 0.95, "highest mains": 1.05}
_ASIDE_AMBIENT = 20.0  # lower [K]
_STILL = 1e-3  # of a ratio: less is no move
_BY_READING = ("widened", "worse", "floor")  # marks of the rows that a reading changed


@frozen
class Axis:
    """One way to go: name, the rated end, steps of the coarse grid, how far it is looked at; all in SI units."""

    name: str
    unit: str
    rated: float
    grid: tuple[float, ...]

    @property
    def floor(self) -> float:
        """What a share of a point is a share of at least: near 0 degC a share of the figure means nothing."""
        return 20.0 if self.unit == "degC" else 0.0

    @property
    def beyond(self) -> float:
        """Just beyond the rated point."""
        return self.rated + copysign(FINE * max(abs(self.rated), self.floor), self.grid[0] - self.rated)


class Unseen(NamedTuple):
    """A way that cannot be looked at, and why."""

    name: str
    why: str


@frozen
class Headroom:
    """How far one axis goes.

    end: the last point that holds; open: the grid ended before anything stopped it
    stops: the finding that stops it, None when nothing does; why: in words, when the axis cannot be looked at, or not
    to its end
    """

    axis: Axis | None
    name: str
    end: float | None
    open: bool
    stops: Finding | None
    why: str = ""


class Look(NamedTuple):
    """A point that was tried: what stops there, None where everything holds; the ratio of each finding that has one."""

    stops: Finding | None
    ratios: Mapping[Key, float]


class Walker:
    """Tries points of one design; rules that were not judged at the rated point, or block there, are left aside."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.full = _full_currents(bench)
        self.asked = asked = {rule.name: _names(rule.shape) for rule in bench.work.packs.rules}
        base = bench.base.verdicts()
        self.judged = tuple(
            key for key, one in base.items() if one.verdict in HOLDS or (one.verdict == "fail" and not one.blocks)
        )
        self.at_rating = frozenset(
            key for key in self.judged if any(name.startswith(_READ_AT_RATING) for name in asked.get(key[0], ()))
        )
        self.efficiency = bench.base.ledger.find(SUPPLY, "efficiency")
        self.readings = _telling(bench, {name for names in asked.values() for name in names})
        blocked = [one for one in base.values() if one.blocks and one.verdict == "fail"]
        self.blocked = tuple(sorted(blocked, key=lambda one: (SEVERITIES.index(one.severity), one.rule, one.subject)))
        self.every = with_rules(bench, {one.rule for one in self.blocked})
        self.kept = with_rules(bench, {key[0] for key in self.judged} | {one.rule for one in self.blocked})
        self._at_rated: dict[str, Result | None] = {}
        self._just_beyond: dict[str, Result | None] = {}

    def fails_with(self, axis: Axis) -> Finding | None:
        """The first finding that fails and blocks at the rated point and comes out otherwise beside it on the axis.

        A trial some way off tells, and not one just beyond the rated point: what is held to a limit that moves in steps
        stays there to the last digit, and hangs on the axis all the same.
        """
        if not self.blocked:
            return None
        beside = axis.rated - _ASIDE_AMBIENT if axis.name == "ambient" else axis.rated * _ASIDE[axis.name]
        result = self._at(axis.name, beside, axis.rated, self.every)
        if result is None:
            return self.blocked[0]
        after = result.verdicts()
        for one in self.blocked:
            if any(name.startswith(_READ_AT_RATING) for name in self.asked.get(one.rule, ())):
                continue  # as it was read at the rated point, and of that alone
            now = after.get((one.rule, one.pack, one.subject))
            if now is None or now.verdict != "fail" or _moved(one.ratio, now.ratio):
                return one
        return None

    def look(self, axis: Axis, point: float) -> Look:
        """What stops at a point: the first finding, fails before what is not assessed; None when everything holds."""
        if point == axis.rated:
            result = self._rated(axis)
        else:
            result = self.just_beyond(axis) if point == axis.beyond else self._at(axis.name, point, axis.rated)
        if result is None:
            return Look(self.bench.base.review.findings[0], {})
        after = result.verdicts()
        wrong, ratios = [], {}
        for key in self.judged:
            if key in self.at_rating:
                continue
            found = after.get(key)
            if found is None or found.verdict == "not applicable":
                continue
            if found.ratio is not None:
                ratios[key] = found.ratio
            if found.verdict == "not assessed" or (found.verdict == "fail" and found.blocks):
                wrong.append(found)
        wrong.sort(key=lambda one: (one.verdict != "fail", SEVERITIES.index(one.severity), one.rule, str(one.subject)))
        return Look(wrong[0] if wrong else None, ratios)

    def just_beyond(self, axis: Axis) -> Result | None:
        """The first point beyond the rated one, tried once."""
        if axis.name not in self._just_beyond:
            self._just_beyond[axis.name] = self._at(axis.name, axis.beyond, axis.rated)
        return self._just_beyond[axis.name]

    def _rated(self, axis: Axis) -> Result | None:
        """The rated point as an axis sets it; both ends of the mains are set alike, so once for the two."""
        name = "mains" if axis.unit == "V" else axis.name
        if name not in self._at_rated:
            self._at_rated[name] = self._at(axis.name, axis.rated, axis.rated)
        return self._at_rated[name]

    def _at(self, axis: str, point: float, rated: float, bench: Bench | None = None) -> Result | None:
        values: dict[Fact, Known | None] = {}
        readings: Sequence[Reading] = self.readings
        known = self.efficiency
        if axis in ("output current", "ambient") and known is not None and known.known_by in AT_THE_BENCH:
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
            # a narrow plate has less between its ends than the step towards the middle
            low, high = (min(point, high), high) if axis == "lowest mains" else (low, max(point, low))
            values[fact] = Value.between(low, high)
        try:
            return (bench or self.kept).tried(values, readings)
        except (ValueError, ArithmeticError):
            return None


def _moved(before: float | None, after: float | None) -> bool:
    """Whether two ratios of one finding differ."""
    if before is None or after is None or inf in (before, after):
        return before != after
    return abs(after - before) > _STILL * abs(before)


def _telling(bench: Bench, asked: set[str]) -> tuple[Reading, ...]:
    """The readings that change a row, besides their own, which a rule looks at; those that only agree are left out."""
    ledger = bench.base.ledger
    moving = {
        number for row in ledger.entries if row.mark in _BY_READING and row.quantity in asked for number in row.inputs
    }
    places = {ledger[number].place for number in moving} - {None}
    return tuple(
        one
        for one in bench.work.design.readings
        if one.quantity in ("voltage", "mains_power")
        or one.quantity.endswith("temperature")
        or one.stated.place in places
    )


def with_rules(bench: Bench, names: set[str]) -> Bench:
    """The same bench with only the rules that are asked, so that judging takes as little as it can."""
    packs = bench.work.packs
    rules = tuple(rule for rule in packs.rules if rule.name in names)
    own = copy(bench)  # the facts, the tape and the allowance are those of the bench
    own.work, own.runs = bench.work._replace(packs=packs._replace(rules=rules)), 0
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


def uncovered(bench: Bench) -> str | None:
    """Why the converter of a design is not worked out; None where it is."""
    no_case = CasePlan(None, None, None, None)  # what is joined to what has no case
    context = Context(bench.work.design.structure, bench.base.ledger, no_case, {})
    word = context.word(SUPPLY, "supply.topology")
    own = topology_of(word)
    gap = gap_of(context, own) if own is not None else not_covered(context, word, every_topology())
    return gap.why if gap is not None else None


def headroom(bench: Bench) -> tuple[Headroom, ...]:
    """How far every axis goes, each by itself from the rated point.

    What fails there already and has to do with the axis is its end; what does not move with it is set aside.
    """
    walker = Walker(bench)
    gap = uncovered(bench)
    found = []
    for axis in axes(bench):
        if gap is not None:  # nothing of the converter would ever stop it
            found.append(Headroom(None, axis.name, None, False, None, gap))
        elif isinstance(axis, Unseen):
            found.append(Headroom(None, axis.name, None, False, None, axis.why))
        elif bench.allowance.over:
            found.append(Headroom(None, axis.name, None, False, None, f"not looked at: {STOPPED}"))
        elif (stops := walker.fails_with(axis)) is not None:
            found.append(Headroom(None, axis.name, None, False, stops, "it fails at the rated point already"))
        else:
            found.append(_walk(walker, axis))
    return tuple(found)


def _walk(walker: Walker, axis: Axis) -> Headroom:
    """Just beyond the rated point first, where a supply that was built to its plate ends; then along the grid."""
    at_rated = walker.look(axis, axis.rated)
    if at_rated.stops is not None:
        return Headroom(axis, axis.name, axis.rated, False, at_rated.stops)
    good, known = axis.rated, at_rated
    allowance = walker.bench.allowance
    for point in (axis.beyond, *axis.grid):
        if allowance.over:
            return Headroom(axis, axis.name, good, False, None, STOPPED)
        found = walker.look(axis, point)
        if found.stops is not None:
            end, stops, fine = _narrowed(
                lambda at: walker.look(axis, at), (good, known), (point, found), axis.floor, allowance
            )
            return Headroom(axis, axis.name, end, False, stops, "" if fine else STOPPED)
        good, known = point, found
    return Headroom(axis, axis.name, good, True, None)


def _narrowed(
    look: Callable[[float], Look], good: tuple[float, Look], bad: tuple[float, Look], floor: float, allowance: Allowance
) -> tuple[float, Finding, bool]:
    """The end between a point that holds and one that does not, what stops beyond it, whether just beyond it.

    Where the ratios at both say that one is reached is tried on both sides; two tries that do not halve what is left
    are followed by the middle, so that it takes at most three times as many as halving.
    """
    widths = [inf, inf]
    while (width := abs(bad[0] - good[0])) > (fine := FINE * max(abs(good[0]), floor)) * (1.0 + 1e-9):
        guess = _crossing(good, bad) if width <= widths[-2] / 2 else None
        if allowance.over:
            break
        widths = [inf, inf] if guess is None else [*widths, width]
        point = (good[0] + bad[0]) / 2
        if guess is not None:
            # less than the distance to narrow to lies between the two tries around what was guessed
            side = copysign(0.4 * fine, bad[0] - good[0])
            point = guess + (side if abs(guess - good[0]) <= 0.5 * fine else -side)
            point = min(max(point, min(good[0], bad[0]) + 0.1 * fine), max(good[0], bad[0]) - 0.1 * fine)
        found = look(point)
        if found.stops is None:
            good = point, found
        else:
            bad = point, found
    else:
        assert bad[1].stops is not None
        return good[0], bad[1].stops, True
    assert bad[1].stops is not None
    return good[0], bad[1].stops, False


def _crossing(good: tuple[float, Look], bad: tuple[float, Look]) -> float | None:
    """Where the first finding would reach a ratio of one, were its logarithm straight between; None: none crosses."""
    shares = [
        log(before) / log(before / after)
        for key, after in bad[1].ratios.items()
        if (before := good[1].ratios.get(key)) is not None and 0.0 < before < 1.0 < after < inf
    ]
    return good[0] + min(shares) * (bad[0] - good[0]) if shares else None


# The least rating that cures a failing rule, found by entering it: the rating is raised until the rule passes.
#
# A rating that is a table is raised in step over all its points.


GREATEST = 1000.0  # times the rating: beyond it another part is wanted, not another rating
_FAR = 3.0  # times where it was expected: then the greatest is tried next, which tells at once whether any would do
# A rating at the condition of the stress is worked out from the one in the data sheet.
_FROM = {
    "allowed.power": "rated.power",
    "allowed.current": "rated.current",
    "allowed.pulse_energy": "rated.pulse_energy",
    "allowed.pulse_power": "rated.pulse_power",
    "allowed.i2t": "rated.melting_i2t",
    "allowed.surge_current": "rated.surge_current",
    "allowed.surge_i2t": "rated.surge_current",
    "allowed.ripple_current": "rated.ripple_current",
    "allowed.switch_voltage": "rated.voltage",
    "life": "rated.life",
    "junction_temperature": "rated.junction",
}


@frozen
class Cure:
    """One failing finding and the least rating with which it passes."""

    finding: Finding
    name: str
    value: Known


def cures(bench: Bench) -> tuple[Cure, ...]:
    """The least rating for every failing finding that a rating of its own part can cure."""
    shapes = {rule.name: rule.shape for rule in bench.work.packs.rules}
    found: list[Cure] = []
    for key, finding in bench.base.verdicts().items():
        shape = shapes.get(key[0])
        if finding.verdict != "fail" or shape is None:
            continue
        for name in _ratings(shape):
            if bench.allowance.over:
                return tuple(found)
            cure = _least(bench, finding, (finding.subject, named(name)))
            if cure is not None:
                found.append(cure)
                break
    return tuple(found)


def _ratings(shape: Shape) -> tuple[str, ...]:
    """Facts of the part a formula holds the stress to."""
    match shape:
        case Keep(formula):
            names = [_FROM.get(name, name) for name in formula.names]
        case AnyOf(shapes):
            names = [name for one in shapes for name in _ratings(one)]
        case _:
            names = []
    return tuple(dict.fromkeys(name for name in names if name.startswith("rated.")))


def _least(bench: Bench, finding: Finding, fact: Fact) -> Cure | None:
    row = bench.base.ledger.find(*fact)
    if row is None or not isinstance(row.value, Value | Curve) or VOCABULARY[fact[1]].bad > 0:
        return None
    start = row.value
    key = (finding.rule, finding.pack, finding.subject)
    alone = with_rules(bench, {finding.rule})
    tried: dict[float, Finding | None] = {}

    def passes(factor: float) -> bool:
        if factor not in tried:
            result = alone.attempt({fact: scaled(start, factor)})
            tried[factor] = result.verdicts().get(key) if result is not None else None
        found = tried[factor]
        return found is not None and found.verdict == "pass"

    ratio = finding.ratio if finding.ratio is not None and 1.0 < finding.ratio < inf else 1.2
    good, bad = ratio * 1.001, 1.0
    while not passes(good):
        bad, good = good, good * 1.5
        if good > GREATEST or bench.allowance.over:
            return None
        if good > _FAR * ratio and not passes(GREATEST):  # nothing it is held to moves with the rating far enough
            return None
    last = tried[good]
    if last is not None and last.ratio is not None and last.ratio > 0.0:
        exact = good * last.ratio  # where it would just pass, were it in step with the rating
        for guess in (exact * 1.001, exact / 1.002):
            if bad < guess < good:
                bad, good = (bad, guess) if passes(guess) else (guess, good)
    while good / bad > 1.004 and not bench.allowance.over:  # a greater one than need be cures it as well
        middle = (good * bad) ** 0.5
        if passes(middle):
            good = middle
        else:
            bad = middle
    value = scaled(start, good)
    if isinstance(value, Value) and value.is_exact and value.near > 0:
        rounded = Value.exact(rounded_to(value.near, False))
        if passes(rounded.near / _number(start)):
            value = rounded
    return Cure(finding, fact[1], value)


def _number(value: Known) -> float:
    assert isinstance(value, Value)
    return value.near


def scaled(value: Known, factor: float) -> Known:
    """A rating times a factor, every point of a table alike."""
    if isinstance(value, Curve):
        points = tuple((at, one.scaled(factor)) for at, one in value.points)
        return Curve(points, value.condition, value.unit)
    assert isinstance(value, Value)
    return value.scaled(factor)


# Where a rule is marginal or fails: what the next usual value of the part it hangs on would bring.
#
# One step up, never down, and never of what protects by opening. What the data sheet of the next part says otherwise
# is not known, so all else of the part stays as stated, and it is named. What does move by itself is moved along:
#
# - A varistor's clamping voltage in step with its continuous voltage (common practice, no source).
# - The ripple rating of an electrolytic capacitor of the next capacitance by the square root of it: with the same
#   dissipation factor the resistance falls with the capacitance, and with the same rise and a can no smaller the loss,
#   the current squared times the resistance, stays (common practice, no source).


MOST_TRIED = 6  # next values of one design
_RISEN = 1e-3  # relative; less is the same figure
# Figures that a part of a greater rating tends to have more of, to its harm.
_OTHERWISE = (
    "rated.forward_voltage",
    "rated.on_resistance",
    "rated.recovery_time",
    "rated.saturation_voltage",
    "rated.clamping_voltage",
    "rated.series_resistance",
    "rated.dissipation_factor",
    "part.output_capacitance",
)
_OF_STEP = {"rated.ripple_current": "part.capacitance"}  # which has no usual steps itself


class Change(NamedTuple):
    """One fact of the part as it is, and as the next one would have it.

    subjects: parts stepped together of which it holds, since parts alike in one thing differ in another
    """

    name: QuantityName
    before: Known
    after: Known | None
    subjects: tuple[Subject, ...] = ()


class Moved(NamedTuple):
    """A finding before the step, and after it; None where one side has none."""

    before: Finding | None
    after: Finding | None


class Risen(NamedTuple):
    """A stress at switch-on or a restart that rises, and by what factor."""

    subject: Subject
    name: QuantityName
    factor: float


@frozen
class NextValue:
    """What the next usual value of one part would bring.

    subjects: parts alike in one place, stepped together: one of several in parallel would take more than its share
    step: the value and the series it is of; changes: the first is the stepped one, the others go along with it
    brings: the findings it was looked for, as they are and as they would be; worse: every other finding that would have
    a worse word or a greater ratio, the worst first; risen: stresses of inrush; kept: figures of the part that its next
    one has otherwise and that were left as stated
    """

    subjects: tuple[Subject, ...]
    step: Next
    changes: tuple[Change, ...]
    brings: tuple[Moved, ...]
    worse: tuple[Moved, ...]
    risen: tuple[Risen, ...]
    kept: tuple[QuantityName, ...]


class NextValues(NamedTuple):
    """The next values of a design.

    without: findings whose limit hangs on a rating of a part that has no usual steps, or none further
    cut: parts that were left because so many trials, or so much work, was all that may be taken
    """

    found: tuple[NextValue, ...] = ()
    without: tuple[tuple[Finding, QuantityName], ...] = ()
    cut: tuple[Subject, ...] = ()


def next_values(bench: Bench) -> NextValues:
    """The next usual value of every part on which a critical or major rule is marginal or fails."""
    shapes = {rule.name: rule.shape for rule in bench.work.packs.rules}
    wanted: dict[Fact, list[Finding]] = {}
    base = bench.base.verdicts()
    close = [one for one in base.values() if one.verdict in ("fail", "marginal") and one.severity in HEAVY]
    for finding in sorted(close, key=_pressing):
        shape = shapes.get(finding.rule)
        fact = _hangs_on(bench, finding, shape) if shape is not None else None
        if fact is not None:
            wanted.setdefault(fact, []).append(finding)
    without: list[tuple[Finding, QuantityName]] = []
    alike: dict[tuple[object, ...], list[_Part]] = {}
    for fact, findings in wanted.items():
        stepped = _stepped(bench, fact)
        if stepped is None:
            without += [(one, fact[1]) for one in findings]
            continue
        at = bench.base.ledger.find(fact[0], "part.place")
        key = fact[1], _kind(bench, fact[0]), str(at.value) if at is not None else fact[0], stepped[0]
        alike.setdefault(key, []).append(_Part(fact[0], stepped[0], stepped[1], tuple(findings)))
    found: list[NextValue] = []
    cut: list[Subject] = []
    for tried, parts in enumerate(alike.values()):
        if tried >= MOST_TRIED or bench.allowance.over:
            cut += [one.subject for one in parts]
            continue
        result = bench.attempt({(part.subject, one.name): one.after for part in parts for one in part.changes})
        if result is not None:
            found.append(_brought(bench, parts, result))
    return NextValues(tuple(found), tuple(without), tuple(dict.fromkeys(cut)))


class _Part(NamedTuple):
    """One part to step, and the findings it is stepped for."""

    subject: Subject
    step: Next
    changes: tuple[Change, ...]
    findings: tuple[Finding, ...]


def _pressing(one: Finding) -> tuple[object, ...]:
    """What fails before what is marginal, the severest and then the furthest over first."""
    ratio = -one.ratio if one.ratio is not None else 0.0
    return one.verdict != "fail", SEVERITIES.index(one.severity), ratio, one.rule, one.subject


def _hangs_on(bench: Bench, finding: Finding, shape: Shape) -> Fact | None:
    """The stated rating of its own part that the limit of a finding comes from; None where it is no such rating."""
    if finding.subject.kind != "part" or _kind(bench, finding.subject) in ("", *OPENS):
        return None
    ledger = bench.base.ledger
    used = heard(ledger, (finding,))
    ratings = [
        row
        for name in _ratings(shape)
        if (row := ledger.find(finding.subject, named(name))) is not None
        and row.number in used
        and VOCABULARY[name].bad < 0
    ]
    if len(ratings) != 1 or ratings[0].known_by in ("assumed", "computed"):
        return None  # no one rating, or one that nobody stated: that is for `derate missing`
    return finding.subject, ratings[0].quantity


def _kind(bench: Bench, subject: Subject) -> str:
    row = bench.base.ledger.find(subject, "part.kind")
    return row.value.word or "" if row is not None and isinstance(row.value, Category) else ""


def _is_of_class(bench: Bench, subject: Subject) -> bool:
    row = bench.base.ledger.find(subject, "part.class")
    return row is not None and isinstance(row.value, Category) and (row.value.word or "none") != "none"


def _stepped(bench: Bench, fact: Fact) -> tuple[Next, tuple[Change, ...]] | None:
    """The next value of a rating and all that changes with it; None where there is none."""
    subject, name = fact
    ledger, kind = bench.base.ledger, _kind(bench, subject)
    row = ledger.find(subject, name)
    if row is None:
        return None
    if name in _OF_STEP:
        return _more_capacitance(bench, subject, row) if kind.endswith("electrolytic capacitor") else None
    rated = _greatest(row.value)
    if rated is None:
        return None
    of_mains = kind.endswith("capacitor") and (row.statistic == "rms" or _is_of_class(bench, subject))
    step = next_rating(name, kind, rated, of_mains)
    if step is None:
        return None
    factor = step.number / rated
    assert isinstance(row.value, Value | Curve)
    after = scaled(row.value, factor) if isinstance(row.value, Curve) else Value.exact(step.number)
    changes = [Change(name, row.value, after)]
    clamping = ledger.find(subject, "rated.clamping_voltage")
    if kind == "varistor" and name == "rated.voltage" and clamping is not None:
        if isinstance(clamping.value, Value | Curve):
            changes.append(Change(clamping.quantity, clamping.value, scaled(clamping.value, factor)))
    return step, tuple(changes)


def _more_capacitance(bench: Bench, subject: Subject, ripple: Entry) -> tuple[Next, tuple[Change, ...]] | None:
    """The next capacitance above the marked one, with its tolerance, and the ripple rating that goes along with it."""
    ledger = bench.base.ledger
    row = ledger.find(subject, "part.capacitance")
    marked = ledger.find(subject, "part.marked_capacitance") or row
    if row is None or marked is None or not isinstance(row.value, Value) or not isinstance(marked.value, Value):
        return None
    nominal = marked.value.near
    if not 0.0 < nominal < inf or nominal != marked.value.far or not isinstance(ripple.value, Value | Curve):
        return None
    step = next_value(nominal, marked.value.high / nominal - 1.0)
    factor = step.number / nominal
    changes = [Change(row.quantity, row.value, scaled(marked.value, factor))]
    if marked is not row:
        changes.append(Change(marked.quantity, marked.value, scaled(marked.value, factor)))
    measured = ledger.find(subject, "found.capacitance")
    if measured is not None and measured.value is not None:  # of the one that is there; the next nobody has measured
        changes.append(Change(measured.quantity, measured.value, None))
    changes.append(Change(ripple.quantity, ripple.value, scaled(ripple.value, factor**0.5)))
    return step, tuple(changes)


def _greatest(value: Known | None) -> float | None:
    """The most that a rating says [SI units]: a step from there is a lower rating at no end of what is known."""
    if isinstance(value, Curve):
        numbers = [number for _, one in value.points if (number := _greatest(one)) is not None]
        return max(numbers, default=None)
    if not isinstance(value, Value):
        return None
    most = value.high if value.high < inf else value.near
    return most if 0.0 < most < inf else None


def _brought(bench: Bench, parts: Sequence[_Part], result: Result) -> NextValue:
    findings = [one for part in parts for one in part.findings]
    subjects, changes = tuple(part.subject for part in parts), _changes(parts)
    before, after = bench.base.verdicts(), result.verdicts()
    asked = {key_of(one) for one in findings}
    brings = tuple(Moved(one, after.get(key_of(one))) for one in findings)
    others = [Moved(before.get(key), after.get(key)) for key in {**before, **after} if key not in asked]
    gone = {(subject, one.name) for one in changes for subject in one.subjects if one.after is None}
    worse = sorted((one for one in others if _is_worse(*one) and not _only_waits(one.after, gone)), key=_how_bad)
    stepped = {one.name for one in changes}
    kept = tuple(
        dict.fromkeys(
            row.quantity
            for row in bench.facts
            if row.subject in subjects and row.quantity not in stepped and row.quantity in _OTHERWISE
        )
    )
    risen = _inrush_risen(bench.base, result)
    return NextValue(subjects, parts[0].step, changes, brings, tuple(worse), risen, kept)


def _changes(parts: Sequence[_Part]) -> tuple[Change, ...]:
    """Every change of every part, those alike once with the parts they hold of; the stepped fact of the first ahead."""
    found: dict[Change, list[Subject]] = {}
    for part in parts:
        for one in part.changes:
            found.setdefault(one, []).append(part.subject)
    order = {name: place for place, name in enumerate(dict.fromkeys(one.name for one in found))}
    alike = sorted(found, key=lambda one: order[one.name])
    return tuple(one._replace(subjects=tuple(found[one])) for one in alike)


def _how_bad(one: Moved) -> tuple[object, ...]:
    """A new word before a greater ratio alone, the worst word first; what nobody judges any more first of all."""
    said = one.after or one.before
    assert said is not None
    same = one.before is not None and one.after is not None and one.before.verdict == one.after.verdict
    return same, -1 if one.after is None else VERDICTS.index(one.after.verdict), said.rule, said.subject


def _only_waits(after: Finding | None, gone: set[Fact]) -> bool:
    """Whether a finding waits for nothing but a measurement of the part that was taken out."""
    if after is None or after.verdict != "not assessed" or not after.missing:
        return False
    return all((one.subject, one.quantity) in gone for one in after.missing)


_WORSE_WORDS = ("not applicable", "pass", "marginal", "not assessed", "fail")


def _is_worse(before: Finding | None, after: Finding | None) -> bool:
    """Whether a finding moved to the worse; one that is gone has, unless it did not apply."""
    if after is None:
        return before is not None and before.verdict in HOLDS
    if before is None:
        return after.verdict in ATTENTION
    words = _WORSE_WORDS.index(before.verdict), _WORSE_WORDS.index(after.verdict)
    if words[0] != words[1]:
        return words[1] > words[0] and after.verdict in ATTENTION
    if before.ratio is None or after.ratio is None or before.ratio == inf:
        return False
    return after.ratio > before.ratio * (1.0 + _RISEN)


def _inrush_risen(before: Result, after: Result) -> tuple[Risen, ...]:
    """Inrush that rises, whether a rule asks for it or not: the worst case of each subject on either side."""
    found = []
    was, now = _inrush(before), _inrush(after)
    for key, number in now.items():
        if key in was and 0.0 < was[key] < inf and number > was[key] * (1.0 + _RISEN):
            found.append(Risen(*key, number / was[key]))
    return tuple(sorted(found, key=lambda one: (-one.factor, one.subject, one.name)))


def _inrush(result: Result) -> dict[Fact, float]:
    worst: dict[Fact, float] = {}
    for row in result.ledger.entries:
        if row.case is None or row.case.group not in (SWITCH_ON, HOT_RESTART, RE_PLUG):
            continue
        if row.quantity in ("current_peak", "i2t") and isinstance(row.value, Value):
            key = (row.subject, row.quantity)
            worst[key] = max(worst.get(key, 0.0), row.value.high)
    return worst
