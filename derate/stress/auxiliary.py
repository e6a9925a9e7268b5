"""The auxiliary rail: its voltage loaded, in overload and without load, against controller, capacitor and diode.

The rail follows the outputs by turns. Two ways to hold a supply: an optocoupler holds the output, and the rail moves;
or the rail itself is sensed, and the output moves. In both the leakage lifts the rail in overload, and a converter that
skips periods without load lets it fall.
"""

from __future__ import annotations

from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.model import Model
from derate.stress.context import Context, part
from derate.stress.converter import Shape, forward_drop, turns_ratio
from derate.stress.light_windings import BARE, light_word, rail_model, turns_of
from derate.stress.operating import Inputs, again, bulk_high, controller_of
from derate.stress.rectifiers import reverse
from derate.terms.cases import OVERLOAD, RUNNING
from derate.terms.part_kinds import CAPACITORS
from derate.terms.values import Curve, Value

RAIL = Subject("circuit", ("auxiliary",))
IN_OVERLOAD = Case(OVERLOAD)
_DIODES = (
    "line diode", "signal diode", "fast diode", "ultrafast diode", "Schottky diode",
)  # fmt: skip


def solve_auxiliary(context: Context, shape: Shape) -> None:
    """Write the rows of the auxiliary rail and its parts."""
    path = context.structure.auxiliary
    if not path or shape.reference is None:
        return
    structure = context.structure
    windings = [name for step in path for name in step.names if "." in name]
    diodes = tuple(n for step in path if step.how == "series" for n in step.names if structure.must_be(n, *_DIODES))
    capacitors = [
        n for step in path if step.how == "across" for n in step.names
        if structure.must_be(n, *CAPACITORS)
    ]  # fmt: skip
    winding = shape.primary.winding if shape.primary is not None else None
    ratio = turns_ratio(context, RAIL, winding, windings)
    drop = forward_drop(context, RAIL, diodes)
    reference = shape.reference
    inputs: Inputs = {
        "turns": turns_of(context, RAIL, windings),
        "reference_turns": turns_of(context, reference.subject, reference.walked.windings),
        "output": reference.voltage, "drop": reference.drop, "own_drop": drop,
    }  # fmt: skip
    loaded = context.ledger.work_out(rail_model("loaded"), inputs, [(RAIL, "voltage", "rail")], case=BARE)[0]
    # in overload the leakage carries the greatest current and the rail is the light winding beside a loaded one
    model = rail_model(light_word(shape))
    light = context.ledger.work_out(model, inputs, [(RAIL, "voltage", "rail")], case=IN_OVERLOAD)[0]
    controller = controller_of(context, shape)
    bearers = [*capacitors, *([controller] if controller else [])]
    for name in bearers:
        again(context, loaded, BARE, part(name))
        again(context, light, IN_OVERLOAD, part(name))
    if controller is not None:
        _supply_limits(context, controller, loaded)
    if diodes:
        voltage: Inputs = {"voltage": loaded, "bulk": bulk_high(context), "ratio": ratio}
        for name in diodes:
            reverse(context, name, voltage, context.fact(part(name), "part.ringing"))


NO_LOAD = -0.25  # how far the rail falls where the converter skips periods without load: own allowance


def _supply_limits(context: Context, controller: str, loaded: Entry) -> None:
    """The controller's supply range as limits, and the least the rail may fall to without load."""
    subject, ledger = part(controller), context.ledger
    stated = context.fact(subject, "rated.supply")
    stops = context.fact(subject, "rated.stops_at")
    if stated is not None and isinstance(stated.value, Value):
        ledger.write(
            subject, "allowed.supply", Value.exact(stated.value.high), known_by=stated.known_by,
            inputs=(stated.number,),
            place=stated.place, rests_on=stated.rests_on, formula="upper end of the supply range", source="data sheet",
        )  # fmt: skip
    else:
        ledger.hole(subject, "allowed.supply", (f"{subject}: rated.supply",))
    value = stops.value if stops is not None else None
    if isinstance(value, Curve):
        value = value.points[0][1]
    if stops is not None and isinstance(value, Value):
        ledger.write(
            subject, "allowed.supply_least", value, known_by=stops.known_by, inputs=(stops.number,), place=stops.place,
            rests_on=stops.rests_on, formula="voltage at which it stops", source="data sheet",
        )  # fmt: skip
    elif stated is not None and isinstance(stated.value, Value) and stated.value.low < stated.value.high:
        ledger.write(
            subject, "allowed.supply_least", Value.exact(stated.value.low), known_by=stated.known_by,
            inputs=(stated.number,), rests_on=stated.rests_on, formula="lower end of the supply range",
            source="data sheet",
        )  # fmt: skip
    else:
        ledger.hole(subject, "allowed.supply_least", (f"{subject}: rated.stops_at",))
    for case in context.plan.cases(["voltage_min"], [RUNNING]):
        fall = Model(
            "auxiliary rail without load", lambda rail: {"rail": rail}, {"rail": {"rail": 1}},
            "own allowance, no source: a converter that skips periods lets the rail fall by up to a quarter",
            "loaded rail less a quarter", {"rail": (NO_LOAD, 0.0)}, frozenset(("rail",)),
        )  # fmt: skip
        context.ledger.work_out(fall, {"rail": loaded}, [(subject, "voltage_min", "rail")], case=case)
