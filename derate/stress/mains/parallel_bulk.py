"""Bulk capacitors in parallel: the share of the ripple that each of them carries.

It divides by their admittances, at the mains frequency by capacitance, in the sharp edges of the pulse by series
resistance; the share lies between the two. Where nobody stated a resistance, capacitors alike in kind and size differ
by a fifth, others by half (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping

from derate.design.structure import Element, Leaf, leaves
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import Context, in_series_and_parallel, part
from derate.terms.tuples import NamedTuple
from derate.terms.values import Value

_ALIKE, _UNLIKE = 0.2, 0.5
_STATED = 0.05  # a resistance of its own at every harmonic, and what all of them together take off the pulse
WHOLE = (1.0, 1.0)


def parallel_shares(
    context: Context, element: Element, whole: tuple[float, float] = WHOLE
) -> dict[str, tuple[float, float]]:
    """Least and greatest share of the ripple that each capacitor of an element carries [1]."""
    if isinstance(element, Leaf):
        return {element.name: whole}
    found: dict[str, tuple[float, float]] = {}
    own = {member: _admittances(context, member) for member in element.members}
    for member in element.members:
        share = whole
        if element.joined == "parallel":
            others = [one for other, one in own.items() if other is not member]
            low, high = _share(own[member], others)
            share = (whole[0] * low, whole[1] * high)
        found |= parallel_shares(context, member, share)
    return found


class _Admittance(NamedTuple):
    """Capacitance [F] and series resistance [ohm] of one branch, None where nobody stated it; what it is made of."""

    capacitance: Value | None
    resistance: Value | None
    made_of: tuple[object, ...]


def _admittances(context: Context, element: Element) -> _Admittance:
    names = [leaf.name for leaf in leaves(element)]
    farads = {name: value for name in names if (value := context.value(part(name), "part.capacitance")) is not None}
    ohms: dict[str, Value] = {}
    for name in names:
        curve = context.curve(part(name), "rated.series_resistance")
        if curve is not None and curve.points:
            given = [value for _, value in curve.points]
            ohms[name] = Value.between(min(one.low for one in given), max(one.high for one in given))
    made_of = tuple((context.structure.kinds.get(name), farads.get(name)) for name in names)
    whole = in_series_and_parallel(element, farads, capacitors=True)
    positive = len(ohms) == len(names) and all(one.low > 0.0 for one in ohms.values())
    return _Admittance(whole, in_series_and_parallel(element, ohms, capacitors=False) if positive else None, made_of)


def _share(own: _Admittance, others: list[_Admittance]) -> tuple[float, float]:
    """Least and greatest share of one branch beside others in parallel [1]."""
    farads = [one.capacitance for one in others]
    if own.capacitance is None or None in farads:
        return 0.0, 1.0
    beside = [one for one in farads if one is not None]
    ohms = [one.resistance for one in others]
    if own.resistance is not None and None not in ohms:
        conductances = [_inverse(one) for one in ohms if one is not None]
        low, high = _of_all(own.capacitance, beside, _STATED)
        least, most = _of_all(_inverse(own.resistance), conductances, _STATED)
        return min(low, least), max(high, most)
    return _of_all(own.capacitance, beside, _ALIKE if all(one.made_of == own.made_of for one in others) else _UNLIKE)


def _of_all(own: Value, others: list[Value], spread: float) -> tuple[float, float]:
    """Least and greatest share of one admittance in all; spread: how far it may lie off beside the others [1]."""
    least, most = sum(one.low for one in others), sum(one.high for one in others)
    low, high = own.low * (1.0 - spread), own.high * (1.0 + spread)
    return low / (low + most) if low + most > 0.0 else 0.0, high / (high + least) if high + least > 0.0 else 1.0


def _inverse(value: Value) -> Value:
    return Value(1.0 / value.high, 1.0 / value.far, 1.0 / value.near, 1.0 / value.low)


def of_each(rows: list[Wanted], shares: Mapping[str, tuple[float, float]]) -> list[Wanted]:
    """The rows wanted, the ripple of a capacitor in parallel by its own name."""
    return [
        (subject, quantity, f"{output} of {subject.names[0]}")
        if quantity == "ripple_current" and shares.get(subject.names[0], WHOLE) != WHOLE
        else (subject, quantity, output)
        for subject, quantity, output in rows
    ]


def with_shares(model: Model, shares: Mapping[str, tuple[float, float]]) -> Model:
    """The model with the ripple of each capacitor in parallel as an output, its share laid over the band."""
    some = {name: share for name, share in shares.items() if share != WHOLE}
    if not some:
        return model
    ripples = [output for output in model.signs if output in ("capacitor_rms", "bulk1_rms", "bulk2_rms")]
    signs, errors = dict(model.signs), dict(model.errors)
    for name, (low, high) in some.items():
        for output in ripples:
            below, above = model.errors.get(output, (0.0, 0.0))
            signs[f"{output} of {name}"] = model.signs[output]
            errors[f"{output} of {name}"] = ((1.0 + below) * low - 1.0, (1.0 + above) * high - 1.0)

    def solve(**inputs: float) -> dict[str, float]:
        found = model.solve(**inputs)
        figures = dict(found) if isinstance(found, Mapping) else found._asdict()
        return figures | {f"{output} of {name}": figures[output] for output in ripples for name in some}

    return model._replace(solve=solve, signs=signs, errors=errors)
