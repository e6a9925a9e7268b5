"""Output and auxiliary rectifiers: reverse voltage as a floor unless its ringing is known, forward power."""

from __future__ import annotations

from collections.abc import Sequence

from derate.circuit.secondary import ERROR, forward_loss, reverse_voltage
from derate.design.readings import Reading
from derate.ledger.entry import Entry
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.context import Context, part
from derate.stress.converter import STANDING, OutputShape, Shape
from derate.stress.damping import snubbed_ringing
from derate.stress.operating import Inputs, again, bulk_high
from derate.terms.cases import FULL_LOAD, OVERLOAD, RUNNING
from derate.terms.values import Value

REVERSE = Model(
    "reverse voltage of a rectifier without its ringing",
    lambda voltage, bulk, ratio: {"reverse": reverse_voltage(voltage, bulk, ratio).floor},
    {"reverse": {"voltage": 1, "bulk": 1, "ratio": -1}},
    "AN-4137 eq 20",
    "output + bulk / turns ratio",
    {"reverse": ERROR["reverse_floor"]},
)
RINGING = Model(
    "reverse voltage of a rectifier with its ringing",
    # a worked-out ringing reaches down to the 5 % by which leakage may lower the flat part itself
    lambda voltage, bulk, ratio, ringing: {
        "reverse": reverse_voltage(voltage, bulk, ratio, max(1.0, ringing)).high * min(1.0, ringing)
    },
    {"reverse": {"voltage": 1, "bulk": 1, "ratio": -1, "ringing": 1}},
    "AN-4137 eq 20, times the crest over the flat part as measured or worked out from the snubber",
    "(output + bulk / turns ratio) × ringing",
)
FORWARD = Model(
    "forward power of a rectifier",
    lambda drop, average: {"power": forward_loss(drop, average)},
    {"power": {"drop": 1, "average": 1}},
    "text-book",
    "drop × average current",
    {"power": ERROR["forward_loss"]},
)


def solve_rectifiers(context: Context, shape: Shape, readings: Sequence[Reading]) -> None:
    """Reverse voltage and forward power of every output's rectifiers."""
    for one in shape.outputs:
        for name in one.walked.rectifier:
            ringing, note = ringing_of(context, name, one, shape, readings), ""
            if ringing is None:  # stated, then read, then worked out from the snubber, else a floor
                ringing, note = snubbed_ringing(context, name, one, shape)
            inputs: Inputs = {"voltage": one.voltage, "bulk": bulk_high(context), "ratio": one.ratio}
            reverse(context, name, inputs, ringing, note)
            forward(context, name, one.drop)


def reverse(context: Context, name: str, inputs: Inputs, ringing: Entry | None, why: str = "") -> None:
    """Reverse voltage of one diode at the highest mains: a floor and why, or with its ringing."""
    note = "" if ringing is not None else "the ringing on top of it is not known: this is the least it can be"
    note = f"{note}; {why}" if why else note
    model = REVERSE if ringing is None else RINGING
    with_ringing: Inputs = inputs if ringing is None else {**inputs, "ringing": ringing}
    first: Entry | None = None
    for group in (RUNNING, OVERLOAD):
        for case in context.plan.cases(["reverse_voltage"], [group]):
            if first is None:
                outputs: list[Wanted] = [(part(name), "reverse_voltage", "reverse")]
                first = context.ledger.work_out(model, with_ringing, outputs, case=case, note=note)[0]
            else:
                again(context, first, case)


def ringing_of(
    context: Context, name: str, one: OutputShape, shape: Shape, readings: Sequence[Reading]
) -> Entry | None:
    """Crest over flat part of a diode's reverse voltage: stated, or from a reading of the reverse voltage."""
    subject = part(name)
    stated = context.fact(subject, "part.ringing")
    if stated is not None:
        return stated
    for reading in readings:
        if reading.quantity != "reverse_voltage" or reading.target != name or reading.condition is None:
            continue
        mains = reading.condition.mains
        if reading.condition.load != FULL_LOAD or mains is None or not isinstance(mains.value, Value):
            continue  # the ringing grows with the load: a light one says nothing of full load
        read = reading.stated.value
        ratio, voltage = one.ratio.value, one.voltage.value
        if not (isinstance(read, Value) and isinstance(ratio, Value) and isinstance(voltage, Value)):
            continue
        flat = voltage.middle + 2**0.5 * mains.value.middle / ratio.middle
        factors = sorted(max(1.0, value / flat) for value in read.numbers())
        # carried to another mains by its share of the flat part; the flat part at the reading is known to a few per
        # cent
        value = Value(factors[0], factors[1], factors[2] * 1.05, max(factors[3], factors[2] * 1.05))
        known = reading.stated.known_by or reading.known_by or "measured"
        return context.ledger.write(
            subject, "part.ringing", value, case=STANDING, known_by=known, inputs=(one.ratio.number,
            one.voltage.number),
            formula="reading / (output + crest / turns ratio)", source="a reading at full load",
            place=reading.stated.place, rests_on=one.ratio.rests_on,
        )  # fmt: skip
    return None


def forward(context: Context, name: str, drop: Entry) -> None:
    """Forward power of a diode from its average current."""
    for case in context.plan.cases(["power"], [RUNNING]):
        average = context.need(part(name), "current_average", case)
        context.ledger.work_out(
            FORWARD, {"drop": drop, "average": average}, [(part(name), "power", "power")], case=case
        )
