"""Two judged designs held beside each other: facts that changed, stresses that moved, verdicts that are others.

Two revisions have the same names; two supplies of one rating do not. So parts of one name and one place are the same
part, and of the rest those that have the same job in the supply are held against each other, in the order in which the
circuit meets them, and named as partners. Places between the same two circuits are held against each other from the
narrowest on, outputs in the order of the plate.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf, isfinite, log
from typing import Literal, NamedTuple

from derate.design.kinds import KINDS
from derate.design.structure import Structure
from derate.insulation.pairs import ROLES
from derate.judge.review import Difference, FactChange, Finding, Review, SideBySide, StressChange, VerdictChange, Way
from derate.judge.verdict import word_of
from derate.ledger.entry import Entry, Subject
from derate.terms.frozen import frozen
from derate.terms.quantities import CaseGroup
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Known, Value
from derate.terms.vocabulary import VOCABULARY
from derate.terms.words import OVERALLS, SEVERITIES, SHOWN

_NOT_COMPARED = ("part.family",)  # follows from the kind
_STRUCTURE = ("circuit.", "part.", "bridge.")
# Places whose parts do one job whatever they are: a track where another has a resistor, four diodes for a bridge.
_ONE_JOB = ("mains series", "mains rectifier", "bulk capacitor", "output rectifier")
_NOISE = 1e-9  # relative; what differs by less is the same figure worked out in another order


@frozen
class Side:
    """One of the two designs. name: how the command line called it"""

    name: str
    review: Review
    entries: tuple[Entry, ...]
    structure: Structure


def compare(before: Side, after: Side) -> Difference:
    """What is different in `after`. Subjects are named as there; what only `before` has keeps its name."""
    partners = partners_of(before.structure, after.structure)
    barriers = _barrier_partners(before, after)
    outputs = _in_order(before.structure.outputs, after.structure.outputs)
    renamed = _Renamed(dict(partners), {"barrier": dict(barriers), "output": dict(outputs)})
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
        tuple(pair for pair in (*partners, *outputs, *barriers) if pair[0] != pair[1]),
        same_facts,
        same_stresses,
        same_verdicts,
        (*_places(before, after, dict(barriers)), *_parts(before, after, dict(partners))),
    )


class _Renamed(NamedTuple):
    """Names of the first design and those of the second: of parts and windings, and of kinds that have their own."""

    parts: Mapping[str, str]
    own: Mapping[str, Mapping[str, str]]


def _in_order(before: Iterable[str], after: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Names that both have, and of the rest the first with the first."""
    old, new = list(before), list(after)
    same = [(name, name) for name in old if name in new]
    left = ([name for name in old if name not in new], [name for name in new if name not in old])
    return (*same, *zip(*left, strict=False))


class _Barrier(NamedTuple):
    """A place between two circuits, as the rows know it."""

    name: str
    role: str
    body: bool
    figures: dict[QuantityName, Entry]


_DISTANCES: tuple[QuantityName, ...] = ("found.clearance", "needed.clearance", "found.creepage", "needed.creepage")


def _barriers(entries: Iterable[Entry]) -> dict[str, _Barrier]:
    """Every place of the barriers, the narrowest of a role first; of several families what asks most."""
    rows: dict[str, dict[str, Entry]] = {}
    for one in entries:
        if one.subject.kind == "barrier" and one.subject.names:
            own = rows.setdefault(one.subject.names[0], {})
            name = one.quantity.partition(" in ")[0]
            known = own.get(name)
            if name.startswith("needed.") and known is not None and _bad(known) > _bad(one):
                continue
            if one.value is not None or known is None:
                own[name] = one
    found = [
        _Barrier(
            name,
            str(own["barrier.role"].value) if "barrier.role" in own else "",
            "barrier.body" in own and str(own["barrier.body"].value) == "yes",
            {quantity: own[quantity] for quantity in _DISTANCES if quantity in own},
        )
        for name, own in rows.items()
    ]
    return {one.name: one for one in sorted(found, key=_narrow)}


def _narrow(one: _Barrier) -> tuple[bool, int, float, float, str]:
    """Sort key: what keeps the mains from people first, then by what it has, a distance nobody measured last."""
    found = [one.figures[name].value if name in one.figures else None for name in ("found.clearance", "found.creepage")]
    clearance, creepage = (value.near if isinstance(value, Value) else inf for value in found)
    place = ROLES.index(one.role) if one.role in ROLES else len(ROLES)
    return not one.role.startswith("primary to"), place, clearance, creepage, one.name


def _barrier_partners(before: Side, after: Side) -> tuple[tuple[str, str], ...]:
    """Places of one role: those of one name, then the narrowest with the narrowest."""
    old, new = _barriers(before.entries), _barriers(after.entries)
    found = [(name, name) for name in old if name in new and old[name].role == new[name].role]
    for role in dict.fromkeys((one.role, one.body) for one in old.values()):
        left, right = (
            [one.name for one in side.values() if (one.role, one.body) == role and (one.name, one.name) not in found]
            for side in (old, new)
        )
        found += zip(left, right, strict=False) if role[0] else ()
    return tuple(found)


