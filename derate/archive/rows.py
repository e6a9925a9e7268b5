"""What is kept of a design that was judged: plain rows, the same wherever it was judged."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from math import inf
from typing import Literal, NamedTuple

from derate.design.load import Design
from derate.judge.acknowledge import KnownRecord
from derate.judge.review import Finding, Review
from derate.packs.compiled import digest_of
from derate.study.work import Work
from derate.terms.values import Value
from derate.terms.words import HAZARDS, VERDICTS

Outcome = Literal["judged", "unread", "untouched"]
Four = tuple[float | None, float | None, float | None, float | None]
NOBODY: Four = (None, None, None, None)
_SHOWN = 12  # digits of a digest, as every output shows it


class FindingRow(NamedTuple):
    """One rule on one subject. Figures in SI base units; an open end is infinite, None where there is none.

    part: the name of the part where the subject is one, '' otherwise
    rests_on, missing: facts, in the words of a report, joined by `; `
    signed: '' | 'waiver' | 'open point', the one in force beside it; 'known' where a record holds it back
    """

    rule: str
    pack: str
    hazard: str
    severity: str
    subject_kind: str
    subject: str
    part: str
    case_group: str
    at: str
    verdict: str
    stress: Four
    limit: Four
    unit: str
    ratio: float | None
    rests_on: str
    missing: str
    source: str
    confidence: str
    blocks: bool
    signed: str


class PartRow(NamedTuple):
    """One part of a design: its name, its entry in a library, kind, marking, where it sits; '' for what nobody says."""

    part: str
    type: str
    kind: str
    marking: str
    place: str


class Asked(NamedTuple):
    """A study of each design. study: 'headroom' | 'spread'; draws, seed: of a spread, 0 else"""

    study: Literal["headroom", "spread"]
    draws: int = 0
    seed: int = 0

    @property
    def key(self) -> str:
        """What its rows are known by in a store."""
        return self.study if self.study == "headroom" else f"{self.study}, {self.draws} draws, seed {self.seed}"


class EndRow(NamedTuple):
    """How far one axis goes, as `derate.study.headroom.Headroom`: figures in its unit, None where nobody says."""

    axis: str
    unit: str
    rated: float | None
    end: float | None
    open: bool
    rule: str
    subject: str
    why: str


class CureRow(NamedTuple):
    """The least rating that cures a failing rule; SI base units."""

    rule: str
    subject: str
    quantity: str
    least: Four
    unit: str


class SpreadRow(NamedTuple):
    """What tolerance does to one finding, as `derate.study.spread.spread.Spread`; SI base units.

    beyond: draws over the limit; share_low, share_high: 95 % interval of their share; driver: the leaf that has the
    greatest share of the variance, `driver_share`; outside: draws beyond the ledger, which would be a defect of it
    """

    rule: str
    severity: str
    subject_kind: str
    subject: str
    at: str
    verdict: str
    stress: Four
    limit: Four
    unit: str
    safety: bool
    nominal: float | None
    root_low: float | None
    root_high: float | None
    mean: float | None
    sigma: float | None
    draws: int | None
    beyond: int | None
    share_low: float | None
    share_high: float | None
    driver: str
    driver_share: float | None
    undrawn: str
    outside: int


class Studied(NamedTuple):
    """The rows of one study of one design. stopped: at the most work that a study may take"""

    stopped: bool = False
    ends: tuple[EndRow, ...] = ()
    cures: tuple[CureRow, ...] = ()
    spread: tuple[SpreadRow, ...] = ()


class Judged(NamedTuple):
    """A design with all that is kept of it.

    design: its name in the store; revision: digest of its text and of what it revises, shortened
    outcome: 'unread' where it could not be worked through, and `problems` says why; 'untouched' where what was to be
        changed is not in it, and nothing was judged
    hazards, counts: in the order of HAZARDS and of VERDICTS
    packs: each as `name digest`, joined by `; `, the digests shortened
    softer: by how many things the gate is softer than the shipped one
    holds_from, holds_to: first and last day on which nothing that was signed for begins or ends; None: no bound
    trail: what it was made from (`derate.archive.trail`), '' where that cannot be said
    duration: processor time it took [s]; worker: the process
    studied: where a study was asked for; then findings and parts are left out
    """

    design: str
    outcome: Outcome
    name: str = ""
    revision: str = ""
    overall: str = ""
    blocks: int = 0
    held_back: int = 0
    hazards: tuple[str, ...] = ("",) * len(HAZARDS)
    counts: tuple[int, ...] = (0,) * len(VERDICTS)
    level: str = ""
    packs: str = ""
    softer: int = 0
    not_powered: bool = False
    problems: str = ""
    holds_from: date | None = None
    holds_to: date | None = None
    trail: str = ""
    duration: float = 0.0
    worker: str = ""
    findings: tuple[FindingRow, ...] = ()
    parts: tuple[PartRow, ...] = ()
    studied: Studied | None = None


def rows_of(
    design: str, work: Work, review: Review, today: date, trail: str, known: KnownRecord | None = None
) -> Judged:
    """The rows of a review. known: the record that held findings back"""
    words = {word.hazard: word.word for word in review.hazards}
    signed = [known.signed.last_day] if known is not None else []
    first, last = days_it_holds(work.design, work.settings.longest_days, today, signed)
    return Judged(
        design,
        "judged",
        review.name,
        revision_of(work.design),
        review.overall,
        sum(one.blocks for one in review.findings),
        review.held_back,
        tuple(words.get(hazard, "") for hazard in HAZARDS),
        tuple(review.counts.get(verdict, 0) for verdict in VERDICTS),
        review.gate.level,
        "; ".join(f"{one.name} {one.digest[:_SHOWN]}" for one in review.gate.packs),
        len(review.gate.softer),
        bool(review.not_powered),
        "",
        first,
        last,
        trail,
        findings=tuple(_finding(one) for one in review.findings),
        parts=tuple(_parts(work.design)),
    )


def revision_of(design: Design) -> str:
    """Digest of the text of a design and of every file it revises, as it is shown [12 hexadecimal digits]."""
    whole = "\0".join(design.texts.values())
    return digest_of(whole.encode("utf-8", "backslashreplace"))[:_SHOWN]


def days_it_holds(
    design: Design, longest_days: int, today: date, signed: Sequence[date] = ()
) -> tuple[date | None, date | None]:
    """The first and the last day on which the same signatures count as today; None for no bound.

    signed: last days of signatures that do not stand in the design

    A signature counts from `longest_days` before its last day (further ahead it counts for nothing) to that day.
    """
    turns: set[date] = set()
    last_days = [one.last_day for one in design.waivers] + [one.last_day for one in design.open_points] + [*signed]
    for last in last_days:
        if last is not None:
            if (last - date.min).days >= longest_days:
                turns.add(last - timedelta(longest_days))
            if last < date.max:
                turns.add(last + timedelta(1))
    before, after = [one for one in turns if one <= today], [one for one in turns if one > today]
    return max(before, default=None), min(after) - timedelta(1) if after else None


def _finding(one: Finding) -> FindingRow:
    said = one.acknowledgement
    return FindingRow(
        one.rule,
        one.pack,
        one.hazard,
        one.severity,
        one.subject.kind,
        str(one.subject),
        one.subject.names[0] if one.subject.kind == "part" and one.subject.names else "",
        one.case.group if one.case is not None else "",
        str(one.case) if one.case is not None else "",
        one.verdict,
        four(one.stress),
        four(one.limit),
        one.unit,
        one.ratio,
        "; ".join(one.rests_on),
        "; ".join(one.missing),
        one.source,
        one.confidence,
        one.blocks,
        "known" if one.known else said.kind if said is not None and not said.expired else "",
    )


def four(value: Value | None) -> Four:
    """The four numbers of a value; None for an open end, and for each where there is no value."""
    if value is None:
        return NOBODY
    low, near, far, high = (one if -inf <= one <= inf else None for one in value.numbers())
    return low, near, far, high


def _parts(design: Design) -> Iterator[PartRow]:
    places = design.structure.places
    for name, part in design.file.parts.items():
        kind = part.kind.word or part.kind.text if part.kind is not None else ""
        marking = part.marking.word or part.marking.text if part.marking is not None else ""
        yield PartRow(name, (part.part or "").partition(" (")[0], kind, marking, places.get(name, ""))
