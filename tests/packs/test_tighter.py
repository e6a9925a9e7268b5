"""Tightening is proved from the form of a limit: what is taken, what is refused, and that nothing taken is kinder."""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from derate.packs.change import not_as_strict
from derate.packs.pack import (
    Agree,
    AnyOf,
    Condition,
    Count,
    Keep,
    Member,
    Presence,
    Record,
    Shape,
    Within,
)
from derate.terms.dimension import CELSIUS, KELVIN, NUMBER, VOLTAGE
from derate.terms.values import Place, Value
from derate.text.formula import CannotEvaluate, Formula
from derate.text.formula_reader import parse

NAMES = {
    "u": VOLTAGE,
    "rated.u": VOLTAGE,
    "other.u": VOLTAGE,
    "n": NUMBER,
    "t": CELSIUS,
    "rated.t": CELSIUS,
    "rise": KELVIN,
    "table.share": NUMBER,
    "table.offset": VOLTAGE,
}
SIGNED = {"table.offset"}


def formula(text: str, line: int = 1) -> Formula:
    return parse(text, Place("pack.yaml", line), NAMES, any(sign in text for sign in "<>"))


def reason(old: str, new: str) -> str:
    return not_as_strict(Keep(formula(old)), Keep(formula(new, 9)), SIGNED)


STRICTER = [
    ("u <= 0.8 * rated.u", "u <= 0.8 * rated.u"),
    ("u <= 0.8 * rated.u", "u <= 80% * rated.u"),
    ("u <= 0.8 * rated.u", "u <= 0.7 * rated.u"),
    ("u <= 0.8 * rated.u", "u <= rated.u * 0.7"),
    ("u <= 0.8 * rated.u", "u <= rated.u / 1.3"),
    ("u <= 0.8 * rated.u", "u < 0.8 * rated.u"),
    ("u <= 0.8 * rated.u", "1.1 * u <= 0.8 * rated.u"),
    ("u <= 0.8 * rated.u", "u + 5 V <= 0.8 * rated.u"),
    ("u <= 0.8 * rated.u", "u <= 0.8 * rated.u - 20 V"),
    ("u <= 0.8 * rated.u", "u <= 0.7 * rated.u - 20 V"),
    ("u <= 0.8 * rated.u", "u <= 0.8 * rated.u - other.u"),
    ("u <= 0.8 * rated.u", "u <= min(0.8 * rated.u, 350 V)"),
    ("u <= 0.8 * rated.u", "u <= min(350 V, 0.75 * rated.u)"),
    ("u <= 0.8 * rated.u", "u <= 0.7 * min(rated.u, other.u)"),
    ("u <= 0.8 * rated.u", "max(u, other.u) <= 0.8 * rated.u"),
    ("u <= 0.8 * rated.u", "max(u, 1.2 * u) <= 0.8 * rated.u"),
    ("u <= 400 V", "u <= 0.3 kV"),
    ("u <= min(0.8 * rated.u, 400 V)", "u <= min(300 V, 0.8 * rated.u, other.u)"),
    ("u <= max(0.8 * rated.u, 400 V)", "u <= 0.8 * rated.u"),
    ("u <= max(0.8 * rated.u, 400 V)", "u <= max(0.7 * rated.u, 300 V)"),
    ("u <= n * (rated.u + 5 V)", "u <= 0.9 * n * (rated.u + 5 V)"),
    ("u <= n * rated.u / table.share", "u <= 0.9 * rated.u * n / table.share"),
    ("u <= rated.u / min(n, 2)", "u <= rated.u / max(n, 2)"),
    ("u - other.u <= rated.u", "u <= rated.u"),
    ("t <= rated.t - 10 K", "t <= rated.t - 5 K - 10 K"),
    ("t <= rated.t - 10 K", "t + 2 K <= rated.t - 10 K"),
    ("t <= rated.t - rise", "t <= rated.t - rise - 1 K"),
    ("t <= rated.t - 10 K", "t <= min(rated.t - 10 K, rated.t - rise)"),
    ("t <= 105 degC", "t <= 95 degC"),
    ("rated.u >= 1.2 * u", "rated.u >= 1.3 * u"),
    ("rated.u >= 1.2 * u", "0.9 * rated.u > 1.2 * u"),
    ("rated.u >= 1.2 * u", "rated.u >= max(1.2 * u, 400 V)"),
    ("u <= -(other.u - rated.u)", "u <= rated.u - 2 * other.u"),
]


@pytest.mark.parametrize(("old", "new"), STRICTER)
def test_taken(old: str, new: str) -> None:
    assert reason(old, new) == ""


