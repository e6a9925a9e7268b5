"""Single faults beyond the mains path: clamp parts, lost regulation, one of several in series or parallel."""

from __future__ import annotations

from math import inf

from derate.circuit.converter_faults import (
    CLAMP_DIODE_SHORTED,
    GREATEST_POWER,
    OPEN_RECTIFIER,
    OUTPUT_AT_STOP,
    clamp_open,
    output_at_least_load,
    output_shorted,
    time_to_voltage,
)
from derate.circuit.output_stage import carried_alone
from derate.design.structure import leaves
from derate.ledger.entry import Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import AUXILIARY_RAIL, Context, in_series_and_parallel, only, part
from derate.stress.faults.converter import SingleFault, crest_of, for_the_bench, said
from derate.terms.quantities import RUNNING
from derate.terms.values import Collapse, Value, written
from derate.topologies.flyback.operating import Inputs, controller_of, limit_inputs
from derate.topologies.flyback.output_capacitors import capacitance_of
from derate.topologies.flyback.rails import turns_of
from derate.topologies.flyback.shape import FlybackShape, OutputShape, forward_drop
from derate.topologies.flyback.switch import clamp_of, clamping, limit_model

# What the faults beyond the mains path have in common: the bench rows, the word on opening, the inputs of a case.


_NOTHING = "nothing to open"


def at_case(context: Context, shape: FlybackShape, limit: Entry, case: Case) -> Inputs:
    """The inputs of the current limit with the bulk at the crest of this case's mains."""
    return {**limit_inputs(context, shape, limit), "bulk": crest_of(case)}


def frequency_of(context: Context, shape: FlybackShape) -> Entry:
    """The switching frequency, or the hole that names it."""
    return shape.frequency if shape.frequency is not None else context.need(Subject("supply"), "control.frequency")


# Parts of the clamp open or shorted, and no secondary to take the energy.


RATCHETS = (
    "the shortest on-time puts in more volt-seconds than the short takes out: the current climbs past the limit, and "
    "nothing computed bounds it"
)


def _then(shape: FlybackShape) -> str:
    """What follows where the switch does not bear it: the row of the list that says what clears."""
    return f"; if it gives way, {shape.switch} shorted is what follows" if shape.switch is not None else ""


def open_clamp(context: Context, shape: FlybackShape, fault: SingleFault, limit: Entry, case: Case) -> None:
    """Nothing takes the energy of the leakage: the switch rings, and breaks down where the ring passes its rating."""

    def solve(**k: float) -> dict[str, float]:
        peak = k["limit"] + k["bulk"] * k["delay"] / k["inductance"]
        found = clamp_open(k["bulk"], k["reflected"], k["leakage"], peak, k["breakdown"], k["frequency"], k["drain"])
        return {"voltage": found.switch_peak, "energy": found.energy, "power": found.power}

    voltage = {"limit": 1, "bulk": 1, "delay": 1, "inductance": -1, "reflected": 1, "leakage": 1, "drain": -1}
    energy = {**voltage, "breakdown": -1}
    model = Model(
        "clamp open",
        solve,
        {"voltage": voltage, "energy": energy, "power": {**energy, "frequency": 1}},
        "own derivation: undamped ring, and avalanche of the switch",
        "bulk + reflected + peak × √(leakage / capacitance)",
        {"voltage": (-0.20, 0.01), "energy": (-0.20, 0.02), "power": (-0.20, 0.02)},
    )
    switch = part(shape.switch or "")
    inputs: Inputs = {
        **at_case(context, shape, limit, case),
        "reflected": shape.reflected,
        "leakage": shape.leakage,
        "breakdown": context.need(switch, "allowed.switch_voltage"),
        "frequency": frequency_of(context, shape),
        "drain": context.need(switch, "part.output_capacitance"),
    }
    wanted: list[Wanted] = [
        (fault.subject, "voltage_peak", "voltage"),
        (fault.subject, "energy", "energy"),
        (fault.subject, "fault_power", "power"),
    ]
    rows = context.ledger.work_out(model, inputs, wanted, case=case)
    first = "the clamp fills up until something breaks down: " if fault.kind == "clamp resistor open" else ""
    said(
        context,
        fault,
        case,
        rows[0],
        f"{first}the switch breaks down at each turn-off where the ring passes its rating{_then(shape)}",
    )


