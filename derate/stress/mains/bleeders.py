"""Discharge resistors across the mains: the voltage and the power of each, with all whole and with one of them shorted.

A resistor that bears more than its limiting voltage arcs over or opens, and the plug stays charged without a sign.
That voltage is the dc or the rms alternating one that may lie across it for ever (a resistor maker's glossary,
shunt-t.com/glossary/992), so the rms share of the highest mains is what is compared.
"""

from __future__ import annotations

from collections.abc import Iterator

from derate.circuit.resistors import MAINS_SHARE, others_left
from derate.design.paths import Element, Leaf
from derate.design.structure import MainsInput
from derate.ledger.entry import Case, Entry
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.context import Context, part, repeated
from derate.stress.parts.ratings import allowed_power
from derate.terms.cases import RUNNING
from derate.terms.quantities import QuantityName, paired
from derate.terms.values import Value
from derate.terms.words import RESISTORS

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
