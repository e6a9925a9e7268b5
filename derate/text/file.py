"""A text file read whole, or refused in words."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterator

from derate.terms.place import Place, Problem, ReadingError

GREATEST_SIZE = 4_000_000
_MOST_REPORTED = 20
# everything an editor does not show or takes for another line end than YAML does
_UNWANTED = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff\ud800-\udfff]|\r(?!\n)")
_NAMES = {
    "\x00": "a NUL character",
    "\x85": "the line end U+0085",
    "\u2028": "the line end U+2028",
    "\u2029": "the paragraph end U+2029",
    "\ufeff": "a byte order mark inside the text",
    "\r": "a carriage return without a line feed",
}


def read_text(path: str) -> str:
    """The text of a file in UTF-8, without its byte order mark. Raises ReadingError for everything else."""
    return decoded(read_bytes(path), path)


def read_bytes(path: str) -> bytes:
    """The content of an ordinary file of bounded size. Raises ReadingError for everything else."""
    try:
        about = os.stat(path)
        if stat.S_ISDIR(about.st_mode):
            raise _refused(path, "this is a folder", "name a file")
        if not stat.S_ISREG(about.st_mode):
            raise _refused(path, "this is not an ordinary file", "name a file")
        with open(path, "rb") as file:
            data = file.read(GREATEST_SIZE + 1)
    except FileNotFoundError:
        if os.path.islink(path):
            raise _refused(path, "this link leads nowhere", "") from None
        raise _refused(path, "there is no such file", "") from None
    except PermissionError:
        raise _refused(path, "this file may not be read", "its permissions forbid it") from None
    except OSError as error:
        raise _refused(path, f"this file could not be read ({error.strerror or 'no reason given'})", "") from None
    except ValueError:
        raise _refused(path.replace("\0", "?"), "a file name cannot hold a NUL character", "") from None
    if len(data) > GREATEST_SIZE:
        raise _refused(path, f"this file is larger than {GREATEST_SIZE // 1_000_000} MB", "")
    return data


def decoded(data: bytes, path: str) -> str:
    """The text of such a content, without its byte order mark. Raises ReadingError when it is not plain UTF-8."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise _refused(path, "this file is UTF-16", "save it as UTF-8")
    if data.startswith(b"\xef\xbb\xbf"):
        data = data[3:]
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        good = data[: error.start].decode("utf-8")
        place = Place(path, good.count("\n") + 1, len(good) - good.rfind("\n"))
        raise ReadingError([Problem(place, "this is not UTF-8 text", "save the file as UTF-8")]) from None
    problems = list(check_characters(text, path))
    if problems:
        raise ReadingError(problems)
    return text


def check_characters(text: str, path: str) -> Iterator[Problem]:
    """The characters no design may hold, the first twenty of them."""
    for number, found in enumerate(_UNWANTED.finditer(text)):
        if number == _MOST_REPORTED:
            return
        at, character = found.start(), found.group()
        place = Place(path, text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at))
        name = _NAMES.get(character, f"the control character U+{ord(character):04X}")
        instead = "save the file with ordinary line ends" if character == "\r" else "take it out"
        yield Problem(place, f"{name} stands here", instead)


def _refused(path: str, what: str, instead: str) -> ReadingError:
    return ReadingError([Problem(Place(path), what, instead)])
