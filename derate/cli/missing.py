"""`derate missing`: the facts that findings wait for, and how to get them."""

from __future__ import annotations

import argparse

from derate.cli.files import TAKEN, designs
from derate.cli.output import for_people, say_lines, tell_problems, width
from derate.cli.parser import Parser, add_packs
from derate.report.plain import wrapped
from derate.terms.place import ReadingError


def parser() -> Parser:
    """What the command takes."""
    says = f"List the facts that findings wait for, most wanted first. {TAKEN}"
    made = Parser("missing", "\n".join(wrapped(says, 78)))
    made.add_argument("paths", nargs="+", metavar="PATH", help="a design, or a folder of designs")
    add_packs(made)
    return made


def run(arguments: argparse.Namespace) -> int:
    """List the missing facts of every design; whether they block is for `lint` to say."""
    from datetime import date

    from derate.report.missing import missing_lines
    from derate.study.work import Workshop, review_of

    paths, found = designs(arguments.paths)
    problems, reviews = list(found), []
    workshop = Workshop(arguments.packs)
    for path in paths:
        try:
            reviews.append(review_of(workshop.work(path), date.today()))
        except ReadingError as error:
            problems += [one for one in error.problems if one not in problems]
    say_lines(missing_lines(reviews, min(width(), 110) if for_people("auto") else None))
    tell_problems(problems)
    return 2 if problems else 0
