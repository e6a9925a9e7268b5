"""One way through for the blocking law: a text or a row is changed, read, worked out and judged like any design.

The law is held on verdicts, whatever the severity and whatever was signed for: what fails or is not assessed stops.
"""

from __future__ import annotations

import random
import re
from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from itertools import accumulate
from math import inf
from pathlib import Path
from typing import NamedTuple

import brute_force
import yaml

from derate.design.facts import facts
from derate.design.load import Design, read_design
from derate.design.settings import Settings
from derate.judge.heard import heard
from derate.judge.review import Finding, Review
from derate.ledger.entry import SUPPLY, Entry, Subject
from derate.ledger.ledger import Ledger
from derate.ledger.recorded import RecordingLedger, Tape, alike
from derate.packs.load import Packs, load_packs, shipped
from derate.packs.trial import read_trials
from derate.study.work import Work, Workshop, required_of, review_of, worked
from derate.terms.values import ReadingError
from derate.terms.words import HEAVY, SHOWN

DAY = date(2026, 11, 25)
STOPS = ("fail", "not assessed")
# A rule that holds two statements against each other ends with either of them; the stress itself has rules of its own.
# A rating that no rule asks is told while it stands; without it nothing is left to hold against anything.
TWO_STATEMENTS = (
    "reading-disagrees",
    "switching-frequency-agrees",
    "gap-agrees-with-inductance",
    "insulation-as-stated",
    "rating-is-asked",
)
_HERE = Path(__file__).parents[1] / "data" / "designs"
PATHS = {
    "sound": shipped("designs") / "greenhouse-vent" / "greenhouse-vent.derate.yaml",
    "poor": shipped("designs") / "market-stall-lamp" / "market-stall-lamp.derate.yaml",
    "three outputs": _HERE / "scale-console-45W.derate.yaml",
    "lamp driver": _HERE / "led-driver.derate.yaml",
}
# Two that state every key of the schema between them, and the shipped ones that are small or revise another.
MORE = {
    "every key": _HERE / "every-key.derate.yaml",
    "every key, bipolar": _HERE / "every-key-bipolar.derate.yaml",
    "line transformer": shipped("designs") / "beehive-scale" / "beehive-scale.derate.yaml",
    "dropper": shipped("designs") / "porch-bell" / "porch-bell.derate.yaml",
    "first look": shipped("designs") / "first-look" / "desk-lamp-adapter.derate.yaml",
    "revision": shipped("designs") / "greenhouse-vent" / "greenhouse-vent-revision-b.derate.yaml",
    "buck": shipped("designs") / "tea-warmer" / "tea-warmer.derate.yaml",
    "buck without bulk": shipped("designs") / "cellar-lamp" / "cellar-lamp.derate.yaml",
    "linear": shipped("designs") / "hallway-lamp" / "hallway-lamp.derate.yaml",
    "self-oscillating": shipped("designs") / "pond-lantern" / "pond-lantern.derate.yaml",
}
EVERY = {**PATHS, **MORE}
PACK_FILES = tuple(sorted(shipped("rules").glob("*.yaml")))
WORKSHOP = Workshop()


