"""Where text goes: standard output, standard error, a file written whole or not at all; and for whom it is made."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterable, Sequence
from typing import TextIO

from derate.cli.arguments import refused
from derate.report.lines import problem_lines
from derate.terms.place import Problem, ReadingError


def say(text: str) -> None:
    """Write text to standard output, with one line feed at its end."""
    sys.stdout.write(text if text.endswith("\n") or not text else text + "\n")


def say_lines(lines: Iterable[str]) -> None:
    """Write lines to standard output."""
    say("".join(f"{line}\n" for line in lines))


def tell_problems(problems: Sequence[Problem]) -> None:
    """Write what could not be read to standard error; at a terminal with the line it stands on."""
    for line in problem_lines(problems, _is_terminal(sys.stderr), _source):
        print(line, file=sys.stderr)


def _source(path: str) -> str | None:
    from derate.text.file import read_text

    try:
        return read_text(path)
    except ReadingError:
        return None


def _is_terminal(stream: TextIO) -> bool:
    try:
        return stream.isatty()
    except ValueError:  # closed
        return False


def for_people(colour: str) -> bool:
    """Whether standard output gets the layout for people: a terminal, or colour that was asked for."""
    return _is_terminal(sys.stdout) or coloured(colour)


def coloured(colour: str) -> bool:
    """Whether to write colours: the option wins, then NO_COLOR, then FORCE_COLOR, then whether it is a terminal."""
    if colour != "auto":
        return colour == "always"
    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR"):
        return True
    return _is_terminal(sys.stdout) and os.environ.get("TERM") != "dumb"


def width() -> int:
    """Columns of the terminal, 80 when nobody says."""
    from shutil import get_terminal_size

    return get_terminal_size((80, 24)).columns


def draws() -> bool:
    """Whether standard output can show line-drawing characters."""
    try:
        "━╌·┃▸–².".encode(getattr(sys.stdout, "encoding", None) or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def write_file(path: str, text: str) -> None:
    """Write a file whole: into a temporary one beside it, then moved over it. Raises ReadingError when that fails."""
    import tempfile

    folder = os.path.dirname(path) or "."
    beside = ""
    try:
        handle, beside = tempfile.mkstemp(prefix=".derate-", dir=folder)
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        mask = os.umask(0)
        os.umask(mask)
        os.chmod(beside, 0o666 & ~mask)  # what an ordinary file would have had
        os.replace(beside, path)
    except OSError as error:
        _remove(beside)
        why = error.strerror or "writing failed"
        raise refused(f"'{path}' could not be written: {why}", "nothing was written") from None
    except BaseException:
        _remove(beside)
        raise


def _remove(path: str) -> None:
    if path:
        with contextlib.suppress(OSError):
            os.unlink(path)
