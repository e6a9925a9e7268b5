"""The mains input as formulas: in steady state, and at a switch-on, a dip, a re-plug, a surge."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from math import inf, pi
from typing import Any

from derate.circuit import line_faults, rectifier
from derate.circuit import pulse as inrush
from derate.circuit import rectifier as doubler
from derate.circuit.choke_filter import ERROR as FILTER_ERROR
from derate.circuit.choke_filter import STEADY_ERROR, filter_steady_state, filter_switch_on, line_filter_switch_on
from derate.circuit.numerics import Band
from derate.circuit.pulse import SCALE, SURGE_ERROR, TAIL, line_surge, log_log
from derate.circuit.rectifier import BRIDGE_DROP as BRIDGE_DROP
from derate.circuit.rectifier import DIODE_DROP as DIODE_DROP
from derate.circuit.rectifier import doubler_switch_on
from derate.circuit.rectifier_inductance import bridge_over_ranges, greatest_bulk
from derate.terms.values import Collapse, Formula, Signs, giving

# The mains input in steady state as formulas: bridge, half wave, doubler, two capacitors with a choke; and its
# faults.


RESIDUAL = 0.1  # share of its inductance a saturated choke keeps: common practice, no source

# Where the signs of the rectifier were proved the valley stays above half the crest: deeper ones run every corner.
_LINE = {"mains": (85.0, 265.0), "frequency": (47.0, 63.0), "series_resistance": (0.5, 8.0)}
_SUPPLY = {**_LINE, "capacitance": (4.7e-5, 4.7e-4), "load": (2.0, 15.0)}


def _bridge(**inputs: Any) -> Any:
    found = rectifier.steady_state(**inputs, drop=BRIDGE_DROP)
    if found is None:
        raise Collapse("the bulk capacitor cannot carry this load: the voltage collapses between two crests")
    return found


def _half_wave(**inputs: Any) -> Any:
    found = rectifier.steady_state(**inputs, drop=DIODE_DROP, half_wave=True)
    if found is None:
        raise Collapse("the bulk capacitor cannot carry this load: the voltage collapses between two crests")
    return found


def _doubler(**inputs: Any) -> Any:
    found = doubler.doubler_steady_state(**inputs, drop=DIODE_DROP)
    if found is None:
        raise Collapse("the bulk capacitors cannot carry this load: the voltage collapses between two crests")
    return found


def _choke(**inputs: Any) -> Any:
    found = filter_steady_state(**inputs, drop=BRIDGE_DROP)
    if found is None:
        raise Collapse("the bulk capacitors cannot carry this load: the voltage collapses between two crests")
    return found


def _with(signs: Mapping[str, Mapping[str, int]], more: Mapping[str, str]) -> dict[str, dict[str, int]]:
    """Signs without the fixed drop, with outputs that follow another's signs."""
    kept = {name: {k: v for k, v in row.items() if k != "drop"} for name, row in signs.items()}
    return kept | {name: kept[like] for name, like in more.items() if like in kept}


def _of(signs: Mapping[str, object], errors: Mapping[str, Band]) -> dict[str, Band]:
    return {name: band for name, band in errors.items() if name in signs}


_ALIKE = {"diode_peak": "line_peak", "diode_rms": "line_rms", "diode_reverse": "bulk_max"}
_BRIDGE_SIGNS = _with(rectifier.SIGNS, _ALIKE)
_HALF_WAVE_SIGNS = _with(rectifier.SIGNS_HALF_WAVE, _ALIKE) | {"diode_reverse": {"mains": 1}}  # twice the crest
_DOUBLER_SIGNS = _with(doubler.DOUBLER_SIGNS, _ALIKE | {"capacitor_min": "bulk_min"})
BRIDGE = Formula(_bridge, _BRIDGE_SIGNS, _SUPPLY, _of(_BRIDGE_SIGNS, rectifier.ERROR))
HALF_WAVE = Formula(
    _half_wave, _HALF_WAVE_SIGNS, {**_SUPPLY, "load": (1.0, 6.0)}, _of(_HALF_WAVE_SIGNS, rectifier.ERROR)
)