KINDER = [
    ("u <= 0.8 * rated.u", "u <= 0.81 * rated.u"),
    ("u <= 0.8 * rated.u", "u <= 0.7 * other.u"),
    ("u <= 0.8 * rated.u", "u <= 400 V"),
    ("u <= 0.8 * rated.u", "u <= rated.u / 1.2"),
    ("u <= 0.8 * rated.u", "0.9 * u <= 0.8 * rated.u"),
    ("u <= 0.8 * rated.u", "u - 1 V <= 0.8 * rated.u"),
    ("u <= 0.8 * rated.u", "u <= 0.8 * rated.u + 1 V"),
    ("u <= 0.8 * rated.u", "u <= 0.8 * rated.u + other.u"),
    ("u <= 0.8 * rated.u", "u <= max(0.8 * rated.u, 350 V)"),
    ("u <= 0.8 * rated.u", "u <= max(0.7 * rated.u, 350 V)"),
    ("u <= 0.8 * rated.u", "u <= min(0.9 * rated.u, 350 V)"),
    ("u <= 0.8 * rated.u", "min(u, other.u) <= 0.8 * rated.u"),
    ("u <= 0.8 * rated.u", "u <= n * rated.u"),
    ("u <= 0.8 * rated.u", "u <= 0.7 * rated.u * n"),
    ("u <= 0.8 * rated.u", "u <= 0.8 * rated.u - table.offset"),  # takes away less than nothing
    ("u <= 2 * table.offset", "u <= table.offset"),  # half of a figure below zero is more
    ("u <= 2 * (rated.u - other.u)", "u <= rated.u - other.u"),
    ("u <= rated.u / max(n, 2)", "u <= rated.u / min(n, 2)"),
    ("u <= min(0.8 * rated.u, 400 V)", "u <= 0.8 * rated.u"),
    ("u <= min(0.8 * rated.u, 400 V)", "u <= min(0.8 * rated.u, 401 V)"),
    ("u < 400 V", "u <= 400 V"),
    ("u <= rated.u - other.u", "u <= rated.u"),
    ("u <= rated.u - 2 * other.u", "u <= rated.u - other.u"),
    ("t <= rated.t - 10 K", "t <= rated.t - 9 K"),
    ("t <= rated.t", "t <= rated.t - rise"),  # a rise may be below zero
    ("t <= rated.t - 10 K", "t <= rated.t - min(10 K, rise)"),
    ("rated.u >= 1.2 * u", "rated.u >= 1.1 * u"),
    ("rated.u >= 1.2 * u", "1.1 * rated.u >= 1.2 * u"),
    ("rated.u >= 1.2 * u", "u <= 0.1 * rated.u"),
    ("u <= 2 * n * (rated.u - other.u)", "u <= n * (rated.u - other.u)"),
    ("u <= -1 * rated.u", "u <= -1 * min(rated.u, other.u)"),
    ("u <= n * rated.u", "u <= rated.u"),
    ("u <= rated.u / n", "u <= rated.u"),
    ("u <= rated.u", "u <= rated.u / 0"),
    ("u <= rated.u + other.u", "u <= 0.9 * rated.u + 0.8 * rated.u"),  # each old term stands above one new one
    # the same at every power of ten, and a hundred times as much between them
    ("u <= rated.u", "u <= max(rated.u, min(100 * rated.u, (rated.u - 2 V) * (5 V - rated.u) * 1e9 / 1 V))"),
    # a value that stands twice is taken as two, so the old limit may be lower than it looks
    ("u <= rated.u - rated.u + 10 V", "u <= 9.5 V"),
]


@pytest.mark.parametrize(("old", "new"), KINDER)
def test_refused(old: str, new: str) -> None:
    assert reason(old, new)


def test_the_reason_names_both() -> None:
    assert reason("u <= 0.8 * rated.u", "u <= 400 V") == "'u <= 400 V' against 'u <= 0.8 * rated.u'"
    assert reason("u <= 400 V", "u >= 400 V") == ">= in place of <="


# ---- other shapes


def one(name: str, *words: str, line: int = 1) -> Condition:
    return Condition(name, " or ".join(words), Place("pack.yaml", line), words=words)


