"""Positions of filter parts that stand empty on the board, or with a wire in place of the part."""

from __future__ import annotations

from derate.ledger.entry import SUPPLY
from derate.stress.context import Context, part
from derate.terms.values import Category


def empty_positions(context: Context) -> None:
    """Write which filter positions are empty; none once every part is listed; a hole while something is not known."""
    ledger, structure = context.ledger, context.structure
    found, open_ones, inputs = [], [], []
    for name, fitted in structure.fitted.items():
        if fitted:
            continue
        fact, position = context.fact(part(name), "part.fitted"), context.fact(part(name), "part.position")
        words = position.value.members if position is not None and isinstance(position.value, Category) else ()
        inputs += [entry.number for entry in (fact, position) if entry is not None]
        if words == ("filter",):
            found.append(f"{name} {fact.note if fact is not None and fact.note else 'empty'}")
        elif not words or "filter" in words:
            open_ones.append(f"{part(name)}: part.position")
    listed = context.word(SUPPLY, "supply.parts_list") == "complete"
    if not found and (open_ones or not listed):
        missing = open_ones or ["supply: supply.parts_list"]
        ledger.hole(SUPPLY, "empty_filter_positions", missing, inputs=tuple(inputs))
        return
    ledger.write(
        SUPPLY, "empty_filter_positions", Category.of(" + ".join(found) or "none"), known_by="computed",
        inputs=tuple(inputs), formula="positions not fitted, by what they were meant for", source="the parts as listed",
    )  # fmt: skip
