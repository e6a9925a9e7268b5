"""`derate capture`: read the captures a design names and hold them against the computed event.

`derate lint` does not read captures: they may be large or left out of the repository, and its verdict must be the same
wherever it runs. The figures found here are written down as a reading, which it judges.
"""

from __future__ import annotations

import argparse

from derate.cli.arguments import Parser, add_packs, refused
from derate.cli.output import for_people, say_lines, tell_problems, width
from derate.report.words import wrapped


def parser() -> Parser:
    """What the command takes."""
    says = (
        "Read the scope captures that a design names, work out peak, rms, I²t, energy and equivalent width, and hold "
        "them against the computed event at the same condition. Exit status 1 when one is beyond both tolerances."
    )
    made = Parser("capture", "\n".join(wrapped(says, 78)))
    made.add_argument("file", metavar="FILE", help="a design")
    add_packs(made)
    return made


def run(arguments: argparse.Namespace) -> int:
    """Print every capture; 1 when one disagrees with the computation, 2 when one could not be read."""
    from derate.report.studies import capture_lines, caution_lines
    from derate.study.capture import compared
    from derate.study.work import Workshop
    from derate.terms.place import ReadingError

    work = Workshop(arguments.packs).work(arguments.file)
    if not work.design.captures:
        raise refused(f"{arguments.file} names no capture", "put `capture: {file: …}` into an entry of readings")
    columns = min(width(), 110) if for_people("auto") else None
    status, problems = 0, []
    for capture in work.design.captures:
        try:
            found = compared(work, capture)
        except ReadingError as error:
            problems += list(error.problems)
            continue
        say_lines(capture_lines(found, columns))
        if any(one.agrees is False for one in found.held):
            status = 1
    say_lines(caution_lines(columns))
    tell_problems(problems)
    return 2 if problems else status
