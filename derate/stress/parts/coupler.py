"""The optocoupler that carries the control: LED current, transfer ratio now and at the end of its life."""

from __future__ import annotations

from math import inf
from typing import Final

from derate.circuit import barrier as law
from derate.circuit.elementary import product, set_ratio
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model
from derate.stress.context import AUXILIARY_RAIL, Context, curve_at, part
from derate.stress.supply import air
from derate.terms.quantities import OVERLOAD, RUNNING
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Category, Curve, Value

# The transfer ratio of an optocoupler: at the LED current it gets, after its life, and at the worst temperature.


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
        missing = OpenFact(subject, "rated.transfer_ratio", "with its LED current" if entry is not None else "")
        return ledger.hole(subject, "transfer_ratio", (missing,), case=RUNS)
    if not isinstance(led.value, Value):
        return ledger.hole(subject, "transfer_ratio", led.missing, case=RUNS, note=led.note, inputs=(led.number,))
    ends = [min(one, curve.greatest) for one in led.value.numbers()]
    if ends[0] < curve.least:
        note = f"the LED gets as little as {1e3 * ends[0]:.3g} mA, the ratio is stated from {1e3 * curve.least:.3g} mA"
        missing = OpenFact(subject, "rated.transfer_ratio", f"at {1e3 * ends[0]:.2g} mA")
        return ledger.hole(subject, "transfer_ratio", (missing,), case=RUNS, note=note, inputs=(led.number,))
    value = Value(*(_end(curve, ends[k], ends[3 - k], k, k < 2) for k in range(4)))
    return ledger.write(
        subject,
        "transfer_ratio",
        value,
        case=RUNS,
        known_by=entry.known_by,
        inputs=(entry.number, led.number),
        rests_on=entry.rests_on | led.rests_on,
        place=entry.place,
        source="data sheet",
        formula="read at the LED current, at most the greatest of the sheet",
    )


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
        missing = OpenFact(subject, "rated.transfer_ratio_left", "with its hours of use")
        return ledger.hole(subject, "rated.transfer_ratio_left", (missing,), case=RUNS)
    value = curve_at(stated.value, WANTED_HOURS * 3600.0) if isinstance(stated.value, Curve) else None
    if value is None or not isinstance(stated.value, Curve):
        note = f"the maker's figure ends before {WANTED_HOURS:.0f} h"
        missing = OpenFact(subject, "rated.transfer_ratio_left", f"after {WANTED_HOURS:.0f} h")
        return ledger.hole(subject, "rated.transfer_ratio_left", (missing,), case=RUNS, note=note)
    years = stated.value.greatest / 3600.0 / _YEAR
    return ledger.write(
        subject,
        "rated.transfer_ratio_left",
        value,
        case=RUNS,
        known_by=stated.known_by,
        inputs=(stated.number,),
        rests_on=stated.rests_on,
        formula=f"share left after {WANTED_HOURS:.0f} h",
        source="data sheet",
        note=f"the maker's figures reach {years:.3g} years",
        place=stated.place,
    )


