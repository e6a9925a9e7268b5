"""The condition of a reading as a case of its own: solved by the one way through, with the facts set to it.

Mains, frequency, ambient and load become exact; nothing else changes. Only the running stresses are worked out, and
those of a switch-on where the reading was taken at one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple

from derate.design.readings import Condition, Reading
from derate.design.stated import Stated
from derate.ledger.entry import SUPPLY, Case, Entry
from derate.ledger.ledger import Ledger
from derate.stress.context import Context
from derate.stress.plan import CasePlan
from derate.terms.cases import (
    ANY_LOAD,
    COLD_START,
    DIP,
    END_OF_LIFE,
    FAULT,
    FULL_LOAD,
    HOT_RESTART,
    RE_PLUG,
    READING,
    RUNNING,
    SURGE,
    SWITCH_ON,
    UNPLUG,
    CaseGroup,
    Load,
)
from derate.terms.quantities import QuantityName
from derate.terms.values import Value


class At(NamedTuple):
    """Where a reading stands.

    mains [V], frequency [Hz] (None: the ends of the plate), ambient [degC] or None
    load: full | none | shorted | overload | the currents as text; currents: output and current [A] of a part load
    group: running, or the event it was taken at
    """

    mains: float
    frequency: float | None
    load: str
    ambient: float | None
    group: CaseGroup
    currents: tuple[tuple[str, float], ...] = ()

    @property
    def case(self) -> Case:
        """The case whose row speaks for it in a ledger of its own."""
        load = ANY_LOAD if self.group != RUNNING else FULL_LOAD if self.currents else Load(self.load)
        return Case(self.group, self.mains, self.frequency, load, self.ambient)

    @property
    def read_case(self) -> Case:
        """The case under which the reading itself stands."""
        load = Load(self.load if self.group == RUNNING else self.group)
        return Case(READING, self.mains, self.frequency, load, self.ambient)

    @property
    def words(self) -> str:
        """In words, without the ambient."""
        hertz = f" {self.frequency:.4g} Hz" if self.frequency is not None else ""
        load = self.group if self.group != RUNNING else f"{self.load} load" if not self.currents else self.load
        return f"{self.mains:.4g} V{hertz}, {load}"


# facts, plan, whether the converter is wanted too -> every row that is worked out
Solve = Callable[[Sequence[Entry], CasePlan, bool], Ledger]


def condition_of(context: Context, reading: Reading) -> At | None:
    """Where a reading stands; None when it does not say enough."""
    return None if reading.condition is None else at_condition(reading.condition)


def at_condition(condition: Condition) -> At | None:
    """A condition as numbers; None when it says no mains voltage, or no load while it runs."""
    mains = _number(condition.mains)
    if mains is None:
        return None
    group = RUNNING
    if condition.switch_on:
        group = HOT_RESTART if condition.switch_on.startswith("hot") else SWITCH_ON
    currents = tuple((name, one) for name, stated in condition.currents if (one := _number(stated)) is not None)
    load = condition.load or " ".join(f"{name} {one:.4g} A".strip() for name, one in currents)
    if group != RUNNING:
        load, currents = "", ()
    elif not load:  # at which load nobody said: full load would be the kind reading of a case temperature
        return None
    return At(mains, _number(condition.frequency), load, _number(condition.ambient), group, currents)


def _number(stated: Stated | None) -> float | None:
    return stated.value.middle if stated is not None and isinstance(stated.value, Value) else None


_EVENTS = frozenset((COLD_START, END_OF_LIFE, SWITCH_ON, HOT_RESTART, RE_PLUG, DIP, SURGE, UNPLUG, FAULT))


class _Narrow(CasePlan):
    """The plan of one condition: every axis is the one point, and events have no cases."""

    left_out: frozenset[str] = _EVENTS

    def cases(self, quantities: Iterable[QuantityName], groups: Iterable[CaseGroup]) -> tuple[Case, ...]:
        """As any plan, without the groups left out."""
        return CasePlan.cases(self, quantities, [group for group in groups if group not in self.left_out])


class _Closing(_Narrow):
    left_out = _EVENTS - {SWITCH_ON, HOT_RESTART}


def solved(
    context: Context, facts: Sequence[Entry], at: At, solve: Solve, converter: bool, only: frozenset[str] | None = None
) -> Ledger:
    """The ledger of the design at one condition, without its readings: nothing is held against itself.

    only: the quantities that were read there, where no more than the mains input has to be worked out

    The efficiency found at full load is taken along to conditions at full load; at part load it is assumed.
    """
    plan, wanted = context.plan, (at.mains, at.mains)
    ends = (at.frequency, at.frequency) if at.frequency is not None else _plate_frequency(context) or plan.frequency
    ambient = (at.ambient, at.ambient) if at.ambient is not None else plan.ambient
    kind = _Narrow if at.group == RUNNING else _Closing
    varied = [_set(fact, at) for fact in facts]
    efficiency = context.fact(SUPPLY, "efficiency")
    if not at.currents and efficiency is not None and efficiency.known_by != "stated":
        varied.append(replace(efficiency, quantity="supply.efficiency", case=None))
    narrow = kind(wanted, wanted, ends, ambient, only=None if converter else only, bad_ends=plan.bad_ends)
    return solve(varied, narrow, converter)


def _plate_frequency(context: Context) -> tuple[float, float] | None:
    value = context.value(SUPPLY, "plate.frequency")
    return (value.low, value.high) if value is not None else None


def _set(fact: Entry, at: At) -> Entry:
    """A fact at the condition: load currents as drawn, the mains as read."""
    if fact.quantity == "plate.current" and at.currents:
        drawn = next((one for name, one in at.currents if name in ("", *fact.subject.names)), 0.0)
        return replace(fact, value=Value.exact(drawn))
    if fact.quantity == "plate.mains":
        return replace(fact, value=Value.exact(at.mains))
    if fact.quantity == "site.mains_tolerance":
        return replace(fact, value=Value.exact(0.0))
    if fact.quantity == "site.ambient" and at.ambient is not None:
        return replace(fact, value=Value.exact(at.ambient))
    return fact
