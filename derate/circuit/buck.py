"""Buck and buck-boost converters: one period of inductor, switch and freewheel diode, at every way of control.

Contents: `Period`, `fixed`, `boundary`, `pulsed`, `STAGES`; `at_limit`, `available`, `settled`, `overshoot`;
`Followed`, `following`, `lost`, `drawn_ripple`.

`inverting` is the buck-boost: the inductor lies across the input while the switch conducts and across the output while
the diode does. Of a buck it stands between input and output. `up` and `down` are the voltages across the inductor in
the two parts of a period, drops of switch, sense resistor, copper and diode taken off or added. Own derivation from
volt-seconds and charge; held to ngspice 39 in the tests.
"""

from __future__ import annotations

from functools import lru_cache
from math import asin, cos, exp, inf, pi, sin, sqrt
from typing import NamedTuple

from derate.circuit.numerics import Band, in_range
from derate.terms.values import Collapse, Formula, Signs, giving

MODES = ("fixed frequency", "boundary", "burst")
LIMITED = "limited"  # a boundary control whose limit sets the current of its load


class Period(NamedTuple):
    """One period, or of a control that skips periods the mean of many.

    peak, valley: of the inductor's current [A]; swing: peak less valley; duty: share of the period the switch is on
    frequency: of the pulses [Hz]; inductor_rms, switch_rms, diode_rms, switch_average, diode_average [A]
    capacitor_rms: ripple current of the output capacitor [A]
    """

    peak: float
    valley: float
    swing: float
    duty: float
    frequency: float
    inductor_rms: float
    switch_rms: float
    switch_average: float
    diode_rms: float
    diode_average: float
    capacitor_rms: float


def _slopes(bulk: float, output: float, drop: float, on_drop: float, inverting: bool) -> tuple[float, float]:
    """Voltage across the inductor while the switch is on, and while the diode conducts [V]."""
    in_range("input voltage", bulk, 5.0, 1000.0, "V")
    in_range("output voltage", output, 0.5, 600.0, "V")
    in_range("drop of the diode", drop, 0.0, 50.0, "V")
    in_range("drop of the switch", on_drop, 0.0, 100.0, "V")
    up = bulk - on_drop - (0.0 if inverting else output)
    if up <= 0.0:
        raise Collapse(f"an input of {bulk:.4g} V does not reach an output of {output:.4g} V: the switch stays on")
    return up, output + drop


def _choke(inductance: float, current: float) -> None:
    in_range("inductance", inductance, 1e-6, 1.0, "H")
    in_range("output current", current, 1e-4, 20.0, "A")


def _period(
    peak: float, valley: float, on: float, off: float, frequency: float, current: float, inverting: bool
) -> Period:
    """What flows, from two straight lines: valley to peak for a share `on`, back for a share `off`, then nothing."""
    mean, square = (peak + valley) / 2.0, (peak * peak + peak * valley + valley * valley) / 3.0
    rms = sqrt((on + off) * square)
    into = off * square if inverting else (on + off) * square
    return Period(
        peak,
        valley,
        peak - valley,
        on,
        frequency,
        rms,
        sqrt(on * square),
        on * mean,
        sqrt(off * square),
        off * mean,
        sqrt(max(0.0, into - current * current)),
    )


def fixed(
    *,
    bulk: float,
    output: float,
    drop: float,
    on_drop: float,
    inductance: float,
    current: float,
    frequency: float,
    inverting: bool = False,
) -> Period:
    """A fixed frequency with an output current, continuous or discontinuous.

    bulk 5 to 1000 V, output 0.5 to 600 V, inductance 1 uH to 1 H, current 0.1 mA to 20 A, frequency 1 kHz to 5 MHz.
    Raises Collapse where a buck's input does not reach its output.

    Continuous: duty D = down / (up + down), swing = up D / (L f), mean of the inductor the output current, of a
    buck-boost that over 1 - D. Discontinuous, where half the swing is more than the mean: the output current is the
    mean of the triangle, I = peak² L f (1/up + 1/down) / 2, of a buck-boost of its falling part alone.

    >>> found = fixed(bulk=325.0, output=12.0, drop=0.8, on_drop=0.0, inductance=1e-3, current=0.12, frequency=66e3)
    >>> round(1e3 * found.swing), round(1e3 * found.peak), round(1e3 * found.valley)
    (186, 213, 27)
    """
    up, down = _slopes(bulk, output, drop, on_drop, inverting)
    _choke(inductance, current)
    in_range("switching frequency", frequency, 1e3, 5e6, "Hz")
    duty = down / (up + down)
    swing = up * duty / (inductance * frequency)
    mean = current / (1.0 - duty) if inverting else current
    if mean >= swing / 2.0:
        return _period(mean + swing / 2.0, mean - swing / 2.0, duty, 1.0 - duty, frequency, current, inverting)
    share = 1.0 / down + (0.0 if inverting else 1.0 / up)
    peak = sqrt(2.0 * current / (inductance * frequency * share))
    on, off = (inductance * peak * frequency / volts for volts in (up, down))
    return _period(peak, 0.0, on, off, frequency, current, inverting)