# ---- with inductance ahead -------------------------------------------------------------------------------------------


def _bridge_behind(**inputs: Any) -> dict[str, float]:
    return bridge_over_ranges(**inputs, drop=BRIDGE_DROP)


def _half_wave_behind(**inputs: Any) -> dict[str, float]:
    return bridge_over_ranges(**inputs, drop=DIODE_DROP, half_wave=True)


# A range runs from one name to the other: upwards for the greatest of a figure, backwards for the least. So whatever is
# asked for, its worst over the range is found.
_RANGES = {"inductance_from": -1, "inductance_to": 1, "capacitance_from": -1, "capacitance_to": 1}


def _behind(signs: Mapping[str, Mapping[str, int]]) -> dict[str, tuple[dict[str, int], ...]]:
    """Corners with inductance ahead: what rings has no single sign over the frequency.

    They name the corner over ranges, held by tests/circuit/test_rectifier_inductance.py: each stands in a tuple.
    """
    found: dict[str, tuple[dict[str, int], ...]] = {}
    for name, row in signs.items():
        kept = {key: sign for key, sign in row.items() if key != "capacitance"}
        valley = name in ("bulk_min", "capacitor_min")
        found[name] = (kept | _RANGES | ({"frequency": 0} if not valley else {}),)
    return found


# Between the inductances and capacitances that are tried a current may stand so much higher: of 290 random supplies
# over 120 inductances each, up to 6 mH, half of them with a third of the resistance, the worst were 2.4 % and, of a
# peak at a hundredth of the greatest inductance with next to no resistance, 7.2 %
# (tests/circuit/test_rectifier_inductance.py).
_BETWEEN = {"line_rms": 0.025, "line_peak": 0.075, "diode_peak": 0.075, "diode_rms": 0.025, "capacitor_rms": 0.025}


def _wider(errors: Mapping[str, Band]) -> dict[str, Band]:
    return {name: (low, high + _BETWEEN.get(name, 0.0)) for name, (low, high) in errors.items()}


_BEHIND = {
    **{name: ends for name, ends in _SUPPLY.items() if name != "capacitance"},
    "inductance_from": (0.0, 3e-3),
    "inductance_to": (0.0, 3e-3),
    "capacitance_from": (4.7e-5, 4.7e-4),
    "capacitance_to": (4.7e-5, 4.7e-4),
}
_CURRENTS = ("bulk_min", "line_rms", "line_peak", "capacitor_rms", "diode_average")
_BEHIND_SIGNS = _behind({name: _BRIDGE_SIGNS[name] for name in _CURRENTS})
_HALF_WAVE_BEHIND_SIGNS = _behind({name: _HALF_WAVE_SIGNS[name] for name in _CURRENTS})
BRIDGE_BEHIND = Formula(_bridge_behind, _BEHIND_SIGNS, _BEHIND, _wider(_of(_BEHIND_SIGNS, rectifier.ERROR)))
HALF_WAVE_BEHIND = Formula(
    _half_wave_behind,
    _HALF_WAVE_BEHIND_SIGNS,
    {**_BEHIND, "load": (1.0, 6.0)},
    _wider(_of(_HALF_WAVE_BEHIND_SIGNS, rectifier.ERROR)),
)


def bulk_crest(half: bool, coarse: bool = False) -> Formula:
    """The greatest bulk voltage at any load up to the full one, and what a lone diode blocks [V].

    coarse: for a range well beyond what is expected, with few points
    """

    def crest(**inputs: Any) -> dict[str, float]:
        high = greatest_bulk(coarse=coarse, **inputs, drop=DIODE_DROP if half else BRIDGE_DROP, half_wave=half)
        return {"crest": high, "half_wave": high + 2.0**0.5 * inputs["mains"]}

    signs = {"mains": 1, "frequency": 0, "series_resistance": -1, "load": 1, **_RANGES}
    return Formula(crest, {"crest": (signs,), "half_wave": (signs,)}, _BEHIND)


