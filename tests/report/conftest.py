"""The browser that the pages were opened in ends with the run."""

from __future__ import annotations

import one_browser


def pytest_sessionfinish() -> None:
    one_browser.ended()
