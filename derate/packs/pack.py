"""A pack as data: its head, tables' names, assumptions, rules with their conditions and shapes."""

from __future__ import annotations

from math import inf
from typing import Literal

from derate.packs.table import Table
from derate.terms.dimension import CELSIUS, Dimension
from derate.terms.frozen import frozen
from derate.terms.instructions import Does
from derate.terms.quantities import CaseGroup
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Place, Value
from derate.terms.words import Confidence, Hazard, Severity
from derate.text.formula import Formula
from derate.text.nodes import Mapping, Scalar

# Rules of a pack as data: the words they use, the conditions and the shapes they take, and a rule with its changes.
#
# A condition asks a fact what it is and comes to yes, no or unknown, never by formula:
#
#     part.kind: [fuse, any resistor]         one of these words
#     part.class: other than Y1 or Y2         none of these words
#     part.capacitance: over 0.1 uF           also under, up to, at least, and a range 1..3 A
#     circuit.clamp: present                  or absent: `none` and `unmarked` were looked for and are absent
#     plate.marks: includes double square     for facts that are lists
#
# There is no condition on whether a fact is known: such a rule could be escaped by deleting the fact. One fact has such
# a form: a part of no known technology is held to the strictest line of a document, and deleting the word betters none:
#
#     part.technology: stated as chip         no where nothing is stated
#     part.technology: not stated as chip     yes where nothing is stated
#
# The nine shapes:
#
# keep     one comparison within   a quantity between two limits present  a part that meets conditions is there, or a
# fact is there absent   the same, not there member   a fact is one of a list of words count    a number of parts, or
# a counted quantity, between bounds any_of   at least one of several of the others (one level) agree    a measured
# and a marked value within both tolerances record   a record exists with its fields filled in, and shows what is
# asked


# Facts that are lists: every word of them holds at once, so they are asked what they include.
LISTS = ("plate.marks", "circuit.bridging", "circuit.earth")
# Somebody looked, and this is what there was.
LOOKED = ("none", "unmarked", "not done")
# Facts of the whole supply, found under the subject `supply` when a subject has no such row of its own.
SUPPLY_WIDE = ("supply.", "site.", "plate.", "control.", "circuit.", "earth.")
# What a fact that nobody stated counts as, for the one that has a strictest row to fall into.
STATED_AS, NOT_STATED_AS = "stated as", "not stated as"
MAY_BE_SILENT = ("part.technology",)
# Facts whose range all occurs, one end today and the other tomorrow: over at one end is over, no matter of doubt.
DOMAINS = ("plate.mains", "plate.frequency", "site.ambient", "site.altitude")
FAMILIES = ("60664-1", "62368-1", "60335-1", "60598-1")
HOLDS_OVER = ("tolerance", "nominal")


def is_rule_name(name: str) -> bool:
    """Whether a name is plain words joined by hyphens: no letter-and-number codes, no capitals."""
    words = name.split("-")
    return all(word.isalnum() and word == word.lower() for word in words) and any(word.isalpha() for word in words)


def is_table_name(name: str) -> bool:
    """Whether a table or an assumption can be named in a formula: small letters, digits and underscores."""
    return name.isidentifier() and name == name.lower()


class Range(NamedTuple):
    """Numbers between two ends [SI]; a strict end is not part of it."""

    least: float = -inf
    greatest: float = inf
    above: bool = False
    below: bool = False

    def holds(self, value: Value) -> bool | None:
        """Whether a value lies in the range for every reading, for none, or (None) for some."""
        if self._contains(value.near) and self._contains(value.far):
            return True
        if value.far < self.least or value.near > self.greatest:
            return False
        if (self.above and value.far == self.least) or (self.below and value.near == self.greatest):
            return False
        return None

    def _contains(self, number: float) -> bool:
        over = number > self.least if self.above else number >= self.least
        return over and (number < self.greatest if self.below else number <= self.greatest)


class Condition(NamedTuple):
    """One fact and what it has to be; exactly one of words, range, presence and includes is set, but for a fact that
    may be left unstated.

    text: as the author wrote it, for messages
    other: the words are those it must not be
    presence: 'present' or 'absent'; with words 'stated as' or 'not stated as'
    """

    name: str
    text: str
    place: Place
    words: tuple[str, ...] = ()
    other: bool = False
    range: Range | None = None
    presence: str = ""
    includes: str = ""

    def holds(self, value: Value | Category) -> bool | None:
        """Yes, no, or None when the value leaves it open."""
        if self.presence and not self.words:
            return self._present(value)
        if self.includes:
            if not isinstance(value, Category):
                return None
            return any(self.includes in member.split(" + ") for member in value.members)  # a list stands in one text
        if self.range is not None:
            return self.range.holds(value) if isinstance(value, Value) else None
        if not isinstance(value, Category):
            return None
        inside = [matches(member, self.words) != self.other for member in value.members]
        return True if all(inside) else False if not any(inside) else None

    def unstated(self) -> bool | None:
        """What it comes to where nobody stated the fact: open, but where the words of the rule say it."""
        return self.presence == NOT_STATED_AS if self.words and self.presence else None

    def _present(self, value: Value | Category) -> bool | None:
        if isinstance(value, Category):
            looked = [member in LOOKED for member in value.members]
            there = False if all(looked) else None if any(looked) else True
        else:
            there = True
        return there if there is None or self.presence == "present" else not there


