"""Known findings of an old design: recorded once, held back afterwards, new or worse ones stop.

A finding is recognised by rule and subject, never by line or wording. The same verdict at a ratio more than 2 % above
the recorded one is worse; a fail that became `not assessed` is new, and so is the other way round.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf, isinf
from typing import NamedTuple

from derate.judge.review import Finding, Review
from derate.terms.place import Place, Problem, ReadingError

WORSE = 1.02  # a ratio this much above the recorded one is a new finding: rounding and a re-measured value stay below


class KnownFinding(NamedTuple):
    """What was recorded of one finding."""

    verdict: str
    ratio: float | None


Known = Mapping[str, KnownFinding]


def fingerprint(finding: Finding) -> str:
    """What a finding is recognised by."""
    return " | ".join((finding.rule, finding.subject.kind, *finding.subject.names))


def is_known(finding: Finding, known: Known) -> bool:
    """Whether a finding was recorded and is no worse now."""
    earlier = known.get(fingerprint(finding))
    if earlier is None or earlier.verdict != finding.verdict:
        return False
    if finding.verdict == "not assessed" or finding.ratio is None or earlier.ratio is None:
        return earlier.verdict == "not assessed" or finding.ratio is earlier.ratio
    return finding.ratio <= earlier.ratio * WORSE


def record(reviews: Iterable[Review]) -> str:
    """Today's fails, marginals and not-assessed findings of designs, as JSON; the same input gives the same bytes."""
    import json  # only ever needed when a record is written or read

    designs = {
        review.path: {
            fingerprint(one): {"verdict": one.verdict, "ratio": _written(one.ratio)}
            for one in sorted(review.findings, key=fingerprint)
            if one.verdict in ("fail", "not assessed", "marginal")
        }
        for review in sorted(reviews, key=lambda review: review.path)
    }
    return json.dumps({"derate": 1, "known": designs}, indent=1, ensure_ascii=False) + "\n"


def read_record(text: str, path: str) -> dict[str, dict[str, KnownFinding]]:
    """Known findings by design path. Raises ReadingError when the text is no record."""
    import json

    try:
        data = json.loads(text)
        if data["derate"] != 1:
            raise ValueError
        return {
            design: {mark: KnownFinding(str(one["verdict"]), _read(one["ratio"])) for mark, one in marks.items()}
            for design, marks in data["known"].items()
        }
    except json.JSONDecodeError as error:
        place = Place(path, error.lineno, error.colno)
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError):
        place = Place(path)
    raise ReadingError([Problem(place, "this is no record of known findings", "write it anew with --record")])


def _written(ratio: float | None) -> float | str | None:
    if ratio is None:
        return None
    return "infinite" if isinf(ratio) else float(f"{ratio:.6g}")


def _read(ratio: float | str | None) -> float | None:
    if ratio is None:
        return None
    return inf if ratio == "infinite" else float(ratio)
