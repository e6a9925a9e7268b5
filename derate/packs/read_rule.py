"""Reading one rule of a pack: its conditions, its shape, every formula parsed and its dimensions checked."""

from __future__ import annotations

import re
from collections.abc import Mapping as Names
from typing import cast

from derate.packs.pack import (
    HOLDS_OVER,
    LISTS,
    LOOKED,
    MAY_BE_SILENT,
    NOT_STATED_AS,
    SHAPES,
    STATED_AS,
    Agree,
    AnyOf,
    Condition,
    Count,
    Keep,
    Member,
    Presence,
    Range,
    Record,
    Rule,
    Shape,
    Within,
    is_rule_name,
)
from derate.packs.reading import Fields, cite, first_character, kind_of
from derate.terms.dimension import CELSIUS, KELVIN, NUMBER, Dimension
from derate.terms.instructions import SAID, UNSAID, Does, holds_back
from derate.terms.quantities import PACK_GROUPS, group_of
from derate.terms.values import Place, Problem, ReadingError, Value, nearest
from derate.terms.vocabulary import VOCABULARY, Term
from derate.terms.words import CONFIDENCES, HAZARDS, PART_KINDS, SEVERITIES, SUBJECT_KINDS, Confidence, Hazard, Severity
from derate.text.formula import Formula
from derate.text.formula_reader import parse_scalar
from derate.text.nodes import Mapping, Node, Scalar, Sequence
from derate.text.quantity import read_quantity

# Reading the conditions and the shape of a rule, with every formula parsed and its dimensions checked.


_BOUNDS = {"over": (True, True), "at least": (True, False), "under": (False, True), "up to": (False, False)}


def read_conditions(
    node: Node | None, problems: list[Problem], prefixes: tuple[str, ...] = ()
) -> tuple[Condition, ...]:
    """Read a block of conditions. `prefixes`: which names are allowed, all when empty."""
    if node is None:
        return ()
    if not isinstance(node, Mapping):
        problems.append(Problem(first_character(node), f"this is {kind_of(node)}", "write fact: what it has to be"))
        return ()
    found = []
    for key, value in node.entries:
        try:
            found.append(_read_condition(key, value, prefixes))
        except ReadingError as error:
            problems += error.problems
    return tuple(found)


def _read_condition(key: Scalar, node: Node, prefixes: tuple[str, ...]) -> Condition:
    term = VOCABULARY.get(key.text)
    if term is None:
        close = nearest(key.text, VOCABULARY)
        raise _refused(key.start, f"'{key.text}' is no fact this format knows", f"write {close}" if close else "")
    if prefixes and not term.name.startswith(prefixes):
        raise _refused(key.start, f"{term.name} is not a fact of a part", f"use names such as {prefixes[0]}kind")
    if isinstance(node, Mapping):
        raise _refused(node.place, "a condition is one line", "write a word, a list of words, or `over 0.1 uF`")
    if isinstance(node, Sequence):
        if not node.items or not all(isinstance(item, Scalar) for item in node.items):
            raise _refused(node.place, "a list of words is wanted here", "write [fuse, board track]")
        scalars = tuple(item for item in node.items if isinstance(item, Scalar))
        if term.dimension is not None:
            raise _refused(node.place, f"{term.name} is {term.dimension}, no word", "write a range, such as 1..3")
        words = tuple(_word(item.text, item.start, term) for item in scalars)
        return Condition(term.name, " or ".join(words), node.place, words=words)
    return _read_text(node, term)


def _read_text(node: Scalar, term: Term) -> Condition:
    text = node.text.strip()
    if text in ("present", "absent"):
        return Condition(term.name, text, node.start, presence=text)
    if text.startswith("includes "):
        if term.name not in LISTS:
            raise _refused(node.start, f"{term.name} is one word, no list", f"'includes' is for {', '.join(LISTS)}")
        return Condition(term.name, text, node.start, includes=text[9:].strip())
    if term.name in LISTS:
        raise _refused(node.start, f"{term.name} is a list", "write `includes WORD`, `present` or `absent`")
    if term.dimension is not None:
        return Condition(term.name, text, node.start, range=_range(text, node, term))
    for lead in (NOT_STATED_AS, STATED_AS):
        if text.startswith(lead + " "):
            if term.name not in MAY_BE_SILENT:
                what = f"'{lead}' lets a rule be escaped by leaving {term.name} out"
                raise _refused(node.start, what, "write the words alone: what is not stated is then not assessed")
            words = _words(node, len(lead) + 1, term)
            return Condition(term.name, text, node.start, words=words, other=lead == NOT_STATED_AS, presence=lead)
    if text.startswith("other than "):
        return Condition(term.name, text, node.start, words=_words(node, 11, term), other=True)
    return Condition(term.name, text, node.start, words=(_word(text, node.start, term),))


