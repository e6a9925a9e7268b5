"""Short forms: a kind and figures told apart by their units, and the facts they state."""

from __future__ import annotations

import pytest

from derate.design.facts import facts
from derate.design.kinds import KIND_WORDS, KINDS, possible, split_kind
from derate.design.load import read_design
from derate.ledger.entry import Subject
from derate.terms.values import Category, Curve, ReadingError, Value

HEAD = "derate: 1\nsupply: {name: Bench}\nparts:\n  P1: "


def stated(short: str) -> dict[str, object]:
    """Fact name -> value of one part written in the short form."""
    design = read_design(HEAD + short + "\n", "d.yaml")
    return {row.quantity: row.value for row in facts(design) if row.subject == Subject("part", ("P1",))}


@pytest.mark.parametrize(
    ("short", "fact", "near"),
    [
        ("film resistor 0.82 ohm 1% 1 W", "part.resistance", 0.82),
        ("film resistor 0.82 ohm 1% 1 W", "rated.power", 1.0),
        ("film resistor 4k7 1%", "part.resistance", 4700.0),
        ("metal oxide resistor 68 kohm 5% 2 W 500 V", "rated.voltage", 500.0),
        ("film capacitor X2 220 nF 20% 310 Vac", "part.capacitance", 220e-9),
        ("film capacitor X2 220 nF 20% 310 Vac", "rated.voltage", 310.0),
        ("electrolytic capacitor 22 uF 20% 50 V 105 degC", "rated.temperature", 105.0),
        ("fast diode 1000 V 1 A 500 ns", "rated.recovery_time", 500e-9),
        ("line diode 1N4007 1000 V 1 A", "rated.reverse_voltage", 1000.0),
        ("zener diode 6.2 V", "part.voltage", 6.2),
        ("MOSFET 600 V 4 A", "rated.voltage", 600.0),
        ("fuse 1 A 250 V", "rated.current", 1.0),
        ("varistor 320 Vac", "rated.voltage", 320.0),
        ("varistor 470 V", "part.nominal_voltage", 470.0),
        ("choke 4.7 uH 20% 18 mohm 3 A", "part.inductance", 4.7e-6),
        ("choke 4.7 uH 20% 18 mohm 3 A", "part.resistance", 0.018),
        ("bridge rectifier 600 V 1 A", "rated.reverse_voltage", 600.0),
    ],
)
def test_figures(short: str, fact: str, near: float) -> None:
    value = stated(short)[fact]
    assert isinstance(value, Value)
    assert value.near == pytest.approx(near, rel=1e-12)


def test_class_and_marking_are_words() -> None:
    assert stated("film capacitor X2 220 nF 20% 310 Vac")["part.class"] == Category.of("X2")
    assert stated("line diode 1N4007 1000 V 1 A")["part.marking"] == Category.of("1N4007")


def test_a_condition_makes_a_curve() -> None:
    value = stated("bridge rectifier 600 V 2 A at 55 degC")["rated.current"]
    assert isinstance(value, Curve)
    assert value.points[0][0] == 55.0


def test_a_general_word_leaves_kinds_open() -> None:
    kind = stated("resistor 10 ohm 5%")["part.kind"]
    assert isinstance(kind, Category)
    assert set(kind.members) == {word for word, family in KINDS.items() if family == "resistor"}


def test_evidence_holds_for_every_figure() -> None:
    design = read_design(HEAD + "film resistor 22 ohm 0.25 W (marked; browned)\n", "d.yaml")
    rows = [row for row in facts(design) if row.quantity in ("part.resistance", "rated.power")]
    assert [row.known_by for row in rows] == ["marked", "marked"]
    assert all(row.note == "browned" for row in rows)


@pytest.mark.parametrize(
    ("short", "says"),
    [
        ("bipolar transistor 700 V", "has no meaning in the short form"),
        ("film resistor 1 ohm 2 ohm", "a second resistance"),
        ("resistorr 10 ohm", "begins with no part kind"),
        ("film resistor 10", "unit"),
    ],
)
def test_refused(short: str, says: str) -> None:
    with pytest.raises(ReadingError) as caught:
        stated(short)
    assert any(says in str(problem) for problem in caught.value.problems), caught.value


def test_every_word_is_possible_and_found_again() -> None:
    for word in KIND_WORDS:
        assert possible(word)
        assert split_kind(f"{word} 1 V") == (word, "1 V")
