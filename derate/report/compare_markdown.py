"""Two designs beside each other as Markdown for a comment: verdicts first, the rest folded."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from derate import __version__
from derate.judge.difference import Difference
from derate.report.compare import Changed, lists, partner_words, titles
from derate.report.markdown import folded, text
from derate.report.words import CAUTION

_OPEN = 12  # verdicts shown without unfolding


def compare_markdown(difference: Difference) -> str:
    """The comparison as Markdown text."""
    found = lists(difference)
    old, new = titles(difference)
    head = [
        f"## {difference.before.overall} → {difference.after.overall}", "", f"before: {text(old)}  ",
        f"after: {text(new)}", "", "| hazard | before | after |", "| --- | --- | --- |",
        *(f"| {hazard} | {was} | {f'**{now}**' if now != was else now} |" for hazard, was, now in found.hazards), "",
    ]  # fmt: skip
    partners = partner_words(difference)
    head += [text(partners), ""] if partners else []
    head += [f"### {found.headings[0]}", "", *_table(found.verdicts[:_OPEN])]
    foot = ["", text(CAUTION), "", f"derate {__version__}"]
    rest = (("Further verdicts", found.verdicts[_OPEN:]), (found.headings[1], found.stresses),
            (found.headings[2], found.facts))  # fmt: skip
    parts = [(title, list(_table(own))) for title, own in rest if own]
    return "\n".join([*head, *folded(parts, (*head, *foot), "compare"), *foot]) + "\n"


def _table(own: Sequence[Changed]) -> Iterator[str]:
    if own:
        yield "| of | what | before | after | |"
        yield "| --- | --- | --- | --- | --- |"
    for one in own:
        yield (
            f"| {text(one.of)} | {text(one.what)} | {text(one.before)} | {text(one.after)} | {text(one.comes_to)} |"
        )
