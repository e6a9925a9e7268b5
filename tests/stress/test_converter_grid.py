"""Acceptance of the converter: over 400 random flybacks a dense grid exceeds no reported maximum by more than 0.5 %.

The grid of every design is 11 mains × 5 frequencies × 11 loads, and of two outputs the first alone at full load too.
What each axis is for a converter:
- mains: the rms voltage, from the plate's lowest less 10 % to its highest plus 10 %. With the load it sets the crest.
- frequency: of the mains, 47 to 63 Hz. It sets how far the bulk falls between two crests, so that each grid point is
  two points of the converter, at the least and the greatest voltage of the bulk; the converter's own frequency is the
  design's, or follows from the point where it runs at the boundary.
- load: shares 0.1 to 1 of the plate's current, of all outputs together: power through the primary, current of the
  secondary, and what the rectifier has to carry.
Truth at a point is the rectifier (`line_grid`) and the whole stage, primary, clamp and secondary solved together
(`stage_grid`), both on arrays. At sampled points of every design they are held to the solver itself and to
`tests/flyback_stage.py`, which ngspice holds. Charge and energy balance at every point of every design.
"""

from __future__ import annotations

import math
import random
from concurrent.futures import ProcessPoolExecutor
from itertools import product

import numpy as np
from flyback_stage import Stage, stage_at_boundary, stage_at_limit, stage_at_load
from line_grid import Array, steady_line
from random_flybacks import CONVERTER, Flyback, random_flyback, worked_out
from stage_grid import Points, left_over, stages

from derate.circuit.barrier import held_to_bulk_minus, referred_to_mains
from derate.circuit.flyback import trapezoid_rms
from derate.circuit.mains import BRIDGE_DROP
from derate.circuit.output_stage import single_capacitor
from derate.circuit.rectifier import steady_state
from derate.ledger.entry import Subject
from derate.ledger.ledger import Ledger
from derate.terms.values import Value
from derate.topologies.flyback.switch import STRAY

DESIGNS = 400
_ALLOWED = 0.005
DROP = 0.5


def _steps(low: float, high: float, count: int) -> list[float]:
    return [low + (high - low) * k / (count - 1) for k in range(count)]


def _far(ledger: Ledger, subject: Subject, quantity: str, group: str = "running") -> float | None:
    rows = [row for row in ledger.rows(subject, quantity) if row.case is not None and row.case.group == group]
    rows = [row for row in rows if row.case is None or row.case.load in ("", "full", "none")]
    values = [row.value for row in rows]
    assert rows, (subject, quantity)
    known = [value.far for value in values if isinstance(value, Value)]
    return max(known) if known and len(known) == len(values) else None


def _stage(flyback: Flyback, bulk: float, delivered: float) -> tuple[Stage, float]:
    parts = flyback.transformer()
    for drain in (parts.drain_capacitance, 0.0):
        parts = parts._replace(drain_capacitance=drain)
        try:
            if flyback.boundary:
                cap = (0.0, flyback.frequency)
                return stage_at_boundary(bulk, delivered, parts, flyback.clamp, frequency_range=cap), drain
            return stage_at_load(bulk, delivered, flyback.frequency, parts, flyback.clamp), drain
        except ValueError as error:  # so light a load that the drain capacitance alone carries it: outside the range
            assert "drain capacitance carries" in str(error)
    raise AssertionError("without drain capacitance every load is in range")


def _sampled(
    flyback: Flyback, points: Points, bulk: Array, delivered: Array, current: Array, figures: dict[str, Array], k: int
) -> None:
    """One point of the arrays against the stage and the formulas solved for it alone."""
    stage, drain = _stage(flyback, float(bulk[k]), float(delivered[k]))
    assert drain == points.drain[k]
    for name, value in _figures(flyback, stage, float(bulk[k]), float(current[k])).items():
        assert math.isclose(figures[name][k], value, rel_tol=1e-7), (name, flyback.text)
    for name, value in (("valley", stage.primary.valley), ("clamp_loss", stage.clamp.loss)):
        assert math.isclose(getattr(points, name)[k], value, rel_tol=1e-7, abs_tol=1e-7 * stage.primary.peak)


