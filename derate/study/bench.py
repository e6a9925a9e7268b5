"""Captures held against the computed event at their own condition, by the same rules as readings."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from derate.design.capture import Capture
from derate.design.facts import facts
from derate.ledger.entry import Entry
from derate.stress.conditions import at_condition
from derate.stress.context import part
from derate.stress.evidence import apart
from derate.stress.run import run_at
from derate.study.capture import Event, event_of, read_samples
from derate.study.work import Work
from derate.terms.quantities import QuantityName
from derate.terms.values import Value

# quantity of the event -> attribute, and how often the uncertainty of the amplitude enters
_CURRENT: dict[QuantityName, tuple[str, int]] = {
    "current_peak": ("peak", 1),
    "i2t": ("i2t", 2),
    "pulse_width": ("width", 0),
}
_VOLTAGE: dict[QuantityName, tuple[str, int]] = {"voltage_peak": ("peak", 1)}


@dataclass(frozen=True, slots=True)
class Held:
    """One quantity of a capture: as captured with its uncertainty, as computed, distance over both tolerances."""

    quantity: QuantityName
    captured: Value
    computed: Entry | None
    apart: float | None

    @property
    def agrees(self) -> bool | None:
        """Whether they agree within both tolerances; None when nothing was computed."""
        return None if self.apart is None else self.apart <= 1.0


@dataclass(frozen=True, slots=True)
class Compared:
    """One capture with its figures and what they were held against; `says`: uncertainty used, doubts."""

    capture: Capture
    event: Event
    held: tuple[Held, ...]
    energy: Value | None
    uncertainty: float
    says: tuple[str, ...]


def compared(work: Work, capture: Capture) -> Compared:
    """Read a capture and hold it against the computation at its condition. Raises ReadingError."""
    times, signal = read_samples(capture)
    event = event_of(capture, times, signal)
    assumptions = {name: one for (_, name), one in work.packs.assumptions.items()}
    assumed = assumptions.get("instrument_uncertainty_scope")
    uncertainty = assumed.value.high if assumed is not None else 0.0
    says = list(event.says)
    says.append(assumed.says if assumed is not None else "no pack in use states the uncertainty of a scope")
    ledger = None
    at = at_condition(capture.condition) if capture.condition is not None else None
    if at is not None:
        ledger = run_at(work.design.structure, facts(work.design), assumptions, work.design.readings, at)
    subject = part(capture.target)
    held = []
    for quantity, (name, times_in) in (_CURRENT if capture.quantity == "current" else _VOLTAGE).items():
        number = getattr(event, name)
        doubt = 2 * uncertainty if quantity == "pulse_width" else times_in * uncertainty
        noise = event.noise**2 * event.duration if quantity == "i2t" else 3 * event.noise if times_in == 1 else 0.0
        low = max(0.0, number * (1 - doubt) - noise)
        captured = Value.floor(low) if event.in_doubt else Value.between(low, number * (1 + doubt) + noise)
        row = ledger.find(subject, quantity, at.case) if ledger is not None and at is not None else None
        gap = None
        if row is not None and isinstance(row.value, Value):
            worked = row.value
            if (
                quantity != "pulse_width"
                and capture.condition is not None
                and "crest" not in capture.condition.switch_on
            ):
                worked = Value(0.0, 0.0, worked.far, worked.high)  # what is worked out is the worst closing angle
            gap = apart(captured, worked)
        held.append(Held(quantity, captured, row, gap))
    return Compared(capture, event, tuple(held), _energy(work, capture, event), uncertainty, tuple(says))


def _energy(work: Work, capture: Capture, event: Event) -> Value | None:
    """What the part took: its resistance times the I²t [J]; None when its resistance is not known."""
    row = work.ledger.find(part(capture.target), "part.resistance")
    if capture.quantity != "current" or row is None or not isinstance(row.value, Value) or row.value.high == inf:
        return None
    return row.value.scaled(event.i2t)
