"""One capacitor: series resistance as read, cold and worn states, how far a measured one has gone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from math import inf

from derate.circuit.capacitor_ageing import (
    CAPACITANCE_WEAR,
    COLD_RESISTANCE,
    FROM_DISSIPATION,
    RAISED,
    REFERENCE,
    RESISTANCE_WEAR,
    SHARE_LEFT,
    SLOW,
    between_temperatures,
    cold_resistance_allowed,
    grown,
    least_share,
)
from derate.circuit.elementary import product
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import Context, curve_at, part
from derate.stress.parts.windings import STANDING, assumed
from derate.terms.dimension import CELSIUS, FREQUENCY, RESISTANCE
from derate.terms.quantities import COLD_START, END_OF_LIFE, CaseGroup
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Curve, Value, written

# Series resistance of one capacitor at a frequency, from its data sheet or as found on the sample.


RISE = 0.3  # the resistance rises as the frequency falls, by up to a third in a decade


def stated_resistance(context: Context, name: str, found: bool = True) -> Entry | None:
    """The row that says the series resistance: as found (where wanted), else as rated."""
    subject = part(name)
    measured = context.fact(subject, "found.series_resistance") if found else None
    return measured or context.fact(subject, "rated.series_resistance")


def read_resistance(curve: Curve, hertz: float) -> Value:
    """A table of series resistance over frequency, read at one.

    Below the frequency of the figure it rises; above that it falls, from a figure at mains frequency to a fifth of it
    (common practice, no source).
    """
    value = curve_at(curve, hertz)
    if value is None:
        last = curve.points[-1][1]
        kind = 0.2 if curve.greatest < 10e3 else 0.7
        return Value(last.low * kind, last.near * kind, last.far, last.high)
    if hertz < curve.least:
        rise = 1.0 + RISE * math.log10(curve.least / hertz)
        return Value(value.low, value.near, value.far * rise, value.high * rise)
    return value


def resistance_at(context: Context, name: str, hertz: float, found: bool = True) -> Entry:
    """Series resistance of one capacitor at a frequency, as a row; a hole without the frequency of the figure."""
    subject, ledger = part(name), context.ledger
    stated = stated_resistance(context, name, found)
    if stated is None:
        return context.need(subject, "rated.series_resistance")
    if not isinstance(stated.value, Curve):  # without a frequency nobody knows what it is
        note = "the series resistance says no frequency it holds at"
        missing = (OpenFact(subject, stated.quantity, "with its frequency"),)
        return ledger.hole(subject, "series_resistance", missing, case=STANDING, note=note)
    return ledger.write(
        subject,
        "series_resistance",
        read_resistance(stated.value, hertz),
        case=STANDING,
        known_by=stated.known_by,
        inputs=(stated.number,),
        rests_on=stated.rests_on,
        formula=f"read at {written(hertz / 1e3)} kHz",
        source="the part's data",
        place=stated.place,
    )


# Capacitance and series resistance of one capacitor when cold, and at the limits its maker ends its life at.
#
# Cold: at the coldest ambient of the site, as after a night switched off. End of life: the loss of capacitance and
# the growth of the series resistance at which a maker calls it worn out. Both by the maker's figures where they are
# stated, else by what a pack assumes; never better than fresh and warm.


WET, SOLID, CERAMIC = "electrolytic capacitor", "solid electrolytic capacitor", "ceramic capacitor"
GROUPS = (COLD_START, END_OF_LIFE)


KEPT = Model.of(
    "capacitance left", product("capacitance", "capacitance", "share"), "definition", "capacitance × share left"
)


class State(NamedTuple):
    """Cold or at the end of life; the coldest ambient [degC] of a cold one, None when nobody knows it."""

    group: CaseGroup
    ambient: float | None = None

    @property
    def case(self) -> Case:
        """The case its parts' own rows stand under."""
        return Case(self.group, ambient=self.ambient)

    @staticmethod
    def of(case: Case) -> State:
        """The state of a case of the plan."""
        return State(case.group, case.ambient)


def _is_electrolytic(context: Context, name: str) -> bool:
    return context.structure.may_be(name, WET, SOLID)


