"""Primary, clamp and secondary together against ngspice and the published 47 W design."""

from __future__ import annotations

import doctest
import math
import random
from itertools import product

import flyback_stage
import pytest
from converter_trials import draw, rows
from counts import calls
from flyback_stage import (
    ClampParts,
    Stage,
    Transformer,
    stage_at_boundary,
    stage_at_limit,
    stage_at_load,
)

from derate.circuit import clamp, flyback
from derate.circuit import secondary as secondary_current
from derate.circuit.numerics import widened

ROWS = rows("ngspice_flyback.json")
RANDOM = rows("ngspice_flyback_random.json")


def drop_of(current: float) -> float:
    """The netlists' output diode: 1 uA, emission 1, 5 mohm, at 27 degC."""
    return 0.025865 * math.log(current / 1e-6 + 1) + 0.005 * current


def solve(row: dict, capacitance: float | None = None) -> Stage:
    """From the row's output power alone; nothing of the currents or the clamp is taken from ngspice.

    The drop is taken at the mean conducted current, found in a few passes.
    """
    average, conduction = row["result"]["output_W"] / row["vout_V"], 0.45
    for _ in range(4):
        drop = drop_of(average / conduction)
        transformer, parts = parts_of(row, drop, capacitance)
        power = average * (row["vout_V"] + drop)
        stage = stage_at_load(row["bulk_V"], power, row["switching_Hz"], transformer, parts)
        conduction = stage.secondary.conduction
    return stage


def solve_from_peak(row: dict) -> Stage:
    """From the row's peak current alone; the drop as above, from the computed average."""
    peak, drop = row["result"]["primary_peak_A"], 0.45
    for _ in range(4):
        transformer, parts = parts_of(row, drop)
        stage = stage_at_limit(row["bulk_V"], peak, row["switching_Hz"], transformer, parts)
        drop = drop_of(stage.secondary.average / stage.secondary.conduction)
    return stage


def parts_of(row: dict, drop: float, capacitance: float | None = None) -> tuple[Transformer, ClampParts]:
    transformer = Transformer(
        row["magnetising_H"],
        row["leakage_H"],
        row["turns_ratio"] * (row["vout_V"] + drop),
        row["turns_ratio"],
        row["drain_F"] if capacitance is None else capacitance,
    )
    return transformer, ClampParts(row["clamp_ohm"], row["clamp_F"])


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["netlist"])
def test_against_ngspice(row):
    stage, spice, slow = solve(row), row["result"], row["slow_clamp_diode"]
    assert stage.primary.mode == {"dcm": "discontinuous", "ccm": "continuous"}[row["mode"]]
    assert stage.primary.peak == pytest.approx(spice["primary_peak_A"], rel=0.01)  # at most 3 % allowed
    assert stage.primary.rms == pytest.approx(spice["switch_rms_A"], rel=0.015)  # at most 3 % allowed
    # The clamp reads high: ringing after the clamp lets go, and its diode's 0.6 V, are left out. A slow diode hands
    # charge back, hence its own figure.
    assert -0.001 <= stage.clamp.voltage / spice["clamp_average_V"] - 1 <= (0.08 if slow else 0.03)
    assert -0.01 <= stage.clamp.switch_peak / spice["switch_peak_V"] - 1 <= 0.04
    assert stage.secondary.average == pytest.approx(spice["secondary_average_A"], rel=0.01)  # at most 6 % allowed
    assert stage.secondary.rms_ringing == pytest.approx(spice["secondary_rms_A"], rel=0.08 if slow else 0.05)
    _all_inside(stage, row)


def _all_inside(stage: Stage, row: dict) -> None:
    """Every figure inside its stated band."""
    spice, slow = row["result"], row["slow_clamp_diode"]
    clamps = clamp.ERROR_SLOW_DIODE if slow else clamp.ERROR
    seconds = secondary_current.ERROR_SLOW_DIODE if slow else secondary_current.CURRENT_ERROR
    for computed, band, true in (
        (stage.primary.peak, flyback.ERROR["peak"], spice["primary_peak_A"]),
        (stage.primary.rms, flyback.ERROR["rms"], spice["switch_rms_A"]),
        (stage.clamp.voltage, clamps["voltage"], spice["clamp_average_V"]),
        (stage.clamp.loss, clamps["loss"], spice["clamp_W"]),
        (stage.clamp.diode_average, clamps["diode_average"], spice["clamp_average_V"] / row["clamp_ohm"]),
        (stage.clamp.switch_peak, clamps["switch_peak"], spice["switch_peak_V"]),
        (stage.secondary.average, seconds["average"], spice["secondary_average_A"]),
        (stage.secondary.rms, seconds["rms"], spice["secondary_rms_A"]),
        (stage.secondary.rms_ringing, seconds["rms_ringing"], spice["secondary_rms_A"]),
        (stage.secondary.peak, seconds["peak"], spice["secondary_peak_A"]),
        (stage.secondary.peak_ringing, seconds["peak_ringing"], spice["secondary_peak_A"]),
    ):
        low, high = widened(computed, band)
        assert low <= true <= high, (computed, band, true)


