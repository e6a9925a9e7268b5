"""The closed words: verdicts, hazards, evidence, part kinds, outcomes of tests, points of a supply."""

from __future__ import annotations

from typing import Literal, get_args

# The closed words: verdicts, hazards, severities, confidence, evidence, part kinds by family.


# The words of verdicts, hazards, severities, confidence and evidence, each in its order.


Verdict = Literal["pass", "marginal", "fail", "not assessed", "not applicable"]
Hazard = Literal["fire", "shock", "overstress", "life", "interference", "rating"]
Severity = Literal["critical", "major", "minor"]
Confidence = Literal["published", "one source", "common practice", "remembered"]
Overall = Literal["fail", "fail, held back", "fail, waived", "not assessed", "not judged", "marginal", "pass"]
Level = Literal["fail", "default", "not-assessed", "marginal"]  # what stops the exit status
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
    "port",
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
LEVELS: tuple[Level, ...] = get_args(Level)  # softest first; each stops at all that those before stop at
WAIVABLE: tuple[Hazard, ...] = ("fire", "shock")  # a critical fail of these is waived only where the root says so
LONGEST_DAYS = 366  # how far ahead a waiver, an open point or a record may last, where the root says nothing [days]
OVERALLS: tuple[Overall, ...] = get_args(Overall)  # worst first
SHOWN: tuple[Overall, ...] = ("marginal", "pass")  # words that say of a hazard that it was shown to hold
NEEDS_A_CRITICAL_RULE: tuple[Hazard, ...] = ("fire", "shock", "overstress")

LIBRARY_ENDING = ".parts.yaml"  # of a file that holds a library of parts

# How a value is known, surest first. `ordered` is what a parts list asks for, and nobody has seen.
# `computed` and `assumed` are also what the ledger gives its own rows.
EVIDENCE: tuple[str, ...] = (
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
    "port controller",
    "optocoupler",
    "shunt reference",
    "linear regulator",
    "thermal link",
    "cut-out",
    "spark gap",
    "thyristor",
    "relay",
    "LED",
)
PART_KINDS = (*RESISTORS, *CAPACITORS, *DIODES, *SINGLE)


# What a test or a look at a sample may come to, and what each word means: adverse, favourable, or nothing said.
#
# Whoever judges asks for the meaning, never for the word. A word that is not on the list is refused where it is read.


Meaning = Literal["adverse", "favourable", "nothing said"]

TESTS = (
    "overload",
    "electric strength",
    "insulation resistance",
    "touch current",
    "discharge",
    "earth continuity",
    "fault",
)
RESULTS: dict[str, Meaning] = {
    "held": "favourable",
    "passed": "favourable",
    "survived": "favourable",
    "broke down": "adverse",
    "failed": "adverse",
    "flashover": "adverse",
    "arced": "adverse",
    "opened": "adverse",
    "did not open": "adverse",
    "shut down": "favourable",
    "caught fire": "adverse",
    "flames": "adverse",
    "smoked": "adverse",
    "glowed": "adverse",
    "melted": "adverse",
    "burst": "adverse",
    "tripped": "adverse",
    "not done": "nothing said",
    "unknown": "nothing said",
}
# The same word of another kind of test: what protects may open on a fault, and has to.
_OF_A_FAULT: dict[str, Meaning] = {"opened": "favourable", "tripped": "favourable"}
_ONLY_OF_A_FAULT = ("did not open",)
_ONLY_OF_OVERLOAD_OR_FAULT = ("shut down", "opened")

# Ways to say of an inspection that somebody looked and found none, and that nobody looked.
FOUND_NOTHING = (
    "none",
    "nothing",
    "clean",
    "not seen",
    "no",
    "absent",
    "not found",
    "none found",
    "none seen",
    "nothing found",
    "nothing seen",
)
NOT_LOOKED = ("unknown", "not looked at", "not done", "not inspected")


def results_of(test: str) -> tuple[str, ...]:
    """The words a kind of test may come to."""
    if test == "fault":
        return tuple(RESULTS)
    left_out = _ONLY_OF_A_FAULT if test == "overload" else (*_ONLY_OF_A_FAULT, *_ONLY_OF_OVERLOAD_OR_FAULT)
    return tuple(word for word in RESULTS if word not in left_out)


def meaning_of(test: str, result: str) -> Meaning:
    """What a result means for a kind of test."""
    if test == "fault" and result in _OF_A_FAULT:
        return _OF_A_FAULT[result]
    return RESULTS[result]


def meaning_of_look(text: str) -> Meaning:
    """What an entry of an inspection that asks for faults means: anything found is adverse."""
    if text in FOUND_NOTHING:
        return "favourable"
    return "nothing said" if text in NOT_LOOKED else "adverse"


# Circuits and points of a supply, by the words a file uses for them.


# Circuits that insulation lies between.
CIRCUITS = ("line", "neutral", "primary", "secondary", "earth", "touchable")
# Points of the primary that every supply with a bulk capacitor has. Outputs add `OUTPUT plus` and `OUTPUT minus`,
# series parts of the mains path `after PART`, transformers `T1 core` and `T1.WINDING`.
RAILS = ("bulk plus", "bulk minus", "switch node")
# Said of a core or a shield that is tied to nothing.
FLOATING = ("floating", "none")
