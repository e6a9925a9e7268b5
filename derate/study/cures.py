"""The least rating that cures a failing rule, found by entering it: the rating is raised until the rule passes.

A rating that is a table is raised in step over all its points.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from derate.judge.review import Finding
from derate.packs.shape import AnyOf, Keep, Shape
from derate.study.headroom import with_rules
from derate.study.missing import rounded_to
from derate.study.trying import Bench, Fact
from derate.terms.quantities import named
from derate.terms.values import Curve, Known, Value
from derate.terms.vocabulary import VOCABULARY

GREATEST = 1000.0  # times the rating: beyond it another part is wanted, not another rating
# A rating at the condition of the stress is worked out from the one in the data sheet.
_FROM = {
    "allowed.power": "rated.power", "allowed.current": "rated.current", "allowed.pulse_energy": "rated.pulse_energy",
    "allowed.pulse_power": "rated.pulse_power", "allowed.i2t": "rated.melting_i2t",
    "allowed.surge_current": "rated.surge_current", "allowed.surge_i2t": "rated.surge_current",
    "allowed.ripple_current": "rated.ripple_current", "allowed.switch_voltage": "rated.voltage", "life": "rated.life",
    "junction_temperature": "rated.junction",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Cure:
    """One failing finding and the least rating with which it passes."""

    finding: Finding
    name: str
    value: Known


def cures(bench: Bench) -> tuple[Cure, ...]:
    """The least rating for every failing finding that a rating of its own part can cure."""
    shapes = {rule.name: rule.shape for rule in bench.work.packs.rules}
    found = []
    for key, finding in bench.base.verdicts().items():
        shape = shapes.get(key[0])
        if finding.verdict != "fail" or shape is None:
            continue
        for name in _ratings(shape):
            cure = _least(bench, finding, (finding.subject, named(name)))
            if cure is not None:
                found.append(cure)
                break
    return tuple(found)


def _ratings(shape: Shape) -> tuple[str, ...]:
    """Facts of the part a formula holds the stress to."""
    match shape:
        case Keep(formula):
            names = [_FROM.get(name, name) for name in formula.names]
        case AnyOf(shapes):
            names = [name for one in shapes for name in _ratings(one)]
        case _:
            names = []
    return tuple(dict.fromkeys(name for name in names if name.startswith("rated.")))


def _least(bench: Bench, finding: Finding, fact: Fact) -> Cure | None:
    row = bench.base.ledger.find(*fact)
    if row is None or not isinstance(row.value, Value | Curve) or VOCABULARY[fact[1]].bad > 0:
        return None
    start = row.value
    key = (finding.rule, finding.pack, finding.subject)
    alone = with_rules(bench, {finding.rule})
    tried: dict[float, bool] = {}

    def passes(factor: float) -> bool:
        if factor not in tried:
            result = alone.attempt({fact: scaled(start, factor)})
            found = result.verdicts().get(key) if result is not None else None
            tried[factor] = found is not None and found.verdict == "pass"
        return tried[factor]

    ratio = finding.ratio if finding.ratio is not None and 1.0 < finding.ratio < inf else 1.2
    good, bad = ratio * 1.001, 1.0
    while not passes(good):
        bad, good = good, good * 1.5
        if good > GREATEST:
            return None
    for guess in (ratio / 1.001, bad * 1.02):
        if bad < guess < good and not passes(guess):
            bad = guess
    while good / bad > 1.004:
        middle = (good * bad) ** 0.5
        if passes(middle):
            good = middle
        else:
            bad = middle
    value = scaled(start, good)
    if isinstance(value, Value) and value.is_exact and value.near > 0:
        rounded = Value.exact(rounded_to(value.near, False))
        if passes(rounded.near / _number(start)):
            value = rounded
    return Cure(finding, fact[1], value)


def _number(value: Known) -> float:
    assert isinstance(value, Value)
    return value.near


def scaled(value: Known, factor: float) -> Known:
    """A rating times a factor, every point of a table alike."""
    if isinstance(value, Curve):
        points = tuple((at, one.scaled(factor)) for at, one in value.points)
        return Curve(points, value.condition, value.unit)
    assert isinstance(value, Value)
    return value.scaled(factor)
