"""Every sign beside a formula holds over random inputs of its ranges; what is not named has no influence.

One draw of all inputs, then one input moved: a little, and to other values of its range. +1 must never fall, -1 never
rise, an input without a name must not move the output, an input with a name must move it somewhere. Tables that name
several corners for one output are held by tests/stress/test_corners.py.
"""

from __future__ import annotations

import ast
import importlib
import math
import pkgutil
import random
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import derate
import derate.circuit
from derate.circuit import (
    barrier,
    ladder,
    magnetics,
    output_stage,
    resistors,
    thermal,
)
from derate.circuit import (
    flyback as flyback_stage,
)
from derate.circuit import (
    mains as mains_events,
)
from derate.circuit import (
    mains as mains_input,
)
from derate.circuit.elementary import passed, product, ratio, total
from derate.terms.values import Collapse, Formula, giving

DESIGNS = 120
FEW = 12  # of a solver that walks through half cycles
SLOW = ("mains_events.flow", "mains_events.overshoot", "mains.BARE", "mains.SURGE", "mains_input.stage")
# How far a figure may move against its sign, as a share of it, and why.
AGAINST = {
    "mains.SURGE": 1e-4,  # the wave is stepped through
    # inductance ahead spreads the pulse: the allowance in the band of I²t and energy
    "mains_events.flow full bridge": 0.01,
    "mains_events.flow half-wave": 0.01,
    "mains_events.flow doubler": 0.09,  # the same, and its angles lie 15 degrees apart
    "mains_input.stage_efficiency": 0.004,  # the capacitance, not known to better: held by the band
}
ROUNDING = 1e-9  # of the figure: a hundred additions of doubles are 1e-14 apart, a solver's stop 1e-10

KINDS = ("full bridge", "half-wave", "doubler")
# Formulas made for the names their caller gives: proved with the least and with more names.
MADE = {
    "elementary.product": product("result", "a", "b"),
    "elementary.product of three": product("result", "a", "b", "c"),
    "elementary.ratio": ratio("result", "over", "under"),
    "elementary.total": total("result", "a", "b"),
    "elementary.total of three": total("result", "a", "b", "c"),
    "elementary.passed": passed("result"),
    "output_stage.power_delivered": output_stage.power_delivered(2),
    "output_stage.power_to_rectifiers": output_stage.power_to_rectifiers(2),
    "barrier.bridged": barrier.bridged("line"),
    "barrier.bridged to a bulk rail": barrier.bridged("bulk minus"),
    "resistors.others_left": resistors.others_left("a", "b", "c"),
    "mains_input.stage_efficiency": mains_input.stage_efficiency(False),
    "mains_input.stage_efficiency of a half wave": mains_input.stage_efficiency(True),
    "mains_input.bulk_crest": mains_input.bulk_crest(False),
    "mains_input.bulk_crest of a half wave": mains_input.bulk_crest(True),
    **{f"mains_events.flow {kind}": mains_events.flow(kind) for kind in KINDS},
    **{f"mains_events.overshoot {kind}": mains_events.overshoot(kind) for kind in KINDS},
    **{f"flyback_stage.switching_ripple {at}": flyback_stage.switching_ripple(at) for at in (False, True)},
    **{f"flyback_stage.mosfet_loss {at}": flyback_stage.mosfet_loss(at) for at in (False, True)},
    **{
        f"flyback_stage.avalanche {at} {limit}": flyback_stage.avalanche(at, limit)
        for at in (False, True)
        for limit in (False, True)
    },
    "magnetics.ratio_of_turns": magnetics.ratio_of_turns("a", "b"),
    "output_stage.carried_alone": output_stage.carried_alone("a", "b"),
    "thermal.body_by_power": thermal.body_by_power("a", "b"),
    "thermal.body_by_resistance": thermal.body_by_resistance("a", "b"),
    "thermal.hot_channel": thermal.hot_channel(125.0),
    "barrier.one_shorted": barrier.one_shorted(True),
    **{f"ladder {form}": ladder.ladder(*form) for form in ((1, 0, 0), (2, 0, 1), (2, 1, 0), (3, 1, 0))},
}


def _stated() -> Iterator[tuple[str, Formula]]:
    for found in pkgutil.iter_modules(derate.circuit.__path__):
        module = importlib.import_module(f"derate.circuit.{found.name}")
        for name, value in vars(module).items():
            several = value.items() if isinstance(value, dict) else ((None, value),)
            for key, one in several:
                if isinstance(one, Formula):
                    yield f"{found.name}.{name}" + (f" {key}" if key is not None else ""), one


FORMULAS = dict(_stated()) | MADE


def _output(result: Any, name: str) -> float:
    return float(result[name] if isinstance(result, Mapping) else getattr(result, name))


def _solved(formula: Formula, inputs: dict[str, float]) -> Any:
    try:
        return formula.solve(**inputs)
    except (Collapse, ValueError, ZeroDivisionError, OverflowError):
        return None


