"""What load tests tell of one output, and of several loaded at once: current drawn, voltage held, sum of the ports."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import inf

from derate.design.readings import Reading
from derate.ledger.entry import SUPPLY, Entry, Subject
from derate.stress.conditions import At
from derate.stress.context import Context
from derate.stress.evidence import subject_of
from derate.terms.cases import FULL_LOAD, NO_LOAD
from derate.terms.quantities import QuantityName
from derate.terms.values import Value

REGULATION = 0.1
SOURCE = "readings and load tests of this sample"
Taken = tuple[At, Reading, Value, frozenset[str]]


def full_current(context: Context, subject: Subject) -> float | None:
    value = context.value(subject, "plate.current")
    return value.high if value is not None else None


def current_drawn(at: At, subject: Subject, full: float | None) -> float | None:
    """The current an output delivered at a condition [A]."""
    if at.currents:
        return next((one for name, one in at.currents if name in ("", subject.names[0])), 0.0)
    return full if at.load == FULL_LOAD else 0.0 if at.load == NO_LOAD else None


def is_full(context: Context, at: At) -> bool:
    """Whether every output delivered its marked current, said as a word or as currents."""
    if at.load == FULL_LOAD:
        return True
    outputs = context.ledger.subjects("output")
    full = [full_current(context, one) for one in outputs]
    pairs = [(current_drawn(at, one, most), most) for one, most in zip(outputs, full, strict=True)]
    return bool(pairs) and all(now is not None and most is not None and now >= 0.99 * most for now, most in pairs)


def write_taken(
    context: Context, subject: Subject, quantity: QuantityName, value: Value, used: Iterable[Taken], note: str = ""
) -> Entry:
    rests: frozenset[str] = frozenset()
    places = []
    for _, reading, _, one in used:
        rests |= one
        places.append(reading.stated.place)
    return context.ledger.write(
        subject, quantity, value, known_by="measured", formula="plate against bench", source=SOURCE, note=note,
        rests_on=rests, place=min(places, default=None),
    )  # fmt: skip


def band(plate: Value) -> tuple[float, float]:
    """The voltages between which an output counts as held, in size."""
    ends = sorted((abs(plate.low), abs(plate.high)))
    if plate.low < plate.near or plate.high > plate.far:
        return ends[0], ends[1]
    return ends[0] * (1.0 - REGULATION), ends[1] * (1.0 + REGULATION)


def is_held(context: Context, subject: Subject, value: Value) -> bool:
    plate = context.value(subject, "plate.voltage")
    if plate is None:
        return False
    return min(abs(value.near), abs(value.far)) >= band(plate)[0]


def solve_ports(context: Context, taken: Sequence[Taken]) -> None:
    """Several ports: their count, the sum on the plate, and what was held with all of them loaded at once."""
    ledger = context.ledger
    outputs = ledger.subjects("output")
    ledger.write(SUPPLY, "ports", Value.exact(float(len(outputs))), known_by="computed", formula="outputs of the plate",
                 source=SOURCE)  # fmt: skip
    currents = [full_current(context, subject) for subject in outputs]
    if any(one is None for one in currents):
        ledger.hole(SUPPLY, "ports_current", tuple(f"{s}: plate.current" for s, c in zip(outputs, currents, strict=True)
                                                   if c is None))  # fmt: skip
        return
    whole = sum(one for one in currents if one is not None)
    ledger.write(SUPPLY, "ports_current", Value.exact(whole), known_by="computed", formula="sum over the outputs",
                 source=SOURCE)  # fmt: skip
    best: tuple[float, float, list[Taken]] | None = None
    for at in dict.fromkeys(one[0] for one in taken):
        together = [
            next((one for one in taken if one[0] == at and one[1].quantity == "voltage"
                  and subject_of(context, one[1]) == subject), None)
            for subject in outputs
        ]  # fmt: skip
        loads = [current_drawn(at, subject, full) for subject, full in zip(outputs, currents, strict=True)]
        if any(one is None for one in together) or any(one is None for one in loads):
            continue
        known = [one for one in together if one is not None]
        fine = all(is_held(context, subject, one[2]) for subject, one in zip(outputs, known, strict=True))
        total = sum(one for one in loads if one is not None)
        near = total if fine else 0.0
        far = inf if fine else total
        if best is None:
            best = (near, far, known)
        else:
            best = (max(best[0], near), min(best[1], far), [*best[2], *known])
    if best is None:
        ledger.hole(SUPPLY, "held_together", ("supply: held_together",))
    else:
        write_taken(context, SUPPLY, "held_together", Value.between(min(best[0], best[1]), best[1]), best[2])