def boundary(
    *,
    bulk: float,
    output: float,
    drop: float,
    on_drop: float,
    inductance: float,
    current: float,
    rest: float,
    inverting: bool = False,
) -> Period:
    """Critical conduction: each period begins when the inductor has run empty, a `rest` [s] later.

    Ranges as `fixed`; rest 0 to 1 ms. Without rest the peak is twice the mean of the inductor and the frequency
    1 / (L peak (1/up + 1/down)). With it I (L peak (1/up + 1/down) + rest) = L peak² (1/up + 1/down) / 2, of a
    buck-boost with 1/down alone on the right.

    >>> found = boundary(bulk=325.0, output=80.0, drop=0.9, on_drop=0.0, inductance=2e-3, current=0.12, rest=0.0)
    >>> round(1e3 * found.peak), round(found.frequency / 1e3, 1), round(1e3 * found.switch_rms)
    (240, 126.7, 69)
    """
    up, down = _slopes(bulk, output, drop, on_drop, inverting)
    _choke(inductance, current)
    in_range("rest", rest, 0.0, 1e-3, "s")
    whole = inductance * (1.0 / up + 1.0 / down)
    pays = inductance / down if inverting else whole
    half = current * whole / pays
    peak = half + sqrt(half * half + 2.0 * current * rest / pays)
    length = peak * whole + rest
    on, off = (inductance * peak / volts / length for volts in (up, down))
    return _period(peak, 0.0, on, off, 1.0 / length, current, inverting)


def limited(
    *,
    bulk: float,
    output: float,
    drop: float,
    on_drop: float,
    inductance: float,
    peak: float,
    rest: float,
    inverting: bool = False,
) -> Period:
    """Critical conduction whose limit ends each pulse, as in a lamp driver: the peak is given, the load takes the rest.

    Ranges as `boundary`; peak [A]: the limit with what its delay adds.

    >>> found = limited(bulk=325.0, output=80.0, drop=0.9, on_drop=0.0, inductance=2e-3, peak=0.24, rest=0.0)
    >>> round(1e3 * found.inductor_rms), round(found.frequency / 1e3, 1)
    (139, 126.7)
    """
    up, down = _slopes(bulk, output, drop, on_drop, inverting)
    _choke(inductance, peak)
    in_range("rest", rest, 0.0, 1e-3, "s")
    length = inductance * peak * (1.0 / up + 1.0 / down) + rest
    on, off = (inductance * peak / volts / length for volts in (up, down))
    return _period(peak, 0.0, on, off, 1.0 / length, peak / 2.0 * (off + (0.0 if inverting else on)), inverting)


class Pulsed(NamedTuple):
    """A control that runs whole pulses up to its limit and skips others: between evenly spread and bunched pulses.

    Names as `Period`; `least_` of pulses spread evenly, the others of pulses in one row.
    """

    peak: float
    valley: float
    swing: float
    duty: float
    frequency: float
    least_inductor_rms: float
    inductor_rms: float
    least_switch_rms: float
    switch_rms: float
    switch_average: float
    least_diode_rms: float
    diode_rms: float
    diode_average: float
    least_capacitor_rms: float
    capacitor_rms: float


def pulsed(
    *,
    bulk: float,
    output: float,
    drop: float,
    on_drop: float,
    inductance: float,
    current: float,
    peak: float,
    frequency: float,
    inverting: bool = False,
) -> Pulsed:
    """On and off control at a current limit: every pulse ends at the peak, and pulses are skipped.

    Ranges as `fixed`; peak [A]: limit with what its delay adds; frequency: of pulses that are not skipped.
    Raises Collapse where pulses in every period do not bring the current.

    Charge alone gives the means. The mean square is least where pulses are spread evenly, 2/3 peak mean up to half the
    peak and mean² + (peak - mean)² / 3 above, and most where all of them follow each other: mean times (m + s² / 12 m)
    with s the swing in one period and m = peak - s / 2, or 2/3 peak where each begins at nothing. Rising and falling
    parts share it as their times do, as down to up.

    >>> found = pulsed(bulk=325.0, output=12.0, drop=0.7, on_drop=0.0, inductance=1e-3, current=0.12, peak=0.257,
    ...     frequency=66e3)
    >>> round(1e3 * found.least_inductor_rms), round(1e3 * found.inductor_rms)
    (143, 148)
    """
    up, down = _slopes(bulk, output, drop, on_drop, inverting)
    _choke(inductance, current)
    in_range("peak current", peak, 1e-4, 50.0, "A")
    in_range("switching frequency", frequency, 1e3, 5e6, "Hz")
    on = down / (up + down)
    swing = min(peak, up * on / (inductance * frequency))
    most = available_at(peak, up, down, inductance, frequency, inverting)
    if most < current:
        raise Collapse(f"pulses up to {peak:.4g} A in every period bring {most:.4g} A and not {current:.4g} A")
    mean = current / (1.0 - on) if inverting else current
    centre = peak - swing / 2.0
    bunched = mean * (2.0 / 3.0 * peak if swing >= peak else centre + swing * swing / (12.0 * centre))
    spread = 2.0 / 3.0 * peak * mean if mean <= peak / 2.0 else mean * mean + (peak - mean) ** 2 / 3.0
    spread = min(spread, bunched)
    into = (1.0 - on) if inverting else 1.0

    def rms(share: float, square: float, less: float = 0.0) -> float:
        return sqrt(max(0.0, share * square - less * less))

    low = max(0.0, 2.0 * mean - peak)  # where evenly spread pulses turn round
    return Pulsed(
        peak,
        low,
        peak - low,
        on,
        frequency,
        rms(1.0, spread),
        rms(1.0, bunched),
        rms(on, spread),
        rms(on, bunched),
        on * mean,
        rms(1.0 - on, spread),
        rms(1.0 - on, bunched),
        (1.0 - on) * mean,
        rms(into, spread, current),
        rms(into, bunched, current),
    )


# ---- the current limit -----------------------------------------------------------------------------------------------


