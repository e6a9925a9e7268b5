"""Cold switch-on at the worst closing angle: peak, I²t, energy and width per series part, diode and bulk capacitor."""

from __future__ import annotations

from typing import Any

from derate.circuit import inrush
from derate.design.paths import leaves
from derate.design.structure import MainsInput
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.model import Model
from derate.stress.context import BULK, LINE, Context, part
from derate.stress.resistance import bulk_capacitance, mains_resistance, series_rows, total
from derate.stress.switch_on_choke import solve_two
from derate.terms.values import Value

_SOURCE = "own derivation, closed form of each conduction interval; held to ngspice 39"
_MOST_ANGLE = "greatest over the closing angle"
Inputs = dict[str, Entry | Value | float]


def _figures(found: Any, part_resistance: float) -> dict[str, float]:
    return {
        "current_peak": found.peak,
        "i2t": found.i2t,
        "pulse_width": found.equivalent_width,
        "voltage_surge": found.bulk_peak,
        "energy": part_resistance * found.i2t,
        "pulse_power": part_resistance * found.peak**2,
    }


def _one(*, mains: float, frequency: float, part_resistance: float, other_resistance: float, capacitance: float) -> Any:
    series = part_resistance + other_resistance
    return _figures(inrush.worst_switch_on(mains, frequency, series, capacitance), part_resistance)


def _one_half_wave(
    *, mains: float, frequency: float, part_resistance: float, other_resistance: float, capacitance: float
) -> Any:
    series = part_resistance + other_resistance
    found = inrush.worst_switch_on(mains, frequency, series, capacitance, half_wave=True)
    return _figures(found, part_resistance)


_SIGNS = {
    "current_peak": {"mains": 1, "frequency": -1, "part_resistance": -1, "other_resistance": -1, "capacitance": 1},
    "i2t": {"mains": 1, "frequency": -1, "part_resistance": -1, "other_resistance": -1, "capacitance": 1},
    "pulse_width": {"mains": 0, "frequency": 0, "part_resistance": 1, "other_resistance": 1, "capacitance": 1},
    "voltage_surge": {"mains": 1, "frequency": -1, "part_resistance": -1, "other_resistance": -1, "capacitance": -1},
    # alone in the path a part takes almost the same energy whatever its resistance: no single sign
    "energy": {"mains": 1, "frequency": -1, "part_resistance": 0, "other_resistance": -1, "capacitance": 1},
    "pulse_power": {"mains": 1, "frequency": -1, "part_resistance": 0, "other_resistance": -1, "capacitance": 1},
}
_ERROR = {
    "current_peak": inrush.ERROR["peak"],
    "i2t": inrush.ERROR["i2t"],
    "energy": inrush.ERROR["energy"],
    "pulse_power": (-0.02, 0.01),  # twice the band of the peak
    "pulse_width": inrush.ERROR["equivalent_width"],
    "voltage_surge": inrush.ERROR["bulk_peak"],
}
ONE = Model("switch-on into one bulk capacitor", _one, _SIGNS, _SOURCE, _MOST_ANGLE, _ERROR)
ONE_HALF_WAVE = Model(
    "switch-on of a half-wave input into one bulk capacitor", _one_half_wave, _SIGNS, _SOURCE, _MOST_ANGLE, _ERROR
)


def solve_switch_on(context: Context, mains: MainsInput) -> None:
    """Write the switch-on rows: each series part by its own resistance, then diodes and bulk capacitors."""
    for case in context.plan.cases(["i2t"], ["switch-on"]):
        _solve(context, mains, case)


def _solve(context: Context, mains: MainsInput, case: Case) -> None:
    if case.mains is None:
        names = (*mains.series, *mains.behind, *mains.rectifier)
        subjects = [
            LINE,
            BULK,
            *(part(name) for name in names),
            *(part(leaf.name) for e in mains.bulk for leaf in leaves(e)),
        ]
        for subject in subjects:
            for quantity in _SIGNS:
                context.ledger.hole(subject, quantity, context.plan.lacking(case.group), case=case)
        return
    rows = series_rows(context, mains, case)
    source = mains_resistance(context)
    whole = total(context, [*rows, ("mains", source)], case)
    fixed: Inputs = {"mains": case.mains, "frequency": case.frequency or 50.0}
    capacitances = [bulk_capacitance(context, element, k) for k, element in enumerate(mains.bulk)]
    ledger = context.ledger
    everything = [*rows, ("mains", source)]
    others = {name: total(context, [(n, r) for n, r in everything if n != name], case) for name, _ in rows}
    if len(capacitances) == 2:
        solve_two(context, mains, case, rows, whole, capacitances, others)
        return
    model = ONE_HALF_WAVE if mains.input == "half-wave" else ONE
    fixed["capacitance"] = capacitances[0]
    for name, resistance in rows:
        outputs = [(part(name), q, q) for q in ("current_peak", "i2t", "pulse_width", "energy", "pulse_power")]
        ledger.work_out(
            model, {**fixed, "part_resistance": resistance, "other_resistance": others[name]}, outputs, case=case,
            note=_MOST_ANGLE,
        )  # fmt: skip
    through: list[tuple[Subject, str, str]] = [
        (subject, q, q)
        for subject in (LINE, *(part(name) for name in mains.rectifier))
        for q in ("current_peak", "i2t", "pulse_width")
    ]
    through += [(part(leaf.name), "voltage_surge", "voltage_surge") for e in mains.bulk for leaf in leaves(e)]
    through.append((BULK, "voltage_surge", "voltage_surge"))
    ledger.work_out(
        model, {**fixed, "part_resistance": 0.0, "other_resistance": whole}, through, case=case, note=_MOST_ANGLE
    )
