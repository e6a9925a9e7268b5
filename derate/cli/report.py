"""`derate report`: write what was found as a page, as Markdown, or in a form that other programs read."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

from derate.cli.arguments import Parser, add_packs, day
from derate.cli.output import say, write_file

if TYPE_CHECKING:
    from derate.judge.acknowledge import KnownFinding
    from derate.report.document import Document
    from derate.study.work import Work

FORMATS = ("html", "markdown", "sarif", "junit", "csv")


def parser() -> Parser:
    """What the command takes."""
    made = Parser("report", "Write what was found about a design, for a reviewer or for another program.")
    made.add_argument("file", metavar="FILE", help="a design")
    made.add_argument(
        "--format",
        choices=FORMATS,
        default="html",
        help="html (default): one page; markdown: a comment; sarif, junit: for other programs; csv: the ledger",
    )
    add_packs(made)
    made.add_argument(
        "--stop-at", choices=("fail", "not-assessed", "marginal"), default=None, help="what blocks, as in lint"
    )
    made.add_argument("--known", metavar="FILE", help="hold back findings recorded there, as in lint")
    made.add_argument("--to", metavar="FILE", default="", help="write there; standard output when it is not said")
    made.add_argument("--today", type=day, metavar="DAY", help="the day of the report; default today")
    return made


def run(arguments: argparse.Namespace) -> int:
    """Write one report. Exit status 0 whatever was found: whether it blocks is for `lint` to say."""
    from derate.study.work import Workshop

    work = Workshop(arguments.packs).work(arguments.file)
    known = _known(arguments.known).get(arguments.file, {}) if arguments.known else None
    today = arguments.today or date.today()
    text = form(arguments.format)(document(work, today, known, arguments.stop_at))
    if arguments.to:
        write_file(arguments.to, text)
    else:
        say(text)
    return 0


def form(name: str) -> Callable[[Document], str]:
    """What writes a document in a format; each is imported only when it is asked for."""
    if name == "html":
        from derate.report.html import html_page

        return html_page
    if name == "markdown":
        from derate.report.markdown import markdown_text

        return markdown_text
    if name == "sarif":
        from derate.report.servers import sarif_text

        return sarif_text
    if name == "junit":
        from derate.report.servers import junit_text

        return junit_text
    from derate.report.ledger import csv_text

    return csv_text


def _known(path: str) -> dict[str, dict[str, KnownFinding]]:
    from derate.judge.acknowledge import read_record
    from derate.text.file import read_text

    return read_record(read_text(path), path)


def document(
    work: Work, today: date, known: Mapping[str, KnownFinding] | None = None, stop_at: str | None = None
) -> Document:
    """The report of a design that was worked through, judged, with everything that belongs beside its findings."""
    from derate.report.document import Document, photos
    from derate.study.faults import fault_rows
    from derate.study.waveforms import pictures
    from derate.study.work import formula_words, review_of
    from derate.text.file import read_text

    review = review_of(work, today, known, stop_at)
    design, ledger = work.design, work.ledger
    texts = {**design.texts, **{head.path: read_text(head.path) for head in work.packs.heads}}
    return Document(
        review,
        design,
        ledger,
        work.packs,
        today,
        texts,
        pictures(ledger, design.structure.mains),
        _insulation(work, review),
        fault_rows(ledger, design.structure, design.tests),
        formula_words(),
        photos(ledger.entries, design.file.supply.photos, design.path),
    )


def _insulation(work: Work, review: Any) -> tuple[Any, ...]:
    """What each pair of circuits needs and has, by the families whose rows stand in the ledger."""
    from derate.insulation.pairs import summary
    from derate.report.insulation import FamilyInsulation

    families = work.packs.families
    return tuple(
        FamilyInsulation(family, summary(work.ledger, family, len(families) > 1), review)
        for family in families
        if any(entry.quantity.startswith("needed.") for entry in work.ledger.entries)
    )
