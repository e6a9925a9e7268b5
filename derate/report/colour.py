"""Lines with a style of their own, and how a style is written to a terminal that shows colours."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

# What each word of a verdict looks like, wherever it stands; a plain word beside it says the same without colour.
STYLES = {
    "fail": "bold red",
    "fail, held back": "red",
    "fail, waived": "red",
    "not assessed": "magenta",
    "not judged": "magenta",
    "marginal": "yellow",
    "pass": "green",
    "not applicable": "dim",
}
HEADING, CAUTION_STYLE = "bold", "dim"
_CODES = {"bold": "1", "dim": "2", "red": "31", "green": "32", "yellow": "33", "magenta": "35"}


class Line(str):
    """A line of text with a style: the text alone wherever nobody asks for colours."""

    style: str

    def __new__(cls, text: str, style: str) -> Line:
        made = super().__new__(cls, text)
        made.style = style
        return made


def styled(style: str, lines: Iterable[str]) -> Iterator[str]:
    """Lines with one style; as they are where it is empty."""
    return (Line(one, style) if style and one else one for one in lines)


def painted(line: str) -> str:
    """A line as a terminal is written to: its style around the text, nothing around what has none."""
    style = getattr(line, "style", "")
    if not style:
        return str(line)
    codes = ";".join(_CODES[word] for word in style.split())
    return f"\x1b[{codes}m{line}\x1b[0m"