def resistor_open(context: Context, shape: FlybackShape, fault: SingleFault, limit: Entry, case: Case) -> None:
    """One of several bleeding resistors open: the clamp works with what is left, at a higher voltage."""
    clamp = clamp_of(context)
    one = clamping(context, shape, clamp)
    element = only(clamp.whole, fault.rest) if clamp.whole is not None else None
    if one is None or element is None:
        for_the_bench(context, fault, case, "a clamp of these parts is not worked out")
        return
    stated = {name: context.need(part(name), "part.resistance") for name in fault.rest}
    known = {name: row.value for name, row in stated.items() if isinstance(row.value, Value)}
    left = in_series_and_parallel(element, known, capacitors=False)
    hole = next((row for row in stated.values() if not isinstance(row.value, Value)), None)
    switch = part(shape.switch or "")
    drain = context.fact(switch, "part.output_capacitance")
    inputs: Inputs = {
        **at_case(context, shape, limit, case),
        "reflected": shape.reflected,
        "leakage": shape.leakage,
        "drain": drain if drain is not None else 0.0,
        **one.parts,
        "resistance": left if left is not None else hole or context.need(part(fault.rest[0]), "part.resistance"),
    }
    if shape.cap is not None:
        inputs["frequency"] = shape.cap
    model = limit_model(shape.boundary, one)
    rows = context.ledger.work_out(
        model._replace(name=f"{model.name}, without {fault.subject.names[0]}"),
        inputs,
        [(fault.subject, "voltage_peak", "switch_peak"), (fault.subject, "fault_power", "loss")],
        case=case,
    )
    said(context, fault, case, rows[0], f"{', '.join(fault.rest)} alone empties the clamp and takes all of its power")


def diode_shorted(context: Context, shape: FlybackShape, fault: SingleFault, limit: Entry, case: Case) -> None:
    """The clamp capacitor lies across the winding: each turn-on charges it through the switch."""
    names = clamp_of(context).capacitors
    rows = [context.need(part(name), "part.capacitance") for name in names]
    hole = next((row for row in rows if not isinstance(row.value, Value)), None)
    values = [row.value.numbers() for row in rows if isinstance(row.value, Value)]
    model = Model.of(
        "clamp diode shorted",
        CLAMP_DIODE_SHORTED,
        "energy of a capacitor charged through a resistance",
        "capacitance × (bulk + reflected)² × frequency / 2",
    )
    inputs: Inputs = {
        "bulk": crest_of(case),
        "reflected": shape.reflected,
        "frequency": frequency_of(context, shape),
        "capacitance": hole or Value(*(sum(column) for column in zip(*values, strict=True))),
    }
    row = context.ledger.work_out(model, inputs, [(fault.subject, "fault_power", "power")], case=case)[0]
    said(context, fault, case, row, f"the switch takes that power on top of its own{_then(shape)}")


def primary_held(context: Context, shape: FlybackShape, fault: SingleFault, limit: Entry, case: Case) -> None:
    """The clamp's capacitor shorted: its diode lies across the winding while the switch is off, nothing reaches the
    output, and the current falls no faster than the diode's drop lets it.
    """
    clamp = clamp_of(context)
    diodes = clamp.diodes
    if not diodes:
        for_the_bench(context, fault, case, "the winding itself is shorted, and nothing limits the switch but itself")
        return

    def solve(**k: float) -> dict[str, float]:
        found = output_shorted(
            k["limit"],
            k["bulk"],
            k["inductance"],
            k["delay"],
            1.0,
            k["frequency"],
            drop=k["drop"],
            shortest_on=k["delay"],
            rectifier="PN",
        )
        if found.ratchets:
            raise Collapse(RATCHETS)
        return {"peak": found.peak}

    signs = {"limit": 1, "bulk": 1, "inductance": -1, "delay": 1, "frequency": 0, "drop": 0}
    model = Model(
        "clamp capacitor shorted",
        solve,
        {"peak": signs},
        "as an output shorted, one to one",
        "limit + bulk × delay / inductance",
        {"peak": (-0.5, 0.05)},
    )
    inputs: Inputs = {
        **at_case(context, shape, limit, case),
        "frequency": frequency_of(context, shape),
        "drop": forward_drop(context, part(diodes[0]), diodes),
    }
    row = context.ledger.work_out(model, inputs, [(fault.subject, "current_peak", "peak")], case=case)[0]
    said(context, fault, case, row, "the clamp's diode carries the primary's current on, and the output gets nothing")


