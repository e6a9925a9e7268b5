"""Single faults beyond the mains path as rows: those with an equation, and those for the bench with the reason.

The current limit is taken as working, so that the mains path carries little and nothing in it opens. Only the `faults`
command asks for these rows.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from derate.circuit.converter_faults import ERROR, FAULTS, clamp_open, output_shorted, rectifier_shorted_peak
from derate.design.paths import leaves
from derate.design.structure import Structure
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Ledger
from derate.ledger.model import Collapse, Model
from derate.stress.clamp_shape import clamp_of
from derate.stress.context import Assumed, Context, part
from derate.stress.converter import OutputShape, Shape, covered, shape_of
from derate.stress.faults import fault_cases
from derate.stress.operating import Inputs, controller_of, current_limit, limit_inputs
from derate.stress.plan import CasePlan
from derate.terms.values import Category, Value

NOTHING = "nothing to open"


@dataclass(frozen=True, slots=True)
class ConverterFault:
    """One single fault: its name on the bench, what it is about, which entry of the list of faults, and the output."""

    name: str
    subject: Subject
    kind: str
    output: OutputShape | None = None


def converter_faults(context: Context, shape: Shape) -> Iterator[ConverterFault]:
    """Every fault that the parts of this converter give rise to."""
    structure = context.structure
    for one in shape.outputs:
        yield ConverterFault(f"output {one.name} shorted", one.subject, "output shorted", one)
        for element in (*one.walked.capacitors, *one.walked.filtered):
            for leaf in leaves(element):
                yield ConverterFault(f"{leaf.name} shorted", part(leaf.name), "output capacitor shorted", one)
                yield ConverterFault(f"{leaf.name} open", part(leaf.name), "output capacitor open", one)
        for name in one.walked.rectifier:
            yield ConverterFault(f"{name} shorted", part(name), "output rectifier shorted", one)
            yield ConverterFault(f"{name} open", part(name), "output rectifier open", one)
    clamp = clamp_of(context)
    for names, kinds in (
        (clamp.diodes, ("clamp open", "clamp diode shorted")), (clamp.capacitors, ("clamp capacitor shorted",)),
        (clamp.bleed, ("clamp resistor open",)),
    ):  # fmt: skip
        for name in names:
            for kind in kinds:
                yield ConverterFault(f"{name} {'shorted' if 'shorted' in kind else 'open'}", part(name), kind)
    sense = shape.primary.sense if shape.primary is not None else None
    if sense is not None:
        yield ConverterFault(f"{sense} shorted", part(sense), "sense resistor shorted")
        yield ConverterFault(f"{sense} open", part(sense), "sense resistor open")
    for name, place in structure.places.items():
        if place == "auxiliary" and structure.must_be(name, "electrolytic capacitor"):
            yield ConverterFault(f"{name} open", part(name), "auxiliary capacitor open")
            yield ConverterFault(f"{name} shorted", part(name), "auxiliary capacitor shorted")
        elif place == "auxiliary" and structure.one_kind(name) is not None and "diode" in str(structure.one_kind(name)):
            yield ConverterFault(f"{name} open", part(name), "auxiliary rectifier open")
            yield ConverterFault(f"{name} shorted", part(name), "auxiliary rectifier shorted")
    for name in structure.control.through:
        yield ConverterFault(f"{name} open", part(name), "optocoupler open")
        yield ConverterFault(f"{name} shorted", part(name), "optocoupler shorted")
    controller = controller_of(context, shape)
    if controller is not None:
        yield ConverterFault(f"{controller} without supply", part(controller), "controller supply open")
        yield ConverterFault(f"{controller} without feedback", part(controller), "feedback open")
    for name in structure.windings:
        yield ConverterFault(f"{name} layer shorted", Subject("winding", (name,)), "winding layer shorted")


def converter_fault_rows(context: Context) -> None:
    """Write a row for every fault of the converter at the lowest and the highest mains."""
    if covered(context)[0]:
        return
    shape = shape_of(context)
    limit = current_limit(context, shape)
    for fault in converter_faults(context, shape):
        for case in fault_cases(context.plan, fault.name):
            if case.mains is None:
                _bench(context, fault, case, "the mains voltage is not known")
            elif fault.kind in ("output shorted", "output capacitor shorted"):
                _shorted_output(context, shape, fault, limit, case)
            elif fault.kind == "output rectifier shorted":
                _shorted_rectifier(context, shape, fault, limit, case)
            elif fault.kind == "clamp open":
                _open_clamp(context, shape, fault, limit, case)
            else:
                reason = FAULTS[fault.kind][1] or "how long a second protection takes to stop it is not stated"
                _bench(context, fault, case, reason)


def add_converter_faults(structure: Structure, ledger: Ledger, assumptions: Mapping[str, Assumed]) -> None:
    """`converter_fault_rows` for a ledger that was worked out already."""
    if isinstance(ledger.plan, CasePlan):
        converter_fault_rows(Context(structure, ledger, ledger.plan, assumptions))


def _bench(context: Context, fault: ConverterFault, case: Case, why: str) -> None:
    for quantity in ("fault_current", "opening"):
        context.ledger.hole(fault.subject, quantity, (), case=case, note=f"for the bench: {why}")


def _opening(context: Context, fault: ConverterFault, case: Case, row: Entry, note: str) -> None:
    """The word on opening beside a figure; a figure that is a hole leaves a hole, with what is missing."""
    if isinstance(row.value, Value):
        context.ledger.write(
            fault.subject, "opening", Category.of(NOTHING), case=case, known_by="computed", inputs=(row.number,),
            note=note, rests_on=row.rests_on, formula="the current limit works", source="facts section 12",
        )  # fmt: skip
    else:
        note = f"for the bench: {row.note or 'a fact is missing'}"
        context.ledger.hole(fault.subject, "opening", row.missing, case=case, note=note, inputs=(row.number,))


def _at(context: Context, shape: Shape, limit: Entry, case: Case) -> Inputs:
    """The inputs of the current limit with the bulk at the crest of this case's mains."""
    assert case.mains is not None
    return {**limit_inputs(context, shape, limit), "bulk": Value.exact(2**0.5 * case.mains)}


