"""Voltages of outputs and auxiliary rail, loaded and lightly loaded; the start-up resistors."""

from __future__ import annotations

from collections.abc import Iterable

from derate.circuit.elementary import passed, total
from derate.circuit.secondary import RAIL_BY_TURNS, RAIL_WITHOUT_LOAD
from derate.design.structure import leaves
from derate.ledger.entry import Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model
from derate.stress.context import AUXILIARY_RAIL, Context, part, repeated
from derate.stress.mains.bulk_states import bulk_high
from derate.terms.quantities import OVERLOAD, RUNNING
from derate.terms.values import Curve, Value
from derate.terms.words import CAPACITORS
from derate.topologies.flyback.operating import Inputs, controller_of
from derate.topologies.flyback.rectifiers import reverse
from derate.topologies.flyback.shape import STANDING, FlybackShape, OutputShape, forward_drop, turns_ratio

# Voltage of every output and of the auxiliary rail, loaded and lightly loaded, with the bands that were measured.
#
# A winding that is lightly loaded beside loaded ones is charged to the crest of the leakage ringing; how far is a
# band (AN-4137 measured 6 to 11 % at full load, ngspice 1.14 to 2.15 times alone lightly loaded).


BARE = Case(RUNNING)
LIGHT_LEAKAGE = 0.03  # leakage over inductance up to which the band of a light winding was looked at


def rail_model(load: str) -> Model:
    """Rail of a winding that conducts with the reference output; load: 'loaded' | 'light' | 'open' (no upper end)."""
    return Model.of(
        f"rail by turns, {'loaded' if load == 'loaded' else 'lightly loaded'}",
        RAIL_BY_TURNS[load],
        "AN-4137 p18 and p19, measured; ngspice 39 for light windings",
        "turns / turns × (output + drop) − own drop",
    )


def light_word(shape: FlybackShape) -> str:
    """Which band a light winding has: the one looked at up to 3 % leakage, none above."""
    leakage, inductance = shape.leakage.value, shape.inductance.value
    if isinstance(leakage, Value) and isinstance(inductance, Value) and inductance.near > 0:
        return "light" if leakage.far / inductance.near <= LIGHT_LEAKAGE else "open"
    return "open"


def solve_outputs(context: Context, shape: FlybackShape) -> None:
    """The greatest voltage of every output while it runs, and what its capacitors stand."""
    for one in shape.outputs:
        row = _voltage(context, shape, one)
        for element in (*one.walked.capacitors, *one.walked.filtered):
            for leaf in leaves(element):
                repeated(context, row, BARE, part(leaf.name))


def _voltage(context: Context, shape: FlybackShape, one: OutputShape) -> Entry:
    reference = shape.reference
    senses = context.structure.control.senses
    sensed = one.name in senses or (len(shape.outputs) == 1 and not any("." in name for name in senses) and senses)
    if sensed:
        return _as_voltage(context, one, 0.0)
    if reference is one or reference is None:
        # held through another winding, or nobody said by what: the output itself moves with load and leakage
        return _as_voltage(context, one, 0.10)
    inputs: Inputs = {
        "turns": turns_of(context, one.subject, one.walked.windings),
        "reference_turns": turns_of(context, reference.subject, reference.walked.windings),
        "output": reference.voltage,
        "drop": reference.drop,
        "own_drop": one.drop,
    }
    return context.ledger.work_out(
        rail_model(light_word(shape)),
        inputs,
        [(one.subject, "voltage", "rail")],
        case=BARE,
        note=f"alone lightly loaded, {reference.name} loaded",
    )[0]


def _as_voltage(context: Context, one: OutputShape, allowance: float) -> Entry:
    """The output's own stated voltage with an allowance for what does not hold it."""
    model = Model.of(
        "output voltage as stated",
        passed("voltage", (-allowance, allowance)),
        "own allowance where the output is held through another winding" if allowance else "regulated output",
        "as stated",
    )
    return context.ledger.work_out(model, {"voltage": one.voltage}, [(one.subject, "voltage", "voltage")], case=BARE)[0]


def turns_of(context: Context, subject: Subject, windings: Iterable[str]) -> Entry:
    """Turns of windings in series, as a row of what they feed."""
    rows = [context.need(Subject("winding", (name,)), "winding.turns") for name in windings]
    if not rows:
        return context.ledger.hole(subject, "turns", (OpenFact(subject, "its winding on the path"),), case=STANDING)
    inputs: Inputs = {f"turns_{k}": row for k, row in enumerate(rows)}
    model = Model.of("turns in series", total("turns", *inputs), "definition")
    return context.ledger.work_out(model, inputs, [(subject, "turns", "turns")], case=STANDING)[0]


