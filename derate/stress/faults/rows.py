"""Single faults: the list of the mains path, whether a part opens and when, what every fault has in common."""

from __future__ import annotations

from collections.abc import Callable
from math import inf
from typing import Literal

from derate.circuit.pulse import log_log
from derate.design.structure import PROTECTIVE, MainsInput, Structure, leaves
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.stress.context import Context, part
from derate.stress.mains.line import hot
from derate.stress.mains.path_parts import melting_of_track
from derate.terms.dimension import CURRENT, POWER
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Category, Curve, Value, written
from derate.terms.words import RESISTORS

# Whether a protective part opens at a fault's current, and within what time: from its maker's table, or the gates of
# the standard it is rated to. Without either nothing is assumed.
#
# Opening is asked of the least current the fault can draw: the part must open there too. A table is read on two
# logarithmic axes between its points; above its last point the time of that point holds, below its first nothing
# does. Between 10 ms and the first point there is no data and nothing is read out of a melting I²t.


# Multiple of the rating and the longest time [s] to open at it: of every sheet of IEC 60127-2 and -3 the slowest; of
# UL 248-14. Read in data sheets 617 (2015), 218 and 372 (2018) and more, three agree on each; the standards
# themselves were not opened.
GATES = {
    "IEC 60127": ((2.1, 1800.0), (2.75, 80.0), (4.0, 5.0), (10.0, 0.3)),
    "UL 248-14": ((1.35, 3600.0), (2.0, 120.0)),
    "": ((2.1, 1800.0), (2.75, 120.0)),  # whichever of the two it is
}
# Least breaking capacity of any fuse to the two standards [A]: read in the same sheets, 35 to 1500 A.
LEAST_BROKEN = 35.0
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


def opens(
    context: Context, name: str, current: Value, ohms: Value, fast: float | None = None, alternate: bool = False
) -> Opening:
    """Whether a part opens at the least of the rms current [A], its own resistance [ohm] at its least.

    alternate: the current flows in every other half cycle, in each as that of both would
    fast: longest time [s] the fault takes to reach the part's greatest clearing I²t, when that is known
    """
    structure = context.structure
    if structure.must_be(name, "fuse"):
        found = _fuse(context, name, current, fast)
        return _broken(context, name, current.scaled(2.0**0.5) if alternate else current, found)
    if structure.must_be(name, "board track"):
        melting = melting_of_track(context, name).value
        at = f" at {written(melting.near, 2)} to {written(melting.far, 2)} A²s" if isinstance(melting, Value) else ""
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
        why = f"{written(current.low)} A is below what {name} is sure to open at" + (
            f", {written(least)} A" if least else ""
        )
        return Opening(
            name, False, None, why, lacks=() if rating is not None else (OpenFact(subject, "rated.current"),)
        )
    row: Entry | None
    by_table = _within(curve, current.low) if curve is not None else None
    if table is not None and by_table == time:
        why, row = f"opening table of {name}", table
    else:
        standard = context.word(subject, "part.standard") or "either standard"
        why, row = (
            f"{written(current.low / (rating or 1.0))} times the rating of {name}, gates of {standard}",
            rating_row,
        )
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


