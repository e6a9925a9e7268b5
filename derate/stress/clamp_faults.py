"""Parts of the clamp open or shorted, and no secondary to take the energy."""

from __future__ import annotations

from derate.circuit.converter_faults import clamp_open, output_shorted
from derate.circuit.lost_regulation import ERROR as POWER_ERROR
from derate.circuit.lost_regulation import SIGNS as POWER_SIGNS
from derate.circuit.lost_regulation import greatest_power
from derate.circuit.shorted_parts import ERROR, SIGNS, clamp_diode_shorted_power, open_rectifier_voltage
from derate.ledger.entry import Case, Entry
from derate.ledger.ledger import Wanted
from derate.ledger.model import Collapse, Model
from derate.stress.clamp_shape import clamp_of, only
from derate.stress.context import Context, in_series_and_parallel, part
from derate.stress.converter import Shape, forward_drop
from derate.stress.converter_fault_list import ConverterFault
from derate.stress.fault_telling import at_case, crest_of, for_the_bench, frequency_of, said
from derate.stress.operating import Inputs
from derate.stress.switch_voltage import clamping, limit_model
from derate.terms.values import Value

RATCHETS = (
    "the shortest on-time puts in more volt-seconds than the short takes out: the current climbs past the limit, and "
    "nothing computed bounds it"
)


def _then(shape: Shape) -> str:
    """What follows where the switch does not bear it: the row of the list that says what clears."""
    return f"; if it gives way, {shape.switch} shorted is what follows" if shape.switch is not None else ""


def open_clamp(context: Context, shape: Shape, fault: ConverterFault, limit: Entry, case: Case) -> None:
    """Nothing takes the energy of the leakage: the switch rings, and breaks down where the ring passes its rating."""

    def solve(**k: float) -> dict[str, float]:
        peak = k["limit"] + k["bulk"] * k["delay"] / k["inductance"]
        found = clamp_open(
            k["bulk"], k["reflected"], k["leakage"], peak, k["breakdown"], k["frequency"], k["drain"]
        )  # fmt: skip
        return {"voltage": found.switch_peak, "energy": found.energy, "power": found.power}

    voltage = {
        "limit": 1, "bulk": 1, "delay": 1, "inductance": -1, "reflected": 1, "leakage": 1, "drain": -1,
    }  # fmt: skip
    energy = {**voltage, "breakdown": -1}
    model = Model(
        "clamp open", solve, {"voltage": voltage, "energy": energy, "power": {**energy, "frequency": 1}},
        "text-book: undamped ring, and avalanche of the switch", "bulk + reflected + peak × √(leakage / capacitance)",
        {"voltage": (-0.20, 0.01), "energy": (-0.20, 0.02), "power": (-0.20, 0.02)},
    )  # fmt: skip
    switch = part(shape.switch or "")
    inputs: Inputs = {
        **at_case(context, shape, limit, case), "reflected": shape.reflected, "leakage": shape.leakage,
        "breakdown": context.need(switch, "allowed.switch_voltage"), "frequency": frequency_of(context, shape),
        "drain": context.need(switch, "part.output_capacitance"),
    }  # fmt: skip
    wanted: list[Wanted] = [
        (fault.subject, "voltage_peak", "voltage"), (fault.subject, "energy", "energy"),
        (fault.subject, "fault_power", "power"),
    ]  # fmt: skip
    rows = context.ledger.work_out(model, inputs, wanted, case=case)
    first = "the clamp fills up until something breaks down: " if fault.kind == "clamp resistor open" else ""
    said(context, fault, case, rows[0],
         f"{first}the switch breaks down at each turn-off where the ring passes its rating{_then(shape)}")  # fmt: skip


def resistor_open(context: Context, shape: Shape, fault: ConverterFault, limit: Entry, case: Case) -> None:
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
        **at_case(context, shape, limit, case), "reflected": shape.reflected, "leakage": shape.leakage,
        "drain": drain if drain is not None else 0.0, **one.parts,
        "resistance": left if left is not None else hole or context.need(part(fault.rest[0]), "part.resistance"),
    }  # fmt: skip
    if shape.cap is not None:
        inputs["frequency"] = shape.cap
    model = limit_model(shape.boundary, one)
    rows = context.ledger.work_out(
        model._replace(name=f"{model.name}, without {fault.subject.names[0]}"), inputs,
        [(fault.subject, "voltage_peak", "switch_peak"), (fault.subject, "fault_power", "loss")], case=case,
    )  # fmt: skip
    said(context, fault, case, rows[0], f"{', '.join(fault.rest)} alone empties the clamp and takes all of its power")


