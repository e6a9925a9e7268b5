"""Write the type of every quantity from the vocabulary: python tools/quantity_names.py."""

from __future__ import annotations

from pathlib import Path

from derate.terms.vocabulary import STEPS, VOCABULARY

TARGET = Path(__file__).resolve().parent.parent / "derate" / "terms" / "quantity_names.py"
HEAD = '''"""Every name a row of the ledger can have, as a type: a misspelt one is refused where the code is checked.

Written by `python tools/quantity_names.py` from the tables of `derate.terms.vocabulary`; a test holds the two equal.
"""

from __future__ import annotations

from typing import Literal

QuantityName = Literal[
'''


def text() -> str:
    """The module as it has to be."""
    return HEAD + "".join(f'    "{name}",\n' for name in sorted({*VOCABULARY, *STEPS})) + "]\n"


if __name__ == "__main__":
    TARGET.write_text(text(), encoding="utf-8")