def at_limit(*, bulk: float, limit: float, delay: float, inductance: float) -> float:
    """Peak at the limit with what its delay adds into an empty output [A]: limit + bulk × delay / inductance.

    bulk 5 to 1000 V, delay 0 to 1 ms. A running output takes its own voltage off the bulk.

    >>> round(1e3 * at_limit(bulk=373.0, limit=0.275, delay=200e-9, inductance=1e-3))
    350
    """
    in_range("input voltage", bulk, 0.0, 1000.0, "V")
    in_range("current limit", limit, 0.0, 50.0, "A")
    in_range("delay of the limit", delay, 0.0, 1e-3, "s")
    in_range("inductance", inductance, 1e-6, 1.0, "H")
    return limit + bulk * delay / inductance


def pulse_peak(*, bulk: float, output: float, limit: float, delay: float, inductance: float) -> float:
    """Peak of a pulse that ends at the limit while it runs [A]: what is above the output drives it, of a buck-boost 0.

    >>> round(1e3 * pulse_peak(bulk=373.0, output=12.0, limit=0.275, delay=200e-9, inductance=1e-3))
    347
    """
    return at_limit(bulk=max(0.0, bulk - output), limit=limit, delay=delay, inductance=inductance)


def stands(*, bulk: float, output: float, drop: float, ringing: float = 1.0) -> float:
    """What a switch or a freewheel diode blocks [V]: the bulk, what of output and drop lies on top, and its ringing.

    ringing: crest over the flat part, no less than 1

    >>> stands(bulk=375.0, output=12.0, drop=1.0)
    388.0
    """
    return (bulk + output + drop) * max(1.0, ringing)


def into_a_short(*, mains: float, resistance: float) -> float:
    """Rms current that the mains drives through a rectifier into resistance alone [A]: mains / resistance.

    >>> into_a_short(mains=207.0, resistance=20.7)
    10.0
    """
    in_range("mains voltage", mains, 10.0, 500.0, "V")
    in_range("resistance", resistance, 0.0, 1e6, "ohm", open_low=True)
    return mains / resistance


def switched(*, rms: float, average: float) -> float:
    """Switching current of the bulk capacitor [A]: what the switch draws less its mean, which the mains brings.

    >>> round(switched(rms=0.05, average=0.03), 3)
    0.04
    """
    return sqrt(max(0.0, rms * rms - average * average))


def available_at(peak: float, up: float, down: float, inductance: float, frequency: float, inverting: bool) -> float:
    """Output current with a pulse up to the peak in every period [A].

    Continuous where the swing up D / (L f) is less than the peak: peak - swing / 2, of a buck-boost times 1 - D. Else
    the triangle peak² L f (1/up + 1/down) / 2, of a buck-boost its falling part.
    """
    on = down / (up + down)
    swing = up * on / (inductance * frequency)
    if swing <= peak:
        return (peak - swing / 2.0) * (1.0 - on if inverting else 1.0)
    return peak * peak * inductance * frequency * (1.0 / down + (0.0 if inverting else 1.0 / up)) / 2.0


def available(
    *,
    bulk: float,
    output: float,
    drop: float,
    on_drop: float,
    inductance: float,
    limit: float,
    delay: float,
    frequency: float,
    inverting: bool = False,
) -> float:
    """Most output current at the limit and its delay, a pulse in every period [A]; ranges as `fixed`.

    >>> of = {"drop": 0.8, "on_drop": 0.0, "inductance": 1e-3, "delay": 0.0, "frequency": 66e3}
    >>> round(1e3 * available(bulk=325.0, output=12.0, limit=0.257, **of))
    164
    """
    up, down = _slopes(bulk, output, drop, on_drop, inverting)
    peak = at_limit(bulk=up, limit=limit, delay=delay, inductance=inductance)
    return available_at(peak, up, down, inductance, frequency, inverting)


def set_current(
    *,
    bulk: float,
    output: float,
    drop: float,
    on_drop: float,
    inductance: float,
    limit: float,
    delay: float,
    rest: float,
    inverting: bool = False,
) -> float:
    """Output current that a limit sets in critical conduction [A]: half the peak, less what the rest takes.

    >>> of = {"drop": 0.0, "on_drop": 0.0, "inductance": 2e-3, "delay": 0.0, "rest": 0.0}
    >>> set_current(bulk=325.0, output=80.0, limit=0.24, **of)
    0.12
    """
    up, down = _slopes(bulk, output, drop, on_drop, inverting)
    peak = at_limit(bulk=up, limit=limit, delay=delay, inductance=inductance)
    whole = inductance * peak * (1.0 / up + 1.0 / down)
    pays = inductance * peak / down if inverting else whole
    return peak / 2.0 * pays / (whole + rest)


UNSETTLED = 1e6  # more than any part carries [A]: of a current that climbs for ever


