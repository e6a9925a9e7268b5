"""Working voltage across the transformer, rms and peak, for clearance and creepage (facts section 18).

Two references: the secondary held to bulk minus by a bridging capacitor, or referred to the mains (earthed, or open).
Which one holds is read from the bridging parts and the earth; where nobody knows, the larger.
"""

from __future__ import annotations

import math

from derate.circuit.flyback import lifted_peak
from derate.circuit.working_voltage import ERROR, held_to_bulk_minus, referred_to_mains
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.clamp_shape import clamp_of
from derate.stress.context import Context, part
from derate.stress.converter import Shape
from derate.stress.operating import Inputs, again, base_inputs, bulk_high, point_of
from derate.stress.secondaries import worst_row
from derate.stress.switch_voltage import Clamping, clamping
from derate.terms.cases import RUNNING

BARRIER = Subject("circuit pair", ("primary", "secondary"))
_REFERENCES = {"held to bulk minus": held_to_bulk_minus, "referred to the mains": referred_to_mains}
_BANDS = {"held to bulk minus": ERROR["held_rms"], "referred to the mains": ERROR["rms"]}
_SOURCE = "own derivation over one period; held to ngspice 39, both references, both modes"
IDLE_LOW = -0.1  # the idle ringing is taken undamped at the reflected voltage: the rms reads up to a tenth high


def references_of(context: Context) -> tuple[str, ...]:
    """What the secondary is held to: one of the two where bridging parts or the earth say so, else both."""
    structure = context.structure
    earthed = structure.earth is not None and any(
        "output" in point or ("minus" in point and "bulk" not in point) for point in structure.earth
    )
    if earthed:
        return ("referred to the mains",)
    capacitors = ("ceramic capacitor", "film capacitor")
    held = any(
        all(structure.must_be(name, *capacitors) for name in bridge.names)
        and any(point.startswith("bulk") for point in bridge.between)
        for bridge in structure.bridges or ()
    )
    # a secondary held to bulk minus may still be earthed by what is plugged into it, unless somebody looked
    return ("held to bulk minus",) if held and structure.earth == () else tuple(_REFERENCES)


def rms_model(boundary: bool, reference: str) -> Model:
    """RMS against one reference, at the highest mains and full load."""
    point = point_of(boundary)

    def solve(*, bulk: float, reflected: float, **inputs: float) -> dict[str, float]:
        at = point(bulk=bulk, reflected=reflected, **inputs)
        found = _REFERENCES[reference](
            bulk, reflected, at.duty, min(at.secondary_duty, 1.0 - at.duty), reflected,
            idle_ringing=reflected if at.mode == "discontinuous" else 0.0,
        )  # fmt: skip
        return {"rms": found.rms}

    signs = {"bulk": 1, "power": 0, "inductance": 0, "reflected": 1, "frequency": 0}
    low, high = _BANDS[reference]
    return Model(
        f"working voltage, secondary {reference}", solve, {"rms": signs}, _SOURCE,
        "rms of bulk and reflected voltage over their shares of the period", {"rms": (min(low, IDLE_LOW), high)},
    )  # fmt: skip


def peak_model(boundary: bool, one: Clamping) -> Model:
    """Peak, the same against both references: bulk, the clamp's spike and the secondary's own swing."""
    point = point_of(boundary)

    def solve(
        *, bulk: float, power: float, inductance: float, reflected: float, leakage: float, drain: float, ratio: float,
        frequency: float = math.inf, **parts: float,
    ) -> dict[str, float]:  # fmt: skip
        at = point(bulk=bulk, power=power, inductance=inductance, reflected=reflected, frequency=frequency)
        lifted = lifted_peak(at.peak, bulk, reflected, inductance, drain)
        top = one.solve(bulk, reflected, leakage, lifted, at.frequency, drain, **parts)["switch_peak"]
        return {"peak": max(top, bulk + reflected) + bulk / ratio}

    signs = {
        "bulk": 1, "power": 1, "inductance": -1, "reflected": 0, "frequency": 0, "leakage": 1, "drain": 0, "ratio": -1,
        **one.signs,
    }  # fmt: skip
    low, high = one.errors["switch_peak"]
    return Model(
        "working voltage, peak", solve, {"peak": signs}, _SOURCE,
        "bulk + clamp voltage at its crest + bulk / turns ratio", {"peak": (min(low, -0.05), high)},
    )  # fmt: skip


def solve_working(context: Context, shape: Shape) -> None:
    """Write working_voltage and working_voltage_peak of the barrier, and of the transformer that spans it."""
    ledger = context.ledger
    base = base_inputs(shape, bulk_high(context))
    for case in context.plan.cases(["working_voltage"], [RUNNING]):
        rows = [
            ledger.work_out(
                rms_model(shape.boundary, reference), base, [(BARRIER, "working_voltage", "rms")], case=case
            )[0]
            for reference in references_of(context)
        ]
        row = rows[0]
        if len(rows) > 1:
            note = "what the secondary is held to is not known: the larger of both"
            row = worst_row(context, rows, BARRIER, "working_voltage", case, note)
        again(context, row, case, shape.transformer)
    clamp = clamping(context, shape, clamp_of(context))
    for case in context.plan.cases(["working_voltage_peak"], [RUNNING]):
        again(context, _peak(context, shape, base, clamp, case), case, shape.transformer)


def _peak(context: Context, shape: Shape, base: Inputs, clamp: Clamping | None, case: Case) -> Entry:
    if clamp is None or shape.reference is None:
        missing = ("supply: circuit.clamp",) if clamp is None else ("supply: circuit.outputs",)
        return context.ledger.hole(BARRIER, "working_voltage_peak", missing, case=case)
    stated = context.fact(part(shape.switch or ""), "part.output_capacitance")
    inputs: Inputs = {
        **base, "leakage": shape.leakage, **clamp.parts, "ratio": shape.reference.ratio,
        "drain": stated if stated is not None else 0.0,
    }  # fmt: skip
    if not clamp.parts and stated is None:  # no clamp: the ring of an unknown capacitance has no upper end
        inputs["drain"] = context.need(part(shape.switch or ""), "part.output_capacitance")
    wanted: list[Wanted] = [(BARRIER, "working_voltage_peak", "peak")]
    return context.ledger.work_out(peak_model(shape.boundary, clamp), inputs, wanted, case=case)[0]