def _places(before: Side, after: Side, partners: Mapping[str, str]) -> Iterable[SideBySide]:
    old, new = _barriers(before.entries), _barriers(after.entries)
    for name, one in old.items():
        other = new.get(partners.get(name, ""))
        yield _distances(one, other, one.role)
    for name, one in new.items():
        if name not in partners.values():
            yield _distances(None, one, one.role)


def _distances(one: _Barrier | None, other: _Barrier | None, role: str) -> SideBySide:
    figures = tuple(
        (name, one.figures.get(name) if one else None, other.figures.get(name) if other else None)
        for name in _DISTANCES
    )
    return SideBySide("barrier", role, one.name if one else "", other.name if other else "", figures)


_SHOWN = 2  # figures of a part that stand beside those of its partner


def _parts(before: Side, after: Side, partners: Mapping[str, str]) -> Iterable[SideBySide]:
    """Parts of one job with another name, kind or figure, then those that only one of the two has."""
    old, new = _stated_of_parts(before.entries), _stated_of_parts(after.entries)
    for name in sorted(before.structure.kinds, key=lambda one: one not in partners):
        partner = partners.get(name, "")
        one, other = old.get(name, {}), new.get(partner, {}) if partner else {}
        differ = [key for key in {**one, **other} if not _same_of(one.get(key), other.get(key))]
        if partner and name == partner and not differ:
            continue
        yield _beside(name, partner, before.structure.places.get(name, ""), one, other, differ)
    taken = set(partners.values())
    for name in after.structure.kinds:
        if name not in taken:
            other = new.get(name, {})
            yield _beside("", name, after.structure.places.get(name, ""), {}, other, list(other))


_Stated = dict[QuantityName, Entry]


def _beside(
    name: str, partner: str, place: str, one: _Stated, other: _Stated, differ: list[QuantityName]
) -> SideBySide:
    """Both parts with their kinds and the first few figures that differ."""
    kind: list[QuantityName] = ["part.kind"] if "part.kind" in one or "part.kind" in other else []
    figures = [key for key in differ if key != "part.marked_capacitance" and _is_figure(one, other, key)]
    both = [key for key in figures if key in one and key in other]  # these alone can be held side by side
    shown = (*kind, *(both or figures)[:_SHOWN])
    return SideBySide("part", place, name, partner, tuple((key, one.get(key), other.get(key)) for key in shown))


def _is_figure(one: _Stated, other: _Stated, key: QuantityName) -> bool:
    return any(isinstance(side[key].value, Value) for side in (one, other) if key in side)


def _stated_of_parts(entries: Iterable[Entry]) -> dict[str, _Stated]:
    found: dict[str, _Stated] = {}
    for one in entries:
        stated = one.subject.kind == "part" and not one.formula and one.value is not None and one.case is None
        if stated and one.quantity.startswith(("part.", "rated.")) and one.quantity not in _NOT_COMPARED:
            found.setdefault(one.subject.names[0], {}).setdefault(one.quantity, one)
    return found


def _same_of(one: Entry | None, other: Entry | None) -> bool:
    return one is not None and other is not None and _same(one.value, other.value)


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


def _subject(subject: Subject, renamed: _Renamed) -> Subject:
    """A subject of the first design under the names of the second."""
    own = renamed.own.get(subject.kind, renamed.parts)
    names = tuple(own.get(name, name) for name in subject.names)
    return subject if names == subject.names else Subject(subject.kind, names)


def _facts(before: Side, after: Side, renamed: _Renamed) -> tuple[tuple[FactChange, ...], int]:
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


def _stresses(before: Side, after: Side, renamed: _Renamed) -> tuple[tuple[StressChange, ...], int]:
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


def _verdicts(before: Review, after: Review, renamed: _Renamed) -> tuple[tuple[VerdictChange, ...], int]:
    old = {(one.rule, _subject(one.subject, renamed)): one for one in before.findings}
    new = {(one.rule, one.subject): one for one in after.findings}
    changes, same = [], 0
    for key in sorted({*old, *new}):
        one, other = old.get(key), new.get(key)
        was, now = _word(one), _word(other)
        if was == now:
            same += was != "not applicable"
        else:
            changes.append(VerdictChange(*key, one, other, turned(was, now)))
    return tuple(sorted(changes, key=_urgent)), same


def _word(finding: Finding | None) -> str:
    return (word_of(finding) if finding is not None else None) or "not applicable"


def turned(was: str, now: str) -> Way:
    """Which way a verdict went: better is only what is shown to hold now."""
    order = [*OVERALLS, "not applicable"]
    if "not applicable" in (was, now):
        word = now if was == "not applicable" else was
        if word == "pass":
            return "other"
        return "worse" if was == "not applicable" else "other"
    if order.index(now) < order.index(was):
        return "worse"
    return "better" if now in SHOWN else "other"  # a fail that is open or waived now is not shown to hold


def _urgent(change: VerdictChange) -> tuple[int, int, int, str, Subject]:
    """Sort key: worse first, by the word it has now, severe before less severe."""
    finding = change.after or change.before
    assert finding is not None
    now = _word(change.after)
    place = OVERALLS.index(now) if now in OVERALLS else len(OVERALLS)
    ways = ("worse", "better", "other")
    return ways.index(change.way), place, SEVERITIES.index(finding.severity), change.rule, change.subject