def matches(word: str, wanted: tuple[str, ...]) -> bool:
    """Whether a word is among the wanted ones; `any resistor` stands for every kind of resistor."""
    # asked of every condition of every rule on every part: a slice is no call, a list no step by step
    return word in wanted or [one for one in wanted if one[:4] == "any " and word.endswith(one[3:])] != []


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


class Change(NamedTuple):
    """What a house pack did to a rule: 'tightened', 'relaxed', 'switched off' or 'restated', by whom, why, where."""

    what: Literal["tightened", "relaxed", "switched off", "restated"]
    pack: str
    reason: str
    place: Place


class Rule(NamedTuple):
    """One rule.

    about: kind of subject; cases: groups it has to hold in, empty for standing facts
    applies: conditions on the subject's facts; when: conditions looked at in every case
    over_tolerance: holds at the ends of the tolerance too; guard_share, guard_difference: see judge.comparison.Guard
    at_least_one: says what is missing when no subject is there to look at; empty when that is fine
    settle_first: what of settling it needs no power, ahead of `settle`, so that it is not withheld with the rest
    settle_does, settle_first_does, remedy_does: what following the text does to sample and person; "not said" where
    the pack is silent
    switched_off: kept in the list and counted as not assessed
    """

    name: str
    pack: str
    family: str
    says: str
    because: str
    hazard: Hazard
    severity: Severity
    about: str
    applies: tuple[Condition, ...]
    cases: tuple[CaseGroup, ...]
    when: tuple[Condition, ...]
    shape: Shape
    over_tolerance: bool
    guard_share: float
    guard_difference: float
    at_least_one: str
    remedy: str
    settle: str
    source: str
    confidence: Confidence
    place: Place
    switched_off: bool = False
    changes: tuple[Change, ...] = ()
    settle_does: tuple[Does, ...] = ()
    remedy_does: tuple[Does, ...] = ()
    settle_first: str = ""
    settle_first_does: tuple[Does, ...] = ()

    @property
    def tells(self) -> str:
        """The source in words; a remembered figure never speaks for its document."""
        if self.confidence == "remembered":
            return f"remembered figure for {self.source}: confirm"
        return self.source


# One pack file as read: its head, its sources, tables, assumptions and rules, and what it changes in others.
#
# An assumption is a figure nobody gave, as a range with its source; its bounding says which end the truth cannot
# pass, so that a verdict may rest on that end: `both` a real bound on either side, `low` the truth is not below,
# `high` not above, `none` only a usual range.


BOUNDING = ("none", "low", "high", "both")


class Assumption(NamedTuple):
    """One assumption as read, values in SI units."""

    name: str
    pack: str
    value: Value
    dimension: Dimension
    bounding: str
    says: str
    source: str
    confidence: Confidence
    place: Place

    @property
    def rests(self) -> bool:
        """Whether a pass that needs it rests on something nobody has looked at."""
        return self.bounding == "none"

    @property
    def bounded(self) -> Value:
        """The range with the end that bounds nothing left open: what a verdict may be reached with."""
        least = 0.0 if self.value.low >= 0 and self.dimension != CELSIUS else -inf
        if self.bounding == "low":
            return Value(self.value.low, self.value.near, inf, inf)
        if self.bounding == "high":
            return Value(least, least, self.value.far, self.value.high)
        return self.value


class Head(NamedTuple):
    """What a pack says about itself.

    name_place, builds_on_place: where those two values stand, for what turns out wrong with them later
    digest: SHA-256 of the file [hex]; shipped: whether that is the file shipped under this name, byte for byte
    """

    name: str
    title: str
    covers: str
    family: str
    builds_on: tuple[Scalar, ...]
    path: str
    place: Place
    name_place: Place
    builds_on_place: Place
    digest: str = ""
    shipped: bool = False


@frozen
class Pack:
    """One pack file; `changes` holds the blocks that change packs it builds on, still unread.

    below: digests of all packs it builds on, sorted: what it was read against
    """

    head: Head
    sources: dict[str, str]
    tables: dict[str, Table]
    assumptions: dict[str, Assumption]
    rules: tuple[Rule, ...]
    changes: dict[str, Mapping]
    below: tuple[str, ...] = ()

    @property
    def names(self) -> dict[str, Dimension]:
        """Names that this pack adds for formulas, with their dimensions."""
        added = {f"table.{name}": table.unit for name, table in self.tables.items()}
        return added | {f"assumption.{name}": one.dimension for name, one in self.assumptions.items()}
