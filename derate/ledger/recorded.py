"""A ledger that remembers what each step read and wrote, and replays the steps none of whose reads changed.

A study works one design through hundreds of times with a fact or two changed. The first time a `RecordingLedger` keeps,
for every step, the rows it found (and those it looked for in vain), what it asked the case plan, and the rows it wrote.
The next time a `RecordingLedger` that is given the first one's `Tape` compares the facts, and for each step in its
order: a step that read nothing of what changed has its rows put back as they were; any other runs, and what it writes
otherwise than before counts as changed for those that follow. The same holds for whatever is asked of the finished
ledger (a rule on a subject) through `asked`.

What counts as read is a subject with a quantity and the case where that very row was found; where another case spoke
for it, or none did, a subject with a quantity whatever the case: coarser than need be, and never too fine.
A row that is put back keeps its number, a new one gets a number no earlier row had, so numbers are names here and not
places in a list. Such a ledger is for comparing; what is shown to a person is worked out afresh.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from operator import attrgetter
from typing import Any, NamedTuple, TypeVar
from weakref import proxy

from derate.ledger.entry import Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Ledger, Plan, Refined
from derate.terms.frozen import names_of
from derate.terms.quantity_names import QuantityName

_T = TypeVar("_T")
# (subject, quantity), (subject, quantity, case), ("subjects", kind), ("result", step, field), ("everything",)
Read = tuple[Hashable, ...]
Row = tuple[Subject, QuantityName, Case | None]
_EVERYTHING: Read = ("everything",)
_BEFORE = "facts"


class Done(NamedTuple):
    """One step as it ran.

    given: what it was handed besides the ledger; reads: what it found there; asked: what it asked the plan, with the
    answers; written: its rows in their order; result: what it returned
    """

    given: object
    reads: frozenset[Read]
    asked: tuple[tuple[tuple[Hashable, ...], object], ...]
    written: tuple[Entry, ...]
    result: object


class Tape(NamedTuple):
    """A whole run: its rows, what each step read and wrote, and the ledgers that were worked out inside steps."""

    plan: object
    entries: tuple[Entry, ...]
    facts: Mapping[Row, tuple[tuple[Entry, Entry], ...]]
    subjects: frozenset[Subject]
    steps: Mapping[Hashable, Done]
    nested: Mapping[int, Tape]
    fields: Mapping[Hashable, frozenset[str]]
    top: int


class WatchedPlan:
    """The case plan as steps see it: every question is noted with its answer."""

    def __init__(self, plan: Any, ledger: RecordingLedger) -> None:
        self._plan = plan
        self._ledger = proxy(ledger)  # it holds the plan: so it goes with the trial it was made for

    def cases(self, quantities: Iterable[QuantityName], groups: Iterable[str]) -> tuple[Case, ...]:
        """As `Plan.cases`."""
        question = ("cases", tuple(quantities), tuple(groups))
        told: tuple[Case, ...] = self._ledger.note(question, answered(self._plan, question))
        return told

    def project(self, quantity: QuantityName, case: Case) -> Case:
        """As `Plan.project`."""
        question = ("project", quantity, case)
        told: Case = self._ledger.note(question, answered(self._plan, question))
        return told

    def lacking(self, group: str) -> tuple[str, ...]:
        """As `CasePlan.lacking`."""
        question = ("lacking", group)
        told: tuple[str, ...] = self._ledger.note(question, answered(self._plan, question))
        return told

    def __getattr__(self, name: str) -> Any:
        question = ("field", name)
        return self._ledger.note(question, answered(self._plan, question))


class _Watched:
    """The result of a step as later steps see it: every field that is looked at is noted."""

    def __init__(self, name: Hashable, result: object, ledger: RecordingLedger) -> None:
        self._watched = (name, result, proxy(ledger))

    def __getattr__(self, field: str) -> Any:
        name, result, ledger = self._watched
        ledger.looked(name, field)
        return getattr(result, field)


def answered(plan: Any, question: tuple[Hashable, ...]) -> Any:
    """What a plan answers to a question that was noted."""
    kind, *rest = question
    return getattr(plan, str(rest[0])) if kind == "field" else getattr(plan, str(kind))(*rest)


class RecordingLedger(Ledger):
    """Rows in the order they were written, with what each step read. earlier: the run to replay from."""

    def __init__(self, plan: Plan | None = None, earlier: Tape | None = None) -> None:
        super().__init__(plan)
        self._earlier = earlier
        self._next = 1 if earlier is None else earlier.top + 1
        self._numbered: dict[int, Entry] = {}
        self._old: dict[int, Entry] = {}
        self._changed: set[Read] = {_EVERYTHING}
        self._same_plan = False
        self._steps: dict[Hashable, Done] = {}
        self._nested: dict[int, RecordingLedger] = {}
        self._fields: dict[Hashable, set[str]] = {}
        self._facts: dict[Row, tuple[tuple[Entry, Entry], ...]] = {}
        self._now: Hashable = None
        self._reads: set[Read] | None = None
        self._asked: dict[tuple[Hashable, ...], object] = {}
        self._first = 0
        self._missed: dict[Row, Hashable] = {}
        self._writers: dict[Row, Hashable] = {}
        self._refined: dict[Hashable, Refined] = {}
        self._order = {} if earlier is None else {name: place for place, name in enumerate(earlier.steps)}
        self._place = 0
        self.replayed = 0
        self.worked_out = 0  # rows that steps wrote which had to run

    # ---- rows --------------------------------------------------------------------------------------------------------

    def __getitem__(self, number: int) -> Entry:
        entry = self._numbered.get(number)
        if entry is None:  # an input of a row that was put back: its step ran again and wrote the same under another
            if not self._old and self._earlier is not None:
                self._old = {one.number: one for one in self._earlier.entries}
            old = self._old[number]
            entry = self._rows.get((old.subject, old.quantity), {}).get(old.case, old)
        self._read((entry.subject, entry.quantity, entry.case), entry)
        return entry

    def _keep(self, entry: Entry) -> None:
        if self._now is None:
            raise LookupError(f"{entry.subject}: {entry.quantity} is written by no step")
        self._one_writer((entry.subject, entry.quantity, entry.case), entry)
        super()._keep(entry)
        self._numbered[entry.number] = entry
        self._next = max(self._next, entry.number + 1)

    def _one_writer(self, row: Row, entry: Entry) -> None:
        """Hold the order of the steps: nobody has read the row in vain, and nobody else has written it otherwise.

        A row that several steps ask for and write alike is one row. A hole that says no more than that a fact is not
        stated tells an earlier reader nothing that its absence did not. A step that refines a quantity stands above
        those that work with it: they never see its rows.
        """
        reader, writer = self._missed.pop(row, self._now), self._writers.get(row, self._now)
        refines = entry.quantity in self._refined.get(self._now, ())
        if reader != self._now and not refines and not _is_absence(entry):
            raise LookupError(f"step {reader} reads {row[0]}: {row[1]}, which the later step {self._now} gives")
        if writer not in (self._now, _BEFORE) and not refines:
            before = self._rows[entry.subject, entry.quantity][entry.case]
            if not alike(before, entry):
                told = f"step {self._now} replaces {row[0]}: {row[1]} of step {writer}"
                raise LookupError(f"{told} and does not refine it")
        self._writers[row] = self._now

    def find(self, subject: Subject, quantity: QuantityName, case: Case | None = None) -> Entry | None:
        """As `Ledger.find`, noted."""
        entry = super().find(subject, quantity, case)
        if self._reads is not None:
            exact = entry is not None and entry.case == case
            self._read((subject, quantity, case) if exact else (subject, quantity), entry)
            if entry is None:
                self._missed.setdefault((subject, quantity, case), self._now)
        return entry

    def rows(self, subject: Subject, quantity: QuantityName) -> tuple[Entry, ...]:
        """As `Ledger.rows`, noted."""
        if self._reads is not None:
            self._reads.add((subject, quantity))
        return super().rows(subject, quantity)

    def subjects(self, kind: str) -> tuple[Subject, ...]:
        """As `Ledger.subjects`, noted."""
        if self._reads is not None:
            self._reads.add(("subjects", kind))
        return super().subjects(kind)

    def _read(self, read: Read, entry: Entry | None) -> None:
        if self._reads is not None and (entry is None or entry.number < self._first):
            self._reads.add(read)

    def take(self, facts: Sequence[Entry]) -> None:
        """Copy the facts of a design; those that are as in the earlier run keep their rows."""
        found: dict[Row, tuple[tuple[Entry, Entry], ...]] = {}  # each fact as given, and its row
        before = self._earlier.facts if self._earlier is not None else {}
        self._now = _BEFORE
        for fact in facts:
            key = (fact.subject, fact.quantity, fact.case)
            same, own = before.get(key, ()), found.get(key, ())
            given, row = same[len(own)] if len(own) < len(same) else (None, None)
            if row is not None and (given is fact or alike(row, fact)):
                self._keep(row)
            else:
                self._change(fact.subject, fact.quantity, fact.case, row is None)
                row = self.copy(fact)
            found[key] = same if given is fact and len(same) == 1 else (*own, (fact, row))
        for key, pairs in before.items():
            if len(pairs) != len(found.get(key, ())):
                self._change(*key, True)
        self._facts = found
        self._now = None

    def _change(self, subject: Subject, quantity: str, case: Case | None, came_or_went: bool) -> None:
        """Note a row as changed; where it came or went, the list of subjects may have changed with it."""
        self._changed.add((subject, quantity))
        self._changed.add((subject, quantity, case))
        known = self._earlier is not None and subject in self._earlier.subjects
        if came_or_went and not (known and subject in self._subjects.get(subject.kind, ())):
            self._changed.add(("subjects", subject.kind))

    # ---- steps -------------------------------------------------------------------------------------------------------

    @property
    def steps(self) -> int:
        """How many steps were run or put back, questions of the finished ledger too; none of ledgers inside a step."""
        return len(self._steps)

    def watch(self, plan: Any) -> Any:
        """The plan that steps are handed."""
        self._same_plan = self._earlier is not None and alike(self._earlier.plan, plan)
        self.plan = WatchedPlan(plan, self)
        self._plan = plan
        return self.plan

    def note(self, question: tuple[Hashable, ...], answer: Any) -> Any:
        """Note what the plan was asked."""
        if self._reads is not None:
            self._asked[question] = answer
        return answer

    def looked(self, name: Hashable, field: str) -> None:
        """Note which field of an earlier step's result was looked at."""
        self._fields.setdefault(name, set()).add(field)
        if self._reads is not None:
            self._reads.add(("result", name, field))

    def step(
        self, name: Hashable, run: Callable[[], _T], given: object = None, whole: bool = False, refines: Refined = ()
    ) -> _T:
        """Run a step, or put its rows back. whole: it looks at every row, so it always runs.

        refines: as `Ledger.step`. Raises LookupError where it writes a row that an earlier step looked for in vain, or
        replaces one that it does not refine.
        """
        self._refined[name] = refines
        self._pass_over(name)
        earlier = self._unchanged(name, given)
        if earlier is not None:
            outer_step, self._now = self._now, name
            for entry in earlier.written:
                self._keep(entry)
            self._now = outer_step
            if self._reads is not None:  # a step inside a step
                self._reads |= earlier.reads
            self._steps[name] = earlier
            self.replayed += 1
            return earlier.result  # type: ignore[return-value]
        outer = (self._reads, self._asked, self._first, self._now)
        self._reads, self._asked, self._first, self._now = ({_EVERYTHING} if whole else set()), {}, self._next, name
        place = len(self.entries)
        try:
            result = run()
        finally:
            reads, asked = self._reads, self._asked
            self._reads, self._asked, self._first, self._now = outer
            if self._reads is not None:
                self._reads |= reads
                self._asked |= asked
        written = tuple(self.entries[place:])
        if self._now is None:  # what a step inside a step wrote, the outer one wrote
            self.worked_out += len(written)
        self._steps[name] = Done(given, frozenset(reads), tuple(asked.items()), written, result)
        self._compare(name, written, result)
        return result

    def asked(self, name: Hashable, run: Callable[[], _T], given: object = None) -> _T:
        """What somebody asks of the finished ledger, or the answer of the earlier run."""
        return self.step(name, run, given)

    def watched(self, name: Hashable, result: _T) -> _T:
        """The result of a step for later ones, which note what they look at."""
        return _Watched(name, result, self)  # type: ignore[return-value]

    def nested(self) -> RecordingLedger:
        """A ledger of its own that is worked out inside a step; what it reads its step has read."""
        place = len(self._nested)
        earlier = self._earlier.nested.get(place) if self._earlier is not None else None
        ledger = RecordingLedger(None, earlier)
        self._nested[place] = ledger
        return ledger

    def close(self, inner: RecordingLedger) -> None:
        """The inner ledger is worked out: its reads are those of the step it stands in."""
        if self._reads is not None:
            for done in inner._steps.values():
                self._reads |= done.reads
        self.worked_out += inner.worked_out

    def _pass_over(self, name: Hashable) -> None:
        """Steps of the earlier run that are not taken this time: their rows went."""
        if self._earlier is None:
            return
        place = self._order.get(name, -1)
        if place > self._place:
            for passed in list(self._order)[self._place : place]:
                if passed not in self._steps:
                    for one in self._earlier.steps[passed].written:
                        self._change(one.subject, one.quantity, one.case, True)
        self._place = max(self._place, place + 1)

    def _unchanged(self, name: Hashable, given: object) -> Done | None:
        """The step as it ran before, when nothing it read has changed."""
        earlier = self._earlier.steps.get(name) if self._earlier is not None else None
        if earlier is None or not earlier.reads.isdisjoint(self._changed) or not alike(earlier.given, given):
            return None
        if not self._same_plan and any(answered(self._plan, one) != told for one, told in earlier.asked):
            return None
        return earlier

    def _compare(self, name: Hashable, written: Sequence[Entry], result: object) -> None:
        """Note what a step that ran again wrote otherwise than before."""
        if self._earlier is None:
            return
        earlier = self._earlier.steps.get(name)
        old = {(one.subject, one.quantity, one.case): one for one in earlier.written} if earlier is not None else {}
        new = {(one.subject, one.quantity, one.case): one for one in written}
        for row in old.keys() | new.keys():
            before, after = old.get(row), new.get(row)
            if before is None or after is None or not alike(before, after):
                self._change(*row, before is None or after is None)
        for field in self._earlier.fields.get(name, ()):
            if earlier is None or not alike(getattr(earlier.result, field, None), getattr(result, field, None)):
                self._changed.add(("result", name, field))

    def tape(self) -> Tape:
        """What a later run can replay from."""
        return Tape(
            self._plan,
            tuple(self.entries),
            self._facts,
            frozenset(one for kind in self._subjects.values() for one in kind),
            dict(self._steps),
            {place: one.tape() for place, one in self._nested.items()},
            {name: frozenset(seen) for name, seen in self._fields.items()},
            self._next - 1,
        )


def _is_absence(entry: Entry) -> bool:
    """Whether a row only says that a fact is not stated, at whatever case it was asked for."""
    alone = OpenFact(entry.subject, entry.quantity)
    return entry.value is None and entry.missing == (alone,) and not entry.inputs


_APART = frozenset(("number", "inputs"))  # names of rows: they say nothing of what a row holds
_HELD: dict[type, Callable[[object], tuple[object, ...]]] = {}  # takes the fields that count, of each kind of row


def alike(one: object, other: object) -> bool:
    """Whether two values hold the same, rows compared by what they hold and not by their numbers."""
    if one is other:
        return True
    kind = type(one)
    if kind is not type(other):
        return False
    if isinstance(one, Entry):
        if kind not in _HELD:
            _HELD[kind] = attrgetter(*(name for name in names_of(kind) if name not in _APART))
        held = _HELD[kind]
        return held(one) == held(other)
    if one == other:
        return True
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len(one) == len(other) and all(map(alike, one, other))
    if hasattr(kind, "_values") or "__dataclass_fields__" in kind.__dict__:  # frozen, or a dataclass
        return all(alike(getattr(one, name), getattr(other, name)) for name in names_of(kind))
    return False
