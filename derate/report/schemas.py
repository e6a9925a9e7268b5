"""The published JSON Schemas: of a design, of a pack, and of what the commands print."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict
from pydantic import Field as ModelField

from derate.design.blocks import DesignFile
from derate.design.kinds import KIND_WORDS
from derate.design.plain_forms import Block, Each, ListOf, OrNone
from derate.design.record import Field, Record
from derate.design.settings import SettingsFile
from derate.judge.review import SofterKind
from derate.packs.change import ALLOWED
from derate.packs.pack import BOUNDING, FAMILIES, HOLDS_OVER, SHAPES
from derate.packs.read_rule import KEYS as RULE_KEYS
from derate.packs.table import ENDS, KINDS
from derate.terms.instructions import POWERED, SAID, Does
from derate.terms.quantities import PACK_GROUPS
from derate.terms.values import Place, Problem, ReadingError
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import (
    CONFIDENCES,
    HAZARDS,
    SEVERITIES,
    SUBJECT_KINDS,
    Confidence,
    Hazard,
    Level,
    Overall,
    Severity,
    Verdict,
)

# JSON Schema of a design file, from its records: what editors complete and check.


DIALECT = "https://json-schema.org/draft/2020-12/schema"


def design_schema() -> dict[str, Any]:
    """The schema of a design. A part may also be one line: `film resistor 1 Mohm 5%`."""
    schema = DesignFile.schema()
    short = {"type": "string", "description": "the kind, then figures with their units"}
    parts = schema["properties"]["parts"]
    part = parts["additionalProperties"]
    part["properties"]["kind"]["examples"] = sorted(KIND_WORDS)
    parts["additionalProperties"] = {"anyOf": [part, short]}
    _completed(schema)
    revision = {"required": ["derate", "revision_of"]}
    whole = {"required": schema.pop("required")}
    return {"$schema": DIALECT, "title": "A derate design", **schema, "anyOf": [whole, revision]}


# Keys that no record has, with an example and how a person gets it.
_SIGNED = {
    "rule": ("bulk-capacitor-life", "derate lint names it beside the finding"),
    "reason": ("replaced every two years, with the fan", "your own words, for who reads it in a year"),
    "by": ("lead engineer", "who answers for it"),
    "up_to": ("1.5", "the ratio that derate lint --all prints, and no more than you stand for"),
    "last_day": ("2027-06-30", "a year from now at most"),
    "note": ("asked the maker on the phone", "your own words"),
    "part": ("C2", "derate lint names it at the head of the finding"),
    "output": ("main", "derate lint names it at the head of the finding"),
    "port": ("main", "derate lint names it at the head of the finding"),
    "barrier": ("under transformer", "derate lint names it at the head of the finding"),
    "winding": ("T1.primary", "derate lint names it at the head of the finding"),
    "transformer": ("T1", "derate lint names it at the head of the finding"),
    "supply": ("supply", "for findings of the whole supply"),
    "between": ("[primary, secondary]", "derate lint names both at the head of the finding"),
    "subject": ("mains", "copy it from derate lint"),
}
_WHOLE = {  # blocks of which one example says more than its first keys do
    "parts": "{R1: film resistor 1 Mohm 5%}",
    "marking": "HER208",
    "shape": "E 25/13/7",
}
_KEYS_SHOWN = 2


def _completed(schema: dict[str, Any], signed: bool = False) -> None:
    """Give every key that has none an example: of a block its first keys, of what is signed for that of the table."""
    for key, one in (schema.get("properties") or {}).items():
        if signed and key in _SIGNED:
            example, how = _SIGNED[key]
            says, told = one["description"], f". {how[0].upper()}{how[1:]}"
            if not says.endswith(told):  # both blocks of what is signed for have the one table
                one["description"] = f"{says[0].upper()}{says[1:]}{told}"
            one.setdefault("examples", [example])
        _completed(one, signed or key in ("waivers", "open_points"))
        if "examples" not in one:
            one["examples"] = [_WHOLE.get(key) or _example(one)]
    for key in ("additionalProperties", "items"):
        if isinstance(schema.get(key), dict):
            _completed(schema[key], signed)
    for one in schema.get("anyOf", ()):
        _completed(one, signed)


def _example(schema: dict[str, Any]) -> str:
    """What a block may look like: its first keys with their examples."""
    if "properties" in schema:
        shown = [f"{key}: {one['examples'][0]}" for key, one in schema["properties"].items() if "examples" in one]
        return "{" + ", ".join(shown[:_KEYS_SHOWN]) + "}"
    for one in schema.get("anyOf", ()):
        if found := _example(one):
            return found
    for key, before, after in (("items", "[", "]"), ("additionalProperties", "{NAME: ", "}")):
        if isinstance(schema.get(key), dict) and (found := _example(schema[key])):
            return f"{before}{found}{after}"
    return ""


def settings_schema() -> dict[str, Any]:
    """The schema of the settings of a repository, `.derate.yaml`."""
    return {"$schema": DIALECT, "title": "The settings of derate in a repository", **SettingsFile.schema()}


def library_schema() -> dict[str, Any]:
    """The schema of a library of parts, `*.parts.yaml`."""
    from derate.design.library_file import LibraryFile

    return {"$schema": DIALECT, "title": "A library of parts", **LibraryFile.schema()}


def keys_of(record: type[Record], path: str = "") -> Iterator[tuple[str, Field]]:
    """Every key of a record with its path, blocks inside blocks too."""
    for key, field in record.fields.items():
        at = f"{path}{key}"
        yield at, field
        form, more = field.form, f"{at}."
        while isinstance(form, Each | OrNone | ListOf):
            more = f"{more}NAME." if isinstance(form, Each) else more
            form = form.form
        if isinstance(form, Block):
            yield from keys_of(form.record, more)


# JSON Schema of a rule pack (the first document of its file), from the words its readers take.


Schema = dict[str, Any]
_TEXT: Schema = {"type": "string", "minLength": 1}
_LINE: Schema = {"type": ["string", "number"]}  # a number without a unit is read as text too
_CONFIDENCE: Schema = {"enum": list(CONFIDENCES)}
_RULE_NAME = "^[a-z0-9]+(-[a-z0-9]+)*$"


def _block(properties: Schema, required: tuple[str, ...] = (), says: str = "") -> Schema:
    made: Schema = {"type": "object", "properties": properties, "additionalProperties": False}
    if required:
        made["required"] = list(required)
    return {"description": says, **made} if says else made


def _named(schema: Schema, says: str = "") -> Schema:
    made: Schema = {"type": "object", "additionalProperties": schema}
    return {"description": says, **made} if says else made


def _one_or_more(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "array", "items": schema}]}


def _ref(name: str) -> Schema:
    return {"$ref": f"#/$defs/{name}"}


# What each key is, and one value as typed. The key lists are those of the readers.
Told = dict[str, tuple[str, str]]
OF_PACK: Told = {
    "pack": ("name of the pack, that of its file", "house-rules"),
    "title": ("title, one line", "House rules of the bench"),
    "covers": ("what its rules look at, and what they do not", "capacitors and resistors of the mains input"),
    "family": ("insulation family its rules belong to", "62368-1"),
    "builds_on": ("packs it builds on", "[commercial-practice]"),
    "sources": ("sources under short names, which rules and tables cite", "{handbook: {title: House handbook}}"),
    "tables": ("tables that formulas name", "{share: {axes: {case_temperature: [25 degC, 85 degC]}, cells: [1, 0.6]}}"),
    "assumptions": ("figures taken where nobody says better", "{efficiency: {value: 0.70..0.88, bounding: both}}"),
    "rules": ("the rules", "[{rule: film-capacitor-voltage, keep: voltage <= 0.8 * rated.voltage}]"),
    "tighten": ("rules held harder: the new limit is nowhere kinder", "{bulk-capacitor-life: {guard: 0.8}}"),
    "relax": ("rules held less hard, with the reason", "{bulk-capacitor-life: {guard: 1.1, reason: replaced yearly}}"),
    "switch_off": ("rules not used, with the reason", "{plug-pin-edge: {reason: fixed wiring only}}"),
    "restate": ("rules, or `table.NAME`, with a source of their own", "{table.share: {axes: {}, cells: []}}"),
}
OF_RULE: Told = {
    "rule": ("name: plain small words with hyphens", "film-capacitor-voltage"),
    "says": ("what holds, one sentence", "A film capacitor works at four fifths of its rated voltage at most."),
    "because": ("why, one sentence", "Losses and ageing rise steeply towards the rating."),
    "hazard": ("what it is about", "overstress"),
    "severity": ("how much hangs on it", "major"),
    "about": ("kind of subject it looks at; a part when nothing is said", "part"),
    "applies": ("which subjects it looks at", "{part.kind: film capacitor}"),
    "cases": ("groups of cases it looks at", "[running, overload]"),
    "when": ("conditions of the whole supply", "{supply.protection_class: II}"),
    "keep": ("one comparison of two formulas", "voltage_peak <= 0.8 * rated.voltage"),
    "within": ("a quantity between two ends", "{quantity: frequency, from: 20 kHz, to: 150 kHz}"),
    "present": ("a fact, or a part, that has to be there", "{fact: inspection.enclosure_flame_class}"),
    "absent": ("a fact, or a part, that must not be there", "{fact: inspection.scorch_marks}"),
    "member": ("a fact that has to be one of some words", "{test.result: [held]}"),
    "count": ("a number of parts between two ends", "{part: {part.place: mains series}, at_least: 1}"),
    "any_of": ("shapes of which one has to hold", "[{keep: power <= rated.power}, {present: {fact: part.heatsink}}]"),
    "agree": (
        "a measured fact against its mark, within both tolerances",
        "{measured: found.capacitance, marked: part.capacitance}",
    ),
    "record": ("facts that have to be written down, and what they show", "{fields: [plate.marks]}"),
    "holds_over": ("whether the ends of the tolerance have to hold, or the nominal", "tolerance"),
    "guard": ("a share of the limit, or a difference, from which a pass is marginal", "0.9"),
    "at_least_one": ("what is missing where there is no subject at all", "no protective part on the mains path"),
    "remedy": ("what would cure it; braces take a figure", "fit a part rated {cure} or more"),
    "remedy_does": ("what following the remedy does to sample and person; a design change when not said", "design"),
    "settle": ("what would settle it where it is not assessed", "read the voltage on the part"),
    "settle_does": ("what following it does to sample and person", "[opened, probed]"),
    "settle_first": ("what of it needs no power, and is done first", "read the voltage on the sleeve"),
    "settle_first_does": ("what following that does to sample and person", "opened"),
    "source": ("where the limit comes from: a short name of `sources`, or words", "handbook, section 3"),
    "confidence": ("how sure the limit is", "published"),
    "reason": ("why it is changed", "our products run eight hours a day"),
}
OF_TABLE: Told = {
    "axes": ("a fact each, with its points or words", "{case_temperature: [25 degC, 85 degC]}"),
    "unit": ("unit of the cells, none for plain numbers", "mm"),
    "kind": ("how it is read between points", "linear"),
    "ends": ("what holds beyond the first and the last point", "hold"),
    "cells": ("the figures, lists in lists in the order of the axes", "[1, 0.6]"),
    "confidence": ("how sure they are, one word or cell by cell", "published"),
    "says": ("what the table gives, in words", "share of the rated voltage"),
    "source": ("where they were read", "handbook, table 2"),
    "at": ("points of an axis", "[25, 85]"),
    "words": ("words of an axis", "[basic, reinforced]"),
}
OF_ASSUMPTION: Told = {
    "value": ("the figure or range", "0.70..0.88"),
    "bounding": ("which of its ends nothing real lies beyond", "both"),
    "says": ("what is assumed, in words", "efficiency of a small supply"),
    "source": ("where it comes from", "handbook, section 5"),
    "confidence": ("how sure it is", "common practice"),
}
OF_SOURCE: Told = {
    "title": ("title of the work", "House handbook"),
    "edition": ("edition or year", "2026"),
    "where": ("where it can be read", "section 3"),
}


def _told(properties: Schema, told: Told) -> Schema:
    """Every key with what it is and an example."""
    made = {}
    for key, shape in properties.items():
        says, example = told[key]
        made[key] = {"description": says[0].upper() + says[1:], **shape, "examples": [example]}
    return made


_CONDITIONS = _ref("conditions")
_FACT = _ref("fact")
_FORMULA: Schema = {**_LINE, "description": "names, numbers with units, + - * /, min, max"}
_SHAPES: dict[str, Schema] = {
    "keep": {**_TEXT, "description": "one comparison: voltage_peak <= 0.8 * rated.voltage"},
    "within": _block({"quantity": _FORMULA, "from": _FORMULA, "to": _FORMULA}, ("quantity",)),
    "present": _block({"part": _CONDITIONS, "fact": _FACT}),
    "absent": _block({"part": _CONDITIONS, "fact": _FACT}),
    "member": {"type": "object", "propertyNames": _FACT, "additionalProperties": _one_or_more(_LINE)},
    "count": _block({"part": _CONDITIONS, "of": _FORMULA, "at_least": _FORMULA, "at_most": _FORMULA}),
    "agree": _block({"measured": _FACT, "marked": _FACT}, ("measured", "marked")),
    "record": _block({"fields": _one_or_more(_FACT), "shows": _CONDITIONS}, ("fields",)),
}


def _shapes() -> dict[str, Schema]:
    inner = {
        "type": "array",
        "items": {**_block({name: _ref(name) for name in _SHAPES}), "minProperties": 1, "maxProperties": 1},
        "description": "at least one of these holds",
    }
    return {**{name: _ref(name) for name in _SHAPES}, "any_of": inner}


def _rule() -> Schema:
    shapes = _shapes()
    properties: Schema = {
        "rule": {"type": "string", "pattern": _RULE_NAME},
        "says": _TEXT,
        "because": _TEXT,
        "hazard": {"enum": list(HAZARDS)},
        "severity": {"enum": list(SEVERITIES)},
        "about": {"enum": list(SUBJECT_KINDS)},
        "applies": _CONDITIONS,
        "cases": _one_or_more({"enum": list(PACK_GROUPS)}),
        "when": _CONDITIONS,
        **shapes,
        "holds_over": {"enum": list(HOLDS_OVER)},
        "guard": {**_LINE, "description": "a share of the limit such as 0.9, or a difference such as 10 K"},
        "at_least_one": _TEXT,
        "remedy": _TEXT,
        "remedy_does": _one_or_more({"enum": list(SAID)}),
        "settle": _TEXT,
        "settle_does": _one_or_more({"enum": list(SAID)}),
        "settle_first": _TEXT,
        "settle_first_does": _one_or_more({"enum": [one for one in SAID if one not in POWERED]}),
        "source": _TEXT,
        "confidence": _CONFIDENCE,
    }
    required = ("rule", "says", "because", "hazard", "severity", "source", "confidence")
    return {
        **_block(_told({key: properties[key] for key in RULE_KEYS}, OF_RULE), required),
        "oneOf": [{"required": [shape]} for shape in SHAPES],
    }


def _table() -> Schema:
    rows = {"type": "array", "items": _LINE, "minItems": 1}
    axis = {
        "anyOf": [
            rows,
            _block(
                _told(
                    {
                        "at": rows,
                        "unit": _TEXT,
                        "words": rows,
                        "kind": {"enum": list(KINDS)},
                        "ends": {"enum": list(ENDS)},
                    },
                    OF_TABLE,
                )
            ),
        ]
    }
    return _block(
        _told(
            {
                "axes": {**_named(axis), "minProperties": 1},
                "unit": {"type": "string"},
                "kind": {"enum": list(KINDS)},
                "ends": {"enum": list(ENDS)},
                "cells": _ref("cells"),
                "confidence": _ref("confidences"),
                "says": _TEXT,
                "source": _TEXT,
            },
            OF_TABLE,
        ),
        ("axes", "cells", "confidence", "source"),
    )


def pack_schema() -> Schema:
    """The schema of the first document of a pack; its trials stand in a second one."""
    keys = {**_rule()["properties"], **_told({"reason": _TEXT}, OF_RULE)}
    changes = {word: {key: keys[key] for key in ALLOWED[word]} for word in ALLOWED}
    assumption = _block(
        _told(
            {
                "value": _LINE,
                "bounding": {"enum": list(BOUNDING)},
                "says": _TEXT,
                "source": _TEXT,
                "confidence": _CONFIDENCE,
            },
            OF_ASSUMPTION,
        ),
        ("value", "bounding", "says", "source", "confidence"),
    )
    source = {
        "anyOf": [_TEXT, _block(_told({"title": _TEXT, "edition": _LINE, "where": _TEXT}, OF_SOURCE), ("title",))]
    }
    needs_reason = {"required": ["reason"]}
    restated = {
        "type": "object",
        "patternProperties": {r"^table\.": _table()},
        "additionalProperties": _block(changes["restate"]),
    }
    return {
        "$schema": DIALECT,
        "title": "A derate rule pack",
        **_block(
            _told(
                {
                    "pack": {"type": "string", "pattern": _RULE_NAME},
                    "title": _TEXT,
                    "covers": _TEXT,
                    "family": {"enum": [*FAMILIES, ""]},
                    "builds_on": _one_or_more(_TEXT),
                    "sources": _named(source),
                    "tables": _named(_table()),
                    "assumptions": _named(assumption),
                    "rules": {"type": "array", "items": _rule()},
                    "tighten": _named(_block(changes["tighten"])),
                    "relax": _named({**_block(changes["relax"]), **needs_reason}),
                    "switch_off": _named({**_block(changes["switch_off"]), **needs_reason}),
                    "restate": restated,
                },
                OF_PACK,
            ),
            ("pack", "title", "covers"),
        ),
        "$defs": {
            "fact": {"enum": sorted(VOCABULARY)},
            "conditions": {
                "description": "fact: what it has to be",
                "type": "object",
                "propertyNames": _FACT,
                "additionalProperties": _one_or_more(_LINE),
            },
            "cells": {"anyOf": [_LINE, {"type": "array", "items": _ref("cells")}]},
            "confidences": {"anyOf": [_CONFIDENCE, {"type": "array", "items": _ref("confidences")}]},
            **_SHAPES,
        },
    }


# What the commands print as JSON, as models: the published schemas come from them, and what was printed is read
# again.
#
# The printing itself does without them (`machine.py`): nothing here is on the way of `derate lint`. Numbers are SI
# units and degC; None in `low` or `near` is no lower limit, in `far` or `high` no upper one, elsewhere what was not
# worked out.


OutputSchema = dict[str, Any]
Evidence = Literal[
    "measured",
    "counted",
    "seen",
    "marked",
    "data sheet",
    "drawing",
    "ordered",
    "simulated",
    "calculated",
    "computed",
    "stated",
    "assumed",
]
Count = Annotated[int, ModelField(ge=0)]
Position = Annotated[int, ModelField(ge=1)]
NoLower = Annotated[float | None, ModelField(description="null: no lower limit")]
NoUpper = Annotated[float | None, ModelField(description="null: no upper limit")]
_M = TypeVar("_M", bound="_Model")


class _Model(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Ends(_Model):
    """near to far is what is not known about this one sample, low to high adds stated tolerance; SI units, degC"""

    low: NoLower
    near: NoLower
    far: NoUpper
    high: NoUpper


class About(_Model):
    """what it is about"""

    kind: str
    names: tuple[str, ...]


class Condition(_Model):
    """the condition; null for what holds always"""

    group: str
    mains: float | None = ModelField(description="rms mains voltage [V]")
    frequency: float | None = ModelField(description="mains frequency [Hz]")
    load: str
    ambient: float | None = ModelField(description="site ambient [degC]")
    widened: bool = ModelField(description="the mains voltage lies outside the plate, inside its tolerance")
    fault: str


class Acknowledged(_Model):
    """a waiver or open point that attached; an expired one counts for nothing"""

    kind: Literal["waiver", "open point"]
    reason: str
    by: str
    last_day: str
    up_to: float | None
    expired: bool


class Basis(_Model):
    """where the limit comes from"""

    source: str
    confidence: Confidence


class FindingOutput(_Model):
    """One rule over one subject."""

    rule: str
    hazard: Hazard
    severity: Severity
    raised: str = ModelField(description="why a finding of a minor rule counts as major; empty: it does not")
    subject: About
    case: Condition | None
    verdict: Verdict
    stress: Ends | None
    limit: Ends | None
    ratio: float | None = ModelField(description="above 1 is over; null: not worked out, or without bound")
    unit: str = ModelField(description="SI symbol of stress and limit")
    message: str
    remedy: str = ModelField(description="what cures or settles it, with its caution; why not, where it is withheld")
    does: tuple[Does, ...] = ModelField(description="what following the remedy does to sample and person")
    withheld: bool = ModelField(description="the remedy needs power, and this sample is not to be powered")
    basis: Basis
    missing: tuple[str, ...]
    line: Position
    column: Position
    waiver: Acknowledged | None


class MinorCounts(_Model):
    """minor findings that stand beside the word and never turn it"""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)
    fail: Count
    not_assessed: Count = ModelField(alias="not assessed")


class LookedAt(_Model):
    """how many of the critical rules that apply gave a verdict"""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)
    gave_a_verdict: Count = ModelField(alias="gave a verdict")
    apply: Count


class HazardOutput(_Model):
    """What one hazard came to."""

    overall: Overall
    why: str
    hides: dict[Overall, Count] = ModelField(description="what else its critical and major findings came to")
    minor: MinorCounts
    critical_rules: LookedAt
    blocking: Count
    held_back: Count


class Counts(_Model):
    """Findings by verdict."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)
    fail: Count
    not_assessed: Count = ModelField(alias="not assessed")
    marginal: Count
    passed: Count = ModelField(alias="pass")
    not_applicable: Count = ModelField(alias="not applicable")