def is_soft(context: Context, name: str) -> bool:
    """A ceramic of class 2, or of a class nobody stated."""
    return context.structure.may_be(name, CERAMIC) and context.word(part(name), "part.dielectric") != "class 1"


def capacitance_in(context: Context, name: str, fresh: Entry, state: State) -> Entry:
    """Capacitance of one capacitor in a state [F]; `fresh`: as it is warm and new, at its voltage."""
    subject = part(name)
    if not isinstance(fresh.value, Value) or not (_is_electrolytic(context, name) or is_soft(context, name)):
        return fresh
    if not _is_electrolytic(context, name):
        share = assumed(context, "ceramic_drift", subject, "ceramic_drift", "part.dielectric")
    elif state.group == COLD_START:
        share = _cold_share(context, subject, state)
    else:
        share = _aged_share(context, subject)
    wanted: list[Wanted] = [(subject, "capacitance", "capacitance")]
    return context.ledger.work_out(KEPT, {"capacitance": fresh, "share": share}, wanted, case=state.case)[0]


def _cold_share(context: Context, subject: Subject, state: State) -> Entry:
    """Share of the capacitance left at the coldest ambient: as assumed, and no less than an impedance ratio leaves."""
    ledger = context.ledger
    if state.ambient is None:
        return ledger.hole(subject, "cold_share", (OpenFact(SUPPLY, "site.ambient"),), case=state.case)
    kept = assumed(context, "cold_capacitance_kept", subject, "cold_capacitance_kept", "rated.impedance_ratio")
    if not isinstance(kept.value, Value):
        return kept
    try:
        shares = [grown(1.0, min(1.0, one), state.ambient) for one in kept.value.numbers()]
    except ValueError as wrong:
        return ledger.hole(subject, "cold_share", (), case=state.case, note=str(wrong), inputs=(kept.number,))
    inputs, rests = [kept.number], kept.rests_on
    ratio = _ratio_at(context, subject, state.ambient)
    if ratio is not None:
        stated, value = ratio
        tan = dissipation(context, subject)
        if isinstance(tan.value, Value):
            bound = [least_share(n, d) for n, d in zip(value.numbers()[::-1], tan.value.numbers()[::-1], strict=True)]
            if any(least > one for one, least in zip(shares, bound, strict=True)):
                shares = [max(pair) for pair in zip(shares, bound, strict=True)]
                inputs += [stated.number, tan.number]
                rests |= stated.rests_on | tan.rests_on
    return ledger.write(  # sorted: rounding alone could turn two of them round
        subject,
        "cold_share",
        Value(*sorted(shares)),
        case=state.case,
        known_by="computed",
        inputs=tuple(inputs),
        rests_on=rests,
        formula="share kept for each 10 K below 20 degC, not below 1 / impedance ratio",
        source=kept.source,
    )


def _aged_share(context: Context, subject: Subject) -> Entry:
    quantity: QuantityName = "rated.end_of_life_capacitance_change"
    change = context.fact(subject, quantity) or assumed(
        context, "end_of_life_capacitance_change", subject, "end_of_life_change", quantity
    )
    model = Model.of("share left at the end of life", SHARE_LEFT, "limit of endurance in the data sheet", "1 − change")
    return context.ledger.work_out(model, {"change": change}, [(subject, "aged_share", "share")], case=STANDING)[0]


def _ratio_at(context: Context, subject: Subject, temperature: float) -> tuple[Entry, Value] | None:
    """A maker's impedance ratio read at a temperature; None where it is not stated or does not reach."""
    stated = context.fact(subject, "rated.impedance_ratio")
    if stated is None or not isinstance(stated.value, Curve):
        return None
    points = tuple((t, v) for t, v in stated.value.points if t < REFERENCE)
    if not points or temperature < points[0][0]:
        return None
    whole = Curve((*points, (REFERENCE, Value.exact(1.0))), CELSIUS, stated.value.unit)
    value = curve_at(whole, min(temperature, REFERENCE), below=False)
    return (stated, value) if value is not None else None


