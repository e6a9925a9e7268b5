"""The transfer ratio of an optocoupler: at the LED current it gets, after its life, and at the worst temperature."""

from __future__ import annotations

from typing import Final

from derate.ledger.entry import Case, Entry, Subject
from derate.stress.context import Context, curve_at
from derate.stress.supply import air
from derate.terms.cases import RUNNING
from derate.terms.quantities import QuantityName
from derate.terms.values import Curve, Value

RUNS = Case(RUNNING)
WANTED_HOURS = 26280.0  # three years: the life that the rules on electrolytic capacitors ask for, at least
_YEAR = 8760.0
_BY_HEAT: Final[QuantityName] = "rated.transfer_ratio_by_temperature"


def stated_ratio(context: Context, subject: Subject) -> tuple[Curve | None, Entry | None]:
    """The ratio as stated, None where it says no LED current, and its fact."""
    entry = context.fact(subject, "rated.transfer_ratio")
    return (entry.value if entry is not None and isinstance(entry.value, Curve) else None), entry


def usable_current(context: Context, subject: Subject, led: Entry) -> tuple[Entry | Value, bool]:
    """The LED current up to the greatest one that the ratio is stated for, and whether there is more."""
    curve, _ = stated_ratio(context, subject)
    if curve is None or not isinstance(led.value, Value) or led.value.high <= curve.greatest:
        return led, False
    return Value(*(min(one, curve.greatest) for one in led.value.numbers())), True


def ratio_at(context: Context, subject: Subject, led: Entry) -> Entry:
    """The ratio as the sheet gives it at the current the LED gets; below its least current nothing is known."""
    ledger = context.ledger
    curve, entry = stated_ratio(context, subject)
    if curve is None or entry is None:
        missing = f"{subject}: rated.transfer_ratio" + (" with its LED current" if entry is not None else "")
        return ledger.hole(subject, "transfer_ratio", (missing,), case=RUNS)
    if not isinstance(led.value, Value):
        return ledger.hole(subject, "transfer_ratio", led.missing, case=RUNS, note=led.note, inputs=(led.number,))
    ends = [min(one, curve.greatest) for one in led.value.numbers()]
    if ends[0] < curve.least:
        note = f"the LED gets as little as {1e3 * ends[0]:.3g} mA, the ratio is stated from {1e3 * curve.least:.3g} mA"
        missing = f"{subject}: rated.transfer_ratio at {1e3 * ends[0]:.2g} mA"
        return ledger.hole(subject, "transfer_ratio", (missing,), case=RUNS, note=note, inputs=(led.number,))
    value = Value(*(_end(curve, ends[k], ends[3 - k], k, k < 2) for k in range(4)))
    return ledger.write(
        subject, "transfer_ratio", value, case=RUNS, known_by=entry.known_by, inputs=(entry.number, led.number),
        rests_on=entry.rests_on | led.rests_on, place=entry.place, source="data sheet",
        formula="read at the LED current, at most the greatest of the sheet",
    )  # fmt: skip


def _end(curve: Curve, one: float, other: float, k: int, least: bool) -> float:
    """The least or greatest of a curve's k-th numbers between two conditions inside it."""
    first, last = sorted((one, other))
    inside = [value for at, value in curve.points if first < at < last]
    read = [value for at in (first, last) if (value := curve_at(curve, at)) is not None]
    return (min if least else max)(value.numbers()[k] for value in (*read, *inside))


def share_left(context: Context, subject: Subject) -> Entry:
    """Share of the ratio left at the end of life: the maker's, else the range a pack assumes."""
    ledger = context.ledger
    stated = context.fact(subject, "rated.transfer_ratio_left")
    if stated is None:
        return context.assume("transfer_ratio_left", subject, "rated.transfer_ratio_left")
    if isinstance(stated.value, Value):  # after a thousand hours, say, it would speak for no end of life
        missing = f"{subject}: rated.transfer_ratio_left with its hours of use"
        return ledger.hole(subject, "rated.transfer_ratio_left", (missing,), case=RUNS)
    value = curve_at(stated.value, WANTED_HOURS * 3600.0) if isinstance(stated.value, Curve) else None
    if value is None or not isinstance(stated.value, Curve):
        note = f"the maker's figure ends before {WANTED_HOURS:.0f} h"
        missing = f"{subject}: rated.transfer_ratio_left after {WANTED_HOURS:.0f} h"
        return ledger.hole(subject, "rated.transfer_ratio_left", (missing,), case=RUNS, note=note)
    years = stated.value.greatest / 3600.0 / _YEAR
    return ledger.write(
        subject, "rated.transfer_ratio_left", value, case=RUNS, known_by=stated.known_by, inputs=(stated.number,),
        rests_on=stated.rests_on, formula=f"share left after {WANTED_HOURS:.0f} h", source="data sheet",
        note=f"the maker's figures reach {years:.3g} years", place=stated.place,
    )  # fmt: skip


def share_warm(context: Context, subject: Subject) -> Entry:
    """Least share of the ratio between the coldest ambient and the hottest air beside it."""
    ledger = context.ledger
    stated = context.fact(subject, _BY_HEAT)
    if stated is None:
        return context.assume("transfer_ratio_by_temperature", subject, _BY_HEAT)
    if not isinstance(stated.value, Curve):
        missing = f"{subject}: {_BY_HEAT} with its temperatures"
        return ledger.hole(subject, _BY_HEAT, (missing,), case=RUNS)
    hottest = next((one for one in context.plan.cases(["air_temperature"], [RUNNING])), RUNS)
    beside = air(context, subject, hottest)
    coldest = context.plan.ambient[0] if context.plan.ambient is not None else None
    if not isinstance(beside.value, Value) or coldest is None:
        return ledger.hole(
            subject, _BY_HEAT, beside.missing or ("supply: site.ambient",), case=RUNS, note=beside.note,
        )  # fmt: skip
    curve, hot = stated.value, beside.value
    if coldest < curve.least or hot.high > curve.greatest:
        note = f"the curve runs from {curve.least:.4g} to {curve.greatest:.4g} degC, the part from {coldest:.4g} to " \
               f"{hot.high:.4g} degC"  # fmt: skip
        missing = f"{subject}: {_BY_HEAT} from {coldest:.4g} to {hot.high:.4g} degC"
        return ledger.hole(subject, _BY_HEAT, (missing,), case=RUNS, note=note)
    wide = [_end(curve, coldest, hot.high, k, True) for k in range(4)]
    narrow = [_end(curve, coldest, max(hot.near, coldest), k, True) for k in range(4)]
    value = Value(wide[0], wide[1], max(narrow[2], wide[1]), max(narrow[3], narrow[2], wide[1]))
    return ledger.write(
        subject, _BY_HEAT, value, case=RUNS, known_by=stated.known_by,
        inputs=(stated.number, beside.number), rests_on=stated.rests_on | beside.rests_on, place=stated.place,
        formula="least from the coldest ambient to the hottest air", source="data sheet",
    )  # fmt: skip