class PackOutput(_Model):
    """One pack that was used."""

    name: str
    origin: str = ModelField(alias="from", description="its file; empty: it lies with derate")
    shipped: bool = ModelField(description="byte for byte the pack shipped under this name")
    sha256: str = ModelField(description="of its file")


class SofterOutput(_Model):
    """One thing by which the gate is softer than the shipped one."""

    kind: SofterKind
    name: str
    before: str = ModelField(description="as shipped")
    after: str = ModelField(description="as here")
    by: str = ModelField(description="a file, a pack or a name")
    reason: str
    last_day: str


class GateOutput(_Model):
    """what it was judged by"""

    level: Level
    level_from: str = ModelField(description="empty: the shipped law; command line, or a settings file")
    packs: tuple[PackOutput, ...]
    softer: tuple[SofterOutput, ...] = ModelField(description="by what it is softer than the shipped gate")
    libraries: tuple[PackOutput, ...] = ModelField(
        default=(), description="libraries of parts that facts were taken from; left out where there are none"
    )


class UnusedOutput(_Model):
    """A leaf of the file that nothing used."""

    name: str = ModelField(description="its keys, joined with dots")
    said: str
    reason: str
    fact: bool = ModelField(description="false: words for the reader, which state nothing that could be worse")
    path: str
    line: Position
    column: Position