def dissipation(context: Context, subject: Subject) -> Entry:
    """Dissipation factor at twice the mains frequency, as stated or assumed [-]."""
    stated = context.fact(subject, "rated.dissipation_factor")
    if stated is not None and isinstance(stated.value, Curve):
        hertz, value = stated.value.points[0]
        return context.ledger.write(
            subject,
            "dissipation",
            value,
            case=STANDING,
            known_by=stated.known_by,
            inputs=(stated.number,),
            rests_on=stated.rests_on,
            formula=f"as stated at {written(hertz, 4)} Hz",
            source="data sheet",
            place=stated.place,
        )
    if stated is not None:
        return stated
    return assumed(context, "dissipation_factor", subject, "dissipation", "rated.dissipation_factor")


# ---- series resistance -----------------------------------------------------------------------------------------------


def resistance_in(context: Context, name: str, hertz: float, state: State) -> Entry:
    """Series resistance of one output capacitor in a state, at the switching frequency [ohm]."""
    warm = resistance_at(context, name, hertz)
    if not _is_electrolytic(context, name) or not isinstance(warm.value, Value):
        return warm
    if state.group == COLD_START:
        return _cold_resistance(context, name, warm, state)
    return _aged_resistance(context, name, _first_limit(context, name, hertz, warm), state)


def bulk_resistances_in(context: Context, name: str, state: State, hertz: float) -> tuple[Entry, Entry]:
    """Series resistance of one bulk capacitor in a state, at twice the mains and at the switching frequency [ohm].

    A cold impedance that a maker states is that of the electrolyte: what it adds to the resistance at the switching
    frequency it adds to that at twice the mains, where the loss of the oxide, which cold does not raise, comes on top.
    """
    fast = _bulk_resistance(context, name, state, hertz)
    stated = context.fact(part(name), "rated.cold_impedance")
    if state.group != COLD_START or stated is None or not isinstance(stated.value, Curve):
        return _bulk_resistance(context, name, state, SLOW), fast
    slow, warm = _warm_bulk(context, name, SLOW), _warm_bulk(context, name, hertz)
    model = Model.of(
        "series resistance when cold",
        COLD_RESISTANCE,
        "own: electrolyte and oxide in series",
        "resistance at 20 degC + what the electrolyte gains",
    )
    inputs = {"slow": slow, "cold": fast, "warm": warm}
    wanted: list[Wanted] = [(part(name), "series_resistance", "resistance")]
    return context.ledger.work_out(model, inputs, wanted, case=state.case)[0], fast


def _bulk_resistance(context: Context, name: str, state: State, hertz: float) -> Entry:
    subject, ledger = part(name), context.ledger
    if not _is_electrolytic(context, name):
        return ledger.write(
            subject,
            "series_resistance",
            Value.exact(0.0),
            case=state.case,
            known_by="computed",
            formula="none of a film or ceramic capacitor worth counting",
            source="common practice, no source",
        )
    warm = _warm_bulk(context, name, hertz)
    if not isinstance(warm.value, Value):
        return warm
    if state.group == END_OF_LIFE:
        return _aged_resistance(context, name, _first_limit(context, name, hertz, warm), state)
    return _cold_resistance(context, name, warm, state)


def warm_resistance(context: Context, name: str) -> Entry:
    """Series resistance of one capacitor, new and warm, at twice the mains frequency [ohm]; of a film one none."""
    if _is_electrolytic(context, name):
        return _warm_bulk(context, name, SLOW)
    return _bulk_resistance(context, name, State(END_OF_LIFE), SLOW)


def _warm_bulk(context: Context, name: str, hertz: float) -> Entry:
    """As stated or found at a frequency; else from the dissipation factor: a fifth of it, or more, when switching."""
    subject, ledger = part(name), context.ledger
    if stated_resistance(context, name) is not None:
        read = resistance_at(context, name, hertz)
        if isinstance(read.value, Value):
            return read
    slow = ledger.work_out(
        OF_DISSIPATION,
        {"dissipation": dissipation(context, subject), "capacitance": context.need(subject, "part.capacitance")},
        [(subject, "series_resistance", "resistance")],
        case=STANDING,
    )[0]
    if not isinstance(slow.value, Value) or hertz <= 2.0 * SLOW:
        return slow
    return ledger.write(
        subject,
        "series_resistance",
        read_resistance(Curve(((SLOW, slow.value),), FREQUENCY, RESISTANCE), hertz),
        case=STANDING,
        known_by="computed",
        inputs=(slow.number,),
        rests_on=slow.rests_on,
        formula=f"read at {written(hertz / 1e3)} kHz",
        source="common practice, no source",
    )


