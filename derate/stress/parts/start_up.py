"""Start-up resistors from the bulk: the voltage and the power of each, at the highest mains and for ever."""

from __future__ import annotations

from derate.circuit.elementary import total
from derate.circuit.resistors import SERIES_SHARE
from derate.design.paths import Leaf, leaves
from derate.ledger.entry import Entry, Subject
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.context import Context, part, repeated
from derate.stress.mains.bulk_states import bulk_high
from derate.terms.cases import RUNNING
from derate.terms.quantities import paired
from derate.terms.values import Value
from derate.terms.words import RESISTORS

# What is left across the controller is small and neglected: each resistor sees its share of the whole bulk voltage.
SHARE = Model.of(
    "share of the bulk voltage across a resistor in series",
    SERIES_SHARE,
    "Kirchhoff; the voltage left at the controller neglected",
    "bulk × own / (own + others)",
)


def solve_start_up(context: Context) -> None:
    """Write voltage and power of every resistor in series between bulk and controller."""
    path = context.structure.own.start_up
    if not path:
        return
    structure = context.structure
    names = [
        leaf.name
        for step in path
        if step.how == "series"
        for leaf in leaves(step.element)
        if structure.must_be(leaf.name, *RESISTORS)
    ]
    plain = all(
        isinstance(step.element, Leaf) or step.element.joined == "series" for step in path if step.how == "series"
    )
    if not names or not plain:
        return  # resistors in parallel on a start-up path are not worked out
    rows = {name: context.need(part(name), "part.resistance") for name in names}
    bulk = bulk_high(context)
    for name in names:
        others = _sum(context, [row for other, row in rows.items() if other != name], part(name))
        for quantity, output in paired(("voltage_peak", "voltage"), ("power", "power")):
            first: Entry | None = None
            for case in context.plan.cases([quantity], [RUNNING]):
                if first is None:
                    wanted: list[Wanted] = [(part(name), quantity, output)]
                    first = context.ledger.work_out(
                        SHARE,
                        {"whole": bulk, "own": rows[name], "others": others},
                        wanted,
                        case=case,
                        note="at the highest mains, where it is greatest",
                    )[0]
                else:
                    repeated(context, first, case)


def _sum(context: Context, rows: list[Entry], subject: Subject) -> Entry | Value:
    if not rows:
        return Value.exact(0.0)
    inputs: dict[str, Entry | Value | float] = {f"r{k}": row for k, row in enumerate(rows)}
    model = Model.of("resistance in series", total("sum", *inputs), "Kirchhoff")
    return context.ledger.work_out(model, inputs, [(subject, "series_resistance", "sum")])[0]
