"""Turn-off of a bipolar switch: ngspice with an ideal falling current, data-sheet figures, signs, refusals."""

from __future__ import annotations

import math

import pytest
from converter_trials import prove_signs
from mains_bench import integral, need_ngspice, ngspice

from derate.circuit.thermal import TURN_OFF_ERROR, TURN_OFF_SIGNS, fall_loss, locus_current

# clamp [V], current [A], fall [s], capacitance across the switch [F]: the voltage is at the clamp before the current
# falls (a node of 1 fF, for ngspice wants some), reaches it on the way, or only after the current has gone.
FALLS = [
    (550.0, 0.3, 0.4e-6, 1e-15), (600.0, 0.25, 0.15e-6, 10e-12), (600.0, 0.5, 0.4e-6, 47e-12),
    (500.0, 1.0, 0.7e-6, 220e-12), (600.0, 0.3, 0.3e-6, 220e-12), (400.0, 0.2, 0.5e-6, 1e-9),
]  # fmt: skip


def _turned_off(fall: tuple[float, float, float, float]) -> tuple[list[float], list[float], list[float]]:
    """Time, voltage and collector current of a winding's current into switch, capacitor and clamp."""
    clamp, current, time, capacitance = fall
    circuit = (
        f"I1 0 n {current}\nIsw n 0 PWL(0 {current} {time} 0 {10 * time} 0)\nC1 n 0 {capacitance} IC=0\n"
        f"D1 n k DC\nVk k 0 {clamp}\n.model DC D(IS=1e-12 N=0.1 RS=1m)\n"
    )
    t, v = ngspice(circuit, "v(n)", time / 2000.0, time)
    return t, v, [current * (1.0 - at / time) for at in t]


@pytest.mark.parametrize("fall", FALLS, ids=lambda one: f"{one[1]:g} A {one[3] * 1e12:g} pF")
def test_loss_and_locus_against_ngspice(fall: tuple[float, float, float, float]) -> None:
    need_ngspice()
    clamp, current, time, capacitance = fall
    t, v, i = _turned_off(fall)
    energy = integral(t, [x * y for x, y in zip(v, i, strict=True)])
    # the clamp diode drops up to 1 V of hundreds, and the ramp of the node is followed in 2000 steps
    assert fall_loss(clamp, current, time, 1.0, capacitance) == pytest.approx(energy, rel=0.01)
    for share in (0.3, 0.6, 0.95):
        reached = next((k for k, volts in enumerate(v) if volts >= share * clamp), None)
        left = locus_current(share * clamp, current, time, capacitance)
        if reached is None:
            assert left == 0.0
        else:
            assert left == pytest.approx(i[reached], abs=0.01 * current)


def test_text_book_ends() -> None:
    """V I t / 2 into a clamp with nothing across the switch; a twelfth of that where C = I t / (2 V) just does it."""
    assert fall_loss(500.0, 1.0, 1e-6, 1e5) == pytest.approx(0.5 * 500.0 * 1.0 * 1e-6 * 1e5, rel=1e-12)
    just = 1.0 * 1e-6 / (2.0 * 500.0)
    assert fall_loss(500.0, 1.0, 1e-6, 1e5, just) == pytest.approx(25.0 / 6.0, rel=1e-9)  # I² t² / (24 C)
    assert locus_current(500.0, 1.0, 1e-6, just) == pytest.approx(0.0, abs=1e-9)
    assert locus_current(125.0, 1.0, 1e-6, just) == pytest.approx(0.5)  # a quarter of the voltage at half the time
    assert fall_loss(500.0, 0.0, 1e-6, 1e5) == fall_loss(500.0, 1.0, 0.0, 1e5) == 0.0
    # a resistive load takes a third of the clamped one: inside the band
    assert 1.0 + TURN_OFF_ERROR["fall_loss"][0] <= 1.0 / 3.0 <= 1.0 + TURN_OFF_ERROR["fall_loss"][1]


# Data sheets (MJE13003/D and MJE13005/D, clamped inductive load, typical): fall and crossover time [us]
SHEETS = [("13003", 0.15, 0.29), ("13005", 0.16, 0.32)]


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda one: one[0])
def test_crossover_of_data_sheets_lies_in_the_band(sheet: tuple[str, float, float]) -> None:
    """The crossover time runs from a tenth of the voltage to a tenth of the current: V I tc / 2 at most."""
    _, fall, crossover = sheet
    low, high = TURN_OFF_ERROR["fall_loss"]
    assert 1.0 + low <= crossover / fall <= 1.0 + high


RANGES = {"voltage": (50.0, 800.0), "current": (0.05, 2.0), "fall": (5e-8, 2e-6), "capacitance": (0.0, 1e-9)}


def test_signs() -> None:
    prove_signs(fall_loss, {**RANGES, "frequency": (2e4, 2e5)}, TURN_OFF_SIGNS["fall_loss"])
    prove_signs(locus_current, RANGES, TURN_OFF_SIGNS["locus_current"])


@pytest.mark.parametrize(
    "wrong", [{"voltage": -1.0}, {"current": math.inf}, {"fall": -1e-9}, {"capacitance": math.nan}], ids=str
)
def test_out_of_range_is_refused(wrong: dict[str, float]) -> None:
    good = {"voltage": 500.0, "current": 0.3, "fall": 4e-7, "capacitance": 1e-10}
    assert locus_current(**good) > 0.0
    with pytest.raises(ValueError, match="state"):
        locus_current(**(good | wrong))
    with pytest.raises(ValueError, match="state"):
        fall_loss(frequency=6e4, **(good | wrong))
