"""A formula with what is proved of it: the one place where its signs and its error band are written.

Formula: a pure function, its signs, the ranges they were proved in, its error band.
giving: the formula of a function that returns one number.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

Signs = Mapping[str, int]
Ranges = Mapping[str, tuple[float, float]]


class Collapse(Exception):
    """A corner at which the circuit cannot do what it is asked to: a result, with its reason."""


class Formula(NamedTuple):
    """One formula.

    solve: called with the inputs by name [SI]; returns an object or mapping that holds each output [SI].
        It raises ValueError outside its range and Collapse where the circuit gives way.
    signs: output -> input -> +1 (never falls as it rises), -1 (never rises), 0 (no single sign).
        An input that is not named has no influence on that output. Where the worst corner moves about, several maps
        may be given for one output: each names one corner, and the worst of them counts.
    ranges: input -> least and greatest value [SI] between which tests/circuit/test_signs.py draws the inputs; inputs
        that belong together are refused by `solve` where they do not.
    errors: output -> (below, above) as fractions: the truth lies within computed × (1 + below .. 1 + above).
        An output that is not named is exact.
    """

    solve: Callable[..., Any]
    signs: Mapping[str, Signs | tuple[Signs, ...]]
    ranges: Ranges
    errors: Mapping[str, tuple[float, float]] = MappingProxyType({})


def giving(
    output: str, function: Callable[..., float], signs: Signs, ranges: Ranges, band: tuple[float, float] | None = None
) -> Formula:
    """The formula of a function that returns one number, under the name of that number."""

    def solve(**inputs: float) -> dict[str, float]:
        return {output: function(**inputs)}

    return Formula(solve, {output: signs}, ranges, {} if band is None else {output: band})