def rectifier_open(context: Context, shape: FlybackShape, fault: SingleFault, limit: Entry, case: Case) -> None:
    """No secondary takes the energy: at most all of it ends in the clamp, the loop asking for all there is."""
    power = power_row(context, shape, fault, limit, case)
    clamp = clamp_of(context)
    note = "the loop asks for all there is; what the clamp does not bear the switch does, until a stop ends it"
    note += _then(shape)
    values = {name: value for name in clamp.bleed if (value := context.value(part(name), "part.resistance"))}
    resistance = in_series_and_parallel(clamp.element, values, False) if clamp.element is not None else None
    if len(shape.outputs) > 1:
        note = f"the other outputs take its energy and may rise; at most all there is ends in the clamp{_then(shape)}"
    if clamp.kind != "resistor-capacitor-diode" or resistance is None:
        said(context, fault, case, power, note)
        return
    model = Model.of("output rectifier open", OPEN_RECTIFIER, "energy", "bulk + √(power × resistance of the clamp)")
    inputs: Inputs = {"bulk": crest_of(case), "power": power, "resistance": resistance}
    row = context.ledger.work_out(model, inputs, [(fault.subject, "voltage_peak", "voltage")], case=case)[0]
    if isinstance(row.value, Value):  # an upper figure: from the bulk alone up to all of the energy in the clamp
        least, far, high = crest_of(case).low, row.value.far, row.value.high
        row = context.ledger.write(
            fault.subject,
            "voltage_peak",
            Value(least, least, far, high),
            case=case,
            known_by="computed",
            formula=row.formula,
            source=row.source,
            inputs=row.inputs,
            rests_on=row.rests_on,
        )
    said(context, fault, case, row, note)


def power_row(context: Context, shape: FlybackShape, fault: SingleFault, limit: Entry, case: Case) -> Entry:
    """Most power the converter can hand over at its current limit, as a row of the fault."""
    inputs = at_case(context, shape, limit, case)
    if not shape.boundary:
        inputs["frequency"] = frequency_of(context, shape)
    model = Model.of(
        "all the power there is",
        GREATEST_POWER,
        "energy of the inductance",
        "inductance × (limit + bulk × delay / inductance)² × frequency / 2",
    )
    return context.ledger.work_out(model, inputs, [(fault.subject, "fault_power", "power")], case=case)[0]


# Regulation lost: coupler dark, reference open, divider open, controller without feedback.
#
# The converter then gives all it can. What ends the rise: the controller's stop for over-voltage, told by its own
# supply that follows the output by turns; a load that is never less than the plate says; or nothing.


_AT_STOP = Model.of(
    "output at the controller's stop",
    OUTPUT_AT_STOP,
    "AN-4137 (2004) p18, the rail by turns, turned round",
    "(stop + own drop) × turns of the output / turns of the rail − drop",
)


def regulation_lost(context: Context, shape: FlybackShape, fault: SingleFault, limit: Entry, case: Case) -> None:
    """How far the output rises, and how soon its capacitors are past their rating."""
    one = fault.about
    if one is None:
        for_the_bench(context, fault, case, "no output is walked")
        return
    power = power_row(context, shape, fault, limit, case)
    if not isinstance(power.value, Value):
        said(context, fault, case, power, "")
        return
    known = [
        bound for bound in (at_stop(context, shape, one, fault.subject, case), _load(one, power)) if bound is not None
    ]
    base = one.voltage.value
    start = base.near if isinstance(base, Value) else 0.0
    ledger, note = context.ledger, f"output {one.name} rises"
    if known:
        value, word, inputs, rests = min(known, key=lambda bound: bound[0].high)
        note += f" until {word}"
        value = Value(*(max(number, start) for number in value.numbers()))
    else:
        value, inputs, rests = Value.floor(start), (power.number,), power.rests_on
        note += ": without load nothing that is stated bounds it"
        missing = _lacking(context, shape)
        if missing:
            note += f" ({missing} is not stated)"
    row = ledger.write(
        fault.subject,
        "voltage_peak",
        value,
        case=case,
        known_by="computed",
        inputs=inputs,
        rests_on=rests,
        formula="what ends the rise first",
        source="energy, and the rail by turns",
        note=note,
    )
    said(context, fault, case, row, note + _past(context, one, power, value))


_Bound = tuple[Value, str, tuple[int, ...], frozenset[OpenFact]]


