"""Walked paths: what is read, and what is refused with its column."""

from __future__ import annotations

import pytest

from derate.design.structure import Group, Leaf, leaves, read_element, read_step
from derate.terms.values import Place, ReadingError

HERE = Place("d.yaml", 7, 3)


@pytest.mark.parametrize(
    ("text", "how", "names"),
    [
        ("F1", "series", ("F1",)),
        ("across C1", "across", ("C1",)),
        ("across R1 + R2", "across", ("R1", "R2")),
        ("C6 || C7", "series", ("C6", "C7")),
        ("F2 in neutral", "in neutral", ("F2",)),
        ("to earth CY3", "to earth", ("CY3",)),
        ("T1.winding-5V + T1.winding-12V", "series", ("T1.winding-5V", "T1.winding-12V")),
    ],
)
def test_steps(text: str, how: str, names: tuple[str, ...]) -> None:
    step = read_step(text, HERE)
    assert step.how == how
    assert step.names == names


def test_parallel_binds_tighter_than_series() -> None:
    element = read_element("D5 + R5 || R6 || C4", HERE)
    assert isinstance(element, Group)
    assert element.joined == "series"
    assert [type(member) for member in element.members] == [Leaf, Group]
    assert element == read_element("D5 + (R5 || R6 || C4)", HERE) or [leaf.name for leaf in leaves(element)] == [
        "D5", "R5", "R6", "C4",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "column", "says"),
    [
        ("R1 +", 7, "missing"),
        ("R1 R2", 6, "follows without"),
        ("(R1 + R2", 3, "never closes"),
        ("R1)", 5, "bracket too many"),
        ("across F1 in neutral", 10, "in series"),
        ("+ R1", 3, "missing"),
    ],
)
def test_refused(text: str, column: int, says: str) -> None:
    with pytest.raises(ReadingError) as caught:
        read_step(text, HERE)
    (problem,) = caught.value.problems
    assert says in problem.what
    assert problem.place.column == column


def test_deep_brackets_are_refused_not_a_crash() -> None:
    with pytest.raises(ReadingError, match="nested too deep"):
        read_element("(" * 5000 + "R1" + ")" * 5000, HERE)
