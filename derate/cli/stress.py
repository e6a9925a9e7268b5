"""`derate stress`: print the stresses of a design, and how each came about."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from derate.cli.arguments import Parser, add_format, add_packs, refused
from derate.cli.output import for_people, say, say_lines, width
from derate.report.words import plain, wrapped
from derate.terms.place import nearest
from derate.terms.vocabulary import VOCABULARY

if TYPE_CHECKING:
    from derate.ledger.ledger import Ledger


def parser() -> Parser:
    """What the command takes."""
    made = Parser("stress", "Print the stresses of a design, and how each came about.")
    made.add_argument("file", metavar="FILE", help="a design")
    add_format(made)
    add_packs(made)
    made.add_argument("--why", type=int, metavar="ENTRY", help="how the row of this number came about")
    made.add_argument("--part", default="", metavar="NAME", help="only rows about this part, winding, output or place")
    made.add_argument("--quantity", default="", metavar="QUANTITY", help="only this quantity, such as ripple_current")
    made.add_argument("--all", action="store_true", dest="every", help="every case, and the facts of the file as well")
    return made


def run(arguments: argparse.Namespace) -> int:
    """Print the table, the JSON or one derivation."""
    from derate.study.work import Workshop

    if arguments.why is not None and arguments.format == "json":
        raise refused("--why prints text", "leave --format json out")
    work = Workshop(arguments.packs).work(arguments.file)
    ledger = work.ledger
    if arguments.why is not None:
        _derivation(ledger, arguments.why)
        return 0
    from derate.report.ledger import Shown, about, chosen, governing

    quantity = _quantity(arguments.quantity)
    if arguments.part and not any(about(entry, arguments.part) for entry in ledger.entries):
        names = {name for entry in ledger.entries for name in entry.subject.names or (entry.subject.kind,)}
        close = nearest(arguments.part, names)
        raise refused(f"no row is about '{plain(arguments.part)[:60]}'", f"write {close}" if close else "")
    rows = chosen(ledger.entries, arguments.part, quantity, arguments.every)
    if arguments.format == "json":
        from derate.report.machine import stress_json

        say(stress_json(work.design.path, rows))
        return 0
    from derate.report.ledger import screen_lines, table_foot, table_lines

    shown = tuple(Shown(entry) for entry in rows) if arguments.every else governing(rows)
    every = chosen(ledger.entries, arguments.part, quantity, True)
    if for_people("auto"):
        foot = wrapped(table_foot(shown, len(every) - len(shown)), width())
        say_lines([*screen_lines(shown, width()), "", *foot])
    else:
        say_lines(table_lines(shown))
    return 0


def _derivation(ledger: Ledger, number: int) -> None:
    from derate.report.ledger import derivation_lines

    if not 0 < number <= len(ledger):
        raise refused(f"there is no row {number}", f"rows go from 1 to {len(ledger)}")
    say_lines(derivation_lines(ledger, number, width() if for_people("auto") else None))


def _quantity(asked: str) -> str:
    """The name of a quantity, given by name or in the words of the table."""
    if not asked or asked in VOCABULARY:
        return asked
    for name, term in VOCABULARY.items():
        if term.says == asked:
            return name
    close = nearest(asked, VOCABULARY)
    raise refused(f"no quantity is called '{plain(asked)[:60]}'", f"write {close}" if close else "")