def settled(
    *, bulk: float, drop: float, inductance: float, resistance: float, limit: float, delay: float, off: float
) -> float:
    """Peak current into a shorted output once it has settled [A]; `UNSETTLED` where nothing settles it.

    bulk 5 to 1000 V; drop [V]: of the diode, all that is left to bring the current down; resistance [ohm]: of the
    inductor and the way round, 0 for none; off [s]: for which the switch stays off after each pulse.

    The switch cannot be on for less than the delay of its limit. Each such pulse adds bulk delay / L and each pause
    takes drop off / L and what the resistance drops: where more is added than taken the current climbs past the limit
    until the resistance holds it. Exponentials of R / L in both parts; with v where it settles at the shortest pulse,
    the peak is what the delay adds to the limit or to v, whichever is more.

    >>> round(settled(bulk=375.0, drop=0.8, inductance=1e-3, resistance=3.0, limit=0.27, delay=3e-7, off=1.48e-5), 3)
    2.278
    >>> settled(bulk=375.0, drop=0.8, inductance=1e-3, resistance=0.0, limit=0.27, delay=3e-7, off=1.48e-5) == UNSETTLED
    True
    """
    in_range("input voltage", bulk, 5.0, 1000.0, "V")
    in_range("drop of the diode", drop, 0.0, 50.0, "V")
    in_range("inductance", inductance, 1e-6, 1.0, "H")
    in_range("resistance of the inductor", resistance, 0.0, 1e4, "ohm")
    in_range("delay of the limit", delay, 0.0, 1e-3, "s")
    in_range("pause", off, 0.0, 1.0, "s")
    rise, fall = bulk * delay / inductance, drop * off / inductance
    if resistance <= 1e-6:
        return UNSETTLED if rise > fall else limit + rise
    rate = resistance / inductance
    on_kept, off_kept = exp(-rate * delay), exp(-rate * off)
    rise = bulk / resistance * (1.0 - on_kept)
    fall = drop / resistance * (1.0 - off_kept)
    # valley -> rise + valley on_kept -> times off_kept less fall: where it comes back to itself
    valley = (off_kept * rise - fall) / (1.0 - on_kept * off_kept)
    return rise + on_kept * max(limit, valley)


def overshoot(*, output: float, inductance: float, peak: float, capacitance: float) -> float:
    """Output voltage once all that the inductor holds has gone into its capacitor, the load gone [V].

    √(output² + L peak² / C); the drop of the diode only lowers it.

    >>> round(overshoot(output=12.0, inductance=1e-3, peak=0.35, capacitance=100e-6), 3)
    12.051
    """
    in_range("output capacitance", capacitance, 1e-9, 1.0, "F")
    return sqrt(output * output + inductance * peak * peak / capacitance)


# ---- an input without bulk capacitor ---------------------------------------------------------------------------------


class Followed(NamedTuple):
    """A converter that follows the rectified mains, over one half cycle.

    peak [A], duty: the greatest; inductor, switch, diode: rms and average [A]; capacitor_rms: of the output capacitor,
    both frequencies together [A]; capacitor_slow: of twice the mains frequency alone [A]
    line_rms, line_peak: of what the mains gives once the switching ripple is filtered, with what capacitors across it
        and across the rectified mains take [A]
    line_average: mean of that, rectified [A]; charge: taken from and given back to the output capacitor in a half cycle
        [As]; on_time [s]; frequency: mean of the periods over the half cycle, least_frequency: of the slowest,
        most_frequency: of those with next to nothing to drive them [Hz]
    """

    peak: float
    duty: float
    inductor_rms: float
    switch_rms: float
    switch_average: float
    diode_rms: float
    diode_average: float
    capacitor_rms: float
    capacitor_slow: float
    line_rms: float
    line_peak: float
    line_average: float
    charge: float
    on_time: float
    frequency: float
    least_frequency: float
    most_frequency: float


ANGLES = 96  # parts of a half cycle: a sum of mid-points of a squared sine is exact, of its corners within 0.05 %


def following(
    *,
    mains: float,
    line_frequency: float,
    output: float,
    drop: float,
    on_drop: float,
    inductance: float,
    current: float,
    frequency: float = 0.0,
    capacitance: float = 0.0,
    inverting: bool = False,
) -> Followed:
    """A constant on-time behind a rectifier without bulk capacitor, in critical conduction or at a fixed frequency.

    mains [V rms] 10 to 500, line_frequency [Hz]; current: mean of the output [A]; frequency [Hz]: 0 for critical
    conduction; capacitance [F]: of all that lies across the mains, rectified or not. A buck conducts only while the
    mains stands above its output. Raises Collapse where it never does, and where a fixed frequency would have to run
    continuously at the crest: that is not of this form.

    Peak of each period up(angle) t / L; critical conduction gives half of it (a buck-boost that times its off share),
    so that all is in proportion to t; a fixed frequency gives peak² L f (1/up + 1/down) / 2, in proportion to t².
    A capacitor takes 2 pi f C V a quarter of a period ahead: squares add. Behind a rectifier that blocks as the mains
    falls it takes no more, and the line never carries less than the stage draws.
    """
    in_range("mains voltage", mains, 10.0, 500.0, "V")
    in_range("mains frequency", line_frequency, 10.0, 1000.0, "Hz")
    in_range("output voltage", output, 0.5, 600.0, "V")
    _choke(inductance, current)
    down = output + drop
    ups = [
        max(0.0, sqrt(2.0) * mains * sin((k + 0.5) * pi / ANGLES) - on_drop - (0.0 if inverting else output))
        for k in range(ANGLES)
    ]
    if max(ups) <= 0.0:
        raise Collapse(f"the crest of {mains:.4g} V does not reach an output of {output:.4g} V")
    unit = sum(_given(up, down, inductance, 1.0, frequency, inverting) for up in ups) / ANGLES
    on = current / unit if not frequency else sqrt(current / unit)
    columns = [_at_angle(up, down, inductance, on, frequency, inverting) for up in ups]
    if frequency and max(on_share + off_share for _, on_share, off_share in columns) > 1.0:
        raise Collapse("at the crest the current would not come to nothing: continuous there, which is not worked out")
    square = [peak * peak / 3.0 for peak, _, _ in columns]
    given = [peak / 2.0 * (off + (0.0 if inverting else of)) for peak, of, off in columns]
    drawn = [peak / 2.0 * of for peak, of, _ in columns]

    def mean(values: list[float]) -> float:
        return sum(values) / ANGLES

    switch = mean([s * of for s, (_, of, _) in zip(square, columns, strict=True)])
    diode = mean([s * off for s, (_, _, off) in zip(square, columns, strict=True)])
    into = diode if inverting else switch + diode
    slow = mean([one * one for one in given]) - current * current
    half = 0.5 / line_frequency
    beside = 2.0 * pi * line_frequency * capacitance * mains
    aside = [sqrt(2.0) * beside * cos((k + 0.5) * pi / ANGLES) for k in range(ANGLES)]
    return Followed(
        max(peak for peak, _, _ in columns),
        max(of for _, of, _ in columns),
        sqrt(switch + diode),
        sqrt(switch),
        mean(drawn),
        sqrt(diode),
        mean([peak / 2.0 * off for peak, _, off in columns]),
        sqrt(max(0.0, into - current * current)),
        sqrt(max(0.0, slow)),
        sqrt(mean([one * one for one in drawn]) + beside * beside),
        max(one + other for one, other in zip(drawn, aside, strict=True)),
        mean(drawn),
        mean([max(0.0, one - current) for one in given]) * half,
        on,
        frequency or _mean_frequency(sqrt(2.0) * mains, on_drop + (0.0 if inverting else output), down, inductance, on),
        frequency or min(share for _, share, _ in columns if share > 0.0) / on,
        frequency or 1.0 / on,
    )