def taken(count: int, one_in: int, of: str) -> list[int]:
    """Which of so many changes are tried: one in how many in an ordinary run, all by brute force.

    The same ones everywhere: what a share has not met is not to stop somebody who changes something else.
    """
    if brute_force.BRUTE_FORCE:
        return list(range(count))
    drawn = random.Random(of).sample(range(count), -(-count // one_in))
    return sorted(drawn)


@cache
def every_pack() -> Packs:
    """All shipped packs together, of every family."""
    return load_packs([str(path) for path in PACK_FILES])


@dataclass(frozen=True)
class Bench:
    """A design that is changed over and over: its name, where it stands, its text."""

    name: str
    path: str
    text: str

    @staticmethod
    def of(name: str) -> Bench:
        """One of the designs above."""
        return Bench(name, str(EVERY[name]), EVERY[name].read_text(encoding="utf-8"))

    def review(
        self, text: str | None = None, packs: Packs | None = None, rows: Sequence[Entry] | None = None,
        day: date = DAY, design: Design | None = None,
    ) -> Review | None:  # fmt: skip
        """The review of a changed design; None when it is refused, which is exit status 2 and stops everything.

        packs: None for those the text asks for
        """
        try:
            read = design or read_design(self.text if text is None else text, self.path)
            used = packs or WORKSHOP.packs_for(self.path, read, Settings())
        except ReadingError:
            return None
        return review_of(Work(read, Settings(), used, worked(read, used, rows), required_of(used)), day)


_REREAD = frozenset({("everything",)})
# Blocks of which insulation sees nothing but the rows of their facts.
_ROWS_ALONE = ("parts", "site")


class Base:
    """A design worked through once; every changed version is replayed from there.

    What a step reads of the ledger is recorded, what it reads beside it is not: all is worked out afresh where the
    structure or a condition is another, and insulation where a block is that it reads in the file itself.
    """

    def __init__(self, bench: Bench, packs: Packs | None = None, signed: bool = False) -> None:
        """packs: None for those the text asks for; signed: what was signed for counts"""
        self.bench = bench
        self._signed = signed
        self.design = self._read(bench.text)
        self.packs = packs or WORKSHOP.packs_for(bench.path, self.design, Settings())
        self.ledger = RecordingLedger()
        self.last: Ledger = self.ledger
        worked(self.design, self.packs, None, self.ledger)
        self.work = self._work(self.design, self.ledger)
        self.review = review_of(self.work, DAY)
        lines = bench.text.split("\n")
        self._starts = list(accumulate((len(one) + 1 for one in lines), initial=0))
        self._facts = dict(_keyed(facts(self.design)))
        self._tape = self.ledger.tape()
        self._insulation_afresh = self._tape._replace(
            steps={
                name: done._replace(reads=_REREAD)
                if name == "inspection" or isinstance(name, tuple) and name[0] == "insulation"
                else done
                for name, done in self._tape.steps.items()
            }
        )

    def _read(self, text: str) -> Design:
        design = read_design(text, self.bench.path)
        return design if self._signed else unsigned(design)

    def _work(self, design: Design, ledger: Ledger) -> Work:
        return Work(design, Settings(), self.packs, ledger, required_of(self.packs))

    def tried(self, text: str, blocks: Iterable[str]) -> Review:
        """The review of another text; its ledger is `last`. Raises ReadingError.

        blocks: those in which it is another
        """
        design = self._read(text)
        return self._judged(design, None, self._tape_for(design, set(blocks)))

    def came_from(self, text: str) -> set[tuple[str, str]]:
        """Rules and subjects of the findings that came from what another text has blanks over."""
        own = self.bench.text
        first = next(at for at, (one, other) in enumerate(zip(own, text, strict=True)) if one != other)
        last = next(at for at in range(len(own) - 1, -1, -1) if own[at] != text[at])
        found = set()
        for one in self.review.findings:
            for place in {one.place, *(self.ledger[number].place for number in heard(self.ledger, [one]))}:
                if place is not None and place.path == self.bench.path and place.line:
                    if first <= self._starts[place.line - 1] + place.column - 1 <= last:
                        found.add((one.rule, str(one.subject)))
                        break
        return found

    def came_from_row(self, row: Entry) -> set[tuple[str, str]]:
        """Rules and subjects of the findings that came from one fact of the design."""
        own = {one.number for one in self.ledger.rows(row.subject, row.quantity)}
        return {(one.rule, str(one.subject)) for one in self.review.findings if own & heard(self.ledger, [one])}

    def with_rows(self, rows: Sequence[Entry]) -> Review:
        """The review with other facts in place of its own."""
        return self._judged(self.design, rows, self._tape)

    def afresh(self, text: str) -> Review:
        """As `tried`, with nothing replayed."""
        design = self._read(text)
        return self._judged(design, None, None)

    def _judged(self, design: Design, rows: Sequence[Entry] | None, tape: Tape | None) -> Review:
        ledger = Ledger() if tape is None else RecordingLedger(None, tape)
        if rows is None and tape is not None:
            rows = [self._as_it_was(key, row) for key, row in _keyed(facts(design))]
        self.last = worked(design, self.packs, rows, ledger)
        return review_of(self._work(design, self.last), DAY)

    def _as_it_was(self, key: tuple[Hashable, ...], row: Entry) -> Entry:
        """The row of the base where the fact only stands elsewhere: behind a longer one on its line."""
        was = self._facts.get(key)
        return was if was is not None and was.place is not None and alike(was, replace(row, place=was.place)) else row

    def _tape_for(self, design: Design, blocks: set[str]) -> Tape | None:
        if design.structure != self.design.structure or design.conditions != self.design.conditions:
            return None
        return self._tape if blocks <= {*_ROWS_ALONE} else self._insulation_afresh


def _keyed(rows: Iterable[Entry]) -> Iterator[tuple[tuple[Hashable, ...], Entry]]:
    """Rows by subject and quantity, those of one numbered."""
    seen: Counter[tuple[Subject, str]] = Counter()
    for one in rows:
        key = (one.subject, one.quantity)
        seen[key] += 1
        yield (*key, seen[key]), one


@cache
def trial_texts() -> tuple[Bench, ...]:
    """Every small design of the packs' own trials, as it passes and with the one fact changed, each once."""
    texts: dict[str, Bench] = {}
    for path in PACK_FILES:
        for trial in read_trials(path.read_text(encoding="utf-8"), str(path), every_pack()).designs:
            for text in (trial.text, trial.changed):
                texts.setdefault(text, Bench(f"{path.stem}: {trial.rule}", str(path.parent / "trial.yaml"), text))
    return tuple(texts.values())


def stopping(review: Review) -> dict[tuple[str, str], Finding]:
    """What fails or is not assessed, by rule and subject."""
    return {(one.rule, str(one.subject)): one for one in review.findings if one.verdict in STOPS}


class Opened(NamedTuple):
    """One thing that stopped and stops no more: the rule and the subject of a finding, or a hazard alone."""

    rule: str
    subject: str
    told: str

    def __str__(self) -> str:
        return self.told


def opened(before: Review, after: Review | None) -> list[Opened]:
    """What stopped and stops no more; empty while the law holds.

    Three things are allowed. A finding may go with its subject when another one stands in for it: one that names the
    subject, the same rule on another, or one of the same hazard that was not there. A rule may not apply any more where
    another one stops on the same subject that did not before. And a rule that is not critical may take a pack's
    assumption for a fact that is gone, as long as the finding then says what it rests on.
    """
    if after is None:
        return []
    old, new = stopping(before), stopping(after)
    found = {(one.rule, str(one.subject)): one for one in after.findings}
    told: list[Opened] = []
    for key, one in old.items():
        if key in new or one.rule in TWO_STATEMENTS:
            continue
        now = found.get(key)
        if now is None:
            if not _stood_in_for(one, old, new):
                told.append(Opened(*key, f"{one.rule} on {one.subject}: {one.verdict}, then gone"))
        elif now.verdict == "not applicable" and _instead(one, old, new) or _read_somewhere(one, old, new):
            continue
        elif one.severity == "critical" or not set(now.rests_on) - set(one.rests_on):
            told.append(Opened(*key, f"{one.rule} on {one.subject}: {one.verdict}, then {now.verdict}"))
    return [*told, *_bettered(before, after, old, new, told)]


def vanished(before: Review, after: Review | None) -> list[Opened]:
    """What held and does not apply any more because a fact went; empty while the law holds.

    Allowed where something stops on the same subject instead, or a reading of it while nobody knows where it was read.
    Two statements that agreed may lose either of them. Two readings of a table come to one where more is asked for.
    """
    if after is None:
        return []
    old, new = stopping(before), stopping(after)
    found = {(one.rule, str(one.subject)): one for one in after.findings}
    told = []
    for one in before.findings:
        key = (one.rule, str(one.subject))
        now = found.get(key)
        if one.verdict not in SHOWN or one.rule in TWO_STATEMENTS or now is None:
            continue
        if one.rule.endswith("creepage-of-next-row") and _asked_for_more(one, before, after):
            continue
        if now.verdict == "not applicable" and not (_instead(one, old, new) or _read_somewhere(one, old, new)):
            told.append(Opened(*key, f"{one.rule} on {one.subject}: {one.verdict}, then not applicable"))
    return told


def _asked_for_more(gone: Finding, before: Review, after: Review) -> bool:
    """Whether the same place asks for as much creepage now as the next row did, and for more than it did.

    Where a clearance asks for more than both readings of a creepage table, they come to the same, and nothing is left
    to say of where laboratories differ. A creepage that asks for more and for less than the next row stands in for
    nothing.
    """
    own = [[one for one in review.findings if one.subject == gone.subject] for review in (before, after)]
    was, now = ([one.limit.high for one in of if one.rule.endswith("-creepage") and one.limit] for of in own)
    row = gone.limit.high if gone.limit is not None else inf
    return bool(was and now) and max(now) > max(was) and max(now) >= row * (1 - 1e-9)


def _read_somewhere(gone: Finding, old: dict[tuple[str, str], Finding], new: dict[tuple[str, str], Finding]) -> bool:
    """Whether a reading of the same thing blocks now, and did not before: nobody knows any more where it was read.

    While it was known it could make what was worked out worse; now it is open itself.
    """
    return any(
        key not in old and one.severity in HEAVY and one.subject.kind == "reading" and _names(one, gone)
        for key, one in new.items()
    )


def _names(one: Finding, gone: Finding) -> bool:
    words = re.split(r"[ ,]", " ".join(one.subject.names))
    if gone.subject == SUPPLY and gone.rule.startswith("case-temperature") and "enclosure" in words:  # its case
        return True
    return any(name in words for name in gone.subject.names)


def _instead(gone: Finding, old: dict[tuple[str, str], Finding], new: dict[tuple[str, str], Finding]) -> bool:
    """Whether a finding that blocks stands on the same subject, and was not there before."""
    return any(key not in old and one.severity in HEAVY and one.subject == gone.subject for key, one in new.items())


def _bettered(
    before: Review, after: Review, old: dict[tuple[str, str], Finding], new: dict[tuple[str, str], Finding],
    told: Sequence[Opened],
) -> Iterator[Opened]:  # fmt: skip
    """The hazards whose word got better without a finding that is allowed to go (and without one told already).

    A word is no better while it does not say that the hazard was shown to hold. A minor rule's fail that counts as
    major is allowed to go back to what it was: without its fact it is a minor finding that is not assessed.
    """
    for was, now in zip(before.hazards, after.hazards, strict=True):
        if was.word in SHOWN or now.word not in SHOWN or told:
            continue
        gone = [
            one
            for key, one in old.items()
            if one.hazard == was.hazard and one.severity in HEAVY
            if key not in new or one.raised and new[key].severity not in HEAVY
        ]
        if not any(one.raised or one.rule in TWO_STATEMENTS or _excused(one, old, new, after) for one in gone):
            yield Opened("", was.hazard, f"{was.hazard}: {was.word}, then {now.word}")


def _excused(
    gone: Finding, old: dict[tuple[str, str], Finding], new: dict[tuple[str, str], Finding], after: Review
) -> bool:  # fmt: skip
    now = next((one for one in after.findings if (one.rule, one.subject) == (gone.rule, gone.subject)), None)
    if now is None:
        return _stood_in_for(gone, old, new)
    if now.verdict == "not applicable" and _instead(gone, old, new):
        return True
    return gone.severity != "critical" and bool(set(now.rests_on) - set(gone.rests_on))


def _stood_in_for(
    gone: Finding, old: dict[tuple[str, str], Finding], new: dict[tuple[str, str], Finding]
) -> bool:  # fmt: skip
    nobody_looked = gone.pack == "derate" and "-looked-at" in gone.rule
    if nobody_looked and any(one.verdict == "fail" and one.hazard == gone.hazard for one in new.values()):
        return True  # somebody looked, and found it failing
    for key, one in new.items():
        if one.rule == gone.rule or (one.hazard == gone.hazard and key not in old):
            return True
        if set(gone.subject.names) & set(one.subject.names) or any(name in one.message for name in gone.subject.names):
            return True
    return False


def without(text: str) -> Iterator[tuple[str, str]]:
    """Every key of a text taken out in turn: its path, the text without it, everything else standing where it stood.

    Entries of lists are no keys: a list is one statement, and a shorter one says something else.
    """
    yield from _without(text, composed(text), ())


def composed(text: str) -> yaml.Node:
    """The nodes of a text, by the plain library: places play no part here."""
    node = yaml.compose(text)
    assert node is not None
    return node


def _without(text: str, node: yaml.Node, trail: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    if isinstance(node, yaml.SequenceNode):
        for number, item in enumerate(node.value):
            yield from _without(text, item, (*trail, str(number)))
    if not isinstance(node, yaml.MappingNode):
        return
    for key, value in node.value:
        path = (*trail, str(key.value))
        yield ".".join(path), _blanked(text, node, key, value)
        yield from _without(text, value, path)


def _blanked(text: str, holder: yaml.MappingNode, key: yaml.Node, value: yaml.Node) -> str:
    """The text with blanks over a key and its value; a mapping that holds nothing else is written as empty."""
    first, last = key.start_mark.index, _last_of(value)
    alone = len(holder.value) == 1
    if holder.flow_style and not alone:  # the comma behind it goes with it
        comma = re.compile(r"(?:\s|#[^\n]*)*,").match(text, last)
        last = comma.end() if comma is not None else last
    gap = "".join(one if one == "\n" else " " for one in text[first:last])
    if alone and not holder.flow_style:
        gap = "{}" + gap[2:]
    return text[:first] + gap + text[last:]


def _last_of(node: yaml.Node) -> int:
    """Where a node ends: a block ends with the last of what stands in it, comments behind it are none of its own."""
    if isinstance(node, yaml.CollectionNode) and not node.flow_style and node.value:
        last = node.value[-1]
        return _last_of(last[1] if isinstance(last, tuple) else last)
    return int(node.end_mark.index)


def written(root: yaml.Node) -> str:
    """A node as text again."""
    return str(yaml.serialize(root, width=100_000, allow_unicode=True))


def unsigned(design: Design) -> Design:
    """The design without its waivers and open points."""
    return design._replace(waivers=(), open_points=())
