"""An archive of designs: tables of what was asked, how far a run is, and its page with one row a design.

The page is whole in one file. Without its script it is a table sorted by name; the script sorts and filters.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from functools import cache
from math import isfinite
from pathlib import Path
from typing import Any, NamedTuple

from derate.report.colour import HEADING, STYLES, Line
from derate.report.words import CAUTION, cells, clipped, figure, number_of, padded, plain
from derate.terms.values import Value
from derate.terms.words import HAZARDS, OVERALLS
from derate.text.units import digits_of

_WIDEST, _NARROWEST = 44, 6  # columns of one cell where lines have to fit
_SHORT = 12  # digits of a digest as it is shown


class Table(NamedTuple):
    """What a question came to: names of the columns, and the rows as the store gives them."""

    title: str
    columns: tuple[str, ...]
    rows: Sequence[tuple[Any, ...]]

    def shown(self) -> Iterator[tuple[str, ...]]:
        """The rows as text: a value takes its unit with it, and the column of units is left out."""
        unit = self.columns.index("unit") if "unit" in self.columns else -1
        for row in self.rows:
            of = str(row[unit] or "") if unit >= 0 else ""
            yield tuple(_cell(one, of) for at, one in enumerate(row) if at != unit)

    @property
    def heads(self) -> tuple[str, ...]:
        """Names of the columns that are shown."""
        return tuple(one.replace("_", " ") for one in self.columns if one != "unit")

    def records(self) -> list[dict[str, Any]]:
        """The rows as data: SI base units, an open end as null."""
        return [dict(zip(self.columns, map(_plain_data, row), strict=True)) for row in self.rows]


def _cell(one: Any, unit: str) -> str:
    if one is None:
        return "–"
    if isinstance(one, list | tuple):
        ends = [float(each) for each in one if each is not None]
        return figure(Value(*ends), unit) if len(ends) == 4 else "–"
    if isinstance(one, bool):
        return "yes" if one else "no"
    if isinstance(one, float):
        return digits_of(one) if isfinite(one) else "no bound"
    return plain(str(one))


def _plain_data(one: Any) -> Any:
    if isinstance(one, list | tuple):
        return [_plain_data(each) for each in one]
    if isinstance(one, float):
        return one if isfinite(one) else None
    if isinstance(one, str):
        return plain(one)
    return one.isoformat() if isinstance(one, date | datetime) else one


def table_lines(table: Table, columns: int | None = None) -> Iterator[str]:
    """A table as lines: in columns, cut to a width where one is given; between tabs, whole, where none is."""
    yield Line(plain(table.title), HEADING)
    rows = [*table.shown()]
    if not rows:
        yield "none"
        return
    if columns is None:
        yield "\t".join(table.heads)
        yield from ("\t".join(row) for row in rows)
        return
    cut = [tuple(clipped(one, _WIDEST) for one in row) for row in rows]
    wide = [max(map(cells, column)) for column in zip(table.heads, *cut, strict=True)]
    while sum(wide) + 2 * (len(wide) - 1) > columns and max(wide) > _NARROWEST:
        wide[wide.index(max(wide))] -= 1  # the widest gives way, so that every column is seen
    words = [at for at, head in enumerate(table.heads) if head in ("verdict", "after", "overall")]
    yield _fitted(table.heads, wide, columns)
    for row in cut:
        style = next((STYLES[row[at]] for at in words if row[at] in STYLES), "")
        line = _fitted(row, wide, columns)
        yield Line(line, style) if style else line


def _fitted(row: Sequence[str], wide: Sequence[int], columns: int) -> str:
    parts = (padded(clipped(one, at), at) for one, at in zip(row, wide, strict=True))
    return clipped("  ".join(parts).rstrip(), columns)


def table_json(tables: Mapping[str, Table], about: Mapping[str, Any]) -> str:
    """Tables as JSON text, by the name of the question."""
    data = {"derate": 1, "caution": CAUTION, **about, **{name: table.records() for name, table in tables.items()}}
    return json.dumps(data, indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def progress_line(many: int, before: int, done: int, rate: float, left: float | None) -> str:
    """How far a run is: `340 of 1000 designs, 12.4 a second, 53 s left`. before: those whose result stood."""
    words = [f"{before + done} of {number_of(many, 'design')}"]
    if before:
        words.append(f"{before} unchanged")
    if done and rate > 0.0:
        words.append(f"{digits_of(rate)} a second")
    if left is not None and before + done < many:
        words.append(f"{_span(left)} left")
    return ", ".join(words)


def _span(seconds: float) -> str:
    if seconds < 90:
        return f"{max(1, round(seconds))} s"
    return f"{round(seconds / 60)} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"


# The page.


TEMPLATES = Path(__file__).parent / "templates"


class Page(NamedTuple):
    """What the page shows: the tables of the questions of the same names, and which run it is."""

    title: str
    day: date
    run: int
    version: str
    designs: Table
    nearest: Table
    trend: Table
    packs: Sequence[tuple[str, str, int]]  # name, digest, by how many designs it was used


def archive_page(page: Page) -> str:
    """The archive as HTML text."""
    from markupsafe import Markup

    from derate.report.html import environment  # the template engine is not needed for tables

    script = _read("archive.js")
    text = (
        environment()
        .get_template("archive.html")
        .render(
            page=page,
            hazards=HAZARDS,
            designs=[_design(one) for one in page.designs.records()],
            nearest=[*page.nearest.shown()],
            heads=page.nearest.heads,
            trend=[_bars(one) for one in page.trend.records()],
            overalls=OVERALLS,
            counts={word: sum(one["overall"] == word for one in page.designs.records()) for word in OVERALLS},
            packs=[(name, digest[:_SHORT], many) for name, digest, many in page.packs],
            css=Markup(_read("archive.css")),
            script=Markup(script),
            digest=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
            caution=CAUTION,
        )
    )
    return text if text.endswith("\n") else text + "\n"


def _design(one: dict[str, Any]) -> dict[str, Any]:
    """A row of the table of designs; `order` is what each column is sorted by."""
    words = {hazard: one[hazard] or "" for hazard in HAZARDS}
    ratio = one["nearest"]
    return {
        **one,
        "words": words,
        "overall": one["overall"] if one["outcome"] == "judged" else "unread",
        "ratio": digits_of(ratio) if ratio is not None else "",
        "order": "" if ratio is None else f"{ratio:.9g}",
    }


def _bars(one: dict[str, Any]) -> dict[str, Any]:
    """A run with the shares of each word, in hundredths of all its designs."""
    many = max(1, one["designs"])
    shares = [(word, one[word], round(100.0 * one[word] / many, 2)) for word in OVERALLS if one[word]]
    unread = one["unread"]
    return {**one, "shares": [*shares, *([("unread", unread, round(100.0 * unread / many, 2))] if unread else [])]}


@cache
def _read(name: str) -> str:
    return (TEMPLATES / name).read_text(encoding="utf-8")
