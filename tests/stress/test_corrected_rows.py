"""What a reading corrects elsewhere: a range stated wider, of any input or of the reading, never gives a better row."""

from __future__ import annotations

from math import inf
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from derate.design.load import read_design
from derate.design.readings import QUANTITIES
from derate.ledger.entry import SUPPLY, Case, Entry
from derate.ledger.ledger import Ledger
from derate.packs.load import load_packs
from derate.stress.bench.evidence import Weighed, _beyond, widened
from derate.study.work import worked
from derate.terms.quantities import READING, RUNNING, named
from derate.terms.values import Value
from derate.terms.vocabulary import VOCABULARY

VENT = Path(__file__).parents[2] / "designs" / "greenhouse-vent" / "greenhouse-vent.derate.yaml"
PACKS = load_packs(["commercial-practice", "mains-fusing", "bench"])
_FIGURES = st.floats(0.0, 10.0).map(lambda one: round(one, 3))
_ENDS = st.one_of(_FIGURES, st.just(inf))


@st.composite
def values(draw: st.DrawFn) -> tuple[Value, Value]:
    """A value, and the same stated wider."""
    a, b, c = sorted(draw(st.tuples(_FIGURES, _FIGURES, _FIGURES)))
    d = max(c, draw(_ENDS))
    return Value.between(b, c), Value.between(a, d)


def _row(quantity: str, value: Value, read: bool) -> Entry:
    group = READING if read else RUNNING
    return Ledger().write(SUPPLY, named(quantity), value, case=Case(group, 230.0, 50.0))


def _corrected(quantity: str, read: Value, computed: Value, other: Value) -> Value:
    bad = VOCABULARY[quantity].bad or 1
    weighed = Weighed(_row(quantity, read, True), _row(quantity, computed, False))
    factor, more, _ = _beyond([weighed], named(quantity), bad)
    return widened(other, factor, more, bad)


@given(st.sampled_from(QUANTITIES), values(), values(), values())
def test_a_wider_range_never_betters_a_corrected_row(
    quantity: str, read: tuple[Value, Value], computed: tuple[Value, Value], other: tuple[Value, Value]
) -> None:
    """Each of the three stated wider alone, and all together; nor does a correction better what it corrects."""
    bad = VOCABULARY[quantity].bad or 1
    plain = _corrected(quantity, read[0], computed[0], other[0])
    for wide in ((1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 1, 1)):
        corrected = _corrected(quantity, read[wide[0]], computed[wide[1]], other[wide[2]])
        if bad > 0:
            assert corrected.far >= plain.far * (1.0 - 1e-12) and corrected.high >= plain.high * (1.0 - 1e-12)
            assert corrected.far >= other[wide[2]].far
        else:
            assert corrected.near <= plain.near * (1.0 + 1e-12) and corrected.low <= plain.low * (1.0 + 1e-12)
            assert corrected.near <= other[wide[2]].near


def test_of_what_no_factor_is_known_nothing_is_known() -> None:
    """Worked out as nought and more, or read with an open end, a figure says of no other row how much it is."""
    exact, to_nought = Value.exact(2.0), Value.between(0.0, 1.0)
    assert _corrected("ripple", exact, to_nought, exact) == Value(2.0, 2.0, inf, inf)
    assert _corrected("ripple", Value.floor(2.0), exact, exact) == Value(2.0, 2.0, inf, inf)
    assert _corrected("voltage_min", Value.exact(0.0), exact, exact) == Value(0.0, 0.0, 2.0, 2.0)
    assert _corrected("ripple", Value.exact(3.0), exact, Value.exact(5.0)).far == 7.5
    assert _corrected("voltage_min", Value.exact(1.0), exact, Value.exact(5.0)).near == 2.5
    assert _corrected("case_temperature", Value.exact(3.0), exact, Value.exact(5.0)).far == 6.0


def _worst(text: str) -> dict[tuple[str, str, str], float]:
    """The bad end of every row of the quantities that were read, by subject, quantity and case."""
    ledger = worked(read_design(text, str(VENT)), PACKS)
    found = {}
    for row in ledger.entries:
        if row.quantity not in ("ripple", "mains_current", "current_rms", "voltage_peak", "power") or row.case is None:
            continue
        last = ledger.find(row.subject, row.quantity, row.case)
        if last is not None and isinstance(last.value, Value) and row.case.group != READING:
            found[(str(row.subject), row.quantity, str(row.case))] = last.value.far
    return found


@pytest.mark.parametrize(
    "exact, wide",
    [
        ("series_resistance: 0.10 ohm at", "series_resistance: 0.05..0.15 ohm at"),
        ("leakage: 15 uH", "leakage: 12..18 uH"),
        ("mains_current: 0.20 A 2%", "mains_current: 0.19..0.21 A"),
    ],
)
def test_of_the_sound_design(exact: str, wide: str) -> None:
    """The output capacitor's series resistance, and what the drain's crest and the mains current hang on."""
    text = VENT.read_text(encoding="utf-8")
    assert exact in text
    before, after = _worst(text), _worst(text.replace(exact, wide))
    assert len(before) > 20 and not [
        (key, before[key], after.get(key)) for key in before if not after.get(key, inf) >= before[key] * (1.0 - 1e-9)
    ]
