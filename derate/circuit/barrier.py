"""What crosses the barrier: working voltage, touch current, discharge after unplugging, the optocoupler."""

from __future__ import annotations

import math
from math import exp, inf, pi, sqrt

from derate.circuit.numerics import Band, in_range
from derate.terms.tuples import NamedTuple
from derate.terms.values import Formula, giving

# Working voltage between the primary of a flyback and its secondary, and what clearance and creepage need of it.
#
# Own derivation. Voltage of the drain against the secondary's quiet end, over one switching period: bulk minus to
# drain is 0 while the switch is on (D), Vdc + VR while the secondary conducts (D2), Vdc when idle (Di = 1 - D - D2).
#
# Where the secondary is earthed or neutral-referred, bulk minus itself moves between 0 (line positive) and -Vdc (line
# negative). How it moves between is set by which diodes conduct and by stray capacitance. A jump at the zero crossing
# is the upper bound of the mean square, a slide along half the line voltage (bridge blocked, equal capacitances) the
# lower figure.
#
# Behind a single diode bulk minus is joined to a mains conductor (or bulk plus is, and bulk minus lies Vdc below it),
# and behind a doubler the middle of its two capacitors is. A plug goes in either way round: that conductor may be the
# live one, so on top of the switching lies a whole sine of the mains, which bulk and switch know nothing of. Mean
# squares of the two add, and so do the crests.


# true / computed - 1, against live ngspice runs of three references in both modes
# (tests/circuit/test_working_voltage.py): RMS within 0.4 % of the figure for that path, peak read 0.7..0.9 % high. With
# the idle ringing left at 0 and hardly damped the true RMS is up to 2.2 % higher. `rms` is the upper path and `rms_low`
# the lower: they lie up to 13.4 % apart.
ERROR: dict[str, Band] = {
    "held_rms": (-0.02, 0.04),
    "rms": (-0.15, 0.04),
    "rms_low": (-0.02, 0.18),
    "peak": (-0.02, 0.02),
    "on_a_pole_rms": (-0.04, 0.04),
}

SIGNS: dict[str, dict[str, int]] = {
    "held_rms": {"bulk": 1, "reflected": 1, "duty": -1, "secondary_duty": 1},
    "held_peak": {"bulk": 1, "clamp_peak": 1, "secondary_swing": 1},
    "referred_rms": {"bulk": 1, "reflected": 1, "secondary_duty": 1},
    "referred_peak": {"bulk": 1, "clamp_peak": 1, "secondary_swing": 1},
    "single_diode_rms": {"bulk": 1, "reflected": 1, "duty": -1, "secondary_duty": 1, "crest": 1},
    "single_diode_peak": {"bulk": 1, "clamp_peak": 1, "secondary_swing": 1, "crest": 1},
    "doubler_rms": {"bulk": 1, "reflected": 1, "secondary_duty": 1, "crest": 1},
    "doubler_peak": {"bulk": 1, "clamp_peak": 1, "secondary_swing": 1},
}


class WorkingVoltage(NamedTuple):
    """rms: the upper figure [V]; rms_low: the lower one [V], the same where nothing is open; peak: recurring [V]"""

    rms: float
    rms_low: float
    peak: float


def held_to_bulk_minus(
    bulk: float,
    reflected: float,
    duty: float,
    secondary_duty: float,
    clamp_peak: float,
    *,
    secondary_swing: float = 0.0,
    idle_ringing: float = 0.0,
) -> WorkingVoltage:
    """Secondary held to bulk minus by a bridging capacitor: rms^2 = D2 (Vdc + VR)^2 + Di Vdc^2; direct voltage counts.

    bulk, reflected [V]; duty D, secondary_duty D2 [-], D + D2 at most 1
    clamp_peak: highest clamp voltage above bulk plus [V], at least `reflected`: the spike recurs, so it counts
    secondary_swing: reverse swing of the secondary's own winding end, its ringing included [V]; adds to the peak.
    That end swings the other way while the switch is on, so this is an upper figure.
    idle_ringing: mean amplitude of the drain's ringing while idle [V]; adds half its square to the mean square there

    >>> round(held_to_bulk_minus(339.4, 100.0, 0.228, 0.772, 180.0).rms)
    386
    """
    _check(bulk, reflected, duty, secondary_duty, clamp_peak, secondary_swing, idle_ringing)
    idle = 1 - duty - secondary_duty
    square = secondary_duty * (bulk + reflected) ** 2 + idle * (bulk**2 + 0.5 * idle_ringing**2)
    return WorkingVoltage(square**0.5, square**0.5, bulk + clamp_peak + secondary_swing)


