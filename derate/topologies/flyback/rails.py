"""Rails of a flyback: its bulk capacitors, the outputs and the auxiliary rail, loaded and lightly loaded."""

from __future__ import annotations

from collections.abc import Iterable

from derate.circuit.capacitor_ageing import COMBINED_RIPPLE
from derate.circuit.elementary import passed, total
from derate.circuit.flyback import switching_ripple
from derate.circuit.secondary import RAIL_BY_TURNS, RAIL_WITHOUT_LOAD
from derate.design.structure import leaves
from derate.ledger.entry import Case, Entry, OpenFact, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import AUXILIARY_RAIL, BULK, Context, part, repeated
from derate.stress.mains.bulk_states import bulk_high, bulk_low, not_better, running_case
from derate.stress.parts.capacitors import GROUPS
from derate.stress.parts.life import allowed_case, bulk_names, junction, solve_lives
from derate.stress.parts.ratings import MOST_RISE, rating_at, ripple_rating
from derate.terms.quantities import OVERLOAD, RUNNING
from derate.terms.values import Curve, Value, written
from derate.terms.words import CAPACITORS
from derate.topologies.flyback.operating import PRIMARY_MODELS, Inputs, base_inputs, controller_of
from derate.topologies.flyback.rectifiers import reverse
from derate.topologies.flyback.shape import (
    PRIMARY,
    STANDING,
    FlybackShape,
    OutputShape,
    assumed,
    forward_drop,
    switching_hertz,
    synchronous,
    turns_ratio,
)
from derate.topologies.flyback.switch_loss import switch_power

# Bulk capacitors, junctions and life under a flyback: ripple at both frequencies, ratings at their frequency.


# The bulk capacitors under a flyback: their ripple current at both frequencies; its peak with them cold or worn.


# Ripple current of the bulk capacitors at both frequencies, as one current at the frequency of their rating.
#
# The charging current at twice the mains frequency and the switching current each heat by the square of their share
# of the rating at their own frequency; the shares add as squares (own derivation: heat adds).


def _switching_model(boundary: bool) -> Model:
    """Switching current of the bulk: the primary's rms less its average, which the mains side supplies."""
    return Model.of(
        "switching ripple of the bulk capacitor",
        switching_ripple(boundary),
        "own derivation, the form of AN-4137 (2004) eq 24",
        "√(switch rms² − average²)",
    )


SWITCHING = {boundary: _switching_model(boundary) for boundary in (False, True)}
EQUIVALENT = Model.of(
    "ripple current at the frequency of the rating",
    COMBINED_RIPPLE,
    "own derivation: heat adds, each current over its factor in the data sheet",
    "√((slow / factor)² + (fast / factor)²)",
)


def solve_bulk_ripple(context: Context, shape: FlybackShape) -> None:
    """Write switching and equivalent ripple of every bulk capacitor."""
    mains = context.structure.mains
    if mains is None:
        return
    fast = _switching(context, shape)
    for index, element in enumerate(mains.bulk):
        names = [leaf.name for leaf in leaves(element)]
        last = index == len(mains.bulk) - 1  # with a choke between all of the switching current goes to the last
        for name in names:
            for case in context.plan.cases(["ripple_equivalent"], [RUNNING]):
                _equivalent(context, shape, name, fast if last else None, case, len(names))


def _switching(context: Context, shape: FlybackShape) -> Entry:
    """Switching ripple at the lowest mains, at full load."""
    low = bulk_low(context, context.plan.cases(["voltage_min"], [RUNNING])[0])
    cases = context.plan.cases(["ripple_switching"], [RUNNING])
    wanted: list[Wanted] = [(BULK, "ripple_switching", "rms")]
    return context.ledger.work_out(SWITCHING[shape.boundary], base_inputs(shape, low), wanted, case=cases[0])[0]


