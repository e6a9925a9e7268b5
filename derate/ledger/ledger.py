"""The ledger, the only place where rows are written, and the models it runs, with signs and error bands."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from itertools import product
from math import inf, isnan
from types import MappingProxyType
from typing import Any, Protocol, TypeVar

from derate.ledger.entry import Case, Entry, Mark, OpenFact, Subject
from derate.terms.frozen import replace
from derate.terms.quantities import CaseGroup
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Collapse, Formula, Known, Place, Signs, Value

# A formula or solver as the ledger sees it: its inputs' signs, its error band, its source.
#
# `Model.points` says at which input points it has to be run so that near, far, low and high of an output are found:
# by the declared sign of each input, or at both ends where no single sign exists.


Point = tuple[float, ...]


class Model(NamedTuple):
    """One formula or solver.

    solve: called with the inputs by name [SI]; returns an object or mapping that holds each output [SI].
        It raises ValueError outside its range and Collapse where the circuit gives way; both become holes.
    signs: output -> input -> +1 (rises with it), -1 (falls), 0 (no single sign: both ends are run).
        An input that is not named has no influence on that output. Where the worst corner moves about, several maps
        may be given for one output: each names one corner, and the worst of them counts (the error band holds the
        rest).
    kind: a corner or two for the lower end of every output of which more is worse, where finding each exactly is not
        worth the time: no verdict ever rests on the kind end of a tolerance.
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
    kind: Signs | tuple[Signs, ...] | None = None

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
            return self.kind if isinstance(self.kind, tuple) else (self.kind,)
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


# The ledger: the only place where rows are written and formulas are run.
#
# Plan: which cases a quantity is worked out at (a protocol; the stress layer fills it). Ledger: facts, holes and
# computed rows, numbered from one, found by subject, quantity and case.


Wanted = tuple[Subject, QuantityName, str]  # a row asked of a model: subject, quantity, output of the model


_T = TypeVar("_T")


class Every:
    """Refines whatever row it has a better figure for: no quantity is left out."""

    def __contains__(self, quantity: object) -> bool:
        return True


EVERY = Every()
Refined = tuple[QuantityName, ...] | Every  # quantities whose rows of earlier steps a step replaces


class Plan(Protocol):
    """Which cases belong to a design, decided from its facts before anything is solved."""

    def cases(self, quantities: Iterable[QuantityName], groups: Iterable[CaseGroup]) -> tuple[Case, ...]:
        """All cases of these groups at which a comparison of these quantities has to hold."""

    def project(self, quantity: QuantityName, case: Case) -> Case:
        """The case whose row speaks for this quantity at `case`: axes it does not depend on are dropped."""


