"""What the commands print as JSON, as models: the published schemas come from them, and what was printed is read again.

The printing itself does without them (`machine.py`): nothing here is on the way of `derate lint`. Numbers are SI units
and degC; None in `low` or `near` is no lower limit, in `far` or `high` no upper one, elsewhere what was not worked out.
"""

from __future__ import annotations

import json
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field

from derate.report.design_schema import DIALECT
from derate.terms.place import Place, Problem, ReadingError
from derate.terms.words import Confidence, Hazard, Overall, Severity, Verdict

Schema = dict[str, Any]
Evidence = Literal[
    "measured",
    "counted",
    "seen",
    "marked",
    "data sheet",
    "drawing",
    "simulated",
    "calculated",
    "computed",
    "stated",
    "assumed",
]
Count = Annotated[int, Field(ge=0)]
Position = Annotated[int, Field(ge=1)]
NoLower = Annotated[float | None, Field(description="null: no lower limit")]
NoUpper = Annotated[float | None, Field(description="null: no upper limit")]
_M = TypeVar("_M", bound="Output")


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
    mains: float | None = Field(description="rms mains voltage [V]")
    frequency: float | None = Field(description="mains frequency [Hz]")
    load: str
    ambient: float | None = Field(description="site ambient [degC]")
    widened: bool = Field(description="the mains voltage lies outside the plate, inside its tolerance")
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
    subject: About
    case: Condition | None
    verdict: Verdict
    stress: Ends | None
    limit: Ends | None
    ratio: float | None = Field(description="above 1 is over; null: not worked out, or without bound")
    unit: str = Field(description="SI symbol of stress and limit")
    message: str
    remedy: str
    basis: Basis
    missing: tuple[str, ...]
    line: Position
    column: Position
    waiver: Acknowledged | None


class HazardOutput(_Model):
    """What one hazard came to."""

    overall: Overall
    why: str
    blocking: Count
    held_back: Count


class Counts(_Model):
    """Findings by verdict."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)
    fail: Count
    not_assessed: Count = Field(alias="not assessed")
    marginal: Count
    passed: Count = Field(alias="pass")
    not_applicable: Count = Field(alias="not applicable")


class DesignOutput(_Model):
    """One design."""

    path: str
    overall: Overall
    hazards: dict[Hazard, HazardOutput]
    counts: Counts
    findings: tuple[FindingOutput, ...]


class Output(_Model):
    """Anything printed as JSON."""

    derate: Literal[1]


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
    missing: tuple[str, ...] = Field(description="facts that would give it, or why there is no value")
    words: tuple[str, ...] = Field((), description="of a fact in words: those still possible")
    points: tuple[PointOutput, ...] = Field((), description="of a rating over a condition")


class StressesOutput(Output):
    """What `derate stress --format json` prints."""

    design: str
    stresses: tuple[StressOutput, ...]


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
    faults: tuple[FaultOutput, ...]


class KnownFindingRecord(_Model):
    """One recorded finding."""

    verdict: Verdict
    ratio: Annotated[float, Field(ge=0)] | Literal["infinite"] | None


class KnownRecord(Output):
    """What `derate lint --record` writes: findings by the path of their design and by what they are recognised by."""

    known: dict[str, dict[str, KnownFindingRecord]]


MODELS: dict[str, tuple[type[Output], str]] = {
    "lint": (LintOutput, "derate lint --format json"),
    "stress": (StressesOutput, "derate stress --format json"),
    "faults": (FaultsOutput, "derate faults --format json"),
    "known": (KnownRecord, "derate lint --record"),
}


def output_schema(kind: str) -> Schema:
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
    return tuple(Problem(Place(path), _told(one), f"print it anew with {MODELS[kind][1]}") for one in errors)


def _told(error: Any) -> str:
    way = "".join(f"[{one}]" if isinstance(one, int) else f".{one}" for one in error.absolute_path).lstrip(".")
    return f"{way or 'the whole'}: {error.message[:200]}"


def read_output(text: str, path: str, model: type[_M]) -> _M:
    """What a command printed as JSON, read again. Raises ReadingError with everything that is not as published."""
    kind = next(name for name, (own, _) in MODELS.items() if own is model)
    problems = problems_of(text, path, kind)
    if problems:
        raise ReadingError(problems)
    return model.model_validate_json(text)