# What capacitors across the mains carry, 2 pi f C V, leads by a quarter of a period. Of what a rectifier draws ahead of
# the crest the mean of i × cos is at most rms × sqrt(1/4) (Cauchy, over that quarter), and behind the crest it counts
# the other way: so both correlate by 1/sqrt(2) at most, either way. Own derivation.
LEAD = 0.5**0.5


def beside(
    *, rms: float, peak: float, mains: float, frequency: float, taken: float, given: float, lead: float
) -> dict[str, float]:
    """What a rectifier with a bulk capacitor and capacitors across the mains ahead of it draw together, rms, peak [A].

    rms, peak: of the rectifier [A]; mains [V rms], frequency [Hz]; taken, given: capacitance across the mains [F] where
    it takes from the current and where it adds; lead: how both correlate, -LEAD to LEAD. Where it takes, no less is
    left than rms - LEAD times theirs, and no less than LEAD times either of the two, whatever the other is.

    >>> found = beside(rms=0.04, peak=0.2, mains=230.0, frequency=50.0, taken=1e-7, given=1e-7, lead=LEAD)
    >>> round(1e3 * found["rms"], 2), round(1e3 * found["peak"], 1)
    (45.4, 210.2)
    """
    turn = 2.0 * pi * frequency * mains
    if lead < 0.0:
        least = turn * taken
        left = max(rms + lead * least, LEAD * rms, LEAD * turn * given)
        return {"rms": left, "peak": max(0.0, peak + 2.0 * lead * least)}
    own = turn * given
    return {"rms": (rms * rms + own * own + 2.0 * lead * rms * own) ** 0.5, "peak": peak + 2.0 * lead * own}


_BESIDE = {"mains": 0, "frequency": 0, "taken": -1, "given": 1, "lead": 1}
BESIDE = Formula(
    beside,
    {"rms": {"rms": 1, **_BESIDE}, "peak": {"peak": 1, **_BESIDE}},
    {
        **{name: _LINE[name] for name in ("mains", "frequency")},
        "rms": (0.01, 1.0),
        "peak": (0.05, 5.0),
        "taken": (0.0, 1e-6),
        "given": (0.0, 1e-6),
        "lead": (-LEAD, LEAD),
    },
)

DOUBLER = Formula(
    _doubler, _DOUBLER_SIGNS, {**_SUPPLY, "mains": (85.0, 140.0)}, _of(_DOUBLER_SIGNS, doubler.DOUBLER_ERROR)
)


def _doubler_behind(**inputs: Any) -> dict[str, float]:
    from derate.circuit.doubler_inductance import doubler_over_ranges  # few supplies are doublers

    return doubler_over_ranges(**inputs, drop=DIODE_DROP)


_DOUBLED = (*_CURRENTS, "capacitor_min")
_DOUBLER_BEHIND_SIGNS = _behind({name: _DOUBLER_SIGNS[name] for name in _DOUBLED})
DOUBLER_BEHIND = Formula(
    _doubler_behind,
    _DOUBLER_BEHIND_SIGNS,
    {**_BEHIND, "mains": (85.0, 140.0)},
    _wider(_of(_DOUBLER_BEHIND_SIGNS, doubler.DOUBLER_ERROR)),
)


def _corner_signs(resistance: int, first: int, inductance: int, choke: int, second: int) -> dict[str, int]:
    return {
        "mains": 1,
        "frequency": 1,
        "series_resistance": resistance,
        "bulk1": first,
        "inductance": inductance,
        "choke_resistance": choke,
        "bulk2": second,
        "load": 1,
    }


