"""How a person would write each formula of the ledger, by its name."""

from __future__ import annotations

import sys

from derate.ledger.model import Model


def formula_words() -> dict[str, str]:
    """Name of a formula -> the formula written out, for every model of the stress modules that are in use."""
    found: dict[str, str] = {}
    for name in sorted(sys.modules):
        if name.startswith("derate.stress."):
            for one in vars(sys.modules[name]).values():
                if isinstance(one, Model) and one.words:
                    found.setdefault(one.name, one.words)
    return found
