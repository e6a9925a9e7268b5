"""What a house pack does to rules below it, the proof that tightening tightens, and what softens the gate."""

from __future__ import annotations

from collections.abc import Callable, Collection
from collections.abc import Mapping as Names
from functools import cache
from typing import Literal, cast

from derate.packs.pack import (
    HOLDS_OVER,
    SHAPES,
    Agree,
    AnyOf,
    Assumption,
    Change,
    Condition,
    Count,
    Keep,
    Member,
    Presence,
    Record,
    Rule,
    Shape,
    Within,
    kind_of_shape,
)
from derate.packs.read_rule import does_of, guard_of, remedy_text, shape_of
from derate.packs.reading import Fields, cite, first_character
from derate.packs.table import Table
from derate.terms.dimension import CELSIUS, KELVIN, Dimension
from derate.terms.tuples import NamedTuple
from derate.terms.values import Place, Problem, nearest
from derate.terms.words import CONFIDENCES, SEVERITIES, Confidence, Severity, weaker_confidence
from derate.text.formula import Choice, Formula, Name, Negative, Number, Operation, Term
from derate.text.nodes import Mapping, Node, Scalar
from derate.text.units import digits_of, show_value

# What packs ask less than the shipped ones: rules relaxed, switched off, restated, assumptions and tables replaced.
#
# Each with what it was and what it is, so that a reader sees the step without opening a pack. Nothing is judged here.


_MOST_FIGURES = 3  # of a restated table, that are named one by one


class Softer(NamedTuple):
    """One thing that a pack asks less, or not shown to be as strict.

    what: 'relaxed', 'switched off', 'restated', 'tightened' (a source made surer), 'table' or 'assumption'
    name: of the rule, the table or the assumption; pack: whose doing; before, after: in words
    """

    what: Literal["relaxed", "switched off", "restated", "tightened", "table", "assumption"]
    name: str
    pack: str
    before: str
    after: str
    reason: str
    place: Place


def of_rule(before: Rule, after: Rule, looser: str) -> Softer | None:
    """What a change made softer; None where it is shown to be as strict and as sure as it was.

    looser: why the new shape is not shown to be as strict as the old one, '' where it is
    """
    change = after.changes[-1]
    surer = before.confidence == "remembered" != after.confidence
    if change.what not in ("relaxed", "switched off") and not looser and not surer and not _kinder(before, after):
        return None
    was = asked_words(before)
    now = "not asked" if after.switched_off else asked_words(after)
    if surer:
        was, now = f"{was} ({before.confidence})", f"{now} ({after.confidence})"
    return Softer(change.what, before.name, change.pack, was, now, change.reason, change.place)


def _kinder(before: Rule, after: Rule) -> bool:
    return (
        after.guard_share > before.guard_share
        or after.guard_difference < before.guard_difference
        or (before.over_tolerance and not after.over_tolerance)
    )


def of_assumption(before: Assumption, after: Assumption) -> Softer | None:
    """A figure that nobody gave, replaced; None where both say the same."""
    if (before.value, before.bounding) == (after.value, after.bounding):
        return None
    was, now = (f"{show_value(one.value, one.dimension)}, bounding {one.bounding}" for one in (before, after))
    return Softer("assumption", before.name, after.pack, was, now, after.source, after.place)


def of_table(before: Table, after: Table, pack: str) -> Softer | None:
    """A table restated; None where its figures and how sure they are stayed."""
    moved = [index for index, cell in before.cells.items() if after.cells.get(index) != cell]
    if not moved and before.axes == after.axes:
        return None

    def figure(table: Table, index: tuple[int, ...]) -> str:
        cell = table.cells.get(index)
        if cell is None or cell.value is None:
            return "none"
        return f"{show_value(cell.value, table.unit)} ({cell.confidence})"

    shown = moved[:_MOST_FIGURES]
    more = f" and {len(moved) - len(shown)} more" if len(moved) > len(shown) else ""
    was, now = (", ".join(figure(table, index) for index in shown) + more for table in (before, after))
    return Softer("table", before.name, pack, was, now if moved else "other rows", after.source, after.place)


def asked_words(rule: Rule) -> str:
    """What a rule asks, with where it is marginal and whether it holds over the tolerance."""
    said = shape_words(rule.shape)
    if rule.guard_share < 1:
        said += f", marginal from {digits_of(rule.guard_share)} of it"
    if rule.guard_difference:
        said += f", marginal within {digits_of(rule.guard_difference)} (SI units) of it"
    return f"{said}, over the tolerance" if rule.over_tolerance else said


