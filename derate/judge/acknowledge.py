"""What somebody signed for: waivers, open points, and the known findings of an old design."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from math import inf, isinf
from typing import Any, NamedTuple

from derate.judge.review import Acknowledgement, Finding, Review
from derate.ledger.entry import Subject
from derate.terms.values import Place, Problem, ReadingError
from derate.terms.words import ATTENTION, VERDICTS

# Waivers and open points: what somebody signed for, until when, and what became of it.
#
# A waiver stands beside a fail whose ratio it covers; an open point beside a `not assessed`. Neither changes a word.
# The last day counts; a malformed or expired one counts for nothing and is told. Today is an argument.


class Waiver(NamedTuple):
    """A fail that is accepted up to a ratio. `problem`: why it could not be read whole; it then counts for nothing."""

    rule: str
    subject_name: str
    up_to: float | None
    reason: str
    by: str
    last_day: date | None
    place: Place
    problem: str = ""


class OpenPoint(NamedTuple):
    """A `not assessed` that is accepted until its last day."""

    rule: str
    subject_name: str
    reason: str
    by: str
    last_day: date | None
    place: Place
    problem: str = ""


def is_about(name: str, subject: Subject) -> bool:
    """Whether a name in a waiver means this subject: as printed, its names joined, or the transformer of them all."""
    if not name:
        return False
    if name in (str(subject), ".".join(subject.names), ", ".join(subject.names), " and ".join(subject.names)):
        return True
    if len(subject.names) > 1 and sorted(name.split(" – ")) == sorted(subject.names):
        return True  # a pair, in either order
    return bool(subject.names) and all(one.startswith(f"{name}.") for one in subject.names)


def faults(one: Waiver | OpenPoint) -> str:
    """Why a waiver or open point counts for nothing, '' when it is whole."""
    if one.problem:
        return one.problem
    lacking = [
        word for word, given in (("reason", one.reason), ("by", one.by), ("last_day", one.last_day)) if not given
    ]
    if lacking:
        return f"it has no {' and no '.join(lacking)}"
    if isinstance(one, Waiver) and one.up_to is not None and not one.up_to >= 1:
        return f"up_to is {one.up_to:g}, and a fail is above 1"
    return ""


def covers(one: Waiver | OpenPoint, finding: Finding) -> bool:
    """Whether it is about this finding and reaches far enough; its last day is not looked at."""
    if one.rule != finding.rule or not is_about(one.subject_name, finding.subject):
        return False
    if isinstance(one, OpenPoint):
        return finding.verdict == "not assessed"
    if finding.verdict != "fail":
        return False
    # A shape that compares nothing has no ratio, and nothing to reach up to.
    return finding.ratio is None or (one.up_to is not None and finding.ratio <= one.up_to)


def acknowledgement(
    finding: Finding, given: Sequence[Waiver | OpenPoint], today: date
) -> tuple[Acknowledgement | None, Waiver | OpenPoint | None]:
    """What stands beside a finding: the first that is in force, else the first that has expired."""
    expired: tuple[Acknowledgement, Waiver | OpenPoint] | None = None
    for one in given:
        if faults(one) or not covers(one, finding) or one.last_day is None:
            continue
        over = one.last_day < today
        found = Acknowledgement(
            "waiver" if isinstance(one, Waiver) else "open point",
            one.reason,
            one.by,
            one.last_day.isoformat(),
            one.up_to if isinstance(one, Waiver) else None,
            over,
            one.place,
        )
        if not over:
            return found, one
        expired = expired or (found, one)
    return expired or (None, None)


def remarks(
    given: Sequence[Waiver | OpenPoint], used: Sequence[Waiver | OpenPoint], findings: Sequence[Finding], today: date
) -> tuple[str, ...]:
    """What has to be said about waivers and open points: malformed, expired, not used and why."""
    told = []
    for one in given:
        what = "waiver" if isinstance(one, Waiver) else "open point"
        head = f"{one.place}: {what} for {one.rule} on {one.subject_name}"
        if fault := faults(one):
            told.append(f"{head} counts for nothing: {fault}")
        elif one.last_day is not None and one.last_day < today:
            told.append(f"{head} expired after {one.last_day.isoformat()}")
        elif not any(one is other for other in used):
            told.append(f"{head} is not used: {_why_not(one, findings)}")
    return tuple(told)


def _why_not(one: Waiver | OpenPoint, findings: Sequence[Finding]) -> str:
    of_rule = [finding for finding in findings if finding.rule == one.rule]
    if not of_rule:
        return f"no rule {one.rule} looked"
    about = [finding for finding in of_rule if is_about(one.subject_name, finding.subject)]
    if not about:
        return f"{one.rule} did not look at {one.subject_name}"
    finding = about[0]
    if finding.verdict == "fail" and isinstance(one, Waiver):
        if one.up_to is None:
            return f"it has no up_to, and the ratio is {finding.ratio:.3g}"
        return f"it reaches up to {one.up_to:g}, and the ratio is {finding.ratio:.3g}"
    return f"the finding is '{finding.verdict}'"


# Known findings of an old design: recorded once, held back afterwards, new or worse ones stop.
#
# A finding is recognised by rule and subject, never by line or wording. The same verdict at a ratio more than 2 %
# above the recorded one is worse; a fail that became `not assessed` is new, and so is the other way round.


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
            if one.verdict in ATTENTION
        }
        for review in sorted(reviews, key=lambda review: review.path)
    }
    return json.dumps({"derate": 1, "known": designs}, indent=1, ensure_ascii=False) + "\n"


def read_record(text: str, path: str) -> dict[str, dict[str, KnownFinding]]:
    """Known findings by design path. Raises ReadingError when the text is no record.

    Held to the shape that the published schema gives it, by hand: a gate reads this every time, and a library that
    checks schemas takes longer to load than the rest. What is wrong it tells (`derate.report.schemas.problems_of`).
    """
    import json

    try:
        data = json.loads(text)
        _keys(data, "derate", "known")
        if type(data["derate"]) is not int or data["derate"] != 1:
            raise ValueError
        return {design: {mark: _known(one) for mark, one in marks.items()} for design, marks in data["known"].items()}
    except json.JSONDecodeError as error:
        place = Place(path, error.lineno, error.colno)
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError):
        place = Place(path)
    raise ReadingError([Problem(place, "this is no record of known findings", "write it anew with --record")])


def _keys(data: object, *keys: str) -> None:
    if not isinstance(data, dict) or set(data) != set(keys):
        raise ValueError


def _known(data: dict[str, Any]) -> KnownFinding:
    _keys(data, "verdict", "ratio")
    if data["verdict"] not in VERDICTS:
        raise ValueError
    return KnownFinding(data["verdict"], _read(data["ratio"]))


def _written(ratio: float | None) -> float | str | None:
    if ratio is None:
        return None
    return "infinite" if isinf(ratio) else float(f"{ratio:.6g}")


def _read(ratio: object) -> float | None:
    if ratio is None or ratio == "infinite":
        return None if ratio is None else inf
    if not isinstance(ratio, int | float) or isinstance(ratio, bool) or not 0.0 <= ratio < inf:
        raise ValueError
    return float(ratio)