def _mean_frequency(crest: float, under: float, down: float, inductance: float, on: float) -> float:
    """Mean of the periods of critical conduction over a half cycle, nothing while the mains stands below `under`.

    A period is shortest just where conduction begins, and there is none below it: mid-points over the whole half cycle
    step by a fiftieth of it as that angle passes one of them. They lie between the two ends of conduction instead.
    """
    begins = asin(max(under, 0.0) / crest)
    window = pi - 2.0 * begins
    ups = [max(0.0, crest * sin(begins + (k + 0.5) * window / ANGLES) - under) for k in range(ANGLES)]
    return window / pi * sum(_at_angle(up, down, inductance, on, 0.0, False)[1] for up in ups) / ANGLES / on


def _at_angle(
    up: float, down: float, inductance: float, on: float, frequency: float, inverting: bool
) -> tuple[float, float, float]:
    """Peak, and the shares of its period for which switch and diode conduct."""
    if up <= 0.0:
        return 0.0, 0.0, 0.0
    peak = up * on / inductance
    off = inductance * peak / down
    length = 1.0 / frequency if frequency else on + off
    return peak, on / length, off / length


def _given(up: float, down: float, inductance: float, on: float, frequency: float, inverting: bool) -> float:
    peak, of, off = _at_angle(up, down, inductance, on, frequency, inverting)
    return peak / 2.0 * (off + (0.0 if inverting else of))


# ---- loss of the switch ----------------------------------------------------------------------------------------------


def lost(
    *,
    rms: float,
    resistance: float,
    bulk: float,
    peak: float,
    valley: float,
    edge: float,
    frequency: float,
    capacitance: float,
    recovery: float,
) -> float:
    """Loss of a switch that closes onto the freewheel diode at the whole input [W].

    rms² R, edges (valley + peak) bulk edge f / 2, capacitance of the node C bulk² f / 2, and what the diode takes to
    recover, valley times recovery time, at the whole bulk. The rms current already holds the duty.

    >>> round(lost(rms=0.05, resistance=30.0, bulk=375.0, peak=0.25, valley=0.0, edge=50e-9, frequency=66e3,
    ...     capacitance=50e-12, recovery=75e-9), 2)
    0.46
    """
    edges = 0.5 * (peak + valley) * bulk * edge * frequency
    return (
        rms * rms * resistance
        + edges
        + 0.5 * capacitance * bulk * bulk * frequency
        + valley * recovery * bulk * frequency
    )


def drawn_ripple(
    *, bulk: float, output: float, drop: float, on_drop: float, inductance: float, current: float, frequency: float
) -> float:
    """What a buck of fixed frequency draws beside its mean [A rms]: what capacitors ahead of it carry between them.

    √(rms² − mean²) of its switch; ranges as `fixed`. Source: own derivation, charge balance of those capacitors.

    >>> of = {"drop": 0.0, "on_drop": 0.0, "inductance": 1e-2, "frequency": 1e5}
    >>> round(drawn_ripple(bulk=10.0, output=5.0, current=2.0, **of), 3)
    1.0
    """
    found = fixed(
        bulk=bulk,
        output=output,
        drop=drop,
        on_drop=on_drop,
        inductance=inductance,
        current=current,
        frequency=frequency,
    )
    return sqrt(max(0.0, found.switch_rms**2 - found.switch_average**2))


# ---- signs and bands -------------------------------------------------------------------------------------------------