def share_warm(context: Context, subject: Subject) -> Entry:
    """Least share of the ratio between the coldest ambient and the hottest air beside it."""
    ledger = context.ledger
    stated = context.fact(subject, _BY_HEAT)
    if stated is None:
        return context.assume("transfer_ratio_by_temperature", subject, _BY_HEAT)
    if not isinstance(stated.value, Curve):
        missing = OpenFact(subject, _BY_HEAT, "with its temperatures")
        return ledger.hole(subject, _BY_HEAT, (missing,), case=RUNS)
    hottest = next((one for one in context.plan.cases(["air_temperature"], [RUNNING])), RUNS)
    beside = air(context, subject, hottest)
    coldest = context.plan.ambient[0] if context.plan.ambient is not None else None
    if not isinstance(beside.value, Value) or coldest is None:
        return ledger.hole(
            subject, _BY_HEAT, beside.missing or (OpenFact(SUPPLY, "site.ambient"),), case=RUNS, note=beside.note
        )
    curve, hot = stated.value, beside.value
    if coldest < curve.least or hot.high > curve.greatest:
        note = (
            f"the curve runs from {curve.least:.4g} to {curve.greatest:.4g} degC, the part from {coldest:.4g} to "
            f"{hot.high:.4g} degC"
        )
        missing = OpenFact(subject, _BY_HEAT, f"from {coldest:.4g} to {hot.high:.4g} degC")
        return ledger.hole(subject, _BY_HEAT, (missing,), case=RUNS, note=note)
    wide = [_end(curve, coldest, hot.high, k, True) for k in range(4)]
    narrow = [_end(curve, coldest, max(hot.near, coldest), k, True) for k in range(4)]
    value = Value(wide[0], wide[1], max(narrow[2], wide[1]), max(narrow[3], narrow[2], wide[1]))
    return ledger.write(
        subject,
        _BY_HEAT,
        value,
        case=RUNS,
        known_by=stated.known_by,
        inputs=(stated.number, beside.number),
        rests_on=stated.rests_on | beside.rests_on,
        place=stated.place,
        formula="least from the coldest ambient to the hottest air",
        source="data sheet",
    )


# The optocoupler that carries the control: current of its LED, transfer ratio now and at the end of life, and whether
# what is left of it still stops the controller. What the transistor bears.
#
# The loop needs most where the controller has to stop: at no load the LED must be given enough to draw the feedback
# pin down, through the least transfer ratio, aged, at the worst temperature. The output is held until then, so a
# coupler that has grown too weak lets it rise at no load.


_MADE_FOR = ("shunt reference",)

LED = Model.of(
    "LED of the optocoupler", law.LED, "Kirchhoff", "(output − reference − drop) / resistance − drop / bias resistor"
)
COUPLED = Model.of(
    "optocoupler at the end of life",
    law.COUPLED,
    "definition of the transfer ratio",
    "LED current × transfer ratio × share left × share at temperature",
)
NEEDED = Model.of(
    "LED current at the end of life",
    law.NEEDED,
    "definition of the transfer ratio",
    "current that stops the controller / (transfer ratio × share left × share at temperature)",
)
AGED = Model.of(
    "transfer ratio at the end of life",
    product("aged", "ratio", "left", "warm"),
    "definition",
    "transfer ratio × share left × share at temperature",
)


def solve_couplers(context: Context) -> None:
    """Say of every optocoupler what it carries; of those that carry the control write every row."""
    structure, control = context.structure, context.structure.control
    solve_set_ratio(context)
    for name in structure.kinds:
        if not structure.may_be(name, "optocoupler") or not structure.fitted.get(name, True):
            continue
        subject = part(name)
        if control.through:
            word = "control" if name in control.through else "other"
            context.ledger.write(
                subject,
                "optocoupler.carries",
                Category.of(word),
                known_by="computed",
                formula="the control block",
                source="the circuit as walked",
            )
        else:
            context.ledger.hole(subject, "optocoupler.carries", (OpenFact(SUPPLY, "control.through"),))
        if name in control.through:
            _coupler(context, subject)


def solve_set_ratio(context: Context) -> None:
    """What the divider sets the outputs to, over the voltages of their plate."""
    control = context.structure.control
    if not (control.upper or control.lower or control.reference):
        return
    quantity: QuantityName = "set_ratio"
    if control.reference is None or not control.upper or len(control.lower) != 1:
        name = "control.reference" if control.reference is None else "control.divider"
        context.ledger.hole(SUPPLY, quantity, (OpenFact(SUPPLY, name),))
        return
    inputs: dict[str, Entry | Value | float] = {
        "reference": context.need(part(control.reference), "part.voltage"),
        "lower": context.need(part(control.lower[0]), "part.resistance"),
    }
    for output, name in zip(control.divides, control.upper, strict=True):
        inputs[f"upper_{output}"] = context.need(part(name), "part.resistance")
        inputs[f"plate_{output}"] = context.need(Subject("output", (output,)), "plate.voltage")
    model = Model.of("voltage that a divider sets", set_ratio(*control.divides), "Kirchhoff", "reference over divider")
    context.ledger.work_out(model, inputs, [(SUPPLY, quantity, "ratio")])


