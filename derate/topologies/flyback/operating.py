"""Currents of the converter: primary at full load, at the current limit and at brown-out; each secondary winding.

`PrimaryRows` are what later modules start from: the operating points at the lowest and at the highest mains.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from derate.circuit.elementary import passed, ratio, total
from derate.circuit.flyback import PEAK_AT_LIMIT, PRIMARY_AT
from derate.ledger.entry import SUPPLY, Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import Context, part, repeated
from derate.stress.mains.bulk_states import bulk_high, bulk_low
from derate.terms.quantities import OVERLOAD, RUNNING, CaseGroup, paired
from derate.terms.quantity_names import QuantityName
from derate.terms.tuples import NamedTuple
from derate.terms.values import Value
from derate.topologies.flyback.shape import PRIMARY, STANDING, FlybackShape, assumed

Inputs = dict[str, Entry | Value | float]
Rows = list[Wanted]
_SOURCE = "AN-4137 (2004) eq 8 to 12 and 30; held to ngspice 39"
_BOUNDARY_SOURCE = "own derivation, energy and volt-second balance"


def primary_model(boundary: bool) -> Model:
    """Currents of the primary."""
    return Model.of(
        "flyback primary at the boundary of its modes" if boundary else "flyback primary at a fixed frequency",
        PRIMARY_AT[boundary],
        _BOUNDARY_SOURCE if boundary else _SOURCE,
        "volt-seconds and energy of one period",
    )


PRIMARY_MODELS = {boundary: primary_model(boundary) for boundary in (False, True)}


def base_inputs(shape: FlybackShape, bulk: Entry) -> Inputs:
    """The inputs every operating point needs."""
    inputs: Inputs = {
        "bulk": bulk,
        "power": shape.carried,
        "inductance": shape.inductance,
        "reflected": shape.reflected,
    }
    if shape.cap is not None:
        inputs["frequency"] = shape.cap
    return inputs


def across(
    context: Context, model: Model, inputs: Inputs, wanted: Iterable[Wanted], group: CaseGroup, note: str = ""
) -> None:
    """Work out rows at every case of a group their quantities have, solving once: the inputs do not depend on it."""
    rows = list(wanted)
    cases: dict[Case, Rows] = {}
    for subject, quantity, output in rows:
        for case in context.plan.cases([quantity], [group]):
            cases.setdefault(case, []).append((subject, quantity, output))
    done: dict[Wanted, Entry] = {}
    for case, at in cases.items():
        new = [row for row in at if row not in done]
        done |= dict(zip(new, context.ledger.work_out(model, inputs, new, case=case, note=note), strict=True))
        for row in at:
            if row not in new:
                repeated(context, done[row], case)


class Between(NamedTuple):
    """A row from one output of a model, the least it can be, to another, the most."""

    subject: Subject
    quantity: QuantityName
    least: str
    most: str


def between(
    context: Context,
    model: Model,
    inputs: Inputs,
    rows: Sequence[Between],
    case: Case,
    note: str = "between no ringing and ringing without damping",
) -> tuple[Entry, ...]:
    """Rows between two outputs of a model, solved together; a hole where one of the two cannot be worked out."""
    wanted: list[Wanted] = [(one.subject, one.quantity, out) for one in rows for out in (one.least, one.most)]
    found = context.ledger.work_out(model, inputs, wanted, case=case)
    return tuple(_between(context, plain, most, note) for plain, most in zip(found[::2], found[1::2], strict=True))


def _between(context: Context, plain: Entry, most: Entry, note: str) -> Entry:
    assert plain.case is not None
    if not isinstance(most.value, Value):
        return most
    if not isinstance(plain.value, Value):
        return repeated(context, plain, plain.case)
    near = plain.value.near
    far, high = max(near, most.value.far), max(near, most.value.high)
    return context.ledger.write(
        plain.subject,
        plain.quantity,
        Value(plain.value.low, near, far, max(far, high)),
        case=plain.case,
        known_by="computed",
        formula=plain.formula,
        source=plain.source,
        inputs=(plain.number, most.number),
        note=note,
        rests_on=plain.rests_on | most.rests_on,
    )


# ---- primary ---------------------------------------------------------------------------------------------------------


def solve_primary(context: Context, shape: FlybackShape) -> None:
    """Switch, sense resistor and the winding's average at full load (lowest mains), and all peaks at the limit.

    What else a winding carries depends on the clamp: `solve_winding` of the switch.
    """
    model = PRIMARY_MODELS[shape.boundary]
    carriers, windings = [PRIMARY], []
    if shape.primary is not None:
        names = [name for step in shape.primary.path for name in step.names]
        carriers += [part(name) for name in names if "." not in name]
        windings = [Subject("winding", (name,)) for name in names if "." in name]
    case = context.plan.cases(["voltage_min"], [RUNNING])[0]
    inputs = base_inputs(shape, bulk_low(context, case))
    currents = paired(("current_rms", "rms"), ("current_peak", "peak"), ("current_average", "average"))
    wanted: Rows = [(one, quantity, output) for one in carriers for quantity, output in currents]
    wanted += [(one, "current_average", "average") for one in windings]
    wanted.append((PRIMARY, "duty", "duty"))
    controller = controller_of(context, shape)
    if controller is not None:  # of the controller too, whose greatest duty it is held to
        wanted.append((part(controller), "duty", "duty"))
    across(context, model, inputs, wanted, RUNNING)
    resistor_power(context, shape)
    limit = current_limit(context, shape)
    if shape.switch is not None:  # a standing row of the switch too, so that a rule may hold its peak against it
        context.ledger.write(
            part(shape.switch),
            "current_limit",
            limit.value,
            missing=limit.missing,
            known_by="computed",
            inputs=(limit.number,),
            note=limit.note,
            rests_on=limit.rests_on,
            formula=limit.formula,
            source=limit.source,
        )
    peak = context.ledger.work_out(
        AT_LIMIT,
        limit_inputs(context, shape, limit),
        [(PRIMARY, "current_peak", "peak")],
        case=context.plan.cases(["current_peak"], [OVERLOAD])[0],
    )[0]
    for one in (*carriers[1:], *windings):
        repeated(context, peak, peak.case or STANDING, one)


def resistor_power(context: Context, shape: FlybackShape) -> None:
    """Power of the current-sense resistor."""
    from derate.stress.mains.line import POWER  # the line module is loaded by now in every run

    sense = shape.primary.sense if shape.primary is not None else None
    if sense is None:
        return
    resistance = context.need(part(sense), "part.resistance")
    for case in context.plan.cases(["power"], [RUNNING]):
        current = context.need(part(sense), "current_rms", case)
        context.ledger.work_out(
            POWER, {"resistance": resistance, "current": current}, [(part(sense), "power", "power")], case=case
        )


LIMIT = Model.of("current limit", ratio("limit", "threshold", "resistance"), "Ohm", "threshold / sense resistance")
AT_LIMIT = Model.of(
    "primary peak at the current limit",
    PEAK_AT_LIMIT,
    "own derivation: the current goes on rising until the switch has opened",
    "limit + bulk × delay / inductance",
)


def current_limit(context: Context, shape: FlybackShape) -> Entry:
    """Current at which the limit acts: of an integrated switch, or threshold over sense resistance."""
    ledger = context.ledger
    known = ledger.find(PRIMARY, "current_limit", STANDING)
    if known is not None:
        return known
    switch, sense = shape.switch, shape.primary.sense if shape.primary is not None else None
    controller = controller_of(context, shape)
    for name in (switch, controller):
        stated = context.fact(part(name), "part.limit_current") if name else None
        if stated is not None:
            outputs: list[Wanted] = [(PRIMARY, "current_limit", "value")]
            model = Model.of("as stated", passed("value"), "data sheet")
            return ledger.work_out(model, {"value": stated}, outputs, case=STANDING)[0]
    if sense is None or controller is None:
        lacking = OpenFact(part(switch), "part.limit_current") if switch else OpenFact(SUPPLY, "circuit.primary")
        return ledger.hole(PRIMARY, "current_limit", (lacking,), case=STANDING)
    threshold = context.need(part(controller), "part.current_limit")
    return ledger.work_out(
        LIMIT,
        {"threshold": threshold, "resistance": context.need(part(sense), "part.resistance")},
        [(PRIMARY, "current_limit", "limit")],
        case=STANDING,
    )[0]


def controller_of(context: Context, shape: FlybackShape) -> str | None:
    """The part that controls the switch: as named, else the one that states a limit, else the switch itself."""
    named = context.structure.control.by
    if named:
        return named
    for name in context.structure.kinds:
        if context.fact(part(name), "part.current_limit") is not None:
            return name
    return next((n for n in context.structure.kinds if context.structure.must_be(n, "controller")), shape.switch)


def limit_inputs(context: Context, shape: FlybackShape, limit: Entry) -> Inputs:
    """Inputs of the peak at the current limit, at the highest mains."""
    name = controller_of(context, shape)
    subject = part(name) if name else PRIMARY
    delay = context.fact(subject, "part.limit_delay") or assumed(
        context, "limit_delay", subject, "part.limit_delay", "part.limit_delay"
    )
    if shape.switch is not None and context.structure.may_be(shape.switch, "bipolar transistor"):
        delay = _with_storage(context, part(shape.switch), delay)
    return {"limit": limit, "bulk": bulk_high(context), "delay": delay, "inductance": shape.inductance}


STORED = Model.of(
    "delay of the limit with the storage time of the switch",
    total("delay", "delay", "storage"),
    "own derivation: a saturated switch goes on conducting until its stored charge is gone",
    "delay + storage time",
)


def _with_storage(context: Context, switch: Subject, delay: Entry) -> Entry:
    """The delay and what a bipolar switch stores; of a transistor that may be a MOSFET, anything up to that."""
    known = context.ledger.find(switch, "storage_time", STANDING)  # of an earlier step
    storage = (
        known
        or context.fact(switch, "rated.storage_time")
        or assumed(context, "storage_time", switch, "storage_time", "rated.storage_time")
    )
    mosfet = not context.structure.must_be(switch.names[0], "bipolar transistor")
    if known is None and isinstance(storage.value, Value) and mosfet:
        storage = context.ledger.write(
            switch,
            "storage_time",
            Value(0.0, 0.0, storage.value.far, storage.value.high),
            case=STANDING,
            known_by="computed",
            inputs=(storage.number,),
            rests_on=storage.rests_on,
            formula="none of a MOSFET, all of a bipolar transistor",
            source="the kind of the switch is not known",
        )
    outputs: list[Wanted] = [(switch, "limit_delay", "delay")]
    return context.ledger.work_out(STORED, {"delay": delay, "storage": storage}, outputs, case=STANDING)[0]
