"""Curves that a report draws, held to the solvers whose extremes the ledger keeps.

The solvers themselves are held to ngspice in tests/circuit/; here the points must not tell another story than they do.
"""

from __future__ import annotations

from math import inf, pi
from pathlib import Path

import pytest
from event_designs import EXACT

from derate.circuit.choke_filter import filter_steady_state, filter_switch_on
from derate.circuit.pulse import switch_on
from derate.circuit.rectifier import doubler_steady_state, steady_state
from derate.circuit.waveforms import doubled_wave, filter_switch_on_wave, filtered_wave, rectified_wave, switch_on_wave
from derate.design.facts import facts
from derate.design.load import read_design
from derate.run import run
from derate.study.waveforms import pictures
from derate.study.work import Workshop
from derate.terms.values import Value

ROOT = Path(__file__).parents[2]
DOUBLER = """\
derate: 1
supply: {name: drawn, topology: flyback, efficiency: 0.8, plate: {mains: 100..120 V, frequency: 50..60 Hz, outputs: {main: {voltage: 12 V, current: 1 A}}}}
site: {ambient: 5 degC, mains_tolerance: 0%, inside_rise: 20 K}
parts:
  R1: wirewound resistor 2.2 ohm
  D1, D2: line diode 1000 V 3 A
  C1, C2: electrolytic capacitor 220 uF 20% 200 V
circuit: {line: [R1, D1 || D2, across C1 + C2], input: doubler}
"""  # noqa: E501


@pytest.mark.parametrize("half_wave", [False, True])
@pytest.mark.parametrize(("resistance", "inductance", "angle"), [(7.0, 0.0, pi / 2), (7.0, 8e-4, 1.4), (0.5, 0.0, 1.0)])
def test_switch_on(resistance: float, inductance: float, angle: float, half_wave: bool) -> None:
    wave = switch_on_wave(264.0, 50.0, resistance, 22e-6, angle=angle, span=0.06, inductance=inductance,
                          half_wave=half_wave)  # fmt: skip
    solved = switch_on(264.0, 50.0, resistance, 22e-6, angle=angle, inductance=inductance, half_wave=half_wave)
    assert wave.peak == pytest.approx(solved.peak, rel=1e-6)  # the peak is one of the points
    assert max(wave.bulk[0]) <= solved.bulk_peak * (1 + 1e-6)
    assert list(wave.times) == sorted(wave.times) and min(wave.line) >= 0.0


@pytest.mark.parametrize("saturation", [1.2, inf])
def test_switch_on_of_a_filter(saturation: float) -> None:
    given = (264.0, 47.0, 6.8, 22e-6, 470e-6, 1.1, 22e-6)
    wave = filter_switch_on_wave(*given, angle=pi / 2, span=0.12, saturation=saturation)
    solved = filter_switch_on(*given, angle=pi / 2, saturation=saturation)
    assert wave.peak == pytest.approx(solved.peak, rel=2e-3)  # closing at the crest begins at the peak
    # refills without a load end at the crest, so slowly that a thousandth is left after a dozen half cycles
    for k, most in enumerate((solved.bulk1_peak, solved.bulk2_peak)):
        assert max(wave.bulk[k]) == pytest.approx(most, rel=1e-3)


@pytest.mark.parametrize("half_wave", [False, True])
@pytest.mark.parametrize(("mains", "resistance", "load"), [(230.0, 0.05, 6.0), (230.0, 7.0, 6.0), (100.0, 2.0, 4.0)])
def test_one_cycle(mains: float, resistance: float, load: float, half_wave: bool) -> None:
    given = (mains, 50.0, resistance, 22e-6, load)
    wave = rectified_wave(*given, drop=0.9, half_wave=half_wave)
    solved = steady_state(*given, 0.9, half_wave=half_wave)
    assert wave is not None and solved is not None
    # eight steps between two points of 320 a cycle: the top of a short pulse lies up to 1.5 % above the nearest point
    assert wave.peak == pytest.approx(solved.line_peak, rel=0.015)
    assert min(wave.bulk[0]) == pytest.approx(solved.bulk_min, rel=2e-3)
    assert max(wave.bulk[0]) == pytest.approx(solved.bulk_max, rel=2e-3)
    assert wave.bulk[0][0] == pytest.approx(wave.bulk[0][-1], rel=1e-4)  # it comes back after a cycle