def referred_to_mains(
    bulk: float,
    reflected: float,
    duty: float,
    secondary_duty: float,
    clamp_peak: float,
    *,
    secondary_swing: float = 0.0,
    idle_ringing: float = 0.0,
) -> WorkingVoltage:
    """Secondary earthed or referred to neutral: half the time Vds(t), half the time Vds(t) - Vdc.

    rms^2 = [D2 (Vdc + VR)^2 + Di Vdc^2] / 2 + [D Vdc^2 + D2 VR^2] / 2.  `rms_low`: bulk minus slides along half the
    line voltage, which takes Vdc^2 / 8 off the mean square.
    Inputs as `held_to_bulk_minus`; bulk about the line's crest.

    >>> voltage = referred_to_mains(339.4, 100.0, 0.228, 0.772, 180.0)
    >>> round(voltage.rms), round(voltage.rms_low)
    (303, 278)
    """
    _check(bulk, reflected, duty, secondary_duty, clamp_peak, secondary_swing, idle_ringing)
    idle = 1 - duty - secondary_duty
    positive = secondary_duty * (bulk + reflected) ** 2 + idle * bulk**2
    negative = duty * bulk**2 + secondary_duty * reflected**2
    square = 0.5 * (positive + negative) + 0.5 * idle * idle_ringing**2
    return WorkingVoltage(square**0.5, (square - bulk**2 / 8) ** 0.5, bulk + clamp_peak + secondary_swing)


def on_a_pole(
    bulk: float,
    reflected: float,
    duty: float,
    secondary_duty: float,
    clamp_peak: float,
    *,
    crest: float,
    secondary_swing: float = 0.0,
    idle_ringing: float = 0.0,
) -> WorkingVoltage:
    """Single diode, secondary earthed or referred to neutral: a rail rides on a mains conductor, the live one at worst.

    rms^2 = D2 (Vdc + VR)^2 + Di Vdc^2 + Vp^2 / 2; peak Vp + Vdc + clamp. `rms_low`: that conductor is the neutral.
    Where bulk plus is what rides, bulk minus lies Vdc below it: the drain is then at -Vdc, 0 and VR against the
    conductor, which is never more in rms and Vp + Vdc at its lowest.

    crest: of the mains [V]; the others as `held_to_bulk_minus`

    >>> voltage = on_a_pole(339.4, 100.0, 0.228, 0.772, 180.0, crest=339.4)
    >>> round(voltage.rms), round(voltage.rms_low), round(voltage.peak)
    (455, 386, 859)
    """
    _check(bulk, reflected, duty, secondary_duty, clamp_peak, secondary_swing, idle_ringing)
    in_range("crest", crest, 0.0, math.inf, "V")
    held = held_to_bulk_minus(
        bulk, reflected, duty, secondary_duty, clamp_peak, secondary_swing=secondary_swing, idle_ringing=idle_ringing
    )
    return WorkingVoltage((held.rms**2 + 0.5 * crest**2) ** 0.5, held.rms, held.peak + crest)