class DesignOutput(_Model):
    """One design."""

    path: str
    gate: GateOutput
    overall: Overall
    not_powered: str = ModelField(description="why this sample is not to be powered; empty: nothing judged forbids it")
    hazards: dict[Hazard, HazardOutput]
    counts: Counts
    findings: tuple[FindingOutput, ...]
    unused: tuple[UnusedOutput, ...] = ModelField(description="what the file states and nothing used")


class Output(_Model):
    """Anything printed as JSON."""

    derate: Literal[1]
    caution: str = ModelField(description="what holds for all of it: no certificate, mains can kill")


class LintOutput(Output):
    """What `derate lint --format json` prints."""

    designs: tuple[DesignOutput, ...]


class PointOutput(Ends):
    """One point of a rating over a condition."""

    at: float
    at_unit: str


class StressOutput(Ends):
    """a row whose four numbers are all null and that has missing facts is not known"""

    subject: About
    quantity: str
    case: Condition | None
    unit: str
    known_by: Evidence
    formula: str
    source: str
    missing: tuple[str, ...] = ModelField(description="facts that would give it, or why there is no value")
    words: tuple[str, ...] = ModelField((), description="of a fact in words: those still possible")
    points: tuple[PointOutput, ...] = ModelField((), description="of a rating over a condition")


