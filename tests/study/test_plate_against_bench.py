"""The rating plate against the bench: what load tests say of current held, shut-down, regulation and several ports."""

from __future__ import annotations

from math import inf

import pytest

from derate.design.load import read_design
from derate.ledger.entry import SUPPLY, Entry, Subject
from derate.ledger.ledger import Ledger
from derate.packs.load import load_packs
from derate.study.work import worked
from derate.terms.values import Category, Value

PACKS = load_packs(["commercial-practice", "bench"])
HEAD = """derate: 1
supply:
  name: Two ports
  basis: opened sample
  topology: flyback
  plate:
    mains: 100..240 V
    frequency: 50..60 Hz
    mains_current: 0.5 A
    outputs:
      left: {voltage: 5 V, current: 2.4 A, port: USB, data_lines: joined}
      right: {voltage: 5 V, current: 1 A, port: USB, data_lines: open}
site: {ambient: 0..40 degC}
known_by: {readings: measured}
parts:
  F1: {kind: fuse, resistance: 0.1 ohm, rated: {current: 1 A, voltage: 250 Vac}}
  BR1: bridge rectifier 800 V 1 A
  C1: electrolytic capacitor 33 uF 20% 400 V
circuit: {line: [F1, BR1, across C1]}
"""
LEFT, RIGHT = Subject("output", ("left",)), Subject("output", ("right",))


def ledger_of(readings: str = "", tests: str = "", head: str = HEAD) -> Ledger:
    text = head + (f"readings:\n{readings}" if readings else "") + (f"tests:\n{tests}" if tests else "")
    return worked(read_design(text, "ports.derate.yaml"), PACKS)


def at(mains: str, load: str, left: str, right: str, more: str = "") -> str:
    where = f"{{mains: {mains}, frequency: 50 Hz, load: {load}}}"
    return f"  - {{at: {where}, voltage: {{left: {left}, right: {right}}}{more}}}\n"


def row(ledger: Ledger, subject: Subject, quantity: str) -> Entry:
    found = ledger.find(subject, quantity)
    assert found is not None, quantity
    return found


def ends(ledger: Ledger, subject: Subject, quantity: str) -> tuple[float, float]:
    value = row(ledger, subject, quantity).value
    assert isinstance(value, Value), quantity
    return value.near, value.far


def test_what_nobody_tried_is_a_hole_that_names_the_test() -> None:
    ledger = ledger_of()
    for subject, quantity in ((LEFT, "held_current"), (LEFT, "shut_down_current"), (SUPPLY, "read_efficiency"),
                              (SUPPLY, "held_together"), (LEFT, "regulation"), (SUPPLY, "no_load_power")):  # fmt: skip
        found = row(ledger, subject, quantity)
        assert found.value is None and found.missing == (f"{subject}: {quantity}",)


def test_each_port_alone_may_hold_and_both_together_not() -> None:
    ledger = ledger_of(
        at("230 V", "{left: 2.4 A}", "5.0 V 1%", "5.1 V 1%") + at("230 V", "{right: 1 A}", "5.1 V 1%", "4.95 V 1%")
        + at("230 V", "full", "4.1 V 1%", "4.0 V 1%")
    )  # fmt: skip
    assert ends(ledger, SUPPLY, "ports") == (2.0, 2.0)
    assert ends(ledger, SUPPLY, "ports_current") == pytest.approx((3.4, 3.4))
    held, lost = ends(ledger, SUPPLY, "held_together")
    assert held == pytest.approx(2.4) and lost == pytest.approx(3.4)
    # each alone was held at its own current, and lost there with the other one loaded too
    assert ends(ledger, LEFT, "held_current")[1] == pytest.approx(2.4)


def test_the_lowest_mains_is_a_matter_of_its_own() -> None:
    high = ledger_of(at("230 V", "full", "5.0 V 1%", "5.0 V 1%"))
    assert ends(high, LEFT, "held_current") == (2.4, inf)
    assert row(high, LEFT, "held_current_low_mains").value is None
    both = ledger_of(at("230 V", "full", "5.0 V 1%", "5.0 V 1%") + at("100 V", "full", "4.2 V 1%", "4.2 V 1%"))
    assert ends(both, LEFT, "held_current_low_mains") == pytest.approx((0.0, 2.4))
    # held at one mains and lost at another is no more than that, and less than what it was lost at
    assert ends(both, LEFT, "held_current") == pytest.approx((2.4, 2.4))
    assert ends(both, LEFT, "held_current")[1] < 2.4