# The ring between the capacitors leaves most inputs without a single sign. Over 30 random supplies with every corner of
# R, C1, L, RL, C2 run, these few corners held the worst of all 32 to within the allowance beside them
# (tests/stress/test_corners.py); the allowance is laid on top of the solver's own error band. Every map here names a
# corner, none a sign: each stands in a tuple.
_OF_THE_LINE = (_corner_signs(-1, 1, 1, -1, 1), _corner_signs(-1, 1, 1, -1, -1), _corner_signs(-1, -1, 1, -1, -1))
_SECOND = (_corner_signs(-1, -1, 1, -1, 1),)
# Of each capacitor's current the least is where it is the smaller of the two.
CHOKE_KIND = (*_SECOND, _corner_signs(-1, 1, 1, -1, -1))
_VALLEY = ({**_corner_signs(-1, 1, 1, -1, 1), "load": -1},)
_RING_ALLOWANCE = {"line_rms": 0.003, "line_peak": 0.01, "bulk1_rms": 0.01}
_CHOKE_SIGNS = {
    "line_rms": _OF_THE_LINE[:2],
    "line_peak": (*_OF_THE_LINE, _corner_signs(-1, -1, -1, -1, 1)),
    "bulk1_rms": (_corner_signs(-1, 1, -1, -1, -1), _OF_THE_LINE[1]),
    "bulk2_rms": _SECOND,
    "choke_rms": _SECOND,
    "choke_peak": _SECOND,
    "bulk1_min": _VALLEY,
    "bulk2_min": _VALLEY,
    "diode_average": (_corner_signs(1, -1, -1, 1, -1),),
}
CHOKE = Formula(
    _choke,
    _CHOKE_SIGNS,
    {
        **_LINE,
        "bulk1": (4.7e-6, 4.7e-5),
        "inductance": (1e-4, 2e-3),
        "choke_resistance": (0.1, 3.0),
        "bulk2": (4.7e-6, 4.7e-5),
        "load": (2.0, 15.0),
    },
    _of(
        _CHOKE_SIGNS, {name: (low, high + _RING_ALLOWANCE.get(name, 0.0)) for name, (low, high) in STEADY_ERROR.items()}
    ),
)


def stage_efficiency(half: bool) -> Formula:
    """Efficiency behind the bulk capacitor [-]: output power over mains power less the losses ahead of it.

    The losses of bridge and series resistance are found by iterating the steady state; they are 2 to 6 % of the mains
    power and move by under a tenth over 20 % of capacitance, which the band holds.
    """

    def stage(
        *, delivered: float, power: float, mains: float, frequency: float, series_resistance: float, capacitance: float
    ) -> dict[str, float]:
        drop = DIODE_DROP if half else BRIDGE_DROP
        drawn = 0.97 * power
        for _ in range(3):  # the losses are a few per cent and change little: three rounds settle to 1e-4
            found = rectifier.steady_state(
                mains, frequency, max(series_resistance, 1e-3), capacitance, drawn, drop, half_wave=half
            )
            if found is None:
                raise Collapse("at this reading the bulk capacitor could not carry the load")
            drawn += power - found.line_power
        if not 0.0 < delivered < drawn:
            raise ValueError(f"{delivered:.4g} W out of {drawn:.4g} W drawn is no efficiency: check the readings")
        return {"efficiency": delivered / drawn}

    # less current at a higher mains: less is lost ahead, more of the power is drawn by the stage
    signs = {"delivered": 1, "power": -1, "mains": -1, "frequency": 1, "series_resistance": 1}
    ranges = {**_LINE, "capacitance": (4.7e-5, 4.7e-4), "delivered": (1.0, 6.0), "power": (7.0, 12.0)}
    return Formula(stage, {"efficiency": signs}, ranges, {"efficiency": (-0.004, 0.004)})


# ---- faults ----------------------------------------------------------------------------------------------------------

_FAULT = {"mains": (85.0, 265.0), "frequency": (47.0, 63.0), "resistance": (0.1, 15.0)}


def _shorted(mains: float, frequency: float, resistance: float, inductance: float) -> dict[str, float]:
    return {"rms": line_faults.shorted(mains, frequency, max(resistance, 1e-3), inductance).rms}


def _alternate(mains: float, frequency: float, resistance: float, inductance: float) -> dict[str, float]:
    return {"rms": line_faults.bridge_diode_shorted(mains, frequency, max(resistance, 1e-3), inductance).rms}


def _reversed(mains: float, frequency: float, resistance: float, capacitance: float) -> Any:
    return line_faults.half_wave_diode_shorted(mains, frequency, max(resistance, 1e-3), capacitance)


