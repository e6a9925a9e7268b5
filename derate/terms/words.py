"""The words of verdicts, hazards, severities, confidence and evidence, each in its order."""

from __future__ import annotations

from typing import Literal, get_args

Verdict = Literal["pass", "marginal", "fail", "not assessed", "not applicable"]
Hazard = Literal["fire", "shock", "overstress", "life", "interference", "rating"]
Severity = Literal["critical", "major", "minor"]
Confidence = Literal["published", "one source", "common practice", "remembered"]
Overall = Literal["fail", "fail, waived", "not assessed", "marginal", "pass"]
SubjectKind = Literal[
    "supply",
    "mains",
    "part",
    "winding",
    "winding pair",
    "transformer",
    "circuit",
    "circuit pair",
    "barrier",
    "path",
    "output",
    "bridge",
    "reading",
]

HAZARDS: tuple[Hazard, ...] = ("fire", "shock", "overstress", "life", "interference", "rating")
SEVERITIES: tuple[Severity, ...] = ("critical", "major", "minor")
CONFIDENCES: tuple[Confidence, ...] = ("published", "one source", "common practice", "remembered")
VERDICTS: tuple[Verdict, ...] = ("fail", "not assessed", "marginal", "pass", "not applicable")
SUBJECT_KINDS: tuple[SubjectKind, ...] = get_args(SubjectKind)
OVERALLS: tuple[Overall, ...] = ("fail", "fail, waived", "not assessed", "marginal", "pass")
NEEDS_A_CRITICAL_RULE: tuple[Hazard, ...] = ("fire", "shock", "overstress")

# How a value is known, surest first. `computed` and `assumed` are also what the ledger gives its own rows.
EVIDENCE: tuple[str, ...] = (
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
)


def weaker_confidence(one: Confidence, other: Confidence) -> Confidence:
    """The less sure of two confidences."""
    return one if CONFIDENCES.index(one) >= CONFIDENCES.index(other) else other
