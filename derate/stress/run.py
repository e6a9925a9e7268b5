"""The one function: structure, facts and assumptions in, the ledger of stresses out.

Tolerance, spread, headroom and missing facts only ever change the facts that go in here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from derate.design.readings import Reading
from derate.design.structure import Structure
from derate.ledger.entry import Entry
from derate.ledger.ledger import Ledger
from derate.stress.context import Assumed, Context
from derate.stress.efficiency import efficiency
from derate.stress.line import crest, solve_line
from derate.stress.ratings import rate_parts
from derate.stress.solve_converter import solve_converter
from derate.stress.restart import solve_restarts
from derate.stress.supply import output_power, plan_of, power_drawn, tolerance_of
from derate.stress.surge import solve_surge
from derate.stress.switch_on import solve_switch_on
from derate.terms.values import Value


def run(
    structure: Structure,
    facts: Sequence[Entry],
    assumptions: Mapping[str, Assumed],
    readings: Iterable[Reading] = (),
) -> Ledger:
    """Work out every stress the design has, at every case it has.

    facts: rows without case, as `derate.design.facts` gives them; numbers in the ledger are the same
    assumptions: by name, what packs assume where nobody has looked
    readings: what was measured, at its condition
    """
    ledger = Ledger()
    for fact in facts:
        ledger.copy(fact)
    known = dict(assumptions)
    tolerance = tolerance_of(ledger, known)
    stated = tolerance.value if tolerance is not None and isinstance(tolerance.value, Value) else None
    plan = plan_of(ledger, stated)
    ledger.plan = plan
    context = Context(structure, ledger, plan, known)
    outputs = _outputs(ledger)
    delivered = output_power(context, outputs)
    power_drawn(context, delivered, efficiency(context, delivered, tuple(readings)))
    if structure.mains is not None:
        crest(context, structure.mains)
        solve_line(context, structure.mains)
        solve_switch_on(context, structure.mains)
        solve_restarts(context, structure.mains)
        solve_surge(context, structure.mains)
    solve_converter(context, tuple(readings))
    rate_parts(context)
    return ledger


def _outputs(ledger: Ledger) -> tuple[str, ...]:
    """Names of the outputs on the plate."""
    return tuple(
        subject.names[0]
        for subject in ledger.subjects("output")
        if ledger.find(subject, "plate.voltage") or ledger.find(subject, "plate.current")
    )
