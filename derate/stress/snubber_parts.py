"""Snubbers as walked: what each lies across, its resistors, capacitors and diodes, and one value of each kind."""

from __future__ import annotations

from typing import NamedTuple

from derate.design.paths import Element, Group, Path, leaves
from derate.ledger.entry import Entry
from derate.stress.clamp_shape import only
from derate.stress.context import Context, in_series_and_parallel, part
from derate.stress.converter import STANDING
from derate.terms.part_kinds import CAPACITORS, RESISTORS
from derate.terms.quantities import QuantityName
from derate.terms.values import Value


class Snubber(NamedTuple):
    """One snubber; series: nothing but resistors and capacitors, the two kinds in series."""

    across: str
    whole: Element
    resistors: tuple[str, ...]
    capacitors: tuple[str, ...]
    diodes: tuple[str, ...]
    series: bool

    @property
    def bare(self) -> bool:
        """Whether it is nothing but capacitors."""
        names = {leaf.name for leaf in leaves(self.whole)}
        return bool(names) and names == set(self.capacitors)


def snubbers_of(context: Context) -> tuple[Snubber, ...]:
    """Every snubber of the structure."""
    return tuple(_snubber(context, across, path) for across, path in context.structure.snubbers.items() if path)


def _snubber(context: Context, across: str, path: Path) -> Snubber:
    must = context.structure.must_be
    members = tuple(step.element for step in path)
    whole: Element = members[0] if len(members) == 1 else Group("series", members)
    names = [leaf.name for leaf in leaves(whole)]
    resistors = tuple(name for name in names if must(name, *RESISTORS))
    capacitors = tuple(name for name in names if must(name, *CAPACITORS))
    diodes = tuple(name for name in names if "diode" in (context.structure.one_kind(name) or ""))
    kinds = [_kind(member, resistors, capacitors) for member in _in_series(whole)]
    return Snubber(across, whole, resistors, capacitors, diodes, {"resistors", "capacitors"} == set(kinds))


def _in_series(element: Element) -> list[Element]:
    """The members of an element that stand in series, all the way down."""
    if isinstance(element, Group) and element.joined == "series":
        return [one for member in element.members for one in _in_series(member)]
    return [element]


def _kind(element: Element, resistors: tuple[str, ...], capacitors: tuple[str, ...]) -> str:
    names = {leaf.name for leaf in leaves(element)}
    return "resistors" if names <= set(resistors) else "capacitors" if names <= set(capacitors) else "other"


def capacitance_of(context: Context, snubber: Snubber) -> Entry:
    """Capacitance of its capacitors, as a standing row of the first."""
    return _of(context, only(snubber.whole, snubber.capacitors), "part.capacitance", "output_capacitance", True)


def resistance_of(context: Context, snubber: Snubber) -> Entry:
    """Resistance of its resistors, as a standing row of the first."""
    return _of(context, only(snubber.whole, snubber.resistors), "part.resistance", "clamp_resistance", False)


def bare_capacitance(context: Context, switch: str | None) -> Entry | None:
    """Capacitance that lies across the switch with no resistor to take its charge; None where there is none."""
    found = [one for one in snubbers_of(context) if one.across == switch and one.bare]
    return capacitance_of(context, found[0]) if found else None


def _of(
    context: Context, element: Element | None, fact: QuantityName, quantity: QuantityName, capacitors: bool
) -> Entry:
    assert element is not None
    names = [leaf.name for leaf in leaves(element)]
    rows = {name: context.need(part(name), fact) for name in names}
    values = {name: row.value for name, row in rows.items() if isinstance(row.value, Value)}
    value = in_series_and_parallel(element, values, capacitors)
    inputs = tuple(row.number for row in rows.values())
    rests = frozenset().union(*(row.rests_on for row in rows.values()))
    if value is None:
        missing = [one for row in rows.values() for one in row.missing]
        return context.ledger.hole(part(names[0]), quantity, missing, case=STANDING, inputs=inputs, rests_on=rests)
    return context.ledger.write(
        part(names[0]), quantity, value, case=STANDING, known_by="computed", inputs=inputs, rests_on=rests,
        formula="parts joined as walked", source="Kirchhoff",
    )  # fmt: skip