FUSE, FUSE_AGAIN, TRACK = one("part.kind", "fuse"), one("part.kind", "fuse", line=7), one("part.kind", "board track")
TWO, THREE, U = formula("2"), formula("3"), formula("u")
LOW, HIGH = formula("100 V"), formula("200 V")
SHAPES: list[tuple[Shape, Shape, str]] = [
    (Within(U, LOW, HIGH), Within(formula("u", 5), formula("110 V"), formula("190 V")), ""),
    (Within(U, LOW, None), Within(U, LOW, HIGH), ""),
    (Within(U, LOW, HIGH), Within(U, formula("90 V"), HIGH), "'90 V' against '100 V'"),
    (Within(U, LOW, HIGH), Within(U, LOW, formula("210 V")), "'210 V' against '200 V'"),
    (Within(U, LOW, HIGH), Within(U, None, HIGH), "an end is left out"),
    (Within(U, LOW, HIGH), Within(U, LOW, None), "an end is left out"),
    (Within(U, LOW, HIGH), Within(formula("2 * u"), LOW, HIGH), "it looks at another quantity"),
    (Count((FUSE,), None, TWO, None), Count((FUSE_AGAIN,), None, THREE, None), ""),
    (Count((FUSE,), None, TWO, None), Count((TRACK,), None, THREE, None), "it counts something else"),
    (Count((), formula("n"), TWO, None), Count((), formula("2 * n"), THREE, None), "it counts something else"),
    (Count((), formula("n"), TWO, None), Count((FUSE,), None, THREE, None), "it counts something else"),
    (Count((), formula("n"), THREE, None), Count((), formula("n"), TWO, None), "'2' against '3'"),
    (Count((), formula("n"), None, TWO), Count((), formula("n"), None, THREE), "'3' against '2'"),
    (Member("part.class", ("Y1", "Y2")), Member("part.class", ("Y1",)), ""),
    (Member("part.class", ("Y1",)), Member("part.class", ("Y1", "Y2")), "it allows more words"),
    (Member("part.class", ("Y1",)), Member("part.kind", ("Y1",)), "it asks another fact"),
    (Presence(True, (FUSE, TRACK)), Presence(True, (TRACK, FUSE_AGAIN)), ""),
    (Presence(True, (FUSE, TRACK)), Presence(True, (FUSE,)), "the two cannot be compared"),
    (Presence(True, (), "circuit.clamp"), Presence(True, (), "circuit.earth"), "the two cannot be compared"),
    (Record(("a",), (FUSE,)), Record(("a", "b"), (FUSE_AGAIN, TRACK)), ""),
    (Record(("a", "b"), ()), Record(("a",), ()), "the two cannot be compared"),
    (Record(("a",), (FUSE,)), Record(("a",), ()), "the two cannot be compared"),
    (Agree("a", "b"), Agree("a", "b"), ""),
    (Agree("a", "b"), Agree("a", "c"), "the two cannot be compared"),
    (AnyOf((Member("x", ("y", "z")), Within(U, LOW, HIGH))), AnyOf((Member("x", ("y",)),)), ""),
    (
        AnyOf((Member("x", ("y", "z")),)),
        AnyOf((Member("x", ("y",)), Within(U, LOW, HIGH))),
        "an alternative is not as strict as any there was",
    ),
    (Member("x", ("y",)), Within(U, LOW, HIGH), "the two cannot be compared"),
]


@pytest.mark.parametrize(("old", "new", "expected"), SHAPES)
def test_other_shapes(old: Shape, new: Shape, expected: str) -> None:
    assert not_as_strict(old, new) == expected


# ---- nothing that is taken is kinder

_ATOMS = st.sampled_from(["n", "m", "table.offset", "1", "0.5", "2"])
_NUMBERS = {"n": NUMBER, "m": NUMBER, "k": NUMBER, "table.offset": NUMBER}


def _grown(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    return (
        st.builds("({} {} {})".format, inner, st.sampled_from(["+", "-", "*", "/"]), inner)
        | st.builds("{}({}, {})".format, st.sampled_from(["min", "max"]), inner, inner)
        | st.builds("-({})".format, inner)
    )


TERMS = st.recursive(_ATOMS, _grown, max_leaves=4)
# What a colleague may write around an old limit: half of it stricter, half of it not.
CHANGES = st.sampled_from(
    [
        "{}",
        "0.9 * ({})",
        "({}) * 1.1",
        "({}) / 1.1",
        "({}) / 0.9",
        "({}) - 1",
        "({}) + 1",
        "({}) - m",
        "({}) + m",
        "({}) - table.offset",
        "min({}, 3)",
        "max({}, 3)",
        "min(0.9 * ({}), m)",
        "0.9 * max({}, m)",
    ]
)
_END = st.floats(0.01, 100.0)
_MAGNITUDE = st.lists(_END, min_size=4, max_size=4).map(lambda four: Value(*sorted(four)))
_ANY = st.lists(_END | _END.map(lambda end: -end), min_size=4, max_size=4).map(lambda four: Value(*sorted(four)))


def _ends(text: str, values: dict[str, Value]) -> tuple[float, ...] | None:
    try:
        return parse(text, Place("p"), _NUMBERS, False).value(values.__getitem__).numbers()
    except CannotEvaluate:
        return None


@settings(max_examples=600, deadline=None)
@given(TERMS, TERMS, CHANGES, st.booleans(), _MAGNITUDE, _MAGNITUDE, _ANY)
def test_no_limit_that_is_taken_lies_above_the_old_one(
    old: str, other: str, change: str, changed: bool, n: Value, m: Value, offset: Value
) -> None:
    new = change.format(old) if changed else other
    values = {"n": n, "m": m, "table.offset": offset}
    keeps = [Keep(parse(f"k <= {text}", Place("p"), _NUMBERS, True)) for text in (old, new)]
    if not_as_strict(*keeps, {"table.offset"}):
        event("refused")
        return
    event("taken")
    before, after = _ends(old, values), _ends(new, values)
    if before is None or after is None:
        return
    for was, now in zip(before, after, strict=True):
        assert now <= was + 1e-9 * max(1.0, abs(was)) or was == inf, (old, new, values)
