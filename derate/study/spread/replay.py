"""The graph of a ledger worked out again for drawn figures: whole arrays where a formula takes them, else singly."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Hashable, Mapping, Sequence
from math import inf, isnan, sqrt
from multiprocessing import get_context
from statistics import NormalDist
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from derate.study.spread.leaves import (
    Constant,
    Drawn,
    FromModel,
    Graph,
    Joined,
    Leaf,
    Node,
    Share,
    Undrawn,
    needs,
    same_lot,
)
from derate.terms.values import Collapse

Numbers = NDArray[np.float64]
Form = Literal["uniform", "normal"]
TROUBLE = (Collapse, ValueError, ZeroDivisionError, OverflowError)
COMPARED = 200  # points at which an array is held to the same formula one by one
ALIKE = 1e-9
COSTLY = 400  # Python calls of one solve beyond which a model is drawn less often: counted, so alike on every machine
_NORMAL = NormalDist()


# Draws of the leaves. Each leaf has a stream of its own, seeded by what it is.


class Way(NamedTuple):
    """How leaves are drawn.

    form: uniform between the ends, or normal with the ends of a tolerance (purchase, temperature, age) at so many
        sigma and cut off there. What is not known of a sample, what is assumed and the error of a formula are uniform
        whatever the form
    together: correlation of the purchase tolerance of parts of one lot, 0 to 1
    """

    draws: int = 20_000
    costly_draws: int = 2_000
    seed: int = 1
    form: Form = "uniform"
    sigmas: float = 3.0
    together: float = 0.0


class Places(NamedTuple):
    """Where every leaf stands in each draw: from 0 to 1 what has two ends, from -1 to 1 a tolerance."""

    at: Mapping[Hashable, Numbers]

    def of(self, leaf: Leaf, many: int | None = None) -> Numbers:
        """The first so many places of a leaf."""
        return self.at[leaf.key][:many]


_TOLERANCE: frozenset[Share] = frozenset(("purchase", "reading", "temperature", "age"))


def is_tolerance(leaf: Leaf) -> bool:
    """Whether a leaf goes from -1 to 1 about a nominal; any other goes from one end to the other."""
    return isinstance(leaf.key, tuple) and leaf.key[-1] == "tolerance"


def places(leaves: Sequence[Leaf], way: Way) -> Places:
    """Every leaf drawn."""
    share = {place: lot for lot in same_lot(leaves) for place in lot} if way.together > 0.0 else {}
    found: dict[Hashable, Numbers] = {}
    for place, leaf in enumerate(leaves):
        own = np.random.default_rng(leaf.seed(way.seed))
        if place in share:
            first = leaves[share[place][0]]
            lot = np.random.default_rng(first._replace(key=("lot", first.key)).seed(way.seed))
            z = sqrt(way.together) * lot.standard_normal(way.draws)
            z += sqrt(1.0 - way.together) * own.standard_normal(way.draws)
            even = np.array([_NORMAL.cdf(one) for one in z])
        else:
            even = own.random(way.draws)
        if way.form == "normal" and leaf.share in _TOLERANCE:
            below = _NORMAL.cdf(-way.sigmas)
            scaled = below + even * (1.0 - 2.0 * below)
            even = np.clip([0.5 + 0.5 * _NORMAL.inv_cdf(one) / way.sigmas for one in scaled], 0.0, 1.0)
        found[leaf.key] = 2.0 * even - 1.0 if is_tolerance(leaf) else even
    return Places(found)


def one_at_a_time(leaves: Sequence[Leaf]) -> Places:
    """Every leaf at its nominal in the first place; then leaf by leaf at its low end, and at its high end."""
    many = 1 + 2 * len(leaves)
    found: dict[Hashable, Numbers] = {}
    for place, leaf in enumerate(leaves):
        low, middle, high = (-1.0, 0.0, 1.0) if is_tolerance(leaf) else (0.0, 0.5, 1.0)
        own = np.full(many, middle)
        own[1 + 2 * place], own[2 + 2 * place] = low, high
        found[leaf.key] = own
    return Places(found)


# A formula on whole arrays. Comparisons answer for all draws at once where all agree; where they do not the formula
# would go two ways, and it is worked out draw by draw instead.


class TwoWays(Exception):
    """Some draws would go one way and some another."""


class _Draws(np.ndarray[Any, np.dtype[Any]]):
    """An array that says yes or no where all its members do."""

    def __bool__(self) -> bool:
        yes = int(np.count_nonzero(self.view(np.ndarray)))
        if 0 < yes < self.size:
            raise TwoWays
        return yes > 0


def on_arrays(solve: Callable[..., Any], inputs: Mapping[str, Numbers | float], outputs: Sequence[str]) -> Any:
    """The outputs of a formula for all draws at once; None where it does not take arrays or does not agree.

    It is believed where 200 of the draws, evenly picked, come out within 1e-9 of the same formula on plain numbers.
    """
    arrays = {name: _whole(one) if isinstance(one, np.ndarray) else one for name, one in inputs.items()}
    many = max(len(one) for one in inputs.values() if isinstance(one, np.ndarray))
    try:
        with np.errstate(divide="raise", over="raise", invalid="raise"):
            result = solve(**arrays)
            found = {
                name: np.broadcast_to(np.asarray(output_of(result, name), dtype=float), (many,)) for name in outputs
            }
    except (TypeError, FloatingPointError, TwoWays, AttributeError, *TROUBLE):
        return None
    for at in np.unique(np.linspace(0, many - 1, min(COMPARED, many)).astype(int)):
        point = {name: float(one[at]) if isinstance(one, np.ndarray) else one for name, one in inputs.items()}
        try:
            alone = solve(**point)
            for name in outputs:
                number = float(output_of(alone, name))
                if not abs(number - found[name][at]) <= ALIKE * max(abs(number), abs(float(found[name][at]))):
                    return None
        except (TypeError, *TROUBLE):
            return None
    return {name: np.array(one) for name, one in found.items()}


def _whole(numbers: Numbers) -> Any:
    """An array as a formula is handed it: one that adds to its own input in place is refused, and goes draw by draw."""
    handed = numbers.view(_Draws)
    handed.flags.writeable = False
    return handed


def output_of(result: Any, name: str) -> Any:
    """One output of what a formula gave."""
    found = result[name] if isinstance(result, Mapping) else getattr(result, name)
    if found is None:
        raise ValueError(f"gives no {name}")
    return found


def calls_of(solve: Callable[..., Any], point: Mapping[str, float], most: int = COSTLY) -> int:
    """How many calls one solve makes, counted up to a bound."""
    count = 0

    def counted(frame: object, event: str, argument: object) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    before = sys.getprofile()
    sys.setprofile(counted)
    try:
        solve(**point)
    except TROUBLE:
        pass
    finally:
        sys.setprofile(before)
    return count


# One by one, on all cores where there are several.

_TASK: Callable[[int, int], Numbers] | None = None


def _chunk(ends: tuple[int, int]) -> Numbers:
    assert _TASK is not None
    return _TASK(*ends)


def one_by_one(
    solve: Callable[..., Any], inputs: Mapping[str, Numbers | float], outputs: Sequence[str], many: int, cores: int
) -> Mapping[str, Numbers]:
    """The outputs of a formula draw by draw; not a number where it gives none: a draw that collapses is a result."""
    global _TASK
    columns = [one[:many].tolist() if isinstance(one, np.ndarray) else [one] * many for one in inputs.values()]
    names = tuple(inputs)

    def some(first: int, last: int) -> Numbers:
        rows = []
        for point in zip(*(column[first:last] for column in columns), strict=True):
            try:
                result = solve(**dict(zip(names, point, strict=True)))
                rows.append([float(output_of(result, name)) for name in outputs])
            except TROUBLE:
                rows.append([float("nan")] * len(outputs))
        return np.array(rows).reshape(last - first, len(outputs))

    if cores > 1 and many >= 4 * cores and hasattr(os, "fork"):
        edges = [many * k // cores for k in range(cores + 1)]
        _TASK = some
        try:
            with get_context("fork").Pool(cores) as pool:
                table = np.concatenate(pool.map(_chunk, list(zip(edges, edges[1:], strict=False))))
        finally:
            _TASK = None
    else:
        table = some(0, many)
    return {name: table[:, place] for place, name in enumerate(outputs)}


# The graph, row by row.


class Replayed(NamedTuple):
    """Rows as drawn.

    rows: by number, one figure a draw, fewer where the row needs a costly model; not a number where a draw gave none
    undrawn: why there is none; costly: models, by row, that were run one by one and less often
    """

    rows: Mapping[int, Numbers]
    undrawn: Mapping[int, str]
    costly: Mapping[int, frozenset[str]]


class Replay:
    """Works out a graph for drawn leaves. cores: processes for costly models."""

    def __init__(self, graph: Graph, drawn: Places, draws: int, costly_draws: int, cores: int = 1) -> None:
        self.graph, self.drawn = graph, drawn
        self.draws, self.costly_draws, self.cores = draws, costly_draws, cores
        self.rows: dict[int, Numbers] = {}
        self.undrawn: dict[int, str] = {}
        self.costly: dict[int, frozenset[str]] = {}
        self.solves = 0  # calls of formulas, one by one
        self.by_arrays = 0  # models that took arrays
        self._runs: dict[int, Mapping[str, Numbers]] = {}
        self._outputs: dict[int, dict[str, None]] = {}
        for node in graph.nodes.values():
            if isinstance(node, FromModel):
                self._outputs.setdefault(node.call, {})[node.output] = None

    def run(self) -> Replayed:
        """All rows, in the order in which the ledger wrote them."""
        for number, node in self.graph.nodes.items():
            open_ones = [one for one in needs(node) if one in self.undrawn]
            if isinstance(node, Undrawn):
                self.undrawn[number] = node.why
            elif open_ones:
                self.undrawn[number] = self.undrawn[open_ones[0]]
            else:
                self.costly[number] = frozenset().union(*(self.costly[one] for one in needs(node)))
                self._work_out(number, node)
        return Replayed(self.rows, self.undrawn, self.costly)

    def _work_out(self, number: int, node: Node) -> None:
        match node:
            case FromModel():
                undrawn = [one.why for one in node.inputs.values() if isinstance(one, Undrawn)]
                if undrawn:
                    self.undrawn[number] = undrawn[0]
                else:
                    self._from_model(number, node)
            case Joined(how, rows, factor):
                many = min(len(self.rows[one]) for one in rows)
                self.rows[number] = self._joined(how, [self.rows[one][:many] for one in rows], factor)
            case _:
                self.rows[number] = self.figure(node)

    @staticmethod
    def _joined(how: str, columns: Sequence[Numbers], factor: float) -> Numbers:
        match how:
            case "sum":
                return np.asarray(np.sum(columns, axis=0))
            case "max":
                return np.asarray(np.max(columns, axis=0))
            case "min":
                return np.asarray(np.min(columns, axis=0))
            case "product":
                return np.asarray(np.prod(columns, axis=0))
            case "parallel":
                table = np.array(columns)
                positive = np.where(table > 0.0, table, np.inf)
                return np.where(np.min(table, axis=0) <= 0.0, 0.0, 1.0 / np.sum(1.0 / positive, axis=0))
            case _:
                return columns[0] * factor

    def figure(self, node: Node) -> Numbers:
        """A constant or a figure with its leaves."""
        if isinstance(node, Constant):
            return np.full(self.draws, node.number)
        assert isinstance(node, Drawn)
        value = node.value
        figure = np.full(self.draws, value.near)
        if node.unknown is not None:
            figure = figure + self.drawn.of(node.unknown) * (value.far - value.near)
        if node.tolerance is not None:
            at = self.drawn.of(node.tolerance)
            figure = figure + np.where(at > 0.0, (value.high - value.far) * at, (value.near - value.low) * at)
        for leaf in node.shares:
            figure = figure * (1.0 + leaf.low + self.drawn.of(leaf) * (leaf.high - leaf.low))
        return figure

    def _from_model(self, number: int, node: FromModel) -> None:
        inputs: dict[str, Numbers] = {
            name: self.rows[one] if isinstance(one, int) else self.figure(one) for name, one in node.inputs.items()
        }
        many = min((len(one) for one in inputs.values()), default=self.draws)
        if node.call not in self._runs:
            self._runs[node.call] = self._solved(node, {name: one[:many] for name, one in inputs.items()}, many)
        found = self._runs[node.call][node.output]
        if len(found) < many:
            self.costly[number] |= {node.model.name}
        if node.error is not None and node.band is not None:
            below, above = node.band
            if above == inf or below == -inf:
                self.undrawn[number] = f"{node.model.name}: its error has no upper end"
                return
            at = self.drawn.of(node.error, len(found))
            found = found + np.abs(found) * (below + at * (above - below))
        self.rows[number] = found

    def _solved(self, node: FromModel, inputs: Mapping[str, Numbers], many: int) -> Mapping[str, Numbers]:
        """All outputs of one run that rows need, for every draw."""
        outputs = tuple(self._outputs[node.call])
        solve = node.model.solve
        first = {name: float(one[0]) for name, one in inputs.items()}
        varying = {name for name, one in inputs.items() if (one != one[0]).any()}
        if not varying:
            self.solves += 1
            alone = one_by_one(solve, first, outputs, 1, 1)
            return {name: np.full(many, one[0]) for name, one in alone.items()}
        given: dict[str, Numbers | float] = {
            name: one if name in varying else first[name] for name, one in inputs.items()
        }
        whole = all(not np.isnan(one).any() for one in inputs.values())
        if whole and (found := on_arrays(solve, given, outputs)) is not None:
            self.by_arrays += 1
            return dict(found)
        costly = calls_of(solve, first) > COSTLY
        many = min(many, self.costly_draws) if costly else many
        self.solves += many
        return one_by_one(solve, given, outputs, many, self.cores if costly else 1)


def none_given(numbers: Numbers) -> int:
    """Draws that gave no figure."""
    return sum(map(isnan, numbers.tolist()))
