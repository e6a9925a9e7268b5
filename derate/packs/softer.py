"""What packs ask less than the shipped ones: rules relaxed, switched off, restated, assumptions and tables replaced.

Each with what it was and what it is, so that a reader sees the step without opening a pack. Nothing is judged here.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from derate.packs.pack import AnyOf, Assumption, Condition, Count, Keep, Member, Presence, Record, Rule, Shape, Within
from derate.packs.table import Table
from derate.terms.values import Place
from derate.text.units import digits_of, show_value

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
