"""The one function: structure, facts and assumptions in, the ledger of stresses out.

Tolerance, spread, headroom and missing facts only ever change the facts that go in here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from derate.design.readings import Reading, Test
from derate.design.structure import Structure
from derate.ledger.entry import Entry
from derate.ledger.ledger import Ledger
from derate.stress.bench.conditions import At, solved
from derate.stress.bench.evidence import is_of_parts, weigh
from derate.stress.bench.load_tests import plate_against_bench
from derate.stress.context import Assumed, Context
from derate.stress.efficiency import efficiency
from derate.stress.faults.mains_path import hard_faults, solve_faults
from derate.stress.mains.bleeders import solve_bleeders
from derate.stress.mains.line import crest, solve_line
from derate.stress.mains.path_parts import empty_positions, solve_thermistors
from derate.stress.mains.restart import solve_restarts
from derate.stress.mains.surge import solve_surge
from derate.stress.mains.switch_on import solve_switch_on
from derate.stress.parts.capacitors import solve_wear
from derate.stress.parts.ratings import class_y_temperature, rate_parts
from derate.stress.plan import CasePlan
from derate.stress.supply import output_power, plan_of, power_drawn, tolerance_of
from derate.terms.cases import FAULT
from derate.terms.values import Value
from derate.topologies.flyback.steps import solve_converter


def run(
    structure: Structure,
    facts: Sequence[Entry],
    assumptions: Mapping[str, Assumed],
    readings: Iterable[Reading] = (),
    tests: Iterable[Test] = (),
) -> Ledger:
    """Work out every stress the design has, at every case it has.

    facts: rows without case, as `derate.design.facts` gives them; numbers in the ledger are the same
    assumptions: by name, what packs assume where nobody has looked
    readings, tests: what was measured, at its condition, and what was done to the sample
    """
    given = tuple(readings)
    context = _solved(structure, facts, assumptions, [one for one in given if is_of_parts(structure, one)])
    weigh(
        context,
        facts,
        given,
        lambda varied, plan, whole: _solved(structure, varied, assumptions, (), plan, whole).ledger,
    )
    plate_against_bench(context, given, tuple(tests))
    empty_positions(context)
    return context.ledger


def run_at(
    structure: Structure,
    facts: Sequence[Entry],
    assumptions: Mapping[str, Assumed],
    readings: Iterable[Reading],
    at: At,
) -> Ledger:
    """The ledger of one condition, worked out from parts alone: what a capture is held against."""
    context = _solved(structure, facts, assumptions, [one for one in readings if is_of_parts(structure, one)])
    return solved(
        context,
        facts,
        at,
        lambda varied, plan, whole: _solved(structure, varied, assumptions, (), plan, whole).ledger,
        True,
    )


def _solved(
    structure: Structure,
    facts: Sequence[Entry],
    assumptions: Mapping[str, Assumed],
    readings: Sequence[Reading],
    only: CasePlan | None = None,
    converter: bool = True,
) -> Context:
    """Every row that is worked out; `only`: the cases of one condition, in place of those of the design."""
    ledger = Ledger()
    for fact in facts:
        ledger.copy(fact)
    known = dict(assumptions)
    tolerance = tolerance_of(ledger, known)
    stated = tolerance.value if tolerance is not None and isinstance(tolerance.value, Value) else None
    plan = only or plan_of(ledger, stated)
    if only is None:
        plan = plan._replace(extra={**plan.extra, FAULT: hard_faults(structure, plan)})
    ledger.plan = plan
    context = Context(structure, ledger, plan, known)
    outputs = _outputs(ledger, structure)
    delivered = output_power(context, outputs)
    power_drawn(context, delivered, efficiency(context, delivered, tuple(readings)))
    if structure.mains is not None:
        crest(context, structure.mains)
        solve_line(context, structure.mains)
        solve_bleeders(context, structure.mains)
        solve_switch_on(context, structure.mains)
        solve_restarts(context, structure.mains)
        solve_surge(context, structure.mains)
    if converter:
        solve_converter(context, tuple(readings))
    if structure.mains is not None:
        solve_thermistors(context, structure.mains)
    rate_parts(context)
    if only is None:
        solve_wear(context)
        class_y_temperature(context)
    if only is None:
        solve_faults(context)
    return context


def _outputs(ledger: Ledger, structure: Structure) -> tuple[str, ...]:
    """Names of the outputs on the plate, and of those that were walked and are not on it: what they draw is missing."""
    named = tuple(
        subject.names[0]
        for subject in ledger.subjects("output")
        if ledger.find(subject, "plate.voltage") or ledger.find(subject, "plate.current")
    )
    return (*named, *(name for name in structure.outputs if name not in named)) if named else ()