def middle_on_a_pole(
    bulk: float,
    reflected: float,
    duty: float,
    secondary_duty: float,
    clamp_peak: float,
    *,
    crest: float,
    secondary_swing: float = 0.0,
    idle_ringing: float = 0.0,
) -> WorkingVoltage:
    """Doubler, secondary earthed or referred to neutral: the middle of the bulk rides on a mains conductor.

    rms^2 = (1 - D2) Vdc^2 / 4 + D2 (Vdc / 2 + VR)^2 + Vp^2 / 2. The drain's crest is Vdc / 2 + clamp above the middle,
    whose own is that of one full capacitor: peak Vdc + clamp. `rms_low`: that conductor is the neutral.

    bulk: both capacitors in series [V]; crest: of the mains [V]; the others as `held_to_bulk_minus`

    >>> voltage = middle_on_a_pole(678.8, 100.0, 0.128, 0.872, 180.0, crest=339.4)
    >>> round(voltage.rms), round(voltage.peak)
    (491, 859)
    """
    _check(bulk, reflected, duty, secondary_duty, clamp_peak, secondary_swing, idle_ringing)
    in_range("crest", crest, 0.0, math.inf, "V")
    idle = 1 - duty - secondary_duty
    switching = (1 - secondary_duty) * bulk**2 / 4 + secondary_duty * (bulk / 2 + reflected) ** 2
    square = switching + 0.5 * idle * idle_ringing**2
    peak = bulk + clamp_peak + secondary_swing
    return WorkingVoltage((square + 0.5 * crest**2) ** 0.5, square**0.5, peak)


def _check(
    bulk: float, reflected: float, duty: float, secondary_duty: float, clamp_peak: float, swing: float, ringing: float
) -> None:
    in_range("bulk", bulk, 0.0, math.inf, "V", open_low=True)
    in_range("reflected", reflected, 0.0, math.inf, "V", open_low=True)
    in_range("duty", duty, 0.0, 1.0, "")
    in_range("secondary_duty", secondary_duty, 0.0, 1.0 - duty + 1e-9, "")
    in_range("clamp_peak", clamp_peak, reflected, math.inf, "V")
    in_range("secondary_swing", swing, 0.0, math.inf, "V")
    in_range("idle_ringing", ringing, 0.0, math.inf, "V")


# Touch current through bridging capacitors, and the discharge of a capacitor across the line after unplugging.


# true / computed - 1 against ngspice with a body of 2 kohm: 6 rows, rms within 0.15 %; the peak from the bulk reads
# +1.8..+2.6 % there (the bridge's commutation makes a sharper edge), which the band holds.
TOUCH_CURRENT_ERROR: dict[str, Band] = {
    "rms": (-0.003, 0.003),
    "peak": (-0.003, 0.03),
    "fundamental": (-0.01, 0.01),
    "voltage": (0.0, 0.0),
}
TOUCH_CURRENT_SIGNS: dict[str, dict[str, int]] = {
    "rms": {"mains": 1, "frequency": 1, "capacitance": 1},
    "peak": {"mains": 1, "frequency": 1, "capacitance": 1},
    "voltage": {"start": 1, "resistance": 1, "capacitance": 1, "time": -1},
    "loss": {"mains": 1, "resistance": -1},
}
TIED = ("line", "bulk plus", "bulk minus")  # the rails of a full bridge; behind any other rectifier: "line"


class TouchCurrent(NamedTuple):
    """rms, peak and fundamental rms of the current to an earthed person [A]."""

    rms: float
    peak: float
    fundamental: float


