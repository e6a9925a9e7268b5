"""Loss of the switch at full load, at both ends of the mains: conduction, capacitance, crossover.

A bipolar switch has a module of its own, `bipolar_loss`.
"""

from __future__ import annotations

import math

from derate.circuit.thermal import capacitive_loss, conduction_loss, crossover_loss, on_resistance
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.bipolar_loss import bipolar_power, with_bare
from derate.stress.context import Context, curve_at, part
from derate.stress.converter import STANDING, Shape, assumed
from derate.stress.operating import Inputs, base_inputs, bulk_high, bulk_low, point_of
from derate.stress.secondaries import worst_row
from derate.terms.cases import HIGHEST_MAINS, LOWEST_MAINS, RUNNING
from derate.terms.values import Curve

HOT = 125.0  # junction temperature at which the on-resistance is taken: a rule keeps it below [degC]
HOT_CHANNEL = Model(
    "on-resistance of the hot switch",
    lambda at_25, ratio: {"resistance": on_resistance(at_25, HOT, ratio)},
    {"resistance": {"at_25": 1, "ratio": 1}},
    "geometric between 25 and 150 degC",
    f"resistance at 25 degC × ratio^((T − 25) / 125), at {HOT:.0f} degC",
)
_SIGNS = {
    "bulk": 0, "power": 1, "inductance": -1, "reflected": 0, "frequency": 0, "hot": 1, "capacitance": 1, "edge": 1,
}  # fmt: skip


def loss_model(boundary: bool) -> Model:
    """Loss of the switch at a load."""
    point = point_of(boundary)

    def solve(
        *, bulk: float, power: float, inductance: float, reflected: float, hot: float, capacitance: float, edge: float,
        frequency: float = math.inf,
    ) -> dict[str, float]:  # fmt: skip
        at = point(bulk=bulk, power=power, inductance=inductance, reflected=reflected, frequency=frequency)
        on = conduction_loss(at.rms, hot)
        drain = capacitive_loss(capacitance, bulk, reflected, at.frequency, "continuous").high
        return {"power": on + drain + crossover_loss(bulk + reflected, at.peak, edge, at.frequency)}

    return Model(
        "losses of the switch", solve, {"power": _SIGNS},
        "text-book; drain capacitance discharged from bulk plus reflected voltage, which reads high",
        f"rms² × on-resistance at {HOT:.0f} degC + C V² f / 2 + V I t f / 2", {"power": (-0.3, 0.3)},
    )  # fmt: skip


def _hot(context: Context, subject: Subject) -> Entry:
    """On-resistance at the hot junction: of the maker's table where it reaches so far, else by a ratio packs assume."""
    stated = context.need(subject, "rated.on_resistance")
    curve = stated.value
    ledger = context.ledger
    if isinstance(curve, Curve):
        read = curve_at(curve, HOT) if len(curve.points) > 1 else None
        stated = ledger.write(
            subject, "hot_resistance", read or curve.points[0][1], case=STANDING, known_by=stated.known_by,
            inputs=(stated.number,), rests_on=stated.rests_on,
            formula=f"read at {HOT if read else curve.least:.0f} degC",
            source="data sheet", place=stated.place,
        )  # fmt: skip
        if read is not None:
            return stated
    ratio = assumed(context, "on_resistance_ratio", subject, "on_resistance_ratio", "rated.on_resistance at 150 degC")
    return ledger.work_out(
        HOT_CHANNEL, {"at_25": stated, "ratio": ratio}, [(subject, "hot_resistance", "resistance")], case=STANDING
    )[0]


def switch_power(context: Context, shape: Shape) -> Entry:
    """Loss of the switch at full load, the worse of lowest and highest mains; a hole for what is not covered."""
    assert shape.switch is not None
    subject, ledger = part(shape.switch), context.ledger
    cases = context.plan.cases(["power"], [RUNNING])
    if context.structure.must_be(shape.switch, "bipolar transistor"):
        return bipolar_power(context, shape)
    capacitance = context.fact(subject, "part.output_capacitance") or assumed(
        context, "drain_capacitance", subject, "drain_capacitance", "part.output_capacitance"
    )
    edge = context.fact(subject, "part.switching_time") or assumed(
        context, "switching_edge", subject, "switching_edge", "part.switching_time"
    )
    whole = with_bare(context, subject, shape, capacitance)
    more: Inputs = {"hot": _hot(context, subject), "capacitance": whole, "edge": edge}
    low = bulk_low(context, context.plan.cases(["voltage_min"], [RUNNING])[0])
    model = loss_model(shape.boundary)
    rows: list[Entry] = []
    for words, bulk in ((LOWEST_MAINS, low), (HIGHEST_MAINS, bulk_high(context))):
        wanted: list[Wanted] = [(subject, "power", "power")]
        rows += ledger.work_out(model, {**base_inputs(shape, bulk), **more}, wanted, case=Case(RUNNING, load=words))
    note = "the worse of lowest and highest mains"
    return [worst_row(context, rows, subject, "power", case, note) for case in cases][-1]