class StressesOutput(Output):
    """What `derate stress --format json` prints."""

    design: str
    gate: GateOutput
    stresses: tuple[StressOutput, ...]


class WayOutput(_Model):
    """how it was drawn"""

    draws: Position
    costly_draws: Position = ModelField(description="of models that take no arrays and are slow")
    seed: int
    form: Literal["uniform", "normal"]
    sigmas: float | None = ModelField(description="at which the ends of a normal tolerance lie; null: uniform")
    together: float = ModelField(description="correlation of the tolerances of parts of one lot")


class TwoEnds(_Model):
    """two ends; null: open"""

    low: float | None
    high: float | None


class Interval(_Model):
    """share beyond the limit with 95 % confidence: never a single figure"""

    low: Annotated[float, ModelField(ge=0, le=1)]
    high: Annotated[float, ModelField(gt=0, le=1)]


class DrawingOutput(_Model):
    """what the draws gave"""

    draws: Position
    drawn_singly: tuple[str, ...] = ModelField(description="models for whose sake they are fewer")
    mean: float
    sigma: float
    middle_99_73_percent: TwoEnds | None = ModelField(description="0.135 to 99.865 %; null: too few draws to say")
    beyond: Count = ModelField(description="over the limit, with those that gave no figure")
    without_a_figure: Count
    share_at_95_percent: Interval
    edges: tuple[float, ...]
    counts: tuple[Count, ...] = ModelField(description="between each two edges")