def one(seed: int) -> dict[str, float]:
    """Greatest relative excess of the grid over the reported figure, for each quantity of one random design."""
    rng = random.Random(seed)
    flyback = random_flyback(rng, boundary=seed % 4 == 0, count=2 if seed % 4 == 3 else 1)
    ledger = worked_out(flyback.text)
    primary, output = Subject("path", ("primary",)), Subject("output", ("o0",))
    names = {
        "peak": (primary, "current_peak"), "rms": (primary, "current_rms"), "switch": (Subject("part", ("Q1",)),
        "voltage_peak"),
        "clamp": (Subject("part", ("R5",)), "power"), "secondary": (output, "current_rms"),
        "capacitor": (Subject("part", ("C10",)), "ripple_current"), "ripple": (output, "ripple"),
        "working": (Subject("circuit pair", ("primary", "secondary")), "working_voltage"),
        "working_peak": (Subject("circuit pair", ("primary", "secondary")), "working_voltage_peak"),
    }  # fmt: skip
    reported = {name: far for name, where in names.items() if (far := _far(ledger, *where)) is not None}
    if "rms" not in reported:
        return {}  # the bulk cannot carry it at a corner: said in the ledger, nothing to hold
    volts, full, turns = flyback.outputs[0]
    every = sum((v + DROP) * i for v, i, _ in flyback.outputs)
    loads = [(share, share * every, share * full) for share in _steps(0.1, 1.0, 11)]
    if len(flyback.outputs) == 2:
        loads.append((((volts + DROP) * full) / every, (volts + DROP) * full, full))
    grid = [
        (mains, hertz, *load)
        for mains, hertz, load in product(_steps(flyback.low, flyback.high, 11), _steps(47, 63, 5), loads)
    ]
    mains, hertz, share, delivered, current = np.array(grid).T
    series = flyback.series + 0.02
    line = steady_line(mains, hertz, series, flyback.bulk, share * flyback.drawn, BRIDGE_DROP)
    # Simpson's sums over 24 pieces of the arc stand 2e-5 off; the solver's own test allows 1e-3
    assert np.abs(line.charge_left).max() < 1e-4 and np.abs(line.energy_left).max() < 1e-4, flyback.text
    bulk = np.concatenate((line.bulk_min, line.bulk_max))
    delivered, current = np.tile(delivered, 2), np.tile(current, 2)
    transformer = flyback.transformer()
    points = stages(bulk, delivered, flyback.frequency, flyback.boundary, transformer, flyback.clamp)
    left = left_over(points, bulk, delivered, transformer, flyback.clamp)
    assert max(left.values()) < 1e-8, (left, flyback.text)
    figures = _on_the_grid(flyback, points, bulk, current)
    worst = {name: float((figures[name] / far).max()) - 1.0 for name, far in reported.items()}
    # the corners of the grid, where a maximum likes to lie, where each maximum does lie, and some points within
    for k in {0, len(grid) - 1, *rng.sample(range(len(grid)), 3)}:
        own = steady_state(grid[k][0], grid[k][1], series, flyback.bulk, grid[k][2] * flyback.drawn, BRIDGE_DROP)
        assert own is not None
        assert math.isclose(own.bulk_min, line.bulk_min[k], rel_tol=1e-7)
        assert math.isclose(own.bulk_max, line.bulk_max[k], rel_tol=1e-7)
    for k in {0, len(bulk) - 1, *(int(figures[name].argmax()) for name in reported), *rng.sample(range(len(bulk)), 4)}:
        _sampled(flyback, points, bulk, delivered, current, figures, k)
    for name, (value, far) in _at_the_limit(flyback, ledger).items():
        worst[name] = value / far - 1
    return worst


def _at_the_limit(flyback: Flyback, ledger: Ledger) -> dict[str, tuple[float, float]]:
    """Overload at the highest mains: truth with the longest delay that is assumed, and what is reported."""
    bulk, parts = 2**0.5 * flyback.high, flyback.transformer()
    resistance = ledger.find(Subject("part", ("R9",)), "part.resistance")
    assert resistance is not None and isinstance(resistance.value, Value)
    peak = 1.0 / resistance.value.near + bulk * CONVERTER["limit_delay"].value.far / flyback.inductance
    frequency = flyback.frequency
    if flyback.boundary:
        frequency = min(frequency, 1.0 / (flyback.inductance * peak * (1.0 / bulk + 1.0 / flyback.reflected)))
    stage = stage_at_limit(bulk, peak, frequency, parts, flyback.clamp)
    truth = {
        "limit peak": (peak, Subject("path", ("primary",)), "current_peak"),
        "limit switch": (stage.clamp.switch_peak + STRAY, Subject("part", ("Q1",)), "voltage_peak"),
        "limit clamp": (stage.clamp.loss, Subject("part", ("R5",)), "power"),
        "limit flux": (
            flyback.inductance * peak / (flyback.primary * 60e-6), Subject("transformer", ("T1",)), "flux_density"
        ),
    }  # fmt: skip
    found = {}
    for name, (value, subject, quantity) in truth.items():
        far = _far(ledger, subject, quantity, "overload")
        if far is not None:
            found[name] = (value, far)
    return found


