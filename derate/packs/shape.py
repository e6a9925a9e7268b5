"""The nine shapes a rule may take, as data.

keep     one comparison
within   a quantity between two limits
present  a part that meets conditions is there, or a fact is there
absent   the same, not there
member   a fact is one of a list of words
count    a number of parts, or a counted quantity, between bounds
any_of   at least one of several of the others (one level)
agree    a measured and a marked value within both tolerances
record   a record exists with its fields filled in, and shows what is asked
"""

from __future__ import annotations

from typing import NamedTuple

from derate.packs.condition import Condition
from derate.text.formula import Formula

SHAPES = ("keep", "within", "present", "absent", "member", "count", "any_of", "agree", "record")


class Keep(NamedTuple):
    """One comparison; `formula.comparison` is <=, <, >= or >."""

    formula: Formula


class Within(NamedTuple):
    """A quantity between two limits; either end may be left out."""

    quantity: Formula
    least: Formula | None
    greatest: Formula | None


class Presence(NamedTuple):
    """Whether a fitted part that meets all conditions is there, or whether one fact of the subject is."""

    wanted: bool
    parts: tuple[Condition, ...]
    fact: str = ""


class Member(NamedTuple):
    """A fact that must be one of these words; `unmarked` fails unless it is among them."""

    fact: str
    words: tuple[str, ...]


class Count(NamedTuple):
    """How many parts meet the conditions, or what a counted quantity is, between bounds."""

    parts: tuple[Condition, ...]
    of: Formula | None
    least: Formula | None
    greatest: Formula | None


class Agree(NamedTuple):
    """A measured fact and a marked one."""

    measured: str
    marked: str


class Record(NamedTuple):
    """Facts that must have been filled in, and what they have to show."""

    fields: tuple[str, ...]
    shows: tuple[Condition, ...]


class AnyOf(NamedTuple):
    """At least one of these holds."""

    shapes: tuple[Shape, ...]


Shape = Keep | Within | Presence | Member | Count | Agree | Record | AnyOf


def formulas_of(shape: Shape) -> tuple[Formula, ...]:
    """Every formula of a shape."""
    match shape:
        case Keep(formula):
            return (formula,)
        case Within(quantity, least, greatest):
            return tuple(one for one in (quantity, least, greatest) if one is not None)
        case Count(_, of, least, greatest):
            return tuple(one for one in (of, least, greatest) if one is not None)
        case AnyOf(shapes):
            return tuple(formula for one in shapes for formula in formulas_of(one))
        case _:
            return ()


def facts_of(shape: Shape) -> tuple[str, ...]:
    """Every name that a shape looks up for its subject, each once, formulas included."""
    names: dict[str, None] = {}
    for formula in formulas_of(shape):
        names.update(dict.fromkeys(formula.names))
    match shape:
        case Presence(_, _, fact) if fact:
            names[fact] = None
        case Member(fact, _):
            names[fact] = None
        case Agree(measured, marked):
            names.update(dict.fromkeys((measured, marked)))
        case Record(fields, shows):
            names.update(dict.fromkeys((*fields, *(one.name for one in shows))))
        case AnyOf(shapes):
            for one in shapes:
                names.update(dict.fromkeys(facts_of(one)))
    return tuple(names)


def kind_of_shape(shape: Shape) -> str:
    """The word of a shape, as a pack writes it."""
    match shape:
        case Keep():
            return "keep"
        case Within():
            return "within"
        case Presence(wanted=wanted):
            return "present" if wanted else "absent"
        case Member():
            return "member"
        case Count():
            return "count"
        case Agree():
            return "agree"
        case Record():
            return "record"
        case AnyOf():
            return "any_of"