class DriverOutput(_Model):
    """one thing that is drawn, and its share of the variance of stress over limit"""

    subject: str
    name: str
    kind: Literal["purchase", "reading", "temperature", "age", "not known", "assumed", "formula", "by hand"]
    stated: bool
    biased: bool
    low: float | None = ModelField(description="as the file gives it; a share for temperature, age and a formula")
    high: float | None
    share: Annotated[float, ModelField(gt=0, le=1)]


class ByItselfOutput(_Model):
    """An entry that no formula alone gives."""

    subject: str
    quantity: str


class SpreadOutput(_Model):
    """One stress that a critical or major rule holds."""

    rule: str
    hazard: Hazard
    severity: Severity
    subject: About
    case: Condition | None
    verdict: Verdict = ModelField(description="of lint: no share turns it")
    unit: str
    asked: Literal["at least", "at most"]
    stress: Ends
    limit: Ends
    extreme_within: bool = ModelField(description="whether the extreme value holds the limit at its worse end")
    safety: bool = ModelField(description="held at its extreme value alone: no root and no draws beside it")
    nominal: float | None
    root: TwoEnds | None = ModelField(description="root sum of squares, biased terms added with their sign")
    draws: DrawingOutput | None
    drivers: tuple[DriverOutput, ...]
    drawn_by_itself: tuple[ByItselfOutput, ...]
    undrawn: str = ModelField(description="why there are no draws; empty: there are, or it is of safety")
    beyond_the_ledger: Count = ModelField(description="draws outside of low to high: a defect of the ledger")


