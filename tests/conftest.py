"""Test helpers stand beside the tests that use them; their folders are importable."""

from __future__ import annotations

import sys
from pathlib import Path

for _folder in (*Path(__file__).parent.iterdir(), Path(__file__).parents[1] / "tools"):
    if _folder.is_dir() and not _folder.name.startswith((".", "_")):
        sys.path.insert(0, str(_folder))
