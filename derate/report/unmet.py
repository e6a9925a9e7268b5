"""What does not apply, gathered: a fact with what was found of each subject once, then what the rules asked of it.

A dozen rules ask of the same ten capacitors where they sit. Said finding by finding, that takes more paper than
everything that was judged.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from derate.judge.review import Finding
from derate.report.gather import reason
from derate.report.words import clipped, plain
from derate.terms.tuples import NamedTuple

LONGEST = 120  # columns of a name in a list


class Asked(NamedTuple):
    """What rules asked of a fact and did not find.

    text: what was asked; of: of which subjects of the fact, '' for all of them; rules: their names
    """

    text: str
    of: str
    rules: tuple[str, ...]


class Unasked(NamedTuple):
    """A fact for which rules do not apply.

    fact: in words; found: what was found, and its subjects; asked: what the rules asked instead
    """

    fact: str
    found: tuple[tuple[str, str], ...]
    asked: tuple[Asked, ...]


class _Group(NamedTuple):
    """Rules that look at the same subjects, each rule with what it asked and those it does not apply to."""

    found: dict[str, str]
    rules: dict[tuple[str, str], list[str]]


def gathered(findings: Iterable[Finding]) -> tuple[Unasked, ...]:
    """Findings that do not apply and say for which condition, by fact; a finding is in exactly one of them.

    Rules stand together where they share a subject; where the same fact was found otherwise, they stand apart.
    """
    facts: dict[str, dict[tuple[str, str], dict[str, str]]] = {}
    for one in sorted(findings, key=lambda one: one.rule):
        if one.told is not None and one.told.unmet is not None:
            fact, found, asked = one.told.unmet
            facts.setdefault(fact, {}).setdefault((one.rule, asked), {})[str(one.subject)] = found
    return tuple(_told(fact, group) for fact, rules in facts.items() for group in _joined(rules))


def others(findings: Iterable[Finding]) -> tuple[tuple[str, str, tuple[Finding, ...]], ...]:
    """Those that name no condition: rule, reason and the findings that give it."""
    every: dict[tuple[str, str], list[Finding]] = {}
    for one in sorted(findings, key=lambda one: one.rule):
        if one.told is None or one.told.unmet is None:
            every.setdefault((one.rule, reason(one)), []).append(one)
    return tuple((rule, why, tuple(own)) for (rule, why), own in every.items())


def _joined(rules: dict[tuple[str, str], dict[str, str]]) -> list[_Group]:
    groups: list[_Group] = []
    for key, found in rules.items():
        near = [one for one in groups if one.found.keys() & found.keys() and _agree(one.found, found)]
        into = near[0] if near else _Group({}, {})
        if not near:
            groups.append(into)
        into.found.update(found)
        into.rules[key] = list(found)
        for one in near[1:]:
            if _agree(into.found, one.found):
                into.found.update(one.found)
                into.rules.update(one.rules)
                groups.remove(one)
    return groups


def _agree(first: dict[str, str], second: dict[str, str]) -> bool:
    return all(first[name] == second[name] for name in first.keys() & second.keys())


def _told(fact: str, group: _Group) -> Unasked:
    found: dict[str, list[str]] = {}
    for subject, what in group.found.items():
        found.setdefault(what, []).append(subject)
    every = [subject for own in found.values() for subject in own]
    asked: dict[tuple[str, str], list[str]] = {}
    for (rule, text), subjects in group.rules.items():
        asked.setdefault((text, _of(subjects, every)), []).append(rule)
    return Unasked(
        fact,
        tuple((what, _names(own)) for what, own in found.items()),
        tuple(Asked(text, of, tuple(own)) for (text, of), own in asked.items()),
    )


def _of(subjects: Sequence[str], every: Sequence[str]) -> str:
    """Which of all subjects, in fewer words where few are left out."""
    named = [one for one in every if one in subjects]
    left = [one for one in every if one not in subjects]
    if not left:
        return ""
    return f"all but {_names(left)}" if len(left) < len(named) else _names(named)


def _names(subjects: Sequence[str]) -> str:
    return ("; " if any("," in one for one in subjects) else ", ").join(
        clipped(plain(one), LONGEST) for one in subjects
    )
