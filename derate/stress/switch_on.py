"""Charging the bulk at the worst closing angle: peak, I²t, energy and width per series part, diode and bulk capacitor.

Full bridge, half-wave or doubler with one bulk capacitor (or pair); two with a choke between are in switch_on_choke.py.
What flows is worst with the least inductance ahead of the bridge, what overshoots with the most.
"""

from __future__ import annotations

from functools import lru_cache, partial
from math import pi
from typing import Any

from derate.circuit import inrush
from derate.circuit.doubler import doubler_switch_on
from derate.design.paths import leaves
from derate.design.structure import MainsInput
from derate.ledger.entry import Entry
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.closing import RATED_FOR_PULSES, Closing, carried_by, closing, no_case
from derate.stress.context import BULK, Context, part
from derate.stress.resistance import bulk_capacitance, charged_capacitance
from derate.stress.switch_on_choke import solve_two
from derate.terms.cases import SWITCH_ON
from derate.terms.values import Value

_SOURCE = "own derivation, closed form of each conduction interval; held to ngspice 39"
_MOST_ANGLE = "greatest over the closing angle"
# Inductance ahead spreads the pulse; over 900 random inputs to 10 mH it raised the I²t by 0.7 % at most.
_SPREAD_ALLOWANCE = 0.01
Inputs = dict[str, Entry | Value | float]


@lru_cache(maxsize=4096)
def _worst(kind: str, mains: float, frequency: float, series: float, inductance: float, capacitance: float,
           start: float) -> Any:  # fmt: skip
    if kind == "doubler":
        runs = [
            doubler_switch_on(mains, frequency, series, capacitance, angle=k * pi / 12.0, start=start,
                              inductance=inductance)
            for k in range(3, 8)
        ]  # fmt: skip
        i2t = max(runs, key=lambda run: run.i2t)
        return inrush.WorstInrush(
            max(run.peak for run in runs), 0.0, i2t.i2t, 0.0, i2t.energy, i2t.equivalent_width,
            max(run.bulk_peak for run in runs), 0.0,
        )  # fmt: skip
    return inrush.worst_switch_on(
        mains, frequency, series, capacitance, start=min(start, 2**0.5 * mains), inductance=inductance,
        half_wave=kind == "half-wave",
    )  # fmt: skip


def _flow(kind: str, *, part_resistance: float, other_resistance: float, **k: float) -> dict[str, float]:
    found = _worst(kind, series=part_resistance + other_resistance, **k)
    return {
        "current_peak": found.peak,
        "i2t": found.i2t,
        "pulse_width": found.equivalent_width,
        "energy": part_resistance * found.i2t,
        "pulse_power": part_resistance * found.peak**2,
    }


def _overshoot(kind: str, *, inductance: float, **k: float) -> dict[str, float]:
    """Greatest bulk voltage with any inductance up to the one given: it is not always the most that is worst."""
    tried = {0.0, inductance / 8.0, inductance}
    return {"voltage_surge": max(_worst(kind, inductance=one, **k).bulk_peak for one in tried)}


def _signs(part_resistance: int, **more: int) -> dict[str, int]:
    signs = {
        "mains": 1, "frequency": -1, "part_resistance": part_resistance, "other_resistance": -1, "capacitance": 1,
        "start": -1, "inductance": -1,
    }  # fmt: skip
    return {name: sign for name, sign in (signs | more).items() if sign != 9}


_FLOW_SIGNS = {
    "current_peak": _signs(-1),
    "i2t": _signs(-1),
    # that of the sharpest pulse: the least inductance and the emptiest bulk, whichever end is asked (9: not named)
    "pulse_width": _signs(1, mains=0, frequency=0, other_resistance=1, start=9, inductance=9),
    # alone in the path a part takes almost the same energy whatever its resistance: no single sign
    "energy": _signs(0),
    "pulse_power": _signs(0),
}
_ERROR = {
    "current_peak": inrush.ERROR["peak"],
    "i2t": (inrush.ERROR["i2t"][0], inrush.ERROR["i2t"][1] + _SPREAD_ALLOWANCE),
    "energy": (inrush.ERROR["energy"][0], inrush.ERROR["energy"][1] + _SPREAD_ALLOWANCE),
    "pulse_power": (-0.02, 0.01),  # twice the band of the peak
    "pulse_width": inrush.ERROR["equivalent_width"],
}


