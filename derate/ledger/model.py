"""A formula or solver as the ledger sees it: its inputs' signs, its error band, its source.

`Model.points` says at which input points it has to be run so that near, far, low and high of an output are found:
by the declared sign of each input, or at both ends where no single sign exists.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from itertools import product
from math import inf
from types import MappingProxyType
from typing import Any, NamedTuple

from derate.terms.formula import Collapse, Formula, Signs
from derate.terms.values import Value

__all__ = ["Collapse", "Model", "Point", "Signs", "banded", "corner_points", "ends"]

Point = tuple[float, ...]


class Model(NamedTuple):
    """One formula or solver.

    solve: called with the inputs by name [SI]; returns an object or mapping that holds each output [SI].
        It raises ValueError outside its range and Collapse where the circuit gives way; both become holes.
    signs: output -> input -> +1 (rises with it), -1 (falls), 0 (no single sign: both ends are run).
        An input that is not named has no influence on that output. Where the worst corner moves about, several maps
        may be given for one output: each names one corner, and the worst of them counts (the error band holds the
        rest).
    kind: one corner for the lower end of every output of which more is worse, where finding each exactly is not worth
        the time: no verdict ever rests on the kind end of a tolerance.
    falling: outputs of which less is worse (a valley); of all others more is worse.
    errors: output -> (below, above) as fractions: the truth lies within computed × (1 + below .. 1 + above).
        (0, inf) marks a floor: it can prove a fail, never a pass. (None) as absent: exact.
    words: the formula as a person would write it.
    source: publication with equation or clause, or how it was derived.
    """

    name: str
    solve: Callable[..., Any]
    signs: Mapping[str, Signs | tuple[Signs, ...]]
    source: str
    words: str = ""
    errors: Mapping[str, tuple[float, float]] = MappingProxyType({})
    falling: frozenset[str] = frozenset()
    kind: Signs | None = None

    @classmethod
    def of(
        cls, name: str, formula: Formula, source: str, words: str = "", *, falling: frozenset[str] = frozenset()
    ) -> Model:
        """The model of a formula: signs and error bands are those that stand beside it."""
        return cls(name, formula.solve, formula.signs, source, words, formula.errors, falling)

    def by(self, formula: Formula) -> Model:
        """The same model over other inputs: a sum of three instead of two."""
        return self._replace(solve=formula.solve, signs=formula.signs, errors=formula.errors)

    def corners(self, output: str, up: bool) -> tuple[Signs, ...]:
        """The sign maps to be run for the greatest (up) or least of an output."""
        signs = self.signs[output]
        if self.kind is not None and not up and output not in self.falling:
            return (self.kind,)
        return signs if isinstance(signs, tuple) else (signs,)

    def inputs(self) -> tuple[str, ...]:
        """Names of all inputs, in the order in which they are first named."""
        seen: dict[str, None] = {}
        for output in self.signs:
            for signs in self.corners(output, output not in self.falling):
                seen.update(dict.fromkeys(signs))
        return tuple(seen)


def ends(value: Value, wide: bool) -> tuple[float, float]:
    """The two ends of a value: with tolerance when wide, without otherwise."""
    return (value.low, value.high) if wide else (value.near, value.far)


def corner_points(
    signs: Mapping[str, int], names: tuple[str, ...], values: Mapping[str, Value], wide: bool, up: bool
) -> Iterator[Point]:
    """The input points among which the least (up=False) or greatest (up=True) output lies."""
    choices: list[tuple[float, ...]] = []
    for name in names:
        low, high = ends(values[name], wide)
        sign = signs.get(name)
        if low == high or sign is None:
            choices.append((low,))
        elif sign == 0:
            choices.append((low, high))
        else:
            choices.append((high,) if (sign > 0) == up else (low,))
    return product(*choices)


def banded(near: float, far: float, low: float, high: float, band: tuple[float, float] | None) -> Value:
    """Four numbers with the error band of the formula laid around them."""
    if band is not None:
        below, above = band
        near, far = _shifted(near, below), _shifted(far, above, inf)
        low, high = _shifted(low, below), _shifted(high, above, inf)
    return Value(min(low, near), near, far, max(high, far))


def _shifted(number: float, fraction: float, open_end: float = -inf) -> float:
    if fraction in (inf, -inf):
        return open_end
    return number + abs(number) * fraction
