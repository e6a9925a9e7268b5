"""Output and auxiliary rectifiers: reverse voltage with its ringing, forward power."""

from __future__ import annotations

from collections.abc import Sequence

from derate.circuit import secondary
from derate.circuit.magnetics import SEEN_LEAKAGE
from derate.circuit.secondary import ERROR, junction_equivalent, ringing_crest
from derate.design.readings import Reading
from derate.ledger.entry import Entry, OpenFact, Subject
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.context import Context, part, repeated
from derate.stress.mains.bulk_states import bulk_high
from derate.terms.cases import FULL_LOAD, OVERLOAD, RUNNING
from derate.terms.values import Value
from derate.topologies.flyback.operating import Inputs
from derate.topologies.flyback.shape import STANDING, FlybackShape, OutputShape
from derate.topologies.flyback.snubbers import capacitance_of, resistance_of, snubbers_of

# Ringing of an output rectifier worked out from the resistor-capacitor snubber across it.
#
# What it needs: the snubber's two values, the leakage inductance seen from the winding, the rectifier's junction
# capacitance with its voltage, and of anything but a Schottky diode the reverse current as it stops conducting.
# Without one of them the reverse voltage stays a floor, and the note says which is missing.


# Data sheets print a typical capacitance: single parts lie 30 % below to 25 % above it; common practice, no source.
SPREAD = (0.70, 1.25)
WINDING = 50e-12  # capacitance of a secondary of few turns and its wiring, at most [F]; common practice, no source
LOOP = 20e-9  # inductance of the loop outside the transformer, at most [H]; common practice, no source


def _model(at: float, recovers: bool) -> Model:
    """Crest of the reverse voltage over its flat part, junction capacitance given at a reverse voltage [V].

    A slow edge makes no crest at all: the lower end is the flat part, less the share of it that the leakage keeps.
    """

    def solve(
        *,
        leakage: float,
        given: float,
        stray: float,
        resistance: float,
        capacitance: float,
        voltage: float,
        bulk: float,
        ratio: float,
        recovery: float,
        grading: float,
        shape: float,
    ) -> dict[str, float]:
        step = voltage + bulk / ratio
        low, high = junction_equivalent(given, at, step)
        crest = ringing_crest(leakage, low + grading * (high - low) + stray, resistance, capacitance, step, recovery)
        return {"ringing": 1.0 + shape * (crest.high - 1.0)}

    more = 0 if recovers else 1  # with a reverse current a smaller capacitance makes a higher spike
    signs = {
        "leakage": 0,
        "given": more,
        "stray": more,
        "resistance": 0,
        "capacitance": -1,
        "voltage": 0 if recovers else -1,
        "bulk": 0 if recovers else -1,
        "ratio": 0 if recovers else 1,
        "recovery": 1,
        "grading": more,
        "shape": 1,
    }
    return Model(
        "ringing of a rectifier with its snubber",
        solve,
        {"ringing": signs},
        "own, Kirchhoff: leakage, junction and snubber; band held to ngspice 39",
        "crest of the step response over its end",
        {"ringing": (ERROR["reverse_floor"][0], 0.0)},
    )


def snubbed_ringing(context: Context, name: str, one: OutputShape, shape: FlybackShape) -> tuple[Entry | None, str]:
    """Crest over flat part by the snubber, as a row of the rectifier; None and the reason where it stays unknown."""
    found = [each for each in snubbers_of(context) if each.across in (*one.walked.rectifier, *one.walked.windings)]
    if not found:
        return None, ""
    snubber = found[0]
    partial = snubber.across in one.walked.windings and len(one.walked.windings) > 1  # not across the whole winding
    if len(found) > 1 or not snubber.series or one.walked.rectifier != (name,) or partial:
        return None, "only one resistor and capacitor in series across a single rectifier are worked out"
    subject = part(name)
    curve = context.curve(subject, "rated.junction_capacitance")
    if curve is None:
        return None, f"its snubber is not counted on without {subject}: rated.junction_capacitance with its voltage"
    recovers = not context.structure.must_be(name, "Schottky diode")
    recovery = context.fact(subject, "part.recovery_current") if recovers else 0.0
    if recovery is None:
        return None, f"its snubber is not counted on without {subject}: part.recovery_current"
    leakage = _leakage(context, one, shape)
    resistance = resistance_of(context, snubber)
    capacitance = capacitance_of(context, snubber)
    at, given = curve.points[-1]
    inputs: Inputs = {
        "leakage": leakage,
        "given": _spread(context, subject, given),
        "stray": Value.between(0.0, WINDING),
        "resistance": resistance,
        "capacitance": capacitance,
        "voltage": one.voltage,
        "bulk": bulk_high(context),
        "ratio": one.ratio,
        "recovery": recovery,
        "grading": Value.between(0.0, 1.0),
        "shape": Value.between(0.0, 1.0),
    }
    model = _model(at, recovers)
    ringing = context.ledger.work_out(model, inputs, [(subject, "part.ringing", "ringing")], case=STANDING)[0]
    if isinstance(ringing.value, Value):
        return ringing, ""
    told = ringing.note or f"find out {', '.join(ringing.missing)}"
    return None, f"its snubber is not counted on: {told}"


