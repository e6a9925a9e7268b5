"""Partial short across the bulk: the band of fault resistance that overheats a series part and that nothing clears.

A fuse element opens only above its opening power or current; between that and its rating it glows, the dead zone.
The bulk capacitor is left out here; with it still there the band reaches further up (`derate faults` tells both).
"""

from __future__ import annotations

from derate.circuit.partial_short import ERROR, dead_zone
from derate.ledger.entry import Case, Entry
from derate.stress.context import Context, part
from derate.stress.fault_list import Fault
from derate.stress.fault_rows import nothing_to_open, path
from derate.stress.opening import sure_current, sure_power
from derate.stress.resistance import total
from derate.terms.values import Category, Value


def partial_short(context: Context, fault: Fault, case: Case) -> None:
    """The band of fault resistance across the bulk that overheats this part and that nothing in the path clears."""
    ledger, subject = context.ledger, part(fault.part)
    rows = path(context, fault)
    own = next(row for name, row in rows if name == fault.part)
    rated = rated_power(context, fault.part, own)
    series = total(context, rows, Case("fault path", fault=fault.name))
    opening = sure_power(context, fault.part)
    currents = [x for name in fault.ahead if context.structure.must_be(name, "fuse")
                if (x := sure_current(context, name)) is not None]  # fmt: skip
    inputs = tuple(row.number for row in (own, series, rated, opening) if row is not None)
    rests = frozenset().union(*(row.rests_on for row in (own, series, rated, opening) if row is not None))
    if rated is None or not isinstance(rated.value, Value) or not isinstance(series.value, Value) or not isinstance(
        own.value, Value
    ):  # fmt: skip
        missing = tuple(fact for row in (rated, series, own) if row is not None for fact in row.missing)
        note = "what this part may take for ever is not known"
        for quantity in ("dead_zone", "opening"):
            ledger.hole(subject, quantity, missing, case=case, note=note, inputs=inputs, rests_on=rests)
        return
    if own.value.near <= 0.0:  # a share of nothing is no proof that nothing overheats
        lacking = "part.hot_resistance" if context.structure.may_be(fault.part, "NTC thermistor") else "part.resistance"
        note = "its resistance in the fault may be anything from zero up: the band is not known"
        for quantity in ("dead_zone", "opening"):
            ledger.hole(subject, quantity, (f"{subject}: {lacking}",), case=case, note=note, inputs=inputs,
                        rests_on=rests)  # fmt: skip
        return
    ohms, limit = series.value.near, rated.value.near
    if case.mains is None:
        return
    share = own.value.near / ohms if ohms > 0.0 else 0.0
    try:
        band = _band(case.mains, ohms, share, limit, opening, currents)
    except ValueError as refused:  # outside the range of the formula: nothing can be said, which is a row as well
        for quantity in ("dead_zone", "opening"):
            ledger.hole(subject, quantity, (), case=case, note=str(refused), inputs=inputs, rests_on=rests)
        return
    if band is None:
        ledger.write(
            subject, "dead_zone", Value.exact(1.0), case=case, known_by="computed", inputs=inputs, rests_on=rests,
            formula="greatest over least fault resistance of the band", source="Ohm's law",
            note="no resistance overheats it without opening something",
        )  # fmt: skip
        nothing_to_open(context, fault, case, "no fault resistance overheats it without opening something", inputs)
        return
    low, high = band
    ratio = high / low if low > 0.0 else float("inf")
    does = "is more than the rating" if context.structure.must_be(fault.part, "fuse") else "overheats"
    does += " of" if does.startswith("is") else ""
    note = f"a fault of {low:.3g} to {high:.3g} ohm across the bulk {does} {fault.part} and nothing is shown to open"
    least = case.mains / (ohms + low)
    note += f"; up to {least * least * low:.3g} W in the fault" if low > 0.0 else ""
    ledger.write(
        subject, "dead_zone", Value(ratio * (1 + ERROR["lowest"][0]), ratio, ratio, ratio) if low > 0.0
        else Value.floor(1e3), case=case, known_by="computed", inputs=inputs, rests_on=rests,
        formula="greatest over least fault resistance of the band", source="Ohm's law", note=note,
    )  # fmt: skip
    ledger.write(
        subject, "opening", Category.of("not shown"), case=case, known_by="computed", inputs=inputs, rests_on=rests,
        formula="rated power, opening power and opening current against the fault's resistance", note=note,
        source="Ohm's law",
    )  # fmt: skip
    amps = [case.mains / (ohms + r) for r in (high, low)]
    ledger.write(
        subject, "fault_current", Value.between(*amps), case=case, known_by="computed", inputs=inputs, rests_on=rests,
        formula="mains / (R + fault resistance), over the band", source="Ohm's law",
    )  # fmt: skip


