"""What the mains does at an event, as formulas: a switch-on, a dip, a re-plug, a surge.

Contents: `flow`, `overshoot`, `BARE_SWITCH_ON`, `FLOW_OF_TWO`, `OVERSHOOT_OF_TWO`, `OVERSHOOT_KIND`, `DIP_TIME`,
`AFTER_DIP`, `RE_PLUG`, `SOURCE_RESISTANCE`, `ring_share`, `SURGE_BEHIND`, `SURGE_OVER`, `SURGE_AHEAD`, `SURGE_SECOND`.
The solvers, with their sources and bands, are those of `inrush`, `doubler`, `choke_filter` and `pulse`.
"""

from __future__ import annotations

from functools import lru_cache
from math import inf, pi
from typing import Any

from derate.circuit import inrush
from derate.circuit.choke_filter import ERROR as FILTER_ERROR
from derate.circuit.choke_filter import filter_switch_on, line_filter_switch_on
from derate.circuit.doubler import doubler_switch_on
from derate.circuit.mains_input import RESIDUAL
from derate.circuit.pulse import SCALE, SURGE_ERROR, TAIL, line_surge, log_log
from derate.terms.formula import Formula, Signs, giving

_LINE = {"mains": (85.0, 265.0), "frequency": (47.0, 63.0)}

# ---- one bulk capacitor, and a doubler -------------------------------------------------------------------------------

# Inductance ahead spreads the pulse; over 900 random inputs to 10 mH it raised the I²t by 0.7 % at most.
_ALLOWANCE = 0.01


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
        "mains": 1,
        "frequency": -1,
        "part_resistance": part_resistance,
        "other_resistance": -1,
        "capacitance": 1,
        "start": -1,
        "inductance": -1,
    }
    return {name: sign for name, sign in (signs | more).items() if sign != 9}


_FLOW_SIGNS: dict[str, Signs | tuple[Signs, ...]] = {
    "current_peak": _signs(-1),
    "i2t": _signs(-1),
    # that of the sharpest pulse: the least inductance and the emptiest bulk, whichever end is asked (9: not named);
    # a corner, no signs
    "pulse_width": (_signs(1, mains=0, frequency=0, other_resistance=1, start=9, inductance=9),),
    # alone in the path a part takes almost the same energy whatever its resistance: no single sign
    "energy": _signs(0),
    "pulse_power": _signs(0),
}
_ERROR = {
    "current_peak": inrush.ERROR["peak"],
    "i2t": (inrush.ERROR["i2t"][0], inrush.ERROR["i2t"][1] + _ALLOWANCE),
    "energy": (inrush.ERROR["energy"][0], inrush.ERROR["energy"][1] + _ALLOWANCE),
    "pulse_power": (-0.02, 0.01),  # twice the band of the peak
    "pulse_width": inrush.ERROR["equivalent_width"],
}


# A doubler's angles are run in steps of 15 degrees, and with inductance ahead its I²t rises with the frequency instead
# of falling: over 45 random ones to 5 mH, 47 to 63 Hz and every 5 degrees, I²t and energy lay 7.6 % above the figure
# at most, the peak 0.6 %. The band holds a fifth more.
_DOUBLER_ALLOWANCE = {"i2t": 0.09, "energy": 0.09, "current_peak": 0.007, "pulse_power": 0.014}
_DOUBLER_ERROR = {name: (low, high + _DOUBLER_ALLOWANCE.get(name, 0.0)) for name, (low, high) in _ERROR.items()}
_CLOSING = {**_LINE, "capacitance": (4.7e-6, 2.2e-4), "start": (0.0, 60.0), "inductance": (0.0, 2e-3)}


