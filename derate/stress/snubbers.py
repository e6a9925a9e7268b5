"""Loss of resistor-capacitor snubbers across the switch or an output rectifier: C V² f, half at each edge."""

from __future__ import annotations

from derate.circuit.secondary import ERROR, snubber_loss
from derate.design.paths import Element, Group, Path, leaves
from derate.ledger.entry import SUPPLY, Entry
from derate.ledger.model import Model
from derate.stress.clamp_shape import only, shares
from derate.stress.context import Context, in_series_and_parallel, part
from derate.stress.converter import STANDING, OutputShape, Shape
from derate.stress.operating import Inputs, bulk_high
from derate.terms.part_kinds import CAPACITORS, RESISTORS
from derate.terms.values import Value

# The swing of the node: the whole plateau across a switch, the whole reverse voltage across a rectifier.
_AT_SWITCH = Model(
    "loss of a snubber across the switch",
    lambda capacitance, bulk, reflected, frequency: {"power": snubber_loss(capacitance, bulk + reflected, frequency)},
    {"power": {"capacitance": 1, "bulk": 1, "reflected": 1, "frequency": 1}},
    "text-book: half of C V² at each edge",
    "C × (bulk + reflected)² × frequency",
    {"power": ERROR["snubber_loss"]},
)
_AT_RECTIFIER = Model(
    "loss of a snubber across a rectifier",
    lambda capacitance, voltage, bulk, ratio, frequency: {
        "power": snubber_loss(capacitance, voltage + bulk / ratio, frequency)
    },
    {"power": {"capacitance": 1, "voltage": 1, "bulk": 1, "ratio": -1, "frequency": 1}},
    "text-book: half of C V² at each edge",
    "C × (output + bulk / turns ratio)² × frequency",
    {"power": ERROR["snubber_loss"]},
)


def solve_snubbers(context: Context, shape: Shape) -> None:
    """Write the power of every snubber's resistors, at the highest mains where it is greatest."""
    for across, path in context.structure.snubbers.items():
        names = [leaf.name for step in path for leaf in leaves(step.element)]
        resistors = tuple(name for name in names if context.structure.must_be(name, *RESISTORS))
        capacitors = tuple(name for name in names if context.structure.must_be(name, *CAPACITORS))
        if not resistors or not capacitors:
            continue
        whole = _joined(path)
        found = _row(
            context, shape, across, _capacitance(context, only(whole, capacitors), capacitors[0]), resistors[0]
        )
        share = shares(context, only(whole, resistors))
        # a diode beside the resistor takes one of the two edges
        edges = 0.5 if any("diode" in (context.structure.one_kind(name) or "") for name in names) else 1.0
        for name in resistors:
            for case in context.plan.cases(["power"], ["running"]):
                if not isinstance(found.value, Value) or name not in share:
                    missing = found.missing or (f"{part(name)}: part.resistance",)
                    context.ledger.hole(part(name), "power", missing, case=case, note=found.note)
                    continue
                context.ledger.write(
                    part(name), "power", found.value.scaled(share[name] * edges), case=case, known_by="computed",
                    inputs=(found.number,), rests_on=found.rests_on, formula=found.formula, source=found.source,
                    note="at the highest mains, where it is greatest",
                )  # fmt: skip


def _joined(path: Path) -> Element:
    """The steps of a path as one element in series."""
    members = tuple(step.element for step in path)
    return members[0] if len(members) == 1 else Group("series", members)


def _capacitance(context: Context, element: Element | None, first: str) -> Entry:
    names = [leaf.name for leaf in leaves(element)] if element is not None else []
    rows = {name: context.need(part(name), "part.capacitance") for name in names}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    value = in_series_and_parallel(element, values, capacitors=True) if element is not None else None
    inputs = tuple(row.number for row in rows.values())
    if value is None:
        missing = [fact for row in rows.values() for fact in row.missing]
        return context.ledger.hole(part(first), "output_capacitance", missing, case=STANDING, inputs=inputs)
    return context.ledger.write(
        part(first), "output_capacitance", value, case=STANDING, known_by="computed", inputs=inputs,
        formula="parts joined as walked", source="Kirchhoff",
        rests_on=frozenset().union(*(row.rests_on for row in rows.values())),
    )  # fmt: skip


def _row(context: Context, shape: Shape, across: str, capacitance: Entry, first: str) -> Entry:
    """The loss of one whole snubber, as a standing row of its first resistor."""
    frequency = shape.frequency or context.need(SUPPLY, "control.frequency")
    inputs: Inputs = {"capacitance": capacitance, "bulk": bulk_high(context), "frequency": frequency}
    wanted = [(part(first), "power", "power")]
    output = _output_of(shape, across)
    primary = shape.primary.winding if shape.primary is not None else None
    if across in (shape.switch, primary):
        inputs["reflected"] = shape.reflected
        return context.ledger.work_out(_AT_SWITCH, inputs, wanted, case=STANDING)[0]
    if output is None:
        note = f"a snubber across {across} is not worked out: only across the switch or an output rectifier"
        return context.ledger.hole(part(first), "power", (), case=STANDING, note=note)
    inputs |= {"voltage": output.voltage, "ratio": output.ratio}
    return context.ledger.work_out(_AT_RECTIFIER, inputs, wanted, case=STANDING)[0]


def _output_of(shape: Shape, across: str) -> OutputShape | None:
    """The output whose rectifier or winding a snubber lies across."""
    return next((one for one in shape.outputs if across in (*one.walked.rectifier, *one.walked.windings)), None)