def _broken(context: Context, name: str, current: Value, found: Opening) -> Opening:
    """What a fuse does that may have to break more than it can: above its breaking capacity it clears nothing.

    current: rms of a whole cycle of the fault [A]. Above its breaking capacity a fuse does not put out its arc, and
    bursts (IEC 60127-1, breaking capacity): nothing is shown that it cannot break over the whole range of the current.
    """
    if not found.shown:
        return found
    row = context.fact(part(name), "rated.breaking_capacity")
    rated = row.value if row is not None else None
    if not isinstance(rated, Value):
        if current.high <= LEAST_BROKEN:
            return found
        missing = row.missing if row is not None and row.missing else (OpenFact(part(name), "rated.breaking_capacity"),)
        why = f"whether {name} can break {written(current.high)} A is not known: it may melt and go on arcing"
        return Opening(name, False, None, why, found.rows, found.rests_on, lacks=missing)
    assert row is not None
    if current.high <= rated.low:
        return found._replace(rows=(*found.rows, row.number), rests_on=found.rests_on | row.rests_on)
    if current.low > rated.high:
        most, asked = written(rated.high), written(current.low)
        why = f"{name} can break {most} A and would have to break {asked} A and more: it arcs on"
        return Opening(name, False, None, why, (*found.rows, row.number), found.rests_on | row.rests_on)
    why = f"{name} can break {written(rated.low)} A and may have to break up to {written(current.high)} A"
    lacks = (OpenFact(SUPPLY, "site.mains_resistance"),)
    return Opening(name, False, None, why, (*found.rows, row.number), found.rests_on | row.rests_on, lacks=lacks)


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
            f"{written(power)} W is below {written(curve.least)} W, where the maker's table begins: it glows",
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
        source="the opening table of its data sheet",
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


# The list of single faults of the mains path, and what every single fault has in common.


# Every single fault of the mains path that the parts and their places give rise to, in the order the current flows.
#
# The list is made from what is joined to what, never from what happens to be known: a fault that cannot be computed
# stays on it, for the bench, with the reason.


Course = Literal[
    "full wave",
    "half wave",
    "reversed bulk",
    "behind the winding",
    "runs on one pair",
    "lumped",
    "without thermistor",
    "no current",
    "shock",
    "partial",
    "bench",
]


class Fault(NamedTuple):
    """One single fault.

    name: as a test on the bench names it; part: the part it happens in
    shape: what the current does; ahead: parts it flows through, in order
    hard: a short that something has to clear, so that a rule may ask for it
    why: for a fault without figures, the reason
    """

    name: str
    part: str
    shape: Course
    ahead: tuple[str, ...] = ()
    hard: bool = False
    why: str = ""

    @property
    def subject(self) -> Subject:
        """The part, or the winding TRANSFORMER.WINDING."""
        return Subject("winding", (self.part,)) if "." in self.part else part(self.part)


def mains_faults(structure: Structure) -> tuple[Fault, ...]:
    """The faults of the mains path, the switch and what bridges the barrier."""
    mains = structure.inlet
    found: list[Fault] = []
    if mains is not None:
        path = (*mains.series, *mains.behind)
        found += _across(structure, mains)
        found += _series(structure, mains, path)
        found += _rectifier(mains, path)
        found += _bulk(mains, path)
        found += [Fault(f"{name} shorted", name, "full wave", ahead, hard=True) for name, ahead in structure.own.shorts]
        switch, sense = structure.own.switch, structure.own.sense
        if switch is not None:
            through = (*path, *mains.choke, *((sense,) if sense else ()))
            found.append(_switch_shorted(structure, switch, through))
        found += [
            Fault(f"partial short behind {name}", name, "partial", path)
            for name in path
            if structure.may_be(name, *_HEATED)
        ]
    for bridge in structure.bridges or ():
        for leaf in leaves(bridge.element):
            across = " across the barrier" if structure.may_be(leaf.name, "optocoupler") else ""
            found.append(Fault(f"{leaf.name} shorted{across}", leaf.name, "shock", tuple(bridge.names)))
    return tuple(found)


def _switch_shorted(structure: Structure, switch: str, through: tuple[str, ...]) -> Fault:
    """The bulk drives through winding and resistors what the copper lets it; nothing else may stand on that path.

    A capacitor passes nothing of it, a second switch decides when anything flows at all.
    """
    beside = structure.own.beside
    said = f"{switch} shorted"
    others = [name for name in beside if not structure.must_be(name, *RESISTORS)]
    if others:
        why = f"what flows is decided by {' and '.join(others)} on the same path"
        return Fault(said, switch, "bench", through, hard=True, why=why)
    return Fault(said, switch, "behind the winding", (*through, *beside), hard=True)


