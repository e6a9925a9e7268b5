"""Plug-in, re-plug, dip and surge of a dropper: the steps of the mains that its capacitor passes on whole.

The dropping capacitor is charged through everything in series with it, as a capacitor across the mains would be, but
for the few volts that are held behind it: the formulas are those. A plug that is put back finds the capacitor as it was
left, at the worst at the opposite crest: twice the step, four times the I²t, and as often as it is plugged in.
"""

from __future__ import annotations

from derate.circuit import dropper
from derate.design.structure import MainsInput, Shunt, leaves
from derate.ledger.entry import Case
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import LINE, Context, Inputs, carried, part
from derate.stress.mains.surge import solve_surge
from derate.stress.mains.switch_on import QUANTITIES, less_when_hot, no_case, no_more_than, replug, solve_switch_on
from derate.stress.parts.ratings import EVENTS, allowed_surge
from derate.terms.quantities import DIP, HOT_RESTART, RE_PLUG, SURGE, SWITCH_ON, each
from derate.topologies.dropper.shape import DropperShape, store_names

_PULSE = each("current_peak", "i2t", "pulse_width")
STEPPED = Model.of(
    "mains closed at the crest onto resistors",
    dropper.CLOSED,
    "Ohm's law; half a period of the sine",
    "crest / R; crest² / R² for a quarter of a period",
)


def solve_events(context: Context, shape: DropperShape) -> None:
    """Every event; the diodes behind carry what the line does."""
    less_when_hot(context, shape.path)
    path = as_charged(shape)
    if path is None:
        _of_resistors(context, shape)
    else:
        solve_switch_on(context, path)
        _again(context, path)
        solve_surge(context, path)
    _behind(context, shape)
    for name in (*shape.parts.rectifier, *shape.parts.returns):
        for event in EVENTS:
            allowed_surge(context, name, event)


def as_charged(shape: DropperShape) -> MainsInput | None:
    """The line as one that charges the dropping capacitor, so that the formulas of a charging current hold for it."""
    element = shape.parts.element
    if element is None:
        return None
    behind = tuple(name for name in shape.path if name not in shape.inlet.series)
    kind = "full bridge" if shape.bridge else "half-wave"
    return shape.inlet._replace(behind=behind, input=kind, bulk=(element,))


def _again(context: Context, path: MainsInput) -> None:
    """The mains comes back: at the worst on the crest opposite to the one the capacitor kept, after a dip as well."""
    cold = next(iter(context.plan.cases(["i2t"], [SWITCH_ON])), None)
    if cold is None:
        return
    names = tuple(leaf.name for element in path.bulk for leaf in leaves(element))
    everything = path._replace(
        series=(*path.series, *path.behind),
        behind=(),
        shunts=(*path.shunts, Shunt(path.bulk[0], names, len(path.series) + len(path.behind))),
    )
    replug(context, everything, cold, bulk=False)
    again = next(iter(context.plan.cases(["i2t"], [RE_PLUG])), None)
    if again is not None:
        _line_as_worst(context, everything, again)
    for group in (HOT_RESTART, DIP):
        for case in context.plan.cases(["i2t"], [group]):
            if case.mains is None or again is None:
                no_case(context, path, case)
            else:
                no_more_than(context, everything, again, case, "no more than twice the crest meets the capacitor")


def _line_as_worst(context: Context, path: MainsInput, again: Case) -> None:
    """What the last part ahead of the capacitor carries flows through the line and the capacitor too."""
    if not path.series:
        return
    last = part(path.series[-1])
    subjects = [LINE, *(part(leaf.name) for leaf in leaves(path.bulk[0]))]
    for quantity in QUANTITIES:
        row = context.ledger.find(last, quantity, again)
        if row is None or quantity in ("energy", "pulse_power", "voltage_surge"):
            continue
        for one in subjects:
            carried(context, row, again, one)


def _of_resistors(context: Context, shape: DropperShape) -> None:
    """Resistors alone keep nothing and pass nothing on that they do not limit: closed at the crest, crest over R."""
    names = [LINE, *(part(name) for name in shape.path)]
    for group in (SWITCH_ON, HOT_RESTART, RE_PLUG, DIP):
        for case in context.plan.cases(["i2t"], [group]):
            if case.mains is None:
                no_case(context, shape.inlet, case)
                continue
            inputs: Inputs = {"mains": case.mains, "frequency": case.frequency or 50.0, "resistance": shape.resistance}
            wanted: list[Wanted] = [(one, q, q) for one in names for q in _PULSE]
            context.ledger.work_out(STEPPED, inputs, wanted, case=case)
    told = "a surge through dropping resistors alone is not worked out"
    for case in context.plan.cases(["i2t"], [SURGE]):
        for one in names:
            for quantity in _PULSE:
                context.ledger.hole(one, quantity, (), case=case, note=told)
    for shunt in shape.inlet.shunts:
        for name in shunt.names:
            if context.structure.may_be(name, "varistor"):
                for case in context.plan.cases(["energy"], [SURGE]):
                    context.ledger.hole(part(name), "energy", (), case=case, note=told)


def _behind(context: Context, shape: DropperShape) -> None:
    """The diodes carry the current of the line at every event; the rail stays at what holds it."""
    ledger = context.ledger
    diodes = [part(name) for name in (*shape.parts.rectifier, *shape.parts.returns)]
    for group in (SWITCH_ON, HOT_RESTART, RE_PLUG, DIP, SURGE):
        for case in context.plan.cases(["i2t"], [group]):
            for quantity in _PULSE:
                row = ledger.find(LINE, quantity, case)
                for one in diodes:
                    if row is None:
                        ledger.hole(one, quantity, (), case=case, note="not worked out")
                        continue
                    carried(context, row, case, one)
    _surge_at_the_rail(context, shape)


RAISED = Model.of(
    "rail at the end of a surge",
    dropper.RAISED,
    "charge = I²t / peak × 2; all of it into the capacitor across the rail",
    "rail + drop + charge / capacitance",
)


def _surge_at_the_rail(context: Context, shape: DropperShape) -> None:
    """The charge a surge drives through the dropper raises the capacitor across the rail; what clamps it only helps."""
    ledger = context.ledger
    diodes = [part(name) for name in (*shape.parts.rectifier, *shape.parts.returns)]
    stores = store_names(shape.parts)
    for case in context.plan.cases(["voltage_surge"], [SURGE]):
        if not stores:
            for one in diodes:
                note = "what holds the rail in a surge without a capacitor across it is not worked out"
                ledger.hole(one, "voltage_surge", (), case=case, note=note)
            continue
        inputs: Inputs = {
            "rail": shape.rail,
            "drop": shape.drop,
            "peak": context.need(LINE, "current_peak", case),
            "width": context.need(LINE, "pulse_width", case),
            "capacitance": context.need(part(stores[0]), "part.capacitance"),
        }
        ledger.work_out(RAISED, inputs, [(one, "voltage_surge", "rail") for one in diodes], case=case)