def _words(node: Scalar, offset: int, term: Term) -> tuple[str, ...]:
    """The words behind the lead of a condition, joined by `or`."""
    words = []
    for word in node.text.strip()[offset:].split(" or "):
        words.append(_word(word.strip(), node.at(offset), term))
        offset += len(word) + 4
    return tuple(words)


def _word(text: str, place: Place, term: Term) -> str:
    known = PART_KINDS if term.name == "part.kind" else term.words
    if text in known or text in LOOKED or not known:
        return text
    if term.name == "part.kind" and text.startswith("any ") and any(kind.endswith(text[3:]) for kind in known):
        return text
    close = nearest(text, known)
    what = f"'{text}' is not a word of {term.name}" if text else f"{term.name} is empty"
    raise _refused(place, what, f"write {close}" if close else f"write one of {', '.join(known)}")


def _range(text: str, node: Scalar, term: Term) -> Range:
    assert term.dimension is not None
    for word, (lower, strict) in _BOUNDS.items():
        if text.startswith(word + " "):
            offset = node.text.index(text) + len(word) + 1
            value = read_quantity(text[len(word) + 1 :], node.at(offset), term.dimension).value
            if not isinstance(value, Value) or not value.is_exact:
                raise _refused(node.at(offset), "a bound is one number", "write `over 0.1 uF`")
            return Range(least=value.low, above=strict) if lower else Range(greatest=value.low, below=strict)
    value = read_quantity(text, node.start, term.dimension).value
    if not isinstance(value, Value):
        raise _refused(node.start, f"'{text}' is no range of {term.says}", "write `over 0.1 uF` or `1..3 A`")
    return Range(least=value.low, greatest=value.high)


_PART_NAMES = ("part.", "rated.", "found.", "mounting.", "allowed.")


def read_shape(
    key: Scalar, node: Node, names: Names[str, Dimension], problems: list[Problem], inside: bool = False
) -> Shape | None:
    """Read one shape by its word. `inside` an any_of no further any_of is taken. None when it is wrong."""
    before = len(problems)
    try:
        shape = _read(key, node, names, problems, inside)
    except ReadingError as error:
        problems += error.problems
        return None
    return shape if len(problems) == before else None


def _read(key: Scalar, node: Node, names: Names[str, Dimension], problems: list[Problem], inside: bool) -> Shape | None:
    word = key.text
    if word == "keep":
        return Keep(_formula(node, names, True))
    if word == "any_of":
        return _any_of(key, node, names, problems, inside)
    if not isinstance(node, Mapping):
        raise _refused(first_character(node), f"{word} is {kind_of(node)}", f"write {_EXAMPLES[word]}")
    if word == "within":
        return _within(node, names, problems)
    if word in ("present", "absent"):
        fields = Fields(node, word, ("part", "fact"), problems)
        if ("part" in fields) == ("fact" in fields):
            raise _refused(node.place, f"{word} asks for a part or for a fact", f"write {_EXAMPLES[word]}")
        fact = _fact(fields, "fact") if "fact" in fields else ""
        return Presence(word == "present", _parts(fields, problems), fact)
    if word == "member":
        return _member(node)
    if word == "count":
        return _count(node, names, problems)
    if word == "agree":
        return _agree(node, problems)
    fields = Fields(node, word, ("fields", "shows"), problems)
    scalars = fields.scalars("fields")
    if not scalars:
        raise _refused(node.place, "record has no fields", f"write {_EXAMPLES[word]}")
    facts = tuple(_known(item) for item in scalars)
    return Record(facts, read_conditions(fields.node_of("shows"), problems))


