"""Buck and buck-boost by published and worked figures, by laws that hold of any period, and by a sum over the line."""

from __future__ import annotations

from math import pi, sin, sqrt
from typing import Any

import pytest

from derate.circuit import buck
from derate.terms.values import Collapse

# A published buck, LNK304-306 data sheet page 4: 12 V 120 mA of 85 to 265 V, 1 mH, 66 kHz, mostly discontinuous. Its
# limit of 257 mA (240 to 275), a diode of 0.8 V and 325 V of bulk are remembered.
PUBLISHED: dict[str, Any] = {"output": 12.0, "drop": 0.8, "on_drop": 0.0, "inductance": 1e-3}


def test_the_published_buck_of_a_watt_and_a_half() -> None:
    found = buck.fixed(bulk=325.0, current=0.12, frequency=66e3, **PUBLISHED)
    assert [round(1e3 * one) for one in (found.swing, found.peak, found.valley)] == [186, 213, 27]
    most = buck.available(bulk=325.0, limit=0.257, delay=0.0, frequency=66e3, **PUBLISHED)
    assert round(1e3 * most) == 164
    # what 100 ns at 373 V add: into an empty output 37 mA, into 12 V the 36 of the note
    assert round(1e3 * (buck.at_limit(bulk=373.0 - 12.0, limit=0.275, delay=1e-7, inductance=1e-3) - 0.275)) == 36
    # an inductor of 280 mA carries the limit of 275 mA and not what 200 ns add to it
    assert buck.at_limit(bulk=375.0, limit=0.275, delay=2e-7, inductance=1e-3) == pytest.approx(0.35)


@pytest.mark.parametrize(
    ("bulk", "kilohertz", "on", "switch", "diode"),
    [(120.0, 55.8, 12.0, 113, None), (325.0, 126.8, 1.96, 69, 90), (373.0, 132.2, None, None, None)],
)
def test_a_lamp_driver_at_the_boundary(
    bulk: float, kilohertz: float, on: float | None, switch: int | None, diode: int | None
) -> None:
    """80 V 120 mA out of 2 mH: the worked figures use 0.9 V of the diode on the way down alone."""
    found = buck.boundary(bulk=bulk, output=80.0, drop=0.9, on_drop=0.0, inductance=2e-3, current=0.12, rest=0.0)
    assert found.peak == pytest.approx(0.24)
    assert found.frequency / 1e3 == pytest.approx(kilohertz, rel=2e-3)
    if on is not None:
        assert 1e6 * found.duty / found.frequency == pytest.approx(on, abs=0.01)
    if switch is not None:
        assert round(1e3 * found.switch_rms) == switch
    if diode is not None:
        assert round(1e3 * found.diode_average) == diode


def test_without_the_drop_of_the_diode_too_much_is_promised() -> None:
    """At 5 V a discontinuous stage gives a seventh less than without the drop counted, at 3.3 V a fifth."""
    for output, more in ((5.0, 1.16), (3.3, 1.24)):
        of = {"bulk": 325.0, "output": output, "on_drop": 0.0, "inductance": 1e-4, "limit": 0.2, "delay": 0.0}
        true = buck.available(drop=0.8, frequency=66e3, **of)
        bare = buck.available(drop=0.0, frequency=66e3, **of)
        assert bare / true == pytest.approx(more, abs=0.01)


@pytest.mark.parametrize("inverting", [False, True])
@pytest.mark.parametrize("mode", buck.MODES)
@pytest.mark.parametrize("current", [0.03, 0.3])
def test_charge_and_volt_seconds_balance(mode: str, inverting: bool, current: float) -> None:
    """Of any period: the output gets its current, the switch draws what energy asks, up and down times agree."""
    at: dict[str, Any] = {"bulk": 300.0, "output": 40.0, "drop": 1.0, "on_drop": 2.0, "inductance": 1e-3}
    own = {"fixed frequency": {"frequency": 6e4}, "boundary": {"rest": 1e-6}, "burst": {"peak": 0.9, "frequency": 6e4}}
    found = buck.STAGES[mode, inverting].solve(current=current, **at, **own[mode])
    up, down = (298.0 if inverting else 258.0), 41.0
    given = found.diode_average + (0.0 if inverting else found.switch_average)
    assert given == pytest.approx(current)
    assert found.switch_average * up == pytest.approx(found.diode_average * down)
    assert found.switch_rms**2 + found.diode_rms**2 == pytest.approx(found.inductor_rms**2)
    into = found.diode_rms if inverting else found.inductor_rms
    assert found.capacitor_rms**2 == pytest.approx(into**2 - current**2)


