"""Ratings at the conditions of the stress: tables of data sheets, power, pulses, fuses, ripple current."""

from __future__ import annotations

import math
from math import inf

from derate.circuit.pulse import diode_surge
from derate.ledger.entry import Case, Entry, OpenFact, Subject
from derate.stress.context import Context, curve_at, part
from derate.stress.mains.path_parts import protective_rows
from derate.stress.parts.windings import assumed
from derate.stress.supply import air
from derate.terms.quantities import BROWN_OUT, DIP, HOT_RESTART, RE_PLUG, RUNNING, SURGE, SWITCH_ON, CaseGroup, each
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Curve, Value, written
from derate.terms.words import RESISTORS

# A table of a data sheet read over everything that its condition may be.


def read_between(
    context: Context, subject: Subject, fact: QuantityName, at: Entry, quantity: QuantityName, case: Case
) -> Entry:
    """The value of a table at a condition, least and greatest over the condition's range, as a row at a case.

    Below the first point the first value holds, above the last nothing is known: a hole that names what to find.
    """
    ledger = context.ledger
    stated = context.need(subject, fact)
    curve = stated.value
    inputs = (stated.number, at.number)
    rests = stated.rests_on | at.rests_on
    if stated.missing or not isinstance(at.value, Value):
        missing = (*stated.missing, *at.missing)
        return ledger.hole(subject, quantity, missing, case=case, note=at.note, inputs=inputs, rests_on=rests)
    if not isinstance(curve, Curve):
        told = OpenFact(subject, fact, "with its current")
        return ledger.hole(subject, quantity, (told,), case=case, inputs=inputs, rests_on=rests)
    low, near, far, high = at.value.numbers()
    if high > curve.greatest:
        told = OpenFact(subject, fact, f"at {written(high)} A")
        note = f"the table ends at {written(curve.greatest)} A and the current reaches {written(high)} A"
        return ledger.hole(subject, quantity, (told,), case=case, note=note, inputs=inputs, rests_on=rests)
    inner, outer = _readings(curve, near, far), _readings(curve, low, high)
    value = Value(
        min(one.low for one in outer),
        min(one.near for one in inner),
        max(one.far for one in inner),
        max(one.high for one in outer),
    )
    return ledger.write(
        subject,
        quantity,
        value,
        case=case,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        place=stated.place,
        formula="read at the peak current",
        source="data sheet, straight line between points",
    )


def _readings(curve: Curve, low: float, high: float) -> list[Value]:
    """The values at both ends and at every point in between."""
    found = [curve_at(curve, at) for at in {low, high, *(x for x, _ in curve.points if low < x < high)}]
    return [one for one in found if one is not None]


# The ripple-current rating of a capacitor at a frequency, from the columns its maker gives.


# Electrolytic ratings rise with frequency: by up to twice from 100 Hz to 100 kHz, and hardly at all above 10 kHz.
# Makers' catalogues; the ends as wide as any column seen.
MOST_RISE = 2.0
PER_DECADE = 0.15  # from 10 to 100 kHz the columns of catalogues rise by 5 to 15 %
SAME_COLUMN = 0.25  # 100 and 120 Hz are one column of every catalogue


def rating_at(curve: Curve, hertz: float) -> Value | None:
    """Rating at a frequency [A]; None where the columns say nothing of it."""
    for frequency, value in curve.points:
        if abs(hertz - frequency) <= SAME_COLUMN * frequency:
            return value
    if 0.0 < curve.least <= hertz <= curve.greatest:
        points = tuple((math.log(x), y) for x, y in curve.points)
        return curve_at(Curve(points, curve.condition, curve.unit), math.log(hertz))
    first, last = curve.points[0], curve.points[-1]
    if hertz > last[0]:  # it never falls with frequency
        rise = MOST_RISE if last[0] < 10e3 else 1.1
        return Value(last[1].low, last[1].near, last[1].far * rise, last[1].high * rise)
    if hertz >= 10e3:  # a column at a higher switching frequency
        fall = 1.0 - PER_DECADE * math.log10(first[0] / hertz)
        return Value(fall * first[1].low, fall * first[1].near, first[1].far, first[1].high)
    return None


