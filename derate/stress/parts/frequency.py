"""A stated switching frequency against the one that a control has which sets no clock: two statements of one stage."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from derate.ledger.entry import SUPPLY, Entry
from derate.stress.context import Context
from derate.terms.bench_terms import BEYOND, WITHIN
from derate.terms.values import Category, Value, written


def hold_frequency(context: Context, found: Sequence[Entry], *, ends: bool = True) -> None:
    """Write whether a stated frequency is held against what is worked out, and what comes of it.

    found: rows of the frequency [Hz] over all that the stage runs at; ends: whether nothing lies above them, as it does
    of a control that runs faster the less it is loaded. None where the control has a clock: then nothing is held.
    """
    stated = context.fact(SUPPLY, "control.frequency")
    held = bool(found) and stated is not None
    context.ledger.write(
        SUPPLY,
        "control.frequency_compared",
        Category.of("yes" if held else "no"),
        known_by="computed",
        inputs=(stated.number,) if stated is not None else (),
        source="definition",
        formula="whether a frequency is stated of a control that sets its own",
    )
    if stated is None or not found:
        return
    numbers = (stated.number, *(row.number for row in found))
    rests = frozenset().union(stated.rests_on, *(row.rests_on for row in found))
    worked = [row.value for row in found if isinstance(row.value, Value)]
    if not isinstance(stated.value, Value) or len(worked) < len(found):
        bad = next((row for row in found if not isinstance(row.value, Value)), stated)
        context.ledger.hole(
            SUPPLY, "control.frequency_agreement", bad.missing, note=bad.note, inputs=numbers, rests_on=rests
        )
        return
    low, high = min(value.low for value in worked), max(value.high for value in worked) if ends else inf
    told = f"{_kilohertz(low)} to {_kilohertz(high)}" if high < inf else f"{_kilohertz(low)} and more"
    said = stated.value
    ranged = f"{_kilohertz(said.low)} to {_kilohertz(said.high)}" if not said.is_exact else _kilohertz(said.near)
    figures = f"{ranged} stated, {told} worked out"
    touch = said.low <= high and low <= said.high
    context.ledger.write(
        SUPPLY,
        "control.frequency_agreement",
        Category((WITHIN,)) if touch else Category((BEYOND,), figures),
        known_by="computed",
        inputs=numbers,
        note=figures,
        formula="frequency stated against the one that volts and seconds of the inductance give",
        source="definition",
        rests_on=rests,
    )


def _kilohertz(hertz: float) -> str:
    return f"{written(hertz / 1e3)} kHz"