@pytest.mark.parametrize("row", RANDOM, ids=lambda row: row["netlist"])
def test_random_flybacks_against_ngspice(row):
    """36 random circuits that had no part in shaping the formulas, from the load and from the peak."""
    for stage in (solve(row), solve_from_peak(row)):
        assert stage.primary.mode == row["mode"]
        _all_inside(stage, row)
    # the plain and the ringing figure enclose what an undamped ring does
    assert stage.secondary.peak * 0.99 <= row["result"]["secondary_peak_A"] <= stage.secondary.peak_ringing * 1.05
    # the winding's own highest current, after the switch has opened
    lifted = flyback.lifted_peak(
        row["result"]["primary_peak_A"], row["bulk_V"], 0.0, row["magnetising_H"] + row["leakage_H"], row["drain_F"]
    )
    assert lifted == pytest.approx(row["result"]["winding_peak_A"], rel=0.02)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["netlist"])
def test_from_the_peak_against_ngspice(row):
    """The other way round: from the row's peak current alone to the power, and so to the secondary's average."""
    stage, spice = solve_from_peak(row), row["result"]
    assert stage.primary.peak == pytest.approx(spice["primary_peak_A"], rel=1e-6)
    low, high = widened(stage.secondary.average, secondary_current.CURRENT_ERROR["average"])
    assert low <= spice["secondary_average_A"] <= high
    assert stage.secondary.average == pytest.approx(spice["secondary_average_A"], rel=0.02)
    assert stage.primary.rms == pytest.approx(spice["switch_rms_A"], rel=0.02)


@pytest.mark.parametrize("row", ROWS + RANDOM, ids=lambda row: row["netlist"])
def test_drain_capacitance_not_known(row):
    """Taken as zero: everything within the band stated for that, and the stresses of the primary read high."""
    stage, spice = solve(row, capacitance=0.0), row["result"]
    assert stage.primary.peak >= 0.995 * spice["primary_peak_A"]
    band = flyback.ERROR_NO_CAPACITANCE
    for computed, name, true in (
        (stage.primary.peak, "peak", spice["primary_peak_A"]),
        (stage.primary.rms, "rms", spice["switch_rms_A"]),
    ):
        low, high = widened(computed, band[name])
        assert low <= true <= high, (name, computed, true)
    band = clamp.ERROR_NO_CAPACITANCE
    for computed, name, true in (
        (stage.clamp.voltage, "voltage", spice["clamp_average_V"]),
        (stage.clamp.loss, "loss", spice["clamp_W"]),
        (stage.clamp.switch_peak, "switch_peak", spice["switch_peak_V"]),
    ):
        low, high = widened(computed, band[name])
        assert low <= true <= high, (name, computed, true)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["netlist"])
def test_source_power_of_the_rows(row):
    """The rows' input_W is the mean primary current times the bulk, and so counts the clamp current, which returns to
    bulk plus without passing the source. Without it ngspice balances; with it 0.2 to 1.1 W are missing.
    """
    spice = row["result"]
    average = spice["secondary_average_A"]
    circulating = row["bulk_V"] * spice["clamp_average_V"] / row["clamp_ohm"]
    # The diode's loss: threshold at the mean conducted current, resistance at the RMS one.
    rectifier = 0.025865 * math.log(average / 0.45 / 1e-6) * average + 0.005 * spice["secondary_rms_A"] ** 2
    known = spice["output_W"] + spice["clamp_W"] + rectifier
    rest = spice["input_W"] - circulating - known  # turn-on loss of the drain capacitance, ringing, clamp diode
    limit = 0.5 * row["drain_F"] * (row["bulk_V"] + 90) ** 2 * row["switching_Hz"]
    assert -0.002 * known <= rest <= limit + 0.015 * known


RANGES = {
    "bulk": (80.0, 390.0),
    "delivered": (2.0, 80.0),
    "magnetising": (3e-4, 2e-3),
    "leakage": (2e-6, 3e-5),
    "reflected": (50.0, 140.0),
    "frequency": (40e3, 130e3),
    "resistance": (2e4, 2e5),
}


def load_stage(**x: float) -> Stage:
    transformer = Transformer(x["magnetising"], x["leakage"], x["reflected"], 10.0, x.get("drain_capacitance", 0.0))
    parts = ClampParts(x["resistance"], 10e-9)
    return stage_at_load(x["bulk"], x["delivered"], x["frequency"], transformer, parts)


