"""What a house pack does to rules of the packs it builds on: tighten, relax, switch off, restate.

`tighten` is held to its word: a new limit is tried against the old one over many numbers, and one that is kinder
anywhere is refused. `relax` and `switch_off` need a reason, which is printed; `restate` needs a source of its own.
"""

from __future__ import annotations

from collections.abc import Mapping as Names
from typing import cast

from derate.packs.read_rule import guard_of, remedy_text, shape_of
from derate.packs.read_table import cite
from derate.packs.reading import Fields, first_character
from derate.packs.rule import Change, Rule
from derate.packs.shape import SHAPES, Count, Keep, Member, Shape, Within, kind_of_shape
from derate.packs.words import HOLDS_OVER
from derate.terms.dimension import Dimension
from derate.terms.place import Problem, nearest
from derate.terms.values import Value
from derate.terms.words import CONFIDENCES, SEVERITIES, Confidence, Severity, weaker_confidence
from derate.text.formula import CannotEvaluate, Formula
from derate.text.nodes import Mapping, Node, Scalar

_COMMON = (*SHAPES, "guard", "remedy", "settle", "source", "confidence", "reason")
_ALLOWED = {
    "tighten": (*_COMMON, "severity", "holds_over"),
    "relax": (*_COMMON, "holds_over"),
    "switch_off": ("reason",),
    "restate": _COMMON,
}
_PAST = {"tighten": "tightened", "relax": "relaxed", "switch_off": "switched off", "restate": "restated"}


def change_rules(
    rules: dict[str, Rule],
    word: str,
    block: Mapping,
    pack: str,
    names: Names[str, Dimension],
    sources: dict[str, str],
    problems: list[Problem],
) -> None:
    """Apply one block of changes to the rules in place. Entries that name tables are left to `restated_table`."""
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
        changed = _changed(rule, word, key, node, pack, names, sources, problems)
        if changed is not None:
            rules[rule.name] = changed


def _changed(
    rule: Rule,
    word: str,
    key: Scalar,
    node: Node,
    pack: str,
    names: Names[str, Dimension],
    sources: dict[str, str],
    problems: list[Problem],
) -> Rule | None:
    if not isinstance(node, Mapping):
        problems.append(
            Problem(first_character(node), f"what {word} does to {key.text} is no block", "write {reason: …}")
        )
        return None
    before = len(problems)
    fields = Fields(node, word, _ALLOWED[word], problems)
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
    looser = _looser(rule.shape, shape)
    if confidence and CONFIDENCES.index(confidence) < CONFIDENCES.index(rule.confidence) and "source" not in fields:
        fields.wrong(
            fields.place_of("confidence"), f"{rule.name} is {rule.confidence}", "a surer one names its source:"
        )
    if word == "restate":
        why = f"{source}; kinder than it was ({looser})" if looser else source
        change = change._replace(reason=f"{reason}, {why}" if reason else why)
    if word == "tighten":
        if looser:
            fields.wrong(
                node.place, f"this is kinder than {rule.name} was: {looser}", "write it under relax: and say why"
            )
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
        changes=(change,),
    )


# Positive numbers spread over eight decades, the same on every run. A name takes one of them by its place.
_TRIED = tuple(10 ** (((7 * step) % 17 - 8) / 2) for step in range(17))


def _looser(old: Shape, new: Shape) -> str:
    """Why a changed shape is kinder than it was, or '' when no number tried shows it to be."""
    match old, new:
        case Keep(one), Keep(other):
            if one.comparison != other.comparison:
                return f"{other.comparison} in place of {one.comparison}"
            return _looser_limit(one, other)
        case Within(quantity, least, greatest), Within(other, low, high):
            if quantity.text != other.text:
                return "it looks at another quantity"
            return _looser_ends(least, low, greatest, high)
        case Count(_, _, least, greatest), Count(_, _, low, high):
            return _looser_ends(least, low, greatest, high)
        case Member(fact, words), Member(other_fact, more):
            return "" if fact == other_fact and set(more) <= set(words) else "it allows more words"
    return "" if old == new else "the two cannot be compared"


def _looser_ends(least: Formula | None, low: Formula | None, greatest: Formula | None, high: Formula | None) -> str:
    for old, new, sign in ((least, low, ">="), (greatest, high, "<=")):
        if old is not None:
            found = "an end is left out" if new is None else _kinder(old, new, sign, True)
            if found:
                return found
    return ""


def _looser_limit(one: Formula, other: Formula) -> str:
    return _kinder(one, other, one.comparison, False)


def _kinder(old: Formula, new: Formula, sign: str, single: bool) -> str:
    """Whether new holds somewhere old does not, over the numbers tried."""
    names = tuple(dict.fromkeys((*old.names, *new.names)))
    for step in range(len(_TRIED) * 8):
        numbers = {
            name: _TRIED[(step * (2 * place + 1) + 5 * place + step // len(_TRIED)) % len(_TRIED)]
            for place, name in enumerate(names)
        }
        try:
            was, now = _slack(old, numbers, single), _slack(new, numbers, single)
        except CannotEvaluate:
            continue
        if (now > was if sign.startswith("<") else now < was) and abs(now - was) > 1e-9 * max(abs(now), abs(was)):
            return f"'{new.text}' against '{old.text}'"
    return ""


def _slack(formula: Formula, numbers: dict[str, float], single: bool) -> float:
    """Right side over left side for a comparison: what a common factor on either side cannot hide."""
    lookup = {name: Value.exact(number) for name, number in numbers.items()}.__getitem__
    if single:
        return formula.value(lookup).near
    left, right = formula.evaluate(lookup)
    return right.near - left.near if left.near == 0 else right.near / left.near
