"""A file as it was in a revision of its git repository: `FILE@REV`."""

from __future__ import annotations

import os
import re
import subprocess
from collections.abc import Callable

from derate.cli.parser import refused
from derate.report.plain import plain
from derate.terms.place import Place, Problem, ReadingError
from derate.text.file import GREATEST_SIZE, check_characters

_REVISION = re.compile(r"[\w.^~@{}/+][\w.^~@{}/+-]{0,199}")


def split(named: str) -> tuple[str, str]:
    """Path and revision; the revision is '' for a file on disk. A file whose own name holds an @ is a file."""
    path, at, revision = named.rpartition("@")
    if not at or os.path.exists(named) or not path:
        return named, ""
    if not revision:
        raise refused(f"'{plain(named)[:80]}' names no revision", "write FILE@REV, such as design.yaml@HEAD~1")
    if not _REVISION.fullmatch(revision):
        raise refused(f"'{plain(revision)[:60]}' is no name for a revision", "write a branch, a tag or a commit")
    return path, revision


def read_revision(revision: str) -> Callable[[str], str]:
    """A reader of files as they were in a revision; it raises ReadingError like that of files on disk."""

    def read(path: str) -> str:
        folder, name = os.path.split(path)
        data = _git(folder or ".", "cat-file", "blob", f"{revision}:./{name}", path=path, revision=revision)
        if len(data) > GREATEST_SIZE:
            raise _refused(path, f"this file is larger than {GREATEST_SIZE // 1_000_000} MB in {revision}")
        try:
            text = data.removeprefix(b"\xef\xbb\xbf").decode("utf-8")
        except UnicodeDecodeError:
            raise _refused(path, f"this is not UTF-8 text in {revision}") from None
        problems = list(check_characters(text, path))
        if problems:
            raise ReadingError(problems)
        return text

    return read


def _git(folder: str, *arguments: str, path: str, revision: str) -> bytes:
    try:
        done = subprocess.run(
            ["git", "-C", folder, *arguments], capture_output=True, timeout=30, check=False,
            env={**os.environ, "LC_ALL": "C", "GIT_TERMINAL_PROMPT": "0"},
        )  # fmt: skip
    except FileNotFoundError:
        raise refused("reading a revision needs git, which is not there", "install it, or name two files") from None
    except subprocess.TimeoutExpired:
        raise _refused(path, f"git did not answer while reading {revision}") from None
    if done.returncode != 0:
        why = done.stderr.decode("utf-8", "replace").strip().split("\n")[-1].removeprefix("fatal: ")
        raise _refused(path, f"it could not be read from revision {revision}: {plain(why)[:160]}")
    return done.stdout


def _refused(path: str, what: str) -> ReadingError:
    return ReadingError([Problem(Place(path), what, "git log lists the revisions of a file")])