def shape_words(shape: Shape) -> str:
    """A shape as its pack writes it, shortly."""
    match shape:
        case Keep(formula):
            return formula.text
        case Within(quantity, least, greatest):
            ends = [f"from {least.text}"] if least else []
            ends += [f"to {greatest.text}"] if greatest else []
            return " ".join([quantity.text, *ends])
        case Presence(wanted, parts, fact):
            return f"{fact or _conditions(parts)} {'present' if wanted else 'absent'}"
        case Member(fact, words):
            return f"{fact} one of {', '.join(words)}"
        case Count(parts, of, least, greatest):
            ends = [f"at least {least.text}"] if least else []
            ends += [f"at most {greatest.text}"] if greatest else []
            return " ".join([of.text if of else f"parts with {_conditions(parts)}", *ends])
        case Record(fields, shows):
            shown = f" showing {_conditions(shows)}" if shows else ""
            return f"record of {', '.join(fields)}{shown}"
        case AnyOf(shapes):
            return " or ".join(map(shape_words, shapes))
        case _:
            return f"{shape.measured} agrees with {shape.marked}"


def _conditions(conditions: tuple[Condition, ...]) -> str:
    return " and ".join(f"{one.name}: {one.text}" for one in conditions)


# What a house pack does to rules of the packs it builds on, and the proof that tightening tightens.


# Whether a changed shape is never kinder than it was: proved from the form of its limits, never tried on numbers.
#
# A comparison is as strict as before where its demand is at least the old one and its limit at most the old one, each
# end of each by itself. That is read from the terms: the same term, a smaller factor, a difference, min with the old
# limit, max with the old demand, and the same inside sums, products, min and max. What the form does not show is
# refused.
#
# Factors and quotients keep their order only between values that are not below zero. Every named quantity is taken
# for the magnitude it is, save temperatures and their differences, and the tables and assumptions that hold a figure
# below zero.


_NOWHERE = Place("")
_MOST_PAIRED = 6  # terms of a sum or a product that are not the same on both sides


def not_as_strict(old: Shape, new: Shape, signed: Collection[str] = ()) -> str:
    """Why a changed shape is not shown to be as strict as the old one, or '' where it is.

    signed: tables and assumptions with a figure below zero, as formulas name them
    """
    return _Proof(signed).shapes(old, new)


class _Sum(NamedTuple):
    """constant + sum of plus − sum of minus."""

    constant: float
    plus: list[Term]
    minus: list[Term]


class _Product(NamedTuple):
    """factor × product of over / product of under."""

    factor: float
    over: list[Term]
    under: list[Term]