def ripple_rating(context: Context, subject: Subject, hertz: float) -> Entry:
    """Write the rating at a frequency, or a hole that says which column to find."""
    ledger = context.ledger
    rated = context.fact(subject, "rated.ripple_current")
    if rated is None or not isinstance(rated.value, Curve):
        missing = OpenFact(subject, "rated.ripple_current", "with its frequency" if rated is not None else "")
        return ledger.hole(subject, "allowed.ripple_current", (missing,))
    value = rating_at(rated.value, hertz)
    if value is None:
        missing = OpenFact(subject, "rated.ripple_current", f"at {written(hertz, 4)} Hz")
        note = f"the rating is given at {written(rated.value.least, 4)} Hz"
        return ledger.hole(subject, "allowed.ripple_current", (missing,), note=note, inputs=(rated.number,))
    return ledger.write(
        subject,
        "allowed.ripple_current",
        value,
        known_by=rated.known_by,
        inputs=(rated.number,),
        place=rated.place,
        formula=f"rating read at {written(hertz, 4)} Hz",
        source="data sheet",
        rests_on=rated.rests_on,
    )


# Ratings at the conditions of the stress: power at the air beside the part, pulses at their width, fuses at theirs.
#
# A rating is never carried to a condition its curve does not reach: then the row is a hole that says what to find.


_WIREWOUND = ("wirewound resistor", "fusible wirewound resistor")


def allowed_power(context: Context, name: str) -> None:
    """Power rating of a resistor at the air beside it, for the running and brown-out cases."""
    subject = part(name)
    rating = context.fact(subject, "rated.power")
    for group in (RUNNING, BROWN_OUT):
        for case in context.plan.cases(["allowed.power"], [group]):
            _at_air(context, subject, "allowed.power", "rated.power", rating, case)


def allowed_current(context: Context, name: str) -> None:
    """Current rating of a part at the air beside it, where its maker gives one by temperature."""
    subject = part(name)
    rating = context.fact(subject, "rated.current")
    for group in (RUNNING, BROWN_OUT):
        for case in context.plan.cases(["allowed.current"], [group]):
            _at_air(context, subject, "allowed.current", "rated.current", rating, case)


def _at_air(
    context: Context, subject: Subject, quantity: QuantityName, rated: QuantityName, rating: Entry | None, case: Case
) -> None:
    ledger = context.ledger
    if rating is None:
        ledger.hole(subject, quantity, (OpenFact(subject, rated),), case=case)
        return
    beside = air(context, subject, case)
    rests = rating.rests_on | beside.rests_on
    inputs = (rating.number, beside.number)
    if isinstance(rating.value, Value):  # it holds at some temperature, and at any other one as much or less
        ledger.write(
            subject,
            quantity,
            Value(0.0, 0.0, rating.value.far, rating.value.high),
            case=case,
            missing=(OpenFact(subject, rated, "with its temperature"),),
            known_by=rating.known_by,
            formula="at most the rating, whose temperature is not said",
            inputs=inputs,
            rests_on=rests,
            note="the rating says no temperature it holds at",
        )
        return
    if not isinstance(rating.value, Curve):
        note = "the rating says no temperature it holds at"
        ledger.hole(
            subject,
            quantity,
            (OpenFact(subject, rated, "with its temperature"),),
            case=case,
            note=note,
            inputs=inputs,
            rests_on=rests,
        )
        return
    if not isinstance(beside.value, Value):
        ledger.hole(subject, quantity, beside.missing, case=case, note=beside.note, inputs=inputs, rests_on=rests)
        return
    low, near, far, high = beside.value.numbers()  # hotter is less
    found = [curve_at(rating.value, temperature) for temperature in (high, far, near, low)]
    if any(one is None for one in found):
        end = rating.value.greatest
        note = f"the rating ends at {written(end, 4)} degC and the air reaches {written(high, 4)} degC"
        ledger.hole(
            subject,
            quantity,
            (OpenFact(subject, rated, f"above {written(end, 4)} degC"),),
            case=case,
            note=note,
            inputs=inputs,
            rests_on=rests,
        )
        return
    a, b, c, d = (one for one in found if one is not None)
    ledger.write(
        subject,
        quantity,
        Value(a.low, b.near, c.far, d.high),
        case=case,
        known_by="computed",
        inputs=inputs,
        formula="rating read at the air beside the part",
        source="the part's rating, straight line between points",
        rests_on=rests,
    )


