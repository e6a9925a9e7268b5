"""Body temperature of an inrush thermistor: what its own steady power makes of it, at full load and lowest mains.

It works hot by design. Its power is that of its hot resistance at the current it carries (`line._powers`), and the
maker's dissipation factor turns power into a rise above the air beside it. Without that factor the hot resistance
itself tells: by the B equation it belongs to one body temperature, in the 25 degC air of the maker's table. Warmer air
leaves less resistance and less power, so adding the whole of it is on the hot side.
"""

from __future__ import annotations

from derate.circuit.temperature_lines import body_temperature, self_heating
from derate.design.structure import MainsInput
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.context import Context, part
from derate.stress.supply import air
from derate.terms.cases import RUNNING
from derate.terms.quantities import QuantityName
from derate.terms.values import Curve, Value

TABLE_AIR = 25.0  # degC, air at which makers state hot resistance
_POWER = {"air": 1, "dissipation": -1}
_RESISTANCE = {"air": 1, "at_25": 1, "b_constant": -1}
BY_POWER = Model(
    "body of a thermistor by its power",
    lambda air, dissipation, **power: {"body": air + self_heating(max(power.values()), dissipation)},
    {"body": _POWER},
    "definition of the dissipation factor, IEC 60539-1",
    "air + power / dissipation factor",
)
BY_RESISTANCE = Model(
    "body of a thermistor by its hot resistance",
    lambda air, at_25, b_constant, **hot: {
        "body": body_temperature(at_25, b_constant, min(hot.values())) + (air - TABLE_AIR)
    },
    {"body": _RESISTANCE},
    "B equation of a thermistor, IEC 60539-1",
    "1/(1/298.15 K − ln(R25/R)/B), and the air above 25 degC",
)


def solve_thermistors(context: Context, mains: MainsInput) -> None:
    """Write the body temperature of every series part that may be a thermistor; a reading that was carried stays."""
    for name in (*mains.series, *mains.behind):
        if not context.structure.may_be(name, "NTC thermistor"):
            continue
        for case in context.plan.cases(["case_temperature"], [RUNNING]):
            if context.fact(part(name), "case_temperature", case) is None:
                _body(context, part(name), case)


def _body(context: Context, subject: Subject, case: Case) -> None:
    ledger = context.ledger
    wanted: list[Wanted] = [(subject, "case_temperature", "body")]
    beside = air(context, subject, case)
    factor = context.fact(subject, "part.dissipation")
    powers = _at_each_power(context, subject, "power")
    if factor is not None and powers:
        inputs: dict[str, Entry | Value | float] = {"air": beside, "dissipation": factor, **powers}
        note = "steady power at full load and lowest mains"
        ledger.work_out(_over(BY_POWER, _POWER, powers, 1), inputs, wanted, case=case, note=note)
        return
    hot = _at_each_power(context, subject, "series_resistance")
    cold = context.fact(subject, "part.resistance")
    if not hot or cold is None:
        ledger.hole(subject, "case_temperature", (f"{subject}: part.dissipation",), case=case)
        return
    b = context.fact(subject, "part.b_constant") or context.assume("thermistor_b_constant", subject, "part.b_constant")
    model = _over(BY_RESISTANCE, _RESISTANCE, hot, -1)
    inputs = {"air": beside, "at_25": _at_25(cold), "b_constant": b, **hot}
    ledger.work_out(model, inputs, wanted, case=case, note="hot resistance at full load and lowest mains")


def _at_each_power(context: Context, subject: Subject, quantity: QuantityName) -> dict[str, Entry]:
    """The rows of a quantity at each case of the running power: both ends of the mains frequency."""
    cases = context.plan.cases(["power"], [RUNNING])
    rows = [context.fact(subject, quantity, case) for case in cases]
    return {f"at_{k}": row for k, row in enumerate(rows) if row is not None}


def _over(model: Model, signs: dict[str, int], rows: dict[str, Entry], sign: int) -> Model:
    """The model with one input for each of those rows, all of one sign."""
    own = {"body": signs | dict.fromkeys(rows, sign)}
    return Model(model.name, model.solve, own, model.source, model.words)


def _at_25(cold: Entry) -> Entry | Value:
    """Resistance at 25 degC, from a rating of one point too."""
    one_point = isinstance(cold.value, Curve) and len(cold.value.points) == 1
    return cold.value.points[0][1] if one_point and isinstance(cold.value, Curve) else cold