def diode_shorted(context: Context, shape: Shape, fault: ConverterFault, limit: Entry, case: Case) -> None:
    """The clamp capacitor lies across the winding: each turn-on charges it through the switch."""
    names = clamp_of(context).capacitors
    rows = [context.need(part(name), "part.capacitance") for name in names]
    hole = next((row for row in rows if not isinstance(row.value, Value)), None)
    values = [row.value.numbers() for row in rows if isinstance(row.value, Value)]
    model = Model(
        "clamp diode shorted", lambda **k: {"power": clamp_diode_shorted_power(**k)},
        {"power": SIGNS["clamp_diode_shorted_power"]}, "energy of a capacitor charged through a resistance",
        "capacitance × (bulk + reflected)² × frequency / 2", {"power": ERROR["clamp_diode_shorted_power"]},
    )  # fmt: skip
    inputs: Inputs = {
        "bulk": crest_of(case), "reflected": shape.reflected, "frequency": frequency_of(context, shape),
        "capacitance": hole or Value(*(sum(column) for column in zip(*values, strict=True))),
    }  # fmt: skip
    row = context.ledger.work_out(model, inputs, [(fault.subject, "fault_power", "power")], case=case)[0]
    said(context, fault, case, row, f"the switch takes that power on top of its own{_then(shape)}")


def primary_held(context: Context, shape: Shape, fault: ConverterFault, limit: Entry, case: Case) -> None:
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
            k["limit"], k["bulk"], k["inductance"], k["delay"], 1.0, k["frequency"], drop=k["drop"],
            shortest_on=k["delay"], rectifier="PN",
        )  # fmt: skip
        if found.ratchets:
            raise Collapse(RATCHETS)
        return {"peak": found.peak}

    signs = {"limit": 1, "bulk": 1, "inductance": -1, "delay": 1, "frequency": 0, "drop": 0}
    model = Model("clamp capacitor shorted", solve, {"peak": signs}, "as an output shorted, one to one",
                  "limit + bulk × delay / inductance", {"peak": (-0.5, 0.05)})  # fmt: skip
    inputs: Inputs = {
        **at_case(context, shape, limit, case), "frequency": frequency_of(context, shape),
        "drop": forward_drop(context, part(diodes[0]), diodes),
    }  # fmt: skip
    row = context.ledger.work_out(model, inputs, [(fault.subject, "current_peak", "peak")], case=case)[0]
    said(context, fault, case, row, "the clamp's diode carries the primary's current on, and the output gets nothing")


def rectifier_open(context: Context, shape: Shape, fault: ConverterFault, limit: Entry, case: Case) -> None:
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
    model = Model(
        "output rectifier open", lambda **k: {"voltage": open_rectifier_voltage(**k)},
        {"voltage": SIGNS["open_rectifier_voltage"]}, "energy", "bulk + √(power × resistance of the clamp)",
        {"voltage": ERROR["open_rectifier_voltage"]},
    )  # fmt: skip
    inputs: Inputs = {"bulk": crest_of(case), "power": power, "resistance": resistance}
    row = context.ledger.work_out(model, inputs, [(fault.subject, "voltage_peak", "voltage")], case=case)[0]
    if isinstance(row.value, Value):  # an upper figure: from the bulk alone up to all of the energy in the clamp
        least, far, high = crest_of(case).low, row.value.far, row.value.high
        row = context.ledger.write(
            fault.subject, "voltage_peak", Value(least, least, far, high), case=case, known_by="computed",
            formula=row.formula, source=row.source, inputs=row.inputs, rests_on=row.rests_on,
        )  # fmt: skip
    said(context, fault, case, row, note)


def power_row(context: Context, shape: Shape, fault: ConverterFault, limit: Entry, case: Case) -> Entry:
    """Most power the converter can hand over at its current limit, as a row of the fault."""
    inputs = at_case(context, shape, limit, case)
    if not shape.boundary:
        inputs["frequency"] = frequency_of(context, shape)
    model = Model(
        "all the power there is", lambda **k: {"power": greatest_power(**k)}, {"power": POWER_SIGNS["greatest_power"]},
        "energy of the inductance", "inductance × (limit + bulk × delay / inductance)² × frequency / 2",
        {"power": POWER_ERROR["greatest_power"]},
    )  # fmt: skip
    return context.ledger.work_out(model, inputs, [(fault.subject, "fault_power", "power")], case=case)[0]