_EXAMPLES = {
    "within": "{quantity: frequency, from: 20 kHz, to: 150 kHz}",
    "present": "{part: {part.kind: [fuse]}} or {fact: circuit.clamp}",
    "absent": "{part: {part.kind: [spark gap]}} or {fact: circuit.bridging}",
    "member": "{part.class: [Y1, Y2]}",
    "count": "{part: {part.kind: [fuse]}, at_least: 1} or {of: bridge.count, at_least: 2}",
    "agree": "{measured: found.capacitance, marked: part.capacitance}",
    "record": "{fields: [test.voltage, test.result], shows: {test.result: held}}",
}


def _formula(node: Node, names: Names[str, Dimension], comparison: bool) -> Formula:
    if not isinstance(node, Scalar):
        raise _refused(node.place, f"a formula is one line of text, this is {kind_of(node)}", "")
    return parse_scalar(node, names, comparison)


def _same(formula: Formula | None, wanted: Formula) -> None:
    """Raise when two sides have dimensions that cannot be compared."""
    if formula is not None and formula.dimension != wanted.dimension:
        raise _refused(
            formula.place, f"'{formula.text}' is {formula.dimension}", f"{wanted.dimension} is expected here"
        )


def _ends(
    fields: Fields, names: Names[str, Dimension], least: str, greatest: str
) -> tuple[Formula | None, Formula | None]:
    low, high = fields.node_of(least), fields.node_of(greatest)
    if low is None and high is None:
        raise _refused(fields.node.place, f"{fields.what} has no bound", f"write {least}: or {greatest}:")
    return (
        None if low is None else _formula(low, names, False),
        None if high is None else _formula(high, names, False),
    )


def _within(node: Mapping, names: Names[str, Dimension], problems: list[Problem]) -> Within:
    fields = Fields(node, "within", ("quantity", "from", "to"), problems)
    quantity = fields.node_of("quantity")
    if quantity is None:
        raise _refused(node.place, "within has no quantity", f"write {_EXAMPLES['within']}")
    formula = _formula(quantity, names, False)
    least, greatest = _ends(fields, names, "from", "to")
    _same(least, formula)
    _same(greatest, formula)
    return Within(formula, least, greatest)


def _parts(fields: Fields, problems: list[Problem]) -> tuple[Condition, ...]:
    if "part" not in fields:
        return ()
    conditions = read_conditions(fields.node_of("part"), problems, _PART_NAMES)
    if not conditions:
        fields.wrong(fields.place_of("part"), "no condition on the part", "write part: {part.kind: [fuse]}")
    return conditions


def _count(node: Mapping, names: Names[str, Dimension], problems: list[Problem]) -> Count:
    fields = Fields(node, "count", ("part", "of", "at_least", "at_most"), problems)
    of = fields.node_of("of")
    if ("part" in fields) == (of is not None):
        raise _refused(node.place, "count takes parts or a quantity", f"write {_EXAMPLES['count']}")
    formula = None if of is None else _formula(of, names, False)
    least, greatest = _ends(fields, names, "at_least", "at_most")
    for side in (formula, least, greatest):
        if side is not None and side.dimension != NUMBER:
            raise _refused(side.place, f"'{side.text}' is {side.dimension}", "a count is a plain number")
    return Count(_parts(fields, problems), formula, least, greatest)


def _member(node: Mapping) -> Member:
    if len(node.entries) != 1:
        raise _refused(node.place, "member asks one fact", f"write {_EXAMPLES['member']}")
    key, value = node.entries[0]
    found: list[Problem] = []
    (condition,) = read_conditions(node, found) or (None,)
    if found:
        raise ReadingError(found)
    if condition is None or not condition.words or condition.other:
        raise _refused(first_character(value), "member has a list of words", f"write {_EXAMPLES['member']}")
    return Member(key.text, condition.words)


def _agree(node: Mapping, problems: list[Problem]) -> Agree:
    fields = Fields(node, "agree", ("measured", "marked"), problems)
    measured, marked = _fact(fields, "measured"), _fact(fields, "marked")
    one, other = VOCABULARY[measured].dimension, VOCABULARY[marked].dimension
    if one is None or one != other:
        what = "a word" if one is None else str(one)
        raise _refused(fields.place_of("marked"), f"{marked} is {other or 'a word'}", f"{measured} is {what}")
    return Agree(measured, marked)


