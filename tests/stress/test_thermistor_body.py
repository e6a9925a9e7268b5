"""How hot an inrush thermistor works: by its steady power, by its hot resistance, and where nothing is known."""

from __future__ import annotations

import random

import pytest
from event_designs import EXACT, exact, part

from derate.circuit.thermal import (
    RESISTANCE_SIGNS,
    body_temperature,
    self_heating,
    thermistor_resistance,
)
from derate.ledger.entry import Entry
from derate.ledger.ledger import Ledger
from derate.terms.values import Value

FUSE, BRIDGE, BULK = "F1: fuse 2 A 250 V", "BR1: bridge rectifier 1000 V 2 A", "C1: electrolytic capacitor 47 uF 400 V"
LINE = "[F1, NTC1, BR1, across C1]"
TABLE = "hot_resistance: {0.05 A: 2.4 ohm, 0.5 A: 0.9 ohm, 3 A: 0.28 ohm}"


def _ledger(facts: str, mains: str = "100..240 V") -> Ledger:
    return exact(LINE, FUSE, BRIDGE, BULK, f"NTC1: {{kind: NTC thermistor, {facts}}}", mains=mains)


def _body(ledger: Ledger) -> Entry:
    (case,) = ledger.plan.cases(["case_temperature"], ["running"])
    found = ledger.find(part("NTC1"), "case_temperature", case)
    assert found is not None
    return found


def test_a_published_sheet_agrees_with_itself_by_two_ways() -> None:
    """Specification of an 10 ohm 3 A disc (MF72-1-10RM, a data sheet): 17 mW/K and at most 0.3 ohm at
    3 A in still air of 25 degC, B of 2500 K or more. The power puts the body at 184 degC; at that temperature B has to
    be what the sheet promises, and what the pack takes for such discs, 2600 to 3600 K."""
    body = 25.0 + self_heating(3.0**2 * 0.3, 17e-3)
    assert body == pytest.approx(183.8, abs=0.1)
    assert body_temperature(10.0, 3000.0, 0.3) == pytest.approx(body, abs=2.0)
    assert body_temperature(10.0, 3600.0, 0.3) < body < body_temperature(10.0, 2600.0, 0.3)
    assert thermistor_resistance(10.0, 2500.0, body) > 0.3  # a lower B than that would not get down to 0.3 ohm


def test_the_two_are_inverse_to_each_other_and_keep_their_signs() -> None:
    rng = random.Random(41)
    for _ in range(300):
        ohms, b, at = rng.uniform(1.0, 50.0), rng.uniform(2600.0, 3600.0), rng.uniform(30.0, 240.0)
        hot = thermistor_resistance(ohms, b, at)
        assert body_temperature(ohms, b, hot) == pytest.approx(at, abs=1e-6)
        given = {"at_25": ohms, "b_value": b, "hot": hot}
        for name, sign in RESISTANCE_SIGNS["body"].items():
            moved = given | {name: given[name] * (1.01 if sign * (name != "hot") else 1.001)}
            assert (body_temperature(**moved) - at) * sign > 0.0, name
        power, factor = rng.uniform(0.1, 3.0), rng.uniform(5e-3, 30e-3)
        assert self_heating(power * 1.01, factor) > self_heating(power, factor) > self_heating(power, factor * 1.01)


def test_air_and_steady_power_over_the_dissipation_factor() -> None:
    ledger = _ledger(f"resistance: 5 ohm, {TABLE}, dissipation: 17 mW/K")
    powers = [ledger.find(part("NTC1"), "power", case) for case in ledger.plan.cases(["power"], ["running"])]
    worst = max(row.value.far for row in powers if row is not None and isinstance(row.value, Value))
    body = _body(ledger).value
    assert isinstance(body, Value)
    assert body.far == pytest.approx(5.0 + 20.0 + worst / 17e-3)  # site at 5 degC, 20 K inside
    assert 0.02 < worst < 0.2


def test_without_the_factor_the_hot_resistance_tells() -> None:
    ledger = _ledger(f"resistance: 5 ohm, {TABLE}")
    rows = [ledger.find(part("NTC1"), "series_resistance", case) for case in ledger.plan.cases(["power"], ["running"])]
    least = min(row.value.near for row in rows if row is not None and isinstance(row.value, Value))
    body = _body(ledger).value
    assert isinstance(body, Value)
    assert body.far == pytest.approx(body_temperature(5.0, EXACT["thermistor_b_constant"].value.near, least), abs=0.5)
    assert body.far > 60.0


@pytest.mark.parametrize(
    ("facts", "missing"),
    [
        ("resistance: 5 ohm", "dissipation"),
        ("resistance: 5 ohm, hot_resistance: 0.3 ohm at 3 A", "dissipation"),
        (TABLE, "resistance"),
    ],
)
def test_nothing_to_go_by_is_a_hole_that_says_what_to_find(facts: str, missing: str) -> None:
    row = _body(_ledger(facts))
    assert row.value is None and row.missing == (f"NTC1: part.{missing}",)


def test_with_the_factor_alone_the_power_lies_between_nothing_and_cold() -> None:
    body = _body(_ledger("resistance: 5 ohm, dissipation: 17 mW/K")).value
    assert isinstance(body, Value)
    assert body.near == pytest.approx(25.0) and body.far > 30.0


def test_a_reading_that_was_carried_is_not_replaced() -> None:
    ledger = exact(
        LINE, FUSE, BRIDGE, BULK, f"NTC1: {{kind: NTC thermistor, resistance: 5 ohm, {TABLE}, dissipation: 1 mW/K}}",
        more="}\nreadings:\n  - {at: {mains: 240 V, frequency: 50 Hz, load: full, ambient: 25 degC, after: steady}, "
        "case_temperature: {NTC1: 90 degC}",
    )  # fmt: skip
    assert _body(ledger).known_by == "computed" and "carried" in _body(ledger).formula


def test_a_part_that_is_no_thermistor_gets_none() -> None:
    ledger = exact("[F1, R1, BR1, across C1]", FUSE, BRIDGE, BULK, "R1: wirewound resistor 5 ohm")
    assert not [row for row in ledger.entries if row.quantity == "case_temperature"]
