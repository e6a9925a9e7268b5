"""Whether a changed shape is never kinder than it was: proved from the form of its limits, never tried on numbers.

A comparison is as strict as before where its demand is at least the old one and its limit at most the old one, each end
of each by itself. That is read from the terms: the same term, a smaller factor, a difference, min with the old limit,
max with the old demand, and the same inside sums, products, min and max. What the form does not show is refused.

Factors and quotients keep their order only between values that are not below zero. Every named quantity is taken for
the magnitude it is, save temperatures and their differences, and the tables and assumptions that hold a figure below
zero.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from functools import cache
from typing import NamedTuple

from derate.packs.rule import Agree, AnyOf, Condition, Count, Keep, Member, Presence, Record, Shape, Within
from derate.terms.dimension import CELSIUS, KELVIN
from derate.terms.place import Place
from derate.text.formula import Formula
from derate.text.tree import Choice, Name, Negative, Number, Operation, Term

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
