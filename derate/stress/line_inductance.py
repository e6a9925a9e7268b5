"""Inductance ahead of the bridge: the mains, a choke in the line, the leakage of a common-mode choke.

It lets the bulk capacitor overshoot the crest (the bridge keeps what was stored in it) and takes the edge off the peak:
its greatest is worst for the one, its least for the other.
"""

from __future__ import annotations

from derate.design.structure import MainsInput
from derate.ledger.entry import SUPPLY, Entry
from derate.ledger.model import Model
from derate.stress.context import LINE, Context, part
from derate.terms.values import Value

RESIDUAL = 0.1  # share of its inductance a saturated choke keeps: common practice, no source


def inductance_ahead(context: Context, mains: MainsInput) -> Entry:
    """All inductance ahead of the bridge [H], as one row of the mains path; a hole names what nobody stated."""
    known = context.fact(LINE, "line_inductance")
    if known is not None:
        return known
    stated = context.fact(SUPPLY, "site.mains_inductance")
    inputs: dict[str, Entry | Value | float] = {
        "mains": stated or context.assume("mains_inductance", SUPPLY, "site.mains_inductance")
    }
    for name in (*mains.series, *mains.behind):
        own = _of_part(context, name)
        if own is not None:
            inputs[f"l{len(inputs)}"] = own
    model = Model(
        "inductance ahead of the bridge", lambda **k: {"sum": sum(k.values())}, {"sum": dict.fromkeys(inputs, 1)},
        "Kirchhoff", "sum of the inductances",
    )  # fmt: skip
    return context.ledger.work_out(model, inputs, [(LINE, "line_inductance", "sum")])[0]


def _of_part(context: Context, name: str) -> Entry | None:
    """What one series part adds; None for a part that has none to speak of."""
    subject, structure = part(name), context.structure
    if structure.may_be(name, "common-mode choke"):
        # the windings oppose each other: only what does not link both acts, and it lies in air and does not saturate
        return context.fact(subject, "part.leakage") or context.assume("line_choke_leakage", subject, "part.leakage")
    if structure.may_be(name, "choke"):
        stated = context.fact(subject, "part.inductance")
        if stated is None:
            return context.assume("line_choke_leakage", subject, "part.inductance")
        if not isinstance(stated.value, Value):
            return stated
        low, near, far, high = stated.value.numbers()
        return context.ledger.write(
            subject, "line_inductance", Value(RESIDUAL * low, RESIDUAL * near, far, high), known_by="computed",
            formula="saturated to linear", source="a saturated choke keeps a tenth: common practice, no source",
            inputs=(stated.number,), rests_on=stated.rests_on,
        )  # fmt: skip
    return None
