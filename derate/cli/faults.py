"""`derate faults`: list every single fault, what it draws, what clears it and what the bench saw."""

from __future__ import annotations

import argparse

from derate.cli.arguments import Parser, add_format, add_packs
from derate.cli.output import for_people, say, say_lines, width


def parser() -> Parser:
    """What the command takes."""
    made = Parser("faults", "List every single fault of a design: what it draws, what clears it, what the bench saw.")
    made.add_argument("file", metavar="FILE", help="a design")
    add_format(made)
    add_packs(made)
    return made


def run(arguments: argparse.Namespace) -> int:
    """Print the faults as a table or as JSON."""
    from derate.study.faults import design_faults, outcomes_without_row
    from derate.study.work import Workshop

    work = Workshop(arguments.packs).work(arguments.file)
    design = work.design
    assumed = {name: one for (_, name), one in work.packs.assumptions.items()}
    rows = design_faults(design.structure, work.ledger, assumed, design.tests)
    if arguments.format == "json":
        from derate.report.faults import faults_json

        say(faults_json(design.path, rows))
        return 0
    from derate.report.faults import fault_lines, fault_screen

    other = outcomes_without_row(rows, design.tests)
    people = for_people("auto")
    say_lines(fault_screen(rows, other, width()) if people else fault_lines(design.path, rows, other))
    return 0