class Ledger:
    """Rows in the order they were written."""

    def __init__(self, plan: Plan | None = None) -> None:
        self.plan = plan
        self.entries: list[Entry] = []
        self._rows: dict[tuple[Subject, str], dict[Case | None, Entry]] = {}
        self._subjects: dict[str, dict[Subject, None]] = {}  # by kind
        self._next = 1
        self.solves = 0  # calls of solvers and formulas, counted for the benchmark

    def __len__(self) -> int:
        return len(self.entries)

    def __getitem__(self, number: int) -> Entry:
        return self.entries[number - 1]

    def write(
        self,
        subject: Subject,
        quantity: QuantityName,
        value: Known | None,
        *,
        case: Case | None = None,
        missing: tuple[OpenFact, ...] = (),
        known_by: str = "stated",
        grade: str = "",
        statistic: str = "",
        formula: str = "",
        source: str = "",
        inputs: tuple[int, ...] = (),
        place: Place | None = None,
        note: str = "",
        rests_on: frozenset[OpenFact] = frozenset(),
        mark: Mark = "",
    ) -> Entry:
        """Write one row and return it; a later row for the same subject, quantity and case replaces the earlier."""
        entry = Entry(
            self._next,
            subject,
            quantity,
            case,
            value,
            missing,
            known_by,
            grade,
            statistic,
            formula,
            source,
            inputs,
            place,
            note,
            rests_on,
            mark,
        )
        self._keep(entry)
        return entry

    def copy(self, entry: Entry) -> Entry:
        """Take over a row (a fact of the design) under the next number."""
        if type(entry) is not Entry:  # a row that carries more
            row = replace(entry, number=self._next)
            self._keep(row)
            return row
        row = Entry(
            self._next,
            entry.subject,
            entry.quantity,
            entry.case,
            entry.value,
            entry.missing,
            entry.known_by,
            entry.grade,
            entry.statistic,
            entry.formula,
            entry.source,
            entry.inputs,
            entry.place,
            entry.note,
            entry.rests_on,
            entry.mark,
        )
        self._keep(row)
        return row

    def _keep(self, entry: Entry) -> None:
        self._next += 1
        self.entries.append(entry)
        self._rows.setdefault((entry.subject, entry.quantity), {})[entry.case] = entry
        self._subjects.setdefault(entry.subject.kind, {})[entry.subject] = None

    def take(self, facts: Sequence[Entry]) -> None:
        """Copy the facts of a design, in their order."""
        for fact in facts:
            self.copy(fact)

    # A study that works a design through many times hands in a ledger that remembers (`derate.ledger.recorded`); here
    # steps are simply run.

    def watch(self, plan: Any) -> Any:
        """Take a case plan; returns the plan that steps are handed."""
        self.plan = plan
        return plan

    def step(
        self, name: Hashable, run: Callable[[], _T], given: object = None, whole: bool = False, refines: Refined = ()
    ) -> _T:
        """Run one step.

        name: its own among all steps; given: what it is handed besides the ledger; whole: it looks at every row
        refines: quantities whose rows of earlier steps it replaces, or `EVERY`; any other row has one writer
        """
        return run()

    def asked(self, name: Hashable, run: Callable[[], _T], given: object = None) -> _T:
        """What somebody asks of the finished ledger."""
        return run()

    def watched(self, name: Hashable, result: _T) -> _T:
        """The result of a step, for later ones."""
        return result

    def nested(self) -> Ledger:
        """A ledger of its own that is worked out inside a step."""
        return Ledger()

    def close(self, inner: Any) -> None:
        """The inner ledger is worked out."""

    def hole(
        self,
        subject: Subject,
        quantity: QuantityName,
        missing: Iterable[OpenFact],
        *,
        case: Case | None = None,
        note: str = "",
        formula: str = "",
        inputs: tuple[int, ...] = (),
        rests_on: frozenset[OpenFact] = frozenset(),
        mark: Mark = "",
    ) -> Entry:
        """Write a row without a value: what is missing, or why nothing can be said."""
        return self.write(
            subject,
            quantity,
            None,
            case=case,
            missing=tuple(dict.fromkeys(missing)),
            known_by="computed",
            note=note,
            formula=formula,
            inputs=inputs,
            rests_on=rests_on,
            mark=mark,
        )

    def find(self, subject: Subject, quantity: QuantityName, case: Case | None = None) -> Entry | None:
        """The row that speaks for a subject and quantity at a case; a standing fact speaks for every case."""
        rows = self._rows.get((subject, quantity))
        if rows is None:
            return None
        if case in rows:
            return rows[case]
        if None in rows:
            return rows[None]
        if case is None:
            return None
        if self.plan is not None:
            return rows.get(self.plan.project(quantity, case))
        return None

    def rows(self, subject: Subject, quantity: QuantityName) -> tuple[Entry, ...]:
        """All rows of a subject and quantity, whatever their case."""
        return tuple(self._rows.get((subject, quantity), {}).values())

    def subjects(self, kind: str) -> tuple[Subject, ...]:
        """All subjects of a kind that have a row, sorted."""
        return tuple(sorted(self._subjects.get(kind, ())))

    def work_out(
        self,
        model: Model,
        inputs: Mapping[str, Entry | Value | float],
        outputs: Sequence[Wanted],
        *,
        case: Case | None = None,
        note: str = "",
    ) -> tuple[Entry, ...]:
        """Run a model over the corners of its inputs and write a row for each (subject, quantity, output).

        An input without a value makes holes that name what is missing; an input outside the model's range makes
        holes that say so. A corner that collapses makes a hole with the reason: it is a result, never dropped.
        """
        values: dict[str, Value] = {}
        numbers: list[int] = []
        missing: list[OpenFact] = []
        lacking = False
        rests_on: set[OpenFact] = set()
        for name, given in inputs.items():
            if isinstance(given, Entry):
                numbers.append(given.number)
                rests_on |= given.rests_on
                if isinstance(given.value, Value):
                    values[name] = given.value
                else:  # a hole that names no fact has a reason instead: the reason is what is passed on
                    lacking = True
                    missing += given.missing
                    note = given.note or note
            else:
                values[name] = given if isinstance(given, Value) else Value.exact(given)
        used = tuple(numbers)
        rests = frozenset(rests_on)
        if lacking:
            return tuple(
                self.hole(s, q, missing, case=case, note=note, formula=model.name, inputs=used, rests_on=rests)
                for s, q, _ in outputs
            )
        names = tuple(values)
        solved: dict[Point, object] = {}
        written = []
        for subject, quantity, output in outputs:
            trouble = ""
            try:
                value: Value | None = self._four(model, output, names, values, solved)
            except Collapse as collapse:
                value, trouble = None, str(collapse)
            except (ValueError, ZeroDivisionError, OverflowError) as error:
                name, _, wrong = str(error).partition(" ")  # of an input, as the formula spells it
                value, trouble = None, f"{model.name}: {name.replace('_', ' ')} {wrong}"
            if value is None:
                written.append(
                    self.hole(
                        subject, quantity, (), case=case, note=trouble, formula=model.name, inputs=used, rests_on=rests
                    )
                )
            else:
                written.append(
                    self.write(
                        subject,
                        quantity,
                        value,
                        case=case,
                        known_by="computed",
                        formula=model.name,
                        source=model.source,
                        inputs=used,
                        note=note,
                        rests_on=rests,
                    )
                )
        return tuple(written)

    def _four(
        self,
        model: Model,
        output: str,
        names: tuple[str, ...],
        values: Mapping[str, Value],
        solved: dict[Point, object],
    ) -> Value:
        ends = []
        for wide in (False, True):
            for up in (False, True):
                found = [
                    self._output(model, output, names, point, solved)
                    for signs in model.corners(output, up)
                    for point in corner_points(signs, names, values, wide, up)
                ]
                ends.append(max(found) if up else min(found))
        near, far, low, high = ends
        return banded(near, far, low, high, model.errors.get(output))

    def _output(
        self, model: Model, output: str, names: tuple[str, ...], point: Point, solved: dict[Point, object]
    ) -> float:
        try:
            result = solved[point]
        except KeyError:
            self.solves += 1
            try:
                result = model.solve(**dict(zip(names, point, strict=True)))
            except (Collapse, ValueError, ZeroDivisionError, OverflowError) as trouble:
                result = trouble
            solved[point] = result
        if isinstance(result, tuple):  # most models return a named tuple, and a mapping is asked for slowly
            found = getattr(result, output)
        elif isinstance(result, Exception):
            raise result
        else:
            found = result[output] if isinstance(result, (dict, Mapping)) else getattr(result, output)
        if found is None:
            raise ValueError(f"gives no {output.replace('_', ' ')} here")
        number = float(found)
        if isnan(number):  # min and max would pass over it, and the row would stand on the other corners alone
            raise ValueError(f"gives no number for {output.replace('_', ' ')} here")
        return number


