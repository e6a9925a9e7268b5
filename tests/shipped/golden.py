"""Whole outputs kept beside the design they come from.

A mismatch fails with a diff and leaves the new text beside the old as NAME.actual; `DERATE_RENEW=1 pytest` renews.
"""

from __future__ import annotations

import difflib
import os
from pathlib import Path


def hold(expected: Path, found: str) -> None:
    """Compare a text with the file kept for it."""
    actual = expected.with_name(expected.name + ".actual")
    if os.environ.get("DERATE_RENEW") == "1":
        expected.parent.mkdir(parents=True, exist_ok=True)
        expected.write_text(found, encoding="utf-8")
        actual.unlink(missing_ok=True)
        return
    kept = expected.read_text(encoding="utf-8") if expected.exists() else ""
    if kept != found:
        actual.write_text(found, encoding="utf-8")
        lines = difflib.unified_diff(kept.splitlines(), found.splitlines(), str(expected), "found", lineterm="", n=1)
        raise AssertionError("\n".join(list(lines)[:60]) or f"{expected} differs in its line ends")
    actual.unlink(missing_ok=True)
