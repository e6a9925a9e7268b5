"""Two judged designs held beside each other: facts that changed, stresses that moved, verdicts that are others.

Two revisions have the same names; two supplies of one rating do not. So parts of one name and one place are the same
part, and of the rest those that have the same job in the supply are held against each other, in the order in which the
circuit meets them, and named as partners.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import inf, isfinite, log
from typing import Literal

from derate.design.kinds import KINDS
from derate.design.structure import Structure
from derate.judge.review import Difference, FactChange, Finding, Review, StressChange, VerdictChange, Way
from derate.judge.verdict import word_of
from derate.ledger.entry import Entry, Subject
from derate.terms.quantities import CaseGroup
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Known, Value
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import OVERALLS, SEVERITIES

_NOT_COMPARED = ("part.family",)  # follows from the kind
_STRUCTURE = ("circuit.", "part.", "bridge.")
# Places whose parts do one job whatever they are: a track where another has a resistor, four diodes for a bridge.
_ONE_JOB = ("mains series", "mains rectifier", "bulk capacitor", "output rectifier")
_NOISE = 1e-9  # relative; what differs by less is the same figure worked out in another order


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two designs. name: how the command line called it"""

    name: str
    review: Review
    entries: tuple[Entry, ...]
    structure: Structure


def compare(before: Side, after: Side) -> Difference:
    """What is different in `after`. Subjects are named as there; what only `before` has keeps its name."""
    partners = partners_of(before.structure, after.structure)
    renamed = dict(partners)
    facts, same_facts = _facts(before, after, renamed)
    stresses, same_stresses = _stresses(before, after, renamed)
    verdicts, same_verdicts = _verdicts(before.review, after.review, renamed)
    return Difference(
        before.review,
        after.review,
        before.name,
        after.name,
        facts,
        stresses,
        verdicts,
        tuple(pair for pair in partners if pair[0] != pair[1]),
        same_facts,
        same_stresses,
        same_verdicts,
    )


def partners_of(before: Structure, after: Structure) -> tuple[tuple[str, str], ...]:
    """(before, after) for every part of `before` that has its like: by name and place, else by place, in order."""
    found = {
        name: name for name in before.kinds if name in after.kinds and before.places.get(name) == after.places.get(name)
    }
    for same_family in (True, False):
        for name in before.kinds:
            place = before.places.get(name)
            if name in found or place is None or not (same_family or place in (*_ONE_JOB, *before.own.one_job)):
                continue
            taken = set(found.values())
            for one in after.kinds:
                alike = not same_family or _families(name, before) & _families(one, after)
                if after.places.get(one) == place and one not in taken and alike:
                    found[name] = one
                    break
    return tuple(found.items())


def _families(name: str, structure: Structure) -> frozenset[str]:
    return frozenset(KINDS[kind] for kind in structure.kinds[name])


def _subject(subject: Subject, renamed: Mapping[str, str]) -> Subject:
    """A subject of the first design under the names of the second."""
    names = tuple(renamed.get(name, name) for name in subject.names)
    return subject if names == subject.names else Subject(subject.kind, names)


def _facts(before: Side, after: Side, renamed: Mapping[str, str]) -> tuple[tuple[FactChange, ...], int]:
    def stated(entries: Iterable[Entry]) -> dict[tuple[Subject, QuantityName, str], Entry]:
        return {
            (one.subject, one.quantity, str(one.case or "")): one
            for one in entries
            if not one.formula
            and one.value is not None
            and one.quantity not in _NOT_COMPARED
            and (one.place is not None or one.quantity.startswith(_STRUCTURE))
        }

    old = {(_subject(key[0], renamed), *key[1:]): one for key, one in stated(before.entries).items()}
    new = stated(after.entries)
    changes, same = [], 0
    for key in sorted({*old, *new}):
        one, other = old.get(key), new.get(key)
        if one is not None and other is not None and _same(one.value, other.value) and one.known_by == other.known_by:
            same += 1
        else:
            changes.append(FactChange(key[0], key[1], one, other))
    return tuple(changes), same