def _spread(context: Context, subject: Subject, given: Value) -> Entry:
    stated = context.need(subject, "rated.junction_capacitance")
    low, near, far, high = given.numbers()
    value = Value(low * SPREAD[0], near * SPREAD[0], far * SPREAD[1], high * SPREAD[1])
    return context.ledger.write(
        subject,
        "junction_capacitance",
        value,
        case=STANDING,
        known_by=stated.known_by,
        inputs=(stated.number,),
        rests_on=stated.rests_on,
        place=stated.place,
        formula="as printed, 30 % less to 25 % more",
        source="spread of single parts: common practice, no source",
    )


def _leakage(context: Context, one: OutputShape, shape: FlybackShape) -> Entry:
    """Leakage inductance in the rectifier's loop: stated of its winding, else the primary's through the turns."""
    ledger, windings = context.ledger, one.walked.windings
    own = context.fact(Subject("winding", (windings[0],)), "winding.leakage") if len(windings) == 1 else None
    if own is None and len(shape.outputs) > 1:  # shorted together, the outputs share what is measured at the primary
        names = [OpenFact(Subject("winding", (name,)), "winding.leakage") for name in windings]
        return ledger.hole(one.subject, "leakage", names, case=STANDING)
    if own is None:
        own = ledger.work_out(
            REFERRED,
            {"leakage": shape.leakage, "ratio": one.ratio},
            [(one.subject, "leakage", "leakage")],
            case=STANDING,
        )[0]
    if not isinstance(own.value, Value):
        return own
    low, near, far, high = own.value.numbers()
    return ledger.write(
        one.subject,
        "leakage",
        Value(low, near, far + LOOP, high + LOOP),
        case=STANDING,
        known_by="computed",
        inputs=(own.number,),
        rests_on=own.rests_on,
        formula="leakage, and up to 20 nH of wiring",
        source="wiring: common practice, no source",
    )


REFERRED = Model.of("leakage seen from a secondary", SEEN_LEAKAGE, "text-book", "primary leakage / turns ratio²")


# Output and auxiliary rectifiers: reverse voltage as a floor unless its ringing is known, forward power.


REVERSE = Model.of(
    "reverse voltage of a rectifier without its ringing",
    secondary.REVERSE,
    "AN-4137 eq 20",
    "output + bulk / turns ratio",
)
RINGING = Model.of(
    "reverse voltage of a rectifier with its ringing",
    secondary.REVERSE_RINGING,
    "AN-4137 eq 20, times the crest over the flat part as measured or worked out from the snubber",
    "(output + bulk / turns ratio) × ringing",
)
FORWARD = Model.of("forward power of a rectifier", secondary.FORWARD, "text-book", "drop × average current")


def solve_rectifiers(context: Context, shape: FlybackShape, readings: Sequence[Reading]) -> None:
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
                repeated(context, first, case)


def ringing_of(
    context: Context, name: str, one: OutputShape, shape: FlybackShape, readings: Sequence[Reading]
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
            subject,
            "part.ringing",
            value,
            case=STANDING,
            known_by=known,
            inputs=(one.ratio.number, one.voltage.number),
            formula="reading / (output + crest / turns ratio)",
            source="a reading at full load",
            place=reading.stated.place,
            rests_on=one.ratio.rests_on,
        )
    return None


def forward(context: Context, name: str, drop: Entry) -> None:
    """Forward power of a diode from its average current."""
    for case in context.plan.cases(["power"], [RUNNING]):
        average = context.need(part(name), "current_average", case)
        context.ledger.work_out(
            FORWARD, {"drop": drop, "average": average}, [(part(name), "power", "power")], case=case
        )
