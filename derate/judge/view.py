"""What a rule sees of one subject at one case: names turned into values, with a trace of everything used on the way.

Names are looked for among the subject's own rows, then (facts of the whole supply) under `supply`. `table.NAME` is read
at the subject's own values, `assumption.NAME` gives the pack's range.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Ledger, wide_facts
from derate.packs.load import Packs
from derate.packs.pack import SUPPLY_WIDE, Condition
from derate.terms.quantities import named, of_family
from derate.terms.values import Category, Curve, Known, Value
from derate.terms.vocabulary import VOCABULARY, said
from derate.terms.words import CONFIDENCES, Confidence, weaker_confidence
from derate.text.formula import Formula


class Missing(Exception):
    """A name without a number: what would give it stands in the trace."""


class Trace:
    """Rows used, facts that are missing, assumed facts it rests on, why something has no answer, weakest confidence."""

    __slots__ = ("entries", "missing", "rests_on", "notes", "confidence")

    def __init__(self, missing: Iterable[OpenFact] = ()) -> None:
        self.entries: dict[int, Entry] = {}
        self.missing: dict[OpenFact, None] = dict.fromkeys(missing)
        self.rests_on: set[OpenFact] = set()
        self.notes: dict[str, None] = {}
        self.confidence: Confidence = "published"

    def add(self, other: Trace) -> None:
        """Take over everything another trace holds."""
        self.entries |= other.entries
        self.missing |= other.missing
        self.rests_on |= other.rests_on
        self.notes |= other.notes
        self.confidence = weaker_confidence(self.confidence, other.confidence)


def find_row(ledger: Ledger, subject: Subject, name: str, case: Case | None, family: str = "") -> Entry | None:
    """The row that speaks for a name: the subject's own, then the supply's for facts of the whole supply.

    family: of the rule that asks; with several families loaded each has its own requirement rows, `NAME in FAMILY`.
    """
    quantity = named(name)  # of a rule: checked as its pack was read
    entry = ledger.find(subject, of_family(quantity, family), case) if family else None
    if entry is None:
        entry = ledger.find(subject, quantity, case)
    if entry is None and subject != SUPPLY and name.startswith(SUPPLY_WIDE):
        return ledger.find(SUPPLY, quantity, case)
    return entry


def told(subject: Subject, name: str) -> OpenFact:
    """The fact that a rule misses, of the supply where it is one of the whole supply."""
    return OpenFact(SUPPLY if name.startswith(SUPPLY_WIDE) else subject, name)


def _at_most(values: Iterable[Value]) -> Value:
    """Anything from nothing to the greatest of some values: as a limit it can prove a fail, never a pass."""
    found = tuple(values)
    return Value(0.0, 0.0, max(one.far for one in found), max(one.high for one in found))


class View:
    """One subject at one case."""

    __slots__ = ("ledger", "packs", "subject", "case", "family", "trace", "_numbers", "_rows")

    def __init__(
        self,
        ledger: Ledger,
        packs: Packs,
        subject: Subject,
        case: Case | None,
        family: str,
        rows: Mapping[str, Entry | None] | None = None,
    ) -> None:
        """rows: what was found already for some names of this subject and case."""
        self.ledger = ledger
        self.packs = packs
        self.subject = subject
        self.case = case
        self.family = family
        self.trace = Trace()
        self._numbers: dict[str, Value] = {}
        self._rows = {} if rows is None else rows

    def at(self, subject: Subject) -> View:
        """The same case seen from another subject, with a trace of its own."""
        return View(self.ledger, self.packs, subject, self.case, self.family)

    def known(self, name: str) -> Known | None:
        """What is known under a name; None for a hole or a missing row, which the trace then names."""
        if name in self._rows:
            entry = self._rows[name]
        else:
            entry = find_row(self.ledger, self.subject, name, self.case, self.family)
        trace = self.trace
        if entry is None:
            trace.missing[told(self.subject, name)] = None
            return None
        trace.entries[entry.number] = entry
        if entry.rests_on:
            trace.rests_on |= entry.rests_on
        if entry.known_by == "assumed":
            trace.rests_on.add(OpenFact(entry.subject, name))
        sure = getattr(entry, "confidence", "")  # rows worked out from tables carry that of their cells
        if sure in CONFIDENCES:
            trace.confidence = weaker_confidence(trace.confidence, sure)
        if entry.value is None:
            if entry.missing:
                trace.missing |= dict.fromkeys(entry.missing)
            elif not entry.note:
                trace.missing[told(self.subject, name)] = None
            if entry.note:
                trace.notes[entry.note] = None
        return entry.value

    def left_open(self, name: str) -> Iterable[OpenFact]:
        """The facts behind a row that still has several words; of a row that follows from none the fact itself."""
        used = [entry for entry in self.trace.entries.values() if entry.quantity == name and entry.inputs]
        return wide_facts(self.ledger, used) or (told(self.subject, name),)

    def number(self, name: str) -> Value:
        """The value of a name in a formula, looked up once. Raises Missing, with the reason in the trace."""
        found = self._numbers.get(name)
        if found is None:
            found = self._numbers[name] = self._number(name)
        return found

    def _number(self, name: str) -> Value:
        if name.startswith("table."):
            return self._table(name[6:])
        if name.startswith("assumption."):
            return self._assumption(name[11:])
        known = self.known(name)
        if isinstance(known, Value):
            return known
        if isinstance(known, Curve):
            if len(known.points) == 1:
                return known.points[0][1]
            self.trace.notes[
                f"{said(name)} of {self.subject} is a table: a rule compares its value at one condition"
            ] = None
            if (
                (term := VOCABULARY.get(name)) is not None and term.bad < 0
            ):  # a rating: no more than the most of the table, and nobody knows how much less
                return _at_most([value for _, value in known.points])
        elif isinstance(known, Category):
            self.trace.notes[f"{said(name)} of {self.subject} is {known}, not a number"] = None
            self.trace.missing[told(self.subject, name)] = None
        raise Missing(name)

    def sides(self, formulas: Iterable[Formula]) -> None:
        """Look up every name of some formulas, so that all that is missing is named at once. Raises Missing."""
        lacking = None  # the name, no exception: one that is kept keeps every frame it came through
        for formula in formulas:
            for name in formula.names:
                try:
                    self.number(name)
                except Missing:
                    lacking = name
        if lacking is not None:
            raise Missing(lacking)

    def holds(self, conditions: Iterable[Condition]) -> tuple[bool | None, Condition | None, Trace]:
        """Whether all conditions hold; the first that does not, or the first that is open; a trace of their own."""
        trace = Trace()
        failed: tuple[Condition, Trace] | None = None
        first: Condition | None = None
        for condition in conditions:
            own = self.at(self.subject)
            known = own.known(condition.name)
            if isinstance(known, Curve):
                answer = condition.presence == "present" if condition.presence else None
            elif known is None:
                answer = condition.unstated()
                if answer is not None:  # nothing is missing: the rule says what silence counts as
                    own.trace.missing.clear()
            else:
                answer = condition.holds(known)
            if answer is False:
                if not own.trace.rests_on:
                    return False, condition, own.trace
                failed = failed or (condition, own.trace)  # an established fact speaks before an assumed one
                continue
            if answer is None:
                first = first or condition
                if not own.trace.missing and not own.trace.notes:
                    own.trace.missing[told(self.subject, condition.name)] = None
            trace.add(own.trace)
        if failed is not None:
            return False, *failed
        return (True if first is None else None), first, trace

    def _table(self, name: str) -> Value:
        table = self.packs.table(name, self.family)
        if table is None:
            self.trace.notes[f"table {name} is not loaded"] = None
            raise Missing(name)
        inputs = {axis.name: self.known(axis.name) for axis in table.axes}
        if any(value is None for value in inputs.values()):
            raise Missing(name)
        looked = table.look_up(inputs)
        self.trace.confidence = weaker_confidence(self.trace.confidence, looked.confidence)
        if looked.value is None:
            self.trace.notes[f"table {name}: {looked.note}"] = None
            raise Missing(name)
        return looked.value

    def _assumption(self, name: str) -> Value:
        found = self.packs.assumption(name, self.family)
        if found is None:
            self.trace.notes[f"assumption {name} is not loaded"] = None
            raise Missing(name)
        self.trace.confidence = weaker_confidence(self.trace.confidence, found.confidence)
        if found.rests:
            self.trace.rests_on.add(OpenFact(None, f"assumption {name}"))
        return found.bounded