# The auxiliary rail: its voltage loaded, in overload and without load, against controller, capacitor and diode.
#
# The rail follows the outputs by turns. Two ways to hold a supply: an optocoupler holds the output, and the rail
# moves; or the rail itself is sensed, and the output moves. In both the leakage lifts the rail in overload, and a
# converter that skips periods without load lets it fall.


_DIODES = ("line diode", "signal diode", "fast diode", "ultrafast diode", "Schottky diode")


def solve_auxiliary(context: Context, shape: FlybackShape) -> None:
    """Write the rows of the auxiliary rail and its parts."""
    path = context.structure.own.auxiliary
    if not path or shape.reference is None:
        return
    structure = context.structure
    windings = [name for step in path for name in step.names if "." in name]
    diodes = tuple(n for step in path if step.how == "series" for n in step.names if structure.must_be(n, *_DIODES))
    capacitors = [n for step in path if step.how == "across" for n in step.names if structure.must_be(n, *CAPACITORS)]
    winding = shape.primary.winding if shape.primary is not None else None
    ratio = turns_ratio(context, AUXILIARY_RAIL, winding, windings)
    drop = forward_drop(context, AUXILIARY_RAIL, diodes)
    reference = shape.reference
    inputs: Inputs = {
        "turns": turns_of(context, AUXILIARY_RAIL, windings),
        "reference_turns": turns_of(context, reference.subject, reference.walked.windings),
        "output": reference.voltage,
        "drop": reference.drop,
        "own_drop": drop,
    }
    loaded = context.ledger.work_out(rail_model("loaded"), inputs, [(AUXILIARY_RAIL, "voltage", "rail")], case=BARE)[0]
    # in overload the leakage carries the greatest current and the rail is the light winding beside a loaded one
    model = rail_model(light_word(shape))
    light = context.ledger.work_out(model, inputs, [(AUXILIARY_RAIL, "voltage", "rail")], case=Case(OVERLOAD))[0]
    controller = controller_of(context, shape)
    bearers = [*capacitors, *([controller] if controller else [])]
    for name in bearers:
        repeated(context, loaded, BARE, part(name))
        repeated(context, light, Case(OVERLOAD), part(name))
    if controller is not None:
        _supply_limits(context, controller, loaded)
    if diodes:
        voltage: Inputs = {"voltage": loaded, "bulk": bulk_high(context), "ratio": ratio}
        for name in diodes:
            reverse(context, name, voltage, context.fact(part(name), "part.ringing"))


def _supply_limits(context: Context, controller: str, loaded: Entry) -> None:
    """The controller's supply range as limits, and the least the rail may fall to without load."""
    subject, ledger = part(controller), context.ledger
    stated = context.fact(subject, "rated.supply")
    stops = context.fact(subject, "rated.stops_at")
    if stated is not None and isinstance(stated.value, Value):
        ledger.write(
            subject,
            "allowed.supply",
            Value.exact(stated.value.high),
            known_by=stated.known_by,
            inputs=(stated.number,),
            place=stated.place,
            rests_on=stated.rests_on,
            formula="upper end of the supply range",
            source="data sheet",
        )
    else:
        ledger.hole(subject, "allowed.supply", (OpenFact(subject, "rated.supply"),))
    value = stops.value if stops is not None else None
    if isinstance(value, Curve):
        value = value.points[0][1]
    if stops is not None and isinstance(value, Value):
        ledger.write(
            subject,
            "allowed.supply_least",
            value,
            known_by=stops.known_by,
            inputs=(stops.number,),
            place=stops.place,
            rests_on=stops.rests_on,
            formula="voltage at which it stops",
            source="data sheet",
        )
    elif stated is not None and isinstance(stated.value, Value) and stated.value.low < stated.value.high:
        ledger.write(
            subject,
            "allowed.supply_least",
            Value.exact(stated.value.low),
            known_by=stated.known_by,
            inputs=(stated.number,),
            rests_on=stated.rests_on,
            formula="lower end of the supply range",
            source="data sheet",
        )
    else:
        ledger.hole(subject, "allowed.supply_least", (OpenFact(subject, "rated.stops_at"),))
    for case in context.plan.cases(["voltage_min"], [RUNNING]):
        fall = Model.of(
            "auxiliary rail without load",
            RAIL_WITHOUT_LOAD,
            "own allowance, no source: a converter that skips periods lets the rail fall by up to a quarter",
            "loaded rail less a quarter",
            falling=frozenset(("rail",)),
        )
        context.ledger.work_out(fall, {"rail": loaded}, [(subject, "voltage_min", "rail")], case=case)


# Start-up resistors from the bulk: the voltage and the power of each, at the highest mains and for ever.
