"""What is drawn: the tolerances and unknowns of a design, each once a draw, and the rows that are made from them."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from hashlib import sha256
from math import inf, isinf
from typing import Literal, NamedTuple

from derate.ledger.entry import Entry
from derate.ledger.ledger import Model
from derate.ledger.traced import TracedLedger
from derate.packs.pack import DOMAINS
from derate.study.spread.drift import Taken
from derate.terms.quantities import HEAT
from derate.terms.values import Value

# What is drawn. A leaf is one thing that is one figure in one sample: a tolerance of one part, something that nobody
# knows of this sample, an assumption of a pack, the error of a formula. Two rows that rest on one leaf move together.

Share = Literal["purchase", "reading", "temperature", "age", "not known", "assumed", "formula", "by hand"]
RANDOM: frozenset[Share] = frozenset(("purchase", "reading"))


class Leaf(NamedTuple):
    """One thing that is drawn.

    key: what makes it the same thing in two rows; subject, name: whose and what, for a reader
    share: of the tolerance, or what else it is; stated: in the file or a data sheet, against assumed
    low, high: how far it may move the figure it stands on, as the file gives it; lot: of parts bought together
    """

    key: Hashable
    subject: str
    name: str
    share: Share
    stated: bool
    low: float
    high: float
    lot: Hashable = None

    @property
    def biased(self) -> bool:
        """Whether it moves every sample the same way, so that it adds with its sign and does not go under the root."""
        return self.share not in RANDOM

    def seed(self, seed: int) -> int:
        """A seed of its own, so that one more thing to draw leaves every other draw as it was."""
        return int.from_bytes(sha256(f"{seed} {self.key!r}".encode()).digest()[:8], "big")


# How a row is made, seen from the draws.


class Constant(NamedTuple):
    """The same in every draw."""

    number: float


class Drawn(NamedTuple):
    """A figure with its leaves: what is not known goes from near to far, a tolerance beyond those to low and high.

    shares: of temperature and age, each times the rest; their leaves hold what they add to one
    """

    value: Value
    unknown: Leaf | None
    tolerance: Leaf | None
    shares: tuple[Leaf, ...] = ()


class FromModel(NamedTuple):
    """Output of a model; inputs by name, a row or a node of their own. bands: lower and upper error, with its leaf."""

    call: int
    model: Model
    inputs: Mapping[str, int | Node]
    output: str
    band: tuple[float, float] | None
    error: Leaf | None


class Joined(NamedTuple):
    """Rows put together outside a model, recognised by their figures: 'same', 'sum', 'parallel', 'max', 'min',
    'product', or the first `factor` times."""

    how: str
    rows: tuple[int, ...]
    factor: float = 1.0


class Undrawn(NamedTuple):
    """A row that no draw says anything of, and why."""

    why: str


Node = Constant | Drawn | FromModel | Joined | Undrawn


@dataclass(frozen=True)
class Graph:
    """The rows that some rows need, in the order in which they are worked out; `by_hand`: those drawn by themselves."""

    nodes: Mapping[int, Node]
    leaves: tuple[Leaf, ...]
    by_hand: tuple[int, ...]

    def part(self, roots: Iterable[int]) -> Graph:
        """As much of it as some rows need; the leaves stay all of them, so that every draw stays what it was."""
        kept: dict[int, Node] = {}
        waiting = list(roots)
        while waiting:
            number = waiting.pop()
            if number not in kept:
                kept[number] = self.nodes[number]
                waiting += needs(kept[number])
        return Graph(dict(sorted(kept.items())), self.leaves, tuple(one for one in self.by_hand if one in kept))


def needs(node: Node) -> tuple[int, ...]:
    """The rows that a node is made from."""
    match node:
        case FromModel(inputs=inputs):
            return tuple(one for one in inputs.values() if isinstance(one, int))
        case Joined(rows=rows):
            return rows
        case _:
            return ()


OPEN = "it has an open end"
WHOLE_RANGE = "the whole range of {} occurs"


class Grower:
    """Grows the graph of a ledger from the rows that are asked for down to what is drawn."""

    def __init__(self, ledger: TracedLedger, taken: Taken | None = None) -> None:
        self.ledger = ledger
        self.taken: Taken = taken or {}
        self.nodes: dict[int, Node] = {}
        self.leaves: dict[Hashable, Leaf] = {}
        self.by_hand: dict[int, None] = {}
        self._alike: dict[Hashable, int] = {}
        for number in ledger.solved:
            row = ledger[number]
            if isinstance(row.value, Value):
                self._alike.setdefault((row.formula, row.inputs, row.value), number)

    def graph(self, roots: Iterable[int]) -> Graph:
        """Everything that these rows need."""
        for root in roots:
            self._grow(root)
        return Graph(dict(sorted(self.nodes.items())), tuple(self.leaves.values()), tuple(self.by_hand))

    def _grow(self, root: int) -> None:
        waiting = [root]
        while waiting:
            number = waiting.pop()
            if number in self.nodes:
                continue
            self.nodes[number] = self._node(self.ledger[number])
            waiting += needs(self.nodes[number])

    def _node(self, row: Entry) -> Node:
        value = row.value
        if not isinstance(value, Value):
            return Undrawn(f"{row.quantity.replace('_', ' ')} of {row.subject} has no figure")
        if value.is_exact:
            return Constant(value.near)
        if row.quantity in DOMAINS:
            return Undrawn(WHOLE_RANGE.format(row.quantity))
        if isinf(value.low) or isinf(value.high):
            return Undrawn(f"{row.quantity.replace('_', ' ')} of {row.subject}: {OPEN}")
        if row.quantity in HEAT:
            own = (str(row.subject), row.quantity)
            return self.drawn(own, value, str(row.subject), row.quantity, "temperature", stated=not row.rests_on)
        solved = self.ledger.solved.get(row.number)
        if solved is not None:
            return self._from_model(row, solved.call, solved.model, solved.inputs, solved.output)
        if row.inputs or row.known_by == "computed":
            return self._by_hand(row, value)
        key = (str(row.place), value.numbers()) if row.place is not None else (str(row.subject), row.quantity)
        share: Share = "assumed" if row.known_by == "assumed" else "not known"
        drift = self.taken.get((row.subject, row.quantity))
        if drift is not None:
            value = drift.narrowed(value)
        figure = self.drawn(key, value, str(row.subject), row.quantity, share, lot_of(row), row.known_by == "measured")
        if drift is None:
            return figure
        kinds: tuple[tuple[Share, tuple[float, float], bool], ...] = (
            ("temperature", drift.temperature, False),
            ("age", drift.age, drift.stated),
        )
        return figure._replace(
            shares=tuple(
                self.leaf(Leaf((key, kind), str(row.subject), row.quantity, kind, stated, *ends))
                for kind, ends, stated in kinds
                if ends != (0.0, 0.0)
            )
        )

    def _from_model(
        self, row: Entry, call: int, model: Model, given: Mapping[str, int | Value], output: str
    ) -> FromModel:
        inputs: dict[str, int | Node] = {}
        for name, one in given.items():
            inputs[name] = one if isinstance(one, int) else self._value(model, name, one)
        band = model.errors.get(output)
        error = None
        if band is not None and band != (0.0, 0.0):
            words = f"{model.name}, its own error"
            error = self.leaf(Leaf(("formula", model.name, output), "", words, "formula", True, *band))
        return FromModel(call, model, inputs, output, band, error)

    def _value(self, model: Model, name: str, value: Value) -> Node:
        if value.is_exact:
            return Constant(value.near)
        if isinf(value.low) or isinf(value.high):
            return Undrawn(f"{name.replace('_', ' ')} of {model.name}: {OPEN}")
        return self.drawn((model.name, name, value.numbers()), value, model.name, name, "formula")

    def _by_hand(self, row: Entry, value: Value) -> Node:
        twin = self._alike.get((row.formula, row.inputs, value))
        if twin is not None and twin < row.number:
            return Joined("same", (twin,))
        rows = [self.ledger[one] for one in row.inputs]
        values = [one.value for one in rows]
        if rows and all(isinstance(one, Value) for one in values):
            found = recognised(value, [one for one in values if isinstance(one, Value)])
            if found is not None:
                how, which, factor = found
                return Joined(how, tuple(row.inputs[one] for one in which), factor)
        self.by_hand[row.number] = None
        key = (str(row.subject), row.quantity, value.numbers())
        return self.drawn(key, value, str(row.subject), row.quantity, "by hand")

    def drawn(
        self,
        key: Hashable,
        value: Value,
        subject: str,
        name: str,
        share: Share,
        lot: Hashable = None,
        measured: bool = False,
        stated: bool = True,
    ) -> Drawn:
        """A figure with the leaves it needs; share: what it is where it is no tolerance of a part."""
        unknown = tolerance = None
        known = stated and share != "assumed"
        if value.near < value.far:
            unknown = self.leaf(Leaf((key, "not known"), subject, name, share, known, value.near, value.far))
        if value.low < value.near or value.far < value.high:
            own: tuple[Share, ...] = ("by hand", "formula", "temperature")
            kind: Share = share if share in own else "reading" if measured else "purchase"
            tolerance = self.leaf(Leaf((key, "tolerance"), subject, name, kind, known, value.low, value.high, lot))
        return Drawn(value, unknown, tolerance)

    def leaf(self, leaf: Leaf) -> Leaf:
        """The leaf of that key, this one where there is none yet."""
        return self.leaves.setdefault(leaf.key, leaf)


def lot_of(row: Entry) -> Hashable:
    """What parts of one lot have alike: their quantity, nominal and tolerance; None for what is no part."""
    value = row.value
    if row.subject.kind != "part" or not isinstance(value, Value) or not row.quantity.startswith("part."):
        return None
    return (row.quantity, value.numbers(), row.known_by)


_CLOSE = 1e-9


def _agree(one: Iterable[float], other: Iterable[float]) -> bool:
    return all(abs(a - b) <= _CLOSE * max(abs(a), abs(b)) for a, b in zip(one, other, strict=True))


def recognised(value: Value, inputs: list[Value]) -> tuple[str, tuple[int, ...], float] | None:
    """How a value is put together from others, where all four of its numbers say so: how, which of them, the factor.

    Only a value that is a range is asked for, so that at least two different numbers have to agree.
    """
    numbers = value.numbers()
    for place, one in enumerate(inputs):
        if _agree(numbers, one.numbers()):
            return "same", (place,), 1.0
    columns = list(zip(*(one.numbers() for one in inputs), strict=True))
    every = tuple(range(len(inputs)))
    if len(inputs) > 1:
        for how in ("sum", "max", "min", "parallel", "product"):
            if _agree(numbers, [joined(how, column) for column in columns]):
                return how, every, 1.0
    for place, one in enumerate(inputs):
        if not one.is_exact and one.near not in (0.0, inf, -inf):
            factor = value.near / one.near
            if factor > 0.0 and _agree(numbers, one.scaled(factor).numbers()):
                return "scaled", (place,), factor
    return None


def joined(how: str, numbers: Iterable[float]) -> float:
    """Numbers put together; in parallel is nothing where one of them is."""
    own = list(numbers)
    result = own[0]
    for one in own[1:]:
        match how:
            case "sum":
                result = result + one
            case "max":
                result = max(result, one)
            case "min":
                result = min(result, one)
            case "product":
                result = result * one
    if how == "parallel":
        return 0.0 if min(own) <= 0.0 else 1.0 / sum(1.0 / one for one in own)
    return result


def same_lot(leaves: Iterable[Leaf]) -> tuple[tuple[int, ...], ...]:
    """Places of leaves that are of one lot, two or more of each."""
    found: dict[Hashable, list[int]] = {}
    for place, leaf in enumerate(leaves):
        if leaf.lot is not None and leaf.share == "purchase":
            found.setdefault(leaf.lot, []).append(place)
    return tuple(tuple(one) for one in found.values() if len(one) > 1)