def _equivalent(
    context: Context, shape: FlybackShape, name: str, fast: Entry | None, case: Case, parallel: int
) -> None:
    """Both currents of one capacitor as one at the frequency of its rating's first column that serves."""
    subject, ledger = part(name), context.ledger
    slow = context.need(subject, "ripple_current", case)
    half = context.structure.mains is not None and context.structure.mains.input == "half-wave"
    mains = (1.0 if half else 2.0) * (case.frequency or 50.0)
    rated = ripple_rating(context, subject, mains)
    curve = context.curve(subject, "rated.ripple_current")
    if curve is None:
        ledger.hole(subject, "ripple_equivalent", rated.missing, case=case, inputs=(slow.number, rated.number))
        return
    if not isinstance(rated.value, Value):  # only a column at the switching frequency: carried down by an assumption
        factor: Entry | Value = assumed(context, "ripple_factor_slow", subject, "ripple_factor", "rated.ripple_current")
        reference = curve.points[0]
        ledger.write(
            subject,
            "allowed.ripple_current",
            reference[1],
            known_by="data sheet",
            inputs=(rated.number,),
            formula=f"rating at {written(reference[0], 4)} Hz",
            source="data sheet",
        )
        slow_factor, fast_factor = factor, Value.exact(1.0)
    else:
        at = rating_at(curve, switching_hertz(shape))
        base = rated.value.middle
        slow_factor = Value.exact(1.0)
        fast_factor = Value.between(1.0, MOST_RISE)
        if at is not None and base > 0:
            fast_factor = Value(*(one / base for one in at.numbers()))
    share: Entry | float = 0.0
    if fast is not None:
        share = fast if parallel == 1 else _shared(context, subject, fast, 1.0 / parallel, case)
    ledger.work_out(
        EQUIVALENT,
        {"slow": slow, "slow_factor": slow_factor, "fast": share, "fast_factor": fast_factor},
        [(subject, "ripple_equivalent", "rms")],
        case=case,
    )


def _shared(context: Context, subject: Subject, fast: Entry, share: float, case: Case) -> Entry:
    value = fast.value.scaled(share) if isinstance(fast.value, Value) else None
    return context.ledger.write(
        subject,
        "ripple_switching",
        value,
        case=case,
        missing=fast.missing,
        known_by="computed",
        inputs=(fast.number,),
        note=fast.note,
        rests_on=fast.rests_on,
        formula="equal share of parallel capacitors",
        source="common practice",
    )


def solve_peaks(context: Context, shape: FlybackShape) -> None:
    """Peak current of the primary at full load and the lowest mains, cold and at the end of life."""
    for group in GROUPS:
        for case in context.plan.cases(["current_peak"], [group]):
            bulk = context.need(BULK, "voltage_min", case)
            model = PRIMARY_MODELS[shape.boundary]
            wanted: list[Wanted] = [(PRIMARY, "current_peak", "peak")]
            row = context.ledger.work_out(model, base_inputs(shape, bulk), wanted, case=case)[0]
            warm = context.fact(PRIMARY, "current_peak", running_case(context, "current_peak", case))
            rows = [row, *([warm] if warm is not None else [])]
            carriers = [PRIMARY, *([part(shape.switch)] if shape.switch is not None else [])]
            for one in carriers:
                not_better(context, rows, one, "current_peak", case, least=False)


# Junctions of switch and output rectifiers; ripple ratings and life of the capacitors of a flyback.


def solve_junctions(context: Context, shape: FlybackShape) -> None:
    """Junction temperature of switch and output rectifiers."""
    for one in shape.outputs:
        for name in one.walked.rectifier if not synchronous(context, one.walked.rectifier) else ():
            for case in context.plan.cases(["power"], [RUNNING])[:1]:
                junction(context, name, context.need(part(name), "power", case))
    if shape.switch is not None:
        power = switch_power(context, shape)
        junction(context, shape.switch, power)


def output_names(shape: FlybackShape) -> tuple[str, ...]:
    """Names of all output capacitors, those behind a choke included."""
    walked = (one.walked for one in shape.outputs)
    return tuple(leaf.name for o in walked for e in (*o.capacitors, *o.filtered) for leaf in leaves(e))


def rate_output_capacitors(context: Context, shape: FlybackShape) -> None:
    """Ripple ratings of the output capacitors at the switching frequency."""
    for name in output_names(shape):
        ripple_rating(context, part(name), switching_hertz(shape))


def solve_life(context: Context, shape: FlybackShape) -> None:
    """Write the life of every electrolytic bulk and output capacitor."""
    for name in (*bulk_names(context), *output_names(shape)):
        if context.structure.may_be(name, "electrolytic capacitor", "solid electrolytic capacitor"):
            allowed_case(context, name)
    solve_lives(context, bulk_names(context), "ripple_equivalent")
    solve_lives(context, output_names(shape), "ripple_current")


# Voltages of outputs and auxiliary rail, loaded and lightly loaded; the start-up resistors.


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
        "AN-4137 (2004) p18 and p19, measured; ngspice 39 for light windings",
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
    # the start-up path ends at the rail: the last one across it stands there, those before it at a higher voltage
    ends = [step for step in structure.own.start_up or () if step.how == "across"][-1:]
    across = [step for step in path if step.how == "across"] + ends
    capacitors = [
        name for name in dict.fromkeys(n for step in across for n in step.names) if structure.must_be(name, *CAPACITORS)
    ]
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
