"""The overall word of every hazard, and of the whole: worst first, exactly by the findings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from derate.judge.review import FamilyWord, Finding, HazardWord
from derate.terms.words import HAZARDS, NEEDS_A_CRITICAL_RULE, OVERALLS, SEVERITIES, Hazard, Overall

GAVE_A_VERDICT = ("fail", "marginal", "pass")


def word_of(finding: Finding) -> Overall | None:
    """What one finding makes of its hazard; None when it says nothing."""
    if finding.verdict == "fail":
        given = finding.acknowledgement
        return "fail, waived" if given is not None and not given.expired else "fail"
    return None if finding.verdict == "not applicable" else finding.verdict


def looked_at(findings: Iterable[Finding], hazard: Hazard) -> bool:
    """Whether a critical rule gave a verdict on a hazard."""
    return any(
        one.hazard == hazard and one.severity == "critical" and one.verdict in GAVE_A_VERDICT for one in findings
    )


def hazard_words(findings: Sequence[Finding]) -> tuple[HazardWord, ...]:
    """A word for every hazard that a rule looked at, and for those that must be looked at, in their order."""
    words = []
    for hazard in HAZARDS:
        own = [one for one in findings if one.hazard == hazard]
        if hazard in NEEDS_A_CRITICAL_RULE or any(word_of(one) is not None for one in own):
            words.append(_word(hazard, own))
    return tuple(words)


def _word(hazard: Hazard, own: Sequence[Finding]) -> HazardWord:
    worst: Overall = "pass"
    why = ""
    # of equally bad findings the most severe is what decided, and of those the one furthest over
    for one in sorted(own, key=lambda one: (SEVERITIES.index(one.severity), -(one.ratio or 0.0), one.rule)):
        word = word_of(one)
        if word is not None and OVERALLS.index(word) < OVERALLS.index(worst):
            worst, why = word, one.rule
    if OVERALLS.index(worst) <= OVERALLS.index("fail, waived"):
        return HazardWord(hazard, worst, why)
    if hazard in NEEDS_A_CRITICAL_RULE and not looked_at(own, hazard):
        return HazardWord(hazard, "not assessed", "no rule looked")
    if worst == "not assessed":
        return HazardWord(hazard, worst, why)
    remembered = {one.rule for one in own if to_confirm(one)}
    if remembered:
        limits = "1 limit" if len(remembered) == 1 else f"{len(remembered)} limits"
        return HazardWord(hazard, "not assessed", f"{limits} to confirm")
    return HazardWord(hazard, worst, why)


def to_confirm(finding: Finding) -> bool:
    """Whether a finding is a critical pass whose limit is only remembered."""
    held = finding.verdict in ("pass", "marginal")
    return held and finding.severity == "critical" and finding.confidence == "remembered"


def worst_word(words: Iterable[HazardWord]) -> Overall:
    """The worst of several words."""
    return min((one.word for one in words), key=OVERALLS.index, default="not assessed")


def family_words(
    findings: Sequence[Finding], families: Sequence[str], family_of: dict[str, str]
) -> tuple[FamilyWord, ...]:
    """The words of each family on its own: its packs and those that belong to none. Empty for fewer than two."""
    if len(families) < 2:
        return ()
    found = []
    for family in families:
        words = hazard_words([one for one in findings if family_of.get(one.pack, family) in ("", family)])
        found.append(FamilyWord(family, worst_word(words), words))
    return tuple(found)