_HEATED = ("fuse", *RESISTORS, "NTC thermistor")


def _across(structure: Structure, mains: MainsInput) -> list[Fault]:
    found = []
    for shunt in mains.shunts:
        ahead = mains.series[: shunt.behind]
        for leaf in leaves(shunt.element):
            name = leaf.name
            if structure.must_be(name, *RESISTORS):
                why = "the plug is no longer discharged through it"
                found.append(Fault(f"{name} open", name, "no current", why=why))
            elif shunt.to_earth:
                found.append(
                    Fault(
                        f"{name} shorted",
                        name,
                        "bench",
                        ahead,
                        why=("the current to earth depends on the earth of the house"),
                    )
                )
            elif len(shunt.names) > 1 and shunt.names != (name,) and _in_series(shunt.element):
                found.append(
                    Fault(
                        f"{name} shorted", name, "bench", ahead, why=("what is in series with it takes the whole mains")
                    )
                )
            else:
                found.append(Fault(f"{name} shorted", name, "full wave", ahead, hard=True))
    return found


def _in_series(element: object) -> bool:
    return getattr(element, "joined", "") == "series"


def _series(structure: Structure, mains: MainsInput, path: tuple[str, ...]) -> list[Fault]:
    found = []
    for name in path:
        if structure.may_be(name, "NTC thermistor"):
            found.append(Fault(f"{name} shorted", name, "without thermistor", path))
            found.append(Fault(f"{name} open", name, "no current", why="the supply gets no mains"))
        elif structure.may_be(name, "choke", "common-mode choke"):
            found.append(
                Fault(
                    f"{name} shorted",
                    name,
                    "no current",
                    why=("no more flows than before; the switch-on entries already take its least inductance"),
                )
            )
    for name in mains.choke:
        found.append(Fault(f"{name} shorted", name, "lumped", path))
    return found


def _rectifier(mains: MainsInput, path: tuple[str, ...]) -> list[Fault]:
    found = []
    whole = len(mains.rectifier) == 1 and mains.input != "half-wave"
    for name in mains.rectifier:
        said = f"{name} one diode" if whole else name
        if mains.input == "doubler":
            found += _doubler_diode(mains, path, name, said)
        elif mains.input == "half-wave":
            found.append(Fault(f"{said} shorted", name, "reversed bulk", path))
            found.append(Fault(f"{said} open", name, "no current", why="the supply gets no mains"))
        else:
            found.append(Fault(f"{said} shorted", name, "half wave", path, hard=True))
            found.append(Fault(f"{said} open", name, "runs on one pair", path))
    return found


def _doubler_diode(mains: MainsInput, path: tuple[str, ...], name: str, said: str) -> list[Fault]:
    """Of two diodes each charges one capacitor; in a bridge with a strap it depends on which of the four it is."""
    opened = (
        "its capacitor is no longer charged, and the current of the other one empties it and drives it into reverse; "
        "how far depends on the voltage at which the converter stops"
    )
    if len(mains.rectifier) == 2:
        return [
            Fault(f"{said} shorted", name, "reversed bulk", path),
            Fault(f"{said} open", name, "bench", path, why=opened),
        ]
    which = "of four diodes two short the mains, two put alternating voltage on a capacitor; which is which is not said"
    return [Fault(f"{said} {how}", name, "bench", path, why=why) for how, why in (("shorted", which), ("open", opened))]


