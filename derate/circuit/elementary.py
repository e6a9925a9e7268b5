"""Arithmetic that stands under many names: products, ratios, sums, figures passed on. Signs are stated once here.

Contents: `product`, `ratio`, `total`, `passed`. Each makes the formula for the names a caller gives its numbers;
ratios are of positive numbers.
"""

from __future__ import annotations

from math import prod

from derate.circuit.numerics import Band
from derate.terms.formula import Formula, giving

_POSITIVE = (1e-3, 1e3)
_ANY = (-1e3, 1e3)


def product(output: str, *factors: str) -> Formula:
    """The product of numbers that are never negative: it rises with each.

    >>> product("power", "voltage", "current").solve(voltage=5.0, current=2.0)
    {'power': 10.0}
    """

    def multiplied(**inputs: float) -> float:
        return prod((inputs[name] for name in factors[1:]), start=inputs[factors[0]])

    return giving(output, multiplied, dict.fromkeys(factors, 1), dict.fromkeys(factors, (0.0, 1e3)))


def ratio(output: str, over: str, under: str, band: Band | None = None) -> Formula:
    """One number that is never negative over a positive one: it rises with the first and falls with the second.

    >>> ratio("current", "voltage", "resistance").solve(voltage=5.0, resistance=2.0)
    {'current': 2.5}
    """

    def divided(**inputs: float) -> float:
        return inputs[over] / inputs[under]

    return giving(output, divided, {over: 1, under: -1}, {over: (0.0, 1e3), under: _POSITIVE}, band)


def total(output: str, *addends: str) -> Formula:
    """The sum of numbers of either sign: it rises with each.

    >>> total("delay", "limit", "storage").solve(limit=1.0, storage=2.5)
    {'delay': 3.5}
    """

    def added(**inputs: float) -> float:
        return sum(inputs[name] for name in addends)

    return giving(output, added, dict.fromkeys(addends, 1), dict.fromkeys(addends, _ANY))


def passed(output: str, band: Band | None = None) -> Formula:
    """A figure passed on as it is, with the band of what stands behind it.

    >>> passed("voltage").solve(voltage=5.0)
    {'voltage': 5.0}
    """

    def same(**inputs: float) -> float:
        return inputs[output]

    return giving(output, same, {output: 1}, {output: _ANY}, band)
