"""A linear lamp driver while it runs, and with its LEDs shorted: loss and voltage of the chip, current of the LEDs."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from derate.circuit import linear_lamp
from derate.circuit.elementary import passed
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import LINE, Context, Inputs, carried, part
from derate.stress.mains.beside import capacitors_across, solve_beside
from derate.stress.mains.bulk_states import bulk_high, bulk_low, crest_of_mains
from derate.stress.mains.line import POWER, hot
from derate.stress.parts.life import allowed_case, bulk_names, junction, solve_lives
from derate.stress.parts.ratings import allowed_current, ripple_rating
from derate.terms.quantities import BROWN_OUT, FULL_LOAD, OVERLOAD, RUNNING
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Value
from derate.topologies.linear_lamp.circuit import LampParts, parts_of


@cache
def off_the_mains(count: int) -> Model:
    """The model of a lamp with so many small capacitors behind its rectifier."""
    return Model.of(
        "linear lamp without bulk capacitor",
        linear_lamp.off_the_mains(count),
        "own derivation, closed form",
        "current × (2 crest cos a − string (π − 2 a)) / π, a = asin(string / crest); ω C crest cos angle on the line",
    )


OFF_A_BULK = Model.of(
    "linear lamp behind a bulk capacitor",
    linear_lamp.OFF_A_BULK,
    "own derivation",
    "(bulk − string) × current, of a bulk from its valley to the crest",
)
DRAWN = Model.of(
    "power drawn by what the chip holds",
    linear_lamp.DRAWN_OFF_A_BULK,
    "own derivation",
    "bulk × current, of a bulk from the string to the crest of the highest mains",
)
AS_IT_IS = Model.of("as it is", passed("value"), "the circuit")


class Lamp(NamedTuple):
    """Its rows: current that the chip holds, voltage of the string."""

    parts: LampParts
    output: Subject
    current: Entry
    string: Entry

    @property
    def chip(self) -> Subject:
        return part(self.parts.chip)


def lamp_of(context: Context) -> Lamp:
    """Gather the inputs: the chip's own current, a hole where nobody stated it."""
    parts = parts_of(context.structure)
    output = Subject("output", (parts.output,))
    own = context.fact(part(parts.chip), "part.limit_current")
    if own is None:  # the plate tells nothing of its tolerance, nor of what a chip holds that is set to more
        own = context.ledger.hole(
            part(parts.chip),
            "current_limit",
            (OpenFact(part(parts.chip), "part.limit_current"),),
            case=Case("converter"),
        )
    return Lamp(parts, output, own, context.need(output, "plate.voltage"))


def power_drawn(context: Context) -> Entry | None:
    """Power that leaves the bulk capacitor [W]: the held current times the whole bulk; None of a lamp that has none."""
    parts = parts_of(context.structure)
    if not parts.keeps or not parts.chip or parts.odd:
        return None
    case = Case(RUNNING, load=FULL_LOAD)
    if context.plan.mains is None:
        return context.ledger.hole(SUPPLY, "power_drawn", context.plan.lacking(RUNNING), case=case)
    inputs: Inputs = {
        "mains": context.plan.mains[1],
        "string": context.need(Subject("output", (parts.output,)), "plate.voltage"),
        "share": Value.between(0.0, 1.0),
        "current": context.need(part(parts.chip), "part.limit_current"),
    }
    return context.ledger.work_out(DRAWN, inputs, [(SUPPLY, "power_drawn", "drawn")], case=case)[0]


def top(context: Context, lamp: Lamp) -> Entry:
    """The greatest voltage of the rail."""
    if lamp.parts.keeps:
        return bulk_high(context)
    case = Case("converter")
    return crest_of_mains(context, LINE, case)


def solve_chip(context: Context, lamp: Lamp) -> None:
    """Loss of the chip running and with all LEDs shorted, its junction, and what it blocks then."""
    ledger, crest = context.ledger, top(context, lamp)
    worst: Entry | None = None
    shorted: Entry | None = None
    for case in context.plan.cases(["power"], [RUNNING]):
        running = _loss(context, lamp, crest, lamp.string, case)
        worst = running if worst is None or _far(running) >= _far(worst) else worst
    for case in context.plan.cases(["power"], [OVERLOAD]):
        shorted = _loss(context, lamp, crest, Value.exact(0.0), case)
    for group in (RUNNING, OVERLOAD):
        for case in context.plan.cases(["voltage_peak"], [group]):  # LEDs that are dark drop next to nothing
            ledger.work_out(AS_IT_IS, {"value": crest}, [(lamp.chip, "voltage_peak", "value")], case=case)
    if worst is not None:
        junction(context, lamp.parts.chip, worst)
    if shorted is not None:
        carried(context, shorted, None, lamp.chip, "power_load_shorted")
    held = context.need(lamp.chip, "part.limit_current")  # the plate tells nothing of its tolerance
    for name in lamp.parts.lights:
        for case in context.plan.cases(["current_average"], [RUNNING]):
            carried(context, held, case, part(name), "current_average")


def _loss(context: Context, lamp: Lamp, crest: Entry, string: Entry | Value, case: Case) -> Entry:
    wanted: list[Wanted] = [(lamp.chip, "power", "power")]
    if lamp.parts.keeps:
        valley, lowest = bulk_low(context, case._replace(group=RUNNING)), context.plan.mains
        inputs: Inputs = {
            "valley": valley if isinstance(valley.value, Value) else 0.0,
            "rise": case.mains / lowest[0] if case.mains is not None and lowest is not None else 1.0,
            "crest": crest,
            "share": Value.between(0.0, 1.0),
            "string": string,
            "current": lamp.current,
        }
        return context.ledger.work_out(OFF_A_BULK, inputs, wanted, case=case)[0]
    if case.mains is None:
        return context.ledger.hole(lamp.chip, "power", context.plan.lacking(case.group), case=case)
    model, inputs = _held(context, lamp, Value.exact(case.mains), string, case)
    return context.ledger.work_out(model, inputs, wanted, case=case)[0]


