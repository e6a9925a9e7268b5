"""Readings taken along to another output current: voltages and powers stay where they were taken, rises are carried.

A rise read at the marked current is carried to another current between "unchanged" and "in step with the square of the
current" (losses of a supply are part fixed, part in step with the current, part with its square; common practice, no
source). The bad end of that range is what a rule sees.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from derate.design.readings import Condition, Reading
from derate.design.stated import Stated
from derate.terms.cases import FULL_LOAD
from derate.terms.dimension import CELSIUS
from derate.terms.values import Value
from derate.terms.vocabulary import VOCABULARY


def at_factor(readings: Sequence[Reading], full: Mapping[str, float], factor: float) -> tuple[Reading, ...]:
    """The readings of a design whose marked currents were multiplied by a factor.

    full: marked current of each output before that [A]
    """
    if factor == 1.0:
        return tuple(readings)
    moved: dict[int, Condition] = {}
    made = []
    for reading in readings:
        condition = reading.condition
        if condition is None or condition.load != FULL_LOAD:
            made.append(reading)
        elif VOCABULARY[reading.quantity].dimension == CELSIUS:
            made.append(_risen(reading, condition, factor))
        else:
            own = moved.setdefault(id(condition), _as_drawn(condition, full))
            made.append(reading._replace(condition=own))
    return tuple(made)


def _as_drawn(condition: Condition, full: Mapping[str, float]) -> Condition:
    """The condition with the currents that "full" was when it was read."""
    currents = tuple((name, Stated(Value.exact(one), condition.place)) for name, one in full.items())
    return condition._replace(load="", currents=currents)


def _risen(reading: Reading, condition: Condition, factor: float) -> Reading:
    """A temperature with its rise carried; without a known ambient it cannot be, and is unknown."""
    value, ambient = reading.stated.value, condition.ambient.value if condition.ambient is not None else None
    if not isinstance(value, Value) or not isinstance(ambient, Value):
        return reading._replace(stated=reading.stated._replace(value=None))
    least, most = sorted((1.0, factor**2))
    low, near, far, high = (max(0.0, one - ambient.middle) for one in value.numbers())
    base = ambient.middle
    carried = Value(base + low * least, base + near * least, base + far * most, base + high * most)
    return reading._replace(stated=reading.stated._replace(value=carried))