class _Proof:
    def __init__(self, signed: Collection[str]) -> None:
        self._signed = signed
        self.at_most = cache(self._at_most)
        self.products = cache(self._products)
        self.not_negative = cache(self._not_negative)

    # ---- shapes

    def shapes(self, old: Shape, new: Shape) -> str:
        """Why one shape is not shown to be as strict as another."""
        match old, new:
            case Keep(one), Keep(other):
                return self._comparison(one, other)
            case Within(quantity, least, greatest), Within(other_quantity, low, high):
                if _bare(quantity.left) != _bare(other_quantity.left):
                    return "it looks at another quantity"
                return self._moved(least, low, up=True) or self._moved(greatest, high, up=False)
            case Count(parts, of, least, greatest), Count(other_parts, other_of, low, high):
                same = (of is None) == (other_of is None) and (
                    of is None or other_of is None or _bare(of.left) == _bare(other_of.left)
                )
                if not same or _asked(parts) != _asked(other_parts):
                    return "it counts something else"
                return self._moved(least, low, up=True) or self._moved(greatest, high, up=False)
            case Member(fact, words), Member(other_fact, more):
                if fact != other_fact:
                    return "it asks another fact"
                return "" if set(more) <= set(words) else "it allows more words"
            case AnyOf(several), AnyOf(others):
                loose = [one for one in others if all(self.shapes(old_one, one) for old_one in several)]
                return "an alternative is not as strict as any there was" if loose else ""
            case Presence(), Presence():
                same = old._replace(parts=_asked(old.parts)) == new._replace(parts=_asked(new.parts))
            case Record(), Record():
                more_asked = set(_asked(old.shows)) <= set(_asked(new.shows))
                same = set(old.fields) <= set(new.fields) and more_asked
            case Agree(), Agree():
                same = old == new
            case _:
                same = False
        return "" if same else "the two cannot be compared"

    def _comparison(self, old: Formula, new: Formula) -> str:
        if new.comparison not in (old.comparison, old.comparison.rstrip("=")):
            return f"{new.comparison} in place of {old.comparison}"
        assert old.right is not None and new.right is not None
        sides = ((old.left, new.left), (new.right, old.right))
        if old.comparison.startswith(">"):
            sides = ((new.left, old.left), (old.right, new.right))
        return "" if all(self.at_most(_bare(one), _bare(other)) for one, other in sides) else _against(new, old)

    def _moved(self, old: Formula | None, new: Formula | None, up: bool) -> str:
        """Why an end is not shown to have stayed or moved inwards, upwards or downwards."""
        if old is None:
            return ""
        if new is None:
            return "an end is left out"
        one, other = (old, new) if up else (new, old)
        return "" if self.at_most(_bare(one.left), _bare(other.left)) else _against(new, old)

    # ---- terms

    def _at_most(self, one: Term, other: Term) -> bool:
        """Whether each end of one is shown never to lie above the same end of other."""
        return one == other or self._choices(one, other) or self._sums(_sum(one), _sum(other))

    def _choices(self, one: Term, other: Term) -> bool:
        """As `at_most`, by a min or a max that stands outermost on either side."""
        if isinstance(one, Choice) and one.which == "max":
            return all(self.at_most(term, other) for term in one.terms)
        if isinstance(other, Choice) and other.which == "min":
            return all(self.at_most(one, term) for term in other.terms)
        if isinstance(one, Choice) and any(self.at_most(term, other) for term in one.terms):
            return True
        return isinstance(other, Choice) and any(self.at_most(one, term) for term in other.terms)

    def _sums(self, one: _Sum, other: _Sum) -> bool:
        if one.constant > other.constant:
            return False
        plus, more = _without_common(one.plus, other.plus)
        minus, less = _without_common(one.minus, other.minus)
        if not (plus or more or minus or less):
            return True
        return self._paired(plus, more, self.products) and self._paired(less, minus, self.products)

    def _paired(self, ones: list[Term], others: list[Term], below: Callable[[Term, Term], bool]) -> bool:
        """Whether each of ones has one of others above it, and what is left of these is not below zero."""
        if len(ones) > _MOST_PAIRED or len(others) > _MOST_PAIRED:
            return False
        if not ones:
            return all(self.not_negative(term) for term in others)
        first, *rest = ones
        return any(
            below(first, other) and self._paired(rest, others[:at] + others[at + 1 :], below)
            for at, other in enumerate(others)
        )

    def _products(self, one: Term, other: Term) -> bool:
        """As `at_most`, for terms of a sum: they are no sums themselves."""
        if one == other or self._choices(one, other):
            return True
        left, right = _product(one), _product(other)
        if left.over == [one] and right.over == [other]:
            return False  # two different things, and no factor on either
        if not 0.0 <= left.factor <= right.factor:
            return False
        if not all(map(self.not_negative, (*left.over, *left.under, *right.over, *right.under))):
            return False
        over, more = _without_common(left.over, right.over)
        under, less = _without_common(left.under, right.under)
        if len(over) != len(more) or len(under) != len(less):
            return False
        return self._paired(over, more, self.at_most) and self._paired(less, under, self.at_most)

    def _not_negative(self, term: Term) -> bool:
        """Whether a term is shown never to be below zero."""
        match term:
            case Number(value=value):
                return value >= 0.0
            case Name(name=name, dimension=dimension):
                return dimension not in (CELSIUS, KELVIN) and name not in self._signed
            case Operation(sign="-"):
                return False
            case Operation(one=one, other=other):
                return self.not_negative(one) and self.not_negative(other)
            case Choice(which=which, terms=terms):
                return (any if which == "max" else all)(self.not_negative(inner) for inner in terms)
            case _:
                return False


def _bare(term: Term) -> Term:
    """A term without how its numbers were typed and where its names stand in their formula."""
    match term:
        case Number(value=value):
            return Number(value, "")
        case Name():
            return term._replace(position=0)
        case Negative(term=inner):
            return Negative(_bare(inner))
        case Operation(sign=sign, one=one, other=other):
            return Operation(sign, _bare(one), _bare(other))
        case Choice(which=which, terms=terms):
            return Choice(which, tuple(map(_bare, terms)))


