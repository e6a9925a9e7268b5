"""Loss of a bipolar switch at full load, and whether its base current holds it in saturation at its peak.

Saturation voltage and fall time are the data sheet's and needed; what the base takes is a range of the packs where
nobody measured it. Capacitance at the collector takes part of the falling current, so it is counted on where it is
stated; a snubber with a resistor is not.
"""

from __future__ import annotations

import math

from derate.circuit.thermal import capacitive_loss
from derate.circuit.turn_off import ERROR, fall_loss
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.context import Context, part
from derate.stress.converter import STANDING, Shape, assumed
from derate.stress.operating import Inputs, base_inputs, bulk_high, bulk_low, point_of
from derate.stress.readings_of_curves import read_between
from derate.stress.secondaries import worst_row
from derate.stress.snubber_parts import bare_capacitance
from derate.terms.cases import HIGHEST_MAINS, LOWEST_MAINS, RUNNING
from derate.terms.values import Curve, Value

# Share of the data sheet's saturation voltage that is really there: the sheet prints a greatest figure, its own curves
# lie at a third to a fifth of it (13003 types); just after turn-on the drop is above it. Common practice, no source.
SATURATION = Value.between(0.2, 1.5)
# The drain of a discontinuous or boundary stage is discharged from anywhere between its valley and its plateau.
VALLEY = Value.between(0.0, 1.3)
# Inside a range in which a boundary control meets its highest frequency the loss is up to 3.7 % above that at both ends
# (16,000 random ranges up to 1.6 wide, tests/stress/test_bipolar_switch.py).
INSIDE = (0.0, 0.06)
# How long the fall takes against the printed time, the rise of the voltage with it; argued beside the formula.
FALL = Value.between(1.0 + ERROR["fall_loss"][0], 1.0 + ERROR["fall_loss"][1])


def loss_model(boundary: bool, driven: bool) -> Model:
    """Loss of a bipolar switch at a load; driven: the base current itself is given, not the forced gain."""
    point = point_of(boundary)

    def solve(
        *, bulk: float, power: float, inductance: float, reflected: float, top: float, saturation: float, drop: float,
        base_emitter: float, drive: float, capacitance: float, held: float, fall: float, valley: float, crossing: float,
        frequency: float = math.inf,
    ) -> dict[str, float]:  # fmt: skip
        at = point(bulk=bulk, power=power, inductance=inductance, reflected=reflected, frequency=frequency)
        base = drive if driven else at.peak / drive
        on = saturation * drop * at.average + base_emitter * base * at.duty
        empty = capacitive_loss(capacitance, bulk, reflected, at.frequency, "continuous").high
        return {"power": on + valley * empty + fall_loss(top, at.peak, crossing * fall, at.frequency, held)}

    signs = {
        "bulk": 0, "power": 0, "inductance": 0, "reflected": 0, "frequency": 0, "top": 1, "saturation": 1, "drop": 1,
        "base_emitter": 1, "drive": 1 if driven else -1, "capacitance": 1, "held": -1, "fall": 1,
        "valley": 1, "crossing": 1,
    }  # fmt: skip
    return Model(
        "losses of a bipolar switch", solve, {"power": signs},
        "text-book; bands by 13003 and 13005 data sheets",
        "saturation voltage × average + base drive × duty + C V² f / 2 + V I t f / 2, less what C takes",
        {"power": INSIDE},
    )  # fmt: skip


