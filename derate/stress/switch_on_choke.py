"""Charging two bulk capacitors with a choke between, by the closing angles and corners that hold the worst.

Over 30 random filters with every corner of R, C1, L, RL, C2 and saturation run at several angles, the greatest peak,
I²t and bulk voltages lay at 81 to 90 degrees, at the corners below; 86 degrees alone holds each of them to within 1 %
(tests/stress/test_corners.py).
A saturating choke is worst for what flows, a linear one for what overshoots: the truth lies between the two.
"""

from __future__ import annotations

from functools import lru_cache
from math import inf, pi
from typing import Any

from derate.circuit.choke_filter import ERROR, filter_switch_on
from derate.circuit.choke_filter_line import line_filter_switch_on
from derate.design.paths import leaves
from derate.design.structure import MainsInput
from derate.ledger.entry import Entry
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.closing import Closing, carried_by
from derate.stress.context import BULK, LINE, Context, part
from derate.stress.line_inductance import RESIDUAL
from derate.terms.values import Value

_ANGLES = (86.0 * pi / 180.0,)
_CORNER_ALLOWANCE = 0.01
# Over 60 random filters the inductance ahead, to 5 mH, raised the I²t by 0.5 % at most and never the peak.
_SPREAD_ALLOWANCE = 0.01
_NOTE = "greatest over the closing angle"


@lru_cache(maxsize=4096)
def _run(angle: float, line_inductance: float, saturation: float, refills: bool = True, **k: float) -> Any:
    if line_inductance < 1e-6:  # below a microhenry nothing changes but the first microseconds
        return filter_switch_on(**k, angle=angle, saturation=saturation, residual=RESIDUAL)
    return line_filter_switch_on(
        **k, line_inductance=line_inductance, angle=angle, saturation=saturation, residual=RESIDUAL, refills=refills
    )


def _flow(*, saturation: float, line_inductance: float, **k: float) -> dict[str, float]:
    runs = [_run(angle, line_inductance, saturation, **k) for angle in _ANGLES]
    i2t = max(runs, key=lambda run: run.i2t)
    return {
        "current_peak": max(run.peak for run in runs),
        "i2t": i2t.i2t,
        "pulse_width": i2t.equivalent_width,
        "energy": i2t.energy,
    }


def _overshoot(*, saturation: float, line_inductance: float, **k: float) -> dict[str, float]:
    """Greatest bulk voltages with any inductance ahead up to the one given: it is not always the most that is worst."""
    # saturation is a yes or no here: 0 a linear choke (the upper bound), else the current at which it saturates
    at = inf if saturation == 0.0 else saturation
    if line_inductance > 0.0:
        runs = [_run(pi / 2.0, one, at, False, **k) for one in (0.0, line_inductance / 8.0, line_inductance)]
    else:
        runs = [_run(angle, 0.0, at, **k) for angle in _ANGLES]
    return {"bulk1": max(run.bulk1_peak for run in runs), "bulk2": max(run.bulk2_peak for run in runs)}


def _signs(resistance: int, first: int, inductance: int, choke: int, second: int, saturation: int) -> dict[str, int]:
    return {
        "mains": 1, "frequency": -1, "series_resistance": resistance, "bulk1": first, "inductance": inductance,
        "choke_resistance": choke, "bulk2": second, "saturation": saturation, "start": -1, "line_inductance": -1,
    }  # fmt: skip