def _sum(term: Term) -> _Sum:
    """A term as a sum; one that is none is the only term of its sum."""
    found = _Sum(0.0, [], [])
    waiting = [(term, 1.0)]
    while waiting:
        part, sign = waiting.pop()
        match part:
            case Number(value=value):
                found = found._replace(constant=found.constant + sign * value)
            case Negative(term=inner):
                waiting.append((inner, -sign))
            case Operation(sign="+", one=one, other=other):
                waiting += [(one, sign), (other, sign)]
            case Operation(sign="-", one=one, other=other):
                waiting += [(one, sign), (other, -sign)]
            case _:
                (found.plus if sign > 0 else found.minus).append(part)
    return found


def _product(term: Term) -> _Product:
    """A term as a product; one that is none is the only factor of its product. A factor below zero shows nothing."""
    found = _Product(1.0, [], [])
    waiting = [(term, True)]
    while waiting:
        part, over = waiting.pop()
        match part:
            case Number(value=value):
                if not over and value == 0.0:
                    return _Product(-1.0, [], [])
                found = found._replace(factor=found.factor * value if over else found.factor / value)
            case Operation(sign="*", one=one, other=other):
                waiting += [(one, over), (other, over)]
            case Operation(sign="/", one=one, other=other):
                waiting += [(one, over), (other, not over)]
            case _:
                (found.over if over else found.under).append(part)
    return found


def _without_common(ones: list[Term], others: list[Term]) -> tuple[list[Term], list[Term]]:
    """Two lists without what stands in both, as often as it does."""
    left, right = list(ones), list(others)
    for term in ones:
        if term in right:
            left.remove(term)
            right.remove(term)
    return left, right


def _asked(conditions: tuple[Condition, ...]) -> tuple[Condition, ...]:
    """Conditions without where they stand, in one order."""
    return tuple(sorted((one._replace(place=_NOWHERE) for one in conditions), key=repr))


def _against(new: Formula, old: Formula) -> str:
    return f"'{new.text}' against '{old.text}'"


# What a house pack does to rules of the packs it builds on: tighten, relax, switch off, restate.
#
# `tighten` is held to its word: the form of the new limit has to show that it is nowhere kinder than the old one
# (packs.tighter), else it is refused. `relax` and `switch_off` need a reason, which is printed; `restate` needs a
# source of its own.


_COMMON = (*SHAPES, "guard", "remedy", "remedy_does", "settle", "settle_does", "source", "confidence", "reason")
# Keys of an entry, by what it does.
ALLOWED = {
    "tighten": (*_COMMON, "severity", "holds_over"),
    "relax": (*_COMMON, "holds_over"),
    "switch_off": ("reason",),
    "restate": _COMMON,
}
_STRICTER = (
    "write the old limit with a smaller factor, less a difference, or min of it and yours; or put it under relax: "
    "and say why"
)
_PAST: dict[str, Literal["tightened", "relaxed", "switched off", "restated"]] = {
    "tighten": "tightened",
    "relax": "relaxed",
    "switch_off": "switched off",
    "restate": "restated",
}


def change_rules(
    rules: dict[str, Rule],
    word: str,
    block: Mapping,
    pack: str,
    names: Names[str, Dimension],
    sources: dict[str, str],
    signed: Collection[str],
    problems: list[Problem],
    softer: list[Softer],
) -> None:
    """Apply one block of changes to the rules in place. Entries that name tables are left to the loader.

    softer: is given what the block asks less
    names, sources: what formulas and sources may name; signed: tables and assumptions with a figure below zero
    """
    for key, node in block.entries:
        if word == "restate" and key.text.startswith("table."):
            continue
        rule = rules.get(key.text)
        if rule is None:
            close = nearest(key.text, rules)
            problems.append(
                Problem(
                    key.start,
                    f"there is no rule '{key.text}' in the packs this one builds on",
                    f"write {close}" if close else "",
                )
            )
            continue
        if rule.changes:
            last = rule.changes[-1]
            problems.append(
                Problem(key.start, f"rule {rule.name} was {last.what} by {last.pack} already", f"see {last.place}")
            )
            continue
        changed = _changed(rule, word, key, node, pack, names, sources, signed, problems)
        if changed is not None:
            rules[rule.name] = changed
            looser = "" if changed.switched_off else not_as_strict(rule.shape, changed.shape, signed)
            less = of_rule(rule, changed, looser)
            softer += [] if less is None else [less]