def _cold_resistance(context: Context, name: str, warm: Entry, state: State) -> Entry:
    """Carried to the coldest ambient: along the maker's cold impedances, beyond them by the growth assumed."""
    subject, ledger = part(name), context.ledger
    if state.ambient is None:
        return ledger.hole(subject, "series_resistance", (OpenFact(SUPPLY, "site.ambient"),), case=state.case)
    solid = context.structure.must_be(name, SOLID)
    growth = assumed(
        context,
        "cold_resistance_growth_solid" if solid else "cold_resistance_growth",
        subject,
        "cold_resistance_growth",
        "rated.cold_impedance",
    )
    stated = context.fact(subject, "rated.cold_impedance")
    curve = stated.value if stated is not None and isinstance(stated.value, Curve) else None
    points = [(t, v.numbers()) for t, v in curve.points if t < REFERENCE] if curve is not None else []
    reached = bool(points) and state.ambient >= points[0][0]
    if not isinstance(growth.value, Value) and not reached:
        return growth
    factors = growth.value.numbers() if isinstance(growth.value, Value) else (1.0,) * 4
    assert isinstance(warm.value, Value)
    try:
        found = [
            max(r, _along([(t, v[end]) for t, v in points], r, g, state.ambient))
            for end, (r, g) in enumerate(zip(warm.value.numbers(), factors, strict=True))
        ]
    except ValueError as wrong:
        given = (warm.number, growth.number)
        return ledger.hole(subject, "series_resistance", (), case=state.case, note=str(wrong), inputs=given)
    used = [warm, *([stated] if points and stated is not None else []), *([] if reached else [growth])]
    held = None  # a cold impedance that reaches holds nearer: worse than the ratio it is the worse of two statements
    if not reached:
        held = _by_impedance_ratio(context, subject, found, (warm.value.numbers(), factors), state.ambient)
    if held is not None:
        found, used = held[0], [*used, *held[1]]
    formula = "the maker's cold impedance" if reached else "growth for each 10 K below 20 degC"
    return ledger.write(
        subject,
        "series_resistance",
        Value(*sorted(found)),
        case=state.case,
        known_by="computed",
        inputs=tuple(one.number for one in used),
        rests_on=frozenset().union(*(one.rests_on for one in used)),
        formula=formula if held is None else f"{formula}, held to the maker's impedance ratio",
        source="data sheet" if reached else growth.source,
    )


def _by_impedance_ratio(
    context: Context,
    subject: Subject,
    found: list[float],
    grows: tuple[Sequence[float], Sequence[float]],
    ambient: float,
) -> tuple[list[float], tuple[Entry, Entry]] | None:
    """Cold resistances [ohm] as a maker's impedance ratio leaves them, and from what; None where it is silent.

    found: as worked out without it; grows: resistance warm, and the growth for each 10 K assumed. A ratio is a limit:
    no resistance exceeds it, and where nothing but an assumption is known a part may use it up. So both upper ends are
    what it leaves, be that more or less than the growth assumed.
    """
    stated, tan = context.fact(subject, "rated.impedance_ratio"), dissipation(context, subject)
    capacitance = context.value(subject, "part.capacitance")
    if stated is None or not isinstance(stated.value, Curve):
        return None
    points = [(t, v.numbers()) for t, v in stated.value.points if t < REFERENCE]
    if not points or capacitance is None or not isinstance(tan.value, Value):
        return None
    limits = []
    for end, (d, c) in enumerate(zip(tan.value.numbers(), reversed(capacitance.numbers()), strict=True)):
        along = [(t, cold_resistance_allowed(v[end], d, c, SLOW)) for t, v in points]
        limits.append(max(grows[0][end], _along(along, grows[0][end], grows[1][end], ambient)))
    lower = [min(pair) for pair in zip(found[:2], limits[:2], strict=True)]
    return [*lower, *limits[2:]], (stated, tan)