def _any_of(
    key: Scalar, node: Node, names: Names[str, Dimension], problems: list[Problem], inside: bool
) -> AnyOf | None:
    if inside:
        raise _refused(key.start, "any_of inside any_of", "one level is read: write the alternatives side by side")
    if isinstance(node, (Scalar, Mapping)) or len(node.items) < 2:
        raise _refused(first_character(node), "any_of takes two alternatives or more", "write a list of shapes")
    shapes: list[Shape] = []
    for item in node.items:
        if not isinstance(item, Mapping) or len(item.entries) != 1 or item.entries[0][0].text not in SHAPES:
            close = nearest(item.entries[0][0].text, SHAPES) if isinstance(item, Mapping) and item.entries else None
            instead = f"write {close}:" if close else f"write one of {', '.join(SHAPES)}"
            problems.append(Problem(first_character(item), "an alternative is one shape of its own", instead))
            continue
        shape = read_shape(*item.entries[0], names, problems, inside=True)
        if shape is not None:
            shapes.append(shape)
    return AnyOf(tuple(shapes))


def _fact(fields: Fields, key: str) -> str:
    scalar = fields.scalar(key)
    if scalar is None:
        raise _refused(fields.node.place, f"{fields.what} has no {key}", f"write {_EXAMPLES[fields.what]}")
    return _known(scalar)


def _known(scalar: Scalar) -> str:
    if scalar.text in VOCABULARY:
        return scalar.text
    close = nearest(scalar.text, VOCABULARY)
    raise _refused(scalar.start, f"'{scalar.text}' is no fact this format knows", f"write {close}" if close else "")


def _refused(place: Place, what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(place, what, instead)])


# Reading one rule of a pack.


KEYS = (
    "rule",
    "says",
    "because",
    "hazard",
    "severity",
    "about",
    "applies",
    "cases",
    "when",
    *SHAPES,
    "holds_over",
    "guard",
    "at_least_one",
    "remedy",
    "remedy_does",
    "settle",
    "settle_does",
    "settle_first",
    "settle_first_does",
    "source",
    "confidence",
)
FIGURES = ("cure", "worst", "stress", "limit")  # what a remedy may hold in braces
_BRACES = re.compile(r"\{([^{}]*)\}")
# Fire and shock are judged at the ends of the tolerance, whatever a single sample happens to be.
_OVER_TOLERANCE: tuple[Hazard, ...] = ("fire", "shock")


def read_rule(
    node: Mapping,
    pack: str,
    family: str,
    names: Names[str, Dimension],
    sources: dict[str, str],
    problems: list[Problem],
) -> Rule | None:
    """Read one entry of `rules`; None when it is too wrong to go on."""
    before = len(problems)
    scalar = node.get("rule")
    name = getattr(scalar, "text", "") if scalar is not None else ""
    fields = Fields(node, f"rule {name}" if name else "a rule", KEYS, problems)
    fields.needed("rule")
    if name and not is_rule_name(name):
        fields.wrong(fields.place_of("rule"), f"'{name}' is no rule name", "write plain small words with hyphens")
    says, because = fields.needed("says"), fields.needed("because")
    hazard = cast(Hazard, fields.needed_word("hazard", HAZARDS))
    severity = cast(Severity, fields.needed_word("severity", SEVERITIES))
    about = fields.word("about", SUBJECT_KINDS, "part")
    cases = tuple(group_of(word) for word in fields.words("cases", PACK_GROUPS))
    source, confidence = cite(fields.needed("source"), sources), fields.needed_word("confidence", CONFIDENCES)
    applies = read_conditions(fields.node_of("applies"), problems)
    when = read_conditions(fields.node_of("when"), problems)
    if when and not cases:
        fields.wrong(
            fields.place_of("when"),
            "`when` is looked at in each case, and this rule has no cases",
            "move it to applies, or add cases:",
        )
    shape = shape_of(fields, names)
    holds_over = fields.word("holds_over", HOLDS_OVER, "tolerance" if hazard in _OVER_TOLERANCE else "nominal")
    share, difference = guard_of(fields, shape)
    remedy = remedy_text(fields)
    settle_does, remedy_does = does_of(fields)
    first_does = _first_does(fields)
    if len(problems) > before or shape is None:
        return None
    return Rule(
        name,
        pack,
        family,
        says,
        because,
        hazard,
        severity,
        about,
        applies,
        cases,
        when,
        shape,
        holds_over == "tolerance",
        share,
        difference,
        fields.text("at_least_one"),
        remedy,
        fields.text("settle"),
        source,
        cast(Confidence, confidence),
        node.place,
        settle_does=settle_does,
        remedy_does=remedy_does,
        settle_first=fields.text("settle_first"),
        settle_first_does=first_does,
    )


