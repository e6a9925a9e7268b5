"""Known findings of an old design: recorded once, held back afterwards until a last day; new or worse ones stop.

A record is signed for as a waiver is: a reason, a name, a last day, once for the file; after that day it holds back
nothing. A design is recognised by the name it gives its supply, a finding by rule and subject, neither by the path or
the line where it stands: a move loses nothing. The same verdict at a ratio more than 2 % above the recorded one is
worse, and so is what waits for a fact that it did not wait for; where neither can be said, the subject has to be the
one that was recorded, fact by fact. A fail that became `not assessed` is new, and so is the other way round.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from math import inf, isinf
from typing import Any, NamedTuple

from derate.judge.review import Finding, Review
from derate.ledger.entry import Entry, Subject
from derate.packs.compiled import digest_of
from derate.terms.values import Place, Problem, ReadingError
from derate.terms.words import ATTENTION, VERDICTS

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


def content_of(entries: Iterable[Entry], subject: Subject) -> str:
    """Digest of everything that a file says of a subject, wherever it says it."""
    names = set(subject.names)
    said = sorted(
        f"{one.subject}|{one.quantity}|{one.value!r}"
        for one in entries
        if one.place is not None and (one.subject == subject or names & set(one.subject.names))
    )
    return digest_of("\n".join(said).encode("utf-8", "backslashreplace"))[:16]


def is_known(finding: Finding, known: Known, entries: Iterable[Entry]) -> bool:
    """Whether a finding was recorded and is no worse now. What packs are in use is never a known finding."""
    earlier = known.get(fingerprint(finding))
    if earlier is None or earlier.verdict != finding.verdict or finding.of_gate:
        return False
    if finding.verdict == "not assessed" and finding.missing:
        return {str(one) for one in finding.missing} <= set(earlier.missing)
    if finding.verdict != "not assessed" and finding.ratio is not None and earlier.ratio is not None:
        return finding.ratio <= earlier.ratio * WORSE
    return content_of(entries, finding.subject) == earlier.content


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
        designs[review.name] = {
            fingerprint(one): {
                "verdict": one.verdict,
                "ratio": _written(one.ratio),
                "missing": sorted({str(fact) for fact in one.missing}),
                "content": content_of(review.ledger, one.subject),
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
    checks schemas takes longer to load than the rest. What is wrong it tells (`derate.report.outputs.problems_of`).
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
