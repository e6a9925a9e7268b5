"""The page of all instructions is what rules and vocabulary say, each under its class."""

from __future__ import annotations

import sys
from pathlib import Path

from golden import hold

from derate.terms.instructions import CAUTIONS, DOES
from derate.terms.vocabulary import VOCABULARY

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tools"))
import instruction_page  # noqa: E402


def test_the_page_is_current() -> None:
    hold(instruction_page.PAGE, instruction_page.page())


def test_every_class_of_the_shipped_texts_has_its_section_with_its_caution() -> None:
    text = instruction_page.page()
    for word in DOES[:-1]:
        assert f"(`{word}`)" in text and CAUTIONS[word].beside in text and CAUTIONS[word].page in text
    probed = text.split("(`probed`)")[1].split("\n## ")[0]
    assert VOCABULARY["part.ringing"].how in probed and "**Withheld.**" in probed
    assert VOCABULARY["part.ringing"].how not in text.split("(`opened`)")[1].split("\n## ")[0]