def wide_facts(ledger: Ledger, entries: Iterable[Entry]) -> tuple[OpenFact, ...]:
    """The facts, followed back through the rows used, that are known only as a range or left a row a floor or a hole.

    entries: the rows to begin with; a row that names what is missing speaks for itself and is not followed
    """
    found: dict[OpenFact, None] = {}
    seen: set[int] = set()
    asked: set[int] = set()  # a row that many readings widened stands among the inputs of many: it is fetched once
    waiting = deque(entries)
    while waiting:
        entry = waiting.popleft()
        if entry.number in seen:
            continue
        seen.add(entry.number)
        if entry.missing:  # it says itself what is not known of it
            found |= dict.fromkeys(entry.missing)
        elif entry.value is not None and not _open(entry.value):
            continue
        elif entry.inputs:
            new = [number for number in dict.fromkeys(entry.inputs) if number not in asked]
            asked.update(new)
            waiting += [ledger[number] for number in new]
        elif entry.known_by != "computed" and not entry.quantity.startswith("plate."):  # all of a plate's range occurs
            found[OpenFact(entry.subject, entry.quantity)] = None
    return tuple(found)


def _open(value: Known | None) -> bool:
    """Whether a value leaves something open for this one sample."""
    if isinstance(value, Value):
        return value.near < value.far
    return isinstance(value, Category) and value.word is None
