"""What holding two judged designs beside each other ends in: plain frozen values, decided here and shown elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from derate.judge.review import Finding, Review
from derate.ledger.entry import Entry, Subject
from derate.terms.cases import CaseGroup
from derate.terms.quantities import QuantityName

Way = Literal["worse", "better", "other"]


@dataclass(frozen=True, slots=True)
class FactChange:
    """A fact that is not the same in both; None where one design does not have it."""

    subject: Subject
    quantity: QuantityName
    before: Entry | None
    after: Entry | None


@dataclass(frozen=True, slots=True)
class StressChange:
    """The worst row of a group of cases on either side.

    factor: after over before, each at the end that is bad; None where one side has no figure, or one that is nought
    """

    subject: Subject
    quantity: QuantityName
    group: CaseGroup | Literal[""]
    before: Entry | None
    after: Entry | None
    factor: float | None


@dataclass(frozen=True, slots=True)
class VerdictChange:
    """A rule on a subject with another word than before; None where one design has no such finding."""

    rule: str
    subject: Subject
    before: Finding | None
    after: Finding | None
    way: Way


@dataclass(frozen=True, slots=True)
class Difference:
    """Everything that differs between two designs.

    before_name, after_name: how the command line called them; partners: parts that have the same job under two names,
    (before, after); same_*: how much is the same in both
    """

    before: Review
    after: Review
    before_name: str
    after_name: str
    facts: tuple[FactChange, ...]
    stresses: tuple[StressChange, ...]
    verdicts: tuple[VerdictChange, ...]
    partners: tuple[tuple[str, str], ...]
    same_facts: int
    same_stresses: int
    same_verdicts: int
