"""One rule as read: what it asks, of what, why, how sure its limit is, and who changed it since."""

from __future__ import annotations

from typing import NamedTuple

from derate.packs.condition import Condition
from derate.packs.shape import Shape
from derate.terms.cases import CaseGroup
from derate.terms.place import Place
from derate.terms.words import Confidence, Hazard, Severity


class Change(NamedTuple):
    """What a house pack did to a rule: 'tightened', 'relaxed', 'switched off' or 'restated', by whom, why, where."""

    what: str
    pack: str
    reason: str
    place: Place


class Rule(NamedTuple):
    """One rule.

    about: kind of subject; cases: groups it has to hold in, empty for standing facts
    applies: conditions on the subject's facts; when: conditions looked at in every case
    over_tolerance: holds at the ends of the tolerance too; guard_share, guard_difference: see judge.comparison.Guard
    at_least_one: says what is missing when no subject is there to look at; empty when that is fine
    switched_off: kept in the list and counted as not assessed
    restated: a house pack gave the limit with its own source
    """

    name: str
    pack: str
    family: str
    says: str
    because: str
    hazard: Hazard
    severity: Severity
    about: str
    applies: tuple[Condition, ...]
    cases: tuple[CaseGroup, ...]
    when: tuple[Condition, ...]
    shape: Shape
    over_tolerance: bool
    guard_share: float
    guard_difference: float
    at_least_one: str
    remedy: str
    settle: str
    source: str
    confidence: Confidence
    place: Place
    switched_off: bool = False
    changes: tuple[Change, ...] = ()

    @property
    def tells(self) -> str:
        """The source in words; a remembered figure never speaks for its document."""
        if self.confidence == "remembered":
            return f"remembered figure for {self.source}: confirm"
        return self.source
