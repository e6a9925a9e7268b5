"""The list of single faults of the mains path, and what every single fault has in common."""

from __future__ import annotations

from typing import Literal, NamedTuple

from derate.design.paths import leaves
from derate.design.structure import MainsInput, Structure
from derate.ledger.entry import Case, Entry, Subject
from derate.stress.context import Context, part
from derate.stress.faults.opening import Opening
from derate.stress.mains.resistance import hot
from derate.terms.quantities import QuantityName
from derate.terms.values import Category, Curve, Value
from derate.terms.words import RESISTORS

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


def mains_faults(structure: Structure) -> tuple[Fault, ...]:
    """The faults of the mains path, the switch and what bridges the barrier."""
    mains = structure.mains
    found: list[Fault] = []
    if mains is not None:
        path = (*mains.series, *mains.behind)
        found += _across(structure, mains)
        found += _series(structure, mains, path)
        found += _rectifier(mains, path)
        found += _bulk(mains, path)
        switch, sense = structure.own.switch, structure.own.sense
        if switch is not None:
            through = (*path, *mains.choke, *((sense,) if sense else ()))
            found.append(Fault(f"{switch} shorted", switch, "behind the winding", through, hard=True))
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
                    why=("no more flows than before; the switch-on rows already take its least inductance"),
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
            "meanwhile its control decides, up to the current of the overload rows"
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
        Value(row.value.low, row.value.near, known.far, known.high),
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
    """Whose row this is: of a hard short the word on opening stands for the mains side as a whole too."""
    return (subject, MAINS) if fault.hard and quantity == "opening" else (subject,)


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
    ledger, subject = context.ledger, part(fault.part)
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
    for who in rows_of(fault, subject, "opening"):
        ledger.write(
            who,
            "opening",
            Category.of(word),
            case=case,
            known_by="computed",
            inputs=inputs,
            rests_on=rests,
            formula="least fault current against the opening data",
            missing=lacks,
            note=note,
            source="the makers' opening tables, and the gates of IEC 60127 and UL 248-14",
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
            ledger.hole(subject, quantity, lacks, case=case, note=note, inputs=inputs, rests_on=rests)
        return
    ledger.write(
        subject,
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
        f"; {name} takes {row.value.near * current.near**2:.3g} W and more"
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
            told.append(f"{name} is over its surge limit of {limit:.3g} A²s meanwhile, up to {i2t:.3g} A²s may pass")
    for name, row in rows:
        energy = context.value(part(name), "rated.energy")
        if energy is not None and isinstance(row.value, Value) and row.value.near * i2t > energy.near:
            told.append(f"{name} is over its energy rating of {energy.near:.3g} J meanwhile")
    return "".join(f"; {one}" for one in told)


def no_current(context: Context, fault: Fault, case: Case) -> None:
    if fault.shape == "bench":
        note = f"for the bench: {fault.why}"
        context.ledger.hole(part(fault.part), "fault_current", (), case=case, note=note, mark="bench")
        context.ledger.hole(part(fault.part), "opening", (), case=case, note=note, mark="bench")
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
        part(fault.part),
        "opening",
        Category.of("nothing to open"),
        case=case,
        known_by="computed",
        inputs=inputs,
        formula="no current beyond what runs",
        source="the circuit",
        note=why,
    )
