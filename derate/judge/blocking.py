"""What stops the exit status: the blocking law, and harder or softer levels of it.

A fail of a critical or major rule blocks unless a waiver in force covers it; `not assessed` of a critical or major rule
blocks unless an open point stands beside it. Major too: otherwise deleting the fact under a failing major rule would
open the gate. Minor never blocks.
"""

from __future__ import annotations

from derate.judge.overall import to_confirm
from derate.judge.review import Finding, Review

LEVELS = ("fail", "default", "not-assessed", "marginal")  # softest first; each stops at all that those before stop at


def acknowledged(finding: Finding) -> bool:
    """Whether a waiver or an open point in force stands beside it."""
    return finding.acknowledgement is not None and not finding.acknowledgement.expired


def finding_blocks(finding: Finding, stop_at: str = "default") -> bool:
    """Whether one finding stops the exit status at a level."""
    if finding.known or acknowledged(finding):
        return False
    heavy = finding.severity in ("critical", "major")
    if finding.verdict == "fail":
        return heavy or LEVELS.index(stop_at) >= LEVELS.index("not-assessed")
    if finding.verdict == "not assessed":
        return stop_at in ("not-assessed", "marginal") or (heavy and stop_at == "default")
    if stop_at in ("not-assessed", "marginal") and to_confirm(finding):
        return True  # its hazard is not assessed until somebody has confirmed the limit
    return finding.verdict == "marginal" and stop_at == "marginal"


def blocks(review: Review, stop_at: str | None = None) -> bool:
    """Whether anything in a review stops the exit status; None is the blocking law itself."""
    return any(finding_blocks(one, stop_at or "default") for one in review.findings)