def touch_current(mains: float, frequency: float, capacitance: float, tied: str) -> TouchCurrent:
    """Current to earth of all capacitance that bridges the barrier, the neutral being earthed.

    mains: highest line voltage [V rms], 1 to 600; frequency: highest [Hz], 10 to 1000
    capacitance: sum of all bridging capacitors at their highest and the transformer's own [F], 0 to 1e-5
    tied: where on the primary they are: "line", "bulk plus" or "bulk minus" of a full bridge (unknown: take "line",
        never smaller; so is a rail behind a single diode or a doubler, which moves with a mains conductor all the time)

    line: I = 2 pi f C V, peak sqrt(2) I. Bulk rail: the bridge holds bulk minus between max(v, 0) - Vp and min(v, 0),
    so it moves with the line for a quarter cycle down, rests, moves up for a quarter cycle and rests: rms 1/sqrt(2) as
    great, fundamental sqrt(1/4 + 1/pi^2) = 0.593, but the peak is the same: a limit stated as a peak gets no relief.
    The body's 2 kohm is small against the reactance up to about 0.1 uF at 50 Hz.

    Source: own derivation from the bridge's two states.
    """
    in_range("mains voltage", mains, 1.0, 600.0, "V")
    in_range("line frequency", frequency, 10.0, 1000.0, "Hz")
    in_range("bridging capacitance", capacitance, 0.0, 1e-5, "F")
    if tied not in TIED:
        raise ValueError(f"the bridging capacitor is tied to {tied!r}: state one of {', '.join(TIED)}")
    whole = 2.0 * pi * frequency * capacitance * mains
    if tied == "line":
        return TouchCurrent(whole, sqrt(2.0) * whole, whole)
    # current cos(x) for x in 0..pi/2 (rail rising) and pi..3pi/2 (rail falling): fundamental (cos + 2/pi sin)/2
    return TouchCurrent(whole / sqrt(2.0), sqrt(2.0) * whole, whole * sqrt(0.25 + 1.0 / pi**2))


def discharge_voltage(start: float, resistance: float, capacitance: float, time: float) -> float:
    """Voltage left across the line after unplugging [V]: V exp(-t/(R C)).

    start: crest of the highest mains [V], 0 to 2000; resistance: only what is across the line side, a charged bulk
    blocks the bridge [ohm], 1 to 1e9; capacitance: all across the line, at its highest [F], 1e-12 to 0.01
    time [s], 0 to 1e4
    """
    _line_side(start, resistance, capacitance)
    in_range("time", time, 0.0, 1e4, "s")
    return start * exp(-time / (resistance * capacitance))


def bleeder_loss(mains: float, resistance: float) -> float:
    """Power in the resistance across the line [W]: V^2/R. mains [V rms], 0 to 600; resistance [ohm], 1 to 1e9."""
    in_range("mains voltage", mains, 0.0, 600.0, "V")
    in_range("resistance", resistance, 1.0, 1e9, "ohm")
    return mains * mains / resistance


def _line_side(start: float, resistance: float, capacitance: float) -> None:
    in_range("starting voltage", start, 0.0, 2000.0, "V")
    in_range("resistance", resistance, 1.0, 1e9, "ohm")
    in_range("capacitance", capacitance, 1e-12, 0.01, "F")


def one_shorted(winding_known: bool) -> Formula:
    """Rms touch current with one capacitor of a series shorted [A], as if tied to the line.

    On a bulk rail it is 0.707 of that; where nobody knows the windings' own capacitance it is a floor.
    """

    def rms(mains: float, frequency: float, capacitance: float, winding: float) -> float:
        return touch_current(mains, frequency, capacitance + winding, "line").rms

    ranges = {"mains": (50.0, 300.0), "frequency": (45.0, 65.0), "capacitance": (0.0, 1e-8), "winding": (0.0, 1e-10)}
    high = 0.003 if winding_known else inf
    return giving("rms", rms, {**TOUCH_CURRENT_SIGNS["rms"], "winding": 1}, ranges, (-0.3, high))


# The optocoupler of a feedback path: what its LED gets, and what its transistor draws from the controller.
#
# Currents are [A], ratios plain numbers. The loop needs the reference fully on only where the controller has to stop
# switching, so the LED current here is the greatest there is; it says nothing of the one in regulation.


# Ohm's law and a definition: no error of their own. What is not known sits in the drop, the ratio and the ageing.
COUPLER_ERROR: dict[str, Band] = {
    "led_current": (0.0, 0.0),
    "coupled_current": (0.0, 0.0),
    "led_current_needed": (0.0, 0.0),
}

