"""The closed words: verdicts, hazards, severities, confidence, evidence, part kinds by family."""

from __future__ import annotations

from typing import Literal, get_args

# The words of verdicts, hazards, severities, confidence and evidence, each in its order.


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
    "test",
]

HAZARDS: tuple[Hazard, ...] = ("fire", "shock", "overstress", "life", "interference", "rating")
SEVERITIES: tuple[Severity, ...] = ("critical", "major", "minor")
CONFIDENCES: tuple[Confidence, ...] = ("published", "one source", "common practice", "remembered")
VERDICTS: tuple[Verdict, ...] = ("fail", "not assessed", "marginal", "pass", "not applicable")
HOLDS: tuple[Verdict, ...] = ("pass", "marginal")  # the limit is kept
ATTENTION: tuple[Verdict, ...] = ("fail", "not assessed", "marginal")  # somebody has to look; the worst first
NOT_SHOWN: tuple[Verdict, ...] = ("fail", "not assessed")  # nobody has shown that it holds
HEAVY: tuple[Severity, ...] = ("critical", "major")
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


# The precise part kinds of the format, one noun each, by family.


RESISTORS = (
    "film resistor",
    "metal oxide resistor",
    "wirewound resistor",
    "fusible film resistor",
    "fusible wirewound resistor",
)
CAPACITORS = ("electrolytic capacitor", "solid electrolytic capacitor", "film capacitor", "ceramic capacitor")
DIODES = (
    "line diode",
    "signal diode",
    "fast diode",
    "ultrafast diode",
    "Schottky diode",
    "zener diode",
    "suppressor diode",
)
SINGLE = (
    "fuse",
    "board track",
    "NTC thermistor",
    "varistor",
    "common-mode choke",
    "choke",
    "bridge rectifier",
    "MOSFET",
    "bipolar transistor",
    "integrated switch",
    "controller",
    "optocoupler",
    "shunt reference",
    "spark gap",
    "thyristor",
    "relay",
    "LED",
)
PART_KINDS = (*RESISTORS, *CAPACITORS, *DIODES, *SINGLE)