def flow_model(kind: str) -> Model:
    """What the closing drives through the parts in series."""
    return Model(f"charging the bulk of a {kind} input", partial(_flow, kind), _FLOW_SIGNS, _SOURCE, _MOST_ANGLE,
                 _ERROR)  # fmt: skip


def overshoot_model(kind: str) -> Model:
    """What the bulk reaches."""
    signs = {"mains": 1, "frequency": -1, "series": -1, "capacitance": -1, "start": -1, "inductance": 1}
    return Model(
        f"overshoot of the bulk of a {kind} input", partial(_overshoot, kind), {"voltage_surge": signs}, _SOURCE,
        "greatest over the closing angle and the inductance ahead up to the one given",
        # the vertex over the inductance lies between the three tried: within 1.5 % (tests/stress/test_events_input.py)
        {"voltage_surge": (inrush.ERROR["bulk_peak"][0], inrush.ERROR["bulk_peak"][1] + 0.015)},
    )  # fmt: skip


def solve_switch_on(context: Context, mains: MainsInput) -> None:
    """Write the rows of a cold switch-on: each series part by its own resistance, then diodes and bulk capacitors."""
    for case in context.plan.cases(["i2t"], [SWITCH_ON]):
        if case.mains is None:
            no_case(context, mains, case)
        else:
            solve_closing(context, mains, closing(context, mains, case, Value.exact(0.0), hot=False))


def solve_closing(context: Context, mains: MainsInput, at: Closing) -> None:
    """Write the rows of one closing."""
    capacitances = [bulk_capacitance(context, element, k) for k, element in enumerate(mains.bulk)]
    if len(capacitances) == 2 and mains.input != "doubler":
        solve_two(context, mains, at, capacitances)
        return
    ledger, case = context.ledger, at.case
    model = flow_model(mains.input)
    fixed: Inputs = {
        "mains": case.mains or 0.0, "frequency": case.frequency or 50.0, "start": at.start,
        "capacitance": charged_capacitance(context, mains, capacitances), "inductance": at.inductance,
    }  # fmt: skip
    through: list[Wanted] = [
        (subject, quantity, quantity)
        for subject in carried_by(mains, at.rows)
        for quantity in ("current_peak", "i2t", "pulse_width")
    ]
    ledger.work_out(
        model, {**fixed, "part_resistance": 0.0, "other_resistance": at.whole}, through, case=case, note=_MOST_ANGLE
    )
    for name, resistance in at.rows:
        if context.structure.may_be(name, *RATED_FOR_PULSES):
            ledger.work_out(
                model, {**fixed, "part_resistance": resistance, "other_resistance": at.others[name]},
                [(part(name), q, q) for q in ("energy", "pulse_power")], case=case, note=_MOST_ANGLE,
            )  # fmt: skip
    over: list[Wanted] = [
        (part(leaf.name), "voltage_surge", "voltage_surge") for e in mains.bulk for leaf in leaves(e)
    ]
    both: list[Wanted] = [(BULK, "voltage_surge", "voltage_surge")]
    if mains.input == "doubler":  # each capacitor by its own half wave, the bulk as the sum of the two
        ledger.work_out(overshoot_model("half-wave"), {**fixed, "series": at.whole}, over, case=case)
        ledger.work_out(overshoot_model("doubler"), {**fixed, "series": at.whole}, both, case=case)
    else:
        ledger.work_out(overshoot_model(mains.input), {**fixed, "series": at.whole}, [*over, *both], case=case)
