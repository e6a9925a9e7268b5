"""Writing requirement rows: each step is a row with its figures in words, its inputs by number and its confidence.

`Writer.step` runs a function over every reading of its inputs (ends of a range, members of a category) and writes one
row: near and far of the result, its words, and the weakest confidence of every cell it used. A far end beyond a table
is open: it can prove a fail, never a pass.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from itertools import product
from math import inf, isinf

from derate.insulation.distances import ARITHMETIC, Family, Found, NoRow, exact, metres, rounded_up
from derate.ledger.entry import Entry, OpenFact, Subject
from derate.ledger.ledger import Ledger
from derate.terms.dimension import LENGTH
from derate.terms.frozen import frozen
from derate.terms.quantities import of_family
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Known, Place, Value
from derate.terms.vocabulary import DIMENSIONS
from derate.terms.words import CONFIDENCES, Confidence, weaker_confidence

Given = Fraction | str
_SURE: dict[Confidence, str] = dict(
    zip(CONFIDENCES[1:], ("read in one source", "common practice", "remembered: confirm"), strict=True)
)


@frozen
class TableRow(Entry):
    """A row that carries the confidence of the cells and steps it came from."""

    confidence: Confidence = ARITHMETIC


# How a mark, a class or the build of a part is known where somebody saw it or has its paper. A word typed without
# either is what somebody believes of it, and shows nothing.
ON_PAPER = ("measured", "seen", "marked", "data sheet", "drawing")


def on_paper(entry: Entry) -> bool:
    """Whether a mark or a build was seen, or stands in the paper of the part."""
    return entry.known_by in ON_PAPER


def confidence_of(entry: Entry) -> Confidence:
    """How sure the figures behind a row are; a fact of the design takes nothing away."""
    return entry.confidence if isinstance(entry, TableRow) else ARITHMETIC


class Writer(NamedTuple):
    """Writes rows of one family into a ledger.

    apart: several families are loaded, so every name carries its family and plain names stay unanswered
    read: figures of the creepage table as they were read, for the places that ask for the same
    """

    ledger: Ledger
    family: Family
    apart: bool
    read: dict[tuple[object, ...], Found]

    def named(self, name: QuantityName) -> QuantityName:
        """The quantity a row of this family is written under."""
        return of_family(name, self.family.name) if self.apart else name

    def find(self, subject: Subject, name: QuantityName) -> Entry | None:
        """A row of this family, or a fact of the design."""
        return (self.ledger.find(subject, self.named(name)) if self.apart else None) or self.ledger.find(subject, name)

    def row(
        self,
        subject: Subject,
        name: QuantityName,
        value: Known,
        *,
        formula: str,
        source: str = "",
        inputs: Sequence[Entry] = (),
        confidence: Confidence = ARITHMETIC,
        inherits: bool = True,
        rests: bool = True,
        note: str = "",
        place: Place | None = None,
        known_by: str = "computed",
    ) -> Entry:
        """Write a row. `inherits`: it is no surer than its inputs are. `rests`: on whatever they rest on."""
        on: frozenset[OpenFact] = frozenset()
        for one in inputs:
            on |= one.rests_on if rests else frozenset()
            if inherits:
                confidence = weaker_confidence(confidence, confidence_of(one))
        if confidence != ARITHMETIC:
            source = f"{source} ({_SURE[confidence]})".strip()
        return self.ledger.copy(
            TableRow(
                0,
                subject,
                self.named(name),
                None,
                value,
                known_by=known_by,
                formula=formula,
                source=source,
                inputs=tuple(one.number for one in inputs),
                note=note,
                place=place,
                rests_on=on,
                confidence=confidence,
            )
        )

    def hole(
        self,
        subject: Subject,
        name: QuantityName,
        missing: Sequence[OpenFact] = (),
        *,
        note: str = "",
        inputs: Sequence[Entry] = (),
    ) -> Entry:
        """Write a row without a value: the facts that are missing, or why nothing can be said."""
        return self.ledger.hole(
            subject, self.named(name), missing, note=note, inputs=tuple(one.number for one in inputs)
        )

    def step(
        self,
        subject: Subject,
        name: QuantityName,
        function: Callable[..., Found],
        inputs: Sequence[Entry],
        *,
        words: str,
        source: str,
        note: str = "",
        inherits: bool = True,
    ) -> Entry:
        """One step: `function` gets every input as an exact number or a word and rises with all of them.

        words: what the step does, put before its figures. A hole among the inputs makes a hole that names the same.
        """
        lacking = [one for one in inputs if not isinstance(one.value, Value | Category)]
        if lacking:
            missing = [name for one in lacking for name in one.missing]
            notes = "; ".join(dict.fromkeys(one.note for one in lacking if one.note))
            return self.hole(subject, name, missing, note="" if missing else notes, inputs=inputs)
        try:
            value, confidence, told = _spread(function, inputs, DIMENSIONS.get(name) == LENGTH)
        except NoRow as reason:
            return self.hole(subject, name, note=f"{words}: {reason}", inputs=inputs)
        return self.row(
            subject,
            name,
            value,
            formula=f"{words}: {told}",
            source=source,
            inputs=inputs,
            confidence=confidence,
            inherits=inherits,
            note=note,
        )


def _spread(function: Callable[..., Found], inputs: Sequence[Entry], length: bool) -> tuple[Value, Confidence, str]:
    """Run a step over every reading of its inputs. A pass rests on the far end, so the cells of that end say how sure
    the row is; where it is open, those of the near end."""
    numbers: list[float] = []
    confidence: Confidence = ARITHMETIC
    words: list[str] = []
    last: list[list[Given | None]] = []
    for narrow in (True, False):
        ends = [_readings(one, narrow) for one in inputs]
        if not narrow and ends == last:  # no tolerance on any input: the same again
            numbers += numbers
            break
        last = ends
        results: list[tuple[float, Found | None]] = []
        for corner in product(*ends):
            found: Found | None = None
            if not any(one is None for one in corner):
                try:
                    found = function(*corner)
                except NoRow:
                    if corner == tuple(one[0] for one in ends):
                        raise
            value = inf
            if found is not None:
                value = metres(rounded_up(found.value * 1_000_000)) if length else float(found.value)
            results.append((value, found))
        least, most = min(one for one, _ in results), max(one for one, _ in results)
        numbers += [least, most]
        decides = most if most < inf else least
        for value, found in results:
            if value == decides and found is not None:
                confidence = weaker_confidence(confidence, found.confidence)
        if narrow:
            kind = next((found.words for value, found in results if value == least and found is not None), "")
            strict = next(
                (found.words for value, found in results if value == most and found is not None), "open above"
            )
            words = [kind] if least == most else [kind, strict]
    near, far, low, high = numbers
    told = words[0] if len(words) == 1 else f"at the kind end {words[0]}; at the other {words[1]}"
    return Value(min(low, near), near, far, max(high, far)), confidence, told


def _readings(entry: Entry, narrow: bool) -> list[Given | None]:
    """Every reading of an input, the least first; None stands for an open end."""
    value = entry.value
    if isinstance(value, Category):
        return list(value.members)
    assert isinstance(value, Value)
    ends = (value.near, value.far) if narrow else (value.low, value.high)
    return [None if isinf(one) else exact(one) for one in dict.fromkeys(ends)]
