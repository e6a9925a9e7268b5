"""What next: the facts that findings wait for, and how far a supply may be taken."""

from __future__ import annotations

import argparse

from derate.cli.arguments import TAKEN, Parser, add_packs, designs
from derate.cli.output import for_people, say_lines, tell_problems, width
from derate.report.words import wrapped
from derate.terms.place import ReadingError

# `derate missing`: what to find out next, ranked by what it would settle, and how to get it.


def missing_parser() -> Parser:
    """What the command takes."""
    says = (
        "List the facts that findings wait for: each is tried at its kind end, and the one that settles most verdicts, "
        "critical ones first, stands first, with how to get it and the value from which it would pass. Assumed facts "
        f"come after. {TAKEN}"
    )
    made = Parser("missing", "\n".join(wrapped(says, 78)))
    made.add_argument("paths", nargs="+", metavar="PATH", help="a design, or a folder of designs")
    add_packs(made)
    return made


def run_missing(arguments: argparse.Namespace) -> int:
    """List the missing facts of every design; whether they block is for `lint` to say."""
    from datetime import date

    from derate.report.studies import missing_lines
    from derate.study.missing import assumed_facts, missing_facts
    from derate.study.trying import Bench
    from derate.study.work import Workshop

    paths, found = designs(arguments.paths)
    problems = list(found)
    workshop = Workshop(arguments.packs)
    columns = min(width(), 110) if for_people("auto") else None
    shown = 0
    for path in paths:
        try:
            bench = Bench(workshop.work(path), date.today())
        except ReadingError as error:
            problems += [one for one in error.problems if one not in problems]
            continue
        if shown and columns is not None:
            say_lines([""])
        shown += 1
        say_lines(missing_lines(path, bench.work.design.name, missing_facts(bench), assumed_facts(bench), columns))
    tell_problems(problems)
    return 2 if problems else 0


# `derate headroom`: how far output current, ambient and mains may go before a rule stops it, and what cures a fail.


def headroom_parser() -> Parser:
    """What the command takes."""
    says = (
        "Find the largest output current, the highest ambient and the widest mains at which every rule judged at the "
        "rated point still gives a verdict and none blocks, with the rule and the part that stops it; for a failing "
        "rule the least rating that cures it. Each by itself, all else as rated."
    )
    made = Parser("headroom", "\n".join(wrapped(says, 78)))
    made.add_argument("file", metavar="FILE", help="a design")
    add_packs(made)
    return made


def run_headroom(arguments: argparse.Namespace) -> int:
    """Print the ends; whether the design blocks is for `lint` to say."""
    from datetime import date

    from derate.report.studies import headroom_lines
    from derate.study.headroom import cures, headroom
    from derate.study.trying import Bench
    from derate.study.work import Workshop

    bench = Bench(Workshop(arguments.packs).work(arguments.file), date.today())
    unknown = sum(one.verdict == "not assessed" and one.blocks for one in bench.base.review.findings)
    columns = min(width(), 110) if for_people("auto") else None
    say_lines(headroom_lines(arguments.file, headroom(bench), cures(bench), unknown, columns))
    return 0
