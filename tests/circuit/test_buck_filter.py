"""What a filter leaves of the pulses of a stage without bulk capacitor.

Held to the impedances of the ladder, harmonic by harmonic (numpy), and where its rectifier blocks to fixed steps.
"""

from __future__ import annotations

import random
from math import inf, pi, sqrt

import numpy as np
import pytest

from derate.circuit.ladder import Section, passed_on
from derate.terms.values import Collapse

HERTZ, MEAN = 1e5, 0.05
SQUARE = (2.0 * pi * HERTZ) ** 2


def triangles(share: float) -> np.ndarray:
    """Harmonics of triangles of a mean that last a share of their period."""
    at = np.arange(4096) / 4096
    pulses = np.where(at < share, at, 0.0)
    return np.fft.rfft(pulses * (MEAN / pulses.mean()))


def behind(share: float, sections: list[Section], at: int = 0) -> tuple[float, float]:
    """Rms and greatest current in series with one section of a ladder, by impedances."""
    harmonics = triangles(share)
    turn = 2j * pi * HERTZ * np.arange(1, harmonics.size)
    seen = np.zeros_like(turn)  # impedance towards the mains
    gains = []
    for inductance, resistance, capacitance in sections:
        seen = seen + turn * inductance + resistance
        gains.append(1.0 / (1.0 + turn * capacitance * seen))
        seen = seen * gains[-1]
    for gain in gains[at:]:
        harmonics[1:] *= gain
    current = np.fft.irfft(harmonics, 4096)
    return float(np.sqrt(np.mean(current**2))), float(np.max(np.abs(current)))


def lone(past: float, capacitance: float = 1e-7) -> list[Section]:
    return [Section(past / SQUARE / capacitance, 0.0, capacitance)]


@pytest.mark.parametrize("past", [1.6, 2.0, 4.0, 15.0, 200.0])
@pytest.mark.parametrize("share", [0.02, 0.1, 0.3, 0.7])
def test_no_pulse_gets_further_than_is_said(share: float, past: float) -> None:
    found = passed_on(rms=MEAN, peak=MEAN, frequency=HERTZ, sections=lone(past))
    rms, peak = behind(share, lone(past))
    assert rms <= found.rms * (1.0 + 1e-9) and peak <= found.peak * (1.0 + 1e-9)
    if share == 0.02:  # next to needles, whose harmonics are all twice the mean: a nearer bound would fall short
        assert found.rms - MEAN < 1.9 * (rms - MEAN) + 1e-6 and found.peak - MEAN < 5.0 * (peak - MEAN)


def test_needles_behind_a_slow_filter_reach_the_rms_that_is_said() -> None:
    found = passed_on(rms=MEAN, peak=MEAN, frequency=HERTZ, sections=lone(400.0))
    rms, _ = behind(0.004, lone(400.0))
    assert sqrt(rms**2 - MEAN**2) == pytest.approx(sqrt(found.rms**2 - MEAN**2), rel=0.01)


def test_a_filter_that_rings_with_the_pulses_has_no_figure() -> None:
    for past in (0.0, 0.9, 1.0, 1.49):
        with pytest.raises(Collapse, match="may ring with them"):
            passed_on(rms=0.04, peak=0.06, frequency=HERTZ, sections=lone(past))


def drawn(random_: random.Random, count: int) -> list[Section]:
    """Sections from a quarter of their resonance to far past it, most with some resistance."""
    found = []
    for _ in range(count):
        capacitance = 10.0 ** random_.uniform(-8.0, -6.0)
        inductance = 10.0 ** random_.uniform(-0.6, 2.0) / SQUARE / capacitance
        resistance = random_.choice((0.0, 10.0 ** random_.uniform(-1.0, 2.0)))
        found.append(Section(inductance, resistance, capacitance))
    return found


@pytest.mark.parametrize("count", [2, 3, 4])
def test_no_pulse_gets_past_a_ladder_further_than_is_said(count: int) -> None:
    """Of those that have a figure; a resistance or an inductance more than is said may stand in any of them."""
    random_, known, by_resistance, near = random.Random(count), 0, 0, 0.0
    for _ in range(400):
        sections = drawn(random_, count)
        at = random_.randrange(count)
        try:
            found = passed_on(rms=MEAN, peak=MEAN, frequency=HERTZ, sections=sections, at=at)
        except Collapse:
            continue
        known += 1
        by_resistance += SQUARE * sections[0].inductance * sections[0].capacitance < 1.0
        for more in ((1.0, 0.0), (1.0, random_.uniform(0.0, 50.0)), (random_.uniform(1.0, 4.0), 0.0)):
            real = [Section(one.inductance * more[0], one.resistance + more[1], one.capacitance) for one in sections]
            for share in (0.01, 0.3):
                rms, peak = behind(share, real, at)
                assert rms <= found.rms * (1.0 + 1e-9) and peak <= found.peak * (1.0 + 1e-9), (sections, at, more)
                near = max(near, (rms - MEAN) / (found.rms - MEAN))
    assert known > 100 and by_resistance > 5 and near > 0.9