def _steady(found: Any) -> dict[str, float]:
    if found is None:
        raise Collapse("the bulk capacitor cannot carry the load with this fault: the voltage collapses")
    return {"rms": found.line_rms, "peak": found.line_peak, "ripple": found.capacitor_rms}


def _one_pair(mains: float, frequency: float, resistance: float, capacitance: float, load: float) -> dict[str, float]:
    resistance = max(resistance, 1e-3)
    return _steady(line_faults.bridge_diode_open(mains, frequency, resistance, capacitance, load, BRIDGE_DROP))


def _lumped(mains: float, frequency: float, resistance: float, capacitance: float, load: float) -> dict[str, float]:
    resistance = max(resistance, 1e-3)
    return _steady(rectifier.steady_state(mains, frequency, resistance, capacitance, load, BRIDGE_DROP))


_SHORT_RANGES = {**_FAULT, "inductance": (0.0, 5e-3)}
_SHORT_SIGNS = {"rms": line_faults.SIGNS["rms"]}
# A short behind the parts in series; of alternate half cycles (a diode of a bridge); of a doubler's diode.
SHORT = Formula(_shorted, _SHORT_SIGNS, _SHORT_RANGES, {"rms": line_faults.ERROR["rms"]})
SHORT_ALTERNATE = Formula(_alternate, _SHORT_SIGNS, _SHORT_RANGES, {"rms": line_faults.ERROR["rms"]})
SHORT_OF_DOUBLER = Formula(_alternate, _SHORT_SIGNS, _SHORT_RANGES, {"rms": line_faults.ERROR["doubler_rms"]})
# The diode of a half-wave input shorted: the bulk takes alternating current; the load is taken as stopped.
_ALTERNATING = {"mains": 1, "frequency": 1, "resistance": -1, "capacitance": 1}
REVERSED = Formula(
    _reversed,
    {
        "rms": _ALTERNATING,
        "peak": _ALTERNATING,
        "reverse": {"mains": 1, "frequency": -1, "resistance": -1, "capacitance": -1},
    },
    {**_FAULT, "capacitance": (1e-6, 1e-4)},
    {"rms": line_faults.ERROR["rms"], "peak": line_faults.ERROR["peak"]},
)
# One pair of a bridge conducts no more: a half-wave input. The choke between two capacitors shorted: both as one.
# A small capacitor is emptied between the pulses, and a smaller one lets the load draw more: no single sign.
_PAIR = {"mains": -1, "frequency": 0, "resistance": -1, "capacitance": 0, "load": 1}
_PAIR_SIGNS = dict.fromkeys(("rms", "peak", "ripple"), _PAIR)
_PAIR_BANDS = {"rms": (-0.05, 0.05), "peak": (-0.1, 0.05), "ripple": (-0.05, 0.05)}
_PAIR_RANGES = {**_FAULT, "resistance": (0.5, 8.0), "capacitance": (4.7e-5, 4.7e-4), "load": (2.0, 10.0)}
ONE_PAIR = Formula(_one_pair, _PAIR_SIGNS, _PAIR_RANGES, _PAIR_BANDS)
LUMPED = Formula(_lumped, _PAIR_SIGNS, _PAIR_RANGES, _PAIR_BANDS)


# What the mains does at an event, as formulas: a switch-on, a dip, a re-plug, a surge.


_LINE_AT_EVENT = {"mains": (85.0, 265.0), "frequency": (47.0, 63.0)}

# ---- one bulk capacitor, and a doubler -------------------------------------------------------------------------------

# Inductance ahead spreads the pulse; over 900 random inputs to 10 mH it raised the I²t by 0.7 % at most.
_ALLOWANCE = 0.01


