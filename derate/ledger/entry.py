"""The rows of the ledger: subject, case, entry; and a few curves over time for drawing."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from derate.terms.frozen import field, frozen
from derate.terms.quantities import ANY_LOAD, FULL_LOAD, LEAST_LOAD, NO_LOAD, CaseGroup, Load
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Known, Place, written
from derate.terms.vocabulary import said
from derate.terms.words import SubjectKind

# The rows of the ledger: subject, case, entry.


class Subject(NamedTuple):
    """What a row is about: a kind and one or more names (two for pairs, in a fixed order)."""

    kind: SubjectKind
    names: tuple[str, ...] = ()

    def __str__(self) -> str:
        return self.kind if not self.names else " – ".join(self.names)


SUPPLY = Subject("supply")


class OpenFact(str):
    """A fact that nobody gave, or that is only assumed: whose, which, and what of it is open.

    It is its own text, `C1: rated.voltage`, so that lists of them compare, sort and join as a report prints them; who
    needs the subject or the quantity takes the field and never reads the text.

    subject: None for what belongs to none (an assumption of a pack, the uncertainty of a reading)
    quantity: a name of the vocabulary, or in words what else is open (`its winding on the path`)
    detail: what is lacking of a fact that is there in part (`with its frequency`), '' for the whole fact
    """

    subject: Subject | None
    quantity: str
    detail: str

    def __new__(cls, subject: Subject | None, quantity: str, detail: str = "") -> OpenFact:
        whose = f"{subject}: " if subject is not None else ""
        made = super().__new__(cls, f"{whose}{quantity}{' ' if detail else ''}{detail}")
        made.subject, made.quantity, made.detail = subject, quantity, detail
        return made

    def __getnewargs__(self) -> tuple[Subject | None, str, str]:  # type: ignore[override]
        return self.subject, self.quantity, self.detail

    @property
    def says(self) -> str:
        """The fact in the words of the vocabulary, with what is lacking of it, without whose it is."""
        return said(self.quantity) + (f" {self.detail}" if self.detail else "")

    @property
    def in_words(self) -> str:
        """The fact in the words of the vocabulary, with whose it is where that is not the supply."""
        says = self.says
        return says if self.subject is None or self.subject.kind == "supply" else f"{says} ({self.subject})"

    @property
    def name(self) -> str:
        """The quantity where the whole fact is open; '' where only a detail of it is."""
        return "" if self.detail else self.quantity


def listed_facts(facts: Iterable[OpenFact]) -> str:
    """Several facts in words, in the order given."""
    return ", ".join(fact.in_words for fact in facts)


class Case(NamedTuple):
    """One condition of the whole supply.

    group: a word of `derate.terms.quantities`
    mains: rms mains voltage [V]; frequency: mains frequency [Hz]
    load: a load of `derate.terms.quantities`, or the currents as text
    ambient: site ambient [degC] or None when it plays no part
    widened: the mains voltage lies outside the plate, inside the mains tolerance
    fault: name of the single fault, '' when none
    """

    group: CaseGroup
    mains: float | None = None
    frequency: float | None = None
    load: Load = ANY_LOAD
    ambient: float | None = None
    widened: bool = False
    fault: str = ""

    def __str__(self) -> str:
        return ", ".join(one for one in (self.fault or self.group, self.point) if one)

    @property
    def point(self) -> str:
        """Mains, load and ambient in words, without the group or the fault; '' where none of them plays a part."""
        words = []
        if self.mains is not None:
            at = f"{written(self.mains, 4)} V"
            if self.frequency is not None:
                at += f" {written(self.frequency, 4)} Hz"
            words.append(at)
        if self.load:
            spoken = {FULL_LOAD: "full load", LEAST_LOAD: "least load", NO_LOAD: "no load"}
            words.append(spoken.get(self.load, self.load))
        if self.ambient is not None:
            words.append(f"{written(self.ambient, 4)} degC ambient")
        return ", ".join(words)


# What later steps have to know of a row, beside its value: a reading `widened` it, it is the `worse` of a reading and
# the computation, at least what was read (`floor`), a temperature `carried` from another ambient; or its note says
# already that it is for the `bench`.
Mark = Literal["", "widened", "worse", "floor", "carried", "bench"]


@frozen
class Entry:
    """One row of the ledger.

    number: its place in the ledger, from one; inputs of other rows name it
    quantity: dotted for facts (`rated.voltage`, `site.altitude`), plain for stresses (`voltage_peak`)
    case: the one case it holds for; None for a standing fact, which holds for all
    value: None is a hole: `missing` names the facts that would give it
    known_by: a word of `derate.terms.words.EVIDENCE`
    grade: '' | 'min' | 'typical' | 'max': which end the maker states
    statistic: '' | 'rms' | 'peak' | 'peak to peak' | 'dc' as written with the unit
    formula: name of the formula, '' for a fact;  source: where the formula comes from. Both are for a reader
    note: what the author wrote in the evidence brackets, or why the row is a hole
    at: condition that the value was stated at, when it was one pair and no table: `0.31 A at 120 Hz`
    """

    number: int
    subject: Subject
    quantity: QuantityName
    case: Case | None
    value: Known | None
    missing: tuple[OpenFact, ...] = ()
    known_by: str = "stated"
    grade: str = ""
    statistic: str = ""
    formula: str = ""
    source: str = ""
    inputs: tuple[int, ...] = ()
    place: Place | None = None
    note: str = ""
    rests_on: frozenset[OpenFact] = field(default_factory=frozenset)  # assumed facts that this value needs
    mark: Mark = ""


# A few curves over time, worked out for drawing from the rows of a ledger: plain frozen values.


@frozen
class Line:
    """One curve. unit: SI symbol; points: one value for each time of its picture; worst: of the worst inputs"""

    name: str
    unit: str
    points: tuple[float, ...]
    worst: bool = False


@frozen
class PictureMark:
    """A figure of the ledger that a curve is held to. entry: its row; value in the unit of the curve"""

    name: str
    unit: str
    value: float
    entry: int


@frozen
class Picture:
    """Curves over one time axis [s].

    kind: 'switch-on' | 'running'; given: the inputs in words, with the numbers of their rows
    lines: empty when nothing could be worked out, and then `why` says so
    """

    kind: str
    case: Case | None
    times: tuple[float, ...] = ()
    lines: tuple[Line, ...] = ()
    marks: tuple[PictureMark, ...] = ()
    inputs: tuple[int, ...] = ()
    why: str = ""
