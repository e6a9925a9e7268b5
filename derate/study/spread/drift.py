"""What temperature and age add to the tolerance of a part, assumed by its kind where a file does not state them.

A file states the purchase tolerance, and of a capacitor what counts as the end of its life. Temperature and age move
every part of a kind the same way, so they are biased: they add with their sign and never go under the root. They are
taken only where they are asked for, what is assumed as figures that nobody has looked at on this sample; each is
multiplied with the others, never added. A temperature coefficient that a file states is worked out by the ledger
itself (`derate.stress.parts.value_temperature`), asked for or not, and nothing is assumed beside it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from derate.ledger.entry import Entry, Subject
from derate.run import PER_KELVIN
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Value

RISE = 75.0  # kelvin from 25 degC, where a value is marked, to a hot board at 100 degC


class Drift(NamedTuple):
    """Shares of a value, as what they add: -0.4 leaves 60 %. temperature over `RISE`; age to the end of its life.

    fixed: what age adds besides, either way, in the unit of the value; stated: the file says what age does
    """

    temperature: tuple[float, float]
    age: tuple[float, float]
    source: str
    fixed: float = 0.0
    stated: bool = False

    def of(self, value: Value) -> Drift:
        """The drift of one value: what is fixed as a share of it."""
        if not self.fixed or value.near <= 0.0:
            return self
        share = self.fixed / value.near
        return self._replace(age=(self.age[0] - share, self.age[1] + share), fixed=0.0)

    def widened(self, value: Value) -> Value:
        """A value with both at their ends."""
        low, high = self._ends()
        return Value(value.low * low, value.near, value.far, value.high * high)

    def narrowed(self, value: Value) -> Value:
        """A value that `widened` gave, without them."""
        low, high = self._ends()
        return Value(min(value.low / low, value.near), value.near, value.far, max(value.high / high, value.far))

    def _ends(self) -> tuple[float, float]:
        return (1.0 + self.temperature[0]) * (1.0 + self.age[0]), (1.0 + self.temperature[1]) * (1.0 + self.age[1])


def _film(kelvin: float, age: float) -> Drift:
    moved = kelvin * 1e-6 * RISE
    return Drift((-moved, moved), (-age, age), "house figure after makers' sheets of film resistors")


# Kinds that are not here are drawn with what their file states alone, and the table says so.
DRIFTS: Mapping[tuple[QuantityName, str], Drift] = {
    ("part.resistance", "film resistor"): _film(50.0, 0.005),
    ("part.resistance", "metal oxide resistor"): _film(200.0, 0.01),
    ("part.resistance", "fusible film resistor"): _film(200.0, 0.01)._replace(fixed=0.05),  # 1 % and 50 mohm
    ("part.capacitance", "electrolytic capacitor"): Drift(
        (0.0, 0.0), (-0.4, 0.0), "usual end of life of an aluminium electrolytic capacitor: 40 % lost"
    ),
}
# By where a part stands: one in series with the mains heals its breakdowns, and each takes some of its area.
PLACED: Mapping[tuple[QuantityName, str, str], Drift] = {
    ("part.capacitance", "film capacitor", "dropping capacitor"): Drift(
        (0.0, 0.0), (-0.15, 0.0), "house figure after service limits of supplies of this kind: 15 % lost"
    )
}
_END: QuantityName = "rated.end_of_life_capacitance_change"
Taken = Mapping[tuple[Subject, QuantityName], Drift]


def drifts(facts: Sequence[Entry]) -> Taken:
    """The drift of every part whose kind has one, among the facts of a design; what its file states of age is taken."""
    words: dict[tuple[Subject, str], str] = {
        (row.subject, row.quantity): row.value.word
        for row in facts
        if row.quantity in ("part.kind", "part.place")
        and isinstance(row.value, Category)
        and row.value.word is not None
    }
    by_file = {row.subject for row in facts if row.quantity in PER_KELVIN}  # worked out by the ledger itself
    lost = {row.subject: row.value.high for row in facts if row.quantity == _END and isinstance(row.value, Value)}
    found = {}
    for row in facts:
        kind, place = (words.get((row.subject, one), "") for one in ("part.kind", "part.place"))
        drift = PLACED.get((row.quantity, kind, place)) or DRIFTS.get((row.quantity, kind))
        if row.quantity == "part.capacitance" and lost.get(row.subject, 1.0) < 1.0:
            before = drift or Drift((0.0, 0.0), (0.0, 0.0), "")
            drift = before._replace(age=(-lost[row.subject], 0.0), source="as stated", stated=True)
        if drift is not None and row.subject in by_file:
            drift = drift._replace(temperature=(0.0, 0.0))
        if drift is not None and isinstance(row.value, Value):
            found[(row.subject, row.quantity)] = drift.of(row.value)
    return found


def with_drift(facts: Sequence[Entry], taken: Taken) -> tuple[Entry, ...]:
    """The facts with these values as wide as drift makes them."""
    found = []
    for row in facts:
        drift = taken.get((row.subject, row.quantity))
        if drift is not None and isinstance(row.value, Value):
            row = replace(row, value=drift.widened(row.value))
        found.append(row)
    return tuple(found)