def _bulk(mains: MainsInput, path: tuple[str, ...]) -> list[Fault]:
    found = []
    # A bulk that is the rectified mains: no voltage is above that of the running rows, and the switch opens at its
    # limit (overload rows); what the mains gives follows the control of the converter, for which a file has no model.
    alone = sum(1 for element in mains.bulk for _ in leaves(element)) == 1
    why = (
        (
            "the bulk falls to nothing between the half cycles and the converter starts and stops with them; what it "
            "draws "
            "meanwhile its control decides, up to the current of the overload entries"
        )
        if alone
        else "what is left of the bulk carries the load with a deeper valley, which is not computed"
    )
    for k, element in enumerate(mains.bulk):
        for leaf in leaves(element):
            through = (*path, *mains.choke) if k else path
            if mains.input == "doubler":  # its diode shorts alternate half cycles, the other one stays at the crest
                found.append(Fault(f"{leaf.name} shorted", leaf.name, "half wave", path, hard=True))
            else:
                found.append(Fault(f"{leaf.name} shorted", leaf.name, "full wave", through, hard=True))
            found.append(Fault(f"{leaf.name} open", leaf.name, "bench", path, why=why))
    return found


# What every single fault has in common: the parts in its path, what they tell of opening, and its rows.


MAINS = Subject("mains")


def path(context: Context, fault: Fault, without: str = "") -> list[tuple[str, Entry]]:
    """Each part the fault current flows through, with the resistance it may have then."""
    return [(name, _resistance(context, name)) for name in fault.ahead if name != without]


def _resistance(context: Context, name: str) -> Entry:
    """Of one part during a fault: a thermistor anywhere from hot to cold at 25 degC."""
    row = hot(context, name)
    if not context.structure.may_be(name, "NTC thermistor") or not isinstance(row.value, Value):
        return row
    cold = context.fact(part(name), "part.resistance")
    known = cold.value if cold is not None else None
    if isinstance(known, Curve):
        known = known.points[0][1]
    if cold is None or not isinstance(known, Value):
        return row
    return context.ledger.write(
        part(name),
        "series_resistance",
        Value(  # stated less cold than hot it is one of the two still
            min(row.value.low, known.low),
            min(row.value.near, known.near),
            max(row.value.far, known.far),
            max(row.value.high, known.high),
        ),
        case=Case("resistance in a fault"),
        known_by="computed",
        inputs=(row.number, cold.number),
        rests_on=row.rests_on | cold.rests_on,
        formula="from hot to cold",
        source="it may come at any time",
    )


def ohms_of(rows: list[tuple[str, Entry]], name: str) -> Value:
    """Resistance of one part of the path; nothing known: none."""
    value = next(row.value for n, row in rows if n == name)
    return value if isinstance(value, Value) else Value.exact(0.0)


def rows_of(fault: Fault, subject: Subject, quantity: QuantityName) -> tuple[Subject, ...]:
    """Whose row this is: of a hard short the word on opening and its time stand for the mains side as a whole too."""
    return (subject, MAINS) if fault.hard and quantity in ("opening", "time_to_open") else (subject,)


