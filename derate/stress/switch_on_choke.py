"""Switch-on into two bulk capacitors with a choke between, by the closing angles and corners that hold the worst.

Over 30 random filters with every corner of R, C1, L, RL, C2 and saturation run at several angles, the greatest peak,
I²t and bulk voltages lay between 81 and 90 degrees, at the corners below; 86 degrees
holds each to within 1 % (tests/stress/test_corners.py).
A saturating choke is worst for what flows, a linear one for what overshoots: the truth lies between the two.
"""

from __future__ import annotations

from math import inf, pi

from derate.circuit.choke_filter import ERROR, filter_switch_on
from derate.design.paths import leaves
from derate.design.structure import MainsInput
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.model import Model
from derate.stress.context import BULK, LINE, Context, part
from derate.terms.values import Value

_ANGLE = 86.0 * pi / 180.0
_CORNER_ALLOWANCE = 0.01
RESIDUAL = 0.1  # share of its inductance a saturated choke keeps: common practice, no source
_NOTE = "greatest over the closing angle"


def _flow(*, saturation: float, **k: float) -> dict[str, float]:
    run = filter_switch_on(**k, angle=_ANGLE, saturation=saturation, residual=RESIDUAL)
    return {"current_peak": run.peak, "i2t": run.i2t, "pulse_width": run.equivalent_width, "energy": run.energy}


def _overshoot(*, saturation: float, **k: float) -> dict[str, float]:
    # saturation is a yes or no here: 0 a linear choke (the upper bound), else the current at which it saturates
    at = inf if saturation == 0.0 else saturation
    run = filter_switch_on(**k, angle=_ANGLE, saturation=at, residual=RESIDUAL)
    return {"bulk1": run.bulk1_peak, "bulk2": run.bulk2_peak}


def _signs(resistance: int, first: int, inductance: int, choke: int, second: int, saturation: int) -> dict[str, int]:
    return {
        "mains": 1, "frequency": -1, "series_resistance": resistance, "bulk1": first, "inductance": inductance,
        "choke_resistance": choke, "bulk2": second, "saturation": saturation,
    }  # fmt: skip


_MOST_FLOWS = _signs(-1, 1, -1, -1, 1, -1)
_SOURCE = "own derivation, exact steps in each mode; held to ngspice 39"
_BANDS = {name: (low, high + _CORNER_ALLOWANCE) for name, (low, high) in ERROR.items()}
FLOW = Model(
    "switch-on into two bulk capacitors with a choke between",
    _flow,
    {
        "current_peak": _MOST_FLOWS,
        "i2t": _MOST_FLOWS,
        "pulse_width": {**_MOST_FLOWS, "series_resistance": 1},
        "energy": (_MOST_FLOWS, {**_MOST_FLOWS, "series_resistance": 1}),
    },
    _SOURCE,
    _NOTE,
    {
        "current_peak": _BANDS["peak"], "i2t": _BANDS["i2t"], "pulse_width": _BANDS["equivalent_width"],
        "energy": _BANDS["energy"],
    },
)  # fmt: skip
_MOST_RINGS = _signs(-1, -1, 1, -1, -1, -1)
OVERSHOOT = Model(
    "overshoot of two bulk capacitors with a choke between",
    _overshoot,
    {"bulk1": (_MOST_RINGS, {**_MOST_RINGS, "bulk2": 1}), "bulk2": _MOST_RINGS},
    _SOURCE,
    _NOTE,
    {"bulk1": _BANDS["bulk1_peak"], "bulk2": _BANDS["bulk2_peak"]},
)
SHARE = Model(
    "share of the switch-on energy",
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


def solve_two(
    context: Context,
    mains: MainsInput,
    case: Case,
    rows: list[tuple[str, Entry]],
    whole: Entry,
    capacitances: list[Entry],
    others: dict[str, Entry],
) -> None:
    """Write the switch-on rows of a two-capacitor input."""
    ledger = context.ledger
    choke = part(mains.choke[0]) if mains.choke else BULK
    resistance = context.fact(choke, "part.resistance") or context.assume(
        "small_series_resistance", choke, "part.resistance"
    )
    inputs: dict[str, Entry | Value | float] = {
        "mains": case.mains or 0.0, "frequency": case.frequency or 50.0, "series_resistance": whole,
        "bulk1": capacitances[0], "inductance": context.need(choke, "part.inductance"),
        "choke_resistance": resistance, "bulk2": capacitances[1],
    }  # fmt: skip
    saturates = context.need(choke, "rated.saturation_current")
    through: list[tuple[Subject, str, str]] = [
        (subject, quantity, quantity)
        for subject in (LINE, *(part(name) for name in (*mains.rectifier, *(name for name, _ in rows))))
        for quantity in ("current_peak", "i2t", "pulse_width")
    ]
    through.append((LINE, "energy", "energy"))
    written = ledger.work_out(FLOW, {**inputs, "saturation": saturates}, through, case=case, note=_NOTE)
    energy, peak = written[-1], written[0]
    for name, own in rows:
        ledger.work_out(
            SHARE,
            {"energy": energy, "part_resistance": own, "other_resistance": others[name]},
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
    over: list[tuple[Subject, str, str]] = [
        (part(leaf.name), "voltage_surge", f"bulk{k + 1}")
        for k, element in enumerate(mains.bulk)
        for leaf in leaves(element)
    ]
    over.append((BULK, "voltage_surge", "bulk2"))
    ledger.work_out(OVERSHOOT, {**inputs, "saturation": bound}, over, case=case, note=_NOTE)