def test_both_modes_meet_where_the_current_just_ends() -> None:
    of = {"bulk": 300.0, "drop": 1.0, "on_drop": 0.0, "output": 24.0, "inductance": 1e-3, "frequency": 6e4}
    swing = buck.fixed(current=1.0, **of).swing
    for inverting in (False, True):
        edge = swing / 2.0 if not inverting else buck.fixed(current=1.0, inverting=True, **of).swing / 2.0
        edge *= 1.0 if not inverting else 300.0 / 325.0
        above, below = (buck.fixed(current=edge * k, inverting=inverting, **of) for k in (1.0001, 0.9999))
        assert above.peak == pytest.approx(below.peak, rel=2e-4)
        assert above.switch_rms == pytest.approx(below.switch_rms, rel=2e-4)


def test_evenly_spread_pulses_are_the_least_and_pulses_in_a_row_the_most() -> None:
    """By hand: a triangle of its own each, and a trapezium for as long as the row lasts."""
    of = {"bulk": 325.0, "peak": 0.257, "frequency": 66e3, **PUBLISHED}
    alone = buck.pulsed(current=0.05, **of)
    assert alone.least_inductor_rms**2 == pytest.approx(2.0 / 3.0 * 0.257 * 0.05)
    swing = (325.0 - 12.0) * (12.8 / 325.8) / (1e-3 * 66e3)
    valley = 0.257 - swing
    square, mean = (0.257**2 + 0.257 * valley + valley**2) / 3.0, (0.257 + valley) / 2.0
    assert alone.inductor_rms**2 == pytest.approx(0.05 * square / mean)
    full = buck.pulsed(current=mean * 0.999999, **of)
    assert full.inductor_rms == pytest.approx(full.least_inductor_rms, rel=1e-3)
    with pytest.raises(Collapse, match="bring"):
        buck.pulsed(current=mean * 1.01, **of)


def test_run_away_into_a_short() -> None:
    """The shortest pulse against what diode and copper take: it climbs until they balance, or for ever."""
    of = {"bulk": 375.0, "drop": 0.8, "inductance": 1e-3, "limit": 0.27, "delay": 3e-7}
    climbs = buck.settled(resistance=3.0, off=1.48e-5, **of)
    valley = 0.27
    for _ in range(20000):  # pulse by pulse, in straight lines
        peak = valley + (375.0 - 3.0 * valley) * 3e-7 / 1e-3
        valley = max(peak - (0.8 + 3.0 * peak) * 1.48e-5 / 1e-3, 0.0)
    assert climbs == pytest.approx(peak, rel=0.03) and climbs > 2.0
    assert buck.settled(resistance=0.0, off=1.48e-5, **of) == buck.UNSETTLED
    # a pause long enough, and the limit holds with what its delay adds
    assert buck.settled(resistance=0.0, off=2e-4, **of) == pytest.approx(0.27 + 375.0 * 3e-7 / 1e-3)
    assert buck.settled(resistance=3.0, off=2e-4, **of) == pytest.approx(0.27 + 375.0 * 3e-7 / 1e-3, rel=2e-3)


def test_a_load_that_goes_leaves_the_energy_of_the_inductor() -> None:
    volts = buck.overshoot(output=12.0, inductance=1e-3, peak=0.35, capacitance=1e-5)
    assert 0.5 * 1e-5 * (volts**2 - 144.0) == pytest.approx(0.5 * 1e-3 * 0.35**2)


@pytest.mark.parametrize("inverting", [False, True])
@pytest.mark.parametrize("hertz", [0.0, 3e4])
def test_without_a_bulk_capacitor_every_period_is_one_of_the_same_converter(inverting: bool, hertz: float) -> None:
    """A sum over a thousand angles of the period that the same on-time makes at each."""
    of: dict[str, Any] = {"output": 60.0, "drop": 1.0, "on_drop": 2.0, "inductance": 4e-4, "inverting": inverting}
    found = buck.following(mains=230.0, line_frequency=50.0, current=0.1, frequency=hertz, **of)
    out = switch = drawn = energy = 0.0
    for k in range(1000):
        bulk = sqrt(2.0) * 230.0 * sin((k + 0.5) * pi / 1000)
        up = bulk - 2.0 - (0.0 if inverting else 60.0)
        if up <= 0.0:
            continue
        peak = up * found.on_time / 4e-4
        off = 4e-4 * peak / 61.0
        length = 1.0 / hertz if hertz else found.on_time + off
        out += peak / 2.0 * (off + (0.0 if inverting else found.on_time)) / length / 1000
        switch += peak**2 / 3.0 * found.on_time / length / 1000
        drawn += peak / 2.0 * found.on_time / length / 1000
        energy += bulk * peak / 2.0 * found.on_time / length / 1000
    assert out == pytest.approx(0.1, rel=1e-3)
    assert found.switch_rms**2 == pytest.approx(switch, rel=2e-3)
    assert found.line_average == pytest.approx(drawn, rel=1e-3)
    assert energy == pytest.approx(0.1 * 61.0 + 2.0 * drawn - (0.0 if inverting else 1.0 * drawn), rel=3e-3)