def _coupler(context: Context, subject: Subject) -> None:
    ledger = context.ledger
    led = _led(context, subject)
    needed = _passed_on(context, subject, "part.feedback_current", "coupled_current_needed")
    _transistor(context, subject)
    ratio = ratio_at(context, subject, led)
    left, warm = share_left(context, subject), share_warm(context, subject)
    shares = {"ratio": ratio, "left": left, "warm": warm}
    ledger.work_out(AGED, shares, [(subject, "transfer_ratio_aged", "aged")], case=RUNS)
    ledger.work_out(NEEDED, {"needed": needed, **shares}, [(subject, "led_current_needed", "needed")], case=RUNS)
    usable, beyond = usable_current(context, subject, led)
    row = ledger.work_out(COUPLED, {"led": usable, **shares}, [(subject, "coupled_current", "coupled")], case=RUNS)[0]
    if not isinstance(row.value, Value) and not isinstance(ratio.value, Value):
        _at_most(context, subject, led, needed, left, warm)
    elif beyond and isinstance(row.value, Value):
        # above the greatest LED current stated the transistor draws no less than there, and nobody says how much more
        note = "the LED gets more than the transfer ratio is stated for: at least this much"
        ledger.write(
            subject,
            "coupled_current",
            Value(row.value.low, row.value.near, inf, inf),
            case=RUNS,
            known_by="computed",
            formula=row.formula,
            source=row.source,
            inputs=row.inputs,
            rests_on=row.rests_on,
            note=note,
        )


# Below the least LED current of a sheet the ratio is not known. It has one peak, between 5 and 20 mA, and a sheet that
# states it at 20 mA may state less than the peak: twice bounds it from above (own allowance).
_MOST_BELOW = 2.0


def _at_most(context: Context, subject: Subject, led: Entry, needed: Entry, left: Entry, warm: Entry) -> None:
    """Where the LED gets less than the sheet gives a ratio for: what is too little for sure shows, nothing passes."""
    curve, entry = stated_ratio(context, subject)
    rows = (led, needed, left, warm)
    values = [row.value for row in rows if isinstance(row.value, Value)]
    if curve is None or entry is None or len(values) < len(rows):
        return
    most = _MOST_BELOW * max(value.high for _, value in curve.points)
    far, high = (most * current * values[2].high * values[3].high for current in (values[0].far, values[0].high))
    if values[1].near <= far:
        return
    context.ledger.write(
        subject,
        "coupled_current",
        Value(0.0, 0.0, far, high),
        case=RUNS,
        known_by="computed",
        inputs=(entry.number, *(row.number for row in rows)),
        formula="LED current × at most twice the stated ratio",
        source="own allowance below the LED currents of the sheet",
        rests_on=entry.rests_on.union(*(row.rests_on for row in rows)),
    )


# ---- the LED ---------------------------------------------------------------------------------------------------------


