"""The dead zone of a partial short when its figures are ranges: the band over all of them, and what is left for sure.

A fault of resistance x across the bulk drives I = V / (r + q + x) through an element r with q in the rest of its path.
It overheats the element where I²r is above its rated power, or I above its rated current; something opens where I²r
reaches the element's opening power, or I the current at which a fuse in the path is sure to open. In between nothing
does: that is the dead zone. An empty one, whatever the values within their ranges, is the only pass.

Source: Ohm's law and Joule's; the bulk capacitor left out (`partial_short.series_power` has it). Where the ends lie is
derived below, and proved in tests/circuit/test_dead_zone.py by scans of random ranges.
"""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

from derate.circuit.bands import in_range
from derate.circuit.partial_short import DeadZone

Span = tuple[float, float]


class Limits(NamedTuple):
    """What overheats an element and what opens, infinite where there is no such figure [W, A]."""

    rated_power: float = inf
    rated_current: float = inf
    opening_power: float = inf
    opening_current: float = inf


def widest(mains: Span, element: Span, rest: Span, limits: Limits) -> DeadZone | None:
    """The least and the greatest fault resistance [ohm] of any dead zone within the ranges; None: all are empty.

    mains: least and greatest rms voltage that drives the current [V], 0 to 1000; the least with the diodes' drop taken
    off (Minkowski: the rms of |v| - drop is at least the rms of v less the drop)
    element, rest: least and greatest resistance of the element and of all else in its path [ohm], up to 1e5
    limits: rated figures at their least, opening figures at their greatest
    Exact in its upper end and in being empty. The lower end may be too low where a part of the range of the element
    has no dead zone: the band is never too narrow. lowest 0: not even a dead short opens anything.
    """
    _check(mains, element, rest, limits)
    power, amps, opens, fuse = limits
    least, most = element
    found: list[DeadZone] = []
    # Overheated by power. The ends x = V sqrt(r/P) - r - q lie apart only while P is below the opening power and
    # P/r below the square of the fuse's current: the element has to be above P / fuse².
    from_ohms = max(least, power / fuse**2)
    if power < opens and (fuse == inf or power / fuse**2 < most):
        # concave in r, its crest at r = V² / 4P
        crest = min(max(mains[1] ** 2 / (4.0 * power), from_ohms), most)
        highest = mains[1] * sqrt(crest / power) - crest - rest[0]
        found += _zone(highest, mains[0], (from_ohms, most), rest[1], opens, fuse)
    # Overheated by current: the ends x = V/I - r - q; apart while I is below the fuse's and I²r below the opening power
    if amps < fuse and (opens == inf or opens / amps**2 > least):
        upto = min(most, opens / amps**2)
        found += _zone(mains[1] / amps - least - rest[0], mains[0], (least, upto), rest[1], opens, fuse)
    if not found:
        return None
    return DeadZone(min(zone.lowest for zone in found), max(zone.highest for zone in found))


def _zone(highest: float, mains: float, element: Span, rest: float, opens: float, fuse: float) -> list[DeadZone]:
    if highest <= 0.0:  # not even a dead short overheats it
        return []
    # x = max(V / fuse, V sqrt(r/P)) - r - q falls up to the kink at r = P / fuse², then is concave: least there or at
    # an end
    tried = [*element, min(max(opens / fuse**2, element[0]), element[1]) if fuse < inf else element[0]]
    lowest = min(max(mains / fuse, mains * sqrt(r / opens)) - r - rest for r in tried)
    return [DeadZone(max(0.0, lowest), highest)]


def certain(mains: Span, element: Span, rest: Span, limits: Limits) -> DeadZone | None:
    """Ends [ohm] no further apart than those of the dead zone, whatever the values within the ranges; None: there may
    be no dead zone.

    As `widest`, but limits: rated figures at their greatest, opening figures at their least
    lowest: above every lower end, highest: below every upper end, so that highest / lowest is the least ratio that is
    sure; below one where the ranges are wide, though there is a band for each of their values.
    """
    _check(mains, element, rest, limits)
    power, amps, opens, fuse = limits
    least, most = element
    ends: list[float] = []
    if power < opens and (fuse == inf or power / fuse**2 < least):
        ends.append(min(mains[0] * sqrt(r / power) - r - rest[1] for r in element))  # concave: least at an end
    if amps < fuse and (opens == inf or opens / amps**2 > most):
        ends.append(mains[0] / amps - most - rest[1])
    if not ends or max(ends) <= 0.0:
        return None
    crest = min(max(mains[1] ** 2 / (4.0 * opens), least), most)
    by_power = mains[1] * sqrt(crest / opens) - crest
    return DeadZone(max(0.0, max(by_power, mains[1] / fuse - least) - rest[0]), max(ends))


def _check(mains: Span, element: Span, rest: Span, limits: Limits) -> None:
    for volts in mains:
        in_range("mains voltage", volts, 0.0, 1000.0, "V")
    for ohms in element:
        in_range("series resistance", ohms, 0.0, 1e5, "ohm", open_low=True)
    for ohms in rest:
        in_range("resistance of the rest of the path", ohms, 0.0, 1e5, "ohm")
    if mains[0] > mains[1] or element[0] > element[1] or rest[0] > rest[1]:
        raise ValueError("the ends of a range do not rise: state the lesser first")
    rated = ("rated power", limits.rated_power, "W"), ("rated current", limits.rated_current, "A")
    opening = ("opening power", limits.opening_power, "W"), ("opening current", limits.opening_current, "A")
    for name, figure, unit in (*rated, *opening):
        if figure != inf:
            in_range(name, figure, 1e-6, 1e7, unit)
    if limits.rated_power == inf and limits.rated_current == inf:
        raise ValueError("no rated power or current: state what the element may take for ever")
