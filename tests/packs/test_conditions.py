"""Conditions are three-valued: yes, no, or open while several words or part of a range are possible."""

from __future__ import annotations

import pytest

from derate.packs.pack import Condition
from derate.packs.read_rule import read_conditions
from derate.packs.trial import example_of
from derate.terms.values import Category, Problem, Value
from derate.text.nodes import compose

C, V = Category.of, Value.exact


def condition(line: str) -> Condition:
    """One condition read from one line."""
    problems: list[Problem] = []
    (found,) = read_conditions(compose(line, "c.yaml"), problems)
    assert not problems
    return found


ROWS = [
    ("part.kind: fuse", C("fuse"), True),
    ("part.kind: fuse", C("varistor"), False),
    ("part.kind: fuse", C("fuse", "varistor"), None),
    ("part.kind: [fuse, varistor]", C("fuse", "varistor"), True),
    ("part.kind: any resistor", C("film resistor", "fusible film resistor"), True),
    ("part.kind: any resistor", C("film capacitor"), False),
    ("part.kind: any resistor", C("film capacitor", "film resistor"), None),
    ("part.class: other than Y1 or Y2", C("X1"), True),
    ("part.class: other than Y1 or Y2", C("unmarked"), True),
    ("part.class: other than Y1 or Y2", C("Y2"), False),
    ("part.class: other than Y1 or Y2", C("Y2", "X1"), None),
    ("part.technology: stated as chip", C("chip"), True),
    ("part.technology: stated as leaded or chip", C("leaded"), True),
    ("part.technology: stated as chip", C("leaded"), False),
    ("part.technology: not stated as chip", C("chip"), False),
    ("part.technology: not stated as leaded or chip", C("established reliability"), True),
    ("part.technology: not stated as chip", C("chip", "leaded"), None),
    ("part.class: unmarked", C("unmarked"), True),
    ("part.capacitance: over 0.1 uF", V(0.2e-6), True),
    ("part.capacitance: over 0.1 uF", V(0.1e-6), False),
    ("part.capacitance: at least 0.1 uF", V(0.1e-6), True),
    ("part.capacitance: over 0.1 uF", Value.between(0.05e-6, 0.2e-6), None),
    ("part.capacitance: over 0.1 uF", Value.between(0.05e-6, 0.1e-6), False),
    ("part.capacitance: over 0.1 uF", Value.spread(0.1e-6, 0.09e-6, 0.11e-6), False),
    ("part.capacitance: under 0.1 uF", V(0.1e-6), False),
    ("part.capacitance: up to 0.1 uF", V(0.1e-6), True),
    ("part.capacitance: up to 0.1 uF", Value.floor(0.05e-6), None),
    ("part.capacitance: over 0.1 uF", C("unmarked"), None),
    ("rated.current: 1..3 A", V(3), True),
    ("rated.current: 1..3 A", V(3.1), False),
    ("rated.current: 1..3 A", Value.between(2, 4), None),
    ("site.pollution_degree: 2", V(2), True),
    ("site.pollution_degree: 2", Value.between(2, 3), None),
    ("circuit.clamp: present", C("zener"), True),
    ("circuit.clamp: present", C("none"), False),
    ("circuit.clamp: present", C("none", "zener"), None),
    ("circuit.clamp: absent", C("none"), True),
    ("part.class: present", C("unmarked"), False),
    ("part.capacitance: present", V(1e-9), True),
    ("circuit.bridging: includes CY1", C("CY1 + CY2"), True),
    ("circuit.bridging: includes CY1", C("none"), False),
]


@pytest.mark.parametrize(("line", "value", "expected"), ROWS, ids=lambda one: str(one)[:40])
def test_a_condition(line: str, value: Category | Value, expected: bool | None) -> None:
    assert condition(line).holds(value) is expected


def test_what_nobody_stated_is_open_but_where_the_rule_says_it() -> None:
    """A row that a part falls into unless its technology is stated, and one that takes it only where it is."""
    assert condition("part.technology: stated as chip").unstated() is False
    assert condition("part.technology: not stated as chip").unstated() is True
    for line in ("part.technology: chip", "part.technology: other than chip", "part.capacitance: present"):
        assert condition(line).unstated() is None


def test_no_other_fact_may_be_left_out() -> None:
    """Else deleting it would escape the rule."""
    problems: list[Problem] = []
    for line in ("part.class: stated as Y1", "part.kind: not stated as fuse"):
        assert not read_conditions(compose(line, "c.yaml"), problems)
    assert [one.instead for one in problems] == ["write the words alone: what is not stated is then not assessed"] * 2


@pytest.mark.parametrize("line", sorted({line for line, _, _ in ROWS}))
def test_the_example_of_a_condition_meets_it(line: str) -> None:
    one = condition(line)
    example = example_of(one)
    assert isinstance(example, Category | Value)
    assert one.holds(example) is True