def test_one_cycle_of_a_filter() -> None:
    given = (90.0, 47.0, 6.8, 22e-6, 470e-6, 1.1, 22e-6, 20.5)
    wave, solved = filtered_wave(*given, drop=1.75), filter_steady_state(*given, drop=1.75)
    assert wave is not None and solved is not None
    assert wave.peak == pytest.approx(solved.line_peak, rel=0.015)
    assert min(wave.bulk[0]) == pytest.approx(solved.bulk1_min, rel=3e-3)
    assert min(wave.bulk[1]) == pytest.approx(solved.bulk2_min, rel=3e-3)
    assert max(wave.bulk[1]) == pytest.approx(solved.bulk2_max, rel=3e-3)


@pytest.mark.parametrize(("resistance", "load"), [(0.5, 8.0), (2.2, 20.0), (4.0, 30.0)])
def test_one_cycle_of_a_doubler(resistance: float, load: float) -> None:
    given = (115.0, 60.0, resistance, 220e-6, load)
    wave, solved = doubled_wave(*given, drop=0.9), doubler_steady_state(*given, 0.9)
    assert wave is not None and solved is not None
    assert wave.peak == pytest.approx(solved.line_peak, rel=0.015)
    assert min(wave.bulk[0]) == pytest.approx(solved.bulk_min, rel=2e-3)
    assert max(wave.bulk[0]) == pytest.approx(solved.bulk_max, rel=2e-3)
    for one in wave.bulk[1:]:
        assert max(one) == pytest.approx(solved.capacitor_max, rel=2e-3)
        assert min(one) == pytest.approx(solved.capacitor_min, rel=2e-3)
    half = len(wave.times) // 2  # half a cycle later the two have changed places
    assert wave.bulk[1][:half] == pytest.approx(wave.bulk[2][half:-1], rel=1e-4)


def test_the_report_draws_a_doubler() -> None:
    design = read_design(DOUBLER, "doubler.derate.yaml")
    drawn = pictures(run(design.structure, facts(design), EXACT), design.structure.mains)
    assert "two half cycles" in drawn[0].why
    current, voltage = drawn[1:]
    assert [line.name for line in current.lines] == ["line current"]
    assert [line.name for line in voltage.lines] == ["bulk voltage", "first bulk capacitor", "second bulk capacitor"]
    assert [mark.unit for one in (current, voltage) for mark in one.marks] == ["A", "V"]
    bulk = voltage.lines[0].points
    least = voltage.marks[0].value
    assert min(bulk) >= least * 0.999


def test_a_load_that_cannot_be_carried_has_no_curve() -> None:
    assert doubled_wave(100.0, 50.0, 5.0, 4e-6, 20.0) is None
    assert rectified_wave(90.0, 50.0, 5.0, 2e-6, 20.0) is None
    assert filtered_wave(90.0, 50.0, 5.0, 2e-6, 470e-6, 1.0, 2e-6, 20.0) is None


@pytest.mark.parametrize("path", sorted((ROOT / "designs").rglob("*.derate.yaml")))
def test_pictures_of_shipped_designs_agree_with_their_ledger(path: Path) -> None:
    work = Workshop().work(str(path))
    drawn = pictures(work.ledger, work.design.structure.mains)
    assert [one.kind for one in drawn][:2] == ["switch-on", "running"] and len(drawn) <= 3
    for one in drawn:
        assert one.lines or one.why
        for mark in one.marks:
            row = work.ledger[mark.entry]
            assert row.case == one.case and row.case.frequency is not None  # curve and limit at the same frequency
            assert isinstance(row.value, Value) and mark.value in row.value.numbers()
            for line in one.lines:
                if line.unit != mark.unit:
                    continue
                assert len(line.points) == len(one.times)
                if mark.name.startswith("greatest"):  # the row holds every corner and its band, the curve one corner
                    assert max(line.points) <= mark.value * 1.001
                    if line.worst:
                        assert max(line.points) > 0.9 * mark.value
                else:
                    assert min(line.points) >= mark.value * 0.999