_RANGES = {
    "bulk": (90.0, 400.0),
    "output": (3.0, 250.0),
    "drop": (0.3, 2.0),
    "on_drop": (0.0, 5.0),
    "inductance": (3e-4, 5e-3),
    "current": (0.02, 0.3),
    "frequency": (2e4, 2e5),
    "rest": (0.0, 2e-6),
    "peak": (0.4, 2.0),
    "limit": (0.1, 1.0),
    "delay": (0.0, 5e-7),
}
# true / computed - 1, measured on random circuits in ngspice (tests/circuit/test_buck_live.py). What charges the node
# is brought to the inductor and not carried by the switch: where it is on for a few tenths of a microsecond
# that is up to a third of its current, which lowers the kind end alone. An empty inductor rings with the node, and
# carries up to 2.4 % more for it. A diode recovers and drops as it likes.
BANDS: dict[str, Band] = {
    "peak": (-0.03, 0.01),
    "valley": (-0.05, 0.05),
    "swing": (-0.04, 0.02),
    "duty": (-0.35, 0.02),
    "frequency": (-0.03, 0.03),
    "inductor_rms": (-0.02, 0.03),
    "switch_rms": (-0.35, 0.01),
    "switch_average": (-0.35, 0.01),
    "diode_rms": (-0.03, 0.015),
    "diode_average": (-0.03, 0.015),
    "capacitor_rms": (-0.05, 0.03),
}
# Way of control, buck-boost or not -> output -> sign by input. A buck's swing is greatest at half its input, and the
# rms of its switch at 1.5 times its output: where these lie inside a range the callers look there besides.
_UP = {"bulk": 1, "output": 0, "drop": 1, "on_drop": -1}
_DOWN = {"bulk": -1, "output": 1, "drop": 1, "on_drop": 1}
_SPREAD = {"bulk": 0, "output": 0, "drop": 0, "on_drop": 0}
_DIODE = {"bulk": 1, "output": -1, "drop": -1, "on_drop": -1}
_AT = {"current": 1, "inductance": -1, "frequency": -1}
_EMPTY = {"current": 1, "inductance": -1, "rest": 1}
_PEAKED = {"inductance": 1, "peak": 1, "rest": -1}
_ENDING = {"current": 1, "inductance": 1, "frequency": 1, "peak": 1}
SIGNS_OF_CONTROL: dict[tuple[str, bool], dict[str, Signs]] = {
    ("fixed frequency", False): {
        "peak": _UP | _AT,
        "swing": _UP | _AT,
        "valley": {"bulk": -1, "output": 0, "drop": -1, "on_drop": 1, "current": 1, "inductance": 1, "frequency": 1},
        "duty": _DOWN | {"current": 1, "inductance": 1, "frequency": 1},
        "inductor_rms": _UP | _AT,
        "switch_rms": {"bulk": 0, "output": 0, "drop": 1, "on_drop": 0} | _AT,
        "switch_average": _DOWN | {"current": 1},
        "diode_rms": _UP | {"drop": 0} | _AT,
        "diode_average": _DIODE | {"current": 1},
        "capacitor_rms": _UP | _AT,
    },
    ("fixed frequency", True): {
        "peak": _DOWN | _AT,
        "swing": {"bulk": 1, "output": 1, "drop": 1, "on_drop": -1} | _AT,
        "valley": _SPREAD | {"bulk": -1, "on_drop": 1, "current": 1, "inductance": 1, "frequency": 1},
        "duty": _DOWN | {"current": 1, "inductance": 1, "frequency": 1},
        "inductor_rms": _DOWN | _AT,
        "switch_rms": _DOWN | _AT,
        "switch_average": _DOWN | {"current": 1},
        "diode_rms": _DOWN | _AT,
        "diode_average": {"current": 1},
        "capacitor_rms": _DOWN | _AT,
    },
    ("boundary", False): {
        "peak": _UP | _EMPTY,
        "swing": _UP | _EMPTY,
        "duty": _DOWN | {"current": 1, "inductance": 1, "rest": -1},
        "frequency": _UP | {"current": -1, "inductance": -1, "rest": -1},
        "inductor_rms": _UP | _EMPTY,
        "switch_rms": {"bulk": 0, "output": 0, "drop": 1, "on_drop": 0} | _EMPTY,
        "switch_average": _DOWN | {"current": 1},
        "diode_rms": _UP | {"drop": 0} | _EMPTY,
        "diode_average": _DIODE | {"current": 1},
        "capacitor_rms": _UP | _EMPTY,
    },
    ("boundary", True): {
        "peak": _DOWN | _EMPTY,
        "swing": _DOWN | _EMPTY,
        "duty": _DOWN | {"current": 1, "inductance": 1, "rest": -1},
        "frequency": {"bulk": 1, "output": 0, "drop": 0, "on_drop": -1, "current": -1, "inductance": -1, "rest": -1},
        "inductor_rms": _DOWN | _EMPTY,
        "switch_rms": _DOWN | _EMPTY,
        "switch_average": _DOWN | {"current": 1},
        "diode_rms": _DOWN | _EMPTY,
        "diode_average": {"current": 1},
        "capacitor_rms": _DOWN | _EMPTY,
    },
    (LIMITED, False): {
        "peak": {"peak": 1},
        "swing": {"peak": 1},
        "duty": _DOWN | _PEAKED,
        "frequency": _UP | {"inductance": -1, "peak": -1, "rest": -1},
        "inductor_rms": {"bulk": -1, "output": 0, "drop": -1, "on_drop": 1} | _PEAKED,
        "switch_rms": _DOWN | _PEAKED,
        "switch_average": _DOWN | _PEAKED,
        "diode_rms": _DIODE | _PEAKED,
        "diode_average": _DIODE | _PEAKED,
        "capacitor_rms": _SPREAD | {"inductance": 0, "peak": 1, "rest": 0},
    },
    (LIMITED, True): {
        "peak": {"peak": 1},
        "swing": {"peak": 1},
        "duty": _DOWN | _PEAKED,
        "frequency": {"bulk": 1, "output": 0, "drop": 0, "on_drop": -1, "inductance": -1, "peak": -1, "rest": -1},
        "inductor_rms": {"bulk": -1, "output": -1, "drop": -1, "on_drop": 1} | _PEAKED,
        "switch_rms": _DOWN | _PEAKED,
        "switch_average": _DOWN | _PEAKED,
        "diode_rms": _DIODE | _PEAKED,
        "diode_average": _DIODE | _PEAKED,
        "capacitor_rms": _SPREAD | {"inductance": 0, "peak": 1, "rest": 0},
    },
    ("burst", False): {
        "peak": {"peak": 1},
        "swing": {"peak": 1, "current": -1},
        "valley": {"peak": -1, "current": 1},
        "duty": _DOWN,
        "least_inductor_rms": {"current": 1, "peak": 1},
        "inductor_rms": {"bulk": -1, "output": 0, "drop": -1, "on_drop": 1} | _ENDING,
        "least_switch_rms": _DOWN | {"current": 1, "peak": 1},
        "switch_rms": _DOWN | _ENDING,
        "switch_average": _DOWN | {"current": 1},
        "least_diode_rms": _DIODE | {"current": 1, "peak": 1},
        "diode_rms": _DIODE | _ENDING,
        "diode_average": _DIODE | {"current": 1},
        "least_capacitor_rms": {"current": 0, "peak": 1},
        "capacitor_rms": {"bulk": -1, "output": 0, "drop": -1, "on_drop": 1} | _ENDING | {"current": 0},
    },
    ("burst", True): {
        "peak": {"peak": 1},
        "swing": {"bulk": 1, "output": -1, "drop": -1, "on_drop": -1, "peak": 1, "current": -1},
        "valley": _DOWN | {"peak": -1, "current": 1},
        "duty": _DOWN,
        "least_inductor_rms": _DOWN | {"current": 1, "peak": 1},
        "inductor_rms": _SPREAD | {"bulk": -1, "on_drop": 1} | _ENDING,
        "least_switch_rms": _DOWN | {"current": 1, "peak": 1},
        "switch_rms": _DOWN | _ENDING,
        "switch_average": _DOWN | {"current": 1},
        "least_diode_rms": _DOWN | {"current": 1, "peak": 1},
        "diode_rms": {"bulk": -1, "output": -1, "drop": -1, "on_drop": 1} | _ENDING,
        "diode_average": {"current": 1},
        "least_capacitor_rms": _DOWN | {"current": 0, "peak": 1},
        "capacitor_rms": {"bulk": -1, "output": -1, "drop": -1, "on_drop": 1} | _ENDING | {"current": 0},
    },
}
_OWN = {
    "fixed frequency": ("current", "frequency"),
    "boundary": ("current", "rest"),
    LIMITED: ("peak", "rest"),
    "burst": ("current", "peak", "frequency"),
}
_SOLVE = {"fixed frequency": fixed, "boundary": boundary, LIMITED: limited, "burst": pulsed}


