"""Resistors across the mains and from the bulk: discharge and start-up, the voltage and power of each."""

from __future__ import annotations

from collections.abc import Iterator

from derate.circuit.elementary import total
from derate.circuit.resistors import MAINS_SHARE, SERIES_SHARE, others_left
from derate.design.structure import Element, Leaf, MainsInput, leaves
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Model, Wanted
from derate.stress.context import Context, part, repeated
from derate.stress.mains.bulk_states import bulk_high
from derate.stress.parts.ratings import allowed_power
from derate.terms.quantities import RUNNING, paired
from derate.terms.quantity_names import QuantityName
from derate.terms.values import Value
from derate.terms.words import RESISTORS

# Discharge resistors across the mains: the voltage and the power of each, with all whole and with one of them
# shorted.
#
# A resistor that bears more than its limiting voltage arcs over or opens, and the plug stays charged without a sign.
# That voltage is the dc or the rms alternating one that may lie across it for ever (common
# practice, no source), so the rms share of the highest mains is what is compared.


_SOURCE = "Kirchhoff; V²/R. Rms share of the highest mains, which a capacitor beside it does not change"
SHARE = Model.of("share of the mains across a discharge resistor", MAINS_SHARE, _SOURCE, "mains × own / (own + others)")
_WHOLE = paired(("voltage_rms", "voltage"), ("power", "power"))
_SHORTED = paired(("voltage_one_shorted", "voltage"), ("power_one_shorted", "power"))


def solve_bleeders(context: Context, mains: MainsInput) -> None:
    """Write voltage and power of every resistor across the mains."""
    for shunt in mains.shunts:
        if shunt.to_earth or not all(context.structure.must_be(name, *RESISTORS) for name in shunt.names):
            continue
        for chain in _chains(shunt.element):
            if chain is None:
                _not_worked_out(context, shunt.names)
                break
            _chain(context, chain)


def _chains(element: Element) -> Iterator[tuple[str, ...] | None]:
    """The resistors in series of every branch; None for a form that is not worked out."""
    branches = element.members if not isinstance(element, Leaf) and element.joined == "parallel" else (element,)
    for branch in branches:
        members = (branch,) if isinstance(branch, Leaf) else branch.members
        plain = tuple(one.name for one in members if isinstance(one, Leaf))
        whole = isinstance(branch, Leaf) or branch.joined == "series"
        yield plain if whole and len(plain) == len(members) else None


def _not_worked_out(context: Context, names: tuple[str, ...]) -> None:
    note = "resistors in parallel inside a series across the mains are not worked out"
    for name in names:
        for quantity, _ in (*_WHOLE, *_SHORTED):
            for case in _cases(context, quantity):
                context.ledger.hole(part(name), quantity, (), note=note, case=case)
        context.ledger.hole(part(name), "bleeder.series", (), note=note)


def _cases(context: Context, quantity: QuantityName) -> tuple[Case, ...]:
    return context.plan.cases([quantity], [RUNNING])


def _chain(context: Context, names: tuple[str, ...]) -> None:
    rows = {name: context.need(part(name), "part.resistance") for name in names}
    for name in names:
        subject = part(name)
        context.ledger.write(
            subject,
            "bleeder.series",
            Value.exact(float(len(names))),
            known_by="computed",
            formula=f"resistors in series across the mains: {' + '.join(names)}",
        )
        allowed_power(context, name)
        others = [rows[other] for other in names if other != name]
        if not others:  # its own short is a short of the mains, which the protective part clears
            _share(context, name, rows[name], Value.exact(0.0), _WHOLE)
            continue
        inputs: dict[str, Entry | Value | float] = {f"r{k}": row for k, row in enumerate(others)}
        rest = Model.of("resistance of the others in series", others_left(*inputs), "Kirchhoff")
        wanted: list[Wanted] = [(subject, "bleeder.others", "sum"), (subject, "bleeder.others_one_shorted", "least")]
        whole, shorted = context.ledger.work_out(rest, inputs, wanted)
        _share(context, name, rows[name], whole, _WHOLE)
        _share(context, name, rows[name], shorted, _SHORTED)


def _share(
    context: Context, name: str, own: Entry, others: Entry | Value, wanted: tuple[tuple[QuantityName, str], ...]
) -> None:
    note = "at the highest mains, where it is greatest"
    for quantity, output in wanted:
        first: Entry | None = None
        for case in _cases(context, quantity):
            if context.plan.mains is None:
                context.ledger.hole(part(name), quantity, context.plan.lacking(RUNNING), case=case)
            elif first is not None:
                repeated(context, first, case)
            else:
                highest = context.plan.mains[1]
                inputs: dict[str, Entry | Value | float] = {"whole": highest, "own": own, "others": others}
                (first,) = context.ledger.work_out(
                    SHARE, inputs, [(part(name), quantity, output)], case=case, note=note
                )


# Start-up resistors from the bulk: the voltage and the power of each, at the highest mains and for ever.


# What is left across the controller is small and neglected: each resistor sees its share of the whole bulk voltage.
START_UP_SHARE = Model.of(
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
                        START_UP_SHARE,
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
