"""The spread of a design as one page, in the style of the report."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from derate.report.html import environment
from derate.report.spread_parts import spread_parts
from derate.report.words import CAUTION


def spread_page(name: str, study: Any, day: date, softer: Sequence[str] = ()) -> str:
    """The page as HTML text. name: of the design; softer: what the figures were worked out by, as every output says"""
    page = (
        environment()
        .get_template("spread.html")
        .render(name=name, day=day.isoformat(), **spread_parts(study), softer=softer, caution=CAUTION)
    )
    return page if page.endswith("\n") else page + "\n"