def flow(kind: str) -> Formula:
    """What a closing drives through the parts in series, at the worst closing angle.

    kind: "full bridge", "half-wave" or "doubler". Peak [A], I²t [A²s], width [s]; energy [J] and greatest power [W] of
    the part whose resistance is `part_resistance` [ohm].
    """

    def driven(**k: float) -> dict[str, float]:
        return _flow(kind, **k)

    ranges = {**_CLOSING, "part_resistance": (0.5, 15.0), "other_resistance": (0.5, 15.0)}
    return Formula(driven, _FLOW_SIGNS, ranges, _DOUBLER_ERROR if kind == "doubler" else _ERROR)


def overshoot(kind: str) -> Formula:
    """What the bulk reaches at a closing [V]: greatest over the closing angle and the inductance ahead."""

    def reached(**k: float) -> dict[str, float]:
        return _overshoot(kind, **k)

    signs = {"mains": 1, "frequency": -1, "series": -1, "capacitance": -1, "start": -1, "inductance": 1}
    # the vertex over the inductance lies between the three tried: within 1.5 % (tests/stress/test_events_input.py)
    band = (inrush.ERROR["bulk_peak"][0], inrush.ERROR["bulk_peak"][1] + 0.015)
    return Formula(reached, {"voltage_surge": signs}, {**_CLOSING, "series": (1.0, 15.0)}, {"voltage_surge": band})


def _bare(mains: float, frequency: float, resistance: float, capacitance: float) -> Any:
    return inrush.worst_switch_on(mains, frequency, max(resistance, 1e-3), capacitance)


# A switch-on with a thermistor shorted: the inductance ahead, left out, only lowers both.
_BARE = {"mains": 1, "frequency": -1, "resistance": -1, "capacitance": 1}
BARE_SWITCH_ON = Formula(
    _bare,
    {"peak": {"mains": 1, "resistance": -1}, "i2t": _BARE},  # without inductance the peak is crest over resistance
    {**_LINE, "resistance": (0.2, 10.0), "capacitance": (4.7e-6, 2.2e-4)},
    {"peak": (-0.6, 0.005), "i2t": (-0.75, 0.01)},
)


# ---- two bulk capacitors with a choke between ------------------------------------------------------------------------
#
# Over 30 random filters with every corner of R, C1, L, RL, C2 and saturation run at several angles, the greatest
# peak, I²t and bulk voltages lay at 81 to 90 degrees, at the corners below; 86 degrees alone holds each of them to
# within 1 % (tests/stress/test_corners.py). A saturating choke is worst for what flows, a linear one for what
# overshoots: the truth lies between the two.

_ANGLES = (86.0 * pi / 180.0,)
_CORNER_ALLOWANCE = 0.01
# Over 60 random filters the inductance ahead, to 5 mH, raised the I²t by 0.5 % at most and never the peak.
_SPREAD_ALLOWANCE = 0.01


@lru_cache(maxsize=4096)
def _run_of_two(angle: float, line_inductance: float, saturation: float, refills: bool = True, **k: float) -> Any:
    if line_inductance < 1e-6:  # below a microhenry nothing changes but the first microseconds
        return filter_switch_on(**k, angle=angle, saturation=saturation, residual=RESIDUAL)
    return line_filter_switch_on(
        **k, line_inductance=line_inductance, angle=angle, saturation=saturation, residual=RESIDUAL, refills=refills
    )


def _flow_of_two(*, saturation: float, line_inductance: float, **k: float) -> dict[str, float]:
    runs = [_run_of_two(angle, line_inductance, saturation, **k) for angle in _ANGLES]
    i2t = max(runs, key=lambda run: run.i2t)
    return {
        "current_peak": max(run.peak for run in runs),
        "i2t": i2t.i2t,
        "pulse_width": i2t.equivalent_width,
        "energy": i2t.energy,
    }