_MOST_FLOWS = _signs(-1, 1, -1, -1, 1, -1)
_WIDEST = {name: sign for name, sign in _MOST_FLOWS.items() if name not in ("start", "line_inductance")}
_SOURCE = "own derivation, exact steps in each mode; held to ngspice 39"
_BANDS = {name: (low, high + _CORNER_ALLOWANCE) for name, (low, high) in ERROR.items()}
FLOW = Model(
    "charging two bulk capacitors with a choke between",
    _flow,
    {
        "current_peak": _MOST_FLOWS,
        "i2t": _MOST_FLOWS,
        "pulse_width": {**_WIDEST, "series_resistance": 1},
        "energy": (_MOST_FLOWS, {**_MOST_FLOWS, "series_resistance": 1}),
    },
    _SOURCE,
    _NOTE,
    {
        "current_peak": _BANDS["peak"],
        "i2t": (_BANDS["i2t"][0], _BANDS["i2t"][1] + _SPREAD_ALLOWANCE),
        "energy": (_BANDS["energy"][0], _BANDS["energy"][1] + _SPREAD_ALLOWANCE),
        "pulse_width": _BANDS["equivalent_width"],
    },
)
_MOST_RINGS = {**_signs(-1, -1, 1, -1, -1, -1), "line_inductance": 1}
OVERSHOOT = Model(
    "overshoot of two bulk capacitors with a choke between",
    _overshoot,
    {
        "bulk1": (_MOST_RINGS, {**_MOST_RINGS, "bulk2": 1}),
        # with inductance ahead the second capacitor may be worst behind a great first one
        "bulk2": (_MOST_RINGS, {**_MOST_RINGS, "bulk1": 1}),
    },
    _SOURCE,
    "greatest over the closing angle and the inductance ahead up to the one given",
    # the vertex over the inductance lies between those tried: within 2 % (tests/stress/test_events_input.py)
    {name: (_BANDS[like][0], _BANDS[like][1] + 0.02) for name, like in
     (("bulk1", "bulk1_peak"), ("bulk2", "bulk2_peak"))},
    kind=_MOST_RINGS,
)  # fmt: skip
SHARE = Model(
    "share of the charging energy",
    lambda energy, part_resistance, other_resistance: {
        "energy": energy * part_resistance / (part_resistance + other_resistance)
    },
    {"energy": {"energy": 1, "part_resistance": 1, "other_resistance": -1}},
    "the same current flows through all series resistance",
    "energy in all series resistance × R / (R + others)",
)
PULSE_POWER = Model(
    "greatest power of a pulse",
    lambda peak, part_resistance: {"power": peak**2 * part_resistance},
    {"power": {"peak": 1, "part_resistance": 1}},
    "Joule",
    "peak² × resistance",
)


def solve_two(context: Context, mains: MainsInput, at: Closing, capacitances: list[Entry]) -> None:
    """Write the rows of a closing onto a two-capacitor input."""
    ledger, case = context.ledger, at.case
    choke = part(mains.choke[0]) if mains.choke else BULK
    resistance = context.fact(choke, "part.resistance") or context.assume(
        "small_series_resistance", choke, "part.resistance"
    )
    inputs: dict[str, Entry | Value | float] = {
        "mains": case.mains or 0.0, "frequency": case.frequency or 50.0, "series_resistance": at.whole,
        "bulk1": capacitances[0], "inductance": context.need(choke, "part.inductance"),
        "choke_resistance": resistance, "bulk2": capacitances[1], "start": at.start,
        "line_inductance": at.inductance,
    }  # fmt: skip
    saturates = context.need(choke, "rated.saturation_current")
    through: list[Wanted] = [
        (subject, quantity, quantity)
        for subject in carried_by(mains, at.rows)
        for quantity in ("current_peak", "i2t", "pulse_width")
    ]
    through.append((LINE, "energy", "energy"))
    written = ledger.work_out(FLOW, {**inputs, "saturation": saturates}, through, case=case, note=_NOTE)
    energy, peak = written[-1], written[0]
    for name, own in at.rows:
        ledger.work_out(
            SHARE,
            {"energy": energy, "part_resistance": own, "other_resistance": at.others[name]},
            [(part(name), "energy", "energy")],
            case=case,
        )
        ledger.work_out(
            PULSE_POWER, {"peak": peak, "part_resistance": own}, [(part(name), "pulse_power", "power")], case=case
        )
    # near: the choke saturates where its maker says; far and high: it never does, the upper bound of the overshoot
    stated = saturates.value
    bound: Entry | Value = saturates
    if isinstance(stated, Value):
        bound = Value(0.0, 0.0, stated.far, stated.far)
    over: list[Wanted] = [
        (part(leaf.name), "voltage_surge", f"bulk{k + 1}")
        for k, element in enumerate(mains.bulk)
        for leaf in leaves(element)
    ]
    over.append((BULK, "voltage_surge", "bulk2"))
    ledger.work_out(OVERSHOOT, {**inputs, "saturation": bound}, over, case=case, note=OVERSHOOT.words)
