"""Resistance of a winding from its turns, its wire and the core it lies on."""

from __future__ import annotations

from math import pi

from derate.ledger.entry import SUPPLY, Case, Entry, Subject
from derate.ledger.model import Model
from derate.stress.context import Context
from derate.terms.quantities import QuantityName
from derate.terms.values import Value

WINDING = Model(
    "resistance of a winding from its wire",
    lambda turns, bare, strands, area, shape: {
        "resistance": _ohms(turns, bare, strands, area, shape),
    },
    {"resistance": {"turns": 1, "bare": -1, "strands": -1, "area": 1, "shape": 1}},
    "copper, 1.72e-8 ohm m at 20 degC and 31 % more at 100; a turn is 4 to 9 times the side of the leg",
    "ρ × turns × length of a turn / area of the wire",
)


def _ohms(turns: float, bare: float, strands: float, area: float, shape: float) -> float:
    """shape: 0 the shortest turn and cold copper, 1 the longest and hot."""
    turn = (4.0 + 5.0 * shape) * area**0.5
    rho = 1.724e-8 * (1.0 + 0.31 * shape)
    ohms: float = rho * turns * turn / (pi / 4.0 * bare**2 * strands)
    return ohms


def winding_resistance(context: Context) -> Entry:
    """Resistance of the primary winding [ohm], from its wire and core; what is not stated makes a hole."""
    primary = context.structure.primary
    name = primary.winding if primary is not None else None
    if name is None:
        return context.ledger.hole(SUPPLY, "series_resistance", ("supply: circuit.primary",), case=Case("winding"))
    winding = Subject("winding", (name,))
    known = context.ledger.find(winding, "series_resistance", Case("winding"))
    if known is not None:
        return known
    transformer = Subject("transformer", (name.split(".")[0],))
    strands = context.fact(winding, "winding.strands")
    needed: tuple[tuple[Subject, QuantityName], ...] = (
        (winding, "winding.turns"), (winding, "winding.bare"), (transformer, "core.area"),
    )
    if any(context.value(*one) is None for one in needed):
        found = context.assumptions.get("primary_winding_resistance")
        if found is not None:
            return context.ledger.write(
                winding, "series_resistance", found.bounded, case=Case("winding"), known_by="assumed",
                source=found.source, note=found.says,
                rests_on=frozenset(f"{subject}: {name}" for subject, name in needed),
            )  # fmt: skip
    return context.ledger.work_out(
        WINDING,
        {"turns": context.need(winding, "winding.turns"), "bare": context.need(winding, "winding.bare"),
         "strands": strands or Value.exact(1.0), "area": context.need(transformer, "core.area"),
         "shape": Value.between(0.0, 1.0)},
        [(winding, "series_resistance", "resistance")], case=Case("winding"),
    )[0]  # fmt: skip
