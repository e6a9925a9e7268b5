"""Rate of voltage change on the capacitors of clamp and snubbers, and the pulse of current that makes it.

A clamp capacitor takes the whole peak of the primary while its diode conducts: dv/dt = I / C. A capacitor behind a
resistor sees at most its swing over R C; one bare across the switch rises with the peak current over C and falls as
fast as the switch turns on. All are upper figures: what else hangs at the node takes its share. Source: i = C dv/dt.
"""

from __future__ import annotations

from derate.circuit.bands import in_range
from derate.ledger.entry import Entry
from derate.ledger.model import Model
from derate.stress.clamp_shape import ClampShape, clamp_of, joined, only, parallel_capacitance
from derate.stress.context import Context, part
from derate.stress.converter import Shape, assumed
from derate.stress.operating import Inputs
from derate.stress.snubber_parts import Snubber, capacitance_of, resistance_of, snubbers_of
from derate.terms.cases import OVERLOAD, RUNNING, CaseGroup

_SOURCE = "i = C dv/dt, upper figure"
# The capacitor takes less than all of the current, and a swing is rounded by the edge: nothing below is ruled out.
_BAND = (-0.9, 0.02)


def _own(capacitance: float) -> float:
    in_range("capacitance", capacitance, 0.0, float("inf"), "F", open_low=True)
    return capacitance


CHARGED = Model(
    "slope of a capacitor that takes the peak current",
    lambda current, capacitance: {"slope": current / _own(capacitance)},
    {"slope": {"current": 1, "capacitance": -1}},
    _SOURCE,
    "peak current / capacitance",
    {"slope": _BAND},
)
BEHIND_RESISTOR = Model(
    "slope of a capacitor behind a resistor",
    lambda swing, resistance, capacitance: {"slope": swing / (resistance * _own(capacitance))},
    {"slope": {"swing": 1, "resistance": -1, "capacitance": -1}},
    _SOURCE,
    "swing / (resistance × capacitance)",
    {"slope": _BAND},
)
BARE = Model(
    "slope of a capacitor across the switch",
    lambda swing, edge, current, capacitance: {"slope": max(swing / edge, current / _own(capacitance))},
    {"slope": {"swing": 1, "edge": -1, "current": 1, "capacitance": -1}},
    _SOURCE,
    "the greater of swing / edge and peak current / capacitance",
    {"slope": _BAND},
)
WITH_DIODE = Model(
    "slope of a snubber capacitor with a diode",
    lambda swing, resistance, current, capacitance: {"slope": max(swing / resistance, current) / _own(capacitance)},
    {"slope": {"swing": 1, "resistance": -1, "current": 1, "capacitance": -1}},
    _SOURCE,
    "the greater of peak current and swing / resistance, over the capacitance",
    {"slope": _BAND},
)
PULSE = Model(
    "pulse current of a capacitor",
    lambda slope, capacitance: {"current": slope * capacitance},
    {"current": {"slope": 1, "capacitance": 1}},
    _SOURCE,
    "capacitance × slope",
)


def solve_edges(context: Context, shape: Shape) -> None:
    """Write slope and pulse current of every capacitor in clamp and snubbers."""
    clamp, snubbers = clamp_of(context), snubbers_of(context)
    total = _clamp_capacitance(context, clamp)
    for group in (RUNNING, OVERLOAD):
        current = _peak(context, shape, group)
        if total is not None and current is not None:
            _write(context, clamp.capacitors, CHARGED, {"current": current, "capacitance": total}, group)
        for snubber in snubbers:
            if snubber.capacitors:
                _snubber(context, shape, snubber, group, current)


def _clamp_capacitance(context: Context, clamp: ClampShape) -> Entry | None:
    """What the peak current charges: the capacitors joined as walked, so that two in series count as the less."""
    if not clamp.capacitors:
        return None
    element = only(clamp.whole, clamp.capacitors) if clamp.whole is not None else None
    if element is None:
        return parallel_capacitance(context, clamp.capacitors)
    return joined(context, element, "part.capacitance", "clamp_capacitance", capacitors=True)


def _peak(context: Context, shape: Shape, group: CaseGroup) -> Entry | None:
    """Peak of the switch current in a group of cases."""
    if shape.switch is None:
        return None
    return context.need(part(shape.switch), "current_peak", context.plan.cases(["current_peak"], [group])[0])


def _snubber(context: Context, shape: Shape, snubber: Snubber, group: CaseGroup, current: Entry | None) -> None:
    """Slope and pulse current of the capacitors of one snubber."""
    capacitance = capacitance_of(context, snubber)
    swing, at_switch = _swing(context, shape, snubber.across, group)
    inputs: Inputs = {"capacitance": capacitance}
    model = None
    if swing is not None:
        inputs["swing"] = swing
        if snubber.series:
            model = BEHIND_RESISTOR
            inputs["resistance"] = resistance_of(context, snubber)
        elif at_switch and current is not None and shape.switch is not None:
            inputs["current"] = current
            if snubber.bare:
                model = BARE
                inputs["edge"] = context.fact(part(shape.switch), "part.switching_time") or assumed(
                    context, "switching_edge", part(shape.switch), "switching_edge", "part.switching_time"
                )
            elif snubber.resistors and snubber.diodes:
                model = WITH_DIODE
                inputs["resistance"] = resistance_of(context, snubber)
    if model is not None:
        _write(context, snubber.capacitors, model, inputs, group)
        return
    note = f"not covered: the slope of the capacitors of this snubber across {snubber.across}"
    for name in snubber.capacitors:
        for case in context.plan.cases(["voltage_slope"], [group]):
            context.ledger.hole(part(name), "voltage_slope", (), case=case, note=note)


def _swing(context: Context, shape: Shape, across: str, group: CaseGroup) -> tuple[Entry | None, bool]:
    """What the voltage across a snubber swings over, and whether it lies at the switch."""
    primary = shape.primary.winding if shape.primary is not None else None
    if shape.switch is not None and across in (shape.switch, primary):
        cases = context.plan.cases(["voltage_peak"], [group])
        return context.need(part(shape.switch), "voltage_peak", cases[-1]), True
    for one in shape.outputs:
        if across in (*one.walked.rectifier, *one.walked.windings) and one.walked.rectifier:
            cases = context.plan.cases(["reverse_voltage"], [group])
            return context.need(part(one.walked.rectifier[0]), "reverse_voltage", cases[-1]), False
    return None, False


def _write(context: Context, names: tuple[str, ...], model: Model, inputs: Inputs, group: CaseGroup) -> None:
    """One slope for all capacitors of a clamp or snubber, and each one's own pulse."""
    for name in names:
        for case in context.plan.cases(["voltage_slope"], [group]):
            slope = context.ledger.work_out(model, inputs, [(part(name), "voltage_slope", "slope")], case=case)[0]
            own = context.need(part(name), "part.capacitance")
            for at in context.plan.cases(["current_peak"], [group]):
                context.ledger.work_out(
                    PULSE, {"slope": slope, "capacitance": own}, [(part(name), "current_peak", "current")], case=at
                )
