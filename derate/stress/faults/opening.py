"""Whether a protective part opens at a fault's current, and within what time: from its maker's table, or the gates of
the standard it is rated to. Without either nothing is assumed.

Opening is asked of the least current the fault can draw: the part must open there too. A table is read on two
logarithmic axes between its points; above its last point the time of that point holds, below its first nothing does.
Between 10 ms and the first point there is no data and nothing is read out of a melting I²t.
"""

from __future__ import annotations

from collections.abc import Callable
from math import inf
from typing import NamedTuple

from derate.circuit.pulse import log_log
from derate.design.structure import PROTECTIVE
from derate.ledger.entry import Entry, OpenFact
from derate.stress.context import Context, part
from derate.stress.mains.path_parts import melting_of_track
from derate.terms.dimension import CURRENT, POWER
from derate.terms.values import Curve, Value

# Multiple of the rating and the longest time [s] to open at it: of every sheet of IEC 60127-2 and -3 the slowest; of
# UL 248-14. Read in makers' sheets (three agree on each); the standards themselves were not opened.
GATES = {
    "IEC 60127": ((2.1, 1800.0), (2.75, 80.0), (4.0, 5.0), (10.0, 0.3)),
    "UL 248-14": ((1.35, 3600.0), (2.0, 120.0)),
    "": ((2.1, 1800.0), (2.75, 120.0)),  # whichever of the two it is
}
ADIABATIC = 0.010  # [s] below which no heat leaves the wire and a melting I²t is a constant


class Opening(NamedTuple):
    """What one part does: shown to open or not, the longest time [s], the rows it rests on, and why in words.

    let_through: the greatest I²t it may let through over the range of the current [A²s]
    """

    name: str
    shown: bool
    time: float | None
    why: str
    rows: tuple[int, ...] = ()
    rests_on: frozenset[OpenFact] = frozenset()
    let_through: float = inf
    lacks: tuple[OpenFact, ...] = ()


def protective_parts(context: Context, names: tuple[str, ...]) -> tuple[str, ...]:
    """Those of the parts in a path that are made to open, or that do so by being thin copper."""
    return tuple(name for name in names if context.structure.may_be(name, *PROTECTIVE))


def opens(context: Context, name: str, current: Value, ohms: Value, fast: float | None = None) -> Opening:
    """Whether a part opens at the least of the rms current [A], its own resistance [ohm] at its least.

    fast: longest time [s] the fault takes to reach the part's greatest clearing I²t, when that is known
    """
    structure = context.structure
    if structure.must_be(name, "fuse"):
        return _fuse(context, name, current, fast)
    if structure.must_be(name, "board track"):
        melting = melting_of_track(context, name).value
        at = f" at {melting.near:.2g} to {melting.far:.2g} A²s" if isinstance(melting, Value) else ""
        return Opening(name, False, None, f"{name} is a track: it melts{at}, and nobody has shown that it stays open")
    if structure.must_be(name, "fusible film resistor", "fusible wirewound resistor"):
        return _fusible(context, name, current, ohms)
    return Opening(
        name, False, None, f"whether {name} is made to open is not known", lacks=(OpenFact(part(name), "part.kind"),)
    )


def _fuse(context: Context, name: str, current: Value, fast: float | None) -> Opening:
    subject = part(name)
    clearing = context.value(subject, "rated.clearing_i2t")
    table = context.fact(subject, "rated.opens_within")
    curve = table.value if table is not None and isinstance(table.value, Curve) else None
    if curve is not None and curve.condition != CURRENT:
        curve = None
    rating, rating_row = _rating(context, name)
    gates = GATES.get(context.word(subject, "part.standard") or "", GATES[""])

    def by_gate(amps: float) -> float | None:
        passed = [time for multiple, time in gates if rating is not None and amps >= multiple * rating]
        return passed[-1] if passed else None

    def longest(amps: float) -> float | None:
        times = [t for t in (_within(curve, amps) if curve is not None else None, by_gate(amps)) if t is not None]
        return min(times) if times else None

    time = longest(current.low)
    if fast is not None and fast <= ADIABATIC and clearing is not None:
        rows = tuple(row.number for row in (context.fact(subject, "rated.clearing_i2t"),) if row is not None)
        return Opening(name, True, fast, f"clearing I²t of {name}", rows, frozenset(), clearing.high)
    if time is None:
        least = gates[0][0] * rating if rating is not None else None
        why = f"{current.low:.3g} A is below what {name} is sure to open at" + (f", {least:.3g} A" if least else "")
        return Opening(
            name, False, None, why, lacks=() if rating is not None else (OpenFact(subject, "rated.current"),)
        )
    row: Entry | None
    by_table = _within(curve, current.low) if curve is not None else None
    if table is not None and by_table == time:
        why, row = f"opening table of {name}", table
    else:
        standard = context.word(subject, "part.standard") or "either standard"
        why, row = f"{current.low / (rating or 1.0):.3g} times the rating of {name}, gates of {standard}", rating_row
    fast_i2t = clearing.high if clearing is not None else inf
    return Opening(
        name,
        True,
        time,
        why,
        (row.number,) if row is not None else (),
        row.rests_on if row is not None else frozenset(),
        _greatest(longest, current, fast_i2t),
    )


