"""Which stated facts led to a verdict: what a finding looked at, followed back through the rows that gave it.

A fact is heard when a finding that came to a word used it, or used a row that was worked out from it. A rating that
nothing asks is no fact too many: somebody wrote down what a part stands, and nobody held it against anything.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from derate.judge.review import Finding, Step, Told
from derate.judge.verdict import NO_PACK
from derate.ledger.entry import Entry, Subject
from derate.ledger.ledger import Ledger
from derate.terms.part_terms import LIMITS
from derate.terms.values import Category, Place
from derate.terms.vocabulary import VOCABULARY

OWN = NO_PACK  # the pack name of findings that no rule made
_SETTLE = "say where the part stands and what it carries, or hold the rating against its stress by hand and sign for it"
ASKED = "rating-is-asked"  # what may be signed for like a rule of a pack


def is_fitted(ledger: Ledger, subject: Subject) -> bool:
    """Whether a subject is there at all: a part that is not fitted has nothing to stand."""
    fitted = ledger.find(subject, "part.fitted") if subject.kind == "part" else None
    return fitted is None or not isinstance(fitted.value, Category) or fitted.value.word != "no"


def heard(ledger: Ledger, findings: Iterable[Finding]) -> frozenset[int]:
    """Numbers of all rows that findings came from, those of rules that do not apply left out."""
    waiting = [number for one in findings if one.verdict != "not applicable" for number in one.entries]
    seen: set[int] = set()
    while waiting:
        number = waiting.pop()
        if number not in seen:
            seen.add(number)
            waiting += ledger[number].inputs
    return frozenset(seen)


def unasked(ledger: Ledger, findings: Sequence[Finding], path: str) -> list[Finding]:
    """A finding for every part with ratings that nothing held against anything, naming each."""
    ratings = [one for one in ledger.entries if one.quantity in LIMITS and one.known_by != "computed"]
    if not ratings:
        return []
    used = heard(ledger, findings)
    # Of a part whose place or kind is open its ratings wait for that, under the rules that ask for it and block.
    waiting = {
        fact.subject
        for one in findings
        if one.verdict == "not assessed" and one.severity != "minor"
        for fact in one.missing
        if fact.quantity in ("part.place", "part.kind")
    }
    places = {ledger[number].place for number in used}
    lacking: dict[Subject, list[Entry]] = {}
    for one in ratings:
        # one line of the file may speak of several parts, and of the marked and the found value of one
        if one.number not in used and (one.place is None or one.place not in places or one.place.line == 0):
            lacking.setdefault(one.subject, []).append(one)
    return [
        _unasked(subject, rows, path)
        for subject, rows in lacking.items()
        if subject not in waiting and is_fitted(ledger, subject)
    ]


def _unasked(subject: Subject, rows: Sequence[Entry], path: str) -> Finding:
    said = ", ".join(sorted(VOCABULARY[one.quantity].says for one in rows))  # the order of a file decides nothing
    told = Told(said, lead="no rule and no computation asks its ")
    places = [one.place for one in rows if one.place is not None]
    return Finding(
        ASKED,
        OWN,
        "overstress",
        "major",
        subject,
        None,
        "not assessed",
        None,
        None,
        None,
        "",
        told.message(subject),
        _SETTLE,
        "what a part is rated for is held against something",
        "common practice",
        entries=tuple(one.number for one in rows),
        place=min(places) if places else Place(path),
        told=told,
        steps=(Step(_SETTLE, ("papers",)),),
    )