def _rail(context: Context) -> tuple[list[str], tuple[str, ...]]:
    """Windings and diodes of the auxiliary rail."""
    path = context.structure.own.auxiliary or ()
    names = [name for step in path if step.how == "series" for name in step.names]
    diodes = tuple(name for name in names if "diode" in (context.structure.one_kind(name) or ""))
    return [name for step in path for name in step.names if "." in name], diodes


def at_stop(
    context: Context, shape: FlybackShape, one: OutputShape, subject: Subject, case: Case | None
) -> _Bound | None:
    """An output where the controller stops by its own supply, as a row of a subject; None where it has no stop."""
    controller = controller_of(context, shape)
    windings, diodes = _rail(context)
    stop = context.fact(part(controller), "part.overvoltage_stop") if controller else None
    if stop is None or not windings or not diodes:
        return None
    inputs: Inputs = {
        "stop": stop,
        "own_drop": forward_drop(context, AUXILIARY_RAIL, diodes),
        "turns": turns_of(context, AUXILIARY_RAIL, windings),
        "output_turns": turns_of(context, one.subject, one.walked.windings),
        "drop": one.drop,
    }
    row = context.ledger.work_out(_AT_STOP, inputs, [(subject, "voltage_peak", "voltage")], case=case)[0]
    if not isinstance(row.value, Value):
        return None
    volts = stop.value.high if isinstance(stop.value, Value) else 0.0
    return row.value, f"{controller} stops at {written(volts, 4)} V of its own supply", (row.number,), row.rests_on


def _load(one: OutputShape, power: Entry) -> _Bound | None:
    if one.least <= 0.0 or not isinstance(power.value, Value):
        return None
    high = output_at_least_load(power.value.high, one.least)
    far = output_at_least_load(power.value.far, one.least)
    word = f"the least load of {written(one.least)} A takes all of it"
    return Value(0.0, 0.0, far, max(far, high)), word, (power.number,), power.rests_on


def _lacking(context: Context, shape: FlybackShape) -> str:
    controller = controller_of(context, shape)
    if controller is None or context.fact(part(controller), "part.overvoltage_stop") is not None:
        return ""
    return f"a stop of {controller} for over-voltage"


def _past(context: Context, one: OutputShape, power: Entry, value: Value) -> str:
    """The output capacitor that passes its rating first, and no sooner than when; nothing where the rise ends below."""
    names = [leaf.name for element in (*one.walked.capacitors, *one.walked.filtered) for leaf in leaves(element)]
    rated = {name: found for name in names if (found := context.value(part(name), "rated.voltage")) is not None}
    if not rated or not isinstance(power.value, Value) or not isinstance(one.voltage.value, Value):
        return ""
    first = min(rated, key=lambda name: rated[name].near)
    volts = rated[first].near
    if value.high <= volts:
        return f"; {first} stays within its {written(volts, 4)} V"
    passes = "passes" if value.near > volts or value.high == inf else "may pass"
    held = capacitance_of(context, (*one.walked.capacitors, *one.walked.filtered), one.subject, one.voltage)
    if not isinstance(held.value, Value):
        return f"; {first} {passes} its {written(volts, 4)} V"
    soonest = time_to_voltage(
        one.voltage.value.high, max(volts, one.voltage.value.high), held.value.low, power.value.high
    )
    return f"; {first} {passes} its {written(volts, 4)} V, no sooner than {written(1e3 * soonest)} ms after"


# One of several parts open or shorted, the others taking over: bleeders, Y capacitors, start-up resistors, output
# capacitors side by side.


def capacitor_open(context: Context, fault: SingleFault, case: Case) -> Entry:
    """One of several output capacitors side by side open: the others carry its ripple current as well.

    At most the sum of all their currents, and no less than the greatest of them.
    """
    own = fault.subject
    here = next(iter(context.plan.cases(["ripple_current"], [RUNNING])), Case(RUNNING))
    rows = [context.need(one, "ripple_current", here) for one in (own, *(part(name) for name in fault.rest))]
    inputs: Inputs = {f"i{k}": row for k, row in enumerate(rows)}
    model = Model.of(
        "ripple current with one capacitor open",
        carried_alone(*inputs),
        "Kirchhoff; what is in phase adds",
        "sum of the ripple currents at the lowest mains",
    )
    return context.ledger.work_out(model, inputs, [(own, "ripple_current", "ripple")], case=case)[0]
