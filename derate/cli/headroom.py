"""`derate headroom`: how far output current, ambient and mains may go before a rule stops it, and what cures a fail."""

from __future__ import annotations

import argparse

from derate.cli.arguments import Parser, add_packs
from derate.cli.output import for_people, say_lines, width
from derate.report.words import wrapped


def parser() -> Parser:
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


def run(arguments: argparse.Namespace) -> int:
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
