"""What every stress module works with: structure, ledger, plan, assumptions, and the ways to ask for a fact."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import inf
from typing import NamedTuple, Protocol

from derate.design.paths import Element, Group, Leaf
from derate.design.structure import Structure
from derate.ledger.entry import Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Ledger
from derate.stress.plan import CasePlan
from derate.terms.quantities import QuantityName
from derate.terms.values import Category, Curve, Value

Inputs = dict[str, Entry | Value | float]  # of a model, by name
LINE = Subject("path", ("line",))
BULK = Subject("path", ("bulk",))
BARRIER = Subject("circuit pair", ("primary", "secondary"))
AUXILIARY_RAIL = Subject("circuit", ("auxiliary",))  # what supplies the controller while it runs


class Assumed(Protocol):
    """An assumption as a pack gives it."""

    @property
    def value(self) -> Value:
        """The range, as given."""

    @property
    def bounded(self) -> Value:
        """The range with the end that bounds nothing left open."""

    @property
    def rests(self) -> bool:
        """Whether a pass that needs it rests on something nobody has looked at."""

    @property
    def source(self) -> str:
        """Where the range comes from."""

    @property
    def says(self) -> str:
        """What is assumed."""


def part(name: str) -> Subject:
    """The subject of a part."""
    return Subject("part", (name,))


class Context(NamedTuple):
    """One run: what is joined to what, the rows so far, the cases, the assumptions of the packs."""

    structure: Structure
    ledger: Ledger
    plan: CasePlan
    assumptions: Mapping[str, Assumed]

    def fact(self, subject: Subject, name: QuantityName, case: Case | None = None) -> Entry | None:
        """A row that exists, None otherwise."""
        return self.ledger.find(subject, name, case)

    def need(self, subject: Subject, name: QuantityName, case: Case | None = None) -> Entry:
        """A row, or a hole that names the fact which is missing."""
        return self.fact(subject, name, case) or self.ledger.hole(subject, name, (OpenFact(subject, name),), case=case)

    def value(self, subject: Subject, name: QuantityName, case: Case | None = None) -> Value | None:
        """The value of a row, None when there is none or it is no plain value."""
        entry = self.fact(subject, name, case)
        return entry.value if entry is not None and isinstance(entry.value, Value) else None

    def word(self, subject: Subject, name: QuantityName) -> str | None:
        """The one word of a fact."""
        return one_word(self.fact(subject, name))

    def curve(self, subject: Subject, name: QuantityName) -> Curve | None:
        """The curve of a fact."""
        entry = self.fact(subject, name)
        return entry.value if entry is not None and isinstance(entry.value, Curve) else None

    def assume(self, name: str, subject: Subject, quantity: QuantityName) -> Entry:
        """Write an assumption of the packs as a row for a subject; a hole when no pack makes it.

        Only an assumption whose used end bounds what is physically possible can carry a critical pass.
        """
        found = self.assumptions.get(name)
        if found is None:
            return self.ledger.hole(subject, quantity, (OpenFact(subject, quantity),), note=f"no pack assumes {name}")
        rests = frozenset((OpenFact(subject, quantity),)) if found.rests else frozenset()
        return self.ledger.write(
            subject, quantity, found.bounded, known_by="assumed", source=found.source, note=found.says, rests_on=rests
        )


def one_word(entry: Entry | None) -> str | None:
    """The one word of a row; None where it is no word, or several."""
    return entry.value.word if entry is not None and isinstance(entry.value, Category) else None


def repeated(context: Context, row: Entry, case: Case, subject: Subject | None = None) -> Entry:
    """The same row at another case, or of another subject that carries the same."""
    return context.ledger.write(
        subject or row.subject,
        row.quantity,
        row.value,
        case=case,
        missing=row.missing,
        known_by=row.known_by,
        formula=row.formula,
        source=row.source,
        inputs=row.inputs,
        note=row.note,
        rests_on=row.rests_on,
    )


def curve_at(curve: Curve, condition: float, below: bool = True) -> Value | None:
    """Read a curve at a condition, in a straight line between points.

    Below the first point the first value holds where `below` says so (a rating does not grow when it gets colder);
    above the last nothing is known, except that a rating which has reached zero stays there.
    """
    points = curve.points
    if condition < points[0][0]:
        return points[0][1] if below else None
    for (x0, y0), (x1, y1) in zip(points, points[1:], strict=False):
        if x0 <= condition <= x1:
            share = (condition - x0) / (x1 - x0)
            a, b = y0.numbers(), y1.numbers()
            return Value(*(p + share * (q - p) for p, q in zip(a, b, strict=True)))
    last, value = points[-1]
    if condition == last or value.high == 0.0:
        return value
    return None


def in_series_and_parallel(element: Element, values: Mapping[str, Value], capacitors: bool) -> Value | None:
    """One value of an element: resistances and inductances add in series, capacitances in parallel."""
    if isinstance(element, Leaf):
        return values.get(element.name)
    parts = [in_series_and_parallel(member, values, capacitors) for member in element.members]
    if any(value is None for value in parts):
        return None
    known = [value for value in parts if value is not None]
    adds = (element.joined == "parallel") == capacitors
    return summed(known) if adds else _reciprocal(known)


def summed(values: Iterable[Value]) -> Value:
    """The sum, end by end."""
    numbers = [value.numbers() for value in values]
    return Value(*(sum(column) for column in zip(*numbers, strict=True))) if numbers else Value.exact(0.0)


def _reciprocal(values: Iterable[Value]) -> Value | None:
    numbers = [value.numbers() for value in values]
    if any(min(row) <= 0 for row in numbers):
        return None
    return Value(*(_in_parallel(column) for column in zip(*numbers, strict=True)))


def _in_parallel(column: Sequence[float]) -> float:
    conductance = sum(1.0 / one for one in column)  # nothing conducts where every one may be without bound
    return 1.0 / conductance if conductance > 0.0 else inf


def only(element: Element, names: tuple[str, ...]) -> Element | None:
    """The element with everything but some names taken out; None when nothing is left."""
    if isinstance(element, Leaf):
        return element if element.name in names else None
    kept = tuple(found for member in element.members if (found := only(member, names)) is not None)
    if not kept:
        return None
    return kept[0] if len(kept) == 1 else Group(element.joined, kept)
