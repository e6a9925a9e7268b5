"""Ripple of the outputs with their capacitors cold, and at the end of their life; never better than warm and new."""

from __future__ import annotations

from derate.ledger.entry import Case, Entry
from derate.stress.capacitor_states import GROUPS, State
from derate.stress.context import BULK, Context, part
from derate.stress.converter import OutputShape, Shape
from derate.stress.operating import Inputs
from derate.stress.output_capacitors import far_from_resonance, filter_model, has_filter, ripple_model
from derate.stress.output_parts import capacitance_of, series_resistance
from derate.stress.secondaries import secondary_inputs, share_of, worst_row
from derate.terms.cases import ALL_FULL, RUNNING, full_load_of


def solve_output_states(context: Context, shape: Shape) -> None:
    """Write the ripple of every output in each state, at the lowest mains and full load."""
    for group in GROUPS:
        for case in context.plan.cases(["ripple"], [group]):
            for one in shape.outputs:
                _one(context, shape, one, case)


def _one(context: Context, shape: Shape, one: OutputShape, case: Case) -> None:
    walked = one.walked
    if not walked.capacitors:
        return
    state = State.of(case)
    bulk = context.need(BULK, "voltage_min", context.plan.project("voltage_min", case))
    parts: Inputs = {
        "capacitance": capacitance_of(context, walked.capacitors, one.subject, one.voltage, state),
        "resistance": series_resistance(context, shape, walked.capacitors, one.subject, state),
    }
    several = len(shape.outputs) > 1
    if has_filter(one):
        choke = part(walked.choke[0])
        parts |= {
            "inductance_out": context.need(choke, "part.inductance"),
            "filter_capacitance": capacitance_of(context, walked.filtered, choke, one.voltage, state),
            "filter_resistance": series_resistance(context, shape, walked.filtered, choke, state),
        }
        far = far_from_resonance(shape, parts)
        model, output = filter_model(shape.boundary, share_of(shape, one), far), "filter_ripple"
        loads = [several]
    else:
        model, output = ripple_model(shape.boundary, share_of(shape, one)), "ripple"
        loads = [False, True] if several else [False]
    rows: list[Entry] = []
    for alone in loads:
        inputs = {**secondary_inputs(context, shape, one, alone), **parts, "bulk": bulk}
        load = full_load_of(one.name) if alone else ALL_FULL
        rows += context.ledger.work_out(
            model, inputs, [(one.subject, "ripple", output)], case=Case(case.group, load=load, ambient=case.ambient)
        )
    warm = context.fact(one.subject, "ripple", context.plan.project("ripple", case._replace(group=RUNNING)))
    if warm is not None:
        rows.append(warm)
    worst_row(context, rows, one.subject, "ripple", case, "spikes of stray inductance come on top")
