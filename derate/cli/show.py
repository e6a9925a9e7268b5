"""Showing: the report in each of its forms, and two designs beside each other."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING, Any

from derate.cli.shared import (
    Parser,
    add_colour,
    add_gate,
    add_packs,
    at_terminal,
    day,
    for_people,
    refused,
    say,
    say_lines,
    width,
    workshop_for,
)
from derate.report.words import plain
from derate.text.files import may_be_written, write_whole

if TYPE_CHECKING:
    from derate.judge.acknowledge import KnownRecord
    from derate.judge.review import Review
    from derate.report.document import Document
    from derate.study.compare import Side
    from derate.study.work import Work, Workshop
    from derate.terms.words import Level


# `derate report`: write what was found as a page, as Markdown, or in a form that other programs read.


FORMATS = ("html", "summary", "markdown", "sarif", "junit", "csv")
SEVERAL = ("markdown", "sarif", "junit")  # those that hold any number of designs


def report_parser() -> Parser:
    """What the command takes."""
    made = Parser("report", "Write what was found about a design, for a reviewer or for another program.")
    made.add_argument("files", nargs="+", metavar="FILE", help="a design; several for markdown, sarif and junit")
    made.add_argument(
        "--format",
        choices=FORMATS,
        default="html",
        help="html (default): the whole; summary: two printed pages; markdown: a comment; sarif, junit: for other "
        "programs; csv: every entry",
    )
    made.add_argument(
        "--only",
        choices=("circuit",),
        help="circuit: the drawing by itself, each part with what was found on it (html)",
    )
    add_gate(made)
    made.add_argument("--to", metavar="FILE", default="", help="write there; standard output when it is not said")
    made.add_argument("--today", type=day, metavar="DAY", help="the day of the report; default today")
    made.add_argument(
        "--spread",
        action="store_true",
        help="with what tolerance does: draws of each stress with its limit and extreme ends, and what drives it "
        "(html; takes a minute)",
    )
    made.add_argument("--draws", type=int, metavar="N", help="with --spread: how many draws (20000)")
    return made


_PAGES = ("html", "summary")  # formats that a browser shows


def run_report(arguments: argparse.Namespace) -> int:
    """Write one report. Exit status 0 whatever was found: whether it blocks is for `lint` to say."""
    if len(arguments.files) > 1 and arguments.format not in SEVERAL:
        what = f"--format {arguments.format} holds one design, and {len(arguments.files)} are named"
        raise refused(what, f"name one, or write --format {', '.join(SEVERAL[:-1])} or {SEVERAL[-1]}")
    if arguments.only and arguments.format != "html":
        raise refused(
            f"--only {arguments.only} is a page, and --format {arguments.format} is none", "leave --format out"
        )
    if arguments.format in _PAGES and not arguments.to and at_terminal():
        made = f" --format {arguments.format}" if arguments.format != "html" else ""
        raise refused("a page is no text for a terminal", f"write{made} --to report.html, or --format markdown")
    way = _way(arguments)
    workshop, known = workshop_for(arguments)
    works = [workshop.work(path) for path in arguments.files]
    read = tuple(dict.fromkeys(path for work in works for path in _read(work, arguments)))
    if arguments.to:
        may_be_written(arguments.to, read)
    today = arguments.today or date.today()
    documents = [document(work, today, known, arguments.stop_at) for work in works]
    if way is not None:
        from dataclasses import replace

        from derate.study.spread.spread import spread

        documents = [replace(one, spread=spread(work, today, way)) for one, work in zip(documents, works, strict=True)]
    text = form(arguments.only or arguments.format)(*documents)
    if arguments.to:
        write_whole(arguments.to, text, read)
        if at_terminal():
            say(f"{plain(arguments.to)}: written")
    else:
        say(text)
    return 0


def _way(arguments: argparse.Namespace) -> Any:
    """How what tolerance does is drawn; None where it is not asked for."""
    if not arguments.spread:
        if arguments.draws is not None:
            raise refused("--draws belongs to --spread", "add --spread")
        return None
    if arguments.only or arguments.format != "html":
        raise refused("--spread is a part of the whole page", "leave --only and --format out")
    from derate.cli.figures import checked_draws
    from derate.study.spread.replay import Way

    draws = checked_draws(arguments.draws)
    return Way(draws, min(draws, max(200, draws // 10)))


def _read(work: Work, arguments: argparse.Namespace) -> tuple[str, ...]:
    """Every file that a report is made from."""
    known = (arguments.known,) if arguments.known else ()
    return (*work.read, *known, *(one.path for one in work.design.captures))


def form(name: str) -> Callable[..., str]:
    """What writes documents in a format (those of SEVERAL any number); each is imported only when it is asked for."""
    if name == "html":
        from derate.report.html import html_page

        return html_page
    if name == "circuit":
        from derate.report.html import circuit_page

        return circuit_page
    if name == "summary":
        from derate.report.summary import summary_page

        return summary_page
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


def document(
    work: Work,
    today: date,
    known: KnownRecord | None = None,
    stop_at: Level | None = None,
    judged: Review | None = None,
) -> Document:
    """The report of a design that was worked through, judged, with everything that belongs beside its findings.

    judged: its review, where it was judged already
    """
    from derate.report.document import Document, photos
    from derate.study.faults import fault_rows
    from derate.study.waveforms import pictures
    from derate.study.work import formula_words, review_of
    from derate.text.nodes import read_text

    review = judged or review_of(work, today, known, stop_at)
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


# `derate compare`: hold two designs, or two revisions of one, beside each other.


_BEFORE, _AFTER = "--before-revision", "--after-revision"


def compare_parser() -> Parser:
    """What the command takes."""
    made = Parser(
        "compare",
        "Hold two designs beside each other: facts that changed, stresses that moved, verdicts that are others.\n"
        "Either may be taken as it was in a revision of its repository. Both are judged by the rule packs of today.\n"
        "One page; everything with --all.",
    )
    made.add_argument("before", metavar="BEFORE", help="a design")
    made.add_argument("after", metavar="AFTER", help="a design")
    add_colour(made)
    made.add_argument(_BEFORE, metavar="REV", default="", help="take BEFORE as it was in this branch, tag or commit")
    made.add_argument(_AFTER, metavar="REV", default="", help="take AFTER as it was in this branch, tag or commit")
    made.add_argument("--format", choices=("text", "markdown", "html"), default="text", help="text when it is not said")
    add_packs(made)
    made.add_argument("--to", metavar="FILE", default="", help="write there; standard output when it is not said")
    made.add_argument("--today", type=day, metavar="DAY", help="the day that waivers are held to; default today")
    made.add_argument("--all", action="store_true", dest="every", help="every change, however long the lists become")
    return made


def run_compare(arguments: argparse.Namespace) -> int:
    """Print the comparison. Exit status 0 whatever changed: whether a design blocks is for `lint` to say."""
    from derate.study.compare import compare
    from derate.study.work import Workshop

    today = arguments.today or date.today()
    workshop = Workshop(arguments.packs)
    before, one = _side(workshop, arguments.before, arguments.before_revision, _BEFORE, today)
    after, other = _side(workshop, arguments.after, arguments.after_revision, _AFTER, today)
    found = compare(before, after)
    if arguments.format == "text":
        from derate.report.compare import compare_lines

        columns = min(width(), 110) if for_people() and not arguments.to else None
        lines = tuple(compare_lines(found, columns, arguments.every))
        if not arguments.to:
            say_lines(lines)
            return 0
        text = "".join(f"{line}\n" for line in lines)
    elif arguments.format == "markdown":
        from derate.report.compare import compare_markdown

        text = compare_markdown(found)
    else:
        from derate.report.compare import compare_html

        text = compare_html(found, today, arguments.every, (one.design, other.design))
    if arguments.to:
        write_whole(arguments.to, text, (*one.read, *other.read))
    else:
        say(text)
    return 0


def _side(workshop: Workshop, path: str, named: str, option: str, today: date) -> tuple[Side, Work]:
    """One design, from disk or from a revision that the option names."""
    from derate.cli.shared import checked_revision, read_revision
    from derate.design.load import read_design
    from derate.design.settings import find_settings
    from derate.study.compare import Side
    from derate.study.work import Work, review_of, worked

    revision = checked_revision(path, named, option)
    if not revision:
        work = workshop.work(path)
    else:
        reader = read_revision(revision)
        design = read_design(reader(path), path, reader)
        settings = find_settings(path)
        packs = workshop.packs_for(path, design, settings)
        work = Work(design, settings, packs, worked(design, packs))
    said = f"{path} in {revision}" if revision else path
    return Side(said, review_of(work, today), tuple(work.ledger.entries), work.design.structure), work
