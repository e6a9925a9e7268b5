"""A formula as data: what it comes to beside Python's own arithmetic, and that nothing in it can be run."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import product
from math import inf

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from derate.terms.dimension import NUMBER, VOLTAGE, Dimension
from derate.terms.values import Place, Value
from derate.text.formula import Formula
from derate.text.formula_reader import parse

HERE = Place("pack.yaml", 1, 1)
NAMES = {"up": NUMBER, "any.sign": NUMBER, "other": NUMBER}
FOUND = re.compile(r"up|any\.sign|other")
# Names above zero divide; the other two take either sign. Ends with exact quotients and with rounded ones.
_ENDS = st.sampled_from([-7.5, -3.0, -0.1, 0.0, 0.3, 1.0, 2.0, 11.0, 1e6])
_ABOVE = st.sampled_from([0.1, 0.7, 1.0, 3.0, 250.0])


def _values(ends: st.SearchStrategy[float]) -> st.SearchStrategy[Value]:
    exact = ends.map(Value.exact)
    return exact | st.lists(ends, min_size=4, max_size=4).map(lambda four: Value(*sorted(four)))


def _grown(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    several = st.lists(inner, min_size=2, max_size=3).map(", ".join)
    return (
        st.builds("({} {} {})".format, inner, st.sampled_from("+-*"), inner)
        | st.builds("{} {} {}".format, inner, st.sampled_from("+-*"), inner)
        | st.builds("({}) / {}".format, inner, st.sampled_from(["up", "0.3", "(up + 2)", "max(up, 1)"]))
        | st.builds("{}({})".format, st.sampled_from(["min", "max"]), several)
        | st.builds("-({})".format, inner)
    )


TEXTS = st.recursive(st.sampled_from(["up", "any.sign", "other", "0.3", "12", "1.5"]), _grown, max_leaves=6)


def by_python(text: str, values: dict[str, Value], ends: Callable[[Value], tuple[float, float]]) -> tuple[float, float]:
    """The least and the greatest that Python makes of a text when every name that stands in it takes either end.

    Each operation moves one way in each operand, so its ends lie at ends of the operands, rounding included.
    """
    order = FOUND.findall(text)
    numbers = iter(range(len(order)))
    code = compile(FOUND.sub(lambda found: f"_{next(numbers)}", text), "formula", "eval")
    results = [
        eval(code, {"__builtins__": {}, "min": min, "max": max} | {f"_{at}": one for at, one in enumerate(corner)})
        for corner in product(*({*ends(values[name])} for name in order))
    ]
    return min(results), max(results)


@settings(max_examples=400, deadline=None)
@given(TEXTS, _values(_ABOVE), _values(_ENDS), _values(_ENDS))
def test_every_formula_comes_to_what_python_makes_of_it(text: str, up: Value, sign: Value, other: Value) -> None:
    values = {"up": up, "any.sign": sign, "other": other}
    if len(FOUND.findall(text)) > 8:
        return
    b, c = by_python(text, values, lambda value: (value.near, value.far))
    a, d = by_python(text, values, lambda value: (value.low, value.high))
    formula = parse(text, HERE, NAMES, False)
    assert formula.value(values.__getitem__) == Value(a, b, c, d)
    both = parse(f"{text} >= {text}", HERE, NAMES, True)
    assert both.evaluate(values.__getitem__) == (Value(a, b, c, d), Value(a, b, c, d))


@pytest.mark.parametrize(
    ("text", "floor", "expected"),
    [
        ("up * 2 - 1", 3.0, (5.0, 5.0, inf, inf)),
        ("12 / up", 3.0, (0.0, 0.0, 4.0, 4.0)),
        ("min(up, 5, 9)", 3.0, (3.0, 3.0, 5.0, 5.0)),
        ("max(2, -up, -up - 1)", 3.0, (2.0, 2.0, 2.0, 2.0)),
    ],
)
def test_open_ends(text: str, floor: float, expected: tuple[float, ...]) -> None:
    formula = parse(text, HERE, NAMES, False)
    assert formula.value({"up": Value.floor(floor)}.__getitem__).numbers() == expected


def test_a_formula_holds_nothing_that_runs() -> None:
    formula = parse("max(-u, 0.8 * (u - 3 V), 2 V) < 5 V * other", HERE, {"u": VOLTAGE, "other": NUMBER}, True)
    assert _plain(formula)
    assert formula.sides[0].constants == (0.8, 3.0, 2.0)
    assert formula.sides[0].steps == (
        ("negative", 0, 0),
        ("-", 0, 3),
        ("*", 2, 6),
        ("max", 5, 7),
        ("max", 8, 4),
    )


def _plain(one: object) -> bool:
    """Whether something is tuples of texts, numbers and dimensions all the way down."""
    if isinstance(one, tuple):
        return all(_plain(part) for part in one)
    return one is None or type(one) in (str, float, int, bool, Dimension)


def test_the_walk_sees_what_runs() -> None:
    formula = parse("up", HERE, NAMES, False)
    assert isinstance(formula, Formula) and _plain(formula) and not _plain(formula._replace(sides=(len,)))  # type: ignore[arg-type]
