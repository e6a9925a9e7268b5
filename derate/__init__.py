"""A linter for the stress, fusing and insulation of small mains-powered supplies.

The public Python interface is what `__all__` names, loaded at its first use (`derate/interface.py`, docs/python.md).
"""

from typing import TYPE_CHECKING

__version__ = "0.1.0"
__all__ = [
    "Case",
    "Category",
    "Curve",
    "Design",
    "Entry",
    "Finding",
    "Ledger",
    "Place",
    "Problem",
    "ReadingError",
    "Review",
    "Subject",
    "Value",
    "findings",
    "load",
    "read_faults",
    "read_lint",
    "read_stresses",
    "review",
    "schema",
    "stresses",
]

if TYPE_CHECKING:
    from derate.interface import (
        Case,
        Category,
        Curve,
        Design,
        Entry,
        Finding,
        Ledger,
        Place,
        Problem,
        ReadingError,
        Review,
        Subject,
        Value,
        findings,
        load,
        read_faults,
        read_lint,
        read_stresses,
        review,
        schema,
        stresses,
    )
else:

    def __getattr__(name):
        if name not in __all__:
            raise AttributeError(f"module 'derate' has no public name '{name}'; docs/python.md lists them")
        from derate import interface

        return getattr(interface, name)

    def __dir__():
        return [*__all__, "__version__"]
