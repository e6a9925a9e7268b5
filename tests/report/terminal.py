"""A command at a terminal: a pseudo-terminal of the system says its size, and is written to as any other.

The command runs in a fork, so that nothing has to be imported again.
"""

from __future__ import annotations

import fcntl
import os
import pty
import re
import struct
import sys
import termios

from derate.cli.main import main
from derate.report.words import cells

_ESCAPE = re.compile(r"\x1b\[[0-9;]*m")


def at_a_terminal(size: tuple[int, int], *command: str, coloured: bool = True) -> tuple[int, list[str]]:
    """Exit status and rows of a command at a terminal of so many columns and rows; colours taken off."""
    sys.stdout.flush()
    sys.stderr.flush()
    child, ours = pty.fork()
    if child == 0:  # pragma: no cover
        try:
            sys.stdout, sys.stderr = os.fdopen(1, "w", closefd=False), os.fdopen(2, "w", closefd=False)
            fcntl.ioctl(1, termios.TIOCSWINSZ, struct.pack("HHHH", size[1], size[0], 0, 0))
            for name in ("COLUMNS", "LINES", "NO_COLOR", "FORCE_COLOR"):
                os.environ.pop(name, None)
            os.environ["TERM"] = "xterm"
            status = main(list(command))
            sys.stdout.flush()
            sys.stderr.flush()
        except BaseException:  # noqa: B036
            status = 99
        os._exit(status)
    told = b""
    while True:
        try:
            piece = os.read(ours, 65_536)
        except OSError:  # the other end is closed
            break
        if not piece:
            break
        told += piece
    os.close(ours)
    _, status = os.waitpid(child, 0)
    text = told.decode().replace("\r\n", "\n")
    assert ("\x1b[" in text) is coloured, "a terminal gets colours unless somebody says otherwise"
    lines = _ESCAPE.sub("", text).removesuffix("\n").split("\n")
    assert max(map(cells, lines)) <= size[0]
    return os.waitstatus_to_exitcode(status), lines
