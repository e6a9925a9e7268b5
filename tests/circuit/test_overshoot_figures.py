"""Printed figures of overshoot at switch-on whose circuits are printed in part only, as far as they bear.

Four single capacitors behind 0.4 ohm and 0.8 mH of mains (Equations, section 19, row 2): mains voltage, closing angle
and the resistance of fuse and hot thermistor are not printed, and no one choice of them gives all four. Two capacitors
with a choke (row 3): all but the choke's resistance is known, so one of two figures fixes it and the other is foretold.
"""

from __future__ import annotations

from itertools import product
from math import sqrt

import mains_bench as bench
import pytest

from derate.circuit.choke_filter import filter_switch_on
from derate.circuit.inrush import switch_on, worst_switch_on

# What stands beside the mains [ohm, H, F], and the printed crest of the capacitor [V]. Fuse and hot thermistor at no
# resistance, which is their worst.
PRINTED = [
    pytest.param(0.0, 0.0, 33e-6, 627.0, id="fuse only"),
    pytest.param(0.0, 0.0, 47e-6, 577.0, id="hot thermistor"),
    pytest.param(8.2, 4.7e-3, 10e-6, 552.0, id="8.2 ohm and line choke"),
    pytest.param(8.2, 0.0, 10e-6, 371.0, id="8.2 ohm alone"),
]
MAINS_OHM, MAINS_HENRY = 0.4, 0.8e-3


@pytest.mark.parametrize(("ohm", "henry", "farad", "printed"), PRINTED)
def test_no_printed_crest_is_above_ours(ohm: float, henry: float, farad: float, printed: float) -> None:
    """At 264 V and the worst angle ours may not be the lower one: what is not printed only damps, or lowers the mains.

    It reads 700, 691, 576 and 439 V with no drop. That is 4 to 20 % above them, so it bounds and does not confirm.
    """
    found = worst_switch_on(264.0, 50.0, MAINS_OHM + ohm, farad, inductance=MAINS_HENRY + henry).bulk_peak
    assert printed < found < 2.0 * sqrt(2.0) * 264.0  # an undamped step gives twice the crest


@pytest.mark.parametrize(("ohm", "henry", "farad", "printed"), PRINTED)
def test_the_same_circuits_in_ngspice(ohm: float, henry: float, farad: float, printed: float) -> None:
    """Closed at the crest of 264 V: 0.5 %, the band of the solver."""
    bench.need_ngspice()
    resistance, inductance, crest = MAINS_OHM + ohm, MAINS_HENRY + henry, sqrt(2.0) * 264.0
    found = switch_on(264.0, 50.0, resistance, farad, inductance=inductance, drop=bench.IDEAL_DROP)
    deck = f"""Vac a1 b SIN(0 {crest} 50 0 0 90)
R1 a1 a3 {resistance}
L1 a3 a {inductance} IC=0
{bench.BRIDGE}C1 p 0 {farad} IC=0
"""
    _, bulk = bench.ngspice(deck, "v(p)", 2e-6, 0.012)
    assert found.bulk_peak == pytest.approx(max(bulk), rel=0.005)


# 8.2 ohm, 470 uH, twice 10 uF: the filter of section 3 that does not overshoot. Tolerances are usual ones.
RESISTANCE, CHOKE, BULK = (8.2, 0.1), (470e-6, 0.1), (10e-6, 0.2)


def _corner(choke_ohm: float, r: int, inductance: int, c1: int, c2: int) -> float:
    return filter_switch_on(
        264.0, 50.0, RESISTANCE[0] * (1 + r * RESISTANCE[1]), BULK[0] * (1 + c1 * BULK[1]),
        CHOKE[0] * (1 + inductance * CHOKE[1]), choke_ohm, BULK[0] * (1 + c2 * BULK[1]),
    ).bulk2_peak  # fmt: skip


def test_the_true_corner_lies_above_that_of_small_perturbations() -> None:
    """Nominal 374 V, corner by the signs of small perturbations 398 V, true corner 411 V.

    Near the nominal, where nothing rings, no sign of the inductance shows, and its lower end looks as bad. The choke's
    resistance is not printed: that which gives the second figure has to give the third, within 1 %.
    """
    low, high = 0.0, 2.0
    for _ in range(40):
        choke_ohm = 0.5 * (low + high)
        low, high = (choke_ohm, high) if _corner(choke_ohm, -1, -1, -1, -1) > 398.0 else (low, choke_ohm)
    assert 0.2 < choke_ohm < 1.0  # what such a choke has
    assert _corner(choke_ohm, 0, 0, 0, 0) == pytest.approx(374.0, rel=0.005)
    corners = {signs: _corner(choke_ohm, *signs) for signs in product((-1, 1), repeat=4)}
    worst = max(corners, key=lambda signs: corners[signs])
    assert worst == (-1, 1, -1, -1)  # R-, L+, C-
    assert corners[worst] == pytest.approx(411.0, rel=0.01)