def _rating(context: Context, name: str) -> tuple[float | None, Entry | None]:
    """Rated current of a fuse [A], at its greatest, and its row."""
    row = context.fact(part(name), "rated.current")
    value = row.value if row is not None else None
    if isinstance(value, Curve):
        value = value.points[0][1]
    return (value.high, row) if isinstance(value, Value) else (None, row)


def _greatest(longest: Callable[[float], float | None], current: Value, fast_i2t: float = inf) -> float:
    """Greatest current² × longest time over the range of the current: sampled, a table is straight between points.

    fast_i2t: clearing I²t [A²s], which is all that passes where the current reaches it within half of 10 ms
    """
    low, high = current.low, current.high
    samples = [low * (high / low) ** (k / 48.0) for k in range(49)] if high > low > 0.0 else [high]
    # between two samples the time is at most that of the lower, the current at most the upper
    found = [
        fast_i2t if fast_i2t <= a * a * ADIABATIC / 2.0 else b * b * (longest(a) or inf)
        for a, b in zip(samples, samples[1:] or samples, strict=False)
    ]
    return max(found)


def _fusible(context: Context, name: str, current: Value, ohms: Value) -> Opening:
    table = context.fact(part(name), "rated.opens_within")
    power = ohms.low * current.low**2
    if table is None or not isinstance(table.value, Curve) or table.value.condition != POWER:
        return Opening(
            name,
            False,
            None,
            f"{name} has no opening table by power; none is ever assumed",
            lacks=(OpenFact(part(name), "rated.opens_within", "by power"),),
        )
    curve = table.value
    time = _within(curve, power)
    if time is None:
        return Opening(
            name,
            False,
            None,
            f"{power:.3g} W is below {curve.least:.3g} W, where the maker's table begins: it glows",
            (table.number,),
            table.rests_on,
        )
    through = _greatest(lambda amps: _within(curve, ohms.low * amps * amps), current)
    return Opening(name, True, time, f"opening table of {name}", (table.number,), table.rests_on, through)


def _within(curve: Curve, at: float) -> float | None:
    """Longest time of an opening table at a current or a power; None below its first point or without an upper end."""
    points = [(x, value.high) for x, value in curve.points if 0.0 < value.high < float("inf")]
    if not points or at < points[0][0]:
        return None
    if at >= points[-1][0]:
        return points[-1][1]
    return log_log(points, at)


def _first_sure(curve: Curve) -> float:
    """Where an opening table begins to promise a time; a point without an upper end promises none."""
    return next((x for x, value in curve.points if 0.0 < value.high < inf), inf)


def sure_power(context: Context, name: str) -> Entry | None:
    """The power above which a fusible resistor opens by its maker's table: where that table begins."""
    table = context.fact(part(name), "rated.opens_within")
    if table is None or not isinstance(table.value, Curve) or table.value.condition != POWER:
        return None
    least = _first_sure(table.value)
    if least == inf:
        return None
    known = context.fact(part(name), "opening_power")
    return known or context.ledger.write(
        part(name),
        "opening_power",
        Value.exact(least),
        known_by="computed",
        inputs=(table.number,),
        formula="where the opening table begins",
        source="the maker's table",
        rests_on=table.rests_on,
    )


def sure_current(context: Context, name: str) -> Value | None:
    """The rms current above which a fuse is sure to open within half an hour or an hour [A], as its rating ranges."""
    curve = context.curve(part(name), "rated.opens_within")
    point = _first_sure(curve) if curve is not None and curve.condition == CURRENT else inf
    rating = context.value(part(name), "rated.current") or _first(context.curve(part(name), "rated.current"))
    if rating is None:
        return Value.exact(point) if point < inf else None
    gate = GATES.get(context.word(part(name), "part.standard") or "", GATES[""])[0][0]
    return Value(*(min(gate * amps, point) for amps in rating.numbers()))


def _first(curve: Curve | None) -> Value | None:
    return curve.points[0][1] if curve is not None else None
