"""Charging the bulk at the worst closing angle: peak, I²t, energy and width, part by part."""

from __future__ import annotations

from functools import lru_cache, partial
from math import inf, pi
from typing import Any, NamedTuple

from derate.circuit import inrush, resistors
from derate.circuit.choke_filter import ERROR, filter_switch_on, line_filter_switch_on
from derate.circuit.doubler import doubler_switch_on
from derate.design.paths import leaves
from derate.design.structure import MainsInput
from derate.ledger.entry import Case, Entry, Subject
from derate.ledger.ledger import Wanted
from derate.ledger.model import Model
from derate.stress.context import BULK, LINE, Context, part
from derate.stress.mains.line import RESIDUAL, inductance_ahead
from derate.stress.mains.resistance import bulk_capacitance, charged_capacitance, mains_resistance, series_rows, total
from derate.terms.cases import SWITCH_ON
from derate.terms.quantities import each
from derate.terms.values import Value
from derate.terms.words import RESISTORS

# One closing of the mains onto the rectifier: what stands in the path, what the bulk holds, at which case.
#
# A cold switch-on, a restart with the thermistor hot and a mains that comes back after a dip differ in nothing else.


QUANTITIES = each("current_peak", "i2t", "pulse_width", "voltage_surge", "energy", "pulse_power")
# Kinds that limit the current by design and are rated for the pulse.
RATED_FOR_PULSES = (*RESISTORS, "NTC thermistor")


class Closing(NamedTuple):
    """rows: series parts and their resistance; whole: with the mains; others: all but the part of that name.

    start: bulk voltage before the mains comes [V]
    """

    case: Case
    rows: tuple[tuple[str, Entry], ...]
    whole: Entry
    others: dict[str, Entry]
    inductance: Entry
    start: Entry | Value


def closing(context: Context, mains: MainsInput, case: Case, start: Entry | Value, hot: bool) -> Closing:
    """The mains path at one closing; hot: a thermistor in it has not cooled down."""
    rows = tuple(series_rows(context, mains, None if hot else case))
    everything = [*rows, ("mains", mains_resistance(context))]
    others = {name: total(context, [(n, r) for n, r in everything if n != name], case) for name, _ in rows}
    whole = total(context, everything, case)  # last, so that it is the row of the whole path that is found
    return Closing(case, rows, whole, others, inductance_ahead(context, mains), start)


def no_case(context: Context, mains: MainsInput, case: Case) -> None:
    """Holes for everything at a case that cannot be placed."""
    names = (*mains.series, *mains.behind, *mains.rectifier, *(leaf.name for e in mains.bulk for leaf in leaves(e)))
    for subject in (LINE, BULK, *(part(name) for name in names)):
        for quantity in QUANTITIES:
            context.ledger.hole(subject, quantity, context.plan.lacking(case.group), case=case)


def carried_by(mains: MainsInput, rows: tuple[tuple[str, Entry], ...]) -> list[Subject]:
    """Everything that the whole charging current passes."""
    return [LINE, *(part(name) for name in mains.rectifier), *(part(name) for name, _ in rows)]


# Charging two bulk capacitors with a choke between, by the closing angles and corners that hold the worst.
#
# Over 30 random filters with every corner of R, C1, L, RL, C2 and saturation run at several angles, the greatest
# peak, I²t and bulk voltages lay at 81 to 90 degrees, at the corners below; 86 degrees alone holds each of them to
# within 1 % (tests/stress/test_corners.py). A saturating choke is worst for what flows, a linear one for what
# overshoots: the truth lies between the two.


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
        "mains": 1,
        "frequency": -1,
        "series_resistance": resistance,
        "bulk1": first,
        "inductance": inductance,
        "choke_resistance": choke,
        "bulk2": second,
        "saturation": saturation,
        "start": -1,
        "line_inductance": -1,
    }


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
    {
        name: (_BANDS[like][0], _BANDS[like][1] + 0.02)
        for name, like in (("bulk1", "bulk1_peak"), ("bulk2", "bulk2_peak"))
    },
    kind=_MOST_RINGS,
)
SHARE = Model.of(
    "share of the charging energy",
    resistors.ENERGY_SHARE,
    "the same current flows through all series resistance",
    "energy in all series resistance × R / (R + others)",
)
PULSE_POWER = Model.of("greatest power of a pulse", resistors.PULSE_POWER, "Joule", "peak² × resistance")


def solve_two(context: Context, mains: MainsInput, at: Closing, capacitances: list[Entry]) -> None:
    """Write the rows of a closing onto a two-capacitor input."""
    ledger, case = context.ledger, at.case
    choke = part(mains.choke[0]) if mains.choke else BULK
    resistance = context.fact(choke, "part.resistance") or context.assume(
        "small_series_resistance", choke, "part.resistance"
    )
    inputs: dict[str, Entry | Value | float] = {
        "mains": case.mains or 0.0,
        "frequency": case.frequency or 50.0,
        "series_resistance": at.whole,
        "bulk1": capacitances[0],
        "inductance": context.need(choke, "part.inductance"),
        "choke_resistance": resistance,
        "bulk2": capacitances[1],
        "start": at.start,
        "line_inductance": at.inductance,
    }
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


# Charging the bulk at the worst closing angle: peak, I²t, energy and width per series part, diode and bulk capacitor.
#
# Full bridge, half-wave or doubler with one bulk capacitor (or pair); two with a choke between are in
# switch_on_choke.py. What flows is worst with the least inductance ahead of the bridge, what overshoots with the
# most.


