"""Reading one rule of a pack."""

from __future__ import annotations

import re
from collections.abc import Mapping as Names
from typing import cast

from derate.packs.read_shape import read_conditions, read_shape
from derate.packs.reading import Fields, cite
from derate.packs.rule import HOLDS_OVER, SHAPES, AnyOf, Count, Keep, Rule, Shape, Within, is_rule_name
from derate.terms.cases import PACK_GROUPS, group_of
from derate.terms.dimension import CELSIUS, KELVIN, NUMBER, Dimension
from derate.terms.place import Problem, ReadingError
from derate.terms.values import Value
from derate.terms.words import CONFIDENCES, HAZARDS, SEVERITIES, SUBJECT_KINDS, Confidence, Hazard, Severity
from derate.text.nodes import Mapping
from derate.text.quantity import read_quantity

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
    "settle",
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
    )


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