def test_harmonics_that_only_a_resistance_holds_are_not_taken_for_quenched() -> None:
    """Behind one resistance alone the nth harmonic falls as n and not as n²: their peaks come to no sum."""
    by_resistance = Section(0.0, 30.0, 3e-7)
    with pytest.raises(Collapse):
        passed_on(rms=MEAN, peak=MEAN, frequency=HERTZ, sections=[by_resistance])
    choke = Section(3e-3, 0.0, 1e-7)
    passed_on(rms=MEAN, peak=MEAN, frequency=HERTZ, sections=[by_resistance, choke])
    with pytest.raises(Collapse):
        passed_on(rms=MEAN, peak=MEAN, frequency=HERTZ, sections=[choke, Section(0.0, 30.0, 3e-6)], at=1)


def test_a_capacitor_across_the_mains_that_may_ring_with_it_has_no_figure_however_good_the_filter_behind_it_is() -> (
    None
):
    for ahead in (0.0, 0.5, 1.0):
        outer = Section(ahead / SQUARE / 1e-7, 0.0, 1e-7)
        with pytest.raises(Collapse, match="may ring with them"):
            passed_on(rms=MEAN, peak=MEAN, frequency=HERTZ, sections=[outer, *lone(400.0)], ahead=1)
        damped = outer._replace(resistance=10.0)
        passed_on(rms=MEAN, peak=MEAN, frequency=HERTZ, sections=[damped, *lone(400.0)], ahead=1)


def stepped(past: float, share: float, ahead: int, inner: float, ratio: float) -> tuple[float, float, float]:
    """Rms and greatest current of the line, and the share of time for which its rectifier blocks, by fixed steps.

    Choke, capacitor, choke of `inner`, capacitor of `ratio`, pulses; the rectifier in series with the first choke, or
    with the second where one section is ahead of it. A period, the outer capacitance and the mean are 1; of an inner
    choke of 0 the second section is left out.
    """
    steps, choke, step = 800, (past + 1.0) / (2.0 * pi) ** 2, 1.0 / 800
    line, through, outer, held = 1.0, 1.0, 0.0, 0.0
    squares, crest, blocked = 0.0, 0.0, 0
    for k in range(260 * steps):
        taken = 2.0 * (k % steps) / steps / share**2 if (k % steps) < share * steps else 0.0
        outer += step * (line - (through if inner else taken))
        line += -step * outer / choke - 0.05 * step * line
        if inner:
            held += step / ratio * (through - taken)
            through += step * (outer - held) / inner - 0.05 * step * through
        line, through = max(line, -inf if ahead else 0.0), max(through, 0.0 if ahead else -inf)
        if k >= 200 * steps:
            off = (through if ahead else line) <= 0.0
            squares, crest, blocked = squares + line * line, max(crest, abs(line)), blocked + off
    return sqrt(squares / (60 * steps)), crest, blocked / (60 * steps)


@pytest.mark.parametrize(
    ("past", "share", "ahead", "inner", "ratio"),
    [
        (0.51, 0.02, 0, 0.0, 0.0),
        (1.0, 0.3, 0, 0.0, 0.0),
        (2.0, 0.02, 0, 0.0, 0.0),
        (1.4, 0.05, 0, 0.2, 0.3),
        (0.6, 0.02, 1, 0.02, 0.5),
        (1.0, 0.3, 1, 0.01, 0.1),
        (3.0, 0.02, 1, 0.02, 0.3),
    ],
)
def test_a_rectifier_that_blocks_within_a_pulse_lets_no_more_through(
    past: float, share: float, ahead: int, inner: float, ratio: float
) -> None:
    rms, crest, blocked = stepped(past, share, ahead, inner, ratio)
    assert blocked > 0.02
    ladder = [Section((past + 1.0) / (2.0 * pi) ** 2, 0.0, 1.0), Section(inner, 0.0, ratio)][: 2 if inner else 1]
    # of a period of 1 s and capacitances of 1 F into those of 100 kHz and 10 nF
    scaled = [Section(one.inductance * 1e-2, 0.0, one.capacitance * 1e-8) for one in ladder]
    found = passed_on(rms=1.0, peak=1.0, frequency=HERTZ, sections=scaled, ahead=ahead)
    assert rms < found.rms and crest < found.peak


def test_of_a_choke_between_two_capacitors_the_inner_section_alone_counts() -> None:
    sections = [*lone(40.0), *lone(10.0, 2e-8)]
    line, choke = (passed_on(rms=MEAN, peak=MEAN, frequency=HERTZ, sections=sections, at=at).peak for at in (0, 1))
    _, peak = behind(0.02, sections, 1)
    assert line < 1.02 * MEAN < peak <= choke
