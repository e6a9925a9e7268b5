"""Ringing of an output rectifier worked out from the resistor-capacitor snubber across it.

What it needs: the snubber's two values, the leakage inductance seen from the winding, the rectifier's junction
capacitance with its voltage, and of anything but a Schottky diode the reverse current as it stops conducting. Without
one of them the reverse voltage stays a floor, and the note says which is missing.
"""

from __future__ import annotations

from derate.circuit.rectifier_ring import junction_equivalent, ringing_crest
from derate.circuit.secondary import ERROR
from derate.ledger.entry import Entry, Subject
from derate.ledger.model import Model
from derate.stress.context import Context, part
from derate.stress.converter import STANDING, OutputShape, Shape
from derate.stress.operating import Inputs, bulk_high
from derate.stress.snubber_parts import capacitance_of, resistance_of, snubbers_of
from derate.terms.values import Value

# Data sheets print a typical capacitance: single parts lie 30 % below to 25 % above it; common practice, no source.
SPREAD = (0.70, 1.25)
WINDING = 50e-12  # capacitance of a secondary of few turns and its wiring, at most [F]; common practice, no source
LOOP = 20e-9  # inductance of the loop outside the transformer, at most [H]; common practice, no source


def _model(at: float, recovers: bool) -> Model:
    """Crest of the reverse voltage over its flat part, junction capacitance given at a reverse voltage [V].

    A slow edge makes no crest at all: the lower end is the flat part, less the share of it that the leakage keeps.
    """

    def solve(
        *, leakage: float, given: float, stray: float, resistance: float, capacitance: float, voltage: float,
        bulk: float, ratio: float, recovery: float, grading: float, shape: float,
    ) -> dict[str, float]:  # fmt: skip
        step = voltage + bulk / ratio
        low, high = junction_equivalent(given, at, step)
        crest = ringing_crest(
            leakage, low + grading * (high - low) + stray, resistance, capacitance, step, recovery
        )  # fmt: skip
        return {"ringing": 1.0 + shape * (crest.high - 1.0)}

    more = 0 if recovers else 1  # with a reverse current a smaller capacitance makes a higher spike
    signs = {
        "leakage": 0, "given": more, "stray": more, "resistance": 0, "capacitance": -1,
        "voltage": 0 if recovers else -1, "bulk": 0 if recovers else -1, "ratio": 0 if recovers else 1,
        "recovery": 1, "grading": more, "shape": 1,
    }  # fmt: skip
    return Model(
        "ringing of a rectifier with its snubber", solve, {"ringing": signs},
        "own, Kirchhoff: leakage, junction and snubber; band held to ngspice 39",
        "crest of the step response over its end",
        {"ringing": (ERROR["reverse_floor"][0], 0.0)},
    )  # fmt: skip


def snubbed_ringing(context: Context, name: str, one: OutputShape, shape: Shape) -> tuple[Entry | None, str]:
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
        "leakage": leakage, "given": _spread(context, subject, given), "stray": Value.between(0.0, WINDING),
        "resistance": resistance, "capacitance": capacitance, "voltage": one.voltage, "bulk": bulk_high(context),
        "ratio": one.ratio, "recovery": recovery, "grading": Value.between(0.0, 1.0), "shape": Value.between(0.0, 1.0),
    }  # fmt: skip
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
        subject, "junction_capacitance", value, case=STANDING, known_by=stated.known_by, inputs=(stated.number,),
        rests_on=stated.rests_on, place=stated.place, formula="as printed, 30 % less to 25 % more",
        source="spread of single parts: common practice, no source",
    )  # fmt: skip


def _leakage(context: Context, one: OutputShape, shape: Shape) -> Entry:
    """Leakage inductance in the rectifier's loop: stated of its winding, else the primary's through the turns."""
    ledger, windings = context.ledger, one.walked.windings
    own = context.fact(Subject("winding", (windings[0],)), "winding.leakage") if len(windings) == 1 else None
    if own is None and len(shape.outputs) > 1:  # shorted together, the outputs share what is measured at the primary
        names = [f"{Subject('winding', (name,))}: winding.leakage" for name in windings]
        return ledger.hole(one.subject, "leakage", names, case=STANDING)
    if own is None:
        own = ledger.work_out(
            REFERRED, {"leakage": shape.leakage, "ratio": one.ratio}, [(one.subject, "leakage", "leakage")],
            case=STANDING,
        )[0]  # fmt: skip
    if not isinstance(own.value, Value):
        return own
    low, near, far, high = own.value.numbers()
    return ledger.write(
        one.subject, "leakage", Value(low, near, far + LOOP, high + LOOP), case=STANDING, known_by="computed",
        inputs=(own.number,), rests_on=own.rests_on, formula="leakage, and up to 20 nH of wiring",
        source="wiring: common practice, no source",
    )  # fmt: skip


REFERRED = Model(
    "leakage seen from a secondary",
    lambda leakage, ratio: {"leakage": leakage / ratio**2},
    {"leakage": {"leakage": 1, "ratio": -1}},
    "text-book",
    "primary leakage / turns ratio²",
)
