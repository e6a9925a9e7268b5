"""A screen built line by line with rich: hanging labels, a gauge, colours. Imported only for a terminal.

Text from files goes into `Text` objects and never through markup. Lines are wrapped here, at most `MEASURE` columns
wide, because longer lines of prose are hard to read.
"""

from __future__ import annotations

import io

from rich.console import Console
from rich.text import Text

from derate.report.plain import cells, padded, plain

MEASURE = 110
STYLES = {
    "fail": "bold red",
    "fail, waived": "red",
    "not assessed": "magenta",
    "marginal": "yellow",
    "pass": "green",
    "not applicable": "dim",
}
_GAUGE, _BEYOND = 24, 12  # columns up to the limit, and past it
_LINES = {True: ("━", "╌", "·", "┃", "▸"), False: ("=", "-", ".", "|", ">")}


class Screen:
    """Lines of one output, gathered and then written as text.

    width: columns of the terminal; colour: write colours; drawn: the terminal can show line-drawing characters.
    """

    def __init__(self, width: int, colour: bool, drawn: bool = True) -> None:
        self.width = max(40, min(width, MEASURE))
        self.drawn = drawn
        self.colour = colour
        self._console = Console(
            file=io.StringIO(), width=self.width, force_terminal=colour, color_system="standard" if colour else None,
            no_color=not colour, highlight=False, markup=False, emoji=False, legacy_windows=False,
        )  # fmt: skip
        self._lines: list[Text] = []

    def blank(self) -> None:
        """An empty line, never two."""
        if self._lines and self._lines[-1].plain:
            self._lines.append(Text())

    def line(self, text: str | Text, style: str = "", indent: int = 0) -> None:
        """A paragraph, wrapped, every line indented."""
        self.hung("", text, style, indent, 0)

    def hung(self, label: str, body: str | Text, style: str = "", indent: int = 2, hang: int = 10) -> None:
        """A paragraph behind a label that stands flush right in `hang` columns; further lines hang under the first."""
        text = body if isinstance(body, Text) else Text(plain(body), style)
        lead = indent + (hang + 2 if hang else 0)
        lines = text.wrap(self._console, max(20, self.width - lead), tab_size=4) if text.plain else [Text()]
        for number, line in enumerate(lines):
            if number or not hang:
                start = Text(" " * lead)
            else:
                start = Text(" " * indent)
                start.append(" " * max(0, hang - cells(label)) + label, "dim")
                start.append("  ")
            line.rstrip()
            self._lines.append(start + line)

    def ends(self, left: Text, right: Text, indent: int = 0) -> None:
        """Two texts at both ends of a line; on lines of their own where they do not fit."""
        room = self.width - indent - cells(left.plain) - cells(right.plain)
        if room >= 2:
            self._lines.append(Text(" " * indent) + left + Text(" " * room) + right)
            return
        self.line(left, indent=indent)
        self.line(right, indent=indent + 2)

    def gauge(self, kindest: float, worst: float, style: str) -> Text:
        """The stress drawn against the limit, which stands in the same column in every finding.

        Solid up to the kindest reading, broken on to the worst one: a long broken part is a wide range.
        """
        full, doubt, empty, mark, more = _LINES[self.drawn]
        drawn = Text()
        for column in range(_GAUGE + 1 + _BEYOND):
            if column == _GAUGE:
                drawn.append(mark, "bold")
                continue
            at = (column if column < _GAUGE else column - 1) / _GAUGE + 1e-6
            if at < worst:
                drawn.append(full if at < kindest else doubt, style)
            elif column < _GAUGE:
                drawn.append(empty, "dim")
        if worst > (_GAUGE + _BEYOND) / _GAUGE:
            drawn.right_crop(1)
            drawn.append(more, style)
        return drawn

    def text(self) -> str:
        """Everything as text with a line feed at the end of each line, no space before it."""
        if not self.colour:
            return "".join(line.plain.rstrip() + "\n" for line in self._lines)
        for line in self._lines:
            self._console.print(line, soft_wrap=True, end="\n")
        self._lines.clear()
        return self._console.file.getvalue()  # type: ignore[attr-defined,no-any-return]


def row(*columns: tuple[str, int, str]) -> Text:
    """Texts filled up to their widths: (text, columns, style); the last one is not filled."""
    made = Text()
    for number, (text, width, style) in enumerate(columns):
        shown = plain(text)
        made.append(shown, style)
        if number < len(columns) - 1:
            made.append(padded("", max(2, width - cells(shown))))
    return made