def bipolar_power(context: Context, shape: Shape) -> Entry:
    """Loss of the switch at full load, the worse of lowest and highest mains."""
    assert shape.switch is not None
    subject, ledger = part(shape.switch), context.ledger
    cases = context.plan.cases(["power"], [RUNNING])
    peak = context.need(subject, "current_peak", context.plan.cases(["current_peak"], [RUNNING])[0])
    base = context.fact(subject, "part.base_current")
    _gain(context, subject, peak, base)
    node = context.fact(subject, "part.output_capacitance") or assumed(
        context, "drain_capacitance", subject, "drain_capacitance", "part.output_capacitance"
    )
    more: Inputs = {
        "saturation": saturation_voltage(context, subject, peak), "drop": SATURATION,
        "base_emitter": context.fact(subject, "rated.base_emitter_voltage")
        or assumed(context, "base_emitter_drop", subject, "forward_drop", "rated.base_emitter_voltage"),
        "drive": base or assumed(context, "forced_gain", subject, "forced_gain", "part.base_current"),
        "capacitance": with_bare(context, subject, shape, node), "held": _stated_capacitance(context, subject, shape),
        "fall": fall_time(context, subject), "valley": VALLEY, "crossing": FALL,
    }  # fmt: skip
    low = bulk_low(context, context.plan.cases(["voltage_min"], [RUNNING])[0])
    model = loss_model(shape.boundary, base is not None)
    rows: list[Entry] = []
    for words, bulk in ((LOWEST_MAINS, low), (HIGHEST_MAINS, bulk_high(context))):
        case = Case(RUNNING, load=words)
        top = context.need(subject, "voltage_peak", case)
        inputs = {**base_inputs(shape, bulk), **more, "top": top}
        rows += ledger.work_out(model, inputs, [(subject, "power", "power")], case=case)
    note = "the worse of lowest and highest mains"
    return [worst_row(context, rows, subject, "power", case, note) for case in cases][-1]


def saturation_voltage(context: Context, subject: Subject, peak: Entry) -> Entry:
    """Saturation voltage of the sheet at the peak current, as a standing row; below its first point that one holds."""
    return read_between(context, subject, "rated.saturation_voltage", peak, "saturation_voltage", STANDING)


def fall_time(context: Context, subject: Subject) -> Entry:
    """Fall time of the collector current, as the sheet says it."""
    stated = context.need(subject, "rated.fall_time")
    if isinstance(stated.value, Curve):  # at a current: the longest of them
        points = [value for _, value in stated.value.points]
        value = Value(*(max(column) for column in zip(*(one.numbers() for one in points), strict=True)))
        return context.ledger.write(
            subject, "rated.fall_time", value, case=STANDING, known_by=stated.known_by, inputs=(stated.number,),
            rests_on=stated.rests_on, place=stated.place, formula="the longest of the table", source="data sheet",
        )  # fmt: skip
    return stated


def _stated_capacitance(context: Context, subject: Subject, shape: Shape) -> Entry | Value:
    """What takes the current as it falls, and so lowers the loss: only what is stated."""
    node = context.fact(subject, "part.output_capacitance")
    found = with_bare(context, subject, shape, node if node is not None else 0.0)
    return found if isinstance(found, Entry) and isinstance(found.value, Value) else Value.exact(0.0)


def with_bare(context: Context, subject: Subject, shape: Shape, node: Entry | float) -> Entry | float:
    """The node's capacitance, and that of a capacitor bare across the switch: nothing else takes its charge."""
    bare = bare_capacitance(context, shape.switch)
    if bare is None:
        return node
    inputs: Inputs = {"node": node, "bare": bare}
    return context.ledger.work_out(
        TOGETHER, inputs, [(subject, "output_capacitance", "sum")], case=STANDING
    )[0]  # fmt: skip


TOGETHER = Model(
    "capacitance the switch discharges",
    lambda node, bare: {"sum": node + bare},
    {"sum": {"node": 1, "bare": 1}},
    "Kirchhoff",
    "node + capacitor across the switch",
)
FORCED = Model(
    "forced gain",
    lambda peak, base: {"gain": peak / base},
    {"gain": {"peak": 1, "base": -1}},
    "definition",
    "peak collector current / base current",
)


def _gain(context: Context, subject: Subject, peak: Entry, base: Entry | None) -> None:
    """Forced gain at the peak, and the gain the sheet promises there."""
    for case in context.plan.cases(["forced_gain"], [RUNNING]):
        if base is None:
            context.ledger.hole(subject, "forced_gain", (f"{subject}: part.base_current",), case=case)
        else:
            outputs: list[Wanted] = [(subject, "forced_gain", "gain")]
            context.ledger.work_out(FORCED, {"peak": peak, "base": base}, outputs, case=case)
        read_between(context, subject, "rated.gain", peak, "allowed.gain", case)