def allowed_pulse(
    context: Context, name: str, group: CaseGroup, quantity: QuantityName, rated: QuantityName, width_below: bool
) -> None:
    """A pulse rating read at the width of the switch-on pulse.

    width_below: the rating holds for shorter pulses than the first point too (the energy of a wirewound resistor;
    never that of a film). Beyond the last point the last value holds: a longer pulse of the same energy is kinder.
    """
    subject = part(name)
    rating = context.fact(subject, rated)
    for case in context.plan.cases([quantity], [group]):
        width = context.need(subject, "pulse_width", case)
        ledger = context.ledger
        if rating is None or not isinstance(rating.value, Curve):
            missing = OpenFact(subject, rated, "with its pulse width" if rating is not None else "")
            ledger.hole(subject, quantity, (missing,), case=case)
            continue
        inputs = (rating.number, width.number)
        rests = rating.rests_on | width.rests_on
        if not isinstance(width.value, Value):
            ledger.hole(subject, quantity, width.missing, case=case, note=width.note, inputs=inputs, rests_on=rests)
            continue
        value = _over_width(rating.value, width.value, width_below)
        if value is None:
            first = rating.value.least
            short, begins = written(width.value.low * 1e3), written(first * 1e3)
            note = f"the pulse is as short as {short} ms, the rating begins at {begins} ms"
            ledger.hole(
                subject,
                quantity,
                (OpenFact(subject, rated, f"at {written(width.value.low * 1e3)} ms"),),
                case=case,
                note=note,
                inputs=inputs,
                rests_on=rests,
            )
            continue
        ledger.write(
            subject,
            quantity,
            value,
            case=case,
            known_by="computed",
            inputs=inputs,
            rests_on=rests,
            formula="pulse rating read at the equivalent width",
            source="the part's pulse rating",
        )


def _over_width(curve: Curve, width: Value, below: bool) -> Value | None:
    """The least of the rating over every width the pulse may have."""
    widths = {width.low, width.high, *(x for x, _ in curve.points if width.low <= x <= width.high)}
    found = [curve_at(curve, min(w, curve.greatest), below) for w in widths]
    if any(one is None for one in found):
        return None
    known = [one for one in found if one is not None]
    return Value(
        min(v.low for v in known), min(v.near for v in known), max(v.far for v in known), max(v.high for v in known)
    )


def allowed_surge(context: Context, name: str, group: CaseGroup) -> None:
    """Surge rating of a rectifier: its I²t (half sine of the rated length), and the peak at the pulse's own width.

    Of several lengths the shortest that covers the pulse is read; a pulse longer than all is refused. For a pulse
    shorter than a millisecond the constant I²t is the kind end and that of a heat that has not spread the bad one
    (`diode_surge`). The width is taken where the pulse is worst, at its greatest I²t and peak: anywhere else the pulse
    has fallen by more than the cautious limit has, which goes with the root of the width.
    """
    subject = part(name)
    rating = context.fact(subject, "rated.surge_current")
    ledger = context.ledger
    for case in context.plan.cases(["allowed.surge_i2t"], [group]):
        width = context.need(subject, "pulse_width", case)
        if rating is None or not isinstance(rating.value, Curve):
            missing = OpenFact(subject, "rated.surge_current", "with its duration" if rating is not None else "")
            for quantity in ("allowed.surge_i2t", "allowed.surge_current"):
                ledger.hole(subject, quantity, (missing,), case=case)
            continue
        inputs = (rating.number, width.number)
        rests = rating.rests_on | width.rests_on
        longest = width.value.high if isinstance(width.value, Value) else inf
        covering = [
            point
            for point in rating.value.points
            if longest <= point[0] / 2 and 1e-5 <= point[0] <= 2e-2 and point[1].low > 0.0
        ]
        if not isinstance(width.value, Value) or not covering:
            note = width.note or "the pulse is longer than the surge rating's"
            missing_facts = width.missing or (OpenFact(subject, "rated.surge_current", "at a longer duration"),)
            for quantity in each("allowed.surge_i2t", "allowed.surge_current"):
                ledger.hole(subject, quantity, missing_facts, case=case, note=note, inputs=inputs, rests_on=rests)
            continue
        length, surge = covering[0]
        far, high = _worst_widths(context, subject, case, width.value)
        try:
            low, near = diode_surge(surge.low, length, high), diode_surge(surge.near, length, far)
        except ValueError as wrong:  # a rating or a pulse outside what the carrying holds for
            why = (OpenFact(subject, "rated.surge_current"),)
            for quantity in each("allowed.surge_i2t", "allowed.surge_current"):
                ledger.hole(subject, quantity, why, case=case, note=str(wrong), inputs=inputs, rests_on=rests)
            continue
        ledger.write(
            subject,
            "allowed.surge_i2t",
            Value(
                min(low.cautious_i2t, near.cautious_i2t),
                near.cautious_i2t,
                surge.far**2 * length / 2,
                surge.high**2 * length / 2,
            ),
            case=case,
            known_by="computed",
            inputs=inputs,
            rests_on=rests,
            formula="surge current² × duration / 2, × √(width / 1 ms) at its bad end",
            source="I²t of a half sine; heat flow into a thick body below a millisecond",
        )
        kind = [
            (one**2 * length / 2 / w) ** 0.5 if w > 0.0 else inf  # a spike: any peak
            for one, w in ((surge.far, width.value.near), (surge.high, width.value.low))
        ]
        ledger.write(
            subject,
            "allowed.surge_current",
            Value(
                min(low.cautious_peak, near.cautious_peak),
                near.cautious_peak,
                max(near.cautious_peak, kind[0]),
                max(near.cautious_peak, *kind),
            ),
            case=case,
            known_by="computed",
            inputs=inputs,
            rests_on=rests,
            formula="√(surge I²t / width of the pulse)",
            source="as the I²t",
        )