def test_a_published_lamp_driver_without_bulk_capacitor_draws_what_its_power_asks() -> None:
    """36 V 330 mA of 90 to 265 V: 13.7 W at 87 %, 0.153 A at 90 V with a power factor of one, 0.169 A at 0.9.

    As a buck it conducts only above 36 V of the half wave, and its power factor comes out between the two.
    """
    found = buck.following(
        mains=90.0, line_frequency=60.0, output=36.0, drop=0.8, on_drop=0.0, inductance=2e-4, current=0.33
    )
    delivered = 0.33 * 36.8 - 0.8 * found.switch_average
    factor = delivered / (90.0 * found.line_rms)
    assert 0.9 < factor < 1.0
    assert 0.153 < 13.7 / 90.0 / factor < 0.169


def test_what_no_bulk_capacitor_leaves_as_ripple() -> None:
    """Of a buck-boost that draws in proportion to the square of a sine the output swings between nothing and twice."""
    found = buck.following(
        mains=230.0,
        line_frequency=50.0,
        output=300.0,
        drop=0.0,
        on_drop=0.0,
        inductance=3e-4,
        current=0.05,
        frequency=3e4,
        inverting=True,
    )
    assert found.capacitor_slow == pytest.approx(0.05 / sqrt(2.0), rel=1e-3)
    assert found.charge == pytest.approx(0.05 / (2.0 * pi * 50.0), rel=1e-3)
    with pytest.raises(Collapse, match="continuous"):
        buck.following(
            mains=230.0,
            line_frequency=50.0,
            output=20.0,
            drop=0.0,
            on_drop=0.0,
            inductance=5e-3,
            current=0.5,
            frequency=1e5,
            inverting=True,
        )
    with pytest.raises(Collapse, match="does not reach"):
        buck.following(
            mains=90.0, line_frequency=50.0, output=150.0, drop=0.0, on_drop=0.0, inductance=1e-3, current=0.1
        )


def test_loss_of_a_switch_that_closes_on_a_conducting_diode() -> None:
    of = {
        "rms": 0.1,
        "resistance": 5.0,
        "bulk": 300.0,
        "peak": 0.5,
        "valley": 0.2,
        "edge": 5e-8,
        "frequency": 1e5,
        "capacitance": 1e-10,
        "recovery": 1e-7,
    }
    by_hand = 0.05 + 0.5 * 0.7 * 300.0 * 5e-8 * 1e5 + 0.5 * 1e-10 * 9e4 * 1e5 + 0.2 * 1e-7 * 300.0 * 1e5
    assert buck.lost(**of) == pytest.approx(by_hand)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"bulk": 30.0}, "does not reach"),
        ({"inductance": 0.0}, "inductance is 0"),
        ({"frequency": 0.0}, "switching frequency"),
        ({"current": 0.0}, "output current"),
    ],
)
def test_what_is_out_of_range_says_so(changed: dict[str, float], words: str) -> None:
    of = {"bulk": 300.0, "output": 40.0, "drop": 1.0, "on_drop": 0.0, "inductance": 1e-3, "current": 0.1}
    with pytest.raises((ValueError, Collapse), match=words):
        buck.fixed(**{**of, "frequency": 6e4, **changed})


def test_the_frequency_of_critical_conduction_has_no_steps() -> None:
    """As conduction begins a little later the mean of the periods moves a little, and is that of a dense sum."""

    def frequency(output: float) -> float:
        return buck.following(
            mains=207.0,
            line_frequency=47.0,
            output=output,
            drop=1.0,
            on_drop=11.0,
            inductance=0.88e-3,
            current=0.145,
        ).frequency

    found = [frequency(60.0 + 0.1 * k) for k in range(60)]
    assert max(abs(after / before - 1.0) for before, after in zip(found, found[1:], strict=False)) < 1e-3
    on = buck.following(
        mains=207.0, line_frequency=47.0, output=60.0, drop=1.0, on_drop=11.0, inductance=0.88e-3, current=0.145
    ).on_time
    ups = [sqrt(2.0) * 207.0 * sin((k + 0.5) * pi / 100_000) - 71.0 for k in range(100_000)]
    dense = sum(1.0 / (on * (1.0 + up / 61.0)) for up in ups if up > 0.0) / 100_000
    assert found[0] == pytest.approx(dense, rel=1e-3)
