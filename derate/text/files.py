"""Files on disk: the border nothing is read beyond, ordinary files of bounded size, a file written whole or not."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable
from typing import BinaryIO

from derate.terms.values import Place, Problem, ReadingError

# The border: the repository a file stands in; without one, the folder it stands in.


def repository_of(folder: str) -> str | None:
    """The root of the repository that a folder lies in (the nearest with `.git`), or None; no link is followed."""
    here = os.path.abspath(folder)
    while not os.path.exists(os.path.join(here, ".git")):
        above = os.path.dirname(here)
        if above == here:
            return None
        here = above
    return here


def leads_out(path: str, root: str) -> bool:
    """Whether a file lies outside a folder once every link is followed."""
    root = os.path.realpath(root)
    return os.path.commonpath([root, os.path.realpath(path)]) != root


def leaves_repository(path: str, target: str) -> bool:
    """Whether a file lies outside the repository of the design (its folder, when there is no repository)."""
    if "\0" in target:  # which no file has in its name; written as an escape in quotes it can be asked for
        return True
    folder = os.path.dirname(os.path.realpath(path))
    return leads_out(target, repository_of(folder) or folder)


def stay_inside(path: str) -> None:
    """Raise ReadingError where a file stands in a repository and is a link that leads out of it.

    A file that somebody named by hand outside any repository may be a link to wherever they like.
    """
    root = repository_of(os.path.dirname(path))
    if root is not None and "\0" not in path and leads_out(path, root):
        raise _refused(
            path, "this link leads out of the repository", "put the file itself there, or name it by its own path"
        )


# Reading: ordinary files alone, and no more than a bound of them.


def open_ordinary(path: str) -> BinaryIO:
    """An ordinary file, opened to read. Raises ReadingError for everything else, and opens none of it."""
    try:
        _ordinary(path, os.stat(path))
        # Whatever takes its place between the look and the opening is looked at again, and a FIFO is not waited for.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        try:
            _ordinary(path, os.fstat(handle))
        except BaseException:
            os.close(handle)
            raise
        return os.fdopen(handle, "rb")
    except FileNotFoundError:
        if os.path.islink(path):
            raise _refused(path, "this link leads nowhere", "") from None
        raise _refused(path, "there is no such file", "") from None
    except PermissionError:
        raise _refused(path, "this file may not be read", "its permissions forbid it") from None
    except OSError as error:
        raise _unreadable(path, error) from None
    except ValueError:
        raise _refused(path.replace("\0", "?"), "a file name cannot hold a NUL character", "") from None


def read_ordinary(path: str, most: int) -> bytes:
    """The content of an ordinary file of at most so many bytes. Raises ReadingError for everything else."""
    with open_ordinary(path) as file:
        try:
            data = file.read(most + 1)
        except OSError as error:
            raise _unreadable(path, error) from None
    if len(data) > most:
        raise _refused(path, f"this file is larger than {most // 1_000_000} MB", "")
    return data


def _ordinary(path: str, about: os.stat_result) -> None:
    if stat.S_ISDIR(about.st_mode):
        raise _refused(path, "this is a folder", "name a file")
    if not stat.S_ISREG(about.st_mode):
        raise _refused(path, "this is not an ordinary file", "name a file")


def _unreadable(path: str, error: OSError) -> ReadingError:
    return _refused(path, f"this file could not be read ({error.strerror or 'no reason given'})", "")


def _refused(path: str, what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(Place(path), what, instead)])


# Writing: whole or not at all, over nothing but an ordinary file, over none that this run has read.


def write_whole(path: str, text: str, read: Iterable[str] = (), *, over: bool = True) -> None:
    """Write a text file in UTF-8: into a temporary file beside it that then takes its name, with the mode it had.

    read: files that this run was made from, none of which is written over; over: whether a file may be replaced
    A signal that asks for the end of the run waits until the file is whole, so that no temporary one stays.
    Raises ReadingError when it cannot be written; then nothing was.
    """
    import signal
    import tempfile

    mode = may_be_written(path, read, over)
    if mode is None:
        mask = os.umask(0)
        os.umask(mask)
        mode = 0o666 & ~mask  # what an ordinary file would have had
    endings = {
        number for name in ("SIGINT", "SIGTERM", "SIGHUP") if (number := getattr(signal, name, None)) is not None
    }
    masked = signal.pthread_sigmask(signal.SIG_BLOCK, endings) if hasattr(signal, "pthread_sigmask") else None
    beside = ""
    try:
        handle, beside = tempfile.mkstemp(prefix=".derate-", dir=os.path.dirname(path) or ".")
        with os.fdopen(handle, "w", encoding="utf-8", errors="backslashreplace", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(beside, mode)
        if over:
            os.replace(beside, path)
        else:
            os.link(beside, path)  # fails on a file that has come up since
    except FileExistsError:
        raise _taken(path) from None
    except OSError as error:
        raise _unwritten(path, error.strerror or "writing failed") from None
    finally:
        if beside and os.path.lexists(beside):
            os.unlink(beside)
        if masked is not None:
            signal.pthread_sigmask(signal.SIG_SETMASK, masked)


def may_be_written(path: str, read: Iterable[str] = (), over: bool = True) -> int | None:
    """The mode of the file that is replaced, None where there is none. Raises ReadingError where it may not be."""
    try:
        about = os.lstat(path)
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError) as error:
        raise _unwritten(path, getattr(error, "strerror", None) or "a file name cannot hold a NUL character") from None
    if not over:
        raise _taken(path)
    if stat.S_ISLNK(about.st_mode):
        raise _command(f"'{path}' is a link and is not replaced", "name the file it leads to")
    if stat.S_ISDIR(about.st_mode):
        raise _unwritten(path, "Is a directory")
    if not stat.S_ISREG(about.st_mode):
        raise _command(f"'{path}' is no ordinary file and is not replaced", "name a file, or leave --to out")
    for one in read:
        try:
            same = os.path.samestat(about, os.stat(one))
        except (OSError, ValueError):
            continue
        if same:
            raise _command(
                f"'{path}' is a file that this was made from, and is not written over", "choose another name"
            )
    return stat.S_IMODE(about.st_mode)


def _taken(path: str) -> ReadingError:
    return _command(f"'{path}' is there already and is not overwritten", "choose another name")


def _unwritten(path: str, why: str) -> ReadingError:
    return _command(f"'{path}' could not be written: {why}", "nothing was written")


def _command(what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(Place("command line"), what, instead)])