def tell(
    context: Context,
    fault: Fault,
    case: Case,
    current: Entry,
    found: list[Opening],
    rows: list[tuple[str, Entry]],
    before: str = "",
) -> None:
    """Opening, time, let-through and what is over its limit meanwhile, from what each protective part does."""
    ledger, subject = context.ledger, fault.subject
    shown = [one for one in found if one.shown and one.time is not None]
    inputs = (current.number, *(n for one in found for n in one.rows))
    rests = current.rests_on.union(*(one.rests_on for one in found))
    if shown:
        first = min(shown, key=lambda one: one.time or 0.0)
        word, note = "shown", first.why
    elif found:
        first, word, note = found[0], "not shown", "; ".join(one.why for one in found)
    else:
        first, word, note = None, "not shown", "nothing that is made to open stands in this path"
    note = before + note
    through: Value | None = None
    if shown and first is not None and first.time is not None and isinstance(current.value, Value):
        most = first.let_through
        through = Value(0.0, 0.0, most, most)
        note += meanwhile(context, rows, most) + _heated(context, rows, current.value)
    lacks = tuple(fact for one in found for fact in one.lacks) if not shown else ()
    words = ("not shown", "shown") if lacks else (word,)  # with the facts that nobody has looked up it may be either
    for who in rows_of(fault, subject, "opening"):
        ledger.write(
            who,
            "opening",
            Category.of(*words),
            case=case,
            known_by="computed",
            inputs=inputs,
            rests_on=rests,
            formula="least fault current against the opening data",
            missing=lacks,
            note=note,
            source="opening tables of data sheets; gates of IEC 60127-2 and of UL 248-14 as data sheets print them",
        )
    ledger.write(
        subject,
        "cleared_by",
        Category.of(first.name if first is not None and shown else "none"),
        case=case,
        known_by="computed",
        inputs=inputs,
        formula="the first to open of those shown to",
        source="see opening",
    )
    if through is None or first is None or first.time is None:
        for quantity in ("time_to_open", "let_through"):
            for who in rows_of(fault, subject, quantity):
                ledger.hole(who, quantity, lacks, case=case, note=note, inputs=inputs, rests_on=rests)
        return
    for who in rows_of(fault, subject, "time_to_open"):
        ledger.write(
            who,
            "time_to_open",
            Value(0.0, 0.0, first.time, first.time),
            case=case,
            known_by="computed",
            inputs=inputs,
            rests_on=rests,
            formula="longest time of the opening data",
            source="see opening",
            note=note,
        )
    ledger.write(
        subject,
        "let_through",
        through,
        case=case,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula="greatest of current² × longest time over the range of the current; of a fast fuse its clearing I²t",
        source="definition",
        note=note,
    )


_PLAIN = ("film resistor", "metal oxide resistor", "wirewound resistor")


def _heated(context: Context, rows: list[tuple[str, Entry]], current: Value) -> str:
    """Power in the resistors of the path that are not made to open, the sense resistor among them."""
    told = [
        f"; {name} takes {written(row.value.near * current.near**2)} W and more"
        for name, row in rows
        if context.structure.must_be(name, *_PLAIN) and isinstance(row.value, Value)
    ]
    return "".join(told)


def meanwhile(context: Context, rows: list[tuple[str, Entry]], i2t: float) -> str:
    """What else is over its surge limit until the fault is cleared."""
    told = []
    for name in context.structure.mains.rectifier if context.structure.mains is not None else ():
        curve = context.curve(part(name), "rated.surge_current")
        if curve is None:
            told.append(f"whether {name} survives is not known, its surge rating is not stated")
            continue
        length, surge = curve.points[0]
        limit = surge.near**2 * length / 2.0
        if i2t > limit:
            told.append(
                f"{name} is over its surge limit of {written(limit)} A²s meanwhile, up to {written(i2t)} A²s may pass"
            )
    for name, row in rows:
        energy = context.value(part(name), "rated.energy")
        if energy is not None and isinstance(row.value, Value) and row.value.near * i2t > energy.near:
            told.append(f"{name} is over its energy rating of {written(energy.near)} J meanwhile")
    return "".join(f"; {one}" for one in told)


def no_current(context: Context, fault: Fault, case: Case) -> None:
    if fault.shape == "bench":
        note = f"for the bench: {fault.why}"
        context.ledger.hole(fault.subject, "fault_current", (), case=case, note=note, mark="bench")
        context.ledger.hole(fault.subject, "opening", (), case=case, note=note, mark="bench")
        return
    why = fault.why
    if fault.shape == "shock":
        rest = [name for name in fault.ahead if name != fault.part]
        why = (
            f"shock: {' + '.join(rest)} alone is left across the barrier"
            if rest
            else ("shock: the output is joined to the mains side, and nothing opens")
        )
    nothing_to_open(context, fault, case, why, ())


def nothing_to_open(context: Context, fault: Fault, case: Case, why: str, inputs: tuple[int, ...]) -> None:
    context.ledger.write(
        fault.subject,
        "opening",
        Category.of("nothing to open"),
        case=case,
        known_by="computed",
        inputs=inputs,
        formula="no current beyond what runs",
        source="the circuit",
        note=why,
    )
