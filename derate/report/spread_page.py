"""The spread of a design as one page, in the style of the report."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from derate.report.html import environment
from derate.report.spread import drawn_rows, moving, notes, pieces, stands_out, title_of
from derate.report.svg_spread import drivers_drawing, histogram_drawing
from derate.report.words import CAUTION


def spread_page(name: str, study: Any, day: date, softer: Sequence[str] = ()) -> str:
    """The page as HTML text. name: of the design; softer: what the figures were worked out by, as every output says"""
    page = (
        environment()
        .get_template("spread.html")
        .render(name=name, day=day.isoformat(), **spread_parts(study), softer=softer, caution=CAUTION)
    )
    return page if page.endswith("\n") else page + "\n"


def spread_parts(study: Any) -> dict[str, Any]:
    """What the page and the section of a report show of a study: a drawing or two of each row, what was drawn, how."""
    rows = moving(study)
    told = [
        {
            "title": title_of(row),
            "pieces": [(head, text, stands_out(head, row)) for head, text in pieces(row)],
            "histogram": histogram_drawing(f"draws-{number}", row),
            "drivers": drivers_drawing(f"drivers-{number}", row.drivers),
        }
        for number, row in enumerate(rows)
    ]
    return {"rows": told, "drawn": drawn_rows(rows), "notes": notes(study)}
