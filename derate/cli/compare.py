"""`derate compare`: hold two designs, or two revisions of one, beside each other."""

from __future__ import annotations

import argparse
from datetime import date
from typing import TYPE_CHECKING

from derate.cli.arguments import Parser, add_packs, day
from derate.cli.output import for_people, say, width, write_file

if TYPE_CHECKING:
    from derate.study.compare import Side
    from derate.study.work import Workshop


def parser() -> Parser:
    """What the command takes."""
    made = Parser(
        "compare",
        "Hold two designs beside each other: facts that changed, stresses that moved, verdicts that are others.\n"
        "FILE@REV is a file as it was in a revision of its git repository. Both are judged by the rule packs of today.",
    )
    made.add_argument("before", metavar="BEFORE", help="a design, or FILE@REV")
    made.add_argument("after", metavar="AFTER", help="a design, or FILE@REV")
    made.add_argument("--format", choices=("text", "markdown", "html"), default="text", help="text when it is not said")
    add_packs(made)
    made.add_argument("--to", metavar="FILE", default="", help="write there; standard output when it is not said")
    made.add_argument("--today", type=day, metavar="DAY", help="the day that waivers are held to; default today")
    made.add_argument("--all", action="store_true", dest="every", help="every change, however long the lists become")
    return made


def run(arguments: argparse.Namespace) -> int:
    """Print the comparison. Exit status 0 whatever changed: whether a design blocks is for `lint` to say."""
    from derate.study.compare import compare
    from derate.study.work import Workshop

    today = arguments.today or date.today()
    workshop = Workshop(arguments.packs)
    found = compare(_side(workshop, arguments.before, today), _side(workshop, arguments.after, today))
    if arguments.format == "text":
        from derate.report.compare import compare_lines

        columns = min(width(), 110) if for_people("auto") and not arguments.to else None
        text = "".join(f"{line}\n" for line in compare_lines(found, columns, arguments.every))
    elif arguments.format == "markdown":
        from derate.report.compare import compare_markdown

        text = compare_markdown(found)
    else:
        from derate.report.compare import compare_html

        text = compare_html(found, today)
    if arguments.to:
        write_file(arguments.to, text)
    else:
        say(text)
    return 0


def _side(workshop: Workshop, named: str, today: date) -> Side:
    """One design, from disk or from a revision."""
    from derate.cli.arguments import read_revision, split
    from derate.design.load import read_design
    from derate.design.settings import find_settings
    from derate.study.compare import Side
    from derate.study.work import Work, review_of, worked

    path, revision = split(named)
    if not revision:
        work = workshop.work(path)
    else:
        reader = read_revision(revision)
        design = read_design(reader(path), path, reader)
        settings = find_settings(path)
        packs = workshop.packs_for(path, design, settings)
        work = Work(design, settings, packs, worked(design, packs))
    return Side(named, review_of(work, today), tuple(work.ledger.entries), work.design.structure)
