"""The shipped designs as documents, each worked through once, and the hostile one."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path

from derate.cli.show import document
from derate.report.document import Document
from derate.study.work import Workshop

ROOT = Path(__file__).parents[2]
DAY = date(2026, 11, 25)
SOUND = "designs/greenhouse-vent/greenhouse-vent.derate.yaml"
POOR = "designs/market-stall-lamp/market-stall-lamp.derate.yaml"
SHIPPED = tuple(sorted(str(path.relative_to(ROOT)) for path in (ROOT / "designs").rglob("*.derate.yaml")))


@cache
def shipped(path: str) -> Document:
    """A shipped design as a document, by its path below the repository (tests run there)."""
    return document(Workshop().work(path), DAY)