def _along(points: list[tuple[float, float]], warm: float, growth: float, temperature: float) -> float:
    """On a logarithmic scale along cold points (rising) up to the warm one; colder than the first by its growth."""
    if not points:
        return grown(warm, max(1.0, growth), temperature)
    coldest, impedance = points[0]
    if temperature < coldest:
        return grown(max(warm, impedance), max(1.0, growth), temperature, at=coldest)
    whole = [*points, (REFERENCE, warm)]
    for (cold_at, cold), (warm_at, less) in zip(whole, whole[1:], strict=False):
        if temperature <= warm_at:
            return between_temperatures(less, cold, cold_at, temperature, warm_at)
    return warm


def _first_limit(context: Context, name: str, hertz: float, used: Entry) -> Entry:
    """The greater of what was found and what is stated: a maker's end of life is reckoned from his first limit."""
    rated = resistance_at(context, name, hertz, found=False)
    if not isinstance(rated.value, Value) or not isinstance(used.value, Value):
        return used
    value = Value(*(max(pair) for pair in zip(rated.value.numbers(), used.value.numbers(), strict=True)))
    return context.ledger.write(
        part(name),
        "first_resistance",
        value,
        case=STANDING,
        known_by="computed",
        inputs=(rated.number, used.number),
        rests_on=rated.rests_on | used.rests_on,
        formula="greater of stated and found",
        source="definition",
    )


AGED = Model.of(
    "series resistance at the end of life",
    RAISED,
    "limit of endurance in the data sheet",
    "series resistance × ratio at the end of life",
)
OF_DISSIPATION = Model.of(
    "series resistance from the dissipation factor",
    FROM_DISSIPATION,
    "definition of the dissipation factor; a figure that holds at 120 Hz reads a fifth high",
    "dissipation factor / (2π × 100 Hz × capacitance)",
)


def _aged_resistance(context: Context, name: str, first: Entry, state: State) -> Entry:
    subject = part(name)
    quantity: QuantityName = "rated.end_of_life_resistance_ratio"
    ratio = context.fact(subject, quantity) or assumed(
        context, "end_of_life_resistance_ratio", subject, "end_of_life_ratio", quantity
    )
    return context.ledger.work_out(
        AGED, {"resistance": first, "ratio": ratio}, [(subject, "series_resistance", "resistance")], case=state.case
    )[0]


# How far a capacitor that was measured has gone towards the end of its life; 1 is there.
#
# The greater of the capacitance lost over what its maker allows, and the series resistance over what he allows at the
# frequency it was measured at. Where only one of the two is known the row is a floor: it can prove a fail, never a
# pass.


Inputs = dict[str, Entry | Value | float]


LOST = Model.of(
    "capacitance lost over the loss allowed",
    CAPACITANCE_WEAR,
    "limits of endurance in the data sheet, after IEC 60384-4",
    "(1 − found / marked) / loss at the end of life",
)
GROWN = Model.of(
    "series resistance over the one allowed",
    RESISTANCE_WEAR,
    "limits of endurance in the data sheet, after IEC 60384-4",
    "found / (stated × ratio at the end of life)",
)


def solve_wear(context: Context) -> None:
    """Write the wear of every electrolytic capacitor of which something was measured; else a hole that says what."""
    for name in context.structure.kinds:
        if context.structure.may_be(name, WET, SOLID) and context.structure.fitted.get(name, True):
            _one(context, part(name))