def _led(context: Context, subject: Subject) -> Entry:
    """Greatest current of the LED: the reference pulls its cathode down to its own voltage."""
    control = context.structure.control
    reference = control.reference
    if reference is not None and not context.structure.may_be(reference, *_MADE_FOR):
        note = f"{reference} is no shunt reference: how far the output rises before the LED is driven is not worked out"
        return context.ledger.hole(subject, "led_current", (), case=RUNS, note=note)
    resistor = control.coupler_resistor
    drop = context.fact(subject, "rated.forward_voltage")
    if drop is not None and isinstance(drop.value, Curve):
        ends = [value for _, value in drop.value.points]
        span = Value(
            *(
                pick(column)
                for pick, column in zip(
                    (min, min, max, max), zip(*(one.numbers() for one in ends), strict=True), strict=True
                )
            )
        )
        drop = context.ledger.write(
            subject,
            "forward_drop",
            span,
            case=RUNS,
            known_by=drop.known_by,
            inputs=(drop.number,),
            rests_on=drop.rests_on,
            formula="forward voltage of the sheet, over its currents",
            source="data sheet",
        )
    inputs: dict[str, Entry | Value | float] = {
        "output": _feed(context, subject),
        "reference": _fact(context, reference, "part.voltage", "control.reference"),
        "drop": drop if drop is not None else context.assume("coupler_led_drop", subject, "forward_drop"),
        "resistance": _fact(context, resistor, "part.resistance", "control.coupler_resistor"),
    }
    bias = control.bias_resistor
    if bias != "none":  # where nobody looked it is a hole: what it takes, the LED does not get
        inputs["bias"] = _fact(context, bias, "part.resistance", "control.bias_resistor")
    return context.ledger.work_out(LED, inputs, [(subject, "led_current", "led")], case=RUNS)[0]


def _fact(context: Context, name: str | None, fact: QuantityName, key: QuantityName) -> Entry:
    return context.need(part(name), fact) if name else context.need(SUPPLY, key)


def _feed(context: Context, subject: Subject) -> Entry:
    """Voltage of the output that feeds the LED, in size."""
    structure, control = context.structure, context.structure.control
    names = [control.coupler_supply] if control.coupler_supply else list(structure.outputs)
    if len(names) != 1:
        return context.need(SUPPLY, "control.coupler_supply")
    stated = context.need(Subject("output", (names[0],)), "plate.voltage")
    if not isinstance(stated.value, Value) or stated.value.low >= 0.0:
        return stated
    low, near, far, high = (abs(one) for one in reversed(stated.value.numbers()))
    return context.ledger.write(
        stated.subject,
        "plate.voltage",
        Value(low, near, far, high),
        case=RUNS,
        known_by=stated.known_by,
        inputs=(stated.number,),
        rests_on=stated.rests_on,
        formula="size of the voltage",
        source="definition",
    )


# ---- the controller's side -------------------------------------------------------------------------------------------


def _passed_on(context: Context, subject: Subject, fact: QuantityName, quantity: QuantityName) -> Entry:
    """A fact of the controller's feedback pin as a row of the optocoupler."""
    by = context.structure.control.by
    stated = context.need(part(by), fact) if by else context.need(SUPPLY, "control.by")
    if not isinstance(stated.value, Value):
        return context.ledger.hole(subject, quantity, stated.missing, case=RUNS, inputs=(stated.number,))
    return context.ledger.write(
        subject,
        quantity,
        stated.value,
        case=RUNS,
        known_by=stated.known_by,
        inputs=(stated.number,),
        rests_on=stated.rests_on,
        place=stated.place,
        formula="of the controller's feedback pin",
        source="data sheet",
    )


def _transistor(context: Context, subject: Subject) -> None:
    """Voltage the transistor stands when dark: that of the open pin, else anything up to the rail in overload."""
    by = context.structure.control.by
    if by and context.fact(part(by), "part.feedback_voltage") is not None:
        _passed_on(context, subject, "part.feedback_voltage", "voltage")
        return
    rail = context.fact(AUXILIARY_RAIL, "voltage", Case(OVERLOAD))
    if rail is None or not isinstance(rail.value, Value):
        lacking = OpenFact(part(by), "part.feedback_voltage") if by else OpenFact(SUPPLY, "control.by")
        context.ledger.hole(subject, "voltage", (lacking,), case=RUNS)
        return
    context.ledger.write(
        subject,
        "voltage",
        Value(0.0, 0.0, rail.value.far, rail.value.high),
        case=RUNS,
        known_by="computed",
        inputs=(rail.number,),
        rests_on=rail.rests_on | {OpenFact(part(by or "controller"), "part.feedback_voltage")},
        formula="up to the auxiliary rail in overload",
        note="the voltage of the open feedback pin is not known",
        source="own reasoning: the rail is the highest voltage the controller has",
    )
