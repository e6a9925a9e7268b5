"""Loss of resistor-capacitor snubbers across the switch or an output rectifier: C V² f, half at each edge."""

from __future__ import annotations

from derate.circuit.secondary import ERROR, snubber_loss
from derate.ledger.entry import SUPPLY, Entry
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.clamp_shape import only, shares
from derate.stress.context import Context, part
from derate.stress.converter import STANDING, OutputShape, Shape
from derate.stress.operating import Inputs, bulk_high
from derate.stress.snubber_parts import capacitance_of, snubbers_of
from derate.terms.cases import RUNNING
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
    for snubber in snubbers_of(context):
        if not snubber.resistors or not snubber.capacitors:
            continue
        found = _row(context, shape, snubber.across, capacitance_of(context, snubber), snubber.resistors[0])
        share = shares(context, only(snubber.whole, snubber.resistors))
        edges = 0.5 if snubber.diodes else 1.0  # a diode beside the resistor takes one of the two edges
        for name in snubber.resistors:
            for case in context.plan.cases(["power"], [RUNNING]):
                if not isinstance(found.value, Value) or name not in share:
                    missing = found.missing or (f"{part(name)}: part.resistance",)
                    context.ledger.hole(part(name), "power", missing, case=case, note=found.note)
                    continue
                context.ledger.write(
                    part(name), "power", found.value.scaled(share[name] * edges), case=case, known_by="computed",
                    inputs=(found.number,), rests_on=found.rests_on, formula=found.formula, source=found.source,
                    note="at the highest mains, where it is greatest",
                )  # fmt: skip


def _row(context: Context, shape: Shape, across: str, capacitance: Entry, first: str) -> Entry:
    """The loss of one whole snubber, as a standing row of its first resistor."""
    frequency = shape.frequency or context.need(SUPPLY, "control.frequency")
    inputs: Inputs = {"capacitance": capacitance, "bulk": bulk_high(context), "frequency": frequency}
    wanted: list[Wanted] = [(part(first), "power", "power")]
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