def _stage(mode: str, inverting: bool) -> Formula:
    solve = _SOLVE[mode]

    @lru_cache(maxsize=4096)  # several rows ask for the same corners, one after the other
    def solved(**inputs: float) -> Period | Pulsed:
        return solve(inverting=inverting, **inputs)  # type: ignore[operator, no-any-return]

    signs = SIGNS_OF_CONTROL[mode, inverting]
    names = ("bulk", "output", "drop", "on_drop", "inductance", *_OWN[mode])
    exact = ("peak", "swing", "valley") if mode in ("burst", LIMITED) else ()  # the peak is given there
    bands = {name: BANDS[name.removeprefix("least_")] for name in signs if name not in exact}
    return Formula(solved, signs, {name: _RANGES[name] for name in names}, bands)


STAGES: dict[tuple[str, bool], Formula] = {
    (mode, inverting): _stage(mode, inverting) for mode in (*MODES, LIMITED) for inverting in (False, True)
}


def _giving(output: str, function: object, signs: Signs, band: Band | None = None) -> Formula:
    ranges = {name: _RANGES[name] if name in _RANGES else _MORE[name] for name in signs}
    return giving(output, function, signs, ranges, band)  # type: ignore[arg-type]


_MORE = {
    "resistance": (0.5, 10.0),
    "off": (2e-6, 5e-5),
    "capacitance": (1e-6, 1e-3),
    "mains": (90.0, 270.0),
    "line_frequency": (47.0, 63.0),
    "rms": (0.01, 1.0),
    "valley": (0.0, 0.4),
    "edge": (1e-8, 2e-7),
    "recovery": (2e-8, 3e-7),
}
DRAWN = _giving(
    "drawn",
    drawn_ripple,
    {"bulk": 0, "output": 0, "drop": 0, "on_drop": 0, "inductance": -1, "current": 1, "frequency": -1},
    (-0.36, 0.02),  # as of the switch; near half the input it hardly hangs on the duty
)
AT_LIMIT = _giving("peak", at_limit, {"bulk": 1, "limit": 1, "delay": 1, "inductance": -1}, (-0.02, 0.01))
PULSE_PEAK = _giving(
    "peak", pulse_peak, {"bulk": 1, "output": -1, "limit": 1, "delay": 1, "inductance": -1}, (-0.02, 0.01)
)
_BLOCKED = {"bulk": (100.0, 400.0), "output": (0.0, 90.0), "drop": (0.0, 2.0)}
STANDS = giving("voltage", stands, {"bulk": 1, "output": 1, "drop": 1}, _BLOCKED)
STANDS_RINGING = giving(
    "voltage", stands, {"bulk": 1, "output": 1, "drop": 1, "ringing": 1}, {**_BLOCKED, "ringing": (1.0, 2.0)}
)
# Of a diode whose ringing nobody knows the flat part is the least that it blocks.
STANDS_AT_LEAST = giving("voltage", stands, {"bulk": 1, "output": 1, "drop": 1}, _BLOCKED, (0.0, inf))
INTO_A_SHORT = giving(
    "current",
    into_a_short,
    {"mains": 1, "resistance": -1},
    {"mains": (90.0, 270.0), "resistance": (1.0, 100.0)},
    (-0.05, 0.0),
)
SWITCHED = giving(
    "rms", switched, {"rms": 1, "average": -1}, {"rms": (0.05, 1.0), "average": (0.001, 0.04)}, (-0.1, 0.02)
)
_LIMITED = {"bulk": 0, "output": 0, "drop": -1, "on_drop": 0, "inductance": 0, "limit": 1, "delay": 1}
_INVERTED = {"bulk": 1, "output": -1, "drop": -1, "on_drop": -1, "inductance": 0, "limit": 1, "delay": 1}


