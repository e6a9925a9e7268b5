"""What a filter leaves of the pulses of a stage without bulk capacitor, against a sum over their harmonics (numpy)."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
import pytest

from derate.circuit.buck import passed_on, passed_on_by_two
from derate.terms.values import Collapse

HERTZ, MEAN = 1e5, 0.05


def behind(share: float, past: float) -> tuple[float, float]:
    """Rms and greatest current ahead of an ideal filter, of triangles of a mean that last a share of their period."""
    points = 4096
    at = np.arange(points) / points
    pulses = np.where(at < share, at, 0.0)
    pulses *= MEAN / pulses.mean()
    harmonics = np.fft.rfft(pulses)
    number = np.arange(harmonics.size)
    line = np.fft.irfft(harmonics / (1.0 - number**2 * past), points)
    return float(np.sqrt(np.mean(line**2))), float(np.max(np.abs(line)))


@pytest.mark.parametrize("past", [1.6, 2.0, 4.0, 15.0, 200.0])
@pytest.mark.parametrize("share", [0.02, 0.1, 0.3, 0.7])
def test_no_pulse_gets_further_than_is_said(share: float, past: float) -> None:
    inductance, capacitance = 4e-4, past / (2.0 * pi * HERTZ) ** 2 / 4e-4
    found = passed_on(rms=MEAN, peak=MEAN, frequency=HERTZ, inductance=inductance, capacitance=capacitance)
    rms, peak = behind(share, past)
    assert rms <= found.rms * (1.0 + 1e-9) and peak <= found.peak * (1.0 + 1e-9)
    if share == 0.02:  # next to needles, whose harmonics are all twice the mean: a nearer bound would fall short
        assert found.rms - MEAN < 1.9 * (rms - MEAN) + 1e-6 and found.peak - MEAN < 5.0 * (peak - MEAN)


def test_needles_behind_a_slow_filter_reach_the_rms_that_is_said() -> None:
    past = 400.0
    found = passed_on(
        rms=MEAN, peak=MEAN, frequency=HERTZ, inductance=past / (2.0 * pi * HERTZ) ** 2 / 1e-7, capacitance=1e-7
    )
    rms, _ = behind(0.004, past)
    assert sqrt(rms**2 - MEAN**2) == pytest.approx(sqrt(found.rms**2 - MEAN**2), rel=0.01)


def test_a_filter_that_rings_with_the_pulses_has_no_figure() -> None:
    for past in (0.0, 0.9, 1.0, 1.49):
        with pytest.raises(Collapse, match="may ring with them"):
            passed_on(
                rms=0.04, peak=0.06, frequency=HERTZ, inductance=past / (2.0 * pi * HERTZ) ** 2 / 1e-7, capacitance=1e-7
            )


def behind_two(share: float, line: float, outer: float, between: float, inner: float) -> tuple[float, float]:
    """Rms and greatest current of the line, by the impedances of a ladder of two sections."""
    points = 4096
    at = np.arange(points) / points
    pulses = np.where(at < share, at, 0.0)
    harmonics = np.fft.rfft(pulses * (MEAN / pulses.mean()))
    turn = 2j * pi * HERTZ * np.arange(1, harmonics.size)
    far = 1.0 / (turn * outer + 1.0 / (turn * line))
    through = 1.0 / (1.0 + turn * inner * (turn * between + far))
    harmonics[1:] *= through * far / (turn * line)
    current = np.fft.irfft(harmonics, points)
    return float(np.sqrt(np.mean(current**2))), float(np.max(np.abs(current)))


@pytest.mark.parametrize("ahead", [1.2, 1.6, 3.0, 40.0])
@pytest.mark.parametrize("between", [1.6, 4.0, 40.0, 400.0])
@pytest.mark.parametrize("ratio", [0.1, 1.0, 10.0])
@pytest.mark.parametrize("share", [0.02, 0.3])
def test_no_pulse_gets_past_two_capacitors_further_than_is_said(
    ahead: float, between: float, ratio: float, share: float
) -> None:
    square = (2.0 * pi * HERTZ) ** 2
    outer, inner = 1e-7, ratio * 1e-7
    line, choke = ahead / square / outer, between / square / inner
    divisor = (ahead - 1.0) * (between - 1.0) - ahead * ratio
    given = {"inductance": choke, "capacitance": inner, "line_inductance": line, "line_capacitance": outer}
    if divisor < 0.5:
        with pytest.raises(Collapse, match="may ring"):
            passed_on_by_two(rms=MEAN, peak=MEAN, frequency=HERTZ, **given)
        return
    found = passed_on_by_two(rms=MEAN, peak=MEAN, frequency=HERTZ, **given)
    rms, peak = behind_two(share, line, outer, choke, inner)
    assert rms <= found.rms * (1.0 + 1e-9) and peak <= found.peak * (1.0 + 1e-9)
    if share == 0.02 and divisor < between - 1.0:
        assert found.rms - MEAN < 1.9 * (rms - MEAN) + 1e-6


@pytest.mark.parametrize("ahead", [0.1, 0.9, 1.0])
def test_with_little_ahead_of_the_outer_capacitor_there_is_no_figure(ahead: float) -> None:
    square = (2.0 * pi * HERTZ) ** 2
    with pytest.raises(Collapse, match="may ring"):
        passed_on_by_two(
            rms=MEAN,
            peak=MEAN,
            frequency=HERTZ,
            inductance=40.0 / square / 1e-8,
            capacitance=1e-8,
            line_inductance=ahead / square / 1e-7,
            line_capacitance=1e-7,
        )


def test_a_choke_that_may_lie_ahead_of_both_counts_once() -> None:
    inner = {"rms": MEAN, "peak": MEAN, "frequency": HERTZ, "inductance": 1e-3, "capacitance": 1e-7}
    assert passed_on_by_two(**inner, line_inductance=1e-2, line_capacitance=1e-6) == passed_on(**inner)