def _one(context: Context, subject: Subject) -> None:
    ledger = context.ledger
    rows = (_capacitance(context, subject), *_resistance(context, subject))
    known = [row.value for row in rows if isinstance(row.value, Value)]
    numbers, rests = tuple(row.number for row in rows), frozenset().union(*(row.rests_on for row in rows))
    missing = tuple(dict.fromkeys(fact for row in rows if row.value is None for fact in row.missing))
    note = next((row.note for row in rows if row.value is None and row.note), "")
    if not known:
        ledger.hole(subject, "wear", missing, note=note, inputs=numbers, rests_on=rests)
        return
    low, near, far, high = (max(column) for column in zip(*(one.numbers() for one in known), strict=True))
    whole = len(known) == len(rows)
    ledger.write(
        subject,
        "wear",
        Value(low, near, far, high) if whole else Value(low, near, inf, inf),
        known_by="computed",
        inputs=numbers,
        rests_on=rests,
        missing=missing,
        note=note,
        source=next((row.source for row in rows if row.source), ""),
        formula="the greater of both" if whole else "one of the two measured: at least this",
    )


def _capacitance(context: Context, subject: Subject) -> Entry:
    """Wear by capacitance; a hole where it was not measured."""
    found, marked = context.fact(subject, "found.capacitance"), context.fact(subject, "part.marked_capacitance")
    if found is None or not isinstance(found.value, Value):
        return context.ledger.hole(subject, "worn_capacitance", (OpenFact(subject, "found.capacitance"),))
    if marked is None or not isinstance(marked.value, Value):
        return context.ledger.hole(subject, "worn_capacitance", (OpenFact(subject, "part.marked_capacitance"),))
    quantity: QuantityName = "rated.end_of_life_capacitance_change"
    change = context.fact(subject, quantity) or assumed(
        context, "end_of_life_capacitance_change", subject, "end_of_life_change", quantity
    )
    # by the figure printed on it: with the tolerance of a new one on top every capacitor would be in doubt
    nominal = context.ledger.write(
        subject,
        "marked_nominal",
        Value.between(marked.value.near, marked.value.far),
        case=STANDING,
        known_by=marked.known_by,
        inputs=(marked.number,),
        rests_on=marked.rests_on,
        formula="as marked, no tolerance",
        source="mark",
        place=marked.place,
    )
    inputs: Inputs = {"marked": nominal, "found": found, "change": change}
    return context.ledger.work_out(LOST, inputs, [(subject, "worn_capacitance", "wear")], case=STANDING)[0]


def _resistance(context: Context, subject: Subject) -> list[Entry]:
    """Wear by series resistance, one row for each frequency it was measured at; a hole where it was not measured."""
    ledger = context.ledger
    quantity: QuantityName = "worn_resistance"
    found = context.fact(subject, "found.series_resistance")
    if found is None:
        return [ledger.hole(subject, quantity, (OpenFact(subject, "found.series_resistance"),))]
    rated = context.fact(subject, "rated.series_resistance")
    if not isinstance(found.value, Curve):
        return [ledger.hole(subject, quantity, (OpenFact(subject, "found.series_resistance", "with its frequency"),))]
    if rated is None or not isinstance(rated.value, Curve):
        return [ledger.hole(subject, quantity, (OpenFact(subject, "rated.series_resistance", "with its frequency"),))]
    fact: QuantityName = "rated.end_of_life_resistance_ratio"
    ratio = context.fact(subject, fact) or assumed(
        context, "end_of_life_resistance_ratio", subject, "end_of_life_ratio", fact
    )
    rows: list[Entry] = []
    for hertz, value in found.value.points:
        if not hertz > 0.0:
            return [
                ledger.hole(subject, quantity, (OpenFact(subject, "found.series_resistance", "at more than 0 Hz"),))
            ]
        stated = ledger.write(
            subject,
            "first_resistance",
            read_resistance(rated.value, hertz),
            case=STANDING,
            known_by=rated.known_by,
            inputs=(rated.number,),
            rests_on=rated.rests_on,
            formula=f"read at {written(hertz / 1e3)} kHz",
            source="data sheet",
            place=rated.place,
        )
        measured = ledger.write(
            subject,
            "measured_resistance",
            value,
            case=STANDING,
            known_by=found.known_by,
            inputs=(found.number,),
            rests_on=found.rests_on,
            formula=f"as found at {written(hertz / 1e3)} kHz",
            source="reading",
            place=found.place,
        )
        inputs: Inputs = {"found": measured, "stated": stated, "ratio": ratio}
        rows += ledger.work_out(GROWN, inputs, [(subject, quantity, "wear")], case=STANDING)
    return rows