@lru_cache(maxsize=4096)
def _worst(
    kind: str,
    mains: float,
    frequency: float,
    series: float,
    inductance: float,
    capacitance: float,
    start: float,
    drop: float,
) -> Any:
    if kind == "doubler":
        runs = [
            doubler_switch_on(
                mains,
                frequency,
                series,
                capacitance,
                angle=k * pi / 12.0,
                start=start,
                drop=drop,
                inductance=inductance,
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
        drop=drop,
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
    if kind != "doubler":
        most = inrush.damped_bulk(
            k["mains"],
            k["frequency"],
            k["series"],
            k["capacitance"],
            start=min(k["start"], 2**0.5 * k["mains"]),
            drop=k["drop"],
            inductance=inductance,
        )
        if most is not None:  # with less inductance it rings no more
            return {"voltage_surge": most}
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
        "drop": -1,
    }
    return {name: sign for name, sign in (signs | more).items() if sign != 9}


_FLOW_SIGNS: dict[str, Signs | tuple[Signs, ...]] = {
    "current_peak": _signs(-1),
    "i2t": _signs(-1),
    # that of the sharpest pulse: the least inductance and the emptiest bulk, whichever end is asked (9: not named);
    # a corner, no signs
    "pulse_width": (_signs(1, mains=0, frequency=0, other_resistance=1, start=9, inductance=9, drop=9),),
    # alone in the path a part takes almost the same energy whatever its resistance: no single sign
    "energy": _signs(0),
    "pulse_power": _signs(0),
}
_ERROR = {
    "current_peak": inrush.INRUSH_ERROR["peak"],
    "i2t": (inrush.INRUSH_ERROR["i2t"][0], inrush.INRUSH_ERROR["i2t"][1] + _ALLOWANCE),
    "energy": (inrush.INRUSH_ERROR["energy"][0], inrush.INRUSH_ERROR["energy"][1] + _ALLOWANCE),
    "pulse_power": (-0.02, 0.01),  # twice the band of the peak
    "pulse_width": inrush.INRUSH_ERROR["equivalent_width"],
}


# A doubler's angles are run in steps of 15 degrees, and with inductance ahead its I²t rises with the frequency instead
# of falling: over 45 random ones to 5 mH, 47 to 63 Hz and every 5 degrees, I²t and energy lay 7.6 % above the figure
# at most, the peak 0.6 %. The band holds a fifth more.
_DOUBLER_ALLOWANCE = {"i2t": 0.09, "energy": 0.09, "current_peak": 0.007, "pulse_power": 0.014}
_DOUBLER_ERROR = {name: (low, high + _DOUBLER_ALLOWANCE.get(name, 0.0)) for name, (low, high) in _ERROR.items()}
# What the diodes drop while the bulk charges [V], and what resistance they add [ohm], each of those that conduct at
# once: nothing at all is the bad end of what flows, the kind end is that of a small die (common practice, no source:
# 0.6 V at an ampere to 1 V at thirty, and 30 to 100 mohm on top of that).
DIODE_AT_SWITCH_ON = (1.0, 0.1)
DROPS = (0.0, 2.0 * DIODE_AT_SWITCH_ON[0])
_CLOSING = {
    **_LINE_AT_EVENT,
    "capacitance": (4.7e-6, 2.2e-4),
    "start": (0.0, 60.0),
    "inductance": (0.0, 2e-3),
    "drop": DROPS,
}


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

    # behind millihenries the second half cycle of a doubler may be the greater at the higher frequency
    hertz = 0 if kind == "doubler" else -1
    signs = {"mains": 1, "frequency": hertz, "series": -1, "capacitance": -1, "start": -1, "inductance": 1, "drop": -1}
    # the vertex over the inductance lies between the three tried: within 1.5 % (tests/stress/test_events_input.py)
    band = (inrush.INRUSH_ERROR["bulk_peak"][0], inrush.INRUSH_ERROR["bulk_peak"][1] + 0.015)
    return Formula(
        reached,
        {"voltage_surge": signs},
        {**_CLOSING, "inductance": (0.0, 5e-3), "series": (0.5, 8.0)},
        {"voltage_surge": band},
    )


def _bare(mains: float, frequency: float, resistance: float, capacitance: float) -> Any:
    return inrush.worst_switch_on(mains, frequency, max(resistance, 1e-3), capacitance)


# A switch-on with a thermistor shorted: the inductance ahead, left out, only lowers both.
_BARE = {"mains": 1, "frequency": -1, "resistance": -1, "capacitance": 1}
BARE_SWITCH_ON = Formula(
    _bare,
    {"peak": {"mains": 1, "resistance": -1}, "i2t": _BARE},  # without inductance the peak is crest over resistance
    {**_LINE_AT_EVENT, "resistance": (0.2, 10.0), "capacitance": (4.7e-6, 2.2e-4)},
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


def _overshoot_of_two(*, softness: float, line_inductance: float, **k: float) -> dict[str, float]:
    """Greatest bulk voltages with any inductance ahead up to the one given: it is not always the most that is worst.

    softness: one over the current at which the choke saturates [1/A]; 0 a linear choke, which overshoots most
    """
    at = inf if softness < 1e-4 else 1.0 / softness  # no current here comes near ten thousand amperes
    if line_inductance > 0.0:
        runs = [_run_of_two(pi / 2.0, one, at, False, **k) for one in (0.0, line_inductance / 8.0, line_inductance)]
    else:
        runs = [_run_of_two(angle, 0.0, at, **k) for angle in _ANGLES]
    return {"bulk1": max(run.bulk1_peak for run in runs), "bulk2": max(run.bulk2_peak for run in runs)}


def _signs_of_two(resistance: int, first: int, inductance: int, choke: int, second: int) -> dict[str, int]:
    return {
        "mains": 1,
        "frequency": -1,
        "series_resistance": resistance,
        "bulk1": first,
        "inductance": inductance,
        "choke_resistance": choke,
        "bulk2": second,
        "start": -1,
        "line_inductance": -1,
        "drop": -1,
    }


_MOST_FLOWS = {**_signs_of_two(-1, 1, -1, -1, 1), "saturation": -1}
_WIDEST = {name: sign for name, sign in _MOST_FLOWS.items() if name not in ("start", "line_inductance", "drop")}
_BANDS = {name: (low, high + _CORNER_ALLOWANCE) for name, (low, high) in FILTER_ERROR.items()}
_TWO = {
    **_LINE_AT_EVENT,
    "series_resistance": (1.0, 15.0),
    "bulk1": (4.7e-6, 4.7e-5),
    "inductance": (1e-4, 2e-3),
    "choke_resistance": (0.1, 3.0),
    "bulk2": (4.7e-6, 4.7e-5),
    "start": (0.0, 60.0),
    "line_inductance": (0.0, 1e-3),
    "drop": DROPS,
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
    {**_TWO, "saturation": (0.5, 5.0)},
    {
        "current_peak": _BANDS["peak"],
        "i2t": (_BANDS["i2t"][0], _BANDS["i2t"][1] + _SPREAD_ALLOWANCE),
        "energy": (_BANDS["energy"][0], _BANDS["energy"][1] + _SPREAD_ALLOWANCE),
        "pulse_width": _BANDS["equivalent_width"],
    },
)
OVERSHOOT_KIND = {**_signs_of_two(-1, -1, 1, -1, -1), "line_inductance": 1, "softness": -1}
OVERSHOOT_OF_TWO = Formula(
    _overshoot_of_two,
    {
        "bulk1": (OVERSHOOT_KIND, {**OVERSHOOT_KIND, "bulk2": 1}),
        # with inductance ahead the second capacitor may be worst behind a great first one
        "bulk2": (OVERSHOOT_KIND, {**OVERSHOOT_KIND, "bulk1": 1}),
    },
    {**_TWO, "softness": (0.0, 2.0)},
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
    {**_LINE_AT_EVENT, "load": (1.0, 20.0), "capacitance": (2.2e-5, 4.7e-4)},
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
def _run(clamp: float, kept: float = 1.0, **k: float) -> Any:
    crest = 2**0.5 * k.pop("mains")
    return line_surge(mains=crest, start=kept * crest, clamp=clamp or None, **k)


def _mains_events_behind(*, clamp: float = 0.0, ahead: float = 0.0, **k: float) -> dict[str, float]:
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


def _over(**k: float) -> dict[str, float]:
    """wave: how much of the ideal wave a generator keeps up; the bulk never ends below the crest it held before.

    ring: 0 no inductance in the path, 1 the worst there may be; valley, crest: least voltage of the bulk while it runs
    and the crest of that mains [V], at most so far apart the bulk and the mains are as the surge comes
    """
    below = max(0.0, k.pop("crest") - k.pop("valley"))
    return {"voltage": _swung(kept=1.0, below=below, **k)}


def _over_following(**k: float) -> dict[str, float]:
    """As `_over`, where the mains is followed: a surge comes at any phase, and from nothing it swings furthest."""
    return {"voltage": max(_swung(kept=share, **k) for share in (0.0, 1.0))}


def _swung(
    *, clamp: float = 0.0, ahead: float = 0.0, wave: float, ring: float, kept: float, below: float = 0.0, **k: float
) -> float:
    """kept: share of the crest that the capacitor holds as the surge comes; below: by how much it may hold less [V].

    A path that does not ring leaves a capacitor that held less with less. One that rings carries it past the mains by
    its share of what it held less: the sum of the wave's own rise and of a step of that height, whose own crest is no
    higher than (1 + share) times it (tests/stress/test_events_surge.py steps through it).
    """
    start = kept * 2**0.5 * k["mains"]
    rise = max(0.0, wave * _run(clamp, kept, ahead=ahead, **k).bulk_peak - start)
    if ring > 0.0:
        free = max(0.0, wave * _run(0.0, kept, ahead=ahead, **k).bulk_peak - start) if clamp else rise
        share = ring_share(SOURCE_RESISTANCE + ahead + k["series_resistance"], k["capacitance"])
        most = (1.0 + share) * free + share * below
        if clamp:  # a flat-topped drive can be doubled by a ring, and no more than that
            most = min(most, 2.0 * max(0.0, clamp - start) + below)
        rise = max(rise, ring * most)
    return float(start + rise)


# Past the last current of its table a varistor rises by at most this power of the current, up to the open voltage of
# the wave. Common practice, no source: as remembered 0.03 to 0.14 over the whole way from 1 A to the surge current for
# discs of 5 to 20 mm. But the line bends up (the body of the disc adds a resistance of its own), so that the last of it
# is steeper than the whole, most with a small disc: nearly twice the mean is taken, the bad end.
STEEPEST = 0.25


def clamped_beyond(voltage: float, current: float, drive: float, resistance: float) -> float:
    """Greatest voltage of a varistor in a surge [V], from the last point of its table.

    voltage [V], current [A]: the last point; drive: open voltage of the surge on the mains [V]; resistance: source and
    what stands ahead of the varistor [ohm], above 0

    >>> round(clamped_beyond(710.0, 50.0, 1395.0, 2.0), 1), round(clamped_beyond(475.0, 0.001, 1395.0, 2.0), 1)
    (1000.6, 1394.9)
    """
    low, high = voltage, max(voltage, drive)
    for _ in range(60):  # where what the wave drives through it no longer lifts it
        x = 0.5 * (low + high)
        passed = (drive - x) / resistance
        if passed > current and voltage * (passed / current) ** STEEPEST > x:
            low = x
        else:
            high = x
    return high


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
    _mains_events_behind,
    {
        "current_peak": _ALL | {"capacitance": 1, "mains": 0},
        "i2t": _ALL | {"capacitance": 1, "mains": 0},
        # corners, no signs: a varistor that holds back less lets the pulse last longer than it grows, and one that may
        # clamp at either end makes both of them
        "pulse_width": ({"series_resistance": 0, "capacitance": 1, "clamp": 0, "level": 0, "ahead": 0},),
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
    {"voltage": _ALL | {"capacitance": -1, "wave": 1, "ring": 1, "valley": -1, "crest": 1}},
    {**_SURGE, "wave": (0.8, 1.2), "ring": (0.0, 1.0), "valley": (80.0, 120.0), "crest": (120.0, 380.0)},
)
SURGE_OVER_FOLLOWING = Formula(
    _over_following,
    {"voltage": _ALL | {"capacitance": -1, "wave": 1, "ring": 1}},
    {**_SURGE, "capacitance": (2e-8, 1e-6), "ahead": (0.0, 20.0), "wave": (0.8, 1.2), "ring": (0.0, 1.0)},
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
