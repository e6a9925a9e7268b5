"""The signs that the converter's models declare, over random points: no single input moves an output the other way.

A model's worst corner is found from these signs alone; an input without a single sign (0) is run at both ends.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping

import pytest

from derate.circuit.output_stage import single_capacitor
from derate.ledger.ledger import Model
from derate.topologies.flyback.operating import PRIMARY_MODELS
from derate.topologies.flyback.output_capacitors import FAR_FROM_RESONANCE, SIGN_ALLOWANCE, filter_model, ripple_model
from derate.topologies.flyback.rails import SWITCHING
from derate.topologies.flyback.secondaries import single_model, winding_model
from derate.topologies.flyback.switch import Clamping, _breakdown, _rcd, limit_model, running_model
from derate.topologies.flyback.transformer import _REFERENCES, FLUX, peak_model, rms_model

RCD = Clamping("clamp", _rcd, {}, {"switch_peak": (0.0, 0.0)}, "", {"resistance": 0, "capacitance": -1})
BREAKDOWN = Clamping("clamp", _breakdown, {}, {"switch_peak": (0.0, 0.0)}, "", {"zener": 0, "series": 1})


def _base(rng: random.Random) -> dict[str, float]:
    bulk, power = rng.uniform(70, 380), 10 ** rng.uniform(0.3, 1.9)
    reflected, frequency = rng.uniform(50, 140), rng.uniform(40e3, 140e3)
    duty = reflected / (reflected + bulk)
    mean = power / bulk / duty
    inductance = bulk * duty / (rng.uniform(0.3, 4.0) * mean * frequency)
    return {"bulk": bulk, "power": power, "inductance": inductance, "reflected": reflected, "frequency": frequency}


def _winding(rng: random.Random) -> dict[str, float]:
    return {**_base(rng), "current": rng.uniform(0.1, 5), "leakage_share": rng.uniform(0.0, 0.05)}


def _ripple(rng: random.Random) -> dict[str, float]:
    return {**_winding(rng), "capacitance": 10 ** rng.uniform(-4, -2.7), "resistance": 10 ** rng.uniform(-2, -0.7)}


def _filter(rng: random.Random) -> dict[str, float]:
    while True:
        found = {
            **_ripple(rng), "inductance_out": 10 ** rng.uniform(-6, -4.7),
            "filter_capacitance": 10 ** rng.uniform(-4, -3),
            "filter_resistance": 10 ** rng.uniform(-2, -0.7),
        }  # fmt: skip
        a, b = found["capacitance"], found["filter_capacitance"]
        resonance = 1 / (2 * math.pi * (found["inductance_out"] * a * b / (a + b)) ** 0.5)
        if found["frequency"] > 1.3 * FAR_FROM_RESONANCE * resonance:
            return found


def _clamped(rng: random.Random, kind: str, at_limit: bool) -> dict[str, float]:
    base = _base(rng)
    leakage = rng.uniform(0.005, 0.03) * base["inductance"]
    base |= {"leakage": leakage, "drain": rng.choice([0.0, rng.uniform(10e-12, 100e-12)])}
    peak = 2.0 * base["power"] / base["bulk"] * (base["reflected"] + base["bulk"]) / base["reflected"]
    if kind == "rcd":
        # the clamp's voltage some 1.5 to 2.5 times the reflected one, its ripple small
        volts = rng.uniform(1.5, 2.5) * base["reflected"]
        resistance = 2 * volts * (volts - base["reflected"]) / (leakage * peak**2 * base["frequency"])
        base |= {"resistance": resistance, "capacitance": rng.uniform(8, 30) / (resistance * base["frequency"])}
    else:
        base |= {"zener": rng.uniform(1.3, 2.2) * base["reflected"], "series": rng.choice([0.0, rng.uniform(1, 100)])}
    if at_limit:
        base.pop("power")
        base |= {"limit": peak, "delay": rng.uniform(1e-7, 4e-7)}
    return base


def _working(rng: random.Random) -> dict[str, float]:
    return {**_clamped(rng, "rcd", False), "ratio": rng.uniform(3, 25)}


def _single(rng: random.Random) -> dict[str, float]:
    return {**_clamped(rng, "rcd", False), "ratio": rng.uniform(3, 25), "current": rng.uniform(0.1, 5)}


def _single_ripple(rng: random.Random) -> dict[str, float]:
    return {**_single(rng), "storage": 10 ** rng.uniform(-4.5, -2.7), "series": 10 ** rng.uniform(-2, -0.7)}


def _flux(rng: random.Random) -> dict[str, float]:
    return {
        "limit": rng.uniform(0.2, 3), "bulk": rng.uniform(100, 380), "delay": rng.uniform(1e-7, 4e-7),
        "inductance": rng.uniform(2e-4, 3e-3), "turns": rng.uniform(30, 150), "area": rng.uniform(2e-5, 1e-4),
    }  # fmt: skip


Drawn = Callable[[random.Random], dict[str, float]]
CASES: dict[str, tuple[Model, Drawn, tuple[str, ...]]] = {
    "primary": (PRIMARY_MODELS[False], _base, ("peak", "rms", "average", "duty", "secondary_duty")),
    "primary, boundary": (PRIMARY_MODELS[True], _base, ("peak", "rms", "average", "duty", "secondary_duty")),
    "winding": (winding_model(False, 1.0), _winding, ("peak", "rms")),
    "winding, boundary": (winding_model(True, 1.0), _winding, ("peak", "rms")),
    "single": (single_model(False, RCD, False), _single, ("rms", "peak", "rms_ringing", "peak_ringing")),
    "single, boundary": (single_model(True, RCD, False), _single, ("rms", "peak", "rms_ringing", "peak_ringing")),
    "single, ripple": (single_model(False, RCD, False), _single_ripple, ("ripple", "ripple_ringing")),
    "single, ripple, boundary": (single_model(True, RCD, False), _single_ripple, ("ripple", "ripple_ringing")),
    "bulk": (SWITCHING[False], _base, ("rms",)),
    "bulk, boundary": (SWITCHING[True], _base, ("rms",)),
    "ripple": (ripple_model(False, 0.5), _ripple, ("ripple", "ripple_least", "ripple_most")),
    "ripple, boundary": (ripple_model(True, 1.0), _ripple, ("ripple", "ripple_least", "ripple_most")),
    "ripple, boundary, one of several": (ripple_model(True, 0.3), _ripple, ("ripple", "ripple_least", "ripple_most")),
    "filter": (filter_model(False, 1.0, True), _filter, ("filter_ripple", "filter_rms")),
    "filter, boundary": (filter_model(True, 1.0, True), _filter, ("filter_ripple", "filter_rms")),
    "clamp": (running_model(False, RCD), lambda rng: _clamped(rng, "rcd", False), ("switch_peak", "loss",
    "capacitor_peak")),
    "clamp, boundary": (running_model(True, RCD), lambda rng: _clamped(rng, "rcd", False), ("switch_peak", "loss")),
    "primary winding": (running_model(False, RCD), lambda rng: _clamped(rng, "rcd", False), ("rms_whole",
    "peak_whole")),
    "primary winding, breakdown": (running_model(True, BREAKDOWN), lambda rng: _clamped(rng, "zener", False),
    ("rms_whole", "peak_whole")),
    "clamp at the limit": (limit_model(False, RCD), lambda rng: _clamped(rng, "rcd", True), ("switch_peak", "loss")),
    "clamp at the limit, boundary": (limit_model(True, RCD), lambda rng: _clamped(rng, "rcd", True), ("switch_peak",
    "loss")),
    "breakdown": (running_model(False, BREAKDOWN), lambda rng: _clamped(rng, "zener", False), ("switch_peak", "loss")),
    "breakdown at the limit": (limit_model(False, BREAKDOWN), lambda rng: _clamped(rng, "zener", True),
    ("switch_peak", "loss")),
    "working, held": (rms_model(False, "held to bulk minus"), _base, ("rms",)),
    "working, referred": (rms_model(False, "referred to the mains"), _base, ("rms",)),
    "working, peak": (peak_model(False, RCD), _working, ("peak",)),
    "flux": (FLUX, _flux, ("flux",)),
}  # fmt: skip


def _found(model: Model, point: Mapping[str, float], output: str) -> float | None:
    try:
        result = model.solve(**point)
    except ValueError:
        return None
    return float(result[output] if isinstance(result, Mapping) else getattr(result, output))


@pytest.mark.parametrize("name", CASES)
def test_no_input_moves_an_output_the_other_way(name: str) -> None:
    model, draw, outputs = CASES[name]
    rng = random.Random(name)
    wrong: dict[tuple[str, str], float] = {}
    tried = 0
    for _ in range(400 if "filter" not in name else 60):
        point = draw(rng)
        for output in outputs:
            before = _found(model, point, output)
            if not before:  # outside its range, or nothing there: a clamp that does not conduct
                continue
            signs = model.corners(output, True)[0]
            for key, value in point.items():
                after = _found(model, {**point, key: value * rng.uniform(1.01, 1.25)}, output)
                sign = signs.get(key)
                if after is None or sign == 0 or value == 0.0:
                    continue
                tried += 1
                change = after / before - 1
                against = abs(change) if sign is None else max(0.0, -sign * change)
                if against > (SIGN_ALLOWANCE if "filter" in name else 1e-9):
                    wrong[output, key] = max(wrong.get((output, key), 0.0), against)
    assert tried > 500
    assert not wrong, wrong


def test_both_references_are_run() -> None:
    assert set(_REFERENCES) == {"held to bulk minus", "referred to the mains"}


@pytest.mark.parametrize("share", [0.1, 0.3, 0.5])
def test_the_low_end_of_a_ripple_is_no_more_than_a_flat_current_makes(share: float) -> None:
    """How the leakage is split among several windings is not known: one may carry its current flat, or as all do."""
    rng = random.Random(f"flat {share}")
    model, stage, below = ripple_model(False, share), _base(rng).keys(), []
    for _ in range(400):
        point = _ripple(rng)
        conduction = _found(PRIMARY_MODELS[False], {key: point[key] for key in stage}, "secondary_duty")
        found = model.solve(**point)
        assert conduction is not None and isinstance(found, Mapping)
        flat = point["current"] / conduction
        rest = (conduction, point["frequency"], point["capacitance"], point["resistance"])
        made = single_capacitor(flat, flat, *rest).ripple
        assert found["ripple_least"] <= made * (1 + 1e-9) and found["ripple_least"] <= found["ripple"] * (1 + 1e-9)
        below.append(found["ripple_least"] / made)
    assert max(below) > 0.98  # the least, and not any figure far below it


def test_the_low_end_of_the_only_winding_is_its_own_ripple() -> None:
    rng = random.Random("only")
    model = ripple_model(False, 1.0)
    for _ in range(50):
        point = _ripple(rng)
        assert _found(model, point, "ripple_least") == _found(model, point, "ripple") is not None
