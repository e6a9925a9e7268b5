"""The contributor's page names files that are there."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
EXAMPLES = ("NAME", "PACK")  # written in capitals: the reader's own


def test_every_file_that_the_page_names_is_there() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`((?:[a-z_]+/)+[A-Za-z_]+\.(?:py|yaml|md)|(?:[a-z_]+/)*[a-z_]+/)`", text))
    named = {one for one in named if not any(word in one for word in EXAMPLES)}
    assert len(named) > 20
    folders = (ROOT, ROOT / "derate", ROOT / "derate" / "stress")
    gone = [one for one in sorted(named) if not any((folder / one).exists() for folder in folders)]
    assert not gone
