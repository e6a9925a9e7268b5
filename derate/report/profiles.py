"""Derating profiles side by side: the word of each on one design, and the parts it has no row for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from derate.judge.review import Finding, Review
from derate.report.words import listed, plain
from derate.terms.words import VERDICTS, Verdict

PROFILE = "profile-"  # how the name of every derating profile begins
ROW = "-has-a-row"  # how the rule ends that asks whether a profile has a row for a part


def profile_lines(reviews: Iterable[Review]) -> Iterator[str]:
    """One line for each profile and design, in the order in which the profiles are named."""
    for review in reviews:
        found: dict[str, list[Finding]] = {}
        for one in review.findings:
            if one.pack.startswith(PROFILE) and one.verdict != "not applicable":
                found.setdefault(one.pack, []).append(one)
        for pack, findings in found.items():
            yield f"{plain(review.path)}: {pack}: {profile_words(findings)}"


def profile_words(findings: Iterable[Finding]) -> str:
    """The worst verdict with the count of each, then the parts that the profile has no row for, by name."""
    own = list(findings)
    rows = [one for one in own if one.rule.endswith(ROW)]
    asked: Counter[Verdict] = Counter(one.verdict for one in own if one not in rows)
    without = [plain(str(one.subject)) for one in rows if one.verdict != "pass"]
    word = next((verdict for verdict in VERDICTS if asked[verdict]), "not assessed")
    if without and word in ("marginal", "pass"):
        word = "not assessed"  # a part without a row is not held to anything
    counts = ", ".join(f"{asked[verdict]} {verdict}" for verdict in VERDICTS if asked[verdict]) or "nothing asked"
    told = f"; not assessed, this profile has no row: {listed(without, 40)}" if without else ""
    return f"{word} ({counts}){told}"