def test_energy_and_charge_balance():
    """Power in = delivered + clamp; the secondary's charge follows from it, in both modes, with and without C."""
    source, modes = random.Random(3), set()
    for k in range(400):
        d = draw(RANGES | {"drain_capacitance": (1e-11, 2e-10) if k % 2 else (0.0, 0.0)}, source)
        try:
            stage = load_stage(**d)
        except ValueError:
            continue
        modes.add(stage.primary.mode)
        rise = stage.clamp.voltage - d["reflected"]
        ringing = 0.5 * d["drain_capacitance"] * rise**2 * d["frequency"]
        assert stage.primary.power == pytest.approx(stage.delivered + stage.clamp.loss + ringing, rel=1e-8)
        # charge x reflected voltage = energy, worked out from the current's shape and from the power
        secondary = stage.secondary.average * d["reflected"] / 10.0
        assert secondary == pytest.approx(stage.delivered, rel=1e-8)
        # the clamp: what enters in a period leaves through the resistor
        entering = 0.5 * stage.clamp.diode_peak * stage.clamp.commutation * d["frequency"]
        assert entering == pytest.approx(stage.clamp.diode_average, rel=1e-9)
        assert stage.secondary.rms >= stage.secondary.average
    assert modes >= {"discontinuous", "continuous"}


def test_load_and_limit_meet():
    at_load = load_stage(
        bulk=300.0, delivered=20.0, magnetising=8e-4, leakage=1e-5, reflected=100.0, frequency=65e3, resistance=8e4
    )
    at_limit = stage_at_limit(
        300.0, at_load.primary.peak, 65e3, Transformer(8e-4, 1e-5, 100.0, 10.0), ClampParts(8e4, 10e-9)
    )
    assert at_limit.delivered == pytest.approx(20.0, rel=1e-8)
    assert at_limit.clamp.switch_peak == pytest.approx(at_load.clamp.switch_peak, rel=1e-8)


def test_boundary_stage_is_the_fixed_frequency_stage_at_its_frequency():
    transformer, parts = Transformer(8e-4, 1e-5, 100.0, 8.0, 5e-11), ClampParts(1e5, 4.7e-9)
    for idle in (0.0, 8e-7):
        free = stage_at_boundary(300.0, 20.0, transformer, parts, idle=idle)
        fixed = stage_at_load(300.0, 20.0, free.primary.frequency, transformer, parts)
        assert fixed.primary.peak == pytest.approx(free.primary.peak, rel=1e-6)
        assert fixed.clamp.switch_peak == pytest.approx(free.clamp.switch_peak, rel=1e-6)
        assert free.secondary.average * 100.0 / 8.0 == pytest.approx(20.0, rel=1e-6)
    held = stage_at_boundary(300.0, 20.0, transformer, parts, frequency_range=(2e4, 1.3e5))
    assert held.primary.frequency == 1.3e5 and held.primary.mode == "discontinuous"


# AN-4137 p13 to p18. At full load and 265 V the note computes 547 V and measures about 520 V (scope, 2 %). Through the
# inductor pass at least the outputs with their rectifiers' drops (51.4 W), and at most all that is drawn (46.9 W at the
# measured efficiency of 0.79, off a graph); at the drain are 100 pF or less. Those four corners are 533..545 V, below
# the note's own 547 V for 67 W, and still read 2.5 to 5 % high: the note blames the same. At the current limit plus
# delay the same switch sees far more, which the note does not work out.
def test_an4137_switch_voltage():
    parts, peaks = ClampParts(33e3, 10e-9), []
    for power, drain in product((51.4, 46.9 / 0.79), (0.0, 100e-12)):
        transformer = Transformer(682e-6 - 4.5e-6, 4.5e-6, 85.0, 22.5, drain)
        stage = stage_at_load(375.0, power, 66e3, transformer, parts)
        peaks.append(stage.clamp.switch_peak)
    assert (round(min(peaks)), round(max(peaks))) == (533, 544)
    assert 1.02 < min(peaks) / 520 < max(peaks) / 520 < 1.05
    limit = flyback.peak_at_limit(2.5 * 1.12, 375.0, 671e-6, 200e-9)
    overload = stage_at_limit(375.0, limit, 66e3, Transformer(671e-6, 4.5e-6, 85.0, 22.5), parts)
    assert overload.clamp.switch_peak > 600
    assert overload.clamp.switch_peak > stage.clamp.switch_peak + 50


def test_excessive_leakage_is_refused():
    with pytest.raises(ValueError, match="leakage is 40 uH: state a value from 0 H to 28 uH"):
        stage_at_load(100.0, 10.0, 65e3, Transformer(1e-4, 4e-5, 90.0, 10.0), ClampParts(5e3, 1e-7))


def test_few_enough_steps():
    """2,167 calls counted in the four passes: the fixed point of the clamp settles, it does not wander."""
    assert calls(lambda: solve(ROWS[0])) < 2_800


def test_examples():
    result = doctest.testmod(flyback_stage)
    assert result.failed == 0
    assert result.attempted > 0
