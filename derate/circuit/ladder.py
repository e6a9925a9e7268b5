"""What a ladder of chokes and capacitors leaves of the pulses of a converter on its way to the mains.

Contents: `Section`, `passed_on`, `ladder`.

No harmonic of a current that never reverses is greater than twice its mean. What each section lets through of it is
held by a bound that asks for no phase and no quality: own derivation, held to impedances, where a rectifier blocks to
fixed steps, and for one section behind the rectifier to ngspice 39 (tests/study/test_netlist_forms.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import inf, pi, prod, sqrt
from typing import NamedTuple

from derate.circuit.numerics import in_range
from derate.terms.values import Collapse, Formula, Signs

_LEAST = 0.5  # by how much a lone section has to lie past its resonance
_FLOWS_ON = pi**2 / 3.0  # what all harmonics together may come to, over what is left of the first


class Section(NamedTuple):
    """What is in series towards the mains, and what is across behind that: [H], [ohm], [F]."""

    inductance: float
    resistance: float
    capacitance: float


class PassedOn(NamedTuple):
    """What the mains gives at the most once the filter has done its work: rms and greatest [A]."""

    rms: float
    peak: float


def passed_on(
    *, rms: float, peak: float, frequency: float, sections: Sequence[Section], ahead: int = 0, at: int = 0
) -> PassedOn:
    """What the line, or a choke of its filter, carries at the most: its mean over the pulses, and more.

    rms, peak: of the mean over each period [A]; frequency: of the slowest pulses [Hz]; sections: of the filter, from
    the mains on; ahead: how many of them stand ahead of the rectifier; at: in series with which of them, 0 for the
    line. Raises Collapse where the filter may ring with the pulses.

    Looked at from a capacitor C towards the mains there is a resistance r at least and a reactance x at least, and of
    the current behind it no more than 1 / (w C x − 1) goes on, and no more than 1 / (w C r). With the capacitor the
    reactance is at least −1 / (w C − 1/x) where w C x > 1, and −1 / (w C) − 1 / (2 r (w C)²) whatever x is, for what
    lies beside C is a circle through 0 and 1/r; what is in series with it adds w L. Any other resistance makes less of
    the first and nothing of the second. At n w each x is n times as great at least, so that of the nth harmonic a
    section leaves 1 / n² of that share, one that only its resistance holds 1 / n. With D the product of the divisors
    the peaks of all harmonics come to pi²/3 / D of the mean, their rms to sqrt(pi⁴/45) / D.

    A rectifier conducts on as long as what is left behind it is less than the mean. Where it may block, what it carries
    has the same mean still and never reverses: of a line ahead of it the sections ahead count alone, and of a line that
    begins at it all of them. That both hold while it blocks was stepped through (tests) and is not proved. A choke
    behind it has no figure then.

    >>> found = passed_on(rms=0.04, peak=0.06, frequency=1e5, sections=[Section(5e-4, 0.0, 1e-7)])
    >>> round(1e3 * found.rms, 2), round(1e3 * found.peak, 1)
    (40.12, 70.5)
    """
    turn = 2.0 * pi * frequency
    divisors, by_resistance, reactance = [], [], 0.0
    for inductance, resistance, capacitance in sections:
        in_range("inductance of the filter", inductance, 0.0, 1.0, "H")
        in_range("resistance of the filter", resistance, 0.0, 1e6, "ohm")
        in_range("capacitance of the filter", capacitance, 1e-11, 1e-2, "F")
        reactance += turn * inductance
        past, held = turn * capacitance * reactance - 1.0, turn * capacitance * resistance
        divisors.append(max(past, held))
        by_resistance.append(past < held)
        reactance = max(
            -reactance / past if past > 0.0 else -inf,
            -(1.0 + 0.5 / held) / (turn * capacitance) if held > 0.0 else -inf,
        )
    behind = _of_all(divisors[ahead:], by_resistance[ahead:])
    flows_on = behind >= _FLOWS_ON
    last = len(sections) if flows_on or at == ahead == 0 else ahead
    whole = _of_all(divisors[at:last], by_resistance[at:last])
    if whole < _LEAST:
        raise Collapse("the filter is no slower than the pulses: what is ahead carries them, and may ring with them")
    return PassedOn(rms * sqrt(1.0 + pi**4 / 45.0 / whole**2), peak * (1.0 + _FLOWS_ON / whole))


def _of_all(divisors: list[float], by_resistance: list[bool]) -> float:
    """By how much several sections divide the first harmonic, and the nth by n² times that at least; else 0."""
    slow = len(divisors) == 1 and by_resistance[0]
    return 0.0 if slow or min(divisors, default=0.0) <= 0.0 else prod(divisors)


# ---- signs -----------------------------------------------------------------------------------------------------------


@lru_cache(maxsize=64)
def ladder(count: int, ahead: int, at: int) -> Formula:
    """The formula of so many sections, whose inputs bear the number of theirs: `inductance_1` and so on."""
    names = [tuple(f"{what}_{k}" for what in Section._fields) for k in range(1, count + 1)]

    def solve(*, frequency: float, rms: float = 0.0, peak: float = 0.0, **of: float) -> PassedOn:
        sections = [Section(*(of[name] for name in each)) for each in names]
        return passed_on(rms=rms, peak=peak, frequency=frequency, sections=sections, ahead=ahead, at=at)

    less: Signs = {"frequency": -1, **{name: -1 for each in names for name in each}}
    if count - 1 in (at, ahead):  # a resistance alone is no filter
        less = {name: sign for name, sign in less.items() if name != f"resistance_{count}"}
    ranges = {"rms": (0.01, 0.2), "peak": (0.02, 0.4), "frequency": (9e4, 1.1e5)}
    for inductance, resistance, capacitance in names:  # from a little ahead of its resonance to far past it
        ranges |= {inductance: (1e-5, 3e-3), resistance: (20.0, 60.0), capacitance: (9e-8, 3e-7)}
    return Formula(solve, {"rms": {"rms": 1, **less}, "peak": {"peak": 1, **less}}, ranges)
