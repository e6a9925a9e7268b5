"""Facts changed by trial: the design worked through and judged again with a few facts set, and nothing else.

Every study that asks "what if this were known, or other than it is" goes through here and so through the one function.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from math import inf

from derate.design.facts import facts
from derate.design.readings import Reading
from derate.judge.heard import OWN
from derate.judge.review import Finding, Review
from derate.ledger.entry import Entry, Subject
from derate.ledger.ledger import Ledger
from derate.ledger.recorded import RecordingLedger, Tape
from derate.packs.load import Packs
from derate.packs.pack import AnyOf, Member, Shape
from derate.study.work import Work, review_of, worked
from derate.terms import dimension as d
from derate.terms.dimension import Dimension
from derate.terms.frozen import frozen
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Curve, Known, Value
from derate.terms.vocabulary import VOCABULARY, YES_NO, Term

Key = tuple[str, str, Subject]  # rule, pack, subject
Fact = tuple[Subject, QuantityName]
# Extremes of what a small supply can have, per dimension in SI units: the kind and the bad end of a fact nobody knows.
_ENDS: dict[Dimension, tuple[float, float]] = {
    d.NUMBER: (1e-3, 1e6),
    d.LENGTH: (1e-5, 0.1),
    d.AREA: (1e-7, 1e-2),
    d.TIME: (1e-9, 1e9),
    d.FREQUENCY: (10.0, 1e6),
    d.CURRENT: (1e-6, 1e4),
    d.KELVIN: (0.0, 200.0),
    d.CELSIUS: (-40.0, 300.0),
    d.VOLTAGE: (0.1, 1e5),
    d.RESISTANCE: (1e-4, 1e9),
    d.POWER: (1e-4, 1e6),
    d.ENERGY: (1e-7, 1e4),
    d.CAPACITANCE: (1e-13, 1e-2),
    d.INDUCTANCE: (1e-9, 10.0),
    d.I2T: (1e-6, 1e6),
    d.THERMAL_RESISTANCE: (0.1, 1e3),
}
# Facts whose range is narrower than their dimension says.
_OWN_ENDS: dict[str, tuple[float, float]] = {
    "plate.mains": (100.0, 240.0),
    "plate.frequency": (50.0, 60.0),
    "site.ambient": (0.0, 60.0),
    "site.mains_tolerance": (0.0, 0.15),
    "supply.efficiency": (0.5, 0.95),
    "site.altitude": (0.0, 5000.0),
    "site.mains_inductance": (2e-5, 2e-3),
    "site.inside_rise": (5.0, 60.0),
    "site.pollution_degree": (1.0, 3.0),
    "control.frequency": (20e3, 300e3),
    "winding.turns": (5.0, 300.0),
    "transformer.inductance": (1e-4, 1e-2),
    "transformer.leakage": (1e-6, 2e-4),
    "core.area": (1e-5, 3e-4),
    "part.output_capacitance": (1e-11, 1e-9),
    "found.tape_layers": (0.0, 6.0),
    "site.switch_ons": (100.0, 1e5),
    "supply.runs_down_to": (40.0, 90.0),
    "plate.voltage": (3.0, 48.0),
    "greatest_shut_down_current": (0.1, 20.0),
    "part.limit_delay": (2e-8, 5e-6),
    "part.current_limit": (0.1, 5.0),
    "part.temperature_coefficient": (1e-6, 6e-3),  # as far as copper
    "part.temperature_slope": (1e-6, 0.5),
    "rated.storage_time": (1e-7, 1e-5),
    "plate.current": (0.05, 5.0),
    "rated.impedance_ratio": (1.2, 12.0),
    "rated.cold_impedance": (5e-3, 30.0),
    "rated.dissipation_factor": (0.02, 0.3),
    "rated.end_of_life_capacitance_change": (0.1, 0.5),
    "rated.end_of_life_resistance_ratio": (1.3, 4.0),
    "rated.core_rise": (3.0, 10.0),
    "rated.voltage_exponent": (1.0, 6.0),
    "found.series_resistance": (5e-3, 100.0),
}
# The usual condition of a rating that is one: a figure "at 8.3 ms", "at 105 degC".
_AT: dict[Dimension, float] = {d.TIME: 8.3e-3, d.FREQUENCY: 100e3, d.CURRENT: 1.0, d.CELSIUS: 70.0, d.VOLTAGE: 25.0}
_COLD = ("rated.impedance_ratio", "rated.cold_impedance")


@frozen
class Result:
    """What came of one trial."""

    ledger: Ledger
    review: Review

    def verdicts(self) -> dict[Key, Finding]:
        """Findings by rule, pack and subject, those of rules only."""
        return {key_of(one): one for one in self.review.findings if one.pack != OWN}


def key_of(finding: Finding) -> Key:
    """What makes a finding the same in two trials."""
    return finding.rule, finding.pack, finding.subject


# What a study may take, the design's own working through included: rows worked out afresh, and a twentieth of a row for
# each step or question that could be put back. A row behind a bulk choke costs about twice the others: its mains input
# is walked through piece by piece. All of it is some five seconds of an ordinary core: 0.06 to 0.19 ms a unit on a busy
# one. The shipped designs take 8,000 to 27,000 of it; the first working through of the largest file there may be, half.
MOST_WORK = 33_000
_PUT_BACK = 20
_BEHIND_A_CHOKE = 2
STOPPED = "the study stopped there, at the most work it may take"


class Allowance:
    """How much work a study may take, how much it took, and how much one more trial may take at the most."""

    def __init__(self, most: float = inf) -> None:
        self.most = most
        self.spent = 0
        self.trial = 0

    @property
    def over(self) -> bool:
        """Whether no trial more is begun: one that works everything out afresh would go beyond."""
        return self.spent + self.trial > self.most

    def first(self, work: int) -> None:
        """Count the design as it is: no trial takes more than what works all of it out."""
        self.spent += work
        self.trial = max(self.trial, work)


class Bench:
    """A design on the bench: the facts as they are, and what comes of them when some are set.

    A work whose ledger remembers (`Workshop(packs, ledger=RecordingLedger)`) is what the trials replay from.
    most: work that it and the trials may take together; whoever tries asks `allowance.over` before the next one
    """

    def __init__(self, work: Work, today: date, facts_given: Iterable[Entry] | None = None, most: float = inf) -> None:
        self.allowance = Allowance(most)
        self.work = work
        self.today = today
        self.facts = tuple(facts(work.design) if facts_given is None else facts_given)
        self.runs = 0
        self.tape: Tape | None = None
        first = work.ledger if isinstance(work.ledger, RecordingLedger) and facts_given is None else RecordingLedger()
        if first is not work.ledger:  # it was worked out by a ledger that remembers nothing, or of other facts
            worked(work.design, work.packs, self.facts, first)
        self.base = self.judged(first)
        self.tape = first.tape()
        self.allowance.first(self._work_of(first))

    def tried(self, values: Mapping[Fact, Known | None], readings: Sequence[Reading] | None = None) -> Result:
        """Work through and judge with some facts set (None: nobody knows), and other readings where given."""
        self.runs += 1
        design = self.work.design if readings is None else self.work.design._replace(readings=tuple(readings))
        rows = [one for one in self.facts if (one.subject, one.quantity) not in values]
        for number, ((subject, name), value) in enumerate(values.items()):
            if value is not None:
                rows.append(Entry(len(self.facts) + number + 1, subject, name, None, value, known_by="measured"))
        ledger = RecordingLedger(None, self.tape)
        try:
            return self.judged(worked(design, self.work.packs, rows, ledger))
        finally:
            self.allowance.spent += self._work_of(ledger)

    def _work_of(self, ledger: RecordingLedger) -> int:
        """What a run took: the units of `MOST_WORK`."""
        choke = _BEHIND_A_CHOKE if "bulk choke" in self.work.design.structure.places.values() else 1
        return choke * ledger.worked_out + ledger.steps // _PUT_BACK

    def attempt(self, values: Mapping[Fact, Known | None]) -> Result | None:
        """As `tried`, for values far outside what a supply has: None where nothing can be worked out with them."""
        try:
            return self.tried(values)
        except (ValueError, ArithmeticError):
            return None

    def judged(self, ledger: Ledger) -> Result:
        """Judge a ledger with the packs of the design."""
        return Result(ledger, review_of(self.work._replace(ledger=ledger), self.today))


def shaped(term: Term, number: float, seen: Known | None = None) -> Known:
    """A number as the value of a term: plain, or at the one condition under which such a figure is stated.

    seen: a value of the same fact, whose condition is kept
    """
    if isinstance(seen, Curve):
        return Curve(tuple((at, Value.exact(number)) for at, _ in seen.points), seen.condition, seen.unit)
    if term.over is None or term.dimension is None or term.over not in _AT:
        return Value.exact(number)
    if term.name in ("rated.current", "rated.power", "rated.voltage"):
        return Value.exact(number)  # also stated without a condition
    at = 105.0 if term.name == "rated.life" else 25.0 if term.name == "rated.on_resistance" else _AT[term.over]
    if term.name in _COLD:
        at = -40.0
    return Curve(((at, Value.exact(number)),), term.over, term.dimension)


def ladder(term: Term) -> tuple[float, ...]:
    """Numbers to try for a fact nobody knows, the kind end first."""
    if term.dimension is None:
        return ()
    low, high = ends_of(term)
    if term.bad > 0:
        return low, _middle(low, high, 0.3)
    if term.bad < 0:
        return high, _middle(low, high, 0.7)
    return tuple(_middle(low, high, share) for share in (0.5, 0.3, 0.7, 0.15, 0.85))


def ends_of(term: Term) -> tuple[float, float]:
    """The least and the greatest a fact can be in a small supply, in SI units."""
    assert term.dimension is not None
    return _OWN_ENDS.get(term.name) or _ENDS.get(term.dimension, (1e-6, 1e6))


def _middle(low: float, high: float, share: float) -> float:
    if low <= 0:
        return low + share * (high - low)
    return float(low * (high / low) ** share)


def words_of(term: Term, packs: Packs) -> tuple[str, ...]:
    """Words to try for a fact: those of the vocabulary, then those the rules ask for."""
    found = dict.fromkeys(term.words)
    for rule in packs.rules:
        for shape in _shapes(rule.shape):
            if isinstance(shape, Member) and shape.fact == term.name:
                found |= dict.fromkeys(one for one in shape.words if not one.startswith("any "))
        for condition in (*rule.applies, *rule.when):
            if condition.name == term.name:
                found |= dict.fromkeys(one for one in condition.words if not one.startswith("any "))
    if not term.words or term.words != YES_NO:
        found["none"] = None
    return tuple(found)[:10]


def _shapes(shape: Shape) -> tuple[Shape, ...]:
    return shape.shapes if isinstance(shape, AnyOf) else (shape,)


def word(text: str) -> Category:
    """One word as a value."""
    return Category.of(text)


def known_term(name: str) -> Term | None:
    """The term of a fact a person can enter; None for what is only derived."""
    if name.startswith(("needed.", "allowed.")):
        return None
    return VOCABULARY.get(name)
