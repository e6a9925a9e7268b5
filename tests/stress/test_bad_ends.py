"""Small readings at their bad end: no hole taken for nothing, no promise where the maker gives none."""

from __future__ import annotations

from math import inf

import pytest

from derate.circuit.capacitor_ageing import raised, share_left
from derate.design.structure import Group, Leaf
from derate.insulation.touch import _series
from derate.stress.faults.rows import _first_sure
from derate.stress.mains.bulk_states import _joined
from derate.terms.dimension import POWER, TIME
from derate.terms.values import Curve, Value


def leaf(name: str) -> Leaf:
    return Leaf(name, None)  # type: ignore[arg-type]


def test_resistances_of_which_one_is_not_known_are_not_known() -> None:
    both = Group("parallel", (leaf("C1"), leaf("C2")))
    assert _joined(both, {"C2": Value.exact(0.0)}) is None
    up_to_five = Value.between(0.0, 5.0)
    assert _joined(Group("series", both.members), {"C1": up_to_five, "C2": up_to_five}) == Value.between(0.0, 10.0)


@pytest.mark.parametrize("change", [-0.2, 0.0, 1.0])
def test_a_loss_that_is_none_is_refused(change: float) -> None:
    with pytest.raises(ValueError, match="write it as 20 %"):
        share_left(change)
    with pytest.raises(ValueError, match="no growth"):
        raised(1.0, 0.5)
    assert share_left(0.2) == pytest.approx(0.8)


def test_an_opening_table_promises_nothing_without_an_upper_time() -> None:
    points = ((20.0, Value(60.0, 60.0, inf, inf)), (75.0, Value.exact(30.0)))
    assert _first_sure(Curve(points, POWER, TIME)) == 75.0
    assert _first_sure(Curve(points[:1], POWER, TIME)) == inf


def test_a_series_beside_another_capacitor_is_seen() -> None:
    two = Group("series", (leaf("CY8"), leaf("CY9")))
    assert _series(two) == [two] == _series(Group("parallel", (two, leaf("CY7"))))
    assert _series(leaf("CY7")) == []