def _same(one: Known | None, other: Known | None) -> bool:
    if isinstance(one, Value) and isinstance(other, Value):
        return all(
            a == b or abs(a - b) <= _NOISE * max(abs(a), abs(b))
            for a, b in zip(one.numbers(), other.numbers(), strict=True)
        )
    return one == other


def _stresses(before: Side, after: Side, renamed: Mapping[str, str]) -> tuple[tuple[StressChange, ...], int]:
    old = {(_subject(key[0], renamed), *key[1:]): one for key, one in _worst(before.entries).items()}
    new = _worst(after.entries)
    changes, same = [], 0
    for key in sorted({*old, *new}):
        one, other = old.get(key), new.get(key)
        if one is not None and other is not None and _same(one.value, other.value):
            same += 1
        elif (one is not None and one.value is not None) or (other is not None and other.value is not None):
            changes.append(StressChange(*key, one, other, _factor(one, other)))
    return tuple(sorted(changes, key=_moved)), same


def _moved(change: StressChange) -> tuple[bool, float, Subject, str, str]:
    """Sort key: figures on both sides first, by how far they moved."""
    far = abs(log(change.factor)) if change.factor is not None else 0.0
    return change.factor is None, -far, change.subject, change.quantity, change.group


def _worst(entries: Iterable[Entry]) -> dict[tuple[Subject, QuantityName, CaseGroup | Literal[""]], Entry]:
    """The worst row of every worked-out quantity and group of cases; a row without a value only where all are so."""
    found: dict[tuple[Subject, QuantityName, CaseGroup | Literal[""]], Entry] = {}
    for one in entries:
        if (not one.formula and one.value is not None) or one.quantity.partition(" in ")[0] not in VOCABULARY:
            continue
        key = (one.subject, one.quantity, one.case.group if one.case is not None else "")
        known = found.get(key)
        if known is None or known.value is None or (one.value is not None and _bad(one) >= _bad(known)):
            found[key] = one
    return found


def _bad(entry: Entry) -> float:
    """How bad a row is: its figure at the bad end, turned so that more is worse."""
    if not isinstance(entry.value, Value):
        return -inf
    return -entry.value.near if _way(entry) < 0 else entry.value.far


def _way(entry: Entry) -> int:
    term = VOCABULARY.get(entry.quantity.partition(" in ")[0])
    return term.bad if term is not None else 1


def _factor(one: Entry | None, other: Entry | None) -> float | None:
    if one is None or other is None or not isinstance(one.value, Value) or not isinstance(other.value, Value):
        return None
    old, new = abs(_bad(one)), abs(_bad(other))
    return new / old if isfinite(old) and isfinite(new) and old > 0 and new > 0 else None


def _verdicts(before: Review, after: Review, renamed: Mapping[str, str]) -> tuple[tuple[VerdictChange, ...], int]:
    old = {(one.rule, _subject(one.subject, renamed)): one for one in before.findings}
    new = {(one.rule, one.subject): one for one in after.findings}
    changes, same = [], 0
    for key in sorted({*old, *new}):
        one, other = old.get(key), new.get(key)
        was, now = _word(one), _word(other)
        if was == now:
            same += was != "not applicable"
        else:
            changes.append(VerdictChange(*key, one, other, _turned(was, now)))
    return tuple(sorted(changes, key=_urgent)), same


def _word(finding: Finding | None) -> str:
    return (word_of(finding) if finding is not None else None) or "not applicable"


def _turned(was: str, now: str) -> Way:
    order = [*OVERALLS, "not applicable"]
    if "not applicable" in (was, now):
        word = now if was == "not applicable" else was
        if word == "pass":
            return "other"
        return "worse" if was == "not applicable" else "other"
    return "worse" if order.index(now) < order.index(was) else "better"


def _urgent(change: VerdictChange) -> tuple[int, int, int, str, Subject]:
    """Sort key: worse first, by the word it has now, severe before less severe."""
    finding = change.after or change.before
    assert finding is not None
    now = _word(change.after)
    place = OVERALLS.index(now) if now in OVERALLS else len(OVERALLS)
    ways = ("worse", "better", "other")
    return ways.index(change.way), place, SEVERITIES.index(finding.severity), change.rule, change.subject
