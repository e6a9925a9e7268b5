"""What a house pack does to rules of the packs it builds on: tighten, relax, switch off, restate.

`tighten` is held to its word: the form of the new limit has to show that it is nowhere kinder than the old one
(packs.tighter), else it is refused. `relax` and `switch_off` need a reason, which is printed; `restate` needs a source
of its own.
"""

from __future__ import annotations

from collections.abc import Collection
from collections.abc import Mapping as Names
from typing import cast

from derate.packs.read_rule import guard_of, remedy_text, shape_of
from derate.packs.reading import Fields, cite, first_character
from derate.packs.rule import HOLDS_OVER, SHAPES, Change, Rule, kind_of_shape
from derate.packs.tighter import not_as_strict
from derate.terms.dimension import Dimension
from derate.terms.place import Problem, nearest
from derate.terms.words import CONFIDENCES, SEVERITIES, Confidence, Severity, weaker_confidence
from derate.text.nodes import Mapping, Node, Scalar

_COMMON = (*SHAPES, "guard", "remedy", "settle", "source", "confidence", "reason")
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
_PAST = {"tighten": "tightened", "relax": "relaxed", "switch_off": "switched off", "restate": "restated"}


def change_rules(
    rules: dict[str, Rule],
    word: str,
    block: Mapping,
    pack: str,
    names: Names[str, Dimension],
    sources: dict[str, str],
    signed: Collection[str],
    problems: list[Problem],
) -> None:
    """Apply one block of changes to the rules in place. Entries that name tables are left to the loader.

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