class EndOfSamples(_Model):
    """the sample that lies furthest out one way"""

    value: float | None = ModelField(description="in SI base units; null: open")
    sample: Position


class ShownBySamples(_Model):
    """what so many samples show of the series, of whatever distribution"""

    confidence: Annotated[float, ModelField(ge=0, lt=1)] = ModelField(
        description="that `at_coverage` of the series lie within"
    )
    coverage: Annotated[float, ModelField(ge=0, lt=1)] = ModelField(description="of the series, at `at_confidence`")


class SamplesOutput(_Model):
    """One thing that was read of several samples: order statistics, which ease no limit."""

    quantity: str
    target: str
    condition: str
    samples: Position = ModelField(description="there are")
    read: tuple[Position, ...] = ModelField(description="their numbers")
    missing: tuple[Position, ...]
    lowest: EndOfSamples
    highest: EndOfSamples
    at_coverage: float
    at_confidence: float
    beyond_one_end: ShownBySamples = ModelField(description="no further out than the furthest, one way")
    between_both_ends: ShownBySamples


class SpreadsOutput(Output):
    """What `derate stress --spread --format json` prints."""

    design: str
    gate: GateOutput
    way: WayOutput
    rows: tuple[SpreadOutput, ...]
    samples: tuple[SamplesOutput, ...]
    notes: tuple[str, ...]


class FaultOutput(_Model):
    """One single fault at one mains voltage."""

    fault: str
    subject: About
    case: Condition | None
    current_rms: Ends | None
    current_peak: Ends | None
    i2t: Ends | None
    clears: str
    opening: Literal["shown", "not shown", "nothing to open"]
    time: Ends | None
    note: str


class FaultsOutput(Output):
    """What `derate faults --format json` prints."""

    design: str
    gate: GateOutput
    faults: tuple[FaultOutput, ...]


class InsulationFigures(_Model):
    """four numbers in SI units; null: an open end"""

    low: float | None
    near: float | None
    far: float | None
    high: float | None


class PathOutput(_Model):
    """One path between two circuits."""

    name: str
    insulation: tuple[str, ...] = ModelField(description="every class still possible")
    why: str
    verdict: Verdict
    share: float | None = ModelField(description="found over needed at the bad end; null: one of them is not known")
    needed_clearance: InsulationFigures | None
    found_clearance: InsulationFigures | None
    needed_creepage: InsulationFigures | None
    found_creepage: InsulationFigures | None
    working_voltage: InsulationFigures | None = ModelField(description="rms [V]")
    working_voltage_peak: InsulationFigures | None = ModelField(description="[V]")
    entries: dict[str, Count] = ModelField(description="number of the entry of each figure")


class StrengthOutput(_Model):
    """electric strength [V peak]"""

    needed: InsulationFigures | None
    tested: InsulationFigures | None
    result: str | None


