r"""Text from files made harmless for a screen: one function, used by every format.

Control characters, marks that turn the direction of writing, characters without width and lone surrogates are written
out as `\u202e`, so that nobody sees something else than what stands in the file. Line ends and tabs become spaces.
"""

from __future__ import annotations

import re
import unicodedata

_BREAKS = re.compile(r"[\t\n\r\x0b\x0c\x85\u2028\u2029]+")
_HIDDEN = re.compile(
    "[\x00-\x1f\x7f-\x9f\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180e\u200b-\u200f\u202a-\u202e\u2060-\u206f"
    "\ufe00-\ufe0f\ufeff\ufff0-\ufffb\ud800-\udfff\U000e0000-\U000e0fff]"
)


def plain(text: str) -> str:
    """The text on one line, with everything that a screen would obey or hide written out."""
    if text.isascii() and text.isprintable():  # nearly always
        return text
    return _HIDDEN.sub(_written_out, _BREAKS.sub(" ", text))


def _written_out(found: re.Match[str]) -> str:
    number = ord(found.group())
    return f"\\u{number:04x}" if number < 0x10000 else f"\\U{number:08x}"


def cells(text: str) -> int:
    """Columns that a text takes on a screen: two for wide characters, none for combining ones."""
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(one) else 2 if unicodedata.east_asian_width(one) in "WF" else 1 for one in text
    )


def clipped(text: str, width: int) -> str:
    """The text cut to so many columns, with a mark where it was cut."""
    if cells(text) <= width:
        return text
    kept = ""
    for one in text:
        if cells(kept + one) > width - 1:
            break
        kept += one
    return kept + "…"


def padded(text: str, width: int) -> str:
    """The text filled up with spaces to so many columns."""
    return text + " " * max(0, width - cells(text))


def wrapped(text: str, width: int, first: str = "", further: str = "") -> list[str]:
    """The text broken at spaces into lines of at most `width` columns; a longer word is cut.

    first, further: what stands before the first line and before the others, counted in the width
    """
    lines, line, lead = [], "", first
    for word in text.split(" "):
        room = max(8, width - cells(lead))
        if line and cells(line) + 1 + cells(word) <= room:
            line += " " + word
            continue
        if line:
            lines.append(lead + line)
            lead = further
            room = max(8, width - cells(lead))
        while cells(word) > room:
            head = word[: max(1, len(clipped(word, room)) - 1)]
            lines.append(lead + head)
            word, lead = word[len(head) :], further
            room = max(8, width - cells(lead))
        line = word
    return [*lines, lead + line] if line or not lines else lines
