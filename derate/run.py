"""The one function: structure, facts and assumptions in, the ledger of stresses out.

Tolerance, spread, headroom and missing facts only ever change the facts that go in here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from derate.design.readings import Reading, Test
from derate.design.structure import Structure
from derate.ledger.entry import SUPPLY, Entry
from derate.ledger.ledger import EVERY, Ledger
from derate.stress.bench.against_ratings import hold_readings, test_outcomes
from derate.stress.bench.evidence import At, Solve, is_of_parts, solved, weigh
from derate.stress.bench.load_tests import plate_against_bench
from derate.stress.context import AXES, Assumed, CasePlan, Context, one_word, united
from derate.stress.faults.mains_path import hard_faults, solve_faults
from derate.stress.faults.neutral import lost_neutral, tried
from derate.stress.mains import boost
from derate.stress.mains.line import crest, efficiency, solve_line
from derate.stress.mains.path_parts import empty_positions, solve_thermistors
from derate.stress.mains.surge import solve_surge
from derate.stress.mains.switch_on import solve_restarts, solve_switch_on
from derate.stress.parts.capacitors import solve_wear
from derate.stress.parts.ratings import class_y_temperature, rate_parts
from derate.stress.parts.resistors import solve_bleeders
from derate.stress.supply import lowest_mains, output_power, plan_of, power_drawn, tolerance_of
from derate.stress.topology import not_covered, take_converter
from derate.terms.quantities import FAULT
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Value
from derate.topologies import every_topology, topology_of

PER_KELVIN = ("part.temperature_coefficient", "part.temperature_slope")
WARMED: tuple[QuantityName, ...] = ("part.resistance", "part.capacitance", "part.voltage")


def run(
    structure: Structure,
    facts: Sequence[Entry],
    assumptions: Mapping[str, Assumed],
    readings: Iterable[Reading] = (),
    tests: Iterable[Test] = (),
    ledger: Ledger | None = None,
) -> Ledger:
    """Work out every stress the design has, at every case it has.

    facts: rows without case, as `derate.design.facts` gives them; numbers in the ledger are the same
    assumptions: by name, what packs assume where nobody has looked
    readings, tests: what was measured, at its condition, and what was done to the sample
    ledger: an empty one to write into; one that remembers replays the steps none of whose reads changed
    """
    given, done = tuple(readings), tuple(tests)
    context = _solved(
        Ledger() if ledger is None else ledger,
        structure,
        facts,
        assumptions,
        tuple(one for one in given if is_of_parts(structure, one)),
    )
    step = context.ledger.step
    step("readings", lambda: weigh(context, facts, given, _at_condition(context)), given, refines=EVERY)
    step("readings against ratings", lambda: hold_readings(context, given), given)
    step("plate against bench", lambda: plate_against_bench(context, given, done), (given, done))
    step("outcomes of tests", lambda: test_outcomes(context.ledger, done), done)
    step("neutral lost, as tried", lambda: tried(context.ledger, done), done)
    step("empty positions", lambda: empty_positions(context))
    return context.ledger


def run_at(
    structure: Structure,
    facts: Sequence[Entry],
    assumptions: Mapping[str, Assumed],
    readings: Iterable[Reading],
    at: At,
) -> Ledger:
    """The ledger of one condition, worked out from parts alone: what a capture is held against."""
    of_parts = tuple(one for one in readings if is_of_parts(structure, one))
    context = _solved(Ledger(), structure, facts, assumptions, of_parts)
    return solved(context, facts, at, _at_condition(context), True)


def _at_condition(context: Context) -> Solve:
    """What works out a ledger of its own for other facts and a plan of one condition."""

    def solve(varied: Sequence[Entry], plan: CasePlan, converter: bool) -> Ledger:
        inner = context.ledger.nested()
        _solved(inner, context.structure, varied, context.assumptions, (), plan, converter)
        context.ledger.close(inner)
        return inner

    return solve


def _solved(
    ledger: Ledger,
    structure: Structure,
    facts: Sequence[Entry],
    assumptions: Mapping[str, Assumed],
    readings: tuple[Reading, ...],
    only: CasePlan | None = None,
    converter: bool = True,
) -> Context:
    """Every row that is worked out; `only`: the cases of one condition, in place of those of the design."""
    ledger.take(facts)
    known = dict(assumptions)
    tolerance = ledger.step("mains tolerance", lambda: tolerance_of(ledger, known))
    word = one_word(ledger.find(SUPPLY, "supply.topology"))
    own = topology_of(word)
    topologies = (own,) if own is not None else every_topology(structure.mains is not None)
    plan = only
    if plan is None:
        stated = tolerance.value if tolerance is not None and isinstance(tolerance.value, Value) else None
        plan = plan_of(ledger, stated, united((AXES, *(one.bad_ends for one in topologies))))
        plan = plan._replace(extra={**plan.extra, FAULT: hard_faults(structure, plan)})
    context = Context(structure, ledger, ledger.watch(plan), known)
    step = ledger.step
    if [one for one in facts if one.quantity in PER_KELVIN]:
        from derate.stress.parts.value_temperature import warm_values  # only where a coefficient is stated

        step("values by temperature", lambda: warm_values(context), refines=WARMED)
    delivered = step("output power", lambda: output_power(context, _outputs(ledger, structure)))
    inlet = structure.own_inlet
    draws = own.drawn if own is not None and inlet is None else None
    drawn = step("power that it holds", lambda: draws(context)) if draws is not None else None
    if inlet is None and drawn is None:
        stage = step("efficiency", lambda: efficiency(context, delivered, readings), (delivered, readings))
        step("power drawn", lambda: power_drawn(context, delivered, stage), (delivered, stage))
    elif inlet is not None:
        # stresses of the line are the topology's, but for what lies across it whatever stands behind
        step("bleeders", lambda: solve_bleeders(context, inlet))
    mains = structure.mains
    boosted = bool(boost.told(context))
    if mains is not None and boosted:
        step("bleeders", lambda: solve_bleeders(context, mains))
        step("power-factor stage", lambda: boost.not_worked_out(context))
    elif mains is not None:
        step("line", lambda: solve_line(context, mains))
        step("crest", lambda: crest(context, mains))
        step("bleeders", lambda: solve_bleeders(context, mains))
        step("switch-on", lambda: solve_switch_on(context, mains))
        step("restarts", lambda: solve_restarts(context, mains))
        step("surge", lambda: solve_surge(context, mains))
    if converter:
        gap = None if own is not None else not_covered(context, word, topologies)
        take_converter(context, topologies, gap, readings)
    if structure.ports and converter and only is None:
        from derate.stress.ports.solve import solve_ports  # only where there are any

        step("ports", lambda: solve_ports(context))
    if mains is not None and not boosted:
        step("thermistors", lambda: solve_thermistors(context, mains))
    step("ratings", lambda: rate_parts(context))
    if only is None:
        step("charging", lambda: _charging(context))
        # the first resistance once more, at the frequency it was measured at
        step("wear", lambda: solve_wear(context), refines=("first_resistance",))
        step("class Y temperature", lambda: class_y_temperature(context))
        solve_faults(context)
        if mains is not None:
            step("neutral lost", lambda: lost_neutral(context, mains))
        step("lowest mains", lambda: lowest_mains(context))
    return context


def _charging(context: Context) -> None:
    """Loaded where a battery is named alone: few supplies charge one."""
    if any(context.fact(one, "battery.kind") is not None for one in context.ledger.subjects("output")):
        from derate.stress.charging import solve_charging

        solve_charging(context)


def _outputs(ledger: Ledger, structure: Structure) -> tuple[str, ...]:
    """Names of the outputs on the plate, and of those that were walked and are not on it: what they draw is missing."""
    named = tuple(
        subject.names[0]
        for subject in ledger.subjects("output")
        if ledger.find(subject, "plate.voltage") or ledger.find(subject, "plate.current")
    )
    return (*named, *(name for name in structure.outputs if name not in named)) if named else ()
