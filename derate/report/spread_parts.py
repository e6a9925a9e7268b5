"""What a page of a spread is made of, for the page of its own and for the section of a report."""

from __future__ import annotations

from typing import Any

from derate.report.spread import (
    drawn_rows,
    moving,
    notes,
    pieces,
    samples_notes,
    samples_pieces,
    samples_title,
    stands_out,
    title_of,
)
from derate.report.svg_spread import drivers_drawing, histogram_drawing


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
    samples = [
        {"title": samples_title(one), "pieces": [(*piece, False) for piece in samples_pieces(one, *study.samples[1:])]}
        for one in study.samples.found
    ]
    return {
        "rows": told,
        "drawn": drawn_rows(rows),
        "notes": notes(study),
        "samples": samples,
        "samples_notes": samples_notes(study.samples),
    }