COUPLER_SIGNS: dict[str, dict[str, int]] = {
    "led_current": {"output": 1, "reference": -1, "drop": -1, "resistance": -1, "bias": 1},
    "coupled_current": {"led": 1, "ratio": 1, "left": 1, "warm": 1},
    "led_current_needed": {"needed": 1, "ratio": -1, "left": -1, "warm": -1},
}


def led_current(output: float, reference: float, drop: float, resistance: float, bias: float | None = None) -> float:
    """Greatest current of the LED [A]: (output - reference - drop) / resistance - drop / bias, never below zero.

    output: of the rail that feeds the LED [V]; reference: least voltage the reference can pull its cathode to [V]
    drop: of the LED [V]; resistance: in series with LED and reference [ohm], above 0
    bias: resistor across the LED that keeps the reference alive while it is dark [ohm], above 0; None: there is none

    Source: own derivation from Kirchhoff's laws.

    >>> round(1e3 * led_current(5.0, 2.5, 1.0, 750.0, 1e3), 3)
    1.0
    """
    in_range("output", output, 0.0, math.inf, "V")
    in_range("reference", reference, 0.0, math.inf, "V")
    in_range("LED drop", drop, 0.0, 10.0, "V")
    in_range("resistance of the LED", resistance, 0.0, math.inf, "ohm", open_low=True)
    whole = max(0.0, output - reference - drop) / resistance
    if bias is None:
        return whole
    in_range("bias resistor", bias, 0.0, math.inf, "ohm", open_low=True)
    return max(0.0, whole - drop / bias)


def coupled_current(led: float, ratio: float, left: float, warm: float) -> float:
    """Current the transistor can draw [A] = LED current x transfer ratio, new x share left x share at temperature.

    >>> round(1e3 * coupled_current(5e-3, 0.8, 0.5, 0.7), 3)
    1.4
    """
    in_range("LED current", led, 0.0, math.inf, "A")
    for name, value in (("transfer ratio", ratio), ("share left", left), ("share at temperature", warm)):
        in_range(name, value, 0.0, math.inf, "")
    return led * ratio * left * warm


def led_current_needed(needed: float, ratio: float, left: float, warm: float) -> float:
    """LED current that draws `needed` [A] from the controller at the end of life [A].

    >>> round(1e3 * led_current_needed(1.4e-3, 0.8, 0.5, 0.7), 3)
    5.0
    """
    in_range("current needed", needed, 0.0, math.inf, "A")
    for name, value in (("transfer ratio", ratio), ("share left", left), ("share at temperature", warm)):
        in_range(name, value, 0.0, math.inf, "", open_low=True)
    return needed / (ratio * left * warm)


_LED = {
    "output": (4.0, 30.0),
    "reference": (1.2, 3.0),
    "drop": (0.9, 1.6),
    "resistance": (100.0, 5e3),
    "bias": (500.0, 1e4),
}
_SHARES = {"ratio": (0.2, 3.0), "left": (0.3, 1.0), "warm": (0.5, 1.1)}
LED = giving("led", led_current, COUPLER_SIGNS["led_current"], _LED)
COUPLED = giving("coupled", coupled_current, COUPLER_SIGNS["coupled_current"], {"led": (1e-4, 2e-2), **_SHARES})
NEEDED = giving("needed", led_current_needed, COUPLER_SIGNS["led_current_needed"], {"needed": (1e-4, 5e-3), **_SHARES})


def bridged(tied: str) -> Formula:
    """Touch current [A], rms and peak, of all that bridges the barrier and the windings' own capacitance [F].

    tied: where on the primary the bridging capacitors are: "line", "bulk plus" or "bulk minus"
    """

    def current(mains: float, frequency: float, bridging: float, winding: float) -> TouchCurrent:
        return touch_current(mains, frequency, bridging + winding, tied)

    signs = {"mains": 1, "frequency": 1, "bridging": 1, "winding": 1}
    ranges = {"mains": (50.0, 300.0), "frequency": (45.0, 65.0), "bridging": (0.0, 1e-8), "winding": (0.0, 1e-9)}
    return Formula(current, {"rms": signs, "peak": signs}, ranges)