def _overshoot_of_two(*, saturation: float, line_inductance: float, **k: float) -> dict[str, float]:
    """Greatest bulk voltages with any inductance ahead up to the one given: it is not always the most that is worst."""
    # saturation is a yes or no here: 0 a linear choke (the upper bound), else the current at which it saturates
    at = inf if saturation == 0.0 else saturation
    if line_inductance > 0.0:
        runs = [_run_of_two(pi / 2.0, one, at, False, **k) for one in (0.0, line_inductance / 8.0, line_inductance)]
    else:
        runs = [_run_of_two(angle, 0.0, at, **k) for angle in _ANGLES]
    return {"bulk1": max(run.bulk1_peak for run in runs), "bulk2": max(run.bulk2_peak for run in runs)}


def _signs_of_two(
    resistance: int, first: int, inductance: int, choke: int, second: int, saturation: int
) -> dict[str, int]:
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


_MOST_FLOWS = _signs_of_two(-1, 1, -1, -1, 1, -1)
_WIDEST = {name: sign for name, sign in _MOST_FLOWS.items() if name not in ("start", "line_inductance")}
_BANDS = {name: (low, high + _CORNER_ALLOWANCE) for name, (low, high) in FILTER_ERROR.items()}
_TWO = {
    **_LINE,
    "series_resistance": (1.0, 15.0),
    "bulk1": (4.7e-6, 4.7e-5),
    "inductance": (1e-4, 2e-3),
    "choke_resistance": (0.1, 3.0),
    "bulk2": (4.7e-6, 4.7e-5),
    "saturation": (0.5, 5.0),
    "start": (0.0, 60.0),
    "line_inductance": (0.0, 1e-3),
}
# Every map names a corner, none a sign: each stands in a tuple.
FLOW_OF_TWO = Formula(
    _flow_of_two,
    {
        "current_peak": (_MOST_FLOWS,),
        "i2t": (_MOST_FLOWS,),
        "pulse_width": ({**_WIDEST, "series_resistance": 1},),
        "energy": (_MOST_FLOWS, {**_MOST_FLOWS, "series_resistance": 1}),
    },
    _TWO,
    {
        "current_peak": _BANDS["peak"],
        "i2t": (_BANDS["i2t"][0], _BANDS["i2t"][1] + _SPREAD_ALLOWANCE),
        "energy": (_BANDS["energy"][0], _BANDS["energy"][1] + _SPREAD_ALLOWANCE),
        "pulse_width": _BANDS["equivalent_width"],
    },
)
OVERSHOOT_KIND = {**_signs_of_two(-1, -1, 1, -1, -1, -1), "line_inductance": 1}
OVERSHOOT_OF_TWO = Formula(
    _overshoot_of_two,
    {
        "bulk1": (OVERSHOOT_KIND, {**OVERSHOOT_KIND, "bulk2": 1}),
        # with inductance ahead the second capacitor may be worst behind a great first one
        "bulk2": (OVERSHOOT_KIND, {**OVERSHOOT_KIND, "bulk1": 1}),
    },
    _TWO,
    # the vertex over the inductance lies between those tried: within 2 % (tests/stress/test_events_input.py)
    {
        name: (_BANDS[like][0], _BANDS[like][1] + 0.02)
        for name, like in (("bulk1", "bulk1_peak"), ("bulk2", "bulk2_peak"))
    },
)


# ---- a dip, a re-plug ------------------------------------------------------------------------------------------------

DIP_TIME = 0.020  # [s] of the trade: one period of 50 Hz (IEC 61000-4-11 tests half a period, one and more)


def _after_dip(*, mains: float, frequency: float, load: float, capacitance: float) -> dict[str, float]:
    crest2 = 2.0 * mains * mains
    low = crest2 - 2.0 * load * (DIP_TIME + 0.5 / frequency) / capacitance
    high = crest2 - 2.0 * load * DIP_TIME / capacitance
    return {"least": max(0.0, low) ** 0.5, "most": max(0.0, high) ** 0.5}


