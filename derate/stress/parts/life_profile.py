"""Life over the hours of the site: each step of ambient its own case, their rates averaged.

`site.hours` says how many hours of an average day it stands at each ambient, or between it and the one before. What it
leaves of the day counts at the hottest, so that an hour nobody accounts for never lengthens a life.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from derate.circuit.capacitor_ageing import equivalent_temperature, profile_life
from derate.circuit.thermal import ERROR
from derate.ledger.entry import SUPPLY, Case, Entry, Subject
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.context import Context
from derate.terms.cases import RUNNING
from derate.terms.values import Curve, Value

DAY = 24 * 3600.0
# Below it the ten-degree rule promises more than makers do: several carry it no further than to 40 degC (remembered).
COOLEST = 40.0
_BY_RATE = "Cosel Technical Q&A a0057: lives at changing conditions average by their rates"


class Steady(NamedTuple):
    """One capacitor's life at a steady temperature: its model and every input but the temperature."""

    subject: Subject
    model: Model
    inputs: dict[str, Entry | Value | float]

    def at(self, context: Context, temperature: Entry, case: Case) -> Entry:
        """The life at a case, as a row."""
        wanted: list[Wanted] = [(self.subject, "life", "life")]
        return context.ledger.work_out(self.model, {**self.inputs, "temperature": temperature}, wanted, case=case)[0]


def averaged(context: Context, one: Steady, outside: Entry, hottest: Entry, case: Case) -> None:
    """Write the life at every step of the site's hours, the one averaged over them, and the ambient that gives it.

    outside: air or case at the hottest ambient of the plan; hottest: the life there; case: of the averaged row
    """
    ledger, subject = context.ledger, one.subject
    hours = context.fact(SUPPLY, "site.hours")
    assert hours is not None and isinstance(hours.value, Curve) and context.plan.ambient is not None
    top = context.plan.ambient[1]
    steps: list[tuple[Value, Entry]] = []
    for ambient, time in hours.value.points:
        if ambient >= top:  # hours beyond the hottest ambient are at it: a file that says so is refused
            steps.append((time, hottest))
            continue
        at = Case(RUNNING, ambient=ambient)
        steps.append((time, one.at(context, _cooler(context, subject, outside, top - ambient, hours, at), at)))
    rows = [row for _, row in steps] + [hottest]
    inputs = (hours.number, *(row.number for row in rows))
    rests = hours.rests_on.union(*(row.rests_on for row in rows))
    bad = next((row for row in rows if not isinstance(row.value, Value)), None)
    if bad is not None:
        ledger.hole(subject, "life", bad.missing, case=case, note=bad.note, inputs=inputs, rests_on=rests)
        return
    value = Value(*sorted(_life(steps, hottest, end) for end in range(4)))  # sorted: rounding alone turns ends round
    steady = _ambient(hottest, value, top)
    told = ", ".join(f"{time.middle / 3600:.3g} h at {ambient:.3g} degC" for ambient, time in hours.value.points)
    ledger.write(
        subject,
        "life",
        value,
        case=case,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        source=_BY_RATE,
        formula="24 h / Σ (hours / life)",
        note=f"averaged by rate over {told} of a day",
    )
    ledger.write(
        subject,
        "equivalent_temperature",
        steady,
        case=case,
        known_by="computed",
        inputs=(hottest.number,),
        rests_on=rests,
        source=_BY_RATE,
        formula="hottest ambient − 10 K × log2(averaged life / life there)",
    )


def _cooler(context: Context, subject: Subject, outside: Entry, by: float, hours: Entry, case: Case) -> Entry:
    """Air or case at a cooler ambient: the rise stays; that of a case may shrink with what heat adds to the losses."""
    if not isinstance(outside.value, Value):
        return outside
    low, near, far, high = outside.value.numbers()
    more = by * ERROR["carried_rise"][1] if outside.quantity == "case_temperature" else 0.0
    value = Value(*(max(COOLEST, one) for one in (low - by - more, near - by - more, far - by, high - by)))
    return context.ledger.write(
        subject,
        outside.quantity,
        value,
        case=case,
        known_by="computed",
        inputs=(outside.number, hours.number),
        rests_on=outside.rests_on,
        formula=f"carried to {by:.3g} K less ambient, not below {COOLEST:.3g} degC",
        source=outside.source,
    )


def _life(steps: list[tuple[Value, Entry]], hottest: Entry, end: int) -> float:
    """One end of the averaged life [s]: the short ends with the least hours that are sure, from the hottest on."""
    kind = end >= 2
    left, parts = DAY, []
    for time, row in steps if kind else reversed(steps):
        hours = min(left, time.numbers()[end])
        left -= hours
        parts.append((hours, _end(row, end)))
    parts.append((left, _end(hottest, end)))
    used = [(hours, life) for hours, life in parts if hours > 0.0]
    return profile_life(used)


def _end(row: Entry, end: int) -> float:
    assert isinstance(row.value, Value)
    return row.value.numbers()[end]


def _ambient(hottest: Entry, life: Value, top: float) -> Value:
    """Steady ambient that gives the averaged life [degC]: what ripple and voltage add to a life is the same in both."""
    assert isinstance(hottest.value, Value)
    found = []
    for there, whole in zip(hottest.value.numbers(), life.numbers(), strict=True):
        found.append(equivalent_temperature(there, top, whole) if 0.0 < there < inf else top)
    return Value(*sorted(found))