def _worst_widths(context: Context, subject: Subject, case: Case, width: Value) -> tuple[float, float]:
    """Widths of the pulse at the far and the high end of its I²t and peak [s]; the least where a peak is open."""
    i2t, peak = (context.value(subject, name, case) for name in ("i2t", "current_peak"))
    ends = []
    for end in ("far", "high"):
        square, crest = (getattr(one, end) if one is not None else 0.0 for one in (i2t, peak))
        own = square / crest**2 if 0.0 < crest < inf and square < inf else width.low if crest > 0.0 else width.high
        ends.append(max(min(own, width.high), 1e-9))
    return ends[0], ends[1]


def class_y_temperature(context: Context) -> None:
    """Temperature the body of each class Y capacitor is rated for: as marked, else as a pack assumes."""
    for name in context.structure.kinds:
        subject, word = part(name), context.fact(part(name), "part.class")
        if word is None or not isinstance(word.value, Category) or not {"Y1", "Y2"} & set(word.value.members):
            continue
        marked = context.fact(subject, "rated.temperature")
        row = (
            marked
            if marked is not None and isinstance(marked.value, Value)
            else assumed(context, "class_y_temperature", subject, "class_y_temperature", "rated.temperature")
        )
        context.ledger.write(
            subject,
            "allowed.case_temperature",
            row.value,
            known_by=row.known_by,
            inputs=(row.number,),
            rests_on=row.rests_on,
            missing=row.missing,
            formula="as marked" if row is marked else "assumed",
            source=row.source or "mark",
            place=row.place,
            note=row.note,
        )


EVENTS = (SWITCH_ON, HOT_RESTART, RE_PLUG, DIP, SURGE)


def rate_parts(context: Context) -> None:
    """Every derived rating that a rule may compare with."""
    structure = context.structure
    mains = structure.inlet
    for name, place in structure.places.items():
        if structure.may_be(name, "fuse"):
            allowed_current(context, name)
        if place == "mains series" and structure.may_be(name, *RESISTORS):
            allowed_power(context, name)
            wirewound = structure.must_be(name, *_WIREWOUND)
            for event in EVENTS:
                allowed_pulse(context, name, event, "allowed.pulse_energy", "rated.pulse_energy", wirewound)
                allowed_pulse(context, name, event, "allowed.pulse_power", "rated.pulse_power", False)
    if mains is not None:
        for name in mains.rectifier:
            for event in EVENTS:
                allowed_surge(context, name, event)
        protective_rows(context, mains)