_SOURCE_ONE_CAPACITOR = "own derivation, closed form of each conduction interval; held to ngspice 39"
_MOST_ANGLE = "greatest over the closing angle"
# Inductance ahead spreads the pulse; over 900 random inputs to 10 mH it raised the I²t by 0.7 % at most.
_ALLOWANCE_ONE_CAPACITOR = 0.01
Inputs = dict[str, Entry | Value | float]


@lru_cache(maxsize=4096)
def _worst(
    kind: str, mains: float, frequency: float, series: float, inductance: float, capacitance: float, start: float
) -> Any:
    if kind == "doubler":
        runs = [
            doubler_switch_on(
                mains, frequency, series, capacitance, angle=k * pi / 12.0, start=start, inductance=inductance
            )
            for k in range(3, 8)
        ]
        i2t = max(runs, key=lambda run: run.i2t)
        return inrush.WorstInrush(
            max(run.peak for run in runs),
            0.0,
            i2t.i2t,
            0.0,
            i2t.energy,
            i2t.equivalent_width,
            max(run.bulk_peak for run in runs),
            0.0,
        )
    return inrush.worst_switch_on(
        mains,
        frequency,
        series,
        capacitance,
        start=min(start, 2**0.5 * mains),
        inductance=inductance,
        half_wave=kind == "half-wave",
    )


def _flow_one_capacitor(kind: str, *, part_resistance: float, other_resistance: float, **k: float) -> dict[str, float]:
    found = _worst(kind, series=part_resistance + other_resistance, **k)
    return {
        "current_peak": found.peak,
        "i2t": found.i2t,
        "pulse_width": found.equivalent_width,
        "energy": part_resistance * found.i2t,
        "pulse_power": part_resistance * found.peak**2,
    }


def _overshoot_one_capacitor(kind: str, *, inductance: float, **k: float) -> dict[str, float]:
    """Greatest bulk voltage with any inductance up to the one given: it is not always the most that is worst."""
    tried = {0.0, inductance / 8.0, inductance}
    return {"voltage_surge": max(_worst(kind, inductance=one, **k).bulk_peak for one in tried)}


def _signs_one_capacitor(part_resistance: int, **more: int) -> dict[str, int]:
    signs = {
        "mains": 1,
        "frequency": -1,
        "part_resistance": part_resistance,
        "other_resistance": -1,
        "capacitance": 1,
        "start": -1,
        "inductance": -1,
    }
    return {name: sign for name, sign in (signs | more).items() if sign != 9}


_FLOW_SIGNS = {
    "current_peak": _signs_one_capacitor(-1),
    "i2t": _signs_one_capacitor(-1),
    # that of the sharpest pulse: the least inductance and the emptiest bulk, whichever end is asked (9: not named)
    "pulse_width": _signs_one_capacitor(1, mains=0, frequency=0, other_resistance=1, start=9, inductance=9),
    # alone in the path a part takes almost the same energy whatever its resistance: no single sign
    "energy": _signs_one_capacitor(0),
    "pulse_power": _signs_one_capacitor(0),
}
_ERROR = {
    "current_peak": inrush.ERROR["peak"],
    "i2t": (inrush.ERROR["i2t"][0], inrush.ERROR["i2t"][1] + _ALLOWANCE_ONE_CAPACITOR),
    "energy": (inrush.ERROR["energy"][0], inrush.ERROR["energy"][1] + _ALLOWANCE_ONE_CAPACITOR),
    "pulse_power": (-0.02, 0.01),  # twice the band of the peak
    "pulse_width": inrush.ERROR["equivalent_width"],
}


def flow_model(kind: str) -> Model:
    """What the closing drives through the parts in series."""
    return Model(
        f"charging the bulk of a {kind} input",
        partial(_flow_one_capacitor, kind),
        _FLOW_SIGNS,
        _SOURCE_ONE_CAPACITOR,
        _MOST_ANGLE,
        _ERROR,
    )


def overshoot_model(kind: str) -> Model:
    """What the bulk reaches."""
    signs = {"mains": 1, "frequency": -1, "series": -1, "capacitance": -1, "start": -1, "inductance": 1}
    return Model(
        f"overshoot of the bulk of a {kind} input",
        partial(_overshoot_one_capacitor, kind),
        {"voltage_surge": signs},
        _SOURCE_ONE_CAPACITOR,
        "greatest over the closing angle and the inductance ahead up to the one given",
        # the vertex over the inductance lies between the three tried: within 1.5 % (tests/stress/test_events_input.py)
        {"voltage_surge": (inrush.ERROR["bulk_peak"][0], inrush.ERROR["bulk_peak"][1] + 0.015)},
    )


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
        "mains": case.mains or 0.0,
        "frequency": case.frequency or 50.0,
        "start": at.start,
        "capacitance": charged_capacitance(context, mains, capacitances),
        "inductance": at.inductance,
    }
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
                model,
                {**fixed, "part_resistance": resistance, "other_resistance": at.others[name]},
                [(part(name), q, q) for q in ("energy", "pulse_power")],
                case=case,
                note=_MOST_ANGLE,
            )
    over: list[Wanted] = [(part(leaf.name), "voltage_surge", "voltage_surge") for e in mains.bulk for leaf in leaves(e)]
    both: list[Wanted] = [(BULK, "voltage_surge", "voltage_surge")]
    if mains.input == "doubler":  # each capacitor by its own half wave, the bulk as the sum of the two
        ledger.work_out(overshoot_model("half-wave"), {**fixed, "series": at.whole}, over, case=case)
        ledger.work_out(overshoot_model("doubler"), {**fixed, "series": at.whole}, both, case=case)
    else:
        ledger.work_out(overshoot_model(mains.input), {**fixed, "series": at.whole}, [*over, *both], case=case)
