"""Voltage of every output and of the auxiliary rail, loaded and lightly loaded, with the bands that were measured.

A winding that is lightly loaded beside loaded ones is charged to the crest of the leakage ringing; how far is a band
(AN-4137 measured 6 to 11 % at full load, ngspice 1.14 to 2.15 times alone lightly loaded).
"""

from __future__ import annotations

from collections.abc import Iterable

from derate.circuit.secondary import RAIL_BAND, flyback_winding_rail
from derate.design.paths import leaves
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.model import Model
from derate.stress.context import Context, part
from derate.stress.converter import STANDING, OutputShape, Shape
from derate.stress.operating import Inputs, again
from derate.terms.cases import RUNNING
from derate.terms.values import Value

BARE = Case(RUNNING)
LIGHT_LEAKAGE = 0.03  # leakage over inductance up to which the band of a light winding was looked at


def _rail(turns: float, reference_turns: float, output: float, drop: float, own_drop: float) -> dict[str, float]:
    rail = flyback_winding_rail(turns, reference_turns, output, drop, own_drop, "loaded")
    return {"rail": rail.nominal}


_SIGNS = {"turns": 1, "reference_turns": -1, "output": 1, "drop": 1, "own_drop": -1}


def rail_model(load: str) -> Model:
    """Rail of a winding that conducts with the reference output; load: 'loaded' | 'light' | 'open' (no upper end)."""
    band = RAIL_BAND["loaded"] if load == "loaded" else RAIL_BAND["light"]
    if load == "open":
        band = (band[0], float("inf"))
    return Model(
        f"rail by turns, {'loaded' if load == 'loaded' else 'lightly loaded'}", _rail, {"rail": _SIGNS},
        "AN-4137 p18 and p19, measured; ngspice 39 for light windings", "turns / turns × (output + drop) − own drop",
        {"rail": band},
    )  # fmt: skip


def light_word(shape: Shape) -> str:
    """Which band a light winding has: the one looked at up to 3 % leakage, none above."""
    leakage, inductance = shape.leakage.value, shape.inductance.value
    if isinstance(leakage, Value) and isinstance(inductance, Value) and inductance.near > 0:
        return "light" if leakage.far / inductance.near <= LIGHT_LEAKAGE else "open"
    return "open"


def solve_outputs(context: Context, shape: Shape) -> None:
    """The greatest voltage of every output while it runs, and what its capacitors stand."""
    for one in shape.outputs:
        row = _voltage(context, shape, one)
        for element in (*one.walked.capacitors, *one.walked.filtered):
            for leaf in leaves(element):
                again(context, row, BARE, part(leaf.name))


def _voltage(context: Context, shape: Shape, one: OutputShape) -> Entry:
    reference = shape.reference
    senses = context.structure.control.senses
    sensed = one.name in senses or (len(shape.outputs) == 1 and not any("." in name for name in senses) and senses)
    if sensed:
        return _as_voltage(context, one, 0.0)
    if reference is one or reference is None:
        # held through another winding, or nobody said by what: the output itself moves with load and leakage
        return _as_voltage(context, one, 0.10)
    inputs: Inputs = {
        "turns": turns_of(context, one.subject, one.walked.windings),
        "reference_turns": turns_of(context, reference.subject, reference.walked.windings),
        "output": reference.voltage, "drop": reference.drop, "own_drop": one.drop,
    }  # fmt: skip
    return context.ledger.work_out(
        rail_model(light_word(shape)), inputs, [(one.subject, "voltage", "rail")], case=BARE,
        note=f"alone lightly loaded, {reference.name} loaded",
    )[0]  # fmt: skip


def _as_voltage(context: Context, one: OutputShape, allowance: float) -> Entry:
    """The output's own stated voltage with an allowance for what does not hold it."""
    model = Model(
        "output voltage as stated", lambda voltage: {"voltage": voltage}, {"voltage": {"voltage": 1}},
        "own allowance where the output is held through another winding" if allowance else "regulated output",
        "as stated", {"voltage": (-allowance, allowance)},
    )  # fmt: skip
    return context.ledger.work_out(model, {"voltage": one.voltage}, [(one.subject, "voltage", "voltage")], case=BARE)[0]


def turns_of(context: Context, subject: Subject, windings: Iterable[str]) -> Entry:
    """Turns of windings in series, as a row of what they feed."""
    rows = [context.need(Subject("winding", (name,)), "winding.turns") for name in windings]
    if not rows:
        return context.ledger.hole(subject, "turns", (f"{subject}: its winding on the path",), case=STANDING)
    inputs: Inputs = {f"turns_{k}": row for k, row in enumerate(rows)}
    model = Model(
        "turns in series", lambda **k: {"turns": sum(k.values())}, {"turns": dict.fromkeys(inputs, 1)}, "definition"
    )
    return context.ledger.work_out(model, inputs, [(subject, "turns", "turns")], case=STANDING)[0]