def _on_the_grid(flyback: Flyback, points: Points, bulk: Array, current: Array) -> dict[str, Array]:
    """As `_figures`, on arrays."""
    reflected, ratio = flyback.reflected, flyback.primary / flyback.outputs[0][2]
    duty, conduction = points.duty, np.minimum(points.secondary_duty, 1.0 - points.duty)
    both, idle = conduction * (bulk + reflected) ** 2, 1.0 - duty - conduction
    held = both + idle * bulk**2
    referred = 0.5 * (held + duty * bulk**2 + conduction * reflected**2)
    end = points.valley / points.peak
    start = current / (0.5 * (1.0 + end) * points.secondary_duty)
    square = points.secondary_duty * start**2 * (1.0 + end + end**2) / 3.0
    secondary = np.sqrt(square)
    if len(flyback.outputs) == 1:
        secondary = np.maximum(secondary, points.secondary_rms * current / points.secondary_average)
    # the output capacitor: v = q / C + R i at the ends of the pulse, and where its slope is nought
    share = np.minimum(points.secondary_duty, 0.999)
    width, load = share / points.frequency, 0.5 * start * (1.0 + end) * share
    slope = start * (end - 1.0) / width
    farads, ohms = flyback.capacitance, flyback.resistance
    turning = np.clip((load - start - ohms * farads * slope) / slope, 0.0, width)
    times = np.stack((np.zeros_like(width), width, turning))
    volts = ((start - load) * times + 0.5 * slope * times**2) / farads + ohms * (start - load + slope * times)
    after = ((start * (1.0 + end) / 2.0 - load) * width / farads - ohms * load)[None, :]
    nodes = np.concatenate((volts, after, -ohms * load[None, :]))
    # mean current nought: what the pulse brings more than the load in its share is what the load takes in the rest
    assert np.allclose((0.5 * start * (1.0 + end) - load) * share, load * (1.0 - share), rtol=1e-9)
    rms = np.sqrt(share * start**2 * (1.0 + end + end**2) / 3.0 - load**2)
    return {
        "peak": points.peak, "rms": points.rms, "switch": points.switch_peak + STRAY, "clamp": points.clamp_loss,
        "working": np.sqrt(np.maximum(held, referred)), "secondary": secondary, "capacitor": rms,
        "working_peak": points.switch_peak + STRAY + bulk / ratio, "ripple": nodes.max(axis=0) - nodes.min(axis=0),
    }  # fmt: skip


def _figures(flyback: Flyback, stage: Stage, bulk: float, current: float) -> dict[str, float]:
    point = stage.primary
    found = {
        "peak": point.peak, "rms": point.rms, "switch": stage.clamp.switch_peak + STRAY, "clamp": stage.clamp.loss,
    }  # fmt: skip
    top = stage.clamp.switch_peak + STRAY - bulk
    rest = min(point.secondary_duty, 1.0 - point.duty)
    swing = bulk / (flyback.primary / flyback.outputs[0][2])
    for reference in (held_to_bulk_minus, referred_to_mains):
        working = reference(bulk, flyback.reflected, point.duty, rest, top, secondary_swing=swing)
        found["working"] = max(found.get("working", 0.0), working.rms)
        found["working_peak"] = working.peak
    # the plain shape of the secondary, scaled to its own load
    end = point.valley / point.peak
    start = current / (0.5 * (1.0 + end) * point.secondary_duty)
    found["secondary"] = trapezoid_rms(start, start * end, point.secondary_duty)
    if len(flyback.outputs) == 1:  # with the leakage's commutation, its ringing left out
        found["secondary"] = max(found["secondary"], stage.secondary.rms * current / stage.secondary.average)
    filtered = single_capacitor(
        start, start * end, min(point.secondary_duty, 0.999), point.frequency, flyback.capacitance, flyback.resistance
    )
    return found | {"capacitor": filtered.capacitor_rms, "ripple": filtered.ripple}


def test_dense_grid() -> None:
    with ProcessPoolExecutor(2) as pool:
        results = list(pool.map(one, range(DESIGNS), chunksize=5))
    held = [found for found in results if found]
    assert len(held) >= 0.9 * DESIGNS, len(held)
    worst: dict[str, float] = {}
    for found in held:
        for name, over in found.items():
            worst[name] = max(worst.get(name, -1.0), over)
    assert max(worst.values()) <= _ALLOWED, worst
    # The reported figures are not slack either: somewhere the grid comes within their bands of each.
    assert min(worst.values()) > -0.25, worst