class PairOutput(_Model):
    """Two circuits and every path between them."""

    role: str
    subject: tuple[str, ...] | None
    insulation: tuple[str, ...]
    why: str
    verdict: Verdict
    weakest: str | None = ModelField(description="path with the least share; null: none can be compared yet")
    open_paths: tuple[str, ...] = ModelField(description="paths without a stated distance")
    electric_strength: StrengthOutput
    entries: dict[str, Count]
    paths: tuple[PathOutput, ...]


class FamilyOutput(_Model):
    """One family of insulation rules."""

    family: str
    pairs: tuple[PairOutput, ...]


class InsulationOutput(Output):
    """What `derate insulation --format json` prints."""

    design: str
    gate: GateOutput
    families: tuple[FamilyOutput, ...]


class WordOutput(_Model):
    """A finding by its word alone."""

    rule: str
    subject: About
    severity: Severity
    verdict: Verdict
    ratio: float | None = ModelField(description="above 1 is over; null: not worked out, or without bound")


class CurveOutput(_Model):
    """a rating over a condition"""

    points: tuple[PointOutput, ...]


class EndOutput(_Model):
    """How far one axis goes."""

    axis: str
    unit: str
    rated: float | None
    end: float | None = ModelField(description="the last point that holds; null: none was found")
    open: bool = ModelField(description="looking ended before anything stopped it")
    stops: WordOutput | None
    why: str


class CureOutput(_Model):
    """The least rating with which a failing finding passes."""

    finding: WordOutput
    quantity: str
    unit: str
    least: Ends | CurveOutput | None


class MovedOutput(_Model):
    """a finding as it is and as it would be; null: there is none"""

    before: WordOutput | None
    after: WordOutput | None


class ChangeOutput(_Model):
    """One fact of parts and what the next ones would have."""

    subjects: tuple[About, ...] = ModelField(description="those of the parts stepped together of which it holds")
    quantity: str
    unit: str
    before: Ends | CurveOutput | None
    after: Ends | CurveOutput | None = ModelField(description="null: nobody would know it")


class InrushOutput(_Model):
    """A stress at switch-on or a restart that rises."""

    subject: About
    quantity: str
    factor: float


class NextValueOutput(_Model):
    """What the next usual value of a part would bring."""

    subjects: tuple[About, ...] = ModelField(description="parts alike in one place, stepped together")
    series: str
    source: str
    changes: tuple[ChangeOutput, ...] = ModelField(description="the first is the stepped one")
    brings: tuple[MovedOutput, ...]
    worse: tuple[MovedOutput, ...] = ModelField(description="every other finding with a worse word or greater ratio")
    inrush: tuple[InrushOutput, ...]
    left_as_stated: tuple[str, ...] = ModelField(description="figures that the next part has otherwise")


class WithoutOutput(_Model):
    """A finding whose part has no usual next value."""

    finding: WordOutput
    quantity: str


class HeadroomOutput(Output):
    """What `derate headroom --format json` prints."""

    design: str
    gate: GateOutput
    not_assessed: Count = ModelField(description="findings that block and are not assessed, left aside")
    failing: tuple[WordOutput, ...] = ModelField(description="fail and block at the rated point, set aside")
    stopped: bool = ModelField(description="at the most work that a study may take")
    ends: tuple[EndOutput, ...]
    cures: tuple[CureOutput, ...]
    next_values: tuple[NextValueOutput, ...]
    without_next_value: tuple[WithoutOutput, ...]
    not_tried: tuple[About, ...] = ModelField(description="parts whose next value was beyond what a study may take")


class FigureOutput(_Model):
    """One figure of an entry of a library."""

    key: str = ModelField(description="such as rated.voltage")
    maker: str = ModelField(description="whose figure; empty: it holds for every maker")
    said: str = ModelField(description="as the library writes it")
    value: Ends | CurveOutput | None = ModelField(description="in SI units; null: it is a word, or nobody knows it")
    unit: str = ModelField(description="SI symbol of the value; empty: it has none")
    known_by: str
    confidence: str = ModelField(description="how sure its source is; empty: its source says nothing of that")
    source: str
    line: Position


class OverruledOutput(_Model):
    """A figure that a design states itself in place of that of the library."""

    key: str
    before: str = ModelField(description="as the library writes it")
    after: str = ModelField(description="as the design writes it")
    raised: bool = ModelField(description="kinder than the library gives it, which needs a source")
    source: str


class UsedByOutput(_Model):
    """A part of a design that takes its facts from an entry."""

    design: str
    line: Position
    part: str
    maker: str
    overruled: tuple[OverruledOutput, ...]


class EntryOutput(_Model):
    """One entry of a library."""

    name: str
    kind: str
    path: str
    line: Position
    figures: tuple[FigureOutput, ...]
    used_by: tuple[UsedByOutput, ...]


class ProblemOutput(_Model):
    """One thing that is wrong with a library or a design."""

    path: str
    line: Count = ModelField(description="0: of the whole file")
    column: Count
    what: str
    instead: str = ModelField(description="what to write; empty: nothing to be told")