def _shorted_output(context: Context, shape: Shape, fault: ConverterFault, limit: Entry, case: Case) -> None:
    assert fault.output is not None
    rectifier = fault.output.walked.rectifier
    schottky = bool(rectifier) and context.structure.must_be(rectifier[0], "Schottky diode")

    def solve(**k: float) -> dict[str, float]:
        found = output_shorted(
            k["limit"], k["bulk"], k["inductance"], k["delay"], k["ratio"], k["frequency"], drop=k["drop"],
            shortest_on=k["delay"], rectifier="Schottky" if schottky else "PN",
        )  # fmt: skip
        if found.ratchets:
            raise Collapse(
                "the shortest on-time puts in more volt-seconds than the shorted output takes out: the current climbs "
                "past the limit, and nothing computed bounds it"
            )
        return {"secondary": found.secondary, "peak": found.peak, "power": found.power}

    signs = {"limit": 1, "bulk": 1, "inductance": -1, "delay": 1, "ratio": 1, "frequency": 1, "drop": 0}
    model = Model(
        "output shorted, the current limit working", solve,
        {"secondary": signs, "peak": signs, "power": {**signs, "inductance": 0}},
        "AN-23 (Power Integrations) step 20; energy of the inductance", "limit + bulk × delay / inductance, by turns",
        {"secondary": ERROR["short_secondary"], "power": ERROR["short_power"]},
    )  # fmt: skip
    frequency = shape.frequency if shape.frequency is not None else context.need(Subject("supply"), "control.frequency")
    inputs = {
        **_at(context, shape, limit, case), "ratio": fault.output.ratio, "frequency": frequency,
        "drop": fault.output.drop,
    }  # fmt: skip
    subject = fault.subject
    wanted = [
        (subject, "fault_current", "secondary"), (subject, "current_peak", "peak"), (subject, "fault_power", "power"),
    ]  # fmt: skip
    rows = context.ledger.work_out(model, inputs, wanted, case=case, note="without restart: all the time")
    words = "the primary stays at its limit and the mains path carries little"
    if rows[0].note and not isinstance(rows[0].value, Value):
        _opening(context, fault, case, rows[0], "")
    else:
        _opening(
            context, fault, case, rows[0], f"{words}; rectifier and winding carry the fault current until it stops"
        )


def _shorted_rectifier(context: Context, shape: Shape, fault: ConverterFault, limit: Entry, case: Case) -> None:
    assert fault.output is not None
    model = Model(
        "output rectifier shorted", lambda **k: {"peak": rectifier_shorted_peak(**k)},
        {"peak": {"limit": 1, "bulk": 1, "output": 1, "turns_ratio": 1, "leakage": -1, "delay": 1}},
        "own derivation, Kirchhoff; winding resistance left out", "limit + (bulk + n × output) × delay / leakage",
        {"peak": ERROR["rectifier_shorted_peak"]},
    )  # fmt: skip
    at = _at(context, shape, limit, case)
    inputs: Inputs = {
        "limit": at["limit"], "bulk": at["bulk"], "output": fault.output.voltage, "turns_ratio": fault.output.ratio,
        "leakage": shape.leakage, "delay": at["delay"],
    }  # fmt: skip
    row = context.ledger.work_out(model, inputs, [(fault.subject, "current_peak", "peak")], case=case)[0]
    _opening(context, fault, case, row, "each period runs past the limit through the leakage; whether it stops is open")


def _open_clamp(context: Context, shape: Shape, fault: ConverterFault, limit: Entry, case: Case) -> None:
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
    frequency = shape.frequency if shape.frequency is not None else context.need(Subject("supply"), "control.frequency")
    inputs: Inputs = {
        **_at(context, shape, limit, case), "reflected": shape.reflected, "leakage": shape.leakage,
        "breakdown": context.need(switch, "allowed.switch_voltage"), "frequency": frequency,
        "drain": context.need(switch, "part.output_capacitance"),
    }  # fmt: skip
    wanted = [
        (fault.subject, "voltage_peak", "voltage"), (fault.subject, "energy", "energy"),
        (fault.subject, "fault_power", "power"),
    ]  # fmt: skip
    rows = context.ledger.work_out(model, inputs, wanted, case=case)
    _opening(context, fault, case, rows[0], "the switch breaks down at each turn-off where the ring passes its rating")