def widest(context: Context, fault: Fault, cases: tuple[Case, ...]) -> None:
    """The widest dead zone over the mains as one standing row of the part, for a rule to hold to."""
    ledger, subject = context.ledger, part(fault.part)
    rows = [row for case in cases if (row := ledger.find(subject, "dead_zone", case)) is not None]
    if not rows:
        return
    hole = next((row for row in rows if not isinstance(row.value, Value)), None)
    worst = max((row for row in rows if isinstance(row.value, Value)), key=lambda row: _near(row), default=None)
    numbers = tuple(row.number for row in rows)
    if worst is None or (hole is not None and _near(worst) <= 1.0):
        row = hole or rows[0]
        ledger.hole(subject, "dead_zone", row.missing, note=row.note, inputs=numbers, rests_on=row.rests_on)
        return
    ledger.write(
        subject, "dead_zone", worst.value, known_by="computed", inputs=numbers, rests_on=worst.rests_on,
        formula="the widest over the mains", source=worst.source, note=worst.note,
    )  # fmt: skip


def _near(row: Entry) -> float:
    return row.value.near if isinstance(row.value, Value) else 0.0


def _band(
    mains: float, ohms: float, share: float, limit: float, opening: Entry | None, currents: list[float]
) -> tuple[float, float] | None:
    """Least and greatest fault resistance [ohm] of the dead zone, the bulk capacitor left out; None: it is empty."""
    most = min((mains / amps - ohms for amps in currents), default=None)  # below it a fuse is sure to open
    low = 0.0 if most is None else max(0.0, min(mains / amps - ohms for amps in currents))
    if share <= 0.0:
        return None
    # the part is `share` of the series resistance: as if the whole took its rating over the share
    sure = opening.value.high / share if opening is not None and isinstance(opening.value, Value) else 1e6
    zone = dead_zone(mains, max(ohms, 0.01), limit / share, sure)
    if zone is None:
        return None
    if currents:
        sure_fuse = max(0.0, mains / min(currents) - ohms)
        low = max(zone.lowest, sure_fuse)
    else:
        low = zone.lowest
    return (low, zone.highest) if low < zone.highest else None


def rated_power(context: Context, name: str, own: Entry) -> Entry | None:
    """What a series part may take for ever [W]: a resistor's rating at its air, a fuse's or thermistor's by current."""
    subject, ledger = part(name), context.ledger
    hot_case = next(iter(context.plan.cases(["allowed.power"], ["running"])), None)
    known = ledger.find(subject, "allowed.power", hot_case) if hot_case is not None else None
    if known is not None and isinstance(known.value, Value):
        return known
    if context.structure.may_be(name, "fuse", "NTC thermistor"):
        current = context.value(subject, "rated.current")
        curve = context.curve(subject, "rated.current")
        current = current or (curve.points[0][1] if curve is not None else None)
        if current is not None and isinstance(own.value, Value):
            numbers = [amps**2 * r for amps, r in zip(current.numbers(), own.value.numbers(), strict=True)]
            return ledger.write(
                subject, "allowed.power", Value(*numbers), case=Case("fault"), known_by="computed",
                inputs=(own.number,), rests_on=own.rests_on, formula="rated current² × resistance", source="Joule",
            )  # fmt: skip
        return context.need(subject, "rated.current")
    return known or ledger.hole(subject, "allowed.power", (f"{subject}: rated.power",), case=Case("fault"))
