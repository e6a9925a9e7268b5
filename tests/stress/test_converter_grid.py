"""Acceptance of the converter: over random flybacks a dense grid exceeds no reported maximum by more than 0.5 %.

Truth at a grid point is the whole stage solved together (primary, clamp, secondary; `tests/flyback_stage.py`) at both
ends of the bulk voltage of that point, which the rectifier's own solver gives. 11 mains × 5 frequencies × 11 loads, and
of several outputs each alone at full load too. Charge and energy have to balance at every one of those points.
"""

from __future__ import annotations

import math
import random
from concurrent.futures import ProcessPoolExecutor
from itertools import product

from flyback_stage import Stage, stage_at_boundary, stage_at_limit, stage_at_load
from random_flybacks import CONVERTER, Flyback, random_flyback, worked_out

from derate.circuit.flyback import trapezoid_rms
from derate.circuit.output_stage import single_capacitor
from derate.circuit.rectifier import steady_state
from derate.circuit.working_voltage import held_to_bulk_minus, referred_to_mains
from derate.ledger.entry import Subject
from derate.ledger.ledger import Ledger
from derate.stress.line import BRIDGE_DROP
from derate.stress.switch_voltage import STRAY
from derate.terms.values import Value

DESIGNS = 100  # a design is 1210 whole stages: 400 of them take four minutes; seeds 0 to 399 were run once and hold
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


def _balances(flyback: Flyback, stage: Stage, bulk: float, drain: float) -> None:
    """What comes from the bulk is delivered, burnt in the clamp or rung away; the secondary's charge is the load's."""
    rise = stage.clamp.voltage - flyback.reflected
    rung = 0.5 * drain * rise**2 * stage.primary.frequency
    assert math.isclose(stage.primary.power, stage.delivered + stage.clamp.loss + rung, rel_tol=1e-6)
    brought = 0.5 * drain * (bulk**2 - flyback.reflected**2) * stage.primary.frequency
    assert math.isclose(bulk * stage.primary.average + brought, stage.primary.power, rel_tol=1e-6)
    load = stage.delivered / (flyback.reflected / (flyback.primary / flyback.outputs[0][2]))
    assert abs(stage.secondary.average / load - 1) < 0.05, (stage.secondary.average, load)  # own band of ±2 % and shape


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
    worst = dict.fromkeys(reported, -1.0)
    volts, full, turns = flyback.outputs[0]
    every = sum((v + DROP) * i for v, i, _ in flyback.outputs)
    loads = [(share, share * every, share * full) for share in _steps(0.1, 1.0, 11)]
    if len(flyback.outputs) == 2:
        loads.append((((volts + DROP) * full) / every, (volts + DROP) * full, full))
    for mains, hertz, (share, delivered, current) in product(
        _steps(flyback.low, flyback.high, 11), _steps(47, 63, 5), loads
    ):
        line = steady_state(mains, hertz, flyback.series + 0.02, flyback.bulk, share * flyback.drawn, BRIDGE_DROP)
        assert line is not None
        for bulk in (line.bulk_min, line.bulk_max):
            stage, drain = _stage(flyback, bulk, delivered)
            _balances(flyback, stage, bulk, drain)
            for name, value in _figures(flyback, stage, bulk, current).items():
                if name in reported:
                    worst[name] = max(worst[name], value / reported[name] - 1)
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