def _re_plug(
    *, mains: float, resistance: float, inductance: float, capacitance: float, bulk_peak: float, bulk_i2t: float
) -> dict[str, float]:
    """Two scenarios: the bulk full and twice the crest across the capacitor; the bulk empty and once the crest."""
    crest = 2**0.5 * mains
    twice = inrush.step_current(2.0 * crest, resistance, capacitance, inductance)
    once = inrush.step_current(crest, resistance, capacitance, inductance)
    # the capacitor's pulse is over in microseconds: the bulk's current hardly moves while its charge C × crest flows
    together = once.i2t + bulk_i2t + 2.0 * bulk_peak * capacitance * crest
    return {"current_peak": max(twice.peak, once.peak + bulk_peak), "i2t": max(twice.i2t, together)}


_DIP_SIGNS = {"mains": 1, "frequency": 1, "load": -1, "capacitance": 1}
AFTER_DIP = Formula(
    _after_dip,
    {"least": _DIP_SIGNS, "most": {name: sign for name, sign in _DIP_SIGNS.items() if name != "frequency"}},
    {**_LINE, "load": (1.0, 20.0), "capacitance": (2.2e-5, 4.7e-4)},
)
_STEP_SIGNS = {"mains": 1, "resistance": -1, "inductance": -1, "capacitance": 1, "bulk_peak": 1, "bulk_i2t": 1}
RE_PLUG = Formula(
    _re_plug,
    {
        "current_peak": {name: sign for name, sign in _STEP_SIGNS.items() if name != "bulk_i2t"},
        "i2t": {name: sign for name, sign in _STEP_SIGNS.items() if name != "inductance"},
    },
    {
        "mains": (85.0, 265.0),
        "resistance": (0.2, 10.0),
        "inductance": (1e-6, 1e-3),
        "capacitance": (1e-8, 1e-6),
        "bulk_peak": (1.0, 60.0),
        "bulk_i2t": (0.01, 5.0),
    },
)


# ---- a surge between line and neutral --------------------------------------------------------------------------------

SOURCE_RESISTANCE = 2.0  # [ohm] of the combination-wave generator between line and neutral, IEC 61000-4-5


@lru_cache(maxsize=4096)
def _run(clamp: float, **k: float) -> Any:
    crest = 2**0.5 * k.pop("mains")
    return line_surge(mains=crest, start=crest, clamp=clamp or None, **k)


def _behind(*, clamp: float = 0.0, ahead: float = 0.0, **k: float) -> dict[str, float]:
    found = _run(clamp, ahead=ahead, **k)
    return {
        "current_peak": found.peak,
        "i2t": found.i2t,
        "varistor_peak": found.varistor_peak,
        "varistor_energy": found.varistor_energy,
        "pulse_width": found.i2t / found.peak**2 if found.peak > 0.0 else 0.0,
    }


# Most that any inductance in the path adds to the rise of the bulk, by R C over the tail of the wave: the envelope over
# 10 uH to 3 mH, 2 to 20 ohm and 1 to 100 uF, stepped through, and 7 % on it (tests/stress/test_events_surge.py).
RINGS = ((0.03, 0.6), (0.1, 0.43), (0.3, 0.265), (1.0, 0.135), (3.0, 0.066), (10.0, 0.03), (30.0, 0.012))


def ring_share(resistance: float, capacitance: float) -> float:
    """Greatest share by which inductance in the path raises what a surge adds to the bulk voltage.

    resistance: source and path together [ohm]; capacitance: bulk [F]
    """
    x = resistance * capacitance / TAIL
    return log_log(RINGS, min(max(x, RINGS[0][0]), RINGS[-1][0])) if x >= RINGS[0][0] else 1.0