def test_a_shut_down_point_ends_what_is_held() -> None:
    ledger = ledger_of(tests="  - {test: overload, output: left, mains: 230 V, shuts_down_at: 1.9 A 1%}\n")
    assert ends(ledger, LEFT, "shut_down_current") == pytest.approx((1.881, 1.919))
    assert ends(ledger, LEFT, "held_current")[1] == pytest.approx(1.919)
    assert row(ledger, RIGHT, "shut_down_current").value is None


def test_regulation_needs_both_ends_of_the_load() -> None:
    part = ledger_of(at("230 V", "{left: 1 A}", "5.3 V 0.1%", "5.1 V 0.1%"))
    assert ends(part, LEFT, "regulation")[1] == inf
    whole = ledger_of(at("230 V", "none", "5.2 V 0.1%", "5.1 V 0.1%") + at("230 V", "full", "4.9 V 0.1%", "4.9 V 0.1%"))
    near, far = ends(whole, LEFT, "regulation")
    assert near < 0.04 < far < 0.042


def test_efficiency_is_the_least_of_the_readings_at_full_load() -> None:
    ledger = ledger_of(
        at("230 V", "full", "5.0 V 0.1%", "5.0 V 0.1%", ", mains_power: 20 W 0.1%")
        + at("100 V", "full", "5.0 V 0.1%", "5.0 V 0.1%", ", mains_power: 22 W 0.1%, mains_current: 0.41 A 1%")
    )
    near, far = ends(ledger, SUPPLY, "read_efficiency")
    assert near < 17.0 / 22.0 < far and far < 0.78
    assert ends(ledger, SUPPLY, "read_mains_current") == pytest.approx((0.4059, 0.4141))


def test_a_port_says_how_it_charges() -> None:
    ledger = ledger_of()
    words = [row(ledger, subject, "port.data_lines").value for subject in (LEFT, RIGHT)]
    assert [one.word for one in words if isinstance(one, Category)] == ["joined", "open"]


@pytest.mark.parametrize("load", ["full", "{left: 2.4 A, right: 1 A}"])
def test_a_voltage_lost_at_the_current_of_the_plate_is_a_fail_of_that_current(load: str) -> None:
    """3.9 V on a 5 V plate at the load of the plate itself, the commonest test of a bench: held is less than that."""
    ledger = ledger_of(at("230 V", load, "3.9 V 1%", "5.0 V 1%"))
    (left, marked) = (Subject("output", ("left",)), 2.4)
    held = ends(ledger, left, "held_current")
    assert held[0] == 0.0 and held[1] < marked
    right = ends(ledger, Subject("output", ("right",)), "held_current")
    assert right[0] == 1.0  # and what was held at its own current is not moved


def test_a_case_read_at_part_load_is_at_least_that() -> None:
    where = "{mains: 230 V, load: LOAD, ambient: 25 degC, after: 60 min}"
    entry = f"  - {{at: {where}, case_temperature: {{enclosure: 60 degC}}}}\n"
    assert ends(ledger_of(entry.replace("LOAD", "{left: 1 A}")), SUPPLY, "enclosure_temperature")[1] == inf
    near, far = ends(ledger_of(entry.replace("LOAD", "full")), SUPPLY, "enclosure_temperature")
    assert near == pytest.approx(72.5) and far == pytest.approx(77.5)  # carried 15 K, read within 2.5 K


def test_full_load_may_be_said_in_amperes() -> None:
    more = ", mains_power: 20 W 0.1%"
    word = ledger_of(at("230 V", "full", "5.0 V 0.1%", "5.0 V 0.1%", more))
    currents = ledger_of(at("230 V", "{left: 2.4 A, right: 1 A}", "5.0 V 0.1%", "5.0 V 0.1%", more))
    assert ends(word, SUPPLY, "read_efficiency") == ends(currents, SUPPLY, "read_efficiency")


def test_a_reading_of_a_shorted_output_is_held_against_no_load() -> None:
    ledger = ledger_of("  - {at: {mains: 230 V, load: shorted}, mains_current: 20 mA}\n")
    (about,) = ledger.subjects("reading")
    assert str(row(ledger, about, "reading.compared").value) == "no"


@pytest.mark.parametrize("volts, watts", [("5 V", 17.0), ("-12 V", 24.0), ("-12 V 5%", 24.0)])
def test_the_power_class_of_a_plate_with_a_negative_rail(volts: str, watts: float) -> None:
    """5 V x 2.4 A and the size of the other: taken off, 24 W would be nothing and asked for the least power of all."""
    head = HEAD.replace("right: {voltage: 5 V,", f"right: {{voltage: {volts},")
    assert ends(ledger_of(head=head), SUPPLY, "plate.output_power") == pytest.approx((watts, watts))
    word = row(ledger_of(head=head), SUPPLY, "plate.output_count").value
    assert isinstance(word, Category) and word.word == "several"
