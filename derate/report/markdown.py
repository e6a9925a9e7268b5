"""The report as Markdown for a comment on a change: the short of it first, details folded, names harmless.

A comment has room for 65,536 characters; what does not fit is counted, never cut in the middle.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from derate.judge.review import Finding
from derate.report.document import Document
from derate.report.faults import fault_words
from derate.report.gather import (
    SOFTER,
    accepted_words,
    acknowledgement_words,
    act_first,
    basis_words,
    body,
    cautions,
    groups,
    placed_notes,
    sentence,
    softer_lines,
    used_words,
    wanted_facts,
)
from derate.report.html import assumed, ordered
from derate.report.insulation import insulation_rows
from derate.report.lines import problem_words
from derate.report.words import (
    CAUTION,
    clipped,
    counts_words,
    entry_words,
    figure,
    number_of,
    plain,
    quantity_words,
    sides,
    times,
)
from derate.terms.values import Problem

ROOM = 60_000  # characters; a comment holds 65,536
_INSTRUCTION = 1200  # columns of an instruction: its caution stands at its end and is never cut off
_LONGEST = 300  # columns of a text from a file
_SPECIAL = re.compile(r"[\\`*_{}\[\]<>|~&^$]")
_BEGINS = re.compile(r"(\d*)([#+=.)-])")  # what would begin a list, a heading or a rule at the start of a line

# What a renderer makes a link or a call of, with no mark round it: a name after @, a number after # or GH, an address
# with its scheme or without. An empty remark between its characters leaves the text as it is, and no whole address.
_LINKS = re.compile(r"@|#(?=\w)|\bGH(?=-\d)|:(?=//)|(?<=\w)(?=\.[^\W\d_]{2})", re.IGNORECASE)
_APART = "<!-- -->"


def text(said: str, longest: int = _LONGEST) -> str:
    """Text from anywhere as Markdown that shows exactly that text: nothing in it is obeyed, linked or called."""
    escaped = _SPECIAL.sub(lambda found: "\\" + found[0], clipped(plain(said).strip(), longest))
    if _BEGINS.match(escaped):
        escaped = _BEGINS.sub(r"\1\\\2", escaped, count=1)
    return _LINKS.sub(lambda found: found[0] + _APART, escaped)


def markdown_text(*documents: Document, unread: Sequence[Problem] = ()) -> str:
    """The report of designs as Markdown text: the short of each first. unread: what kept others from being read."""
    head = list(_together(documents, unread)) if len(documents) > 1 or unread else []
    room = 2 * ROOM // 3
    for number, one in enumerate(documents):
        own = list(_head(one))
        room -= sum(len(line) + 1 for line in own)
        if room < 0 and number:
            head += ["", f"{number_of(len(documents) - number, 'more design')}: derate report FILE has each."]
            break
        head += ["", *own] if head else own
    told = dict.fromkeys(line for one in documents for line in cautions(one.review))
    foot = [
        "",
        "### Cautions",
        "",
        *(f"- {text(line, _INSTRUCTION)}" for line in told),
        "",
        text(CAUTION, _INSTRUCTION),
    ]
    foot += ["", *_made_from(documents)]
    parts = [
        (f"{text(one.review.name)}: {title}" if len(documents) > 1 else title, lines)
        for one in documents
        for title, lines in _details(one)
    ]
    return "\n".join([*head, *folded(parts, (*head, *foot), "report"), *foot]) + "\n"


def _made_from(documents: Sequence[Document]) -> Iterator[str]:
    """What each was made from; of several with the same packs and settings those once, ahead of their inputs."""
    if len(documents) == 1:
        one = documents[0]
        yield f"{text(used_words(one.review), 2000)}; inputs SHA-256 `{one.inputs_hash[:16]}`; {one.day}"
        return
    used: dict[str, list[str]] = {}
    for one in documents:
        made = f"{text(one.review.path)}: inputs SHA-256 `{one.inputs_hash[:16]}`; {one.day}"
        used.setdefault(text(used_words(one.review), 2000), []).append(made)
    kept, left_out = _fitting([f"- {line}" for words, own in used.items() for line in (words, *own)], ROOM // 6)
    yield from kept
    if left_out:
        yield f"- {number_of(left_out, 'line')} more: derate report FILE has each"


def _together(documents: Sequence[Document], unread: Sequence[Problem]) -> Iterator[str]:
    """What blocks of several designs, and what could not be read, ahead of all else."""
    blocked = [one for one in documents if one.review.blocks]
    yield f"# {len(blocked)} of {number_of(len(documents), 'design')} {'blocks' if len(blocked) == 1 else 'block'}"
    yield ""
    lines = [f"- {text(one.place.path)}: could not be read: {text(problem_words(one))}" for one in unread]
    for one in blocked:
        count = sum(each.blocks for each in one.review.findings)
        lines.append(f"- {text(one.review.path)}: blocked by {number_of(count, 'finding')}")
    kept, left_out = _fitting(lines, ROOM // 6)
    yield from kept
    if left_out:
        yield f"- {number_of(left_out, 'line')} more"


def folded(parts: Iterable[tuple[str, Sequence[str]]], around: Iterable[str], command: str) -> Iterator[str]:
    """Titled lines, folded, as far as they fit into a comment beside the lines around them; the command has all."""
    room = ROOM - sum(len(line) + 1 for line in around)
    without = 0  # parts for which there was not even room to say what they are
    for title, lines in parts:
        own = len(title) + 120  # what folds it, and the count of what is left out
        if room < own:
            without += 1
            continue
        block, left_out = _fitting(lines, room - own)
        room -= sum(len(line) + 1 for line in block) + own
        yield from ("", "<details>", f"<summary>{title}</summary>", "", *block)
        if left_out:
            yield from ("", f"{number_of(left_out, 'line')} more: derate {command} --format html has all.")
        yield from ("", "</details>")
    if without:
        yield from ("", f"{number_of(without, 'more list')}: derate {command} --format html has all.")


def _fitting(lines: Sequence[str], room: int) -> tuple[list[str], int]:
    """The first lines that fit into so many characters, and how many are left out."""
    kept: list[str] = []
    used = 0
    for number, line in enumerate(lines):
        used += len(line) + 1
        if used > room:
            return kept, len(lines) - number
        kept.append(line)
    return kept, 0


def _head(document: Document) -> Iterator[str]:
    review = document.review
    yield f"## {text(review.name)}: {review.overall}"
    yield ""
    yield f"{text(review.path)}: {counts_words(review.counts)}{_also(accepted_words(review))}."
    yield ""
    supply = document.design.file.supply
    if supply.sample:
        yield f"Sample: {text(supply.sample)}."
        yield ""
    softer = softer_lines(review)
    if softer:
        yield f"**{SOFTER}**"
        yield ""
        yield from (f"- {text(line)}" for line in softer)
        yield ""
    yield "| hazard | word | decided by | blocking |"
    yield "| --- | --- | --- | ---: |"
    for part in ordered(groups(review, verbose=True)):
        word = part.word.word if part.word is not None else "not assessed"
        why = (part.word.why if part.word is not None else "no rule looked") or "every rule that looked"
        yield f"| {part.hazard} | {word} | {text(why)} | {part.blocking} |"
    first = act_first(review)
    yield ""
    if first:
        yield "### Act on first" if review.blocks else "### Nothing blocks; what keeps it from a pass"
        yield ""
    else:
        yield "Nothing blocks and nothing is open."
    for number, one in enumerate(first, 1):
        ratio = f", {text(one.ratio)}" if one.ratio else ""
        cure = f" {text(one.remedy, _INSTRUCTION)}" if one.remedy else ""
        yield (
            f"{number}. **{text(one.subject)}** {text(one.what)} ({one.hazard}, {one.severity}, {one.word}{ratio}): "
            f"{text(one.reason)}{cure}"
        )


def _also(words: str) -> str:
    return f"; {words}" if words else ""


def _details(document: Document) -> Iterator[tuple[str, list[str]]]:
    review = document.review
    for verdict in ("fail", "marginal"):
        every = [one for part in ordered(groups(review, verbose=True)) for one in part.shown]
        own = sorted((one for one in every if one.verdict == verdict), key=lambda one: not one.blocks)
        if own:
            yield f"{number_of(len(own), 'finding')} {verdict}", [line for one in own for line in _finding(one)]
    facts = wanted_facts(review)
    if facts:
        rows = ["| of | fact | how to get it | findings | blocking |", "| --- | --- | --- | ---: | ---: |"]
        rows += [
            f"| {text(one.subject)} | {text(quantity_words(one.name) if one.name else one.text)} | "
            f"{text(one.how, _INSTRUCTION)} | "
            f"{len(one.findings)} | {one.blocking} |"
            for one in facts
        ]
        yield f"{number_of(len(facts), 'fact')} missing", rows
    yield from _tables(document)


def _tables(document: Document) -> Iterator[tuple[str, list[str]]]:
    review = document.review
    insulation = insulation_rows(document.insulation)
    if insulation:
        rows = ["| between | path | insulation | needed and found | verdict |", "| --- | --- | --- | --- | --- |"]
        rows += [
            f"| {one.role} | {text(one.path)} | {text(one.insulation)} | "
            f"{', '.join(f'{name} {text(said)}' for name, said, _ in one.figures)} | {one.verdict} |"
            for one in insulation
        ]
        yield "Insulation needed and found", rows
    if document.faults is None:
        yield "Faults", ["Nobody has looked at single faults."]
    elif document.faults:
        rows = ["| fault | at | current, rms | opening |", "| --- | --- | --- | --- |"]
        rows += [
            f"| {text(one.fault)} | {text(one.case)} | {text(one.current)} | {text(one.opening)} |"
            for one in fault_words(document.faults)
        ]
        yield "Single faults", rows
    accepted = [one for one in review.findings if one.acknowledgement is not None]
    if accepted or review.notes:
        lines = [
            f"- {text(str(one.subject))}, {text(one.rule)}: {one.verdict}; {text(acknowledgement_words(said))}"
            for one in accepted
            if (said := one.acknowledgement) is not None
        ]
        lines += [f"- {text(where)}: {text(note)}" for where, note in placed_notes(review)]
        yield "Waivers, open points and notes", lines
    rows = [
        f"- {text(', '.join(str(each.subject) for each in own))}: {text(quantity_words(own[0].quantity))} "
        f"{text(entry_words(own[0]))}{_of(own[0].note or own[0].source)}"
        for own in assumed(document.ledger.entries)
    ]
    if rows:
        yield f"{number_of(len(rows), 'assumption')}", rows


def _of(source: str) -> str:
    return f" ({text(source)})" if source else ""


def _finding(one: Finding) -> Iterable[str]:
    blocks = ", blocks" if one.blocks else ""
    yield f"- **{text(str(one.subject))}** {text(one.rule)} ({one.hazard}, {one.severity}{blocks})  "
    yield f"  {text(sentence(body(one)))}  "
    if one.ratio is not None and one.stress is not None and one.limit is not None:
        named = sides(one.stress, one.limit, one.ratio)
        used, allowed = text(figure(one.stress, one.unit)), text(figure(one.limit, one.unit))
        yield f"  {named.first} {used}, {named.second} {allowed}: {text(times(one.ratio, named.second))}  "
    if one.remedy:
        yield f"  {text(sentence(one.remedy), _INSTRUCTION)}  "
    yield f"  {text(basis_words(one))}; line {one.place.line}"
