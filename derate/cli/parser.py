"""The parser every command uses: its errors are ours, with the nearest option where one was mistyped."""

from __future__ import annotations

import argparse
from datetime import date
from typing import NoReturn

from derate.report.plain import plain
from derate.terms.place import Place, Problem, ReadingError, nearest

COMMAND_LINE = Place("command line")


class Parser(argparse.ArgumentParser):
    """argparse with whole option names only and errors as `ReadingError`."""

    def __init__(self, command: str, description: str) -> None:
        super().__init__(
            prog=f"derate {command}", description=description, allow_abbrev=False,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )  # fmt: skip

    def error(self, message: str) -> NoReturn:
        """Raise what argparse found wrong."""
        instead = f"{self.prog} --help lists what it takes"
        unknown = message.partition("unrecognized arguments: ")[2].partition(" ")[0]
        if unknown:
            message = f"'{unknown}' is not known here"
            close = nearest(unknown.partition("=")[0], [name for name in self._option_string_actions if len(name) > 2])
            instead = f"write {close}" if close else instead
        raise refused(plain(message), instead)


def refused(what: str, instead: str = "") -> ReadingError:
    """An error of the command line."""
    return ReadingError([Problem(COMMAND_LINE, what, instead)])


def day(text: str) -> date:
    """A day as it is written in a design: 2027-06-30."""
    try:
        if len(text) == 10:
            return date.fromisoformat(text)
    except ValueError:
        pass
    raise argparse.ArgumentTypeError(f"'{text[:40]}' is no day; write it as 2027-06-30")


def add_format(parser: Parser) -> None:
    """`--format text|json`."""
    parser.add_argument("--format", choices=("text", "json"), default="text", help="text (default) or JSON in SI units")


def add_packs(parser: Parser) -> None:
    """`--pack`, any number of times."""
    parser.add_argument(
        "--pack", action="append", default=[], metavar="NAME", dest="packs",
        help="a rule pack by name or by path, instead of those the design and the settings name; may be repeated",
    )  # fmt: skip