def does_of(fields: Fields) -> tuple[tuple[Does, ...], tuple[Does, ...]]:
    """What following `settle` and `remedy` does to sample and person.

    A rule that says neither gets the strictest caution beside both. One that knows the keys and says nothing of its
    remedy changes the design.
    """
    settle = tuple(cast(Does, one) for one in fields.words("settle_does", SAID))
    remedy = tuple(cast(Does, one) for one in fields.words("remedy_does", SAID))
    unsaid = UNSAID if "settle_does" not in fields and "remedy_does" not in fields else ("design",)
    return (settle or UNSAID) if "settle" in fields else (), (remedy or unsaid) if "remedy" in fields else ()


def _first_does(fields: Fields) -> tuple[Does, ...]:
    """What following `settle_first` does: something, and nothing that needs power."""
    does = tuple(cast(Does, one) for one in fields.words("settle_first_does", SAID))
    if "settle_first" not in fields:
        return ()
    place = fields.place_of("settle_first")
    if "settle" not in fields:
        fields.wrong(place, "settle_first stands ahead of settle, and there is none", "write it as settle")
    if holds_back(does):
        fields.wrong(place, "settle_first is what needs no power", "move what needs power to settle")
    if not does:
        fields.wrong(place, "settle_first does not say what it does", "write settle_first_does: papers, or opened")
    return does


def remedy_text(fields: Fields) -> str:
    """The remedy; what stands in braces in it has to be a figure that is filled in."""
    text = fields.text("remedy")
    for found in _BRACES.finditer(text):
        if found.group(1) not in FIGURES:
            fields.wrong(
                fields.place_of("remedy"),
                f"'{found.group()[:40]}' is no figure of a remedy",
                f"write one of {', '.join('{' + one + '}' for one in FIGURES)}",
            )
    return text


def shape_of(fields: Fields, names: Names[str, Dimension]) -> Shape | None:
    """The one shape among the keys of a block."""
    found = [(key, value) for key, value in fields.node.entries if key.text in SHAPES]
    if not found:
        fields.wrong(fields.node.place, f"{fields.what} asks for nothing", f"give one of {', '.join(SHAPES)}")
        return None
    for key, _ in found[1:]:
        fields.wrong(key.start, f"{fields.what} has two shapes, {found[0][0].text} and {key.text}", "keep one")
    return read_shape(*found[0], names, fields.problems)


def guard_of(fields: Fields, shape: Shape | None) -> tuple[float, float]:
    """The guard band: a share of the limit such as 0.9, or a difference such as 10 K."""
    scalar = fields.scalar("guard")
    if scalar is None or shape is None:
        return 1.0, 0.0
    dimension = _limit_dimension(shape)
    if dimension is None:
        fields.wrong(scalar.start, "only keep, within and count have a guard", "leave guard out")
        return 1.0, 0.0
    try:
        read = read_quantity(scalar.text, scalar.start)
    except ReadingError as error:
        fields.problems += error.problems
        return 1.0, 0.0
    wanted = KELVIN if dimension.point else dimension
    if not isinstance(read.value, Value) or not read.value.is_exact:
        fields.wrong(scalar.start, "a guard is one number", "write guard: 0.9")
    elif read.dimension == NUMBER and dimension != CELSIUS:
        if 0 < read.value.low <= 1:
            return read.value.low, 0.0
        fields.wrong(scalar.start, "a guard is a share of the limit, above 0 and up to 1", "write guard: 0.9")
    elif read.dimension == wanted and read.value.low >= 0:
        return 1.0, read.value.low
    else:
        example = "10 K" if dimension == CELSIUS else "0.9"
        fields.wrong(scalar.start, f"this guard is {read.dimension}, the limit {dimension}", f"write guard: {example}")
    return 1.0, 0.0


def _limit_dimension(shape: Shape) -> Dimension | None:
    match shape:
        case Keep(formula):
            return formula.dimension
        case Within(quantity):
            return quantity.dimension
        case Count():
            return NUMBER
        case AnyOf(shapes):
            dimensions = {found for one in shapes if (found := _limit_dimension(one)) is not None}
            return dimensions.pop() if len(dimensions) == 1 else None
        case _:
            return None
