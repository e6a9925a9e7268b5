"""Energy of a switch without a clamp that breaks down at every turn-off."""

from __future__ import annotations

import math

from derate.circuit.clamp_zener import ERROR, avalanche_energy
from derate.ledger.entry import Entry
from derate.ledger.model import Model
from derate.stress.context import Context, part
from derate.stress.converter import Shape
from derate.stress.operating import Inputs, point_of
from derate.terms.cases import OVERLOAD, RUNNING

_SIGNS = {
    "bulk": 1, "reflected": 1, "leakage": 1, "breakdown": -1, "drain": -1, "power": 1, "inductance": -1,
    "frequency": -1, "limit": 1, "delay": 1,
}  # fmt: skip
_SOURCE = "text-book single-pulse avalanche energy, the source being bulk plus reflected voltage"


def _model(boundary: bool, at_limit: bool) -> Model:
    point = point_of(boundary)

    def solve(
        *, bulk: float, inductance: float, reflected: float, leakage: float, drain: float, breakdown: float,
        power: float = 0.0, frequency: float = math.inf, limit: float = 0.0, delay: float = 0.0,
    ) -> dict[str, float]:  # fmt: skip
        if at_limit:
            peak = limit + bulk * delay / inductance
        else:
            peak = point(
                bulk=bulk, power=power, inductance=inductance, reflected=reflected, frequency=frequency
            ).peak  # fmt: skip
        return {"energy": avalanche_energy(bulk, reflected, leakage, peak, breakdown, drain)}

    return Model(
        "avalanche energy of one turn-off", solve, {"energy": _SIGNS}, _SOURCE,
        "leakage × peak² / 2 × breakdown / (breakdown − bulk − reflected)", {"energy": ERROR["avalanche_energy"]},
    )  # fmt: skip


def solve_avalanche(context: Context, shape: Shape, high: Inputs, limit: Inputs) -> None:
    """Write the energy of one turn-off at full load and at the current limit, both at the highest mains."""
    if shape.switch is None:
        return
    subject = part(shape.switch)
    breakdown: Entry = context.need(subject, "allowed.switch_voltage")
    for group, inputs in ((RUNNING, high), (OVERLOAD, limit)):
        model = _model(shape.boundary, group == OVERLOAD)
        for case in context.plan.cases(["energy"], [group]):
            context.ledger.work_out(
                model, {**inputs, "breakdown": breakdown}, [(subject, "energy", "energy")], case=case
            )