def _changed(
    rule: Rule,
    word: str,
    key: Scalar,
    node: Node,
    pack: str,
    names: Names[str, Dimension],
    sources: dict[str, str],
    signed: Collection[str],
    problems: list[Problem],
) -> Rule | None:
    if not isinstance(node, Mapping):
        problems.append(
            Problem(first_character(node), f"what {word} does to {key.text} is no block", "write {reason: …}")
        )
        return None
    before = len(problems)
    fields = Fields(node, word, ALLOWED[word], problems)
    reason = fields.text("reason") if word in ("tighten", "restate") else fields.needed("reason")
    change = Change(_PAST[word], pack, reason, key.start)
    if word == "switch_off":
        return rule._replace(switched_off=True, changes=(change,)) if len(problems) == before else None
    shape = rule.shape
    if any(one in fields for one in SHAPES):
        new = shape_of(fields, names)
        if new is not None and kind_of_shape(new) != kind_of_shape(shape):
            fields.wrong(node.place, f"{rule.name} is a {kind_of_shape(shape)} rule", f"write {kind_of_shape(shape)}:")
        shape = new or shape
    share, difference = guard_of(fields, shape) if "guard" in fields else (rule.guard_share, rule.guard_difference)
    over = rule.over_tolerance
    if "holds_over" in fields:
        over = fields.word("holds_over", HOLDS_OVER, "nominal") == "tolerance"
    severity = cast(Severity, fields.word("severity", SEVERITIES, rule.severity))
    source = cite(fields.text("source"), sources) or rule.source
    confidence = cast(Confidence, fields.word("confidence", CONFIDENCES, ""))
    looser = not_as_strict(rule.shape, shape, signed)
    if confidence and CONFIDENCES.index(confidence) < CONFIDENCES.index(rule.confidence) and "source" not in fields:
        fields.wrong(
            fields.place_of("confidence"), f"{rule.name} is {rule.confidence}", "a surer one names its source:"
        )
    if word == "restate":
        why = f"{source}; not shown to be as strict as it was ({looser})" if looser else source
        change = change._replace(reason=f"{reason}, {why}" if reason else why)
    if word == "tighten":
        if looser:
            fields.wrong(node.place, f"this is not shown to be as strict as {rule.name} was: {looser}", _STRICTER)
        if share > rule.guard_share or difference < rule.guard_difference:
            fields.wrong(
                fields.place_of("guard"), f"this guard is kinder than {rule.name} had", "write it under relax:"
            )
        if SEVERITIES.index(severity) > SEVERITIES.index(rule.severity):
            fields.wrong(fields.place_of("severity"), f"{rule.name} is {rule.severity}", "a severity is never lowered")
        if rule.over_tolerance and not over:
            fields.wrong(fields.place_of("holds_over"), f"{rule.name} holds over tolerance", "write it under relax:")
    if word == "restate":
        fields.needed("source")
        confidence = cast(Confidence, fields.needed_word("confidence", CONFIDENCES))
        if confidence == "remembered":
            fields.wrong(fields.place_of("confidence"), "a restated limit is not remembered", "name where it was read")
    elif not confidence:
        # A relaxed figure no longer is what its document printed.
        confidence = weaker_confidence(rule.confidence, "common practice") if word == "relax" else rule.confidence
    if word in ("relax", "tighten") and "source" not in fields and (word == "relax" or shape != rule.shape):
        # A changed figure is no longer the one its document printed.
        source = f"{_PAST[word]} by {pack}{': ' if reason else ''}{reason} (was: {source})"
    remedy = remedy_text(fields) or rule.remedy
    settle_does, remedy_does = does_of(fields)
    if len(problems) > before:
        return None
    return rule._replace(
        shape=shape,
        guard_share=share,
        guard_difference=difference,
        over_tolerance=over,
        severity=severity,
        source=source,
        confidence=confidence,
        remedy=remedy,
        settle=fields.text("settle") or rule.settle,
        settle_does=settle_does or rule.settle_does,
        settle_first="" if "settle" in fields else rule.settle_first,
        settle_first_does=() if "settle" in fields else rule.settle_first_does,
        remedy_does=remedy_does or rule.remedy_does,
        changes=(change,),
    )
