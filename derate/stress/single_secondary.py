"""Current of the only secondary of a converter, with the leakage's commutation and ringing worked out.

A real ringing is damped: the true figure lies between the plain shape and that with the ringing left undamped, which is
a narrower band than that of several windings. It needs leakage, clamp and drain capacitance.
"""

from __future__ import annotations

from derate.circuit.secondary_current import ERROR, ERROR_SLOW_DIODE, secondary_current
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.clamp_shape import clamp_of
from derate.stress.context import Context, part
from derate.stress.converter import OutputShape, Shape
from derate.stress.operating import Inputs, base_inputs, bulk_high, bulk_low, point_of
from derate.stress.switch_voltage import Clamping, clamping
from derate.terms.cases import RUNNING
from derate.terms.quantities import QuantityName, paired
from derate.terms.values import Value

_SIGNS = {
    "bulk": 0, "power": 0, "inductance": 0, "reflected": 0, "frequency": 0, "leakage": 0, "drain": 0, "ratio": 1,
    "current": 1, "resistance": 0, "capacitance": 0,
}  # fmt: skip


def single_model(boundary: bool, one: Clamping, slow: bool) -> Model:
    """RMS and peak, plain and with the ringing undamped, scaled to the output's own average."""
    point = point_of(boundary)

    def solve(
        *, bulk: float, reflected: float, inductance: float, leakage: float, drain: float, ratio: float,
        current: float, resistance: float, capacitance: float, **inputs: float,
    ) -> dict[str, float]:  # fmt: skip
        at = point(bulk=bulk, reflected=reflected, inductance=inductance, **inputs)
        clamp = one.solve(bulk, reflected, leakage, at.peak, at.frequency, drain, resistance, capacitance)
        found = secondary_current(
            at, bulk, inductance, reflected, ratio, leakage=leakage, clamp_rise=clamp["voltage"] - reflected,
            drain_capacitance=drain,
        )  # fmt: skip
        scale = current / found.average
        return {
            "rms": found.rms * scale, "peak": found.peak * scale, "rms_ringing": found.rms_ringing * scale,
            "peak_ringing": found.peak_ringing * scale,
        }  # fmt: skip

    errors = ERROR_SLOW_DIODE if slow else ERROR
    names = ("rms", "peak", "rms_ringing", "peak_ringing")
    return Model(
        "flyback secondary, with commutation and ringing", solve, dict.fromkeys(names, _SIGNS),
        "text-book shapes; commutation and ringing own derivation; held to ngspice 39",
        "shape of the primary's decay with the leakage's part of it, scaled to the output's average",
        {name: errors[name] for name in names},
    )  # fmt: skip


def single(context: Context, shape: Shape, one: OutputShape, case: Case) -> dict[QuantityName, list[Entry]] | None:
    """Rows of rms and peak of the only output at both ends of the bulk voltage.

    None where leakage, clamp or drain capacitance is not known for it. Where the current turns discontinuous the
    leakage shortens the conduction at once, so that the worst may lie at either end of the mains.
    """
    clamp = clamp_of(context)
    found = clamping(context, shape, clamp)
    drain = context.fact(part(shape.switch or ""), "part.output_capacitance")
    if len(shape.outputs) != 1 or found is None or drain is None or clamp.kind != "resistor-capacitor-diode":
        return None
    low = bulk_low(context, context.plan.cases(["voltage_min"], [RUNNING])[0])
    model = single_model(shape.boundary, found, clamp.slow)
    rows: dict[QuantityName, list[Entry]] = {}
    for bulk in (low, bulk_high(context)):
        inputs: Inputs = {
            **base_inputs(shape, bulk), "leakage": shape.leakage, "drain": drain, "ratio": one.ratio,
            "current": one.current, **found.parts,
        }  # fmt: skip
        for quantity, name in paired(("current_rms", "rms"), ("current_peak", "peak")):
            row = _between(context, model, inputs, one.subject, quantity, name, case)
            if row is None:
                return None  # outside its range: the shape common to all windings has a wider band and serves
            rows.setdefault(quantity, []).append(row)
    return rows


def _between(
    context: Context, model: Model, inputs: Inputs, subject: Subject, quantity: QuantityName, name: str, case: Case
) -> Entry | None:
    """One row from no ringing to ringing without damping."""
    wanted: list[Wanted] = [(subject, quantity, name), (subject, quantity, f"{name}_ringing")]
    plain, ringing = context.ledger.work_out(model, inputs, wanted, case=case)
    if not isinstance(plain.value, Value) or not isinstance(ringing.value, Value):
        return None
    near = plain.value.near
    far, high = max(near, ringing.value.far), max(near, ringing.value.high)
    return context.ledger.write(
        subject, quantity, Value(plain.value.low, near, far, max(far, high)), case=case, known_by="computed",
        formula=model.name, source=model.source, inputs=(plain.number, ringing.number),
        note="between no ringing and ringing without damping", rests_on=plain.rests_on | ringing.rests_on,
    )  # fmt: skip
