"""Elements of a drawing as text: escaped, rounded, with classes that the page's style gives their colours.

Everything drawn carries a title and a description, so that a screen reader tells what the picture shows.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from derate.report.plain import clipped, plain

_LONGEST = 48  # columns of a label; what is longer stands whole in the text beside the drawing


def number(value: float) -> str:
    """A coordinate with one decimal at most."""
    text = f"{value:.1f}"
    return text[:-2] if text.endswith(".0") else text


def words(text: str) -> str:
    """Text from anywhere as text of a drawing."""
    return escape(plain(text), quote=True)


def element(name: str, *inside: str, **attributes: object) -> str:
    """One element; an attribute of None is left out, `_` in a name stands for `-`, `cls` for `class`."""
    told = ""
    for key, value in attributes.items():
        if value is not None:
            shown = number(value) if isinstance(value, float | int) else words(str(value))
            told += f' {"class" if key == "cls" else key.replace("_", "-")}="{shown}"'
    return f"<{name}{told}/>" if not inside else f"<{name}{told}>{''.join(inside)}</{name}>"


def label(x: float, y: float, text: str, cls: str = "label", anchor: str | None = None) -> str:
    """A short text; anchor: 'middle' or 'end'."""
    return element("text", words(clipped(plain(text), _LONGEST)), x=x, y=y, cls=cls, text_anchor=anchor)


def line(x1: float, y1: float, x2: float, y2: float, cls: str) -> str:
    """A straight line."""
    return element("path", d=f"M{number(x1)} {number(y1)}L{number(x2)} {number(y2)}", cls=cls)


def polyline(points: Sequence[tuple[float, float]], cls: str) -> str:
    """An open line through points."""
    return element("path", d="M" + "L".join(f"{number(x)} {number(y)}" for x, y in points), cls=cls)


def box(x: float, y: float, width: float, height: float, cls: str, rx: float | None = None) -> str:
    """A rectangle."""
    return element("rect", x=x, y=y, width=max(width, 0.0), height=max(height, 0.0), cls=cls, rx=rx)


def drawing(name: str, width: float, height: float, title: str, about: str, *inside: str) -> str:
    """A whole drawing. name: unique on the page, of plain letters, digits and hyphens"""
    head = (
        f'<svg viewBox="0 0 {number(width)} {number(height)}" role="img" aria-labelledby="{name}-t {name}-d" '
        f'xmlns="http://www.w3.org/2000/svg" class="drawing"><title id="{name}-t">{words(title)}</title>'
        f'<desc id="{name}-d">{words(about)}</desc>'
    )
    return head + "".join(inside) + "</svg>"
