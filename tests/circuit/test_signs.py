"""Every sign beside a formula holds over random inputs of its ranges; what is not named has no influence.

One draw of all inputs, then one input moved: a little, and to other values of its range. +1 must never fall, -1 never
rise, an input without a name must not move the output, an input with a name must move it somewhere. Tables that name
several corners for one output are held by tests/stress/test_corners.py.
"""

from __future__ import annotations

import importlib
import math
import pkgutil
import random
from collections.abc import Iterator, Mapping
from typing import Any

import pytest

import derate.circuit
from derate.circuit import barrier, magnetics, output_stage, resistors, thermal
from derate.circuit.elementary import passed, product, ratio, total
from derate.terms.formula import Collapse, Formula, giving

DESIGNS = 120
ROUNDING = 1e-9  # of the figure: a hundred additions of doubles are 1e-14 apart, a solver's stop 1e-10

# Formulas made for the names their caller gives: proved with the least and with more names.
MADE = {
    "elementary.product": product("result", "a", "b"),
    "elementary.product of three": product("result", "a", "b", "c"),
    "elementary.ratio": ratio("result", "over", "under"),
    "elementary.total": total("result", "a", "b"),
    "elementary.total of three": total("result", "a", "b", "c"),
    "elementary.passed": passed("result"),
    "resistors.others_left": resistors.others_left("a", "b", "c"),
    "magnetics.ratio_of_turns": magnetics.ratio_of_turns("a", "b"),
    "output_stage.carried_alone": output_stage.carried_alone("a", "b"),
    "thermal.body_by_power": thermal.body_by_power("a", "b"),
    "thermal.body_by_resistance": thermal.body_by_resistance("a", "b"),
    "thermal.hot_channel": thermal.hot_channel(125.0),
    "barrier.one_shorted": barrier.one_shorted(True),
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


def wrong_signs(formula: Formula, designs: int = DESIGNS, seed: int = 1) -> list[str]:
    """What does not hold, in words; empty when all does."""
    source = random.Random(seed)
    wrong: dict[str, None] = {}
    moved: set[tuple[str, str]] = set()
    tried = solved = 0
    for _ in range(designs):
        base = {name: source.uniform(*ends) for name, ends in formula.ranges.items()}
        for name, (low, high) in formula.ranges.items():
            step = base[name] + 0.02 * (high - low)
            values = sorted({base[name], min(high, step), *(source.uniform(low, high) for _ in range(3))})
            results = [_solved(formula, base | {name: value}) for value in values]
            tried += len(values)
            known = [one for one in results if one is not None]
            solved += len(known)
            for output, signs in formula.signs.items():
                if isinstance(signs, tuple):
                    continue
                figures = [_output(one, output) for one in known]
                for one, other in zip(figures, figures[1:], strict=False):
                    slack = ROUNDING * max(abs(one), abs(other))
                    rises, falls = other - one > slack, one - other > slack
                    if rises or falls:
                        moved.add((output, name))
                    sign = signs.get(name)
                    if sign is None and (rises or falls):
                        wrong[f"{output} moves with {name}, which is not named"] = None
                    elif (sign == 1 and falls) or (sign == -1 and rises):
                        wrong[f"{output} {'falls' if falls else 'rises'} with {name}"] = None
    if solved < 0.5 * tried:
        wrong[f"only {solved} of {tried} draws lie in the range of the formula"] = None
    for output, signs in formula.signs.items():
        for name in () if isinstance(signs, tuple) else signs:
            if (output, name) not in moved:
                wrong[f"{output} does not move with {name}"] = None
    return list(wrong)


@pytest.mark.parametrize("name", FORMULAS)
def test_signs(name: str) -> None:
    formula = FORMULAS[name]
    assert wrong_signs(formula) == []


@pytest.mark.parametrize("name", FORMULAS)
def test_a_sign_turned_round_is_seen(name: str) -> None:
    """The proof itself is proved: every single sign turned round, and every name left out, is found."""
    formula = FORMULAS[name]
    for output, signs in formula.signs.items():
        if isinstance(signs, tuple):
            continue
        for one, sign in signs.items():
            if sign:
                turned = formula._replace(signs={**formula.signs, output: {**signs, one: -sign}})
                assert wrong_signs(turned, 40), f"{output} by {one}"
            left_out = formula._replace(signs={**formula.signs, output: {k: v for k, v in signs.items() if k != one}})
            assert wrong_signs(left_out, 40), f"{output} without {one}"


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
    assert wrong_signs(bent) == ["y falls with x"]
    still = giving("y", lambda x, z: x, {"x": 1, "z": 0}, {"x": (0.0, 1.0), "z": (0.0, 1.0)})
    assert wrong_signs(still) == ["y does not move with z"]