def _held(context: Context, lamp: Lamp, mains: Value, string: Entry | Value, case: Case) -> tuple[Model, Inputs]:
    """Model and inputs without bulk capacitor; small ones charge from the line, at the frequency of the case."""
    names = [name for name, place in context.structure.places.items() if place == "input capacitor"]
    inputs: dict[str, Entry | Value | float] = {
        "mains": mains,
        "string": string,
        "current": lamp.current,
        "lost": Value.between(0.0, _lost(context, lamp)),
    }
    if names:
        highest = context.plan.frequency[1] if context.plan.frequency is not None else 63.0
        inputs["frequency"] = case.frequency or highest
    for k, name in enumerate(names):
        inputs[f"capacitance_{k}"] = context.need(part(name), "part.capacitance")
    return off_the_mains(len(names)), inputs


# Two diodes of a bridge, the resistance of the mains and what a fuse drops [V] (common practice, no source).
_DROPS = 3.0
_HOT = 1.3  # a resistor that is hot, over its value: common practice, no source


def _lost(context: Context, lamp: Lamp) -> float:
    """The most that lies on diodes and resistors while the current flows [V]; nothing of it is sure."""
    inlet = context.structure.own_inlet
    names = (*(inlet.series if inlet is not None else ()), *lamp.parts.sensed)
    known = [context.fact(part(name), "part.resistance") for name in names]
    ohms = sum(one.value.high for one in known if one is not None and isinstance(one.value, Value))
    held = lamp.current.value
    return _DROPS + (_HOT * ohms * held.high if isinstance(held, Value) else 0.0)


def _far(row: Entry) -> float:
    return row.value.far if isinstance(row.value, Value) else float("inf")


def solve_line(context: Context, lamp: Lamp) -> None:
    """The line of a lamp without bulk capacitor: it carries the current of the LEDs while that flows.

    Ahead of capacitors across it theirs is added.
    """
    inlet = context.structure.own_inlet
    if inlet is None:
        return
    series = [part(name) for name in inlet.series]
    ahead, across = capacitors_across(context, inlet)
    for group in (RUNNING, BROWN_OUT):
        for case in context.plan.cases(["current_rms", "mains_current"] if across else ["current_rms"], [group]):
            for one in (LINE, *series[ahead:]):
                _flows(context, lamp, one, "current_rms", "rms", case)
        for case in () if across else context.plan.cases(["mains_current"], [group]):
            _flows(context, lamp, SUPPLY, "mains_current", "rms", case)
    for case in context.plan.cases(["current_peak"], [RUNNING]):
        for one in (LINE, *series[ahead:]):
            _flows(context, lamp, one, "current_peak", "peak", case)
    if across:
        solve_beside(context, inlet, ahead, across)
    for group in (RUNNING, BROWN_OUT):
        for case in context.plan.cases(["power"], [group]):
            for one in series:
                current = context.fact(one, "current_rms", case)
                if current is not None:
                    inputs: Inputs = {"resistance": hot(context, one.names[0]), "current": current}
                    context.ledger.work_out(POWER, inputs, [(one, "power", "power")], case=case)
    for name, place in context.structure.places.items():
        for case in context.plan.cases(["voltage_peak"], [RUNNING]) if place == "input capacitor" else ():
            carried(context, top(context, lamp), case, part(name), "voltage_peak")
    for name in lamp.parts.rectifier:
        allowed_current(context, name)
        for case in context.plan.cases(["current_average"], [RUNNING]):  # of a bridge half of it: the whole is kept
            _flows(context, lamp, part(name), "current_average", "average", case)
        for case in context.plan.cases(["reverse_voltage"], [RUNNING]):
            context.ledger.work_out(
                AS_IT_IS, {"value": top(context, lamp)}, [(part(name), "reverse_voltage", "value")], case=case
            )


def _flows(context: Context, lamp: Lamp, subject: Subject, quantity: QuantityName, output: str, case: Case) -> None:
    if case.mains is None:
        context.ledger.hole(subject, quantity, context.plan.lacking(case.group), case=case)
        return
    mains = Value.exact(case.mains)
    if output == "peak" and context.plan.mains is not None:  # told at one mains, and at its greatest at the highest
        mains = Value.between(case.mains, max(case.mains, context.plan.mains[1]))
    model, inputs = _held(context, lamp, mains, lamp.string, case)
    context.ledger.work_out(model, inputs, [(subject, quantity, output)], case=case)


def solve_bulk(context: Context, lamp: Lamp) -> None:
    """Ripple of the bulk capacitor, all of it at twice the mains frequency, against its rating there; its life."""
    hertz = 2.0 * (context.plan.frequency[0] if context.plan.frequency is not None else 47.0)
    names = bulk_names(context)
    for name in names:
        ripple_rating(context, part(name), hertz)
        for case in context.plan.cases(["ripple_equivalent"], [RUNNING]):
            slow = context.need(part(name), "ripple_current", case)
            carried(context, slow, case, part(name), "ripple_equivalent")
        allowed_case(context, name)
    solve_lives(context, names, "ripple_equivalent")
