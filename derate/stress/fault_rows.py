"""What every single fault has in common: the parts in its path, what they tell of opening, and its rows."""

from __future__ import annotations

from derate.ledger.entry import Case, Entry, Subject
from derate.stress.context import Context, part
from derate.stress.fault_list import Fault
from derate.stress.opening import Opening
from derate.stress.resistance import hot
from derate.terms.quantities import QuantityName
from derate.terms.values import Category, Curve, Value

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
        part(name), "series_resistance", Value(row.value.low, row.value.near, known.far, known.high),
        case=Case("resistance in a fault"), known_by="computed", inputs=(row.number, cold.number),
        rests_on=row.rests_on | cold.rests_on, formula="from hot to cold", source="it may come at any time",
    )  # fmt: skip


def ohms_of(rows: list[tuple[str, Entry]], name: str) -> Value:
    """Resistance of one part of the path; nothing known: none."""
    value = next(row.value for n, row in rows if n == name)
    return value if isinstance(value, Value) else Value.exact(0.0)


def whom(fault: Fault, subject: Subject, quantity: QuantityName) -> tuple[Subject, ...]:
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
    for who in whom(fault, subject, "opening"):
        ledger.write(
            who, "opening", Category.of(word), case=case, known_by="computed", inputs=inputs, rests_on=rests,
            formula="least fault current against the opening data", missing=lacks, note=note,
            source="the makers' opening tables, and the gates of IEC 60127 and UL 248-14",
        )  # fmt: skip
    ledger.write(
        subject, "cleared_by", Category.of(first.name if first is not None and shown else "none"), case=case,
        known_by="computed", inputs=inputs, formula="the first to open of those shown to", source="see opening",
    )  # fmt: skip
    if through is None or first is None or first.time is None:
        for quantity in ("time_to_open", "let_through"):
            ledger.hole(subject, quantity, lacks, case=case, note=note, inputs=inputs, rests_on=rests)
        return
    ledger.write(
        subject, "time_to_open", Value(0.0, 0.0, first.time, first.time), case=case, known_by="computed",
        inputs=inputs, rests_on=rests, formula="longest time of the opening data", source="see opening", note=note,
    )  # fmt: skip
    ledger.write(
        subject, "let_through", through, case=case, known_by="computed", inputs=inputs, rests_on=rests,
        formula="greatest of current² × longest time over the range of the current; of a fast fuse its clearing I²t",
        source="definition", note=note,
    )  # fmt: skip


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
        why = f"shock: {' + '.join(rest)} alone is left across the barrier" if rest else (
            "shock: the output is joined to the mains side, and nothing opens")  # fmt: skip
    nothing_to_open(context, fault, case, why, ())


def nothing_to_open(context: Context, fault: Fault, case: Case, why: str, inputs: tuple[int, ...]) -> None:
    context.ledger.write(
        part(fault.part), "opening", Category.of("nothing to open"), case=case, known_by="computed", inputs=inputs,
        formula="no current beyond what runs", source="the circuit", note=why,
    )  # fmt: skip
