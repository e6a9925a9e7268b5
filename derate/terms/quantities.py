"""Quantities by name in code: the type of every name, and the one door for names that are put together.

`context.fact(part(name), "curent_peak")` is refused by mypy; a name built from pieces goes through `named`, which
raises where the vocabulary has no such name.
"""

from __future__ import annotations

from typing import cast, get_args

from derate.terms.quantity_names import QuantityName

__all__ = ["QUANTITIES", "QuantityName", "each", "named", "of_family", "paired"]

QUANTITIES: frozenset[QuantityName] = frozenset(get_args(QuantityName))


def named(name: str) -> QuantityName:
    """A name that was put together or read, as a quantity. Raises KeyError on a name that exists nowhere."""
    if name not in QUANTITIES:
        raise KeyError(f"{name}: no such quantity")
    return name


def of_family(name: QuantityName, family: str) -> QuantityName:
    """The quantity of one family where several are loaded: each has requirement rows of its own."""
    return cast(QuantityName, f"{name} in {family}")


def each(*names: QuantityName) -> tuple[QuantityName, ...]:
    """Several quantities to be gone through in turn, each checked by its type."""
    return names


def paired(*rows: tuple[QuantityName, str]) -> tuple[tuple[QuantityName, str], ...]:
    """Several quantities, each with the output of a model (or another word) that it goes with."""
    return rows
