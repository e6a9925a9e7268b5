"""`derate editor`: the language server that an editor starts, over standard input and output."""

from __future__ import annotations

import argparse
from datetime import date

from derate.cli.shared import Parser, day, refused
from derate.report.words import wrapped


def editor_parser() -> Parser:
    """What the command takes."""
    says = (
        "Answer an editor over the language-server protocol, on standard input and output: findings at their place "
        "while somebody types, a part with its stresses and limits, names to choose from, the lines that a missing "
        "fact asks for. An editor starts it; docs/editor.md says how it is told to."
    )
    made = Parser("editor", "\n".join(wrapped(says, 78)))
    made.add_argument("--today", type=day, metavar="DAY", help="the day that waivers are held to; default today")
    return made


def run_editor(arguments: argparse.Namespace) -> int:
    """Answer until the editor ends it."""
    try:
        from derate.editor.server import server
    except ImportError as error:
        if (error.name or "").partition(".")[0] not in ("pygls", "lsprotocol"):
            raise
        raise refused("the editor's help needs pygls", "install derate[editor]") from None
    server(lambda: arguments.today or date.today()).start_io()
    return 0
