"""One way through for the blocking law: a text or a row is changed, read, worked out and judged like any design.

The law is held on verdicts, whatever the severity and whatever was signed for: what fails or is not assessed stops.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path

import yaml

from derate.design.load import Design, read_design
from derate.design.settings import Settings
from derate.judge.review import Finding, Review
from derate.ledger.entry import Entry
from derate.packs.load import Packs, load_packs, shipped
from derate.packs.trial import read_trials
from derate.study.work import Work, Workshop, required_of, review_of, worked
from derate.terms.values import ReadingError
from derate.terms.words import HEAVY, SHOWN

DAY = date(2026, 11, 25)
STOPS = ("fail", "not assessed")
# A rule that holds two statements against each other ends with either of them; the stress itself has rules of its own.
# A rating that no rule asks is told while it stands; without it nothing is left to hold against anything.
TWO_STATEMENTS = ("reading-disagrees", "rating-is-asked")
_HERE = Path(__file__).parents[1] / "data" / "designs"
PATHS = {
    "sound": shipped("designs") / "greenhouse-vent" / "greenhouse-vent.derate.yaml",
    "poor": shipped("designs") / "market-stall-lamp" / "market-stall-lamp.derate.yaml",
    "three outputs": _HERE / "scale-console-45W.derate.yaml",
    "lamp driver": _HERE / "led-driver.derate.yaml",
}
PACK_FILES = tuple(sorted(shipped("rules").glob("*.yaml")))
WORKSHOP = Workshop()


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
        return Bench(name, str(PATHS[name]), PATHS[name].read_text(encoding="utf-8"))

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


def opened(before: Review, after: Review | None) -> list[str]:
    """What stopped and stops no more; empty while the law holds.

    Two things are allowed. A finding may go with its subject when another one stands in for it: one that names the
    subject, the same rule on another, or one of the same hazard that was not there. And a rule that is not critical
    may take a pack's assumption for a fact that is gone, as long as the finding then says what it rests on.
    """
    if after is None:
        return []
    old, new = stopping(before), stopping(after)
    found = {(one.rule, str(one.subject)): one for one in after.findings}
    told = []
    for key, one in old.items():
        if key in new or one.rule in TWO_STATEMENTS:
            continue
        now = found.get(key)
        if now is None:
            if not _stood_in_for(one, old, new):
                told.append(f"{one.rule} on {one.subject}: {one.verdict}, then gone")
        elif one.severity == "critical" or not set(now.rests_on) - set(one.rests_on):
            told.append(f"{one.rule} on {one.subject}: {one.verdict}, then {now.verdict}")
    return [*told, *_bettered(before, after, old, new, told)]


def _bettered(
    before: Review, after: Review, old: dict[tuple[str, str], Finding], new: dict[tuple[str, str], Finding],
    told: Sequence[str],
) -> Iterator[str]:  # fmt: skip
    """The hazards whose word got better without a finding that is allowed to go (and without one told already).

    A word is no better while it does not say that the hazard was shown to hold. A minor rule's fail that counts as
    major is allowed to go back to what it was: without its fact it is a minor finding that is not assessed.
    """
    for was, now in zip(before.hazards, after.hazards, strict=True):
        if was.word in SHOWN or now.word not in SHOWN or told:
            continue
        gone = [
            one for key, one in old.items() if one.hazard == was.hazard and (one.severity in HEAVY) and key not in new
        ]
        if not any(one.raised or one.rule in TWO_STATEMENTS or _excused(one, old, new, after) for one in gone):
            yield f"{was.hazard}: {was.word}, then {now.word}"


def _excused(
    gone: Finding, old: dict[tuple[str, str], Finding], new: dict[tuple[str, str], Finding], after: Review
) -> bool:  # fmt: skip
    now = next((one for one in after.findings if (one.rule, one.subject) == (gone.rule, gone.subject)), None)
    if now is None:
        return _stood_in_for(gone, old, new)
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


def without(text: str) -> Iterator[tuple[str, str, str]]:
    """Every key of a text taken out in turn: its path, what it said when that was one text, the text without it.

    Entries of lists are no keys: a list is one statement, and a shorter one says something else.
    """
    root = composed(text)
    yield from _without(root, root, ())


def composed(text: str) -> yaml.Node:
    """The nodes of a text, by the plain library: places play no part here."""
    node = yaml.compose(text)
    assert node is not None
    return node


def _without(root: yaml.Node, node: yaml.Node, trail: tuple[str, ...]) -> Iterator[tuple[str, str, str]]:
    if isinstance(node, yaml.SequenceNode):
        for number, item in enumerate(node.value):
            yield from _without(root, item, (*trail, str(number)))
    if not isinstance(node, yaml.MappingNode):
        return
    pairs = list(node.value)
    for number, (key, value) in enumerate(pairs):
        path = (*trail, str(key.value))
        node.value = pairs[:number] + pairs[number + 1 :]
        said = value.value if isinstance(value, yaml.ScalarNode) else ""
        yield ".".join(path), said, written(root)
        node.value = pairs
        yield from _without(root, value, path)


def written(root: yaml.Node) -> str:
    """A node as text again."""
    return str(yaml.serialize(root, width=100_000, allow_unicode=True))


def unsigned(design: Design) -> Design:
    """The design without its waivers and open points."""
    return design._replace(waivers=(), open_points=())
