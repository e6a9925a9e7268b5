"""Whether everything is tried, or the fixed share of an ordinary run: `pytest --brute-force`, see DEVELOPERS.md."""

from __future__ import annotations

BRUTE_FORCE = False  # set by conftest.py from the command line, in every worker, before a test module is imported


def share(of: int) -> int:
    """One in how many is tried: `of` in an ordinary run, every one by brute force."""
    return 1 if BRUTE_FORCE else of
