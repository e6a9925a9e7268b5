"""What somebody signed for: waivers, open points, and the known findings of an old design."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from math import inf, isinf
from typing import Any

from derate.judge.review import Acknowledgement, Finding, Review
from derate.ledger.entry import Entry, Subject
from derate.packs.compiled import digest_of
from derate.terms.tuples import NamedTuple
from derate.terms.values import Place, Problem, ReadingError
from derate.terms.words import ATTENTION, LONGEST_DAYS, VERDICTS, WAIVABLE, Hazard

# What somebody signed for: waivers and open points, and how far a signature reaches.


# Waivers and open points: what somebody signed for, until when, and what became of it.
#
# A waiver stands beside a fail whose ratio it covers; an open point beside a `not assessed`. Neither changes a word.
# The last day counts; a malformed or expired one counts for nothing and is told. Today is an argument.


class Limits(NamedTuple):
    """How far a signature reaches: its last day at most so far ahead [days], and the hazards whose critical fails it
    may cover."""

    longest_days: int = LONGEST_DAYS
    critical_waivers: tuple[Hazard, ...] = ()


NO_MORE = Limits()


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


def too_far(last_day: date, today: date, limits: Limits) -> str:
    """Why a last day lies too far ahead, '' when it does not."""
    latest = _later(today, limits.longest_days)
    if last_day <= latest:
        return ""
    return f"its last day lies more than {limits.longest_days} days ahead, and {latest.isoformat()} is the latest now"


def _later(today: date, days: int) -> date:
    return date.max if (date.max - today).days < days else today + timedelta(days)


def out_of_reach(one: Waiver | OpenPoint, finding: Finding, limits: Limits) -> str:
    """Why a waiver may not cover a finding however well it is written, '' when it may."""
    if finding.of_gate:
        return "what packs are in use is for the settings and the command line to say"
    heavy = isinstance(one, Waiver) and finding.severity == "critical" and finding.hazard in WAIVABLE
    if heavy and finding.hazard not in limits.critical_waivers:
        return (
            f"a critical fail of {finding.hazard} is waived only where the settings at the root of the repository say "
            f"critical_waivers: [{finding.hazard}]"
        )
    return ""


def acknowledgement(
    finding: Finding, given: Sequence[Waiver | OpenPoint], today: date, limits: Limits = NO_MORE
) -> tuple[Acknowledgement | None, Waiver | OpenPoint | None]:
    """What stands beside a finding: the first that is in force, else the first that has expired."""
    expired: tuple[Acknowledgement, Waiver | OpenPoint] | None = None
    for one in given:
        if faults(one) or not covers(one, finding) or one.last_day is None:
            continue
        if too_far(one.last_day, today, limits) or out_of_reach(one, finding, limits):
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
    given: Sequence[Waiver | OpenPoint],
    used: Sequence[Waiver | OpenPoint],
    findings: Sequence[Finding],
    today: date,
    limits: Limits = NO_MORE,
) -> tuple[str, ...]:
    """What has to be said about waivers and open points: malformed, expired, not used and why."""
    told = []
    counted = {id(one) for one in used}
    by_rule: dict[str, list[Finding]] = {}
    for finding in findings:
        by_rule.setdefault(finding.rule, []).append(finding)
    for one in given:
        what = "waiver" if isinstance(one, Waiver) else "open point"
        head = f"{one.place}: {what} for {one.rule or 'no rule'} on {one.subject_name or 'nothing named'}"
        if fault := faults(one):
            told.append(f"{head} counts for nothing: {fault}")
        elif one.last_day is not None and one.last_day < today:
            told.append(f"{head} expired after {one.last_day.isoformat()}")
        elif one.last_day is not None and (far := too_far(one.last_day, today, limits)):
            told.append(f"{head} counts for nothing: {far}")
        elif id(one) not in counted:
            told.append(f"{head} is not used: {_why_not(one, by_rule.get(one.rule, ()), limits)}")
    return tuple(told)


def _why_not(one: Waiver | OpenPoint, of_rule: Sequence[Finding], limits: Limits) -> str:
    if not of_rule:
        return f"no rule {one.rule} looked"
    about = [finding for finding in of_rule if is_about(one.subject_name, finding.subject)]
    if not about:
        return f"{one.rule} did not look at {one.subject_name}"
    finding = about[0]
    beyond = next((why for each in about if covers(one, each) and (why := out_of_reach(one, each, limits))), "")
    if beyond:
        return beyond
    if finding.verdict == "fail" and isinstance(one, Waiver):
        if one.up_to is None:
            return f"it has no up_to, and the ratio is {finding.ratio:.3g}"
        return f"it reaches up to {one.up_to:g}, and the ratio is {finding.ratio:.3g}"
    return f"the finding is '{finding.verdict}'"


# Known findings of an old design: recorded once, held back afterwards until a last day; new or worse ones stop.
#
# A record is signed for as a waiver is: a reason, a name, a last day, once for the file; after that day it holds back
# nothing. A design is recognised by the name it gives its supply, a finding by rule and subject, neither by the path
# or the line where it stands: a move loses nothing. The same verdict at a ratio more than 2 % above the recorded one
# is worse, and so is what waits for a fact that it did not wait for; where neither can be said, the subject has to be
# the one that was recorded, fact by fact. A fail that became `not assessed` is new, and so is the other way round.


WORSE = 1.02  # a ratio this much above the recorded one is a new finding: rounding and a re-measured value stay below
FORM = 2  # of the file


class KnownFinding(NamedTuple):
    """What was recorded of one finding.

    missing: facts it waited for; content: digest of what the file said of its subject
    """

    verdict: str
    ratio: float | None
    missing: tuple[str, ...] = ()
    content: str = ""


Known = Mapping[str, KnownFinding]


class Signed(NamedTuple):
    """Why findings are held back, who answers for it, and the last day of it."""

    reason: str
    by: str
    last_day: date


class KnownRecord(NamedTuple):
    """A file of known findings: where it lies, who signed for it, and the findings by the name of their design."""

    path: str
    signed: Signed
    designs: Mapping[str, Known]


def fingerprint(finding: Finding) -> str:
    """What a finding is recognised by."""
    return " | ".join((finding.rule, finding.subject.kind, *finding.subject.names))


class Contents:
    """What a file says of each subject, wherever it says it: looked through once for however many subjects."""

    def __init__(self, entries: Iterable[Entry]) -> None:
        self._entries = entries
        self._own: dict[Subject, list[Entry]] = {}
        self._named: dict[str, list[Entry]] = {}
        self._digests: dict[Subject, str] = {}

    def of(self, subject: Subject) -> str:
        """Digest of everything that is said of a subject."""
        if not self._own:
            for one in self._entries:
                if one.place is not None:
                    self._own.setdefault(one.subject, []).append(one)
                    for name in set(one.subject.names):
                        self._named.setdefault(name, []).append(one)
        if subject not in self._digests:
            rows = {id(one): one for one in self._own.get(subject, ())}
            for name in subject.names:
                rows |= {id(one): one for one in self._named.get(name, ())}
            said = sorted(f"{one.subject}|{one.quantity}|{one.value!r}" for one in rows.values())
            self._digests[subject] = digest_of("\n".join(said).encode("utf-8", "backslashreplace"))[:16]
        return self._digests[subject]


def is_known(finding: Finding, known: Known, contents: Contents) -> bool:
    """Whether a finding was recorded and is no worse now. What packs are in use is never a known finding."""
    earlier = known.get(fingerprint(finding))
    if earlier is None or earlier.verdict != finding.verdict or finding.of_gate:
        return False
    if finding.verdict == "not assessed" and finding.missing:
        return {str(one) for one in finding.missing} <= set(earlier.missing)
    if finding.verdict != "not assessed" and finding.ratio is not None and earlier.ratio is not None:
        return finding.ratio <= earlier.ratio * WORSE
    return contents.of(finding.subject) == earlier.content


def record(reviews: Iterable[Review], signed: Signed) -> str:
    """Today's fails, marginals and not-assessed findings of designs, as JSON; the same input gives the same bytes.

    Raises ReadingError where two designs have one name, which a record could not tell apart.
    """
    import json  # only ever needed when a record is written or read

    designs: dict[str, dict[str, object]] = {}
    for review in sorted(reviews, key=lambda review: review.name):
        if review.name in designs:
            what = f"two designs name their supply '{review.name[:60]}', and a record could not tell them apart"
            raise ReadingError([Problem(Place(review.path), what, "give each its own name under supply:")])
        contents = Contents(review.ledger)
        designs[review.name] = {
            fingerprint(one): {
                "verdict": one.verdict,
                "ratio": _written(one.ratio),
                "missing": sorted({str(fact) for fact in one.missing}),
                "content": contents.of(one.subject),
            }
            for one in sorted(review.findings, key=fingerprint)
            if one.verdict in ATTENTION and not one.of_gate
        }
    whole = {
        "derate": FORM,
        "reason": signed.reason,
        "by": signed.by,
        "last_day": signed.last_day.isoformat(),
        "known": designs,
    }
    return json.dumps(whole, indent=1, ensure_ascii=False) + "\n"


class NobodySigned(ReadingError):
    """A record of an earlier form, without reason, name and last day."""


def read_record(text: str, path: str) -> KnownRecord:
    """A file of known findings. Raises ReadingError when the text is none, NobodySigned when nobody signed for it.

    Held to the shape that the published schema gives it, by hand: a gate reads this every time, and a library that
    checks schemas takes longer to load than the rest. What is wrong it tells (`derate.report.schemas.problems_of`).
    """
    import json

    instead = "write it anew with --record FILE --reason TEXT --by NAME --last-day DAY"
    try:
        data = json.loads(text)
        if isinstance(data, dict) and type(data.get("derate")) is int and data["derate"] == 1:
            what = "this record gives no reason, no name and no last day, and holds back nothing"
            raise NobodySigned([Problem(Place(path), what, instead)])
        _keys(data, "derate", "reason", "by", "last_day", "known")
        if type(data["derate"]) is not int or data["derate"] != FORM:
            raise ValueError
        signed = Signed(_said(data["reason"]), _said(data["by"]), _day(data["last_day"]))
        designs = {
            design: {mark: _known(one) for mark, one in marks.items()} for design, marks in data["known"].items()
        }
        return KnownRecord(path, signed, designs)
    except json.JSONDecodeError as error:
        place = Place(path, error.lineno, error.colno)
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError):
        place = Place(path)
    raise ReadingError([Problem(place, "this is no record of known findings", instead)])


def _keys(data: object, *keys: str) -> None:
    if not isinstance(data, dict) or set(data) != set(keys):
        raise ValueError


def _said(text: object) -> str:
    if not isinstance(text, str) or not text.strip():
        raise ValueError
    return text.strip()


def _day(text: object) -> date:
    if not isinstance(text, str) or len(text) != 10:
        raise ValueError
    return date.fromisoformat(text)


def _known(data: dict[str, Any]) -> KnownFinding:
    _keys(data, "verdict", "ratio", "missing", "content")
    missing, content = data["missing"], data["content"]
    if data["verdict"] not in VERDICTS or not isinstance(missing, list) or not isinstance(content, str):
        raise ValueError
    if not all(isinstance(one, str) for one in missing):
        raise ValueError
    return KnownFinding(data["verdict"], _read(data["ratio"]), tuple(missing), content)


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