def _over(*, clamp: float = 0.0, ahead: float = 0.0, wave: float, ring: float, **k: float) -> dict[str, float]:
    """wave: how much of the ideal wave a generator keeps up; the bulk never ends below the crest it held before.

    ring: 0 no inductance in the path, 1 the worst there may be
    """
    crest = 2**0.5 * k["mains"]
    rise = max(0.0, wave * _run(clamp, ahead=ahead, **k).bulk_peak - crest)
    if ring > 0.0:
        free = max(0.0, wave * _run(0.0, ahead=ahead, **k).bulk_peak - crest) if clamp else rise
        most = (1.0 + ring_share(SOURCE_RESISTANCE + ahead + k["series_resistance"], k["capacitance"])) * free
        if clamp:  # a flat-topped drive can be doubled by a ring, and no more than that
            most = min(most, 2.0 * max(0.0, clamp - crest))
        rise = max(rise, ring * most)
    return {"voltage": crest + rise}


def _ahead(*, level: float, mains: float, clamp: float, ahead: float) -> dict[str, float]:
    """Upper bound of what passes a part ahead of the varistor: the whole wave into source and path."""
    current = max(0.0, level * SCALE + 2**0.5 * mains - clamp) / (SOURCE_RESISTANCE + ahead)
    return {
        "current_peak": current,
        "i2t": (level * SCALE / (SOURCE_RESISTANCE + ahead)) ** 2 * TAIL / 2.0,
        "pulse_width": TAIL / 2.0,
    }


def _second(start: float, first: float, bulk1: float, bulk2: float, share: float) -> float:
    return start + share * (first - start) * max(1.0, 2.0 * bulk1 / (bulk1 + bulk2))


_ALL = {"level": 1, "mains": 1, "series_resistance": -1, "clamp": 1, "ahead": -1}
_SURGE = {
    "level": (500.0, 2000.0),
    "mains": (85.0, 265.0),
    "series_resistance": (1.0, 15.0),
    "capacitance": (4.7e-6, 2.2e-4),
    "clamp": (500.0, 1000.0),
    "ahead": (0.0, 5.0),
}
SURGE_BEHIND = Formula(
    _behind,
    {
        "current_peak": _ALL | {"capacitance": 1, "mains": 0},
        "i2t": _ALL | {"capacitance": 1, "mains": 0},
        "pulse_width": ({"series_resistance": 0, "capacitance": 1},),  # corners, no signs: the widest of two
        "varistor_peak": {"level": 1, "mains": 1, "clamp": -1, "ahead": -1, "series_resistance": 1, "capacitance": -1},
        "varistor_energy": {"level": 1, "mains": 1, "clamp": 0, "ahead": -1, "series_resistance": 1, "capacitance": -1},
    },
    _SURGE,
    {
        "current_peak": SURGE_ERROR["peak"],
        "i2t": SURGE_ERROR["i2t"],
        "varistor_peak": SURGE_ERROR["varistor_peak"],
        "varistor_energy": SURGE_ERROR["varistor_energy"],
    },
)
SURGE_OVER = Formula(
    _over,
    {"voltage": _ALL | {"capacitance": -1, "wave": 1, "ring": 1}},
    {**_SURGE, "wave": (0.8, 1.2), "ring": (0.0, 1.0)},
)
SURGE_AHEAD = Formula(
    _ahead,
    {
        "current_peak": {"level": 1, "mains": 1, "clamp": -1, "ahead": -1},
        "i2t": {"level": 1, "ahead": -1},
        "pulse_width": {},
    },
    {name: _SURGE[name] for name in ("level", "mains", "clamp", "ahead")},
    {"current_peak": (-0.1, 0.0), "i2t": (-0.75, 0.0)},
)
# Overshoot of the second of two bulk capacitors [V], an upper bound: lossless transfer of the first one's charge.
SURGE_SECOND = giving(
    "voltage",
    _second,
    {"start": 0, "first": 1, "bulk1": 1, "bulk2": -1, "share": 1},
    {
        "start": (100.0, 375.0),
        "first": (376.0, 600.0),
        "bulk1": (4.7e-6, 4.7e-5),
        "bulk2": (4.7e-6, 4.7e-5),
        "share": (0.0, 1.0),
    },
)
