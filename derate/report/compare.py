"""Two designs beside each other: words, terminal, pipe, Markdown for a comment, and a page in the report's style."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from markupsafe import Markup

from derate import __version__
from derate.design.load import Design
from derate.judge.review import Difference, FactChange, Finding, Gate, Review, SideBySide, StressChange, VerdictChange
from derate.ledger.entry import Entry, Subject
from derate.report.circuit.drawing import beside, marks
from derate.report.colour import CAUTION_STYLE, HEADING, styled
from derate.report.gather import gate_lines, gate_words, packs_words
from derate.report.html import environment
from derate.report.markdown import folded, text
from derate.report.words import CAUTION, entry_words, listed, number_of, plain, quantity_words, wrapped
from derate.terms.dimension import LENGTH
from derate.terms.frozen import frozen
from derate.terms.values import Value
from derate.terms.words import HAZARDS
from derate.text.units import digits_of, show_value

# Two designs beside each other: the words of every format, and the lines for a terminal and a pipe.


NOTHING = "nothing"


@frozen
class Changed:
    """One line of a list: of what, which, before, after, and what that comes to. word: the verdict it has now, or ''"""

    of: str
    what: str
    before: str
    after: str
    comes_to: str
    word: str = ""
    was: str = ""


@frozen
class Beside:
    """One job in both designs, in words: what it is, what does it on either side, and with which figures.

    before, after: the name, 'none' where one design has nothing there; figures: (quantity, before, after)
    """

    role: str
    before: str
    after: str
    figures: tuple[tuple[str, str, str], ...]


@frozen
class Hazard:
    """One hazard on either side: how many of its findings block, and its word."""

    hazard: str
    before: int
    after: int
    was: str
    now: str

    @property
    def moved(self) -> bool:
        """Whether its word or its count is another."""
        return (self.before, self.was) != (self.after, self.now)


@frozen
class Lists:
    """The lists with their headings, and each hazard.

    places, parts: side by side; verdicts, stresses, facts: what changed; same_places: places that are the same in both
    """

    places: tuple[Beside, ...]
    parts: tuple[Beside, ...]
    verdicts: tuple[Changed, ...]
    stresses: tuple[Changed, ...]
    facts: tuple[Changed, ...]
    hazards: tuple[Hazard, ...]
    headings: tuple[str, str, str, str, str]

    def shown(self, every: bool) -> Lists:
        """What stands on one page, or all of it."""
        if every:
            return self
        return Lists(
            self.places[:_PLACES],
            self.parts[:_PARTS],
            self.verdicts[:_VERDICTS],
            self.stresses[:_STRESSES],
            self.facts[:_FACTS],
            self.hazards,
            self.headings,
        )

    @property
    def every(self) -> tuple[int, int, int, int, int]:
        """How long each list is."""
        return len(self.places), len(self.parts), len(self.verdicts), len(self.stresses), len(self.facts)


# of each list on one page; the worst, narrowest, furthest first
_PLACES, _PARTS, _VERDICTS, _STRESSES, _FACTS = 3, 5, 4, 1, 0


def lists(difference: Difference) -> Lists:
    """Everything that changed, in words."""
    worse = sum(one.way == "worse" for one in difference.verdicts)
    better = sum(one.way == "better" for one in difference.verdicts)
    neither = len(difference.verdicts) - worse - better
    turned = f"{worse} for the worse, {better} for the better" + (f", {neither} neither" if neither else "")
    barriers = [one for one in difference.pairs if one.of == "barrier"]
    places = tuple(_beside(one) for one in barriers if not _alike(one))
    parts = tuple(_beside(one) for one in difference.pairs if one.of == "part")
    return Lists(
        places,
        parts,
        tuple(map(_verdict, difference.verdicts)),
        tuple(_stresses(difference.stresses)),
        tuple(map(_fact, difference.facts)),
        tuple(_hazards(difference)),
        (
            f"{_some(len(places), 'place')} between circuits with another name or distance"
            f"{', the narrowest of each role side by side' if places else ''}; {len(barriers) - len(places)} the same",
            f"{_some(len(parts), 'part')} with another name, kind or figure, by what they do",
            f"{_some(len(difference.verdicts), 'verdict')} changed{f', {turned}' if difference.verdicts else ''}; "
            f"{difference.same_verdicts} the same",
            f"{number_of(len(difference.stresses), 'stress', 'stresses')} and limits moved, the furthest first; "
            f"{difference.same_stresses} the same",
            f"{_some(len(difference.facts), 'fact')} changed; {difference.same_facts} the same",
        ),
    )


def _some(number: int, noun: str) -> str:
    return number_of(number, noun) if number else f"no {noun}"


def _hazards(difference: Difference) -> Iterator[Hazard]:
    sides = (difference.before, difference.after)
    words = [{one.hazard: one.word for one in side.hazards} for side in sides]
    for hazard in HAZARDS:
        if hazard in words[0] or hazard in words[1]:
            one, other = (sum(each.blocks and each.hazard == hazard for each in side.findings) for side in sides)
            was, now = (own.get(hazard, "no rule looked") for own in words)
            yield Hazard(hazard, one, other, was, now)


def _alike(pair: SideBySide) -> bool:
    """Whether a place has one name and the same figures on both sides."""
    return pair.before == pair.after and all(_entry(one) == _entry(other) for _, one, other in pair.figures)


def _beside(pair: SideBySide) -> Beside:
    """A pair in words: the kind of a part behind its name, what a place needs behind what it has."""
    rows: dict[str, tuple[Entry | None, Entry | None]] = {name: (one, other) for name, one, other in pair.figures}
    was, now = rows.pop("part.kind", (None, None))
    figures = []
    for name, (one, other) in rows.items():
        if name not in _NEEDED.values():
            needs = rows.get(_NEEDED.get(name, ""), (None, None))
            words = _SHORT.get(name, quantity_words(name))
            figures.append((words, _side(one, pair.before, needs[0]), _side(other, pair.after, needs[1])))
    return Beside(plain(pair.role) or "no place", _named(pair.before, was), _named(pair.after, now), tuple(figures))


_SHORT = {"found.clearance": "clearance", "found.creepage": "creepage"}
_NEEDED = {"found.clearance": "needed.clearance", "found.creepage": "needed.creepage"}


def _named(name: str, kind: Entry | None) -> str:
    return f"{plain(name)}{f', {_entry(kind)}' if kind is not None else ''}" if name else "none"


def _side(entry: Entry | None, name: str, needed: Entry | None) -> str:
    if not name:
        return ""
    found = _entry(entry) if entry is not None else "not stated"
    if needed is None or not isinstance(needed.value, Value):
        return found
    low, high = needed.value.low, needed.value.high  # what it may come to with everything that is not known
    return f"{found}, needs {show_value(Value(low, low, high, high), LENGTH)}"


def blocking(review: Review) -> str:
    """`0 block`, `50 block`."""
    count = sum(one.blocks for one in review.findings)
    return f"{count} {'blocks' if count == 1 else 'block'}"


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
    """What is held against each other under two names; empty when nothing is."""
    pairs = [f"{plain(one)} and {plain(other)}" for one, other in difference.partners]
    return f"same job, other name: {listed(pairs, 30)}" if pairs else ""


def beside_words(one: Beside) -> Iterator[str]:
    """A job in both designs as lines: who does it, and each figure on either side."""
    yield f"{one.role}: {one.before} → {one.after}"
    if one.figures:
        yield "; ".join(f"{name} {was or '–'} → {now or '–'}" for name, was, now in one.figures)


def line_of(one: Changed) -> str:
    """One change as one line."""
    told = f" ({one.comes_to})" if one.comes_to else ""
    return f"{one.of}: {one.what}: {one.before} → {one.after}{told}"


def compare_lines(difference: Difference, width: int | None, every: bool = False) -> Iterator[str]:
    """The comparison as text. width: columns to wrap at, None for one change a line; every: no list is cut short"""
    whole = lists(difference)
    found = whole.shown(every)
    old, new = titles(difference)
    yield from _wrapped(f"before  {old}", width, "", "        ")
    yield from _wrapped(f"after   {new}", width, "", "        ")
    for line in gates(difference):
        yield from _wrapped(line, width, "", "  ")
    before, after = difference.before, difference.after
    yield f"{blocking(before)} → {blocking(after)} (overall {before.overall} → {after.overall})"
    for one in found.hazards:
        word = one.was if one.was == one.now else f"{one.was} → {one.now}"
        yield f"  {one.hazard:<13} {one.before} → {one.after} block; {word}"
    if every and (partners := partner_words(difference)):
        yield from _wrapped(partners, width, "", "  ")
    texts: tuple[Iterable[Sequence[str]], ...] = (
        (tuple(beside_words(one)) for one in found.places),
        (tuple(beside_words(one)) for one in found.parts),
        ((line_of(one),) for one in found.verdicts),
        ((line_of(one),) for one in found.stresses),
        ((line_of(one),) for one in found.facts),
    )
    for heading, own, count in zip(found.headings, texts, whole.every, strict=True):
        yield ""
        yield from styled(HEADING, _wrapped(heading, width, "", "  "))
        yield from _list(tuple(own), count, width)
    yield ""
    yield from styled(CAUTION_STYLE, _wrapped(CAUTION, width, "", ""))


def _list(own: Sequence[Sequence[str]], count: int, width: int | None) -> Iterator[str]:
    for lines in own:
        if width is None:
            yield f"  {': '.join(map(plain, lines))}"
            continue
        for line, ahead in zip(lines, ("  ", "      "), strict=False):
            yield from _wrapped(line, width, ahead, "      ")
    if count > len(own):
        yield f"  {f'and {count - len(own)} more' if own else 'each of them'}: --all"


def _wrapped(text: str, width: int | None, first: str, further: str) -> Iterator[str]:
    if width is None:
        yield first + plain(text)
    else:
        yield from wrapped(plain(text), max(width, 40), first, further)


# Two designs beside each other as Markdown for a comment: verdicts first, the rest folded.


_OPEN = 12  # verdicts shown without unfolding


def gates(difference: Difference) -> tuple[str, ...]:
    """What the two were judged by, one line where that is the same and nothing is softer."""
    before, after = difference.before.gate, difference.after.gate
    old, new = (gate_lines(one.path, one.gate) for one in (difference.before, difference.after))
    same = (before.level, before.level_from, before.libraries) == (after.level, after.level_from, after.libraries)
    if not old.top and not new.top and same:
        return (_of_both(before, after),)
    return tuple(dict.fromkeys((*old.top, old.used, *new.top, new.used)))


def _of_both(before: Gate, after: Gate) -> str:
    """One line for two gates of one level: the packs of both, then those of one alone."""
    both = tuple(one for one in before.packs if one in after.packs)
    said = [gate_words(before._replace(packs=both))]
    for word, gate in (("before", before), ("after", after)):
        alone = tuple(one for one in gate.packs if one not in both)
        if alone:
            said.append(f"only {word}: {packs_words(alone)}")
    return "; ".join(said)


def compare_markdown(difference: Difference) -> str:
    """The comparison as Markdown text."""
    found = lists(difference)
    old, new = titles(difference)
    head = [
        *(f"- {text(line, 2000)}" for line in gates(difference)),
        f"## {blocking(difference.before)} → {blocking(difference.after)}",
        "",
        f"overall: {difference.before.overall} → {difference.after.overall}  ",
        f"before: {text(old)}  ",
        f"after: {text(new)}",
        "",
        "| hazard | before | after |",
        "| --- | --- | --- |",
        *(_hazard_row(one) for one in found.hazards),
        "",
    ]
    partners = partner_words(difference)
    head += [text(partners), ""] if partners else []
    head += [f"### {found.headings[0]}", "", *_side_table(found.places[:_PLACES])] if found.places else []
    head += ["", f"### {found.headings[2]}", "", *_table(found.verdicts[:_OPEN])]
    foot = ["", text(CAUTION), "", f"derate {__version__}"]
    rest = (
        ("Further verdicts", found.verdicts[_OPEN:]),
        (found.headings[3], found.stresses),
        (found.headings[4], found.facts),
    )
    beside = (("Further places", found.places[_PLACES:]), (found.headings[1], found.parts))
    parts = [(title, list(_side_table(pairs))) for title, pairs in beside if pairs]
    parts += [(title, list(_table(own))) for title, own in rest if own]
    return "\n".join([*head, *folded(parts, (*head, *foot), "compare"), *foot]) + "\n"


def _hazard_row(one: Hazard) -> str:
    now = f"{one.after} block, {one.now}"
    return f"| {one.hazard} | {one.before} block, {one.was} | {f'**{now}**' if one.moved else now} |"


def _side_table(own: Sequence[Beside]) -> Iterator[str]:
    yield "| role | | before | after |"
    yield "| --- | --- | --- | --- |"
    for one in own:
        yield f"| {text(one.role)} | | {text(one.before)} | {text(one.after)} |"
        for name, was, now in one.figures:
            yield f"| | {text(name)} | {text(was)} | {text(now)} |"


def _table(own: Sequence[Changed]) -> Iterator[str]:
    if own:
        yield "| of | what | before | after | |"
        yield "| --- | --- | --- | --- | --- |"
    for one in own:
        yield (f"| {text(one.of)} | {text(one.what)} | {text(one.before)} | {text(one.after)} | {text(one.comes_to)} |")


# Two designs beside each other as one page, in the style of the report.


def circuits(difference: Difference, designs: tuple[Design, Design]) -> tuple[tuple[str, Markup], ...]:
    """Both circuits as understood, with their names; parts of which a fact or a verdict is another are framed."""
    subjects = [*(one.subject for one in difference.facts), *(one.subject for one in difference.verdicts)]
    after = {name for subject in subjects for name in subject.names}
    earlier = {new: old for old, new in difference.partners}
    before = {earlier.get(name, name) for name in after}
    return (
        (difference.before.name, beside(designs[0], difference.before, before, "before-")),
        (difference.after.name, beside(designs[1], difference.after, after, "after-")),
    )


def compare_html(
    difference: Difference, day: date, every: bool = False, designs: tuple[Design, Design] | None = None
) -> str:
    """The comparison as HTML text.

    day: of the report; every: all of it, one printed page otherwise; designs: whose circuits are drawn side by side,
    on the one printed page not
    """
    old, new = titles(difference)
    whole = lists(difference)
    page = (
        environment()
        .get_template("compare.html")
        .render(
            difference=difference,
            found=whole.shown(every),
            left=[max(0, count - own) for count, own in zip(whole.every, whole.shown(every).every, strict=True)],
            every=every,
            blocking=blocking,
            old=old,
            new=new,
            circuits=circuits(difference, designs) if designs is not None else (),
            circuit_key=marks(),
            partners=partner_words(difference),
            gates=gates(difference),
            softer=len(gates(difference)) > 1,
            day=day,
        )
    )
    return page if page.endswith("\n") else page + "\n"
