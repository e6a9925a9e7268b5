"""`derate COMMAND …`: finds the command, runs it, and turns whatever happens into one sentence and an exit status.

Exit status: 0 nothing blocks, 1 something does, 2 the command line, a design or a pack could not be read.
`--version` and `--help` are answered before anything else is imported; a command's module only when it is asked for.
"""

from __future__ import annotations

import atexit
import gc
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from typing import NoReturn

from derate import __version__

# command: the module of this folder that has it, and what it does. A module has COMMAND_parser() and
# run_COMMAND(arguments) -> int for each of its commands.
COMMANDS = {
    "new": ("new", "write a design file to fill in"),
    "missing": ("figures", "list the facts that findings wait for, and how to get them"),
    "editor": ("editor", "answer an editor: findings while typing, stresses of a part, names"),
    "lint": ("lint", "judge designs and print what was found"),
    "insulation": ("figures", "print what every pair of circuits needs and has"),
    "faults": ("figures", "list every single fault, what clears it and what the bench saw"),
    "headroom": ("figures", "find how far current, ambient and mains may go"),
    "stress": ("figures", "print the stresses of a design, and how each came about"),
    "capture": ("figures", "hold scope captures against the computed event"),
    "explain": ("house", "print what a rule asks, why, and where its limit comes from"),
    "report": ("show", "write the findings as a page, as Markdown, SARIF, JUnit XML, or the ledger as CSV"),
    "archive": ("archive", "judge folders of designs, keep what they came to, ask what if"),
    "compare": ("show", "hold two designs, or two revisions of one, beside each other"),
    "rules": ("house", "list the rules, try a pack's trials, compare two packs"),
    "parts": ("parts", "list the libraries of parts, check them, try a change of one figure"),
    "schema": ("house", "print the JSON Schema of a design, a pack or an output"),
}
# What somebody is doing, and the commands for it in their order.
GROUPS = {
    "write a file": ("new", "missing", "editor"),
    "judge it": ("lint", "insulation", "faults", "headroom"),
    "follow a figure": ("stress", "capture", "explain"),
    "show it": ("report", "compare"),
    "the house": ("rules", "parts", "archive", "schema"),
}
_HELP = """\
usage: derate COMMAND …

Works out the stress on the parts of a small mains-powered supply from a YAML
design file and holds it to the limits of rule packs.

{commands}

  derate COMMAND --help   what a command takes
  derate --version        the version

Exit status: 0 nothing blocks, 1 something does, 2 the command line, a design
or a pack could not be read. It judges the facts entered for one sample and is
no certificate.
"""


def entry() -> None:
    """The console script."""
    leave(main(sys.argv[1:]))


def leave(status: int) -> NoReturn:
    """End the process with a status, without freeing each of its objects first: that is a tenth of a cold lint.

    What asked to be called at the end is called, and what is printed is out before. Where anything else runs beside
    (threads, processes of a pool, an open store, a profiler or a debugger) the process ends as any other does.
    """
    threads = sys.modules.get("threading")
    alone = threads is None or threads.active_count() == 1
    watched = sys.getprofile() is not None or sys.gettrace() is not None
    if watched or not alone or any(name in sys.modules for name in ("multiprocessing", "duckdb")):
        sys.exit(status)
    atexit._run_exitfuncs()
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError, ValueError, AttributeError):  # closed, or none at all: `sys.exit` would say no more
            stream.flush()
    os._exit(status)


def main(argv: Sequence[str]) -> int:
    """Run one command line and return its exit status. No exception leaves it."""
    gc.set_threshold(500_000, 20, 20)  # next to nothing here is a cycle, and looking for them is 4 % of a cold lint
    if sys.stderr is None:  # closed before it began: nobody hears what it says there
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    if sys.stdout is None:
        return _stop("derate stopped: its standard output is closed, so nobody would read a finding; leave it open")
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")
    try:
        status = _command(list(argv))
        sys.stdout.flush()
        return status
    except BrokenPipeError:
        _silence()
        return _stop("derate stopped: what read its output has closed it")
    except OSError as error:
        _silence()
        where = f" {error.filename!r}" if error.filename else ""
        return _stop(f"derate stopped: {error.strerror or 'reading or writing failed'}{where}")
    except KeyboardInterrupt:
        return _stop("derate stopped: interrupted before it was finished, nothing was written")
    except MemoryError:
        return _stop("derate stopped: there is not enough memory for this")
    except SystemExit as leaving:  # argparse, after --help
        return leaving.code if isinstance(leaving.code, int) else 0 if leaving.code is None else 2
    except Exception as error:
        return _unexpected(error)


def _command(argv: list[str]) -> int:
    if argv and argv[0] in COMMANDS:
        name = argv[0]
        module = import_module(f"derate.cli.{COMMANDS[name][0]}")
        from derate.cli.shared import choose

        parser, run = getattr(module, f"{name}_parser"), getattr(module, f"run_{name}")
        arguments = parser().parse_args(argv[1:])
        choose(arguments)
        status: int = run(arguments)
        return status
    if argv and argv[0] == "--version":
        print(f"derate {__version__}")
        return 0
    text = _HELP.format(commands=_listed())
    if argv and argv[0] in ("--help", "-h"):
        print(text, end="")
        return 0
    if not argv:
        print(text, end="", file=sys.stderr)
        return 2
    from derate.report.words import plain
    from derate.terms.values import nearest

    close = nearest(argv[0], COMMANDS)
    instead = f"write derate {close}" if close else f"there are {', '.join(COMMANDS)}"
    print(f"command line: error: there is no command '{plain(argv[0])[:60]}'; {instead}", file=sys.stderr)
    return 2


def _listed() -> str:
    """The commands by what somebody is doing."""
    width = max(map(len, COMMANDS))
    groups = {**GROUPS, "more": [one for one in COMMANDS if not any(one in own for own in GROUPS.values())]}
    return "\n".join(
        f"{doing}\n" + "\n".join(f"  {name:<{width}}  {COMMANDS[name][1]}" for name in names)
        for doing, names in groups.items()
        if names
    )


def _unexpected(error: Exception) -> int:
    from derate.terms.values import ReadingError

    if isinstance(error, ReadingError):
        from derate.cli.shared import tell_problems

        tell_problems(error.problems)
        return 2
    from derate.report.words import plain

    what = plain(str(error))[:200]
    return _stop(
        f"derate stopped: something that should not happen did ({type(error).__name__}: {what}); "
        "nothing was written; please report it with the command and the file"
    )


def _stop(sentence: str) -> int:
    try:
        print(sentence, file=sys.stderr)
        sys.stderr.flush()
    except OSError:
        pass
    return 2


def _silence() -> None:
    """Point standard output at nothing, so that what is still waiting does not fail a second time on the way out."""
    try:
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, sys.stdout.fileno())
        os.close(nothing)
    except (OSError, ValueError, AttributeError):
        pass
