"""Two designs beside each other: words, terminal, pipe, Markdown for a comment, and a page in the report's style."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from derate import __version__
from derate.judge.review import Difference, FactChange, Finding, StressChange, VerdictChange
from derate.ledger.entry import Entry, Subject
from derate.report.gather import gate_lines
from derate.report.html import environment
from derate.report.markdown import folded, text
from derate.report.words import CAUTION, entry_words, listed, number_of, plain, quantity_words, wrapped
from derate.terms.values import Value
from derate.terms.words import HAZARDS
from derate.text.units import digits_of

# Two designs beside each other: the words of every format, and the lines for a terminal and a pipe.


NOTHING = "nothing"
_MOST = 24  # lines of a list at a terminal


@dataclass(frozen=True, slots=True)
class Changed:
    """One line of a list: of what, which, before, after, and what that comes to. word: the verdict it has now, or ''"""

    of: str
    what: str
    before: str
    after: str
    comes_to: str
    word: str = ""
    was: str = ""


@dataclass(frozen=True, slots=True)
class Lists:
    """The three lists with their headings, and the words of each hazard (hazard, before, after)."""

    verdicts: tuple[Changed, ...]
    stresses: tuple[Changed, ...]
    facts: tuple[Changed, ...]
    hazards: tuple[tuple[str, str, str], ...]
    headings: tuple[str, str, str]


def lists(difference: Difference) -> Lists:
    """Everything that changed, in words."""
    worse = sum(one.way == "worse" for one in difference.verdicts)
    better = sum(one.way == "better" for one in difference.verdicts)
    return Lists(
        tuple(map(_verdict, difference.verdicts)),
        tuple(_stresses(difference.stresses)),
        tuple(map(_fact, difference.facts)),
        tuple(_hazards(difference)),
        (
            f"{number_of(len(difference.verdicts), 'verdict')} changed, {worse} for the worse, {better} for the "
            f"better; {difference.same_verdicts} the same",
            f"{number_of(len(difference.stresses), 'stress', 'stresses')} and limits moved, the furthest first; "
            f"{difference.same_stresses} the same",
            f"{number_of(len(difference.facts), 'fact')} changed; {difference.same_facts} the same",
        ),
    )


def _hazards(difference: Difference) -> Iterator[tuple[str, str, str]]:
    old = {one.hazard: one.word for one in difference.before.hazards}
    new = {one.hazard: one.word for one in difference.after.hazards}
    for hazard in HAZARDS:
        if hazard in old or hazard in new:
            yield hazard, old.get(hazard, "no rule looked"), new.get(hazard, "no rule looked")


def _word(finding: Finding | None) -> str:
    if finding is None:
        return "no such finding"
    said = finding.acknowledgement
    waived = finding.verdict == "fail" and said is not None and not said.expired
    return "fail, waived" if waived else finding.verdict


def _verdict(change: VerdictChange) -> Changed:
    finding = change.after or change.before
    assert finding is not None
    ratios = [
        digits_of(one.ratio) if one.ratio != float("inf") else "no bound"
        for one in (change.before, change.after)
        if one is not None and one.ratio is not None
    ]
    told = f"{finding.hazard}, {finding.severity}"
    if len(ratios) == 2:
        told += f", ratio {ratios[0]} to {ratios[1]}"
    elif change.after is not None and change.after.ratio is not None:
        told += f", ratio {ratios[0]}"
    return Changed(
        plain(str(change.subject)),
        plain(change.rule),
        _word(change.before),
        _word(change.after),
        told,
        _word(change.after),
        _word(change.before),
    )


def _entry(entry: Entry | None) -> str:
    if entry is None:
        return NOTHING
    return "not known" if entry.value is None else entry_words(entry)


def _stresses(changes: Iterable[StressChange]) -> Iterator[Changed]:
    """Groups of cases, then subjects, that moved from and to the same figures are one line."""
    by_groups: dict[tuple[Subject, str, str, str], list[StressChange]] = {}
    for one in changes:
        by_groups.setdefault((one.subject, one.quantity, _entry(one.before), _entry(one.after)), []).append(one)
    by_subjects: dict[tuple[str, str, str, str], list[StressChange]] = {}
    for (_, quantity, before, after), own in by_groups.items():
        groups = listed(sorted(plain(one.group) for one in own), 5)
        by_subjects.setdefault((quantity, before, after, groups), []).append(own[0])
    for (_, _, _, groups), own in by_subjects.items():
        yield _stress(own[0], listed((plain(str(one.subject)) for one in own), 6), groups)


def _stress(change: StressChange, of: str, groups: str) -> Changed:
    group = f" ({groups})" if groups else ""
    told = ""
    if change.factor is not None:
        percent = 100 * (change.factor - 1)
        told = f"× {digits_of(change.factor)}" if abs(percent) >= 50 else f"{percent:+.3g} %"
    return Changed(of, f"{quantity_words(change.quantity)}{group}", _entry(change.before), _entry(change.after), told)


def _fact(change: FactChange) -> Changed:
    one, other = change.before, change.after
    told = ""
    if one is not None and other is not None and one.known_by != other.known_by:
        told = f"{one.known_by}, now {other.known_by}"
    row = other or one
    assert row is not None
    what = quantity_words(change.quantity)
    if row.case is not None:
        what += f" ({plain(str(row.case))})"
    before, after = _entry(one), _entry(other)
    if before == after and not told and one is not None and isinstance(one.value, Value):
        told = "its tolerance or range"
    return Changed(plain(str(change.subject)), what, before, after, told)


def titles(difference: Difference) -> tuple[str, str]:
    """How both designs are called: name and what the command line said."""
    return (
        f"{plain(difference.before.name)} ({plain(difference.before_name)})",
        f"{plain(difference.after.name)} ({plain(difference.after_name)})",
    )


def partner_words(difference: Difference) -> str:
    """Which parts are held against each other under two names; empty when none are."""
    pairs = [f"{plain(one)} and {plain(other)}" for one, other in difference.partners]
    return f"same place, other name: {listed(pairs, 30)}" if pairs else ""


def line_of(one: Changed) -> str:
    """One change as one line."""
    told = f" ({one.comes_to})" if one.comes_to else ""
    return f"{one.of}: {one.what}: {one.before} → {one.after}{told}"


def compare_lines(difference: Difference, width: int | None, every: bool = False) -> Iterator[str]:
    """The comparison as text. width: columns to wrap at, None for one change a line; every: no list is cut short"""
    found = lists(difference)
    old, new = titles(difference)
    yield from _wrapped(f"before  {old}", width, "", "        ")
    yield from _wrapped(f"after   {new}", width, "", "        ")
    for line in gates(difference):
        yield from _wrapped(line, width, "", "  ")
    yield f"overall {difference.before.overall} → {difference.after.overall}"
    for hazard, was, now in found.hazards:
        yield f"  {hazard:<13} {was}{'' if was == now else f' → {now}'}"
    partners = partner_words(difference)
    if partners:
        yield from _wrapped(partners, width, "", "  ")
    for heading, own in zip(found.headings, (found.verdicts, found.stresses, found.facts), strict=True):
        yield ""
        yield from _wrapped(heading, width, "", "  ")
        yield from _list(own, width, every)
    yield ""
    yield from _wrapped(CAUTION, width, "", "")


def _list(own: Sequence[Changed], width: int | None, every: bool) -> Iterator[str]:
    most = len(own) if every or width is None else _MOST
    for one in own[:most]:
        yield from _wrapped(line_of(one), width, "  ", "      ")
    if len(own) > most:
        yield f"  and {len(own) - most} more: --all"


def _wrapped(text: str, width: int | None, first: str, further: str) -> Iterator[str]:
    if width is None:
        yield first + plain(text)
    else:
        yield from wrapped(plain(text), max(width, 40), first, further)


# Two designs beside each other as Markdown for a comment: verdicts first, the rest folded.


_OPEN = 12  # verdicts shown without unfolding


def gates(difference: Difference) -> tuple[str, ...]:
    """What each of the two was judged by, where that is not the shipped gate; once where it is the same."""
    return tuple(dict.fromkeys((*gate_lines(difference.before), *gate_lines(difference.after))))


def compare_markdown(difference: Difference) -> str:
    """The comparison as Markdown text."""
    found = lists(difference)
    old, new = titles(difference)
    head = [
        *(f"- {text(line, 2000)}" for line in gates(difference)),
        f"## {difference.before.overall} → {difference.after.overall}",
        "",
        f"before: {text(old)}  ",
        f"after: {text(new)}",
        "",
        "| hazard | before | after |",
        "| --- | --- | --- |",
        *(f"| {hazard} | {was} | {f'**{now}**' if now != was else now} |" for hazard, was, now in found.hazards),
        "",
    ]
    partners = partner_words(difference)
    head += [text(partners), ""] if partners else []
    head += [f"### {found.headings[0]}", "", *_table(found.verdicts[:_OPEN])]
    foot = ["", text(CAUTION), "", f"derate {__version__}"]
    rest = (
        ("Further verdicts", found.verdicts[_OPEN:]),
        (found.headings[1], found.stresses),
        (found.headings[2], found.facts),
    )
    parts = [(title, list(_table(own))) for title, own in rest if own]
    return "\n".join([*head, *folded(parts, (*head, *foot), "compare"), *foot]) + "\n"


def _table(own: Sequence[Changed]) -> Iterator[str]:
    if own:
        yield "| of | what | before | after | |"
        yield "| --- | --- | --- | --- | --- |"
    for one in own:
        yield (f"| {text(one.of)} | {text(one.what)} | {text(one.before)} | {text(one.after)} | {text(one.comes_to)} |")


# Two designs beside each other as one page, in the style of the report.


def compare_html(difference: Difference, day: date) -> str:
    """The comparison as HTML text. day: of the report"""
    old, new = titles(difference)
    page = (
        environment()
        .get_template("compare.html")
        .render(
            difference=difference,
            found=lists(difference),
            old=old,
            new=new,
            partners=partner_words(difference),
            gates=gates(difference),
            day=day,
        )
    )
    return page if page.endswith("\n") else page + "\n"
