"""Trials of a pack, its second document: what each rule must come to for given facts, and for whole small designs.

    trials:
      fuse-breaking-capacity:
        - {rated.breaking_capacity: 1500 A, prospective_current: 1000 A, expect: pass}
        - {rated.breaking_capacity: 35 A, cases: [{prospective_current: 90 A}], expect: fail}
        - {prospective_current: 90 A, expect: not assessed, why: nobody read the cap}
    designs:
      - {rule: fuse-breaking-capacity, subject: F1, base: small, instead_of: 1500 A, write: 35 A}
    bases:
      small: |
        derate: 1 ...

Facts that a rule's `applies` asks for are filled in with something that meets it, unless the trial gives them
(`unknown` leaves one out). `(assumed)` behind a value marks it so. `parts:` gives other parts by name, fitted unless
they say otherwise.
A design trial expects `pass` of the base and `fail` once `instead_of` is replaced, unless it says otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping as Given
from dataclasses import dataclass
from typing import cast

from derate.packs.load import Packs
from derate.packs.pack import LOOKED, Condition
from derate.packs.reading import Fields, first_character
from derate.terms.values import Category, Known, Place, Problem, ReadingError, Value, nearest
from derate.terms.vocabulary import VOCABULARY, Term
from derate.terms.words import PART_KINDS, VERDICTS, Verdict
from derate.text.nodes import Mapping, Node, Scalar, Sequence, compose_second
from derate.text.quantity import read_quantity, read_said

_OWN_KEYS = ("expect", "ratio", "why", "cases", "parts")
_DESIGN_KEYS = ("rule", "subject", "base", "instead_of", "write", "expect", "then", "why")


@dataclass(frozen=True, slots=True)
class GivenFact:
    """One fact of a trial: its value (None when nobody knows it) and whether it is assumed."""

    value: Known | None
    assumed: bool = False


Facts = Given[str, GivenFact]


@dataclass(frozen=True, slots=True)
class Trial:
    """One trial of one rule on one subject; `ratio` is checked to one per cent when it is given."""

    rule: str
    facts: Facts
    cases: tuple[Facts, ...]
    parts: Given[str, Facts]
    expect: Verdict
    ratio: float | None
    why: str
    place: Place


@dataclass(frozen=True, slots=True)
class DesignTrial:
    """A whole design that a rule must pass, and the same with one fact changed that it must not."""

    rule: str
    subject: str
    text: str
    changed: str
    expect: Verdict
    then: Verdict
    why: str
    place: Place


@dataclass(frozen=True, slots=True)
class Trials:
    """All trials of one pack file."""

    rules: tuple[Trial, ...]
    designs: tuple[DesignTrial, ...]


def read_trials(text: str, path: str, packs: Packs) -> Trials:
    """The second document of a pack. Raises ReadingError; a pack without one has no trials."""
    node = compose_second(text, path, blocks=True)
    if node is None:
        return Trials((), ())
    problems: list[Problem] = []
    if not isinstance(node, Mapping):
        raise ReadingError([Problem(first_character(node), "trials are no block", "write trials: and rules by name")])
    fields = Fields(node, "the trials", ("trials", "designs", "bases"), problems)
    names = [rule.name for rule in packs.rules]
    trials: list[Trial] = []
    block = fields.block("trials")
    for key, items in block.entries if block is not None else ():
        if _rule(key, names, problems) and isinstance(items, Sequence):
            for item in items.items:
                trial = _trial(key.text, item, packs, problems)
                if trial is not None:
                    trials.append(trial)
        elif not isinstance(items, Sequence):
            problems.append(Problem(first_character(items), f"trials of {key.text} are no list", "write - {…}"))
    bases = fields.block("bases")
    texts = {key.text: value.text for key, value in bases.entries if isinstance(value, Scalar)} if bases else {}
    designs = [one for item in fields.blocks("designs") if (one := _design(item, texts, names, problems)) is not None]
    if problems:
        raise ReadingError(problems)
    return Trials(tuple(trials), tuple(designs))


def example_of(condition: Condition) -> Known | None:
    """Something that meets a condition, for the facts a trial does not give."""
    term = VOCABULARY[condition.name]
    if condition.presence == "absent":
        return Category.of("none")
    if condition.includes:
        return Category.of(condition.includes)
    if condition.range is not None:
        return Value.exact(_inside(condition))
    if condition.other or (condition.presence and not condition.words):
        known = (PART_KINDS if term.name == "part.kind" else term.words) or ("something else",)
        return Category.of(next(word for word in (*known, "something else") if word not in (*LOOKED, *condition.words)))
    word = condition.words[0]
    if word.startswith("any "):
        word = next(kind for kind in PART_KINDS if kind.endswith(word[3:]))
    return Category.of(word)


def _inside(condition: Condition) -> float:
    assert condition.range is not None
    least, greatest = condition.range.least, condition.range.greatest
    for number in ((least + greatest) / 2, least * 1.5 + 1.0, greatest / 2, 0.0, greatest - 1.0, least, greatest):
        if abs(number) < float("inf") and condition.range.holds(Value.exact(number)):
            return number
    raise AssertionError("a range that was read holds a number")


def _rule(key: Scalar, names: list[str], problems: list[Problem]) -> bool:
    if key.text in names:
        return True
    close = nearest(key.text, names)
    problems.append(Problem(key.start, f"there is no rule '{key.text}'", f"write {close}" if close else ""))
    return False


def _trial(rule: str, node: Node, packs: Packs, problems: list[Problem]) -> Trial | None:
    if not isinstance(node, Mapping):
        problems.append(Problem(first_character(node), "a trial is no block", "write {…, expect: pass}"))
        return None
    before = len(problems)
    fields = Fields(node, f"a trial of {rule}", (*_OWN_KEYS, *node.keys), problems)
    expect = cast(Verdict, fields.needed_word("expect", VERDICTS))
    cases = tuple(_facts(block, problems) for block in fields.blocks("cases"))
    block = fields.block("parts")
    parts: dict[str, Facts] = {}
    for key, value in block.entries if block is not None else ():
        if isinstance(value, Mapping):
            parts[key.text] = _facts(value, problems)
    facts = _facts(node, problems)
    ratio: float | None = None
    if (scalar := fields.scalar("ratio")) is not None:
        try:
            read = read_quantity(scalar.text, scalar.start).value
            ratio = read.near if isinstance(read, Value) else None
        except ReadingError as error:
            problems += error.problems
    if len(problems) > before:
        return None
    return Trial(rule, facts, cases, parts, expect, ratio, fields.text("why"), node.place)


def _facts(node: Mapping, problems: list[Problem]) -> dict[str, GivenFact]:
    found = {}
    for key, value in node.entries:
        if key.text in _OWN_KEYS:
            continue
        term = VOCABULARY.get(key.text)
        if term is None:
            close = nearest(key.text, (*VOCABULARY, *_OWN_KEYS))
            problems.append(
                Problem(key.start, f"'{key.text}' is no fact this format knows", f"write {close}" if close else "")
            )
        elif not isinstance(value, Scalar):
            problems.append(Problem(first_character(value), f"{key.text} is no single value", "write one value"))
        else:
            try:
                found[key.text] = _given(value, term)
            except ReadingError as error:
                problems += error.problems
    return found


def _given(node: Scalar, term: Term) -> GivenFact:
    if term.dimension is not None:
        read = read_quantity(node.text, node.start, term.dimension)
        return GivenFact(read.value, read.known_by == "assumed")
    said = read_said(node.text, node.start)
    if said.text == "unknown":
        return GivenFact(None)
    return GivenFact(Category.of(*said.text.split(" or ")), said.known_by == "assumed")


def _design(node: Mapping, bases: dict[str, str], names: list[str], problems: list[Problem]) -> DesignTrial | None:
    before = len(problems)
    fields = Fields(node, "a design trial", _DESIGN_KEYS, problems)
    for key in ("rule", "base", "instead_of", "write"):
        fields.needed(key)
    rule = fields.scalar("rule")
    if rule is not None:
        _rule(rule, names, problems)
    base = fields.text("base")
    text = bases.get(base)
    if base and text is None:
        close = nearest(base, bases)
        fields.wrong(fields.place_of("base"), f"there is no base '{base}'", f"write {close}" if close else "")
    old, new = fields.scalar("instead_of"), fields.scalar("write")
    if len(problems) > before or text is None or old is None or new is None or rule is None:
        return None
    if text.count(old.text) != 1:
        fields.wrong(old.start, f"'{old.text}' stands {text.count(old.text)} times in {base}", "name a text of its own")
        return None
    return DesignTrial(
        rule.text,
        fields.text("subject"),
        text,
        text.replace(old.text, new.text),
        cast(Verdict, fields.word("expect", VERDICTS, "pass")),
        cast(Verdict, fields.word("then", VERDICTS, "fail")),
        fields.text("why"),
        node.place,
    )