class VerdictMoved(_Model):
    """a finding whose verdict is another with the figure set"""

    way: Literal["worse", "better", "other"]
    rule: str
    subject: About
    before: Verdict | None = ModelField(description="null: it was not asked before")
    after: Verdict | None = ModelField(description="null: it is no longer asked")


class TriedDesign(_Model):
    """What the figure that was set does to one design."""

    design: str
    parts: tuple[str, ...] = ModelField(description="those that have the figure from the library")
    own: tuple[str, ...] = ModelField(description="those whose figure is the design's own: on them nothing moves")
    moved: tuple[VerdictMoved, ...]
    blocking_before: Count
    blocking_after: Count


class SetOutput(_Model):
    """the one figure that was set; nothing was written"""

    part: str
    maker: str = ModelField(description="of whose parts alone; empty: of all")
    key: str
    said: str
    designs: tuple[TriedDesign, ...]


class PartsOutput(Output):
    """What `derate parts --format json` prints."""

    libraries: tuple[PackOutput, ...]
    parts: tuple[EntryOutput, ...] = ModelField(description="of the name that was asked for, or all")
    change: SetOutput | None = ModelField(description="null without --set")
    problems: tuple[ProblemOutput, ...] = ModelField(description="of the libraries with --check, else of the designs")


class KnownFindingRecord(_Model):
    """One recorded finding."""

    verdict: Verdict
    ratio: Annotated[float, ModelField(ge=0)] | Literal["infinite"] | None
    missing: tuple[str, ...] = ModelField(description="facts it waited for")
    content: str = ModelField(description="digest of what was said of its subject")


class KnownRecord(_Model):
    """What `derate lint --record` writes: findings by the name of their design and by what they are recognised by."""

    derate: Literal[2]
    reason: Annotated[str, ModelField(pattern=r"\S")] = ModelField(description="why they are held back")
    by: Annotated[str, ModelField(pattern=r"\S")] = ModelField(description="who answers for it")
    last_day: Annotated[str, ModelField(pattern=r"^\d{4}-\d{2}-\d{2}$")] = ModelField(
        description="last day they are held back"
    )
    known: dict[str, dict[str, KnownFindingRecord]]


MODELS: dict[str, tuple[type[_Model], str]] = {
    "lint": (LintOutput, "derate lint --format json"),
    "stress": (StressesOutput, "derate stress --format json"),
    "spread": (SpreadsOutput, "derate stress --spread --format json"),
    "faults": (FaultsOutput, "derate faults --format json"),
    "insulation": (InsulationOutput, "derate insulation --format json"),
    "headroom": (HeadroomOutput, "derate headroom --format json"),
    "parts": (PartsOutput, "derate parts --format json"),
    "known": (KnownRecord, "derate lint --record"),
}


def output_schema(kind: str) -> OutputSchema:
    """The published JSON Schema of one kind of output."""
    model, title = MODELS[kind]
    schema = _plain(model.model_json_schema(by_alias=True))
    return {"$schema": DIALECT, **schema, "title": title}


def _plain(schema: Any) -> Any:
    """Without the titles a model library gives every key."""
    if isinstance(schema, list):
        return [_plain(one) for one in schema]
    if not isinstance(schema, dict):
        return schema
    kept = {key: value for key, value in schema.items() if key != "title" or not isinstance(value, str)}
    return {
        key: {name: _plain(one) for name, one in value.items()} if key in ("properties", "$defs") else _plain(value)
        for key, value in kept.items()
    }


def problems_of(text: str, path: str, kind: str) -> tuple[Problem, ...]:
    """Everything in which a JSON text is not what `kind` prints, each with the way to it; none when it is."""
    from jsonschema import Draft202012Validator

    try:
        data = json.loads(text)
    except json.JSONDecodeError as error:
        return (Problem(Place(path, error.lineno, error.colno), f"this is no JSON: {error.msg}", "print it anew"),)
    except RecursionError:
        return (Problem(Place(path), "this JSON is nested too deep", "print it anew"),)
    errors = sorted(
        Draft202012Validator(output_schema(kind)).iter_errors(data), key=lambda one: list(map(str, one.path))
    )
    return tuple(Problem(Place(path), _told_of_output(one), f"print it anew with {MODELS[kind][1]}") for one in errors)


def _told_of_output(error: Any) -> str:
    way = "".join(f"[{one}]" if isinstance(one, int) else f".{one}" for one in error.absolute_path).lstrip(".")
    return f"{way or 'the whole'}: {error.message[:200]}"


def read_output(text: str, path: str, model: type[_M]) -> _M:
    """What a command printed as JSON, read again. Raises ReadingError with everything that is not as published."""
    kind = next(name for name, (own, _) in MODELS.items() if own is model)
    problems = problems_of(text, path, kind)
    if problems:
        raise ReadingError(problems)
    return model.model_validate_json(text)


# JSON Schemas of the outputs, from their models; tests hold real outputs to them.


OUTPUTS = {kind: output_schema(kind) for kind in MODELS}
LINT, STRESS, FAULTS, KNOWN = (OUTPUTS[kind] for kind in ("lint", "stress", "faults", "known"))
