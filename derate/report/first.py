"""What to act on first: a few things, each with its hazard, severity, ratio and reason.

What fails comes before what is not assessed, severe before less severe; within a severity the worst finding of each
hazard comes before the second of any, so that a long list under one hazard does not hide the next one. Findings of
one rule are one thing. Only what blocks is named, unless nothing does: then what keeps a hazard from a
pass. What nobody has looked at counts as one thing a hazard.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from math import inf

from derate.judge.review import Finding, Review
from derate.report.gather import body, reason, wanted
from derate.report.plain import plain
from derate.report.words import fact_words, listed, number_of, sides, times
from derate.terms.words import HAZARDS, SEVERITIES, Hazard, Severity

_OPEN = ("fail", "not assessed", "marginal")


@dataclass(frozen=True, slots=True)
class First:
    """One thing to act on.

    findings: what it gathers, the worst first; ratio: in words, '' when nothing is compared
    """

    hazard: Hazard
    severity: Severity
    verdict: str
    subject: str
    what: str
    ratio: str
    reason: str
    remedy: str
    findings: tuple[Finding, ...]

    @property
    def word(self) -> str:
        """The verdict, and whether somebody signed for all of it."""
        said = [one.acknowledgement for one in self.findings]
        signed = all(one is not None and not one.expired for one in said)
        if signed:
            return f"{self.verdict}, {'waived' if self.verdict == 'fail' else 'an open point'}"
        return f"{self.verdict}, held back" if all(one.known for one in self.findings) else self.verdict


def act_first(review: Review, most: int = 3) -> tuple[First, ...]:
    """The first things to act on, at most so many."""
    things: list[First] = []
    blocking = review.blocks
    counted = [one for one in review.findings if (one.blocks or not blocking) and one.verdict in _OPEN]
    for severity in SEVERITIES:
        own = [one for one in counted if one.severity == severity]
        things += _failing([one for one in own if one.verdict == "fail"])
        things += _unknown([one for one in own if one.verdict == "not assessed"], severity)
        things += _failing([one for one in own if one.verdict == "marginal"])
    return tuple(sorted(things, key=lambda one: _OPEN.index(one.verdict))[:most])


def _failing(findings: Iterable[Finding]) -> list[First]:
    by_hazard: list[list[First]] = []
    for hazard in HAZARDS:
        own = [one for one in findings if one.hazard == hazard]
        own.sort(key=lambda one: (-(one.ratio if one.ratio is not None else inf), one.rule, one.subject))
        alike: dict[str, list[Finding]] = {}
        for one in own:
            alike.setdefault(one.rule, []).append(one)
        by_hazard.append([_thing(tuple(found)) for found in alike.values()])
    return [one for row in zip_longest(*by_hazard) for one in row if one is not None]


def sentence(text: str) -> str:
    """A text with a capital at its beginning and a full stop at its end, where it begins with a plain small word."""
    text = text.strip()
    if not text:
        return ""
    first = text.partition(" ")[0]
    begun = text[0].upper() + text[1:] if first.isalpha() and first.islower() else text
    return begun if begun.endswith((".", "!", "?", ":")) else begun + "."


def _thing(findings: tuple[Finding, ...]) -> First:
    worst = findings[0]
    ratio = ""
    if worst.ratio is not None and worst.stress is not None and worst.limit is not None:
        ratio = f"ratio {times(worst.ratio, sides(worst.stress, worst.limit, worst.ratio).second)}"
    return First(
        worst.hazard, worst.severity, worst.verdict, listed((plain(str(one.subject)) for one in findings), 3),
        worst.rule, ratio, sentence(body(worst)), sentence(worst.remedy), findings,
    )  # fmt: skip


def _unknown(findings: Sequence[Finding], severity: Severity) -> list[First]:
    things = []
    for hazard in HAZARDS:
        own = tuple(one for one in findings if one.hazard == hazard)
        if own:
            things.append(_gap(hazard, severity, own))
    return things


def _gap(hazard: Hazard, severity: Severity, own: tuple[Finding, ...]) -> First:
    facts = fact_words(wanted(own))
    count = number_of(len(own), f"{severity} finding")
    waits = "waits" if len(own) == 1 else "wait"
    if facts:
        waiting = f"{count} {waits} for {number_of(len(facts), 'fact')}: {listed(facts, 3)}."
    else:
        waiting = f"{count} cannot be judged: {reason(own[0]).removesuffix('.')}."
    verdict = "not assessed" if any(one.verdict == "not assessed" for one in own) else own[0].verdict
    remedy = "Find these facts first; how to get each stands below." if facts else sentence(own[0].remedy)
    rules = tuple(dict.fromkeys(one.rule for one in own))
    return First(hazard, severity, verdict, hazard, listed(rules, 2), "", waiting, remedy, own)