def _most(mode: str, inverting: bool) -> Formula:
    empty = mode == "boundary"

    def solved(**inputs: float) -> float:
        return (set_current if empty else available)(inverting=inverting, **inputs)

    signs = (_INVERTED if inverting else _LIMITED) | ({"rest": -1} if empty else {"frequency": 1})
    return _giving("current", solved, signs, (-0.03, 0.02))


AVAILABLE: dict[tuple[str, bool], Formula] = {
    (mode, inverting): _most(mode, inverting) for mode in MODES for inverting in (False, True)
}
SETTLED = _giving(
    "peak",
    settled,
    {"bulk": 1, "drop": -1, "inductance": 0, "resistance": -1, "limit": 1, "delay": 1, "off": -1},
    (-0.03, 0.01),
)
OVERSHOOT = _giving("voltage", overshoot, {"output": 1, "inductance": 1, "peak": 1, "capacitance": -1}, (-0.02, 0.0))
LOST = giving(
    "power",
    lost,
    dict.fromkeys(("rms", "resistance", "bulk", "peak", "valley", "edge", "frequency", "capacitance", "recovery"), 1),
    {
        "rms": (0.01, 1.0),
        "resistance": (0.5, 40.0),
        "bulk": (100.0, 400.0),
        "peak": (0.1, 2.0),
        "valley": (0.01, 0.4),
        "edge": (1e-8, 2e-7),
        "frequency": (2e4, 2e5),
        "capacitance": (1e-11, 2e-10),
        "recovery": (2e-8, 3e-7),
    },
    (-0.3, 0.2),
)


def _follows(fixed_frequency: bool, inverting: bool) -> Formula:
    @lru_cache(maxsize=512)
    def solved(**inputs: float) -> Followed:
        return following(inverting=inverting, **inputs)

    names = ("mains", "output", "drop", "on_drop", "inductance", "current")
    both = dict.fromkeys(("mains", "output", "drop", "on_drop"), 0)
    held = both | {"current": 1}
    timed = held | ({"inductance": -1, "frequency": -1} if fixed_frequency else {})
    signs: dict[str, Signs] = {
        **dict.fromkeys(("peak", "inductor_rms", "switch_rms", "diode_rms"), timed),
        **dict.fromkeys(("switch_average", "line_rms", "line_peak", "line_average"), held),
        "diode_average": {"current": 1} if inverting else held,
        "duty": both | ({"current": 1, "inductance": 1, "frequency": 1} if fixed_frequency else {}),
        "capacitor_rms": timed,
        "capacitor_slow": held,
        "charge": held | {"line_frequency": -1},
        "on_time": both | {"current": 1, "inductance": 1} | ({"frequency": -1} if fixed_frequency else {}),
        "frequency": {"frequency": 1} if fixed_frequency else both | {"current": -1, "inductance": -1},
    }
    signs["least_frequency"] = signs["most_frequency"] = signs["frequency"]
    for name in ("line_rms", "line_peak"):
        signs[name] = {**signs[name], "capacitance": 1, "line_frequency": 1}
    if fixed_frequency and inverting:  # each period gives in proportion to the square of the mains, whatever the output
        still: tuple[tuple[str, ...], tuple[str, ...]] = (("capacitor_slow", "charge"), ("output", "drop"))
    elif not (fixed_frequency or inverting):  # half of each peak reaches the output, however it comes down
        of = ("peak", "inductor_rms", "capacitor_rms", "capacitor_slow", "charge", "on_time", "most_frequency")
        still = of, ("drop",)
    else:
        still = (), ()
    for output in still[0]:
        signs[output] = {name: sign for name, sign in signs[output].items() if name not in still[1]}
    ranges = {name: _RANGES[name] if name in _RANGES else _MORE[name] for name in (*names, "line_frequency")}
    ranges |= {"capacitance": (0.0, 1e-6), "output": (20.0, 100.0), "current": (0.02, 0.12)}
    if fixed_frequency:
        ranges |= {"frequency": (2e4, 5e4), "inductance": (3e-4, 5e-4)}
    band = (-0.04, 0.03)
    return Formula(solved, signs, ranges, dict.fromkeys(signs, band))


FOLLOWING: dict[tuple[str, bool], Formula] = {
    (mode, inverting): _follows(mode == "fixed frequency", inverting)
    for mode in ("fixed frequency", "boundary")
    for inverting in (False, True)
}