def movements(
    formula: Formula, designs: int, slack: float = ROUNDING, seed: int = 1
) -> tuple[dict[tuple[str, str], set[int]], bool]:
    """Which ways each output moved as each input rose: +1, -1, or 0 for less than `slack`; and whether most draws lay
    in the range of the formula."""
    source = random.Random(seed)
    single = [output for output, signs in formula.signs.items() if not isinstance(signs, tuple)]
    moved: dict[tuple[str, str], set[int]] = {(output, name): set() for output in single for name in formula.ranges}
    tried = solved = 0
    for _ in range(designs if single else 5):
        base = {name: source.uniform(*ends) for name, ends in formula.ranges.items()}
        for name, (low, high) in formula.ranges.items():
            step = base[name] + 0.02 * (high - low)
            values = sorted({base[name], min(high, step), *(source.uniform(low, high) for _ in range(3))})
            results = [_solved(formula, base | {name: value}) for value in values]
            tried += len(values)
            known = [one for one in results if one is not None]
            solved += len(known)
            for output in single:
                figures = [_output(one, output) for one in known]
                for one, other in zip(figures, figures[1:], strict=False):
                    share = abs(other - one) / max(abs(one), abs(other), 1e-300)
                    if share > ROUNDING:
                        moved[output, name].add(0)
                    if share > slack:
                        moved[output, name].add(1 if other > one else -1)
    return moved, solved >= 0.5 * tried


def wrong_signs(signs: Mapping[str, Any], moved: Mapping[tuple[str, str], set[int]]) -> list[str]:
    """What does not hold, in words; empty when all does."""
    wrong = []
    for (output, name), ways in moved.items():
        sign = signs[output].get(name)
        if sign is None and ways - {0}:
            wrong.append(f"{output} moves with {name}, which is not named")
        elif sign is not None and not ways:
            wrong.append(f"{output} does not move with {name}")
        elif sign and -sign in ways:
            wrong.append(f"{output} {'falls' if sign > 0 else 'rises'} with {name}")
    return wrong


@cache
def _moved(name: str) -> tuple[dict[tuple[str, str], set[int]], bool]:
    slack = next((share for known, share in AGAINST.items() if name.startswith(known)), ROUNDING)
    return movements(FORMULAS[name], FEW if name.startswith(SLOW) else DESIGNS, slack)


@pytest.mark.parametrize("name", FORMULAS)
def test_signs(name: str) -> None:
    moved, in_range = _moved(name)
    assert in_range
    assert wrong_signs(FORMULAS[name].signs, moved) == []


@pytest.mark.parametrize("name", FORMULAS)
def test_a_sign_turned_round_is_seen(name: str) -> None:
    """The proof itself is proved: every single sign turned round, and every name left out, is found.

    Where a figure may move a little against its sign, what moves by less than that is left out.
    """
    moved, _ = _moved(name)
    signs = {output: one for output, one in FORMULAS[name].signs.items() if not isinstance(one, tuple)}
    for output, own in signs.items():
        for one, sign in own.items():
            if sign and moved[output, one] - {0}:
                assert wrong_signs({**signs, output: {**own, one: -sign}}, moved), f"{output} by {one}"
            left_out = {name: sign for name, sign in own.items() if name != one}
            if moved[output, one] - {0}:
                assert wrong_signs({**signs, output: left_out}, moved), f"{output} without {one}"


@pytest.mark.parametrize("name", FORMULAS)
def test_a_formula_is_whole(name: str) -> None:
    """Every sign names an input, every band an output that has signs, and no band lies on the wrong side."""
    formula = FORMULAS[name]
    for signs in formula.signs.values():
        for one in signs if isinstance(signs, tuple) else (signs,):
            assert set(one) <= set(formula.ranges)
            assert set(one.values()) <= {-1, 0, 1}
    assert set(formula.errors) <= set(formula.signs)
    for below, above in formula.errors.values():
        assert -1.0 <= below <= above
        assert not math.isnan(above)
    for low, high in formula.ranges.values():
        assert low < high


def test_the_proof_sees_a_bend_inside_a_range() -> None:
    bent = giving("y", lambda x: (x - 0.5) ** 2, {"x": 1}, {"x": (0.0, 1.0)})
    assert wrong_signs(bent.signs, movements(bent, 40)[0]) == ["y falls with x"]
    still = giving("y", lambda x, z: x, {"x": 1, "z": 0}, {"x": (0.0, 1.0), "z": (0.0, 1.0)})
    assert wrong_signs(still.signs, movements(still, 40)[0]) == ["y does not move with z"]


def test_the_proof_sees_a_range_that_the_formula_refuses() -> None:
    refused = giving("y", lambda x: x / 0, {"x": 1}, {"x": (0.0, 1.0)})
    assert movements(refused, 5) == ({("y", "x"): set()}, False)


# Models that still state signs of their own, by file: compositions over a stage, proved by tests/stress. None is added.
OWN_SIGNS = {
    "stress/mains/bulk_states.py": 1,
    "stress/parts/life.py": 1,
    "topologies/flyback/fault_rows.py": 1,
    "topologies/flyback/output_capacitors.py": 2,
    "topologies/flyback/rectifiers.py": 1,
    "topologies/flyback/secondaries.py": 2,
    "topologies/flyback/single_faults.py": 2,
    "topologies/flyback/switch.py": 2,
    "topologies/flyback/switch_loss.py": 1,
    "topologies/flyback/transformer.py": 2,
}


def test_every_other_model_takes_its_signs_from_a_formula() -> None:
    root = Path(derate.__file__).parent
    found = {}
    for path in sorted(root.rglob("*.py")):
        calls = [node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Call)]
        own = sum(isinstance(call.func, ast.Name) and call.func.id == "Model" for call in calls)
        if own:
            found[path.relative_to(root).as_posix()] = own
    assert found == OWN_SIGNS
